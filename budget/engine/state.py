"""The state that the march moves on, its scratch arrays, and the stocks read from it."""

from __future__ import annotations

import math

import numpy as np

from budget.compiled import jit
from budget.engine import arrays as A
from budget.engine import thermostat as T
from budget.engine.arrays import BOTTLES, DOORS, DUCT_EDGES, EDGES, LOADS, NODES, OUTCOME_ROOM, SURFACES, ZONES
from budget.engine.clock import QUARTER_S
from budget.engine.rows import fill
from budget.physics.properties import WATER_CP_J_PER_KG_K, WATER_FUSION_J_PER_KG, humidity_ratio, saturation_pressure_pa

# Places in State.water_l and State.marks.
FRESH_L, WASTE_L, BOILER_L = 0, 1, 2
ACTIVE, VALVE_OPEN, CUT_OUT, PAD_ON = 0, 1, 2, 3
ICE_FRESH, ICE_WASTE, ICE_PIPES, ICE_BOILER = 0, 1, 2, 3

SHELL_J_PER_KG_K = 480.0
LIQUID_GAS_J_PER_KG_K = 2450.0
BOTTLE_EMPTY_KG = 0.03


STATE = np.dtype(
    [
        ("temp_c", "f8", (NODES,)),
        ("ice_kg", "f8", (4,)),
        ("propane_kg", "f8", (BOTTLES,)),
        ("butane_kg", "f8", (BOTTLES,)),
        ("water_l", "f8", (3,)),
        ("charge_ah", "f8", (2,)),  # charge, capacity
        ("ratio", "f8", (ZONES,)),  # humidity ratio
        ("condensed_kg", "f8", (SURFACES,)),
        ("kit_kg", "f8", (ZONES,)),
        ("kit_start_kg", "f8", (ZONES,)),
        ("kit_m2", "f8", (ZONES,)),
        ("marks", "i8", (4,)),
        ("integers", "i8", (4,)),
        ("floats", "f8", (3,)),
    ]
)

SCRATCH = np.dtype(
    [
        ("edge_w_per_k", "f8", (EDGES,)),
        ("gain_w", "f8", (NODES,)),
        ("steady_w", "f8", (NODES,)),
        ("heat_w", "f8", (NODES,)),
        ("held_w", "f8", (NODES,)),
        ("gained", "f8", (NODES,)),
        ("hour_integral", "f8", (NODES,)),
        ("capacity", "f8", (NODES,)),
        ("integral", "f8", (NODES,)),
        ("mean_flow", "f8", (DUCT_EDGES,)),
        ("blown_flow", "f8", (DUCT_EDGES,)),
        ("outcome", "f8", (OUTCOME_ROOM,)),
        ("limits", "f8", (T.LIMITS,)),
        ("latent_w", "f8", (ZONES,)),
        ("cooking_w", "f8", (ZONES,)),
        ("appliance_w", "f8", (ZONES,)),
        ("vapour_kg_per_s", "f8", (ZONES,)),
        ("shower_vapour_kg", "f8", (ZONES,)),
        ("load_now_w", "f8", (LOADS,)),
        ("served", "f8", (1,)),  # share of the half hour for which loads and extract fan run
        ("vent_m3_per_h", "f8", (ZONES,)),
        ("vent_kg_per_s", "f8", (ZONES,)),
        ("exchange_kg_s", "f8", (ZONES, ZONES)),
        ("doorway_before", "f8", (DOORS,)),
        ("gas_kg", "f8", (3,)),  # hob, fridge, heater: to be had in the quarter
        ("bottle_limit_kg", "f8", (BOTTLES,)),
        ("bottle_limit_c", "f8", (BOTTLES,)),
        ("bottle_coupling", "f8", (BOTTLES,)),
        ("bottle_latent", "f8", (BOTTLES,)),
        ("bottle_asked", "i8", (BOTTLES,)),  # in this hour
        ("power_w", "f8", (2,)),  # mains for the charger; for fridge and hob
        ("surface_saturation", "f8", (SURFACES,)),
        ("surface_rate", "f8", (SURFACES,)),
        ("surface_moved_kg", "f8", (SURFACES,)),
        ("ratio_new", "f8", (ZONES,)),
        ("ratio_most", "f8", (ZONES,)),
        ("vapour_matrix", "f8", (ZONES, ZONES)),
        ("source_kg_per_s", "f8", (ZONES,)),
        ("flow_in_kg_per_s", "f8", (ZONES,)),
        ("flow_out_kg_per_s", "f8", (ZONES,)),
        ("surface_dry", "i8", (SURFACES,)),
        ("zone_full", "i8", (ZONES,)),
        ("pumped_l", "f8", (1,)),
        ("extract_kg_s", "f8", (1,)),
        ("drive_w_per_k", "f8", (1,)),
    ]
)


@jit
def set_capacities(van, factors, state, capacity):
    """Fill in the heat capacity of every node with the water and gas it holds now. [J/K]"""
    for i in range(van.nodes):
        capacity[i] = van.capacity_j_per_k[i]
    for z in range(van.zones):
        capacity[van.fabric_node[z]] *= factors[A.CAPACITY]
    cp = WATER_CP_J_PER_KG_K
    capacity[van.fresh_node] += cp * state.water_l[FRESH_L]
    capacity[van.waste_node] += cp * state.water_l[WASTE_L]
    capacity[van.boiler_node] += cp * state.water_l[BOILER_L]
    capacity[van.pipes_node] += cp * van.pipes_l
    for b in range(van.bottles):
        capacity[van.bottle_node[b]] += LIQUID_GAS_J_PER_KG_K * (state.propane_kg[b] + state.butane_kg[b])


