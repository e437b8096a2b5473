"""How long does the charge last without sun? Each evening off the grid, and the drive that reaches the next."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from budget.answers.battery import AHEAD_H
from budget.answers.battery_words import MOST_DRIVE_H, no_stand
from budget.moments import short, short_day
from budget.report import theme
from budget.report.scene import Scene, line
from budget.report.section import Chart, Section, Table
from budget.report.theme import axis, colour
from budget.report.words import times
from budget.rounding import least
from budget.wording import least_percent

if TYPE_CHECKING:
    from budget.answers.battery import Stand

QUESTION = "How long does the charge last without sun?"
MOST_SHOWN_H = 7 * 24  # a bar that is longer runs out of the frame, or the line at 24 h would lie on the ground
REACHES, ENDS, SHORT, CUT_OUT = "to the next evening", "to the tour's end", "falls short", "cut out already"
LOOKS = {REACHES: ("blue", ""), ENDS: ("green", "/"), SHORT: ("red", "x")}
DRIVE_LOOKS = {"drive needed": ("orange", "\\"), f"over {MOST_DRIVE_H:g} h of drive": ("purple", ".")}
BAR_H = 16  # wide, from 18:00 on: the night
COLUMNS = (
    "evening", "place", "charge [%]", "lasts [h]", "nights without sun",
    "drive from 18:00 on to reach the next 18:00 [h]",
)  # fmt: skip


def charge_lasts(scene: Scene, stands: Sequence[Stand]) -> Section:
    """Hours that each evening's charge lasts with no sun, drive or hook-up, against the 24 h to the next evening [h].

    Below, where any is needed, the drive from that evening on that reaches the next [h]. An evening from which the
    charge outlasts the tour is as long as the tour then is.
    """
    if not stands:
        return Section(QUESTION, no_stand(scene.hours, np.array(scene.hooked, dtype=bool)))
    evenings = pd.DatetimeIndex([each.at for each in stands])
    to_end_h = [len(scene.hours) - int(at) for at in scene.edges.get_indexer(evenings)]
    lasts_h = [end if each.lasts_h is None else each.lasts_h for each, end in zip(stands, to_end_h, strict=True)]
    kinds = [_kind(each) for each in stands]
    x = times(evenings)
    top = min(max(1.15 * max(lasts_h), 1.25 * AHEAD_H), MOST_SHOWN_H)
    driven = any(each.drive_h != 0.0 for each in stands)
    traces = [
        _bars([x[k] for k in at], [lasts_h[k] for k in at], kind, LOOKS[kind], kind != ENDS)
        for kind in LOOKS
        for at in [[k for k, own in enumerate(kinds) if own == kind]]
        if at
    ]
    dead = times(evenings[[kind == CUT_OUT for kind in kinds]] + pd.Timedelta(hours=BAR_H / 2))
    if dead:
        mark = {"symbol": "x", "size": 11, "color": colour("red")}
        traces.append(line(dead, [0.04 * top] * len(dead), CUT_OUT, 3, mode="markers", marker=mark))
    traces.append(_to_reach(scene))
    if driven:
        traces += _drives(x, stands)
    sentences = [_told(each) for each in stands]
    traces.append(scene.told(sentences, [min(float(h), top) for h in lasts_h], evenings))
    spoken = len(traces) - 1
    traces += scene.shading_key()
    cut = f", cut at {top:g}" if max(lasts_h) > top else ""
    ticks_h = AHEAD_H if top > 2 * AHEAD_H else AHEAD_H / 4
    frame = theme.layout(
        xaxis=scene.axis(**({"anchor": "y2"} if driven else {})),
        yaxis=axis(f"charge lasts{cut} [h]", range=[0, top], dtick=ticks_h, domain=[0.4 if driven else 0.0, 1.0]),
        **({"yaxis2": axis("drive [h]", range=[0, 1.5 * _longest(stands)], domain=[0.0, 0.28])} if driven else {}),
        shapes=scene.shading(), barmode="overlay", uniformtext={"mode": "hide", "minsize": 9}, hoverdistance=40,
    )  # fmt: skip
    answer = _answer(stands)
    chart = Chart(
        traces=tuple(traces), layout=frame, height_px=460 if driven else 360, on_tour_time=True, spoken=spoken,
        alternative=f"Hours that the charge of each evening off the grid lasts, against the next evening. {answer}",
        narrow={"uniformtext": {"mode": "hide", "minsize": 40}},  # no room for numbers on the bars
    )  # fmt: skip
    rows = tuple(
        (short_day(each.at), each.place, least(100.0 * each.charge_share),
         "cut out" if each.cut_out else "to the end" if each.lasts_h is None else str(each.lasts_h),
         "to the end" if each.nights is None else least(each.nights, 1),
         f"over {MOST_DRIVE_H:g}" if each.drive_h is None else f"{each.drive_h:g}")
        for each in stands
    )  # fmt: skip
    caption = "From 18:00 on with no sun or hook-up, and no drive but that one."
    return Section(QUESTION, answer, chart, Table(COLUMNS, rows, caption))


def _kind(stand: Stand) -> str:
    if stand.cut_out:
        return CUT_OUT
    if stand.lasts_h is None:
        return ENDS
    return REACHES if stand.lasts_h >= AHEAD_H else SHORT


def _bars(
    x: list[str], y: Sequence[float], name: str, look: tuple[str, str], labelled: bool, y_axis: str = "y"
) -> dict[str, Any]:
    return {
        "type": "bar", "x": x, "y": list(y), "name": name, "yaxis": y_axis, "hoverinfo": "skip",
        "width": BAR_H * 3_600_000, "offset": 0, "marker": theme.bar_look(*look),
        **({"text": [f"{v:g}" for v in y], "textposition": "outside", "textangle": 0} if labelled else {}),
    }  # fmt: skip


def _to_reach(scene: Scene) -> dict[str, Any]:
    """What the charge should last: to the next evening, on the last day to the tour's end."""
    n = len(scene.hours)
    turn = max(n - AHEAD_H, 0)
    at = sorted({0, turn, n})
    style = {"color": colour("ink"), "dash": "dash", "width": 2}
    left: list[float | None] = [float(min(AHEAD_H, n - k)) for k in at]
    return line(times(scene.edges[at]), left, f"{AHEAD_H} h, or the end", 1, line=style)


