"""Supplies in figures: battery, bottles, hook-up, money and what runs out, each against the columns of one run."""

from __future__ import annotations

import datetime as dt
import math
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

from budget.answers import battery, bottle_now, bottle_plan, hookup, last_chance, money, runs_out, swaps_made, trips
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
    run: Any = Found(van=Found(power=Found(mains_charger_a=20.0)), timeline=line, index=index)
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
    assert battery._cut_out_after(battery._on_a_drive(watched, 20, 1.5), 20) is None
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
    assert battery._cut_out_after(battery._on_a_drive(cut, 20, 0.0), 20) == 31
    assert battery._cut_out_after(battery._on_a_drive(cut, 31, 0.0), 31) == 31


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
    used = swaps_made.used_kg(run)
    assert found.at == at
    assert found.reserve_kg_per_day == pytest.approx(used[128:200].sum() / 3.0, rel=ALIKE)
    whole = bottle_plan.answer(run)
    assert found.reserve_kg_per_day != whole.reserve_kg_per_day
    for plan, days in ((found, "as in the three days before"), (whole, "in the hardest three days")):
        assert sum(f" kg a day, {days}; that is " in sentence for sentence in plan.sentences) == 1


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


def bottles_of(*left_kg: list[float], outdoor_c: list[float] | None = None) -> Any:
    """A run by the hour edge: what each bottle holds, and the cold of each hour."""
    rows = np.zeros((len(left_kg[0]) - 1, max(A.TEMP_C, A.PRESSURE_PA) + 1))
    rows[:, A.TEMP_C] = 0.0 if outdoor_c is None else outdoor_c
    return Found(bottles=len(left_kg), left_kg=lambda k: np.array(left_kg[k]), rows=rows, time=lambda hour: hour)


def test_a_bottle_is_empty_since_the_hour_in_which_its_last_tenth_of_a_kilogram_went() -> None:
    run = bottles_of([3.0, 0.2, 0.1, 0.0, 5.0, 4.0])
    assert [bottle_now.empty_since(run, 0, hour) for hour in range(6)] == [None, None, 1, 1, None, None]
    assert [bottle_now.empty_since(bottles_of([0.1, 0.0, 0.0]), 0, hour) for hour in range(3)] == [0, 0, 0]


def test_bottles_are_judged_in_the_coldest_hour_that_finds_gas_on_the_last_day_before_it() -> None:
    """Coldest at 39 h; empty from 30 h on. The day before that, 6 to 29 h: an hour at its edges counts, none beyond."""

    def judged(last: int, *colder: int) -> int:
        outdoor_c = np.zeros(40)
        outdoor_c[39] = -9.0
        for by, hour in enumerate(colder):
            outdoor_c[hour] = -3.0 - by
        held = np.where(np.arange(41) <= last, 0.2, 0.1)
        return bottle_plan.hour_to_judge(bottles_of(list(held), [0.0] * 41, outdoor_c=list(outdoor_c)))

    assert judged(29, 6, 5) == 6 and judged(29, 29, 30) == 29
    assert judged(29, 6, 29, 5, 30) == 29
    assert judged(3, 0, 4) == 0
    assert judged(38) == 15
    assert judged(39, 6) == 39
    assert judged(-1, 6) == 39


def test_windows_are_unbroken_spans_of_hours() -> None:
    open_ = np.array([1, 1, 0, 0, 1, 0, 1, 1, 1], dtype=bool)
    assert last_chance.windows(open_).tolist() == [[0, 2], [4, 5], [6, 9]]
    assert last_chance.windows(~open_).tolist() == [[2, 4], [5, 6]]
    assert last_chance.windows(np.zeros(4, dtype=bool)).tolist() == []


def test_a_flame_goes_short_for_whatever_reason_and_out_of_gas_with_every_bottle_empty() -> None:
    """Five hours: none short, heating, cooking, the fridge short; the last with a bottle of 0.2 kg, then of 0.21."""
    flows = {
        "unserved_heating_kg": [0.0, 2e-6, 0.0, 0.0, 0.1, 0.1],
        "unserved_cooking_kg": [1e-6, 0.0, 0.1, 0.0, 0.0, 0.0],
        "unserved_fridge_kg": [0.0, 0.0, 0.0, 0.1, 0.0, 0.0],
    }
    left = [np.array([9.0, 9.0, 0.0, 0.2, 0.1, 0.21, 0.1]), np.array([9.0, 0.1, 0.0, 0.2, 0.2, 0.1, 0.21])]
    run: Any = Found(
        flow=lambda name: np.array(flows[name]), left_kg=lambda k: left[k], bottles=2, beside_element_kg=np.zeros(6)
    )
    assert last_chance.unserved(run).tolist() == [False, True, True, True, True, True]
    assert last_chance.out_of_gas(run).tolist() == [False, True, True, True, False, False]
    assert last_chance.short_of_gas(run) == 1
    beside: Any = Found(**vars(run) | {"beside_element_kg": np.array([0.0, 0.1, 0.0, 0.0, 0.0, 0.0])})
    flows["unserved_heating_kg"][1] = 0.0
    assert last_chance.unserved(beside).tolist() == [False, True, True, True, True, True]


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
        assert (supply.lowest_share, supply.lowest_at) == (supply.left_share[lowest], run.time(max(lowest - 1, 0)))
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
        took_h = math.ceil(column.sum() / 3600.0) if name == "battery" else len(short)
        assert 0 < by_name[name].short_h == took_h <= len(short)
        assert (by_name[name].out_at, by_name[name].out_place) == (run.time(int(short[0])), run.place(int(short[0])))
    assert by_name["fresh"].out_at is not None
    first = min((each for each in found.supplies if each.out_at), key=lambda each: each.out_at)  # type: ignore[arg-type,return-value]
    assert found.first == first.name


