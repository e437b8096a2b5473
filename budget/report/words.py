"""Numbers, times and lists as people write them; no more digits than are known."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import pandas as pd

from budget.report.theme import written


def number(value: float, decimals: int = 0) -> str:
    """A number with a true minus sign; a dash where there is none."""
    if not math.isfinite(value):
        return "–"
    shown = f"{value:,.{decimals}f}".replace(",", "\u202f").replace("-", "−")
    return shown.removeprefix("−") if float(f"{value:.{decimals}f}") == 0.0 else shown


def plain(value: float) -> str:
    """A number with as many digits as it needs, at most three significant."""
    return f"{value:.3g}".replace("-", "−") if abs(value) < 1000 else number(value)


def kilograms(value: float) -> str:
    """Gas to half a kilogram. [kg]"""
    halves = round(value * 2) / 2
    return f"{number(halves, 0 if halves == int(halves) else 1)} kg"


def percent(share: float) -> str:
    """A share to 5 %, or to 1 % near none and all."""
    value = 100.0 * share
    step = 5 if 7.5 < value < 92.5 else 1
    return f"{number(step * round(value / step))} %"


def charge(share: float) -> str:
    """A lowest charge, to 1 % and never more than there is."""
    return f"{number(math.floor(100.0 * share + 1e-6))} %"


def celsius(value: float, decimals: int = 0) -> str:
    """A temperature. [°C]"""
    return f"{number(value, decimals)} °C"


def day(time: pd.Timestamp) -> str:
    """A day: Thu 21 January."""
    return f"{time:%a} {time.day} {time:%B}"


def moment(time: pd.Timestamp) -> str:
    """An hour: Thu 21 January, 14:00."""
    return f"{day(time)}, {time:%H:%M}"


def short(time: pd.Timestamp) -> str:
    """An hour, for a narrow column: Thu 21 Jan, 14:00."""
    return f"{time:%a} {time.day} {time:%b}, {time:%H:%M}"


def night(time: pd.Timestamp) -> str:
    """The night that a moment belongs to, named by the day it begins: night of 21 January."""
    evening = time - pd.Timedelta(hours=12)
    return f"night of {evening.day} {evening:%B}"


def named(name: str) -> str:
    """A column's or part's name in plain words."""
    return "living area" if name == "living" else name.replace("_", " ")


def listed(items: Sequence[str]) -> str:
    """One, two and three."""
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}" if items else "nothing"


def bubble(sentence: str, width: int = 38) -> str:
    """A sentence for a figure's bubble: broken into lines, tags in it harmless."""
    lines, line = [], ""
    for word in sentence.split():
        if len(line) + len(word) >= width and line:
            lines.append(line)
            line = ""
        pieces = [word[k : k + width] for k in range(0, len(word), width)]
        lines += pieces[:-1]
        line = f"{line} {pieces[-1]}" if line else pieces[-1]
    return written("\n".join([*lines, line])).replace("\n", "<br>")


def values(series: Any, decimals: int = 2) -> list[float | None]:
    """Numbers for a figure; gaps stay gaps."""
    return [None if not math.isfinite(v) else round(float(v), decimals) for v in series]


def times(index: pd.DatetimeIndex) -> list[str]:
    """Local wall-clock times for a figure."""
    return [f"{t:%Y-%m-%dT%H:%M}" for t in index]
