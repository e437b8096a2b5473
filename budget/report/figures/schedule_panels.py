"""Which schedule for the night? Panels side by side, from evening to morning."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from budget.report import theme
from budget.report.section import Chart, Section, Table
from budget.report.theme import axis, colour
from budget.report.words import bubble, celsius, number, values

SAME = 0.02


@dataclass(frozen=True, eq=False)
class NightOf:
    """One schedule's night: clock times and, at each, air, setpoint [°C] and heat [kW]; totals of the night.

    ``clock``: words such as "18:00", the same for every schedule; ``wake_c``: air when people rise [°C].
    """

    name: str
    clock: Sequence[str]
    air_c: Sequence[float]
    setpoint_c: Sequence[float]
    heat_kw: Sequence[float]
    gas_kg: float
    fan_ah: float
    wake_c: float


def schedule_panels(nights: Sequence[NightOf]) -> Section:
    """Schedules compared over one night, each in a panel of the same scales."""
    count = len(nights)
    traces, frame = [], theme.layout(hovermode="closest", bargap=0.1)
    spans = [((k + 0.04) / count, (k + 0.96) / count) for k in range(count)]
    highest = max(max(night.heat_kw) for night in nights)
    coldest = min(min(night.air_c) for night in nights) - 1.0
    warmest = max(float(np.nanmax([*night.air_c, *night.setpoint_c])) for night in nights) + 1.0
    heading = []
    told: list[str] = []
    spoken_x: list[str] = []
    for k, night in enumerate(nights):
        x, y, below = (
            f"{letter}{'' if n == 1 else n}" for letter, n in (("x", k + 1), ("y", k + 1), ("y", count + k + 1))
        )
        clock, first = list(night.clock), k == 0
        common = {"x": clock, "xaxis": x, "showlegend": first, "hoverinfo": "skip"}
        traces += [
            {**common, "type": "scatter", "mode": "lines", "y": values(night.air_c, 1), "yaxis": y, "name": "air",
             "line": {"color": colour("blue"), "width": 2.5}},
            {**common, "type": "scatter", "mode": "lines", "y": values(night.setpoint_c, 1), "yaxis": y,
             "name": "setpoint", "line": {"color": colour("ink"), "width": 1.5, "dash": "dot", "shape": "hv"}},
            {**common, "type": "bar", "y": values(night.heat_kw), "yaxis": below, "name": "heat",
             "marker": {"color": colour("red")}},
        ]  # fmt: skip
        sentences = [
            f"{night.name}, {at}: {celsius(air, 1)}, heater at {number(heat, 1)} kW"
            for at, air, heat in zip(clock, night.air_c, night.heat_kw, strict=True)
        ]
        traces.append(
            {"type": "scatter", "mode": "markers", "opacity": 0, "x": clock, "y": values(night.air_c, 1), "xaxis": x,
             "yaxis": y, "hovertext": [bubble(s) for s in sentences], "hovertemplate": "%{hovertext}<extra></extra>",
             "showlegend": False, "name": ""}
        )  # fmt: skip
        told += sentences
        spoken_x += clock
        left = "" if first else "matches"
        frame[f"xaxis{x[1:]}"] = axis(
            "", domain=list(spans[k]), anchor=below, type="category", nticks=5, showgrid=False
        )
        frame[f"yaxis{y[1:]}"] = axis(
            "air [°C]" if not left else "", domain=[0.34, 0.9], anchor=x, range=[coldest, warmest], showticklabels=first
        )
        frame[f"yaxis{below[1:]}"] = axis(
            "heat [kW]" if not left else "", domain=[0.0, 0.26], anchor=x, range=[0, 1.1 * max(highest, 0.1)],
            showticklabels=first,
        )  # fmt: skip
        heading.append(
            {"text": f"<b>{theme.written(night.name)}</b><br>{number(night.gas_kg, 2)} kg, {number(night.fan_ah)} Ah",
             "x": sum(spans[k]) / 2, "y": 0.91, "xref": "paper", "yref": "paper", "yanchor": "bottom",
             "showarrow": False}
        )  # fmt: skip
    frame["annotations"] = heading
    answer = _answer(nights)
    chart = Chart(tuple(traces), frame, f"Panels of one night, one for each schedule. {answer}", 460)
    rows = tuple((n.name, number(n.gas_kg, 2), number(n.fan_ah, 1), number(n.wake_c, 1)) for n in nights)
    table = Table(("schedule", "gas [kg]", "fan [Ah]", "air on rising [°C]"), rows)
    return Section("Which schedule for the night?", answer, chart, table)


def _answer(nights: Sequence[NightOf]) -> str:
    least = min(nights, key=lambda night: night.gas_kg)
    most = max(nights, key=lambda night: night.gas_kg)
    if most.gas_kg <= 0.0 or least.gas_kg > (1.0 - SAME) * most.gas_kg:
        return "They burn the same within 2 %: choose by comfort."
    saved = 100.0 * (1.0 - least.gas_kg / most.gas_kg)
    woken = f"you rise at {celsius(least.wake_c)}"
    if celsius(least.wake_c) != celsius(most.wake_c):
        woken += f" instead of {celsius(most.wake_c)}"
    return f"“{least.name}” burns {number(least.gas_kg, 2)} kg, {number(saved)} % less than “{most.name}”, and {woken}."
