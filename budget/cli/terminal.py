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
FOLDED_FIRST = 10  # with less a table is broken into several
GAP = 2  # characters between two columns
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
    """A table without frames; ``right`` names the columns of numbers.

    Numbers that leave the first column no room go on in a further table below, under the same first column.
    """
    listed = [list(row) for row in rows]
    if not listed:
        return
    count = max(len(row) for row in listed)
    shown.print(words(title, "bold"))
    for places in _parted(shown.width, listed, columns, right, count):
        kept = [[row[place] if place < len(row) else "" for place in places] for row in listed]
        heads = [columns[place] if place < len(columns) else "" for place in places] if columns else ()
        _one_table(shown, kept, heads, [k for k, place in enumerate(places) if place in right])


def _parted(
    width: int, rows: Sequence[Sequence[str]], columns: Sequence[str], right: Collection[int], count: int
) -> list[list[int]]:
    """The places of the columns of each part: all in one where they fit, or where words, which fold, fill them."""
    whole = list(range(count))
    if 0 in right or not columns or any(place not in right for place in whole[1:]):
        return [whole]
    widest = [max((len(row[place]) for row in rows if place < len(row)), default=0) for place in whole]
    heads = [_narrowed(columns[place] if place < len(columns) else "", widest[place]) for place in whole]
    taken = [max(widest[place], *map(len, heads[place].split("\n"))) + GAP for place in whole]
    if sum(taken[1:]) + min(widest[0], FOLDED_FIRST) + GAP <= width:
        return [whole]
    room = width - min(widest[0], LEAST_FIRST) - GAP
    parts: list[list[int]] = [[0]]
    used = 0
    for place in whole[1:]:
        if len(parts[-1]) > 1 and used + taken[place] > room:
            parts.append([0])
            used = 0
        parts[-1].append(place)
        used += taken[place]
    return parts


def _one_table(shown: Console, listed: list[list[str]], columns: Sequence[str], right: Collection[int]) -> None:
    count = max(len(row) for row in listed)
    drawn = Table(box=None, pad_edge=False, padding=(0, GAP, 0, 0), show_header=bool(columns))
    widest = [max((len(row[place]) for row in listed if place < len(row)), default=0) for place in range(count)]
    heads = [columns[place] if place < len(columns) else "" for place in range(count)]
    heads = [_narrowed(head, widest[place]) if place in right else head for place, head in enumerate(heads)]
    taken = sum(max(widest[place], *map(len, heads[place].split("\n"))) + GAP for place in right)
    room = max(1, min(widest[0], LEAST_FIRST, shown.width - taken - GAP))
    for place in range(count):
        drawn.add_column(
            Text(heads[place], "dim"),
            justify="right" if place in right else "left",
            no_wrap=place in right or (place == 0 and widest[0] <= room),  # else the others would not make room for it
            overflow="fold",
            min_width=None if place else room,
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
