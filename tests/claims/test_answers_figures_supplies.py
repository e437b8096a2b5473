"""Supplies in figures: battery, bottles, hook-up, money and what runs out, each against the columns of one run."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from functools import cache
from pathlib import Path
from types import SimpleNamespace as Found
from typing import Any

import numpy as np
import pandas as pd
import pytest
from sample_tours import short_tour
from sample_vans import one_room, sample_vans
from small_tour import START, small, steady

from budget.answers import battery, bottle_now, bottle_plan, hookup, last_chance, money, runs_out, trips
from budget.answers.coldest import coldest_evening
from budget.answers.detail import Detail, first_hour
from budget.answers.offtake import offtake
from budget.answers.prepared import Prepared, factor_rows, load_prepared
from budget.engine import arrays as A
from budget.engine.layout import FIXED_LOADS
from budget.errors import InputFault
from budget.physics.battery import charge_limit_share
from budget.results.supplies import cut_out_shares
from budget.simulation import simulate
from budget.spans import Span
from budget.tour.reader import load
from budget.van.charge import CHEMISTRY, usable_ah

ALIKE = 1e-9  # sums in another order
SAMPLES = Path(__file__).parents[2] / "weather_samples"
VANS = sample_vans()


@cache
def demo() -> Detail:
    return Detail.of(load_prepared(None))


@cache
def crowded(name: str = "demo") -> Detail:
    """Three nights with a drive, a ferry, hook-up, exchange and refill."""
    van = VANS[name]
    return Detail.of(Prepared.of(van, short_tour(van), folder=SAMPLES))


# The battery


def test_a_days_amp_hours_are_those_of_its_hours_load_by_load() -> None:
    run = demo()
    found = battery.answer(run)
    day_of = [f"{stamp:%Y-%m-%d}" for stamp in run.index]
    assert [day.day for day in found.days] == sorted(set(day_of))
    names = [*FIXED_LOADS, *(each.name for each in run.van.power.loads)]
    share = run.stock("charge_ah") / run.van.power.battery.capacity_ah
    for day in found.days:
        here = [hour for hour, name in enumerate(day_of) if name == day.day]
        by_load = {name: run.flow("load_ah", k)[here].sum() for k, name in enumerate(names)}
        assert day.used_by_load_ah == pytest.approx({name: ah for name, ah in by_load.items() if ah > 0.0})
        assert day.fan_ah == pytest.approx(by_load["heater_fan"], rel=ALIKE)
        assert day.used_ah == pytest.approx(sum(by_load.values()), rel=ALIKE)
        for name in ("solar_ah", "alternator_ah", "mains_charger_ah"):
            assert getattr(day, name) == pytest.approx(run.flow(name)[here].sum(), rel=ALIKE), name
        assert day.lowest_charge_share == pytest.approx(share[[hour + 1 for hour in here]].min(), rel=ALIKE)
    for name in ("solar_ah", "alternator_ah", "mains_charger_ah"):
        assert sum(getattr(day, name) for day in found.days) > 1.0, name


def test_a_full_battery_is_usable_as_at_its_coldest() -> None:
    run = demo()
    coldest_c = float(run.node_c("battery").min())
    assert battery.answer(run).usable_ah == pytest.approx(usable_ah(run.van.power.battery, coldest_c), rel=ALIKE)
    assert usable_ah(run.van.power.battery, coldest_c) < usable_ah(run.van.power.battery, 20.0)


def test_evenings_are_18_oclock_parked_off_the_grid_with_somebody_on_board() -> None:
    """Of four evenings one is on the hook-up, one on the road, one while everyone is away; half away is on board."""
    index = pd.date_range("2027-01-12 12:00", periods=120, freq="h")
    line: Any = Found(hookup_w=np.zeros(120), moving=np.zeros(120, dtype=int), away=np.zeros(120))
    line.hookup_w[6], line.moving[30], line.away[54], line.away[78] = 1380.0, 2, 1.0, 0.5
    run: Any = Found(timeline=line, index=index)
    assert battery.evenings(run) == [78, 102]


@pytest.mark.parametrize(("outdoor_c", "cold"), [(-18.0, True), (8.0, False)])
def test_hours_too_cold_to_be_charged_are_counted_for_lithium_over_the_next_day(outdoor_c: float, cold: bool) -> None:
    prepared = steady(outdoor_c)
    kept = prepared.van.power.battery.model_copy(update={"zone": "outdoors"})
    told = {}
    for chemistry in ("lifepo4", "agm"):
        power = prepared.van.power.model_copy(update={"battery": kept.model_copy(update={"chemistry": chemistry})})
        run = Detail.of(prepared.with_van(prepared.van.model_copy(update={"power": power})))
        told[chemistry] = battery.stand(run, 6)
        frozen = int((run.node_c("battery")[6:30] <= 0.0).sum())
        assert told[chemistry].no_charge_h == (frozen if chemistry == "lifepo4" else 0)
        assert (frozen > 12) == cold
        assert told[chemistry].at == run.time(6)
        assert told[chemistry].place == run.place(6)
        charge = run.stock("charge_ah")[6] / power.battery.capacity_ah
        assert told[chemistry].charge_share == pytest.approx(charge, rel=ALIKE)


def test_from_an_evening_on_neither_sun_nor_hook_up_nor_drive_charges_but_the_one_that_is_tried() -> None:
    """The hours before are the tour's own; 1.5 h of drive are a whole hour and half of the next one."""
    run = crowded()
    seen: list[tuple[Any, Any]] = []
    watched: Any = Found(
        hours=run.hours, rows=run.rows,
        again=lambda hours, rows: seen.append((hours, rows)) or Found(flow=lambda name: np.zeros(run.count)),
    )  # fmt: skip
    assert battery._cut_out_after(watched, 20, 1.5) is None
    ((hours, rows),) = seen
    assert hours["alternator"][20:23].tolist() == [1.0, 0.5, 0.0]
    assert not hours["alternator"][22:].any()
    for name in ("hookup_w", "fuel"):
        assert not hours[name][20:].any()
        assert run.hours[name][20:].any(), name
        assert np.array_equal(hours[name][:20], run.hours[name][:20])
    assert not rows[20:, A.PANEL_W].any()
    assert np.array_equal(rows[:20], run.rows[:20])
    assert np.array_equal(np.delete(rows, A.PANEL_W, axis=1), np.delete(run.rows, A.PANEL_W, axis=1))
    cut: Any = Found(hours=run.hours, rows=run.rows, again=lambda hours, rows: Found(
        flow=lambda name: np.where(np.arange(run.count) >= 31, 60.0, 0.0)))  # fmt: skip
    assert battery._cut_out_after(cut, 20, 0.0) == 31
    assert battery._cut_out_after(cut, 31, 0.0) == 31


