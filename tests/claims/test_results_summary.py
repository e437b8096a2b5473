"""Claims about the machine-readable summary: what it holds, what it leaves out, and that its sums are sums."""

from __future__ import annotations

import json
import math
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from sample_tours import short_tour
from sample_vans import sample_vans

from budget.results.damp import humidity_percent
from budget.results.result import Result
from budget.results.summary import bottles_needed
from budget.simulation import simulate
from budget.units import unit_of

SAMPLES = Path(__file__).parents[2] / "weather_samples"
VANS = sample_vans()
AGREED = {
    "tour": {"title", "nights", "hours", "start", "end"},
    "gas": {"total_kg", "kg_per_day", "by_use_kg", "bottles_needed", "bottles", "swaps", "unserved_kg"},
    "heater": {
        "heat_to_air_kwh", "heat_to_water_kwh", "fuel_kwh", "electric_kwh", "burner_hours", "full_load_hours", "starts",
        "peak_kg_per_h", "hours_below_setpoint", "kelvin_hours_below_setpoint",
    },
    "power": {
        "fan_ah", "used_ah", "used_by_load_ah", "solar_ah", "alternator_ah", "mains_charger_ah",
        "lowest_state_of_charge", "lowest_at", "hours_cut_out",
    },
    "water": {"fresh_used_l", "shower_l", "coldest_shower_c", "refills"},
    "balance": {"largest_residual_fraction", "by_book"},
}  # fmt: skip


@cache
def run(van: str = "demo", weather: str = "cold_snap") -> Result:
    return simulate(VANS[van], short_tour(VANS[van], weather), folder=SAMPLES)


@pytest.mark.parametrize("van", VANS)
def test_summary_is_json_and_holds_what_was_agreed(van: str) -> None:
    """The keys are those of the design; strict JSON has no NaN or infinity."""
    result = run(van)
    summary = result.summary
    assert json.loads(json.dumps(summary, allow_nan=False)) == summary
    for part, keys in AGREED.items():
        assert keys <= set(summary[part]), part
    zones = {zone.name for zone in result.van.cabin.zones}
    assert set(summary["comfort"]) == set(summary["damp"]) == zones
    for zone in zones:
        assert {"lowest_c", "mean_c"} <= set(summary["comfort"][zone])
        assert {"wet_hours", "condensed_kg"} <= set(summary["damp"][zone])
    assert all({"lowest_c", "margin_k"} <= set(part) for part in summary["frost"].values())
    assert set(summary["balance"]["by_book"]) == {"heat", "gas", "charge", "water", "vapour"}


@pytest.mark.parametrize("van", VANS)
def test_air_is_never_damper_than_saturated_at_the_end_of_an_hour(van: str) -> None:
    """Also where it cooled within the hour: what it cannot hold has settled. A zone without a surface has no limit."""
    result = run(van)
    zones = {result.built.zone_names[int(z)] for z in result.built.arrays[0].surface_zone[: result.built.size.surfaces]}
    for k, zone in enumerate(result.built.zone_names):
        if zone in zones:
            assert humidity_percent(result, k).max() <= 100.0 + 1e-9, zone


def test_every_number_in_the_summary_has_its_unit_in_its_name() -> None:
    """Walks the summary; numbers without a unit are counts, hours, states and shares whose names say so."""
    plain = {
        "nights", "hours", "bottles_needed", "position", "starts", "reserve_nights", "hours_below_setpoint",
        "kelvin_hours_below_setpoint", "burner_hours", "full_load_hours", "hours_cut_out", "start_state_of_charge",
        "end_state_of_charge", "lowest_state_of_charge", "wet_hours", "hours_below_limit", "hours_with_ice",
        "largest_residual_fraction", "hours_supply_limited", "hours_guard_cycled", "cut_out_state_of_charge",
    }  # fmt: skip

    def walk(value: Any, name: str) -> None:
        if isinstance(value, dict):
            told = unit_of(f"_{name}") is not None or name in {"by_book", "wet_hours_by_surface"}
            for key, inner in value.items():
                walk(inner, name if told and not isinstance(inner, dict) else key)
        elif isinstance(value, list):
            for inner in value:
                walk(inner, name)
        elif isinstance(value, (int, float)) and not isinstance(value, bool):
            assert unit_of(f"_{name}") is not None or name in plain | {"by_book", "wet_hours_by_surface"}, name

    walk(run().summary, "summary")


