"""A logged night from disk: a CSV of inside and outside temperature, and of energy where it was metered.

    time          of the reading: 2027-01-09 05:00, 2027-01-09T05:00+02:00 or 09.01.2027 05:00
    inside_c      temperature in the living area [°C]; or inside_f [°F]
    outside_c     temperature outdoors, in the shade of the sky [°C]; or outside_f [°F]
    heater_w      heat given to the room from this reading to the next, 0 for none [W]
    mains_kwh     reading of a meter that counts all that heats the room from the mains, rising [kWh]
    gas_kg        gross weight of the bottle that feeds the heater, at two readings or more [kg]

Time and the two temperatures are compulsory. With no column of energy the heater has been off all the time. Any step up
to an hour will do; readings may be missing. Columns are separated by commas, semicolons or tabs; with the latter two a
decimal comma is understood. Lines that start with # may give ``# timezone: Europe/Riga``, ``# wind_m_per_s: 2``,
``# screens_share: 1`` and ``# sky_delta_k: 5`` (how much colder than the air the sky was for long-wave loss: about 15
when clear, 0 to 3 under cloud, from memory).
"""

from __future__ import annotations

import csv
import difflib
import hashlib
import stat
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from budget.errors import InputFault
from budget.weather.air import Floats
from budget.weather.csv_time import in_order, instants, must_be_zone

MOST_BYTES = 16 * 1024 * 1024
MOST_LINES = 100_000  # a day by the second
NOTHING = {"", "nan", "na", "n/a", "null", "none", "-", "--"}
# Columns with their unit and the limits outside which a reading is refused.
COLUMNS: dict[str, tuple[str, float, float]] = {
    "inside_c": ("°C", -50.0, 60.0),
    "inside_f": ("°F", -58.0, 140.0),
    "outside_c": ("°C", -60.0, 50.0),
    "outside_f": ("°F", -76.0, 122.0),
    "heater_w": ("W", 0.0, 20_000.0),
    "mains_kwh": ("kWh", 0.0, 1e7),
    "gas_kg": ("kg", 0.2, 250.0),
}
REMARKS: dict[str, tuple[float, float, float]] = {
    "wind_m_per_s": (2.0, 0.0, 40.0),
    "screens_share": (1.0, 0.0, 1.0),
    "sky_delta_k": (5.0, 0.0, 40.0),
}


@dataclass(frozen=True, eq=False)
class LogFile:
    """Readings in order of time, UTC; what was not read is NaN. ``energy`` names the columns of energy there are.

    ``sha256`` is that of the file's bytes, by which a log that is given twice is known.
    """

    path: Path
    sha256: str
    stamps: pd.DatetimeIndex
    timezone: str
    inside_c: Floats
    outside_c: Floats
    heater_w: Floats
    mains_kwh: Floats
    gas_kg: Floats
    energy: tuple[str, ...]
    remarks: dict[str, float]
    notices: tuple[str, ...]

    @classmethod
    def read(cls, path: Path, timezone: str) -> LogFile:
        """Read a log; times without an offset are local times of ``timezone`` unless the file names a zone."""
        content = _content(path)
        said, rows = _lines(_text(content, path))
        if len(rows) < 3:
            raise InputFault(
                f"{path}: a log must hold a heading and two readings or more, got {max(len(rows) - 1, 0)}; log a night."
            )
        zone = said.get("timezone", timezone)
        must_be_zone(zone, path)
        times, numbers, lines, notices = _table(rows, path)
        stamps = instants(times, lines, zone, path)
        stamps, numbers, sorted_ = in_order(stamps, numbers, lines, path)
        for place in ("inside", "outside"):
            if f"{place}_f" in numbers:
                numbers[f"{place}_c"] = (numbers.pop(f"{place}_f") - 32.0) / 1.8
                notices.append(f"{path.name}: {place}_f is converted to °C.")
        energy = tuple(name for name in ("heater_w", "mains_kwh", "gas_kg") if name in numbers)
        nothing = np.full(len(stamps), np.nan)
        _meter_rises(numbers.get("mains_kwh", nothing), path)
        return cls(
            path=path,
            sha256=hashlib.sha256(content).hexdigest(),
            stamps=stamps,
            timezone=zone,
            inside_c=numbers["inside_c"],
            outside_c=numbers["outside_c"],
            heater_w=numbers.get("heater_w", nothing),
            mains_kwh=numbers.get("mains_kwh", nothing),
            gas_kg=numbers.get("gas_kg", nothing),
            energy=energy,
            remarks={name: _remark(said, name, path) for name in REMARKS},
            notices=(*notices, *sorted_),
        )


def _content(path: Path) -> bytes:
    try:
        found = path.stat()
        if stat.S_ISDIR(found.st_mode):
            raise InputFault(f"{path}: a log must be a CSV file, got a folder; name a file in it.")
        if not stat.S_ISREG(found.st_mode):
            raise InputFault(f"{path}: a log must be an ordinary file, got a device or pipe; save it to a file first.")
        if found.st_size > MOST_BYTES:
            raise InputFault(f"{path}: a log may hold at most {MOST_BYTES // 2**20} MB; cut it to one night.")
        return path.read_bytes()
    except (FileNotFoundError, NotADirectoryError):
        raise InputFault(f"{path}: a log is needed, got no such file; check the name and the folder.") from None
    except OSError as fault:
        raise InputFault(f"{path}: must be readable, got '{fault.strerror}'; check the file's permissions.") from None


