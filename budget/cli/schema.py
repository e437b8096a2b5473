"""``budget schema``."""

from __future__ import annotations

import click

from budget.cli.common import print_json


@click.command("schema", epilog="Example:  budget schema > tour.schema.json")
@click.argument("of", type=click.Choice(["tour", "summary"]), default="tour")
def command(of: str) -> None:
    """Print a JSON Schema (draft 2020-12) with meanings and units: of the tour file, or of the summary.

    tour: the tour file with its ranges. Editors that know TOML schemas complete and check a tour file whose first
    line reads  #:schema tour.schema.json

    summary: what `budget run --json` prints.
    """
    if of == "summary":
        from budget.answers.json_schema import summary_schema

        print_json(summary_schema())
        return
    from budget.tour.schema import json_schema

    print_json(json_schema())
