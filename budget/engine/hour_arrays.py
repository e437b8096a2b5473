"""Models to records, once: the hours of the tour, its draws of water, and the weather on them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from budget.engine import arrays as A
from budget.engine.clock import QUARTER_S
from budget.engine.stepping import Floats
from budget.engine.van_arrays import BuiltVan
from budget.physics.properties import humidity_ratio, saturation_ratio
from budget.weather.air import saturation_pressure_pa

if TYPE_CHECKING:
    from budget.tour.timeline import Timeline
    from budget.weather.record import HourlyWeather

REFILL_C = 6.0  # mains and well water in winter, common practice, no source
AIR_DENSITY_KG_PER_M3 = 1.25


def hour_records(built: BuiltVan, timeline: Timeline) -> Any:
    """The hours of a tour for a van: one record an hour, shape (hours,)."""
    van, names = built.van, list(built.zone_names)
    n = len(timeline.index)
    people = timeline.awake + timeline.asleep
    zone = np.where((timeline.moving == 1) & (built.cab >= 0), built.cab, built.living)
    rows = np.zeros(n, dtype=A.HOUR).view(np.recarray)
    rows["set_c"] = timeline.setpoint_c.reshape(n, 4)
    rows["water_set_c"] = timeline.water_set_c.reshape(n, 4)
    rows["awake_inside"] = (timeline.awake > 0.0) & timeline.inside
    rows["people_latent_kg_per_s"] = timeline.people_vapour_g_per_h / 3.6e6
    rows["people_zone"] = np.where((people > 0.0) | (timeline.people_w > 0.0), zone, -1)
    rows["closed"][:, : timeline.closed.shape[1]] = timeline.closed
    rows["cooking_kg"] = timeline.cooking_gas_kg
    rows["cooking_vented"] = timeline.cooking_vented_share
    rows["cooking_steam_kg"] = timeline.cooking_steam_g / 1000.0
    rows["extract_kg_per_s"] = timeline.extract_m3_per_h * AIR_DENSITY_KG_PER_M3 / 3600.0
    rows["door_air_m3_per_h"] = timeline.door_air_changes * van.cabin.zones[built.living].air_m3
    for same in ("heater_allowed", "moving", "inside", "people_w", "screens", "hookup_w", "fuel", "gas_open",
                 "cooking_electric_w", "cold_water_l", "cold_to_waste_l", "refill", "empty_waste", "solar_factor",
                 "alternator", "rooflight_cm2", "extract_fan_w", "wipe"):  # fmt: skip
        rows[same] = getattr(timeline, same)
    exchange = timeline.exchange_open([bottle.name for bottle in van.gas.bottles])
    rows["exchange_open"][:, : exchange.shape[1]] = exchange
    for k, load in enumerate(van.power.loads):
        rows["load_share"][:, k] = timeline.load_share(load)
    for hour, name, water_kg, surface_m2 in timeline.drying:
        rows["hung_kg"][hour, names.index(name)] += water_kg
        rows["hung_m2"][hour, names.index(name)] += surface_m2
    rows["drive_cab_c"] = timeline.drive_cab_c
    rows["refill_c"] = REFILL_C
    rows["start_c"] = timeline.tour.start_inside_c
    return rows


def draw_records(timeline: Timeline) -> Any:
    """The tour's draws of warm water in order, shape (draws,)."""
    rows = np.zeros(len(timeline.draw_s), dtype=A.DRAW).view(np.recarray)
    rows["quarter"] = np.floor(timeline.draw_s / QUARTER_S)
    rows["litres_l"] = timeline.draw_l
    rows["tap_c"] = timeline.draw_tap_c
    rows["use"] = timeline.draw_use
    return rows


def weather_array(weather: HourlyWeather, timeline: Timeline, planes: dict[str, Floats]) -> Floats:
    """One record as the columns that the march reads, shape (hours, columns)."""
    frame = weather.frame
    temp_c = frame["temp_air"].to_numpy(dtype=float)
    pressure = frame["pressure"].to_numpy(dtype=float)
    humidity = frame["relative_humidity"].to_numpy(dtype=float) / 100.0
    rows = np.zeros((len(temp_c), A.WEATHER_COLUMNS))
    rows[:, A.TEMP_C] = temp_c
    rows[:, A.WIND_M_PER_S] = np.maximum(
        frame["wind_speed"].to_numpy(dtype=float) * timeline.wind_factor, timeline.speed_m_per_s
    )
    vapour_pa = humidity * saturation_pressure_pa(temp_c)  # relative humidity of a record is over liquid water
    # Below freezing that may exceed saturation over ice, where frost settles; the march knows only ice there.
    rows[:, A.HUMIDITY_RATIO] = [
        min(humidity_ratio(v, p), saturation_ratio(t, p)) for v, p, t in zip(vapour_pa, pressure, temp_c, strict=True)
    ]
    rows[:, A.PRESSURE_PA] = pressure
    rows[:, A.SKY_DELTA_K] = np.maximum(temp_c - frame["temp_sky"].to_numpy(dtype=float), 0.0)
    for name, column in (("roof", A.ROOF), ("front", A.FRONT), ("rear", A.REAR), ("left", A.LEFT), ("right", A.RIGHT),
                         ("sides", A.SIDES), ("panel_w", A.PANEL_W)):  # fmt: skip
        rows[:, column] = planes[name]
    return rows
