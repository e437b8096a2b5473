"""What freezes?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from budget.report.figures.night_map import degrees, night_map, nights_of
from budget.report.scene import Scene
from budget.report.section import Chart, Section, Table
from budget.report.words import celsius, listed, named, number

SCALE = ((0.0, "cold"), (0.5, "mid"), (1.0, "warm"))


def frost(scene: Scene, parts_c: Mapping[str, Sequence[float]], keep_c: float = 5.0) -> Section:
    """Temperature of each part at the n + 1 edges [°C], NaN while empty; parts shall keep ``keep_c`` or more."""
    nights, of_edge = nights_of(scene.edges)
    names = list(parts_c)
    lowest = np.array([[_least(np.asarray(parts_c[name])[of_edge == k]) for k in range(len(nights))] for name in names])
    order = np.argsort(np.nanmin(lowest, axis=1))
    names, lowest = [names[k] for k in order], lowest[order]
    span = max(2.0, min(10.0, float(np.nanmax(np.abs(lowest)))))
    traces, frame, height_px = night_map(
        names, nights, lowest, SCALE, (-span, span), "°C",
        lambda part, when, value: f"{part}: lowest {celsius(value, 1)} in the night of {when.day} {when:%B}, {_verdict(value, keep_c)}",
        degrees,
    )  # fmt: skip
    answer = _answer(names, lowest, nights, keep_c)
    chart = Chart(traces, frame, f"Lowest temperature of each part by night. {answer}", height_px, spoken=0)
    rows = tuple(
        (named(name), *(number(v, 1) for v in row), number(np.nanmin(row), 1)) for name, row in zip(names, lowest, strict=True)
    )
    columns = ("part", *(f"{when.day} {when:%b}" for when in nights), "lowest [°C]")
    return Section("What freezes?", answer, chart, Table(columns, rows, "Lowest temperature by night [°C]."))


def _least(temps: np.ndarray) -> float:
    """The lowest; NaN when there is nothing to freeze."""
    return float(np.nanmin(temps)) if not np.isnan(temps).all() else float("nan")


def _verdict(value: float, keep_c: float) -> str:
    if value <= 0.0:
        return "at or below freezing"
    return f"{number(value, 1)} K above freezing" + ("" if value >= keep_c else f", below the {celsius(keep_c)} to be kept")


def _answer(names: list[str], lowest: np.ndarray, nights: list[pd.Timestamp], keep_c: float) -> str:
    frozen = [k for k in range(len(names)) if np.nanmin(lowest[k]) <= 0.0]
    near = [k for k in range(len(names)) if 0.0 < np.nanmin(lowest[k]) < keep_c]
    if frozen:
        told = [
            f"{named(names[k])} ({np.count_nonzero(lowest[k] <= 0.0)} of {len(nights)} nights, down to {celsius(np.nanmin(lowest[k]))})"
            for k in frozen
        ]
        return f"Down to freezing: {listed(told)}."
    if near:
        return f"Nothing freezes, but {listed([named(names[k]) for k in near])} fall below {celsius(keep_c)}: heat or drain."
    return f"Nothing: the coldest part, {named(names[0])}, keeps {celsius(np.nanmin(lowest[0]))}."


