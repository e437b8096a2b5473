"""Models to arrays, once: the van."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import Any

import numpy as np

from budget.engine import arrays as A
from budget.engine.arrays import record
from budget.engine.layout import Flows, Size, Stocks, flows_of, stocks_of
from budget.engine.network import leaves_first
from budget.engine.thermal import OUTDOORS, Floats
from budget.engine.warm_air import WarmAir, warm_air
from budget.physics.envelope import surface_factor
from budget.van.cabin import Glazing, Zone
from budget.van.elements import glazing_u_w_per_m2k, opaque_u_w_per_m2k
from budget.van.model import Van

FACES = {
    "roof": A.ROOF, "floor": A.FLOOR, "front": A.FRONT, "rear": A.REAR, "left": A.LEFT, "right": A.RIGHT,
    "sides": A.SIDES,
}  # fmt: skip
SKY_VIEW = {"roof": 1.0, "floor": 0.0}
WALL_SKY_VIEW = 0.5
CHEMISTRY = {"lifepo4": 0, "agm": 1, "gel": 2, "wet": 3}
CHANGEOVER = {"manual": 0, "automatic": 1, "parallel": 2}
FRIDGE = {"gas": 0, "electric_first": 1, "off": 2}
AIR_KG_PER_M3 = 1.2
RSI_LEVEL_M2K_PER_W = 0.13
RIB_U_W_PER_M2K = 4.0  # lined steel rib, common practice, no source
RIB_AREA_SHARE = 0.04  # of the opaque area, common practice, no source
CORNER_AREA_SHARE = 0.15  # walls behind bed and cupboards, common practice, no source
CORNER_RSI_M2K_PER_W = 0.25  # surface resistance behind furniture, ISO 13788:2012
SUN_TO_FABRIC_SHARE = 0.7
SHELL_J_PER_KG_K = 480.0


@dataclass(frozen=True, kw_only=True)
class Edge:
    """One conductance, with what its kind needs."""

    name: str
    a: str
    b: str | None
    kind: int
    zone: int = 0
    index: int = 0
    w_per_k: float = 0.0
    area_m2: float = 0.0
    u: float = 1.0
    u_screened: float = 1.0
    pull_share: float = 1.0
    air_share: float = 1.0
    face: int = A.FLOOR
    absorptance: float = 0.0
    g: float = 0.0
    g_screened: float = 0.0
    sky_view: float = 0.0


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


def build_van(van: Van, draws: int = 0) -> BuiltVan:
    """Turn a van into the arrays of the march."""
    zones = van.cabin.zones
    zone_names = tuple(zone.name for zone in zones)
    living = zone_names.index("living") if "living" in zone_names else van.cabin.zone_index(van.heater.sensor_zone)
    edges = _edges(van)
    names = [f"{z}_air" for z in zone_names] + [f"{z}_fabric" for z in zone_names]
    names += ["boiler", "fresh", "waste", "pipes", "battery"] + [f"bottle_{k + 1}" for k in range(len(van.gas.bottles))]
    air = warm_air(van, living)
    place_before = {name: k for k, name in enumerate(names)}
    pairs = [(place_before[e.a], -1 if e.b is None else place_before[e.b]) for e in edges]
    order, pattern = leaves_first(len(names), pairs, list(range(len(zones))))
    names = [names[k] for k in order]
    place = {name: k for k, name in enumerate(names)}
    pairs = [(place[e.a], OUTDOORS if e.b is None else place[e.b]) for e in edges]
    air_node = [place[f"{z}_air"] for z in zone_names]
    duct_edges = tuple(
        (OUTDOORS if a < 0 else air_node[a], air_node[b]) for a, b in air.edges
    )
    surfaces = _surfaces(van)
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
        surface_names=tuple(name for name, *_ in surfaces),
        duct_edges=duct_edges,
        warm_air=air,
    )


def _zone_edges(zone: Zone, z: int) -> list[Edge]:
    name = f"{zone.name}_air"
    pull = {"roof": 1.0 + zone.roof_warmer_share, "floor": 1.0 - zone.floor_colder_share}
    opaque_w_per_k = sum(
        part.area_m2 * opaque_u_w_per_m2k(part) * pull.get(part.faces, 1.0) for part in zone.opaque
    )
    # The part that leaves through the lining must leave the steady loss as it is: coupling and lining in series.
    share = min(zone.fabric_loss_share, 0.6 * zone.fabric_coupling_w_per_k / max(opaque_w_per_k, 1e-9))
    through = share * opaque_w_per_k
    edges = [
        Edge(name=f"{zone.name} lining", a=name, b=f"{zone.name}_fabric", kind=A.FIXED, zone=z,
             w_per_k=zone.fabric_coupling_w_per_k)
    ]  # fmt: skip
    for part in zone.opaque:
        edges.append(
            Edge(
                name=f"{zone.name} {part.name}", a=name, b=None, kind=A.OPAQUE, zone=z, area_m2=part.area_m2,
                u=opaque_u_w_per_m2k(part), pull_share=pull.get(part.faces, 1.0), air_share=1.0 - share,
                face=FACES[part.faces], absorptance=part.solar_absorptance_share,
                sky_view=SKY_VIEW.get(part.faces, WALL_SKY_VIEW),
            )  # fmt: skip
        )
    if through > 0.0:
        lining = through * zone.fabric_coupling_w_per_k / (zone.fabric_coupling_w_per_k - through)
        edges.append(
            Edge(name=f"{zone.name} shell", a=f"{zone.name}_fabric", b=None, kind=A.LINING, zone=z, w_per_k=lining)
        )
    for pane in zone.glazing:
        edges.append(
            Edge(
                name=f"{zone.name} {pane.name}", a=name, b=None, kind=A.GLAZING, zone=z, area_m2=pane.area_m2,
                u=pane.u_w_per_m2k, u_screened=glazing_u_w_per_m2k(pane, 1.0), pull_share=pull.get(pane.faces, 1.0),
                face=FACES[pane.faces], g=pane.g_share, g_screened=pane.g_screened_share,
                sky_view=SKY_VIEW.get(pane.faces, WALL_SKY_VIEW),
            )  # fmt: skip
        )
    edges.append(Edge(name=f"{zone.name} air exchange", a=name, b=None, kind=A.VENT, zone=z, index=z))
    return edges


def _edges(van: Van) -> list[Edge]:
    zones = van.cabin.zones
    edges = [edge for z, zone in enumerate(zones) for edge in _zone_edges(zone, z)]
    for d, opening in enumerate(van.cabin.openings):
        a, b = opening.between
        edges.append(
            Edge(name=opening.name, a=f"{a}_air", b=f"{b}_air", kind=A.DOORWAY, index=d, zone=van.cabin.zone_index(a))
        )

    def fixed(node: str, zone: str, w_per_k: float, label: str) -> Edge:
        b = None if zone == "outdoors" else f"{zone}_air"
        z = 0 if zone == "outdoors" else van.cabin.zone_index(zone)
        return Edge(name=label, a=node, b=b, kind=A.FIXED, zone=z, w_per_k=w_per_k)

    water = van.water
    edges.append(fixed("boiler", water.boiler.zone, water.boiler.standing_loss_w / 40.0, "boiler standing loss"))
    edges.append(fixed("fresh", water.fresh.zone, water.fresh.coupling_w_per_k, "fresh tank"))
    edges.append(fixed("waste", water.waste.zone, water.waste.coupling_w_per_k, "waste tank"))
    colder = van.cabin.zones[van.cabin.zone_index(water.pipes.zone)].floor_colder_share
    edges.append(fixed("pipes", water.pipes.zone, water.pipes.coupling_w_per_k * (1.0 - colder), "pipes"))
    outdoor = water.pipes.coupling_w_per_k * colder + water.pipes.outdoor_w_per_k
    edges.append(fixed("pipes", "outdoors", outdoor, "pipes to outdoors"))
    battery = van.power.battery
    edges.append(fixed("battery", battery.zone, battery.coupling_w_per_k, "battery"))
    for k in range(len(van.gas.bottles)):
        edges.append(fixed(f"bottle_{k + 1}", "outdoors", 1.0, f"bottle {k + 1} to outdoors"))
        if van.gas.locker_zone != "outdoors":
            edges.append(fixed(f"bottle_{k + 1}", van.gas.locker_zone, 1.0, f"bottle {k + 1} to {van.gas.locker_zone}"))
    return edges


def _surfaces(van: Van) -> list[tuple[str, int, float, float]]:
    """Surfaces where water condenses: name, zone, area [m²], temperature factor; the coldest of a zone first."""
    found = []
    for z, zone in enumerate(van.cabin.zones):
        here = []
        panes: dict[float, list[Glazing]] = defaultdict(list)
        for pane in zone.glazing:
            panes[pane.u_w_per_m2k].append(pane)
        for u, alike in panes.items():
            name = f"{zone.name} {alike[0].name if len(alike) == 1 else 'glass'}"
            area = sum(pane.area_m2 for pane in alike)
            here.append((name, z, area, surface_factor(u, RSI_LEVEL_M2K_PER_W)))
        if zone.opaque:
            area = sum(part.area_m2 for part in zone.opaque if part.faces != "floor")
            mean_u = sum(part.area_m2 * opaque_u_w_per_m2k(part) for part in zone.opaque) / sum(
                part.area_m2 for part in zone.opaque
            )
            if mean_u > 1.0 and area > 0.0:
                u = max(mean_u, min(RIB_U_W_PER_M2K, 3.0 * mean_u))
                here.append((f"{zone.name} ribs", z, RIB_AREA_SHARE * area, surface_factor(u, RSI_LEVEL_M2K_PER_W)))
            if area > 0.0:
                corner = 1.0 - CORNER_RSI_M2K_PER_W / (CORNER_RSI_M2K_PER_W + 1.0 / mean_u - RSI_LEVEL_M2K_PER_W)
                here.append((f"{zone.name} corners", z, CORNER_AREA_SHARE * area, corner))
        found += sorted(here, key=lambda item: item[3])
    return found


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
    return record(
        A.BURNER,
        points=len(heater.stages),
        flows=len(duct_edges),
        modulating=int(heater.control == "modulating"),
        outputs_w=np.array([stage.output_w for stage in heater.stages]),
        efficiency=np.array([stage.efficiency_share for stage in heater.stages]),
        fan_w=air.fan_w,
        heat_share=share,
        flow_w_per_k=air.flow_w_per_k,
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
    surfaces: list[tuple[str, int, float, float]],
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
        is_fabric=ints([int(name.endswith("_fabric")) for name in names]),
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
        surface_zone=ints([z for _, z, _, _ in surfaces]),
        surface_area_m2=floats([a for _, _, a, _ in surfaces]),
        surface_factor=floats([f for _, _, _, f in surfaces]),
        surface_factor_screened=floats([f for _, _, _, f in surfaces]),
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
        self_heating_w=battery.self_heating_w,
        peukert=battery.peukert_factor,
        solar_kept=power.solar.kept_share * power.solar.charger_efficiency_share,
        alternator_a=power.alternator_a,
        mains_charger_a=power.mains_charger_a,
        mains_efficiency=power.mains_charger_efficiency_share,
        load_w=floats([load.power_w for load in power.loads]),
        load_duty=floats([load.duty_share for load in power.loads]),
        load_duty_per_k=floats([load.duty_per_k for load in power.loads]),
        load_zone=ints([-1 if load.zone == "outdoors" else zone_names.index(load.zone) for load in power.loads]),
    )
