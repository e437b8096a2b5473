"""The weather along a tour: each stop from its own source, drives in between, every hour at its own altitude."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

import numpy as np
import pandas as pd

from budget.errors import InputFault
from budget.tour.climate import WeatherChoice
from budget.tour.distance import doubts
from budget.tour.files import resolve_file
from budget.tour.model import Stop, Tour
from budget.tour.timeline import Timeline
from budget.weather.air import Floats
from budget.weather.clearsky import clear_sky_weather
from budget.weather.estimate import WHERE, estimate_holds
from budget.weather.files import kind_of, read_text
from budget.weather.formats import READERS
from budget.weather.lapse import moved, warmed
from budget.weather.record import COLUMNS, HourlyWeather
from budget.weather.sun import Sun, closed
from budget.weather.typical_year import TypicalYear
from budget.weather.user_csv import MeasuredWeather

AT_STOP = "weather at "
EARTH_RADIUS_KM = 6371.0  # mean radius, IUGG
FAR_KM = 150.0  # choice: beyond this a station is called far, and its beam is fitted to the pitch's sun


def for_tour(tour: Tour, timeline: Timeline, *, folder: Path, file_for_all: Path | None = None) -> HourlyWeather:
    """Weather for every hour of a tour.

    Parameters
    ----------
    tour : The tour; a stop's own weather goes before the tour's.
    timeline : The same tour by the hour.
    folder : Folder that file names are relative to (the tour file's).
    file_for_all : A weather file that serves for every stop instead of what the tour says.

    Returns
    -------
    One record on ``timeline.index``; its place is the first stop. On the way from stop to stop the two stops' weather
    is blended by the share of the way; temperature, humidity and pressure are carried to each hour's altitude, and
    ``offset_k`` is added. InputFault when a file is missing, damaged or does not cover its hours, and for a stop
    without monthly means where no estimate holds.
    """
    _must_be_known(tour, file_for_all)
    sources = _Sources(folder, timeline.tour.timezone)
    blended = np.zeros((len(timeline.index), len(COLUMNS)))
    notices: list[str] = []
    for number, stop in enumerate(tour.stops):
        share = share_of(number, timeline)
        hours = np.flatnonzero(share > 0.0)
        if not hours.size:
            continue
        span = slice(int(hours[0]), int(hours[-1]) + 1)
        choice = weather_of(tour, stop, file_for_all)
        record = _at_stop(sources, choice, stop, timeline, span)
        values = record.frame[list(COLUMNS)].to_numpy(dtype=float)
        blended[span] += np.where(share[span, np.newaxis] > 0.0, share[span, np.newaxis] * values, 0.0)
        notices += record.notices
    first = tour.stops[0]
    return HourlyWeather(
        frame=pd.DataFrame(blended, columns=list(COLUMNS), index=timeline.index),
        notices=(*gathered(notices), *sources.far()),
        source=f"weather of '{tour.title}'",
        latitude_deg=first.latitude_deg,
        longitude_deg=first.longitude_deg,
        altitude_m=first.altitude_m,
        apart_km=max(sources.apart_km.values(), default=0.0),
    )


def station(path: Path, timezone: str, asked_zone: str | None = None) -> TypicalYear | MeasuredWeather:
    """A weather file of any kind, by its content.

    Times of a CSV that carry no offset are in ``asked_zone``, else the file's own zone, else ``timezone``. The last few
    files are kept, as long as they do not change.
    """
    try:
        written = path.stat().st_mtime_ns
    except OSError:
        written = 0
    return _station(path, timezone, asked_zone, written)


@lru_cache(maxsize=4)
def _station(path: Path, timezone: str, asked_zone: str | None, written: int) -> TypicalYear | MeasuredWeather:
    if kind_of(read_text(path)) in READERS:
        return TypicalYear.read(path)
    return MeasuredWeather.read(path, timezone, asked_zone)


def from_file(choice: WeatherChoice, path: Path, timezone: str) -> WeatherChoice:
    """The choice with another file in its stead, whose own altitude goes before what the tour says of its file."""
    path = path.resolve()
    found = station(path, timezone)
    kind = "typical-year" if isinstance(found, TypicalYear) else "csv"
    own = {"station_altitude_m": None} if "altitude_m" in found.place else {}
    return choice.model_copy(update={"source": kind, "file": str(path), **own})


@dataclass
class _Sources:
    """Files that have been read, so that stops can share them."""

    folder: Path
    timezone: str
    read: dict[Path, TypicalYear | MeasuredWeather] = field(default_factory=dict)
    apart_km: dict[str, float] = field(default_factory=dict)

    def far(self) -> list[str]:
        """A notice for each file whose station lies far from the stops that it serves."""
        return [
            f"{name}: its station lies up to {apart:,.0f} km from the stops that it serves."
            for name, apart in self.apart_km.items()
            if apart > FAR_KM
        ]

    def file(self, choice: WeatherChoice, place: str) -> TypicalYear | MeasuredWeather:
        path = resolve_file(str(choice.file), self.folder).resolve()
        if path not in self.read:
            self.read[path] = station(path, self.timezone)
        found = self.read[path]
        kind = "typical-year" if isinstance(found, TypicalYear) else "csv"
        if choice.source != kind:
            raise InputFault(
                f"weather at {place}: the source is '{choice.source}', but {path} is a {kind} file; "
                f'write source = "{kind}".'
            )
        return found


def _must_be_known(tour: Tour, file_for_all: Path | None) -> None:
    """InputFault for stops whose means would have to be estimated where the estimate is no more than a guess."""
    guessed = [
        stop.place
        for stop in (tour.stops if file_for_all is None else ())
        if (choice := stop.weather or tour.weather).source == "clear-sky"
        and choice.climate.mean_c is None
        and not estimate_holds(stop.latitude_deg, stop.longitude_deg)
    ]
    if guessed:
        first, *more = dict.fromkeys(guessed)
        also = f" and {len(more)} more" if more else ""
        raise InputFault(
            (
                f"{AT_STOP}{first}{also}: weather.climate.mean_c must give twelve monthly mean "
                f"temperatures [°C], got none; from latitude and altitude they can be estimated only {WHERE}, and "
                "elsewhere a January inland may be 15 to 30 K colder: take them from the nearest weather station, or "
                "name a weather file.",
                *doubts(tour),
            )
        )


def weather_of(tour: Tour, stop: Stop, file_for_all: Path | None) -> WeatherChoice:
    """The weather that a stop has; a ``file_for_all`` goes before what the tour says. InputFault when it is no file."""
    choice = stop.weather or tour.weather
    return choice if file_for_all is None else from_file(choice, file_for_all, tour.timezone)


def share_of(number: int, timeline: Timeline) -> Floats:
    """Weight of a stop's weather in each hour: the way's share on arriving, the rest of it on leaving. [0-1]"""
    coming = np.where(timeline.stop == number, timeline.way_share, 0.0)
    leaving = np.where(timeline.origin == number, 1.0 - timeline.way_share, 0.0)
    share: Floats = coming + leaving
    return share


def _at_stop(sources: _Sources, choice: WeatherChoice, stop: Stop, timeline: Timeline, span: slice) -> HourlyWeather:
    index = timeline.index[span]
    place = f"{AT_STOP}{stop.place}"
    if choice.source == "clear-sky":
        record = clear_sky_weather(
            index,
            latitude_deg=stop.latitude_deg,
            longitude_deg=stop.longitude_deg,
            altitude_m=_climate_altitude_m(choice, stop),
            climate=choice.climate,
            place=place,
        )
        notices, frame = record.notices, record.frame
    else:
        found = sources.file(choice, stop.place).placed(altitude_m=choice.station_altitude_m)
        if isinstance(found, TypicalYear):
            record = found.on(index, stop.longitude_deg)
        else:
            record = found.over(
                index,
                latitude_deg=stop.latitude_deg,
                longitude_deg=stop.longitude_deg,
                altitude_m=stop.altitude_m,
            )
        standing = found.station if isinstance(found, TypicalYear) else record
        apart_km = distance_km(standing.latitude_deg, standing.longitude_deg, stop.latitude_deg, stop.longitude_deg)
        sources.apart_km[found.source] = max(apart_km, sources.apart_km.get(found.source, 0.0))
        frame = _closed(record.frame, timeline, span) if apart_km > FAR_KM else record.frame
        notices = record.notices
        if "altitude_m" not in found.place:
            notices += (f"{found.source}: its altitude is not given and taken as the pitch's.",)
    frame = moved(frame, timeline.altitude_m[span] - record.altitude_m, choice.lapse_k_per_km)
    if choice.offset_k:
        frame = warmed(frame, choice.offset_k)
        notices += (f"{place}: {choice.offset_k:+g} K are added to every temperature, as asked.",)
    return HourlyWeather(
        frame=frame,
        notices=notices,
        source=place,
        latitude_deg=record.latitude_deg,
        longitude_deg=record.longitude_deg,
        altitude_m=record.altitude_m,
    )


def _climate_altitude_m(choice: WeatherChoice, stop: Stop) -> float:
    """Altitude at which a climate's means hold: the station's if one is named with them, else the stop's. [m]"""
    if choice.climate.mean_c is not None and choice.station_altitude_m is not None:
        return choice.station_altitude_m
    return stop.altitude_m


def _closed(frame: pd.DataFrame, timeline: Timeline, span: slice) -> pd.DataFrame:
    """A far station's record: its global irradiance kept, its beam and diffuse closed with the pitch's own sun."""
    sun = Sun.over(timeline.index[span], timeline.latitude_deg[span], timeline.longitude_deg[span])
    dni, dhi = closed(sun, frame["ghi"].to_numpy(dtype=float), frame["dni"].to_numpy(dtype=float))
    return frame.assign(dni=dni, dhi=dhi)


def gathered(notices: list[str]) -> list[str]:
    """Notices that differ only in the place, "weather at PLACE: ...", made into one that names every place."""
    places: dict[str, list[str]] = {}
    for notice in notices:
        head, _, rest = notice.partition(": ")
        at_stop = head.startswith(AT_STOP) and bool(rest)
        places.setdefault(rest if at_stop else notice, []).append(head.removeprefix(AT_STOP) if at_stop else "")
    return [
        f"{AT_STOP}{', '.join(dict.fromkeys(where))}: {text}" if any(where) else text for text, where in places.items()
    ]


def distance_km(
    latitude_deg: float, longitude_deg: float, other_latitude_deg: float, other_longitude_deg: float
) -> float:
    """Great-circle distance on a sphere, by the haversine formula. [km]"""
    one, other = math.radians(latitude_deg), math.radians(other_latitude_deg)
    half = math.sin((other - one) / 2.0) ** 2
    half += math.cos(one) * math.cos(other) * math.sin(math.radians(other_longitude_deg - longitude_deg) / 2.0) ** 2
    return 2.0 * EARTH_RADIUS_KM * math.asin(math.sqrt(min(half, 1.0)))
