"""Bottles in the march, one function at a time: swaps, what a bottle can give, who feeds, what is drawn.

Numbers by hand, tolerances those of floats unless said.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from engine_bench import Bench
from sample_vans import sample_vans

from budget.engine import arrays as A
from budget.engine import thermostat as T
from budget.engine.allowance import allow_heater, gas_to_stay_kg
from budget.engine.bottles import (
    AUTOMATIC,
    FRIDGE,
    HEATER,
    HOB,
    MANUAL,
    PARALLEL,
    drawn_content_j_per_kg,
    feed_bottles,
    feeding_share,
    gas_at_hand,
    limit_kg,
    ready_bottles,
    swap_bottles,
)
from budget.engine.state import (
    ACTIVE,
    BOTTLE_EMPTY_KG,
    CUT_OUT,
    LIQUID_GAS_J_PER_KG_K,
    VALVE_OPEN,
    set_capacities,
)
from budget.engine.supply import thin_air
from budget.physics.bottle import (
    WALL_FILM_W_PER_M2K,
    bottle_end_c,
    temperature_at_pressure_c,
    vapour_latent_heat_j_per_kg,
    vapour_propane_share,
    wetted_coupling_w_per_k,
)
from budget.physics.properties import BUTANE_LOWER_J_PER_KG, PROPANE_LOWER_J_PER_KG, STANDARD_PRESSURE_PA

VANS = sample_vans()
QUARTER_S = 900.0
SHELL_J_PER_K = 5000.0


def bench(changeover: int = MANUAL, outdoor_c: float = 0.0, **bottles: Any) -> Bench:
    """Two propane bottles of 11 kg in the garage, their shells 5 kJ/K, at 10 °C."""
    laid = Bench(VANS["demo"], outdoor_c)
    van, state = laid.van, laid.state
    van.changeover = changeover
    for b, values in enumerate(({}, {})):
        numbers = {"net_kg": 11.0, "propane_share": 1.0, "refillable": 0} | values | bottles
        for name, value in numbers.items():
            van[f"bottle_{name}"][b] = value
        node = van.bottle_node[b]
        van.capacity_j_per_k[node], state.temp_c[node] = SHELL_J_PER_K, 10.0
        state.propane_kg[b], state.butane_kg[b] = 11.0, 0.0
    van.swap_below_share = 0.1
    return laid


def swap(laid: Bench) -> dict[str, float]:
    swap_bottles(laid.van, laid.hour, laid.outside, laid.state, laid.flow, laid.at)
    return laid.moved()


def test_a_nearly_empty_bottle_is_exchanged_for_a_full_one_as_cold_as_outdoors() -> None:
    """1.1 kg of 11 is a tenth: 0.8 of propane and 0.3 of butane go, 11 kg with 60 % of propane come at 4 °C."""
    laid = bench(outdoor_c=4.0, propane_share=0.6)
    laid.hour.exchange_open[:2] = (0, 1)
    laid.state.propane_kg[:2], laid.state.butane_kg[:2] = 0.8, 0.3
    told = swap(laid)
    held_j = (SHELL_J_PER_K + LIQUID_GAS_J_PER_KG_K * 1.1) * 10.0
    comes_j = (SHELL_J_PER_K + LIQUID_GAS_J_PER_KG_K * 11.0) * 4.0
    assert told == pytest.approx(
        {"swap_out_kg+1": 0.8, "swap_out_butane_kg+1": 0.3, "swap_in_kg+1": 6.6, "swap_in_butane_kg+1": 4.4,
         "swaps+1": 1.0, "swap_j+1": comes_j - held_j}, rel=1e-12,
    )  # fmt: skip
    state, van = laid.state, laid.van
    assert (state.propane_kg[1], state.butane_kg[1]) == pytest.approx((6.6, 4.4), rel=1e-12)
    assert state.temp_c[van.bottle_node[1]] == pytest.approx(4.0, rel=1e-12)
    assert (state.propane_kg[0], state.temp_c[van.bottle_node[0]]) == (0.8, 10.0)


@pytest.mark.parametrize(("left_kg", "swapped"), [(0.0, 1.0), (1.0999, 1.0), (1.1001, 0.0), (11.0, 0.0)])
def test_a_bottle_is_exchanged_from_the_tours_share_of_its_contents_down(left_kg: float, swapped: float) -> None:
    laid = bench()
    laid.hour.exchange_open[0] = 1
    laid.state.propane_kg[0] = left_kg
    assert swap(laid).get("swaps+0", 0.0) == swapped


@pytest.mark.parametrize(("left_kg", "added_kg"), [(8.25, 2.75), (3.0, 8.0), (8.26, 0.0), (0.0, 11.0)])
def test_a_refillable_bottle_is_filled_when_a_quarter_of_it_is_free(left_kg: float, added_kg: float) -> None:
    """What comes is as cold as outdoors, 4 °C, and mixes with the 10 °C that are there."""
    laid = bench(outdoor_c=4.0, refillable=1, propane_share=0.5)
    laid.hour.exchange_open[0] = 1
    laid.state.propane_kg[0] = left_kg
    told = swap(laid)
    if not added_kg:
        assert told == {}
        return
    assert told == pytest.approx(
        {"swap_in_kg+0": 0.5 * added_kg, "swap_in_butane_kg+0": 0.5 * added_kg, "swaps+0": 1.0,
         "swap_j+0": LIQUID_GAS_J_PER_KG_K * added_kg * 4.0}, rel=1e-12,
    )  # fmt: skip
    held = SHELL_J_PER_K + LIQUID_GAS_J_PER_KG_K * left_kg
    brought = LIQUID_GAS_J_PER_KG_K * added_kg
    assert laid.state.temp_c[laid.van.bottle_node[0]] == pytest.approx(
        (held * 10.0 + brought * 4.0) / (held + brought), rel=1e-12
    )
    assert laid.state.propane_kg[0] == pytest.approx(left_kg + 0.5 * added_kg, rel=1e-12)
    assert laid.state.butane_kg[0] == pytest.approx(0.5 * added_kg, rel=1e-12)


def test_swaps_of_one_hour_add_up() -> None:
    laid = bench()
    laid.hour.exchange_open[:2] = 1
    for _ in range(2):
        laid.state.propane_kg[:2], laid.state.butane_kg[:2] = 0.5, 0.25
        told = swap(laid)
    assert {name: value for name, value in told.items() if not name.startswith("swap_j")} == {
        f"{name}+{b}": value for b in range(2) for name, value in
        (("swap_out_kg", 1.0), ("swap_out_butane_kg", 0.5), ("swap_in_kg", 22.0), ("swaps", 2.0))
    }  # fmt: skip


def ready(laid: Bench) -> None:
    set_capacities(laid.van, laid.factors, laid.state, laid.scratch.capacity)
    ready_bottles(laid.van, laid.state, laid.scratch)


def test_an_hour_begins_with_each_bottles_wall_and_who_is_asked_tells_latent_heat_and_the_cold_at_which_it_fails() -> (
    None
):
    """Locker in the garage, 0.6 of the way from outdoors to it; the regulator needs 0.4 bar above ambient."""
    laid = bench()
    van, state, scratch = laid.van, laid.state, laid.scratch
    van.locker_share, van.regulator_need_pa = 0.6, 40_000.0
    state.propane_kg[1], state.butane_kg[1] = 2.0, 3.5
    ready(laid)
    for b, level in enumerate((1.0, 0.5)):
        wall = wetted_coupling_w_per_k(level, van.bottle_diameter_m[b], 11.0, WALL_FILM_W_PER_M2K)
        assert scratch.bottle_coupling[b] == pytest.approx(wall, rel=1e-12)
        assert scratch.edge_w_per_k[van.bottle_zone_edge[b]] == pytest.approx(0.6 * wall, rel=1e-12)
        assert scratch.edge_w_per_k[van.bottle_outdoor_edge[b]] == pytest.approx(0.4 * wall, rel=1e-12)
        could_give(laid, b)
        contents = (float(state.propane_kg[b]), float(state.butane_kg[b]))
        fails_c = temperature_at_pressure_c(STANDARD_PRESSURE_PA + 40_000.0, *contents)
        assert scratch.bottle_limit_c[b] == pytest.approx(fails_c, abs=1e-8)  # the search's own tolerance
        assert scratch.bottle_latent[b] == pytest.approx(vapour_latent_heat_j_per_kg(10.0, *contents), rel=1e-12)
    assert scratch.bottle_limit_c[0] < -30.0 < scratch.bottle_limit_c[1]  # propane boils at -42 °C at no gauge pressure


def test_an_overfull_bottle_has_a_full_ones_wall_and_an_empty_one_is_not_asked() -> None:
    laid = bench()
    laid.state.propane_kg[:2] = (12.0, BOTTLE_EMPTY_KG)
    laid.scratch.bottle_limit_c[1], laid.scratch.bottle_latent[1] = 77.0, 0.0
    ready(laid)
    assert could_give(laid, 1) == 0.0
    full = wetted_coupling_w_per_k(1.0, laid.van.bottle_diameter_m[0], 11.0, WALL_FILM_W_PER_M2K)
    assert laid.scratch.bottle_coupling[0] == full
    assert (laid.scratch.bottle_limit_c[1], laid.scratch.bottle_latent[1]) == (77.0, 0.0)


def test_bottles_that_stand_outdoors_have_one_wall_and_one_edge() -> None:
    laid = Bench(VANS["one_room"])
    before = laid.scratch.edge_w_per_k.copy()
    ready(laid)
    changed = np.flatnonzero(laid.scratch.edge_w_per_k != before).tolist()
    assert changed == [laid.van.bottle_outdoor_edge[0]]
    assert laid.scratch.edge_w_per_k[changed[0]] == laid.scratch.bottle_coupling[0]


def could_give(laid: Bench, b: int = 0) -> float:
    return float(limit_kg(laid.van, laid.outside, laid.state, laid.scratch, b))


def test_what_a_cold_bottle_gives_in_a_quarter_chills_it_to_where_its_pressure_fails() -> None:
    """The claim is the closed form the other way about: at that rate the bottle ends at its limit. At -25 °C in the
    locker, which is 0.6 of the way from -30 °C outdoors to the garage's -20 °C: -24 °C around it."""
    laid = bench(outdoor_c=-30.0)
    van, state, scratch = laid.van, laid.state, laid.scratch
    van.locker_share = 0.6
    state.temp_c[van.bottle_node[0]] = -25.0
    state.temp_c[van.edge_to[van.bottle_zone_edge[0]]] = -20.0
    ready(laid)
    taken_w = could_give(laid) * scratch.bottle_latent[0] / QUARTER_S
    held = SHELL_J_PER_K + LIQUID_GAS_J_PER_KG_K * 11.0
    end_c = bottle_end_c(QUARTER_S, -25.0, held, scratch.bottle_coupling[0], -24.0, taken_w)
    assert end_c == pytest.approx(scratch.bottle_limit_c[0], abs=1e-9)
    van.bottle_zone_edge[0] = -1
    taken_w = could_give(laid) * scratch.bottle_latent[0] / QUARTER_S
    end_c = bottle_end_c(QUARTER_S, -25.0, held, scratch.bottle_coupling[0], -30.0, taken_w)
    assert end_c == pytest.approx(scratch.bottle_limit_c[0], abs=1e-9)


