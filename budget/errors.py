"""The exception tree: what can go wrong, and the exit code each ends the program with."""

from __future__ import annotations

import re
from collections.abc import Iterable

# No file's name is longer than 255 letters; what is longer is shown by its beginning.
_OVERLONG = re.compile(r"([^\s/]{60})[^\s/]{196,}")


class BudgetError(Exception):
    """Base of every error that this package raises on purpose."""

    exit_code = 3


class InputFault(BudgetError):
    """The input was understood but cannot be run; the message is one clear sentence for each fault.

    The grammar of a sentence: where (file, field, line), what is required with its unit, what arrived,
    what to do.
    """

    exit_code = 1

    def __init__(self, faults: str | Iterable[str]) -> None:
        told = (faults,) if isinstance(faults, str) else tuple(faults)
        self.faults: tuple[str, ...] = tuple(_OVERLONG.sub(r"\1...", one_line(sentence)) for sentence in told)
        super().__init__("\n".join(self.faults))


class BooksDoNotClose(BudgetError):
    """An internal fault: a balance failed to close; no result may be shown."""

    exit_code = 3


def one_line(text: str) -> str:
    """Text without line breaks or anything that would steer a terminal."""
    return "".join(letter if letter.isprintable() else " " for letter in text).strip()
