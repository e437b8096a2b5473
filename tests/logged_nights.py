"""Logged nights made by scipy from first principles, for the tests of learning; nothing here is the package's model."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from sample_vans import one_room
from scipy.integrate import solve_ivp

from budget.tour.starter import starter
from budget.van.model import Van

SHELL_M2, SHELL_U, GLASS_M2, GLASS_U, LEAK_CM2 = 30.0, 1.4, 2.5, 2.8, 60.0
AIR_J_PER_K, FABRIC_J_PER_K, COUPLING_W_PER_K = 90_000.0, 900_000.0, 120.0
WIND_M_PER_S = 2.0
PROPANE_J_PER_KG = 46.35e6  # lower heating value of propane, ISO 6976 rounded (from memory)
EFFICIENCY = 0.9


def plain_van() -> Van:
    """One room whose tanks, pipes and battery are so small or so far off that the room is all there is."""
    return one_room(
        cabin={
            "zones": [
                {
                    "name": "living",
                    "air_m3": 12.0,
                    "air_capacity_j_per_k": AIR_J_PER_K,
                    "fabric_capacity_j_per_k": FABRIC_J_PER_K,
                    "fabric_coupling_w_per_k": COUPLING_W_PER_K,
                    "fabric_loss_share": 0.0,
                    "leakage_cm2": LEAK_CM2,
                    "opaque": [{"name": "shell", "area_m2": SHELL_M2, "faces": "sides", "u_w_per_m2k": SHELL_U}],
                    "glazing": [{"name": "window", "area_m2": GLASS_M2, "faces": "sides", "u_w_per_m2k": GLASS_U}],
                }
            ]
        },
        water={
            "boiler": {"water_l": 0.5, "standing_loss_w": 1.0},
            "fresh": {"capacity_l": 1.0, "start_l": 1.0, "zone": "outdoors"},
            "waste": {"capacity_l": 1.0, "start_l": 0.0, "zone": "outdoors"},
            "pipes": {"content_l": 0.05, "coupling_w_per_k": 0.01, "outdoor_w_per_k": 0.0},
        },
        power={"battery": {"zone": "outdoors"}},
        heater={
            "stages": [
                {"output_w": watts, "efficiency_share": EFFICIENCY, "air_m3_per_h": 100.0 + watts / 30.0, "fan_w": 5.0}
                for watts in (1000.0, 4000.0)
            ],
        },
    )


@dataclass(frozen=True)
class Truth:
    """Factors on the plain van."""

    loss: float = 1.0
    glazing: float = 1.0
    leakage: float = 1.0
    capacity: float = 1.0
    coupling: float = 1.0
    efficiency: float = 1.0
    wind_m_per_s: float = WIND_M_PER_S
    sky_k: float = 0.0

    def film_w_per_m2k(self, wind_m_per_s: float) -> float:
        """ISO 6946 annex C: 4 + 4 v, and the radiation of emissivity 0.9 at 0 °C."""
        return 4.0 + 4.0 * wind_m_per_s + 0.9 * 4.0 * 5.670374e-8 * 273.15**3

    def shell_w_per_k(self, wind_m_per_s: float = WIND_M_PER_S) -> float:
        """Shell and glass: the U-value's standard outer resistance replaced by the film of this wind."""
        film = 1.0 / self.film_w_per_m2k(wind_m_per_s)
        return sum(
            area / (1.0 / u - 0.04 + film)
            for area, u in ((SHELL_M2, SHELL_U * self.loss), (GLASS_M2, GLASS_U * self.glazing))
        )

    def air_w_per_k(self, inside_c: float, outside_c: float, wind_m_per_s: float = WIND_M_PER_S) -> float:
        """ASHRAE Fundamentals 2009, chapter 16, equation 48, at sea level, dry air."""
        litres = LEAK_CM2 * self.leakage * np.sqrt(0.000145 * abs(inside_c - outside_c) + 0.000319 * wind_m_per_s**2)
        density = 101325.0 / (287.042 * (outside_c + 273.15))
        return float(litres / 1000.0 * density * 1006.0)

    def loss_w_per_k(self) -> float:
        """At 20 °C inside and 0 °C outside, in the wind that the log's remark states."""
        return self.shell_w_per_k() + self.air_w_per_k(20.0, 0.0)


