"""``budget help``."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import click

from budget.errors import InputFault

_FOLDER = Path(__file__).resolve().parent / "topics"

# Topic: what it is about. Those without a packaged page are made from the models and commands themselves.
TOPICS = {
    "answer": "How to read the answer.",
    "tour-file": "Every value of the tour file, with unit, range and default.",
    "presets": "The words that stand for numbers: vans, heaters, bottles, batteries, comfort.",
    "weather": "Where weather comes from, and the CSV format.",
    "model": "What is reckoned, how the parts meet, and what is left out.",
    "equations": "Every formula with its source, range and unit.",
    "formats": "The files that a run writes: report, CSV, Parquet, calendar, images, JSON.",
    "hourly": "Every column of the hourly table, with its unit and sign.",
    "cautions": "What no plan replaces.",
    "commands": "Every command with its options, and the exit codes.",
}


@click.command("help", epilog="Example:  budget help answer")
@click.argument("topic", required=False)
def command(topic: str | None) -> None:
    """Explain TOPIC; with none, list the topics. The name of a command shows that command's help."""
    if topic is None:
        for name, about in TOPICS.items():
            click.echo(f"  budget help {name:<10}  {about}")
        return
    from budget.cli import COMMANDS, main

    if topic in COMMANDS and topic not in TOPICS:
        main.main([topic, "--help"], prog_name="budget", standalone_mode=False)
        return
    if topic not in TOPICS:
        from budget.tour.faults import did_you_mean

        raise InputFault(f'there is no topic "{topic}"; {did_you_mean(topic, TOPICS)}')
    _show(page(topic))


def page(topic: str) -> str:
    """The text of a topic, in Markdown."""
    from budget.cli import equations, reference

    made: dict[str, Callable[[], str]] = {
        "tour-file": reference.tour_file,
        "presets": reference.presets_page,
        "commands": reference.commands,
        "equations": equations.equations,
        "hourly": reference.hourly,
    }
    return made[topic]() if topic in made else (_FOLDER / f"{topic}.md").read_text(encoding="utf-8")


def _show(markdown: str) -> None:
    if not sys.stdout.isatty():
        click.echo(markdown.rstrip("\n"))
        return
    from rich.markdown import Markdown

    from budget.cli.terminal import console

    console().print(Markdown(markdown))
