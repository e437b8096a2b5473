"""Energy and gas budget of a winter tour in a camper van, simulated hour by hour.

import budget
loaded = budget.load("tour.toml")            # None: the built-in demo tour
result = budget.simulate(loaded.van, loaded.tour, folder=loaded.folder)
result.summary["gas"]["total_kg"]
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

from budget.version import __version__

if TYPE_CHECKING:
    from budget.errors import BooksDoNotClose, BudgetError, InputFault
    from budget.report.image import figures
    from budget.results.result import Result, hourly_csv
    from budget.simulation import simulate
    from budget.tour.model import Tour
    from budget.tour.reader import Loaded, load
    from budget.van.model import Van
    from budget.weather.record import HourlyWeather

__all__ = [
    "BooksDoNotClose",
    "BudgetError",
    "HourlyWeather",
    "InputFault",
    "Loaded",
    "Result",
    "Tour",
    "Van",
    "__version__",
    "figures",
    "hourly_csv",
    "load",
    "simulate",
]

_HOME = {
    "BooksDoNotClose": "budget.errors",
    "BudgetError": "budget.errors",
    "InputFault": "budget.errors",
    "HourlyWeather": "budget.weather.record",
    "Loaded": "budget.tour.reader",
    "Result": "budget.results.result",
    "Tour": "budget.tour.model",
    "Van": "budget.van.model",
    "figures": "budget.report.image",
    "hourly_csv": "budget.results.result",
    "load": "budget.tour.reader",
    "simulate": "budget.simulation",
}


def __getattr__(name: str) -> Any:
    """Import a public name when it is first asked for, so that ``import budget`` itself is quick."""
    home = _HOME.get(name)
    if home is None:
        raise AttributeError(f"module 'budget' has no attribute {name!r}")
    value = getattr(importlib.import_module(home), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
