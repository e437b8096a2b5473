"""Which schedule for the night? Panels side by side, from evening to morning."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from budget.answers.side_by_side import NightOf
from budget.report import theme
from budget.report.section import Chart, Section, Table
from budget.report.theme import axis, colour
from budget.report.words import bubble, values
from budget.rounding import rounded_down
from budget.wording import celsius, least_celsius, number

SAME = 0.02


def schedule_panels(nights: Sequence[NightOf]) -> Section:
    """Schedules compared over one night, each in a panel of the same scales; two abreast on a phone."""
    count = len(nights)
    traces = [trace for k, night in enumerate(nights) for trace in _panel(night, k, count)]
    each = len(traces) // count
    highest = max(max(night.heat_kw) for night in nights)
    shown_c = np.array([[*night.air_c, *night.setpoint_c] for night in nights])
    scales = ([float(np.nanmin(shown_c)) - 1.0, float(np.nanmax(shown_c)) + 1.0], [0.0, 1.1 * max(highest, 0.1)])
    wide, narrow = _axes(nights, count, scales), _axes(nights, 2, scales)
    answer = _answer(nights)
    if any(night.as_if_fed for night in nights):
        answer += " Reckoned with gas and charge to the morning, which run short on this tour."
    chart = Chart(
        tuple(traces), theme.layout(hovermode="closest", bargap=0.1, **wide),
        f"Panels of one night, one for each schedule. {answer}", 460,
        spoken=tuple(range(each - 1, len(traces), each)), narrow=narrow, narrow_px=380 * -(-count // 2),
    )  # fmt: skip
    wired = any(night.mains_kwh > 0.0 for night in nights)
    rows = tuple(
        (
            n.name,
            number(n.gas_kg, 2),
            *((number(n.mains_kwh, 1),) if wired else ()),
            number(n.fan_ah, 1),
            number(rounded_down(min(n.air_c), 0.1), 1),
            number(n.wake_c, 1),
        )
        for n in nights
    )
    mains = ("mains [kWh]",) if wired else ()
    table = Table(("schedule", "gas [kg]", *mains, "fan [Ah]", "coldest [°C]", "air on rising [°C]"), rows)
    return Section("Which schedule for the night?", answer, chart, table)


def _names(k: int, count: int) -> tuple[str, str, str]:
    """The axes of a panel: clock, temperature, heat."""
    return f"x{k + 1 if k else ''}", f"y{k + 1 if k else ''}", f"y{count + k + 1}"


def _panel(night: NightOf, k: int, count: int) -> list[dict[str, Any]]:
    x, y, below = _names(k, count)
    clock = list(night.clock)
    common = {"x": clock, "xaxis": x, "showlegend": k == 0, "hoverinfo": "skip"}
    sentences = [
        f"{night.name}, {at}: {celsius(air, 1)} with {'heating off' if np.isnan(asked) else celsius(asked)} asked for, "
        f"heater at {number(heat, 1)} kW"
        for at, air, asked, heat in zip(clock, night.air_c, night.setpoint_c, night.heat_kw, strict=True)
    ]
    return [
        {**common, "type": "scatter", "mode": "lines", "y": values(night.air_c, 1), "yaxis": y, "name": "air",
         "legendgroup": "air",
         "line": {"color": colour("blue"), "width": 2.5}},
        {**common, "type": "scatter", "mode": "lines", "y": values(night.setpoint_c, 1), "yaxis": y,
         "name": "setpoint", "legendgroup": "setpoint",
         "line": {"color": colour("ink"), "width": 1.5, "dash": "dot", "shape": "hv"}},
        {**common, "type": "bar", "y": values(night.heat_kw), "yaxis": below, "name": "heat",
         "legendgroup": "heat", "marker": theme.bar_look("red", "/")},
        {"type": "scatter", "mode": "markers", "opacity": 0, "x": clock, "y": values(night.air_c, 1), "xaxis": x,
         "yaxis": y, "hovertext": [bubble(s) for s in sentences], "hovertemplate": "%{hovertext}<extra></extra>",
         "showlegend": False, "name": ""},
    ]  # fmt: skip


def _axes(nights: Sequence[NightOf], columns: int, scales: tuple[list[float], list[float]]) -> dict[str, Any]:
    """Axes and headings of the panels, so many abreast."""
    count = len(nights)
    lines = -(-count // columns)
    frame: dict[str, Any] = {}
    headings = []
    hours, first_h = (6, 2) if columns > 2 else (8, 6)
    ticks = [at for at in nights[0].clock if int(at[:2]) % hours == first_h]
    for k, night in enumerate(nights):
        x, y, below = _names(k, count)
        column, row = k % columns, k // columns
        span = [(column + 0.04) / columns, (column + 0.96) / columns]
        top, tall = 1.0 - row / lines, 1.0 / lines
        first, last = column == 0, row == lines - 1
        low, heat, air = (1.0, 0.76, 0.69) if last else (0.9, 0.68, 0.62)  # of a row, from its top: ticks are below it
        frame[f"xaxis{x[1:]}"] = axis(
            "local time" if last else "",
            domain=span,
            anchor=below,
            type="category",
            showgrid=False,
            tickangle=0,
            tickvals=ticks,
        )
        frame[f"yaxis{y[1:]}"] = axis(
            "air [°C]" if first else "", domain=[top - air * tall, top - 0.12 * tall], anchor=x, range=scales[0],
            showticklabels=first,
        )  # fmt: skip
        frame[f"yaxis{below[1:]}"] = axis(
            "heat [kW]" if first else "", domain=[max(top - low * tall, 0.0), top - heat * tall], anchor=x,
            range=scales[1], showticklabels=first,
        )  # fmt: skip
        headings.append(
            {"text": f"<b>{theme.written(night.name)}</b><br>{_used(night)}, {number(night.fan_ah)} Ah",
             "x": sum(span) / 2, "y": top - 0.11 * tall, "xref": "paper", "yref": "paper", "yanchor": "bottom",
             "xanchor": "center", "showarrow": False}
        )  # fmt: skip
    return {**frame, "annotations": headings}


def _answer(nights: Sequence[NightOf]) -> str:
    """By the gas, or where none burns by the mains."""
    burns = any(night.gas_kg > 0.0 for night in nights)
    used = {id(night): night.gas_kg if burns else night.mains_kwh for night in nights}
    least, most = (choose(nights, key=lambda night: used[id(night)]) for choose in (min, max))
    least_used, most_used = used[id(least)], used[id(most)]
    if most_used <= 0.0 or least_used > (1.0 - SAME) * most_used:
        return f"They {'burn' if burns else 'take'} the same within 2 %: choose by comfort."
    saved = 100.0 * (1.0 - least_used / most_used)
    colder = f"{least_celsius(min(least.air_c))} at the coldest"
    woken = f"you rise at {celsius(least.wake_c)}"
    if celsius(least.wake_c) != celsius(most.wake_c):
        woken += f" instead of {celsius(most.wake_c)}"
    takes = f"burns {number(least_used, 2)} kg" if burns else f"takes {number(least_used, 1)} kWh of the mains"
    return f"“{least.name}” {takes}, {number(saved)} % less than “{most.name}”, is {colder}, and {woken}."


def _used(night: NightOf) -> str:
    """ "1.23 kg", "1.23 kg, 8.1 kWh", "8.1 kWh": gas and mains of the night."""
    mains = f"{number(night.mains_kwh, 1)} kWh" if night.mains_kwh > 0.0 else ""
    gas = f"{number(night.gas_kg, 2)} kg" if night.gas_kg > 0.0 or not mains else ""
    return ", ".join(part for part in (gas, mains) if part)
