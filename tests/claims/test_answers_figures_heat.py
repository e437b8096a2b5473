"""Heat in figures: steady conditions, heater size, ducts, the stopped heater and one cold hour, by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from pathlib import Path
from types import SimpleNamespace as Found
from typing import Any

import numpy as np
import pytest
from sample_tours import short_tour
from sample_vans import STANDARD_WIND_M_PER_S, bare_room, sample_vans
from small_tour import steady

from budget.answers import conditions, ducts, enough_charge, heater_size, heater_size_words, outage, warm_up
from budget.answers.conditions import (
    LARGE_W,
    Conditions,
    Guard,
    air_ratio,
    hold,
    no_draws,
    unlimited,
    with_output,
)
from budget.answers.cooling import TwoNodes
from budget.answers.detail import Detail
from budget.answers.duct_flow import Outlet, StageFlow, _shares
from budget.answers.enough import Plan
from budget.answers.offtake import offtake
from budget.answers.prepared import Prepared
from budget.engine import arrays as A
from budget.engine.van_arrays import build_van
from budget.errors import InputFault
from budget.physics import bottle as of_bottle
from budget.physics.burner import output_at_density
from budget.physics.properties import (
    STANDARD_PRESSURE_PA,
    humidity_ratio,
    pressure_at_altitude_pa,
    saturation_pressure_pa,
)
from budget.van.derived import loss_w_per_k
from budget.van.gas import Bottle

ALIKE = 1e-9  # sums in another order
VANS = sample_vans()
SAMPLES = Path(__file__).parents[2] / "weather_samples"
ROOM = bare_room()
PROPANE = Bottle(name="11 kg")
MIXTURE = Bottle(name="mixture", propane_share=0.6)


@cache
def crowded(name: str = "demo") -> Detail:
    van = VANS[name]
    return Detail.of(Prepared.of(van, short_tour(van), folder=SAMPLES))


# Steady conditions


def test_steady_weather_is_the_same_hour_after_hour() -> None:
    state = Conditions(outdoor_c=-12.0, wind_m_per_s=3.5, altitude_m=1500.0, screens_share=0.25, closed_share=0.5)
    rows = state.rows(5)
    pressure = pressure_at_altitude_pa(1500.0)
    wanted = np.zeros(A.WEATHER_COLUMNS)
    wanted[[A.TEMP_C, A.WIND_M_PER_S, A.PRESSURE_PA]] = -12.0, 3.5, pressure
    wanted[A.HUMIDITY_RATIO] = humidity_ratio(0.85 * saturation_pressure_pa(-12.0), pressure)
    assert rows == pytest.approx(np.tile(wanted, (5, 1)), rel=1e-12)
    assert air_ratio(1500.0) == pytest.approx(pressure / 101_325.0)
    built = build_van(VANS["demo"])
    hours = state.hours(built, 5, set_c=19.0, start_c=7.0, hookup_w=900.0, fuel=1)
    openings = len(built.van.cabin.openings)
    assert len(hours) == 5 and set(hours["set_c"].flat) == {19.0}
    assert np.isnan(hours["water_set_c"]).all()
    for name, value in (
        ("heater_allowed", 1),
        ("gas_open", 1),
        ("people_zone", -1),
        ("screens", 0.25),
        ("refill_c", conditions.REFILL_C),
        ("start_c", 7.0),
        ("hookup_w", 900.0),
        ("fuel", 1),
    ):
        assert set(np.unique(hours[name])) == {value}, name
    assert set(hours["closed"][:, :openings].flat) == {0.5}
    assert not hours["closed"][:, openings:].any()
    assert len(no_draws()) == 0


def test_a_van_without_limits_has_gas_and_charge_without_end_and_nothing_that_uses_them_but_the_heater() -> None:
    van = VANS["heavy"]
    made = unlimited(van)
    assert len(made.gas.bottles) == 8
    bottle = made.gas.bottles[0]
    assert (bottle.net_kg, bottle.tare_kg, bottle.diameter_m, bottle.propane_share) == (100.0, 150.0, 1.0, 1.0)
    gas = made.gas
    assert (gas.changeover, gas.regulator_need_bar, gas.regulator_kg_per_h, gas.locker_zone) == (
        "parallel", 0.0, 20.0, "outdoors",
    )  # fmt: skip
    battery = made.power.battery
    assert (battery.chemistry, battery.capacity_ah, battery.start_share, battery.cut_out_share) == (
        "agm",
        1e6,
        1.0,
        0.0,
    )
    assert battery.peukert_factor == 1.0
    assert battery.heat_capacity_j_per_k == van.power.battery.heat_capacity_j_per_k
    assert (made.power.loads, made.fridge, made.water.drain_valve, made.water.fresh.start_l) == ((), None, None, 0.0)
    assert (made.power.solar, made.water.boiler, made.cabin, made.heater) == (
        van.power.solar, van.water.boiler, van.cabin, van.heater,
    )  # fmt: skip


def test_a_heater_of_any_output_has_the_air_and_fan_of_the_fitted_one_there() -> None:
    van = VANS["staged"]
    stages = van.heater.stages
    between = 0.5 * (stages[0].output_w + stages[1].output_w)
    for at_w, air, fan in (
        (None, stages[-1].air_m3_per_h, stages[-1].fan_w),
        (between, 0.5 * (stages[0].air_m3_per_h + stages[1].air_m3_per_h), 0.5 * (stages[0].fan_w + stages[1].fan_w)),
    ):
        heater = with_output(van, 9000.0, at_w=at_w).heater
        assert [stage.output_w for stage in heater.stages] == [1.0, 9000.0]
        for stage in heater.stages:
            assert (stage.air_m3_per_h, stage.fan_w) == pytest.approx((air, fan))
            assert stage.efficiency_share == stages[-1].efficiency_share
            assert stage.fan_free_m3_per_h is None
        assert (heater.band_k, heater.start_loss_kj, heater.min_on_s, heater.min_off_s) == (0.01, 0.0, 0.0, 0.0)
        assert (heater.control, heater.altitude_compensated, heater.supply_limit_c) == ("modulating", True, math.inf)


def test_the_guard_carries_what_heats_its_air_to_the_limit_less_the_fan() -> None:
    """200 m³/h of 1.2 kg/m³ at 1006 J/kgK are 67.07 W/K; in thin air as much less, and the fan's air part with it."""
    room = ROOM.model_copy(update={"heater": ROOM.heater.model_copy(update={"supply_limit_c": 60.0})})
    rate = 200.0 * 1.2 / 3600.0 * 1006.0
    for back_c in (0.0, 20.0):
        assert Guard(build_van(room)).carried_w(back_c) == pytest.approx(rate * (60.0 - back_c) - 30.0, rel=2e-3)
    thin = Guard(build_van(room), 0.8).carried_w(20.0)
    assert thin == pytest.approx(0.8 * rate * 40.0 - (12.0 + 0.8 * 18.0), rel=2e-3)


