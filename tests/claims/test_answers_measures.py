"""What each measure changes in the van, by hand; and what is said and listed of it. Tolerances: floats."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from small_tour import small

from budget.answers.measures import MEASURES, Measure, Measures
from budget.answers.prepared import Prepared
from budget.answers.warmth import Warmth
from budget.engine import arrays as A
from budget.van.elements import opaque_u_w_per_m2k
from budget.van.model import Van

BASE = small(1)


def made(name: str, base: Prepared = BASE) -> tuple[Prepared, np.ndarray, float]:
    found = MEASURES[name](base)
    assert found is not None
    return found


def with_zones(van: Van, **changes: Any) -> Prepared:
    zones = tuple(zone.model_copy(update=changes) for zone in van.cabin.zones)
    return BASE.with_van(van.model_copy(update={"cabin": van.cabin.model_copy(update={"zones": zones})}))


def test_outside_screens_go_over_every_pane_that_has_poorer_ones() -> None:
    """0.6 m²K/W more than the bare pane, 1.2 kg/m²; a pane that is within 0.02 of it is left."""
    ready, factors, payload_kg = made("outside screens")
    area_m2 = 0.0
    for before, after in zip(BASE.van.cabin.zones, ready.van.cabin.zones, strict=True):
        for pane, screened in zip(before.glazing, after.glazing, strict=True):
            assert screened.u_screened_w_per_m2k == pytest.approx(1.0 / (1.0 / pane.u_w_per_m2k + 0.6), rel=1e-12)
            assert screened.u_w_per_m2k == pane.u_w_per_m2k
            area_m2 += pane.area_m2
    assert area_m2 > 3.0
    assert payload_kg == pytest.approx(1.2 * area_m2, rel=1e-12)
    assert (factors == np.where(np.arange(len(A.FACTORS)) == A.SETPOINT_K, 0.0, 1.0)).all()
    assert MEASURES["outside screens"](ready) is None


def test_a_pane_without_screens_counts_as_bare() -> None:
    panes = tuple(pane.model_copy(update={"u_screened_w_per_m2k": None}) for pane in BASE.van.cabin.zones[0].glazing)
    ready, _, payload_kg = made("outside screens", with_zones(BASE.van, glazing=panes))
    area_m2 = sum(pane.area_m2 for pane in panes) * len(BASE.van.cabin.zones)
    assert payload_kg == pytest.approx(1.2 * area_m2, rel=1e-12)
    assert ready.van.cabin.zones[0].glazing[0].u_screened_w_per_m2k < panes[0].u_w_per_m2k


def test_a_thicker_curtain_adds_its_resistance_before_the_cab_and_halves_the_air_past_it() -> None:
    """0.5 m²K/W over the opening's area, 1.5 kg/m²; other openings stay as they are."""
    ready, _, payload_kg = made("thicker cab curtain")
    curtains = [opening for opening in BASE.van.cabin.openings if "cab" in opening.between]
    assert len(curtains) == 1
    area = curtains[0].width_m * curtains[0].height_m
    for before, after in zip(BASE.van.cabin.openings, ready.van.cabin.openings, strict=True):
        if before != curtains[0]:
            assert after == before
            continue
        assert after.closed_w_per_k == pytest.approx(1.0 / (1.0 / before.closed_w_per_k + 0.5 / area), rel=1e-12)
        assert after.closed_m3_per_h == pytest.approx(0.5 * before.closed_m3_per_h, rel=1e-12)
        assert (after.width_m, after.height_m) == (before.width_m, before.height_m)
    assert payload_kg == pytest.approx(1.5 * area, rel=1e-12)


@pytest.mark.parametrize("change", [{"closed_w_per_k": 0.0}, {"width_m": 0.0}, {"between": ("living", "garage")}])
def test_where_nothing_hangs_before_the_cab_no_curtain_is_offered(change: dict[str, Any]) -> None:
    cabin = BASE.van.cabin
    openings = tuple(
        opening.model_copy(update=change) if "cab" in opening.between else opening for opening in cabin.openings
    )
    van = BASE.van.model_copy(update={"cabin": cabin.model_copy(update={"openings": openings})})
    assert MEASURES["thicker cab curtain"](BASE.with_van(van)) is None


