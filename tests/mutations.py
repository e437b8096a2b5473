"""Mutated inputs for the fuzz tests: valid documents changed within and beyond what the schema allows, and bytes.

Everything takes a ``random.Random``: the structural tests hand in one that hypothesis can shrink, the byte tests a
seeded one, so that a failing case is found again by its number.
"""

from __future__ import annotations

import copy
import datetime as dt
import math
import random
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

from sample_vans import DESCRIPTIONS

from budget.tour.files import DEMO_TOUR
from budget.tour.schema import json_schema

MUSEUM = Path(__file__).parent / "refusals" / "museum"
Place = tuple[str | int, ...]

WORDS = (
    "off",
    "on",
    "none",
    "sample:cold_snap.csv",
    "sample:",
    "typical-year",
    "csv",
    "07:00",
    "24:00-24:00",
    "living",
)
WILD: tuple[Any, ...] = (
    0, -1, 1, 10**6, -(10**30), 10**400, 2**63, 0.0, -0.0, 1e-300, 1e308, -1e308, math.inf, -math.inf, math.nan, 0.5,
    True, False, "", " ", "\t\n", "0", "nan", "x" * 5000, "\u202e\u0007", "🏕" * 50, "22:30-07:00", "../..", "/dev/zero",
    [], [[]], [1, "a"], [""] * 500, {}, {"": 1}, {"a": {"b": {"c": []}}}, dt.date(1, 1, 1), dt.date(9999, 12, 31),
    dt.datetime(2027, 1, 9, 12, 0, 0, 1), dt.datetime(2027, 1, 9, 12, tzinfo=dt.UTC), dt.time(23, 59, 59), *WORDS,
)  # fmt: skip


def toml(document: dict[str, Any]) -> str:
    """A document as TOML, each table in one line."""
    return "".join(f"{_key(name)} = {_value(value)}\n" for name, value in document.items())


def _key(name: str) -> str:
    return name if name.replace("_", "a").isalnum() and name.isascii() else _text(name)


def _text(text: str) -> str:
    escaped = "".join(c if c.isprintable() and c not in '"\\' else f"\\u{ord(c):04x}" for c in text)
    return f'"{escaped}"'


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_key(name)} = {_value(inner)}" for name, inner in value.items()) + "}"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(map(_value, value)) + "]"
    if isinstance(value, (dt.date, dt.time)):
        return value.isoformat()
    return repr(value)


@cache
def documents() -> tuple[dict[str, Any], ...]:
    """Whole tours of a night or two: the demo's habits, each sample van by description, and one van in full."""
    demo = tomllib.loads(DEMO_TOUR.read_text("utf-8"))
    stops = [stop | {"arrive": dt.datetime(2027, 1, 9 + k, 12)} for k, stop in enumerate(demo["stops"][:2])]
    short = demo | {"end": dt.datetime(2027, 1, 11, 12), "stops": stops}
    short["drying"] = [demo["drying"][0] | {"at": dt.datetime(2027, 1, 10, 8)}]
    short["habits"] = demo["habits"] | {"snow_days": [dt.date(2027, 1, 10)]}
    in_full = tomllib.loads((MUSEUM / "a-good-van.toml").read_text("utf-8"))
    plain = {
        "timezone": "Europe/Riga",
        "start": dt.date(2027, 1, 9),
        "comfort": "moderate",
        "people": 2,
        "stops": [{"place": "A", "latitude_deg": 57.9, "longitude_deg": 24.4, "altitude_m": 4, "nights": 1}],
    }
    vans = [*DESCRIPTIONS.values(), in_full]
    return (short, *({**plain, "van": copy.deepcopy(van)} for van in vans))


def mutated(document: dict[str, Any], rng: random.Random) -> dict[str, Any]:
    """A document with one to four changes, most of them within the schema, some beyond all reason."""
    changed = copy.deepcopy(document)
    for _ in range(rng.choice((1, 1, 1, 2, 3, 4))):
        _change(changed, rng)
    return changed


KINDS = (*("within",) * 9, *("add",) * 6, *("scale",) * 3, "wild", "drop", "double", "move", "typo")


