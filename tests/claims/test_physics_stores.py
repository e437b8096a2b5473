"""What must hold for every boiler, pipe and battery."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from budget.physics import battery as a
from budget.physics import boiler, frost

QUICK = settings(max_examples=150, deadline=None)  # the first call compiles


@QUICK
@given(st.floats(3.0, 30.0), st.floats(1.0, 80.0), st.floats(1.0, 20.0), st.floats(0.0, 60.0), st.floats(5.0, 50.0))
def test_a_draw_takes_its_heat_from_the_tank(
    tank_l: float, tank_c: float, cold_c: float, litres: float, tap_c: float
) -> None:
    """The tank stays between cold and where it was, hot water drawn is no more than the litres, and while the tap
    keeps its wish the heat is litres x (tap - cold): tank and tap agree (1e-9 of the heat, 1e-12 of the tank's).
    """
    hot_l, end_c, end_tap_c, heat_j = boiler.draw(tank_l, tank_c, cold_c, litres, tap_c)
    assert 0.0 <= hot_l <= litres * (1.0 + 1e-12)
    assert min(tank_c, cold_c) - 1e-9 <= end_c <= tank_c + 1e-9
    assert end_tap_c <= max(tap_c, cold_c)
    assert heat_j == pytest.approx(boiler.heat_water_j(tank_l, end_c, tank_c), abs=1e-6)
    if litres > 0.0 and end_tap_c == tap_c > cold_c:
        rounding_j = 1e-12 * boiler.heat_water_j(tank_l, 0.0, tank_c)
        assert heat_j == pytest.approx(boiler.heat_water_j(litres, cold_c, tap_c), rel=1e-9, abs=rounding_j)


@QUICK
@given(st.floats(5.0, 30.0), st.floats(20.0, 80.0), st.floats(0.5, 20.0), st.floats(0.5, 20.0))
def test_one_draw_is_two_draws(tank_l: float, tank_c: float, first_l: float, second_l: float) -> None:
    """A closed form has no memory of where it was cut (1e-9 K and L)."""
    once = boiler.draw(tank_l, tank_c, 8.0, first_l + second_l, 38.0)
    one = boiler.draw(tank_l, tank_c, 8.0, first_l, 38.0)
    two = boiler.draw(tank_l, one[1], 8.0, second_l, 38.0)
    assert two[1] == pytest.approx(once[1], abs=1e-9)
    assert one[0] + two[0] == pytest.approx(once[0], abs=1e-9)


def test_edges_of_the_boiler() -> None:
    """No litres, a cold tank or a cold wish draw no hot water; warm enough cold water never runs out."""
    for litres, tank_c, tap_c in ((0.0, 60.0, 38.0), (5.0, 9.0, 38.0), (5.0, 60.0, 8.0)):
        assert boiler.draw(10.0, tank_c, 10.0, litres, tap_c) == (0.0, tank_c, 10.0, 0.0)
    assert boiler.tap_water_l(10.0, 60.0, 15.0, 12.0) == math.inf
    assert boiler.tap_water_l(10.0, 30.0, 10.0, 38.0) == 0.0


@QUICK
@given(st.floats(-60.0, 60.0), st.floats(0.0, 1.0), st.floats(0.5, 100.0))
def test_freezing_conserves_enthalpy(temp_c: float, ice_share: float, water_kg: float) -> None:
    """C T - L ice is the same before and after (1e-9 of the latent heat); ice only where it is not above 0 °C."""
    capacity, ice_before = 4186.0 * water_kg, ice_share * water_kg
    after_c, ice_kg = frost.recover(temp_c, capacity, ice_before, water_kg)
    before_j = capacity * temp_c - 334e3 * ice_before
    assert capacity * after_c - 334e3 * ice_kg == pytest.approx(before_j, abs=1e-9 * 334e3 * water_kg)
    assert 0.0 <= ice_kg <= water_kg
    assert ice_kg == 0.0 or after_c <= 0.0
    assert ice_kg == water_kg or after_c >= 0.0


def test_edges_of_frost() -> None:
    """Warm surroundings never freeze; water at 0 °C is at the start of the plateau; a margin is a difference."""
    assert frost.hours_to_freeze(10.0, 4186.0, 1.0, 0.0, 1.0, 0.5) == math.inf
    assert frost.hours_to_freeze(0.0, 4186.0, 1.0, 0.0, 1.0, 0.5) == math.inf
    assert frost.hours_to_freeze(0.0, 4186.0, 1.0, -5.0, 1.0, 0.0) == 0.0
    assert frost.hours_to_reach(20.0, 12.0, 6e5, 0.0, -5.0) == math.inf
    assert frost.frost_margin_k(3.5, 5.0) == -1.5


def test_the_lumped_box_reaches_its_temperatures_when_algebra_says() -> None:
    """UA 80 W/K, C 600 kJ/K, from 20 °C at -5 °C outside: 10.470 °C after 1 h, 4.572 after 2 h (printed to 1 mK)."""
    assert frost.hours_to_reach(20.0, 10.470, 6e5, 80.0, -5.0) == pytest.approx(1.0, abs=1e-4)
    assert frost.hours_to_reach(20.0, 4.572, 6e5, 80.0, -5.0) == pytest.approx(2.0, abs=2e-4)


@QUICK
@given(st.floats(0.0, 200.0), st.floats(-10.0, 100.0), st.floats(0.5, 1.0), st.floats(1.0, 2.0))
def test_no_battery_passes_its_limits(charge_ah: float, amp_hours: float, efficiency: float, factor: float) -> None:
    """Charging stops at the capacity, drawing at the usable floor; the charge book closes (1e-12 of the capacity)."""
    capacity = 200.0
    full_ah, accepted = a.charge_step(charge_ah, capacity, amp_hours, efficiency)
    assert 0.0 <= accepted <= max(amp_hours, 0.0)
    assert charge_ah <= full_ah <= capacity
    assert full_ah == pytest.approx(charge_ah + efficiency * accepted, abs=1e-12 * capacity)
    usable = a.usable_ah(charge_ah, capacity, 0.885, 0.1)
    left_ah, delivered = a.discharge_step(charge_ah, usable, amp_hours, factor)
    assert 0.0 <= delivered <= max(amp_hours, 0.0)
    assert left_ah == pytest.approx(charge_ah - factor * delivered, abs=1e-12 * capacity)
    assert left_ah >= min(charge_ah, (0.115 + 0.1 * 0.885) * capacity) - 1e-9


@QUICK
@given(
    st.sampled_from([0, 1, 2, 3]),
    st.floats(-40.0, 40.0),
    st.floats(0.0, 20.0),
    st.floats(0.0, 1.0),
    st.floats(0.0, 1.0),
)
def test_colder_or_fuller_never_helps_a_battery(
    chemistry: int, temp_c: float, colder_k: float, state: float, other: float
) -> None:
    """Capacity and charge acceptance lie in 0–1, do not rise with cold, and acceptance does not rise with charge."""
    low, high = sorted((state, other))
    assert 0.0 < a.capacity_share(chemistry, temp_c - colder_k) <= a.capacity_share(chemistry, temp_c) <= 1.0
    warm = a.charge_limit_share(chemistry, temp_c, low)
    assert 0.0 <= a.charge_limit_share(chemistry, temp_c - colder_k, low) <= warm <= 1.0
    assert a.charge_limit_share(chemistry, temp_c, high) <= warm
    assert a.charge_limit_share(chemistry, temp_c, 1.0) == 0.0


def test_gentle_currents_get_no_more_than_the_rated_capacity() -> None:
    """Below the 20 h rate Peukert's law would promise more; we do not. Usable shares are the trade's 0.9 and 0.5;
    of 90 Ah in 100 at freezing 11.5 are locked in by the cold and a tenth of the other 88.5 lies below cut-out."""
    assert a.peukert_factor(1.0, 100.0, 1.2) == 1.0
    assert a.peukert_factor(10.0, 100.0, 1.0) == 1.0
    assert a.usable_ah(90.0, 100.0, 0.885, 0.1) == pytest.approx(90.0 - 11.5 - 8.85, rel=1e-12)
    assert (a.usable_share(a.LIFEPO4), a.usable_share(a.AGM)) == (0.9, 0.5)
