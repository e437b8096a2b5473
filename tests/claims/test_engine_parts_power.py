"""The 12 V system of one quarter; numbers by hand, tolerances those of floats."""

from __future__ import annotations

from typing import Any

import pytest
from engine_bench import Bench
from sample_vans import sample_vans

from budget.engine import arrays as A
from budget.engine import thermostat as T
from budget.engine.current import run_battery, served_share, warm_battery
from budget.engine.state import CUT_OUT, PAD_ON

DEMO = sample_vans()["demo"]
AH_J = 3600.0 * 12.0


def bench(**changes: Any) -> Bench:
    """100 Ah of lithium at 25 °C and half full, 12 V, 50 A at most, 0.95 kept; nothing runs, nothing feeds."""
    laid = Bench(DEMO)
    numbers: dict[str, Any] = {
        "chemistry": 0, "nominal_v": 12.0, "charge_efficiency": 0.95, "max_charge_a": 50.0, "peukert": 1.0,
        "cut_out_share": 0.1, "reconnect_share": 0.3, "pad_w": 0.0, "pad_on_c": 2.0, "pad_off_c": 10.0, "loads": 0,
        "standby_w": 0.0, "pump_w": 72.0, "pump_l_per_min": 12.0, "solar_kept": 0.9, "alternator_a": 0.0,
        "mains_charger_a": 16.0, "mains_efficiency": 0.8, "heater_allowed": 0, "solar_factor": 1.0,
    }  # fmt: skip
    for name, value in (numbers | changes).items():
        (laid.hour if name in laid.hour.dtype.names else laid.van)[name] = value
    laid.scratch.served[0] = 1.0
    laid.state.charge_ah[:] = (50.0, 100.0)
    laid.state.temp_c[laid.van.battery_node] = 25.0
    laid.van.capacity_j_per_k[laid.van.battery_node] = 21_600.0  # half an ampere-hour at 12 V a kelvin
    return laid


def busy(**changes: Any) -> Bench:
    """Fan 0.5 Ah, standby 0.25, pump of 6 A for half a minute 0.05, extract 0.5, loads 1 and 0.25: 2.55 Ah."""
    laid = bench(**{"heater_allowed": 1, "standby_w": 12.0, "extract_fan_w": 24.0, "loads": 2} | changes)
    laid.scratch.outcome[T.FAN_J] = 0.5 * AH_J
    laid.scratch.pumped_l[0], laid.scratch.extract_kg_s[0] = 6.0, 0.01
    laid.scratch.load_now_w[:2] = (48.0, 12.0)
    return laid


DRAWN_AH = {"load_ah+0": 0.5, "load_ah+1": 0.25, "load_ah+2": 0.05, "load_ah+3": 0.5, "load_ah+5": 1.0,
            "load_ah+6": 0.25}  # fmt: skip


def fed(laid: Bench, sun_ah: float = 0.0, drive_ah: float = 0.0, plug_ah: float = 0.0) -> Bench:
    """Sources that would give so much in the quarter: panel behind shade and factor, alternator and charger."""
    laid.factors[A.SOLAR], laid.hour.solar_factor = 0.5, 0.8
    laid.outside[A.PANEL_W] = sun_ah * 4.0 * 12.0 / (0.9 * 0.5 * 0.8)
    laid.van.alternator_a, laid.hour.alternator = drive_ah * 8.0, 0.5
    laid.scratch.power_w[0] = plug_ah * 4.0 * 12.0 / 0.8
    return laid


def quarter(laid: Bench) -> dict[str, float]:
    run_battery(laid.van, laid.hour, laid.outside, laid.factors, laid.state, laid.scratch, laid.flow, laid.at)
    return laid.moved()


def test_loads_alone_are_drawn_from_the_battery() -> None:
    laid = busy()
    assert quarter(laid) == pytest.approx(DRAWN_AH, rel=1e-12)
    assert laid.state.charge_ah[0] == pytest.approx(47.45, rel=1e-12)
    assert laid.scratch.pumped_l[0] == 0.0


