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
@options.of_schedule("--warm", "warm", (5.0, 30.0), "Temperature wished for in the morning [°C].")
@click.option(
    "--warm-at",
    metavar="HH:MM",
    help="When it shall be that warm.  [default: as the tour's schedule has it that night]",
)
@options.of_schedule("--inside", "inside", (-30.0, 40.0), "Temperature inside now [°C].")
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
    warm: float | None,
    warm_at: str | None,
    inside: float | None,
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
    # from budget.answers.evening import warm_by
    from budget.answers.tonight import answer
    from budget.cli.records import show_answer
    from budget.errors import InputFault
    from budget.moments import clock
    from budget.rounding import least

    if back is not None:
        if at is None:
            raise InputFault("--back needs --at, the time of leaving, got none; give both.")
        on, lowest_c, warm_c = warm_by(prepared, at=back, start=at, warm_c=warm)
        when = "no lead of up to 4 h is enough" if on is None else f"switch on at {clock(on)}"
        whose = ", as the tour's schedule has it then" if warm is None else ""
        sentence = (
            f"For {warm_c:g} °C at {clock(back)}{whose}: {when}; with the heater off it falls to {least(lowest_c)} °C "
            "inside."
        )
        asked.show(
            {
                "back": back.isoformat(),
                "warm_c": warm_c,
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
            "night": ("off" if option.night_c is None else f"{option.night_c:g} °C")
            + (" as planned" if option.planned else ""),
            "timer": option.timer or "-",
            "gas_kg": option.gas_kg,
            "fan_ah": option.fan_ah,
            "lowest_c": option.lowest_inside_c,
            f"at {found.warm_at}_c": option.at_warm_time_c,
            "pipes_c": option.lowest_pipes_c,
            "goes short in_share": option.fails_share,
            "freezes in_share": option.freezes_share,
        }
        for option in found.options
    ]
    title = (
        f"Settings for this night at {found.place}: the middle case with gas and charge to the morning, and how often "
        "each goes short, and pipes or boiler freeze, on what is at hand"
    )
    show_answer(asked, found, {title: options})