# Heater size


def test_the_cases_are_screens_and_openings_and_thin_air() -> None:
    """Each is the engine's own steady state of that name; the standard's warm-up is in still air from -15 to 20 °C."""
    van = VANS["tiny_bare"]
    found = heater_size.answer(van, design_c=-10.0, inside_c=18.0, wind_m_per_s=3.0, altitude_m=1000.0)
    states = {
        "screens up, openings closed": Conditions(outdoor_c=-10.0, wind_m_per_s=3.0),
        "screens down, openings closed": Conditions(outdoor_c=-10.0, wind_m_per_s=3.0, screens_share=0.0),
        "screens up, openings open": Conditions(outdoor_c=-10.0, wind_m_per_s=3.0, closed_share=0.0),
        "screens down, openings open": Conditions(
            outdoor_c=-10.0, wind_m_per_s=3.0, screens_share=0.0, closed_share=0.0
        ),
        "screens up, openings closed, 1000 m": Conditions(outdoor_c=-10.0, wind_m_per_s=3.0, altitude_m=1000.0),
    }
    assert [case.name for case in found.cases] == list(states)
    assert (found.design_c, found.inside_c, found.wind_m_per_s, found.rated_w) == (-10.0, 18.0, 3.0, van.heater.rated_w)
    for case, state in zip(found.cases, states.values(), strict=True):
        ratio = air_ratio(state.altitude_m)
        large = build_van(with_output(unlimited(van), LARGE_W), air_ratio=ratio)
        settled = hold(large, state, 18.0)
        rated = output_at_density(van.heater.rated_w, ratio, van.heater.altitude_compensated)
        guard = Guard(build_van(van), ratio).carried_w(settled.zone_c["living"])
        assert case.needed_w == pytest.approx(settled.heat_w, rel=ALIKE)
        assert case.available_w == pytest.approx(min(rated, guard), rel=ALIKE)
        assert case.guarded == (guard < rated)
        assert case.left_w == pytest.approx(case.available_w - case.needed_w, rel=ALIKE)
        assert case.zone_c == settled.zone_c
        assert case.losses == tuple(heater_size.losses(large, settled))
        assert case.altitude_m == state.altitude_m
        assert (case.warm_air_h, case.warm_fabric_h) == warm_up.warm_up(van, state, 18.0, 24.0)
    still = Conditions(outdoor_c=-15.0, wind_m_per_s=0.0)
    assert found.standard_h == warm_up.warm_up(van, still, 20.0, 24.0)[0]
    high_up = replace(still, altitude_m=1000.0)
    assert found.standard_at_altitude_h == warm_up.warm_up(van, high_up, 20.0, 24.0)[0]
    assert found.gas == heater_size.gas_at(van, -10.0, found.cases[0].zone_c)
    assert len(found.sentences) >= 8
    warm = heater_size.answer(VANS["heavy"], design_c=-5.0, altitude_m=0.0)
    assert warm.standard_h == warm_up.warm_up(VANS["heavy"], still, 20.0, 24.0)[0]
    assert warm.standard_h is not None


@pytest.mark.parametrize(
    ("design_c", "inside_c", "fits"),
    [(-38.0, 20.0, True), (-38.1, 20.0, False), (20.0, 20.0, False), (19.0, 20.0, True), (0.0, 30.1, False)],
)
def test_a_design_temperature_has_its_limits(design_c: float, inside_c: float, fits: bool) -> None:
    van = VANS["one_room"]
    if fits:
        assert heater_size.answer(van, design_c=design_c, inside_c=inside_c).design_c == design_c
        return
    with pytest.raises(InputFault, match=r"^the design temperature must lie from -38 °C up to below the room's, "):
        heater_size.answer(van, design_c=design_c, inside_c=inside_c)


