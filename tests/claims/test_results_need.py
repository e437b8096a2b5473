"""What a tour would burn if it were fed: the need behind reserve and bottle count."""

from __future__ import annotations

import re
from functools import cache

import numpy as np
import pytest
from small_tour import small

from budget.answers import bottle_plan, odds, runs_out, swaps_made
from budget.answers.detail import Detail
from budget.answers.ensemble import InTurn
from budget.answers.last_chance import out_of_gas
from budget.answers.prepared import Prepared
from budget.cli import summary as screen
from budget.engine import arrays as A
from budget.engine.batch import base_factors
from budget.moments import moment, short
from budget.report.first_out import causes, first_out, strip
from budget.report.headline import headline, sums
from budget.results.need import BATTERY, GAS, used_by_hour_kg
from budget.results.result import Result
from budget.rounding import rounded_up
from budget.simulation import simulate
from budget.van.gas import Bottle
from budget.wording import kilograms_needed


@cache
def with_supplies(battery_ah: float, gas_kg: float, propane_share: float = 1.0) -> Prepared:
    """Three winter nights off the grid with a full battery of this size and so much in one bottle of 15 kg."""
    prepared = small()
    bottle = Bottle(name="one", net_kg=15.0, start_kg=gas_kg, propane_share=propane_share)
    gas = prepared.van.gas.model_copy(update={"bottles": (bottle,)})
    battery = prepared.van.power.battery.model_copy(update={"capacity_ah": battery_ah, "start_share": 1.0})
    power = prepared.van.power.model_copy(update={"battery": battery})
    return prepared.with_van(prepared.van.model_copy(update={"gas": gas, "power": power}))


PLENTY = (5000.0, 15.0)


@pytest.mark.parametrize(
    ("supplies", "short_of"),
    [((20.0, 15.0), (BATTERY,)), ((5000.0, 2.0), (GAS,)), ((60.0, 1.0), (BATTERY, GAS))],
    ids=["battery", "gas", "both"],
)
def test_the_need_of_a_tour_that_runs_short_is_what_a_van_with_plenty_burns(
    supplies: tuple[float, float], short_of: tuple[str, ...]
) -> None:
    """A bottle changed in time is fuller and as cold as outdoors, which its locker feels: half a per cent."""
    short, plenty = Detail.of(with_supplies(*supplies)), Detail.of(with_supplies(*PLENTY))
    burned = float(used_by_hour_kg(short.built, short.many).sum())
    assert short.need.short_of == short_of
    assert plenty.need.short_of == ()
    assert burned < 0.9 * plenty.need.kg
    assert short.need.kg == pytest.approx(plenty.need.kg, rel=0.005)
    assert short.need.reserve_kg == pytest.approx(plenty.need.reserve_kg, rel=0.005)


def test_where_nothing_runs_short_the_need_is_what_was_burned() -> None:
    plenty = Detail.of(with_supplies(*PLENTY))
    assert (plenty.need.used_kg == used_by_hour_kg(plenty.built, plenty.many)).all()


@cache
def beside_the_element(gas_kg: float, nights: float = 0.0) -> Prepared:
    """The same on a hook-up of 6 A, which leaves 1 kW to the heater before any gas is burned: too little in this frost.
    ``nights`` of reserve."""
    prepared = with_supplies(5000.0, gas_kg)
    stop = prepared.tour.stops[0].model_copy(update={"hookup_a": 6.0})
    gas = prepared.van.gas.model_copy(update={"reserve_nights": nights})
    van = prepared.van.model_copy(update={"gas": gas})
    tour = prepared.tour.model_copy(update={"stops": (stop,)})
    return Prepared.of(van, tour, prepared.weather, folder=prepared.folder)


