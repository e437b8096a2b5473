"""What the march reads of a van and a tour: every number of their records, each where the description has it."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from sample_tours import short_tour
from sample_vans import one_room, sample_vans
from small_tour import small

from budget.answers.ensemble import InTurn
from budget.answers.prepared import Prepared
from budget.engine import arrays as A
from budget.engine.batch import CHUNK, FACTORS, TRACE, base_factors, run_many, run_one
from budget.engine.hour_arrays import draw_records, hour_records, weather_array
from budget.engine.layout import FIXED_LOADS, Flows, Size, Stocks, as_record, flow_width, flows_of, stocks_of
from budget.engine.network import Furnace, Network
from budget.engine.paths import Edge, edges_of, surfaces_of
from budget.engine.stepping import OUTDOORS
from budget.engine.van_arrays import BuiltVan, build_van
from budget.errors import BudgetError
from budget.physics.envelope import surface_factor
from budget.physics.properties import humidity_ratio, saturation_ratio
from budget.van.charge import CHEMISTRY
from budget.van.model import Van
from budget.weather.air import saturation_pressure_pa

SAMPLES = Path(__file__).parents[2] / "weather_samples"


def without_some() -> Van:
    """The demo without valve, cab or wet room, its locker outdoors and changed over by hand."""
    van = VANS["demo"]
    keep = tuple(zone for zone in van.cabin.zones if zone.name in ("living", "garage"))
    openings = tuple(o for o in van.cabin.openings if set(o.between) <= {"living", "garage"})
    cabin = van.cabin.model_copy(update={"zones": keep, "openings": openings})
    gas = van.gas.model_copy(update={"locker_zone": "outdoors", "changeover": "manual"})
    heater = van.heater.model_copy(update={"priority": "air", "altitude_compensated": True})
    return van.model_copy(
        update={
            "cabin": cabin, "gas": gas, "heater": heater, "fridge": None, "ducts": (),
            "water": van.water.model_copy(update={"drain_valve": None}),
        }
    )  # fmt: skip


VANS = sample_vans()
VANS["without some"] = without_some()


@cache
def built(name: str) -> BuiltVan:
    return build_van(VANS[name], 5)


@cache
def crowded(name: str = "demo") -> Prepared:
    van = VANS[name]
    return Prepared.of(van, short_tour(van), folder=SAMPLES)


# The van


@pytest.mark.parametrize("name", VANS)
def test_every_number_of_the_vans_record_is_the_descriptions(name: str) -> None:
    van, made = VANS[name], built(name)
    a, zones = made.arrays[0], van.cabin.zones
    names, zone_names = list(made.node_names), [zone.name for zone in zones]
    water, gas, power, battery = van.water, van.gas, van.power, van.power.battery
    fridge, valve, doors = van.fridge, water.drain_valve, van.cabin.openings
    living = zone_names.index("living") if "living" in zone_names else zone_names.index(van.heater.sensor_zone)
    one = {
        "nodes": len(names), "zones": len(zones), "edges": len(made.edges), "doors": len(doors),
        "surfaces": len(made.surface_names), "bottles": len(gas.bottles), "loads": len(power.loads),
        "electric_steps": len(van.heater.electric_w), "duct_edges": len(made.duct_edges),
        "fresh_node": names.index("fresh"), "waste_node": names.index("waste"), "pipes_node": names.index("pipes"),
        "boiler_node": names.index("boiler"), "battery_node": names.index("battery"), "solar_to_fabric_share": 0.7,
        "living": living, "cab": zone_names.index("cab") if "cab" in zone_names else -1,
        "wet": zone_names.index("wet_room") if "wet_room" in zone_names else living,
        "rated_w": van.heater.rated_w, "altitude_compensated": int(van.heater.altitude_compensated),
        "standby_w": van.heater.standby_w, "boiler_l": water.boiler.water_l, "fresh_capacity_l": water.fresh.capacity_l,
        "fresh_start_l": min(water.fresh.start_l, water.fresh.capacity_l), "waste_capacity_l": water.waste.capacity_l,
        "waste_start_l": min(water.waste.start_l, water.waste.capacity_l), "pipes_l": water.pipes.content_l,
        "valve_zone": -1 if valve is None else zone_names.index(valve.zone),
        "valve_opens_c": 0.0 if valve is None else valve.opens_c,
        "valve_closes_c": 0.0 if valve is None else valve.closes_c, "pump_w": power.pump_w,
        "pump_l_per_min": power.pump_l_per_min,
        "locker_share": 0.0 if gas.locker_zone == "outdoors" else gas.locker_warmer_share,
        "changeover": ["manual", "automatic", "parallel"].index(gas.changeover),
        "regulator_need_pa": 1e5 * gas.regulator_need_bar, "regulator_kg_per_h": gas.regulator_kg_per_h,
        "swap_below_share": gas.swap_below_share,
        "fridge_gas_kg_per_h": 0.0 if fridge is None else fridge.gas_g_per_h / 1000.0,
        "fridge_electric_w": 0.0 if fridge is None else fridge.electric_w,
        "fridge_use": 2 if fridge is None else ["gas", "electric_first", "off"].index(fridge.use),
        "chemistry": CHEMISTRY[battery.chemistry], "capacity_ah": battery.capacity_ah, "nominal_v": battery.nominal_v,
        "start_share": battery.start_share, "cut_out_share": battery.cut_out_share,
        "reconnect_share": max(battery.reconnect_share, battery.cut_out_share),
        "charge_efficiency": battery.charge_efficiency_share, "max_charge_a": battery.max_charge_a,
        "peukert": battery.peukert_factor, "pad_w": battery.pad_w, "pad_on_c": battery.pad_on_c,
        "pad_off_c": battery.pad_off_c, "alternator_a": power.alternator_a, "mains_charger_a": power.mains_charger_a,
        "solar_kept": power.solar.kept_share * power.solar.charger_efficiency_share,
        "mains_efficiency": power.mains_charger_efficiency_share,
    }  # fmt: skip
    for field, value in one.items():
        assert a[field] == pytest.approx(value, rel=1e-12), field
    bottles, loads = gas.bottles, power.loads
    by_name = {edge.name: k for k, edge in enumerate(made.edges)}
    beside = [by_name.get(f"bottle {k + 1} to {gas.locker_zone}", -1) for k in range(len(bottles))]
    rows: dict[str, list[Any]] = {
        "air_node": [names.index(f"{zone}_air") for zone in zone_names],
        "fabric_node": [names.index(f"{zone}_fabric") for zone in zone_names],
        "bottle_node": [names.index(f"bottle_{k + 1}") for k in range(len(bottles))],
        "edge_from": [names.index(edge.a) for edge in made.edges],
        "edge_to": [OUTDOORS if edge.b is None else names.index(edge.b) for edge in made.edges],
        "airy_edge": [k for k, edge in enumerate(made.edges) if edge.kind in (A.VENT, A.DOORWAY)],
        "air_kg": [1.2 * zone.air_m3 for zone in zones],
        "door_a": [zone_names.index(door.between[0]) for door in doors],
        "door_b": [zone_names.index(door.between[1]) for door in doors],
        "electric_w": list(van.heater.electric_w),
        "bottle_start_kg": [b.net_kg if b.start_kg is None else b.start_kg for b in bottles],
        "bottle_refillable": [int(b.refillable) for b in bottles],
        "bottle_outdoor_edge": [by_name[f"bottle {k + 1} to outdoors"] for k in range(len(bottles))],
        "bottle_zone_edge": [-1] * len(bottles) if gas.locker_zone == "outdoors" else beside,
        "load_w": [load.power_w for load in loads], "load_duty": [load.duty_share for load in loads],
        "load_duty_per_k": [load.duty_per_k for load in loads],
        "load_zone": [-1 if load.zone == "outdoors" else zone_names.index(load.zone) for load in loads],
    }  # fmt: skip
    same = {
        "zones": (zones, ("leakage_cm2", "vent_low_cm2", "vent_high_cm2", "vent_height_m", "air_m3",
                          "floor_colder_share")),
        "doors": (doors, ("width_m", "height_m", "closed_w_per_k", "closed_m3_per_h")),
        "bottles": (bottles, ("net_kg", "tare_kg", "propane_share", "diameter_m")),
    }  # fmt: skip
    prefix = {"zones": "", "doors": "door_", "bottles": "bottle_"}
    for kind, (parts, fields) in same.items():
        rows |= {f"{prefix[kind]}{field}": [getattr(part, field) for part in parts] for field in fields}
    edge_fields = {"kind": "kind", "index": "index", "w_per_k": "w_per_k", "area_m2": "area_m2", "u_w_per_m2k": "u",
                   "u_screened_w_per_m2k": "u_screened", "pull_share": "pull_share", "air_share": "air_share",
                   "face": "face", "absorptance": "absorptance", "g": "g", "g_screened": "g_screened",
                   "sky_view": "sky_view", "zone": "zone"}  # fmt: skip
    rows |= {f"edge_{field}": [getattr(e, own) for e in made.edges] for field, own in edge_fields.items()}
    surfaces = surfaces_of(van)
    surface_fields = {"zone": "zone", "area_m2": "area_m2", "factor": "factor", "factor_screened": "factor_screened",
                      "glass": "glass"}  # fmt: skip
    rows |= {f"surface_{field}": [float(getattr(s, own)) for s in surfaces] for field, own in surface_fields.items()}
    for field, values in rows.items():
        assert a[field][: len(values)].tolist() == pytest.approx(values, rel=1e-12), field
    assert a["airy"] == len(rows["airy_edge"])
    shells = {
        "boiler": 2000.0,
        "fresh": 4000.0,
        "waste": 4000.0,
        "pipes": 500.0,
        "battery": battery.heat_capacity_j_per_k,
    }
    shells |= {f"bottle_{k + 1}": 480.0 * bottle.tare_kg for k, bottle in enumerate(bottles)}
    shells |= {f"{zone.name}_air": zone.air_capacity_j_per_k for zone in zones}
    shells |= {f"{zone.name}_fabric": zone.fabric_capacity_j_per_k for zone in zones}
    assert set(shells) == set(names)
    assert [shells[node] for node in names] == a["capacity_j_per_k"][: len(names)].tolist()


@pytest.mark.parametrize("name", VANS)
def test_every_number_of_the_burners_record_is_the_heaters(name: str) -> None:
    van, made = VANS[name], built(name)
    b, heater, air = made.burner[0], van.heater, made.warm_air
    names, points = list(made.node_names), len(heater.stages)
    fan_fixed = [0.4 * stage.fan_w for stage in heater.stages]
    one = {
        "points": points, "flows": len(made.duct_edges), "modulating": int(heater.control == "modulating"),
        "air_ratio": 1.0, "supply_limit_c": heater.supply_limit_c, "sensor": names.index(f"{heater.sensor_zone}_air"),
        "boiler": names.index("boiler"), "differential_k": heater.differential_k, "band_k": heater.band_k,
        "min_on_s": heater.min_on_s, "min_off_s": heater.min_off_s, "start_loss_j": 1000.0 * heater.start_loss_kj,
        "run_on_s": heater.run_on_s, "water_w": heater.water_w, "boiler_hysteresis_k": van.water.boiler.hysteresis_k,
        "water_first": int(heater.priority == "water"),
        "fan_node": names.index(f"{made.zone_names[made.living]}_air"),
    }  # fmt: skip
    for field, value in one.items():
        assert b[field] == pytest.approx(value, rel=1e-12), field
    rows = {
        "outputs_w": [stage.output_w for stage in heater.stages],
        "efficiency": [stage.efficiency_share for stage in heater.stages],
        "fan_w": air.fan_w, "fan_fixed_w": fan_fixed, "fan_air_w": np.asarray(air.fan_w) - fan_fixed,
        "total_w_per_k": np.asarray(air.total_m3_per_h) * 1.2 / 3600.0 * 1006.0,
        "flow_from": [a for a, _ in made.duct_edges], "flow_to": [to for _, to in made.duct_edges],
    }  # fmt: skip
    for field, values in rows.items():
        assert b[field][: len(values)].tolist() == pytest.approx(list(values), rel=1e-9), field
    flows = len(made.duct_edges)
    for field in ("flow_w_per_k", "sea_flow_w_per_k"):
        assert b[field][:points, :flows] == pytest.approx(np.asarray(air.flow_w_per_k)), field
    nodes = [names.index(f"{zone}_air") for zone in made.zone_names]
    share = b["heat_share"][:points]
    assert share[:, nodes] == pytest.approx(np.asarray(air.heat_share))
    assert share.sum() == pytest.approx(np.asarray(air.heat_share).sum())
    for (a, to), (near, far) in zip(made.duct_edges, air.edges, strict=True):
        assert (a, to) == (OUTDOORS if near < 0 else nodes[near], nodes[far])


@pytest.mark.parametrize("name", VANS)
def test_a_built_van_names_its_parts(name: str) -> None:
    van, made = VANS[name], built(name)
    zones = tuple(zone.name for zone in van.cabin.zones)
    assert (made.van, made.zone_names) == (van, zones)
    assert made.living == (zones.index("living") if "living" in zones else zones.index(van.heater.sensor_zone))
    assert made.cab == (zones.index("cab") if "cab" in zones else -1)
    assert made.size == Size(
        nodes=len(made.node_names), zones=len(zones), edges=len(made.edges), ducts=len(made.duct_edges),
        bottles=len(van.gas.bottles), loads=len(van.power.loads), surfaces=len(made.surface_names), draws=5,
    )  # fmt: skip
    assert made.surface_names == tuple(surface.name for surface in surfaces_of(van))
    assert made.edges == tuple(edges_of(van))
    assert (made.stocks, made.flows) == (stocks_of(made.size), flows_of(made.size))
    assert build_van(van).size.draws == 0
    followers = int(made.pattern["followers"][0])
    slow = {"fresh", "waste", "pipes", "battery", *(f"bottle_{k + 1}" for k in range(len(van.gas.bottles)))}
    assert set(made.node_names[:followers]) <= slow
    assert followers >= 3


def test_runs_in_thin_air_lose_more_of_what_they_carry() -> None:
    """The air of all runs is that of sea level (the march thins it); of 0.8 of its mass more stays on its way."""
    low, high, plain = (build_van(VANS["demo"], 0, ratio).burner[0] for ratio in (1.0, 0.8, 1.0))
    assert high["flow_w_per_k"] == pytest.approx(low["flow_w_per_k"], rel=1e-9)
    assert np.abs(high["heat_share"] - low["heat_share"]).max() > 1e-3
    assert np.array_equal(low["heat_share"], plain["heat_share"])
    assert np.array_equal(low["heat_share"], build_van(VANS["demo"]).burner[0]["heat_share"])


# Paths


def room_edges(**changes: Any) -> dict[str, Edge]:
    zone = {
        "name": "living", "air_m3": 10.0, "air_capacity_j_per_k": 60e3, "fabric_capacity_j_per_k": 500e3,
        "fabric_coupling_w_per_k": 100.0, "fabric_loss_share": 0.5, "roof_warmer_share": 0.2, "floor_colder_share": 0.3,
        "opaque": [
            {"name": "roof", "area_m2": 10.0, "faces": "roof", "u_w_per_m2k": 2.0, "solar_absorptance_share": 0.4},
            {"name": "floor", "area_m2": 10.0, "faces": "floor", "u_w_per_m2k": 1.0},
            {"name": "wall", "area_m2": 20.0, "faces": "left", "u_w_per_m2k": 1.5},
        ],
        "glazing": [{"name": "hatch", "area_m2": 0.5, "faces": "roof", "u_w_per_m2k": 3.0, "u_screened_w_per_m2k": 2.0,
                     "g_share": 0.7, "g_screened_share": 0.1},
                    {"name": "window", "area_m2": 0.4, "faces": "right", "u_w_per_m2k": 2.8}],
    } | changes  # fmt: skip
    return {edge.name: edge for edge in edges_of(one_room(cabin={"zones": [zone]}))}


def test_a_rooms_paths_are_its_elements_with_warm_roof_and_cold_floor() -> None:
    """10 × 2 × 1.2 + 10 × 1 × 0.7 + 20 × 1.5 = 61 W/K, half of it through the lining: 30.5 in series with 100 W/K of
    coupling is a shell of 30.5 × 100 / 69.5."""
    edges = room_edges()
    assert list(edges)[:8] == [
        "living lining", "living roof", "living floor", "living wall", "living shell", "living hatch", "living window",
        "living air exchange",
    ]  # fmt: skip
    lining = edges["living lining"]
    assert (lining.a, lining.b, lining.kind, lining.w_per_k) == ("living_air", "living_fabric", A.FIXED, 100.0)
    for name, area, u, pull, face, absorbs, sky in (
        ("roof", 10.0, 2.0, 1.2, A.ROOF, 0.4, 1.0), ("floor", 10.0, 1.0, 0.7, A.FLOOR, None, 0.0),
        ("wall", 20.0, 1.5, 1.0, A.LEFT, None, 0.5),
    ):  # fmt: skip
        edge = edges[f"living {name}"]
        assert (edge.a, edge.b, edge.kind, edge.zone) == ("living_air", None, A.OPAQUE, 0)
        assert (edge.area_m2, edge.u, edge.pull_share) == pytest.approx((area, u, pull))
        assert (edge.air_share, edge.face, edge.sky_view) == (0.5, face, sky)
        assert absorbs is None or edge.absorptance == absorbs
    shell = edges["living shell"]
    assert (shell.a, shell.b, shell.kind) == ("living_fabric", None, A.LINING)
    assert shell.w_per_k == pytest.approx(30.5 * 100.0 / 69.5)
    hatch, window = edges["living hatch"], edges["living window"]
    assert (hatch.area_m2, hatch.u, hatch.u_screened, hatch.pull_share) == (0.5, 3.0, 2.0, pytest.approx(1.2))
    assert (hatch.face, hatch.g, hatch.g_screened, hatch.sky_view, hatch.kind) == (A.ROOF, 0.7, 0.1, 1.0, A.GLAZING)
    assert (window.pull_share, window.face, window.sky_view, window.u_screened) == (1.0, A.RIGHT, 0.5, 2.8)
    vent = edges["living air exchange"]
    assert (vent.a, vent.b, vent.kind, vent.index) == ("living_air", None, A.VENT, 0)


def test_no_more_leaves_through_the_lining_than_six_tenths_of_its_coupling() -> None:
    """Of 61 W/K at a coupling of 50: 30 W/K, a shell of 30 × 50 / 20 = 75; without a share there is no shell."""
    edges = room_edges(fabric_coupling_w_per_k=50.0)
    assert edges["living shell"].w_per_k == pytest.approx(75.0)
    assert edges["living wall"].air_share == pytest.approx(1.0 - 30.0 / 61.0)
    assert "living shell" not in room_edges(fabric_loss_share=0.0)


def test_tanks_pipes_battery_and_bottles_hang_on_their_zones() -> None:
    van = VANS["demo"]
    edges = {edge.name: edge for edge in edges_of(van)}
    water, battery = van.water, van.power.battery
    zones = [zone.name for zone in van.cabin.zones]
    colder = van.cabin.zones[zones.index(water.pipes.zone)].floor_colder_share
    wanted = {
        "boiler standing loss": ("boiler", water.boiler.zone, water.boiler.standing_loss_w / 40.0),
        "fresh tank": ("fresh", water.fresh.zone, water.fresh.coupling_w_per_k),
        "waste tank": ("waste", water.waste.zone, water.waste.coupling_w_per_k),
        "pipes": ("pipes", water.pipes.zone, water.pipes.coupling_w_per_k * (1.0 - colder)),
        "pipes to outdoors": (
            "pipes", "outdoors", water.pipes.coupling_w_per_k * colder + water.pipes.outdoor_w_per_k,
        ),
        "battery": ("battery", battery.zone, battery.coupling_w_per_k),
    }  # fmt: skip
    for k in range(len(van.gas.bottles)):
        wanted[f"bottle {k + 1} to outdoors"] = (f"bottle_{k + 1}", "outdoors", 1.0)
        wanted[f"bottle {k + 1} to {van.gas.locker_zone}"] = (f"bottle_{k + 1}", van.gas.locker_zone, 1.0)
    for name, (node, zone, w_per_k) in wanted.items():
        edge = edges[name]
        assert (edge.a, edge.b, edge.kind) == (node, None if zone == "outdoors" else f"{zone}_air", A.FIXED), name
        assert edge.w_per_k == pytest.approx(w_per_k, rel=1e-12), name
        assert edge.zone == (0 if zone == "outdoors" else zones.index(zone)), name
    assert 0.0 < colder < 1.0
    for d, opening in enumerate(van.cabin.openings):
        edge = edges[opening.name]
        assert (edge.a, edge.b) == tuple(f"{zone}_air" for zone in opening.between)
        assert (edge.kind, edge.index, edge.zone) == (A.DOORWAY, d, zones.index(opening.between[0]))
    outside = {edge.name for edge in edges_of(VANS["without some"])}
    assert not any(name.startswith("bottle") and not name.endswith("outdoors") for name in outside)


def surfaces(opaque: list[tuple[str, float, float]], panes: list[dict[str, Any]]) -> list[Any]:
    zone = {
        "name": "living",
        "air_m3": 10.0,
        "air_capacity_j_per_k": 60e3,
        "fabric_capacity_j_per_k": 500e3,
        "fabric_coupling_w_per_k": 100.0,
        "opaque": [
            {"name": f"part {k}", "faces": f, "area_m2": m2, "u_w_per_m2k": u} for k, (f, m2, u) in enumerate(opaque)
        ],
        "glazing": panes,
    }
    return surfaces_of(one_room(cabin={"zones": [zone]}))


def test_water_condenses_on_glass_by_kind_on_ribs_and_in_corners_the_coldest_first() -> None:
    """Ribs are 4 % of walls and roof at up to 4 W/m²K, thrice the mean at most; corners 15 % behind 0.25 m²K/W."""
    single = {"name": "single", "area_m2": 0.5, "faces": "left", "u_w_per_m2k": 5.6, "screens": "outside",
              "u_screened_w_per_m2k": 3.0}  # fmt: skip
    inside = {"name": "a", "area_m2": 0.3, "faces": "left", "u_w_per_m2k": 2.8, "screens": "inside",
              "u_screened_w_per_m2k": 2.0}  # fmt: skip
    found = surfaces([("left", 20.0, 1.5), ("floor", 10.0, 0.9)], [single, inside, inside | {"name": "b"}])
    mean = (20.0 * 1.5 + 10.0 * 0.9) / 30.0
    told = {surface.name: surface for surface in found}
    assert [surface.factor for surface in found] == sorted(surface.factor for surface in found)
    assert set(told) == {"living single", "living glass", "living ribs", "living corners"}
    assert told["living single"].area_m2 == 0.5
    assert told["living single"].factor == pytest.approx(surface_factor(5.6, 0.13))
    assert told["living single"].factor_screened == pytest.approx(surface_factor(3.0, 0.13))
    glass = told["living glass"]
    assert (glass.area_m2, glass.glass, glass.zone) == (pytest.approx(0.6), True, 0)
    assert glass.factor == glass.factor_screened == pytest.approx(surface_factor(2.8, 0.13))
    ribs = told["living ribs"]
    assert (ribs.area_m2, ribs.glass) == (pytest.approx(0.8), False)
    assert ribs.factor == ribs.factor_screened == pytest.approx(surface_factor(3.0 * mean, 0.13))
    corners = told["living corners"]
    assert (corners.area_m2, corners.glass) == (pytest.approx(3.0), False)
    assert corners.factor == corners.factor_screened == pytest.approx(1.0 - 0.25 / (0.25 + 1.0 / mean - 0.13))
    good = {surface.name for surface in surfaces([("left", 20.0, 1.0)], [])}
    assert good == {"living corners"}  # no rib shows at 1 W/m²K and below
    (bad,) = [surface for surface in surfaces([("left", 20.0, 1.6)], []) if surface.name == "living ribs"]
    assert bad.factor == pytest.approx(surface_factor(4.0, 0.13))  # a lined rib passes 4, thrice 1.6 is more
    (worse,) = [surface for surface in surfaces([("left", 20.0, 5.0)], []) if surface.name == "living ribs"]
    assert worse.factor == pytest.approx(surface_factor(5.0, 0.13))
    assert surfaces([("floor", 20.0, 1.6)], []) == []


# The layout


def test_families_of_columns_follow_one_another_without_a_gap() -> None:
    size = Size(nodes=7, zones=2, edges=9, ducts=3, bottles=4, loads=5, surfaces=6, draws=1)
    widths = {
        "node_c": 7, "node_heat_j": 7, "ice_kg": 4, "propane_kg": 4, "butane_kg": 4, "fresh_l": 1, "waste_l": 1,
        "boiler_l": 1, "charge_ah": 1, "vapour_kg": 2, "condensed_kg": 6, "kit_kg": 2,
    }  # fmt: skip
    assert list(widths) == list(Stocks._fields[:-1])
    place = 0
    for name, width in widths.items():
        assert getattr(stocks_of(size), name) == place, name
        place += width
    assert stocks_of(size).width == place
    by_zone = [
        "extract_j",
        "sun_j",
        "skin_j",
        "people_j",
        "appliances_j",
        "cooking_j",
        "drive_j",
        "latent_j",
        "shower_j",
        "vapour_source_kg",
        "vapour_out_kg",
        "drying_kg",
        "kit_hung_kg",
        "air_change_m3",
    ]
    by_bottle = [
        "vaporise_j",
        "swap_j",
        "gas_out_kg",
        "gas_out_butane_kg",
        "swap_in_kg",
        "swap_in_butane_kg",
        "swap_out_kg",
        "swap_out_butane_kg",
        "swaps",
    ]
    wide = (
        dict.fromkeys(by_zone, 2)
        | dict.fromkeys(by_bottle, 4)
        | dict.fromkeys(("heater_j", "fan_heat_j", "water_j"), 7)
    )
    wide |= dict.fromkeys(("condensing_kg", "shed_kg", "wet_s"), 6) | {"edge_j": 9, "duct_j": 3, "load_ah": 10}
    assert flow_width(size) == wide
    place = 0
    for name in Flows._fields[:-1]:
        assert getattr(flows_of(size), name) == place, name
        place += wide.get(name, 1)
    assert flows_of(size).width == place
    for offsets in (stocks_of(size), flows_of(size)):
        record = as_record(offsets)
        assert {name: int(record[name][0]) for name in offsets._fields} == offsets._asdict()
    assert FIXED_LOADS.index("heater_fan") == 0


# The hours


@pytest.mark.parametrize("name", ["demo", "heavy", "electric_only", "one_room", "without some"])
def test_every_number_of_an_hour_is_the_tours(name: str) -> None:
    prepared = crowded(name)
    made, line, van = prepared.built, prepared.timeline, prepared.van
    rows = hour_records(made, line)
    n = len(line.index)
    assert len(rows) == n
    assert np.array_equal(rows["set_c"].reshape(-1), line.setpoint_c, equal_nan=True)
    assert np.array_equal(rows["water_set_c"].reshape(-1), line.water_set_c, equal_nan=True)
    assert rows["awake_inside"].tolist() == ((line.awake > 0.0) & line.inside).tolist()
    assert rows["people_latent_kg_per_s"] == pytest.approx(line.people_vapour_g_per_h / 3.6e6)
    for hour in range(n):
        anybody = line.awake[hour] + line.asleep[hour] > 0.0 or line.people_w[hour] > 0.0
        zone = made.cab if line.moving[hour] == 1 and made.cab >= 0 else made.living
        assert rows["people_zone"][hour] == (zone if anybody else -1), hour
    openings = len(van.cabin.openings)
    assert np.array_equal(rows["closed"][:, :openings], line.closed)
    assert rows["cooking_kg"].tolist() == line.cooking_gas_kg.tolist()
    assert rows["cooking_vented"].tolist() == line.cooking_vented_share.tolist()
    assert rows["cooking_steam_kg"] == pytest.approx(line.cooking_steam_g / 1000.0)
    assert rows["extract_kg_per_s"] == pytest.approx(line.extract_m3_per_h * 1.25 / 3600.0)
    assert rows["door_air_m3_per_h"] == pytest.approx(line.door_air_changes * van.cabin.zones[made.living].air_m3)
    for same in ("heater_allowed", "moving", "inside", "people_w", "screens", "hookup_w", "fuel", "gas_open",
                 "cooking_electric_w", "cold_water_l", "cold_to_waste_l", "refill", "empty_waste", "solar_factor",
                 "alternator", "rooflight_cm2", "extract_fan_w", "wipe"):  # fmt: skip
        assert np.array_equal(rows[same], getattr(line, same)), same
    names = [bottle.name for bottle in van.gas.bottles]
    assert np.array_equal(rows["exchange_open"][:, : len(names)], line.exchange_open(names))
    for k, load in enumerate(van.power.loads):
        assert np.array_equal(rows["load_share"][:, k], line.load_share(load))
    hung = np.zeros((n, len(made.zone_names), 2))
    for hour, zone, kg, m2 in line.drying:
        hung[hour, made.zone_names.index(zone)] += kg, m2
    assert np.array_equal(rows["hung_kg"][:, : len(made.zone_names)], hung[:, :, 0])
    assert np.array_equal(rows["hung_m2"][:, : len(made.zone_names)], hung[:, :, 1])
    assert hung[:, :, 0].sum() > 0.0
    assert set(rows["drive_cab_c"]) == {line.drive_cab_c}
    assert set(rows["refill_c"]) == {6.0} and set(rows["start_c"]) == {12.0}
    draws = draw_records(line)
    assert draws["quarter"].tolist() == [int(second // 900) for second in line.draw_s]
    for field in ("litres_l", "tap_c", "use"):
        own = {"litres_l": line.draw_l, "tap_c": line.draw_tap_c, "use": line.draw_use}[field]
        assert draws[field].tolist() == own.tolist(), field
    assert len(draws) > 3


def test_two_wet_things_hung_in_one_zone_at_once_add_up() -> None:
    prepared = crowded()
    drying = (*prepared.timeline.drying, *prepared.timeline.drying)
    from dataclasses import replace

    rows = hour_records(prepared.built, replace(prepared.timeline, drying=drying))
    assert rows["hung_kg"].sum() == pytest.approx(2.0 * prepared.hours["hung_kg"].sum())
    assert rows["hung_m2"].sum() == pytest.approx(2.0 * prepared.hours["hung_m2"].sum())


def test_a_weather_record_is_laid_in_its_columns() -> None:
    prepared = crowded()
    line, frame = prepared.timeline, prepared.weather.frame
    count = len(frame)
    planes = {
        name: np.full(count, 1.0 + k)
        for k, name in enumerate(("roof", "front", "rear", "left", "right", "sides", "panel_w"))
    }
    rows = weather_array(prepared.weather.values(), line, planes)
    assert rows.shape == (count, A.WEATHER_COLUMNS)
    temp_c, pressure = frame["temp_air"].to_numpy(), frame["pressure"].to_numpy()
    assert rows[:, A.TEMP_C].tolist() == temp_c.tolist()
    assert rows[:, A.PRESSURE_PA].tolist() == pressure.tolist()
    wind = np.maximum(frame["wind_speed"].to_numpy() * line.wind_factor, line.speed_m_per_s)
    assert rows[:, A.WIND_M_PER_S] == pytest.approx(wind)
    sky = np.maximum(temp_c - frame["temp_sky"].to_numpy(), 0.0)
    assert rows[:, A.SKY_DELTA_K] == pytest.approx(sky)
    for hour in range(count):
        vapour = frame["relative_humidity"].iloc[hour] / 100.0 * float(saturation_pressure_pa(temp_c[hour]))
        most = saturation_ratio(temp_c[hour], pressure[hour])
        assert rows[hour, A.HUMIDITY_RATIO] == pytest.approx(min(humidity_ratio(vapour, pressure[hour]), most))
    columns = (A.ROOF, A.FRONT, A.REAR, A.LEFT, A.RIGHT, A.SIDES, A.PANEL_W)
    assert [set(rows[:, column]) for column in columns] == [{1.0 + k} for k in range(7)]
    warm_sky = prepared.weather.values() | {"temp_sky": temp_c + 5.0}
    assert not weather_array(warm_sky, line, planes)[:, A.SKY_DELTA_K].any()


# The batch


def test_scenarios_take_the_schedule_weather_and_factors_that_they_are_given() -> None:
    """Six scenarios of two schedules, two weathers and a factor: each is the single run of its own."""
    prepared = small(1)
    cold = prepared.hours.copy()
    cold["set_c"] = 8.0
    hours = np.stack([prepared.hours, cold]).view(np.recarray)
    warm = prepared.rows.copy()
    warm[:, A.TEMP_C] += 9.0
    weather = np.stack([prepared.rows, warm])
    factors = base_factors(6)
    factors[:, A.LOSS] = [1.0, 1.0, 1.5, 1.5, 1.0, 0.5]
    schedule_of, weather_of = np.array([0, 1, 0, 1, 0, 1]), np.array([0, 0, 1, 1, 1, 0])
    many = run_many(prepared.built, hours, weather, prepared.wishes, factors=factors, weather_of=weather_of,
                    schedule_of=schedule_of, executor=InTurn())  # fmt: skip
    steps = 0
    for k in range(6):
        one = run_one(
            prepared.built, hours[schedule_of[k]], weather[weather_of[k]], prepared.wishes, factors=factors[k]
        )
        assert np.array_equal(many.totals[k], one.totals[0])
        assert np.array_equal(many.trace[k], one.trace[0])
        assert many.drawn[k].tobytes() == one.drawn[0].tobytes()
        assert one.stocks is not None and one.flows is not None
        assert one.stocks.shape == (25, prepared.built.stocks.width)
        assert one.flows.sum(axis=0) == pytest.approx(one.totals[0], rel=1e-9, abs=1e-6)
        steps += one.steps
    assert many.steps == steps
    assert (many.stocks, many.flows) == (None, None)
    assert len({total.tobytes() for total in many.totals}) == 6
    alone = run_many(
        prepared.built, prepared.hours, weather[:1], prepared.wishes, factors=factors[:1], executor=InTurn()
    )
    assert np.array_equal(alone.totals[0], many.totals[0])
    coarse = run_one(prepared.built, prepared.hours, prepared.rows, prepared.wishes, step_error_k=0.5)
    fine = run_one(prepared.built, prepared.hours, prepared.rows, prepared.wishes, step_error_k=1e-4)
    assert coarse.steps < many.steps / 6 * 1.5 and fine.steps > coarse.steps
    rough = run_many(prepared.built, prepared.hours, weather[:1], prepared.wishes, factors=factors[:1],
                     step_error_k=0.5, executor=InTurn())  # fmt: skip
    assert rough.steps == coarse.steps


def test_many_scenarios_are_marched_in_chunks_that_say_so_on_any_executor() -> None:
    prepared = small(1)
    factors = base_factors(2 * CHUNK + 3)
    factors[:, A.LOSS] = np.linspace(0.8, 1.2, len(factors))
    done: list[int] = []
    turn = run_many(prepared.built, prepared.hours, prepared.rows[np.newaxis], prepared.wishes, factors=factors,
                    executor=InTurn(), done=done.append)  # fmt: skip
    assert done == [CHUNK, CHUNK, 3]
    counted: list[int] = []
    cores = run_many(prepared.built, prepared.hours, prepared.rows[np.newaxis], prepared.wishes, factors=factors,
                     done=counted.append)  # fmt: skip
    assert sorted(counted) == [3, CHUNK, CHUNK]
    assert np.array_equal(turn.totals, cores.totals)
    assert turn.steps == cores.steps
    assert (np.diff(turn.totals[:, prepared.built.flows.heating_kg]) > 0.0).all()


def test_a_trace_has_gas_charge_sensor_pipes_use_and_cut_out() -> None:
    prepared = small(1)
    many = prepared.run()
    assert many.stocks is not None and many.flows is not None
    at, flows, bottles = prepared.built.stocks, prepared.built.flows, prepared.built.size.bottles
    columns = dict(zip(TRACE, many.trace[0].T, strict=True))
    left = many.stocks[:, at.propane_kg : at.propane_kg + 2 * bottles].sum(axis=1)
    assert columns["gas_kg"] == pytest.approx(left)
    assert columns["charge_share"] == pytest.approx(
        many.stocks[:, at.charge_ah] / prepared.van.power.battery.capacity_ah
    )
    names = prepared.built.node_names
    assert columns["sensor_c"].tolist() == many.stocks[:, at.node_c + names.index("living_air")].tolist()
    assert columns["pipes_c"].tolist() == many.stocks[:, at.node_c + names.index("pipes")].tolist()
    drawn = many.flows[:, flows.gas_out_kg : flows.gas_out_kg + 2 * bottles].sum(axis=1)
    assert np.diff(columns["used_kg"]) == pytest.approx(drawn)
    assert np.diff(columns["cut_out_s"]).tolist() == many.flows[:, flows.cut_out_s].tolist()


def test_base_factors_leave_the_van_as_it_is() -> None:
    rows = base_factors(3)
    assert rows.shape == (3, len(FACTORS)) and base_factors().shape == (1, len(FACTORS))
    assert (rows[:, A.SETPOINT_K] == 0.0).all()
    assert (np.delete(rows, A.SETPOINT_K, axis=1) == 1.0).all()
    prepared = small(1)
    assert np.array_equal(prepared.run(base_factors()).totals, prepared.run().totals)


def test_a_scenario_that_gets_stuck_is_an_internal_fault_with_its_number() -> None:
    """A sensor without any capacity jumps with the burner, so that no step is short enough."""
    from dataclasses import replace

    prepared = small(1)
    arrays = prepared.built.arrays.copy()
    arrays["capacity_j_per_k"][0][prepared.built.node_names.index("living_air")] = 0.0
    hours = np.stack([prepared.hours, prepared.hours]).view(np.recarray)
    hours["set_c"][0] = np.nan
    with pytest.raises(
        BudgetError, match=r"^the inner solver did not advance in scenario 1; this is an internal fault$"
    ):
        run_many(replace(prepared.built, arrays=arrays), hours, prepared.rows[np.newaxis], prepared.wishes,
                 factors=base_factors(2), schedule_of=np.array([0, 1]), executor=InTurn())  # fmt: skip


def test_a_network_whose_sensor_has_no_capacity_is_stuck() -> None:
    empty = Network(
        capacity_j_per_k=np.array([0.0, 400e3]), edge_from=np.array([0, 0]), edge_to=np.array([1, -1]),
        edge_w_per_k=np.array([100.0, 60.0]),
    )  # fmt: skip
    furnace = Furnace(sensor=0, share=np.array([1.0, 0.0]), outputs_w=np.array([4000.0]), efficiency=np.ones(1),
                      modulating=False)  # fmt: skip
    with pytest.raises(BudgetError) as fault:
        empty.march(
            start_c=np.full(2, 20.0),
            outdoor_c=np.zeros(2),
            heat_w=np.zeros((2, 2)),
            furnace=furnace,
            setpoint_c=np.full(2, 25.0),
        )
    assert str(fault.value) == "the inner solver did not advance: a thermostat needs a node with capacity"
