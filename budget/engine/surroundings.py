"""What surrounds the zones in the march: skin and sun, people and loads, air exchange."""

from __future__ import annotations

from budget.compiled import jit
from budget.engine import arrays as A
from budget.engine.clock import HALF_S
from budget.engine.current import served_share
from budget.engine.rows import fill
from budget.engine.state import CUT_OUT
from budget.physics.envelope import conductance_w_per_k, solair_gain_w
from budget.physics.moisture import wet_area_share
from budget.physics.properties import AIR_CP_J_PER_KG_K, ZERO_C_K, air_density_kg_per_m3
from budget.physics.ventilation import doorway_w_per_k, leakage_m3_per_h, vent_m3_per_h

CAB_WARMTH_W_PER_K = 150.0  # heat from the van's engine while driving; common practice, no source
CAB_WARMTH_MOST_W = 3000.0  # the same
PEOPLE_LATENT_J_PER_KG = 0.68 * 3.6e6  # 0.68 W per g/h, at skin temperature; common practice, no source


@jit
def hang_kit(van, hour, state, flow, at):
    """Hang up what the tour brings in wet this hour, beside what is still wet of earlier kit.

    That counts with the share of its area that still dries at the full rate: its own drying goes on as it would have.
    """
    for z in range(van.zones):
        if hour.hung_kg[z] > 0.0:
            wet = wet_area_share(state.kit_kg[z], state.kit_start_kg[z])
            state.kit_kg[z] += hour.hung_kg[z]
            state.kit_start_kg[z] = wet * state.kit_start_kg[z] + hour.hung_kg[z]
            state.kit_m2[z] = wet * state.kit_m2[z] + hour.hung_m2[z]
            flow[at.kit_hung_kg + z] += hour.hung_kg[z]


@jit
def surround(van, hour, outside, factors, state, scratch, flow, at):
    """Set the hour's conductances to outdoors and its steady heat gains."""
    wind = outside[A.WIND_M_PER_S]
    screens = hour.screens
    fill(scratch.gain_w, 0.0)
    g = scratch.edge_w_per_k
    for e in range(van.edges):
        kind = van.edge_kind[e]
        if kind == A.FIXED:
            g[e] = van.edge_w_per_k[e]
        elif kind == A.LINING:
            g[e] = van.edge_w_per_k[e] * factors[A.LOSS]
        elif kind <= A.GLAZING:
            area = van.edge_area_m2[e]
            u = van.edge_u_w_per_m2k[e]
            irradiance = outside[van.edge_face[e]]
            zone = van.edge_zone[e]
            if kind == A.OPAQUE:
                u *= factors[A.LOSS]
                share = van.edge_air_share[e]
            else:
                u = (u + screens * (van.edge_u_screened_w_per_m2k[e] - u)) * factors[A.GLASS]
                share = 1.0
                sun = area * irradiance * (van.edge_g[e] + screens * (van.edge_g_screened[e] - van.edge_g[e]))
                flow[at.sun_j + zone] += sun * 3600.0
                scratch.gain_w[van.fabric_node[zone]] += sun * van.solar_to_fabric_share
                scratch.gain_w[van.air_node[zone]] += sun * (1.0 - van.solar_to_fabric_share)
            whole = conductance_w_per_k(area, u, wind)
            g[e] = whole * share * van.edge_pull_share[e]
            skin = solair_gain_w(
                area, u, wind, van.edge_absorptance[e], irradiance, outside[A.SKY_DELTA_K], van.edge_sky_view[e]
            )
            flow[at.skin_j + zone] += skin * 3600.0
            scratch.gain_w[van.air_node[zone]] += skin
    people_zone = hour.people_zone
    if people_zone >= 0:
        latent = hour.people_latent_kg_per_s * factors[A.PEOPLE]
        sensible = max(0.0, hour.people_w * factors[A.PEOPLE] - latent * PEOPLE_LATENT_J_PER_KG)
        flow[at.people_j + people_zone] += sensible * 3600.0
        scratch.gain_w[van.air_node[people_zone]] += sensible
        scratch.vapour_kg_per_s[people_zone] += latent
        flow[at.vapour_source_kg + people_zone] += latent * 3600.0


@jit
def warm_cab(van, hour, outdoor_c, state, scratch):
    """What the van's engine may give to the cab in the half hour while driving. [W/K]

    It holds the cab: as much as 150 W/K towards its temperature, 3 kW at most, never cooling. A conductance, because
    the cab's air follows within minutes; where that would take more than 3 kW once the air has settled between its
    neighbours, it is what gives 3 kW there.
    """
    scratch.drive_w_per_k[0] = 0.0
    if hour.moving != 1 or van.cab < 0:
        return
    cab = van.air_node[van.cab]
    pull = 0.0
    warmth_w = scratch.gain_w[cab]
    for e in range(van.edges):
        other = van.edge_to[e]
        if other == cab:
            other = van.edge_from[e]
        elif van.edge_from[e] != cab:
            continue
        pull += scratch.edge_w_per_k[e]
        warmth_w += scratch.edge_w_per_k[e] * (state.temp_c[other] if other >= 0 else outdoor_c)
    settled_c = (warmth_w + CAB_WARMTH_W_PER_K * hour.drive_cab_c) / (pull + CAB_WARMTH_W_PER_K)
    if CAB_WARMTH_W_PER_K * (hour.drive_cab_c - settled_c) > CAB_WARMTH_MOST_W:
        settled_c = (warmth_w + CAB_WARMTH_MOST_W) / pull
    short_k = hour.drive_cab_c - settled_c
    if short_k > 0.0:
        scratch.drive_w_per_k[0] = min(CAB_WARMTH_W_PER_K, CAB_WARMTH_MOST_W / short_k)


