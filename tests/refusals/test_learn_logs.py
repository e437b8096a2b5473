"""A log that cannot tell is refused in one sentence that says what to do."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from logged_nights import Truth, night, write_log

from budget.answers.measured.log_file import LogFile
from budget.answers.measured.logged_night import lay_out
from budget.errors import InputFault


def refused(path: Path) -> str:
    with pytest.raises(InputFault) as fault:
        lay_out(LogFile.read(path, "Europe/Riga"), 58.2, 22.5)
    assert len(fault.value.faults) == 1
    return str(fault.value)


def test_a_short_log(tmp_path: Path) -> None:
    path = write_log(tmp_path / "n.csv", *night(Truth(), hours=2.0))
    assert refused(path) == f"{path}: a log must cover at least 4 h, got 2.0 h; log a night."


def test_a_log_of_a_day_in_the_sun(tmp_path: Path) -> None:
    """09:30 to 16:00 in January at 58 °N: the sun is up from about nine to half past four."""
    path = write_log(tmp_path / "n.csv", *night(Truth(), hours=6.0), start="2027-01-20 09:30")
    assert refused(path) == (
        f"{path}: a log must hold 4 h on end with the sun down, both temperatures and known heat, got none in its 6 h; "
        "log from dusk to dawn."
    )


def test_a_heater_that_holds_the_temperature_unlogged(tmp_path: Path) -> None:
    seconds, _, outside = night(Truth())
    assert "without heat the inside must cool" in refused(
        write_log(tmp_path / "n.csv", seconds, np.full(len(seconds), 19.0), outside)
    )


def test_a_sensor_that_drifts_through_a_cool_down(tmp_path: Path) -> None:
    """Half a kelvin an hour: the room seems to settle 7 K above outdoors, as no van without heat does. A slower
    drift, or one on a heated night, is found in the fit (`tests/claims/test_learn_drift.py`).
    """
    seconds, inside, outside = night(Truth())
    path = write_log(tmp_path / "n.csv", seconds, inside + 0.5 * seconds / 3600.0, outside)
    assert "or look whether a sensor drifts" in refused(path)


def test_a_heater_that_starts_unlogged(tmp_path: Path) -> None:
    seconds, inside, outside = night(Truth())
    later = np.where(seconds > 7.0 * 3600.0, inside + 4.0, inside)
    assert "without heat the inside cannot warm up" in refused(write_log(tmp_path / "n.csv", seconds, later, outside))


def test_a_meter_that_falls(tmp_path: Path) -> None:
    seconds, inside, outside = night(Truth())
    path = write_log(tmp_path / "n.csv", seconds, inside, outside, mains_kwh=5.0 - seconds / 1e5)
    assert refused(path) == (
        f"{path}: mains_kwh is the reading of a meter and must not fall, got 4.994 after 5 kWh; give the meter's "
        "reading, not the energy of each row."
    )


def test_a_bottle_that_grows(tmp_path: Path) -> None:
    seconds, inside, outside = night(Truth())
    path = write_log(tmp_path / "n.csv", seconds, inside, outside, gas_kg=20.0 + seconds / 1e4)
    assert refused(path) == f"{path}: gas_kg must not rise, got 20.12 after 20.06 kg; log one bottle, without a change."


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (
            "time,inside_c\n2027-01-20 18:00,20\n2027-01-20 19:00,19\n",
            ": a log must have the columns time, inside_c and outside_c, got time, inside_c; give a column the name "
            "outside_c.",
        ),
        (
            "time,inside_c,outsde_c\n2027-01-20 18:00,20,1\n2027-01-20 19:00,19,1\n",
            ": the column 'outsde_c' is not known; did you mean outside_c?",
        ),
        (
            "time,inside_c,outside_c\n2027-01-20 18:00,200,1\n2027-01-20 19:00,19,1\n",
            ", line 2: inside_c must be a number from -50 to 60 °C, got '200'; correct it or leave it empty.",
        ),
        (
            "time,inside_c,inside_f,outside_c\n2027-01-20 18:00,2,2,1\n2027-01-20 19:00,1,1,1\n",
            ": give either inside_c or inside_f, got both; remove one.",
        ),
        ("", ": a log must hold a heading and two readings or more, got 0; log a night."),
        (
            "time,inside_c,outside_c\n2027-01-20 18:00,20,1\n",
            ": a log must hold a heading and two readings or more, got 1; log a night.",
        ),
        (
            "time,inside_c,outside_c\n2027-01-20 18:00,20\n2027-01-20 19:00,19,1\n",
            ", line 2: must have 3 values as the heading has, got 2; complete it, or with decimal commas separate the "
            "columns by semicolons.",
        ),
        (
            "time,inside_c,outside_c,inside_c\n2027-01-20 18:00,20,1,2\n2027-01-20 19:00,19,1,2\n",
            ": every column must stand once, got inside_c twice; remove one.",
        ),
        (
            "time,inside_c,outside_c,mains_kwh\n2027-01-20 18:00,20,1,5\n2027-01-20 19:00,19,1,7\n"
            "2027-01-20 20:00,19,1,4\n2027-01-20 21:00,19,1,3\n",
            ": mains_kwh is the reading of a meter and must not fall, got 4 after 7 kWh; give the meter's reading, not "
            "the energy of each row.",
        ),
    ],
)
def test_a_file_that_is_no_log(tmp_path: Path, text: str, sentence: str) -> None:
    path = tmp_path / "n.csv"
    path.write_text(text, encoding="utf-8")
    assert refused(path) == f"{path}{sentence}"


def test_a_log_that_is_not_there(tmp_path: Path) -> None:
    path = tmp_path / "none.csv"
    assert refused(path) == f"{path}: a log is needed, got no such file; check the name and the folder."


def test_fahrenheit_is_read_as_celsius(tmp_path: Path) -> None:
    """68 °F are 20 °C, 23 °F are -5 °C."""
    path = tmp_path / "n.csv"
    path.write_text("time,inside_f,outside_f\n2027-01-20 18:00,68,23\n2027-01-20 19:00,59,14\n", encoding="utf-8")
    log = LogFile.read(path, "Europe/Riga")
    assert log.inside_c.tolist() == pytest.approx([20.0, 15.0])
    assert log.outside_c.tolist() == pytest.approx([-5.0, -10.0])
