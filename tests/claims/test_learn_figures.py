"""Logs by figures: every cell, limit and remark of a file, and each step from readings to hours, by hand."""

from __future__ import annotations

import hashlib
import os
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace as Found
from typing import Any

import numpy as np
import pandas as pd
import pytest

from budget.answers.measured import log_file
from budget.answers.measured.log_file import LogFile
from budget.answers.measured.logged_night import (
    METERED,
    OFF,
    WEIGHED,
    Night,
    Stretch,
    _at_edge,
    _between,
    _doubts,
    _energy,
    _runs,
    lay_out,
    together,
)
from budget.errors import InputFault

ROWS = ("2027-01-20 18:00", "2027-01-20 18:10", "2027-01-20 18:20")


def read(folder: Path, text: str | bytes, zone: str = "Europe/Riga") -> LogFile:
    path = folder / "n.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return LogFile.read(path, zone)


def refused(folder: Path, text: str | bytes) -> str:
    with pytest.raises(InputFault) as fault:
        read(folder, text)
    return str(fault.value).replace(str(folder / "n.csv"), "LOG")


def table(heading: str, *cells: str, separator: str = ",") -> str:
    rows = [separator.join((time, cell)) for time, cell in zip(ROWS, cells, strict=False)]
    return "\n".join((separator.join(("time", heading)), *rows)) + "\n"


# A file


def test_a_plain_log_is_read_cell_by_cell(tmp_path: Path) -> None:
    text = table(
        "inside_c,outside_c,heater_w,mains_kwh,gas_kg", "20,-5,1500,10.5,23.1", "19.5,,0,10.75,", "nan,-6,,11,22.9"
    )
    log = read(tmp_path, text)
    nan = float("nan")
    assert log.inside_c.tolist() == pytest.approx([20.0, 19.5, nan], nan_ok=True)
    assert log.outside_c.tolist() == pytest.approx([-5.0, nan, -6.0], nan_ok=True)
    assert log.heater_w.tolist() == pytest.approx([1500.0, 0.0, nan], nan_ok=True)
    assert log.mains_kwh.tolist() == pytest.approx([10.5, 10.75, 11.0])
    assert log.gas_kg.tolist() == pytest.approx([23.1, nan, 22.9], nan_ok=True)
    assert log.energy == ("heater_w", "mains_kwh", "gas_kg")
    assert log.path == tmp_path / "n.csv"
    assert log.sha256 == hashlib.sha256(text.encode()).hexdigest()
    assert (log.timezone, log.notices) == ("Europe/Riga", ())
    assert log.remarks == {"wind_m_per_s": 2.0, "screens_share": 1.0, "sky_delta_k": 5.0}
    stamps = pd.DatetimeIndex([f"2027-01-20T16:{minute}:00Z" for minute in ("00", "10", "20")])
    assert (log.stamps == stamps).all()
    bare = read(tmp_path, table("inside_c,outside_c", "20,-5", "19,-5"))
    assert bare.energy == ()
    for name in ("heater_w", "mains_kwh", "gas_kg"):
        assert np.isnan(getattr(bare, name)).all() and len(getattr(bare, name)) == 2


@pytest.mark.parametrize(
    "change",
    [
        lambda text: text.replace("\n", "\r\n"),
        lambda text: text.replace("\n", "\r"),
        lambda text: "\ufeff" + text,
        lambda text: text.replace(",", ";"),
        lambda text: text.replace(",", "\t"),
        lambda text: text.replace(",", ";").replace(".", ","),
        lambda text: text.replace("-5", "\u22125"),
        lambda text: text.replace("inside_c", " Inside_C [°C] ").replace("outside_c", "OUTSIDE_C (°C)"),
        lambda text: "\n\n  \n;;,,\n" + text.replace("19.5", " 19.5 ") + "\n,,\n",
        lambda text: text.replace("\n", ",\n"),
        lambda text: "# a remark\n  # another: one\n" + text,
    ],
)
def test_a_log_is_read_whatever_wrote_it(change: Any, tmp_path: Path) -> None:
    log = read(tmp_path, change(table("inside_c,outside_c", "20,-5", "19.5,-5.5", "19,-6")))
    assert log.inside_c.tolist() == [20.0, 19.5, 19.0]
    assert log.outside_c.tolist() == [-5.0, -5.5, -6.0]
    assert log.notices == ()


