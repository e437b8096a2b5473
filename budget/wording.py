"""Numbers as people write them, in the steps in which they can be known; one form for terminal, report and answers.

What is left, lowest or spare goes down, what is needed or missing goes up (``budget.rounding``).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from budget.rounding import rounded_down, rounded_up

LITTLE_KG, LITTLE_H, LITTLE_AH = 0.25, 0.5, 2.5  # so little and not nothing is called "under" the step


def number(value: float, decimals: int = 0) -> str:
    """A number with a true minus sign; a dash where there is none."""
    if not math.isfinite(value):
        return "–"
    shown = f"{value:,.{decimals}f}".replace(",", "\u202f")
    if not shown.startswith("-"):
        return shown
    return f"−{shown[1:]}" if shown.strip("-0.") else shown[1:]


def plain(value: float) -> str:
    """A number with as many digits as it needs, at most three significant."""
    return f"{value:.3g}".replace("-", "−") if abs(value) < 999.5 else number(value)


def count(value: float) -> str:
    """A count to 10; what is below that is exact."""
    return number(value if value < 9.5 else round(value, -1))


def kilograms(value: float) -> str:
    """Gas burned, to the nearest half kilogram. [kg]"""
    return "under 0.5 kg" if 0.0 < value <= LITTLE_KG else _halves(round(value * 2) / 2)


def kilograms_left(value: float) -> str:
    """Gas in hand, half a kilogram or less below what it is. [kg]"""
    return _halves(rounded_down(value, 0.5))


def kilograms_needed(value: float) -> str:
    """Gas that is wanted or missing, half a kilogram or less above what it is. [kg]"""
    return "under 0.5 kg" if 0.0 < value < 0.5 else _halves(rounded_up(value, 0.5))


def _halves(halves: float) -> str:
    return f"{number(halves, 0 if halves == int(halves) else 1)} kg"


def percent(share: float) -> str:
    """A share to 5 %, or to 1 % near none and all."""
    value = 100.0 * share
    step = 5 if 7.5 < value < 92.5 else 1
    return f"{number(step * round(value / step))} %"


def whole_percent(share: float) -> str:
    """A share to the nearest whole per cent."""
    return f"{number(100.0 * share)} %"


def least_percent(share: float) -> str:
    """A lowest share, or a chance that something lasts, down to the whole per cent."""
    return f"{number(rounded_down(100.0 * share))} %"


def most_percent(share: float) -> str:
    """A chance that something fails, up to the whole per cent."""
    return f"{number(rounded_up(100.0 * share))} %"


def celsius(value: float, decimals: int = 0) -> str:
    """A temperature. [°C]"""
    return f"{number(value, decimals)} °C"


def least_celsius(value: float, decimals: int = 0) -> str:
    """A lowest temperature, down to the last figure shown. [°C]"""
    return celsius(rounded_down(value, 10.0**-decimals), decimals)


def least_litres(value: float) -> str:
    """Water or room that is left, down to the litre. [L]"""
    return f"{number(rounded_down(value))} L"


def hours(value: float) -> str:
    """A time to 1 h; what is less than that and not nothing says so. [h]"""
    return "under 1 h" if 0.0 < value <= LITTLE_H else f"{number(value)} h"


def amp_hours(value: float) -> str:
    """Charge to 5 Ah; what is less than that and not nothing says so. [Ah]"""
    return "under 5 Ah" if 0.0 < value <= LITTLE_AH else f"{number(round(value / 5.0) * 5)} Ah"


def kilowatt_hours(value: float) -> str:
    """Heat to 1 kWh, above 100 to 5. [kWh]"""
    return f"{number(round(value / 5.0) * 5 if value >= 100.0 else value)} kWh"


def listed(items: Sequence[str], last: str = "and") -> str:
    """One, two and three."""
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} {last} {items[-1]}" if items else "nothing"
