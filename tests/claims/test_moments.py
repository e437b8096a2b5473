"""One time for one event, and one name for a night, wherever they are told."""

from __future__ import annotations

import datetime as dt
import re
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from small_tour import small

import budget
from budget.answers import odds, runs_out
from budget.answers.ensemble import InTurn
from budget.answers.prepared import Prepared
from budget.moments import dated, day, hour_of_edge, hours_between, instant, later, moment, part_of_day, short
from budget.report.first_out import first_out
from budget.report.headline import headline
from budget.report.reading import FIGURES
from budget.report.scene import Scene
from budget.results.notices import notices_of
from budget.results.result import Result
from budget.simulation import simulate

RIGA = ZoneInfo("Europe/Riga")  # 03:00 to 04:00 on 28 March 2027, 04:00 to 03:00 on 31 October
SOURCES = Path(budget.__file__).parent


@cache
def dying() -> tuple[Prepared, Result]:
    """Three nights with a battery that dies on the first day."""
    prepared = small()
    battery = prepared.van.power.battery.model_copy(update={"capacity_ah": 60.0, "start_share": 1.0})
    power = prepared.van.power.model_copy(update={"battery": battery})
    changed = prepared.with_van(prepared.van.model_copy(update={"power": power}))
    return changed, simulate(changed.van, changed.tour, folder=changed.folder)


def test_an_hour_edge_belongs_to_the_hour_that_it_ends_and_the_start_to_the_first() -> None:
    assert [hour_of_edge(edge) for edge in (0, 1, 2, 24)] == [0, 0, 1, 23]


def test_times_are_written_in_one_way_without_leading_noughts() -> None:
    time = dt.datetime(2027, 1, 9, 8, 0)
    assert (day(time), moment(time)) == ("Sat 9 January", "Sat 9 January 08:00")
    assert (short(time), dated(time)) == ("Sat 9 Jan 08:00", "9 January at 08:00")


@pytest.mark.parametrize(
    ("hour", "said"),
    [(17, "afternoon of 13 January"), (18, "night of 13 January"), (23, "night of 13 January"),
     (24, "night of 13 January"), (31, "night of 13 January"), (32, "morning of 14 January"),
     (34, "morning of 14 January"), (36, "afternoon of 14 January")],
)  # fmt: skip
def test_a_night_is_named_by_its_evening_and_ten_in_the_morning_is_no_night(hour: int, said: str) -> None:
    assert part_of_day(dt.datetime(2027, 1, 13) + dt.timedelta(hours=hour)) == said


@pytest.mark.parametrize(
    ("time", "said"),
    [("2027-03-28 18:00", "night of 28 March"), ("2027-03-29 02:00", "night of 28 March"),
     ("2027-03-28 02:00", "night of 27 March"), ("2027-10-31 18:00", "night of 31 October"),
     ("2027-11-01 07:00", "night of 31 October")],
)  # fmt: skip
def test_a_night_has_one_name_on_the_day_of_a_clock_change_whatever_kind_of_time_it_is_told_by(
    time: str, said: str
) -> None:
    stamp = pd.Timestamp(time, tz="Europe/Riga")
    assert part_of_day(stamp) == part_of_day(stamp.to_pydatetime()) == said


def test_real_time_goes_on_evenly_across_a_clock_change() -> None:
    spring, autumn = (dt.datetime(2027, *day, 21, tzinfo=RIGA) for day in ((3, 27), (10, 30)))
    eight = dt.timedelta(hours=8)
    assert [later(time, eight).isoformat() for time in (spring, autumn)] == [
        "2027-03-28T06:00:00+03:00", "2027-10-31T04:00:00+02:00",
    ]  # fmt: skip
    for time in (spring, autumn, pd.Timestamp(spring), spring.replace(tzinfo=None)):
        assert hours_between(time, later(time, eight)) == 8.0
        assert later(later(time, eight), -eight) == time