def test_a_warm_bottle_gives_what_it_holds_down_to_its_last_thirty_grams() -> None:
    laid = bench()
    for held_kg, gives_kg in ((0.2, 0.17), (BOTTLE_EMPTY_KG, 0.0), (0.01, 0.0)):
        laid.state.propane_kg[0] = held_kg
        ready(laid)
        assert could_give(laid) == pytest.approx(gives_kg, abs=1e-12)


def test_a_mixtures_limit_is_found_anew_and_propanes_is_kept() -> None:
    laid = bench()
    ready(laid)
    could_give(laid)
    laid.scratch.bottle_limit_c[0] = -33.0
    could_give(laid)
    assert laid.scratch.bottle_limit_c[0] == -33.0
    laid.state.propane_kg[0], laid.state.butane_kg[0] = 5.0, 6.0
    could_give(laid)
    need_pa = STANDARD_PRESSURE_PA + laid.van.regulator_need_pa
    assert laid.scratch.bottle_limit_c[0] == pytest.approx(temperature_at_pressure_c(need_pa, 5.0, 6.0), abs=1e-8)


QUARTER_FIRE_KG = 0.25 * 4000.0 / 0.8 * QUARTER_S / PROPANE_LOWER_J_PER_KG
FLAME_KG = 1.001 * 600.0 / (0.99 * 0.8) * QUARTER_S / BUTANE_LOWER_J_PER_KG


