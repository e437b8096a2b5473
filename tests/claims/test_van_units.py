"""The unit ends the name, and the docstring says the same."""

from __future__ import annotations

import re
import types
import typing
from collections.abc import Iterator
from typing import Any

import pytest
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from budget.tour.model import Tour
from budget.units import unit_of
from budget.van.description import VanDescription
from budget.van.model import Van

# Plain counts, two quantities whose unit is a word, and a correlation, which has none.
COUNTS = {"bends", "count", "door_openings", "reserve_nights", "correlation"}


def leaves(annotation: Any) -> Iterator[Any]:
    """Every plain type inside an annotation."""
    arguments = typing.get_args(annotation)
    if typing.get_origin(annotation) is typing.Annotated:
        arguments = arguments[:1]
    if typing.get_origin(annotation) is typing.Literal or not arguments:
        yield annotation
    for argument in arguments if typing.get_origin(annotation) is not typing.Literal else ():
        yield from leaves(argument)


def models(*starts: type[BaseModel]) -> dict[str, type[BaseModel]]:
    """Every model that the given ones hold, by name."""
    found: dict[str, type[BaseModel]] = {}
    waiting = list(starts)
    while waiting:
        model = waiting.pop()
        if model.__name__ not in found:
            found[model.__name__] = model
            for field in model.model_fields.values():
                waiting += [
                    leaf
                    for leaf in leaves(field.annotation)
                    if isinstance(leaf, type)
                    and not isinstance(leaf, types.GenericAlias)
                    and issubclass(leaf, BaseModel)
                ]
    return found


FIELDS = [
    (model, name, field)
    for model, kind in sorted(models(Van, Tour, VanDescription).items())
    for name, field in kind.model_fields.items()
]
NUMERIC = [
    (model, name, field)
    for model, name, field in FIELDS
    if any(leaf in (float, int) for leaf in leaves(field.annotation))
]


def test_the_walk_reaches_every_part() -> None:
    assert {"Layer", "Stage", "Boiler", "Bottle", "Solar", "Fridge", "Stop", "Cooking", "Window"} <= {
        model for model, _, _ in FIELDS
    }
    assert len(NUMERIC) > 150


@pytest.mark.parametrize(("model", "name", "field"), NUMERIC, ids=[f"{m}.{n}" for m, n, _ in NUMERIC])
def test_a_number_ends_in_its_unit_and_its_docstring_says_the_same(model: str, name: str, field: FieldInfo) -> None:
    if name in COUNTS:
        return
    unit = unit_of(name)
    assert unit is not None, f"{model}.{name} ends in no unit"
    stated = re.search(r"\[([^\]]*)\]\s*$", field.description or "")
    assert stated is not None, f"{model}.{name} states no unit"
    assert stated[1] == unit


@pytest.mark.parametrize(("model", "name", "field"), FIELDS, ids=[f"{m}.{n}" for m, n, _ in FIELDS])
def test_a_field_says_what_it_means(model: str, name: str, field: FieldInfo) -> None:
    assert field.description, f"{model}.{name} has no description"


@pytest.mark.parametrize(("model", "name", "field"), NUMERIC, ids=[f"{m}.{n}" for m, n, _ in NUMERIC])
def test_a_default_lies_within_the_common_range(model: str, name: str, field: FieldInfo) -> None:
    extra = field.json_schema_extra
    if not isinstance(extra, dict) or "common_practice_range" not in extra or field.default is None:
        return
    spread = extra["common_practice_range"]
    assert isinstance(spread, list)
    low, high = spread
    assert isinstance(low, float)
    assert isinstance(high, float)
    assert low < high
    if isinstance(field.default, float):
        assert low <= field.default <= high, f"{model}.{name}"
