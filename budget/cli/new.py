"""``budget new``."""

from __future__ import annotations

from pathlib import Path

import click

from budget.cli.common import PATH, say


@click.command("new", epilog="Example:  budget new my-tour.toml")
@click.argument("file", type=PATH)
@click.option(
    "--tier",
    type=click.Choice(["quick", "full"]),
    default="quick",
    show_default=True,
    help="quick: six answers to change; full: every field with its meaning, unit and range.",
)
@click.option("-q", "--quiet", is_flag=True, help="No talk.")
def command(file: Path, tier: str, quiet: bool) -> None:
    """Write a starter tour file to FILE, every line explained. It runs as it is; change what differs."""
    from budget.tour.starter import write_starter

    write_starter(file, "full" if tier == "full" else "quick")
    if not quiet:
        say(f"wrote {file}; change its lines, then: budget run {file}")
