"""What goes wrong whatever is left on board: when it is told, what is blamed, and what would spare it."""

from __future__ import annotations

import datetime as dt
import math
from functools import cache

import numpy as np
import pytest
from north_tour import loaded_north, north
from small_tour import steady

from budget.answers import bottle_plan, heater_size, night_cases, odds, outage, trouble
from budget.answers.detail import Detail
from budget.answers.enough import warnings
from budget.answers.ensemble import InTurn
from budget.answers.frozen import BEFORE_H, CHARGE, DRIVE, MOVING
from budget.answers.last_chance import out_of_gas
from budget.answers.outage_words import at_hand
from budget.answers.prepared import Prepared
from budget.answers.swaps_made import swaps_of
from budget.answers.what_to_take import ToTake, planned_swaps, to_take
from budget.cli import report_parts
from budget.cli.further import Further
from budget.cli.summary import gas as gas_rows
from budget.report.door import door
from budget.report.first_out import first_out
from budget.report.headline import empties, headline, other_swaps, swap_table
from budget.report.section import Extras
from budget.report.tour_dates import calendar_of
from budget.results.result import Result
from budget.simulation import simulate


def result_of(prepared: Prepared) -> Result:
    return simulate(prepared.van, prepared.tour, prepared.weather, folder=prepared.folder)


def with_heater(prepared: Prepared, output_w: float, battery_ah: float = 5000.0) -> Prepared:
    """The same with a heater of this greatest output, and a full battery."""
    van, stages = prepared.van, prepared.van.heater.stages
    scale = output_w / stages[-1].output_w
    heater = van.heater.model_copy(
        update={"stages": tuple(stage.model_copy(update={"output_w": stage.output_w * scale}) for stage in stages)}
    )
    battery = van.power.battery.model_copy(update={"capacity_ah": battery_ah, "start_share": 1.0})
    power = van.power.model_copy(update={"battery": battery})
    return prepared.with_van(van.model_copy(update={"heater": heater, "power": power}))


@cache
def small_heater() -> Result:
    return result_of(with_heater(steady(-14.0), 1200.0))


def test_a_room_is_held_to_what_it_was_asked_for_four_hours_on_end() -> None:
    """Off, and three hours after; a rise of the setpoint counts when it is four hours old."""
    hourly = [math.nan, 16.0, 16.0, 16.0, 16.0, 20.0, 20.0, 20.0, 20.0, 12.0]
    set_c = np.repeat(np.array(hourly)[:, np.newaxis], 4, axis=1)
    held = trouble.held_c(set_c)
    assert held.tolist() == [-math.inf] * 4 + [16.0, 16.0, 16.0, 16.0, 20.0, 12.0]
    assert trouble.COLD_K == night_cases.COLD_K
    set_c[8, 1] = math.nan  # a quarter off
    assert trouble.held_c(set_c)[8] == -math.inf


def test_a_heater_that_holds_the_room_has_no_trouble_and_its_warm_up_is_none() -> None:
    """The demo van from cold-soaked in light frost: hours below the setpoint, none of them told."""
    prepared = with_heater(steady(-5.0), 4000.0)
    prepared = Prepared.of(
        prepared.van,
        prepared.tour.model_copy(update={"start_inside_c": -5.0}),
        prepared.weather,
        folder=prepared.folder,
    )
    result = result_of(prepared)
    assert result.summary["heater"]["hours_below_setpoint"] > 0.5
    found = trouble.answer(result)
    assert (found.cold_h, found.heater, found.frozen, found.wrong_gas, found.doubts) == (0.0, None, (), (), ())


def test_a_heater_that_is_too_small_is_told_with_what_heater_size_says_the_room_takes() -> None:
    result = small_heater()
    found = trouble.answer(result)
    assert found.cold_h == pytest.approx(result.summary["heater"]["hours_below_setpoint"], abs=0.01)
    assert found.cold_h > 24.0
    assert found.lowest_c == result.summary["comfort"]["living"]["lowest_while_occupied_c"]
    assert found.heater is not None and not found.heater.mains_only
    assert found.heater.gives_w == pytest.approx(1200.0, rel=0.01)
    hottest_c = float(np.nanmax(result.hours["set_c"]))
    sized = heater_size.answer(
        result.van, design_c=-14.0, inside_c=hottest_c, wind_m_per_s=3.0 * float(result.timeline.wind_factor[0]),
        altitude_m=float(result.timeline.altitude_m[0]),
    )  # fmt: skip
    screens = [case.needed_w for case in sized.cases if "openings closed" in case.name]
    assert min(screens) * 0.999 <= found.heater.needs_w <= max(screens) * 1.001
    (warning, *_) = warnings(result.van, result.timeline, result.weather)
    assert warning.startswith("The heater is too small: ")
    assert headline(result, first_out(result)).startswith("The heater is too small: too cold for ")


