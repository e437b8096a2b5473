"""Away for some hours with the heater off: when to switch it on for the return, and what freezes meanwhile."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from budget.answers.evening import MORNING_H, climate_lows_c, existing, planned_c, weather_of_night, window
from budget.answers.night import OFF
from budget.answers.night_ready import Evening
from budget.answers.prepared import Prepared
from budget.answers.quantiles import Quantiles, chance_half_width
from budget.answers.tonight_away import (
    Away,
    Frozen,
    LeftOn,
    ahead,
    frost_of,
    lead_of,
    left_on,
    lost,
    run_of,
    short_before_share,
)
from budget.answers.tonight_verdict import Verdict, verdict_of
from budget.engine import arrays as A
from budget.errors import InputFault
from budget.moments import hours_between

BEFORE_H = 24  # so long before leaving the middle case is marched, so that walls, pipes and tanks are as they are


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
    start, back = existing(prepared, start, "--at"), existing(prepared, back, "--back")
    first, _ = window(prepared, start)
    due = prepared.timeline.hour_of(back)
    if hours_between(start, back) <= 0.0 or due + 1 > prepared.hours_count:
        raise InputFault(f"the return must lie after leaving and within the tour, got {back:%Y-%m-%d %H:%M}.")
    last = _morning_after(prepared, due)
    is_scheduled = warm_c is None
    edges = prepared.timeline.edges
    leaves, returns = _quarter(edges[first], start), _quarter(edges[due], back)
    warm_c = planned_c(prepared, due, returns) if warm_c is None else warm_c
    evening = Evening(
        prepared, first, last, gas_left_kg, charge_percent,
        planned_c(prepared, first, leaves) if inside_c is None else inside_c,
    )  # fmt: skip
    rows, notices = weather_of_night(prepared, first, last, forecast_low_c, scenarios, seed)
    cases = evening.cases(rows, np.arange(first, last) >= due, seed)
    away = Away(leaves, 4 * (due - first) + returns, warm_c)
    middle = np.median(rows, axis=0)
    before = min(first, BEFORE_H)
    led = evening.fed_from(first - before, np.concatenate((prepared.rows[first - before : first], middle)))
    led_away = replace(away, leave=away.leave + 4 * before, back=away.back + 4 * before)
    lead_min, is_warm = lead_of(led, led_away)
    run = run_of(led, led_away, OFF, lead_min)
    inside = run.node_c(f"{prepared.van.heater.sensor_zone}_air")[before + 1 : before + due - first + 2]
    frozen, valve_h = frost_of(run, before, due - first + 1, away)
    hours = away.hours(cases.here.hours, OFF, lead_min)
    outcome = cases.outcome(hours, OFF, cases.march(cases.fed, hours))
    fails = float(outcome.any_short.mean())
    outdoors_c = middle[: due - first + 1, A.TEMP_C]
    base_c = prepared.rows[first:last, A.TEMP_C]
    lows = Quantiles.of(rows[:, :, A.TEMP_C].min(axis=1))
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
        switch_on=ahead(start, back, lead_min) if is_warm else None,
        lowest_inside_c=float(inside.min()),
        away_low_c=float(outdoors_c.min()),
        away_high_c=float(outdoors_c.max()),
        shift_k=None if forecast_low_c is None else forecast_low_c - float(base_c.min()),
        climate_low=lows if forecast_low_c is None else climate_lows_c(prepared, first, last, seed),
        forecast_low_c=forecast_low_c,
        fails_before_share=short_before_share(cases, hours, due - first + 1),
        fails_share=fails,
        fails_half_width_share=chance_half_width(fails, scenarios),
        failing_by_share={name: float(cause.mean()) for name, cause in outcome.short.items()},
        frozen=frozen,
        valve_h=valve_h,
        boiler_l=prepared.van.water.boiler.water_l if prepared.van.water.boiler.is_fitted else 0.0,
        left_on=left_on(led, led_away, cases, away, before, due - first + 1, run) if lost(frozen, valve_h) else None,
        notices=notices,
    )


def _quarter(edge: dt.datetime, time: dt.datetime) -> int:
    """Which quarter of the hour from an edge on holds an instant."""
    return math.floor(4.0 * hours_between(edge, time))


def _morning_after(prepared: Prepared, due: int) -> int:
    """The hour edge of the first morning after the return, or the tour's end."""
    mornings = np.flatnonzero(prepared.timeline.edges.hour.to_numpy() == MORNING_H)
    after = mornings[mornings > due]
    return int(after[0]) if after.size else prepared.hours_count
