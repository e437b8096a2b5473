"""Wet kit: when it was dry again, and what its drying cost in gas."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from budget.engine.stepping import Floats
from budget.physics.moisture import wet_area_share
from budget.physics.properties import PROPANE_LOWER_J_PER_KG, VAPOUR_LATENT_J_PER_KG

if TYPE_CHECKING:
    from budget.results.result import Result

DRY_SHARE = 0.05  # of the water hung up: dry to the hand, common practice, no source
NONE_KG = 1e-9  # less is rounding


def drying_of(result: Result) -> list[dict[str, Any]]:
    """Each hanging: zone, water [kg], hours until a twentieth of it is left (None: not within the tour), extra gas.

    The gas is what the burner needs for the latent heat of the water that evaporated, at its best stage's efficiency;
    the air exchanged to carry the vapour off is in the tour's use and not told apart.
    """
    efficiency = max(stage.efficiency_share for stage in result.van.heater.stages)
    found = []
    for (hour, zone, water_kg, _), left_kg in zip(result.timeline.drying, _left_kg(result), strict=True):
        left = left_kg[hour + 1 :]
        dry = np.flatnonzero(left <= DRY_SHARE * water_kg)
        hours = int(dry[0]) + 1 if dry.size else None
        evaporated_kg = water_kg - (float(left[dry[0]]) if dry.size else float(left[-1]))
        gas_kg = evaporated_kg * VAPOUR_LATENT_J_PER_KG / efficiency / PROPANE_LOWER_J_PER_KG
        found.append(
            {
                "zone": zone,
                "hung_at": result.timeline.index[hour].isoformat(),
                "water_kg": round(water_kg, 3),
                "hours_to_dry_h": hours,
                "extra_gas_kg": round(gas_kg, 3),
            }
        )
    return found


def _left_kg(result: Result) -> list[Floats]:
    """Water in each hanging at every hour edge. [kg]"""
    hung = result.timeline.drying
    found: list[Floats] = [np.zeros(len(result.timeline.index) + 1) for _ in hung]
    for zone in {zone for _, zone, _, _ in hung}:
        here = [k for k, (_, where, _, _) in enumerate(hung) if where == zone]
        dried = result.column("drying_kg", result.built.zone_names.index(zone)).to_numpy()
        first, kg, m2 = (np.array([hung[k][column] for k in here]) for column in (0, 2, 3))
        for k, left in zip(here, shared_kg(first, kg, m2, dried), strict=True):
            found[k] = left
    return found


def shared_kg(first: Any, water_kg: Floats, surface_m2: Floats, dried_kg: Floats) -> Floats:
    """What is left of each hanging at every hour edge, where all together dry by so much in each hour. [kg]

    ``first`` [hangings] is the hour in which each was hung up, ``dried_kg`` [hours]; the answer is [hangings,
    hours + 1], nought before. An hour's water comes from each by the area that still dries at the full rate, as in the
    engine, and never more than is in it.
    """
    left = np.zeros((len(water_kg), len(dried_kg) + 1))
    for hour, dried in enumerate(dried_kg):
        now = np.where(first == hour, water_kg, left[:, hour])
        rest = min(float(dried), float(now.sum()))
        while rest > 0.0:
            area = surface_m2 * [wet_area_share(kg, start) for kg, start in zip(now, water_kg, strict=True)]
            if area.sum() <= 0.0:
                break
            taken = np.minimum(now, rest * area / area.sum())
            now = np.where(now - taken > NONE_KG, now - taken, 0.0)
            rest = rest - float(taken.sum()) if (taken < rest * area / area.sum()).any() else 0.0
        left[:, hour + 1] = now
    return left
