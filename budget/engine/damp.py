"""Vapour in the march: what the zones take up, exchange, condense and dry."""

from __future__ import annotations

from budget.compiled import jit
from budget.engine import arrays as A
from budget.engine.clock import HALF_S, QUARTER_S
from budget.physics.moisture import (
    kit_drying_kg_per_s,
    mass_coefficient_kg_per_m2s,
    saturation_ratio_slope_per_k,
    vapour_step,
    wet_area_share,
)
from budget.physics.properties import (
    PROPANE_BURNED_WATER_SHARE,
    PROPANE_LOWER_J_PER_KG,
    VAPOUR_LATENT_J_PER_KG,
    saturation_ratio,
)

SURFACE_FILM_W_PER_M2K = 3.0  # natural convection at a cold pane or wall, common practice, no source
CLOTH_FILM_W_PER_M2K = 4.0  # cloth hung in moving air, common practice, no source
BARELY_WET_KG_PER_M2 = 0.001  # a film that is seen


@jit
def move_vapour(van, hour, outside, state, scratch, flow, at):
    """Half an hour of the vapour balance; its latent heat is left in scratch.latent_w, the hob's in cooking_w."""
    if van.zones == A.FOUR:
        move_among(A.FOUR, van, hour, outside, state, scratch, flow, at)
    else:
        move_among(van.zones, van, hour, outside, state, scratch, flow, at)


