"""Settings for one night: what each takes with gas and charge to the morning, and how often those at hand end first."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from budget.answers.night import LEADS_MIN, OFF, WARM_BAND_K, Setback, at_time_c, clock, hours_of, run_setbacks
from budget.answers.night_cases import Cases, Outcome
from budget.answers.night_wish import Wish
from budget.engine.batch import Many
from budget.weather.air import Floats

NIGHT_C = (OFF, 8.0, 10.0, 12.0, 14.0, 16.0, 18.0)


@dataclass(frozen=True)
class Option:
    """One setting for this night: its timer, its gas until the morning, and what it feels like.

    All of it with gas and charge to the morning: gas in the middle of all cases, the rest in the case of middle weather
    and van. In how many of all cases, with the gas and charge at hand, before the morning: ``fails_share`` the heater
    goes short, ``freezes_share`` pipes or boiler are lost to frost, ``amiss_share`` either, or it is not warm enough.
    ``dumped_l`` is what the frost drain valve lets go. ``planned``: the night is the tour's own.
    """

    words: str
    night_c: float | None
    planned: bool
    timer: str | None
    lead_min: float | None
    gas_kg: float
    fan_ah: float
    lowest_inside_c: float
    at_warm_time_c: float
    lowest_pipes_c: float
    dumped_l: float
    fails_share: float
    freezes_share: float
    amiss_share: float

    @property
    def night_words(self) -> str:
        """ "at 12 °C" or "with the heater off"."""
        return "with the heater off" if self.night_c is None else f"at {self.night_c:g} °C"


@dataclass(frozen=True, eq=False)
class Tried:
    """A setting with its hours and what became of every case of it: with what is at hand, and fed."""

    option: Option
    hours: Any
    outcome: Outcome
    fed: Many


def options(cases: Cases, middle: Floats, minute: np.ndarray, wish: Wish) -> tuple[Tried, ...]:
    """Every night setting, the tour's own among them, with the latest timer that is warm in time, warmest night first.

    ``middle`` is the weather of the middle case. Where no timer is early enough the earliest one is taken.
    """
    fed = replace(cases.fed, rows=middle)
    nights = sorted({OFF if np.isnan(night) else night for night in NIGHT_C if not _same(night, wish.night_c)})
    nights = [wish.night_c, *nights]
    tried = [
        Setback(night, lead, wish.down_min, wish.warm_min, wish.warm_c, keeps=wish.keeps and n == 0)
        for n, night in enumerate(nights)
        for lead in LEADS_MIN
    ]
    many = run_setbacks(fed, tried, minute)
    edge_minute = np.append(minute[::4], (minute[-4] + 60) % (24 * 60))
    warm = at_time_c(many.trace[:, :, 2], edge_minute, wish.warm_min)
    fan_ah, dumped_l = fed.flow(many, "load_ah"), fed.flow(many, "dumped_l")
    told = []
    for n in range(len(nights)):
        first = n * len(LEADS_MIN)
        found = np.flatnonzero(warm[first : first + len(LEADS_MIN)].min(axis=1) >= wish.warm_c - WARM_BAND_K)
        k = first + (int(found[0]) if found.size else len(LEADS_MIN) - 1)
        setting = tried[k]
        hours = hours_of(cases.here, [setting], minute)[0]
        fed_many = cases.march(cases.fed, hours_of(cases.fed, [setting], minute)[0])
        outcome = cases.outcome(hours, setting.night_c, fed_many)
        option = Option(
            words=setting.words(),
            night_c=None if np.isnan(setting.night_c) else setting.night_c,
            planned=n == 0,
            timer=clock(setting.on_min) if found.size else None,
            lead_min=setting.lead_min if found.size else None,
            gas_kg=round(float(np.median(cases.fed.gas_kg(fed_many))), 3),
            fan_ah=round(float(fan_ah[k]), 2),
            lowest_inside_c=round(float(many.trace[k, 1:, 2].min()), 1),
            at_warm_time_c=round(float(warm[k].min()), 1),
            lowest_pipes_c=round(float(many.trace[k, 1:, 3].min()), 1),
            dumped_l=round(float(dumped_l[k]), 1),
            fails_share=round(float(outcome.any_short.mean()), 4),
            freezes_share=round(float(outcome.frost.mean()), 4),
            amiss_share=round(float(outcome.amiss.mean()), 4),
        )
        told.append(Tried(option, hours, outcome, fed_many))
    return tuple(sorted(told, key=lambda one: -1.0 if one.option.night_c is None else one.option.night_c, reverse=True))


def _same(one_c: float, other_c: float) -> bool:
    return one_c == other_c or (np.isnan(one_c) and np.isnan(other_c))
