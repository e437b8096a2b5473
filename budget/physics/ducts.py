"""Warm-air ducts: friction, the network behind one fan, what a run delivers."""

from __future__ import annotations

import math

from budget.compiled import jit_apart
from budget.physics.properties import AIR_CP_J_PER_KG_K, Floats, air_viscosity_kg_per_ms

SMOOTH_ROUGHNESS_M = 0.00015  # smooth-walled duct; ASHRAE Fundamentals 2009, chapter 21, table 1 (medium smooth 0.09)
CORRUGATED_ROUGHNESS_M = 0.003  # stretched corrugated hose; ASHRAE gives 1.0 to 4.6 mm for flexible duct (from memory)
STRETCHED_FACTOR = 1.0  # on wall friction, hose fully stretched
COMPRESSED_FACTOR = 3.0  # partly compressed hose costs 2 to 4 times as much; ASHRAE Fundamentals (from memory)
BEND_LOSS = 0.6  # velocity heads, right-angle bend of hose; common practice, no source (0.3 to 1.2)
OUTLET_LOSS = 2.0  # velocity heads, open louvred outlet with its exit loss; common practice, no source (1.5 to 3)
CLOSED_SHARE = 0.001  # an outlet opened less than this counts as closed
RETURN_LOSS = 2.5  # velocity heads through a return opening, inlet, grille and exit; common practice, no source
FAN_EFFICIENCY = 0.25  # small electric fan, air power over electric; common practice, no source (0.15 to 0.4)
FAN_FIXED_SHARE = 0.4  # of electric power that does not follow the air power; common practice, no source

_S_PER_H = 3600.0
_WARM_AIR_C = 60.0  # temperature for the viscosity in ducts; 20 K alter the pressure by less than 0.5 %
_LAMINAR = 2000.0
_TURBULENT = 4000.0


@jit_apart
def _turbulent_friction(reynolds: float, rough: float) -> float:
    """Serghides (Chemical Engineering 91(5), 1984): three Colebrook steps with Steffensen's acceleration. [–]"""
    a = -2.0 * math.log10(rough / 3.7 + 12.0 / reynolds)
    b = -2.0 * math.log10(rough / 3.7 + 2.51 * a / reynolds)
    c = -2.0 * math.log10(rough / 3.7 + 2.51 * b / reynolds)
    curve = c - 2.0 * b + a
    root = a if abs(curve) < 1e-14 else a - (b - a) * (b - a) / curve
    return 1.0 / (root * root)


@jit_apart
def friction_factor(reynolds: float, relative_roughness: float) -> float:
    """Darcy friction factor of a round duct. [–]

    Laminar 64/Re up to 2000; Serghides' explicit form of Colebrook's equation from 4000 on, within 0.01 % of it for
    relative roughness up to 0.05; linear between the two.
    """
    if reynolds <= _LAMINAR:
        return 64.0 / max(reynolds, 1e-9)
    if reynolds >= _TURBULENT:
        return _turbulent_friction(reynolds, relative_roughness)
    share = (reynolds - _LAMINAR) / (_TURBULENT - _LAMINAR)
    laminar = 64.0 / _LAMINAR
    return laminar + share * (_turbulent_friction(_TURBULENT, relative_roughness) - laminar)


@jit_apart
def duct_pressure_pa(
    flow_m3_per_h: float,
    length_m: float,
    diameter_m: float,
    bends: float,
    roughness_m: float,
    open_share: float,
    density_kg_per_m3: float,
    stretch_factor: float,
) -> float:
    """Pressure that a run takes at a flow: wall friction, bends, outlet. [Pa]

    Darcy and Weisbach; ``stretch_factor`` multiplies the friction of a hose that is not fully stretched. The
    outlet's loss grows with the inverse square of ``open_share``; a closed outlet needs infinite pressure.
    """
    if flow_m3_per_h <= 0.0:
        return 0.0
    if open_share < CLOSED_SHARE:
        return math.inf
    area_m2 = 0.25 * math.pi * diameter_m * diameter_m
    velocity = flow_m3_per_h / _S_PER_H / area_m2
    reynolds = density_kg_per_m3 * velocity * diameter_m / air_viscosity_kg_per_ms(_WARM_AIR_C)
    heads = friction_factor(reynolds, roughness_m / diameter_m) * stretch_factor * length_m / diameter_m
    heads += BEND_LOSS * bends + OUTLET_LOSS / (open_share * open_share)
    return heads * 0.5 * density_kg_per_m3 * velocity * velocity


@jit_apart
def run_flow_m3_per_h(
    pressure_pa: float,
    length_m: float,
    diameter_m: float,
    bends: float,
    roughness_m: float,
    open_share: float,
    density_kg_per_m3: float,
    stretch_factor: float,
) -> float:
    """Flow that a pressure drives through a run: the inverse of ``duct_pressure_pa``, to 1e-11 of it. [m³/h]

    Square-root steps inside a shrinking bracket; the upper end is the flow without wall friction.
    """
    if pressure_pa <= 0.0 or open_share < CLOSED_SHARE:
        return 0.0
    area_m2 = 0.25 * math.pi * diameter_m * diameter_m
    local = BEND_LOSS * bends + OUTLET_LOSS / (open_share * open_share)
    low, high = 0.0, _S_PER_H * area_m2 * math.sqrt(2.0 * pressure_pa / (density_kg_per_m3 * local))
    flow = 0.7 * high
    for step in range(200):
        ratio = pressure_pa / duct_pressure_pa(
            flow, length_m, diameter_m, bends, roughness_m, open_share, density_kg_per_m3, stretch_factor
        )
        if ratio > 1.0:
            low = flow
        else:
            high = flow
        if abs(ratio - 1.0) < 1e-11 or high - low <= 1e-13 * high:
            break
        flow *= math.sqrt(ratio)
        if flow <= low or flow >= high or step % 5 == 4:
            flow = 0.5 * (low + high)
    return flow


