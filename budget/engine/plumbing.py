"""Water in the march: tanks, draws of warm water, frost and the drain valve."""

from __future__ import annotations

from budget.compiled import jit
from budget.engine import arrays as A
from budget.engine.state import (
    BOILER_L,
    CUT_OUT,
    FRESH_L,
    ICE_BOILER,
    ICE_FRESH,
    ICE_PIPES,
    ICE_WASTE,
    VALVE_OPEN,
    WASTE_L,
)
from budget.physics.boiler import draw
from budget.physics.frost import recover
from budget.physics.properties import VAPOUR_LATENT_J_PER_KG, WATER_CP_J_PER_KG_K

SHOWER_VAPOUR_KG_PER_L = 0.012  # vapour per litre of warm water, common practice, no source
STEEP_WAIT_S = 7200.0
RUN_OFF_KG_PER_M2 = 0.1  # water that a pane or wall holds before drops run, common practice, no source (0.05 to 0.2)


@jit
def put_water(van, state, node, which, litres, temp_c, flow, at):
    """Pour litres (negative: take, at the node's own temperature) into a tank; enthalpy counts from liquid at 0 °C."""
    cp = WATER_CP_J_PER_KG_K
    held = van.capacity_j_per_k[node] + cp * state.water_l[which]
    poured_c = temp_c if litres > 0.0 else state.temp_c[node]
    carried_j = cp * litres * poured_c
    state.water_l[which] += litres
    flow[at.water_j + node] += carried_j
    if litres > 0.0:
        state.temp_c[node] = (held * state.temp_c[node] + carried_j) / (held + cp * litres)


@jit
def to_waste(van, state, litres, temp_c, flow, at):
    """Send water to the waste tank; what does not fit is spilled."""
    room = max(0.0, van.waste_capacity_l - state.water_l[WASTE_L])
    kept = min(litres, room)
    flow[at.to_waste_l] += litres
    flow[at.waste_spilled_l] += litres - kept
    if kept > 0.0:
        put_water(van, state, van.waste_node, WASTE_L, kept, temp_c, flow, at)


@jit
def liquid_l(state, which, ice):
    """Water of a tank that is not ice. [L]"""
    return max(0.0, state.water_l[which] - state.ice_kg[ice])


@jit
def pumpable_l(state):
    """Water that the pump can bring from the fresh tank: none without power. [L]"""
    return liquid_l(state, FRESH_L, ICE_FRESH) if state.marks[CUT_OUT] == 0 else 0.0


@jit
def tend_water(van, hour, outside, state, scratch, flow, at):
    """At the start of the hour: fill, empty, use cold water, close the drain valve and fill the boiler again."""
    if hour.refill == 1:
        litres = van.fresh_capacity_l - state.water_l[FRESH_L]
        if litres > 0.0:
            put_water(van, state, van.fresh_node, FRESH_L, litres, hour.refill_c, flow, at)
            flow[at.refill_l] += litres
    if hour.empty_waste == 1:
        litres = liquid_l(state, WASTE_L, ICE_WASTE)
        if litres > 0.0:
            put_water(van, state, van.waste_node, WASTE_L, -litres, 0.0, flow, at)
            flow[at.waste_emptied_l] += litres
    cold = hour.cold_water_l
    if cold > 0.0:
        taken = min(cold, pumpable_l(state))
        flow[at.unserved_water_l] += cold - taken
        if taken > 0.0:
            fresh_c = state.temp_c[van.fresh_node]
            put_water(van, state, van.fresh_node, FRESH_L, -taken, 0.0, flow, at)
            flow[at.cold_water_l] += taken
            scratch.pumped_l[0] += taken
            to_waste(van, state, taken * hour.cold_to_waste_l / cold, max(2.0, fresh_c), flow, at)
    if state.marks[VALVE_OPEN] == 1 and hour.awake_inside == 1:
        floor_c = floor_temperature(van, state, van.valve_zone, outside[A.TEMP_C])
        missing = van.boiler_l - state.water_l[BOILER_L]
        if floor_c > van.valve_closes_c and pumpable_l(state) >= missing:
            state.marks[VALVE_OPEN] = 0
            fresh_c = state.temp_c[van.fresh_node]
            put_water(van, state, van.fresh_node, FRESH_L, -missing, 0.0, flow, at)
            put_water(van, state, van.boiler_node, BOILER_L, missing, fresh_c, flow, at)
            flow[at.boiler_filled_l] += missing
            scratch.pumped_l[0] += missing


@jit
def floor_temperature(van, state, zone, outdoor_c):
    """Air at floor level of a zone. [°C]"""
    air_c = state.temp_c[van.air_node[zone]]
    return air_c - van.floor_colder_share[zone] * (air_c - outdoor_c)


