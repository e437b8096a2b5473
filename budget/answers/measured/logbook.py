"""The logbook beside a tour: what was read on the way, a small TOML file that a person can read and correct."""

from __future__ import annotations

import datetime as dt
import itertools
import tomllib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from budget.arrived import written as shown
from budget.errors import InputFault
from budget.tour.faults import Fault
from budget.tour.itinerary import Clock
from budget.tour.timeline import Timeline
from budget.tour.toml_text import toml_string
from budget.van.gas import Bottle

MOST_NUMBER = 1e6  # what is more, or no number at all, no scale or battery monitor reads
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


def read_logbook(path: Path, timeline: Timeline) -> tuple[Entry, ...]:
    """Every reading in order of time, by the tour's clock; none when there is no such file yet.

    InputFault, one sentence, for what is no logbook and for a reading outside the tour, as after its dates were moved.
    """
    if not path.exists():
        return ()
    try:
        if path.stat().st_size > MOST_BYTES:
            raise InputFault(f"{path}: a logbook may hold at most {MOST_BYTES // 10**6} MB; move it away.")
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except (ValueError, RecursionError, OSError) as fault:  # ValueError: no TOML, no text
        raise InputFault(f"{path}: the logbook must be valid TOML, got '{fault}'; correct or move it away.") from None
    listed = data.pop("reading", [])
    if data or not isinstance(listed, list) or not all(isinstance(row, dict) for row in listed):
        raise InputFault(f"{path}: the logbook must hold tables [[reading]], got something else; move it away.")
    return tuple(sorted(_entry(row, f"{path}, reading {n}", timeline) for n, row in enumerate(listed, start=1)))


def _entry(row: dict[str, Any], where: str, timeline: Timeline) -> Entry:
    at = row.get("at")
    wrong = [name for name in row if name != "at" and not _is_written(name, row[name])]
    if not isinstance(at, dt.datetime) or at.tzinfo is None:
        wrong.insert(0, "at")
    if wrong:
        raise InputFault(
            f"{where}: {wrong[0]} must be as `budget weigh` writes it (at with a UTC offset, bottle, gross_kg, "
            f"charge_percent, is_swapped), got {shown(row.get(wrong[0]))}; correct it or take the reading out."
        )
    names = row.keys() - {"at", "is_swapped"}
    if names != {"bottle", "gross_kg"} and row.keys() != {"at", "charge_percent"}:
        raise InputFault(
            f"{where}: must have either bottle and gross_kg or charge_percent beside at, got {', '.join(row)}; "
            "complete it or take the reading out."
        )
    entry = Entry(**row)
    start, end = timeline.edges[0], timeline.edges[-1]
    if not start <= entry.at <= end:
        raise InputFault(
            f"{where}: at must lie within the tour, {_minute(start)} to {_minute(end)}, got {_minute(entry.at)}; "
            "correct the date, take the reading out, or move the logbook of another tour away."
        )
    return replace(entry, at=_by_the_clock(entry.at, start.tzinfo))


def _is_written(name: str, value: Any) -> bool:
    """Whether a value of a reading is of the kind that is written; a number within what anything reads."""
    if name in ("gross_kg", "charge_percent"):
        is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
        return is_number and -MOST_NUMBER <= value <= MOST_NUMBER
    return isinstance(value, {"bottle": str, "is_swapped": bool}.get(name, ()))


def _minute(at: dt.datetime) -> str:
    return f"{at:%Y-%m-%d %H:%M}"


def written(entries: tuple[Entry, ...]) -> str:
    """The logbook as text."""
    lines = ["# Readings on the way, written by `budget weigh`. Correct a number here, or take a reading out.", ""]
    for entry in entries:
        lines += ["[[reading]]", f"at = {entry.at.isoformat()}"]
        if entry.bottle:
            lines += [f"bottle = {toml_string(entry.bottle)}", f"gross_kg = {entry.gross_kg:g}"]
            if entry.is_swapped:
                lines.append("is_swapped = true")
        else:
            lines.append(f"charge_percent = {entry.charge_percent:g}")
        lines.append("")
    return "\n".join(lines)


def with_entry(entries: tuple[Entry, ...], new: Entry) -> tuple[Entry, ...]:
    """The readings with one more; one of the same time and bottle takes the place of the other."""
    return tuple(sorted([*(entry for entry in entries if entry.what != new.what), new]))


def read_time(written_time: str, timeline: Timeline) -> dt.datetime:
    """A local time of the tour, or one with a UTC offset, within the tour; by the tour's clock."""
    start, end = timeline.edges[0], timeline.edges[-1]
    faults: list[Fault] = []
    try:
        at = dt.datetime.fromisoformat(written_time)
    except ValueError:
        raise InputFault(
            f"--at must be a time such as 2027-01-20T08:00, got '{written_time}'; write date and time."
        ) from None
    near = start.year - 1 <= at.year <= end.year + 1  # what is far from the tour may have no instant in UTC
    instant = Clock(start.tzinfo, faults).utc(at, ("--at",)) if near else None
    if faults:
        raise InputFault(faults[0].sentence())
    if instant is None or not start <= instant <= end:
        got = at if instant is None else instant.astimezone(start.tzinfo)
        raise InputFault(f"--at must lie within the tour, {_minute(start)} to {_minute(end)}, got {_minute(got)}.")
    return _by_the_clock(instant, start.tzinfo)


def _by_the_clock(at: dt.datetime, zone: dt.tzinfo) -> dt.datetime:
    """A time as the tour's clock shows it, with that moment's offset: an hour that comes twice keeps its order."""
    local = at.astimezone(zone)
    return local.replace(tzinfo=dt.timezone(local.utcoffset() or dt.timedelta()))


def bottle_names(bottles: tuple[Bottle, ...]) -> tuple[str, ...]:
    """A name for each position: its own, numbered where several are alike by numbers that make no other's name."""
    names = [bottle.name for bottle in bottles]
    told: list[str] = []
    for name in names:
        numbered = (f"{name} {number}" for number in itertools.count(1))
        alone = names.count(name) == 1
        told.append(name if alone else next(each for each in numbered if each not in {*names, *told}))
    return tuple(told)


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
