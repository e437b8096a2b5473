"""The supply air in the engine: a narrow way back, thin air, and the guard against hot supply air."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from sample_tours import short_tour
from sample_vans import bare_room, one_room, sample_vans
from test_results_summary import SAMPLES

from budget.answers import ducts
from budget.answers.conditions import SETTLING_H, SPAN_S, Conditions, Guard, march, unlimited
from budget.cli import summary as screen
from budget.engine.batch import Many
from budget.engine.van_arrays import BuiltVan, build_van
from budget.physics.properties import AIR_CP_J_PER_KG_K, STANDARD_PRESSURE_PA, pressure_at_altitude_pa
from budget.simulation import simulate
from budget.van.heater import Duct
from budget.van.model import Van

DEMO = sample_vans()["demo"]
HARD_C = 60.0  # never reached: the heater gives all it can
RETURN_CM2 = 25.0


def with_heater(van: Van, **changes: Any) -> Van:
    return van.model_copy(update={"heater": van.heater.model_copy(update=changes)})


def at_full(van: Van, altitude_m: float = 0.0) -> tuple[BuiltVan, Many]:
    """The settled van at -20 °C with a setpoint that is never reached."""
    built = build_van(unlimited(van))
    return built, march(
        built, Conditions(outdoor_c=-20.0, altitude_m=altitude_m), SETTLING_H, set_c=HARD_C, start_c=15.0
    )


def last(built: BuiltVan, many: Many) -> tuple[dict[str, float], np.ndarray]:
    """Node temperatures at the end [°C] and the flows of the last hour."""
    assert many.stocks is not None and many.flows is not None
    stocks = built.stocks
    values = many.stocks[-1][stocks.node_c : stocks.node_c + built.size.nodes]
    return dict(zip(built.node_names, values.tolist(), strict=True)), many.flows[-1]


def carried_w_per_k(built: BuiltVan, many: Many) -> float:
    """Air that goes from the living area to the cab, by what it carries over what the two differ by. [W/K]"""
    node_c, flow = last(built, many)
    names = [(built.node_names[a], built.node_names[b]) for a, b in built.duct_edges]
    at = built.flows.duct_j + names.index(("cab_air", "living_air"))
    return float(flow[at]) / SPAN_S / (node_c["cab_air"] - node_c["living_air"])


def test_a_narrow_way_back_lowers_the_engines_flow_and_its_fans_air_power_as_the_duct_table_says() -> None:
    """One fit of the fan serves both; the flow of 25 cm² is under two thirds of the free one."""
    free, narrow = build_van(DEMO).warm_air, build_van(with_heater(DEMO, return_cm2=RETURN_CM2)).warm_air
    zone_c = {zone.name: 20.0 for zone in DEMO.cabin.zones}
    table = ducts.answer(DEMO, zone_c=zone_c, return_cm2=RETURN_CM2).stages
    for s, stage in enumerate(table):
        assert narrow.total_m3_per_h[s] == pytest.approx(stage.flow_m3_per_h, rel=1e-9)
        assert narrow.fan_w[s] == pytest.approx(stage.fan_w, rel=1e-9)
        assert narrow.total_m3_per_h[s] < 0.67 * free.total_m3_per_h[s]
        assert narrow.fan_w[s] < free.fan_w[s]
    described = ducts.answer(with_heater(DEMO, return_cm2=RETURN_CM2), zone_c=zone_c)
    assert described.stages == table


def test_the_march_carries_the_flow_of_a_narrow_way_back() -> None:
    """W/K to the cab in the settled van, over the flow of the run: exact but for the band of ten days' settling."""
    van = with_heater(DEMO, return_cm2=RETURN_CM2, supply_limit_c=200.0)
    built, many = at_full(van)
    cab = next(k for k, run in enumerate(van.ducts) if run.zone == "cab")
    m3_per_h = build_van(van).warm_air.run_m3_per_h[-1, cab]
    assert carried_w_per_k(built, many) == pytest.approx(m3_per_h * 1.2 / 3600.0 * AIR_CP_J_PER_KG_K, rel=1e-4)


def test_thin_air_carries_less_by_its_pressure_and_the_fan_saves_that_part() -> None:
    """At 1,500 m the pressure is 0.835 of that at sea level (0.83 by the trade's tables). The burner here keeps its
    output, so that both runs stand at the same place on its stages."""
    van = with_heater(DEMO, altitude_compensated=True, supply_limit_c=200.0)
    low, high = at_full(van), at_full(van, 1500.0)
    ratio = pressure_at_altitude_pa(1500.0) / STANDARD_PRESSURE_PA
    assert ratio == pytest.approx(0.83, abs=0.006)
    assert carried_w_per_k(*high) / carried_w_per_k(*low) == pytest.approx(ratio, rel=1e-4)
    fans = [last(*run)[1][run[0].flows.fan_j] / SPAN_S for run in (low, high)]
    assert last(*high)[1][high[0].flows.gas_heat_air_j] == last(*low)[1][low[0].flows.gas_heat_air_j]
    fixed_w = 0.4 * van.heater.stages[-1].fan_w
    assert fans[1] - fixed_w == pytest.approx(ratio * (fans[0] - fixed_w), rel=1e-9)
    assert low[0].burner["air_ratio"][0] == 1.0  # the march works on a copy


def supply_c(built: BuiltVan, many: Many, total_w_per_k: float) -> float:
    node_c, flow = last(built, many)
    heat_w = (flow[built.flows.gas_heat_air_j] + flow[built.flows.fan_j]) / SPAN_S
    return float(node_c["living_air"] + heat_w / total_w_per_k)


