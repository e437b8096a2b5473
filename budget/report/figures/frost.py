"""What freezes?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from budget.report import theme
from budget.report.figures.night_map import degrees, night_map
from budget.report.scene import Scene
from budget.report.section import Chart, Section, Table
from budget.report.words import named
from budget.results.nights import noon_to_noon
from budget.rounding import rounded_down
from budget.wording import celsius, least_celsius, listed, number

MOST_TOLD = 2  # parts of which the answer says since when and how far; the map says it of all
LOW_C, HIGH_C, FROZEN_C = -5.0, 10.0, 0.05


def _scale(keep_c: float) -> tuple[tuple[float, str], ...]:
    """Frozen dark, below what is to be kept light, the rest bare."""
    frozen, kept = ((limit - LOW_C) / (HIGH_C - LOW_C) for limit in (FROZEN_C, min(keep_c, HIGH_C - 1.0)))
    return (0.0, "cold"), (frozen, "ice"), (frozen, "near"), (kept, "near"), (kept, "none"), (1.0, "none")


def frost(
    scene: Scene,
    parts_c: Mapping[str, Sequence[float]],
    keep_c: float = 5.0,
    frozen: Mapping[str, str] | None = None,
) -> Section:
    """Temperature of each part at the n + 1 edges [°C], NaN while empty; parts shall keep ``keep_c`` or more.

    A part that is empty at the end of every hour is left out. ``frozen``: words on since when a part's water is ice.
    """
    nights, of_hour = noon_to_noon(scene.hours)
    names = [name for name, temps in parts_c.items() if not np.isnan(np.asarray(temps)[1:]).all()]
    lowest = np.array(
        [[_least(np.asarray(parts_c[name])[1:][of_hour == k]) for k in range(len(nights))] for name in names]
    )
    order = np.argsort(np.nanmin(lowest, axis=1))
    names, lowest = [names[k] for k in order], lowest[order]
    traces, frame, height_px = night_map(
        names, nights, lowest, _scale(keep_c), (LOW_C, HIGH_C), "°C",
        lambda part, when, value: _told(part, when, value, keep_c),
        degrees,
    )  # fmt: skip
    answer = _answer(names, lowest, nights, keep_c, frozen or {})
    rows_at = [theme.written(named(name)) for name in names]
    lows = [f"{row}<br>lowest {least_celsius(np.nanmin(temps))}" for row, temps in zip(rows_at, lowest, strict=True)]
    chart = Chart(
        traces,
        frame,
        f"Lowest temperature of each part in the 24 h from each noon. {answer}",
        height_px,
        spoken=0,
        lines=len(names),
        # A phone's cells have no room for the figures of many nights: the lowest stands below each part's name.
        narrow={"yaxis": {**frame["yaxis"], "tickvals": rows_at, "ticktext": lows, "tickfont": {"size": 10}}},
    )
    rows = tuple(
        (named(name), *(number(rounded_down(v, 0.1), 1) for v in row), number(rounded_down(np.nanmin(row), 0.1), 1))
        for name, row in zip(names, lowest, strict=True)
    )
    columns = ("part", *(f"{when.day} {when:%b}" for when in nights), "lowest [°C]")
    return Section(
        "What freezes?",
        answer,
        chart,
        Table(columns, rows, "Lowest temperature in the 24 h from noon of each date [°C]."),
    )


def _least(temps: np.ndarray) -> float:
    """The lowest; NaN when there is nothing to freeze."""
    return float(np.nanmin(temps)) if not np.isnan(temps).all() else float("nan")


def _told(part: str, when: pd.Timestamp, value: float, keep_c: float) -> str:
    if np.isnan(value):
        return f"{part}: empty in the 24 hours from noon on {when.day} {when:%B}"
    verdict = "at or below freezing" if value <= FROZEN_C else f"{number(value, 1)} K above freezing"
    if FROZEN_C < value < keep_c:
        verdict += f", below the {celsius(keep_c)} to be kept"
    return f"{part}: lowest {least_celsius(value, 1)} in the 24 hours from noon on {when.day} {when:%B}, {verdict}"


def _answer(
    names: list[str], lowest: np.ndarray, nights: list[pd.Timestamp], keep_c: float, since: Mapping[str, str]
) -> str:
    frozen = [k for k in range(len(names)) if np.nanmin(lowest[k]) <= FROZEN_C]
    near = [k for k in range(len(names)) if FROZEN_C < np.nanmin(lowest[k]) < keep_c]
    if frozen:
        told = [
            f"{named(names[k])} ({''.join(f'{since[name]}; ' for name in since if name == names[k])}"
            f"{np.count_nonzero(lowest[k] <= FROZEN_C)} of {len(nights)} days from noon, "
            f"down to {least_celsius(np.nanmin(lowest[k]))})"
            for k in frozen[:MOST_TOLD]
        ]
        rest = [named(names[k]) for k in frozen[MOST_TOLD:]]
        also = f"; {listed(rest)} too" if rest else ""
        return f"Down to freezing: {listed(told)}{also}."
    if near:
        cold = listed([named(names[k]) for k in near])
        return f"Nothing freezes, but below {celsius(keep_c)} fall {cold}: heat or drain."
    return f"Nothing: the coldest part, {named(names[0])}, keeps {least_celsius(np.nanmin(lowest[0]))}."
