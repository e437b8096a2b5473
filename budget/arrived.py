"""What arrived, as it goes into a sentence: short, whatever it was."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Any

LONGEST_SHOWN = 60
MOST_NAMES = 12
LONGEST_NAME = 30  # where several names stand in one sentence


def plain(value: Any) -> Any:
    """Dates and times as text, for validation; a time of day as HH:MM."""
    if isinstance(value, dt.time):
        return f"{value:%H:%M}"
    if isinstance(value, (dt.datetime, dt.date)):
        return value.isoformat()
    if isinstance(value, dict):
        return {key: plain(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [plain(inner) for inner in value]
    return value


def written(value: Any) -> str:
    """A value that arrived; text in quotes, cut where it is long."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return f"{value:.12g}" if abs(value) < 1e300 or isinstance(value, float) else "a huge number"
    if isinstance(value, str):
        return f'"{value[:LONGEST_SHOWN]}"' + ("..." if len(value) > LONGEST_SHOWN else "")
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, (list, tuple)):
        return "a list" if value else "an empty list"
    return "nothing" if value is None else str(plain(value))


def cut(name: str, longest: int = LONGEST_SHOWN) -> str:
    """A name, or its beginning where it is long."""
    return name if len(name) <= longest else f"{name[:longest]}..."


def listed(names: Iterable[str]) -> str:
    """Names to choose from; a dozen, and how many more there are."""
    told = [cut(name, LONGEST_NAME) for name in names]
    more = len(told) - MOST_NAMES
    return ", ".join(told[:MOST_NAMES]) + (f" and {more} more" if more > 0 else "")