@jit_apart
def return_pa_per_flow2(area_cm2: float, density_kg_per_m3: float) -> float:
    """Pressure that the return opening takes per squared flow in m³/h; infinite when blocked. [Pa/(m³/h)²]"""
    if area_cm2 <= 0.0:
        return math.inf
    velocity_per_flow = 1.0 / (_S_PER_H * area_cm2 * 1e-4)
    return RETURN_LOSS * 0.5 * density_kg_per_m3 * velocity_per_flow * velocity_per_flow


@jit_apart
def _total_at(
    pressure_pa: float,
    length_m: Floats,
    diameter_m: Floats,
    bends: Floats,
    roughness_m: Floats,
    open_share: Floats,
    stretch_factor: Floats,
    density_kg_per_m3: float,
    out_flow_m3_per_h: Floats,
) -> float:
    """Sum of all runs' flows at one plenum pressure; each flow goes into ``out_flow_m3_per_h``. [m³/h]"""
    total = 0.0
    for run in range(length_m.shape[0]):
        flow = run_flow_m3_per_h(
            pressure_pa,
            length_m[run],
            diameter_m[run],
            bends[run],
            roughness_m[run],
            open_share[run],
            density_kg_per_m3,
            stretch_factor[run],
        )
        out_flow_m3_per_h[run] = flow
        total += flow
    return total


@jit_apart
def solve_network(
    fan_pressure_pa: float,
    fan_free_m3_per_h: float,
    return_pa_per_flow2: float,
    length_m: Floats,
    diameter_m: Floats,
    bends: Floats,
    roughness_m: Floats,
    open_share: Floats,
    stretch_factor: Floats,
    density_kg_per_m3: float,
    out_flow_m3_per_h: Floats,
) -> tuple[float, float]:
    """Flow of every run where parallel runs on one plenum meet the fan: (total [m³/h], plenum pressure [Pa]).

    The fan's pressure falls as a parabola from ``fan_pressure_pa`` at no flow to nothing at ``fan_free_m3_per_h``,
    less the return path's ``return_pa_per_flow2`` times squared flow. Runs' flow rises with plenum pressure and
    the fan's falls, so there is one answer; it is bracketed and found to 1e-10 of the flow. Closing an outlet never
    raises the total. ``out_flow_m3_per_h`` receives the flows, and the total is their sum.
    """
    runs = length_m.shape[0]
    out_flow_m3_per_h[:runs] = 0.0
    curve = fan_pressure_pa / (fan_free_m3_per_h * fan_free_m3_per_h) + return_pa_per_flow2
    if fan_pressure_pa <= 0.0 or curve == math.inf:
        return 0.0, 0.0
    low, high = 0.0, math.sqrt(fan_pressure_pa)
    low_excess, high_excess = -math.sqrt(fan_pressure_pa / curve), 0.0
    root = high
    total = 0.0
    for step in range(200):
        total = _total_at(
            root * root, length_m, diameter_m, bends, roughness_m, open_share, stretch_factor, density_kg_per_m3,
            out_flow_m3_per_h,
        )  # fmt: skip
        fan = math.sqrt(max(fan_pressure_pa - root * root, 0.0) / curve)
        excess = total - fan
        if total <= 0.0 or abs(excess) <= 1e-11 * (total + fan):
            break
        if excess > 0.0:
            high, high_excess = root, excess
        else:
            low, low_excess = root, excess
        if high - low <= 1e-14 * high:
            break
        root = high - high_excess * (high - low) / (high_excess - low_excess)
        if step % 3 == 2 or root <= low or root >= high:
            root = 0.5 * (low + high)
    return total, root * root


@jit_apart
def fan_power_w(flow_m3_per_h: float, pressure_pa: float, efficiency: float) -> float:
    """Electric power that moves a flow against a pressure. [W]"""
    return flow_m3_per_h / _S_PER_H * pressure_pa / efficiency


@jit_apart
def fan_power_scaled_w(
    nominal_w: float,
    nominal_m3_per_h: float,
    nominal_pa: float,
    flow_m3_per_h: float,
    pressure_pa: float,
    fixed_share: float,
) -> float:
    """Electric power of a fan whose duct resistance has changed, from its power as fitted. [W]

    ``fixed_share`` of the power (controls, motor losses) stays; the rest follows the air power flow times pressure.
    """
    air_share = flow_m3_per_h * pressure_pa / (nominal_m3_per_h * nominal_pa)
    return nominal_w * (fixed_share + (1.0 - fixed_share) * air_share)


@jit_apart
def run_delivery_share(loss_w_per_k: float, flow_kg_per_s: float) -> float:
    """Excess temperature left at the outlet over that at the heater: exp(-UA / (m cp)). [0–1]

    Plug flow through a run whose surroundings have one temperature; 0 for no flow, 1 for no loss.
    """
    if loss_w_per_k <= 0.0:
        return 1.0
    if flow_kg_per_s <= 0.0:
        return 0.0
    return math.exp(-loss_w_per_k / (flow_kg_per_s * AIR_CP_J_PER_KG_K))
