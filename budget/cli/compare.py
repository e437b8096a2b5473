"""``budget compare``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from budget.cli.common import Asked, about_a_tour
from budget.errors import InputFault

if TYPE_CHECKING:
    from budget.answers.prepared import Prepared


@click.command("compare", epilog="Example:  budget compare --schedule field --schedule town")
@click.option(
    "--schedule", "schedules", metavar="NAME", multiple=True, help="A schedule of the tour file; may be repeated."
)
@click.option(
    "--with",
    "variants",
    metavar="NAME=VALUE",
    multiple=True,
    help="A variant with these values, such as habits.drive_cab_c=18 or two joined by a comma; may be repeated.",
)
@click.option("--measures", is_flag=True, help="Instead: screens, curtain, foam, setback, showers and solar ranked.")
@about_a_tour
def command(asked: Asked, schedules: tuple[str, ...], variants: tuple[str, ...], measures: bool) -> None:
    """Set schedules, or any variants of TOUR, side by side on the same weather.

    With neither --schedule nor --with: constant, as planned, lower at night, off at night, and lower while away where
    the tour has hours with nobody in. Savings are against the first, and what is colder for its saving says so, in
    kelvin-hours: 5 h that are 2 K colder are 10 K h.
    """
    prepared = asked.prepared()
    from budget.answers.compare import answer, of_schedules, usual

    if measures:
        from budget.answers import measures as ranked
        from budget.cli.records import show_answer

        found_measures = ranked.answer(prepared)
        show_answer(asked, found_measures, {"Measures, by the gas they save": found_measures.measures})
        return
    if variants:
        found = {"as planned": prepared} | _with(asked, variants) | of_schedules(prepared, schedules)
    elif schedules:
        found = of_schedules(prepared, schedules)
        if len(found) == 1:
            found = {"as planned": prepared} | found
    else:
        found = usual(prepared)
    compared = answer(found)
    asked.show(compared.as_dict(), lambda: _draw(compared.sentences(), compared.rows(), list(found)))


def _with(asked: Asked, variants: tuple[str, ...]) -> dict[str, Prepared]:
    """One variant for each --with: NAME=VALUE, or several joined by commas that each hold an equals sign."""
    from budget.answers.compare import of_overrides

    named: dict[str, list[str]] = {}
    for written in variants:
        if "=" not in written:
            raise InputFault(f'--with must read NAME=VALUE, got "{written}"; write --with start_inside_c=10.')
        parts: list[str] = []
        for piece in written.split(","):
            if "=" in piece or not parts:
                parts.append(piece)
            else:
                parts[-1] += f",{piece}"
        named[written] = parts
    return of_overrides(asked.tour, named, asked.settings, asked.weather)


def _draw(sentences: list[str], rows: list[tuple[str, ...]], names: list[str]) -> None:
    from budget.cli import terminal

    shown = terminal.console()
    for number, sentence in enumerate(sentences):
        shown.print(terminal.words(sentence, "bold" if number == 0 else ""))
    shown.print()
    terminal.table(shown, "Side by side", rows, ("", *names), right=range(1, len(names) + 1))
