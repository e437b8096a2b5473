"""What do the screens save?"""

from __future__ import annotations

from collections.abc import Sequence

from budget.report import theme
from budget.report.section import Chart, Section, Table
from budget.report.theme import axis
from budget.report.words import bubble
from budget.wording import listed, number

LEAST_SAVED_W_PER_K = 0.05
REST = "all else, no screens"
LOOKS = (("screens down", "blue", ""), ("screens up", "orange", "/"))


def screens(elements_w_per_k: Sequence[tuple[str, float, float]]) -> Section:
    """Heat loss of each element with screens down and up [W/K]."""
    ranked = _ranked(elements_w_per_k)
    names = [theme.written(name) for name, *_ in ranked]
    traces = []
    for k, (label, hue, pattern) in enumerate(LOOKS):
        loss = [(down, up)[k] for _, down, up in ranked]
        told = [
            f"{name} loses {number(a, 1)} W for each kelvin with screens down, {number(b, 1)} W with them up"
            for name, a, b in ranked
        ]
        traces.append(
            {
                "type": "bar", "orientation": "h", "y": names, "x": [round(w, 2) for w in loss],
                "name": label, "hovertext": [bubble(s) for s in told], "hovertemplate": "%{hovertext}<extra></extra>",
                "text": [number(w, 1) for w in loss], "textposition": "outside", "cliponaxis": False,
                "marker": theme.bar_look(hue, pattern),
            }
        )  # fmt: skip
    frame = theme.layout(
        xaxis=axis("heat loss [W/K]", range=[0.0, 1.15 * max((down for _, down, _ in ranked), default=1.0)]),
        yaxis=axis("", range=[len(names) - 0.4, -0.6], type="category", showgrid=False, ticksuffix=" "),
        hovermode="closest", barmode="group", bargap=0.3,
    )  # fmt: skip
    down, up = sum(item[1] for item in ranked), sum(item[2] for item in ranked)
    gains = sorted(((name, a - b) for name, a, b in ranked if a - b > LEAST_SAVED_W_PER_K), key=lambda item: -item[1])
    where = f", most at {listed([name for name, _ in gains[:2]])}" if gains else ""
    saved = 100.0 * (1.0 - up / max(down, 1e-9))
    answer = f"Up, they take the shell from {number(down)} to {number(up)} W/K, {number(saved)} % less{where}."
    chart = Chart(
        tuple(traces),
        frame,
        f"Heat loss by element, screens down and up. {answer}",
        140 + 44 * len(names),
        spoken=0,
        lines=2 * len(names),
    )
    rows = tuple((name, number(a, 1), number(b, 1)) for name, a, b in ranked)
    return Section("What do the screens save?", answer, chart, Table(("element", "down [W/K]", "up [W/K]"), rows))


def _ranked(elements_w_per_k: Sequence[tuple[str, float, float]]) -> list[tuple[str, float, float]]:
    """Those that screens change, the greatest saving first, then all the others together."""
    changed = [item for item in elements_w_per_k if item[1] - item[2] > LEAST_SAVED_W_PER_K]
    rest = [item for item in elements_w_per_k if item not in changed]
    same = [(REST, sum(down for _, down, _ in rest), sum(up for *_, up in rest))] if rest else []
    return sorted(changed, key=lambda item: item[2] - item[1]) + same
