"""Who is inside, by the hour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from budget.tour.model import Person
from budget.tour.week import WEEK_MIN, Floats, Ints, Mask, minutes_covered, share_of_hours


@dataclass(frozen=True, eq=False)
class Presence:
    """People inside: mean numbers and heat by the hour, and the minutes of the week with anybody at home."""

    awake: Floats
    asleep: Floats
    heat_w: Floats
    vapour_g_per_h: Floats
    awake_share: Floats
    anybody_share: Floats
    anybody: Mask


def presence_of(people: Sequence[Person], minute_of_week: Ints, parked: Mask, driving: Mask, away: Floats) -> Presence:
    """People inside by the hour: by their habits while parked, all awake in the cab on a drive, none on a ferry.

    ``away`` is the share of each hour with nobody on board. [0–1] Somebody who would be asleep but is out is out.
    """
    n = len(minute_of_week)
    at_home = parked * (1.0 - away)
    awake, asleep, heat_w, vapour = (np.zeros(n) for _ in range(4))
    anybody, any_awake = np.zeros(WEEK_MIN, dtype=bool), np.zeros(WEEK_MIN, dtype=bool)
    for person in people:
        inside = ~minutes_covered(person.out)
        sleeping = minutes_covered(person.asleep) & inside
        anybody |= inside
        any_awake |= inside & ~sleeping
        person_asleep = share_of_hours(sleeping, minute_of_week) * at_home
        person_awake = share_of_hours(inside & ~sleeping, minute_of_week) * at_home + driving
        awake += person_awake
        asleep += person_asleep
        heat_w += person.awake_w * person_awake + person.asleep_w * person_asleep
        vapour += person.vapour_g_per_h * (person_awake + person_asleep)
    return Presence(
        awake=awake,
        asleep=asleep,
        heat_w=heat_w,
        vapour_g_per_h=vapour,
        awake_share=share_of_hours(any_awake, minute_of_week) * at_home,
        anybody_share=share_of_hours(anybody, minute_of_week) * at_home,
        anybody=anybody,
    )
