"""How far apart stops are, to catch a coordinate that was mistyped."""

from __future__ import annotations

import math

from budget.tour.model import Stop, Tour

EARTH_KM = 6371.0  # mean radius
FASTEST_KM_PER_H = 100.0  # mean over land and sea as the crow flies; a van that is driven is slower


def distance_km(one: Stop, other: Stop) -> float:
    """Great circle between two stops: haversine formula on a sphere, within 0.6 % of the ellipsoid. [km]"""
    phi1, phi2 = math.radians(one.latitude_deg), math.radians(other.latitude_deg)
    half = math.sin((phi2 - phi1) / 2.0) ** 2
    half += math.cos(phi1) * math.cos(phi2) * math.sin(math.radians(other.longitude_deg - one.longitude_deg) / 2.0) ** 2
    return 2.0 * EARTH_KM * math.asin(min(1.0, math.sqrt(half)))


def too_far(tour: Tour) -> tuple[str, ...]:
    """A sentence for each way that no van drives in the time given for it."""
    told = []
    for before, stop in zip(tour.stops, tour.stops[1:], strict=False):
        km, hours = distance_km(before, stop), stop.drive_h + stop.ferry_h
        if km > FASTEST_KM_PER_H * max(hours, 0.5):
            told.append(
                f"From {before.place} to {stop.place} it is {km:.0f} km as the crow flies, and the way takes "
                f"{hours:g} h; check the coordinates, or give drive_h."
            )
    return tuple(told)
