"""Names are people's: whatever parts are called, every number is told of the part it belongs to."""

from __future__ import annotations

import datetime as dt
from functools import cache
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from sample_tours import short_tour
from sample_vans import sample_vans

from budget import simulate
from budget.answers import battery
from budget.answers.cooling import TwoNodes
from budget.answers.detail import Detail
from budget.answers.measured import record
from budget.answers.measured.forward import _coupled
from budget.answers.measured.logbook import Entry, bottle_names
from budget.answers.prepared import Prepared
from budget.cli.summary import by_load
from budget.engine.layout import FIXED_LOADS
from budget.report.reading import FIGURES, losses_kwh
from budget.report.scene import Scene
from budget.results.hourly_columns import hourly_columns
from budget.results.result import Result
from budget.stem import alike, apart, stem
from budget.van.model import Van

SAMPLES = Path(__file__).parents[2] / "weather_samples"
VANS = sample_vans()
REFERENCES = ("zone", "runs_through", "locker_zone", "sensor_zone")
PLAIN = ("main", "front", "side", "back")
STRANGE = (
    ("Living Area", "Кабина", "居間", "🚐"),
    ("mains", "loss", "fresh", "part"),  # words of other columns' names
    ("Жилая", "Жила", "bottle_1", "battery air"),
)


def renamed(van: Van, names: tuple[str, ...], loads: tuple[str, ...] = (), elements: tuple[str, ...] = ()) -> Van:
    """A van whose zones have other names in their order, likewise its first loads and each zone's first elements."""
    of = dict(zip((zone.name for zone in van.cabin.zones), names, strict=False))

    def walked(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: of.get(each, each) if key in REFERENCES else walked(each) for key, each in value.items()}
        return [walked(each) for each in value] if isinstance(value, (list, tuple)) else value

    told = walked(van.model_dump())
    for zone in told["cabin"]["zones"]:
        zone["name"] = of[zone["name"]]
        for element, name in zip(zone["opaque"], elements, strict=False):
            element["name"] = name
    for opening in told["cabin"]["openings"]:
        opening["between"] = [of[name] for name in opening["between"]]
    for load, name in zip(told["power"]["loads"], loads, strict=False):
        load["name"] = name
    return Van.model_validate(told)


@cache
def run(names: tuple[str, ...] = PLAIN, loads: tuple[str, ...] = (), elements: tuple[str, ...] = ()) -> Result:
    van = renamed(VANS["demo"], names, loads, elements)
    return simulate(van, short_tour(van), folder=SAMPLES)


def scene_of(result: Result) -> Scene:
    timeline = result.timeline
    places = tuple(result.tour.stops[k].place for k in timeline.stop)
    return Scene(timeline.edges, places, tuple(bool(k) for k in timeline.moving))


def test_a_stem_keeps_the_letters_and_digits_of_any_script() -> None:
    """Latin letters without their accents, so that a name typed on another keyboard is the same."""
    told = {
        "Living Area": "living_area", "wet-room": "wet_room", " Käina, 2nd ": "kaina_2nd", "ﬁn": "fin",
        "Straße": "strasse", "Жилая": "жилая", "ЧАЙ": "чай",
        "がま 口": "がま_口", "किचन": "किचन", "łódź": "łodz", "🚐": "part", "": "part",
    }  # fmt: skip
    assert {name: stem(name) for name in told} == told
    assert all(stem(found) == found for found in told.values())


def test_names_told_apart_keep_their_own_where_they_can_and_else_are_numbered() -> None:
    """The name that has a number already keeps it, wherever it stands, and nothing is given twice."""
    assert apart(["lamp", "Lamp", "lamp 2", "LAMP"], between=" ") == ["lamp", "Lamp 3", "lamp 2", "LAMP 4"]
    assert apart(["a", "b", "a"], free=lambda name: name not in ("a", "a_2")) == ["a_3", "b", "a_4"]
    assert alike(["living", "wet room", "Living", "wet-room"]) == ("living", "Living")
    assert alike(["living", "жилая", "🚐"]) is None


LOAD_NAMES = (
    *FIXED_LOADS, *(name.replace("_", " ").title() for name in FIXED_LOADS), "fan", "load_fan", "heater's controls",
    "charging loss", "all other loads", "вентилятор",
)  # fmt: skip


