"""Weather that cannot be used, and the whole sentence that each fault must produce.

FILE in a sentence stands for the file's path.
"""

from __future__ import annotations

import gzip
import json
import os
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from typical_years import MADE

from budget.errors import InputFault
from budget.tour.model import Tour
from budget.tour.timeline import Timeline
from budget.weather import files
from budget.weather.read import read_any
from budget.weather.record import COLUMNS, HourlyWeather
from budget.weather.tour_weather import for_tour
from budget.weather.typical_year import TypicalYear
from budget.weather.user_csv import MeasuredWeather

ROOT = Path(__file__).parents[2]
EPW = (ROOT / "weather_samples" / "invented_station.epw").read_text()
INDEX = pd.date_range("2027-01-09", periods=60, freq="h")
PLACE = {"latitude_deg": 58.4, "longitude_deg": 22.5, "altitude_m": 4.0}
FAHRENHEIT = (
    "if it is in °F, convert it with (F - 32) / 1.8 (a CSV may name the column temp_air_f), if in K, subtract 273.15"
)


def table(value: Any = "-3.0", name: str = "temp_air", first: str = "-3.0") -> str:
    """Sixty hours with one more column, or with a temperature of one's own."""
    if name == "temp_air":
        return "time,temp_air\n" + "".join(f"{stamp:%Y-%m-%d %H:%M},{value}\n" for stamp in INDEX)
    rows = "".join(f"{stamp:%Y-%m-%d %H:%M},{first},{value}\n" for stamp in INDEX)
    return f"time,temp_air,{name}\n{rows}"


def changed(line: int, text: str) -> str:
    lines = table().split("\n")
    lines[line - 1] = text
    return "\n".join(lines)


def without(first: int, count: int) -> str:
    lines = table().split("\n")
    return "\n".join(lines[:first] + lines[first + count :])


