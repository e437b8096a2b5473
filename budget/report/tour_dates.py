"""The dates of a tour for a calendar: bottles swapped, last chances for gas, water filled, waste emptied."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from budget.answers.what_to_take import planned_swaps
from budget.moments import later, short
from budget.report.icalendar import Event, calendar
from budget.results.need import BATTERY, WITH_POWER
from budget.rounding import least

if TYPE_CHECKING:
    import pandas as pd

    from budget.answers.last_chance import Chance
    from budget.results.result import Result
    from budget.tour.model import Stop

HOUR = dt.timedelta(hours=1)
NOT_NEEDED = " Not needed: what is on board lasts with the reserve in hand."
INVENTED = "\nInvented plan and data."
SOME_L = 0.5  # less water than this is not worth a date


def calendar_of(result: Result, chances: tuple[Chance, ...], stamp: dt.datetime) -> str:
    """The calendar file of a result; ``chances`` are the last chances that the bottle plan found."""
    tour = result.tour
    series = f"{tour.title}\n{result.timeline.edges[0].isoformat()}"
    events = sorted((*_swaps(result), *_chances(result, chances), *_water(result)), key=lambda event: event.start)
    return calendar(f"{tour.title}: gas and water", series, events, stamp)


def _event(result: Result, stop: Stop, key: str, span: tuple[pd.Timestamp | dt.datetime, ...], *told: str) -> Event:
    summary, description, category = told
    return Event(
        key=key,
        start=span[0],
        end=span[1],
        summary=summary,
        place=stop.place,
        latitude_deg=stop.latitude_deg,
        longitude_deg=stop.longitude_deg,
        description=description + (INVENTED if result.tour.invented else ""),
        category=category,
    )


def _stop(result: Result, hour: int) -> Stop:
    return result.tour.stops[int(result.timeline.stop[hour])]


def _hour(result: Result, moment: pd.Timestamp | dt.datetime) -> int:
    return int(result.timeline.index.get_indexer([moment])[0])


def _swaps(result: Result) -> Iterator[Event]:
    count: dict[int, int] = {}
    power = f" {WITH_POWER.capitalize()}: as it stands the battery cuts out." if BATTERY in result.need.short_of else ""
    for swap in planned_swaps(result):
        count[swap.bottle] = count.get(swap.bottle, 0) + 1
        yield _event(
            result,
            _stop(result, _hour(result, swap.time)),
            f"swap\n{swap.bottle}\n{count[swap.bottle]}",
            (swap.time, later(swap.time, HOUR)),
            f"Swap gas bottle {swap.bottle} ({swap.name})",
            f"{swap.added_kg:.1f} kg brought; the simulated tour has {least(swap.left_kg, 1)} kg left in it. Weigh it "
            f"before.{'' if swap.needed else NOT_NEEDED}{power}",
            "gas",
        )


def _chances(result: Result, chances: tuple[Chance, ...]) -> Iterator[Event]:
    for number, chance in enumerate(chances, 1):
        again = "not again on this tour"
        if chance.next_open is not None:
            again = f"again from {short(chance.next_open)} at {chance.next_place}"
        yield _event(
            result,
            _stop(result, _hour(result, chance.open)),
            f"last chance\n{number}",
            (chance.open, chance.close),
            "Last chance for gas",
            f"Without a swap here gas is short from {short(chance.short_at)}; it can be had {again}.",
            "gas",
        )


def _water(result: Result) -> Iterator[Event]:
    for column, kind, words, told in (
        ("refill_l", "refill", "Fill fresh water", "to fill"),
        ("waste_emptied_l", "waste", "Empty waste water", "to empty"),
    ):
        litres = result.flows[column].to_numpy()
        for hour in np.flatnonzero(litres >= SOME_L).tolist():
            time = result.timeline.index[hour]
            yield _event(
                result,
                _stop(result, hour),
                f"{kind}\n{int(result.timeline.stop[hour])}",
                (time, later(time, HOUR)),
                words,
                f"About {litres[hour]:.0f} L {told}, on arrival.",
                "water",
            )
