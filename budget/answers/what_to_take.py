"""Bottles to take and swaps to make, as they would be with power: a heater that stands still swaps nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

from budget.answers.detail import Detail
from budget.answers.last_chance import out_of_gas
from budget.answers.swaps_made import Swap, not_had_kg, swaps_of
from budget.answers.wrong_gas import wrong_gas
from budget.engine.arrays import BOTTLES
from budget.engine.batch import run_one
from budget.engine.hour_arrays import hour_records
from budget.engine.van_arrays import build_van
from budget.results.need import BATTERY, Need, with_power
from budget.results.summary import bottles_needed
from budget.results.swaps import taken

if TYPE_CHECKING:
    from budget.results.result import Result
    from budget.van.model import Van


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


@dataclass(frozen=True, kw_only=True)
class ToTake:
    """Full bottles of the first kind to take and swaps to make on the way.

    ``lasts``: with them, and power, gas does not end before the next chance; false where not even as many bottles as
    a van has room for do, and where what they hold is the wrong gas for the cold, which more of it does not mend.
    """

    bottles: int
    swaps: int
    lasts: bool = True

    def beyond(self, on_board: int) -> bool:
        """Whether more are taken than are on board, and swapped on the way: on other dates than those of the tour."""
        return self.swaps > 0 and self.bottles > on_board


@lru_cache(maxsize=4)
def to_take(result: Result) -> ToTake:
    """Those carried and the needed swaps, where there are any; more where these do not last, with power."""
    return taken_by(powered(result), planned_swaps(result), result.need)


def taken_by(run: Detail, swaps: Sequence[Swap], need: Need) -> ToTake:
    """What to take by a run with charge to its end, its swaps, and the tour's need."""
    needed = bottles_needed(need.planned_kg, run.van.gas.bottles[0].net_kg)
    bottles, swapped = taken(needed, run.bottles, sum(swap.needed for swap in swaps))
    if wrong_gas(run, need):
        return ToTake(bottles=bottles, swaps=swapped, lasts=False)
    if not swapped or _lasts(run, need):
        return ToTake(bottles=bottles, swaps=swapped)
    for count in range(bottles + 1, min(needed, BOTTLES) + 1):
        more = with_bottles(run, count)
        if _lasts(more, need):
            return ToTake(bottles=count, swaps=sum(swap.needed for swap in swaps_of(more)))
    return ToTake(bottles=bottles, swaps=swapped, lasts=False)


def with_bottles(run: Detail, count: int) -> Detail:
    """A run with charge to its end, once more with so many full bottles of the first kind."""
    van = carrying(run.van, count)
    built = with_power(build_van(van, len(run.timeline.draw_s)))
    hours = hour_records(built, run.timeline)
    return replace(run, van=van, built=built, hours=hours, many=run_one(built, hours, run.rows, run.wishes))


def carrying(van: Van, count: int) -> Van:
    """A van with so many full bottles of the first kind, and no others."""
    full = van.gas.bottles[0].model_copy(update={"start_kg": None})
    return van.model_copy(update={"gas": van.gas.model_copy(update={"bottles": (full,) * count})})


def _lasts(run: Detail, need: Need) -> bool:
    """Whether the bottles, with the swaps of the tour, are not all empty before the next chance."""
    return not_had_kg(run, need) <= 0.0 or not out_of_gas(run).any()
