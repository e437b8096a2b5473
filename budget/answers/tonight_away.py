"""The hours of an absence: its marches, when it must be heated for the return, and what freezes meanwhile."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from budget.answers.detail import Detail, first_hour
from budget.answers.ensemble import InTurn
from budget.answers.night import LEADS_MIN, OFF, WARM_BAND_K
from budget.answers.night_cases import DRAINED_L, Cases
from budget.answers.outage import WATER_PARTS, hours_until
from budget.answers.prepared import Prepared
from budget.engine import arrays as A
from budget.engine.batch import base_factors
from budget.moments import hours_between, later
from budget.rounding import rounded_up
from budget.weather.air import Floats

LEFT_ON_C = (5.0, 8.0, 10.0, 12.0, 14.0, 16.0, 18.0)
QUARTER_MIN = 15


@dataclass(frozen=True)
class Frozen:
    """A part of the water that comes to 0 °C, so many hours after leaving."""

    name: str
    after_h: float


@dataclass(frozen=True)
class LeftOn:
    """The lowest setting that keeps pipes and boiler while away: its gas until the return, and how often it lasts.

    ``lead_min``: so long before the return it is set up, as late as is warm in time; None where 4 h are not enough.
    ``off_kg`` is the gas until the return with the heater off and switched on for it; ``freezing`` are the tanks that
    freeze all the same. ``fails_share``: the heater goes short before the return.
    """

    setpoint_c: float
    lead_min: float | None
    gas_kg: float
    off_kg: float
    fails_share: float
    freezing: tuple[str, ...]


@dataclass(frozen=True)
class Away:
    """The hours of an absence within those that are marched, in quarter hours from their start."""

    leave: int
    back: int
    warm_c: float

    def hours(self, base: Any, away_c: float, lead_min: float) -> Any:
        """Hour records: ``away_c`` (NaN: off) from leaving to the lead before the return, then the wish for an hour."""
        hours = base.copy()
        planned = np.asarray(hours["set_c"], dtype=float).reshape(-1)
        allowed = np.asarray(hours["heater_allowed"]).repeat(4) == 1
        on = max(self.leave, self.back - int(lead_min) // QUARTER_MIN)
        planned[self.leave : on] = away_c
        planned[on : self.back + 4] = self.warm_c
        hours["set_c"] = np.where(allowed, planned, np.nan).reshape(-1, 4)
        return hours


def lead_of(led: Prepared, away: Away, away_c: float = OFF) -> tuple[float, bool]:
    """The latest lead that is warm on return in the middle case, and whether there is one; else the longest. [min]"""
    tried = [away.hours(led.hours, away_c, lead) for lead in LEADS_MIN]
    many = led.run_many(
        base_factors(len(tried)), hours=np.stack(tried), schedule_of=np.arange(len(tried)), executor=InTurn()
    )
    edge, share = away.back // 4, away.back % 4 / 4.0
    warm_c = many.trace[:, edge, 2] * (1.0 - share) + many.trace[:, edge + 1, 2] * share
    in_time = np.flatnonzero(warm_c >= away.warm_c - WARM_BAND_K)
    return (LEADS_MIN[int(in_time[0])], True) if in_time.size else (LEADS_MIN[-1], False)


def run_of(led: Prepared, away: Away, away_c: float, lead_min: float) -> Detail:
    """The middle case, every column kept."""
    return Detail.of(replace(led, hours=away.hours(led.hours, away_c, lead_min).view(np.recarray)))


def frost_of(run: Detail, before: int, count: int, away: Away) -> tuple[tuple[Frozen, ...], float | None]:
    """Parts of the water that come to 0 °C in so many hours from leaving, soonest first, and when the valve opens."""
    gone = slice(before, before + count + 1)
    outdoors_c = run.rows[before : before + count, A.TEMP_C]
    times_h = np.maximum(np.arange(count + 1) - away.leave / 4.0, 0.0)
    dumped_l = run.flow("dumped_l")[before : before + count]
    fitted = run.van.water.boiler.is_fitted
    opens = first_hour(dumped_l > DRAINED_L) if fitted else None
    found = []
    for name in WATER_PARTS:
        if name == "boiler" and (not fitted or opens is not None):
            continue
        after_h = hours_until(times_h, run.node_c(name)[gone], 0.0, outdoors_c)
        if after_h is not None:
            found.append(Frozen(name, after_h))
    found.sort(key=lambda part: part.after_h)
    return tuple(found), None if opens is None else rounded_up(max(1.0, opens + 1 - away.leave / 4.0))


def lost(frozen: Sequence[Frozen], valve_h: float | None) -> bool:
    """Whether pipes or boiler are lost to frost; tanks may freeze."""
    return valve_h is not None or any(part.name in ("pipes", "boiler") for part in frozen)


def left_on(
    led: Prepared, led_away: Away, cases: Cases, away: Away, before: int, count: int, off: Detail
) -> LeftOn | None:
    """The lowest setting at which neither pipes freeze nor the boiler is lost; None where none of those tried does."""
    for setpoint_c in LEFT_ON_C:
        lead_min, is_warm = lead_of(led, led_away, setpoint_c)
        run = run_of(led, led_away, setpoint_c, lead_min)
        frozen, valve_h = frost_of(run, before, count, away)
        names = tuple(part.name for part in frozen)
        if not lost(frozen, valve_h):
            return LeftOn(
                setpoint_c=setpoint_c,
                lead_min=lead_min if is_warm else None,
                gas_kg=_burned_kg(run, before, count),
                off_kg=_burned_kg(off, before, count),
                fails_share=short_before_share(cases, away.hours(cases.here.hours, setpoint_c, lead_min), count),
                freezing=names,
            )
    return None


def ahead(start: dt.datetime, back: dt.datetime, lead_min: float) -> dt.datetime:
    """When a lead before a return begins, as it is marched: from the quarter hour that holds it, not before leaving."""
    quarter = back.replace(minute=back.minute // QUARTER_MIN * QUARTER_MIN, second=0, microsecond=0)
    begins = later(quarter, -dt.timedelta(minutes=lead_min))
    return begins if hours_between(start, begins) > 0.0 else start


def _burned_kg(run: Detail, before: int, count: int) -> float:
    burned: Floats = run.flow("gas_out_kg") + run.flow("gas_out_butane_kg")
    return float(burned[before : before + count].sum())


def short_before_share(cases: Cases, hours: Any, count: int) -> float:
    """In what share of the cases the heater goes short before the return, ``count`` hours from leaving."""
    short = _cut(cases, count)
    return float(short.outcome(hours[:count], OFF, short.march(short.fed, hours[:count])).any_short.mean())


def _cut(cases: Cases, count: int) -> Cases:
    """The same cases until so many hours from leaving; what a bottle by hand would do is asked of the whole only."""
    return replace(
        cases,
        here=cases.here.between(0, count),
        fed=cases.fed.between(0, count),
        rows=np.ascontiguousarray(cases.rows[:, :count]),
        asleep=cases.asleep[:count],
        automatic=None,
    )