def at_hand(laid: Bench, least_kg: float, enough_kg: float | None = None) -> float:
    ready(laid)
    enough_kg = least_kg if enough_kg is None else enough_kg
    return float(gas_at_hand(laid.van, laid.hour, laid.outside, laid.state, laid.scratch, least_kg, enough_kg))


@pytest.mark.parametrize(
    ("changeover", "awake", "kg", "least_kg", "given_kg", "feeds"),
    [
        (MANUAL, 0, (0.05, 0.5), 0.15, 0.02, 0),
        (MANUAL, 1, (0.05, 0.5), 0.15, 0.47, 1),
        (AUTOMATIC, 0, (0.05, 0.5), 0.15, 0.47, 1),
        (AUTOMATIC, 0, (0.23, 1.0), 0.15, 0.20, 0),
        (AUTOMATIC, 0, (0.18, 1.0), 0.18 - BOTTLE_EMPTY_KG, 0.15, 0),  # just enough, to the last digit
        (AUTOMATIC, 0, (0.05, 0.13), 0.15, 0.10, 1),  # the other has too little too, and more than this one
        (AUTOMATIC, 0, (0.13, 0.05), 0.15, 0.10, 0),
        (AUTOMATIC, 0, (0.13, 0.13), 0.15, 0.10, 0),
        (MANUAL, 1, (0.05, 0.069), 0.15, 0.02, 0),  # not twice as much: nobody goes out for it
        (MANUAL, 1, (0.05, 0.071), 0.15, 0.041, 1),
        (PARALLEL, 0, (0.05, 0.5), 0.15, 0.49, 0),
    ],
)
def test_a_bottle_that_gives_too_little_is_changed_for_one_that_gives_enough_or_at_least_more(
    changeover: int, awake: int, kg: tuple[float, float], least_kg: float, given_kg: float, feeds: int
) -> None:
    """At 10 °C a bottle gives what it holds above 30 g."""
    laid = bench(changeover)
    laid.hour.awake_inside = awake
    laid.state.propane_kg[:2] = kg
    assert at_hand(laid, least_kg) == pytest.approx(given_kg)
    assert laid.state.marks[ACTIVE] == feeds
    if changeover == PARALLEL:
        assert laid.scratch.bottle_limit_kg[:2].tolist() == pytest.approx([0.02, 0.47])


@pytest.mark.parametrize(("changeover", "most"), [(AUTOMATIC, True), (MANUAL, True), (MANUAL, False)])
def test_a_bottle_that_the_cold_holds_back_is_left_earlier_than_one_that_is_nearly_empty(
    changeover: int, most: bool
) -> None:
    """Its latent heat holds it back, not its 5 kg: one of 10 °C beside it gives more; where nobody is awake, a person
    changes nothing. Of a nearly empty one the same amount is taken to its end."""
    laid = bench(changeover)
    laid.hour.awake_inside = int(most)
    laid.state.propane_kg[:2] = (5.0, 5.0)
    laid.state.temp_c[laid.van.bottle_node[0]] = -35.0
    laid.outside[A.TEMP_C] = -35.0
    cold_kg = at_hand(laid, 0.0)
    assert 0.0 < cold_kg < 0.2
    given_kg = at_hand(laid, 0.5 * cold_kg, 4.0 * cold_kg)
    assert (laid.state.marks[ACTIVE], given_kg > cold_kg) == ((1, True) if most else (0, False))
    laid = bench(changeover)
    laid.hour.awake_inside = 1
    laid.state.propane_kg[:2] = (BOTTLE_EMPTY_KG + cold_kg, 5.0)
    assert at_hand(laid, 0.5 * cold_kg, 4.0 * cold_kg) == pytest.approx(cold_kg)
    assert laid.state.marks[ACTIVE] == 0


