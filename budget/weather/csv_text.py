"""A weather CSV as text: remarks, heading, separator, decimal sign, and numbers by column."""

from __future__ import annotations

import csv
import difflib
import textwrap
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from budget.errors import InputFault
from budget.weather.air import Floats
from budget.weather.record import COLUMNS, UNITS

KNOWN = ("time", "temp_air", "temp_air_f", *COLUMNS[1:], "cloud")
NOTHING = {"", "nan", "na", "n/a", "null", "none", "-", "--"}
MOST_COLUMNS = 200
SHOWN_CHARACTERS = 120  # of a heading that is quoted back


@dataclass(frozen=True, eq=False)
class Table:
    """A CSV's content: remarks ("# key: value" lines), times as written, numbers by column, line number of each row."""

    remarks: dict[str, list[str]]
    times: list[str]
    numbers: dict[str, Floats]
    lines: list[int]
    notices: tuple[str, ...]


def parsed(text: str, path: Path) -> Table:
    """Take a weather CSV apart; InputFault names the line and what it should hold."""
    remarks: dict[str, list[str]] = {}
    rows: list[tuple[int, str]] = []
    for number, line in enumerate(text.split("\n"), start=1):
        if line.lstrip().startswith("#"):
            key, _, value = line.lstrip("# ").partition(":")
            remarks.setdefault(key.strip(), []).append(value.strip())
        elif line.strip(" \t;,"):
            rows.append((number, line))
    if len(rows) < 3:
        raise InputFault(
            f"{path}: a weather CSV must hold a heading and at least two rows, got {max(len(rows) - 1, 0)}; "
            "it seems cut short."
        )
    heading = rows[0][1]
    separator = max(";\t,", key=heading.count)
    if heading.count(separator) >= MOST_COLUMNS:
        raise InputFault(
            f"{path}: a weather CSV may have at most {MOST_COLUMNS} columns, got {heading.count(separator) + 1:,}; "
            "keep those that the weather needs."
        )
    names, notices = _names([cell.strip() for cell in next(csv.reader([heading], delimiter=separator))], path)
    cells = _cells(rows[1:], separator, len(names), path)
    lines = [number for number, _ in rows[1:]]
    decimal_comma = separator != ","
    numbers = {
        name: _column(cells[:, place], name, lines, decimal_comma, path)
        for place, name in enumerate(names)
        if name in KNOWN and name != "time"
    }
    times = [cell.strip() for cell in cells[:, names.index("time")]]
    return Table(remarks, times, numbers, lines, tuple(notices))


def _names(written: list[str], path: Path) -> tuple[list[str], list[str]]:
    names = [name.split("[")[0].split("(")[0].strip().lower() for name in written]
    unknown = [name for name in names if name not in KNOWN and name]
    for name in unknown:
        near = difflib.get_close_matches(name, KNOWN, n=1, cutoff=0.75)
        if near:
            raise InputFault(f"{path}: the column '{name}' is not known; did you mean {near[0]}?")
    for needed, instead in (("time", ()), ("temp_air", ("temp_air_f",))):
        if needed not in names and not any(other in names for other in instead):
            got = textwrap.shorten(", ".join(filter(None, names)), SHOWN_CHARACTERS, placeholder=" …")
            raise InputFault(
                f"{path}: a weather CSV must have the columns time and temp_air, got {got}; name the column {needed}."
            )
    if "temp_air" in names and "temp_air_f" in names:
        raise InputFault(f"{path}: give either temp_air [°C] or temp_air_f [°F], got both; remove one.")
    twice = sorted({name for name in names if name and names.count(name) > 1})
    if twice:
        raise InputFault(f"{path}: every column must stand once, got {twice[0]} twice; remove one.")
    notices = [f"{path.name}: the column '{name}' is not known and is ignored." for name in unknown]
    return names, notices


def _cells(rows: list[tuple[int, str]], separator: str, width: int, path: Path) -> np.ndarray:
    cells = []
    for (number, _), row in zip(rows, csv.reader((line for _, line in rows), delimiter=separator), strict=True):
        empty_ends = len(row) > width and not any(cell.strip() for cell in row[width:])
        if len(row) != width and not empty_ends:
            advice = "with decimal commas, separate the columns by semicolons" if len(row) > width else "complete it"
            raise InputFault(
                f"{path}, line {number}: must have {width} values as the heading has, got {len(row)}; {advice}."
            )
        cells.append(row[:width])
    return np.array(cells, dtype=object)


def _column(cells: np.ndarray, name: str, lines: list[int], decimal_comma: bool, path: Path) -> Floats:
    values = np.full(len(cells), np.nan)
    for row, cell in enumerate(cells):
        written = str(cell).strip()
        if written.lower() in NOTHING:
            continue
        plain = written.replace("\u2212", "-")
        try:
            values[row] = float(plain.replace(",", ".") if decimal_comma else plain)
        except ValueError:
            values[row] = np.inf
        if not np.isfinite(values[row]):
            unit = "°F" if name == "temp_air_f" else UNITS[name]
            raise InputFault(
                f"{path}, line {lines[row]}: {name} must be a number [{unit}], "
                f"got '{written}'; correct it or leave it empty."
            )
    return values
