"""Help topics made from the models and the commands themselves, so that they cannot drift."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import click

from budget.cli.faults import DONE, FAULT, INTERNAL, INTERRUPTED, USAGE
from budget.units import unit_of

_SHORT_FORMS = """Short forms: `people = 2` stands for so many usual adults; `comfort = "moderate"` for a packaged
schedule; `nights = 3` at a stop gives its departure and the next arrival; `hookup = true` is a hook-up of 6 A;
`start = 2027-01-09` means 12:00 on that day, `arrive` 15:00. `van = "our-van.toml"` takes the van from another file.
File names are relative to the tour file; `sample:NAME` is a packaged weather record. What the words of a van stand for
(heaters, bottles, loads ...): `budget help presets`.

Spans of time are texts such as "17:00-09:00" (over midnight too) or "mon-fri 08:00-18:00", one or a list of them.
`[name]` heads a table, `[[name]]` one table of a list, to be repeated; NAME is a word of your own. On the command line
`--set stops[0].nights=3` sets one value; lists count from 0."""
# What a short form stands for need not be given itself.
_SPELLED_OUT = {"end", "schedules", "schedule"}

_HOURLY = """A row an hour, by its start in local time, as in `hourly.csv`, `hourly.parquet` and, in Python,
`result.hourly`. A stock stands at the end of the hour; a flow is an amount over the hour that one of the books accounts
for; a measure is anything else counted over the hour. The unit ends the name. The star stands for a part: a zone, a
surface, a tank, a bottle (`bottle_1`), a load, by its name in lower case with `_` for what is neither letter nor digit
(in the JSON too); where two would have one name, the second is numbered (a load "heater fan" is `heater_fan_2`). Flows
are counted in the direction that is given."""

_CODES = (
    (DONE, "done"),
    (FAULT, "the input was understood but cannot be run; one sentence for each fault on standard error"),
    (USAGE, "wrong usage of the command line"),
    (INTERNAL, "an internal fault, such as books that do not close; nothing is written"),
    (INTERRUPTED, "interrupted"),
)


def tour_file() -> str:
    """Every table of the tour file with its fields, from the JSON Schema."""
    from budget.tour.model import Tour
    from budget.tour.schema import json_schema

    schema = json_schema()
    definitions: Mapping[str, Any] = schema["$defs"]
    top = {name: field for name, field in schema["properties"].items() if name != "tour"}
    required = {name for name, field in Tour.model_fields.items() if field.is_required()} - _SPELLED_OUT
    lines = [
        "# The tour file",
        "",
        "A TOML file with the tour, the van and the weather.",
        "",
        *_SHORT_FORMS.split("\n"),
    ]
    lines += ["", "## At the top of the file", "", *_fields(top, {*schema["required"], *required})]
    for name, where in _tables(top, definitions).items():
        table = definitions[name]
        lines += ["", f"## {where}", "", table.get("description", "").split("\n\n")[0].replace("\n", " "), ""]
        lines += _fields(table["properties"], table.get("required", ()))
    return "\n".join(lines) + "\n"


def _tables(top: Mapping[str, Any], definitions: Mapping[str, Any]) -> dict[str, str]:
    """Each table's definition with the heads it is written under, in the order in which a reader meets them."""
    found: dict[str, list[str]] = {}
    waiting = [(path, *reference) for path, field in top.items() for reference in _references(field)]
    while waiting:
        path, named, listed, name = waiting.pop(0)
        path += ".NAME" if named else ""
        places = found.setdefault(name, [])
        if len(places) < 3:
            places.append(f"[[{path}]]" if listed else f"[{path}]")
        if len(places) == 1:
            inner = definitions[name]["properties"]
            waiting += [
                (f"{path}.{part}", *reference) for part, field in inner.items() for reference in _references(field)
            ]
    titles = {"VanDescription": "the van described", "Van": "the van in full, instead of a description"}
    return {
        name: ", ".join(f"`{path}`" for path in dict.fromkeys(places)) + (f", {titles[name]}" if name in titles else "")
        for name, places in found.items()
    }


def _references(field: Any, named: bool = False, listed: bool = False) -> Iterator[tuple[bool, bool, str]]:
    """Tables that a field may hold: under names of one's own, in a list, and the definition's name."""
    if isinstance(field, Mapping):
        if "$ref" in field:
            yield named, listed, str(field["$ref"]).rsplit("/", 1)[-1]
        for part, inner in field.items():
            if part != "default":
                yield from _references(inner, named or part == "additionalProperties", listed or part == "items")
    elif isinstance(field, list):
        for inner in field:
            yield from _references(inner, named, listed)


def _fields(properties: Mapping[str, Any], required: Iterable[str]) -> list[str]:
    compulsory = set(required)
    return [f"- `{name}`: {_about(field, name in compulsory)}" for name, field in properties.items()]


