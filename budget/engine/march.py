"""The compiled loop: hour by hour, where the parts meet.

At each hour's start people act (refills, swaps, wet kit) and the surroundings are set. Each half hour air exchange
and vapour are renewed. Each quarter the gas and power at hand set what the heater may use, warm water is drawn, the
thermal core advances in steps of its own, and bottles, battery and frost follow. Each flow is computed from its own
law and written to the row of the hour; each stock is read from its state.
"""

from __future__ import annotations

import numpy as np

from budget.compiled import jit, jit_within
from budget.engine import arrays as A
from budget.engine import thermostat as T
from budget.engine.allowance import allow_heater
from budget.engine.bottles import feed_bottles, ready_bottles, swap_bottles
from budget.engine.clock import HALF_S, HOUR_S, QUARTER_S
from budget.engine.current import run_battery
from budget.engine.damp import move_vapour, settle_air
from budget.engine.plumbing import draw_water, settle_frost, shed_water, tend_water
from budget.engine.rows import copy, fill
from budget.engine.state import set_capacities, set_out, write_stocks
from budget.engine.stepping import clear, connect, hold_followers, lay_steady, move_followers
from budget.engine.supply import note_guard, thin_air
from budget.engine.surroundings import blow_vapour, exchange_air, hang_kit, run_loads, surround, warm_cab
from budget.engine.thermal import advance
from budget.physics.properties import AIR_CP_J_PER_KG_K

QUARTERS = 4


@jit
def set_steady(van, outside, scratch, pattern, work):
    """Fill in the hour's part of the network and of the heat inputs: all but air exchange and what comes with it."""
    outdoor_c = outside[A.TEMP_C]
    clear(pattern, work)
    for i in range(van.nodes):
        scratch.steady_w[i] = scratch.gain_w[i]
    for e in range(van.edges):
        if van.edge_kind[e] < A.VENT:
            a = van.edge_from[e]
            b = van.edge_to[e]
            g = scratch.edge_w_per_k[e]
            connect(a, b, g, pattern.leaves, work, work.steady)
            if b < 0:
                scratch.steady_w[a] += g * outdoor_c


@jit
def assemble(van, hour, outside, scratch, pattern, work):
    """Fill the network and the heat inputs of the half hour: the steady part, air exchange, and the air's own heat."""
    outdoor_c = outside[A.TEMP_C]
    leaves = pattern.leaves
    lay_steady(pattern, work)
    for i in range(van.nodes):
        scratch.heat_w[i] = scratch.steady_w[i]
    for k in range(van.airy):
        e = van.airy_edge[k]
        a = van.edge_from[e]
        b = van.edge_to[e]
        g = scratch.edge_w_per_k[e]
        connect(a, b, g, leaves, work, work.network)
        if b < 0:
            scratch.heat_w[a] += g * outdoor_c
    extract = scratch.extract_kg_s[0]
    if extract > 0.0:
        g = extract * AIR_CP_J_PER_KG_K
        living = van.air_node[van.living]
        wet = van.air_node[van.wet]
        work.network[living - leaves, living - leaves] += g
        scratch.heat_w[living] += g * outdoor_c
        if wet != living:
            work.network[wet - leaves, wet - leaves] += g
            work.network[living - leaves, wet - leaves] -= g
    drive = scratch.drive_w_per_k[0]
    if drive > 0.0:
        cab = van.air_node[van.cab]
        work.network[cab - leaves, cab - leaves] += drive
        scratch.heat_w[cab] += drive * hour.drive_cab_c
    for z in range(van.zones):
        scratch.heat_w[van.air_node[z]] += scratch.latent_w[z] + scratch.cooking_w[z] + scratch.appliance_w[z]


@jit
def account_edge(van, e, outdoor, integral, scratch, flow, at):
    """Write an edge's heat flow from the time integrals of the temperatures at its ends [K s]."""
    b = van.edge_to[e]
    other = integral[b] if b >= 0 else outdoor
    flow[at.edge_j + e] += scratch.edge_w_per_k[e] * (integral[van.edge_from[e]] - other)


