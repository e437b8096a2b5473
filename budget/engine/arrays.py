"""The records that the march reads and moves: the van, an hour, the heater, the state, as plain numbers.

Each is one numpy record with room for the largest van allowed, so that compiled functions pass a pointer and one
compilation serves every van.
"""

from __future__ import annotations

from typing import Any

import numba
import numpy as np

from budget.errors import InputFault

# Room in the records. Counts and places that are never negative are unsigned: numba then need not ask whether an index
# counts from the end. Where -1 means none, and where a variable may hold either kind, they are signed. As plain Python
# (NUMBA_DISABLE_JIT) all are: numpy takes the difference of an unsigned and a signed number for a float.
COUNT = "i8" if numba.config.DISABLE_JIT else "u8"  # type: ignore[attr-defined]
FOUR = np.dtype(COUNT).type(4)  # zones of most vans: loops over a number known when they are compiled are written out
NODES, ZONES, EDGES, DOORS, SURFACES, BOTTLES, LOADS, STAGES, DUCT_EDGES = 32, 8, 96, 12, 40, 8, 24, 48, 32
LIMITS = {
    "zones": ZONES, "elements, openings and bottles' walls": EDGES, "openings": DOORS, "surfaces": SURFACES,
    "bottles": BOTTLES, "loads": LOADS,
}  # fmt: skip

# Kinds of edges.
FIXED, OPAQUE, GLAZING, LINING, VENT, DOORWAY = range(6)

# Columns of the weather array.
(TEMP_C, WIND_M_PER_S, HUMIDITY_RATIO, PRESSURE_PA, SKY_DELTA_K, ROOF, FLOOR, FRONT, REAR, LEFT, RIGHT, SIDES,
 PANEL_W) = range(13)  # fmt: skip
WEATHER_COLUMNS = 13

# Columns of the scenario array: factors on the described van, and a shift of the setpoint.
FACTORS = (
    "loss_factor",
    "glazing_factor",
    "leakage_factor",
    "capacity_factor",
    "efficiency_factor",
    "people_factor",
    "hot_water_factor",
    "battery_factor",
    "solar_factor",
    "loads_factor",
    "setpoint_shift_k",
    "start_gas_factor",
    "start_charge_factor",
)
(LOSS, GLASS, LEAKAGE, CAPACITY, EFFICIENCY, PEOPLE, HOT_WATER, BATTERY, SOLAR, LOADS, SETPOINT_K, START_GAS,
 START_CHARGE) = range(13)  # fmt: skip


