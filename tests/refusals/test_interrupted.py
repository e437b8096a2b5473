"""Ctrl-C, a full disk, a killed worker: nothing half-written, a clear word, the documented exit code."""

from __future__ import annotations

import contextlib
import json
import os
import resource
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import fields
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import pytest
from conftest import Call
from mutations import documents, toml
from small_tour import small

from budget.answers import ensemble as ensemble_module
from budget.answers import odds
from budget.answers.ensemble import CHUNK, Ensemble, Kept, ensemble
from budget.errors import BudgetError
from budget.whole_file import MARK, made_beside

INTERRUPTED = "budget: interrupted; no result was written.\n"


@pytest.fixture(autouse=True)
def ctrl_c_is_heard() -> Iterator[None]:
    """As at a terminal; a shell that starts the tests in the background has them, and what they start, ignore it."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.fixture
def two_nights(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.chdir(tmp_path)
    Path("tour.toml").write_text(toml(documents()[0]), "utf-8")
    return "tour.toml"


def everything() -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in sorted(Path().rglob("*")) if path.is_file()}


def then_ctrl_c(function: Callable[..., Any]) -> Callable[..., Any]:
    """The function, and the terminal's Ctrl-C as soon as it has done its work."""

    def work(*arguments: Any, **named: Any) -> Any:
        done = function(*arguments, **named)
        os.kill(os.getpid(), signal.SIGINT)
        time.sleep(0.01)  # where the interpreter hears of it
        return done

    return work


MOMENTS = {
    "read": "budget.tour.reader.load",
    "simulated": "budget.simulation.simulate",
    "answered": "budget.cli.report_parts.parts",
    "report made": "budget.report.page.page",
    "report written": "budget.cli.run.write_text",
    "hours written": "budget.results.result.hourly_csv",
}