def test_more_foam_goes_on_walls_and_roof_of_the_living_area() -> None:
    """20 mm of 0.037 W/mK, 0.7 kg/m²; the floor and the other zones stay as they are."""
    ready, _, payload_kg = made("20 mm more foam")
    living, others = BASE.van.cabin.zones[0], BASE.van.cabin.zones[1:]
    assert BASE.built.living == 0
    assert ready.van.cabin.zones[1:] == others
    area_m2 = 0.0
    for before, after in zip(living.opaque, ready.van.cabin.zones[0].opaque, strict=True):
        if before.faces == "floor":
            assert after == before
            continue
        expected = 1.0 / (1.0 / opaque_u_w_per_m2k(before) + 0.02 / 0.037)
        assert opaque_u_w_per_m2k(after) == pytest.approx(expected, rel=1e-12)
        area_m2 += before.area_m2
    assert area_m2 > 5.0
    assert payload_kg == pytest.approx(0.7 * area_m2, rel=1e-12)
    floors = tuple(part.model_copy(update={"faces": "floor"}) for part in living.opaque)
    assert MEASURES["20 mm more foam"](with_zones(BASE.van, opaque=floors)) is None


def test_two_kelvin_lower_is_asked_for_by_the_hour_while_somebody_sleeps() -> None:
    ready, factors, payload_kg = made("2 K lower at night")
    asleep = BASE.timeline.asleep > 0.0
    assert asleep.any()
    assert not asleep.all()
    before, after = BASE.hours["set_c"], ready.hours["set_c"]
    assert np.array_equal(after[~asleep], before[~asleep], equal_nan=True)
    assert np.array_equal(after[asleep], before[asleep] - 2.0, equal_nan=True)
    assert np.isfinite(before[asleep]).any()
    assert (payload_kg, factors[0, A.HOT_WATER]) == (0.0, 1.0)


def test_shorter_showers_leave_three_fifths_and_are_offered_where_water_is_drawn() -> None:
    ready, factors, payload_kg = made("shorter showers")
    assert ready is BASE
    assert len(BASE.wishes)
    assert factors[0, A.HOT_WATER] == 0.6
    assert np.delete(factors[0], [A.HOT_WATER, A.SETPOINT_K]).tolist() == [1.0] * (len(A.FACTORS) - 2)
    assert payload_kg == 0.0


def test_more_solar_is_a_hundred_watts_of_four_kilograms() -> None:
    ready, _, payload_kg = made("100 W more solar")
    assert ready.van.power.solar.peak_w == BASE.van.power.solar.peak_w + 100.0
    assert payload_kg == 4.0


BEFORE = Warmth(9.0, 7.0, 1.0, 2.0)


