"""The thermostat and the guard of the supply air, law by law; numbers by hand, tolerances those of floats."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from engine_bench import Bench
from sample_vans import sample_vans

from budget.engine import arrays as A
from budget.engine import thermostat as T
from budget.engine.supply import carried_w, note_guard, thin_air
from budget.engine.thermostat import (
    FAR,
    crossing_tolerance_k,
    electric_law,
    gas_edges,
    gas_law,
    on_table,
    place_on_table,
    switch,
)
from budget.physics.properties import STANDARD_PRESSURE_PA

DEMO = sample_vans()["demo"]
SET_C = 20.0
OUTPUTS_W = (1000.0, 2000.0, 4000.0)


def bench(modulating: int = 1, outputs_w: tuple[float, ...] = OUTPUTS_W, **changes: float) -> Bench:
    """Band 0.5 K and differential 0.7 K modulating; 1 K a stage staged. Least run 180 s, least rest 60 s."""
    laid = Bench(DEMO)
    burner = laid.burner
    burner.modulating, burner.points = modulating, len(outputs_w)
    burner.outputs_w[: len(outputs_w)] = outputs_w
    burner.band_k, burner.differential_k = 0.5, 0.7 if modulating else 1.0
    burner.min_on_s, burner.min_off_s, burner.boiler_hysteresis_k = 180.0, 60.0, 5.0
    for name, value in changes.items():
        burner[name] = value
    limits = laid.scratch.limits
    limits[T.SET_C], limits[T.WATER_SET_C], limits[T.GAS_CAP_W], limits[T.ELECTRIC_W] = SET_C, np.nan, 4000.0, 0.0
    return laid


def law_alone(temp_c: float, flame: int, low_w: float, high_w: float, burner: Any) -> tuple[float, ...]:
    """The gas's law without an element beside it."""
    law: tuple[float, ...] = gas_law(temp_c, flame, *gas_edges(SET_C, 0.0, burner), low_w, high_w, burner)
    return law


@pytest.mark.parametrize(
    ("watts", "place"),
    [(500.0, (0, 0.0)), (1000.0, (0, 0.0)), (1500.0, (0, 0.5)), (2000.0, (0, 1.0)), (3000.0, (1, 0.5)),
     (4000.0, (1, 1.0)), (4500.0, (2, 0.25)), (6000.0, (2, 1.0)), (9000.0, (2, 1.0))],
)  # fmt: skip
def test_an_output_stands_between_the_stages_and_is_held_at_the_ends(watts: float, place: tuple[int, float]) -> None:
    """Stages of 1, 2, 4 and 6 kW."""
    outputs = np.array([1000.0, 2000.0, 4000.0, 6000.0])
    assert place_on_table(watts, outputs, 4) == place
    fans = np.array([10.0, 20.0, 60.0, 100.0])
    assert on_table(*place, fans) == np.interp(watts, outputs, fans)


def test_a_heater_of_one_stage_has_one_place() -> None:
    assert place_on_table(3000.0, np.array([2000.0, 0.0]), 1) == (0, 0.0)
    assert on_table(0, 0.0, np.array([7.0, 0.0])) == 7.0


@pytest.mark.parametrize(
    ("modulating", "width_k", "near_k"), [(1, 0.2, 0.002), (1, 2.0, 0.005), (0, 0.2, 0.0004), (0, 1.0, 0.001)]
)
def test_a_crossing_is_met_to_a_share_of_what_stands_around_it(modulating: int, width_k: float, near_k: float) -> None:
    """A hundredth of a band and 5 mK at most; a five-hundredth of a differential and 1 mK at most."""
    laid = bench(modulating, band_k=width_k, differential_k=width_k)
    assert crossing_tolerance_k(laid.burner) == pytest.approx(near_k, rel=1e-12)


@pytest.mark.parametrize(
    ("temp_c", "heat_w", "interval"),
    [(19.0, 4000.0, (-FAR, 19.75)), (19.75, 4000.0, (19.75, 20.25)), (20.0, 2500.0, (19.75, 20.25)),
     (20.2499, 1000.6, (19.75, 20.25)), (20.25, 1000.0, (20.25, 20.7)), (20.69, 1000.0, (20.25, 20.7))],
)  # fmt: skip
def test_a_modulating_burner_falls_from_full_to_least_across_its_band(
    temp_c: float, heat_w: float, interval: tuple[float, float]
) -> None:
    """1 to 4 kW over half a kelvin about 20 °C, 6 kW/K; out at 0.7 K above."""
    intercept, slope, low_c, high_c = law_alone(temp_c, 1, 1000.0, 4000.0, bench().burner)
    assert intercept - slope * temp_c == pytest.approx(heat_w, rel=1e-9)
    assert slope == (6000.0 if interval == (19.75, 20.25) else 0.0)
    assert (low_c, high_c) == pytest.approx(interval, rel=1e-12)


