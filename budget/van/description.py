"""A van as people can describe it: with a tape measure, a rating plate, a scale or from memory."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, Tag, model_validator

from budget.part import Part, quantity, text
from budget.van import presets
from budget.van.cabin import Cabin, Layer
from budget.van.choice import Word, word_or_list, word_or_table
from budget.van.gas import Bottle, Gas
from budget.van.heater import Duct, Heater
from budget.van.model import Fridge, Van
from budget.van.power import Battery, Load, Power, Solar
from budget.van.water import Boiler, Water

HeaterAnswer = Annotated[Annotated[str, Word("heater"), Tag("word")] | Annotated[Heater, Tag("table")], word_or_table]
BoilerAnswer = Annotated[Annotated[str, Word("boiler"), Tag("word")] | Annotated[Boiler, Tag("table")], word_or_table]
BottleAnswer = Annotated[Annotated[str, Word("bottle"), Tag("word")] | Annotated[Bottle, Tag("table")], word_or_table]
BatteryAnswer = Annotated[
    Annotated[str, Word("battery"), Tag("word")] | Annotated[Battery, Tag("table")], word_or_table
]
LoadAnswer = Annotated[Annotated[str, Word("load"), Tag("word")] | Annotated[Load, Tag("table")], word_or_table]
FridgeAnswer = Annotated[Annotated[str, Word("fridge"), Tag("word")] | Annotated[Fridge, Tag("table")], word_or_table]


class Window(Part):
    """Windows of one size on one face, by tape measure."""

    kind: Annotated[str, Word("window")] = text("hinged double acrylic", "Kind of window, a preset's word.")
    faces: Literal["left", "right", "rear", "roof"] = Field(..., description="Where it faces.")
    width_m: float = quantity(..., "Width of the opening. [m]", low=0.05, high=5.0)
    height_m: float = quantity(..., "Height (on the roof: length) of the opening. [m]", low=0.05, high=3.0)
    count: int = quantity(1, "How many of these.", low=1, high=20)
    zone: Literal["living", "wet_room", "garage"] = Field("living", description="Zone behind it.")
    u_w_per_m2k: float | None = quantity(None, "U-value without blind; none: of its kind. [W/m²K]", low=0.3, high=7.0)
    u_screened_w_per_m2k: float | None = quantity(
        None, "U-value with blind or screen; none: of its kind. [W/m²K]", low=0.2, high=7.0
    )

    @model_validator(mode="after")
    def _screen_helps(self) -> Window:
        if self.u_w_per_m2k is not None and (self.u_screened_w_per_m2k or 0.0) > self.u_w_per_m2k:
            raise ValueError(
                f"must not lose more with its screen up: u_screened_w_per_m2k at most u_w_per_m2k "
                f"({self.u_w_per_m2k:g} W/m²K), got {self.u_screened_w_per_m2k:g} W/m²K; swap or correct them"
            )
        return self


WindowsAnswer = Annotated[
    Annotated[str, Word("window"), Tag("word")] | Annotated[tuple[Window, ...], Tag("list")],
    word_or_list,
]


class VanDescription(Part):
    """Answers about a van; every answer left out is a preset of common practice.

    Compulsory are ``length_m``, ``heater``, ``insulation`` (or ``wall_u_w_per_m2k`` or ``wall_layers``) and ``bottles``
    (or ``gas``), or else a full ``cabin`` in place of every answer about the shell. A word and the number that it
    stands for are not given together; a full table (heater, boiler, battery, solar, power, water, gas, fridge, ducts,
    cabin) takes the place of all that the words would have made.
    """

    title: str = text("camper van", "A name of your own.")

    length_m: float = quantity(..., "Length of the van. [m]", low=4.5, high=8.0)
    roof: Annotated[str, Word("size")] = text("high roof", "high roof or low roof.")
    insulation: Annotated[str, Word("insulation")] | None = text(None, "Insulation of walls, roof and doors.")
    heater: HeaterAnswer = Field(..., description="Preset's word, or a table from the rating plate.")
    bottles: tuple[BottleAnswer, ...] = Field(
        (), max_length=8, description="Gas bottles in the order of use: presets' words or tables."
    )
    changeover: Literal["manual", "automatic", "both at once"] = Field(
        "manual",
        description="To the next bottle: manual (once somebody is awake inside), automatic (at once), both at once.",
    )

    wall_u_w_per_m2k: float | None = quantity(
        None, "U-value of walls, roof and doors with ribs, instead of insulation. [W/m²K]", low=0.1, high=10.0
    )
    wall_layers: tuple[Layer, ...] = Field(
        (), max_length=20, description="Layers of the clear panel, inside to outside, instead of insulation."
    )
    ribs: Annotated[str, Word("ribs")] | None = text(None, "Metal ribs: covered, partly covered or bare.")
    roof_u_w_per_m2k: float | None = quantity(
        None, "U-value of the roof with ribs; none: as the walls. [W/m²K]", low=0.1, high=10.0
    )
    floor_u_w_per_m2k: float | None = quantity(
        None, "U-value of the floor; none: as the walls with a plywood floor on top. [W/m²K]", low=0.1, high=10.0
    )
    colour: Annotated[str, Word("colour")] = text("white", "Colour of the outer skin.")
    windows: WindowsAnswer = Field(
        "hinged double acrylic", description="Kind of a usual set of windows, or a list of windows by tape measure."
    )
    cab_screens: Annotated[str, Word("cab_screens")] = text("inside", "Screens on the cab's glass.")
    cab_glass_u_w_per_m2k: float | None = quantity(
        None, "U-value of the cab's glass with screens up; none: of cab_screens. [W/m²K]", low=0.2, high=7.0
    )
    cab_curtain: Annotated[str, Word("cab_curtain")] = text("insulated curtain", "What parts the cab.")
    cab_curtain_w_per_k: float | None = quantity(
        None, "Conduction through what parts the cab; none: of cab_curtain. [W/K]", low=0.0, high=200.0
    )
    draughts: Annotated[str, Word("draughts")] = text("normal", "Draughts: tight, normal or leaky.")
    leakage_cm2: float | None = quantity(
        None, "Leakage area of the whole van at 4 Pa, instead of draughts. [cm²]", low=0.0, high=3000.0
    )
    vent_low_cm2: float | None = quantity(None, "Free area of fixed vents at the floor. [cm²]", low=0.0, high=2000.0)
    vent_high_cm2: float | None = quantity(None, "Free area of fixed vents at the roof. [cm²]", low=0.0, high=2000.0)
    furniture: Annotated[str, Word("furniture")] = text("normal", "Furniture and stores: light, normal or heavy.")
    fabric_capacity_j_per_k: float | None = quantity(
        None, "Heat capacity of lining, furniture and stores, instead of furniture. [J/K]", low=2e4, high=2e7
    )
    wet_room: bool | None = Field(None, description="Closed wet room; none: from 5.4 m of length on.")
    garage: bool | None = Field(None, description="Garage under a raised bed; none: from 5.9 m of length on.")
    cabin: Cabin | None = Field(None, description="Zones in full, instead of all answers about the shell.")

    efficiency_share: float | None = quantity(
        None, "Efficiency on the lower heating value, for a heater given by its word. [0–1]", low=0.3, high=1.0
    )
    altitude_compensated: bool | None = Field(
        None, description="True: the burner keeps its output at altitude; for a heater given by its word."
    )
    ducts: tuple[Duct, ...] | None = Field(None, max_length=20, description="Warm-air runs; none: usual ones.")

    boiler: BoilerAnswer | None = Field(None, description="Boiler; none: as usual with the heater.")
    boiler_l: float | None = quantity(None, "Content of the boiler, instead of the word's. [L]", low=0.5, high=100.0)
    fresh_l: float = quantity(100.0, "Fresh tank. [L]", low=1.0, high=1000.0)
    waste_l: float = quantity(90.0, "Waste tank. [L]", low=1.0, high=1000.0)
    fresh_tank: Annotated[str, Word("tank_place")] = text("inside", "Where the fresh tank stands.")
    waste_tank: Annotated[str, Word("tank_place")] = text("under floor", "Where the waste tank stands.")
    frost_drain_valve: bool = Field(
        True, description="True: the boiler, where the heater has one, has a frost drain valve."
    )
    water: Water | None = Field(None, description="Water system in full.")

    gas: Gas | None = Field(None, description="Bottles and locker in full.")

    battery: BatteryAnswer = Field("LiFePO4", description="Chemistry of the leisure battery, or a table.")
    battery_ah: float = quantity(100.0, "Rated capacity of the leisure battery. [Ah]", low=1.0, high=5000.0)
    solar_w: float = quantity(100.0, "Solar panels, rated power. [W]", low=0.0, high=5000.0)
    solar: Solar | None = Field(None, description="Solar panels in full.")
    alternator_a: float = quantity(30.0, "Charge current while driving. [A]", low=0.0, high=300.0, spread=(20.0, 40.0))
    mains_charger_a: float = quantity(20.0, "Charge current on hook-up. [A]", low=0.0, high=300.0)
    loads: tuple[LoadAnswer, ...] = Field(
        ("lights", "phones", "laptop", "standby"), max_length=50, description="12 V loads: words or tables."
    )
    power: Power | None = Field(None, description="12 V system in full.")
    fridge: FridgeAnswer = Field("compressor", description="Preset's word, or a table for an absorption fridge.")

    @model_validator(mode="after")
    def _answered_once(self) -> VanDescription:
        walls = {
            "insulation": self.insulation is not None,
            "wall_u_w_per_m2k": self.wall_u_w_per_m2k is not None,
            "wall_layers": bool(self.wall_layers),
            "cabin": self.cabin is not None,
        }
        given = [name for name, is_given in walls.items() if is_given]
        if not given:
            words = ", ".join(f'"{word}"' for word in presets.load("insulation"))
            raise ValueError(f"must say how it is insulated, got nothing; add insulation, one of {words}")
        if not self.bottles and self.gas is None:
            raise ValueError(
                'must carry gas bottles, got none; add such as bottles = ["11 kg exchange"], or ["5 kg exchange"] '
                "where nothing on board burns gas: none of it is used then"
            )
        pairs = [(given[0], other) for other in given[1:]]
        pairs += [(first, second) for first, second in _INSTEAD if self._has(first) and self._has(second)]
        if pairs:
            first, second = pairs[0]
            raise ValueError(f"must be told either {first} or {second}, got both; leave one of them out")
        beside: list[tuple[str, str, type[Part]]] = [
            ("heater", name, Heater) for name in ("efficiency_share", "altitude_compensated")
        ]
        beside.append(("battery", "battery_ah", Battery))
        for table, name, part in beside:
            if self._has(name) and isinstance(getattr(self, table), part):
                raise ValueError(f"must not have {name} beside a {table} given as a table; write it in that table")
        if self.power is not None and self._has("fridge") and self.fridge == "compressor":
            raise ValueError("must not have a compressor fridge beside power in full; write it as one of power.loads")
        return self

    def _has(self, name: str) -> bool:
        return name in self.model_fields_set and getattr(self, name) not in (None, ())

    def to_van(self) -> Van:
        """The van in numbers. InputFault, one sentence each, where answers do not fit each other."""
        from budget.van.fittings import ducts, fridge, gas, heater, power, water
        from budget.van.shell import cabin

        shell = self.cabin or cabin(self)
        zones = tuple(zone.name for zone in shell.zones)
        return Van(
            title=self.title,
            cabin=shell,
            heater=heater(self, zones),
            ducts=ducts(self, zones),
            water=self.water or water(self, zones),
            gas=self.gas or gas(self, zones),
            power=self.power or power(self, zones),
            fridge=fridge(self),
        )


_INSTEAD = (
    ("ribs", "wall_u_w_per_m2k"),
    ("draughts", "leakage_cm2"),
    ("furniture", "fabric_capacity_j_per_k"),
    ("bottles", "gas"),
    ("changeover", "gas"),
    ("boiler", "boiler_l"),
    ("boiler", "water"),
    ("boiler_l", "water"),
    ("fresh_l", "water"),
    ("waste_l", "water"),
    ("fresh_tank", "water"),
    ("waste_tank", "water"),
    ("frost_drain_valve", "water"),
    ("solar_w", "solar"),
    ("battery", "power"),
    ("battery_ah", "power"),
    ("solar_w", "power"),
    ("solar", "power"),
    ("alternator_a", "power"),
    ("mains_charger_a", "power"),
    ("loads", "power"),
    ("ribs", "cabin"),
    ("roof_u_w_per_m2k", "cabin"),
    ("floor_u_w_per_m2k", "cabin"),
    ("colour", "cabin"),
    ("windows", "cabin"),
    ("cab_screens", "cabin"),
    ("cab_glass_u_w_per_m2k", "cabin"),
    ("cab_curtain", "cabin"),
    ("cab_curtain_w_per_k", "cabin"),
    ("draughts", "cabin"),
    ("leakage_cm2", "cabin"),
    ("vent_low_cm2", "cabin"),
    ("vent_high_cm2", "cabin"),
    ("furniture", "cabin"),
    ("fabric_capacity_j_per_k", "cabin"),
    ("wet_room", "cabin"),
    ("garage", "cabin"),
)
