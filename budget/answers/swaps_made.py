"""Every exchange and filling that a run makes, and which of them it needs."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from budget.answers.detail import Detail
from budget.engine.stepping import Floats
from budget.results.need import LITTLE_KG, Need, lacked_kg, used_by_hour_kg
from budget.results.swaps import MISSING_KG, needless_from


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


def not_had_kg(run: Detail, need: Need) -> float:
    """Gas that a tour needs and does not get in a run with power. [kg]

    None where it is less than a changeover takes, or no flame went short: the fed tour has other mixtures to burn.
    """
    lacking_kg = need.kg - float(used_kg(run).sum())
    wanted_kg = lacked_kg(run.built, run.many) + float(run.beside_element_kg.sum())
    return lacking_kg if lacking_kg > MISSING_KG and wanted_kg > LITTLE_KG else 0.0
