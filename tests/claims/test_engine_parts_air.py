"""Surroundings and vapour in the march, one function at a time; numbers by hand, tolerances those of floats."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from engine_bench import Bench
from sample_vans import sample_vans

from budget.engine import arrays as A
from budget.engine.damp import (
    BARELY_WET_KG_PER_M2,
    CLOTH_FILM_W_PER_M2K,
    SURFACE_FILM_W_PER_M2K,
    move_vapour,
    settle_air,
)
from budget.engine.state import CUT_OUT
from budget.engine.surroundings import blow_vapour, exchange_air, hang_kit, run_loads, surround, warm_cab
from budget.physics.envelope import OUTER_RADIATION_W_PER_M2K
from budget.physics.moisture import kit_drying_kg_per_s, mass_coefficient_kg_per_m2s, wet_area_share
from budget.physics.properties import (
    AIR_CP_J_PER_KG_K,
    PROPANE_BURNED_WATER_SHARE,
    PROPANE_LOWER_J_PER_KG,
    STANDARD_PRESSURE_PA,
    VAPOUR_LATENT_J_PER_KG,
    air_density_kg_per_m3,
    saturation_ratio,
)
from budget.physics.ventilation import doorway_w_per_k, leakage_m3_per_h, vent_m3_per_h

DEMO = sample_vans()["demo"]
HALF_S, HOUR_S = 1800.0, 3600.0
LIVING, CAB, WET, GARAGE = range(4)
STANDARD_WIND_M_PER_S = (25.0 - 4.0 - OUTER_RADIATION_W_PER_M2K) / 4.0


def bench(outdoor_c: float = -10.0, **changes: Any) -> Bench:
    """The demo's four zones; edges, doors, loads and surfaces are laid by the claims."""
    laid = Bench(DEMO, outdoor_c)
    van = laid.van
    van.edges = van.airy = van.loads = van.surfaces = van.duct_edges = 0
    for name, value in changes.items():
        (laid.hour if name in laid.hour.dtype.names else van)[name] = value
    return laid


def air(laid: Bench, zone: int) -> int:
    return int(laid.van.air_node[zone])


def edge(laid: Bench, kind: int, a: int, b: int = -1, **numbers: float) -> int:
    """Lay one more path of heat between nodes; returns its number."""
    van, e = laid.van, int(laid.van.edges)
    van.edge_kind[e], van.edge_from[e], van.edge_to[e] = kind, a, b
    for name, value in numbers.items():
        van[f"edge_{name}"][e] = value
    if kind in (A.VENT, A.DOORWAY):
        van.airy_edge[van.airy] = e
        van.airy += 1
    van.edges = e + 1
    return e


def surrounded(laid: Bench) -> dict[str, float]:
    surround(laid.van, laid.hour, laid.outside, laid.factors, laid.state, laid.scratch, laid.flow, laid.at)
    return laid.moved()


def test_wet_kit_is_hung_up_once_more_beside_what_hangs() -> None:
    """0.25 kg of 3 kg on 9 m² dry with 0.25 / (0.3 · 3) of them: as 2.5 m² of 0.83 kg hung up. Later 1.25 of 1.33 kg
    dry with all of their area."""
    laid = bench()
    laid.hour.hung_kg[[CAB, WET]], laid.hour.hung_m2[[CAB, WET]] = (0.5, 2.0), (1.0, 4.0)
    laid.state.kit_kg[:4], laid.state.kit_start_kg[:4], laid.state.kit_m2[:4] = 0.25, 3.0, 9.0
    for kilograms in (0.5, 1.0):
        hang_kit(laid.van, laid.hour, laid.state, laid.flow, laid.at)
        assert laid.moved() == {f"kit_hung_kg+{CAB}": kilograms, f"kit_hung_kg+{WET}": 4.0 * kilograms}
    assert laid.state.kit_kg[:4].tolist() == [0.25, 1.25, 4.25, 0.25]
    assert laid.state.kit_start_kg[:4].tolist() == pytest.approx([3.0, 2.5 / 3.0 + 1.0, 2.5 / 3.0 + 4.0, 3.0])
    assert laid.state.kit_m2[:4].tolist() == pytest.approx([9.0, 4.5, 10.5, 9.0])


def test_dry_kit_leaves_no_area_to_what_is_hung_up_after_it() -> None:
    laid = bench()
    laid.hour.hung_kg[WET], laid.hour.hung_m2[WET] = 2.0, 4.0
    laid.state.kit_kg[WET], laid.state.kit_start_kg[WET], laid.state.kit_m2[WET] = 0.0, 3.0, 9.0
    hang_kit(laid.van, laid.hour, laid.state, laid.flow, laid.at)
    assert (laid.state.kit_kg[WET], laid.state.kit_start_kg[WET], laid.state.kit_m2[WET]) == (2.0, 2.0, 4.0)


