"""``budget battery``."""

from __future__ import annotations

import click

from budget.cli.common import Asked, about_a_tour


@click.command("battery", epilog="Example:  budget battery --at 2027-01-14T18:00")
@click.option("--at", metavar="TIME", help="The evening to judge: local time.  [default: every one off the grid]")
@about_a_tour
def command(asked: Asked, at: str | None) -> None:
    """How long the charge lasts in TOUR without sun, how long to drive to reach tomorrow, amp-hours by day."""
    prepared = asked.prepared()
    from budget.answers.battery import answer
    from budget.cli.records import show_answer

    found = answer(prepared, at)
    show_answer(asked, found, {"Evenings off the grid": found.stands, "Amp-hours by day": found.days})
