"""A log with gaps, another step, °F or a clock change in it is laid on the same hours as one without.

The night is a smooth curve of which every reading is known: ten degrees above outdoors at first, falling by an e-th in
eight hours, outdoors at -5 °C with a slow wave.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from logged_nights import write_log

from budget.answers.measured.log_file import LogFile
from budget.answers.measured.logged_night import Night, lay_out, together
from budget.errors import InputFault


def curve(seconds: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    outside = -5.0 + 2.0 * np.cos(2.0 * np.pi * seconds / 86_400.0)
    return outside + 20.0 * np.exp(-seconds / 8.0 / 3600.0), outside


def written(path: Path, minutes_min: float, start: str = "2027-01-20 18:00", hours_h: float = 14.0) -> Path:
    seconds = np.arange(0.0, 3600.0 * hours_h + 1.0, 60.0 * minutes_min)
    return write_log(path, seconds, *curve(seconds), start=start)


def laid_out(path: Path) -> Night:
    return lay_out(LogFile.read(path, "Europe/Riga"), 58.2, 22.5)


def edited(path: Path, change: dict[str, str]) -> Path:
    """Lines whose time holds a key get that text, or go where it is empty."""
    lines = []
    for line in path.read_text("utf-8").splitlines():
        found = [text for time, text in change.items() if time in line]
        if not found:
            lines.append(line)
        elif found[0]:
            lines.append(f"{line.split(',')[0]},{found[0]}")
    path.write_text("\n".join(lines) + "\n", "utf-8")
    return path


@pytest.mark.parametrize("minutes_min", [1.0, 5.0, 7.0, 10.0, 30.0, 60.0])
def test_any_step_up_to_an_hour_gives_the_same_temperatures_at_the_hours(tmp_path: Path, minutes_min: float) -> None:
    """Edges within 0.02 K of the curve, hourly means of outdoors within 0.03 K: a line over an hour of the wave is off
    by as much, readings are written to 0.001 K. Seven minutes meet no hour but the first.
    """
    (stretch,) = laid_out(written(tmp_path / "n.csv", minutes_min)).stretches
    hours = 3600.0 * np.arange(stretch.hours + 1)
    assert stretch.hours >= 13
    assert stretch.inside_c == pytest.approx(curve(hours)[0], abs=0.02)
    assert stretch.outside_c == pytest.approx(curve(hours[:-1] + 1800.0)[1], abs=0.03)


def test_fahrenheit_is_the_same_night(tmp_path: Path) -> None:
    """Rounded to 0.001 °F, which is half of 0.001 K; both columns, named with their unit, and one of them alone."""
    seconds = np.arange(0.0, 3600.0 * 14.0 + 1.0, 600.0)
    inside, outside = curve(seconds)
    (plain,) = laid_out(written(tmp_path / "c.csv", 10.0)).stretches
    for names, warm, cold in (
        ("inside_f [°F],outside_f (°F)", inside * 1.8 + 32.0, outside * 1.8 + 32.0),
        ("inside_f,outside_c", inside * 1.8 + 32.0, outside),
    ):
        path = write_log(tmp_path / "f.csv", seconds, warm, cold)
        path.write_text(path.read_text("utf-8").replace("inside_c,outside_c", names), "utf-8")
        (stretch,) = laid_out(path).stretches
        assert stretch.inside_c == pytest.approx(plain.inside_c, abs=0.002)
        assert stretch.outside_c == pytest.approx(plain.outside_c, abs=0.002)


def test_an_hour_whose_inside_was_not_read_tells_nothing_and_the_others_stay(tmp_path: Path) -> None:
    """No readings from 21:10 to 23:50, and empty inside cells from 02:00 to 02:40: the edges at 22 and 23 o'clock lie
    in a gap of more than an hour and are not read; the one at 02:00 lies in one that is just an hour and is; all others
    are as without gaps, the one at midnight too, since it was read.
    """
    path = written(tmp_path / "n.csv", 10.0)
    (whole,) = laid_out(path).stretches
    gone = dict.fromkeys((f"T{h}:{m}" for h in (21, 22, 23) for m in ("10", "20", "30", "40", "50")), "")
    gone |= dict.fromkeys(("T22:00", "T23:00"), "")
    outside = {f"T02:{m}0": f",{curve(np.array([8.0 * 3600.0]))[1][0]:.3f}" for m in range(5)}
    (stretch,) = laid_out(edited(path, gone | outside)).stretches
    assert np.flatnonzero(np.isnan(stretch.inside_c)).tolist() == [4, 5]
    read = ~np.isnan(stretch.inside_c)
    assert stretch.inside_c[read] == pytest.approx(whole.inside_c[read], abs=0.06)  # the hour's chord
    assert stretch.outside_c == pytest.approx(whole.outside_c, abs=0.15)  # it stands still for these rows


def test_hours_without_the_outside_temperature_are_left_out_and_said(tmp_path: Path) -> None:
    """Empty outside cells from 23:00 to 02:50, more than may be bridged: two stretches are left, of their own start, up
    to the whole hour before and from the reading after.
    """
    path = written(tmp_path / "n.csv", 10.0, hours_h=16.0, start="2027-01-20 17:00")
    inside = {f"T{h:02d}:": "5.0," for h in (23, 0, 1, 2)}
    night = laid_out(edited(path, inside))
    assert [(f"{one.start:%H:%M}", one.hours) for one in night.stretches] == [("17:00", 5), ("03:00", 6)]
    assert any("for want of the outside temperature" in caution for caution in night.cautions)


@pytest.mark.parametrize(("start", "day"), [("2027-10-30 20:00", "autumn"), ("2027-03-27 19:00", "spring")])
def test_local_times_through_a_clock_change_are_the_instants_that_offsets_name(
    tmp_path: Path, start: str, day: str
) -> None:
    """Ten-minute readings: in autumn the hour from 3 to 4 stands twice, in spring it is not there; no reading moves,
    and the hours of the night are real ones.
    """
    path = written(tmp_path / "offsets.csv", 10.0, start, hours_h=10.0)
    lines = path.read_text("utf-8").splitlines()
    local = tmp_path / "local.csv"
    plain = [line if line[0] in "#t" else f"{line[:19].replace('T', ' ')}{line[25:]}" for line in lines]
    local.write_text("\n".join(plain) + "\n", "utf-8")
    times = [line.split(",")[0] for line in plain if line[0] not in "#t"]
    assert (len(set(times)) < len(times)) == (day == "autumn")
    with_offsets, without = (LogFile.read(one, "Europe/Riga") for one in (path, local))
    assert with_offsets.stamps.equals(without.stamps)
    assert (with_offsets.stamps[-1] - with_offsets.stamps[0]) == pd.Timedelta(hours=10)
    (stretch,) = laid_out(local).stretches
    hours = 3600.0 * np.arange(stretch.hours + 1)
    assert stretch.hours >= 9
    assert stretch.inside_c == pytest.approx(curve(hours)[0], abs=0.02)


def test_of_too_many_nights_those_with_metered_heat_and_the_longest_are_taken(tmp_path: Path) -> None:
    """Seven nights, of which the second is the shortest and the third as short but metered: the second is left out."""
    nights = []
    for k in range(7):
        path = written(tmp_path / f"{k}.csv", 10.0, f"2027-01-{10 + k} 18:00", hours_h=8.0 if k in (1, 2) else 12.0)
        if k == 2:
            lines = path.read_text("utf-8").splitlines()
            heated = [line if line[0] == "#" else f"{line},{'heater_w' if line[0] == 't' else 300}" for line in lines]
            path.write_text("\n".join(heated) + "\n", "utf-8")
        nights.append(laid_out(path))
    found = together(nights[::-1])
    assert [one.log.name for one in found.stretches] == ["0.csv", "2.csv", "3.csv", "4.csv", "5.csv", "6.csv"]
    assert any("Of 7 stretches the 6 that tell most" in caution for caution in found.cautions)


def test_two_logs_of_the_same_hours_are_refused(tmp_path: Path) -> None:
    nights = [laid_out(written(tmp_path / f"{k}.csv", 10.0, f"2027-01-20 {17 + k}:00")) for k in range(2)]
    with pytest.raises(
        InputFault, match=r"a night must be given once, got .*0.csv and .*1.csv for 20 January 2027 18:00"
    ):
        together(nights)
