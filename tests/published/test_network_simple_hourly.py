"""The simple hourly method of ISO 13790:2008, Annex C, written down again and set beside the general network.

Source: ISO 13790:2008, equations C.1 to C.11 and clause 12.2.2 (five conductances, one capacity, Crank and Nicolson by
the hour; from memory). Weather: January of the Greensboro typical year that the pvlib wheel carries.
"""

import warnings
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pvlib
import pytest

from budget.engine.network import Furnace, Network

FLOOR_M2 = 20.0
WHOLE_M2 = 4.5 * FLOOR_M2  # ISO 13790 7.2.2.2
SURFACE_W_PER_M2K, MASS_W_PER_M2K = 3.45, 9.1
MASS_M2, MASS_J_PER_K = 2.5 * FLOOR_M2, 165_000.0 * FLOOR_M2  # class "medium", ISO 13790 Table 12
VENTILATION_W_PER_K, WINDOWS_W_PER_K, OPAQUE_W_PER_K = 12.0, 8.0, 30.0
GAINS_W, SET_C, SPLIT = 120.0, 20.0, 0.5


@dataclass(frozen=True)
class SimpleHourly:
    """Annex C by the hour, everything by its own equation."""

    h_ve: float = VENTILATION_W_PER_K
    h_w: float = WINDOWS_W_PER_K
    h_is: float = SURFACE_W_PER_M2K * WHOLE_M2
    h_ms: float = MASS_W_PER_M2K * MASS_M2

    def step(self, mass_c: float, outdoor_c: float, sun_w: float, heat_w: float) -> tuple[float, float]:
        """Air of the hour and mass at its end. [°C]"""
        h_em = 1.0 / (1.0 / OPAQUE_W_PER_K - 1.0 / self.h_ms)  # 12.2.2, eq. 63
        to_air = 0.5 * GAINS_W  # C.1
        rest = 0.5 * GAINS_W + sun_w
        to_mass = MASS_M2 / WHOLE_M2 * rest  # C.2
        to_surface = (1.0 - MASS_M2 / WHOLE_M2 - self.h_w / (9.1 * WHOLE_M2)) * rest  # C.3
        h1 = 1.0 / (1.0 / self.h_ve + 1.0 / self.h_is)  # C.6
        h2 = h1 + self.h_w  # C.7
        h3 = 1.0 / (1.0 / h2 + 1.0 / self.h_ms)  # C.8
        air_side = h1 * ((to_air + heat_w) / self.h_ve + outdoor_c)
        total = to_mass + h_em * outdoor_c + h3 * (to_surface + self.h_w * outdoor_c + air_side) / h2  # C.5
        c = MASS_J_PER_K / 3600.0
        new_c = (mass_c * (c - 0.5 * (h3 + h_em)) + total) / (c + 0.5 * (h3 + h_em))  # C.4
        mean_c = 0.5 * (mass_c + new_c)  # C.9
        surface_c = (self.h_ms * mean_c + to_surface + self.h_w * outdoor_c + air_side) / (
            self.h_ms + self.h_w + h1
        )  # C.10
        air_c = (self.h_is * surface_c + self.h_ve * outdoor_c + to_air + heat_w) / (self.h_is + self.h_ve)  # C.11
        return air_c, new_c

    def run(self, outdoor_c: np.ndarray, sun_w: np.ndarray, held: bool) -> tuple[np.ndarray, np.ndarray]:
        """Air [°C] and heat [W] by hour; the need lies on the line from no heat to ten watts a square metre (C.4.2)."""
        mass_c, air, heat = SET_C, [], []
        for out_c, sun in zip(outdoor_c, sun_w, strict=True):
            free_c, after_c = self.step(mass_c, out_c, sun, 0.0)
            need_w = 0.0
            if held and free_c < SET_C:
                trial_w = 10.0 * FLOOR_M2
                trial_c, _ = self.step(mass_c, out_c, sun, trial_w)
                need_w = trial_w * (SET_C - free_c) / (trial_c - free_c)
                free_c, after_c = self.step(mass_c, out_c, sun, need_w)
            mass_c = after_c
            air.append(free_c)
            heat.append(need_w)
        return np.array(air), np.array(heat)


def january() -> tuple[np.ndarray, np.ndarray]:
    path = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of the reader, about dates
        frame, _ = pvlib.iotools.read_tmy3(path, coerce_year=1990, map_variables=True)
    return frame["temp_air"].to_numpy(dtype=float)[:744], frame["ghi"].to_numpy(dtype=float)[:744] * 0.8


def same_room(outdoor_c: np.ndarray, sun_w: np.ndarray, held: bool) -> tuple[np.ndarray, np.ndarray]:
    """The five conductances as a network: air (a token of 500 J/K), surface (massless), mass."""
    simple = SimpleHourly()
    rest = 0.5 * GAINS_W + sun_w
    heat = np.zeros((744, 3))
    heat[:, 0] = 0.5 * GAINS_W
    heat[:, 1] = (1.0 - MASS_M2 / WHOLE_M2 - simple.h_w / (9.1 * WHOLE_M2)) * rest
    heat[:, 2] = MASS_M2 / WHOLE_M2 * rest
    room = Network(
        capacity_j_per_k=np.array([500.0, 0.0, MASS_J_PER_K]),
        edge_from=np.array([0, 0, 1, 1, 2]),
        edge_to=np.array([-1, 1, -1, 2, -1]),
        edge_w_per_k=np.array(
            [simple.h_ve, simple.h_is, simple.h_w, simple.h_ms, 1.0 / (1.0 / OPAQUE_W_PER_K - 1.0 / simple.h_ms)]
        ),
    )
    furnace = Furnace(
        sensor=0, share=np.eye(3)[0], outputs_w=np.array([0.0, 2500.0]), efficiency=np.ones(2), band_k=0.02
    )
    march = room.march(
        start_c=np.full(3, SET_C), outdoor_c=outdoor_c, heat_w=heat, furnace=furnace if held else None,
        setpoint_c=np.full(744, SET_C) if held else None,
    )  # fmt: skip
    return march.mean_c[:, 0], march.heat_j / 3600.0


def test_a_free_running_room_follows_the_simple_hourly_method() -> None:
    """Air of each hour of January; the method's mass moves by Crank and Nicolson, ours within the hour."""
    outdoor_c, sun_w = january()
    theirs_c, _ = SimpleHourly().run(outdoor_c, sun_w, held=False)
    ours_c, _ = same_room(outdoor_c, sun_w, held=False)
    # the mass moves by at most half a kelvin an hour; the trapeze's mean of it is within a fiftieth of that
    assert np.max(np.abs(ours_c - theirs_c)) < 0.01


def test_heat_need_by_month_and_hour_is_that_of_the_simple_hourly_method() -> None:
    """Held at 20 °C: the month within the thermostat's half band (0.01 K of 15 K), an hour within 1 % of the peak."""
    outdoor_c, sun_w = january()
    _, theirs_w = SimpleHourly().run(outdoor_c, sun_w, held=True)
    _, ours_w = same_room(outdoor_c, sun_w, held=True)
    assert ours_w.sum() == pytest.approx(theirs_w.sum(), rel=0.001)
    # an hour in which the room only partly needs heat is heated or not as a whole by the method
    steady = (theirs_w > 50.0) & (np.roll(theirs_w, 1) > 50.0)
    assert np.max(np.abs(ours_w - theirs_w)[steady]) < 0.01 * theirs_w.max()