def test_each_kind_of_path_has_its_conductance_and_its_sun() -> None:
    """In the wind of the quoted U-values (outer film 25). Loss factor 1.1, glass 0.9, screens half drawn, 100 W/m² on
    the left, a sky 10 K colder. Opaque 10 m² · 2 · 1.1 = 22 W/K, three quarters of it from the air, a roof's pull of
    1.2. Glass 2 m² · (3 + 1) / 2 · 0.9 = 3.6 W/K, g (0.6 + 0.2) / 2: 80 W of sun, 0.7 of it into the fabric."""
    laid = bench()
    laid.factors[A.LOSS], laid.factors[A.GLASS], laid.hour.screens = 1.1, 0.9, 0.5
    laid.outside[A.WIND_M_PER_S], laid.outside[A.LEFT], laid.outside[A.SKY_DELTA_K] = STANDARD_WIND_M_PER_S, 100.0, 10.0
    fixed = edge(laid, A.FIXED, air(laid, LIVING), w_per_k=7.0)
    lining = edge(laid, A.LINING, air(laid, LIVING), w_per_k=10.0)
    vent = edge(laid, A.VENT, air(laid, LIVING))
    opaque = edge(laid, A.OPAQUE, air(laid, CAB), zone=CAB, area_m2=10.0, u_w_per_m2k=2.0, air_share=0.75,
                  pull_share=1.2, face=A.LEFT, absorptance=0.5, sky_view=0.5)  # fmt: skip
    glass = edge(laid, A.GLAZING, air(laid, CAB), zone=CAB, area_m2=2.0, u_w_per_m2k=3.0, u_screened_w_per_m2k=1.0,
                 air_share=0.1, pull_share=0.8, face=A.LEFT, absorptance=0.0, g=0.6, g_screened=0.2,
                 sky_view=0.25)  # fmt: skip
    laid.scratch.edge_w_per_k[vent], laid.scratch.gain_w[:] = 77.0, 5.0
    laid.van.solar_to_fabric_share = 0.7
    told = surrounded(laid)
    g = laid.scratch.edge_w_per_k
    assert [g[e] for e in (fixed, lining, vent, opaque, glass)] == pytest.approx(
        [7.0, 11.0, 77.0, 22.0 * 0.75 * 1.2, 3.6 * 0.8], rel=1e-9
    )
    sky = OUTER_RADIATION_W_PER_M2K * 10.0
    skin_w = 22.0 / 25.0 * (0.5 * 100.0 - 0.5 * sky) - 3.6 / 25.0 * 0.25 * sky
    assert told == pytest.approx({f"sun_j+{CAB}": 80.0 * HOUR_S, f"skin_j+{CAB}": skin_w * HOUR_S}, rel=1e-9)
    gains = np.zeros(A.NODES)
    gains[laid.van.fabric_node[CAB]], gains[air(laid, CAB)] = 56.0, 24.0 + skin_w
    assert laid.scratch.gain_w.tolist() == pytest.approx(gains.tolist(), rel=1e-9)
    assert surrounded(laid) == pytest.approx({name: 2.0 * value for name, value in told.items()}, rel=1e-12)
    assert laid.scratch.gain_w.tolist() == pytest.approx(gains.tolist(), rel=1e-9)


@pytest.mark.parametrize(("watts", "sensible_w"), [(180.0, 216.0 - 86.4 * 0.68), (20.0, 0.0)])
def test_people_give_their_heat_less_what_their_vapour_takes(watts: float, sensible_w: float) -> None:
    """20 mg/s times 1.2 are 86.4 g/h, 0.68 W for each gram an hour; 1.2 times the heat, never less than nothing."""
    laid = bench(people_zone=WET, people_w=watts, people_latent_kg_per_s=2e-5)
    laid.factors[A.PEOPLE] = 1.2
    for times in (1.0, 2.0):
        told = surrounded(laid)
        expected = {f"vapour_source_kg+{WET}": 0.0864 * times}
        if sensible_w:
            expected[f"people_j+{WET}"] = sensible_w * HOUR_S * times
        assert told == pytest.approx(expected, rel=1e-9)
        assert laid.scratch.gain_w[air(laid, WET)] == pytest.approx(sensible_w, rel=1e-9)
    assert laid.scratch.vapour_kg_per_s[WET] == pytest.approx(4.8e-5, rel=1e-12)


def test_an_empty_van_has_no_people() -> None:
    laid = bench(people_zone=-1, people_w=180.0, people_latent_kg_per_s=2e-5)
    assert surrounded(laid) == {}


