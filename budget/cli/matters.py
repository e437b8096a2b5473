"""``budget matters``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from budget.cli import options
from budget.cli.common import Asked, about_a_tour

if TYPE_CHECKING:
    from budget.answers.sensitivity import Bar


@click.command("matters", epilog="Example:  budget matters --scenarios 200")
@options.draws(100, 1000)
@options.seed()
@about_a_tour
def command(asked: Asked, scenarios: int, seed: int) -> None:
    """Which uncertain inputs of TOUR matter most for gas and charge, and what a measurement would be worth.

    Low and high are an input's P10 and P90 (weather: cold and mild), all else the same at both ends.
    """
    prepared = asked.prepared()
    from budget.answers import odds
    from budget.answers.sensitivity import answer
    from budget.cli.records import show_answer

    with asked.progress("winters", scenarios) as done:
        drawn = odds.answer(prepared, scenarios=scenarios, seed=seed, done=done)
    found = answer(drawn)

    tables = {
        "Gas": _rows(found.gas, "kg"),
        "Lowest charge": _rows(found.charge, "%", 100.0),
        "What knowing it would do to the band of gas, P10 to P90": [
            {"what": one.what, "now_kg": one.band_now, "then_kg": one.band_then} for one in found.worth
        ],
    }
    show_answer(asked, found, tables)


def _rows(bars: tuple[Bar, ...], unit: str, scale: float = 1.0) -> list[dict[str, object]]:
    low, high, either, moves, width = (
        f"{word}\n{unit}" for word in ("where low", "where high", "either ±", "moves", "moves ±")
    )
    return [
        {
            "input": bar.from_end_to_end,
            "explains_share": "by chance" if bar.by_chance else bar.share,
            low: bar.at_low * scale,
            high: bar.at_high * scale,
            either: max(bar.low_half_width, bar.high_half_width) * scale,
            moves: bar.moves * scale,
            width: bar.moves_half_width * scale,
        }
        for bar in bars
    ]
