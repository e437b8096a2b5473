"""Does the gas carry the tour: the least that the described heating takes, against what is on board and to be had."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from budget.answers.heated import heated_w_per_k
from budget.engine.stepping import Floats
from budget.physics.properties import PROPANE_LOWER_KWH_PER_KG, WATER_CP_J_PER_KG_K
from budget.rounding import least, need
from budget.tour.timeline import FUELS
from budget.van.derived import REFERENCE_INSIDE_C, REFERENCE_OUTSIDE_C, REFERENCE_WIND_M_PER_S, loss_w_per_k

if TYPE_CHECKING:
    from budget.answers.enough import Plan
    from budget.answers.enough_charge import Flows
    from budget.van.model import Van

LITTLE_KG = 0.1  # less than this is not called short
SURE_SHARE = 0.95  # what `heated_w_per_k` says may be so much over what the engine settles at (a claim of the tests)


@dataclass(frozen=True, kw_only=True, eq=False)
class Uses:
    """Least gas by the hour: for room and water together, and for hob and fridge. [kg]"""

    heater_kg: Floats
    open_kg: Floats


@dataclass(frozen=True, kw_only=True)
class Stock:
    """Gas on board at the start, most that exchanges bring, what is lacked, and the first hour that lacks. [kg]"""

    board_kg: float
    brought_kg: float
    lacked_kg: float
    empty: int | None


def too_little(plan: Plan, uses: Uses) -> Iterator[str]:
    """A sentence where the gas surely does not last, bottles full or as described and each chance taken."""
    stock = stock_of(plan, uses.heater_kg + uses.open_kg)
    if stock.empty is None or stock.lacked_kg < LITTLE_KG:
        return
    line = plan.timeline
    at, place = line.edges[stock.empty + 1], line.tour.stops[int(line.stop[stock.empty])].place
    heater_kg, open_kg = float(uses.heater_kg.sum()), float(uses.open_kg.sum())
    flames = "hob and fridge" if plan.van.fridge is not None else "the hob"
    others = f" and {flames} {least(open_kg, 1)} kg" if open_kg >= LITTLE_KG else ""
    chances = (
        f"exchange and filling on the way bring at most {need(stock.brought_kg, 1)} kg"
        if stock.brought_kg > 0.0
        else "the tour names no place and hour at which a bottle of these is exchanged or filled"
    )
    yield (
        f"The gas is too little: heating and hot water take at least {least(heater_kg, 1)} kg over the tour{others}, "
        f"{need(stock.board_kg, 1)} kg are on board, and {chances}. At least "
        f"{least(stock.lacked_kg, 1)} kg are missing; the gas is used up at the latest on {at.day} {at:%B} at "
        f"{at:%H:%M} at {place}, in a run earlier (budget plan says when, and what the tour takes)."
    )


def uses_of(plan: Plan, set_c: Floats, flows: Flows) -> Uses:
    """Least gas that the description takes; every doubt is given to the bottles.

    The room is held at what each quarter asks for, warm air to every outlet; all gains count and serve the whole day,
    warm water ends in the room, the burner stands at its best efficiency, and on a hook-up the element gives its full
    step.
    """
    line, van = plan.timeline, plan.van
    outdoor_c = plan.column("temp_air")
    hooked = line.hookup_w > 0.0
    fuel = np.array(FUELS)[line.fuel]
    gas_may = ~(hooked & (fuel == "electric"))
    element_w = np.zeros(len(outdoor_c))
    for step in van.heater.electric_w:
        element_w[hooked & (fuel != "gas") & (line.hookup_w >= step)] = step
    asked_w = flows.needed_w * _asked_share(plan, set_c, outdoor_c) * outlets_factor(van)
    room_w = np.minimum(asked_w, flows.available_w)
    water_w = _water_w(plan, set_c)
    day = np.unique(line.index.tz_localize(None).normalize(), return_inverse=True)[1]
    net_w = np.maximum(0.0, room_w - flows.free_w - water_w) + water_w
    heat_w = np.zeros(len(outdoor_c))
    for number in range(int(day.max()) + 1):
        here = (day == number) & gas_may
        water = float(water_w[here].sum())
        wanted = water + max(0.0, float((room_w - flows.free_w)[here].sum()) - water) - float(element_w[here].sum())
        spread = net_w[here]
        if wanted > 0.0 and spread.sum() > 0.0:
            heat_w[here] = spread * wanted / spread.sum()
    best = max(stage.efficiency_share for stage in van.heater.stages)
    heater_kg: Floats = heat_w / 1000.0 / best / PROPANE_LOWER_KWH_PER_KG
    return Uses(heater_kg=heater_kg, open_kg=line.cooking_gas_kg + _fridge_kg(plan, hooked))


def outlets_factor(van: Van) -> float:
    """Least that warm air to every outlet takes over what the sensor's zone alone loses. [–]"""
    alone = loss_w_per_k(van, 1.0, REFERENCE_INSIDE_C, REFERENCE_OUTSIDE_C, REFERENCE_WIND_M_PER_S)
    return max(1.0, SURE_SHARE * heated_w_per_k(van) / alone)


