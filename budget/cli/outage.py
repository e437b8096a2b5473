"""``budget outage``."""

from __future__ import annotations

import click

from budget.cli.common import Asked, about_a_tour


@click.command("outage", epilog="Example:  budget outage --at 2027-01-22T22:00")
@click.option(
    "--at",
    metavar="TIME",
    help="When the heater stops: local time of the tour.  [default: 22:00 before the coldest night]",
)
@click.option(
    "--cold",
    "cold_c",
    type=float,
    metavar="C",
    default=-20.0,
    show_default=True,
    help="Temperature of the cold night shown beside it [°C].",
)
@about_a_tour
def command(asked: Asked, at: str | None, cold_c: float) -> None:
    """If the heater of the van in TOUR stops at TIME: hours until 12, 5 and 0 °C, and what to drain first.

    For the night at hand and for a cold one, at the air of each zone, at pipes, boiler and tanks.
    """
    prepared = asked.prepared()
    from budget.answers.outage import answer
    from budget.answers.outage_words import told_part
    from budget.cli.records import show_answer
    from budget.moments import moment

    found = answer(prepared, at, cold_c=cold_c)
    tables = {
        f"Hours after {moment(found.at)} at {found.place}: {night.name}": [
            {"part": told_part(part.name, night), "at the stop\n°C": part.start_c, "lowest\n°C": part.lowest_c}
            | {
                f"h until\n{limit.replace('_c', ' °C').replace('_', ' ')}": hours
                for limit, hours in part.hours_until.items()
            }
            for part in night.parts
        ]
        for night in found.nights
    }
    show_answer(asked, found, tables)
