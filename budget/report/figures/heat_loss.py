"""Where does the heat go?"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from budget.report import theme
from budget.report.section import Chart, Section, Table
from budget.report.theme import axis, colour
from budget.report.words import bubble, named
from budget.wording import listed, number, percent

ZONE_LOOKS = (("blue", ""), ("sky", "/"), ("green", "."), ("purple", "x"), ("grey", "-"), ("red", "+"))
GAIN_LOOK = ("orange", "\\")
OUT, IN = "OUT", "IN"  # heads of the two blocks
REST_OUT, REST_IN = "the rest out", "the rest in"
MOST_ROWS = 4  # of a block, beside the rest
MOST_ZONES = 5
NARROW_LETTERS = 17  # of a line beside the bars on a phone

Loss = tuple[str, str, str, float]


def heat_loss(losses_kwh: Sequence[Loss], gains_kwh: Sequence[tuple[str, float]]) -> Section:
    """Heat out by zone and element, and heat in by source, over the whole tour [kWh]: two blocks, each with its sum.

    ``losses_kwh``: zone, element, the group that it is shown in, heat; what gave heat over the tour counts as a gain.
    """
    out = [loss for loss in losses_kwh if loss[3] > 0.0]
    coming = [(name, q) for name, q in gains_kwh if q > 0.0] + [
        (f"{e}, {named(z)}", -q) for z, e, _, q in losses_kwh if q < 0.0
    ]
    total_out = max(sum(q for *_, q in out), 1e-9)
    total_in = max(sum(q for _, q in coming), 1e-9)
    sums_out, sums_in = _sums([(group, q) for _, _, group, q in out]), _sums(coming)
    rows_out, rows_in = _gathered(sums_out, REST_OUT), _gathered(sums_in, REST_IN)
    zones = [zone for zone, _ in _sums([(zone, q) for zone, *_, q in out])][:MOST_ZONES]
    groups = [group for group, _ in rows_out]
    shown = [(zone, part, group if group in groups else REST_OUT, q) for zone, part, group, q in out]
    traces = [_zone_bars(zone, groups, shown, look) for zone, look in zip(zones, ZONE_LOOKS, strict=False)]
    traces.append(_bar([name for name, _ in rows_in], [q for _, q in rows_in], "comes in", GAIN_LOOK))
    categories = [OUT, *(theme.written(name) for name in groups), IN, *(theme.written(name) for name, _ in rows_in)]
    lengths = [0.0, *(q for _, q in rows_out), 0.0, *(q for _, q in rows_in)]
    beside = [f" {number(total_out)} kWh in all", *(f" {_part(q, total_out)}" for _, q in rows_out)]
    beside += [f" {number(total_in)} kWh in all", *(f" {_part(q, total_in)}" for _, q in rows_in)]
    told = [f"{number(total_out)} kWh left in all"]
    told += [_told_out(group, q, total_out, out) for group, q in rows_out]
    told += [f"{number(total_in)} kWh came in in all"]
    told += [_told_in(name, q, total_in, sums_in[len(rows_in) - 1 :]) for name, q in rows_in]
    traces.append(_read(categories, lengths, beside, told))
    frame = theme.layout(
        xaxis=axis("heat [kWh]", range=[0, 1.15 * max(*lengths, 1e-3)]),
        yaxis=axis("", range=[len(categories) - 0.4, -0.6], showgrid=False, type="category", categoryarray=categories,
                   ticksuffix=" "),
        hovermode="closest", bargap=0.25, barmode="stack",
    )  # fmt: skip
    labels = _two_lines(categories)
    narrow = {"yaxis": {**frame["yaxis"], "tickvals": categories, "ticktext": labels, "tickfont": {"size": 10}}}
    answer = _answer(rows_out, total_out, total_in, gains_kwh)
    chart = Chart(
        traces=tuple(traces), layout=frame, height_px=130 + 27 * len(categories), spoken=len(traces) - 1,
        lines=len(categories), narrow=narrow,
        alternative=f"Bars of heat leaving the van by element, split by zone, and below of heat coming in. {answer}",
    )  # fmt: skip
    details = sorted(out, key=lambda loss: -loss[3])
    rows = tuple((named(z), named(e), number(q, 1), _part(q, total_out)) for z, e, _, q in details)
    rows += tuple(("in", name, number(q, 1), _part(q, total_in)) for name, q in coming)
    table = Table(("zone", "element or source", "heat [kWh]", "of all out or in"), rows, "Over the whole tour.")
    return Section("Where does the heat go?", answer, chart, table)


def _two_lines(names: Sequence[str]) -> list[str]:
    """Names in lines as short as leave none of them a third."""
    letters = NARROW_LETTERS
    while any(bubble(name, letters).count("<br>") > 1 for name in names):
        letters += 1
    return [bubble(name, letters) for name in names]


def _part(q: float, total: float) -> str:
    return f"{number(100.0 * q / total)} %"


def _sums(items: Sequence[tuple[str, float]]) -> list[tuple[str, float]]:
    """Sums by name, the largest first."""
    sums: dict[str, float] = {}
    for name, q in items:
        sums[name] = sums.get(name, 0.0) + q
    return sorted(sums.items(), key=lambda item: -item[1])


def _gathered(sums: Sequence[tuple[str, float]], rest_name: str) -> list[tuple[str, float]]:
    """The largest, and the small ones as one; a rest of one keeps its name."""
    if len(sums) <= MOST_ROWS + 1:
        return list(sums)
    return [*sums[:MOST_ROWS], (rest_name, sum(q for _, q in sums[MOST_ROWS:]))]


def _zone_bars(zone: str, groups: Sequence[str], out: Sequence[Loss], look: tuple[str, str]) -> dict[str, Any]:
    heat = [sum(q for z, _, g, q in out if g == group and z == zone) for group in groups]
    return _bar(groups, heat, named(zone), look)


def _bar(names: Sequence[str], heat: Sequence[float], name: str, look: tuple[str, str]) -> dict[str, Any]:
    hue, pattern = look
    return {
        "type": "bar", "orientation": "h", "x": [round(q, 1) for q in heat], "y": [theme.written(n) for n in names],
        "name": theme.written(name), "hoverinfo": "skip",
        "marker": theme.bar_look(hue, pattern),
    }  # fmt: skip


def _read(names: Sequence[str], lengths: Sequence[float], beside: Sequence[str], told: Sequence[str]) -> dict[str, Any]:
    """The numbers at the ends of the bars, and the sentences that are read."""
    return {
        "type": "scatter", "mode": "text", "x": [round(q, 1) for q in lengths], "y": list(names),
        "text": list(beside), "hovertext": [bubble(sentence) for sentence in told],
        "textposition": "middle right", "textfont": {"size": 12, "color": colour("ink")}, "cliponaxis": False,
        "hovertemplate": "%{hovertext}<extra></extra>", "showlegend": False, "name": "",
    }  # fmt: skip


def _told_out(group: str, q: float, total: float, out: Sequence[Loss]) -> str:
    """How much left through a group, and in which zones; of the rest, through what."""
    here = [(zone, heat) for zone, _, own, heat in out if own == group]
    if not here:
        return f"{number(q)} kWh left otherwise, {_part(q, total)} of all"
    parts = [f"{number(heat)} in the {named(zone)}" for zone, heat in _sums(here)[:3]]
    return f"{number(q)} kWh left through {group}, {_part(q, total)} of all: {listed(parts)}"


def _told_in(name: str, q: float, total: float, small: Sequence[tuple[str, float]]) -> str:
    share = f"{_part(q, total)} of all that came in"
    if name != REST_IN:
        return f"{number(q)} kWh came in from {name}, {share}"
    return f"{number(q)} kWh came in otherwise, {share}: {listed([each for each, _ in small])}"


def _answer(
    rows_out: Sequence[tuple[str, float]], total_out: float, total_in: float, gains_kwh: Sequence[tuple[str, float]]
) -> str:
    biggest = [f"{name} ({_part(q, total_out)})" for name, q in rows_out[:3]]
    free = 1.0 - sum(q for name, q in gains_kwh if name.startswith("heater, ")) / total_in
    return (
        f"Out through {listed(biggest)}, of {number(total_out)} kWh in all; "
        f"sun, people, cooking and appliances bring {percent(max(free, 0.0))} of what comes in."
    )
