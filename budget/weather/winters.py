"""Many winters along one tour: normals of every stop, one generated winter carried through all of them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from budget.errors import InputFault
from budget.tour.climate import WeatherChoice
from budget.tour.files import resolve_file
from budget.tour.model import Tour
from budget.tour.timeline import Timeline
from budget.tour.week import Mask
from budget.weather.air import Floats, dew_point_c, saturation_pressure_pa
from budget.weather.estimate import estimated_climate
from budget.weather.generator import HUMIDITY, SEASON_SD_K, USUAL, Process, normal_of, process_of
from budget.weather.months import through_the_year
from budget.weather.record import COLUMNS, HourlyWeather
from budget.weather.sky import cloud_from_irradiance, sky_temperature_c, through_cloud_w_per_m2
from budget.weather.sun import Sun, clear_sky, split
from budget.weather.tour_weather import for_tour, share_of, station, weather_of
from budget.weather.typical_year import TypicalYear

PLACE = ("latitude_deg", "longitude_deg", "altitude_m")
SEASON_DAYS = 45  # hours so many days either side of the tour's middle show its season
LEAST_YEARS = 5  # winters of record from which they serve themselves, and nothing is generated


@dataclass(frozen=True, eq=False)
class Winters:
    """Winters for a tour, on ``timeline``'s hours.

    Either ``years`` holds real ones, as the columns of ``HourlyWeather`` by name with shape (years, hours), or they are
    generated about the normals: ``level_c`` and ``wave_c`` (hours), humidity, wind, pressure and mean cloud.
    """

    timeline: Timeline
    sun: Sun
    clear_ghi: Floats
    level_c: Floats
    wave_c: Floats
    humidity_percent: Floats
    wind_m_per_s: Floats
    pressure_pa: Floats
    mean_cloud: float
    process: Process
    notices: tuple[str, ...]
    years: dict[str, Floats] | None = None

    @classmethod
    def of(
        cls, tour: Tour, timeline: Timeline, weather: HourlyWeather, *, folder: Path, file_for_all: Path | None = None
    ) -> Winters:
        """Winters for a tour whose own weather is ``weather``; its files are read again for their whole season."""
        index = timeline.index
        sun = Sun.over(index, timeline.latitude_deg, timeline.longitude_deg)
        clear_ghi = clear_sky(sun, float(timeline.altitude_m.mean()))[0]
        temp_c, humidity, wind, pressure = (
            weather.frame[name].to_numpy(dtype=float)
            for name in ("temp_air", "relative_humidity", "wind_speed", "pressure")
        )
        level_c, wave_c = _level_and_wave(temp_c, index)
        humidity, wind = humidity.copy(), np.maximum(wind, 0.3)
        cloud = _climate_cloud(tour, timeline)
        process, most, longest = USUAL, 0, None
        for place in _places(tour, timeline, file_for_all):
            if place.choice.source == "clear-sky":
                continue
            found, mask = _season(place, folder, tour.timezone, index), place.hours
            normal = normal_of(found.season, index[mask])
            level_c[mask] = normal.level_c + temp_c[mask] - found.own_c
            wave_c[mask] = normal.wave_c
            humidity[mask] = normal.humidity_percent
            wind[mask] = normal.wind_m_per_s
            cloud[mask] = found.mean_cloud
            if mask.sum() > most:
                most, longest = int(mask.sum()), found
        if longest is not None:
            season_sd_k = 0.0 if longest.winters >= LEAST_YEARS else SEASON_SD_K
            process = process_of(longest.season, longest.clear_ghi, season_sd_k=season_sd_k)
        return cls(
            timeline=timeline,
            sun=sun,
            clear_ghi=clear_ghi,
            level_c=level_c,
            wave_c=wave_c,
            humidity_percent=humidity,
            wind_m_per_s=wind,
            pressure_pa=pressure,
            mean_cloud=float(cloud.mean()),
            process=process,
            notices=(_usual_notice() if longest is None else longest.notice,),
            years=_real_years(tour, timeline, folder, file_for_all),
        )

    def values(self, first: int, count: int, seed: int) -> dict[str, Floats]:
        """Weather of scenarios first to first + count - 1: the columns of ``HourlyWeather``, shape (count, hours)."""
        if self.years is not None:
            chosen = self.year_of(first, count)
            return {name: years[chosen] for name, years in self.years.items()}
        process = self.process
        paths = process.draw(first, count, len(self.level_c), seed)
        cloud = process.cloud(paths, self.mean_cloud)
        wave_c = self.wave_c * (1.0 + self.mean_cloud - cloud)
        temp_c = np.clip(self.level_c + wave_c + process.temperature_k(paths), -60.0, 45.0)
        humidity = np.clip(self.humidity_percent + process.humidity_sd_percent * paths[:, HUMIDITY], 15.0, 100.0)
        wind = np.minimum(self.wind_m_per_s * process.wind_factor(paths), 45.0)
        pressure = np.broadcast_to(self.pressure_pa, temp_c.shape)
        ghi = through_cloud_w_per_m2(self.clear_ghi, cloud)
        dni, dhi = split(self.sun, ghi)
        dew_c = dew_point_c(humidity / 100.0 * saturation_pressure_pa(temp_c))
        return {
            "temp_air": temp_c,
            "relative_humidity": humidity,
            "wind_speed": wind,
            "pressure": pressure,
            "ghi": ghi,
            "dni": dni,
            "dhi": dhi,
            "temp_sky": sky_temperature_c(temp_c, dew_c, pressure, cloud, self.sun.solar_h),
        }

    def year_of(self, first: int, count: int) -> np.ndarray:
        """Which real winter each scenario takes: each as often as any other."""
        years = 1 if self.years is None else len(self.years["temp_air"])
        return np.arange(first, first + count) % years


@dataclass(frozen=True, eq=False)
class _Place:
    """One kind of weather that stops have: the hours that it leads, and of each such stop all that it is asked for.

    ``where``: the middle of these hours' places, for a file that says no place of its own.
    """

    choice: WeatherChoice
    hours: Mask
    spans: tuple[slice, ...]
    where: dict[str, float]


@dataclass(frozen=True, eq=False)
class _Season:
    """What a weather file shows of its stops' season; ``own_c`` is what it has in their own hours. [°C]"""

    season: pd.DataFrame
    clear_ghi: Floats
    own_c: Floats
    mean_cloud: float
    winters: float
    notice: str


