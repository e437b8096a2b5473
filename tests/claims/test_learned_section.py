"""What a log said is used: one tour takes its middle, the odds draw from its range, and it is named."""

from __future__ import annotations

import datetime as dt
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import Call
from sample_tours import short_tour
from sample_vans import one_room
from scipy.stats import spearmanr
from small_tour import small

from budget.answers.ensemble import InTurn
from budget.answers.measured.doubts import Band
from budget.answers.measured.learn import Learned, LogUsed
from budget.answers.measured.section import section as section_text
from budget.answers.odds import answer as odds
from budget.answers.prepared import Prepared, factor_rows
from budget.answers.unknowns import Unknowns
from budget.errors import InputFault
from budget.simulation import simulate
from budget.tour.reader import load
from budget.tour.starter import starter
from budget.van.learned import LearnedFactors, LearnedSection, as_learned
from budget.van.ranges import ranges

NARROW = {"loss_factor": (1.15, 1.2, 1.25), "leakage_factor": (0.9, 1.0, 1.1), "capacity_factor": (1.05, 1.1, 1.15)}
SECTION = """
[learned]
made = 2027-01-03
source = "night.csv"
place = "the yard"
start = 2027-01-02T18:00:00+02:00
loss_w_per_k = [70, 74, 78]
correlation = [[1.0, 0.8], [0.8, 1.0]]

[learned.factors]
loss_factor = [1.15, 1.2, 1.25]
capacity_factor = [1.05, 1.1, 1.15]
"""


def section(factors: dict[str, tuple[float, float, float]], **more: Any) -> LearnedSection:
    return LearnedSection(
        made=dt.date(2027, 1, 3), source="night.csv", loss_w_per_k=(70.0, 74.0, 78.0),
        factors=LearnedFactors(**factors), **more,
    )  # fmt: skip


def test_a_van_whose_factors_are_all_1_is_the_van_as_described() -> None:
    """Gas of three nights to nine digits: U-values of layers are only written another way."""
    van = one_room()
    ones = section(dict.fromkeys(LearnedFactors.model_fields, (0.9, 1.0, 1.1)))
    gas = [simulate(v, short_tour(v)).summary["gas"]["total_kg"] for v in (van, as_learned(van, ones))]
    assert gas[1] == pytest.approx(gas[0], rel=1e-9)


def test_learned_numbers_in_the_van_are_those_factors_in_the_march() -> None:
    """The demo van with its numbers multiplied against the described van with the engine's own factors: gas within
    0.1 %. What is left is the film of the wind, which is in series with each U-value by itself.
    """
    prepared = small()
    factors = {
        "loss_factor": (1.1, 1.25, 1.4), "glazing_factor": (0.7, 0.8, 0.9), "leakage_factor": (1.0, 1.3, 1.6),
        "capacity_factor": (0.8, 0.9, 1.0), "efficiency_factor": (0.95, 0.97, 0.99),
    }  # fmt: skip
    usual = {name: np.array([three[1]]) for name, three in factors.items()}
    learned = prepared.with_van(as_learned(prepared.van, section(factors)))
    marched = prepared.gas_kg(prepared.run(factor_rows(usual, 1)))[0]
    assert learned.gas_kg(learned.run())[0] == pytest.approx(marched, rel=0.001)
    assert abs(marched / prepared.gas_kg(prepared.run())[0] - 1.0) > 0.05


def test_a_learned_range_takes_the_place_of_the_preset_s_about_its_own_middle() -> None:
    loaded = load(None)
    assert loaded.description is not None
    before, after = ranges(loaded.description), ranges(loaded.description, section(NARROW))
    assert after["loss_factor"][:3] == pytest.approx((1.15 / 1.2, 1.0, 1.25 / 1.2))
    assert after["loss_factor"].source == "night.csv"
    assert after["solar_factor"] == before["solar_factor"]


