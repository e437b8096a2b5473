"""What heats on a tour: burner, element or both, and the heater's size by what leaves least."""

from __future__ import annotations

from typing import Any

import pytest
from sample_vans import sample_vans
from small_tour import small

from budget.answers import heater_size, hookup
from budget.answers.conditions import LARGE_W, Conditions, hold, unlimited, with_output
from budget.answers.detail import Detail
from budget.answers.heat_source import BURNER, Source, sources_of
from budget.answers.mains import Mains
from budget.answers.prepared import Prepared
from budget.engine.van_arrays import build_van
from budget.van.model import Van

VANS = sample_vans()
STEPS_W = (900.0, 1800.0)


def with_elements(van: Van) -> Van:
    return van.model_copy(update={"heater": van.heater.model_copy(update={"electric_w": STEPS_W})})


def stayed(**stop: Any) -> tuple[Source, ...]:
    prepared = small()
    changed = prepared.tour.stops[0].model_copy(update=stop)
    tour = prepared.tour.model_copy(update={"stops": (changed,)})
    ready: Prepared = prepared.with_van(with_elements(prepared.van)).with_tour(tour)
    return sources_of(ready.van, ready.timeline, ready.hours)


@pytest.mark.parametrize(
    ("stop", "found"),
    [
        ({"hookup_a": 0.0, "heater_fuel": "electric"}, BURNER),
        ({"hookup_a": 16.0, "heater_fuel": "gas"}, BURNER),
        ({"hookup_a": 16.0, "heater_fuel": "electric"}, Source(burner=False, supply_a=16.0, element_w=1800.0)),
        ({"hookup_a": 6.0, "heater_fuel": "electric_first"}, Source(supply_a=6.0, element_w=900.0)),
        ({"hookup_a": 3.0, "heater_fuel": "electric_first"}, BURNER),
        ({"hookup_a": 3.0, "heater_fuel": "electric"}, Source(burner=False, supply_a=3.0)),
    ],
)
def test_a_stop_is_heated_by_what_its_fuel_and_its_amps_allow(stop: dict[str, Any], found: Source) -> None:
    """Off the grid the burner, whatever the fuel; 690 W leave no step of 900 W, 1380 W the first, 3680 W both."""
    assert stayed(**stop) == (found,)


def test_a_source_is_named_by_its_amps_and_its_step() -> None:
    both, none = Source(supply_a=6.0, element_w=900.0), Source(burner=False, supply_a=16.0)
    named = [each.name for each in (BURNER, both, none)]
    assert named == ["burner", "burner and 6 A (element 900 W)", "16 A alone (element 0 W)"]


def test_the_mains_of_a_run_are_those_of_its_stops_and_cost_what_each_asks() -> None:
    """Priced the kilowatt-hours times the price; without one, or off the grid, there is no cost."""
    prepared = small()
    for stop, costs in (({"hookup_a": 6.0, "hookup_per_kwh": 0.5}, True), ({"hookup_a": 6.0}, False), ({}, False)):
        changed = prepared.tour.stops[0].model_copy(update={"hookup_per_kwh": None} | stop)
        ready = prepared.with_tour(prepared.tour.model_copy(update={"stops": (changed,)}))
        found, told = Mains.of(ready, ready.run()), hookup.stays_of(Detail.of(ready))
        assert found.kwh == pytest.approx(sum(stay.mains_kwh for stay in told), abs=0.001)
        assert (found.kwh > 1.0) == bool(stop)
        assert found.cost == (pytest.approx(0.5 * found.kwh, abs=0.01) if costs else None)


def test_the_source_that_leaves_least_decides_the_heaters_size() -> None:
    """The element's watts are what is there, the same as ``hookup`` asks; the burner's are what they were without."""
    van = with_elements(VANS["demo"])
    six = Source(burner=False, supply_a=6.0, element_w=900.0)
    both = Source(supply_a=16.0, element_w=1800.0)
    found = heater_size.answer(van, design_c=-10.0, altitude_m=900.0, sources=(BURNER, both, six))
    alone = heater_size.answer(van, design_c=-10.0, altitude_m=900.0)
    assert [each.name for each in found.sources] == [six.name, "burner", both.name]
    told, high = found.sources[0], found.cases[-1]
    assert (told.available_w, told.left_w, told.lowest_c) == (900.0, high.left_w, high.lowest_c)
    state = Conditions(outdoor_c=-10.0)
    large = build_van(with_output(unlimited(van), LARGE_W, at_w=900.0))
    assert found.cases[0].needed_w == pytest.approx(hold(large, state, 20.0).heat_w)
    assert found.cases[0].lowest_c["at_20_c"] == pytest.approx(hookup.lowest_c(van, 900.0)["at_20_c"], abs=0.05)
    assert found.sources[1].available_w == alone.cases[-1].available_w
    assert found.sources[1].lowest_c == alone.cases[-1].lowest_c
    assert found.sources[2].available_w == pytest.approx(alone.cases[-1].available_w + 1800.0)
    assert (high.warm_air_h, found.standard_h) == (None, None), "900 W do not warm it within a day"
    assert found.sources[2].warm_air_h < alone.cases[-1].warm_air_h  # type: ignore[operator]
    assert any(each.startswith("Full fire asks") for each in found.sentences)
    electric = heater_size.answer(van, design_c=-10.0, sources=(six,))
    assert not any(each.startswith("Full fire asks") for each in electric.sentences), "no bottle has to feed it"
