"""One self-contained page: it opens with no network, and its first printed sheet goes on the fridge door."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from html import escape
from importlib.resources import files
from typing import TYPE_CHECKING

from budget.report import markup, theme
from budget.report.door import door
from budget.report.first_out import Supply, first_out, strip
from budget.report.headline import empties, headline, sums, swap_table
from budget.report.provenance import assumptions, sources
from budget.report.reading import figures_of
from budget.report.scene import Scene
from budget.report.section import Extras, Section

if TYPE_CHECKING:
    from budget.results.result import Result

TILES_IN_A_ROW = 6  # at most, on a wide page
_SLOT = re.compile(r"\{\{(\w+)\}\}")
TOOLS = (("nearer", "Closer"), ("wider", "Wider"), ("earlier", "Earlier"), ("later", "Later"), ("whole", "Whole tour"))
# The order in which a reader asks; what is not listed follows.
QUESTIONS = (
    "How long does the gas last?",
    "How many bottles for how much confidence?",
    "How far can the gas differ from the plan?",
    "What matters most?",
    "Which schedule for the night?",
    "What if it were set otherwise?",
    "How warm is it?",
    "Does the battery carry the heater's fan?",
    "How long does the charge last without sun?",
    "Where does the heat go?",
    "What do the screens save?",
    "What freezes?",
    "If the heater stops, how fast does it get cold?",
    "What gets damp?",
    "Does the water last?",
    "What does it cost?",
    "Why does a pressure gauge say nothing?",
)


def page(result: Result, extras: Extras, sections: Sequence[Section] = ()) -> str:
    """The whole page as text."""
    from plotly.offline import get_plotlyjs

    scene = Scene.of(result.timeline)
    supplies = first_out(result)
    head = extras.headline or headline(result, supplies)
    origin = sources(result)
    shown = sorted([*figures_of(result, scene), *sections], key=_turn)
    named = {f"figure-{k + 1}": section for k, section in enumerate(shown)}
    body = [
        _header(result, head, supplies),
        _tools(),
        *(markup.section(section, name) for name, section in named.items()),
        door(result, extras, head, supplies, origin),
        markup.section(assumptions(result), "assumptions"),
        _notices(result.notices),
        f"<footer>{markup.paragraphs(origin)}</footer>",
    ]
    figures = {name: section.figure.spec() for name, section in named.items() if section.figure is not None}
    return _filled(
        {
            "title": escape(f"{result.tour.title}: gas, heat and power"),
            "style": theme.style_sheet() + _template("page.css"),
            "body": "\n".join(body),
            "palettes": markup.embedded(theme.COLOURS),
            "figures": markup.embedded(figures),
            "plotly": get_plotlyjs().replace("</script", "<\\/script"),
            "script": _template("page.js"),
        }
    )


def _turn(section: Section) -> int:
    return QUESTIONS.index(section.title) if section.title in QUESTIONS else len(QUESTIONS)


def _template(name: str) -> str:
    return (files("budget.report") / "templates" / name).read_text(encoding="utf-8")


def _filled(slots: dict[str, str]) -> str:
    """The template with its slots filled, each once: what fills one is not read again."""
    return _SLOT.sub(lambda slot: slots[slot[1]], _template("page.html"))


def _header(result: Result, head: str, supplies: Sequence[Supply]) -> str:
    edges = result.timeline.edges
    when = f"{edges[0].day} {edges[0]:%B %Y} to {edges[-1].day} {edges[-1]:%B %Y}"
    invented = " Invented plan and data." if result.tour.invented else ""
    told = sums(result)
    tiles = "".join(f"<li><b>{markup.shown(value)}</b><span>{markup.shown(what)}</span></li>" for value, what in told)
    in_a_row = math.ceil(len(told) / math.ceil(len(told) / TILES_IN_A_ROW))
    swaps = swap_table(result)
    plan = markup.table(swaps, "Bottle swaps") if swaps is not None else "<p>No bottle is swapped on the way.</p>"
    return (
        f'<header><p class="of">{escape(result.tour.title)}, {escape(when)}.{invented}</p>'
        f"<h1>{markup.shown(head)}</h1>"
        '<div class="tools screen"><button type="button" id="print">Print, fridge-door page first</button>'
        '<button type="button" id="theme">Light or dark</button></div>'
        f'<ul class="sums" style="--in-a-row:{in_a_row}">{tiles}</ul></header>'
        f'<section aria-labelledby="first-q"><h2 id="first-q">What runs out first?</h2>{strip(supplies)}</section>'
        f'<section aria-labelledby="swap-q"><h2 id="swap-q">Where are bottles swapped?</h2>{plan}'
        f"<p>{markup.shown(empties(result))}</p></section>"
    )


def _tools() -> str:
    buttons = "".join(f'<button type="button" data-tool="{name}">{label}</button>' for name, label in TOOLS)
    return (
        '<section class="screen" aria-labelledby="figures-q"><h2 id="figures-q">Hour by hour</h2>'
        f'<div class="tools" role="group" aria-label="Time shown in every figure">{buttons}'
        "<p>These move the time of every figure; so does dragging across one. Shaded: on hook-up.</p></div></section>"
    )


def _notices(notices: Sequence[str]) -> str:
    if not notices:
        return ""
    return (
        '<section aria-labelledby="notices-q"><h2 id="notices-q">What to know about this run</h2>'
        f"{markup.bullets(notices)}</section>"
    )
