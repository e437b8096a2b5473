"""A time on the command line is year-month-day, else one sentence: an order that reads two ways is not guessed."""

from __future__ import annotations

from functools import cache

import pytest
from small_tour import small

from budget.answers.detail import Detail
from budget.errors import InputFault


@cache
def run() -> Detail:
    return Detail.of(small(1))


@pytest.mark.parametrize("typed", ["12.1.2027", "1/12/2027", "22:00", "tomorrow", "", "2027-13-01"])
def test_a_time_that_is_no_year_month_day_is_refused(typed: str) -> None:
    with pytest.raises(InputFault) as refusal:
        run().hour_of(typed)
    assert str(refusal.value) == f'the time must read "2027-01-20 22:00", got "{typed}"; correct it.'


def test_a_time_that_the_clocks_skip_is_refused() -> None:
    with pytest.raises(InputFault) as refusal:
        run().hour_of("2027-03-28 03:30")
    assert str(refusal.value) == (
        "the time must exist, got 2027-03-28 03:30, which the clocks skip there; choose another."
    )


@pytest.mark.parametrize(
    ("typed", "hour"),
    [("2027-01-12 22:00", 10), ("2027-01-12T22:30", 10), ("2027-01-13", 12), ("2027-01-12T20:00+00:00", 10)],
)
def test_a_time_in_local_or_with_its_offset_is_the_hour_that_holds_it(typed: str, hour: int) -> None:
    """The small tour starts on 12 January at 12:00, two hours ahead of UTC."""
    assert run().hour_of(typed) == hour
