"""The evening before the coldest night of a tour."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from budget.weather.air import Floats

if TYPE_CHECKING:
    import pandas as pd

    from budget.tour.timeline import Timeline

LATE_H, NIGHT_H = 22, 10


def coldest_evening(timeline: Timeline, outdoor_c: Floats, *, off_grid: bool = False) -> pd.Timestamp | None:
    """Ten in the evening before the coldest night spent on board, None when the tour has no night.

    ``outdoor_c`` by the hour; ``off_grid``: of the nights without hook-up, where there is one.
    """
    last = len(outdoor_c) - NIGHT_H
    evenings = [hour for hour in np.flatnonzero(timeline.index.hour == LATE_H).tolist() if hour < last]
    alone = [hour for hour in evenings if timeline.hookup_w[hour] <= 0.0]
    chosen = alone if off_grid and alone else evenings
    if not chosen:
        return None
    coldest = min(chosen, key=lambda hour: float(outdoor_c[hour : hour + NIGHT_H + 1].mean()))
    evening: pd.Timestamp = timeline.index[coldest]
    return evening