def test_a_closed_tap_gives_nothing_whatever_feeds() -> None:
    for changeover in (MANUAL, AUTOMATIC, PARALLEL):
        laid = bench(changeover)
        laid.hour.gas_open = 0
        assert at_hand(laid, 0.3) == 0.0


def test_the_search_for_a_fuller_bottle_goes_round_from_the_one_that_feeds() -> None:
    """Four bottles, the third feeds and is spent: the fourth is too, the first is the next that has enough."""
    van = VANS["demo"]
    laid = Bench(van.model_copy(update={"gas": van.gas.model_copy(update={"bottles": van.gas.bottles * 2})}))
    laid.van.changeover = AUTOMATIC
    laid.state.temp_c[laid.van.bottle_node[:4]] = 10.0
    laid.state.propane_kg[:4], laid.state.butane_kg[:4] = (0.4, 0.6, 0.05, 0.04), 0.0
    laid.state.marks[ACTIVE] = 2
    assert at_hand(laid, 0.15) == pytest.approx(0.37)
    assert laid.state.marks[ACTIVE] == 0


# What the heater may use


def allowed(laid: Bench, quarter: int = 0) -> Any:
    ready(laid)
    laid.flow[:] = 0.0
    allow_heater(
        laid.van, laid.hour, laid.outside, quarter, laid.factors, laid.burner, laid.state, laid.scratch, laid.flow,
        laid.at,
    )  # fmt: skip
    return laid.scratch.limits


def heated(**changes: Any) -> Bench:
    """4 kW at 0.8 to 0.9, both bottles full, a lithium battery at 20 °C and half full, no loads, 100 A regulator."""
    laid = bench()
    van, burner, state = laid.van, laid.burner, laid.state
    burner.outputs_w[:3], burner.efficiency[:3], burner.fan_w[:3] = (1000.0, 2000.0, 4000.0), (0.9, 0.8, 0.85), 24.0
    burner.start_loss_j, burner.supply_limit_c = 0.0, 1e6
    van.rated_w, van.regulator_kg_per_h, van.loads, van.standby_w, van.pad_w = 4000.0, 4.0, 0, 0.0, 0.0
    van.electric_steps, van.electric_w[:2] = 2, (900.0, 1800.0)
    van.fridge_use, van.fridge_gas_kg_per_h, van.fridge_electric_w = 2, 0.02, 125.0
    van.nominal_v, van.mains_charger_a, van.mains_efficiency, van.max_charge_a = 12.0, 20.0, 0.8, 50.0
    van.chemistry, state.charge_ah[:] = 0, (50.0, 100.0)
    for name, value in changes.items():
        (laid.hour if name in laid.hour.dtype.names else van)[name] = value
    return laid


def test_the_heater_is_told_its_setpoints_of_the_quarter_as_far_as_it_may_run() -> None:
    laid = heated()
    laid.hour.set_c[:], laid.hour.water_set_c[:] = (15.0, 16.0, 17.0, 18.0), (40.0, 50.0, 60.0, 65.0)
    laid.factors[A.SETPOINT_K], laid.factors[A.EFFICIENCY] = 0.5, 0.97
    limits = allowed(laid, 2)
    assert (limits[T.SET_C], limits[T.WATER_SET_C], limits[T.EFFICIENCY_FACTOR]) == (17.5, 60.0, 0.97)
    laid.state.marks[VALVE_OPEN] = 1
    limits = allowed(laid, 1)
    assert limits[T.SET_C] == 16.5
    assert math.isnan(limits[T.WATER_SET_C])
    for name, value in (("heater_allowed", 0), ("cut", 1)):
        laid = heated()
        laid.hour.water_set_c[:] = 60.0
        if name == "cut":
            laid.state.marks[CUT_OUT] = value
        else:
            laid.hour.heater_allowed = value
        limits = allowed(laid)
        assert math.isnan(limits[T.SET_C])
        assert math.isnan(limits[T.WATER_SET_C])
        assert limits[T.GAS_CAP_W] == 0.0


def test_gas_in_plenty_lets_the_heater_give_what_it_is_rated_for_and_books_nothing_unserved() -> None:
    laid = heated()
    laid.state.propane_kg[:2] = (0.5, 11.0)
    limits = allowed(laid)
    assert limits[T.GAS_CAP_W] == 4000.0
    assert limits[T.AIR_CAP_W] == T.FAR
    assert laid.moved() == {"offtake_limit_kg": pytest.approx(0.47)}
    assert laid.scratch.gas_kg.tolist() == pytest.approx([0.0, 0.0, 0.47])