@jit
def account_air(van, hour, outside, scratch, flow, at):
    """Write the half hour's heat by air exchange, extract fan and ducts."""
    outdoor = outside[A.TEMP_C] * HALF_S
    integral = scratch.integral
    for k in range(van.airy):
        account_edge(van, van.airy_edge[k], outdoor, integral, scratch, flow, at)
    extract = scratch.extract_kg_s[0]
    if extract > 0.0:
        g = extract * AIR_CP_J_PER_KG_K
        living = van.air_node[van.living]
        wet = van.air_node[van.wet]
        flow[at.extract_j + van.living] += g * (outdoor - integral[living])
        if wet != living:
            flow[at.extract_j + van.wet] += g * (integral[living] - integral[wet])
    drive = scratch.drive_w_per_k[0]
    if drive > 0.0:
        flow[at.drive_j + van.cab] += drive * (hour.drive_cab_c * HALF_S - integral[van.air_node[van.cab]])
    for e in range(van.duct_edges):
        flow[at.duct_j + e] += scratch.mean_flow[e]


@jit
def account_steady(van, outside, scratch, flow, at):
    """Write the hour's heat flows of every other path."""
    outdoor = outside[A.TEMP_C] * HOUR_S
    for e in range(van.edges):
        if van.edge_kind[e] < A.VENT:
            account_edge(van, e, outdoor, scratch.hour_integral, scratch, flow, at)


@jit
def account_heater(van, pattern, scratch, flow, at):
    """Write the quarter's heat, fuel and times of the heater."""
    leaves = pattern.leaves
    for i in range(van.nodes - leaves):
        flow[at.heater_j + leaves + i] += scratch.outcome[T.OUTCOMES + i]
        flow[at.fan_heat_j + leaves + i] += scratch.outcome[T.OUTCOMES + A.NODES + i]
    water = scratch.outcome[T.GAS_WATER_J] + scratch.outcome[T.ELECTRIC_WATER_J]
    flow[at.heater_j + van.boiler_node] += water
    flow[at.gas_heat_air_j] += scratch.outcome[T.GAS_AIR_J]
    flow[at.gas_heat_water_j] += scratch.outcome[T.GAS_WATER_J]
    flow[at.electric_air_j] += scratch.outcome[T.ELECTRIC_AIR_J]
    flow[at.electric_water_j] += scratch.outcome[T.ELECTRIC_WATER_J]
    flow[at.fuel_j] += scratch.outcome[T.FUEL_J]
    flow[at.start_loss_j] += scratch.outcome[T.START_LOSS_J]
    flow[at.flue_j] += scratch.outcome[T.FLUE_J]
    flow[at.flame_s] += scratch.outcome[T.FLAME_S]
    flow[at.starts] += scratch.outcome[T.STARTS]
    flow[at.full_load_s] += scratch.outcome[T.FULL_LOAD_J]
    flow[at.duct_loss_j] += scratch.outcome[T.DUCT_LOSS_J]
    flow[at.fan_j] += scratch.outcome[T.FAN_J]
    flow[at.fan_s] += scratch.outcome[T.FAN_S]