def _change(document: dict[str, Any], rng: random.Random) -> None:
    places = list(_places(document))
    place = places[rng.randrange(len(places))]
    holder = _at(document, place[:-1])
    kind = rng.choice(KINDS)
    old = holder[place[-1]]
    if kind == "within":
        holder[place[-1]] = _fitting(_schema_at(place), _name_of(place), rng)
    elif kind == "add":
        _add(document, place, rng)
    elif kind == "scale" and isinstance(old, (int, float)) and not isinstance(old, bool) and abs(old) < 1e100:
        holder[place[-1]] = old * rng.choice((-1.0, 0.0, 0.01, 0.5, 0.9, 1.1, 2.0, 10.0, 1000.0, 1e9))
    elif kind == "drop":
        del holder[place[-1]]
    elif kind == "double" and isinstance(holder, list):
        holder.extend([copy.deepcopy(old)] * rng.choice((1, 2, 40)))
    elif kind == "move":
        holder[place[-1]] = copy.deepcopy(_at(document, places[rng.randrange(len(places))]))
    elif kind == "typo" and isinstance(holder, dict):
        holder[str(place[-1])[:-1] + "é"] = holder.pop(place[-1])
    else:
        holder[place[-1]] = copy.deepcopy(WILD[rng.randrange(len(WILD))])


def _name_of(place: Place) -> str:
    return next((name for name in reversed(place) if isinstance(name, str)), "")


def _places(value: Any, path: Place = ()) -> Iterator[Place]:
    if path:
        yield path
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for name, each in inner:
        yield from _places(each, (*path, name))


def _at(document: Any, place: Place) -> Any:
    for name in place:
        document = document[name]
    return document


def _add(document: dict[str, Any], place: Place, rng: random.Random) -> None:
    """Put a field that the schema knows, and the document lacks, into the table at a place or the one that holds it."""
    table = _at(document, place)
    if not isinstance(table, dict):
        place = place[:-1]
        table = _at(document, place)
    known = [schema for schema in _schema_at(place) if "properties" in schema]
    if not isinstance(table, dict) or not known:
        document[rng.choice(WORDS)] = 1
        return
    properties = known[0 if "cabin" not in table else -1]["properties"]
    names = sorted(set(properties) - set(table))
    if names:
        name = names[rng.randrange(len(names))]
        table[name] = _fitting(_flat(properties[name]), name, rng)


@cache
def _schema() -> dict[str, Any]:
    return json_schema()


def _flat(schema: dict[str, Any]) -> list[dict[str, Any]]:
    """The alternatives of a schema, references followed."""
    if "$ref" in schema:
        return _flat(_schema()["$defs"][schema["$ref"].rsplit("/", 1)[1]])
    found = [one for option in schema.get("anyOf", ()) for one in _flat(option)]
    return found or [schema]


def _schema_at(place: Place) -> list[dict[str, Any]]:
    found = [_schema()]
    for name in place:
        inner = []
        for schema in found:
            if isinstance(name, int):
                step = schema.get("items")
            else:
                step = schema.get("properties", {}).get(name) or schema.get("additionalProperties")
            if isinstance(step, dict):
                inner += _flat(step)
        found = inner
    return found


