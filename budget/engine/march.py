"""The compiled loop: hour by hour, where the parts meet.

At each hour's start people act (refills, swaps, wet kit) and the surroundings are set. Each half hour air exchange
and vapour are renewed. Each quarter the gas and power at hand set what the heater may use, warm water is drawn, the
thermal core advances in steps of its own, and bottles, battery and frost follow. Each flow is computed from its own
law and written to the row of the hour; each stock is read from its state.
"""

from __future__ import annotations

import numpy as np

from budget.compiled import jit
from budget.engine import arrays as A
from budget.engine import thermostat as T
from budget.engine.bottles import allow_heater, feed_bottles, ready_bottles, swap_bottles
from budget.engine.current import run_battery
from budget.engine.damp import move_vapour
from budget.engine.plumbing import draw_water, settle_frost, tend_water
from budget.engine.state import CUT_OUT, set_capacities, set_out, write_stocks
from budget.engine.stepping import clear, connect
from budget.engine.thermal import advance
from budget.physics.envelope import conductance_w_per_k, solair_gain_w
from budget.physics.properties import AIR_CP_J_PER_KG_K, ZERO_C_K, air_density_kg_per_m3
from budget.physics.ventilation import doorway_w_per_k, leakage_m3_per_h, vent_m3_per_h

QUARTERS = 4
QUARTER_S = 900.0
HALF_S = 1800.0
PEOPLE_LATENT_J_PER_KG = 0.68 * 3.6e6  # 0.68 W per g/h, at skin temperature; common practice, no source


@jit
def hang_kit(van, hour, state, flow, at):
    """Hang up what the tour brings in wet this hour."""
    for z in range(van.zones):
        if hour.hung_kg[z] > 0.0:
            state.kit_kg[z] += hour.hung_kg[z]
            state.kit_start_kg[z] = state.kit_kg[z]
            state.kit_m2[z] = hour.hung_m2[z]
            flow[at.kit_hung_kg + z] += hour.hung_kg[z]


@jit
def surround(van, hour, outside, factors, state, scratch, flow, at):
    """Set the hour's conductances to outdoors and its steady heat gains."""
    wind = outside[A.WIND_M_PER_S]
    screens = hour.screens
    scratch.gain_w[:] = 0.0
    g = scratch.edge_w_per_k
    for e in range(van.edges):
        kind = van.edge_kind[e]
        if kind == A.FIXED:
            g[e] = van.edge_w_per_k[e]
        elif kind == A.LINING:
            g[e] = van.edge_w_per_k[e] * factors[A.LOSS]
        elif kind <= A.GLAZING:
            area = van.edge_area_m2[e]
            u = van.edge_u_w_per_m2k[e]
            irradiance = outside[van.edge_face[e]]
            zone = van.edge_zone[e]
            if kind == A.OPAQUE:
                u *= factors[A.LOSS]
                share = van.edge_air_share[e]
            else:
                u = (u + screens * (van.edge_u_screened_w_per_m2k[e] - u)) * factors[A.GLASS]
                share = 1.0
                sun = area * irradiance * (
                    van.edge_g[e] + screens * (van.edge_g_screened[e] - van.edge_g[e])
                )
                flow[at.sun_j + zone] += sun * 3600.0
                scratch.gain_w[van.fabric_node[zone]] += sun * van.solar_to_fabric_share
                scratch.gain_w[van.air_node[zone]] += sun * (1.0 - van.solar_to_fabric_share)
            whole = conductance_w_per_k(area, u, wind)
            g[e] = whole * share * van.edge_pull_share[e]
            skin = solair_gain_w(
                area, u, wind, van.edge_absorptance[e], irradiance, outside[A.SKY_DELTA_K], van.edge_sky_view[e]
            )
            flow[at.skin_j + zone] += skin * 3600.0
            scratch.gain_w[van.air_node[zone]] += skin
    people_zone = hour.people_zone
    if people_zone >= 0:
        latent = hour.people_latent_kg_per_s * factors[A.PEOPLE]
        sensible = max(0.0, hour.people_w * factors[A.PEOPLE] - latent * PEOPLE_LATENT_J_PER_KG)
        flow[at.people_j + people_zone] += sensible * 3600.0
        scratch.gain_w[van.air_node[people_zone]] += sensible
        scratch.vapour_kg_per_s[people_zone] += latent
        flow[at.vapour_source_kg + people_zone] += latent * 3600.0
    if hour.moving == 1 and van.cab >= 0:
        # The engine's heater holds the cab: as much as 150 W/K towards its temperature, never cooling.
        node = van.air_node[van.cab]
        warmth = max(0.0, min(3000.0, 150.0 * (hour.drive_cab_c - state.temp_c[node])))
        flow[at.drive_j + van.cab] += warmth * 3600.0
        scratch.gain_w[node] += warmth


