"""Frost: the plateau at 0 °C, and how long it takes to get there."""

from __future__ import annotations

import math

from budget.compiled import jit
from budget.physics.properties import WATER_FUSION_J_PER_KG

_S_PER_H = 3600.0


@jit
def recover(temp_c: float, capacity_j_per_k: float, ice_kg: float, water_kg: float) -> tuple[float, float]:
    """Share out a water node's enthalpy between temperature and ice: (temperature [°C], ice [kg]).

    ``temp_c`` is what the network computed with ice left as it was; ``water_kg`` counts ice as well. The enthalpy
    ``capacity temp - fusion ice`` is conserved; while both phases are there the node stands at 0 °C. Departure: ice
    keeps the heat capacity of the liquid (its own is half).
    """
    enthalpy_j = capacity_j_per_k * temp_c - WATER_FUSION_J_PER_KG * ice_kg
    if enthalpy_j >= 0.0:
        return enthalpy_j / capacity_j_per_k, 0.0
    all_frozen_j = WATER_FUSION_J_PER_KG * water_kg
    if enthalpy_j <= -all_frozen_j:
        return (enthalpy_j + all_frozen_j) / capacity_j_per_k, water_kg
    return 0.0, -enthalpy_j / WATER_FUSION_J_PER_KG


@jit
def hours_to_reach(
    temp_c: float, target_c: float, capacity_j_per_k: float, loss_w_per_k: float, surroundings_c: float
) -> float:
    """Time for a lumped body to cool from ``temp_c`` to ``target_c``; infinite where it never does. [h]

    Newton cooling, closed form; no heat source, constant surroundings.
    """
    if temp_c <= target_c:
        return 0.0
    if surroundings_c >= target_c or loss_w_per_k <= 0.0:
        return math.inf
    log_ratio = math.log((temp_c - surroundings_c) / (target_c - surroundings_c))
    return capacity_j_per_k / loss_w_per_k * log_ratio / _S_PER_H


@jit
def hours_to_freeze(
    temp_c: float,
    capacity_j_per_k: float,
    loss_w_per_k: float,
    surroundings_c: float,
    water_kg: float,
    frozen_share: float,
) -> float:
    """Time until a share of the water is ice: cooling to 0 °C, then the plateau; infinite at or above 0 °C. [h]

    ``frozen_share`` 0 gives the first ice. Supercooling is left out. [0–1]
    """
    cooling_h = hours_to_reach(temp_c, 0.0, capacity_j_per_k, loss_w_per_k, surroundings_c)
    if frozen_share <= 0.0 or cooling_h == math.inf:
        return cooling_h
    if surroundings_c >= 0.0:
        return math.inf
    return cooling_h + frozen_share * water_kg * WATER_FUSION_J_PER_KG / (loss_w_per_k * -surroundings_c) / _S_PER_H


@jit
def frost_margin_k(lowest_c: float, limit_c: float) -> float:
    """Kelvins left above the temperature that a part must keep; negative when it went below. [K]"""
    return lowest_c - limit_c
