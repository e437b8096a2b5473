"""What stays off the grid and the gas of a tour come to, hour by hour and by hand, of stand-ins for van and tour."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace as Found
from typing import Any

import numpy as np
import pytest
from sample_vans import one_room, sample_vans
from small_tour import small
from test_answers_enough import alone, room, weather

from budget.answers import enough_charge, enough_gas
from budget.answers.enough import Plan
from budget.answers.enough_charge import Flows, flows_of, gains_w, stays, too_long
from budget.answers.enough_gas import Stock, outlets_factor, stock_of, too_little, uses_of
from budget.answers.heated import heated_w_per_k
from budget.physics.properties import PROPANE_LOWER_KWH_PER_KG
from budget.van.derived import loss_w_per_k
from budget.van.model import Van
from budget.van.power import Battery

OFF = np.nan


def flows(fan: Any, rest: Any, brought: Any, **heat: Any) -> Flows:
    none = np.zeros(len(fan))
    given = {"needed_w": none, "available_w": none, "free_w": none} | {k: np.array(v) for k, v in heat.items()}
    return Flows(fan_ah=np.array(fan), rest_ah=np.array(rest), brought_ah=np.array(brought), **given)


def without_boiler(van: Van) -> Van:
    boiler = van.water.boiler.model_copy(update={"water_l": 0.5, "standing_loss_w": 0.0})
    assert not boiler.is_fitted
    return van.model_copy(update={"water": van.water.model_copy(update={"boiler": boiler})})


# The battery


def charge_plan(hookup_w: list[float], outdoor_c: list[float] | None = None, **battery: Any) -> Any:
    given = {"capacity_ah": 100.0, "start_share": 0.9, "cut_out_share": 0.0, "zone": "living"} | battery
    stop = small().timeline
    return Found(
        van=Found(power=Found(battery=Battery(**given), alternator_a=0.0, mains_charger_a=20.0)),
        timeline=Found(hookup_w=np.array(hookup_w), edges=stop.edges, tour=stop.tour, stop=stop.stop),
        column=lambda name: {"temp_air": np.array(outdoor_c or [25.0] * len(hookup_w))}[name],
    )


def test_a_stay_is_booked_hour_by_hour_from_what_is_in_the_battery() -> None:
    """100 Ah at 25 °C, 10 lacking at first. 25 an hour, 5 brought in the third: 35, 60, 80, 105, and 200 Ah of driving
    bring back 130. After the hook-up 30 an hour from full: 30, 60, 90."""
    plan = charge_plan([0.0] * 5 + [2000.0] + [0.0] * 3 + [500.0])
    given = flows([10.0] * 5 + [9.0] * 5, [15.0] * 5 + [21.0] * 5, [0.0, 0.0, 5.0, 0.0, 200.0] + [0.0] * 5)
    first, second = stays(plan, np.full(10, 25.0), given)
    assert (first.first, first.last, first.empty, first.deepest) == (0, 5, 3, 3)
    assert (first.full_ah, first.brought_ah, first.lacked_ah) == pytest.approx((90.0, 5.0, 5.0))
    assert first.carries_ah == pytest.approx(100.0 * 95.0 / 90.0)
    assert (second.first, second.last, second.empty, second.deepest) == (6, 9, None, 8)
    assert (second.full_ah, second.brought_ah, second.lacked_ah) == (100.0, 0.0, 0.0)
    assert second.carries_ah == pytest.approx(90.0)


def test_a_hole_that_is_filled_and_dug_again_is_told_at_its_deepest_and_cut_out_at_its_first() -> None:
    """110 in the first hour, 100 back, 115 in the third after 15 more brought; a hundred more is not asked for."""
    plan = charge_plan([0.0] * 3, start_share=1.0)
    (one,) = stays(plan, np.full(3, 25.0), flows([0.0] * 3, [110.0, 0.0, 120.0], [0.0, 100.0, 15.0]))
    assert (one.empty, one.deepest, one.brought_ah, one.lacked_ah) == (0, 2, 115.0, 15.0)
    assert one.carries_ah == pytest.approx(115.0)
    (exact,) = stays(plan, np.full(3, 25.0), flows([0.0] * 3, [100.0, 0.0, 0.0], [0.0] * 3))
    assert (exact.empty, exact.deepest, exact.lacked_ah) == (None, 0, 0.0), "what it holds may be taken to the last"


def test_a_stay_that_takes_nothing_is_deepest_as_it_begins_and_an_empty_battery_carries_nothing() -> None:
    plan = charge_plan([0.5, 0.0, 0.0])
    (idle,) = stays(plan, np.full(3, 25.0), flows([0.0] * 3, [0.0] * 3, [7.0] * 3))
    assert (idle.first, idle.last, idle.deepest, idle.brought_ah, idle.lacked_ah) == (1, 3, 1, 0.0, 0.0)
    assert (idle.full_ah, idle.carries_ah) == (100.0, 0.0)
    flat = charge_plan([0.0, 0.0], start_share=0.0)
    (dead,) = stays(flat, np.full(2, 25.0), flows([0.0] * 2, [3.0] * 2, [0.0] * 2))
    assert (dead.full_ah, dead.carries_ah, dead.empty) == (0.0, float("inf"), 0)
    assert dead.lacked_ah == pytest.approx(6.0), "what it takes beyond an empty battery, not what was missing before"


def test_a_hookup_without_a_charger_is_none_to_the_battery() -> None:
    """60 Ah an hour: the second hour is one too many, on a hook-up or not."""
    plan = charge_plan([0.0, 9.0, 9.0], start_share=1.0)
    given = flows([30.0] * 3, [30.0] * 3, [0.0] * 3)
    assert not list(too_long(plan, np.full(3, 25.0), given))
    plan.van.power.mains_charger_a = 0.0
    (told,) = too_long(plan, np.full(3, 25.0), given)
    assert told.startswith(
        "The battery does not carry the stay without a charger for the hook-up from 12 January at 12:00: by 12 January "
        "at 15:00 fan and loads take at least 180 Ah, "
    )


@pytest.mark.parametrize(
    ("zone", "set_c", "share"),
    [("living", [0.0, 10.0, OFF], 0.908), ("living", [OFF, OFF, OFF], 0.70), ("outdoors", [0.0, 10.0, OFF], 0.70)],
)
def test_a_battery_is_as_warm_as_the_heated_hours_of_its_zone_or_as_outdoors(
    zone: str, set_c: list[float], share: float
) -> None:
    """At 5 °C lithium gives 1 - 0.115 × 20 / 25 = 0.908 of its rating, at -20 °C 0.70."""
    plan = charge_plan([0.0] * 3, [-10.0, -20.0, -30.0], zone=zone, start_share=1.0)
    (stay,) = stays(plan, np.array(set_c), flows([0.0] * 3, [1.0] * 3, [0.0] * 3))
    assert stay.full_ah == pytest.approx(100.0 * share)


def test_stays_that_fail_are_told_by_their_first_and_a_count_of_the_others_with_or_without_a_fan() -> None:
    plan = charge_plan([0.0, 0.0, 9.0, 0.0, 9.0, 0.0, 9.0], start_share=1.0)
    given = flows([60.0] * 7, [60.0] * 7, [0.0] * 7)
    (told,) = too_long(plan, np.full(7, 25.0), given)
    place = small().tour.stops[0].place
    assert told == (
        "The battery does not carry the stay off the grid from 12 January at 12:00: by 12 January at 14:00 fan and "
        "loads take at least 240 Ah, the fan 120 of them; sun and driving bring nothing and the battery gives at most "
        "100 Ah: at least 140 Ah are missing. Every doubt given to it, and gas that feeds the heater, it is cut out at "
        f"the latest by 12 January at 13:00 at {place}; budget run will find it earlier. To carry it takes at least a "
        "battery of 240 Ah. So in 2 later stays off the grid."
    )
    (still,) = too_long(plan, np.full(7, 25.0), given, heats=False)
    assert "loads take at least 120 Ah, the fan 0 of them;" in still
    assert "So in" not in still, "60 Ah an hour are more than 100 in the first stay only"
    fan_ah = np.array([9.0, 0.0, 0.0, 60.0, 0.0, 0.0, 0.0])
    (later,) = too_long(plan, np.full(7, 25.0), replace(given, fan_ah=fan_ah, rest_ah=fan_ah))
    assert "from 12 January at 15:00: by 12 January at 16:00 fan and loads take at least 120 Ah, the fan 60 of" in later
    driven = charge_plan([0.0, 0.0], start_share=1.0)
    driven.van.power.alternator_a = 50.0
    (told,) = too_long(driven, np.full(2, 25.0), flows([60.0] * 2, [60.0] * 2, [0.2, 0.0]))
    assert "bring at most 1 Ah and" in told
    spread = (
        "a battery of 240 Ah, or 2.8 h more of driving spread over the stay, since the battery holds 100 Ah above its"
    )
    assert told.endswith(f"{spread} cut-out."), "139.8 Ah at 50 A are 2.796 h"


FACES = {"left": 100.0, "right": 20.0, "roof": 300.0, "sides": 60.0, "rear": 7.0, "front": 9.0, "floor": 0.0}


def faces(hours: int = 72) -> dict[str, Any]:
    return {name: np.full(hours, value) for name, value in FACES.items()} | {"panel_w": np.full(hours, 500.0)}


def test_what_warms_the_van_for_nothing_is_people_cooking_hot_water_and_sun_through_glass_and_skin() -> None:
    """Of the skin's sun U / 15 W/m²K comes in, of the glass's what it lets through and half of what it catches."""
    pane = {"name": "window", "area_m2": 0.5, "faces": "left", "u_w_per_m2k": 3.0, "g_share": 0.6}
    shell = {"name": "shell", "area_m2": 40.0, "faces": "roof", "u_w_per_m2k": 2.0, "solar_absorptance_share": 0.3}
    zone = {"name": "living", "air_m3": 12.0, "air_capacity_j_per_k": 6e4, "fabric_capacity_j_per_k": 5e5,
            "fabric_coupling_w_per_k": 100.0, "opaque": [shell], "glazing": [pane]}  # fmt: skip
    line = alone(
        people_w=np.full(72, 90.0), cooking_gas_kg=np.full(72, 0.1), cooking_vented_share=np.full(72, 0.75),
        cooking_electric_w=np.full(72, 11.0),
    )  # fmt: skip
    van = room(cabin={"zones": [zone]})
    sun_w = 100.0 * (0.5 * 0.6 + 0.5 * 0.5 * 3.0 / 15.0) + 300.0 * 0.3 * 80.0 / 15.0
    cooking_w = 1000.0 * PROPANE_LOWER_KWH_PER_KG * 0.1 * 0.25
    boiler_w = van.water.boiler.standing_loss_w
    assert boiler_w == 28.0
    found = gains_w(Plan(van, line, weather()), faces())
    assert found == pytest.approx(np.full(72, 90.0 + cooking_w + 11.0 + boiler_w + sun_w))
    bare = without_boiler(van)
    assert gains_w(Plan(bare, line, weather()), faces()) == pytest.approx(found - 28.0)


def test_what_a_battery_gives_and_gets_each_hour_is_watts_over_volts(monkeypatch: pytest.MonkeyPatch) -> None:
    """A fridge of 50 W draws half its time at 20 °C and a tenth of a kelvin more or less: at -5 °C around it nothing
    of it, at -3 °C 0.04, at 20 and 25 °C half. 500 W of panel, 0.8 and 0.9 of it in the end, half in shade."""
    monkeypatch.setattr(enough_charge, "planes", lambda *given: faces())
    load = {"name": "fridge", "power_w": 50.0, "duty_share": 0.5, "duty_per_k": 0.04}
    solar = {"peak_w": 100.0, "charger_efficiency_share": 0.9}
    stage = {"output_w": 4000.0, "efficiency_share": 0.9, "air_m3_per_h": 200.0, "fan_w": 30.0}
    van = room(power={"loads": [load], "solar": solar, "alternator_a": 20.0},
               heater={"stages": [stage], "standby_w": 2.0})  # fmt: skip
    allowed, drive = np.ones(72, dtype=bool), np.zeros(72)
    allowed[60:] = False
    drive[3] = 0.5
    line = alone(heater_allowed=allowed, alternator=drive, solar_factor=np.full(72, 0.5))
    set_c = np.full(72, 20.0)
    set_c[1], set_c[60:] = 25.0, OFF
    found = flows_of(Plan(van, line, weather(-3.0)), set_c)
    volts = van.power.battery.nominal_v
    kept = van.power.solar.kept_share
    fridge_w = np.full(72, 25.0)
    fridge_w[60:] = 50.0 * 0.5 * (1.0 - 0.04 * 23.0)
    assert found.rest_ah == pytest.approx((fridge_w + 2.0 * allowed) / volts)
    assert found.brought_ah == pytest.approx(500.0 * kept * 0.9 * 0.5 / volts + 20.0 * drive)
    sun_w = 40.0 * van.cabin.zones[0].opaque[0].solar_absorptance_share * 60.0 * 2.0 / 15.0
    free_w = 28.0 + sun_w + fridge_w
    needed_w = np.where(np.isfinite(set_c), 80.0 * (np.nan_to_num(set_c) + 3.0), 0.0)
    fan_w = np.where(needed_w > 0.0, 30.0 * np.maximum(0.0, needed_w - free_w) / 4000.0, 0.0)
    assert found.needed_w == pytest.approx(needed_w)
    assert found.available_w == pytest.approx(np.where(np.isfinite(set_c), 4000.0, 0.0), rel=2e-3)
    assert found.fan_ah == pytest.approx(fan_w / volts)
    assert found.free_w == pytest.approx(free_w + fan_w), "the fan's heat stays inside"
    warm = flows_of(Plan(van, line, weather(-3.0)), np.where(np.isfinite(set_c), -2.99, OFF))
    assert warm.fan_ah == pytest.approx(np.zeros(72)), "what people and sun give more than is lost is no less than none"


def test_a_duty_is_no_more_than_whole_and_no_less_than_none(monkeypatch: pytest.MonkeyPatch) -> None:
    """A tenth a kelvin: at 9 °C and below nothing of a half, at 31 °C outdoors, of which 20 count, still half."""
    monkeypatch.setattr(enough_charge, "planes", lambda *given: faces())
    load = {"name": "fridge", "power_w": 50.0, "duty_share": 0.5, "duty_per_k": 0.1}
    van = room(power={"loads": [load]})
    for outdoor_c, duty in ((31.0, 0.5), (15.0, 0.25), (-40.0, 0.0)):
        found = flows_of(Plan(van, alone(), weather(outdoor_c)), np.full(72, OFF))
        assert found.rest_ah == pytest.approx(np.full(72, 50.0 * duty / van.power.battery.nominal_v)), outdoor_c


# The gas


def gas_plan(open_hours: dict[int, int], *bottles: tuple[float, float | None]) -> Any:
    """Bottles of so much net, holding so much; an hour in which one of them may be had."""
    kinds = [Found(name=f"bottle {k}", net_kg=net, start_kg=start) for k, (net, start) in enumerate(bottles)]
    opens = np.zeros((5, len(bottles)), dtype=bool)
    for hour, bottle in open_hours.items():
        opens[hour, bottle] = True

    def exchange_open(names: list[str]) -> Any:
        assert names == [kind.name for kind in kinds]
        return opens

    return Found(van=Found(gas=Found(bottles=kinds)), timeline=Found(exchange_open=exchange_open))


def test_what_can_be_had_on_the_way_is_burned_first_and_brought_full() -> None:
    """4 of 10 kg and 5: the second feeds 1 and 4, is changed for 5, feeds 3 of them; of 8 then 2 are missing."""
    plan = gas_plan({2: 1}, (10.0, 4.0), (5.0, None))
    assert stock_of(plan, np.array([1.0, 4.0, 3.0, 8.0, 1.0])) == Stock(
        board_kg=9.0, brought_kg=5.0, lacked_kg=3.0, empty=3
    )
    assert stock_of(plan, np.array([1.0, 4.0, 3.0, 6.0, 0.0])) == Stock(
        board_kg=9.0, brought_kg=5.0, lacked_kg=0.0, empty=None
    )
    ahead = gas_plan({0: 0}, (10.0, 4.0), (5.0, None))
    assert stock_of(ahead, np.array([12.0, 3.0, 1.0, 0.0, 0.0])) == Stock(
        board_kg=9.0, brought_kg=6.0, lacked_kg=1.0, empty=2
    )
    never = gas_plan({}, (10.0, None), (5.0, 0.0))
    assert stock_of(never, np.array([10.0, 0.5, 0.0, 0.0, 0.5])) == Stock(
        board_kg=10.0, brought_kg=0.0, lacked_kg=1.0, empty=1
    )


def test_warm_water_counts_from_the_rooms_warmth_to_the_tap_and_no_hotter_than_a_full_boiler() -> None:
    """10 L from 20 to 40 °C in the second hour are 10 × 20 × 4186 / 3600 W; 30 L at 45 from a boiler of 12 L at 60 °C
    are no more than 12 × 40; nothing in an hour without warm water, and nothing from a colder tap."""
    van = one_room()
    litres = van.water.boiler.water_l
    water_set_c = np.full((72, 4), 60.0)
    water_set_c[5] = OFF
    water_set_c[4] = [OFF, 50.0, 55.0, OFF]
    allowed = np.ones(72, dtype=bool)
    allowed[6] = False
    draws = [(3600.0, 10.0, 40.0), (7199.0, 1.0, 40.0), (7200.0, 30.0, 45.0), (4 * 3600.0 + 5.0, 30.0, 45.0),
             (5 * 3600.0, 10.0, 40.0), (6 * 3600.0, 10.0, 40.0), (8 * 3600.0, 10.0, 19.0), (9 * 3600.0, 1.0, 40.0),
             (10 * 3600.0, 1.0, 40.0)]  # fmt: skip
    seconds, drawn, tap = (np.array(column) for column in zip(*draws, strict=True))
    line = alone(water_set_c=water_set_c.reshape(-1), heater_allowed=allowed, draw_s=seconds, draw_l=drawn,
                 draw_tap_c=tap)  # fmt: skip
    set_c = np.full(72, 20.0)
    set_c[9], set_c[10] = 10.0, OFF
    found = enough_gas._water_w(Plan(van, line, weather()), set_c)
    w_per_kl = found[10] / 20.0
    assert w_per_kl == pytest.approx(4186.0 / 3600.0, rel=2e-3)
    by_hand = {
        1: 11.0 * 20.0,
        2: min(30.0 * 25.0, litres * 40.0),
        4: min(30.0 * 25.0, litres * 35.0),
        9: 30.0,
        10: 20.0,
    }
    wanted = np.zeros(72)
    for hour, kelvin_litres in by_hand.items():
        wanted[hour] = kelvin_litres * w_per_kl
    assert litres * 40.0 < 30.0 * 25.0, "or the boiler does not bind"
    assert found == pytest.approx(wanted)
    assert not enough_gas._water_w(Plan(without_boiler(van), line, weather()), set_c).any()


def test_an_hour_asks_for_the_mean_of_its_quarters_over_that_of_its_warmest() -> None:
    """Outdoors 0 °C: quarters of 20, 10, off and 20 are 50 of 80; off and never, and a room below outdoors, nothing."""
    quarters = np.array([[20.0, 10.0, OFF, 20.0], [OFF] * 4, [20.0] * 4, [-5.0, -5.0, -5.0, -9.0]])
    plan: Any = Found(timeline=Found(setpoint_c=quarters.reshape(-1)))
    share = enough_gas._asked_share(plan, np.array([20.0, OFF, 20.0, -5.0]), np.zeros(4))
    assert share == pytest.approx([50.0 / 80.0, 0.0, 1.0, 0.0])
    plan.timeline.setpoint_c = np.array([0.5, 0.5, OFF, OFF])
    assert enough_gas._asked_share(plan, np.array([0.5]), np.zeros(1)) == pytest.approx([0.5])
    plan.timeline.setpoint_c = np.full(4, 20.0)
    assert enough_gas._asked_share(plan, np.array([20.0]), np.array([-20.0])) == pytest.approx([1.0])


def test_an_absorption_fridge_burns_where_its_gas_is_open_and_no_hook_up_feeds_it() -> None:
    line = Found(gas_open=np.array([True, True, False, False]))
    hooked = np.array([False, True, False, True])
    for use, kg in (("gas", [0.02, 0.02, 0.0, 0.0]), ("electric_first", [0.02, 0.0, 0.0, 0.0]), ("off", [0.0] * 4)):
        plan: Any = Found(van=Found(fridge=Found(use=use, gas_g_per_h=20.0)), timeline=line)
        assert enough_gas._fridge_kg(plan, hooked).tolist() == kg, use
    assert enough_gas._fridge_kg(Found(van=Found(fridge=None), timeline=line), hooked).tolist() == [0.0] * 4  # type: ignore[arg-type]


def test_warm_air_to_every_outlet_takes_more_than_the_sensors_zone_alone_never_less() -> None:
    assert outlets_factor(one_room()) == 1.0
    van = sample_vans()["demo"]
    alone_w_per_k = loss_w_per_k(van, 1.0, 20.0, 0.0, 4.0)
    assert outlets_factor(van) == pytest.approx(0.95 * heated_w_per_k(van, 1.0, 1.0, 20.0, 0.0, 4.0) / alone_w_per_k)
    assert outlets_factor(van) > 1.0


def uses(needed_w: Any, *, free_w: Any = 0.0, available_w: float = 4000.0, **changes: Any) -> Any:
    """Least gas by the hour of the room without warm water, -20 °C outdoors and 20 °C asked for."""
    van = room()
    electric_w = changes.pop("electric_w", ())
    van = van.model_copy(update={"heater": van.heater.model_copy(update={"electric_w": electric_w})})
    dry = {name: np.zeros(0) for name in ("draw_s", "draw_l", "draw_tap_c")}
    line = alone(**(dry | changes))
    plan = Plan(van, line, weather())
    given = flows(
        np.zeros(72), np.zeros(72), np.zeros(72), needed_w=np.broadcast_to(needed_w, 72),
        free_w=np.broadcast_to(free_w, 72), available_w=np.full(72, available_w),
    )  # fmt: skip
    return uses_of(plan, plan.set_c(), given)


KG_PER_WH = 1.0 / 1000.0 / 0.9 / PROPANE_LOWER_KWH_PER_KG


def test_the_least_gas_is_the_days_heat_less_what_is_free_on_that_day_over_the_best_efficiency() -> None:
    """Noon to midnight is a day of twelve hours here. 3000 W, no more than what the heater gives; 36 kWh of sun in one
    of its hours are taken off the whole day and no other."""
    assert uses(3000.0).heater_kg == pytest.approx(np.full(72, 3000.0 * KG_PER_WH))
    assert uses(3000.0, available_w=2000.0).heater_kg == pytest.approx(np.full(72, 2000.0 * KG_PER_WH))
    sun = np.zeros(72)
    sun[2] = 6000.0
    kg = uses(3000.0, free_w=sun).heater_kg
    assert kg[:12].sum() == pytest.approx((12 * 3000.0 - 6000.0) * KG_PER_WH)
    assert (kg[2], kg[12:].sum()) == (0.0, pytest.approx(60 * 3000.0 * KG_PER_WH))
    assert kg[:2] == pytest.approx(kg[3:5])
    sun[2] = 36_001.0
    assert uses(3000.0, free_w=sun).heater_kg[:12].sum() == 0.0
    assert uses(0.0).heater_kg.sum() == 0.0


def test_an_element_takes_its_step_off_the_gas_of_its_day_where_the_hook_up_bears_it() -> None:
    """900 and 1800 W: 1799 W bear the less of them, 1800 both; on gas alone, or without a hook-up, neither."""
    for fuel, hookup_w, element_w in (
        (2, 1800.0, 1800.0), (2, 1799.0, 900.0), (2, 899.0, 0.0), (0, 1800.0, 0.0), (2, 0.0, 0.0), (1, 0.0, 0.0),
    ):  # fmt: skip
        found = uses(3000.0, fuel=np.full(72, fuel), hookup_w=np.full(72, hookup_w), electric_w=(900.0, 1800.0))
        assert found.heater_kg == pytest.approx(np.full(72, (3000.0 - element_w) * KG_PER_WH)), (fuel, hookup_w)
    mixed = np.full(72, 2)
    mixed[:6] = 1
    hooked = np.full(72, 1800.0)
    kg = uses(3000.0, fuel=mixed, hookup_w=hooked).heater_kg
    assert (kg[:6].sum(), kg[6:12]) == (0.0, pytest.approx(np.full(6, 3000.0 * KG_PER_WH)))


def test_warm_water_warms_the_room_too_and_is_gas_where_the_room_asks_for_none() -> None:
    """10 L from 20 to 40 °C in the second hour: 233 Wh, which the room's need of that day is less by, or all of it."""
    draws = {"draw_s": np.array([3600.0]), "draw_l": np.array([10.0]), "draw_tap_c": np.array([40.0])}
    hot = draws | {"water_set_c": np.full(288, 60.0)}
    water_kg = 10.0 * 20.0 * 4186.0 / 3600.0 * KG_PER_WH
    kg = uses(3000.0, **hot).heater_kg
    assert kg[:12] == pytest.approx(np.full(12, 3000.0 * KG_PER_WH))
    alone_kg = uses(0.0, **hot).heater_kg
    assert (alone_kg[1], alone_kg.sum()) == (pytest.approx(water_kg, rel=2e-3), alone_kg[1])
    sunny = uses(3000.0, free_w=9000.0, **hot).heater_kg
    assert sunny.sum() == pytest.approx(water_kg, rel=2e-3)


