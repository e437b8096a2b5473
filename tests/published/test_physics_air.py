"""Leakage, vents, doorways and ducts against published equations and the fluids library."""

from __future__ import annotations

import math

import fluids
import numpy as np
import pytest

from budget.physics import ducts as d
from budget.physics import ventilation as v


@pytest.mark.parametrize("relative_roughness", [0.0, 1e-6, 1e-4, 1e-3, 0.01, 0.046, 0.05])
@pytest.mark.parametrize("reynolds", [4000.0, 1e4, 3e4, 1e5, 1e6, 1e7])
def test_friction_factor_is_colebrooks(reynolds: float, relative_roughness: float) -> None:
    """Clamond's method in fluids solves Colebrook's equation to rounding; Serghides' form claims 0.01 % of it."""
    exact = fluids.friction_factor(Re=reynolds, eD=relative_roughness, Method="Clamond")
    assert d.friction_factor(reynolds, relative_roughness) == pytest.approx(exact, rel=1e-4)


def test_friction_factor_points() -> None:
    """0.018514 at Re 1e5 and 1e-4 (fluids, Colebrook, printed digits); 64/Re where laminar (Hagen and Poiseuille)."""
    assert d.friction_factor(1e5, 1e-4) == pytest.approx(0.018514, abs=1e-6)
    assert d.friction_factor(1000.0, 0.01) == pytest.approx(0.064, rel=1e-12)


def test_corrugated_hose_loses_22_pascal_a_metre() -> None:
    """65 mm hose, 70 m³/h, roughness 3 mm, density 1.2: about 22 Pa/m (from memory; to its last digit)."""
    wide_open = 1e6
    pressure = d.duct_pressure_pa(70.0, 1.0, 0.065, 0.0, d.CORRUGATED_ROUGHNESS_M, wide_open, 1.2, d.STRETCHED_FACTOR)
    assert pressure == pytest.approx(22.0, abs=0.5)
    squeezed = d.duct_pressure_pa(70.0, 1.0, 0.065, 0.0, d.CORRUGATED_ROUGHNESS_M, wide_open, 1.2, d.COMPRESSED_FACTOR)
    assert 2.0 <= squeezed / pressure <= 4.0


def test_local_losses_are_velocity_heads() -> None:
    """Two bends, a half-open outlet, no length: (2 x 0.6 + 2.0 / 0.5²) heads of rho v²/2, by arithmetic."""
    velocity = 70.0 / 3600.0 / (math.pi / 4.0 * 0.065**2)
    heads = 2.0 * d.BEND_LOSS + d.OUTLET_LOSS / 0.25
    got = d.duct_pressure_pa(70.0, 0.0, 0.065, 2.0, 0.003, 0.5, 1.2, 1.0)
    assert got == pytest.approx(heads * 0.6 * velocity**2, rel=1e-12)


def test_three_runs_meet_the_fan_where_a_plain_root_finder_says() -> None:
    """Independent solution: scipy's brentq on the plenum pressure with fluids' friction, both on their own code.

    0.1 % covers Serghides against Colebrook and the viscosity.
    """
    from scipy.optimize import brentq

    lengths, diameters, bends = np.array([3.0, 5.0, 2.0]), np.array([0.065, 0.065, 0.08]), np.array([2.0, 3.0, 1.0])
    rough, open_share, stretch = np.full(3, 0.003), np.array([1.0, 0.6, 1.0]), np.array([1.0, 1.0, 2.0])
    fan_pa, free, density, viscosity = 150.0, 240.0, 1.1, 2.01e-5

    def run_pa(flow: float, i: int) -> float:
        velocity = flow / 3600.0 / (math.pi / 4.0 * diameters[i] ** 2)
        reynolds = density * velocity * diameters[i] / viscosity
        friction = fluids.friction_factor(Re=reynolds, eD=rough[i] / diameters[i], Method="Clamond")
        heads = friction * stretch[i] * lengths[i] / diameters[i] + 0.6 * bends[i] + 2.0 / open_share[i] ** 2
        return heads * density * velocity**2 / 2.0

    def flows(plenum_pa: float) -> list[float]:
        return [brentq(lambda q, i=i: run_pa(q, i) - plenum_pa, 5.0, 1000.0, xtol=1e-9) for i in range(3)]

    def excess(plenum_pa: float) -> float:
        return sum(flows(plenum_pa)) - free * math.sqrt(1.0 - plenum_pa / fan_pa)

    plenum = brentq(excess, 20.0, 140.0, xtol=1e-8)
    out = np.zeros(3)
    total, pressure = d.solve_network(
        fan_pa, free, 0.0, lengths, diameters, bends, rough, open_share, stretch, density, out
    )
    assert pressure == pytest.approx(plenum, rel=1e-3)
    assert out == pytest.approx(flows(plenum), rel=1e-3)
    assert total == out.sum()