def test_every_word_for_nothing_is_nothing(tmp_path: Path) -> None:
    for word in ("", "nan", "NaN", "NA", "n/a", "null", "None", "-", "--"):
        log = read(tmp_path, table("inside_c,outside_c", "20,-5", f"{word},-5"))
        assert np.isnan(log.inside_c[1]), word


@pytest.mark.parametrize("name", log_file.COLUMNS)
def test_a_reading_may_be_at_its_limits_and_not_beyond(name: str, tmp_path: Path) -> None:
    unit, low, high = log_file.COLUMNS[name]
    others = {"inside_c", "outside_c"} - {name.replace("_f", "_c")}
    heading = ",".join(
        (*sorted(others), name) if name[:-2] in ("inside", "outside") else ("inside_c", "outside_c", name)
    )
    rest = ",".join("1" for _ in heading.split(",")[1:])
    log = read(tmp_path, table(heading, f"{rest},{low!r}", f"{rest},{high!r}"))
    if name.endswith("_f"):
        values = getattr(log, f"{name[:-2]}_c").tolist()
        assert values == pytest.approx([(low - 32.0) / 1.8, (high - 32.0) / 1.8])
        assert log.notices == (f"n.csv: {name} is converted to °C.",)
    else:
        assert getattr(log, name).tolist() == [low, high]
    for line, value in ((2, low - 0.01), (3, high + 0.01)):
        cells = [f"{rest},{low!r}", f"{rest},{high!r}"]
        cells[line - 2] = f"{rest},{value:.2f}"
        assert refused(tmp_path, table(heading, *cells)) == (
            f"LOG, line {line}: {name} must be a number from {low:g} to {high:g} {unit}, got '{value:.2f}'; correct it "
            "or leave it empty."
        )
    assert "got 'warm'" in refused(tmp_path, table(heading, f"{rest},warm", f"{rest},{low!r}"))


def test_a_decimal_comma_is_understood_where_commas_do_not_part_the_columns(tmp_path: Path) -> None:
    log = read(tmp_path, "time;inside_c;outside_c\n2027-01-20 18:00;20,25;-5,5\n2027-01-20 18:10;19;-6\n")
    assert (log.inside_c[0], log.outside_c[0]) == (20.25, -5.5)
    quoted = 'time,inside_c,outside_c\n2027-01-20 18:00,"20,25",-5\n2027-01-20 18:10,19,-6\n'
    assert "inside_c must be a number from -50 to 60 °C, got '20,25'" in refused(tmp_path, quoted)


@pytest.mark.parametrize("name", log_file.REMARKS)
def test_remarks_are_taken_within_their_limits(name: str, tmp_path: Path) -> None:
    _, low, high = log_file.REMARKS[name]
    plain = table("inside_c,outside_c", "20,-5", "19,-5")
    for value in (low, high, 0.5 * (low + high)):
        log = read(tmp_path, f"# {name}: {value:g}\n{plain}")
        assert log.remarks == {other: three[0] for other, three in log_file.REMARKS.items()} | {name: value}
    assert read(tmp_path, f"#{name} : 0,5\n{plain}").remarks[name] == 0.5
    for value in (f"{low - 0.1:g}", f"{high + 0.1:g}", "much"):
        assert refused(tmp_path, f"# {name}: {value}\n{plain}") == (
            f"LOG: {name} must be a number from {low:g} to {high:g}, got '{value}'; correct it."
        )


def test_a_file_may_name_its_own_time_zone(tmp_path: Path) -> None:
    plain = table("inside_c,outside_c", "20,-5", "19,-5")
    log = read(tmp_path, f"# timezone: America/Sao_Paulo\n{plain}")
    assert log.timezone == "America/Sao_Paulo"
    assert log.stamps[0] == pd.Timestamp("2027-01-20T21:00:00Z")
    assert "Nowhere/Town" in refused(tmp_path, f"# timezone: Nowhere/Town\n{plain}")


