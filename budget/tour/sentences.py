"""Validation errors turned into clear sentences: field, what is required with its unit, what arrived, what to do."""

from __future__ import annotations

import re
import types
import typing
from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from budget.arrived import written
from budget.tour.faults import Fault, Path, did_you_mean
from budget.tour.model import Stop, Tour
from budget.units import unit_of

_ADVICE = {
    "hookup_a": "give the pitch's fuse current",
    "latitude_deg": "give decimal degrees, north positive",
    "longitude_deg": "give decimal degrees, east positive",
}
# Names that a file may use and that become fields of the model before it is validated.
SHORTHAND_NAMES: dict[type[BaseModel], tuple[str, ...]] = {Tour: ("van", "comfort"), Stop: ("nights", "hookup")}
# A validator of a whole part that names the field itself: "is not right: heater.sensor_zone must be ...".
_DOTTED = re.compile(r"(?:is not right: )?([a-z_]+(?:\.[a-z_]+)+) (?=must )")
_DATE_ERRORS = ("datetime", "date_")


def children(annotation: Any) -> Iterator[Any]:
    """The alternatives of an annotation, with Optional, Annotated and unions opened."""
    origin = typing.get_origin(annotation)
    if origin is typing.Annotated:
        yield from children(typing.get_args(annotation)[0])
    elif origin in (typing.Union, types.UnionType):
        for choice in typing.get_args(annotation):
            yield from children(choice)
    else:
        yield annotation


def inside(annotation: Any, part: str | int) -> tuple[Any, FieldInfo | None] | None:
    """What a part of a path leads to under an annotation: its annotation and field; None when there is no such part."""
    for choice in children(annotation):
        origin, arguments = typing.get_origin(choice), typing.get_args(choice)
        if isinstance(choice, type) and issubclass(choice, BaseModel) and isinstance(part, str):
            if part in choice.model_fields:
                field = choice.model_fields[part]
                return field.annotation, field
        elif origin in (tuple, list) and isinstance(part, int):
            return arguments[0 if origin is list or arguments[-1] is Ellipsis else part], None
        elif origin is dict and isinstance(part, str):
            return arguments[1], None
    return None


def names_inside(annotation: Any) -> list[str]:
    """The field names that a table under this annotation may hold."""
    models = [choice for choice in children(annotation) if isinstance(choice, type) and issubclass(choice, BaseModel)]
    return [name for model in models for name in (*model.model_fields, *SHORTHAND_NAMES.get(model, ()))]


def annotation_at(model: Any, path: Path) -> tuple[Any, FieldInfo | None]:
    """Annotation and field at a path; (None, None) when the path leads nowhere."""
    annotation, field = model, None
    for part in path:
        step = inside(annotation, part)
        if step is None:
            return None, None
        annotation, field = step[0], step[1] or field
    return annotation, field


def faults_of(error: ValidationError, model: Any, data: Any, prefix: Path = ()) -> list[Fault]:
    """Every fault of a validation as a Fault; one for each field, the first that was found."""
    faults: dict[Path, Fault] = {}
    for detail in error.errors(include_url=False):
        path = _real_path(detail["loc"], data, missing=detail["type"] in ("missing", "extra_forbidden"))
        if detail["type"] == "missing":
            place = _lacks_position(path, data)
            if place is not None:
                faults.setdefault((*prefix, *path[:-1]), Fault((*prefix, *path[:-1]), place))
                continue
        text = _text(detail, model, path)
        own_path = _DOTTED.match(text)
        if own_path is not None:
            path, text = (*path, *own_path[1].split(".")), text[own_path.end() :]
        counts = detail["type"] in ("too_short", "too_long")
        faults.setdefault((*prefix, *path), Fault((*prefix, *path), text, counts))
    return [fault for fault in faults.values() if not (fault.counts and _faulty_below(fault.path, faults))]


def _faulty_below(path: Path, faults: Mapping[Path, Fault]) -> bool:
    """Whether a list's wrong number of entries only follows from wrong entries, which do not count."""
    return any(other[: len(path)] == path and len(other) > len(path) for other in faults)


def type_fault(model: Any, path: Path, kind: str, value: Any, prefix: Path = ()) -> Fault:
    """The fault of a value of a wrong type; ``kind`` as pydantic names it, such as "float_type"."""
    return Fault((*prefix, *path), _text({"type": kind, "input": value}, model, path))


def _real_path(loc: tuple[int | str, ...], data: Any, missing: bool) -> Path:
    path: list[str | int] = []
    here = data
    for number, part in enumerate(loc):
        in_list = isinstance(here, list) and isinstance(part, int) and part < len(here)
        if in_list or (isinstance(here, Mapping) and part in here):
            here = here[part]
        elif not (missing and number == len(loc) - 1):
            continue
        path.append(part)
    return tuple(path)


def _lacks_position(path: Path, data: Any) -> str | None:
    position = ("latitude_deg", "longitude_deg", "altitude_m")
    if len(path) != 3 or path[0] != "stops" or path[2] not in position:
        return None
    stop = data["stops"][path[1]]
    absent = [name for name in position if name not in stop]
    lacking = "alone" if len(absent) == len(position) else f"without {' and '.join(absent)}"
    return (
        f"must have latitude_deg, longitude_deg and altitude_m, got {written(stop.get('place', 'a stop'))} {lacking}; "
        "read them off a map (there is no list of places)."
    )


