"""What the answers say, word for word, of stand-ins for what they found: each branch of each sentence once."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from types import SimpleNamespace as Found
from typing import Any

import numpy as np
import pandas as pd
import pytest
from sample_vans import sample_vans

from budget.answers import (
    battery_words,
    best_schedule,
    bottle_plan_words,
    compare_words,
    conditions,
    ducts,
    heater_size_words,
    hookup_words,
    money,
    night_cases,
    night_ready,
    night_settings,
    odds,
    odds_words,
    runs_out,
    sensitivity,
    swaps_made,
    tonight,
    tonight_away,
    tonight_back,
    tonight_verdict,
    tonight_words,
    warm_up,
)
from budget.answers.fed import POWERED
from budget.answers.heat_source import BURNER, Source
from budget.answers.what_to_take import ToTake
from budget.answers.wrong_gas import WrongGas
from budget.engine.van_arrays import build_van

NIGHT = dt.datetime(2027, 1, 14, 22, 0)


def at(hours: int) -> dt.datetime:
    return NIGHT + dt.timedelta(hours=hours)


# What runs out


def supply(name: str, out_h: int | None = None, short_h: int = 0, lowest: float = 0.214, **held_up: int) -> Any:
    out_at = None if out_h is None else at(out_h)
    return Found(name=name, lowest_share=lowest, lowest_at=at(5), out_at=out_at, out_place="Cape", short_h=short_h,
                 held_up_h=sum(held_up.values()), held_up_by_h=held_up)  # fmt: skip


def test_what_runs_out_is_told_in_order_of_time_or_what_is_tightest() -> None:
    names = list(runs_out.WHAT)
    one, two = supply(names[0], 9, 12), supply(names[1], 3, 4)
    first, second = runs_out.WHAT[names[1]], runs_out.WHAT[names[0]]
    assert runs_out._sentences((one, two), two, two) == [
        f"{first[0].upper()}{first[1:]} falls short first, on Fri 15 Jan 01:00 (Cape), for 4 h of the tour.",
        f"{second[0].upper()}{second[1:]} falls short too, on Fri 15 Jan 07:00 (Cape), for 12 h of the tour.",
    ]
    calm, held = supply(names[0]), supply(names[1], shut=2, cold=5)
    assert runs_out._sentences((calm, held), None, calm) == [
        f"Nothing runs out. The tightest is {second}: 21 % left on Fri 15 Jan 03:00.",
        f"For 7 h {first} could not be had though some was left: 2 h the bottles were shut, 5 h it was too cold to "
        "boil off fast enough.",
    ]
    assert runs_out._sentences((one, held), one, one)[-1].startswith(f"For 7 h {first} could not be had")


# The battery


def stand(
    lasts_h: int | None,
    drive_h: float | None,
    hours: int = 0,
    cold_h: int = 0,
    why_not: str | None = None,
    cut_out: bool = False,
) -> Any:
    return Found(at=at(hours), place="Cape", charge_share=0.643, lasts_h=lasts_h, nights=1.59, drive_h=drive_h,
                 no_charge_h=cold_h, why_not=why_not, cut_out=cut_out, cut_out_at_share=0.5 + hours / 1000.0,
                 reconnects_at_share=0.61)  # fmt: skip


RUN = Found(
    time=at,
    place=lambda hour: "Cape",
    flow=lambda name, which=None: np.array([30.2, 20.1]) if which is None else np.array([11.4]),
    index=pd.date_range("2027-01-14 12:00", periods=48, freq="h"),
    timeline=Found(hookup_w=np.full(48, 1380.0)),
)
FAN = "The heater's fan takes 11 of 50 Ah over the tour."


@pytest.mark.parametrize(
    ("stands", "told"),
    [
        ((), ["No evening of this tour is off the grid, where the battery would have to last by itself."]),
        (
            (stand(None, 0.0),),
            ["From no evening off the grid does the charge end before the tour, with no sun, drive or hook-up.",
             "On no such evening is a drive needed to reach the next one."],
        ),
        (
            (stand(40, 0.0), stand(None, 1.5, 24), stand(41, 2.25, 25, 9), stand(37, None, 48, 9, "it brings 3 Ah")),
            ["Least from Sat 16 Jan 22:00 at Cape (64 % of charge): 37 h, 1.5 nights, until cut-out with no sun, drive "
             "or hook-up.",
             "As cold as the battery is on these evenings, its loads are cut out at 50 to 55 % of the rated charge and "
             "come back at 61 %.",
             "Fri 15 Jan, Cape: drive 1.5 h from 22:00 on to reach 22:00 of the next day without sun.",
             "Fri 15 Jan, Cape: drive 2.25 h from 23:00 on to reach 23:00 of the next day without sun; in 9 h until "
             "then its cells stand at or below 0 °C and take no charge: warm the van.",
             "Sat 16 Jan, Cape: not even 10 h of driving from 22:00 on reach 22:00 of the next day without sun: it "
             "brings 3 Ah.",
             "The drive is judged from that hour on; a later one serves only while the charge lasts."],
        ),
        (
            (stand(0, 2.0, cut_out=True),),
            ["As cold as the battery is on these evenings, its loads are cut out at 50 % of the rated charge and come "
             "back at 61 %.",
             "Thu 14 Jan 22:00 at Cape (64 % of charge): the loads are cut out already, and stay so until it is "
             "charged to 61 % or a charger feeds them.",
             "Thu 14 Jan, Cape: drive 2 h from 22:00 on to reach 22:00 of the next day without sun.",
             "The drive is judged from that hour on; a later one serves only while the charge lasts."],
        ),
    ],
    ids=["on the grid", "lasts", "ends", "cut out"],
)  # fmt: skip
def test_how_long_the_charge_lasts_is_told_for_the_least_evening(stands: tuple[Any, ...], told: list[str]) -> None:
    """What lasts is told downwards: 1.59 nights are 1.5."""
    assert battery_words.sentences(RUN, stands) == [*told, FAN]


def test_without_an_evening_off_the_grid_it_is_told_why() -> None:
    """On the hook-up on both evenings; on one of them, the other on the road or with nobody on board; no evening."""
    hours = pd.date_range("2027-01-14 10:00", periods=48, freq="h")
    hooked = np.ones(48, dtype=bool)
    assert battery_words.no_stand(hours, hooked) == (
        "No evening of this tour is off the grid, where the battery would have to last by itself."
    )
    hooked[8] = False
    assert battery_words.no_stand(hours, hooked) == (
        "On no evening of this tour does the van stand off the grid with somebody on board."
    )
    assert battery_words.no_stand(hours[:8], hooked[:8]) == (
        "This tour has no evening: none of its hours begins at 18:00."
    )


def test_evenings_that_are_cut_out_already_come_first_and_those_on_end_are_one_sentence() -> None:
    dead = [stand(0, 2.0, hours, cut_out=True) for hours in (24, 48, 96)]
    dead[1].charge_share, dead[1].reconnects_at_share = 0.66, 0.6812
    told = battery_words.sentences(RUN, (stand(37, 0.0), *dead[:2], stand(41, 0.0, 72), dead[2]))
    assert told[:3] == [
        "Dead from Thu 14 Jan 22:00 (Cape): on 3 of 5 evenings off the grid the loads are cut out already.",
        "Of the others the charge lasts least from Thu 14 Jan 22:00 at Cape (64 % of charge): 37 h, 1.5 nights, until "
        "cut-out with no sun, drive or hook-up.",
        "As cold as the battery is on these evenings, its loads are cut out at 50 to 60 % of the rated charge and come "
        "back at 61 to 68 %.",
    ]
    assert told[3:5] == [
        "Fri 15 Jan to Sat 16 Jan 22:00 at Cape (64 to 66 % of charge): the loads are cut out already, and stay so "
        "until it is charged to 61 to 69 % or a charger feeds them.",
        "Mon 18 Jan 22:00 at Cape (64 % of charge): the loads are cut out already, and stay so until it is charged to "
        "61 % or a charger feeds them.",
    ]
    elsewhere = Found(**{**vars(dead[1]), "place": "Port"})
    both = battery_words.sentences(RUN, (dead[0], elsewhere))
    assert [sentence.split(" (")[0] for sentence in both[2:4]] == [
        "Fri 15 Jan 22:00 at Cape",
        "Sat 16 Jan 22:00 at Port",
    ]


# Money


@pytest.mark.parametrize(
    ("given", "told"),
    [
        (
            (None, None, None, 0.0, 0.0),
            ["No fuel is bought on this tour: what was on board at departure is paid already."],
        ),
        (
            (31.5, 4.256, 35.756, 0.0, 0.0),
            ["Bought on the way: 35.76, of it gas 31.50 and electricity 4.26, in the money of the prices given."],
        ),
        (
            (None, 4.0, 4.0, 11.04, 0.0),
            ["Bought on the way: 4.00, of it gas 0.00 and electricity 4.00, in the money of the prices given.",
             "No price is given for 11.0 kg of the gas bought; it is not counted."],
        ),
        (
            (7.0, None, 7.0, 0.0, 3.26),
            ["Bought on the way: 7.00, of it gas 7.00 and electricity 0.00, in the money of the prices given.",
             "No price is given for 3.3 kWh of electricity; it is not counted."],
        ),
    ],
)  # fmt: skip
def test_money_is_told_as_far_as_prices_are_given(given: tuple[Any, ...], told: list[str]) -> None:
    assert money._sentences(*given) == told


# The hook-up


def amps(element_w: float, charging_w: float | None = None) -> Any:
    return Found(supply_a=6.0, supply_v=230.0, supply_w=1380.0, element_w=element_w, lowest_c={"at_20_c": 4.6},
                 spare_w=439.9, charging_charger_w=301.2, charging_spare_w=78.8, charging_lowest_c={"at_20_c": 9.2},
                 charging_element_w=element_w if charging_w is None else charging_w, needed_w=1234.4)  # fmt: skip


FITS = "439 W fit, 78 W while it charges."
GETS = "6 A at 230 V (1380 W): "
HELD_HEAT = f"{GETS}900 W of heat hold 20 °C down to 5 °C outdoors"
HELD = f"{HELD_HEAT}, while the battery charges too. Beside that {FITS}"
LEFT = f"{GETS}nothing left for the heater's element. Once the battery is charged {FITS}"
NO_HEAT = "no heat, since this heater has no electric element. Once the battery is charged"
NONE = f"6 A at 230 V: {NO_HEAT} {FITS}"
NEEDED = "At -5 °C outdoors 20 °C inside takes about 1235 W."
CONTENT = "11.2 kWh of heat a kg on the lower heating value"
FROM_GAS = f"0.25 a kWh of heat (2.80 a kg at {CONTENT})"


@pytest.mark.parametrize(
    ("element", "supplies", "prices", "told"),
    [
        (True, (amps(900.0),), (None, None),
         [HELD, NEEDED, f"Gas gives {CONTENT} in this heater; the tour gives no price, so none is compared."]),
        (True, (amps(0.0),), (2.8, None),
         [LEFT, NEEDED, f"Gas costs {FROM_GAS}: electricity is cheaper below 0.25 a kWh, a price the tour does not "
          "give."]),
        (False, (amps(0.0),), (None, 0.5),
         [NONE, NEEDED, f"Electricity costs 0.50 a kWh, and gas gives {CONTENT}: gas is cheaper below 5.60 a kg, a "
          "price the tour does not give."]),
        (True, (amps(900.0),), (2.8, 0.5),
         [HELD, NEEDED, f"Heat is cheaper from gas here: {FROM_GAS} against 0.50 a kWh of electricity, which is "
          "cheaper below 0.25 a kWh."]),
        (True, (amps(0.0), amps(900.0)), (2.8, 0.2),
         [LEFT, HELD, NEEDED, f"Heat is cheaper from electricity here: 0.20 a kWh against {FROM_GAS} from gas, which "
          "is cheaper below 2.24 a kg."]),
    ],
)  # fmt: skip
def test_a_hook_up_is_told_by_what_it_holds_and_by_the_prices_given(
    element: bool, supplies: tuple[Any, ...], prices: tuple[float | None, float | None], told: list[str]
) -> None:
    """At 11.2 kWh a kilogram 2.80 a kilogram are 0.25 a kWh; 0.50 and 0.20 a kWh are 5.60 and 2.24 a kilogram."""
    assert hookup_words.HELD_AT_C[0] == 20.0
    assert hookup_words.sentences(element, supplies, (), 11.2, *prices, -5.0, 20.0) == [
        *told[: len(supplies)], hookup_words.KETTLES, *told[len(supplies) :]
    ]  # fmt: skip


def test_several_supplies_for_a_heater_without_element_are_one_sentence() -> None:
    supplies: Any = tuple(Found(**{**vars(amps(0.0)), "supply_a": a}) for a in (3.0, 6.0, 16.0))
    told = hookup_words.sentences(False, supplies, (), 11.2, None, None, -5.0, 20.0)
    assert told[:3] == [
        f"3, 6 or 16 A at 230 V: {NO_HEAT} 439, 439 and 439 W fit, 78, 78 and 78 W while it charges.",
        "A travel kettle takes about 1000 W and one of a household about 2000 W: what takes more than fits trips the "
        "hook-up.",
        NEEDED,
    ]


def test_what_is_held_back_while_the_battery_charges_is_told_beside_the_heat_afterwards() -> None:
    less, none = (
        hookup_words.sentences(True, (amps(900.0, watts),), (), 11.2, None, None, -5.0, 20.0)[0]
        for watts in (500.0, 0.0)
    )
    charging = "while the battery charges (301 W)"
    assert less == f"{HELD_HEAT}; {charging} only 500 W, down to 10 °C. Beside that {FITS}"
    assert none == f"{HELD_HEAT}; {charging} no heat. Beside that {FITS}"


def test_a_stay_that_would_trip_is_told_by_its_first_hour_and_what_is_on_in_it() -> None:
    first, later = (
        Found(at=at(hours).isoformat(), meal_w=meal_w, fridge_w=0.0, charger_w=206.4, element_w=1800.0)
        for hours, meal_w in ((9, 1500.0), (21, 0.0))
    )
    calm = Found(place="Cape", supply_a=10.0, supply_w=2300.0, over_h=0, trips=())
    over = Found(place="Port", supply_a=6.0, supply_w=1380.0, over_h=2, trips=(first, later))
    told = hookup_words.sentences(True, (amps(900.0),), (calm, over), 11.2, None, None, -5.0, 20.0)
    assert told[4:] == [
        "Port: 6 A is not tripped here, since charger and element are held back to what it bears; with nothing held "
        "back it would trip in 2 h, first Fri 15 Jan 07:00 with meal 1500 W, charger 206 W, element 1800 W."
    ]
    first.meal_w = 1600.0  # over 1.13 × 1380 W by itself
    told = hookup_words.sentences(True, (amps(900.0),), (calm, over), 11.2, None, None, -5.0, 20.0)
    assert told[4:] == [
        "Port: 6 A is tripped in 1 h by meal and fridge alone, though charger and element are held back here; with "
        "nothing held back it would trip in 2 h, first Fri 15 Jan 07:00 with meal 1600 W, charger 206 W, element "
        "1800 W."
    ]


# The heater's size


def case(name: str = "screens closed", left_w: float = 812.3, lowest: float | None = -17.6, air_h: float | None = 2.24,
         fabric_h: float | None = 6.66, guarded: bool = False) -> Any:  # fmt: skip
    return Found(name=name, needed_w=2187.2, fan_w=59.6, loss_w_per_k=64.2, available_w=3000.9, left_w=left_w,
                 lowest_c={"at_20_c": lowest}, warm_air_h=air_h, warm_fabric_h=fabric_h,
                 altitude_m=1500.0, guarded=guarded)  # fmt: skip


def heater_told(
    cases: tuple[Any, ...],
    standard_h: tuple[float | None, float | None],
    compensated: bool,
    wind_m_per_s: float = 2.0,
    source: Source = BURNER,
    others: tuple[Any, ...] = (),
) -> list[str]:
    van: Any = Found(heater=Found(altitude_compensated=compensated, rated_w=4000.0, supply_limit_c=90.0))
    return heater_size_words.sentences(van, cases, -15.0, 20.0, wind_m_per_s, standard_h, source, others)


def test_a_heaters_size_is_told_by_its_spare_watts_its_cold_and_its_hours() -> None:
    """At the altitude, the last case, and then at sea level, the first. What is needed and how long it takes goes up
    to the last figure told, what is there and what is left down."""
    assert heater_size_words.HELD_AT_C[0] == 20.0
    standard, fabric_c = heater_size_words.STANDARD, 20.0 - warm_up.FABRIC_SHORT_K
    took = (f"{standard} allows {heater_size_words.STANDARD_H:g} h from {heater_size_words.STANDARD_START_C:g} to "
            f"{heater_size_words.STANDARD_END_C:g} °C: this van takes ")  # fmt: skip
    low, high = case("all open", lowest=None, left_w=1400.5), case()
    assert heater_told((low, high), (3.21, 4.88), True) == [
        "At -15 °C outdoors, screens closed, 20 °C inside takes 2188 W beside the 59 W of the fan, together 65 W/K; "
        "the heater gives 3000 W at 1500 m: 812 W left; at sea level it gives 3000 W: 1400 W left.",
        "screens closed: 20 °C is held down to -17 °C outdoors.",
        f"all open: 20 °C is held down to below {heater_size_words.COLDEST_C:g} °C outdoors.",
        f"From cold-soaked at -15 °C at 1500 m in a wind of 2 m/s the air reaches 20 °C in 2.3 h, lining and furniture "
        f"reach {fabric_c:g} °C in 6.7 h.",
        took + "4.9 h at 1500 m and 3.3 h at sea level, without wind by this reckoning, which is not the test.",
    ]
    weak = case(left_w=-44.6, air_h=None, fabric_h=None)
    short = heater_told((low, weak), (3.21, None), False, wind_m_per_s=0.0)
    assert short[0].endswith("gives 3000 W at 1500 m: 45 W short; at sea level it gives 3000 W: 1400 W left.")
    assert short[3:] == [
        "From cold-soaked at -15 °C at 1500 m without wind the air does not reach 20 °C within a day, lining and "
        f"furniture do not reach {fabric_c:g} °C within a day.",
        took + "longer than a day at 1500 m and 3.3 h at sea level, without wind by this reckoning, which is not the "
        "test.",
        "Above about 1000 m see the heater's rating plate: thin air takes of its output.",
    ]
    assert " m: 0 W left; " in heater_told((low, case(left_w=0.0)), (None, None), True)[0]


@pytest.mark.parametrize("compensated", [True, False])
def test_a_heater_that_its_guard_holds_back_is_told_so_at_the_altitude(compensated: bool) -> None:
    held_back = ("Of its 4000 W the guard on the supply air lets 3000 W through: more would heat that air over 90 °C. "
                 "Open outlets or the way back.")  # fmt: skip
    told = heater_told((case("all open"), case(guarded=True)), (3.26, 3.26), compensated)
    assert (told[1], len(told)) == (held_back, 6)
    assert held_back not in heater_told((case("all open", guarded=True), case()), (3.26, 3.26), True)


def test_a_heater_that_a_hook_up_feeds_is_told_by_its_element_and_the_other_sources_after_it() -> None:
    six = Source(burner=False, supply_a=6.0, element_w=1000.0)
    both: Any = Found(name="burner and 16 A (element 2000 W)", available_w=5591.3, left_w=3400.2,
                      lowest_c={"at_20_c": None})  # fmt: skip
    told = heater_told((case("all open"), case(left_w=-1139.2)), (None, None), False, source=six, others=(both,))
    assert "; the heater, by 6 A alone (element 1000 W), gives 3000 W at 1500 m: 1140 W short; " in told[0]
    assert told[1:3] == [
        "The hook-up alone is too little: let gas heat beside it (heater_fuel), or ask for more amps.",
        "By burner and 16 A (element 2000 W) it gives 5591 W there: 3400 W left; 20 °C is held down to below -38 °C "
        "outdoors.",
    ]
    assert not any("rating plate" in each for each in told), "an element does not mind thin air"
    enough = heater_told((case("all open"), case()), (None, None), False, source=six)
    assert not any("too little" in each for each in enough)


# Ducts


def change(what: str, supply_c: float | None, within: bool, flow: float = 91.6, most_w: float = 4000.0) -> Any:
    return Found(what=what, supply_c=supply_c, within_limit=within, flow_m3_per_h=flow, most_heat_w=most_w)


TOP = Found(output_w=4000.0, flow_m3_per_h=171.4, warm_m3_per_h=201.6, supply_c=71.6,
            share_by_zone={"living": 0.553, "wet_room": 0.443, "garage": 0.004})  # fmt: skip
HOT = Found(**{**vars(TOP), "supply_c": 95.6})
VAN: Any = Found(heater=Found(supply_limit_c=90.0))
PRACTICE = (
    "Fan curve and outlet losses are common practice; measure velocity at an outlet to correct them: the table's is "
    "that of the air as warm as it comes out."
)


def test_ducts_are_told_by_what_goes_where_and_by_what_a_closed_outlet_costs() -> None:
    """What the guard leaves is told downwards: 3711.9 W are 3711."""
    begin = (
        "At 4000 W, full output at 1200 m, 171 m³/h of air at 20 °C go through the heater and leave it at 72 °C, as "
        "202 m³/h; the heat goes to living 55 %, wet room 44 %."
    )
    assert ducts._sentences(VAN, (Found(), TOP), (), (), 4000.0, 1200.0) == [begin, PRACTICE]
    balancing = (change("cab half as open", 71.0, True), change("cab closed", 96.2, False, most_w=3711.9),
                 change("living closed", 84.0, True), change("garage closed", None, False, most_w=0.0),
                 change("living half as open", 99.0, False, most_w=3650.0))  # fmt: skip
    path = (change("return path of 60 cm²", 80.0, True), change("return path blocked", None, False, 0.0),
            change("return path of 20 cm²", 112.4, False), change("return path of 10 cm²", 150.0, False))  # fmt: skip
    assert ducts._sentences(VAN, (TOP,), balancing, path, 4000.0, 1200.0) == [
        begin,
        "Full output would heat the supply air over its limit of 90 °C with cab closed (the guard then leaves 3711 W), "
        "or with garage closed (the guard then leaves 0 W), or with living half as open (the guard then leaves 3650 "
        "W).",
        "Closing one outlet costs most with cab closed: 92 m³/h of 20 °C left, supply 96 °C.",
        "With a return path of 20 cm² the supply reaches 112 °C, over the limit of 90 °C; keep the way back to the "
        "heater clear.",
        PRACTICE,
    ]
    (lone,) = [
        line for line in ducts._sentences(VAN, (TOP,), balancing[3:4], (), 4000.0, 1200.0) if line.startswith("Clos")
    ]
    assert lone.endswith("92 m³/h of 20 °C left, supply no temperature, for no air moves.")


def test_ducts_over_the_limit_as_they_are_are_told_by_what_the_guard_leaves() -> None:
    """Nothing is told then of what a change would heat over the limit: it is over it already."""
    over = change("cab closed", 96.2, False, most_w=3711.9), change("return path of 20 cm²", 112.4, False)
    for top, leaves in ((HOT, 3490.9), (Found(**{**vars(TOP), "supply_c": None}), 0.0)):
        told = ducts._sentences(VAN, (top,), over[:1], over[1:], leaves, 1200.0)
        assert told[1:] == [
            f"That is over the limit of 90 °C: the guard on the supply air leaves {int(leaves)} W.",
            "Closing one outlet costs most with cab closed: 92 m³/h of 20 °C left, supply 96 °C.",
            PRACTICE,
        ]


# Bottles


def plan_told(lowest_kg: float = 2.52, **changes: Any) -> list[str]:
    given: dict[str, Any] = {
        "at": at(0), "burned_kg": 17.64, "needed_kg": 17.64, "planned_kg": 20.16, "reserve_nights": 2.0,
        "reserve_kg_per_day": 1.26, "reserve_kg": 2.52, "reserve_kept": True, "bottles_needed": 2, "bottle": "11 kg",
        "short_of": (), "as_if_powered": False, "swaps": (), "chances": (), "short_at": None, "now": (),
        "handed_back_kg": 0.0, "end_kg": (4.36,), "payload_kg": 143.6, "not_had_kg": 0.0, "held_up_by": (),
        "wrong_gas": (), "take": None,
    }  # fmt: skip
    return bottle_plan_words.plan_sentences(Found(**(given | changes)), lowest_kg, "in the hardest three days")


def swap_at(hours: int, **changes: Any) -> Any:
    given: dict[str, Any] = {"place": "Cape", "bottle": 2, "name": "11 kg", "left_kg": 0.74, "added_kg": 10.26,
                             "exchanged": True, "needed": True}  # fmt: skip
    return Found(time=at(hours), **(given | changes))


RESERVE = "with a reserve of 2 nights at 1.3 kg a day, in the hardest three days; that is 2 × 11 kg without a swap."
NEED = f"Burned: 17.6 kg. Needed: 17.6 kg, the same, since nothing runs short. Planned: 20.2 kg, {RESERVE}"
AT_THE_END = "Left at the end: bottle 1 4.3 kg; handed back on the way: 0.0 kg."
KEPT = "The reserve of 2.6 kg is kept: 2.5 kg on board at the lowest."
PAYLOAD = "Full bottles and water weigh 144 kg of the payload."


def test_a_bottle_plan_tells_its_need_its_reserve_and_what_is_left() -> None:
    calm = "The gas on board at departure lasts the tour without a change."
    assert plan_told() == [calm, NEED, AT_THE_END, KEPT, PAYLOAD]
    bottle = Found(bottle=1, name="5 kg", verdict="serves.")
    told = plan_told(0.44, end_kg=(0.0, 4.36), handed_back_kg=0.74, reserve_kept=False, now=(bottle,))
    assert told[2:] == [
        "Left at the end: bottle 1 0.0 kg, bottle 2 4.3 kg; handed back on the way: 0.7 kg.",
        "Bottle 1 (5 kg) on Thu 14 Jan 22:00: serves.",
        "The reserve of 2.6 kg is not kept: 0.4 kg on board at the lowest.",
        PAYLOAD,
    ]


@pytest.mark.parametrize(
    ("short_of", "enough"),
    [
        (("gas",), "with gas to the end"),
        (("battery",), "with power and gas to the end"),
        (("battery", "gas"), "with power and gas to the end"),
    ],
)
def test_a_bottle_plan_tells_what_would_have_been_needed_where_something_ran_short(
    short_of: tuple[str, ...], enough: str
) -> None:
    """Where the battery dies each number says whether it is of the tour as it stands or with power."""
    powered = "battery" in short_of
    told = plan_told(short_of=short_of, as_if_powered=powered, burned_kg=9.46, short_at=at(9), swaps=(swap_at(3),))
    short = "as is short from Fri 15 Jan 07:00 whatever is changed: take more bottles or use less."
    swap = "Fri 15 Jan 01:00, Cape: bottle 2 (11 kg), 0.7 kg handed back in it, 10.3 kg in."
    stands = (
        "The battery cuts out on this tour. As it stands the heater stops with it and burns 9.5 kg; all else is "
        "planned with power, that is with a battery that lasts."
    )
    need = f"Burned as it stands: 9.5 kg. Needed {enough}: 17.6 kg. Planned: 20.2 kg, {RESERVE}"
    if powered:
        assert told == [stands, f"With power: g{short}", need, f"With power: {swap}", f"With power: l{AT_THE_END[1:]}",
                        f"With power: t{KEPT[1:]}", PAYLOAD]  # fmt: skip
    else:
        assert told == [f"G{short}", need, swap, AT_THE_END, KEPT, PAYLOAD]


@pytest.mark.parametrize(
    ("take", "instead"),
    [
        (ToTake(bottles=2, swaps=4), "take 2 × 11 kg, which with 4 swaps on other dates than these last, or use less"),
        (ToTake(bottles=2, swaps=1), "take 2 × 11 kg, which with 1 swap on other dates than these last, or use less"),
        (ToTake(bottles=5, swaps=0), "take 5 × 11 kg, which with no swap last, or use less"),
        (ToTake(bottles=1, swaps=4), "take more bottles or use less"),  # short for an hour before a swap only
        (ToTake(bottles=1, swaps=4, lasts=False), "as many × 11 kg as a van has room for do not last either; use less"),
    ],
)
def test_a_bottle_plan_that_falls_short_says_how_many_bottles_last(take: ToTake, instead: str) -> None:
    told = plan_told(short_at=at(9), take=take)
    assert told[0] == f"Gas is short from Fri 15 Jan 07:00 whatever is changed: {instead}."


def test_more_of_a_gas_that_does_not_flow_is_not_asked_for() -> None:
    gas = WrongGas(name="11 kg", bottle_c=-7.3, left_kg=13.0)
    told = plan_told(short_at=at(9), take=ToTake(bottles=5, swaps=0), wrong_gas=(gas,))
    assert told[0] == "Gas is short from Fri 15 Jan 07:00 whatever is changed."


def test_a_bottle_plan_opens_with_gas_that_is_not_had_though_some_is_left_and_keeps_no_reserve_then() -> None:
    """13 kg of butane stand untouched in the frost: neither does it last, nor is it a reserve, nor do more help."""
    gas = WrongGas(name="11 kg", bottle_c=-7.3, left_kg=13.0)
    told = plan_told(
        13.0, short_of=("gas",), burned_kg=0.0, not_had_kg=17.64, held_up_by=("it was too cold", "it was shut"),
        wrong_gas=(gas,), reserve_kept=False,
    )  # fmt: skip
    assert told == [
        "The gas does not carry the tour: of the 17.6 kg that it takes 17.6 kg are not had though a bottle holds some: "
        "it was too cold; it was shut.",
        'The gas of "11 kg" is the wrong one for this cold: none flows at −7 °C with 13 kg left. Take propane.',
        "Burned as it stands: 0.0 kg. Needed with gas to the end: 17.6 kg. Planned: 20.2 kg, with a reserve of 2 "
        "nights at 1.3 kg a day, in the hardest three days; that is to be had as propane, not as 11 kg.",
        AT_THE_END,
        "The reserve of 2.6 kg is not kept: the 13.0 kg on board at the lowest only because 17.6 kg did not flow.",
        PAYLOAD,
    ]
    other = plan_told(1.0, not_had_kg=5.0, held_up_by=("it was too cold",), wrong_gas=(replace(gas, name="5 kg"),))
    assert other[2].endswith("that is 2 × 11 kg without a swap.")


def test_a_bottle_plan_tells_last_chances_by_whether_a_swap_comes_before_them() -> None:
    last = Found(close=at(0), open=at(-8), place="Cape", short_at=at(30), next_open=None, next_place=None)
    again = Found(close=at(24), open=at(16), place="Cape", short_at=at(30), next_open=at(60), next_place="Port")
    swaps = (swap_at(0), swap_at(3), swap_at(40))
    begin = "Change gas before Thu 14 Jan 22:00 at Cape (open from Thu 14 Jan 14:00): otherwise it is short from "
    open_ = "Fri 15 Jan 22:00 at Cape (open from Fri 15 Jan 14:00)"
    then = "it is to be had again only from Sun 17 Jan 10:00 at Port."
    assert plan_told(chances=(last, again), swaps=swaps)[:3] == [
        begin + "Sat 16 Jan 04:00, and it is not to be had again on this tour.",
        f"This plan swaps in time, on Fri 15 Jan 01:00, before the last chance ends on {open_}: without it gas is "
        f"short from Sat 16 Jan 04:00, and {then}",
        NEED,
    ]
    (told, short, *_) = plan_told(chances=(again,), swaps=swaps, short_at=at(30))
    assert told == f"Change gas before {open_}: otherwise it is short from Sat 16 Jan 04:00, and {then}"
    assert short.startswith("Gas is short from Sat 16 Jan 04:00 whatever is changed")
    assert plan_told(chances=(again,), swaps=swaps, short_at=at(31))[0].startswith("This plan swaps in time")


def test_a_bottle_plan_tells_each_swap_by_what_becomes_of_the_rest_and_whether_it_is_needed() -> None:
    kept = swap_at(27, bottle=1, name="LPG", left_kg=2.46, added_kg=8.0, exchanged=False)
    needed = ["Fri 15 Jan 01:00, Cape: bottle 2 (11 kg), 0.7 kg handed back in it, 10.3 kg in.",
              "Sat 16 Jan 01:00, Cape: bottle 1 (LPG), 2.5 kg still in it, 8.0 kg in"]  # fmt: skip
    assert plan_told(swaps=(swap_at(3), kept))[2:-3] == [needed[0], needed[1] + "."]
    needless = Found(**{**vars(kept), "needed": False})
    assert plan_told(swaps=(swap_at(3), needless))[2:-3] == [
        needed[0],
        needed[1] + "; not needed, what is on board lasts.",
        "A swap is not needed where, without it and all later ones, no flame lacks gas and the reserve of the hardest "
        "three days stays in hand to the end.",
    ]


# The best schedule


def tried(night_c: float | None, timer: str, gas_kg: float, short: dict[str, float] | None = None) -> Any:
    return Found(planned=False, lead_min=60.0, night_c=night_c, timer=timer, gas_kg=gas_kg, short=short or {},
                 mains_kwh=0.0, coldest_asleep_c=14.28, coldest_at_warm_time_c=18.04, lowest_pipes_c=6.49,
                 fan_ah=12.4)  # fmt: skip


def schedule_told(best: Any, powered: bool = False, **changes: Any) -> list[str]:
    nearest, tries = changes.pop("nearest", best), changes.pop("tried", ())
    given: dict[str, Any] = {"planned_kg": 3.94, "limits": best_schedule.Limits(), "not_held": None,
                             "planned_mains_kwh": 0.0} | changes  # fmt: skip
    found: Any = Found(best=best, nearest=nearest, tried=tries, as_if_powered=powered, **given)
    return best_schedule.BestSchedule.sentences(found)


def test_a_schedule_on_mains_is_told_by_its_kilowatt_hours() -> None:
    """Beside gas after it, without any instead of it."""
    best = tried(14.0, "06:15", 0.0)
    best.mains_kwh = 81.2
    told = schedule_told(best, planned_kg=0.0, planned_mains_kwh=93.4)[0]
    assert told.startswith("Least electricity within the limits ")
    assert told.endswith(" It takes 81 kWh of the mains, 12 kWh less than planned.")
    both = schedule_told(best, planned_mains_kwh=93.4)[0]
    assert both.endswith(
        " It takes 0.0 kg, 3.9 kg less than the tour as planned, and 81 instead of 93 kWh of the mains."
    )
    near = schedule_told(None, nearest=best, tried=(1,), planned_kg=0.0, planned_mains_kwh=93.4)
    assert "takes 81 kWh of the mains and misses" in near[-1]


def test_the_best_schedule_is_told_by_what_it_keeps_or_the_nearest_by_what_it_misses() -> None:
    """What it keeps is told downwards, what it misses upwards."""
    least = (
        "Least gas within the limits (at least 14 °C asleep and 19 °C at 07:30, 0.5 K less let pass; 5 °C at the "
        "pipes): 14 °C at night, timer at 06:15. It takes 3.2 kg, 0.7 kg less than the tour as planned."
    )
    keeps = "It keeps 14.2 °C asleep, 18.0 °C at 07:30, 6.4 °C at the pipes, and uses 12 Ah of fan."
    assert schedule_told(tried(14.0, "06:15", 3.24)) == [least, keeps]
    assert schedule_told(tried(14.0, "06:15", 3.24), powered=True) == [POWERED, least, keeps]
    assert schedule_told(tried(None, "05:00", 4.24), limits=best_schedule.Limits(fan_ah=20.0))[0] == (
        "Least gas within the limits (at least 14 °C asleep and 19 °C at 07:30, 0.5 K less let pass; 5 °C at the "
        "pipes, at most 20 Ah of fan): off at night, timer at 05:00. It takes 4.2 kg, 0.3 kg more than the "
        "tour as planned."
    )
    short = {"asleep_c": 1.21, "warm_c": 0.5, "pipes_c": 2.0, "fan_ah": 3.3}
    none = [
        "None of 3 settings keeps every limit: at least 14 °C asleep and 19 °C at 07:30, 0.5 K less let pass; 5 °C at "
        "the pipes.",
        "The nearest, 12 °C at night, timer at 06:00, takes 5.0 kg and misses the warmth asleep by 1.3 K, the warmth "
        "in the morning by 0.5 K, the pipes' limit by 2.0 K, the fan's limit by 3.3 Ah.",
    ]
    for powered, first in ((False, []), (True, [POWERED])):
        told = schedule_told(None, powered, nearest=tried(12.0, "06:00", 5.0, short), tried=(1, 2, 3))
        assert told == [*first, *none]
        most = tried(18.0, "04:30", 17.5, short)
        told = schedule_told(None, powered, nearest=tried(6.0, "07:30", 17.5, short), tried=(1, 2, 3), not_held=most)
        assert told == [*first, none[0], "The heater cannot hold any of them: even 18 °C at night, timer at 04:30, the "
                        "coldest is 14.2 °C asleep and 18.0 °C at 07:30."]  # fmt: skip
    own = schedule_told(Found(**{**vars(tried(None, "", 3.24)), "planned": True}))[0]
    assert "pipes): the tour's own settings. It takes 3.2 kg, 0.7 kg less than the tour as planned." in own


# The odds


def odds_told(**changes: Any) -> list[str]:
    night = {"p90_kg": 0.931, "outdoor_c": -12.4, "wind_m_per_s": 3.6, "panel_wh": 41.0, "lowest_charge_share": 0.387}
    given: dict[str, Any] = {
        "gas": Found(p10=18.24, p50=21.06, p90=25.44, p90_half_width=0.36), "worst_night": night, "scenarios": 2000,
        "nights": 24, "bottles_for": {0.9: 3}.get, "bottle_kg": 11.0,
        "chance_by_bottles_share": {3: 0.938}, "carried_share": 0.876, "cut_out_share": 0.0, "run_out_one_in_ten": None,
        "take": Found(bottles=2, swaps=0, lasts_share=0.619, lasts_as_it_stands_share=0.8), "exchanges": True,
        "cut_out_one_in_ten": None, "cut_out_in_half": None, "binds": None,
        "lowest_charge": Found(p50=0.628, p10=0.416), "offtake_share": 0.0, "frozen_share": 0.0,
        "lowest_inside": Found(p50=5.9, p10=-3.1),
    }  # fmt: skip
    return odds_words.odds_sentences(Found(**(given | changes)))


def test_a_tour_without_a_night_is_told_no_hardest_one() -> None:
    assert not any("night" in sentence for sentence in odds_told(worst_night=None)[1:])
    assert odds_told(nights=0)[0].startswith("In half of 2,000 winters the tour takes 21.1 kg of gas or less")
    assert odds_told(nights=1)[0].startswith("In half of 2,000 winters the night takes 21.1 kg of gas or less")


def test_the_odds_are_told_as_so_many_winters_of_ten() -> None:
    """A chance that gas lasts and a lowest charge go down to the whole per cent, a need and a chance of a
    cut-out up to the last figure told."""
    half = ("In half of 2,000 winters the 24 nights take 21.1 kg of gas or less; in eight of ten between 18.2 and "
            "25.4 kg")  # fmt: skip
    rest = [
        "The lowest charge is 62 % as the median, 41 % or less in one winter of ten.",
        "In one winter of ten the hardest night, 18:00 to 08:00, takes 0.94 kg or more: on average at -12 °C with 4 "
        "m/s at the van, 41 Wh from the panels the day before, and charge down to 38 %.",
    ]
    bottles = "3 full bottles of 11 kg last in 93 % of them without a change on the way."
    taken = "With 2 bottles of 11 kg, which is what budget run takes, 61 of 100 such tours have gas to the end."
    carried = "What is carried lasts, with the tour's exchange places, in 87 %."
    assert odds_told() == [
        half + " (the upper end, P90, ± 0.4 kg at 95 %, from the number of winters drawn).",
        bottles,
        taken,
        carried,
        *rest,
    ]
    same = Found(bottles=3, swaps=0, lasts_share=0.876, lasts_as_it_stands_share=0.9)
    assert odds_told(take=same)[1] == taken.replace("2 bottles", "3 bottles").replace("61", "87")
    assert odds_told(take=same)[2:] == rest
    assert odds_told(exchanges=False)[3] == "What is carried lasts in 87 %."
    sparse = Found(p10=18.24, p50=21.06, p90=25.44, p90_half_width=float("nan"))
    swaps = Found(bottles=3, swaps=4, lasts_share=0.941, lasts_as_it_stands_share=0.996)
    told = odds_told(gas=sparse, run_out_one_in_ten=at(2), cut_out_one_in_ten=at(4), cut_out_in_half=at(6),
                     cut_out_share=0.124, binds="gas", take=swaps)  # fmt: skip
    assert told == [
        half.replace("or less;", "or less with power;") + ".",
        "In 13 % the battery is cut out on the way, and the heater with it. What is said with power is the gas that "
        "the tour takes with a battery that lasts; as it stands the heater stops with the battery and burns less.",
        bottles.replace("of them", "of them with power"),
        "With 3 bottles of 11 kg and 4 swaps on the way, which is what budget run takes, 94 of 100 such tours have "
        "gas to the end with power, 99 of 100 as it stands.",
        "What is carried lasts, with the tour's exchange places, in 87 % with power.",
        "From Fri 15 January 00:00 on one in ten has run out of gas with power.",
        "From Fri 15 January 02:00 on one in ten has had the battery cut out, from Fri 15 January 04:00 on one "
        "in two.",
        "What fails first, where anything does, is mostly gas.",
        rest[0], rest[1].replace("kg or more:", "kg or more with power:"),
    ]  # fmt: skip
    held = odds_told(offtake_share=0.062, frozen_share=0.114, run_out_one_in_ten=at(2))
    assert held[4:7] == [
        "In 7 % gas is lacked though a bottle holds some: too cold for it to boil off as fast, or the wrong gas. More "
        "bottles of it are not counted as a help there; budget plan tells how long each feeds the full fire.",
        "From Fri 15 January 00:00 on one in ten lacks gas.",
        "As it stands the pipes come to 0 °C in 12 %; the room with the sensor comes to 5 °C or lower in half of all, "
        "to -4 °C or lower in one of ten.",
    ]
    lone = Found(bottles=1, swaps=0, lasts_share=0.5, lasts_as_it_stands_share=0.5)
    told = odds_told(take=lone, bottles_for=lambda share: None)
    assert told[1].startswith("With 1 bottle of 11 kg, which is what budget run takes, 50 of 100")


# Tonight


def option(
    night_c: float | None, timer: str | None, gas_kg: float, pipes_c: float = 8.0, fails: float = 0.0,
    planned: bool = False, dumped_l: float = 0.0, amiss: float = 0.5,
) -> night_settings.Option:  # fmt: skip
    return night_settings.Option(
        words="", night_c=night_c, planned=planned, timer=timer, lead_min=None, gas_kg=gas_kg, fan_ah=9.0,
        lowest_inside_c=9.6, at_warm_time_c=18.6, lowest_pipes_c=pipes_c, dumped_l=dumped_l, fails_share=fails,
        freezes_share=0.0, amiss_share=amiss,
    )  # fmt: skip


PLANNED = option(14.0, "06:15", 0.8, planned=True)
ASKED = "As the tour's schedule has it at Cape that night: 14 °C from 22:00, 19 °C from 07:30."
LOWS: Any = Found(p10=-17.4, p50=-9.0, p90=0.4)


def tonight_told(failing: dict[str, float] | None = None, short: bool = False, **changes: Any) -> list[str]:
    failing = failing or {}
    levels: Any = Found(p50=0.764, p90=0.944)
    charge: Any = Found(p50=21.4, p90=28.6)
    fails = sum(failing.values())
    given: dict[str, Any] = {
        "place": "Cape", "start": NIGHT, "morning": at(10), "gas_left_kg": 2.5, "charge_share": 0.6, "scenarios": 200,
        "need": levels, "need_charge": charge, "sure_kg": 1.0, "sure_ah": 9.0, "usable_ah": 12.9, "full_ah": 40.0,
        "has_boiler": True, "stop": None,
        "fails_share": fails, "fails_half_width_share": 0.024,
        "failing_by_share": {odds.GAS: 0.0, odds.CHARGE: 0.0, odds.OFFTAKE: 0.0} | failing,
        "cold_share": 0.0, "cold_lowest_inside_c": None, "pipes_freeze_share": 0.0, "frozen_lowest_pipes_c": None,
        "drained_share": 0.0, "amiss_share": fails, "hand": None,
        "more_nights_p90": 2.69, "charge_in_the_morning": levels, "outdoor_low": LOWS, "climate_low": LOWS,
        "forecast_low_c": None, "inside_c": 18.0113,
        "warm_c": 19.0, "warm_at": "07:30", "asked": ASKED, "options": (PLANNED,), "notices": (),
    }  # fmt: skip
    found = tonight.Tonight(**(given | changes))
    return tonight_words.in_short(found) if short else found.sentences()


HAD = (
    "from Thu 14 Jan 22:00 with 2.5 kg of gas, 60 % of charge and 18 °C inside, at lows of -17 to 0 °C outdoors as "
    "this climate has them,"
)
BEFORE = "before 08:00 on the tour's schedule with the timer at 06:15 in"
SHORT = f"the heater goes short {BEFORE}"
THE_NIGHT = ("With gas and charge to 08:00 the night takes 0.76 kg of gas, 0.95 kg or more in one case of ten; 2.5 kg "
             "of gas are enough for 2.6 nights of 0.95 kg.")  # fmt: skip
CHARGE_OF_NIGHT = ("It takes 21 Ah of charge, 29 Ah or more in one case of ten; the battery now holds 12 Ah above its "
                   "cut-out, less when cold.")  # fmt: skip


def test_nights_are_counted_only_of_gas_that_is_burned_and_flows() -> None:
    assert (tonight._nights(5.0, 2.0, 0.05), tonight._nights(5.0, 2.0, 0.06)) == (2.5, None)
    assert (tonight._nights(5.0, 0.005, 0.0), tonight._nights(5.0, 0.004, 0.0)) == (1000.0, None)
    held_up = tonight_told({odds.OFFTAKE: 0.83}, more_nights_p90=None)
    assert THE_NIGHT.split(";", maxsplit=1)[0] + "." in held_up
    electric = tonight_told(need=Found(p50=0.0, p90=0.0), more_nights_p90=None)
    assert "With charge to 08:00 the night takes no gas." in electric


def timer(share: str = "0 %") -> str:
    return ("For 19 °C at 07:30 after a night at 14 °C, start the timer at 06:15: with gas and charge at hand that "
            f"goes short in {share} of the 200 cases.")  # fmt: skip


def test_tonight_is_told_by_whether_anything_runs_out_and_by_its_timer() -> None:
    """What is needed goes up to the last figure told, how many nights that is down; the low stands in the verdict."""
    nothing = "nothing runs out, stays too cold or freezes"
    sure = f"Yes: {HAD} {nothing} {BEFORE} any of 200 cases (± 1 %)."
    assert tonight_told() == [sure, THE_NIGHT, ASKED, timer()]
    assert tonight_told(short=True) == [sure, THE_NIGHT, timer()], "a sheet of paper holds no more"
    late = tonight_told(options=(replace(PLANNED, timer=None),))
    assert late[3:] == [
        f"No timer of up to {tonight_words.LEADS_MIN[-1] / 60:.0f} h makes it 19 °C at 07:30 after a night at 14 °C."
    ]
    assert f"{nothing} before 08:00 on the tour's schedule with the timer 4 h ahead in any" in late[0]
    as_planned = tonight_told(options=(replace(PLANNED, timer="07:30"),))[0]
    assert f"{nothing} before 08:00 on the tour's schedule in any" in as_planned


@pytest.mark.parametrize(
    ("low_c", "told"),
    [
        (-19.0, None),
        (1.0, None),
        (1.1, "Is the low of 1.1 °C right, is a minus sign missing? It is 10 K above the"),
        (25.0, "Is the low of 25 °C right, is a minus sign missing? It is 34 K above the"),
        (-19.1, "Is the low of -19.1 °C right? It is 10 K below the"),
    ],
)
def test_a_forecast_far_from_what_the_climate_has_is_questioned(low_c: float, told: str | None) -> None:
    """More than 10 K from the middle of -9 °C and outside -17 to 0; the reckoning goes on with it, and says so."""
    said = tonight_told(forecast_low_c=low_c)
    assert f"18 °C inside, at a forecast low of {low_c:g} °C outdoors, nothing runs out" in said[0]
    rest = (
        " -9 °C that this climate has for that time in the middle case (-17 to 0 °C in eight of ten); all that follows "
        "is reckoned with it."
    )
    assert said[1] == (THE_NIGHT if told is None else told + rest)
    wide: Any = Found(p10=-25.0, p50=-9.0, p90=5.0)
    assert tonight_told(forecast_low_c=-24.0, climate_low=wide)[1] == THE_NIGHT, "it comes in one winter of ten"


@pytest.mark.parametrize(
    ("failing", "told"),
    [
        ({"gas": 0.05}, f"Yes. What binds is gas: {HAD} {SHORT} 5 % of 200 cases (± 3 %)."),
        ({"gas": 0.051}, f"Probably. What binds is gas: {HAD} {SHORT} 6 % of 200 cases (± 3 %)."),
        ({"gas": 0.2}, f"Probably. What binds is gas: {HAD} {SHORT} 20 % of 200 cases (± 6 %)."),
        ({"gas": 0.06, "off-take of cold bottles": 0.41, "battery charge": 0.02},
         f"Better not. What binds is off-take of cold bottles: {HAD} {SHORT} 49 % of 200 cases (± 7 %), gas in 6 %, "
         "battery charge in 2 %."),
        ({"gas": 0.005}, f"Yes. What binds is gas: {HAD} {SHORT} 1 % of 200 cases (± 1 %)."),
        ({"gas": 0.201, "off-take of cold bottles": 0.005},
         f"Better not. What binds is gas: {HAD} {SHORT} 21 % of 200 cases (± 6 %), off-take of cold bottles in 1 %."),
    ],
)  # fmt: skip
def test_tonight_is_a_yes_up_to_one_case_of_twenty_probable_up_to_one_of_five_and_tells_what_binds(
    failing: dict[str, float], told: str
) -> None:
    """A chance of going short is told upwards: one case of 200 is not none, and what is beyond a fifth is not 20 %."""
    assert (tonight_verdict.YES_SHARE, tonight_verdict.PROBABLY_SHARE) == (0.05, 0.2)
    assert tonight_told(failing) == [told, THE_NIGHT, ASKED, timer()]


def test_what_would_make_it_sure_is_told_where_it_is_not() -> None:
    """Gas and charge for all but one case of twenty, up to the last figure; and the warmest night that is a yes."""
    more = tonight_told({"gas": 0.1}, sure_kg=2.81)
    assert more[1] == "With about 0.4 kg more the gas would be enough in 19 cases of 20."
    assert tonight_told({"gas": 0.05}, sure_kg=2.81)[1] == THE_NIGHT, "a yes needs nothing"
    assert tonight_told({"battery charge": 0.1}, sure_ah=20.0)[1:4] == [
        "With about 8 Ah more, by a drive, a hook-up or loads switched off, the charge would be enough in 19 cases of "
        "20.",
        THE_NIGHT,
        CHARGE_OF_NIGHT,
    ]
    nights = (PLANNED, option(12.0, "06:00", 0.7, amiss=0.05), option(8.0, "05:45", 0.6, amiss=0.0))
    surer = "A night at 12 °C and the timer at 06:00 would be a yes: something goes amiss in 5 % of the cases."
    assert tonight_told({"gas": 0.1}, options=nights)[1] == surer
    assert surer not in tonight_told({"gas": 0.04}, options=nights)


def test_a_night_that_is_not_warm_enough_is_no_yes_whatever_is_on_board() -> None:
    """A heater too small: nothing runs short, and it is cold; frost follows, and is told with what to do."""
    told = tonight_told(
        {"gas": 0.03}, cold_share=0.952, cold_lowest_inside_c=-5.7, pipes_freeze_share=0.97, frozen_lowest_pipes_c=-0.2,
        drained_share=0.5, amiss_share=0.99,
    )  # fmt: skip
    assert told[:8] == [
        f"Better not. Not warm enough: {HAD} it stays more than 2 K below the night's 14 °C for over 25 % of it though "
        f"nothing runs short {BEFORE} 96 % of 200 cases (± 3 %); in half of those it gets as cold as -6 °C inside or "
        "colder.",
        "What binds is gas: the heater goes short in 3 % of the cases.",
        "Pipes freeze: the water pipes come to 0 °C in 97 % of the cases; in half of those they come down to -1 °C or "
        "lower.",
        "The boiler is lost: the frost drain valve empties it in 50 % of the cases.",
        "Any of this happens in 99 % of the cases.",
        "The heater gives all it can at that cold: another source of heat, a hook-up, screens and curtains, or a "
        "milder place make it warmer, no setting does; budget heater-size tells what it lacks.",
        "Drain pipes, taps and boiler before bed where they cannot be kept warm.",
        THE_NIGHT,
    ]


def test_pipes_that_only_start_to_freeze_are_not_said_to_come_down_to_0() -> None:
    """Water stays at 0 °C until the last of it is ice: a lowest of 0 °C in the middle case says nothing more."""
    told = tonight_told(pipes_freeze_share=0.18, frozen_lowest_pipes_c=0.0, amiss_share=0.18)
    assert told[0] == (
        f"Probably. Pipes freeze: {HAD} the water pipes come to 0 °C {BEFORE} 18 % of 200 cases (± 5 %); in at least "
        "half of those part of their water does not turn to ice."
    )


def test_a_night_that_is_warm_and_freezes_opens_with_frost() -> None:
    told = tonight_told(pipes_freeze_share=0.3, frozen_lowest_pipes_c=-2.0, amiss_share=0.3)
    assert told[:3] == [
        f"Better not. Pipes freeze: {HAD} the water pipes come to 0 °C {BEFORE} 30 % of 200 cases (± 6 %); in half of "
        "those they come down to -2 °C or lower.",
        "Drain pipes, taps and boiler before bed where they cannot be kept warm.",
        THE_NIGHT,
    ]


def test_a_yes_with_some_cold_or_frozen_cases_says_that_they_are_few() -> None:
    frozen = tonight_told({"gas": 0.01}, pipes_freeze_share=0.03, frozen_lowest_pipes_c=-2.0, amiss_share=0.04)
    assert frozen[0].startswith(f"Yes, with few exceptions. Pipes freeze: {HAD} the water pipes come to 0 °C")
    cold = tonight_told(cold_share=0.02, cold_lowest_inside_c=9.9, amiss_share=0.02)
    assert cold[0].startswith(f"Yes, with few exceptions. Not warm enough: {HAD} it stays")


def test_a_bottle_that_gives_out_with_nobody_awake_is_named_with_its_remedy() -> None:
    """What the fullest bottle in use, and an automatic changeover, would do are told as chances of going short."""
    hand = night_ready.Hand(in_use_kg=1.5, fullest_kg=11.0, fullest_first_share=0.012, automatic_share=0.0)
    told = tonight_told({night_cases.HAND: 0.8}, hand=hand)
    assert told[0].startswith(f"Better not. What binds is changeover by hand: {HAD}")
    assert told[1] == (
        "The bottle in use, taken to be the part-used one with 1.5 kg, gives out while nobody is awake to change over, "
        "and another holds 11 kg: hang the fullest bottle before bed, which goes short in 2 % of the cases, or fit an "
        "automatic changeover, 0 %."
    )
    assert tonight_told({night_cases.HAND: 0.8}, True, hand=hand)[1] == told[1], "on the sheet too"
    assert tonight_told({night_cases.HAND: 0.05}, hand=hand)[1] == THE_NIGHT


def test_a_night_that_the_charge_binds_is_told_with_the_charge_it_takes() -> None:
    assert tonight_told({"gas": 0.02, "battery charge": 0.3})[1:3] == [THE_NIGHT, CHARGE_OF_NIGHT]


@pytest.mark.parametrize(
    ("half_h", "tenth_h", "when"),
    [
        (0, 0, "within the first hour in most of those"),
        (5, None, "in the hour from 03:00 or sooner in half of those"),
        (5, 7, "in the hour from 03:00 or sooner in half of those"),
        (5, 3, "in the hour from 03:00 or sooner in half of those, and in the hour from 01:00 or sooner in one case of "
               "ten"),
    ],
)  # fmt: skip
def test_when_the_heater_stops_is_told_with_the_cold_it_comes_to(half_h: int, tenth_h: int | None, when: str) -> None:
    """The lowest goes down: -0.4 °C is -1."""
    stop = tonight.Stop(half_h, at(half_h), None if tenth_h is None else at(tenth_h), -0.4)
    told = tonight_told({"gas": 0.3}, stop=stop)
    assert told[1] == (
        f"Where gas or charge ends, the heater stops {when}; until 08:00 it then gets as cold as about -1 °C inside."
    )
    assert len(told) == 5


def test_the_night_of_least_gas_is_told_among_those_that_last_and_are_warm_in_time() -> None:
    """A lowest temperature is told downwards: 9.6 °C inside is 9, 4.8 °C at the pipes is 4, and below the limit."""
    assert tonight_words.HEAT_OR_DRAIN_C == 5.0
    off = (
        "The least gas of those that last in 19 cases of 20 and keep the pipes at 5 °C is a night with the heater "
        "off: 0.64 kg, timer at 05:30, down to 9 °C inside."
    )
    two = (
        PLANNED,
        option(None, "05:30", 0.64, fails=0.05),
        option(8.0, None, 0.5),
        option(10.0, "06:00", 0.6, fails=0.06),
    )
    assert tonight_told(options=two)[3:] == [timer(), off]


def test_a_night_in_which_pipes_or_boiler_are_given_up_is_not_the_one_of_least_gas() -> None:
    """4.8 °C at the pipes is told as 4, and below the limit; so is a boiler that the frost drain valve empties."""
    frost, drained = option(None, "05:30", 0.64, pipes_c=4.8), option(None, "05:30", 0.64, dumped_l=12.0)
    assert tonight_told(options=(PLANNED, frost))[3:] == [timer()]
    warmer = option(10.0, "06:00", 0.7)
    for cold in (frost, drained):
        assert "a night at 10 °C: 0.70 kg" in tonight_told(options=(PLANNED, warmer, cold))[-1]
    none = (replace(PLANNED, lowest_pipes_c=4.9, dumped_l=12.0), frost)
    assert tonight_told(options=none)[-1] == (
        "None of those that last in 19 cases of 20 keeps the pipes at 5 °C and the boiler's water in: warmest are "
        "they at 4 °C on a night at 14 °C, the boiler let go by the frost drain valve (12 L). Heat or drain."
    )


def test_a_night_that_no_setting_lasts_is_told_by_the_one_that_fails_least() -> None:
    """Table and verdict count the same cases: a setting that goes short in 11 of 100 is not said to last."""
    ends = (replace(PLANNED, fails_share=0.35), option(None, "05:30", 0.64, fails=0.111))
    assert tonight_told(options=ends)[3:] == [
        timer("35 %"),
        "No setting lasts to 08:00 in 19 cases of 20 on what is at hand; the one that goes short least often, a "
        "night with the heater off, does so in 12 %.",
    ]
    alike = tuple(replace(option, fails_share=0.2) for option in ends)
    assert tonight_told(options=alike)[-1] == (
        "No setting lasts to 08:00 in 19 cases of 20 on what is at hand; each does so in 20 %."
    )


@pytest.mark.parametrize(
    ("binds", "first"),
    [
        ("gas", "get gas first"),
        ("battery charge", "charge the battery first, by a drive or a hook-up"),
        ("off-take of cold bottles", "hang a fuller bottle or warm the locker first"),
        ("changeover by hand", "hang the fullest bottle first"),
    ],
)
def test_where_no_setting_carries_the_night_no_timer_is_told(binds: str, first: str) -> None:
    """Beyond one case of five on every setting: one sentence, on the sheet too, with what has to come first."""
    ends = (replace(PLANNED, fails_share=0.35), option(None, "05:30", 0.64, fails=0.219))
    told = (
        "No timer helps: every setting goes short before 08:00, the one that goes short least often, a night with the "
        f"heater off, in 21 % of the 200 cases; {first}."
    )
    assert tonight_told({binds: 0.35}, options=ends)[-1] == tonight_told({binds: 0.35}, True, options=ends)[-1] == told
    assert THE_NIGHT not in tonight_told({binds: 0.35}, True, options=ends), "what it takes is told where it may last"
    dead = tuple(replace(option, fails_share=1.0) for option in ends)
    assert tonight_told({binds: 1.0}, options=dead)[-1] == (
        f"No timer helps: every setting goes short before 08:00, each in 100 % of the 200 cases; {first}."
    )


def test_no_charge_is_asked_for_that_the_battery_does_not_hold() -> None:
    """20.4 Ah where a full battery gives 11.5: neither a drive nor an hour on a hook-up before the night is enough."""
    failing, held = {"battery charge": 0.35}, {"sure_ah": 20.4, "usable_ah": 11.5, "full_ah": 11.5, "charge_share": 1.0}
    told = tonight_told(failing, options=(replace(PLANNED, fails_share=0.35),), **held)
    remedy = "find a hook-up for the night, switch loads off or fit a larger battery"
    assert (
        "No charging helps enough: in one case of 20 the night takes 21 Ah or more, and the battery, full, holds 11 Ah "
        f"above its cut-out; {remedy}."
    ) in told
    assert told[-1].endswith(f"of the 200 cases; {remedy}.")
    assert not any("Ah more" in each or "charge the battery" in each for each in told)
    assert any("With about 9 Ah more, by a drive" in each for each in tonight_told(failing, **held | {"full_ah": 20.4}))


def test_a_van_without_a_boiler_is_told_of_none() -> None:
    frozen = {"pipes_freeze_share": 0.6, "frozen_lowest_pipes_c": -2.0, "amiss_share": 0.6, "has_boiler": False}
    lost = (replace(PLANNED, lowest_pipes_c=4.8),)
    told = tonight_told(options=lost, **frozen)
    assert "Drain pipes and taps before bed where they cannot be kept warm." in told
    assert (
        "None of those that last in 19 cases of 20 keeps the pipes at 5 °C: warmest are they at 4 °C on a night at "
        "14 °C. Heat or drain."
    ) in told
    pipes = (tonight_away.Frozen("pipes", 3.0),)
    away = back_told(frozen=pipes, boiler_l=0.0)
    assert away[-1] == "No setting up to 18 °C keeps the pipes above frost meanwhile."
    kept = tonight_away.LeftOn(setpoint_c=8.0, lead_min=None, gas_kg=0.4, off_kg=0.1, fails_share=0.0, freezing=())
    assert "which keeps the pipes above frost" in back_told(frozen=pipes, boiler_l=0.0, left_on=kept)[-1]
    assert not any("boiler" in each for each in [*told, *away])


# Coming back


def test_what_binds_on_the_way_back_asks_for_no_charge_of_a_full_battery() -> None:
    short = {"fails_share": 0.5, "failing_by_share": {"battery charge": 0.5}}
    asked = " What binds is battery charge; {}."
    assert asked.format("charge the battery first, by a drive or a hook-up") in back_told(**short)[1]
    full = back_told(**short, charge_share=1.0)[1]
    assert asked.format("find a hook-up for the night, switch loads off or fit a larger battery") in full


def back_told(**changes: Any) -> list[str]:
    given: dict[str, Any] = {
        "place": "Cape", "start": NIGHT, "back": at(11), "morning": at(24), "gas_left_kg": 2.5, "charge_share": 0.6,
        "inside_c": 18.0, "scenarios": 200, "warm_c": 19.0, "is_scheduled": False, "switch_on": at(9),
        "lowest_inside_c": -0.4, "away_low_c": -7.2, "away_high_c": -0.4, "shift_k": None, "climate_low": LOWS,
        "forecast_low_c": None, "fails_before_share": 0.0, "fails_share": 0.0, "fails_half_width_share": 0.01,
        "failing_by_share": {"gas": 0.0}, "frozen": (), "valve_h": None, "boiler_l": 12.0, "left_on": None,
        "notices": (),
    }  # fmt: skip
    return tonight_back.Back(**(given | changes)).sentences()


SWITCH = "switch on at 07:00; with the heater off from Thu 14 Jan 22:00 it falls to -1 °C inside."
WINTERS = "Outdoors it is reckoned with -8 to 0 °C while away: the middle of this climate's winters at that time."
ENOUGH = (
    "Gas and charge are enough: with 2.5 kg of gas and 60 % of charge the heater goes short before Fri 15 Jan 22:00 in "
    "none of 200 cases (± 1 %)."
)
WARM = "No water comes to 0 °C while away."


def test_coming_back_is_told_with_the_switch_on_gas_and_charge_and_the_weather_reckoned_with() -> None:
    assert back_told() == [f"For 19 °C at 09:00: {SWITCH}", ENOUGH, WINTERS, WARM]
    none = back_told(switch_on=None, is_scheduled=True)
    assert none[0].startswith(
        "For 19 °C at 09:00, as the tour's schedule has it then: no lead of up to 4 h is enough; with the heater off"
    )
    cold = back_told(forecast_low_c=25.0, shift_k=33.6)
    assert cold[2] == (
        "Outdoors it is reckoned with -8 to 0 °C while away: the tour's own course, 34 K warmer throughout, so that "
        "its lowest hour until Fri 15 Jan 22:00 is the 25 °C forecast."
    )
    assert cold[3].startswith("Is the low of 25 °C right, is a minus sign missing?")
    assert "34 K colder throughout" in back_told(forecast_low_c=-9.0, shift_k=-33.6)[2]


@pytest.mark.parametrize(
    ("share", "word", "first"),
    [
        (0.05, "Gas and charge are enough", ""),
        (0.2, "Gas and charge are probably enough", "; get gas first"),
        (0.21, "Better not count on gas and charge", "; get gas first"),
    ],
)
def test_gas_and_charge_bind_the_return_and_the_night_after(share: float, word: str, first: str) -> None:
    told = back_told(failing_by_share={"gas": share}, fails_share=share, fails_before_share=0.031)
    assert told[1] == (
        f"{word}: with 2.5 kg of gas and 60 % of charge the heater goes short before the return in 4 % and before "
        f"Fri 15 Jan 22:00 in {100 * share:.0f} % of 200 cases (± 1 %). What binds is gas{first}."
    )
    dead = back_told(failing_by_share={"gas": 1.0}, fails_share=1.0, fails_before_share=0.21)
    assert dead[0].startswith("Better not count on gas and charge: ")
    assert dead[1] == f"With gas and charge enough it would be, for 19 °C at 09:00: {SWITCH}"


def test_what_freezes_while_the_heater_is_off_is_told_with_the_setting_to_leave_it_on_at() -> None:
    frozen = (tonight_away.Frozen("waste", 0.0), tonight_away.Frozen("pipes", 6.17))
    on = tonight_away.LeftOn(8.0, 105.0, 1.911, 1.199, 0.031, ("waste",))
    told = back_told(frozen=frozen, valve_h=3.0, left_on=on)
    assert told[3:] == [
        "At 0 °C already on leaving: the waste tank.",
        "While the heater is off, 0 °C come to the pipes and taps (after 6.1 h): drain them before leaving.",
        "The frost drain valve opens within 3 h and empties the boiler of 12 L.",
        "Or leave the heater on at 8 °C and set it up at 07:15, which keeps pipes and boiler above frost: 1.92 kg of "
        "gas until the return instead of 1.20 kg, and it goes short before it in 4 % of the cases; the waste tank "
        "cannot be kept so.",
    ]
    late = back_told(frozen=frozen, left_on=replace(on, lead_min=None))[-1]
    assert late.startswith("Or leave the heater on at 8 °C, which keeps pipes and boiler above frost: 1.92 kg of gas ")
    assert back_told(frozen=frozen)[-1] == "No setting up to 18 °C keeps pipes and boiler above frost meanwhile."
    assert len(back_told(frozen=frozen[:1])) == 4, "a tank alone is no reason to heat"


# What matters most


def test_what_is_called_low_or_high_is_the_thing_itself_and_no_virtue_of_it() -> None:
    """A factor on U-values is high where much is lost: never an insulation, which is high where little is."""
    assert sensitivity.NAMES["loss_factor"].startswith("loss through ")
    assert sensitivity.NAMES["glazing_factor"].startswith("loss through ")
    assert not any("insulation" in words for words in sensitivity.NAMES.values())


def test_what_matters_most_is_told_with_what_knowing_it_is_worth() -> None:
    bar = sensitivity.Bar("", "draughts", 0.414, 18.24, 25.06, 0.2, 0.3, 0.36)
    falls = sensitivity.Bar("", "heater's efficiency", 0.414, 25.06, 18.24, 0.2, 0.3, 0.36)
    charge = Found(words="the sun", share=0.72, by_chance=False, at_low=0.119, at_high=0.125)
    worth = [Found(what=what, narrower_share=share, band_now=7.24, band_then=5.06)
             for what, share in (("a weighed bottle", 0.304), ("a thermometer", 0.004), ("a third", 0.9))]  # fmt: skip
    told, (less, *_) = (
        sensitivity.Sensitivity.sentences(Found(gas=(most, 1), charge=(charge, 1), worth=worth))
        for most in (bar, falls)
    )
    assert less == (
        "Gas depends most on heater's efficiency, which alone explains 41 % of its spread: 25.1 kg where it is low, "
        "18.2 kg where it is high and all else is the same; that is 6.8 ± 0.4 kg apart."
    )
    assert told == [
        "Gas depends most on draughts, which alone explains 41 % of its spread: 18.2 kg where it is low, 25.1 kg where "
        "it is high and all else is the same; that is 6.8 ± 0.4 kg apart.",
        "The lowest charge depends most on the sun (72 % of its spread).",
        "A weighed bottle would narrow the band of gas by 30 %, from 7.2 to 5.1 kg.",
    ]
    weather = replace(falls, name="weather", words="weather")
    assert weather.from_end_to_end == "weather, cold to mild"
    assert (bar.ends, bar.from_end_to_end) == (("low", "high"), "draughts")
    (said, *_) = sensitivity.Sensitivity.sentences(Found(gas=(weather,), charge=(charge, 1), worth=worth))
    assert said.startswith("Gas depends most on weather, ") and (
        "25.1 kg where it is cold, 18.2 kg where it is mild and " in said
    )
    chance = Found(gas=(replace(bar, by_chance=True), falls), worth=[],
                   charge=(Found(**{**vars(charge), "by_chance": True}),))  # fmt: skip
    assert sensitivity.Sensitivity.sentences(chance) == [
        "Nothing that was varied moves the gas beyond chance: about 21.6 kg at either end of each.",
        "Nothing that was varied moves the lowest charge beyond chance: about 12 % at either end of each.",
    ]


# Variants side by side


def variant(name: str, saved_kg: float, **changes: Any) -> Any:
    given: dict[str, Any] = {
        "colder_awake_kelvin_hours": 0.0, "colder_asleep_kelvin_hours": 0.0, "minutes_to_comfort_min": 30.0,
        "lowest_pipes_c": 8.0, "gas_kg": 20.0 - saved_kg, "wet_g": 100.0, "peak_kg_per_h": 0.3,
        "pipes_ice_kg": 0.0, "pipes_ice_h": 0.0, "dumped_l": 0.0, "cut_out_h": 0.0, "cut_out_from": None,
        "warmer_kelvin_hours": 0.0, "below_setpoint_h": 0.0, "below_setpoint_kelvin_hours": 0.0, "mornings": 6,
        "mornings_never_warm": 0, "lowest_inside_c": 15.04, "mains_kwh": 0.0, "mains_saved_kwh": 0.0,
    }  # fmt: skip
    return Found(**({"name": name, "saved_kg": saved_kg} | given | changes))


BASE = variant("as planned", 0.0)


@pytest.mark.parametrize(
    ("saved_kg", "changes", "more"),
    [
        (1.04, {}, "saves 1.0 kg (5 %) against 'as planned'"),
        (-2.0, {}, "takes 2.0 kg more (10 %) against 'as planned'"),
        (0.04, {}, "takes as much gas as 'as planned', 20.0 kg"),
        (
            1.04,
            {"colder_awake_kelvin_hours": 12.4, "colder_asleep_kelvin_hours": 31.0},
            "saves 1.0 kg (5 %) against 'as planned', and is colder for it: 12 K h while somebody is awake and 31 K h "
            "while asleep",
        ),
        (
            -1.0,
            {"colder_awake_kelvin_hours": 12.4, "colder_asleep_kelvin_hours": 31.0},
            "takes 1.0 kg more (5 %) against 'as planned', though it is colder by 43 K h while somebody is in",
        ),
    ],
)
def test_a_variant_is_told_against_the_first_with_what_is_colder_for_it(
    saved_kg: float, changes: dict[str, Any], more: str
) -> None:
    assert compare_words.saving(variant("cooler", saved_kg, **changes), BASE).rstrip(".") == f"'cooler' {more}"


@pytest.mark.parametrize(
    ("changes", "price"),
    [
        ({"minutes_to_comfort_min": 35.0, "lowest_pipes_c": 7.5, "wet_g": 130.0, "peak_kg_per_h": 0.32}, ""),
        (
            {"minutes_to_comfort_min": 42.0, "lowest_pipes_c": 6.24, "wet_g": 131.0, "peak_kg_per_h": 0.346},
            " Its price: 12 min longer to comfort in the morning, up to 131 g of water on cold surfaces instead of "
            "100, a peak of 0.35 kg/h instead of 0.30, pipes down to 6.2 °C instead of 8.0 °C.",
        ),
        ({"minutes_to_comfort_min": None}, ""),
        ({"dumped_l": 0.5, "pipes_ice_h": 0.0, "wet_g": 129.9, "colder_awake_kelvin_hours": 2.0}, ""),
        ({"dumped_l": 0.6}, " Its price: 1 L of the boiler let go by the frost drain valve."),
        ({"lowest_pipes_c": 7.4}, " Its price: pipes down to 7.4 °C instead of 8.0 °C."),
        ({"minutes_to_comfort_min": 35.5}, " Its price: 6 min longer to comfort in the morning."),
        ({"wet_g": 130.5}, " Its price: up to 130 g of water on cold surfaces instead of 100."),
        ({"peak_kg_per_h": 0.321}, " Its price: a peak of 0.33 kg/h instead of 0.30."),
        (
            {"pipes_ice_h": 0.5, "pipes_ice_kg": 0.0004},
            " Its price: pipes down to 8 °C with ice in them for 1 h (up to 1 g) instead of 8.0 °C.",
        ),
        (
            {"lowest_pipes_c": 0.0, "pipes_ice_kg": 0.4112, "pipes_ice_h": 14.0, "dumped_l": 12.0},
            " Its price: 12 L of the boiler let go by the frost drain valve, pipes down to 0 °C with ice in them for "
            "14 h (up to 412 g) instead of 8.0 °C.",
        ),
    ],
)
def test_what_a_variant_costs_elsewhere_is_told(changes: dict[str, Any], price: str) -> None:
    """Beyond 5 min, half a kelvin, a tenth and 20 g, and 20 g/h."""
    told = compare_words.saving(variant("cooler", 1.0, **changes), BASE)
    assert told == f"'cooler' saves 1.0 kg (5 %) against 'as planned'.{price}"


def test_what_a_variant_is_no_worse_in_than_the_first_has_no_price() -> None:
    """The first's water, ice, peak and mornings are counted against the variant's own."""
    base = variant("as planned", 0.0, lowest_pipes_c=0.0, pipes_ice_h=3.0, pipes_ice_kg=0.2, dumped_l=12.0, wet_g=300.0,
                   peak_kg_per_h=0.4, minutes_to_comfort_min=60.0)  # fmt: skip
    alike = {"lowest_pipes_c": 0.0, "pipes_ice_h": 3.0, "dumped_l": 12.0, "wet_g": 350.0, "peak_kg_per_h": 0.41}
    told = compare_words.saving(variant("cooler", 1.0, minutes_to_comfort_min=None, **alike), base)
    assert told == "'cooler' saves 1.0 kg (5 %) against 'as planned'."
    icy = variant("cooler", 1.0, **(alike | {"pipes_ice_h": 4.0, "pipes_ice_kg": 0.3}))
    assert compare_words.saving(icy, base).endswith(
        " Its price: pipes down to 0 °C with ice in them for 4 h (up to 300 g) instead of 0 °C with ice in them for 3 "
        "h (up to 200 g)."
    )


def test_a_first_that_burns_nothing_is_no_whole_of_which_a_share_could_be_told() -> None:
    nothing = variant("as planned", 0.0, gas_kg=0.0)
    assert compare_words.saving(variant("on gas", -3.0), nothing) == "'on gas' takes 3.0 kg more against 'as planned'."
    colder = variant("colder", 0.0, colder_awake_kelvin_hours=1.5, colder_asleep_kelvin_hours=1.0)
    assert compare_words.saving(colder, BASE).endswith(", though it is colder by 2 K h while somebody is in.")


ON_MAINS = {"gas_kg": 0.0, "mains_kwh": 300.0}


@pytest.mark.parametrize(
    ("saved_kwh", "told"),
    [
        (12.4, "'cooler' saves 12 kWh of the mains (4 %) against 'as planned'."),
        (-12.4, "'cooler' takes 12 kWh of the mains more (4 %) against 'as planned'."),
        (0.4, "'cooler' takes as much of the mains as 'as planned', 300 kWh."),
    ],
)
def test_where_no_gas_burns_the_mains_are_told_instead(saved_kwh: float, told: str) -> None:
    base = variant("as planned", 0.0, **ON_MAINS)
    cooler = variant("cooler", 0.0, **(ON_MAINS | {"mains_saved_kwh": saved_kwh}))
    assert compare_words.saving(cooler, base) == told
    warm = variant("cooler", 0.0, **(ON_MAINS | WARMER | {"mains_saved_kwh": -30.0}))
    held_before = variant("as planned", 0.0, **(ON_MAINS | SHORT))
    assert compare_words.saving(warm, held_before).endswith(". This warmth takes 30 kWh of the mains more (10 %).")


def test_beside_gas_the_mains_are_told_after_it() -> None:
    told = [compare_words.saving(variant("cooler", 1.0, mains_saved_kwh=kwh), BASE) for kwh in (12.4, -12.4, 0.4)]
    begin = "'cooler' saves 1.0 kg (5 %) against 'as planned'"
    ends = (" and saves 12 kWh of the mains", " and takes 12 kWh more of the mains", "")
    assert told == [f"{begin}{end}." for end in ends]


SHORT = {"below_setpoint_h": 143.2, "below_setpoint_kelvin_hours": 2736.0, "lowest_inside_c": -0.94,
         "lowest_pipes_c": -4.0, "pipes_ice_kg": 1.4991, "pipes_ice_h": 136.0, "mornings_never_warm": 6,
         "minutes_to_comfort_min": None}  # fmt: skip
WARMER = {"warmer_kelvin_hours": 2649.0, "below_setpoint_h": 35.1, "below_setpoint_kelvin_hours": 67.0,
          "lowest_inside_c": 17.88}  # fmt: skip
HELD = "lowest inside 17.8 instead of -1.0 °C, too cold with somebody in for 36 h by 2 K instead of 144 h by 20 K"


@pytest.mark.parametrize(
    ("saved_kg", "gas"),
    [
        (-26.74, "This warmth takes 26.7 kg more (134 %)"),
        (0.0, "This takes as much gas, 20.0 kg"),
        (3.0, "It saves 3.0 kg besides (15 %)"),
    ],
)
def test_where_more_warmth_is_held_it_is_told_before_the_gas_that_it_takes(saved_kg: float, gas: str) -> None:
    iced = "pipes down to 8.0 °C instead of -4 °C with ice in them for 136 h (up to 1500 g)"
    told = compare_words.saving(variant("larger", saved_kg, **WARMER), variant("as planned", 0.0, **SHORT))
    assert told == f"'larger' holds more warmth than 'as planned': {HELD}, {iced}. {gas}."


@pytest.mark.parametrize(
    ("saved_kg", "gas"), [(26.74, "It takes 26.7 kg less for that"), (-1.0, "It takes 1.0 kg more even so")]
)
def test_where_less_warmth_is_held_the_gas_is_no_saving(saved_kg: float, gas: str) -> None:
    short = SHORT | {"colder_asleep_kelvin_hours": 900.0, "colder_awake_kelvin_hours": 1800.0}
    told = compare_words.saving(variant("smaller", saved_kg, **short), variant("as planned", 0.0))
    assert told == (
        "'smaller' holds less warmth than 'as planned': lowest inside -1.0 instead of 15.0 °C, too cold with somebody "
        "in for 144 h by 20 K instead of 0 h, pipes down to -4 °C with ice in them for 136 h (up to 1500 g) instead of "
        f"8.0 °C. {gas}. Its price: comfort never reached in the morning."
    )


def test_a_schedule_that_asks_for_less_is_colder_without_holding_less() -> None:
    """Off at night, the mornings fall short by 98 K h, of 2175 by which it is colder; and who asks for less falls less
    short in a van that is no warmer for it."""
    off = {"colder_asleep_kelvin_hours": 1899.0, "colder_awake_kelvin_hours": 276.0, "below_setpoint_h": 20.0,
           "below_setpoint_kelvin_hours": 98.0}  # fmt: skip
    assert compare_words.saving(variant("off", 5.0, **off), BASE).startswith("'off' saves 5.0 kg (25 %) against")
    modest = SHORT | {"below_setpoint_kelvin_hours": 2400.0}
    told = compare_words.saving(variant("modest", 0.0, **modest), variant("as planned", 0.0, **SHORT))
    assert told == "'modest' takes as much gas as 'as planned', 20.0 kg."


def test_mornings_on_which_comfort_is_never_reached_are_no_minutes() -> None:
    some = {"mornings_never_warm": 2, "minutes_to_comfort_min": 95.0, "below_setpoint_kelvin_hours": 5.0}
    told = compare_words.saving(variant("cooler", 1.0, **some), BASE)
    assert told.endswith(" Its price: comfort never reached on 2 of 6 mornings.")
    never = variant("as planned", 0.0, mornings_never_warm=6, minutes_to_comfort_min=None)
    assert "comfort" not in compare_words.saving(variant("warmer", 1.0, minutes_to_comfort_min=95.0), never)


def test_a_morning_that_only_the_variant_has_is_told_by_itself() -> None:
    base = variant("as planned", 0.0, minutes_to_comfort_min=None)
    for minutes, price in ((30.0, " Its price: 30 min to comfort in the morning."), (4.0, "")):
        told = compare_words.saving(variant("cooler", 1.0, minutes_to_comfort_min=minutes), base)
        assert told == f"'cooler' saves 1.0 kg (5 %) against 'as planned'.{price}"


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        (
            {"cut_out_h": 33.25, "cut_out_from": at(9)},
            "lowest charge 53 %, cut out for 34 h, first on Fri 15 Jan 07:00.",
        ),
        ({}, "lowest charge 53 %, never cut out."),
    ],
)
def test_each_battery_is_told_as_it_stands(changes: dict[str, Any], told: str) -> None:
    found = variant("800 Ah", 0.0, lowest_charge_share=0.539, **changes)
    assert compare_words.as_it_stands(found) == f"'800 Ah' as it stands: {told}"


# What fails in the night


def test_the_first_that_fails_explains_a_case() -> None:
    """Six cases of four hours: gas first, charge first, both at once (the gas), neither, cold bottle, and gas alone
    beside a cold bottle."""
    trace = np.zeros((6, 4, 6))
    trace[:, :, 0] = 5.0
    trace[0, 1:, 0], trace[0, 2:, 5] = 0.0, 900.0
    trace[1, 3:, 0], trace[1, 1:, 5] = 0.0, 900.0
    trace[2, 2:, 0], trace[2, 2:, 5] = 0.0, 900.0
    trace[5, 3:, 0] = 0.0
    unserved = np.array([0.0, 0.0, 0.0, 0.0, 1.0, 1.0])
    many: Any = Found(trace=trace)
    flows = {"unserved_heating_kg": unserved, "dumped_l": np.zeros(6)}
    here: Any = Found(
        flow=lambda many, name: flows[name], run_many=lambda *_, **__: many, start_kg=lambda: np.array([5.0]),
        gas_kg=lambda many: np.full(6, 5.0),
    )  # fmt: skip
    cases = night_cases.Cases(here, here, np.zeros((6, 1)), np.zeros((6, 3, 1)), np.zeros(3, dtype=bool))
    found = cases.outcome(np.zeros(3, dtype=[("set_c", "f8", 4)]), np.nan, many)
    told = {name: cause.mean() for name, cause in found.short.items()}
    sixth = 1.0 / 6.0
    assert told == pytest.approx(
        {odds.GAS: 3.0 * sixth, odds.CHARGE: sixth, odds.OFFTAKE: sixth, night_cases.HAND: 0.0}
    )
    takes_more: Any = Found(**(vars(here) | {"gas_kg": lambda many: np.full(6, 5.1)}))
    short = replace(cases, fed=takes_more).outcome(np.zeros(3, dtype=[("set_c", "f8", 4)]), np.nan, many).short
    assert (short[odds.GAS].mean(), short[odds.OFFTAKE].mean()) == pytest.approx((4.0 * sixth, 0.0))
    gas_h, charge_h = found.ends_h
    assert (gas_h[0], charge_h[0], charge_h[3]) == (0.0, 1.0, np.inf), "first seen at an hour's end: in that hour"


def test_a_case_that_stays_behind_the_fed_one_lacks_gas_and_one_that_does_not_lacks_a_heater() -> None:
    """Eight hours at 18 °C by night, none with an end or a want that the engine books. Warm; 2 K behind the fed case;
    2.1 K behind it in two hours, then in three (over a quarter); as cold when fed; heated only when fed, from bottles
    that hold less than that takes."""
    fed, had = np.full((6, 9), 18.0), np.full((6, 9), 18.0)
    had[1, 1:], had[2, 7:], had[3, 6:], had[5, 1:] = 16.0, 15.9, 15.9, 5.0
    fed[4, 1:], had[4, 1:] = 15.9, 15.9

    def many(inside_c: np.ndarray) -> Any:
        trace = np.zeros((6, 9, 6))
        trace[:, :, 0], trace[:, :, 2], trace[:, :, 3] = 5.0, inside_c, 3.0
        return Found(trace=trace)

    van: Any = Found(
        flow=lambda many, name: np.zeros(6), run_many=lambda *_, **__: many(had), start_kg=lambda: np.array([2.0, 3.0]),
        gas_kg=lambda many: np.array([2.0, 2.0, 2.0, 2.0, 2.0, 5.1]),
    )  # fmt: skip
    cases = night_cases.Cases(van, van, np.zeros((6, 1)), np.zeros((6, 8, 1)), np.ones(8, dtype=bool))
    hours = np.zeros(8, dtype=[("set_c", "f8", 4)])
    hours["set_c"] = 18.0
    found = cases.outcome(hours, 18.0, many(fed))
    assert found.short[odds.OFFTAKE].tolist() == [False, False, False, True, False, False]
    assert found.short[odds.GAS].tolist() == [False, False, False, False, False, True]
    assert found.cold.tolist() == [False, False, False, False, True, False]
    assert found.amiss.tolist() == [False, False, False, True, True, True]
    assert not cases.outcome(hours, 17.0, many(fed)).cold.any(), "a morning set up to 18 °C is not the night's setting"
    assert not cases.outcome(hours, np.nan, many(fed)).cold.any(), "nothing is asked of a heater that is off"


# Ways back, swaps and the steady state


def test_the_way_back_is_named_by_its_area() -> None:
    told = [ducts._return_words(area) for area in (None, 0.0, 60.0)]
    assert told == ["return path free", "return path blocked", "return path of 60 cm²"]


def test_a_refillable_bottles_rest_is_what_it_held_and_an_exchanged_ones_what_it_took_along(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Bottle 1 is filled in the first hour with 2.5 kg in it, bottle 2 exchanged in the same hour and the third.

    From the third hour on no swap is needed.
    """
    flows = {
        "swap_in_kg": ([8.0, 0.0, 0.0], [6.0, 0.0, 5.0]), "swap_in_butane_kg": ([0.5, 0.0, 0.0], [5.0, 0.0, 5.0]),
        "swap_out_kg": ([0.0] * 3, [0.3, 0.0, 0.5]), "swap_out_butane_kg": ([0.0] * 3, [0.4, 0.0, 0.25]),
        "swaps": ([1.0, 0.0, 0.0], [1.0, 0.0, 1.0]),
    }  # fmt: skip
    bottles = (Found(refillable=True, name="filled"), Found(refillable=False, name="exchanged"))
    run: Any = Found(
        bottles=2, flow=lambda name, bottle: np.array(flows[name][bottle]), van=Found(gas=Found(bottles=bottles)),
        left_kg=lambda bottle: np.array([2.5, 9.9, 9.9]), time=at, place=lambda hour: f"place {hour}",
        built=None, hours=None, rows=None, wishes=None, many=None, need=None,
    )  # fmt: skip
    monkeypatch.setattr(swaps_made, "needless_from", lambda *run: 2)
    told = [(swap.time, swap.place, swap.bottle, swap.name, swap.left_kg, swap.added_kg, swap.exchanged, swap.needed)
            for swap in swaps_made.swaps_of(run)]  # fmt: skip
    assert told == [
        (at(0), "place 0", 1, "filled", 2.5, 8.5, False, True),
        (at(0), "place 0", 2, "exchanged", pytest.approx(0.7), 11.0, True, True),
        (at(2), "place 2", 2, "exchanged", 0.75, 10.0, True, False),
    ]


