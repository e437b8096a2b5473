"""``budget hookup``."""

from __future__ import annotations

import click

from budget.cli import options
from budget.cli.common import Asked, about_a_tour


@click.command("hookup", epilog="Example:  budget hookup --amps 6 --amps 10 --electricity 0.35")
@click.option(
    "--amps",
    type=float,
    metavar="A",
    multiple=True,
    help="Amps of a supply to judge [A]; may be repeated.  [default: 3, 6, 10, 16]",
)
@click.option("--volts", type=float, metavar="V", default=230.0, show_default=True, help="Voltage at the pitch [V].")
@options.OUTDOORS
@options.inside("inside_c", 20.0, "Temperature wished for inside [°C].")
@click.option(
    "--gas",
    "gas_per_kg",
    type=click.FloatRange(0.0, 1000.0),
    metavar="PRICE",
    help="Price of a kilogram of gas.  [default: the tour's]",
)
@click.option(
    "--electricity",
    "electricity_per_kwh",
    type=click.FloatRange(0.0, 1000.0),
    metavar="PRICE",
    help="Price of a kWh.  [default: the tour's]",
)
@about_a_tour
def command(
    asked: Asked,
    *,
    amps: tuple[float, ...],
    volts: float,
    outdoor_c: float,
    inside_c: float,
    gas_per_kg: float | None,
    electricity_per_kwh: float | None,
) -> None:
    """What a hook-up of so many amps gives the van in TOUR: heat, cold held, trips, and which energy is cheaper."""
    prepared = asked.prepared()
    from budget.answers.hookup import AMPS, answer
    from budget.answers.trips import spans
    from budget.cli.records import show_answer

    found = answer(
        prepared,
        amps=amps or AMPS,
        volts=volts,
        outdoor_c=outdoor_c,
        inside_c=inside_c,
        gas_per_kg=gas_per_kg,
        electricity_per_kwh=electricity_per_kwh,
    )
    tripping = [span for stay in found.stays for span in spans(stay.place, stay.trips)]
    supplies = f"Supplies, heat and cost of a day at {outdoor_c:g} °C outdoors"
    tables = {
        supplies: found.supplies,
        "The tour's hook-ups": found.stays,
        "Hours that would trip with nothing held back": tripping,
    }
    show_answer(asked, found, tables)
