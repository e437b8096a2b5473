"""Air that comes and goes: cracks, fixed vents, and the doorway between two zones."""

from __future__ import annotations

import math

from budget.compiled import jit
from budget.physics.properties import AIR_CP_J_PER_KG_K, GRAVITY_M_PER_S2, ZERO_C_K

STACK_L2_PER_S2CM4K = 0.000145  # one storey; ASHRAE Fundamentals 2009, chapter 16, table 4 (from memory)
WIND_L2_PER_S2CM4M2S2 = 0.000319  # one storey, no shelter; the same, table 6 (from memory)
ORIFICE_DISCHARGE = 0.6  # sharp-edged opening; ASHRAE Fundamentals 2009, chapter 16 (0.60 to 0.65)
WIND_PRESSURE_DIFFERENCE = 0.3  # of pressure coefficients, vents at floor and roof; common practice, no source
SINGLE_SIDED_WIND = 0.025  # share of area times wind that turbulence exchanges; BS 5925:1991, table 10
DOORWAY_FLOOR_K = 0.3  # people and fans stir a doorway at least as much as this difference; common practice, no source

_CM2_PER_M2 = 1e4
_S_PER_H = 3600.0


@jit
def leakage_m3_per_h(leakage_cm2: float, delta_k: float, wind_m_per_s: float) -> float:
    """Air through cracks and seals: the basic model, stack and wind added under the root. [m³/h]

    ASHRAE Fundamentals 2009, chapter 16, equation 48: Q [L/s] = A sqrt(Cs |dT| + Cw v²) with the effective
    leakage area at 4 Pa. The coefficients are those of a house 2.5 m high in the open; shelter belongs into the wind
    that is passed. Volume at the temperature of the air that enters.
    """
    litres = leakage_cm2 * math.sqrt(
        STACK_L2_PER_S2CM4K * abs(delta_k) + WIND_L2_PER_S2CM4M2S2 * wind_m_per_s * wind_m_per_s
    )
    return 3.6 * litres


@jit
def leakage_kg_per_s(leakage_cm2: float, delta_k: float, wind_m_per_s: float, density_kg_per_m3: float) -> float:
    """Mass flow through cracks and seals; ``leakage_m3_per_h`` times the density of the entering air. [kg/s]"""
    return leakage_m3_per_h(leakage_cm2, delta_k, wind_m_per_s) * density_kg_per_m3 / _S_PER_H


@jit
def vent_m3_per_h(
    low_cm2: float, high_cm2: float, height_m: float, delta_k: float, wind_m_per_s: float, inside_c: float
) -> float:
    """Air through fixed vents at two levels; volume at inside temperature. [m³/h]

    Two orifices in series under stack pressure (ASHRAE Fundamentals 2009, chapter 16, equation 38, here with the
    exact series area) and under wind, with turbulence at each opening (BS 5925:1991, table 10), added in
    quadrature. With one level only the turbulence is left.
    """
    low_m2, high_m2 = low_cm2 / _CM2_PER_M2, high_cm2 / _CM2_PER_M2
    squares = low_m2 * low_m2 + high_m2 * high_m2
    if squares <= 0.0:
        return 0.0
    series_m2 = low_m2 * high_m2 / math.sqrt(squares)
    wind2 = wind_m_per_s * wind_m_per_s
    stack2 = 2.0 * GRAVITY_M_PER_S2 * height_m * abs(delta_k) / (inside_c + ZERO_C_K)
    through = ORIFICE_DISCHARGE * series_m2
    single = SINGLE_SIDED_WIND * (low_m2 + high_m2)
    return _S_PER_H * math.sqrt(
        through * through * (stack2 + WIND_PRESSURE_DIFFERENCE * wind2) + single * single * wind2
    )


@jit
def doorway_m3_per_h(width_m: float, height_m: float, warm_c: float, cold_c: float) -> float:
    """Air that passes each way through an open doorway by buoyancy. [m³/h]

    Q = Cd/3 W sqrt(g dT/T) H^1.5 with Cd = 0.4 + 0.0045 dT (Kiel and Wilson 1989, in ASHRAE Fundamentals 2009,
    chapter 16, equations 42 and 43; from memory). Departure: dT is rounded off below ``DOORWAY_FLOOR_K`` so that the
    flow has no infinite slope at equal temperatures; it never falls below the flow at 0.3 K.
    """
    difference = warm_c - cold_c
    smooth_k = math.sqrt(difference * difference + DOORWAY_FLOOR_K * DOORWAY_FLOOR_K)
    mean_k = 0.5 * (warm_c + cold_c) + ZERO_C_K
    discharge = 0.4 + 0.0045 * smooth_k
    speed = math.sqrt(GRAVITY_M_PER_S2 * smooth_k / mean_k)
    return _S_PER_H * discharge / 3.0 * width_m * speed * height_m * math.sqrt(height_m)


@jit
def doorway_w_per_k(width_m: float, height_m: float, warm_c: float, cold_c: float, density_kg_per_m3: float) -> float:
    """Heat exchange through an open doorway per kelvin between the two zones. [W/K]"""
    flow_m3_per_s = doorway_m3_per_h(width_m, height_m, warm_c, cold_c) / _S_PER_H
    return flow_m3_per_s * density_kg_per_m3 * AIR_CP_J_PER_KG_K
