"""The cabin: zones, the elements that enclose them, and the openings between them."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from budget.arrived import cut, listed
from budget.part import Part, quantity, text
from budget.stem import alike

Face = Literal["roof", "floor", "front", "rear", "left", "right", "sides"]


class Layer(Part):
    """One layer of an opaque element, inside to outside."""

    name: str = text("", "What the layer is made of.")
    thickness_m: float = quantity(..., "Thickness. [m]", low=0.0002, high=0.5)
    conductivity_w_per_mk: float = quantity(..., "Thermal conductivity. [W/mK]", low=0.005, high=400.0)


class Opaque(Part):
    """A wall, roof, floor or door without glass.

    Give either ``u_w_per_m2k`` (with ribs, air to air) or ``layers``. ``ribs_factor`` multiplies the clear panel's U;
    ribs are metal, so the combined method of ISO 6946 does not apply and area-weighting is used.
    """

    name: str = text(..., "A name for tables and charts.")
    area_m2: float = quantity(..., "Area. [m²]", low=0.001, high=200.0)
    faces: Face = Field(..., description="Where it faces; 'sides' is the mean of left and right.")
    u_w_per_m2k: float | None = quantity(None, "U-value, inside air to outside air. [W/m²K]", low=0.05, high=10.0)
    layers: tuple[Layer, ...] = Field((), description="Layers inside to outside, instead of a U-value.")
    ribs_factor: float = quantity(1.0, "Metal ribs: factor on the clear panel's U. [–]", low=1.0, high=4.0)
    solar_absorptance_share: float = quantity(0.5, "Solar absorptance of the outer skin. [0–1]", low=0.0, high=1.0)

    @model_validator(mode="after")
    def _one_of(self) -> Opaque:
        if (self.u_w_per_m2k is None) == (not self.layers):
            got = "both; leave one of them out" if self.layers else "neither; add one of them"
            raise ValueError(f"must give either u_w_per_m2k or layers, got {got}")
        if self.u_w_per_m2k is not None and self.ribs_factor != 1.0:
            raise ValueError(
                f"must not give ribs_factor beside u_w_per_m2k, which has the ribs in it, got {self.ribs_factor:g}; "
                "leave it out, or give the clear panel's layers"
            )
        return self


class Glazing(Part):
    """A window, windscreen or rooflight; U-values by screen state."""

    name: str = text(..., "A name for tables and charts.")
    area_m2: float = quantity(..., "Area of the opening. [m²]", low=0.001, high=50.0)
    faces: Face = Field(..., description="Where it faces.")
    u_w_per_m2k: float = quantity(..., "U-value without screens. [W/m²K]", low=0.3, high=7.0)
    u_screened_w_per_m2k: float | None = quantity(
        None, "U-value with the screens that the tour puts up; none: as without. [W/m²K]", low=0.2, high=7.0
    )
    screens: Literal["inside", "outside"] = Field("inside", description="Side of the glass that the screens go on.")
    g_share: float = quantity(0.75, "Total solar energy transmittance (g-value). [0–1]", low=0.0, high=1.0)
    g_screened_share: float = quantity(0.15, "The same with screens up. [0–1]", low=0.0, high=1.0)

    @model_validator(mode="after")
    def _screens_help(self) -> Glazing:
        screened = self.u_screened_w_per_m2k
        if screened is not None and screened > self.u_w_per_m2k:
            raise ValueError(
                f"must not lose more with screens up: u_screened_w_per_m2k at most u_w_per_m2k "
                f"({self.u_w_per_m2k:g} W/m²K), got {screened:g} W/m²K; swap or correct them"
            )
        if "g_screened_share" in self.model_fields_set and self.g_screened_share > self.g_share:
            raise ValueError(
                f"must not let more sun in with screens up: g_screened_share at most g_share ({self.g_share:g}), "
                f"got {self.g_screened_share:g}; swap or correct them"
            )
        return self


class Zone(Part):
    """A space with one air temperature: an air node (air and light contents) and a fabric node (lining, furniture)."""

    name: str = text(..., "living, cab, wet_room, garage or any other word.")
    air_m3: float = quantity(..., "Air volume. [m³]", low=0.05, high=200.0)
    air_capacity_j_per_k: float = quantity(
        ..., "Heat capacity of the air and light contents. [J/K]", low=500.0, high=5e6, spread=(100_000.0, 150_000.0)
    )
    fabric_capacity_j_per_k: float = quantity(
        ..., "Heat capacity of lining, furniture and stores. [J/K]", low=500.0, high=1e8, spread=(5e5, 1.5e6)
    )
    fabric_coupling_w_per_k: float = quantity(
        ..., "Heat exchange between air and fabric. [W/K]", low=0.1, high=20_000.0
    )
    fabric_loss_share: float = quantity(
        0.5, "Share of the opaque loss that leaves through the fabric node. [0–1]", low=0.0, high=0.9
    )
    leakage_cm2: float = quantity(
        0.0, "Effective leakage area of cracks and seals at 4 Pa. [cm²]", low=0.0, high=5000.0
    )
    vent_low_cm2: float = quantity(0.0, "Free area of fixed vents at floor level. [cm²]", low=0.0, high=5000.0)
    vent_high_cm2: float = quantity(0.0, "Free area of fixed vents at roof level. [cm²]", low=0.0, high=5000.0)
    vent_height_m: float = quantity(1.8, "Height between low and high vents. [m]", low=0.1, high=5.0)
    floor_colder_share: float = quantity(
        0.14, "Stratification: air at the floor is colder by this share of (inside - outside). [0–1]", low=0.0, high=0.5
    )
    roof_warmer_share: float = quantity(
        0.10, "Stratification: air at the roof is warmer by this share of (inside - outside). [0–1]", low=0.0, high=0.5
    )
    opaque: tuple[Opaque, ...] = Field((), description="Opaque elements of this zone.")
    glazing: tuple[Glazing, ...] = Field((), description="Windows of this zone.")


class Opening(Part):
    """A doorway, curtain line or bulkhead between two zones; air passes when open, conduction always."""

    name: str = text(..., "A name, such as 'cab curtain'.")
    between: tuple[str, str] = Field(..., description="The two zone names.")
    width_m: float = quantity(0.0, "Clear width when open; 0 for a bulkhead that never opens. [m]", low=0.0, high=5.0)
    height_m: float = quantity(0.0, "Clear height when open. [m]", low=0.0, high=3.0)
    closed_w_per_k: float = quantity(
        ..., "Conduction when closed (curtain, door, bulkhead). [W/K]", low=0.0, high=500.0
    )
    closed_m3_per_h: float = quantity(
        0.0, "Air exchange when closed, each way; its heat comes on top. [m³/h]", low=0.0, high=500.0
    )


def _differ(what: str, names: list[str]) -> None:
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise ValueError(f'must have {what} of different names, got "{twice}" twice; rename one')


class Cabin(Part):
    """All zones and the openings between them."""

    zones: tuple[Zone, ...] = Field(..., min_length=1, description="At least one zone.")
    openings: tuple[Opening, ...] = Field((), description="Openings between zones.")

    @model_validator(mode="after")
    def _names(self) -> Cabin:
        names = [zone.name for zone in self.zones]
        if "outdoors" in names:
            raise ValueError('must not have a zone named "outdoors", which stands for the outdoor air; rename it')
        _differ("zones", names)
        if (pair := alike(names)) is not None:
            raise ValueError(
                "must have zones whose names differ in more than case, accents, spaces and signs, "
                f'got "{cut(pair[0])}" and "{cut(pair[1])}"; rename one'
            )
        _differ("openings", [opening.name for opening in self.openings])
        for opening in self.openings:
            for name in opening.between:
                if name not in names:
                    raise ValueError(
                        f'must join zones that exist ({listed(names)}): the opening "{cut(opening.name)}" '
                        f'got "{cut(name)}"; correct it'
                    )
            if opening.between[0] == opening.between[1]:
                raise ValueError(
                    f'must join two different zones: the opening "{opening.name}" got "{opening.between[0]}" twice; '
                    "correct it"
                )
        return self

    def zone_index(self, name: str) -> int:
        """Position of a zone by name; KeyError when there is none."""
        for index, zone in enumerate(self.zones):
            if zone.name == name:
                return index
        raise KeyError(name)
