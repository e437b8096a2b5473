"""The ``[learned]`` section as text, and the logs on which one that was written before rests."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from budget.answers.measured.doubts import Band
from budget.answers.measured.learn import Learned
from budget.answers.measured.log_file import LogFile
from budget.errors import InputFault
from budget.part import LONGEST_TEXT
from budget.tour.toml_file import read_toml
from budget.tour.toml_text import toml_string
from budget.van.learned import LearnedNight, LearnedSection
from budget.weather.air import Floats


def section(found: Learned, made: dt.date, folder: Path) -> str:
    """The ``[learned]`` section as text, for a file in ``folder``."""
    lines = [
        "# Written by `budget learn`: factors on the van as it is described, from a log. Delete it to forget them.",
        "[learned]",
        f"made = {made.isoformat()}",
        f"source = {toml_string(_within(found.source))}",
        f"place = {toml_string(_within(found.place))}",
        f"start = {found.logs[0].start.isoformat()}",
        f"end = {found.logs[-1].end.isoformat()}",
        f"is_absolute = {_yes(found.is_absolute)}  # false: only loss over capacity was measured",
        "",
        "# P10, P50, P90; one tour is reckoned with P50, the odds draw from the whole range.",
        f"preset_loss_w_per_k = {_numbers(found.loss.preset_p10, found.loss.preset_p50, found.loss.preset_p90)}",
        f"loss_w_per_k = {_three(found.loss)}",
        f"loss_per_capacity_per_h = {_three(found.per_capacity)}",
        "",
        "# Correlation of the factors' logarithms, rows in the order below: what is known together.",
        "correlation = [",
        *(f"  [{', '.join(f'{value:.3f}' for value in row)}]," for row in _correlation(found.log_cover)),
        "]",
        "",
        "[learned.factors]",
        *(f"{band.name} = {_three(band)}" for band in found.factors),
        "",
        "# The logs on which this rests; a further one is fitted together with them.",
    ]
    for log in found.logs:
        lines += [
            "[[learned.nights]]",
            f"log = {toml_string(beside(log.path, folder))}",
            f'sha256 = "{log.sha256}"',
            f"start = {log.start.isoformat()}",
            f"end = {log.end.isoformat()}",
            f"is_absolute = {_yes(log.is_absolute)}",
        ]
    return "\n".join(lines) + "\n"


def nights_in(path: Path) -> tuple[LearnedNight, ...]:
    """The logs on which the section in a file rests; InputFault when it is none."""
    table = read_toml(path).data.get("learned")
    try:
        return LearnedSection.model_validate(table).nights
    except ValueError:
        raise InputFault(
            f"{path}: what was learned before must be as `budget learn` writes it, got something else; "
            "move it away, or add --afresh."
        ) from None


def with_earlier(
    given: Sequence[LogFile], nights: Sequence[LearnedNight], folder: Path, timezone: str
) -> tuple[LogFile, ...]:
    """The logs that were given, and those of earlier nights, which stand where they stood and as they were.

    InputFault for an earlier log that is gone or has changed, unless it is given anew.
    """
    found = list(given)
    for night in nights:
        path = folder / night.log
        if any(log.sha256 == night.sha256 or log.path.resolve() == path.resolve() for log in given):
            continue
        advice = "name it as it is now with another --log, or add --afresh to learn without it"
        if not path.exists():
            raise InputFault(
                f"{path}: the log of {night.start.day} {night.start:%B %Y}, on which the numbers learned before rest, "
                f"must be there, got no such file; {advice}."
            )
        log = LogFile.read(path, timezone)
        if log.sha256 != night.sha256:
            raise InputFault(f"{path}: must be as it was when learned from, got a file that has changed; {advice}.")
        found.append(log)
    return tuple(found)


def beside(path: Path, folder: Path) -> str:
    """A file's name as a file in a folder gives it: relative where it can be."""
    try:
        return path.resolve().relative_to(folder.resolve()).as_posix()
    except ValueError:
        return path.resolve().as_posix()


def _correlation(cover: Floats) -> Floats:
    spread = np.sqrt(np.maximum(np.diag(cover), 1e-12))
    found: Floats = cover / np.outer(spread, spread) + 0.0
    return found


def _three(band: Band) -> str:
    return _numbers(band.learned_p10, band.learned_p50, band.learned_p90)


def _numbers(*values: float) -> str:
    return f"[{', '.join(f'{value:.4g}' for value in values)}]"


def _within(words: str) -> str:
    """Words as long as a tour file may have them; the logs stand in full below."""
    return words if len(words) <= LONGEST_TEXT else f"{words[: LONGEST_TEXT - 4]} ..."


def _yes(answer: bool) -> str:
    return str(answer).lower()
