"""What if it were set otherwise? Answers worked out beforehand on a grid, moved through by sliders."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from budget.report.section import Section, Sliders, Table
from budget.wording import number, plain

Axis = tuple[str, str, Sequence[float]]


def slider_grid(
    axes: tuple[Axis, Axis],
    answers: Mapping[str, tuple[str, int, np.ndarray]],
    start: tuple[int, int],
    words: Mapping[str, Sequence[str]] | None = None,
    found: str = "Move the sliders.",
    behind: Sequence[str] = (),
) -> Section:
    """Two settings and what they lead to, such as the setpoint by night and the insulation.

    ``axes``: name, unit and values of each setting; ``answers``: by name the unit, decimals and values on the grid
    (first axis × second axis); ``start``: where the sliders stand; ``words``: by axis, words in place of its values;
    ``found``: a sentence on what they show, short enough that a phone shows the sliders with it; ``behind``: what they
    take for granted.
    """
    shape = tuple(len(values) for _, _, values in axes)
    for name, (_, _, grid) in answers.items():
        if np.shape(grid) != shape:
            raise ValueError(f"{name} must be given on the grid of {shape[0]} × {shape[1]}, got {np.shape(grid)}")
    sliders = Sliders(
        axes=tuple((name, unit, tuple(float(v) for v in values)) for name, unit, values in axes),
        answers=tuple(
            (name, unit, decimals, tuple(float(v) for v in np.ravel(grid)))
            for name, (unit, decimals, grid) in answers.items()
        ),
        start=start,
        label=words or {},
    )
    rows = tuple(
        (
            _word(axes[0], i, words), _word(axes[1], j, words),
            *(number(float(grid[i, j]), decimals) for _, decimals, grid in answers.values()),
        )
        for i in range(shape[0])
        for j in range(shape[1])
    )  # fmt: skip
    columns = (axes[0][0], axes[1][0], *(f"{name} [{unit}]" for name, (unit, *_) in answers.items()))
    told = ("Each position was worked out beforehand, nothing in between.", *behind)
    return Section("What if it were set otherwise?", found, None, Table(columns, rows), (), sliders, told)


def _word(axis: Axis, at: int, words: Mapping[str, Sequence[str]] | None) -> str:
    name, unit, values = axis
    return words[name][at] if words and name in words else f"{plain(values[at])} {unit}"