@pytest.mark.parametrize("van", VANS)
def test_what_is_not_modelled_is_absent_and_never_zero(van: str) -> None:
    """No absorption fridge, no fridge gas; no drain valve, no margin for it; lead battery, no lithium limit."""
    result = run(van)
    summary = result.summary
    assert ("fridge" in summary["gas"]["by_use_kg"]) == (result.van.fridge is not None)
    assert ("drain_valve" in summary["frost"]) == (result.van.water.drain_valve is not None)
    assert ("battery" in summary["frost"]) == (result.van.power.battery.chemistry == "lifepo4")


@pytest.mark.parametrize("van", VANS)
def test_parts_add_up_to_their_wholes(van: str) -> None:
    """Gas by use and by bottle is the gas burned; loads are the charge used; fuel is heat, flue and starts.

    Tolerance: half a unit of the last decimal of every rounded part.
    """
    summary = run(van).summary
    gas, heater, power = summary["gas"], summary["heater"], summary["power"]
    assert sum(gas["by_use_kg"].values()) == pytest.approx(gas["total_kg"], abs=0.003)
    assert sum(bottle["drawn_kg"] for bottle in gas["bottles"]) == pytest.approx(gas["total_kg"], abs=0.003)
    assert sum(power["used_by_load_ah"].values()) == pytest.approx(power["used_ah"], abs=0.1)
    given = heater["heat_to_air_kwh"] + heater["heat_to_water_kwh"] - heater["electric_kwh"]
    assert heater["fuel_kwh"] == pytest.approx(given + heater["flue_loss_kwh"] + heater["start_loss_kwh"], abs=0.004)
    assert gas["kg_per_day"] == pytest.approx(gas["total_kg"] / 3.0, abs=0.001)


@pytest.mark.parametrize("van", ["demo", "tiny_bare"])
def test_grams_by_surface_and_by_night_add_up_to_what_condensed_in_the_zones(van: str) -> None:
    """Half a unit of the last decimal of every rounded part: 0.05 g for each surface, and 0.5 g by zone."""
    summary = run(van).summary
    zones = [zone for zone in summary["damp"].values() if "by_surface" in zone]
    surfaces = [surface for zone in zones for surface in zone["by_surface"].values()]
    whole_g = 1000.0 * sum(zone["condensed_kg"] for zone in zones)
    assert whole_g > 100.0
    assert sum(surface["condensed_g"] for surface in surfaces) == pytest.approx(whole_g, abs=0.55 * len(surfaces))
    nights = summary["damp_nights"]
    assert [night["night"] for night in nights] == ["2027-01-20", "2027-01-21", "2027-01-22"]
    assert sum(night["condensed_g"] for night in nights) == pytest.approx(whole_g, abs=0.55 * len(surfaces))
    for night in nights:
        listed_g = sum(surface["condensed_g"] for surface in night["by_surface"].values())
        assert listed_g == pytest.approx(night["condensed_g"], abs=0.55 * len(surfaces))
        assert all(0.0 <= surface["wet_hours"] <= 24.0 for surface in night["by_surface"].values())


def test_a_supply_at_its_limit_is_told_with_its_hours() -> None:
    van = VANS["demo"]
    heater = van.heater.model_copy(update={"return_cm2": 10.0})
    result = simulate(van.model_copy(update={"heater": heater}), short_tour(van), folder=SAMPLES)
    hours = result.summary["heater"]["hours_supply_limited"]
    assert hours > 0.0
    told = next(sentence for sentence in result.notices if sentence.startswith("The supply air stood at its limit"))
    assert f"of 90 °C for {hours:.1f} h" in told
    assert run().summary["heater"]["hours_supply_limited"] == 0.0


