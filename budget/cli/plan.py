"""``budget plan``."""

from __future__ import annotations

import click

from budget.cli.common import Asked, about_a_tour


@click.command("plan", epilog="Example:  budget plan my-tour.toml --at 2027-01-12T06:00")
@click.option(
    "--at",
    metavar="TIME",
    help="When to look at the bottles: local time.  [default: the coldest hour; while they serve]",
)
@about_a_tour
def command(asked: Asked, at: str | None) -> None:
    """The bottles of TOUR day by day: swaps, last chances, off-take, what the scale should read each morning."""
    prepared = asked.prepared()
    from budget.answers.bottle_now import NEARLY_EMPTY_KG
    from budget.answers.bottle_plan import answer
    from budget.cli.records import show_answer
    from budget.moments import moment
    from budget.results.need import WITH_POWER

    found = answer(prepared, at)
    case = f", {WITH_POWER}" if found.as_if_powered else ""
    tables = {
        f"Swaps{case}": [
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
        f"Last chances{case}": found.chances,
        f"The bottles on {moment(found.at)} at {found.place}{case}": [
            vars(each) | {"verdict": None}  # a sentence above the table
            for each in found.now
        ],
        f"What the scale should read{case}": [
            {"time": reading.time, "place": reading.place}
            | {
                f"bottle {number}\nkg": f"{scale_kg:.1f} empty" if kg <= NEARLY_EMPTY_KG else scale_kg
                for number, (scale_kg, kg) in enumerate(zip(reading.scale_kg, reading.contents_kg, strict=True), 1)
            }
            for reading in found.readings
        ],
        f"Cost by week{case}": found.money.weeks,
    }
    show_answer(asked, found, tables)
