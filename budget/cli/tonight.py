"""``budget tonight``."""

from __future__ import annotations

import datetime as dt

import click

from budget.cli import options
from budget.cli.common import PERCENT, Asked, about_a_tour


def moment(context: click.Context, option: click.Parameter, written: str | None) -> dt.datetime | None:
    """A day and a time of day, local time of the tour; anything else is one sentence."""
    from budget.errors import InputFault

    if written is None:
        return None
    try:
        found = dt.datetime.fromisoformat(written.strip())
        if len(written.strip()) <= len("2027-01-20") or found.tzinfo is not None:
            raise ValueError
    except ValueError:
        raise InputFault(
            f'{option.opts[0]} must read "2027-01-20 22:00", local time of the tour, got "{written[:60]}"; correct it.'
        ) from None
    return found


@click.command("tonight", epilog="Example:  budget tonight --gas-left 3.2 --charge 70 --forecast-low -12")
@click.option(
    "--gas-left", type=float, metavar="KG", required=True, help="Gas in all bottles, weighed, less tare [kg]."
)
@click.option("--charge", type=PERCENT, metavar="PCT", required=True, help="State of charge now [%], such as 70.")
@click.option(
    "--at", callback=moment, metavar="TIME", help="The evening; else 17:00 of the first evening off the grid."
)
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
    help="Lowest temperature forecast until the morning [°C].  [default: as this climate has it]",
)
@click.option(
    "--back", callback=moment, metavar="TIME", help="Out from --at until then: when to switch on for the return."
)
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

    Yes where in at most 5 % of the cases anything runs out, stays too cold or freezes before 08:00, probably up to
    20 %, else better not. What binds, when the heater would stop, what would make it sure, what the night takes with
    gas and charge to the morning, and what a lower setting would save. With --back: when to switch on, and what
    freezes.
    """
    prepared = asked.prepared()
    from budget.answers import tonight, tonight_back
    from budget.cli.records import show_answer
    from budget.errors import InputFault

    if back is not None:
        if at is None:
            raise InputFault("--back needs --at, the time of leaving, got none; give both.")
        away = tonight_back.answer(
            prepared,
            gas_left_kg=gas_left,
            charge_percent=charge,
            start=at,
            back=back,
            warm_c=warm,
            inside_c=inside,
            forecast_low_c=forecast_low,
            scenarios=scenarios,
            seed=seed,
        )
        show_answer(asked, away, {})
        return
    found = tonight.answer(
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
        f"each goes short, and {'pipes or boiler' if found.has_boiler else 'the pipes'} freeze, on what is at hand"
    )
    show_answer(asked, found, {title: options})
