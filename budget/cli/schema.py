"""``budget schema``."""

from __future__ import annotations

import click

from budget.cli.common import print_json


@click.command("schema", epilog="Example:  budget schema > tour.schema.json")
def command() -> None:
    """Print the JSON Schema of the tour file (draft 2020-12), with meanings, units and ranges.

    Editors that know TOML schemas complete and check a tour file whose first line reads  #:schema tour.schema.json
    """
    from budget.tour.schema import json_schema

    print_json(json_schema())
