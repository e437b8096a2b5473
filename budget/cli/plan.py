"""``budget plan``."""

from __future__ import annotations

import click

from budget.cli.common import Asked, about_a_tour


@click.command("plan", epilog="Example:  budget plan my-tour.toml --at 2027-01-12T06:00")
@click.option("--at", metavar="TIME", help="When to look at the bottles: local time.  [default: the coldest hour]")
@about_a_tour
def command(asked: Asked, at: str | None) -> None:
    """The bottles of TOUR day by day: swaps, last chances, off-take, what the scale should read each morning."""
    prepared = asked.prepared()
    from budget.answers.bottle_plan import answer
    from budget.cli.records import show_answer

    found = answer(prepared, at)
    tables = {
        "Swaps": [
            {
                "time": swap.time,
                "place": swap.place,
                "bottle": swap.bottle,
                "name": swap.name,
                "left_in_it_kg": swap.left_kg,
                "brought_kg": swap.added_kg,
                "needed": swap.needed,
            }
            for swap in found.swaps
        ],
        "Last chances": found.chances,
        f"The bottles on {found.at:%d %B %H:%M} at {found.place}": found.now,
        "What the scale should read": [
            {"time": reading.time, "place": reading.place}
            | {f"bottle {number}\nkg": kg for number, kg in enumerate(reading.scale_kg, 1)}
            for reading in found.readings
        ],
        "Cost by week": found.money.weeks,
    }
    show_answer(asked, found, tables)
