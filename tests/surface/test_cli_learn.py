"""`budget learn` with real files: what is written, what the tour then uses, and what is refused with which sentence."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import numpy as np
import pytest
from conftest import Call
from logged_nights import Truth, night, write_log, write_tour

from budget.answers.measured.log_file import LogFile
from budget.tour.reader import load
from budget.van.learned import LearnedSection

SECTION = """
[learned]
made = 2027-01-03
source = "night.csv"
place = "the yard"
start = 2027-01-02T18:00:00+02:00
preset_loss_w_per_k = [49, 52, 56]
loss_w_per_k = [53, 55, 57]

[learned.factors]
loss_factor = [1.0, 1.05, 1.1]
"""
TRUTH = Truth(loss=1.05, leakage=1.1, capacity=1.1)  # within what a van given in full leaves open


def metered(path: Path, start: str = "2027-01-10 18:00") -> Path:
    """A night on a meter: five-minute readings in °F, every fifth missing, and a gap of forty minutes."""
    seconds, inside, outside = night(TRUTH, heat_w=2000.0, heat_h=8.0, first_c=15.0, minutes=5.0)
    kept = (np.arange(len(seconds)) % 5 != 3) & ((seconds < 30_000.0) | (seconds > 32_400.0))
    kwh = 500.0 + 2.0 * np.minimum(seconds / 3600.0, 8.0)
    write_log(path, seconds[kept], inside[kept] * 1.8 + 32.0, outside[kept] * 1.8 + 32.0, start=start,
              mains_kwh=kwh[kept])  # fmt: skip
    path.write_text(path.read_text("utf-8").replace("inside_c,outside_c", "inside_f,outside_f [°F]"), "utf-8")
    return path


def test_a_metered_night_is_learned_written_and_used(tmp_path: Path, call: Call) -> None:
    """W/K within 4 % of the independent simulation; the section beside the tour is taken when its line is put in, and a
    second call learns the same from the same log, whether or not the tour already uses the first.
    """
    tour, log = write_tour(tmp_path), metered(tmp_path / "night.csv")
    ended = call("learn", str(tour), "--log", str(log))
    assert ended.code == 0, ended.err
    assert "write at the top of" in ended.err and 'learned = "my-tour.learned.toml"' in ended.err
    assert "converted to °C" in " ".join(ended.out.split())
    written = (tmp_path / "my-tour.learned.toml").read_text("utf-8")
    tour.write_text('learned = "my-tour.learned.toml"\n' + tour.read_text("utf-8"), "utf-8")
    used = load(tour)
    assert used.tour.learned is not None
    assert used.tour.learned.is_absolute
    assert used.tour.learned.loss_w_per_k[1] == pytest.approx(TRUTH.loss_w_per_k(), rel=0.04)
    assert used.tour.learned.source == "night.csv"
    again = call("learn", str(tour), "--log", str(log), "--json", "--dry-run", "--out", str(tmp_path / "none.toml"))
    assert again.code == 0, again.err
    found = json.loads(again.out)
    assert found["loss_w_per_k"]["learned_p50"] == pytest.approx(used.tour.learned.loss_w_per_k[1], rel=1e-3)
    assert (tmp_path / "my-tour.learned.toml").read_text("utf-8") == written
    assert not (tmp_path / "none.toml").exists()


def resting_on(log: Path) -> str:
    """A section that rests on the night of 10 January."""
    return f"""{SECTION}
