"""The boiler: what a shower draws from it and what is left."""

from __future__ import annotations

import math

from budget.compiled import jit
from budget.physics.properties import WATER_CP_J_PER_KG_K, WATER_KG_PER_L


@jit
def mixed_water_l(hot_l: float, hot_c: float, cold_c: float, mixed_c: float) -> float:
    """Water at the tap that a hot volume yields when blended with cold. [L]

    Energy balance of two streams of equal heat capacity; holds for cold_c < mixed_c <= hot_c. The hot volume leaves
    at ``hot_c`` to the last drop (plug flow); ``tap_water_l`` is the mixed tank.
    """
    return hot_l * (hot_c - cold_c) / (mixed_c - cold_c)


@jit
def tap_water_l(tank_l: float, tank_c: float, cold_c: float, tap_c: float) -> float:
    """Water at ``tap_c`` that a mixed tank yields before the tap cools, cold water following in. [L]

    The tap takes ``tap_c - cold_c`` of heat per litre, so the tank falls in a straight line to ``tap_c``. Infinite
    where the cold water is warm enough.
    """
    if tap_c <= cold_c:
        return math.inf
    return max(0.0, tank_l * (tank_c - tap_c) / (tap_c - cold_c))


@jit
def heat_water_j(litres: float, from_c: float, to_c: float) -> float:
    """Heat that warms a volume of water. [J]"""
    return litres * WATER_KG_PER_L * WATER_CP_J_PER_KG_K * (to_c - from_c)


@jit
def draw(tank_l: float, tank_c: float, cold_c: float, litres: float, tap_c: float) -> tuple[float, float, float, float]:
    """Draw tap water from a mixed tank that refills with cold.

    Returns (hot water drawn [L], tank at the end [°C], tap at the end [°C], heat drawn [J]).
    Closed form. While the tank is warmer than ``tap_c`` cold is blended in and the tank falls linearly; from then on
    the tap runs pure hot and the tank falls exponentially. The heat is what left the tank above ``cold_c``, equal
    to its fall in enthalpy. A tank no warmer than the cold water, or a tap wish no warmer, draws no hot water and
    runs cold.
    """
    if litres <= 0.0 or tap_c <= cold_c or tank_c <= cold_c:
        return 0.0, tank_c, cold_c, 0.0
    wish_k = tap_c - cold_c
    blended_l = min(litres, tap_water_l(tank_l, tank_c, cold_c, tap_c))
    after_c = tank_c - wish_k * blended_l / tank_l
    hot_l = tank_l * math.log((tank_c - cold_c) / (after_c - cold_c))
    pure_l = litres - blended_l
    hot_l += pure_l
    end_c = cold_c + (after_c - cold_c) * math.exp(-pure_l / tank_l)
    return hot_l, end_c, min(tap_c, end_c), heat_water_j(tank_l, end_c, tank_c)
