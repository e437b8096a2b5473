"""Damp: vapour between zones, surfaces and outdoors, and drying kit."""

from __future__ import annotations

from budget.compiled import jit
from budget.physics.properties import (
    AIR_CP_J_PER_KG_K,
    WATER_TO_AIR_RATIO,
    Floats,
    Ints,
    humidity_ratio,
    saturation_pressure_pa,
    saturation_slope_pa_per_k,
    vapour_latent_j_per_kg,
)

LEWIS_FACTOR = 0.91  # Le^(2/3) with Le 0.865 for vapour in air; ASHRAE Fundamentals 2009, chapter 6
WALL_CONVECTION_W_PER_M2K = 2.5  # inner surface, heat flowing level; ISO 6946:2017, annex C
CRITICAL_MOISTURE_SHARE = 0.3  # of the water hung up, where cloth starts to dry slower; common practice, no source

_ROUNDING = 1e-15  # of a zone's vapour; keeps an exactly saturated zone from wavering between two rounds


@jit
def mass_coefficient_kg_per_m2s(convection_w_per_m2k: float) -> float:
    """Vapour transfer coefficient per difference of humidity ratio, from the convective film by Lewis. [kg/m²s]

    beta = h / (cp Le^(2/3)); ASHRAE Fundamentals 2009, chapter 6. Radiation plays no part.
    """
    return convection_w_per_m2k / (AIR_CP_J_PER_KG_K * LEWIS_FACTOR)


@jit
def condensation_kg_per_s(area_m2: float, coefficient_kg_per_m2s: float, air_ratio: float, wet_ratio: float) -> float:
    """Vapour that a surface takes from the air; negative while a wet surface dries. [kg/s]

    ``wet_ratio`` is the saturated humidity ratio at the surface's temperature.
    """
    return coefficient_kg_per_m2s * area_m2 * (air_ratio - wet_ratio)


@jit
def saturation_ratio_slope_per_k(temp_c: float, pressure_pa: float) -> float:
    """Derivative of the saturated humidity ratio by temperature. [1/K]"""
    dry_pa = pressure_pa - saturation_pressure_pa(temp_c)
    return WATER_TO_AIR_RATIO * pressure_pa * saturation_slope_pa_per_k(temp_c) / (dry_pa * dry_pa)


@jit
def kit_drying_kg_per_s(
    area_m2: float, coefficient_kg_per_m2s: float, temp_c: float, air_ratio: float, pressure_pa: float
) -> float:
    """Water that wet cloth gives off at its wet-bulb temperature; never negative. [kg/s]

    The cloth stands where heat by convection meets the latent heat, T - Ts = L / (cp Le^(2/3)) (w_sat(Ts) - w). Two
    Newton steps from the air's temperature find it within 1 % of the rate; the first alone is the psychrometric
    beta A (w_sat(T) - w) / (1 + L s / (cp Le^(2/3))). Radiation to the cloth is left out: the rate is at the low end.
    """
    cooling_k = vapour_latent_j_per_kg(temp_c) / (AIR_CP_J_PER_KG_K * LEWIS_FACTOR)
    cloth_c = temp_c
    for _ in range(2):
        deficit = humidity_ratio(saturation_pressure_pa(cloth_c), pressure_pa) - air_ratio
        unbalance_k = cooling_k * deficit - (temp_c - cloth_c)
        cloth_c -= unbalance_k / (1.0 + cooling_k * saturation_ratio_slope_per_k(cloth_c, pressure_pa))
    return coefficient_kg_per_m2s * area_m2 * max(0.0, temp_c - cloth_c) / cooling_k


@jit
def wet_area_share(water_kg: float, start_kg: float) -> float:
    """Share of the cloth's surface that still dries at the full rate. [0–1]

    1 down to ``CRITICAL_MOISTURE_SHARE`` of the water hung up, then falling with what is left (falling-rate
    period of drying; common practice, no source).
    """
    if start_kg <= 0.0 or water_kg <= 0.0:
        return 0.0
    return min(1.0, water_kg / (CRITICAL_MOISTURE_SHARE * start_kg))


