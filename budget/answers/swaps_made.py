"""Every exchange and filling that a run makes, and which of them it needs."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from budget.answers.detail import Detail
from budget.engine.stepping import Floats
from budget.results.need import used_by_hour_kg
from budget.results.swaps import needless_from


@dataclass(frozen=True, kw_only=True)
class Swap:
    """One exchange or filling that the tour makes.

    ``left_kg`` is what was in the bottle then: an exchanged bottle is handed back with it, a refillable one keeps it.
    ``added_kg`` came in. Not ``needed``: without it and all later ones the gas lasts with the reserve in hand.
    """

    time: dt.datetime
    place: str
    bottle: int
    name: str
    left_kg: float
    added_kg: float
    exchanged: bool
    needed: bool


def swaps_of(run: Detail) -> list[Swap]:
    """Every exchange or filling of the run, in order of time."""
    found = []
    needless = needless_from(run.built, run.hours, run.rows, run.wishes, run.many, run.need)
    for bottle in range(run.bottles):
        added = run.flow("swap_in_kg", bottle) + run.flow("swap_in_butane_kg", bottle)
        given = run.flow("swap_out_kg", bottle) + run.flow("swap_out_butane_kg", bottle)
        for hour in np.flatnonzero(run.flow("swaps", bottle) > 0.0).tolist():
            refillable = run.van.gas.bottles[bottle].refillable
            left = float(run.left_kg(bottle)[hour]) if refillable else float(given[hour])
            found.append(
                Swap(
                    time=run.time(hour),
                    place=run.place(hour),
                    bottle=bottle + 1,
                    name=run.van.gas.bottles[bottle].name,
                    left_kg=left,
                    added_kg=float(added[hour]),
                    exchanged=not refillable,
                    needed=hour < needless,
                )
            )
    return sorted(found, key=lambda swap: (swap.time, swap.bottle))


def used_kg(run: Detail) -> Floats:
    """Gas drawn from all bottles in each hour. [kg]"""
    return used_by_hour_kg(run.built, run.many)
