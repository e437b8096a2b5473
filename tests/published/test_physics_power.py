"""Burner and battery against formulas and trade figures."""

from __future__ import annotations

import numpy as np
import pytest

from budget.physics import battery, burner


@pytest.mark.parametrize(("exponent", "hours"), [(1.2, 8.71), (1.05, 9.66)])
def test_peukert(exponent: float, hours: float) -> None:
    """H (C/(I H))^k: 100 Ah at 20 h, 10 A; printed digits."""
    assert battery.runtime_h(10.0, 100.0, exponent) == pytest.approx(hours, abs=0.005)


def test_capacity_in_the_cold_is_what_the_trade_reports() -> None:
    """LiFePO4 0.85–0.92 at 0 °C; lead 1 % a kelvin below 25 °C, so 0.75 at 0 °C. Common practice."""
    assert 0.85 <= battery.capacity_share(battery.LIFEPO4, 0.0) <= 0.92
    for lead in (battery.AGM, battery.GEL, battery.WET):
        assert battery.capacity_share(lead, 0.0) == pytest.approx(0.75, rel=1e-12)


def test_lithium_takes_no_charge_at_freezing_and_little_up_to_five_degrees() -> None:
    """Blocked at or below 0 °C, slow to 5 °C. Common practice."""
    shares = [battery.charge_limit_share(battery.LIFEPO4, t, 0.5) for t in (-10.0, 0.0, 0.1, 4.9, 5.0)]
    assert shares[:2] == [0.0, 0.0]
    assert 0.0 < shares[2] == shares[3] <= 0.3
    assert shares[4] == 1.0


def test_part_load_factor_of_the_furnace_cases() -> None:
    """ANSI/ASHRAE Standard 140, HE120: full load of 1.000282 by its polynomial; at 0.4 load 1.015744. (arithmetic)"""
    curve = (1.005519483, 0.182253228, -0.527668, 0.339946081)
    assert burner.part_load_factor(1.0, *curve) == pytest.approx(1.000050792, abs=1e-9)
    assert burner.part_load_factor(0.4, *curve) == pytest.approx(1.015750443, abs=1e-6)


def test_output_at_fifteen_hundred_metres() -> None:
    """Density ratio 0.83: a 4 kW burner is left with 3.3 kW unless it compensates; dense air adds nothing."""
    assert burner.output_at_density(4000.0, 0.83, False) == pytest.approx(3320.0, rel=1e-12)
    assert burner.output_at_density(4000.0, 0.83, True) == 4000.0
    assert burner.output_at_density(4000.0, 1.1, False) == 4000.0


def test_values_between_stages_are_linear_and_held_beyond() -> None:
    """Agrees with numpy.interp, which does the same."""
    outputs, values = np.array([1000.0, 2500.0, 4000.0]), np.array([0.86, 0.90, 0.88])
    for output in (0.0, 1000.0, 1500.0, 2500.0, 3999.0, 4000.0, 9000.0):
        expected = np.interp(output, outputs, values)
        assert burner.stage_value(output, outputs, values) == pytest.approx(expected, rel=1e-14)
    assert burner.stage_value(5.0, np.array([1000.0]), np.array([0.9])) == 0.9