def test_a_burner_that_is_out_waits_for_its_differential() -> None:
    assert law_alone(20.0, 0, 1000.0, 4000.0, bench().burner) == (0.0, 0.0, SET_C - 0.7, FAR)
    assert law_alone(20.0, 0, 1000.0, 4000.0, bench(0).burner) == (0.0, 0.0, SET_C - 1.0, FAR)


def test_a_cap_below_the_least_output_is_what_the_burner_gives_until_it_goes_out() -> None:
    for cap_w in (800.0, 1000.0):
        assert law_alone(18.0, 1, 1000.0, cap_w, bench().burner) == (cap_w, 0.0, -FAR, SET_C + 0.7)


def test_a_band_wider_than_the_differential_puts_the_flame_out_at_its_upper_end() -> None:
    burner = bench(differential_k=0.1).burner
    assert law_alone(20.0, 1, 1000.0, 4000.0, burner)[3] == 20.25
    assert law_alone(19.9, 1, 1000.0, 900.0, burner)[3] == 20.25


@pytest.mark.parametrize("flame", [0, 1])
def test_a_burner_that_goes_down_to_nothing_follows_its_band_without_a_differential(flame: int) -> None:
    burner = bench(outputs_w=(0.0, 4000.0)).burner
    intercept, slope, *interval = law_alone(20.0, flame, 0.0, 4000.0, burner)
    assert intercept - slope * 20.0 == pytest.approx(2000.0, rel=1e-9)
    assert interval == [19.75, 20.25]
    assert law_alone(20.5, flame, 0.0, 4000.0, burner) == (0.0, 0.0, 20.25, FAR)
    assert law_alone(19.0, flame, 0.0, 4000.0, burner) == (4000.0, 0.0, -FAR, 19.75)


@pytest.mark.parametrize(
    ("flame", "law"),
    [(1, (1000.0, 0.0, 18.0, 21.0)), (2, (2000.0, 0.0, 17.0, 20.0)), (3, (3500.0, 0.0, -FAR, 19.0))],
)
def test_each_stage_holds_from_its_step_down_to_its_step_up(flame: int, law: tuple[float, ...]) -> None:
    """A kelvin a stage: on 1, 2, 3 K below, back 1 K above that and out 1 K above the setpoint; 3.5 kW of gas."""
    assert law_alone(19.5, flame, 1000.0, 3500.0, bench(0).burner) == law


@pytest.mark.parametrize(
    ("temp_c", "heat_w", "interval"),
    [(19.0, 1800.0, (-FAR, 19.75)), (19.75, 1800.0, (19.75, 20.25)), (20.0, 900.0, (19.75, 20.25)),
     (20.25, 0.0, (20.25, FAR)), (22.0, 0.0, (20.25, FAR))],
)  # fmt: skip
def test_the_elements_fall_to_nothing_across_the_band(
    temp_c: float, heat_w: float, interval: tuple[float, float]
) -> None:
    intercept, slope, *edges = electric_law(temp_c, SET_C, 0.0, 1800.0, bench().burner)
    assert intercept - slope * temp_c == pytest.approx(heat_w, abs=1e-9)
    assert slope == (3600.0 if interval == (19.75, 20.25) else 0.0)
    assert edges == list(interval)


def test_a_wider_band_is_a_flatter_slope() -> None:
    """1.8 kW over 2 K about 20 °C."""
    burner = bench(band_k=2.0).burner
    assert electric_law(19.5, SET_C, 0.0, 1800.0, burner) == pytest.approx((900.0 * 21.0, 900.0, 19.0, 21.0), rel=1e-12)
    assert electric_law(18.9, SET_C, 0.0, 1800.0, burner) == (1800.0, 0.0, -FAR, 19.0)
    assert electric_law(21.0, SET_C, 0.0, 1800.0, burner) == (0.0, 0.0, 21.0, FAR)
    assert law_alone(19.5, 1, 1000.0, 4000.0, burner) == pytest.approx(
        (1000.0 + 1500.0 * 21.0, 1500.0, 19.0, 21.0), rel=1e-12
    )


