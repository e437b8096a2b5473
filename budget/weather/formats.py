"""Typical-year files of every kind that pvlib reads offline, brought to one shape."""

from __future__ import annotations

import csv
import json
import tempfile
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from pvlib import iotools

from budget.errors import InputFault
from budget.weather.files import KNOWN_KINDS, kind_of, read_text

# Values at or beyond which a format means "missing" (EPW: the EnergyPlus Auxiliary Programs guide, data dictionary;
# TMY2: NREL 1995, table 3-2; TMY3: NREL/TP-581-43156, -9900).
EPW_MISSING = {
    "temp_air": 99.9,
    "temp_dew": 99.9,
    "relative_humidity": 999.0,
    "pressure": 999_999.0,
    "ghi": 9999.0,
    "dni": 9999.0,
    "dhi": 9999.0,
    "wind_speed": 999.0,
    "long_wave": 9999.0,
    "cloud": 9.9,
}
TMY2_MISSING = {
    "temp_air": 999.9,
    "relative_humidity": 999.0,
    "pressure": 999_900.0,
    "ghi": 9999.0,
    "dni": 9999.0,
    "dhi": 9999.0,
    "wind_speed": 99.9,
    "cloud": 9.9,
}
READING_FAULTS = (
    ValueError,
    LookupError,
    TypeError,
    AttributeError,
    StopIteration,
    ArithmeticError,
    RecursionError,
)
TITLES = {
    "epw": "EPW",
    "tmy3": "TMY3",
    "tmy2": "TMY2",
    "pvgis_csv": "PVGIS typical-year CSV",
    "pvgis_json": "PVGIS JSON",
    "pvgis_hourly_csv": "PVGIS hourly CSV",
    "sam_csv": "NSRDB or SAM CSV",
    "lst_csv": "TMY3-like CSV with local standard time",
}


@dataclass(frozen=True, eq=False)
class Station:
    """A station's file in one shape.

    ``frame`` holds the columns of the weather record that the file has (and temp_dew [°C], cloud [0-1], long_wave
    [W/m²]), NaN where missing, indexed by the start of each hour in the file's own standard time without a zone;
    ``utc_offset_h`` is that standard time's distance from UTC. ``spot_h``: how far into the hour irradiances were
    sampled, None for means of the hour.
    """

    frame: pd.DataFrame
    title: str
    latitude_deg: float
    longitude_deg: float
    altitude_m: float
    utc_offset_h: float
    spot_h: float | None = None
    notices: tuple[str, ...] = ()


def read_station(path: Path) -> Station:
    """Read a typical-year file of any known kind, by its content; InputFault when it is none or is damaged."""
    text = read_text(path)
    kind = kind_of(text)
    if kind not in READERS:
        raise InputFault(f"{path}: must be a typical-year file ({KNOWN_KINDS}), got something else; check the file.")
    try:
        with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings():
            warnings.simplefilter("ignore")  # pandas on columns of mixed type; what matters is checked below
            copy = Path(folder) / "weather.txt"
            whole = _sam_header(text) if kind == "sam_csv" else text
            copy.write_bytes(whole.encode("ascii", "replace"))
            station = READERS[kind](copy)
    except READING_FAULTS as fault:
        reason = " ".join(str(fault).split())[:100] or type(fault).__name__
        raise InputFault(
            f"{path}: must be a whole {TITLES[kind]} file, could not be read ({reason}); download or export it again."
        ) from None
    if not (-90.0 <= station.latitude_deg <= 90.0 and -180.0 <= station.longitude_deg <= 180.0):
        raise InputFault(
            f"{path}: the station must lie within ± 90° and ± 180°, "
            f"got {station.latitude_deg:g}, {station.longitude_deg:g}; correct the header."
        )
    return station


def _numbers(data: pd.DataFrame, names: dict[str, tuple[str, float]], missing: dict[str, float]) -> pd.DataFrame:
    """Columns renamed and scaled; values at or beyond a format's missing code become NaN."""
    columns = {}
    for name, (original, factor) in names.items():
        if original in data.columns:
            values = pd.to_numeric(data[original], errors="coerce").to_numpy(dtype=float) * factor
            limit = missing.get(name, np.inf)
            columns[name] = np.where((values >= limit - 1e-9) | (values <= -900.0), np.nan, values)
    return pd.DataFrame(columns, index=pd.DatetimeIndex(data.index).tz_localize(None))