CSV_FAULTS: dict[str, tuple[str, str]] = {
    "no_rows": (
        "time,temp_air\n",
        "FILE: a weather CSV must hold a heading and at least two rows, got 0; it seems cut short.",
    ),
    "one_row": (
        "time,temp_air\n2027-01-09 00:00,-3\n",
        "FILE: a weather CSV must hold a heading and at least two rows, got 1; it seems cut short.",
    ),
    "no_time": (
        table().replace("time,", "when,"),
        "FILE: a weather CSV must have the columns time and temp_air, got when, temp_air; name the column time.",
    ),
    "no_temperature": (
        table().replace("temp_air", "outside"),
        "FILE: a weather CSV must have the columns time and temp_air, got time, outside; name the column temp_air.",
    ),
    "misspelt_column": (
        table("3", "wind_sped"),
        "FILE: the column 'wind_sped' is not known; did you mean wind_speed?",
    ),
    "both_temperatures": (
        table("3", "temp_air_f"),
        "FILE: give either temp_air [°C] or temp_air_f [°F], got both; remove one.",
    ),
    "column_twice": (
        table("3", "temp_air,ghi,ghi").replace(",3\n", ",3,4\n").replace("temp_air,temp_air", "temp_air"),
        "FILE: every column must stand once, got ghi twice; remove one.",
    ),
    "too_few_values": (
        changed(5, "2027-01-09 03:00"),
        "FILE, line 5: must have 2 values as the heading has, got 1; complete it.",
    ),
    "decimal_comma_between_commas": (
        changed(5, "2027-01-09 03:00,-3,5"),
        "FILE, line 5: must have 2 values as the heading has, got 3; "
        "with decimal commas, separate the columns by semicolons.",
    ),
    "word_for_number": (
        changed(7, "2027-01-09 05:00,cold"),
        "FILE, line 7: temp_air must be a number [°C], got 'cold'; correct it or leave it empty.",
    ),
    "infinity": (
        changed(7, "2027-01-09 05:00,inf"),
        "FILE, line 7: temp_air must be a number [°C], got 'inf'; correct it or leave it empty.",
    ),
    "wind_word": (
        table("calm", "wind_speed"),
        "FILE, line 2: wind_speed must be a number [m/s], got 'calm'; correct it or leave it empty.",
    ),
    "american_date": (
        changed(4, "01/09/2027 02:00,-3"),
        "FILE, line 4: time must read YYYY-MM-DD HH:MM, with a UTC offset such as +02:00 if wanted, "
        "got '01/09/2027 02:00'; rewrite the column.",
    ),
    "date_that_does_not_exist": (
        changed(4, "2027-02-30 02:00,-3"),
        "FILE, line 4: time must read YYYY-MM-DD HH:MM, with a UTC offset such as +02:00 if wanted, "
        "got '2027-02-30 02:00'; rewrite the column.",
    ),
    "seconds_since_1970": (
        changed(4, "1799452800,-3"),
        "FILE, line 4: time must read YYYY-MM-DD HH:MM, with a UTC offset such as +02:00 if wanted, "
        "got '1799452800'; rewrite the column.",
    ),
    "year_0027": (
        changed(4, "0027-01-09 02:00,-3"),
        "FILE, line 4: time must read YYYY-MM-DD HH:MM, with a UTC offset such as +02:00 if wanted, "
        "got '0027-01-09 02:00'; rewrite the column.",
    ),
    "some_offsets": (
        changed(6, "2027-01-09 04:00+02:00,-3"),
        "FILE, line 6: either every time must carry a UTC offset or none, got both; make them alike.",
    ),
    "hour_that_the_clocks_skip": (
        "time,temp_air\n" + "".join(f"2027-03-28 {hour:02d}:00,5\n" for hour in range(24)),
        "FILE, line 5: time must exist on the clocks of Europe/Riga, got 2027-03-28 03:00, which they skip; "
        "give every time a UTC offset such as +02:00.",
    ),
    "time_twice": (
        changed(9, "2027-01-09 06:00,-3"),
        "FILE, line 9: every time must stand once, got 2027-01-09 04:00 UTC at line 8 already; remove one of the rows.",
    ),
    "daily_values": (
        "time,temp_air\n" + "".join(f"2027-01-{day:02d},-3\n".replace(",", " 00:00,") for day in range(1, 31)),
        "FILE: a weather CSV must have a row at least every 3 h, got one every 24 h; use a finer record.",
    ),
    "long_gap": (
        without(20, 4),
        "FILE: temp_air may lack at most 3 h on end, got no value for 4 h from 2027-01-09 19:00; fill the gap.",
    ),
    "long_gap_in_another_column": (
        table("3.0", "wind_speed").replace(
            "".join(f"2027-01-09 {hour:02d}:00,-3.0,3.0\n" for hour in range(5, 10)),
            "".join(f"2027-01-09 {hour:02d}:00,-3.0,\n" for hour in range(5, 10)),
        ),
        "FILE: wind_speed may lack at most 3 h on end, got no value for 5 h from 2027-01-09 05:00; "
        "fill the gap or leave the column out.",
    ),
    "no_temperatures_at_all": (
        table(""),
        "FILE: temp_air may lack at most 3 h on end, got no value for 60 h from 2027-01-09 00:00; fill the gap.",
    ),
    "fahrenheit_in_july": (
        table("77.5"),
        f"FILE: temp_air must be in °C, got nothing below 77.5; {FAHRENHEIT}.",
    ),
    "fahrenheit_in_january": (
        table("27.0"),
        f"own.csv: temp_air must be in °C, got a mean of 27.0 where about -4 °C is usual for the place and season; "
        f"{FAHRENHEIT}.",
    ),
    "kelvin": (
        table("270.15"),
        f"FILE: temp_air must be in °C, got nothing below 270.1; {FAHRENHEIT}.",
    ),
    "hotter_than_the_earth": (
        changed(9, "2027-01-09 07:00,68.0"),
        f"FILE: temp_air must lie between -90 and 60 °C, got -3 to 68; {FAHRENHEIT}.",
    ),
    "colder_than_the_earth": (
        changed(9, "2027-01-09 07:00,-99.9"),
        f"FILE: temp_air must lie between -90 and 60 °C, got -99.9 to -3; {FAHRENHEIT}.",
    ),
    "humidity_beyond_measure": (
        table("850", "relative_humidity"),
        "FILE: relative_humidity must lie between 0 and 105 %, got 850 to 850; "
        "check the column; a share from 0 to 1 needs multiplying by 100.",
    ),
    "humidity_as_a_share": (
        table("0.85", "relative_humidity"),
        "FILE: relative_humidity must be in %, got nothing above 0.85; "
        "check the column; a share from 0 to 1 needs multiplying by 100.",
    ),
    "negative_humidity": (
        table("-5", "relative_humidity"),
        "FILE: relative_humidity must lie between 0 and 105 %, got -5 to -5; "
        "check the column; a share from 0 to 1 needs multiplying by 100.",
    ),
    "negative_wind": (
        table("-2", "wind_speed"),
        "FILE: wind_speed must lie between 0 and 75 m/s, got -2 to -2; if it is in km/h, divide by 3.6, "
        "in knots by 1.944.",
    ),
    "pressure_in_hectopascals": (
        table("1013", "pressure"),
        "FILE: pressure must lie between 45000 and 110000 Pa, got 1013 to 1013; if it is in hPa or mbar, "
        "multiply by 100, in kPa by 1000, in mmHg by 133.3.",
    ),
    "brighter_than_the_sun": (
        table("1800", "ghi"),
        "FILE: ghi must lie between -50 and 1500 W/m², got 1800 to 1800; if it is in kJ/m² an hour, "
        "divide by 3.6, in J/m² by 3600.",
    ),
    "sun_in_kilowatt_hours": (
        table("0.2", "ghi"),
        "own.csv: ghi must be in W/m², got nothing above 0.2 where a clear sky gives 115; if it is in kWh/m² an hour, "
        "multiply by 1000, in MJ/m² by 277.8, or leave the column out.",
    ),
    "cloud_in_percent": (
        table("80", "cloud"),
        "FILE: cloud must lie between 0 and 1 (0 clear, 1 overcast), got 80 to 80; "
        "divide percent by 100, tenths by 10, eighths by 8.",
    ),
    "unknown_zone": (
        "# timezone: Europe/Kuressaare\n" + table(),
        "FILE: timezone must be an IANA time zone such as Europe/Riga, got 'Europe/Kuressaare'; correct the remark.",
    ),
    "latitude_beyond_the_pole": (
        "# latitude_deg: 584\n" + table(),
        "FILE: latitude_deg must be a number from -90 to 90 °, got '584'; correct the remark.",
    ),
    "altitude_in_words": (
        "# altitude_m: sea level\n" + table(),
        "FILE: altitude_m must be a number from -450 to 6000 m, got 'sea level'; correct the remark.",
    ),
}