def _asked_share(plan: Plan, set_c: Floats, outdoor_c: Floats) -> Floats:
    """Mean lead on outdoors that an hour's four quarters ask for, over that of its warmest. [0–1]"""
    quarters = plan.timeline.setpoint_c.reshape(-1, 4)
    lead_k = np.where(np.isnan(quarters), 0.0, quarters - outdoor_c[:, np.newaxis]).mean(axis=1)
    warmest_k = np.where(np.isfinite(set_c), set_c - outdoor_c, np.inf)
    share: Floats = np.clip(lead_k / np.where(warmest_k > 0.0, warmest_k, np.inf), 0.0, 1.0)
    return share


def _water_w(plan: Plan, set_c: Floats) -> Floats:
    """Heat of the warm-water draws from a fresh tank as warm as the room, in the hours that allow warm water. [W]"""
    line, van = plan.timeline, plan.van
    water_w = np.zeros(len(set_c))
    if not van.water.boiler.is_fitted:
        return water_w
    quarters = line.water_set_c.reshape(-1, 4)
    warm = np.isfinite(quarters).any(axis=1) & line.heater_allowed
    fresh_c = np.where(np.isfinite(set_c), set_c, 20.0)
    for second, litres, tap_c in zip(line.draw_s, line.draw_l, line.draw_tap_c, strict=True):
        hour = int(second // 3600.0)
        if warm[hour]:
            cold_c = float(fresh_c[hour])
            kelvin_litres = min(
                litres * (tap_c - cold_c), van.water.boiler.water_l * (float(np.nanmax(quarters[hour])) - cold_c)
            )
            water_w[hour] += max(0.0, kelvin_litres) * WATER_CP_J_PER_KG_K / 3600.0
    return water_w


def _fridge_kg(plan: Plan, hooked: np.ndarray) -> Floats:
    """Gas of an absorption fridge by the hour. [kg]"""
    fridge, line = plan.van.fridge, plan.timeline
    if fridge is None or fridge.use == "off":
        return np.zeros(len(hooked))
    lit = line.gas_open & ~(hooked & (fridge.use == "electric_first"))
    burned: Floats = np.where(lit, fridge.gas_g_per_h / 1000.0, 0.0)
    return burned


def stock_of(plan: Plan, used_kg: Floats) -> Stock:
    """Bottles hour by hour: what can be exchanged or filled is full after each open hour, and is used first."""
    bottles = plan.van.gas.bottles
    full = np.array([bottle.net_kg for bottle in bottles])
    left = np.array([bottle.net_kg if bottle.start_kg is None else bottle.start_kg for bottle in bottles])
    opens = plan.timeline.exchange_open([bottle.name for bottle in bottles])
    first = np.argsort(~opens.any(axis=0), kind="stable")
    board, brought, lacked, empty = float(left.sum()), 0.0, 0.0, None
    for hour in range(len(used_kg)):
        used = float(used_kg[hour])
        swapped = opens[hour]
        brought += float((full - left)[swapped].sum())
        left[swapped] = full[swapped]
        for k in first.tolist():
            taken = min(used, float(left[k]))
            left[k] -= taken
            used -= taken
        if used > 1e-9:
            lacked += used
            empty = hour if empty is None else empty
    return Stock(board_kg=board, brought_kg=brought, lacked_kg=lacked, empty=empty)
