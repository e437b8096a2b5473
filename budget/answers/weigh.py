"""A bottle on a scale on the way: the forecast from now on, by Bayes over the winters and vans of the odds."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from budget.answers.ensemble import BAND_STEP_H, ensemble
from budget.answers.learn_fit import quantile
from budget.answers.logbook import SCALE_KG, Entry, bottle_names, check
from budget.answers.odds import Supply
from budget.answers.prepared import Prepared
from budget.errors import InputFault
from budget.weather.air import Floats

SCENARIOS = 1000
SEED = 1
USE_MISFIT_SHARE = 0.05  # of what was drawn between two weighings: habits that differ from the plan; a choice
CHARGE_SHARE = 0.05  # of a battery monitor's state of charge, standard deviation; common practice, no source
FEW_EFFECTIVE = 30.0
LEVELS = (0.1, 0.5, 0.9)


@dataclass(frozen=True)
class Forecast:
    """What is ahead, seen from ``at``: P10, P50, P90 of the gas a day until the tour's end and of the run-out time.

    A run-out of None lies beyond the tour. ``effective`` is the effective number of scenarios, 1 / sum(w²).
    """

    at: dt.datetime
    reading: str
    p10_kg_per_day: float
    p50_kg_per_day: float
    p90_kg_per_day: float
    left_kg: float
    run_out_early: dt.datetime | None
    run_out_middle: dt.datetime | None
    lasts_share: float
    effective: float

    def as_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        times = ("at", "run_out_early", "run_out_middle")
        plain = {name: value for name, value in vars(self).items() if name not in times}
        written = {name: None if getattr(self, name) is None else getattr(self, name).isoformat() for name in times}
        return {**written, **{k: round(v, 4) if isinstance(v, float) else v for k, v in plain.items()}}


@dataclass(frozen=True, eq=False)
class Weighed:
    """The forecast before any reading and after each; weights of the scenarios after the last."""

    steps: tuple[Forecast, ...]
    weights: Floats
    used_kg: Floats
    samples: dict[str, Floats]
    outdoor_c: Floats
    wind_m_per_s: Floats
    scenarios: int
    seed: int
    cautions: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {
            "scenarios": self.scenarios,
            "seed": self.seed,
            "before": self.steps[0].as_dict(),
            "after": self.steps[-1].as_dict(),
            "readings": [step.as_dict() for step in self.steps[1:]],
            "cautions": list(self.cautions),
        }

    @property
    def sentences(self) -> tuple[str, ...]:
        """The answer in words."""
        before, now = self.steps[0], self.steps[-1]
        said = [
            f"From {now.at:%d %B %H:%M} on it takes {now.p50_kg_per_day:.2f} kg a day, with 80 % between "
            f"{now.p10_kg_per_day:.2f} and {now.p90_kg_per_day:.2f}; before the readings "
            f"{before.p10_kg_per_day:.2f} to {before.p90_kg_per_day:.2f} were expected for the tour.",
            f"{now.left_kg:.1f} kg are on board; without another exchange they last to the end in "
            f"{now.lasts_share:.0%} of what is still likely.",
        ]
        if now.run_out_early is not None:
            said.append(f"In one case of ten they are gone by {now.run_out_early:%d %B %H:%M}.")
        said.append(f"{now.effective:.0f} effective scenarios of {self.scenarios} carry this.")
        return (*said, *self.cautions)


def answer(
    prepared: Prepared,
    entries: tuple[Entry, ...],
    *,
    scenarios: int = SCENARIOS,
    seed: int = SEED,
    executor: Executor | None = None,
    done: Callable[[int], object] | None = None,
) -> Weighed:
    """The forecast after these readings. InputFault for a reading that cannot be."""
    check(entries, prepared.van.gas.bottles)
    if not entries:
        raise InputFault(
            "the logbook must hold a reading, got none; weigh a bottle: --at TIME --bottle NAME --kg GROSS."
        )
    job = ensemble(prepared, scenarios, seed, replay=Supply.of(prepared))
    kept = job.run(executor, done)
    used = np.asarray(kept.used_band_kg, dtype=float)
    bands_h = np.arange(0, prepared.hours_count + 1, BAND_STEP_H, dtype=float)
    if bands_h[-1] < prepared.hours_count:
        bands_h, used = np.append(bands_h, prepared.hours_count), np.column_stack([used, kept.gas_kg])
    charge = np.asarray(kept.charge_band_share, dtype=float)
    view = _View(prepared, bands_h, used)
    left = np.tile(prepared.start_kg(), (scenarios, 1))
    log_weight, before_h = np.zeros(scenarios), 0.0
    steps = [view.forecast(prepared.timeline.edges[0].to_pydatetime(), "before", 0.0, left, log_weight)]
    names = bottle_names(prepared.van.gas.bottles)
    for entry in entries:
        at_h = view.hour(entry.at)
        drawn = view.used_until(at_h) - view.used_until(before_h)
        left = _draw(left, drawn, prepared.van.gas.changeover == "parallel")
        before_h = at_h
        if entry.bottle:
            k = names.index(entry.bottle)
            held = max(entry.gross_kg - prepared.van.gas.bottles[k].tare_kg, 0.0)
            if not entry.is_swapped:
                fed = np.maximum(view.last_kg.get(k, prepared.start_kg()[k]) - left[:, k], 0.0)
                log_weight = log_weight - 0.5 * ((held - left[:, k]) / np.hypot(SCALE_KG, USE_MISFIT_SHARE * fed)) ** 2
                log_weight -= np.log(np.hypot(SCALE_KG, USE_MISFIT_SHARE * fed))
            left[:, k] = held
            view.last_kg[k] = held
            reading = f"{entry.bottle}: {entry.gross_kg:g} kg"
        else:
            stood = np.array([np.interp(at_h, bands_h[: charge.shape[1]], row) for row in charge])
            log_weight = log_weight - 0.5 * ((entry.charge_percent / 100.0 - stood) / CHARGE_SHARE) ** 2
            reading = f"charge: {entry.charge_percent:g} %"
        steps.append(view.forecast(entry.at, reading, at_h, left, log_weight))
    cautions = []
    if steps[-1].effective < FEW_EFFECTIVE:
        cautions.append(
            f"Only {steps[-1].effective:.0f} scenarios agree with the readings: use far from what was expected, or a "
            "reading is wrong; look at the logbook, or take more --scenarios."
        )
    return Weighed(
        steps=tuple(steps),
        weights=_weights(log_weight),
        used_kg=view.used_until(before_h),
        samples=job.samples,
        outdoor_c=kept.mean_outdoor_c,
        wind_m_per_s=kept.mean_wind_m_per_s,
        scenarios=scenarios,
        seed=seed,
        cautions=tuple(cautions),
    )


class _View:
    """Gas used by each scenario at any hour, and what a set of weights says of the days ahead."""

    def __init__(self, prepared: Prepared, bands_h: Floats, used: Floats) -> None:
        self.edges = prepared.timeline.edges
        self.bands_h, self.used = bands_h, used
        self.last_kg: dict[int, float] = {}

    def hour(self, at: dt.datetime) -> float:
        """Hours since the tour's start."""
        return float((pd.Timestamp(at) - self.edges[0]) / pd.Timedelta(hours=1))

    def used_until(self, at_h: float) -> Floats:
        """Gas used until then by each scenario. [kg]"""
        return np.array([np.interp(at_h, self.bands_h, row) for row in self.used])

    def forecast(self, at: dt.datetime, reading: str, at_h: float, left: Floats, log_weight: Floats) -> Forecast:
        """What is ahead at these weights."""
        weights = _weights(log_weight)
        so_far, held = self.used_until(at_h), left.sum(axis=1)
        days = max((self.bands_h[-1] - at_h) / 24.0, 1.0 / 24.0)
        per_day = (self.used[:, -1] - so_far) / days
        empty_h = np.array(
            [
                np.interp(kg, row, self.bands_h) if row[-1] > kg else np.inf
                for row, kg in zip(self.used, so_far + held, strict=True)
            ]
        )
        low, middle, high = (quantile(per_day, weights, level) for level in LEVELS)
        return Forecast(
            at=at,
            reading=reading,
            p10_kg_per_day=low,
            p50_kg_per_day=middle,
            p90_kg_per_day=high,
            left_kg=float(weights @ held),
            run_out_early=self._when(empty_h, weights, LEVELS[0]),
            run_out_middle=self._when(empty_h, weights, LEVELS[1]),
            lasts_share=float(weights[np.isinf(empty_h)].sum()),
            effective=float(1.0 / (weights**2).sum()),
        )

    def _when(self, empty_h: Floats, weights: Floats, level: float) -> dt.datetime | None:
        order = np.argsort(empty_h)
        at = empty_h[order][np.searchsorted(np.cumsum(weights[order]), level).clip(0, len(order) - 1)]
        if not np.isfinite(at):
            return None
        time: dt.datetime = (self.edges[0] + pd.Timedelta(hours=float(at))).floor("min").to_pydatetime()
        return time


def _weights(log_weight: Floats) -> Floats:
    weights = np.exp(log_weight - log_weight.max())
    found: Floats = weights / weights.sum()
    return found


def _draw(left: Floats, need: Floats, is_parallel: bool) -> Floats:
    """What each bottle holds after this need: one after the other, or together in proportion to what they hold."""
    left = left.copy()
    if is_parallel:
        held = left.sum(axis=1)
        share = np.clip(need / np.maximum(held, 1e-9), 0.0, 1.0)
        return np.asarray(left * (1.0 - share)[:, np.newaxis])
    for k in range(left.shape[1]):
        drawn = np.minimum(need, left[:, k])
        left[:, k] -= drawn
        need = need - drawn
    return left
