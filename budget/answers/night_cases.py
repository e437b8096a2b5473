"""The cases of one night, marched with the gas and charge at hand, and what goes amiss in each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from budget.answers.had import EMPTY_KG
from budget.answers.odds import CHARGE, FREEZES_C, GAS, OFFTAKE
from budget.answers.prepared import Prepared
from budget.engine.batch import Many
from budget.tour.week import Mask
from budget.weather.air import Floats

HAND = "changeover by hand"
OFFTAKE_KG = 0.02  # heating that no bottle in use could feed, from which it counts
COLD_K = 2.0  # below what is asked; more is not warm enough, common practice, no source
COLD_SHARE = 0.25  # of the hours asleep, beyond which a night that stays so far below is not warm enough, likewise
DRAINED_L = 0.5  # less let go by the frost drain valve is a boiler that was empty


@dataclass(frozen=True, eq=False)
class Outcome:
    """What became of each case: one truth a case and matter.

    ``short``: the heater goes short, by the cause that comes first. ``cold``: nothing runs short, yet the room stays
    more than ``COLD_K`` below the night's setting for over ``COLD_SHARE`` of the hours asleep. ``pipes``: they come to
    0 °C. ``drained``: the frost drain valve lets the boiler go; a boiler without one is warmer than the pipes.
    """

    many: Many
    ends_h: tuple[Floats, Floats]
    short: dict[str, Mask]
    cold: Mask
    pipes: Mask
    drained: Mask

    @property
    def any_short(self) -> Mask:
        """The heater goes short for whatever cause."""
        return np.asarray(np.any(list(self.short.values()), axis=0))

    @property
    def frost(self) -> Mask:
        """Pipes or boiler are lost to frost."""
        return np.asarray(self.pipes | self.drained)

    @property
    def amiss(self) -> Mask:
        """Anything of it."""
        return np.asarray(self.any_short | self.cold | self.frost)


@dataclass(frozen=True, eq=False)
class Cases:
    """The cases of one night: the van's factors and the weather of each, with what is at hand and fed.

    ``asleep``: hours in which it shall be as warm as asked. ``automatic`` makes the same night ready with
    an automatic changeover, None where there is nothing to change over to or nobody has to.
    """

    here: Prepared
    fed: Prepared
    factors: Floats
    rows: Floats
    asleep: Mask
    automatic: Callable[[], Prepared] | None = None

    def march(self, prepared: Prepared, hours: Any, which: Mask | None = None) -> Many:
        """All cases, or those chosen, of one schedule; ``prepared`` is the night in some van."""
        chosen = np.arange(len(self.rows)) if which is None else np.flatnonzero(which)
        return prepared.run_many(
            self.factors[chosen],
            rows=self.rows,
            weather_of=chosen,
            hours=hours[np.newaxis],
            schedule_of=np.zeros(len(chosen), dtype=np.int64),
        )

    def outcome(self, hours: Any, night_c: float, fed: Many, here: Prepared | None = None) -> Outcome:
        """What becomes of each case on a schedule whose night is set to ``night_c`` (NaN: off).

        ``fed`` is the same schedule marched with gas and charge to the morning. What stays behind it, though neither
        ends, lacks gas: all the bottles hold less than it takes, or the one in use does not give it off. ``here``: the
        night with another changeover or order of the bottles than those at hand.
        """
        van = here or self.here
        many = self.march(van, hours)
        gas_h, charge_h = ends_h(many)
        neither = np.isinf(gas_h) & np.isinf(charge_h)
        held_up = neither & (lacks(van, many) | self._behind(many.trace, fed.trace))
        too_little = held_up & (self.fed.gas_kg(fed) > van.start_kg().sum())
        held_up &= ~too_little
        by_hand = self._by_hand(hours, fed, held_up) if here is None else np.zeros(len(held_up), dtype=bool)
        return Outcome(
            many=many,
            ends_h=(gas_h, charge_h),
            short={
                GAS: (np.isfinite(gas_h) & (gas_h <= charge_h)) | too_little,
                CHARGE: charge_h < gas_h,
                OFFTAKE: held_up & ~by_hand,
                HAND: by_hand,
            },
            cold=self._cold(hours, night_c, many) & neither & ~held_up & ~too_little,
            pipes=many.trace[:, 1:, 3].min(axis=1) <= FREEZES_C,
            drained=van.flow(many, "dumped_l") > DRAINED_L,
        )

    def _by_hand(self, hours: Any, fed: Many, held_up: Mask) -> Mask:
        """Which of the cases that gas is held up in are well with an automatic changeover."""
        found = np.zeros(len(held_up), dtype=bool)
        if self.automatic is None or not held_up.any():
            return found
        van = self.automatic()
        again = self.march(van, hours, held_up)
        short = lacks(van, again) | self._behind(again.trace, fed.trace[held_up])
        found[held_up] = ~short & np.isinf(ends_h(again)).all(axis=0)
        return found

    def _behind(self, trace: Floats, fed: Floats) -> Mask:
        """Which cases are colder than fed ones by as much, and for as long, as is not warm enough.

        The engine's own want of gas is a crude rate, of which little is left where the room has cooled with the flame.
        """
        below_k = (fed - trace)[:, 1:, 2][:, self.asleep]
        return _mostly(below_k)

    def _cold(self, hours: Any, night_c: float, many: Many) -> Mask:
        """Which cases stay below the night's setting; an hour is judged by its end and what its last quarter asks."""
        asked_c = np.minimum(np.asarray(hours["set_c"], dtype=float)[:, -1], night_c)
        counted = self.asleep & np.isfinite(asked_c)
        return _mostly(asked_c[counted] - many.trace[:, 1:, 2][:, counted])


def _mostly(below_k: Floats) -> Mask:
    """Cases that stay so far below, for so many of the hours, that it counts as cold; of no hours none."""
    return np.asarray(np.count_nonzero(below_k > COLD_K, axis=1) > COLD_SHARE * below_k.shape[1])


def lacks(here: Prepared, many: Many) -> Mask:
    """Cases in which the heater asked for gas that did not come."""
    return np.asarray(here.flow(many, "unserved_heating_kg") > OFFTAKE_KG)


def ends_h(many: Many) -> tuple[Floats, Floats]:
    """The hour after the start in which the bottles run empty, and in which the battery is cut out; inf: neither."""
    found = []
    for over in (many.trace[:, :, 0] <= EMPTY_KG, many.trace[:, :, 5] > 0.0):
        hour = np.maximum(over.argmax(axis=1) - 1, 0)
        found.append(np.where(over.any(axis=1), hour, np.inf))
    return found[0], found[1]
