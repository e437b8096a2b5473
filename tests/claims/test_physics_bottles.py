"""What must hold for every bottle, whatever the numbers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from budget.physics import bottle as b

QUICK = settings(max_examples=150, deadline=None)  # the first call compiles
kilograms = st.floats(0.0, 50.0)
temperatures = st.floats(-45.0, 40.0)
levels = st.floats(0.01, 1.0)


@QUICK
@given(st.floats(1.0, 86_400.0), kilograms, temperatures, st.floats(-45.0, 10.0), st.floats(0.0, 10.0), temperatures)
def test_no_bottle_gives_more_than_it_holds(
    dt_s: float, liquid_kg: float, bottle_c: float, limit_c: float, coupling: float, locker_c: float
) -> None:
    """Whatever heat is there, contents are the bound; and nothing flows back."""
    capacity = b.bottle_capacity_j_per_k(12.5, liquid_kg, 0.0, bottle_c)
    given_kg = b.deliverable_kg(dt_s, liquid_kg, bottle_c, limit_c, capacity, coupling, locker_c, 3.8e5)
    assert 0.0 <= given_kg <= liquid_kg


@QUICK
@given(
    st.floats(60.0, 86_400.0), temperatures, st.floats(-45.0, 0.0), st.floats(0.0, 10.0), temperatures, st.floats(0, 20)
)
def test_colder_never_lengthens_offtake(
    dt_s: float, bottle_c: float, limit_c: float, coupling: float, locker_c: float, colder_k: float
) -> None:
    """A colder locker, a colder bottle or a higher limit each leave no more to boil off (1e-9 for rounding)."""
    base = b.offtake_limit_kg(dt_s, bottle_c, limit_c, 30_000.0, coupling, locker_c, 3.8e5)
    for other in (
        (bottle_c, limit_c, locker_c - colder_k),
        (bottle_c - colder_k, limit_c, locker_c),
        (bottle_c, limit_c + colder_k, locker_c),
    ):
        less = b.offtake_limit_kg(dt_s, other[0], other[1], 30_000.0, coupling, other[2], 3.8e5)
        assert less <= base * (1.0 + 1e-9) + 1e-12


@QUICK
@given(levels, levels, st.floats(0.15, 0.5), st.floats(3.0, 50.0))
def test_less_liquid_never_takes_in_more_heat(level: float, other: float, diameter_m: float, net_kg: float) -> None:
    """The wetted wall grows with the level."""
    low, high = sorted((level, other))
    assert b.wetted_coupling_w_per_k(low, diameter_m, net_kg, 8.0) <= b.wetted_coupling_w_per_k(
        high, diameter_m, net_kg, 8.0
    )


@QUICK
@given(st.floats(60.0, 86_400.0), temperatures, st.floats(0.1, 45.0), st.floats(1e-3, 10.0), temperatures)
def test_drawing_the_limit_ends_at_the_limit(
    dt_s: float, bottle_c: float, below_k: float, coupling: float, locker_c: float
) -> None:
    """The off-take limit is the inverse of the cooling law: 1e-6 K is rounding over a day of many time constants."""
    limit_c = min(bottle_c, locker_c) - below_k
    drawn = b.offtake_limit_kg(dt_s, bottle_c, limit_c, 30_000.0, coupling, locker_c, 3.8e5)
    end_c = b.bottle_end_c(dt_s, bottle_c, 30_000.0, coupling, locker_c, drawn * 3.8e5 / dt_s)
    assert end_c == pytest.approx(limit_c, abs=1e-6)


def test_a_bottle_with_no_coupling_and_one_with_very_little_agree() -> None:
    """The limit of the closed form as UA goes to nothing is C dT / L; 1e-5 W/K over an hour adds about a millionth."""
    isolated = b.offtake_limit_kg(3600.0, 5.0, -30.0, 30_000.0, 0.0, 5.0, 3.8e5)
    nearly = b.offtake_limit_kg(3600.0, 5.0, -30.0, 30_000.0, 1e-5, 5.0, 3.8e5)
    assert nearly == pytest.approx(isolated, rel=2e-6)


@QUICK
@given(temperatures, st.floats(0.0, 20.0), st.floats(0.0, 20.0), st.floats(0.0, 45.0))
def test_withdrawing_conserves_mass_and_leaves_the_liquid_poorer_in_propane(
    temp_c: float, propane_kg: float, butane_kg: float, drawn_kg: float
) -> None:
    """Both stay between nothing and what was there; the sum falls by what was drawn (to rounding)."""
    left = b.withdraw(temp_c, propane_kg, butane_kg, drawn_kg)
    total = propane_kg + butane_kg
    assert sum(left) == pytest.approx(max(0.0, total - drawn_kg), abs=1e-12 * (1.0 + total))
    assert 0.0 <= left[0] <= propane_kg
    assert 0.0 <= left[1] <= butane_kg
    if sum(left) > 1e-9:
        assert left[0] / sum(left) <= propane_kg / total + 1e-9


def test_drawing_in_one_step_or_in_a_thousand_leaves_the_same_and_follows_the_vapour() -> None:
    """Rayleigh's closed form does not depend on steps (1e-9), and Euler steps with the vapour's share approach it.

    2000 explicit steps of 4 g on 8 kg leave about 0.1 % of the propane.
    """
    once = b.withdraw(-10.0, 5.0, 5.0, 8.0)
    many = (5.0, 5.0)
    euler = np.array([5.0, 5.0])
    for _ in range(2000):
        many = b.withdraw(-10.0, many[0], many[1], 0.004)
        share = b.vapour_propane_share(-10.0, euler[0], euler[1])
        euler -= 0.004 * np.array([share, 1.0 - share])
    assert many == pytest.approx(once, rel=1e-9)
    assert euler == pytest.approx(once, abs=2e-3)


@QUICK
@given(st.floats(2e4, 1.2e6), st.floats(0.0, 1.0))
def test_temperature_and_pressure_of_a_mixture_undo_each_other(pressure_pa: float, propane_kg: float) -> None:
    """The root is found to 1e-9 K, worth 1e-10 of pressure."""
    temp_c = b.temperature_at_pressure_c(pressure_pa, propane_kg, 1.0 - propane_kg)
    assert b.mixture_pressure_pa(temp_c, propane_kg, 1.0 - propane_kg) == pytest.approx(pressure_pa, rel=1e-8)


def test_edges_of_the_bottle() -> None:
    """Empty: no pressure, no wetted wall, the warmest limit; no pressure: the coldest; pure fuels stay pure."""
    assert b.mixture_pressure_pa(0.0, 0.0, 0.0) == b.dew_pressure_pa(0.0, 0.0, 0.0) == 0.0
    assert b.vapour_propane_share(0.0, 0.0, 0.0) == b.propane_mole_share(0.0, 0.0) == 0.0
    assert b.wetted_area_m2(0.0, 0.3, 11.0) == 0.0
    assert b.temperature_at_pressure_c(1e5, 0.0, 0.0) == 90.0
    assert b.temperature_at_pressure_c(0.0, 1.0, 0.0) == -100.0
    assert b.withdraw(0.0, 3.0, 0.0, 1.0) == (2.0, 0.0)
    assert b.withdraw(0.0, 0.0, 3.0, 1.0) == (0.0, 2.0)
    assert b.withdraw(0.0, 3.0, 1.0, -1.0) == (3.0, 1.0)
    assert b.withdraw(0.0, 3.0, 1.0, 9.0) == (0.0, 0.0)
    assert b.vapour_latent_heat_j_per_kg(0.0, 1.0, 0.0) == pytest.approx(374_849.0, abs=1.0)  # the pure fit's constant
