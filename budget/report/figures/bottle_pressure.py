"""Why does a gauge say nothing?"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from budget.moments import day
from budget.report import theme
from budget.report.scene import Scene, by_day, line
from budget.report.section import Chart, Section, Table
from budget.report.theme import axis, colour
from budget.report.words import times, values
from budget.wording import celsius, least_celsius, number

EMPTY_KG = 0.05


def bottle_pressure(
    scene: Scene, name: str, contents_kg: Sequence[float], pressure_bar: Sequence[float], bottle_c: Sequence[float]
) -> Section:
    """Gauge pressure [bar], contents [kg] and temperature [°C] of the bottle ``name`` at the n + 1 edges."""
    contents, bar = np.asarray(contents_kg, dtype=float), np.asarray(pressure_bar, dtype=float)
    temp = np.asarray(bottle_c, dtype=float)
    edge = times(scene.edges)
    traces = [
        line(edge, values(bar), f"gauge of {theme.written(name)}", 3),
        line(
            edge, values(contents), "its contents by weight", 0, yaxis="y2", fill="tozeroy", fillcolor=colour("shade")
        ),
    ]
    traces[0]["line"]["dash"] = "solid"
    sentences = [
        f"the gauge would read {number(bar[h], 1)} bar with {number(contents[h], 1)} kg inside, "
        f"the bottle being at {celsius(temp[h])}"
        for h in range(len(scene.hours))
    ]
    traces += [scene.told(sentences, values(bar[:-1]))]
    frame = theme.layout(
        xaxis=scene.axis(anchor="y2"),
        yaxis=axis("gauge [bar]", domain=[0.55, 1.0], rangemode="tozero"),
        yaxis2=axis("contents [kg]", domain=[0.0, 0.45], rangemode="tozero"),
    )
    answer = _answer(name, contents, bar, temp)
    alternative = f"Gauge pressure of {name} above, its contents below. {answer}"
    chart = Chart(tuple(traces), frame, alternative, 400, True, spoken=2)
    days, of_day = by_day(scene.edges)
    rows = tuple(
        (
            day(when),
            number(bar[of_day == k].mean(), 1),
            number(contents[of_day == k].mean(), 1),
            number(temp[of_day == k].mean()),
        )
        for k, when in enumerate(days)
    )
    table = Table(("day", "gauge pressure [bar]", "contents [kg]", "bottle [°C]"), rows, f"{name}: means by day.")
    return Section("Why does a pressure gauge say nothing?", answer, chart, table)


def _answer(name: str, contents: np.ndarray, bar: np.ndarray, temp: np.ndarray) -> str:
    filled = contents > EMPTY_KG
    if np.count_nonzero(filled) < 2:
        return f"The {name} holds no liquid."
    low, high = bar[filled].min(), bar[filled].max()
    return (
        f"While liquid is left the gauge of {name} follows the cold, {number(low, 1)} to {number(high, 1)} bar between "
        f"{least_celsius(temp[filled].min())} and {celsius(temp[filled].max())}; contents show only by weight. "
        "Weigh the bottle and take off its tare."
    )
