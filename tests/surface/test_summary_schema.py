"""The published schema of ``--json`` is true of what is printed, and says a word on all of it."""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from conftest import Call
from sample_reports import demo
from sample_tours import short_tour
from sample_vans import sample_vans

from budget.answers.json_schema import schema_of, summary_schema
from budget.cli.common import as_json
from budget.cli.further import Further
from budget.results.result import Result
from budget.simulation import simulate
from budget.tour.reader import Loaded, load
from budget.van.model import Van

# A lead battery without boiler or valve, an absorption fridge, an empty bottle, one room without ducts, and butane.
VANS = ("tiny_bare", "heavy", "electric_only", "one_room", "butane")
SAMPLES = ("demo", *VANS)
Names = tuple[str, ...]


def run(sample: str) -> tuple[Loaded, Result]:
    if sample == "demo":
        return load(None), demo()
    van = butane() if sample == "butane" else sample_vans()[sample]
    tour = short_tour(van)
    loaded = Loaded(
        van=van, tour=tour, description=None, folder=Path(), notices=(), sources=(), as_described=van
    )  # fmt: skip
    return loaded, simulate(van, tour)


def butane() -> Van:
    """One room whose bottles hold nothing else, with power to ask for it, and a heater of a quarter of its output."""
    van = sample_vans()["one_room"]
    bottles = tuple(bottle.model_copy(update={"propane_share": 0.0}) for bottle in van.gas.bottles)
    battery = van.power.battery.model_copy(update={"capacity_ah": 2000.0, "start_share": 1.0})
    power = van.power.model_copy(update={"battery": battery})
    stages = tuple(s.model_copy(update={"output_w": 0.25 * s.output_w}) for s in van.heater.stages)
    heater = van.heater.model_copy(update={"stages": stages})
    return van.model_copy(
        update={"gas": van.gas.model_copy(update={"bottles": bottles}), "power": power, "heater": heater}
    )


@cache
def printed(sample: str) -> Any:
    """The JSON of a run, as ``budget run --json`` prints it, of one sample with odds."""
    loaded, result = run(sample)
    scenarios = 100 if sample == "one_room" else 0
    further = Further(loaded, result, None, scenarios, 1, lambda _: None)
    return json.loads(as_json(result.summary | further.as_dict()))


@cache
def validator() -> jsonschema.Draft202012Validator:
    return jsonschema.Draft202012Validator(
        summary_schema(), format_checker=jsonschema.Draft202012Validator.FORMAT_CHECKER
    )


def strict(schema: Any) -> Any:
    """The schema with nothing allowed that it does not name."""
    if isinstance(schema, dict):
        found = {name: strict(value) for name, value in schema.items()}
        return found | ({"additionalProperties": False} if "properties" in schema else {})
    return [strict(value) for value in schema] if isinstance(schema, list) else schema


def declared(schema: Any, path: Names = ()) -> Iterator[Names]:
    """The path of every name that a schema declares; * stands for any name or place in a list."""
    for name, inner in schema.get("properties", {}).items():
        yield (*path, name)
        yield from declared(inner, (*path, name))
    for inner in (schema.get("items"), schema.get("additionalProperties"), *schema.get("anyOf", ())):
        if isinstance(inner, dict):
            yield from declared(inner, path if inner in schema.get("anyOf", ()) else (*path, "*"))


def filled(schema: Any, data: Any, path: Names = ()) -> Iterator[Names]:
    """The path of every declared name that data fill."""
    for option in schema.get("anyOf", ()):
        yield from filled(option, data, path)
    if isinstance(data, dict):
        for name, value in data.items():
            known = name in schema.get("properties", {})
            inner = schema["properties"][name] if known else schema.get("additionalProperties", {})
            here = (*path, name if known else "*")
            yield here
            yield from filled(inner, value, here)
    elif isinstance(data, list):
        for value in data:
            yield from filled(schema.get("items", {}), value, (*path, "*"))


def test_the_schema_is_a_schema(call: Call) -> None:
    jsonschema.Draft202012Validator.check_schema(summary_schema())
    assert json.loads(call("schema", "summary").out) == summary_schema()


@pytest.mark.parametrize("sample", SAMPLES)
def test_what_a_run_prints_is_valid_and_every_name_in_it_is_declared(sample: str) -> None:
    """The published schema lets names be added; the program itself may add none without declaring it."""
    assert [fault.message for fault in validator().iter_errors(printed(sample))] == []
    closed = jsonschema.Draft202012Validator(strict(summary_schema()))
    assert [f"{fault.json_path}: {fault.message}" for fault in closed.iter_errors(printed(sample))] == []


def test_every_name_that_is_declared_is_printed_by_some_run() -> None:
    schema = summary_schema()
    seen = {path for sample in SAMPLES for path in filled(schema, printed(sample))}
    assert set(declared(schema)) - seen == set()


@pytest.mark.parametrize(
    ("path", "wrong"),
    [
        (("gas", "total_kg"), "56.8"),
        (("gas", "swaps", 0, "time"), 7),
        (("power", "lowest_state_of_charge"), None),
        (("comfort", "living", "mean_c"), None),
        (("outage", "nights"), {}),
        (("notices",), "all is well"),
    ],
)
def test_a_wrong_summary_is_refused(path: tuple[Any, ...], wrong: Any) -> None:
    told = copy.deepcopy(printed("demo"))
    holder = told
    for name in path[:-1]:
        holder = holder[name]
    holder[path[-1]] = wrong
    assert not validator().is_valid(told)
    del holder[path[-1]]
    assert validator().is_valid(told) == isinstance(path[-1], int)


def test_a_type_that_json_lacks_has_no_schema() -> None:
    with pytest.raises(TypeError, match="has no JSON Schema here"):
        schema_of(complex)
