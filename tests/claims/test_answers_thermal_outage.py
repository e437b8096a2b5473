"""The heater stops: cooling against two nodes in closed form, order of draining, refusals."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math

import numpy as np
import pytest
from sample_tours import short_tour
from sample_vans import STANDARD_WIND_M_PER_S, bare_room, one_room, sample_vans
from scipy.linalg import expm
from small_tour import small

from budget.answers import outage, outage_words
from budget.answers.conditions import Conditions, no_draws
from budget.answers.cooling import TwoNodes
from budget.answers.detail import Detail
from budget.answers.outage_words import milestones
from budget.answers.prepared import Prepared
from budget.cli.report_parts import _outage
from budget.engine.arrays import HUMIDITY_RATIO, PRESSURE_PA, TEMP_C, WIND_M_PER_S
from budget.engine.batch import run_one
from budget.errors import InputFault
from budget.moments import short
from budget.physics.properties import humidity_ratio, saturation_pressure_pa
from budget.simulation import simulate
from budget.tour.reader import load
from budget.van.model import Van

VANS = sample_vans()


def steady(van: Van, outdoor_c: float, set_c: float = 20.0) -> Detail:
    """The short tour's clock over steady conditions, the van warmed through, nobody inside."""
    prepared = Prepared.of(van, short_tour(van))
    state = Conditions(outdoor_c=outdoor_c, wind_m_per_s=STANDARD_WIND_M_PER_S)
    hours = state.hours(prepared.built, prepared.hours_count, set_c=set_c, start_c=set_c)
    rows = state.rows(prepared.hours_count)
    many = run_one(prepared.built, hours, rows, no_draws())
    return Detail(
        van=van, tour=prepared.tour, timeline=prepared.timeline, built=prepared.built, hours=hours, wishes=no_draws(),
        rows=rows, many=many,
    )  # fmt: skip


def test_the_room_cools_as_two_nodes_in_closed_form() -> None:
    """Air 60 and fabric 540 kJ/K, coupling 100 W/K, to outdoors 40 and 66.7 W/K, from the steady state at 20 °C.

    Exact by the matrix exponential. The fast time constant is 7 minutes; between the quarters of the first hour one
    exponential stands for two: 3 minutes, later 0.1 h between hours.
    """
    run = steady(bare_room(), -5.0)
    air = outage.answer(run, "2027-01-20 22:00", cold_c=-5.0).nights[0].parts[0]
    lining = 40.0 * 100.0 / 60.0
    rate = np.array([[-140.0 / 60e3, 100.0 / 60e3], [100.0 / 540e3, -(100.0 + lining) / 540e3]])
    start = np.array([25.0, 25.0 * 100.0 / (100.0 + lining)])
    hours = np.arange(0.0, 30.0, 0.01)
    exact_c = np.array([(expm(rate * hour * 3600.0) @ start)[0] - 5.0 for hour in hours])
    assert air.start_c == pytest.approx(20.0, abs=0.01)  # the proportional band
    for limit, within_h in (("12_c", 0.05), ("5_c", 0.05), ("0_c", 0.1)):
        exact_h = hours[np.argmax(exact_c <= float(limit.removesuffix("_c")))]
        assert air.hours_until[limit] == pytest.approx(exact_h, abs=within_h)


