"""Files for other programs: Parquet with units, a calendar, images; each read back by something that is not ours."""

from __future__ import annotations

import datetime as dt
import importlib.util
import json
import re
from functools import cache
from pathlib import Path
from typing import Any

import icalendar
import pandas as pd
import pytest
from conftest import Call
from hypothesis import given, settings
from hypothesis import strategies as st
from pyarrow import parquet
from report_in_chromium import chromium
from sample_reports import MISCHIEF, demo, mischievous

import budget.simulation
from budget.answers.bottle_plan import answer
from budget.answers.last_chance import Chance
from budget.cli import also
from budget.report import image
from budget.report.icalendar import Event, calendar, escaped, folded
from budget.report.reading import FIGURES
from budget.report.scene import Scene
from budget.report.tour_dates import SOME_L, calendar_of
from budget.results.hourly_columns import hourly_columns
from budget.results.parquet import WITHOUT_PYARROW, write_parquet
from budget.units import unit_of

STAMP = dt.datetime(2027, 1, 2, 3, 4, 5, tzinfo=dt.UTC)
BROWSER = chromium()


@cache
def chances() -> tuple[Chance, ...]:
    return answer(demo()).chances


def read(text: str) -> Any:
    """A calendar as the library icalendar understands it, which must find no fault."""
    found = icalendar.Calendar.from_ical(text.encode("utf-8"))
    assert [event.errors for event in (found, *found.walk("VEVENT")) if event.errors] == []
    return found


def test_every_column_of_the_hourly_table_is_declared_with_its_unit() -> None:
    columns = hourly_columns(demo())
    assert [column.name for column in columns] == list(demo().hourly.columns)
    for column in columns:
        words = demo().hourly[column.name].dtype == demo().hourly["place"].dtype
        assert column.unit == ("word" if words else unit_of(column.name) or "count"), column.name
        assert column.meaning


def test_parquet_gives_back_the_hourly_table_with_its_units(tmp_path: Path) -> None:
    """Bit for bit, the time zone too; no column's unit is left to be guessed."""
    path = tmp_path / "hourly.parquet"
    write_parquet(demo(), path)
    read_back = pd.read_parquet(path).set_index("time")
    pd.testing.assert_frame_equal(read_back, demo().hourly, check_freq=False, check_names=False)
    schema = parquet.read_schema(path)
    units = json.loads(schema.metadata[b"units"])
    assert set(units) == set(demo().hourly.columns)
    for name, unit in units.items():
        assert schema.field(name).metadata[b"unit"].decode() == unit
    assert (units["living_air_c"], units["gas_used_kg"], units["starts"]) == ("°C", "kg", "count")
    assert schema.metadata[b"timezone"] == b"Europe/Riga"


def test_a_calendar_has_each_swap_refill_emptying_and_last_chance_at_its_hour() -> None:
    result = demo()
    events = read(calendar_of(result, chances(), STAMP)).walk("VEVENT")
    found = {(str(event["summary"]).split(" (")[0], event.start, str(event["location"])) for event in events}
    gas, water = result.summary["gas"], result.summary["water"]
    meant = {
        (f"Swap gas bottle {swap['position']}", dt.datetime.fromisoformat(swap["time"]), swap["place"])
        for swap in gas["swaps"]
    }
    meant |= {
        ("Fill fresh water", dt.datetime.fromisoformat(refill["time"]), refill["place"]) for refill in water["refills"]
    }
    meant |= {("Last chance for gas", chance.open, chance.place) for chance in chances()}
    emptied = result.flows["waste_emptied_l"]
    meant |= {
        ("Empty waste water", hour.to_pydatetime(), result.hourly["place"][hour])
        for hour in emptied.index[emptied >= SOME_L]
    }
    assert len(gas["swaps"]) > 0 and len(water["refills"]) > 0 and len(chances()) > 0
    assert found == meant
    assert len(events) == len(meant)


def test_a_later_edition_replaces_the_earlier_and_another_tour_does_not() -> None:
    def uids(result: Any, stamp: dt.datetime) -> list[str]:
        return [str(event["uid"]) for event in read(calendar_of(result, chances(), stamp)).walk("VEVENT")]

    first = uids(demo(), STAMP)
    assert len(set(first)) == len(first)
    assert uids(demo(), STAMP + dt.timedelta(days=1)) == first
    assert not set(uids(mischievous(), STAMP)) & set(first)


def test_what_the_user_typed_stays_text_in_a_calendar() -> None:
    found = read(calendar_of(mischievous(), chances(), STAMP))
    assert str(found["name"]) == f"{MISCHIEF}: gas and water"
    assert all(str(event["location"]).endswith(MISCHIEF) for event in found.walk("VEVENT"))