@jit_within
def march(van, hours, weather, wishes, factors, burner, pattern, work, state, scratch, flow, stock, drawn, stocks_at,
          at, step_error_k, detail, stock_rows, flow_rows, totals, trace):  # fmt: skip
    """March one scenario through its hours.

    hours [hours], wishes and drawn [draws] are records; weather [hours, columns]; factors [scenario columns]; flow
    and stock are scratch rows. With ``detail`` every row is written to stock_rows [hours + 1, stocks] and flow_rows
    [hours, flows]; always: totals [flows] and trace [hours + 1, 6] of gas left [kg], state of charge [0-1], sensor
    zone [°C], pipes [°C], and since the start gas used [kg] and time cut out [s]. Returns the inner steps, or -1 when
    one got stuck.
    """
    set_out(van, hours[0], weather[0], factors, state, scratch)
    scratch.limits[T.STEP_ERROR_K] = step_error_k
    draw = 0
    if detail:
        write_stocks(van, factors, state, stock, stocks_at)
        copy(stock, stock_rows[0])
    fill(totals, 0.0)
    follow(van, burner, state, totals, at, trace, 0)
    for h in range(hours.shape[0]):
        hour = hours[h]
        outside = weather[h]
        fill(flow, 0.0)
        fill(scratch.vapour_kg_per_s, 0.0)
        thin_air(burner, outside)
        tend_water(van, hour, outside, state, scratch, flow, at)
        swap_bottles(van, hour, outside, state, flow, at)
        hang_kit(van, hour, state, flow, at)
        surround(van, hour, outside, factors, state, scratch, flow, at)
        ready_bottles(van, state, scratch)
        set_steady(van, outside, scratch, pattern, work)
        fill(scratch.hour_integral, 0.0)
        for q in range(QUARTERS):
            fresh = q % 2 == 0
            if fresh:
                run_loads(van, hour, outside, factors, state, scratch, flow, at)
                exchange_air(van, hour, outside, factors, state, scratch)
                warm_cab(van, hour, outside[A.TEMP_C], state, scratch)
                blow_vapour(van, burner, scratch)
                fill(scratch.integral, 0.0)
                fill(scratch.mean_flow, 0.0)
                fill(scratch.blown_flow, 0.0)
            while draw < wishes.shape[0] and wishes[draw].quarter <= h * QUARTERS + q:
                draw_water(van, wishes[draw], burner, factors, state, scratch, drawn[draw], flow, at)
                draw += 1
            allow_heater(van, hour, outside, q, factors, burner, state, scratch, flow, at)
            if fresh:
                move_vapour(van, hour, outside, state, scratch, flow, at)
                assemble(van, hour, outside, scratch, pattern, work)
            set_capacities(van, factors, state, scratch.capacity)
            fill(scratch.outcome, 0.0)
            hold_followers(QUARTER_S, scratch.capacity, state.temp_c, scratch.heat_w, pattern, work, scratch.held_w)
            fill(scratch.gained, 0.0)
            stuck = advance(
                QUARTER_S, scratch.capacity, state.temp_c, scratch.held_w, outside[A.TEMP_C],
                burner, scratch.limits, state.integers, state.floats, pattern, work, scratch.gained,
                scratch.mean_flow, scratch.blown_flow, scratch.outcome,
            )  # fmt: skip
            if stuck != 0:
                return -1
            move_followers(QUARTER_S, scratch.capacity, state.temp_c, scratch.heat_w, scratch.gained, pattern, work,
                           scratch.integral)  # fmt: skip
            for i in range(pattern.followers, van.nodes):
                scratch.integral[i] += scratch.gained[i]
            account_heater(van, pattern, scratch, flow, at)
            note_guard(scratch, flow, at)
            feed_bottles(van, state, scratch, flow, at)
            if not fresh:
                account_air(van, hour, outside, scratch, flow, at)
                settle_air(van, outside, state, scratch, flow, at)
                for i in range(van.nodes):
                    scratch.hour_integral[i] += scratch.integral[i]
            set_c = hour.set_c[q] + factors[A.SETPOINT_K]  # asked for, whether or not the heater can run
            if hour.inside == 1 and not np.isnan(set_c):
                short = set_c - scratch.gained[burner.sensor] / QUARTER_S
                if short > 0.5:
                    flow[at.below_s] += QUARTER_S
                    flow[at.below_k_s] += QUARTER_S * short
            run_battery(van, hour, outside, factors, state, scratch, flow, at)
            settle_frost(van, outside[A.TEMP_C], state, flow, at)
        account_steady(van, outside, scratch, flow, at)
        shed_water(van, hour, state, flow, at)
        if detail:
            write_stocks(van, factors, state, stock, stocks_at)
            copy(stock, stock_rows[h + 1])
            copy(flow, flow_rows[h])
        for i in range(totals.shape[0]):
            totals[i] += flow[i]
        follow(van, burner, state, totals, at, trace, h + 1)
    return state.integers[T.STEP_COUNT]


@jit
def follow(van, burner, state, totals, at, trace, h):
    """The few figures that every scenario keeps by the hour."""
    gas = 0.0
    used = 0.0
    for b in range(van.bottles):
        gas += state.propane_kg[b] + state.butane_kg[b]
        used += totals[at.gas_out_kg + b] + totals[at.gas_out_butane_kg + b]
    trace[h, 0] = gas
    trace[h, 1] = state.charge_ah[0] / state.charge_ah[1]
    trace[h, 2] = state.temp_c[burner.sensor]
    trace[h, 3] = state.temp_c[van.pipes_node]
    trace[h, 4] = used
    trace[h, 5] = totals[at.cut_out_s]
