"""Habits on the minutes of a week: spans and schedules turned into shares of hours and values at instants."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from budget.spans import Span, days_of_week, minute_of_day
from budget.tour.model import Schedule

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Mask = npt.NDArray[np.bool_]

DAY_MIN = 24 * 60
WEEK_MIN = 7 * DAY_MIN


def minutes_covered(spans: Sequence[Span]) -> Mask:
    """Which minutes of the week (Monday 00:00 first) the spans cover together; overlaps count once."""
    covered = np.zeros(2 * WEEK_MIN, dtype=bool)
    for span in spans:
        length = (span.end_min - span.start_min) % DAY_MIN or DAY_MIN
        for day in span.days:
            first = day * DAY_MIN + span.start_min
            covered[first : first + length] = True
    return covered[:WEEK_MIN] | covered[WEEK_MIN:]


def share_of_hours(covered: Mask, minute_of_week: Ints) -> Floats:
    """Share of each hour, beginning at these minutes of the week, that is covered. [0–1]"""
    running = np.concatenate(([0.0], np.cumsum(np.concatenate((covered, covered[:60])))))
    share: Floats = (running[minute_of_week + 60] - running[minute_of_week]) / 60.0
    return share


def through_the_week(schedule: Schedule) -> tuple[Floats, Floats]:
    """Room setpoint and boiler set temperature in force at each minute of the week; NaN means off. [°C]

    A step holds until the next one that says something else, past Sunday midnight too. What no step mentions is off.
    Where two steps fall on the same minute, the one written later counts.
    """
    air: dict[int, float] = {}
    water: dict[int, float] = {}
    for step in schedule.steps:
        for day in days_of_week(step.days):
            minute = (day * DAY_MIN + minute_of_day(step.at)) % WEEK_MIN
            if step.air_c is not None:
                air[minute] = _degrees(step.air_c)
            if step.water_c is not None:
                water[minute] = _degrees(step.water_c)
    return _held(air), _held(water)


def _degrees(value: float | str) -> float:
    return float("nan") if isinstance(value, str) else float(value)


def _held(changes: dict[int, float]) -> Floats:
    held = np.full(WEEK_MIN, np.nan)
    if changes:
        minutes = sorted(changes)
        held[:] = changes[minutes[-1]]
        for minute, following in zip(minutes, [*minutes[1:], WEEK_MIN], strict=True):
            held[minute:following] = changes[minute]
    return held
