"""Where the van is in each hour: at a stop, driving, on a ferry or at rest on the way."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from budget.tour.itinerary import Itinerary
from budget.tour.model import Tour
from budget.tour.week import Floats, Ints, Mask


@dataclass(frozen=True, eq=False)
class Way:
    """Place and movement of the van, one value an hour."""

    stop: Ints
    origin: Ints
    moving: Ints
    at_stop: Mask
    arrived: Mask
    way_share: Floats
    alternator: Floats
    latitude_deg: Floats
    longitude_deg: Floats
    altitude_m: Floats


def way_of(tour: Tour, plan: Itinerary) -> Way:
    """Lay stops and legs on the hours.

    A leg is driven in two halves with the rest, if there is time to spare, and then the ferry between them; before
    the first arrival the van stands at the first place and sets out just in time. ``way_share`` runs from 0 to 1 over
    the moving hours and is taken at mid-hour; places in between are linear in it.
    """
    n = plan.hours
    stop, origin, moving = (np.zeros(n, dtype=np.int64) for _ in range(3))
    at_stop, arrived = np.zeros(n, dtype=bool), np.zeros(n, dtype=bool)
    way_share, alternator = np.ones(n), np.zeros(n)
    for index, place in enumerate(tour.stops):
        leaves, arrives, departs = (plan.depart[index - 1] if index else 0), plan.arrive[index], plan.depart[index]
        stop[leaves:departs] = index
        origin[leaves:arrives] = max(index - 1, 0)
        origin[arrives:departs] = index
        at_stop[arrives:departs] = True
        arrived[arrives] = arrives > 0
        drive, ferry = plan.drive_hours[index], plan.ferry_hours[index]
        rest = arrives - leaves - drive - ferry
        if arrives == leaves:
            continue
        halves, waiting = [1] * ((drive + 1) // 2), [0] * rest
        kinds = [*halves, *waiting] if index else [*waiting, *halves]
        kinds += [2] * ferry + [1] * (drive // 2)
        leg = np.array(kinds, dtype=np.int64)
        moving[leaves:arrives] = leg
        moved = (leg > 0).astype(float)
        way_share[leaves:arrives] = (np.cumsum(moved) - moved / 2.0) / max(drive + ferry, 1)
        if drive:
            alternator[leaves:arrives] = (leg == 1) * min(place.drive_h / drive, 1.0)

    def along(values: list[float]) -> Floats:
        at = np.array(values)
        blended: Floats = at[origin] + way_share * (at[stop] - at[origin])
        return blended

    longitude = np.rad2deg(np.unwrap(np.deg2rad([place.longitude_deg for place in tour.stops])))
    return Way(
        stop=stop,
        origin=origin,
        moving=moving,
        at_stop=at_stop,
        arrived=arrived,
        way_share=way_share,
        alternator=alternator,
        latitude_deg=along([place.latitude_deg for place in tour.stops]),
        longitude_deg=(along(list(longitude)) + 180.0) % 360.0 - 180.0,
        altitude_m=along([place.altitude_m for place in tour.stops]),
    )
