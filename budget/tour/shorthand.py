"""Short ways of writing a tour, spelled out: nights, number of people, comfort words, hook-up yes or no."""

from __future__ import annotations

import copy
import datetime as dt
import tomllib
import zoneinfo
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path as FilePath
from typing import Any

from budget.arrived import listed, written
from budget.tour.faults import Fault, Path, did_you_mean
from budget.tour.model import Tour
from budget.tour.sentences import SHORTHAND_NAMES

START_HOUR = 12
ARRIVAL_HOUR = 15
HOOKUP_A = 6.0
_PRESETS = FilePath(__file__).resolve().parent / "presets" / "comfort.toml"


@dataclass
class Spelled:
    """A tour's data spelled out, with what was assumed and what was wrong."""

    data: dict[str, Any]
    faults: list[Fault] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)

    def fault(self, path: Path, text: str) -> None:
        """Note a fault."""
        self.faults.append(Fault(path, text))


@cache
def comfort_presets() -> dict[str, dict[str, Any]]:
    """The packaged thermostat schedules by name: common practice, no source."""
    written_ = tomllib.loads(_PRESETS.read_text(encoding="utf-8"))
    return {
        name: {
            "steps": [
                {"at": written_["day_from"], "air_c": preset["day_c"], "water_c": written_["water_day_c"]},
                {"at": written_["night_from"], "air_c": preset["night_c"], "water_c": written_["water_night"]},
            ]
        }
        for name, preset in written_["presets"].items()
    }


def spell_out(data: dict[str, Any]) -> Spelled:
    """Spell out every short form of a tour's data (its van left aside); the data given stay as they are."""
    spelled = Spelled(copy.deepcopy(data))
    known = (*Tour.model_fields, *SHORTHAND_NAMES[Tour])
    for name in [name for name in spelled.data if name not in known]:
        del spelled.data[name]
        spelled.fault((name,), f"is not a known name here; {did_you_mean(name, known)}")
    _people(spelled)
    _comfort(spelled)
    _start_and_end(spelled)
    stops = spelled.data.get("stops")
    if isinstance(stops, list) and all(isinstance(stop, dict) for stop in stops):
        _hookup(spelled, stops)
        _nights(spelled, stops)
    return spelled


def _people(spelled: Spelled) -> None:
    people = spelled.data.get("people")
    if people is None or isinstance(people, list):
        return
    if isinstance(people, bool) or not isinstance(people, int) or not 0 <= people <= 20:
        del spelled.data["people"]
        spelled.fault(
            ("people",), f"must be a number from 0 to 20 or a list of persons, got {written(people)}; correct it."
        )
        return
    spelled.data["people"] = [{} for _ in range(people)]
    who = "1 person is" if people == 1 else f"{people} people are"
    spelled.notices.append(
        f"{who} taken with the usual heat, vapour and hours of an adult (common practice, no source)."
    )
    if people and "cooking" not in spelled.data:
        spelled.notices.append(
            "No meals are told, so no gas for cooking and none of its steam is reckoned; two people take 0.1 to 0.2 kg "
            "a day (common practice, no source): add [[cooking]]."
        )


def _comfort(spelled: Spelled) -> None:
    data, presets = spelled.data, comfort_presets()
    comfort = data.pop("comfort", None)
    if comfort is not None:
        if not isinstance(comfort, str) or comfort not in presets:
            advice = did_you_mean(comfort, presets) if isinstance(comfort, str) else "choose one."
            if not advice.startswith("did"):
                advice = "choose one."
            spelled.fault(("comfort",), f"must be one of {', '.join(presets)}, got {written(comfort)}; {advice}")
            comfort = "moderate"
        data.setdefault("schedule", comfort)
        day, night = presets[comfort]["steps"]
        spelled.notices.append(
            f"Comfort {comfort}: {day['air_c']:g} °C from {day['at']}, {night['air_c']:g} °C from {night['at']} "
            "(common practice, no source)."
        )
    schedules = data.setdefault("schedules", {})
    if not isinstance(schedules, dict):
        return
    named = [("schedule",), *_schedule_paths(data)]
    if "schedule" not in data:
        if len(schedules) == 1:
            data["schedule"] = next(iter(schedules))
        else:
            spelled.fault(("schedule",), 'is required; name one of the schedules, or write comfort = "moderate".')
            data["schedule"] = next(iter(schedules), "moderate")
    for path in named:
        name = _at(data, path)
        if not isinstance(name, str) or name in schedules:
            continue
        if name not in presets:
            choices = dict.fromkeys((*schedules, *presets))
            spelled.fault(path, f"must be one of {listed(choices)}, got {written(name)}; {_near(name, choices)}")
            _put(data, path, "moderate")
            name = "moderate"
        schedules[name] = copy.deepcopy(presets[name])


def _near(name: str, choices: dict[str, None]) -> str:
    advice = did_you_mean(name, choices)
    return advice if advice.startswith("did") else "choose one, or describe it under schedules."


def _schedule_paths(data: dict[str, Any]) -> list[Path]:
    return [
        (part, number, "schedule")
        for part in ("stops", "away")
        if isinstance(data.get(part), list)
        for number, entry in enumerate(data[part])
        if isinstance(entry, dict) and "schedule" in entry
    ]


def _at(data: Any, path: Path) -> Any:
    for part in path:
        data = data[part]
    return data


def _put(data: Any, path: Path, value: Any) -> None:
    _at(data, path[:-1])[path[-1]] = value