def test_less_than_a_tenth_of_a_kilogram_is_not_called_short_and_flames_beside_the_heater_are_named() -> None:
    """19.71 kg in the room of 3172 W; a fridge of 20 g an hour burns 1.44 more, the hob 0.09 is not told of."""
    heat = flows(np.zeros(72), np.zeros(72), np.zeros(72), needed_w=np.full(72, 3172.0), available_w=np.full(72, 4e3))
    dry = {name: np.zeros(0) for name in ("draw_s", "draw_l", "draw_tap_c")}
    burned = 72 * 3172.0 * KG_PER_WH

    def told(held_kg: float, fridge: bool = False, cooking_kg: float = 0.0) -> list[str]:
        kind = {"name": "one", "net_kg": held_kg, "tare_kg": 10.0}
        van = room(gas={"bottles": [kind], "locker_zone": "outdoors"})
        if fridge:
            van = van.model_copy(update={"fridge": Found(use="gas", gas_g_per_h=20.0)})
        line = replace(alone(**dry), cooking_gas_kg=np.full(72, cooking_kg / 72.0), gas_open=np.ones(72, dtype=bool))
        plan = Plan(van, line, weather())
        return list(too_little(plan, uses_of(plan, plan.set_c(), heat)))

    assert told(burned - 0.09) == []
    (short,) = told(burned - 0.11)
    assert "At least 0.1 kg are missing" in short and " over the tour, 19." in short
    (fridge,) = told(19.0, fridge=True)
    assert " over the tour and hob and fridge 1.4 kg, 19.0 kg are on board" in fridge
    assert "and the hob" not in told(19.0, cooking_kg=0.09)[0]
    assert " and the hob 0.1 kg, " in told(19.0, cooking_kg=0.11)[0]
