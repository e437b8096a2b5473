"""Claims about comparing schedules, the night to come, the best schedule and measures."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from small_tour import START, small, steady

from budget.answers import best_schedule, compare, measures, tonight, tonight_back
from budget.answers.bedtime import bedtime_min
from budget.answers.fed import POWERED
from budget.answers.night import OFF, WARM_BAND_K, Setback, at_time_c, hours_of, laid, minute_of_quarters
from budget.answers.night_cases import HAND
from budget.answers.night_wish import wish_of
from budget.answers.prepared import Prepared
from budget.errors import InputFault
from budget.rounding import least, need


def set_to(prepared: Prepared, day_c: float, night_c: float) -> Prepared:
    """``day_c``, but ``night_c`` from 22:00 to 06:00."""
    minute = minute_of_quarters(prepared)
    night = (minute >= 22 * 60) | (minute < 6 * 60)
    return replace(prepared, hours=prepared.with_setpoints(np.where(night, night_c, day_c)))


@pytest.fixture(scope="module")
def setback() -> compare.Comparison:
    prepared = steady(-5.0, nights=6)
    return compare.answer({"constant": set_to(prepared, 20.0, 20.0), "set back": set_to(prepared, 20.0, 16.0)})


def test_a_tour_on_which_nobody_leaves_the_van_has_no_column_for_being_away() -> None:
    """Of the small tour's hours none is without people; with an afternoon out the column comes."""
    prepared = small()
    always = replace(prepared, timeline=replace(prepared.timeline, people_w=np.full(72, 200.0)))
    assert list(compare.usual(always)) == ["constant 19 °C", "as planned", "15 °C at night", "off at night"]
    people_w = np.full(72, 200.0)
    people_w[2:5] = 0.0
    out = replace(prepared, timeline=replace(prepared.timeline, people_w=people_w))
    assert list(compare.usual(out))[-1] == "12 °C while away"


def test_setting_back_by_4_k_for_8_h_saves_what_the_closed_form_allows(setback: compare.Comparison) -> None:
    """At -5 °C a night of 8 h at 16 instead of 20 °C can at most save 4/25 of a third of the loss, 5.3 %, and less for
    the heat kept in the fabric; internal gains, which the heater does not give, raise the share of gas by the ratio of
    loss to heater output, here up to about 2. So 2 to 12 %."""
    kept = setback.variants[0].gas_kg
    assert 0.02 < setback.variants[1].saved_kg / kept < 0.12


def test_what_is_saved_by_being_colder_says_so(setback: compare.Comparison) -> None:
    powered, sentence, *_ = setback.sentences()  # six nights without sun or drive are more than the battery carries
    assert powered == POWERED
    assert sentence.startswith("'set back' saves ")
    assert ", and is colder for it: " in sentence
    assert setback.variants[1].colder_asleep_kelvin_hours > 0.0


def test_a_variant_against_itself_saves_nothing_and_is_no_colder() -> None:
    prepared = small()
    found = compare.answer({"one": prepared, "same": prepared})
    assert found.variants[1].saved_kg == 0.0
    assert found.variants[1].colder_awake_kelvin_hours == 0.0
    assert "colder" not in found.sentences()[0]


def test_a_comparison_has_a_cell_for_every_variant_and_figure() -> None:
    found = compare.answer(compare.usual(small()))
    assert len(found.variants) == 5
    assert all(len(row) == 6 for row in found.rows())
    off_grid = [name for name, *_ in compare.FIGURES if not name.startswith("mains_")]
    assert len(found.rows()) == len(off_grid) + 1  # since when it is cut out


def test_minutes_to_comfort_count_from_the_step_up() -> None:
    """A room that rises from 10 °C at 06:00 to 20 °C at 07:00 along a straight line is within 0.5 K of 18 °C after
    45 min, on the quarter hour."""
    prepared = set_to(small(), 18.0, 10.0)
    inside = np.full(prepared.hours_count + 1, 18.0)
    hour = prepared.timeline.edges.hour.to_numpy()
    inside[(hour >= 22) | (hour <= 6)] = 10.0
    inside[hour == 7] = 20.0
    assert compare.minutes_to_comfort(prepared, inside) == [45.0, 45.0, 45.0]