def _drives(x: list[str], stands: Sequence[Stand]) -> list[dict[str, Any]]:
    needed, beyond = DRIVE_LOOKS
    drives: dict[str, list[tuple[str, float]]] = {
        needed: [(at, each.drive_h) for at, each in zip(x, stands, strict=True) if each.drive_h],
        beyond: [(at, MOST_DRIVE_H) for at, each in zip(x, stands, strict=True) if each.drive_h is None],
    }
    return [
        _bars([at for at, _ in drives[name]], [h for _, h in drives[name]], name, look, False, "y2")
        for name, look in DRIVE_LOOKS.items()
        if drives[name]
    ]


def _longest(stands: Sequence[Stand]) -> float:
    return max(MOST_DRIVE_H if each.drive_h is None else each.drive_h for each in stands)


def _told(stand: Stand) -> str:
    charge = least_percent(stand.charge_share)
    if stand.cut_out:
        told = f"{charge} of charge, the loads are cut out already"
    elif stand.lasts_h is None:
        return f"{charge} of charge lasts to the tour's end, with no sun, drive or hook-up"
    else:
        told = f"{charge} of charge lasts {stand.lasts_h} h, {least(stand.nights or 0.0, 1)} nights, with no sun, "
        told += "drive or hook-up"
    if stand.drive_h is None:
        why = f": {stand.why_not}" if stand.why_not else ""
        return f"{told}; not even {MOST_DRIVE_H:g} h of driving reach the next evening{why}"
    return f"{told}; a drive of {stand.drive_h:g} h reaches the next evening" if stand.drive_h else told


def _answer(stands: Sequence[Stand]) -> str:
    count = len(stands)
    short_of = [each for each in stands if each.drive_h != 0.0]
    begun = [each for each in stands if not each.cut_out and each.lasts_h is not None]
    worst = min(begun, key=lambda each: each.lasts_h or 0, default=None)
    evenings = "the one evening" if count == 1 else f"each of the {count} evenings"
    if not short_of:
        if worst is None:
            return f"To the tour's end, from {evenings} off the grid."
        return (
            f"To the next evening, from {evenings} off the grid: {worst.lasts_h} h at the least, from "
            f"{short(worst.at)} at {worst.place} with {least_percent(worst.charge_share)} of charge."
        )
    told = f"From {len(short_of)} of {count} evenings off the grid not to the next one"
    dead = [each for each in short_of if each.cut_out]
    if dead:
        told += f": on {len(dead)} the loads are cut out already, first on {short_day(dead[0].at)} at {dead[0].place}"
    if worst is not None and worst in short_of:
        told += f"{'; else' if dead else ':'} {worst.lasts_h} h at the least, from {short(worst.at)} at {worst.place}"
    drives = sorted(each.drive_h for each in short_of if each.drive_h is not None)
    if drives:
        span = f"{drives[0]:g}" if drives[0] == drives[-1] else f"{drives[0]:g} to {drives[-1]:g}"
        told += f"; a drive of {span} h from 18:00 on reaches it"
    hopeless = len(short_of) - len(drives)
    if hopeless:
        told += f"; on {hopeless} not even {MOST_DRIVE_H:g} h of driving do" if drives else (
            f"; not even {MOST_DRIVE_H:g} h of driving reach it")  # fmt: skip
    return f"{told}."
