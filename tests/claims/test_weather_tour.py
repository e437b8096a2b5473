"""Claims about the weather along a tour: own source for each stop, drives between, every hour at its altitude."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from budget.tour.model import Tour
from budget.tour.timeline import Timeline
from budget.weather.air import saturation_pressure_pa
from budget.weather.lapse import moved, pressure_at_pa, warmed
from budget.weather.read import read_any
from budget.weather.record import COLUMNS, HourlyWeather
from budget.weather.sun import Sun
from budget.weather.tour_weather import distance_km, for_tour, gathered

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "weather_samples"
JANUARY = {"source": "csv", "file": "gulf_of_riga_january.csv"}
EPW = {"source": "typical-year", "file": "invented_station.epw"}
MEAN = {"climate": {"mean_c": [-5.0] * 12, "daily_range_k": [0.0] * 12, "cloud_share": [0.5] * 12}}
MILD = {"climate": {"mean_c": [5.0] * 12, "daily_range_k": [0.0] * 12, "cloud_share": [0.5] * 12}}


def stop(place: str, arrive: str, **more: Any) -> dict[str, Any]:
    here = {"latitude_deg": 58.25, "longitude_deg": 22.48, "altitude_m": 4.0}
    return {"place": place, "arrive": arrive, **here, **more}


def tour(
    stops: list[dict[str, Any]], start: str = "2027-01-09T12:00", end: str = "2027-01-12T12:00", **more: Any
) -> Tour:
    return Tour.model_validate(
        {
            "timezone": "Europe/Riga",
            "start": start,
            "end": end,
            "stops": stops,
            "schedules": {"a": {"steps": [{"at": "07:00", "air_c": 19}]}},
            "schedule": "a",
            **more,
        }
    )


def weather(one: Tour, **more: Any) -> HourlyWeather:
    return for_tour(one, Timeline.of(one), folder=SAMPLES, **more)


def test_record_lies_on_the_timeline() -> None:
    one = tour([stop("A", "2027-01-09T12:00")])
    record = weather(one)
    assert (record.index == Timeline.of(one).index).all()
    assert list(record.frame.columns) == list(COLUMNS)


def test_csv_at_the_stations_own_altitude_is_taken_as_it_is() -> None:
    record = weather(tour([stop("A", "2027-01-09T12:00", weather=JANUARY)]))
    source = read_any(SAMPLES / "gulf_of_riga_january.csv").frame.loc[record.index]
    for name in ("temp_air", "wind_speed", "ghi", "dni", "dhi"):
        assert np.abs(record.frame[name] - source[name]).max() < 1e-9


def test_higher_pitch_is_colder_by_the_lapse() -> None:
    low = weather(tour([stop("A", "2027-01-09T12:00", weather=JANUARY)]))
    high = weather(tour([stop("A", "2027-01-09T12:00", altitude_m=1004.0, weather=JANUARY | {"lapse_k_per_km": 5.0})]))
    assert np.abs(low.frame["temp_air"] - high.frame["temp_air"] - 5.0).max() < 1e-9
    assert (high.frame["pressure"] / low.frame["pressure"]).between(0.87, 0.89).all()  # ISO 2533: 0.887 at 15 °C


def test_climb_keeps_the_mixing_ratio_until_the_air_saturates() -> None:
    """w = 0.622 e / (p - e) is the same above and below for dry air; for moist air humidity stops at 100 %."""
    index = pd.date_range("2027-01-09", periods=2, freq="h", tz="UTC")
    frame = pd.DataFrame(
        {"temp_air": 10.0, "relative_humidity": [40.0, 99.0], "pressure": 100_000.0, "temp_sky": -5.0}, index
    )
    high = moved(frame, np.array([800.0, 800.0]), 6.5)

    def ratio(one: pd.DataFrame) -> np.ndarray:
        vapour = one["relative_humidity"].to_numpy() / 100.0 * saturation_pressure_pa(one["temp_air"].to_numpy())
        return vapour / (one["pressure"].to_numpy() - vapour)

    assert ratio(high)[0] == pytest.approx(ratio(frame)[0], rel=1e-9)
    assert high["relative_humidity"].iloc[1] == 100.0
    assert ratio(high)[1] < ratio(frame)[1]


def test_climb_there_and_back_is_no_climb() -> None:
    index = pd.date_range("2027-01-09", periods=1, freq="h", tz="UTC")
    frame = pd.DataFrame({"temp_air": 10.0, "relative_humidity": 40.0, "pressure": 100_000.0, "temp_sky": -5.0}, index)
    back = moved(moved(frame, np.array([500.0]), 6.5), np.array([-500.0]), 6.5)
    assert np.abs(back - frame).to_numpy().max() < 1e-6


def test_pressure_of_the_standard_atmosphere_comes_out_of_the_hypsometric_equation() -> None:
    """ISO 2533: 1000 m at a mean of 11.75 °C takes 101 325 Pa to 89 874 Pa."""
    assert pressure_at_pa(np.array(101_325.0), np.array(1000.0), np.array(11.75)) == pytest.approx(89_874.0, abs=15.0)


def test_offset_is_added_and_said() -> None:
    plain = weather(tour([stop("A", "2027-01-09T12:00", weather=JANUARY)]))
    colder = weather(tour([stop("A", "2027-01-09T12:00", weather=JANUARY | {"offset_k": -6.0})]))
    assert np.abs(colder.frame["temp_air"] - plain.frame["temp_air"] + 6.0).max() < 1e-9
    assert (colder.frame["temp_sky"] < plain.frame["temp_sky"]).all()
    assert "weather at A: -6 K are added to every temperature, as asked." in colder.notices


def test_offset_keeps_the_emissivity_of_the_sky() -> None:
    index = pd.date_range("2027-01-09", periods=1, freq="h", tz="UTC")
    frame = pd.DataFrame({"temp_air": [0.0], "temp_sky": [-20.0]}, index)
    other = warmed(frame, -10.0)
    assert (other["temp_sky"].iloc[0] + 273.15) / 263.15 == pytest.approx(253.15 / 273.15, rel=1e-12)


def test_each_stop_has_its_own_weather_and_the_drive_lies_between() -> None:
    """Four hours of driving from -5 to 5 °C pass 1/8, 3/8, 5/8 and 7/8 of the way at their middles."""
    one = tour(
        [
            stop("A", "2027-01-09T12:00", weather=MEAN),
            stop("B", "2027-01-10T12:00", drive_h=4.0, latitude_deg=58.6, weather=MILD),
        ]
    )
    record, timeline = weather(one), Timeline.of(one)
    temps = record.frame["temp_air"].to_numpy()
    assert np.abs(temps[:20] + 5.0).max() < 1e-9
    assert np.abs(temps[24:] - 5.0).max() < 1e-9
    assert (timeline.moving[20:24] == 1).all()
    assert np.abs(temps[20:24] - [-3.75, -1.25, 1.25, 3.75]).max() < 1e-9


def test_pass_between_two_valleys_is_not_forgotten() -> None:
    """Hours on the way stand at their own altitude: half way from 0 to 1000 m it is 500 m that counts."""
    one = tour(
        [
            stop("low", "2027-01-09T12:00", altitude_m=0.0, weather=MEAN),
            stop("high", "2027-01-10T12:00", altitude_m=1000.0, drive_h=4.0, weather=MEAN | {"lapse_k_per_km": 6.0}),
        ]
    )
    record, timeline = weather(one), Timeline.of(one)
    way, altitude = timeline.way_share[20:24], timeline.altitude_m[20:24]
    low = -5.0 - 6.5 * altitude / 1000.0
    high = -5.0 - 6.0 * (altitude - 1000.0) / 1000.0
    expected = (1.0 - way) * low + way * high
    assert np.abs(record.frame["temp_air"].to_numpy()[20:24] - expected).max() < 1e-9


def test_climate_of_a_named_station_altitude_is_carried_to_the_pitch() -> None:
    one = tour([stop("A", "2027-01-09T12:00", altitude_m=1004.0, weather=MEAN | {"station_altitude_m": 4.0})])
    assert np.abs(weather(one).frame["temp_air"] + 5.0 + 6.5).max() < 1e-9


@pytest.mark.parametrize("source", [JANUARY, EPW], ids=["csv", "epw"])
def test_a_set_station_altitude_goes_before_the_files_own(source: dict[str, Any]) -> None:
    """The file says 4 m: of a station at 204 m the pitch is 0.2 km · 6.5 K/km warmer; that the two differ is said."""
    name = source["file"] if source is EPW else "invented hours of a Gulf of Riga January"
    own, same, high = (
        weather(tour([stop("A", "2027-01-09T12:00", weather=source | given)]))
        for given in ({}, {"station_altitude_m": 4.0}, {"station_altitude_m": 204.0})
    )
    assert (same.frame.to_numpy() == own.frame.to_numpy()).all()
    assert same.notices == own.notices
    assert np.abs(high.frame["temp_air"] - own.frame["temp_air"] - 0.2 * 6.5).max() < 1e-9
    assert set(high.notices) - set(own.notices) == {f"{name}: taken as asked: altitude_m 204, the file itself says 4."}


def test_a_file_in_place_of_the_tours_keeps_its_own_altitude(tmp_path: Path) -> None:
    """What the tour says of its own file's station is not true of another; only a file that is silent takes it."""
    asked = JANUARY | {"station_altitude_m": 204.0}
    one = tour([stop("A", "2027-01-09T12:00", weather=asked)])
    cold = SAMPLES / "cold_snap.csv"
    source = read_any(cold).frame.loc[Timeline.of(one).index]["temp_air"]
    assert np.abs(weather(one, file_for_all=cold).frame["temp_air"] - source).max() < 1e-9
    silent = tmp_path / "silent.csv"
    silent.write_text(cold.read_text("utf-8").replace("# altitude_m: 4\n", ""), "utf-8")
    assert np.abs(weather(one, file_for_all=silent).frame["temp_air"] - source - 0.2 * 6.5).max() < 1e-9


