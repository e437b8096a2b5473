"""What `budget check` warns of, by hand: heater and bottles in the hardest hour, the battery on stays off the grid."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import Call
from random_vans import random_tour, random_van
from sample_vans import one_room, sample_vans
from small_tour import small, steady
from test_results_summary import SAMPLES

from budget.answers.conditions import LARGE_W, Conditions, hold, unlimited, with_output
from budget.answers.detail import Detail
from budget.answers.enough import Plan
from budget.answers.enough import warnings as all_warnings
from budget.answers.enough_charge import flows_of
from budget.answers.enough_gas import uses_of
from budget.answers.prepared import timeline_of
from budget.engine.van_arrays import build_van
from budget.physics.properties import PROPANE_LOWER_KWH_PER_KG
from budget.simulation import simulate
from budget.tour.model import Exchange
from budget.tour.timeline import Timeline
from budget.van.derived import loss_w_per_k
from budget.van.model import Van
from budget.weather.record import HourlyWeather
from budget.weather.tour_weather import for_tour

SET_C, OUT_C = 20.0, -20.0


def night(**changes: Any) -> Timeline:
    """The small tour off the grid, 20 °C asked for in every hour."""
    line = small().timeline
    whole = {"setpoint_c": np.full_like(line.setpoint_c, SET_C), "heater_allowed": np.ones_like(line.heater_allowed)}
    return replace(line, **(whole | changes))


def weather(outdoor_c: float = OUT_C, pressure_pa: float = 101_325.0) -> HourlyWeather:
    made = steady(outdoor_c).weather
    return replace(made, frame=made.frame.assign(pressure=pressure_pa))


def room(output_w: float = 4000.0, *, fan_w: float = 0.0, **changes: Any) -> Van:
    """80 W/K by its shell; no fan unless a test asks for one."""
    stage = {"output_w": output_w, "efficiency_share": 0.9, "air_m3_per_h": 200.0, "fan_w": fan_w}
    return one_room(**({"heater": {"stages": [stage], "standby_w": 0.0}} | changes))


def warnings(van: Van, line: Timeline, outside: HourlyWeather) -> tuple[str, ...]:
    """All but the gas of the whole tour, which these rooms burn in a day or two."""
    return tuple(told for told in all_warnings(van, line, outside) if not told.startswith("The gas is too little"))


def said(van: Van, *, outdoor_c: float = OUT_C, pressure_pa: float = 101_325.0, **line: Any) -> list[str]:
    return [told.split(":")[0] for told in warnings(van, night(**line), weather(outdoor_c, pressure_pa))]


def test_a_heater_under_80_w_per_k_times_40_k_is_called_too_small_with_both_numbers() -> None:
    """80 W/K × 40 K = 3200 W whatever the wind: nothing leaks in this room."""
    assert loss_w_per_k(room(), 1.0, SET_C, OUT_C, 3.0) == pytest.approx(80.0, rel=1e-9)
    (told,) = warnings(room(3000.0), night(), weather())
    stop = small().tour.stops[0]
    assert told == (
        f"The heater is too small: at {stop.place} on 12 January at 12:00 (-20 °C outdoors, 20 °C asked for, wind 2 "
        f"m/s) holding living alone takes about 3200 W, and the heater gives at most 3000 W at {stop.altitude_m:.0f} m."
    )
    assert said(room(3300.0)) == []
    assert said(room(3000.0), outdoor_c=-15.0) == []  # 2800 W


def test_thin_air_takes_the_output_and_a_compensated_burner_keeps_it() -> None:
    """3300 W at 0.9 of the pressure at sea level are 2970 W."""
    thin = 0.9 * 101_325.0
    assert said(room(3300.0), pressure_pa=thin) == ["The heater is too small"]
    van = room(3300.0)
    kept = van.model_copy(update={"heater": van.heater.model_copy(update={"altitude_compensated": True})})
    assert said(kept, pressure_pa=thin) == []


def test_an_element_on_hookup_counts_within_its_amps_and_hours_without_heating_do_not() -> None:
    van = room(3000.0)
    van = van.model_copy(update={"heater": van.heater.model_copy(update={"electric_w": (900.0, 1800.0)})})
    fuel = np.full_like(small().timeline.fuel, 2)
    for hookup_w, warned in ((0.0, True), (1000.0, True), (1200.0, False)):  # 200 W are kept for charger and fridge
        line = night(fuel=fuel, hookup_w=np.full(72, hookup_w))
        assert bool(warnings(van, line, weather())) == warned, hookup_w
    alone = night(fuel=np.full_like(fuel, 1), hookup_w=np.full(72, 2500.0))
    (told,) = warnings(room(5000.0), alone, weather())
    assert told.endswith("the heater gives at most 0 W at 4 m, on the hook-up alone.")
    off = night(setpoint_c=np.full(288, np.nan))
    assert warnings(van, off, weather()) == ()


def test_the_one_windy_hour_of_a_draughty_room_is_found_among_all_that_are_as_cold() -> None:
    """72 hours at -20 °C, of which the last but one has 25 m/s on 200 cm² of leaks, and the others 3."""
    van = room(8000.0)
    zone = van.cabin.zones[0].model_copy(update={"leakage_cm2": 200.0})
    leaky = van.model_copy(update={"cabin": van.cabin.model_copy(update={"zones": (zone,)})})
    wind = np.full(72, 3.0)
    wind[70] = 25.0
    outside = weather()
    line = night(wind_factor=np.ones(72))
    outside = replace(outside, frame=outside.frame.assign(wind_speed=wind))
    needed_w = loss_w_per_k(leaky, float(line.screens[70]), SET_C, OUT_C, 25.0) * 40.0
    calm_w = loss_w_per_k(leaky, float(line.screens[0]), SET_C, OUT_C, 3.0) * 40.0
    assert calm_w + 200.0 < needed_w
    stage = van.heater.stages[0].model_copy(update={"output_w": needed_w - 100.0})
    weak = leaky.model_copy(update={"heater": van.heater.model_copy(update={"stages": (stage,)})})
    (told,) = (one for one in warnings(weak, line, outside) if one.startswith("The heater is too small"))
    assert " on 15 January at 10:00 (-20 °C outdoors, 20 °C asked for, wind 25 m/s)" in told


def test_what_is_called_too_small_is_too_small_in_the_engine_too() -> None:
    """The described loss leaves out what runs bring to other zones, stratification and the sky: it never says more
    than 2 % more than the engine's settled van takes (the one room, whose air is colder at the floor)."""
    for name, van in sample_vans().items():
        steady_w = hold(build_van(with_output(unlimited(van), LARGE_W)), Conditions(outdoor_c=-15.0), SET_C)
        described_w = loss_w_per_k(van, 1.0, SET_C, -15.0, 2.0) * 35.0
        assert 0.75 < described_w / (steady_w.heat_w + steady_w.fan_w) < 1.02, name


