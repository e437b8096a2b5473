"""A file that is whole or not there: written beside its place, under a name of the project's own, and moved there."""

from __future__ import annotations

import contextlib
import os
import re
import tempfile
from collections.abc import Callable
from pathlib import Path

MARK = ".budget-unfinished-"  # no editor, person or other program names its files so
_RANDOM = "[a-z0-9_]{8}"  # as tempfile draws it


def write_whole(place: Path, writer: Callable[[Path], object]) -> None:
    """Let ``writer`` write a file beside its place and move it there; OSError as the system raises it."""
    beside = made_beside(place)
    try:
        writer(beside)
        os.replace(beside, place)
    finally:
        beside.unlink(missing_ok=True)


def made_beside(place: Path) -> Path:
    """An empty file beside a place, with the permissions of any new file and the place's own kind of name."""
    head, suffix = _around(place.name)
    handle, name = tempfile.mkstemp(prefix=head, suffix=suffix, dir=place.parent)
    mask = os.umask(0)
    os.umask(mask)
    with contextlib.suppress(AttributeError, OSError):
        os.fchmod(handle, 0o666 & ~mask)
    os.close(handle)
    return Path(name)


def left_beside(place: Path) -> list[Path]:
    """What runs that were ended from outside left beside a place: files that ``made_beside`` named, and no others."""
    head, suffix = map(re.escape, _around(place.name))
    named = re.compile(f"{head}{_RANDOM}{suffix}")
    return [path for path in place.parent.glob(f"{MARK}*") if named.fullmatch(path.name)]


def _around(name: str) -> tuple[str, str]:
    """What stands before and after the random part; short, since a file's name has at most 255 bytes."""
    return f"{MARK}{name[:40]}.", Path(name).suffix[:12]