@jit
def draw_water(van, wish, burner, factors, state, scratch, drawn, flow, at):
    """A shower or a wash-up: warm water from the boiler blended with cold from the fresh tank."""
    cp = WATER_CP_J_PER_KG_K
    wanted = wish.litres_l * factors[A.HOT_WATER]
    tap_c = wish.tap_c
    fresh_c = max(0.0, state.temp_c[van.fresh_node])
    boiler_c = state.temp_c[van.boiler_node]
    can = pumpable_l(state)
    if state.marks[VALVE_OPEN] == 1 or state.ice_kg[ICE_BOILER] > 0.0 or state.ice_kg[ICE_PIPES] > 0.3 * van.pipes_l:
        can = 0.0
    served = min(wanted, can)
    flow[at.unserved_water_l] += wanted - served
    drawn.served_l = served
    drawn.coldest_c = fresh_c
    drawn.wait_s = 0.0
    if served <= 0.0:
        return
    held = state.water_l[BOILER_L]
    needed_c = tap_c + served * (tap_c - fresh_c) / held
    heating_w = burner.water_w
    if boiler_c < needed_c and heating_w > 0.0:
        reachable_c = min(needed_c, 80.0)
        drawn.wait_s = min(STEEP_WAIT_S, max(0.0, (reachable_c - boiler_c) * cp * held / heating_w))
    _, _, end_tap_c, heat_j = draw(held, boiler_c, fresh_c, served, tap_c)
    drawn.coldest_c = end_tap_c
    scratch.pumped_l[0] += served
    # Part of the water passes the boiler (in cold, out hot), the rest goes cold to the tap.
    put_water(van, state, van.fresh_node, FRESH_L, -served, 0.0, flow, at)
    flow[at.water_j + van.boiler_node] -= heat_j
    shell = van.capacity_j_per_k[van.boiler_node]
    state.temp_c[van.boiler_node] = boiler_c - heat_j / (cp * held + shell)
    mean_tap_c = fresh_c + heat_j / (cp * served)
    zone = van.wet if wish.use == 0 else van.living
    vapour_kg = SHOWER_VAPOUR_KG_PER_L * served if wish.use == 0 else 0.2 * SHOWER_VAPOUR_KG_PER_L * served
    air_c = state.temp_c[van.air_node[zone]]
    waste_c = 0.5 * (mean_tap_c + air_c)
    drained = served - vapour_kg
    given_j = cp * (served * mean_tap_c - drained * waste_c) - vapour_kg * VAPOUR_LATENT_J_PER_KG
    flow[at.shower_j + zone] += given_j
    fabric = van.fabric_node[zone]
    state.temp_c[fabric] += given_j / (van.capacity_j_per_k[fabric] * factors[A.CAPACITY])
    scratch.shower_vapour_kg[zone] += vapour_kg
    if wish.use == 0:
        flow[at.shower_l] += served
    else:
        flow[at.dishes_l] += served
    to_waste(van, state, drained, waste_c, flow, at)


@jit
def shed_water(van, hour, state, flow, at):
    """At the hour's end: what a surface cannot hold runs off, and glass is wiped; both leave the cabin's vapour book.

    The cab's glass is wiped before and while the van moves, all glass in the hours that the tour names.
    """
    for k in range(van.surfaces):
        held = RUN_OFF_KG_PER_M2 * van.surface_area_m2[k]
        if van.surface_glass[k] == 1 and (hour.wipe == 1 or (hour.moving == 1 and van.surface_zone[k] == van.cab)):
            held = 0.0
        if state.condensed_kg[k] > held:
            flow[at.shed_kg + k] += state.condensed_kg[k] - held
            state.condensed_kg[k] = held


@jit
def settle_frost(van, outdoor_c, state, flow, at):
    """Share out each water node's heat between warmth and ice; open the drain valve when it feels frost."""
    settle_node(van, state, van.fresh_node, ICE_FRESH, state.water_l[FRESH_L])
    settle_node(van, state, van.waste_node, ICE_WASTE, state.water_l[WASTE_L])
    settle_node(van, state, van.pipes_node, ICE_PIPES, van.pipes_l)
    settle_node(van, state, van.boiler_node, ICE_BOILER, state.water_l[BOILER_L])
    fitted = van.valve_zone >= 0 and state.marks[VALVE_OPEN] == 0
    if fitted and floor_temperature(van, state, van.valve_zone, outdoor_c) < van.valve_opens_c:
        state.marks[VALVE_OPEN] = 1
    if state.marks[VALVE_OPEN] == 1:
        litres = liquid_l(state, BOILER_L, ICE_BOILER)
        if litres > 0.0:
            put_water(van, state, van.boiler_node, BOILER_L, -litres, 0.0, flow, at)
            flow[at.dumped_l] += litres


@jit
def settle_node(van, state, node, ice, litres):
    """Keep a water node's temperature and ice in step with its enthalpy."""
    if state.temp_c[node] >= 0.0 and state.ice_kg[ice] <= 0.0:
        return
    capacity = van.capacity_j_per_k[node] + WATER_CP_J_PER_KG_K * litres
    temp_c, kg = recover(state.temp_c[node], capacity, state.ice_kg[ice], litres)
    state.temp_c[node] = temp_c
    state.ice_kg[ice] = kg
