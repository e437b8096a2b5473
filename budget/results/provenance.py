"""What a result was made from and with: a hash of the input, and the versions that the numbers passed through."""

from __future__ import annotations

import hashlib
import platform
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING, Any

import numpy as np

from budget.engine.stepping import Floats
from budget.version import __version__

if TYPE_CHECKING:
    from budget.tour.model import Tour
    from budget.van.model import Van

PACKAGES = ("numpy", "pandas", "pvlib", "numba", "scipy", "pydantic", "plotly")


def input_hash(van: Van, tour: Tour, weather_rows: Floats) -> str:
    """Sixteen hexadecimal digits that change with any input: van, tour or an hour's weather."""
    digest = hashlib.sha256()
    digest.update(van.model_dump_json().encode())
    digest.update(tour.model_dump_json().encode())
    digest.update(np.ascontiguousarray(weather_rows, dtype="<f8").tobytes())
    return digest.hexdigest()[:16]


def versions() -> dict[str, str]:
    """The program, Python and the packages that the numbers passed through."""
    installed = {package: _installed(package) for package in PACKAGES}
    found = {"budget": __version__, "Python": platform.python_version()}
    return found | {package: number for package, number in installed.items() if number is not None}


@cache
def _installed(package: str) -> str | None:
    """A package's version, None where it is not installed: asking opens a file of text."""
    try:
        return version(package)
    except PackageNotFoundError:
        return None


def provenance_of(van: Van, tour: Tour, weather_rows: Floats) -> dict[str, Any]:
    """Input hash and versions, for JSON."""
    return {"input_hash": input_hash(van, tour, weather_rows), "versions": versions()}