VAN = np.dtype(
    [
        ("nodes", COUNT),
        ("zones", COUNT),
        ("edges", COUNT),
        ("doors", COUNT),
        ("surfaces", COUNT),
        ("bottles", COUNT),
        ("loads", COUNT),
        ("electric_steps", COUNT),
        ("duct_edges", COUNT),
        # nodes
        ("capacity_j_per_k", "f8", (NODES,)),  # without the water and gas they hold
        ("air_node", COUNT, (ZONES,)),  # by zone
        ("fabric_node", COUNT, (ZONES,)),  # by zone
        ("fresh_node", COUNT),
        ("waste_node", COUNT),
        ("pipes_node", COUNT),
        ("boiler_node", COUNT),
        ("battery_node", COUNT),
        ("bottle_node", COUNT, (BOTTLES,)),
        # edges
        ("edge_from", "i8", (EDGES,)),
        ("edge_to", "i8", (EDGES,)),
        ("edge_kind", "i8", (EDGES,)),
        ("edge_index", COUNT, (EDGES,)),  # zone of a vent, number of a doorway
        ("edge_w_per_k", "f8", (EDGES,)),  # fixed edges, lining
        ("edge_area_m2", "f8", (EDGES,)),
        ("edge_u_w_per_m2k", "f8", (EDGES,)),
        ("edge_u_screened_w_per_m2k", "f8", (EDGES,)),
        ("edge_pull_share", "f8", (EDGES,)),  # 1 + stratification
        ("edge_air_share", "f8", (EDGES,)),  # share of an opaque loss that leaves from the air node
        ("edge_face", COUNT, (EDGES,)),  # weather column of the irradiance on it
        ("edge_absorptance", "f8", (EDGES,)),
        ("edge_g", "f8", (EDGES,)),
        ("edge_g_screened", "f8", (EDGES,)),
        ("edge_sky_view", "f8", (EDGES,)),
        ("edge_zone", COUNT, (EDGES,)),
        ("airy", COUNT),  # edges renewed each half hour: vents and doorways
        ("airy_edge", COUNT, (EDGES,)),
        # zones
        ("air_kg", "f8", (ZONES,)),
        ("leakage_cm2", "f8", (ZONES,)),
        ("vent_low_cm2", "f8", (ZONES,)),
        ("vent_high_cm2", "f8", (ZONES,)),
        ("vent_height_m", "f8", (ZONES,)),
        ("air_m3", "f8", (ZONES,)),
        ("floor_colder_share", "f8", (ZONES,)),
        ("solar_to_fabric_share", "f8"),
        ("living", "i8"),
        ("cab", "i8"),
        ("wet", "i8"),
        # doorways
        ("door_a", COUNT, (DOORS,)),
        ("door_b", COUNT, (DOORS,)),
        ("door_width_m", "f8", (DOORS,)),
        ("door_height_m", "f8", (DOORS,)),
        ("door_closed_w_per_k", "f8", (DOORS,)),
        ("door_closed_m3_per_h", "f8", (DOORS,)),
        # surfaces where water may condense
        ("surface_zone", COUNT, (SURFACES,)),
        ("surface_area_m2", "f8", (SURFACES,)),
        ("surface_factor", "f8", (SURFACES,)),  # fRsi
        ("surface_factor_screened", "f8", (SURFACES,)),
        ("surface_glass", "i8", (SURFACES,)),
        # heater
        ("rated_w", "f8"),
        ("altitude_compensated", "i8"),
        ("electric_w", "f8", (STAGES,)),
        ("standby_w", "f8"),
        # water
        ("boiler_l", "f8"),
        ("fresh_capacity_l", "f8"),
        ("fresh_start_l", "f8"),
        ("waste_capacity_l", "f8"),
        ("waste_start_l", "f8"),
        ("pipes_l", "f8"),
        ("valve_zone", "i8"),  # -1 without a valve
        ("valve_opens_c", "f8"),
        ("valve_closes_c", "f8"),
        ("pump_w", "f8"),
        ("pump_l_per_min", "f8"),
        # gas
        ("bottle_net_kg", "f8", (BOTTLES,)),
        ("bottle_tare_kg", "f8", (BOTTLES,)),
        ("bottle_start_kg", "f8", (BOTTLES,)),
        ("bottle_propane_share", "f8", (BOTTLES,)),
        ("bottle_diameter_m", "f8", (BOTTLES,)),
        ("bottle_refillable", "i8", (BOTTLES,)),
        ("bottle_outdoor_edge", COUNT, (BOTTLES,)),
        ("bottle_zone_edge", "i8", (BOTTLES,)),
        ("locker_share", "f8"),
        ("changeover", "i8"),  # 0 manual, 1 automatic, 2 parallel
        ("regulator_need_pa", "f8"),
        ("regulator_kg_per_h", "f8"),
        ("swap_below_share", "f8"),
        ("fridge_gas_kg_per_h", "f8"),
        ("fridge_electric_w", "f8"),
        ("fridge_use", "i8"),  # 0 gas, 1 electric first, 2 off
        # 12 V
        ("chemistry", "i8"),
        ("capacity_ah", "f8"),
        ("nominal_v", "f8"),
        ("start_share", "f8"),
        ("cut_out_share", "f8"),
        ("reconnect_share", "f8"),
        ("charge_efficiency", "f8"),
        ("max_charge_a", "f8"),
        ("peukert", "f8"),
        ("pad_w", "f8"),
        ("pad_on_c", "f8"),
        ("pad_off_c", "f8"),
        ("solar_kept", "f8"),
        ("alternator_a", "f8"),
        ("mains_charger_a", "f8"),
        ("mains_efficiency", "f8"),
        ("load_w", "f8", (LOADS,)),
        ("load_duty", "f8", (LOADS,)),
        ("load_duty_per_k", "f8", (LOADS,)),
        ("load_zone", "i8", (LOADS,)),
    ]
)

HOUR = np.dtype(
    [
        ("set_c", "f8", (4,)),  # by quarter; NaN off
        ("water_set_c", "f8", (4,)),
        ("heater_allowed", "i8"),
        ("moving", "i8"),
        ("inside", "i8"),
        ("awake_inside", "i8"),
        ("people_w", "f8"),
        ("people_latent_kg_per_s", "f8"),
        ("people_zone", "i8"),
        ("screens", "f8"),
        ("closed", "f8", (DOORS,)),
        ("hookup_w", "f8"),
        ("fuel", "i8"),
        ("gas_open", "i8"),
        ("cooking_kg", "f8"),
        ("cooking_vented", "f8"),
        ("cooking_steam_kg", "f8"),
        ("cooking_electric_w", "f8"),
        ("cold_water_l", "f8"),
        ("cold_to_waste_l", "f8"),
        ("refill", "i8"),
        ("empty_waste", "i8"),
        ("exchange_open", "i8", (BOTTLES,)),
        ("solar_factor", "f8"),
        ("alternator", "f8"),
        ("rooflight_cm2", "f8"),
        ("extract_kg_per_s", "f8"),
        ("extract_fan_w", "f8"),
        ("door_air_m3_per_h", "f8"),
        ("load_share", "f8", (LOADS,)),
        ("hung_kg", "f8", (ZONES,)),
        ("hung_m2", "f8", (ZONES,)),
        ("drive_cab_c", "f8"),
        ("refill_c", "f8"),
        ("start_c", "f8"),
        ("wipe", "i8"),  # glass is wiped in the hour
    ]
)

