"""How far apart stops are, and how far from their time zone, to catch a coordinate that was mistyped."""

from __future__ import annotations

import datetime as dt
import math
import zoneinfo

from budget.tour.model import Stop, Tour

EARTH_KM = 6371.0  # mean radius
FASTEST_KM_PER_H = 100.0  # mean over land and sea as the crow flies; a van that is driven is slower
FAR_KM = 1000.0  # a way that nobody drives, or a station, from which on all else on the page is in doubt; a choice
FAR_DEG = 30.0  # of longitude from the zone's own noon; the widest zones of the land reach about so far
NO_PLACE = ("UTC", "Etc/", "GMT")  # zones of no country


def distance_km(one: Stop, other: Stop) -> float:
    """Great circle between two stops: haversine formula on a sphere, within 0.6 % of the ellipsoid. [km]"""
    phi1, phi2 = math.radians(one.latitude_deg), math.radians(other.latitude_deg)
    half = math.sin((phi2 - phi1) / 2.0) ** 2
    half += math.cos(phi1) * math.cos(phi2) * math.sin(math.radians(other.longitude_deg - one.longitude_deg) / 2.0) ** 2
    return 2.0 * EARTH_KM * math.asin(min(1.0, math.sqrt(half)))


def doubts(tour: Tour, station_km: float = 0.0) -> tuple[str, ...]:
    """A question where a place lies so far from the others, its zone or its weather that all else hangs on it.

    ``station_km``: how far the weather's station lies at most from a stop that it serves. One question is enough: the
    stop that lies farthest from the zone is asked about first, then of two that nobody drives between the one that lies
    farther from it.
    """
    by_zone = sorted(tour.stops, key=lambda stop: -_off_zone_deg(tour, stop))
    if _off_zone_deg(tour, by_zone[0]) > FAR_DEG:
        return (
            f"Is {_where(by_zone[0])} right for {tour.timezone}? Check that latitude and longitude are not swapped, "
            "and that the timezone is the place's.",
        )
    for before, stop in zip(tour.stops, tour.stops[1:], strict=False):
        km = distance_km(before, stop)
        if km > FAR_KM and _nobody_drives(km, stop):
            odd = max((before, stop), key=lambda each: _off_zone_deg(tour, each))
            other = before if odd is stop else stop
            return (
                f"Is {_where(odd)} right, {km:.0f} km from {other.place}? Check that latitude and longitude are not "
                "swapped and that no minus sign is missing.",
            )
    if station_km > FAR_KM:
        return (f"Is the weather the right one? Its station lies {station_km:.0f} km from the tour.",)
    return ()


def _where(stop: Stop) -> str:
    south, west = stop.latitude_deg < 0.0, stop.longitude_deg < 0.0
    return (
        f"{stop.place} ({abs(stop.latitude_deg):.1f}° {'S' if south else 'N'}, "
        f"{abs(stop.longitude_deg):.1f}° {'W' if west else 'E'})"
    )


def _off_zone_deg(tour: Tour, stop: Stop) -> float:
    """Longitude between a stop and where the sun stands south at noon of the tour's zone without summer time. [°]"""
    if tour.timezone.startswith(NO_PLACE):
        return 0.0
    zone = zoneinfo.ZoneInfo(tour.timezone)
    local = dt.datetime(tour.start.year, 1, 1, tzinfo=zone)
    offset = (local.utcoffset() or dt.timedelta()) - (local.dst() or dt.timedelta())
    apart = stop.longitude_deg - 15.0 * offset.total_seconds() / 3600.0
    return abs((apart + 180.0) % 360.0 - 180.0)


def _nobody_drives(km: float, stop: Stop) -> bool:
    """Whether a way takes longer than the hours that a stop gives for it."""
    return km > FASTEST_KM_PER_H * max(stop.drive_h + stop.ferry_h, 0.5)


def too_far(tour: Tour) -> tuple[str, ...]:
    """A sentence for each way that no van drives in the time given for it."""
    told = []
    for before, stop in zip(tour.stops, tour.stops[1:], strict=False):
        km, hours = distance_km(before, stop), stop.drive_h + stop.ferry_h
        if _nobody_drives(km, stop):
            told.append(
                f"From {before.place} to {stop.place} it is {km:.0f} km as the crow flies, and the way takes "
                f"{hours:g} h; check the coordinates, or give drive_h."
            )
    return tuple(told)