@jit
def run_loads(van, hour, outdoor_c, factors, state, scratch, flow, at):
    """What the 12 V loads draw in the half hour, and the heat of appliances in each zone; nothing after a cut-out."""
    powered = state.marks[CUT_OUT] == 0
    scratch.appliance_w[:] = 0.0
    for i in range(van.loads):
        scratch.load_now_w[i] = 0.0
        if powered:
            around_c = outdoor_c
            if van.load_zone[i] >= 0:
                around_c = state.temp_c[van.air_node[van.load_zone[i]]]
            duty = van.load_duty[i] * (1.0 + van.load_duty_per_k[i] * (around_c - 20.0))
            duty = min(1.0, max(0.0, duty)) if van.load_duty_per_k[i] > 0.0 else van.load_duty[i]
            scratch.load_now_w[i] = van.load_w[i] * duty * hour.load_share[i] * factors[A.LOADS]
            if van.load_zone[i] >= 0:
                scratch.appliance_w[van.load_zone[i]] += scratch.load_now_w[i]
    scratch.appliance_w[van.living] += min(hour.cooking_electric_w, hour.hookup_w) * (1.0 - hour.cooking_vented)
    for z in range(van.zones):
        flow[at.appliances_j + z] += scratch.appliance_w[z] * HALF_S
    scratch.extract_kg_s[0] = hour.extract_kg_per_s if powered and van.wet >= 0 else 0.0


@jit
def exchange_air(van, hour, outside, factors, state, scratch):
    """Renew the air exchange of the half hour: leaks, vents, doorways and the extract fan; conductances and kg/s."""
    outdoor_c = outside[A.TEMP_C]
    wind = outside[A.WIND_M_PER_S]
    density = air_density_kg_per_m3(outdoor_c, outside[A.PRESSURE_PA])
    moving = hour.moving
    scratch.exchange_kg_s[:, :] = 0.0
    for e in range(van.edges):
        kind = van.edge_kind[e]
        if kind == A.VENT:
            z = van.edge_index[e]
            delta = abs(state.temp_c[van.air_node[z]] - outdoor_c)
            low = van.vent_low_cm2[z]
            high = van.vent_high_cm2[z]
            if z == van.living:
                high += hour.rooflight_cm2
            zone_c = state.temp_c[van.air_node[z]]
            m3_per_h = factors[A.LEAKAGE] * leakage_m3_per_h(van.leakage_cm2[z], delta, wind)
            warm_m3_per_h = vent_m3_per_h(low, high, van.vent_height_m[z], delta, wind, zone_c)
            m3_per_h += warm_m3_per_h * (outdoor_c + ZERO_C_K) / (zone_c + ZERO_C_K)
            if z == van.living and moving == 0:
                m3_per_h += hour.door_air_m3_per_h
            scratch.vent_m3_per_h[z] = m3_per_h
            scratch.vent_kg_per_s[z] = m3_per_h * density / 3600.0
            scratch.edge_w_per_k[e] = scratch.vent_kg_per_s[z] * AIR_CP_J_PER_KG_K
        elif kind == A.DOORWAY:
            d = van.edge_index[e]
            a = van.door_a[d]
            b = van.door_b[d]
            open_share = 1.0 - hour.closed[d]
            ta = state.temp_c[van.air_node[a]]
            tb = state.temp_c[van.air_node[b]]
            closed_kg = van.door_closed_m3_per_h[d] * density / 3600.0
            g = van.door_closed_w_per_k[d] + closed_kg * AIR_CP_J_PER_KG_K
            kg = closed_kg
            if open_share > 0.0 and van.door_width_m[d] > 0.0:
                wide = doorway_w_per_k(van.door_width_m[d], van.door_height_m[d], max(ta, tb), min(ta, tb), density)
                wide = 0.5 * (wide + scratch.doorway_before[d]) if scratch.doorway_before[d] > 0.0 else wide
                scratch.doorway_before[d] = wide
                g += open_share * wide
                kg += open_share * wide / AIR_CP_J_PER_KG_K
            scratch.edge_w_per_k[e] = g
            scratch.exchange_kg_s[a, b] += kg
            scratch.exchange_kg_s[b, a] += kg