def test_two_nodes_in_closed_form_are_the_matrix_exponential() -> None:
    """The room above: 40 W/K from the air, 100 between, 66.7 from the lining. Eigenvalues by numpy, to rounding."""
    nodes = TwoNodes(
        air_j_per_k=60e3, lining_j_per_k=540e3, direct_w_per_k=40.0, coupling_w_per_k=100.0,
        shell_w_per_k=40.0 * 100.0 / 60.0,
    )  # fmt: skip
    rate = np.array([[-140.0 / 60e3, 100.0 / 60e3], [100.0 / 540e3, -(100.0 + 40.0 * 100.0 / 60.0) / 540e3]])
    start = np.array([25.0, 25.0 * 100.0 / (100.0 + 40.0 * 100.0 / 60.0)])
    hours = np.array([0.0, 0.1, 0.5, 2.0, 9.0])
    exact_c = [(expm(rate * hour * 3600.0) @ start)[0] - 5.0 for hour in hours]
    assert nodes.air_c(hours, 20.0, -5.0) == pytest.approx(exact_c, abs=1e-9)
    constants_s = sorted(-1.0 / np.linalg.eigvals(rate))
    assert [3600.0 * nodes.air_h, 3600.0 * nodes.lining_h] == pytest.approx(constants_s, rel=1e-9)
    assert nodes.loss_w_per_k == pytest.approx(80.0)  # 40 and 100 in series with 66.7


@pytest.mark.parametrize("outdoor_c", [-5.0, -20.0])
@pytest.mark.parametrize("name", ["six_answers", "demo", "heavy", "staged"])
def test_the_first_hours_are_those_of_two_time_constants_from_the_vans_own_w_per_k_and_j_per_k(
    name: str, outdoor_c: float
) -> None:
    """Air towards linings in minutes, then everything in hours: 4.5 % of the lead over outdoors, about 1 K at -5 °C.

    Left out by hand are tanks, the neighbours' own delay and air exchange that falls with the difference: the first
    hour is up to 4 % warmer than by hand. A lining of the room alone would be off by 9 %, one constant alone by 20 %.
    """
    run = steady(VANS[name], outdoor_c)
    found = outage.answer(run, "2027-01-20 22:00", cold_c=outdoor_c)
    air, nodes = found.nights[0].parts[0], TwoNodes.at_stop(run, run.hour_of("2027-01-20 22:00"))
    assert nodes is not None
    assert found.time_constants is not None
    assert found.time_constants.lining_h == nodes.lining_h
    hours = np.array([after for after in air.after_h if after <= 8.0])
    by_hand_c = nodes.air_c(hours, air.start_c, outdoor_c)
    lead_k = air.start_c - outdoor_c
    assert air.temp_c[: len(hours)] == pytest.approx(by_hand_c, abs=0.045 * lead_k)
    assert 60.0 * nodes.air_h < 10.0
    assert nodes.lining_h > 4.0


def test_without_a_time_the_heater_stops_before_the_coldest_night_and_says_when() -> None:
    """Of the evenings at ten with a night behind them the one whose hours 22 to 8 are coldest, by hand."""
    van = VANS["demo"]
    run = Detail.of(Prepared.of(van, short_tour(van)))
    outdoor_c = run.rows[:, TEMP_C]
    evenings = [hour for hour in range(run.count - 10) if run.index[hour].hour == 22]
    coldest = min(evenings, key=lambda hour: outdoor_c[hour : hour + 11].mean())
    found = outage.answer(run)
    assert found.at == run.time(coldest)
    assert found.sentences[0] == (f"The heater stops on {short(found.at)} at {found.place}, before the coldest night.")
    given = outage.answer(run, found.at)
    assert given.nights == found.nights
    assert not given.coldest_evening
    assert not given.sentences[0].startswith("The heater stops on ")


def test_a_tour_whose_battery_has_died_by_then_is_reckoned_as_if_it_had_lasted() -> None:
    """Otherwise the air would be cold before the heater stops. 0.3 K: the bottles in their locker differ a little."""
    prepared = small()

    def found(battery_ah: float) -> outage.Outage:
        battery = prepared.van.power.battery.model_copy(update={"capacity_ah": battery_ah, "start_share": 1.0})
        power = prepared.van.power.model_copy(update={"battery": battery})
        return outage.answer(prepared.with_van(prepared.van.model_copy(update={"power": power})), "2027-01-14 20:00")

    dead, lasts = found(20.0), found(5000.0)
    assert dead.as_if_fed
    assert not lasts.as_if_fed
    assert dead.nights[0].parts[0].temp_c[:9] == pytest.approx(lasts.nights[0].parts[0].temp_c[:9], abs=0.3)
    assert dead.sentences[0].startswith("Gas or charge has run out by then")
    assert not any("falls short already" in sentence for sentence in dead.sentences)