def test_columns_that_are_not_known_are_named_or_taken_for_a_slip(tmp_path: Path) -> None:
    log = read(tmp_path, table("inside_c,outside_c,comment,dew", "20,-5,x,1", "19,-5,,"))
    assert log.notices == (
        "n.csv: the column 'comment' is not known and is ignored.",
        "n.csv: the column 'dew' is not known and is ignored.",
    )
    assert refused(tmp_path, table("inside_c,outside_c,mains_kw", "20,-5,1", "19,-5,1")) == (
        "LOG: the column 'mains_kw' is not known; did you mean mains_kwh?"
    )
    assert refused(tmp_path, table("inside_c,x", "20,-5", "19,-5")) == (
        "LOG: a log must have the columns time, inside_c and outside_c, got time, inside_c, x; give a column the name "
        "outside_c."
    )
    assert refused(tmp_path, table("outside_c,,x", "20,-5,", "19,-5,")).endswith(
        "got time, outside_c, x; give a column the name inside_c."
    )
    without_time = "t,inside_c,outside_c\n2027-01-20 18:00,1,2\n2027-01-20 18:10,1,2\n"
    assert refused(tmp_path, without_time).endswith("got t, inside_c, outside_c; give a column the name time.")
    assert refused(tmp_path, table("outside_c,outside_f,inside_c", "1,1,1", "1,1,1")) == (
        "LOG: give either outside_c or outside_f, got both; remove one."
    )
    assert refused(tmp_path, table("outside_c,inside_c,b,a,a,b", "1,1,,,,", "1,1,,,,")) == (
        "LOG: every column must stand once, got a twice; remove one."
    )


def test_a_row_has_a_cell_for_each_column_and_nothing_beyond(tmp_path: Path) -> None:
    assert read(tmp_path, table("inside_c,outside_c", "20,-5,,", "19,-5, ")).inside_c.tolist() == [20.0, 19.0]
    for row, count in (("20,-5,7", 4), ("20", 2)):
        assert refused(tmp_path, table("inside_c,outside_c", "19,-5", row)) == (
            f"LOG, line 3: must have 3 values as the heading has, got {count}; complete it, or with decimal commas "
            "separate the columns by semicolons."
        )


def test_readings_out_of_order_are_sorted_and_said(tmp_path: Path) -> None:
    lines = table("inside_c,outside_c", "20,-5", "19,-5", "18,-5").splitlines()
    log = read(tmp_path, "\n".join([lines[0], lines[3], lines[1], lines[2]]) + "\n")
    assert log.inside_c.tolist() == [20.0, 19.0, 18.0]
    assert len(log.notices) == 1


def test_what_is_no_file_of_readings_is_refused(tmp_path: Path) -> None:
    def told(path: Path) -> str:
        with pytest.raises(InputFault) as fault:
            LogFile.read(path, "Europe/Riga")
        return str(fault.value).removeprefix(f"{path}: ")

    (tmp_path / "folder").mkdir()
    assert told(tmp_path / "folder") == "a log must be a CSV file, got a folder; name a file in it."
    if not hasattr(os, "mkfifo"):
        return
    os.mkfifo(tmp_path / "pipe")
    assert told(tmp_path / "pipe") == ("a log must be an ordinary file, got a device or pipe; save it to a file first.")
    for missing in (tmp_path / "none.csv", tmp_path / "pipe" / "none.csv"):
        assert told(missing) == "a log is needed, got no such file; check the name and the folder."
    large = tmp_path / "large.csv"
    with open(large, "wb") as file:
        file.truncate(log_file.MOST_BYTES + 1)
    assert told(large) == "a log may hold at most 16 MB; cut it to one night."
    assert "must be readable, got 'File name too long'; check the file's permissions." in told(tmp_path / ("x" * 300))
    assert refused(tmp_path, b"time,inside_c\xff\n") == (
        "LOG: a log must be text in UTF-8, got something else; export it as CSV."
    )
    assert (
        refused(tmp_path, "\n" * 100_001)
        == "LOG: a log may hold at most 100,000 lines, got 100,001; cut it to one night."
    )
    assert "a heading and two readings" in refused(tmp_path, "\n" * 100_000)


def test_a_meter_may_stand_still_and_miss_readings_but_not_fall(tmp_path: Path) -> None:
    text = table("inside_c,outside_c,mains_kwh", "20,-5,5", "19,-5,", "18,-5,5")
    assert read(tmp_path, text).mains_kwh[2] == 5.0
    fallen = table("inside_c,outside_c,mains_kwh", "20,-5,5", "19,-5,", "18,-5,4.99")
    assert "must not fall, got 4.99 after 5 kWh" in refused(tmp_path, fallen)


