"""The page for the fridge door: on paper the first, and all that is needed on the road."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from html import escape
from typing import TYPE_CHECKING

import numpy as np

from budget.moments import moment as moment_of
from budget.report import cautions, markup
from budget.report.first_out import Supply
from budget.report.headline import STANDING_STILL, empties, swap_table
from budget.report.section import Extras
from budget.results.need import BATTERY
from budget.rounding import rounded_up
from budget.wording import least_celsius, number

if TYPE_CHECKING:
    from budget.results.result import Result


def door(result: Result, extras: Extras, head: str, supplies: Sequence[Supply], sources: Sequence[str]) -> str:
    """Headline, swap plan, tonight, if the heater stops, on little current, assumptions, cautions, date and sources."""
    swaps = swap_table(result)
    plan = (
        markup.table(replace(swaps, caption=""), "Swap plan")
        if swaps is not None
        else "<p>No bottle is swapped on the way.</p>"
    )
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
    return (
        '<section class="door" aria-labelledby="door-q"><p class="of">For the fridge door: '
        f'{escape(result.tour.title)}</p><h2 id="door-q">{markup.shown(head)}</h2>'
        f"<p><b>{markup.shown(uncertainty)}</b></p>"
        f'<div class="cards">{shown}</div><div class="small"><h3>Cautions</h3>{markup.bullets(cautions.CAUTIONS)}'
        f"<p>{escape(made)} {escape(' '.join(sources))}</p></div></section>"
    )


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
