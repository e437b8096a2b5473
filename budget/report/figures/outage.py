"""How fast does it get cold?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from budget.report import theme
from budget.report.scene import line
from budget.report.section import Chart, Section, Table
from budget.report.theme import axis, colour
from budget.report.words import bubble, named, values
from budget.wording import celsius, number

HEALTH_C, FROST_C = 18.0, 5.0


def outage(
    hours: Sequence[float], parts_c: Mapping[str, Sequence[float]], outdoor_c: float, milestones: str
) -> Section:
    """Temperatures of zones and parts [°C] at hours after the heater stopped [h], with the outdoors at one temperature.

    The first part is the one that people are in. ``milestones``: when which part has come to which temperature.
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
    answer = f"With {celsius(outdoor_c)} outdoors: {milestones}."
    chart = Chart(tuple(traces), frame, f"Cooling after the heater stops. {answer}", 400, spoken=len(traces) - 1)
    step = max(1, len(x) // 24)
    rows = tuple((number(h, 1), *(number(t[k], 1) for t in parts.values())) for k, h in list(enumerate(x))[::step])
    table = Table(("hours after [h]", *(f"{named(name)} [°C]" for name in parts)), rows)
    return Section("If the heater stops, how fast does it get cold?", answer, chart, table)