def test_a_van_without_a_boiler_has_none_to_drain_or_watch() -> None:
    loaded = load(None)
    water = loaded.van.water
    boiler = water.boiler.model_copy(update={"water_l": 0.5, "standing_loss_w": 0.0})
    dry = loaded.van.model_copy(update={"water": water.model_copy(update={"boiler": boiler})})
    prepared = small().with_van(dry)
    found = outage.answer(prepared)
    assert "boiler" not in [part.name for night in found.nights for part in night.parts]
    assert not any("boiler" in sentence or "valve" in sentence for sentence in found.sentences)
    assert all(night.valve_opens_h is None for night in found.nights)
    frost = simulate(dry, prepared.tour, folder=prepared.folder).summary["frost"]
    assert {"boiler", "drain_valve"} & set(frost) == set()
    assert {"boiler", "drain_valve"} <= set(
        simulate(loaded.van, prepared.tour, folder=prepared.folder).summary["frost"]
    )


def part_until(**until: float | None) -> outage.Part:
    return outage.Part(name="air", start_c=0.0, lowest_c=0.0, hours_until=until, after_h=(), temp_c=())


@pytest.mark.parametrize(
    ("until", "said"),
    [
        ((0.3, 4.4, None), "is at 12 °C after 18 min, at 5 °C after 4.4 h and does not fall to 0 °C within 72 h"),
        ((0.0, 0.0, 0.5), "stands below 12 °C and 5 °C already and is at 0 °C after 30 min"),
        ((None, None, None), "does not fall to 12 °C or 5 °C or 0 °C within 72 h"),
    ],
)
def test_limits_are_passed_not_passed_or_passed_already(until: tuple[float | None, ...], said: str) -> None:
    named = dict(zip(("12_c", "5_c", "0_c"), until, strict=True))
    assert outage_words.milestones(part_until(**named)) == said


def test_a_crossing_within_the_hour_is_exact_for_one_time_constant() -> None:
    """20 °C falling towards -5 °C with 3.5 h passes 5 °C after 3.5 ln(25 / 10) = 3.207 h."""
    times_h, around_c = np.array([0.0, 0.25, 0.5, 1.0, 2.0, 3.0, 4.0, 5.0]), np.full(7, -5.0)
    temp_c = -5.0 + 25.0 * np.exp(-times_h / 3.5)
    assert outage.hours_until(times_h, temp_c, 5.0, around_c) == pytest.approx(3.5 * math.log(2.5), rel=1e-12)
    assert outage.hours_until(times_h, temp_c, 20.0, around_c) == 0.0
    assert outage.hours_until(times_h, temp_c, -5.0, around_c) is None


def test_a_colder_night_never_leaves_more_hours() -> None:
    run = steady(VANS["demo"], -2.0)
    before = dict.fromkeys(("12_c", "5_c", "0_c"), math.inf)
    for cold_c in (-5.0, -10.0, -20.0, -30.0):
        parts = outage.answer(run, "2027-01-20 22:00", cold_c=cold_c).nights[1].parts
        for limit, hours in parts[0].hours_until.items():
            assert hours is not None
            assert hours <= before[limit]
            before[limit] = hours


def test_heavier_furniture_keeps_the_air_warm_for_longer() -> None:
    def hours(fabric_j_per_k: float) -> float:
        zone = one_room().cabin.zones[0].model_dump() | {"fabric_capacity_j_per_k": fabric_j_per_k}
        found = outage.answer(steady(one_room(cabin={"zones": [zone]}), -5.0), "2027-01-20 22:00")
        until = found.nights[0].parts[0].hours_until["5_c"]
        assert until is not None
        return until

    assert hours(300e3) < hours(600e3) < hours(1200e3)


