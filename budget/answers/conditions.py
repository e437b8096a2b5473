"""Steady conditions for the engine: the same weather hour after hour, and a van whose gas and charge never end.

Heater size, hook-up and ducts are asked of the engine itself and not of a second model.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from budget.engine import arrays
from budget.engine.batch import Many, run_one
from budget.engine.hour_arrays import REFILL_C
from budget.engine.stepping import Floats
from budget.engine.supply import carried_w, thin_air
from budget.engine.van_arrays import BuiltVan
from budget.physics.burner import stage_value
from budget.physics.properties import (
    STANDARD_PRESSURE_PA,
    humidity_ratio,
    pressure_at_altitude_pa,
    saturation_pressure_pa,
)
from budget.van.gas import Bottle, Gas
from budget.van.heater import Stage
from budget.van.model import Van

HUMIDITY_SHARE = 0.85
SETTLING_H = 240  # ten days: five time constants of the slowest part, a full fresh tank in its zone
LARGE_W = 50_000.0
SPAN_S = 3600.0
AT_ONCE = {"band_k": 0.01, "start_loss_kj": 0.0, "min_on_s": 0.0, "min_off_s": 0.0}  # a heater that gives what is asked


@dataclass(frozen=True, kw_only=True)
class Conditions:
    """What stands around the van: weather at the van, screens and openings; no sun, an overcast sky, nobody inside.

    ``closed`` is the share of the openings that is closed: 1 every one, 0 none. Wind is at the van.
    """

    outdoor_c: float
    wind_m_per_s: float = 2.0
    altitude_m: float = 0.0
    screens_share: float = 1.0
    closed_share: float = 1.0

    def rows(self, hours: int) -> Floats:
        """The weather rows that the march reads, shape (hours, columns)."""
        pressure = pressure_at_altitude_pa(self.altitude_m)
        rows = np.zeros((hours, arrays.WEATHER_COLUMNS))
        rows[:, arrays.TEMP_C] = self.outdoor_c
        rows[:, arrays.WIND_M_PER_S] = self.wind_m_per_s
        rows[:, arrays.HUMIDITY_RATIO] = humidity_ratio(
            HUMIDITY_SHARE * saturation_pressure_pa(self.outdoor_c), pressure
        )
        rows[:, arrays.PRESSURE_PA] = pressure
        return rows

    def hours(self, built: BuiltVan, hours: int, *, set_c: float, start_c: float, **fields: Any) -> Any:
        """Hour records with one room setpoint (NaN off) and the boiler off; ``fields`` are set as they are given."""
        rows = np.zeros(hours, dtype=arrays.HOUR).view(np.recarray)
        rows["set_c"] = set_c
        rows["water_set_c"] = np.nan
        rows["heater_allowed"] = 1
        rows["gas_open"] = 1
        rows["people_zone"] = -1
        rows["screens"] = self.screens_share
        rows["closed"][:, : len(built.van.cabin.openings)] = self.closed_share
        rows["refill_c"] = REFILL_C
        rows["start_c"] = start_c
        for name, value in fields.items():
            rows[name] = value
        return rows


def air_ratio(altitude_m: float) -> float:
    """Air pressure of an altitude over that at sea level, standard atmosphere. [–]"""
    return pressure_at_altitude_pa(altitude_m) / STANDARD_PRESSURE_PA


@dataclass(frozen=True, eq=False)
class Guard:
    """The guard on the supply air of a van, the engine's own, asked for one temperature.

    ``air_ratio`` is the air pressure over that at sea level.
    """

    built: BuiltVan
    air_ratio: float = 1.0

    def carried_w(self, return_c: float) -> float:
        """Greatest heat to the air while it comes back at a temperature; without end where no limit is met. [W]"""
        burner = self.built.burner.copy()[0]
        outside = np.zeros(arrays.WEATHER_COLUMNS)
        outside[arrays.PRESSURE_PA] = self.air_ratio * STANDARD_PRESSURE_PA
        thin_air(burner, outside)
        return float(carried_w(burner, return_c))


def no_draws() -> Any:
    """Nobody draws water."""
    return np.zeros(0, dtype=arrays.DRAW).view(np.recarray)


def march(built: BuiltVan, conditions: Conditions, hours: int, **fields: Any) -> Many:
    """March a van through steady conditions; ``fields`` as in :meth:`Conditions.hours`."""
    return run_one(built, conditions.hours(built, hours, **fields), conditions.rows(hours), no_draws())


def unlimited(van: Van) -> Van:
    """The van with gas and charge without end, its fresh tank empty and no frost drain valve: the heater decides.

    Eight wide bottles stand outdoors under a regulator that needs no pressure; propane boils down to -42 °C.
    """
    bottle = Bottle(name="endless", net_kg=100.0, tare_kg=150.0, diameter_m=1.0)
    gas = Gas(bottles=(bottle,) * 8, changeover="parallel", regulator_need_bar=0.0, regulator_kg_per_h=20.0,
              locker_zone="outdoors")  # fmt: skip
    battery = van.power.battery.model_copy(
        update={"chemistry": "agm", "capacity_ah": 1e6, "start_share": 1.0, "cut_out_share": 0.0, "peukert_factor": 1.0}
    )
    loads = {"battery": battery, "loads": ()}
    water = {"fresh": van.water.fresh.model_copy(update={"start_l": 0.0}), "drain_valve": None}
    return van.model_copy(
        update={
            "gas": gas,
            "power": van.power.model_copy(update=loads),
            "water": van.water.model_copy(update=water),
            "fridge": None,
        }
    )


def with_output(van: Van, output_w: float, at_w: float | None = None) -> Van:
    """The van with a heater that gives any heat up to an output.

    Its air and fan are those of the fitted heater at ``at_w``; none: of its greatest stage.
    """
    top = _at_output(van.heater.stages, van.heater.rated_w if at_w is None else at_w)
    stages = tuple(top.model_copy(update={"output_w": watts}) for watts in (1.0, output_w))
    heater = van.heater.model_copy(
        update={
            "stages": stages,
            **AT_ONCE,
            "control": "modulating",
            "altitude_compensated": True,
            "supply_limit_c": np.inf,
        }
    )
    return van.model_copy(update={"heater": heater})


def _at_output(stages: tuple[Stage, ...], output_w: float) -> Stage:
    """The operating point at an output: air, fan and its pressure between the stages."""
    outputs = np.array([stage.output_w for stage in stages])
    between = {
        name: stage_value(output_w, outputs, np.array([getattr(stage, name) for stage in stages]))
        for name in ("air_m3_per_h", "fan_w", "fan_pressure_pa")
    }
    return stages[-1].model_copy(update={**between, "fan_free_m3_per_h": None})


@dataclass(frozen=True, kw_only=True)
class Settled:
    """A steady state: heat of burner and fan to the air [W], what the runs lose to outdoors [W], zones [°C].

    ``edge_w`` is the heat through each of the built van's edges, in their order; ``parts_w`` what tanks, pipes and
    battery pass to outdoors.
    """

    heat_w: float
    fan_w: float
    duct_loss_w: float
    parts_w: float
    edge_w: tuple[float, ...]
    zone_c: Mapping[str, float]
    fabric_c: Mapping[str, float]


def settled(built: BuiltVan, many: Many) -> Settled:
    """The last hour of a run, read from its flows and stocks."""
    assert many.flows is not None and many.stocks is not None
    flow, stock = many.flows[-1], many.stocks[-1]
    at, stocks = built.flows, built.stocks
    nodes = dict(zip(built.node_names, stock[stocks.node_c : stocks.node_c + built.size.nodes].tolist(), strict=True))
    edges = flow[at.edge_j : at.edge_j + built.size.edges] / SPAN_S
    fan = flow[at.fan_heat_j : at.fan_heat_j + built.size.nodes].sum() / SPAN_S
    gains_of_runs = flow[at.duct_j : at.duct_j + built.size.ducts].sum() / SPAN_S
    parts = ("boiler", "fresh", "waste", "pipes", "battery")
    return Settled(
        heat_w=float(flow[at.gas_heat_air_j] + flow[at.electric_air_j]) / SPAN_S,
        fan_w=float(fan),
        duct_loss_w=float(flow[at.duct_loss_j]) / SPAN_S - float(gains_of_runs),
        parts_w=float(sum(w for w, e in zip(edges, built.edges, strict=True) if e.b is None and e.a in parts)),
        edge_w=tuple(edges.tolist()),
        zone_c={zone: nodes[f"{zone}_air"] for zone in built.zone_names},
        fabric_c={zone: nodes[f"{zone}_fabric"] for zone in built.zone_names},
    )


def hold(built_large: BuiltVan, conditions: Conditions, inside_c: float) -> Settled:
    """What holds the sensor's zone at a temperature: the steady state under a heater as large as it takes."""
    start_c = max(inside_c, conditions.outdoor_c)
    return settled(built_large, march(built_large, conditions, SETTLING_H, set_c=inside_c, start_c=start_c))
