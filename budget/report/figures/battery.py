"""Does the battery carry the heater's fan?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from budget.moments import day, hour_of_edge, moment
from budget.report import theme
from budget.report.scene import Scene, by_day, line
from budget.report.section import Chart, Section, Table
from budget.report.theme import axis, colour
from budget.report.words import keyed, named, times, values
from budget.rounding import need, rounded_down
from budget.wording import least_percent, number, percent

FAN, REST = "heater fan", "all other loads"
SOURCE_LOOKS = {"solar": ("orange", "+"), "alternator": ("green", "\\"), "mains charger": ("purple", "x")}
OTHER_LOOKS = (("blue", "/"), ("sky", "."), ("grey", "-"), ("purple", "|"), ("green", "+"), ("orange", "x"))
MOST_LOADS = 4


def battery(
    scene: Scene,
    charge_share: Sequence[float],
    cut_out_share: float | Sequence[float],
    sources_ah: Mapping[str, Sequence[float]],
    loads_ah: Mapping[str, Sequence[float]],
    hours_cut_out: float = 0.0,
    cut_out_from: pd.Timestamp | None = None,
    reconnect_share: Sequence[float] | None = None,
) -> Section:
    """State of charge at the n + 1 edges [0–1], and by hour what sources bring and loads take [Ah].

    ``cut_out_share``: where the cut-out stands, which the cold moves [0–1]. The load named "heater fan" is picked out;
    the smallest loads are put together. ``cut_out_from``: the first hour that is cut out; ``reconnect_share``: where it
    comes on again [0–1].
    """
    charge = 100.0 * np.asarray(charge_share, dtype=float)
    cut_out = np.broadcast_to(100.0 * np.asarray(cut_out_share, dtype=float), charge.shape)
    days, of_day = by_day(scene.hours)
    sources = {name: _daily(flow, of_day, len(days)) for name, flow in sources_ah.items()}
    loads = _gathered({name: _daily(flow, of_day, len(days)) for name, flow in loads_ah.items()})
    noon = times(pd.DatetimeIndex([when + pd.Timedelta(hours=12) for when in days]))
    traces = [line(times(scene.edges), values(charge, 1), "state of charge", 0)]
    limit = {"color": colour("red"), "dash": "dash", "width": 2}
    traces.append(line(times(scene.edges), values(cut_out, 1), f"cut-out, {_span(cut_out)}", 3, line=limit))
    if hours_cut_out > 0.0 and reconnect_share is not None:
        again = 100.0 * np.asarray(reconnect_share, dtype=float)
        thin = {"color": colour("red"), "dash": "dot", "width": 1.2}
        name = f"on again, {_span(again)}"
        traces.append(line(times(scene.edges), values(again, 1), name, 3, line=thin))
    traces += [
        _bars(noon, flow, name, *SOURCE_LOOKS.get(name, ("green", ""))) for name, flow in sources.items() if flow.any()
    ]
    rank = 0
    for name, flow in loads.items():
        look = ("red", "")
        if name != FAN:
            look, rank = OTHER_LOOKS[rank % len(OTHER_LOOKS)], rank + 1
        traces.append(_bars(noon, -flow, name, *look))
    none = np.zeros(len(days))
    fan, used, come = loads.get(FAN, none), sum(loads.values(), none), sum(sources.values(), none)
    sentences = [
        f"battery at {charge[h + 1]:.0f} %; this day the fan takes "
        f"{number(fan[of_day[h]])} Ah of {number(used[of_day[h]])} Ah used, and {number(come[of_day[h]])} Ah come in"
        for h in range(len(scene.hours))
    ]
    traces += [scene.told(sentences, values(charge[1:], 1)), *scene.shading_key()]
    frame = theme.layout(
        xaxis=scene.axis(anchor="y2"),
        yaxis=axis("charge [%]", domain=[0.66, 1.0], range=[0, 104]),
        yaxis2=axis("Ah a day, in + out −", domain=[0.0, 0.56], zeroline=True),
        shapes=scene.shading(),
        bargap=0.25,
    )
    answer = _answer(scene, charge, loads, hours_cut_out, cut_out_from)
    chart = Chart(
        traces=tuple(traces), layout=frame, height_px=560, on_tour_time=True,
        spoken=next(k for k, trace in enumerate(traces) if trace.get("opacity") == 0),
        alternative=f"State of charge over the tour; below, amp-hours in and out by day. {answer}",
    )  # fmt: skip
    return Section(
        "Does the battery carry the heater's fan?", answer, chart, _table(days, of_day, charge, sources, loads)
    )


def _span(level: np.ndarray) -> str:
    stands = {need(each) for each in (level.min(), level.max())}
    return f"{' to '.join(sorted(stands, key=int))} %"


def _daily(flow: Sequence[float], of_day: np.ndarray, days: int) -> np.ndarray:
    return np.bincount(of_day, weights=np.asarray(flow, dtype=float), minlength=days)


def _gathered(loads: Mapping[str, np.ndarray]) -> dict[str, np.ndarray]:
    """The fan first, then the largest loads, then the rest together."""
    used = {name: flow for name, flow in loads.items() if flow.sum() > 0.0}
    rest = sorted((name for name in used if name != FAN), key=lambda name: -float(used[name].sum()))
    kept = {name: used[name] for name in ([FAN] if FAN in used else []) + rest[: MOST_LOADS - 1]}
    small = rest[MOST_LOADS - 1 :]
    if len(small) == 1:
        kept[small[0]] = used[small[0]]
    elif small:
        kept[REST] = np.sum([used[name] for name in small], axis=0)
    return kept


def _bars(noon: list[str], flow: np.ndarray, name: str, hue: str, pattern: str) -> dict[str, object]:
    marker = {"color": colour(hue), "line": {"color": colour(hue), "width": 1}}
    if pattern:
        marker["pattern"] = {
            "shape": pattern,
            "fgcolor": colour(hue),
            "bgcolor": colour("paper"),
            "size": 6,
            "solidity": 0.4,
        }
    return {
        "type": "bar", "x": noon, "y": values(flow, 1), "name": theme.written(keyed(named(name))), "yaxis": "y2",
        "hoverinfo": "skip", "marker": marker, "width": 0.8 * 86_400_000,
    }  # fmt: skip


def _answer(
    scene: Scene,
    charge: np.ndarray,
    loads: Mapping[str, np.ndarray],
    hours_cut_out: float,
    cut_out_from: pd.Timestamp | None,
) -> str:
    used = sum(float(flow.sum()) for flow in loads.values())
    fan = float(loads[FAN].sum()) if FAN in loads else 0.0
    days = max(len(scene.hours) / 24.0, 1.0)
    share = f"the fan takes {number(fan / days)} Ah a day, {percent(fan / max(used, 1e-9))} of all use"
    lowest = int(np.argmin(charge))
    if hours_cut_out > 0.0:
        when = "" if cut_out_from is None else f", first on {moment(cut_out_from)}"
        return f"No: the battery cuts out for {need(max(hours_cut_out, 1.0))} h{when}, and the heater stops; {share}."
    return f"Yes: lowest {least_percent(charge[lowest] / 100.0)}, {moment(scene.edges[hour_of_edge(lowest)])}; {share}."


def _table(
    days: list[pd.Timestamp],
    of_day: np.ndarray,
    charge: np.ndarray,
    sources: Mapping[str, np.ndarray],
    loads: Mapping[str, np.ndarray],
) -> Table:
    names = [f"{named(name)} in [Ah]" for name in sources] + [f"{named(name)} [Ah]" for name in loads]
    flows = [*sources.values(), *loads.values()]
    rows = tuple(
        (day(when), number(rounded_down(charge[1:][of_day == k].min())), *(number(flow[k], 1) for flow in flows))
        for k, when in enumerate(days)
    )
    return Table(("day", "lowest charge [%]", *names), rows, "By day.")
