"""``budget best-schedule``."""

from __future__ import annotations

import click

from budget.cli import options
from budget.cli.common import Asked, about_a_tour


@click.command("best-schedule", epilog="Example:  budget best-schedule --asleep 12 --warm 19 --warm-at 07:30 --pipes 5")
@options.number(
    "--asleep", "asleep", (0.0, 30.0), 14.0, "C", "Lowest room temperature while somebody sleeps, within 0.5 K [°C]."
)
@options.warm(19.0)
@options.WARM_AT
@options.number("--pipes", "pipes", (-20.0, 15.0), 5.0, "C", "Lowest temperature that the pipes may reach [°C].")
@click.option(
    "--fan-ah",
    type=click.FloatRange(0.0, 100_000.0),
    metavar="AH",
    help="Most that the heater's fan may use over the tour [Ah].",
)
@about_a_tour
def command(asked: Asked, asleep: float, warm: float, warm_at: str, pipes: float, fan_ah: float | None) -> None:
    """The least gas for TOUR within your limits: the night's setting and the timer, with the trade-off."""
    prepared = asked.prepared()
    from budget.answers.best_schedule import Limits, answer
    from budget.cli.records import show_answer

    limits = Limits(asleep_c=asleep, warm_c=warm, warm_at=warm_at, pipes_c=pipes, fan_ah=fan_ah)
    found = answer(prepared, limits)
    curve = [
        {
            "night": "as planned" if one.planned else "off" if one.night_c is None else f"{one.night_c:g} °C",
            "timer": one.timer or "–",
            "gas_kg": one.gas_kg,
            **({"mains_kwh": one.mains_kwh} if found.planned_mains_kwh > 0.0 else {}),
            "coldest asleep_c": one.coldest_asleep_c,
            "coldest in the morning_c": one.coldest_at_warm_time_c,
            "lowest pipes_c": one.lowest_pipes_c,
            "fan_ah": one.fan_ah,
        }
        for one in found.curve
    ]
    show_answer(asked, found, {"Gas against warmth asleep, other limits kept": curve})