def refused(path: Path, act: Any) -> str:
    with pytest.raises(InputFault) as caught:
        act()
    assert caught.value.exit_code == 1
    return str(caught.value).replace(str(path), "FILE")


@pytest.mark.parametrize("name", CSV_FAULTS)
def test_faulty_csv_gets_its_sentence(tmp_path: Path, name: str) -> None:
    text, sentence = CSV_FAULTS[name]
    path = tmp_path / "own.csv"
    path.write_text(text, encoding="utf-8")
    assert refused(path, lambda: MeasuredWeather.read(path, "Europe/Riga").over(**PLACE)) == sentence


def test_sound_table_is_read(tmp_path: Path) -> None:
    """The table that the faults are made from has none of its own."""
    path = tmp_path / "own.csv"
    path.write_text(table(), encoding="utf-8")
    assert len(MeasuredWeather.read(path, "Europe/Riga").over(**PLACE).frame) == 60


def test_csv_without_a_place_is_refused_where_nobody_else_knows_it(tmp_path: Path) -> None:
    path = tmp_path / "own.csv"
    path.write_text(table(), encoding="utf-8")
    assert refused(path, lambda: read_any(path)) == (
        "FILE: the station's place is needed, got no latitude_deg, longitude_deg, altitude_m; add lines such as "
        "'# latitude_deg: 58.4', '# longitude_deg: 22.5' and '# altitude_m: 4' at its top, or give --place 58.4,22.5,4."
    )