@pytest.mark.parametrize("moment", MOMENTS)
def test_ctrl_c_at_any_moment_leaves_what_was_there(
    moment: str, two_nights: str, call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The files of an earlier run stay as they were, byte for byte."""
    Path("out").mkdir()
    Path("out/report.html").write_text("an earlier report")
    before = everything()
    module, name = MOMENTS[moment].rsplit(".", 1)
    monkeypatch.setattr(
        MOMENTS[moment], then_ctrl_c(getattr(sys.modules.get(module) or __import__(module, fromlist=[name]), name))
    )
    ended = call("run", two_nights, "--json", "-q", "-o", "out")
    assert (ended.code, ended.out, ended.err.lstrip("\n")) == (130, "", INTERRUPTED)
    assert everything() == before


def test_ctrl_c_between_the_moves_lets_all_files_into_place(
    two_nights: str, call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Else one file would be of this run and the other of the one before."""
    moved = then_ctrl_c(os.replace)
    monkeypatch.setattr("budget.cli.output.os.replace", moved)
    ended = call("run", two_nights, "-q", "-o", "out")
    assert ended.code == 0
    assert set(everything()) == {"tour.toml", "out/report.html", "out/hourly.csv"}
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_a_process_in_the_middle_of_its_odds_ends_with_130(two_nights: str) -> None:
    """A real process and a real signal, while the workers march; its first word says that it has begun."""
    words = [sys.executable, "-m", "budget", "odds", "--scenarios", "5000", "--json"]
    with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        assert process.stderr is not None
        assert "demo tour" in process.stderr.readline()
        time.sleep(3.0)
        process.send_signal(signal.SIGINT)
        try:
            out, err = process.communicate(timeout=120)
        finally:
            process.kill()  # else one that does not hear would be waited for without end
    assert (process.returncode, out) == (130, "")
    assert err.lstrip("\n").endswith(INTERRUPTED)
    assert "Traceback" not in err
    assert set(everything()) == {"tour.toml"}


@contextlib.contextmanager
def disk_of(size_b: int) -> Iterator[None]:
    """No file of this process may grow beyond a size, as on a disk that fills up."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size_b, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@pytest.mark.parametrize(
    ("words", "size_b", "place"),
    [
        (("run", "tour.toml", "-o", "out"), 200_000, "out/report.html"),  # the hours fit, the report does not
        (("new", "new.toml"), 500, "new.toml"),
        (("weather", "sample:cold_snap.csv", "--csv", "out.csv"), 5000, "out.csv"),
    ],
    ids=["run", "new", "weather"],
)
def test_a_disk_that_fills_up_leaves_nothing_half_written(
    words: tuple[str, ...], size_b: int, place: str, two_nights: str, call: Call
) -> None:
    with disk_of(size_b):
        ended = call(*words, "-q")
    assert (ended.code, ended.out) == (1, "")
    assert ended.err.startswith(f"budget: {place} must be a file that can be written, ")
    assert "file too large" in ended.err
    assert ended.err.count("\n") == 1
    assert os.listdir() == [two_nights]


@pytest.mark.parametrize(
    "words",
    [("weather", "sample:cold_snap.csv", "--csv", "out.csv"), ("run", "tour.toml", "-o", "out")],
    ids=" ".join,
)
def test_a_folder_that_may_not_be_written_to_is_said(
    words: tuple[str, ...], two_nights: str, call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By the system's own refusal, since the superuser, whom tests may run as, may write anywhere."""

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(tempfile, "mkstemp", refuse)
    ended = call(*words, "-q")
    assert (ended.code, ended.out) == (1, "")
    assert "permission denied" in ended.err.lower()
    assert ended.err.count("\n") == 1
    assert os.listdir() == [two_nights]


def test_what_a_killed_run_left_is_swept_away_by_the_next_and_nothing_else(two_nights: str, call: Call) -> None:
    """Kill -9 cannot be caught: the hidden halves stay, and the next run to that folder takes them away.

    What an editor or a person put there under a name that only begins alike is theirs.
    """
    Path("out").mkdir()
    halves = [made_beside(Path("out", name)).name for name in ("report.html", "hourly.csv")]
    theirs = [".mine", ".hourly.csv.swp", ".report.html.my-notes", ".report.html.ab12cd34.html"]
    theirs += [f"{halves[0]}.swp", f"{MARK}report.html.mine.html", made_beside(Path("out", "other.txt")).name]
    for name in (*halves, *theirs):
        Path("out", name).write_text("half")
    assert call("run", two_nights, "-q", "-o", "out").code == 0
    assert sorted(os.listdir("out")) == sorted([*theirs, "hourly.csv", "report.html"])


def test_two_runs_to_one_folder_are_one_result_and_one_sentence(two_nights: str, call: Call) -> None:
    words = [sys.executable, "-c", "import fcntl, os, sys; fcntl.flock(os.open('out', os.O_RDONLY), fcntl.LOCK_EX);"]
    words[2] += "print('held', flush=True); sys.stdin.read()"
    Path("out").mkdir()
    with subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == b"held\n"
        ended = call("run", two_nights, "-q", "-o", "out")
        other.communicate(b"")
    assert (ended.code, ended.out) == (1, "")
    assert ended.err == (
        "budget: out must be free, another run is writing to it; wait for that or choose another with -o.\n"
    )
    assert os.listdir("out") == []


class Broken(Executor):
    """An executor that lost a worker, as a pool of processes says it."""

    def map(self, *_: Any, **__: Any) -> Iterator[Any]:
        """No result, ever."""

        def ended() -> Iterator[Any]:
            raise BrokenProcessPool
            yield

        return ended()


def test_a_lost_worker_is_one_clear_word() -> None:
    with pytest.raises(BudgetError, match=r"^a worker of the batch was ended from outside; run it again$") as told:
        odds.answer(small(), scenarios=CHUNK, executor=Broken())
    assert told.value.exit_code == 3


class EndedFromOutside(Ensemble):
    """Its worker is ended by the system."""

    def chunk(self, first: int) -> Kept:
        """Never returns."""
        os.kill(os.getpid(), signal.SIGKILL)
        return super().chunk(first)


@pytest.mark.long
def test_a_killed_process_is_one_clear_word() -> None:
    made = ensemble(small(), CHUNK, 1)
    job = EndedFromOutside(**{part.name: getattr(made, part.name) for part in fields(made)})
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool, pytest.raises(BudgetError, match="a worker"):
        job.run(pool)


ODDS = ("odds", "tour.toml", "--scenarios", "160", "--seed", "5", "--json", "-q")


def chunks_marched(monkeypatch: pytest.MonkeyPatch, stop_after: int | None = None) -> list[int]:
    """The first scenario of every chunk that is marched from now on; Ctrl-C after so many."""
    marched: list[int] = []
    chunk = Ensemble.chunk

    def counted(self: Ensemble, first: int) -> Any:
        marched.append(first)
        if stop_after is not None and len(marched) > stop_after:
            raise KeyboardInterrupt
        return chunk(self, first)

    monkeypatch.setattr(Ensemble, "chunk", counted)
    monkeypatch.setattr(ensemble_module.os, "cpu_count", lambda: 1)
    return marched


def test_resumed_odds_have_the_same_bits(two_nights: str, call: Call) -> None:
    """Interrupted after two of four blocks, then taken up: only what was lacking is marched, the answer is the same."""
    whole = call(*ODDS).out
    with pytest.MonkeyPatch.context() as patch:
        chunks_marched(patch, stop_after=2)
        ended = call(*ODDS, "--keep", "kept")
    assert (ended.code, ended.out) == (130, "")
    blocks = sorted(path.name for path in Path("kept").rglob("*") if path.is_file())
    assert blocks == ["000000.npz", "000050.npz"]
    with pytest.MonkeyPatch.context() as patch:
        marched = chunks_marched(patch)
        assert call(*ODDS, "--keep", "kept").out == whole
    assert marched == [100, 150]
    with pytest.MonkeyPatch.context() as patch:
        marched = chunks_marched(patch)
        assert call(*ODDS, "--keep", "kept").out == whole
    assert marched == []


@pytest.mark.parametrize(
    "other",
    [("--seed", "6"), ("--scenarios", "150"), ("--only", "van"), ("--set", "weather.offset_k=-1")],
    ids=" ".join,
)
def test_blocks_of_another_question_are_not_taken_up(
    other: tuple[str, str], two_nights: str, call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    short = ("odds", "tour.toml", "--scenarios", "50", "--seed", "5", "--json", "-q", "--keep", "kept")
    assert call(*short).code == 0
    marched = chunks_marched(monkeypatch)
    assert call(*short, *other).code == 0
    assert marched[0] == 0


def test_a_damaged_block_is_marched_again(two_nights: str, call: Call) -> None:
    short = ("odds", "tour.toml", "--scenarios", "50", "--json", "-q", "--keep", "kept")
    whole = call(*short).out
    (block,) = Path("kept").rglob("*.npz")
    block.write_bytes(block.read_bytes()[:300])
    assert call(*short).out == whole
    assert json.loads(whole)["scenarios"] == 50


def test_a_place_that_cannot_keep_blocks_is_said(two_nights: str, call: Call) -> None:
    ended = call("odds", "tour.toml", "--scenarios", "50", "-q", "--keep", "tour.toml")
    assert (ended.code, ended.out) == (1, "")
    assert ended.err.startswith("budget: tour.toml must be a folder that blocks can be kept in, the system reports: ")
