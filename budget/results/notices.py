"""What needs saying about a run: one full sentence with its numbers each, the gravest first."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from budget.engine.state import BOTTLE_EMPTY_KG
from budget.engine.stepping import Floats
from budget.moments import dated, hour_of_edge
from budget.results.frost import frost_of, ice_words
from budget.results.need import LITTLE_KG
from budget.results.supplies import WHY, cut_out_shares, lacked_by_cause
from budget.rounding import least, need
from budget.tour.distance import too_far
from budget.weather.clearsky import MEANS_ESTIMATED

if TYPE_CHECKING:
    from budget.results.result import Result

EMPTY_KG = BOTTLE_EMPTY_KG + 0.05  # gauges and scales show no less
ENOUGH_KG = 1.0  # a bottle with more than this left that gives too little is cold, not empty
WARM_ENOUGH_C = 35.0  # a shower below this is called lukewarm


def notices_of(result: Result) -> tuple[str, ...]:
    """Sentences on what went wrong or nearly did, then on what was assumed about the weather.

    What shifts all else comes before them: a place that is mistyped, a winter that is a guess.
    """
    told = [
        *too_far(result.tour),
        *(notice for notice in result.weather.notices if MEANS_ESTIMATED in notice),
        *_gas(result),
        *_power(result),
        *_cold(result),
        *_frost(result),
        *_water(result),
        *_damp(result),
        *_learned(result),
        *result.weather.notices,
    ]
    return tuple(dict.fromkeys(told))


def _gas(result: Result) -> Iterator[str]:
    flows = result.flows
    left = result.stocks["gas_left_kg"]
    if left.min() <= EMPTY_KG * len(result.van.gas.bottles):
        yield f"Every bottle was empty {_lowest(left)}."
    heating = flows["unserved_heating_kg"] + result.need.beside_element_kg
    if heating.sum() > LITTLE_KG:
        yield f"The heater was short of gas in {_hours(heating > 0.0)}, first {_when(heating > 0.0)}."
    for use, words in (("cooking", "The hob"), ("fridge", "The fridge")):
        lacked = flows[f"unserved_{use}_kg"]
        if lacked.sum() > LITTLE_KG:
            yield f"{words} was short of gas in {_hours(lacked > 0.0)}, first {_when(lacked > 0.0)}."
    for k, bottle in enumerate(result.van.gas.bottles):
        name = f"bottle_{k + 1}"
        kg, cold = result.stocks[f"{name}_kg"].iloc[:-1].set_axis(flows.index), result.stocks[f"{name}_c"]
        feeding = flows[f"{name}_propane_drawn_kg"] + flows[f"{name}_butane_drawn_kg"] > 0.0
        held = feeding & (kg > ENOUGH_KG) & (heating > 0.0)
        if held.any():
            yield (
                f"Bottle {k + 1} ({bottle.name}) could not boil off gas fast enough in {_hours(held)} although it held "
                f"{least(kg[held].min(), 1)} kg or more; its coldest was {least(cold.min())} °C."
            )
    reserve_kg = result.need.reserve_kg
    if EMPTY_KG * len(result.van.gas.bottles) < left.min() < reserve_kg:
        yield (
            f"The gas on board went down to {least(left.min(), 1)} kg {_lowest(left)}, less than the reserve of "
            f"{result.van.gas.reserve_nights:g} nights ({need(reserve_kg, 1)} kg)."
        )


def _power(result: Result) -> Iterator[str]:
    cut = result.flows["cut_out_min"]
    if cut.sum() > 0.0:
        yield (
            f"The battery was cut out for {cut.sum() / 60.0:.1f} h, first {_when(cut > 0.0)}; heater, pump and lights "
            "were off meanwhile."
        )
    share = result.stocks["charge_share"]
    floor = cut_out_shares(result)
    if cut.sum() == 0.0 and (share < floor + 0.1).any():
        stood = need(100.0 * floor[int(share.argmin())])
        yield (
            f"The battery went down to {least(100.0 * share.min())} % of charge {_lowest(share)}, where "
            f"its cut-out stood at {stood} %."
        )
    battery = result.van.power.battery
    if battery.chemistry == "lifepo4":
        cold = result.stocks["battery_c"].iloc[1:].to_numpy() <= 0.0
        if cold.any():
            yield (
                f"The lithium battery stood at or below 0 °C in {np.count_nonzero(cold)} hours and took no charge then."
            )


def _cold(result: Result) -> Iterator[str]:
    below = result.flows["below_setpoint_min"]
    if below.sum() > 0.0:
        short = result.flows["below_setpoint_k"].sum() / (below.sum() / 60.0)
        worst = result.flows["below_setpoint_k"].idxmax()
        yield (
            f"The living area was more than 0.5 K below its setpoint for {below.sum() / 60.0:.1f} h while occupied, "
            f"warm-up included, {short:.1f} K on average and worst {_at(worst)}."
        )

    held = result.flows["supply_limited_min"]
    if held.sum() > 0.0:
        yield (
            f"The supply air stood at its limit of {result.van.heater.supply_limit_c:g} °C for "
            f"{held.sum() / 60.0:.1f} h, first {_when(held > 0.0)}: the burner gave only what the air could carry. "
            "Open outlets or the way back to the heater."
        )
    least_w = result.van.heater.stages[0].output_w
    cycled_h = hours_guard_cycled(result.flows, least_w)
    if cycled_h > 0.0:
        yield (
            f"For {need(cycled_h, 1)} h of them the air could not carry even the least stage ({least_w:g} W). The "
            "guard then switches a burner off and on again; here it burns evenly what the air carries on average, so "
            "that those starts, and the gas that each costs, are not counted."
        )


def hours_guard_cycled(flows: pd.DataFrame, least_stage_w: float) -> float:
    """Hours in which the guard on the supply air held the burner below its least stage, so that it cycled. [h]

    From the gas heat of each hour over the time that it was held back: too few where only part of an hour was.
    """
    held_h = flows["supply_limited_min"] / 60.0
    below = (flows["gas_to_air_wh"] > 0.0) & (flows["gas_to_air_wh"] < 0.999 * least_stage_w * held_h)
    return float(held_h[below].sum())


def _frost(result: Result) -> Iterator[str]:
    dumped = result.flows["boiler_dumped_l"]
    if dumped.sum() > 0.0 and result.van.water.boiler.is_fitted:
        times = int((dumped > 0.0).sum())
        yield (
            f"The frost drain valve opened {'once' if times == 1 else f'{times} times'}, first {_when(dumped > 0.0)}, "
            f"and let out {dumped.sum():.0f} L."
        )
    names = {"fresh": "The fresh tank", "waste": "The waste tank", "boiler": "The boiler", "pipes": "The water pipes"}
    for part, entry in frost_of(result).items():
        if part in names and "most_ice_kg" in entry:
            yield (
                f"{names[part]}: {ice_words(entry, dated)}; ice in {entry['hours_with_ice']} hours, up to "
                f"{need(entry['most_ice_kg'], 1)} kg of it."
            )
        elif part in names and entry["margin_k"] < 0.0:
            verb = "were" if part == "pipes" else "was"
            yield (
                f"{names[part]} {verb} below {entry['limit_c']:g} °C in {entry['hours_below_limit']} hours, lowest "
                f"{least(entry['lowest_c'], 1)} °C {_at(pd.Timestamp(entry['lowest_at']))}."
            )


def _water(result: Result) -> Iterator[str]:
    flows, draws = result.flows, result.draws
    for cause, litres in lacked_by_cause(result).items():
        if litres.sum() > 0.05:
            lacked = pd.Series(litres, index=flows.index)
            yield (
                f"{need(round(litres.sum(), 1))} L of water asked for were not had, first {_when(lacked > 0.0)}: "
                f"{WHY[cause]}."
            )
    showers = draws[(draws["use"] == "shower") & (draws["served_l"] > 0.0)]
    cold = showers[showers["coldest_c"] < WARM_ENOUGH_C]
    if len(cold):
        count = "One shower" if len(cold) == 1 else f"{len(cold)} of {len(showers)} showers"
        yield f"{count} ended below {WARM_ENOUGH_C:.0f} °C, the coldest at {least(cold['coldest_c'].min())} °C."
    spilled = flows["waste_spilled_l"]
    if spilled.sum() > 0.05:
        yield f"{need(round(spilled.sum(), 1))} L of waste water found the tank full, first {_when(spilled > 0.0)}."


def _damp(result: Result) -> Iterator[str]:
    van, built = result.built.arrays[0], result.built
    for z, zone in enumerate(built.zone_names):
        wet: list[Floats] = [
            result.column("wet_s", k).to_numpy() for k in range(built.size.surfaces) if van.surface_zone[k] == z
        ]
        if wet:
            hours = float(np.max(wet, axis=0).sum()) / 60.0
            if hours > 0.25 * len(result.flows):
                share = 100.0 * hours / len(result.flows)
                yield f"The coldest surface of zone {zone} was wet {share:.0f} % of the time ({hours:.0f} h)."


def _learned(result: Result) -> Iterator[str]:
    if result.tour.learned is not None:
        yield result.tour.learned.sentence


def _hours(mask: pd.Series) -> str:
    count = int(mask.sum())
    return "1 hour" if count == 1 else f"{count} hours"


def _when(mask: pd.Series) -> str:
    return _at(mask.idxmax())


def _lowest(stock: pd.Series) -> str:
    """When a stock at the hour edges was lowest."""
    return _at(stock.index[hour_of_edge(stock.argmin())])


def _at(time: pd.Timestamp) -> str:
    return f"on {dated(time)}"
