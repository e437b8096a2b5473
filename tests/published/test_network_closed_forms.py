"""The general network against algebra: one lump, two nodes, a held room and a night's rest.

Values: worked by hand from dT/dt = (Q - UA (T - T_out)) / C; printed to three decimals.
"""

import numpy as np
import pytest

from budget.engine.network import Furnace, Network

UA_W_PER_K = 80.0
C_J_PER_K = 600_000.0
OUTDOOR_C = -5.0
KWH_J = 3.6e6
BAND_K = 0.02
# The heater holds to within half its band, 0.01 K of a difference of 25 K, and 6 kJ of 4 kWh in the lump.
HELD = 0.001


def lump() -> Network:
    return Network(
        capacity_j_per_k=np.array([C_J_PER_K]),
        edge_from=np.array([0]),
        edge_to=np.array([-1]),
        edge_w_per_k=np.array([UA_W_PER_K]),
    )


def four_kilowatts() -> Furnace:
    return Furnace(
        sensor=0, share=np.ones(1), outputs_w=np.array([0.0, 4000.0]), efficiency=np.array([0.9, 0.9]), band_k=BAND_K
    )


def held(setpoint_c: np.ndarray, start_c: float) -> np.ndarray:
    """Heat by hour. [kWh]"""
    hours = len(setpoint_c)
    march = lump().march(
        start_c=np.array([start_c]), outdoor_c=np.full(hours, OUTDOOR_C), heat_w=np.zeros((hours, 1)),
        furnace=four_kilowatts(), setpoint_c=setpoint_c,
    )  # fmt: skip
    return march.heat_j / KWH_J


def minutes_at_full_output(heat_kwh: np.ndarray) -> float:
    """Minutes of 4 kW before the 2 kW of holding: an hour of heat E is (E - 2) / (4 - 2) of full output."""
    return float(np.sum((heat_kwh - 2.0) / 2.0) * 60.0)


def test_a_lump_cools_by_the_exponential_law() -> None:
    """T = -5 + 25 exp(-t UA / C), from 20 °C."""
    march = lump().march(start_c=np.array([20.0]), outdoor_c=np.full(8, OUTDOOR_C), heat_w=np.zeros((8, 1)))
    expected = [10.470, 4.572, 0.923, -1.335, -2.732, -3.597, -4.132, -4.463]
    # half of the last printed digit, and as much for the integrator's steps of 300 s
    assert march.edge_c[1:, 0] == pytest.approx(expected, abs=0.001)


def test_a_lump_warms_to_twenty_in_5198_6_seconds_with_four_kilowatts() -> None:
    """From -5 °C: t = -C/UA ln(1 - 25 UA / 4000) = 5198.6 s, then 2 kW hold it."""
    heat = held(np.full(3, 20.0), OUTDOOR_C)
    assert minutes_at_full_output(heat) * 60.0 == pytest.approx(5198.6, rel=HELD)


def test_holding_twenty_for_a_day_takes_48_kwh_and_4_14_kg_of_propane() -> None:
    """80 W/K x 25 K x 24 h = 48.0 kWh; at 0.90 and 12.87 kWh/kg 4.14 kg."""
    march = lump().march(
        start_c=np.array([20.0]), outdoor_c=np.full(24, OUTDOOR_C), heat_w=np.zeros((24, 1)),
        furnace=four_kilowatts(), setpoint_c=np.full(24, 20.0),
    )  # fmt: skip
    assert march.heat_j.sum() / KWH_J == pytest.approx(48.0, rel=HELD)
    assert march.fuel_j.sum() / KWH_J / 12.87 == pytest.approx(4.14, rel=HELD, abs=0.005)  # two printed decimals


@pytest.mark.parametrize(
    ("night_c", "day_kwh", "reheat_min"), [(np.nan, 34.84, 85.3), (12.0, 42.94, 34.7)], ids=["off", "floor of 12"]
)
def test_a_night_of_rest_saves_what_algebra_says(night_c: float, day_kwh: float, reheat_min: float) -> None:
    """Eight hours at rest from 20 °C, then 4 kW to 20 °C and holding; a floor is held by the thermostat."""
    heat = held(np.concatenate([np.full(8, night_c), np.full(16, 20.0)]), 20.0)
    assert heat.sum() == pytest.approx(day_kwh, rel=HELD, abs=0.005)  # two printed decimals
    assert minutes_at_full_output(heat[8:]) == pytest.approx(reheat_min, rel=HELD, abs=0.05 + 0.1)  # one decimal; band


def two_nodes() -> Network:
    return Network(
        capacity_j_per_k=np.array([60_000.0, 540_000.0]),
        edge_from=np.array([0, 0, 1]),
        edge_to=np.array([1, -1, -1]),
        edge_w_per_k=np.array([100.0, 60.0, 20.0]),
    )


def test_air_and_fabric_cool_together_as_the_two_eigenvalues_say() -> None:
    """Air 60 kJ/K and fabric 540 kJ/K, coupled by 100 W/K; start 20 °C, out -5 °C."""
    march = two_nodes().march(start_c=np.full(2, 20.0), outdoor_c=np.full(8, OUTDOOR_C), heat_w=np.zeros((8, 2)))
    expected = np.array([[6.530, 12.742], [2.990, 7.295], [-1.164, 0.904], [-4.115, -3.639]])
    # half of the last printed digit; the first steps are short enough that the air's fast mode adds less
    assert march.edge_c[[1, 2, 4, 8]] == pytest.approx(expected, abs=0.002)


def test_two_kilowatts_in_the_air_settle_where_the_steady_balance_says() -> None:
    """Two equations: 160 air - 100 fabric = 2000 - 300; -100 air + 120 fabric = -100."""
    hours = 200
    heat = np.tile([2000.0, 0.0], (hours, 1))
    march = two_nodes().march(start_c=np.zeros(2), outdoor_c=np.full(hours, OUTDOOR_C), heat_w=heat)
    assert march.edge_c[-1] == pytest.approx([21.087, 16.739], abs=0.0006)  # half of the last printed digit
