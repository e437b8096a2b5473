"""Claims about typical-year files: every kind, laid by month, day and hour."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
import pytest
from typical_years import MADE, TEMPS, nsrdb_csv

from budget.weather.read import read_any
from budget.weather.sun import Sun, clear_sky
from budget.weather.typical_year import TypicalYear

ROOT = Path(__file__).parents[2]
PVLIB_DATA = Path(pvlib.__file__).parent / "data"
GREENSBORO = PVLIB_DATA / "723170TYA.CSV"
EPW = ROOT / "weather_samples" / "invented_station.epw"


def hours(start: str, count: int, tz: str) -> pd.DatetimeIndex:
    return pd.date_range(start, periods=count, freq="h", tz=tz)


@pytest.mark.parametrize("name", MADE)
def test_every_kind_is_known_by_its_content(tmp_path: Path, name: str) -> None:
    """All are called .txt here; temperatures come out in the file's standard time, hour for hour."""
    text, offset_h = MADE[name]
    path = tmp_path / "weather.txt"
    path.write_bytes(text.encode("utf-8"))
    year = TypicalYear.read(path)
    assert (year.station.latitude_deg, year.station.longitude_deg) == (58.4, 22.5)
    assert year.station.utc_offset_h == offset_h
    assert np.abs(year.hours["temp_air"].to_numpy()[:8760] - TEMPS).max() < 1e-9


def test_tilted_irradiance_is_not_taken_for_horizontal(tmp_path: Path) -> None:
    path = tmp_path / "tilted.csv"
    path.write_bytes(MADE["hourly_tilted.csv"][0].encode())
    year = TypicalYear.read(path)
    assert "ghi" not in year.hours
    assert year.notices == ("tilted.csv: the file's irradiance is for a plane tilted 35° and is not used.",)


def test_irradiance_sampled_early_in_the_hour_is_moved_to_its_middle(tmp_path: Path) -> None:
    """Spots at 0.1761 h of a steady climb of 50 W/m² an hour stand 16.2 W/m² higher at mid-hour."""
    path = tmp_path / "pvgis.csv"
    path.write_bytes(MADE["pvgis.csv"][0].encode())
    assert TypicalYear.read(path).hours["ghi"].iloc[10] == pytest.approx(500.0 + 50.0 * (0.5 - 0.1761), abs=1e-6)


def test_measured_long_wave_makes_the_sky_temperature(tmp_path: Path) -> None:
    """(300 / 5.670374e-8)^(1/4) - 273.15 = -3.45 °C."""
    path = tmp_path / "pvgis.csv"
    path.write_bytes(MADE["pvgis.csv"][0].encode())
    frame = TypicalYear.read(path).on(hours("2027-01-09", 24, "Europe/Riga")).frame
    assert np.abs(frame["temp_sky"] + 3.45).max() < 0.01


@pytest.mark.parametrize("kind", ["tmy3", "epw", "tmy2"])
def test_first_row_is_the_first_hour_of_the_year(kind: str) -> None:
    """Stamped 01:00, the end of the hour, in all three; our index says when the hour starts."""
    path = {"tmy3": GREENSBORO, "epw": EPW, "tmy2": PVLIB_DATA / "12839.tm2"}[kind]
    year = TypicalYear.read(path)
    first = {
        "tmy3": lambda: float(path.read_text().split("\n")[2].split(",")[31]),
        "epw": lambda: float(path.read_text().split("\n")[8].split(",")[6]),
        "tmy2": lambda: float(path.read_text().split("\n")[1][67:71]) / 10.0,
    }[kind]()
    assert year.hours["temp_air"].iloc[0] == first
    assert read_any(path).index[0].hour == 0


