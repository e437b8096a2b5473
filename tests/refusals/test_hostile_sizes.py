"""What is far too large is refused early, within bounded time and memory, and the sentence states the limit."""

from __future__ import annotations

import copy
import os
import re
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from mutations import documents, toml
from small_tour import small

from budget.answers.measured.log_file import LogFile
from budget.answers.measured.logbook import read_logbook
from budget.errors import InputFault
from budget.results.result import Result
from budget.simulation import simulate
from budget.tour.reader import load
from budget.weather import files
from budget.weather.read import read_any

GIB = 2**30
LITTLE_B = 8 * 2**20  # a refusal looks at the size alone; this is one block of a careful read
SOON_S = 5.0  # processor time; each takes well under a second on an idle machine


def refused(act: Callable[[], object]) -> str:
    """The one sentence of a refusal that came soon."""
    begun = time.process_time()
    with pytest.raises(InputFault) as fault:
        act()
    assert time.process_time() - begun < SOON_S
    assert len(fault.value.faults) == 1
    return str(fault.value)


def refused_unread(act: Callable[[], object]) -> str:
    """The sentence of a refusal that took next to no memory."""
    tracemalloc.start()
    try:
        told = refused(act)
        assert tracemalloc.get_traced_memory()[1] < LITTLE_B
    finally:
        tracemalloc.stop()
    return told


def giant(path: Path) -> Path:
    """Two gigabytes that take no room on disk."""
    with path.open("wb") as file:
        file.write(b"time,temp_air\n")
        file.truncate(2 * GIB)
    return path


def test_a_weather_file_of_2_gb(tmp_path: Path) -> None:
    path = giant(tmp_path / "big.csv")
    assert refused_unread(lambda: read_any(path)) == (
        f"{path}: a weather file may hold at most 64 MB, got 2048 MB; cut it to the tour's dates."
    )


def test_a_log_of_2_gb(tmp_path: Path) -> None:
    path = giant(tmp_path / "big.csv")
    told = refused_unread(lambda: LogFile.read(path, "Europe/Riga"))
    assert told == f"{path}: a log may hold at most 16 MB; cut it to one night."


def test_a_tour_file_of_2_gb(tmp_path: Path) -> None:
    path = giant(tmp_path / "big.toml")
    told = refused_unread(lambda: load(path))
    assert told == f"{path} must be at most 1 MB of text, got more; a tour file needs a few kilobytes."


