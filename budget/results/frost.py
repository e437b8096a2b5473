"""How near frost came to each part, and the margin left above the temperature that it must keep."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from budget.engine import arrays
from budget.engine.stepping import Floats
from budget.moments import hour_of_edge
from budget.physics.bottle import temperature_at_pressure_c

if TYPE_CHECKING:
    from budget.results.result import Result

SOME_L = 0.5  # less water than this in a tank is not watched
LEAST_L = 0.01
ALL_ICE_SHARE = 0.999  # of the water: the rest is rounding
WATERS = ("fresh", "waste", "boiler")


def frost_of(result: Result) -> dict[str, Any]:
    """By part: its lowest temperature, the limit it must keep and the margin left; ice where there was any.

    A tank or boiler is watched only while there is water in it. The drain valve feels the air at floor level of its
    zone. A lithium battery must stay above 0 °C to take charge; a lead battery has no limit here and is left out. The
    garage is judged by its air against 0 °C, the bottle locker against what the gas of its first bottle bears.
    """
    stocks = result.stocks
    found: dict[str, Any] = {}
    fitted = result.van.water.boiler.is_fitted
    for part in WATERS if fitted else ("fresh", "waste"):
        temperature = stocks[f"{part}_c"].to_numpy()
        watched = stocks[f"{part}_l"].to_numpy() >= SOME_L
        if watched.any():
            found[part] = _entry(result, temperature, 0.0, watched)
            _add_ice(result, found[part], stocks[f"{part}_ice_kg"].to_numpy(), stocks[f"{part}_l"].to_numpy())
    found["pipes"] = _entry(result, stocks["pipes_c"].to_numpy(), result.van.pipes_frost_c)
    held_l = np.full(len(stocks), result.van.water.pipes.content_l)
    _add_ice(result, found["pipes"], stocks["pipes_ice_kg"].to_numpy(), held_l)
    valve = result.van.water.drain_valve
    if valve is not None and fitted:
        found["drain_valve"] = _entry(result, valve_c(result), valve.opens_c)
    if result.van.power.battery.chemistry == "lifepo4":
        found["battery"] = _entry(result, stocks["battery_c"].to_numpy(), 0.0)
    if "garage" in result.built.zone_names:
        found["garage"] = _entry(result, result.air_c("garage").to_numpy(), 0.0)
    found["bottle_locker"] = _entry(result, locker_c(result), round(gas_limit_c(result), 1))
    return found


def locker_c(result: Result) -> Floats:
    """Air of the bottle locker at each edge: a share of the way from outdoors to the zone beside it. [°C]"""
    gas = result.van.gas
    outdoor = result.weather_rows[:, arrays.TEMP_C]
    air_c: Floats = np.concatenate([outdoor[:1], outdoor])
    if gas.locker_zone != "outdoors":
        beside_c = result.air_c(gas.locker_zone).to_numpy()
        air_c = air_c + gas.locker_warmer_share * (beside_c - air_c)
    return air_c


def gas_limit_c(result: Result) -> float:
    """Below this the gas of the first bottle, as filled, cannot feed its regulator at the tour's mean pressure. [°C]"""
    share = result.van.gas.bottles[0].propane_share
    need_pa = float(result.weather_rows[:, arrays.PRESSURE_PA].mean()) + 1e5 * result.van.gas.regulator_need_bar
    return float(temperature_at_pressure_c(need_pa, share, 1.0 - share))


def valve_c(result: Result) -> Floats:
    """Air at floor level where the frost drain valve stands, at each edge. [°C]"""
    valve = result.van.water.drain_valve
    assert valve is not None
    zone = result.van.cabin.zones[result.van.cabin.zone_index(valve.zone)]
    outdoor = result.weather_rows[:, arrays.TEMP_C]
    outdoor_c = np.concatenate([outdoor[:1], outdoor])
    air_c = result.air_c(valve.zone).to_numpy()
    floor_c: Floats = air_c - zone.floor_colder_share * (air_c - outdoor_c)
    return floor_c


def _entry(result: Result, temperature: Floats, limit_c: float, watched: Floats | None = None) -> dict[str, Any]:
    seen = temperature if watched is None else np.where(watched, temperature, np.inf)
    lowest = int(np.argmin(seen))
    return {
        "lowest_c": round(float(seen[lowest]), 2) + 0.0,
        "lowest_at": result.timeline.edges[hour_of_edge(lowest)].isoformat(),
        "limit_c": limit_c,
        "margin_k": round(float(seen[lowest]) - limit_c, 2) + 0.0,
        "hours_below_limit": int(np.count_nonzero(seen[1:] < limit_c)),
    }


def _add_ice(result: Result, entry: dict[str, Any], ice_kg: Floats, held_l: Floats) -> None:
    """Ice and since when; water that is all ice has passed its plateau at 0 °C and is frozen through."""
    if ice_kg.max() <= 0.0:
        return
    edges = result.timeline.edges
    entry["most_ice_kg"] = round(float(ice_kg.max()), 3)
    entry["hours_with_ice"] = int(np.count_nonzero(ice_kg[1:] > 0.0))
    entry["ice_from"] = edges[hour_of_edge(int(np.argmax(ice_kg > 0.0)))].isoformat()
    through = (ice_kg >= ALL_ICE_SHARE * held_l) & (held_l >= LEAST_L) & (ice_kg > 0.0)
    if through.any():
        entry["frozen_from"] = edges[hour_of_edge(int(np.argmax(through)))].isoformat()


def ice_words(entry: dict[str, Any], when: Callable[[dt.datetime], str]) -> str | None:
    """Since when a part of :func:`frost_of` has ice, and since when it is frozen through, where that is said later."""
    told = frozen(entry)
    if told is None:
        return None
    ice, since = (when(dt.datetime.fromisoformat(time)) for time in (entry["ice_from"], told[1]))
    if ice == since:
        return f"{told[0]} from {since}"
    return f"ice from {ice} and frozen through from {since}"


def frozen(entry: dict[str, Any]) -> tuple[str, str] | None:
    """Since when a part of :func:`frost_of` is "frozen" or, while water was left, "part frozen": the word, the time."""
    if "frozen_from" in entry:
        return "frozen", entry["frozen_from"]
    return ("part frozen", entry["ice_from"]) if "ice_from" in entry else None
