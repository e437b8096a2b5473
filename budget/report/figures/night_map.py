"""A map of nights: one row a part, one column a night; the frame of the frost and damp maps."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pandas as pd

from budget.report import theme
from budget.report.theme import axis, colour
from budget.report.words import bubble, named
from budget.rounding import rounded_down
from budget.wording import number

FEW = 8  # nights of which each has its date
Nights = Sequence[pd.Timestamp]


def night_map(
    parts: Sequence[str],
    nights: Nights,
    values: np.ndarray,
    scale: Sequence[tuple[float, str]],
    limits: tuple[float, float],
    unit: str,
    sentence: Callable[[str, pd.Timestamp, float], str],
    shown: Callable[[float], str],
) -> tuple[tuple[dict[str, Any], ...], dict[str, Any], int]:
    """Traces, layout and height of a map of ``values`` (parts × nights)."""
    text = [
        [bubble(sentence(named(part), when, values[r, c])) for c, when in enumerate(nights)]
        for r, part in enumerate(parts)
    ]
    cells = [[shown(values[r, c]) for c in range(len(nights))] for r in range(len(parts))]
    days = [f"{when:%Y-%m-%d}" for when in nights]
    trace = {
        "type": "heatmap", "x": days, "y": [theme.written(named(part)) for part in parts],
        "z": [[None if np.isnan(v) else round(float(v), 1) for v in row] for row in values],
        "text": cells, "hovertext": text, "texttemplate": "%{text}", "textfont": {"size": 11},
        "hovertemplate": "%{hovertext}<extra></extra>", "xgap": 1, "ygap": 1, "zmin": limits[0], "zmax": limits[1],
        "colorscale": [[at, colour(name)] for at, name in scale], "hoverongaps": False,
        "colorbar": {"title": {"text": unit}, "thickness": 10, "len": 1.0, "outlinewidth": 0, "x": 1.01, "xpad": 4},
    }  # fmt: skip
    few = {"tickvals": days} if len(days) <= FEW else {}
    frame = theme.layout(
        xaxis=axis("24 h from noon of", type="date", tickformat="%d %b", showgrid=False, **few),
        yaxis=axis("", autorange="reversed", showgrid=False, ticksuffix=" "),
        hovermode="closest",
        showlegend=False,
    )
    return (trace,), frame, 110 + 30 * len(parts)


def degrees(value: float) -> str:
    """A cell's lowest temperature."""
    return number(rounded_down(value))
