"""How warm is it?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from budget.moments import day, hour_of_edge, moment
from budget.report import theme
from budget.report.scene import Scene, by_day, line
from budget.report.section import Chart, Section, Table
from budget.report.theme import axis, colour
from budget.report.words import named, times, values
from budget.rounding import rounded_down
from budget.wording import celsius, least_celsius, number

LAST_IN_LEGEND = 1001  # plotly ranks every trace 1000 unless told


def temperatures(
    scene: Scene,
    zones_c: Mapping[str, Sequence[float]],
    sensor_zone: str,
    setpoint_c: Sequence[float],
    outdoor_c: Sequence[float],
    gas_w: Sequence[float],
    electric_w: Sequence[float],
    hours_below: float | None = None,
) -> Section:
    """Air temperature of each zone at the n + 1 edges [°C] against setpoint and outdoors by hour [°C].

    ``gas_w`` and ``electric_w``: mean heat of burner and elements by hour, to air and water together [W];
    ``hours_below``: hours more than 0.5 K below setpoint while occupied.
    """
    edge, hour = times(scene.edges), times(scene.hours)
    zones = {name: np.asarray(temps, dtype=float) for name, temps in zones_c.items()}
    setpoint, outdoors = np.asarray(setpoint_c, dtype=float), np.asarray(outdoor_c, dtype=float)
    gas_kw, electric_kw = np.asarray(gas_w) / 1000.0, np.asarray(electric_w) / 1000.0
    order = [sensor_zone, *(name for name in zones if name != sensor_zone)]
    # Outdoors is a line below all others and without a fill: one to zero would cover every zone that freezes.
    grey = {"color": colour("grey"), "dash": "longdashdot", "width": 1.5}
    traces = [line(hour, values(outdoors, 1), "outdoors", 0, line=grey, legendrank=LAST_IN_LEGEND)]
    traces += [line(edge, values(zones[name], 1), named(name), k) for k, name in enumerate(order)]
    for trace, name in zip(traces[1:], order, strict=True):
        trace["line"]["width"] = 2.5 if name == sensor_zone else 1.2
        if name != sensor_zone:
            trace["meta"] = "aside"
    thin = {"color": colour("ink"), "dash": "solid", "width": 1.2, "shape": "hv"}
    traces.append(line(hour, values(setpoint, 1), "setpoint", 0, line=thin))
    traces.append(_heat(hour, gas_kw, "heat from gas", "red", ""))
    if electric_kw.max(initial=0.0) > 0.0:
        traces.append(_heat(hour, electric_kw, "heat from mains", "purple", "/"))
    sentences = [_sentence(h, zones, order, setpoint, outdoors, gas_kw, electric_kw) for h in range(len(hour))]
    traces += [scene.told(sentences, values(zones[sensor_zone][1:], 1)), *scene.shading_key()]
    low = min(0.0, float(outdoors.min()), *(float(t.min()) for t in zones.values()))
    frame = theme.layout(
        xaxis=scene.axis(anchor="y2"),
        yaxis=axis("temperature [°C]", domain=[0.36, 1.0], zeroline=True, range=[low - 2.0, 28.0]),
        yaxis2=axis("heat [kW]", domain=[0.0, 0.28], rangemode="tozero"),
        shapes=scene.shading(),
        bargap=0,
    )
    frame["yaxis"]["range"][1] = max(24.0, 2.0 + max(float(t.max()) for t in zones.values()))
    answer = _answer(scene, zones[sensor_zone], sensor_zone, outdoors, setpoint, hours_below)
    chart = Chart(
        traces=tuple(traces), layout=frame, height_px=520, on_tour_time=True,
        spoken=next(k for k, trace in enumerate(traces) if trace.get("opacity") == 0),
        alternative=f"Air temperature of each zone with setpoint and outdoors; below, the heater's output. {answer}",
    )  # fmt: skip
    return Section("How warm is it?", answer, chart, _table(scene, zones, order, outdoors, gas_kw + electric_kw))


def _heat(hour: list[str], heat_kw: np.ndarray, name: str, hue: str, pattern: str) -> dict[str, object]:
    fill = {"shape": pattern, "fgcolor": colour(hue), "bgcolor": colour("paper"), "size": 5, "solidity": 0.5}
    return {
        "type": "scatter", "mode": "lines", "x": hour, "y": values(heat_kw), "name": name, "yaxis": "y2",
        "hoverinfo": "skip", "stackgroup": "heat", "line": {"color": colour(hue), "width": 0.6, "shape": "hv"},
        **({"fillpattern": fill} if pattern else {"fillcolor": colour(hue)}),
    }  # fmt: skip


def _sentence(
    h: int,
    zones: Mapping[str, np.ndarray],
    order: Sequence[str],
    setpoint: np.ndarray,
    outdoors: np.ndarray,
    gas_kw: np.ndarray,
    electric_kw: np.ndarray,
) -> str:
    asked = "heating off" if np.isnan(setpoint[h]) else f"{celsius(setpoint[h])} asked for"
    others = "".join(f", {named(name)} {celsius(zones[name][h + 1], 1)}" for name in order[1:])
    heat = f"the heater gave {number(gas_kw[h] + electric_kw[h], 1)} kW"
    first = f"{named(order[0])} {celsius(zones[order[0]][h + 1], 1)} with {asked}"
    return f"{first}{others}, {celsius(outdoors[h], 1)} outdoors; {heat}"


def _answer(
    scene: Scene,
    sensor: np.ndarray,
    name: str,
    outdoors: np.ndarray,
    setpoint: np.ndarray,
    hours_below: float | None,
) -> str:
    coldest = int(np.argmin(sensor))
    told = (
        f"coldest {least_celsius(sensor[coldest])} in the {named(name)}, {moment(scene.edges[hour_of_edge(coldest)])}, "
    )
    told += f"with {celsius(float(outdoors[hour_of_edge(coldest)]))} outdoors"
    if hours_below is None:
        return f"{told[0].upper()}{told[1:]}."
    asked = max(int(np.count_nonzero(~np.isnan(setpoint))), 1)
    if hours_below < 0.5:
        return f"As warm as asked while you are in; {told}."
    share = 100.0 * hours_below / asked
    return f"Below the setpoint for {number(hours_below)} h ({number(max(share, 1.0))} % of heated hours); {told}."


def _table(
    scene: Scene, zones: Mapping[str, np.ndarray], order: Sequence[str], outdoors: np.ndarray, heat_kw: np.ndarray
) -> Table:
    days, of_day = by_day(scene.hours)
    rows = []
    for k, when in enumerate(days):
        here = of_day == k
        temps = [
            cell
            for name in order
            for cell in (
                number(rounded_down(zones[name][1:][here].min(), 0.1), 1),
                number(zones[name][1:][here].mean(), 1),
            )
        ]
        rows.append((day(when), number(outdoors[here].mean(), 1), *temps, number(heat_kw[here].sum(), 1)))
    names = [word for name in order for word in (f"{named(name)} lowest [°C]", f"{named(name)} mean [°C]")]
    return Table(("day", "outdoors mean [°C]", *names, "heat [kWh]"), tuple(rows), "By day.")