@pytest.mark.parametrize("name", LOAD_NAMES)
def test_a_load_may_bear_the_name_of_anything_else_that_takes_charge(name: str) -> None:
    """The same van with its greatest load called so and called fridge: no amp-hour moves, none is told twice."""
    known, found = run(), run(loads=(name,))
    first = known.van.power.loads[0].name
    was, told = known.summary["power"], found.summary["power"]
    assert {key: told[key] for key in told if key != "used_by_load_ah"} == {
        key: was[key] for key in was if key != "used_by_load_ah"
    }
    by_name = dict(told["used_by_load_ah"])
    others = {key: ah for key, ah in was["used_by_load_ah"].items() if key != stem(first)}
    (own,) = by_name.keys() - others.keys()
    assert by_name == others | {own: was["used_by_load_ah"][stem(first)]}
    assert own.startswith(stem(name)) and own not in FIXED_LOADS
    for day, as_known in zip(battery.days(Detail.of(found)), battery.days(Detail.of(known)), strict=True):
        assert (day.fan_ah, day.used_ah) == (as_known.fan_ah, pytest.approx(as_known.used_ah))
        assert sorted(day.used_by_load_ah.values()) == sorted(as_known.used_by_load_ah.values())
    section, plain = (FIGURES["battery"](result, scene_of(result)) for result in (found, known))
    assert section.answer == plain.answer
    assert section.table is not None and plain.table is not None
    assert section.table.rows == plain.table.rows
    assert len(set(section.table.columns)) == len(section.table.columns)


def test_the_screen_calls_the_heaters_fan_so_where_a_load_is_called_fan() -> None:
    assert by_load({"heater_fan": 20.0, "fan": 10.0}) == "heater fan 20, fan 10"
    assert by_load({"heater_standby": 20.0, "heater_s_controls": 10.0}) == "heater standby 20, heater s controls 10"


def unnamed(told: Any) -> Any:
    """What is told by part, without the parts' names."""
    return list(told.values()) if isinstance(told, dict) else told


@pytest.mark.parametrize("names", STRANGE)
def test_every_zone_has_its_own_numbers_whatever_it_is_called(names: tuple[str, ...]) -> None:
    """The same van under plain and under strange names: comfort, damp, frost, drying and loss, zone by zone."""
    known, found = run(), run(names)
    of = dict(zip(PLAIN, names, strict=True))
    for part in ("comfort", "frost"):
        assert list(found.summary[part].values()) == list(known.summary[part].values())
    assert list(found.summary["comfort"]) == list(names)
    for zone, damp in known.summary["damp"].items():
        told = found.summary["damp"][of[zone]]
        assert [unnamed(each) for each in told.values()] == [unnamed(each) for each in damp.values()]
    assert [(kit["zone"], kit["extra_gas_kg"]) for kit in found.summary["drying"]] == [
        (of[kit["zone"]], kit["extra_gas_kg"]) for kit in known.summary["drying"]
    ]
    assert [(zone, q) for zone, *_, q in losses_kwh(found)] == [
        (of.get(zone, zone), q) for zone, *_, q in losses_kwh(known)
    ]
    for name, draw in FIGURES.items():
        table, plain = draw(found, scene_of(found)).table, draw(known, scene_of(known)).table
        assert (table is None) == (plain is None), name
        if table is not None and plain is not None and name != "heat":  # whose rows begin with the zone
            assert [row[1:] for row in table.rows] == [row[1:] for row in plain.rows], name


@cache
def with_panes(*names: str) -> Result:
    """The demo with a pane of each name in its first zone, of which each loses more than the one before."""
    told = VANS["demo"].model_dump()
    panes = told["cabin"]["zones"][0]["glazing"]
    told["cabin"]["zones"][0]["glazing"] = [
        {**panes[0], "name": name, "u_w_per_m2k": 1.5 + k, "u_screened_w_per_m2k": 1.4} for k, name in enumerate(names)
    ]
    van = Van.model_validate(told)
    return simulate(van, short_tour(van), folder=SAMPLES)


