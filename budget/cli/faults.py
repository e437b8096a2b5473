"""From what went wrong to one sentence on standard error and an exit code."""

from __future__ import annotations

import errno
import os
import re
import sys
from collections.abc import Callable
from typing import Any

import click

from budget.errors import BudgetError, InputFault, one_line

DONE, FAULT, USAGE, INTERNAL, INTERRUPTED = 0, 1, 2, 3, 130
TRACEBACK = "BUDGET_TRACEBACK"
_NO_NUMBER = re.compile(r"invalid value for '([^']*)': '([^']*)' is not a valid (float|integer)(?: range)?")


class ReaderGoneError(Exception):
    """Whoever read standard output stopped reading, as ``head`` does."""


def as_exit_code(run: Callable[[], Any]) -> int:
    """Run the command line; print one sentence for each fault; return the exit code."""
    speak_any_alphabet()
    try:
        code = run()
        sys.stdout.flush()
    except Exception as error:
        return told(error)
    except KeyboardInterrupt:
        return told(click.Abort())
    return code if isinstance(code, int) else DONE


def speak_any_alphabet() -> None:
    """Let a terminal that cannot show a letter show a question mark instead."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


def told(error: Exception) -> int:
    """Say what went wrong on standard error, one line a fault; the exit code that it ends in."""
    if isinstance(error, (BrokenPipeError, ReaderGoneError)):
        _close_output()
        return DONE
    if os.environ.get(TRACEBACK) == "1" and not isinstance(error, (click.ClickException, click.Abort, InputFault)):
        raise error
    sentences, code = sentences_of(error)
    try:
        for sentence in sentences:
            print(f"budget: {sentence}", file=sys.stderr)
        sys.stdout.flush()
    except OSError:
        _close_output()
    return code


def sentences_of(error: Exception) -> tuple[list[str], int]:
    """The sentences for an error, and its exit code."""
    if isinstance(error, InputFault):
        return list(error.faults), error.exit_code
    if isinstance(error, BudgetError):
        return [f"{one_line(str(error)).rstrip('.')}; nothing was written."], error.exit_code
    if isinstance(error, click.Abort):
        return ["interrupted; no result was written."], INTERRUPTED
    if isinstance(error, click.ClickException):
        return [_usage(error)], USAGE
    if isinstance(error, MemoryError):
        return ["there is not enough memory for this; shorten the tour or close other programs."], FAULT
    if isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EIO, errno.EFBIG):
        return [f"the output could not be written, the system reports: {reason(error)}; make room."], FAULT
    what = one_line(str(error))[:200] or "no message"
    return [
        f"an internal fault, {type(error).__name__}: {what}; nothing was written; run it again with "
        f"{TRACEBACK}=1 in the environment to see where."
    ], INTERNAL


def reason(error: OSError) -> str:
    """The system's word for an error, in small letters."""
    return (error.strerror or "an unknown fault").lower()


def _usage(error: click.ClickException) -> str:
    message = one_line(error.format_message()).replace(". (Did", " (did").rstrip(".")
    message = _NO_NUMBER.sub(_in_numbers, message[:1].lower() + message[1:])
    context = getattr(error, "ctx", None)
    path = context.command_path if context is not None else "budget"
    return f"{message}; see {path} --help."


def _in_numbers(found: re.Match[str]) -> str:
    """A number that was none, in the words of the other refusals."""
    option, got, kind = found.groups()
    advice = f"; write decimals with a point, {got.replace(',', '.')}" if re.fullmatch(r"-?\d+,\d+", got) else ""
    return f"{option} must be a {'whole number' if kind == 'integer' else 'number'}, got '{got}'{advice}"


def _close_output() -> None:
    """Send what is still to be flushed nowhere, so that the interpreter does not complain on its way out."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for stream in (sys.stdout, sys.stderr):
        try:
            os.dup2(nowhere, stream.fileno())
        except (OSError, ValueError):
            continue
