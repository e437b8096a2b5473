"""Sections to HTML; everything that was typed is escaped here."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from html import escape, unescape
from typing import Any

from budget.report.section import Chart, Section, Sliders, Table
from budget.report.words import LONG_KEY
from budget.wording import plain

PAPER_PX, PAPER_SHARE = 360, 0.73  # of a tall figure on paper: two of them with their sentences share a sheet
FRAME_PX, ROW_PX = 110, 17  # of a figure with named rows, which keep a line of text each
SHORT_CELL = 18  # letters; a column of such words is not broken on paper, where it costs a line in each row
SWITCH = "Choose what is shown"
HINT = "Arrow keys read it out"
_UNIT = re.compile(
    r"(?<=\d)(?: (?=(?:°C|kg|%|kWh|kW|Wh|W/K|W|Ah|A|V|L|h|min|K|bar|m/s|km|m)(?![\w²]))|(?=%(?!\w)))|(?<=±) "
)
_MINUS = re.compile(r"(?<![\w.;-])-(?=\d)")


def embedded(data: Any) -> str:
    """JSON that may stand inside a script element."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


def shown(text: str) -> str:
    """Text for the page: escaped, minus signs true, and a number kept on one line with its unit."""
    return _UNIT.sub("\u00a0", _MINUS.sub("−", escape(text)))


def paragraphs(text: Sequence[str]) -> str:
    return "".join(f"<p>{shown(part)}</p>" for part in text)


def bullets(items: Sequence[str]) -> str:
    return "<ul>" + "".join(f"<li>{shown(item)}</li>" for item in items) + "</ul>" if items else ""


def table(content: Table, label: str) -> str:
    """A table; columns of numbers stand to the right, and a wide one scrolls by itself."""
    width = len(content.columns)
    numeric = [bool(content.rows) and all(_is_number(row[k]) for row in content.rows) for k in range(width)]
    sides = [
        ' class="n"' if right else ' class="s"' if all(len(str(row[k])) <= SHORT_CELL for row in content.rows) else ""
        for k, right in enumerate(numeric)
    ]
    head = "".join(
        f'<th scope="col"{side}>{escape(name)}</th>' for name, side in zip(content.columns, sides, strict=True)
    )
    body = "".join(
        "<tr>"
        + "".join(f"<td{side}>{shown(_cell(cell))}</td>" for cell, side in zip(row, sides, strict=True))
        + "</tr>"
        for row in content.rows
    )
    caption = f"<caption>{escape(content.caption)}</caption>" if content.caption else ""
    return (
        f'<div class="wide" tabindex="0" role="group" aria-label="{escape(label)}"><table>{caption}'
        f"<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>"
    )


def _is_number(cell: object) -> bool:
    return (isinstance(cell, (int, float)) and not isinstance(cell, bool)) or (
        isinstance(cell, str) and cell.lstrip("−")[:1].isdigit() and cell.replace("−", "").replace(".", "").isdigit()
    )


def _cell(cell: object) -> str:
    return plain(float(cell)) if isinstance(cell, (int, float)) and not isinstance(cell, bool) else str(cell)


def section(content: Section, name: str) -> str:
    """A section under its question, the answer beneath, then the figure and the table behind it."""
    parts = [
        f'<section aria-labelledby="{name}-q"><div class="whole"><h2 id="{name}-q">{escape(content.title)}</h2>',
        f'<p class="answer">{shown(content.answer)}</p>',
    ]
    if content.sliders is not None:
        parts.append(_sliders(content.sliders, name))
    if content.figure is not None:
        parts.append(_figure(content.figure, name, content.title))
    parts.append("</div>")
    parts.append(paragraphs(content.text))
    if content.behind:
        parts.append(f"<details><summary>What is taken for granted</summary>{paragraphs(content.behind)}</details>")
    if content.table is not None:
        label = f"Table: {content.title}"
        parts.append(f"<details><summary>The numbers in a table</summary>{table(content.table, label)}</details>")
    return "".join(parts) + "</section>"


def _figure(chart: Chart, name: str, question: str) -> str:
    reachable = chart.spoken is not None
    role = 'role="application" aria-roledescription="chart" tabindex="0"' if reachable else 'role="img"'
    label = f"{chart.alternative} {HINT}." if reachable else chart.alternative
    keys = [str(trace.get("name", "")) for trace in chart.traces if trace.get("showlegend", True)]
    long = any(len(key) > LONG_KEY for key in keys)
    rows = (len(keys) if long else -(-len(keys) // 2)) if chart.layout.get("showlegend") else 0
    low = f";--low:{chart.narrow_px}px" if chart.narrow_px is not None else ""
    legible = FRAME_PX + ROW_PX * chart.lines if chart.lines else round(PAPER_SHARE * chart.height_px)
    squat = max(PAPER_PX, legible)
    paper = min(chart.height_px, squat)
    told = f'<p class="told" id="{name}-told" aria-live="polite"></p>' if reachable else ""
    style = f"--tall:{chart.height_px}px;--paper:{paper}px;--rows:{rows}{low}"
    return (
        f'<figure><div class="chart" id="{name}"{" data-long" if long else ""} style="{style}" {role} '
        f'aria-label="{escape(label)}"></div>{told}{_switches(chart, name, question)}</figure>'
    )


def _switches(chart: Chart, name: str, question: str) -> str:
    """A button for each word of the legend that stands for something drawn, since a legend is not reached by keys."""
    curves: dict[str, list[str]] = {}
    in_turn = sorted(enumerate(chart.traces), key=lambda item: int(item[1].get("legendrank", 1000)))
    for k, trace in in_turn:
        key = str(trace.get("legendgroup") or trace.get("name", ""))
        listed = trace.get("showlegend", True) and list(trace.get("x", ())) != [None]
        if key and (listed or key in curves):
            curves.setdefault(key, []).append(str(k))
    if not chart.layout.get("showlegend") or len(curves) < 2:
        return ""
    buttons = "".join(
        f'<button type="button" aria-pressed="true" data-curves="{" ".join(at)}">{escape(unescape(key))}</button>'
        for key, at in curves.items()
    )
    label = escape(f"Shown in the figure: {question}")
    return (
        f'<details class="screen switches" data-of="{name}"><summary>{SWITCH}<span></span></summary>'
        f'<div class="tools" role="group" aria-label="{label}">{buttons}</div></details>'
    )


def _sliders(sliders: Sliders, name: str) -> str:
    rows = []
    for k, (axis, unit, values) in enumerate(sliders.axes):
        rows.append(
            f'<div class="slider"><label for="{name}-s{k}">{escape(axis)}</label>'
            f'<input type="range" id="{name}-s{k}" min="0" max="{len(values) - 1}" step="1" value="{sliders.start[k]}">'
            f'<output data-axis="{k}" for="{name}-s{k}">{escape(f"{plain(values[sliders.start[k]])} {unit}")}</output>'
            "</div>"
        )
    answers = "".join(
        f'<li><b data-answer="{k}"></b><span>{escape(answer)}</span></li>'
        for k, (answer, *_) in enumerate(sliders.answers)
    )
    grid = {
        "axes": sliders.axes,
        "answers": sliders.answers,
        "label": {axis: list(words) for axis, words in sliders.label.items()},
    }
    return (
        f'<div class="screen" role="group" aria-label="sliders" data-sliders="{name}-grid">{"".join(rows)}'
        f'<ul class="sums" aria-live="polite">{answers}</ul></div>'
        f'<script type="application/json" id="{name}-grid">{embedded(grid)}</script>'
    )
