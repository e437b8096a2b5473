"""The borders of the package are failing checks: layers, style, types, and what stands at the top of the folder."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import budget

ROOT = Path(__file__).resolve().parents[2]
MOST_LINES = 320  # "about 300", with room for a docstring
TOP = {"README.md", "DEVELOPERS.md", "pyproject.toml", "budget", "tests", "weather_samples", "notebooks"}


def run(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, *words], cwd=ROOT, capture_output=True, text=True, check=False)


def test_data_flows_one_way() -> None:
    """import-linter, contracts in pyproject.toml: layers, plain physics, one door each for pvlib, plotly, click."""
    code = "from importlinter.cli import lint_imports_command; lint_imports_command()"
    done = run("-c", code)
    assert done.returncode == 0, done.stdout + done.stderr


def test_ruff_is_content() -> None:
    done = run("-m", "ruff", "check", ".")
    assert done.returncode == 0, done.stdout


def test_everything_is_formatted() -> None:
    done = run("-m", "ruff", "format", "--check", ".")
    assert done.returncode == 0, done.stdout


def test_mypy_strict_is_content() -> None:
    done = run("-m", "mypy")
    assert done.returncode == 0, done.stdout


@pytest.mark.parametrize("path", sorted((ROOT / "budget").rglob("*.py")), ids=lambda path: str(path.relative_to(ROOT)))
def test_a_module_fits_one_sitting(path: Path) -> None:
    assert len(path.read_text("utf-8").splitlines()) <= MOST_LINES


def test_nothing_else_stands_at_the_top() -> None:
    """Of what is tracked; a folder that is no checkout has nothing to compare."""
    done = subprocess.run(["git", "ls-files", "--cached"], cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        pytest.skip("no checkout, so nothing says what is tracked")
    top = {line.split("/")[0].strip('"') for line in done.stdout.splitlines()}
    assert {name for name in top if not name.startswith(".")} <= TOP


def test_the_public_names_exist_and_no_others() -> None:
    for name in budget.__all__:
        assert getattr(budget, name) is not None
    assert set(budget.__all__) <= set(dir(budget))
    with pytest.raises(AttributeError):
        _ = budget.nothing_of_the_kind


def test_the_wheel_has_one_version() -> None:
    """pyproject.toml reads it from the package."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    assert project["project"]["dynamic"] == ["version"]
    assert project["tool"]["hatch"]["version"]["path"] == "budget/version.py"
    assert project["project"]["scripts"] == {"budget": "budget.cli:main"}
    assert (ROOT / "budget" / "py.typed").exists()