def _about(field: Mapping[str, Any], compulsory: bool) -> str:
    said = str(field.get("description", "")).rstrip(".")
    choices = [field, *field.get("anyOf", ()), *field.get("oneOf", ())]
    choices += [choice["items"] for choice in choices if "items" in choice]
    parts = [said] if said else []
    listed = [word for choice in choices for word in choice.get("enum", ())]
    if listed:
        parts.append("one of " + ", ".join(f'"{word}"' for word in listed))
    for choice in choices:
        if "minimum" in choice and "maximum" in choice:
            parts.append(f"{_plain(choice['minimum'])} to {_plain(choice['maximum'])}")
            break
    if "common_practice_range" in field:
        low, high = field["common_practice_range"]
        parts.append(f"usually {_plain(low)} to {_plain(high)} (common practice, no source)")
    default = field.get("default")
    if compulsory:
        parts.append("required")
    elif default not in (None, [], {}) and len(json.dumps(default)) < 60:
        parts.append(f"default {json.dumps(default, ensure_ascii=False)}")
    return "; ".join(parts) + "."


def presets_page() -> str:
    """Every packaged preset with its numbers and ranges."""
    from budget.tour.shorthand import comfort_presets
    from budget.van import presets

    lines = ["# Presets", "", "Words that stand for numbers; each may be overwritten. All numbers: common practice, no"]
    lines += ["source; shown as usual value (low to high, about P10 to P90; none: by definition)."]
    for kind in presets.kinds():
        lines += ["", f"## {kind.replace('_', ' ')}", ""]
        for word, preset in presets.load(kind).items():
            numbers = [
                f"{name} {_spread(value.usual, value.low, value.high)} {_unit(unit_of(name))}".strip()
                for name, value in preset.values.items()
                if isinstance(value, presets.Spread)
            ]
            lines.append(f"- `{word}`: {preset.meaning}" + (f"; {', '.join(numbers)}" if numbers else ""))
    lines += ["", "## comfort", ""]
    for word, schedule in comfort_presets().items():
        steps = ", ".join(f"{step['air_c']:g} °C from {step['at']}" for step in schedule["steps"])
        lines.append(f"- `{word}`: {steps}")
    return "\n".join(lines) + "\n"


def _plain(value: float) -> str:
    """A number as it may be copied into a tour file: no power of ten."""
    return f"{value:.10g}"


def _spread(usual: float, low: float, high: float) -> str:
    return _plain(usual) + (f" ({_plain(low)} to {_plain(high)})" if low < high else "")


def _unit(unit: str | None) -> str:
    return "" if unit in (None, "–", "0–1") else str(unit)


def hourly() -> str:
    """Every column of the hourly table by family, from the ledger."""
    from budget.engine.van_arrays import build_van
    from budget.results.hourly_columns import SURROUNDINGS
    from budget.results.ledger import FAMILIES, columns
    from budget.tour.reader import load

    derived = [column for column in columns(build_van(load(None).van)) if column.derived]
    named = dict.fromkeys(
        (re.sub(r"bottle_\d+", "bottle_N", c.name), c.unit, c.kind, c.sign, c.meaning) for c in derived
    )
    lines = ["# The hourly table", "", *_HOURLY.split("\n"), "", "## Surroundings", ""]
    lines += [f"- `{c.name}` [{c.unit}]: {c.meaning}; {c.kind}" for c in SURROUNDINGS]
    for kind, title in (("stock", "Stocks"), ("flow", "Flows"), ("measure", "Measures")):
        lines += ["", f"## {title}", ""]
        for family in FAMILIES:
            if family.kind == kind:
                name = family.pattern.replace("{}", "*")
                lines.append(f"- `{name}` [{unit_of(name) or 'count'}]: {family.meaning}; {family.sign}")
        lines += [f"- `{name}` [{unit}]: {said}; {sign}" for name, unit, kind_, sign, said in named if kind_ == kind]
    return "\n".join(lines) + "\n"


def commands() -> str:
    """Every command's own help, and the exit codes."""
    from budget.cli import COMMANDS, main

    lines = ["# Commands", "", "Completion of commands and options in the shell:"]
    lines += ['`eval "$(_BUDGET_COMPLETE=bash_source budget)"` (or zsh_source, fish_source).']
    with click.Context(
        main, info_name="budget", terminal_width=100, max_content_width=100, help_option_names=["-h", "--help"]
    ) as above:
        for name in COMMANDS:
            found = main.get_command(above, name)
            if found is not None:
                with click.Context(found, parent=above, info_name=name) as context:
                    lines += ["", f"## budget {name}", "", "```", found.get_help(context), "```"]
    lines += ["", "## Exit codes", ""]
    lines += [f"- {code}: {meaning}" for code, meaning in _CODES]
    lines += ["", "Data go to standard output, talk goes to standard error. NO_COLOR is respected."]
    return "\n".join(lines) + "\n"
