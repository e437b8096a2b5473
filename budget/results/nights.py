"""The nights of a tour, noon to noon."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd


def noon_to_noon(index: pd.DatetimeIndex) -> tuple[list[pd.Timestamp], np.ndarray[Any, np.dtype[np.int64]]]:
    """The nights of an index, noon to noon, named by the evening; and the night of each entry."""
    local = index.tz_localize(None) if index.tz is not None else index
    evening = (local - pd.Timedelta(hours=12)).normalize()
    unique = evening.unique()
    return list(unique), unique.get_indexer(evening)
