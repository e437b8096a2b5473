"""Damp: steady vapour balances, wet-bulb drying."""

from __future__ import annotations

import numpy as np
import psychrolib
import pytest
from scipy.optimize import brentq

from budget.physics import moisture as m
from budget.physics.properties import (
    air_density_kg_per_m3,
    humidity_ratio,
    saturation_pressure_pa,
    saturation_ratio,
    vapour_latent_j_per_kg,
    vapour_pressure_pa,
)

psychrolib.SetUnitSystem(psychrolib.SI)
PRESSURE_PA = 101_325.0


@pytest.mark.parametrize(("m3_per_h", "humidity"), [(10.0, 0.71), (20.0, 0.43), (40.0, 0.29)])
def test_steady_humidity_of_a_ventilated_van(m3_per_h: float, humidity: float) -> None:
    """-5 °C / 85 % out, 20 °C in, 100 g/h, air counted at indoor conditions with its dry mass conserved.

    w = w_out + 0.1 / (V rho): 71, 43, 29 % by algebra, printed to a whole percent. Marched for two days.
    """
    flow = np.array([m3_per_h * air_density_kg_per_m3(20.0, PRESSURE_PA) / 3600.0])
    outdoor = humidity_ratio(0.85 * saturation_pressure_pa(-5.0), PRESSURE_PA)
    ratio, new = np.array([outdoor]), np.zeros(1)
    none, none_int = np.zeros(0), np.zeros(0, dtype=np.int64)
    for _ in range(48):
        m.vapour_step(
            3600.0, np.array([14.0]), ratio, flow, flow, outdoor, np.zeros((1, 1)), np.array([0.1 / 3600.0]),
            none_int, none, none, none, none, np.array([1.0]), np.zeros(0), new,
            np.zeros((1, 1)), none_int, np.zeros(1, dtype=np.int64),
        )  # fmt: skip
        ratio[:] = new
    assert vapour_pressure_pa(new[0], PRESSURE_PA) / saturation_pressure_pa(20.0) == pytest.approx(humidity, abs=0.005)


def test_slope_of_the_saturated_humidity_ratio() -> None:
    """Central difference of psychrolib's GetSatHumRatio over 20 mK; 0.05 % for the fit's derivative."""
    for temp_c in (2.0, 12.0, 30.0):
        low, high = (psychrolib.GetSatHumRatio(temp_c + step, PRESSURE_PA) for step in (-0.01, 0.01))
        assert m.saturation_ratio_slope_per_k(temp_c, PRESSURE_PA) == pytest.approx((high - low) / 0.02, rel=5e-4)


@pytest.mark.parametrize(("temp_c", "humidity"), [(20.0, 0.3), (20.0, 0.7), (8.0, 0.6), (25.0, 0.15)])
def test_kit_dries_at_its_wet_bulb(temp_c: float, humidity: float) -> None:
    """Reference: solve h (T - Ts) = beta L (w_sat(Ts) - w) for Ts with a root finder; two Newton steps from
    the air's temperature, with its latent heat, leave 0.8 %.
    psychrolib's thermodynamic wet bulb (Lewis factor 1) stands within 0.8 K of Ts.
    """
    air = humidity_ratio(humidity * saturation_pressure_pa(temp_c), PRESSURE_PA)
    film, area = 3.0, 2.0
    beta = m.mass_coefficient_kg_per_m2s(film)

    def unbalance(surface_c: float) -> float:
        dried = beta * (saturation_ratio(surface_c, PRESSURE_PA) - air)
        return film * (temp_c - surface_c) - dried * vapour_latent_j_per_kg(surface_c)

    surface_c = brentq(unbalance, temp_c - 25.0, temp_c)
    exact = beta * area * (saturation_ratio(surface_c, PRESSURE_PA) - air)
    assert m.kit_drying_kg_per_s(area, beta, temp_c, air, PRESSURE_PA) == pytest.approx(exact, rel=0.008)
    assert surface_c == pytest.approx(psychrolib.GetTWetBulbFromRelHum(temp_c, humidity, PRESSURE_PA), abs=0.8)


def test_mass_coefficient_by_the_lewis_relation() -> None:
    """2.5 W/m²K / (1006 J/kgK x 0.91) = 2.731 g/m²s per unit of humidity ratio; 0.865^(2/3) = 0.908 rounds to 0.91."""
    assert m.mass_coefficient_kg_per_m2s(m.WALL_CONVECTION_W_PER_M2K) == pytest.approx(2.731e-3, abs=5e-7)
    assert pytest.approx(0.865 ** (2.0 / 3.0), abs=0.005) == m.LEWIS_FACTOR


def test_two_sleepers_and_a_single_glazed_cab_condense_at_minus_five() -> None:
    """Two adults asleep (45 g/h each), 3 m² of bare cab glass, 15 °C inside, 20 m³/h: always wet (practice)."""
    flow = np.array([20.0 * 1.2 / 3600.0])
    outdoor = humidity_ratio(0.85 * saturation_pressure_pa(-5.0), PRESSURE_PA)
    glass_ratio = saturation_ratio(-5.0 + 0.246 * 20.0, PRESSURE_PA)
    ratio, new, gained, lying = np.array([0.004]), np.zeros(1), np.zeros(1), np.zeros(1)
    for _ in range(32):
        m.vapour_step(
            900.0, np.array([16.0]), ratio, flow, flow, outdoor, np.zeros((1, 1)), np.array([0.09 / 3600.0]),
            np.zeros(1, dtype=np.int64), np.array([3.0]), np.array([glass_ratio]), lying, np.array([2.7e-3]),
            np.array([saturation_ratio(15.0, PRESSURE_PA)]), gained, new,
            np.zeros((1, 1)), np.zeros(1, dtype=np.int64), np.zeros(1, dtype=np.int64),
        )  # fmt: skip
        ratio[:], lying[:] = new, lying + gained
    assert lying[0] > 0.05
