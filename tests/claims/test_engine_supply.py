"""The supply air in the engine: a narrow way back, thin air, and the guard against hot supply air."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from sample_vans import bare_room, sample_vans

from budget.answers import ducts
from budget.answers.conditions import SETTLING_H, SPAN_S, Conditions, march, unlimited
from budget.engine.batch import Many
from budget.engine.van_arrays import BuiltVan, build_van
from budget.physics.properties import AIR_CP_J_PER_KG_K, STANDARD_PRESSURE_PA, pressure_at_altitude_pa
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