# Bottles


def test_a_plans_figures_are_those_of_its_run() -> None:
    run = demo()
    found = bottle_plan.answer(run)
    need = run.need
    coldest = int(np.argmin(run.rows[:, A.TEMP_C]))
    assert (found.at, found.place) == (run.time(coldest), run.place(coldest))
    left = sum(run.left_kg(k) for k in range(run.bottles))
    assert found.burned_kg == pytest.approx((run.flow("gas_out_kg") + run.flow("gas_out_butane_kg")).sum(), rel=ALIKE)
    assert found.needed_kg == pytest.approx(need.kg, rel=ALIKE)
    assert found.reserve_kg_per_day == pytest.approx(need.hardest_kg_per_day, rel=ALIKE)
    assert found.reserve_nights == run.van.gas.reserve_nights > 0.0
    assert found.reserve_kg == pytest.approx(found.reserve_nights * found.reserve_kg_per_day, rel=ALIKE)
    assert found.planned_kg == pytest.approx(found.needed_kg + found.reserve_kg, rel=ALIKE)
    assert (found.bottles_needed - 1) * 11.0 < found.planned_kg <= found.bottles_needed * 11.0
    assert found.bottle == run.van.gas.bottles[0].name
    assert found.reserve_kept == (left.min() >= found.reserve_kg)
    assert found.end_kg == pytest.approx([run.left_kg(k)[-1] for k in range(run.bottles)], rel=ALIKE)
    full = sum(each.tare_kg + each.net_kg for each in run.van.gas.bottles)
    water = run.van.water.fresh.capacity_l + run.van.water.boiler.water_l
    assert found.payload_kg == pytest.approx(full + water, rel=ALIKE)
    assert found.money == money.answer(run)
    assert found.sentences[-len(found.money.sentences) :] == found.money.sentences
    assert [each.bottle for each in found.now] == [1, 2, 3]
    assert found.handed_back_kg == pytest.approx(sum(swap.left_kg for swap in found.swaps), rel=ALIKE)
    assert found.short_of == need.short_of