def test_a_heater_that_would_hold_the_room_but_warms_it_up_for_long_is_not_called_too_small() -> None:
    """A tenth more than the steady state takes, from cold-soaked: hours too cold, told as such and no more."""
    needs = trouble.answer(small_heater()).heater
    assert needs is not None
    prepared = with_heater(steady(-14.0), 1.1 * needs.needs_w)
    tour = prepared.tour.model_copy(update={"start_inside_c": -14.0})
    found = trouble.answer(result_of(Prepared.of(prepared.van, tour, prepared.weather, folder=prepared.folder)))
    assert found.cold_h > trouble.WARM_UP_H and found.heater is None


def test_a_heater_that_is_too_small_is_blamed_as_well_where_the_battery_dies_first() -> None:
    dies = result_of(with_heater(steady(-14.0), 1200.0, battery_ah=20.0))
    lasts = trouble.answer(small_heater())
    found = trouble.answer(dies)
    assert "battery" in dies.need.short_of
    assert found.heater is not None and lasts.heater is not None
    assert found.heater.needs_w == pytest.approx(lasts.heater.needs_w, rel=0.02)
    enough = trouble.answer(result_of(with_heater(steady(-14.0), 6000.0, battery_ah=20.0)))
    assert enough.heater is None and enough.cold_h > 12.0
    said = headline(dies, first_out(dies))
    assert said.startswith("The battery cuts out") and " The heater is too small as well, " in said


def test_pipes_that_freeze_on_a_drive_without_heat_are_spared_by_heat_on_it() -> None:
    cold = ("van.battery_ah=5000", "weather.offset_k=-6")
    result = north(*cold)
    (pipes, *_) = [part for part in trouble.answer(result).frozen if part.part == "pipes"]
    assert pipes.drives
    moving = np.flatnonzero(result.timeline.moving)
    assert moving[0] <= Detail.of(result).hour_of(pipes.since) <= moving[-1] + BEFORE_H
    assert headline(result, first_out(result)).startswith("On a drive with the heater off the pipes ")
    heated = north(*cold, "habits.heater_while_driving=true")
    assert not any(part.part == "pipes" for part in trouble.answer(heated).frozen)


def test_pipes_that_freeze_where_the_van_stands_are_not_blamed_on_a_drive() -> None:
    """Without charge they freeze long before the drive, and heat on it would not spare them."""
    parts = {part.part: part for part in trouble.answer(north()).frozen}
    assert parts["pipes"].whole and not parts["pipes"].drives


def test_pipes_that_freeze_on_a_drive_and_again_for_want_of_charge_are_told_by_each_cause() -> None:
    """Heat on the drive spares the first ice; the second comes nights later, with the battery cut out."""
    result = north("van.battery_ah=300")
    drive, later = (part for part in trouble.answer(result).frozen if part.part == "pipes")
    run = Detail.of(result)
    assert run.timeline.moving[run.hour_of(drive.since)] == MOVING[DRIVE]
    assert (drive.cause, drive.drives, drive.whole) == (DRIVE, True, False)
    assert (later.cause, later.drives, later.whole) == (CHARGE, False, True)
    assert run.flow("cut_out_s")[run.hour_of(later.since)] > 0.0
    heated = trouble.answer(north("van.battery_ah=300", "habits.heater_while_driving=true")).frozen
    assert not any(part.part == "pipes" and part.since < later.since for part in heated)
    said = headline(result, first_out(result))
    assert said.startswith("The battery cuts out in the ") and " inside, and the pipes freeze. " in said
    assert " On a drive with the heater off the pipes part freeze from 7 January: drain first, or heat " in said


def test_a_dead_battery_changes_neither_bottles_nor_swaps_nor_their_plan() -> None:
    dies, lasts = north(), north("van.battery_ah=5000")
    assert "battery" in dies.need.short_of and "battery" not in lasts.need.short_of
    assert len(dies.summary["gas"]["swaps"]) < len(lasts.summary["gas"]["swaps"])
    planned = [[(swap.time, swap.bottle, swap.needed) for swap in planned_swaps(each)] for each in (dies, lasts)]
    assert planned[0] == planned[1] == [(s.time, s.bottle, s.needed) for s in swaps_of(Detail.of(lasts))]
    assert to_take(dies) == to_take(lasts) == ToTake(bottles=2, swaps=sum(needed for _, _, needed in planned[0]))
    tables = [swap_table(each) for each in (dies, lasts)]
    assert tables[0] is not None and tables[1] is not None
    assert tables[0].rows == tables[1].rows
    assert tables[0].caption.endswith("as it stands the heater stops with it, and less is burned.")
    assert empties(dies).startswith("First empty with power: bottle 1 ")
    assert empties(lasts) == empties(dies).replace(" with power", "")
    page = door(dies, Extras(), "", first_out(dies), ())
    assert all(str(row[0]) in page for row in tables[1].rows[:10])