# On hours


def test_between_readings_lies_a_line_and_nothing_in_long_gaps_or_beyond_the_ends() -> None:
    seconds = np.array([0.0, 100.0, 200.0, 2000.0])
    values = np.array([10.0, np.nan, 20.0, 38.0])
    found = _between(seconds, values, np.array([0.0, 100.0, 200.0, 650.0, 2000.0]), 1000.0)
    assert found.tolist() == pytest.approx([10.0, 15.0, 20.0, np.nan, 38.0], nan_ok=True)
    assert _between(seconds, values, np.array([650.0]), 1800.0)[0] == pytest.approx(24.5)
    assert np.isnan(_between(seconds, values, np.array([650.0]), 1799.0)[0])
    near = _between(seconds, values, np.array([-600.0, -601.0, 2600.0, 2601.0]), 1e9)
    assert near.tolist() == pytest.approx([10.0, np.nan, 38.0, np.nan], nan_ok=True)
    assert np.isnan(_between(seconds, np.array([1.0, np.nan, np.nan, np.nan]), np.zeros(2), 1e9)).all()
    assert _between(seconds[:2], np.array([1.0, 3.0]), np.array([50.0]), 1e9)[0] == 2.0


def test_an_edge_is_a_line_through_what_lies_within_ten_minutes_of_it() -> None:
    """Readings of 2 + t every 200 s with one off by 1 K: by least squares at 3600 s; its variance as a multiple of a
    reading's is 1/n + mean² / sum of squares. Where the heat changes, or of two readings, a line between neighbours."""
    seconds = np.arange(2900.0, 4400.0, 200.0)  # 2900 lies outside; 3100, 3300, ..., 4100 within, 4300 outside
    values = 2.0 + seconds / 1000.0
    values[3] += 1.0  # at 3500 s
    near = seconds[1:7]
    slope = np.polyfit(near - 3600.0, values[1:7], 1)
    off = near - 3600.0
    error = 1.0 / 6.0 + off.mean() ** 2 / ((off - off.mean()) ** 2).sum()
    assert _at_edge(seconds, values, 3600.0, True) == pytest.approx((slope[1], error))
    chord = 0.5 * (values[3] + values[4])
    assert _at_edge(seconds, values, 3600.0, False) == pytest.approx((chord, 1.0))
    uneven = np.array([3000.0, 3700.0, 4200.0])
    three = np.array([1.0, 4.0, 2.0])
    off = uneven - 3600.0
    error = 1.0 / 3.0 + off.mean() ** 2 / ((off - off.mean()) ** 2).sum()
    assert _at_edge(uneven, three, 3600.0, True) == pytest.approx((np.polyfit(off, three, 1)[1], error))
    assert _at_edge(uneven[:2], three[:2], 3600.0, True) == pytest.approx((1.0 + 3.0 * 6.0 / 7.0, 1.0))
    assert _at_edge(np.append(uneven, 3601.0), np.append(three, np.nan), 3600.0, True)[1] == pytest.approx(error)
    far, variance = _at_edge(np.array([0.0, 3601.0]), np.array([1.0, 2.0]), 1800.0, True)
    assert np.isnan(far) and variance == 1.0
    assert _at_edge(np.array([0.0, 3600.0]), np.array([1.0, 2.0]), 1800.0, True) == (1.5, 1.0)


def logged(hours: int = 4, minutes: int = 10, **columns: Any) -> tuple[Any, np.ndarray, np.ndarray]:
    seconds = np.arange(0.0, 3600.0 * hours + 1.0, 60.0 * minutes)
    nothing = np.full(len(seconds), np.nan)
    given = {name: columns.get(name, nothing) for name in ("heater_w", "mains_kwh", "gas_kg")}
    log = Found(energy=tuple(columns), path=Path("n.csv"), **given)
    return log, seconds, np.arange(0.0, 3600.0 * hours, 300.0) + 150.0


