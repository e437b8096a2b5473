"""Where does the heat go?"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from budget.report import theme
from budget.report.section import Chart, Section, Table
from budget.report.theme import axis, colour
from budget.report.words import bubble, listed, named
from budget.wording import number, percent

ZONE_LOOKS = (("blue", ""), ("sky", "/"), ("green", "."), ("purple", "x"), ("grey", "-"), ("red", "+"))
GAIN_LOOK = ("orange", "\\")
SMALL_SHARE = 0.005
MOST_ZONES = 5
NARROW_LETTERS = 17  # of a line beside the bars on a phone

Loss = tuple[str, str, str, float]


def heat_loss(losses_kwh: Sequence[Loss], gains_kwh: Sequence[tuple[str, float]]) -> Section:
    """Heat out by zone and element, and heat in by source, over the whole tour [kWh].

    ``losses_kwh``: zone, element, the group that it is shown in, heat; what gave heat over the tour counts as a gain.
    """
    out = [loss for loss in losses_kwh if loss[3] > 0.0]
    coming = [(name, q) for name, q in gains_kwh if q > 0.0] + [
        (f"{e}, {named(z)}", -q) for z, e, _, q in losses_kwh if q < 0.0
    ]
    total_out = max(sum(q for *_, q in out), 1e-9)
    total_in = max(sum(q for _, q in coming), 1e-9)
    rows_out = _ranked([(group, q) for _, _, group, q in out], total_out, "all else out")
    rows_in = _ranked(coming, total_in, "all else in")
    zones = [zone for zone, _ in _ranked([(zone, q) for zone, *_, q in out], total_out, "other zones")][:MOST_ZONES]
    groups = [group for group, _ in rows_out]
    traces = [_zone_bars(zone, groups, out, look) for zone, look in zip(zones, ZONE_LOOKS, strict=False)]
    traces.append(_bar([f"in: {name}" for name, _ in rows_in], [q for _, q in rows_in], "comes in", GAIN_LOOK))
    names = [*groups, *(f"in: {name}" for name, _ in rows_in)]
    lengths = [q for _, q in (*rows_out, *rows_in)]
    told = [_told_out(group, q, total_out, out) for group, q in rows_out]
    told += [
        f"{number(q)} kWh came in from {name}, {number(100.0 * q / total_in)} % of all that came in"
        for name, q in rows_in
    ]
    traces.append(_read(names, lengths, told))
    categories = [theme.written(name) for name in names]
    frame = theme.layout(
        xaxis=axis("heat [kWh]", range=[0, 1.12 * max(lengths, default=1.0)]),
        yaxis=axis("", range=[len(names) - 0.4, -0.6], showgrid=False, type="category", categoryarray=categories,
                   ticksuffix=" "),
        hovermode="closest", bargap=0.25, barmode="stack",
    )  # fmt: skip
    labels = _two_lines(names)
    narrow = {"yaxis": {**frame["yaxis"], "tickvals": categories, "ticktext": labels, "tickfont": {"size": 10}}}
    answer = _answer(rows_out, total_out, total_in, gains_kwh)
    chart = Chart(
        traces=tuple(traces), layout=frame, height_px=130 + 27 * len(names), spoken=len(traces) - 1,
        lines=len(names), narrow=narrow,
        alternative=f"Bars of heat leaving the van by element, split by zone, and of heat coming in. {answer}",
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


def _ranked(items: Sequence[tuple[str, float]], total: float, rest_name: str) -> list[tuple[str, float]]:
    """Sums by name, the largest first, the small ones together."""
    sums: dict[str, float] = {}
    for name, q in items:
        sums[name] = sums.get(name, 0.0) + q
    ranked = sorted(sums.items(), key=lambda item: -item[1])
    large = [item for item in ranked if item[1] >= SMALL_SHARE * total]
    rest = total - sum(q for _, q in large)
    return [*large, (rest_name, rest)] if rest > SMALL_SHARE * 0.1 * total else large


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


def _read(names: Sequence[str], lengths: Sequence[float], told: Sequence[str]) -> dict[str, Any]:
    """The numbers at the ends of the bars, and the sentences that are read."""
    return {
        "type": "scatter", "mode": "text", "x": [round(q, 1) for q in lengths], "y": [theme.written(n) for n in names],
        "text": [f" {number(q)}" for q in lengths], "hovertext": [bubble(sentence) for sentence in told],
        "textposition": "middle right", "textfont": {"size": 12, "color": colour("ink")}, "cliponaxis": False,
        "hovertemplate": "%{hovertext}<extra></extra>", "showlegend": False, "name": "",
    }  # fmt: skip


def _told_out(group: str, q: float, total: float, out: Sequence[Loss]) -> str:
    here = sorted((loss for loss in out if loss[2] == group), key=lambda loss: -loss[3])
    zones: dict[str, float] = {}
    for zone, _, _, heat in here:
        zones[named(zone)] = zones.get(named(zone), 0.0) + heat
    parts = [f"{number(heat)} in the {zone}" for zone, heat in list(zones.items())[:3]]
    return (
        f"{number(q)} kWh left through {group}, {_part(q, total)} of all: {listed(parts)}"
        if parts
        else f"{number(q)} kWh"
    )


def _answer(
    rows_out: Sequence[tuple[str, float]], total_out: float, total_in: float, gains_kwh: Sequence[tuple[str, float]]
) -> str:
    biggest = [f"{name} ({percent(q / total_out)})" for name, q in rows_out[:3]]
    free = 1.0 - sum(q for name, q in gains_kwh if name.startswith("heater, ")) / total_in
    return (
        f"Out through {listed(biggest)}, of {number(total_out)} kWh in all; "
        f"sun, people, cooking and appliances bring {percent(max(free, 0.0))} of what comes in."
    )
