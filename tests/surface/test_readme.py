"""The README and the help topics are true: their commands run, their tables are whole, their files parse."""

from __future__ import annotations

import json
import os
import re
import shlex
import stat
import subprocess
import sys
from pathlib import Path

import pytest
from conftest import Call

from budget.cli import COMMANDS
from budget.cli.help import TOPICS, page
from budget.units import SUFFIXES

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")
TEST_LINE = next(line for line in README.splitlines() if ".venv/bin/python -m pytest" in line)


def blocks(language: str) -> list[str]:
    """Fenced blocks of a language of the README, in order."""
    return re.findall(rf"^```{language}\n(.*?)^```$", README, flags=re.MULTILINE | re.DOTALL)


def commands() -> list[str]:
    """Every line of a shell block that calls the installed program."""
    return [line for block in blocks("") for line in block.splitlines() if line.startswith("budget")]


@pytest.fixture(scope="module")
def shell(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the program's name in it, for the path of a shell."""
    folder = tmp_path_factory.mktemp("bin")
    program = folder / "budget"
    program.write_text(f'#!/bin/sh\nexec {shlex.quote(sys.executable)} -m budget "$@"\n', "utf-8")
    program.chmod(program.stat().st_mode | stat.S_IXUSR)
    return folder


def test_every_command_of_the_readme_runs_in_an_empty_folder_one_after_the_other(shell: Path, tmp_path: Path) -> None:
    assert len(commands()) > 10
    env = os.environ | {"PATH": f"{shell}{os.pathsep}{os.environ['PATH']}"}
    for line in commands():
        done = subprocess.run(line, shell=True, cwd=tmp_path, env=env, capture_output=True, text=True, check=False)
        assert done.returncode == 0, f"{line}\n{done.stderr}"
    assert {"budget-out", "my-tour.toml", "out", "colder", "amps", "cold"} <= {path.name for path in tmp_path.iterdir()}
    assert json.loads((tmp_path / "summary.json").read_text("utf-8"))["gas"]["total_kg"] > 0.0


def test_the_python_of_the_readme_runs(tmp_path: Path) -> None:
    (code,) = blocks("python")
    done = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert re.match(r"[\d.]+ kg of gas\n-?[\d.]+ °C", done.stdout)


def test_the_tour_file_of_the_readme_can_be_run(call: Call, tmp_path: Path) -> None:
    (tour,) = blocks("toml")
    path = tmp_path / "tour.toml"
    path.write_text(tour, "utf-8")
    assert call("run", str(path), "--json", "-q").code == 0


def test_ci_runs_the_test_line_of_the_readme() -> None:
    script = (ROOT / ".ci" / "run").read_text("utf-8").splitlines()
    assert script[0] == "#!/usr/bin/env bash"
    assert "set -eo pipefail" in script
    assert script[-1] == TEST_LINE
    assert os.access(ROOT / ".ci" / "run", os.X_OK)


def test_the_install_line_installs_this_and_runs_the_demo() -> None:
    """The line itself needs a network and is run where there is one; its parts are compared here."""
    assert "python3 -m venv .venv && .venv/bin/pip install . && .venv/bin/budget run" in README
    assert TEST_LINE.startswith("python3 -m venv .venv && .venv/bin/pip install '.[test]' && ")


def test_files_that_the_readme_names_exist() -> None:
    for name in re.findall(r"\]\(([^)]+)\)", README) + re.findall(
        r"`((?:tests|notebooks|weather_samples)/[^`]*)`", README
    ):
        assert (ROOT / name).exists(), name


def test_the_readme_begins_with_the_job() -> None:
    first, second = README.split("\n\n")[:2]
    assert first == "# budget"
    assert "gas bottles" in second
    assert not second.startswith(("#", "!", "[", "-"))


@pytest.mark.parametrize("topic", TOPICS)
def test_every_topic_has_a_page(topic: str, call: Call) -> None:
    ended = call("help", topic)
    assert (ended.code, ended.err) == (0, "")
    assert ended.out.startswith("# ")
    assert ended.out == page(topic)


def test_every_command_is_in_the_readme() -> None:
    """In a block that is run, or, for what only prints something known, by its name."""
    for name in COMMANDS:
        assert f"budget {name}" in README or name == "version", name


def test_every_preset_is_in_its_reference() -> None:
    from budget.van import presets

    for kind in presets.kinds():
        for word, preset in presets.load(kind).items():
            assert f"\n- `{word}`: {preset.meaning}" in page("presets")


def test_the_table_of_suffixes_is_the_programs() -> None:
    rows = re.findall(r"^\| `(_[a-z0-9_]+)` \| ([^|]+) \|$", DEVELOPERS, flags=re.MULTILINE)
    assert {suffix: unit.strip() for suffix, unit in rows} == SUFFIXES


def test_tests_that_the_developers_page_names_exist() -> None:
    """Each numerical edge names the test that holds it."""
    named = re.findall(r"`(tests/[\w/]+\.py)(?:::(\w+))?`", DEVELOPERS)
    assert named
    for path, test in named:
        assert (ROOT / path).exists(), path
        assert not test or f"def {test}(" in (ROOT / path).read_text("utf-8"), f"{path}::{test}"
