"""Many winters times many vans: the scenarios of the odds, run in chunks, a few figures of each kept."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Executor, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, Protocol, Self

import numpy as np

from budget.answers.fed import used_when_fed_kg
from budget.answers.had import had, marched_with_power
from budget.answers.prepared import Prepared, factor_rows, weather_rows
from budget.answers.unknowns import Unknowns
from budget.engine import arrays as A
from budget.engine.batch import Many
from budget.errors import BudgetError, InputFault
from budget.weather.air import Floats
from budget.weather.winters import Winters

CHUNK = 50  # scenarios whose weather is held at once, whatever the number of workers
MOST_SCENARIOS = 200_000
BAND_STEP_H = 6  # the bands keep every sixth hour edge
NIGHT = (18, 14)  # first hour of a night and its length [h]


class InTurn(Executor):
    """An executor that does everything at once, here: for inside a worker, and for tests."""

    def map(self, fn: Callable[..., Any], *iterables: Iterable[Any], **_: Any) -> Iterator[Any]:
        """As the builtin map."""
        return map(fn, *iterables)


@dataclass(frozen=True, eq=False)
class Use:
    """What scenarios burn with gas to the end: in all [kg], and up to every sixth hour edge, with the charge then."""

    gas_kg: Floats
    used_band_kg: Floats
    charge_band_share: Floats

    @classmethod
    def joined(cls, parts: Sequence[Self]) -> Self:
        """One after the other."""
        return cls(*(np.concatenate([getattr(p, name) for p in parts]) for name in cls.__dataclass_fields__))


@dataclass(frozen=True, eq=False)
class Kept(Use):
    """What is kept of each scenario; hours count from the tour's start, NaN or -1 where there was none.

    ``gas_kg`` was burned with gas to the end; ``need_kg`` and the worst night count what would be burned with gas and
    charge to the end. Charge is that with gas to the end. ``lowest_inside_c`` and ``lowest_pipes_c`` are of the tour as
    it stands, with the bottles and the battery on board. ``lacked_h`` is the hour from which these bottles, with the
    tour's exchange places and with power, do not give what is needed, ``held_up`` (0 or 1) whether one held gas then.
    ``taken_h`` is the same of what a run says to take, ``taken_stands_h`` that of what is burned as it stands, the
    heater stopping with the battery. ``used_band_kg``, ``charge_band_share`` and ``left_band_kg`` (scenarios, edges) at
    every sixth hour edge, for the bands; what is left is of the bottles on board, with power.
    """

    need_kg: Floats
    lowest_charge_share: Floats
    lowest_charge_h: Floats
    cut_out_h: Floats
    cut_out_at_h: Floats
    lowest_inside_c: Floats
    lowest_pipes_c: Floats
    mean_outdoor_c: Floats
    mean_wind_m_per_s: Floats
    panel_wh: Floats
    night_kg: Floats
    night_h: Floats
    night_outdoor_c: Floats
    night_wind_m_per_s: Floats
    night_panel_wh: Floats
    night_charge_share: Floats
    left_band_kg: Floats
    lacked_h: Floats
    held_up: Floats
    taken_h: Floats
    taken_stands_h: Floats


class Shelf(Protocol):
    """Where finished blocks are kept; ``first`` is a block's first scenario."""

    def read(self, first: int) -> Kept | None:
        """The block, None where it is not kept."""

    def keep(self, first: int, block: Kept) -> None:
        """Keep a block."""


