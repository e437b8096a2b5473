"""Short gaps in an hourly record interpolated and said to be; long ones refused."""

from __future__ import annotations

import numpy as np
import pandas as pd

from budget.errors import InputFault
from budget.weather.air import Floats

LONGEST_GAP_H = 3


def longest_hole(values: Floats) -> tuple[int, int]:
    """First hour and length of the longest run of missing values. [h]"""
    missing = np.concatenate(([False], np.isnan(values), [False]))
    edges = np.flatnonzero(np.diff(missing.astype(int)))
    if edges.size == 0:
        return 0, 0
    lengths = edges[1::2] - edges[::2]
    at = int(np.argmax(lengths))
    return int(edges[::2][at]), int(lengths[at])


def filled(frame: pd.DataFrame, source: str, *, drop_optional: bool) -> tuple[pd.DataFrame, list[str]]:
    """A frame without holes: those of up to 3 h interpolated between their neighbours, with a notice.

    A longer hole in temp_air is refused. In another column it is refused too, unless ``drop_optional``: then the whole
    column is left out, to be estimated, with a notice.
    """
    notices: list[str] = []
    columns: dict[str, Floats] = {}
    interpolated = 0
    for name in frame.columns:
        values = frame[name].to_numpy(dtype=float)
        first, length = longest_hole(values)
        if length > LONGEST_GAP_H or length == len(values):
            if drop_optional and name != "temp_air":
                notices.append(f"{source}: {name} is missing for up to {length} h on end and is estimated instead.")
                continue
            raise InputFault(_sentence(frame.index, name, first, length, source))
        if length:
            known = ~np.isnan(values)
            interpolated = max(interpolated, int((~known).sum()))
            values = np.interp(np.arange(len(values)), np.flatnonzero(known), values[known])
        columns[name] = values
    if interpolated:
        notices.append(f"{source}: {interpolated} missing hours are interpolated.")
    return pd.DataFrame(columns, index=frame.index), notices


def _sentence(index: pd.Index, name: str, first: int, length: int, source: str) -> str:
    span = f"{length} h from {index[first]:%Y-%m-%d %H:%M}"
    advice = "fill the gap" if name == "temp_air" else "fill the gap or leave the column out"
    return f"{source}: {name} may lack at most {LONGEST_GAP_H} h on end, got no value for {span}; {advice}."
