"""The time column of a weather CSV: offsets or local times, clock changes, and any step laid on whole hours."""

from __future__ import annotations

import re
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
import pandas as pd

from budget.errors import InputFault
from budget.weather.air import Floats
from budget.weather.record import IRRADIANCE

LONGEST_STEP_H = 3.0
_ISO = re.compile(r"^\d{4}-\d{1,2}-\d{1,2}[T ]\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?$")
_DOTTED = re.compile(r"^(\d{1,2})\.(\d{1,2})\.(\d{4})[T ]+(\d{1,2}:\d{2}(:\d{2})?)$")
_OFFSET = re.compile(r"\s*(Z|[+-]\d{2}:?\d{2})$")


def must_be_zone(zone: str, path: Path) -> None:
    """InputFault when a file names a time zone that does not exist."""
    try:
        ZoneInfo(zone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise InputFault(
            f"{path}: timezone must be an IANA time zone such as Europe/Riga, got '{zone}'; correct the remark."
        ) from None


def instants(times: list[str], lines: list[int], timezone: str, path: Path) -> pd.DatetimeIndex:
    """Times as written turned into UTC, in the file's order.

    With an offset in every time they are taken as they are; without, they are local times of ``timezone``, where a
    time that the autumn change repeats means summer time at its first standing and winter time at its second.
    """
    offsets = [match[1] if (match := _OFFSET.search(time)) else "" for time in times]
    plain = [_OFFSET.sub("", time) for time in times]
    if any(offsets) and not all(offsets):
        line = lines[[bool(offset) for offset in offsets].index(not offsets[0])]
        raise InputFault(
            f"{path}, line {line}: either every time must carry a UTC offset or none, got both; make them alike."
        )
    naive = pd.DatetimeIndex(pd.to_datetime([_iso(time) for time in plain], errors="coerce", format="ISO8601"))
    wrong = np.flatnonzero(naive.isna() | (naive.year < 1900) | (naive.year > 2200))
    if wrong.size:
        raise InputFault(
            f"{path}, line {lines[wrong[0]]}: time must read YYYY-MM-DD HH:MM, with a UTC offset such as +02:00 if "
            f"wanted, got '{times[wrong[0]]}'; rewrite the column."
        )
    if any(offsets):
        ahead = pd.TimedeltaIndex([_ahead(offset) for offset in offsets])
        return (naive - ahead).tz_localize("UTC")
    return _local(naive, lines, timezone, path)


def _iso(time: str) -> str | None:
    dotted = _DOTTED.match(time)
    if dotted:
        return f"{dotted[3]}-{int(dotted[2]):02d}-{int(dotted[1]):02d} {dotted[4].zfill(5)}"
    if not _ISO.match(time):
        return None
    date, clock = re.split("[T ]", time, maxsplit=1)
    year, month, day = date.split("-")
    hour, rest = clock.split(":", 1)
    return f"{year}-{int(month):02d}-{int(day):02d} {int(hour):02d}:{rest}"


def _ahead(offset: str) -> pd.Timedelta:
    if offset == "Z":
        return pd.Timedelta(0)
    digits = offset[1:].replace(":", "")
    minutes = 60 * int(digits[:2]) + int(digits[2:])
    return pd.Timedelta(minutes=-minutes if offset[0] == "-" else minutes)


def _local(naive: pd.DatetimeIndex, lines: list[int], timezone: str, path: Path) -> pd.DatetimeIndex:
    summer, winter = (
        naive.tz_localize(timezone, ambiguous=np.full(len(naive), first), nonexistent="NaT") for first in (True, False)
    )
    skipped = np.flatnonzero(summer.isna())
    if skipped.size:
        raise InputFault(
            f"{path}, line {lines[skipped[0]]}: time must exist on the clocks of {timezone}, "
            f"got {naive[skipped[0]]:%Y-%m-%d %H:%M}, which they skip; give every time a UTC offset such as +02:00."
        )
    standing = pd.Series(range(len(naive))).groupby(naive.to_numpy()).cumcount().to_numpy()
    return pd.DatetimeIndex(summer.where(standing == 0, winter)).tz_convert("UTC")


def in_order(
    stamps: pd.DatetimeIndex, numbers: dict[str, Floats], lines: list[int], path: Path
) -> tuple[pd.DatetimeIndex, dict[str, Floats], list[str]]:
    """Rows sorted by time, with a notice if they were not; a time that stands twice is refused."""
    order = np.argsort(stamps.tz_localize(None).to_numpy(), kind="stable")
    ordered = stamps[order]
    twice = np.flatnonzero(np.diff(ordered.tz_localize(None).to_numpy()) == np.timedelta64(0, "s"))
    if twice.size:
        first, second = lines[order[twice[0]]], lines[order[twice[0] + 1]]
        raise InputFault(
            f"{path}, line {second}: every time must stand once, got {ordered[twice[0]]:%Y-%m-%d %H:%M} UTC "
            f"at line {first} already; remove one of the rows."
        )
    if (np.diff(order) > 0).all():
        return stamps, numbers, []
    notice = f"{path.name}: its rows were not in order of time and have been sorted."
    return ordered, {name: values[order] for name, values in numbers.items()}, [notice]


def on_hours(stamps: pd.DatetimeIndex, numbers: dict[str, Floats], timezone: str, path: Path) -> pd.DataFrame:
    """Values on whole hours of the zone, NaN where the file has none.

    Rows up to an hour apart belong to the hour that their time falls in and are averaged. A row of a longer step, up
    to 3 h, stands for the span from its time to the next: values are interpolated between the spans' middles.
    ``row`` counts the rows, for sharing out what a long span holds.
    """
    step_h = float(np.median(np.diff(stamps.tz_localize(None).to_numpy()) / np.timedelta64(3600, "s")))
    if step_h > LONGEST_STEP_H:
        raise InputFault(
            f"{path}: a weather CSV must have a row at least every {LONGEST_STEP_H:g} h, got one every {step_h:g} h; "
            "use a finer record."
        )
    past_hour = pd.Timedelta(stamps[0].tz_convert(timezone).utcoffset()) % pd.Timedelta(hours=1)
    hour_of_row = (stamps + past_hour).floor("h") - past_hour
    if step_h <= 1.0:
        binned = pd.DataFrame(numbers, index=hour_of_row).groupby(level=0).mean()
        hours = pd.date_range(hour_of_row[0], hour_of_row[-1], freq="h")
        return binned.reindex(hours).tz_convert(timezone)
    last = stamps[-1] + pd.Timedelta(hours=step_h - 0.5)
    hours = pd.date_range(hour_of_row[0], last, freq="h")
    at_h, hour_h = (_hours_since(stamps[0], each) for each in (stamps, hours))
    row = np.clip(np.searchsorted(at_h, hour_h, side="right") - 1, 0, None)
    held = hour_h < at_h[row] + step_h
    laid = {"row": row.astype(float)}
    for name, values in numbers.items():
        known = ~np.isnan(values)
        if name in IRRADIANCE:
            laid[name] = np.where(held, values[row], np.nan)
            continue
        between = np.interp(hour_h + 0.5, (at_h + step_h / 2.0)[known], values[known]) if known.any() else np.nan
        laid[name] = np.where(held & known[row], between, np.nan)
    return pd.DataFrame(laid, index=hours).tz_convert(timezone)


def _hours_since(first: pd.Timestamp, stamps: pd.DatetimeIndex) -> Floats:
    hours: Floats = ((stamps - first) / pd.Timedelta(hours=1)).to_numpy(dtype=float)
    return hours
