"""The warm-air side, solved once: what each run takes of flow and heat at every stage."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from budget.engine.stepping import OUTDOORS, Floats
from budget.physics import ducts as D
from budget.physics.properties import AIR_CP_J_PER_KG_K
from budget.van.heater import Duct, Stage
from budget.van.model import Van

SUPPLY_DENSITY_KG_PER_M3 = 1.09  # air at 50 °C and sea level
RETURN_DENSITY_KG_PER_M3 = 1.2
ROUGHNESS_M = {
    "smooth": D.SMOOTH_ROUGHNESS_M,
    "corrugated": D.CORRUGATED_ROUGHNESS_M,
    "compressed": D.CORRUGATED_ROUGHNESS_M,
}
STRETCH = {"smooth": D.STRETCHED_FACTOR, "corrugated": D.STRETCHED_FACTOR, "compressed": D.COMPRESSED_FACTOR}


@dataclass(frozen=True, kw_only=True, eq=False)
class WarmAir:
    """By stage, in air of sea-level density: flow of each run and of all [m³/h], plenum pressure [Pa], fan power [W],
    heat shares and one-way edges by zone."""

    run_m3_per_h: Floats  # [stage, run]
    pressure_pa: Floats
    total_m3_per_h: Floats  # [stage]
    fan_w: Floats
    heat_share: Floats  # [stage, zone]
    edges: tuple[tuple[int, int], ...]  # from zone (or outdoors), to zone
    flow_w_per_k: Floats  # [stage, edge]


def solve(stage: Stage, runs: tuple[Duct, ...], scale: float, return_cm2: float | None) -> tuple[Floats, float]:
    """Flow of each run [m³/h] and plenum pressure [Pa] with the fan turning ``scale`` times as fast as its curve."""
    flows = np.zeros(len(runs))
    free = scale * (stage.fan_free_m3_per_h or 2.0 * stage.air_m3_per_h)
    hindrance = 0.0 if return_cm2 is None else D.return_pa_per_flow2(return_cm2, RETURN_DENSITY_KG_PER_M3)
    _, pressure = D.solve_network(
        scale * scale * stage.fan_pressure_pa,
        free,
        hindrance,
        np.array([run.length_m for run in runs]),
        np.array([run.diameter_m for run in runs]),
        np.array([float(run.bends) for run in runs]),
        np.array([ROUGHNESS_M[run.hose] for run in runs]),
        np.array([run.open_share for run in runs]),
        np.array([STRETCH[run.hose] for run in runs]),
        SUPPLY_DENSITY_KG_PER_M3,
        flows,
    )
    return flows, float(pressure)


def all_open(runs: tuple[Duct, ...]) -> tuple[Duct, ...]:
    """The same runs with every outlet open."""
    return tuple(run.model_copy(update={"open_share": 1.0}) for run in runs)


def fan_scale(stage: Stage, runs: tuple[Duct, ...]) -> float:
    """Speed, over that of the fan's curve, at which every outlet open gives the rating plate's flow. [–]

    By the fan laws flow follows speed and pressure its square. The way back is free then.
    """
    opened = all_open(runs)
    scale = 1.0
    for _ in range(60):
        ratio = stage.air_m3_per_h / solve(stage, opened, scale, None)[0].sum()
        scale *= ratio
        if abs(ratio - 1.0) < 1e-10:
            break
    return float(scale)


def fan_pa(total_m3_per_h: float, plenum_pa: float, return_cm2: float | None) -> float:
    """Pressure that the fan makes: plenum and return path. [Pa]"""
    if return_cm2 is None or total_m3_per_h <= 0.0:
        return plenum_pa
    return plenum_pa + D.return_pa_per_flow2(return_cm2, RETURN_DENSITY_KG_PER_M3) * total_m3_per_h * total_m3_per_h


def fan_power_w(
    stage: Stage, plate: tuple[Floats, float], flows: Floats, plenum_pa: float, return_cm2: float | None
) -> float:
    """Fan power at these flows; ``plate`` is the solution with every outlet open, where it draws ``fan_w``. [W]"""
    total = float(flows.sum())
    return D.fan_power_scaled_w(
        stage.fan_w, float(plate[0].sum()), plate[1], total, fan_pa(total, plenum_pa, return_cm2), D.FAN_FIXED_SHARE
    )


def warm_air(van: Van, living: int, air_ratio: float = 1.0) -> WarmAir:
    """Solve the runs at every stage.

    The flow of a stage is that of its rating plate with every outlet open and the way back free; throttling or
    closing outlets or the return lowers it as the network says, and moves the fan's power with the air power.
    ``air_ratio`` is the air pressure over that at sea level: flows stay those of sea level (the march thins them), but
    a run keeps less of its heat, since less air carries it past the same loss.
    """
    stages, zones = van.heater.stages, len(van.cabin.zones)
    sensor = van.cabin.zone_index(van.heater.sensor_zone)
    if not van.ducts or all(run.open_share == 0.0 for run in van.ducts):
        share = np.zeros((len(stages), zones))
        share[:, sensor] = 1.0
        return WarmAir(
            run_m3_per_h=np.zeros((len(stages), 0)), pressure_pa=np.zeros(len(stages)),
            total_m3_per_h=np.array([stage.air_m3_per_h for stage in stages]),
            fan_w=np.array([stage.fan_w for stage in stages]), heat_share=share, edges=(),
            flow_w_per_k=np.zeros((len(stages), 0)),
        )  # fmt: skip
    run_flow = np.zeros((len(stages), len(van.ducts)))
    pressure, fan_w = np.zeros(len(stages)), np.zeros(len(stages))
    heat_share = np.zeros((len(stages), zones))
    flow: list[dict[tuple[int, int], float]] = []
    for s, stage in enumerate(stages):
        scale = fan_scale(stage, van.ducts)
        run_flow[s], pressure[s] = solve(stage, van.ducts, scale, van.heater.return_cm2)
        plate = solve(stage, all_open(van.ducts), scale, None)
        fan_w[s] = fan_power_w(stage, plate, run_flow[s], pressure[s], van.heater.return_cm2)
        gains: dict[tuple[int, int], float] = defaultdict(float)
        for r, run in enumerate(van.ducts):
            kg_per_s = run_flow[s, r] * RETURN_DENSITY_KG_PER_M3 / 3600.0
            kept = D.run_delivery_share(run.loss_w_per_k, kg_per_s * air_ratio)
            part = run_flow[s, r] / run_flow[s].sum()
            zone = van.cabin.zone_index(run.zone)
            through = OUTDOORS if run.runs_through == "outdoors" else van.cabin.zone_index(run.runs_through)
            w_per_k = kg_per_s * AIR_CP_J_PER_KG_K
            heat_share[s, zone] += part * kept
            gains[living, zone] += w_per_k * kept
            gains[through, zone] += w_per_k * (1.0 - kept)
            gains[zone, living] += w_per_k
            if through != OUTDOORS:
                heat_share[s, through] += part * (1.0 - kept)
                gains[living, through] += w_per_k * (1.0 - kept)
        flow.append({pair: value for pair, value in gains.items() if pair[0] != pair[1]})
    edges = tuple(sorted({pair for stage_flow in flow for pair in stage_flow}))
    table = np.array([[stage_flow.get(pair, 0.0) for pair in edges] for stage_flow in flow])
    return WarmAir(
        run_m3_per_h=run_flow, pressure_pa=pressure, total_m3_per_h=run_flow.sum(axis=1), fan_w=fan_w,
        heat_share=heat_share, edges=edges, flow_w_per_k=table.reshape(len(stages), len(edges)),
    )  # fmt: skip