def _text(detail: Any, model: Any, path: Path) -> str:
    kind, value, context = detail["type"], detail["input"], detail.get("ctx", {})
    annotation, field = annotation_at(model, path)
    name = next((part for part in reversed(path) if isinstance(part, str)), "")
    unit = _unit(name)
    got = f"got {written(value)}"
    if kind == "extra_forbidden":
        known = names_inside(annotation_at(model, path[:-1])[0])
        return f"is not a known name here; {did_you_mean(str(path[-1]), known)}"
    if kind == "missing":
        return f"is required; add it{_meaning(field)}."
    if kind in ("greater_than_equal", "less_than_equal", "greater_than", "less_than"):
        low, high = limits(annotation, field)
        advice = _advice(name, value, low, high) or f"correct it{_meaning(field)}"
        return f"must be {_range(low, high, context)}{unit}, {got}; {advice}."
    if kind == "finite_number":
        return f"must be a finite number{unit and f' in{unit}'}, {got}; correct it{_meaning(field)}."
    if kind.startswith(("float", "int")):
        number = "a whole number" if kind.startswith("int") else "a number"
        advice = _number_advice(value)
        return f"must be {number}{unit and f' in{unit}'}, {got}; {advice}{_meaning(field)}."
    if kind.startswith("bool"):
        return f"must be true or false, {got}; write it in small letters without quotes."
    if kind == "string_too_long":
        return f"must have at most {context['max_length']} letters, got {len(value):,}; shorten it{_meaning(field)}."
    if kind.startswith("string"):
        return f"must be text in double quotes, {got}; correct it{_meaning(field)}."
    if kind == "literal_error":
        choices = re.findall(r"'([^']*)'", context["expected"])
        advice = did_you_mean(value, choices) if isinstance(value, str) else "choose one."
        return f"must be one of {', '.join(choices)}, {got}; {advice if advice.startswith('did') else 'choose one.'}"
    if kind.startswith(_DATE_ERRORS):
        example = "2027-01-09T12:00:00" if kind.startswith("datetime") else "2027-01-09"
        return f"must be a date{' and time' if 'datetime' in kind else ''} such as {example}, {got}; correct it."
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        return f"must be a table, {got}; give its values by name{_meaning(field)}."
    if kind in ("tuple_type", "list_type"):
        return f"must be a list, {got}; put it in square brackets{_meaning(field)}."
    if kind in ("too_short", "too_long"):
        return _count_text(context, got)
    message = str(context.get("error") or detail["msg"]).removeprefix("Value error, ").rstrip(".")
    if not message.startswith("must"):
        message = f"is not right: {message}" if path else message
    return f"{message}." if ";" in message else f"{message}; correct it."


def _unit(name: str) -> str:
    unit = unit_of(name)
    if unit == "0–1":
        return " (a share)"
    return f" {unit}" if unit and unit != "–" else ""


def _meaning(field: FieldInfo | None) -> str:
    if field is None or not field.description:
        return ""
    meaning = re.sub(r"\s*\[[^\]]*\]\s*$", "", field.description).split(";")[0].rstrip(".")
    if meaning[1:2].islower():
        meaning = meaning[0].lower() + meaning[1:]
    return f" (meant is: {meaning})" if meaning else ""


def limits(annotation: Any, field: FieldInfo | None) -> tuple[float | None, float | None]:
    """Inclusive limits of a number, from its field or from the annotation of a list's items."""
    metadata = list(field.metadata) if field is not None else []
    for choice in (annotation, *typing.get_args(annotation)):
        for extra in getattr(choice, "__metadata__", ()):
            metadata += getattr(extra, "metadata", [])
    low = next((item.ge for item in metadata if hasattr(item, "ge")), None)
    high = next((item.le for item in metadata if hasattr(item, "le")), None)
    return low, high


def _range(low: float | None, high: float | None, context: Any) -> str:
    if low is not None and high is not None:
        return f"from {low:.10g} to {high:.10g}"
    if "ge" in context or "gt" in context:
        return f"at least {context.get('ge', context.get('gt')):g}"
    return f"at most {context.get('le', context.get('lt')):g}"


LONG_M = 50.0  # what is longer is an altitude, which nobody gives in centimetres


def _advice(name: str, value: Any, low: float | None, high: float | None) -> str:
    if name in _ADVICE:
        return _ADVICE[name]
    if low is None or high is None or not isinstance(value, (int, float)):
        return ""
    if unit_of(name) == "°C" and low <= (value - 32.0) / 1.8 <= high:
        return f"if that is °F, write {(value - 32.0) / 1.8:.0f}"
    if unit_of(name) == "m" and high <= LONG_M:
        fitting = [(unit, value / per_m) for unit, per_m in (("mm", 1000.0), ("cm", 100.0))]
        said = [f"if that is {unit}, write {metres:g}" for unit, metres in fitting if low <= metres <= high]
        return "; ".join(said)
    if unit_of(name) == "0–1" and 1.0 < value <= 100.0:
        return f"write {value / 100.0:g} for {value:g} %"
    return ""


def _number_advice(value: Any) -> str:
    if isinstance(value, str) and re.fullmatch(r"\s*[+-]?\d+([.,]\d+)?\s*", value):
        return f"write {value.strip().replace(',', '.')} without quotes"
    return "correct it"


def _count_text(context: Any, got: str) -> str:
    low, high = context.get("min_length"), context.get("max_length")
    count = context.get("actual_length", 0)
    if low is not None and count < low:
        plural = "entry" if low == 1 else "entries"
        return f"must have at least {low} {plural}, got {count}; add what is missing."
    return f"must have at most {high} entries, got {count}; leave some out."
