"""Speed, printed as ratios measured in one run: ``python tests/benchmark.py [--quick]``.

Not a test: seconds belong to the machine. Every comparison is made in the same build and with the same settings as the
accuracy tests (inner steps of at most 300 s, switches located); compilation is left out, output is included.
"""

from __future__ import annotations

import argparse
import os
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

from budget.answers.prepared import Prepared  # noqa: E402
from budget.engine.batch import base_factors, run_one  # noqa: E402
from budget.tour.reader import load  # noqa: E402

WORKERS = 2
IMPORTS = "import pandas, pvlib, plotly.graph_objects, numba"


def best_s(work: Callable[[], object], rounds: int) -> float:
    """Shortest of several rounds. [s]"""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def line(what: str, value: str) -> None:
    print(f"{what:<72} {value:>16}", flush=True)


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
        one_s = best_s(once, 5)
        exact = van.reference(replace(law))
        start = time.perf_counter()
        lsoda = van.reference(replace(law), method="LSODA", rtol=1e-6)
        lsoda_s = time.perf_counter() - start
        ours_k = np.max(np.abs(march.mean_c - exact.mean_c))
        theirs_k = np.max(np.abs(lsoda.mean_c - exact.mean_c))
        line(f"five nodes, {name}: LSODA (rtol 1e-6, restarted at switches) / ours", f"{lsoda_s / one_s:,.0f}")
        line(f"five nodes, {name}: worst hourly mean, ours and LSODA", f"{ours_k:.4f}, {theirs_k:.4f} K")


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
    line("peak memory of this process", f"{resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:,.0f} MB")


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
    line("processors of this machine", str(os.cpu_count()))
    five_nodes(chosen.quick)
    demo(chosen.quick)
    commands(chosen.quick, chosen.out)


if __name__ == "__main__":
    main()
