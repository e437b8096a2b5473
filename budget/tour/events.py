"""Absences, wet kit and days of snow: what a tour says to happen at a date, on the hours after its start."""

from __future__ import annotations

import datetime as dt

from budget.tour.faults import Fault
from budget.tour.itinerary import Clock, Itinerary
from budget.tour.model import Tour

# From and to in hours after the start, and the schedule meanwhile.
Absences = tuple[tuple[float, float, str | None], ...]
# Hour, zone, water [kg], surface [m²].
Hung = tuple[tuple[int, str, float, float], ...]


def events(tour: Tour, plan: Itinerary) -> tuple[Absences, Hung, list[Fault]]:
    """Absences and wet kit, and every fault of their dates and of the days of snow.

    An absence must share an hour with the tour; what lies before its start or after its end is left out.
    """
    clock = Clock(plan.zone, [])
    _snow(tour, clock, plan)
    return _absences(tour, clock, plan), _hung(tour, clock, plan), clock.faults


def _span(clock: Clock, plan: Itinerary) -> str:
    end = plan.start + plan.hours * dt.timedelta(hours=1)
    return f"must lie within the tour ({clock.written(plan.start)} to {clock.written(end)})"


def _snow(tour: Tour, clock: Clock, plan: Itinerary) -> None:
    hour = dt.timedelta(hours=1)
    first, last = (at.astimezone(plan.zone).date() for at in (plan.start, plan.start + (plan.hours - 1) * hour))
    for number, day in enumerate(tour.habits.snow_days):
        if not first <= day <= last:
            text = f"{_span(clock, plan)}, got {day}; correct the date."
            clock.faults.append(Fault(("habits", "snow_days", number), text))


def _absences(tour: Tour, clock: Clock, plan: Itinerary) -> Absences:
    absences = []
    for number, away in enumerate(tour.away):
        start, end = clock.utc(away.start, ("away", number, "start")), clock.utc(away.end, ("away", number, "end"))
        if start is None or end is None:
            continue
        if end <= start:
            text = f"must be after its start ({clock.written(away.start)}), got {clock.written(away.end)}; correct one."
            clock.faults.append(Fault(("away", number, "end"), text))
            continue
        first, last = ((instant - plan.start) / dt.timedelta(hours=1) for instant in (start, end))
        if first >= plan.hours or last <= 0.0:
            name, got = ("start", away.start) if first >= plan.hours else ("end", away.end)
            text = f"{_span(clock, plan)}, got {clock.written(got)}; correct the date."
            clock.faults.append(Fault(("away", number, name), text))
            continue
        absences.append((first, last, away.schedule))
    return tuple(absences)


def _hung(tour: Tour, clock: Clock, plan: Itinerary) -> Hung:
    hung = []
    for number, kit in enumerate(tour.drying):
        instant = clock.utc(kit.at, ("drying", number, "at"))
        if instant is None:
            continue
        hour = (instant - plan.start) // dt.timedelta(hours=1)
        if not 0 <= hour < plan.hours:
            text = f"{_span(clock, plan)}, got {clock.written(kit.at)}; correct the date."
            clock.faults.append(Fault(("drying", number, "at"), text))
            continue
        hung.append((hour, kit.zone, kit.water_kg, kit.surface_m2))
    return tuple(hung)
