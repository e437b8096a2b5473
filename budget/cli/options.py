"""Options that several commands share."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from budget.tour.model import Tour

Decorator = Callable[[Callable[..., Any]], Callable[..., Any]]


def number(
    flag: str, name: str, within: tuple[float, float], default: float, metavar: str, help_text: str
) -> Decorator:
    """An option that takes a number within limits and has a usual value, which its help shows."""
    return click.option(
        flag,
        name,
        type=click.FloatRange(*within),
        metavar=metavar,
        default=default,
        show_default=True,
        help=help_text,
    )


def altitude(lowest_m: float, highest_m: float) -> Decorator:
    """``--altitude``: of the pitch; the tour's highest stop unless given. [m]"""
    return click.option(
        "--altitude",
        "altitude_m",
        type=click.FloatRange(lowest_m, highest_m),
        metavar="M",
        help="Altitude of the pitch [m].  [default: the tour's highest stop]",
    )


def highest_m(tour: Tour, altitude_m: float | None) -> float:
    """The altitude that was asked for, else that of the tour's highest stop. [m]"""
    return max(stop.altitude_m for stop in tour.stops) if altitude_m is None else altitude_m


def draws(least: int, default: int, most: int = 100_000, help_text: str = "Winters and vans to draw.") -> Decorator:
    """``--scenarios``: how many to draw."""
    return click.option(
        "--scenarios",
        type=click.IntRange(least, most),
        metavar="N",
        default=default,
        show_default=True,
        help=help_text,
    )


def seed(help_text: str = "Seed of the draw: the same seed, the same bits.") -> Decorator:
    """``--seed`` of a draw."""
    return click.option(
        "--seed", type=click.IntRange(0, 2**31 - 1), metavar="N", default=1, show_default=True, help=help_text
    )


def inside(name: str, default: float, help_text: str) -> Decorator:
    """``--inside``: a temperature in the van."""
    return number("--inside", name, (-30.0, 40.0), default, "C", help_text)


def of_schedule(flag: str, name: str, within: tuple[float, float], help_text: str) -> Decorator:
    """An option for a temperature that is the tour's schedule's where it is not given."""
    told = f"{help_text}  [default: as the tour's schedule has it then]"
    return click.option(flag, name, type=click.FloatRange(*within), metavar="C", help=told)


def warm(default: float) -> Decorator:
    """``--warm``: the wish for the morning."""
    return number("--warm", "warm", (5.0, 30.0), default, "C", "Temperature wished for in the morning [°C].")


WARM_AT: Decorator = click.option(
    "--warm-at", default="07:30", show_default=True, metavar="HH:MM", help="When it shall be that warm."
)
OUTDOORS = number("--outdoor", "outdoor_c", (-60.0, 50.0), -5.0, "C", "Temperature outdoors [°C].")
