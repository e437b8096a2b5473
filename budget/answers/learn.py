"""What a logged night tells about a van: its heat loss and capacity, with how sure that is."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from scipy import special
from scipy.stats import qmc

from budget.answers.learn_fit import Fit, fit
from budget.answers.learn_forward import Forward
from budget.answers.log_file import LogFile
from budget.answers.logged_night import lay_out
from budget.tour.model import Stop, Tour
from budget.van.description import VanDescription
from budget.van.model import Van
from budget.van.ranges import Range, ranges
from budget.weather.air import Floats

LEVELS = (0.1, 0.5, 0.9)  # P10 to P90 is the 80 % interval
FEW_EFFECTIVE = 200.0
PRIOR_DRAWS = 512
BAD_MISFIT = 2.0
JUMP_K = 1.0  # of residual from one hour to the next
DRIFT_K_PER_H = 0.08
WELL_KNOWN_SHARE = 0.7  # of the preset's width, under which a number counts as learned


@dataclass(frozen=True)
class Band:
    """A number before and after the log: P10, P50, P90 of each."""

    name: str
    preset_p10: float
    preset_p50: float
    preset_p90: float
    learned_p10: float
    learned_p50: float
    learned_p90: float

    @property
    def kept_width_share(self) -> float:
        """Width of the 80 % interval after the log over that before."""
        return (self.learned_p90 - self.learned_p10) / max(self.preset_p90 - self.preset_p10, 1e-12)


@dataclass(frozen=True)
class Residual:
    """One reading against the fitted van: inside temperature at an hour edge. [°C]"""

    time: dt.datetime
    read_c: float
    fitted_c: float
    residual_k: float


@dataclass(frozen=True, eq=False)
class Learned:
    """What a log says.

    ``loss`` [W/K] of the whole van with its living area held warm; ``per_capacity`` is loss over heat capacity [1/h];
    ``factors`` on the described van. ``log_cover`` is the covariance of the factors' logarithms.
    """

    source: str
    place: str
    start: dt.datetime
    end: dt.datetime
    hours: int
    is_absolute: bool
    wind_m_per_s: float
    loss: Band
    per_capacity: Band
    factors: tuple[Band, ...]
    log_cover: Floats
    residuals: tuple[Residual, ...]
    residual_rms_k: float
    misfit: float
    effective: float
    cautions: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {
            "source": self.source,
            "place": self.place,
            "start": self.start.isoformat(),
            "end": self.end.isoformat(),
            "hours_h": self.hours,
            "is_absolute": self.is_absolute,
            "wind_m_per_s": self.wind_m_per_s,
            "loss_w_per_k": _band(self.loss),
            "loss_per_capacity_per_h": _band(self.per_capacity),
            "factors": {band.name: _band(band) for band in self.factors},
            "residual_rms_k": round(self.residual_rms_k, 3),
            "misfit_factor": round(self.misfit, 3),
            "effective_samples": round(self.effective, 1),
            "residuals": [
                {"time": r.time.isoformat(), "read_c": round(r.read_c, 2), "fitted_c": round(r.fitted_c, 2)}
                for r in self.residuals
            ],
            "cautions": list(self.cautions),
        }

    @property
    def sentences(self) -> tuple[str, ...]:
        """The answer in words."""
        loss, ratio = self.loss, self.per_capacity
        hours = 1.0 / ratio.learned_p90, 1.0 / ratio.learned_p50, 1.0 / ratio.learned_p10
        cools = (
            f"Left alone the van keeps a warmth difference for a time constant of {hours[1]:.1f} h "
            f"(80 % between {hours[0]:.1f} and {hours[2]:.1f} h)."
        )
        known = (
            f"It loses {loss.learned_p50:.0f} W/K, 80 % between {loss.learned_p10:.0f} and {loss.learned_p90:.0f}; "
            f"the presets said {loss.preset_p10:.0f} to {loss.preset_p90:.0f} W/K."
        )
        if self.is_absolute:
            said = [known, cools]
        else:
            said = [
                cools,
                "A cool-down gives only the ratio of loss to heat capacity; for W/K measure the heat of one night, "
                "by a meter on the hook-up or by weighing the bottle before and after. With the presets for the "
                f"capacity: {known[0].lower()}{known[1:]}",
            ]
        said.append(f"The fit is off by {self.residual_rms_k:.2f} K (root mean square) over {self.hours} h.")
        return (*said, *self.cautions)

    def toml(self, made: dt.date) -> str:
        """The ``[learned]`` section as text."""
        lines = [
            "# Written by `budget learn`: factors on the van as it is described, from a log. Delete it to forget them.",
            "[learned]",
            f"made = {made.isoformat()}",
            f"source = {_quoted(self.source)}",
            f"place = {_quoted(self.place)}",
            f"start = {self.start.isoformat()}",
            f"end = {self.end.isoformat()}",
            f"is_absolute = {str(self.is_absolute).lower()}  # false: only loss over capacity was measured",
            "",
            "# P10, P50, P90; one tour is reckoned with P50, the odds draw from the whole range.",
            f"preset_loss_w_per_k = {_numbers(self.loss.preset_p10, self.loss.preset_p50, self.loss.preset_p90)}",
            f"loss_w_per_k = {_three(self.loss)}",
            f"loss_per_capacity_per_h = {_three(self.per_capacity)}",
            "",
            "# Correlation of the factors' logarithms, rows in the order below: what is known together.",
            "correlation = [",
            *(f"  [{', '.join(f'{value:.3f}' for value in row)}]," for row in _correlation(self.log_cover)),
            "]",
            "",
            "[learned.factors]",
            *(f"{band.name} = {_three(band)}" for band in self.factors),
        ]
        return "\n".join(lines) + "\n"


def answer(
    van: Van,
    tour: Tour,
    log: LogFile,
    *,
    described: VanDescription | None = None,
    seed: int = 1,
) -> Learned:
    """Learn from a log of the van of a tour; the place is the tour's stop at that time, or its first."""
    stop = _stop_at(tour, log.stamps[0])
    night = lay_out(log, stop.latitude_deg, stop.longitude_deg)
    limits = ranges(described or van)
    forward = Forward.of(van, night, limits, log.remarks)
    values, cover = forward.observed()
    found = fit(forward.predicted, values, cover, forward.count, smooth=forward.smooth, seed=seed)
    return summed_up(forward, found, log.path, stop.place, log.notices)


