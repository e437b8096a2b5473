"""Hours and weather written straight into the engine's records, for claims about one part at a time."""

from __future__ import annotations

from typing import Any

import numpy as np

from budget.engine import arrays

NOBODY = np.zeros(0, dtype=arrays.DRAW).view(np.recarray)


def still_hours(count: int, set_c: float = 20.0, start_c: float = 20.0, **changes: Any) -> Any:
    """Hours parked with nobody inside, gas open and the heater allowed."""
    hours = np.zeros(count, dtype=arrays.HOUR).view(np.recarray)
    hours["set_c"], hours["water_set_c"] = set_c, np.nan
    hours["heater_allowed"], hours["gas_open"], hours["people_zone"] = 1, 1, -1
    hours["start_c"], hours["refill_c"] = start_c, 6.0
    for name, value in changes.items():
        hours[name] = value
    return hours


def still_weather(count: int, temp_c: float | np.ndarray, sun_w_per_m2: float = 0.0) -> np.ndarray:
    """Calm, dry, overcast, without sun unless asked."""
    rows = np.zeros((count, arrays.WEATHER_COLUMNS))
    rows[:, arrays.TEMP_C] = temp_c
    rows[:, arrays.PRESSURE_PA] = 101_325.0
    rows[:, arrays.HUMIDITY_RATIO] = 0.0015
    for face in (arrays.ROOF, arrays.FRONT, arrays.REAR, arrays.LEFT, arrays.RIGHT, arrays.SIDES):
        rows[:, face] = sun_w_per_m2
    return rows
