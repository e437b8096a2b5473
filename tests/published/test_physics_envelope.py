"""U-values, ribs, films and surface factors against ISO 6946, ISO 13788 and a published worked example."""

from __future__ import annotations

import numpy as np
import pytest

from budget.physics import envelope as e
from budget.physics.properties import saturation_pressure_pa


@pytest.mark.parametrize(("thickness_m", "conductivity", "u_w_per_m2k"), [(0.001, 50.0, 5.88), (0.004, 1.0, 5.75)])
def test_bare_steel_and_single_glass(thickness_m: float, conductivity: float, u_w_per_m2k: float) -> None:
    """1/(0.13 + d/lambda + 0.04), ISO 6946 resistances, ISO 10456 conductivities of steel 50 and glass 1.0 W/mK."""
    layers = np.array([thickness_m]), np.array([conductivity])
    u = e.u_from_layers_w_per_m2k(*layers, e.RSI_LEVEL_M2K_PER_W, e.RSE_M2K_PER_W)
    assert u == pytest.approx(u_w_per_m2k, abs=0.005)


def test_the_combined_method_gives_the_published_timber_wall() -> None:
    """Scottish building-standards guidance, Annex 6.B, timber-framed wall: R_T 3.474, U 0.29.

    Its two paths are 3.971 (90.5 %) and 1.715 m²K/W (9.5 %). They differ by 2.256, which is 140 mm of insulation of
    0.042 W/mK against timber of 0.13 W/mK (our reading: 3.333 - 1.077); 0.638 is common. Tolerance: last digit.
    """
    bridged, timber = 0.140 / 0.042, 0.140 / 0.13
    common = 3.971 - bridged
    assert common + timber == pytest.approx(1.715, abs=0.001)
    layers = np.array([[bridged, timber], [common - 0.17, common - 0.17]])
    resistance = e.combined_resistance_m2k_per_w(layers, np.array([0.905, 0.095]), 0.13, 0.04)
    assert resistance == pytest.approx(3.474, abs=0.001)
    assert 1.0 / resistance == pytest.approx(0.29, abs=0.005)


def test_standard_surface_resistances() -> None:
    """ISO 6946, table of conventional surface resistances: up, level, down, outside. [m²K/W]"""
    got = (e.RSI_UP_M2K_PER_W, e.RSI_LEVEL_M2K_PER_W, e.RSI_DOWN_M2K_PER_W, e.RSE_M2K_PER_W)
    assert got == (0.10, 0.13, 0.17, 0.04)


def test_metal_ribs_are_weighted_by_area() -> None:
    """10 % bare rib (U 5.88) beside 90 % panel of 0.838: 1.34 W/m²K by arithmetic, last digit."""
    assert e.ribbed_u_w_per_m2k(0.838, 5.88, 0.10) == pytest.approx(1.34, abs=0.005)


def test_external_film_is_the_standard_one_at_its_own_wind() -> None:
    """ISO 6946 rounds 1/(4 + 4 x 4 m/s + 0.9 x 4.6) = 0.0414 to 0.04; at 4 m/s a U-value hardly changes.

    U 1.0 moves by 0.0014 m²K/W in 1, so by 0.14 %; bare glass of 5.7 by 0.8 %.
    """
    assert 1.0 / e.external_film_w_per_m2k(4.0) == pytest.approx(0.04, abs=0.005)
    assert e.conductance_w_per_k(10.0, 1.0, 4.0) == pytest.approx(10.0, rel=2e-3)
    assert e.conductance_w_per_k(1.0, 5.7, 4.0) == pytest.approx(5.7, rel=1e-2)


@pytest.mark.parametrize(("mean_c", "hr0"), [(-10.0, 4.1), (0.0, 4.6), (10.0, 5.1), (20.0, 5.7), (30.0, 6.3)])
def test_black_body_radiation_coefficient(mean_c: float, hr0: float) -> None:
    """ISO 6946, table of hr0 for black surfaces; printed to 0.1."""
    assert e.radiation_film_w_per_m2k(mean_c, 1.0) == pytest.approx(hr0, abs=0.05)


def test_coldest_inner_surface_of_single_glass() -> None:
    """ISO 13788: fRsi = 1 - 5.8 x 0.13 = 0.246; -5 °C out, 18 °C in: 0.7 °C, wet above 31 % and so at 50 % humidity."""
    factor = e.surface_factor(5.8, e.RSI_LEVEL_M2K_PER_W)
    glass_c = e.surface_c(18.0, -5.0, factor)
    assert factor == pytest.approx(0.246, abs=0.0005)
    assert glass_c == pytest.approx(0.7, abs=0.05)
    wet_above = saturation_pressure_pa(glass_c) / saturation_pressure_pa(18.0)
    assert wet_above == pytest.approx(0.31, abs=0.005)


def test_sun_on_a_dark_roof_by_sol_air_arithmetic() -> None:
    """ASHRAE sol-air: alpha I / h_o = 0.8 x 500 / (4 + 4 x 2 + 4.16) = 24.75 K above the air; 10 m² of U 1.0.

    U at 2 m/s is 1/(0.96 + 1/16.16) = 0.9785 W/m²K, so 242.2 W; a sky 15 K colder takes 62.4 W/m², so 37.8 W.
    """
    assert e.solair_gain_w(10.0, 1.0, 2.0, 0.8, 500.0, 0.0, 1.0) == pytest.approx(242.2, abs=0.3)
    assert e.solair_gain_w(10.0, 1.0, 2.0, 0.8, 0.0, 15.0, 1.0) == pytest.approx(-37.8, abs=0.1)
