"""The logbook beside a tour: what was read on the way, a small TOML file that a person can read and correct."""

from __future__ import annotations

import datetime as dt
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from budget.errors import InputFault
from budget.moments import instant
from budget.tour.model import Tour
from budget.van.gas import Bottle

MOST_BYTES = 1_000_000
SCALE_KG = 0.05  # a luggage scale's step and hand, standard deviation; common practice, no source
OVER_KG = 0.5  # exchange bottles are filled a little over their name, and their tare is stamped roughly


@dataclass(frozen=True, order=True)
class Entry:
    """One reading: the gross weight of a bottle [kg], or the battery's state of charge [%].

    ``is_swapped`` says that the bottle was changed or filled since the reading before.
    """

    at: dt.datetime
    bottle: str = ""
    gross_kg: float = 0.0
    charge_percent: float = 0.0
    is_swapped: bool = False

    @property
    def what(self) -> tuple[dt.datetime, str]:
        """What makes it the same reading: the time, and the bottle or the battery."""
        return self.at, self.bottle


def logbook_file(tour: Path) -> Path:
    """The logbook of a tour file, beside it."""
    return tour.with_name(f"{tour.stem}.logbook.toml")


def read_logbook(path: Path) -> tuple[Entry, ...]:
    """Every reading in order of time; none when there is no such file yet."""
    if not path.exists():
        return ()
    try:
        if path.stat().st_size > MOST_BYTES:
            raise InputFault(f"{path}: a logbook may hold at most {MOST_BYTES // 10**6} MB; move it away.")
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except (ValueError, RecursionError, OSError) as fault:  # ValueError: no TOML, no text
        raise InputFault(f"{path}: the logbook must be valid TOML, got '{fault}'; correct or move it away.") from None
    listed = data.get("reading", [])
    if not isinstance(listed, list) or not all(isinstance(row, dict) for row in listed):
        raise InputFault(f"{path}: the logbook must hold tables [[reading]], got something else; move it away.")
    return tuple(sorted(_entry(row, number, path) for number, row in enumerate(listed, start=1)))


def _entry(row: dict[str, Any], number: int, path: Path) -> Entry:
    at = row.get("at")
    kinds: dict[str, Any] = {
        "bottle": str, "gross_kg": (int, float), "charge_percent": (int, float), "is_swapped": bool,
    }  # fmt: skip
    wrong = [name for name in row if name != "at" and not isinstance(row[name], kinds.get(name, ()))]
    if not isinstance(at, dt.datetime) or at.tzinfo is None:
        wrong.insert(0, "at")
    if wrong:
        raise InputFault(
            f"{path}, reading {number}: {wrong[0]} must be as `budget weigh` writes it (at with a UTC offset, bottle, "
            f"gross_kg, charge_percent, is_swapped), got {row.get(wrong[0])!r}; correct it or take the reading out."
        )
    return Entry(**row)


def written(entries: tuple[Entry, ...]) -> str:
    """The logbook as text."""
    lines = ["# Readings on the way, written by `budget weigh`. Correct a number here, or take a reading out.", ""]
    for entry in entries:
        lines += ["[[reading]]", f"at = {entry.at.isoformat()}"]
        if entry.bottle:
            escaped = entry.bottle.replace("\\", "\\\\").replace('"', '\\"')
            lines += [f'bottle = "{escaped}"', f"gross_kg = {entry.gross_kg:g}"]
            if entry.is_swapped:
                lines.append("is_swapped = true")
        else:
            lines.append(f"charge_percent = {entry.charge_percent:g}")
        lines.append("")
    return "\n".join(lines)


def with_entry(entries: tuple[Entry, ...], new: Entry) -> tuple[Entry, ...]:
    """The readings with one more; one of the same time and bottle takes the place of the other."""
    return tuple(sorted([*(entry for entry in entries if entry.what != new.what), new]))


def read_time(written_time: str, tour: Tour) -> dt.datetime:
    """A local time of the tour, or one with a UTC offset, within the tour."""
    from zoneinfo import ZoneInfo

    zone = ZoneInfo(tour.timezone)
    try:
        at = dt.datetime.fromisoformat(written_time)
    except ValueError:
        raise InputFault(
            f"--at must be a time such as 2027-01-20T08:00, got '{written_time}'; write date and time."
        ) from None
    start, time, end = (instant(each, zone) for each in (tour.start, at, tour.end))
    if time is None:
        raise InputFault(f"--at must be a time that exists, got {written_time}, which the clocks skip; correct it.")
    at = time.astimezone(zone)
    assert start is not None and end is not None, "the reader refuses a tour whose own times the clocks skip"
    if not start.timestamp() <= at.timestamp() <= end.timestamp():
        raise InputFault(
            f"--at must lie within the tour, {start:%Y-%m-%d %H:%M} to {end:%Y-%m-%d %H:%M}, got {at:%Y-%m-%d %H:%M}."
        )
    return at.replace(tzinfo=dt.timezone(at.utcoffset() or dt.timedelta()))  # so that readings sort by real time


def bottle_names(bottles: tuple[Bottle, ...]) -> tuple[str, ...]:
    """A name for each position: its own, numbered where several are alike."""
    names = [bottle.name for bottle in bottles]
    return tuple(
        name if names.count(name) == 1 else f"{name} {names[: k + 1].count(name)}" for k, name in enumerate(names)
    )


def check(entries: tuple[Entry, ...], bottles: tuple[Bottle, ...]) -> None:
    """InputFault, one sentence, for the first reading that cannot be: too heavy, too light, or gone up."""
    names = bottle_names(bottles)
    left = {
        name: bottle.net_kg if bottle.start_kg is None else bottle.start_kg
        for name, bottle in zip(names, bottles, strict=True)
    }
    for entry in entries:
        when = f"{entry.at:%Y-%m-%d %H:%M}"
        if not entry.bottle:
            if not 0.0 <= entry.charge_percent <= 100.0:
                raise InputFault(
                    f"{when}: --charge must be from 0 to 100 %, got {entry.charge_percent:g}; read it again."
                )
            continue
        if entry.bottle not in names:
            raise InputFault(
                f"{when}: --bottle must be one of {', '.join(names)}, got '{entry.bottle}'; write it as the van does."
            )
        bottle = bottles[names.index(entry.bottle)]
        held = entry.gross_kg - bottle.tare_kg
        full = bottle.tare_kg + bottle.net_kg
        if held > bottle.net_kg + OVER_KG:
            raise InputFault(
                f"{when}: {entry.bottle} weighs at most {full:g} kg when full, got {entry.gross_kg:g} kg; "
                "weigh it again, without hose and regulator."
            )
        if held < -OVER_KG:
            raise InputFault(
                f"{when}: {entry.bottle} weighs at least its tare of {bottle.tare_kg:g} kg, got {entry.gross_kg:g} kg; "
                "give the gross weight, bottle and gas."
            )
        before = left[entry.bottle]
        if not entry.is_swapped and held > before + OVER_KG:
            raise InputFault(
                f"{when}: {entry.bottle} held {before:.1f} kg of gas before and cannot hold {held:.1f} kg without a "
                "change; weigh again, or add --swapped."
            )
        left[entry.bottle] = held
