"""The tour file: one TOML file with the van, the tour and the weather, or pointing to others."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel, ValidationError

from budget.arrived import plain, written
from budget.errors import InputFault
from budget.tour.events import events
from budget.tour.faults import NEAR, Fault, Path
from budget.tour.files import DEMO_TOUR, locate
from budget.tour.itinerary import itinerary
from budget.tour.model import Tour
from budget.tour.names import unknown_bottles, unknown_openings_and_zones
from budget.tour.overrides import Override, is_in_full, knows, parse_override, set_value
from budget.tour.sentences import faults_of, type_fault
from budget.tour.shorthand import Spelled, spell_out
from budget.tour.strict import coerced
from budget.tour.toml_file import TomlFile, read_toml
from budget.van.learned import LearnedSection, as_learned
from budget.van.model import Van

if TYPE_CHECKING:
    from budget.van.description import VanDescription

MOST_FAULTS = 20
# Names of a stop that must not stand beside each other: one set from outside takes the place of the file's.
_RIVALS: dict[str | int, str] = {"hookup_a": "hookup", "hookup": "hookup_a", "nights": "depart", "depart": "nights"}


@dataclass(frozen=True)
class Loaded:
    """A tour file read: van and tour ready for the engine, and what was assumed on the way.

    ``van`` has in it what a log said of it (the tour's ``learned``), ``as_described`` has not. ``description`` is the
    van as a person described it, None when the file gave the full van. ``folder`` is what file names are relative to,
    ``sources`` every file that was read, ``notices`` one sentence for each thing assumed.
    """

    van: Van
    tour: Tour
    description: VanDescription | None
    folder: FilePath
    notices: tuple[str, ...]
    sources: tuple[FilePath, ...]
    as_described: Van


@dataclass
class _Reading:
    """A reading in progress: files, values set from outside, faults as sentences in order of line."""

    tour_file: TomlFile
    overrides: list[Override]
    faults: list[tuple[tuple[int, int], str]] = field(default_factory=list)

    def add(self, file: TomlFile, faults: Sequence[Fault], prefix: Path = ()) -> None:
        """Note faults of a file; ``prefix`` leads from the file's data to where they lie."""
        for fault in faults:
            told = Fault((*prefix, *fault.path), fault.text)
            full = told.path if file is self.tour_file or prefix else ("van", *told.path)
            override = next((o for o in self.overrides if full[: len(o.path)] == o.path), None)
            if override is not None:
                self.faults.append(((1, 0), Fault(full, fault.text).sentence(override.where)))
            else:
                order = (0 if file is self.tour_file else 2, file.line(told.path) or 0)
                self.faults.append((order, file.sentence(told)))

    def stop_if_faulty(self) -> None:
        """InputFault with every fault so far, at most 20, in order of line."""
        if self.faults:
            sentences = [sentence for _, sentence in sorted(self.faults, key=lambda told: told[0])]
            more = len(sentences) - MOST_FAULTS
            if more > 0:
                sentences[MOST_FAULTS:] = [f"{self.tour_file.name} has {more} more faults; correct these first."]
            raise InputFault(sentences)


def load(path: FilePath | str | None, overrides: Sequence[str] = ()) -> Loaded:
    """Read a tour file, or the built-in demo tour for None; ``overrides`` are NAME=VALUE, as in a --set option.

    InputFault with one sentence for every fault (up to 20): file, line, field, what is required, what arrived.
    """
    file = read_toml(DEMO_TOUR, "the demo tour") if path is None else read_toml(FilePath(path), os.fspath(path))
    reading = _Reading(file, _parsed(overrides))
    data = _tour_table(reading)
    van_file, van_prefix, van_data = _van_table(reading, data)
    learned_file = _learned_table(reading, data)
    spelled = _spelled(reading, data)
    tour = _validated(reading, file, (), Tour, spelled.data)
    van, description = _van(reading, van_file, van_prefix, van_data)
    reading.stop_if_faulty()
    if tour is None or van is None:
        raise AssertionError("a description without faults is valid")
    folder = file.path.resolve().parent
    _cross_check(reading, tour, van, folder)
    reading.stop_if_faulty()
    sources = tuple(dict.fromkeys((file.path, van_file.path, learned_file.path)))
    learned = van if tour.learned is None else as_learned(van, tour.learned)
    return Loaded(learned, tour, description, folder, tuple(spelled.notices), sources, van)


def _parsed(assignments: Sequence[str]) -> list[Override]:
    overrides: list[Override] = []
    faults: list[str] = []
    for assignment in assignments:
        try:
            overrides.append(parse_override(assignment))
        except InputFault as fault:
            faults += fault.faults
    if faults:
        raise InputFault(faults)
    return overrides


def _tour_table(reading: _Reading) -> dict[str, Any]:
    """The tour's values, whether at the top of the file or in a [tour] table."""
    data = dict(reading.tour_file.data)
    if "tour" not in data:
        return data
    table = data.pop("tour")
    if not isinstance(table, dict):
        reading.add(reading.tour_file, [Fault(("tour",), f"must be a table, got {written(table)}; write [tour].")])
        return data
    for name in sorted(set(table) & set(data)):
        text = "must be given once, got it in [tour] and at the top; leave one of them out."
        reading.add(reading.tour_file, [Fault((name,), text)])
    return {**table, **data}


def _van_table(reading: _Reading, data: dict[str, Any]) -> tuple[TomlFile, Path, Any]:
    """The van's values with the file they stand in and the path to them."""
    file = reading.tour_file
    if "van" not in data:
        text = 'is required; describe it in a table [van], or name its file: van = "our-van.toml".'
        reading.add(file, [Fault(("van",), text)])
        return file, ("van",), None
    van = data.pop("van")
    if not isinstance(van, str):
        return file, ("van",), van
    path = file.path.parent / FilePath(van).expanduser()
    if path.resolve() == file.path.resolve():
        text = f'must name another file, got "{van}", which is this file; give the van in a table [van].'
        reading.add(file, [Fault(("van",), text)])
        return file, ("van",), None
    try:
        van_file = read_toml(path, van)
    except InputFault as fault:
        where = file.where(("van",))
        reading.faults.append(((0, 0), f"{where}: van file {fault}"))
        return file, ("van",), None
    if "van" not in van_file.data:
        return van_file, (), van_file.data
    inner = van_file.data["van"]
    if isinstance(inner, str):
        text = f'must be a table in a van file, got "{inner}"; a van file cannot point to another.'
        reading.add(van_file, [Fault(("van",), text)])
        return van_file, ("van",), None
    others = [name for name in van_file.data if name != "van"]
    reading.add(
        van_file, [Fault((name,), "must not stand beside [van] in a van file; leave it out.") for name in others]
    )
    return van_file, ("van",), inner


def _learned_table(reading: _Reading, data: dict[str, Any]) -> TomlFile:
    """Put what a log said in place of the name of its file, which may be set from outside; the file it stands in."""
    file, outside = reading.tour_file, [override for override in reading.overrides if _names_learned(override)]
    name = outside[-1].value if outside else data.get("learned")
    if not isinstance(name, str):
        return file
    data.pop("learned", None)
    try:
        learned = read_toml(file.path.parent / FilePath(name).expanduser(), name)
    except InputFault as fault:
        where = outside[-1].where if outside else file.where(("learned",))
        reading.faults.append(((0, 0), f"{where}: file of what was learned: {fault}"))
        return file
    table = learned.data.get("learned")
    if not isinstance(table, dict):
        text = f'must name a file with a table [learned], got "{name}" without one; write it by budget learn.'
        reading.add(file, [Fault(("learned",), text)])
        return file
    if _validated(reading, learned, ("learned",), LearnedSection, table) is not None:
        data["learned"] = table
    return learned


def _names_learned(override: Override) -> bool:
    return override.path == ("learned",) and isinstance(override.value, str)


def _spelled(reading: _Reading, data: dict[str, Any]) -> Spelled:
    """The tour's values with overrides set and short forms spelled out.

    Dates, stops and comfort are set before the short forms are spelled out, all other values afterwards.
    """
    early = ("comfort", "start", "end", "schedule", "stops")
    of_tour = [o for o in reading.overrides if o.path[0] != "van" and not _names_learned(o)]
    first = [o for o in of_tour if o.path[0] in early or (o.path[0] == "people" and len(o.path) == 1)]
    for override in _set(reading, data, first):
        rival = _RIVALS.get(override.path[-1])
        if rival is not None and override.path[0] == "stops" and len(override.path) == 3:
            data["stops"][override.path[1]].pop(rival, None)
    spelled = spell_out(data)
    _set(reading, spelled.data, [override for override in of_tour if override not in first])
    reading.add(reading.tour_file, spelled.faults)
    return spelled


def _set(reading: _Reading, data: dict[str, Any], overrides: Sequence[Override], model: Any = Tour) -> list[Override]:
    """Set values in place; those that could be set are returned, the others are noted as faults."""
    done = []
    for override in overrides:
        path = override.path[1:] if override.path[0] == "van" else override.path
        wrong = set_value(data, path, override.value, model) if path else Fault((), "must name a value of the van.")
        if wrong is None:
            done.append(override)
            continue
        prefix: Path = ("van",) if override.path[0] == "van" else ()
        told = Fault((*prefix, *wrong.path), wrong.text)
        reading.faults.append(((1, 0), told.sentence(override.where)))
    return done


def _validated(reading: _Reading, file: TomlFile, prefix: Path, model: type[BaseModel], data: Any) -> Any:
    data = plain(data)
    faults = {path: type_fault(model, path, kind, value) for path, kind, value in coerced(model, data)}
    valid = None
    try:
        valid = model.model_validate(data)
    except ValidationError as error:
        faults = {fault.path: fault for fault in faults_of(error, model, data)} | faults
    reading.add(file, list(faults.values()), prefix)
    return None if faults else valid


def _van(reading: _Reading, file: TomlFile, prefix: Path, data: Any) -> tuple[Van | None, VanDescription | None]:
    """The van from its description or in full, with overrides set in whichever of the two has the name."""
    overrides = [override for override in reading.overrides if override.path[0] == "van"]
    if data is None:
        return None, None
    if not isinstance(data, dict):
        text = f"must be a table or a file name, got {written(data)}; describe the van in a table [van]."
        reading.add(file, [Fault(("van",), text)])
        return None, None
    data = dict(data)
    if is_in_full(data):
        _set(reading, data, overrides, Van)
        return _validated(reading, file, prefix, Van, data), None
    from budget.van.description import VanDescription

    early = [override for override in overrides if _is_an_answer(override.path[1:], data)]
    _set(reading, data, early, VanDescription)
    description: VanDescription | None = _validated(reading, file, prefix, VanDescription, data)
    if description is None:
        return None, None
    try:
        van = description.to_van()
    except ValidationError as error:
        reading.add(file, faults_of(error, Van, {}), prefix)
        return None, None
    except InputFault as fault:
        reading.faults += [((0, 0), f"{file.where(prefix)}: {sentence}") for sentence in fault.faults]
        return None, None
    late = [override for override in overrides if override not in early]
    strange = [override for override in late if _is_strange(override)]
    _set(reading, data, strange, VanDescription)
    late = [override for override in late if override not in strange]
    if late:
        in_full = van.model_dump(mode="json")
        _set(reading, in_full, late, Van)
        van = _validated(reading, file, prefix, Van, in_full)
    return van, description


def _is_strange(override: Override) -> bool:
    """Whether neither a description nor a van in full has a name or one near: names of a description are offered."""
    from budget.van.description import VanDescription

    path = override.path[1:]
    if not path or knows(Van, path[:1]):
        return False
    described, in_full = (set_value({}, path, override.value, model) for model in (VanDescription, Van))
    near = [wrong is not None and NEAR in wrong.text for wrong in (described, in_full)]
    return near[0] or not near[1]


def _is_an_answer(path: Path, data: Mapping[str, Any]) -> bool:
    """Whether a value belongs to the description; one inside a table that the words make is set afterwards."""
    from budget.van.description import VanDescription

    inside_what_words_make = len(path) > 1 and not isinstance(data.get(str(path[0])), (dict, list))
    return knows(VanDescription, path) and not (inside_what_words_make and knows(Van, path))


def _cross_check(reading: _Reading, tour: Tour, van: Van, folder: FilePath) -> None:
    """What no part can see alone: dates that fit together, names that the van has, weather files that exist."""
    plan, faults = itinerary(tour)
    if plan is not None:
        faults = faults + events(tour, plan)[2]
    openings = [opening.name for opening in van.cabin.openings]
    zones = [zone.name for zone in van.cabin.zones]
    faults = faults + unknown_openings_and_zones(tour, openings, zones)
    faults += unknown_bottles(tour, [bottle.name for bottle in van.gas.bottles])
    choices: list[tuple[Path, Any]] = [(("weather",), tour.weather)]
    choices += [(("stops", number, "weather"), stop.weather) for number, stop in enumerate(tour.stops)]
    for path, weather in choices:
        found = locate(weather.file, folder) if weather is not None and weather.file else None
        if isinstance(found, str):
            faults.append(Fault((*path, "file"), found))
    reading.add(reading.tour_file, faults)