def test_an_hour_of_gas_held_up_has_one_cause_the_first_that_holds() -> None:
    """Eight hours without: shut; nobody awake as one runs empty, and an hour later; one runs empty with somebody awake;
    one is empty long since and the other gives what the cold lets it; the regulator; the cold; all at once, which is
    shut. A bottle of 0.2 kg is empty. Nobody is missed where an automatic changeover lacks gas that is there too."""
    one = np.array([5.0, 5.0, 0.2, 0.2, 5.0, 4.9, 4.9, 4.9, 4.8])
    two = np.array([5.0, 5.0, 5.0, 5.0, 0.2, 0.2, 0.2, 0.2, 0.1])
    left = [one, two]
    flows = {
        "unserved_heating_kg": np.full(8, 0.1),
        "unserved_cooking_kg": np.zeros(8),
        "unserved_fridge_kg": np.zeros(8),
        "offtake_limit_kg": np.array([0.1, 0.1, 0.1, 0.1, 0.1, 1.4985, 0.1, 1.5]),
    }
    hours = {"gas_open": np.array([0, 1, 1, 1, 1, 1, 1, 0]), "awake_inside": np.array([0, 0, 0, 1, 0, 1, 1, 0])}

    def changed(short_kg: float, held_kg: float) -> Any:
        """The run with an automatic changeover, short in the third hour."""
        heating = {"unserved_heating_kg": np.array([0.0, 0.0, short_kg, *[0.0] * 5])}
        return Found(flow=(flows | heating).__getitem__, left_kg=lambda k: np.full(9, held_kg), bottles=2,
                     beside_element_kg=np.zeros(8))  # fmt: skip

    def causes(short_kg: float = 0.0, held_kg: float = 5.0, **gas: Any) -> dict[str, int]:
        described = Found(**({"changeover": "manual", "regulator_kg_per_h": 1.5} | gas))
        run: Any = Found(
            flow=flows.__getitem__, left_kg=lambda k: left[k], bottles=2, hours=hours, count=8,
            van=Found(gas=described), beside_element_kg=np.zeros(8),
            with_automatic_changeover=lambda: changed(short_kg, held_kg),
        )  # fmt: skip
        return runs_out.held_up_by_h(run)

    assert causes() == {"shut": 2, "no_hand": 2, "changed": 1, "regulator": 1, "cold": 2}
    assert causes(0.1) == {"shut": 2, "no_hand": 1, "changed": 1, "regulator": 1, "cold": 3}
    assert causes(0.1, 0.1) == causes(), "the other bottle was used up by then"
    assert causes(changeover="automatic") == {"shut": 2, "changed": 2, "regulator": 1, "cold": 3}
    assert causes(regulator_kg_per_h=1.51) == {"shut": 2, "no_hand": 2, "changed": 1, "cold": 3}


def test_a_tap_that_stays_dry_beside_water_is_counted_by_its_cause() -> None:
    lacked = {"empty": np.array([1.0, 1.0]), "ice": np.array([2e-6, 1e-6]), "no_power": np.zeros(2)}
    assert runs_out._dry_by_h(lacked) == {"ice": 1}


# The hook-up


def test_what_each_user_gets_of_a_supply_is_by_its_plate() -> None:
    """A half-empty battery at 20 °C takes the charger's 20 A: 20 × 12.8 / 0.85 = 301 W; the element takes its largest
    step that is left; a fridge that has mains takes its watts."""
    van = VANS["electric_only"]
    power = van.power
    plate_w = min(power.mains_charger_a, power.battery.max_charge_a) * power.battery.nominal_v
    plate_w /= power.mains_charger_efficiency_share
    fridge_w, charger_w, element_w = hookup.shared_w(van, 3680.0, charging=True)
    assert charger_w == pytest.approx(plate_w, rel=0.02)
    assert element_w == max(van.heater.electric_w)
    assert van.fridge is not None
    assert 0.0 < fridge_w <= van.fridge.electric_w + 1e-6
    for watts in (1500.0, 900.0, 500.0):
        fridge_w, charger_w, element_w = hookup.shared_w(van, watts, charging=True)
        steps = [step for step in van.heater.electric_w if step <= watts - fridge_w - charger_w + 1e-6]
        assert element_w == max(steps, default=0.0)
        assert fridge_w + charger_w + element_w <= watts + 1e-6
    bare = van.model_copy(update={"fridge": None, "heater": van.heater.model_copy(update={"electric_w": ()})})
    assert hookup.shared_w(bare, 3680.0, charging=True) == pytest.approx((0.0, charger_full_w(van), 0.0), abs=0.01)