def test_the_regulators_kilograms_an_hour_hold_every_quarter() -> None:
    """0.2 kg/h is 50 g a quarter; at 99 % of butane's heat and the least efficiency, 0.8: 2011 W."""
    laid = heated(regulator_kg_per_h=0.2)
    limits = allowed(laid)
    assert laid.flowed("offtake_limit_kg") == pytest.approx(0.05, rel=1e-12)
    cap_w = 0.99 * 0.05 * BUTANE_LOWER_J_PER_KG * 0.8 / QUARTER_S
    assert limits[T.GAS_CAP_W] == pytest.approx(cap_w, rel=1e-12)
    laid.factors[A.EFFICIENCY] = 0.5
    assert allowed(laid)[T.GAS_CAP_W] == pytest.approx(0.5 * cap_w, rel=1e-12)
    laid.factors[A.EFFICIENCY] = 1.2
    assert allowed(laid)[T.GAS_CAP_W] == pytest.approx(cap_w, rel=1e-12)
    laid.burner.start_loss_j = 0.1 * 0.05 * BUTANE_LOWER_J_PER_KG
    assert allowed(laid)[T.GAS_CAP_W] == pytest.approx(0.8 * cap_w, rel=1e-12)


def test_less_gas_than_six_tenths_of_the_least_stage_lights_nothing() -> None:
    """600 W take 900 s * 600 / (0.99 * 0.8) of butane's heat."""
    kg = QUARTER_S * 600.0 / (0.99 * 0.8) / BUTANE_LOWER_J_PER_KG
    assert allowed(heated(regulator_kg_per_h=4.0 * 1.001 * kg))[T.GAS_CAP_W] == pytest.approx(600.6, rel=1e-9)
    assert allowed(heated(regulator_kg_per_h=4.0 * 0.999 * kg))[T.GAS_CAP_W] == 0.0


def test_what_the_gas_cannot_give_is_booked_by_what_the_room_lacks() -> None:
    """60 W for each kelvin below the setpoint, 4 kW at most, less what the gas gives; at the least efficiency."""
    for short_k, wanted_w in ((50.0, 3000.0), (90.0, 4000.0), (0.0, 0.0)):
        laid = heated(regulator_kg_per_h=0.2, set_c=20.0)
        laid.state.temp_c[laid.burner.sensor] = 20.0 - short_k
        cap_w = float(allowed(laid)[T.GAS_CAP_W])
        missing_kg = max(0.0, wanted_w - cap_w) / 0.8 * QUARTER_S / PROPANE_LOWER_J_PER_KG
        assert laid.flowed("unserved_heating_kg") == pytest.approx(missing_kg, rel=1e-12)


def test_nothing_is_missed_by_a_heater_that_is_not_asked_or_has_its_elements() -> None:
    cold = {"regulator_kg_per_h": 0.2, "set_c": np.nan}
    laid = heated(**cold)
    laid.state.temp_c[laid.burner.sensor] = -30.0
    allowed(laid)
    assert "unserved_heating_kg" not in laid.moved()
    laid = heated(regulator_kg_per_h=0.2, hookup_w=3000.0, fuel=2)
    laid.state.temp_c[laid.burner.sensor] = -30.0
    assert allowed(laid)[T.ELECTRIC_W] == 1800.0
    assert "unserved_heating_kg" not in laid.moved()


@pytest.mark.parametrize(("compensated", "share"), [(1, 1.0), (0, 0.8)])
def test_thin_air_lowers_the_output_unless_the_burner_compensates(compensated: int, share: float) -> None:
    laid = heated(altitude_compensated=compensated)
    laid.outside[A.PRESSURE_PA] = 0.8 * STANDARD_PRESSURE_PA
    thin_air(laid.burner, laid.outside)
    assert allowed(laid)[T.GAS_CAP_W] == pytest.approx(4000.0 * share, rel=1e-12)


@pytest.mark.parametrize(("fuel", "hookup_w", "gas"), [(0, 0.0, True), (0, 3000.0, True), (1, 3000.0, False),
                                                      (1, 0.0, True), (2, 3000.0, True)])  # fmt: skip
def test_electric_only_leaves_the_gas_alone_where_there_is_a_hook_up(fuel: int, hookup_w: float, gas: bool) -> None:
    limits = allowed(heated(fuel=fuel, hookup_w=hookup_w))
    assert limits[T.GAS_CAP_W] == (4000.0 if gas else 0.0)
    assert limits[T.ELECTRIC_W] == (1800.0 if fuel and hookup_w else 0.0)


def test_hob_comes_before_fridge_and_fridge_before_heater() -> None:
    """0.4 kg/h of hob are 100 g a quarter, 0.08 of fridge 20 g; a bottle with 30 g and 110 g gives 110 g."""
    laid = heated(cooking_kg=0.4, fridge_use=0, fridge_gas_kg_per_h=0.08)
    laid.state.propane_kg[:2] = (0.14, 0.0)
    allowed(laid)
    assert laid.scratch.gas_kg.tolist() == pytest.approx([0.1, 0.01, 0.0], abs=1e-12)
    assert laid.moved() == pytest.approx({"offtake_limit_kg": 0.11, "unserved_fridge_kg": 0.01}, rel=1e-9)
    laid.state.propane_kg[0] = 0.08
    allowed(laid)
    assert laid.scratch.gas_kg.tolist() == pytest.approx([0.05, 0.0, 0.0], abs=1e-12)
    assert laid.moved() == pytest.approx(
        {"offtake_limit_kg": 0.05, "unserved_cooking_kg": 0.05, "unserved_fridge_kg": 0.02}, rel=1e-9
    )
    laid.state.propane_kg[0] = 0.5
    allowed(laid)
    assert laid.scratch.gas_kg.tolist() == pytest.approx([0.1, 0.02, 0.35], rel=1e-9)


