"""``budget run``."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from budget.cli import also as also_
from budget.cli import options
from budget.cli.common import PATH, Asked, about_a_tour, as_json, print_json, say
from budget.cli.further import Further
from budget.cli.output import OutputFolder, write_text

if TYPE_CHECKING:
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
    "--also",
    type=click.Choice(also_.FORMATS),
    multiple=True,
    help=f"Write {also_.PARQUET}, {also_.CALENDAR} or images of figures too; may be repeated.",
)
@click.option(
    "--figure",
    "figures",
    type=click.Choice(also_.FIGURES),
    multiple=True,
    help="A figure for --also png or svg; may be repeated.  [default: gas]",
)
@click.option(
    "--odds",
    "scenarios",
    type=click.IntRange(0, 100_000),
    metavar="N",
    default=0,
    show_default=True,
    help="Winters and vans to draw, such as 200, for headline, bands, tonight and what to measure; 0: none.",
)
@options.seed("Seed of the odds.")
@about_a_tour
def command(
    asked: Asked, output: Path | None, also: tuple[str, ...], figures: tuple[str, ...], scenarios: int, seed: int
) -> None:
    """Simulate the tour file TOUR hour by hour (none: the built-in demo tour) and say what it needs.

    Prints one screen: bottles and kilograms of gas, burner hours, amp-hours, water, cold, damp and frost. Writes a
    report that opens in any browser without a network, and every hour as CSV.
    """
    folder = output or (None if asked.as_json else DEFAULT_FOLDER)
    also_.refuse_wrong_use(also, figures, folder)
    also_.refuse_what_is_missing(also)
    figures = figures or also_.FIGURES[:1]
    loaded = asked.load()
    names = (REPORT, HOURLY, *((SUMMARY,) if asked.as_json else ()), *also_.names_of(also, figures))
    with OutputFolder(folder, names) if folder is not None else contextlib.nullcontext() as out:
        result = asked.simulate(loaded)
        with asked.progress("winters", scenarios) as done:
            further = Further(loaded, result, asked.weather, scenarios, seed, done)
            odds = further.odds
        told = result.summary | further.as_dict() if asked.as_json else {}
        if out is not None:
            _write(out, result, further, told)
            also_.write(out, result, also, figures)
    if asked.as_json:
        print_json(told)
    else:
        from budget.cli.summary import draw

        draw(result, odds, verbose=asked.verbose)
    if folder is not None and not asked.quiet:
        listed = [str(folder / name) for name in names]
        say(f"wrote {', '.join(listed[:-1])} and {listed[-1]}")


def _write(out: OutputFolder, result: Result, further: Further, told: dict[str, Any]) -> None:
    from budget.cli.report_parts import parts
    from budget.report.page import page
    from budget.results.result import hourly_csv

    extras, sections = parts(further)
    out.write(REPORT, lambda place: write_text(place, page(result, extras, sections)))
    out.write(HOURLY, lambda place: write_text(place, hourly_csv(result)))
    if SUMMARY in out.names:
        out.write(SUMMARY, lambda place: write_text(place, as_json(told) + "\n"))
