"""Many scenarios at once: compiled, on all cores, the same bits whatever the number of workers."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import Executor, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np

from budget.compiled import jit
from budget.engine import arrays as A
from budget.engine.layout import as_record
from budget.engine.march import march
from budget.engine.state import SCRATCH, STATE
from budget.engine.stepping import USUAL_ERROR_K, Floats, Ints
from budget.engine.van_arrays import BuiltVan
from budget.errors import BudgetError

FACTORS = A.FACTORS
TRACE = ("gas_kg", "charge_share", "sensor_c", "pipes_c", "used_kg", "cut_out_s")
CHUNK = 25


def base_factors(count: int = 1) -> Floats:
    """Scenario rows that leave the van as it is described: factors 1, shifts 0; shape (count, len(FACTORS))."""
    rows = np.ones((count, len(FACTORS)))
    rows[:, A.SETPOINT_K] = 0.0
    return rows


@jit
def march_some(first, last, van, hours, weather, weather_of, schedule_of, wishes, factors, burner, pattern, work, state,
               scratch, stocks_at, at, step_error_k, detail, stock_rows, flow_rows, totals, trace, drawn):  # fmt: skip
    """March scenarios first to last - 1; returns the inner steps, or -1 - s when scenario s got stuck."""
    steps = 0
    flow = np.zeros(at[0].width)
    stock = np.zeros(stocks_at[0].width)
    for s in range(first, last):
        done = march(
            van[0], hours[schedule_of[s]], weather[weather_of[s]], wishes, factors[s], burner[0], pattern[0], work[0],
            state[0], scratch[0], flow, stock, drawn[s], stocks_at[0], at[0], step_error_k, detail, stock_rows,
            flow_rows, totals[s], trace[s],
        )  # fmt: skip
        if done < 0:
            return -1 - s
        steps += done
    return steps


@dataclass(frozen=True, kw_only=True, eq=False)
class Many:
    """What came of many scenarios.

    ``totals`` (scenarios, flows); ``trace`` (scenarios, hours + 1, columns) as named in TRACE; ``drawn``
    (scenarios, draws) records. Of a single detailed run also ``stocks`` (hours + 1, stocks) and ``flows`` (hours,
    flows).
    """

    totals: Floats
    trace: Floats
    drawn: Any
    steps: int
    stocks: Floats | None = None
    flows: Floats | None = None


class _March:
    """The arrays of one call, and the march of a slice of its scenarios."""

    def __init__(
        self,
        built: BuiltVan,
        hours: Any,
        weather: Floats,
        wishes: Any,
        factors: Floats,
        weather_of: Ints | None,
        schedule_of: Ints | None,
        step_error_k: float,
        detail: bool,
    ) -> None:
        count = len(factors)
        hours = np.atleast_2d(hours)
        n = hours.shape[1]
        self.built, self.hours, self.wishes, self.step_error_k, self.detail = built, hours, wishes, step_error_k, detail
        self.weather = np.ascontiguousarray(weather, dtype=float)
        self.factors = np.ascontiguousarray(factors, dtype=float)
        self.weather_of = np.zeros(count, dtype=np.int64) if weather_of is None else weather_of.astype(np.int64)
        self.schedule_of = np.zeros(count, dtype=np.int64) if schedule_of is None else schedule_of.astype(np.int64)
        self.stocks = np.zeros((n + 1, built.stocks.width) if detail else (1, 1))
        self.flows = np.zeros((n, built.flows.width) if detail else (1, 1))
        self.totals = np.zeros((count, built.flows.width))
        self.trace = np.zeros((count, n + 1, len(TRACE)))
        self.drawn = np.zeros((count, len(wishes)), dtype=A.DRAWN).view(np.recarray)

    def run(self, first: int, last: int) -> int:
        """March scenarios first to last - 1 with scratch arrays of their own."""
        built = self.built
        steps = march_some(
            first, last, built.arrays, self.hours, self.weather, self.weather_of, self.schedule_of, self.wishes,
            self.factors, built.burner.copy(), built.pattern, A.record(A.WORK), A.record(STATE), A.record(SCRATCH),
            as_record(built.stocks), as_record(built.flows), self.step_error_k, self.detail, self.stocks, self.flows,
            self.totals, self.trace, self.drawn,
        )  # fmt: skip
        if steps < 0:
            raise BudgetError(f"the inner solver did not advance in scenario {-1 - steps}; this is an internal fault")
        return int(steps)


def run_one(
    built: BuiltVan,
    hours: Any,
    weather: Floats,
    wishes: Any,
    *,
    factors: Floats | None = None,
    step_error_k: float = USUAL_ERROR_K,
) -> Many:
    """March one scenario and keep every column. ``weather`` has shape (hours, columns)."""
    rows = base_factors() if factors is None else np.atleast_2d(factors)
    job = _March(built, hours, weather[np.newaxis], wishes, rows, None, None, step_error_k, True)
    steps = job.run(0, 1)
    return Many(totals=job.totals, trace=job.trace, drawn=job.drawn, steps=steps, stocks=job.stocks, flows=job.flows)


def run_many(
    built: BuiltVan,
    hours: Any,
    weather: Floats,
    wishes: Any,
    *,
    factors: Floats,
    weather_of: Ints | None = None,
    schedule_of: Ints | None = None,
    step_error_k: float = USUAL_ERROR_K,
    executor: Executor | None = None,
    done: Callable[[int], object] | None = None,
) -> Many:
    """March many scenarios.

    Parameters
    ----------
    hours : Hour records, shape (hours,) or (schedules, hours).
    weather : Weather records, shape (records, hours, columns).
    factors : One row a scenario, columns as ``FACTORS``.
    weather_of, schedule_of : Which record and which schedule each scenario uses; none: the first.
    executor : A thread executor (the march releases the interpreter lock); none: one thread a core.
    done : Called with the number of scenarios finished, after each chunk.
    """
    count = len(factors)
    job = _March(built, hours, weather, wishes, factors, weather_of, schedule_of, step_error_k, False)

    def chunk(first: int) -> int:
        last = min(first + CHUNK, count)
        steps = job.run(first, last)
        if done is not None:
            done(last - first)
        return steps

    starts = range(0, count, CHUNK)
    if executor is not None:
        steps = sum(executor.map(chunk, starts))
    else:
        with ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
            steps = sum(pool.map(chunk, starts))
    return Many(totals=job.totals, trace=job.trace, drawn=job.drawn, steps=steps)
