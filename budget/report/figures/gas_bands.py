"""How far can the gas differ from the plan?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np
import pandas as pd

from budget.moments import day, moment
from budget.report import theme
from budget.report.scene import Scene, by_day, line
from budget.report.section import Chart, Section, Table
from budget.report.theme import axis, colour
from budget.report.words import times, values
from budget.wording import kilograms_left, number


def gas_bands(
    scene: Scene,
    edges: pd.DatetimeIndex,
    low_kg: Sequence[float],
    middle_kg: Sequence[float],
    high_kg: Sequence[float],
    swaps: Sequence[tuple[pd.Timestamp, str]] = (),
    *,
    out_from: dt.datetime | None = None,
    power: str = "",
) -> Section:
    """Gas left at some of the tour's hour edges: P10, P50 and P90 over simulated tours [kg].

    ``swaps``: times and places of the plan's own; ``out_from``: when a tenth has run out, None: never; ``power``: words
    beside what is counted with power.
    """
    low, middle, high = (np.asarray(kg, dtype=float) for kg in (low_kg, middle_kg, high_kg))
    edge = times(edges)
    thin = {"color": colour("blue"), "width": 1, "dash": "dot"}
    traces = [
        line(edge, values(high), "one in ten has more", 0, line=thin),
        line(edge, values(low), "one in ten has less", 0, line=thin, fill="tonexty", fillcolor=colour("ice")),
        line(edge, values(middle), "the middle tour", 0, line={"color": colour("ink"), "width": 2.5}),
    ]
    if swaps:
        when = pd.DatetimeIndex([time for time, _ in swaps])
        before = np.maximum(edges.searchsorted(when, side="right") - 1, 0)
        mark = {"symbol": "triangle-down", "size": 13, "color": colour("ink")}
        traces.append(line(times(when), values(middle[before]), "bottle swapped", 0, mode="markers", marker=mark))
    sentences = [
        f"{number(m, 1)} kg left in the middle tour, {number(a, 1)} to {number(b, 1)} kg in eight of ten"
        for a, m, b in zip(low, middle, high, strict=True)
    ]
    traces += [scene.told(sentences, values(middle), edges), *scene.shading_key()]
    frame = theme.layout(xaxis=scene.axis(), yaxis=axis("gas left [kg]", rangemode="tozero"), shapes=scene.shading())
    end = (
        f"Eight of ten tours end with {kilograms_left(float(low[-1]))} to {kilograms_left(float(high[-1]))} left{power}"
    )
    if high[-1] <= 0.1:
        end = "Nine of ten tours end with nothing left"
    answer = end + (
        "; nine of ten never run out."
        if out_from is None
        else f"; of all the winters and vans drawn one in ten is out of gas from {moment(out_from)} on{power}."
    )
    chart = Chart(
        traces=tuple(traces), layout=frame, height_px=380, on_tour_time=True,
        spoken=next(k for k, trace in enumerate(traces) if trace.get("opacity") == 0),
        alternative=f"Gas left over the tour as a band that widens. {answer}",
    )  # fmt: skip
    days, of_day = by_day(edges)
    first = [int(np.flatnonzero(of_day == k)[0]) for k in range(len(days))]
    rows = tuple(
        (day(days[k]), number(low[at], 1), number(middle[at], 1), number(high[at], 1)) for k, at in enumerate(first)
    )
    columns = ("first hour of", "P10 left [kg]", "P50 left [kg]", "P90 left [kg]")
    return Section("How far can the gas differ from the plan?", answer, chart, Table(columns, rows))
