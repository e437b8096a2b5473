"""What a night is asked for, read off schedules of a few steps by hand."""

from __future__ import annotations

from types import SimpleNamespace as Found
from typing import Any

import numpy as np
import pandas as pd
import pytest

from budget.answers.night_wish import minutes_asked, until, wish_of
from budget.errors import InputFault
from budget.spans import Span

OFF = np.nan
FIRST, LAST = 5, 20  # of a tour from noon: 17:00 to the edge at 08:00
EVENING = {"17:00": 20.0, "22:00": 12.0, "06:15": 19.0}
SLEEP = (22, 6)


def planned(
    steps: dict[str, float], asleep: tuple[int, int] | None = SLEEP, lies_down: str = "22:30", hours: int = 30
) -> Any:
    """Setpoints that change at these times of day, on a tour from noon on; hours in which somebody sleeps."""
    index = pd.date_range("2027-01-12 12:00", periods=hours, freq="h", tz="Europe/Riga")
    quarters = [(720 + 15 * k) % 1440 for k in range(4 * hours)]
    at = {int(time[:2]) * 60 + int(time[3:]): value for time, value in steps.items()}
    set_c, now = [], at[max(minute for minute in at)] if 1020 not in at else at[1020]
    for minute in quarters:
        now = at.get(minute, now)
        set_c.append(now)
    sleeping = np.zeros(hours)
    if asleep:
        sleeping[(index.hour >= asleep[0]) | (index.hour < asleep[1])] = 0.5
    spans = (Span(f"{lies_down}-06:30"),)
    return Found(
        hours={"set_c": np.array(set_c).reshape(hours, 4)},
        hours_count=hours,
        timeline=Found(index=index, asleep=sleeping, stop=np.repeat([0, 1], [FIRST, hours - FIRST])),
        tour=Found(stops=[Found(place="Port"), Found(place="Cape")], people=(Found(asleep=spans),)),
    )


def wished(steps: dict[str, float], *asked: Any, first: int = FIRST, last: int = LAST, **plan: Any) -> Any:
    return wish_of(planned(steps, **plan), first, last, *(asked or (None, None, None)))


def test_a_night_is_what_is_set_while_people_sleep_and_its_morning_the_first_step_up() -> None:
    wish = wished(EVENING | {"07:00": 21.0})
    assert (wish.night_c, wish.down_min, wish.warm_c, wish.warm_min, wish.inside_c) == (12.0, 1320, 19.0, 375, 20.0)
    assert wish.told == "As the tour's schedule has it at Cape that night: 12 °C from 22:00, 19 °C from 06:15."


def test_what_is_asked_for_stands_instead_of_the_schedules_morning_and_is_said() -> None:
    own = "As the tour's schedule has it at Cape that night: 12 °C from 22:00; asked for instead of its morning: "
    for asked, warm, told in (
        ((21.0, None, None), (21.0, 375, 20.0), "21 °C at 06:15."),
        ((None, 540, None), (19.0, 540, 20.0), "19 °C at 09:00."),
        ((18.5, 420, 15.5), (18.5, 420, 15.5), "18.5 °C at 07:00."),
        ((0.0, 0, 0.0), (0.0, 0, 0.0), "0 °C at 00:00."),
    ):
        wish = wished(EVENING, *asked)
        assert (wish.warm_c, wish.warm_min, wish.inside_c) == warm
        assert wish.told == own + told
        assert (wish.night_c, wish.down_min) == (12.0, 1320)


@pytest.mark.parametrize(
    ("steps", "warm_c", "warm_min", "is_laid"),
    [
        ({"03:00": 19.0}, 19.0, 180, True),
        ({"02:45": 19.0, "06:00": 20.0}, 20.0, 450, False),
        ({"11:45": 19.0}, 19.0, 705, True),
        ({"12:00": 19.0}, 12.0, 450, False),
        ({"07:00": 12.25}, 12.25, 420, True),
        ({"07:00": 12.2}, 12.2, 450, False),
        ({"07:00": OFF, "08:00": 17.0}, 17.0, 480, True),
    ],
    ids=["at three", "before three", "before noon", "at noon", "a quarter kelvin", "less", "after a pause"],
)
def test_a_morning_is_a_step_up_of_a_quarter_kelvin_from_three_to_noon(
    steps: dict[str, float], warm_c: float, warm_min: int, is_laid: bool
) -> None:
    """Without one what is set by noon is wished for at half past seven."""
    wish = wished({"17:00": 20.0, "22:00": 12.0} | steps)
    assert (wish.warm_c, wish.warm_min) == (warm_c, warm_min)
    assert ("no step up in the morning" in wish.told) != is_laid


def test_a_schedule_that_is_off_by_noon_is_wished_20_degrees_at_half_past_seven() -> None:
    wish = wished({"17:00": 18.0, "22:00": 12.0, "07:00": OFF})
    assert (wish.warm_c, wish.warm_min, wish.inside_c) == (20.0, 450, 18.0)
    assert wish.told == (
        "As the tour's schedule has it at Cape that night: 12 °C from 22:00; it has no step up in the morning, so 20 "
        "°C at 07:30 is taken."
    )


