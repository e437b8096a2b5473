"""A part's name as people wrote it, as part of a column's or key's name; and names told apart."""

from __future__ import annotations

import itertools
import unicodedata
from collections.abc import Callable, Iterable, Sequence

NAMELESS = "part"  # a name of signs only


def stem(name: str) -> str:
    """A name in lower case: letters and digits of any script, plain where they are plain but for an accent."""
    parts = (_plain(sign) for sign in unicodedata.normalize("NFKC", name.casefold()))
    return "_".join("".join(parts).split()) or NAMELESS


def _plain(sign: str) -> str:
    """The letter or digit below an accent, a sign of another script as it is; a gap for what is neither."""
    bare = "".join(each for each in unicodedata.normalize("NFKD", sign) if each.isascii() and each.isalnum())
    return bare or (sign if unicodedata.category(sign)[0] in "LNM" else " ")


def apart(names: Sequence[str], *, between: str = "_", free: Callable[[str], bool] = lambda name: True) -> list[str]:
    """Names of which no two have one stem: each keeps its own where it is free and the first, others get a number."""
    given: dict[int, str] = {}
    stems: set[str] = set()

    def give(place: int, name: str) -> bool:
        key = stem(name)
        if key in stems or not free(name):
            return False
        stems.add(key)
        given[place] = name
        return True

    for place, name in enumerate(names):
        give(place, name)
    for place, name in enumerate(names):
        if place not in given:
            next(number for number in itertools.count(2) if give(place, f"{name}{between}{number}"))
    return [given[place] for place in range(len(names))]


def alike(names: Iterable[str]) -> tuple[str, str] | None:
    """The first two names that have one stem, or None."""
    seen: dict[str, str] = {}
    for name in names:
        if stem(name) in seen:
            return seen[stem(name)], name
        seen[stem(name)] = name
    return None