def _fitting(schemas: list[dict[str, Any]], name: str, rng: random.Random, depth: int = 0) -> Any:
    """A value that one of the schemas allows, at its limits more often than not."""
    if not schemas:
        return copy.deepcopy(WILD[rng.randrange(len(WILD))])
    schema = schemas[rng.randrange(len(schemas))]
    if "enum" in schema:
        return rng.choice(schema["enum"])
    if "const" in schema:
        return schema["const"]
    kind = schema.get("type")
    if kind in ("number", "integer"):
        low = schema.get("minimum", schema.get("exclusiveMinimum", 0))
        high = schema.get("maximum", schema.get("exclusiveMaximum", 1000))
        between = low + (high - low) * rng.choice((1e-6, 0.01, 0.1, 0.3, 0.6, 0.9, 0.999))
        value = rng.choice((low, high, between, between, between))
        return round(value) if kind == "integer" else float(value)
    if kind == "boolean":
        return rng.choice((True, False))
    if kind == "array":
        length = rng.choice((schema.get("minItems", 0), 1, 1, 2, min(schema.get("maxItems", 3), 12)))
        return [
            _fitting(_flat(schema.get("items", {})), name, rng, depth + 1) for _ in range(length if depth < 4 else 0)
        ]
    if kind == "object":
        properties = schema.get("properties", {})
        needed = schema.get("required", [])
        names = [each for each in properties if each in needed or (depth < 3 and rng.random() < 0.15)]
        return {inner: _fitting(_flat(properties[inner]), inner, rng, depth + 1) for inner in names}
    if kind == "null":
        return 0
    if "format" in schema and rng.random() < 0.9:
        return dt.datetime(2027, 1, 9, 12) + dt.timedelta(hours=rng.choice((0, 1, 23, 24, 30, 48, 100)))
    return rng.choice(_said(name)) if rng.random() < 0.9 else rng.choice(WORDS)


@cache
def _said(name: str) -> tuple[str, ...]:
    """The words that whole documents have under a name, such as the insulations and heaters of the sample vans."""
    words = [_at(each, place) for each in documents() for place in _places(each) if name in place[-2:]]
    return tuple(word for word in dict.fromkeys(map(str, words)) if len(word) < 60) or WORDS


def bytes_mutated(raw: bytes, rng: random.Random) -> bytes:
    """Bytes changed as a broken disk, an editor or a spreadsheet would: flipped, cut, doubled, swapped, replaced."""
    for _ in range(rng.choice((1, 1, 1, 2, 5, 20))):
        at = rng.randrange(len(raw) + 1)
        near = min(len(raw), at + rng.choice((1, 1, 2, 8, 40, 400)))
        kind = rng.choice(("flip", "cut", "insert", "double", "swap", "truncate", "mark", "line", *("number",) * 6))
        if kind == "flip" and at < len(raw):
            raw = raw[:at] + bytes([raw[at] ^ (1 << rng.randrange(8))]) + raw[at + 1 :]
        elif kind == "cut":
            raw = raw[:at] + raw[near:]
        elif kind == "insert":
            raw = raw[:at] + rng.choice(INSERTED) + raw[at:]
        elif kind == "double":
            raw = raw[:near] + raw[at:near] + raw[near:]
        elif kind == "swap":
            other = rng.randrange(len(raw) + 1)
            low, high = sorted((at, other))
            raw = raw[:low] + raw[high : high + 8] + raw[low + 8 : high] + raw[low : low + 8] + raw[high + 8 :]
        elif kind == "truncate" and rng.random() < 0.2:
            raw = raw[:at]
        elif kind == "number":
            raw = _digit_changed(raw, at, rng)
        elif kind == "mark":
            raw = raw[:at].rstrip(b"0123456789") + rng.choice((b",", b".", b";", b"\t", b"-", b"e", b":")) + raw[at:]
        elif kind == "line":
            end = raw.find(b"\n", at)
            after = raw.find(b"\n", end + 1)
            raw = raw[: end + 1] + raw[after + 1 :] if rng.random() < 0.5 else raw[: after + 1] + raw[end + 1 :]
    return raw


INSERTED = (
    b"\x00", b"\xff", b"\xfe\xff", b"\r", b"\n", b"\n\n", b'"', b"'", b"\\", b"#", b",", b",,", b"\xc3\xa4", b"\xe4",
    b"1e999", b"nan", b"-", b"99999999999999999999", b"=", b"[", b"]]", b"{", b"\xef\xbb\xbf", b"/", b" " * 200,
)  # fmt: skip


def _digit_changed(raw: bytes, at: int, rng: random.Random) -> bytes:
    """The next digit from here replaced, so that the file stays readable and a value moves."""
    while at < len(raw) and not raw[at : at + 1].isdigit():
        at += 1
    return raw[:at] + str(rng.randrange(10)).encode() + raw[at + 1 :]