def test_a_heater_too_small_is_told_by_never_and_by_the_warmth_that_a_larger_one_holds() -> None:
    """At -30 °C 15 % of the stages' heat do not hold the room: no minutes, and the fitted heater saves nothing."""
    fitted = steady(-30.0, nights=2)
    heater = fitted.van.heater
    stages = tuple(stage.model_copy(update={"output_w": 0.15 * stage.output_w}) for stage in heater.stages)
    small_one = fitted.van.model_copy(update={"heater": heater.model_copy(update={"stages": stages})})
    poor = set_to(fitted.with_van(small_one), 20.0, 16.0)
    found = compare.answer({"poor": poor, "fitted": set_to(fitted, 20.0, 16.0)})
    base = found.variants[0]
    assert (base.minutes_to_comfort_min, base.mornings_never_warm) == (None, base.mornings)
    assert base.mornings > 0
    rows = {row[0]: row[1:] for row in found.rows()}
    assert rows["to comfort in the morning [min]"][0] == "never"
    assert any("'fitted' holds more warmth than 'poor': lowest inside " in told for told in found.sentences())
    both = compare.answer({"poor": poor, "same": poor}).sentences()
    assert "The warmth asked for in the morning is reached on no morning of any variant." in both


def test_a_swing_of_the_thermostat_is_no_cold() -> None:
    base = np.tile([20.0, 19.0], 12)
    other = np.tile([19.0, 20.0], 12)
    assert compare.colder_k(base, other).sum() == 0.0
    assert compare.colder_k(base, base - 2.0).sum() == pytest.approx(2.0 * 23)


@pytest.mark.parametrize("names", [["field"], []])
def test_one_variant_is_no_comparison(names: list[str]) -> None:
    with pytest.raises(InputFault, match=r"^a comparison needs at least two variants"):
        compare.answer(compare.of_schedules(small(), names))


def test_a_schedule_that_the_tour_does_not_have_is_refused() -> None:
    with pytest.raises(InputFault, match=r"^--schedule must be one of field, town, got 'fild'"):
        compare.of_schedules(small(), ["field", "fild"])


# ------------------------------------------------------------------------------------------------------ tonight
def test_plenty_lasts_the_night_and_nothing_does_not() -> None:
    prepared = small()
    plenty = tonight.answer(prepared, gas_left_kg=22.0, charge_percent=100.0, scenarios=40)
    nothing = tonight.answer(prepared, gas_left_kg=0.0, charge_percent=100.0, scenarios=40)
    assert (plenty.fails_share, plenty.verdict, plenty.binds) == (0.0, "yes", None)
    assert (nothing.fails_share, nothing.verdict, nothing.binds) == (1.0, "better not", "gas")


def test_less_gas_never_lasts_more_often() -> None:
    found = [
        tonight.answer(small(), gas_left_kg=kg, charge_percent=90.0, scenarios=40).fails_share for kg in (1.0, 2.0, 3.0)
    ]
    assert found == sorted(found, reverse=True)
    assert found[0] > found[-1]


def test_a_flat_battery_is_what_binds() -> None:
    low = small().van.power.battery.cut_out_share * 100.0 + 1.0
    assert tonight.answer(small(), gas_left_kg=20.0, charge_percent=low, scenarios=40).binds == "battery charge"


def test_the_need_of_a_night_does_not_depend_on_the_gas_and_charge_at_hand() -> None:
    """The same 20 vans and winters with everything, a nearly flat battery and a nearly empty bottle.

    The part-used bottle of 1 kg is chilled more and its locker with it: half a per cent.
    """
    full, flat, empty = (
        tonight.answer(small(), gas_left_kg=kg, charge_percent=percent, scenarios=20)
        for kg, percent in ((20.0, 100.0), (20.0, 12.0), (1.0, 100.0))
    )
    for found in (flat, empty):
        assert found.fails_share > 0.5
        assert found.need.p50 == pytest.approx(full.need.p50, rel=0.005)
        assert [option.gas_kg for option in found.options] == pytest.approx(
            [option.gas_kg for option in full.options], rel=0.005
        )
    assert (full.stop, flat.binds, empty.binds) == (None, "battery charge", "gas")
    assert len({option.gas_kg for option in flat.options}) > 3, "settings differ also where none of them lasts"


