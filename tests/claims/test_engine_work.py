"""Claims about work done, counted and not timed: steps, factorisations, allocations, bytes kept a scenario."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tracemalloc
from collections.abc import Callable
from functools import cache

import pytest
from numba.core.runtime import _nrt_python, rtsys
from small_tour import small

from budget.answers.ensemble import CHUNK, InTurn, ensemble
from budget.engine.batch import TRACE, base_factors

HOURS = 12
# The engine as plain Python, which can be watched: calls of each function over half a day of the small tour.
COUNT = f"""
import collections, json, sys
from small_tour import small
half_a_day = small(1).between(0, {HOURS})
calls = collections.Counter()
def watch(frame, event, argument):
    if event == "call":
        calls[frame.f_code.co_name] += 1
sys.setprofile(watch)
many = half_a_day.run()
sys.setprofile(None)
print(json.dumps(dict(calls) | {{"accepted": many.steps}}))
"""


@cache
def calls() -> dict[str, int]:
    env = os.environ | {"NUMBA_DISABLE_JIT": "1"}
    env["PYTHONPATH"] = os.pathsep.join([env["PYTHONPATH"], *(path for path in sys.path if path.endswith("tests"))])
    done = subprocess.run([sys.executable, "-c", COUNT], env=env, capture_output=True, text=True, check=True)
    found: dict[str, int] = json.loads(done.stdout)
    return found


def test_an_hour_takes_at_most_18_inner_steps() -> None:
    """Twelve of at most 300 s, and what the thermostat's switching cuts; it was 14.6 when this was written."""
    assert 12.0 <= calls()["accepted"] / HOURS <= 18.0


def test_fewer_than_two_steps_are_tried_for_each_that_is_taken() -> None:
    """A step is tried again where the thermostat switches within it: 1.42 when this was written."""
    assert 1.0 <= calls()["try_step"] / calls()["accepted"] < 2.0


def test_a_step_is_factorised_at_most_once_and_solved_for_three_stages() -> None:
    """The stages of the method share one matrix, and a step that only ended elsewhere reuses it: 0.90 then."""
    assert calls()["prepare"] < calls()["try_step"]
    assert calls()["solve"] + calls().get("solve_block", 0) == 3 * calls()["try_step"]


def allocations(work: Callable[[], object]) -> int:
    """Allocations that compiled code makes; numba counts them where it is asked to."""
    work()  # compiles
    _nrt_python.memsys_enable_stats()
    try:
        before = rtsys.get_allocation_stats()
        work()
        after = rtsys.get_allocation_stats()
    finally:
        _nrt_python.memsys_disable_stats()
    assert after.alloc - before.alloc == after.free - before.free  # nothing is lost
    return int(after.alloc - before.alloc)


def test_the_march_allocates_nothing_by_the_hour_or_the_scenario() -> None:
    """A fixed number of small views at each call of the compiled march: 21 when this was written."""
    one, three = (allocations(small(nights).run) for nights in (1, 3))
    few, many = (allocations(lambda n=n: small(1).run_many(base_factors(n), executor=InTurn())) for n in (2, 25))
    assert one == three == few == many <= 40


def peak_b(work: Callable[[], object]) -> int:
    """Most memory that Python and numpy held at once."""
    work()
    tracemalloc.start()
    try:
        work()
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


def test_a_batch_holds_its_trace_and_totals_and_no_column_of_every_hour() -> None:
    """Eight bytes for each figure of the trace and each flow's total, a tenth more for what surrounds them."""
    prepared = small(3)
    few, many = (peak_b(lambda n=n: prepared.run_many(base_factors(n), executor=InTurn())) for n in (25, 75))
    held_b = 8 * ((prepared.hours_count + 1) * len(TRACE) + prepared.built.flows.width + len(base_factors()[0]))
    draws_b = prepared.run_many(base_factors(1), executor=InTurn()).drawn.nbytes
    assert (many - few) / 50 == pytest.approx(held_b + draws_b, rel=0.1)
    assert held_b < 0.2 * 8 * prepared.hours_count * prepared.built.flows.width


def test_the_odds_keep_their_figures_and_forget_the_hours() -> None:
    """A scenario leaves 16 numbers and a band's two figures at every sixth hour, under 1 kB for three nights; a chunk's
    weather and hours, 50 kB a scenario, come and go."""
    prepared = small(3)

    def run(count: int) -> Callable[[], object]:
        return lambda: ensemble(prepared, count, 1).run(InTurn())

    few, many = (peak_b(run(count)) for count in (CHUNK, 4 * CHUNK))
    assert (many - few) / (3 * CHUNK) < 1000.0
