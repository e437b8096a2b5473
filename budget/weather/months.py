"""Twelve monthly means made into a smooth curve through the year that keeps each of them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from budget.weather.air import Floats


def through_the_year(monthly: Sequence[float], index: pd.DatetimeIndex) -> Floats:
    """A smooth yearly curve at the middle of each hour, whose mean over all hours of any month is the month's value.

    A quadratic B-spline with a knot at each month's start (local time of ``index``) and one coefficient a month; the
    twelve coefficients solve for the twelve means over the month's real hours, so clock changes and leap days are in.
    """
    year, month = index.year.to_numpy(), index.month.to_numpy()
    curve = np.empty(len(index))
    for one_year in np.unique(year):
        chosen = year == one_year
        starts = pd.date_range(f"{one_year}-01-01", periods=13, freq="MS").tz_localize(
            index.tz, nonexistent="shift_forward", ambiguous=np.ones(13, dtype=bool)
        )
        coefficients = _coefficients(monthly, np.diff(_hours(starts)))
        edges_h = _hours(starts)
        number = month[chosen] - 1
        into = (_hours(index[chosen]) + 0.5 - edges_h[number]) / (edges_h[number + 1] - edges_h[number])
        curve[chosen] = sum(coefficients[(number + side) % 12] * _bump(into - 0.5 - side) for side in (-1, 0, 1))
    return curve


def _hours(stamps: pd.DatetimeIndex) -> Floats:
    seconds = stamps.tz_convert("UTC").tz_localize(None).to_numpy().astype("datetime64[s]").astype(float)
    hours: Floats = seconds / 3600.0
    return hours


def _bump(distance: Floats) -> Floats:
    """Quadratic B-spline of knot distance 1, centred on 0."""
    away = np.abs(distance)
    bump: Floats = np.where(away <= 0.5, 0.75 - away**2, np.where(away <= 1.5, 0.5 * (1.5 - away) ** 2, 0.0))
    return bump


def _coefficients(monthly: Sequence[float], hours_in_month: Floats) -> Floats:
    system = np.zeros((12, 12))
    for number, hours in enumerate(np.rint(hours_in_month).astype(int)):
        into = (np.arange(hours) + 0.5) / hours - 0.5
        for side in (-1, 0, 1):
            system[number, (number + side) % 12] = _bump(into - side).mean()
    coefficients: Floats = np.linalg.solve(system, np.asarray(monthly, dtype=float))
    return coefficients