def test_quarters_add_up_in_the_row_of_their_hour() -> None:
    laid = fed(busy(), 1.8, 3.75, 4.0)
    laid.scratch.power_w[1] = 100.0
    first = quarter(laid)
    laid.scratch.pumped_l[0] = 6.0
    assert quarter(laid) == pytest.approx({name: 2.0 * value for name, value in first.items()}, rel=1e-12)


def test_a_current_above_the_twenty_hour_rate_uses_up_more_than_it_gives() -> None:
    """2.55 Ah in a quarter are 10.2 A, 2.04 times the 5 A of 100 Ah over 20 h: to the power of 0.2."""
    laid = busy(peukert=1.2)
    used_ah = 2.55 * 2.04**0.2
    assert quarter(laid) == pytest.approx(DRAWN_AH | {"charge_loss_ah": used_ah - 2.55}, rel=1e-9)
    assert laid.state.charge_ah[0] == pytest.approx(50.0 - used_ah, rel=1e-12)


def test_what_stays_off_draws_nothing() -> None:
    laid = busy(heater_allowed=0)
    laid.scratch.extract_kg_s[0] = 0.0
    told = quarter(laid)
    assert told == pytest.approx({k: v for k, v in DRAWN_AH.items() if k not in ("load_ah+1", "load_ah+3")}, rel=1e-12)


def test_after_a_cut_out_neither_heater_nor_pump_draw_and_the_time_is_counted() -> None:
    """Fan, extract fan and loads are charged for as they ran. 47 Ah would reconnect: 29 Ah do not."""
    laid = busy()
    laid.state.marks[CUT_OUT], laid.state.charge_ah[0] = 1, 29.0
    told = quarter(laid)
    kept = {k: v for k, v in DRAWN_AH.items() if k not in ("load_ah+1", "load_ah+2")}
    assert told == pytest.approx(kept | {"cut_out_s": 900.0}, rel=1e-12)
    assert quarter(laid)["cut_out_s"] == 1800.0


@pytest.mark.parametrize(
    ("charge_ah", "loads_w", "sources", "peukert", "share"),
    [
        (20.0, 480.0, (0.0, 0.0, 0.0), 1.0, 0.5),  # 10 Ah above the cut-out, 20 Ah wanted
        (30.0, 480.0, (0.0, 0.0, 0.0), 1.0, 1.0),
        (29.9, 480.0, (0.0, 0.0, 0.0), 1.0, 19.9 / 20.0),
        (20.0, 480.0, (0.0, 0.0, 0.0), 1.2, 0.5 / 8.0**0.2),  # 40 A are 8 times the 20-hour rate
        (20.0, 480.0, (1.0, 2.0, 3.0), 1.0, 1.0),  # six of ten amps a quarter are given
        (20.0, 720.0, (1.0, 2.0, 3.0), 1.0, 10.0 / 18.0),
        (10.0, 12.0, (0.0, 0.0, 0.0), 1.0, 0.0),
        (5.0, 12.0, (0.0, 0.0, 0.0), 1.0, 0.0),
        (5.0, 12.0, (0.0, 0.25, 0.0), 1.0, 1.0),  # all of it is given
    ],
)
def test_loads_run_for_the_part_of_a_half_hour_that_the_charge_above_the_cut_out_lasts(
    charge_ah: float, loads_w: float, sources: tuple[float, float, float], peukert: float, share: float
) -> None:
    laid = fed(bench(peukert=peukert), *sources)
    laid.hour.hookup_w = laid.scratch.power_w[0]
    laid.state.charge_ah[0] = charge_ah
    found = served_share(laid.van, laid.hour, laid.outside, laid.factors, laid.state, loads_w)
    assert found == pytest.approx(share, rel=1e-12)


