"""Tour and van descriptions changed at random: a result whose books close, or a sentence; never anything else."""

from __future__ import annotations

import os
import random
from collections import Counter
from pathlib import Path

import pytest
from conftest import Call, compile_engine
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st
from mutations import bytes_mutated, documents, mutated, toml
from verdict import RAN, REFUSED, verdict

from budget.results.result import Result
from budget.simulation import simulate
from budget.tour.files import DEMO_TOUR
from budget.tour.reader import load

STARTER = DEMO_TOUR.with_name("starter-quick.toml")
# The same cases on every machine and in every run; a failing one is shrunk to few changes, and its document is shown.
SEEDED = settings(
    database=None, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


@pytest.fixture(scope="module", autouse=True)
def compiled() -> None:
    """Before the first case, whose time would else be that of the compilation."""
    compile_engine()


def simulated(tour: Path) -> Result:
    loaded = load(tour)
    return simulate(loaded.van, loaded.tour, folder=loaded.folder)


def judged(text: str, folder: Path) -> str:
    tour = folder / "tour.toml"
    tour.write_text(text, "utf-8")
    return verdict(lambda: simulated(tour))


def fuzzed(piece: int, examples: int, folder: Path) -> Counter[str]:
    """Verdicts over so many documents, each changed in one to four places; every piece draws others."""
    told: Counter[str] = Counter()

    @seed(piece)
    @settings(SEEDED, max_examples=examples)
    @given(st.sampled_from(range(len(documents()))), st.randoms(use_true_random=False))
    def case(which: int, rng: random.Random) -> None:
        text = toml(mutated(documents()[which], rng))
        try:
            told[judged(text, folder)] += 1
        except BaseException as error:
            error.add_note(text)
            raise

    case()
    return told


@pytest.mark.parametrize("which", range(len(documents())))
def test_the_documents_that_are_changed_are_good(which: int, tmp_path: Path) -> None:
    """Else the fuzzing would only ever see the same refusal."""
    assert judged(toml(documents()[which]), tmp_path) == RAN


def test_a_changed_description_gives_closed_books_or_a_sentence(tmp_path: Path) -> None:
    told = fuzzed(0, 60, tmp_path)
    assert min(told[RAN], told[REFUSED]) >= 6  # both ends are reached, else the changes are too tame or too wild


@pytest.mark.long
@pytest.mark.parametrize("piece", range(1, 25))
def test_twelve_thousand_changed_descriptions(piece: int, tmp_path: Path) -> None:
    """In pieces of five hundred, so that a find leaves the others their turn."""
    told = fuzzed(piece, 500, tmp_path)
    assert min(told[RAN], told[REFUSED]) >= 50


def bytes_fuzzed(first: int, count: int, folder: Path) -> Counter[str]:
    """Verdicts over tour files of which some bytes were changed, one seed a case."""
    raw = [toml(document).encode() for document in documents()]
    raw += [DEMO_TOUR.read_bytes(), STARTER.read_bytes()]
    told: Counter[str] = Counter()
    tour = folder / "tour.toml"
    for number in range(first, first + count):
        rng = random.Random(number)
        tour.write_bytes(bytes_mutated(raw[rng.randrange(len(raw))], rng))
        try:
            told[verdict(lambda: simulated(tour))] += 1
        except BaseException as error:
            error.add_note(f"seed {number}")
            raise
    return told


def test_a_tour_file_with_changed_bytes_gives_closed_books_or_a_sentence(tmp_path: Path) -> None:
    told = bytes_fuzzed(0, 60, tmp_path)
    assert min(told[RAN], told[REFUSED]) >= 6


@pytest.mark.long
@pytest.mark.parametrize("first", range(1_000_000, 1_003_000, 500))
def test_three_thousand_tour_files_with_changed_bytes(first: int, tmp_path: Path) -> None:
    told = bytes_fuzzed(first, 500, tmp_path)
    assert min(told[RAN], told[REFUSED]) >= 50


def through_the_command_line(first: int, count: int, call: Call, folder: Path) -> None:
    """Either all of a run's files are there, or none, the folder neither; nothing is left lying beside them."""
    for number in range(first, first + count):
        rng = random.Random(number)
        tour, out = folder / "tour.toml", folder / f"out-{number}"
        tour.write_text(toml(mutated(documents()[rng.randrange(len(documents()))], rng)), "utf-8")
        ended = call("run", str(tour), "--json", "-q", "-o", str(out))
        assert ended.code in (0, 1), (number, ended.err)
        assert bool(ended.out) == (ended.code == 0) == (not ended.err), number
        written = sorted(os.listdir(out)) if out.exists() else None
        assert written == (["hourly.csv", "report.html", "summary.json"] if ended.code == 0 else None), number


def test_a_changed_tour_leaves_a_whole_folder_or_none(call: Call, tmp_path: Path) -> None:
    through_the_command_line(0, 4, call, tmp_path)


@pytest.mark.long
@pytest.mark.parametrize("first", range(2_000_000, 2_000_500, 50))
def test_five_hundred_changed_tours_leave_whole_folders_or_none(first: int, call: Call, tmp_path: Path) -> None:
    through_the_command_line(first, 50, call, tmp_path)


def test_a_zone_of_a_hundred_tonnes_in_which_nothing_happens_closes_its_books(tmp_path: Path) -> None:
    """Found by the fuzzing, within the limits: 9e7 J/K of lining that nothing warms, a stock that rounds to 1e-7 J."""
    still = {"name": "everything", "air_m3": 180.0, "air_capacity_j_per_k": 500.0, "fabric_capacity_j_per_k": 9e7}
    living = {"name": "living", "air_m3": 0.05, "air_capacity_j_per_k": 500.0, "fabric_capacity_j_per_k": 1e7}
    zones = [
        still | {"fabric_coupling_w_per_k": 6000.0},
        living | {"fabric_coupling_w_per_k": 0.1, "vent_high_cm2": 5000.0},
    ]
    whole = documents()[-1]
    van = whole["van"] | {"cabin": whole["van"]["cabin"] | {"zones": zones}}
    assert judged(toml(whole | {"van": van}), tmp_path) == RAN


def of_one_small_zone() -> str:
    """Half a kilojoule a kelvin of air behind 20 kW/K, and no wall: within the limits, found by the fuzzing."""
    small = {
        "name": "living", "air_m3": 0.05, "air_capacity_j_per_k": 500.0, "fabric_capacity_j_per_k": 599.9995,
        "fabric_coupling_w_per_k": 19980.0001, "fabric_loss_share": 0.0,
    }  # fmt: skip
    whole = documents()[-1]
    cabin = {"zones": [small], "openings": []}
    kept = {name: whole["van"][name] for name in ("title", "heater", "water")}
    gas = {"locker_zone": "outdoors", "bottles": [{"name": "11 kg exchange"}]}
    return toml(whole | {"van": kept | {"cabin": cabin, "gas": gas}})


def test_a_lining_behind_twenty_kilowatts_a_kelvin_closes_its_book(tmp_path: Path) -> None:
    """The flow between them is the difference of two integrals of 1e9 J, which round to 1e-7 J."""
    assert judged(of_one_small_zone(), tmp_path) == RAN


def test_a_van_without_a_surface_has_a_report_all_the_same(call: Call, tmp_path: Path) -> None:
    tour = tmp_path / "tour.toml"
    tour.write_text(of_one_small_zone(), "utf-8")
    assert call("run", str(tour), "-q", "-o", str(tmp_path / "out")).code == 0
    assert "No surface is wet" in (tmp_path / "out" / "report.html").read_text("utf-8")


def test_a_run_on_of_two_milliseconds_keeps_no_water_from_being_heated(tmp_path: Path) -> None:
    """Found by the fuzzing: each step of a flame for the water alone was as short as the fan's run-on."""
    stage = {"output_w": 50.0, "air_m3_per_h": 1.0, "fan_w": 0.0, "fan_free_m3_per_h": 4000.0}
    heater = {"stages": [stage], "run_on_s": 0.0018}
    van = {"length_m": 6.0, "insulation": "foam 25-32 mm", "heater": heater, "bottles": ["11 kg exchange"]}
    assert judged(toml(documents()[-1] | {"van": van}), tmp_path) == RAN