@pytest.mark.parametrize(
    ("open_kg", "least_w", "factor", "short_k", "least_kg", "enough_kg"),
    [
        (0.0, 1000.0, 1.0, 0.9, QUARTER_FIRE_KG, QUARTER_FIRE_KG),
        (0.04, 1000.0, 1.0, 0.9, 0.04 + FLAME_KG, 0.04 + FLAME_KG),
        (0.01, 1000.0, 1.0, 0.9, 0.005 + QUARTER_FIRE_KG, 0.005 + QUARTER_FIRE_KG),
        (0.0, 2000.0, 1.0, np.nan, 2.0 * FLAME_KG, 2.0 * FLAME_KG),
        (0.0, 2000.0, 0.9, 1.0, 2.0 * FLAME_KG / 0.9, 2.0 * FLAME_KG / 0.9),
        (0.0, 2000.0, 1.1, 1.0, 2.0 * FLAME_KG, 2.0 * FLAME_KG),
        (0.02, 1000.0, 1.0, 1.1, 0.02 + FLAME_KG, 0.02 + 4.0 * QUARTER_FIRE_KG),
        (0.0, 8000.0, 1.0, 1.1, 8.0 * FLAME_KG, 8.0 * FLAME_KG),
    ],
)
def test_a_bottle_stays_in_use_for_a_flame_and_where_the_room_falls_behind_for_the_full_fire(
    open_kg: float, least_w: float, factor: float, short_k: float, least_kg: float, enough_kg: float
) -> None:
    """Of 4 kW at 0.8: a quarter hour of a quarter of it, and 0.6 of 1 kW with a hundredth to spare and a thousandth
    more, in the heat of butane. Half of what burns openly may be lacking for once, but not the flame beside it."""
    laid = heated()
    laid.burner.outputs_w[0] = least_w
    laid.state.temp_c[laid.burner.sensor] = 20.0 - (0.0 if np.isnan(short_k) else short_k)
    limits = laid.scratch.limits
    limits[T.SET_C] = np.nan if np.isnan(short_k) else 20.0
    limits[T.EFFICIENCY_FACTOR] = factor
    told = gas_to_stay_kg(laid.burner, limits, laid.state, 4000.0, 0.8, open_kg)
    assert told == pytest.approx((least_kg, enough_kg), rel=1e-9)
    laid.burner.start_loss_j = 30_000.0
    more_kg = 1.001 * 60_000.0 / BUTANE_LOWER_J_PER_KG
    flame_kg = open_kg + FLAME_KG * least_w / 1000.0 / min(1.0, factor) + more_kg
    assert gas_to_stay_kg(laid.burner, limits, laid.state, 4000.0, 0.8, open_kg)[0] == pytest.approx(
        max(flame_kg, 0.5 * open_kg + QUARTER_FIRE_KG), rel=1e-9
    )


def test_a_bottle_in_use_is_changed_by_what_hob_fridge_and_fire_take() -> None:
    """A hob of 100 g and a fridge of 20 g beside the flame; the hob alone where the heater may not run."""
    for off_kg, feeds in ((1e-6, 0), (-1e-6, 1)):
        laid = heated(cooking_kg=0.4, fridge_use=0, fridge_gas_kg_per_h=0.08, changeover=AUTOMATIC)
        laid.hour.set_c[:] = 20.0
        laid.state.temp_c[laid.burner.sensor] = 19.5
        laid.state.propane_kg[0] = BOTTLE_EMPTY_KG + 0.12 + FLAME_KG + off_kg
        allowed(laid)
        assert laid.state.marks[ACTIVE] == feeds
    for off_kg, feeds in ((1e-6, 0), (-1e-6, 1)):
        laid = heated(cooking_kg=0.4, changeover=AUTOMATIC, heater_allowed=0)
        laid.state.propane_kg[0] = BOTTLE_EMPTY_KG + 0.05 + off_kg
        allowed(laid)
        assert laid.state.marks[ACTIVE] == feeds


@pytest.mark.parametrize(
    ("use", "hookup_w", "open_", "gas_kg", "electric_w"),
    [(0, 0.0, 1, 0.005, 0.0), (0, 3000.0, 1, 0.005, 0.0), (1, 0.0, 1, 0.005, 0.0), (1, 3000.0, 1, 0.0, 125.0),
     (1, 100.0, 1, 0.0, 100.0), (2, 3000.0, 1, 0.0, 0.0), (2, 0.0, 1, 0.0, 0.0), (0, 0.0, 0, 0.0, 0.0)],
)  # fmt: skip
def test_the_fridge_takes_gas_or_hook_up_as_it_is_told(
    use: int, hookup_w: float, open_: int, gas_kg: float, electric_w: float
) -> None:
    laid = heated(fridge_use=use, hookup_w=hookup_w, gas_open=open_)
    allowed(laid)
    assert laid.scratch.gas_kg[FRIDGE] == pytest.approx(gas_kg, rel=1e-12)
    assert laid.scratch.power_w[1] == electric_w
    assert laid.scratch.gas_kg[HOB] == 0.0
    assert laid.scratch.gas_kg[HEATER] >= 0.0