def test_gas_that_ends_is_short_though_the_electric_element_heats_on() -> None:
    short, plenty = Detail.of(beside_the_element(1.0)), Detail.of(beside_the_element(15.0))
    empty = np.flatnonzero(short.left_kg(0) <= 0.2)[0]
    assert short.flow("unserved_heating_kg").sum() == 0.0  # the engine books none beside the element
    assert (short.flow("electric_air_j")[empty:] > 0.0).mean() > 0.9
    assert (short.need.short_of, plenty.need.short_of) == ((GAS,), ())
    assert short.need.kg == pytest.approx(plenty.need.kg, rel=0.02)
    lacked = short.need.kg - float(used_by_hour_kg(short.built, short.many).sum())
    assert lacked > 0.5
    cooking_kg = short.flow("unserved_cooking_kg").sum()
    assert short.beside_element_kg.sum() + cooking_kg == pytest.approx(lacked, rel=0.02)
    assert plenty.beside_element_kg.sum() == 0.0


def test_gas_that_ends_beside_the_element_is_out_in_every_answer() -> None:
    prepared = beside_the_element(1.0)
    result = simulate(prepared.van, prepared.tour, folder=prepared.folder)
    run = Detail.of(result)
    empty = int(np.flatnonzero(run.left_kg(0) <= 0.2)[0])
    out = runs_out.answer(result)
    gas = next(supply for supply in out.supplies if supply.name == "gas")
    plan = bottle_plan.answer(result)
    assert out.first == "gas"
    assert gas.out_at is not None
    assert run.time(empty - 1) <= gas.out_at <= run.time(empty + 8)  # some hours of a low night setpoint lie between
    assert plan.short_at == gas.out_at
    assert plan.short_of == (GAS,)
    assert not any("lasts the tour without a change" in sentence for sentence in plan.sentences)
    said = headline(result, first_out(result))
    assert "is not on board; gas runs out first, " in said
    assert result.summary["gas"]["short_of"] == [GAS]
    assert result.summary["gas"]["unserved_by_use_kg"]["heating"] > 0.5
    assert any(notice.startswith("The heater was short of gas in ") for notice in result.notices)


def test_a_swap_without_which_only_the_element_would_heat_is_needed() -> None:
    """Neither reserve nor hob, so that nothing tells but what the flame beside the element lacks."""
    prepared = beside_the_element(1.0)
    hours = prepared.hours.copy()
    hours["exchange_open"][:, 0] = 1
    hours["cooking_kg"] = 0.0
    run = Detail.of(prepared).again(hours=hours)
    assert [swap.needed for swap in swaps_made.swaps_of(run)] == [True]


def test_butane_that_is_too_cold_to_boil_does_not_make_the_need_nothing() -> None:
    """Its heating value is 12.71 of propane's 12.87 kWh/kg, so that one per cent more is needed; half a per cent as
    above."""
    butane, propane = Detail.of(with_supplies(5000.0, 15.0, 0.0)), Detail.of(with_supplies(*PLENTY))
    assert used_by_hour_kg(butane.built, butane.many).sum() < 0.5 * propane.need.kg
    assert butane.need.kg == pytest.approx(propane.need.kg * 12.87 / 12.71, rel=0.005)


def test_butane_that_does_not_boil_is_no_bottle_too_few() -> None:
    prepared = with_supplies(5000.0, 15.0, 0.0)
    result = simulate(prepared.van, prepared.tour, folder=prepared.folder)
    said = headline(result, first_out(result))
    assert said.startswith('The gas of "one" is the wrong one for this cold: none flows at ')
    assert re.search(r"°C with 15 kg left\. Take propane, [\d.]+ kg with the reserve\. 3 nights want ", said)
    assert " of it is not had from the afternoon of 12 January on: too cold for " in said
    assert (
        next(told for name, told in screen.gas(result) if name == "planned")
        .partition(": ")[2]
        .startswith("as propane, since one does not flow in this cold")
    )
    plan = bottle_plan.answer(prepared)
    assert plan.sentences[0].startswith("The gas does not carry the tour: of the ")
    assert plan.sentences[0].endswith("though a bottle holds some: it was too cold to boil off fast enough.")
    assert plan.now[0].verdict.startswith("not empty but the wrong gas for this cold: ")
    assert (plan.reserve_kept, plan.not_had_kg) == (False, pytest.approx(plan.needed_kg - plan.burned_kg))


