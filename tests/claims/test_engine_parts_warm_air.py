"""The warm-air side solved once: runs, fan and return against the fan laws, Ohm-like sums and exponential losses."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from sample_vans import one_room, sample_vans

from budget.engine.warm_air import (
    OUTDOORS,
    RETURN_DENSITY_KG_PER_M3,
    SUPPLY_DENSITY_KG_PER_M3,
    all_open,
    fan_pa,
    fan_power_w,
    fan_scale,
    solve,
    warm_air,
)
from budget.physics.ducts import (
    COMPRESSED_FACTOR,
    CORRUGATED_ROUGHNESS_M,
    FAN_FIXED_SHARE,
    SMOOTH_ROUGHNESS_M,
    STRETCHED_FACTOR,
    duct_pressure_pa,
    return_pa_per_flow2,
    run_delivery_share,
)
from budget.physics.properties import AIR_CP_J_PER_KG_K
from budget.van.heater import Duct, Stage
from budget.van.model import Van

DEMO = sample_vans()["demo"]
STAGE = Stage(output_w=4000.0, air_m3_per_h=150.0, fan_w=50.0, fan_pressure_pa=200.0, fan_free_m3_per_h=400.0)


def run(**changes: Any) -> Duct:
    return DEMO.ducts[0].model_copy(
        update={"length_m": 2.0, "diameter_m": 0.065, "bends": 1, "hose": "smooth", "open_share": 1.0}
        | {"loss_w_per_k": 0.0}
        | changes
    )


HOSES = {
    "smooth": (SMOOTH_ROUGHNESS_M, STRETCHED_FACTOR),
    "corrugated": (CORRUGATED_ROUGHNESS_M, STRETCHED_FACTOR),
    "compressed": (CORRUGATED_ROUGHNESS_M, COMPRESSED_FACTOR),
}


@pytest.mark.parametrize("hose", HOSES)
@pytest.mark.parametrize(("scale", "return_cm2", "free"), [(1.0, None, 400.0), (0.8, 60.0, 400.0), (1.0, 60.0, None)])
def test_fan_return_and_runs_meet_at_one_pressure(
    hose: str, scale: float, return_cm2: float | None, free: float | None
) -> None:
    """Every run takes the plenum's pressure; the fan's parabola, by the fan laws, less the return gives the same. Where
    the fan's free flow is not told it is twice the rated one. 1e-9 is what the search promises tenfold."""
    stage = STAGE.model_copy(update={"fan_free_m3_per_h": free})
    runs = (run(hose=hose), run(hose=hose, length_m=4.0, diameter_m=0.09, open_share=0.5, bends=3))
    flows, pressure = solve(stage, runs, scale, return_cm2)
    rough_m, stretch = HOSES[hose]
    for flow, one in zip(flows, runs, strict=True):
        needed = duct_pressure_pa(
            float(flow), one.length_m, one.diameter_m, float(one.bends), rough_m, one.open_share,
            SUPPLY_DENSITY_KG_PER_M3, stretch,
        )  # fmt: skip
        assert needed == pytest.approx(pressure, rel=1e-9)
    total, free_flow = float(flows.sum()), scale * (free or 300.0)
    back = 0.0 if return_cm2 is None else return_pa_per_flow2(return_cm2, 1.2) * total**2
    assert scale**2 * 200.0 * (1.0 - (total / free_flow) ** 2) - back == pytest.approx(pressure, rel=1e-9)


def test_the_fan_turns_as_fast_as_its_rating_plate_asks_with_every_outlet_open() -> None:
    runs = (run(open_share=0.3), run(length_m=5.0))
    scale = fan_scale(STAGE, runs)
    assert solve(STAGE, all_open(runs), scale, None)[0].sum() == pytest.approx(150.0, rel=1e-9)
    assert abs(scale - 1.0) > 0.01
    assert [one.open_share for one in all_open(runs)] == [1.0, 1.0]


def test_the_fan_makes_the_plenums_and_the_returns_pressure() -> None:
    """25 cm² take 2.5 heads of 120 m³/h through them."""
    head = 0.5 * 1.2 * (120.0 / 3600.0 / 25e-4) ** 2
    assert fan_pa(120.0, 70.0, 25.0) == pytest.approx(70.0 + 2.5 * head, rel=1e-9)
    assert fan_pa(120.0, 70.0, None) == 70.0
    assert fan_pa(0.0, 70.0, 25.0) == 70.0


