"""A fault and where it lies, before it becomes a sentence."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from dataclasses import dataclass

from budget.arrived import cut, listed

Path = tuple[str | int, ...]


def dotted(path: Path) -> str:
    """A field's path as people write it: stops[2].hookup_a, habits.closed."cab curtain"."""
    written = ""
    for part in path:
        if isinstance(part, int):
            written += f"[{part}]"
        else:
            name = part if re.fullmatch(r"[\w-]+", part) else f'"{part[:60]}"'
            written += f".{name}" if written else name
    return written


@dataclass(frozen=True)
class Fault:
    """One fault: the field, and what follows the field's name in the sentence ("must be ..., got ...; do ...").

    ``counts``: the fault is the number of entries in a list.
    """

    path: Path
    text: str
    counts: bool = False

    def sentence(self, where: str = "") -> str:
        """The whole sentence, with the file and line before it when they are known."""
        named = f"{dotted(self.path)} {self.text}" if self.path else self.text
        return f"{where}: {named}" if where else named


NEAR = "did you mean"


def did_you_mean(wrong: str, known: Iterable[str]) -> str:
    """What to do about an unknown name: the nearest known one, or the list when none is near."""
    names = list(known)
    near = difflib.get_close_matches(wrong.lower(), [name.lower() for name in names], n=1, cutoff=0.6)
    if near:
        return f"{NEAR} {cut(next(name for name in names if name.lower() == near[0]))}?"
    return f"known here are {listed(names)}." if names else "leave it out."
