"""The program needs no network and writes where it was told to: nothing else is attempted."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from budget.compiled import cache_folder
from budget.tour.files import DEMO_TOUR

EPW = Path(__file__).parents[2] / "weather_samples" / "invented_station.epw"

# Python tells a hook of every name looked up, every connection and every file opened for writing, before it happens.
WATCHED = """
import atexit, json, os, sys
seen = {"network": [], "written": [], "programs": []}
def hook(event, arguments):
    if event.startswith("socket.") and event != "socket.__new__":
        seen["network"].append([event, repr(arguments[1:])])
        raise OSError(101, "the tests have closed the network")
    if event == "open" and isinstance(arguments[0], (str, bytes)):
        path, mode, flags = arguments
        if (flags or 0) & (os.O_WRONLY | os.O_RDWR | os.O_CREAT) or set(mode or "") & set("wax+"):
            seen["written"].append(os.path.abspath(os.fsdecode(path)))
    elif event in ("os.mkdir", "os.remove", "os.rmdir", "os.rename", "os.link", "os.symlink", "os.truncate"):
        seen["written"] += [os.path.abspath(os.fsdecode(p)) for p in arguments if isinstance(p, (str, bytes))]
    elif event in ("subprocess.Popen", "os.system", "os.exec", "os.fork"):
        seen["programs"].append(str(arguments[0]))
sys.addaudithook(hook)
def tell():
    told = json.dumps(seen)
    with open(os.environ["TOLD_TO"], "w", encoding="utf-8") as file:
        file.write(told)
atexit.register(tell)
"""

ASKS_FOR_IPV6 = "(('::1', 0),)"
COMMANDS = [
    ["run", "-q", "-o", "out", "--odds", "20"],
    ["new", "my-tour.toml", "-q"],
    ["check", "my-tour.toml", "-q"],
    ["plan", "my-tour.toml", "-q"],
    ["odds", "my-tour.toml", "-q", "--scenarios", "20", "--keep", "kept"],
    ["weather", str(EPW), "--csv", "weather.csv", "-q"],
    ["run", "my-tour.toml", "--weather", str(EPW), "--json", "-q"],
]


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, list[str]]]:
    """What a process attempted that ran these commands in an empty folder, with a home and a scratch of its own."""
    base = tmp_path_factory.mktemp("alone")
    for name in ("work", "home", "scratch", "hooks"):
        (base / name).mkdir()
    (base / "hooks" / "sitecustomize.py").write_text(WATCHED, "utf-8")
    code = f"""
from budget.cli import main
for words in {COMMANDS!r}:
    try:
        main.main(words, prog_name="budget")
    except SystemExit as end:
        assert not end.code, (words, end.code)
"""
    attempts = base / "attempts.json"  # a file takes any length; a pipe that nobody reads yet stops at 64 KiB
    env = {name: value for name, value in os.environ.items() if not name.startswith("XDG_")} | {
        "HOME": str(base / "home"),
        "TMPDIR": str(base / "scratch"),
        "PYTHONPATH": os.pathsep.join([str(base / "hooks"), os.environ["PYTHONPATH"]]),
        "PYTHONDONTWRITEBYTECODE": "1",
        "TOLD_TO": str(attempts),
    }
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=base / "work", env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return base, json.loads(attempts.read_text("utf-8"))


def test_no_network_is_attempted(told: tuple[Path, dict[str, list[str]]]) -> None:
    """Nothing is looked up and nothing connected to.

    pvlib imports an HTTP library, which asks on import whether the machine knows IPv6 by binding to its own ::1.
    """
    attempted = [[event, what] for event, what in told[1]["network"] if (event, what) != ("socket.bind", ASKS_FOR_IPV6)]
    assert attempted == []


def test_no_other_program_is_started(told: tuple[Path, dict[str, list[str]]]) -> None:
    """But uname, by which Python's own platform module names the processor for numba."""
    assert set(told[1]["programs"]) <= {"uname"}


def test_nothing_is_written_but_to_the_folders_named_the_cache_and_scratch(
    told: tuple[Path, dict[str, list[str]]],
) -> None:
    base, seen = told
    allowed = [base / "work", base / "scratch", cache_folder(), Path("/dev/null")]
    assert any(path.startswith(str(base / "work")) for path in seen["written"])  # the hook does see
    stray = [
        path for path in seen["written"] if not any(Path(path).is_relative_to(place) for place in allowed if place)
    ]
    assert stray == []


def test_only_what_was_asked_for_is_left(told: tuple[Path, dict[str, list[str]]]) -> None:
    base = told[0]
    assert list((base / "home").iterdir()) == []
    assert list((base / "scratch").iterdir()) == []
    left = {path.relative_to(base / "work").parts[0] for path in (base / "work").rglob("*") if path.is_file()}
    assert left == {"out", "my-tour.toml", "kept", "weather.csv"}


def test_the_demo_and_its_weather_are_carried_with_the_program() -> None:
    """Else a run from another folder would depend on where the source lies."""
    package = Path(sys.modules["budget"].__file__ or "").parent
    assert DEMO_TOUR.is_relative_to(package)
    assert (package / "weather" / "data" / "gulf_of_riga_january.csv").is_file()
