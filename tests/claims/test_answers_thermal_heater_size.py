"""Heater size: loss, cold held and warm-up against a room reckoned by hand, and the whole against the trade."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from sample_vans import STANDARD_WIND_M_PER_S, bare_room, sample_vans
from scipy.linalg import expm

from budget.answers import heater_size, heater_size_words
from budget.answers.conditions import LARGE_W, Conditions, hold, unlimited, with_output
from budget.engine.van_arrays import build_van
from budget.errors import InputFault
from budget.physics.properties import AIR_CP_J_PER_KG_K
from budget.rounding import least

VANS = sample_vans()


ROOM = bare_room()


def state(outdoor_c: float) -> Conditions:
    return Conditions(outdoor_c=outdoor_c, wind_m_per_s=STANDARD_WIND_M_PER_S)


def test_the_room_of_80_w_per_k_takes_80_w_a_kelvin_of_burner_fan_and_no_more() -> None:
    """35 K × 80 W/K = 2800 W, 30 W of it the fan's; the proportional band of 0.01 K is 0.03 % of 35 K."""
    steady = hold(build_van(with_output(unlimited(ROOM), LARGE_W)), state(-15.0), 20.0)
    assert steady.fan_w == pytest.approx(30.0, abs=0.1)
    assert steady.heat_w == pytest.approx(2770.0, rel=1e-3)
    assert steady.parts_w == pytest.approx(0.0, abs=0.1)  # pipes of 0.0086 and 0.0014 W/K in series over 35 K


def test_losses_by_element_add_up_to_what_burner_and_fan_give() -> None:
    """Each loss is the engine's own flow; after ten days nothing is stored any more (0.1 %)."""
    van = VANS["demo"]
    large = build_van(with_output(unlimited(van), LARGE_W))
    steady = hold(large, Conditions(outdoor_c=-15.0), 20.0)
    found = heater_size.losses(large, steady)
    assert sum(loss.loss_w for loss in found) == pytest.approx(steady.heat_w + steady.fan_w, rel=1e-3)
    assert {loss.zone for loss in found} == {*steady.zone_c, "outdoors"}


def test_lowest_outdoor_temperature_of_the_room_by_hand() -> None:
    """(2000 + 30) W over 80 W/K is 25.4 K: 20 °C is held to -5.4 °C and 12 °C to -13.4 °C."""
    large = build_van(with_output(unlimited(ROOM), LARGE_W))
    for inside_c in (20.0, 12.0):
        held = heater_size.lowest_held_c(large, state(0.0), inside_c, 2000.0)
        assert held == pytest.approx(inside_c - 2030.0 / 80.0, abs=0.07)  # bisected to 0.05 K


def test_warm_up_follows_the_two_node_closed_form() -> None:
    """Air 60 kJ/K, fabric 540 kJ/K, coupling 100 W/K; of 80 W/K to outdoors half leaves from the air and half through
    the fabric in series with the coupling: 40 and 66.7 W/K. 4030 W into the air from -15 °C; exact by the matrix
    exponential. The march is read every five minutes and joined by straight lines: 0.03 h."""
    air_h, fabric_h = heater_size.warm_up(ROOM, state(-15.0), 20.0, 24.0)
    lining = 40.0 * 100.0 / 60.0
    rate = np.array([[-(100.0 + 40.0) / 60e3, 100.0 / 60e3], [100.0 / 540e3, -(100.0 + lining) / 540e3]])
    rest = np.linalg.solve(rate, -np.array([4030.0 / 60e3, 0.0]))  # above outdoors
    hours = np.arange(0.0, 24.0, 0.005)
    above = np.array([rest - expm(rate * hour * 3600.0) @ rest for hour in hours])
    exact_h = hours[np.argmax(above[:, 0] >= 34.9)]
    assert air_h == pytest.approx(exact_h, abs=0.03)
    # The air is held at 20 °C from then on: its fabric settles 21 K above outdoors, at 6 °C, and never comes to 15.
    assert fabric_h is None


def test_fabric_of_a_better_room_comes_after_its_air() -> None:
    room = bare_room(
        cabin={"zones": [ROOM.cabin.zones[0].model_copy(update={"opaque": (
            ROOM.cabin.zones[0].opaque[0].model_copy(update={"u_w_per_m2k": 0.5}),)}).model_dump()]}
    )  # fmt: skip
    air_h, fabric_h = heater_size.warm_up(room, state(-15.0), 20.0, 24.0)
    assert air_h is not None and fabric_h is not None
    assert fabric_h > air_h > 0.0


def test_screens_curtain_and_altitude_order_the_cases() -> None:
    found = heater_size.answer(VANS["demo"], design_c=-15.0)
    up, down, open_, both, high = found.cases
    assert up.needed_w < down.needed_w < both.needed_w
    assert up.needed_w < open_.needed_w < both.needed_w
    assert high.available_w / up.available_w == pytest.approx(0.835, abs=0.003)  # air at 1500 m, standard atmosphere
    for case in found.cases:
        held = [-40.0 if lowest is None else lowest for lowest in case.lowest_c.values()]
        assert held == sorted(held, reverse=True)  # 20, 16, 12 °C
        assert case.left_w == case.available_w - case.needed_w
        assert sum(loss.loss_w for loss in case.losses) == pytest.approx(case.needed_w + case.fan_w, rel=1e-3)
        assert case.loss_w_per_k == pytest.approx((case.needed_w + case.fan_w) / 35.0)
    assert found.as_dict()["cases"][0]["lowest_c"].keys() == {"at_20_c", "at_16_c", "at_12_c"}


