"""Where the van is, in whole hours after the start: arrivals, departures, drives and ferries."""

from __future__ import annotations

import datetime as dt
import math
import zoneinfo
from dataclasses import dataclass, replace

from budget.moments import instant
from budget.tour.faults import Fault, Path, did_you_mean
from budget.tour.model import Tour

MOST_DAYS = 400
_HOUR = dt.timedelta(hours=1)


class Clock:
    """Local clock times of a tour turned into UTC, faults noted by field."""

    def __init__(self, zone: dt.tzinfo, faults: list[Fault]) -> None:
        self.zone = zone
        self.faults = faults

    def utc(self, local: dt.datetime, path: Path) -> dt.datetime | None:
        """The instant in UTC; None, with a fault, for a time that the clocks skip.

        A time that occurs twice in autumn means its first occurrence; a time with an offset is taken as it is.
        """
        time = instant(local, self.zone)
        if time is None:
            self.faults.append(
                Fault(path, f"must be a time that exists, got {local:%Y-%m-%d %H:%M}, which the clocks skip there.")
            )
            return None
        return time.astimezone(dt.UTC)

    def hours_after(self, start: dt.datetime, time: dt.datetime) -> int | None:
        """Whole hours from one instant to another, None where the clock shows none.

        Where clocks are moved by half an hour, a time on the hour then lies between two hours: the earlier counts.
        """
        first, last = (each.astimezone(self.zone).replace(tzinfo=None) for each in (start, time))
        return None if (last - first) % _HOUR else (time - start) // _HOUR

    def local(self, time: dt.datetime) -> dt.datetime:
        """A time by the tour's clock, whatever offset it was given with."""
        return time if time.tzinfo is None else time.astimezone(self.zone)

    def written(self, time: dt.datetime) -> str:
        """A time as the tour's clock shows it."""
        return f"{self.local(time):%Y-%m-%d %H:%M}"


@dataclass(frozen=True)
class Itinerary:
    """A tour's moves in whole hours after its start.

    At stop i the van stands from hour ``arrive[i]`` to hour ``depart[i]``; the way to stop i takes
    ``drive_hours[i]`` and ``ferry_hours[i]``, each rounded to whole hours and at least one when more than nothing.
    """

    zone: zoneinfo.ZoneInfo
    start: dt.datetime
    hours: int
    arrive: tuple[int, ...]
    depart: tuple[int, ...]
    drive_hours: tuple[int, ...]
    ferry_hours: tuple[int, ...]


def time_zone(name: str, faults: list[Fault]) -> zoneinfo.ZoneInfo | None:
    """The IANA time zone of a name; None, with a fault, when there is none."""
    try:
        return zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        near = did_you_mean(name, (zone for zone in sorted(zoneinfo.available_timezones()) if "GMT" not in zone))
        advice = near if near.startswith("did you") else "look at Europe/Riga for the form."
        faults.append(
            Fault(("timezone",), f'must be an IANA time zone such as Europe/Riga, got "{name[:60]}"; {advice}')
        )
        return None


def whole_hours(duration_h: float) -> int:
    """A duration in whole hours: the nearest, half up, at least one when it is more than nothing."""
    return max(1, math.floor(duration_h + 0.5)) if duration_h > 0.0 else 0


def itinerary(tour: Tour) -> tuple[Itinerary | None, list[Fault]]:
    """The tour in whole hours, or None and every fault of its dates."""
    faults: list[Fault] = []
    zone = time_zone(tour.timezone, faults)
    if zone is None:
        return None, faults
    clock = Clock(zone, faults)
    start, end = clock.utc(tour.start, ("start",)), clock.utc(tour.end, ("end",))
    if start is None or end is None:
        return None, faults
    for name, local in (("start", clock.local(tour.start)), ("end", clock.local(tour.end))):
        if local.minute or local.second or local.microsecond:
            faults.append(Fault((name,), f"must be on the hour, got {local:%H:%M:%S}; round it to the hour."))
    if end <= start:
        faults.append(
            Fault(
                ("end",),
                f"must be after the start ({clock.written(tour.start)}), got {clock.written(tour.end)}; correct one.",
            )
        )
    elif end - start > dt.timedelta(days=MOST_DAYS):
        days = (end - start) / dt.timedelta(days=1)
        faults.append(
            Fault(("end",), f"must be within {MOST_DAYS} days of the start, got {days:.0f} days; split the tour.")
        )
    if faults:
        return None, faults
    hours = clock.hours_after(start, end)
    if hours is None:
        faults.append(Fault(("end",), "must be a whole number of hours after the start; move it to the next hour."))
        return None, faults
    drive = tuple(whole_hours(stop.drive_h) for stop in tour.stops)
    ferry = tuple(whole_hours(stop.ferry_h) for stop in tour.stops)
    arrive = _arrivals(tour, clock, start, hours, faults)
    if arrive is None:
        return None, faults
    plan = Itinerary(zone, start, hours, arrive, (), drive, ferry)
    depart = _departures(tour, clock, plan)
    if faults:
        return None, faults
    return replace(plan, depart=tuple(depart)), faults