def test_a_calendar_is_written_as_the_standard_asks() -> None:
    """RFC 5545: lines of at most 75 octets end in CRLF (3.1), times in UTC (3.3.5)."""
    text = calendar_of(mischievous(), chances(), STAMP)
    assert text.endswith("END:VCALENDAR\r\n")
    lines = text.removesuffix("\r\n").split("\r\n")
    assert not any("\r" in line or "\n" in line for line in lines)
    assert max(len(line.encode("utf-8")) for line in lines) <= 75
    times = [line for line in lines if line.startswith(("DTSTAMP", "DTSTART", "DTEND"))]
    assert len(times) == 3 * sum(line == "BEGIN:VEVENT" for line in lines)
    assert all(re.fullmatch(r"[A-Z]+:\d{8}T\d{6}Z", line) for line in times)


@settings(max_examples=30)
@given(st.text(alphabet=st.characters(codec="utf-8", categories=("L", "N", "P", "S", "Zs")), max_size=200))
def test_any_text_comes_back_from_a_calendar(typed: str) -> None:
    event = Event(
        key="k", start=STAMP, end=STAMP, summary=f"a{typed}\nz", place="p", latitude_deg=0.0, longitude_deg=0.0,
        description="d", category="c",
    )  # fmt: skip
    (found,) = read(calendar("name", "series", [event], STAMP)).walk("VEVENT")
    assert str(found["summary"]) == f"a{''.join(letter for letter in typed if letter.isprintable())}\nz"


def test_folding_cuts_no_letter() -> None:
    """74 octets and a letter of two: the letter goes to the next line whole."""
    assert list(folded("x" * 74 + "ä")) == ["x" * 74, " ä"]
    assert list(folded("x" * 75)) == ["x" * 75]
    assert escaped("a\\b;c,d\x1b\ne") == "a\\\\b\\;c\\,d\\ne"


@pytest.mark.skipif(BROWSER is None, reason="no Chromium here; set BUDGET_CHROMIUM to its path")
def test_a_figure_is_drawn_as_png_and_svg(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BROWSER_PATH", str(BROWSER))
    section = FIGURES["water"](demo(), Scene.of(demo().timeline))
    png, svg = image.images([(section, "png"), (section, "svg")])
    assert png.startswith(b"\x89PNG\r\n")
    assert int.from_bytes(png[16:20], "big") == 2 * image.WIDTH_PX
    assert section.title in svg.decode("utf-8")
    assert "fresh water" in svg.decode("utf-8")


def test_the_names_of_figures_are_the_reports() -> None:
    assert tuple(FIGURES) == also.FIGURES


@pytest.mark.parametrize(
    ("words", "package", "sentence"),
    [
        ("parquet", "pyarrow", WITHOUT_PYARROW),
        ("svg", "kaleido", image.WITHOUT_KALEIDO),
    ],
)
def test_a_package_that_is_not_here_is_said_before_the_work(
    words: str, package: str, sentence: str, call: Call, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(budget.simulation, "simulate", None)
    here = importlib.util.find_spec

    def find_spec(name: str, *more: Any) -> Any:
        return None if name == package else here(name, *more)

    monkeypatch.setattr(image, "find_spec", find_spec)
    monkeypatch.setattr("budget.results.parquet.find_spec", find_spec)
    assert call("run", "-q", "-o", str(tmp_path / "out"), "--also", words) == (1, "", f"budget: {sentence}\n")
    assert not (tmp_path / "out").exists()


def test_a_browser_that_is_not_here_is_said_before_the_work(
    call: Call, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    pytest.importorskip("kaleido")
    monkeypatch.setattr(budget.simulation, "simulate", None)
    monkeypatch.setenv("BROWSER_PATH", str(tmp_path / "none"))
    ended = call("run", "-q", "-o", str(tmp_path / "out"), "--also", "png")
    assert ended == (1, "", f"budget: {image.WITHOUT_BROWSER}\n")


def test_what_is_asked_for_is_written_beside_the_report(
    call: Call, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.chdir(tmp_path)
    assert call("new", "my-tour.toml", "-q").code == 0
    ended = call("run", "my-tour.toml", "-o", "out", "--also", "parquet", "--also", "calendar")
    assert ended.code == 0
    assert {path.name for path in Path("out").iterdir()} == {
        "report.html", "hourly.csv", "hourly.parquet", "calendar.ics"
    }  # fmt: skip
    assert ended.err.endswith(
        "budget: wrote out/report.html, out/hourly.csv, out/hourly.parquet and out/calendar.ics\n"
    )
    assert b"\r\nBEGIN:VEVENT\r\n" in Path("out/calendar.ics").read_bytes()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--json", "--also", "parquet"], "--also writes files; with --json, name their folder with -o"),
        (["--figure", "gas"], "--figure needs --also png or --also svg"),
    ],
)
def test_formats_asked_for_in_vain_are_wrong_usage(words: list[str], said: str, call: Call) -> None:
    assert call("run", *words) == (2, "", f"budget: {said}; see budget run --help.\n")
