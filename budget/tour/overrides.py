"""Single values set from outside: ``habits.screens="17:00-09:00"``, ``stops[2].hookup_a=6``."""

from __future__ import annotations

import copy
import re
import tomllib
import typing
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel

from budget.arrived import written
from budget.errors import InputFault
from budget.tour.climate import WeatherChoice
from budget.tour.faults import Fault, Path, did_you_mean, dotted
from budget.tour.model import Habits, Stop, Tour
from budget.tour.sentences import SHORTHAND_NAMES, annotation_at, children, inside, names_inside
from budget.van.model import Van

MOST_LETTERS = 10_000
_PART = re.compile(r"""(?:^|\.)(?:"(?P<quoted>[^"]*)"|(?P<name>[^\s."\[\]=]+))|\[(?P<index>\d{1,9})\]""")
_TIME = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d")  # as --at takes it; TOML wants seconds
_PLAIN_WORD = re.compile(r"[^\W\d][\w \-/]*")


@dataclass(frozen=True)
class Override:
    """One value to set: its path, the value, and what was written."""

    path: Path
    value: Any
    assignment: str

    @property
    def where(self) -> str:
        """How a fault of this value names its origin."""
        return f"--set {self.assignment}"


def parse_override(assignment: str) -> Override:
    """Read NAME=VALUE; the value is written as in TOML, but a plain word needs no quotes. InputFault otherwise."""
    name, equals, written_value = assignment.partition("=")
    if len(assignment) > MOST_LETTERS:
        raise InputFault(
            f"--set must have at most {MOST_LETTERS} letters, got {len(assignment)}; write it in the file."
        )
    if not equals or not name.strip():
        raise InputFault(f"--set must read NAME=VALUE, got {written(assignment)}; write such as stops[2].hookup_a=6.")
    return Override(_path(name.strip(), assignment), _value(written_value.strip(), assignment), assignment)


def _path(name: str, assignment: str) -> Path:
    path: list[str | int] = []
    at = 0
    while at < len(name):
        part = _PART.match(name, at)
        if part is None or part.end() == at or (at == 0 and part["index"] is not None):
            raise InputFault(
                f"--set {assignment}: the name must be words joined by points, such as stops[2].hookup_a, "
                f"got {written(name)}; correct it."
            )
        path.append(int(part["index"]) if part["index"] is not None else part["quoted"] or part["name"] or "")
        at = part.end()
    return tuple(path)


def _value(text: str, assignment: str) -> Any:
    if _TIME.fullmatch(text):
        text += ":00"
    try:
        return tomllib.loads(f"value = {text}\n")["value"] if "\n" not in text else text
    except (tomllib.TOMLDecodeError, RecursionError, ValueError):
        if _PLAIN_WORD.fullmatch(text):
            return text
    raise InputFault(
        f'--set {assignment}: the value must be a TOML value such as 6, true, "17:00-09:00" or a word, '
        f"got {written(text)}; put text in double quotes."
    )


def apply_overrides(data: Mapping[str, Any], assignments: Iterable[str], model: Any = Tour) -> dict[str, Any]:
    """A copy of a tour's data with values set; InputFault, all faults together, for names that do not exist.

    ``model`` is the description that the data belong to; tables that the data leave out are made, lists that they
    leave out begin with the model's defaults.
    """
    changed: dict[str, Any] = copy.deepcopy(dict(data))
    faults: list[str] = []
    for assignment in assignments:
        try:
            override = parse_override(assignment)
        except InputFault as fault:
            faults += fault.faults
            continue
        wrong = _set_anywhere(changed, override, model)
        if wrong is not None:
            faults.append(wrong.sentence(override.where))
    if faults:
        raise InputFault(faults)
    return changed


def _set_anywhere(data: dict[str, Any], override: Override, model: Any) -> Fault | None:
    if override.path[0] != "van" or model is not Tour:
        return set_value(data, override.path, override.value, model)
    van = data.setdefault("van", {})
    if not isinstance(van, dict) or len(override.path) == 1:
        return Fault(("van",), f"must be a table to set a value in it, got {written(van)}; set it in the van's file.")
    if is_in_full(van):
        return set_value(van, override.path[1:], override.value, Van)
    from budget.van.description import VanDescription

    return set_value(van, override.path[1:], override.value, VanDescription)


