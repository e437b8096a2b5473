"""``budget ducts``."""

from __future__ import annotations

import click

from budget.cli import options
from budget.cli.common import Asked, about_a_tour


@click.command("ducts", epilog="Example:  budget ducts --outdoor -10")
@options.OUTDOORS
@options.inside("inside_c", 20.0, "Temperature at the room sensor [°C].")
@options.altitude(-400.0, 5000.0)
@click.option(
    "--return",
    "return_cm2",
    type=click.FloatRange(1.0, 10_000.0),
    metavar="CM2",
    help="Free area that leads air back to the heater [cm²].",
)
@about_a_tour
def command(
    asked: Asked, outdoor_c: float, inside_c: float, return_cm2: float | None, altitude_m: float | None
) -> None:
    """What each warm-air outlet of the van in TOUR gets at each stage, and what balancing would do.

    Flow (counted at 20 °C), velocity (of the air as warm as it comes out), pressure and watts at each outlet at full
    output; what closing or throttling one changes; what a narrow return path costs.
    """
    loaded = asked.load()
    asked.prepare_engine()
    from budget.answers.ducts import answer
    from budget.cli.records import show_answer

    high_m = options.highest_m(loaded.tour, altitude_m)
    found = answer(loaded.van, outdoor_c=outdoor_c, inside_c=inside_c, return_cm2=return_cm2, altitude_m=high_m)
    tables = {
        "Stages; flow counted at 20 °C, warm as it leaves the heater": found.stages,
        "Outlets at full output; flow counted at 20 °C, velocity as warm as it comes out": found.stages[-1].outlets,
        "Balancing, at full output; flow counted at 20 °C": found.balancing,
        "Return path, at full output; flow counted at 20 °C": found.return_path,
    }
    show_answer(asked, found, tables)