def test_losses_are_told_zone_by_zone_the_lining_shared_out_by_area_and_u() -> None:
    """What leaves through the lining goes to the opaque elements by their W/K; glass and air as they are."""
    van = VANS["demo"]
    large = build_van(with_output(unlimited(van), LARGE_W))
    settled = hold(large, Conditions(outdoor_c=-15.0), 20.0)
    found = heater_size.losses(large, settled)
    for z, zone in enumerate(van.cabin.zones):
        mine = [(edge, watts) for edge, watts in zip(large.edges, settled.edge_w, strict=True) if edge.zone == z]
        by_kind = {
            kind: [(e, w) for e, w in mine if e.kind == kind] for kind in (A.OPAQUE, A.LINING, A.GLAZING, A.VENT)
        }
        told = {loss.element: loss.loss_w for loss in found if loss.zone == zone.name}
        lining = sum(watts for _, watts in by_kind[A.LINING])
        parts = [edge.area_m2 * edge.u * edge.pull_share for edge, _ in by_kind[A.OPAQUE]]
        for (edge, watts), part in zip(by_kind[A.OPAQUE], parts, strict=True):
            assert told[edge.name.removeprefix(f"{zone.name} ")] == pytest.approx(watts + lining * part / sum(parts))
        for edge, watts in (*by_kind[A.GLAZING], *by_kind[A.VENT]):
            assert told[edge.name.removeprefix(f"{zone.name} ")] == pytest.approx(watts)
        assert len(told) == sum(len(by_kind[kind]) for kind in (A.OPAQUE, A.GLAZING, A.VENT))
    assert [(loss.zone, loss.element) for loss in found[-2:]] == [
        ("outdoors", "tanks, pipes and battery"), ("outdoors", "warm-air runs"),
    ]  # fmt: skip
    assert [loss.loss_w for loss in found[-2:]] == [settled.parts_w, settled.duct_loss_w]


def test_the_lowest_held_is_bisected_to_a_twentieth_and_nothing_below_38_is_looked_at() -> None:
    room = build_van(with_output(unlimited(ROOM), LARGE_W))
    state = Conditions(outdoor_c=0.0, wind_m_per_s=STANDARD_WIND_M_PER_S)
    needed = hold(room, replace(state, outdoor_c=-38.0), 20.0).heat_w
    assert heater_size.lowest_held_c(room, state, 20.0, needed * 1.001) is None
    at_the_end = heater_size.lowest_held_c(room, state, 20.0, needed * 0.999)
    assert at_the_end is not None
    assert -38.0 < at_the_end < -37.8
    asked: list[float] = []
    found = heater_size.lowest_held_c(room, state, 20.0, lambda steady: asked.append(steady.heat_w) or 1970.0)  # type: ignore[func-returns-value]
    assert found == pytest.approx(-5.0, abs=0.06)  # 2000 W of burner and fan over 80 W/K
    assert len(asked) > 5


def test_the_first_bottle_stands_full_in_its_locker() -> None:
    van = VANS["butane"]
    gas, bottle = van.gas, van.gas.bottles[0]
    zone_c = {zone.name: 3.0 for zone in van.cabin.zones}
    locker_c = -15.0 + gas.locker_warmer_share * 18.0
    top = van.heater.stages[-1]
    kwh = bottle.propane_share * 12.872 + (1.0 - bottle.propane_share) * 12.69
    found = heater_size.gas_at(van, -15.0, zone_c)
    assert found.full_fire_kg_per_h == pytest.approx(top.output_w / 1000.0 / top.efficiency_share / kwh, rel=2e-3)
    by_hand = offtake(
        bottle, propane_kg=bottle.net_kg * bottle.propane_share, butane_kg=bottle.net_kg * (1.0 - bottle.propane_share),
        bottle_c=locker_c, locker_c=locker_c, pressure_pa=STANDARD_PRESSURE_PA, need_bar=gas.regulator_need_bar,
        through_kg_per_h=gas.regulator_kg_per_h, demand_kg_per_h=found.full_fire_kg_per_h,
    )  # fmt: skip
    assert found == by_hand
    assert heater_size.gas_at(van, -15.0, {}).lasting_kg_per_h < found.lasting_kg_per_h  # as cold as outdoors


def gas_told(hours: float | None, *, empty: bool = True) -> list[str]:
    flow: Any = Found(full_fire_kg_per_h=0.357, full_fire_h=hours, ends_empty=empty, stays_behind_kg=2.46,
                      lasting_kg_per_h=0.212)  # fmt: skip
    return heater_size_words.gas_sentence(flow, -15.0).split(" at -15 °C ")


def test_the_bottle_is_told_by_how_long_it_feeds_full_fire() -> None:
    begin = "Full fire asks 0.36 kg/h; a full first bottle in its locker"
    assert [gas_told(hours)[0] for hours in (None, 0.0, 0.1)] == [begin] * 3
    assert "two days" in gas_told(None)[1]
    assert "not give it at all" in gas_told(0.0)[1]
    assert "for 0 h, empty then" in gas_told(0.1)[1]
    assert "for 8 h, then too cold, with 2.5 kg left behind" in gas_told(7.6, empty=False)[1]
    assert "0.21 kg/h" in gas_told(7.6)[1]