@pytest.mark.parametrize(
    ("loss_w_per_k", "gain_w", "g_w_per_k"),
    [
        (10.0, 60.0, 150.0),  # settles at (60 + 400 - 100 + 3000) / 180 = 18.7 °C
        (400.0, 60.0, 3000.0 / (20.0 - (60.0 + 400.0 - 4000.0 + 3000.0) / 420.0)),
        (340.0, 60.0, 150.0),  # 19.9 K short: 2982 W
        (10.0, 900.0, 0.0),  # warm enough by itself: (900 + 400 - 100) / 30 = 40 °C
    ],
)
def test_the_road_warms_the_cab_towards_its_temperature_by_three_kilowatts_at_most(
    loss_w_per_k: float, gain_w: float, g_w_per_k: float
) -> None:
    """20 W/K to the living area's 20 °C, the rest to outdoors at -10 °C, other zones' losses beside the point."""
    laid = bench(moving=1, drive_cab_c=20.0)
    laid.state.temp_c[air(laid, LIVING)] = 20.0
    edge(laid, A.DOORWAY, air(laid, LIVING), air(laid, CAB))
    edge(laid, A.FIXED, air(laid, LIVING))
    edge(laid, A.FIXED, air(laid, CAB))
    laid.scratch.edge_w_per_k[:3] = (20.0, 999.0, loss_w_per_k)
    laid.scratch.gain_w[air(laid, CAB)] = gain_w
    laid.scratch.drive_w_per_k[0] = 55.0
    warm_cab(laid.van, laid.hour, -10.0, laid.state, laid.scratch)
    assert laid.scratch.drive_w_per_k[0] == pytest.approx(g_w_per_k, rel=1e-9)
    laid.van.cab = LIVING  # whatever its number
    warm_cab(laid.van, laid.hour, -10.0, laid.state, laid.scratch)
    assert laid.scratch.drive_w_per_k[0] > 0.0
    for parked, cab in ((True, CAB), (False, -1)):
        laid.hour.moving, laid.van.cab, laid.scratch.drive_w_per_k[0] = 0 if parked else 1, cab, 55.0
        warm_cab(laid.van, laid.hour, -10.0, laid.state, laid.scratch)
        assert laid.scratch.drive_w_per_k[0] == 0.0


def loaded(laid: Bench) -> dict[str, float]:
    run_loads(laid.van, laid.hour, laid.outside, laid.factors, laid.state, laid.scratch, laid.flow, laid.at)
    return laid.moved()


def with_loads() -> Bench:
    """40 W at half duty in the living area; 60 W outdoors; a fridge of 50 W, duty 0.4 at 20 °C and 5 % more a kelvin,
    in the garage at 30 °C. Eight tenths used of the first, 1.1 in this scenario."""
    laid = bench(loads=3, extract_kg_per_s=0.01)
    laid.van.load_w[:3], laid.van.load_duty[:3], laid.van.load_duty_per_k[:3] = (40.0, 60.0, 50.0), (0.5, 1.0, 0.4), (
        0.0, 0.0, 0.05,
    )  # fmt: skip
    laid.van.load_zone[:3], laid.hour.load_share[:3] = (LIVING, -1, GARAGE), (0.8, 1.0, 1.0)
    laid.factors[A.LOADS] = 1.1
    laid.state.temp_c[air(laid, GARAGE)] = 30.0
    return laid


def test_loads_draw_by_duty_share_and_warmth_and_their_heat_stays_where_they_stand() -> None:
    laid = with_loads()
    for times in (1.0, 2.0):
        told = loaded(laid)
        assert laid.scratch.load_now_w[:3].tolist() == pytest.approx([17.6, 66.0, 33.0], rel=1e-12)
        assert told == pytest.approx(
            {f"appliances_j+{LIVING}": 17.6 * HALF_S * times, f"appliances_j+{GARAGE}": 33.0 * HALF_S * times}, rel=1e-9
        )
    assert laid.scratch.extract_kg_s[0] == 0.01
    assert laid.scratch.served[0] == 1.0


def test_loads_that_take_the_battery_to_its_cut_out_run_for_a_part_of_the_half_hour() -> None:
    """116.6 W for half an hour at 12 V are 4.858 Ah, of which 2.429 lie above the cut-out: half of each load, of its
    heat and of the extract fan's air."""
    laid = with_loads()
    laid.van.cut_out_share, laid.van.peukert, laid.van.nominal_v, laid.van.chemistry = 0.1, 1.0, 12.0, 0
    laid.van.alternator_a, laid.hour.hookup_w, laid.hour.heater_allowed = 0.0, 0.0, 0
    laid.state.temp_c[laid.van.battery_node] = 25.0
    laid.state.charge_ah[:] = (10.0 + 0.5 * 116.6 / 24.0, 100.0)
    told = loaded(laid)
    assert laid.scratch.load_now_w[:3].tolist() == pytest.approx([8.8, 33.0, 16.5], rel=1e-12)
    assert told == pytest.approx(
        {f"appliances_j+{LIVING}": 8.8 * HALF_S, f"appliances_j+{GARAGE}": 16.5 * HALF_S}, rel=1e-9
    )
    assert laid.scratch.extract_kg_s[0] == pytest.approx(0.005, rel=1e-12)
    assert laid.scratch.served[0] == pytest.approx(0.5, rel=1e-12)


