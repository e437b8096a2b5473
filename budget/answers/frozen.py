"""Water that freezes, and what had let it: a drive, a ferry, an absence or a schedule without heat, no charge, no gas.

Judged by what lacked when the ice began, not by what lacked most on the tour.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from budget.answers.detail import Detail
from budget.answers.last_chance import unserved, windows
from budget.answers.prepared import timeline_of
from budget.engine.hour_arrays import hour_records
from budget.engine.state import ICE_BOILER, ICE_FRESH, ICE_PIPES
from budget.engine.stepping import Floats
from budget.moments import hour_of_edge
from budget.results.frost import ALL_ICE_SHARE, LEAST_L
from budget.tour.week import Mask

if TYPE_CHECKING:
    from collections.abc import Callable

BEFORE_H = 12  # in which what froze may have frozen for want of heat
HARDLY = 0.1  # of the ice's hours: with less where the heater is on, that it was off is the cause
MOVING = {"drive": 1, "ferry": 2}
DRIVE, FERRY, AWAY, OFF = "drive", "ferry", "away", "off"  # the heater was not asked for heat
CHARGE, GAS, COLD = "charge", "gas", "cold"  # it was, and lacked something, or nothing but warmth at the pipes
Causes = tuple[str, ...]
ICE = {"pipes": ICE_PIPES, "boiler": ICE_BOILER, "fresh": ICE_FRESH}


@dataclass(frozen=True, kw_only=True)
class Frozen:
    """Water that freezes, whole or in part, since when first for this ``cause``.

    ``cause``: "drive", "ferry", "away" or "off" (by the schedule) where the heater was off and heat would spare it;
    else "charge" or "gas" where that lacked before, "cold" where nothing did. ``drives``: the cause is a drive.
    """

    part: str
    whole: bool
    since: dt.datetime
    drives: bool
    cause: str = COLD


def frozen_of(run: Detail) -> tuple[Frozen, ...]:
    """Pipes and boiler with any ice, the fresh tank frozen through; one for each part and cause, the first one first.

    Every unbroken span of ice has its own cause, or several in turn.
    """
    heated = cache(lambda causes: _heated(run, causes))
    found: dict[tuple[str, str], Frozen] = {}
    for part, place in ICE.items():
        ice_kg, held_l = run.stock("ice_kg", place), _held_l(run, part)
        whole = (ice_kg >= ALL_ICE_SHARE * held_l) & (held_l >= LEAST_L) & (ice_kg > 0.0)
        if part == "fresh" and not whole.any():
            continue
        for span in windows(ice_kg > 0.0).tolist():
            for cause, first, end in _causes(run, place, tuple(span), heated):
                before = found.get((part, cause))
                found[part, cause] = Frozen(
                    part=part, cause=cause, drives=cause == DRIVE,
                    whole=bool(whole[first:end].any()) or (before is not None and before.whole),
                    since=run.time(hour_of_edge(first)) if before is None else before.since,
                )  # fmt: skip
    return tuple(found.values())


def _held_l(run: Detail, part: str) -> Floats:
    if part == "pipes":
        return np.full(run.count + 1, run.van.water.pipes.content_l)
    return run.stock(f"{part}_l")


def _causes(
    run: Detail,
    place: int,
    span: tuple[int, int],
    heated: Callable[[tuple[str, ...]], Detail],
    by: tuple[str, ...] = (),
) -> Iterator[tuple[str, int, int]]:
    """A span of ice as cause, first and last + 1 edge; where heat would only have put it off, what is left is judged
    again with that heat (``by``) on."""
    first, end = span
    hour = hour_of_edge(first)
    before = slice(max(0, hour - BEFORE_H), hour + 1)
    for cause in _unheated(run, before):
        left = np.flatnonzero(heated((*by, cause)).stock("ice_kg", place)[first:end] > 0.0)
        if left.size <= HARDLY * (end - first):
            yield cause, first, end
            return
        if left[0] >= BEFORE_H:
            then = first + int(left[0])
            yield cause, first, then
            yield from _causes(run, place, (then, end), heated, (*by, cause))
            return
    lacked = {CHARGE: run.flow("cut_out_s")[before] > 0.0, GAS: unserved(run)[before]}
    hours = {cause: int(np.count_nonzero(mask)) for cause, mask in lacked.items()}
    most = max(hours, key=lambda cause: hours[cause])
    yield most if hours[most] else COLD, first, end


def _unheated(run: Detail, before: slice) -> Iterator[str]:
    """Why the heater was off in these hours, the cause of most of them first."""
    hours = {cause: int(np.count_nonzero(_off(run, cause)[before])) for cause in (DRIVE, FERRY, AWAY, OFF)}
    yield from (cause for cause in sorted(hours, key=lambda cause: -hours[cause]) if hours[cause])


def _off(run: Detail, cause: str) -> Mask:
    """Hours in which the heater is off for this cause."""
    moving, allowed = np.asarray(run.timeline.moving), np.asarray(run.timeline.heater_allowed, dtype=bool)
    if cause in MOVING:
        return np.asarray((moving == MOVING[cause]) & ~allowed)
    away = np.asarray(run.timeline.away) > 0.0
    off = allowed & np.isnan(np.asarray(run.hours["set_c"])).any(axis=1)
    return np.asarray(off & (away if cause == AWAY else ~away))


def _heated(run: Detail, causes: Causes) -> Detail:
    """The same run with the heater on in those hours: as the tour's schedule has it on drives, else as last asked."""
    hours = run.hours.copy()
    if DRIVE in causes:
        habits = run.tour.habits.model_copy(update={"heater_while_driving": True})
        hours = hour_records(run.built, timeline_of(run.van, run.tour.model_copy(update={"habits": habits})))
    off = np.any([_off(run, cause) for cause in causes if cause != DRIVE] or [np.zeros(run.count, dtype=bool)], axis=0)
    asked = np.where(off, np.nan, np.asarray(hours["set_c"]).max(axis=1))
    known = np.flatnonzero(np.isfinite(asked))
    if off.any() and known.size:
        last = known[np.maximum(np.searchsorted(known, np.arange(run.count), side="right") - 1, 0)]
        hours["set_c"][off] = asked[last][off][:, np.newaxis]
        hours["heater_allowed"][off], hours["gas_open"][off] = 1, 1
    return run.again(hours=hours)
