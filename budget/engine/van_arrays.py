"""Models to arrays, once: the van."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from budget.engine import arrays as A
from budget.engine.arrays import record
from budget.engine.layout import Flows, Size, Stocks, flows_of, stocks_of
from budget.engine.network import in_order
from budget.engine.paths import Edge, Surface, edges_of, surfaces_of
from budget.engine.stepping import OUTDOORS, Floats
from budget.engine.warm_air import RETURN_DENSITY_KG_PER_M3, WarmAir, warm_air
from budget.physics.ducts import FAN_FIXED_SHARE
from budget.physics.properties import AIR_CP_J_PER_KG_K
from budget.van.charge import CHEMISTRY
from budget.van.model import Van

CHANGEOVER = {"manual": 0, "automatic": 1, "parallel": 2}
FRIDGE = {"gas": 0, "electric_first": 1, "off": 2}
AIR_KG_PER_M3 = 1.2
SUN_TO_FABRIC_SHARE = 0.7
SHELL_J_PER_KG_K = 480.0


@dataclass(frozen=True, kw_only=True, eq=False)
class BuiltVan:
    """A van as arrays, with the names of everything in them."""

    van: Van
    arrays: Any
    burner: Any
    pattern: Any
    living: int
    cab: int
    size: Size
    stocks: Stocks
    flows: Flows
    node_names: tuple[str, ...]
    edges: tuple[Edge, ...]
    zone_names: tuple[str, ...]
    surface_names: tuple[str, ...]
    duct_edges: tuple[tuple[int, int], ...]
    warm_air: WarmAir


def build_van(van: Van, draws: int = 0, air_ratio: float = 1.0) -> BuiltVan:
    """Turn a van into the arrays of the march; ``air_ratio``: air pressure over that at sea level, for the runs."""
    zones = van.cabin.zones
    zone_names = tuple(zone.name for zone in zones)
    living = zone_names.index("living") if "living" in zone_names else van.cabin.zone_index(van.heater.sensor_zone)
    edges = edges_of(van)
    names = [f"{z}_air" for z in zone_names] + [f"{z}_fabric" for z in zone_names]
    slow = ["fresh", "waste", "pipes", "battery"] + [f"bottle_{k + 1}" for k in range(len(van.gas.bottles))]
    names += ["boiler", *slow]
    air = warm_air(van, living, air_ratio)
    place_before = {name: k for k, name in enumerate(names)}
    pairs = [(place_before[e.a], -1 if e.b is None else place_before[e.b]) for e in edges]
    order, pattern = in_order(len(names), pairs, range(len(zones)), [place_before[name] for name in slow])
    names = [names[k] for k in order]
    place = {name: k for k, name in enumerate(names)}
    pairs = [(place[e.a], OUTDOORS if e.b is None else place[e.b]) for e in edges]
    air_node = [place[f"{z}_air"] for z in zone_names]
    duct_edges = tuple((OUTDOORS if a < 0 else air_node[a], air_node[b]) for a, b in air.edges)
    surfaces = surfaces_of(van)
    size = Size(
        nodes=len(names), zones=len(zones), edges=len(edges), ducts=len(duct_edges), bottles=len(van.gas.bottles),
        loads=len(van.power.loads), surfaces=len(surfaces), draws=draws,
    )  # fmt: skip
    return BuiltVan(
        van=van,
        arrays=_arrays(van, names, place, edges, pairs, surfaces, living, len(duct_edges)),
        living=living,
        cab=zone_names.index("cab") if "cab" in zone_names else -1,
        burner=_burner(van, place, air, air_node, duct_edges, living),
        pattern=pattern,
        size=size,
        stocks=stocks_of(size),
        flows=flows_of(size),
        node_names=tuple(names),
        edges=tuple(edges),
        zone_names=zone_names,
        surface_names=tuple(surface.name for surface in surfaces),
        duct_edges=duct_edges,
        warm_air=air,
    )


def _burner(
    van: Van,
    place: dict[str, int],
    air: WarmAir,
    air_node: list[int],
    duct_edges: tuple[tuple[int, int], ...],
    living: int,
) -> Any:
    heater = van.heater
    share = np.zeros((len(heater.stages), len(place)))
    share[:, air_node] = air.heat_share
    fixed_w = FAN_FIXED_SHARE * np.array([stage.fan_w for stage in heater.stages])
    return record(
        A.BURNER,
        points=len(heater.stages),
        flows=len(duct_edges),
        modulating=int(heater.control == "modulating"),
        outputs_w=np.array([stage.output_w for stage in heater.stages]),
        efficiency=np.array([stage.efficiency_share for stage in heater.stages]),
        fan_w=air.fan_w,
        fan_fixed_w=fixed_w,
        fan_air_w=air.fan_w - fixed_w,
        heat_share=share,
        flow_w_per_k=air.flow_w_per_k,
        sea_flow_w_per_k=air.flow_w_per_k,
        total_w_per_k=air.total_m3_per_h * RETURN_DENSITY_KG_PER_M3 / 3600.0 * AIR_CP_J_PER_KG_K,
        air_ratio=1.0,
        supply_limit_c=heater.supply_limit_c,
        flow_from=np.array([a for a, _ in duct_edges], dtype=np.int64),
        flow_to=np.array([b for _, b in duct_edges], dtype=np.int64),
        sensor=place[f"{heater.sensor_zone}_air"],
        boiler=place["boiler"],
        differential_k=heater.differential_k,
        band_k=heater.band_k,
        min_on_s=heater.min_on_s,
        min_off_s=heater.min_off_s,
        start_loss_j=heater.start_loss_kj * 1000.0,
        run_on_s=heater.run_on_s,
        water_w=heater.water_w,
        boiler_hysteresis_k=van.water.boiler.hysteresis_k,
        water_first=int(heater.priority == "water"),
        fan_node=air_node[living],
    )


def _arrays(
    van: Van,
    names: list[str],
    place: dict[str, int],
    edges: list[Edge],
    pairs: list[tuple[int, int]],
    surfaces: list[Surface],
    living: int,
    duct_edges: int,
) -> Any:
    zones, water, gas, power, battery = van.cabin.zones, van.water, van.gas, van.power, van.power.battery
    zone_names = [zone.name for zone in zones]
    capacity = np.zeros(len(names))
    for zone in zones:
        capacity[place[f"{zone.name}_air"]] = zone.air_capacity_j_per_k
        capacity[place[f"{zone.name}_fabric"]] = zone.fabric_capacity_j_per_k
    for name, shell in (("boiler", 2000.0), ("fresh", 4000.0), ("waste", 4000.0), ("pipes", 500.0)):
        capacity[place[name]] = shell
    capacity[place["battery"]] = battery.heat_capacity_j_per_k
    for k, bottle in enumerate(gas.bottles):
        capacity[place[f"bottle_{k + 1}"]] = bottle.tare_kg * SHELL_J_PER_KG_K
    by_name = {edge.name: k for k, edge in enumerate(edges)}
    airy = [k for k, edge in enumerate(edges) if edge.kind in (A.VENT, A.DOORWAY)]

    def zone_or(name: str, other: int) -> int:
        return zone_names.index(name) if name in zone_names else other

    def floats(values: list[float]) -> Floats:
        return np.array(values, dtype=float)

    def ints(values: list[int]) -> np.ndarray:
        return np.array(values, dtype=np.int64)

    valve = water.drain_valve
    doors = van.cabin.openings
    fridge = van.fridge
    bottles = gas.bottles
    zone_edge = [by_name.get(f"bottle {k + 1} to {gas.locker_zone}", -1) for k in range(len(bottles))]
    if gas.locker_zone == "outdoors":
        zone_edge = [-1] * len(bottles)
    return record(
        A.VAN,
        nodes=len(names),
        zones=len(zones),
        edges=len(edges),
        doors=len(doors),
        surfaces=len(surfaces),
        bottles=len(bottles),
        loads=len(power.loads),
        electric_steps=len(van.heater.electric_w),
        duct_edges=duct_edges,
        capacity_j_per_k=capacity,
        air_node=ints([place[f"{z}_air"] for z in zone_names]),
        fabric_node=ints([place[f"{z}_fabric"] for z in zone_names]),
        fresh_node=place["fresh"],
        waste_node=place["waste"],
        pipes_node=place["pipes"],
        boiler_node=place["boiler"],
        battery_node=place["battery"],
        bottle_node=ints([place[f"bottle_{k + 1}"] for k in range(len(bottles))]),
        edge_from=ints([a for a, _ in pairs]),
        edge_to=ints([b for _, b in pairs]),
        edge_kind=ints([e.kind for e in edges]),
        edge_index=ints([e.index for e in edges]),
        edge_w_per_k=floats([e.w_per_k for e in edges]),
        edge_area_m2=floats([e.area_m2 for e in edges]),
        edge_u_w_per_m2k=floats([e.u for e in edges]),
        edge_u_screened_w_per_m2k=floats([e.u_screened for e in edges]),
        edge_pull_share=floats([e.pull_share for e in edges]),
        edge_air_share=floats([e.air_share for e in edges]),
        edge_face=ints([e.face for e in edges]),
        edge_absorptance=floats([e.absorptance for e in edges]),
        edge_g=floats([e.g for e in edges]),
        edge_g_screened=floats([e.g_screened for e in edges]),
        edge_sky_view=floats([e.sky_view for e in edges]),
        edge_zone=ints([e.zone for e in edges]),
        airy=len(airy),
        airy_edge=ints(airy),
        air_kg=floats([zone.air_m3 * AIR_KG_PER_M3 for zone in zones]),
        leakage_cm2=floats([zone.leakage_cm2 for zone in zones]),
        vent_low_cm2=floats([zone.vent_low_cm2 for zone in zones]),
        vent_high_cm2=floats([zone.vent_high_cm2 for zone in zones]),
        vent_height_m=floats([zone.vent_height_m for zone in zones]),
        air_m3=floats([zone.air_m3 for zone in zones]),
        floor_colder_share=floats([zone.floor_colder_share for zone in zones]),
        solar_to_fabric_share=SUN_TO_FABRIC_SHARE,
        living=living,
        cab=zone_or("cab", -1),
        wet=zone_or("wet_room", living),
        door_a=ints([zone_names.index(d.between[0]) for d in doors]),
        door_b=ints([zone_names.index(d.between[1]) for d in doors]),
        door_width_m=floats([d.width_m for d in doors]),
        door_height_m=floats([d.height_m for d in doors]),
        door_closed_w_per_k=floats([d.closed_w_per_k for d in doors]),
        door_closed_m3_per_h=floats([d.closed_m3_per_h for d in doors]),
        surface_zone=ints([surface.zone for surface in surfaces]),
        surface_area_m2=floats([surface.area_m2 for surface in surfaces]),
        surface_factor=floats([surface.factor for surface in surfaces]),
        surface_factor_screened=floats([surface.factor_screened for surface in surfaces]),
        surface_glass=ints([int(surface.glass) for surface in surfaces]),
        rated_w=van.heater.rated_w,
        altitude_compensated=int(van.heater.altitude_compensated),
        electric_w=floats(list(van.heater.electric_w)),
        standby_w=van.heater.standby_w,
        boiler_l=water.boiler.water_l,
        fresh_capacity_l=water.fresh.capacity_l,
        fresh_start_l=min(water.fresh.start_l, water.fresh.capacity_l),
        waste_capacity_l=water.waste.capacity_l,
        waste_start_l=min(water.waste.start_l, water.waste.capacity_l),
        pipes_l=water.pipes.content_l,
        valve_zone=-1 if valve is None else zone_names.index(valve.zone),
        valve_opens_c=0.0 if valve is None else valve.opens_c,
        valve_closes_c=0.0 if valve is None else valve.closes_c,
        pump_w=power.pump_w,
        pump_l_per_min=power.pump_l_per_min,
        bottle_net_kg=floats([b.net_kg for b in bottles]),
        bottle_tare_kg=floats([b.tare_kg for b in bottles]),
        bottle_start_kg=floats([b.net_kg if b.start_kg is None else b.start_kg for b in bottles]),
        bottle_propane_share=floats([b.propane_share for b in bottles]),
        bottle_diameter_m=floats([b.diameter_m for b in bottles]),
        bottle_refillable=ints([int(b.refillable) for b in bottles]),
        bottle_outdoor_edge=ints([by_name[f"bottle {k + 1} to outdoors"] for k in range(len(bottles))]),
        bottle_zone_edge=ints(zone_edge),
        locker_share=0.0 if gas.locker_zone == "outdoors" else gas.locker_warmer_share,
        changeover=CHANGEOVER[gas.changeover],
        regulator_need_pa=gas.regulator_need_bar * 1e5,
        regulator_kg_per_h=gas.regulator_kg_per_h,
        swap_below_share=gas.swap_below_share,
        fridge_gas_kg_per_h=0.0 if fridge is None else fridge.gas_g_per_h / 1000.0,
        fridge_electric_w=0.0 if fridge is None else fridge.electric_w,
        fridge_use=2 if fridge is None else FRIDGE[fridge.use],
        chemistry=CHEMISTRY[battery.chemistry],
        capacity_ah=battery.capacity_ah,
        nominal_v=battery.nominal_v,
        start_share=battery.start_share,
        cut_out_share=battery.cut_out_share,
        reconnect_share=max(battery.reconnect_share, battery.cut_out_share),
        charge_efficiency=battery.charge_efficiency_share,
        max_charge_a=battery.max_charge_a,
        peukert=battery.peukert_factor,
        pad_w=battery.pad_w,
        pad_on_c=battery.pad_on_c,
        pad_off_c=battery.pad_off_c,
        solar_kept=power.solar.kept_share * power.solar.charger_efficiency_share,
        alternator_a=power.alternator_a,
        mains_charger_a=power.mains_charger_a,
        mains_efficiency=power.mains_charger_efficiency_share,
        load_w=floats([load.power_w for load in power.loads]),
        load_duty=floats([load.duty_share for load in power.loads]),
        load_duty_per_k=floats([load.duty_per_k for load in power.loads]),
        load_zone=ints([-1 if load.zone == "outdoors" else zone_names.index(load.zone) for load in power.loads]),
    )
