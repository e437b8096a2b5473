"""Air, water vapour and fuel against published tables and reference equations of state."""

from __future__ import annotations

import numpy as np
import psychrolib
import pytest
from CoolProp.CoolProp import PropsSI

from budget.physics import properties as p

psychrolib.SetUnitSystem(psychrolib.SI)

FUELS = {
    "n-Propane": (
        p.propane_saturation_pa,
        p.propane_saturation_slope_pa_per_k,
        p.propane_density_kg_per_m3,
        p.propane_latent_j_per_kg,
        p.propane_liquid_cp_j_per_kgk,
        (9e-4, 2e-3, 1.1e-3, 1.3e-2),
    ),
    "n-Butane": (
        p.butane_saturation_pa,
        p.butane_saturation_slope_pa_per_k,
        p.butane_density_kg_per_m3,
        p.butane_latent_j_per_kg,
        p.butane_liquid_cp_j_per_kgk,
        (9e-4, 2e-4, 1e-4, 3e-3),
    ),
}


@pytest.mark.parametrize("temp_c", [float(t) for t in range(-60, 81, 5)])
def test_saturation_pressure_is_hyland_and_wexlers(temp_c: float) -> None:
    """psychrolib holds equations 5 and 6 of ASHRAE Fundamentals 2017, chapter 1; our fit claims 0.01 %."""
    assert p.saturation_pressure_pa(temp_c) == pytest.approx(psychrolib.GetSatVapPres(temp_c), rel=1e-4)


@pytest.mark.parametrize(
    ("temp_c", "table_pa", "digit_pa"),
    [(-20.0, 103.24, 0.005), (-5.0, 401.74, 0.005), (5.0, 872.6, 0.05), (25.0, 3169.7, 0.05)],
)
def test_saturation_pressure_stands_in_the_table(temp_c: float, table_pa: float, digit_pa: float) -> None:
    """ASHRAE Fundamentals, chapter 1, table 3: its last printed digit, plus the 0.02 % that the fit claims."""
    assert p.saturation_pressure_pa(temp_c) == pytest.approx(table_pa, abs=digit_pa + 2e-4 * table_pa)


@pytest.mark.parametrize("temp_c", [-30.0, -5.0, -0.001, 0.001, 10.0, 40.0])
def test_saturation_slope_is_the_derivative(temp_c: float) -> None:
    """Central difference over 0.2 mK, good to about 1e-7 of the slope."""
    step = 1e-4
    rise = p.saturation_pressure_pa(temp_c + step) - p.saturation_pressure_pa(temp_c - step)
    assert p.saturation_slope_pa_per_k(temp_c) == pytest.approx(rise / (2 * step), rel=1e-5)


@pytest.mark.parametrize(
    ("temp_c", "humidity", "dew_c", "grams_per_kg"),
    [(20.0, 0.60, 12.01, 8.734), (18.0, 0.60, 10.13, None), (-5.0, 0.85, None, 2.103)],
)
def test_moist_air_points(temp_c: float, humidity: float, dew_c: float | None, grams_per_kg: float | None) -> None:
    """Points worked with psychrolib 2.5 at 101 325 Pa; tolerance one unit of the last printed digit."""
    vapour_pa = humidity * p.saturation_pressure_pa(temp_c)
    if dew_c is not None:
        assert p.dew_point_c(vapour_pa) == pytest.approx(dew_c, abs=0.01)
        assert dew_c == pytest.approx(psychrolib.GetTDewPointFromRelHum(temp_c, humidity), abs=0.01)
    if grams_per_kg is not None:
        assert 1000.0 * p.humidity_ratio(vapour_pa, 101_325.0) == pytest.approx(grams_per_kg, abs=0.001)


@pytest.mark.parametrize("temp_c", [-40.0, -10.0, -0.5, 0.5, 12.0, 35.0])
def test_dew_point_undoes_saturation_and_vapour_pressure_undoes_humidity(temp_c: float) -> None:
    """Both inverses are closed forms, so only rounding is left."""
    vapour_pa = p.saturation_pressure_pa(temp_c)
    assert p.dew_point_c(vapour_pa) == pytest.approx(temp_c, abs=1e-9)
    assert p.vapour_pressure_pa(p.humidity_ratio(vapour_pa, 90_000.0), 90_000.0) == pytest.approx(vapour_pa, rel=1e-12)


@pytest.mark.parametrize(("temp_c", "table_pa"), [(-10.0, 286.5), (-20.0, 125.4), (-30.0, 50.88)])
def test_weather_services_humidity_is_over_liquid_water(temp_c: float, table_pa: float) -> None:
    """Supercooled water after Goff and Gratch, Smithsonian tables (from memory); WMO's form is within 0.6 %."""
    assert p.supercooled_saturation_pa(temp_c) == pytest.approx(table_pa, rel=6e-3)
    assert p.supercooled_saturation_pa(temp_c) > p.saturation_pressure_pa(temp_c)


@pytest.mark.parametrize(("temp_c", "altitude_m", "wh_per_m3k"), [(-5.0, 0.0, 0.368), (20.0, 1500.0, 0.281)])
def test_heat_that_a_cubic_metre_of_air_carries(temp_c: float, altitude_m: float, wh_per_m3k: float) -> None:
    """Arithmetic of the gas law and the standard atmosphere; one unit of the last digit given."""
    density = p.air_density_kg_per_m3(temp_c, p.pressure_at_altitude_pa(altitude_m))
    assert density * p.AIR_CP_J_PER_KG_K / 3600.0 == pytest.approx(wh_per_m3k, abs=0.001)


