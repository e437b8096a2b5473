"""Wheel and sdist built and installed in a clean environment, and the lowest versions that are promised.

Long, and the only tests that need a network: they fetch packages as a user's installation does.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

pytestmark = pytest.mark.long

ROOT = Path(__file__).resolve().parents[2]
# Runs the installed program with every socket closed.
ALONE = """
import sys
def hook(event, arguments):
    if event.startswith("socket.") and event not in ("socket.__new__", "socket.bind"):
        raise OSError(101, "the tests have closed the network")
sys.addaudithook(hook)
from budget.cli import main
main(prog_name="budget")
"""


def run(*words: str | Path, cwd: Path, **more: str) -> str:
    """Output of a program, without this checkout on Python's path; what it said where it failed."""
    env = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"} | more
    done = subprocess.run(list(map(str, words)), cwd=cwd, env=env, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-3000:]
    return done.stdout


def environment(place: Path, *packages: str | Path) -> Path:
    """Python of a clean virtual environment with these packages in it."""
    run(sys.executable, "-m", "venv", place, cwd=place.parent)
    python = place / "bin" / "python"
    run(python, "-m", "pip", "install", "-q", "--disable-pip-version-check", *packages, cwd=place.parent)
    return python


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the wheel and the sdist, both made from a copy of what is tracked."""
    base = tmp_path_factory.mktemp("built")
    source = base / "source"
    source.mkdir()
    files = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=True).stdout.decode()
    for name in filter(None, files.split("\0")):
        if (ROOT / name).exists():
            (source / name).parent.mkdir(parents=True, exist_ok=True)
            (source / name).write_bytes((ROOT / name).read_bytes())
    python = environment(base / "builder", "build")
    run(python, "-m", "build", "--outdir", base / "dist", source, cwd=base)
    return base / "dist"


@pytest.mark.parametrize("kind", ["*.whl", "*.tar.gz"])
def test_a_clean_installation_runs_the_demo_from_an_empty_folder(kind: str, built: Path, tmp_path: Path) -> None:
    """Twice, the second time from its cache; both times the network is closed."""
    (package,) = built.glob(kind)
    python = environment(tmp_path / "venv", package)
    empty = tmp_path / "empty"
    empty.mkdir()
    (tmp_path / "home").mkdir()
    words = (python, "-c", ALONE, "run", "--json", "-q", "-o", "out")
    told = [run(*words, cwd=empty, HOME=str(tmp_path / "home")) for _ in range(2)]
    assert told[0] == told[1]
    assert json.loads(told[0])["gas"]["total_kg"] > 0.0
    left = sorted(str(path.relative_to(empty)) for path in empty.rglob("*"))
    assert left == ["out", "out/hourly.csv", "out/report.html", "out/summary.json"]
    assert list((tmp_path / "home").iterdir()) == []


def test_the_wheel_carries_its_data_and_nothing_of_the_tests(built: Path) -> None:
    (wheel,) = built.glob("*.whl")
    names = set(zipfile.ZipFile(wheel).namelist())
    package = ROOT / "budget"
    data = {f"budget/{path.relative_to(package)}" for path in package.rglob("*") if path.suffix in (".toml", ".csv")}
    assert data <= names
    assert not [name for name in names if not name.startswith("budget")]


@pytest.mark.skipif(sys.version_info[:2] != (3, 11), reason="the lowest versions have no later Python")
def test_the_lowest_versions_promised_pass_claims_books_and_refusals(built: Path, tmp_path: Path) -> None:
    """pyproject's lower bounds themselves, resolved to the lowest; the test tools are of today."""
    (wheel,) = built.glob("*.whl")
    python = environment(tmp_path / "venv", "uv")
    tools = ("pytest", "pytest-timeout", "hypothesis", "jsonschema", "psychrolib", "fluids", "CoolProp", "distributed")
    lowest = ("--python", python, "--resolution", "lowest-direct", "-r", ROOT / "pyproject.toml")
    run(python, "-m", "uv", "pip", "install", *lowest, cwd=tmp_path)  # a wheel's own are not direct: the highest
    run(python, "-m", "pip", "install", "-q", "--no-deps", wheel, cwd=tmp_path)
    run(python, "-m", "pip", "install", "-q", *tools, cwd=tmp_path)
    code = "import numpy, pandas, pvlib, numba; print(numpy.__version__, pandas.__version__, pvlib.__version__)"
    lower = (ROOT / "pyproject.toml").read_text("utf-8")
    for name, version in zip(("numpy", "pandas", "pvlib"), run(python, "-c", code, cwd=tmp_path).split(), strict=True):
        assert f'"{name}>={version}"' in lower
    folders = ("tests/claims", "tests/balance", "tests/refusals")
    run(python, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-p", "no:xdist", *folders, cwd=ROOT)
