"""Conduction through a wall built from many nodes, against Fourier's series and the periodic matrix method."""

import cmath
import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy.optimize import brentq

from budget.engine.network import Network

CELLS = 24


def plane_wall_centre(biot: float, fourier: float) -> float:
    """Centre of a plane wall cooled on both sides, as a share of its first excess temperature (Carslaw and Jaeger).

    Sum over the roots of z tan z = Bi of 4 sin z / (2 z + sin 2 z) exp(-z² Fo).
    """
    total = 0.0
    for k in range(12):
        low = k * math.pi
        z = brentq(lambda v: v * math.sin(v) - biot * math.cos(v), low + 1e-9, low + math.pi / 2 - 1e-12)
        total += 4.0 * math.sin(z) / (2.0 * z + math.sin(2.0 * z)) * math.exp(-z * z * fourier)
    return total


def test_the_series_gives_the_handbook_table_of_one_term() -> None:
    """Heat-transfer handbooks tabulate z = 0.8603 and C = 1.1191 for Bi = 1, 1.4289 and 1.2620 for Bi = 10 (memory)."""
    for biot, z, c in ((1.0, 0.8603, 1.1191), (10.0, 1.4289, 1.2620)):
        # the second term is exp(-3.4² x 0.5) / exp(-0.86² x 0.5): below 0.5 %
        assert plane_wall_centre(biot, 0.5) == pytest.approx(c * math.exp(-z * z * 0.5), rel=0.005)


@pytest.mark.parametrize("biot", [0.2, 1.0, 10.0])
def test_a_wall_of_many_nodes_cools_like_fouriers_series(biot: float) -> None:
    """Half a 0.2 m wall of k 1.0 W/mK and 2.0 MJ/m³K, its middle insulated by symmetry, out at 0 °C from 20 °C."""
    half_m, k, heat_j_per_m3k = 0.1, 1.0, 2.0e6
    film = biot * k / half_m
    dx = half_m / CELLS
    edge_from = np.arange(CELLS)
    edge_to = np.append(np.arange(1, CELLS), -1)
    g = np.full(CELLS, k / dx)
    g[-1] = 1.0 / (1.0 / film + 0.5 * dx / k)
    wall = Network(
        capacity_j_per_k=np.full(CELLS, heat_j_per_m3k * dx), edge_from=edge_from, edge_to=edge_to, edge_w_per_k=g
    )
    hours = 8
    march = wall.march(start_c=np.full(CELLS, 20.0), outdoor_c=np.zeros(hours), heat_w=np.zeros((hours, CELLS)))
    diffusivity = k / heat_j_per_m3k
    for hour in (1, 2, 4, 8):
        fourier = diffusivity * hour * 3600.0 / half_m**2
        # cells of 1/24 of the half wall and a centre half a cell off the middle: 0.1 % of the 20 K
        assert march.edge_c[hour, 0] / 20.0 == pytest.approx(plane_wall_centre(biot, fourier), abs=0.002)


# Layers from the inside: thickness m, conductivity W/mK, heat capacity J/m³K (ISO 10456 round values).
WALLS = {
    "concrete, insulated outside": [(0.20, 1.8, 2.4e6), (0.10, 0.040, 30_000.0)],
    "steel, foam, plywood as in a van": [(0.009, 0.13, 800_000.0), (0.032, 0.036, 50_000.0), (0.001, 50.0, 3.5e6)],
}
RSI, RSE = 0.13, 0.04


def transfer_matrix(layers: list[tuple[float, float, float]], period_s: float) -> np.ndarray:
    """ISO 13786:2017 clause 7: product of the layers' heat transfer matrices, outermost first, films included."""
    whole = np.array([[1.0, -RSI], [0.0, 1.0]], dtype=complex)
    for thickness, k, heat in layers:
        xi = thickness / math.sqrt(k * period_s / (math.pi * heat))
        p = cmath.sqrt(2j) * xi  # (1 + i) xi
        a = cmath.cosh(p)
        b = -thickness / (k * p) * cmath.sinh(p)
        c = -k * p / thickness * cmath.sinh(p)
        whole = np.array([[a, b], [c, a]]) @ whole
    return np.array([[1.0, -RSE], [0.0, 1.0]]) @ whole