def test_one_file_serves_for_every_stop() -> None:
    stops = [stop("A", "2027-01-09T12:00", weather=MEAN), stop("B", "2027-01-10T12:00", weather=EPW)]
    record = weather(tour(stops), file_for_all=SAMPLES / "cold_snap.csv")
    source = read_any(SAMPLES / "cold_snap.csv").frame.loc[record.index]
    assert np.abs(record.frame["temp_air"] - source["temp_air"]).max() < 1e-9


def test_typical_year_wraps_round_new_year_and_through_the_autumn_change() -> None:
    for start, end in (("2027-12-30T12:00", "2028-01-02T12:00"), ("2027-10-30T12:00", "2027-11-01T12:00")):
        one = tour([stop("A", start, weather=EPW)], start=start, end=end)
        record = weather(one)
        year = read_any(SAMPLES / "invented_station.epw").frame["temp_air"].to_numpy()
        standard = record.index.tz_convert("Etc/GMT-2")
        row = [(pd.Timestamp(2027, s.month, s.day).day_of_year - 1) * 24 + s.hour for s in standard]
        assert np.abs(record.frame["temp_air"].to_numpy() - year[row]).max() < 1e-9


def test_far_station_keeps_its_global_irradiance_and_follows_the_pitchs_sun() -> None:
    """A file from the Gulf of Riga on a tour in Spain: ghi as in the file, beam and diffuse closed with Spain's sun."""
    place = {"latitude_deg": 40.4, "longitude_deg": -3.7, "altitude_m": 4.0}
    one = tour(
        [stop("Madrid", "2027-06-09T12:00", weather=EPW) | place], start="2027-06-09T12:00", end="2027-06-12T12:00"
    )
    record = weather(one)
    sun = Sun.over(record.index, 40.4, -3.7)
    frame = record.frame
    assert np.abs(frame["dni"] * sun.cos_zenith + frame["dhi"] - frame["ghi"]).max() < 1e-9
    a, b, turn = np.radians([58.4, 40.4, 22.5 + 3.7])
    apart_km = 6371.0 * np.arccos(np.sin(a) * np.sin(b) + np.cos(a) * np.cos(b) * np.cos(turn))
    notice = f"invented_station.epw: its station lies up to {apart_km:,.0f} km from the stops that it serves."
    assert record.apart_km == pytest.approx(apart_km, abs=0.1)
    assert notice in record.notices