def test_a_return_opening_takes_its_share_of_the_fan() -> None:
    """Plenum + return loss = fan curve at the total flow: 150 (1 - (Q/240)²) by arithmetic, to the solver's 1e-9."""
    out = np.zeros(1)
    loss = d.return_pa_per_flow2(60.0, 1.2)
    assert loss * 100.0**2 == pytest.approx(2.5 * 0.6 * (100.0 / 3600.0 / 0.006) ** 2, rel=1e-12)
    run = (np.array([3.0]), np.array([0.065]), np.array([1.0]), np.array([0.003]), np.array([1.0]), np.array([1.0]))
    total, pressure = d.solve_network(150.0, 240.0, loss, *run, 1.2, out)
    assert pressure + loss * total**2 == pytest.approx(150.0 * (1.0 - (total / 240.0) ** 2), rel=1e-9)
    assert d.solve_network(150.0, 240.0, d.return_pa_per_flow2(0.0, 1.2), *run, 1.2, out) == (0.0, 0.0)


def test_a_run_delivers_what_a_heat_exchanger_with_one_constant_side_does() -> None:
    """Effectiveness of one stream: exp(-NTU); 2 W/K on 0.02 kg/s: exp(-2/(0.02 x 1006)) = 0.9054 (four digits)."""
    assert d.run_delivery_share(2.0, 0.02) == pytest.approx(0.9054, abs=5e-5)


def test_fan_power_follows_flow_times_pressure() -> None:
    """100 m³/h against 150 Pa at 25 %: 16.67 W. With 40 % fixed, halving both leaves 0.4 + 0.6/4. (arithmetic)"""
    assert d.fan_power_w(100.0, 150.0, 0.25) == pytest.approx(16.667, abs=5e-4)
    assert d.fan_power_scaled_w(20.0, 100.0, 80.0, 50.0, 40.0, 0.4) == pytest.approx(11.0, rel=1e-12)


def test_basic_leakage_model_by_hand() -> None:
    """ASHRAE 2009 chapter 16 equation 48: 60 cm², 25 K, 4 m/s in the open: 60 sqrt(0.003625 + 0.005104) = 5.606 L/s.

    Four digits of hand arithmetic; the coefficients are from memory.
    """
    assert v.leakage_m3_per_h(60.0, 25.0, 4.0) == pytest.approx(5.606 * 3.6, rel=2e-4)
    assert v.leakage_kg_per_s(60.0, -25.0, 4.0, 1.2) == pytest.approx(5.606e-3 * 1.2, rel=2e-4)


def test_stack_through_two_equal_vents_by_hand() -> None:
    """ASHRAE 2009 chapter 16 equation 38 with the neutral level halfway: Q = Cd A sqrt(2 g (H/2) dT/Ti).

    100 cm² each, 1.8 m, 20 K, 293.15 K: 0.6 x 0.01 x sqrt(9.80665 x 1.8 x 20/293.15) x 3600 = 23.70 m³/h.
    """
    assert v.vent_m3_per_h(100.0, 100.0, 1.8, 20.0, 0.0, 20.0) == pytest.approx(23.70, abs=0.01)


def test_fixed_vents_and_leaks_pass_what_vans_are_reported_to() -> None:
    """Together 10–60 m³/h, common practice, for usual areas in calm to fresh wind: a plausibility check, no target."""
    for wind in (0.0, 1.0, 3.0):
        total = v.vent_m3_per_h(75.0, 75.0, 1.8, 20.0, wind, 20.0) + v.leakage_m3_per_h(40.0, 20.0, wind)
        assert 10.0 <= total <= 60.0


def test_a_cab_opening_without_curtain_passes_80_to_160_watts_a_kelvin() -> None:
    """Common practice for an opening of about 0.9 x 1.5 m between a living area 4 to 8 K warmer and the cab."""
    for cold_c in (16.0, 14.0, 12.0):
        assert 80.0 <= v.doorway_w_per_k(0.9, 1.5, 20.0, cold_c, 1.22) <= 160.0


def test_doorway_flow_by_hand() -> None:
    """Cd/3 W sqrt(g dT/T) H^1.5, Cd = 0.4 + 0.0045 dT, for 1 x 1.6 m and 20 against 10 °C.

    0.445/3 x sqrt(9.80665 x 10/288.15) x 1.6^1.5 = 0.17513 m³/s; the rounding-off of dT adds 0.04 % to it.
    """
    assert v.doorway_m3_per_h(1.0, 1.6, 20.0, 10.0) == pytest.approx(0.17513 * 3600.0, rel=5e-4)
