"""How sure is that number of bottles?"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from budget.report import theme
from budget.report.section import Chart, Section, Table
from budget.report.theme import axis, colour
from budget.report.words import bubble
from budget.rounding import least
from budget.wording import kilograms

MARK_PERCENT = 90.0


def confidence(needs_kg: Sequence[float], net_kg: float, reserve_kg: float = 0.0, power: str = "") -> Section:
    """Bottles against confidence: the share of simulated tours whose need and reserve n full bottles cover.

    ``needs_kg``: gas that each simulated tour used [kg]; ``net_kg``: full contents of one bottle [kg]; ``power``:
    words beside what is counted with power.
    """
    needs = np.sort(np.asarray(needs_kg, dtype=float)) + reserve_kg
    most = max(1, int(np.ceil(needs[-1] / net_kg - 1e-9)))
    bottles = list(range(most + 1))
    covered = [100.0 * float(np.mean(needs <= n * net_kg + 1e-9)) for n in bottles]
    enough = next((n for n in bottles if covered[n] >= MARK_PERCENT), most)
    told = [f"{n} bottles of {net_kg:g} kg last in {least(covered[n])} of 100 such tours" for n in bottles]
    steps = {
        "type": "scatter", "mode": "lines+markers+text", "x": bottles, "y": [round(v, 1) for v in covered],
        "line": {"shape": "hv", "color": colour("blue"), "width": 3}, "marker": {"size": 9, "color": colour("blue")},
        "text": [least(v) for v in covered], "textposition": "top center", "cliponaxis": False,
        "hovertext": [bubble(sentence) for sentence in told], "hovertemplate": "%{hovertext}<extra></extra>",
        "name": "tours that have gas to the end",
    }  # fmt: skip
    mark = {
        "type": "scatter", "mode": "lines", "x": [0, most], "y": [MARK_PERCENT] * 2, "hoverinfo": "skip",
        "name": f"{MARK_PERCENT:.0f} in 100", "line": {"color": colour("red"), "dash": "dash", "width": 2},
    }  # fmt: skip
    frame = theme.layout(
        xaxis=axis(f"full bottles of {net_kg:g} kg", dtick=1, range=[-0.2, most + 0.4]),
        yaxis=axis(f"tours covered{power}, of 100", range=[-4, 112]),
        hovermode="closest",
    )
    middle = float(np.quantile(needs - reserve_kg, 0.5))
    high = float(np.quantile(needs - reserve_kg, 0.9))
    answer = (
        f"{enough} × {net_kg:g} kg cover {least(covered[enough])} in 100 such tours{power} without a swap; the middle "
        f"one takes {kilograms(middle)}, one in ten more than {kilograms(high)}."
    )
    chart = Chart((steps, mark), frame, f"Tours covered by each number of bottles, as steps. {answer}", 360, spoken=0)
    rows = tuple((n, least(v)) for n, v in zip(bottles, covered, strict=True))
    table = Table(("full bottles", "tours covered, of 100"), rows)
    return Section("How many bottles for how much confidence?", answer, chart, table)