def test_the_heater_stops_when_the_charge_above_cut_out_is_used_up_and_the_answer_opens_with_it() -> None:
    """More charge, later stop; a stop is told at the start of its hour, and every setting fails as the verdict does."""
    found = [tonight.answer(small(), gas_left_kg=20.0, charge_percent=p, scenarios=20) for p in (12.0, 18.0, 22.0)]
    stops = [each.stop.half_after_h for each in found if each.stop is not None]
    assert len(stops) == 3
    assert stops == sorted(stops)
    assert stops[0] == 0.0 < stops[-1]
    told = "Better not. What binds is battery charge: from Tue 12 Jan 17:00 with 20 kg of gas, 12 % of "
    assert found[0].sentences()[0].startswith(told)
    assert any("the heater stops within the first hour" in sentence for sentence in found[0].sentences())
    assert found[0].sentences()[-1].startswith("No timer helps: every setting goes short before 08:00, each in 100 %")
    assert {option.fails_share for option in found[0].options} == {1.0}


def test_gas_that_is_left_covers_so_many_nights_as_it_holds_needs_of_one_in_ten() -> None:
    found = tonight.answer(small(), gas_left_kg=6.5, charge_percent=100.0, scenarios=20)
    assert found.more_nights_p90 == pytest.approx(6.5 / found.need.p90)
    nights, kg = least(6.5 / found.need.p90, 1), need(found.need.p90, 2)
    assert f"6.5 kg of gas are enough for {nights} nights of {kg} kg." in " ".join(found.sentences())


def test_a_colder_forecast_takes_more_gas() -> None:
    """20 K colder at about the same heat loss: about 20/25 more than the mild night, at least a third."""
    mild, cold = (
        tonight.answer(small(), gas_left_kg=20.0, charge_percent=90.0, scenarios=40, forecast_low_c=low)
        for low in (0.0, -20.0)
    )
    assert cold.need.p50 > 1.33 * mild.need.p50
    assert cold.outdoor_low.p50 == pytest.approx(-20.0, abs=1.0)  # 2 K spread: the median of 40 is known to 0.4 K


def test_the_timer_is_the_latest_that_is_warm_in_time() -> None:
    found = tonight.answer(small(), gas_left_kg=20.0, charge_percent=90.0, scenarios=40, warm_c=20.0)
    assert all(option.at_warm_time_c >= 20.0 - WARM_BAND_K for option in found.options if option.timer)
    lower = [option.lead_min or 0.0 for option in found.options]
    assert lower == sorted(lower), "a colder night never lets the timer start later"
    gas = [option.gas_kg for option in found.options]
    assert gas == sorted(gas, reverse=True), "a colder night never takes more gas"


def test_the_night_is_asked_as_the_tours_schedule_has_it_there_and_then() -> None:
    """18 °C, 11 °C from 22:00 to 06:00; what is asked for instead is said so."""
    prepared = set_to(small(), 18.0, 11.0)
    found = tonight.answer(prepared, gas_left_kg=20.0, charge_percent=90.0, scenarios=20)
    planned = [option for option in found.options if option.planned]
    assert (found.warm_c, found.warm_at, found.inside_c) == (18.0, "06:00", 18.0)
    assert [option.night_c for option in planned] == [11.0]
    assert found.asked == (
        f"As the tour's schedule has it at {found.place} that night: 11 °C from 22:00, 18 °C from 06:00."
    )
    asked = tonight.answer(prepared, gas_left_kg=20.0, charge_percent=90.0, scenarios=20, warm_c=21.0, warm_at="09:30")
    assert (asked.warm_c, asked.warm_at, asked.morning.hour) == (21.0, "09:30", 10)
    assert asked.asked.endswith("; asked for instead of its morning: 21 °C at 09:30.")