[[learned.nights]]
log = "{log.name}"
sha256 = "{LogFile.read(log, "Europe/Riga").sha256}"
start = 2027-01-10T18:00:00+02:00
end = 2027-01-11T08:00:00+02:00
"""


def test_a_further_night_is_fitted_together_with_the_first_in_any_order(tmp_path: Path, call: Call) -> None:
    """A night after one that was learned from, and both at once in the other order with one of them twice: the same
    section to the byte, since they are fitted together in order of time. Section and answer name both.
    """
    tour, path = str(write_tour(tmp_path)), tmp_path / "my-tour.learned.toml"
    first, second = metered(tmp_path / "a.csv"), metered(tmp_path / "b.csv", "2027-01-12 18:00")
    path.write_text(resting_on(first), "utf-8")
    ended = call("learn", tour, "--log", str(second), "-q")
    assert ended.code == 0, ended.err
    assert "of a.csv and b.csv" in " ".join(ended.out.split())
    after = path.read_text("utf-8")
    both = LearnedSection.model_validate(tomllib.loads(after)["learned"])
    assert [night.log for night in both.nights] == ["a.csv", "b.csv"]
    assert both.loss_w_per_k[0] < TRUTH.loss_w_per_k() < both.loss_w_per_k[2]
    assert "as the logs a.csv and b.csv between 10 January 2027 and 13 January 2027" in both.sentence
    (tmp_path / "again.csv").write_bytes(first.read_bytes())
    logs = [word for name in ("b", "a", "again") for word in ("--log", str(tmp_path / f"{name}.csv"))]
    assert call("learn", tour, *logs, "--afresh", "-q").code == 0
    assert path.read_text("utf-8") == after


def test_a_log_on_which_the_first_answer_rests_must_be_there_as_it_was(tmp_path: Path, call: Call) -> None:
    """Before anything is fitted: gone, changed, the same hours twice, a section that is none; nothing is written."""
    tour, path = write_tour(tmp_path), tmp_path / "my-tour.learned.toml"
    first, second = metered(tmp_path / "a.csv"), metered(tmp_path / "b.csv", "2027-01-12 18:00")
    path.write_text(resting_on(first), "utf-8")

    def refused_with(*logs: Path) -> str:
        ended = call("learn", str(tour), *(word for log in logs for word in ("--log", str(log))))
        assert (ended.code, ended.out) == (1, "")
        assert path.read_text("utf-8") == written
        return " ".join(ended.err.split())

    written = path.read_text("utf-8")
    overlapping = metered(tmp_path / "c.csv", "2027-01-11 01:00")
    assert "a night must be given once, got" in refused_with(overlapping)
    first.write_text(first.read_text("utf-8") + "\n", "utf-8")
    assert "must be as it was when learned from, got a file that has changed" in refused_with(second)
    first.unlink()
    sentence = "the log of 10 January 2027, on which the numbers learned before rest, must be there, got no such file"
    assert sentence in refused_with(second)
    path.write_text("[learned]\nmade = 3\n", "utf-8")
    written = path.read_text("utf-8")
    assert "move it away, or add --afresh" in refused_with(second)


def refused(tmp_path: Path, call: Call, log: Path) -> str:
    ended = call("learn", str(write_tour(tmp_path)), "--log", str(log))
    assert ended.code == 1
    assert ended.out == ""
    assert not (tmp_path / "my-tour.learned.toml").exists()
    return " ".join(ended.err.split())


def test_what_a_log_cannot_tell_is_refused_by_the_command(tmp_path: Path, call: Call) -> None:
    seconds, inside, outside = night(TRUTH)
    path = tmp_path / "n.csv"
    cases = {
        "a log must cover at least 4 h, got 2.0 h": (*night(TRUTH, hours=2.0), "2027-01-10 18:00"),
        "4 h on end with the sun down": (*night(TRUTH, hours=6.0), "2027-01-10 09:30"),
        "without heat the inside must cool": (seconds, np.full(len(seconds), 19.0), outside, "2027-01-10 18:00"),
        "without heat the inside cannot warm up": (
            seconds, np.where(seconds > 25_000.0, inside + 4.0, inside), outside, "2027-01-10 18:00",
        ),
    }  # fmt: skip
    for sentence, (at, warm, cold, start) in cases.items():
        assert sentence in refused(tmp_path, call, write_log(path, at, warm, cold, start=start))
    assert "a log is needed, got no such file" in refused(tmp_path, call, tmp_path / "none.csv")


def test_the_report_shows_what_was_learned_and_what_each_weighing_changed(tmp_path: Path, call: Call) -> None:
    """A tour with a learned section, weighed twice at the same time: the second reading takes the first one's place."""
    tour = write_tour(tmp_path)
    tour.write_text(tour.read_text("utf-8") + SECTION, "utf-8")
    for kg in ("21.4", "21.5"):
        weigh = ("weigh", str(tour), "--at", "2027-01-10T12:00", "--bottle", "11 kg exchange", "--kg", kg)
        ended = call(*weigh, "--scenarios", "50", "--json")
        assert ended.code == 0, ended.err
    found = json.loads(ended.out)
    assert len(found["readings"]) == 1
    assert found["used"][0]["weighed_kg"] == pytest.approx(2.0)
    book = (tmp_path / "my-tour.logbook.toml").read_text("utf-8")
    ended = call(*weigh, "--scenarios", "50", "-q")
    assert ended.code == 0
    assert any(line.startswith("11 kg exchange") and line.split()[-1] == "2" for line in ended.out.splitlines())
    assert (tmp_path / "my-tour.logbook.toml").read_text("utf-8") == book
    assert call("run", str(tour), "-o", str(tmp_path / "out"), "-q").code == 0
    page = (tmp_path / "out" / "report.html").read_text("utf-8")
    assert "What did the log teach about the van?" in page
    assert "What did each weighing change?" in page
    assert "The van is as the log night.csv of 2 January 2027 at the yard showed it" in page
