"""Water in the march, one function at a time: tanks, draws, frost, the drain valve; numbers by hand, floats' tolerance.

Tanks hold 10 kJ/K beside their water; a litre is 4186 J/K within the constant's own digits.
"""

from __future__ import annotations

from typing import Any

import pytest
from engine_bench import Bench
from sample_vans import sample_vans

from budget.engine import arrays as A
from budget.engine.plumbing import (
    RUN_OFF_KG_PER_M2,
    SHOWER_VAPOUR_KG_PER_L,
    STEEP_WAIT_S,
    draw_water,
    floor_temperature,
    liquid_l,
    pumpable_l,
    put_water,
    settle_frost,
    settle_node,
    shed_water,
    tend_water,
    to_waste,
)
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
from budget.physics.properties import VAPOUR_LATENT_J_PER_KG, WATER_CP_J_PER_KG_K, WATER_FUSION_J_PER_KG

DEMO = sample_vans()["demo"]
CP = WATER_CP_J_PER_KG_K
SHELL = 10_000.0


def bench(**changes: Any) -> Bench:
    """100 L fresh of 120 at 10 °C, 20 L waste of 90 at 5 °C, a boiler of 12 L at 60 °C; room 20 °C, outdoors 0 °C."""
    laid = Bench(DEMO)
    van, state = laid.van, laid.state
    van.fresh_capacity_l, van.waste_capacity_l, van.boiler_l, van.pipes_l = 120.0, 90.0, 12.0, 4.0
    for node, temp_c in ((van.fresh_node, 10.0), (van.waste_node, 5.0), (van.boiler_node, 60.0),
                         (van.pipes_node, 15.0)):  # fmt: skip
        van.capacity_j_per_k[node], state.temp_c[node] = SHELL, temp_c
    state.water_l[:] = (100.0, 20.0, 12.0)
    laid.hour.refill_c = 6.0
    for name, value in changes.items():
        (laid.hour if name in laid.hour.dtype.names else van)[name] = value
    return laid


def names(laid: Bench) -> dict[str, str]:
    """Names of the water nodes' flows."""
    return {name: f"water_j+{laid.van[f'{name}_node']}" for name in ("fresh", "waste", "boiler")}


def mixed_c(litres: float, temp_c: float, more_l: float, more_c: float) -> float:
    held = SHELL + CP * litres
    return (held * temp_c + CP * more_l * more_c) / (held + CP * more_l)


def test_water_poured_in_mixes_and_water_taken_leaves_the_rest_as_it_is() -> None:
    laid = bench()
    van, state = laid.van, laid.state
    put_water(van, state, van.fresh_node, FRESH_L, 15.0, 4.0, laid.flow, laid.at)
    assert state.temp_c[van.fresh_node] == pytest.approx(mixed_c(100.0, 10.0, 15.0, 4.0), rel=1e-12)
    assert state.water_l.tolist() == [115.0, 20.0, 12.0]
    assert laid.moved() == pytest.approx({names(laid)["fresh"]: CP * 60.0}, rel=1e-12)
    put_water(van, state, van.boiler_node, BOILER_L, -2.0, 4.0, laid.flow, laid.at)
    put_water(van, state, van.boiler_node, BOILER_L, -1.0, 4.0, laid.flow, laid.at)
    assert state.temp_c[van.boiler_node] == 60.0
    assert state.water_l[BOILER_L] == 9.0
    assert laid.flowed("water_j", van.boiler_node) == pytest.approx(-CP * 180.0, rel=1e-12)


@pytest.mark.parametrize(("room_l", "kept_l"), [(70.0, 30.0), (10.0, 10.0), (0.0, 0.0), (-5.0, 0.0)])
def test_what_the_waste_tank_has_no_room_for_is_spilled(room_l: float, kept_l: float) -> None:
    laid = bench(waste_capacity_l=20.0 + room_l)
    for times in (1, 2):
        laid.state.water_l[WASTE_L], laid.state.temp_c[laid.van.waste_node] = 20.0, 5.0
        to_waste(laid.van, laid.state, 30.0, 25.0, laid.flow, laid.at)
        assert laid.flowed("to_waste_l") == 30.0 * times
        assert laid.flowed("waste_spilled_l") == (30.0 - kept_l) * times
        assert laid.state.water_l[WASTE_L] == 20.0 + kept_l
        assert laid.state.temp_c[laid.van.waste_node] == pytest.approx(mixed_c(20.0, 5.0, kept_l, 25.0), rel=1e-12)