def _usual_notice() -> str:
    return (
        "odds: no weather record; winters spread about the climate as is usual in northern Europe "
        f"({USUAL.temp_sd_k:g} K by the hour, {USUAL.mean_sd_k(720):.1f} K by the month), from memory."
    )


def _season(place: _Place, folder: Path, timezone: str, index: pd.DatetimeIndex) -> _Season:
    """The file's hours within 45 days of the middle of its stops' hours, whatever their year."""
    found = station(resolve_file(str(place.choice.file), folder).resolve(), timezone)
    found = found.placed(altitude_m=place.choice.station_altitude_m)
    hours = index[place.hours]
    middle = hours[len(hours) // 2]
    if isinstance(found, TypicalYear):
        days = pd.Timedelta(days=SEASON_DAYS)
        record = found.on(pd.date_range(middle - days, middle + days, freq="h"))
        own, frame = found.on(hours).frame, record.frame
    else:
        at_stops = [found.over(index[span], **place.where) for span in place.spans]
        own = pd.concat([each.frame for each in at_stops])
        own = own.loc[~own.index.duplicated()]
        record, frame = at_stops[0], own
        try:
            record = found.over(None, **place.where)
            frame = record.frame
        except InputFault:  # holes outside the hours at its stops
            pass
    stamps = pd.DatetimeIndex(frame.index).tz_convert(index.tz)
    away = np.abs((stamps.day_of_year.to_numpy() - middle.day_of_year + 182.625) % 365.25 - 182.625)
    frame = frame.loc[away <= SEASON_DAYS]
    sun = Sun.over(pd.DatetimeIndex(frame.index), record.latitude_deg, record.longitude_deg)
    clear = clear_sky(sun, record.altitude_m)[0]
    tells = clear > 50.0
    cloud = cloud_from_irradiance(frame["ghi"].to_numpy(dtype=float), clear, 0.7)
    days_seen = len(frame) / 24.0
    return _Season(
        season=frame,
        clear_ghi=clear,
        own_c=own["temp_air"].reindex(hours).to_numpy(dtype=float),
        mean_cloud=float(cloud[tells].mean()) if tells.any() else 0.7,
        winters=days_seen / (2 * SEASON_DAYS),
        notice=f"odds: winters are generated from {days_seen:.0f} days of {found.source} around the tour's season"
        + (f", leaning on usual numbers, with {SEASON_SD_K:g} K between winters." if days_seen < 400 else "."),
    )


def _places(tour: Tour, timeline: Timeline, file_for_all: Path | None) -> list[_Place]:
    """Each kind of weather that the tour's stops have; an hour goes by the stop ahead, once the van is on its way."""
    shares = [share_of(number, timeline) > 0.0 for number in range(len(tour.stops))]
    choices = [weather_of(tour, stop, file_for_all) for stop in tour.stops]
    files = list(dict.fromkeys((c.source, c.file) for c in choices))
    number = np.array([files.index((c.source, c.file)) for c in choices])
    led = number[np.where(timeline.way_share > 0.0, timeline.stop, timeline.origin)]
    places = []
    for k, name in enumerate(files):
        here = led == k
        if not here.any():
            continue
        asked = [np.flatnonzero(share) for share, own in zip(shares, number, strict=True) if own == k]
        places.append(
            _Place(
                choice=next(c for c in choices if (c.source, c.file) == name),
                hours=here,
                where={name: float(getattr(timeline, name)[here].mean()) for name in PLACE},
                spans=tuple(slice(int(hours[0]), int(hours[-1]) + 1) for hours in asked if hours.size),
            )
        )
    return places


def _climate_cloud(tour: Tour, timeline: Timeline) -> Floats:
    cloud = np.empty(len(timeline.index))
    for number, stop in enumerate(tour.stops):
        climate = (stop.weather or tour.weather).climate
        monthly = climate.cloud_share or estimated_climate(stop.latitude_deg, stop.altitude_m)[2]
        mask = timeline.stop == number
        if mask.any():
            cloud[mask] = np.clip(through_the_year(monthly, timeline.index[mask]), 0.0, 1.0)
    return cloud


def _level_and_wave(temp_c: Floats, index: pd.DatetimeIndex) -> tuple[Floats, Floats]:
    """A course without weather in it, as its mean of each day and the wave about that."""
    day = index.tz_localize(None).to_numpy().astype("datetime64[D]").astype(np.int64)
    position = np.unique(day, return_inverse=True)[1]
    level: Floats = (np.bincount(position, weights=temp_c) / np.bincount(position))[position]
    return level, temp_c - level


def _real_years(tour: Tour, timeline: Timeline, folder: Path, file_for_all: Path | None) -> dict[str, Floats] | None:
    """The tour's weather in every winter that its records hold, when they hold at least five."""
    places = _places(tour, timeline, file_for_all)
    if any(place.choice.source != "csv" for place in places):
        return None
    spans = []
    for place in places:
        found = station(resolve_file(str(place.choice.file), folder).resolve(), tour.timezone)
        if isinstance(found, TypicalYear):
            return None
        spans.append((found.hours.index[0].year, found.hours.index[-1].year))
    first, last = max(span[0] for span in spans), min(span[1] for span in spans)
    if last - first + 1 < LEAST_YEARS:
        return None
    held = []
    for year in range(first - 1, last + 1):
        try:
            moved = _in_year(tour, year - tour.start.year)
            other = Timeline.of(moved)
            if len(other.index) == len(timeline.index):
                held.append(for_tour(moved, other, folder=folder, file_for_all=file_for_all).frame)
        except InputFault:  # that winter is not in the record
            continue
    if len(held) < LEAST_YEARS:
        return None
    return {name: np.stack([frame[name].to_numpy(dtype=float) for frame in held]) for name in COLUMNS}


def _in_year(tour: Tour, shift: int) -> Tour:
    """The tour's dates moved by whole years; 29 February becomes 28 February."""

    def moved(time: dt.datetime | None) -> dt.datetime | None:
        if time is None:
            return None
        day = 28 if (time.month, time.day) == (2, 29) else time.day
        return time.replace(year=time.year + shift, day=day)

    stops = tuple(
        stop.model_copy(update={"arrive": moved(stop.arrive), "depart": moved(stop.depart)}) for stop in tour.stops
    )
    return tour.model_copy(
        update={
            "start": moved(tour.start),
            "end": moved(tour.end),
            "stops": stops,
            "away": (),
            "drying": (),
            "habits": tour.habits.model_copy(update={"snow_days": ()}),
        }
    )
