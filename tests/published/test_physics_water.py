"""Hot water and frost against arithmetic and an ODE solver."""

from __future__ import annotations

import pytest
from scipy.integrate import solve_ivp

from budget.physics import boiler, frost


def test_ten_litres_at_sixty_give_nearly_eighteen_at_thirty_eight() -> None:
    """10 x (60 - 10) / (38 - 10) = 17.86 L; printed 17.9."""
    assert boiler.mixed_water_l(10.0, 60.0, 10.0, 38.0) == pytest.approx(17.9, abs=0.05)


def test_heating_ten_litres_takes_580_watt_hours() -> None:
    """10 kg x 4186 J/kgK x 50 K = 0.581 kWh; printed 0.580 with cp 4.18."""
    assert boiler.heat_water_j(10.0, 10.0, 60.0) / 3.6e6 == pytest.approx(0.580, abs=0.002)


@pytest.mark.parametrize("litres", [3.0, 7.857, 15.0])
def test_draw_agrees_with_a_mixed_tank_integrated_step_by_step(litres: float) -> None:
    """dT/dV = -x (T - cold)/V with x = min(1, (38 - cold)/(T - cold)); solve_ivp to 1e-9, so 1e-4 K is generous."""

    def slope(_: float, tank: list[float]) -> list[float]:
        share = min(1.0, 28.0 / (tank[0] - 10.0))
        return [-share * (tank[0] - 10.0) / 10.0, share]

    end = solve_ivp(slope, (0.0, litres), [60.0, 0.0], rtol=1e-9, atol=1e-9, max_step=0.05).y[:, -1]
    hot_l, tank_c, tap_c, heat_j = boiler.draw(10.0, 60.0, 10.0, litres, 38.0)
    assert tank_c == pytest.approx(end[0], abs=1e-4)
    assert hot_l == pytest.approx(end[1], abs=1e-4)
    assert tap_c == pytest.approx(min(38.0, end[0]), abs=1e-4)
    assert heat_j == pytest.approx(10.0 * 4186.0 * (60.0 - end[0]), abs=10.0)


def test_a_mixed_tank_keeps_its_tap_warm_for_less_than_half_of_the_plug_flow() -> None:
    """Linear fall: 10 x (60 - 38)/(38 - 10) = 7.857 L, then the tap cools. (algebra)"""
    assert boiler.tap_water_l(10.0, 60.0, 10.0, 38.0) == pytest.approx(7.857, abs=5e-4)
    assert boiler.draw(10.0, 60.0, 10.0, 7.85, 38.0)[2] == 38.0
    assert boiler.draw(10.0, 60.0, 10.0, 7.87, 38.0)[2] < 38.0


def test_hours_to_freeze_by_hand() -> None:
    """10 L at 10 °C, 4 W/K, -10 °C: tau ln 2 = 41 860/4 x 0.6931 s = 2.0149 h; plateau 3.34 MJ / 40 W = 23.194 h."""
    assert frost.hours_to_freeze(10.0, 41_860.0, 4.0, -10.0, 10.0, 0.0) == pytest.approx(2.0149, abs=1e-4)
    assert frost.hours_to_freeze(10.0, 41_860.0, 4.0, -10.0, 10.0, 1.0) == pytest.approx(25.209, abs=1e-3)


def test_a_pipe_stands_at_zero_while_it_freezes() -> None:
    """Marched by minutes with the enthalpy split, it is all ice when the closed form says (to two minutes)."""
    temp_c, ice_kg, minutes = 10.0, 0.0, 0
    while ice_kg < 1.0:
        temp_c, ice_kg = frost.recover(temp_c - 0.5 * (temp_c + 10.0) * 60.0 / 4186.0, 4186.0, ice_kg, 1.0)
        minutes += 1
    assert minutes / 60.0 == pytest.approx(frost.hours_to_freeze(10.0, 4186.0, 0.5, -10.0, 1.0, 1.0), abs=2.0 / 60.0)
