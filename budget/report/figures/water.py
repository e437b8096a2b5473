"""Does the water last?"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from budget.moments import day, hour_of_edge, moment
from budget.report import theme
from budget.report.scene import Scene, by_day, line
from budget.report.section import Chart, Section, Table
from budget.report.theme import axis, colour
from budget.report.words import times, values
from budget.rounding import need, rounded_down, rounded_up
from budget.wording import least_litres, number

SHORT_L = 0.5


def water(
    scene: Scene,
    fresh_l: Sequence[float],
    waste_l: Sequence[float],
    fresh_capacity_l: float,
    waste_capacity_l: float,
    dry_l: Sequence[float] = (),
    barred: str = "",
) -> Section:
    """Fresh and waste water at the n + 1 edges [L], and by hour what an empty tank did not give [L].

    ``barred``: words on what could not be had though there was water.
    """
    fresh, waste = np.asarray(fresh_l, dtype=float), np.asarray(waste_l, dtype=float)
    edge, ends = times(scene.edges), times(scene.edges[[0, -1]])
    thin = {"color": colour("orange"), "dash": "dot", "width": 1.5}
    traces = [
        line(edge, values(fresh, 1), "fresh water", 0),
        line(edge, values(waste, 1), "waste water", 1),
        line(ends, [waste_capacity_l] * 2, f"waste tank full, {waste_capacity_l:g} L", 1, line=thin),
    ]
    sentences = [
        f"{number(f)} L fresh left, waste tank at {number(w)} L" for f, w in zip(fresh[1:], waste[1:], strict=True)
    ]
    traces += [scene.told(sentences, values(fresh[1:], 1)), *scene.shading_key()]
    frame = theme.layout(
        xaxis=scene.axis(),
        yaxis=axis("water [L]", range=[0, 1.06 * max(fresh_capacity_l, waste_capacity_l)]),
        shapes=scene.shading(),
    )
    answer = _answer(scene, fresh, waste, waste_capacity_l, np.asarray(dry_l, dtype=float), barred)
    chart = Chart(tuple(traces), frame, f"Fresh and waste water over the tour. {answer}", 340, True, spoken=3)
    days, of_day = by_day(scene.edges)
    rows = tuple(
        (day(when), number(rounded_down(fresh[of_day == k].min())), number(rounded_up(waste[of_day == k].max())))
        for k, when in enumerate(days)
    )
    table = Table(("day", "least fresh water [L]", "most waste water [L]"), rows, "By day.")
    return Section("Does the water last?", answer, chart, table)


def _answer(
    scene: Scene, fresh: np.ndarray, waste: np.ndarray, waste_capacity_l: float, dry_l: np.ndarray, barred: str
) -> str:
    lowest = int(np.argmin(fresh))
    full = np.flatnonzero(waste >= waste_capacity_l - 0.5)
    wasted = f"; the waste tank is full on {moment(scene.edges[hour_of_edge(full[0])])}" if full.size else ""
    others = f" {barred[0].upper()}{barred[1:]}." if barred else ""
    if dry_l.sum() > SHORT_L:
        dry = moment(scene.edges[np.flatnonzero(dry_l > 0.0)[0]])
        return f"No: dry on {dry}, {need(round(float(dry_l.sum()), 1))} L short in all{wasted}.{others}"
    least = f"least {least_litres(fresh[lowest])} of fresh water, {moment(scene.edges[hour_of_edge(lowest)])}{wasted}"
    return f"Not always, though the tank does: {least}.{others}" if barred else f"Yes: {least}."
