"""Tonight: can we stay another night with this gas and this charge, and when should the timer start?"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from budget.answers.evening import weather_of_night, window, with_gas_and_charge
from budget.answers.night import (
    LEADS_MIN,
    OFF,
    WARM_BAND_K,
    Setback,
    at_time_c,
    clock,
    minute_of_quarters,
    run_setbacks,
)
from budget.answers.odds import CHARGE, GAS, OFFTAKE
from budget.answers.prepared import Prepared, factor_rows
from budget.answers.quantiles import Quantiles, chance_half_width
from budget.engine import arrays as A
from budget.engine.batch import Many
from budget.errors import InputFault

NIGHT_C = (OFF, 8.0, 10.0, 12.0, 14.0, 16.0, 18.0)
SCENARIOS = 200
EMPTY_KG = 0.1  # below this the bottles count as empty
OFFTAKE_KG = 0.02  # heating that cold bottles could not feed, from which it counts
YES_SHARE = 0.1  # another night is advised when it fails in at most one case of ten
HEAT_OR_DRAIN_C = 5.0  # at the water pipes, as the cautions say; common practice, no source


@dataclass(frozen=True)
class Option:
    """One setting for this night: its timer, its gas until the morning, and what it feels like."""

    words: str
    night_c: float | None
    timer: str | None
    lead_min: float | None
    gas_kg: float
    fan_ah: float
    lowest_inside_c: float
    at_warm_time_c: float
    lowest_pipes_c: float


@dataclass(frozen=True)
class Tonight:
    """The night from ``start`` to the morning at ``place``."""

    place: str
    start: dt.datetime
    morning: dt.datetime
    gas_left_kg: float
    charge_share: float
    scenarios: int
    need: Quantiles
    fails_share: float
    fails_half_width_share: float
    failing_by_share: dict[str, float]
    more_nights_p90: float
    charge_in_the_morning: Quantiles
    outdoor_low: Quantiles
    warm_c: float
    warm_at: str
    options: tuple[Option, ...]
    notices: tuple[str, ...]

    @property
    def can_stay(self) -> bool:
        """At most one case of ten fails before the morning."""
        return self.fails_share <= YES_SHARE

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
            "morning": self.morning.isoformat(),
            "gas_left_kg": self.gas_left_kg,
            "charge_share": self.charge_share,
            "scenarios": self.scenarios,
            "can_stay": self.can_stay,
            "chance_of_running_out_share": round(self.fails_share, 4),
            "chance_half_width_share": round(self.fails_half_width_share, 4),
            "failing_by_share": {name: round(share, 4) for name, share in self.failing_by_share.items()},
            "binds": self.binds,
            "need": self.need.as_dict("kg"),
            "more_nights_p90": round(self.more_nights_p90, 1),
            "charge_in_the_morning": self.charge_in_the_morning.as_dict("share", 4),
            "outdoor_low": self.outdoor_low.as_dict("c", 1),
            "warm": {"setpoint_c": self.warm_c, "at": self.warm_at},
            "options": [
                {name: value for name, value in vars(option).items() if value is not None} for option in self.options
            ],
            "notices": list(self.notices),
        }

    def sentences(self) -> list[str]:
        """In plain words."""
        need, morning = self.need, f"{self.morning:%H:%M}"
        yes = "Yes" if self.can_stay else "Better not"
        said = [
            f"{yes}: with {self.gas_left_kg:g} kg of gas and {self.charge_share:.0%} of charge something runs out "
            f"before {morning} in {self.fails_share:.0%} of "
            f"{self.scenarios} cases (± {self.fails_half_width_share:.0%}).",
            f"The night takes {need.p50:.2f} kg, {need.p90:.2f} kg in one case of ten; what is left covers about "
            f"{self.more_nights_p90:.1f} such nights.",
        ]
        if self.binds is not None:
            said.append(f"What binds is {self.binds}.")
        timed = [option for option in self.options if option.timer is not None]
        for option in timed[:1]:
            said.append(
                f"For {self.warm_c:g} °C at {self.warm_at} after a night {_night_words(option)}, start the timer at "
                f"{option.timer}."
            )
        if len(timed) > 1:
            thrifty = min(timed, key=lambda option: option.gas_kg)
            said.append(
                f"The least gas is a night {_night_words(thrifty)}: {thrifty.gas_kg:.2f} kg, timer at {thrifty.timer}, "
                f"down to {round(thrifty.lowest_inside_c)} °C inside."
            )
            if thrifty.lowest_pipes_c < HEAT_OR_DRAIN_C:
                said.append(
                    f"The pipes are then at {round(thrifty.lowest_pipes_c)} °C: "
                    f"below {HEAT_OR_DRAIN_C:g} °C heat or drain."
                )
        if not timed:
            said.append(f"No timer of up to {LEADS_MIN[-1] / 60:.0f} h makes it {self.warm_c:g} °C by {self.warm_at}.")
        return said


def answer(
    prepared: Prepared,
    *,
    gas_left_kg: float,
    charge_percent: float,
    at: dt.datetime | None = None,
    warm_c: float = 20.0,
    warm_at: str = "07:30",
    inside_c: float = 19.0,
    forecast_low_c: float | None = None,
    scenarios: int = SCENARIOS,
    seed: int = 1,
) -> Tonight:
    """One night.

    Parameters
    ----------
    gas_left_kg : Weighed gas in all bottles together. [kg]
    charge_percent : State of charge now. [%]
    at : The evening, local time; None: 17:00 of the tour's first evening off the grid.
    warm_c, warm_at : Wish for the morning. [°C], "HH:MM"
    inside_c : Temperature inside now. [°C]
    forecast_low_c : Tonight's forecast low, taken as ± 2 K; None: any winter's weather on that date. [°C]
    """
    from budget.spans import minute_of_day

    first, last = window(prepared, at)
    try:
        warm_min = minute_of_day(warm_at)
    except ValueError as fault:
        raise InputFault(f"--warm-at {fault}; write it as 07:30.") from None
    van = with_gas_and_charge(prepared, gas_left_kg, charge_percent)
    here = van.between(first, last, start_c=inside_c)
    rows, notices = weather_of_night(prepared, first, last, forecast_low_c, scenarios, seed)
    unknown = prepared.unknowns()
    samples = unknown.factors(unknown.scores(scenarios, seed))
    many = here.run_many(factor_rows(samples, scenarios), rows=rows, weather_of=np.arange(scenarios))
    failing = _failing(here, many)
    fails = float(sum(failing.values()))
    plenty = van.with_gas_everywhere().between(first, last, start_c=inside_c)
    need_kg = plenty.gas_kg(
        plenty.run_many(factor_rows(samples, scenarios), rows=rows, weather_of=np.arange(scenarios))
    )
    need = Quantiles.of(need_kg)
    minute = minute_of_quarters(prepared, first, last)
    typical = replace(plenty, rows=np.median(rows, axis=0))
    edges = prepared.timeline.edges
    return Tonight(
        place=prepared.tour.stops[int(prepared.timeline.stop[first])].place,
        start=edges[first].to_pydatetime(),
        morning=edges[last].to_pydatetime(),
        gas_left_kg=gas_left_kg,
        charge_share=charge_percent / 100.0,
        scenarios=scenarios,
        need=need,
        fails_share=fails,
        fails_half_width_share=chance_half_width(fails, scenarios),
        failing_by_share=failing,
        more_nights_p90=gas_left_kg / max(need.p90, 1e-6),
        charge_in_the_morning=Quantiles.of(many.trace[:, -1, 1]),
        outdoor_low=Quantiles.of(rows[:, :, A.TEMP_C].min(axis=1)),
        warm_c=warm_c,
        warm_at=clock(warm_min),
        options=_options(typical, minute, warm_c, warm_min),
        notices=notices,
    )


def _failing(here: Prepared, many: Many) -> dict[str, float]:
    """Share of the cases in which each resource fails before the morning; the first that explains a case counts."""
    unserved = here.flow(many, "unserved_heating_kg") > OFFTAKE_KG
    cut_out = many.trace[:, :, 5] > 0.0
    empty = many.trace[:, :, 0] <= EMPTY_KG
    never = many.trace.shape[1]
    gas_h = np.where(empty.any(axis=1), empty.argmax(axis=1), never)
    charge_h = np.where(cut_out.any(axis=1), cut_out.argmax(axis=1), never)
    neither = (gas_h == never) & (charge_h == never)
    return {
        GAS: float(((gas_h < never) & (gas_h <= charge_h)).mean()),
        CHARGE: float((charge_h < gas_h).mean()),
        OFFTAKE: float((neither & unserved).mean()),
    }


def _options(typical: Prepared, minute: np.ndarray, warm_c: float, warm_min: int) -> tuple[Option, ...]:
    """Every night setting with the latest timer that is warm in time, on the median weather."""
    down_min = 22 * 60
    tried = [Setback(night, lead, down_min, warm_min, warm_c) for night in NIGHT_C for lead in LEADS_MIN]
    many = run_setbacks(typical, tried, minute)
    edge_minute = np.append(minute[::4], (minute[-4] + 60) % (24 * 60))
    warm = at_time_c(many.trace[:, :, 2], edge_minute, warm_min)
    gas_kg = typical.gas_kg(many)
    fan_ah = typical.flow(many, "load_ah")
    found = []
    for n, night_c in enumerate(NIGHT_C):
        rows = slice(n * len(LEADS_MIN), (n + 1) * len(LEADS_MIN))
        in_time = np.flatnonzero(warm[rows].min(axis=1) >= warm_c - WARM_BAND_K)
        k = rows.start + (int(in_time[0]) if in_time.size else len(LEADS_MIN) - 1)
        setting = tried[k]
        found.append(
            Option(
                words=setting.words(),
                night_c=None if np.isnan(night_c) else night_c,
                timer=clock(setting.on_min) if in_time.size else None,
                lead_min=setting.lead_min if in_time.size else None,
                gas_kg=round(float(gas_kg[k]), 3),
                fan_ah=round(float(fan_ah[k]), 2),
                lowest_inside_c=round(float(many.trace[k, 1:, 2].min()), 1),
                at_warm_time_c=round(float(warm[k].min()), 1),
                lowest_pipes_c=round(float(many.trace[k, 1:, 3].min()), 1),
            )
        )
    return tuple(sorted(found, key=lambda option: -1.0 if option.night_c is None else option.night_c, reverse=True))


def _night_words(option: Option) -> str:
    return "with the heater off" if option.night_c is None else f"at {option.night_c:g} °C"