def _epw(path: Path) -> Station:
    data, meta = iotools.read_epw(path)
    names = {name: (name, 1.0) for name in ("temp_air", "temp_dew", "relative_humidity", "wind_speed")}
    names |= {name: (name, 1.0) for name in ("ghi", "dni", "dhi")}
    names |= {"pressure": ("atmospheric_pressure", 1.0), "long_wave": ("ghi_infrared", 1.0)}
    names |= {"cloud": ("total_sky_cover", 0.1)}
    frame = _numbers(data, names, EPW_MISSING)
    return Station(frame, "EPW", meta["latitude"], meta["longitude"], meta["altitude"], meta["TZ"])


def _tmy3(path: Path) -> Station:
    # Stamped at the hour's end. A February of a leap year would put its last hour on 29 February: one common year.
    data, meta = iotools.read_tmy3(path, coerce_year=2001, map_variables=True)
    data.index = data.index - pd.Timedelta(hours=1)
    return _tmy3_like(data, meta, "TMY3")


def _lst(path: Path) -> Station:
    data, meta = iotools.read_solaranywhere(path, map_variables=True)
    data.index = data.index.floor("h")
    return _tmy3_like(data, meta, TITLES["lst_csv"])


def _tmy3_like(data: pd.DataFrame, meta: dict[str, Any], title: str) -> Station:
    names = {name: (name, 1.0) for name in ("temp_air", "temp_dew", "relative_humidity", "wind_speed")}
    names |= {name: (name, 1.0) for name in ("ghi", "dni", "dhi")}
    names |= {"pressure": ("pressure", 100.0), "cloud": ("TotCld (tenths)", 0.1)}
    frame = _numbers(data, names, {"cloud": 9.9})
    return Station(frame, title, meta["latitude"], meta["longitude"], meta["altitude"], meta["TZ"])


def _tmy2(path: Path) -> Station:
    data, meta = iotools.read_tmy2(str(path))
    names = {
        "temp_air": ("DryBulb", 0.1),
        "relative_humidity": ("RHum", 1.0),
        "pressure": ("Pressure", 100.0),
        "wind_speed": ("Wspd", 0.1),
        "cloud": ("TotCld", 0.1),
        "ghi": ("GHI", 1.0),
        "dni": ("DNI", 1.0),
        "dhi": ("DHI", 1.0),
    }
    frame = _numbers(data, names, TMY2_MISSING)
    return Station(frame, "TMY2", meta["latitude"], meta["longitude"], meta["altitude"], float(meta["TZ"]))


PVGIS_NAMES = {name: (name, 1.0) for name in ("temp_air", "relative_humidity", "wind_speed", "pressure")} | {
    "ghi": ("ghi", 1.0),
    "dni": ("dni", 1.0),
    "dhi": ("dhi", 1.0),
    "long_wave": ("IR(h)", 1.0),
}


def _pvgis(path: Path) -> Station:
    data, meta = iotools.read_pvgis_tmy(path, pvgis_format="csv", map_variables=True)
    place = meta["inputs"]
    spot_h = float(place.get("irradiance time offset", 0.0))
    return _pvgis_year(data, place, spot_h)


def _pvgis_year(data: pd.DataFrame, place: dict[str, Any], spot_h: float) -> Station:
    frame = _numbers(data, PVGIS_NAMES, {})
    frame.index = frame.index.floor("h")
    altitude = float(place["elevation"])
    return Station(
        frame, "PVGIS typical year", float(place["latitude"]), float(place["longitude"]), altitude, 0.0, spot_h
    )


def _pvgis_json(path: Path) -> Station:
    outputs = json.loads(path.read_text(encoding="ascii"))["outputs"]
    if "tmy_hourly" in outputs:
        data, meta = iotools.read_pvgis_tmy(path, pvgis_format="json", map_variables=True)
        place = meta["inputs"]["location"]
        return _pvgis_year(data, place, float(place.get("irradiance_time_offset", 0.0)))
    data, meta = iotools.read_pvgis_hourly(path, pvgis_format="json", map_variables=True)
    mounting = next(iter(meta["inputs"]["mounting_system"].values()))
    return _pvgis_hours(data, meta["inputs"]["location"], float(mounting["slope"]["value"]))


def _pvgis_hourly(path: Path) -> Station:
    data, meta = iotools.read_pvgis_hourly(path, pvgis_format="csv", map_variables=True)
    place = meta["inputs"]
    return _pvgis_hours(data, place, float(str(place.get("Slope", "90")).split()[0]))


