"""From the gas that is needed hour by hour to when a number of bottles is empty."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from budget.weather.air import Floats

if TYPE_CHECKING:
    from budget.answers.prepared import Prepared
    from budget.answers.what_to_take import ToTake

REFILL_BELOW_SHARE = 0.75  # as the engine fills a refillable bottle; a test holds the two together
NEVER = -1


def empty_hour(used_kg: Floats, capacity_kg: float) -> np.ndarray:
    """First hour in which more than this has been used, NEVER when it lasts; one a scenario."""
    over = np.cumsum(used_kg, axis=1) > capacity_kg
    return np.where(over.any(axis=1), over.argmax(axis=1), NEVER)


def with_exchange(
    used_kg: Floats,
    start_kg: Sequence[float],
    net_kg: Sequence[float],
    exchange_open: np.ndarray,
    change_kg: Sequence[float],
) -> tuple[np.ndarray, Floats]:
    """First hour in which the bottles on board cannot give what is needed, NEVER when they last, and the gas left.

    One hour a scenario, and what is left at each hour edge, (scenarios, hours + 1), before a change at that edge. [kg]

    Parameters
    ----------
    used_kg : Need by hour, (scenarios, hours). [kg]
    start_kg, net_kg : Each bottle's gas at the start and when full. [kg]
    exchange_open : (hours, bottles), true where that bottle can be changed or filled.
    change_kg : Contents at and below which each bottle is changed or filled where it can be. [kg]

    Bottles are emptied one after the other.
    """
    count, hours = used_kg.shape
    cumulative = np.concatenate([np.zeros((count, 1)), np.cumsum(used_kg, axis=1)], axis=1)
    left = np.tile(np.asarray(start_kg, dtype=float), (count, 1))
    full = np.asarray(net_kg, dtype=float)
    below = np.asarray(change_kg, dtype=float)
    active = np.zeros(count, dtype=np.int64)
    gone = np.full(count, NEVER)
    rows = np.arange(count)
    kept_kg = np.full((count, hours + 1), left.sum(axis=1)[:, np.newaxis])
    stations = [int(h) for h in np.flatnonzero(exchange_open.any(axis=1))]
    for first, last in zip([0, *stations], [*stations, hours], strict=True):
        if first in stations:
            can = exchange_open[first].astype(bool) & (left <= below)
            left = np.where(can, full, left)
        need = cumulative[:, last] - cumulative[:, first]
        held = left.sum(axis=1)
        since = cumulative[:, first : last + 1] - cumulative[:, first : first + 1]
        kept_kg[:, first + 1 : last + 1] = np.maximum(held[:, np.newaxis] - since[:, 1:], 0.0)
        dry = (need > held + 1e-9) & (gone == NEVER)
        if dry.any():
            over = since[dry, 1:] > held[dry, np.newaxis]
            gone[dry] = first + over.argmax(axis=1)
        for _ in range(len(full)):
            drawn = np.minimum(need, left[rows, active])
            left[rows, active] -= drawn
            need = need - drawn
            active = np.where(need > 1e-12, (active + 1) % len(full), active)
    return gone, kept_kg


@dataclass(frozen=True, eq=False)
class Supply:
    """The bottles on board with the tour's exchange places: when they fail a need by the hour.

    As in the engine, an exchange bottle is changed at ``gas.swap_below_share`` of its contents, a refillable one filled
    at three quarters.
    """

    exchange_open: np.ndarray
    start_kg: tuple[float, ...]
    net_kg: tuple[float, ...]
    change_kg: tuple[float, ...]

    @classmethod
    def of(cls, prepared: Prepared) -> Supply:
        """As the tour and the van say."""
        gas = prepared.van.gas
        bottles = gas.bottles
        return cls(
            exchange_open=np.asarray(prepared.hours["exchange_open"][:, : len(bottles)], dtype=bool),
            start_kg=tuple(prepared.start_kg().tolist()),
            net_kg=tuple(prepared.net_kg().tolist()),
            change_kg=tuple(
                bottle.net_kg * (REFILL_BELOW_SHARE if bottle.refillable else gas.swap_below_share)
                for bottle in bottles
            ),
        )

    def taking(self, take: ToTake) -> Supply | None:
        """With the bottles that a run says to take beyond these, all full and of the first kind; None: these do."""
        if not take.beyond(len(self.net_kg)):
            return None
        count = take.bottles
        return Supply(
            exchange_open=np.repeat(self.exchange_open[:, :1], count, axis=1),
            start_kg=self.net_kg[:1] * count,
            net_kg=self.net_kg[:1] * count,
            change_kg=self.change_kg[:1] * count,
        )

    def __call__(self, used_kg: Floats) -> tuple[Floats, Floats]:
        """First hour that cannot be served, -1 for none, and the gas left at the hour edges. [h], [kg]"""
        gone_h, left_kg = with_exchange(used_kg, self.start_kg, self.net_kg, self.exchange_open, self.change_kg)
        return gone_h.astype(float), left_kg
