"""Calendar files: a small writer of iCalendar (RFC 5545)."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from uuid import UUID, uuid5

from budget import __version__

LINE_OCTETS = 75  # RFC 5545, section 3.1, the line break not counted
_NAMESPACE = UUID("6f0c1f6e-3a0b-5d0e-9a53-0b7d3b1f9a41")


@dataclass(frozen=True, kw_only=True)
class Event:
    """One entry: ``key`` names it among the calendar's, the same in every later edition; times with their zone."""

    key: str
    start: dt.datetime
    end: dt.datetime
    summary: str
    place: str
    latitude_deg: float
    longitude_deg: float
    description: str
    category: str


def calendar(name: str, series: str, events: Iterable[Event], stamp: dt.datetime) -> str:
    """The text of a calendar file with its line ends, CRLF.

    ``series`` tells calendars apart: an event's UID is made from it and the event's key, so that a later edition of
    the same plan replaces the earlier. ``stamp`` is when it was made.
    """
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        f"PRODID:-//budget//budget {__version__}//EN",
        "CALSCALE:GREGORIAN",
        f"NAME:{escaped(name)}",
    ]
    for event in events:
        lines += _event(event, series, stamp)
    lines.append("END:VCALENDAR")
    return "".join(f"{part}\r\n" for line in lines for part in folded(line))


def _event(event: Event, series: str, stamp: dt.datetime) -> list[str]:
    return [
        "BEGIN:VEVENT",
        f"UID:{uuid5(_NAMESPACE, series + chr(10) + event.key)}",
        f"DTSTAMP:{utc(stamp)}",
        f"DTSTART:{utc(event.start)}",
        f"DTEND:{utc(event.end)}",
        f"SUMMARY:{escaped(event.summary)}",
        f"LOCATION:{escaped(event.place)}",
        f"GEO:{event.latitude_deg:.6f};{event.longitude_deg:.6f}",
        f"DESCRIPTION:{escaped(event.description)}",
        f"CATEGORIES:{escaped(event.category)}",
        "TRANSP:TRANSPARENT",
        "END:VEVENT",
    ]


def utc(moment: dt.datetime) -> str:
    """A time in UTC (RFC 5545, section 3.3.5, form 2)."""
    return f"{moment.astimezone(dt.UTC):%Y%m%dT%H%M%SZ}"


def escaped(text: str) -> str:
    """Text as a value (RFC 5545, section 3.3.11); what is neither printable nor a line break is left out."""
    for mark in ("\\", ";", ","):
        text = text.replace(mark, f"\\{mark}")
    lines = text.splitlines()
    return "\\n".join("".join(letter for letter in line if letter.isprintable()) for line in lines)


def folded(line: str) -> Iterator[str]:
    """A content line in pieces of at most 75 octets; all but the first begin with a space. No letter is cut."""
    piece, room = "", LINE_OCTETS
    for letter in line:
        size = len(letter.encode("utf-8"))
        if size > room:
            yield piece
            piece, room = " ", LINE_OCTETS - 1
        piece += letter
        room -= size
    yield piece
