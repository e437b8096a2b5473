"""The page for the fridge door: on paper the first, and all that is needed on the road."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Sequence
from dataclasses import replace
from html import escape, unescape
from typing import TYPE_CHECKING

import numpy as np

from budget.moments import moment as moment_of
from budget.report import cautions, markup
from budget.report.first_out import Supply
from budget.report.headline import STANDING_STILL, empties, swap_table
from budget.report.section import Extras, Table
from budget.results.need import BATTERY
from budget.rounding import rounded_up
from budget.wording import least_celsius, number

if TYPE_CHECKING:
    from budget.results.result import Result

MOST_SWAPS = 10  # rows of the swap plan; the whole stands in the report
# The sheet at its usual type: letters that a line surely holds, and heights of lines [px].
SHEET_PX = 1050.0  # A4 has 1032 between its margins; lines are reckoned too many
HEAD_LETTERS, HEAD_PX = 52, 26.0
CARD_LETTERS, LINE_PX, HEADING_LINES = 48, 15.6, 2
CELL_LETTERS = 10
SMALL_LETTERS, SMALL_PX = 56, 13.4
LEAST_TYPE = 0.7  # 6.3 pt
_ITEM, _TAG = re.compile(r"</(?:li|p|tr)>"), re.compile(r"<[^>]*>")


def door(result: Result, extras: Extras, head: str, supplies: Sequence[Supply], sources: Sequence[str]) -> str:
    """Headline, swap plan, tonight, if the heater stops, on little current, assumptions, cautions, date and sources."""
    swaps = swap_table(result)
    plan = _swap_plan(swaps) if swaps is not None else "<p>No bottle is swapped on the way.</p>"
    if BATTERY in result.summary["gas"]["short_of"]:
        plan += f"<p>{markup.shown(STANDING_STILL)}</p>"
    runs = [f"{supply.name}: {supply.told}" for supply in supplies]
    cards = [
        ("Swap plan", plan + f"<p>{markup.shown(empties(result))}</p>"),
        ("What runs out first", markup.bullets(runs)),
        ("Coldest night", markup.bullets(extras.tonight or (coldest_night(result),))),
        ("If the heater stops", markup.bullets(extras.heater_stops)),
        ("On 6 or 10 A", markup.bullets(extras.on_hookup)),
        ("What matters most", markup.bullets((*extras.assumptions[:3], *_measure(extras)))),
    ]
    if extras.tonight:
        cards[2] = ("Tonight", cards[2][1])
    shown = "".join(f"<div><h3>{escape(title)}</h3>{body}</div>" for title, body in cards if body)
    uncertainty = extras.uncertainty or cautions.NO_ODDS
    made = f"Made on {dt.date.today():%d %B %Y}."
    size = type_share(head, uncertainty, [body for _, body in cards if body], [*cautions.CAUTIONS, made, *sources])
    return (
        f'<section class="door" style="--type:{size:.2f}" aria-labelledby="door-q"><p class="of">For the fridge door: '
        f'{escape(result.tour.title)}</p><h2 id="door-q">{markup.shown(head)}</h2>'
        f"<p><b>{markup.shown(uncertainty)}</b></p>"
        f'<div class="cards">{shown}</div><div class="small"><h3>Cautions</h3>{markup.bullets(cautions.CAUTIONS)}'
        f"<p>{escape(made)} {escape(' '.join(sources))}</p></div></section>"
    )


def _swap_plan(swaps: Table) -> str:
    """The swaps as a table, of many the first, with a word on where the others stand."""
    more = len(swaps.rows) - MOST_SWAPS
    listed = markup.table(replace(swaps, caption="", rows=swaps.rows[:MOST_SWAPS]), "Swap plan")
    if more <= 0:
        return listed
    others = f"{more} more follow; they stand" if more > 1 else "One more follows; it stands"
    return f"{listed}<p>{others} under Where are bottles swapped?</p>"


def type_share(head: str, uncertainty: str, cards: Sequence[str], small: Sequence[str]) -> float:
    """Size of the type on paper that keeps the page on one sheet, as a share of its usual one.

    Reckoned from the number of letters: lines of each size by what a line holds, two columns of which the longer is
    ahead of the mean by a third of the longest card. Both a line's letters and its height go with the size.
    """
    lines = [sum(map(_item_lines, _ITEM.split(card))) + HEADING_LINES for card in cards]
    height_px = HEAD_PX * _lines(head, HEAD_LETTERS) + LINE_PX * (1 + _lines(uncertainty, 2 * CARD_LETTERS))
    height_px += LINE_PX * (0.5 * sum(lines) + max(lines, default=0) / 3.0)
    height_px += SMALL_PX * (2 + 0.5 * sum(_lines(text, SMALL_LETTERS) for text in small))
    return min(1.0, max(LEAST_TYPE, math.sqrt(SHEET_PX / height_px)))


def _item_lines(item: str) -> int:
    """Lines of a list's item, a paragraph or a table's row, whose highest cell tells."""
    cells = item.split("</td>")
    return _lines(item, CARD_LETTERS) if len(cells) == 1 else max(_lines(cell, CELL_LETTERS) for cell in cells)


def _lines(text: str, letters: int) -> int:
    return math.ceil(len(unescape(_TAG.sub("", text)).strip()) / letters)


def _measure(extras: Extras) -> tuple[str, ...]:
    return (f"What helps most: {extras.measurement}",) if extras.measurement else ()


def coldest_night(result: Result) -> str:
    """A sentence on the coldest hour outdoors and what it asks of gas."""
    outdoor = result.hourly["outdoor_c"].to_numpy()
    coldest = int(np.argmin(outdoor))
    first = max(0, min(coldest - 12, len(outdoor) - 24))  # a whole day, also where the tour begins or ends near it
    gas_kg = float(result.need.used_kg[first : first + 24].sum())
    place = result.tour.stops[int(result.timeline.stop[coldest])].place
    when = moment_of(result.timeline.edges[coldest])
    takes = number(rounded_up(gas_kg, 0.1), 1)
    return f"{least_celsius(float(outdoor[coldest]))} at {place}, {when}; the 24 h around it take {takes} kg of gas."
