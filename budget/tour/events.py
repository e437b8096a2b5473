"""Absences and wet kit: what a tour says to happen at a date, on the hours after its start."""

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
    """Absences and wet kit, and every fault of their dates."""
    clock = Clock(plan.zone, [])
    return _absences(tour, clock, plan), _hung(tour, clock, plan), clock.faults


def _absences(tour: Tour, clock: Clock, plan: Itinerary) -> Absences:
    absences = []
    for number, away in enumerate(tour.away):
        start, end = clock.utc(away.start, ("away", number, "start")), clock.utc(away.end, ("away", number, "end"))
        if start is None or end is None:
            continue
        if end <= start:
            text = f"must be after its start ({away.start:%Y-%m-%d %H:%M}), got {away.end:%Y-%m-%d %H:%M}; correct one."
            clock.faults.append(Fault(("away", number, "end"), text))
            continue
        first, last = ((instant - plan.start) / dt.timedelta(hours=1) for instant in (start, end))
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
            span = f"{tour.start:%Y-%m-%d %H:%M} to {tour.end:%Y-%m-%d %H:%M}"
            text = f"must lie within the tour ({span}), got {kit.at:%Y-%m-%d %H:%M}; correct the date."
            clock.faults.append(Fault(("drying", number, "at"), text))
            continue
        hung.append((hour, kit.zone, kit.water_kg, kit.surface_m2))
    return tuple(hung)
