"""Claims about the sun on the van's faces and panels."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from budget.tour.model import Tour
from budget.tour.timeline import Timeline
from budget.van.power import Power, Solar
from budget.weather.sun import ALBEDO, SIDES, SNOW_ALBEDO, Sun, clear_sky, on_plane, on_the_van, panel_w, planes
from budget.weather.tour_weather import for_tour

ANYWHERE = Path()


def tour(heading_deg: float | None, latitude_deg: float = 47.0, mean_c: float = 10.0, day: str = "2027-06-10") -> Tour:
    place: dict[str, Any] = {"latitude_deg": latitude_deg, "longitude_deg": 0.0, "altitude_m": 0.0}
    start = pd.Timestamp(day)
    return Tour.model_validate(
        {
            "timezone": "UTC",
            "start": start.isoformat(),
            "end": (start + pd.Timedelta(days=1)).isoformat(),
            "stops": [{"place": "P", "arrive": start.isoformat(), "heading_deg": heading_deg, **place}],
            "schedules": {"a": {"steps": [{"at": "07:00", "air_c": 19}]}},
            "schedule": "a",
            "weather": {"climate": {"mean_c": [mean_c] * 12, "cloud_share": [0.2] * 12}},
        }
    )


def van(**solar: float) -> Any:
    return SimpleNamespace(power=Power(solar=Solar(peak_w=100.0, **solar)))


def faces(one: Tour, **solar: float) -> dict[str, np.ndarray]:
    timeline = Timeline.of(one)
    return planes(for_tour(one, timeline, folder=ANYWHERE), timeline, van(**solar))


def test_faces_are_those_of_the_contract() -> None:
    shown = faces(tour(None))
    assert set(shown) == {"roof", "floor", "front", "rear", "left", "right", "sides", "panel_w"}
    assert all(values.shape == (24,) and (values >= 0.0).all() for values in shown.values())
    assert (shown["floor"] == 0.0).all()


def test_nose_to_the_east_gets_the_morning_and_the_rear_the_evening() -> None:
    shown = faces(tour(90.0))
    assert shown["front"][:12].sum() > 3.0 * shown["rear"][:12].sum()
    assert shown["rear"][12:].sum() > 3.0 * shown["front"][12:].sum()
    assert shown["right"].sum() > 1.3 * shown["left"].sum()  # right faces south


def test_nose_to_the_north_in_the_south_gets_the_noon_sun() -> None:
    shown = faces(tour(0.0, latitude_deg=-47.0, day="2027-09-10"))
    assert shown["front"].sum() > 2.0 * shown["rear"].sum()


def test_turning_the_van_by_a_right_angle_passes_its_faces_on() -> None:
    """What the front got with the nose to the south, the left gets with the nose to the west."""
    south, west = faces(tour(180.0)), faces(tour(270.0))
    assert np.abs(south["front"] - west["left"]).max() < 1e-9
    assert np.abs(south["left"] - west["rear"]).max() < 1e-9


def test_sides_are_the_mean_of_left_and_right() -> None:
    shown = faces(tour(30.0))
    assert np.abs(shown["sides"] - (shown["left"] + shown["right"]) / 2.0).max() < 1e-12


def test_unknown_heading_is_the_mean_of_all_headings() -> None:
    """Thirty-six vans, ten degrees apart, against the one that does not know; 10° steps sum a half cosine to 1 %."""
    several = [faces(tour(float(heading))) for heading in range(0, 360, 10)]
    unknown = faces(tour(None))
    for face in SIDES:
        mean = np.mean([one[face] for one in several], axis=0)
        assert np.abs(mean - unknown[face]).max() < 0.01 * mean.max() + 0.5
        assert (unknown[face] == unknown["front"]).all()


def test_headings_do_not_change_the_roof_or_the_panel() -> None:
    one, other = faces(tour(0.0)), faces(tour(120.0))
    assert (one["roof"] == other["roof"]).all() and (one["panel_w"] == other["panel_w"]).all()


def test_while_moving_the_heading_is_unknown() -> None:
    stops = [
        {"place": "A", "latitude_deg": 47.0, "longitude_deg": 0.0, "altitude_m": 0.0, "arrive": "2027-06-10T00:00"},
        {"place": "B", "latitude_deg": 47.0, "longitude_deg": 0.0, "altitude_m": 0.0, "arrive": "2027-06-10T12:00"},
    ]
    moving = tour(0.0).model_dump(mode="json") | {
        "stops": [stop | {"heading_deg": 0.0, "drive_h": 4.0} for stop in stops]
    }
    one = Tour.model_validate(moving)
    timeline = Timeline.of(one)
    shown = planes(for_tour(one, timeline, folder=ANYWHERE), timeline, van())
    driving = timeline.moving == 1
    assert driving.sum() == 4
    assert (shown["front"][driving] == shown["rear"][driving]).all()
    assert not np.allclose(shown["front"][~driving], shown["rear"][~driving])


def test_snow_on_the_ground_lights_the_walls_below_freezing() -> None:
    """Ground below 0 °C reflects 0.6 instead of 0.2: half of the difference times ghi on a vertical wall."""
    warm, cold = faces(tour(None, mean_c=15.0)), faces(tour(None, mean_c=-20.0))
    gain = cold["front"] - warm["front"]
    assert np.abs(gain - 0.5 * (SNOW_ALBEDO - ALBEDO) * warm["roof"]).max() < 1e-9


def test_no_sun_falls_on_anything_at_night_or_in_polar_night() -> None:
    shown = faces(tour(0.0, latitude_deg=75.0, day="2027-12-21"))
    assert all((values == 0.0).all() for values in shown.values())


def test_panel_gives_its_rated_power_at_standard_test_conditions() -> None:
    """1000 W/m² and a cell at 25 °C: with no wind the air is 1000 / 25 = 40 K colder."""
    assert panel_w(np.array([1000.0]), np.array([-15.0]), np.array([0.0]), 150.0, -0.4)[0] == pytest.approx(150.0)


def test_warm_cells_lose_by_their_coefficient_and_wind_cools_them() -> None:
    """Air 20 °C, 800 W/m², wind 1 m/s: cell 20 + 800 / 31.84 = 45.13 °C, 100 x 0.8 x (1 - 0.004 x 20.13) = 73.56 W."""
    at = lambda wind: panel_w(np.array([800.0]), np.array([20.0]), np.array([wind]), 100.0, -0.4)[0]  # noqa: E731
    assert at(1.0) == pytest.approx(73.56, abs=0.01)
    assert at(5.0) > at(1.0)


def test_winter_panel_does_better_tilted_to_the_sun() -> None:
    flat = faces(tour(None, day="2027-12-15"))["panel_w"]
    tilted = faces(tour(None, day="2027-12-15"), tilt_deg=60.0, azimuth_deg=180.0)["panel_w"]
    turned = faces(tour(None, day="2027-12-15"), tilt_deg=60.0, azimuth_deg=0.0)["panel_w"]
    assert tilted.sum() > 1.5 * flat.sum() > 3.0 * turned.sum()


@pytest.mark.parametrize(("latitude_deg", "to_equator_deg", "month"), [(54.8, 180.0, 12), (-54.8, 0.0, 6)])
def test_tilted_panel_faces_the_equator_where_nothing_is_said(
    latitude_deg: float, to_equator_deg: float, month: int
) -> None:
    """At 54.8° in midwinter a panel of 40° brings less than half with its back to the sun."""
    one = tour(None, latitude_deg=latitude_deg, day=f"2027-{month:02d}-20")
    unsaid = faces(one, tilt_deg=40.0)["panel_w"]
    assert (unsaid == faces(one, tilt_deg=40.0, azimuth_deg=to_equator_deg)["panel_w"]).all()
    assert unsaid.sum() > 2.0 * faces(one, tilt_deg=40.0, azimuth_deg=180.0 - to_equator_deg)["panel_w"].sum()


def test_panel_on_a_tour_across_the_equator_faces_it_on_either_side() -> None:
    index = pd.date_range("2027-06-20", periods=24, freq="h", tz="UTC")
    sun = Sun.over(index, np.where(np.arange(24) < 12, 40.0, -40.0), 0.0)
    light = tuple(np.full(24, value) for value in (300.0, 400.0, 100.0))
    line = SimpleNamespace(at_stop=np.zeros(24, dtype=bool), stop=np.zeros(24, dtype=int), tour=tour(None))
    warm, still = np.full(24, 10.0), np.zeros(24)
    unsaid, south, north = (
        on_the_van(sun, light, warm, still, timeline=line, van=van(tilt_deg=40.0, **said))["panel_w"]
        for said in ({}, {"azimuth_deg": 180.0}, {"azimuth_deg": 0.0})
    )
    assert (unsaid == np.where(np.arange(24) < 12, south, north)).all()
    assert (south != north).any()


@pytest.mark.parametrize("latitude_deg", [58.0, -58.0])
def test_noon_sun_stands_on_the_side_of_the_equator(latitude_deg: float) -> None:
    index = pd.date_range("2027-03-20", periods=24, freq="h", tz="UTC")
    sun = Sun.over(index, latitude_deg, 0.0)
    highest = int(np.argmin(sun.zenith_deg))
    azimuth = sun.azimuth_deg[highest]
    assert highest in (11, 12)
    assert (150.0 < azimuth < 210.0) if latitude_deg > 0.0 else (azimuth < 30.0 or azimuth > 330.0)


def test_sun_stands_at_mid_hour() -> None:
    """At 0° E on 15 April, when the equation of time is nil, hours 11 and 12 UTC lie alike on either side of noon."""
    sun = Sun.over(pd.date_range("2027-04-15 11:00", periods=2, freq="h", tz="UTC"), 50.0, 0.0)
    assert sun.zenith_deg[0] == pytest.approx(sun.zenith_deg[1], abs=0.1)
    assert sun.azimuth_deg[0] - 180.0 == pytest.approx(180.0 - sun.azimuth_deg[1], abs=0.3)


def test_places_may_change_by_the_hour() -> None:
    index = pd.date_range("2027-04-15", periods=24, freq="h", tz="UTC")
    latitude = np.linspace(40.0, 60.0, 24)
    together = Sun.over(index, latitude, 10.0)
    alone = Sun.over(index[13:14], latitude[13], 10.0)
    assert together.zenith_deg[13] == pytest.approx(alone.zenith_deg[0], abs=1e-9)


def test_planes_take_scenario_axes() -> None:
    """A generator of many winters hands in [scenario, hour] irradiances; each row is what it is alone."""
    index = pd.date_range("2027-04-15", periods=24, freq="h", tz="UTC")
    sun = Sun.over(index, 50.0, 0.0)
    one = clear_sky(sun, 0.0)
    two = tuple(np.stack([values, 0.5 * values]) for values in one)
    both = on_plane(sun, two, tilt_deg=60.0, azimuth_deg=180.0, albedo=0.2)
    assert both.shape == (2, 24)
    assert np.abs(both[0] - on_plane(sun, one, tilt_deg=60.0, azimuth_deg=180.0, albedo=0.2)).max() < 1e-9
