"""Tables and sentences on the terminal, as wide as it is and without colour where that is asked for."""

from __future__ import annotations

import sys
from collections.abc import Collection, Iterable, Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from budget.errors import one_line

WIDEST = 110


def console() -> Console:
    """Standard output; NO_COLOR, COLUMNS and TERM are respected."""
    shown = Console(file=sys.stdout, highlight=False, soft_wrap=False, markup=False, emoji=False)
    return (
        shown
        if shown.width <= WIDEST
        else Console(file=sys.stdout, highlight=False, markup=False, emoji=False, width=WIDEST)
    )


def words(text: str, style: str = "") -> Text:
    """Text as it is: nothing in it is markup, nothing in it steers the terminal."""
    return Text(one_line(text), style=style)


def headline(shown: Console, text: str) -> None:
    """The sentence that comes first."""
    shown.print(words(text, "bold"))
    shown.print()


def table(
    shown: Console,
    title: str,
    rows: Iterable[Sequence[str]],
    columns: Sequence[str] = (),
    right: Collection[int] = (),
) -> None:
    """A table without frames; ``right`` names the columns of numbers."""
    listed = [list(row) for row in rows]
    if not listed:
        return
    count = max(len(row) for row in listed)
    shown.print(words(title, "bold"))
    drawn = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_header=bool(columns))
    for number in range(count):
        heading = columns[number] if number < len(columns) else ""
        drawn.add_column(
            Text(heading, "dim"),
            justify="right" if number in right else "left",
            no_wrap=number in right,
            overflow="fold",
        )
    for row in listed:
        drawn.add_row(*(words(cell) for cell in row))
    shown.print(drawn)
    shown.print()


def notices(shown: Console, listed: Iterable[str], title: str = "Assumed") -> None:
    """Sentences, each behind a dash."""
    sentences = list(listed)
    if not sentences:
        return
    shown.print(words(title, "bold"))
    for sentence in sentences:
        shown.print(Text(f"- {one_line(sentence)}"))
    shown.print()
