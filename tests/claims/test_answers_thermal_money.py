"""Hook-up and money: amps, watts, prices."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sample_tours import short_tour
from sample_vans import sample_vans
from small_tour import small

from budget.answers import hookup, hookup_words, money
from budget.answers.conditions import LARGE_W, Conditions, hold, unlimited, with_output
from budget.answers.detail import Detail
from budget.answers.prepared import Prepared, load_prepared
from budget.answers.trips import Trip, asked_w, spans
from budget.engine.van_arrays import build_van
from budget.errors import InputFault

SAMPLES = Path(__file__).parents[2] / "weather_samples"
VANS = sample_vans()


@cache
def demo() -> Detail:
    return Detail.of(load_prepared(None))


@settings(max_examples=25, deadline=None)
@given(amps=st.floats(1.0, 32.0), name=st.sampled_from(["electric_only", "demo", "heavy"]))
def test_halving_the_amps_never_adds_heat_of_the_element_and_nothing_exceeds_the_supply(amps: float, name: str) -> None:
    van = VANS[name]
    whole, half = hookup.shared_w(van, amps * 230.0), hookup.shared_w(van, amps * 115.0)
    assert half[2] <= whole[2] + 1e-6
    assert sum(whole) <= amps * 230.0 * (1.0 + 1e-9)
    assert min(whole) >= 0.0


def test_230_v_arithmetic() -> None:
    found = hookup.answer(demo(), amps=(3.0, 16.0))
    assert [each.supply_w for each in found.supplies] == [690.0, 3680.0]
    for each in found.supplies:
        assert each.fridge_w + each.charger_w + each.element_w + each.spare_w == pytest.approx(each.supply_w, rel=1e-12)


def test_more_amps_hold_more_cold() -> None:
    found = hookup.answer(demo(), amps=(16.0, 6.0)).supplies
    six, sixteen = found
    assert six.supply_a == 6.0
    for room in ("at_20_c", "at_16_c", "at_12_c"):
        low, high = sixteen.lowest_c[room], six.lowest_c[room]
        assert low is not None and high is not None
        assert low < high


def test_practitioners_6_a_cannot_hold_20_c_in_a_van_of_70_w_per_k_at_minus_5() -> None:
    """1380 W less the charger against 25 K × 70 W/K = 1750 W; the demo van loses about that."""
    six = hookup.answer(demo(), amps=(6.0,), outdoor_c=-5.0).supplies[0]
    assert not six.holds
    assert len({each.needed_w for each in hookup.answer(demo(), amps=(3.0, 16.0)).supplies}) == 1
    needed = hold(build_van(with_output(unlimited(demo().van), LARGE_W)), Conditions(outdoor_c=-5.0), 20.0).heat_w
    assert needed / 25.0 == pytest.approx(70.0, rel=0.15)  # the demo van at -5 °C, wind 2 m/s


def test_break_even_is_where_a_kwh_of_heat_costs_the_same_on_both() -> None:
    """12.872 kWh/kg × mean efficiency 0.88: 3.40 a kilogram is 0.30 a kWh of heat."""
    found = hookup.answer(demo(), amps=(6.0,), gas_per_kg=3.40, electricity_per_kwh=0.30)
    assert found.heat_of_gas_kwh == pytest.approx(12.872 * 0.88, rel=1e-3)
    assert found.break_even_per_kwh == pytest.approx(3.40 / (12.872 * 0.88), rel=1e-3)
    assert found.break_even_per_kg == pytest.approx(0.30 * 12.872 * 0.88, rel=1e-3)


def test_where_no_price_is_given_none_is_assumed() -> None:
    van = VANS["electric_only"]
    found = hookup.answer(Prepared.of(van, short_tour(van)), amps=(10.0,))
    assert (found.gas_price_per_kg, found.electricity_price_per_kwh) == (None, None)
    assert (found.break_even_per_kwh, found.break_even_per_kg, found.supplies[0].cost) == (None, None, None)
    assert any(sentence.endswith("the tour gives no price, so none is compared.") for sentence in found.sentences)
    told = money.answer(Prepared.of(van, short_tour(van)))
    assert (told.total_cost, told.gas_cost) == (None, None)
    assert [sentence[:21] for sentence in told.sentences] == ["No price is given for"] * 2
    assert told.mains_cost is None
    assert told.unpriced_mains_kwh > 0.0


def test_the_stays_add_up_to_the_mains_of_the_tour() -> None:
    run = demo()
    found = hookup.answer(run, amps=(6.0,))
    assert sum(stay.mains_kwh for stay in found.stays) == pytest.approx(run.flow("mains_j").sum() / 3.6e6, rel=1e-9)
    for stay in found.stays:
        assert stay.over_h == len(stay.trips)


def test_a_hook_up_without_amps_is_refused() -> None:
    with pytest.raises(InputFault) as fault:
        hookup.answer(demo(), amps=(0.0,))
    assert str(fault.value) == (
        "a hook-up must have amps over 0 up to 63 A at 90 to 260 V, got 0 A at 230 V; correct them."
    )


def test_weeks_add_up_to_the_tour_and_to_its_purchases() -> None:
    run = demo()
    found = money.answer(run)
    used = run.flow("gas_out_kg").sum() + run.flow("gas_out_butane_kg").sum()
    assert sum(week.gas_used_kg for week in found.weeks) == pytest.approx(used, rel=1e-9)
    assert sum(week.mains_kwh for week in found.weeks) == pytest.approx(run.flow("mains_j").sum() / 3.6e6, rel=1e-9)
    assert sum(week.gas_cost + week.mains_cost for week in found.weeks) == pytest.approx(found.total_cost, rel=1e-9)
    assert [week.start for week in found.weeks] == sorted(week.start for week in found.weeks)


def test_a_tour_that_buys_nothing_says_so_and_one_that_is_given_its_power_pays_nothing() -> None:
    alone = small()
    assert money.answer(alone).total_cost == 0
    assert money.answer(alone).sentences == (
        "No fuel is bought on this tour: what was on board at departure is paid already.",
    )
    stop = alone.tour.stops[0].model_copy(update={"hookup_a": 10.0, "hookup_per_kwh": 0.0})
    free = money.answer(alone.with_tour(alone.tour.model_copy(update={"stops": (stop,)})))
    assert free.sentences[0].startswith("Bought on the way: 0.00, ")
    stop = stop.model_copy(update={"hookup_per_kwh": None})
    unknown = money.answer(alone.with_tour(alone.tour.model_copy(update={"stops": (stop,)})))
    assert (unknown.total_cost, unknown.gas_cost) == (None, 0)
    assert unknown.sentences == (
        f"No price is given for {unknown.unpriced_mains_kwh:.1f} kWh of electricity; it is not counted.",
    )


def test_a_purchase_costs_its_amount_times_its_price() -> None:
    found = money.answer(demo())
    assert {purchase.fuel for purchase in found.purchases} == {"gas", "electricity"}
    for purchase in found.purchases:
        amount = purchase.amount_kg if purchase.fuel == "gas" else purchase.amount_kwh
        price = purchase.price_per_kg if purchase.fuel == "gas" else purchase.price_per_kwh
        assert amount is not None and price is not None
        assert purchase.cost == pytest.approx(amount * price, rel=1e-12)


def test_an_hour_trips_by_what_is_on_in_it_and_not_by_all_that_is_on_board() -> None:
    """The demo's 2000 W element, 20 A charger (301 W) and meals: each user's watts in an hour are its plate's or none,
    what is on adds up, and more amps trip in fewer hours."""
    run = demo()
    parts, line = asked_w(run), run.timeline
    assert set(np.unique(parts["element"])) == {0.0, 2000.0}
    assert parts["element"][line.fuel == 0].sum() == 0.0
    assert 0.0 < parts["charger"].max() <= 20.0 * 12.8 / 0.85 + 1e-9
    assert all(parts[name][line.hookup_w == 0.0].sum() == 0.0 for name in parts)
    full = (run.stock("charge_ah")[:-1] >= run.stock("charge_ah").max() - 1e-9) & (line.hookup_w > 0.0)
    assert full.any() and parts["charger"][full].max() < 150.0  # a full battery takes the loads alone
    found = hookup.answer(run, amps=(6.0,))
    tripping = [trip for stay in found.stays for trip in stay.trips]
    assert tripping
    hooked_h = int((line.hookup_w > 0.0).sum())
    assert len(tripping) < hooked_h
    for trip in tripping:
        assert trip.asked_w == pytest.approx(trip.meal_w + trip.fridge_w + trip.charger_w + trip.element_w, rel=1e-12)
    for stay in found.stays:
        assert all(trip.asked_w > stay.supply_w for trip in stay.trips)
    doubled = tuple(stop.model_copy(update={"hookup_a": 2.0 * stop.hookup_a}) for stop in run.tour.stops)
    wider = Prepared.of(run.van, run.tour.model_copy(update={"stops": doubled}))
    assert sum(stay.over_h for stay in hookup.answer(wider, amps=(6.0,)).stays) < len(tripping)


def test_a_kettle_of_some_minutes_trips_by_its_full_power_and_only_in_its_hours() -> None:
    """0.2 kg/h of gas stand for 0.2 × 12.87 × 0.6 = 1544 W on mains: over 5 A (1150 W) at the two meals alone, though
    a quarter of an hour of it is a mean of 386 W."""
    van = VANS["electric_only"].model_copy(update={"fridge": None})
    van = van.model_copy(update={"heater": van.heater.model_copy(update={"electric_w": ()})})
    tour = short_tour(van, cooking=[{"at": "07:30", "minutes_min": 15.0, "electric_on_hookup": True}])
    tour = tour.model_copy(update={"stops": tuple(stop.model_copy(update={"hookup_a": 5.0}) for stop in tour.stops)})
    run = Detail.of(Prepared.of(van, tour, folder=SAMPLES))
    found = [trip for stay in hookup.answer(run, amps=(6.0,)).stays for trip in stay.trips]
    assert [trip.at[11:13] for trip in found] == ["07", "07", "07"]
    assert found[0].meal_w == pytest.approx(1544.4, abs=0.1)
    assert run.timeline.cooking_electric_w.max() == pytest.approx(1544.4 / 4.0, abs=0.1)


def test_hours_on_end_that_trip_with_the_same_users_are_put_together() -> None:
    """07, 08 and 10 h with the element, then 11 h with a meal beside it: three spans of 2, 1 and 1 hours."""

    def trip(hour: int, meal_w: float = 0.0) -> Trip:
        at = f"2027-01-20T{hour:02d}:00:00+02:00"
        return Trip(at=at, asked_w=2000.0 + meal_w + hour, meal_w=meal_w, fridge_w=0.0, charger_w=0.0, element_w=2000.0)

    found = spans("here", [trip(7), trip(8), trip(10), trip(11, 1500.0)])
    assert [(span.start.hour, span.hours, span.users) for span in found] == [
        (7, 2, "element"), (10, 1, "element"), (11, 1, "meal, element"),
    ]  # fmt: skip
    assert found[0].asked_w == 2008.0


def test_which_energy_is_cheaper_is_one_sentence_with_both_prices_and_the_one_that_turns_it() -> None:
    """The demo's propane gives 12.872 kWh/kg times its stages' mean efficiency; by hand 11.3 kWh of heat."""
    kwh = hookup.heat_of_gas_kwh(VANS["demo"])
    content = f"{kwh:.1f} kWh of heat a kg on the lower heating value"

    def said(gas: float | None, power: float | None) -> str:
        told = hookup_words.cheaper(kwh, gas, power)
        if gas is not None and power is not None:
            assert told in hookup.answer(demo(), amps=(6.0,), gas_per_kg=gas, electricity_per_kwh=power).sentences
        return told

    assert said(2.0 * kwh, 3.0) == (
        f"Heat is cheaper from gas here: 2.00 a kWh of heat ({2.0 * kwh:.2f} a kg at {content}) against 3.00 a kWh of "
        "electricity, which is cheaper below 2.00 a kWh."
    )
    assert said(2.0 * kwh, 1.0) == (
        f"Heat is cheaper from electricity here: 1.00 a kWh against 2.00 a kWh of heat ({2.0 * kwh:.2f} a kg at "
        f"{content}) from gas, which is cheaper below {kwh:.2f} a kg."
    )
    assert said(2.0 * kwh, None) == (
        f"Gas costs 2.00 a kWh of heat ({2.0 * kwh:.2f} a kg at {content}): electricity is cheaper below 2.00 a kWh, a "
        "price the tour does not give."
    )
    assert said(None, 1.0) == (
        f"Electricity costs 1.00 a kWh, and gas gives {content}: gas is cheaper below {kwh:.2f} a kg, a price the tour "
        "does not give."
    )
    assert said(None, None) == f"Gas gives {content} in this heater; the tour gives no price, so none is compared."