def carried(capacity_ah: float = 30.0, **power: Any) -> Van:
    """The room with a fan of 30 W and a lamp of 6 W; a battery without cut-out at 20 °C: 2.3 % locked in."""
    battery = {"capacity_ah": capacity_ah / 0.977, "cut_out_share": 0.0}
    return room(fan_w=30.0, power={"battery": battery, "loads": [{"name": "lamp", "power_w": 6.0}]} | power)


def alone(**changes: Any) -> Timeline:
    """Three days off the grid in which nobody is there and nothing is cooked: what is asked for is the heater's."""
    nothing = {name: np.zeros(72) for name in ("people_w", "cooking_gas_kg", "cooking_electric_w")}
    return night(**(nothing | changes))


# 80 W/K × 40 K less the lamp's 6 W and the boiler's 28 W are 3166 of 4000 W: 23.745 W of fan, with the lamp 29.745 W.
HOURLY_AH = (30.0 * 3166.0 / 4000.0 + 6.0) / 12.8


@pytest.mark.parametrize(("hours", "warned"), [(71.5, True), (72.5, False)])
def test_a_battery_is_held_against_the_whole_stay_off_the_grid(hours: float, warned: bool) -> None:
    van = carried(hours * HOURLY_AH)
    told = warnings(van, alone(), weather())
    assert bool(told) == warned
    if warned:
        place = small().tour.stops[0].place
        assert told == (
            "The battery does not carry the stay off the grid from 12 January at 12:00: by 15 January at 12:00 fan and "
            "loads take at least 167 Ah, the fan 133 of them; sun and driving bring nothing and the battery gives at "
            "most 167 Ah: at least 1 Ah are missing. Every doubt given to it, and gas that feeds the heater, it is cut "
            f"out at the latest by 15 January at 12:00 at {place}; budget run will find it earlier. To carry it takes "
            "at least a battery of 172 Ah, or 0.1 h more of driving.",
        )


