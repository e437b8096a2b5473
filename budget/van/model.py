"""The van: everything it is, in numbers."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from budget.arrived import cut, listed
from budget.part import Part, quantity, text
from budget.van.cabin import Cabin
from budget.van.gas import Gas
from budget.van.heater import Duct, Heater
from budget.van.power import Power
from budget.van.water import Water


class Fridge(Part):
    """An absorption fridge; a compressor fridge is a 12 V load."""

    gas_g_per_h: float = quantity(18.0, "Use while its burner is lit. [g/h]", low=0.0, high=100.0, spread=(10.0, 25.0))
    electric_w: float = quantity(120.0, "Mains draw while hooked up. [W]", low=0.0, high=1000.0)
    use: Literal["gas", "electric_first", "off"] = Field(
        "electric_first", description="Energy it runs on while parked."
    )


class Van(Part):
    """The whole van, ready for the engine."""

    title: str = text("camper van", "A name of your own.")
    cabin: Cabin = Field(..., description="Zones, elements and openings.")
    heater: Heater = Field(..., description="Warm-air and water heater.")
    ducts: tuple[Duct, ...] = Field((), description="Warm-air runs; none: all air into the sensor zone.")
    water: Water = Field(..., description="Water system.")
    gas: Gas = Field(..., description="Bottles and locker.")
    power: Power = Field(default_factory=Power, description="12 V system.")
    fridge: Fridge | None = Field(None, description="Absorption fridge, if any.")
    pipes_frost_c: float = quantity(5.0, "Temperature that pipes and valve shall keep. [°C]", low=0.0, high=15.0)

    @model_validator(mode="after")
    def _zones_exist(self) -> Van:
        names = [zone.name for zone in self.cabin.zones]
        wanted = [("heater.sensor_zone", self.heater.sensor_zone, False)]
        wanted += [(f"ducts '{cut(d.name)}' zone", d.zone, False) for d in self.ducts]
        wanted += [(f"ducts '{cut(d.name)}' runs_through", d.runs_through, True) for d in self.ducts]
        wanted += [
            ("water.boiler.zone", self.water.boiler.zone, False),
            ("water.fresh.zone", self.water.fresh.zone, True),
            ("water.waste.zone", self.water.waste.zone, True),
            ("water.pipes.zone", self.water.pipes.zone, False),
            ("gas.locker_zone", self.gas.locker_zone, True),
            ("power.battery.zone", self.power.battery.zone, True),
        ]
        if self.water.drain_valve:
            wanted.append(("water.drain_valve.zone", self.water.drain_valve.zone, False))
        wanted += [(f"load '{cut(load.name)}' zone", load.zone, True) for load in self.power.loads]
        for field, name, outdoors in wanted:
            if name not in names and not (outdoors and name == "outdoors"):
                choices = names + (["outdoors"] if outdoors else [])
                raise ValueError(f"{field} must be one of {listed(choices)}, got '{cut(name)}'")
        if self.ducts and not any(duct.open_share > 0.0 for duct in self.ducts):
            raise ValueError("must have an open warm-air outlet, got every duct with open_share 0; open one")
        ducts = [duct.name for duct in self.ducts]
        twice = next((name for name in ducts if ducts.count(name) > 1), None)
        if twice is not None:
            raise ValueError(f'must have ducts of different names, got "{twice}" twice; rename one')
        return self
