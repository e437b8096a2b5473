"""The envelope: films, U-values, metal ribs, coldest surfaces, sun and sky on the outer skin."""

from __future__ import annotations

from budget.compiled import jit
from budget.physics.properties import STEFAN_BOLTZMANN_W_PER_M2K4, ZERO_C_K, Floats

RSI_UP_M2K_PER_W = 0.10  # inner surface, heat flowing up (roof); ISO 6946:2017, table 7
RSI_LEVEL_M2K_PER_W = 0.13  # inner surface, heat flowing level (wall); the same
RSI_DOWN_M2K_PER_W = 0.17  # inner surface, heat flowing down (floor); the same
RSE_M2K_PER_W = 0.04  # outer surface; the same
SKIN_EMISSIVITY = 0.9  # ISO 6946:2017, annex C, ordinary surfaces
OUTER_RADIATION_W_PER_M2K = SKIN_EMISSIVITY * 4.0 * STEFAN_BOLTZMANN_W_PER_M2K4 * ZERO_C_K**3  # at 0 °C: 4.16


@jit
def radiation_film_w_per_m2k(mean_c: float, emissivity: float) -> float:
    """Radiative surface coefficient ``4 e sigma T³``; ISO 6946:2017, annex C. [W/m²K]"""
    kelvin = mean_c + ZERO_C_K
    return emissivity * 4.0 * STEFAN_BOLTZMANN_W_PER_M2K4 * kelvin * kelvin * kelvin


@jit
def external_film_w_per_m2k(wind_m_per_s: float) -> float:
    """Outer surface coefficient: convection 4 + 4 v plus radiation. [W/m²K]

    ISO 6946:2017, annex C. Departure: radiation taken at 0 °C throughout (3.6 at -10 °C, 4.6 at 10 °C).
    """
    return 4.0 + 4.0 * wind_m_per_s + OUTER_RADIATION_W_PER_M2K


@jit
def u_from_layers_w_per_m2k(thickness_m: Floats, conductivity_w_per_mk: Floats, r_si: float, r_se: float) -> float:
    """Thermal transmittance of homogeneous layers; ISO 6946:2017, section 6.7.1.1. [W/m²K]

    ``r_si`` and ``r_se`` are the surface resistances. [m²K/W]
    """
    resistance = r_si + r_se
    for layer in range(thickness_m.shape[0]):
        resistance += thickness_m[layer] / conductivity_w_per_mk[layer]
    return 1.0 / resistance


@jit
def ribbed_u_w_per_m2k(panel_w_per_m2k: float, rib_w_per_m2k: float, rib_share: float) -> float:
    """Area-weighted transmittance of a panel with metal ribs. [W/m²K]

    The combined method of ISO 6946 excludes insulation bridged by metal; weighting by area is the upper limit of
    heat flow with no lateral spreading inside the insulation.
    """
    return panel_w_per_m2k + rib_share * (rib_w_per_m2k - panel_w_per_m2k)


@jit
def combined_resistance_m2k_per_w(layer_m2k_per_w: Floats, path_share: Floats, r_si: float, r_se: float) -> float:
    """Total resistance of layers bridged by non-metal paths: the mean of upper and lower limit. [m²K/W]

    ISO 6946:2017, section 6.7.2 (combined method). ``layer_m2k_per_w[layer, path]`` holds the resistance of each
    layer on each path, ``path_share`` the share of area of each path. Metal paths are out of its scope.
    """
    layers, paths = layer_m2k_per_w.shape
    upper_w_per_m2k = 0.0
    for path in range(paths):
        resistance = r_si + r_se
        for layer in range(layers):
            resistance += layer_m2k_per_w[layer, path]
        upper_w_per_m2k += path_share[path] / resistance
    lower = r_si + r_se
    for layer in range(layers):
        conductance = 0.0
        for path in range(paths):
            conductance += path_share[path] / layer_m2k_per_w[layer, path]
        lower += 1.0 / conductance
    return 0.5 * (1.0 / upper_w_per_m2k + lower)


@jit
def surface_factor(u_w_per_m2k: float, r_si: float) -> float:
    """Temperature factor fRsi of an inner surface: 1 - U Rsi; ISO 13788:2012, section 4.3. [–]"""
    return 1.0 - u_w_per_m2k * r_si


@jit
def surface_c(inside_c: float, outside_c: float, factor: float) -> float:
    """Inner surface temperature from the temperature factor fRsi; ISO 13788:2012, equation 2. [°C]"""
    return outside_c + factor * (inside_c - outside_c)


@jit
def wind_u_w_per_m2k(u_w_per_m2k: float, wind_m_per_s: float) -> float:
    """A U-value quoted with the standard outer resistance, at this wind. [W/m²K]

    Replaces the standard Rse of 0.04 m²K/W by the film at this wind. A U-value above 25 would leave no resistance
    inside the outer film; it is treated as the film alone.
    """
    inner = max(1.0 / u_w_per_m2k - RSE_M2K_PER_W, 0.0)
    return 1.0 / (inner + 1.0 / external_film_w_per_m2k(wind_m_per_s))


@jit
def conductance_w_per_k(area_m2: float, u_w_per_m2k: float, wind_m_per_s: float) -> float:
    """Heat loss of an element per kelvin, air to air, at this wind. [W/K]"""
    return area_m2 * wind_u_w_per_m2k(u_w_per_m2k, wind_m_per_s)


@jit
def sky_loss_w_per_m2(sky_delta_k: float, sky_view: float) -> float:
    """Long-wave loss of the outer skin to a sky that is colder than the air by ``sky_delta_k``. [W/m²]

    ISO 52016-1:2017, section 6.5.13: view factor times radiative coefficient times (air - sky); the view of an
    open horizontal roof is 1, of a wall 0.5.
    """
    return sky_view * OUTER_RADIATION_W_PER_M2K * sky_delta_k


@jit
def solair_gain_w(
    area_m2: float,
    u_w_per_m2k: float,
    wind_m_per_s: float,
    absorptance: float,
    irradiance_w_per_m2: float,
    sky_delta_k: float,
    sky_view: float,
) -> float:
    """Heat that sun and sky on the outer skin send inside, beyond the loss to outdoor air. [W]

    Sol-air temperature (ASHRAE Fundamentals 2017, chapter 18, equation 30): conductance times (absorbed sun -
    long-wave loss) over the outer film. Negative on a clear night.
    """
    net = absorptance * irradiance_w_per_m2 - sky_loss_w_per_m2(sky_delta_k, sky_view)
    return conductance_w_per_k(area_m2, u_w_per_m2k, wind_m_per_s) * net / external_film_w_per_m2k(wind_m_per_s)