def test_a_logbook_of_2_gb_and_one_nested_without_end(tmp_path: Path) -> None:
    path = giant(tmp_path / "tour.logbook.toml")
    assert (
        refused_unread(lambda: read_logbook(path, small(1).timeline))
        == f"{path}: a logbook may hold at most 1 MB; move it away."
    )
    path.write_text("reading = " + "[" * 100_000)
    assert "the logbook must be valid TOML" in refused(lambda: read_logbook(path, small(1).timeline))


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="needs a device without end")
@pytest.mark.parametrize(
    "read", [read_any, lambda path: LogFile.read(path, "UTC"), load], ids=["weather", "log", "tour"]
)
def test_a_device_without_end_and_a_pipe_are_not_read(read: Callable[[Path], object], tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for path in (Path("/dev/zero"), tmp_path / "pipe"):
        assert "must be an ordinary file, got a device or pipe; save it to a file first." in refused(
            lambda p=path: read(p)
        )


@pytest.mark.parametrize("read", [read_any, lambda path: LogFile.read(path, "UTC")], ids=["weather", "log"])
def test_a_name_that_no_system_allows_is_no_file(read: Callable[[Path], object]) -> None:
    assert "must be readable, got 'File name too long'" in refused(lambda: read(Path("x" * 300)))


def test_a_weather_csv_of_too_many_lines_or_columns(tmp_path: Path) -> None:
    path = tmp_path / "many.csv"
    path.write_bytes(b"time,temp_air\n" + b"#\n" * files.MOST_LINES)
    assert refused(lambda: read_any(path)) == (
        f"{path}: a weather file may hold at most 1,000,000 lines, got 1,000,001; cut it to the tour's dates."
    )
    path.write_bytes(b"time,temp_air" + b"," * 5_000_000 + b"\n2027-01-09 00:00,1\n2027-01-09 01:00,1\n")
    assert refused(lambda: read_any(path)) == (
        f"{path}: a weather CSV may have at most 200 columns, got 5,000,002; keep those that the weather needs."
    )


def test_a_log_of_too_many_lines(tmp_path: Path) -> None:
    path = tmp_path / "many.csv"
    path.write_bytes(b"time,inside_c,outside_c\n" + b"#\n" * 100_000)
    told = refused(lambda: LogFile.read(path, "UTC"))
    assert told == f"{path}: a log may hold at most 100,000 lines, got 100,001; cut it to one night."


@pytest.mark.parametrize("bomb", ['{"a":' * 5_000_000, "[" * 20_000_000, '{"outputs": ' + "[" * 1_000_000], ids=len)
def test_nesting_bombs_in_json(bomb: str, tmp_path: Path) -> None:
    path = tmp_path / "bomb.json"
    path.write_text(bomb)
    assert len(refused(lambda: read_any(path))) < 300 + len(str(path))


def simulated(tour: Path) -> Result:
    loaded = load(tour)
    return simulate(loaded.van, loaded.tour, folder=loaded.folder)


def tour_with(folder: Path, change: Callable[[dict[str, Any]], object], which: int = 0) -> Path:
    document = copy.deepcopy(documents()[which])
    change(document)
    tour = folder / "tour.toml"
    tour.write_text(toml(document), "utf-8")
    return tour


def loads(document: dict[str, Any]) -> None:
    document["van"]["loads"] = ["lights"] * 10_000


def stops(document: dict[str, Any]) -> None:
    document["stops"] = [document["stops"][0]] * 6000


def walls(document: dict[str, Any]) -> None:
    wall = {"name": "wall", "area_m2": 1.0, "faces": "left", "u_w_per_m2k": 1.0}
    document["van"]["cabin"]["zones"][0]["opaque"] = [wall] * 10_000


def elements(document: dict[str, Any]) -> None:
    document["van"]["heater"]["electric_w"] = list(range(50, 10_050))


@pytest.mark.parametrize(
    ("change", "which", "limit"),
    [
        (loads, 0, r"van\.loads must have at most 50 entries, got 10000; leave some out\."),
        (stops, 0, r"stops must have at most 400 entries, got 6000; leave some out\."),
        (walls, -1, r"too many parts: .* has room for \d+, got 100\d\d; merge elements of one kind\."),
        (elements, -1, r"van\.heater\.electric_w must have at most 6 entries, got 10000; leave some out\."),
    ],
    ids=["loads", "stops", "walls", "electric elements"],
)
def test_ten_thousand_elements(
    change: Callable[[dict[str, Any]], None], which: int, limit: str, tmp_path: Path
) -> None:
    tour = tour_with(tmp_path, change, which)
    assert re.search(limit, refused(lambda: simulated(tour)))


def test_five_thousand_showers_are_taken_in_turn(tmp_path: Path) -> None:
    """What has no limit of its own is bounded by the file's 1 MB, and its books close."""
    tour = tour_with(tmp_path, lambda document: document.update(draws=document["draws"][:1] * 5000))
    begun = time.process_time()
    assert simulated(tour).balance.largest_residual_fraction <= 1e-9
    assert time.process_time() - begun < SOON_S


def test_a_title_as_long_as_a_book(tmp_path: Path) -> None:
    tour = tour_with(tmp_path, lambda document: document.update(title="x" * 900_000))
    told = refused(lambda: load(tour))
    assert told == f"{tour} line 1: title must have at most 200 letters, got 900,000; shorten it (meant is: A title)."