def test_from_a_given_hour_the_reserve_is_that_of_the_three_days_before() -> None:
    run = demo()
    at = run.time(200)
    found = bottle_plan.answer(run, at)
    used = bottle_plan.used_kg(run)
    assert found.at == at
    assert found.reserve_kg_per_day == pytest.approx(used[128:200].sum() / 3.0, rel=ALIKE)
    assert found.reserve_kg_per_day != bottle_plan.answer(run).reserve_kg_per_day


def test_recent_use_is_of_three_days_or_of_what_there_was_but_a_day_at_least() -> None:
    used = np.arange(120.0)
    for hour, first, last in ((0, 0, 24), (5, 0, 24), (25, 0, 25), (72, 0, 72), (100, 28, 100)):
        assert bottle_plan.recent_kg_per_day(used, hour) == pytest.approx(24.0 * used[first:last].mean()), hour


def test_where_the_battery_dies_the_plan_is_that_of_a_battery_that_lasts() -> None:
    prepared = small()
    dying = prepared.van.power.battery.model_copy(update={"capacity_ah": 20.0, "start_share": 1.0})
    poor = prepared.with_van(
        prepared.van.model_copy(update={"power": prepared.van.power.model_copy(update={"battery": dying})})
    )
    run = Detail.of(poor)
    found = bottle_plan.answer(run)
    lasting = run.with_power()
    assert found.short_of == ("battery",)
    assert found.burned_kg == pytest.approx((run.flow("gas_out_kg") + run.flow("gas_out_butane_kg")).sum(), rel=ALIKE)
    assert found.burned_kg < 0.6 * found.needed_kg
    assert found.end_kg == pytest.approx([lasting.left_kg(k)[-1] for k in range(3)], rel=ALIKE)
    assert lasting.flow("cut_out_s").sum() == 0.0


def test_the_reserve_is_kept_down_to_the_gram_and_not_below() -> None:
    """The least that all bottles together hold at any hour against the reserve of one night and of many."""
    prepared = steady(-10.0, nights=2)
    for nights, kept in ((1.0, True), (12.0, False)):
        gas = prepared.van.gas.model_copy(update={"reserve_nights": nights})
        found = bottle_plan.answer(prepared.with_van(prepared.van.model_copy(update={"gas": gas})))
        assert found.reserve_kept == kept
        assert (sum(found.end_kg) >= found.reserve_kg) == kept  # nothing is brought on the way


def test_readings_stand_at_seven_each_morning_with_each_bottles_tare() -> None:
    run = demo()
    found = bottle_plan.readings(run)
    sevens = [hour for hour in range(run.count) if run.index[hour].hour == 7]
    assert [each.time for each in found] == [run.time(hour) for hour in sevens]
    assert [each.place for each in found] == [run.place(hour) for hour in sevens]
    for each, hour in zip(found, sevens, strict=True):
        held = [run.left_kg(k)[hour] for k in range(run.bottles)]
        assert each.contents_kg == pytest.approx(held, rel=ALIKE)
        tared = [kg + bottle.tare_kg for kg, bottle in zip(held, run.van.gas.bottles, strict=True)]
        assert each.scale_kg == pytest.approx(tared, rel=ALIKE)


