"""Values of a wrong type that validation would quietly turn into the right one: "6" for 6, true for 1."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from typing import Any

from budget.tour.faults import Path
from budget.tour.sentences import children, inside

_DATE = re.compile(r"\d{4}-\d\d-\d\d")
_NUMBERS = {float, int}
_NONE = type(None)


def coerced(annotation: Any, value: Any, path: Path = ()) -> Iterator[tuple[Path, str, Any]]:
    """Path, kind of fault (as pydantic names it) and value of everything that has a wrong type under an annotation."""
    if isinstance(value, dict):
        for name, below in value.items():
            step = inside(annotation, name)
            if step is not None:
                yield from coerced(step[0], below, (*path, name))
    elif isinstance(value, list):
        for number, below in enumerate(value):
            step = inside(annotation, number)
            if step is not None:
                yield from coerced(step[0], below, (*path, number))
    else:
        types = set(_hashable(children(annotation)))
        kind = None if value is None and _NONE in types else _wrong(types - {_NONE}, value)
        if kind is not None:
            yield path, kind, value


def _hashable(choices: Iterator[Any]) -> Iterator[Any]:
    return (choice if isinstance(choice, type) else object for choice in choices)


def _wrong(types: set[Any], value: Any) -> str | None:
    if not types:
        return None
    is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
    if types <= _NUMBERS:
        return None if is_number else "int_type" if types == {int} else "float_type"
    if types == {bool}:
        return None if isinstance(value, bool) else "bool_type"
    for wanted in (dt.datetime, dt.date):
        if types == {wanted}:
            is_date = isinstance(value, str) and _DATE.match(value)
            return None if is_date else "datetime_type" if wanted is dt.datetime else "date_type"
    return None