def night(
    truth: Truth,
    *,
    hours: float = 14.0,
    heat_w: float = 0.0,
    heat_h: float = 0.0,
    held_c: float | None = None,
    first_c: float = 20.0,
    fabric_off_k: float = 0.0,
    minutes: float = 10.0,
    outside_c: float = -5.0,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Seconds, inside and outside temperature. Four hours at ``first_c`` come before; then ``heat_w`` for so long, or
    as much as holds ``held_c``.
    """
    seconds, inside, outside, _ = night_and_gas(
        truth, hours=hours, heat_w=heat_w, heat_h=heat_h, held_c=held_c, first_c=first_c, fabric_off_k=fabric_off_k,
        minutes=minutes, outside_c=outside_c,
    )  # fmt: skip
    return seconds, inside, outside


def night_and_gas(
    truth: Truth,
    *,
    hours: float,
    heat_w: float,
    heat_h: float,
    held_c: float | None,
    first_c: float,
    fabric_off_k: float,
    minutes: float = 10.0,
    outside_c: float = -5.0,
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """The same, with the gas burned since the first reading. [kg]"""

    def outdoors(t: float) -> float:
        return outside_c + 2.0 * np.cos(2.0 * np.pi * (t / 3600.0 + 2.0) / 24.0)

    def slope(t: float, y: np.ndarray) -> list[float]:
        air, fabric, _ = y
        out = outdoors(t)
        shell = truth.shell_w_per_k(truth.wind_m_per_s)
        lost = (shell + truth.air_w_per_k(air, out, truth.wind_m_per_s)) * (air - out)
        # A wall sees half the sky; the film's radiation at 0 °C (ISO 52016-1).
        lost += shell * 0.5 * 4.16 * truth.sky_k / truth.film_w_per_m2k(truth.wind_m_per_s)
        given = heat_w if t < 3600.0 * heat_h else 0.0
        if t < 0.0:
            given = max(0.0, 20_000.0 * (first_c - air))
        elif held_c is not None and t < 3600.0 * heat_h:
            given = max(0.0, 20_000.0 * (held_c - air))
        shared = COUPLING_W_PER_K * truth.coupling * (air - fabric)
        burned = given / (EFFICIENCY * truth.efficiency) / PROPANE_J_PER_KG
        return [(given - lost - shared) / AIR_J_PER_K, shared / (FABRIC_J_PER_K * truth.capacity), burned]

    y, parts = np.array([first_c, first_c + fabric_off_k, 0.0]), []
    times = np.arange(0.0, 3600.0 * hours + 1.0, 60.0 * minutes)
    spans = [(-4.0 * 3600.0, 0.0), (0.0, 3600.0 * heat_h), (3600.0 * heat_h, 3600.0 * hours)]
    for begin, end in spans:
        if end <= begin:
            continue
        at = times[(times >= begin) & (times < end)] if begin >= 0.0 else np.array([])
        if end == spans[-1][1]:
            at = np.append(at, times[times >= end])
        part = solve_ivp(slope, (begin, end), y, method="LSODA", rtol=1e-7, atol=1e-7, dense_output=True)
        if len(at):
            parts.append(np.vstack([at, part.sol(at)[[0, 2]]]))
        y = part.y[:, -1] * np.array([1.0, 1.0, 1.0 if begin >= 0.0 else 0.0])
    seconds, inside, burned = np.concatenate(parts, axis=1)
    return seconds, inside, np.array([outdoors(t) for t in seconds]), burned


def write_log(
    path: Path, seconds: np.ndarray, inside_c: np.ndarray, outside_c: np.ndarray, *, start: str = "2027-01-20 18:00",
    **columns: Any,
) -> Path:  # fmt: skip
    """A log file with UTC offsets; further columns as arrays, NaN for an empty cell."""
    stamps = pd.Timestamp(start, tz="Europe/Riga") + pd.to_timedelta(seconds, unit="s")
    lines = [
        f"# wind_m_per_s: {WIND_M_PER_S}",
        "# sky_delta_k: 0",
        ",".join(["time", "inside_c", "outside_c", *columns]),
    ]
    for k, stamp in enumerate(stamps):
        extra = ["" if np.isnan(v[k]) else f"{v[k]:.4f}" for v in columns.values()]
        lines.append(",".join([stamp.isoformat(), f"{inside_c[k]:.3f}", f"{outside_c[k]:.3f}", *extra]))
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def write_tour(folder: Path) -> Path:
    """A tour file of six nights in the van of these nights, given in full in a file of its own."""
    van = plain_van().model_dump(mode="json", exclude_none=True)
    (folder / "van.toml").write_text("".join(f"{name} = {_toml(value)}\n" for name, value in van.items()), "utf-8")
    top, rest = starter("quick").split("[van]")
    stops = rest[rest.index("[[stops]]\nplace") :]
    path = folder / "my-tour.toml"
    path.write_text(f'van = "van.toml"\n{top}\n{stops}', encoding="utf-8")
    return path


def _toml(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f'"{name}" = {_toml(inner)}' for name, inner in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    return json.dumps(value)