def test_a_slowed_van_stores_twelve_times_as_much_and_a_crossing_lies_on_the_line() -> None:
    van = VANS["demo"]
    slow = warm_up._slowed(van)
    for before, after in zip(van.cabin.zones, slow.cabin.zones, strict=True):
        assert after.air_capacity_j_per_k == 12.0 * before.air_capacity_j_per_k
        assert after.fabric_capacity_j_per_k == 12.0 * before.fabric_capacity_j_per_k
    assert slow.power.battery.heat_capacity_j_per_k == 12.0 * van.power.battery.heat_capacity_j_per_k
    rising = np.array([0.0, 2.0, 6.0, 6.5])
    assert warm_up._first_above(rising, 5.0) == pytest.approx(1.75 / 12.0)
    assert warm_up._first_above(rising, 2.0) == pytest.approx(1.0 / 12.0)
    assert warm_up._first_above(rising, 0.0) == 0.0
    assert warm_up._first_above(rising, 6.6) is None


# Off-take


@pytest.mark.parametrize("bottle", [PROPANE, MIXTURE], ids=["propane", "mixture"])
@pytest.mark.parametrize(("kg", "cold_c"), [(11.0, -15.0), (3.0, -5.0), (1.0, 5.0)])
def test_full_fire_is_marched_in_five_minute_steps(bottle: Bottle, kg: float, cold_c: float) -> None:
    """Each step draws its gas at its latent heat from a bottle that its wall warms, while the step can give it."""
    demand, need_pa = 0.357, 101_325.0 + 0.4e5
    propane, butane = kg * bottle.propane_share, kg * (1.0 - bottle.propane_share)
    found = offtake(
        bottle, propane_kg=propane, butane_kg=butane, bottle_c=cold_c, locker_c=cold_c + 2.0, pressure_pa=101_325.0,
        need_bar=0.4, demand_kg_per_h=demand,
    )  # fmt: skip

    def coupling(liquid: float) -> float:
        return of_bottle.wetted_coupling_w_per_k(
            min(1.0, liquid / bottle.net_kg), bottle.diameter_m, bottle.net_kg, of_bottle.WALL_FILM_W_PER_M2K
        )

    def gives(p: float, b: float, temp_c: float, span_s: float) -> float:
        if p + b <= 0.03:
            return 0.0
        limit_c = of_bottle.temperature_at_pressure_c(need_pa, p, b)
        return of_bottle.deliverable_kg(
            span_s, p + b - 0.03, temp_c, limit_c, of_bottle.bottle_capacity_j_per_k(bottle.tare_kg, p, b, temp_c),
            coupling(p + b), cold_c + 2.0, of_bottle.vapour_latent_heat_j_per_kg(temp_c, p, b),
        )  # fmt: skip

    limit_c = of_bottle.temperature_at_pressure_c(need_pa, propane, butane)
    assert found.limit_c == limit_c
    assert found.limit_kg_per_h == pytest.approx(gives(propane, butane, cold_c, 900.0) / 0.25)
    lasting = (
        coupling(kg)
        * (cold_c + 2.0 - limit_c)
        * 3600.0
        / of_bottle.vapour_latent_heat_j_per_kg(limit_c, propane, butane)
    )
    assert found.lasting_kg_per_h == pytest.approx(lasting)
    steps, temp_c, drawn = 0, cold_c, demand / 12.0
    while steps < 576 and gives(propane, butane, temp_c, 300.0) >= 0.999 * drawn:
        latent = of_bottle.vapour_latent_heat_j_per_kg(temp_c, propane, butane)
        temp_c = of_bottle.bottle_end_c(
            300.0, temp_c, of_bottle.bottle_capacity_j_per_k(bottle.tare_kg, propane, butane, temp_c),
            coupling(propane + butane), cold_c + 2.0, drawn * latent / 300.0,
        )  # fmt: skip
        propane, butane = of_bottle.withdraw(temp_c, propane, butane, drawn)
        steps += 1
    assert found.full_fire_h == pytest.approx(steps / 12.0)
    assert found.stays_behind_kg == pytest.approx(propane + butane)
    assert found.ends_empty == (propane + butane <= 0.03 + drawn)
    assert found.full_fire_kg_per_h == demand


def test_a_small_demand_is_fed_for_two_days_and_an_empty_bottle_gives_nothing() -> None:
    given: dict[str, Any] = {"bottle_c": 10.0, "locker_c": 10.0, "pressure_pa": 101_325.0, "need_bar": 0.4}
    long = offtake(PROPANE, propane_kg=11.0, butane_kg=0.0, demand_kg_per_h=0.1, **given)
    assert (long.full_fire_h, long.ends_empty) == (None, False)
    assert long.stays_behind_kg == pytest.approx(11.0 - 4.8)
    empty = offtake(PROPANE, propane_kg=0.02, butane_kg=0.01, demand_kg_per_h=0.1, **given)
    assert (empty.limit_kg_per_h, empty.lasting_kg_per_h, empty.full_fire_h, empty.limit_c) == (0.0, 0.0, 0.0, 10.0)
    assert empty.ends_empty
    through = offtake(PROPANE, propane_kg=11.0, butane_kg=0.0, demand_kg_per_h=0.5, through_kg_per_h=0.5, **given)
    assert (through.limit_kg_per_h, through.lasting_kg_per_h) == (0.5, 0.5)
    assert through.full_fire_h != 0.0


# Ducts


