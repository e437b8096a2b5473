"""``budget version``."""

from __future__ import annotations

import platform
from importlib.metadata import PackageNotFoundError, version

import click

from budget import __version__
from budget.cli.common import print_json

BESIDE = ("numpy", "pandas", "pvlib", "numba", "plotly", "pydantic", "click", "rich")


@click.command("version", epilog="Example:  budget version --json")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object: this version and those it works with.")
def command(as_json: bool) -> None:
    """Print the version; with --json, those of Python and of the libraries that results depend on, too."""
    if as_json:
        print_json({"budget": __version__, "python": platform.python_version()} | {n: version_of(n) for n in BESIDE})
    else:
        click.echo(f"budget {__version__}")


def version_of(name: str) -> str:
    """Version of an installed distribution."""
    try:
        return version(name)
    except PackageNotFoundError:
        return "unknown, not installed"