def test_a_van_that_is_empty_before_its_first_exchange_takes_as_many_as_last_and_swaps() -> None:
    """The same van with so many, run with a battery that lasts, is never out of gas; with one less it is."""
    one = 'van.bottles=["11 kg exchange"]'
    for changes in ((one,), (one, "van.battery_ah=5000")):
        short = north(*changes)
        found = trouble.answer(short)
        assert found.take_lasts
        assert found.bottles > 1
        runs = {
            count: north(f"van.bottles={['11 kg exchange'] * count}".replace("'", '"'), "van.battery_ah=5000")
            for count in (found.bottles - 1, found.bottles)
        }
        out = {count: bool(out_of_gas(Detail.of(run)).any()) for count, run in runs.items()}
        assert out == {found.bottles - 1: True, found.bottles: False}
        assert found.swaps == sum(swap.needed for swap in planned_swaps(runs[found.bottles]))
        told = f"With what is on board, which does not last: {found.bottles} × 11 kg are swapped on other dates."
        table = swap_table(short)
        assert table is not None
        assert told in table.caption
        assert ("swaps", f"w{told[1:-1]}") in gas_rows(short)
        assert other_swaps(runs[found.bottles]) == ""
    assert trouble.answer(north("van.battery_ah=5000")).take_lasts


def test_water_that_stands_frozen_is_no_supply_that_lasts() -> None:
    result = north("van.battery_ah=300", "weather.offset_k=-15")
    fresh = next(supply for supply in first_out(result) if supply.name == "Fresh water")
    assert fresh.when is not None and fresh.lasts_share < 1.0
    assert fresh.told.startswith("frozen, not had from ") and " L not had, first on " in fresh.told
    assert fresh.verb == "freezes"


def test_a_calendar_has_the_swaps_of_the_tour_with_power_and_says_so() -> None:
    for changes, told in (((), True), (("van.battery_ah=5000",), False)):
        written = calendar_of(north(*changes), (), dt.datetime(2027, 1, 1, tzinfo=dt.UTC)).replace("\r\n ", "")
        assert written.count("SUMMARY:Swap gas bottle ") == len(planned_swaps(north(*changes))) > 0
        assert ("With power: as it stands the battery cuts out." in written) is told


def test_the_band_of_gas_and_the_odds_have_the_swaps_of_the_tour_with_power() -> None:
    further = Further(loaded_north(), north(), None, 10, 1, lambda _: None)
    assert further.odds is not None
    assert (further.odds.take.bottles, further.odds.take.swaps) == (to_take(north()).bottles, to_take(north()).swaps)
    bands = report_parts._odds(north(), further.odds)[1]
    assert bands.figure is not None
    (marks,) = [trace for trace in bands.figure.traces if trace.get("name") == "bottle swapped"]
    assert len(marks["x"]) == len(planned_swaps(north())) > len(north().summary["gas"]["swaps"])


def test_the_fridge_door_page_says_what_to_drain_first_also_where_the_air_is_cold_already() -> None:
    cold = outage.answer(small_heater())
    told = at_hand(cold)
    assert any(sentence.endswith("the heater has stopped or falls short already.") for sentence in told)
    assert told[-1].startswith("Drain ")
    warm = outage.answer(result_of(with_heater(steady(-14.0), 5000.0)))
    assert at_hand(warm) == warm.sentences[:3]
    assert at_hand(warm)[-1].startswith("Drain ")
    extras, _ = report_parts.parts(Further(loaded_north(), north(), None, 0, 1, lambda _: None))
    assert extras.heater_stops == at_hand(outage.answer(north()))


def test_a_plan_names_the_bottles_with_which_its_own_plan_is_not_short() -> None:
    short = bottle_plan.answer(north('van.bottles=["11 kg exchange"]'))
    assert short.short_at is not None
    assert short.take == to_take(north('van.bottles=["11 kg exchange"]'))
    more = f"van.bottles={['11 kg exchange'] * short.take.bottles}".replace("'", '"')
    assert bottle_plan.answer(north(more)).short_at is None
    fewer = f"van.bottles={['11 kg exchange'] * (short.take.bottles - 1)}".replace("'", '"')
    assert bottle_plan.answer(north(fewer)).short_at is not None


def test_the_odds_of_what_a_run_takes_are_those_of_a_van_that_carries_it() -> None:
    """One bottle, of which the run says to take more: they last in as many winters as in the van that has them; what
    is on board does not. Nothing is said of a take that is on board."""
    one = loaded_north('van.bottles=["11 kg exchange"]', "van.battery_ah=5000")
    take = to_take(north('van.bottles=["11 kg exchange"]', "van.battery_ah=5000"))
    many = loaded_north(f"van.bottles={['11 kg exchange'] * take.bottles}".replace("'", '"'), "van.battery_ah=5000")
    told, carried = (odds.answer(Prepared.from_loaded(each), scenarios=40, executor=InTurn()) for each in (one, many))
    assert (told.take.bottles, told.take.swaps) == (take.bottles, take.swaps)
    assert told.take.lasts_share == pytest.approx(carried.carried_share, abs=0.03)
    assert told.carried_share < told.take.lasts_share - 0.2