def zones(van: Any, **temps: float) -> dict[str, float]:
    return {zone.name: temps.get(zone.name, 12.0) for zone in van.cabin.zones}


def test_ducts_without_temperatures_are_those_of_the_settled_van() -> None:
    van = VANS["demo"]
    found = ducts.answer(van, outdoor_c=-12.0, inside_c=19.0, altitude_m=800.0)
    large = build_van(with_output(unlimited(van), LARGE_W), air_ratio=air_ratio(800.0))
    settled = hold(large, Conditions(outdoor_c=-12.0, altitude_m=800.0), 19.0)
    assert found.zone_c == settled.zone_c
    assert (found.outdoor_c, found.altitude_m, found.supply_limit_c) == (-12.0, 800.0, van.heater.supply_limit_c)
    again = ducts.answer(van, zone_c=settled.zone_c, outdoor_c=-12.0, altitude_m=800.0)
    assert again == found
    with pytest.raises(InputFault) as fault:
        ducts.answer(van, zone_c={"living": 20.0, "garage": 5.0})
    missing = ", ".join(zone.name for zone in van.cabin.zones if zone.name not in ("living", "garage"))
    assert str(fault.value) == f"the temperatures must name every zone, got none for {missing}; add them."
    assert ", " in missing


def test_every_open_outlet_is_closed_and_halved_once_and_the_last_open_one_is_not_closed() -> None:
    van = VANS["demo"]
    names = [run.name for run in van.ducts]
    half = tuple(
        run.model_copy(update={"open_share": {0: 0.6, 1: 0.0}.get(k, run.open_share)})
        for k, run in enumerate(van.ducts)
    )
    found = ducts.answer(van.model_copy(update={"ducts": half}), zone_c=zones(van, living=20.0))
    assert [change.what for change in found.balancing] == [
        f"{name} {word}" for k, name in enumerate(names) if k != 1 for word in ("closed", "half as open")
    ]
    for change in found.balancing:
        name = change.what.removesuffix(" closed").removesuffix(" half as open")
        share = 0.0 if change.what.endswith("closed") else 0.5 * next(r.open_share for r in half if r.name == name)
        runs = tuple(r.model_copy(update={"open_share": share}) if r.name == name else r for r in half)
        alone = ducts.answer(van.model_copy(update={"ducts": runs}), zone_c=zones(van, living=20.0)).stages[-1]
        assert change.flow_m3_per_h == pytest.approx(alone.flow_m3_per_h, rel=1e-6)
        assert change.supply_c == pytest.approx(alone.supply_c, rel=1e-6)
        assert change.fan_w == pytest.approx(alone.fan_w, rel=1e-6)
        assert change.heat_by_outlet_w == pytest.approx({o.name: o.heat_w for o in alone.outlets}, rel=1e-6)
    single = tuple(run.model_copy(update={"open_share": float(k == 2)}) for k, run in enumerate(van.ducts))
    lone = ducts.answer(van.model_copy(update={"ducts": single}), zone_c=zones(van, living=20.0))
    assert [change.what for change in lone.balancing] == [f"{names[2]} half as open"]


def test_a_return_path_of_the_description_counts_unless_another_is_given() -> None:
    van = VANS["demo"]
    narrow = van.model_copy(update={"heater": van.heater.model_copy(update={"return_cm2": 120.0})})
    here = zones(van, living=20.0)
    described, given = ducts.answer(narrow, zone_c=here), ducts.answer(van, zone_c=here, return_cm2=120.0)
    assert described.stages == given.stages
    assert described.stages[-1].flow_m3_per_h < ducts.answer(van, zone_c=here).stages[-1].flow_m3_per_h
    path = described.return_path
    assert [change.what for change in path] == [
        "return path free", "return path of 400 cm²", "return path of 200 cm²", "return path of 100 cm²",
        "return path of 50 cm²", "return path blocked",
    ]  # fmt: skip
    free = ducts.answer(van, zone_c=here).stages[-1]
    assert path[0].flow_m3_per_h == pytest.approx(free.flow_m3_per_h, rel=1e-9)


def outlet(name: str, flow: float, velocity: float = 3.0) -> Outlet:
    return Outlet(
        name=name,
        zone="living",
        flow_m3_per_h=flow,
        velocity_m_per_s=velocity,
        pressure_pa=10.0,
        supply_c=60.0,
        heat_w=100.0,
        loss_w=0.0,
        loss_to="living",
    )


def stage_of(*outlets: Outlet, supply_c: float | None = 60.0) -> StageFlow:
    return StageFlow(output_w=2000.0, fan_w=10.0, flow_m3_per_h=100.0, warm_m3_per_h=114.0, pressure_pa=10.0,
                     return_c=20.0, supply_c=supply_c, return_air_w=0.0, outlets=outlets,
                     share_by_zone={"living": 1.0})  # fmt: skip


