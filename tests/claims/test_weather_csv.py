"""Claims about a user's own CSV: dialects, clocks, steps, gaps, and what is estimated."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from budget.weather.air import humidity_percent, saturation_pressure_pa
from budget.weather.read import clear_sky_year, describe, read_any, to_csv
from budget.weather.record import COLUMNS
from budget.weather.sun import Sun, clear_sky
from budget.weather.user_csv import MeasuredWeather

ROOT = Path(__file__).parents[2]
PLACE = {"latitude_deg": 58.4, "longitude_deg": 22.5, "altitude_m": 4.0}
RIGA = "Europe/Riga"


def hours(start: str, count: int, freq: str = "h", tz: str = RIGA) -> pd.DatetimeIndex:
    return pd.date_range(start, periods=count, freq=freq, tz=tz)


def write(folder: Path, text: str, encoding: str = "utf-8") -> Path:
    path = folder / "own.csv"
    path.write_bytes(text.encode(encoding))
    return path


def simple(index: pd.DatetimeIndex, temps: np.ndarray, form: str = "%Y-%m-%d %H:%M") -> str:
    rows = [f"{stamp.strftime(form)},{temp!r}" for stamp, temp in zip(index, temps.tolist(), strict=True)]
    return "\n".join(["time,temp_air", *rows]) + "\n"


def read(path: Path, timezone: str = RIGA) -> pd.DataFrame:
    return MeasuredWeather.read(path, timezone).over(**PLACE).frame


TEMPS = np.round(-3.0 + 2.0 * np.sin(np.arange(72) / 4.0), 2)
INDEX = hours("2027-01-09", 72)


def test_time_and_temperature_are_enough(tmp_path: Path) -> None:
    record = MeasuredWeather.read(write(tmp_path, simple(INDEX, TEMPS)), RIGA).over(**PLACE)
    assert (record.frame["temp_air"].to_numpy() == TEMPS).all()
    assert list(record.frame.columns) == list(COLUMNS)
    assert record.notices == (
        "own.csv: estimated, for want of a column: relative_humidity (dew point at the day's lowest temperature); "
        "pressure (standard atmosphere); wind_speed (4 m/s); ghi, dni and dhi (clear sky through the cloudiness usual "
        "for the latitude, ± 0.2); temp_sky (clouds and dew point).",
    )


@pytest.mark.parametrize(
    ("separator", "decimal"), [(",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ",")], ids=repr
)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
def test_dialects_read_alike(tmp_path: Path, separator: str, decimal: str, encoding: str, line_end: str) -> None:
    text = simple(INDEX, TEMPS).replace(",", separator)
    if decimal == ",":
        text = text.replace(".", ",")
    path = write(tmp_path, text.replace("\n", line_end), encoding)
    assert (read(path)["temp_air"].to_numpy() == TEMPS).all()


def test_a_place_is_read_with_a_decimal_comma_too(tmp_path: Path) -> None:
    """Whoever writes -3,5 in the rows writes 58,4 above them."""
    path = write(tmp_path, "# latitude_deg: 58,4\n" + simple(INDEX, TEMPS))
    assert MeasuredWeather.read(path, RIGA).place == {"latitude_deg": 58.4}


@pytest.mark.parametrize(
    "form", ["%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M:%S", "%d.%m.%Y %H:%M", "%Y-%m-%dT%H:%M%z"]
)
def test_forms_of_time_read_alike(tmp_path: Path, form: str) -> None:
    frame = read(write(tmp_path, simple(INDEX, TEMPS, form)))
    assert (frame.index == INDEX).all()


def test_offsets_are_taken_as_they_are(tmp_path: Path) -> None:
    """Midnight UTC is two in the morning in Riga in winter; Z and +00:00 are the same."""
    index = hours("2027-01-09", 48, tz="UTC")
    zulu = simple(index, TEMPS[:48], "%Y-%m-%dT%H:%MZ")
    frame = read(write(tmp_path, zulu))
    assert str(frame.index[0]) == "2027-01-09 02:00:00+02:00"
    assert (read(write(tmp_path, zulu.replace("Z,", "+00:00,"))).index == frame.index).all()


def test_offsets_west_of_greenwich_are_behind(tmp_path: Path) -> None:
    """Midnight at UTC-03:30 is half past three UTC."""
    index = pd.date_range("2027-01-09", periods=48, freq="h")
    text = simple(index, TEMPS[:48], "%Y-%m-%dT%H:%M-03:30")
    stamps = MeasuredWeather.read(write(tmp_path, text), "America/St_Johns").hours.index
    assert stamps[0] == pd.Timestamp("2027-01-09 03:30", tz="UTC") and len(stamps) == 48


def test_times_without_offset_are_local_and_the_file_may_name_its_zone(tmp_path: Path) -> None:
    text = simple(hours("2027-01-09", 48, tz="UTC"), TEMPS[:48])
    frame = read(write(tmp_path, "# timezone: Europe/Madrid\n" + text))
    assert frame.index[0] == pd.Timestamp("2027-01-09 00:00", tz="Europe/Madrid")


def test_spring_change_skips_an_hour_of_the_clock_and_none_of_the_record(tmp_path: Path) -> None:
    """28 March 2027: the clocks go from 02:59 to 04:00, and the day has 23 hours."""
    index = hours("2027-03-28", 23)
    frame = read(write(tmp_path, simple(index, TEMPS[:23])))
    assert len(frame) == 23 and (frame.index == index).all()
    assert (frame["temp_air"].to_numpy() == TEMPS[:23]).all()


@pytest.mark.parametrize("step_min", [60, 30, 10])
def test_autumn_change_repeats_an_hour_of_the_clock(tmp_path: Path, step_min: int) -> None:
    """31 October 2027: the hour from 03:00 stands twice, first in summer then in winter time; the day has 25 hours."""
    per_hour = 60 // step_min
    fine = hours("2027-10-31", 25 * per_hour, freq=f"{step_min}min")
    temps = np.repeat(TEMPS[:25], per_hour)
    frame = read(write(tmp_path, simple(fine, temps)))
    assert len(frame) == 25
    assert np.abs(frame["temp_air"].to_numpy() - TEMPS[:25]).max() < 1e-9


def test_autumn_hour_written_once_is_summer_time_and_the_other_is_interpolated(tmp_path: Path) -> None:
    index = hours("2027-10-31", 25)
    written = index.delete(4)  # the second 03:00
    record = MeasuredWeather.read(write(tmp_path, simple(written, np.delete(TEMPS[:25], 4))), RIGA).over(**PLACE)
    assert len(record.frame) == 25
    assert record.frame["temp_air"].iloc[4] == pytest.approx((TEMPS[3] + TEMPS[5]) / 2.0, abs=1e-9)
    assert f"{tmp_path / 'own.csv'}: 1 missing hours are interpolated." in record.notices


@pytest.mark.parametrize("step_min", [5, 10, 15, 20, 30])
def test_finer_steps_are_averaged(tmp_path: Path, step_min: int) -> None:
    per_hour = 60 // step_min
    fine = hours("2027-01-09", 24 * per_hour, freq=f"{step_min}min")
    temps = np.round(np.linspace(-5.0, 3.0, len(fine)), 4)
    frame = read(write(tmp_path, simple(fine, temps)))
    assert len(frame) == 24
    assert np.abs(frame["temp_air"].to_numpy() - temps.reshape(24, per_hour).mean(axis=1)).max() < 1e-9


@pytest.mark.parametrize("step_h", [2, 3])
def test_coarser_steps_are_interpolated(tmp_path: Path, step_h: int) -> None:
    """A steady climb in means of 2 or 3 h is the same climb in hours, but for the half spans at the ends."""
    count = 48 // step_h
    temps = -10.0 + 0.25 * (np.arange(count) * step_h + step_h / 2.0)
    frame = read(write(tmp_path, simple(hours("2027-01-09", count, freq=f"{step_h}h"), temps)))
    assert len(frame) == 48
    inner = slice(step_h, 48 - step_h)
    expected = -10.0 + 0.25 * (np.arange(48) + 0.5)
    assert np.abs(frame["temp_air"].to_numpy() - expected)[inner].max() < 1e-9


def test_sun_of_coarse_steps_is_shared_out_by_the_clear_sky_and_kept(tmp_path: Path) -> None:
    """Three-hour means laid on hours keep their energy and leave the night dark."""
    index = hours("2027-04-10", 16, freq="3h")
    ghi = np.tile([0.0, 0.0, 60.0, 320.0, 450.0, 300.0, 50.0, 0.0], 2)
    rows = [f"{stamp:%Y-%m-%d %H:%M},5.0,{value}" for stamp, value in zip(index, ghi, strict=True)]
    frame = read(write(tmp_path, "\n".join(["time,temp_air,ghi", *rows]) + "\n"))
    assert np.abs(frame["ghi"].to_numpy().reshape(16, 3).mean(axis=1) - ghi).max() < 1e-9
    assert (frame.loc[frame.index.hour < 5, "ghi"] == 0.0).all()
    morning = frame.loc["2027-04-10 09:00":"2027-04-10 11:00", "ghi"].to_numpy()
    assert (np.diff(morning) > 0.0).all()


@pytest.mark.parametrize("gap_h", [1, 2, 3])
def test_gaps_of_up_to_three_hours_are_interpolated_and_said(tmp_path: Path, gap_h: int) -> None:
    keep = [row for row in range(72) if not 20 <= row < 20 + gap_h]
    path = write(tmp_path, simple(INDEX[keep], TEMPS[keep]))
    record = MeasuredWeather.read(path, RIGA).over(**PLACE)
    expected = np.interp(np.arange(72), keep, TEMPS[keep])
    assert np.abs(record.frame["temp_air"].to_numpy() - expected).max() < 1e-9
    assert f"{path}: {gap_h} missing hours are interpolated." in record.notices


def test_empty_cells_are_gaps_too(tmp_path: Path) -> None:
    text = simple(INDEX, TEMPS).split("\n")
    text[21] = text[21].split(",")[0] + ","
    text[22] = text[22].split(",")[0] + ",NaN"
    frame = read(write(tmp_path, "\n".join(text)))
    known = [*range(20), *range(22, 72)]
    assert np.abs(frame["temp_air"].to_numpy() - np.interp(np.arange(72), known, TEMPS[known])).max() < 1e-9


def test_a_gap_outside_the_hours_asked_for_does_not_matter(tmp_path: Path) -> None:
    keep = [row for row in range(72) if not 50 <= row < 60]
    measured = MeasuredWeather.read(write(tmp_path, simple(INDEX[keep], TEMPS[keep])), RIGA)
    assert len(measured.over(INDEX[:48], **PLACE).frame) == 48


def test_rows_out_of_order_are_sorted_and_said(tmp_path: Path) -> None:
    lines = simple(INDEX, TEMPS).strip().split("\n")
    lines[5], lines[9] = lines[9], lines[5]
    record = MeasuredWeather.read(write(tmp_path, "\n".join(lines)), RIGA).over(**PLACE)
    assert (record.frame["temp_air"].to_numpy() == TEMPS).all()
    assert "own.csv: its rows were not in order of time and have been sorted." in record.notices


def test_degrees_fahrenheit_are_taken_when_the_column_says_so(tmp_path: Path) -> None:
    text = simple(INDEX, 32.0 + 1.8 * TEMPS).replace("temp_air", "temp_air_f")
    record = MeasuredWeather.read(write(tmp_path, text), RIGA).over(**PLACE)
    assert np.abs(record.frame["temp_air"].to_numpy() - TEMPS).max() < 1e-9
    assert record.notices[0] == "own.csv: temp_air_f is converted to °C."


def test_headings_may_carry_units_and_capitals_and_unknown_columns_are_ignored(tmp_path: Path) -> None:
    rows = [f"{stamp:%Y-%m-%d %H:%M},A7,{temp}" for stamp, temp in zip(INDEX, TEMPS, strict=True)]
    path = write(tmp_path, "\n".join(["Time,Logger,Temp_air [°C]", *rows]))
    record = MeasuredWeather.read(path, RIGA).over(**PLACE)
    assert (record.frame["temp_air"].to_numpy() == TEMPS).all()
    assert record.notices[0] == "own.csv: the column 'logger' is not known and is ignored."


def test_small_excesses_are_taken_back_and_said(tmp_path: Path) -> None:
    index = hours("2027-01-09", 48)
    rows = [f"{stamp:%Y-%m-%d %H:%M},-2.0,102,-3" for stamp in index]
    path = write(tmp_path, "\n".join(["time,temp_air,relative_humidity,ghi", *rows]))
    record = MeasuredWeather.read(path, RIGA).over(**PLACE)
    assert (record.frame["ghi"] == 0.0).all() and (record.frame["relative_humidity"] == 100.0).all()
    assert "own.csv: 48 negative values of ghi are taken as 0." in record.notices
    assert "own.csv: 48 values of relative_humidity above 100 % count as 100." in record.notices


def test_wind_of_a_hurricane_is_asked_about(tmp_path: Path) -> None:
    """33 m/s are Beaufort 12; a gale of 32 m/s, written in m/s, is taken as it is."""
    for most, asked in ((32.0, False), (54.0, True)):
        text = simple(INDEX, TEMPS).replace("temp_air\n", "temp_air,wind_speed\n")
        lines = [f"{line},{most if n == 9 else 12.0}" if n else line for n, line in enumerate(text.splitlines())]
        notices = MeasuredWeather.read(write(tmp_path, "\n".join(lines)), RIGA).over(**PLACE).notices
        sentence = (
            "own.csv: wind_speed reaches 54 m/s, a hurricane's; if it is in km/h, divide by 3.6, in knots by 1.944."
        )
        assert (sentence in notices) == asked
        assert any("wind_speed reaches" in notice for notice in notices) == asked


@pytest.mark.parametrize(("factor", "times"), [(3.6, "3.6"), (1.0, None), (0.05, None)])
def test_sun_beyond_a_clear_skys_is_asked_about(tmp_path: Path, factor: float, times: str | None) -> None:
    """A cloudless January in kJ/m² an hour is 3.6 times itself; in W/m², bright or at its darkest, nothing is said."""
    clear = clear_sky(Sun.over(INDEX, PLACE["latitude_deg"], PLACE["longitude_deg"]), PLACE["altitude_m"])[0]
    rows = simple(INDEX, TEMPS).splitlines()
    lines = [f"{rows[0]},ghi", *(f"{row},{sun * factor:.3f}" for row, sun in zip(rows[1:], clear, strict=True))]
    notices = MeasuredWeather.read(write(tmp_path, "\n".join(lines)), RIGA).over(**PLACE).notices
    told = [notice for notice in notices if "clear sky's" in notice]
    assert told == (
        []
        if times is None
        else [
            f"own.csv: ghi sums up to {times} times a clear sky's; check the place, or if it is in kJ/m² an hour, "
            "divide by 3.6, in J/m² by 3600."
        ]
    )


def test_nights_without_irradiance_are_dark(tmp_path: Path) -> None:
    """Some loggers leave the night empty: no gap, since the sun is down."""
    index = hours("2027-01-09", 48)
    rows = [f"{stamp:%Y-%m-%d %H:%M},-2.0,{'' if not 8 <= stamp.hour < 17 else 30}" for stamp in index]
    frame = read(write(tmp_path, "\n".join(["time,temp_air,ghi", *rows])))
    assert frame.loc[frame.index.hour < 8, "ghi"].max() == 0.0


@pytest.mark.parametrize("known", [("ghi",), ("ghi", "dni"), ("ghi", "dhi"), ("dni", "dhi")], ids="+".join)
def test_missing_irradiances_are_completed_to_a_sum(tmp_path: Path, known: tuple[str, ...]) -> None:
    """Whatever two of the three are given, the third closes ghi = dni cos z + dhi; one alone is split by Erbs."""
    source = clear_sky_year(58.4, 22.5, 4.0, timezone=RIGA).frame.loc["2027-04-10":"2027-04-12"]
    rows = [
        f"{stamp.isoformat()},5.0,{','.join(repr(float(row[name])) for name in known)}"
        for stamp, row in source.iterrows()
    ]
    frame = read(write(tmp_path, "\n".join([f"time,temp_air,{','.join(known)}", *rows])))
    sun = Sun.over(pd.DatetimeIndex(frame.index), 58.4, 22.5)
    high = sun.cos_zenith > 0.1
    # The year's sun and the day's differ by the reckoning of the earth's rotation, 1e-6 of the irradiance.
    assert np.abs(frame["dni"] * sun.cos_zenith + frame["dhi"] - frame["ghi"])[high].max() < 1e-3
    for name in known:
        assert np.abs(frame[name].to_numpy() - source[name].to_numpy())[high].max() < 1e-9
    if len(known) == 2:
        assert (
            np.abs(frame[["ghi", "dni", "dhi"]].to_numpy() - source[["ghi", "dni", "dhi"]].to_numpy())[high].max()
            < 0.01
        )


def test_cloud_column_dims_the_sun_and_warms_the_sky(tmp_path: Path) -> None:
    index = hours("2027-04-10", 48)
    both = []
    for cloud in (0.0, 1.0):
        rows = [f"{stamp:%Y-%m-%d %H:%M},5.0,{cloud}" for stamp in index]
        both.append(read(write(tmp_path, "\n".join(["time,temp_air,cloud", *rows]))))
    clear, overcast = both
    assert overcast["ghi"].sum() == pytest.approx(0.25 * clear["ghi"].sum(), rel=1e-9)  # Kasten and Czeplak at N = 1
    assert (overcast["temp_sky"] > clear["temp_sky"] + 10.0).all()


def test_place_in_the_file_goes_before_the_stops(tmp_path: Path) -> None:
    text = "# latitude_deg: 40.0\n# longitude_deg: -3.7\n# altitude_m: 650\n" + simple(INDEX, TEMPS)
    record = MeasuredWeather.read(write(tmp_path, text), RIGA).over(**PLACE)
    assert (record.latitude_deg, record.longitude_deg, record.altitude_m) == (40.0, -3.7, 650.0)


def test_a_place_and_a_zone_that_are_asked_for_go_before_the_files(tmp_path: Path) -> None:
    """What was asked for and is the same as the file's, here the longitude, is not said."""
    remarks = "# latitude_deg: 58.4\n# longitude_deg: 22.5\n# altitude_m: 4\n# timezone: Europe/Riga\n"
    path = write(tmp_path, remarks + simple(INDEX, TEMPS))
    asked = read_any(path, timezone="Europe/Stockholm", latitude_deg=67.9, longitude_deg=22.5, altitude_m=400.0)
    assert (asked.latitude_deg, asked.longitude_deg, asked.altitude_m) == (67.9, 22.5, 400.0)
    assert (asked.index == hours("2027-01-09", 72, tz="Europe/Stockholm")).all()
    assert set(asked.notices) - set(read_any(path).notices) == {
        "own.csv: taken as asked: timezone Europe/Stockholm, the file itself says Europe/Riga.",
        "own.csv: taken as asked: latitude_deg 67.9, the file itself says 58.4.",
        "own.csv: taken as asked: altitude_m 400, the file itself says 4.",
    }


