"""Models to records, once: the hours of the tour, its draws of water, and the weather on them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from budget.compiled import jit
from budget.engine import arrays as A
from budget.engine.clock import QUARTER_S
from budget.engine.stepping import Floats
from budget.engine.van_arrays import BuiltVan
from budget.physics.properties import WATER_TO_AIR_RATIO, saturation_ratio
from budget.weather.air import saturation_pressure_pa

if TYPE_CHECKING:
    from budget.tour.timeline import Timeline

REFILL_C = 6.0  # mains and well water in winter, common practice, no source
AIR_DENSITY_KG_PER_M3 = 1.25
FACES = {
    "roof": A.ROOF, "front": A.FRONT, "rear": A.REAR, "left": A.LEFT, "right": A.RIGHT, "sides": A.SIDES,
    "panel_w": A.PANEL_W,
}  # fmt: skip


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


def weather_array(values: Mapping[str, Floats], timeline: Timeline, faces: Mapping[str, Floats]) -> Floats:
    """Weather as the columns that the march reads, shape (..., hours, columns).

    ``values`` has the columns of ``HourlyWeather``, ``faces`` what ``planes`` returns, both with any leading scenario
    axes.
    """
    temp_c, pressure = values["temp_air"], values["pressure"]
    rows = np.zeros((*temp_c.shape, A.WEATHER_COLUMNS))
    rows[..., A.TEMP_C] = temp_c
    rows[..., A.WIND_M_PER_S] = np.maximum(values["wind_speed"] * timeline.wind_factor, timeline.speed_m_per_s)
    # Relative humidity of a record is over liquid water. Below freezing that may exceed saturation over ice, where
    # frost settles; the march knows only ice there.
    vapour_pa = values["relative_humidity"] / 100.0 * saturation_pressure_pa(temp_c)
    ratio = WATER_TO_AIR_RATIO * vapour_pa / (pressure - vapour_pa)
    rows[..., A.HUMIDITY_RATIO] = no_more_than_saturated(ratio, temp_c, pressure)
    rows[..., A.PRESSURE_PA] = pressure
    rows[..., A.SKY_DELTA_K] = np.maximum(temp_c - values["temp_sky"], 0.0)
    for name, column in FACES.items():
        rows[..., column] = faces[name]
    return rows


def no_more_than_saturated(ratio: Floats, temp_c: Floats, pressure_pa: Floats) -> Floats:
    """Humidity ratios cut at saturation, over ice below freezing, where frost settles. [kg/kg]"""
    cut = np.empty(ratio.size)
    pressure = np.ascontiguousarray(np.broadcast_to(pressure_pa, ratio.shape))
    flat, temp = np.ascontiguousarray(ratio).ravel(), np.ascontiguousarray(temp_c).ravel()
    _cut_at_saturation(flat, temp, pressure.ravel(), cut)
    return cut.reshape(ratio.shape)


@jit
def _cut_at_saturation(ratio, temp_c, pressure_pa, cut):
    for i in range(ratio.size):
        cut[i] = min(ratio[i], saturation_ratio(temp_c[i], pressure_pa[i]))
