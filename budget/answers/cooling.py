"""How a van cools after the heater stops, by hand: two nodes and two time constants."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from budget.answers.detail import Detail
from budget.engine import arrays as A
from budget.engine.stepping import Floats
from budget.van.derived import loss_w_per_k

LEAST_LEAD_K = 3.0  # below this there is little to cool


@dataclass(frozen=True, kw_only=True)
class TwoNodes:
    """The sensor's zone as air with light contents and linings with furniture.

    ``direct_w_per_k`` leaves the air for outdoors (glass, air exchange, the zones beside it and part of the walls),
    ``shell_w_per_k`` leaves the linings, ``coupling_w_per_k`` lies between the two. ``lining_j_per_k`` counts what is
    stored in the zones beside it too, by how warm they are. Tanks, boiler, people and sun are left out.
    """

    air_j_per_k: float
    lining_j_per_k: float
    direct_w_per_k: float
    coupling_w_per_k: float
    shell_w_per_k: float

    @classmethod
    def at_stop(cls, run: Detail, hour: int) -> TwoNodes | None:
        """From the van's own W/K and J/K in the weather of an hour, openings closed; None where it is not warmer inside
        than outdoors."""
        van, w_per_k = run.van, {(edge.a, edge.b): edge.w_per_k for edge in run.built.edges}
        zone = van.cabin.zones[van.cabin.zone_index(van.heater.sensor_zone)]
        outdoor_c, wind = float(run.rows[hour, A.TEMP_C]), float(run.rows[hour, A.WIND_M_PER_S])
        air, fabric = f"{zone.name}_air", f"{zone.name}_fabric"
        inside_c = float(run.node_c(air)[hour])
        lead_k = float(run.node_c(fabric)[hour]) - outdoor_c
        if min(inside_c - outdoor_c, lead_k) < LEAST_LEAD_K:
            return None
        stored_j = 0.0
        for each in van.cabin.zones:
            parts = [(f"{each.name}_fabric", each.fabric_capacity_j_per_k)]
            if each is not zone:
                parts.append((f"{each.name}_air", each.air_capacity_j_per_k))
            stored_j += sum(held * max(0.0, float(run.node_c(name)[hour]) - outdoor_c) for name, held in parts)
        coupling, shell = w_per_k[air, fabric], w_per_k.get((fabric, None), 0.0)
        loss = loss_w_per_k(van, float(run.hours["screens"][hour]), inside_c, outdoor_c, wind)
        return cls(
            air_j_per_k=zone.air_capacity_j_per_k,
            lining_j_per_k=stored_j / lead_k,
            direct_w_per_k=loss - shell * coupling / (shell + coupling),
            coupling_w_per_k=coupling,
            shell_w_per_k=shell,
        )

    @property
    def loss_w_per_k(self) -> float:
        """All that leaves a room long held warm. [W/K]"""
        lining = self.coupling_w_per_k * self.shell_w_per_k / (self.coupling_w_per_k + self.shell_w_per_k)
        return self.direct_w_per_k + lining

    @property
    def rates_per_s(self) -> tuple[float, float]:
        """The fast and the slow rate at which differences from outdoors die away: roots of the two balances."""
        a = (self.direct_w_per_k + self.coupling_w_per_k) / self.air_j_per_k
        b = (self.shell_w_per_k + self.coupling_w_per_k) / self.lining_j_per_k
        product = self.coupling_w_per_k**2 / (self.air_j_per_k * self.lining_j_per_k)
        middle, half = 0.5 * (a + b), math.sqrt(0.25 * (a - b) ** 2 + product)
        return middle + half, middle - half

    @property
    def air_h(self) -> float:
        """Time constant of the air with its light contents, towards the linings. [h]"""
        return 1.0 / self.rates_per_s[0] / 3600.0

    @property
    def lining_h(self) -> float:
        """Time constant of the linings, the air with them. [h]"""
        return 1.0 / self.rates_per_s[1] / 3600.0

    @property
    def fast_share(self) -> float:
        """Share of the air's lead over outdoors that goes with the fast constant, from a room long held warm."""
        fast, slow = self.rates_per_s
        lining = self.coupling_w_per_k / (self.coupling_w_per_k + self.shell_w_per_k)
        falls = (self.direct_w_per_k + self.coupling_w_per_k * (1.0 - lining)) / self.air_j_per_k
        return (falls - slow) / (fast - slow)

    def air_c(self, after_h: Floats, inside_c: float, outdoor_c: float) -> Floats:
        """Air temperature at hours after the stop. [°C]"""
        fast, slow = self.rates_per_s
        seconds = 3600.0 * np.asarray(after_h, dtype=float)
        left = self.fast_share * np.exp(-fast * seconds) + (1.0 - self.fast_share) * np.exp(-slow * seconds)
        return np.asarray(outdoor_c + (inside_c - outdoor_c) * left)
