"""``budget record``."""

from __future__ import annotations

import click

from budget.cli import options
from budget.cli.common import Asked, about_a_tour
from budget.cli.weigh import BETWEEN, between_weighings


@click.command("record", epilog="Example:  budget record my-tour.toml")
@options.draws(10, 1000)
@about_a_tour
def command(asked: Asked, scenarios: int) -> None:
    """After TOUR: what was predicted against what the logbook weighed, by cause, on one page."""
    if asked.tour is None:
        raise click.UsageError("name a tour file: its logbook stands beside it")
    prepared = asked.prepared()
    from budget.answers.measured.logbook import logbook_file, read_logbook
    from budget.answers.measured.record import answer
    from budget.cli.records import show_answer

    found = answer(prepared, read_logbook(logbook_file(asked.tour), prepared.timeline), scenarios=scenarios)
    tables = {
        BETWEEN: between_weighings(found.used),
        "Likeliest causes of the difference": found.causes,
    }
    show_answer(asked, found, tables)
