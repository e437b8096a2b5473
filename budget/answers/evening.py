"""The evening that an answer starts from: gas and charge as they are, tonight's weather, and coming back to warmth."""

from __future__ import annotations

import datetime as dt

import numpy as np

from budget.answers.ensemble import CHUNK, InTurn
from budget.answers.night import LEADS_MIN, OFF, WARM_BAND_K, Setback, at_time_c, hours_of, minute_of_quarters
from budget.answers.prepared import Prepared, factor_rows, no_more_than_saturated, weather_rows
from budget.engine import arrays as A
from budget.errors import InputFault
from budget.weather.air import Floats
from budget.weather.winters import Winters

EVENING_H = 17  # the hour that is looked at when no time is given
MORNING_H = 8  # by when running out is counted
USUAL_WARM_C = 20.0  # a wish that neither the schedule nor the asker states, common practice, no source
FORECAST_SD_K = 2.0  # tonight's low against its forecast, common practice, no source
FORECAST_WIND_SPREAD = 0.3  # of the logarithm, likewise


def planned_c(prepared: Prepared, hour: int, minute: int) -> float:
    """The schedule's setpoint at a minute of an hour; where the heater is off then, the usual wish. [°C]"""
    set_c = float(prepared.hours["set_c"][hour, minute // 15])
    return set_c if np.isfinite(set_c) else USUAL_WARM_C


def with_gas_and_charge(prepared: Prepared, gas_left_kg: float, charge_percent: float) -> Prepared:
    """The van with what is left: full bottles first, the one in use holds the rest."""
    bottles = prepared.van.gas.bottles
    most = sum(bottle.net_kg for bottle in bottles)
    if not 0.0 <= gas_left_kg <= most + 1e-9:
        raise InputFault(
            f"--gas-left must be from 0 to {most:g} kg, what the van's bottles hold, got {gas_left_kg:g}; "
            "weigh without the bottle's tare."
        )
    if not 0.0 <= charge_percent <= 100.0:
        raise InputFault(f"--charge must be from 0 to 100 %, got {charge_percent:g}; read it off the battery monitor.")
    left, held = gas_left_kg, [0.0] * len(bottles)
    for k in reversed(range(len(bottles))):
        held[k] = min(left, bottles[k].net_kg)
        left -= held[k]
    filled = tuple(
        bottle.model_copy(update={"start_kg": kg}) for bottle, kg in zip(bottles, _rest_first(held), strict=True)
    )
    gas = prepared.van.gas.model_copy(update={"bottles": filled})
    battery = prepared.van.power.battery.model_copy(update={"start_share": charge_percent / 100.0})
    power = prepared.van.power.model_copy(update={"battery": battery})
    return prepared.with_van(prepared.van.model_copy(update={"gas": gas, "power": power}))


def _rest_first(held: list[float]) -> list[float]:
    """An empty bottle is of no use in first place: what holds gas comes first, the part-used one before full ones."""
    return [kg for kg in held if kg > 0.0] + [0.0] * held.count(0.0)


def window(prepared: Prepared, at: dt.datetime | None) -> tuple[int, int]:
    """First hour of the evening and the hour edge of the next 08:00."""
    index = prepared.timeline.index
    hours = index.hour.to_numpy()
    if at is None:
        off_grid = (prepared.timeline.hookup_w <= 0.0) & (prepared.timeline.moving == 0) & (hours == EVENING_H)
        evenings = np.flatnonzero(off_grid if off_grid.any() else hours == EVENING_H)
        if not evenings.size:
            raise InputFault(f"the tour must have an evening at {EVENING_H}:00, got none; give --at.")
        first = int(evenings[0])
    else:
        stamp = index.tz_localize(None)
        found = np.flatnonzero(stamp <= at.replace(tzinfo=None))
        if not found.size or at.replace(tzinfo=None) >= prepared.timeline.edges.tz_localize(None)[-1]:
            raise InputFault(
                f"--at must lie within the tour, {index[0]:%Y-%m-%d %H:%M} to "
                f"{prepared.timeline.edges[-1]:%Y-%m-%d %H:%M}, got {at:%Y-%m-%d %H:%M}."
            )
        first = int(found[-1])
    mornings = np.flatnonzero(prepared.timeline.edges.hour.to_numpy() == MORNING_H)
    after = mornings[mornings > first]
    if not after.size:
        raise InputFault("--at must leave a night before the tour's end; choose an earlier evening.")
    return first, int(after[0])


def weather_of_night(
    prepared: Prepared, first: int, last: int, forecast_low_c: float | None, scenarios: int, seed: int
) -> tuple[Floats, tuple[str, ...]]:
    """Weather rows of the night, one a scenario."""
    if forecast_low_c is None:
        winters = Winters.of(
            prepared.tour, prepared.timeline, prepared.weather, folder=prepared.folder,
            file_for_all=prepared.weather_file,
        )  # fmt: skip
        parts = []
        for start in range(0, scenarios, CHUNK):
            values = winters.values(start, min(CHUNK, scenarios - start), seed)
            parts.append(weather_rows(values, prepared.timeline, prepared.van, winters.sun)[:, first:last])
        return np.concatenate(parts), winters.notices
    rng = np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(2,)))
    base = prepared.rows[first:last]
    shift = forecast_low_c - base[:, A.TEMP_C].min() + FORECAST_SD_K * rng.standard_normal(scenarios)
    rows = np.repeat(base[np.newaxis], scenarios, axis=0)
    rows[:, :, A.TEMP_C] += shift[:, np.newaxis]
    rows[:, :, A.HUMIDITY_RATIO] = no_more_than_saturated(
        rows[:, :, A.HUMIDITY_RATIO], rows[:, :, A.TEMP_C], rows[:, :, A.PRESSURE_PA]
    )
    rows[:, :, A.WIND_M_PER_S] *= np.exp(FORECAST_WIND_SPREAD * rng.standard_normal(scenarios))[:, np.newaxis]
    return rows, (
        f"tonight: a low of {forecast_low_c:g} °C as forecast, ± {FORECAST_SD_K:g} K (one standard deviation).",
    )