@pytest.mark.parametrize(
    ("modulating", "differential_k", "alone", "beside"),
    [(1, 0.7, (20.0, 19.3, 20.7), (19.75, 19.3, 20.25)), (1, 0.1, (20.0, 19.9, 20.25), (19.75, 19.9, 20.25)),
     (0, 1.0, (20.0, 19.0, 21.0), (20.0, 19.0, 20.25))],
)  # fmt: skip
def test_beside_an_element_gas_gives_more_than_its_least_only_where_the_element_gives_all(
    modulating: int, differential_k: float, alone: tuple[float, ...], beside: tuple[float, ...]
) -> None:
    """A band of half a kelvin and a setpoint of 20 °C, up to which the element is full; at 20.25 °C it gives half."""
    burner = bench(modulating, differential_k=differential_k).burner
    assert gas_edges(SET_C, 0.0, burner) == pytest.approx(alone, rel=1e-12)
    assert gas_edges(SET_C, 1800.0, burner) == pytest.approx(beside, rel=1e-12)
    middle_c, on_c, off_c = gas_edges(SET_C, 1800.0, burner)
    intercept, slope, *edges = electric_law(SET_C, SET_C, 4000.0, 1800.0, burner)
    assert intercept - slope * SET_C == pytest.approx(1800.0, rel=1e-9)
    assert intercept - slope * off_c == pytest.approx(900.0, rel=1e-9)
    assert edges == [20.0, 20.5]
    if modulating:
        assert gas_law(SET_C, 1, middle_c, on_c, off_c, 1000.0, 4000.0, burner) == (1000.0, 0.0, SET_C, off_c)


def test_without_hook_up_the_elements_have_no_edge() -> None:
    assert electric_law(19.0, SET_C, 0.0, 0.0, bench().burner) == (0.0, 0.0, -FAR, FAR)


def switched(laid: Bench, flame: int, temp_c: float, since_s: float = 1e4) -> tuple[int, float, float]:
    """Flame, its time and the next step tried, after the thermostat has looked."""
    integers, floats = laid.state.integers, laid.state.floats
    integers[T.FLAME], floats[T.SINCE_S], floats[T.TRY_S] = flame, since_s, 500.0
    switch(temp_c, 40.0, laid.scratch.limits, laid.burner, integers, floats)
    return int(integers[T.FLAME]), float(floats[T.SINCE_S]), float(floats[T.TRY_S])


@pytest.mark.parametrize(
    ("flame", "temp_c", "since_s", "after"),
    [(0, 19.304, 60.0, 1), (0, 19.306, 60.0, 0), (0, 15.0, 59.9, 0), (1, 20.694, 180.0, 1), (1, 20.696, 180.0, 0),
     (1, 25.0, 179.9, 1), (1, 19.0, 10.0, 1)],
)  # fmt: skip
def test_a_modulating_flame_keeps_its_differential_and_its_least_times(
    flame: int, temp_c: float, since_s: float, after: int
) -> None:
    """Lit 0.7 K below 20 °C, put out 0.7 K above, each met within the band's hundredth, 5 mK."""
    told = switched(bench(), flame, temp_c, since_s)
    assert told == ((after, 0.0, T.FIRST_STEP_S) if after != flame else (after, since_s, 500.0))


@pytest.mark.parametrize(
    ("flame", "temp_c", "since_s", "after"),
    [(0, 18.9, 1e4, 1), (0, 19.0005, 1e4, 1), (0, 19.002, 1e4, 0), (0, 17.9, 1e4, 2), (0, 16.0, 1e4, 3),
     (0, 16.0, 59.0, 0), (0, 16.0, 60.0, 3), (1, 18.0005, 5.0, 2), (1, 18.002, 5.0, 1), (1, 16.5, 5.0, 3),
     (2, 17.0005, 5.0, 3), (2, 17.5, 5.0, 2), (3, 18.9, 1e4, 3), (3, 18.9995, 1e4, 2), (3, 19.5, 1e4, 2),
     (3, 19.9995, 1e4, 1), (2, 20.5, 1e4, 1), (3, 20.9995, 1e4, 0), (3, 21.5, 10.0, 1), (1, 20.998, 1e4, 1),
     (1, 21.0, 180.0, 0), (1, 21.0, 179.0, 1), (3, 15.0, 1e4, 3)],
)  # fmt: skip
def test_stages_step_up_and_down_in_their_order(flame: int, temp_c: float, since_s: float, after: int) -> None:
    """A kelvin a stage about 20 °C, met within 1 mK; the last flame stays for its least run, stages change at once."""
    now, since, tried = switched(bench(0), flame, temp_c, since_s)
    assert now == after
    assert since == (0.0 if (after == 0) != (flame == 0) else since_s)
    assert tried == (500.0 if after == flame else T.FIRST_STEP_S)