@dataclass(frozen=True, eq=False)
class Ensemble:
    """The scenarios of one question: what is sampled, and how a chunk of them is run. Picklable.

    ``taken`` is the tour with the bottles that a run says to take (None: those on board). ``winter`` is the number of
    the first scenario's winter; further scenarios of the same question go on from there.
    """

    prepared: Prepared
    winters: Winters | None
    samples: dict[str, Floats]
    count: int
    seed: int
    taken: Prepared | None = None
    winter: int = 0

    def chunk(self, first: int) -> Kept:
        """Run scenarios first to first + CHUNK - 1, their weather made and forgotten here."""
        factors, how = self._drawn(first)
        ready = self.prepared.with_gas_everywhere()
        many = ready.run_many(factors, **how)
        fed_kg = used_when_fed_kg(ready, many, factors, **how)
        stands = self.prepared.run_many(factors, **how)
        own = had(fed_kg, marched_with_power(self.prepared, stands, factors, **how))
        taken, taken_stands = own, had(many.trace[:, :, 4], stands)
        if self.taken is not None:
            more = self.taken.run_many(factors, **how)
            taken = had(fed_kg, marched_with_power(self.taken, more, factors, **how))
            taken_stands = had(many.trace[:, :, 4], more)
        rows = how["rows"][how["weather_of"]]
        edges = np.arange(0, self.prepared.hours_count + 1, BAND_STEP_H)
        charge, cut_out_s = many.trace[:, :, 1], many.trace[:, :, 5]
        return Kept(
            **_use(ready, many),
            need_kg=fed_kg[:, -1].copy(),
            lowest_charge_share=charge.min(axis=1),
            lowest_charge_h=charge.argmin(axis=1).astype(float),
            cut_out_h=cut_out_s[:, -1] / 3600.0,
            cut_out_at_h=np.where(cut_out_s[:, -1] > 0.0, (cut_out_s > 0.0).argmax(axis=1) - 1, -1).astype(float),
            lowest_inside_c=stands.trace[:, 1:, 2].min(axis=1),
            lowest_pipes_c=stands.trace[:, 1:, 3].min(axis=1),
            mean_outdoor_c=rows[:, :, A.TEMP_C].mean(axis=1),
            mean_wind_m_per_s=rows[:, :, A.WIND_M_PER_S].mean(axis=1),
            panel_wh=rows[:, :, A.PANEL_W].sum(axis=1),
            **_worst_night(self.prepared, np.diff(fed_kg, axis=1), rows, charge),
            left_band_kg=own.left_kg[:, edges].astype(np.float32),
            lacked_h=own.lacked_h,
            held_up=own.held_up.astype(float),
            taken_h=taken.lacked_h,
            taken_stands_h=taken_stands.lacked_h,
        )

    def use(self, first: int) -> Use:
        """Run the same scenarios for what they burn alone."""
        factors, how = self._drawn(first)
        ready = self.prepared.with_gas_everywhere()
        return Use(**_use(ready, ready.run_many(factors, **how)))

    def _drawn(self, first: int) -> tuple[Floats, dict[str, Any]]:
        """Factors of the scenarios from this one on, and their weather and executor as ``run_many`` takes them."""
        prepared = self.prepared
        last = min(first + CHUNK, self.count)
        factors = factor_rows({name: values[first:last] for name, values in self.samples.items()}, last - first)
        if self.winters is None:
            rows = prepared.rows[np.newaxis]
            weather_of = np.zeros(last - first, dtype=np.int64)
        else:
            values = self.winters.values(self.winter + first, last - first, self.seed)
            rows = weather_rows(values, prepared.timeline, prepared.van, self.winters.sun)
            weather_of = np.arange(last - first)
        return factors, {"rows": rows, "weather_of": weather_of, "executor": InTurn()}

    def run(
        self,
        executor: Executor | None = None,
        done: Callable[[int], object] | None = None,
        blocks: Shelf | None = None,
    ) -> Kept:
        """Run every scenario on any executor (None: one thread a core); the figures are the same on each.

        Blocks that ``blocks`` holds are taken from there, the others kept there as they come in. BudgetError when the
        executor lost a worker.
        """
        return Kept.joined(self._each(self.chunk, executor, done, blocks))

    def run_for_use(self, executor: Executor | None = None, done: Callable[[int], object] | None = None) -> Use:
        """The same for what every scenario burns alone."""
        return Use.joined(self._each(self.use, executor, done, None))

    def _each(
        self,
        work: Callable[[int], Any],
        executor: Executor | None,
        done: Callable[[int], object] | None,
        blocks: Shelf | None,
    ) -> list[Any]:
        if executor is None:
            with ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
                return self._gather(work, pool, done, blocks)
        return self._gather(work, executor, done, blocks)

    def _gather(
        self,
        work: Callable[[int], Any],
        executor: Executor,
        done: Callable[[int], object] | None,
        blocks: Shelf | None,
    ) -> list[Any]:
        starts = range(0, self.count, CHUNK)
        kept = {first: blocks.read(first) if blocks is not None else None for first in starts}
        waiting = executor.map(work, [first for first in starts if kept[first] is None])
        parts = []
        for first in starts:
            part = kept.pop(first)
            if part is None:
                try:
                    part = next(waiting)
                except BrokenExecutor:
                    raise BudgetError("a worker of the batch was ended from outside; run it again") from None
                if blocks is not None:
                    blocks.keep(first, part)
            parts.append(part)
            if done is not None:
                done(min(CHUNK, self.count - first))
        return parts


