"""The gas bottle: pressure of its mixture, heat that reaches it, and what it can give.

Mixtures of propane and n-butane are ideal (Raoult's law); the liquid boils off at one temperature for the whole
bottle. Against CoolProp's mixture from -40 to 30 °C the bubble pressure stands up to 4 % high, the dew pressure up to
2.5 % low: less than 1.5 K.
"""

from __future__ import annotations

import math

from budget.compiled import jit, jit_apart
from budget.physics.properties import (
    BUTANE_KG_PER_MOL,
    PROPANE_KG_PER_MOL,
    butane_density_kg_per_m3,
    butane_latent_j_per_kg,
    butane_liquid_cp_j_per_kgk,
    butane_saturation_pa,
    butane_saturation_slope_pa_per_k,
    propane_density_kg_per_m3,
    propane_latent_j_per_kg,
    propane_liquid_cp_j_per_kgk,
    propane_saturation_pa,
    propane_saturation_slope_pa_per_k,
)

STEEL_CP_J_PER_KG_K = 490.0  # carbon steel near 0 °C; from memory (460 to 500)
WALL_FILM_W_PER_M2K = 8.0  # still air and radiation at a bottle's wall; common practice, no source (7 to 10)
DRY_STRIP_M = 0.05  # height of wall above the liquid that conducts into it; fitted, see wetted_area_m2
FILLED_KG_PER_M3 = 510.0  # liquid density at filling, 15 °C, for the height of a full bottle
REFILL_SHARE = 0.8  # of the volume, a refillable bottle's stop valve


@jit
def propane_mole_share(propane_kg: float, butane_kg: float) -> float:
    """Share of propane in the liquid by mole; 0 for an empty bottle. [0–1]"""
    propane_mol = propane_kg / PROPANE_KG_PER_MOL
    total_mol = propane_mol + butane_kg / BUTANE_KG_PER_MOL
    if total_mol <= 0.0:
        return 0.0
    return propane_mol / total_mol


@jit
def mixture_pressure_pa(temp_c: float, propane_kg: float, butane_kg: float) -> float:
    """Bubble pressure over the liquid: Raoult's law by mole; 0 for an empty bottle. [Pa]

    Says nothing about contents: only about temperature and mixture. Range -60 to 60 °C.
    """
    if propane_kg + butane_kg <= 0.0:
        return 0.0
    share = propane_mole_share(propane_kg, butane_kg)
    return share * propane_saturation_pa(temp_c) + (1.0 - share) * butane_saturation_pa(temp_c)


@jit
def dew_pressure_pa(temp_c: float, propane_kg: float, butane_kg: float) -> float:
    """Pressure below which the same mixture is all vapour, by Raoult's law. [Pa]"""
    if propane_kg + butane_kg <= 0.0:
        return 0.0
    share = propane_mole_share(propane_kg, butane_kg)
    return 1.0 / (share / propane_saturation_pa(temp_c) + (1.0 - share) / butane_saturation_pa(temp_c))


@jit
def vapour_propane_share(temp_c: float, propane_kg: float, butane_kg: float) -> float:
    """Share of propane in the vapour that leaves, by mass; richer than the liquid. [0–1]"""
    propane = propane_kg * propane_saturation_pa(temp_c)
    total = propane + butane_kg * butane_saturation_pa(temp_c)
    if total <= 0.0:
        return 0.0
    return propane / total


@jit_apart
def temperature_at_pressure_c(pressure_pa: float, propane_kg: float, butane_kg: float, guess_c: float = -20.0) -> float:
    """Temperature at which the mixture stands at a pressure, between -100 and 90 °C. [°C]

    The colder limit of off-take when the pressure is what ambient and regulator need. Newton on the logarithm
    inside a bracket, from a guess to 1e-9 K; 90 for an empty bottle.
    """
    low, high = -100.0, 90.0
    share = propane_mole_share(propane_kg, butane_kg)
    if propane_kg + butane_kg <= 0.0:
        return high
    if pressure_pa <= 0.0:
        return low
    temp_c = guess_c
    for _ in range(100):
        here_pa = share * propane_saturation_pa(temp_c)
        slope = share * propane_saturation_slope_pa_per_k(temp_c)
        if share < 1.0:
            here_pa += (1.0 - share) * butane_saturation_pa(temp_c)
            slope += (1.0 - share) * butane_saturation_slope_pa_per_k(temp_c)
        if here_pa > pressure_pa:
            high = temp_c
        else:
            low = temp_c
        step = math.log(pressure_pa / here_pa) * here_pa / slope
        next_c = temp_c + step
        if next_c < low or next_c > high:
            next_c = 0.5 * (low + high)
        if abs(next_c - temp_c) < 1e-9:
            return next_c
        temp_c = next_c
    return temp_c


@jit
def wetted_area_m2(level_share: float, diameter_m: float, net_kg: float) -> float:
    """Wall area that feeds heat to the liquid of an upright bottle. [m²]

    Bottom, wetted wall, and ``DRY_STRIP_M`` of dry wall that conducts down into it. The strip is fitted on the shape
    of the burner makers' off-take chart for the upright 45.4 kg cylinder: with 30 % and 10 % left it gives 0.40 and
    0.24 of the full bottle's rate where the chart has 0.39–0.40 and 0.22–0.25. Nothing for an empty bottle.
    """
    if level_share <= 0.0:
        return 0.0
    bottom_m2 = 0.25 * math.pi * diameter_m * diameter_m
    full_height_m = net_kg / FILLED_KG_PER_M3 / bottom_m2
    return bottom_m2 + math.pi * diameter_m * (min(level_share, 1.0) * full_height_m + DRY_STRIP_M)


