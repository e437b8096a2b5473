"""Last chances: where gas must be changed, as late as may be, so that it is never short."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from budget.answers.detail import Detail, first_hour
from budget.tour.week import Floats, Ints, Mask

SMALL_KG = 1e-6
LAST_OF_A_BOTTLE_KG = 0.2  # no flame lives on it; common practice, no source


@dataclass(frozen=True, kw_only=True)
class Chance:
    """A last chance: gas must be changed before ``close`` at ``place``, or it is short from ``short_at`` on.

    ``next_open`` is the next hour at which gas can be had afterwards, None: not on this tour.
    """

    open: dt.datetime
    close: dt.datetime
    place: str
    short_at: dt.datetime
    next_open: dt.datetime | None
    next_place: str | None


def lacked_kg(run: Detail) -> Floats:
    """Gas by the hour that flames were short of, whether or not the element heated. [kg]"""
    kg = run.flow("unserved_heating_kg") + run.flow("unserved_cooking_kg") + run.flow("unserved_fridge_kg")
    lacked: Floats = kg + run.beside_element_kg
    return lacked


def unserved(run: Detail) -> Mask:
    """Hours in which a flame that was asked for had to do with less."""
    return np.asarray(lacked_kg(run) > SMALL_KG)


def out_of_gas(run: Detail) -> Mask:
    """Those of them in which every bottle was empty."""
    fullest_kg = np.max([run.left_kg(k)[1:] for k in range(run.bottles)], axis=0)
    return np.asarray(unserved(run) & (fullest_kg <= LAST_OF_A_BOTTLE_KG))


def short_of_gas(run: Detail) -> int | None:
    """First hour in which a flame goes short with every bottle empty."""
    return first_hour(out_of_gas(run))


def windows(open_: Mask) -> Ints:
    """First and last + 1 hour of every unbroken span of hours, shape (spans, 2)."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], open_, [False])).astype(np.int8)))
    return edges.reshape(-1, 2)


def last_chances(run: Detail) -> tuple[tuple[Chance, ...], int | None]:
    """Where gas must be changed, as late as may be, and the hour it is short all the same (None: not).

    The tour is run with no exchange at all; the last opening before gas runs short is the last chance. With exchange
    up to and in that opening it is run again, and so on. Where it can be, a bottle is exchanged or filled by the
    engine's rule: at ``gas.swap_below_share`` of its contents, a refillable one at three quarters.
    """
    bottles = run.bottles
    open_ = run.hours["exchange_open"][:, :bottles] > 0
    spans = windows(open_.any(axis=1))
    allowed = np.zeros(len(spans), dtype=bool)
    chances: list[Chance] = []
    while True:
        short = short_of_gas(_with_exchange(run, open_, spans[allowed]))
        if short is None:
            return tuple(chances), None
        before = [k for k in range(len(spans)) if spans[k, 0] <= short and not allowed[k]]
        if not before:
            return tuple(chances), short
        k = before[-1]
        allowed[k] = True
        nothing_gained = short_of_gas(_with_exchange(run, open_, spans[allowed])) == short
        if nothing_gained:
            continue
        chances.append(_chance(run, spans, k, short))


def _with_exchange(run: Detail, open_: Mask, spans: Ints) -> Detail:
    hours = run.hours.copy()
    allowed = np.zeros(len(open_), dtype=bool)
    for first, end in spans.tolist():
        allowed[first:end] = True
    hours["exchange_open"][:, : open_.shape[1]] = open_ & allowed[:, np.newaxis]
    return run.again(hours=hours)


def _chance(run: Detail, spans: Ints, k: int, short: int) -> Chance:
    following = spans[k + 1] if k + 1 < len(spans) else None
    return Chance(
        open=run.time(int(spans[k, 0])),
        close=run.time(int(min(spans[k, 1], max(short, spans[k, 0] + 1)))),
        place=run.place(int(spans[k, 0])),
        short_at=run.time(short),
        next_open=None if following is None else run.time(int(following[0])),
        next_place=None if following is None else run.place(int(following[0])),
    )
