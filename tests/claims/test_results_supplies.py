"""Why a tap stayed dry, where the cut-out stood, and since when water is ice: told apart and told with the hour."""

from __future__ import annotations

import datetime as dt
from functools import cache
from types import SimpleNamespace as Found
from typing import Any

import numpy as np
import pandas as pd
import pytest
from sample_tours import short_tour
from sample_vans import sample_vans
from test_results_summary import SAMPLES

from budget.answers import runs_out
from budget.cli import summary as screen
from budget.moments import dated, short_day
from budget.report.first_out import first_out
from budget.report.headline import headline
from budget.results.frost import frozen, ice_words
from budget.results.result import Result
from budget.results.supplies import DRAINED, EMPTY, ICE, NO_POWER, by_cause, cut_out_shares, lacked_by_cause
from budget.simulation import simulate
from budget.van.model import Van

VANS = sample_vans()


@cache
def without_power() -> Result:
    """The demo van off the grid in the cold with 30 Ah: the fresh tank is nearly full when the battery gives up."""
    van = VANS["demo"]
    battery = van.power.battery.model_copy(update={"capacity_ah": 30.0})
    solar = van.power.solar.model_copy(update={"peak_w": 0.0})
    return _alone(van.model_copy(update={"power": van.power.model_copy(update={"battery": battery, "solar": solar})}))


@cache
def without_water() -> Result:
    """The same van with 1,000 Ah and 8 L of fresh water: the tank is empty on the first evening."""
    van = VANS["demo"]
    fresh = van.water.fresh.model_copy(update={"capacity_l": 8.0, "start_l": 8.0})
    battery = van.power.battery.model_copy(update={"capacity_ah": 1000.0})
    changed = {
        "water": van.water.model_copy(update={"fresh": fresh}),
        "power": van.power.model_copy(update={"battery": battery}),
    }
    return _alone(van.model_copy(update=changed))


def _alone(van: Van) -> Result:
    tour = short_tour(van)
    return simulate(van, tour.model_copy(update={"stops": (tour.stops[0],)}), folder=SAMPLES)


def judged(**changed: Any) -> set[str]:
    """Causes of one hour in which 3 L were asked for and not had."""
    told: dict[str, Any] = {"unserved_l": [3.0], "fresh_l": [50.0, 50.0], "cut_out_s": [0.0]} | changed
    ice = {name: np.array(told.pop(name, [0.0, 0.0])) for name in ("fresh", "pipes", "boiler")}
    arrays = {name: np.array(values, dtype=float) for name, values in told.items()}
    return set(by_cause(**arrays, ice_kg=ice, pipes_l=1.0))


@pytest.mark.parametrize(
    ("hour", "cause"),
    [
        ({"fresh_l": [2.0, 0.0]}, {EMPTY}),
        ({"fresh_l": [0.0, 0.0], "cut_out_s": [3600.0]}, {EMPTY}),
        ({"cut_out_s": [900.0]}, {NO_POWER}),
        ({"fresh": [49.9, 50.0]}, {ICE}),
        ({"pipes": [0.4, 0.1]}, {ICE}),
        ({"pipes": [0.2, 0.2]}, {DRAINED}),
        ({"boiler": [0.0, 0.1]}, {ICE}),
        ({}, {DRAINED}),
        ({"unserved_l": [0.0]}, set()),
    ],
)
def test_each_reason_for_a_dry_tap_is_told_apart(hour: dict[str, Any], cause: set[str]) -> None:
    """An empty tank gives nothing with or without 12 V; ice in the pipes counts from a third of their water on."""
    assert judged(**hour) == cause


def test_causes_add_up_to_what_could_not_be_had() -> None:
    for result in (without_power(), without_water()):
        found = lacked_by_cause(result)
        unserved = result.flows["unserved_water_l"].to_numpy()
        assert sum(found.values()) == pytest.approx(unserved, abs=1e-9)
        told = result.summary["water"]
        assert sum(told["unserved_by_cause_l"].values()) == pytest.approx(told["unserved_l"], abs=0.2)  # 0.05 L each


def test_a_pump_without_power_is_not_called_fresh_water_dry() -> None:
    result = without_power()
    assert result.stocks["fresh_l"].min() > 20.0
    supplies = {supply.name: supply for supply in first_out(result)}
    assert supplies["Fresh water"].when is None
    assert supplies["Fresh water"].told.startswith("lasts with the refills; ")
    assert "the pump had no 12 V" in supplies["Fresh water"].told
    assert supplies["Battery"].when is not None
    assert headline(result, first_out(result)).startswith("The battery cuts out")
    answer = runs_out.answer(result)
    fresh = next(supply for supply in answer.supplies if supply.name == "fresh")
    assert (fresh.out_at, set(fresh.held_up_by_h)) == (None, {"no_power"})
    assert fresh.held_up_h > 0
    assert any(
        "fresh water could not be had though some was left: " in s and "the pump had no 12 V" in s
        for s in answer.sentences
    )
    assert any("L of water asked for were not had" in n and n.endswith("no 12 V.") for n in result.notices)
    assert ("not had", "no 12 V") in [(row[0], row[1][-7:]) for row in screen.water(result.summary)]