@jit
def move_among(zones, van, hour, outside, state, scratch, flow, at):
    """``move_vapour`` among so many zones."""
    outdoor_c = outside[A.TEMP_C]
    pressure = outside[A.PRESSURE_PA]
    screens = hour.screens
    for z in range(zones):
        scratch.source_kg_per_s[z] = scratch.vapour_kg_per_s[z] + scratch.shower_vapour_kg[z] / HALF_S
        flow[at.vapour_source_kg + z] += scratch.shower_vapour_kg[z]
        scratch.shower_vapour_kg[z] = 0.0
        scratch.latent_w[z] = 0.0
        scratch.cooking_w[z] = 0.0
        scratch.flow_in_kg_per_s[z] = scratch.vent_kg_per_s[z]
        scratch.flow_out_kg_per_s[z] = scratch.vent_kg_per_s[z]
    kept = 1.0 - hour.cooking_vented
    burned_kg_per_s = scratch.gas_kg[0] / QUARTER_S
    steam = hour.cooking_steam_kg / 3600.0 * kept
    hob_vapour = burned_kg_per_s * PROPANE_BURNED_WATER_SHARE * kept + steam
    scratch.source_kg_per_s[van.living] += hob_vapour
    flow[at.vapour_source_kg + van.living] += hob_vapour * HALF_S
    # The lower heating value is all sensible; what boils off as steam takes its latent heat from the flame.
    hob_w = burned_kg_per_s * PROPANE_LOWER_J_PER_KG * kept
    hob_w = max(0.0, hob_w - steam * VAPOUR_LATENT_J_PER_KG)
    scratch.cooking_w[van.living] = hob_w
    flow[at.cooking_j + van.living] += hob_w * HALF_S

    cloth = mass_coefficient_kg_per_m2s(CLOTH_FILM_W_PER_M2K)
    for z in range(zones):
        if state.kit_kg[z] > 0.0:
            air_c = state.temp_c[van.air_node[z]]
            rate = wet_area_share(state.kit_kg[z], state.kit_start_kg[z])
            rate *= kit_drying_kg_per_s(state.kit_m2[z], cloth, air_c, state.ratio[z], pressure)
            dried = min(state.kit_kg[z], rate * HALF_S)
            state.kit_kg[z] -= dried
            scratch.source_kg_per_s[z] += dried / HALF_S
            scratch.latent_w[z] -= dried * VAPOUR_LATENT_J_PER_KG / HALF_S
            flow[at.drying_kg + z] += dried

    extract = scratch.extract_kg_s[0]
    if extract > 0.0:
        scratch.flow_in_kg_per_s[van.living] += extract
        scratch.flow_out_kg_per_s[van.wet] += extract
        if van.wet != van.living:
            scratch.exchange_kg_s[van.living, van.wet] += extract

    film = mass_coefficient_kg_per_m2s(SURFACE_FILM_W_PER_M2K)
    for k in range(van.surfaces):
        air_c = state.temp_c[van.air_node[van.surface_zone[k]]]
        factor = van.surface_factor[k] + screens * (van.surface_factor_screened[k] - van.surface_factor[k])
        scratch.surface_saturation[k] = saturation_ratio(outdoor_c + factor * (air_c - outdoor_c), pressure)
        scratch.surface_rate[k] = film
    for z in range(zones):
        scratch.ratio_most[z] = saturation_ratio(state.temp_c[van.air_node[z]], pressure)

    surfaces = van.surfaces
    vapour_step(
        HALF_S, van.air_kg[:zones], state.ratio[:zones], scratch.flow_in_kg_per_s[:zones],
        scratch.flow_out_kg_per_s[:zones], outside[A.HUMIDITY_RATIO], scratch.exchange_kg_s[:zones, :zones],
        scratch.source_kg_per_s[:zones], van.surface_zone[:surfaces], van.surface_area_m2[:surfaces],
        scratch.surface_saturation[:surfaces], state.condensed_kg[:surfaces], scratch.surface_rate[:surfaces],
        scratch.ratio_most[:zones], scratch.surface_moved_kg[:surfaces], scratch.ratio_new[:zones],
        scratch.vapour_matrix[:zones, :zones], scratch.surface_dry[:surfaces], scratch.zone_full[:zones],
    )  # fmt: skip

    for z in range(zones):
        out = scratch.flow_out_kg_per_s[z] * scratch.ratio_new[z]
        out -= scratch.flow_in_kg_per_s[z] * outside[A.HUMIDITY_RATIO]
        for other in range(zones):
            if other != z:
                out += scratch.exchange_kg_s[z, other] * scratch.ratio_new[z]
                out -= scratch.exchange_kg_s[other, z] * scratch.ratio_new[other]
        flow[at.vapour_out_kg + z] += out * HALF_S
        flow[at.air_change_m3 + z] += scratch.vent_m3_per_h[z] * HALF_S / 3600.0
        state.ratio[z] = scratch.ratio_new[z]
    for k in range(van.surfaces):
        moved = scratch.surface_moved_kg[k]
        state.condensed_kg[k] = max(0.0, state.condensed_kg[k] + moved)
        flow[at.condensing_kg + k] += moved
        scratch.latent_w[van.surface_zone[k]] += moved * VAPOUR_LATENT_J_PER_KG / HALF_S
        if state.condensed_kg[k] > BARELY_WET_KG_PER_M2 * van.surface_area_m2[k]:
            flow[at.wet_s + k] += HALF_S
    for z in range(zones):
        flow[at.latent_j + z] += scratch.latent_w[z] * HALF_S


@jit
def settle_air(van, outside, state, scratch, flow, at):
    """At the half hour's end: what air that cooled meanwhile cannot hold settles on its zone's first surface.

    Its latent heat warms that air at once. By the tangent of the saturation curve, which lies under it, so that the
    air ends just below saturation; again where the curve bends the other way, at 0 °C.
    """
    pressure = outside[A.PRESSURE_PA]
    for k in range(van.surfaces):
        z = van.surface_zone[k]
        if k > 0 and van.surface_zone[k - 1] == z:
            continue
        node = van.air_node[z]
        k_per_kg = VAPOUR_LATENT_J_PER_KG / scratch.capacity[node]
        for _ in range(4):
            excess = state.ratio[z] - saturation_ratio(state.temp_c[node], pressure)
            if excess <= 0.0:
                break
            slope = saturation_ratio_slope_per_k(state.temp_c[node], pressure)
            kg = van.air_kg[z] * excess / (1.0 + van.air_kg[z] * slope * k_per_kg)
            state.ratio[z] -= kg / van.air_kg[z]
            state.temp_c[node] += kg * k_per_kg
            state.condensed_kg[k] += kg
            flow[at.condensing_kg + k] += kg
            flow[at.latent_j + z] += kg * VAPOUR_LATENT_J_PER_KG
