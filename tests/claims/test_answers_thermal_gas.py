"""Off-take in the cold, the dated plan, last chances and scale readings."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from sample_vans import sample_vans
from small_tour import steady as still_weather

from budget.answers import bottle_now, bottle_plan, last_chance, runs_out, swaps_made
from budget.answers.detail import Detail
from budget.answers.offtake import Offtake, full_fire_kg_per_h, offtake
from budget.answers.prepared import Prepared, load_prepared
from budget.moments import short
from budget.physics import bottle as physics
from budget.physics.properties import STANDARD_PRESSURE_PA
from budget.van.gas import Bottle

VANS = sample_vans()
PROPANE = Bottle(name="11 kg")
MIXTURE = Bottle(name="11 kg, mixture", propane_share=0.5)


@cache
def demo() -> Detail:
    return Detail.of(load_prepared(None))


@cache
def still() -> Prepared:
    """Two nights off the grid at -10 °C."""
    return still_weather(-10.0, nights=2)


def given(bottle: Bottle, kg: float, cold_c: float, demand: float = 0.357) -> Offtake:
    return offtake(
        bottle, propane_kg=kg * bottle.propane_share, butane_kg=kg * (1.0 - bottle.propane_share), bottle_c=cold_c,
        locker_c=cold_c, pressure_pa=STANDARD_PRESSURE_PA, need_bar=0.4, demand_kg_per_h=demand,
    )  # fmt: skip


@pytest.mark.parametrize("bottle", [PROPANE, MIXTURE], ids=["propane", "mixture"])
@pytest.mark.parametrize("kg", [11.0, 4.0, 1.0])
def test_colder_never_lengthens_full_fire_nor_raises_off_take(bottle: Bottle, kg: float) -> None:
    found = [given(bottle, kg, cold_c) for cold_c in np.arange(20.0, -41.0, -5.0)]
    hours = [48.0 if each.full_fire_h is None else each.full_fire_h for each in found]
    assert hours == sorted(hours, reverse=True)
    for each in ("limit_kg_per_h", "lasting_kg_per_h"):
        rates = [getattr(flow, each) for flow in found]
        assert rates == sorted(rates, reverse=True)
    assert hours[-1] == 0.0


@pytest.mark.parametrize("cold_c", [10.0, -5.0, -15.0, -25.0])
def test_a_bottle_gives_what_it_loses_and_no_more_than_it_holds(cold_c: float) -> None:
    """Demand × time = contents at the start less what stays behind; the mass book of the small march."""
    for kg in (11.0, 3.0):
        flow = given(PROPANE, kg, cold_c)
        assert flow.full_fire_h is not None
        assert 0.357 * flow.full_fire_h == pytest.approx(kg - flow.stays_behind_kg, abs=1e-9)
        assert flow.stays_behind_kg >= 0.0


def test_fuller_lasts_longer() -> None:
    hours = [given(PROPANE, kg, -15.0).full_fire_h or 0.0 for kg in (1.0, 3.0, 6.0, 11.0)]
    assert hours == sorted(hours)
    assert hours[-1] > 2.0 * hours[1]


def test_lasting_off_take_is_the_heat_through_the_wall_over_the_latent_heat() -> None:
    """Full: bottom 0.0707 m² and wall π 0.3 (0.305 + 0.05) m² make 0.405 m², at 8 W/m²K 3.24 W/K.

    Propane stands at 1.013 + 0.4 bar at -34.3 °C (CoolProp's 1.111 bar at -40 and 2.445 at -20 °C, ln p straight over
    1/T): at -10 °C 24.3 K drive 78.7 W, and 417 kJ/kg there make it 0.68 kg/h.
    """
    flow = given(PROPANE, 11.0, -10.0)
    assert flow.limit_c == pytest.approx(-34.3, abs=0.2)  # ln p over 1/T is not quite straight over 20 K
    assert flow.lasting_kg_per_h == pytest.approx(0.68, rel=0.01)  # two printed digits and the temperature's 0.2 K


def test_practitioners_11_kg_gives_about_0_3_kg_per_h_for_long_and_more_for_a_while() -> None:
    """Common practice without temperature or level, so plausibility only: half full at 0 °C."""
    flow = given(PROPANE, 5.5, 0.0)
    assert 0.2 <= flow.lasting_kg_per_h <= 1.2
    assert flow.limit_kg_per_h > flow.lasting_kg_per_h


def test_full_fire_of_4_kw_burns_0_357_kg_per_h() -> None:
    """4 kW / 0.87 / 12.872 kWh/kg, lower heating value of propane."""
    assert full_fire_kg_per_h(VANS["demo"], 1.0) == pytest.approx(4.0 / 0.87 / 12.872, rel=1e-3)


def test_empty_cold_and_serving_are_told_apart() -> None:
    empty = given(PROPANE, 0.0, 5.0)
    cold = given(of_share(0.0), 8.0, -3.0)
    fit = given(PROPANE, 11.0, 5.0)
    assert bottle_now.verdict(0.0, 5.0, 0.4, empty) == "empty (0.40 kg drawn in the 6 h before): change it."
    assert bottle_now.verdict(8.0, -3.0, 0.4, cold).startswith("not empty but cold: 8.0 kg left at -3 °C, ")
    assert bottle_now.verdict(11.0, 5.0, 0.0, fit).startswith("serves: 11.0 kg left at 5 °C, ")


def of_share(propane_share: float) -> Bottle:
    return PROPANE.model_copy(update={"propane_share": propane_share})


def test_the_scale_reads_tare_and_contents_and_falls_by_what_was_used() -> None:
    """Between two mornings: contents fall by the gas drawn and rise by what swaps brought, less what they took."""
    run = demo()
    found = bottle_plan.answer(run)
    tares = [bottle.tare_kg for bottle in run.van.gas.bottles]
    change = run.flow("swap_in_kg") + run.flow("swap_in_butane_kg")
    change -= run.flow("swap_out_kg") + run.flow("swap_out_butane_kg") + swaps_made.used_kg(run)
    assert len(found.readings) == 24  # mornings
    for first, second in zip(found.readings, found.readings[1:], strict=False):
        hours = slice(run.hour_of(first.time), run.hour_of(second.time))
        assert sum(second.contents_kg) - sum(first.contents_kg) == pytest.approx(change[hours].sum(), abs=1e-9)
        assert first.scale_kg == tuple(t + c for t, c in zip(tares, first.contents_kg, strict=True))


def test_without_its_last_chances_gas_is_short_when_told_and_with_them_it_is_not() -> None:
    run = demo()
    chances, short = last_chance.last_chances(run)
    nowhere = run.hours.copy()
    nowhere["exchange_open"] = 0
    alone = last_chance.short_of_gas(run.again(hours=nowhere))
    assert chances, "the demo needs an exchange"
    assert alone is not None
    assert chances[0].short_at == run.time(alone)
    allowed = nowhere.copy()
    for chance in chances:
        span = slice(run.hour_of(chance.open), run.hour_of(chance.close))
        allowed["exchange_open"][span] = run.hours["exchange_open"][span]
        assert chance.close <= chance.short_at
    assert last_chance.short_of_gas(run.again(hours=allowed)) == short


def test_with_gas_without_end_there_is_nothing_to_plan() -> None:
    prepared = load_prepared(None)
    bottles = tuple(b.model_copy(update={"net_kg": 100.0}) for b in prepared.van.gas.bottles)
    van = prepared.van.model_copy(update={"gas": prepared.van.gas.model_copy(update={"bottles": bottles})})
    found = bottle_plan.answer(prepared.with_van(van))
    assert (found.chances, found.short_at) == ((), None)
    assert found.sentences[0] == "The gas on board at departure lasts the tour without a change."


def test_reserve_is_nights_at_the_use_of_the_three_days_before() -> None:
    run = demo()
    found = bottle_plan.answer(run, "2027-01-21 06:00")
    hour = run.hour_of("2027-01-21 06:00")
    by_hand = swaps_made.used_kg(run)[hour - 72 : hour].sum() / 3.0
    assert found.reserve_kg_per_day == pytest.approx(by_hand, rel=1e-12)
    assert found.reserve_kg == pytest.approx(run.van.gas.reserve_nights * by_hand, rel=1e-12)


def test_run_and_plan_keep_the_same_reserve_at_the_hardest_three_days() -> None:
    """By hand: the greatest sum of 72 hours in a row over three days, times the reserve nights."""
    found, need = bottle_plan.answer(demo()), demo().need
    used = swaps_made.used_kg(demo())
    hardest = max(used[first : first + 72].sum() for first in range(len(used) - 71)) / 3.0
    assert found.reserve_kg == need.reserve_kg == pytest.approx(demo().van.gas.reserve_nights * hardest, rel=1e-12)
    assert (found.burned_kg, found.planned_kg) == (found.needed_kg, found.needed_kg + found.reserve_kg)


def test_a_swap_that_is_not_needed_is_told_and_the_gas_lasts_without_it_but_not_without_the_one_before() -> None:
    """Two kelvin warmer the demo changes bottles by its rule four and six days before its end, and needs neither."""
    run = Detail.of(load_prepared(None, ["weather.offset_k=2"]))
    found = bottle_plan.answer(run)
    needed = sum(swap.needed for swap in found.swaps)
    assert [swap.needed for swap in found.swaps] == [True] * needed + [False] * (len(found.swaps) - needed)
    assert 0 < needed < len(found.swaps)

    def least_kg(first_without: int) -> float:
        hours = run.hours.copy()
        hours["exchange_open"][run.hour_of(found.swaps[first_without].time) :] = 0
        alone = run.again(hours=hours)
        return float(np.sum([alone.left_kg(k) for k in range(run.bottles)], axis=0).min())

    assert least_kg(needed) >= found.reserve_kg > least_kg(needed - 1)
    told = [sentence for sentence in found.sentences if "not needed, what is on board lasts" in sentence]
    assert len(told) == len(found.swaps) - needed
    for sentence, swap in zip(told, found.swaps[needed:], strict=True):
        assert sentence.startswith(short(swap.time))
    assert any(sentence.startswith("A swap is not needed where") for sentence in found.sentences)


def test_a_last_chance_that_the_plan_takes_is_not_asked_for_again() -> None:
    said = bottle_plan.answer(demo()).sentences
    assert not any(sentence.startswith("Change gas before") for sentence in said)
    assert said[0].startswith("This plan swaps in time, on Mon 18 Jan 14:00, before the last chance ends on ")


def test_gas_brought_is_burned_handed_back_or_left_at_the_end() -> None:
    """On board at departure + brought = burned + handed back + left at the end; the books close to rounding."""
    run, found = demo(), bottle_plan.answer(demo())
    start_kg = sum(run.left_kg(k)[0] for k in range(run.bottles))
    brought_kg = sum(swap.added_kg for swap in found.swaps)
    out_kg = found.burned_kg + found.handed_back_kg + sum(found.end_kg)
    assert start_kg + brought_kg == pytest.approx(out_kg, abs=1e-6)
    assert any(sentence.startswith("Left at the end: bottle 1 ") for sentence in found.sentences)


def test_runs_out_names_the_first_and_every_strip_stays_between_nothing_and_full() -> None:
    found = runs_out.answer(demo())
    out = [supply.out_at for supply in found.supplies if supply.out_at is not None]
    first = next((s for s in found.supplies if s.name == found.first), None)
    assert (first.out_at if first else None) == (min(out) if out else None)
    for supply in found.supplies:
        assert len(supply.left_share) == demo().count + 1
        assert -1e-9 <= min(supply.left_share) <= max(supply.left_share) <= 1.0 + 1e-9
        assert supply.lowest_share == min(supply.left_share)


def test_half_the_water_runs_dry_and_is_told() -> None:
    prepared = load_prepared(None)
    fresh = prepared.van.water.fresh.model_copy(update={"capacity_l": 25.0, "start_l": 25.0})
    van = prepared.van.model_copy(update={"water": prepared.van.water.model_copy(update={"fresh": fresh})})
    dry = next(s for s in runs_out.answer(prepared.with_van(van)).supplies if s.name == "fresh")
    assert dry.out_at is not None
    assert dry.short_h > 0


def test_wetted_wall_of_the_docstring_above() -> None:
    assert physics.wetted_area_m2(1.0, 0.3, 11.0) == pytest.approx(0.405, abs=0.002)  # digits of the sum by hand


def test_a_regulator_that_is_too_small_is_told_apart_from_cold_and_from_empty() -> None:
    """A full warm bottle behind 0.2 kg/h where full fire asks 0.357."""
    flow = offtake(
        PROPANE, propane_kg=11.0, butane_kg=0.0, bottle_c=15.0, locker_c=15.0, pressure_pa=STANDARD_PRESSURE_PA,
        need_bar=0.4, demand_kg_per_h=0.357, through_kg_per_h=0.2,
    )  # fmt: skip
    assert (flow.limit_kg_per_h, flow.full_fire_h, flow.stays_behind_kg) == (0.2, 0.0, 11.0)
    said = bottle_now.verdict(11.0, 15.0, 0.3, flow, 0.2)
    assert said.startswith("neither empty nor cold: 11.0 kg left")
    assert "let through 0.20 kg/h where full fire asks 0.36" in said
    enough = replace(flow, limit_kg_per_h=0.357, full_fire_kg_per_h=0.357, full_fire_h=30.0)
    assert bottle_now.verdict(11.0, 15.0, 0.3, enough, 0.357).startswith("serves: 11.0 kg left"), "just what is asked"


HELD_UP: dict[str, dict[str, Any]] = {
    "regulator": {"bottles": (PROPANE,), "regulator_kg_per_h": 0.1},
    "cold": {"bottles": (PROPANE.model_copy(update={"propane_share": 0.0}),)},
    "no_hand": {"bottles": (PROPANE.model_copy(update={"start_kg": 2.3}), PROPANE), "changeover": "manual"},
}


@pytest.mark.parametrize("cause", HELD_UP)
def test_gas_that_is_short_with_some_left_in_a_bottle_says_the_cause_that_holds(cause: str) -> None:
    """A regulator for a third of full fire; butane in frost; a first bottle that runs empty while everyone sleeps."""
    prepared = still()
    gas = prepared.van.gas.model_copy(update=HELD_UP[cause])
    found = runs_out.answer(prepared.with_van(prepared.van.model_copy(update={"gas": gas})))
    supply = next(each for each in found.supplies if each.name == "gas")
    assert max(supply.held_up_by_h, key=lambda name: supply.held_up_by_h[name]) == cause
    assert sum(supply.held_up_by_h.values()) == supply.held_up_h > 0
    said = next(
        sentence
        for sentence in found.sentences
        if sentence.startswith(f"For {supply.held_up_h} h the gas could not be had")
    )
    for name, words in runs_out.CAUSE_WORDS.items():
        assert (words in said) == (name in supply.held_up_by_h)


def test_an_empty_battery_or_plenty_of_gas_holds_nothing_up() -> None:
    supply = next(each for each in runs_out.answer(still()).supplies if each.name == "gas")
    assert (supply.held_up_h, supply.held_up_by_h) == (0, {})