def _moment(value: Any, hour: int) -> Any:
    """A date alone becomes that date at an hour; all else stays."""
    if isinstance(value, str):
        try:
            value = dt.datetime.fromisoformat(value) if len(value) > 10 else dt.date.fromisoformat(value)
        except ValueError:
            return value
    if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
        return dt.datetime(value.year, value.month, value.day, hour)
    return value


def _start_and_end(spelled: Spelled) -> None:
    for name in ("start", "end"):
        if name in spelled.data:
            spelled.data[name] = _moment(spelled.data[name], START_HOUR)


def _hookup(spelled: Spelled, stops: list[dict[str, Any]]) -> None:
    for number, stop in enumerate(stops):
        if "hookup" not in stop:
            continue
        path: Path = ("stops", number, "hookup")
        hookup = stop.pop("hookup")
        if not isinstance(hookup, bool):
            spelled.fault(path, f"must be true or false, got {written(hookup)}; give amps as hookup_a.")
        elif "hookup_a" in stop:
            spelled.fault(path, "must not stand beside hookup_a; leave one of them out.")
        elif hookup:
            stop["hookup_a"] = HOOKUP_A
            place = stop.get("place", f"stop {number + 1}")
            spelled.notices.append(f"Hook-up at {place} is taken as {HOOKUP_A:g} A (common practice, no source).")


def _nights(spelled: Spelled, stops: list[dict[str, Any]]) -> None:
    """Arrivals and the tour's end from numbers of nights; arrivals without an hour are taken at 15:00."""
    faults_before, zone = len(spelled.faults), _zone(spelled.data.get("timezone"))
    arrives: Any = spelled.data.get("start")
    for number, stop in enumerate(stops):
        nights = _number_of_nights(spelled, number, stop)
        for name, hour in (("arrive", ARRIVAL_HOUR), ("depart", START_HOUR)):
            if name in stop:
                stop[name] = _moment(stop[name], hour)
        if "arrive" not in stop and isinstance(arrives, dt.datetime):
            stop["arrive"] = arrives
        here, arrives = stop.get("arrive"), None
        if nights is None or not isinstance(here, dt.datetime) or not 1900 <= here.year <= 2200:
            continue
        leaves = _day(here, zone) + dt.timedelta(days=nights)
        arrives = dt.datetime(leaves.year, leaves.month, leaves.day, ARRIVAL_HOUR)
        path: Path = ("stops", number, "nights")
        if number + 1 < len(stops):
            given = _moment(stops[number + 1].get("arrive"), ARRIVAL_HOUR)
            if isinstance(given, dt.datetime) and _day(given, zone) != leaves:
                spelled.fault(
                    path,
                    f"must lead to the next arrival on {_day(given, zone)}, got {nights} until {leaves}; correct one.",
                )
        elif "end" not in spelled.data:
            spelled.data["end"] = arrives.replace(hour=START_HOUR)
        elif isinstance(spelled.data["end"], dt.datetime) and _day(spelled.data["end"], zone) != leaves:
            end = _day(spelled.data["end"], zone)
            spelled.fault(path, f"must lead to the tour's end on {end}, got {nights} until {leaves}; correct one.")
    _ask_for_dates(spelled, stops, faults_before)


def _zone(name: Any) -> zoneinfo.ZoneInfo | None:
    """The tour's time zone; None for a name that is none, which has its own sentence."""
    try:
        return zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, TypeError, OSError):
        return None


def _day(moment: dt.datetime, zone: dt.tzinfo | None) -> dt.date:
    """The day of a time by the tour's clock."""
    is_local = moment.tzinfo is None or zone is None or not 1900 <= moment.year <= 2200
    return moment.date() if is_local else moment.astimezone(zone).date()


def _number_of_nights(spelled: Spelled, number: int, stop: dict[str, Any]) -> int | None:
    if "nights" not in stop:
        return None
    nights = stop.pop("nights")
    path: Path = ("stops", number, "nights")
    if isinstance(nights, bool) or not isinstance(nights, int) or not 1 <= nights <= 400:
        spelled.fault(path, f"must be a whole number from 1 to 400, got {written(nights)}; correct it.")
        return 1
    if "depart" in stop:
        spelled.fault(path, "must not stand beside depart; leave one of them out.")
    return nights


def _ask_for_dates(spelled: Spelled, stops: list[dict[str, Any]], faults_before: int) -> None:
    """Ask for what is missing; not for what would follow from a date that is given but none, which has its sentence."""
    given = [spelled.data[name] for name in ("start", "end") if name in spelled.data]
    given += [stop["arrive"] for stop in stops if "arrive" in stop]
    lacking = [number for number, stop in enumerate(stops) if "arrive" not in stop]
    false = not all(isinstance(date, dt.datetime) for date in given)
    if "start" not in spelled.data or len(spelled.faults) > faults_before or false:
        for number in lacking:
            stops[number]["arrive"] = dt.datetime(2000, 1, 1)
        if false:
            spelled.data.setdefault("end", dt.datetime(2000, 1, 1))
        return
    for number in lacking:
        stops[number]["arrive"] = dt.datetime(2000, 1, 1)
        spelled.fault(("stops", number, "arrive"), "is required; give it, or nights at the stop before.")
    if "end" not in spelled.data:
        if not lacking:
            spelled.fault(("end",), "is required; give it, or nights at the last stop.")
        spelled.data["end"] = dt.datetime(2000, 1, 1)
