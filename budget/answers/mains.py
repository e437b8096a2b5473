"""Electricity that a run takes from hook-ups, beside its gas: kilowatt-hours, their cost, and how choices tell them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from budget.answers.prepared import Prepared
    from budget.engine.batch import Many

LITTLE_KWH = 0.5  # less is the same


@dataclass(frozen=True)
class Mains:
    """From all hook-ups together; ``cost`` None where some of it has no price, or where there is none."""

    kwh: float
    cost: float | None

    @classmethod
    def of(cls, prepared: Prepared, many: Many) -> Mains:
        """Of a single run."""
        if many.flows is None:
            raise AssertionError("a single run keeps every column")
        kwh = many.flows[:, prepared.built.flows.mains_j] / 3.6e6
        prices = [stop.hookup_per_kwh for stop in prepared.tour.stops]
        price = np.array([np.nan if each is None else each for each in prices])[prepared.timeline.stop]
        cost = float((kwh * price)[kwh > 0.0].sum())
        return cls(
            kwh=round(float(kwh.sum()), 3),
            cost=round(cost, 2) if kwh.any() and np.isfinite(cost) else None,
        )


def and_mains(saved_kwh: float) -> str:
    """ " and saves 12 kWh of the mains", " and takes 12 kWh more of the mains"; nothing where it is the same."""
    if abs(saved_kwh) < LITTLE_KWH:
        return ""
    return (
        f" and {f'saves {saved_kwh:.0f} kWh' if saved_kwh > 0.0 else f'takes {-saved_kwh:.0f} kWh more'} of the mains"
    )
