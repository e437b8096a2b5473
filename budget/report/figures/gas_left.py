"""How long does the gas last?"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from budget.moments import day, hour_of_edge, moment
from budget.report import theme
from budget.report.scene import Scene, by_day
from budget.report.section import Chart, Section, Table
from budget.report.theme import axis, colour
from budget.report.words import times, values
from budget.results.need import AS_IT_STANDS, BATTERY, with_enough
from budget.wording import kilograms_left, kilograms_needed, number

FILLS = (("blue", "/"), ("orange", "."), ("green", "x"), ("purple", "-"), ("red", "\\"), ("grey", "+"))
SHORT_KG = 0.5
_NOTHING = {"type": "scatter", "y": [None], "showlegend": False, "hoverinfo": "skip"}  # an axis shows only with a trace


def gas_left(
    scene: Scene,
    bottles: Sequence[tuple[str, float, Sequence[float]]],
    swaps: Sequence[tuple[pd.Timestamp, str, str]] = (),
    reserve_kg: float = 0.0,
    kg_per_night: float = 0.0,
    unburned_kg: float = 0.0,
    short_of: Sequence[str] = (),
    out_from: pd.Timestamp | None = None,
    needless: int = 0,
) -> Section:
    """Gas in each bottle at every hour edge.

    ``bottles``: name, full contents [kg] and contents at the n + 1 edges [kg]; ``swaps``: time, place and bottle;
    ``reserve_kg``: contents to be kept in hand; ``kg_per_night``: mean need, for an axis that reads in nights;
    ``unburned_kg``: gas that would have been used had nothing run short; ``short_of``: what did, "battery" or "gas".
    ``out_from``: the first hour in which a flame lacked gas with every bottle empty, or for any reason before the
    battery cut out. ``needless``: how many of the
    swaps the tour could do without.
    """
    x = times(scene.edges)
    total = np.sum([np.asarray(left, dtype=float) for _, _, left in bottles], axis=0)
    traces = [_area(k, name, x, left) for k, (name, _, left) in enumerate(bottles)]
    if reserve_kg > 0.0:
        traces.append(_reserve(x, reserve_kg))
    if swaps:
        traces.append(_swaps(scene, swaps, total))
    sentences = [f"{number(total[h], 1)} kg of gas left, {_each(bottles, h)}" for h in range(len(scene.hours))]
    traces += [scene.told(sentences, values(total[:-1])), *scene.shading_key()]
    full = {net for _, net, _ in bottles}
    most = 1.08 * max(float(total.max()), reserve_kg, 0.1)
    frame = theme.layout(
        xaxis=scene.axis(),
        yaxis=axis("gas left [kg]", range=[0, most]),
        shapes=scene.shading(),
    )
    if len(full) == 1:
        net = full.pop()
        frame["yaxis2"] = axis(
            f"full bottles of {net:g} kg", overlaying="y", side="right", range=[0, most / net], showgrid=False, dtick=1
        )
        frame["margin"] = {**frame["margin"], "r": 56}
        traces.append({**_NOTHING, "x": [x[0]], "yaxis": "y2"})
    narrow = {}
    if kg_per_night > 0.0:
        side = {"anchor": "free", "autoshift": True} if "yaxis2" in frame else {}
        frame["yaxis3"] = axis(
            "nights at the mean need", overlaying="y", side="right", range=[0, most / kg_per_night], showgrid=False,
            tickmode="auto", nticks=6, **side,
        )  # fmt: skip
        narrow = {"yaxis3": {**frame["yaxis3"], "visible": False}} if "yaxis2" in frame else {}
        frame["margin"] = {**frame["margin"], "r": 56}
        traces.append({**_NOTHING, "x": [x[0]], "yaxis": "y3"})
    answer = _answer(scene, total, len(swaps), reserve_kg, unburned_kg, short_of, out_from, needless)
    chart = Chart(
        traces=tuple(traces), layout=frame, height_px=400, on_tour_time=True,
        spoken=next(k for k, trace in enumerate(traces) if "text" in trace and trace.get("opacity") == 0),
        alternative=f"Gas left in each bottle over the tour, stacked. {answer}",
        narrow=narrow,
    )  # fmt: skip
    return Section("How long does the gas last?", answer, chart, _table(scene, bottles, total))


def _each(bottles: Sequence[tuple[str, float, Sequence[float]]], edge: int) -> str:
    if len(bottles) == 1:
        return f"{100.0 * bottles[0][2][edge] / bottles[0][1]:.0f} % of the bottle"
    return ", ".join(f"{number(left[edge], 1)} in bottle {k + 1}" for k, (_, _, left) in enumerate(bottles))


def _area(k: int, name: str, x: list[str], left: Sequence[float]) -> dict[str, object]:
    hue, pattern = FILLS[k % len(FILLS)]
    return {
        "type": "scatter", "mode": "lines", "x": x, "y": values(left), "stackgroup": "gas", "hoverinfo": "skip",
        "name": theme.written(f"bottle {k + 1}, {name}"), "line": {"color": colour(hue), "width": 1.5},
        "fillpattern": theme.hatch(hue, pattern, size=8, solidity=0.2),
    }  # fmt: skip


def _reserve(x: list[str], reserve_kg: float) -> dict[str, object]:
    return {
        "type": "scatter", "mode": "lines", "x": [x[0], x[-1]], "y": [reserve_kg] * 2, "hoverinfo": "skip",
        "name": f"reserve, {kilograms_needed(reserve_kg)}",
        "line": {"color": colour("red"), "dash": "dash", "width": 2},
    }  # fmt: skip


def _swaps(scene: Scene, swaps: Sequence[tuple[pd.Timestamp, str, str]], total: np.ndarray) -> dict[str, object]:
    at = [min(int(scene.edges.searchsorted(time)), len(total) - 1) for time, _, _ in swaps]
    return {
        "type": "scatter", "mode": "markers", "x": times(pd.DatetimeIndex([time for time, _, _ in swaps])),
        "y": values(total[at]), "name": "bottle swapped", "hoverinfo": "skip",
        "marker": {"symbol": "triangle-down", "size": 13, "color": colour("ink")},
    }  # fmt: skip


def _answer(
    scene: Scene,
    total: np.ndarray,
    swaps: int,
    reserve_kg: float,
    unburned_kg: float,
    short_of: Sequence[str],
    out_from: pd.Timestamp | None,
    needless: int,
) -> str:
    below = np.flatnonzero(total < reserve_kg)
    if unburned_kg >= SHORT_KG and "gas" in short_of and (out_from is not None or "battery" not in short_of):
        stands = f", {AS_IT_STANDS}," if BATTERY in short_of else ""
        when = "" if out_from is None else f" from {moment(out_from)}"
        return (
            f"Not to the end: in the tour's own weather{stands} the gas runs short{when}; "
            f"{kilograms_needed(unburned_kg)} more would have been used."
        )
    if unburned_kg >= SHORT_KG:
        return (
            f"The heater stands still for want of charge, so {kilograms_left(float(total[-1]))} are left at the end; "
            f"{with_enough(short_of)} the tour would have used {kilograms_needed(unburned_kg)} more."
        )
    changes = {0: "without a swap", 1: "with one swap"}.get(swaps, f"with {swaps} swaps")
    if needless:
        changes += f", {swaps - needless} of them needed" if swaps > 1 else ", which is not needed"
    end = f"To the end of the tour {changes}; {kilograms_left(float(total[-1]))} left at the end"
    if below.size:
        return f"{end}, though the reserve is touched from {moment(scene.edges[hour_of_edge(below[0])])}."
    lowest = int(np.argmin(total))
    if lowest < len(total) - 1 and swaps:
        return (
            f"{end}; least in hand {kilograms_left(float(total[lowest]))}, {moment(scene.edges[hour_of_edge(lowest)])}."
        )
    return f"{end}."


def _table(scene: Scene, bottles: Sequence[tuple[str, float, Sequence[float]]], total: np.ndarray) -> Table:
    days, of_day = by_day(scene.edges)
    first = [int(np.flatnonzero(of_day == k)[0]) for k in range(len(days))]
    names = tuple(f"bottle {k + 1} [kg]" for k in range(len(bottles)))
    rows = tuple(
        (
            day(days[k]),
            scene.places[min(at, len(scene.places) - 1)],
            number(total[at], 1),
            *(number(left[at], 1) for _, _, left in bottles),
        )
        for k, at in enumerate(first)
    )
    return Table(("first hour of", "place", "gas left [kg]", *names), rows, "Gas left at the first hour of each day.")
