"""What gets damp?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from budget.report.figures.night_map import night_map
from budget.report.scene import Scene
from budget.report.section import Chart, Section, Table
from budget.report.words import named
from budget.results.nights import noon_to_noon
from budget.wording import listed, number

SCALE = ((0.0, "none"), (1.0, "sky"))
WET_H = 1.0


def damp(scene: Scene, wet_h: Mapping[str, Sequence[float]], condensed_g: np.ndarray) -> Section:
    """Share of each hour that a surface was wet [h], by surface, and what condensed on it by night [g]."""
    nights, of_hour = noon_to_noon(scene.hours)
    names = list(wet_h)
    by_night = [np.bincount(of_hour, weights=np.asarray(wet_h[name]), minlength=len(nights)) for name in names]
    hours = np.array(by_night).reshape(len(names), len(nights))  # a van may have no surface
    order = np.lexsort((-hours.sum(axis=1), hours.max(axis=1) < WET_H))
    names, hours, grams = [names[k] for k in order], hours[order], condensed_g[order]
    grams_of = {named(name): dict(zip(nights, row, strict=True)) for name, row in zip(names, grams, strict=True)}
    shown = max(1, int(np.count_nonzero(hours.max(axis=1) >= WET_H))) if names else 0
    traces, frame, height_px = night_map(
        names[:shown], nights, hours[:shown], SCALE, (0.0, 24.0), "h wet",
        lambda part, when, value: (
            f"{part}: wet for {number(value)} of the 24 hours from noon on {when.day} {when:%B}, "
            f"{number(grams_of[part][when])} g condensed"
        ),
        lambda value: number(value) if value >= WET_H else "",
    )  # fmt: skip
    wet = [
        f"{named(names[k])} ({np.count_nonzero(hours[k] >= WET_H)} of {len(nights)} days from noon)"
        for k in range(len(names))
        if hours[k].max() >= WET_H
    ]
    water = f"; {number(0.001 * grams.sum(), 1)} L condenses in all"
    answer = f"{listed(wet[:3])}{water}." if wet else "No surface is wet for an hour of any day."
    answer = answer[0].upper() + answer[1:]
    chart = Chart(
        traces,
        frame,
        f"Hours that each surface is wet in the 24 h from each noon. {answer}",
        height_px,
        spoken=0,
        lines=len(names),
    )
    rows = tuple(
        (named(name), what, *(number(v) for v in row), number(row.sum()))
        for name, *both in zip(names, hours, grams, strict=True)
        for what, row in zip(("wet [h]", "condensed [g]"), both, strict=True)
    )
    columns = ("surface", "", *(f"{when.day} {when:%b}" for when in nights), "all")
    return Section(
        "What gets damp?", answer, chart, Table(columns, rows, "By surface, the 24 h from noon of each date.")
    )