def _text(content: bytes, path: Path) -> str:
    try:
        text = content.decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
    except UnicodeDecodeError:
        raise InputFault(f"{path}: a log must be text in UTF-8, got something else; export it as CSV.") from None
    if text.count("\n") > MOST_LINES:
        raise InputFault(
            f"{path}: a log may hold at most {MOST_LINES:,} lines, got {text.count(chr(10)):,}; cut it to one night."
        )
    return text


def _lines(text: str) -> tuple[dict[str, str], list[tuple[int, str]]]:
    remarks: dict[str, str] = {}
    rows: list[tuple[int, str]] = []
    for number, line in enumerate(text.split("\n"), start=1):
        if line.lstrip().startswith("#"):
            key, _, value = line.lstrip("# ").partition(":")
            remarks[key.strip()] = value.strip()
        elif line.strip(" \t;,"):
            rows.append((number, line))
    return remarks, rows


def _table(rows: list[tuple[int, str]], path: Path) -> tuple[list[str], dict[str, Floats], list[int], list[str]]:
    """Times as written, numbers by column, the line of each row, and notices."""
    heading = rows[0][1]
    separator = max(";\t,", key=heading.count)
    written = [cell.strip() for cell in next(csv.reader([heading], delimiter=separator))]
    names = [name.split("[")[0].split("(")[0].strip().lower() for name in written]
    notices = _check_names(names, path)
    lines = [number for number, _ in rows[1:]]
    cells = []
    for number, row in zip(lines, csv.reader((line for _, line in rows[1:]), delimiter=separator), strict=True):
        if len(row) < len(names) or any(cell.strip() for cell in row[len(names) :]):
            raise InputFault(
                f"{path}, line {number}: must have {len(names)} values as the heading has, got {len(row)}; "
                "complete it, or with decimal commas separate the columns by semicolons."
            )
        cells.append([cell.strip() for cell in row[: len(names)]])
    numbers = {
        name: np.array(
            [_number(row[k], name, line, separator != ",", path) for row, line in zip(cells, lines, strict=True)]
        )
        for k, name in enumerate(names)
        if name in COLUMNS
    }
    place = names.index("time")
    return [row[place] for row in cells], numbers, lines, notices


def _check_names(names: list[str], path: Path) -> list[str]:
    known = ("time", *COLUMNS)
    unknown = [name for name in names if name and name not in known]
    for name in unknown:
        near = difflib.get_close_matches(name, known, n=1, cutoff=0.75)
        if near:
            raise InputFault(f"{path}: the column '{name}' is not known; did you mean {near[0]}?")
    for choices in (("time",), ("inside_c", "inside_f"), ("outside_c", "outside_f")):
        here = [name for name in choices if name in names]
        if not here:
            raise InputFault(
                f"{path}: a log must have the columns time, inside_c and outside_c, "
                f"got {', '.join(filter(None, names))}; give a column the name {choices[0]}."
            )
        if len(here) > 1:
            raise InputFault(f"{path}: give either {here[0]} or {here[1]}, got both; remove one.")
    twice = sorted({name for name in names if name and names.count(name) > 1})
    if twice:
        raise InputFault(f"{path}: every column must stand once, got {twice[0]} twice; remove one.")
    return [f"{path.name}: the column '{name}' is not known and is ignored." for name in unknown]


def _number(cell: str, name: str, line: int, decimal_comma: bool, path: Path) -> float:
    if cell.lower() in NOTHING:
        return float("nan")
    unit, low, high = COLUMNS[name]
    plain = cell.replace("\u2212", "-")
    try:
        value = float(plain.replace(",", ".") if decimal_comma else plain)
    except ValueError:
        value = float("inf")
    if not low <= value <= high:
        raise InputFault(
            f"{path}, line {line}: {name} must be a number from {low:g} to {high:g} {unit}, got '{cell}'; "
            "correct it or leave it empty."
        )
    return value


def _meter_rises(mains_kwh: Floats, path: Path) -> None:
    read = mains_kwh[~np.isnan(mains_kwh)]
    falls = np.flatnonzero(np.diff(read) < 0.0)
    if falls.size:
        before, after = read[falls[0]], read[falls[0] + 1]
        raise InputFault(
            f"{path}: mains_kwh is the reading of a meter and must not fall, got {after:g} after {before:g} kWh; "
            "give the meter's reading, not the energy of each row."
        )


def _remark(said: dict[str, str], name: str, path: Path) -> float:
    usual, low, high = REMARKS[name]
    if name not in said:
        return usual
    try:
        value = float(said[name].replace(",", "."))
    except ValueError:
        value = float("nan")
    if not low <= value <= high:
        raise InputFault(f"{path}: {name} must be a number from {low:g} to {high:g}, got '{said[name]}'; correct it.")
    return value