@pytest.mark.parametrize(("flame", "temp_c", "after"), [(0, 19.304, 1), (0, 19.306, 0), (1, 20.244, 1), (1, 20.246, 0)])
def test_beside_the_elements_the_flame_dies_where_they_give_half(flame: int, temp_c: float, after: int) -> None:
    laid = bench()
    laid.scratch.limits[T.ELECTRIC_W] = 1800.0
    assert switched(laid, flame, temp_c)[0] == after


def test_a_differential_within_half_a_band_puts_the_flame_out_at_the_bands_end() -> None:
    """0.1 K and a band of 0.5 K: lit at 19.9, out at 20.25."""
    laid = bench(differential_k=0.1)
    assert [switched(laid, 1, temp_c)[0] for temp_c in (20.24, 20.246)] == [1, 0]
    assert [switched(laid, 0, temp_c)[0] for temp_c in (19.904, 19.906)] == [1, 0]


@pytest.mark.parametrize("modulating", [0, 1])
def test_without_gas_or_setpoint_the_flame_goes_out_at_once(modulating: int) -> None:
    laid = bench(modulating)
    laid.scratch.limits[T.GAS_CAP_W] = 0.0
    assert switched(laid, 1, 10.0, 5.0) == (0, 0.0, T.FIRST_STEP_S)
    assert switched(laid, 0, 10.0, 5.0) == (0, 5.0, 500.0)
    laid.scratch.limits[T.GAS_CAP_W], laid.scratch.limits[T.SET_C] = 4000.0, np.nan
    assert switched(laid, 1, 10.0, 5.0)[0] == 0


def test_a_burner_that_goes_down_to_nothing_is_always_lit_while_it_is_called() -> None:
    laid = bench(outputs_w=(0.0, 4000.0))
    assert switched(laid, 0, 30.0, 5.0) == (1, 0.0, T.FIRST_STEP_S)
    laid.burner.modulating = 0
    assert switched(laid, 0, 30.0, 5.0)[0] == 0


@pytest.mark.parametrize(
    ("call", "boiler_c", "after"), [(1, 59.979, 1), (1, 59.981, 0), (1, 61.0, 0), (0, 55.019, 1), (0, 55.021, 0),
                                    (0, 59.0, 0), (1, 20.0, 1), (0, 20.0, 1)],
)  # fmt: skip
def test_the_boiler_calls_from_its_hysteresis_to_its_setpoint(call: int, boiler_c: float, after: int) -> None:
    """60 °C and 5 K, each met within 20 mK."""
    laid = bench()
    integers, floats, limits = laid.state.integers, laid.state.floats, laid.scratch.limits
    limits[T.WATER_SET_C] = 60.0
    integers[T.WATER_CALL], floats[T.TRY_S] = call, 500.0
    switch(19.9, boiler_c, limits, laid.burner, integers, floats)
    assert integers[T.WATER_CALL] == after
    assert floats[T.TRY_S] == (500.0 if after == call else T.FIRST_STEP_S)


@pytest.mark.parametrize(
    ("water_c", "gas_w", "electric_w", "called"),
    [(60.0, 4000.0, 0.0, 1), (60.0, 0.0, 1800.0, 1), (60.0, 0.0, 0.0, 0), (np.nan, 4000.0, 1800.0, 0)],
)
def test_the_boiler_calls_only_for_what_can_heat_it(
    water_c: float, gas_w: float, electric_w: float, called: int
) -> None:
    for call in (0, 1):
        laid = bench()
        limits = laid.scratch.limits
        limits[T.WATER_SET_C], limits[T.GAS_CAP_W], limits[T.ELECTRIC_W] = water_c, gas_w, electric_w
        laid.state.integers[T.WATER_CALL] = call
        switch(19.9, 20.0, limits, laid.burner, laid.state.integers, laid.state.floats)
        assert laid.state.integers[T.WATER_CALL] == called


