"""The winters and vans of the odds as worlds that readings on the way can narrow."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from budget.answers.ensemble import BAND_STEP_H, Ensemble, ensemble
from budget.answers.measured.logbook import SCALE_KG, Entry, bottle_names
from budget.answers.prepared import Prepared
from budget.answers.unknowns import Unknowns
from budget.weather.air import Floats

USE_MISFIT_SHARE = 0.05  # of what was drawn between two weighings: habits that differ from the plan; a choice
CHARGE_SHARE = 0.05  # of a battery monitor's state of charge, standard deviation; common practice, no source


@dataclass(frozen=True)
class Interval:
    """From one weighing of a bottle (or the start) to the next, and what it lost meanwhile. [kg]"""

    bottle: str
    since: dt.datetime
    until: dt.datetime
    weighed_kg: float


@dataclass(frozen=True, eq=False)
class Drawn:
    """What came of the draws, one row each: gas used at the bands' edges, what each bottle held before any reading and
    after each (by reading), what was given between weighings, and the weather until the last reading.
    """

    used_kg: Floats
    left_kg: tuple[Floats, ...]
    given_kg: Floats
    outdoor_c: Floats
    wind_m_per_s: Floats

    @classmethod
    def joined(cls, parts: list[Drawn]) -> Drawn:
        """One after the other."""
        whole = {
            name: np.concatenate([getattr(part, name) for part in parts])
            for name in cls.__dataclass_fields__
            if name != "left_kg"
        }
        left = tuple(np.concatenate(step) for step in zip(*(part.left_kg for part in parts), strict=True))
        return cls(left_kg=left, **whole)


@dataclass(eq=False)
class Road:
    """A tour's worlds and the readings on its way; ``telling`` are those that say something of the use.

    Scores are those of what is not known of the van; winters come by their number, which no proposal chooses.
    """

    prepared: Prepared
    unknown: Unknowns
    job: Ensemble
    entries: tuple[Entry, ...]
    bands_h: Floats
    executor: Executor | None
    done: Callable[[int], object] | None
    telling: tuple[Entry, ...] = ()
    observed: Floats = field(default_factory=lambda: np.zeros(0))
    spread: Floats = field(default_factory=lambda: np.zeros(0))
    intervals: tuple[Interval, ...] = ()
    parts: list[Drawn] = field(default_factory=list)
    weather: dict[int, Floats] = field(default_factory=dict)

    @classmethod
    def of(
        cls,
        prepared: Prepared,
        entries: tuple[Entry, ...],
        scenarios: int,
        seed: int,
        executor: Executor | None,
        done: Callable[[int], object] | None,
    ) -> Road:
        """With readings that were checked."""
        job = ensemble(prepared, scenarios, seed)
        bands_h: Floats = np.arange(0, prepared.hours_count + 1, BAND_STEP_H, dtype=float)
        if bands_h[-1] < prepared.hours_count:
            bands_h = np.append(bands_h, float(prepared.hours_count))
        road = cls(prepared, prepared.unknowns(), job, entries, bands_h, executor, done)
        road._note()
        return road

    @property
    def drawn(self) -> Drawn:
        """What came of all draws so far."""
        return Drawn.joined(self.parts)

    def hour(self, at: dt.datetime) -> float:
        """Hours since the tour's start."""
        return float((pd.Timestamp(at) - self.prepared.timeline.edges[0]) / pd.Timedelta(hours=1))

    def tare_kg(self, bottle: str) -> float:
        """Of a bottle by its name."""
        bottles = self.prepared.van.gas.bottles
        return float(bottles[bottle_names(bottles).index(bottle)].tare_kg)

    def _note(self) -> None:
        """What the readings say, and how exactly."""
        names = bottle_names(self.prepared.van.gas.bottles)
        start = self.prepared.timeline.edges[0].to_pydatetime()
        last = {name: (start, kg, 0.0) for name, kg in zip(names, self.prepared.start_kg().tolist(), strict=True)}
        telling, observed, spread, intervals = [], [], [], []
        for entry in self.entries:
            if not entry.bottle:
                telling.append(entry)
                observed.append(entry.charge_percent / 100.0)
                spread.append(CHARGE_SHARE)
                continue
            held = max(entry.gross_kg - self.tare_kg(entry.bottle), 0.0)
            since, before, variance = last[entry.bottle]
            if not entry.is_swapped:
                variance += (USE_MISFIT_SHARE * max(before - held, 0.0)) ** 2
                telling.append(entry)
                observed.append(held)
                spread.append(float(np.sqrt(SCALE_KG**2 + variance)))
                intervals.append(Interval(entry.bottle, since, entry.at, before - held))
                last[entry.bottle] = entry.at, held, variance * SCALE_KG**2 / (variance + SCALE_KG**2)
            else:
                last[entry.bottle] = entry.at, held, SCALE_KG**2
        self.telling, self.intervals = tuple(telling), tuple(intervals)
        self.observed, self.spread = np.array(observed), np.array(spread)

    @property
    def _hours(self) -> list[int]:
        """The readings' hours, each once, the first no earlier than the first hour's end."""
        return sorted({min(max(round(self.hour(entry.at)), 1), self.prepared.hours_count) for entry in self.entries})

    def features(self, first: int, count: int) -> Floats:
        """Outdoors between readings, wind and sun until the last, as means: what drives the use. [°C, m/s, W/m²]"""
        if first not in self.weather:
            winters, hours = self.job.winters, self._hours
            if winters is None:
                raise AssertionError("a road has winters")
            values = winters.values(first, count, self.job.seed)
            spans = zip([0, *hours[:-1]], hours, strict=True)
            columns = [values["temp_air"][:, begin:end].mean(axis=1) for begin, end in spans]
            columns += [values[name][:, : hours[-1]].mean(axis=1) for name in ("wind_speed", "ghi")]
            self.weather[first] = np.column_stack(columns)
        return self.weather[first]

    def run(self, scores: Floats, first: int) -> tuple[Floats, Floats]:
        """What each reading would have shown, and its log-likelihood.

        A bottle's content is tracked with its variance: use that differs from the plan adds to it, a weighing corrects
        it by its share (Kalman 1960). So a scale's error at one weighing is not taken for use at the next.
        """
        count = len(scores)
        job = replace(self.job, samples=self.unknown.factors(scores), count=count, winter=first)
        kept = job.run_for_use(self.executor, self.done)
        used = np.asarray(kept.used_band_kg, dtype=float)
        if used.shape[1] < len(self.bands_h):
            used = np.column_stack([used, kept.gas_kg])
        charge = np.asarray(kept.charge_band_share, dtype=float)
        names, is_parallel = bottle_names(self.prepared.van.gas.bottles), self._is_parallel
        left = np.tile(self.prepared.start_kg(), (count, 1))
        variance, fed = np.zeros_like(left), np.zeros_like(left)  # of what a bottle holds; given since it was weighed
        steps, predicted, likelihood, given = [left], [], [], []
        before: Floats = np.zeros(count)
        for entry in self.entries:
            at_h = self.hour(entry.at)
            now = np.array([np.interp(at_h, self.bands_h, row) for row in used])
            drawn = draw(left, now - before, is_parallel)
            fed, left, before = fed + left - drawn, drawn, now
            if entry.bottle:
                k = names.index(entry.bottle)
                held = max(entry.gross_kg - self.tare_kg(entry.bottle), 0.0)
                if entry.is_swapped:
                    corrected, left_open = np.full(count, held), np.full(count, SCALE_KG**2)
                else:
                    expected, known = left[:, k], variance[:, k] + (USE_MISFIT_SHARE * fed[:, k]) ** 2
                    total = known + SCALE_KG**2
                    predicted.append(expected)
                    given.append(fed[:, k])
                    likelihood.append(-0.5 * (held - expected) ** 2 / total - 0.5 * np.log(total))
                    corrected = expected + known / total * (held - expected)
                    left_open = known * SCALE_KG**2 / total
                left, variance, fed = left.copy(), variance.copy(), fed.copy()
                left[:, k], variance[:, k], fed[:, k] = np.maximum(corrected, 0.0), left_open, 0.0
            else:
                stood = np.array([np.interp(at_h, self.bands_h[: charge.shape[1]], row) for row in charge])
                predicted.append(stood)
                likelihood.append(-0.5 * ((entry.charge_percent / 100.0 - stood) / CHARGE_SHARE) ** 2)
            steps.append(left)
        weather, spans = self.features(first, count), np.diff([0, *self._hours])
        outdoor, wind = weather[:, : len(spans)] @ spans / spans.sum(), weather[:, -2]
        self.parts.append(Drawn(used, tuple(steps), _columns(given, count), outdoor, wind))
        return _columns(predicted, count), _columns(likelihood, count)

    @property
    def _is_parallel(self) -> bool:
        return self.prepared.van.gas.changeover == "parallel"


def _columns(listed: list[Floats], count: int) -> Floats:
    return np.column_stack(listed) if listed else np.zeros((count, 0))


def draw(left: Floats, need: Floats, is_parallel: bool) -> Floats:
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
