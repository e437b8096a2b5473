"""Tonight: can we stay another night with this gas and this charge, and when should the timer start?"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

import numpy as np

from budget.answers.evening import climate_lows_c, weather_of_night, window
from budget.answers.night import clock, minute_of_quarters
from budget.answers.night_cases import HAND
from budget.answers.night_ready import Evening, Hand
from budget.answers.night_settings import Option, options
from budget.answers.night_wish import hours_asleep, minutes_asked, until, wish_of
from budget.answers.odds import OFFTAKE
from budget.answers.prepared import Prepared
from budget.answers.quantiles import Quantiles, chance_half_width
from budget.answers.tonight_verdict import LEAST_KG, YES_SHARE, Verdict, verdict_of
from budget.engine import arrays as A
from budget.engine.layout import FIXED_LOADS
from budget.moments import later
from budget.tour.week import Mask
from budget.van.charge import cut_out_at_share
from budget.weather.air import Floats

SCENARIOS = 200


@dataclass(frozen=True)
class Stop:
    """The heater stops for want of gas or charge: in which hour it has in half of the cases that end so, and in a tenth
    of all.

    ``lowest_inside_c`` is how cold it gets until the morning in the middle one of them. A time is the start of its
    hour.
    """

    half_after_h: float
    half_at: dt.datetime
    one_in_ten_at: dt.datetime | None
    lowest_inside_c: float


@dataclass(frozen=True)
class Tonight:
    """The night from ``start`` to the morning at ``place``.

    ``need`` [kg] and ``need_charge`` [Ah] are what it takes with gas and charge to the morning, ``sure_kg`` and
    ``sure_ah`` what is enough in all but one case of twenty; ``usable_ah`` is what the battery holds above its cut-out
    now, ``full_ah`` what it holds so when full. ``asked`` says where the night's settings came from.
    ``more_nights_p90``: such nights that the gas alone is enough for, each at the P90 of the need; None where none is
    burned, or where gas does not flow in more than one case of twenty.

    All shares are of the night's own setting with its timer: ``fails_share`` goes short, ``cold_share`` is not warm
    enough although nothing runs short, in ``pipes_freeze_share`` the pipes come to 0 °C, in ``drained_share`` the frost
    drain valve lets the boiler go, and in ``amiss_share`` any of it happens. ``cold_lowest_inside_c`` and
    ``frozen_lowest_pipes_c`` are how cold room and pipes get in the middle one of those cases, None where there is
    none. ``climate_low`` is what the tour's climate has for that night; ``forecast_low_c`` what was asked for instead.
    [°C]
    """

    place: str
    start: dt.datetime
    morning: dt.datetime
    gas_left_kg: float
    charge_share: float
    scenarios: int
    need: Quantiles
    need_charge: Quantiles
    sure_kg: float
    sure_ah: float
    usable_ah: float
    full_ah: float
    has_boiler: bool
    stop: Stop | None
    fails_share: float
    fails_half_width_share: float
    failing_by_share: dict[str, float]
    cold_share: float
    cold_lowest_inside_c: float | None
    pipes_freeze_share: float
    frozen_lowest_pipes_c: float | None
    drained_share: float
    amiss_share: float
    hand: Hand | None
    more_nights_p90: float | None
    charge_in_the_morning: Quantiles
    outdoor_low: Quantiles
    climate_low: Quantiles
    forecast_low_c: float | None
    inside_c: float
    warm_c: float
    warm_at: str
    asked: str
    options: tuple[Option, ...]
    notices: tuple[str, ...]

    @property
    def verdict(self) -> Verdict:
        """Whether to stay, by the share of cases in which anything goes amiss."""
        return verdict_of(self.amiss_share)

    @property
    def can_stay(self) -> bool:
        """The verdict is yes."""
        return self.verdict == "yes"

    @property
    def planned(self) -> Option:
        """The night's own setting, of which all shares are."""
        return next(option for option in self.options if option.planned)

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
            "verdict": self.verdict,
            "can_stay": self.can_stay,
            "amiss_share": round(self.amiss_share, 4),
            "chance_of_running_out_share": round(self.fails_share, 4),
            "chance_half_width_share": round(self.fails_half_width_share, 4),
            "failing_by_share": {name: round(share, 4) for name, share in self.failing_by_share.items()},
            "binds": self.binds,
            "not_warm_enough_share": round(self.cold_share, 4),
            "not_warm_enough_lowest_inside_c": _rounded(self.cold_lowest_inside_c),
            "pipes_freeze_share": round(self.pipes_freeze_share, 4),
            "pipes_freeze_lowest_c": _rounded(self.frozen_lowest_pipes_c),
            "boiler_drained_share": round(self.drained_share, 4),
            "changeover_by_hand": None if self.hand is None else {n: round(v, 4) for n, v in vars(self.hand).items()},
            "need": self.need.as_dict("kg"),
            "need_charge": self.need_charge.as_dict("ah", 1),
            "sure_kg": round(self.sure_kg, 3),
            "sure_ah": round(self.sure_ah, 1),
            "usable_ah": round(self.usable_ah, 1),
            "full_ah": round(self.full_ah, 1),
            "stops": None
            if self.stop is None
            else {
                "half_at": self.stop.half_at.isoformat(),
                "one_in_ten_at": None if self.stop.one_in_ten_at is None else self.stop.one_in_ten_at.isoformat(),
                "lowest_inside_c": round(self.stop.lowest_inside_c, 1),
            },
            "more_nights_p90": _rounded(self.more_nights_p90),
            "charge_in_the_morning": self.charge_in_the_morning.as_dict("share", 4),
            "outdoor_low": self.outdoor_low.as_dict("c", 1),
            "climate_low": self.climate_low.as_dict("c", 1),
            "forecast_low_c": self.forecast_low_c,
            "inside_c": self.inside_c,
            "warm": {"setpoint_c": self.warm_c, "at": self.warm_at},
            "asked": self.asked,
            "options": [
                {name: value for name, value in vars(option).items() if value is not None} for option in self.options
            ],
            "notices": list(self.notices),
        }

    def sentences(self) -> list[str]:
        """In plain words, the resource that binds first."""
        from budget.answers.tonight_words import tonight_sentences

        return tonight_sentences(self)