def summed_up(forward: Forward, found: Fit, source: Path, place: str, notices: tuple[str, ...]) -> Learned:
    """The posterior in the terms that the person asked for."""
    night = forward.night
    cube = qmc.Sobol(d=forward.count, scramble=True, rng=np.random.default_rng(2)).random(PRIOR_DRAWS)
    prior = special.ndtri(cube.clip(1e-9, 1.0 - 1e-9))
    samples = prior, found.scores
    losses = [forward.loss_w_per_k(scores) for scores in samples]
    ratios = [3600.0 * loss / forward.capacity_j_per_k(scores) for loss, scores in zip(losses, samples, strict=True)]
    before, after = (forward.factors(scores) for scores in samples)
    logs = np.log(np.array([after[name] for name in forward.names]))
    residuals, rms = _residuals(forward, found)
    loss = _of("loss_w_per_k", losses)
    cautions = [*notices, *night.cautions, *_doubts(forward, found, residuals, loss)]
    return Learned(
        source=source.name,
        place=place,
        start=night.stretches[0].start.to_pydatetime(),
        end=(night.stretches[-1].start + pd.Timedelta(hours=night.stretches[-1].hours)).to_pydatetime(),
        hours=night.hours,
        is_absolute=night.absolute,
        wind_m_per_s=forward.wind_m_per_s,
        loss=loss,
        per_capacity=_of("loss_per_capacity_per_h", ratios),
        factors=tuple(_of(name, [before[name], after[name]], forward.limits[name]) for name in forward.names),
        log_cover=np.cov(logs),
        residuals=residuals,
        residual_rms_k=rms,
        misfit=found.misfit,
        effective=found.effective,
        cautions=tuple(dict.fromkeys(cautions)),
    )