BYTES_FAULTS: dict[str, tuple[bytes, str]] = {
    "empty": (b"", "FILE: must hold weather, got an empty file; save or download it again."),
    "blank": (b" \n\n\t\n", "FILE: must hold weather, got an empty file; save or download it again."),
    "zip": (b"PK\x03\x04rest", "FILE: must be a text file, got a zip archive; unpack it first."),
    "gzip": (gzip.compress(b"time,temp_air"), "FILE: must be a text file, got a gzip archive; unpack it first."),
    "binary": (
        b"\x89HDF\r\n\x00\x00\x01\x02",
        "FILE: must be a text file, got binary data; export the weather as CSV or EPW.",
    ),
    "latin_1": (
        "time,temp_air,Böe\n2027-01-09 00:00,1,2\n".encode("latin-1"),
        "FILE: must be text in UTF-8, got another encoding; save it again as UTF-8.",
    ),
}


@pytest.mark.parametrize("name", BYTES_FAULTS)
def test_what_is_no_text_gets_its_sentence(tmp_path: Path, name: str) -> None:
    content, sentence = BYTES_FAULTS[name]
    path = tmp_path / "weather"
    path.write_bytes(content)
    assert refused(path, lambda: read_any(path)) == sentence


def test_prose_is_no_weather(tmp_path: Path) -> None:
    path = tmp_path / "letter.txt"
    path.write_text("It was cold and it rained\nall the week.\nWe stayed in.\n")
    assert refused(path, lambda: TypicalYear.read(path)) == (
        "FILE: must be a typical-year file (EPW, TMY3, TMY2, PVGIS (CSV or JSON), NSRDB or SAM CSV, or a CSV with the "
        "columns time and temp_air), got something else; check the file."
    )
    assert refused(path, lambda: read_any(path)) == (
        "FILE: a weather CSV must have the columns time and temp_air, got it was cold and it rained; "
        "name the column time."
    )


def test_missing_file_directory_and_giant(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "nowhere.epw"
    assert refused(path, lambda: read_any(path)) == (
        "FILE: a weather file is needed, got no such file; check the name and the folder."
    )
    assert refused(tmp_path, lambda: read_any(tmp_path)) == (
        "FILE: a weather file is needed, got a directory; name a file in it."
    )
    path.write_text(table())
    monkeypatch.setattr(files, "MOST_BYTES", 1024)
    with path.open("ab") as stream:
        stream.truncate(3 * 2**20)
    monkeypatch.setattr(files, "MOST_BYTES", 2 * 2**20)
    assert refused(path, lambda: read_any(path)) == (
        "FILE: a weather file may hold at most 2 MB, got 3 MB; cut it to the tour's dates."
    )


def test_limit_for_giants_is_64_megabytes() -> None:
    assert files.MOST_BYTES == 64 * 2**20


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="root may read everything")
def test_unreadable_file(tmp_path: Path) -> None:
    path = tmp_path / "shut.epw"
    path.write_text(EPW)
    path.chmod(0)
    assert refused(path, lambda: read_any(path)) == (
        "FILE: must be readable, got 'Permission denied'; check the file's permissions."
    )


def epw_with(column: int, value: str) -> str:
    lines = EPW.strip().split("\n")
    for number in range(8, len(lines)):
        cells = lines[number].split(",")
        cells[column] = value
        lines[number] = ",".join(cells)
    return "\n".join(lines)


def epw_fahrenheit() -> str:
    lines = EPW.strip().split("\n")
    for number in range(8, len(lines)):
        cells = lines[number].split(",")
        cells[6] = f"{float(cells[6]) * 1.8 + 32.0:.1f}"
        lines[number] = ",".join(cells)
    return "\n".join(lines)