def test_a_hookup_ends_a_stay_and_fills_and_each_stay_that_fails_is_counted() -> None:
    """Stays of 30, 24 and 12 hours around two of hook-up: 20 hours' worth fails in two of them, 26 in one."""
    hookup_w = np.zeros(72)
    hookup_w[30:33] = hookup_w[57:60] = 2000.0
    line = alone(hookup_w=hookup_w)
    (twice,) = warnings(carried(20.0 * HOURLY_AH), line, weather())
    assert " by 13 January at 09:00 at " in twice
    assert twice.endswith(" So in 1 later stay off the grid.")
    (once,) = warnings(carried(26.0 * HOURLY_AH), line, weather())
    assert "So in" not in once
    assert warnings(carried(31.0 * HOURLY_AH), line, weather()) == ()
    assert warnings(carried(1.0), alone(hookup_w=np.full(72, 2000.0)), weather()) == ()


def test_sun_and_driving_are_counted_whole_and_a_stay_begins_with_what_is_in_the_battery() -> None:
    """5 A for six hours are 30 Ah of the 167 that 72 hours take; 200 A fill the battery up, and no more than what was
    missing after 24 hours and is used meanwhile is counted. 60 Ah of 120 to begin with are 25.8 hours."""
    drive = np.zeros(72)
    drive[18:24] = 1.0
    driven = alone(alternator=drive)
    assert warnings(carried(72.0 * HOURLY_AH - 29.0, alternator_a=5.0), driven, weather()) == ()
    (told,) = warnings(carried(72.0 * HOURLY_AH - 31.0, alternator_a=5.0), driven, weather())
    assert "sun and driving bring at most 30 Ah" in told
    assert warnings(carried(48.5 * HOURLY_AH, alternator_a=200.0), driven, weather()) == ()
    (filled,) = warnings(carried(47.5 * HOURLY_AH, alternator_a=200.0), driven, weather())
    assert f"sun and driving bring at most {np.ceil(24.0 * HOURLY_AH):.0f} Ah" in filled
    half = {"capacity_ah": 120.0 / 0.977, "cut_out_share": 0.0, "start_share": 1.0 - 60.0 * 0.977 / 120.0}
    (begun,) = warnings(carried(battery=half), alone(), weather())
    assert " by 13 January at 14:00 at " in begun
    sunny = weather()
    sunny = replace(sunny, frame=sunny.frame.assign(ghi=300.0, dhi=300.0))
    panel = {"peak_w": 2000.0}
    assert warnings(carried(30.0, solar=panel), alone(), weather()) != ()
    assert warnings(carried(30.0, solar=panel), alone(), sunny) == ()


def test_gas_too_cold_to_feed_the_heater_leaves_the_loads_alone() -> None:
    """Butane at -20 °C: the lamp's 6 W are 33.75 Ah in three days; the fan may stand still."""
    gas = {"bottles": [{"name": "13 kg", "net_kg": 13.0, "propane_share": 0.0}], "locker_zone": "outdoors"}
    for capacity_ah, first in ((33.0, "The battery"), (34.5, "A bottle")):
        power = {
            "battery": {"capacity_ah": capacity_ah / 0.977, "cut_out_share": 0.0},
            "loads": [{"name": "lamp", "power_w": 6.0}],
        }
        van = room(fan_w=30.0, power=power, gas=gas)
        assert warnings(van, alone(), weather())[0].startswith(first)


def test_what_people_cooking_and_sun_give_spares_the_fan() -> None:
    """1000 W of them are 7.5 W of fan: 72 hours take what 72 × 22.245 / 29.745 = 53.8 take without."""
    gains = {"people_w": np.full(72, 1000.0)}
    for hours, warned in ((53.3, True), (54.3, False)):
        van = carried(hours * HOURLY_AH)
        assert bool(warnings(van, alone(**gains), weather())) == warned


GAS_KG = 3172.0 * 72.0 / 1000.0 / 0.9 / PROPANE_LOWER_KWH_PER_KG  # 3200 W less the boiler's 28 W, three days


def burning(*held_kg: float, exchange: tuple[dict[str, Any], ...] = (), **changes: Any) -> list[str]:
    """What is said of the gas in the room without a load, with bottles of so much and no warm water."""
    kinds = [{"name": f"{kg:g} kg", "net_kg": kg, "tare_kg": 10.0} for kg in held_kg]
    van = room(gas={"bottles": kinds, "locker_zone": "outdoors"}, power={"loads": []})
    line = alone(**{name: np.zeros(0) for name in ("draw_s", "draw_l", "draw_tap_c")} | changes)
    stop = line.tour.stops[0].model_copy(update={"exchange": tuple(Exchange(**each) for each in exchange)})
    line = replace(line, tour=line.tour.model_copy(update={"stops": (stop, *line.tour.stops[1:])}))
    return [told for told in all_warnings(van, line, weather()) if told.startswith("The gas is too little")]


