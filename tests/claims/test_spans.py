"""Times of day, days and what else arrives, read and written back: each by hand."""

from __future__ import annotations

import datetime as dt
import re
from types import MappingProxyType
from typing import Any

import pytest
from pydantic import TypeAdapter, ValidationError

from budget.arrived import cut, listed, plain, written
from budget.spans import ClockTime, Days, Span, Spans, days_of_week, minute_of_day

H = 60


@pytest.mark.parametrize(
    ("said", "minute"), [("00:00", 0), ("7:05", 425), (" 07:59 ", 479), ("23:00", 1380), ("24:00", 1440)]
)
def test_a_time_of_day_is_its_minutes_after_midnight(said: str, minute: int) -> None:
    assert minute_of_day(said) == minute


@pytest.mark.parametrize(
    ("said", "fault"),
    [
        ("7", 'must give times as HH:MM, got "7"'),
        ("07:5", 'must give times as HH:MM, got "07:5"'),
        ("107:50", 'must give times as HH:MM, got "107:50"'),
        ("07:60", 'must give times between 00:00 and 24:00, got "07:60"'),
        ("24:01", 'must give times between 00:00 and 24:00, got "24:01"'),
    ],
)
def test_what_is_no_time_of_day_is_quoted(said: str, fault: str) -> None:
    with pytest.raises(ValueError, match=f"^{re.escape(fault)}$"):
        minute_of_day(said)


@pytest.mark.parametrize(
    ("said", "days"),
    [
        ("daily", range(7)), (" Daily ", range(7)), ("", range(7)), ("wed", [2]), ("mon-fri", range(5)),
        ("fri-mon", [0, 4, 5, 6]), ("Sat, sun", [5, 6]), ("tue,mon-wed", [0, 1, 2]), ("sun-sun", [6]),
        ("tue-mon", range(7)),
    ],
)  # fmt: skip
def test_days_run_on_past_sunday_and_count_once(said: str, days: Any) -> None:
    assert days_of_week(said) == tuple(days)


@pytest.mark.parametrize("said", ["mo", "mon-wed-fri", "mon-", "mon;tue", "weekdays"])
def test_what_are_no_days_is_quoted(said: str) -> None:
    with pytest.raises(ValueError, match=f'^must give days like mon-fri or sat,sun, got "{said}"$'):
        days_of_week(said)


def test_a_span_is_its_days_and_minutes_and_is_known_by_how_it_is_written() -> None:
    span = Span("  Mon-Fri 22:30 - 7:00 ")
    assert (span.days, span.start_min, span.end_min) == ((0, 1, 2, 3, 4), 1350, 420)
    assert (span.written, repr(span)) == ("Mon-Fri 22:30 - 7:00", "Span('Mon-Fri 22:30 - 7:00')")
    assert span == Span("Mon-Fri 22:30 - 7:00") and hash(span) == hash(Span("Mon-Fri 22:30 - 7:00"))
    assert span != Span("Mon-Fri 22:30-07:00") and span != "Mon-Fri 22:30 - 7:00"
    assert Span("07:00-24:00").end_min == 1440
    assert (Span("24:00-07:00").start_min, Span("24:00-07:00").days) == (0, tuple(range(7)))


def test_a_span_covers_its_share_of_an_hour_and_the_morning_after_its_days() -> None:
    """22:30 to 07:00 of Monday to Friday: Saturday's morning is Friday's, and Monday's is nobody's."""
    span = Span("mon-fri 22:30-07:15")
    for day, hour, share in (
        (0, 21, 0.0), (0, 22, 0.5), (0, 23, 1.0), (0, 0, 0.0), (0, 7, 0.0),
        (4, 22, 0.5), (4, 6, 1.0), (5, 6, 1.0), (5, 7, 0.25), (5, 8, 0.0), (5, 22, 0.0), (6, 3, 0.0), (6, 22, 0.0),
    ):  # fmt: skip
        assert span.share_of(day, hour * H, (hour + 1) * H) == share, (day, hour)
    assert span.share_of(2, 0, 24 * H) == (90 + 435) / 1440
    week = Span("sun 22:00-02:00")
    assert (week.share_of(6, 23 * H, 24 * H), week.share_of(0, H, 2 * H), week.share_of(6, H, 2 * H)) == (1, 1, 0)
    noon = Span("tue 12:10-12:40")
    assert [noon.share_of(day, 12 * H, 13 * H) for day in (1, 2)] == [0.5, 0.0]
    assert [noon.share_of(1, hour * H, (hour + 1) * H) for hour in (11, 13)] == [0.0, 0.0]
    assert Span("00:00-24:00").share_of(3, 0, 24 * H) == 1.0


