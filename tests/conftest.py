"""What all tests share: the engine is compiled once, whatever the number of workers."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from report_in_chromium import ARGUMENTS, chromium

ROOT = Path(__file__).resolve().parent.parent
os.environ.pop("BUDGET_TRACEBACK", None)
# Fresh processes that tests start, in whatever folder, use this checkout, as the tests themselves do.
os.environ["PYTHONPATH"] = os.pathsep.join(filter(None, [str(ROOT), os.environ.get("PYTHONPATH")]))


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """No test hangs for longer than pyproject's limit, which then tells where it hung; the long ones have none."""
    for item in items:
        if item.get_closest_marker("long"):
            item.add_marker(pytest.mark.timeout(0))


@contextlib.contextmanager
def one_at_a_time(name: str) -> Iterator[None]:
    """Hold a lock that all workers of this user share; where there are no locks, go on without."""
    try:
        import fcntl
    except ImportError:
        yield
        return
    with open(Path(tempfile.gettempdir()) / f"{name}-{os.getuid()}.lock", "w", encoding="utf-8") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield


@pytest.fixture(scope="session", autouse=True)
def compiled_engine() -> None:
    """Compile before the first test that needs it, one worker for all, when several workers share the tests.

    Without it every worker would compile the same code for half a minute, and a test's own time would tell nothing.
    """
    if not os.environ.get("PYTEST_XDIST_WORKER"):
        return
    from budget.compiled import source_hash

    with one_at_a_time(f"budget-tests-{source_hash()}"):
        compile_engine()


def compile_engine() -> None:
    """March the demo tour's first day once."""
    from budget.compiled import is_compiled

    if is_compiled():
        return
    from budget.simulation import simulate
    from budget.tour.reader import load

    loaded = load(None)
    simulate(loaded.van, loaded.tour, folder=loaded.folder)


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """A Chromium for the tests of a module."""
    sync_api = pytest.importorskip("playwright.sync_api")
    with sync_api.sync_playwright() as player:
        opened = player.chromium.launch(executable_path=chromium(), args=list(ARGUMENTS))
        yield opened
        opened.close()


class Ended(NamedTuple):
    """How a command ended."""

    code: int
    out: str
    err: str


Call = Callable[..., Ended]


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str]) -> Call:
    """Run a command line in this process: ``call("run", "my-tour.toml", "--json")``."""
    from budget.cli import main

    def run(*words: str) -> Ended:
        capsys.readouterr()
        with pytest.raises(SystemExit) as end:
            main.main(list(words), prog_name="budget")
        out, err = capsys.readouterr()
        return Ended(int(end.value.code or 0), out, err)

    return run