def test_a_bottle_now_stands_in_a_locker_as_much_warmer_as_its_share_says() -> None:
    run = crowded("butane")
    hour = 40
    for k, described in enumerate(run.van.gas.bottles):
        found = bottle_now.bottle_now(run, k, hour)
        outdoor_c = run.rows[hour, A.TEMP_C]
        gas = run.van.gas
        inside_c = run.node_c(f"{gas.locker_zone}_air")[hour]
        locker_c = outdoor_c + gas.locker_warmer_share * (inside_c - outdoor_c)
        assert (found.bottle, found.name) == (k + 1, described.name)
        assert found.contents_kg == pytest.approx(run.left_kg(k)[hour], rel=ALIKE)
        assert found.level_share == pytest.approx(found.contents_kg / described.net_kg, rel=ALIKE)
        assert found.bottle_c == pytest.approx(run.node_c(f"bottle_{k + 1}")[hour], rel=ALIKE)
        assert found.locker_c == pytest.approx(locker_c, rel=ALIKE)
        drawn = run.flow("gas_out_kg", k) + run.flow("gas_out_butane_kg", k)
        assert found.drawn_before_kg == pytest.approx(drawn[hour - 6 : hour].sum(), rel=ALIKE)
        propane, butane = run.stock("propane_kg", k)[hour], run.stock("butane_kg", k)[hour]
        top = run.van.heater.stages[-1]
        kwh = (propane * 12.872 + butane * 12.69) / (propane + butane) if propane + butane else None
        if kwh is not None:  # the lower heating values, to a per mille
            wanted = top.output_w / 1000.0 / top.efficiency_share / kwh
            assert found.offtake.full_fire_kg_per_h == pytest.approx(wanted, rel=2e-3)
        by_hand = offtake(
            described, propane_kg=propane, butane_kg=butane, bottle_c=found.bottle_c, locker_c=locker_c,
            pressure_pa=run.rows[hour, A.PRESSURE_PA], need_bar=gas.regulator_need_bar,
            through_kg_per_h=gas.regulator_kg_per_h, demand_kg_per_h=found.offtake.full_fire_kg_per_h,
        )  # fmt: skip
        assert found.offtake == by_hand
    outside = replace(run, van=run.van.model_copy(update={"gas": gas.model_copy(update={"locker_zone": "outdoors"})}))
    assert bottle_now.bottle_now(outside, 0, hour).locker_c == outdoor_c
    assert bottle_now.bottle_now(run, 0, 0).drawn_before_kg == 0.0
    early = run.flow("gas_out_kg", 0)[:2].sum() + run.flow("gas_out_butane_kg", 0)[:2].sum()
    assert bottle_now.bottle_now(run, 0, 2).drawn_before_kg == pytest.approx(early, rel=ALIKE)


# Last chances


def test_windows_are_unbroken_spans_of_hours() -> None:
    open_ = np.array([1, 1, 0, 0, 1, 0, 1, 1, 1], dtype=bool)
    assert last_chance.windows(open_).tolist() == [[0, 2], [4, 5], [6, 9]]
    assert last_chance.windows(~open_).tolist() == [[2, 4], [5, 6]]
    assert last_chance.windows(np.zeros(4, dtype=bool)).tolist() == []


def test_a_flame_goes_short_for_whatever_reason_and_out_of_gas_with_every_bottle_empty() -> None:
    """Five hours: none short, heating, cooking, the fridge short; the last with a bottle of 0.2 kg, then of 0.21."""
    flows = {"unserved_heating_kg": [0.0, 2e-6, 0.0, 0.0, 0.1, 0.1], "unserved_cooking_kg": [1e-6, 0.0, 0.1, 0.0, 0.0, 0.0],
             "unserved_fridge_kg": [0.0, 0.0, 0.0, 0.1, 0.0, 0.0]}  # fmt: skip
    left = [np.array([9.0, 9.0, 0.0, 0.2, 0.1, 0.21, 0.1]), np.array([9.0, 0.1, 0.0, 0.2, 0.2, 0.1, 0.21])]
    run: Any = Found(flow=lambda name: np.array(flows[name]), left_kg=lambda k: left[k], bottles=2)
    assert last_chance.unserved(run).tolist() == [False, True, True, True, True, True]
    assert last_chance.out_of_gas(run).tolist() == [False, True, True, True, False, False]
    assert last_chance.short_of_gas(run) == 1


def test_the_first_hour_is_that_of_the_first_that_is_more_than_nothing() -> None:
    assert first_hour(np.array([0.0, 0.0, 0.5, 0.0, 2.0])) == 2
    assert first_hour(np.array([1.0])) == 0
    assert first_hour(np.zeros(3)) is None


# What runs out


