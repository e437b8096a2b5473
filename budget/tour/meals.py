"""Meals and warm-water draws, laid on the instants at which they happen."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from budget.spans import days_of_week, minute_of_day
from budget.tour.events import Absences
from budget.tour.itinerary import Itinerary
from budget.tour.model import Tour
from budget.tour.week import Floats, Ints, Mask

# Mains energy that cooks what a kilogram of gas cooks: lower heating value of propane 12.87 kWh/kg (46.34 MJ/kg)
# times 0.6, the ratio of what reaches the pan from a flame and from a hot plate (common practice, no source).
HOB_ELECTRIC_KWH_PER_KG = 12.87 * 0.6

USES = ("shower", "dishes")


@dataclass(frozen=True, eq=False)
class Meals:
    """The hob by the hour: gas burned, share vented, water boiled off, mains power as mean and while it is on."""

    gas_kg: Floats
    vented_share: Floats
    steam_g: Floats
    electric_w: Floats
    electric_peak_w: Floats


@dataclass(frozen=True, eq=False)
class Draws:
    """Warm-water draws in order of time."""

    second: Floats
    litres_l: Floats
    tap_c: Floats
    use: Ints
    index: Ints


def instants_s(plan: Itinerary, at: str, days: str) -> Iterator[float]:
    """Seconds after the tour's start of every time that a habit falls due within the tour, once each local day.

    A time that the clocks skip is taken an hour later; of one that occurs twice, the first counts.
    """
    minute, chosen = minute_of_day(at), days_of_week(days)
    first = plan.start.astimezone(plan.zone).date()
    for offset in range(plan.hours // 24 + 3):
        day = first + dt.timedelta(days=offset)
        if day.weekday() in chosen:
            local = dt.datetime(day.year, day.month, day.day, minute // 60, minute % 60, tzinfo=plan.zone)
            second = (local.astimezone(dt.UTC) - plan.start).total_seconds()
            if 0.0 <= second < plan.hours * 3600.0:
                yield second


def meals_of(tour: Tour, plan: Itinerary, at_home: Mask, hooked_up: Mask) -> Meals:
    """The hob by the hour; a meal is cooked when somebody is inside and parked in the hour it starts."""
    n = plan.hours
    gas_kg, vented_min, lit_min, steam_g, electric_w, peak_w = (np.zeros(n) for _ in range(6))
    for meal in tour.cooking:
        for start_s in instants_s(plan, meal.at, meal.days):
            if not at_home[int(start_s // 3600)]:
                continue
            end_s = start_s + 60.0 * meal.minutes_min
            for hour in range(int(start_s // 3600), min(n, int(np.ceil(end_s / 3600.0)))):
                if not at_home[hour]:
                    break
                minutes = (min(end_s, 3600.0 * (hour + 1)) - max(start_s, 3600.0 * hour)) / 60.0
                burned_kg = meal.gas_kg_per_h * minutes / 60.0
                if meal.electric_on_hookup and hooked_up[hour]:
                    electric_w[hour] += 1000.0 * HOB_ELECTRIC_KWH_PER_KG * burned_kg
                    peak_w[hour] = max(peak_w[hour], 1000.0 * HOB_ELECTRIC_KWH_PER_KG * meal.gas_kg_per_h)
                else:
                    gas_kg[hour] += burned_kg
                steam_g[hour] += meal.steam_g * minutes / meal.minutes_min
                vented_min[hour] += meal.vented_share * minutes
                lit_min[hour] += minutes
    vented = np.divide(vented_min, lit_min, out=np.zeros(n), where=lit_min > 0.0)
    return Meals(gas_kg, vented, steam_g, electric_w, peak_w)


def draws_of(tour: Tour, plan: Itinerary, parked: Mask, absences: Absences) -> Draws:
    """Showers and dishes that take place: parked and not away at their time."""
    happening = sorted(
        (second, number)
        for number, draw in enumerate(tour.draws)
        for second in instants_s(plan, draw.at, draw.days)
        if parked[int(second // 3600)] and not any(a <= second / 3600.0 < b for a, b, _ in absences)
    )
    taken = [tour.draws[number] for _, number in happening]
    return Draws(
        second=np.array([second for second, _ in happening], dtype=float),
        litres_l=np.array([draw.litres_l for draw in taken], dtype=float),
        tap_c=np.array([draw.tap_c for draw in taken], dtype=float),
        use=np.array([USES.index(draw.use) for draw in taken], dtype=np.int64),
        index=np.array([number for _, number in happening], dtype=np.int64),
    )