def test_factors_learned_together_are_drawn_together() -> None:
    """A correlation of 0.8 of normal scores is a rank correlation of 6/π asin(0.4) = 0.786 (Pearson 1907); 2000 draws
    leave 0.01 of standard error. The quantiles stay the stated ones, and a factor that was not learned stays apart.
    """
    learned = section(
        {"loss_factor": (0.8, 1.0, 1.3), "capacity_factor": (0.7, 1.0, 1.2)}, correlation=((1.0, 0.8), (0.8, 1.0))
    )
    unknown = Unknowns(ranges(one_room(), learned), learned)
    drawn = unknown.factors(unknown.scores(2000, 1))
    assert spearmanr(drawn["loss_factor"], drawn["capacity_factor"])[0] == pytest.approx(0.786, abs=0.04)
    assert spearmanr(drawn["loss_factor"], drawn["solar_factor"])[0] == pytest.approx(0.0, abs=0.1)
    assert np.quantile(drawn["capacity_factor"], [0.1, 0.5, 0.9]) == pytest.approx([0.7, 1.0, 1.2], rel=0.03)


def test_the_odds_narrow_and_move_with_what_a_log_said() -> None:
    """The demo van in its own weather: with walls and draughts known to 5 and 10 %, the band of gas narrows to less
    than 0.6 of the presets', and its middle moves as far as that of one tour does.
    """
    prepared = small()
    learned = section(NARROW)
    tour = prepared.tour.model_copy(update={"learned": learned})
    known = replace(prepared.with_van(as_learned(prepared.van, learned)), tour=tour)
    before, after = (
        odds(one, scenarios=200, weather=False, executor=InTurn()).gas for one in (prepared, known)
    )  # fmt: skip
    assert after.p90 - after.p10 < 0.6 * (before.p90 - before.p10)
    alone = known.gas_kg(known.run())[0] / prepared.gas_kg(prepared.run())[0]
    assert after.p50 / before.p50 == pytest.approx(alone, rel=0.05)


def test_a_section_that_rests_on_many_logs_of_long_names_is_read_back(tmp_path: Path) -> None:
    """Six names of 124 characters, odd ones among them, are longer together than a title may be, and a folder
    elsewhere is named in full; what is written is what the tour reads.
    """
    start = dt.datetime(2027, 1, 2, 18, tzinfo=dt.UTC)
    logs = tuple(
        LogUsed(
            tmp_path / "logs" / f'{k}\t"\\\xa0{"n" * 120}.csv', f"{k:064d}", f"place {k}", start + dt.timedelta(days=k),
            start + dt.timedelta(days=k, hours=14), 14, k > 0,
        )
        for k in range(6)
    )  # fmt: skip
    factors = tuple(Band(name, 0.8, 1.0, 1.2, 0.9, 1.0, 1.1) for name in ("loss_factor", "capacity_factor"))
    loss = Band("loss_w_per_k", 50.0, 60.0, 70.0, 55.0, 57.0, 59.0)
    found = Learned(
        logs, True, 2.0, 5.0, loss, None, Band("loss_per_capacity_per_h", 0.1, 0.2, 0.3, 0.1, 0.2, 0.3), factors,
        np.array([[0.01, 0.004], [0.004, 0.01]]), (), 0.1, 0.5, 500.0, (),
    )  # fmt: skip
    (tmp_path / "tour").mkdir()
    read = LearnedSection.model_validate(
        tomllib.loads(section_text(found, dt.date(2027, 1, 9), tmp_path / "tour"))["learned"]
    )
    assert [Path(night.log) for night in read.nights] == [log.path for log in logs]
    assert [night.sha256 for night in read.nights] == [log.sha256 for log in logs]
    assert [night.is_absolute for night in read.nights] == [False, *[True] * 5]
    assert (read.start, read.end) == (logs[0].start, logs[-1].end)
    assert read.correlation[0][1] == pytest.approx(0.4)
    assert read.source.startswith('0\t"\\\xa0nnn') and read.source.endswith(" ...")


def write_tour(folder: Path, more: str) -> Path:
    path = folder / "my-tour.toml"
    top, rest = starter("quick").split("\n", 1)
    path.write_text(f"{top}\n{more}\n{rest}" if more.startswith("learned") else starter("quick") + more, "utf-8")
    return path


def test_a_tour_file_takes_the_section_itself_or_the_name_of_its_file(tmp_path: Path) -> None:
    plain = load(write_tour(tmp_path, ""))
    inside = load(write_tour(tmp_path, SECTION))
    (tmp_path / "van.learned.toml").write_text(SECTION, encoding="utf-8")
    named = load(write_tour(tmp_path, 'learned = "van.learned.toml"'))
    assert inside.tour.learned == named.tour.learned is not None
    assert named.van == inside.van != plain.van
    outside = load(write_tour(tmp_path, ""), ['learned="van.learned.toml"'])
    assert (outside.van, outside.tour.learned) == (named.van, named.tour.learned)
    assert (tmp_path / "van.learned.toml") in outside.sources
    assert named.as_described == plain.van
    assert (tmp_path / "van.learned.toml") in named.sources
    walls = [v.cabin.zones[0].opaque[0].u_w_per_m2k for v in (plain.van, inside.van)]
    assert 1.15 * walls[0] < walls[1] <= 1.2 * walls[0]  # less than 1.2 by the lining in series