def test_the_plan_of_a_van_whose_battery_dies_is_the_plan_of_one_whose_battery_lasts() -> None:
    dies, lasts = bottle_plan.answer(with_supplies(20.0, 5.0)), bottle_plan.answer(with_supplies(5000.0, 5.0))
    assert dies.short_at == lasts.short_at is not None
    assert dies.planned_kg == pytest.approx(lasts.planned_kg, rel=0.005)  # as above
    assert (dies.as_if_powered, lasts.as_if_powered) == (True, False)
    assert dies.sentences[0].startswith("The battery cuts out on this tour. As it stands the heater stops with it and")
    said = [sentence for sentence in dies.sentences[1:] if not sentence.startswith(("Burned as it stands", "Full "))]
    assert said and all(sentence.startswith("With power: ") for sentence in said)
    assert not any("power" in sentence for sentence in lasts.sentences)


def test_a_bottle_that_ran_dry_before_is_said_to_be_empty_since_then_and_is_not_judged() -> None:
    """2 kg are gone in the first night: on the last morning nothing has been drawn for two days."""
    prepared = with_supplies(5000.0, 2.0)
    found = bottle_plan.answer(prepared, "2027-01-15T08:00")
    left = Detail.of(prepared).left_kg(0)
    since = Detail.of(prepared).time(int(np.flatnonzero(left > 0.1)[-1]))
    assert found.now[0].verdict == f"empty since {short(since)}: nothing to judge, change it where you can."
    assert found.readings[-1].contents_kg[0] <= 0.1


def test_bottles_are_judged_on_the_last_day_on_which_they_served_where_the_coldest_hour_finds_them_empty() -> None:
    prepared = with_supplies(5000.0, 2.0)
    run = Detail.of(prepared)
    coldest, empty = int(np.argmin(run.rows[:, A.TEMP_C])), int(np.flatnonzero(run.left_kg(0) <= 0.1)[0])
    assert empty < coldest
    judged = bottle_plan.hour_to_judge(run)
    assert run.left_kg(0)[judged] > 0.1
    assert run.rows[judged, A.TEMP_C] == run.rows[max(0, empty - 24) : empty, A.TEMP_C].min()
    assert bottle_plan.answer(prepared).at == run.time(judged)
    assert bottle_plan.hour_to_judge(Detail.of(with_supplies(*PLENTY))) == coldest


def test_gas_that_ends_with_and_without_power_says_both_dates_with_the_kilograms_of_the_one() -> None:
    """A battery that dies in the night, and a kilogram that is gone all the same."""
    prepared = with_supplies(60.0, 1.0)
    result = simulate(prepared.van, prepared.tour, folder=prepared.folder)
    gas = next(supply for supply in first_out(result) if supply.name == "Gas")
    powered = bottle_plan.answer(with_supplies(5000.0, 1.0)).short_at
    assert gas.when is not None and powered is not None
    stands = f"out on {moment(gas.when)} as it stands, with power out on {moment(powered)}; "
    assert gas.told.startswith(stands) and gas.told.endswith(" short to the end")
    short_of = "with power and gas to the end"
    (needed,) = [told for name, told in screen.gas(result) if name == "needed"]
    (burned,) = [told for name, told in screen.gas(result) if name == "burned"]
    by_day = rounded_up(result.need.kg / (len(result.flows) / 24.0), 0.1)
    assert needed.endswith(f" kg, {by_day:.1f} kg a day, {short_of}")
    assert burned.endswith(" kg as it stands")
    assert sums(result)[0][1] == f"gas as it stands; {short_of} {kilograms_needed(result.need.kg)}"