def _hour_of(clock: Clock, local: dt.datetime, start: dt.datetime, path: Path) -> int | None:
    """Whole hours after the start; None, with a fault, when the time is not on the hour or does not exist."""
    time = clock.utc(local, path)
    if time is None:
        return None
    number = clock.hours_after(start, time)
    if number is None:
        clock.faults.append(Fault(path, f"must be on the hour, got {local:%H:%M}; round it to the hour."))
        return None
    return number


def _arrivals(tour: Tour, clock: Clock, start: dt.datetime, hours: int, faults: list[Fault]) -> tuple[int, ...] | None:
    arrive: list[int] = []
    before = -1
    for index, stop in enumerate(tour.stops):
        path: Path = ("stops", index, "arrive")
        hour = _hour_of(clock, stop.arrive, start, path)
        if hour is None:
            continue
        if not 0 <= hour < hours:
            span = f"{clock.written(tour.start)} to {clock.written(tour.end)}"
            faults.append(
                Fault(path, f"must lie within the tour ({span}), got {clock.written(stop.arrive)}; correct the date.")
            )
        elif hour <= before:
            previous = tour.stops[index - 1]
            faults.append(
                Fault(
                    path,
                    f"must be after the arrival at {previous.place} ({clock.written(previous.arrive)}), "
                    f"got {clock.written(stop.arrive)}; put the stops in order of time.",
                )
            )
        before = max(before, hour)
        arrive.append(hour)
    return None if faults else tuple(arrive)


def _departures(tour: Tour, clock: Clock, plan: Itinerary) -> list[int]:
    faults, start, hours, arrive = clock.faults, plan.start, plan.hours, plan.arrive
    way = [drive + ferry for drive, ferry in zip(plan.drive_hours, plan.ferry_hours, strict=True)]
    if arrive[0] > 0 and way[0] > arrive[0]:
        faults.append(_too_long(tour, 0, way[0], arrive[0], "the start"))
    depart: list[int] = []
    for index, stop in enumerate(tour.stops):
        path: Path = ("stops", index, "depart")
        last = index + 1 == len(tour.stops)
        following = hours if last else arrive[index + 1]
        needed = 0 if last else way[index + 1]
        leaves = following - needed
        if stop.depart is not None:
            given = _hour_of(clock, stop.depart, start, path)
            if given is None:
                continue
            got = f"got {clock.written(stop.depart)}"
            if given <= arrive[index]:
                faults.append(
                    Fault(path, f"must be after the arrival ({clock.written(stop.arrive)}), {got}; correct one.")
                )
                continue
            if last and given != hours:
                faults.append(
                    Fault(
                        path,
                        f"must be the tour's end ({clock.written(tour.end)}) at the last stop, {got}; leave it out.",
                    )
                )
                continue
            if given > following:
                next_stop = tour.stops[index + 1]
                faults.append(
                    Fault(
                        path,
                        f"must be before the arrival at {next_stop.place} ({clock.written(next_stop.arrive)}), {got}; "
                        "stops must not overlap.",
                    )
                )
                continue
            leaves = given
        if leaves <= arrive[index] or following - leaves < needed:
            free = following - (leaves if stop.depart is not None else arrive[index] + 1)
            faults.append(_too_long(tour, index + 1, needed, free, stop.place))
            continue
        depart.append(leaves)
    return depart


def _too_long(tour: Tour, index: int, needed: int, free: int, origin: str) -> Fault:
    stop = tour.stops[index]
    return Fault(
        ("stops", index, "drive_h"),
        f"and ferry_h must fit into the {free} h between {origin} and {stop.place}, "
        f"got {stop.drive_h:g} h and {stop.ferry_h:g} h, {needed} h in whole hours; arrive later.",
    )
