"""What matters most?"""

from __future__ import annotations

from collections.abc import Sequence

from budget.report import theme
from budget.report.section import Chart, Section, Table
from budget.report.theme import axis
from budget.report.words import bubble, number


def sensitivity(
    effects: Sequence[tuple[str, str, float, str, float]], base: float, quantity: str, unit: str
) -> Section:
    """How far each assumption moves one answer, the rest kept.

    ``effects``: assumption, its low end in words, the answer there, its high end in words, the answer there;
    ``base``: the answer with every assumption at its middle, in ``unit``.
    """
    ranked = sorted(effects, key=lambda item: -(max(item[2], item[4], base) - min(item[2], item[4], base)))
    names = [theme.written(item[0]) for item in ranked]
    looks = (("low end of the assumption", 1, 2, "blue", ""), ("high end", 3, 4, "orange", "/"))
    traces = []
    for label, word, value, hue, pattern in looks:
        told = [f"{item[0]} at {item[word]}: {quantity} {number(float(str(item[value])), 1)} {unit}" for item in ranked]
        traces.append(
            {
                "type": "bar", "orientation": "h", "y": names, "name": label, "base": base,
                "x": [round(float(str(item[value])) - base, 3) for item in ranked],
                "text": [theme.written(str(item[word])) for item in ranked], "textposition": "outside",
                "cliponaxis": False,
                "hovertext": [bubble(sentence) for sentence in told], "hovertemplate": "%{hovertext}<extra></extra>",
                "marker": theme.bar_look(hue, pattern),
            }
        )  # fmt: skip
    ends = [float(value) for item in ranked for value in (item[2], item[4])]
    lowest, highest = min(base, *ends), max(base, *ends)
    room = max(0.2 * (highest - lowest), 0.01)
    frame = theme.layout(
        xaxis=axis(f"{quantity} [{unit}]", range=[lowest - room, highest + room]),
        yaxis=axis("", range=[len(names) - 0.4, -0.6], type="category", showgrid=False, ticksuffix=" "),
        hovermode="closest", barmode="overlay", bargap=0.3,
    )  # fmt: skip
    first = ranked[0]
    low, high = min(first[2], first[4]), max(first[2], first[4])
    answer = (
        f"{first[0]}: between {first[1]} and {first[3]} the answer goes from {number(low, 1)} to {number(high, 1)} "
        f"{unit}, around {number(base, 1)} {unit}. Measure that first."
    )
    chart = Chart(
        tuple(traces),
        frame,
        f"Bars of how far each assumption moves {quantity}. {answer}",
        140 + 34 * len(names),
        spoken=0,
    )
    rows = tuple((n, lo, number(at_lo, 1), hi, number(at_hi, 1)) for n, lo, at_lo, hi, at_hi in ranked)
    table = Table(("assumption", "low end", f"{quantity} [{unit}]", "high end", f"{quantity} there [{unit}]"), rows)
    return Section("What matters most?", answer, chart, table)
