"""The 12 V system: battery, sources and loads."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from budget.part import Part, quantity, text
from budget.spans import Spans


class Battery(Part):
    """The leisure battery."""

    chemistry: Literal["lifepo4", "agm", "gel", "wet"] = Field("lifepo4", description="Chemistry.")
    capacity_ah: float = quantity(100.0, "Rated capacity at 25 °C and 20 h. [Ah]", low=1.0, high=5000.0)
    nominal_v: float = quantity(12.8, "Nominal voltage. [V]", low=10.0, high=52.0)
    start_share: float = quantity(1.0, "State of charge at departure. [0–1]", low=0.0, high=1.0)
    cut_out_share: float = quantity(0.1, "State of charge at which loads are cut. [0–1]", low=0.0, high=0.95)
    reconnect_share: float = quantity(0.2, "State of charge at which they reconnect. [0–1]", low=0.0, high=1.0)
    charge_efficiency_share: float = quantity(0.97, "Charge out per charge in. [0–1]", low=0.5, high=1.0)
    max_charge_a: float = quantity(50.0, "Most charge current accepted. [A]", low=0.5, high=1000.0)
    zone: str = text("living", "Zone it stands in, or 'outdoors'.")
    coupling_w_per_k: float = quantity(2.0, "Heat exchange with that zone. [W/K]", low=0.05, high=100.0)
    heat_capacity_j_per_k: float = quantity(12_000.0, "Heat capacity. [J/K]", low=500.0, high=2e6)
    peukert_factor: float = quantity(1.0, "Peukert exponent; 1 for lithium. [–]", low=1.0, high=1.6)
    pad_w: float = quantity(
        0.0,
        "Heating pad in the battery, fed by surplus of sun, alternator or hook-up only; 0: none. [W]",
        low=0.0,
        high=1000.0,
    )
    pad_on_c: float = quantity(4.0, "The pad warms from below this temperature. [°C]", low=-20.0, high=20.0)
    pad_off_c: float = quantity(9.0, "The pad stops at this temperature. [°C]", low=-15.0, high=30.0)

    @model_validator(mode="after")
    def _reconnects_above_cut_out(self) -> Battery:
        if self.reconnect_share <= self.cut_out_share:
            raise ValueError(
                f"must reconnect above its cut-out: reconnect_share over cut_out_share ({self.cut_out_share:g}), "
                f"got {self.reconnect_share:g}; raise the one or lower the other"
            )
        if self.pad_off_c <= self.pad_on_c:
            raise ValueError(
                f"must stop its heating pad above where it starts: pad_off_c over pad_on_c ({self.pad_on_c:g} °C), "
                f"got {self.pad_off_c:g} °C; raise the one or lower the other"
            )
        return self


class Solar(Part):
    """Panels on the roof."""

    peak_w: float = quantity(0.0, "Rated power. [W]", low=0.0, high=5000.0)
    tilt_deg: float = quantity(0.0, "Tilt from horizontal. [°]", low=0.0, high=90.0)
    azimuth_deg: float | None = quantity(
        None,
        "Compass direction the tilt faces, from north clockwise, whichever way the van stands; none: the equator, 180 "
        "north of it and 0 south of it. [°]",
        low=0.0,
        high=360.0,
    )
    kept_share: float = quantity(
        0.75, "Share of clear potential kept (shade, dirt, mismatch). [0–1]", low=0.0, high=1.0, spread=(0.6, 0.85)
    )
    temp_coefficient_percent_per_k: float = quantity(
        -0.4, "Power change with cell temperature. [%/K]", low=-1.0, high=0.0
    )
    charger_efficiency_share: float = quantity(0.95, "Efficiency of the charge controller. [0–1]", low=0.5, high=1.0)


class Load(Part):
    """A 12 V load other than heater fan and pump."""

    name: str = text(..., "A name.")
    power_w: float = quantity(..., "Power when on. [W]", low=0.0, high=3000.0)
    on: Spans = Field((), description='When on, as "HH:MM-HH:MM"; empty: always.')
    duty_share: float = quantity(
        1.0, "Share of that time it really draws, at 20 °C around it. [0–1]", low=0.0, high=1.0
    )
    duty_per_k: float = quantity(
        0.0, "Change of the duty per kelvin around it (compressor fridge 0.02). [1/K]", low=0.0, high=0.1
    )
    zone: str = text("living", "Zone that takes its heat.")
    only_when_inside: bool = Field(False, description="True: only while somebody is inside.")


class Power(Part):
    """The whole 12 V system."""

    battery: Battery = Field(default_factory=Battery, description="Leisure battery.")
    solar: Solar = Field(default_factory=Solar, description="Solar panels.")
    alternator_a: float = quantity(30.0, "Charge current while driving. [A]", low=0.0, high=300.0, spread=(20.0, 40.0))
    mains_charger_a: float = quantity(20.0, "Charge current on hook-up. [A]", low=0.0, high=300.0)
    mains_charger_efficiency_share: float = quantity(0.85, "Mains to battery. [0–1]", low=0.4, high=1.0)
    pump_w: float = quantity(40.0, "Water pump when running. [W]", low=0.0, high=500.0)
    pump_l_per_min: float = quantity(7.0, "Water pump flow. [L/min]", low=0.5, high=60.0)
    loads: tuple[Load, ...] = Field((), description="Other loads.")

    @model_validator(mode="after")
    def _names_differ(self) -> Power:
        names = [load.name for load in self.loads]
        twice = next((name for name in names if names.count(name) > 1), None)
        if twice is not None:
            raise ValueError(f'must have loads of different names, got "{twice}" twice; rename one')
        return self