@pytest.mark.parametrize("names", [("pane", "pane", "pane"), ("ribs", "corners", "Corners"), ("окно", "люк", "★")])
def test_every_surface_has_its_own_water_whatever_its_pane_is_called(names: tuple[str, ...]) -> None:
    """Panes of one name, or of the name of another surface of the zone: hours wet and grams as under three names."""
    known, found = with_panes("left", "right", "rear"), with_panes(*names)
    for zone, damp in known.summary["damp"].items():
        told = found.summary["damp"][zone]
        assert [unnamed(each) for each in told.values()] == [unnamed(each) for each in damp.values()]
        assert len({tuple(each.values()) for each in damp.get("by_surface", {}).values()}) > 1 or zone != "living"
    for night, as_known in zip(found.summary["damp_nights"], known.summary["damp_nights"], strict=True):
        assert [unnamed(each) for each in night.values()] == [unnamed(each) for each in as_known.values()]
    assert [notice for notice in found.notices if "wet" in notice] == [each for each in known.notices if "wet" in each]
    table, plain = (FIGURES["damp"](result, scene_of(result)).table for result in (found, known))
    assert table is not None and plain is not None
    assert [row[1:] for row in table.rows] == [row[1:] for row in plain.rows]
    assert len({row[0] for row in table.rows}) == found.built.size.surfaces


@pytest.mark.parametrize("names", STRANGE)
def test_no_two_columns_have_one_name_and_each_is_declared(names: tuple[str, ...]) -> None:
    """Two loads and two walls of one name, and an opening called as a zone's column: all numbers, in the same order."""
    known, found = run(), run(names, ("lamp", "Lamp", "lamp 2", "solar"), ("wall", "wall", "sun"))
    columns = [column.name for column in found.ledger]
    assert len(set(columns)) == len(columns) == len(known.ledger)
    assert [column.unit for column in found.ledger] == [column.unit for column in known.ledger]
    assert (found.flows.to_numpy() == known.flows.to_numpy()).all()
    assert (found.stocks.to_numpy() == known.stocks.to_numpy()).all()
    declared = hourly_columns(found)
    assert [column.name for column in declared] == list(found.hourly.columns)
    assert [column.meaning for column in declared] == [column.meaning for column in hourly_columns(known)]
    for column in found.ledger:
        if column.index and not column.derived:
            where = [other.name for other in found.columns(column.family)].index(column.name)
            assert found.column(column.family, where).name == column.name


def test_columns_of_zones_bear_the_zones_names() -> None:
    hourly = run(STRANGE[0]).hourly
    assert {"living_area_air_c", "кабина_air_c", "居間_air_c", "part_air_c"} <= set(hourly.columns)


ELEMENTS = ("lining", "shell", "air exchange", "lining")


def test_walls_called_as_what_lies_behind_them_lose_their_own_heat() -> None:
    """Walls called lining, shell and the same twice: each row of the report's losses as under the walls' own names."""
    known, found = losses_kwh(run()), losses_kwh(run(elements=ELEMENTS))
    assert [(zone, group, q) for zone, _, group, q in found] == [(zone, group, q) for zone, _, group, q in known]
    hour = 40
    assert (
        TwoNodes.at_stop(Detail.of(run(elements=ELEMENTS)), hour)
        == TwoNodes.at_stop(Detail.of(run()), hour)
        is not None
    )


def test_only_exchange_with_linings_is_scaled_whatever_the_zones_are_called() -> None:
    """Bottles beside a zone called "old lining" keep their own exchange with it."""
    for names in (PLAIN, ("old lining", "x lining", "y lining", "z lining")):
        built = run(names).built
        before, after = built.arrays["edge_w_per_k"][0], _coupled(built, 2.0).arrays["edge_w_per_k"][0]
        scaled = [edge.name for edge, was, now in zip(built.edges, before, after, strict=False) if was != now]
        assert scaled == [f"{name} lining" for name in names]


@pytest.mark.parametrize("names", STRANGE)
def test_a_record_tells_the_living_areas_temperature_whatever_it_is_called(names: tuple[str, ...]) -> None:
    """After one weighing, the mean inside is that of the living area's air until then."""
    result = run(names)
    prepared = Prepared.of(result.van, result.tour, folder=SAMPLES)
    bottle = result.van.gas.bottles[0]
    at = dt.datetime(2027, 1, 21, 12, 0, tzinfo=ZoneInfo("Europe/Riga"))
    gross_kg = bottle.tare_kg + float(result.stocks["bottle_1_kg"].loc[at])
    found = record.answer(
        prepared, (Entry(at, bottle=bottle_names(result.van.gas.bottles)[0], gross_kg=gross_kg),), scenarios=50
    )
    living = run().stocks["main_air_c"].iloc[:25]
    assert found.mean_inside_c == pytest.approx(float(living.mean()))
    loads = [column.name for column in result.ledger if column.family == "load_ah"]
    assert found.used_ah_per_day == pytest.approx(float(result.flows[loads].iloc[:24].to_numpy().sum()))
