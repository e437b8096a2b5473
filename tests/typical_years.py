"""Typical years of every kind the reader takes, written out by hand; all have the same invented temperatures."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd

ROWS = np.arange(8760)
TEMPS = np.round(5.0 + 10.0 * np.sin(2.0 * np.pi * ROWS / 8760.0) + ROWS % 24 / 10.0, 2)
STAMPS = pd.date_range("2019-01-01", periods=8760, freq="h")


def pvgis_csv(offset: str = "Irradiance Time Offset (h): 0.1761\r\n") -> str:
    head = (
        f"Latitude (decimal degrees): 58.400\r\nLongitude (decimal degrees): 22.500\r\nElevation (m): 4.0\r\n{offset}"
    )
    months = "month,year\r\n" + "".join(f"{month},2019\r\n" for month in range(1, 13))
    rows = "".join(
        f"{stamp:%Y%m%d:%H%M},{temp},80.0,{50.0 * (row % 24)},0.0,{50.0 * (row % 24)},300.0,5.0,200.0,101000.0\r\n"
        for row, (stamp, temp) in enumerate(zip(STAMPS, TEMPS, strict=True))
    )
    return head + months + "time(UTC),T2m,RH,G(h),Gb(n),Gd(h),IR(h),WS10m,WD10m,SP\r\n" + rows + "\r\nT2m: 2-m air\r\n"


def pvgis_json() -> str:
    hourly = [
        {"time(UTC)": f"{stamp:%Y%m%d:%H%M}", "T2m": temp, "RH": 80.0, "G(h)": 0.0, "Gb(n)": 0.0, "Gd(h)": 0.0}
        | {"IR(h)": 300.0, "WS10m": 5.0, "WD10m": 200.0, "SP": 101000.0}
        for stamp, temp in zip(STAMPS, TEMPS.tolist(), strict=True)
    ]
    location = {"latitude": 58.4, "longitude": 22.5, "elevation": 4.0}
    months = [{"month": month, "year": 2019} for month in range(1, 13)]
    outputs = {"months_selected": months, "tmy_hourly": hourly}
    return json.dumps({"inputs": {"location": location}, "outputs": outputs, "meta": {"inputs": {}}})


def pvgis_hourly_csv(slope: str, years: int = 2) -> str:
    stamps = pd.date_range("2018-01-01 00:11", periods=8760 * years, freq="h")
    head = "Latitude (decimal degrees):\t58.400\r\nLongitude (decimal degrees):\t22.500\r\nElevation (m):\t4\r\n"
    head += f"Radiation database:\tX\r\n\r\n\r\nSlope: {slope}\r\nAzimuth: 0 deg.\r\n"
    temps = np.concatenate([TEMPS - 7.0, TEMPS])
    rows = "".join(
        f"{stamp:%Y%m%d:%H%M},120.0,10.0,{temp},5.0,0.0\r\n" for stamp, temp in zip(stamps, temps, strict=True)
    )
    return head + "time,G(i),H_sun,T2m,WS10m,Int\r\n" + rows + "\r\nG(i): irradiance\r\n"


def nsrdb_csv() -> str:
    keys = "Source,Location ID,City,State,Country,Latitude,Longitude,Time Zone,Elevation,Local Time Zone"
    values = "NSRDB,1,-,-,-,58.4,22.5,2,4,2"
    rows = "".join(
        f"{stamp.year},{stamp.month},{stamp.day},{stamp.hour},{minute},{temp},1010,80,5,0,0,0\n"
        for stamp, temp in zip(STAMPS, TEMPS, strict=True)
        for minute in (0, 30)
    )
    names = "Year,Month,Day,Hour,Minute,Temperature,Pressure,Relative Humidity,Wind Speed,GHI,DNI,DHI"
    return f"{keys}\n{values}\n{names}\n{rows}"


def sam_csv() -> str:
    rows = "".join(
        f"{stamp.year},{stamp.month},{stamp.day},{stamp.hour},{temp},1010,80,5,0,0,0\n"
        for stamp, temp in zip(STAMPS, TEMPS, strict=True)
    )
    head = 'City,lat,lon,elev,tz\n"Here, there",58.4,22.5,4.2,5.5\n'
    return f"{head}Year,Month,Day,Hour,Tdry,Pres,RH,Wspd,GHI,DNI,DHI\n{rows}"


def lst_csv() -> str:
    head = '0,"Here","EE",2,58.4,22.5,4,"Data Version: 3.4 / Type: Typical Year / LatLon Resolution (degrees): 0.1"'
    head = head.replace("LatLon Resolution (degrees)", "LatLon Resolution")
    names = "ObservationTime(LST),Global Horizontal Irradiance (GHI) W/m2,Direct Normal Irradiance (DNI) W/m2"
    names += ",Diffuse Horizontal Irradiance (DIF) W/m2,AmbientTemperature (deg C),WindSpeed (m/s)"
    names += ",Relative Humidity (%)"
    stamps = STAMPS + pd.Timedelta("30min")
    rows = "".join(f"{stamp:%m/%d/%Y %H:%M},0,0,0,{temp},5,80\n" for stamp, temp in zip(stamps, TEMPS, strict=True))
    return f"{head}\n{names}\n{rows}"


MADE = {
    "pvgis.csv": (pvgis_csv(), 0.0),
    "pvgis_old.csv": (pvgis_csv(offset=""), 0.0),
    "pvgis.json": (pvgis_json(), 0.0),
    "hourly_flat.csv": (pvgis_hourly_csv("0 deg."), 0.0),
    "hourly_tilted.csv": (pvgis_hourly_csv("35 deg. (optimum)"), 0.0),
    "nsrdb.csv": (nsrdb_csv(), 2.0),
    "sam.csv": (sam_csv(), 5.5),
    "lst.csv": (lst_csv(), 2.0),
}
