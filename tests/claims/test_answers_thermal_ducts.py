"""The ducts' answer: first law, what closing does, and its agreement with the engine."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sample_vans import one_room, sample_vans

from budget.answers import duct_flow, ducts
from budget.answers.conditions import LARGE_W, Conditions, Guard, march, unlimited, with_output
from budget.engine.van_arrays import build_van
from budget.engine.warm_air import solve
from budget.errors import InputFault
from budget.rounding import least
from budget.van.heater import Duct
from budget.van.model import Van

VANS = {name: van for name, van in sample_vans().items() if van.ducts}
ZONES_C = {"living": 20.0, "cab": 9.0, "wet_room": 24.0, "garage": 13.0}
ALIKE = 1e-9  # floating-point noise of sums of a few kilowatts


def zones_c(van: Van) -> dict[str, float]:
    return {zone.name: ZONES_C[zone.name] for zone in van.cabin.zones}


def one_run(**run: Any) -> Van:
    parts = {"name": "run", "zone": "living", "length_m": 2.0, "bends": 1, "loss_w_per_k": 0.0} | run
    return one_room(ducts=[parts])


@pytest.mark.parametrize("name", VANS)
def test_first_law_outlets_and_runs_give_what_burner_fan_and_return_air_bring(name: str) -> None:
    """Steady flow: heat over each zone's own air = burner + fan + (return air over the zones' air), stage by stage."""
    van = VANS[name]
    for stage in ducts.answer(van, zone_c=zones_c(van), outdoor_c=-10.0).stages:
        given_w = sum(outlet.heat_w + outlet.loss_w for outlet in stage.outlets)
        assert given_w == pytest.approx(stage.output_w + stage.fan_w + stage.return_air_w, rel=ALIKE)
        assert sum(stage.share_by_zone.values()) == pytest.approx(1.0, rel=ALIKE)


def test_a_run_under_the_floor_loses_to_outdoors_and_the_first_law_holds() -> None:
    run = Duct(name="under", zone="living", length_m=3.0, runs_through="outdoors", loss_w_per_k=4.0)
    van = one_room(ducts=[run.model_dump()])
    stage = ducts.answer(van, zone_c={"living": 18.0}, outdoor_c=-12.0).stages[-1]
    outlet = stage.outlets[0]
    assert stage.share_by_zone["outdoors"] > 0.0
    assert outlet.heat_w + outlet.loss_w == pytest.approx(stage.output_w + stage.fan_w, rel=ALIKE)
    # By hand: 200 m³/h of 1.2 kg/m³ carry 67.07 W/K; exp(-4 / 67.07) of the excess over outdoors is left.
    kept = math.exp(-4.0 / (200.0 * 1.2 / 3600.0 * 1006.0))
    assert outlet.supply_c == pytest.approx(-12.0 + kept * (stage.supply_c + 12.0), rel=1e-6)  # type: ignore[operator]


def test_supply_temperature_of_one_lossless_run_by_hand() -> None:
    """200 m³/h take 4030 W: 20 + 4030 / (200 · 1.2 / 3600 · 1006) = 80.1 °C."""
    stage = ducts.answer(one_run(), zone_c={"living": 20.0}).stages[-1]
    assert stage.flow_m3_per_h == pytest.approx(200.0, rel=1e-9)  # open: the rating plate's
    assert stage.supply_c == pytest.approx(20.0 + 4030.0 / 67.0667, abs=0.01)  # digits of 67.0667
    outlet = stage.outlets[0]
    warmer = (80.09 + 273.15) / 293.15  # of the volume counted at 20 °C, at the same mass
    assert stage.warm_m3_per_h == pytest.approx(200.0 * warmer, rel=1e-4)
    assert outlet.velocity_m_per_s == pytest.approx(warmer * 200.0 / 3600.0 / (math.pi * 0.0325**2), rel=1e-4)


@pytest.mark.parametrize("name", VANS)
def test_closing_or_throttling_an_outlet_never_raises_the_total_flow(name: str) -> None:
    van = VANS[name]
    found = ducts.answer(van, zone_c=zones_c(van))
    whole = found.stages[-1].flow_m3_per_h
    assert len(found.balancing) > len(van.ducts)
    for change in found.balancing:
        assert change.flow_m3_per_h < whole


RUNS = st.builds(
    Duct,
    name=st.just("run"),
    zone=st.just("living"),
    length_m=st.floats(0.3, 8.0),
    diameter_m=st.sampled_from([0.05, 0.065, 0.075, 0.1]),
    bends=st.integers(0, 6),
    hose=st.sampled_from(["smooth", "corrugated", "compressed"]),
    open_share=st.floats(0.05, 1.0),
)


@settings(max_examples=40, deadline=None)
@given(runs=st.lists(RUNS, min_size=2, max_size=6), closed=st.integers(0, 5))
def test_in_any_network_a_closed_outlet_lowers_the_total_and_never_another_outlet(
    runs: list[Duct], closed: int
) -> None:
    """The others see the higher plenum pressure that the fan makes at less flow."""
    stage = one_room().heater.stages[0]
    k = closed % len(runs)
    fewer = [run.model_copy(update={"open_share": 0.0}) if n == k else run for n, run in enumerate(runs)]
    before, _ = solve(stage, tuple(runs), 1.0, None)
    after, _ = solve(stage, tuple(fewer), 1.0, None)
    noise = 1e-8 * before.sum()  # the network is solved to 1e-10 of its flow
    assert after.sum() <= before.sum() + noise
    assert all(after[n] >= before[n] - noise for n in range(len(runs)) if n != k)


def test_a_narrower_return_path_moves_less_air_and_a_blocked_one_none() -> None:
    path = ducts.answer(VANS["demo"], zone_c=zones_c(VANS["demo"])).return_path
    flows = [change.flow_m3_per_h for change in path]
    assert flows == sorted(flows, reverse=True)
    assert flows[0] > flows[1]
    assert (path[-1].what, path[-1].flow_m3_per_h, path[-1].supply_c) == ("return path blocked", 0.0, None)
    assert not path[-1].within_limit


def test_the_fan_draws_the_plates_power_with_every_outlet_open_and_its_fixed_part_against_a_blocked_return() -> None:
    found = ducts.answer(one_run(), zone_c={"living": 20.0})
    assert found.stages[-1].fan_w == pytest.approx(30.0, rel=1e-6)  # the plate's; flow is found to 1e-10
    assert found.return_path[-1].fan_w == pytest.approx(0.4 * 30.0, rel=1e-9)


@pytest.mark.parametrize("name", VANS)
def test_flows_are_the_engines(name: str) -> None:
    """One fit of the fan serves both; rounding alone parts them."""
    van = VANS[name]
    engine = build_van(van).warm_air.run_m3_per_h
    for stage, flows in zip(ducts.answer(van, zone_c=zones_c(van)).stages, engine, strict=True):
        for outlet, flow in zip(stage.outlets, flows, strict=True):
            assert outlet.flow_m3_per_h == pytest.approx(flow, rel=1e-9)


def test_heat_by_zone_is_what_the_engine_gives_in_the_same_state() -> None:
    """Engine: heater and fan heat put into a zone and air carried in by the one-way edges, over its last hour."""
    van = VANS["demo"]
    large = build_van(with_output(unlimited(van), LARGE_W))
    many = march(large, Conditions(outdoor_c=-10.0), 240, set_c=20.0, start_c=20.0)
    assert many.flows is not None and many.stocks is not None
    flow, at = many.flows[-1], large.flows
    nodes = [flow[at.heater_j + n] + flow[at.fan_heat_j + n] for n in range(large.size.nodes)]
    into = dict.fromkeys(large.zone_names, 0.0)
    for k, (_, to) in enumerate(large.duct_edges):
        into[large.node_names[to].removesuffix("_air")] += flow[at.duct_j + k] / 3600.0
    for zone in into:
        into[zone] += nodes[large.node_names.index(f"{zone}_air")] / 3600.0
    zone_c = {
        zone: float(many.stocks[-1][large.stocks.node_c + large.node_names.index(f"{zone}_air")])
        for zone in large.zone_names
    }
    output_w = float(flow[at.gas_heat_air_j]) / 3600.0
    top = van.heater.stages[-1].model_copy(update={"output_w": output_w})
    here = {**zone_c, "outdoors": -10.0}
    stage = duct_flow.stage_flow(van, top, here, van.ducts, None)
    for zone in ("cab", "wet_room", "garage"):
        watts = sum(outlet.heat_w for outlet in stage.outlets if outlet.zone == zone)
        assert watts == pytest.approx(into[zone], rel=0.03)  # the two fits of the fan, as above


def test_a_starved_outlet_and_a_hot_supply_are_named() -> None:
    van = VANS["demo"]
    long = {"length_m": 14.0, "hose": "compressed", "open_share": 1.0}
    far = [run.model_copy(update=long) if run.name == "cab" else run for run in van.ducts]
    hot = van.heater.model_copy(update={"supply_limit_c": 50.0})
    warned = ducts.answer(van.model_copy(update={"ducts": tuple(far), "heater": hot}), zone_c=zones_c(van)).warnings
    assert any(sentence.startswith("Outlet cab starves: ") for sentence in warned)
    assert any("over the guard's 50 °C" in sentence for sentence in warned)
    assert all("will be heard" in sentence for sentence in ducts.answer(van, zone_c=zones_c(van)).warnings)


def test_a_van_without_ducts_is_refused_with_what_to_do() -> None:
    with pytest.raises(InputFault) as fault:
        ducts.answer(one_room())
    assert str(fault.value) == (
        "the van must have warm-air ducts for this question, got none: all warm air goes into living; "
        "describe them in van.ducts."
    )


def test_at_1500_m_the_same_volume_carries_less_and_the_first_law_holds() -> None:
    """Air pressure 0.8345 of that at sea level: flow as below, mass, pressures and rated output by that share, and a
    compensated burner's supply hotter by its inverse, but for the fan's saving of some watts (1 %)."""
    van = VANS["demo"]
    low, high = (ducts.answer(van, zone_c=zones_c(van), altitude_m=metres).stages for metres in (0.0, 1500.0))
    for below, above in zip(low, high, strict=True):
        assert above.flow_m3_per_h == below.flow_m3_per_h
        assert above.pressure_pa == pytest.approx(0.8345 * below.pressure_pa, rel=1e-4)
        assert below.fan_w > above.fan_w > 0.8345 * below.fan_w
        given_w = sum(outlet.heat_w + outlet.loss_w for outlet in above.outlets)
        assert given_w == pytest.approx(above.output_w + above.fan_w + above.return_air_w, rel=ALIKE)
    assert high[-1].output_w == pytest.approx(0.8345 * 4000.0, rel=1e-4)
    assert [stage.output_w for stage in high[:-1]] == [1000.0, 2000.0]
    held = van.model_copy(update={"heater": van.heater.model_copy(update={"altitude_compensated": True})})
    hot = ducts.answer(held, zone_c=zones_c(van), altitude_m=1500.0).stages[-1]
    assert hot.supply_c is not None and low[-1].supply_c is not None
    assert hot.supply_c - 20.0 == pytest.approx((low[-1].supply_c - 20.0) / 0.8345, rel=0.01)


def test_what_the_guard_leaves_with_an_outlet_closed_is_a_sentence() -> None:
    """With the front outlet closed full output of the demo's heater would pass 90 °C; the engine's guard of that van
    says what is left. Every other change leaves the whole output."""
    van = VANS["demo"]
    found = ducts.answer(van, zone_c=zones_c(van))
    over = [change for change in found.balancing if not change.within_limit]
    assert [change.what for change in over] == ["living front closed"]
    runs = tuple(r.model_copy(update={"open_share": 0.0}) if r.name == "living front" else r for r in van.ducts)
    left_w = Guard(build_van(van.model_copy(update={"ducts": runs}))).carried_w(ZONES_C["living"])
    assert over[0].most_heat_w == pytest.approx(left_w, rel=1e-9)
    assert 0.0 < left_w < van.heater.rated_w
    assert {change.most_heat_w for change in found.balancing if change.within_limit} == {van.heater.rated_w}
    assert (
        f"Full output would heat the supply air over its limit of 90 °C with living front closed (the guard then "
        f"leaves {least(left_w)} W)." in found.sentences
    )
    assert found.return_path[-1].most_heat_w == 0.0


def test_a_limit_that_full_output_passes_as_described_is_said_once_and_not_for_every_change() -> None:
    van = VANS["demo"]
    van = van.model_copy(update={"heater": van.heater.model_copy(update={"supply_limit_c": 70.0})})
    found = ducts.answer(van, zone_c=zones_c(van))
    left_w = Guard(build_van(van)).carried_w(ZONES_C["living"])
    assert 0.0 < left_w < van.heater.rated_w
    assert found.sentences[1] == (
        f"That is over the limit of 70 °C: the guard on the supply air leaves {least(left_w)} W."
    )
    assert sum("limit" in sentence for sentence in found.sentences) == 1
