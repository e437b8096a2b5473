"""What a logged night said about a van: factors on the van as it is described, with their ranges."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any

import numpy as np
from pydantic import AfterValidator, Field, model_validator

from budget.part import Part, text
from budget.van.cabin import Glazing, Opaque, Zone
from budget.van.elements import opaque_u_w_per_m2k
from budget.van.model import Van

LEAST_FACTOR, MOST_FACTOR = 0.1, 10.0
LONGEST_PATH = 4096
ROUNDING = 0.02  # of a correlation that was written with a few digits


def _rising(three: tuple[float, float, float]) -> tuple[float, float, float]:
    low, middle, high = three
    if not 0.0 < low <= middle <= high:
        raise ValueError(f"must be P10, P50 and P90, above 0 and rising, got {low:g}, {middle:g}, {high:g}; correct it")
    return three


def _near_one(three: tuple[float, float, float]) -> tuple[float, float, float]:
    if not LEAST_FACTOR <= three[0] <= three[2] <= MOST_FACTOR:
        got = ", ".join(f"{value:g}" for value in three)
        raise ValueError(f"must be factors from {LEAST_FACTOR:g} to {MOST_FACTOR:g}, got {got}; correct it")
    return three


Three = Annotated[tuple[float, float, float], AfterValidator(_rising)]
FactorRange = Annotated[tuple[float, float, float], AfterValidator(_rising), AfterValidator(_near_one)]


class LearnedFactors(Part):
    """Factors on the described van, each as P10, P50, P90; one that is left out keeps the range of its preset."""

    loss_factor: FactorRange | None = Field(None, description="On U-values of walls, roof, floor and doors. [–]")
    glazing_factor: FactorRange | None = Field(None, description="On U-values of windows and screens. [–]")
    leakage_factor: FactorRange | None = Field(None, description="On the leakage area of cracks and seals. [–]")
    capacity_factor: FactorRange | None = Field(None, description="On the heat capacity of lining and furniture. [–]")
    efficiency_factor: FactorRange | None = Field(None, description="On the heater's efficiency. [–]")

    @property
    def given(self) -> dict[str, tuple[float, float, float]]:
        """Those that were learned, in the order of the correlation's rows."""
        named = {name: getattr(self, name) for name in type(self).model_fields}
        return {name: three for name, three in named.items() if three is not None}


class LearnedNight(Part):
    """A log on which what was learned rests; the hash knows it again."""

    log: str = Field(..., max_length=LONGEST_PATH, description="The log's file, as seen from this one.")
    sha256: str = text(..., "SHA-256 of the log's bytes.")
    start: dt.datetime = Field(..., description="First hour of the log that was used.")
    end: dt.datetime = Field(..., description="Last hour of the log that was used.")
    is_absolute: bool = Field(True, description="False: its heat was not known in watts.")


class LearnedSection(Part):
    """What `budget learn` found in a log: P50 is used for one tour, P10 to P90 for the odds."""

    made: dt.date = Field(..., description="Day on which it was learned.")
    source: str = text(..., "Name of the log.")
    place: str = text("", "Where it was logged.")
    start: dt.datetime | None = Field(None, description="First hour of the log that was used.")
    end: dt.datetime | None = Field(None, description="Last hour of the log that was used.")
    is_absolute: bool = Field(True, description="False: only the ratio of loss to heat capacity was measured.")
    loss_w_per_k: Three = Field(..., description="Heat loss of the van that was found, P10, P50, P90. [W/K]")
    loss_per_capacity_per_h: Three | None = Field(None, description="Loss over capacity, P10, P50, P90. [1/h]")
    preset_loss_w_per_k: Three | None = Field(None, description="Heat loss by the presets alone. [W/K]")
    correlation: tuple[tuple[float, ...], ...] = Field(
        (), max_length=5, description="Correlation of the factors' logarithms, rows in their order; none: independent."
    )
    factors: LearnedFactors = Field(..., description="Factors on the van as it is described.")
    nights: tuple[LearnedNight, ...] = Field((), max_length=20, description="The logs on which it rests.")

    @model_validator(mode="after")
    def _fits(self) -> LearnedSection:
        count = len(self.factors.given)
        if not count:
            raise ValueError("must give one factor or more in learned.factors, got none; learn anew, or leave it out")
        if not self.correlation:
            return self
        sizes = [len(row) for row in self.correlation]
        if sizes != [count] * count:
            raise ValueError(
                f"must give the correlation as {count} rows of {count} numbers, one for each factor, got rows of "
                f"{', '.join(str(size) for size in sizes)}; learn anew, or leave correlation out"
            )
        rows = np.array(self.correlation)
        off = max(np.abs(rows - rows.T).max(), np.abs(np.diag(rows) - 1.0).max())
        if off > ROUNDING or np.linalg.eigvalsh(rows).min() < -ROUNDING:
            raise ValueError(
                "must give a correlation that is symmetric, 1 on its diagonal and not contradictory, got another; "
                "learn anew, or leave correlation out"
            )
        return self

    @property
    def sentence(self) -> str:
        """What is used of it, for the notices."""
        low, middle, high = self.loss_w_per_k
        said = ", ".join(
            f"{name.removesuffix('_factor').replace('_', ' ')} × {three[1]:.2f}"
            for name, three in self.factors.given.items()
        )
        measured = "" if self.is_absolute else " (only its ratio to the heat capacity was measured)"
        where = f" at {self.place}" if self.place else ""
        logs = "logs" if len(self.nights) > 1 else "log"
        learned = f"{self.made.day} {self.made:%B %Y}"
        return (
            f"The van is as the {logs} {self.source}{self._when}{where} showed it (learned {learned}): "
            f"{middle:.0f} W/K, 80 % between {low:.0f} and {high:.0f}{measured}; on the description, {said}."
        )

    @property
    def _when(self) -> str:
        if self.start is None:
            return ""
        begun = f"{self.start.day} {self.start:%B %Y}"
        if len(self.nights) < 2 or self.end is None:
            return f" of {begun}"
        return f" between {begun} and {self.end.day} {self.end:%B %Y}"

    def lower(self) -> np.ndarray:
        """Lower factor of the correlation: correlated normal scores from independent ones."""
        count = len(self.factors.given)
        rows = np.array(self.correlation) if self.correlation else np.eye(count)
        value, vector = np.linalg.eigh(0.5 * (rows + rows.T))
        near = vector * np.maximum(value, 1e-9) @ vector.T
        spread = np.sqrt(np.diag(near))
        found: np.ndarray = np.linalg.cholesky(near / np.outer(spread, spread))
        return found


