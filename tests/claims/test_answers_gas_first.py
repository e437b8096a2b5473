"""Gas that bottles hold and do not give: one verdict in every answer, and what fails first is what is blamed."""

from __future__ import annotations

import re

import numpy as np
import pytest
from north_tour import MIXED, NO_HEAT, NORTH, REFILLED, north

from budget.answers import bottle_plan, runs_out, trouble
from budget.answers.detail import Detail
from budget.answers.frozen import AWAY, DRIVE, FERRY, GAS, OFF
from budget.answers.last_chance import unserved
from budget.answers.what_to_take import powered, to_take
from budget.cli.summary import gas as gas_rows
from budget.report.door import door
from budget.report.first_out import first_out, nobody_changed_over
from budget.report.headline import headline
from budget.report.markup import shown
from budget.report.reading import figures_of
from budget.report.scene import Scene
from budget.report.section import Extras
from budget.results.result import Result


def gas_of(result: Result) -> str:
    """What the strip, the screen and the fridge-door page say of the gas."""
    return next(supply.told for supply in first_out(result) if supply.name == "Gas")


def figure_of_gas(result: Result) -> str:
    return figures_of(result, Scene.of(result.timeline))[0].answer


def test_gas_that_does_not_flow_with_power_is_so_in_plan_headline_supplies_and_door_page() -> None:
    """Bottles of 70 % propane at -21 °C: the battery dies before the gas is too cold to boil."""
    result = north("weather.offset_k=-6", text=REFILLED)
    found, plan, stands = trouble.answer(result), bottle_plan.answer(result), Detail.of(result)
    assert not unserved(stands).any()
    assert found.not_had_kg == plan.not_had_kg > 1.0
    assert found.wrong_gas == plan.wrong_gas != ()
    assert not found.take_lasts and not to_take(result).lasts
    assert found.not_had_from == stands.time(int(np.argmax(unserved(powered(result)))))
    assert not found.gas_first
    gas = next(supply for supply in runs_out.answer(result).supplies if supply.name == "gas")
    assert gas.held_up_by_h == {"cold": int(np.count_nonzero(unserved(powered(result))))}
    told = gas_of(result)
    assert re.fullmatch(
        r"no pass: [\d.]+ kg left at the end because the heater stops with the battery, but with power [\d.]+ kg not "
        r"had when wanted, first on Thu 7 January 02:00: it was too cold to boil off fast enough",
        told,
    )
    said = headline(result, first_out(result))
    assert said.startswith("The battery cuts out in the ")
    assert said.endswith(" kg of propane, since the gas of 11 kg refillable does not flow in this cold.")
    page = door(result, Extras(), said, first_out(result), ())
    assert shown(told) in page and "so it does with power" not in page
    assert figure_of_gas(result).startswith("The heater stands still for want of charge, so ")
    assert "with power and gas to the end the tour would have used " in figure_of_gas(result)


def test_gas_that_flows_with_power_is_no_trouble_of_a_tour_whose_battery_dies() -> None:
    result = north(text=REFILLED)
    found = trouble.answer(result)
    assert "battery" in result.need.short_of
    assert (found.not_had_kg, found.not_had_from, found.wrong_gas, found.take_lasts) == (0.0, None, (), True)
    assert gas_of(result).startswith("lasts; ") and "; so it does with power" in gas_of(result)


def test_a_fed_tour_that_burns_more_of_another_mixture_lacks_nothing_where_no_flame_goes_short() -> None:
    result = north("van.battery_ah=300", "weather.offset_k=-15")
    burned_kg = float(powered(result).flow("gas_out_kg").sum() + powered(result).flow("gas_out_butane_kg").sum())
    assert result.need.kg - burned_kg > 0.5 and not unserved(powered(result)).any()
    assert trouble.answer(result).not_had_kg == bottle_plan.answer(result).not_had_kg == 0.0


