"""The command line starts quickly, knows its commands, and explains each with an example that runs."""

from __future__ import annotations

import math
import os
import resource
import shlex
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import pytest
from conftest import Call

import budget.cli
from budget.cli import COMMANDS

SLOW = {"pandas", "pvlib", "numba", "plotly", "pydantic", "numpy", "scipy", "rich"}
FOLDER = Path(budget.cli.__file__).parent


def in_a_fresh_process(code: str) -> str:
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return done.stdout


@pytest.mark.parametrize("words", [["--help"], ["--version"], ["version"], *([name, "--help"] for name in COMMANDS)])
def test_help_imports_nothing_slow(words: list[str]) -> None:
    code = f"""
import sys
from budget.cli import main
try:
    main.main({words!r}, prog_name="budget")
except SystemExit as end:
    assert not end.code, end.code
print("\\nslow:", *sorted({SLOW!r} & set(sys.modules)))
"""
    assert in_a_fresh_process(code).rstrip("\n").rsplit("\n", 1)[1].strip() == "slow:"


def processor_s(*words: str, times: int = 5) -> float:
    """Least processor time of some runs of a fresh Python: other work on the machine only ever adds to it."""
    keeping_bytecode = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}

    def once() -> float:
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, *words], check=True, stdout=subprocess.DEVNULL, env=keeping_bytecode)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime

    return min(once() for _ in range(times))


def test_help_takes_at_most_three_times_an_import_of_click() -> None:
    """The limit is the project's own; it was 1.2 when this was written, 12 with pandas imported."""
    assert processor_s("-m", "budget", "--help") < 3.0 * processor_s("-c", "import click")


def test_a_run_takes_at_most_two_and_a_half_times_the_import_of_its_libraries(tmp_path: Path) -> None:
    """The limit is the project's own; it was 1.7 when this was written, after the first use, which compiles."""
    imports_s = processor_s("-c", "import pandas, pvlib, plotly.graph_objects, numba", times=3)
    assert processor_s("-m", "budget", "run", "-q", "-o", str(tmp_path / "out"), times=3) < 2.5 * imports_s


def test_the_table_of_commands_is_the_folder_of_commands() -> None:
    """A command's name is its file's, and no file with a command is left out."""
    for name, entry in COMMANDS.items():
        assert import_module(f"budget.cli.{entry.module}").command.name == name
        assert entry.module == name.replace("-", "_")
    defining = {path.stem for path in FOLDER.glob("*.py") if "\n@click.command(" in path.read_text("utf-8")}
    assert defining - {"__init__"} == {entry.module for entry in COMMANDS.values()}


def test_help_lists_every_command_with_its_short_word(call: Call) -> None:
    ended = call("--help")
    for name, entry in COMMANDS.items():
        assert f"  {name} " in ended.out
        assert entry.short.split()[0] in ended.out


def examples() -> list[tuple[str, str]]:
    """Each command's name with the last line of its help."""
    found = []
    for name, entry in COMMANDS.items():
        epilog = import_module(f"budget.cli.{entry.module}").command.epilog or ""
        found.append((name, epilog.removeprefix("Example:").strip()))
    return found


def a_night() -> str:
    """A log of ten hours in which a van cools from 20 °C towards -5 °C with a time constant of 6 h."""
    rows = [f"2027-01-12 {hour:02d}:00,{-5.0 + 25.0 * math.exp(-hour / 6.0):.2f},-5.0" for hour in range(11)]
    return "\n".join(["time,inside_c,outside_c", *rows]) + "\n"


@pytest.mark.parametrize(("name", "example"), examples(), ids=list(COMMANDS))
def test_the_example_that_ends_each_help_runs(
    name: str, example: str, call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In an empty folder with a starter file and a logged night, which is what the examples name."""
    monkeypatch.chdir(tmp_path)
    Path("night.csv").write_text(a_night(), "utf-8")
    if name != "new":
        assert call("new", "my-tour.toml").code == 0
    if name == "record":
        assert call(*shlex.split(dict(examples())["weigh"])[1:]).code == 0
    words = shlex.split(example)
    assert words[:2] == ["budget", name]
    if ">" in words:
        words = words[: words.index(">")]
    ended = call(*words[1:])
    assert (ended.code, [line for line in ended.err.splitlines() if "internal" in line]) == (0, [])


def test_python_m_budget_is_budget() -> None:
    done = subprocess.run([sys.executable, "-m", "budget", "--version"], capture_output=True, text=True, check=True)
    assert done.stdout.startswith("budget ")


def test_the_shell_can_complete_commands() -> None:
    """Completion is click's: the shell asks with these variables and gets one word a line."""
    asked = {"_BUDGET_COMPLETE": "bash_complete", "COMP_WORDS": "budget ch", "COMP_CWORD": "1"}
    code = "from budget.cli import main; main(prog_name='budget')"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, env=os.environ | asked
    )
    assert (done.stdout.strip(), done.stderr) == ("plain,check", "")


def test_a_run_without_odds_loads_nothing_that_only_odds_need(tmp_path: Path) -> None:
    """Statistics and plotly's Python figures take longer to import than the run takes to march."""
    code = f"""
import sys
from budget.cli import main
try:
    main.main(["run", "-q", "-o", {str(tmp_path / "out")!r}], prog_name="budget")
except SystemExit as end:
    assert not end.code, end.code
print("\\nslow:", *sorted({{"scipy.stats", "scipy.signal", "plotly.graph_objects"}} & set(sys.modules)))
"""
    assert in_a_fresh_process(code).rstrip("\n").rsplit("\n", 1)[1].strip() == "slow:"


def test_a_command_is_not_searched_for_forgotten_objects() -> None:
    """Neither while it runs nor on its way out: the searches took a quarter of a run, and found next to nothing."""
    code = """
import atexit, gc
from budget.cli import main
atexit.register(lambda: print("searched:", gc.get_stats()[2]["collections"], "set aside:", gc.get_freeze_count() > 0))
main(["plan", "-q"], prog_name="budget")
"""
    assert in_a_fresh_process(code).splitlines()[-1] == "searched: 0 set aside: True"
