"""Exchanges and fillings of a run, and which of them the tour could do without."""

from __future__ import annotations

from typing import Any

import numpy as np

from budget.engine.batch import Many, run_one
from budget.engine.stepping import Floats
from budget.engine.van_arrays import BuiltVan
from budget.results.need import BATTERY, LITTLE_KG, Need, beside_element_kg, lacked_kg

MISSING_KG = 0.5  # less is an hour or two on an empty bottle before a changeover, not a bottle too few


def taken(needed: int, on_board: int, swaps: int) -> tuple[int, int]:
    """Full bottles to take and swaps to make on the way, of those needed for the plan and those on board.

    Those on board and the swaps that the tour needs, where it has them; else all at departure.
    """
    return (on_board, swaps) if needed > on_board and swaps else (max(1, needed), 0)


def swap_hours(built: BuiltVan, many: Many) -> list[int]:
    """Hours of a run in detail in which any bottle is exchanged or filled."""
    assert many.flows is not None
    first = built.flows.swaps
    return np.flatnonzero(many.flows[:, first : first + built.size.bottles].sum(axis=1) > 0.0).tolist()


def needless_from(built: BuiltVan, hours: Any, rows: Floats, wishes: Any, many: Many, need: Need) -> int:
    """First hour from which on no swap is needed; the number of hours where all are.

    The bottles are swapped by a rule, in the first open hour in which little is left. A swap is not needed when,
    without it and all that follow, no flame lacks gas and the reserve stays in hand to the end. Judged from the last
    swap backwards; where the battery was cut out every swap counts as needed, since a heater that stands still says
    nothing of the gas.
    """
    needless = len(hours)
    if BATTERY in need.short_of:
        return needless
    lacked = lacked_kg(built, many) + float(need.beside_element_kg.sum()) + LITTLE_KG
    for hour in reversed(swap_hours(built, many)):
        without = hours.copy()
        without["exchange_open"][hour:] = 0
        tried = run_one(built, without, rows, wishes)
        left_kg = tried.trace[0, hour:, 0]
        beside = float(beside_element_kg(built, without, tried, need.used_kg).sum())
        if lacked_kg(built, tried) + beside > lacked or left_kg.min() < need.reserve_kg:
            break
        needless = hour
    return needless
