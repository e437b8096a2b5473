"""Numbers on the command line that are none, or without end, are wrong usage of every command that takes a number."""

from __future__ import annotations

from importlib import import_module

import click
import pytest
from conftest import Call

from budget.cli import COMMANDS

NEEDED = {
    "tonight": ["--gas-left=6", "--charge=70"],
    "weigh": ["--at=2027-01-10T08:00", "--bottle=11 kg exchange 1", "--kg=20"],
    "outage": ["--at=2027-01-12T22:00"],
}


def numbers() -> list[tuple[str, str]]:
    """Every option of every command that takes a number with decimals."""
    found = []
    for name, entry in COMMANDS.items():
        command = import_module(f"budget.cli.{entry.module}").command
        found += [
            (name, parameter.opts[0])
            for parameter in command.params
            if isinstance(parameter, click.Option) and isinstance(parameter.type, click.types.FloatParamType)
        ]
    return found


def test_the_options_are_found() -> None:
    assert {("tonight", "--gas-left"), ("weigh", "--kg"), ("hookup", "--amps")} <= set(numbers())


@pytest.mark.parametrize(("command", "option"), numbers(), ids=" ".join)
@pytest.mark.parametrize("value", ["nan", "inf", "-inf", "1e308", "-1e308", "cold"])
def test_a_number_that_cannot_be_is_refused(command: str, option: str, value: str, call: Call) -> None:
    """As wrong usage where the option knows its range, else by the answer's own sentence; nothing is reckoned."""
    needed = [word for word in NEEDED.get(command, []) if not word.startswith(f"{option}=")]
    ended = call(command, *needed, f"{option}={value}", "-q")
    assert ended.code == 2 or (value in ("1e308", "-1e308") and ended.code == 1)
    assert ended.out == ""
    assert ended.err.startswith("budget: ")
    assert ended.err.count("\n") == 1
