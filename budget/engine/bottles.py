"""Gas in the march: which bottle feeds, what it can give, what is drawn, and swaps."""

from __future__ import annotations

from budget.compiled import jit
from budget.engine import arrays as A
from budget.engine import thermostat as T
from budget.engine.clock import QUARTER_S
from budget.engine.state import (
    ACTIVE,
    BOTTLE_EMPTY_KG,
    LIQUID_GAS_J_PER_KG_K,
    bottle_capacity_j_per_k,
    draw_heat,
)
from budget.physics.bottle import (
    WALL_FILM_W_PER_M2K,
    deliverable_kg,
    temperature_at_pressure_c,
    vapour_latent_heat_j_per_kg,
    wetted_coupling_w_per_k,
    withdraw,
)
from budget.physics.properties import (
    BUTANE_LOWER_J_PER_KG,
    PROPANE_LOWER_J_PER_KG,
)

HOB, FRIDGE, HEATER = 0, 1, 2
MANUAL, AUTOMATIC, PARALLEL = 0, 1, 2

WORTH_A_WALK = (
    2.0  # times what the bottle in use gives, for which somebody awake changes over to one that has too little
)


@jit
def swap_bottles(van, hour, outside, state, flow, at):
    """Where bottles are to be had: exchange what is nearly empty, fill what is refillable."""
    for b in range(van.bottles):
        if hour.exchange_open[b] == 0:
            continue
        left = state.propane_kg[b] + state.butane_kg[b]
        full = van.bottle_net_kg[b]
        if van.bottle_refillable[b] == 1:
            if left > 0.75 * full:
                continue
        elif left > van.swap_below_share * full:
            continue
        node = van.bottle_node[b]
        shell = van.capacity_j_per_k[node]
        outdoor_c = outside[A.TEMP_C]
        held_j = (shell + LIQUID_GAS_J_PER_KG_K * left) * state.temp_c[node]
        if van.bottle_refillable[b] == 0:
            flow[at.swap_out_kg + b] += state.propane_kg[b]
            flow[at.swap_out_butane_kg + b] += state.butane_kg[b]
            state.propane_kg[b] = 0.0
            state.butane_kg[b] = 0.0
            added = full
            brought_j = (shell + LIQUID_GAS_J_PER_KG_K * full) * outdoor_c - held_j
        else:
            added = full - left
            brought_j = LIQUID_GAS_J_PER_KG_K * added * outdoor_c
        propane = added * van.bottle_propane_share[b]
        state.propane_kg[b] += propane
        state.butane_kg[b] += added - propane
        flow[at.swap_in_kg + b] += propane
        flow[at.swap_in_butane_kg + b] += added - propane
        flow[at.swaps + b] += 1.0
        state.temp_c[node] = (held_j + brought_j) / (shell + LIQUID_GAS_J_PER_KG_K * full)
        flow[at.swap_j + b] += brought_j


@jit
def ready_bottles(van, state, scratch):
    """At the hour's start: each bottle's wall."""
    for b in range(van.bottles):
        level = min(1.0, (state.propane_kg[b] + state.butane_kg[b]) / van.bottle_net_kg[b])
        coupling = wetted_coupling_w_per_k(level, van.bottle_diameter_m[b], van.bottle_net_kg[b], WALL_FILM_W_PER_M2K)
        scratch.bottle_coupling[b] = coupling
        if van.bottle_zone_edge[b] >= 0:
            scratch.edge_w_per_k[van.bottle_zone_edge[b]] = coupling * van.locker_share
        scratch.edge_w_per_k[van.bottle_outdoor_edge[b]] = coupling * (1.0 - van.locker_share)
        scratch.bottle_asked[b] = 0


@jit
def limit_kg(van, outside, state, scratch, b):
    """What a bottle can give in the coming quarter. [kg]

    Its latent heat and the temperature at which its pressure fails are found when it is first asked in an hour. A
    mixture that is drawn grows poorer in propane: its limit rises by some tenths of a kelvin an hour, which where the
    cold limits the off-take is a per cent of the gas, so it is found anew.
    """
    liquid = state.propane_kg[b] + state.butane_kg[b]
    if liquid <= BOTTLE_EMPTY_KG:
        return 0.0
    first = scratch.bottle_asked[b] == 0
    if first:
        scratch.bottle_asked[b] = 1
        scratch.bottle_latent[b] = vapour_latent_heat_j_per_kg(
            state.temp_c[van.bottle_node[b]], state.propane_kg[b], state.butane_kg[b]
        )
    if first or state.butane_kg[b] > 0.0:
        need_pa = outside[A.PRESSURE_PA] + van.regulator_need_pa
        scratch.bottle_limit_c[b] = temperature_at_pressure_c(
            need_pa, state.propane_kg[b], state.butane_kg[b], scratch.bottle_limit_c[b]
        )
    locker_c = outside[A.TEMP_C]
    if van.bottle_zone_edge[b] >= 0:
        locker_c += van.locker_share * (state.temp_c[van.edge_to[van.bottle_zone_edge[b]]] - locker_c)
    return deliverable_kg(
        QUARTER_S, liquid - BOTTLE_EMPTY_KG, state.temp_c[van.bottle_node[b]], scratch.bottle_limit_c[b],
        bottle_capacity_j_per_k(van, state, b), scratch.bottle_coupling[b], locker_c, scratch.bottle_latent[b],
    )  # fmt: skip