@pytest.mark.parametrize(
    ("zone", "temp_c", "duty_per_k", "watts"),
    [(GARAGE, 60.0, 0.05, 55.0), (GARAGE, -20.0, 0.05, 0.0), (-1, 20.0, 0.02, 22.0 * 0.4), (GARAGE, 21.0, 1.0, 44.0),
     (GARAGE, 90.0, 0.0, 22.0)],
)  # fmt: skip
def test_a_fridges_duty_lies_between_none_and_all(zone: int, temp_c: float, duty_per_k: float, watts: float) -> None:
    """50 W · 1.1, duty 0.4; outdoors at -10 °C 0.4 · (1 - 0.02 · 30)."""
    laid = with_loads()
    laid.van.load_zone[2], laid.van.load_duty_per_k[2] = zone, duty_per_k
    laid.state.temp_c[air(laid, GARAGE)] = temp_c
    loaded(laid)
    assert laid.scratch.load_now_w[2] == pytest.approx(watts, abs=1e-9)


def test_after_a_cut_out_only_what_the_mains_cook_with_is_warm() -> None:
    """800 W of hook-up for a hob of 1000 W, a quarter of it vented."""
    laid = with_loads()
    laid.hour.cooking_electric_w, laid.hour.hookup_w, laid.hour.cooking_vented = 1000.0, 800.0, 0.25
    laid.state.marks[CUT_OUT] = 1
    assert loaded(laid) == pytest.approx({f"appliances_j+{LIVING}": 600.0 * HALF_S}, rel=1e-12)
    assert laid.scratch.load_now_w[:3].tolist() == [0.0, 0.0, 0.0]
    assert laid.scratch.extract_kg_s[0] == 0.0
    laid.state.marks[CUT_OUT], laid.hour.hookup_w = 0, 1200.0
    loaded(laid)
    assert laid.scratch.appliance_w[LIVING] == pytest.approx(767.6, rel=1e-12)
    laid.van.wet = 0
    loaded(laid)
    assert laid.scratch.extract_kg_s[0] == 0.01
    laid.van.wet = -1
    loaded(laid)
    assert laid.scratch.extract_kg_s[0] == 0.0


def exchanged(laid: Bench) -> None:
    exchange_air(laid.van, laid.hour, laid.outside, laid.factors, laid.state, laid.scratch)


DENSITY = air_density_kg_per_m3(-10.0, STANDARD_PRESSURE_PA)


@pytest.mark.parametrize(("zone", "moving", "m3_per_h"), [(LIVING, 0, 36.0), (LIVING, 1, 0.0), (CAB, 0, 0.0)])
def test_the_side_door_lets_air_into_the_living_area_of_a_parked_van(zone: int, moving: int, m3_per_h: float) -> None:
    laid = bench(moving=moving, door_air_m3_per_h=36.0)
    laid.van.leakage_cm2[:4] = laid.van.vent_low_cm2[:4] = laid.van.vent_high_cm2[:4] = 0.0
    e = edge(laid, A.VENT, air(laid, zone), index=zone)
    exchanged(laid)
    assert laid.scratch.vent_m3_per_h[zone] == m3_per_h
    assert laid.scratch.vent_kg_per_s[zone] == pytest.approx(m3_per_h * DENSITY / 3600.0, rel=1e-12)
    assert laid.scratch.edge_w_per_k[e] == pytest.approx(m3_per_h * DENSITY / 3600.0 * AIR_CP_J_PER_KG_K, rel=1e-12)


@pytest.mark.parametrize(("zone", "high_cm2"), [(LIVING, 230.0), (CAB, 80.0)])
def test_leaks_and_vents_add_up_as_outdoor_air(zone: int, high_cm2: float) -> None:
    """At 20 °C inside and -10 °C outdoors the vents' warm volume is 263.15 / 293.15 of it as it enters; the rooflight's
    150 cm² are the living area's."""
    laid = bench(rooflight_cm2=150.0)
    laid.outside[A.WIND_M_PER_S], laid.factors[A.LEAKAGE] = 3.0, 1.3
    van = laid.van
    van.leakage_cm2[zone], van.vent_low_cm2[zone], van.vent_high_cm2[zone], van.vent_height_m[zone] = 60, 50, 80, 1.7
    edge(laid, A.VENT, air(laid, zone), index=zone)
    exchanged(laid)
    vents = vent_m3_per_h(50.0, high_cm2, 1.7, 30.0, 3.0, 20.0) * 263.15 / 293.15
    assert laid.scratch.vent_m3_per_h[zone] == pytest.approx(1.3 * leakage_m3_per_h(60.0, 30.0, 3.0) + vents, rel=1e-9)