def test_a_file_of_what_was_learned_that_is_set_from_outside_and_is_not_there_is_refused(tmp_path: Path) -> None:
    tour = write_tour(tmp_path, "")
    with pytest.raises(InputFault) as fault:
        load(tour, ['learned="nosuch.toml"'])
    assert str(fault.value) == (
        '--set learned="nosuch.toml": file of what was learned: nosuch.toml must be a file that exists, none is there; '
        "check the name and folder."
    )


def test_the_commands_name_what_was_learned_with_date_and_source(tmp_path: Path, call: Call) -> None:
    told = "The van is as the log night.csv of 2 January 2027 at the yard showed it (learned 3 January 2027): 74 W/K"
    tour = str(write_tour(tmp_path, SECTION))
    for words in (("check", tour), ("run", tour, "-o", str(tmp_path / "out"), "-v")):
        ended = call(*words)
        assert ended.code == 0
        assert told in " ".join((ended.out + ended.err).split())
    assert told in (tmp_path / "out" / "report.html").read_text(encoding="utf-8")


def test_a_prepared_tour_knows_its_ranges_from_the_log(tmp_path: Path) -> None:
    loaded = load(write_tour(tmp_path, SECTION))
    unknown = Prepared.from_loaded(loaded).unknowns()
    assert unknown.limits["loss_factor"].high == pytest.approx(1.25 / 1.2)
    assert unknown.learned is loaded.tour.learned


@pytest.mark.parametrize(
    ("right", "wrong", "sentence"),
    [
        ("[1.15, 1.2, 1.25]", "[1.3, 1.2, 1.25]", "must be P10, P50 and P90, above 0 and rising, got 1.3, 1.2, 1.25"),
        ("[1.15, 1.2, 1.25]", "[1.15, 1.2, 125]", "must be factors from 0.1 to 10, got 1.15, 1.2, 125; correct it."),
        ("[1.15, 1.2, 1.25]", "1.2", "learned.factors.loss_factor must be a list, got 1.2"),
        ("loss_factor", "los_factor", "learned.factors.los_factor is not a known name here; did you mean loss_factor?"),
        ("[[1.0, 0.8], [0.8, 1.0]]", "[[1.0, 0.8]]", "one for each factor, got rows of 2; learn anew, or leave"),
        ("[[1.0, 0.8], [0.8, 1.0]]", "[[1.0, 0.8], [0.1, 1.0]]", "must give a correlation that is symmetric"),
        ("made = 2027-01-03", "made = 3", "learned.made must be a date such as 2027-01-09, got 3"),
        ('source = "night.csv"\n', "", "learned.source is required; add it"),
    ],
)
@pytest.mark.parametrize("beside", [False, True])
def test_a_section_that_cannot_be_is_refused_with_its_line(
    right: str, wrong: str, sentence: str, beside: bool, tmp_path: Path
) -> None:
    broken = SECTION.replace(right, wrong)
    (tmp_path / "van.learned.toml").write_text(broken, encoding="utf-8")
    tour = write_tour(tmp_path, 'learned = "van.learned.toml"' if beside else broken)
    with pytest.raises(InputFault) as fault:
        load(tour)
    assert len(fault.value.faults) == 1
    assert sentence in str(fault.value)
    assert str(fault.value).startswith("van.learned.toml line " if beside else f"{tour} line ")


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (None, "line 2: file of what was learned: van.learned.toml must be a file that exists, none is there"),
        ('title = "x"\n', 'line 2: learned must name a file with a table [learned], got "van.learned.toml" without'),
    ],
)
def test_a_file_without_a_section_is_refused(text: str | None, sentence: str, tmp_path: Path) -> None:
    if text is not None:
        (tmp_path / "van.learned.toml").write_text(text, encoding="utf-8")
    with pytest.raises(InputFault) as fault:
        load(write_tour(tmp_path, 'learned = "van.learned.toml"'))
    assert sentence in str(fault.value)
