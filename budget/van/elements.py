"""Conductances of the cabin's elements, for the engine and for the numbers that are shown."""

from __future__ import annotations

import numpy as np

from budget.physics import envelope
from budget.van.cabin import Cabin, Face, Glazing, Opaque, Zone


def r_si_m2k_per_w(faces: Face) -> float:
    """Inner surface resistance of an element by where it faces: heat flows up to a roof, down to a floor. [m²K/W]"""
    if faces == "roof":
        return envelope.RSI_UP_M2K_PER_W
    return envelope.RSI_DOWN_M2K_PER_W if faces == "floor" else envelope.RSI_LEVEL_M2K_PER_W


def opaque_u_w_per_m2k(element: Opaque) -> float:
    """U-value of an opaque element with its ribs, inside air to outside air at the standard outer film. [W/m²K]

    Layers: the clear panel by ISO 6946 with the surface resistances of its direction of heat flow, times the ribs'
    factor; the combined method excludes metal bridges. A U-value that was given has ribs and films in it.
    """
    if element.u_w_per_m2k is not None:
        return element.u_w_per_m2k
    thickness_m = np.array([layer.thickness_m for layer in element.layers])
    conductivity_w_per_mk = np.array([layer.conductivity_w_per_mk for layer in element.layers])
    clear_w_per_m2k = envelope.u_from_layers_w_per_m2k(
        thickness_m, conductivity_w_per_mk, r_si_m2k_per_w(element.faces), envelope.RSE_M2K_PER_W
    )
    return element.ribs_factor * clear_w_per_m2k


def glazing_u_w_per_m2k(pane: Glazing, screens_share: float = 0.0) -> float:
    """U-value of a window with its screens up for a share of the time. [W/m²K]"""
    screened = pane.u_w_per_m2k if pane.u_screened_w_per_m2k is None else pane.u_screened_w_per_m2k
    return pane.u_w_per_m2k + screens_share * (screened - pane.u_w_per_m2k)


def opaque_w_per_k(element: Opaque) -> float:
    """Conductance of an opaque element. [W/K]"""
    return element.area_m2 * opaque_u_w_per_m2k(element)


def glazing_w_per_k(pane: Glazing, screens_share: float = 0.0) -> float:
    """Conductance of a window. [W/K]"""
    return pane.area_m2 * glazing_u_w_per_m2k(pane, screens_share)


def zone_w_per_k(zone: Zone, screens_share: float = 0.0) -> float:
    """Conductance of a zone's own shell to outdoors, air exchange left out. [W/K]"""
    opaque = sum(opaque_w_per_k(element) for element in zone.opaque)
    return opaque + sum(glazing_w_per_k(pane, screens_share) for pane in zone.glazing)


def shell_w_per_k(cabin: Cabin, screens_share: float = 0.0) -> float:
    """Conductance of all zones' shells to outdoors, as if all were at one temperature. [W/K]"""
    return sum(zone_w_per_k(zone, screens_share) for zone in cabin.zones)
