"""The help topics cannot drift: every field, command, option, column and formula is in its topic, as in the code."""

from __future__ import annotations

import ast
import inspect
import json
import re
from collections.abc import Iterator
from functools import cache
from typing import Any

import click
import pytest
from conftest import Call
from pydantic import BaseModel
from sample_reports import demo
from sample_vans import sample_vans

from budget.cli import COMMANDS, equations, faults, main
from budget.cli.help import page
from budget.engine.van_arrays import build_van
from budget.results.hourly_columns import SURROUNDINGS
from budget.results.ledger import columns
from budget.tour.model import Stop, Tour
from budget.tour.schema import json_schema
from budget.tour.sentences import children, inside, limits
from budget.units import unit_of
from budget.van.description import VanDescription
from budget.van.model import Van

# What a docstring must name to say where a formula is from: a standard, a book, a paper's year, a law, a method, a
# reference library, or that there is no source.
SOURCE = re.compile(
    r"ISO \d|EN \d|BS \d|ASHRAE|CoolProp|Hyland|Colebrook|\b(19|20)\d\d\b|Raoult|Peukert|Newton|Lewis|[Bb]alance|"
    r"conserv|[Cc]losed form|[Dd]erivative|[Ii]nverse|[Cc]ommon practice|from memory|ideal|fit |parabola|"
    r"implicit Euler|linear"
)

# What a short form may stand for: nights for dates, comfort for schedules.
SPELLED_OUT = {(Tour, "end"), (Tour, "schedule"), (Tour, "schedules"), (Stop, "arrive")}
CODES = {"LIFEPO4", "AGM", "GEL", "WET"}


@cache
def topic(name: str) -> str:
    return page(name)


def models(annotation: Any, seen: set[type]) -> Iterator[type[BaseModel]]:
    """Every model that a field may hold, itself first."""
    for choice in children(annotation):
        if isinstance(choice, type) and issubclass(choice, BaseModel) and choice not in seen:
            seen.add(choice)
            yield choice
            for field in choice.model_fields.values():
                yield from models(field.annotation, seen)
        for part in (0, "any"):
            step = inside(choice, part) if not isinstance(choice, type) else None
            if step is not None:
                yield from models(step[0], seen)


def fields() -> list[tuple[type[BaseModel], str]]:
    seen: set[type] = set()
    return [
        (model, name)
        for top in (Tour, VanDescription, Van)
        for model in models(top, seen)
        for name in model.model_fields
    ]


def lines_about(model: type[BaseModel], name: str) -> list[str]:
    """The lines of the reference that are about a field, told from its namesakes by what it says of itself."""
    said = (model.model_fields[name].description or "").rstrip(".")
    found = re.findall(rf"^- `{name}`: (.*)$", topic("tour-file"), flags=re.MULTILINE)
    return [line for line in found if line.startswith(said)]


def test_the_walk_over_the_models_misses_none() -> None:
    """As many models as the JSON Schema has, which pydantic gathers by itself."""
    seen = {model.__name__ for model, _ in fields()}
    assert seen - {"Tour"} == set(json_schema()["$defs"])


@pytest.mark.parametrize(("model", "name"), fields(), ids=lambda part: getattr(part, "__name__", part))
def test_every_field_is_in_the_reference_with_its_unit_range_and_default(model: type[BaseModel], name: str) -> None:
    field = model.model_fields[name]
    assert field.description
    expected = []
    low, high = limits(field.annotation, field)
    if low is not None and high is not None:
        unit = unit_of(name)
        expected += [f"{low:.10g} to {high:.10g}", *([f"[{unit}]"] if unit else [])]
    default = field.get_default(call_default_factory=True)
    if field.is_required() and (model, name) not in SPELLED_OUT:
        expected.append("required.")
    elif isinstance(default, (float, str)) and default:
        expected.append(f"default {json.dumps(default, ensure_ascii=False)}")
    assert any(all(part in line for part in expected) for line in lines_about(model, name))