def test_heat_is_the_heaters_watts_from_each_reading_on_and_the_meters_difference() -> None:
    """1200 W from half past the first hour to its end: 600 W on the mean. 0.5 kWh in the third hour are 500 W."""
    at = np.arange(25)
    watts = np.where((at >= 3) & (at < 6), 1200.0, 0.0)
    mode, heat, weighings = _energy(*logged(heater_w=watts), 4)
    assert (heat.tolist(), mode.tolist(), weighings) == ([600.0, 0.0, 0.0, 0.0], [METERED, OFF, OFF, OFF], [])
    kwh = 7.0 + 0.5 * np.clip((at - 12) / 6.0, 0.0, 1.0)
    mode, heat, _ = _energy(*logged(mains_kwh=kwh), 4)
    assert heat.tolist() == pytest.approx([0.0, 0.0, 500.0, 0.0], abs=1e-9)
    both = _energy(*logged(heater_w=watts, mains_kwh=kwh), 4)
    assert both[1].tolist() == pytest.approx([600.0, 0.0, 500.0, 0.0], abs=1e-9)
    assert both[0].tolist()[:3] == [METERED, OFF, METERED]
    none = _energy(*logged(), 4)
    assert (none[0].tolist(), none[1].tolist(), none[2]) == ([OFF] * 4, [0.0] * 4, [])
    missing = np.where(at == 1, np.nan, watts)
    assert np.isnan(_energy(*logged(heater_w=missing), 4)[1][0])


def test_weighings_are_pairs_of_readings_between_which_the_bottle_lost_what_a_scale_shows() -> None:
    """At 0:00, 1:10, 2:00 and 3:00: 0.5 kg, then 0.05 kg which a scale does not show, then 0.07 kg."""
    gas = np.full(25, np.nan)
    gas[[0, 7, 12, 18]] = 20.0, 19.5, 19.45, 19.38
    mode, heat, weighings = _energy(*logged(gas_kg=gas), 4)
    assert [(round(a, 6), round(b, 6), round(kg, 6)) for a, b, kg in weighings] == [
        (0.0, 1.166667, 0.5),
        (2.0, 3.0, 0.07),
    ]
    assert mode.tolist() == [WEIGHED, WEIGHED, WEIGHED, OFF]
    assert heat.tolist() == [0.0] * 4
    gas[18] = 19.5
    with pytest.raises(InputFault) as fault:
        _energy(*logged(gas_kg=np.where(np.arange(25) == 18, 19.52, gas)), 4)
    assert (
        str(fault.value) == "n.csv: gas_kg must not rise, got 19.52 after 19.45 kg; log one bottle, without a change."
    )
    _energy(*logged(gas_kg=gas), 4)  # 60 g more are the scale's
    with pytest.raises(InputFault) as fault:
        _energy(*logged(gas_kg=np.where(np.arange(25) == 3, 20.0, np.nan)), 4)
    assert str(fault.value) == "n.csv: gas_kg must stand at two readings or more, got 1; weigh before and after."


def test_runs_are_spans_of_usable_hours() -> None:
    assert _runs(np.array([1, 1, 0, 1, 0, 0, 1], dtype=bool)) == [(0, 2), (3, 4), (6, 7)]
    assert _runs(np.zeros(3, dtype=bool)) == []


def stretch(inside: Any, outside: Any, mode: Any = OFF, **changes: Any) -> Stretch:
    inside, outside = np.asarray(inside, dtype=float), np.asarray(outside, dtype=float)
    hours = len(inside) - 1
    outside = np.broadcast_to(outside, (hours,)).astype(float)
    given: dict[str, Any] = {
        "log": Path("n.csv"), "start": pd.Timestamp("2027-01-20 18:00", tz="Europe/Riga"), "inside_c": inside,
        "inside_error": np.ones(hours + 1), "quarter_c": np.full((hours, 4), 15.0), "outside_c": outside,
        "mode": np.broadcast_to(mode, (hours,)).copy(), "heat_w": np.zeros(hours), "weighings": (), "wind_m_per_s": 2.0,
        "screens_share": 1.0, "sky_delta_k": 5.0,
    }  # fmt: skip
    return Stretch(**(given | changes))


COOLING = 20.0 * np.exp(-np.arange(9.0) / 8.0)