def test_outlets_starve_below_three_fifths_of_the_mean_of_the_other_open_ones() -> None:
    """100, 100 and 60: three fifths of 100 is not less; 59 is. One that is throttled neither starves nor counts."""
    van: Any = Found(
        ducts=tuple(
            Found(name=name, open_share=share) for name, share in (("a", 1.0), ("b", 1.0), ("c", 1.0), ("d", 0.5))
        ),
        heater=Found(supply_limit_c=90.0),
    )

    def starved(c: float, d: float = 1.0) -> list[str]:
        return [
            o.name
            for o in ducts._starved(
                van, stage_of(outlet("a", 100.0), outlet("b", 100.0), outlet("c", c), outlet("d", d))
            )
        ]

    assert (starved(60.0), starved(59.0), starved(100.0, 500.0)) == ([], ["c"], [])
    told = ducts._warnings(
        van, (stage_of(outlet("a", 100.0), outlet("b", 100.0), outlet("c", 12.3, 8.0), outlet("d", 9.0, 8.1)),)
    )
    assert told == [
        "Outlet c starves: 12 m³/h of 20 °C at full output, under 60 % of the other open outlets; shorten its run "
        "or throttle others.",
        "Outlet d: 8.1 m/s at full output will be heard (over 8 m/s); a wider hose or a lower stage at night.",
    ]
    hot = (
        stage_of(outlet("a", 9.0), supply_c=90.0),
        stage_of(outlet("a", 9.0), supply_c=90.6),
        stage_of(outlet("a", 9.0), supply_c=None),
    )
    lone: Any = Found(ducts=van.ducts[:1], heater=van.heater)
    assert ducts._warnings(lone, hot) == [
        "At 2000 W the supply air is 91 °C, over the guard's 90 °C: the burner is throttled or stopped; open outlets "
        "or the return.",
        "At 2000 W no air moves: the burner's guard stops it.",
    ]


def test_shares_of_heat_count_what_runs_lose_on_their_way() -> None:
    one = replace(outlet("a", 9.0), heat_w=600.0, loss_w=100.0, loss_to="garage")
    other = replace(outlet("b", 9.0), zone="cab", heat_w=300.0)
    assert _shares((one, other), ("living", "cab", "garage", "outdoors")) == {
        "living": 0.6, "cab": 0.3, "garage": 0.1, "outdoors": 0.0,
    }  # fmt: skip
    assert _shares((), ("living",)) == {"living": 0.0}


# The heater stops


def test_a_stopped_heaters_figures_are_those_of_its_two_nights() -> None:
    run = crowded()
    hour = run.hour_of("2027-01-21 02:00")
    found = outage.answer(run, "2027-01-21 02:30", cold_c=-25.0)
    assert (found.at, found.place, found.looked_at_h) == (run.time(hour), run.place(hour), 72)
    assert (found.coldest_evening, found.as_if_fed) == (False, False)
    hours, rows, wishes = outage.stopped(run, hour)
    for night, weather, name in zip(
        found.nights,
        (rows, outage.cold_rows(rows, hour, -25.0)),
        ("the night at hand", "a night of -25 °C"),
        strict=True,
    ):
        after = run.again(hours=hours, rows=weather, wishes=wishes)
        assert night.name == name
        assert night.outdoor_c == pytest.approx(weather[hour:, A.TEMP_C].mean())
        assert night.wind_m_per_s == pytest.approx(weather[hour:, A.WIND_M_PER_S].mean())
        dumped = after.flow("dumped_l")[hour:]
        opens = np.flatnonzero(dumped > 0.5)
        assert night.valve_opens_h == (float(opens[0] + 1) if opens.size else None)
        assert night.dumped_l == pytest.approx(dumped.sum())
        assert ("boiler" in night.drain_order) == (not opens.size and night.parts[2].hours_until["5_c"] is not None)
        for part in night.parts:
            temp_c = after.node_c(part.name)[hour:]
            assert part.start_c == temp_c[0]
            assert part.after_h == (0.0, 0.25, 0.5, 0.75, *map(float, range(1, 73)))
            assert part.temp_c[0] == temp_c[0] and part.temp_c[4:] == pytest.approx(temp_c[1:], rel=ALIKE)
            assert part.lowest_c == min(part.temp_c)
            low, high = sorted((temp_c[0], temp_c[1]))
            assert all(low - 1.0 <= within <= high + 1.0 for within in part.temp_c[1:4])
            assert set(part.hours_until) == {"12_c", "5_c", "0_c"}
    assert found.nights[1].valve_opens_h is not None
    nodes = TwoNodes.at_stop(run, hour)
    assert nodes is not None and found.time_constants is not None
    for name in ("loss_w_per_k", "air_j_per_k", "lining_j_per_k", "fast_share", "air_h", "lining_h"):
        assert getattr(found.time_constants, name) == getattr(nodes, name)


def test_hours_after_the_stop_are_unheated_and_still_and_end_with_the_last_day_again() -> None:
    run = crowded()
    hour = run.count - 20
    hours, rows, wishes = outage.stopped(run, hour)
    parked = outage.parked_rows(run)
    assert len(rows) == len(hours) == hour + 72
    order = [*range(run.count), *[run.count - 24 + k % 24 for k in range(52)]]
    assert np.array_equal(rows[hour:], parked[order[hour:]])
    assert np.array_equal(rows[:hour], run.rows[:hour])
    for name in ("heater_allowed", "moving", "refill", "empty_waste", "alternator"):
        assert not hours[name][hour:].any(), name
        assert np.array_equal(hours[name][:hour], run.hours[name][:hour]), name
    assert np.array_equal(hours["screens"], run.hours["screens"][order])
    assert len(wishes) == len(run.wishes)
    early_hours, early, cut = outage.stopped(run, 0)
    assert len(early) == len(early_hours) == 72
    assert cut["quarter"].max() < 4 * 72
    drives = np.flatnonzero(run.timeline.moving)
    for k in drives:
        before = [h for h in range(k) if run.timeline.moving[h] == 0]
        assert parked[k, A.WIND_M_PER_S] == run.rows[before[-1] if before else 0, A.WIND_M_PER_S]
    still = np.flatnonzero(run.timeline.moving == 0)
    assert np.array_equal(parked[still], run.rows[still])
    columns = [c for c in range(A.WEATHER_COLUMNS) if c != A.WIND_M_PER_S]
    assert np.array_equal(parked[:, columns], run.rows[:, columns])