def test_a_steady_state_is_read_from_its_last_hour() -> None:
    """Watts are joules over 3600 s: gas 3 and elements 2 to the air, fan 1, runs lose 4 of which 1.5 come back."""
    built = build_van(sample_vans()["demo"])
    size, flows, stocks = built.size, np.zeros((2, built.flows.width)), np.zeros((3, built.stocks.width))
    at, last = built.flows, flows[-1]
    flows[0] = 9e9
    last[at.gas_heat_air_j], last[at.electric_air_j], last[at.fan_heat_j + 3] = 10_800.0, 7200.0, 3600.0
    last[at.duct_loss_j], last[at.duct_j + 1] = 14_400.0, 5400.0
    last[at.edge_j : at.edge_j + size.edges] = 3600.0 * np.arange(size.edges)
    stocks[-1, built.stocks.node_c : built.stocks.node_c + size.nodes] = np.arange(size.nodes) + 0.5
    told = conditions.settled(built, Found(flows=flows, stocks=stocks))
    assert (told.heat_w, told.fan_w, told.duct_loss_w) == (5.0, 1.0, 2.5)
    assert told.edge_w == tuple(np.arange(float(size.edges)).tolist())
    outward = {"boiler", "fresh", "waste", "pipes", "battery"}
    assert told.parts_w == sum(k for k, edge in enumerate(built.edges) if edge.b is None and edge.a in outward)
    assert told.parts_w > 0.0
    for values, part in ((told.zone_c, "air"), (told.fabric_c, "fabric")):
        assert values == {zone: built.node_names.index(f"{zone}_{part}") + 0.5 for zone in built.zone_names}
