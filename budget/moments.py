"""When something happens, as every answer says it.

An event is said at the start of the hour in which it happens, which is its row in ``hourly.csv``: what is first seen at
an hour's end came about within that hour. A night is named by the evening on which it begins.

Two datetimes of one time zone are added to and subtracted by the clock on the wall, which a clock change puts an hour
out: real time is reckoned by ``later`` and ``hours_between`` alone.
"""

from __future__ import annotations

import datetime as dt

NIGHT_FROM_H, NIGHT_TO_H, NOON_H = 18, 8, 12


def hour_of_edge(edge: int) -> int:
    """The hour in which something came about that is first seen at an hour edge; the first for the start itself."""
    return max(int(edge) - 1, 0)


def instant(local: dt.datetime, zone: dt.tzinfo) -> dt.datetime | None:
    """The instant of a clock time in a zone, None for one that the clocks skip.

    Of a time that occurs twice in autumn the first is meant; a time with an offset is taken as it is.
    """
    if local.tzinfo is not None:
        return local
    time = local.replace(tzinfo=zone)
    before, after = (time.replace(fold=fold).utcoffset() or dt.timedelta() for fold in (0, 1))
    return None if before < after else time


def later(time: dt.datetime, by: dt.timedelta) -> dt.datetime:
    """So much real time later, by the clock of the same zone."""
    return time + by if time.tzinfo is None else (time.astimezone(dt.UTC) + by).astimezone(time.tzinfo)


def hours_between(start: dt.datetime, end: dt.datetime) -> float:
    """Real hours from one instant to another, or between two times without a zone. [h]"""
    if start.tzinfo is None and end.tzinfo is None:
        return (end - start).total_seconds() / 3600.0
    return (end.timestamp() - start.timestamp()) / 3600.0


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
    evening = time.date() if time.hour >= NIGHT_FROM_H else time.date() - dt.timedelta(days=1)
    return f"night of {evening.day} {evening:%B}"
