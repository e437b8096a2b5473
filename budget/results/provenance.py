"""What a result was made from and with: a hash of the input, and the versions that the numbers passed through."""

from __future__ import annotations

import hashlib
import platform
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
    found = {"budget": __version__, "Python": platform.python_version()}
    for package in PACKAGES:
        try:
            found[package] = version(package)
        except PackageNotFoundError:
            continue
    return found


def provenance_of(van: Van, tour: Tour, weather_rows: Floats) -> dict[str, Any]:
    """Input hash and versions, for JSON."""
    return {"input_hash": input_hash(van, tour, weather_rows), "versions": versions()}
