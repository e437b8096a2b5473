"""``budget run``."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from budget.cli.common import PATH, Asked, about_a_tour, as_json, print_json, say
from budget.cli.output import OutputFolder, write_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from budget.report.section import Extras, Section
    from budget.results.result import Result

DEFAULT_FOLDER = Path("budget-out")
REPORT, HOURLY, SUMMARY = "report.html", "hourly.csv", "summary.json"


@click.command("run", epilog="Example:  budget run my-tour.toml -o out --set weather.offset_k=-5")
@click.option(
    "-o",
    "--output",
    type=PATH,
    metavar="DIR",
    help=f"Folder for {REPORT} and {HOURLY}.  [default: {DEFAULT_FOLDER}; with --json: none]",
)
@click.option(
    "--odds",
    "scenarios",
    type=click.IntRange(0, 100_000),
    default=0,
    show_default=True,
    help="Winters and vans to draw for the report's odds; 0: none.",
)
@click.option("--seed", type=click.IntRange(0, 2**31 - 1), default=1, show_default=True, help="Seed of the odds.")
@about_a_tour
def command(asked: Asked, output: Path | None, scenarios: int, seed: int) -> None:
    """Simulate the tour file TOUR hour by hour (none: the built-in demo tour) and say what it needs.

    Prints one screen: bottles and kilograms of gas, burner hours, amp-hours, water, cold, damp and frost. Writes a
    report that opens in any browser without a network, and every hour as CSV.
    """
    folder = output or (None if asked.as_json else DEFAULT_FOLDER)
    loaded = asked.load()
    names = (REPORT, HOURLY, SUMMARY) if asked.as_json else (REPORT, HOURLY)
    with OutputFolder(folder, names) if folder is not None else contextlib.nullcontext() as out:
        result = asked.simulate(loaded)
        told = result.summary
        if asked.as_json:
            from budget.cli.report_parts import answers_of

            told = told | answers_of(result)
        if out is not None:
            from budget.cli.report_parts import parts

            extras, sections = parts(loaded, result, scenarios, seed, asked.weather)
            _write(out, result, told, extras, sections)
    if asked.as_json:
        print_json(told)
    else:
        from budget.cli.summary import draw

        draw(result.summary, verbose=asked.verbose)
    if folder is not None and not asked.quiet:
        say(f"wrote {folder / REPORT} and {folder / HOURLY}")


def _write(
    out: OutputFolder, result: Result, told: dict[str, Any], extras: Extras, sections: Sequence[Section]
) -> None:
    from budget.report.page import page
    from budget.results.result import hourly_csv

    out.write(REPORT, lambda place: write_text(place, page(result, extras, sections)))
    out.write(HOURLY, lambda place: write_text(place, hourly_csv(result)))
    if SUMMARY in out.names:
        out.write(SUMMARY, lambda place: write_text(place, as_json(told) + "\n"))
