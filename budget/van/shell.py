"""The shell of a described van: zones, elements by face, windows, vents and the openings between zones."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

from budget.errors import InputFault
from budget.van import presets
from budget.van.cabin import Cabin, Face, Glazing, Layer, Opaque, Opening, Zone

if TYPE_CHECKING:
    from budget.van.description import VanDescription, Window

REFERENCE_LENGTH_M = 6.0
_WindowFace = Literal["left", "right", "rear", "roof"]
FACES: tuple[Face, ...] = ("roof", "floor", "left", "right", "rear")
# The plywood floor that lies on whatever insulates the floor; 0.13 W/mK is ISO 10456's plywood of 500 kg/m³.
PLYWOOD = Layer(name="plywood floor", thickness_m=0.012, conductivity_w_per_mk=0.13)
# Combined film inside, 1 / Rsi of ISO 6946 for level heat flow, over the lined area of a zone. [W/m²K]
FILM_W_PER_M2K = 1.0 / 0.13
# Where cracks are: share of the whole van's leakage area in each zone; common practice, no source.
LEAKAGE_SHARE = {"living": 0.6, "cab": 0.25, "wet_room": 0.05, "garage": 0.10}


def shell_m2(length_m: float, roof: str = "high roof") -> float:
    """Shell of the habitation area of a van of this length. [m²]"""
    size = presets.get("size", roof)
    return size.usual("shell_at_6_m_m2") + size.usual("shell_each_m_m2") * (length_m - REFERENCE_LENGTH_M)


def habitation_air_m3(length_m: float, roof: str = "high roof") -> float:
    """Air of the habitation area of a van of this length. [m³]"""
    size = presets.get("size", roof)
    return size.usual("air_at_6_m_m3") + size.usual("air_each_m_m3") * (length_m - REFERENCE_LENGTH_M)


def faces_m2(length_m: float, roof: str = "high roof") -> dict[Face, float]:
    """Shell of the habitation area by face; the rear is of one size, the rest grows with the length. [m²]"""
    size = presets.get("size", roof)
    rear_m2, floor_share = size.usual("rear_m2"), size.usual("floor_share")
    rest_m2 = shell_m2(length_m, roof) - rear_m2
    side_m2 = rest_m2 * (1.0 - 2.0 * floor_share) / 2.0
    return {
        "roof": rest_m2 * floor_share,
        "floor": rest_m2 * floor_share,
        "left": side_m2,
        "right": side_m2,
        "rear": rear_m2,
    }


def cabin(answers: VanDescription) -> Cabin:
    """Zones and openings that the answers describe. InputFault where windows are larger than their wall."""
    beside = [name for name in ("wet_room", "garage") if _has_zone(answers, name)]
    faces = faces_m2(answers.length_m, answers.roof)
    air_m3 = habitation_air_m3(answers.length_m, answers.roof)
    areas: dict[str, dict[Face, float]] = {}
    volumes: dict[str, float] = {}
    for name in beside:
        zone = presets.get("zone", name)
        areas[name] = {face: zone.usual(f"{face}_m2") for face in FACES}
        volumes[name] = zone.usual("air_m3")
    areas["living"] = {face: faces[face] - sum(areas[name][face] for name in beside) for face in FACES}
    volumes["living"] = air_m3 - sum(volumes[name] for name in beside)
    habitation = ("living", *beside)
    zones = [_zone(answers, name, areas, volumes) for name in habitation]
    zones.insert(1, _cab(answers, habitation))
    return Cabin(zones=tuple(zones), openings=_openings(answers, beside))


def _has_zone(answers: VanDescription, name: str) -> bool:
    given: bool | None = getattr(answers, name)
    if given is not None:
        return given
    return answers.length_m >= presets.get("zone", name).usual("from_length_m")


def _zone(answers: VanDescription, name: str, areas: dict[str, dict[Face, float]], volumes: dict[str, float]) -> Zone:
    glazing = _windows(answers, name, areas[name])
    opaque = []
    for face in FACES:
        glass_m2 = sum(pane.area_m2 for pane in glazing if pane.faces == face)
        area_m2 = areas[name][face] - glass_m2
        if areas[name][face] <= 0.0 and glass_m2 == 0.0:
            continue
        if area_m2 < 0.01:
            raise InputFault(
                f"windows facing {face} in the zone {name} must be smaller than the {areas[name][face]:.2f} m² there, "
                f"got {glass_m2:.2f} m²; correct their sizes, or their faces or zone."
            )
        opaque.append(Opaque(name=f"{name} {face}", area_m2=area_m2, faces=face, **_wall(answers, face)))
    lined_m2 = sum(areas[name].values())
    shell_share = lined_m2 / sum(sum(faces.values()) for faces in areas.values())
    air_share = volumes[name] / sum(volumes.values())
    size = shell_m2(answers.length_m, answers.roof) / shell_m2(REFERENCE_LENGTH_M)
    furniture = presets.get("furniture", answers.furniture)
    fabric_j_per_k = answers.fabric_capacity_j_per_k or furniture.usual("fabric_capacity_j_per_k") * size
    return Zone(
        name=name,
        air_m3=volumes[name],
        air_capacity_j_per_k=furniture.usual("air_capacity_j_per_k") * size * air_share,
        fabric_capacity_j_per_k=fabric_j_per_k * shell_share,
        fabric_coupling_w_per_k=lined_m2 * FILM_W_PER_M2K,
        leakage_cm2=_leakage_cm2(answers, name, tuple(areas)),
        opaque=tuple(opaque),
        glazing=glazing,
        **(_vents(answers) if name == "living" else {}),
    )


def _wall(answers: VanDescription, face: Face) -> dict[str, Any]:
    """U-value, or layers with the ribs' factor, and the skin's absorptance of one face."""
    wall: dict[str, Any] = {
        "solar_absorptance_share": presets.get("colour", answers.colour).usual("solar_absorptance_share")
    }
    own = {"roof": answers.roof_u_w_per_m2k, "floor": answers.floor_u_w_per_m2k}.get(face)
    if own is not None:
        return wall | {"u_w_per_m2k": own}
    ribs = presets.get("ribs", answers.ribs).usual("clear_u_factor") if answers.ribs else None
    if answers.wall_layers:
        floor = (PLYWOOD,) if face == "floor" else ()
        return wall | {"layers": floor + answers.wall_layers, "ribs_factor": ribs or 1.0}
    u_w_per_m2k = wall_u_w_per_m2k(answers)
    if face == "floor":
        u_w_per_m2k = 1.0 / (1.0 / u_w_per_m2k + PLYWOOD.thickness_m / PLYWOOD.conductivity_w_per_mk)
    return wall | {"u_w_per_m2k": u_w_per_m2k}


def wall_u_w_per_m2k(answers: VanDescription) -> float:
    """U-value of walls and doors, ribs in it, from the answers other than layers. [W/m²K]

    Ribs that the user knows multiply the clear panel's U; otherwise the preset's U has them in it, never both.
    """
    if answers.wall_u_w_per_m2k is not None:
        return answers.wall_u_w_per_m2k
    insulation = presets.get("insulation", answers.insulation or "none")
    if answers.ribs is not None and "clear_u_w_per_m2k" in insulation.values:
        factor = presets.get("ribs", answers.ribs).usual("clear_u_factor")
        return insulation.usual("clear_u_w_per_m2k") * factor
    return insulation.usual("u_w_per_m2k")


def _usual_windows(kind: str, faces: dict[Face, float]) -> tuple[Window, ...]:
    """One window each side, two in the rear doors and a rooflight; none takes more than a third of its wall."""
    from budget.van.description import Window

    usual: tuple[tuple[str, _WindowFace, float, float, int], ...] = (
        (kind, "left", 0.9, 0.5, 1),
        (kind, "right", 0.9, 0.5, 1),
        (kind, "rear", 0.45, 0.5, 2),
        ("rooflight", "roof", 0.4, 0.4, 1),
    )
    return tuple(
        Window(kind=kind, faces=face, width_m=width_m, height_m=height_m, count=count)
        for kind, face, width_m, height_m, count in usual
        if width_m * height_m * count <= faces[face] / 3.0
    )


def _windows(answers: VanDescription, zone: str, faces: dict[Face, float]) -> tuple[Glazing, ...]:
    if isinstance(answers.windows, str):
        windows = _usual_windows(answers.windows, faces) if zone == "living" else ()
    else:
        windows = answers.windows
    panes = []
    for window in windows:
        if window.zone != "living" and not _has_zone(answers, window.zone):
            raise InputFault(
                f"a window's zone must be one that the van has, got {window.zone}; set {window.zone} = true."
            )
        if window.zone != zone:
            continue
        kind = presets.get("window", window.kind)
        u_w_per_m2k = window.u_w_per_m2k or max(kind.usual("u_w_per_m2k"), window.u_screened_w_per_m2k or 0.0)
        screened = window.u_screened_w_per_m2k or min(kind.usual("u_screened_w_per_m2k"), u_w_per_m2k)
        panes.append(
            Glazing(
                name=f"{window.kind} {window.faces}",
                area_m2=window.width_m * window.height_m * window.count,
                faces=window.faces,
                u_w_per_m2k=u_w_per_m2k,
                u_screened_w_per_m2k=screened,
                g_share=kind.usual("g_share"),
                g_screened_share=kind.usual("g_screened_share"),
            )
        )
    return tuple(panes)


def _leakage_cm2(answers: VanDescription, name: str, habitation: tuple[str, ...]) -> float:
    """This zone's part of the van's leakage; zones that the van has not leave theirs to the living area."""
    size = shell_m2(answers.length_m, answers.roof) / shell_m2(REFERENCE_LENGTH_M)
    whole = answers.leakage_cm2
    if whole is None:
        whole = presets.get("draughts", answers.draughts).usual("leakage_cm2") * size
    share = LEAKAGE_SHARE[name]
    if name == "living":
        share += sum(LEAKAGE_SHARE[absent] for absent in ("wet_room", "garage") if absent not in habitation)
    return whole * share


def _vents(answers: VanDescription) -> dict[str, float]:
    vents = presets.get("vents", "fixed vents")
    low, high = answers.vent_low_cm2, answers.vent_high_cm2
    return {
        "vent_low_cm2": vents.usual("vent_low_cm2") if low is None else low,
        "vent_high_cm2": vents.usual("vent_high_cm2") if high is None else high,
        "vent_height_m": vents.usual("vent_height_m"),
    }


def _cab(answers: VanDescription, habitation: tuple[str, ...]) -> Zone:
    cab = presets.get("cab", "cab")
    screens = presets.get("cab_screens", answers.cab_screens)
    u_w_per_m2k = cab.usual("glass_u_w_per_m2k")
    screened = answers.cab_glass_u_w_per_m2k or min(screens.usual("u_screened_w_per_m2k"), u_w_per_m2k)
    skin = {
        "u_w_per_m2k": cab.usual("skin_u_w_per_m2k"),
        "solar_absorptance_share": presets.get("colour", answers.colour).usual("solar_absorptance_share"),
    }
    glass = {
        "u_w_per_m2k": max(u_w_per_m2k, screened),
        "u_screened_w_per_m2k": screened,
        "g_share": cab.usual("glass_g_share"),
        "g_screened_share": screens.usual("g_screened_share"),
        "screens": "outside" if answers.cab_screens in ("outside", "both") else "inside",
    }
    skins: tuple[tuple[Face, str], ...] = (
        ("roof", "roof_m2"),
        ("floor", "floor_m2"),
        ("front", "front_m2"),
        ("left", "side_m2"),
        ("right", "side_m2"),
    )
    opaque = tuple(Opaque(name=f"cab {face}", area_m2=cab.usual(m2), faces=face, **skin) for face, m2 in skins)
    glazing = (
        Glazing(name="windscreen", area_m2=cab.usual("windscreen_m2"), faces="front", **glass),
        Glazing(name="cab window left", area_m2=cab.usual("side_glass_m2"), faces="left", **glass),
        Glazing(name="cab window right", area_m2=cab.usual("side_glass_m2"), faces="right", **glass),
    )
    return Zone(
        name="cab",
        air_m3=cab.usual("air_m3"),
        air_capacity_j_per_k=cab.usual("air_capacity_j_per_k"),
        fabric_capacity_j_per_k=cab.usual("fabric_capacity_j_per_k"),
        fabric_coupling_w_per_k=sum(part.area_m2 for part in opaque) * FILM_W_PER_M2K,
        leakage_cm2=_leakage_cm2(answers, "cab", habitation),
        opaque=opaque,
        glazing=glazing,
    )


def _openings(answers: VanDescription, beside: list[str]) -> tuple[Opening, ...]:
    curtain = presets.get("cab_curtain", answers.cab_curtain)
    conduction = answers.cab_curtain_w_per_k
    names = {"none": "cab opening", "fixed bulkhead": "cab bulkhead"}
    openings = [
        _opening(names.get(curtain.word, "cab curtain"), "cab", curtain, conduction),
        *(_opening(_DOORS[name], name, presets.get("zone", name), None) for name in beside),
    ]
    return tuple(openings)


_DOORS = {"wet_room": "wet room door", "garage": "garage bulkhead"}


def _opening(name: str, zone: str, preset: presets.Preset, conduction: float | None) -> Opening:
    return Opening(
        name=name,
        between=("living", zone),
        width_m=preset.usual("open_width_m"),
        height_m=preset.usual("open_height_m"),
        closed_w_per_k=preset.usual("closed_w_per_k") if conduction is None else conduction,
        closed_m3_per_h=preset.usual("closed_m3_per_h"),
    )