def test_a_small_battery_without_a_charger_leaves_the_element_its_steps_for_the_hour() -> None:
    """One of 2 Ah would be cut out after minutes, and the element with it."""
    van = VANS["electric_only"]
    small_one = van.power.battery.model_copy(update={"capacity_ah": 2.0})
    power = van.power.model_copy(update={"battery": small_one, "mains_charger_a": 0.0})
    weak = van.model_copy(update={"power": power, "fridge": None})
    for charging in (False, True):
        found = hookup.shared_w(weak, 3680.0, charging=charging)
        assert found == pytest.approx((0.0, 0.0, max(van.heater.electric_w)), abs=0.01)


def charger_full_w(van: Any) -> float:
    return hookup.shared_w(van.model_copy(update={"fridge": None}), 3680.0, charging=True)[1]


def test_a_full_battery_leaves_the_element_what_the_charger_took() -> None:
    """2300 W less 301 W of the charger are a watt short of the element's 2000 W; with the battery full the charger
    takes the 12 V loads alone, fan and standby and the loads as long as they are on."""
    van = demo().van
    most_w = max(van.heater.electric_w)
    charger_w = hookup.shared_w(van, 3680.0, charging=True)[1]
    tight_w = most_w + charger_w - 1.0
    found = hookup.supply(van, tight_w / 230.0, 230.0, 1500.0, None)
    assert (found.element_w, found.charging_element_w) == (most_w, van.heater.electric_w[-2])
    assert found.lowest_c["at_20_c"] < found.charging_lowest_c["at_20_c"]
    assert found.charging_spare_w == pytest.approx(most_w - found.charging_element_w - 1.0, abs=0.5)
    battery, shares = van.power.battery, hookup.load_shares(demo().timeline, demo().hours)
    bare_w, loaded_w = (hookup.shared_w(van, 3680.0, load_share=share)[1] for share in (0.0, shares))
    on_w = sum(load.power_w * load.duty_share * share for load, share in zip(van.power.loads, shares, strict=False))
    assert (loaded_w - bare_w) * van.power.mains_charger_efficiency_share == pytest.approx(on_w, rel=0.2)
    assert 0.0 < bare_w < loaded_w < charger_w
    assert battery.start_share > 0.0
    hooked = demo().timeline.hookup_w > 0.0
    assert shares == pytest.approx(demo().hours["load_share"][hooked].mean(axis=0), rel=ALIKE)


def test_a_supply_gives_the_days_heat_of_its_element_and_its_cost() -> None:
    """24 h of the element or of what is needed, whichever is less, times the price."""
    van = demo().van
    for amps, outdoor_c in ((10.0, -5.0), (16.0, 17.0)):
        found = hookup.supply(van, amps, 230.0, hookup.needed_w(van, outdoor_c, 20.0), 0.4)
        fridge_w, charger_w, element_w = hookup.shared_w(van, amps * 230.0)
        assert (found.supply_a, found.supply_v, found.supply_w) == (amps, 230.0, amps * 230.0)
        assert (found.fridge_w, found.charger_w, found.element_w) == (fridge_w, charger_w, element_w)
        assert found.spare_w == pytest.approx(amps * 230.0 - fridge_w - charger_w - element_w, rel=ALIKE)
        assert found.heat_kwh == pytest.approx(0.024 * min(found.needed_w, element_w), rel=ALIKE)
        assert found.holds == (element_w >= found.needed_w)
        assert found.cost == pytest.approx(0.4 * found.heat_kwh, rel=ALIKE)
        assert set(found.lowest_c) == {"at_20_c", "at_16_c", "at_12_c"}
        assert all(
            cold is not None and cold < warm for cold, warm in zip(found.lowest_c.values(), (20, 16, 12), strict=True)
        )
    assert found.holds  # 3 K are held by the element
    poor = hookup.supply(van, 1.0, 230.0, 1500.0, None)
    assert (poor.element_w, poor.heat_kwh, poor.cost, poor.holds) == (0.0, 0.0, None, False)
    assert set(poor.lowest_c.values()) == {None}


def test_a_large_element_holds_any_cold_that_is_looked_at() -> None:
    van = VANS["heavy"]
    heater = van.heater.model_copy(update={"electric_w": (1000.0, 4000.0)})
    found = hookup.supply(van.model_copy(update={"heater": heater}), 60.0, 230.0, 1500.0, None)
    assert found.element_w == pytest.approx(4000.0)
    assert found.lowest_c["at_12_c"] == -38.0


