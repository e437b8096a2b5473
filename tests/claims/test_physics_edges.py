"""Edges and plain values of the physics that mutation testing found nobody to watch over. Worked by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from budget.physics import battery, bottle, ducts, frost, moisture, properties, ventilation


@pytest.mark.parametrize(
    ("temp_c", "share"), [(30.0, 1.0), (25.0, 1.0), (12.5, 0.9425), (0.5, 0.8873), (0.0, 0.885), (-10.0, 0.7925),
                          (-20.0, 0.70), (-60.0, 0.5)],
)  # fmt: skip
def test_lithium_keeps_the_share_that_its_curve_states(temp_c: float, share: float) -> None:
    """Straight from 1 at 25 °C to 0.885 at 0 °C and to 0.70 at -20 °C, never below 0.5. Tolerance: floats."""
    assert battery.capacity_share(battery.LIFEPO4, temp_c) == pytest.approx(share, abs=1e-12)


@pytest.mark.parametrize(
    ("temp_c", "full", "share"), [(30.0, 0.5, 1.0), (20.0, 0.5, 1.0), (10.0, 0.5, 0.75), (0.0, 0.5, 0.5),
                                  (-12.0, 0.5, 0.2), (-30.0, 0.5, 0.2), (20.0, 0.9, 0.5), (0.0, 0.95, 0.125),
                                  (20.0, 1.0, 0.0)],
)  # fmt: skip
def test_lead_takes_less_in_the_cold_and_when_nearly_full(temp_c: float, full: float, share: float) -> None:
    """0.5 + 0.025 per degree between 0.2 and 1, times the room over the last 20 % of charge. Tolerance: floats."""
    assert battery.charge_limit_share(battery.AGM, temp_c, full) == pytest.approx(share, abs=1e-12)


def test_a_nearly_full_battery_takes_its_room_over_its_efficiency_and_no_more() -> None:
    """0.5 Ah of room at 0.8 takes 0.625 Ah; 90 Ah of 100 offered 5 Ah at 0.8 is 94 Ah."""
    assert battery.charge_step(99.5, 100.0, 5.0, 0.8) == pytest.approx((100.0, 0.625), abs=1e-12)
    assert battery.charge_step(90.0, 100.0, 5.0, 0.8) == pytest.approx((94.0, 5.0), abs=1e-12)


def test_a_bottle_without_coupling_cools_by_what_is_taken_alone() -> None:
    """100 W for 600 s out of 30 kJ/K are 2 K, downwards."""
    assert bottle.bottle_end_c(600.0, 5.0, 30_000.0, 0.0, -20.0, 100.0) == pytest.approx(3.0, abs=1e-9)


def test_grams_of_a_mixture_have_the_shares_of_kilograms() -> None:
    """Shares have no size; 10 g are less than a mole of either."""
    for kg in (0.01, 10.0):
        moles = (0.3 * kg / properties.PROPANE_KG_PER_MOL, 0.7 * kg / properties.BUTANE_KG_PER_MOL)
        assert bottle.propane_mole_share(0.3 * kg, 0.7 * kg) == pytest.approx(moles[0] / sum(moles), rel=1e-12)
        assert bottle.vapour_propane_share(-10.0, 0.3 * kg, 0.7 * kg) == pytest.approx(
            bottle.vapour_propane_share(-10.0, 0.3, 0.7), rel=1e-12
        )


def test_capacity_and_volume_of_a_mixture_are_the_sums_of_their_parts() -> None:
    """Steel 490 J/kgK; each liquid with its own heat capacity and density. Tolerance: floats."""
    parts = 4.0 * properties.propane_liquid_cp_j_per_kgk(5.0) + 6.0 * properties.butane_liquid_cp_j_per_kgk(5.0)
    assert bottle.bottle_capacity_j_per_k(12.0, 4.0, 6.0, 5.0) == pytest.approx(12.0 * 490.0 + parts, rel=1e-12)
    litres = 4000.0 / properties.propane_density_kg_per_m3(5.0) + 6000.0 / properties.butane_density_kg_per_m3(5.0)
    assert bottle.liquid_l(5.0, 4.0, 6.0) == pytest.approx(litres, rel=1e-12)


def test_an_overfull_bottle_wets_no_more_than_its_height() -> None:
    assert bottle.wetted_area_m2(1.3, 0.3, 11.0) == bottle.wetted_area_m2(1.0, 0.3, 11.0)


def test_a_narrow_return_still_lets_air_pass() -> None:
    """Half a square centimetre: 2.5 heads of 1 m³/h through it, 0.5 · 1.2 · (1 / 3600 / 5e-5)² Pa each."""
    expected = 2.5 * 0.5 * 1.2 * (1.0 / 3600.0 / 0.5e-4) ** 2
    assert ducts.return_pa_per_flow2(0.5, 1.2) == pytest.approx(expected, rel=1e-12)
    assert ducts.return_pa_per_flow2(0.0, 1.2) == math.inf


def test_equal_vents_in_still_warm_air_and_wind() -> None:
    """No stack: 2 of 100 cm² in series, 0.6 · 0.01 / √2 · √0.3 · 5 m/s, in quadrature with 0.025 · 0.02 · 5."""
    through, single = 0.6 * 0.01 / math.sqrt(2.0) * math.sqrt(0.3) * 5.0, 0.025 * 0.02 * 5.0
    expected = 3600.0 * math.hypot(through, single)
    assert ventilation.vent_m3_per_h(100.0, 100.0, 1.8, 0.0, 5.0, 20.0) == pytest.approx(expected, rel=1e-12)


def test_over_liquid_water_is_one_curve_above_freezing_and_the_wmo_curve_below() -> None:
    """At 0.5 and 15 °C the same as saturation; at 0 °C both forms meet within 0.1 %, at -10 °C WMO gives 286.6 Pa."""
    for temp_c in (0.5, 15.0):
        assert properties.supercooled_saturation_pa(temp_c) == properties.saturation_pressure_pa(temp_c)
    assert properties.supercooled_saturation_pa(-1e-9) == pytest.approx(
        properties.supercooled_saturation_pa(0.0), rel=1e-3
    )
    assert properties.supercooled_saturation_pa(-10.0) == pytest.approx(286.6, abs=0.5)


def test_a_trace_of_vapour_has_its_dew_point() -> None:
    """0.5 Pa, the pressure over ice at some -70 °C: the inverse holds down to 0.01 Pa."""
    assert properties.saturation_pressure_pa(properties.dew_point_c(0.5)) == pytest.approx(0.5, rel=1e-9)


def test_a_glove_dries_like_a_coat() -> None:
    """Of 0.4 kg hung up 0.3 kg still dry at the full rate, 0.06 kg (half of the critical 0.12 kg) at half of it."""
    assert moisture.wet_area_share(0.3, 0.4) == 1.0
    assert moisture.wet_area_share(0.06, 0.4) == pytest.approx(0.5, rel=1e-12)


def test_water_that_loses_no_heat_never_freezes_and_water_at_zero_begins_at_once() -> None:
    assert frost.hours_to_freeze(5.0, 40_000.0, 0.0, -10.0, 10.0, 0.5) == math.inf
    assert frost.hours_to_freeze(0.0, 40_000.0, 2.0, 5.0, 10.0, 0.0) == 0.0


def test_a_zone_without_a_surface_does_not_keep_its_neighbour_from_being_saturated() -> None:
    """Two zones that exchange nothing, the first without a surface: all that the second cannot hold settles there."""
    new, settled = np.zeros(2), np.zeros(1)
    rounds = moisture.vapour_step(
        1800.0, np.array([10.0, 10.0]), np.array([0.005, 0.005]), np.zeros(2), np.zeros(2), 0.003, np.zeros((2, 2)),
        np.array([0.0, 1e-4]), np.array([1]), np.array([0.01]), np.array([0.008]), np.zeros(1), np.array([1e-6]),
        np.array([0.01, 0.01]), settled, new, np.zeros((2, 2)), np.zeros(1, dtype=np.int64),
        np.zeros(2, dtype=np.int64),
    )  # fmt: skip
    assert new == pytest.approx([0.005, 0.01], rel=1e-12)
    assert settled[0] == pytest.approx(0.18 - 10.0 * 0.005, rel=1e-9)
    assert rounds == 2  # dry and unsaturated guessed, saturated found, then confirmed


def test_a_whisper_of_a_fan_still_meets_its_run() -> None:
    """0.4 Pa and 0.6 m³/h free through 2 m of smooth 65 mm duct: fan and run meet at one plenum pressure."""
    one = np.array([1.0])
    flows = np.zeros(1)
    total, plenum_pa = ducts.solve_network(
        0.4, 0.6, 0.0, 2.0 * one, 0.065 * one, 0.0 * one, 0.00015 * one, one, one, 1.1, flows
    )
    assert 0.3 < total < 0.6 and flows[0] == total
    assert 0.4 * (1.0 - (total / 0.6) ** 2) == pytest.approx(plenum_pa, rel=1e-6)
    assert ducts.duct_pressure_pa(total, 2.0, 0.065, 0.0, 0.00015, 1.0, 1.1, 1.0) == pytest.approx(plenum_pa, rel=1e-6)
