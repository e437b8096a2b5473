"""What to measure next: how far each kind of night would narrow the loss, reckoned before it is spent."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from budget.answers.measured.fit import jacobian, narrowed
from budget.answers.measured.forward import Forward
from budget.answers.measured.log_file import REMARKS
from budget.answers.measured.logged_night import METERED, OFF, WEIGHED, Night, Stretch
from budget.answers.unknowns import P90_Z
from budget.van.description import VanDescription
from budget.van.model import Van
from budget.van.ranges import ranges
from budget.weather.air import Floats
from budget.wording import whole_percent

HEATED_H, COOLING_H = 8, 6
INSIDE_C, OUTSIDE_C = 18.0, -3.0
HEAT_W = 1500.0


@dataclass(frozen=True)
class Worth:
    """A night and the half-width of the 80 % interval of the loss that it would leave, of the loss itself. [0–1]"""

    night: str
    half_width_share: float
    needs: str


@dataclass(frozen=True)
class Shakedown:
    """Kinds of night in order of worth, the first line being the presets alone."""

    nights: tuple[Worth, ...]

    def as_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {"nights": [vars(night) for night in self.nights], "protocol": list(PROTOCOL)}

    @property
    def sentences(self) -> tuple[str, ...]:
        """The answer in words."""
        now, best = self.nights[0], min(self.nights, key=lambda night: night.half_width_share)
        return (
            f"Worth most: {best.night}; it would bring the heat loss from ± {whole_percent(now.half_width_share)} to "
            f"± {whole_percent(best.half_width_share)}.",
            *PROTOCOL,
        )


PROTOCOL = (
    "1. Choose a still, overcast night at least 10 K colder than the van will be; nobody inside, screens up.",
    "2. Hang one logger at head height in the living area, one outdoors in shade, a reading every 5 to 10 minutes. "
    "Before and after let both lie side by side for half an hour and note how far they differ: a sensor that drifts "
    "looks like a better or worse van. Leave those readings out of the CSV.",
    "3. Heat from dusk: on hook-up with a fan heater in the living area, and read the meter at the start and the end "
    "of heating; or with the van's own heater, and weigh the bottle before and after to 50 g with hob and fridge off "
    "gas.",
    "4. Switch off at about 02:00 and let the van cool until dawn; open no door before the last reading.",
    "5. Write time, inside_c, outside_c and mains_kwh, heater_w or gas_kg into a CSV: budget learn TOUR --log FILE.",
    "6. A second night, in another wind, is learned from together with the first: the same command with its log.",
)


def answer(van: Van, *, described: VanDescription | None = None) -> Shakedown:
    """The worth of three nights for a van, by the derivatives of their readings at the presets' usual values."""
    limits = ranges(described or van)
    nights = [Worth("the presets alone", 0.0, "nothing")]
    kinds = (
        ("a cool-down", "two loggers", _night(OFF)),
        ("a night on a metered hook-up, then a cool-down", "two loggers and a meter", _night(METERED)),
        ("a night on a weighed bottle, then a cool-down", "two loggers and a scale", _night(WEIGHED)),
    )
    for name, needs, night in kinds:
        forward = Forward.of(van, night, limits)
        usual = np.zeros(forward.count)
        _, slope = jacobian(forward.predicted, usual)
        _, cover = forward.observed()
        _, loss_slope = jacobian(partial(_log_loss, forward), usual)
        whiten = np.linalg.inv(np.linalg.cholesky(cover))
        if not nights[0].half_width_share:
            nights[0] = Worth(nights[0].night, _half_width(loss_slope, np.eye(forward.count)), nights[0].needs)
        nights.append(Worth(name, _half_width(loss_slope, narrowed(whiten @ slope)), needs))
    return Shakedown(tuple(nights))


def _log_loss(forward: Forward, scores: Floats) -> Floats:
    found: Floats = np.log(forward.loss_w_per_k(scores))[:, np.newaxis]
    return found


def _half_width(slope: Floats, cover: Floats) -> float:
    return round(float(P90_Z * np.sqrt((slope @ cover @ slope.T)[0, 0])), 4)


def _night(kind: int) -> Night:
    """A night as it would be logged: heated unless the kind is a mere cool-down, then left to cool."""
    heated = 0 if kind == OFF else HEATED_H
    hours = heated + COOLING_H + (HEATED_H if kind == OFF else 0)
    mode = np.full(hours, OFF)
    mode[:heated] = kind
    stretch = Stretch(
        log=Path(),
        start=pd.Timestamp("2027-01-20 18:00", tz="UTC"),
        inside_c=np.full(hours + 1, INSIDE_C),
        inside_error=np.ones(hours + 1),
        quarter_c=np.full((hours, 4), INSIDE_C),
        outside_c=np.full(hours, OUTSIDE_C),
        mode=mode,
        heat_w=np.where(mode == METERED, HEAT_W, 0.0),
        weighings=((0.0, float(heated), 1.0),) if kind == WEIGHED else (),
        **{remark: usual for remark, (usual, *_) in REMARKS.items()},
    )
    return Night((stretch,), ())
