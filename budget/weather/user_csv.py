"""A user's own weather record: a CSV of documented columns, of which only time and temperature are compulsory.

    time                 start of the row's span: 2027-01-09 05:00, 2027-01-09T05:00+02:00 or 09.01.2027 05:00
    temp_air             air temperature [°C]; or temp_air_f [°F]
    relative_humidity    over liquid water [%]
    wind_speed           10 m above open ground [m/s]
    pressure             at the station, not reduced to the sea [Pa]
    ghi, dni, dhi        global, beam and diffuse irradiance, means of the span [W/m²]
    cloud                cloud amount [0-1]
    temp_sky             temperature of the sky for long-wave exchange [°C]

Columns are separated by commas, semicolons or tabs; with the latter two a decimal comma is understood. Lines that start
with # may give ``# latitude_deg: 58.4``, ``# longitude_deg: 22.5``, ``# altitude_m: 4``, ``# timezone: Europe/Riga``,
``# source: ...`` and ``# notice: ...``. Times without an offset are local times of that zone, or of the tour's. What is
asked for by a setting or an option goes before such a line, with a notice where the two differ.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd

from budget.errors import InputFault
from budget.weather.complete import completed
from budget.weather.csv_text import Table, parsed
from budget.weather.csv_time import in_order, instants, must_be_zone, on_hours
from budget.weather.files import read_text
from budget.weather.gaps import filled
from budget.weather.record import IRRADIANCE, HourlyWeather, as_asked, check_range
from budget.weather.sun import Sun, clear_sky

PLACE_LIMITS = {"latitude_deg": (-90.0, 90.0), "longitude_deg": (-180.0, 180.0), "altitude_m": (-450.0, 6000.0)}


@dataclass(frozen=True, eq=False)
class MeasuredWeather:
    """A user's record on whole hours, with holes, before anything is estimated."""

    hours: pd.DataFrame
    path: Path
    source: str
    place: dict[str, float]
    notices: tuple[str, ...]

    @classmethod
    def read(cls, path: Path, timezone: str = "UTC", asked_zone: str | None = None) -> MeasuredWeather:
        """Read a weather CSV.

        Times that carry no offset are in ``asked_zone``, else in the file's own zone, else in ``timezone``.
        """
        table = parsed(read_text(path), path)
        own_zone = table.remarks.get("timezone", [timezone])[0]
        must_be_zone(own_zone, path)
        zone = asked_zone or own_zone
        stamps = instants(table.times, table.lines, zone, path)
        stamps, numbers, said = in_order(stamps, table.numbers, table.lines, path)
        notices = [*table.remarks.get("notice", []), *table.notices, *said]
        if "temp_air_f" in numbers:
            numbers = dict(numbers)
            numbers["temp_air"] = (numbers.pop("temp_air_f") - 32.0) / 1.8
            notices.append(f"{path.name}: temp_air_f is converted to °C.")
        for name, values in numbers.items():
            check_range(values[~np.isnan(values)], name, str(path))
        hours = on_hours(stamps, numbers, zone, path)
        source = table.remarks.get("source", [path.name])[0]
        if "timezone" in table.remarks and zone != own_zone:
            notices.append(f"{source}: taken as asked: timezone {zone}, the file itself says {own_zone}.")
        return cls(hours, path, source, _place(table, path), tuple(notices))

    def placed(
        self,
        *,
        latitude_deg: float | None = None,
        longitude_deg: float | None = None,
        altitude_m: float | None = None,
    ) -> MeasuredWeather:
        """The same record at the place that is asked for, the file's own where nothing is."""
        asked = {"latitude_deg": latitude_deg, "longitude_deg": longitude_deg, "altitude_m": altitude_m}
        place, said = as_asked(self.source, self.place, asked)
        return replace(self, place=place, notices=(*self.notices, *said))

    def over(
        self,
        index: pd.DatetimeIndex | None = None,
        *,
        latitude_deg: float | None = None,
        longitude_deg: float | None = None,
        altitude_m: float | None = None,
    ) -> HourlyWeather:
        """The record on these hours (all of its own when None), completed by estimates.

        The place is the record's; the arguments serve where it is silent. InputFault when the record does not
        cover the hours, or has longer gaps in them than 3 h.
        """
        hours = self.hours
        if index is not None:
            first, last = hours.index[0], hours.index[-1]
            if index[0] < first or index[-1] > last:
                wanted = f"{index[0]:%Y-%m-%d %H:%M} to {index[-1] + pd.Timedelta(hours=1):%Y-%m-%d %H:%M}"
                inside = [stamp.tz_convert(index.tz) for stamp in (first, last + pd.Timedelta(hours=1))]
                raise InputFault(
                    f"{self.path}: the weather must cover the tour, {wanted}, "
                    f"got {inside[0]:%Y-%m-%d %H:%M} to {inside[1]:%Y-%m-%d %H:%M}; "
                    "take a longer record or move the tour's dates."
                )
            hours = hours.loc[(hours.index >= index[0]) & (hours.index <= index[-1])].tz_convert(index.tz)
            if len(hours) != len(index) or (hours.index != index).any():
                raise InputFault(f"{self.path}: the weather's hours must start when the tour's do; give UTC offsets.")
        given = {"latitude_deg": latitude_deg, "longitude_deg": longitude_deg, "altitude_m": altitude_m}
        place = {name: self.place.get(name, value) for name, value in given.items()}
        lacking = [name for name, value in place.items() if value is None]
        if lacking:
            raise InputFault(
                f"{self.path}: the station's place is needed, got no {', '.join(lacking)}; add lines such as "
                "'# latitude_deg: 58.4', '# longitude_deg: 22.5' and '# altitude_m: 4' at its top, or give "
                "--place 58.4,22.5,4."
            )
        known = {name: float(value) for name, value in place.items() if value is not None}
        hours, notices = self._sunlit(hours, known)
        hours, said = filled(hours, str(self.path), drop_optional=False)
        return completed(hours, source=self.source, notices=(*self.notices, *notices, *said), **known)

    def _sunlit(self, hours: pd.DataFrame, place: dict[str, float]) -> tuple[pd.DataFrame, list[str]]:
        """Irradiances with their nights filled in, and those of long spans shared out as a clear sky would."""
        present = [name for name in IRRADIANCE if name in hours]
        notices: list[str] = []
        changed = hours.drop(columns="row", errors="ignore")
        if not present:
            return changed, notices
        sun = Sun.over(pd.DatetimeIndex(hours.index), place["latitude_deg"], place["longitude_deg"])
        if "row" in hours:
            changed = changed.drop(columns=present)
            if "ghi" in hours:
                clear = pd.Series(clear_sky(sun, place["altitude_m"])[0], index=hours.index)
                of_span = clear.groupby(hours["row"]).transform("mean")
                share = (clear / of_span).where(of_span > 0.0, 0.0)
                changed["ghi"] = hours["ghi"] * share
            notices.append(f"{self.source}: irradiance in steps over 1 h is shared out as under a clear sky.")
        for name in [name for name in present if name in changed]:
            missing = np.isnan(changed[name].to_numpy())
            if missing.any():
                changed[name] = changed[name].where(~missing | (sun.cos_zenith > 0.0), 0.0)
        return changed, notices


def _place(table: Table, path: Path) -> dict[str, float]:
    place = {}
    for name, (low, high) in PLACE_LIMITS.items():
        if name not in table.remarks:
            continue
        written = table.remarks[name][0]
        try:
            value = float(written.replace(",", "."))
        except ValueError:
            value = float("nan")
        if not low <= value <= high:
            unit = "m" if name == "altitude_m" else "°"
            raise InputFault(
                f"{path}: {name} must be a number from {low:g} to {high:g} {unit}, got '{written}'; correct the remark."
            )
        place[name] = value
    return place
