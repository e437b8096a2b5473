"""Warm-up from cold-soaked: the fitted heater at full output in the van's own network, its clock slowed down."""

from __future__ import annotations

import math

import numpy as np

from budget.answers.conditions import AT_ONCE, Conditions, air_ratio, march, unlimited
from budget.engine.van_arrays import build_van
from budget.van.model import Van

STRETCH = 12  # the clock of the warm-up: one hour of the march stands for five minutes
FABRIC_SHORT_K = 5.0  # lining and furniture this near the setpoint no longer chill those inside; common practice


def warm_up(van: Van, state: Conditions, inside_c: float, longest_h: float) -> tuple[float | None, float | None]:
    """Hours at full output until the sensor's air stands at ``inside_c``, and its fabric 5 K below. [h]

    Everything begins as cold as outdoors. The march keeps a record by the hour; here every heat capacity is
    ``STRETCH`` times as large, which slows the same network down exactly so many times. The heater is the fitted one,
    with the guard on its supply air, and gives its full output until the sensor is 0.01 K from the setpoint.
    """
    heater = van.heater.model_copy(update={"control": "modulating", **AT_ONCE})
    fitted = unlimited(van).model_copy(update={"heater": heater})
    slow = build_van(_slowed(fitted), air_ratio=air_ratio(state.altitude_m))
    hours = math.ceil(longest_h * STRETCH)
    many = march(slow, state, hours, set_c=inside_c, start_c=state.outdoor_c)
    assert many.stocks is not None
    zone = van.heater.sensor_zone
    names, first = slow.node_names, slow.stocks.node_c
    air = many.stocks[:, first + names.index(f"{zone}_air")]
    fabric = many.stocks[:, first + names.index(f"{zone}_fabric")]
    near = inside_c - 0.1  # the sensor comes up to its setpoint from below
    return _first_above(air, near), _first_above(fabric, inside_c - FABRIC_SHORT_K)


def _slowed(van: Van) -> Van:
    zones = tuple(
        zone.model_copy(
            update={
                "air_capacity_j_per_k": zone.air_capacity_j_per_k * STRETCH,
                "fabric_capacity_j_per_k": zone.fabric_capacity_j_per_k * STRETCH,
            }
        )
        for zone in van.cabin.zones
    )
    battery = van.power.battery
    slow = battery.model_copy(update={"heat_capacity_j_per_k": battery.heat_capacity_j_per_k * STRETCH})
    return van.model_copy(
        update={
            "cabin": van.cabin.model_copy(update={"zones": zones}),
            "power": van.power.model_copy(update={"battery": slow}),
        }
    )


def _first_above(values: np.ndarray, wanted: float) -> float | None:
    above = np.flatnonzero(values >= wanted)
    if not above.size:
        return None
    k = int(above[0])
    if k == 0:
        return 0.0
    share = (wanted - values[k - 1]) / (values[k] - values[k - 1])
    return float((k - 1 + share) / STRETCH)