@pytest.mark.parametrize("temp_c", [-30.0, 0.0, 20.0, 80.0])
def test_air_density_and_viscosity_follow_the_reference(temp_c: float) -> None:
    """CoolProp's dry air; the ideal gas is within 0.15 % at one atmosphere, the viscosity fit within 0.05 %."""
    state = ("T", temp_c + 273.15, "P", 101_325.0, "Air")
    assert p.air_density_kg_per_m3(temp_c, 101_325.0) == pytest.approx(PropsSI("D", *state), rel=1.5e-3)
    assert p.air_viscosity_kg_per_ms(temp_c) == pytest.approx(PropsSI("V", *state), rel=5e-4)


def test_standard_atmosphere() -> None:
    """ICAO table: 84 556 Pa at 1500 m (from memory), 0.02 % for the rounded constants; ratio 0.83."""
    assert p.pressure_at_altitude_pa(1500.0) == pytest.approx(84_556.0, rel=2e-4)
    assert p.density_ratio(1500.0) == pytest.approx(0.83, abs=0.005)


@pytest.mark.parametrize("temp_c", [0.5, 20.0, 40.0, 60.0])
def test_heat_of_vaporisation_of_water(temp_c: float) -> None:
    """CoolProp (IAPWS-95); the straight line claims 0.5 %."""
    kelvin = temp_c + 273.15
    latent = PropsSI("H", "T", kelvin, "Q", 1, "Water") - PropsSI("H", "T", kelvin, "Q", 0, "Water")
    assert p.vapour_latent_j_per_kg(temp_c) == pytest.approx(latent, rel=5e-3)


@pytest.mark.parametrize("fluid", FUELS)
def test_saturated_fuel_follows_the_reference_equation_of_state(fluid: str) -> None:
    """CoolProp from -60 to 60 °C; the tolerances are the ones that the docstrings state."""
    saturation, slope, density, latent, capacity, within = FUELS[fluid]
    for temp_c in np.linspace(-60.0, 60.0, 49):
        t, kelvin = float(temp_c), float(temp_c) + 273.15
        liquid, vapour = (PropsSI("H", "T", kelvin, "Q", q, fluid) for q in (0, 1))
        assert saturation(t) == pytest.approx(PropsSI("P", "T", kelvin, "Q", 0, fluid), rel=within[0])
        assert density(t) == pytest.approx(PropsSI("D", "T", kelvin, "Q", 0, fluid), rel=within[1])
        assert latent(t) == pytest.approx(vapour - liquid, rel=within[2])
        assert capacity(t) == pytest.approx(PropsSI("C", "T", kelvin, "Q", 0, fluid), rel=within[3])
        rise = saturation(t + 1e-4) - saturation(t - 1e-4)
        assert slope(t) == pytest.approx(rise / 2e-4, rel=1e-5)


@pytest.mark.parametrize(
    ("got", "printed", "digit"),
    [
        (p.propane_saturation_pa(-40.0) / 1e5, 1.111, 0.001),
        (p.propane_saturation_pa(-20.0) / 1e5, 2.445, 0.001),
        (p.propane_saturation_pa(0.0) / 1e5, 4.745, 0.004),
        (p.propane_saturation_pa(20.0) / 1e5, 8.365, 0.008),
        (p.butane_saturation_pa(-10.0) / 1e5, 0.696, 0.001),
        (p.butane_saturation_pa(0.0) / 1e5, 1.032, 0.001),
        (p.butane_saturation_pa(20.0) / 1e5, 2.076, 0.002),
        (p.propane_density_kg_per_m3(15.0), 507.5, 1.0),
        (p.butane_density_kg_per_m3(15.0), 584.3, 0.1),
        (p.propane_latent_j_per_kg(0.0) / 1e3, 374.9, 0.4),
        (p.butane_latent_j_per_kg(0.0) / 1e3, 385.3, 0.1),
    ],
)
def test_fuel_table_points(got: float, printed: float, digit: float) -> None:
    """Points read from CoolProp; tolerance the printed digit or the fit's stated deviation, whichever is greater."""
    assert got == pytest.approx(printed, abs=digit)


def test_heating_values_and_products_of_combustion() -> None:
    """Lower value = upper value - water formed x 2.442 MJ/kg (25 °C); water and CO2 by atom balance.

    Upper values and products as tabulated by the chemicals library; 0.1 % for the printed digits.
    """
    for upper, lower, water in (
        (p.PROPANE_UPPER_J_PER_KG, p.PROPANE_LOWER_J_PER_KG, p.PROPANE_BURNED_WATER_SHARE),
        (p.BUTANE_UPPER_J_PER_KG, p.BUTANE_LOWER_J_PER_KG, p.BUTANE_BURNED_WATER_SHARE),
    ):
        assert upper - water * 2.442e6 == pytest.approx(lower, rel=1e-3)
    assert pytest.approx((12.87, 12.70), abs=0.005) == (p.PROPANE_LOWER_KWH_PER_KG, p.BUTANE_LOWER_KWH_PER_KG)
    assert pytest.approx((1.634, 1.550), abs=0.0005) == (p.PROPANE_BURNED_WATER_SHARE, p.BUTANE_BURNED_WATER_SHARE)
    assert pytest.approx((2.994, 3.029), abs=0.0005) == (p.PROPANE_BURNED_CO2_SHARE, p.BUTANE_BURNED_CO2_SHARE)
