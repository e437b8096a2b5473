"""Bottles to take and swaps to make, as they would be with power: a heater that stands still swaps nothing."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

from budget.answers.bottle_plan import Swap, swaps_of, used_kg
from budget.answers.detail import Detail
from budget.answers.last_chance import out_of_gas
from budget.results.need import BATTERY, Need
from budget.results.summary import bottles_needed
from budget.results.swaps import MISSING_KG, taken

if TYPE_CHECKING:
    from budget.results.result import Result


@lru_cache(maxsize=4)
def powered(result: Result) -> Detail:
    """The tour's run, or the same with a battery that lasts where its own does not."""
    return with_charge(Detail.of(result))


def with_charge(run: Detail) -> Detail:
    """A run itself where its battery lasts, else the same with one that does."""
    return run.with_power() if BATTERY in run.need.short_of else run


@lru_cache(maxsize=4)
def planned_swaps(result: Result) -> tuple[Swap, ...]:
    """Every swap of that run, in order of time."""
    return tuple(swaps_of(powered(result)))


def to_take(result: Result) -> tuple[int, int]:
    """Full bottles to take and swaps to make on the way: those carried and the needed swaps, where there are any."""
    return taken_by(powered(result), planned_swaps(result), result.need)


def carries(result: Result) -> bool:
    """Whether those carried, with the swaps of the tour, are not all empty before the next chance, with power."""
    run = powered(result)
    return result.need.kg - float(used_kg(run).sum()) <= MISSING_KG or not out_of_gas(run).any()


def taken_by(run: Detail, swaps: Sequence[Swap], need: Need) -> tuple[int, int]:
    """What to take by a run with charge to its end, its swaps, and the tour's need."""
    needed = sum(swap.needed for swap in swaps)
    return taken(bottles_needed(need.planned_kg, run.van.gas.bottles[0].net_kg), run.bottles, needed)