def test_a_clock_time_means_its_first_instant_and_none_where_the_clocks_skip_it() -> None:
    assert instant(dt.datetime(2027, 3, 28, 3, 59), RIGA) is None
    for hour, ahead_h in ((2, 2), (4, 3)):
        found = instant(dt.datetime(2027, 3, 28, hour), RIGA)
        assert found is not None and found.utcoffset() == dt.timedelta(hours=ahead_h)
    twice = instant(dt.datetime(2027, 10, 31, 3, 30), RIGA)
    assert twice is not None and twice.utcoffset() == dt.timedelta(hours=3)
    told = dt.datetime(2027, 3, 28, 3, 30, tzinfo=dt.UTC)
    assert instant(told, RIGA) == told


def test_nothing_else_adds_hours_to_a_local_time() -> None:
    """Python adds to a datetime by the wall clock: where the package does, it is UTC, a date, or a pandas time."""
    known = {"moments.py", "itinerary.py", "timeline.py", "shorthand.py", "meals.py"}
    adds = re.compile(r"[+-] dt\.timedelta\(|(?<!,) [+-] [A-Z_]*HOUR\b|[+-] LATE\b")
    wrong = [
        f"{path.name}: {line.strip()}"
        for path in SOURCES.rglob("*.py")
        if path.name not in known
        for line in path.read_text("utf-8").splitlines()
        if adds.search(line)
    ]
    assert wrong == ["further.py: at = max(evening - dt.timedelta(hours=BEFORE_H), index[0])"], "pandas times"


def test_a_battery_that_cuts_out_does_so_at_one_time_in_every_answer() -> None:
    """Headline, strip, notice, figure, what runs out, and the odds of the one winter that the run is itself."""
    prepared, result = dying()
    first = pd.Timestamp(result.timeline.edges[int(np.flatnonzero(result.flows["cut_out_min"] > 0.0)[0])])
    supplies = first_out(result)
    assert next(supply.when for supply in supplies if supply.name == "Battery") == first
    assert part_of_day(first) in headline(result, supplies)
    assert any("cut out for" in told and f"first on {dated(first)}" in told for told in notices_of(result))
    assert f"first on {moment(first)}" in FIGURES["battery"](result, Scene.of(result.timeline)).answer
    found = runs_out.answer(result)
    assert next(supply.out_at for supply in found.supplies if supply.name == "battery") == first
    one = odds.answer(prepared, scenarios=1, weather=False, parameters=False, executor=InTurn())
    assert one.cut_out_one_in_ten == first


def test_a_lowest_is_told_at_the_row_of_the_hourly_table_that_shows_it() -> None:
    """Charge, air and frost: the row of that time holds that number at its hour's end."""
    _, result = dying()
    summary, hourly = result.summary, result.hourly
    power, living = summary["power"], summary["comfort"]["living"]
    assert hourly["charge_share"].loc[power["lowest_at"]] == pytest.approx(power["lowest_state_of_charge"], abs=1e-4)
    assert hourly["living_air_c"].loc[living["lowest_at"]] == pytest.approx(living["lowest_c"], abs=0.01)
    pipes = summary["frost"]["pipes"]
    assert hourly["pipes_c"].loc[pipes["lowest_at"]] == pytest.approx(pipes["lowest_c"], abs=0.01)


def test_no_sentence_writes_a_day_or_a_percentage_in_a_way_of_its_own() -> None:
    """Days of events come from budget.moments, per cent have their space; refusals quote times as they are typed."""
    wrong = []
    for path in SOURCES.rglob("*.py"):
        if path.name in ("moments.py", "theme.py", "night_map.py") or "answers/measured/log" in path.as_posix():
            continue
        for number, line in enumerate(path.read_text("utf-8").splitlines(), 1):
            if re.search(r":%a %d|:%d %[bB] %H|:\.\d%\}", line) or re.search(r"\d\}%(?![\w\"])(?!.*style)", line):
                wrong.append(f"{path.name}:{number}: {line.strip()}")
    assert wrong == []