def test_notices_that_differ_only_in_the_place_become_one() -> None:
    notices = ["weather at A: wind is estimated.", "weather at B: wind is estimated.", "file: other."]
    assert gathered(notices) == ["weather at A, B: wind is estimated.", "file: other."]


def test_unknown_station_altitude_is_said(tmp_path: Path) -> None:
    index = pd.date_range("2027-01-09", periods=120, freq="h")
    rows = "".join(f"{stamp:%Y-%m-%d %H:%M},-3.0\n" for stamp in index)
    (tmp_path / "own.csv").write_text("time,temp_air\n" + rows)
    one = tour([stop("A", "2027-01-09T12:00", weather={"source": "csv", "file": "own.csv"})])
    record = for_tour(one, Timeline.of(one), folder=tmp_path)
    assert "own.csv: its altitude is not given and taken as the pitch's." in record.notices


def test_degree_of_latitude_is_111_kilometres() -> None:
    """2 π 6371 / 360 = 111.19 km."""
    assert distance_km(58.0, 22.0, 59.0, 22.0) == pytest.approx(111.19, abs=0.01)


@pytest.mark.parametrize("source", [JANUARY, EPW, {}, MEAN], ids=["csv", "epw", "estimated", "climate"])
def test_every_source_gives_a_whole_record_for_a_long_tour(source: dict[str, Any]) -> None:
    stops = [
        stop(f"S{day}", f"2027-01-{day:02d}T16:00", altitude_m=4.0 * day, weather=source) for day in range(9, 31, 3)
    ]
    record = weather(tour(stops, end="2027-02-02T12:00"))
    assert len(record.frame) == 576 and np.isfinite(record.frame.to_numpy()).all()
    assert (record.frame["temp_sky"] <= record.frame["temp_air"] + 0.5).all()
