"""The room-sealed warm-air and water heater, its fan and its ducts."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from budget.part import Part, quantity, text


class Stage(Part):
    """One operating point of the burner with its fan."""

    output_w: float = quantity(..., "Heat to air and water together at sea level. [W]", low=50.0, high=50_000.0)
    efficiency_share: float = quantity(
        0.88, "Efficiency on the lower heating value. [0–1]", low=0.3, high=1.0, spread=(0.82, 0.93)
    )
    air_m3_per_h: float = quantity(
        ..., "Circulated air with the ducts described as fitted. [m³/h]", low=1.0, high=2000.0
    )
    fan_w: float = quantity(..., "Electric power of fan and controls at this stage. [W]", low=0.0, high=500.0)
    fan_pressure_pa: float = quantity(150.0, "Fan pressure at no flow at this stage. [Pa]", low=1.0, high=5000.0)
    fan_free_m3_per_h: float | None = quantity(
        None, "Fan flow at no pressure at this stage; none: twice air_m3_per_h. [m³/h]", low=1.0, high=4000.0
    )

    @model_validator(mode="after")
    def _ducts_hold_back(self) -> Stage:
        free = self.fan_free_m3_per_h
        if free is not None and free <= self.air_m3_per_h:
            raise ValueError(
                f"must move more air without ducts than with them: fan_free_m3_per_h over air_m3_per_h "
                f"({self.air_m3_per_h:g} m³/h), got {free:g} m³/h; correct one of them or leave fan_free_m3_per_h out"
            )
        return self


class Heater(Part):
    """A warm-air and water heater with one burner, stages or modulation, and optional electric elements."""

    name: str = text("gas heater", "A name of your own.")
    control: Literal["modulating", "staged"] = Field("modulating", description="Between the stages, or one at a time.")
    stages: tuple[Stage, ...] = Field(..., min_length=1, max_length=6, description="Operating points, rising output.")
    sensor_zone: str = text("living", "Zone that holds the room sensor.")
    differential_k: float = quantity(
        0.7, "Burner stops this far above and starts this far below the setpoint. [K]", low=0.05, high=5.0
    )
    band_k: float = quantity(
        0.5, "Proportional band of a modulating burner, centred on the setpoint. [K]", low=0.001, high=10.0
    )
    min_on_s: float = quantity(180.0, "Least burner run once started. [s]", low=0.0, high=3600.0)
    min_off_s: float = quantity(60.0, "Least pause between runs. [s]", low=0.0, high=3600.0)
    start_loss_kj: float = quantity(
        60.0,
        "Fuel energy lost to the flue by purge and exchanger at each start. [kJ]",
        low=0.0,
        high=2000.0,
        spread=(20.0, 120.0),
    )
    run_on_s: float = quantity(120.0, "Fan run-on after the flame. [s]", low=0.0, high=1800.0)
    standby_w: float = quantity(1.0, "Draw of the controls at rest. [W]", low=0.0, high=50.0)
    altitude_compensated: bool = Field(False, description="True: the burner keeps its rated output at altitude.")
    water_w: float = quantity(
        1700.0, "Most heat the exchanger passes to the boiler. [W]", low=0.0, high=20_000.0, spread=(1600.0, 1900.0)
    )
    priority: Literal["water", "air"] = Field("water", description="Which side is served first when both call.")
    electric_w: tuple[float, ...] = Field(
        (), max_length=6, description="Steps of the electric element, such as [900, 1800]. [W]"
    )
    supply_limit_c: float = quantity(
        90.0,
        "Supply air temperature that the guard allows; the burner drops to what the air can carry below it. [°C]",
        low=30.0,
        high=200.0,
    )
    return_cm2: float | None = quantity(
        None,
        "Free area by which air comes back to the heater; none: no hindrance. [cm²]",
        low=1.0,
        high=10_000.0,
        spread=(100.0, 400.0),
    )

    @model_validator(mode="after")
    def _rising(self) -> Heater:
        outputs = [stage.output_w for stage in self.stages]
        steps = list(self.electric_w)
        for name, values in (("stages with rising output_w", outputs), ("rising electric_w", steps)):
            if values != sorted(set(values)):
                got = ", ".join(f"{value:g}" for value in values)
                raise ValueError(f"must have {name}, got {got} W; put them in order and each once")
        outside = next((step for step in steps if not 50.0 <= step <= 10_000.0), None)
        if outside is not None:
            raise ValueError(f"must have electric_w from 50 to 10000 W, got {outside:g} W; give watts, not kilowatts")
        return self

    @property
    def rated_w(self) -> float:
        """Greatest output at sea level. [W]"""
        return self.stages[-1].output_w


class Duct(Part):
    """One warm-air run from the heater to an outlet."""

    name: str = text(..., "A name, such as 'cab left'.")
    zone: str = text(..., "Zone that the outlet blows into.")
    length_m: float = quantity(..., "Length. [m]", low=0.1, high=30.0)
    diameter_m: float = quantity(0.065, "Inner diameter. [m]", low=0.02, high=0.3)
    bends: int = quantity(0, "Number of right-angle bends.", low=0, high=30)
    hose: Literal["smooth", "corrugated", "compressed"] = Field("corrugated", description="Kind of hose.")
    open_share: float = quantity(1.0, "How far the outlet is open; 0 closed. [0–1]", low=0.0, high=1.0)
    runs_through: str = text("living", "Zone that the run passes through, or 'outdoors' for an underfloor run.")
    loss_w_per_k: float = quantity(0.5, "Heat loss of the run to what it passes through. [W/K]", low=0.0, high=20.0)
