"""Every question through the command line: one JSON object that answers it, no talk, and a refusal where it must be.

That each also answers in words is held by ``test_cli_startup.py``, which runs the example of each help.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from conftest import Call
from mutations import documents, toml

from budget.cli import ANSWERS, COMMANDS

WEIGHED = ("--at", "2027-01-10T08:00", "--bottle", "11 kg exchange 1", "--kg", "21", "--scenarios", "20")
# The words that each question needs, and what its answer must hold.
QUESTIONS: dict[str, tuple[tuple[str, ...], set[str]]] = {
    "plan": ((), {"swaps", "chances", "readings", "short_at", "reserve_kg"}),
    "compare": (("--with", "weather.offset_k=-3"), {"against", "variants"}),
    "best-schedule": ((), {"limits", "planned_kg", "best", "trade_off"}),
    "tonight": (
        ("--gas-left", "6", "--charge", "70", "--scenarios", "20"),
        {"verdict", "can_stay", "chance_of_running_out_share", "binds", "warm", "options"},
    ),
    "odds": (("--scenarios", "20"), {"gas", "chance_by_bottles_share", "one_in_ten", "binds", "lowest_charge"}),
    "matters": (("--scenarios", "100"), {"gas", "lowest_charge", "worth"}),
    "measures": ((), {"gas_kg", "measures"}),
    "learn": ((), {"nights", "protocol"}),
    "weigh": (WEIGHED, {"before", "after", "readings"}),
    "record": (("--scenarios", "20"), {"predicted_p50_kg", "weighed_kg", "causes"}),
    "hookup": ((), {"supplies", "stays", "break_even_per_kwh"}),
    "heater-size": ((), {"rated_w", "cases", "standard_h"}),
    "ducts": ((), {"stages", "balancing", "return_path"}),
    "battery": ((), {"stands", "days", "sentences"}),
    "outage": (("--at", "2027-01-09T22:00"), {"nights", "looked_at_h"}),
}


@pytest.fixture
def tour(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """Two nights of the demo tour."""
    monkeypatch.chdir(tmp_path)
    Path("tour.toml").write_text(toml(documents()[0]), "utf-8")
    return "tour.toml"


def test_every_question_is_asked_here() -> None:
    assert set(QUESTIONS) == {name for name, entry in COMMANDS.items() if entry.heading == ANSWERS}


@pytest.mark.parametrize("name", QUESTIONS)
def test_a_question_is_answered_in_one_json_object(name: str, tour: str, call: Call) -> None:
    words, holds = QUESTIONS[name]
    if name == "record":  # compares with what was weighed on the way
        assert call("weigh", tour, *WEIGHED, "-q").code == 0
    ended = call(name, tour, *words, "--json", "-q")
    assert (ended.code, ended.err) == (0, "")
    told = json.loads(ended.out)
    assert holds <= set(told)
    assert "NaN" not in ended.out


@pytest.mark.parametrize("name", ["heater-size", "ducts"])
def test_heater_and_ducts_are_judged_at_the_tours_highest_stop_unless_an_altitude_is_asked(
    name: str, tour: str, call: Call
) -> None:
    for words, told in ((("--set", "stops[0].altitude_m=1234"), "at 1234 m"), (("--altitude", "800"), "at 800 m")):
        ended = call(name, tour, *words, "-q")
        assert ended.code == 0
        assert told in " ".join(ended.out.split("\n\n")[0].split()), ended.out[:400]


@pytest.mark.parametrize("name", QUESTIONS)
def test_a_question_about_no_tour_is_refused(name: str, call: Call) -> None:
    ended = call(name, "nosuch.toml", *QUESTIONS[name][0], "--json", "-q")
    sentence = "budget: nosuch.toml must be a file that exists, none is there; check the name and folder.\n"
    assert ended == (1, "", sentence)


@pytest.mark.parametrize("name", QUESTIONS)
def test_a_question_takes_no_option_that_it_does_not_know(name: str, call: Call) -> None:
    ended = call(name, *QUESTIONS[name][0], "--nosuch")
    assert (ended.code, ended.out) == (2, "")
    assert ended.err.endswith(f"; see budget {name} --help.\n")


def test_an_absence_is_answered_in_one_json_object(tour: str, call: Call) -> None:
    words = ("--gas-left", "6", "--charge", "70", "--at", "2027-01-09T18:00", "--scenarios", "20", "-q")
    ended = call("tonight", tour, *words, "--back", "2027-01-09 23:30", "--forecast-low", "-15", "--json")
    assert (ended.code, ended.err) == (0, "")
    told = json.loads(ended.out)
    assert {"verdict", "switch_on", "fails_before_return_share", "binds", "freezing", "left_on"} <= set(told)
    assert told["forecast_low_c"] == -15.0
    assert call("tonight", tour, *words[:4], "--back", "2027-01-09 23:30").err.startswith("budget: --back needs --at")


def test_odds_show_how_sure_each_quantile_is(tour: str, call: Call) -> None:
    """Its half-width stands beside it, and is left out where the sample is too small to tell."""
    shown = call("odds", tour, "--scenarios", "60", "-q").out
    heading = next(line for line in shown.splitlines() if line.startswith("what "))
    assert heading.split() == ["what", "P10", "P10", "±", "P50", "P50", "±", "P90", "P90", "±"]
    few = call("odds", tour, "--scenarios", "10", "-q").out
    assert "P10 ±" not in few
    assert {"falls", "short", "in"} <= set(few.split("What fails first")[1].split()), "rounded up, as in the sentence"


def test_any_cold_that_is_looked_at_is_told_as_held_and_not_left_out(tour: str, call: Call) -> None:
    """A table of dashes, or one without columns, would be taken for a heater that holds nothing."""
    ended = call("heater-size", tour, "--set", "van.insulation='60 mm and more'", "-q")
    held = ended.out.split("Coldest outdoors held")[1].split("Where the heat goes")[0]
    rows = [line.split("  ") for line in held.splitlines() if line.startswith("screens")]
    assert len(rows) == 5
    assert all("below -38" in row[-1] or "below -38" in row[-2] for row in rows[:2]), held
    assert not any(cell.strip() in ("-", "–") for row in rows for cell in row), held