def test_a_compensated_burner_keeps_its_output_at_altitude() -> None:
    heater = VANS["demo"].heater.model_copy(update={"altitude_compensated": True})
    van = VANS["demo"].model_copy(update={"heater": heater})
    assert heater_size.available_w(van, 2000.0) == van.heater.rated_w


def test_the_colder_it_is_the_more_it_takes_and_the_longer_it_warms_up() -> None:
    van = VANS["demo"]
    large = build_van(with_output(unlimited(van), LARGE_W))
    needed = [hold(large, Conditions(outdoor_c=c), 20.0).heat_w for c in (5.0, -5.0, -15.0, -25.0)]
    assert needed == sorted(needed)
    hours = [heater_size.warm_up(van, Conditions(outdoor_c=c), 20.0, 24.0)[0] for c in (0.0, -10.0, -20.0)]
    assert None not in hours
    assert hours == sorted(hours, key=lambda h: h or 0.0)


def test_practitioners_a_van_built_for_winter_warms_from_minus_15_to_20_within_4_h() -> None:
    """Common practice, and from memory the coldest grade of EN 1646-1; plausibility of the whole, not a target."""
    warm = heater_size.warm_up(VANS["heavy"], replace(Conditions(outdoor_c=-15.0), wind_m_per_s=0.0), 20.0, 24.0)[0]
    assert warm is not None
    assert warm <= 4.0


def test_the_bottle_may_decide_and_is_told() -> None:
    """A full 11 kg bottle of propane at -15 °C feeds 4 kW for some hours; n-butane at -15 °C gives nothing at all."""
    zones = {"garage": -5.0, "living": 20.0}
    propane = heater_size.gas_at(VANS["demo"], -15.0, zones)
    butane = heater_size.gas_at(VANS["butane"].model_copy(
        update={"gas": VANS["butane"].gas.model_copy(update={"bottles": VANS["butane"].gas.bottles[1:]})}
    ), -15.0, {"living": -15.0})  # fmt: skip
    assert propane.full_fire_h is not None
    assert propane.full_fire_h > 5.0
    assert butane.full_fire_h == 0.0


def test_a_design_temperature_above_the_room_is_refused() -> None:
    with pytest.raises(InputFault) as fault:
        heater_size.answer(VANS["demo"], design_c=25.0)
    assert str(fault.value) == (
        "the design temperature must lie from -38 °C up to below the room's, at most 30 °C, got 25 °C outdoors and "
        "20 °C inside; correct one."
    )


def test_the_guard_on_the_supply_air_limits_what_the_heater_is_said_to_give() -> None:
    """200 m³/h are 67.07 W/K: at a limit of 60 °C and 20 °C coming back 67.07 × 40 less 30 W of fan, 2653 W of 4000.
    80 W/K less the fan then hold 20 °C down to 20 - 2683 / 80 = -13.5 °C, and -15 °C asks 2770 W."""
    room = ROOM.model_copy(update={"heater": ROOM.heater.model_copy(update={"supply_limit_c": 60.0})})
    free, held = (heater_size.answer(van, wind_m_per_s=STANDARD_WIND_M_PER_S) for van in (ROOM, room))
    rate = 200.0 * 1.2 / 3600.0 * AIR_CP_J_PER_KG_K
    best = held.cases[0]
    assert (free.cases[0].available_w, free.cases[0].guarded) == (4000.0, False)
    assert best.guarded
    assert best.available_w == pytest.approx(rate * 40.0 - 30.0, rel=1e-3)  # the sensor holds 20 °C within 0.02 K
    assert best.left_w < 0.0 < free.cases[0].left_w
    assert best.lowest_c["at_20_c"] == pytest.approx(20.0 - (best.available_w + 30.0) / 80.0, abs=0.1)
    assert best.lowest_c["at_12_c"] == pytest.approx(12.0 - rate * 48.0 / 80.0, abs=0.1)  # cooler air carries more
    assert held.cases[0].warm_air_h is None  # -15 °C is colder than what it holds
    assert free.cases[0].warm_air_h is not None
    assert held.sentences[1] == (
        "Of its 4000 W the guard on the supply air lets 2211 W through: more would heat that air over 60 °C. Open "
        "outlets or the way back."
    )
    assert free.sentences[0].endswith(f"at sea level it gives 4000 W: {least(free.cases[0].left_w)} W left.")
    high = held.cases[-1]
    assert high.available_w == pytest.approx(0.8345 * rate * 40.0 - 30.0, rel=0.02)  # the fan's air part falls too


def test_a_heater_at_its_guard_warms_up_later_and_what_it_gives_is_what_the_march_gives() -> None:
    room = ROOM.model_copy(update={"heater": ROOM.heater.model_copy(update={"supply_limit_c": 60.0})})
    free, held = (heater_size.warm_up(van, state(-5.0), 18.0, 24.0)[0] for van in (ROOM, room))
    assert free is not None and held is not None
    assert held > 1.2 * free


@pytest.mark.parametrize(
    ("hours", "said"),
    [(1.2, "the air reaches 20 °C in 1.2 h"), (None, "the air does not reach 20 °C within a day")],
)
def test_a_warm_up_that_takes_longer_than_a_day_is_a_sentence_all_the_same(hours: float | None, said: str) -> None:
    assert heater_size_words.reached("the air", "does", "reaches", 20.0, hours) == said