def test_a_schedule_without_a_morning_is_said_so() -> None:
    flat = set_to(small(), 15.0, 15.0)
    found = tonight.answer(flat, gas_left_kg=20.0, charge_percent=90.0, scenarios=20)
    assert found.asked.endswith("it has no step up in the morning, so 15 °C at 07:30 is taken.")
    off = set_to(small(), np.nan, np.nan)
    wish = wish_of(off, 5, 20, None, None, None)
    assert np.isnan(wish.night_c) and (wish.warm_c, wish.inside_c) == (20.0, 20.0)
    assert ": heater off from " in wish.told


def test_coming_back_finds_it_warm() -> None:
    leaving, back = START + dt.timedelta(hours=5), START + dt.timedelta(hours=10)
    asked: dict[str, Any] = {
        "gas_left_kg": 20.0,
        "charge_percent": 90.0,
        "start": leaving,
        "back": back,
        "scenarios": 20,
    }
    found = tonight_back.answer(small(), warm_c=20.0, **asked)
    assert found.switch_on is not None
    assert leaving < found.switch_on.replace(tzinfo=None) < back
    assert found.lowest_inside_c < 19.0
    planned = tonight_back.answer(small(), **asked)
    assert (planned.warm_c, planned.is_scheduled) == (small().hours["set_c"][10, 0], True)


def weak(outdoor_c: float, insulated: float = 1.0) -> Prepared:
    """The demo van with a heater of a third of its outputs, in weather that never changes."""
    prepared = steady(outdoor_c)
    stages = tuple(stage.model_copy(update={"output_w": stage.output_w / 3.0}) for stage in prepared.van.heater.stages)
    heater = prepared.van.heater.model_copy(update={"stages": stages})
    return prepared.with_van(prepared.van.model_copy(update={"heater": heater}))


def test_a_heater_too_small_is_not_warm_enough_with_all_the_gas_and_charge() -> None:
    """Nothing runs short, and yet it is no yes: the same night with the whole heater is."""
    asked: dict[str, Any] = {
        "gas_left_kg": 30.0, "charge_percent": 100.0, "scenarios": 20, "forecast_low_c": -25.0,
    }  # fmt: skip
    cold = tonight.answer(weak(-25.0), **asked)
    assert cold.fails_share < 0.5 < cold.cold_share
    assert (cold.verdict, cold.can_stay) == ("better not", False)
    assert cold.cold_lowest_inside_c is not None
    assert cold.cold_lowest_inside_c < 14.0
    assert cold.sentences()[0].startswith("Better not. Not warm enough: from ")
    warm = tonight.answer(steady(-5.0), **(asked | {"forecast_low_c": -5.0}))
    assert (warm.cold_share, warm.cold_lowest_inside_c) == (0.0, None)


def test_pipes_that_freeze_are_no_yes_though_the_room_is_as_cold_as_asked() -> None:
    """The heater off by schedule and by wish: nothing is asked, so it is warm enough, and the pipes freeze."""
    off = set_to(steady(-25.0), np.nan, np.nan)
    found = tonight.answer(off, gas_left_kg=30.0, charge_percent=100.0, scenarios=20, forecast_low_c=-25.0)
    assert found.cold_share == 0.0
    assert max(found.pipes_freeze_share, found.drained_share) > 0.5
    assert found.verdict == "better not"


def test_a_bottle_that_empties_with_nobody_awake_is_no_cold_bottle() -> None:
    """1.2 kg in the bottle in use and a full one beside it: with an automatic changeover the same night is well, and so
    it is with the full one in use."""

    def night(changeover: str, gas_kg: float) -> tonight.Tonight:
        prepared = steady(-10.0)
        gas = prepared.van.gas.model_copy(update={"changeover": changeover})
        van = prepared.with_van(prepared.van.model_copy(update={"gas": gas}))
        return tonight.answer(van, gas_left_kg=gas_kg, charge_percent=100.0, scenarios=20, forecast_low_c=-10.0)

    found, same, alone = night("manual", 12.2), night("automatic", 12.2), night("manual", 1.2)
    assert found.failing_by_share[HAND] > 0.5
    assert found.binds == HAND
    assert found.hand is not None
    assert (found.hand.in_use_kg, found.hand.fullest_kg) == pytest.approx((1.2, 11.0))
    assert found.hand.fullest_first_share <= 0.05
    assert (same.fails_share, same.hand) == (found.hand.automatic_share, None)
    assert found.hand.automatic_share <= 0.05
    assert (alone.failing_by_share[HAND], alone.hand) == (0.0, None), "there is nothing to change over to"


