"""Gas in the march: which bottle feeds, what it can give, what is drawn, and swaps."""

from __future__ import annotations

from budget.compiled import jit
from budget.engine import arrays as A
from budget.engine import thermal as T
from budget.engine.state import ACTIVE, BOTTLE_EMPTY_KG, CUT_OUT, LIQUID_GAS_J_PER_KG_K, node_capacity
from budget.physics.bottle import (
    deliverable_kg,
    temperature_at_pressure_c,
    vapour_latent_heat_j_per_kg,
    wetted_coupling_w_per_k,
    withdraw,
)
from budget.physics.bottle import WALL_FILM_W_PER_M2K
from budget.physics.burner import output_at_density
from budget.physics.properties import (
    BUTANE_LOWER_J_PER_KG,
    PROPANE_LOWER_J_PER_KG,
    STANDARD_PRESSURE_PA,
    air_density_kg_per_m3,
)

QUARTER_S = 900.0
HOB, FRIDGE, HEATER = 0, 1, 2
MANUAL, AUTOMATIC, PARALLEL = 0, 1, 2


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
        before_j = (van.capacity_j_per_k[node] + LIQUID_GAS_J_PER_KG_K * left) * state.temp_c[node]
        new_c = outside[A.TEMP_C]
        if van.bottle_refillable[b] == 0:
            flow[at.swap_out_kg + b] += state.propane_kg[b]
            flow[at.swap_out_butane_kg + b] += state.butane_kg[b]
            state.propane_kg[b] = 0.0
            state.butane_kg[b] = 0.0
            added = full
        else:
            added = full - left
            held = van.capacity_j_per_k[node] + LIQUID_GAS_J_PER_KG_K * left
            poured = LIQUID_GAS_J_PER_KG_K * added
            new_c = (held * state.temp_c[node] + poured * new_c) / (held + poured)
        propane = added * van.bottle_propane_share[b]
        state.propane_kg[b] += propane
        state.butane_kg[b] += added - propane
        flow[at.swap_in_kg + b] += propane
        flow[at.swap_in_butane_kg + b] += added - propane
        flow[at.swaps + b] += 1.0
        state.temp_c[node] = new_c
        after_j = (van.capacity_j_per_k[node] + LIQUID_GAS_J_PER_KG_K * full) * new_c
        flow[at.swap_j + b] += after_j - before_j


@jit
def limit_bottles(van, outside, state, factors, scratch, flow, at):
    """What each bottle can give in the coming quarter [kg], and its wall's conductance for the network."""
    outdoor_c = outside[A.TEMP_C]
    need_pa = outside[A.PRESSURE_PA] + van.regulator_need_pa
    for b in range(van.bottles):
        node = van.bottle_node[b]
        propane = state.propane_kg[b]
        butane = state.butane_kg[b]
        liquid = propane + butane
        level = min(1.0, liquid / van.bottle_net_kg[b])
        coupling = wetted_coupling_w_per_k(
            level, van.bottle_diameter_m[b], van.bottle_net_kg[b], WALL_FILM_W_PER_M2K
        )
        zone_edge = van.bottle_zone_edge[b]
        locker_c = outdoor_c
        if zone_edge >= 0:
            zone_c = state.temp_c[van.edge_to[zone_edge]]
            locker_c = outdoor_c + van.locker_share * (zone_c - outdoor_c)
            scratch.edge_w_per_k[zone_edge] = coupling * van.locker_share
            scratch.edge_w_per_k[van.bottle_outdoor_edge[b]] = coupling * (1.0 - van.locker_share)
        else:
            scratch.edge_w_per_k[van.bottle_outdoor_edge[b]] = coupling
        scratch.bottle_limit_kg[b] = 0.0
        if liquid > BOTTLE_EMPTY_KG:
            limit_c = temperature_at_pressure_c(need_pa, propane, butane)
            bottle_c = state.temp_c[node]
            scratch.bottle_limit_kg[b] = deliverable_kg(
                QUARTER_S,
                liquid - BOTTLE_EMPTY_KG,
                bottle_c,
                limit_c,
                node_capacity(van, factors, state, node),
                coupling,
                locker_c,
                vapour_latent_heat_j_per_kg(bottle_c, propane, butane),
            )


@jit
def gas_at_hand(van, hour, state, scratch, wanted_kg):
    """Choose the bottle that feeds and return what can be had from it in the quarter. [kg]"""
    count = van.bottles
    if hour.gas_open == 0:
        return 0.0
    if van.changeover == PARALLEL:
        total = 0.0
        for b in range(count):
            total += scratch.bottle_limit_kg[b]
        return total
    active = state.flags[ACTIVE]
    if scratch.bottle_limit_kg[active] >= wanted_kg:
        return scratch.bottle_limit_kg[active]
    if van.changeover == AUTOMATIC or hour.awake_inside == 1:
        best = active
        for step in range(1, count):
            b = (active + step) % count
            if scratch.bottle_limit_kg[b] > max(scratch.bottle_limit_kg[best], 0.5 * wanted_kg):
                best = b
                break
        if best != active and scratch.bottle_limit_kg[active] < 0.5 * wanted_kg:
            state.flags[ACTIVE] = best
    return scratch.bottle_limit_kg[state.flags[ACTIVE]]


