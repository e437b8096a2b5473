"""Which way a printed number is rounded: what is left, lowest or spare goes down, what is needed goes up."""

from __future__ import annotations

import math

NOISE = 1e-6  # of a step: 0.3 / 0.1 falls short of 3 by less
DOWN = frozenset(("lowest", "coldest", "least", "left", "margin", "spare", "last", "lasts", "available", "until"))
UP = frozenset(("needed", "unserved", "short", "missing", "peak", "longest", "slowest"))


def rounded_down(value: float, step: float = 1.0) -> float:
    """The next multiple of a step at or below a value: a lowest charge, a lowest temperature, a margin."""
    return _steps(math.floor(value / step + NOISE), step) if math.isfinite(value) else value


def rounded_up(value: float, step: float = 1.0) -> float:
    """The next multiple of a step at or above a value: a need, a want, a longest wait."""
    return _steps(math.ceil(value / step - NOISE), step) if math.isfinite(value) else value


def least(value: float, decimals: int = 0) -> str:
    """A number for a sentence, rounded down."""
    return f"{rounded_down(value, 10.0**-decimals):.{decimals}f}"


def need(value: float, decimals: int = 0) -> str:
    """A number for a sentence, rounded up."""
    return f"{rounded_up(value, 10.0**-decimals):.{decimals}f}"


def rounded_as(name: str, value: float, step: float = 1.0) -> float:
    """Down, up or to the nearest step, as the words of a field's name say."""
    words = set(name.replace("\n", " ").replace("_", " ").split())
    if words & DOWN:
        return rounded_down(value, step)
    if words & UP:
        return rounded_up(value, step)
    return _steps(round(value / step), step) if math.isfinite(value) else value


def _steps(count: int, step: float) -> float:
    """So many steps, without the dust of a step that is no binary fraction."""
    return round(count * step, 9) + 0.0