def test_bottles_needed_is_need_and_reserve_in_full_bottles() -> None:
    """(use + reserve nights at the hardest three days) over the net contents of the first bottle, rounded up.

    Nothing ran short, so the need is the use; the tour has three days, so they are the hardest. 2 g for the rounding.
    """
    gas = run().summary["gas"]
    basis = gas["bottles_needed_basis"]
    assert gas["short_of"] == []
    assert gas["needed_kg"] == gas["total_kg"]
    assert basis["reserve_kg_per_day"] == gas["kg_per_day"]
    assert basis["reserve_kg"] == pytest.approx(basis["reserve_nights"] * gas["kg_per_day"], abs=0.002)
    assert gas["planned_kg"] == pytest.approx(gas["total_kg"] + basis["reserve_kg"], abs=0.002)
    assert gas["bottles_needed"] == math.ceil(gas["planned_kg"] / basis["net_kg"])
    assert "P90" in basis["quantile"]


@pytest.mark.parametrize(("kg", "bottles"), [(0.0, 0), (0.5, 1), (11.0, 1), (11.005, 1), (11.2, 2), (22.0, 2)])
def test_a_thousandth_of_a_bottle_needs_no_other(kg: float, bottles: int) -> None:
    """11 kg bottles; 5 g over a full one is below what a scale shows (± 0.2 kg)."""
    assert bottles_needed(kg, 11.0) == bottles


def test_an_exchanged_bottle_shows_when_and_where() -> None:
    """The sample mixture van starts full and exchanges nothing; with a fifth left it exchanges at the second stop."""
    assert run("butane").summary["gas"]["swaps"] == []
    van = VANS["butane"]
    low = tuple(bottle.model_copy(update={"start_kg": 0.2 * bottle.net_kg}) for bottle in van.gas.bottles)
    van = van.model_copy(update={"gas": van.gas.model_copy(update={"bottles": low})})
    swaps = simulate(van, short_tour(van), folder=SAMPLES).summary["gas"]["swaps"]
    assert [swap["time"] for swap in swaps] == ["2027-01-21T15:00:00+02:00"] * 2
    assert [swap["bottle"] for swap in swaps] == [bottle.name for bottle in low]
    assert [swap["brought_kg"] for swap in swaps] == [bottle.net_kg for bottle in low]


def test_hours_below_setpoint_count_while_somebody_is_inside_even_when_the_heater_cannot_run() -> None:
    """Empty bottles, an empty battery: below from the start, in at most the hours that somebody is inside."""
    van = VANS["demo"]
    empty = tuple(bottle.model_copy(update={"start_kg": 0.0}) for bottle in van.gas.bottles)
    battery = van.power.battery.model_copy(update={"start_share": 0.05})
    van = van.model_copy(
        update={
            "gas": van.gas.model_copy(update={"bottles": empty}),
            "power": van.power.model_copy(update={"battery": battery}),
        }
    )
    tour = short_tour(van, "cold_snap")
    off_grid = tour.model_copy(update={"stops": (tour.stops[0],)})
    result = simulate(van, off_grid, folder=SAMPLES)
    heater = result.summary["heater"]
    inside = float(result.timeline.inside.sum())
    assert heater["fuel_kwh"] == 0.0
    assert 0.9 * inside < heater["hours_below_setpoint"] <= inside
    # The cut-out acts after the first quarter hour.
    assert result.summary["power"]["hours_cut_out"] == 71.75
    assert result.notices[0] == "Every bottle was empty on 20 January at 12:00."
    assert any(notice.startswith("The battery was cut out for 71.8 h") for notice in result.notices)


def test_a_hookup_keeps_the_heater_on_past_a_cut_out_battery() -> None:
    """An empty battery is cut out off the grid; from the hour after hook-up the charger's 20 A carry the heater's fan
    (58 W at full air are 4.5 A) and the lights."""
    van = VANS["demo"]
    battery = van.power.battery.model_copy(update={"start_share": 0.05})
    van = van.model_copy(update={"power": van.power.model_copy(update={"battery": battery})})
    result = simulate(van, short_tour(van), folder=SAMPLES)
    hooked = result.hourly["hookup_w"].to_numpy() > 0.0
    first = int(hooked.argmax())
    assert (result.flows["cut_out_min"].to_numpy()[1 : first - 3] == 60.0).all()  # then the drive and its alternator
    assert result.flows["cut_out_min"].to_numpy()[hooked][1:].sum() == 0.0
    assert result.flows["heater_to_air_wh"].to_numpy()[hooked][1:6].min() > 500.0