@jit
def bottle_capacity_j_per_k(van, state, b):
    """Heat capacity of a bottle with its liquid. [J/K]"""
    return van.capacity_j_per_k[van.bottle_node[b]] + LIQUID_GAS_J_PER_KG_K * (state.propane_kg[b] + state.butane_kg[b])


@jit
def draw_heat(van, b, chill_k, state, scratch):
    """Let a bottle take the heat that came because it chilled during the quarter, not at its end.

    The network kept it ``chill_k`` too warm at the end, on the way as ``bottle_end_c`` says; what that held back comes
    from its zone and from outdoors, and is booked with theirs.
    """
    node = van.bottle_node[b]
    coupling = scratch.bottle_coupling[b]
    capacity = bottle_capacity_j_per_k(van, state, b)
    turns = coupling * QUARTER_S / capacity
    if turns < 1.0e-9:
        return
    late_j = capacity * chill_k * (1.0 + math.expm1(-turns) / turns)
    state.temp_c[node] += late_j / capacity
    scratch.integral[node] -= late_j / coupling
    edge = van.bottle_zone_edge[b]
    if edge >= 0:
        zone = van.edge_to[edge]
        state.temp_c[zone] -= late_j * van.locker_share / scratch.capacity[zone]


@jit
def ice_on(van, state, i):
    """Ice that stands on a node. [kg]"""
    if i == van.fresh_node:
        return state.ice_kg[ICE_FRESH]
    if i == van.waste_node:
        return state.ice_kg[ICE_WASTE]
    if i == van.pipes_node:
        return state.ice_kg[ICE_PIPES]
    if i == van.boiler_node:
        return state.ice_kg[ICE_BOILER]
    return 0.0


@jit
def set_out(van, hour, outside, factors, state, scratch):
    """The state at the start of the tour."""
    inside_c = hour.start_c
    outdoor_c = outside[A.TEMP_C]
    n = van.nodes
    for i in range(n):
        state.temp_c[i] = inside_c
    for b in range(van.bottles):
        state.temp_c[van.bottle_node[b]] = outdoor_c + van.locker_share * (inside_c - outdoor_c)
        kg = min(van.bottle_net_kg[b], van.bottle_start_kg[b] * factors[A.START_GAS])
        state.propane_kg[b] = kg * van.bottle_propane_share[b]
        state.butane_kg[b] = kg - state.propane_kg[b]
    fill(state.ice_kg, 0.0)
    state.water_l[FRESH_L] = van.fresh_start_l
    state.water_l[WASTE_L] = van.waste_start_l
    state.water_l[BOILER_L] = van.boiler_l
    state.temp_c[van.fresh_node] = max(2.0, min(inside_c, hour.refill_c + 4.0))
    state.temp_c[van.waste_node] = max(1.0, outdoor_c)
    state.temp_c[van.boiler_node] = max(inside_c, 5.0)
    state.temp_c[van.pipes_node] = max(inside_c, 2.0)
    state.charge_ah[1] = van.capacity_ah * factors[A.BATTERY]
    state.charge_ah[0] = state.charge_ah[1] * min(1.0, van.start_share * factors[A.START_CHARGE])
    for z in range(van.zones):
        inside = 0.9 * humidity_ratio(saturation_pressure_pa(inside_c), outside[A.PRESSURE_PA])
        state.ratio[z] = min(outside[A.HUMIDITY_RATIO], inside)
    fill(state.condensed_kg, 0.0)
    fill(state.kit_kg, 0.0)
    state.kit_m2[:] = 0.0
    fill(state.marks, 0)
    fill(state.integers, 0)
    fill(state.floats, 0.0)
    state.floats[T.SINCE_S] = 1.0e9
    state.floats[T.TRY_S] = T.FIRST_STEP_S
    fill(scratch.doorway_before, 0.0)
    fill(scratch.blown_flow, 0.0)
    fill(scratch.surface_dry, 0)
    fill(scratch.zone_full, 0)
    fill(scratch.latent_w, 0.0)
    fill(scratch.cooking_w, 0.0)
    scratch.pumped_l[0] = 0.0
    fill(scratch.bottle_limit_c, -20.0)  # a guess
    fill(scratch.shower_vapour_kg, 0.0)


@jit
def write_stocks(van, factors, state, row, at):
    """Read every stock from the state."""
    n = van.nodes
    set_capacities(van, factors, state, row[at.node_heat_j : at.node_heat_j + n])
    for i in range(n):
        row[at.node_c + i] = state.temp_c[i]
        row[at.node_heat_j + i] *= state.temp_c[i]
        row[at.node_heat_j + i] -= ice_on(van, state, i) * WATER_FUSION_J_PER_KG
    for k in range(4):
        row[at.ice_kg + k] = state.ice_kg[k]
    for b in range(van.bottles):
        row[at.propane_kg + b] = state.propane_kg[b]
        row[at.butane_kg + b] = state.butane_kg[b]
    row[at.fresh_l] = state.water_l[FRESH_L]
    row[at.waste_l] = state.water_l[WASTE_L]
    row[at.boiler_l] = state.water_l[BOILER_L]
    row[at.charge_ah] = state.charge_ah[0]
    for z in range(van.zones):
        row[at.vapour_kg + z] = van.air_kg[z] * state.ratio[z]
        row[at.kit_kg + z] = state.kit_kg[z]
    for k in range(van.surfaces):
        row[at.condensed_kg + k] = state.condensed_kg[k]