def test_readings_that_warm_up_without_heat_are_refused_and_those_of_a_warm_day_are_not() -> None:
    """1.1 K up in the second hour, 10 K above outdoors; not 1 K; not with heat; not 3 K above outdoors."""
    rising, heated = [15.0, 14.0, 15.1, 14.0, 13.0], np.array([METERED, OFF, METERED, OFF])
    with pytest.raises(InputFault) as fault:
        _doubts(stretch(rising, 4.0, heated), "n.csv")
    assert str(fault.value) == (
        "n.csv: without heat the inside cannot warm up, got +1.1 K in the hour from 20 January 19:00 with no heat "
        "logged; log the heater or leave it off."
    )
    assert _doubts(stretch([15.0, 14.0, 15.0, 14.0, 13.0], 4.0, heated), "n.csv") == []
    assert _doubts(stretch(rising, 4.0, METERED), "n.csv") == []
    assert _doubts(stretch([15.0, 14.0, 15.1, 14.0, 10.0], 11.0), "n.csv") == []


def test_readings_that_do_not_cool_without_heat_are_refused() -> None:
    """10 K above outdoors two hours cool by 2 × 10 / 100 = 0.2 K at least; 6 K above they need not."""
    slow = [14.0, 14.0, 13.81, 13.0, 12.0]
    with pytest.raises(InputFault) as fault:
        _doubts(stretch(slow, 4.0), "n.csv")
    assert str(fault.value) == (
        "n.csv: without heat the inside must cool, got -0.2 K in the two hours from 20 January 18:00 with outdoors 10 "
        "K colder and no heat logged; log the heater, cut the log to where it is off, or look whether a sensor drifts."
    )
    assert _doubts(stretch([14.0, 14.0, 13.79, 13.0, 12.0], 4.0), "n.csv") == []
    assert _doubts(stretch(slow, 8.0), "n.csv") == []
    for mode in ([METERED, OFF, OFF, OFF], [OFF, METERED, OFF, OFF]):
        assert _doubts(stretch(slow, 4.0, np.array(mode)), "n.csv") == []


def test_a_sensor_that_stands_still_and_too_little_difference_are_said() -> None:
    assert _doubts(stretch(COOLING, -5.0 + 0.003 * np.arange(8)), "n.csv") == []  # it moved by 0.021 K
    still = _doubts(stretch(COOLING, -5.0), "n.csv")
    assert still == ["n.csv: the outside sensor did not move at all in 8 h; is it stuck?"]
    stuck = _doubts(stretch(np.full(7, 15.0), -5.0 + np.arange(6.0), METERED), "n.csv")
    assert stuck == ["n.csv: the inside sensor did not move at all in 6 h; is it stuck?"]
    assert _doubts(stretch(np.full(6, 15.0), -5.0 + np.arange(5.0), METERED), "n.csv") == []
    near = _doubts(stretch(np.linspace(7.9, 5.0, 9), 5.0 + 0.01 * np.arange(8)), "n.csv")
    assert near == ["n.csv: inside and outside differ by less than 3 K; such a log says almost nothing."]
    assert _doubts(stretch(np.linspace(8.6, 5.0, 9), 5.0 + 0.01 * np.arange(8)), "n.csv") == []
    gaps = np.where(np.arange(9) == 4, np.nan, COOLING)
    assert _doubts(stretch(gaps, np.linspace(-5.0, -6.0, 8)), "n.csv") == []


def test_a_stretch_is_absolute_by_heat_or_by_a_weighing() -> None:
    plain = stretch(COOLING, -5.0)
    heated = replace(plain, heat_w=np.array([100.0, *[0.0] * 7]))
    weighed = replace(plain, weighings=((0.0, 4.0, 0.5),))
    assert [one.is_absolute for one in (plain, heated, weighed)] == [False, True, True]
    assert (plain.hours, plain.end) == (8, plain.start + pd.Timedelta(hours=8))
    night = Night((plain, heated), ())
    assert (night.hours, night.absolute, Night((plain,), ()).absolute) == (16, True, False)


def later(one: Stretch, hours: int) -> Stretch:
    return replace(one, start=one.start + pd.Timedelta(hours=hours))