EPW_LINES = EPW.strip().split("\n")
YEAR_FAULTS: dict[str, tuple[str, str]] = {
    "truncated": (
        "\n".join(EPW_LINES[:5000]),
        "FILE: a typical year must hold 8760 hours, got 4992 in this EPW file; "
        "it seems cut short: download or export it again.",
    ),
    "header_only": (
        "\n".join(EPW_LINES[:8]),
        "FILE: a typical year must hold 8760 hours, got 0 in this EPW file; "
        "it seems cut short: download or export it again.",
    ),
    "repeated_rows": (
        "\n".join([*EPW_LINES, *EPW_LINES[8:32]]),
        "FILE: a typical year must hold every hour once, got 24 twice; download or export it again.",
    ),
    "no_coordinates": (
        EPW.replace("58.40,22.50", "north,22.50", 1),
        "FILE: must be a whole EPW file, could not be read (could not convert string to float: 'north'); "
        "download or export it again.",
    ),
    "station_nowhere": (
        EPW.replace("58.40,22.50", "158.40,22.50", 1),
        "FILE: the station must lie within ± 90° and ± 180°, got 158.4, 22.5; correct the header.",
    ),
    "fahrenheit": (
        epw_fahrenheit(),
        f"FILE: temp_air must lie between -90 and 60 °C, got 10.2 to 78.6; {FAHRENHEIT}.",
    ),
    "all_missing": (
        epw_with(6, "99.9"),
        "FILE: temp_air may lack at most 3 h on end, got no value for 8760 h from 2027-01-01 00:00; fill the gap.",
    ),
    "row_without_a_date": (
        MADE["lst.csv"][0].replace("03/01/2019 04:30", "", 1),
        "FILE: every row of a typical year must carry its date and hour, got 1 without in this TMY3-like CSV with "
        "local standard time file; download or export it again.",
    ),
    "json_of_something_else": (
        json.dumps({"inputs": {}, "outputs": {"monthly": []}}),
        "FILE: must be a whole PVGIS JSON file, could not be read ('meta'); download or export it again.",
    ),
    "json_cut_short": (
        '{"inputs": {"location": {"latitude": 58.4',
        "FILE: must be a whole PVGIS JSON file, could not be read "
        "(Expecting ',' delimiter: line 1 column 42 (char 41)); download or export it again.",
    ),
}


@pytest.mark.parametrize("name", YEAR_FAULTS)
def test_faulty_typical_year_gets_its_sentence(tmp_path: Path, name: str) -> None:
    text, sentence = YEAR_FAULTS[name]
    path = tmp_path / "year.txt"
    path.write_text(text, encoding="utf-8")
    assert refused(path, lambda: read_any(path)) == sentence


def one_tour(
    weather: dict[str, Any],
    start: str = "2027-01-09",
    end: str = "2027-01-20",
    place: str = "Kuressaare",
    at: tuple[float, float] = (58.25, 22.48),
    timezone: str = "Europe/Riga",
) -> Tour:
    stop = {"place": place, "arrive": f"{start}T12:00", "latitude_deg": at[0], "longitude_deg": at[1]}
    return Tour.model_validate(
        {
            "timezone": timezone,
            "start": f"{start}T12:00",
            "end": f"{end}T12:00",
            "stops": [stop | {"altitude_m": 4.0}],
            "schedules": {"a": {"steps": [{"at": "07:00", "air_c": 19}]}},
            "schedule": "a",
            "weather": weather,
        }
    )


@pytest.mark.parametrize(
    ("start", "end", "got"),
    [
        ("2027-01-09", "2027-01-20", "2027-01-09 12:00 to 2027-01-20 12:00"),
        ("2027-01-07", "2027-01-10", "2027-01-07 12:00 to 2027-01-10 12:00"),
        ("2026-01-09", "2026-01-11", "2026-01-09 12:00 to 2026-01-11 12:00"),
    ],
)
def test_weather_that_does_not_cover_the_tour(tmp_path: Path, start: str, end: str, got: str) -> None:
    path = tmp_path / "own.csv"
    path.write_text(table())
    one = one_tour({"source": "csv", "file": "own.csv"}, start, end)
    assert refused(path, lambda: for_tour(one, Timeline.of(one), folder=tmp_path)) == (
        f"FILE: the weather must cover the tour, {got}, got 2027-01-09 00:00 to 2027-01-11 12:00; "
        "take a longer record or move the tour's dates."
    )


GUESSED = (
    "weather.climate.mean_c must give twelve monthly mean temperatures [°C], got none; from latitude and altitude they "
    "can be estimated only in Europe and round the Mediterranean (27 to 72° N, 25° W to 40° E) and from 33 to 56° S, "
    "and elsewhere a January inland may be 15 to 30 K colder: take them from the nearest weather station, or name a "
    "weather file."
)


