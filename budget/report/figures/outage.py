"""How fast does it get cold?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from budget.report import theme
from budget.report.scene import line
from budget.report.section import Chart, Section, Table
from budget.report.theme import axis, colour
from budget.report.words import bubble, celsius, listed, named, number, values
from budget.rounding import least

HEALTH_C, CHILLY_C, FROST_C = 18.0, 10.0, 5.0


def outage(hours: Sequence[float], parts_c: Mapping[str, Sequence[float]], outdoor_c: float) -> Section:
    """Temperatures of zones and parts [°C] at hours after the heater stopped [h], with the outdoors at one temperature.

    The first part is the one that people are in.
    """
    parts = {name: np.asarray(temps, dtype=float) for name, temps in parts_c.items()}
    first = next(iter(parts))
    x = [round(float(h), 3) for h in hours]
    traces = [line(x, values(temps, 1), named(name), k) for k, (name, temps) in enumerate(parts.items())]
    for limit, word, dash in ((HEALTH_C, "usual least for health", "dash"), (FROST_C, "heat or drain", "dot")):
        thin = {"color": colour("muted"), "width": 1.5, "dash": dash}
        traces.append(line([x[0], x[-1]], [limit] * 2, f"{celsius(limit)}: {word}", 0, line=thin))
    told = [
        f"{number(h, 1)} h after the stop: "
        + ", ".join(f"{named(name)} {celsius(t[k], 1)}" for name, t in parts.items())
        for k, h in enumerate(x)
    ]
    traces.append(
        {"type": "scatter", "mode": "lines", "x": x, "y": values(parts[first], 1), "opacity": 0, "showlegend": False,
         "text": [bubble(sentence) for sentence in told], "hovertemplate": "%{text}<extra></extra>", "name": ""}
    )  # fmt: skip
    frame = theme.layout(
        xaxis=axis("hours after the heater stops [h]", range=[x[0], x[-1]]),
        yaxis=axis("temperature [°C]", zeroline=True),
    )
    answer = f"With {celsius(outdoor_c)} outdoors: {_milestones(x, parts, first)}."
    chart = Chart(tuple(traces), frame, f"Cooling after the heater stops. {answer}", 400, spoken=len(traces) - 1)
    step = max(1, len(x) // 24)
    rows = tuple((number(h, 1), *(number(t[k], 1) for t in parts.values())) for k, h in list(enumerate(x))[::step])
    table = Table(("hours after [h]", *(f"{named(name)} [°C]" for name in parts)), rows)
    return Section("If the heater stops, how fast does it get cold?", answer, chart, table)


def _milestones(x: Sequence[float], parts: Mapping[str, np.ndarray], first: str) -> str:
    chilly = _passed(x, parts[first], CHILLY_C)
    frozen = sorted((at, name) for name in parts if (at := _passed(x, parts[name], 0.0)) is not None)
    told = [] if chilly is None else [f"{celsius(CHILLY_C)} in the {named(first)} {_hours(chilly)}"]
    if frozen:
        told.append(f"0 °C in the {listed([f'{named(name)} {_hours(at)}' for at, name in frozen])}")
    return "; ".join(told) or f"{celsius(float(parts[first][-1]))} in the {named(first)} after {number(x[-1])} h"


def _passed(x: Sequence[float], temps: np.ndarray, limit_c: float) -> float | None:
    below = np.flatnonzero(temps <= limit_c)
    return x[below[0]] if below.size else None


def _hours(at: float) -> str:
    short = at < 3.0 and at != round(at)
    return "already" if at == 0.0 else f"after {least(at, 1 if short else 0)} h"