def test_a_colder_cab_draws_air_as_a_warmer_one_does() -> None:
    laid = bench()
    laid.van.leakage_cm2[CAB], laid.van.vent_low_cm2[CAB], laid.van.vent_high_cm2[CAB] = 60.0, 0.0, 0.0
    edge(laid, A.VENT, air(laid, CAB), index=CAB)
    laid.state.temp_c[air(laid, CAB)] = -40.0
    exchanged(laid)
    assert laid.scratch.vent_m3_per_h[CAB] == pytest.approx(leakage_m3_per_h(60.0, 30.0, 0.0), rel=1e-12)


def doored(closed: float, width_m: float = 0.7) -> tuple[Bench, int]:
    """Living 20 °C, cab 5 °C; 4 W/K and 10 m³/h through the closed part."""
    laid = bench()
    van = laid.van
    van.door_a[1], van.door_b[1], van.door_width_m[1], van.door_height_m[1] = LIVING, CAB, width_m, 1.6
    van.door_closed_w_per_k[1], van.door_closed_m3_per_h[1] = 4.0, 10.0
    laid.hour.closed[1] = closed
    laid.state.temp_c[air(laid, LIVING)], laid.state.temp_c[air(laid, CAB)] = 20.0, 5.0
    return laid, edge(laid, A.DOORWAY, air(laid, LIVING), air(laid, CAB), index=1)


@pytest.mark.parametrize(("closed", "width_m", "wide_share"), [(1.0, 0.7, 0.0), (0.25, 0.7, 0.75), (0.0, 0.0, 0.0)])
def test_an_opening_passes_air_both_ways_by_its_open_share(closed: float, width_m: float, wide_share: float) -> None:
    laid, e = doored(closed, width_m)
    closed_kg = 10.0 * DENSITY / 3600.0
    wide = doorway_w_per_k(0.7, 1.6, 20.0, 5.0, DENSITY) * wide_share
    laid.scratch.exchange_kg_s[:] = 7.0
    for _ in range(2):  # the same difference: the mean of two half hours is either
        exchanged(laid)
        kg = closed_kg + wide / AIR_CP_J_PER_KG_K
        assert laid.scratch.edge_w_per_k[e] == pytest.approx(4.0 + closed_kg * AIR_CP_J_PER_KG_K + wide, rel=1e-12)
        expected = np.zeros((A.ZONES, A.ZONES))
        expected[LIVING, CAB] = expected[CAB, LIVING] = kg
        assert laid.scratch.exchange_kg_s == pytest.approx(expected, rel=1e-12)


def test_a_doorway_moves_halfway_from_its_last_half_hour() -> None:
    laid, e = doored(0.0)
    exchanged(laid)
    first = laid.scratch.edge_w_per_k[e]
    laid.state.temp_c[air(laid, CAB)] = 19.0
    exchanged(laid)
    still = doorway_w_per_k(0.7, 1.6, 20.0, 19.0, DENSITY) - doorway_w_per_k(0.7, 1.6, 20.0, 5.0, DENSITY)
    assert laid.scratch.edge_w_per_k[e] == pytest.approx(first + 0.5 * still, rel=1e-12)
    laid.state.temp_c[air(laid, LIVING)], laid.state.temp_c[air(laid, CAB)] = 5.0, 20.0
    laid.scratch.doorway_before[1] = 0.0
    exchanged(laid)
    assert laid.scratch.edge_w_per_k[e] == pytest.approx(first, rel=1e-12)


def test_two_ways_between_two_zones_add_up() -> None:
    laid, _ = doored(1.0)
    laid.van.door_a[0], laid.van.door_b[0], laid.van.door_closed_m3_per_h[0] = CAB, LIVING, 20.0
    laid.hour.closed[0] = 1.0
    edge(laid, A.DOORWAY, air(laid, CAB), air(laid, LIVING), index=0)
    exchanged(laid)
    assert laid.scratch.exchange_kg_s[LIVING, CAB] == pytest.approx(30.0 * DENSITY / 3600.0, rel=1e-12)
    assert laid.scratch.exchange_kg_s[CAB, LIVING] == pytest.approx(30.0 * DENSITY / 3600.0, rel=1e-12)


def test_blown_air_comes_back_and_carries_vapour_both_ways() -> None:
    """1810.8 kJ/K in the half hour before are 1 g/s for each J/kgK of air: what returns from the cab went to it."""
    laid = bench(duct_edges=3)
    laid.burner.flow_from[:3] = (air(laid, LIVING), air(laid, CAB), air(laid, GARAGE))
    laid.burner.flow_to[:3] = (air(laid, CAB), air(laid, LIVING), air(laid, LIVING))
    laid.scratch.blown_flow[:3] = np.array([5.0, 0.002, 0.003]) * HALF_S * AIR_CP_J_PER_KG_K
    laid.scratch.exchange_kg_s[:] = 0.0
    laid.scratch.exchange_kg_s[CAB, LIVING] = laid.scratch.exchange_kg_s[LIVING, CAB] = 0.01
    blow_vapour(laid.van, laid.burner, laid.scratch)
    expected = np.zeros((A.ZONES, A.ZONES))
    expected[CAB, LIVING] = expected[LIVING, CAB] = 0.012
    expected[GARAGE, LIVING] = expected[LIVING, GARAGE] = 0.003
    assert laid.scratch.exchange_kg_s == pytest.approx(expected, rel=1e-12)