def test_a_tour_that_sets_out_driving_stands_in_the_wind_of_its_first_parked_hour() -> None:
    rows = np.zeros((5, A.WEATHER_COLUMNS))
    rows[:, A.WIND_M_PER_S] = 25.0, 25.0, 4.0, 30.0, 6.0
    run: Any = Found(rows=rows, timeline=Found(moving=np.array([1, 2, 0, 1, 0])))
    assert outage.parked_rows(run)[:, A.WIND_M_PER_S].tolist() == [4.0, 4.0, 4.0, 4.0, 6.0]
    never: Any = Found(rows=rows, timeline=Found(moving=np.ones(5, dtype=int)))
    assert np.array_equal(outage.parked_rows(never), rows)


def test_a_battery_cut_out_or_flames_without_gas_before_the_hour_are_short_before_it() -> None:
    flows = {
        "cut_out_s": [0.0, 0.0, 60.0],
        "unserved_heating_kg": [0.0, 0.03, 0.0],
        "unserved_cooking_kg": [0.0, 0.021, 0.0],
        "unserved_fridge_kg": [0.0, 0.0, 0.0],
    }
    run: Any = Found(flow=lambda name: np.array(flows[name]), beside_element_kg=np.zeros(3))
    assert [outage._short_before(run, hour) for hour in range(4)] == [False, False, True, True]
    flows["unserved_cooking_kg"] = [0.0, 0.019, 0.0]
    assert [outage._short_before(run, hour) for hour in range(4)] == [False, False, False, True]
    run.beside_element_kg = np.array([0.0, 0.01, 0.0])
    assert [outage._short_before(run, hour) for hour in range(4)] == [False, False, True, True]


def test_a_crossing_towards_air_that_is_no_colder_lies_on_the_line() -> None:
    """The fall ends where it is as cold as outdoors, or the limit is: a straight line, from 10 to 4 in two hours."""
    times, temps = np.array([1.0, 3.0]), np.array([10.0, 4.0])
    for around in (4.0, 6.0):
        assert outage.hours_until(times, temps, 5.5, np.array([around])) == pytest.approx(1.0 + 2.0 * 4.5 / 6.0), around
    towards = outage.hours_until(times, temps, 5.5, np.array([3.0]))
    assert towards == pytest.approx(1.0 + 2.0 * math.log(7.0 / 2.5) / math.log(7.0))
    assert outage.hours_until(times, temps, 4.0, np.array([4.0])) == 3.0
    assert outage.hours_until(times, np.array([5.0, 4.0]), 5.0, np.array([0.0])) == 1.0
    assert outage.hours_until(times, temps, 3.9, np.array([0.0])) is None


def test_hardly_warmer_inside_than_outdoors_there_is_no_cooling_to_tell() -> None:
    """Three kelvins of air and of fabric are enough, less of either is not."""
    run = crowded("one_room")
    hour = run.hour_of("2027-01-21 02:00")

    def at(air_c: float, fabric_c: float) -> TwoNodes | None:
        nodes = {"living_air": air_c, "living_fabric": fabric_c}
        rows = run.rows.copy()
        rows[hour, A.TEMP_C] = 0.0
        made: Any = Found(van=run.van, built=run.built, rows=rows, hours=run.hours,
                          node_c=lambda name: np.full(run.count + 1, nodes[name]))  # fmt: skip
        return TwoNodes.at_stop(made, hour)

    assert at(2.9, 9.0) is None and at(9.0, 2.9) is None
    found = at(3.0, 3.0)
    assert found is not None
    zone = run.van.cabin.zones[0]
    assert (found.air_j_per_k, found.lining_j_per_k) == (
        zone.air_capacity_j_per_k,
        pytest.approx(zone.fabric_capacity_j_per_k),
    )
    assert found.coupling_w_per_k == zone.fabric_coupling_w_per_k
    wind = float(run.rows[hour, A.WIND_M_PER_S])
    loss = loss_w_per_k(run.van, float(run.hours["screens"][hour]), 3.0, 0.0, wind)
    assert found.loss_w_per_k == pytest.approx(loss)


# One cold hour as it is described


def plan(outdoor_c: float = -20.0, **changes: Any) -> Plan:
    prepared = steady(outdoor_c)
    line = replace(prepared.timeline, **changes) if changes else prepared.timeline
    return Plan(prepared.van, line, prepared.weather)


def test_an_hours_setpoint_is_the_warmest_quarter_of_a_parked_heated_hour() -> None:
    quarters = np.tile([15.0, np.nan, 18.0, 16.0], 72)
    quarters[4:8] = np.nan
    allowed, moving = np.ones(72, dtype=bool), np.zeros(72, dtype=int)
    allowed[2], moving[3] = False, 1
    found = plan(setpoint_c=quarters, heater_allowed=allowed, moving=moving).set_c()
    assert np.isnan(found[1:4]).all()
    assert set(np.delete(found, [1, 2, 3])) == {18.0}


