"""From the gas that is needed hour by hour to when a number of bottles is empty."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from budget.weather.air import Floats

EXCHANGE_BELOW_SHARE = 0.25  # as the engine exchanges a bottle; a test holds the two together
REFILL_BELOW_SHARE = 0.75  # as the engine fills a refillable bottle
NEVER = -1


def used_by_hour(left_kg: Floats, total_kg: Floats) -> Floats:
    """Gas used in each hour, (scenarios, hours), from the gas left at hour edges where bottles are changed in between.

    In an hour with a change the use cannot be read off; it is the mean of the hours beside it, and all such hours of a
    scenario are scaled so that the tour's ``total_kg`` is exact.
    """
    used = -np.diff(left_kg, axis=1)
    changed = used < -1e-9
    if not changed.any():
        return np.maximum(used, 0.0)
    known = np.where(changed, 0.0, used)
    before = np.pad(known, ((0, 0), (1, 0)))[:, :-1]
    after = np.pad(known, ((0, 0), (0, 1)))[:, 1:]
    guess = np.where(changed, np.maximum((before + after) / 2.0, 1e-6), 0.0)
    missing = np.maximum(total_kg - known.sum(axis=1), 0.0)
    filled: Floats = known + guess * (missing / np.maximum(guess.sum(axis=1), 1e-12))[:, np.newaxis]
    return np.maximum(filled, 0.0)


def empty_hour(used_kg: Floats, capacity_kg: float) -> np.ndarray:
    """First hour in which more than this has been used, NEVER when it lasts; one a scenario."""
    over = np.cumsum(used_kg, axis=1) > capacity_kg
    return np.where(over.any(axis=1), over.argmax(axis=1), NEVER)


def empty_hour_with_exchange(
    used_kg: Floats,
    start_kg: Sequence[float],
    net_kg: Sequence[float],
    exchange_open: np.ndarray,
    refillable: Sequence[bool],
) -> np.ndarray:
    """First hour in which the bottles on board cannot give what is needed, NEVER when they last; one a scenario.

    Parameters
    ----------
    used_kg : Need by hour, (scenarios, hours). [kg]
    start_kg, net_kg : Each bottle's gas at the start and when full. [kg]
    exchange_open : (hours, bottles), true where that bottle can be changed or filled.
    refillable : Whether a bottle is filled rather than exchanged.

    As in the engine, an exchange bottle is changed when at most a quarter is left, a refillable one filled when at most
    three quarters are; bottles are emptied one after the other.
    """
    count, hours = used_kg.shape
    cumulative = np.concatenate([np.zeros((count, 1)), np.cumsum(used_kg, axis=1)], axis=1)
    left = np.tile(np.asarray(start_kg, dtype=float), (count, 1))
    full = np.asarray(net_kg, dtype=float)
    below = np.where(np.asarray(refillable, dtype=bool), REFILL_BELOW_SHARE, EXCHANGE_BELOW_SHARE) * full
    active = np.zeros(count, dtype=np.int64)
    gone = np.full(count, NEVER)
    rows = np.arange(count)
    stations = [int(h) for h in np.flatnonzero(exchange_open.any(axis=1))]
    for first, last in zip([0, *stations], [*stations, hours], strict=True):
        if first in stations:
            can = exchange_open[first].astype(bool) & (left <= below)
            left = np.where(can, full, left)
        need = cumulative[:, last] - cumulative[:, first]
        held = left.sum(axis=1)
        dry = (need > held + 1e-9) & (gone == NEVER)
        if dry.any():
            over = cumulative[dry, first + 1 : last + 1] - cumulative[dry, first : first + 1] > held[dry, np.newaxis]
            gone[dry] = first + over.argmax(axis=1)
        for _ in range(len(full)):
            drawn = np.minimum(need, left[rows, active])
            left[rows, active] -= drawn
            need = need - drawn
            active = np.where(need > 1e-12, (active + 1) % len(full), active)
    return gone
