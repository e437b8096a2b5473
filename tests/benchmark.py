"""Speed, printed as ratios measured in one run: ``python tests/benchmark.py [--quick]``.

Not a test: seconds belong to the machine. Every comparison is made in the same build and with the same settings as the
accuracy tests (inner steps of at most 300 s, switches located); compilation is left out, output is included. Last comes
a table for DEVELOPERS.md with the date, the kind of machine and the versions above it.
"""

from __future__ import annotations

import argparse
import os
import platform
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "published")]

import test_accuracy_van_network as van  # noqa: E402

from budget.answers import odds  # noqa: E402
from budget.answers.ensemble import InTurn  # noqa: E402
from budget.answers.prepared import Prepared  # noqa: E402
from budget.engine import batch  # noqa: E402
from budget.engine.batch import base_factors, run_one  # noqa: E402
from budget.results.provenance import versions  # noqa: E402
from budget.tour.reader import load  # noqa: E402

WORKERS = 2
USUAL = 1e-6  # the tolerance that LSODA is commonly given
TOLERANCES = (1e-1, 1e-2, 1e-3, 1e-4, 1e-5, USUAL, 1e-7, 1e-8)
IMPORTS = "import pandas, pvlib, plotly.graph_objects, numba"


def best_s(work: Callable[[], object], rounds: int, clock: Callable[[], float] = time.perf_counter) -> float:
    """Shortest of several rounds; by ``time.process_time``, what else the machine does is left out. [s]"""
    times = []
    for _ in range(rounds):
        start = clock()
        work()
        times.append(clock() - start)
    return min(times)


LINES: list[tuple[str, str]] = []


def line(what: str, value: str) -> None:
    LINES.append((what, value))
    print(f"{what:<84} {value:>20}", flush=True)


def machine() -> str:
    """The kind of machine, without its maker."""
    memory_gb = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 1e9
    return f"{platform.system()}, {platform.machine()}, {os.cpu_count()} processors, {memory_gb:.0f} GB"


def as_table() -> str:
    """What was printed, to be pasted into DEVELOPERS.md."""
    made_with = ", ".join(f"{name} {number}" for name, number in versions().items())
    head = f"{time.strftime('%Y-%m-%d')}; {machine()}; {made_with}:"
    rows = [f"| {what} | {value} |" for what, value in LINES]
    return "\n".join(["", head, "", "| measured | value |", "|---|---|", *rows])


def five_nodes(quick: bool) -> None:
    """Five-node network: two threads, and against scipy's LSODA."""
    smooth = van.Law(outputs_w=(0.0, 4000.0), modulating=True)
    bursts = van.CYCLING["one stage with minimum times"]
    scenarios = 200 if quick else 1000
    for name, law in (("modulating", smooth), ("on and off", bursts)):
        heater = van.furnace(replace(law))
        march = van.ours(heater)  # compiles
        arguments = van.inputs(heater)
        network = van.network()

        def once(_: int = 0, network: van.Network = network, arguments: van.Inputs = arguments) -> van.March:
            return network.march(**arguments)

        with ThreadPoolExecutor(WORKERS) as pool:
            cpu = time.process_time()
            batch_s = best_s(lambda pool=pool, once=once: list(pool.map(once, range(scenarios))), 2)
            cpu_s = (time.process_time() - cpu) / 2.0
        line(f"five nodes, {name}: inner steps an hour", f"{march.steps / van.HOURS:.1f}")
        hours = scenarios * van.HOURS
        line(f"five nodes, {name}: scenario-hours a second, {WORKERS} threads", f"{hours / batch_s:,.0f}")
        line(f"five nodes, {name}: scenario-hours a processor-second", f"{hours / cpu_s:,.0f}")
        against_lsoda(name, law, march, best_s(once, 5, time.process_time))


def against_lsoda(name: str, law: van.Law, march: van.March, one_s: float) -> None:
    """LSODA with a plain numpy right-hand side, restarted at switches, at the loosest tolerance that errs no more.

    Both errors are of hourly means, against DOP853 to a relative 1e-9; the median hour too, since where bursts drift
    the worst hour is a matter of chance.
    """
    exact = van.reference(replace(law), rtol=1e-9)

    def error_k(mean_c: np.ndarray) -> tuple[float, float]:
        worst_k = np.max(np.abs(mean_c - exact.mean_c), axis=1)
        return float(np.median(worst_k)), float(worst_k.max())

    ours_k = error_k(march.mean_c)
    line(f"five nodes, {name}: error of hourly means, ours, median and worst", f"{ours_k[0]:.1e}, {ours_k[1]:.1e} K")
    for rtol in TOLERANCES:
        start = time.process_time()
        lsoda = van.reference(replace(law), method="LSODA", rtol=rtol)
        lsoda_s = time.process_time() - start
        theirs_k = error_k(lsoda.mean_c)
        matched = theirs_k[0] <= ours_k[0] and theirs_k[1] <= ours_k[1]
        if matched or rtol == USUAL:
            kind = "equal error" if matched else "the usual tolerance"
            line(
                f"five nodes, {name}: LSODA at rtol {rtol:.0e} ({kind}), its errors",
                f"{theirs_k[0]:.1e}, {theirs_k[1]:.1e} K",
            )
            line(f"five nodes, {name}: LSODA at rtol {rtol:.0e} / ours, time of a week", f"{lsoda_s / one_s:,.0f}")
        if matched and rtol <= USUAL:
            return