def test_tour_where_no_estimate_holds_needs_monthly_means(tmp_path: Path) -> None:
    """With means, or with a file for all, it needs none; southern stops are estimated."""
    path = tmp_path / "own.csv"
    path.write_text(table())
    winnipeg = {"place": "Winnipeg", "at": (49.9, -97.1), "timezone": "America/Winnipeg"}
    one = one_tour({}, end="2027-01-10", **winnipeg)
    assert refused(path, lambda: for_tour(one, Timeline.of(one), folder=tmp_path)) == f"weather at Winnipeg: {GUESSED}"
    assert len(for_tour(one, Timeline.of(one), folder=tmp_path, file_for_all=path).frame) == 24
    known = one_tour({"climate": {"mean_c": [-16.0] * 12}}, end="2027-01-10", **winnipeg)
    assert len(for_tour(known, Timeline.of(known), folder=tmp_path).frame) == 24
    south = one_tour({}, end="2027-01-10", place="Tekapo", at=(-44.0, 170.5), timezone="Pacific/Auckland")
    assert len(for_tour(south, Timeline.of(south), folder=tmp_path).frame) == 24


def test_coordinates_that_were_swapped_are_asked_about_where_no_estimate_holds(tmp_path: Path) -> None:
    one = one_tour({}, place="Ivalo", at=(27.4, 68.6), timezone="Europe/Helsinki")
    told = refused(tmp_path, lambda: for_tour(one, Timeline.of(one), folder=tmp_path)).split("\n")
    assert told[0] == f"weather at Ivalo: {GUESSED}"
    assert told[1].startswith("Is Ivalo (27.4° N, 68.6° E) right for Europe/Helsinki?")


def test_source_of_another_kind_than_the_file(tmp_path: Path) -> None:
    path = tmp_path / "own.csv"
    path.write_text(table())
    one = one_tour({"source": "typical-year", "file": "own.csv"})
    assert refused(path, lambda: for_tour(one, Timeline.of(one), folder=tmp_path)) == (
        "weather at Kuressaare: the source is 'typical-year', but FILE is a csv file; write source = \"csv\"."
    )


def test_gap_within_the_tour(tmp_path: Path) -> None:
    path = tmp_path / "own.csv"
    path.write_text(without(20, 5))
    one = one_tour({"source": "csv", "file": "own.csv"}, "2027-01-09", "2027-01-10")
    assert refused(path, lambda: for_tour(one, Timeline.of(one), folder=tmp_path)) == (
        "FILE: temp_air may lack at most 3 h on end, got no value for 5 h from 2027-01-09 19:00; fill the gap."
    )


def record(index: pd.DatetimeIndex, **columns: Any) -> HourlyWeather:
    usual = {"temp_air": 0.0, "relative_humidity": 80.0, "wind_speed": 3.0, "pressure": 101_000.0, "temp_sky": -8.0}
    values = {name: columns.get(name, usual.get(name, 0.0)) for name in COLUMNS}
    return HourlyWeather(pd.DataFrame(values, index=index), (), "record", 58.4, 22.5, 4.0)


AWARE = INDEX.tz_localize("UTC")


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (
            lambda: record(INDEX),
            "record: a weather record must hold at least one hour with a time zone, got none.",
        ),
        (
            lambda: record(AWARE[[0, 1, 3]]),
            "record: a weather record must have one row for each hour, in order, without gaps.",
        ),
        (
            lambda: record(AWARE, wind_speed=np.where(np.arange(60) == 5, np.nan, 3.0)),
            "record: wind_speed must have a value for every hour, got 1 without; fill or remove them.",
        ),
    ],
)
def test_half_built_record_does_not_exist(make: Any, sentence: str) -> None:
    assert refused(Path("/nowhere"), make) == sentence


def test_a_page_of_prose_is_not_quoted_back_whole(tmp_path: Path) -> None:
    """A long first line is shown by its beginning, so that the sentence can still be read."""
    path = tmp_path / "letter.csv"
    path.write_text("dear reader " * 400 + "\nsecond line\nthird line\n", "utf-8")
    with pytest.raises(InputFault) as told:
        read_any(path)
    assert len(str(told.value)) < 300 + len(str(path))
    assert str(told.value).endswith("…; name the column time.")
