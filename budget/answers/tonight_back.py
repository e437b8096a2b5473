"""Away for some hours with the heater off: when to switch it on for the return, and what freezes meanwhile."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from budget.answers.detail import Detail, first_hour
from budget.answers.ensemble import InTurn
from budget.answers.evening import MORNING_H, climate_lows_c, planned_c, weather_of_night, window
from budget.answers.night import LEADS_MIN, OFF, WARM_BAND_K
from budget.answers.night_cases import DRAINED_L, Cases
from budget.answers.night_ready import Evening
from budget.answers.outage import WATER_PARTS, hours_until
from budget.answers.prepared import Prepared, factor_rows
from budget.answers.quantiles import Quantiles, chance_half_width
from budget.answers.tonight_verdict import Verdict, verdict_of
from budget.engine import arrays as A
from budget.engine.batch import base_factors
from budget.errors import InputFault
from budget.rounding import rounded_up
from budget.weather.air import Floats

BEFORE_H = 24  # so long before leaving the middle case is marched, so that walls, pipes and tanks are as they are
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
class Back:
    """Away from ``start`` to ``back``; what is at hand is followed on to the next ``morning``.

    ``switch_on`` is the latest that is warm in time in the middle case with gas and charge, None where 4 h are not
    enough. ``away_low_c`` and ``away_high_c`` are the outdoors while away, ``shift_k`` what the tour's own course is
    shifted by for the forecast. With what is at hand: ``fails_before_share`` goes short before the return,
    ``fails_share`` before the morning. ``valve_h``: within so many hours the frost drain valve has let the boiler go.
    """

    place: str
    start: dt.datetime
    back: dt.datetime
    morning: dt.datetime
    gas_left_kg: float
    charge_share: float
    inside_c: float
    scenarios: int
    warm_c: float
    is_scheduled: bool
    switch_on: dt.datetime | None
    lowest_inside_c: float
    away_low_c: float
    away_high_c: float
    shift_k: float | None
    climate_low: Quantiles
    forecast_low_c: float | None
    fails_before_share: float
    fails_share: float
    fails_half_width_share: float
    failing_by_share: dict[str, float]
    frozen: tuple[Frozen, ...]
    valve_h: float | None
    boiler_l: float
    left_on: LeftOn | None
    notices: tuple[str, ...]

    @property
    def verdict(self) -> Verdict:
        """Whether the switch-on can be counted on, by the cases that go short before the morning."""
        return "better not" if self.switch_on is None else verdict_of(self.fails_share)

    @property
    def is_lost(self) -> bool:
        """Whether pipes or boiler are lost to frost while away."""
        return lost(self.frozen, self.valve_h)

    @property
    def binds(self) -> str | None:
        """The resource that fails first, None when none does in any case."""
        likeliest = max(self.failing_by_share, key=lambda name: self.failing_by_share[name])
        return likeliest if self.failing_by_share[likeliest] > 0.0 else None

    def as_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {
            "place": self.place,
            "start": self.start.isoformat(),
            "back": self.back.isoformat(),
            "morning": self.morning.isoformat(),
            "gas_left_kg": self.gas_left_kg,
            "charge_share": self.charge_share,
            "inside_c": self.inside_c,
            "scenarios": self.scenarios,
            "warm_c": self.warm_c,
            "verdict": self.verdict,
            "switch_on": None if self.switch_on is None else self.switch_on.isoformat(),
            "lowest_inside_c": round(self.lowest_inside_c, 1),
            "outdoors_away": {"low_c": round(self.away_low_c, 1), "high_c": round(self.away_high_c, 1)},
            "climate_low": self.climate_low.as_dict("c", 1),
            "forecast_low_c": self.forecast_low_c,
            "fails_before_return_share": round(self.fails_before_share, 4),
            "chance_of_running_out_share": round(self.fails_share, 4),
            "chance_half_width_share": round(self.fails_half_width_share, 4),
            "failing_by_share": {name: round(share, 4) for name, share in self.failing_by_share.items()},
            "binds": self.binds,
            "freezing": [{"part": part.name, "after_h": round(part.after_h, 2)} for part in self.frozen],
            "boiler_drained_within_h": self.valve_h,
            "left_on": None if self.left_on is None else vars(self.left_on),
            "notices": list(self.notices),
        }

    def sentences(self) -> list[str]:
        """In plain words."""
        from budget.answers.tonight_back_words import back_sentences

        return back_sentences(self)


@dataclass(frozen=True)
class _Away:
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


def answer(
    prepared: Prepared,
    *,
    gas_left_kg: float,
    charge_percent: float,
    start: dt.datetime,
    back: dt.datetime,
    warm_c: float | None = None,
    inside_c: float | None = None,
    forecast_low_c: float | None = None,
    scenarios: int,
    seed: int = 1,
) -> Back:
    """Away from ``start`` to ``back``, the heater off.

    Parameters
    ----------
    gas_left_kg, charge_percent, scenarios, seed : As for the night.
    warm_c : The wish on return; None: the schedule's setpoint then. [°C]
    inside_c : Temperature inside on leaving; None: the schedule's setpoint. [°C]
    forecast_low_c : Low of the coming night; the course from leaving to its morning is shifted to it. None: any
        winter's weather on that date. [°C]
    """
    first, _ = window(prepared, start)
    stamps = prepared.timeline.edges.tz_localize(None)
    due = int(np.searchsorted(stamps, np.datetime64(back.replace(tzinfo=None)), side="right")) - 1
    if back.replace(tzinfo=None) <= start.replace(tzinfo=None) or due + 1 > prepared.hours_count:
        raise InputFault(f"the return must lie after leaving and within the tour, got {back:%Y-%m-%d %H:%M}.")
    last = _morning_after(prepared, due)
    is_scheduled = warm_c is None
    warm_c = planned_c(prepared, due, back.minute) if warm_c is None else warm_c
    evening = Evening(
        prepared, first, last, gas_left_kg, charge_percent,
        planned_c(prepared, first, start.minute) if inside_c is None else inside_c,
    )  # fmt: skip
    here = evening.ready()
    rows, notices = weather_of_night(prepared, first, last, forecast_low_c, scenarios, seed)
    unknown = prepared.unknowns()
    factors = factor_rows(unknown.factors(unknown.scores(scenarios, seed)), scenarios)
    returned = np.arange(first, last) >= due
    cases = Cases(
        here, here.fed(), factors, rows, returned, (lambda: evening.automatic) if evening.could_change_over else None
    )
    away = _Away(start.minute // QUARTER_MIN, 4 * (due - first) + back.minute // QUARTER_MIN, warm_c)
    middle = np.median(rows, axis=0)
    before = min(first, BEFORE_H)
    led = evening.fed_from(first - before, np.concatenate((prepared.rows[first - before : first], middle)))
    led_away = replace(away, leave=away.leave + 4 * before, back=away.back + 4 * before)
    lead_min, is_warm = _lead(led, led_away)
    run = _run(led, led_away, OFF, lead_min)
    inside = run.node_c(f"{prepared.van.heater.sensor_zone}_air")[before + 1 : before + due - first + 2]
    frozen, valve_h = _frost(run, before, due - first + 1, away)
    hours = away.hours(here.hours, OFF, lead_min)
    outcome = cases.outcome(hours, OFF, cases.march(cases.fed, hours))
    fails = float(outcome.any_short.mean())
    outdoors_c = middle[: due - first + 1, A.TEMP_C]
    base_c = prepared.rows[first:last, A.TEMP_C]
    lows = Quantiles.of(rows[:, :, A.TEMP_C].min(axis=1))
    edges = prepared.timeline.edges
    return Back(
        place=prepared.tour.stops[int(prepared.timeline.stop[first])].place,
        start=start,
        back=back,
        morning=edges[last].to_pydatetime(),
        gas_left_kg=gas_left_kg,
        charge_share=charge_percent / 100.0,
        inside_c=evening.inside_c,
        scenarios=scenarios,
        warm_c=warm_c,
        is_scheduled=is_scheduled,
        switch_on=back - dt.timedelta(minutes=lead_min) if is_warm else None,
        lowest_inside_c=float(inside.min()),
        away_low_c=float(outdoors_c.min()),
        away_high_c=float(outdoors_c.max()),
        shift_k=None if forecast_low_c is None else forecast_low_c - float(base_c.min()),
        climate_low=lows if forecast_low_c is None else climate_lows_c(prepared, first, last, seed),
        forecast_low_c=forecast_low_c,
        fails_before_share=_before(cases, hours, due - first + 1),
        fails_share=fails,
        fails_half_width_share=chance_half_width(fails, scenarios),
        failing_by_share={name: float(cause.mean()) for name, cause in outcome.short.items()},
        frozen=frozen,
        valve_h=valve_h,
        boiler_l=prepared.van.water.boiler.water_l if prepared.van.water.boiler.is_fitted else 0.0,
        left_on=_left_on(led, led_away, cases, away, before, due - first + 1, run) if lost(frozen, valve_h) else None,
        notices=notices,
    )


def _morning_after(prepared: Prepared, due: int) -> int:
    """The hour edge of the first morning after the return, or the tour's end."""
    mornings = np.flatnonzero(prepared.timeline.edges.hour.to_numpy() == MORNING_H)
    after = mornings[mornings > due]
    return int(after[0]) if after.size else prepared.hours_count