def test_a_morning_after_a_night_off_is_when_the_heater_goes_on() -> None:
    wish = wished({"17:00": 20.0, "21:30": OFF, "05:45": 17.0})
    assert np.isnan(wish.night_c)
    assert (wish.down_min, wish.warm_c, wish.warm_min) == (1290, 17.0, 345)
    assert ": heater off from 21:30, 17 °C from 05:45." in wish.told


def test_a_night_that_is_off_for_half_of_its_sleep_or_more_is_off_and_its_setting_is_the_median() -> None:
    """Eight hours of sleep from 22:00: off from 02:00 is half of it, off from 02:15 less."""
    half = wished({"17:00": 20.0, "22:00": 12.0, "02:00": OFF, "07:00": 19.0})
    assert np.isnan(half.night_c) and half.down_min == 120
    less = wished({"17:00": 20.0, "22:00": 12.0, "02:15": OFF, "07:00": 19.0})
    assert (less.night_c, less.down_min) == (12.0, 1320)
    staged = wished({"17:00": 20.0, "22:00": 15.0, "23:00": 12.0, "05:00": 14.0})
    assert (staged.night_c, staged.down_min, staged.warm_c, staged.warm_min) == (12.0, 1380, 14.0, 300)


def test_a_night_that_is_set_before_the_evening_begins_starts_at_bedtime() -> None:
    """At half past ten where nobody lies down after 18:00, or when the last one does."""
    flat = {"17:00": 15.0, "07:00": 18.0}
    for lies_down, minute in (("22:30", 1350), ("23:15", 1395), ("17:00", 1350)):
        wish = wished(flat, lies_down=lies_down)
        assert (wish.night_c, wish.down_min, wish.warm_min) == (15.0, minute, 420)
    near = wished({"17:00": 15.2, "21:00": 15.0, "07:00": 18.0})
    assert near.down_min == 1350, "less than a quarter kelvin is no step down"
    exact = wished({"17:00": 15.25, "21:00": 15.0, "07:00": 18.0})
    assert exact.down_min == 1260


def test_where_nobody_sleeps_the_night_is_from_bedtime_to_three() -> None:
    """22:30 to 03:00: 12 °C from 23:00 to 03:00 is most of it, though 16 °C are kept for as long until 07:00."""
    wish = wished({"17:00": 20.0, "23:00": 12.0, "03:00": 16.0, "07:00": 19.0}, asleep=None)
    assert (wish.night_c, wish.down_min, wish.warm_c, wish.warm_min) == (12.0, 1380, 16.0, 180)
    early = wished({"17:00": 20.0, "22:30": 12.0, "22:45": 20.0}, asleep=None)
    assert early.night_c == 20.0, "22:30 is one quarter of eighteen"


def test_hours_without_a_night_are_off_from_bedtime_on() -> None:
    """From 10:00 to noon of the second day."""
    wish = wished({"17:00": 20.0, "22:00": 12.0, "06:00": 19.0}, asleep=None, first=22, last=23, hours=24)
    assert np.isnan(wish.night_c) and (wish.down_min, wish.warm_c) == (1350, 19.0)


def test_the_tours_end_cuts_the_morning_short() -> None:
    """A step up at 11:00 is not seen on a tour that ends at 10:00."""
    late = {"17:00": 20.0, "22:00": 12.0, "11:00": 19.0}
    assert wished(late, hours=24).warm_min == 660
    assert (wished(late, hours=22).warm_min, wished(late, hours=22).warm_c) == (450, 12.0)


def test_a_night_is_over_in_the_morning_or_with_the_hour_of_a_later_wish() -> None:
    prepared: Any = Found(hours_count=24)
    hours = [until(prepared, LAST, minute) for minute in (0, 450, 479, 480, 539, 540, 705, 719)]
    assert hours == [20, 20, 20, 21, 21, 22, 24, 24]
    with pytest.raises(InputFault) as caught:
        until(prepared, LAST, 720)
    assert str(caught.value) == "--warm-at must lie before the tour's end, got 12:00; choose an earlier time."


def test_a_time_that_is_asked_for_is_one_of_a_morning() -> None:
    assert minutes_asked(None) is None
    assert [minutes_asked(said) for said in ("03:00", "7:30", "12:00")] == [180, 450, 720]
    for said, told in (
        ("7.30", '--warm-at must give times as HH:MM, got "7.30"; write it as 07:30.'),
        (
            "02:59",
            "--warm-at must be a time of the morning, 03:00 to 12:00, got 02:59; for another time of the day give "
            "--back.",
        ),
        (
            "12:01",
            "--warm-at must be a time of the morning, 03:00 to 12:00, got 12:01; for another time of the day give "
            "--back.",
        ),
    ):
        with pytest.raises(InputFault) as caught:
            minutes_asked(said)
        assert str(caught.value) == told