def test_extract_fan_and_standby_count_with_the_loads_that_empty_the_battery() -> None:
    """240 W and 120 W and 120 W: 20 Ah in half an hour, of which 10 are there."""
    laid = bench(standby_w=120.0, heater_allowed=1, extract_fan_w=120.0)
    laid.state.charge_ah[0] = 20.0
    told = (laid.van, laid.hour, laid.outside, laid.factors, laid.state, 240.0)
    assert served_share(*told) == pytest.approx(0.5, rel=1e-12)
    laid.hour.heater_allowed = 0
    assert served_share(*told) == pytest.approx(2.0 / 3.0, rel=1e-12)
    laid.van.wet = -1
    assert served_share(*told) == 1.0


def test_a_half_hour_in_which_the_loads_stop_ends_with_a_cut_out() -> None:
    """And not where five amps feed the system; the extract fan draws for its part of the time."""
    laid = busy()
    laid.scratch.served[0] = 0.4
    told = quarter(laid)
    assert told == pytest.approx(DRAWN_AH | {"load_ah+3": 0.2}, rel=1e-12)
    assert laid.state.marks[CUT_OUT] == 1
    laid = fed(busy(), drive_ah=4.0)
    laid.scratch.served[0] = 0.4
    quarter(laid)
    assert laid.state.marks[CUT_OUT] == 0


@pytest.mark.parametrize(("peukert", "sun_ah"), [(1.0, 0.0), (1.2, 0.0), (1.0, 0.55)])
def test_a_battery_gives_no_more_than_it_holds(peukert: float, sun_ah: float) -> None:
    """Of the 2.55 Ah the sun gives some; 1 Ah is left, of which Peukert's law takes its part. Each draws its share."""
    laid = fed(busy(peukert=peukert), sun_ah)
    laid.state.charge_ah[0] = 1.0
    told = quarter(laid)
    factor = ((2.55 - sun_ah) * 4.0 / 5.0) ** (peukert - 1.0)
    had = (sun_ah + 1.0 / factor) / 2.55
    expected = {name: ah * had for name, ah in DRAWN_AH.items()}
    if sun_ah > 0.0:
        expected["solar_ah"] = sun_ah
    if peukert > 1.0:
        expected["charge_loss_ah"] = 1.0 - 1.0 / factor
    assert told == pytest.approx(expected, rel=1e-9)
    assert laid.state.charge_ah[0] == 0.0
    assert laid.state.marks[CUT_OUT] == 1


def test_sources_serve_the_loads_and_charge_with_the_rest() -> None:
    """1.8 Ah of sun, 3.75 of alternator, 4 of charger less 2.55 leave 7, of which 0.95 are kept; 4 Ah in a quarter are
    192 W, 240 W at the plug, beside 100 W of fridge and 5 kJ of elements."""
    laid = fed(busy(), 1.8, 3.75, 4.0)
    laid.scratch.power_w[1] = 100.0
    laid.scratch.outcome[T.ELECTRIC_AIR_J], laid.scratch.outcome[T.ELECTRIC_WATER_J] = 3000.0, 2000.0
    assert quarter(laid) == pytest.approx(
        DRAWN_AH
        | {"solar_ah": 1.8, "alternator_ah": 3.75, "mains_charger_ah": 4.0, "charge_loss_ah": 0.35,
           "mains_j": 340.0 * 900.0 + 5000.0, "mains_appliances_j": 90_000.0}, rel=1e-9,
    )  # fmt: skip
    assert laid.state.charge_ah[0] == pytest.approx(56.65, rel=1e-12)