@jit
def gas_at_hand(van, hour, outside, state, scratch, least_kg, enough_kg):
    """Choose the bottle that feeds and return what can be had from it in the quarter. [kg]

    One that gives less than ``enough_kg`` is changed for the next that gives as much, else for the one that gives
    most: automatically, or by somebody awake, who for a little more does not go out. One that only its contents
    limit is emptied first, down to ``least_kg``.
    """
    count = van.bottles
    if hour.gas_open == 0:
        return 0.0
    if van.changeover == PARALLEL:
        total = 0.0
        for b in range(count):
            scratch.bottle_limit_kg[b] = limit_kg(van, outside, state, scratch, b)
            total += scratch.bottle_limit_kg[b]
        return total
    active = state.marks[ACTIVE]
    here = limit_kg(van, outside, state, scratch, active)
    emptied = here >= state.propane_kg[active] + state.butane_kg[active] - BOTTLE_EMPTY_KG
    if here < (least_kg if emptied else enough_kg) and (van.changeover == AUTOMATIC or hour.awake_inside == 1):
        best = active
        most = here
        for step in range(1, count):
            b = (active + step) % count
            there = limit_kg(van, outside, state, scratch, b)
            if there > most:
                best = b
                most = there
            if there >= enough_kg:
                break
        if most >= enough_kg or van.changeover == AUTOMATIC or most > WORTH_A_WALK * here:
            state.marks[ACTIVE] = best
            return most
    return here


@jit
def drawn_content_j_per_kg(van, state, scratch, fuel_j, total_kg):
    """Heating value of the vapour that feeds the quarter: it is richer in propane than the liquid. [J/kg]

    The amount drawn follows from the value and, slightly, the value from the amount: found by repetition.
    """
    mixed = False
    for b in range(van.bottles):
        mixed = mixed or state.butane_kg[b] > 0.0
    content = PROPANE_LOWER_J_PER_KG
    if not mixed:
        return content
    for _ in range(12):
        wanted = scratch.gas_kg[HOB] + scratch.gas_kg[FRIDGE] + fuel_j / content
        drawn_j = 0.0
        drawn_kg = 0.0
        for b in range(van.bottles):
            drawn = wanted * feeding_share(van, state, scratch, b, total_kg)
            if drawn > 0.0:
                bottle_c = state.temp_c[van.bottle_node[b]]
                propane, butane = withdraw(bottle_c, state.propane_kg[b], state.butane_kg[b], drawn)
                drawn_kg += state.propane_kg[b] - propane + state.butane_kg[b] - butane
                drawn_j += (state.propane_kg[b] - propane) * PROPANE_LOWER_J_PER_KG
                drawn_j += (state.butane_kg[b] - butane) * BUTANE_LOWER_J_PER_KG
        if drawn_kg <= 0.0:
            return content
        before = content
        content = drawn_j / drawn_kg
        if abs(content - before) <= 1e-14 * content:
            break
    return content


@jit
def feeding_share(van, state, scratch, b, total_kg):
    """Share of the quarter's gas that a bottle gives. [0-1]"""
    if van.changeover == PARALLEL:
        return scratch.bottle_limit_kg[b] / total_kg if total_kg > 0.0 else 0.0
    return 1.0 if b == state.marks[ACTIVE] else 0.0


@jit
def feed_bottles(van, state, scratch, flow, at):
    """Draw the quarter's gas from the bottles, with the latent heat that chills them."""
    fuel_j = scratch.outcome[T.FUEL_J]
    count = van.bottles
    open_kg = scratch.gas_kg[HOB] + scratch.gas_kg[FRIDGE]
    if open_kg + fuel_j <= 0.0:
        return
    total = 0.0
    if van.changeover == PARALLEL:
        for b in range(count):
            total += scratch.bottle_limit_kg[b]
    content = drawn_content_j_per_kg(van, state, scratch, fuel_j, total)
    wanted = open_kg + fuel_j / content
    flow[at.cooking_kg] += scratch.gas_kg[HOB]
    flow[at.fridge_kg] += scratch.gas_kg[FRIDGE]
    flow[at.open_flame_j] += open_kg * content
    water_j = scratch.outcome[T.WATER_FUEL_J]
    flow[at.hot_water_kg] += water_j / content
    flow[at.heating_kg] += (fuel_j - water_j) / content
    for b in range(count):
        drawn = wanted * feeding_share(van, state, scratch, b, total)
        if drawn <= 0.0:
            continue
        node = van.bottle_node[b]
        before = state.propane_kg[b] + state.butane_kg[b]
        bottle_c = state.temp_c[node]
        latent = vapour_latent_heat_j_per_kg(bottle_c, state.propane_kg[b], state.butane_kg[b])
        propane, butane = withdraw(bottle_c, state.propane_kg[b], state.butane_kg[b], drawn)
        flow[at.gas_out_kg + b] += state.propane_kg[b] - propane
        flow[at.gas_out_butane_kg + b] += state.butane_kg[b] - butane
        state.propane_kg[b] = propane
        state.butane_kg[b] = butane
        left = propane + butane
        shell = van.capacity_j_per_k[node]
        carried_j = (before - left) * (latent + LIQUID_GAS_J_PER_KG_K * bottle_c)
        flow[at.vaporise_j + b] += carried_j
        held_j = (shell + LIQUID_GAS_J_PER_KG_K * before) * bottle_c
        state.temp_c[node] = (held_j - carried_j) / (shell + LIQUID_GAS_J_PER_KG_K * left)
        draw_heat(van, b, bottle_c - state.temp_c[node], state, scratch)
