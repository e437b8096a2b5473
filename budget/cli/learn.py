"""``budget learn``."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

import click

from budget.cli.common import PATH, Asked, about_a_tour, say
from budget.cli.output import write_file, write_text

if TYPE_CHECKING:
    from budget.answers.measured.doubts import Band


@click.command("learn", epilog="Example:  budget learn my-tour.toml --log night.csv")
@click.option(
    "--log",
    "logs",
    type=PATH,
    metavar="FILE",
    multiple=True,
    help="CSV of time, inside_c and outside_c, and heat where metered; may be repeated, one night each.",
)
@click.option("--afresh", is_flag=True, help="Learn from these logs alone; forget those learned from before.")
@click.option("--out", type=PATH, metavar="FILE", help="Where to write the [learned] section; none: beside the tour.")
@click.option("--dry-run", is_flag=True, help="Write no file.")
@about_a_tour
def command(asked: Asked, logs: tuple[Path, ...], afresh: bool, out: Path | None, dry_run: bool) -> None:
    """What a logged night tells about the van of TOUR: its heat loss and capacity, and how sure that is.

    A cool-down alone gives the ratio of loss to capacity; with the heat of a night metered on the hook-up (mains_kwh,
    heater_w) or a bottle weighed before and after (gas_kg) also the loss in W/K. Without --log: what to measure in a
    shakedown night, and what each measurement would be worth.

    Several nights are fitted together, in any order; those on which an earlier answer rests are kept, and a log that is
    given twice counts once.
    """
    loaded = asked.load()
    asked.prepare_engine()
    from budget.answers.measured.log_file import LogFile
    from budget.cli.records import show_answer

    if not logs:
        from budget.answers.measured.shakedown import answer as measure_next

        plan = measure_next(loaded.as_described, described=loaded.description)
        show_answer(asked, plan, {"What each night is worth": plan.nights})
        return
    from budget.answers.measured.learn import answer
    from budget.answers.measured.section import beside, nights_in, section, with_earlier

    target = out or learned_file(asked.tour or Path("tour.toml"))
    read = tuple(LogFile.read(log, loaded.tour.timezone) for log in logs)
    writes = asked.tour is not None or out is not None
    if writes and not afresh:
        if target.exists():
            nights, folder = nights_in(target), target.parent
        else:
            nights, folder = loaded.tour.learned.nights if loaded.tour.learned else (), loaded.folder
        read = with_earlier(read, nights, folder, loaded.tour.timezone)
    found = answer(loaded.as_described, loaded.tour, read, described=loaded.description)
    loss, living, ratio = found.loss, found.living_loss, found.per_capacity
    hours = [1.0 / getattr(ratio, f"{what}_p{level}") for what in ("preset", "learned") for level in (90, 50, 10)]
    tables = {
        "Before and after the log": [
            *([] if living is None else [_row("heat into the living area alone, W/K", *_numbers(living))]),
            _row("heat by its own heater, W/K", *_numbers(loss)),
            _row("time constant, h", *hours),
        ],
        "Factors on the description": [_row(band.name, *_numbers(band)) for band in found.factors],
        "Read against fitted": found.residuals,
    }
    show_answer(asked, found, tables)
    if dry_run or (out is None and (asked.tour is None or asked.as_json)):
        return
    written = section(found, dt.datetime.now(tz=dt.UTC).date(), target.parent)
    write_file(target, lambda place: write_text(place, written))
    if not asked.quiet:
        say(f"wrote {target}")
        if loaded.tour.learned is None and asked.tour is not None:
            say(f'to use it, write at the top of {asked.tour}: learned = "{beside(target, asked.tour.parent)}"')


def _numbers(band: Band) -> tuple[float, ...]:
    return tuple(getattr(band, f"{what}_p{level}") for what in ("preset", "learned") for level in (10, 50, 90))


def _row(name: str, *numbers: float) -> dict[str, object]:
    heads = ("presets P10", "P50", "P90", "learned P10", "P50 ", "P90 ")
    return {"number": name, **dict(zip(heads, numbers, strict=True))}


def learned_file(tour: Path) -> Path:
    """The file of what was learned about the van of a tour, beside it."""
    return tour.with_name(f"{tour.stem}.learned.toml")
