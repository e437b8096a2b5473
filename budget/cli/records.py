"""Answers as tables: one row a record, its numbers under their field's name and unit."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from typing import TYPE_CHECKING, Any

from budget.moments import short
from budget.rounding import rounded_as
from budget.units import SUFFIXES, unit_of

if TYPE_CHECKING:
    from budget.cli.common import Asked

MOST_COLUMNS = 9  # more are shown with a column a record instead of a row
LONGEST_WORDS = 60  # letters of a text that a column shows
NO_UNIT = ("–", "0–1")


def show_answer(
    asked: Asked, answer: Any, tables: Mapping[str, Iterable[Any]], beside: Mapping[str, Any] | None = None
) -> None:
    """An answer as JSON when asked for, with what belongs beside it, else its sentences and tables of its records."""
    data = {**answer.as_dict(), **(beside or {})} if asked.as_json else None
    asked.show(data, lambda: _draw(sentences_of(answer), tables))


def sentences_of(answer: Any) -> Sequence[str]:
    """What an answer says in words."""
    said = answer.sentences
    return tuple(said() if callable(said) else said)


def _draw(sentences: Sequence[str], tables: Mapping[str, Iterable[Any]]) -> None:
    from budget.cli import terminal

    shown = terminal.console()
    for number, sentence in enumerate(sentences):
        shown.print(terminal.words(sentence, "bold" if number == 0 else ""))
    shown.print()
    for title, listed in tables.items():
        rows = [as_row(record) for record in listed]
        named = dict.fromkeys(name for row in rows for name in row)
        names = [name for name in named if any(row.get(name) is not None for row in rows)]
        if not names:
            continue
        digits = {name: decimals(row.get(name) for row in rows) for name in names}
        cells = [[cell(name, row.get(name), digits[name]) for name in names] for row in rows]
        if len(names) > MOST_COLUMNS:
            across = [
                [heading(name).replace("\n", " "), *(row[place] for row in cells)] for place, name in enumerate(names)
            ]
            terminal.table(shown, title, across[1:], across[0], range(1, len(rows) + 1))
            continue
        right = [k for k, name in enumerate(names) if all(is_number(row.get(name)) for row in rows)]
        terminal.table(shown, title, cells, [heading(name) for name in names], right)


def as_row(record: Any) -> dict[str, Any]:
    """The plain values of a record; what is a list or a record itself is left to JSON."""
    whole = {part.name: getattr(record, part.name) for part in fields(record)} if is_dataclass(record) else dict(record)
    plain = (str, bool, int, float, dt.datetime, type(None))
    return {
        name: value for name, value in whole.items() if isinstance(value, plain) or getattr(value, "ndim", None) == 0
    }


def is_number(value: Any) -> bool:
    """Whether a value belongs into a column of numbers."""
    return value is None or (isinstance(value, (int, float)) and not isinstance(value, bool)) or hasattr(value, "item")


def heading(name: str) -> str:
    """The words of a field's name, with its unit below them."""
    unit = unit_of(name)
    suffix = max((end for end in SUFFIXES if name.endswith(end)), key=len, default="")
    words = name.removesuffix(suffix).replace("_", " ") or name
    if unit == "0–1":
        return f"{words}\n%"
    return f"{words}\n{unit}" if unit and unit not in NO_UNIT else words


def decimals(values: Iterable[Any]) -> int:
    """Decimals that give the largest number of a column three figures; none where all are whole."""
    numbers = [float(value) for value in values if is_number(value) and value is not None and math.isfinite(value)]
    if all(number == round(number) for number in numbers):
        return 0
    largest = max(abs(number) for number in numbers)
    return 0 if largest >= 100.0 else 1 if largest >= 10.0 else 2


def cell(name: str, value: Any, digits: int = 2) -> str:
    """A value as a reader wants it: shares in percent, yes and no, times in words, long text by its beginning."""
    if value is None:
        return "-"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dt.datetime):
        return short(value)
    if isinstance(value, str):
        shown = value.replace("_", " ")
        return shown if len(shown) <= LONGEST_WORDS else f"{shown[: LONGEST_WORDS - 3].rstrip()}..."
    number = float(value)
    if not math.isfinite(number):
        return "-"
    if unit_of(name) == "0–1":
        return f"{rounded_as(name, 100.0 * number):.0f}"
    return f"{rounded_as(name, number, 10.0**-digits):.{digits}f}"
