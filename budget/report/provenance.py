"""Where the numbers are from: assumptions, data, versions, and a hash of the input."""

from __future__ import annotations

import hashlib
import platform
from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING

import numpy as np

from budget.report.section import Section, Table
from budget.report.words import named, plain
from budget.van.derived import numbers

if TYPE_CHECKING:
    from budget.results.result import Result

PACKAGES = ("budget", "numpy", "pandas", "pvlib", "numba", "pydantic", "plotly")


def input_hash(result: Result) -> str:
    """Sixteen hexadecimal digits that change with any input: van, tour or an hour's weather."""
    digest = hashlib.sha256()
    digest.update(result.van.model_dump_json().encode())
    digest.update(result.tour.model_dump_json().encode())
    digest.update(np.ascontiguousarray(result.weather_rows, dtype="<f8").tobytes())
    return digest.hexdigest()[:16]


def versions() -> str:
    """The program, Python and the packages that the numbers passed through."""
    found = [f"Python {platform.python_version()}"]
    for package in PACKAGES:
        try:
            found.append(f"{package} {version(package)}")
        except PackageNotFoundError:
            continue
    return ", ".join(found)


def assumptions(result: Result) -> Section:
    """The numbers that the description turned into."""
    rows = tuple((named(row.name), plain(row.value), row.unit, row.note) for row in numbers(result.van))
    learned = () if result.tour.learned is None else (result.tour.learned.sentence,)
    return Section(
        "What was assumed?",
        "The numbers that your description turned into; each can be overwritten in the tour file.",
        None,
        Table(("quantity", "value", "unit", "how"), rows),
        ("What you did not give is common practice of the trade or rough measurement, without a source.", *learned),
    )


def sources(result: Result) -> tuple[str, ...]:
    """Sentences on the data and on what produced the page."""
    weather = result.weather
    place = f"{weather.latitude_deg:.2f}° N, {weather.longitude_deg:.2f}° E, {weather.altitude_m:.0f} m"
    balance = result.balance.largest_residual_fraction
    told = [
        f"Weather: {weather.source} ({place}).",
        f"The books of heat, gas, charge, water and vapour close to {balance:.0e} of the hour's flows.",
        f"Input {input_hash(result)}. {versions()}.",
    ]
    return (*(["Invented: the plan and the data of this tour are made up."] if result.tour.invented else []), *told)