def test_one_number_for_one_thing() -> None:
    """The verdict's chance and need are those of the table's own row."""
    found = tonight.answer(small(), gas_left_kg=2.0, charge_percent=60.0, scenarios=40)
    assert 0.0 < found.fails_share < 1.0
    assert found.planned.fails_share == round(found.fails_share, 4)
    assert found.planned.amiss_share == round(found.amiss_share, 4)
    assert found.planned.gas_kg == round(found.need.p50, 3)


@pytest.mark.parametrize(("pipes_c", "warned"), [(4.9, True), (5.0, False)])
def test_the_thriftiest_night_is_not_offered_with_frost(pipes_c: float, warned: bool) -> None:
    """Below 5 °C at the pipes the cautions say heat or drain; lows are told downwards, so just under 5 °C is 4 °C."""
    found = tonight.answer(small(), gas_left_kg=20.0, charge_percent=90.0, scenarios=20, warm_c=14.0)
    cold = tuple(
        replace(option, lowest_inside_c=-0.4, lowest_pipes_c=pipes_c, dumped_l=0.0, timer="06:00")
        for option in found.options
    )
    said = " ".join(replace(found, options=cold).sentences())
    assert ("down to -1 °C inside." in said) != warned
    assert ("warmest are they at 4 °C on a night" in said) == warned


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        ({"gas_left_kg": 99.0, "charge_percent": 50.0}, "^--gas-left must be from 0 to 33 kg"),
        (
            {"gas_left_kg": -1.0, "charge_percent": 50.0},
            "^--gas-left must be 0 kg or more, got -1; it is what the",
        ),
        ({"gas_left_kg": 3.0, "charge_percent": 150.0}, "^--charge must be from 0 to 100 %, got 150"),
        ({"gas_left_kg": 3.0, "charge_percent": 50.0, "at": dt.datetime(2030, 1, 1)}, "^--at must lie within the tour"),
        ({"gas_left_kg": 3.0, "charge_percent": 50.0, "warm_at": "7.30"}, "^--warm-at must give times as HH:MM"),
        (
            {"gas_left_kg": 3.0, "charge_percent": 50.0, "warm_at": "18:30"},
            "^--warm-at must be a time of the morning, 03:00 to 12:00, got 18:30; for another time of the day give",
        ),
    ],
)
def test_tonight_refuses_what_it_cannot_look_at(asked: dict[str, object], sentence: str) -> None:
    with pytest.raises(InputFault, match=sentence):
        tonight.answer(small(), scenarios=20, **asked)  # type: ignore[arg-type]


def test_a_temperature_between_edges_lies_on_the_line() -> None:
    assert at_time_c(np.array([10.0, 20.0, 20.0]), np.array([420, 480, 540]), 450) == pytest.approx([15.0])