def demo(quick: bool) -> None:
    """The demo tour with everything, in a batch."""
    prepared = Prepared.from_loaded(load(None))
    prepared.run()  # compiles
    scenarios = 100 if quick else 1000
    factors = base_factors(scenarios)
    factors[:, :2] = np.random.default_rng(1).uniform(0.8, 1.2, (scenarios, 2))
    hours = scenarios * prepared.hours_count
    with ThreadPoolExecutor(WORKERS) as pool:
        prepared.run_many(factors[:50], executor=pool)  # compiles
        start, cpu = time.perf_counter(), time.process_time()
        many = prepared.run_many(factors, executor=pool)
        batch_s, cpu_s = time.perf_counter() - start, time.process_time() - cpu
    line("demo: hours of the tour, scenarios in the batch", f"{prepared.hours_count}, {scenarios}")
    line("demo: inner steps an hour", f"{many.steps / hours:.1f}")
    line(f"demo: scenario-hours a second, {WORKERS} threads", f"{hours / batch_s:,.0f}")
    line("demo: scenario-hours a processor-second (other work on the machine left out)", f"{hours / cpu_s:,.0f}")
    singly = 20 if quick else 100

    def one_by_one() -> None:
        for row in factors[:singly]:
            run_one(prepared.built, prepared.hours, prepared.rows, prepared.wishes, factors=row)

    single_s = best_s(one_by_one, 1) / singly
    line("demo: one by one (each hour kept) / batch, a scenario", f"{single_s / (batch_s / scenarios):.2f}")
    whole_s = best_s(lambda: Prepared.from_loaded(load(None)).run(), 2)
    line("demo: share of a first answer outside the march", f"{1.0 - single_s / whole_s:.2f}")
    many_winters(prepared, scenarios)


def many_winters(prepared: Prepared, scenarios: int) -> None:
    """The odds of the demo tour: weather drawn, marched, figures kept; on one thread, so that shares can be told."""
    in_march_s = 0.0
    march_some = batch.march_some

    def timed(*arguments: object) -> int:
        nonlocal in_march_s
        start = time.process_time()
        steps: int = march_some(*arguments)
        in_march_s += time.process_time() - start
        return steps

    odds.answer(prepared, scenarios=50, executor=InTurn())  # compiles
    before_mb = peak_mb()
    batch.march_some = timed
    try:
        start, cpu = time.perf_counter(), time.process_time()
        odds.answer(prepared, scenarios=scenarios, executor=InTurn())
        alone_s, alone_cpu_s = time.perf_counter() - start, time.process_time() - cpu
    finally:
        batch.march_some = march_some
    line(
        f"odds of the demo tour, {scenarios} scenarios: share of the time outside the march",
        f"{1.0 - in_march_s / alone_cpu_s:.2f}",
    )
    start = time.perf_counter()
    odds.answer(prepared, scenarios=scenarios)
    line("odds: one thread / one thread a core", f"{alone_s / (time.perf_counter() - start):.2f}")
    line(
        "odds: peak memory of this process, and what the odds added to it",
        f"{peak_mb():,.0f}, {peak_mb() - before_mb:,.0f} MB",
    )


def peak_mb() -> float:
    """Most memory that this process has held. [MB]"""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def process_s(arguments: list[str], rounds: int) -> float:
    """Wall time of a fresh interpreter. [s]"""
    environment = os.environ | {"PYTHONPATH": str(ROOT)}

    def work() -> None:
        subprocess.run([sys.executable, *arguments], check=True, capture_output=True, env=environment, cwd=ROOT)

    return best_s(work, rounds)


def commands(quick: bool, folder: Path) -> None:
    """The commands against the imports that they cannot do without."""
    rounds = 2 if quick else 5
    process_s(["-m", "budget", "run", "-o", str(folder)], 1)
    run_s = process_s(["-m", "budget", "run", "-o", str(folder)], rounds)
    imports_s = process_s(["-c", IMPORTS], rounds)
    line(f"budget run (demo) / python -c '{IMPORTS}'", f"{run_s / imports_s:.2f}")
    help_s, click_s = process_s(["-m", "budget", "--help"], rounds), process_s(["-c", "import click"], rounds)
    line("budget --help / python -c 'import click'", f"{help_s / click_s:.2f}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="fewer scenarios and rounds")
    parser.add_argument("--out", type=Path, default=Path("budget-out"), help="folder for the demo's report")
    chosen = parser.parse_args()
    five_nodes(chosen.quick)
    demo(chosen.quick)
    commands(chosen.quick, chosen.out)
    print(as_table())


if __name__ == "__main__":
    main()
