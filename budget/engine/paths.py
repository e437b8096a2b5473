"""Paths of heat and places of condensation, from the description of the cabin."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import NamedTuple

from budget.engine import arrays as A
from budget.physics.envelope import surface_factor
from budget.van.cabin import Glazing, Zone
from budget.van.elements import glazing_u_w_per_m2k, opaque_u_w_per_m2k
from budget.van.model import Van

FACES = {
    "roof": A.ROOF, "floor": A.FLOOR, "front": A.FRONT, "rear": A.REAR, "left": A.LEFT, "right": A.RIGHT,
    "sides": A.SIDES,
}  # fmt: skip
SKY_VIEW = {"roof": 1.0, "floor": 0.0}
WALL_SKY_VIEW = 0.5
RSI_LEVEL_M2K_PER_W = 0.13
RIB_U_W_PER_M2K = 4.0  # lined steel rib, common practice, no source
RIB_AREA_SHARE = 0.04  # of the opaque area, common practice, no source
CORNER_AREA_SHARE = 0.15  # walls behind bed and cupboards, common practice, no source
CORNER_RSI_M2K_PER_W = 0.25  # surface resistance behind furniture, ISO 13788:2012


@dataclass(frozen=True, kw_only=True)
class Edge:
    """One conductance, with what its kind needs."""

    name: str
    a: str
    b: str | None
    kind: int
    zone: int = 0
    index: int = 0
    w_per_k: float = 0.0
    area_m2: float = 0.0
    u: float = 1.0
    u_screened: float = 1.0
    pull_share: float = 1.0
    air_share: float = 1.0
    face: int = A.FLOOR
    absorptance: float = 0.0
    g: float = 0.0
    g_screened: float = 0.0
    sky_view: float = 0.0


def _zone_edges(zone: Zone, z: int) -> list[Edge]:
    name = f"{zone.name}_air"
    pull = {"roof": 1.0 + zone.roof_warmer_share, "floor": 1.0 - zone.floor_colder_share}
    opaque_w_per_k = sum(part.area_m2 * opaque_u_w_per_m2k(part) * pull.get(part.faces, 1.0) for part in zone.opaque)
    # The part that leaves through the lining must leave the steady loss as it is: coupling and lining in series.
    share = min(zone.fabric_loss_share, 0.6 * zone.fabric_coupling_w_per_k / max(opaque_w_per_k, 1e-9))
    through = share * opaque_w_per_k
    edges = [
        Edge(name=f"{zone.name} lining", a=name, b=f"{zone.name}_fabric", kind=A.FIXED, zone=z,
             w_per_k=zone.fabric_coupling_w_per_k)
    ]  # fmt: skip
    for part in zone.opaque:
        edges.append(
            Edge(
                name=f"{zone.name} {part.name}",
                a=name,
                b=None,
                kind=A.OPAQUE,
                zone=z,
                area_m2=part.area_m2,
                u=opaque_u_w_per_m2k(part),
                pull_share=pull.get(part.faces, 1.0),
                air_share=1.0 - share,
                face=FACES[part.faces],
                absorptance=part.solar_absorptance_share,
                sky_view=SKY_VIEW.get(part.faces, WALL_SKY_VIEW),
            )
        )
    if through > 0.0:
        lining = through * zone.fabric_coupling_w_per_k / (zone.fabric_coupling_w_per_k - through)
        edges.append(
            Edge(name=f"{zone.name} shell", a=f"{zone.name}_fabric", b=None, kind=A.LINING, zone=z, w_per_k=lining)
        )
    for pane in zone.glazing:
        edges.append(
            Edge(
                name=f"{zone.name} {pane.name}",
                a=name,
                b=None,
                kind=A.GLAZING,
                zone=z,
                area_m2=pane.area_m2,
                u=pane.u_w_per_m2k,
                u_screened=glazing_u_w_per_m2k(pane, 1.0),
                pull_share=pull.get(pane.faces, 1.0),
                face=FACES[pane.faces],
                g=pane.g_share,
                g_screened=pane.g_screened_share,
                sky_view=SKY_VIEW.get(pane.faces, WALL_SKY_VIEW),
            )
        )
    edges.append(Edge(name=f"{zone.name} air exchange", a=name, b=None, kind=A.VENT, zone=z, index=z))
    return edges


def edges_of(van: Van) -> list[Edge]:
    zones = van.cabin.zones
    edges = [edge for z, zone in enumerate(zones) for edge in _zone_edges(zone, z)]
    for d, opening in enumerate(van.cabin.openings):
        a, b = opening.between
        edges.append(
            Edge(name=opening.name, a=f"{a}_air", b=f"{b}_air", kind=A.DOORWAY, index=d, zone=van.cabin.zone_index(a))
        )

    def fixed(node: str, zone: str, w_per_k: float, label: str) -> Edge:
        b = None if zone == "outdoors" else f"{zone}_air"
        z = 0 if zone == "outdoors" else van.cabin.zone_index(zone)
        return Edge(name=label, a=node, b=b, kind=A.FIXED, zone=z, w_per_k=w_per_k)

    water = van.water
    edges.append(fixed("boiler", water.boiler.zone, water.boiler.standing_loss_w / 40.0, "boiler standing loss"))
    edges.append(fixed("fresh", water.fresh.zone, water.fresh.coupling_w_per_k, "fresh tank"))
    edges.append(fixed("waste", water.waste.zone, water.waste.coupling_w_per_k, "waste tank"))
    colder = van.cabin.zones[van.cabin.zone_index(water.pipes.zone)].floor_colder_share
    edges.append(fixed("pipes", water.pipes.zone, water.pipes.coupling_w_per_k * (1.0 - colder), "pipes"))
    outdoor = water.pipes.coupling_w_per_k * colder + water.pipes.outdoor_w_per_k
    edges.append(fixed("pipes", "outdoors", outdoor, "pipes to outdoors"))
    battery = van.power.battery
    edges.append(fixed("battery", battery.zone, battery.coupling_w_per_k, "battery"))
    for k in range(len(van.gas.bottles)):
        edges.append(fixed(f"bottle_{k + 1}", "outdoors", 1.0, f"bottle {k + 1} to outdoors"))
        if van.gas.locker_zone != "outdoors":
            edges.append(fixed(f"bottle_{k + 1}", van.gas.locker_zone, 1.0, f"bottle {k + 1} to {van.gas.locker_zone}"))
    return edges


class Surface(NamedTuple):
    """A surface where water condenses, with its temperature factor bare and screened."""

    name: str
    zone: int
    area_m2: float
    factor: float
    factor_screened: float
    glass: bool


def surfaces_of(van: Van) -> list[Surface]:
    """Surfaces where water condenses. The coldest of a zone stands first: it takes what the zone cannot hold."""
    found: list[Surface] = []
    for z, zone in enumerate(van.cabin.zones):
        here = []
        panes: dict[tuple[float, str], list[Glazing]] = defaultdict(list)
        for pane in zone.glazing:
            panes[pane.u_w_per_m2k, pane.screens].append(pane)
        for (u, _), alike in panes.items():
            name = f"{zone.name} {alike[0].name if len(alike) == 1 else 'glass'}"
            area = sum(pane.area_m2 for pane in alike)
            bare = surface_factor(u, RSI_LEVEL_M2K_PER_W)
            # Air finds its way behind an inside screen, and the glass there is no warmer than without.
            outside = all(pane.screens == "outside" for pane in alike)
            screened = surface_factor(glazing_u_w_per_m2k(alike[0], 1.0), RSI_LEVEL_M2K_PER_W) if outside else bare
            here.append(Surface(name, z, area, bare, screened, True))
        if zone.opaque:
            area = sum(part.area_m2 for part in zone.opaque if part.faces != "floor")
            mean_u = sum(part.area_m2 * opaque_u_w_per_m2k(part) for part in zone.opaque) / sum(
                part.area_m2 for part in zone.opaque
            )
            if mean_u > 1.0 and area > 0.0:
                u = max(mean_u, min(RIB_U_W_PER_M2K, 3.0 * mean_u))
                rib = surface_factor(u, RSI_LEVEL_M2K_PER_W)
                here.append(Surface(f"{zone.name} ribs", z, RIB_AREA_SHARE * area, rib, rib, False))
            if area > 0.0:
                corner = 1.0 - CORNER_RSI_M2K_PER_W / (CORNER_RSI_M2K_PER_W + 1.0 / mean_u - RSI_LEVEL_M2K_PER_W)
                here.append(Surface(f"{zone.name} corners", z, CORNER_AREA_SHARE * area, corner, corner, False))
        found += sorted(here, key=lambda item: item.factor)
    return found
