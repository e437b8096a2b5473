"""Claims on the march: what no careful person would forgive it for getting wrong."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from sample_vans import one_room, sample_vans
from still_hours import NOBODY, still_hours, still_weather

from budget.engine import arrays
from budget.engine.batch import Many, base_factors, run_many, run_one
from budget.engine.network import Furnace, Network
from budget.engine.stepping import USUAL_ERROR_K
from budget.engine.van_arrays import BuiltVan, build_van

VANS = sample_vans()


@cache
def built(name: str) -> BuiltVan:
    return build_van(VANS[name])


def total(van: BuiltVan, many: Many, family: str, width: int = 1) -> float:
    first = getattr(van.flows, family)
    return float(many.totals[0, first : first + width].sum())


def gas_kg(van: BuiltVan, many: Many) -> float:
    bottles = van.size.bottles
    return total(van, many, "gas_out_kg", bottles) + total(van, many, "gas_out_butane_kg", bottles)


def refilled(hours: Any) -> Any:
    """Bottles are changed at once, so that use is need."""
    hours["exchange_open"] = 1
    return hours


def test_unheated_lump_keeps_1_over_e_of_its_warmth_after_one_time_constant() -> None:
    """T(C / UA) = T_out + (T_0 - T_out) / e; 80 W/K and 288 kJ/K make it exactly one hour."""
    lump = Network(
        capacity_j_per_k=np.array([288_000.0]), edge_from=np.array([0]), edge_to=np.array([-1]),
        edge_w_per_k=np.array([80.0]),
    )  # fmt: skip
    march = lump.march(
        start_c=np.array([25.0]), outdoor_c=np.zeros(1), heat_w=np.zeros((1, 1)), step_error_k=USUAL_ERROR_K / 64.0
    )
    assert march.edge_c[1, 0] / 25.0 == pytest.approx(np.exp(-1.0), abs=2e-5)  # third-order steps, a quarter as long


@pytest.mark.parametrize("name", ["one_room", "demo", "staged", "heavy"])
def test_without_gas_or_hook_up_there_is_no_heat_and_the_van_ends_at_the_outdoors(name: str) -> None:
    """Closed bottles: no burner heat, no fuel, no flame; inside tends to outdoors as nothing else gives warmth."""
    van = built(name)
    hours = 24 * 6
    none = run_one(van, still_hours(hours, gas_open=0, load_share=0.0), still_weather(hours, -5.0), NOBODY)
    for family in ("gas_heat_air_j", "gas_heat_water_j", "electric_air_j", "fuel_j", "flame_s", "starts"):
        assert total(van, none, family) == 0.0
    stocks = none.stocks
    assert stocks is not None
    node = list(van.node_names).index(f"{van.zone_names[van.living]}_air")
    # six days are some forty time constants of the air; frozen tanks (334 kJ/kg at 0 °C) still give a little
    assert stocks[-1, van.stocks.node_c + node] == pytest.approx(-5.0, abs=1.5)


@pytest.mark.parametrize("name", ["one_room", "demo", "staged"])
def test_colder_weather_never_takes_less_gas(name: str) -> None:
    """A monotone law: each kelvin colder adds heat; five records 4 K apart, the battery kept up by the hook-up."""
    van = built(name)
    hours = 48
    gas = [
        gas_kg(van, run_one(van, refilled(still_hours(hours, hookup_w=2000.0)), still_weather(hours, t), NOBODY))
        for t in (8.0, 4.0, 0.0, -4.0, -8.0)
    ]
    assert gas[-1] > 0.5
    assert all(b >= a for a, b in pairwise(gas)), gas


def test_more_insulation_never_raises_gas_when_modulating_without_sun_at_constant_efficiency() -> None:
    """The loss factor scales every opaque element; with a burner that turns down to 50 W nothing cycles."""
    stages = [{"output_w": w, "efficiency_share": 0.9, "air_m3_per_h": 150.0, "fan_w": 20.0} for w in (50.0, 4000.0)]
    van = build_van(one_room(heater={"control": "modulating", "stages": stages, "start_loss_kj": 0.0}))
    hours = 72
    factors = base_factors(9)
    factors[:, arrays.LOSS] = np.linspace(0.4, 1.4, 9)
    swing = -3.0 + 6.0 * np.sin(2.0 * np.pi * np.arange(hours) / 24.0)
    many = run_many(van, refilled(still_hours(hours)), still_weather(hours, swing)[np.newaxis], NOBODY, factors=factors)
    first = van.flows.gas_out_kg
    gas = many.totals[:, first : first + van.size.bottles].sum(axis=1)
    assert np.all(np.diff(gas) > 0.0), gas


def test_halving_the_hook_up_amps_never_adds_electric_heat() -> None:
    """2, 4, 8, 16 A of 230 V, for each choice of fuel."""
    van = built("electric_only")
    hours = 24
    for fuel in (1, 2):
        heat = []
        for amps in (16.0, 8.0, 4.0, 2.0):
            many = run_one(
                van, still_hours(hours, hookup_w=230.0 * amps, fuel=fuel, water_set_c=60.0),
                still_weather(hours, -5.0), NOBODY,
            )  # fmt: skip
            heat.append(total(van, many, "electric_air_j") + total(van, many, "electric_water_j"))
        assert heat[0] > 0.0
        assert all(b <= a for a, b in pairwise(heat)), heat


def cycling(**timers: float) -> Furnace:
    return Furnace(
        sensor=0, share=np.array([1.0, 0.0]), outputs_w=np.array([4000.0]), efficiency=np.array([0.9]),
        modulating=False, differential_k=0.4, **timers,
    )  # fmt: skip


def starts_and_flame(furnace: Furnace) -> tuple[float, float]:
    """Starts and mean minutes of a burst over two days at 0 °C."""
    room = Network(
        capacity_j_per_k=np.array([60_000.0, 540_000.0]), edge_from=np.array([0, 0, 1]),
        edge_to=np.array([1, -1, -1]), edge_w_per_k=np.array([100.0, 60.0, 20.0]),
    )  # fmt: skip
    march = room.march(
        start_c=np.full(2, 18.0), outdoor_c=np.zeros(48), heat_w=np.zeros((48, 2)), furnace=furnace,
        setpoint_c=np.full(48, 18.0),
    )  # fmt: skip
    return float(march.starts.sum()), float(march.heat_j.sum() / 4000.0 / 60.0 / march.starts.sum())


def test_longer_least_runs_make_fewer_longer_bursts() -> None:
    """A burst is never shorter than the least run; the last may be cut by the end of the march."""
    before = np.inf
    for least_s in (0.0, 120.0, 300.0, 600.0):
        starts, minutes = starts_and_flame(cycling(min_on_s=least_s))
        assert starts <= before
        assert minutes >= least_s / 60.0 * (1.0 - 1.0 / starts)
        before = starts
    assert starts < 0.7 * starts_and_flame(cycling())[0]


def test_longer_least_pauses_make_fewer_starts() -> None:
    """Two days hold at most 172,800 s / (pause) starts."""
    before = np.inf
    for least_s in (0.0, 120.0, 300.0, 600.0):
        starts, _ = starts_and_flame(cycling(min_off_s=least_s))
        assert starts <= min(before, 172_800.0 / max(least_s, 1.0) + 1.0)
        before = starts
    assert starts < 0.7 * starts_and_flame(cycling())[0]


def test_a_batch_gives_the_same_bits_whatever_the_workers_and_neighbours() -> None:
    """Sixty scenarios by one worker, by three, and a few of them alone: identical to the last bit."""
    van = built("demo")
    hours, rows = still_hours(24), still_weather(24, -6.0)[np.newaxis]
    factors = base_factors(60)
    factors[:, : arrays.SETPOINT_K] = np.random.default_rng(3).uniform(0.8, 1.2, (60, arrays.SETPOINT_K))
    with ThreadPoolExecutor(1) as one, ThreadPoolExecutor(3) as three:
        first = run_many(van, hours, rows, NOBODY, factors=factors, executor=one)
        second = run_many(van, hours, rows, NOBODY, factors=factors, executor=three)
    assert first.totals.tobytes() == second.totals.tobytes()
    assert first.trace.tobytes() == second.trace.tobytes()
    some = [41, 7, 59]
    alone = run_many(van, hours, rows, NOBODY, factors=factors[some])
    assert alone.totals.tobytes() == first.totals[some].tobytes()
    detailed = run_one(van, hours, rows[0], NOBODY, factors=factors[7])
    assert detailed.totals[0].tobytes() == first.totals[7].tobytes()


def test_the_gas_and_the_cut_out_that_a_scenario_keeps_are_those_of_its_hours() -> None:
    """Without an exchange what is used by an hour edge is what the bottles have lost, and it ends at the total."""
    van = built("demo")
    many = run_one(van, still_hours(24), still_weather(24, -6.0), NOBODY)
    gas, used, cut_out_s = many.trace[0, :, 0], many.trace[0, :, 4], many.trace[0, :, 5]
    assert used[-1] > 0.5
    np.testing.assert_allclose(used, gas[0] - gas, atol=1e-9)  # rounding of sums of a few kilograms
    assert many.flows is not None
    assert cut_out_s.tolist() == [0.0, *np.cumsum(many.flows[:, van.flows.cut_out_s]).tolist()]


def test_halving_the_inner_step_of_a_whole_van_changes_nothing_that_can_be_seen() -> None:
    """An eighth of the error, half the step, over two cold days: gas within 0.5 %, zones within 0.05 K."""
    van = built("demo")
    hours = refilled(still_hours(48, water_set_c=60.0, people_w=140.0, people_zone=van.living))
    rows = still_weather(48, -4.0 + 5.0 * np.sin(2.0 * np.pi * np.arange(48) / 24.0))
    whole, half = run_one(van, hours, rows, NOBODY), run_one(van, hours, rows, NOBODY, step_error_k=USUAL_ERROR_K / 8.0)
    assert half.steps > whole.steps
    assert gas_kg(van, whole) == pytest.approx(gas_kg(van, half), rel=0.005)
    assert whole.flows is not None
    assert half.flows is not None
    assert np.max(np.abs(whole.trace[0, :, 2] - half.trace[0, :, 2])) <= 0.05


def test_on_the_road_the_cab_warms_steadily_to_where_its_heat_and_its_losses_meet() -> None:
    """The van's engine gives 150 W/K towards 20 °C, 3 kW at most: from -5 °C the cab only rises, the heat only falls.

    At rest the heat is 150 W/K times what is missing, 3 % for the last of the linings' warming up. Watts fixed for an
    hour from the temperature at its start swing to and fro instead.
    """
    van = built("demo")
    hours = still_hours(10, np.nan, -5.0, moving=1, drive_cab_c=20.0, heater_allowed=0)
    many = run_one(van, hours, still_weather(10, -5.0), NOBODY)
    assert many.stocks is not None and many.flows is not None
    cab_c = many.stocks[:, van.stocks.node_c + van.node_names.index("cab_air")]
    heat_w = many.flows[:, van.flows.drive_j + van.cab] / 3600.0
    assert (np.diff(cab_c) > 0.0).all(), cab_c
    assert (np.diff(heat_w) < 0.0).all() and heat_w[0] < 3000.0, heat_w
    assert heat_w[-1] == pytest.approx(150.0 * (20.0 - cab_c[-1]), rel=0.03)