def answer(
    prepared: Prepared,
    *,
    gas_left_kg: float,
    charge_percent: float,
    at: dt.datetime | None = None,
    warm_c: float | None = None,
    warm_at: str | None = None,
    inside_c: float | None = None,
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
    warm_c, warm_at : Wish for the morning [°C], "HH:MM"; None: as the tour's schedule has it that morning.
    inside_c : Temperature inside now [°C]; None: the schedule's setpoint.
    forecast_low_c : Tonight's forecast low, taken as ± 2 K; None: any winter's weather on that date. [°C]
    """
    first, last = window(prepared, at)
    wish = wish_of(prepared, first, last, warm_c, minutes_asked(warm_at), inside_c)
    last = until(prepared, last, wish.warm_min)
    rows, notices = weather_of_night(prepared, first, last, forecast_low_c, scenarios, seed)
    night = Evening(prepared, first, last, gas_left_kg, charge_percent, wish.inside_c)
    cases = night.cases(rows, hours_asleep(prepared, first, last), seed)
    tried = options(cases, np.median(rows, axis=0), minute_of_quarters(prepared, first, last), wish)
    planned = next(one for one in tried if one.option.planned)
    outcome, many = planned.outcome, planned.outcome.many
    need_kg = cases.fed.gas_kg(planned.fed)
    need_ah = cases.fed.flow(planned.fed, "load_ah", len(FIXED_LOADS) + len(prepared.van.power.loads))
    need, fails = Quantiles.of(need_kg), float(outcome.any_short.mean())
    battery, edges = prepared.van.power.battery, prepared.timeline.edges
    cut_out = cut_out_at_share(battery, wish.inside_c)
    outdoor_low = Quantiles.of(rows[:, :, A.TEMP_C].min(axis=1))
    return Tonight(
        place=prepared.tour.stops[int(prepared.timeline.stop[first])].place,
        start=edges[first].to_pydatetime(),
        morning=edges[last].to_pydatetime(),
        gas_left_kg=gas_left_kg,
        charge_share=charge_percent / 100.0,
        scenarios=scenarios,
        need=need,
        need_charge=Quantiles.of(need_ah),
        sure_kg=float(np.quantile(need_kg, 1.0 - YES_SHARE)),
        sure_ah=float(np.quantile(need_ah, 1.0 - YES_SHARE)),
        usable_ah=battery.capacity_ah * max(0.0, charge_percent / 100.0 - cut_out),
        full_ah=battery.capacity_ah * (1.0 - cut_out),
        has_boiler=prepared.van.water.boiler.is_fitted,
        stop=_stop(outcome.ends_h, many.trace[:, 1:, 2], edges[first].to_pydatetime()),
        fails_share=fails,
        fails_half_width_share=chance_half_width(fails, scenarios),
        failing_by_share={name: float(cause.mean()) for name, cause in outcome.short.items()},
        cold_share=float(outcome.cold.mean()),
        cold_lowest_inside_c=_lowest_c(many.trace[:, 1:, 2], outcome.cold),
        pipes_freeze_share=float(outcome.pipes.mean()),
        frozen_lowest_pipes_c=_lowest_c(many.trace[:, 1:, 3], outcome.pipes),
        drained_share=float(outcome.drained.mean()),
        amiss_share=float(outcome.amiss.mean()),
        hand=night.hand(cases, planned) if outcome.short[HAND].any() else None,
        more_nights_p90=_nights(gas_left_kg, need.p90, float(outcome.short[OFFTAKE].mean())),
        charge_in_the_morning=Quantiles.of(many.trace[:, -1, 1]),
        outdoor_low=outdoor_low,
        climate_low=outdoor_low if forecast_low_c is None else climate_lows_c(prepared, first, last, seed),
        forecast_low_c=forecast_low_c,
        inside_c=wish.inside_c,
        warm_c=wish.warm_c,
        warm_at=clock(wish.warm_min),
        asked=wish.told,
        options=tuple(one.option for one in tried),
        notices=notices,
    )


def _stop(ends: tuple[Floats, Floats], inside_c: Floats, start: dt.datetime) -> Stop | None:
    """When the cases that end for want of gas or charge do so, and how cold it gets in them; None where none does."""
    end_h = np.minimum(*ends)
    ended = np.isfinite(end_h)
    if not ended.any():
        return None
    half_h = float(np.quantile(end_h[ended], 0.5, method="lower"))
    tenth_h = float(np.quantile(end_h, 0.1, method="lower"))
    return Stop(
        half_after_h=half_h,
        half_at=later(start, dt.timedelta(hours=half_h)),
        one_in_ten_at=None if np.isinf(tenth_h) else later(start, dt.timedelta(hours=tenth_h)),
        lowest_inside_c=float(np.median(inside_c[ended].min(axis=1))),
    )


def _lowest_c(trace_c: Floats, which: Mask) -> float | None:
    """How cold it gets in the middle one of the cases chosen, None where none is. [°C]"""
    return float(np.median(trace_c[which].min(axis=1))) if which.any() else None


def _nights(gas_left_kg: float, need_kg: float, offtake_share: float) -> float | None:
    """How many nights the gas is enough for, where any is burned and what is there flows."""
    return None if need_kg < LEAST_KG or offtake_share > YES_SHARE else gas_left_kg / need_kg


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 1)
