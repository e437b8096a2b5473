"""What one night is asked for: the tour's own schedule at that stop, where nothing else is said."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from budget.answers.bedtime import bedtime_min
from budget.answers.evening import MORNING_H, USUAL_WARM_C, planned_c
from budget.answers.night import OFF, clock, minute_of_quarters
from budget.answers.prepared import Prepared
from budget.errors import InputFault
from budget.moments import NOON_H
from budget.tour.week import Mask
from budget.weather.air import Floats

DAY_MIN = 24 * 60
RISE_FROM_MIN, RISE_TO_MIN = 3 * 60, NOON_H * 60  # a step up between these is the morning's
STEP_K = 0.25
USUAL_WARM_MIN = 7 * 60 + 30  # where neither the schedule nor the asker says: common practice, no source


@dataclass(frozen=True)
class Wish:
    """What is asked of one night: ``night_c`` (NaN: off) from ``down_min``, ``warm_c`` at ``warm_min`` of the day.

    ``inside_c`` is the air at its start [°C]; ``told`` says in a sentence where each came from. ``keeps``: it ends
    when the schedule's own night does, whose every step until then holds.
    """

    night_c: float
    down_min: int
    warm_c: float
    warm_min: int
    inside_c: float
    told: str
    keeps: bool = False


def wish_of(
    prepared: Prepared, first: int, last: int, warm_c: float | None, warm_min: int | None, inside_c: float | None
) -> Wish:
    """The night from hour ``first`` to the morning's edge ``last``; None: as the tour's schedule has it there and then.

    A step up until noon still counts as the morning's.
    """
    end = min(last + NOON_H - MORNING_H, prepared.hours_count)
    minute = minute_of_quarters(prepared, first, end)
    planned = np.asarray(prepared.hours["set_c"], dtype=float)[first:end].reshape(-1)
    night_c, down_min = _night(prepared, planned, minute, np.repeat(hours_asleep(prepared, first, end), 4))
    rises = _rises(planned, minute, night_c)
    laid_c, laid_min = USUAL_WARM_C, USUAL_WARM_MIN
    if rises.size:
        laid_c, laid_min = float(planned[rises[0]]), int(minute[rises[0]])
    elif np.isfinite(planned[-1]):
        laid_c = float(planned[-1])
    place = prepared.tour.stops[int(prepared.timeline.stop[first])].place
    return Wish(
        night_c=night_c,
        down_min=down_min,
        warm_c=laid_c if warm_c is None else warm_c,
        warm_min=laid_min if warm_min is None else warm_min,
        inside_c=planned_c(prepared, first, 0) if inside_c is None else inside_c,
        keeps=warm_min is None,
        told=_told(place, night_c, down_min, (laid_c, laid_min, bool(rises.size)), (warm_c, warm_min)),
    )


def until(prepared: Prepared, last: int, warm_min: int) -> int:
    """The hour edge by which a night is over: its morning's, later where it shall only be warm later."""
    wanted = last + max(0, warm_min // 60 + 1 - MORNING_H)
    if wanted > prepared.hours_count:
        raise InputFault(f"--warm-at must lie before the tour's end, got {clock(warm_min)}; choose an earlier time.")
    return wanted


def minutes_asked(warm_at: str | None) -> int | None:
    """Minutes after midnight of "07:30", None as it is; InputFault where it is no time of a morning."""
    from budget.spans import minute_of_day

    if warm_at is None:
        return None
    try:
        minute = minute_of_day(warm_at)
    except ValueError as fault:
        raise InputFault(f"--warm-at {fault}; write it as 07:30.") from None
    if not RISE_FROM_MIN <= minute <= RISE_TO_MIN:
        raise InputFault(
            f"--warm-at must be a time of the morning, {clock(RISE_FROM_MIN)} to {clock(RISE_TO_MIN)}, got {warm_at}; "
            "for another time of the day give --back."
        )
    return minute


def hours_asleep(prepared: Prepared, first: int, last: int) -> Mask:
    """Which hours are the night's: those in which people sleep on board, else those late in the evening."""
    asleep = np.asarray(prepared.timeline.asleep[first:last] > 0.0)
    if asleep.any():
        return asleep
    minute, bedtime = minute_of_quarters(prepared, first, last)[::4], bedtime_min(prepared)
    return np.asarray((minute - bedtime) % DAY_MIN < (RISE_FROM_MIN - bedtime) % DAY_MIN)


def _night(prepared: Prepared, planned: Floats, minute: np.ndarray, night: np.ndarray) -> tuple[float, int]:
    """What the schedule has in the quarters of the night, and from when on. [°C], minutes"""
    bedtime = bedtime_min(prepared)
    if not night.any():
        return OFF, bedtime
    values = planned[night]
    night_c = float(np.nanmedian(values)) if np.isfinite(values).mean() > 0.5 else OFF
    same = np.isnan(planned) if np.isnan(night_c) else np.abs(planned - night_c) < STEP_K
    evening = np.flatnonzero(same[1:] & ~same[:-1]) + 1
    return night_c, int(minute[evening[0]]) if evening.size else bedtime


def _rises(planned: Floats, minute: np.ndarray, night_c: float) -> np.ndarray:
    """Quarters of the morning at which the schedule goes up from the night's setting."""
    in_morning = (minute >= RISE_FROM_MIN) & (minute < RISE_TO_MIN)
    above = np.isfinite(planned) & ~(planned < night_c + STEP_K)
    return np.flatnonzero(above[1:] & ~above[:-1] & in_morning[1:]) + 1


def _told(
    place: str,
    night_c: float,
    down_min: int,
    laid: tuple[float, int, bool],
    asked: tuple[float | None, int | None],
) -> str:
    night = f"{'heater off' if np.isnan(night_c) else f'{night_c:g} °C'} from {clock(down_min)}"
    (laid_c, laid_min, is_laid), (warm_c, warm_min) = laid, asked
    own = f"As the tour's schedule has it at {place} that night: {night}"
    if warm_c is None and warm_min is None:
        if is_laid:
            return f"{own}, {laid_c:g} °C from {clock(laid_min)}."
        return f"{own}; it has no step up in the morning, so {laid_c:g} °C at {clock(laid_min)} is taken."
    wished = f"{laid_c if warm_c is None else warm_c:g} °C at {clock(laid_min if warm_min is None else warm_min)}"
    return f"{own}; asked for instead of its morning: {wished}."
