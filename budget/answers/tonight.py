"""Tonight: can we stay another night with this gas and this charge, and when should the timer start?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from budget.answers.evening import weather_of_night, window, with_gas_and_charge
from budget.answers.night import LEADS_MIN, clock, minute_of_quarters
from budget.answers.night_settings import Option, ends_h, options
from budget.answers.odds import CHARGE, GAS, OFFTAKE
from budget.answers.prepared import Prepared, factor_rows
from budget.answers.quantiles import Quantiles, chance_half_width
from budget.engine import arrays as A
from budget.engine.batch import Many
from budget.engine.layout import FIXED_LOADS
from budget.errors import InputFault
from budget.rounding import least, need
from budget.van.charge import cut_out_at_share
from budget.weather.air import Floats

SCENARIOS = 200
OFFTAKE_KG = 0.02  # heating that cold bottles could not feed, from which it counts
YES_SHARE = 0.1  # another night is advised when it fails in at most one case of ten
HEAT_OR_DRAIN_C = 5.0  # at the water pipes, as the cautions say; common practice, no source
AT_ONCE_H = 1.0


@dataclass(frozen=True)
class Stop:
    """The heater stops for want of gas or charge: by when in half of the cases that end so, and in a tenth of all.

    ``lowest_inside_c`` is how cold it gets until the morning in the middle one of them. Times are by the hour.
    """

    half_after_h: float
    half_by: dt.datetime
    one_in_ten_by: dt.datetime | None
    lowest_inside_c: float


@dataclass(frozen=True)
class Tonight:
    """The night from ``start`` to the morning at ``place``.

    ``need`` [kg] and ``need_charge`` [Ah] are what it takes with gas and charge to the morning; ``usable_ah`` is what
    the battery holds above its cut-out now. ``more_nights_p90``: such nights that the gas alone is enough for, each at
    the P90 of the need.
    """

    place: str
    start: dt.datetime
    morning: dt.datetime
    gas_left_kg: float
    charge_share: float
    scenarios: int
    need: Quantiles
    need_charge: Quantiles
    usable_ah: float
    stop: Stop | None
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
            "need_charge": self.need_charge.as_dict("ah", 1),
            "usable_ah": round(self.usable_ah, 1),
            "stops": None
            if self.stop is None
            else {
                "half_by": self.stop.half_by.isoformat(),
                "one_in_ten_by": None if self.stop.one_in_ten_by is None else self.stop.one_in_ten_by.isoformat(),
                "lowest_inside_c": round(self.stop.lowest_inside_c, 1),
            },
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
        """In plain words, the resource that binds first."""
        return [*self._verdict(), *self._needs(), *self._settings()]

    def _verdict(self) -> Iterator[str]:
        yes, morning = "Yes" if self.can_stay else "Better not", f"{self.morning:%H:%M}"
        had = f"{self.gas_left_kg:g} kg of gas and {self.charge_share:.0%} of charge"
        sure = f"(± {self.fails_half_width_share:.0%})"
        if self.binds is None:
            yield (
                f"{yes}: from {self.start:%a %d %b %H:%M} with {had} nothing runs out before {morning} in any of "
                f"{self.scenarios} cases {sure}."
            )
            return
        failing = sorted(self.failing_by_share.items(), key=lambda item: -item[1])
        also = "".join(f", {name} in {need(100.0 * share)}%" for name, share in failing[1:] if share > 0.0)
        yield (
            f"{yes}. What binds is {self.binds}: from {self.start:%a %d %b %H:%M} with {had} the heater goes short "
            f"before {morning} in {need(100.0 * self.fails_share)}% of {self.scenarios} cases {sure}{also}."
        )
        stop = self.stop
        if stop is None:
            return
        if stop.half_after_h <= AT_ONCE_H:
            when = "within the first hour in most of those"
        else:
            when = f"by {stop.half_by:%H:%M} in half of those"
            if stop.one_in_ten_by is not None and stop.one_in_ten_by < stop.half_by:
                when += f" and by {stop.one_in_ten_by:%H:%M} in one case of ten"
        cold = f"{round(stop.lowest_inside_c)} °C"
        yield f"The heater stops {when}; until {morning} it then gets as cold as about {cold} inside."

    def _needs(self) -> Iterator[str]:
        kg = self.need
        yield (
            f"With gas and charge to {self.morning:%H:%M} the night takes {kg.p50:.2f} kg of gas, {kg.p90:.2f} kg "
            f"in one case of ten; {self.gas_left_kg:g} kg of gas are enough for {self.more_nights_p90:.1f} nights of "
            f"{kg.p90:.2f} kg."
        )
        if self.binds == CHARGE:
            yield (
                f"It takes {self.need_charge.p50:.0f} Ah of charge, {self.need_charge.p90:.0f} Ah or more in one case "
                f"of ten; the battery now holds {self.usable_ah:.0f} Ah above its cut-out, less when cold."
            )

    def _settings(self) -> Iterator[str]:
        timed = [option for option in self.options if option.timer is not None]
        lasting = [option for option in timed if option.stops_after_h is None]
        if not timed:
            yield f"No timer of up to {LEADS_MIN[-1] / 60:.0f} h makes it {self.warm_c:g} °C by {self.warm_at}."
        for option in (lasting or timed)[:1]:
            begin = "For" if lasting else "Were there gas and charge: for"
            yield (
                f"{begin} {self.warm_c:g} °C at {self.warm_at} after a "
                f"night {option.night_words}, start the timer at {option.timer}."
            )
        if len(lasting) > 1:
            thrifty = min(lasting, key=lambda option: option.gas_kg)
            yield (
                f"The least gas is a night {thrifty.night_words}: {thrifty.gas_kg:.2f} kg, timer at {thrifty.timer}, "
                f"down to {least(thrifty.lowest_inside_c)} °C inside."
            )
            if thrifty.lowest_pipes_c < HEAT_OR_DRAIN_C:
                yield (
                    f"The pipes are then at {least(thrifty.lowest_pipes_c)} °C: "
                    f"below {HEAT_OR_DRAIN_C:g} °C heat or drain."
                )
        stopping = [(option.stops_after_h, option) for option in self.options if option.stops_after_h is not None]
        if len(stopping) < len(self.options):
            return
        longest_h, longest = max(stopping, key=lambda item: item[0])
        if len({hours for hours, _ in stopping}) == 1:
            when = "within the first hour" if longest_h <= AT_ONCE_H else f"by {longest.stops_at}"
            yield (
                f"In the middle case {longest.stops_for} ends {when} whatever is set for the night; what is said of "
                "settings is for a night with gas and charge."
            )
        else:
            yield (
                f"In the middle case none of these settings lasts to {self.morning:%H:%M} on what is left; the "
                f"longest, a night {longest.night_words}, stops by {longest.stops_at} for want of {longest.stops_for}."
            )


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
    ends = ends_h(many)
    failing = _failing(here, many, ends)
    fails = float(sum(failing.values()))
    fed = van.fed().between(first, last, start_c=inside_c)
    fed_many = fed.run_many(factor_rows(samples, scenarios), rows=rows, weather_of=np.arange(scenarios))
    need = Quantiles.of(fed.gas_kg(fed_many))
    minute = minute_of_quarters(prepared, first, last)
    typical = np.median(rows, axis=0)
    battery = prepared.van.power.battery
    loads = len(FIXED_LOADS) + len(prepared.van.power.loads)
    edges = prepared.timeline.edges
    return Tonight(
        place=prepared.tour.stops[int(prepared.timeline.stop[first])].place,
        start=edges[first].to_pydatetime(),
        morning=edges[last].to_pydatetime(),
        gas_left_kg=gas_left_kg,
        charge_share=charge_percent / 100.0,
        scenarios=scenarios,
        need=need,
        need_charge=Quantiles.of(fed.flow(fed_many, "load_ah", loads)),
        usable_ah=battery.capacity_ah * max(0.0, charge_percent / 100.0 - cut_out_at_share(battery, inside_c)),
        stop=_stop(ends, many.trace[:, 1:, 2], edges[first].to_pydatetime()),
        fails_share=fails,
        fails_half_width_share=chance_half_width(fails, scenarios),
        failing_by_share=failing,
        more_nights_p90=gas_left_kg / max(need.p90, 1e-6),
        charge_in_the_morning=Quantiles.of(many.trace[:, -1, 1]),
        outdoor_low=Quantiles.of(rows[:, :, A.TEMP_C].min(axis=1)),
        warm_c=warm_c,
        warm_at=clock(warm_min),
        options=options(replace(fed, rows=typical), replace(here, rows=typical), minute, warm_c, warm_min),
        notices=notices,
    )


def _failing(here: Prepared, many: Many, ends: tuple[Floats, Floats]) -> dict[str, float]:
    """Share of the cases in which each resource fails before the morning; the first that explains a case counts."""
    unserved = here.flow(many, "unserved_heating_kg") > OFFTAKE_KG
    gas_h, charge_h = ends
    neither = np.isinf(gas_h) & np.isinf(charge_h)
    return {
        GAS: float((np.isfinite(gas_h) & (gas_h <= charge_h)).mean()),
        CHARGE: float((charge_h < gas_h).mean()),
        OFFTAKE: float((neither & unserved).mean()),
    }


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
        half_by=start + dt.timedelta(hours=half_h),
        one_in_ten_by=None if np.isinf(tenth_h) else start + dt.timedelta(hours=tenth_h),
        lowest_inside_c=float(np.median(inside_c[ended].min(axis=1))),
    )
