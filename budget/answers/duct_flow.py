"""The fan against the runs: flow, velocity, pressure, supply temperature and heat of every outlet at one stage."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from budget.engine.warm_air import RETURN_DENSITY_KG_PER_M3, all_open, fan_power_w, fan_scale, solve
from budget.physics import ducts as of_ducts
from budget.physics.burner import output_at_density
from budget.physics.properties import AIR_CP_J_PER_KG_K, ZERO_C_K
from budget.van.heater import Duct, Stage
from budget.van.model import Van

COUNTED_AT_C = 20.0  # air of the rating plate's flow, and of its density on the way back


@dataclass(frozen=True, kw_only=True)
class Outlet:
    """One run at one stage. ``heat_w`` is against the air of its zone, ``loss_w`` what the run gave off before.

    ``flow_m3_per_h`` is counted at 20 °C, as a rating plate does; ``velocity_m_per_s`` is that of the air as warm as it
    comes out, which a meter at the outlet reads.
    """

    name: str
    zone: str
    flow_m3_per_h: float
    velocity_m_per_s: float
    pressure_pa: float
    supply_c: float
    heat_w: float
    loss_w: float
    loss_to: str


@dataclass(frozen=True, kw_only=True)
class StageFlow:
    """One stage: fan against runs. Heat shares are of what all zones get from outlets and runs together.

    ``flow_m3_per_h`` is counted at 20 °C, ``warm_m3_per_h`` at ``supply_c``, which is None where no air flows at all.

    First law: outlets + runs = burner to air + fan + return air, each with its sign; ``return_air_w`` is what the air
    of the living area brings beyond the zones' own air (negative where the zones are warmer).
    """

    output_w: float
    fan_w: float
    flow_m3_per_h: float
    warm_m3_per_h: float
    pressure_pa: float
    return_c: float
    supply_c: float | None
    return_air_w: float
    outlets: tuple[Outlet, ...]
    share_by_zone: dict[str, float]


def stage_flow(
    van: Van,
    stage: Stage,
    here: Mapping[str, float],
    runs: tuple[Duct, ...],
    return_cm2: float | None,
    air_ratio: float = 1.0,
) -> StageFlow:
    """One stage of the heater on given runs; ``here`` has the temperature of each zone and of "outdoors". [°C]

    ``air_ratio`` is the air pressure over that at sea level: flow stays, mass, pressures and the air's part of the
    fan's power go with it, and so does the rated output unless the burner compensates.
    """
    scale = fan_scale(stage, van.ducts)
    flows, pressure = solve(stage, runs, scale, return_cm2)
    total = float(flows.sum())
    sea_w = fan_power_w(stage, solve(stage, all_open(van.ducts), scale, None), flows, pressure, return_cm2)
    fixed_w = of_ducts.FAN_FIXED_SHARE * stage.fan_w
    fan_w = fixed_w + air_ratio * (sea_w - fixed_w)
    pressure *= air_ratio
    density = RETURN_DENSITY_KG_PER_M3 * air_ratio
    most_w = output_at_density(max(van.heater.rated_w, stage.output_w), air_ratio, van.heater.altitude_compensated)
    output_w = min(stage.output_w, most_w)
    living = "living" if "living" in here else van.heater.sensor_zone
    return_c = here[living]
    supply_c = return_c + (output_w + fan_w) / _w_per_k(total, density) if total > 0.0 else None
    outlets = tuple(
        _outlet(run, float(flow), pressure, supply_c, here, density)
        for run, flow in zip(runs, flows.tolist(), strict=True)
    )
    return StageFlow(
        output_w=output_w,
        fan_w=fan_w,
        flow_m3_per_h=total,
        warm_m3_per_h=warm_m3_per_h(total, supply_c),
        pressure_pa=pressure,
        return_c=return_c,
        supply_c=supply_c,
        return_air_w=sum(
            _w_per_k(outlet.flow_m3_per_h, density) * (return_c - here[outlet.zone]) for outlet in outlets
        ),
        outlets=outlets,
        share_by_zone=_shares(outlets, tuple(here)),
    )


def warm_m3_per_h(flow_m3_per_h: float, temp_c: float | None) -> float:
    """A flow counted at 20 °C as it is at a temperature; the mass stays. [m³/h]"""
    return 0.0 if temp_c is None else flow_m3_per_h * (temp_c + ZERO_C_K) / (COUNTED_AT_C + ZERO_C_K)


def _w_per_k(flow_m3_per_h: float, density_kg_per_m3: float) -> float:
    return flow_m3_per_h * density_kg_per_m3 / 3600.0 * AIR_CP_J_PER_KG_K


def _outlet(
    run: Duct, flow: float, pressure: float, supply_c: float | None, here: Mapping[str, float], density: float
) -> Outlet:
    area_m2 = 0.25 * math.pi * run.diameter_m * run.diameter_m
    around_c = here[run.runs_through]
    if flow <= 0.0 or supply_c is None:
        end_c, heat_w, loss_w = around_c, 0.0, 0.0
    else:
        kept = of_ducts.run_delivery_share(run.loss_w_per_k, flow * density / 3600.0)
        end_c = around_c + kept * (supply_c - around_c)
        heat_w = _w_per_k(flow, density) * (end_c - here[run.zone])
        loss_w = _w_per_k(flow, density) * (supply_c - end_c)
    return Outlet(
        name=run.name,
        zone=run.zone,
        flow_m3_per_h=flow,
        velocity_m_per_s=warm_m3_per_h(flow, end_c) / 3600.0 / area_m2,
        pressure_pa=pressure,
        supply_c=end_c,
        heat_w=heat_w,
        loss_w=loss_w,
        loss_to=run.runs_through,
    )


def _shares(outlets: tuple[Outlet, ...], places: tuple[str, ...]) -> dict[str, float]:
    heat = dict.fromkeys(places, 0.0)
    for outlet in outlets:
        heat[outlet.zone] += outlet.heat_w
        heat[outlet.loss_to] += outlet.loss_w
    total = sum(heat.values())
    return {place: watts / total if total else 0.0 for place, watts in heat.items()}
