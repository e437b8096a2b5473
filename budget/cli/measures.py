"""``budget measures``."""

from __future__ import annotations

import click

from budget.cli.common import Asked, about_a_tour
from budget.errors import InputFault


@click.command("measures", epilog="Example:  budget measures --cost 'outside screens=120'")
@click.option("--cost", "costs", multiple=True, metavar="NAME=MONEY", help="Price of a measure; may be repeated.")
@about_a_tour
def command(asked: Asked, costs: tuple[str, ...]) -> None:
    """What screens, curtain, thicker walls, set-back, shorter showers and more solar would each save on TOUR."""
    priced = dict(_cost(written) for written in costs)
    prepared = asked.prepared()
    from budget.answers.measures import MEASURES, answer
    from budget.cli.records import show_answer
    from budget.tour.faults import did_you_mean

    for name in priced:
        if name not in MEASURES:
            raise InputFault(f'--cost must name a measure, got "{name}"; {did_you_mean(name, MEASURES)}')
    found = answer(prepared, priced)
    show_answer(asked, found, {"Measures": found.measures})


def _cost(written: str) -> tuple[str, float]:
    name, _, money = written.rpartition("=")
    try:
        cost = float(money)
    except ValueError:
        cost = -1.0
    if not name or not 0.0 < cost < 1e9:
        raise InputFault(f'--cost must read NAME=MONEY, such as "outside screens=120", got "{written}"; correct it.')
    return name.strip(), cost
