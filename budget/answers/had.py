"""Whether scenarios had the gas that they needed: since when not, and whether a bottle then held some."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from budget.answers.prepared import Prepared
from budget.engine.batch import Many
from budget.results.need import with_automatic_changeover, with_power
from budget.results.swaps import MISSING_KG
from budget.weather.air import Floats

NEVER = -1.0
EMPTY_KG = 0.1  # of all bottles together: what a flame does not live on


@dataclass(frozen=True, eq=False)
class Had:
    """``lacked_h`` is the hour from which gas was lacked, NEVER where it was not; one a scenario.

    ``held_up``: a bottle held gas then, which did not flow. ``left_kg`` (scenarios, edges) is what all bottles hold.
    """

    lacked_h: Floats
    held_up: np.ndarray
    left_kg: Floats


def had(need_kg: Floats, many: Many) -> Had:
    """What runs had of the gas needed up to each hour edge, (scenarios, edges). [kg]

    More than ``MISSING_KG`` behind the need is gas that was lacked. It ended in the hour in which the bottles were
    empty; where they were not by then it was held up: too cold to boil off, the wrong gas, a regulator too small.
    """
    left = many.trace[:, :, 0]
    behind = need_kg - many.trace[:, :, 4] > MISSING_KG
    empty = left <= EMPTY_KG
    lacks = behind.any(axis=1)
    first = np.where(lacks, behind.argmax(axis=1), -1)
    emptied = np.where(empty.any(axis=1), empty.argmax(axis=1), left.shape[1])
    held_up = lacks & (emptied > first)
    edge = np.where(held_up, first, np.minimum(emptied, first))
    return Had(lacked_h=np.where(lacks, np.maximum(edge - 1, 0), NEVER).astype(float), held_up=held_up, left_kg=left)


def marched_with_power(prepared: Prepared, many: Many, factors: Floats, **how: Any) -> Many:
    """``many``, of the same arguments, with a battery that lasts and hands that change bottles over at any hour.

    Only what was cut out, or all where bottles are changed over by hand, is run again.
    """
    by_hand = prepared.van.gas.changeover == "manual" and prepared.built.size.bottles > 1
    again = np.flatnonzero((many.trace[:, -1, 5] > 0.0) | by_hand)
    if not again.size:
        return many
    built = with_power(prepared.built)
    if by_hand:
        built = with_automatic_changeover(built)
    weather_of = how.pop("weather_of")
    ready = replace(prepared, built=built)
    powered = ready.run_many(factors[again], weather_of=weather_of[again], **how)
    trace = many.trace.copy()
    trace[again] = powered.trace
    return replace(many, trace=trace)
