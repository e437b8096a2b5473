"""The sentence on top: what to take, how sure it is, what fails first."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pandas as pd
import pytest

from budget.answers.frozen import AWAY, CHARGE, DRIVE, FERRY, OFF, Frozen
from budget.answers.trouble import TooSmall, Trouble
from budget.answers.wrong_gas import WrongGas
from budget.report.first_out import Supply
from budget.report.headline import headline
from budget.report.headline_odds import with_odds

NIGHT = dt.datetime(2027, 1, 21, 23, 0)
SWAPS = Trouble(bottles=3, swaps=5)
SMALL = TooSmall(gives_w=1370.0, needs_w=3610.0, outdoor_c=-15.4, mains_only=False, guarded=False)
PIPES = Frozen(part="pipes", whole=True, since=dt.datetime(2027, 1, 10, 12), drives=False)
COLD = Trouble(bottles=2, cold_h=144.0, lowest_c=-1.6, heater=SMALL, frozen=(PIPES,))
BUTANE = WrongGas(name="13 kg", bottle_c=-7.0, left_kg=13.0)


def result(*, bottles: int = 3, cut_h: float = 0.0, needed_kg: float = 57.0) -> Any:
    """As much of a result as the headline reads: 11 kg bottles, 24 nights that burn 57 kg."""
    gas = {
        "total_kg": 57.0, "needed_kg": needed_kg, "planned_kg": 64.2, "short_of": ["battery"] if cut_h else [],
        "bottles_needed_basis": {"net_kg": 11.0, "reserve_nights": 1.5},
    }  # fmt: skip
    return SimpleNamespace(
        summary={"gas": gas, "tour": {"nights": 24}},
        van=SimpleNamespace(gas=SimpleNamespace(bottles=(None,) * bottles)),
        flows=pd.DataFrame({"cut_out_min": [60.0 * cut_h]}),
    )


def odds(**told: Any) -> Any:
    """Odds of which nine in ten take seven bottles."""
    chances = {5: 0.41, 6: 0.77, 7: 0.96, 8: 1.0}
    known = {
        "chance_by_bottles_share": chances, "bottle_kg": 11.0, "take": SimpleNamespace(lasts_share=0.92),
        "cut_out_share": 0.02,
        "cut_out_one_in_ten": None, "cut_out_in_half": None, "binds": "gas",
        "first_one_in_ten": NIGHT, "run_out_one_in_ten": NIGHT, "lowest_pipes": SimpleNamespace(p10=4.0),
        "kilograms_last_share": lambda kg: {64.2: 0.93}[kg],
        "bottles_for": lambda share: min((n for n, chance in chances.items() if chance >= share), default=None),
    }  # fmt: skip
    return SimpleNamespace(**known | told)


@pytest.mark.parametrize(
    ("what", "drawn", "found", "said"),
    [
        (
            result(), odds(), SWAPS,
            "Take 3 × 11 kg and swap 5 on the way: with power 92 in 100 such tours have gas to the end; "
            "gas binds first, by the night of 21 January in one of ten.",
        ),
        (
            result(), odds(), Trouble(),
            "Take 7 × 11 kg: with power 96 in 100 such tours have gas to the end; "
            "what is on board lasts until the night of 21 January in nine of ten.",
        ),
        (
            result(bottles=8), odds(binds=None, cut_out_share=0.0), Trouble(),
            "Take 7 × 11 kg: 96 in 100 such tours have gas to the end; nothing binds.",
        ),
        (
            result(bottles=8), odds(first_one_in_ten=None, cut_out_share=0.0), Trouble(),
            "Take 7 × 11 kg: 96 in 100 such tours have gas to the end; in nine of ten nothing binds, else mostly gas.",
        ),
        (
            result(), odds(cut_out_share=0.7, cut_out_in_half=NIGHT), Trouble(),
            "The battery cuts out in 70 in 100 such tours, in half of all by the night of 21 January, and the heater "
            "with it: more charge first, then 7 × 11 kg of gas, enough with power in 96 in 100.",
        ),
        (
            result(), odds(cut_out_share=1.0, cut_out_in_half=NIGHT), replace(SWAPS, heater=SMALL, frozen=(PIPES,)),
            "The battery cuts out in all such tours, in half of them by the night of 21 January, and the heater "
            "with it, and the pipes freeze; it is too small as well, 1.3 kW where 3.7 kW are needed at −16 °C "
            "outdoors: more charge and a larger heater first, then at least 3 × 11 kg of gas and 5 swaps on the way, "
            "enough with power in 92 in 100.",
        ),
        (
            result(bottles=8), odds(binds=None, cut_out_share=0.0, lowest_pipes=SimpleNamespace(p10=-0.4)), Trouble(),
            "Take 7 × 11 kg: 96 in 100 such tours have gas to the end; in one of ten the pipes come to 0 °C.",
        ),
        (
            result(bottles=8), odds(binds=None, cut_out_share=0.0), COLD,
            "The heater is too small: too cold for 144 h while you are in, down to −2 °C, and the pipes freeze from 10 "
            "January. It gives 1.3 kW where 3.7 kW are needed at −16 °C outdoors: a larger heater first, then at least "
            "7 × 11 kg of gas, enough for the small one in 96 in 100.",
        ),
        (
            result(), odds(binds=None, cut_out_share=0.0), replace(SWAPS, frozen=(replace(PIPES, whole=False),)),
            "The pipes part freeze from 10 January: keep them warmer or drain them. Take 3 × 11 kg and swap 5 on the "
            "way: 92 in 100 such tours have gas to the end.",
        ),
        (
            result(), odds(cut_out_share=0.0), Trouble(wrong_gas=(BUTANE,), cold_h=20.0, lowest_c=-6.4),
            'The gas of "13 kg" is the wrong one for this cold: none flows at −7 °C with 13 kg left. Take propane, '
            "64.5 kg with the reserve. With as many kilograms of it 93 in 100 such tours have gas to the end. It is "
            "too cold for 20 h while you are in, down to −7 °C.",
        ),
        (
            result(), odds(cut_out_share=1.0, cut_out_in_half=NIGHT, bottles_for=lambda share: None), Trouble(),
            "The battery cuts out in all such tours, in half of them by the night of 21 January, and the heater "
            "with it: more charge first, then 8 × 11 kg of gas, enough with power in all of them.",
        ),
    ],
    ids=["swaps on the way", "more than is carried", "nothing binds", "rarely binds", "no charge",
         "neither charge nor heater", "cold pipes", "small heater", "frozen pipes", "butane", "never any charge"],
)  # fmt: skip
def test_the_headline_says_what_lasts_in_how_many_tours_and_what_binds(
    what: Any, drawn: Any, found: Trouble, said: str
) -> None:
    assert with_odds(what, drawn, found) == said


def test_a_take_that_lasts_in_fewer_than_nine_of_ten_names_the_bottles_that_do() -> None:
    few = with_odds(result(), odds(take=SimpleNamespace(lasts_share=0.5)), SWAPS)
    assert few == (
        "Take 3 × 11 kg and swap 5 on the way: with power 50 in 100 such tours have gas to the end, with 7 × 11 kg "
        "from the start 96 in 100; gas binds first, by the night of 21 January in one of ten."
    )
    none = odds(take=SimpleNamespace(lasts_share=0.5), bottles_for=lambda share: None)
    assert "have gas to the end; gas binds" in with_odds(result(), none, SWAPS)


def test_a_battery_that_fails_in_more_than_one_of_ten_is_said_whatever_leads() -> None:
    gas = Trouble(wrong_gas=(BUTANE,))
    told = with_odds(result(), odds(cut_out_share=0.27), gas)
    assert told.endswith(" such tours have gas to the end. The battery cuts out in 27 in 100, and the heater with it.")
    assert "attery" not in with_odds(result(), odds(cut_out_share=0.1), gas)
    leads = with_odds(result(), odds(cut_out_share=0.27, binds="battery charge"), SWAPS)
    assert leads.count("attery") == 1


def test_a_chance_near_one_is_not_called_certain_and_certainty_is_all() -> None:
    assert "99 in 100 such" in with_odds(result(), odds(take=SimpleNamespace(lasts_share=0.999)), SWAPS)
    assert ": with power all such tours" in with_odds(result(), odds(take=SimpleNamespace(lasts_share=1.0)), SWAPS)


CUT = Supply("Battery", pd.Timestamp(NIGHT), 0.5, "cuts out")
LASTS = Supply("Gas", None, 1.0, "lasts")


def test_a_battery_that_cuts_out_is_said_before_the_gas_that_it_saves() -> None:
    said = headline(result(cut_h=30.0, needed_kg=60.0), [CUT], Trouble(bottles=6))
    assert said == (
        "The battery cuts out in the night of 21 January, and the heater with it: 30 h without. "
        "As it stands the tour burns 57 kg, with power and gas to the end 60 kg: more charge first, then 6 × 11 kg of "
        "gas."
    )
    assert headline(result(), [LASTS], SWAPS) == (
        "Take 3 × 11 kg and swap 5 on the way: 24 nights burn 57 kg, and 1.5 nights' reserve comes on top; "
        "nothing on board runs out."
    )


def test_a_battery_that_cuts_out_says_how_cold_it_then_is_and_a_heater_that_is_too_small_all_the_same() -> None:
    tank = replace(PIPES, part="fresh")
    cold = Trouble(bottles=3, swaps=1, cold_h=30.0, lowest_c=-14.2, frozen=(PIPES, tank))
    stops = (
        "The battery cuts out in the night of 21 January, and the heater with it: 30 h without, down to −15 °C inside, "
        "and the pipes and the fresh tank freeze. "
    )
    assert headline(result(cut_h=30.0, needed_kg=60.0), [CUT], cold) == (
        f"{stops}As it stands the tour burns 57 kg, with power and gas to the end 60 kg: more charge first, then "
        "3 × 11 kg of gas and 1 swap on the way."
    )
    assert headline(result(cut_h=30.0, needed_kg=60.0), [CUT], replace(cold, heater=SMALL, swaps=0)) == (
        f"{stops}The heater is too small as well, 1.3 kW where 3.7 kW are needed at −16 °C outdoors: more charge and a "
        "larger heater first, then at least 3 × 11 kg of gas."
    )


def test_a_heater_that_does_not_hold_the_room_is_said_before_the_gas_that_lasts_for_it() -> None:
    assert headline(result(), [LASTS], COLD) == (
        "The heater is too small: too cold for 144 h while you are in, down to −2 °C, and the pipes freeze from 10 "
        "January. It gives 1.3 kW where 3.7 kW are needed at −16 °C outdoors: a larger heater first, then at least "
        "2 × 11 kg of gas."
    )
    alone = replace(SMALL, mains_only=True, gives_w=950.0)
    assert headline(result(), [LASTS], replace(COLD, heater=alone, frozen=(), wrong_gas=(BUTANE,))) == (
        "The heater is too small: too cold for 144 h while you are in, down to −2 °C. It gives 0.9 kW on the hook-up "
        "alone where 3.7 kW are needed at −16 °C outdoors: gas beside the hook-up first, then at least 64.5 kg of "
        'propane. The gas of "13 kg" is the wrong one for this cold: none flows at −7 °C with 13 kg left.'
    )
    guarded = headline(result(), [LASTS], replace(COLD, heater=replace(SMALL, guarded=True)))
    assert "It gives 1.3 kW through its supply air where 3.7 kW are needed at −16 °C outdoors: open outlets " in guarded
    assert "outdoors: open outlets and a free way back first, then at least 2 × 11 kg of gas." in guarded


def test_pipes_that_freeze_on_a_drive_are_said_before_the_gas_with_what_spares_them() -> None:
    """Never without the caution: bottles are shut on the road unless installation and rules allow otherwise."""
    drive = replace(SWAPS, frozen=(replace(PIPES, whole=False, drives=True, cause=DRIVE),))
    takes = "Take 3 × 11 kg and swap 5 on the way: 24 nights burn 57 kg, and 1.5 nights' reserve comes on top"
    freezes = (
        "On a drive with the heater off the pipes part freeze from 10 January: drain first, or heat on the way "
        "(heater_while_driving) where the installation is made for it and local rules allow it; else the bottles stay "
        "shut. "
    )
    assert headline(result(), [LASTS], drive) == f"{freezes}{takes}."
    warms = replace(drive, cold_h=14.0, lowest_c=13.2)
    assert headline(result(), [LASTS], warms) == (
        f"{freezes}{takes}. It is too cold for 14 h while you are in, down to 13 °C."
    )
    full = Supply("Waste tank", pd.Timestamp(NIGHT), 0.5, "full", verb="fills")
    assert headline(result(), [full], drive) == f"{freezes}{takes}; the waste tank fills first, night of 21 January."


def test_gas_that_does_not_flow_says_what_is_cold_for_it_and_the_wrong_gas_first() -> None:
    """Read from a result without flows: `causes` is not asked where the gas is the wrong one."""
    what = result(needed_kg=80.0)
    found = replace(COLD, heater=None, wrong_gas=(BUTANE,), not_had_kg=23.0, not_had_from=NIGHT)
    told = (
        'The gas of "13 kg" is the wrong one for this cold: none flows at −7 °C with 13 kg left. Take propane, 64.5 kg '
        "with the reserve. 24 nights want 80 kg of gas, and 23 kg of it is not had from the night of 21 January on: "
        "too cold for 144 h while you are in, down to −2 °C, and the pipes freeze from 10 January."
    )
    assert headline(what, [LASTS], found) == told


def test_gas_that_fails_before_the_battery_leads_and_says_whether_more_charge_is_wanted_too() -> None:
    what = result(cut_h=30.0, needed_kg=80.0)
    found = replace(COLD, heater=None, wrong_gas=(BUTANE,), not_had_kg=23.0, not_had_from=NIGHT)
    assert headline(what, [CUT], found).startswith("The battery cuts out in the night of 21 January")
    first = replace(found, gas_first=True)
    said = headline(what, [CUT], first)
    assert said.startswith('The gas of "13 kg" is the wrong one for this cold: ')
    later = " The battery cuts out later, in the night of 21 January: "
    assert said.endswith(f"{later}with gas to the end it would not.")
    assert headline(what, [CUT], replace(first, charge_too=True)).endswith(f"{later}more charge as well.")
    drawn = odds(cut_out_share=0.7, cut_out_in_half=NIGHT)
    assert with_odds(what, drawn, found).startswith("The battery cuts out in 70 in 100 such tours")
    said = with_odds(what, drawn, first)
    assert said.startswith('The gas of "13 kg" is the wrong one for this cold: ')
    assert said.endswith(" The battery cuts out in 70 in 100 such tours, later than the gas.")


def test_more_charge_first_then_propane_where_what_is_on_board_does_not_flow_with_power() -> None:
    said = headline(result(cut_h=30.0, needed_kg=60.0), [CUT], replace(SWAPS, wrong_gas=(BUTANE,), not_had_kg=2.0))
    assert said.endswith(
        ": more charge first, then 64.5 kg of propane, since the gas of 13 kg does not flow in this cold."
    )


@pytest.mark.parametrize(
    ("cause", "told"),
    [
        (FERRY, "On a ferry, with the heater off, the pipes freeze from 10 January: drain first."),
        (AWAY, "While you are away with the heater off the pipes freeze from 10 January: drain first, or let the "
               "schedule keep the van above frost."),
        (OFF, "While the schedule has the heater off the pipes freeze from 10 January: drain first, or let the "
              "schedule keep the van above frost."),
    ],
)  # fmt: skip
def test_water_that_freezes_with_the_heater_off_is_told_apart_from_what_gas_or_charge_let_freeze(
    cause: str, told: str
) -> None:
    tank = replace(PIPES, part="fresh", cause=CHARGE)
    found = replace(SWAPS, frozen=(replace(PIPES, cause=cause), tank), cold_h=30.0, lowest_c=-3.0)
    said = headline(result(cut_h=30.0, needed_kg=60.0), [CUT], found)
    assert ", and the fresh tank freezes. As it stands" in said
    assert said.endswith(f" of gas and 5 swaps on the way. {told}")
    assert headline(result(), [LASTS], found).startswith(f"{told} Take 3 × 11 kg ")


def test_bottles_and_swaps_that_do_not_carry_the_tour_are_not_called_enough() -> None:
    """Where not even a full locker does."""
    out = Supply("Gas", pd.Timestamp(NIGHT), 0.5, "out")
    assert headline(result(needed_kg=60.0), [out], replace(SWAPS, take_lasts=False, not_had_kg=3.0)) == (
        "Take more than 3 × 11 kg and swap 5 on the way: 24 nights want 60 kg of gas, and 3 kg of it is not on board "
        "when it is wanted; gas runs out first, night of 21 January."
    )
    assert headline(result(cut_h=30.0, needed_kg=60.0), [CUT], replace(SWAPS, take_lasts=False)).endswith(
        ": more charge first, then more than 3 × 11 kg of gas and 5 swaps on the way, 64.5 kg in all."
    )


def test_a_doubtful_place_is_asked_about_before_all_else() -> None:
    asked = replace(SWAPS, doubts=("Is Cape right?",))
    assert headline(result(), [LASTS], asked).startswith("Is Cape right? Take 3 × 11 kg and swap 5 on the way: ")
    assert with_odds(result(), odds(), asked).startswith("Is Cape right? Take 3 × 11 kg and swap 5 on the way: ")
