"""Where does the heat go?"""

from __future__ import annotations

from collections.abc import Sequence

from budget.report import theme
from budget.report.section import Chart, Section, Table
from budget.report.theme import axis, colour
from budget.report.words import bubble, listed, named, number, percent

MOST_BARS = 14
LOSS, GAIN = ("blue", ""), ("orange", "/")
SMALL_SHARE = 0.01


def heat_loss(losses_kwh: Sequence[tuple[str, str, float]], gains_kwh: Sequence[tuple[str, float]]) -> Section:
    """Heat out by zone and element, and heat in by source, over the whole tour [kWh].

    ``losses_kwh``: zone, element, heat; an element that gave heat over the tour counts as a gain.
    """
    out = sorted(((z, e, q) for z, e, q in losses_kwh if q > 0.0), key=lambda item: -item[2])
    back = [(f"{named(e)}, {named(z)}", -q) for z, e, q in losses_kwh if q < 0.0]
    coming = sorted([(named(name), q) for name, q in gains_kwh if q > 0.0] + back, key=lambda item: -item[1])
    total_out = max(sum(q for *_, q in out), 1e-9)
    total_in = max(sum(q for _, q in coming), 1e-9)
    rows_out = _kept([(f"{named(e)}, {named(z)}", q) for z, e, q in out], total_out)
    rows_in = _kept(coming, total_in)
    traces = [
        _bars([(name, -q) for name, q in rows_out], "leaves the van", LOSS, total_out, "left through"),
        _bars(rows_in, "comes in", GAIN, total_in, "came from"),
    ]
    sentences = [text for trace in traces for text in trace["text_told"]]
    names = [name for trace in traces for name in trace["y"]]
    lengths = [length for trace in traces for length in trace["x"]]
    for trace in traces:
        del trace["text_told"]
    traces.append(
        {
            "type": "scatter", "mode": "markers", "x": lengths, "y": names, "text": sentences, "opacity": 0,
            "hovertemplate": "%{text}<extra></extra>", "showlegend": False, "name": "",
        }
    )  # fmt: skip
    for trace in traces[:2]:
        trace["x"] = [abs(length) for length in trace["x"]]
    traces[2]["x"] = [abs(length) for length in lengths]
    frame = theme.layout(
        xaxis=axis("heat over the tour [kWh]", rangemode="tozero"),
        yaxis=axis("", autorange="reversed", showgrid=False, categoryorder="array", categoryarray=names, ticksuffix=" "),
        hovermode="closest",
        bargap=0.25,
    )
    biggest = [f"{name} {percent(q / total_out)}" for name, q in rows_out[:3] if not name.startswith("all other")]
    heater = sum(q for name, q in coming if name.startswith("heater"))
    free = total_in - heater
    answer = (
        f"Most through {listed(biggest)}, of {number(total_out)} kWh in all; "
        f"sun, people and appliances bring {percent(free / total_in)} of what comes in."
    )
    chart = Chart(
        traces=tuple(traces), layout=frame, height_px=120 + 26 * len(names), spoken=2,
        alternative=f"Bars of heat leaving the van by element and zone, and of heat coming in by source. {answer}",
    )  # fmt: skip
    rows = tuple((named(z), named(e), number(q, 1), percent(q / total_out)) for z, e, q in out)
    rows += tuple(("in", name, number(q, 1), percent(q / total_in)) for name, q in coming)
    table = Table(("zone", "element or source", "heat [kWh]", "of all out or in"), rows, "Over the whole tour.")
    return Section("Where does the heat go?", answer, chart, table)


def _kept(items: list[tuple[str, float]], total: float) -> list[tuple[str, float]]:
    """The large ones, and the rest together."""
    large = [item for k, item in enumerate(items) if k < MOST_BARS and item[1] >= SMALL_SHARE * total]
    rest = sum(q for _, q in items[len(large) :])
    return [*large, ("all other", rest)] if rest > 0.0 else large


def _bars(
    items: list[tuple[str, float]], name: str, look: tuple[str, str], total: float, verb: str
) -> dict[str, object]:
    hue, pattern = look
    told = [
        bubble(f"{number(abs(q), 1)} kWh {verb} {item}, {number(100.0 * abs(q) / total)} % of all that {name}")
        for item, q in items
    ]
    label = "all other losses" if verb.startswith("left") else "all other gains"
    names = [theme.written(label if item == "all other" else item) for item, _ in items]
    return {
        "type": "bar", "orientation": "h", "x": [round(q, 2) for _, q in items], "y": names, "name": name,
        "hoverinfo": "skip", "text_told": told, "text": [number(abs(q)) for _, q in items], "textposition": "outside",
        "cliponaxis": False,
        "marker": {
            "color": colour(hue), "line": {"color": colour(hue), "width": 1},
            "pattern": {"shape": pattern, "fgcolor": colour(hue), "bgcolor": colour("paper"), "size": 7, "solidity": 0.4},
        },
    }  # fmt: skip