# Vapour


def damp(**changes: Any) -> Bench:
    """24 kg of air a zone at 20 °C with 4 g/kg; 10 g/s of outdoor air with 1.5 g/kg to each."""
    laid = bench(**changes)
    laid.state.ratio[:4], laid.van.air_kg[:4] = 0.004, 24.0
    laid.scratch.vent_kg_per_s[:4], laid.scratch.vent_m3_per_h[:4] = 0.01, 30.0
    laid.scratch.exchange_kg_s[:] = 0.0
    laid.scratch.vapour_kg_per_s[:] = 0.0
    laid.state.temp_c[laid.van.air_node[:4]] = 20.0
    return laid


def moved(laid: Bench) -> dict[str, float]:
    move_vapour(laid.van, laid.hour, laid.outside, laid.state, laid.scratch, laid.flow, laid.at)
    return laid.moved()


def test_vapour_of_a_zone_ends_where_sources_and_fresh_air_say() -> None:
    """One implicit step of half an hour: (24 · 4 g + 1800 s · (source + 10 g/s · 1.5 g/kg)) / (24 + 18 kg); 50 mg/s
    of people and 36 g of a shower, 20 mg/s, in the wet room."""
    laid = damp()
    laid.scratch.vapour_kg_per_s[WET], laid.scratch.shower_vapour_kg[WET] = 50e-6, 0.036
    told = moved(laid)
    dry = (24.0 * 0.004 + 1800.0 * 0.01 * 0.0015) / 42.0
    wet = dry + 1800.0 * 70e-6 / 42.0
    assert laid.state.ratio[:4].tolist() == pytest.approx([dry, dry, wet, dry], rel=1e-12)
    left = {f"vapour_out_kg+{z}": 18.0 * (w - 0.0015) for z, w in enumerate((dry, dry, wet, dry))}
    changed = {f"air_change_m3+{z}": 15.0 for z in range(4)}
    assert told == pytest.approx(left | changed | {f"vapour_source_kg+{WET}": 0.036}, rel=1e-9)
    assert laid.scratch.shower_vapour_kg[WET] == 0.0
    assert moved(laid)[f"air_change_m3+{CAB}"] == 30.0


def test_a_hob_gives_heat_and_water_of_its_flame_and_steam_as_far_as_they_are_kept() -> None:
    """90 g of gas in a quarter are 100 mg/s; 0.36 kg/h of steam the same; a quarter vented."""
    laid = damp(cooking_vented=0.25, cooking_steam_kg=0.36)
    laid.scratch.gas_kg[0] = 0.09
    told = moved(laid)
    vapour = 0.75e-4 * (PROPANE_BURNED_WATER_SHARE + 1.0)
    watts = 0.75e-4 * (PROPANE_LOWER_J_PER_KG - VAPOUR_LATENT_J_PER_KG)
    assert told[f"vapour_source_kg+{LIVING}"] == pytest.approx(vapour * HALF_S, rel=1e-9)
    assert told[f"cooking_j+{LIVING}"] == pytest.approx(watts * HALF_S, rel=1e-9)
    assert laid.scratch.cooking_w[:4].tolist() == pytest.approx([watts, 0.0, 0.0, 0.0], rel=1e-12)
    again = moved(laid)
    assert again[f"vapour_source_kg+{LIVING}"] == pytest.approx(2.0 * vapour * HALF_S, rel=1e-9)
    assert again[f"cooking_j+{LIVING}"] == pytest.approx(2.0 * watts * HALF_S, rel=1e-9)
    laid.scratch.gas_kg[0] = 0.0
    moved(laid)
    assert laid.scratch.cooking_w[LIVING] == 0.0  # steam alone takes no heat from a flame that is not there