def test_a_stays_figures_are_those_of_the_hours_on_its_hook_up() -> None:
    run = crowded("electric_only")
    found = hookup.stays_of(run)
    stops = [
        k for k, stop in enumerate(run.tour.stops) if ((run.timeline.stop == k) & (run.timeline.hookup_w > 0.0)).any()
    ]
    assert [stay.place for stay in found] == [run.tour.stops[k].place for k in stops]
    for stay, k in zip(found, stops, strict=True):
        stop, here = run.tour.stops[k], (run.timeline.stop == k) & (run.timeline.hookup_w > 0.0)
        kwh = {name: run.flow(name)[here].sum() / 3.6e6 for name in (
            "mains_j", "electric_air_j", "electric_water_j", "gas_heat_air_j", "gas_heat_water_j")}  # fmt: skip
        assert stay.mains_kwh == pytest.approx(kwh["mains_j"], rel=ALIKE)
        assert stay.electric_heat_kwh == pytest.approx(kwh["electric_air_j"] + kwh["electric_water_j"], rel=ALIKE)
        assert stay.gas_heat_kwh == pytest.approx(kwh["gas_heat_air_j"] + kwh["gas_heat_water_j"], rel=ALIKE)
        assert stay.charged_ah == pytest.approx(run.flow("mains_charger_ah")[here].sum(), rel=ALIKE)
        assert (stay.supply_a, stay.supply_w) == (stop.hookup_a, stop.hookup_a * stop.hookup_v)
        assert stay.price_per_kwh == stop.hookup_per_kwh
        assert stay.cost == (None if stop.hookup_per_kwh is None else stay.mains_kwh * stop.hookup_per_kwh)
        assert stay.trips == trips.trips(run, k)
    assert sum(stay.electric_heat_kwh for stay in found) > 1.0
    demo_stays = hookup.stays_of(demo())
    assert sum(stay.gas_heat_kwh for stay in demo_stays) > 0.0
    assert any(stay.cost is not None and stay.cost > 0.0 for stay in demo_stays)


def test_prices_that_are_not_given_are_the_mean_of_the_tours_own_for_the_vans_bottles() -> None:
    exchange = [Found(bottle="mine", price_per_kg=3.0), Found(bottle="other", price_per_kg=9.0)]
    stops = [Found(exchange=exchange), Found(exchange=[Found(bottle="mine", price_per_kg=4.0)]), Found(exchange=[]),
             Found(exchange=[Found(bottle="mine", price_per_kg=None)])]  # fmt: skip
    run: Any = Found(van=Found(gas=Found(bottles=(Found(name="mine"),))), tour=Found(stops=stops))
    assert hookup._gas_price(run) == 3.5
    assert hookup._mean([None, 0.25, 0.35]) == pytest.approx(0.3)
    assert hookup._mean([None]) is None
    found = hookup.answer(demo(), amps=(6.0,))
    prices = [stop.hookup_per_kwh for stop in demo().tour.stops if stop.hookup_per_kwh is not None]
    assert found.electricity_price_per_kwh == pytest.approx(sum(prices) / len(prices))
    assert found.gas_price_per_kg == hookup._gas_price(demo())
    assert found.supplies[0].cost == pytest.approx(found.supplies[0].heat_kwh * sum(prices) / len(prices))
    assert (found.outdoor_c, found.inside_c) == (-5.0, 20.0)
    assert found.stays == hookup.stays_of(demo())


def test_a_kilogram_of_a_mixture_gives_the_heat_of_its_parts() -> None:
    """12.872 and 12.69 kWh/kg by the lower heating value, at the mean efficiency of the stages."""
    van = VANS["butane"]
    first = van.gas.bottles[0]
    kwh = first.propane_share * 12.872 + (1.0 - first.propane_share) * 12.69
    efficiency = sum(stage.efficiency_share for stage in van.heater.stages) / len(van.heater.stages)
    assert 0.0 < first.propane_share < 1.0
    assert hookup.heat_of_gas_kwh(van) == pytest.approx(kwh * efficiency, rel=2e-3)


@pytest.mark.parametrize(
    ("amps", "volts", "fits"),
    [((), 230.0, False), ((6.0, 0.0), 230.0, False), ((63.0,), 260.0, True), ((63.1,), 230.0, False),
     ((6.0,), 89.9, False), ((6.0,), 90.0, True), ((6.0,), 260.1, False), ((0.5, 6.0), 230.0, True)],
)  # fmt: skip
def test_amps_and_volts_have_their_limits(amps: tuple[float, ...], volts: float, fits: bool) -> None:
    run = crowded("one_room")
    if fits:
        found = hookup.answer(run, amps=amps, volts=volts)
        assert [each.supply_a for each in found.supplies] == sorted(amps)
        assert found.supplies[0].supply_v == volts
        return
    with pytest.raises(InputFault, match=r"^a hook-up must have amps over 0 up to 63 A at 90 to 260 V, got "):
        hookup.answer(run, amps=amps, volts=volts)


# What trips


