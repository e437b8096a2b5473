"""What a record lacks, estimated from what it has, and said to be."""

from __future__ import annotations

import numpy as np
import pandas as pd

from budget.errors import InputFault
from budget.weather.air import Floats, dew_point_c, humidity_percent, saturation_pressure_pa, standard_pressure_pa
from budget.weather.estimate import WIND_M_PER_S, estimated_climate
from budget.weather.months import through_the_year
from budget.weather.record import ADVICE, COLUMNS, HourlyWeather, check_season, tidied
from budget.weather.sky import (
    cloud_from_irradiance,
    mean_through_cloud,
    sky_temperature_c,
    through_cloud_w_per_m2,
)
from budget.weather.sun import Sun, clear_sky, closed, split

# Of a clear sky's sun over a day or more: the darkest weather lets more through, a reflecting valley sends less.
LEAST_OF_CLEAR_SHARE, MOST_OF_CLEAR_SHARE = 0.015, 1.5
TELLING_WH_PER_M2 = 200.0  # of a clear sky over the whole record, from which its unit can be told


def completed(
    given: pd.DataFrame,
    *,
    source: str,
    latitude_deg: float,
    longitude_deg: float,
    altitude_m: float,
    notices: tuple[str, ...] = (),
) -> HourlyWeather:
    """A whole record from any of its columns; temp_air is compulsory, ``cloud`` [0-1] may help.

    Parameters
    ----------
    given : Hourly frame, indexed by the start of each hour, without holes.
    source : Name for messages.
    latitude_deg, longitude_deg : Place. [°]
    altitude_m : Altitude. [m]
    notices : Notices so far.

    Estimates: humidity from a dew point at the day's lowest temperature (FAO-56 eq. 48, Allen et al. 1998), pressure of
    the standard atmosphere, wind 4 m/s, irradiance from ``cloud`` by Kasten and Czeplak or else from the estimated
    climate's cloudiness by Berliand, beam by Erbs, sky temperature by Martin and Berdahl.
    """
    frame, said = tidied(given, source)
    index = pd.DatetimeIndex(frame.index)
    temp_c = frame["temp_air"].to_numpy(dtype=float)
    check_season(temp_c, index, latitude_deg, altitude_m, source)
    estimated: list[str] = []
    columns: dict[str, Floats] = {name: frame[name].to_numpy(dtype=float) for name in frame.columns}
    if "relative_humidity" not in columns:
        columns["relative_humidity"] = humidity_from_lowest_percent(temp_c, index)
        estimated.append("relative_humidity (dew point at the day's lowest temperature)")
    if "pressure" not in columns:
        columns["pressure"] = np.full(len(index), float(standard_pressure_pa(np.array(altitude_m))))
        estimated.append("pressure (standard atmosphere)")
    if "wind_speed" not in columns:
        columns["wind_speed"] = np.full(len(index), WIND_M_PER_S)
        estimated.append(f"wind_speed ({WIND_M_PER_S:g} m/s)")
    sun = Sun.over(index, latitude_deg, longitude_deg)
    if "ghi" in columns:
        said += _unit_of_sun(columns["ghi"], clear_sky(sun, altitude_m)[0], source)
    usual_cloud = estimated_climate(latitude_deg, altitude_m)[2]
    estimated += _irradiance(columns, sun, altitude_m, usual_cloud)
    if "temp_sky" not in columns:
        vapour_pa = columns["relative_humidity"] / 100.0 * saturation_pressure_pa(temp_c)
        cloud = columns.get("cloud")
        if cloud is None:
            clear_ghi = clear_sky(sun, altitude_m)[0]
            cloud = cloud_from_irradiance(columns["ghi"], clear_ghi, float(np.mean(usual_cloud)))
        columns["temp_sky"] = sky_temperature_c(temp_c, dew_point_c(vapour_pa), columns["pressure"], cloud, sun.solar_h)
        estimated.append("temp_sky (clouds and dew point)")
    if estimated:
        said.append(f"{source}: estimated, for want of a column: {'; '.join(estimated)}.")
    return HourlyWeather(
        frame=pd.DataFrame({name: columns[name] for name in COLUMNS}, index=index),
        notices=(*notices, *said),
        source=source,
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        altitude_m=altitude_m,
    )


def humidity_from_lowest_percent(temp_c: Floats, index: pd.DatetimeIndex) -> Floats:
    """Relative humidity of each hour with the dew point at the day's lowest temperature. [%]"""
    days = pd.Series(temp_c).groupby(index.tz_localize(None).normalize().to_numpy()).transform("min").to_numpy()
    return humidity_percent(temp_c, saturation_pressure_pa(days))


def _unit_of_sun(ghi: Floats, clear_ghi: Floats, source: str) -> list[str]:
    """InputFault for a sun too weak to be in W/m², a notice for one too strong; nothing where the sun hardly rises."""
    clear = float(clear_ghi.sum())
    if ghi.size < 24 or clear < TELLING_WH_PER_M2:
        return []
    share = float(ghi.sum()) / clear
    if 0.0 < share < LEAST_OF_CLEAR_SHARE:
        raise InputFault(
            f"{source}: ghi must be in W/m², got nothing above {ghi.max():.3g} where a clear sky gives "
            f"{clear_ghi.max():.0f}; if it is in kWh/m² an hour, multiply by 1000, in MJ/m² by 277.8, or leave the "
            "column out."
        )
    if share > MOST_OF_CLEAR_SHARE:
        return [f"{source}: ghi sums up to {share:.1f} times a clear sky's; check the place, or {ADVICE['ghi']}."]
    return []


def _irradiance(columns: dict[str, Floats], sun: Sun, altitude_m: float, usual_cloud: tuple[float, ...]) -> list[str]:
    """Fill in ghi, dni and dhi in place; what was estimated, in words."""
    known = [name for name in ("ghi", "dni", "dhi") if name in columns]
    if len(known) == 3:
        return []
    if "dni" in known and "dhi" in known:
        columns["ghi"] = columns["dni"] * sun.cos_zenith + columns["dhi"]
        return ["ghi (sum of beam and diffuse)"]
    if "ghi" in known and "dni" in known:
        columns["dni"], columns["dhi"] = closed(sun, columns["ghi"], columns["dni"])
        return ["dhi (global less beam)"]
    if "ghi" in known and "dhi" in known:
        over = np.maximum(columns["ghi"] - columns["dhi"], 0.0) / np.maximum(sun.cos_zenith, 0.05)
        columns["dni"] = np.where(sun.cos_zenith > 0.05, np.minimum(over, sun.dni_extra), 0.0)
        return ["dni (global less diffuse)"]
    if "ghi" in known:
        columns["dni"], columns["dhi"] = split(sun, columns["ghi"])
        return ["dni and dhi (Erbs' split of ghi)"]
    for name in known:
        del columns[name]
    clear_ghi, clear_dni, clear_dhi = clear_sky(sun, altitude_m)
    if "cloud" in columns:
        columns["ghi"] = through_cloud_w_per_m2(clear_ghi, columns["cloud"])
        columns["dni"], columns["dhi"] = split(sun, columns["ghi"])
        return ["ghi, dni and dhi (clear sky through the cloud column)"]
    cloud = np.clip(through_the_year(usual_cloud, sun.index), 0.0, 1.0)
    columns["ghi"], columns["dni"], columns["dhi"] = mean_through_cloud(clear_dni, clear_dhi, sun.cos_zenith, cloud)
    return ["ghi, dni and dhi (clear sky through the cloudiness usual for the latitude, ± 0.2)"]
