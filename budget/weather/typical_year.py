"""A typical year laid on a tour's dates by month, day and hour."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from budget.errors import InputFault
from budget.weather.air import Floats, humidity_percent, saturation_pressure_pa
from budget.weather.complete import completed
from budget.weather.formats import Station, read_station
from budget.weather.gaps import filled
from budget.weather.record import HourlyWeather, as_asked, check_range
from budget.weather.sky import sky_from_long_wave_c

FAR_LONGITUDE_DEG = 30.0  # two hours of sun: beyond this a file's hours are taken by the sun, not by the clock
YEAR_H = 8760
_BEFORE_MONTH_H = 24 * np.array([0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334])


@dataclass(frozen=True, eq=False)
class TypicalYear:
    """A typical year: 8760 rows from 1 January 0 h standard time, and 24 more for 29 February.

    Typical years have no 29 February; it is then the mean of 28 February and 1 March, hour by hour. A file of a leap
    year keeps its own.
    """

    hours: pd.DataFrame
    station: Station
    source: str
    notices: tuple[str, ...]

    @classmethod
    def read(cls, path: Path) -> TypicalYear:
        """Read a typical-year file of any known kind; InputFault when it is damaged or not a whole year."""
        station = read_station(path)
        source = path.name
        frame, notices = _ordered(station, path)
        frame, said = filled(frame, str(path), drop_optional=True)
        frame = _with_leap_day(frame)
        notices += said
        temp_c = frame["temp_air"].to_numpy(dtype=float)
        if "relative_humidity" not in frame and "temp_dew" in frame:
            vapour_pa = saturation_pressure_pa(frame["temp_dew"].to_numpy(dtype=float))
            frame["relative_humidity"] = humidity_percent(temp_c, vapour_pa)
        if "long_wave" in frame and float(frame["long_wave"].min()) > 20.0:
            frame["temp_sky"] = sky_from_long_wave_c(frame["long_wave"].to_numpy(dtype=float))
        if station.spot_h is not None:
            frame = _at_mid_hour(frame, station.spot_h)
        hours = frame.drop(columns=["temp_dew", "long_wave"], errors="ignore")
        for name in hours.columns:
            check_range(hours[name].to_numpy(dtype=float), name, str(path))
        return cls(hours.reset_index(drop=True), station, source, tuple(notices))

    @property
    def place(self) -> dict[str, float]:
        """Where the station stands: ``latitude_deg``, ``longitude_deg`` and ``altitude_m``."""
        return {name: getattr(self.station, name) for name in ("latitude_deg", "longitude_deg", "altitude_m")}

    def placed(
        self,
        *,
        latitude_deg: float | None = None,
        longitude_deg: float | None = None,
        altitude_m: float | None = None,
    ) -> TypicalYear:
        """The same year at the place that is asked for, the header's where nothing is."""
        asked = {"latitude_deg": latitude_deg, "longitude_deg": longitude_deg, "altitude_m": altitude_m}
        place, said = as_asked(self.source, self.place, asked)
        moved: Any = place
        return replace(self, station=replace(self.station, **moved), notices=(*self.notices, *said))

    def on(self, index: pd.DatetimeIndex, longitude_deg: float | None = None) -> HourlyWeather:
        """The year's weather on these hours.

        ``index`` is turned into the file's standard time, so clock changes shift nothing; an hour that straddles two of
        the file's takes both in proportion. With ``longitude_deg`` more than 30° from the station's, hours are
        matched by the sun instead of the clock, so that noon stays noon.
        """
        shift_h = 0
        notices = list(self.notices)
        if longitude_deg is not None:
            apart = (longitude_deg - self.station.longitude_deg + 180.0) % 360.0 - 180.0
            if abs(apart) > FAR_LONGITUDE_DEG:
                shift_h = round(apart / 15.0)
                notices.append(f"{self.source}: its hours are moved by {shift_h:+d} h so that its noon is the pitch's.")
        standard = index.tz_convert("UTC").tz_localize(None) + pd.Timedelta(hours=self.station.utc_offset_h + shift_h)
        whole = standard.floor("h")
        share = ((standard - whole) / pd.Timedelta(hours=1)).to_numpy()[:, np.newaxis]
        values = (1.0 - share) * self._rows(whole) + share * self._rows(whole + pd.Timedelta(hours=1))
        return completed(
            pd.DataFrame(values, columns=self.hours.columns, index=index),
            source=self.source,
            latitude_deg=self.station.latitude_deg,
            longitude_deg=(self.station.longitude_deg + 15.0 * shift_h + 180.0) % 360.0 - 180.0,
            altitude_m=self.station.altitude_m,
            notices=tuple(notices),
        )

    def _rows(self, standard: pd.DatetimeIndex) -> Floats:
        month, day, hour = standard.month.to_numpy(), standard.day.to_numpy(), standard.hour.to_numpy()
        rows = _BEFORE_MONTH_H[month - 1] + 24 * (day - 1) + hour
        rows = np.where((month == 2) & (day == 29), YEAR_H + hour, rows)
        chosen: Floats = self.hours.to_numpy(dtype=float)[rows]
        return chosen


