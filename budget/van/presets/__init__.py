"""Packaged presets in generic words: each number with its usual value and range. Common practice, no source."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple

SOURCE = "common practice, no source"
_FOLDER = Path(__file__).resolve().parent


class Spread(NamedTuple):
    """A number as practice knows it: low about the P10, usual, high about the P90; unit as its name ends."""

    low: float
    usual: float
    high: float


@dataclass(frozen=True)
class Preset:
    """One preset: its word, what it means, and its values.

    ``values`` holds a Spread for each number, and words, truth values, spans of time or lists of tables as they are.
    """

    word: str
    meaning: str
    values: Mapping[str, Any]
    source: str = SOURCE

    def spread(self, name: str) -> Spread:
        """A number with its range; KeyError when the preset has no such number."""
        value = self.values[name]
        if not isinstance(value, Spread):
            raise KeyError(f"{name} of the preset '{self.word}' is no number")
        return value

    def usual(self, name: str) -> float:
        """The usual value of a number."""
        return self.spread(name).usual

    def tables(self, name: str) -> tuple[Mapping[str, Spread], ...]:
        """A list of tables of numbers, such as a heater's stages; empty when there is none."""
        return tuple(self.values.get(name, ()))


def kinds() -> tuple[str, ...]:
    """The kinds of preset there are."""
    return tuple(sorted(path.stem for path in _FOLDER.glob("*.toml")))


@cache
def load(kind: str) -> Mapping[str, Preset]:
    """Every preset of a kind by its word, in the order of the file; read once. KeyError for an unknown kind."""
    path = _FOLDER / f"{kind}.toml"
    if not path.is_file():
        raise KeyError(f"no presets of the kind '{kind}'; there are {', '.join(kinds())}")
    written = tomllib.loads(path.read_text(encoding="utf-8"))["presets"]
    return MappingProxyType(
        {
            word: Preset(word, table.pop("meaning"), MappingProxyType({n: _value(v) for n, v in table.items()}))
            for word, table in written.items()
        }
    )


def get(kind: str, word: str) -> Preset:
    """The preset that a word names, in any case of letters. KeyError when there is none."""
    found = {known.casefold(): preset for known, preset in load(kind).items()}
    return found[word.strip().casefold()]


def _value(written: Any) -> Any:
    if isinstance(written, list) and len(written) == 3 and all(isinstance(number, float) for number in written):
        return Spread(*written)
    if isinstance(written, list) and written and isinstance(written[0], dict):
        return tuple(MappingProxyType({name: _value(inner) for name, inner in table.items()}) for table in written)
    return tuple(written) if isinstance(written, list) else written