def test_a_heater_without_boiler_leaves_the_call_alone() -> None:
    laid = bench()
    laid.burner.boiler = -1
    laid.scratch.limits[T.WATER_SET_C] = 60.0
    switch(19.9, 20.0, laid.scratch.limits, laid.burner, laid.state.integers, laid.state.floats)
    assert laid.state.integers[T.WATER_CALL] == 0


# The supply air


def supplied(total_w_per_k: tuple[float, ...] = (40.0, 60.0, 80.0)) -> Bench:
    laid = bench()
    burner = laid.burner
    burner.total_w_per_k[:3] = total_w_per_k
    burner.fan_w[:3] = (10.0, 20.0, 60.0)
    burner.supply_limit_c, burner.air_ratio = 90.0, 1.0
    return laid


def test_thin_air_lowers_flow_and_the_airs_part_of_the_fan_by_its_pressure() -> None:
    laid = bench()
    burner = laid.burner
    sea = burner.sea_flow_w_per_k.copy()
    burner.fan_fixed_w[:3], burner.fan_air_w[:3] = (4.0, 8.0, 24.0), (6.0, 12.0, 36.0)
    laid.outside[A.PRESSURE_PA] = 0.75 * STANDARD_PRESSURE_PA
    thin_air(burner, laid.outside)
    assert burner.air_ratio == 0.75
    assert burner.fan_w[:3].tolist() == [8.5, 17.0, 51.0]
    assert np.array_equal(burner.flow_w_per_k[:3], 0.75 * sea[:3])
    assert burner.flow_w_per_k[2, burner.flows - 1] > 0.0


@pytest.mark.parametrize(
    ("return_c", "watts"),
    [(20.0, FAR), (39.25, FAR), (45.0, 2000.0 + 2000.0 * 680.0 / 1140.0), (60.0, 1000.0 + 1000.0 * 190.0 / 410.0),
     (70.0, 790.0), (89.5, 10.0), (89.9, 0.0), (90.0, 0.0), (95.0, 0.0)],
)  # fmt: skip
def test_the_guard_lets_through_what_the_air_carries_up_to_its_limit(return_c: float, watts: float) -> None:
    """40, 60, 80 W/K, fans of 10, 20, 60 W and 90 °C. At 45 °C 45 K carry 2700 W at the second stage, 680 W above its
    own, and 3600 W at the third, 460 W short; between them the share is 680 / 1140."""
    assert carried_w(supplied().burner, return_c) == pytest.approx(watts, rel=1e-12)


def test_half_the_air_carries_half_and_a_fan_more_than_it_carries_leaves_nothing() -> None:
    laid = supplied()
    laid.burner.air_ratio = 0.5
    assert carried_w(laid.burner, 70.0) == pytest.approx(0.5 * 40.0 * 20.0 - 10.0, rel=1e-12)
    laid.burner.fan_w[0] = 500.0
    assert carried_w(laid.burner, 70.0) == 0.0


@pytest.mark.parametrize(
    ("gas_j", "electric_j", "set_c", "held"),
    [(900_000.0, 0.0, 20.0, True), (500_000.0, 400_000.0, 20.0, True), (899_000.0, 0.0, 20.0, False),
     (899_200.0, 0.0, 20.0, True), (900_000.0, 0.0, np.nan, False), (0.0, 0.0, 20.0, False)],
)  # fmt: skip
def test_a_quarter_is_held_back_when_the_air_got_all_that_the_guard_lets_through(
    gas_j: float, electric_j: float, set_c: float, held: bool
) -> None:
    """1 kW over 900 s, less the thousandth that is rounding. Twice: the hour gathers its quarters."""
    laid = bench()
    laid.scratch.limits[T.AIR_CAP_W], laid.scratch.limits[T.SET_C] = 1000.0, set_c
    laid.scratch.outcome[T.GAS_AIR_J], laid.scratch.outcome[T.ELECTRIC_AIR_J] = gas_j, electric_j
    for _ in range(2):
        note_guard(laid.scratch, laid.flow, laid.at)
    assert laid.moved() == ({"supply_limited_s": 1800.0} if held else {})