def test_ice_is_not_pumped_and_without_power_nothing_is() -> None:
    laid = bench()
    laid.state.ice_kg[ICE_FRESH], laid.state.ice_kg[ICE_WASTE] = 30.0, 25.0
    assert liquid_l(laid.state, FRESH_L, ICE_FRESH) == 70.0
    assert liquid_l(laid.state, WASTE_L, ICE_WASTE) == 0.0
    assert pumpable_l(laid.state) == 70.0
    laid.state.marks[CUT_OUT] = 1
    assert pumpable_l(laid.state) == 0.0


def tend(laid: Bench) -> dict[str, float]:
    laid.flow[:] = 0.0
    tend_water(laid.van, laid.hour, laid.outside, laid.state, laid.scratch, laid.flow, laid.at)
    return laid.moved()


def test_the_fresh_tank_is_filled_and_a_full_one_left() -> None:
    laid = bench(refill=1)
    assert tend(laid) == pytest.approx({"refill_l": 20.0, names(laid)["fresh"]: CP * 120.0}, rel=1e-12)
    assert laid.state.temp_c[laid.van.fresh_node] == pytest.approx(mixed_c(100.0, 10.0, 20.0, 6.0), rel=1e-12)
    assert tend(laid) == {}
    assert tend(bench()) == {}


def test_the_waste_tank_is_emptied_of_what_is_liquid() -> None:
    laid = bench(empty_waste=1)
    laid.state.ice_kg[ICE_WASTE] = 8.0
    assert tend(laid) == pytest.approx({"waste_emptied_l": 12.0, names(laid)["waste"]: -CP * 60.0}, rel=1e-12)
    assert laid.state.water_l[WASTE_L] == 8.0
    assert tend(laid) == {}


def test_cold_water_is_pumped_and_its_share_goes_to_waste() -> None:
    """8 L, a quarter of which is drunk; the fresh tank's 10 °C arrive in the waste tank."""
    laid = bench(cold_water_l=8.0, cold_to_waste_l=6.0)
    told = tend(laid)
    assert told == pytest.approx(
        {"cold_water_l": 8.0, "to_waste_l": 6.0, names(laid)["fresh"]: -CP * 80.0, names(laid)["waste"]: CP * 60.0},
        rel=1e-12,
    )
    assert laid.scratch.pumped_l[0] == 8.0
    tend(laid)
    assert laid.scratch.pumped_l[0] == 16.0


def test_cold_water_that_is_not_there_is_missed_and_none_arrives_frozen() -> None:
    laid = bench(cold_water_l=8.0, cold_to_waste_l=6.0)
    laid.state.water_l[FRESH_L], laid.state.temp_c[laid.van.fresh_node] = 2.0, 1.0
    told = tend(laid)
    assert told == pytest.approx(
        {"cold_water_l": 2.0, "unserved_water_l": 6.0, "to_waste_l": 1.5, names(laid)["fresh"]: -CP * 2.0,
         names(laid)["waste"]: CP * 1.5 * 2.0}, rel=1e-12,
    )  # fmt: skip
    assert tend(laid) == {"unserved_water_l": 8.0}


def test_floor_air_stands_its_share_of_the_way_to_outdoors() -> None:
    laid = bench()
    laid.van.floor_colder_share[1] = 0.25
    laid.state.temp_c[laid.van.air_node[1]] = 18.0
    assert floor_temperature(laid.van, laid.state, 1, -2.0) == pytest.approx(13.0, rel=1e-12)


def valve(floor_c: float, **changes: Any) -> Bench:
    """The drain valve in the living area, open below 3 °C and closed by hand above 7 °C; floor air as wished."""
    laid = bench(valve_zone=0, valve_opens_c=3.0, valve_closes_c=7.0, **changes)
    laid.van.floor_colder_share[0] = 0.5
    laid.state.temp_c[laid.van.air_node[0]] = 2.0 * floor_c  # outdoors 0 °C
    return laid