def warm_by(
    prepared: Prepared, *, at: dt.datetime, away_c: float | None = None, warm_c: float | None = None, start: dt.datetime
) -> tuple[dt.datetime | None, float, float]:
    """The return from an evening out: latest switch-on to be warm at a given time, the lowest inside before, the wish.

    ``start`` is when the van is left, ``away_c`` its setpoint meanwhile (None: off), ``warm_c`` the wish on return
    (None: the schedule's setpoint then). None when no lead of up to 4 h does it. [°C]
    """
    first, _ = window(prepared, start)
    stamps = prepared.timeline.edges.tz_localize(None)
    last = int(np.searchsorted(stamps, np.datetime64(at.replace(tzinfo=None)))) + 1
    if not first < last <= prepared.hours_count:
        raise InputFault(f"the return must lie after leaving and within the tour, got {at:%Y-%m-%d %H:%M}.")
    if warm_c is None:
        warm_c = planned_c(prepared, last - 1, at.minute)
    here = prepared.with_gas_everywhere().between(first, last)
    minute = minute_of_quarters(prepared, first, last)
    warm_min, down = at.hour * 60 + at.minute, start.hour * 60 + start.minute
    night_c = OFF if away_c is None else away_c
    tried = [Setback(night_c, lead, down, warm_min, warm_c) for lead in LEADS_MIN]
    many = here.run_many(
        factor_rows({}, len(tried)), hours=hours_of(here, tried, minute), schedule_of=np.arange(len(tried)),
        executor=InTurn(),
    )  # fmt: skip
    edge_minute = np.append(minute[::4], (minute[-4] + 60) % (24 * 60))
    warm = at_time_c(many.trace[:, :, 2], edge_minute, warm_min)[:, -1]
    in_time = np.flatnonzero(warm >= warm_c - WARM_BAND_K)
    if not in_time.size:
        return None, float(many.trace[-1, 1:, 2].min()), warm_c
    k = int(in_time[0])
    return at - dt.timedelta(minutes=LEADS_MIN[k]), float(many.trace[k, 1:, 2].min()), warm_c