def test_written_record_reads_back_to_the_last_bit(tmp_path: Path) -> None:
    """Every float is written by its shortest exact form, and every notice goes along."""
    record = clear_sky_year(58.4, 22.5, 4.0, timezone=RIGA)
    path = tmp_path / "year.csv"
    path.write_text(to_csv(record), encoding="utf-8")
    back = read_any(path)
    assert (back.frame.to_numpy() == record.frame[list(COLUMNS)].to_numpy()).all()
    assert (back.index == record.index).all() and str(back.index.tz) == RIGA
    assert back.notices == record.notices and back.source == record.source
    assert (back.latitude_deg, back.longitude_deg, back.altitude_m) == (58.4, 22.5, 4.0)


def test_description_sums_up_what_is_there() -> None:
    record = clear_sky_year(58.4, 22.5, 4.0, timezone=RIGA)
    told = describe(record)
    assert told["hours"] == 8760 and len(told["months"]) == 12
    january = told["months"][0]
    assert january["month"] == "2027-01" and january["hours"] == 744
    assert january["temp_air"]["mean"] == pytest.approx(record.frame["temp_air"].iloc[:744].mean(), abs=0.005)
    assert told["start"] == "2027-01-01T00:00:00+02:00" and told["end"] == "2028-01-01T00:00:00+02:00"