@cache
def two_bottles(first_kg: float, second_kg: float) -> Result:
    """Changed over by hand."""
    prepared = with_supplies(5000.0, 15.0)
    bottles = tuple(
        Bottle(name=name, net_kg=15.0, start_kg=kg, propane_share=1.0)
        for name, kg in (("a", first_kg), ("b", second_kg))
    )  # fmt: skip
    gas = prepared.van.gas.model_copy(update={"bottles": bottles, "changeover": "manual"})
    return simulate(prepared.van.model_copy(update={"gas": gas}), prepared.tour, folder=prepared.folder)


def test_a_night_on_which_nobody_changed_over_is_told_though_nothing_runs_out() -> None:
    """2 kg are gone in the small hours, and the second bottle stands full beside."""
    result = two_bottles(2.0, 15.0)
    hours = runs_out.held_up_by_h(Detail.of(result))["no_hand"]
    assert hours >= 2
    told = (
        f"for {hours} h, first in the night of 12 January, a bottle was empty and nobody was awake to change over: "
        'changeover = "automatic" spares that'
    )
    said = headline(result, first_out(result))
    assert said.startswith(f"F{told[1:]}. It is too cold for ") and "nothing on board runs out" not in said
    assert ("asleep", told) in screen.gas(result)
    assert ("short", "heating: nobody was awake to change over") in screen.gas(result)


def test_causes_are_told_by_their_hours_the_main_one_first() -> None:
    result = two_bottles(2.0, 1.0)
    run = Detail.of(result)
    hours, out = runs_out.held_up_by_h(run), int(out_of_gas(run).sum())
    assert out > hours["no_hand"] > 0
    assert causes(run).startswith(f"every bottle was empty ({out} h); nobody was awake to change over (")
    lines = dict(screen.gas(result))
    assert lines["short"].endswith(causes(run))
    assert "asleep" in lines
    assert "; gas runs out first, " in headline(result, first_out(result))


@pytest.mark.parametrize(
    ("gas_kg", "saved", "told"),
    [
        (4.0, True, "; with power it is out on "),
        (12.0, True, "; with power .* at the least, on .*, less than the reserve of "),
        (15.0, False, "lasts; .*; so it does with power, when the tour burns "),
    ],
    ids=["out with power", "nearly out with power", "lasts with power"],
)
def test_gas_that_only_a_dead_heater_saves_is_no_clean_pass(gas_kg: float, saved: bool, told: str) -> None:
    """It lasts on this tour in each case; with power it would burn 9.9 kg and keep 5.0 in reserve."""
    prepared = with_supplies(20.0, gas_kg)
    result = simulate(prepared.van, prepared.tour, folder=prepared.folder)
    supplies = first_out(result)
    gas = next(supply for supply in supplies if supply.name == "Gas")
    assert (gas.when, gas.saved) == (None, saved)
    assert re.search(told, gas.told)
    row = next(row for row in strip(supplies).split("<li") if "<b>Gas</b>" in row)
    assert row.startswith(' class="saved"' if saved else ">")
    assert gas.told.startswith("no pass: ") == (gas.lasts_share < 1.0) == saved
    if "out on" in told:
        lasts = bottle_plan.answer(with_supplies(5000.0, gas_kg))
        assert lasts.short_at is not None and moment(lasts.short_at) in gas.told


def test_odds_count_gas_as_if_the_battery_lasted() -> None:
    """The same winters and vans, the battery small or large; each scenario's need within the half per cent above."""
    few, many = (
        odds.answer(with_supplies(ah, 15.0), scenarios=12, seed=1, executor=InTurn()).kept for ah in (20.0, 5000.0)
    )
    assert (few.cut_out_h > 0.0).all()
    assert few.gas_kg.mean() < 0.9 * many.gas_kg.mean()
    np.testing.assert_allclose(few.need_kg, many.gas_kg, rtol=0.005)


def test_a_fed_run_never_cuts_out_and_leaves_no_flame_short() -> None:
    fed = with_supplies(20.0, 2.0).fed()
    many = fed.run(base_factors())
    assert many.trace[0, -1, 5] == 0.0
    assert sum(fed.flow(many, f"unserved_{use}_kg")[0] for use in ("heating", "cooking", "fridge")) < 0.001
