"""``budget ducts``."""

from __future__ import annotations

import click

from budget.cli.common import Asked, about_a_tour


@click.command("ducts", epilog="Example:  budget ducts --outdoor -10")
@click.option(
    "--outdoor", "outdoor_c", type=click.FloatRange(-60.0, 50.0), default=-5.0, show_default=True, help="Outdoors [°C]."
)
@click.option(
    "--inside",
    "inside_c",
    type=click.FloatRange(-30.0, 40.0),
    default=20.0,
    show_default=True,
    help="At the sensor [°C].",
)
@click.option(
    "--return",
    "return_cm2",
    type=click.FloatRange(1.0, 10_000.0),
    metavar="CM2",
    help="Free area that leads air back to the heater.",
)
@about_a_tour
def command(asked: Asked, outdoor_c: float, inside_c: float, return_cm2: float | None) -> None:
    """What each warm-air outlet of the van in TOUR gets at each stage, and what balancing would do.

    Flow, velocity, pressure and watts at each outlet at full output; what closing or throttling one changes; what a
    narrow return path costs.
    """
    loaded = asked.load()
    asked.prepare_engine()
    from budget.answers.ducts import answer
    from budget.cli.records import show_answer

    found = answer(loaded.van, outdoor_c=outdoor_c, inside_c=inside_c, return_cm2=return_cm2)
    tables = {
        "Stages": found.stages,
        "Outlets at full output": found.stages[-1].outlets,
        "Balancing, at full output": found.balancing,
        "Return path, at full output": found.return_path,
    }
    show_answer(asked, found, tables)
