"""What ``budget run --also`` writes beside the report: Parquet, a calendar, figures as images."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from budget.cli.output import OutputFolder

if TYPE_CHECKING:
    from budget.results.result import Result

FORMATS = ("parquet", "calendar", "png", "svg")
IMAGES = ("png", "svg")
FIGURES = ("gas", "warmth", "battery", "heat", "frost", "damp", "water", "pressure")
PARQUET, CALENDAR = "hourly.parquet", "calendar.ics"


def names_of(also: tuple[str, ...], figures: tuple[str, ...]) -> tuple[str, ...]:
    """The files that are asked for, each once."""
    named = {"parquet": [PARQUET], "calendar": [CALENDAR]}
    named |= {kind: [f"{figure}.{kind}" for figure in figures] for kind in IMAGES}
    return tuple(dict.fromkeys(name for kind in also for name in named[kind]))


def refuse_wrong_use(also: tuple[str, ...], figures: tuple[str, ...], folder: object) -> None:
    """UsageError for files that have no folder, and for figures that nothing draws."""
    if also and folder is None:
        raise click.UsageError("--also writes files; with --json, name their folder with -o")
    if figures and not set(also) & set(IMAGES):
        raise click.UsageError("--figure needs --also png or --also svg")


def refuse_what_is_missing(also: tuple[str, ...]) -> None:
    """InputFault before the work where a package or a browser that a format needs is not on this machine."""
    if "parquet" in also:
        from budget.results.parquet import refuse_without_parquet

        refuse_without_parquet()
    if set(also) & set(IMAGES):
        from budget.report.image import refuse_without_drawing

        refuse_without_drawing()


def write(out: OutputFolder, result: Result, also: tuple[str, ...], figures: tuple[str, ...]) -> None:
    """Write every format that is asked for."""
    from budget.cli.output import write_text

    if "parquet" in also:
        from budget.results.parquet import write_parquet

        out.write(PARQUET, lambda place: write_parquet(result, place))
    if "calendar" in also:
        import datetime as dt

        from budget.answers.bottle_plan import answer
        from budget.report.tour_dates import calendar_of

        text = calendar_of(result, answer(result).chances, dt.datetime.now(dt.UTC))
        out.write(CALENDAR, lambda place: write_text(place, text))
    wanted = [name.rsplit(".", 1) for name in names_of(also, figures) if name.endswith(IMAGES)]
    if wanted:
        from budget.report.image import images
        from budget.report.reading import FIGURES as DRAWN
        from budget.report.scene import Scene

        scene = Scene.of(result.timeline)
        sections = {figure: DRAWN[figure](result, scene) for figure, _ in wanted}
        for (figure, kind), image in zip(wanted, images([(sections[f], k) for f, k in wanted]), strict=True):
            out.write(f"{figure}.{kind}", partial(_store, image))


def _store(image: bytes, place: Path) -> None:
    place.write_bytes(image)