def test_a_freezing_boiler_is_let_out_once_and_filled_again_only_with_what_is_missing() -> None:
    """The frost drain valve of a cold van lets out the boiler's content, 12 L, once; the rest of the cold finds it
    empty. Water in and out of the boiler is what its stock shows."""
    van = VANS["demo"]
    tour = short_tour(van).model_copy(update={"stops": (short_tour(van).stops[0],)})
    cold = {"usual": {"steps": [{"at": "06:00", "air_c": "off", "water_c": "off"}]}}
    tour = type(tour).model_validate(tour.model_dump(mode="json", exclude_none=True) | {"schedules": cold})
    result = simulate(van, tour, folder=SAMPLES)
    assert result.summary["water"]["drained_by_frost_valve_l"] == van.water.boiler.water_l
    assert result.stocks["boiler_l"].iloc[-1] == 0.0
    assert any(notice.startswith("The frost drain valve opened once") for notice in result.notices)


def test_notices_are_full_sentences_and_weather_notices_come_last() -> None:
    """Each begins with a capital or a source and ends with a full stop; none is said twice."""
    for van in VANS:
        result = run(van)
        assert all(notice.endswith(".") and len(notice.split()) > 4 for notice in result.notices)
        assert len(set(result.notices)) == len(result.notices)
        told = result.weather.notices
        assert result.notices[len(result.notices) - len(told) :] == told
        assert result.summary["notices"] == list(result.notices)


def test_night_count_is_midnights_and_survives_a_clock_change() -> None:
    """20 to 23 January is three nights; a tour over the change to summer time has an hour less and as many nights."""
    assert run().summary["tour"]["nights"] == 3
    van = VANS["demo"]
    spring = short_tour(van, "clear_sky").model_dump(mode="json", exclude_none=True)
    first = spring["stops"][0] | {"arrive": "2027-03-27T12:00:00"}
    spring |= {"start": "2027-03-27T12:00:00", "end": "2027-03-29T12:00:00", "stops": [first], "drying": []}
    summary = simulate(van, type(short_tour(van)).model_validate(spring), folder=SAMPLES).summary
    assert summary["tour"]["nights"] == 2
    assert summary["tour"]["hours"] == 47


def test_garage_and_bottle_locker_stand_among_the_parts_that_frost_is_watched_at() -> None:
    """Propane feeds a regulator of 0.4 bar down to the temperature at which it stands at 1.41 bar: -34 °C (CoolProp,
    tests/published); butane only down to 8 °C. The locker's air lies between outdoors and the garage's."""
    frost = run().summary["frost"]
    assert frost["garage"]["limit_c"] == 0.0
    assert frost["garage"]["lowest_c"] == run().summary["comfort"]["garage"]["lowest_c"]
    assert frost["bottle_locker"]["limit_c"] == pytest.approx(-34.0, abs=1.0)
    outdoor = float(run().hourly["outdoor_c"].min())
    assert outdoor <= frost["bottle_locker"]["lowest_c"] < frost["garage"]["lowest_c"]
    butane = run("butane").summary["frost"]
    assert "garage" not in butane
    assert -34.0 < butane["bottle_locker"]["limit_c"] < 8.5


def test_waste_litres_and_the_days_it_is_emptied_add_up() -> None:
    """What went in is what was emptied, spilled or is left; half of the last decimal of each."""
    result = run()
    water = result.summary["water"]
    emptied = sum(each["litres_l"] for each in water["emptied"])
    left = float(result.stocks["waste_l"].iloc[-1] - result.stocks["waste_l"].iloc[0])
    assert water["to_waste_l"] == pytest.approx(emptied + water["waste_spilled_l"] + left, abs=0.3)
    assert {"time", "place", "litres_l"} == set(water["emptied"][0])
    assert water["pump_ah"] == result.summary["power"]["used_by_load_ah"]["water_pump"]