def test_columns_come_in_our_units() -> None:
    """First row of each file by its own manual: millibar to Pa, tenths of m/s and °C, tenths of sky."""
    tmy3 = TypicalYear.read(GREENSBORO).hours.iloc[0]
    cells = dict(zip(*(GREENSBORO.read_text().split("\n")[line].split(",") for line in (1, 2)), strict=True))
    assert tmy3["pressure"] == 100.0 * float(cells["Pressure (mbar)"])
    assert tmy3["cloud"] == pytest.approx(float(cells["TotCld (tenths)"]) / 10.0)
    assert tmy3["wind_speed"] == float(cells["Wspd (m/s)"])
    # 12839.tm2, row 1: sky 7 tenths, 20.0 °C, 73 %, 1017 mbar, 6.7 m/s at the columns of TMY2's table 3-2
    tmy2 = TypicalYear.read(PVLIB_DATA / "12839.tm2").hours.iloc[0]
    names = ["temp_air", "relative_humidity", "pressure", "wind_speed", "cloud"]
    assert tmy2[names].tolist() == pytest.approx([20.0, 73.0, 101_700.0, 6.7, 0.7])
    epw = TypicalYear.read(EPW).hours.iloc[0]
    first = EPW.read_text().split("\n")[8].split(",")
    assert epw["pressure"] == float(first[9]) and epw["cloud"] == pytest.approx(float(first[22]) / 10.0)


@pytest.mark.parametrize("path", [GREENSBORO, EPW])
def test_sun_stands_highest_in_the_middle_of_the_files_sunlit_hours(path: Path) -> None:
    """An hour's shift of the stamps would show: mornings would lose what afternoons win.

    The clear-sky sun at mid-hour and the file's irradiance have the same centre over the year, within a tenth of an
    hour; an index an hour off would move it by a whole one.
    """
    record = read_any(path)
    sun = Sun.over(record.index, record.latitude_deg, record.longitude_deg)
    clear = clear_sky(sun, record.altitude_m)[0]
    hour = record.index.hour.to_numpy() + 0.5
    ghi = record.frame["ghi"].to_numpy()
    assert np.average(hour, weights=ghi) == pytest.approx(np.average(hour, weights=clear), abs=0.15)


def test_hours_are_the_files_standard_time_whatever_the_clock_of_the_tour() -> None:
    """2 a.m. in Riga (UTC+2 in winter, the file's own) is the third row; in summer the clock is an hour ahead."""
    year = TypicalYear.read(EPW)
    rows = year.hours["temp_air"].to_numpy()
    winter = year.on(hours("2027-01-01 02:00", 1, "Europe/Riga")).frame["temp_air"].iloc[0]
    summer = year.on(hours("2027-07-01 02:00", 1, "Europe/Riga")).frame["temp_air"].iloc[0]
    assert winter == rows[2]
    assert summer == rows[181 * 24 + 1]


def test_clock_changes_neither_skip_nor_repeat_a_row() -> None:
    year = TypicalYear.read(EPW)
    rows = year.hours["temp_air"].to_numpy()
    for day, length in (("2027-03-28", 23), ("2027-10-31", 25)):
        index = hours(day, length, "Europe/Riga")
        standard = index.tz_convert("Etc/GMT-2")
        expected = rows[(standard.day_of_year.to_numpy() - 1) * 24 + standard.hour.to_numpy()]
        assert (year.on(index).frame["temp_air"].to_numpy() == expected).all()
        assert len(set(standard)) == length


def test_leap_day_is_the_mean_of_its_neighbours() -> None:
    """29 February 2028 hour by hour; 28 February and 1 March keep their own rows."""
    year = TypicalYear.read(EPW)
    rows = year.hours["temp_air"].to_numpy()
    made = year.on(hours("2028-02-28", 72, "Etc/GMT-2")).frame["temp_air"].to_numpy().reshape(3, 24)
    before, after = rows[58 * 24 : 59 * 24], rows[59 * 24 : 60 * 24]
    assert (made[0] == before).all() and (made[2] == after).all()
    assert np.abs(made[1] - (before + after) / 2.0).max() < 1e-12