def wall_between(layers: list[tuple[float, float, float]], reverse: bool) -> tuple[Network, float]:
    """One square metre between a held room (last node) and the swinging outdoors, and the room's film edge."""
    order = layers[::-1] if reverse else layers
    first_film, last_film = (RSE, RSI) if reverse else (RSI, RSE)
    share = 14
    half_k_per_w, capacity = [], []
    for thickness, k, heat in order:
        half_k_per_w += [0.5 * thickness / share / k] * share if thickness > 0.002 else [0.5 * thickness / k]
        capacity += [heat * thickness / share] * share if thickness > 0.002 else [heat * thickness]
    n = len(capacity)
    held = n
    a, b, g = [held], [0], [1.0 / (first_film + half_k_per_w[0])]
    for i in range(n - 1):
        a.append(i)
        b.append(i + 1)
        g.append(1.0 / (half_k_per_w[i] + half_k_per_w[i + 1]))
    a.append(n - 1)
    b.append(-1)
    g.append(1.0 / (half_k_per_w[-1] + last_film))
    return (
        Network(
            capacity_j_per_k=np.array([*capacity, 1e13]), edge_from=np.array(a), edge_to=np.array(b),
            edge_w_per_k=np.array(g),
        ),
        g[0],
    )  # fmt: skip


def phasor(values: np.ndarray) -> complex:
    """First harmonic of the last of several days of hour means."""
    day = values[-24:]
    angle = 2.0 * np.pi * (np.arange(24) + 0.5) / 24.0
    return complex(2.0 / 24.0 * np.sum(day * np.exp(-1j * angle)))


def seen_by_the_hour(response: Callable[[float], complex]) -> complex:
    """What hourly steps and hour means make of a response at one cycle a day.

    Steps and means each weigh the harmonic n by sinc(n / 24); harmonics 24 m + 1 fold onto the first.
    """
    total = 0j
    for m in range(-40, 41):
        n = 1 + 24 * m
        value = response(86_400.0 / abs(n))
        total += np.sinc(n / 24.0) ** 2 * (value if n > 0 else value.conjugate())
    return complex(total)


@pytest.mark.parametrize("wall", WALLS)
def test_a_daily_wave_comes_through_a_wall_as_iso_13786_says(wall: str) -> None:
    """Periodic thermal transmittance Y12 = -1 / Z12 with its lag, and the inner admittance Y11 = -Z11 / Z12.

    Outdoors steps hourly through ± 10 K; flow into the held side over the amplitude of the swinging side.
    """
    layers = WALLS[wall]

    def transmittance(period_s: float) -> complex:
        return complex(-1.0 / transfer_matrix(layers, period_s)[0, 1])

    def admittance(period_s: float) -> complex:
        z = transfer_matrix(layers, period_s)
        return complex(-z[0, 0] / z[0, 1])

    hours = 24 * 12
    swing_c = 10.0 * np.cos(2.0 * np.pi * (np.arange(hours) + 0.5) / 24.0)
    drive = phasor(swing_c)
    network, film = wall_between(layers, reverse=False)
    n = len(network.capacity_j_per_k)
    march = network.march(start_c=np.zeros(n), outdoor_c=swing_c, heat_w=np.zeros((hours, n)))
    through = phasor(film * (march.mean_c[:, 0] - march.mean_c[:, -1])) / drive
    expected = seen_by_the_hour(transmittance)
    # fourteen cells a layer of at most four penetration depths
    assert abs(through) == pytest.approx(abs(expected), rel=0.005)
    assert cmath.phase(through / expected) * 24.0 / (2.0 * math.pi) == pytest.approx(0.0, abs=0.05)

    network, _ = wall_between(layers, reverse=True)
    march = network.march(start_c=np.zeros(n), outdoor_c=swing_c, heat_w=np.zeros((hours, n)))
    taken = phasor(network.edge_w_per_k[-1] * (swing_c - march.mean_c[:, n - 2])) / drive
    assert abs(taken) == pytest.approx(abs(seen_by_the_hour(admittance)), rel=0.005)