@pytest.mark.parametrize(
    ("floor_c", "awake", "fresh_l", "off", "closes"),
    [(7.1, 1, 100.0, 0, True), (7.0, 1, 100.0, 0, False), (9.0, 0, 100.0, 0, False), (9.0, 1, 9.0, 0, True),
     (9.0, 1, 8.9, 0, False), (9.0, 1, 100.0, 1, False)],
)  # fmt: skip
def test_the_drain_valve_is_closed_by_somebody_awake_in_the_warm_with_water_at_hand(
    floor_c: float, awake: int, fresh_l: float, off: int, closes: bool
) -> None:
    """3 L stayed as ice: 9 L of the fresh tank's 10 °C fill the boiler again."""
    laid = valve(floor_c, awake_inside=awake)
    state = laid.state
    state.marks[VALVE_OPEN], state.marks[CUT_OUT] = 1, off
    state.water_l[:] = (fresh_l, 20.0, 3.0)
    told = tend(laid)
    assert state.marks[VALVE_OPEN] == (0 if closes else 1)
    if not closes:
        assert told == {}
        return
    assert told == pytest.approx(
        {"boiler_filled_l": 9.0, names(laid)["fresh"]: -CP * 90.0, names(laid)["boiler"]: CP * 90.0}, rel=1e-12
    )
    assert laid.scratch.pumped_l[0] == 9.0
    assert state.water_l.tolist() == [fresh_l - 9.0, 20.0, 12.0]


def test_a_closed_valve_is_left_alone() -> None:
    laid = valve(9.0, awake_inside=1)
    laid.state.water_l[BOILER_L] = 3.0
    assert tend(laid) == {}


# Draws


def drawn(laid: Bench, litres: float, use: int = 0, tap_c: float = 38.0) -> dict[str, float]:
    wish = laid_wish(litres, use, tap_c)
    draw_water(laid.van, wish, laid.burner, laid.factors, laid.state, laid.scratch, laid.drawn, laid.flow, laid.at)
    return laid.moved()


def laid_wish(litres: float, use: int, tap_c: float) -> Any:
    wish = A.record(A.DRAW)[0]
    wish.litres_l, wish.use, wish.tap_c = litres, use, tap_c
    return wish


@pytest.mark.parametrize(("use", "zone", "share"), [(0, "wet_room", 1.0), (1, "living", 0.2)])
def test_a_shower_takes_its_heat_from_the_boiler_and_leaves_some_in_its_room(use: int, zone: str, share: float) -> None:
    """5 L at 38 °C from 60 and 10 °C: 28 K a litre out of 12 L and the shell. What drains has cooled halfway to the
    air's 20 °C, 29 °C; 12 g a litre go as vapour (a fifth of it washing up); the rest of the heat is the room's."""
    laid = bench()
    laid.factors[A.CAPACITY] = 0.8
    z = laid.built.zone_names.index(zone)
    fabric = laid.van.fabric_node[z]
    laid.state.temp_c[laid.van.air_node[z]], laid.state.temp_c[fabric] = 20.0, 17.0
    told = drawn(laid, 5.0, use)
    heat_j, vapour_kg = CP * 5.0 * 28.0, share * SHOWER_VAPOUR_KG_PER_L * 5.0
    drained_l = 5.0 - vapour_kg
    given_j = CP * (5.0 * 38.0 - drained_l * 29.0) - vapour_kg * VAPOUR_LATENT_J_PER_KG
    assert told == pytest.approx(
        {"shower_l" if use == 0 else "dishes_l": 5.0, names(laid)["fresh"]: -CP * 50.0,
         names(laid)["boiler"]: -heat_j, names(laid)["waste"]: CP * drained_l * 29.0, f"shower_j+{z}": given_j,
         "to_waste_l": drained_l}, rel=1e-9,
    )  # fmt: skip
    state = laid.state
    assert state.temp_c[laid.van.boiler_node] == pytest.approx(60.0 - heat_j / (CP * 12.0 + SHELL), rel=1e-12)
    assert state.temp_c[fabric] == pytest.approx(17.0 + given_j / (0.8 * laid.van.capacity_j_per_k[fabric]), rel=1e-12)
    assert laid.scratch.shower_vapour_kg[z] == pytest.approx(vapour_kg, rel=1e-12)
    assert laid.scratch.pumped_l[0] == 5.0
    assert state.water_l.tolist() == pytest.approx([95.0, 20.0 + drained_l, 12.0], rel=1e-12)
    assert (laid.drawn.served_l, laid.drawn.wait_s) == (5.0, 0.0)
    assert laid.drawn.coldest_c == pytest.approx(38.0, rel=1e-12)
    drawn(laid, 1.0, use)
    assert laid.scratch.pumped_l[0] == 6.0
    assert laid.flowed("shower_l" if use == 0 else "dishes_l") == 6.0
    assert laid.scratch.shower_vapour_kg[z] == pytest.approx(1.2 * vapour_kg, rel=1e-12)


