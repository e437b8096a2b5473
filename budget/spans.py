"""Times of day as people write them: "22:30-07:00", "mon-fri 09:00-15:30"."""

from __future__ import annotations

import re
from typing import Annotated, Any

from pydantic import BeforeValidator, PlainSerializer, WithJsonSchema

from budget.arrived import written as quoted

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_SPAN = re.compile(r"^(?:(?P<days>[a-z,\-]+)\s+)?(?P<start>\d{1,2}:\d{2})\s*-\s*(?P<end>\d{1,2}:\d{2})$")


def minute_of_day(written: str) -> int:
    """Minutes after midnight of "HH:MM"; 24:00 is allowed as the end of a day. ValueError otherwise."""
    match = re.fullmatch(r"(\d{1,2}):(\d{2})", written.strip())
    if not match:
        raise ValueError(f"must give times as HH:MM, got {quoted(written)}")
    minute = int(match[1]) * 60 + int(match[2])
    if int(match[2]) > 59 or minute > 24 * 60:
        raise ValueError(f"must give times between 00:00 and 24:00, got {quoted(written)}")
    return minute


def days_of_week(written: str) -> tuple[int, ...]:
    """Days (0 Monday) of "mon-fri", "sat,sun" or "daily". ValueError otherwise."""
    if written.strip().lower() in ("", "daily"):
        return tuple(range(7))
    chosen: list[int] = []
    for part in written.strip().lower().split(","):
        ends = part.strip().split("-")
        if len(ends) > 2 or any(end not in DAYS for end in ends):
            raise ValueError(f"must give days like mon-fri or sat,sun, got {quoted(written)}")
        first, last = DAYS.index(ends[0]), DAYS.index(ends[-1])
        chosen += [(first + step) % 7 for step in range((last - first) % 7 + 1)]
    return tuple(sorted(set(chosen)))


class Span:
    """A daily span of time on some days; one that ends before it starts runs past midnight."""

    __slots__ = ("days", "end_min", "start_min", "written")

    def __init__(self, written: str) -> None:
        match = _SPAN.match(written.strip().lower()) if isinstance(written, str) else None
        if not match:
            raise ValueError(f'must read "HH:MM-HH:MM", with days before it if wanted, got {quoted(written)}')
        self.written = written.strip()
        self.days = days_of_week(match["days"] or "daily")
        self.start_min = minute_of_day(match["start"]) % (24 * 60)
        self.end_min = minute_of_day(match["end"])
        if self.start_min == self.end_min:
            raise ValueError(
                f'must not start and end at the same time, got {quoted(written)}; all day is "00:00-24:00"'
            )

    def share_of(self, weekday: int, from_min: int, to_min: int) -> float:
        """Share of the minutes [from, to) of a weekday (0 Monday) that the span covers."""
        covered = 0
        if self.end_min > self.start_min:
            if weekday in self.days:
                covered = max(0, min(to_min, self.end_min) - max(from_min, self.start_min))
        else:
            if weekday in self.days:
                covered += max(0, to_min - max(from_min, self.start_min))
            if (weekday - 1) % 7 in self.days:
                covered += max(0, min(to_min, self.end_min) - from_min)
        return covered / (to_min - from_min)

    def __repr__(self) -> str:
        return f"Span({self.written!r})"

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Span) and self.written == other.written

    def __hash__(self) -> int:
        return hash(self.written)


def _spans(value: Any) -> tuple[Span, ...]:
    items = [value] if isinstance(value, (str, Span)) else value
    if not isinstance(items, (list, tuple)):
        raise ValueError(f'must be spans of time such as "22:30-07:00", or a list of such, got {quoted(value)}')
    return tuple(item if isinstance(item, Span) else Span(item) for item in items)


Spans = Annotated[
    tuple[Any, ...],
    BeforeValidator(_spans),
    PlainSerializer(lambda spans: [span.written for span in spans]),
    WithJsonSchema({"type": "array", "items": {"type": "string", "pattern": _SPAN.pattern}}),
]


def _clock_time(value: Any) -> str:
    if not isinstance(value, str):
        raise ValueError(f'must be a time of day in quotes, such as "07:00", got {quoted(value)}')
    try:
        minute = minute_of_day(value)
    except ValueError:
        minute = 24 * 60
    if minute == 24 * 60:
        raise ValueError(f'must be a time of day from "00:00" to "23:59", got {quoted(value)}')
    return value


def _days(value: Any) -> str:
    if not isinstance(value, str):
        raise ValueError(f'must be days in quotes, such as "mon-fri", "sat,sun" or "daily", got {quoted(value)}')
    try:
        days_of_week(value)
    except ValueError:
        raise ValueError(f'must be days such as "mon-fri", "sat,sun" or "daily", got {quoted(value)}') from None
    return value


_DAY = f"({'|'.join(DAYS)})"
ClockTime = Annotated[
    str,
    BeforeValidator(_clock_time),
    WithJsonSchema({"type": "string", "pattern": r"^([01]?\d|2[0-3]):[0-5]\d$"}),
]
Days = Annotated[
    str,
    BeforeValidator(_days),
    WithJsonSchema({"type": "string", "pattern": rf"^(daily|{_DAY}(-{_DAY})?(,\s*{_DAY}(-{_DAY})?)*)$"}),
]