DRAW = np.dtype([("quarter", "i8"), ("litres_l", "f8"), ("tap_c", "f8"), ("use", "i8")])
DRAWN = np.dtype([("served_l", "f8"), ("coldest_c", "f8"), ("wait_s", "f8")])

BURNER = np.dtype(
    [
        ("points", COUNT),
        ("flows", COUNT),
        ("modulating", "i8"),
        ("outputs_w", "f8", (STAGES,)),
        ("efficiency", "f8", (STAGES,)),
        ("fan_w", "f8", (STAGES,)),  # in the hour's air, as flow_w_per_k
        ("fan_fixed_w", "f8", (STAGES,)),
        ("fan_air_w", "f8", (STAGES,)),  # the air's part in air of sea-level pressure
        ("heat_share", "f8", (STAGES, NODES)),
        ("flow_w_per_k", "f8", (STAGES, DUCT_EDGES)),
        ("sea_flow_w_per_k", "f8", (STAGES, DUCT_EDGES)),
        ("total_w_per_k", "f8", (STAGES,)),  # all runs together, at sea level
        ("air_ratio", "f8"),  # of the hour's air pressure over that of sea level
        ("supply_limit_c", "f8"),
        ("flow_from", "i8", (DUCT_EDGES,)),
        ("flow_to", COUNT, (DUCT_EDGES,)),
        ("sensor", "i8"),
        ("boiler", "i8"),
        ("differential_k", "f8"),
        ("band_k", "f8"),
        ("min_on_s", "f8"),
        ("min_off_s", "f8"),
        ("start_loss_j", "f8"),
        ("run_on_s", "f8"),
        ("water_w", "f8"),
        ("boiler_hysteresis_k", "f8"),
        ("water_first", "i8"),
        ("fan_node", COUNT),
    ]
)

# Nodes stand in this order: followers, other leaves (nodes with at most one neighbour), the dense block. ``parent`` is
# the node that a leaf hangs on. In a ``paired`` network (1; else 0) the block is of four, the last four leaves hang on
# them in order, and before them stands at most one leaf that is no follower, on the block's first node.
PATTERN = np.dtype(
    [
        ("nodes", COUNT),
        ("followers", COUNT),
        ("leaves", COUNT),
        ("parent", COUNT, (NODES,)),
        ("paired", "i8"),
    ]
)

WORK = np.dtype(
    [
        ("steady", "f8", (NODES, NODES)),  # the hour's part of the network; by column, as all that follows
        ("network", "f8", (NODES, NODES)),
        ("driven", "f8", (NODES, NODES)),  # with duct flows and the thermostat's slope
        ("leaf_sum", "f8", (NODES,)),
        ("leaf_g", "f8", (NODES,)),
        ("leaf_inverse", "f8", (NODES,)),
        ("leaf_pull", "f8", (NODES,)),
        ("inverse", "f8", (NODES + 2, NODES + 4)),  # worked on by twos and fours
        ("right", "f8", (NODES,)),
        ("heat_w", "f8", (NODES,)),
        ("e1", "f8", (NODES + 4,)),
        ("e2", "f8", (NODES + 4,)),
        ("e3", "f8", (NODES + 4,)),
        ("average", "f8", (NODES,)),
        ("share", "f8", (NODES,)),
        ("held_c", "f8", (NODES,)),  # followers over a span
        ("flow", "f8", (DUCT_EDGES,)),
    ]
)

OUTCOME_ROOM = 16 + 2 * NODES


def record(dtype: np.dtype[Any], **values: Any) -> Any:
    """A one-element record array; each value fills the front of its field. InputFault when one has no room."""
    filled = np.zeros(1, dtype=dtype).view(np.recarray)
    for name, value in values.items():
        field = filled[name][0] if np.ndim(filled[name]) > 1 else None
        if field is None:
            filled[name][0] = value
            continue
        given = np.asarray(value)
        if any(a > b for a, b in zip(given.shape, field.shape, strict=True)):
            raise InputFault(
                f"the van has too many parts: {name} has room for {field.shape[0]}, got {given.shape[0]}; "
                "merge elements of one kind."
            )
        field[tuple(slice(0, size) for size in given.shape)] = given
    return filled