@pytest.mark.parametrize("name", ["gulf_of_riga_january.csv", "cold_snap.csv"])
def test_samples_are_copies_of_the_packages_own(name: str) -> None:
    packaged = ROOT / "budget" / "weather" / "data" / name
    assert (ROOT / "weather_samples" / name).read_bytes() == packaged.read_bytes()


@pytest.mark.parametrize("name", ["gulf_of_riga_january.csv", "cold_snap.csv"])
def test_samples_cover_a_24_night_tour_from_9_january(name: str) -> None:
    record = read_any(ROOT / "weather_samples" / name)
    assert record.index[0] == pd.Timestamp("2027-01-01", tz=RIGA)
    assert record.index[-1] == pd.Timestamp("2027-02-04 23:00", tz=RIGA)
    assert (record.latitude_deg, record.longitude_deg, record.altitude_m) == (58.4, 22.5, 4.0)


def test_cold_snap_is_a_spell_of_twenty_two_below() -> None:
    """The README's words: five days about -22 °C, lowest -24.7."""
    daily = read_any(ROOT / "weather_samples" / "cold_snap.csv").frame["temp_air"].resample("D").mean()
    assert (daily < -19.0).sum() == 6 and daily.min() > -25.0


def test_sample_of_january_is_a_plausible_maritime_winter() -> None:
    """Invented, so judged by what it must not be: outside -15 to 8 °C, dry, calm or sunny."""
    frame = read_any(ROOT / "weather_samples" / "gulf_of_riga_january.csv").frame
    assert -4.0 < frame["temp_air"].mean() < -1.0 and frame["temp_air"].between(-15.0, 8.0).all()
    assert frame["relative_humidity"].mean() > 85.0 and 4.0 < frame["wind_speed"].mean() < 8.0
    assert 5.0 < frame["ghi"].mean() < 25.0  # W/m²; a clear January at 58° N would have 33
    saturated = humidity_percent(frame["temp_air"].to_numpy(), saturation_pressure_pa(frame["temp_air"].to_numpy()))
    assert (frame["relative_humidity"].to_numpy() <= saturated).all()
