"""The same input gives the same bytes: in another process, with another hash seed, whatever the number of workers."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from conftest import Call
from mutations import documents, toml

FILES = ("hourly.csv", "report.html", "summary.json")


@pytest.fixture
def two_nights(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.chdir(tmp_path)
    Path("tour.toml").write_text(toml(documents()[0]), "utf-8")
    return "tour.toml"


def test_another_process_writes_the_same_bytes(two_nights: str, call: Call) -> None:
    """CSV, JSON and report; sets and dictionaries of the other process are hashed another way."""
    here = call("run", two_nights, "--json", "-q", "-o", "here", "--odds", "20", "--seed", "7")
    words = [
        sys.executable,
        "-m",
        "budget",
        "run",
        two_nights,
        "--json",
        "-q",
        "-o",
        "there",
        "--odds",
        "20",
        "--seed",
        "7",
    ]
    there = subprocess.run(words, capture_output=True, check=True, env=os.environ | {"PYTHONHASHSEED": "4711"})
    assert there.stdout.decode() == here.out
    for name in FILES:
        assert Path("there", name).read_bytes() == Path("here", name).read_bytes(), name


@pytest.mark.parametrize(
    "words",
    [("odds", "--scenarios", "110"), ("tonight", "--gas-left", "6", "--charge", "70", "--scenarios", "110")],
    ids=["odds", "tonight"],
)
def test_any_number_of_workers_prints_the_same_bytes(
    words: tuple[str, ...], two_nights: str, call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One, the machine's, and more workers than there are chunks of scenarios."""
    printed = []
    for workers in (1, os.cpu_count(), 7):
        monkeypatch.setattr(os, "cpu_count", lambda count=workers: count)
        ended = call(words[0], two_nights, *words[1:], "--seed", "3", "--json", "-q")
        assert ended.code == 0
        printed.append(ended.out)
    assert len(set(printed)) == 1
    assert call(words[0], two_nights, *words[1:], "--seed", "4", "--json", "-q").out != printed[0]


def test_json_names_versions_seed_and_input(two_nights: str, call: Call) -> None:
    run = json.loads(call("run", two_nights, "--json", "-q").out)["provenance"]
    warmer = json.loads(call("run", two_nights, "--json", "-q", "--set", "weather.offset_k=0.001").out)["provenance"]
    odds = json.loads(call("odds", two_nights, "--scenarios", "10", "--seed", "5", "--json", "-q").out)
    assert {"budget", "Python", "numpy", "pandas", "pvlib", "numba", "scipy"} <= set(run["versions"])
    assert run["versions"] == odds["provenance"]["versions"]
    assert run["input_hash"] != warmer["input_hash"]
    assert run["input_hash"] == odds["provenance"]["input_hash"]
    assert odds["seed"] == 5