def test_fan_power_keeps_its_fixed_share_and_follows_the_air_power() -> None:
    """Half the flow at one and a half times the pressure: three quarters of the air's part."""
    plate = (np.array([100.0, 50.0]), 80.0)
    watts = fan_power_w(STAGE, plate, np.array([50.0, 25.0]), 120.0, None)
    assert watts == pytest.approx(50.0 * (FAN_FIXED_SHARE + (1.0 - FAN_FIXED_SHARE) * 0.75), rel=1e-12)
    pressed = fan_power_w(STAGE, plate, np.array([50.0, 25.0]), 120.0, 30.0)
    more = 0.75 * return_pa_per_flow2(30.0, 1.2) * 75.0**2 / 120.0
    assert pressed - watts == pytest.approx(50.0 * (1.0 - FAN_FIXED_SHARE) * more, rel=1e-9)


@pytest.mark.parametrize("shut", [False, True])
def test_without_an_open_outlet_the_heat_is_blown_where_the_sensor_is(shut: bool) -> None:
    van = DEMO.model_copy(update={"ducts": tuple(one.model_copy(update={"open_share": 0.0}) for one in DEMO.ducts)})
    van = van if shut else one_room()
    told = warm_air(van, 0)
    stages = van.heater.stages
    assert told.total_m3_per_h.tolist() == [stage.air_m3_per_h for stage in stages]
    assert told.fan_w.tolist() == [stage.fan_w for stage in stages]
    expected = np.zeros((len(stages), len(van.cabin.zones)))
    expected[:, van.cabin.zone_index(van.heater.sensor_zone)] = 1.0
    assert np.array_equal(told.heat_share, expected)
    assert (told.edges, told.run_m3_per_h.shape, told.flow_w_per_k.shape) == ((), (len(stages), 0), (len(stages), 0))
    assert not told.pressure_pa.any()


def ducted(*runs: Duct, **heater: Any) -> Van:
    return DEMO.model_copy(update={"ducts": runs, "heater": DEMO.heater.model_copy(update=heater)})


def test_each_run_gives_its_zone_what_its_loss_leaves_and_the_rest_to_where_it_runs() -> None:
    """Living area 0, cab 1, wet room 2. One run to the cab through the wet room and one through outdoors to the wet
    room, each with losses of its own; the living area's air goes out by the runs and comes back from where it went."""
    names = [zone.name for zone in DEMO.cabin.zones]
    assert names[:3] == ["living", "cab", "wet_room"]
    van = ducted(
        run(zone="cab", runs_through="wet_room", loss_w_per_k=4.0),
        run(zone="wet_room", runs_through="outdoors", loss_w_per_k=6.0, length_m=4.0),
        run(zone="living", runs_through="living", loss_w_per_k=2.0),
        return_cm2=80.0,
    )
    told = warm_air(van, 0)
    for s, stage in enumerate(van.heater.stages):
        scale = fan_scale(stage, van.ducts)
        flows, pressure = solve(stage, van.ducts, scale, 80.0)
        assert told.run_m3_per_h[s].tolist() == pytest.approx(flows.tolist(), rel=1e-9)
        assert told.pressure_pa[s] == pytest.approx(pressure, rel=1e-9)
        assert told.total_m3_per_h[s] == pytest.approx(flows.sum(), rel=1e-12)
        plate = solve(stage, all_open(van.ducts), scale, None)
        assert told.fan_w[s] == pytest.approx(fan_power_w(stage, plate, flows, pressure, 80.0), rel=1e-9)
        kg = flows * RETURN_DENSITY_KG_PER_M3 / 3600.0
        part = flows / flows.sum()
        kept = [run_delivery_share(loss, float(m)) for loss, m in zip((4.0, 6.0, 2.0), kg, strict=True)]
        assert kept[0] == pytest.approx(math.exp(-4.0 / (kg[0] * AIR_CP_J_PER_KG_K)), rel=1e-12)
        share = np.zeros(len(names))
        share[0], share[1] = part[2], part[0] * kept[0]
        share[2] = part[0] * (1.0 - kept[0]) + part[1] * kept[1]
        assert told.heat_share[s].tolist() == pytest.approx(share.tolist(), rel=1e-9)
        g = kg * AIR_CP_J_PER_KG_K
        flow = dict(zip(told.edges, told.flow_w_per_k[s].tolist(), strict=True))
        assert flow == pytest.approx(
            {(0, 1): g[0] * kept[0], (1, 0): g[0], (0, 2): g[0] * (1.0 - kept[0]) + g[1] * kept[1],
             (2, 1): g[0] * (1.0 - kept[0]), (2, 0): g[1], (OUTDOORS, 2): g[1] * (1.0 - kept[1])}, rel=1e-9,
        )  # fmt: skip
    assert told.edges == tuple(sorted(told.edges))
