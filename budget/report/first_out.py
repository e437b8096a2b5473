"""What runs out first: gas, battery, fresh water, waste tank, in order of time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from html import escape
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from budget.answers import trouble
from budget.answers.detail import Detail, first_hour
from budget.answers.last_chance import out_of_gas
from budget.answers.runs_out import CAUSE_WORDS, held_up, spared_by_automatic
from budget.answers.what_to_take import powered
from budget.moments import hour_of_edge, moment, part_of_day
from budget.report import markup
from budget.report.figures.water import SHORT_L
from budget.report.reading import lacked_water, unburned_kg
from budget.results.need import BATTERY, GAS
from budget.results.supplies import ICE, cut_out_shares, lacked_by_cause
from budget.rounding import need
from budget.wording import kilograms_left, kilograms_needed, least_litres, least_percent, number

if TYPE_CHECKING:
    from budget.results.result import Result

SHORT_KG = 0.05
ALL_EMPTY = "every bottle was empty"


@dataclass(frozen=True)
class Supply:
    """One supply: when it first runs out (None: lasts), the share of the tour until then, and a sentence.

    ``saved``: some is left only because the heater stops with the battery, or because it does not flow; ``lasts_share``
    is then until it would be short with power.
    ``verb``: how it ends.
    """

    name: str
    when: pd.Timestamp | None
    lasts_share: float
    told: str
    saved: bool = False
    verb: str = "runs out"


def first_out(result: Result) -> list[Supply]:
    """The supplies, the first to run out first; those that last follow, the nearest to running out first."""
    supplies = [_gas(result), _charge(result), _fresh(result), _waste(result)]
    return [supply for supply, _ in sorted(supplies, key=lambda item: (item[0].lasts_share, item[1]))]


def _supply(result: Result, name: str, out: np.ndarray, told_out: str, told_in: str) -> Supply:
    edges = result.timeline.edges
    when = np.flatnonzero(out)
    if when.size == 0:
        return Supply(name, None, 1.0, told_in)
    first = int(when[0])
    return Supply(name, edges[first], first / (len(edges) - 1), told_out.format(when=moment(edges[first])))


def _gas(result: Result) -> tuple[Supply, float]:
    left = result.stocks["gas_left_kg"].to_numpy()
    missing = np.sum(
        [result.flows[f"unserved_{use}_kg"].to_numpy() for use in ("heating", "cooking", "fridge")], axis=0
    )
    missing += result.need.beside_element_kg
    out = out_of_gas(Detail.of(result)) & (missing.sum() > SHORT_KG)
    short = f"{kilograms_needed(unburned_kg(result))} short to the end"
    told_out = f"out on {{when}}; {short}"
    if BATTERY in result.need.short_of and out.any():
        told_out = f"out on {{when}} as it stands{_out_with_power(result)}; {short}"
    told_in = (
        f"lasts; {kilograms_left(float(left[-1]))} left at the end, {kilograms_left(float(left.min()))} at the least"
    )
    found = trouble.answer(result)
    if found.not_had_kg > 0.0 and not out.any() and not out_of_gas(powered(result)).any():
        return _held_gas(result, found), float(left.min() / max(left[0], 1e-9))
    if BATTERY in result.need.short_of and not out.any():
        saved = _saved_gas(result)
        if saved is not None:
            return saved, float(left.min() / max(left[0], 1e-9))
        told_in += f"; so it does with power, when the tour burns {kilograms_needed(result.need.kg)}"
    starved = np.flatnonzero(missing > 0.0)
    if starved.size and missing.sum() > SHORT_KG:
        first = moment(result.timeline.edges[starved[0]])
        told_in += f"; too little flowed in {number(starved.size)} h, first on {first}: {causes(Detail.of(result))}"
    return _supply(result, "Gas", out, told_out, told_in), float(left.min() / max(left[0], 1e-9))


def _out_with_power(result: Result) -> str:
    """When the gas of a tour that it does not last is out with power: that is what the kilograms are of."""
    out = first_hour(out_of_gas(Detail.of(result).with_power()))
    return "" if out is None else f", with power out on {moment(result.timeline.edges[out])}"


def _held_gas(result: Result, found: trouble.Trouble) -> Supply:
    """The gas of a tour of which, also with power, bottles hold some and do not give it when it is wanted."""
    assert found.not_had_from is not None
    edges, dies = result.timeline.edges, BATTERY in result.need.short_of
    kept = kilograms_left(float(result.stocks["gas_left_kg"].iloc[-1]))
    saves = " because the heater stops with the battery" if dies and not found.gas_first else ""
    power = " with power" if saves else ""
    told = (
        f"no pass: {kept} left at the end{saves}, but{power} {kilograms_needed(found.not_had_kg)} not had when wanted, "
        f"first on {moment(found.not_had_from)}: {causes(powered(result))}"
    )
    share = int(edges.searchsorted(pd.Timestamp(found.not_had_from))) / (len(edges) - 1)
    return Supply("Gas", None, share, told, saved=True)


def _saved_gas(result: Result) -> Supply | None:
    """The gas of a tour that it lasts only because the heater stops with the battery; None where it lasts with power.

    With power it must keep the reserve: less is nearly out.
    """
    powered = Detail.of(result).with_power()
    left = np.sum([powered.left_kg(k) for k in range(powered.bottles)], axis=0)
    out = first_hour(out_of_gas(powered))
    if out is None and left.min() >= result.need.reserve_kg:
        return None
    edges = result.timeline.edges
    kept = kilograms_left(float(result.stocks["gas_left_kg"].iloc[-1]))
    told = f"no pass: {kept} left at the end only because the heater stops with the battery"
    if out is not None:
        told += f"; with power it is out on {moment(edges[out])}"
        return Supply("Gas", None, out / (len(edges) - 1), told, saved=True)
    lowest = hour_of_edge(int(left.argmin()))
    told += f"; with power {kilograms_left(float(left.min()))} at the least, on {moment(edges[lowest])}, less than the "
    told += f"reserve of {kilograms_needed(result.need.reserve_kg)}"
    return Supply("Gas", None, lowest / (len(edges) - 1), told, saved=True)


def causes(run: Detail) -> str:
    """Why flames lacked gas, the cause of most hours first; each with its hours where there are several."""
    masks = {CAUSE_WORDS[cause]: mask for cause, mask in held_up(run).items()} | {ALL_EMPTY: out_of_gas(run)}
    found = {words: int(np.count_nonzero(mask)) for words, mask in masks.items() if mask.any()}
    if len(found) < 2:
        return next(iter(found), ALL_EMPTY)
    return "; ".join(f"{words} ({found[words]} h)" for words in sorted(found, key=lambda words: -found[words]))


def nobody_changed_over(result: Result) -> str:
    """When a bottle ran empty and nobody was awake to change over, and what spares that; nothing where that never was.

    Only where changeover is by hand, the gas is short by more than a bottle change, and only the hours in which an
    automatic changeover would have had gas.
    """
    if GAS not in result.need.short_of:
        return ""
    mask = spared_by_automatic(Detail.of(result))
    if not mask.any():
        return ""
    night = part_of_day(result.timeline.edges[int(np.argmax(mask))])
    return (
        f"for {int(np.count_nonzero(mask))} h, first in the {night}, a bottle was empty and nobody was awake to change "
        'over: changeover = "automatic" spares that'
    )


def _charge(result: Result) -> tuple[Supply, float]:
    share = result.stocks["charge_share"].to_numpy()
    hours = float(result.flows["cut_out_min"].sum()) / 60.0
    lowest = int(np.argmin(share))
    told_out = f"cuts out on {{when}}; {need(max(hours, 1.0))} h without 12 V, and no heating then"
    told_in = (
        f"lasts; lowest {least_percent(float(share[lowest]))} on {moment(result.timeline.edges[hour_of_edge(lowest)])}"
    )
    out = result.flows["cut_out_min"].to_numpy() > 0.0
    limit = cut_out_shares(result)
    return _supply(result, "Battery", out, told_out, told_in), float(((share - limit) / (1.0 - limit)).min())


def _fresh(result: Result) -> tuple[Supply, float]:
    """Water that stands frozen is not had: there the supply ends as it does where the tank is dry."""
    fresh, capacity = result.stocks["fresh_l"].to_numpy(), result.van.water.fresh.capacity_l
    dry, barred = lacked_water(result)
    out = (dry > 0.0) & (float(dry.sum()) > SHORT_L)
    iced = lacked_by_cause(result).get(ICE, np.zeros(len(dry)))
    least_share, first = float(fresh.min() / capacity), int(np.argmax(iced > 0.0))
    if iced.sum() > SHORT_L and not out[: first + 1].any():
        edges = result.timeline.edges
        told = f"frozen, not had from {moment(edges[first])} on; {barred}"
        if out.any():
            told += f"; {need(round(float(dry.sum()), 1))} L short of a dry tank"
        return Supply("Fresh water", edges[first], first / (len(edges) - 1), told, verb="freezes"), least_share
    barred = f"; {barred}" if barred else ""
    told_out = f"dry on {{when}}; {need(round(float(dry.sum()), 1))} L short to the end{barred}"
    told_in = f"lasts with the refills; {least_litres(float(fresh.min()))} at the least{barred}"
    return _supply(result, "Fresh water", out, told_out, told_in), least_share


def _waste(result: Result) -> tuple[Supply, float]:
    waste, capacity = result.stocks["waste_l"].to_numpy(), result.van.water.waste.capacity_l
    out = waste[1:] >= capacity - SHORT_L
    told_in = f"never full; {need(float(waste.max()))} of {number(capacity)} L at the most"
    waste_tank = replace(_supply(result, "Waste tank", out, "full on {when}", told_in), verb="fills")
    return waste_tank, float(1.0 - waste.max() / capacity)


def strip(supplies: Sequence[Supply]) -> str:
    """The strip: a bar along the tour for each supply, hatched from where it runs out, or would with power."""
    rows = []
    for supply in supplies:
        out = ' class="out"' if supply.when is not None else ' class="saved"' if supply.saved else ""
        rows.append(
            f'<li{out}><b>{escape(supply.name)}</b><div class="bar" aria-hidden="true">'
            f'<i style="width:{100.0 * supply.lasts_share:.1f}%"></i></div><p>{_stressed(supply.told)}</p></li>'
        )
    return f'<ol class="first">{"".join(rows)}</ol>'


def _stressed(told: str) -> str:
    head, mark, tail = told.partition(";")
    return f"<b>{markup.shown(head)}</b>{markup.shown(mark + tail)}"
