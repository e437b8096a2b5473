"""``budget weigh``."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import click

from budget.cli import options
from budget.cli.common import PERCENT, Asked, about_a_tour, say
from budget.cli.output import write_file, write_text

if TYPE_CHECKING:
    from budget.answers.measured.weigh import Used

BETWEEN = "Between weighings: predicted before any reading (P10, P50, P90), and by the scale [kg]"


@click.command(
    "weigh", epilog='Example:  budget weigh my-tour.toml --at 2027-01-10T08:00 --bottle "11 kg exchange 1" --kg 21.0'
)
@click.option("--at", metavar="TIME", help="When it was read: local time of the tour. None: the logbook as it is.")
@click.option("--bottle", metavar="NAME", help="Which bottle, as the van names it; alike ones are numbered from 1.")
@click.option("--kg", "gross_kg", type=float, metavar="KG", help="Gross weight, bottle and gas [kg].")
@click.option("--swapped", is_flag=True, help="The bottle was exchanged or filled since its last reading.")
@click.option(
    "--charge", "charge_percent", type=PERCENT, metavar="PCT", help="State of charge of the leisure battery [%]."
)
@options.draws(
    10, 1000, help_text="Winters and vans to draw at first; more are drawn near the readings, until 200 count."
)
@about_a_tour
def command(
    asked: Asked,
    at: str | None,
    bottle: str | None,
    gross_kg: float | None,
    swapped: bool,
    charge_percent: float | None,
    scenarios: int,
) -> None:
    """Weigh a bottle on the way and see what it says of the rest of TOUR: kg a day, and when the gas is gone.

    Each reading is kept in a logbook beside the tour file; the same reading given twice counts once. All must lie
    within the tour: for another one move the logbook away.
    """
    if (bottle is None) != (gross_kg is None):
        raise click.UsageError("--bottle and --kg go together")
    if at is None and (bottle is not None or charge_percent is not None):
        raise click.UsageError("--at TIME is needed with a reading")
    if at is not None and bottle is None and charge_percent is None:
        raise click.UsageError("--at needs a reading: --bottle NAME --kg GROSS, or --charge PERCENT")
    if asked.tour is None:
        raise click.UsageError("name a tour file: the logbook stands beside it")
    prepared = asked.prepared()
    from budget.answers.measured.logbook import Entry, check, logbook_file, read_logbook, read_time, with_entry, written
    from budget.answers.measured.weigh import answer
    from budget.cli.records import show_answer

    book = logbook_file(asked.tour)
    before = entries = read_logbook(book, prepared.timeline)
    if at is not None:
        when = read_time(at, prepared.timeline)
        if bottle is not None and gross_kg is not None:
            entries = with_entry(entries, Entry(when, bottle=bottle, gross_kg=gross_kg, is_swapped=swapped))
        if charge_percent is not None:
            entries = with_entry(entries, Entry(when, charge_percent=charge_percent))
    check(entries, prepared.van.gas.bottles)
    with asked.progress("winters", scenarios) as done:
        found = answer(prepared, entries, scenarios=scenarios, done=done)
    if entries != before:
        write_file(book, lambda beside: write_text(beside, written(entries)))
        if not asked.quiet:
            say(f"wrote {book}")
    tables = {
        "Before, and after each reading: gas a day until the end [kg]": [
            {
                "at": f"{step.at:%Y-%m-%d %H:%M}",
                "reading": step.reading,
                "before: P10": step.was_p10_kg_per_day,
                "P90": step.was_p90_kg_per_day,
                "after: P10": step.p10_kg_per_day,
                "P50": step.p50_kg_per_day,
                "P90 ": step.p90_kg_per_day,
                "left_kg": step.left_kg,
                "lasts_share": step.lasts_share,
                "agreeing": step.effective,
            }
            for step in found.steps
        ],
        BETWEEN: between_weighings(found.used),
    }
    show_answer(asked, found, tables)


def between_weighings(used: Iterable[Used]) -> list[dict[str, object]]:
    """What each bottle gave between two weighings, as rows that fit a narrow terminal."""
    return [
        {
            "bottle": one.bottle,
            "since": one.since,
            "until": one.until,
            "P10": one.predicted_p10_kg,
            "P50": one.predicted_p50_kg,
            "P90": one.predicted_p90_kg,
            "scale": one.weighed_kg,
        }
        for one in used
    ]
