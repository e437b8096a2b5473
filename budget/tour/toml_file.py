"""A TOML file read with care: what cannot be read is refused in one sentence."""

from __future__ import annotations

import datetime as dt
import difflib
import os
import re
import stat
import sys
import tomllib
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path as FilePath
from typing import Any

from budget.errors import InputFault
from budget.tour.faults import Fault, Path
from budget.tour.locator import key_lines, line_of

MOST_BYTES = 1_000_000
DEEPEST = 20
_MOST_DOTS_IN_KEY = 200  # tomllib's work grows with the square of a key's dots
_BETWEEN_KEYS = re.compile(r"[,=\[\]{}\n]|#.*")
_LISTS = "stops|people|draws|cooking|drying|away|stops\\.exchange"
_PLACE = re.compile(r"\s*\((?:at line (\d+), column \d+|at end of document)\)$")


@dataclass(frozen=True)
class TomlFile:
    """The data of a file, the name it is spoken of by, and the lines of its keys."""

    name: str
    path: FilePath
    data: dict[str, Any]
    text: str = field(default="", repr=False)

    @cached_property
    def lines(self) -> dict[Path, int]:
        """Line of every key, table and list item."""
        return key_lines(self.text)

    def line(self, path: Path) -> int | None:
        """Line of a field, or of the nearest thing that holds it, in a [tour] table too."""
        return line_of(self.lines, path) or (line_of(self.lines, ("tour", *path)) if path else None)

    def where(self, path: Path) -> str:
        """ "my-tour.toml line 14" for a field; the file's name alone for what stands on no line."""
        line = self.line(path)
        return f"{self.name} line {line}" if line else self.name

    def sentence(self, fault: Fault) -> str:
        """The fault's whole sentence, file and line first."""
        return fault.sentence(self.where(fault.path))


def read_toml(path: FilePath, name: str | None = None) -> TomlFile:
    """Read a TOML file; InputFault for what is missing, no file, too large, not text, not TOML, empty or too deep."""
    named = name or str(path)
    text = _text(path, named)
    if any(part.count(".") > _MOST_DOTS_IN_KEY for part in _BETWEEN_KEYS.split(text)):
        raise InputFault(_too_deep(named))
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputFault(_syntax_sentence(named, text, str(error))) from None
    except RecursionError:
        raise InputFault(_too_deep(named)) from None
    except ValueError:  # Python's own limit on the digits of a whole number
        number, digits = _longest_number(text)
        raise InputFault(
            f"{named} line {number} must hold numbers of at most {sys.get_int_max_str_digits()} digits, "
            f"got one of {digits}; correct it."
        ) from None
    if not data:
        raise InputFault(f"{named} must describe a tour or a van, got an empty file; begin with a starter file.")
    if _depth(data) > DEEPEST:
        raise InputFault(_too_deep(named))
    return TomlFile(named, path, data, text)


def _longest_number(text: str) -> tuple[int, int]:
    """Line and length of the longest run of digits."""
    longest = max(re.finditer(r"\d[\d_]*", text), key=lambda run: len(run[0]))
    return text.count("\n", 0, longest.start()) + 1, len(longest[0].replace("_", ""))


def _too_deep(named: str) -> str:
    return f"{named} must not nest tables and lists deeper than {DEEPEST} levels; write the tables one after another."


def _text(path: FilePath, named: str) -> str:
    try:
        mode = os.stat(path).st_mode
        if stat.S_ISDIR(mode):
            raise InputFault(f"{named} must be a TOML file, got a folder; name the file in it.")
        if not stat.S_ISREG(mode):
            raise InputFault(f"{named} must be an ordinary file, got a device or pipe; save it to a file first.")
        with open(path, "rb") as file:
            raw = file.read(MOST_BYTES + 1)
    except (FileNotFoundError, NotADirectoryError, ValueError):
        raise InputFault(f"{named} must be a file that exists, none is there; {_near(path)}") from None
    except PermissionError:
        raise InputFault(f"{named} must be readable, access was denied; change its permissions.") from None
    except OSError as error:
        reason = (error.strerror or "an unknown fault").lower()
        raise InputFault(f"{named} must be readable, the system reports: {reason}; check the file.") from None
    if len(raw) > MOST_BYTES:
        raise InputFault(f"{named} must be at most 1 MB of text, got more; a tour file needs a few kilobytes.")
    if not raw.strip():
        raise InputFault(f"{named} must describe a tour or a van, got an empty file; begin with a starter file.")
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise InputFault(f"{named} must be UTF-8 text, got UTF-16; save it as UTF-8.")
    if b"\0" in raw:
        raise InputFault(f"{named} must be UTF-8 text, got binary data; name a tour file.")
    try:
        return raw.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise InputFault(f"{named} line {line} must be UTF-8 text, got another encoding; save it as UTF-8.") from None