def _lead(led: Prepared, away: _Away, away_c: float = OFF) -> tuple[float, bool]:
    """The latest lead that is warm on return in the middle case, and whether there is one; else the longest. [min]"""
    tried = [away.hours(led.hours, away_c, lead) for lead in LEADS_MIN]
    many = led.run_many(
        base_factors(len(tried)), hours=np.stack(tried), schedule_of=np.arange(len(tried)), executor=InTurn()
    )
    edge, share = away.back // 4, away.back % 4 / 4.0
    warm_c = many.trace[:, edge, 2] * (1.0 - share) + many.trace[:, edge + 1, 2] * share
    in_time = np.flatnonzero(warm_c >= away.warm_c - WARM_BAND_K)
    return (LEADS_MIN[int(in_time[0])], True) if in_time.size else (LEADS_MIN[-1], False)


def _run(led: Prepared, away: _Away, away_c: float, lead_min: float) -> Detail:
    return Detail.of(replace(led, hours=away.hours(led.hours, away_c, lead_min).view(np.recarray)))


def _frost(run: Detail, before: int, count: int, away: _Away) -> tuple[tuple[Frozen, ...], float | None]:
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


def _before(cases: Cases, hours: Any, count: int) -> float:
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


def lost(frozen: Sequence[Frozen], valve_h: float | None) -> bool:
    """Whether pipes or boiler are lost to frost; tanks may freeze."""
    return valve_h is not None or any(part.name in ("pipes", "boiler") for part in frozen)


def _left_on(
    led: Prepared, led_away: _Away, cases: Cases, away: _Away, before: int, count: int, off: Detail
) -> LeftOn | None:
    """The lowest setting at which neither pipes freeze nor the boiler is lost; None where none of those tried does."""
    for setpoint_c in LEFT_ON_C:
        lead_min, is_warm = _lead(led, led_away, setpoint_c)
        run = _run(led, led_away, setpoint_c, lead_min)
        frozen, valve_h = _frost(run, before, count, away)
        names = tuple(part.name for part in frozen)
        if not lost(frozen, valve_h):
            return LeftOn(
                setpoint_c=setpoint_c,
                lead_min=lead_min if is_warm else None,
                gas_kg=_burned_kg(run, before, count),
                off_kg=_burned_kg(off, before, count),
                fails_share=_before(cases, away.hours(cases.here.hours, setpoint_c, lead_min), count),
                freezing=names,
            )
    return None


def _burned_kg(run: Detail, before: int, count: int) -> float:
    burned: Floats = run.flow("gas_out_kg") + run.flow("gas_out_butane_kg")
    return float(burned[before : before + count].sum())
