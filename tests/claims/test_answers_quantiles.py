"""Quantiles of a sample and how sure they are, against ranks counted by hand and Wilson's own quadratic."""

from __future__ import annotations

import math

import numpy as np
import pytest

from budget.answers.quantiles import Quantiles, chance_half_width, half_width, weighted_quantile


@pytest.mark.parametrize(("share", "count"), [(0.0, 200), (0.1, 200), (0.5, 50), (0.93, 1000), (1.0, 30)])
def test_a_chances_interval_lies_between_the_roots_of_wilsons_quadratic(share: float, count: int) -> None:
    """Its ends p solve (share - p)² = 1.96² p (1 - p) / n."""
    z2 = 1.96**2 / count
    low, high = sorted(np.roots([1.0 + z2, -(2.0 * share + z2), share**2]).real.tolist())
    assert chance_half_width(share, count) == pytest.approx(0.5 * (high - low), rel=1e-9)


@pytest.mark.parametrize(
    ("count", "level", "low", "high"),
    [(101, 0.5, 40, 61), (200, 0.1, 11, 29), (200, 0.9, 171, 189), (400, 0.5, 180, 220)],
)
def test_a_quantiles_interval_is_that_of_the_binomials_ranks(count: int, level: float, low: int, high: int) -> None:
    """n p ± 1.96 √(n p (1 - p)), outwards to whole ranks: 50.5 ± 9.85, 20 ± 8.32, 180 ± 8.32, 200 ± 19.6."""
    values = np.arange(float(count)) ** 2
    assert half_width(values, level) == (high**2 - low**2) / 2.0


def test_a_sample_too_small_to_tell_has_no_interval() -> None:
    """40 values: 4 ± 3.72 are ranks 0 to 8, at the edge of what can be told; 30: 3 ± 3.22 reach below the first."""
    assert half_width(np.arange(40.0), 0.1) == 4.0
    assert math.isnan(half_width(np.arange(40.0), 0.9))  # 36 + 3.72 is rank 40, one past the last
    assert math.isnan(half_width(np.arange(30.0), 0.1))
    assert math.isnan(half_width(np.arange(30.0), 0.9))


def test_quantiles_are_listed_with_their_unit_and_none_where_nothing_is_known() -> None:
    told = Quantiles.of(np.arange(30.0)[::-1]).as_dict("kg", 2)
    assert told == {
        "p10_kg": 2.9, "p50_kg": 14.5, "p90_kg": 26.1, "p10_half_width_kg": None, "p50_half_width_kg": 6.0,
        "p90_half_width_kg": None,
    }  # fmt: skip


def test_a_weighted_quantile_is_linear_between_the_middles_of_its_weights() -> None:
    """Weights 1, 2, 1 of 4: the middles stand at 0.125, 0.5 and 0.875."""
    values, weights = np.array([30.0, 10.0, 20.0]), np.array([1.0, 1.0, 2.0])
    for level, value in ((0.05, 10.0), (0.125, 10.0), (0.5, 20.0), (0.6875, 25.0), (0.95, 30.0)):
        assert weighted_quantile(values, weights, level) == pytest.approx(value, rel=1e-12)