def test_file_of_a_leap_year_keeps_its_own_leap_day(tmp_path: Path) -> None:
    stamps = pd.date_range("2020-01-01", periods=8784, freq="h")
    temps = np.arange(8784) / 1000.0
    rows = "".join(
        f"{s.year},{s.month},{s.day},{s.hour},30,{t},1010,80,5,0,0,0\n" for s, t in zip(stamps, temps, strict=True)
    )
    head = "\n".join(nsrdb_csv().split("\n", 3)[:3])
    path = tmp_path / "leap.csv"
    path.write_text(f"{head}\n{rows}")
    frame = TypicalYear.read(path).on(hours("2028-02-29", 24, "Etc/GMT-2")).frame
    assert np.abs(frame["temp_air"].to_numpy() - temps[59 * 24 : 60 * 24]).max() < 1e-12


def test_tour_over_new_year_wraps_round_the_file() -> None:
    year = TypicalYear.read(EPW)
    rows = year.hours["temp_air"].to_numpy()
    made = year.on(hours("2027-12-31 20:00", 8, "Etc/GMT-2")).frame["temp_air"].to_numpy()
    assert (made == np.concatenate([rows[8756:8760], rows[:4]])).all()


def test_half_hour_zones_share_out_the_files_hours(tmp_path: Path) -> None:
    """A file at UTC+5:30 seen from whole UTC hours: half of one row and half of the next."""
    path = tmp_path / "sam.csv"
    path.write_text(MADE["sam.csv"][0])
    made = TypicalYear.read(path).on(hours("2027-01-10 00:00", 3, "UTC")).frame["temp_air"].to_numpy()
    first = 9 * 24 + 5
    assert np.abs(made - (TEMPS[first : first + 3] + TEMPS[first + 1 : first + 4]) / 2.0).max() < 1e-9


def test_far_station_keeps_its_noon() -> None:
    """Greensboro (80° W) on the Gulf of Riga (22.5° E): 102° are 7 h by the sun, and noon stays about noon."""
    year = TypicalYear.read(GREENSBORO)
    record = year.on(hours("2027-06-01", 24 * 30, "Etc/GMT-2"), longitude_deg=22.5)
    hour = record.index.hour.to_numpy() + 0.5
    noon = 12.0 + 2.0 - 22.5 / 15.0  # mean solar noon at 22.5° E in UTC+2
    assert np.average(hour, weights=record.frame["ghi"]) == pytest.approx(noon, abs=0.5)
    assert record.notices[0] == "723170TYA.CSV: its hours are moved by +7 h so that its noon is the pitch's."


def test_missing_codes_are_gaps_and_long_ones_in_other_columns_are_estimated(tmp_path: Path) -> None:
    lines = EPW.read_text().split("\n")
    for row in range(100, 102):
        cells = lines[8 + row].split(",")
        cells[6] = "99.9"
        lines[8 + row] = ",".join(cells)
    for row in range(8760):
        cells = lines[8 + row].split(",")
        cells[21] = "999"
        lines[8 + row] = ",".join(cells)
    path = tmp_path / "gaps.epw"
    path.write_text("\n".join(lines))
    year = TypicalYear.read(path)
    assert set(year.notices) == {
        f"{path}: wind_speed is missing for up to 8760 h on end and is estimated instead.",
        f"{path}: 2 missing hours are interpolated.",
    }
    rows = TypicalYear.read(EPW).hours["temp_air"].to_numpy()
    assert year.hours["temp_air"].iloc[100] == pytest.approx(rows[99] + (rows[102] - rows[99]) / 3.0, abs=1e-9)


def test_a_place_that_is_asked_for_goes_before_the_headers() -> None:
    record = read_any(EPW, altitude_m=900.0)
    assert (record.latitude_deg, record.longitude_deg, record.altitude_m) == (58.4, 22.5, 900.0)
    assert record.notices == ("invented_station.epw: taken as asked: altitude_m 900, the file itself says 4.",)


def test_sample_epw_is_small_and_whole() -> None:
    assert EPW.stat().st_size < 1_700_000
    record = read_any(EPW)
    assert len(record.frame) == 8760 and record.notices == ()
