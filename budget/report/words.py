"""Numbers, times and lists as people write them; no more digits than are known."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Any

import pandas as pd

from budget.report.theme import written
from budget.rounding import rounded_down, rounded_up

LONG_KEY = 20  # letters; a legend with a longer word stands in one column on a phone


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
    """Gas burned, to the nearest half kilogram. [kg]"""
    return _halves(round(value * 2) / 2)


def kilograms_left(value: float) -> str:
    """Gas in hand, half a kilogram or less below what it is. [kg]"""
    return _halves(rounded_down(value, 0.5))


def kilograms_needed(value: float) -> str:
    """Gas that is wanted or missing, half a kilogram or less above what it is. [kg]"""
    return _halves(rounded_up(value, 0.5))


def _halves(halves: float) -> str:
    return f"{number(halves, 0 if halves == int(halves) else 1)} kg"


def percent(share: float) -> str:
    """A share to 5 %, or to 1 % near none and all."""
    value = 100.0 * share
    step = 5 if 7.5 < value < 92.5 else 1
    return f"{number(step * round(value / step))} %"


def least_percent(share: float) -> str:
    """A lowest share, down to the whole per cent."""
    return f"{number(rounded_down(100.0 * share))} %"


def celsius(value: float, decimals: int = 0) -> str:
    """A temperature. [°C]"""
    return f"{number(value, decimals)} °C"


def least_celsius(value: float, decimals: int = 0) -> str:
    """A lowest temperature, down to the last figure shown. [°C]"""
    return celsius(rounded_down(value, 10.0**-decimals), decimals)


def least_litres(value: float) -> str:
    """Water or room that is left, down to the litre. [L]"""
    return f"{number(rounded_down(value))} L"


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


def keyed(name: str, letters: int = LONG_KEY) -> str:
    """A name cut to so many letters, for a legend."""
    return name if len(name) <= letters else f"{name[: letters - 1].rstrip()}…"


def listed(items: Sequence[str]) -> str:
    """One, two and three."""
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}" if items else "nothing"


def bubble(sentence: str, width: int = 38) -> str:
    """A sentence for a figure's bubble: broken into lines, tags in it harmless; too long a word is cut."""
    lines = re.findall(rf"\S.{{0,{width - 1}}}(?=\s|$)|\S{{{width}}}", " ".join(sentence.split()))
    return written("\n".join(lines)).replace("\n", "<br>")


def values(series: Any, decimals: int = 2) -> list[float | None]:
    """Numbers for a figure; gaps stay gaps."""
    return [None if not math.isfinite(v) else round(float(v), decimals) for v in series]


def times(index: pd.DatetimeIndex) -> list[str]:
    """Local wall-clock times for a figure."""
    return list(index.strftime("%Y-%m-%dT%H:%M"))
