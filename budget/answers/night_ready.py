"""The van as it stands in the evening, made ready for the night: as it is, and with other ways of changing over."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from budget.answers.evening import with_gas_and_charge
from budget.answers.had import EMPTY_KG
from budget.answers.night_cases import Cases
from budget.answers.prepared import Prepared, factor_rows
from budget.tour.week import Mask
from budget.weather.air import Floats

if TYPE_CHECKING:
    from budget.answers.night_settings import Tried


@dataclass(frozen=True)
class Hand:
    """A bottle that gives out while nobody is awake to change over, though another could feed the heater.

    ``in_use_kg`` is what the bottle in use is taken to hold, ``fullest_kg`` what the fullest of the others does. The
    shares are of the cases that go short with the fullest one in use from the evening on, and with an automatic
    changeover.
    """

    in_use_kg: float
    fullest_kg: float
    fullest_first_share: float
    automatic_share: float


@dataclass(frozen=True)
class Evening:
    """The van as it stands in the evening, and with other ways of changing over."""

    prepared: Prepared
    first: int
    last: int
    gas_left_kg: float
    charge_percent: float
    inside_c: float

    def ready(self, **changes: Any) -> Prepared:
        """The night made ready; ``changes`` as in ``with_gas_and_charge``."""
        van = with_gas_and_charge(self.prepared, self.gas_left_kg, self.charge_percent, **changes)
        return van.between(self.first, self.last, start_c=self.inside_c)

    def fed_from(self, first: int, rows: Floats) -> Prepared:
        """The same van fed, from an hour on that may lie sooner, in another weather until the end."""
        van = with_gas_and_charge(self.prepared, self.gas_left_kg, self.charge_percent)
        return replace(van.between(first, self.last, start_c=self.inside_c).fed(), rows=rows)

    @cached_property
    def here(self) -> Prepared:
        """The night with what is at hand."""
        return self.ready()

    def cases(self, rows: Floats, asleep: Mask, seed: int) -> Cases:
        """The night in each weather of ``rows``, of a van like this one in each; ``asleep`` as in ``Cases``."""
        unknown, count = self.prepared.unknowns(), len(rows)
        factors = factor_rows(unknown.factors(unknown.scores(count, seed)), count)
        automatic = (lambda: self.automatic) if self.could_change_over else None
        return Cases(self.here, self.here.fed(), factors, rows, asleep, automatic)

    @cached_property
    def bottles_kg(self) -> tuple[float, ...]:
        """What each bottle is taken to hold, in the order of use."""
        return tuple(float(kg) for kg in self.here.start_kg())

    @property
    def could_change_over(self) -> bool:
        """Somebody has to, and there is another bottle with gas."""
        by_hand = self.prepared.van.gas.changeover == "manual"
        return by_hand and sum(kg > EMPTY_KG for kg in self.bottles_kg) > 1

    @cached_property
    def automatic(self) -> Prepared:
        """The night with an automatic changeover."""
        return self.ready(changeover="automatic")

    def hand(self, cases: Cases, planned: Tried) -> Hand:
        """What the fullest bottle in use, and an automatic changeover, would do for the night's own setting."""
        hours, night_c = planned.hours, planned.option.night_c
        night_c = np.nan if night_c is None else night_c
        fullest = cases.outcome(hours, night_c, planned.fed, self.ready(fullest_first=True))
        automatic = cases.outcome(hours, night_c, planned.fed, self.automatic)
        return Hand(
            in_use_kg=self.bottles_kg[0],
            fullest_kg=max(self.bottles_kg[1:]),
            fullest_first_share=float(fullest.any_short.mean()),
            automatic_share=float(automatic.any_short.mean()),
        )
