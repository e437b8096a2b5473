"""What a logged night tells about a van: its heat loss and capacity, with how sure that is."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from scipy import special
from scipy.stats import qmc

from budget.answers.measured.doubts import Band, Residual, doubts, residuals_of
from budget.answers.measured.fit import Fit, fit
from budget.answers.measured.forward import Forward
from budget.answers.measured.log_file import LogFile
from budget.answers.measured.logged_night import METERED, Night, lay_out, together
from budget.moments import instant
from budget.tour.model import Stop, Tour
from budget.van.description import VanDescription
from budget.van.model import Van
from budget.van.ranges import Range, ranges
from budget.weather.air import Floats

LEVELS = (0.1, 0.5, 0.9)  # P10 to P90 is the 80 % interval
PRIOR_DRAWS = 512


@dataclass(frozen=True)
class LogUsed:
    """A log on which the answer rests, from the first to the last hour that was used of it."""

    path: Path
    sha256: str
    place: str
    start: dt.datetime
    end: dt.datetime
    hours: int
    is_absolute: bool

    def as_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {
            "log": self.path.name,
            "sha256": self.sha256,
            "place": self.place,
            "start": self.start.isoformat(),
            "end": self.end.isoformat(),
            "hours_h": self.hours,
            "is_absolute": self.is_absolute,
        }


@dataclass(frozen=True, eq=False)
class Learned:
    """What one or more logs say.

    ``loss`` [W/K] of the whole van with its living area held warm by its own heater; ``living_loss`` [W/K] with heat
    let into the living area alone, None where none was metered; ``per_capacity`` is loss over heat capacity [1/h];
    ``factors`` on the described van; ``log_cover`` is the covariance of their logarithms. Both losses hold for 0 °C
    outdoors and the logs' mean wind and sky; the last metered hour alone would say ``last_heat_w`` / ``last_lead_k``.
    """

    logs: tuple[LogUsed, ...]
    is_absolute: bool
    wind_m_per_s: float
    sky_delta_k: float
    loss: Band
    living_loss: Band | None
    per_capacity: Band
    factors: tuple[Band, ...]
    log_cover: Floats
    residuals: tuple[Residual, ...]
    residual_rms_k: float
    misfit: float
    effective: float
    cautions: tuple[str, ...]
    last_heat_w: float | None = None
    last_lead_k: float | None = None

    @property
    def source(self) -> str:
        """The logs' names."""
        return _listed(log.path.name for log in self.logs)

    @property
    def place(self) -> str:
        """Where they were logged."""
        return _listed(log.place for log in self.logs)

    @property
    def hours(self) -> int:
        """Hours that were used."""
        return sum(log.hours for log in self.logs)

    def as_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {
            "source": self.source,
            "place": self.place,
            "start": self.logs[0].start.isoformat(),
            "end": self.logs[-1].end.isoformat(),
            "hours_h": self.hours,
            "logs": [log.as_dict() for log in self.logs],
            "is_absolute": self.is_absolute,
            "wind_m_per_s": self.wind_m_per_s,
            "sky_delta_k": self.sky_delta_k,
            "last_heat_w": self.last_heat_w,
            "last_lead_k": self.last_lead_k,
            "loss_w_per_k": _band(self.loss),
            "living_loss_w_per_k": None if self.living_loss is None else _band(self.living_loss),
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
            "Held warm by its own heater, with all that its warm air brings to other zones, it loses "
            f"{loss.learned_p50:.0f} W/K, 80 % between {loss.learned_p10:.0f} and {loss.learned_p90:.0f}; the presets "
            f"said {loss.preset_p10:.0f} to {loss.preset_p90:.0f} W/K."
        )
        if self.is_absolute:
            said = [*self._living_said(), known, self._conditions(), cools]
        else:
            said = [
                cools,
                "A cool-down gives only the ratio of loss to heat capacity; for W/K measure the heat of one night, "
                "by a meter on the hook-up or by weighing the bottle before and after. With the presets for the "
                f"capacity: {known[0].lower()}{known[1:]}",
                self._conditions(),
            ]
        said.append(
            f"The fit is off by {self.residual_rms_k:.2f} K (root mean square) over {self.hours} h of {self.source}."
        )
        return (*said, *self.cautions)

    def _conditions(self) -> str:
        """For what weather the losses hold, and why an hour of the log may read otherwise."""
        holds = (
            f"This holds for 0 °C outdoors, a wind of {self.wind_m_per_s:g} m/s at the van and a sky "
            f"{self.sky_delta_k:g} K colder than the air, as the log's remarks have it or, without them, as supposed."
        )
        if self.last_heat_w is None or self.last_lead_k is None:
            return holds
        return (
            f"{holds} The last metered hour alone, {self.last_heat_w:.0f} W at {self.last_lead_k:.1f} K, would "
            f"say {self.last_heat_w / self.last_lead_k:.0f} W/K: in it are that night's own wind and sky, and heat "
            "that was still being stored."
        )

    def _living_said(self) -> list[str]:
        """What was metered, before what follows from it for the van's own heater."""
        living = self.living_loss
        if living is None:
            return []
        return [
            f"With heat into the living area alone, as it was metered, the van loses {living.learned_p50:.0f} W/K, "
            f"80 % between {living.learned_p10:.0f} and {living.learned_p90:.0f}."
        ]


