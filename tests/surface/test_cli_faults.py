"""What goes wrong on the command line ends in a sentence and a documented exit code, never in a traceback."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from conftest import Call

from budget.cli import faults
from budget.errors import BooksDoNotClose, InputFault

BUDGET = [sys.executable, "-m", "budget"]


def breaking(error: BaseException, monkeypatch: pytest.MonkeyPatch) -> None:
    """Make ``budget schema`` fail with this error."""

    def fail() -> None:
        raise error

    monkeypatch.setattr("budget.tour.schema.json_schema", fail)


def test_an_unknown_option_is_wrong_usage(call: Call) -> None:
    ended = call("run", "--jsn")
    assert (ended.code, ended.out) == (2, "")
    assert ended.err.startswith("budget: no such option")  # the rest of the wording is click's
    assert "--json" in ended.err
    assert ended.err.endswith("; see budget run --help.\n")
    assert ended.err.count("\n") == 1


def test_an_unknown_command_is_wrong_usage(call: Call) -> None:
    ended = call("rum")
    assert (ended.code, ended.out) == (2, "")
    assert ended.err.startswith("budget: no such command 'rum'")
    assert ended.err.count("\n") == 1


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["rum"], "no such command 'rum' (did you mean run?); see budget --help."),
        (["xyz"], "no such command 'xyz'; see budget --help."),
        (
            ["my-tour.toml"],
            "no such command 'my-tour.toml' (did you mean budget run my-tour.toml?); see budget --help.",
        ),
        (
            ["tonight", "--gas-left", "6,5", "--charge", "70"],
            "--gas-left must be a number, got '6,5'; write decimals with a point, 6.5; see budget tonight --help.",
        ),
        (["hookup", "--amps", "six"], "--amps must be a number, got 'six'; see budget hookup --help."),
        (["odds", "--seed", "x"], "--seed must be a whole number, got 'x'; see budget odds --help."),
        (
            ["tonight", "--gas-left", "6", "--charge", "0.7"],
            "invalid value for '--charge': it is in percent, got 0.7; write 70 for 0.7 of full; see budget tonight "
            "--help.",
        ),
    ],
)
def test_a_likely_slip_is_wrong_usage_and_says_what_to_write(words: list[str], said: str, call: Call) -> None:
    assert call(*words) == (2, "", f"budget: {said}\n")


@pytest.mark.parametrize(
    ("words", "option", "got"),
    [
        (["--at", "22:00"], "--at", "22:00"),
        (["--at", "2027-01-20"], "--at", "2027-01-20"),
        (["--at", "2027-01-20 22:00+02:00"], "--at", "2027-01-20 22:00+02:00"),
        (["--at", "2027-01-20T22:00", "--back", "late"], "--back", "late"),
    ],
)
def test_a_time_that_is_none_is_told_in_one_sentence(words: list[str], option: str, got: str, call: Call) -> None:
    said = f'budget: {option} must read "2027-01-20 22:00", local time of the tour, got "{got}"; correct it.\n'
    assert call("tonight", "--gas-left", "6", "--charge", "70", *words) == (1, "", said)


@pytest.mark.parametrize(
    ("typed", "meant"), [("my-tuor.toml", "my-tour.toml"), ("my-tour", "my-tour.toml"), ("other.toml", None)]
)
def test_a_tour_file_of_nearly_that_name_is_offered(
    typed: str, meant: str | None, call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    call("new", "my-tour.toml", "-q")
    advice = f"did you mean {meant}?" if meant else "check the name and folder."
    assert call("check", typed) == (1, "", f"budget: {typed} must be a file that exists, none is there; {advice}\n")


def test_a_missing_tour_file_is_one_sentence(call: Call) -> None:
    ended = call("check", "nosuch.toml")
    assert ended == (
        1,
        "",
        "budget: nosuch.toml must be a file that exists, none is there; check the name and folder.\n",
    )


def test_each_fault_of_a_tour_file_is_a_line_of_its_own(call: Call, tmp_path: Path) -> None:
    tour = tmp_path / "tour.toml"
    assert call("new", str(tour), "-q") == (0, "", "")
    text = (
        tour.read_text("utf-8")
        .replace("longitude_deg = 24.36", "longitude_deg = 999")
        .replace("altitude_m = 4 ", "altitude_m = 99999 ", 1)
    )
    tour.write_text(text, "utf-8")
    ended = call("check", str(tour))
    lines = ended.err.splitlines()
    assert (ended.code, ended.out, len(lines)) == (1, "", 2)
    assert all(line.startswith(f"budget: {tour} line ") for line in lines)


@pytest.mark.parametrize(
    ("error", "code", "sentence"),
    [
        (InputFault(["one.", "two."]), 1, "budget: one.\nbudget: two.\n"),
        (
            BooksDoNotClose("heat does not close in hour 7."),
            3,
            "budget: heat does not close in hour 7; nothing was written.\n",
        ),
        (KeyboardInterrupt(), 130, "budget: interrupted; no result was written.\n"),
        (MemoryError(), 1, "budget: there is not enough memory for this; shorten the tour or close other programs.\n"),
        (
            OSError(28, "No space left on device"),
            1,
            "budget: the output could not be written, the system reports: no space left on device; make room.\n",
        ),
        (
            ZeroDivisionError("division\nby zero"),
            3,
            "budget: an internal fault, ZeroDivisionError: division by zero; nothing was written; run it again with "
            "BUDGET_TRACEBACK=1 in the environment to see where.\n",
        ),
    ],
    ids=["input", "books", "interrupted", "memory", "disk full", "a bug"],
)
def test_every_kind_of_error_ends_in_its_sentence_and_code(
    error: BaseException, code: int, sentence: str, call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    breaking(error, monkeypatch)
    ended = call("schema")
    assert (ended.code, ended.out, ended.err.lstrip("\n")) == (code, "", sentence)


def test_a_developer_may_ask_for_the_traceback(call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    breaking(ZeroDivisionError(), monkeypatch)
    monkeypatch.setenv("BUDGET_TRACEBACK", "1")
    with pytest.raises(ZeroDivisionError):
        faults.as_exit_code(lambda: __import__("budget.cli").cli.main.main(["schema"], standalone_mode=False))


@pytest.mark.skipif(os.name != "posix", reason="pipes of a POSIX shell")
def test_a_reader_that_stops_early_is_no_fault() -> None:
    done = subprocess.run(
        ["bash", "-c", f"set -o pipefail; {sys.executable} -m budget schema | head -n 1"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "{\n", "")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_full_disk_behind_standard_output_is_said() -> None:
    with open("/dev/full", "w", encoding="utf-8") as full:
        done = subprocess.run([*BUDGET, "schema"], stdout=full, stderr=subprocess.PIPE, text=True, check=False)
    assert done.returncode == 1
    assert done.stderr.startswith(
        "budget: the output could not be written, the system reports: no space left on device"
    )
    assert done.stderr.count("\n") == 1


def test_a_terminal_without_the_letters_still_gets_an_answer() -> None:
    """An ASCII terminal shows a question mark for what it lacks."""
    env = os.environ | {"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0", "LC_ALL": "C"}
    done = subprocess.run(
        [*BUDGET, "weather", "sample:cold_snap.csv"], capture_output=True, text=True, check=False, env=env
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert "cold snap" in done.stdout


def test_what_the_user_typed_does_not_steer_the_terminal(call: Call, tmp_path: Path) -> None:
    """A title with an escape sequence and console markup is shown as it is, without the escape."""
    tour = tmp_path / "tour.toml"
    call("new", str(tour), "-q")
    text = tour.read_text("utf-8")
    tour.write_text(text.replace('title = "Six nights', r'title = "\u001b[31m[bold]Six nights'), "utf-8")
    ended = call("check", str(tour))
    assert ended.code == 0
    assert "\x1b" not in ended.out
    assert "[bold]Six nights" in ended.out