def is_in_full(van: Mapping[str, Any]) -> bool:
    """Whether a van's data give the finished van, with its zones, and not a description of it."""
    return "cabin" in van and "length_m" not in van


def knows(model: Any, path: Path) -> bool:
    """Whether a path leads to a field of a model (or to one of its short forms)."""
    return _unknown(model, path) is None


def _unknown(model: Any, path: Path) -> Fault | None:
    annotation = model
    for number, part in enumerate(path):
        step = inside(annotation, part)
        if step is None:
            last = number + 1 == len(path)
            models = [choice for choice in children(annotation) if isinstance(choice, type)]
            if last and any(part in SHORTHAND_NAMES.get(choice, ()) for choice in models):
                return None
            if isinstance(part, int):
                return Fault(path[:number], "is not a list; leave out the number in brackets.")
            if part.isdigit():
                return Fault(path[:number], f"is a list; write {dotted(path[:number])}[{part}].")
            item = inside(annotation, 0)
            if item is not None and part in names_inside(item[0]):
                return Fault(path[:number], f"is a list; write {dotted((*path[:number], 0, part))}, counted from 0.")
            known = names_inside(annotation)
            if not known:
                return Fault(path[:number], "holds no further names; set it as a whole.")
            elsewhere = _elsewhere(part) if number == 0 and annotation is Tour else None
            if elsewhere is not None:
                return Fault(path[: number + 1], f"is not a known name here; did you mean {elsewhere}?")
            return Fault(path[: number + 1], f"is not a known name here; {did_you_mean(part, known)}")
        annotation = step[0]
    return None


def _elsewhere(name: str) -> str | None:
    """Where else in a tour file a name stands, as ``--set`` takes it."""
    from budget.van.description import VanDescription

    homes: list[tuple[str, Any]] = [("stops[0]", Stop), ("van", VanDescription), ("habits", Habits)]
    homes.append(("weather", WeatherChoice))
    return next((f"{home}.{name}" for home, model in homes if name in names_inside(model)), None)


def set_value(data: dict[str, Any], path: Path, value: Any, model: Any) -> Fault | None:
    """Set one value in place; the fault, with nothing set, when there is no such place."""
    unknown = _unknown(model, path)
    if unknown is not None:
        return unknown
    here: Any = data
    for number, part in enumerate(path[:-1]):
        following = path[number + 1]
        if isinstance(here, dict) and part not in here:
            if _holds_free_names(model, path[:number]):
                return Fault(path[: number + 1], f"does not exist; {did_you_mean(str(part), here)}")
            here[part] = _default(model, path[: number + 1], following)
        fault = _out_of_range(here, part, path[:number])
        if fault is not None:
            return fault
        here = here[part]
        if not isinstance(here, list if isinstance(following, int) else dict):
            return Fault(path[: number + 1], f"must be a table or list to set a part of it, got {written(here)}.")
    fault = _out_of_range(here, path[-1], path[:-1])
    if fault is None:
        here[path[-1]] = value
    return fault


def _holds_free_names(model: Any, path: Path) -> bool:
    return any(typing.get_origin(choice) is dict for choice in children(annotation_at(model, path)[0]))


def _out_of_range(here: Any, part: str | int, path: Path) -> Fault | None:
    if isinstance(part, int) and not part < len(here):
        text = f"has the numbers 0 to {len(here) - 1}, got {part}; choose one of them." if here else "is empty."
        return Fault(path, text)
    return None


def _default(model: Any, path: Path, following: str | int) -> Any:
    if isinstance(following, str):
        return {}
    _, field = annotation_at(model, path)
    default = field.get_default(call_default_factory=True) if field is not None else None
    if not isinstance(default, (tuple, list)):
        return []
    return [item.model_dump(mode="json") if isinstance(item, BaseModel) else item for item in default]