def test_gas_that_fails_before_the_battery_leads_and_is_the_cause_of_cold_and_frost() -> None:
    """30 % of propane: the flame starves on the evening before, the room cools, the battery freezes and takes nothing.

    With a battery that lasts gas ends in the same hour and the pipes freeze for it in the same night.
    """
    dies, lasts = (trouble.answer(north(*more, text=MIXED)) for more in ((), ("van.battery_ah=5000",)))
    assert dies.gas_first and not lasts.gas_first
    assert dies.not_had_from == lasts.not_had_from is not None
    assert [part.cause for part in (*dies.frozen, *lasts.frozen) if part.part == "pipes"] == [GAS, GAS]
    result = north(text=MIXED)
    said = headline(result, first_out(result))
    assert said.startswith('The gas of "mix" is the wrong one for this cold: ')
    assert said.endswith(" The battery cuts out later, in the morning of 6 January: more charge as well.")
    assert (Detail.of(result).with_gas().flow("cut_out_s") > 0.0).any() and dies.charge_too
    assert re.match(r"no pass: [\d.]+ kg left at the end, but [\d.]+ kg not had when wanted, first on ", gas_of(result))
    assert figure_of_gas(result).startswith(
        "Not to the end: in the tour's own weather, as it stands, the gas runs short from Tue 5 January 22:00; "
    )


def test_nobody_is_blamed_for_a_changeover_that_would_have_brought_nothing() -> None:
    """The small bottle is empty, people sleep, and the mixture beside it is too cold to flow for any changeover."""
    result = north(text=MIXED)
    assert result.van.gas.changeover == "manual"
    asleep = np.asarray(result.hours["awake_inside"]) == 0
    assert (unserved(Detail.of(result)) & asleep).any()
    assert runs_out.held_up_by_h(Detail.of(result)).keys() == {"cold"}
    assert nobody_changed_over(result) == ""
    assert not any(name == "asleep" for name, _ in gas_rows(result))


AT_SEA = NORTH.replace("drive_h = 5", "drive_h = 1\nferry_h = 12")
ON_FOOT = f"""{NORTH}{NO_HEAT}
[[away]]
start = 2027-01-05T10:00:00
end = 2027-01-06T18:00:00
schedule = "cold"
"""
BY_NIGHT = f"""{NORTH.replace("[weather]", 'schedule = "by day"' + chr(10) + "[weather]", 1)}
[schedules."by day"]
[[schedules."by day".steps]]
at = "08:00"
air_c = 18
water_c = "off"
[[schedules."by day".steps]]
at = "20:00"
air_c = "off"
water_c = "off"
"""


@pytest.mark.parametrize(
    ("text", "cause", "told"),
    [
        (AT_SEA, FERRY, "On a ferry, with the heater off, the "),
        (ON_FOOT, AWAY, "While you are away with the heater off the "),
        (BY_NIGHT, OFF, "While the schedule has the heater off the "),
    ],
    ids=["ferry", "away", "by night"],
)
def test_water_that_freezes_with_the_heater_off_has_that_for_its_cause(text: str, cause: str, told: str) -> None:
    result = north("van.battery_ah=5000", "weather.offset_k=-10", text=text)
    pipes = [part for part in trouble.answer(result).frozen if part.part == "pipes"]
    assert cause in [part.cause for part in pipes]
    assert told in headline(result, first_out(result))


def test_ice_that_comes_once_while_away_and_once_on_the_drive_has_a_cause_and_a_date_for_each() -> None:
    """Heat while away would put the pipes' ice off by two days, to the drive; heat on both spares it."""
    result = north("van.battery_ah=5000", "weather.offset_k=-10", text=ON_FOOT)
    away, drive = (part for part in trouble.answer(result).frozen if part.part == "pipes")
    assert (away.cause, away.whole, away.since.day) == (AWAY, True, 5)
    assert (drive.cause, drive.drives, drive.since.day) == (DRIVE, True, 7)
