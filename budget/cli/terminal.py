"""Tables and sentences on the terminal, as wide as it is and without colour where that is asked for."""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Collection, Iterable, Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from budget.errors import one_line

WIDEST = 110
LEAST_FIRST = 18  # characters that the first column keeps before it folds within words
NARROW_HEAD = 9  # characters that a heading may be wide whatever stands below it
_TYPED = str.maketrans({"−": "-", "\u202f": " "})  # as terminals show and people search them


def console() -> Console:
    """Standard output; NO_COLOR, COLUMNS and TERM are respected."""
    shown = Console(file=sys.stdout, highlight=False, soft_wrap=False, markup=False, emoji=False)
    return (
        shown
        if shown.width <= WIDEST
        else Console(file=sys.stdout, highlight=False, markup=False, emoji=False, width=WIDEST)
    )


def words(text: str, style: str = "") -> Text:
    """Text as it is, with plain minus signs and spaces: nothing in it is markup or steers the terminal."""
    return Text(one_line(text).translate(_TYPED), style=style)


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
    widest = [max((len(row[place]) for row in listed if place < len(row)), default=0) for place in range(count)]
    heads = [columns[place] if place < len(columns) else "" for place in range(count)]
    heads = [_narrowed(head, widest[place]) if place in right else head for place, head in enumerate(heads)]
    taken = sum(max(widest[place], *map(len, heads[place].split("\n"))) + 2 for place in right)
    for place in range(count):
        drawn.add_column(
            Text(heads[place], "dim"),
            justify="right" if place in right else "left",
            no_wrap=place in right,
            overflow="fold",
            min_width=None if place else max(1, min(widest[0], LEAST_FIRST, shown.width - taken - 2)),
        )
    for row in listed:
        drawn.add_row(*(words(cell) for cell in row))
    shown.print(drawn)
    shown.print()


def _narrowed(heading: str, widest: int) -> str:
    """The heading of a column of numbers, broken between words so that it is hardly wider than they are."""
    width = max(widest, NARROW_HEAD)
    return "\n".join(
        part for line in heading.split("\n") for part in textwrap.wrap(line, width, break_long_words=False)
    )


def notices(shown: Console, listed: Iterable[str], title: str = "Assumed") -> None:
    """Sentences, each behind a dash."""
    sentences = list(listed)
    if not sentences:
        return
    shown.print(words(title, "bold"))
    for sentence in sentences:
        shown.print(Text(f"- {one_line(sentence)}"))
    shown.print()