def test_each_users_watts_in_an_hour_are_by_hand() -> None:
    """The charger: what loads and battery take beyond sun and alternator, within its amps. The element: in hours in
    which heat was given or lacked while electricity may be used. The fridge: as long as it runs on mains."""
    run = crowded("electric_only")
    van, line = run.van, run.timeline
    found = trips.asked_w(run)
    battery_, power = van.power.battery, van.power
    share = np.minimum(1.0, run.stock("charge_ah")[:-1] / battery_.capacity_ah)
    node = run.node_c("battery")[:-1]
    for hour in range(run.count):
        if line.hookup_w[hour] == 0.0:
            assert all(watts[hour] == 0.0 for watts in found.values())
            continue
        accepted = battery_.max_charge_a * charge_limit_share(CHEMISTRY[battery_.chemistry], node[hour], share[hour])
        wanted = run.flow("load_ah")[hour] + accepted - run.flow("solar_ah")[hour] - run.flow("alternator_ah")[hour]
        amps = min(max(wanted, 0.0), power.mains_charger_a)
        assert found["charger"][hour] == pytest.approx(
            amps * battery_.nominal_v / power.mains_charger_efficiency_share, rel=ALIKE
        )
        heat = sum(run.flow(name)[hour] for name in (
            "electric_air_j", "electric_water_j", "gas_heat_air_j", "gas_heat_water_j"))  # fmt: skip
        heats = line.fuel[hour] > 0 and (heat > 0.0 or run.flow("below_s")[hour] > 0.0)
        assert found["element"][hour] == (max(van.heater.electric_w) if heats else 0.0)
        assert van.fridge is not None
        assert found["fridge"][hour] == (van.fridge.electric_w if van.fridge.use == "electric_first" else 0.0)
        assert found["meal"][hour] == line.cooking_electric_peak_w[hour]
    assert np.count_nonzero(found["charger"]) > 0 and np.count_nonzero(found["element"]) > 0
    gas_first = van.model_copy(update={"fridge": van.fridge.model_copy(update={"use": "gas"})})
    assert not trips.asked_w(replace(run, van=gas_first))["fridge"].any()
    electric = van.model_copy(update={"fridge": van.fridge.model_copy(update={"use": "electric_first"})})
    fridge = trips.asked_w(replace(run, van=electric))["fridge"]
    assert set(fridge[line.hookup_w > 0.0]) == {van.fridge.electric_w}
    assert not trips.asked_w(replace(run, van=van.model_copy(update={"fridge": None})))["fridge"].any()


def test_an_hour_trips_beyond_1_13_times_the_amps_of_its_own_stop() -> None:
    run = crowded("electric_only")
    parts, line = trips.asked_w(run), run.timeline
    whole = sum(parts.values())
    for stop in range(len(run.tour.stops)):
        over = [h for h in range(run.count)
                if line.stop[h] == stop and line.hookup_w[h] > 0.0 and whole[h] > 1.13 * line.hookup_w[h]]  # fmt: skip
        told = trips.trips(run, stop)
        assert [trip.at for trip in told] == [run.time(h).isoformat() for h in over]
        for trip, hour in zip(told, over, strict=True):
            assert trip.asked_w == pytest.approx(whole[hour], rel=ALIKE)
            by_user = (trip.meal_w, trip.fridge_w, trip.charger_w, trip.element_w)
            assert by_user == tuple(parts[name][hour] for name in ("meal", "fridge", "charger", "element"))
    one = trips.Trip(at="2027-01-20T07:00:00", asked_w=9.0, meal_w=1.0, fridge_w=2.0, charger_w=0.0, element_w=3.0)
    assert trips.users_of(one) == {"meal": 1.0, "fridge": 2.0, "element": 3.0}


# Money


def test_gas_costs_what_the_place_asks_that_has_this_bottle_and_is_open() -> None:
    """Monday the 18th: the first shop has another bottle, the second opens at ten, the third at noon for an hour."""
    stamps = pd.date_range("2027-01-18 09:00", periods=5, freq="h")
    exchange = [
        Found(bottle="other", open=(Span("00:00-24:00"),), price_per_kg=1.0),
        Found(bottle="mine", open=(Span("Mon 10:00-11:00"),), price_per_kg=2.0),
        Found(bottle="mine", open=(Span("Sun 00:00-24:00"), Span("12:30-12:45")), price_per_kg=3.0),
    ]
    run: Any = Found(
        tour=Found(stops=[Found(exchange=[]), Found(exchange=exchange)]),
        index=stamps,
        timeline=Found(stop=[1, 1, 1, 1, 0]),
        van=Found(gas=Found(bottles=(Found(name="mine"),))),
    )
    assert [money.gas_price_per_kg(run, hour, 0) for hour in range(5)] == [None, 2.0, None, 3.0, None]


