"""Starter files: a tour to begin with, every line of it explained, that runs as it is."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from budget.errors import InputFault
from budget.tour.climate import Climate, WeatherChoice
from budget.tour.model import Away, Cooking, Draw, Drying, Exchange, Habits, Person, Step, Stop, Tour
from budget.tour.sentences import children, inside, limits
from budget.tour.starter_values import HEADS, VALUES
from budget.tour.toml_text import toml_string
from budget.units import unit_of

Tier = Literal["quick", "full"]
_QUICK = Path(__file__).resolve().parent / "data" / "starter-quick.toml"
_COMMENT_COLUMN = 44


def starter(tier: Tier) -> str:
    """The text of a starter file: "quick" with six answers to change, "full" with every field group."""
    if tier == "quick":
        return _QUICK.read_text(encoding="utf-8")
    return "\n".join(_full()) + "\n"


def write_starter(path: Path, tier: Tier) -> None:
    """Write a starter file; InputFault when something is there already or the folder cannot be written to."""
    text = starter(tier)
    try:
        with open(path, "x", encoding="utf-8") as file:
            try:
                file.write(text)
                file.flush()
            except BaseException:
                path.unlink(missing_ok=True)
                raise
    except FileExistsError:
        raise InputFault(f"{path} must be a new file, one is there already; give another name.") from None
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or "the name is no file name").lower()
        raise InputFault(f"{path} must be a file that can be written, got: {reason}; choose another folder.") from None


def _full() -> Iterable[str]:
    from budget.van.description import VanDescription

    yield from HEADS["file"]
    yield from _fields(Tour, "tour")
    yield from _section("[weather]", WeatherChoice, "weather")
    yield from _section("[weather.climate]", Climate, "climate")
    yield from _section("[van]", VanDescription, "van")
    for person in ("first person", "second person"):
        yield from _section("[[people]]", Person, person)
    yield from ["", *HEADS["schedules"], "[schedules.ours]", "steps = ["]
    yield from (f"  {{ {_inline(step)} }}," for step in VALUES["steps"]["steps"])
    yield "]"
    yield from (f"# {line}" for line in _explained(Step))
    for draw in ("shower", "dishes"):
        yield from _section("[[draws]]", Draw, draw)
    yield from _section("[[cooking]]", Cooking, "meal")
    yield from _section("[[drying]]", Drying, "kit")
    yield from _section("[[away]]", Away, "away")
    yield from _section("[habits]", Habits, "habits")
    yield from ["", *HEADS["closed"], "[habits.closed]", '"cab curtain" = ["20:00-08:00"]']
    for stop in ("first stop", "second stop"):
        yield from _section("[[stops]]", Stop, stop)
    yield from _section("[[stops.exchange]]", Exchange, "exchange")


def _section(head: str, model: type[BaseModel], name: str) -> Iterable[str]:
    return ["", *HEADS.get(name, ()), head, *_fields(model, name)]


def _fields(model: type[BaseModel], name: str) -> Iterable[str]:
    """A line for each field: set where the starter sets it, commented out with a usual value where not.

    Of the second and later tables of one kind, only what is set is written.
    """
    values: Mapping[str, Any] = VALUES[name]
    for field_name, field in model.model_fields.items():
        if field_name in values:
            yield _line(field_name, values[field_name], field)
        elif name not in ("second person", "dishes", "second stop"):
            shown = VALUES["unset"].get(f"{model.__name__}.{field_name}", _default(field))
            if shown is not None:
                yield f"# {_line(field_name, shown, field)}"


def _default(field: FieldInfo) -> Any:
    default = field.get_default(call_default_factory=True)
    if isinstance(default, (str, int, float)):
        return default
    spans = isinstance(default, tuple) and default and all(hasattr(item, "written") for item in default)
    return [item.written for item in default] if spans else None


def _line(name: str, value: Any, field: FieldInfo) -> str:
    return f"{f'{name} = {_toml(value)}':<{_COMMENT_COLUMN}} # {_meaning(name, field)}"


def _explained(model: type[BaseModel]) -> Iterable[str]:
    return (f"{name}: {_meaning(name, field)}" for name, field in model.model_fields.items())


def _meaning(name: str, field: FieldInfo) -> str:
    said = (field.description or "").split(" [")[0].rstrip(".")
    words = [choice for option in children(field.annotation) for choice in getattr(option, "__args__", ())]
    if len(words) > 1 and all(isinstance(word, str) for word in words):
        said += f"; one of {', '.join(words)}"
    low, high = limits(field.annotation, field)
    entry = inside(field.annotation, 0)
    if low is None and entry is not None:
        low, high = limits(entry[0], None)
    unit = unit_of(name)
    in_unit = f" [{unit}]" if unit and unit != "–" else ""
    return f"{said}{in_unit}" + (f", {low:.10g} to {high:.10g}" if low is not None and high is not None else "")


def _inline(values: Mapping[str, Any]) -> str:
    return ", ".join(f"{name} = {_toml(value)}" for name, value in values.items())


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (dt.datetime, dt.date)):
        return value.isoformat()
    if isinstance(value, str):
        return toml_string(value)
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(_toml(item) for item in value)}]"
    if isinstance(value, Mapping):
        return f"{{ {_inline(value)} }}"
    return repr(value)
