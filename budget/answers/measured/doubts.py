"""What the fit of a log gives away about the log: residuals, and doubts in words."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import pandas as pd

from budget.answers.measured.drift import drift_sentences
from budget.answers.measured.fit import Fit
from budget.answers.measured.forward import Forward
from budget.answers.measured.logged_night import METERED
from budget.moments import moment
from budget.wording import whole_percent

FEW_EFFECTIVE = 200.0
BAD_MISFIT = 2.0
JUMP_K = 1.0  # of residual from one hour to the next
WELL_KNOWN_SHARE = 0.7  # of the preset's width, under which a number counts as learned


@dataclass(frozen=True)
class Band:
    """A number before and after the logs: P10, P50, P90 of each."""

    name: str
    preset_p10: float
    preset_p50: float
    preset_p90: float
    learned_p10: float
    learned_p50: float
    learned_p90: float

    @property
    def kept_width_share(self) -> float:
        """Width of the 80 % interval after the logs over that before."""
        return (self.learned_p90 - self.learned_p10) / max(self.preset_p90 - self.preset_p10, 1e-12)


@dataclass(frozen=True)
class Residual:
    """One reading against the fitted van: inside temperature at an hour edge. [°C]"""

    time: dt.datetime
    read_c: float
    fitted_c: float
    residual_k: float


def residuals_of(forward: Forward, found: Fit) -> tuple[tuple[Residual, ...], float]:
    """Each reading against the fitted van, and their root mean square. [K]"""
    listed: list[Residual] = []
    at = 0
    for stretch in forward.night.stretches:
        seen = np.flatnonzero(forward.seen(stretch))
        for edge in seen:
            off = float(found.residual[at])
            read = float(stretch.inside_c[edge])
            time = (stretch.start + pd.Timedelta(hours=int(edge))).to_pydatetime()
            listed.append(Residual(time, read, read - off, off))
            at += 1
        at += len(stretch.weighings)
    offs = np.array([r.residual_k for r in listed])
    return tuple(listed), float(np.sqrt(np.mean(offs**2))) if len(offs) else 0.0


def doubts(forward: Forward, found: Fit, residuals: tuple[Residual, ...], loss: Band) -> list[str]:
    """What the fit gives away about the log."""
    said: list[str] = []
    offs = np.array([r.residual_k for r in residuals])
    jumps = np.diff(offs)
    if len(jumps) and jumps.min() < -JUMP_K:
        when = residuals[int(jumps.argmin()) + 1].time
        said.append(f"Before {moment(when)} it cools {-jumps.min():.1f} K more than fitted: was a door opened?")
    if len(jumps) and jumps.max() > JUMP_K:
        when = residuals[int(jumps.argmax()) + 1].time
        said.append(f"Before {moment(when)} it is {jumps.max():.1f} K warmer than fitted: unlogged heat?")
    if not said:  # what jumps is no drift
        said += drift_sentences(forward, found)
    if found.misfit > BAD_MISFIT:
        said.append(
            f"The fitted van misses the readings {found.misfit:.1f} times as far as their stated error; "
            "the intervals are widened to match, but take this log with doubt."
        )
    if found.effective < FEW_EFFECTIVE:
        said.append(f"Only {found.effective:.0f} effective samples carry the answer; its ranges are rough.")
    if not forward.night.absolute:
        return said
    metered = any((stretch.mode == METERED).any() for stretch in forward.night.stretches)
    if metered and forward.built.van.heater.electric_w:
        said.append(
            "Metered heat is taken to come from a heater that stands in the living area; if it came through the van's "
            "own ducts, W/K is put too high, since a part warmed other zones."
        )
    ratio = loss.kept_width_share
    if not loss.preset_p10 <= loss.learned_p50 <= loss.preset_p90:
        said.append(
            f"The log says {loss.learned_p50:.0f} W/K where the description allowed {loss.preset_p10:.0f} to "
            f"{loss.preset_p90:.0f}, which pulls the answer towards it: look at the description of the van."
        )
    elif ratio > WELL_KNOWN_SHARE:
        said.append(
            f"The log narrows the range of W/K to no less than {whole_percent(ratio)} of the presets': it says little."
        )
    return said
