"""Four zones with their linings, heated by one modulating burner, against scipy's adaptive solver within 0.1 K."""

from __future__ import annotations

import numpy as np
from scipy.integrate import solve_ivp

from budget.engine.network import Furnace, Network

HOURS = 96
LIVING, CAB, WET_ROOM, GARAGE = range(4)  # air; the lining of each stands four places on
CAPACITY = np.array([110e3, 30e3, 12e3, 20e3, 700e3, 150e3, 60e3, 120e3])  # J/K
EDGES = [
    *((zone, zone + 4, g) for zone, g in enumerate((120.0, 45.0, 15.0, 25.0))),  # air to lining
    *((zone, -1, g) for zone, g in enumerate((35.0, 30.0, 3.0, 9.0))),  # air to outdoors
    *((zone + 4, -1, g) for zone, g in enumerate((14.0, 9.0, 1.5, 5.0))),  # lining to outdoors
    (LIVING, CAB, 9.0), (LIVING, WET_ROOM, 25.0), (LIVING, GARAGE, 4.0),
]  # fmt: skip
SHARE = np.array([0.72, 0.12, 0.10, 0.06, 0.0, 0.0, 0.0, 0.0])
RATED_W, BAND_K, STEPS = 4000.0, 0.5, 12
CLOCK = np.arange(HOURS) % 24
OUTDOOR_C = -8.0 + 5.0 * np.sin(2.0 * np.pi * (CLOCK - 9.0) / 24.0) - 0.1 * np.arange(HOURS)
SETPOINT_C = np.where((CLOCK >= 22) | (CLOCK < 7), 14.0, 20.0)
START_C = np.array([15.0, 4.0, 12.0, 6.0, 14.0, 3.0, 11.0, 5.0])


def gains_w() -> np.ndarray:
    """Somebody in the living area in the evening, some sun on the cab's lining at noon."""
    heat = np.zeros((HOURS, 8))
    heat[:, LIVING] = 150.0 * ((CLOCK >= 17) & (CLOCK < 23))
    heat[:, CAB + 4] = 200.0 * ((CLOCK >= 11) & (CLOCK < 14))
    return heat


def reference_c() -> np.ndarray:
    """Temperatures at the hour edges: each hour integrated to a relative 1e-9, the burner proportional in its band."""
    matrix, out = np.zeros((8, 8)), np.zeros(8)
    for a, b, g in EDGES:
        matrix[a, a] -= g
        if b < 0:
            out[a] += g
        else:
            matrix[b, b] -= g
            matrix[a, b] += g
            matrix[b, a] += g
    gains, state, found = gains_w(), START_C.copy(), [START_C]
    for h in range(HOURS):

        def rate(_: float, c: np.ndarray, h: int = h) -> np.ndarray:
            wanted_w = np.clip((SETPOINT_C[h] + 0.5 * BAND_K - c[LIVING]) / BAND_K, 0.0, 1.0) * RATED_W
            return np.asarray((matrix @ c + out * OUTDOOR_C[h] + gains[h] + SHARE * wanted_w) / CAPACITY)

        state = solve_ivp(rate, (0.0, 3600.0), state, method="Radau", rtol=1e-9, atol=1e-9, max_step=60.0).y[:, -1]
        found.append(state)
    return np.array(found)


def test_four_zones_follow_scipys_solver_within_a_tenth_of_a_kelvin() -> None:
    """Every zone and lining at every hour edge of four days; the promise for a modulating burner is 0.05 K."""
    network = Network(
        capacity_j_per_k=CAPACITY,
        edge_from=np.array([a for a, _, _ in EDGES]),
        edge_to=np.array([b for _, b, _ in EDGES]),
        edge_w_per_k=np.array([g for _, _, g in EDGES]),
    )
    outputs = np.linspace(0.0, RATED_W, STEPS)
    furnace = Furnace(sensor=LIVING, share=SHARE, outputs_w=outputs, efficiency=np.full(STEPS, 0.9), band_k=BAND_K)
    march = network.march(
        start_c=START_C, outdoor_c=OUTDOOR_C, heat_w=gains_w(), furnace=furnace, setpoint_c=SETPOINT_C
    )
    exact = reference_c()
    assert np.ptp(exact[:, CAB]) > 5.0  # the case moves
    assert np.max(np.abs(march.edge_c - exact)) < 0.05
