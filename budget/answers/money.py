"""What the tour's energy costs, by fuel and week, from the prices given; nothing is assumed where none is given."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from budget.answers.detail import Detail
from budget.spans import Span

if TYPE_CHECKING:
    from budget.answers.prepared import Prepared
    from budget.results.result import Result

DAYS_A_WEEK = 7


@dataclass(frozen=True, kw_only=True)
class Purchase:
    """Gas bought at one stop, or electricity taken there; ``cost`` is None where the tour gives no price."""

    fuel: str
    place: str
    time: dt.datetime
    amount_kg: float | None = None
    amount_kwh: float | None = None
    price_per_kg: float | None = None
    price_per_kwh: float | None = None
    cost: float | None = None


@dataclass(frozen=True, kw_only=True)
class Week:
    """One week of the tour, counted from its start. ``gas_used_kg`` is burned, ``gas_bought_kg`` paid for."""

    start: dt.datetime
    gas_used_kg: float
    gas_bought_kg: float
    gas_cost: float
    mains_kwh: float
    mains_cost: float
    unpriced_gas_kg: float
    unpriced_mains_kwh: float


@dataclass(frozen=True, kw_only=True)
class Money:
    """The answer. ``total_cost`` is None where nothing that was bought has a price.

    A bottle exchanged is paid for by its full contents; what was on board at departure is paid already.
    """

    purchases: tuple[Purchase, ...]
    weeks: tuple[Week, ...]
    gas_cost: float | None
    mains_cost: float | None
    total_cost: float | None
    unpriced_gas_kg: float
    unpriced_mains_kwh: float
    sentences: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """JSON-ready; every amount with its unit, costs in the money of the prices given."""
        return asdict(self)


def answer(source: Result | Prepared | Detail) -> Money:
    """Cost of one run of the tour."""
    run = Detail.of(source)
    bought = [*_gas(run), *_mains(run)]
    bought.sort(key=lambda purchase: purchase.time)
    gas = [p for p in bought if p.fuel == "gas"]
    mains = [p for p in bought if p.fuel == "electricity"]
    gas_cost, mains_cost = _sum(gas), _sum(mains)
    unpriced_kg = sum(p.amount_kg or 0.0 for p in gas if p.cost is None)
    unpriced_kwh = sum(p.amount_kwh or 0.0 for p in mains if p.cost is None)
    total = _sum(bought)
    return Money(
        purchases=tuple(bought),
        weeks=tuple(_weeks(run)),
        gas_cost=gas_cost,
        mains_cost=mains_cost,
        total_cost=total,
        unpriced_gas_kg=unpriced_kg,
        unpriced_mains_kwh=unpriced_kwh,
        sentences=tuple(_sentences(gas_cost, mains_cost, total if bought else None, unpriced_kg, unpriced_kwh)),
    )


def _sum(purchases: list[Purchase]) -> float | None:
    """Cost of those with a price; None when there are purchases and none has one."""
    priced = [p.cost for p in purchases if p.cost is not None]
    return sum(priced) if priced or not purchases else None


def gas_price_per_kg(run: Detail, hour: int, bottle: int) -> float | None:
    """Price of a bottle system where the van stands in an hour, of those open then; None when not given."""
    stop = run.tour.stops[int(run.timeline.stop[hour])]
    start, name = run.index[hour], run.van.gas.bottles[bottle].name
    minute = start.hour * 60
    for exchange in stop.exchange:
        spans: tuple[Span, ...] = exchange.open
        is_open = any(span.share_of(start.weekday(), minute, minute + 60) > 0.0 for span in spans)
        if exchange.bottle == name and is_open:
            return exchange.price_per_kg
    return None


def _gas(run: Detail) -> list[Purchase]:
    found = []
    for bottle in range(run.bottles):
        added = run.flow("swap_in_kg", bottle) + run.flow("swap_in_butane_kg", bottle)
        for hour in np.flatnonzero(run.flow("swaps", bottle) > 0.0).tolist():
            price = gas_price_per_kg(run, hour, bottle)
            kg = float(added[hour])
            found.append(
                Purchase(
                    fuel="gas",
                    place=run.place(hour),
                    time=run.time(hour),
                    amount_kg=kg,
                    price_per_kg=price,
                    cost=None if price is None else price * kg,
                )
            )
    return found


def _mains(run: Detail) -> list[Purchase]:
    kwh = run.flow("mains_j") / 3.6e6
    found = []
    for number, stop in enumerate(run.tour.stops):
        here = (run.timeline.stop == number) & (kwh > 0.0)
        if not here.any():
            continue
        amount = float(kwh[here].sum())
        found.append(
            Purchase(
                fuel="electricity",
                place=stop.place,
                time=run.time(int(np.flatnonzero(here)[0])),
                amount_kwh=amount,
                price_per_kwh=stop.hookup_per_kwh,
                cost=None if stop.hookup_per_kwh is None else amount * stop.hookup_per_kwh,
            )
        )
    return found


def _weeks(run: Detail) -> list[Week]:
    used = run.flow("gas_out_kg") + run.flow("gas_out_butane_kg")
    kwh = run.flow("mains_j") / 3.6e6
    gas = _gas(run)
    hour_price = [run.tour.stops[int(stop)].hookup_per_kwh for stop in run.timeline.stop]
    priced = np.array([price is not None for price in hour_price])
    price = np.array([price or 0.0 for price in hour_price])
    date = run.index.tz_localize(None).normalize()
    day = (date - date[0]).days.to_numpy()
    found = []
    for week in range(int(day[-1]) // DAYS_A_WEEK + 1):
        here = day // DAYS_A_WEEK == week
        hours = np.flatnonzero(here)
        begin, end = run.time(int(hours[0])), run.time(int(hours[-1]) + 1)
        bought = [p for p in gas if begin <= p.time < end]
        found.append(
            Week(
                start=begin,
                gas_used_kg=float(used[here].sum()),
                gas_bought_kg=sum(p.amount_kg or 0.0 for p in bought),
                gas_cost=sum(p.cost or 0.0 for p in bought),
                mains_kwh=float(kwh[here].sum()),
                mains_cost=float((kwh * price)[here].sum()),
                unpriced_gas_kg=sum(p.amount_kg or 0.0 for p in bought if p.cost is None),
                unpriced_mains_kwh=float(kwh[here & ~priced].sum()),
            )
        )
    return found


def _sentences(
    gas_cost: float | None, mains_cost: float | None, total: float | None, unpriced_kg: float, unpriced_kwh: float
) -> list[str]:
    told = []
    if total is not None:
        told.append(
            f"Bought on the way: {total:.2f}, of it gas {gas_cost or 0.0:.2f} and electricity {mains_cost or 0.0:.2f}, "
            "in the money of the prices given."
        )
    if unpriced_kg > 0.0:
        told.append(f"No price is given for {unpriced_kg:.1f} kg of the gas bought; it is not counted.")
    if unpriced_kwh > 0.0:
        told.append(f"No price is given for {unpriced_kwh:.1f} kWh of electricity; it is not counted.")
    return told or ["No fuel is bought on this tour: what was on board at departure is paid already."]
