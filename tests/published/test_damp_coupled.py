"""The coupled whole against psychrometrics: a tour through simulate(), its thermostat, vents and surfaces at work."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd
import psychrolib
import pytest
from sample_vans import bare_room

from budget.results.damp import humidity_percent
from budget.results.result import Result
from budget.simulation import simulate
from budget.tour.model import Tour
from budget.tour.timeline import Timeline
from budget.weather.record import COLUMNS, HourlyWeather

psychrolib.SetUnitSystem(psychrolib.SI)
PRESSURE_PA = 101_325.0
OUTDOOR_C, OUTDOOR_SHARE, WIND_M_PER_S = -5.0, 0.85, 3.0
# Psychrometric tables count humidity below 0 °C over ice, weather records over liquid water: 421.5 Pa at -5 °C
# (Smithsonian Meteorological Tables, from memory) where ice has 401.7 Pa.
RECORD_PERCENT = 100.0 * OUTDOOR_SHARE * psychrolib.GetSatVapPres(OUTDOOR_C) / 421.5


def stay(inside_c: float, m3_per_h: float, vapour_g_per_h: float, glass_m2: float = 0.0) -> Result:
    """Three days in one room of hardly any loss, somebody always awake in it, at -5 °C and 85 % outdoors.

    The cracks are as wide as it takes: the leakage model gives 3.6 A sqrt(0.000145 ΔT + 0.000319 v²) of outdoor air,
    whose dry mass is that of ``m3_per_h`` at indoor temperature.
    """
    densities = [psychrolib.GetDryAirDensity(t, PRESSURE_PA) for t in (inside_c, OUTDOOR_C)]
    root = math.sqrt(0.000145 * (inside_c - OUTDOOR_C) + 0.000319 * WIND_M_PER_S**2)
    zone = bare_room().cabin.zones[0].model_dump(exclude_none=True) | {
        "leakage_cm2": m3_per_h * densities[0] / densities[1] / 3.6 / root,
        "opaque": [{"name": "shell", "area_m2": 40.0, "faces": "sides", "u_w_per_m2k": 0.3}],
    }
    if glass_m2:
        zone["glazing"] = [{"name": "pane", "area_m2": glass_m2, "faces": "sides", "u_w_per_m2k": 5.8}]
    van = bare_room(cabin={"zones": [zone]})
    tour = Tour.model_validate(one_stay(inside_c, vapour_g_per_h))
    timeline = Timeline.of(tour, [], ["living"])
    values = (OUTDOOR_C, RECORD_PERCENT, WIND_M_PER_S, PRESSURE_PA, 0.0, 0.0, 0.0, OUTDOOR_C)
    frame = pd.DataFrame(np.tile(values, (len(timeline.index), 1)), columns=list(COLUMNS), index=timeline.index)
    weather = HourlyWeather(
        frame=frame, notices=(), source="steady", latitude_deg=58.0, longitude_deg=24.0, altitude_m=0.0
    )
    return simulate(van, tour, weather)


def one_stay(inside_c: float, vapour_g_per_h: float) -> dict[str, Any]:
    return {
        "title": "steady", "timezone": "UTC", "start": "2027-01-12T12:00:00", "end": "2027-01-15T12:00:00",
        "start_inside_c": inside_c, "schedule": "usual",
        "schedules": {"usual": {"steps": [{"at": "00:00", "air_c": inside_c, "water_c": "off"}]}},
        "people": [{"awake_w": 90.0, "vapour_g_per_h": vapour_g_per_h, "asleep": []}],
        "habits": {"door_openings": 0.0, "cold_water_l": 0.0, "screens": []},
        "stops": [
            {
                "place": "here", "latitude_deg": 58.0, "longitude_deg": 24.0, "altitude_m": 0.0,
                "arrive": "2027-01-12T12:00:00", "wind_shelter_share": 0.0,
            }
        ],
    }  # fmt: skip


@pytest.mark.parametrize(("m3_per_h", "printed"), [(10.0, 0.71), (20.0, 0.43), (40.0, 0.29)])
def test_steady_humidity_of_the_whole_is_that_of_psychrometrics(m3_per_h: float, printed: float) -> None:
    """100 g/h into 10, 20 and 40 m³/h at indoor conditions: 71, 43 and 29 % by algebra with psychrolib's humidity
    ratios and densities, dry mass conserved; printed to a whole percent. Half a percent: the thermostat's band of
    0.01 K is 0.06 % of saturation, the fits of saturation 0.1 %."""
    result = stay(20.0, m3_per_h, 100.0)
    outdoor = psychrolib.GetHumRatioFromRelHum(OUTDOOR_C, OUTDOOR_SHARE, PRESSURE_PA)
    mass_kg_per_h = m3_per_h * psychrolib.GetDryAirDensity(20.0, PRESSURE_PA)
    expected = psychrolib.GetRelHumFromHumRatio(20.0, outdoor + 0.1 / mass_kg_per_h, PRESSURE_PA)
    assert expected == pytest.approx(printed, abs=0.005)
    humidity = humidity_percent(result, 0)
    assert humidity[-1] == pytest.approx(100.0 * expected, abs=0.5)
    assert humidity[-1] == pytest.approx(humidity[-13], abs=0.01)  # settled: the air is changed each hour and a half
    assert result.stocks["living_air_c"].iloc[-1] == pytest.approx(20.0, abs=0.01)
    assert result.summary["damp"]["living"]["condensed_kg"] == 0.0


@pytest.mark.parametrize(("humidity", "wet"), [(0.30, False), (0.32, True), (0.50, True)])
def test_single_glass_is_wet_above_31_percent_and_dry_below(humidity: float, wet: bool) -> None:
    """ISO 13788: a pane of U 5.8 has fRsi 0.246; at -5 °C outdoors and 18 °C inside it stands at 0.7 °C, whose
    saturation is 31 % of the room's. The vapour given off would hold the room at the stated humidity without a pane."""
    outdoor = psychrolib.GetHumRatioFromRelHum(OUTDOOR_C, OUTDOOR_SHARE, PRESSURE_PA)
    wanted = psychrolib.GetHumRatioFromRelHum(18.0, humidity, PRESSURE_PA)
    mass_kg_per_h = 20.0 * psychrolib.GetDryAirDensity(18.0, PRESSURE_PA)
    result = stay(18.0, 20.0, 1000.0 * (wanted - outdoor) * mass_kg_per_h, glass_m2=0.3)
    pane = result.summary["damp"]["living"]["by_surface"]["living_pane"]
    assert (pane["condensed_g"] > 0.0) == wet
    assert (pane["wet_hours"] > 0.0) == wet
    settled = humidity_percent(result, 0)[-1]
    if wet:
        assert 31.0 < settled < 100.0 * humidity  # the pane takes what stands over its saturation, bit by bit
    else:
        assert settled == pytest.approx(100.0 * humidity, abs=0.3)
