"""A bottle on a scale on the way: the forecast from now on, by Bayes over the winters and vans of the odds."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from budget.answers.measured.logbook import Entry, check
from budget.answers.measured.narrowing import Narrowed, effective, narrow
from budget.answers.prepared import Prepared
from budget.answers.quantiles import weighted_quantile
from budget.answers.road import Road
from budget.answers.unknowns import P90_Z
from budget.errors import InputFault
from budget.moments import moment
from budget.rounding import least
from budget.weather.air import Floats

SCENARIOS = 1000
SEED = 1
ENOUGH_EFFECTIVE = 200.0  # P10 and P90 of a normal posterior are then known to 0.12 of its standard deviation
LEAST_MORE = 100
ODD_Z = 3.0  # of the predictive spread, from which a reading is named as odd: one right one of 370 is
LEVELS = (0.1, 0.5, 0.9)


@dataclass(frozen=True)
class Forecast:
    """What is ahead, seen from ``at``: P10, P50, P90 of the gas a day until the tour's end and of the run-out time.

    ``was_*`` are the same days ahead as seen without this reading. A run-out is told at the start of its hour; one of
    None lies beyond the tour. ``effective`` is the effective number of scenarios, 1 / sum(w²).
    """

    at: dt.datetime
    reading: str
    was_p10_kg_per_day: float
    was_p50_kg_per_day: float
    was_p90_kg_per_day: float
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


@dataclass(frozen=True)
class Used:
    """What a bottle gave between two weighings (or since the start): predicted before any reading, and by the scale."""

    bottle: str
    since: dt.datetime
    until: dt.datetime
    predicted_p10_kg: float
    predicted_p50_kg: float
    predicted_p90_kg: float
    weighed_kg: float


@dataclass(frozen=True, eq=False)
class Weighed:
    """The forecast before any reading and after each, and what it stands on.

    ``prior`` and ``weights`` of the scenarios before any reading and after the last; ``used_kg``, ``outdoor_c`` and
    ``wind_m_per_s`` of each until the last reading.
    """

    steps: tuple[Forecast, ...]
    used: tuple[Used, ...]
    prior: Floats
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
            "used": [vars(used) for used in self.used],
            "cautions": list(self.cautions),
        }

    @property
    def sentences(self) -> tuple[str, ...]:
        """The answer in words."""
        now = self.steps[-1]
        said = [
            f"From {moment(now.at)} on it takes {now.p50_kg_per_day:.2f} kg a day, with 80 % between "
            f"{now.p10_kg_per_day:.2f} and {now.p90_kg_per_day:.2f}; without this reading "
            f"{now.was_p10_kg_per_day:.2f} to {now.was_p90_kg_per_day:.2f} were expected for these days.",
            f"{least(now.left_kg, 1)} kg are on board; without another exchange they last to the end in "
            f"{least(100.0 * now.lasts_share)} % of what is still likely.",
        ]
        if now.run_out_early is not None:
            said.append(f"In one case of ten they are gone by {moment(now.run_out_early)}.")
        return (*said, self._agreement(now.effective), *self.cautions)

    def _agreement(self, effective: float) -> str:
        """How many of the drawn scenarios the readings leave, and whether that is enough for the spread."""
        if effective >= ENOUGH_EFFECTIVE:
            agree, trust = f"about {least(effective)}", "enough"
        else:
            agree, trust = f"only about {least(effective)}", f"fewer than the {ENOUGH_EFFECTIVE:.0f} it takes"
        return (
            f"Of the {self.scenarios} winters and vans tried, {agree} agree with what was read, {trust} to trust the "
            "spread told here."
        )


def answer(
    prepared: Prepared,
    entries: tuple[Entry, ...],
    *,
    scenarios: int = SCENARIOS,
    seed: int = SEED,
    executor: Executor | None = None,
    done: Callable[[int], object] | None = None,
) -> Weighed:
    """The forecast after these readings. InputFault for a reading that cannot be.

    ``scenarios`` are drawn at first; more are drawn near the readings until 200 are effective after each of them.
    """
    check(entries, prepared.van.gas.bottles)
    if not entries:
        raise InputFault(
            "the logbook must hold a reading, got none; weigh a bottle: --at TIME --bottle NAME --kg GROSS."
        )
    road = Road.of(prepared, entries, scenarios, seed, executor, done)
    found = narrow(
        road,
        road.unknown.scores(scenarios, seed),
        road.observed,
        road.spread,
        least=ENOUGH_EFFECTIVE,
        more=max(LEAST_MORE, scenarios // 2),
        seed=seed,
    )
    drawn = road.drawn
    count = len(drawn.used_kg)
    prior = np.where(np.arange(count) < scenarios, 1.0 / scenarios, 0.0)
    view = _View(prepared, road.bands_h, drawn.used_kg)
    steps = [view.forecast(prepared.timeline.edges[0].to_pydatetime(), "before", 0.0, drawn.left_kg[0], prior, prior)]
    weights, seen = prior, 0
    for number, entry in enumerate(entries, start=1):
        seen += entry in road.telling
        was, weights = weights, found.weights(seen) if seen else prior
        at_h = road.hour(entry.at)
        steps.append(view.forecast(entry.at, _said(entry), at_h, drawn.left_kg[number], was, weights))
    cautions = list(_odd(road, found))
    if steps[-1].effective < ENOUGH_EFFECTIVE and seen:
        cautions.append(
            "The ranges are rough: take more --scenarios, or look in the logbook for a reading that cannot be."
        )
    return Weighed(
        steps=tuple(steps),
        used=tuple(_used(road, prior)),
        prior=prior,
        weights=weights,
        used_kg=view.used_until(road.hour(entries[-1].at)),
        samples=road.unknown.factors(found.scores),
        outdoor_c=drawn.outdoor_c,
        wind_m_per_s=drawn.wind_m_per_s,
        scenarios=count,
        seed=seed,
        cautions=tuple(cautions),
    )


def _odd(road: Road, found: Narrowed) -> Iterator[str]:
    """A sentence for each reading far from what those before it let expect."""
    for number, entry in enumerate(road.telling):
        weights = found.weights(number)
        predicted = found.predicted[:, number]
        middle = float(weights @ predicted)
        spread = float(np.sqrt(weights @ (predicted - middle) ** 2 + road.spread[number] ** 2))
        if abs(road.observed[number] - middle) <= ODD_Z * spread:
            continue
        low, high = middle - P90_Z * spread, middle + P90_Z * spread
        when = f"{moment(entry.at)}"
        if not entry.bottle:
            yield (
                f"{when}: the battery stood at {entry.charge_percent:g} % where {100.0 * low:.0f} to "
                f"{100.0 * min(high, 1.0):.0f} % were to be expected: read it again, or look what has drawn on it."
            )
            continue
        tare_kg = road.tare_kg(entry.bottle)
        yield (
            f"{when}: {entry.bottle} weighed {entry.gross_kg:g} kg where {max(low, 0.0) + tare_kg:.1f} to "
            f"{high + tare_kg:.1f} kg were to be expected after the readings before it: weigh again and correct the "
            "logbook, or add --swapped if it was changed; as it stands it moves the forecast far."
        )


def _said(entry: Entry) -> str:
    if not entry.bottle:
        return f"charge: {entry.charge_percent:g} %"
    return f"{entry.bottle}: {entry.gross_kg:g} kg" + (", changed" if entry.is_swapped else "")


def _used(road: Road, prior: Floats) -> list[Used]:
    listed = []
    for number, interval in enumerate(road.intervals):
        low, middle, high = (weighted_quantile(road.drawn.given_kg[:, number], prior, level) for level in LEVELS)
        listed.append(Used(interval.bottle, interval.since, interval.until, low, middle, high, interval.weighed_kg))
    return listed


class _View:
    """Gas used by each scenario at any hour, and what a set of weights says of the days ahead."""

    def __init__(self, prepared: Prepared, bands_h: Floats, used: Floats) -> None:
        self.edges = prepared.timeline.edges
        self.bands_h, self.used = bands_h, used

    def used_until(self, at_h: float) -> Floats:
        """Gas used until then by each scenario. [kg]"""
        return np.array([np.interp(at_h, self.bands_h, row) for row in self.used])

    def forecast(
        self, at: dt.datetime, reading: str, at_h: float, left: Floats, was: Floats, weights: Floats
    ) -> Forecast:
        """What is ahead at these weights, and what ``was`` thought of it before."""
        so_far, held = self.used_until(at_h), left.sum(axis=1)
        days = max((self.bands_h[-1] - at_h) / 24.0, 1.0 / 24.0)
        per_day = (self.used[:, -1] - so_far) / days
        empty_h = np.array(
            [
                np.interp(kg, row, self.bands_h) if row[-1] > kg else np.inf
                for row, kg in zip(self.used, so_far + held, strict=True)
            ]
        )
        was_low, was_middle, was_high = (weighted_quantile(per_day, was, level) for level in LEVELS)
        low, middle, high = (weighted_quantile(per_day, weights, level) for level in LEVELS)
        return Forecast(
            at=at,
            reading=reading,
            was_p10_kg_per_day=was_low,
            was_p50_kg_per_day=was_middle,
            was_p90_kg_per_day=was_high,
            p10_kg_per_day=low,
            p50_kg_per_day=middle,
            p90_kg_per_day=high,
            left_kg=float(weights @ held),
            run_out_early=self._when(empty_h, weights, LEVELS[0]),
            run_out_middle=self._when(empty_h, weights, LEVELS[1]),
            lasts_share=float(weights[np.isinf(empty_h)].sum()),
            effective=effective(weights),
        )

    def _when(self, empty_h: Floats, weights: Floats, level: float) -> dt.datetime | None:
        order = np.argsort(empty_h)
        at = empty_h[order][np.searchsorted(np.cumsum(weights[order]), level).clip(0, len(order) - 1)]
        if not np.isfinite(at):
            return None
        time: dt.datetime = (self.edges[0] + pd.Timedelta(hours=float(np.floor(at)))).to_pydatetime()
        return time
