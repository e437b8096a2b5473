"""``budget learn``."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

import click

from budget.cli.common import PATH, Asked, about_a_tour, say
from budget.cli.output import write_file, write_text

if TYPE_CHECKING:
    from budget.answers.learn import Band


@click.command("learn", epilog="Example:  budget learn my-tour.toml --log night.csv")
@click.option("--log", type=PATH, metavar="FILE", help="CSV of time, inside_c and outside_c, and heat where metered.")
@click.option("--out", type=PATH, metavar="FILE", help="Where to write the [learned] section; none: beside the tour.")
@click.option("--dry-run", is_flag=True, help="Write no file.")
@about_a_tour
def command(asked: Asked, log: Path | None, out: Path | None, dry_run: bool) -> None:
    """What a logged night tells about the van of TOUR: its heat loss and capacity, and how sure that is.

    A cool-down alone gives the ratio of loss to capacity; with the heat of a night metered on the hook-up (mains_kwh,
    heater_w) or a bottle weighed before and after (gas_kg) also the loss in W/K. Without --log: what to measure in a
    shakedown night, and what each measurement would be worth.
    """
    loaded = asked.load()
    asked.prepare_engine()
    from budget.answers.log_file import LogFile
    from budget.cli.records import show_answer

    if log is None:
        from budget.answers.shakedown import answer as measure_next

        plan = measure_next(loaded.as_described, described=loaded.description)
        show_answer(asked, plan, {"What each night is worth": plan.nights})
        return
    from budget.answers.learn import answer

    read = LogFile.read(log, loaded.tour.timezone)
    found = answer(loaded.as_described, loaded.tour, read, described=loaded.description)
    loss, ratio = found.loss, found.per_capacity
    hours = [1.0 / getattr(ratio, f"{what}_p{level}") for what in ("preset", "learned") for level in (90, 50, 10)]
    tables = {
        "Before and after the log": [_row(loss.name, *_numbers(loss)), _row("time constant, h", *hours)],
        "Factors on the description": [_row(band.name, *_numbers(band)) for band in found.factors],
        "Read against fitted": found.residuals,
    }
    show_answer(asked, found, tables)
    if out is None and (asked.tour is None or dry_run or asked.as_json):
        return
    target = out or learned_file(asked.tour or Path("tour.toml"))
    section = found.toml(dt.datetime.now(tz=dt.UTC).date())
    write_file(target, lambda beside: write_text(beside, section))
    if not asked.quiet:
        say(f"wrote {target}")
        if loaded.tour.learned is None and asked.tour is not None:
            say(f'to use it, write at the top of {asked.tour}: learned = "{_beside(target, asked.tour)}"')


def _numbers(band: Band) -> tuple[float, ...]:
    return tuple(getattr(band, f"{what}_p{level}") for what in ("preset", "learned") for level in (10, 50, 90))


def _row(name: str, *numbers: float) -> dict[str, object]:
    heads = ("presets P10", "P50", "P90", "learned P10", "P50 ", "P90 ")
    return {"number": name, **dict(zip(heads, numbers, strict=True))}


def _beside(target: Path, tour: Path) -> str:
    """A file's name as a tour file gives it: relative where it can be."""
    try:
        return target.resolve().relative_to(tour.resolve().parent).as_posix()
    except ValueError:
        return target.resolve().as_posix()


def learned_file(tour: Path) -> Path:
    """The file of what was learned about the van of a tour, beside it."""
    return tour.with_name(f"{tour.stem}.learned.toml")