def test_gas_for_less_than_the_tour_is_told_with_its_kilograms() -> None:
    assert 19.65 < GAS_KG < 19.75
    (told,) = burning(11.0, 5.0)
    assert told == (
        "The gas is too little: heating and hot water take at least 19.7 kg over the tour, 16.0 kg are on board, and "
        "the tour names no place and hour at which a bottle of these is exchanged or filled. At least 3.7 kg are "
        f"missing; the gas is used up at the latest on 14 January at 23:00 at {small().tour.stops[0].place}, in a run "
        "earlier (budget plan says when, and what the tour takes)."
    )
    assert burning(11.0, 8.5) != []
    assert burning(11.0, 9.0) == []


def test_what_the_hob_burns_is_added_and_what_people_and_draws_give_is_taken_off() -> None:
    """10 g an hour are 0.72 kg; 1 kg outdoors of it gives the room nothing. 1000 W of people are 6.2 kg."""
    cooking = {"cooking_gas_kg": np.full(72, 0.01), "cooking_vented_share": np.ones(72)}
    assert burning(20.0) == []
    (told,) = burning(20.0, **cooking)
    assert "take at least 19.7 kg over the tour and the hob 0.7 kg, 20.0 kg are on board" in told
    assert burning(14.0, people_w=np.full(72, 1000.0)) == []
    assert burning(13.0, people_w=np.full(72, 1000.0)) != []


def test_an_exchange_is_taken_at_every_chance_and_counted_at_most() -> None:
    """Two days on 16 kg, then 11 more: 13.1 kg are burned by then, and 19.7 in all."""
    chance = {"bottle": "11 kg", "open": ["thu 12:00-13:00"]}
    assert burning(11.0, 5.0, exchange=(chance,)) == []
    assert burning(11.0, 5.0, exchange=(chance | {"bottle": "13 kg"},)) != []
    (told,) = burning(7.0, 5.0, exchange=(chance | {"bottle": "7 kg"},))
    assert "exchange and filling on the way bring at most 7.0 kg. At least 1." in told


def test_an_element_on_hookup_spares_its_whole_step_and_electric_heating_all() -> None:
    """900 W of 3172 W: 5.6 kg."""
    van = room(gas={"bottles": [{"net_kg": 14.0}], "locker_zone": "outdoors"}, power={"loads": []})
    van = van.model_copy(update={"heater": van.heater.model_copy(update={"electric_w": (900.0,)})})
    dry = {name: np.zeros(0) for name in ("draw_s", "draw_l", "draw_tap_c")}
    for fuel, hookup_w, kg in ((0, 1000.0, GAS_KG), (2, 1000.0, GAS_KG * 2272.0 / 3172.0), (1, 1000.0, 0.0)):
        line = alone(fuel=np.full(72, fuel), hookup_w=np.full(72, hookup_w), **dry)
        plan = Plan(van, line, weather())
        set_c = plan.set_c()
        assert uses_of(plan, set_c, flows_of(plan, set_c)).heater_kg.sum() == pytest.approx(kg, rel=1e-6), fuel


def test_the_least_gas_is_never_more_than_a_fed_run_burns() -> None:
    """Random vans in the cold snap: from a quarter to nine tenths of what the engine takes when it is fed."""
    for seed in range(13):
        van = random_van(seed)
        result = simulate(van, random_tour(van, seed), folder=SAMPLES)
        plan, fed = Plan(van, result.timeline, result.weather), Detail.of(result).fed()
        set_c = plan.set_c()
        uses = uses_of(plan, set_c, flows_of(plan, set_c))
        burned = fed.flow("heating_kg").sum() + fed.flow("hot_water_kg").sum()
        assert 0.25 < uses.heater_kg.sum() / burned < 0.9, seed
        assert uses.open_kg.sum() == pytest.approx(fed.flow("cooking_kg").sum() + fed.flow("fridge_kg").sum(), rel=1e-6)


def bottles(*kinds: dict[str, Any], **gas: Any) -> Van:
    return room(gas={"bottles": list(kinds), "locker_zone": "outdoors"} | gas)


