"""When something happens, as every answer says it.

An event is said at the start of the hour in which it happens, which is its row in ``hourly.csv``: what is first seen at
an hour's end came about within that hour. A night is named by the evening on which it begins.
"""

from __future__ import annotations

import datetime as dt

NIGHT_FROM_H, NIGHT_TO_H, NOON_H = 18, 8, 12


def hour_of_edge(edge: int) -> int:
    """The hour in which something came about that is first seen at an hour edge; the first for the start itself."""
    return max(int(edge) - 1, 0)


def clock(time: dt.datetime) -> str:
    """A time of day: 14:00."""
    return f"{time:%H:%M}"


def day(time: dt.datetime) -> str:
    """A day: Thu 21 January."""
    return f"{time:%a} {time.day} {time:%B}"


def moment(time: dt.datetime) -> str:
    """An hour: Thu 21 January 14:00."""
    return f"{day(time)} {clock(time)}"


def short(time: dt.datetime) -> str:
    """An hour, for a narrow column and within sentences: Thu 21 Jan 14:00."""
    return f"{short_day(time)} {clock(time)}"


def short_day(time: dt.datetime) -> str:
    """A day, for a narrow column and within sentences: Thu 21 Jan."""
    return f"{time:%a} {time.day} {time:%b}"


def dated(time: dt.datetime) -> str:
    """An hour within a sentence that has no room for the weekday: 21 January at 14:00."""
    return f"{time.day} {time:%B} at {clock(time)}"


def part_of_day(time: dt.datetime) -> str:
    """The night, morning or afternoon that an hour belongs to.

    From 18:00 to 08:00 the night of the evening on which it began: 02:00 on the 22nd is the night of 21 January.
    """
    if NIGHT_TO_H <= time.hour < NIGHT_FROM_H:
        return f"{'morning' if time.hour < NOON_H else 'afternoon'} of {time.day} {time:%B}"
    evening = time - dt.timedelta(hours=NIGHT_FROM_H)
    return f"night of {evening.day} {evening:%B}"