def test_the_books_of_a_long_shower_are_those_of_the_mixed_tank() -> None:
    """15 L are more than the 9.4 that the boiler blends: it runs colder at the end."""
    laid = bench()
    _, _, tap_c, heat_j = draw(12.0, 60.0, 10.0, 15.0, 38.0)
    told = drawn(laid, 15.0)
    assert told[names(laid)["boiler"]] == pytest.approx(-heat_j, rel=1e-12)
    assert laid.drawn.coldest_c == pytest.approx(tap_c, rel=1e-12)
    assert tap_c < 37.0
    balance = sum(told[name] for name in names(laid).values()) + told[f"shower_j+{laid.van.wet}"]
    assert balance == pytest.approx(-laid.scratch.shower_vapour_kg.sum() * VAPOUR_LATENT_J_PER_KG, rel=1e-9)


@pytest.mark.parametrize(
    ("boiler_c", "litres", "water_w", "wait_s"),
    [(45.0, 5.0, 1700.0, (38.0 + 5.0 * 28.0 / 12.0 - 45.0) * CP * 12.0 / 1700.0), (60.0, 5.0, 1700.0, 0.0),
     (45.0, 5.0, 0.0, 0.0), (60.0, 30.0, 1700.0, 20.0 * CP * 12.0 / 1700.0), (20.0, 5.0, 100.0, STEEP_WAIT_S),
     (85.0, 30.0, 1700.0, 0.0)],
)  # fmt: skip
def test_a_boiler_too_cold_for_the_draw_is_waited_for(
    boiler_c: float, litres: float, water_w: float, wait_s: float
) -> None:
    """5 L at 38 °C take 28 K · 5 / 12 off the boiler: it must stand at 49.7 °C; 80 °C and two hours are the limits."""
    laid = bench()
    laid.burner.water_w = water_w
    laid.state.temp_c[laid.van.boiler_node] = boiler_c
    drawn(laid, litres)
    assert laid.drawn.wait_s == pytest.approx(wait_s, rel=1e-12)


def test_wishes_scale_with_the_scenario_and_what_is_not_there_is_missed() -> None:
    laid = bench()
    laid.factors[A.HOT_WATER] = 1.5
    laid.state.water_l[FRESH_L] = 5.0
    told = drawn(laid, 4.0)
    assert (told["shower_l"], told["unserved_water_l"]) == (5.0, 1.0)
    assert laid.drawn.served_l == 5.0


@pytest.mark.parametrize("why", ["power", "valve", "ice in the boiler", "ice in the pipes", "an empty tank"])
def test_a_shower_that_cannot_be_had_is_missed_and_moves_nothing(why: str) -> None:
    laid = bench()
    state = laid.state
    laid.drawn.wait_s, laid.drawn.served_l = 99.0, 99.0
    if why == "power":
        state.marks[CUT_OUT] = 1
    elif why == "valve":
        state.marks[VALVE_OPEN] = 1
    elif why == "ice in the boiler":
        state.ice_kg[ICE_BOILER] = 0.01
    elif why == "ice in the pipes":
        state.ice_kg[ICE_PIPES] = 1.21
    else:
        state.water_l[FRESH_L] = 0.0
    assert drawn(laid, 4.0) == {"unserved_water_l": 4.0}
    assert (laid.drawn.served_l, laid.drawn.coldest_c, laid.drawn.wait_s) == (0.0, 10.0, 0.0)
    assert drawn(laid, 4.0) == {"unserved_water_l": 8.0}


def test_three_tenths_of_ice_let_the_pipes_run() -> None:
    laid = bench()
    laid.state.ice_kg[ICE_PIPES] = 0.3 * 4.0
    assert drawn(laid, 4.0)["shower_l"] == 4.0


def test_supercooled_fresh_water_arrives_at_the_tap_as_at_zero() -> None:
    laid = bench()
    laid.state.temp_c[laid.van.fresh_node] = -0.5
    told = drawn(laid, 4.0)
    assert told[names(laid)["boiler"]] == pytest.approx(-CP * 4.0 * 38.0, rel=1e-12)


# Frost and wet glass