def test_an_hour_as_described_loses_its_w_per_k_and_is_given_gas_and_element() -> None:
    """Hook-up of 1200 W leaves 1000 W for the element's step of 900; a burner that is not compensated loses with the
    pressure; on electricity alone there is no gas, but off the hook-up there is."""
    prepared = steady(-20.0)
    heater = prepared.van.heater.model_copy(update={"electric_w": (900.0, 1800.0)})
    van = prepared.van.model_copy(update={"heater": heater})
    for fuel, hookup_w, element, gas in (
        (0, 1200.0, 0.0, True),
        (2, 1200.0, 900.0, True),
        (1, 1100.0, 900.0, False),
        (1, 1099.0, 0.0, False),
        (1, 0.0, 0.0, True),
        (2, 2000.0, 1800.0, True),
    ):
        line = replace(
            prepared.timeline, fuel=np.full(72, fuel), hookup_w=np.full(72, hookup_w), wind_factor=np.full(72, 0.5),
            screens=np.full(72, 0.75), altitude_m=np.full(72, 321.0),
        )  # fmt: skip
        frame = prepared.weather.frame.assign(pressure=95_000.0, wind_speed=6.0)
        hour = Plan(van, line, replace(prepared.weather, frame=frame)).hour(30, 21.0)
        rated = output_at_density(van.heater.rated_w, 95_000.0 / 101_325.0, van.heater.altitude_compensated)
        needed = loss_w_per_k(van, 0.75, 21.0, -20.0, 3.0) * 41.0
        assert (hour.at, hour.place, hour.altitude_m) == (line.index[30], prepared.tour.stops[0].place, 321.0)
        assert (hour.outdoor_c, hour.wind_m_per_s, hour.pressure_pa, hour.set_c) == (-20.0, 3.0, 95_000.0, 21.0)
        assert hour.needed_w == pytest.approx(needed)
        assert hour.available_w == pytest.approx((rated if gas else 0.0) + element)
        assert hour.gas_w == pytest.approx(min(rated, needed) if gas else 0.0)
        assert hour.mains_only == (not gas)
    assert plan(30.0).hour(3, 20.0).needed_w == 0.0


def test_the_fan_runs_for_part_of_an_hour_under_the_least_stage_and_between_stages_above() -> None:
    van = VANS["demo"]
    stages = van.heater.stages
    low, high = stages[0], stages[1]

    def fan_w(needed_w: float, available_w: float = 1e6) -> float:
        return enough_charge.fan_power_w(van, needed_w, available_w)

    assert fan_w(0.5 * low.output_w) == pytest.approx(0.5 * low.fan_w)
    assert fan_w(low.output_w) == pytest.approx(low.fan_w)
    middle = 0.5 * (low.output_w + high.output_w)
    assert fan_w(middle) == fan_w(1e5, middle) == pytest.approx(0.5 * (low.fan_w + high.fan_w))


def test_the_quarters_of_the_first_hour_are_those_of_runs_that_heat_so_much_less_of_it() -> None:
    """A quarter after the stop it is as in a run whose thermostat goes off three quarters into the hour, at its end."""
    run = crowded()
    hour = run.hour_of("2027-01-21 07:00")
    hours, rows, wishes = outage.stopped(run, hour)
    found = outage.answer(run, "2027-01-21 07:00")
    for quarter in (1, 2, 3):
        longer = hours[: hour + 1].copy()
        longer["heater_allowed"][hour] = 1
        for name in ("set_c", "water_set_c"):
            longer[name][hour] = run.hours[name][hour]
            longer[name][hour, 4 - quarter :] = np.nan
        early = wishes[wishes["quarter"] < 4 * hour]
        within = run.again(hours=longer, rows=rows[: hour + 1], wishes=early)
        for part in found.nights[0].parts:
            assert part.temp_c[quarter] == pytest.approx(within.node_c(part.name)[-1], rel=ALIKE)
    assert found.nights[0].parts[0].temp_c[1] > found.nights[0].parts[0].temp_c[4]


def test_within_the_first_hour_a_part_falls_towards_the_air_of_that_hour() -> None:
    """From 20 °C towards -5 °C, though the next hour is as warm as 15: 5 °C where the exponential says."""
    temps = np.array([20.0, 15.0, 11.0, 8.0, 4.0, 3.0])
    after: Any = Found(
        node_c=lambda node: temps,
        times_h=lambda: np.array([0.0, 0.25, 0.5, 0.75, 1.0, 2.0]),
        outdoor_c=np.array([-5.0, 15.0]),
    )
    part = outage._part(after, "pipes")
    assert (part.name, part.start_c, part.lowest_c) == ("pipes", 20.0, 3.0)
    share = math.log(13.0 / 10.0) / math.log(13.0 / 9.0)
    assert part.hours_until["5_c"] == pytest.approx(0.75 + 0.25 * share)
    share = math.log(20.0 / 17.0) / math.log(20.0 / 16.0)
    assert part.hours_until == {"12_c": pytest.approx(0.25 + 0.25 * share), "5_c": part.hours_until["5_c"], "0_c": None}
    assert (part.after_h, part.temp_c) == ((0.0, 0.25, 0.5, 0.75, 1.0, 2.0), tuple(temps.tolist()))