@pytest.mark.parametrize(
    ("said", "fault"),
    [
        ("evening", 'must read "HH:MM-HH:MM", with days before it if wanted, got "evening"'),
        (7, 'must read "HH:MM-HH:MM", with days before it if wanted, got 7'),
        ("07:00-07:00", 'must not start and end at the same time, got "07:00-07:00"; all day is "00:00-24:00"'),
        ("mo 07:00-08:00", 'must give days like mon-fri or sat,sun, got "mo"'),
    ],
)
def test_what_is_no_span_is_quoted(said: Any, fault: str) -> None:
    with pytest.raises(ValueError, match=f"^{re.escape(fault)}$"):
        Span(said)


def fault_of(kind: Any, value: Any) -> str:
    with pytest.raises(ValidationError) as caught:
        TypeAdapter(kind).validate_python(value)
    return str(caught.value.errors()[0]["msg"]).removeprefix("Value error, ")


def test_a_field_takes_one_span_or_a_list_and_hands_back_what_was_written() -> None:
    spans = TypeAdapter(Spans)
    one, two = "22:30-07:00", "sat 12:00-13:00"
    assert spans.validate_python(one) == spans.validate_python(Span(one)) == (Span(one),)
    assert spans.validate_python([one, Span(two)]) == spans.validate_python((one, two)) == (Span(one), Span(two))
    assert spans.dump_python((Span(one), Span(two))) == [one, two]
    assert fault_of(Spans, 7) == 'must be spans of time such as "22:30-07:00", or a list of such, got 7'


def test_a_field_for_a_time_or_for_days_takes_them_as_written() -> None:
    for said in ("0:00", "07:05", "23:59"):
        assert TypeAdapter(ClockTime).validate_python(said) == said
    for said in ("24:00", "7", "23:60"):
        told = f'must be a time of day from "00:00" to "23:59", got "{said}"'
        assert fault_of(ClockTime, said) == told
    assert fault_of(ClockTime, 7.5) == 'must be a time of day in quotes, such as "07:00", got 7.5'
    for said in ("daily", "mon-fri", "sat,sun"):
        assert TypeAdapter(Days).validate_python(said) == said
    assert fault_of(Days, "mo") == 'must be days such as "mon-fri", "sat,sun" or "daily", got "mo"'
    assert fault_of(Days, None) == ('must be days in quotes, such as "mon-fri", "sat,sun" or "daily", got nothing')


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (True, "true"), (False, "false"), (7, "7"), (0.1 + 0.2, "0.3"), (-1234567.5, "-1234567.5"),
        (1e300, "1e+300"), (10**299, "1e+299"), (10**301, "a huge number"), (-(10**400), "a huge number"),
        (float("inf"), "inf"), ("a", '"a"'), ("x" * 60, f'"{"x" * 60}"'), ("x" * 61, f'"{"x" * 60}"...'),
        ({}, "a table"), (MappingProxyType({"a": 1}), "a table"), ([1], "a list"), ([], "an empty list"),
        ((), "an empty list"), ((1,), "a list"), (None, "nothing"), (dt.time(7, 5, 9), "07:05"),
        (dt.date(2027, 1, 9), "2027-01-09"), (dt.datetime(2027, 1, 9, 8), "2027-01-09T08:00:00"),
    ],
)  # fmt: skip
def test_what_arrived_is_said_short_whatever_it_was(value: Any, said: str) -> None:
    assert written(value) == said


def test_dates_and_times_become_text_wherever_they_stand() -> None:
    given = {
        "at": dt.time(22, 30),
        "days": [dt.date(2027, 1, 9), {"on": dt.datetime(2027, 1, 9, 8, 15)}, 3],
        "no": None,
    }
    assert plain(given) == {"at": "22:30", "days": ["2027-01-09", {"on": "2027-01-09T08:15:00"}, 3], "no": None}


def test_long_names_are_cut_and_many_are_counted() -> None:
    assert (cut("x" * 60), cut("x" * 61), cut("abcd", 3), cut("abc", 3)) == (
        "x" * 60,
        "x" * 60 + "...",
        "abc...",
        "abc",
    )
    assert listed([]) == ""
    assert listed(["a", "y" * 30, "z" * 31]) == f"a, {'y' * 30}, {'z' * 30}..."
    names = [f"n{k}" for k in range(1, 15)]
    twelve = ", ".join(names[:12])
    assert (listed(names[:12]), listed(iter(names))) == (twelve, f"{twelve} and 2 more")
    assert listed(names[:13]) == f"{twelve} and 1 more"