@jit
def allow_heater(van, hour, outside, q, factors, burner, state, scratch, flow, at):
    """Set what the thermostat may ask and use in the quarter: setpoints, gas by the bottle, watts by the hook-up."""
    limits = scratch.limits
    limit_bottles(van, outside, state, factors, scratch, flow, at)
    running = hour.heater_allowed == 1 and state.flags[CUT_OUT] == 0
    set_c = hour.set_c[q]
    limits[T.SET_C] = set_c + factors[A.SETPOINT_K] if running else T.np.nan
    water_c = hour.water_set_c[q]
    limits[T.WATER_SET_C] = water_c if running and state.flags[1] == 0 else T.np.nan
    limits[T.EFFICIENCY_FACTOR] = factors[A.EFFICIENCY]

    budget_w = hour.hookup_w * 1.0
    hooked = budget_w > 0.0
    fridge_gas = 0.0
    fridge_w = 0.0
    if van.fridge_use == 1 and hooked:
        fridge_w = min(van.fridge_electric_w, budget_w)
    elif van.fridge_use == 0 or van.fridge_use == 1:
        fridge_gas = van.fridge_gas_kg_per_h / 4.0 if hour.gas_open == 1 else 0.0
    cooking_w = min(hour.cooking_electric_w, budget_w)
    budget_w = max(0.0, budget_w - fridge_w - cooking_w)
    charger_w = 0.0
    if hooked:
        charger_w = min(
            budget_w, van.mains_charger_a * van.nominal_v / van.mains_efficiency, max(80.0, 0.5 * budget_w)
        )
    scratch.power_w[0] = charger_w
    scratch.power_w[1] = fridge_w + cooking_w
    left_w = budget_w - charger_w
    element_w = 0.0
    if hooked and running and hour.fuel > 0:
        for k in range(van.electric_steps):
            if van.electric_w[k] <= left_w:
                element_w = van.electric_w[k]
    limits[T.ELECTRIC_W] = element_w

    hob_kg = hour.cooking_kg / 4.0
    top = burner.points - 1
    lowest = burner.efficiency[0]
    for k in range(top + 1):
        lowest = min(lowest, burner.efficiency[k])
    density = air_density_kg_per_m3(outside[A.TEMP_C], outside[A.PRESSURE_PA])
    reference = air_density_kg_per_m3(outside[A.TEMP_C], STANDARD_PRESSURE_PA)
    rated_w = output_at_density(van.rated_w, density / reference, van.altitude_compensated == 1)
    gas_heats = running and (hour.fuel != 1 or not hooked)
    wanted = hob_kg + fridge_gas
    if gas_heats:
        wanted += 0.5 * rated_w / lowest * QUARTER_S / PROPANE_LOWER_J_PER_KG
    hand_kg = gas_at_hand(van, hour, state, scratch, wanted)
    scratch.gas_kg[HOB] = min(hob_kg, hand_kg)
    scratch.gas_kg[FRIDGE] = min(fridge_gas, hand_kg - scratch.gas_kg[HOB])
    flow[at.unserved_cooking_kg] += hob_kg - scratch.gas_kg[HOB]
    flow[at.unserved_fridge_kg] += fridge_gas - scratch.gas_kg[FRIDGE]
    scratch.gas_kg[HEATER] = hand_kg - scratch.gas_kg[HOB] - scratch.gas_kg[FRIDGE]
    flow[at.offtake_limit_kg] += hand_kg
    cap_w = 0.0
    if gas_heats:
        spare = scratch.gas_kg[HEATER] - 2.0 * burner.start_loss_j / BUTANE_LOWER_J_PER_KG
        could_w = 0.99 * spare * BUTANE_LOWER_J_PER_KG * lowest * min(1.0, factors[A.EFFICIENCY]) / QUARTER_S
        cap_w = min(rated_w, could_w)
        if cap_w < 0.6 * burner.outputs_w[0]:
            cap_w = 0.0
    limits[T.GAS_CAP_W] = cap_w
    if not T.np.isnan(limits[T.SET_C]) and cap_w == 0.0 and hour.fuel != 1:
        short_k = limits[T.SET_C] - state.temp_c[burner.sensor]
        if short_k > 0.0 and element_w == 0.0:
            missing_w = min(rated_w, short_k * 60.0)
            flow[at.unserved_heating_kg] += missing_w / lowest * QUARTER_S / PROPANE_LOWER_J_PER_KG


@jit
def feed_bottles(van, state, scratch, flow, at):
    """Draw the quarter's gas from the bottles, with the latent heat that chills them."""
    fuel_j = scratch.outcome[T.FUEL_J]
    count = van.bottles
    active = state.flags[ACTIVE]
    share_propane = 1.0
    liquid = state.propane_kg[active] + state.butane_kg[active]
    if liquid > 0.0:
        share_propane = state.propane_kg[active] / liquid
    content = share_propane * PROPANE_LOWER_J_PER_KG + (1.0 - share_propane) * BUTANE_LOWER_J_PER_KG
    wanted = scratch.gas_kg[HOB] + scratch.gas_kg[FRIDGE] + fuel_j / content
    flow[at.cooking_kg] += scratch.gas_kg[HOB]
    flow[at.fridge_kg] += scratch.gas_kg[FRIDGE]
    if wanted <= 0.0:
        return
    total = 0.0
    for b in range(count):
        if van.changeover == PARALLEL or b == active:
            total += scratch.bottle_limit_kg[b]
    for b in range(count):
        part = 0.0
        if van.changeover == PARALLEL:
            if total > 0.0:
                part = scratch.bottle_limit_kg[b] / total
        elif b == active:
            part = 1.0
        drawn = wanted * part
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