def test_what_is_left_of_each_supply_is_its_share_of_what_it_holds_when_full() -> None:
    """Of the battery what lies above its cut-out, over what a full one has above it."""
    run = demo()
    found = {supply.name: supply for supply in runs_out.answer(run).supplies}
    van = run.van
    gas = sum(run.left_kg(k) for k in range(run.bottles)) / sum(bottle.net_kg for bottle in van.gas.bottles)
    assert found["gas"].left_share == pytest.approx(gas, rel=ALIKE)
    charge, cut = run.stock("charge_ah") / van.power.battery.capacity_ah, cut_out_shares(run)
    above = np.clip((charge - cut) / (1.0 - cut), 0.0, 1.0)
    assert found["battery"].left_share == pytest.approx(above, rel=ALIKE)
    assert max(above) > 0.99 and cut.max() > 0.05  # full at times, and the cut-out shows
    fresh, waste = run.stock("fresh_l"), run.stock("waste_l")
    assert found["fresh"].left_share == pytest.approx(fresh / van.water.fresh.capacity_l, rel=ALIKE)
    assert found["waste"].left_share == pytest.approx(1.0 - waste / van.water.waste.capacity_l, rel=ALIKE)
    for supply in found.values():
        lowest = int(np.argmin(supply.left_share))
        assert (supply.lowest_share, supply.lowest_at) == (supply.left_share[lowest], run.time(lowest))
    tightest = min(found.values(), key=lambda supply: supply.lowest_share)
    assert runs_out.answer(run).tightest == tightest.name


def test_a_supply_falls_short_in_the_hours_of_its_own_column() -> None:
    """A van with a small battery, little water and a small waste tank: each by the engine's own column."""
    prepared = load_prepared(None)
    van = prepared.van
    water = van.water.model_copy(update={
        "fresh": van.water.fresh.model_copy(update={"capacity_l": 25.0, "start_l": 25.0}),
        "waste": van.water.waste.model_copy(update={"capacity_l": 12.0}),
    })  # fmt: skip
    poor = van.power.model_copy(update={"battery": van.power.battery.model_copy(update={"capacity_ah": 25.0})})
    run = Detail.of(prepared.with_van(van.model_copy(update={"water": water, "power": poor})))
    found = runs_out.answer(run)
    by_name = {supply.name: supply for supply in found.supplies}
    for name, column in (("battery", run.flow("cut_out_s")), ("waste", run.flow("waste_spilled_l"))):
        short = np.flatnonzero(column > 1e-6)
        assert by_name[name].short_h == len(short) > 0
        assert (by_name[name].out_at, by_name[name].out_place) == (run.time(int(short[0])), run.place(int(short[0])))
    assert by_name["fresh"].out_at is not None
    first = min((each for each in found.supplies if each.out_at), key=lambda each: each.out_at)  # type: ignore[arg-type,return-value]
    assert found.first == first.name


def test_an_hour_of_gas_held_up_has_one_cause_the_first_that_holds() -> None:
    """Six hours without: shut; nobody awake with a bottle empty; one empty with somebody awake; the regulator; the
    cold; and all at once, which is shut. One of 0.2 kg is empty, the other holds 5 kg."""
    one = np.array([5.0, 5.0, 0.2, 0.2, 5.0, 5.0, 0.1])
    left = [one, np.full(7, 5.0)]
    flows = {"unserved_heating_kg": np.full(6, 0.1), "unserved_cooking_kg": np.zeros(6), "unserved_fridge_kg": np.zeros(6),
             "offtake_limit_kg": np.array([0.1, 0.1, 0.1, 1.4985, 0.1, 1.5])}  # fmt: skip
    hours = {"gas_open": np.array([0, 1, 1, 1, 1, 0]), "awake_inside": np.array([0, 0, 1, 1, 1, 0])}

    def causes(**gas: Any) -> dict[str, int]:
        described = Found(**({"changeover": "manual", "regulator_kg_per_h": 1.5} | gas))
        run: Any = Found(flow=flows.__getitem__, left_kg=lambda k: left[k], bottles=2, hours=hours, count=6,
                         van=Found(gas=described))  # fmt: skip
        return runs_out.held_up_by_h(run)

    assert causes() == {"shut": 2, "no_hand": 1, "changed": 1, "regulator": 1, "cold": 1}
    assert causes(changeover="automatic") == {"shut": 2, "changed": 2, "regulator": 1, "cold": 1}
    assert causes(regulator_kg_per_h=1.51) == {"shut": 2, "no_hand": 1, "changed": 1, "cold": 2}


def test_a_tap_that_stays_dry_beside_water_is_counted_by_its_cause() -> None:
    lacked = {"empty": np.array([1.0, 1.0]), "ice": np.array([2e-6, 1e-6]), "no_power": np.zeros(2)}
    assert runs_out._dry_by_h(lacked) == {"ice": 1}