@pytest.mark.parametrize(
    ("max_charge_a", "taken", "spilled"),
    [(50.0, (3.0, 3.75, 4.0), 0.0), (20.0, (3.0, 3.75, 0.80), 0.0), (4.0, (3.0, 0.55, 0.0), 0.0),
     (1.0, (2.80, 0.0, 0.0), 0.2), (0.0, (2.55, 0.0, 0.0), 0.45)],
)  # fmt: skip
def test_sun_comes_before_alternator_and_alternator_before_mains(
    max_charge_a: float, taken: tuple[float, ...], spilled: float
) -> None:
    """2.55 Ah of loads and what the battery takes in a quarter of its amps, from 3, 3.75 and 4 Ah."""
    laid = fed(busy(max_charge_a=max_charge_a), 3.0, 3.75, 4.0)
    quarter(laid)
    told = tuple(laid.flowed(name) for name in ("solar_ah", "alternator_ah", "mains_charger_ah"))
    assert told == pytest.approx(taken, abs=1e-9)
    assert laid.flowed("solar_spilled_ah") == pytest.approx(spilled, abs=1e-9)


def test_a_charger_gives_no_more_than_its_amps() -> None:
    for charger_a, given_ah in ((8.0, 2.0), (99.0, 4.0)):
        laid = fed(bench(mains_charger_a=charger_a), plug_ah=4.0)
        quarter(laid)
        assert laid.flowed("mains_charger_ah") == pytest.approx(given_ah, rel=1e-12)


@pytest.mark.parametrize(
    ("charge_ah", "battery_c", "taken_ah"),
    [(99.5, 25.0, 0.5 / 0.95), (97.5, 25.0, 2.5 / 0.95), (60.0, 25.0, 4.0), (60.0, 3.0, 2.5), (60.0, -1.0, 0.0),
     (100.0, 25.0, 0.0), (101.0, 25.0, 0.0)],
)  # fmt: skip
def test_a_battery_takes_what_room_and_cold_leave(charge_ah: float, battery_c: float, taken_ah: float) -> None:
    """50 A: 12.5 Ah a quarter, a fifth of it below 5 °C and none in the frost, tapering over the last 5 %: 1.25 Ah at
    0.5 Ah of room, more than its room over 0.95. 4 Ah are offered."""
    laid = fed(bench(), plug_ah=4.0)
    laid.state.charge_ah[0], laid.state.temp_c[laid.van.battery_node] = charge_ah, battery_c
    quarter(laid)
    assert laid.flowed("mains_charger_ah") == pytest.approx(taken_ah, rel=1e-12)
    assert laid.state.charge_ah[0] == pytest.approx(charge_ah + 0.95 * taken_ah, rel=1e-12)


@pytest.mark.parametrize(
    ("before", "charge_ah", "battery_c", "after"),
    [(0, 10.0, 25.0, 1), (0, 10.1, 25.0, 0), (1, 29.9, 25.0, 1), (1, 30.0, 25.0, 0), (0, 20.3, 0.0, 1),
     (0, 20.4, 0.0, 0), (1, 38.0, 0.0, 1), (1, 38.1, 0.0, 0), (0, 15.0, 25.0, 0), (1, 15.0, 25.0, 1)],
)  # fmt: skip
def test_the_battery_cuts_out_and_comes_back_above_what_the_cold_locks_in(
    before: int, charge_ah: float, battery_c: float, after: int
) -> None:
    """A tenth and three tenths of what the cold leaves; at 0 °C 88.5 Ah, 11.5 locked in: at 20.35 and 38.05 Ah."""
    laid = bench()
    laid.state.marks[CUT_OUT], laid.state.charge_ah[0] = before, charge_ah
    laid.state.temp_c[laid.van.battery_node] = battery_c
    quarter(laid)
    assert laid.state.marks[CUT_OUT] == after


