"""JSON Schemas of what is printed as JSON: an answer's from the types of its dataclass, and the whole summary's."""

from __future__ import annotations

import datetime as dt
import types
import typing
from dataclasses import fields, is_dataclass
from typing import Any

_KINDS: dict[Any, dict[str, Any]] = {
    float: {"type": "number"},
    int: {"type": "integer"},
    str: {"type": "string"},
    bool: {"type": "boolean"},
    dt.datetime: {"type": "string", "format": "date-time"},
}


def schema_of(kind: Any) -> dict[str, Any]:
    """Schema of a dataclass, or of a type that stands in one; TypeError for a type that JSON does not know."""
    if kind in _KINDS:
        return dict(_KINDS[kind])
    if is_dataclass(kind):
        hints = typing.get_type_hints(kind)
        names = [field.name for field in fields(kind)]
        return {
            "type": "object",
            "description": " ".join((kind.__doc__ or "").split()),
            "properties": {name: schema_of(hints[name]) for name in names},
            "required": names,
        }
    origin, inside = typing.get_origin(kind), typing.get_args(kind)
    if origin in (types.UnionType, typing.Union):
        return {"anyOf": [{"type": "null"} if each is types.NoneType else schema_of(each) for each in inside]}
    if origin in (tuple, list):
        return {"type": "array", "items": schema_of(inside[0])}
    if origin is dict:
        return {"type": "object", "additionalProperties": schema_of(inside[1])}
    raise TypeError(f"{kind} has no JSON Schema here")


def summary_schema() -> dict[str, Any]:
    """Schema of what ``budget run --json`` prints (draft 2020-12), with units; further names may be added to it."""
    from budget.answers.battery import Battery
    from budget.answers.bottle_plan import BottlePlan
    from budget.answers.ducts import Ducts
    from budget.answers.heater_size import HeaterSize
    from budget.answers.hookup import Stay
    from budget.answers.outage import Outage
    from budget.answers.runs_out import RunsOut, Supply
    from budget.answers.trouble import Trouble
    from budget.results.summary_schema import OPTIONAL, SECTIONS
    from budget.tour.schema import DIALECT, add_units

    runs_out = schema_of(RunsOut)
    strip = schema_of(Supply)
    del strip["properties"]["left_share"]
    strip["required"].remove("left_share")
    runs_out["properties"]["supplies"]["items"] = strip
    stays = {"type": "array", "items": schema_of(Stay)}
    always = SECTIONS | {
        "heater_size": schema_of(HeaterSize),
        "outage": schema_of(Outage),
        "runs_out": runs_out,
        "plan": schema_of(BottlePlan),
        "trouble": schema_of(Trouble),
        "battery": schema_of(Battery),
        "hookup": {
            "type": "object",
            "description": "What the tour's hook-ups gave.",
            "properties": {"stays": stays},
            "required": ["stays"],
        },
    }
    sometimes = OPTIONAL | {"ducts": schema_of(Ducts)}
    schema = {
        "$schema": DIALECT,
        "title": "Summary of a simulated tour",
        "description": (
            "What `budget run --json` prints. Names end in their units; what is not modelled is absent, never zero; "
            "what is not a finite number is null. Names may be added, these stay."
        ),
        "type": "object",
        "properties": {**always, **sometimes},
        "required": list(always),
    }
    add_units(schema)
    return schema