def test_every_command_is_in_the_command_reference_with_every_option() -> None:
    for name in COMMANDS:
        (told,) = re.findall(
            rf"^## budget {name}\n\n```\n(.*?)^```$", topic("commands"), flags=re.MULTILINE | re.DOTALL
        )
        command = main.get_command(click.Context(main), name)
        assert command is not None
        for parameter in command.params:
            if isinstance(parameter, click.Option):
                assert all(word in told for word in parameter.opts), f"{name} {parameter.opts}"
                assert parameter.help, f"{name} {parameter.opts}"
            else:
                assert (parameter.metavar or parameter.make_metavar(click.Context(command))) in told


def test_numbers_of_the_presets_may_be_copied_and_the_tour_file_says_where_their_words_are() -> None:
    assert not re.search(r"\de\+?\d|\d,\d{3}", topic("presets") + topic("tour-file"))
    assert "`budget help presets`" in topic("tour-file")
    assert "net_kg 11 kg" in topic("presets") and "tare_kg 12.5 (11 to 14) kg" in topic("presets")


def test_every_exit_code_is_in_the_command_reference() -> None:
    codes = {faults.DONE, faults.FAULT, faults.USAGE, faults.INTERNAL, faults.INTERRUPTED}
    assert {int(code) for code in re.findall(r"^- (\d+): ", topic("commands"), flags=re.MULTILINE)} == codes


def functions() -> list[tuple[str, ast.FunctionDef]]:
    found = []
    for path in equations.sources():
        tree = ast.parse(path.read_text("utf-8"))
        found += [(ast.get_docstring(tree) or "", function) for function in equations.public_functions(tree)]
    return found


@pytest.mark.parametrize(("about", "function"), functions(), ids=[function.name for _, function in functions()])
def test_every_formula_is_in_its_topic_with_its_source(about: str, function: ast.FunctionDef) -> None:
    """What the function says of itself, whole; and it says where it is from, or its formula stands there to be read."""
    said = ast.get_docstring(function)
    assert said
    (told,) = re.findall(
        rf"^### {function.name}\([^\n]*\n\n(.*?)(?=^##|\Z)", topic("equations"), flags=re.MULTILINE | re.DOTALL
    )
    assert told.startswith(inspect.cleandoc(said))
    assert SOURCE.search(said) or SOURCE.search(about) or re.search(r"^    return .", told, flags=re.MULTILINE)


def test_every_number_of_the_physics_is_in_its_topic_with_where_it_is_from() -> None:
    """A comment says so; what is reckoned from other numbers shows how."""
    for path in equations.sources():
        for node in ast.parse(path.read_text("utf-8")).body:
            if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
                name = node.targets[0].id
                told = "".join(re.findall(rf"^- {name} = .+$", topic("equations"), flags=re.MULTILINE))
                plain = isinstance(node.value, ast.Constant)
                assert told
                assert not plain or ": " in told or name.startswith("_") or name in CODES, name


def patterns() -> list[tuple[re.Pattern[str], str]]:
    """Columns as the topic writes them: a pattern of names, and the unit."""
    found = re.findall(r"^- `([\w*]+)` \[([^\]]+)\]", topic("hourly"), flags=re.MULTILINE)
    return [(re.compile(re.escape(name).replace(r"\*", r"\w+").replace("_N_", r"_\d+_")), unit) for name, unit in found]


def test_every_column_of_every_sample_van_is_in_the_hourly_topic_with_its_unit() -> None:
    known = patterns()
    vans = [demo().van, *sample_vans().values()]
    named = {column.name: column.unit for van in vans for column in columns(build_van(van))}
    named |= {column.name: column.unit for column in SURROUNDINGS}
    assert set(demo().hourly.columns) <= set(named)
    for name, unit in named.items():
        assert any(unit == of and pattern.fullmatch(name) for pattern, of in known), name


def test_help_of_a_topic_that_does_not_exist_says_which_do(call: Call) -> None:
    assert call("help", "equatoins") == (1, "", 'budget: there is no topic "equatoins"; did you mean equations?\n')