@pytest.mark.parametrize(("kit_kg", "start_kg"), [(2.0, 2.0), (0.5, 2.0), (0.0001, 0.0001)])
def test_wet_kit_dries_at_its_rate_and_never_more_than_it_holds(kit_kg: float, start_kg: float) -> None:
    laid = damp()
    state = laid.state
    state.kit_kg[[CAB, WET]], state.kit_start_kg[[CAB, WET]] = kit_kg, start_kg
    state.kit_m2[[CAB, WET]] = (4.0, 4.0)
    cloth = mass_coefficient_kg_per_m2s(CLOTH_FILM_W_PER_M2K)
    rate = kit_drying_kg_per_s(4.0, cloth, 20.0, 0.004, STANDARD_PRESSURE_PA) * wet_area_share(kit_kg, start_kg)
    dried = kit_kg if kit_kg == 0.0001 else rate * HALF_S
    assert 0.0 < dried <= kit_kg
    laid.scratch.vapour_kg_per_s[:4] = 1e-5  # somebody breathes beside it
    told = moved(laid)
    for z in (CAB, WET):
        assert told[f"drying_kg+{z}"] == pytest.approx(dried, rel=1e-12)
        assert told[f"latent_j+{z}"] == pytest.approx(-dried * VAPOUR_LATENT_J_PER_KG, rel=1e-12)
        assert laid.scratch.latent_w[z] == pytest.approx(-dried * VAPOUR_LATENT_J_PER_KG / HALF_S, rel=1e-12)
        assert state.kit_kg[z] == pytest.approx(kit_kg - dried, abs=1e-12)
        assert state.ratio[z] - state.ratio[GARAGE] == pytest.approx(dried / 42.0, rel=1e-9)
    assert laid.scratch.latent_w[LIVING] == 0.0
    more = moved(laid)
    assert more[f"drying_kg+{CAB}"] == pytest.approx(2.0 * kit_kg - kit_kg - state.kit_kg[CAB], abs=1e-12)


def test_an_extract_fan_draws_outdoor_air_through_the_living_area_and_out_of_the_wet_room() -> None:
    """20 g/s: with w of living from 30 g/s of fresh air, and the wet room fed by it."""
    laid = damp()
    laid.scratch.extract_kg_s[0] = 0.02
    told = moved(laid)
    living = (24.0 * 0.004 + 1800.0 * 0.03 * 0.0015) / (24.0 + 1800.0 * 0.03)
    wet = (24.0 * 0.004 + 18.0 * 0.0015 + 36.0 * living) / (24.0 + 54.0)
    assert laid.state.ratio[[LIVING, WET]].tolist() == pytest.approx([living, wet], rel=1e-9)
    assert told[f"vapour_out_kg+{LIVING}"] == pytest.approx(18.0 * living + 36.0 * living - 54.0 * 0.0015, rel=1e-9)
    assert told[f"vapour_out_kg+{WET}"] == pytest.approx(54.0 * wet - 18.0 * 0.0015 - 36.0 * living, rel=1e-9)
    laid = damp(wet=LIVING)
    laid.scratch.extract_kg_s[0] = 0.02
    moved(laid)
    assert laid.state.ratio[LIVING] == pytest.approx(living, rel=1e-9)
    assert laid.scratch.exchange_kg_s[LIVING, LIVING] == 0.0


def test_zones_exchange_vapour_and_their_books_close() -> None:
    laid = damp()
    laid.state.ratio[CAB] = 0.001
    laid.scratch.exchange_kg_s[LIVING, CAB], laid.scratch.exchange_kg_s[CAB, LIVING] = 0.005, 0.003
    before = laid.state.ratio[:4].copy()
    told = moved(laid)
    after = laid.state.ratio
    a = np.array([[42.0 + 9.0, -5.4], [-9.0, 42.0 + 5.4]])
    expected = np.linalg.solve(a, 24.0 * before[:2] + 18.0 * 0.0015)
    assert after[:2].tolist() == pytest.approx(expected.tolist(), rel=1e-9)
    for z in range(4):
        assert told[f"vapour_out_kg+{z}"] == pytest.approx(24.0 * (before[z] - after[z]), rel=1e-9)


@pytest.mark.parametrize(("screens", "factor"), [(0.0, 0.1), (0.5, 0.2), (1.0, 0.3)])
def test_a_cold_pane_gathers_water_by_its_film_and_its_latent_heat_warms_the_zone(
    screens: float, factor: float
) -> None:
    """3 m² of pane at -10 + factor · 30 °C: its gain is beta A (w - w_s), which the books and the step must share."""
    laid = damp(screens=screens, surfaces=2)
    van, state = laid.van, laid.state
    van.surface_zone[:2], van.surface_area_m2[:2] = (CAB, GARAGE), (3.0, 1.0)
    van.surface_factor[:2], van.surface_factor_screened[:2] = (0.1, 1.0), (0.3, 1.0)
    state.ratio[CAB] = 0.006
    told = moved(laid)
    pane = saturation_ratio(-10.0 + factor * 30.0, STANDARD_PRESSURE_PA)
    beta = mass_coefficient_kg_per_m2s(SURFACE_FILM_W_PER_M2K)
    pull = HALF_S * beta * 3.0
    ratio = (24.0 * 0.006 + 18.0 * 0.0015 + pull * pane) / (42.0 + pull)
    gained = pull * (ratio - pane)
    assert state.ratio[CAB] == pytest.approx(ratio, rel=1e-9)
    assert gained > 3.0 * BARELY_WET_KG_PER_M2
    assert state.condensed_kg[0] == pytest.approx(gained, rel=1e-9)
    assert told["condensing_kg+0"] == pytest.approx(gained, rel=1e-9)
    assert told[f"latent_j+{CAB}"] == pytest.approx(gained * VAPOUR_LATENT_J_PER_KG, rel=1e-9)
    assert laid.scratch.latent_w[CAB] == pytest.approx(gained * VAPOUR_LATENT_J_PER_KG / HALF_S, rel=1e-9)
    assert told["wet_s+0"] == HALF_S
    assert "wet_s+1" not in told
    assert state.condensed_kg[1] == 0.0