def _of(name: str, values: list[Floats], preset: Range | None = None) -> Band:
    before = np.quantile(values[0], LEVELS) if preset is None else (preset.low, preset.base, preset.high)
    return Band(name, *map(float, before), *map(float, np.quantile(values[1], LEVELS)))


def _residuals(forward: Forward, found: Fit) -> tuple[tuple[Residual, ...], float]:
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


def _doubts(forward: Forward, found: Fit, residuals: tuple[Residual, ...], loss: Band) -> list[str]:
    """What the fit gives away about the log."""
    said = []
    offs = np.array([r.residual_k for r in residuals])
    jumps = np.diff(offs)
    if len(jumps) and jumps.min() < -JUMP_K:
        when = residuals[int(jumps.argmin()) + 1].time
        said.append(f"Before {when:%d %B %H:%M} it cools {-jumps.min():.1f} K more than fitted: was a door opened?")
    if len(jumps) and jumps.max() > JUMP_K:
        when = residuals[int(jumps.argmax()) + 1].time
        said.append(f"Before {when:%d %B %H:%M} it is {jumps.max():.1f} K warmer than fitted: unlogged heat?")
    if len(offs) >= 6:
        slope = float(np.polyfit(np.arange(len(offs)), offs, 1)[0])
        if abs(slope) > DRIFT_K_PER_H:
            said.append(f"The residuals drift by {slope:+.2f} K an hour: does a sensor drift, or did the wind change?")
    if found.misfit > BAD_MISFIT:
        said.append(
            f"The fitted van misses the readings {found.misfit:.1f} times as far as their stated error; "
            "the intervals are widened to match, but take this log with doubt."
        )
    if found.effective < FEW_EFFECTIVE:
        said.append(f"Only {found.effective:.0f} effective samples carry the answer; its ranges are rough.")
    if not forward.night.absolute:
        return said
    ratio = loss.kept_width_share
    if not loss.preset_p10 <= loss.learned_p50 <= loss.preset_p90:
        said.append(
            f"The log says {loss.learned_p50:.0f} W/K where the description allowed {loss.preset_p10:.0f} to "
            f"{loss.preset_p90:.0f}, which pulls the answer towards it: look at the description of the van."
        )
    elif ratio > WELL_KNOWN_SHARE:
        said.append(f"The log narrows the range of W/K to no less than {ratio:.0%} of the presets': it says little.")
    return said


def _stop_at(tour: Tour, stamp: pd.Timestamp) -> Stop:
    local = stamp.tz_convert(tour.timezone).tz_localize(None).to_pydatetime()
    reached = [stop for stop in tour.stops if stop.arrive <= local]
    return reached[-1] if reached else tour.stops[0]


def _correlation(cover: Floats) -> Floats:
    spread = np.sqrt(np.maximum(np.diag(cover), 1e-12))
    found: Floats = cover / np.outer(spread, spread) + 0.0
    return found


def _band(band: Band) -> dict[str, float]:
    names = ("preset_p10", "preset_p50", "preset_p90", "learned_p10", "learned_p50", "learned_p90")
    return {name: float(f"{getattr(band, name):.4g}") for name in names}


def _three(band: Band) -> str:
    return _numbers(band.learned_p10, band.learned_p50, band.learned_p90)


def _numbers(*values: float) -> str:
    return f"[{', '.join(f'{value:.4g}' for value in values)}]"


def _quoted(words: str) -> str:
    escaped = words.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{"".join(c if c.isprintable() else " " for c in escaped)}"'