@jit
def blow_vapour(van, burner, scratch):
    """Air that the ducts carry to each zone and back, as it was in the half hour before: it carries vapour. [kg/s]"""
    living = van.air_node[van.living]
    for e in range(van.duct_edges):
        if burner.flow_to[e] == living:
            for z in range(van.zones):
                if van.air_node[z] == burner.flow_from[e]:
                    carried = scratch.blown_flow[e] / HALF_S / AIR_CP_J_PER_KG_K
                    scratch.exchange_kg_s[z, van.living] += carried
                    scratch.exchange_kg_s[van.living, z] += carried


@jit
def assemble(van, hour, outside, scratch, pattern, work):
    """Fill the network and the heat inputs of the half hour."""
    outdoor_c = outside[A.TEMP_C]
    clear(pattern, work)
    for i in range(van.nodes):
        scratch.heat_w[i] = scratch.gain_w[i]
    for e in range(van.edges):
        a = van.edge_from[e]
        b = van.edge_to[e]
        g = scratch.edge_w_per_k[e]
        connect(a, b, g, pattern, work)
        if b < 0:
            scratch.heat_w[a] += g * outdoor_c
    extract = scratch.extract_kg_s[0]
    if extract > 0.0:
        g = extract * AIR_CP_J_PER_KG_K
        living = van.air_node[van.living]
        wet = van.air_node[van.wet]
        leaves = pattern.leaves
        work.network[living - leaves, living - leaves] += g
        scratch.heat_w[living] += g * outdoor_c
        if wet != living:
            work.network[wet - leaves, wet - leaves] += g
            work.network[wet - leaves, living - leaves] -= g
    for z in range(van.zones):
        scratch.heat_w[van.air_node[z]] += scratch.latent_w[z] + scratch.cooking_w[z] + scratch.appliance_w[z]


@jit
def account_heat(van, hour, outside, scratch, flow, at):
    """Write the half hour's heat flows from the time integrals of temperatures and each path's own conductance."""
    outdoor = outside[A.TEMP_C] * HALF_S
    integral = scratch.integral
    for e in range(van.edges):
        b = van.edge_to[e]
        other = integral[b] if b >= 0 else outdoor
        flow[at.edge_j + e] += scratch.edge_w_per_k[e] * (integral[van.edge_from[e]] - other)
    extract = scratch.extract_kg_s[0]
    if extract > 0.0:
        g = extract * AIR_CP_J_PER_KG_K
        living = van.air_node[van.living]
        wet = van.air_node[van.wet]
        flow[at.extract_j + van.living] += g * (outdoor - integral[living])
        if wet != living:
            flow[at.extract_j + van.wet] += g * (integral[living] - integral[wet])
    for e in range(van.duct_edges):
        flow[at.duct_j + e] += scratch.mean_flow[e]


@jit
def account_heater(van, scratch, flow, at):
    """Write the quarter's heat, fuel and times of the heater."""
    n = van.nodes
    for i in range(n):
        flow[at.heater_j + i] += scratch.outcome[T.OUTCOMES + i]
        flow[at.fan_heat_j + i] += scratch.outcome[T.OUTCOMES + n + i]
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


