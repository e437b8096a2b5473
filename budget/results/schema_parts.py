"""Words in which a JSON Schema is declared: a number, a share, a moment, an object."""

from __future__ import annotations

from typing import Any

Schema = dict[str, Any]


def number(meaning: str, **more: Any) -> Schema:
    return {"type": "number", "description": meaning, **more}


def amount(meaning: str) -> Schema:
    return number(meaning, minimum=0)


def share(meaning: str) -> Schema:
    return number(f"{meaning} [0–1]")


def count(meaning: str) -> Schema:
    return {"type": "integer", "minimum": 0, "description": meaning}


def word(meaning: str) -> Schema:
    return {"type": "string", "description": meaning}


def flag(meaning: str) -> Schema:
    return {"type": "boolean", "description": meaning}


def moment(meaning: str) -> Schema:
    return {"type": "string", "format": "date-time", "description": f"{meaning}; ISO 8601 with the offset from UTC"}


def or_null(schema: Schema, when: str) -> Schema:
    return {**schema, "type": [schema["type"], "null"], "description": f"{schema['description']}; null: {when}"}


def parts(meaning: str, always: dict[str, Schema], sometimes: dict[str, Schema] | None = None) -> Schema:
    return {
        "type": "object",
        "description": meaning,
        "properties": {**always, **(sometimes or {})},
        "required": list(always),
    }


def each_named(meaning: str, names: str, value: Schema) -> Schema:
    """An object whose names are the van's or the tour's own."""
    return {"type": "object", "description": f"{meaning}, by {names}", "additionalProperties": value}


def several(meaning: str, value: Schema) -> Schema:
    return {"type": "array", "description": meaning, "items": value}