def _ordered(station: Station, path: Path) -> tuple[pd.DataFrame, list[str]]:
    """Rows in the order of the year, and 29 February after them; InputFault unless every hour is there once."""
    frame = station.frame
    if "temp_air" not in frame:
        raise InputFault(f"{path}: a typical year must have air temperatures, got none; choose another file.")
    stamps = pd.DatetimeIndex(frame.index)
    if stamps.isna().any():
        raise InputFault(
            f"{path}: every row of a typical year must carry its date and hour, got {int(stamps.isna().sum())} without "
            f"in this {station.title} file; download or export it again."
        )
    month, day, hour = stamps.month.to_numpy(), stamps.day.to_numpy(), stamps.hour.to_numpy()
    leap = (month == 2) & (day == 29)
    rows = np.where(leap, YEAR_H + hour, _BEFORE_MONTH_H[month - 1] + 24 * (day - 1) + hour)
    present = np.unique(rows[rows < YEAR_H]).size
    if present != YEAR_H:
        raise InputFault(
            f"{path}: a typical year must hold {YEAR_H} hours, got {present} in this {station.title} file; "
            "it seems cut short: download or export it again."
        )
    if len(rows) != np.unique(rows).size:
        raise InputFault(
            f"{path}: a typical year must hold every hour once, "
            f"got {len(rows) - np.unique(rows).size} twice; download or export it again."
        )
    notices = [f"{path.name}: {notice}." for notice in station.notices]
    ordered = frame.iloc[np.argsort(rows, kind="stable")]
    return ordered if leap.sum() == 24 else ordered.iloc[:YEAR_H], notices


def _with_leap_day(frame: pd.DataFrame) -> pd.DataFrame:
    """A year with 29 February after it: the file's own, or the mean of the days before and after."""
    if len(frame) > YEAR_H:
        return frame
    before, after = (frame.iloc[_BEFORE_MONTH_H[2] + shift :][:24].to_numpy() for shift in (-24, 0))
    extra = pd.DataFrame((before + after) / 2.0, columns=frame.columns, index=frame.index[-24:])
    return pd.concat([frame, extra])


def _at_mid_hour(frame: pd.DataFrame, spot_h: float) -> pd.DataFrame:
    """Irradiances sampled at one moment of each hour, interpolated to the hour's middle."""
    share = 0.5 - spot_h
    neighbour = frame.shift(-1 if share > 0.0 else 1).ffill().bfill()
    names = [name for name in ("ghi", "dni", "dhi") if name in frame]
    moved = {name: (1.0 - abs(share)) * frame[name] + abs(share) * neighbour[name] for name in names}
    return frame.assign(**moved)