def test_a_night_is_laid_from_bedtime_to_the_timer_and_the_wish_for_an_hour() -> None:
    minute = np.arange(0, 24 * 60, 15)
    laid_c = laid(np.full(96, 19.0), minute, Setback(12.0, 60.0, 22 * 60, 7 * 60 + 30, 21.0))
    at = {"21:45": 19.0, "22:00": 12.0, "06:15": 12.0, "06:30": 21.0, "08:15": 21.0, "08:30": 19.0}
    for clock, expected in at.items():
        hour, minutes = clock.split(":")
        assert laid_c[(int(hour) * 60 + int(minutes)) // 15] == expected, clock


# ------------------------------------------------------------------------------------------------ best schedule
def test_best_schedule_is_that_of_brute_force_on_a_small_grid() -> None:
    prepared = small()
    limits = best_schedule.Limits(asleep_c=11.0, warm_c=19.0, pipes_c=-20.0)
    nights, leads = (OFF, 10.0, 12.0, 16.0), (0.0, 60.0, 120.0)
    found = best_schedule.answer(prepared, limits, night_c=nights, leads_min=leads, refine=False)
    ready = prepared.with_gas_everywhere()
    down = bedtime_min(prepared)
    asleep = (prepared.timeline.asleep > 0.0) & prepared.timeline.inside
    edge = (prepared.timeline.edges.hour * 60 + prepared.timeline.edges.minute).to_numpy()
    feasible = []
    for night in nights:
        for lead in leads:
            hours = hours_of(ready, [Setback(night, lead, down, 450, 19.0)], minute_of_quarters(ready))[0]
            many = replace(ready, hours=hours).run()
            inside = many.trace[0, :, 2]
            warm = np.interp(np.flatnonzero(edge == 7 * 60) + 0.5, np.arange(len(inside)), inside)
            if inside[1:][asleep].min() >= 11.0 - WARM_BAND_K and warm.min() >= 19.0 - WARM_BAND_K:
                feasible.append((round(float(ready.gas_kg(many)[0]), 3), None if np.isnan(night) else night, lead))
    assert found.best is not None
    assert (found.best.gas_kg, found.best.night_c, found.best.lead_min) == min(feasible, key=lambda one: one[0])
    assert 0 < len(feasible) < len(nights) * len(leads), "the limits must bind for the search to mean anything"


def test_a_finer_search_never_takes_more_gas_than_the_grid() -> None:
    limits = best_schedule.Limits(asleep_c=11.0, warm_c=19.0, pipes_c=-20.0)
    grid = best_schedule.answer(small(), limits, refine=False).best
    fine = best_schedule.answer(small(), limits).best
    assert grid is not None
    assert fine is not None
    assert fine.gas_kg <= grid.gas_kg


def test_limits_that_nothing_keeps_are_said_with_what_is_missed() -> None:
    found = best_schedule.answer(small(), best_schedule.Limits(asleep_c=30.0), refine=False)
    assert found.best is None
    assert "the warmth asleep by" in found.sentences()[1]


def test_a_tour_that_keeps_the_limits_as_planned_is_never_told_that_nothing_does() -> None:
    """20 °C asleep where the tour itself is set to 21 °C day and night: neither the grid of nights nor its wish for the
    morning ends below what is asked; from the tour's own settings alone, the rest of the grid too cold, it is kept."""
    prepared = small()
    warm = set_to(prepared, 21.0, 21.0)
    limits = best_schedule.Limits(asleep_c=20.0, warm_c=20.0, pipes_c=-50.0)
    found = best_schedule.answer(warm, limits)
    assert found.best is not None
    assert found.best.coldest_asleep_c >= 20.0 - WARM_BAND_K
    assert {20.0, 21.0, 22.0} <= {one.night_c for one in found.tried}
    assert found.best.gas_kg <= found.planned_kg
    own = best_schedule.answer(warm, limits, night_c=(OFF, 8.0), leads_min=(0.0,), refine=False)
    assert own.best is not None and own.best.planned


def test_a_heater_that_holds_no_setting_is_said_instead_of_a_nearest_one() -> None:
    fitted = steady(-30.0, nights=2)
    heater = fitted.van.heater
    stages = tuple(stage.model_copy(update={"output_w": 0.15 * stage.output_w}) for stage in heater.stages)
    poor = fitted.with_van(fitted.van.model_copy(update={"heater": heater.model_copy(update={"stages": stages})}))
    told = best_schedule.answer(poor, refine=False).sentences()
    assert told[-1].startswith(
        "The heater cannot hold any of them: even 18 °C at night, timer at 04:30, the coldest is "
    )
    assert best_schedule.answer(small(), best_schedule.Limits(asleep_c=30.0), refine=False).not_held is None


def test_on_the_trade_off_more_warmth_always_takes_more_gas() -> None:
    curve = best_schedule.answer(small(), best_schedule.Limits(pipes_c=-20.0)).curve
    assert len(curve) > 3
    assert [one.gas_kg for one in curve] == sorted(one.gas_kg for one in curve)
    assert [one.coldest_asleep_c for one in curve] == sorted(one.coldest_asleep_c for one in curve)


# ------------------------------------------------------------------------------------------------------ measures
@pytest.fixture(scope="module")
def ranked() -> measures.Measures:
    return measures.answer(small(), {"20 mm more foam": 400.0})


def test_measures_are_ranked_by_the_gas_they_save(ranked: measures.Measures) -> None:
    saved = [measure.saved_kg for measure in ranked.measures]
    assert saved == sorted(saved, reverse=True)
    assert {measure.name for measure in ranked.measures} <= set(measures.MEASURES)


def test_what_insulates_saves_gas_and_what_shines_saves_charge(ranked: measures.Measures) -> None:
    by_name = {measure.name: measure for measure in ranked.measures}
    assert by_name["20 mm more foam"].saved_kg > 0.0
    assert by_name["2 K lower at night"].saved_kg > 0.0
    assert by_name["2 K lower at night"].colder_kelvin_hours > 2.0
    assert by_name["100 W more solar"].saved_ah > 0.0
    assert by_name["100 W more solar"].saved_kg == pytest.approx(0.0, abs=0.02)  # a warmer battery box at most


def test_money_is_counted_only_where_a_price_is_given(ranked: measures.Measures) -> None:
    for measure in ranked.measures:
        given = measure.name == "20 mm more foam"
        assert (measure.cost is not None) == given
        assert (measure.saved_kg_per_cost is not None) == given


# ------------------------------------------------------------------------------------------- a battery that dies
def with_battery(ah: float) -> Prepared:
    prepared = small()
    battery = prepared.van.power.battery.model_copy(update={"capacity_ah": ah, "start_share": 1.0})
    power = prepared.van.power.model_copy(update={"battery": battery})
    return prepared.with_van(prepared.van.model_copy(update={"power": power}))


def test_choices_on_a_tour_whose_battery_dies_are_those_of_one_whose_battery_lasts_and_say_so() -> None:
    """Only the battery differs, and what it takes from the alternator and the sun warms nothing: half a per cent."""
    dies, lasts = with_battery(20.0), with_battery(5000.0)
    told: list[tuple[bool, float, list[str]]] = []
    for prepared in (dies, lasts):
        beside = compare.answer({"warm": prepared, "cooler": set_to(prepared, 17.0, 12.0)})
        what = measures.answer(prepared)
        schedule = best_schedule.answer(prepared, night_c=(12.0,), leads_min=(60.0,), refine=False)
        told += [
            (beside.as_if_powered, beside.variants[1].saved_kg, beside.sentences()),
            (what.as_if_powered, what.gas_kg, what.sentences()),
            (schedule.as_if_powered, schedule.nearest.gas_kg, schedule.sentences()),
        ]
    for dead, alive in zip(told[:3], told[3:], strict=True):
        assert (dead[0], alive[0]) == (True, False)
        assert dead[1] == pytest.approx(alive[1], rel=0.005)
        assert dead[2][0] == POWERED
        assert POWERED not in alive[2]
    assert compare.answer({"warm": dies, "again": dies}).variants[0].cut_out_h > 0.0


def test_amp_hours_saved_are_those_of_a_tour_that_is_fed() -> None:
    """A measure that keeps the heat in lets the fan rest, on a battery that dies as on one that lasts; the sun that
    100 W more offer is counted whole where the battery dies."""
    dies, lasts = ({one.name: one for one in measures.answer(with_battery(ah)).measures} for ah in (20.0, 5000.0))
    for name in ("outside screens", "20 mm more foam"):
        assert dies[name].saved_ah == pytest.approx(lasts[name].saved_ah, abs=0.5), name
        assert dies[name].saved_ah > 0.0
    assert dies["100 W more solar"].saved_ah == pytest.approx(lasts["100 W more solar"].saved_ah, abs=1.0)


def test_savings_are_counted_by_the_kilogram_carried_and_by_money(ranked: measures.Measures) -> None:
    """Rounded apart: half a gram of gas over what is carried, and the ratio's own last digit."""
    for measure in ranked.measures:
        if measure.payload_kg > 0.0:
            ratio = measure.saved_kg / measure.payload_kg
            assert measure.saved_kg_per_payload_kg == pytest.approx(ratio, abs=0.0006 + 0.01 * abs(ratio))
        else:
            assert measure.saved_kg_per_payload_kg is None
    foam = next(measure for measure in ranked.measures if measure.cost is not None)
    assert foam.saved_kg_per_cost == pytest.approx(foam.saved_kg / 400.0, abs=1e-5)