def measure(**changes: Any) -> Measure:
    numbers: dict[str, Any] = {
        "name": "outside screens", "saved_kg": 1.26, "saved_ah": 3.6, "payload_kg": 4.0, "colder_kelvin_hours": 2.0,
        "cost": None, "saved_kg_per_payload_kg": 0.315, "saved_kg_per_cost": None, "brought_ah": 0.0,
        "warmer_kelvin_hours": 0.0, "lowest_inside_c": 9.0, "lowest_pipes_c": 7.0, "below_setpoint_h": 1.0,
        "below_setpoint_kelvin_hours": 2.0,
    }  # fmt: skip
    return Measure(**(numbers | changes))


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({}, "outside screens: saves 1.3 kg of gas and 4 Ah for 4.0 kg carried."),
        ({"payload_kg": 0.0}, "outside screens: saves 1.3 kg of gas and 4 Ah."),
        ({"payload_kg": 0.3}, "outside screens: saves 1.3 kg of gas and 4 Ah for 0.3 kg carried."),
        ({"saved_kg": -0.0, "saved_ah": -0.2}, "outside screens: saves no gas for 4.0 kg carried."),
        ({"saved_kg": 0.01, "saved_ah": -18.9}, "outside screens: saves no gas, takes 19 Ah more for 4.0 kg carried."),
        (
            {"saved_kg": 0.0, "saved_ah": 44.2, "brought_ah": 44.0},
            "outside screens: saves no gas, brings 44 Ah for 4.0 kg carried.",
        ),
        ({"saved_ah": 7.6, "brought_ah": -3.0}, "outside screens: saves 1.3 kg of gas and 8 Ah for 4.0 kg carried."),
        (
            {"mains_saved_kwh": 12.4},
            "outside screens: saves 1.3 kg of gas, 12 kWh of the mains and 4 Ah for 4.0 kg carried.",
        ),
        (
            {"colder_kelvin_hours": 3.4, "warmer_kelvin_hours": 10.2},
            "outside screens: saves 1.3 kg of gas and 4 Ah for 4.0 kg carried.",
        ),
        (
            {"colder_kelvin_hours": 2.4, "payload_kg": 0.0},
            "outside screens: saves 1.3 kg of gas and 4 Ah, and is colder for it by 2 K h while somebody is in.",
        ),
    ],
)
def test_a_measure_is_said_with_its_weight_and_what_is_colder_for_it(changes: dict[str, Any], sentence: str) -> None:
    assert Measures(20.0, (measure(**changes),), BEFORE).sentences() == [sentence]


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"mains_saved_kwh": 12.4}, "saves 12 kWh of the mains and 9 Ah"),
        ({"mains_saved_kwh": -3.0}, "saves 9 Ah, takes 3 kWh of the mains more"),
        ({"saved_ah": 0.0}, "saves nothing"),
    ],
)
def test_where_no_gas_burns_a_measure_is_told_by_the_mains(changes: dict[str, Any], told: str) -> None:
    given = measure(**({"saved_kg": 0.0, "saved_ah": 9.2, "payload_kg": 0.0} | changes))
    assert Measures(0.0, (given,), BEFORE).sentences() == [f"outside screens: {told}."]
    cold = Warmth(-1.05, -4.1, 144.0, 2743.0)
    (warmer,) = Measures(0.0, (replace(given, warmer_kelvin_hours=890.0),), cold).sentences()
    assert "; this " in warmer and "gas" not in warmer and "nothing" not in warmer


WARM = ("outside screens: more warmth is held, lowest inside 9.0 instead of -1.1 °C, too cold with somebody in for 1 h "
        "by 2 K instead of 144 h by 20 K, lowest at the pipes 7.0 instead of -4.1 °C; this ")  # fmt: skip


@pytest.mark.parametrize(
    ("saved_kg", "saved_ah", "told"),
    [
        (0.0, -18.9, "takes as much gas and 19 Ah more for 4.0 kg carried."),
        (0.0, 0.0, "takes as much gas for 4.0 kg carried."),
        (0.0, 22.5, "takes as much gas and saves 22 Ah for 4.0 kg carried."),
        (-1.0, -18.9, "takes 1.0 kg of gas and 19 Ah more for 4.0 kg carried."),
        (1.0, 3.0, "saves 1.0 kg of gas and 3 Ah for 4.0 kg carried."),
    ],
)
def test_a_measure_that_warms_a_van_whose_heater_is_too_small_is_told_by_that(
    saved_kg: float, saved_ah: float, told: str
) -> None:
    found = measure(warmer_kelvin_hours=890.0, saved_kg=saved_kg, saved_ah=saved_ah)
    cold = Warmth(-1.05, -4.1, 144.0, 2743.0)
    assert Measures(20.0, (found,), cold).sentences() == [WARM + told]


def test_what_has_no_price_is_not_listed_with_one() -> None:
    priced = measure(cost=100.0, saved_kg_per_cost=0.0126)
    told = Measures(20.12345, (measure(), priced), BEFORE).as_dict()
    assert told["before"] == {"lowest_inside_c": 9.0, "lowest_pipes_c": 7.0, "below_setpoint_h": 1.0,
                              "below_setpoint_kelvin_hours": 2.0}  # fmt: skip
    assert told["gas_kg"] == 20.123
    assert told["measures"] == [
        {"name": "outside screens", "saved_kg": 1.26, "saved_ah": 3.6, "payload_kg": 4.0, "colder_kelvin_hours": 2.0,
         "saved_kg_per_payload_kg": 0.315, "brought_ah": 0.0, "warmer_kelvin_hours": 0.0, "lowest_inside_c": 9.0,
         "lowest_pipes_c": 7.0, "below_setpoint_h": 1.0, "below_setpoint_kelvin_hours": 2.0,
         "mains_saved_kwh": 0.0}
        | more for more in ({}, {"cost": 100.0, "saved_kg_per_cost": 0.0126})
    ]  # fmt: skip