@pytest.mark.parametrize("limit_c", [70.0, 60.0, 45.0])
def test_the_burner_drops_to_what_the_air_can_carry_within_the_guards_limit(limit_c: float) -> None:
    """One room without ducts, stages of 50 W and 4 kW both at 200 m³/h (67 W/K) with 30 W of fan: in the steady state
    heat + fan = 67 W/K × (limit - room). The guard looks each quarter: 0.1 K once all is settled."""
    van = bare_room()
    built, many = at_full(with_heater(van, supply_limit_c=limit_c))
    rate = 200.0 * 1.2 / 3600.0 * AIR_CP_J_PER_KG_K
    node_c, flow = last(built, many)
    assert supply_c(built, many, rate) == pytest.approx(limit_c, abs=0.1)
    # 80 W/K to -20 °C: the room's temperature by hand (rate (limit - T) = 80 (T + 20)); wind of 2 m/s alters 3 %.
    assert node_c["living_air"] == pytest.approx((rate * limit_c - 80.0 * 20.0) / (rate + 80.0), abs=1.0)
    assert flow[built.flows.supply_limited_s] == SPAN_S
    assert flow[built.flows.gas_heat_air_j] / SPAN_S < 4000.0


def test_a_guard_that_is_never_reached_alters_nothing_and_a_blocked_return_brings_the_room_less() -> None:
    free, high = at_full(DEMO), at_full(with_heater(DEMO, supply_limit_c=200.0))
    assert np.array_equal(last(*free)[1], last(*high)[1])
    blocked = at_full(with_heater(DEMO, return_cm2=8.0))
    assert last(*free)[1][free[0].flows.supply_limited_s] == 0.0
    assert last(*blocked)[1][blocked[0].flows.supply_limited_s] == SPAN_S
    assert last(*blocked)[0]["living_air"] < last(*free)[0]["living_air"] - 3.0


def test_the_guard_that_answers_ask_is_the_one_of_the_march() -> None:
    """A blocked way back, settled far below the setpoint: the last hour's heat is what the guard lets through at the
    temperature that came back then. The march looks each quarter, so 0.1 % is left."""
    built, many = at_full(with_heater(DEMO, return_cm2=8.0))
    node_c, flow = last(built, many)
    guard = Guard(built).carried_w(node_c["living_air"])
    assert flow[built.flows.gas_heat_air_j] / SPAN_S == pytest.approx(guard, rel=1e-3)
    assert guard < DEMO.heater.rated_w
    assert built.burner["air_ratio"][0] == 1.0  # asked on a copy
    # The room of 200 m³/h at 0.8 of the pressure, by hand: flow and the fan's air part fall, its fixed part stays.
    rate = 0.8 * 200.0 * 1.2 / 3600.0 * AIR_CP_J_PER_KG_K
    thin = Guard(build_van(with_heater(bare_room(), supply_limit_c=60.0)), 0.8).carried_w(20.0)
    assert thin == pytest.approx(rate * 40.0 - 30.0 * (0.4 + 0.8 * 0.6), rel=1e-9)


def test_a_run_keeps_less_of_its_heat_in_thin_air_in_the_engine_and_in_the_duct_table() -> None:
    """A run of 4 W/K under the floor, 200 m³/h: exp(-4 / (200 · 1.2 / 3600 · 1006 · ratio)) of the excess is left."""
    run = Duct(name="under", zone="living", length_m=3.0, runs_through="outdoors", loss_w_per_k=4.0)
    van = one_room(ducts=[run.model_dump()])
    for altitude_m in (0.0, 1500.0, 3000.0):
        ratio = pressure_at_altitude_pa(altitude_m) / STANDARD_PRESSURE_PA
        by_hand = np.exp(-4.0 / (200.0 * 1.2 / 3600.0 * AIR_CP_J_PER_KG_K * ratio))
        assert build_van(van, air_ratio=ratio).warm_air.heat_share[-1, 0] == pytest.approx(by_hand, rel=1e-6)
        stage = ducts.answer(van, zone_c={"living": 18.0}, outdoor_c=-12.0, altitude_m=altitude_m).stages[-1]
        assert stage.supply_c is not None
        assert (stage.outlets[0].supply_c + 12.0) / (stage.supply_c + 12.0) == pytest.approx(by_hand, rel=1e-6)


def test_starts_that_the_guard_makes_below_the_least_stage_are_said_not_to_be_counted() -> None:
    """83 m³/h carry 27.9 W/K at the least stage: at a limit of 30 °C a room of 19 °C gets 27.9 × 11 less 9 W of fan,
    300 W, under the least stage of 1 kW. With the usual limit of 90 °C the guard never acts."""
    held = simulate(with_heater(DEMO, supply_limit_c=30.0), short_tour(DEMO), folder=SAMPLES)
    free = simulate(DEMO, short_tour(DEMO), folder=SAMPLES)
    assert held.summary["heater"]["hours_guard_cycled"] > 10.0
    assert held.summary["heater"]["hours_guard_cycled"] <= held.summary["heater"]["hours_supply_limited"]
    assert any(notice.endswith("and the gas that each costs, are not counted.") for notice in held.notices)
    assert "in which the supply guard made it cycle" in dict(screen.heater(held.summary))["burner"]
    assert free.summary["heater"]["hours_guard_cycled"] == 0.0
    assert not any("not counted" in notice for notice in free.notices)
