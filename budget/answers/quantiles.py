"""Quantiles of a sample of scenarios, and how sure they are."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from budget.weather.air import Floats

BAND_Z = 1.96  # 95 % of a normal distribution


class Quantiles(NamedTuple):
    """P10, P50 and P90, each with the half-width of its 95 % interval (NaN where the sample is too small to tell)."""

    p10: float
    p50: float
    p90: float
    p10_half_width: float
    p50_half_width: float
    p90_half_width: float

    @classmethod
    def of(cls, values: Floats) -> Quantiles:
        """Of one value a scenario."""
        ordered = np.sort(values)
        levels = (0.1, 0.5, 0.9)
        found = [float(value) for value in np.quantile(ordered, levels)]
        return cls(*found, *(half_width(ordered, level) for level in levels))

    def as_dict(self, unit: str, digits: int = 3) -> dict[str, float | None]:
        """Rounded, the unit at the end of each name."""
        return {
            f"{name}_{unit}": None if math.isnan(value) else round(value, digits)
            for name, value in self._asdict().items()
        }


def half_width(ordered: Floats, level: float) -> float:
    """Half the 95 % interval of a quantile, from the order statistics that enclose it with that chance.

    The number of values below the quantile is binomial, so its interval is that of ranks n p ± 1.96 √(n p (1 - p)); no
    distribution of the values is assumed (David and Nagaraja, Order Statistics, 3rd ed. 2003, section 7.1).
    """
    count = len(ordered)
    about = BAND_Z * math.sqrt(count * level * (1.0 - level))
    low, high = math.floor(count * level - about), math.ceil(count * level + about)
    if low < 0 or high > count - 1:
        return math.nan
    return float(ordered[high] - ordered[low]) / 2.0


def chance_half_width(share: float, count: int) -> float:
    """Half the 95 % interval of a chance seen in so many scenarios, by Wilson (1927); never 0."""
    z2 = BAND_Z**2 / count
    return BAND_Z / (1.0 + z2) * math.sqrt(share * (1.0 - share) / count + z2 / (4.0 * count))


def weighted_quantile(values: Floats, weights: Floats, level: float) -> float:
    """Quantile of a weighted sample: linear between the middles of the weights' steps."""
    order = np.argsort(values)
    sorted_weights = weights[order] / weights.sum()
    return float(np.interp(level, np.cumsum(sorted_weights) - 0.5 * sorted_weights, values[order]))