@pytest.mark.parametrize(
    ("alternator_a", "alternator", "charger_a", "hookup_w", "load_w", "off"),
    [
        (10.0, 1.0, 0.0, 0.0, 0.0, 0),
        (10.0, 0.5, 0.0, 0.0, 0.0, 0),
        (10.0, 0.49, 0.0, 0.0, 0.0, 1),
        (0.0, 0.0, 5.0, 1000.0, 0.0, 0),
        (0.0, 0.0, 20.0, 75.0, 0.0, 0),  # 75 W * 0.8 / 12 V = 5 A
        (0.0, 0.0, 20.0, 74.0, 0.0, 1),
        (0.0, 0.0, 4.9, 1000.0, 0.0, 1),
        (3.0, 1.0, 2.0, 1000.0, 0.0, 0),  # together
        (10.0, 1.0, 0.0, 0.0, 120.0, 0),  # 2.5 Ah wanted of 10 A
        (10.0, 1.0, 0.0, 0.0, 121.0, 1),
    ],
)
def test_five_amps_that_cover_the_loads_keep_the_system_up_past_an_empty_battery(
    alternator_a: float, alternator: float, charger_a: float, hookup_w: float, load_w: float, off: int
) -> None:
    for before in (0, 1):
        laid = bench(alternator_a=alternator_a, alternator=alternator, mains_charger_a=charger_a, hookup_w=hookup_w,
                     loads=1, max_charge_a=0.0)  # fmt: skip
        laid.state.marks[CUT_OUT], laid.state.charge_ah[0] = before, 5.0
        laid.scratch.load_now_w[0] = load_w
        quarter(laid)
        assert laid.state.marks[CUT_OUT] == off


# The pad


def warmed(laid: Bench, battery_c: float, surplus_ah: float, on: int = 0) -> tuple[float, float, int]:
    """Charge taken, temperature after and whether the pad is on."""
    node = laid.van.battery_node
    laid.state.temp_c[node], laid.state.marks[PAD_ON] = battery_c, on
    taken = float(warm_battery(laid.van, laid.state, surplus_ah))
    return taken, float(laid.state.temp_c[node]), int(laid.state.marks[PAD_ON])


@pytest.mark.parametrize(
    ("battery_c", "surplus_ah", "on", "told"),
    [
        (1.9, 5.0, 0, (1.25, 4.4, 1)),  # 60 W for a quarter, half an ampere-hour a kelvin
        (2.0, 5.0, 0, (0.0, 2.0, 0)),
        (2.0, 5.0, 1, (1.25, 4.5, 1)),
        (9.5, 5.0, 1, (0.25, 10.0, 1)),  # to where it goes off, no further
        (10.0, 5.0, 1, (0.0, 10.0, 0)),
        (1.0, 0.5, 0, (0.5, 2.0, 1)),  # what is left
        (1.0, 0.0, 0, (0.0, 1.0, 1)),
        (1.0, -1.0, 1, (0.0, 1.0, 1)),
    ],
)
def test_the_pad_takes_surplus_from_its_cold_to_its_warm_limit(
    battery_c: float, surplus_ah: float, on: int, told: tuple[float, ...]
) -> None:
    assert warmed(bench(pad_w=60.0), battery_c, surplus_ah, on) == pytest.approx(told, rel=1e-12)


def test_a_battery_without_pad_takes_nothing_for_it() -> None:
    assert warmed(bench(), -10.0, 5.0) == (0.0, -10.0, 0)


def test_the_pads_charge_is_a_load_and_its_heat_is_booked() -> None:
    """At 1 °C with 4 Ah of charger, 1 Ah of loads: the pad takes its 1.25, the battery in the slow zone the rest."""
    laid = fed(bench(pad_w=60.0, loads=1), plug_ah=4.0)
    laid.scratch.load_now_w[0] = 48.0
    laid.state.temp_c[laid.van.battery_node] = 1.0
    told = quarter(laid)
    assert told == pytest.approx(
        {"load_ah+4": 1.25, "load_ah+5": 1.0, "pad_j": 1.25 * AH_J, "mains_charger_ah": 4.0, "mains_j": 240.0 * 900.0,
         "charge_loss_ah": 1.75 * 0.05}, rel=1e-9,
    )  # fmt: skip
    assert laid.state.temp_c[laid.van.battery_node] == pytest.approx(3.5, rel=1e-12)
    again = quarter(laid)
    assert again["pad_j"] == pytest.approx(2.5 * AH_J, rel=1e-9)
    assert again["load_ah+4"] == pytest.approx(2.5, rel=1e-9)