@pytest.mark.parametrize(
    ("hookup_w", "hob_w", "fridge_w", "charger_w", "element_w"),
    [
        # The charger asks for 20 A at 12 V over 0.8: 300 W.
        (3000.0, 1000.0, 125.0, 300.0, 900.0),
        (3225.0, 1000.0, 125.0, 300.0, 1800.0),
        (3224.0, 1000.0, 125.0, 300.0, 900.0),
        (1425.0, 1000.0, 125.0, 300.0, 0.0),
        (1250.0, 1000.0, 125.0, 125.0, 0.0),
        (1050.0, 1000.0, 50.0, 0.0, 0.0),
        (800.0, 800.0, 0.0, 0.0, 0.0),
    ],
)
def test_hook_up_goes_to_the_hob_then_fridge_charger_and_elements(
    hookup_w: float, hob_w: float, fridge_w: float, charger_w: float, element_w: float
) -> None:
    laid = heated(hookup_w=hookup_w, fuel=2, fridge_use=1, cooking_electric_w=1000.0)
    limits = allowed(laid)
    assert laid.scratch.power_w.tolist() == pytest.approx([charger_w, fridge_w + hob_w], rel=1e-12)
    assert limits[T.ELECTRIC_W] == element_w


def test_the_charger_asks_for_what_loads_and_battery_take() -> None:
    """Fan of the top stage 24 W, standby 6, extract fan 12, loads 30 and 18, battery 5 A at 12 V; and the pad's 48 W
    below its 10 °C, with charge taken slowly: a fifth of it below 5 °C. Over 0.8."""
    laid = heated(hookup_w=3000.0, standby_w=6.0, extract_fan_w=12.0, loads=2, max_charge_a=5.0, mains_charger_a=99.0)
    laid.van.pad_w, laid.van.pad_off_c = 48.0, 10.0
    laid.scratch.load_now_w[:2] = (30.0, 18.0)
    battery = laid.van.battery_node
    for battery_c, asked_w in ((20.0, 90.0 + 60.0), (10.0, 90.0 + 60.0), (9.0, 138.0 + 60.0), (4.0, 138.0 + 12.0)):
        laid.state.temp_c[battery] = battery_c
        allowed(laid)
        assert laid.scratch.power_w[0] == pytest.approx(asked_w / 0.8, rel=1e-12)
    laid.state.temp_c[battery] = 20.0
    laid.state.charge_ah[0] = 97.5  # half of the last twentieth
    allowed(laid)
    assert laid.scratch.power_w[0] == pytest.approx((90.0 + 30.0) / 0.8, rel=1e-12)


def test_the_guard_holds_the_elements_to_a_step_that_the_air_carries() -> None:
    """The least flow carries 20 W/K over 60 K less its fan of 24 W, 1176 W: the step of 900 W."""
    laid = heated(hookup_w=6000.0, fuel=2)
    laid.burner.supply_limit_c, laid.burner.total_w_per_k[:3] = 80.0, 20.0
    laid.state.temp_c[laid.van.air_node[laid.van.living]] = 20.0
    limits = allowed(laid)
    assert limits[T.AIR_CAP_W] == pytest.approx(1000.0 + 1000.0 * 176.0 / 1000.0, rel=1e-12)
    assert limits[T.ELECTRIC_W] == 900.0


# What is drawn


def mixed(changeover: int = MANUAL) -> Bench:
    """10 °C; the first holds 2 kg of each gas, the second 4 kg of propane."""
    laid = bench(changeover)
    laid.state.propane_kg[:2], laid.state.butane_kg[:2] = (2.0, 4.0), (2.0, 0.0)
    laid.scratch.gas_kg[:] = (0.002, 0.001, 0.0)
    laid.scratch.bottle_limit_kg[:2] = (0.1, 0.3)
    ready(laid)
    return laid


@pytest.mark.parametrize(
    ("changeover", "shares"), [(MANUAL, [0.0, 1.0]), (AUTOMATIC, [0.0, 1.0]), (PARALLEL, [0.25, 0.75])]
)
def test_one_bottle_feeds_or_all_by_what_they_can_give(changeover: int, shares: list[float]) -> None:
    laid = mixed(changeover)
    laid.state.marks[ACTIVE] = 1
    told = [feeding_share(laid.van, laid.state, laid.scratch, b, 0.4) for b in range(2)]
    assert told == pytest.approx(shares, rel=1e-12)
    if changeover == PARALLEL:
        assert feeding_share(laid.van, laid.state, laid.scratch, 0, 0.0) == 0.0


def test_the_gas_of_little_drawn_has_the_heat_of_the_vapour_over_the_liquid() -> None:
    """Milligrams leave the liquid as it is: 1e-6 of it moves the vapour's share by as little."""
    laid = mixed()
    laid.scratch.gas_kg[:] = (2e-6, 1e-6, 0.0)
    told = drawn_content_j_per_kg(laid.van, laid.state, laid.scratch, 100.0, 0.0)
    share = vapour_propane_share(10.0, 2.0, 2.0)
    assert share > 0.7
    expected = share * PROPANE_LOWER_J_PER_KG + (1.0 - share) * BUTANE_LOWER_J_PER_KG
    assert told == pytest.approx(expected, rel=1e-7)
    assert abs(PROPANE_LOWER_J_PER_KG / expected - 1.0) > 1e-3


def test_propane_alone_has_its_own_heat_and_so_has_a_quarter_in_which_nothing_feeds() -> None:
    laid = bench()
    assert drawn_content_j_per_kg(laid.van, laid.state, laid.scratch, 1e6, 0.0) == PROPANE_LOWER_J_PER_KG
    laid = mixed(PARALLEL)
    assert drawn_content_j_per_kg(laid.van, laid.state, laid.scratch, 1e6, 0.0) == PROPANE_LOWER_J_PER_KG