@jit
def march(van, hours, weather, wishes, factors, burner, pattern, work, state, scratch, flow, stock, drawn, stocks_at,
          at, max_step_s, detail, stock_rows, flow_rows, totals, trace):  # fmt: skip
    """March one scenario through its hours.

    hours [hours], wishes and drawn [draws] are records; weather [hours, columns]; factors [scenario columns]; flow
    and stock are scratch rows. With ``detail`` every row is written to stock_rows [hours + 1, stocks] and flow_rows
    [hours, flows]; always: totals [flows] and trace [hours + 1, 4] of gas left [kg], state of charge [0-1], sensor
    zone [°C] and pipes [°C]. Returns the inner steps, or -1 when one got stuck.
    """
    set_out(van, hours[0], weather[0], factors, state, scratch)
    draw = 0
    if detail:
        write_stocks(van, factors, state, stock, stocks_at)
        stock_rows[0, :] = stock
    totals[:] = 0.0
    follow(van, burner, state, trace, 0)
    for h in range(hours.shape[0]):
        hour = hours[h]
        outside = weather[h]
        flow[:] = 0.0
        scratch.vapour_kg_per_s[:] = 0.0
        tend_water(van, hour, outside, state, scratch, flow, at)
        swap_bottles(van, hour, outside, state, flow, at)
        hang_kit(van, hour, state, flow, at)
        surround(van, hour, outside, factors, state, scratch, flow, at)
        ready_bottles(van, outside, state, scratch)
        for q in range(QUARTERS):
            fresh = q % 2 == 0
            if fresh:
                run_loads(van, hour, outside[A.TEMP_C], factors, state, scratch, flow, at)
                exchange_air(van, hour, outside, factors, state, scratch)
                blow_vapour(van, burner, scratch)
                scratch.integral[:] = 0.0
                scratch.mean_flow[:] = 0.0
                scratch.blown_flow[:] = 0.0
            while draw < wishes.shape[0] and wishes[draw].quarter <= h * QUARTERS + q:
                draw_water(van, wishes[draw], burner, factors, state, scratch, drawn[draw], flow, at)
                draw += 1
            allow_heater(van, hour, outside, q, factors, burner, state, scratch, flow, at)
            if fresh:
                move_vapour(van, hour, outside, state, scratch, flow, at)
                assemble(van, hour, outside, scratch, pattern, work)
            set_capacities(van, factors, state, scratch.capacity)
            scratch.outcome[:] = 0.0
            scratch.limits[T.MAX_STEP_S] = max_step_s
            before_k_s = scratch.integral[burner.sensor]
            stuck = advance(
                QUARTER_S, scratch.capacity, state.temp_c, scratch.heat_w, outside[A.TEMP_C],
                burner, scratch.limits, state.integers, state.floats, pattern, work, scratch.integral,
                scratch.mean_flow, scratch.blown_flow, scratch.outcome,
            )  # fmt: skip
            if stuck != 0:
                return -1
            account_heater(van, scratch, flow, at)
            if not fresh:
                account_heat(van, hour, outside, scratch, flow, at)
            set_c = hour.set_c[q] + factors[A.SETPOINT_K]  # asked for, whether or not the heater can run
            if hour.inside == 1 and not np.isnan(set_c):
                short = set_c - (scratch.integral[burner.sensor] - before_k_s) / QUARTER_S
                if short > 0.5:
                    flow[at.below_s] += QUARTER_S
                    flow[at.below_k_s] += QUARTER_S * short
            feed_bottles(van, state, scratch, flow, at)
            run_battery(van, hour, outside, factors, state, scratch, flow, at)
            settle_frost(van, outside[A.TEMP_C], state, flow, at)
        if detail:
            write_stocks(van, factors, state, stock, stocks_at)
            stock_rows[h + 1, :] = stock
            flow_rows[h, :] = flow
        for i in range(totals.shape[0]):
            totals[i] += flow[i]
        follow(van, burner, state, trace, h + 1)
    return state.integers[T.STEP_COUNT]


@jit
def follow(van, burner, state, trace, h):
    """The few figures that every scenario keeps by the hour."""
    gas = 0.0
    for b in range(van.bottles):
        gas += state.propane_kg[b] + state.butane_kg[b]
    trace[h, 0] = gas
    trace[h, 1] = state.charge_ah[0] / state.charge_ah[1]
    trace[h, 2] = state.temp_c[burner.sensor]
    trace[h, 3] = state.temp_c[van.pipes_node]


