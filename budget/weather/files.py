"""A weather file from disk as text, and which of the known kinds it is."""

from __future__ import annotations

import stat
from pathlib import Path

from budget.errors import InputFault

MOST_BYTES = 64 * 1024 * 1024
MOST_LINES = 1_000_000  # nearly two years by the minute, nineteen by ten minutes
PACKED = {b"PK\x03\x04": "a zip archive", b"\x1f\x8b": "a gzip archive", b"7z\xbc\xaf": "a 7z archive"}
UTF16_MARKS = (b"\xff\xfe", b"\xfe\xff")
KNOWN_KINDS = "EPW, TMY3, TMY2, PVGIS (CSV or JSON), NSRDB or SAM CSV, or a CSV with the columns time and temp_air"


def read_text(path: Path) -> str:
    """The text of a weather file, line ends made plain; InputFault, in one sentence, when there is none to be had."""
    try:
        found = path.stat()
        if stat.S_ISDIR(found.st_mode):
            raise InputFault(f"{path}: a weather file is needed, got a directory; name a file in it.")
        if not stat.S_ISREG(found.st_mode):
            raise InputFault(f"{path}: must be an ordinary file, got a device or pipe; save it to a file first.")
        size = found.st_size
        if size > MOST_BYTES:
            raise InputFault(
                f"{path}: a weather file may hold at most {MOST_BYTES // 2**20} MB, got {size / 2**20:.0f} MB; "
                "cut it to the tour's dates."
            )
        raw = path.read_bytes()
    except (FileNotFoundError, NotADirectoryError):
        raise InputFault(
            f"{path}: a weather file is needed, got no such file; check the name and the folder."
        ) from None
    except OSError as fault:
        raise InputFault(f"{path}: must be readable, got '{fault.strerror}'; check the file's permissions.") from None
    return _decoded(path, raw)


def _decoded(path: Path, raw: bytes) -> str:
    if not raw.strip():
        raise InputFault(f"{path}: must hold weather, got an empty file; save or download it again.")
    for mark, what in PACKED.items():
        if raw.startswith(mark):
            raise InputFault(f"{path}: must be a text file, got {what}; unpack it first.")
    if raw.startswith(UTF16_MARKS):
        encoding = "utf-16"
    elif b"\x00" in raw:
        raise InputFault(f"{path}: must be a text file, got binary data; export the weather as CSV or EPW.")
    else:
        encoding = "utf-8-sig"
    try:
        text = raw.decode(encoding)
    except UnicodeDecodeError:
        # Station names in older typical-year files are Latin-1; a CSV of numbers has no need of it.
        text = raw.decode("iso-8859-1")
        if kind_of(text) in ("csv", "unknown"):
            raise InputFault(f"{path}: must be text in UTF-8, got another encoding; save it again as UTF-8.") from None
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    lines = text.count("\n")
    if lines > MOST_LINES:
        raise InputFault(
            f"{path}: a weather file may hold at most {MOST_LINES:,} lines, got {lines:,}; cut it to the tour's dates."
        )
    return text


def kind_of(text: str) -> str:
    """Kind of a weather file by its first lines: a key of ``budget.weather.formats.READERS``, "csv" or "unknown"."""
    lines = text[:4096].split("\n")
    first = lines[0].strip()
    second = lines[1] if len(lines) > 1 else ""
    if first.upper().startswith("LOCATION,"):
        return "epw"
    if first.startswith("{"):
        return "pvgis_json"
    if first.startswith("Latitude (decimal degrees)"):
        return "pvgis_csv" if "month,year" in text[:1024] else "pvgis_hourly_csv"
    if second.startswith("Date (MM/DD/YYYY)"):
        return "tmy3"
    if "ObservationTime(LST)" in second:
        return "lst_csv"
    header = {name.strip().lower() for name in first.split(",")}
    if header & {"latitude", "lat"} and header & {"time zone", "timezone", "tz"}:
        return "sam_csv"
    if len(second) > 130 and second[1:9].isdigit():
        return "tmy2"
    return "csv" if _looks_like_csv(lines) else "unknown"


def _looks_like_csv(lines: list[str]) -> bool:
    heading = next((line for line in lines if line.strip() and not line.lstrip().startswith("#")), "")
    return any(mark in heading for mark in (",", ";", "\t")) or heading.strip().lower() in ("time", "temp_air")