def ensemble(
    prepared: Prepared,
    count: int,
    seed: int,
    *,
    taken: Prepared | None = None,
    weather: bool = True,
    parameters: bool = True,
) -> Ensemble:
    """The scenarios of a prepared tour; ``taken`` is the same tour with the bottles that a run says to take."""
    if not 1 <= count <= MOST_SCENARIOS:
        raise InputFault(f"--scenarios must be from 1 to {MOST_SCENARIOS:,}, got {count:,}.")
    if seed < 0:
        raise InputFault(f"--seed must be a whole number from 0, got {seed}.")
    unknown = prepared.unknowns() if parameters else Unknowns({})
    winters = None
    if weather:
        winters = prepared.winters()
    samples = unknown.factors(unknown.scores(count, seed))
    return Ensemble(prepared, winters, samples, count, seed, taken)


def _use(ready: Prepared, many: Many) -> dict[str, Floats]:
    edges = np.arange(0, ready.hours_count + 1, BAND_STEP_H)
    return {
        "gas_kg": ready.gas_kg(many),
        "used_band_kg": many.trace[:, edges, 4].astype(np.float32),
        "charge_band_share": many.trace[:, edges, 1].astype(np.float32),
    }


def _worst_night(prepared: Prepared, used: Floats, rows: Floats, charge: Floats) -> dict[str, Floats]:
    """The night of 18:00 to 08:00 that takes most gas, and what came together in it; NaN where the tour has none."""
    hour = prepared.timeline.index.hour.to_numpy()
    first_hour, length = NIGHT
    starts = np.flatnonzero(hour == first_hour)
    starts = starts[starts + length <= used.shape[1]]
    if not starts.size:
        names = ("kg", "outdoor_c", "wind_m_per_s", "panel_wh", "charge_share")
        none = {f"night_{name}": np.full(len(used), np.nan) for name in names}
        return none | {"night_h": np.full(len(used), -1.0)}
    within = starts[:, np.newaxis] + np.arange(length)
    kg = used[:, within].sum(axis=2)
    worst = kg.argmax(axis=1)
    scenario = np.arange(len(used))
    hours = within[worst]
    day = np.maximum(starts[worst][:, np.newaxis] - np.arange(1, 25), 0)
    each = scenario[:, np.newaxis]
    return {
        "night_kg": kg[scenario, worst],
        "night_h": starts[worst].astype(float),
        "night_outdoor_c": rows[each, hours, A.TEMP_C].mean(axis=1),
        "night_wind_m_per_s": rows[each, hours, A.WIND_M_PER_S].mean(axis=1),
        "night_panel_wh": rows[each, day, A.PANEL_W].sum(axis=1),
        "night_charge_share": charge[each, hours + 1].min(axis=1),
    }
