"""Boiler, tanks, pipes and the frost drain valve."""

from __future__ import annotations

from pydantic import Field, model_validator

from budget.part import Part, quantity, text

NO_BOILER_L = 0.5


class Boiler(Part):
    """The heater's water side, taken as mixed."""

    water_l: float = quantity(12.0, "Content. [L]", low=0.5, high=100.0)
    standing_loss_w: float = quantity(
        28.0, "Standing loss at 60 °C in 20 °C air. [W]", low=0.0, high=200.0, spread=(14.0, 36.0)
    )
    zone: str = text("living", "Zone that takes the standing loss.")
    hysteresis_k: float = quantity(5.0, "Reheat starts this far below the set temperature. [K]", low=0.5, high=30.0)

    @property
    def is_fitted(self) -> bool:
        """A van without warm water is described by the least content and no standing loss."""
        return self.water_l > NO_BOILER_L or self.standing_loss_w > 0.0


class Tank(Part):
    """A fresh or waste tank."""

    capacity_l: float = quantity(..., "Capacity. [L]", low=1.0, high=1000.0)
    start_l: float = quantity(..., "Content at departure. [L]", low=0.0, high=1000.0)
    zone: str = text("living", "Zone it stands in, or 'outdoors' for an underfloor tank.")
    coupling_w_per_k: float = quantity(
        4.0, "Heat exchange with that zone or the outdoor air. [W/K]", low=0.05, high=200.0
    )

    @model_validator(mode="after")
    def _not_overfull(self) -> Tank:
        if self.start_l > self.capacity_l:
            raise ValueError(
                f"must hold at most its capacity: start_l up to capacity_l ({self.capacity_l:g} L), "
                f"got {self.start_l:g} L; correct one of them"
            )
        return self


class Pipes(Part):
    """The coldest run of water pipe, at floor level."""

    content_l: float = quantity(1.5, "Water held. [L]", low=0.05, high=50.0)
    zone: str = text("living", "Zone it runs through.")
    coupling_w_per_k: float = quantity(
        1.5, "Heat exchange with floor-level air of that zone. [W/K]", low=0.01, high=50.0
    )
    outdoor_w_per_k: float = quantity(
        0.15, "Heat exchange with outdoors (skin, clips, floor openings). [W/K]", low=0.0, high=50.0
    )


class DrainValve(Part):
    """The frost drain valve of the boiler."""

    opens_c: float = quantity(4.0, "Opens below. [°C]", low=0.0, high=15.0)
    closes_c: float = quantity(8.0, "May be closed again above. [°C]", low=1.0, high=25.0)
    zone: str = text("living", "Zone whose floor-level air it feels.")

    @model_validator(mode="after")
    def _closes_warmer(self) -> DrainValve:
        if self.closes_c <= self.opens_c:
            raise ValueError(
                f"must close warmer than it opens: closes_c over opens_c ({self.opens_c:g} °C), "
                f"got {self.closes_c:g} °C; correct one of them"
            )
        return self


class Water(Part):
    """The water system."""

    boiler: Boiler = Field(default_factory=Boiler, description="The heater's water side.")
    fresh: Tank = Field(..., description="Fresh tank.")
    waste: Tank = Field(..., description="Waste tank.")
    pipes: Pipes = Field(default_factory=Pipes, description="The coldest run of pipe.")
    drain_valve: DrainValve | None = Field(
        default_factory=DrainValve, description="Frost drain valve; none if not fitted."
    )
