"""Names, lists and bubbles as people write them, and what figures take; numbers are in ``budget.wording``."""

from __future__ import annotations

import math
import re
from functools import cache
from typing import Any

import numpy as np
import pandas as pd

from budget.report.theme import written

LONG_KEY = 20  # letters; a legend with a longer word stands in one column on a phone


def named(name: str) -> str:
    """A column's or part's name in plain words."""
    return "living area" if name == "living" else name.replace("_", " ")


def keyed(name: str, letters: int = LONG_KEY) -> str:
    """A name cut to so many letters, for a legend."""
    return name if len(name) <= letters else f"{name[: letters - 1].rstrip()}…"


@cache
def _lines_of(width: int) -> re.Pattern[str]:
    return re.compile(rf"\S.{{0,{width - 1}}}(?=\s|$)|\S{{{width}}}")


def bubble(sentence: str, width: int = 38) -> str:
    """A sentence for a figure's bubble: broken into lines, tags in it harmless; too long a word is cut."""
    lines = _lines_of(width).findall(" ".join(sentence.split()))
    return written("\n".join(lines)).replace("\n", "<br>")


def values(series: Any, decimals: int = 2) -> list[float | None]:
    """Numbers for a figure; gaps stay gaps."""
    return [None if not math.isfinite(v) else round(float(v), decimals) for v in series]


def times(index: pd.DatetimeIndex) -> list[str]:
    """Local wall-clock times for a figure."""
    local: list[str] = np.datetime_as_string(index.tz_localize(None).to_numpy(), unit="m").tolist()
    return local