def test_a_wet_pane_dries_no_further_than_dry() -> None:
    laid = damp(surfaces=1)
    laid.van.surface_zone[0], laid.van.surface_area_m2[0] = CAB, 3.0
    laid.van.surface_factor[0] = laid.van.surface_factor_screened[0] = 1.0
    laid.state.condensed_kg[0] = 0.004
    told = moved(laid)
    assert told["condensing_kg+0"] == pytest.approx(-0.004, rel=1e-12)
    assert laid.state.condensed_kg[0] == 0.0
    assert "wet_s+0" not in told
    assert told[f"latent_j+{CAB}"] == pytest.approx(-0.004 * VAPOUR_LATENT_J_PER_KG, rel=1e-12)


def test_wet_half_hours_add_up_and_a_film_that_is_barely_seen_is_the_limit() -> None:
    """Two panes that hold 3 g more and less than a gram a square metre after the half hour."""
    laid = damp(surfaces=2)
    laid.van.surface_zone[:2], laid.van.surface_area_m2[:2] = CAB, 3.0
    laid.van.surface_factor[:2] = laid.van.surface_factor_screened[:2] = 0.5
    laid.state.ratio[CAB] = saturation_ratio(5.0, STANDARD_PRESSURE_PA)
    laid.scratch.vent_kg_per_s[CAB] = 0.0
    laid.state.condensed_kg[:2] = (0.0031, 0.0029)
    assert moved(laid).get("wet_s+0") == HALF_S
    told = moved(laid)
    assert told["wet_s+0"] == 2.0 * HALF_S
    assert "wet_s+1" not in told


def test_air_past_saturation_settles_on_a_warm_surface_too() -> None:
    """No fresh air, 1 kg of vapour in half an hour, a wall as warm as the air of which 1 m² takes what it can."""
    laid = damp(surfaces=1)
    laid.van.surface_zone[0], laid.van.surface_area_m2[0] = CAB, 1e-6
    laid.van.surface_factor[0] = laid.van.surface_factor_screened[0] = 1.0
    laid.scratch.vent_kg_per_s[CAB], laid.scratch.vapour_kg_per_s[CAB] = 0.0, 1.0 / HALF_S
    moved(laid)
    most = saturation_ratio(20.0, STANDARD_PRESSURE_PA)
    assert laid.state.ratio[CAB] == pytest.approx(most, rel=1e-9)
    assert laid.state.condensed_kg[0] == pytest.approx(1.0 - 24.0 * (most - 0.004), rel=1e-9)


def test_air_that_cooled_past_saturation_drops_what_it_cannot_hold_and_is_warmed_by_it() -> None:
    """At 2 °C with the vapour of 8 °C: what settles on the zone's first pane warms the air by its latent heat, and the
    air ends within a hundredth below saturation; drier air and a zone without a surface are left alone."""
    laid = damp(surfaces=2)
    laid.van.surface_zone[:2] = CAB
    node = laid.van.air_node[CAB]
    laid.scratch.capacity[node], laid.state.temp_c[node] = 60_000.0, 2.0
    laid.state.ratio[CAB] = before = saturation_ratio(8.0, STANDARD_PRESSURE_PA)
    laid.flow[:] = 0.0
    settle_air(laid.van, laid.outside, laid.state, laid.scratch, laid.flow, laid.at)
    kg = laid.flowed("condensing_kg", 0)
    assert kg > 0.0 and laid.moved().keys() == {"condensing_kg+0", f"latent_j+{CAB}"}
    assert laid.state.condensed_kg[:2].tolist() == [kg, 0.0]
    assert laid.state.ratio[CAB] == pytest.approx(before - kg / laid.van.air_kg[CAB], rel=1e-12)
    assert laid.state.temp_c[node] == pytest.approx(2.0 + kg * VAPOUR_LATENT_J_PER_KG / 60_000.0, rel=1e-12)
    assert laid.flowed("latent_j", CAB) == pytest.approx(kg * VAPOUR_LATENT_J_PER_KG, rel=1e-12)
    most = saturation_ratio(float(laid.state.temp_c[node]), STANDARD_PRESSURE_PA)
    assert 0.98 * most < laid.state.ratio[CAB] <= most
    laid.flow[:] = 0.0
    settle_air(laid.van, laid.outside, laid.state, laid.scratch, laid.flow, laid.at)
    assert not laid.moved()
    laid.van.surfaces = 0
    laid.state.ratio[CAB] = 0.02
    settle_air(laid.van, laid.outside, laid.state, laid.scratch, laid.flow, laid.at)
    assert laid.state.ratio[CAB] == 0.02
