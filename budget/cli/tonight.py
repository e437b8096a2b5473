"""``budget tonight``."""

from __future__ import annotations

import datetime as dt

import click

from budget.cli import options
from budget.cli.common import PERCENT, Asked, about_a_tour

TIME = click.DateTime(["%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M:%S"])


@click.command("tonight", epilog="Example:  budget tonight --gas-left 3.2 --charge 70 --forecast-low -12")
@click.option(
    "--gas-left", type=float, metavar="KG", required=True, help="Gas in all bottles, weighed, less tare [kg]."
)
@click.option("--charge", type=PERCENT, metavar="PCT", required=True, help="State of charge now [%], such as 70.")
@click.option("--at", type=TIME, metavar="TIME", help="The evening; else 17:00 of the first evening off the grid.")
@options.warm(20.0)
@options.WARM_AT
@options.inside("inside", 19.0, "Temperature inside now [°C].")
@click.option(
    "--forecast-low",
    type=click.FloatRange(-60.0, 40.0),
    metavar="C",
    help="Lowest temperature forecast for tonight [°C].",
)
@click.option("--back", type=TIME, metavar="TIME", help="Out from --at until then: when to switch on for the return.")
@options.draws(20, 200, 10_000, "Nights to draw.")
@options.seed()
@about_a_tour
def command(
    asked: Asked,
    *,
    gas_left: float,
    charge: float,
    at: dt.datetime | None,
    warm: float,
    warm_at: str,
    inside: float,
    forecast_low: float | None,
    back: dt.datetime | None,
    scenarios: int,
    seed: int,
) -> None:
    """Can we stay another night with this gas and this charge, and when should the timer start?

    The chance of running out before 08:00, what binds, when the heater would stop, what the night takes with gas and
    charge to the morning, and what a lower setting would save.
    """
    prepared = asked.prepared()
    from budget.answers.evening import warm_by
    from budget.answers.tonight import answer
    from budget.cli.records import show_answer
    from budget.errors import InputFault

    if back is not None:
        if at is None:
            raise InputFault("--back needs --at, the time of leaving, got none; give both.")
        on, lowest_c = warm_by(prepared, at=back, start=at, warm_c=warm)
        when = "no lead of up to 4 h is enough" if on is None else f"switch on at {on:%H:%M}"
        sentence = f"For {warm:g} °C at {back:%H:%M}: {when}; with the heater off it falls to {lowest_c:.0f} °C inside."
        asked.show(
            {
                "back": back.isoformat(),
                "switch_on": None if on is None else on.isoformat(),
                "lowest_inside_c": lowest_c,
            },
            lambda: print(sentence),
        )
        return
    found = answer(
        prepared,
        gas_left_kg=gas_left,
        charge_percent=charge,
        at=at,
        warm_c=warm,
        warm_at=warm_at,
        inside_c=inside,
        forecast_low_c=forecast_low,
        scenarios=scenarios,
        seed=seed,
    )
    options = [
        {
            "night": "off" if option.night_c is None else f"{option.night_c:g} °C",
            "timer": option.timer or "-",
            "gas_kg": option.gas_kg,
            "fan_ah": option.fan_ah,
            "lowest_c": option.lowest_inside_c,
            f"at {found.warm_at}_c": option.at_warm_time_c,
            "pipes_c": option.lowest_pipes_c,
            "what is left": "lasts" if option.stops_at is None else f"ends by {option.stops_at}",
        }
        for option in found.options
    ]
    show_answer(
        asked, found, {f"Settings for this night at {found.place}, with gas and charge to the morning": options}
    )
