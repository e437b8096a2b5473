"""The JSON Schema of the tour file, for completion and checking in editors."""

from __future__ import annotations

import copy
from typing import Any

from budget.tour.model import Tour
from budget.tour.shorthand import ARRIVAL_HOUR, HOOKUP_A, START_HOUR, comfort_presets
from budget.units import unit_of
from budget.van.model import Van

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def json_schema() -> dict[str, Any]:
    """Schema of a whole tour file, van and short forms included (draft 2020-12), with units and ranges."""
    from budget.van.description import VanDescription

    definitions: dict[str, Any] = {}
    tour, described, in_full = (_with_definitions(model, definitions) for model in (Tour, VanDescription, Van))
    properties = tour["properties"]
    _allow_short_forms(properties, definitions)
    definitions["VanDescription"], definitions["Van"] = described, in_full
    whole = {
        **properties,
        "van": {
            "description": "The van: described, in full (with a cabin), or the name of its file.",
            "anyOf": [{"type": "string"}, {"$ref": "#/$defs/VanDescription"}, {"$ref": "#/$defs/Van"}],
        },
        "tour": {
            "description": "The tour's values, if they do not stand at the top of the file.",
            "type": "object",
            "properties": copy.deepcopy(properties),
            "additionalProperties": False,
        },
    }
    schema = {
        "$schema": DIALECT,
        "title": "Tour file",
        "description": "Van, tour and weather of a winter tour; TOML.",
        "type": "object",
        "properties": whole,
        "required": ["van"],
        "additionalProperties": False,
        "$defs": definitions,
    }
    add_units(schema)
    return schema


def _with_definitions(model: Any, definitions: dict[str, Any]) -> dict[str, Any]:
    schema: dict[str, Any] = model.model_json_schema()
    definitions.update(schema.pop("$defs", {}))
    return schema


def _allow_short_forms(properties: dict[str, Any], definitions: dict[str, Any]) -> None:
    for holder, name, hour in (
        (properties, "start", START_HOUR),
        (properties, "end", START_HOUR),
        (definitions["Stop"]["properties"], "arrive", ARRIVAL_HOUR),
        (definitions["Stop"]["properties"], "depart", START_HOUR),
    ):
        said = holder[name]["description"].rstrip(".")
        holder[name] = {
            "description": f"{said}; a date alone means {hour}:00.",
            "anyOf": [{"type": "string", "format": "date-time"}, {"type": "string", "format": "date"}],
        }
    people = properties["people"]
    properties["people"] = {
        "description": f"{people.pop('description').rstrip('.')}; a number stands for so many usual adults.",
        "default": people.pop("default", None),
        "anyOf": [{"type": "integer", "minimum": 0, "maximum": 20}, people],
    }
    learned = properties["learned"]
    properties["learned"] = {
        "description": learned["description"],
        "anyOf": [{"type": "string"}, *(choice for choice in learned["anyOf"] if "$ref" in choice)],
    }
    properties["comfort"] = {
        "description": "A packaged thermostat schedule (common practice, no source), instead of schedules.",
        "enum": list(comfort_presets()),
    }
    stop = definitions["Stop"]
    stop["properties"]["nights"] = {
        "description": f"Nights here, instead of dates; the next arrival is at {ARRIVAL_HOUR}:00.",
        "type": "integer",
        "minimum": 1,
        "maximum": 400,
    }
    stop["properties"]["hookup"] = {
        "description": f"true: hook-up of {HOOKUP_A:g} A (common practice, no source); hookup_a says it exactly.",
        "type": "boolean",
    }
    stop["required"] = [name for name in stop["required"] if name != "arrive"]


def add_units(node: Any) -> None:
    """Write the unit of every number beside its limits."""
    if isinstance(node, dict):
        properties = node.get("properties")
        if isinstance(properties, dict):
            for name, described in properties.items():
                unit = unit_of(name)
                if unit is not None and isinstance(described, dict):
                    described["unit"] = unit
        for value in node.values():
            add_units(value)
    elif isinstance(node, list):
        for value in node:
            add_units(value)