def test_stretches_that_touch_are_two_and_six_are_not_too_many() -> None:
    one = stretch(COOLING, -5.0)
    joined = together([Night((later(one, 8),), ("b",)), Night((one,), ("a",))])
    assert ([s.start for s in joined.stretches], joined.cautions) == ([one.start, later(one, 8).start], ("b", "a"))
    with pytest.raises(
        InputFault, match=r"^a night must be given once, got n\.csv and n\.csv for 21 January 2027 01:00; "
    ):
        together([Night((one, later(one, 7)), ())])
    six = together([Night(tuple(later(one, 24 * k) for k in range(6)), ())])
    assert (len(six.stretches), six.cautions) == (6, ())


def log_of(hours: float, *, start: str = "2027-01-20 18:00", minutes: int = 10, **columns: Any) -> LogFile:
    seconds = np.arange(0.0, 3600.0 * hours + 1.0, 60.0 * minutes)
    inside, outside = -5.0 + 20.0 * np.exp(-seconds / 28_800.0), -5.0 + seconds / 1e5
    nothing = np.full(len(seconds), np.nan)
    given = {name: columns.pop(name, nothing) for name in ("heater_w", "mains_kwh", "gas_kg")}
    energy = tuple(name for name, values in given.items() if values is not nothing)
    stamps = pd.DatetimeIndex(pd.Timestamp(start, tz="Europe/Riga") + pd.to_timedelta(seconds, unit="s")).tz_convert(
        "UTC"
    )
    plain: dict[str, Any] = {
        "path": Path("n.csv"), "sha256": "", "stamps": stamps, "timezone": "Europe/Riga", "inside_c": inside,
        "outside_c": outside, **given, "energy": energy, "notices": (),
        "remarks": {"wind_m_per_s": 1.5, "screens_share": 0.5, "sky_delta_k": 7.0},
    }  # fmt: skip
    return LogFile(**(plain | columns))


def laid(log: LogFile) -> Night:
    return lay_out(log, 58.2, 22.5)


def test_a_night_is_laid_on_hours_with_quarters_means_and_modes() -> None:
    """Quarters are means over five-minute points of a line between readings; the log's remarks go with the stretch."""
    at = np.arange(61)  # ten hours
    gas = np.where(at == 18, 20.0, np.where(at == 36, 19.5, np.nan))
    watts = np.where((at >= 6) & (at < 12), 900.0, 0.0)
    log = log_of(10.0, heater_w=watts, gas_kg=gas)
    (one,) = laid(log).stretches
    assert (one.log, one.hours, one.start) == (Path("n.csv"), 10, pd.Timestamp("2027-01-20 18:00", tz="Europe/Riga"))
    assert str(one.start.tz) == "Europe/Riga"
    assert (one.wind_m_per_s, one.screens_share, one.sky_delta_k) == (1.5, 0.5, 7.0)
    assert one.mode.tolist() == [OFF, METERED, OFF, WEIGHED, WEIGHED, WEIGHED, *[OFF] * 4]
    assert one.heat_w.tolist() == [0.0, 900.0, *[0.0] * 8]
    assert one.weighings == ((3.0, 6.0, pytest.approx(0.5)),)
    seconds = 600.0 * at
    fine = np.arange(0.0, 36_000.0, 300.0) + 150.0
    assert one.outside_c == pytest.approx(np.interp(fine, seconds, log.outside_c).reshape(10, 12).mean(axis=1))
    assert one.quarter_c == pytest.approx(np.interp(fine, seconds, log.inside_c).reshape(10, 4, 3).mean(axis=2))
    # Where the heat changes by 50 W or more, and at both ends, an edge is one reading; else three are joined.
    assert one.inside_error[[0, 1, 2, 10]].tolist() == [1.0, 1.0, 1.0, 1.0]
    assert one.inside_error[3:10] == pytest.approx(np.full(7, 1.0 / 3.0))
    assert one.inside_c[[0, 1, 2, 10]] == pytest.approx(log.inside_c[[0, 6, 12, 60]])
    for hour in range(3, 10):
        assert one.inside_c[hour] == pytest.approx(log.inside_c[6 * hour - 1 : 6 * hour + 2].mean())


def test_a_small_change_of_heat_is_no_corner() -> None:
    at = np.arange(61)
    for step, error in ((49.0, 1.0 / 3.0), (50.0, 1.0)):
        (one,) = laid(log_of(10.0, heater_w=np.where(at < 18, 300.0 + step, 300.0))).stretches
        assert one.inside_error[3] == pytest.approx(error), step