@jit
def _solve_in_place(matrix: Floats, values: Floats, size: int) -> None:
    """Gauss elimination without pivoting (the matrix is an M-matrix); the answer replaces ``values``."""
    for pivot in range(size):
        own = 1.0 / matrix[pivot, pivot]
        matrix[pivot, pivot] = own
        for row in range(pivot + 1, size):
            factor = matrix[row, pivot] * own
            if factor != 0.0:
                for column in range(pivot + 1, size):
                    matrix[row, column] -= factor * matrix[pivot, column]
                values[row] -= factor * values[pivot]
    for row in range(size - 1, -1, -1):
        total = values[row]
        for column in range(row + 1, size):
            total -= matrix[row, column] * values[column]
        values[row] = total * matrix[row, row]


@jit
def vapour_step(
    dt_s: float,
    air_kg: Floats,
    air_ratio: Floats,
    flow_in_kg_per_s: Floats,
    flow_out_kg_per_s: Floats,
    outdoor_ratio: float,
    exchange_kg_per_s: Floats,
    source_kg_per_s: Floats,
    surface_zone: Ints,
    surface_m2: Floats,
    surface_ratio: Floats,
    surface_water_kg: Floats,
    coefficient_kg_per_m2s: Floats,
    limit_ratio: Floats,
    out_condensed_kg: Floats,
    out_ratio: Floats,
    work_matrix: Floats,
    work_dry: Ints,
    work_full: Ints,
) -> int:
    """One implicit Euler step of every zone's vapour with its wet surfaces; returns the rounds it took.

    Parameters
    ----------
    dt_s : Step. [s]
    air_kg : Dry air of each zone, constant over the step. [kg]
    air_ratio : Humidity ratio of each zone before the step. [kg/kg]
    flow_in_kg_per_s, flow_out_kg_per_s : Dry air from and to outdoors. [kg/s]
    outdoor_ratio : Humidity ratio outdoors. [kg/kg]
    exchange_kg_per_s : Dry air from zone [row] to zone [column]; the diagonal is ignored. [kg/s]
    source_kg_per_s : Vapour given off in each zone, not negative. [kg/s]
    surface_zone, surface_m2, surface_ratio, surface_water_kg, coefficient_kg_per_m2s : Each surface's zone, area
        [m²], saturated humidity ratio at its temperature [kg/kg], water lying on it [kg], and
        ``mass_coefficient_kg_per_m2s`` [kg/m²s].
    limit_ratio : Saturated humidity ratio at each zone's air temperature. [kg/kg]
    out_condensed_kg, out_ratio : Receive the water each surface gained (negative: gave) [kg] and the new ratios.
    work_matrix (Z, Z) : Scratch.
    work_dry (K), work_full (Z) : First guess of which surfaces run dry and which zones are saturated; what was found
        remains there and is the best guess for the next step. The answer does not depend on it; zeros will do.

    Solves, with flows at the new ratios, ``air (w' - w) = dt (source + inflow - outflow) - condensed`` to rounding
    under three laws: a surface gains ``dt beta A (w' - w_surface)`` but gives no more than lies on it; no zone ends
    above ``limit_ratio``, the excess settles on its first surface (a zone without a surface has no limit); nothing
    is negative. The laws pick one linear system of finitely many; Howard's policy iteration finds it, since each is
    an M-matrix and each law a maximum of them.
    """
    zones, surfaces = air_kg.shape[0], surface_zone.shape[0]
    for zone in range(zones):
        if work_full[zone] and _first_surface(surface_zone, zone) < 0:
            work_full[zone] = 0
    rounds = 0
    for _ in range(zones + surfaces + 4):
        rounds += 1
        _assemble(
            dt_s, air_kg, air_ratio, flow_in_kg_per_s, flow_out_kg_per_s, outdoor_ratio, exchange_kg_per_s,
            source_kg_per_s, surface_zone, surface_m2, surface_ratio, surface_water_kg, coefficient_kg_per_m2s,
            limit_ratio, out_ratio, work_matrix, work_dry, work_full,
        )  # fmt: skip
        _solve_in_place(work_matrix, out_ratio, zones)
        changed = False
        for surface in range(surfaces):
            gains_kg = dt_s * condensation_kg_per_s(
                surface_m2[surface],
                coefficient_kg_per_m2s[surface],
                out_ratio[surface_zone[surface]],
                surface_ratio[surface],
            )
            dry = 1 if gains_kg < -surface_water_kg[surface] else 0
            changed = changed or dry != work_dry[surface]
            work_dry[surface] = dry
            out_condensed_kg[surface] = -surface_water_kg[surface] if dry else gains_kg
        for zone in range(zones):
            if not work_full[zone] and out_ratio[zone] <= limit_ratio[zone]:
                continue
            first = _first_surface(surface_zone, zone)
            if first < 0:
                continue
            if work_full[zone]:
                excess_kg = _unsettled_kg(
                    zone, dt_s, air_kg, air_ratio, flow_in_kg_per_s, flow_out_kg_per_s, outdoor_ratio,
                    exchange_kg_per_s, source_kg_per_s, surface_zone, out_condensed_kg, out_ratio,
                )  # fmt: skip
                full = 1 if excess_kg >= -_ROUNDING * air_kg[zone] * limit_ratio[zone] else 0
                out_condensed_kg[first] += max(excess_kg, 0.0)
            else:
                full = 1
            changed = changed or full != work_full[zone]
            work_full[zone] = full
        if not changed:
            break
    return rounds