def test_what_is_bought_is_dated_and_summed_by_fuel() -> None:
    run = demo()
    found = money.answer(run)
    times = [purchase.time for purchase in found.purchases]
    assert times == sorted(times)
    gas = [p for p in found.purchases if p.fuel == "gas"]
    mains = [p for p in found.purchases if p.fuel == "electricity"]
    swaps = [(hour, k) for k in range(run.bottles) for hour in np.flatnonzero(run.flow("swaps", k) > 0.0).tolist()]
    assert {(p.time, p.place) for p in gas} == {(run.time(hour), run.place(hour)) for hour, _ in swaps}
    brought = sum(run.flow("swap_in_kg").sum() + run.flow("swap_in_butane_kg").sum() for _ in range(1))
    assert sum(p.amount_kg or 0.0 for p in gas) == pytest.approx(brought, rel=ALIKE)
    assert found.gas_cost == pytest.approx(sum(p.cost or 0.0 for p in gas), rel=ALIKE)
    assert found.mains_cost == pytest.approx(sum(p.cost or 0.0 for p in mains), rel=ALIKE)
    assert found.total_cost == pytest.approx((found.gas_cost or 0.0) + (found.mains_cost or 0.0), rel=ALIKE)
    assert (found.unpriced_gas_kg, found.unpriced_mains_kwh) == (0.0, 0.0)
    for k, stop in enumerate(run.tour.stops):
        hours = np.flatnonzero((run.timeline.stop == k) & (run.flow("mains_j") > 0.0))
        here = [p for p in mains if p.place == stop.place]
        if not hours.size:
            assert here == []
            continue
        assert run.time(int(hours[0])) in [p.time for p in here]
    total = sum(p.amount_kwh or 0.0 for p in mains)
    assert total == pytest.approx(run.flow("mains_j").sum() / 3.6e6, rel=ALIKE)


def unpriced(run: Detail) -> Detail:
    stops = tuple(
        stop.model_copy(update={
            "hookup_per_kwh": None,
            "exchange": tuple(each.model_copy(update={"price_per_kg": None}) for each in stop.exchange),
        })
        for stop in run.tour.stops
    )  # fmt: skip
    return replace(run, tour=run.tour.model_copy(update={"stops": stops}))


def test_what_has_no_price_is_counted_by_weight_and_energy() -> None:
    run = demo()
    priced, found = money.answer(run), money.answer(unpriced(run))
    assert (found.gas_cost, found.mains_cost, found.total_cost) == (None, None, None)
    brought = sum(p.amount_kg or 0.0 for p in priced.purchases)
    assert found.unpriced_gas_kg == pytest.approx(brought, rel=ALIKE)
    assert found.unpriced_mains_kwh == pytest.approx(run.flow("mains_j").sum() / 3.6e6, rel=ALIKE)
    assert sum(week.unpriced_gas_kg for week in found.weeks) == pytest.approx(brought, rel=ALIKE)
    assert sum(week.unpriced_mains_kwh for week in found.weeks) == pytest.approx(found.unpriced_mains_kwh, rel=ALIKE)
    assert all((week.gas_cost, week.mains_cost) == (0.0, 0.0) for week in found.weeks)
    assert all((week.unpriced_gas_kg, week.unpriced_mains_kwh) == (0.0, 0.0) for week in priced.weeks)