def feed(laid: Bench, fuel_j: float, water_j: float) -> dict[str, float]:
    laid.scratch.outcome[:] = 0.0
    laid.scratch.outcome[T.FUEL_J], laid.scratch.outcome[T.WATER_FUEL_J] = fuel_j, water_j
    feed_bottles(laid.van, laid.state, laid.scratch, laid.flow, laid.at)
    return laid.moved()


def test_propane_for_hob_fridge_room_and_water_leaves_one_bottle_and_chills_it() -> None:
    """2 g, 1 g, 30 g and 10 g of 11 kg. What is booked as carried off is what the liquid loses."""
    laid = bench()
    laid.scratch.gas_kg[:] = (0.002, 0.001, 0.0)
    ready(laid)
    coupling, node = laid.scratch.bottle_coupling[0], laid.van.bottle_node[0]
    laid.scratch.bottle_coupling[0] = 0.0  # no heat comes in meanwhile
    told = feed(laid, 0.04 * PROPANE_LOWER_J_PER_KG, 0.01 * PROPANE_LOWER_J_PER_KG)
    latent = vapour_latent_heat_j_per_kg(10.0, 11.0, 0.0)
    carried_j = 0.043 * (latent + LIQUID_GAS_J_PER_KG_K * 10.0)
    assert told == pytest.approx(
        {"gas_out_kg+0": 0.043, "cooking_kg": 0.002, "fridge_kg": 0.001, "heating_kg": 0.03, "hot_water_kg": 0.01,
         "open_flame_j": 0.003 * PROPANE_LOWER_J_PER_KG, "vaporise_j+0": carried_j}, rel=1e-9,
    )  # fmt: skip
    assert coupling > 0.0
    assert laid.state.propane_kg.tolist()[:2] == pytest.approx([10.957, 11.0], rel=1e-12)
    held = SHELL_J_PER_K + LIQUID_GAS_J_PER_KG_K * 10.957
    assert laid.state.temp_c[node] == pytest.approx(10.0 - 0.043 * latent / held, rel=1e-12)


def test_quarters_add_up_in_the_row_of_their_hour() -> None:
    laid = bench()
    laid.scratch.gas_kg[:] = (0.002, 0.001, 0.0)
    ready(laid)
    first = feed(laid, 0.04 * PROPANE_LOWER_J_PER_KG, 0.01 * PROPANE_LOWER_J_PER_KG)
    again = feed(laid, 0.04 * PROPANE_LOWER_J_PER_KG, 0.01 * PROPANE_LOWER_J_PER_KG)
    same = first.keys() - {"vaporise_j+0"}
    assert {name: again[name] for name in same} == pytest.approx({name: 2.0 * first[name] for name in same}, rel=1e-9)
    assert 1.9 * first["vaporise_j+0"] < again["vaporise_j+0"] < 2.0 * first["vaporise_j+0"]  # it is colder by then


@pytest.mark.parametrize("changeover", [MANUAL, PARALLEL])
def test_the_heat_of_what_left_is_the_heat_that_was_asked(changeover: int) -> None:
    """Grams of each gas times its own heating value, over bottles and gases: the books of the gas, by hand."""
    laid = mixed(changeover)
    told = feed(laid, 0.04 * PROPANE_LOWER_J_PER_KG, 0.0)
    propane = sum(told.get(f"gas_out_kg+{b}", 0.0) for b in range(2))
    butane = told["gas_out_butane_kg+0"]
    given_j = propane * PROPANE_LOWER_J_PER_KG + butane * BUTANE_LOWER_J_PER_KG
    assert given_j == pytest.approx(0.04 * PROPANE_LOWER_J_PER_KG + told["open_flame_j"], rel=1e-9)
    assert propane + butane == pytest.approx(told["heating_kg"] + 0.003, rel=1e-12)
    left = 8.0 - laid.state.propane_kg[:2].sum() - laid.state.butane_kg[:2].sum()
    assert left == pytest.approx(propane + butane, rel=1e-9)
    if changeover == PARALLEL:
        second = 1.0 - (told["gas_out_kg+0"] + butane) / (propane + butane)
        assert second == pytest.approx(0.75, rel=1e-9)
    else:
        assert "gas_out_kg+1" not in told


def test_two_mixtures_at_once_lose_each_its_own_gases() -> None:
    """Twice 2 kg of each gas, one giving a third of what the other does: what is booked is what left."""
    laid = mixed(PARALLEL)
    laid.state.propane_kg[1], laid.state.butane_kg[1] = 2.0, 2.0
    ready(laid)
    for _ in range(2):
        told = feed(laid, 0.04 * PROPANE_LOWER_J_PER_KG, 0.0)
    for b in range(2):
        assert told[f"gas_out_kg+{b}"] == pytest.approx(2.0 - laid.state.propane_kg[b], rel=1e-9)
        assert told[f"gas_out_butane_kg+{b}"] == pytest.approx(2.0 - laid.state.butane_kg[b], rel=1e-9)
    first, second = (told[f"gas_out_kg+{b}"] + told[f"gas_out_butane_kg+{b}"] for b in range(2))
    assert second == pytest.approx(3.0 * first, rel=1e-9)


def test_a_quarter_without_gas_moves_nothing() -> None:
    laid = bench()
    ready(laid)
    assert feed(laid, 0.0, 0.0) == {}
    laid.scratch.gas_kg[HEATER] = 0.5  # at hand, not used
    assert feed(laid, 0.0, 0.0) == {}