def test_an_empty_tank_is_called_dry_and_not_a_want_of_power() -> None:
    result = without_water()
    assert result.flows["cut_out_min"].sum() == 0.0
    supplies = {supply.name: supply for supply in first_out(result)}
    assert supplies["Fresh water"].when is not None
    assert supplies["Fresh water"].told.startswith("dry on ")
    assert "12 V" not in supplies["Fresh water"].told
    assert headline(result, first_out(result)).endswith("the fresh water runs out first, night of 20 January.")
    fresh = next(supply for supply in runs_out.answer(result).supplies if supply.name == "fresh")
    assert fresh.out_at is not None and (fresh.held_up_h, fresh.held_up_by_h) == (0, {})


def test_the_cut_out_that_a_run_meets_is_the_one_that_is_shown() -> None:
    """Lithium cut out at 10 % of what the cold leaves: between 10 % at 25 °C and 37 % at -20 °C (0.70 × 0.9 = 0.63 can
    be drawn). The charge at the first edge after the cut-out is at or below the shown one, less what one hour draws."""
    result = without_power()
    shown, charge = cut_out_shares(result), result.stocks["charge_share"].to_numpy()
    assert shown.min() > 0.10 and shown.max() < 0.37
    first = int(np.argmax(result.flows["cut_out_min"].to_numpy() > 0.0))
    hour_ah = float(result.flows.filter(regex="_ah$").iloc[first].sum())
    assert shown[first] - hour_ah / 30.0 - 0.01 < charge[first + 1] <= shown[first + 1] + 0.01
    power = result.summary["power"]
    assert power["cut_out_state_of_charge"] == pytest.approx(shown[int(charge.argmin())], abs=5e-5)


def test_water_that_is_all_ice_is_frozen_with_its_hour_and_some_ice_is_part_frozen() -> None:
    """The waste tank of the demo van hangs outdoors: in the cold snap it goes through its plateau at 0 °C and on."""
    result = without_water()
    entry = result.summary["frost"]["waste"]
    ice, held = result.stocks["waste_ice_kg"].to_numpy(), result.stocks["waste_l"].to_numpy()
    assert entry["lowest_c"] < -0.5
    told = frozen(entry)
    assert told is not None and told[0] == "frozen"
    hour = list(result.timeline.edges).index(dt.datetime.fromisoformat(entry["frozen_from"]))
    assert ice[hour] == pytest.approx(held[hour], rel=1e-3)
    assert (ice[:hour] < 0.999 * held[:hour]).all() or held[:hour].max() == 0.0
    assert entry["ice_from"] <= entry["frozen_from"]
    (said,) = [row[1] for row in screen.frost(result.summary)]
    ice, through = (dt.datetime.fromisoformat(entry[name]) for name in ("ice_from", "frozen_from"))
    days = f"with ice from {short_day(ice)} and frozen through from {short_day(through)}"
    days = f"frozen from {short_day(ice)}" if ice.date() == through.date() else days
    assert f"waste {days}" in said and "at its limit" not in said
    hours = f"ice from {dated(ice)} and frozen through from {dated(through)}"
    hours = f"frozen from {dated(ice)}" if ice == through else hours
    assert any(n.startswith(f"The waste tank: {hours}; ice in ") for n in result.notices)
    assert frozen({"ice_from": "2027-01-20T20:00:00+02:00"}) == ("part frozen", "2027-01-20T20:00:00+02:00")
    assert frozen({"lowest_c": 2.0}) is None


def test_the_first_ice_is_told_before_the_hour_from_which_it_is_frozen_through() -> None:
    pipes = {"ice_from": "2027-01-17T07:00:00+01:00", "frozen_from": "2027-01-19T01:00:00+01:00", "lowest_c": -6.2}
    assert ice_words(pipes, short_day) == "ice from Sun 17 Jan and frozen through from Tue 19 Jan"
    assert ice_words(pipes | {"frozen_from": "2027-01-17T23:00:00+01:00"}, short_day) == "frozen from Sun 17 Jan"
    assert ice_words({"ice_from": pipes["ice_from"]}, dated) == "part frozen from 17 January at 07:00"
    assert ice_words({"lowest_c": 2.0}, dated) is None
    summary = {"frost": {"pipes": pipes | {"margin_k": -6.2}}}
    near = "pipes with ice from Sun 17 Jan and frozen through from Tue 19 Jan, down to −7 °C"
    assert screen.frost(summary) == [("near frost", near)]


def test_the_screen_says_what_the_frost_drain_valve_let_out_and_when() -> None:
    let_out = pd.Series([0.0, 9.5, 0.0, 2.0], index=pd.date_range("2027-01-17 03:00", periods=4, freq="h"))
    result: Any = Found(
        flows={"boiler_dumped_l": let_out}, van=Found(water=Found(boiler=Found(is_fitted=True)))
    )  # fmt: skip
    said = "12 L of the boiler's water by the frost drain valve, first on Sun 17 January 04:00, 2 times"
    assert screen.drained(result) == [("drained", said)]
    let_out.iloc[3] = 0.0
    said = "10 L of the boiler's water by the frost drain valve, on Sun 17 January 04:00"
    assert screen.drained(result) == [("drained", said)]
    let_out.iloc[1] = 0.0
    assert screen.drained(result) == []