@pytest.mark.parametrize(
    ("glass", "zone", "wipe", "moving", "held_share"),
    [(0, "cab", 1, 1, 1.0), (1, "living", 0, 0, 1.0), (1, "living", 1, 0, 0.0), (1, "living", 0, 1, 1.0),
     (1, "cab", 0, 1, 0.0), (1, "cab", 0, 0, 1.0)],
)  # fmt: skip
def test_a_surface_holds_its_film_and_wiped_glass_nothing(
    glass: int, zone: str, wipe: int, moving: int, held_share: float
) -> None:
    """2 m² hold 0.2 kg of the 0.5 kg that are on them."""
    laid = bench(wipe=wipe, moving=moving)
    van, state = laid.van, laid.state
    van.surfaces = 3
    van.surface_area_m2[:3], van.surface_glass[:3] = 2.0, (0, glass, 0)
    van.surface_zone[:3] = laid.built.zone_names.index(zone)
    state.condensed_kg[:3] = (0.1, 0.5, 2.0 * RUN_OFF_KG_PER_M2)
    for times in (1, 2):
        state.condensed_kg[1] = 0.5
        shed_water(van, laid.hour, state, laid.flow, laid.at)
        held = held_share * 0.2
        assert state.condensed_kg[:3].tolist() == pytest.approx([0.1, held, 0.2], rel=1e-12)
        assert laid.moved() == pytest.approx({"shed_kg+1": times * (0.5 - held)}, rel=1e-12)


@pytest.mark.parametrize(
    ("temp_c", "ice_kg", "after"),
    [(-1.0, 0.0, (0.0, (SHELL + CP * 20.0) / WATER_FUSION_J_PER_KG)), (2.0, 0.0, (2.0, 0.0)), (0.0, 0.0, (0.0, 0.0)),
     (3.0, 0.5, (3.0 - 0.5 * WATER_FUSION_J_PER_KG / (SHELL + CP * 20.0), 0.0))],
)  # fmt: skip
def test_a_tank_at_frost_stands_at_zero_while_its_ice_grows_or_melts(
    temp_c: float, ice_kg: float, after: tuple[float, float]
) -> None:
    laid = bench()
    node = laid.van.waste_node
    laid.state.temp_c[node], laid.state.ice_kg[ICE_WASTE] = temp_c, ice_kg
    settle_node(laid.van, laid.state, node, ICE_WASTE, 20.0)
    assert (laid.state.temp_c[node], laid.state.ice_kg[ICE_WASTE]) == pytest.approx(after, rel=1e-9)


def settle(laid: Bench) -> dict[str, float]:
    settle_frost(laid.van, 0.0, laid.state, laid.flow, laid.at)
    return laid.moved()


def test_every_tank_freezes_by_its_own_water() -> None:
    """Each a kelvin below: its shell's and its water's heat of a kelvin turns to ice."""
    laid = bench(valve_zone=-1)
    van, state = laid.van, laid.state
    for name in ("fresh", "waste", "pipes", "boiler"):
        state.temp_c[van[f"{name}_node"]] = -1.0
    assert settle(laid) == {}
    expected = [(SHELL + CP * litres) / WATER_FUSION_J_PER_KG for litres in (100.0, 20.0, 4.0, 12.0)]
    assert state.ice_kg.tolist() == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(("floor_c", "dumped_l"), [(3.0, 0.0), (2.9, 9.0)])
def test_the_drain_valve_opens_in_the_cold_and_leaves_the_ice_behind(floor_c: float, dumped_l: float) -> None:
    laid = valve(floor_c)
    laid.state.ice_kg[ICE_BOILER], laid.state.temp_c[laid.van.boiler_node] = 3.0, 0.0
    told = settle(laid)
    assert laid.state.marks[VALVE_OPEN] == (1 if dumped_l else 0)
    assert told == ({"dumped_l": dumped_l} if dumped_l else {})
    assert laid.state.water_l[BOILER_L] == 12.0 - dumped_l


def test_an_open_valve_goes_on_draining_what_thaws() -> None:
    laid = valve(9.0)
    laid.state.marks[VALVE_OPEN] = 1
    told = settle(laid)
    assert told == pytest.approx({"dumped_l": 12.0, names(laid)["boiler"]: -CP * 720.0}, rel=1e-12)
    assert settle(laid) == told
    laid.state.water_l[BOILER_L] = 2.0
    assert settle(laid)["dumped_l"] == 14.0
    assert laid.state.marks[VALVE_OPEN] == 1


def test_a_van_without_valve_keeps_its_boiler_full() -> None:
    laid = valve(-5.0)
    laid.van.valve_zone = -1
    assert settle(laid) == {}
    assert laid.state.marks[VALVE_OPEN] == 0