def test_an_underfloor_waste_tank_freezes_before_the_fresh_tank_inside_and_each_part_is_named_once() -> None:
    cold = outage.answer(steady(VANS["demo"], -2.0), "2027-01-20 22:00").nights[1]
    order = cold.drain_order
    assert len(set(order)) == len(order)
    assert order.index("waste") < order.index("fresh") or "fresh" not in order
    assert order.index("pipes") < order.index("fresh") or "fresh" not in order


def test_the_heater_gives_nothing_after_the_stop_and_the_hours_before_are_as_they_were() -> None:
    van = VANS["demo"]
    run = Detail.of(Prepared.of(van, short_tour(van)))
    hour = run.hour_of("2027-01-21 22:30")
    hours, rows, wishes = outage.stopped(run, hour)
    after = run.again(hours=hours, rows=rows, wishes=wishes)
    heat = after.flow("gas_heat_air_j") + after.flow("electric_air_j") + after.flow("gas_heat_water_j")
    assert heat[:hour].sum() > 0.0
    assert (heat[hour:] == 0.0).all()
    assert (after.many.stocks[: hour + 1] == run.many.stocks[: hour + 1]).all()  # type: ignore[index]
    assert len(rows) == hour + 72


def test_a_van_that_would_drive_on_stands_in_the_wind_of_its_last_parked_hour() -> None:
    """The short tour sets out at noon of the 21st; road speed must not cool a van that stands."""
    van = VANS["demo"]
    run = Detail.of(Prepared.of(van, short_tour(van)))
    hour = run.hour_of("2027-01-21 11:00")
    assert run.timeline.moving[hour + 1] == 1
    _, rows, _ = outage.stopped(run, hour)
    assert rows[hour + 1, WIND_M_PER_S] == run.rows[hour, WIND_M_PER_S]
    assert rows[hour:, WIND_M_PER_S].max() < 20.0 <= run.rows[:, WIND_M_PER_S].max()  # 20 m/s: the road


def test_a_tour_that_ends_sooner_is_carried_on_with_its_last_day() -> None:
    van = VANS["demo"]
    found = outage.answer(Prepared.of(van, short_tour(van)), "2027-01-23 11:00")
    assert found.looked_at_h == 72
    assert found.nights[0].parts[0].after_h[:5] == (0.0, 0.25, 0.5, 0.75, 1.0)
    assert found.nights[0].parts[0].after_h[-1] == 72.0


@pytest.mark.parametrize(
    ("at", "sentence"),
    [
        (
            "2027-03-01 10:00",
            "the time must lie within the tour (2027-01-20 12:00 to 2027-01-23 12:00), got 2027-03-01 10:00; "
            "choose another.",
        ),
        ("tonight-ish", 'the time must read "2027-01-20 22:00", got "tonight-ish"; correct it.'),
    ],
)
def test_a_time_that_cannot_be_is_refused(at: str, sentence: str) -> None:
    van = VANS["one_room"]
    with pytest.raises(InputFault) as fault:
        outage.answer(Prepared.of(van, short_tour(van)), at)
    assert str(fault.value) == sentence


def part(name: str, freezing: float | None, near: float | None, start_c: float = 18.0) -> outage.Part:
    """A part by its hours until 0 and 5 °C; 12 °C after half an hour."""
    until = {"12_c": 0.5, "5_c": near, "0_c": freezing}
    return outage.Part(name=name, start_c=start_c, lowest_c=-9.0, hours_until=until, after_h=(0.0,), temp_c=(start_c,))


def test_what_freezes_first_is_drained_first_then_what_comes_near() -> None:
    parts = [part("fresh", None, 40.0), part("living_air", 1.0, 0.5), part("boiler", 30.0, 12.0),
             part("pipes", 9.0, 4.0), part("waste", None, 20.0)]  # fmt: skip
    assert outage.drain_order(parts) == ["pipes", "boiler", "waste", "fresh"]
    assert outage.drain_order([part("fresh", None, None), part("cab_air", 1.0, 1.0)]) == []
    assert outage.drain_order([part("waste", 9.0, 5.0), part("pipes", 9.0, 4.0)]) == ["pipes", "waste"]