def test_a_log_covers_four_hours_and_a_minute_less_is_enough() -> None:
    (one,) = laid(log_of(4.0)).stretches
    assert one.hours == 4
    short = log_of(4.0, minutes=1)
    cut = {name: getattr(short, name)[:-1] for name in ("inside_c", "outside_c", "heater_w", "mains_kwh", "gas_kg")}
    (one,) = laid(replace(short, stamps=short.stamps[:-1], **cut)).stretches
    assert one.hours == 4
    with pytest.raises(InputFault) as fault:
        laid(log_of(3.9))
    assert str(fault.value) == "n.csv: a log must cover at least 4 h, got 3.8 h; log a night."


def test_hours_with_the_sun_up_are_left_out_and_said_with_their_number() -> None:
    """From 13:00 local time at 58.2 °N, 22.5 °E: noon is at 12:41 and the sun's centre 1° down after
    arccos((-0.0175 + 0.85 × 0.344) / (0.527 × 0.939)) / 15° = 3.75 h, at 16:26: three hours whose middle is before."""
    night = laid(log_of(12.0, start="2027-01-20 13:00"))
    (one,) = night.stretches
    up = night.cautions[0]
    assert up == "n.csv: 3 h with the sun up are left out; sun is heat that is not logged."
    assert (one.hours, one.start.hour) == (9, 16)
    with pytest.raises(InputFault) as fault:
        laid(log_of(6.0, start="2027-01-20 13:00"))
    assert str(fault.value) == (
        "n.csv: a log must hold 4 h on end with the sun down, both temperatures and known heat, got none in its 6 h; "
        "log from dusk to dawn."
    )


def test_hours_of_unknown_heat_or_cold_are_left_out_and_said_with_their_number() -> None:
    at = np.arange(73)  # twelve hours
    watts = np.where((at >= 24) & (at < 36), np.nan, 100.0)
    night = laid(log_of(12.0, heater_w=watts))
    assert [(one.start.hour, one.hours) for one in night.stretches] == [(18, 4), (0, 6)]
    assert night.cautions == ("n.csv: 2 h are left out, for want of the outside temperature or the heat.",)
    night = laid(log_of(12.0, heater_w=np.where((at >= 18) & (at < 36), np.nan, 100.0)))
    assert [(one.start.hour, one.hours) for one in night.stretches] == [(0, 6)]


def test_a_stretch_begins_with_the_first_reading_inside_and_keeps_four_readings_or_is_none() -> None:
    at = np.arange(49)  # eight hours
    log = log_of(8.0)
    late = replace(log, inside_c=np.where(at < 9, np.nan, log.inside_c))
    (one,) = laid(late).stretches
    assert (one.start.hour, one.hours) == (20, 6)
    assert not np.isnan(one.inside_c[0])
    for first, there in ((24, True), (25, True), (26, False)):  # ten minutes off is near enough
        fewer = replace(log, inside_c=np.where(at < first, np.nan, log.inside_c))
        if there:
            assert laid(fewer).stretches[0].hours == 4
        else:
            with pytest.raises(InputFault):
                laid(fewer)
    few = np.where(np.isin(at, [0, 1, 2, 46, 47, 48]), log.inside_c, np.nan)
    with pytest.raises(InputFault):  # 0, 8 h and nothing between: two edges
        laid(replace(log, inside_c=few))


def test_weighings_count_within_their_stretch_alone() -> None:
    """Hours 4 and 5 without heat's reading: two stretches; a weighing across both belongs to neither."""
    at = np.arange(73)
    gas = np.full(73, np.nan)
    gas[[36, 60, 72]] = 20.0, 19.0, 18.0
    night = laid(log_of(12.0, gas_kg=gas, heater_w=np.where((at >= 24) & (at < 36), np.nan, 0.0)))
    assert [one.weighings for one in night.stretches] == [
        (), ((0.0, 4.0, pytest.approx(1.0)), (4.0, 6.0, pytest.approx(1.0))),
    ]  # fmt: skip
    gas[[36, 12]] = np.nan, 21.0
    night = laid(log_of(12.0, gas_kg=gas, heater_w=np.where((at >= 24) & (at < 36), np.nan, 0.0)))
    assert [one.weighings for one in night.stretches] == [(), ((4.0, 6.0, pytest.approx(1.0)),)]