def test_weeks_are_of_seven_local_days_from_the_tours_first() -> None:
    """The tour sets out at noon: its first week has six days and a half."""
    run = demo()
    found = money.answer(run).weeks
    first = run.index[0].date()
    week_of = np.array([(stamp.date() - first).days // 7 for stamp in run.index])
    used, kwh = swaps_made.used_kg(run), run.flow("mains_j") / 3.6e6
    price = np.array([run.tour.stops[int(stop)].hookup_per_kwh or 0.0 for stop in run.timeline.stop])
    gas = [p for p in money.answer(run).purchases if p.fuel == "gas"]
    assert len(found) == week_of[-1] + 1 > 2
    for week, each in enumerate(found):
        hours = np.flatnonzero(week_of == week)
        begin, end = run.time(int(hours[0])), run.time(int(hours[-1]) + 1)
        assert each.start == begin
        assert each.gas_used_kg == pytest.approx(used[hours].sum(), rel=ALIKE)
        assert each.mains_kwh == pytest.approx(kwh[hours].sum(), rel=ALIKE)
        assert each.mains_cost == pytest.approx((kwh * price)[hours].sum(), rel=ALIKE)
        bought = [p for p in gas if begin <= p.time < end]
        assert each.gas_bought_kg == pytest.approx(sum(p.amount_kg or 0.0 for p in bought), rel=ALIKE)
        assert each.gas_cost == pytest.approx(sum(p.cost or 0.0 for p in bought), rel=ALIKE)


# The evening before the coldest night


def night_line(hours: int, hookup: tuple[int, ...] = ()) -> Any:
    """From midnight of the 12th; hook-up in these hours."""
    watts = np.zeros(hours)
    watts[list(hookup)] = 1380.0
    return Found(index=pd.date_range("2027-01-12", periods=hours, freq="h"), hookup_w=watts)


def test_the_coldest_evening_is_ten_oclock_before_the_eleven_hours_of_least_mean() -> None:
    """Nights from hour 22, 46 and 70; hour 32 belongs to the first, 33 to none, and the last needs ten hours more."""
    line, mild = night_line(96), np.zeros(96)
    for cold, evening in ((32, 22), (46, 46), (22, 22), (56, 46), (80, 70)):
        outdoor_c = mild.copy()
        outdoor_c[cold] = -10.0
        assert coldest_evening(line, outdoor_c) == line.index[evening], cold
    outdoor_c = mild.copy()
    outdoor_c[33], outdoor_c[60] = -50.0, -1.0
    outdoor_c[50] = -0.5
    assert coldest_evening(line, outdoor_c) == line.index[46]
    assert coldest_evening(night_line(32), mild[:32]) is None
    assert coldest_evening(night_line(33), mild[:33]) == line.index[22]


def test_off_grid_the_coldest_evening_is_one_without_hook_up_where_there_is_one() -> None:
    outdoor_c = np.zeros(96)
    outdoor_c[50] = -10.0
    hooked = night_line(96, hookup=(46,))
    assert coldest_evening(hooked, outdoor_c) == hooked.index[46]
    assert coldest_evening(hooked, outdoor_c, off_grid=True) == hooked.index[22]
    everywhere = night_line(96, hookup=tuple(range(96)))
    assert coldest_evening(everywhere, outdoor_c, off_grid=True) == everywhere.index[46]


# A run in detail, and a tour made ready


def test_an_hour_is_found_by_local_time_or_by_an_instant() -> None:
    run = demo()
    first, last = run.timeline.edges[0], run.timeline.edges[-1]
    assert run.hour_of(first.to_pydatetime()) == 0
    assert run.hour_of(f"{first:%Y-%m-%dT%H}:59") == 0
    assert run.hour_of(f"{run.index[30]:%Y-%m-%d %H:%M}") == 30
    utc = run.index[30].tz_convert("UTC")
    assert run.hour_of(utc.to_pydatetime()) == run.hour_of(f"{utc:%Y-%m-%dT%H:%M}+00:00") == 30
    assert run.hour_of((last - pd.Timedelta(minutes=1)).to_pydatetime()) == run.count - 1
    for wrong in (last, first - pd.Timedelta(minutes=1)):
        with pytest.raises(InputFault, match=r"^the time must lie within the tour \("):
            run.hour_of(wrong.to_pydatetime())
    with pytest.raises(InputFault) as fault:
        run.hour_of("x" * 70)
    assert str(fault.value) == f'the time must read "2027-01-20 22:00", got "{"x" * 60}"; correct it.'
    assert run.time(run.count) == last.to_pydatetime()


def test_a_place_on_the_road_is_where_it_goes() -> None:
    run = demo()
    moving = int(np.flatnonzero(run.timeline.moving)[0])
    parked = int(np.flatnonzero(run.timeline.moving == 0)[0])
    assert run.place(moving) == f"on the way to {run.tour.stops[int(run.timeline.stop[moving])].place}"
    assert run.place(parked) == run.tour.stops[int(run.timeline.stop[parked])].place


def test_a_detail_of_a_result_and_of_a_tour_made_ready_is_the_same_run() -> None:
    loaded = load(None)
    result = simulate(loaded.van, loaded.tour, folder=loaded.folder)
    of_result, run = Detail.of(result), demo()
    assert Detail.of(run) is run
    for name in ("flows", "stocks", "trace", "totals"):
        assert np.array_equal(getattr(of_result.many, name), getattr(run.many, name)), name
    assert np.array_equal(of_result.rows, run.rows)
    again = run.again()
    assert np.array_equal(again.many.flows, run.many.flows)  # type: ignore[arg-type]
    warm = run.rows.copy()
    warm[:, A.TEMP_C] += 5.0
    mild = run.again(rows=warm)
    assert mild.rows is warm
    assert mild.flow("gas_out_kg").sum() < 0.95 * run.flow("gas_out_kg").sum()
    dry = run.again(wishes=run.wishes[:0])
    assert dry.flow("shower_l").sum() == 0.0 < run.flow("shower_l").sum()
    closed = run.hours.copy()
    closed["heater_allowed"] = 0
    assert run.again(hours=closed).flow("gas_heat_air_j").sum() == 0.0


def test_a_tour_made_ready_from_its_run_is_that_made_ready_anew() -> None:
    loaded = load(None)
    result = simulate(loaded.van, loaded.tour, folder=loaded.folder)
    file = Path("some.csv")
    one = Prepared.of_result(result, loaded, weather_file=file)
    other = Prepared.from_loaded(loaded)
    assert np.array_equal(one.rows, other.rows)
    assert one.hours.tobytes() == other.hours.tobytes()
    assert one.wishes.tobytes() == other.wishes.tobytes()
    assert one.built.arrays.tobytes() == other.built.arrays.tobytes()
    assert (one.van, one.tour, one.folder, one.described) == (other.van, other.tour, other.folder, other.described)
    assert one.described is loaded.description is not None
    assert (one.weather_file, other.weather_file) == (file, None)
    assert one.timeline is result.timeline
    assert one.weather is result.weather
    assert np.array_equal(one.run().totals, other.run().totals)


def test_hours_of_a_tour_alone_are_its_hours_with_their_draws() -> None:
    prepared = load_prepared(None)
    wished = prepared.wishes["quarter"]
    quarter = int(wished[len(wished) // 2])
    first = quarter // 4
    part = prepared.between(first, first + 1, start_c=7.0)
    assert part.hours_count == len(part.hours) == 1
    assert part.wishes["quarter"].tolist() == [int(q) - 4 * first for q in wished if 4 * first <= q < 4 * first + 4]
    assert (part.hours["start_c"][0], np.array_equal(part.rows, prepared.rows[first : first + 1])) == (7.0, True)
    assert prepared.between(first, first + 1).hours["start_c"][0] == prepared.hours["start_c"][first]
    assert len(prepared.between(0, prepared.hours_count).wishes) == len(wished)
    assert prepared.wishes["quarter"].tolist() == wished.tolist()
    for begin, end in ((-1, 5), (5, 5), (0, prepared.hours_count + 1)):
        with pytest.raises(
            InputFault, match=rf"^the hours must lie within the tour's {prepared.hours_count}, got {begin} "
        ):
            prepared.between(begin, end)


def test_other_setpoints_keep_the_heaters_bans_and_leave_the_tour_as_it_was() -> None:
    prepared = load_prepared(None)
    banned = ~np.asarray(prepared.timeline.heater_allowed, dtype=bool)
    assert banned.any()
    before = prepared.hours["set_c"].copy()
    set_c = prepared.with_setpoints(np.arange(4.0 * prepared.hours_count))["set_c"]
    assert np.isnan(set_c[banned]).all()
    assert np.array_equal(set_c[~banned], np.arange(4.0 * prepared.hours_count).reshape(-1, 4)[~banned])
    assert np.array_equal(prepared.hours["set_c"], before, equal_nan=True)


def test_a_bottle_holds_at_the_start_what_it_is_said_to_but_no_more_than_it_takes() -> None:
    bottles = [
        {"name": "a", "net_kg": 5.0, "tare_kg": 6.0, "diameter_m": 0.23},
        {"name": "b", "net_kg": 11.0, "start_kg": 4.0},
    ]
    van = one_room(gas={"bottles": bottles, "locker_zone": "outdoors"})
    prepared = Prepared.of(van, short_tour(van), folder=SAMPLES)
    assert prepared.start_kg().tolist() == [5.0, 4.0]
    assert prepared.net_kg().tolist() == [5.0, 11.0]
    run = Detail.of(prepared)
    assert prepared.gas_kg(prepared.run()) == pytest.approx(
        (run.flow("gas_out_kg") + run.flow("gas_out_butane_kg")).sum()
    )
    assert prepared.flow(prepared.run(), "gas_out_kg", 2)[0] == pytest.approx(run.flow("gas_out_kg").sum())
    assert prepared.flow(prepared.run(), "gas_out_kg")[0] == pytest.approx(run.flow("gas_out_kg", 0).sum())


def test_another_van_or_tour_keeps_the_weather_the_folder_and_what_was_described() -> None:
    prepared = small()
    for other in (prepared.with_van(prepared.van), prepared.with_tour(prepared.tour)):
        assert other.weather is prepared.weather
        assert (other.folder, other.described) == (prepared.folder, prepared.described)
        assert other.described is not None
        assert np.array_equal(other.rows, prepared.rows)


def test_scenario_rows_have_the_named_factors_in_their_columns() -> None:
    rows = factor_rows({"leakage_factor": np.array([1.5, 2.0]), "hot_water_factor": np.array([0.6, 0.7])}, 2)
    assert rows[:, A.LEAKAGE].tolist() == [1.5, 2.0]
    assert rows[:, A.HOT_WATER].tolist() == [0.6, 0.7]
    rest = np.delete(rows, [A.LEAKAGE, A.HOT_WATER, A.SETPOINT_K], axis=1)
    assert (rest == 1.0).all()
    assert (rows[:, A.SETPOINT_K] == 0.0).all()


def test_a_last_chance_closes_with_its_opening_or_when_gas_runs_short_in_it() -> None:
    """Openings of hours 2 to 5 and 20 to 24; short from hour 9 after the first, from hour 3 within it."""
    run: Any = Found(time=lambda hour: START + dt.timedelta(hours=hour), place=lambda hour: f"place {hour}")
    spans = np.array([[2, 5], [20, 24]])
    for k, short, close, next_hour in ((0, 9, 5, 20), (0, 3, 3, 20), (0, 2, 3, 20), (1, 30, 24, None)):
        chance = last_chance._chance(run, spans, k, short)
        first = int(spans[k, 0])
        assert (chance.open, chance.close) == (run.time(first), run.time(close))
        assert (chance.place, chance.short_at) == (f"place {first}", run.time(short))
        assert chance.next_open == (None if next_hour is None else run.time(next_hour))
        assert chance.next_place == (None if next_hour is None else f"place {next_hour}")


def test_gas_that_nothing_brings_is_short_when_the_last_bottle_is_empty() -> None:
    prepared = steady(-12.0)
    bottle = prepared.van.gas.bottles[0].model_copy(update={"start_kg": 2.0})
    gas = prepared.van.gas.model_copy(update={"bottles": (bottle,)})
    run = Detail.of(prepared.with_van(prepared.van.model_copy(update={"gas": gas})))
    found = bottle_plan.answer(run)
    short = int(np.flatnonzero(last_chance.out_of_gas(run))[0])
    assert found.short_at == run.time(short)
    assert (found.chances, found.swaps, found.short_of) == ((), (), ("gas",))
    assert run.left_kg(0)[short + 1] <= last_chance.LAST_OF_A_BOTTLE_KG
    assert found.reserve_kept is False
    assert found.needed_kg > 1.5 * found.burned_kg