def night(*parts: outage.Part, valve_h: float | None = None, order: tuple[str, ...] = ()) -> outage.Night:
    return outage.Night(name="the night at hand", outdoor_c=-6.4, wind_m_per_s=3.0, parts=parts, valve_opens_h=valve_h,
                        dumped_l=11.6, drain_order=order)  # fmt: skip


def stopped(*nights: outage.Night) -> outage.Outage:
    return outage.Outage(at=dt.datetime(2027, 1, 21, 22), place="here", coldest_evening=False, as_if_fed=False,
                         looked_at_h=72, time_constants=None, nights=nights, sentences=())  # fmt: skip


AIR = "In the night at hand (-6 °C outdoors on average) the air of living, now 18 °C, is at 12 °C after 30 min"
LAST = "Children, pets and anyone ill are not left to it; no hob, oven or unflued flame replaces the heater."


@pytest.mark.parametrize(
    ("one", "told"),
    [
        (
            night(part("living_air", None, 8.25)),
            [AIR + ", at 5 °C after 8.2 h and does not fall to 0 °C within 72 h.",
             "No water falls to 5 °C within 72 h."],
        ),
        (
            night(part("living_air", 0.84, 0.62), part("pipes", None, 9.0), part("fresh", None, 30.0),
                  order=("pipes", "fresh")),
            [AIR + ", at 5 °C after 37 min, at 0 °C after 50 min.",
             "Nothing freezes within 72 h; below 5 °C come the pipes and taps, the fresh tank: heat or drain them."],
        ),
        (
            night(part("living_air", 12.0, 8.0), part("pipes", 9.5, 4.0), part("boiler", 30.0, 9.0),
                  part("waste", 20.0, 9.0), part("fresh", None, 30.0), valve_h=6.0,
                  order=("pipes", "waste", "boiler", "fresh")),
            [AIR + ", at 5 °C after 8.0 h, at 0 °C after 12.0 h.",
             "Drain the pipes and taps (0 °C after 9.5 h), then the waste tank, then the boiler.",
             "The frost drain valve opens within 6 h and empties the boiler of 12 L."],
        ),
    ],
    ids=["no water", "near", "frost"],
)  # fmt: skip
def test_a_night_without_heat_is_told_in_plain_words(one: outage.Night, told: list[str]) -> None:
    run = steady(VANS["demo"], -2.0)
    assert outage_words.outage_sentences(run, stopped(one), 34) == [*told, LAST]


def test_air_that_is_cold_already_is_said_first() -> None:
    """More than 3 K under the setpoint of 20 °C."""
    run = steady(VANS["demo"], -2.0)
    for start_c, said in ((16.9, True), (17.1, False)):
        told = outage_words.outage_sentences(run, stopped(night(part("living_air", None, None, start_c))), 34)
        assert (told[0] == "At Thu 21 Jan 22:00 the air is at 17 °C, under its setpoint of 20 °C: the heater has "
                "stopped or falls short already.") == said  # fmt: skip


def test_a_cold_night_has_the_hours_wind_and_pressure_and_nothing_of_its_sun() -> None:
    rows = np.arange(4.0 * 13.0).reshape(4, 13) + 1.0
    rows[:, PRESSURE_PA] = (101_000.0, 100_000.0, 99_000.0, 98_000.0)
    cold = outage.cold_rows(rows, 1, -20.0)
    assert np.array_equal(cold[0], rows[0])
    expected = np.zeros(13)
    expected[[TEMP_C, WIND_M_PER_S, PRESSURE_PA]] = -20.0, rows[1, WIND_M_PER_S], 100_000.0
    expected[HUMIDITY_RATIO] = humidity_ratio(0.85 * saturation_pressure_pa(-20.0), 100_000.0)
    assert cold[1:] == pytest.approx(np.tile(expected, (3, 1)), rel=1e-12)
    assert rows[2, 0] == 27.0  # the tour's own rows are left


