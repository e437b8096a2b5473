"""The evening that an answer starts from: gas and charge as they are, and tonight's weather."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from budget.answers.ensemble import CHUNK
from budget.answers.prepared import Prepared, weather_rows
from budget.answers.quantiles import Quantiles
from budget.engine import arrays as A
from budget.engine.hour_arrays import no_more_than_saturated
from budget.errors import InputFault
from budget.moments import instant
from budget.weather.air import Floats

if TYPE_CHECKING:
    from budget.van.gas import Bottle

EVENING_H = 17  # the hour that is looked at when no time is given
MORNING_H = 8  # by when running out is counted
USUAL_WARM_C = 20.0  # a wish that neither the schedule nor the asker states, common practice, no source
FORECAST_SD_K = 2.0  # tonight's low against its forecast, common practice, no source
FORECAST_WIND_SPREAD = 0.3  # of the logarithm, likewise


def planned_c(prepared: Prepared, hour: int, quarter: int) -> float:
    """The schedule's setpoint in a quarter of an hour; where the heater is off then, the usual wish. [°C]"""
    set_c = float(prepared.hours["set_c"][hour, quarter])
    return set_c if np.isfinite(set_c) else USUAL_WARM_C


def with_gas_and_charge(
    prepared: Prepared,
    gas_left_kg: float,
    charge_percent: float,
    *,
    fullest_first: bool = False,
    changeover: str | None = None,
) -> Prepared:
    """The van with what is left: the rest is in the part-used bottle, which is in use, the others are full or empty.

    ``fullest_first``: the fullest is in use instead. ``changeover``: another than the van's (None: its own).
    """
    bottles = prepared.van.gas.bottles
    most = sum(bottle.net_kg for bottle in bottles)
    if gas_left_kg < 0.0:
        raise InputFault(
            f"--gas-left must be 0 kg or more, got {gas_left_kg:g}; it is what the bottles still hold, without tare."
        )
    if gas_left_kg > most + 1e-9:
        raise InputFault(
            f"--gas-left must be from 0 to {most:g} kg, what the van's bottles hold, got {gas_left_kg:g}; "
            "weigh without the bottle's tare."
        )
    if not 0.0 <= charge_percent <= 100.0:
        raise InputFault(f"--charge must be from 0 to 100 %, got {charge_percent:g}; read it off the battery monitor.")
    filled = tuple(
        bottle.model_copy(update={"start_kg": kg}) for bottle, kg in _held(bottles, gas_left_kg, fullest_first)
    )
    gas = prepared.van.gas.model_copy(
        update={"bottles": filled, "changeover": changeover or prepared.van.gas.changeover}
    )
    battery = prepared.van.power.battery.model_copy(update={"start_share": charge_percent / 100.0})
    power = prepared.van.power.model_copy(update={"battery": battery})
    ready = prepared.with_van(prepared.van.model_copy(update={"gas": gas, "power": power}))
    hours = ready.hours.copy()
    hours["set_c"] = prepared.hours["set_c"]
    return replace(ready, hours=hours)


def _held(bottles: Sequence[Bottle], left_kg: float, fullest_first: bool) -> list[tuple[Bottle, float]]:
    """Each bottle with what it holds, in the order of use: the last ones are full, the one before them has the rest.

    An empty bottle is of no use in first place: what holds gas comes first.
    """
    held: list[tuple[Bottle, float]] = []
    for bottle in reversed(bottles):
        kg = min(left_kg, bottle.net_kg)
        held.insert(0, (bottle, kg))
        left_kg -= kg
    if fullest_first:
        return sorted(held, key=lambda pair: -pair[1])
    return [pair for pair in held if pair[1] > 0.0] + [pair for pair in held if pair[1] <= 0.0]


def existing(prepared: Prepared, local: dt.datetime, option: str) -> dt.datetime:
    """A local time of the tour with its offset; InputFault, naming the option, where the clocks skip it."""
    time = instant(local, prepared.timeline.edges.tz)
    if time is None:
        raise InputFault(
            f"{option} must be a time that exists, got {local:%Y-%m-%d %H:%M}, which the clocks skip there; "
            "choose another."
        )
    return time


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
        first = prepared.timeline.hour_of(existing(prepared, at, "--at"))
        if not 0 <= first < len(index):
            raise InputFault(
                f"--at must lie within the tour, {index[0]:%Y-%m-%d %H:%M} to "
                f"{prepared.timeline.edges[-1]:%Y-%m-%d %H:%M}, got {at:%Y-%m-%d %H:%M}."
            )
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
        winters = prepared.winters()
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


def climate_lows_c(prepared: Prepared, first: int, last: int, seed: int) -> Quantiles:
    """Lowest temperature outdoors between two hours in the winters that the tour's climate has. [°C]"""
    return Quantiles.of(prepared.winters().values(0, CHUNK, seed)["temp_air"][:, first:last].min(axis=1))