def as_learned(van: Van, learned: LearnedSection) -> Van:
    """A van with its described numbers multiplied by the P50 of what was learned."""
    usual = {name: three[1] for name, three in learned.factors.given.items()}
    loss, glazing = usual.get("loss_factor", 1.0), usual.get("glazing_factor", 1.0)

    def wall(element: Opaque, factor: float) -> Opaque:
        u_w_per_m2k = opaque_u_w_per_m2k(element) * factor
        return element.model_copy(update={"u_w_per_m2k": u_w_per_m2k, "layers": (), "ribs_factor": 1.0})

    def pane(window: Glazing) -> Glazing:
        numbers = {"u_w_per_m2k": window.u_w_per_m2k, "u_screened_w_per_m2k": window.u_screened_w_per_m2k}
        return window.model_copy(update={name: u and u * glazing for name, u in numbers.items()})

    def zone(one: Zone) -> Zone:
        factor, fabric_loss_share = _through_lining(one, loss)
        changed: dict[str, Any] = {
            "opaque": tuple(wall(element, factor) for element in one.opaque),
            "fabric_loss_share": fabric_loss_share,
            "glazing": tuple(map(pane, one.glazing)),
            "leakage_cm2": one.leakage_cm2 * usual.get("leakage_factor", 1.0),
            "fabric_capacity_j_per_k": one.fabric_capacity_j_per_k * usual.get("capacity_factor", 1.0),
        }
        return one.model_copy(update=changed)

    efficiency = usual.get("efficiency_factor", 1.0)
    stages = tuple(
        stage.model_copy(update={"efficiency_share": min(stage.efficiency_share * efficiency, 1.0)})
        for stage in van.heater.stages
    )
    return van.model_copy(
        update={
            "cabin": van.cabin.model_copy(update={"zones": tuple(map(zone, van.cabin.zones))}),
            "heater": van.heater.model_copy(update={"stages": stages}),
        }
    )


def _through_lining(zone: Zone, loss: float) -> tuple[float, float]:
    """Factor on a zone's U-values, and share that leaves through its lining, for a factor on its outer paths.

    A factor that was learned multiplies the paths to outdoors. Part of the shell's loss passes the exchange between air
    and lining first, which stays as it is: series of coupling and outer path.
    """
    pull = {"roof": 1.0 + zone.roof_warmer_share, "floor": 1.0 - zone.floor_colder_share}
    shell = sum(part.area_m2 * opaque_u_w_per_m2k(part) * pull.get(part.faces, 1.0) for part in zone.opaque)
    coupling = zone.fabric_coupling_w_per_k
    share = min(zone.fabric_loss_share, 0.6 * coupling / max(shell, 1e-9))
    outer = loss * coupling * share * shell / (coupling - share * shell)
    through, direct = coupling * outer / (coupling + outer), loss * (1.0 - share) * shell
    return ((direct + through) / shell, through / (direct + through)) if shell > 0.0 else (loss, share)