def test_every_part_of_a_night_is_told_the_sensors_air_first_then_water_then_the_other_zones() -> None:
    nights = outage.answer(steady(VANS["demo"], -2.0), "2027-01-20 22:00").nights
    assert [night.name for night in nights] == ["the night at hand", "a night of -20 °C"]
    for one in nights:
        assert [each.name for each in one.parts] == ["living_air", "pipes", "boiler", "fresh", "waste", "cab_air",
                                                     "wet_room_air", "garage_air"]  # fmt: skip
    assert nights[1].outdoor_c == pytest.approx(-20.0, rel=1e-12)
    assert nights[1].wind_m_per_s == pytest.approx(STANDARD_WIND_M_PER_S, rel=1e-12)


@pytest.mark.parametrize("cold_c", [-60.5, 21.0])
def test_a_cold_night_that_is_none_is_refused(cold_c: float) -> None:
    with pytest.raises(InputFault) as fault:
        outage.answer(steady(VANS["one_room"], -2.0), "2027-01-20 22:00", cold_c=cold_c)
    assert str(fault.value) == f"the cold night must have -60 to 20 °C, got {cold_c:g} °C; correct it."


def test_the_report_tells_the_limits_and_times_of_the_answer() -> None:
    """12, 5 and 0 °C in the words of the outage, and when frost comes to the waters, soonest first."""
    found = outage.answer(small())
    night = found.nights[0]
    told = _outage(found).answer
    assert f": the living area {milestones(night.parts[0])}" in told
    assert milestones(night.parts[0]) in " ".join(found.sentences)
    frozen = {part.name: part.hours_until["0_c"] for part in night.parts if part.name in ("pipes", "fresh", "waste")}
    order = [name for name in night.drain_order if frozen.get(name) is not None]
    assert order, "something must freeze for this to mean anything"
    places = [told.index({"pipes": "the water pipes", "fresh": "the fresh tank", "waste": "the waste tank"}[name])
              for name in order]  # fmt: skip
    assert places == sorted(places)


def test_the_check_by_hand_closes_with_the_numbers_that_it_prints() -> None:
    """93 + 647 + 252 kJ/K over 56.3 W/K: 992 / 3.6 / 56.3 = 4.9 h."""
    constants = outage.TimeConstants(
        loss_w_per_k=56.32, air_j_per_k=93.2e3, fabric_j_per_k=647.4e3, other_zones_j_per_k=474e3,
        lining_j_per_k=899.3e3, fast_share=0.23, air_h=7.0 / 60.0, lining_h=5.4,
    )  # fmt: skip
    assert outage_words.by_hand(constants, "living") == (
        "Check by hand: air and light contents of living 93 kJ/K, fabric 647 (both as in budget check), 252 of the "
        "other zones' 474, by how warm they are: 992 kJ/K over 56.3 W/K, the loss of living alone heated in this "
        "hour's wind, is a time constant of 4.9 h. That takes all for equally warm; apart, the air falls by 23 % of "
        "its lead over outdoors with 7 min towards the linings, and by the rest with 5.4 h, since these lose part of "
        "their heat only through the air. People, loads and tanks, left out here, slow it."
    )
    alone = dataclasses.replace(constants, other_zones_j_per_k=0.0, lining_j_per_k=647.4e3)
    assert "(both as in budget check): 740 kJ/K over 56.3 W/K" in outage_words.by_hand(alone, "living")


def test_a_boiler_that_the_valve_empties_says_so_in_its_row() -> None:
    assert outage_words.told_part("boiler", night(valve_h=2.4)) == "boiler, emptied within 3 h"
    assert outage_words.told_part("boiler", night()) == "boiler"
    assert outage_words.told_part("pipes", night(valve_h=2.4)) == "pipes"