def answer(
    van: Van,
    tour: Tour,
    logs: Sequence[LogFile],
    *,
    described: VanDescription | None = None,
    seed: int = 1,
) -> Learned:
    """Learn from logs of the van of a tour, all together; one that is given twice counts once.

    A log's place is the tour's stop at its first reading, or its first stop. Their order does not matter.
    """
    different = {log.sha256: log for log in reversed(logs)}.values()  # of two alike the one that is named first
    once = sorted(different, key=lambda log: (log.stamps[0], log.sha256))
    stops = [_stop_at(tour, log.stamps[0]) for log in once]
    each = [lay_out(log, stop.latitude_deg, stop.longitude_deg) for log, stop in zip(once, stops, strict=True)]
    forward = Forward.of(van, together(each), ranges(described or van))
    return summed_up(forward, fitted(forward, seed), once, [stop.place for stop in stops])


def fitted(forward: Forward, seed: int = 1) -> Fit:
    """The posterior of a van's factors."""
    values, cover = forward.observed()
    return fit(forward.predicted, values, cover, forward.count, smooth=forward.smooth, blocks=forward.blocks, seed=seed)


def summed_up(forward: Forward, found: Fit, logs: Sequence[LogFile], places: Sequence[str]) -> Learned:
    """The posterior in the terms that the person asked for."""
    night = forward.night
    cube = qmc.Sobol(d=forward.count, scramble=True, rng=np.random.default_rng(2)).random(PRIOR_DRAWS)
    prior = special.ndtri(cube.clip(1e-9, 1.0 - 1e-9))
    samples = prior, found.scores
    losses = [forward.loss_w_per_k(scores) for scores in samples]
    ratios = [3600.0 * loss / forward.capacity_j_per_k(scores) for loss, scores in zip(losses, samples, strict=True)]
    before, after = (forward.factors(scores) for scores in samples)
    log_factors = np.log(np.array([after[name] for name in forward.names]))
    residuals, rms = residuals_of(forward, found)
    loss = _of("loss_w_per_k", losses)
    metered = night.absolute and forward.metered
    living = _of("living_loss_w_per_k", [forward.living_loss_w_per_k(one) for one in samples]) if metered else None
    notices = [notice for log in logs for notice in log.notices]
    cautions = [*notices, *night.cautions, *doubts(forward, found, residuals, loss)]
    return Learned(
        logs=tuple(
            used for log, place in zip(logs, places, strict=True) if (used := _log_used(log, place, night)) is not None
        ),
        is_absolute=night.absolute,
        wind_m_per_s=forward.wind_m_per_s,
        sky_delta_k=forward.sky_delta_k,
        loss=loss,
        living_loss=living,
        per_capacity=_of("loss_per_capacity_per_h", ratios),
        factors=tuple(_of(name, [before[name], after[name]], forward.limits[name]) for name in forward.names),
        log_cover=np.cov(log_factors),
        residuals=residuals,
        residual_rms_k=rms,
        misfit=found.misfit,
        effective=found.effective,
        cautions=tuple(dict.fromkeys(cautions)),
        **_last_metered(night),
    )


def _last_metered(night: Night) -> dict[str, float]:
    """Heat of the last hour in which it was metered, and by how much its end was warmer than outdoors."""
    for stretch in reversed(night.stretches):
        hours = np.flatnonzero((stretch.mode == METERED) & (stretch.heat_w > 0.0) & ~np.isnan(stretch.inside_c[1:]))
        if hours.size:
            last = int(hours[-1])
            lead_k = float(stretch.inside_c[last + 1] - stretch.outside_c[last])
            return {"last_heat_w": float(stretch.heat_w[last]), "last_lead_k": lead_k} if lead_k > 1.0 else {}
    return {}


def _log_used(log: LogFile, place: str, night: Night) -> LogUsed | None:
    own = [stretch for stretch in night.stretches if stretch.log == log.path]
    if not own:
        return None
    return LogUsed(
        path=log.path,
        sha256=log.sha256,
        place=place,
        start=own[0].start.to_pydatetime(),
        end=own[-1].end.to_pydatetime(),
        hours=sum(stretch.hours for stretch in own),
        is_absolute=any(stretch.is_absolute for stretch in own),
    )


def _of(name: str, values: list[Floats], preset: Range | None = None) -> Band:
    before = np.quantile(values[0], LEVELS) if preset is None else (preset.low, preset.base, preset.high)
    return Band(name, *map(float, before), *map(float, np.quantile(values[1], LEVELS)))


def _stop_at(tour: Tour, stamp: pd.Timestamp) -> Stop:
    zone = ZoneInfo(tour.timezone)
    reached = [stop for stop in tour.stops if (instant(stop.arrive, zone) or stamp) <= stamp]
    return reached[-1] if reached else tour.stops[0]


def _band(band: Band) -> dict[str, float]:
    names = ("preset_p10", "preset_p50", "preset_p90", "learned_p10", "learned_p50", "learned_p90")
    return {name: float(f"{getattr(band, name):.4g}") for name in names}


def _listed(names: Iterable[str]) -> str:
    """Names, each once: "a, b and c"."""
    *others, last = dict.fromkeys(names)
    return f"{', '.join(others)} and {last}" if others else last
