"""What matters most?"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from budget.report import theme
from budget.report.section import Chart, Section, Table
from budget.report.theme import axis
from budget.report.words import bubble
from budget.wording import number


def sensitivity(
    effects: Sequence[tuple[str, str, float, str, float]],
    base: float,
    quantity: str,
    unit: str,
    measure: str | None = None,
) -> Section:
    """How far each assumption moves one answer, the rest kept.

    ``effects``: assumption, its low end in words, the answer there, its high end in words, the answer there;
    ``base``: the answer with every assumption at its middle, in ``unit``; ``measure``: what helps most, in words.
    """
    ranked = sorted(effects, key=lambda item: -(max(item[2], item[4], base) - min(item[2], item[4], base)))
    names = [bubble(item[0], 22) for item in ranked]
    told = [
        f"{name}: {quantity} {number(low, 1)} {unit} where {few}, {number(high, 1)} {unit} where {many}"
        for name, few, low, many, high in ranked
    ]
    lows = _bars(names, [low - base for _, _, low, _, _ in ranked], [few for _, few, *_ in ranked], told, base)
    highs = _bars(names, [high - base for *_, high in ranked], [many for _, _, _, many, _ in ranked], told, base)
    traces = [
        {**lows, "name": "low end", "marker": theme.bar_look("blue", "")},
        {**highs, "name": "high end", "marker": theme.bar_look("orange", "/")},
    ]
    for k, (_, _, low, _, high) in enumerate(ranked):
        if (low - base) * (high - base) > 0.0:  # both on one side: the longer bar alone keeps its word
            traces[int(abs(low - base) > abs(high - base))]["text"][k] = ""
    ends = [value for item in ranked for value in (item[2], item[4])]
    lowest, highest = min(base, *ends), max(base, *ends)
    room, wider = (max(share * (highest - lowest), 0.01) for share in (0.2, 0.35))
    frame = theme.layout(
        xaxis=axis(f"{quantity} [{unit}]", range=[lowest - room, highest + room]),
        yaxis=axis("", range=[len(names) - 0.4, -0.6], type="category", showgrid=False, ticksuffix=" "),
        hovermode="closest", barmode="overlay", bargap=0.3,
    )  # fmt: skip
    first = ranked[0]
    name, few, low, many, high = first
    answer = (
        f"{name[0].upper()}{name[1:]}: {number(low)} {unit} of {quantity} where {few}, {number(high)} {unit} where "
        f"{many}, around {number(base)} {unit}." + ("" if measure is None else f" {measure[0].upper()}{measure[1:]}")
    )
    chart = Chart(
        tuple(traces),
        frame,
        f"Bars of how far each assumption moves {quantity}. {answer}",
        140 + 36 * len(names),
        spoken=0,
        narrow={"xaxis": {**frame["xaxis"], "range": [lowest - wider, highest + wider]}},
        lines=2 * len(names),
    )
    rows = tuple((n, lo, number(at_lo, 1), hi, number(at_hi, 1)) for n, lo, at_lo, hi, at_hi in ranked)
    table = Table(("assumption", "low end", f"{quantity} [{unit}]", "high end", f"{quantity} there [{unit}]"), rows)
    return Section("What matters most?", answer, chart, table)


def _bars(
    names: Sequence[str], lengths: Sequence[float], ends: Sequence[str], told: Sequence[str], base: float
) -> dict[str, Any]:
    return {
        "type": "bar", "orientation": "h", "y": list(names), "base": base, "x": [round(v, 3) for v in lengths],
        "text": [theme.written(end) for end in ends], "textposition": "outside", "cliponaxis": False,
        "hovertext": [bubble(sentence) for sentence in told], "hovertemplate": "%{hovertext}<extra></extra>",
    }  # fmt: skip