@jit
def wetted_coupling_w_per_k(level_share: float, diameter_m: float, net_kg: float, film_w_per_m2k: float) -> float:
    """Heat that reaches the liquid from the locker's air, per kelvin. [W/K]

    The film outside the wall decides; boiling inside and the steel add little. Usual film ``WALL_FILM_W_PER_M2K``.
    """
    return film_w_per_m2k * wetted_area_m2(level_share, diameter_m, net_kg)


@jit
def bottle_capacity_j_per_k(tare_kg: float, propane_kg: float, butane_kg: float, temp_c: float) -> float:
    """Heat capacity of shell (steel) and liquid. [J/K]"""
    liquid = propane_kg * propane_liquid_cp_j_per_kgk(temp_c) + butane_kg * butane_liquid_cp_j_per_kgk(temp_c)
    return tare_kg * STEEL_CP_J_PER_KG_K + liquid


@jit
def vapour_latent_heat_j_per_kg(temp_c: float, propane_kg: float, butane_kg: float) -> float:
    """Heat that a kilogram of leaving vapour takes from the bottle; heat of mixing left out. [J/kg]"""
    if butane_kg <= 0.0 < propane_kg:
        return propane_latent_j_per_kg(temp_c)
    share = vapour_propane_share(temp_c, propane_kg, butane_kg)
    return share * propane_latent_j_per_kg(temp_c) + (1.0 - share) * butane_latent_j_per_kg(temp_c)


@jit
def liquid_l(temp_c: float, propane_kg: float, butane_kg: float) -> float:
    """Volume of the liquid, without change of volume on mixing. [L]"""
    return 1000.0 * (propane_kg / propane_density_kg_per_m3(temp_c) + butane_kg / butane_density_kg_per_m3(temp_c))


@jit
def bottle_end_c(
    dt_s: float,
    bottle_c: float,
    capacity_j_per_k: float,
    coupling_w_per_k: float,
    locker_c: float,
    heat_taken_w: float,
) -> float:
    """Temperature after a step at a steady heat take-off: closed form of one lumped node. [°C]"""
    turns = coupling_w_per_k * dt_s / capacity_j_per_k
    if turns < 1e-9:
        return bottle_c + (coupling_w_per_k * (locker_c - bottle_c) - heat_taken_w) * dt_s / capacity_j_per_k
    rest_c = locker_c - heat_taken_w / coupling_w_per_k
    return rest_c + (bottle_c - rest_c) * math.exp(-turns)


@jit
def offtake_limit_kg(
    dt_s: float,
    bottle_c: float,
    limit_c: float,
    capacity_j_per_k: float,
    coupling_w_per_k: float,
    locker_c: float,
    latent_j_per_kg: float,
) -> float:
    """Gas that stored and arriving heat can boil off in a step at a steady rate. [kg]

    The rate whose closed-form cooling ends exactly at ``limit_c``, where the pressure no longer feeds the regulator
    (``bottle_end_c`` solved for the heat); 0 where the bottle would end below it anyhow. Contents are not looked
    at: see ``deliverable_kg``.
    """
    turns = coupling_w_per_k * dt_s / capacity_j_per_k
    settled = -math.expm1(-turns)  # of the way to the locker, left to itself
    above_k = bottle_c + settled * (locker_c - bottle_c) - limit_c
    if above_k <= 0.0:
        return 0.0
    if turns < 1e-9:
        return capacity_j_per_k * above_k / latent_j_per_kg
    return coupling_w_per_k * dt_s * above_k / (settled * latent_j_per_kg)


@jit
def deliverable_kg(
    dt_s: float,
    liquid_kg: float,
    bottle_c: float,
    limit_c: float,
    capacity_j_per_k: float,
    coupling_w_per_k: float,
    locker_c: float,
    latent_j_per_kg: float,
) -> float:
    """Gas that the bottle can give in a step: the off-take limit, never more than it holds. [kg]"""
    limit_kg = offtake_limit_kg(dt_s, bottle_c, limit_c, capacity_j_per_k, coupling_w_per_k, locker_c, latent_j_per_kg)
    return max(0.0, min(limit_kg, liquid_kg))


@jit_apart
def withdraw(temp_c: float, propane_kg: float, butane_kg: float, drawn_kg: float) -> tuple[float, float]:
    """Liquid left when vapour has been drawn: (propane [kg], butane [kg]).

    Rayleigh distillation at one temperature: d ln n(propane) = alpha d ln n(butane) with alpha the ratio of
    saturation pressures, solved exactly for the mass left, so the result does not depend on the number of steps.
    The vapour space (about 1 % of a full bottle) is left out. Drawing all, or more, leaves nothing.
    """
    total_kg = propane_kg + butane_kg
    left_kg = total_kg - max(drawn_kg, 0.0)
    if left_kg <= 0.0:
        return 0.0, 0.0
    if drawn_kg <= 0.0:
        return propane_kg, butane_kg
    if butane_kg <= 0.0:
        return left_kg, 0.0
    if propane_kg <= 0.0:
        return 0.0, left_kg
    alpha = propane_saturation_pa(temp_c) / butane_saturation_pa(temp_c)
    low, high = 0.0, 1.0
    kept = left_kg / total_kg
    for _ in range(100):
        propane_left = propane_kg * kept**alpha
        error_kg = propane_left + butane_kg * kept - left_kg
        if error_kg > 0.0:
            high = kept
        else:
            low = kept
        if abs(error_kg) <= 1e-15 * total_kg:
            break
        kept -= error_kg / (alpha * propane_left / kept + butane_kg)
        if kept <= low or kept >= high:
            kept = 0.5 * (low + high)
    butane_left = min(butane_kg * kept, left_kg)
    return min(left_kg - butane_left, propane_kg), butane_left