@jit
def _first_surface(surface_zone: Ints, zone: int) -> int:
    """Index of a zone's first surface; -1 for none."""
    for surface in range(surface_zone.shape[0]):
        if surface_zone[surface] == zone:
            return surface
    return -1


@jit
def _assemble(
    dt_s: float,
    air_kg: Floats,
    air_ratio: Floats,
    flow_in_kg_per_s: Floats,
    flow_out_kg_per_s: Floats,
    outdoor_ratio: float,
    exchange_kg_per_s: Floats,
    source_kg_per_s: Floats,
    surface_zone: Ints,
    surface_m2: Floats,
    surface_ratio: Floats,
    surface_water_kg: Floats,
    coefficient_kg_per_m2s: Floats,
    limit_ratio: Floats,
    out_right: Floats,
    out_matrix: Floats,
    dry: Ints,
    full: Ints,
) -> None:
    """The linear system of one choice of dry surfaces and saturated zones."""
    zones = air_kg.shape[0]
    for zone in range(zones):
        leaving = flow_out_kg_per_s[zone]
        for other in range(zones):
            if other != zone:
                leaving += exchange_kg_per_s[zone, other]
                out_matrix[zone, other] = -dt_s * exchange_kg_per_s[other, zone]
        out_matrix[zone, zone] = air_kg[zone] + dt_s * leaving
        out_right[zone] = air_kg[zone] * air_ratio[zone] + dt_s * (
            source_kg_per_s[zone] + flow_in_kg_per_s[zone] * outdoor_ratio
        )
    for surface in range(surface_zone.shape[0]):
        zone = surface_zone[surface]
        if dry[surface]:
            out_right[zone] += surface_water_kg[surface]
        else:
            pull_kg = dt_s * coefficient_kg_per_m2s[surface] * surface_m2[surface]
            out_matrix[zone, zone] += pull_kg
            out_right[zone] += pull_kg * surface_ratio[surface]
    for zone in range(zones):
        if full[zone]:
            for other in range(zones):
                out_matrix[zone, other] = 0.0
            out_matrix[zone, zone] = 1.0
            out_right[zone] = limit_ratio[zone]


@jit
def _unsettled_kg(
    zone: int,
    dt_s: float,
    air_kg: Floats,
    air_ratio: Floats,
    flow_in_kg_per_s: Floats,
    flow_out_kg_per_s: Floats,
    outdoor_ratio: float,
    exchange_kg_per_s: Floats,
    source_kg_per_s: Floats,
    surface_zone: Ints,
    condensed_kg: Floats,
    new_ratio: Floats,
) -> float:
    """Vapour of a zone that neither stays, leaves nor settles on a surface. [kg]"""
    gained = source_kg_per_s[zone] + flow_in_kg_per_s[zone] * outdoor_ratio
    gained -= flow_out_kg_per_s[zone] * new_ratio[zone]
    for other in range(air_kg.shape[0]):
        if other != zone:
            gained += exchange_kg_per_s[other, zone] * new_ratio[other]
            gained -= exchange_kg_per_s[zone, other] * new_ratio[zone]
    left_kg = dt_s * gained - air_kg[zone] * (new_ratio[zone] - air_ratio[zone])
    for surface in range(surface_zone.shape[0]):
        if surface_zone[surface] == zone:
            left_kg -= condensed_kg[surface]
    return float(left_kg)