def test_bottles_too_cold_for_the_hardest_hour_are_told_apart_from_small_and_from_warm_ones() -> None:
    """3200 W at 0.9 on propane take 0.28 kg/h. Butane boils at -0.5 °C and gives nothing; a 5 kg bottle of propane
    outdoors at -20 °C gives it for under four hours, two of them feeding together for a day; 11 kg at -5 °C (2000 W)
    feed it through."""
    propane = {"name": "5 kg", "net_kg": 5.0, "tare_kg": 6.0, "diameter_m": 0.23}
    butane = {"name": "13 kg", "net_kg": 13.0, "propane_share": 0.0}
    large = {"name": "11 kg"}
    assert said(bottles(butane)) == ["A bottle (13 kg) cannot feed the heater"]
    assert said(bottles(butane), outdoor_c=12.0) == []
    assert said(bottles(propane)) == ["A bottle (5 kg) cannot feed the heater"]
    assert said(bottles(propane, propane, changeover="parallel")) == []
    assert said(bottles(large), outdoor_c=-5.0) == []
    assert said(bottles(large, butane), outdoor_c=-5.0) == ["A bottle (13 kg) cannot feed the heater"]
    assert said(bottles(large, regulator_kg_per_h=0.2)) == ["A bottle (11 kg) cannot feed the heater"]
    (told,) = warnings(bottles(butane), night(), weather())
    assert told.endswith(
        "takes about 0.28 kg/h, and full, in the locker at -20 °C, that is given for 0.0 h, with 13.0 kg left behind."
    )


def test_what_is_warned_of_is_what_a_run_then_shows() -> None:
    """Random vans in the cold snap: where the heater is called too small, somebody sits over three hours in a room
    below its setpoint; of a bottle that cannot feed it hardly a tenth is drawn. Both occur."""
    seen = {"heater": 0, "bottle": 0}
    for seed in range(13):
        van = random_van(seed)
        result = simulate(van, random_tour(van, seed), folder=SAMPLES)
        told = warnings(van, result.timeline, result.weather)
        if any(one.startswith("The heater is too small") for one in told):
            seen["heater"] += 1
            assert result.summary["heater"]["hours_below_setpoint"] > 3.0, seed
        for bottle in result.summary["gas"]["bottles"]:
            if any(one.startswith(f"A bottle ({bottle['bottle']}) cannot") for one in told):
                seen["bottle"] += 1
                assert bottle["drawn_kg"] < 0.12 * bottle["net_kg"], seed
    assert min(seen.values()) >= 2


@pytest.mark.parametrize("seed", [0, 5, 11])
def test_a_battery_that_is_just_called_too_small_is_cut_out_in_a_run(seed: int) -> None:
    """Of random vans the largest battery that is still warned of, to 2 %: the run cuts it out. Of the first 24 one,
    seed 4, is not: from the evening on its bottle, chilled, starves the heater, whose fan then takes less."""
    van = random_van(seed)
    tour = random_tour(van, seed)
    line = timeline_of(van, tour)
    outside = for_tour(tour, line, folder=SAMPLES)

    def sized(capacity_ah: float) -> Van:
        battery = van.power.battery.model_copy(update={"capacity_ah": capacity_ah})
        return van.model_copy(update={"power": van.power.model_copy(update={"battery": battery})})

    def warned(capacity_ah: float) -> bool:
        return any(told.startswith("The battery") for told in warnings(sized(capacity_ah), line, outside))

    low, high = 2.0, 1000.0
    assert warned(low) and not warned(high)
    while high > 1.02 * low:
        middle = (low * high) ** 0.5
        low, high = (middle, high) if warned(middle) else (low, middle)
    assert simulate(sized(low), tour, folder=SAMPLES).summary["power"]["hours_cut_out"] > 0.0


def test_check_prints_what_is_too_small_before_all_else_and_the_starter_and_the_demo_pass(
    call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "200")
    assert call("new", "my-tour.toml", "-q").code == 0
    assert "Too small" not in call("check", "-q").out
    of_starter = call("check", "my-tour.toml", "-q").out.splitlines()
    assert of_starter[2:4] == [
        "Too small",
        "- The battery does not carry the stay off the grid from 9 January at 12:00: by 11 January at 13:00 fan and ",
    ]
    assert of_starter[0].endswith(": 6 nights, 2 stops. It can be run.")
    alone = Path("my-tour.toml").read_text(encoding="utf-8").split("\n[[stops]]")
    Path("alone.toml").write_text("\n[[stops]]".join(alone[:2]).replace("nights = 2", "nights = 1"), encoding="utf-8")
    assert call("check", "alone.toml", "-q").out.splitlines()[0].endswith(": 1 night, 1 stop. It can be run.")
    ended = call(
        "check", "my-tour.toml", "--set", 'van.heater="warm-air heater 1.5 kW"', "--set", "weather.offset_k=-15"
    )
    assert ended.code == 0
    title, _, head, warning = ended.out.splitlines()[:4]
    assert title.endswith("It can be run.")
    assert (head.strip(), warning[:26]) == ("Too small", "- The heater is too small:")
