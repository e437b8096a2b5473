"""Weather for the command line: read anything, describe it, write it as CSV."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
import pandas as pd

from budget.tour.climate import Climate
from budget.weather.clearsky import clear_sky_weather
from budget.weather.record import COLUMNS, UNITS, HourlyWeather
from budget.weather.tour_weather import station
from budget.weather.typical_year import TypicalYear

PLOTTED_YEAR = 2027  # a common year for records that have no year of their own


def read_any(
    path: Path,
    *,
    timezone: str | None = None,
    year: int = PLOTTED_YEAR,
    latitude_deg: float | None = None,
    longitude_deg: float | None = None,
    altitude_m: float | None = None,
) -> HourlyWeather:
    """A weather file of any known kind, whole.

    Parameters
    ----------
    path : EPW, TMY3, TMY2, PVGIS, NSRDB or SAM file, or a CSV with documented columns.
    timezone : IANA zone of a CSV's times without offset (None: the file's own, else UTC); a typical year keeps its
        standard time.
    year : Year that a typical year is laid on.
    latitude_deg, longitude_deg, altitude_m : Place, instead of the file's own where given. [°], [°], [m]

    Returns
    -------
    The record. InputFault, in one sentence, for what cannot be read.
    """
    found = station(Path(path), "UTC", timezone)
    found = found.placed(latitude_deg=latitude_deg, longitude_deg=longitude_deg, altitude_m=altitude_m)
    if isinstance(found, TypicalYear):
        ahead_s = round(found.station.utc_offset_h * 3600.0)
        first = pd.Timestamp(year, 1, 1).tz_localize(ahead_s)
        end = pd.Timestamp(year + 1, 1, 1).tz_localize(ahead_s)
        return found.on(pd.date_range(first, end, freq="h", inclusive="left"))
    return found.over()


def clear_sky_year(
    latitude_deg: float,
    longitude_deg: float,
    altitude_m: float = 0.0,
    *,
    timezone: str = "UTC",
    year: int = PLOTTED_YEAR,
    climate: Climate | None = None,
) -> HourlyWeather:
    """A whole year of clear-sky weather at a place, for looking at and converting."""
    hours = pd.date_range(
        pd.Timestamp(year, 1, 1, tz=timezone), pd.Timestamp(year + 1, 1, 1, tz=timezone), freq="h", inclusive="left"
    )
    return clear_sky_weather(
        hours,
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        altitude_m=altitude_m,
        climate=climate,
        place=f"clear-sky weather at {latitude_deg:g}, {longitude_deg:g}",
    )


def describe(weather: HourlyWeather) -> dict[str, Any]:
    """What a record holds, ready for a table or JSON.

    Keys: ``source``, ``latitude_deg``, ``longitude_deg``, ``altitude_m``, ``start``, ``end`` (ISO 8601), ``hours``,
    ``notices``, ``units``, ``columns`` ({column: {min, mean, max}}) and ``months``: a list of {month, hours,
    temp_air {min, mean, max} [°C], wind_speed mean [m/s], relative_humidity mean [%], ghi_kwh_per_m2 per day}.
    """
    frame, index = weather.frame, weather.index
    months = []
    for period, rows in frame.groupby(index.tz_localize(None).to_period("M")):
        months.append(
            {
                "month": str(period),
                "hours": len(rows),
                "temp_air": _spread(rows["temp_air"]),
                "wind_speed_mean": round(float(rows["wind_speed"].mean()), 2),
                "relative_humidity_mean": round(float(rows["relative_humidity"].mean()), 1),
                "ghi_kwh_per_m2_per_day": round(float(rows["ghi"].mean()) * 0.024, 3),
            }
        )
    return {
        "source": weather.source,
        "latitude_deg": weather.latitude_deg,
        "longitude_deg": weather.longitude_deg,
        "altitude_m": weather.altitude_m,
        "start": index[0].isoformat(),
        "end": (index[-1] + pd.Timedelta(hours=1)).isoformat(),
        "hours": len(index),
        "notices": list(weather.notices),
        "units": {name: UNITS[name] for name in COLUMNS},
        "columns": {name: _spread(frame[name]) for name in COLUMNS},
        "months": months,
    }


def to_csv(weather: HourlyWeather) -> str:
    """A record in the documented CSV format; reading it back gives the same numbers to the last bit."""
    index = weather.index
    remarks = [
        ("source", weather.source),
        ("latitude_deg", repr(float(weather.latitude_deg))),
        ("longitude_deg", repr(float(weather.longitude_deg))),
        ("altitude_m", repr(float(weather.altitude_m))),
        ("timezone", _zone_name(index)),
        *(("notice", notice) for notice in weather.notices),
    ]
    lines = [f"# {key}: {value}" for key, value in remarks]
    lines.append(",".join(("time", *COLUMNS)))
    values = weather.frame[list(COLUMNS)].to_numpy(dtype=float)
    for stamp, row in zip(index, values, strict=True):
        lines.append(",".join([stamp.isoformat(timespec="minutes"), *(_written(value) for value in row)]))
    return "\n".join(lines) + "\n"


def _written(value: float) -> str:
    return f"{value:.0f}" if value == np.rint(value) and abs(value) < 1e15 else repr(float(value))


def _zone_name(index: pd.DatetimeIndex) -> str:
    try:
        return ZoneInfo(str(index.tz)).key
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return "UTC"


def _spread(values: pd.Series) -> dict[str, float]:
    return {
        "min": round(float(values.min()), 2),
        "mean": round(float(values.mean()), 2),
        "max": round(float(values.max()), 2),
    }
