"""Bottles and the locker."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from budget.part import Part, quantity, text


class Bottle(Part):
    """A gas bottle: contents by mass and the shell."""

    name: str = text("11 kg exchange", "A name of your own, used by swaps.")
    net_kg: float = quantity(11.0, "Full contents. [kg]", low=0.2, high=100.0)
    tare_kg: float = quantity(12.5, "Empty weight (tare). [kg]", low=0.2, high=150.0)
    start_kg: float | None = quantity(None, "Contents at departure; none: full. [kg]", low=0.0, high=100.0)
    propane_share: float = quantity(
        1.0, "Propane by mass of the liquid as filled; the rest is n-butane. [0–1]", low=0.0, high=1.0
    )
    diameter_m: float = quantity(0.30, "Outer diameter. [m]", low=0.08, high=1.0)
    refillable: bool = Field(False, description="True: filled in place to 80 % by volume; false: exchanged.")

    @model_validator(mode="after")
    def _not_overfull(self) -> Bottle:
        if self.start_kg is not None and self.start_kg > self.net_kg:
            raise ValueError(
                f"must hold at most its full contents, start_kg up to net_kg ({self.net_kg:g} kg), "
                f"got {self.start_kg:g} kg; weigh it and take off the tare"
            )
        return self


class Gas(Part):
    """The locker: bottle positions, changeover and regulator."""

    bottles: tuple[Bottle, ...] = Field(
        ..., min_length=1, max_length=8, description="Bottles on board, in the order of use."
    )
    changeover: Literal["manual", "automatic", "parallel"] = Field(
        "manual",
        description=(
            "manual: at the next hour that somebody is awake inside; automatic: at once; parallel: all feed together."
        ),
    )
    regulator_need_bar: float = quantity(
        0.4, "Gauge pressure that the regulator needs in the bottle. [bar]", low=0.0, high=5.0
    )
    regulator_kg_per_h: float = quantity(
        1.5, "Most that valve and regulator let through, all bottles together. [kg/h]", low=0.1, high=20.0,
        spread=(0.8, 1.5),
    )  # fmt: skip
    locker_zone: str = text("garage", "Zone beside the locker, or 'outdoors'.")
    locker_warmer_share: float = quantity(
        0.15, "Locker air stands this share of the way from outdoors to that zone. [0–1]", low=0.0, high=1.0
    )
    swap_below_share: float = quantity(
        0.4,
        "Exchanged, where it can be, when it holds this share of its contents or less; a refillable bottle is filled "
        "at three quarters. [0–1]",
        low=0.0, high=1.0,
    )  # fmt: skip
    reserve_nights: float = quantity(
        1.5, "Reserve kept at the use of the tour's hardest three days. [nights]", low=0.0, high=14.0
    )