@jit
def run_loads(van, hour, outside, factors, state, scratch, flow, at):
    """What the 12 V loads draw in the half hour, and the heat of appliances in each zone; nothing after a cut-out.

    In the half hour in which they take the battery to its cut-out they and the extract fan run for a part of it, and
    the draw is the mean.
    """
    powered = state.marks[CUT_OUT] == 0
    drawn_w = 0.0
    for i in range(van.loads):
        scratch.load_now_w[i] = 0.0
        if powered:
            around_c = outside[A.TEMP_C]
            if van.load_zone[i] >= 0:
                around_c = state.temp_c[van.air_node[van.load_zone[i]]]
            duty = van.load_duty[i] * (1.0 + van.load_duty_per_k[i] * (around_c - 20.0))
            duty = min(1.0, max(0.0, duty)) if van.load_duty_per_k[i] > 0.0 else van.load_duty[i]
            scratch.load_now_w[i] = van.load_w[i] * duty * hour.load_share[i] * factors[A.LOADS]
            drawn_w += scratch.load_now_w[i]
    served = served_share(van, hour, outside, factors, state, drawn_w) if powered else 1.0
    scratch.served[0] = served
    fill(scratch.appliance_w, 0.0)
    for i in range(van.loads):
        scratch.load_now_w[i] *= served
        if van.load_zone[i] >= 0:
            scratch.appliance_w[van.load_zone[i]] += scratch.load_now_w[i]
    scratch.appliance_w[van.living] += min(hour.cooking_electric_w, hour.hookup_w) * (1.0 - hour.cooking_vented)
    for z in range(van.zones):
        flow[at.appliances_j + z] += scratch.appliance_w[z] * HALF_S
    scratch.extract_kg_s[0] = hour.extract_kg_per_s * served if powered and van.wet >= 0 else 0.0


@jit
def exchange_air(van, hour, outside, factors, state, scratch):
    """Renew the air exchange of the half hour: leaks, vents, doorways and the extract fan; conductances and kg/s."""
    outdoor_c = outside[A.TEMP_C]
    wind = outside[A.WIND_M_PER_S]
    density = air_density_kg_per_m3(outdoor_c, outside[A.PRESSURE_PA])
    moving = hour.moving
    for z in range(A.ZONES):
        fill(scratch.exchange_kg_s[z], 0.0)
    for k in range(van.airy):
        e = van.airy_edge[k]
        if van.edge_kind[e] == A.VENT:
            z = van.edge_index[e]
            delta = abs(state.temp_c[van.air_node[z]] - outdoor_c)
            low = van.vent_low_cm2[z]
            high = van.vent_high_cm2[z]
            if z == van.living:
                high += hour.rooflight_cm2
            zone_c = state.temp_c[van.air_node[z]]
            m3_per_h = factors[A.LEAKAGE] * leakage_m3_per_h(van.leakage_cm2[z], delta, wind)
            warm_m3_per_h = vent_m3_per_h(low, high, van.vent_height_m[z], delta, wind, zone_c)
            m3_per_h += warm_m3_per_h * (outdoor_c + ZERO_C_K) / (zone_c + ZERO_C_K)
            if z == van.living and moving == 0:
                m3_per_h += hour.door_air_m3_per_h
            scratch.vent_m3_per_h[z] = m3_per_h
            scratch.vent_kg_per_s[z] = m3_per_h * density / 3600.0
            scratch.edge_w_per_k[e] = scratch.vent_kg_per_s[z] * AIR_CP_J_PER_KG_K
        else:
            d = van.edge_index[e]
            a = van.door_a[d]
            b = van.door_b[d]
            open_share = 1.0 - hour.closed[d]
            ta = state.temp_c[van.air_node[a]]
            tb = state.temp_c[van.air_node[b]]
            closed_kg = van.door_closed_m3_per_h[d] * density / 3600.0
            g = van.door_closed_w_per_k[d] + closed_kg * AIR_CP_J_PER_KG_K
            kg = closed_kg
            if open_share > 0.0 and van.door_width_m[d] > 0.0:
                wide = doorway_w_per_k(van.door_width_m[d], van.door_height_m[d], max(ta, tb), min(ta, tb), density)
                wide = 0.5 * (wide + scratch.doorway_before[d]) if scratch.doorway_before[d] > 0.0 else wide
                scratch.doorway_before[d] = wide
                g += open_share * wide
                kg += open_share * wide / AIR_CP_J_PER_KG_K
            scratch.edge_w_per_k[e] = g
            scratch.exchange_kg_s[a, b] += kg
            scratch.exchange_kg_s[b, a] += kg


@jit
def blow_vapour(van, burner, scratch):
    """Air that the ducts carry to each zone and back, as it was in the half hour before: it carries vapour. [kg/s]"""
    living = van.air_node[van.living]
    for e in range(van.duct_edges):
        if burner.flow_to[e] == living:
            for z in range(van.zones):
                if van.air_node[z] == burner.flow_from[e]:
                    carried = scratch.blown_flow[e] / HALF_S / AIR_CP_J_PER_KG_K
                    scratch.exchange_kg_s[z, van.living] += carried
                    scratch.exchange_kg_s[van.living, z] += carried
