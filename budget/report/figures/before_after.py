"""What did a log teach, and what did each weighing change? Two ranges a row: before in outline, after in full."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pandas as pd

from budget.moments import moment
from budget.report import theme
from budget.report.section import Chart, Section, Table
from budget.report.theme import axis, colour
from budget.report.words import bubble
from budget.wording import kilograms_left, number

Three = tuple[float, float, float]
ROW_PX, FRAME_PX = 46, 150


def learned_bands(rows: Sequence[tuple[str, Three, Three]], sentence: str) -> Section:
    """The presets' band against the learned one. ``rows``: quantity, P10, P50, P90 by the presets, and learned. [–]

    Every number is a factor on the middle of the presets, so that all share one axis.
    """
    names = [name for name, *_ in rows]
    told = [
        f"{name}: by the presets {number(before[0], 2)} to {number(before[2], 2)}, learned {number(now[0], 2)} to "
        f"{number(now[2], 2)}, middle {number(now[1], 2)}"
        for name, before, now in rows
    ]
    kept = [(now[2] - now[0]) / max(before[2] - before[0], 1e-9) for _, before, now in rows]
    best = min(range(len(rows)), key=lambda k: kept[k])
    answer = f"{sentence} Known best now: {names[best]}, whose band keeps {number(100.0 * kept[best])} % of its width."
    chart = _ranges(
        [(before, now) for _, before, now in rows], names, told, "factor on the presets' middle", "presets", "learned",
        f"Bands before and after the log, one row a quantity. {answer}",
    )  # fmt: skip
    columns = ("quantity", "presets P10", "P50", "P90", "learned P10", "P50 ", "P90 ")
    cells = tuple((name, *(number(v, 2) for v in (*before, *now))) for name, before, now in rows)
    return Section("What did the log teach about the van?", answer, chart, Table(columns, cells))


def forecasts(rows: Sequence[tuple[pd.Timestamp, str, Three, Three, float, float]]) -> Section:
    """The forecast before and after each reading.

    ``rows``: time, reading, P10, P50, P90 of the gas a day from then to the end before and after it [kg/day], gas left
    [kg], how many scenarios agree with it (effective number).
    """
    names = [f"{moment(at)}: {reading}" for at, reading, *_ in rows]
    told = [
        f"{name}: {number(before[0], 2)} to {number(before[2], 2)} kg a day were expected, now {number(now[0], 2)} to "
        f"{number(now[2], 2)}, middle {number(now[1], 2)}; {number(left, 1)} kg are on board"
        for name, (_, _, before, now, left, _) in zip(names, rows, strict=True)
    ]
    _, _, before, now, left, _ = rows[-1]
    answer = (
        f"After the last reading {number(now[1], 1)} kg a day are expected to the end, {number(now[0], 1)} to "
        f"{number(now[2], 1)} in eight of ten (before it {number(before[0], 1)} to {number(before[2], 1)}); "
        f"{kilograms_left(left)} are on board."
    )
    chart = _ranges(
        [(before, now) for _, _, before, now, *_ in rows], names, told, "gas to the end [kg/day]", "before the reading",
        "after it", f"Forecast before and after each reading, one row a reading. {answer}",
    )  # fmt: skip
    columns = (
        "reading", "before P10 [kg/day]", "P50", "P90", "after P10 [kg/day]", "P50 ", "P90 ", "left [kg]", "agreeing",
    )  # fmt: skip
    cells = tuple(
        (name, *(number(v, 2) for v in (*b, *n)), number(kg, 1), number(count))
        for name, (_, _, b, n, kg, count) in zip(names, rows, strict=True)
    )
    return Section("What did each weighing change?", answer, chart, Table(columns, cells))


def _ranges(
    pairs: Sequence[tuple[Three, Three]],
    names: Sequence[str],
    told: Sequence[str],
    what: str,
    before: str,
    after: str,
    alternative: str,
) -> Chart:
    rows = [theme.written(name) for name in names]
    traces: list[dict[str, Any]] = []
    for place, (label, hue, pattern) in enumerate(((before, "muted", "/"), (after, "blue", ""))):
        three = [pair[place] for pair in pairs]
        traces.append(
            {
                "type": "bar", "orientation": "h", "y": rows, "name": label, "base": [round(v[0], 4) for v in three],
                "x": [round(v[2] - v[0], 4) for v in three], "marker": theme.bar_look(hue, pattern),
                "hovertext": [bubble(sentence) for sentence in told], "hovertemplate": "%{hovertext}<extra></extra>",
            }
        )  # fmt: skip
    middle = {"symbol": "line-ns", "size": 16, "color": colour("ink"), "line": {"width": 3, "color": colour("ink")}}
    traces.append(
        {
            "type": "scatter", "mode": "markers", "x": [round(pair[1][1], 4) for pair in pairs], "y": rows,
            "name": f"middle {after}", "marker": middle, "hoverinfo": "skip",
        }
    )  # fmt: skip
    frame = theme.layout(
        xaxis=axis(what),
        yaxis=axis("", type="category", autorange="reversed", showgrid=False, ticksuffix=" "),
        hovermode="closest", barmode="group", bargap=0.3,
    )  # fmt: skip
    return Chart(tuple(traces), frame, alternative, FRAME_PX + ROW_PX * len(rows), spoken=0, lines=2 * len(rows))
