"""One night with many settings: the schedules tried, and how warm it is when the people want it warm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from budget.answers.ensemble import InTurn
from budget.answers.prepared import Prepared
from budget.engine.batch import Many, base_factors
from budget.weather.air import Floats

WARM_BAND_K = 0.5  # warm means within this of the wish: the thermostat itself swings by about as much
OFF = float("nan")
LEADS_MIN = tuple(float(lead) for lead in range(0, 241, 15))


@dataclass(frozen=True)
class Setback:
    """A night's setting: ``night_c`` (NaN: off) from ``down_min`` to ``lead_min`` before ``warm_min`` of the day.

    ``keeps``: until then the plan's own setpoints hold, of which ``night_c`` is the usual one.
    """

    night_c: float
    lead_min: float
    down_min: int
    warm_min: int
    warm_c: float
    keeps: bool = False

    @property
    def on_min(self) -> int:
        """When the timer starts, minutes after midnight, on the quarter hour."""
        return int(round((self.warm_min - self.lead_min) / 15.0) * 15) % (24 * 60)

    def words(self) -> str:
        """For tables."""
        down = "off" if np.isnan(self.night_c) else f"{self.night_c:g} °C"
        return f"{down} from {clock(self.down_min)}, {self.warm_c:g} °C from {clock(self.on_min)}"


def clock(minute: int) -> str:
    """HH:MM of minutes after midnight."""
    return f"{minute // 60 % 24:02d}:{minute % 60:02d}"


def minute_of_quarters(prepared: Prepared, first: int = 0, last: int | None = None) -> np.ndarray:
    """Local minute of day at which each quarter hour of hours first to last - 1 starts."""
    index = prepared.timeline.index[first:last]
    whole = (index.hour * 60 + index.minute).to_numpy()
    minutes: np.ndarray = (whole.repeat(4) + np.tile([0, 15, 30, 45], len(index))) % (24 * 60)
    return minutes


def laid(planned_c: Floats, minute: np.ndarray, setback: Setback) -> Floats:
    """Setpoints by the quarter hour with the nights replaced, and the wish kept for an hour after it is due.

    The wish replaces the plan from the timer's start until an hour after the warm time, the plan holds by day.
    """
    warm_for = (setback.warm_min + 60 - setback.on_min) % (24 * 60)
    night_for = (setback.on_min - setback.down_min) % (24 * 60)
    if (setback.warm_min - setback.down_min) % (24 * 60) <= setback.lead_min:  # the timer starts before they lie down
        night_for = 0
    night = ((minute - setback.down_min) % (24 * 60) < night_for) & (not setback.keeps)
    warm = (minute - setback.on_min) % (24 * 60) < warm_for
    set_c: Floats = np.where(night, setback.night_c, np.where(warm, setback.warm_c, planned_c))
    return set_c


def hours_of(prepared: Prepared, setbacks: Sequence[Setback], minute: np.ndarray) -> np.ndarray:
    """Hour records of several settings, shape (settings, hours); the heater's bans on the road are kept."""
    base = prepared.hours
    planned = np.asarray(base["set_c"], dtype=float).reshape(-1)
    allowed = np.asarray(base["heater_allowed"]).repeat(4) == 1
    hours = np.tile(np.asarray(base), (len(setbacks), 1)).view(np.recarray)
    for row, setback in enumerate(setbacks):
        set_c = np.where(allowed, laid(planned, minute, setback), np.nan)
        hours["set_c"][row] = set_c.reshape(len(base), 4)
    return hours


def run_setbacks(prepared: Prepared, setbacks: Sequence[Setback], minute: np.ndarray) -> Many:
    """March every setting once on the tour's own weather."""
    return prepared.run_many(
        base_factors(len(setbacks)),
        hours=hours_of(prepared, setbacks, minute),
        schedule_of=np.arange(len(setbacks)),
        executor=InTurn() if len(setbacks) < 10 else None,
    )


def at_time_c(inside_c: Floats, minute_at_edges: np.ndarray, due_min: int) -> Floats:
    """Temperature at each day's due minute between hour edges, along a straight line; (..., days). [°C]

    A warm-up is steepest at its start, so that a straight line reads rather too cold: a timer found with it is early.
    """
    into = (due_min - minute_at_edges[:-1]) % (24 * 60)
    edges = np.flatnonzero(into < 60)
    share = into[edges] / 60.0
    values: Floats = inside_c[..., edges] * (1.0 - share) + inside_c[..., edges + 1] * share
    return values