def _pvgis_hours(data: pd.DataFrame, place: dict[str, Any], slope_deg: float) -> Station:
    names = {"temp_air": ("temp_air", 1.0), "wind_speed": ("wind_speed", 1.0)}
    notices: tuple[str, ...] = ()
    if slope_deg == 0.0:
        if "poa_global" not in data.columns:
            data = data.assign(poa_global=data["poa_direct"] + data["poa_sky_diffuse"])
        names["ghi"] = ("poa_global", 1.0)
    else:
        notices = (f"the file's irradiance is for a plane tilted {slope_deg:g}° and is not used",)
    minute = float(pd.DatetimeIndex(data.index).minute[0])
    frame = _numbers(data, names, {})
    frame.index = frame.index.floor("h")
    return Station(
        _last_whole_year(frame),
        "PVGIS hours",
        float(place["latitude"]),
        float(place["longitude"]),
        float(place["elevation"]),
        0.0,
        minute / 60.0,
        notices,
    )


def _last_whole_year(frame: pd.DataFrame) -> pd.DataFrame:
    year = pd.DatetimeIndex(frame.index).year
    whole = [one for one in sorted(set(year)) if (year == one).sum() >= 8760]
    return frame[year == whole[-1]] if whole else frame


SAM_NAMES = {
    "temp_air": ("temp_air", "Tdry", "Temp", "Ambient Temperature"),
    "temp_dew": ("temp_dew", "Tdew"),
    "relative_humidity": ("relative_humidity", "RH", "Rhum"),
    "pressure": ("pressure", "Pres"),
    "wind_speed": ("wind_speed", "Wspd", "Wind Spd"),
    "ghi": ("ghi", "Global Horizontal"),
    "dni": ("dni", "Beam", "Direct Normal"),
    "dhi": ("dhi", "Diffuse", "Diffuse Horizontal"),
}


def _sam_header(text: str) -> str:
    """A SAM header given the whole numbers and the local time zone that pvlib's reader of its NSRDB twin wants."""
    keys, values, *rest = text.split("\n", 2)
    names, entries = (next(csv.reader([line])) for line in (keys, values))
    entries = [entry.replace(",", " ") for entry in entries]
    canonical = {"lat": "Latitude", "lon": "Longitude", "elev": "Elevation", "tz": "Time Zone", "timezone": "Time Zone"}
    canonical |= {name.lower(): name for name in ("Latitude", "Longitude", "Elevation", "Time Zone")}
    names = [canonical.get(name.strip().lower(), name.strip()) for name in names]
    header = dict(zip(names, entries, strict=False))
    header["UTC offset h"] = header["Time Zone"]  # pvlib knows whole hours only
    for name in ("Elevation", "Time Zone"):
        header[name] = f"{float(header[name]):.0f}"
    header["Local Time Zone"] = header["Time Zone"]
    heading, _, body = (rest[0] if rest else "").partition("\n")
    rows = [row for row in body.split("\n") if row.strip(" ,")]
    if "Minute" not in heading.split(","):
        heading, rows = f"{heading},Minute", [f"{row},30" for row in rows]
    return "\n".join([",".join(header), ",".join(header.values()), heading, *rows, ""])


def _sam(path: Path) -> Station:
    data, meta = iotools.read_nsrdb_psm4(path, map_variables=True)
    names = {}
    for name, candidates in SAM_NAMES.items():
        found = next((one for one in candidates if one in data.columns), None)
        if found:
            names[name] = (found, 1.0)
    frame = _numbers(data, names, {})
    frame = frame.groupby(frame.index.floor("h")).mean()
    if "pressure" in frame and float(frame["pressure"].median()) < 2000.0:
        frame["pressure"] *= 100.0  # hPa
    place = (meta["latitude"], meta["longitude"], float(meta["altitude"]))
    return Station(frame, TITLES["sam_csv"], *place, float(meta["UTC offset h"]))


READERS: dict[str, Callable[[Path], Station]] = {
    "epw": _epw,
    "tmy3": _tmy3,
    "tmy2": _tmy2,
    "pvgis_csv": _pvgis,
    "pvgis_json": _pvgis_json,
    "pvgis_hourly_csv": _pvgis_hourly,
    "sam_csv": _sam,
    "lst_csv": _lst,
}
