"""Wet kit: when it was dry again, and what its drying cost in gas."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from budget.physics.properties import PROPANE_LOWER_J_PER_KG, VAPOUR_LATENT_J_PER_KG

if TYPE_CHECKING:
    from budget.results.result import Result

DRY_SHARE = 0.05  # of the water hung up: dry to the hand, common practice, no source


def drying_of(result: Result) -> list[dict[str, Any]]:
    """Each hanging: zone, water [kg], hours until a twentieth of it is left (None: not within the tour), extra gas.

    The gas is what the burner needs for the latent heat of the water that evaporated, at its best stage's efficiency;
    the air exchanged to carry the vapour off is in the tour's use and not told apart.
    """
    efficiency = max(stage.efficiency_share for stage in result.van.heater.stages)
    found = []
    for hour, zone, water_kg, _ in result.timeline.drying:
        left = result.column("kit_kg", result.built.zone_names.index(zone)).to_numpy()[hour + 1 :]
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