def _near(path: FilePath) -> str:
    """What to do about a file that is not there: a file of nearly that name in its folder, if there is one."""
    try:
        there = [other.name for other in path.parent.iterdir() if other.suffix == ".toml"]
    except (OSError, ValueError):
        there = []
    forgot = [name for name in there if name == f"{path.name}.toml"]
    near = forgot or difflib.get_close_matches(path.name, there, n=1, cutoff=0.8)
    return f"did you mean {path.parent / near[0]}?" if near else "check the name and folder."


def _syntax_sentence(named: str, text: str, message: str) -> str:
    place = _PLACE.search(message)
    cause = re.sub(r"\('([^()]*)',?\)", lambda name: name[1].replace("', '", "."), _PLACE.sub("", message)).rstrip(".")
    lines = text.rstrip("\n").split("\n")
    number = int(place[1]) if place and place[1] else len(lines)
    line = lines[min(number, len(lines)) - 1].strip()
    cause = cause[0].lower() + cause[1:]
    return f"{named} line {number} must be valid TOML, got {line[:60]!r} ({cause}); {_advice(line, cause)}"


def _advice(line: str, cause: str) -> str:
    comma = re.search(r"=\s*([+-]?\d+),(\d+)\s*(?:#.*)?$", line)
    if comma:
        return f"write decimals with a point, {comma[1]}.{comma[2]}."
    table = re.match(rf"^\[\[?({_LISTS})\]", line)
    if table and ("verwrite" in cause or "twice" in cause):
        return f"write [[{table[1]}]] with double brackets each time."
    if "verwrite" in cause or "twice" in cause or "mutable" in cause or "namespace" in cause:
        return "give each name once."
    if "illegal character" in cause and line.count('"') % 2 == 1:
        return "end the text with a double quote."
    if re.match(r"^[\w.\-]+\s*:\s", line):
        return "write = between name and value."
    if re.search(r"=\s*(?:True|False)\b", line):
        return "write true and false in small letters."
    if re.search(r"=\s*(?:yes|no|on|off)\s*(?:#.*)?$", line, flags=re.IGNORECASE):
        return "write true or false."
    time = _time_without_seconds(line)
    if time:
        return f"TOML writes a time with its seconds: {time}."
    if re.search(r"=\s*(?:\d{1,2}[./-]\d{1,2}[./-]\d{4}|\d{4}[-./]\d{1,2}[-./]\d{1,2})", line):
        return "write a date as year-month-day, such as 2027-01-09."
    number = re.search(r"=\s*([+-]?\d+(?:\.\d+)?)\s*[^\W\d_°]*°?[^\W\d_]*\s*(?:#.*)?$", line)
    if number and "expected newline" in cause:
        return f"write the number alone, {number[1]}."
    if re.search("[“”„«»]", line):
        return "write straight double quotes."
    if "invalid value" in cause and re.search(r"=\s*[^\d\s\[{\"'+-]", line):
        return "put text in double quotes."
    return "correct that line."


def _time_without_seconds(line: str) -> str | None:
    """The line set right, where a time lacks its seconds, its minutes too, or the hour's first digit."""
    found = re.match(r"^([\w.\-]+\s*=\s*)(\d{4}-\d\d-\d\d)[T ](\d{1,2})(?::(\d\d)(?::\d\d)?)?\s*(?:#.*)?$", line)
    if found is None:
        return None
    time = f"{found[2]}T{int(found[3]):02d}:{found[4] or '00'}:00"
    try:
        dt.datetime.fromisoformat(time)
    except ValueError:
        return None
    return f"{found[1]}{time}"


def _depth(data: Any) -> int:
    deepest, waiting = 0, [(data, 1)]
    while waiting:
        value, depth = waiting.pop()
        deepest = max(deepest, depth)
        if isinstance(value, dict):
            waiting += [(inner, depth + 1) for inner in value.values()]
        elif isinstance(value, list):
            waiting += [(inner, depth + 1) for inner in value]
    return deepest
