"""From the station's altitude to the pitch's: temperature, pressure, humidity and sky temperature."""

from __future__ import annotations

import numpy as np
import pandas as pd

from budget.weather.air import GAS_CONSTANT_J_PER_KGK, GRAVITY_M_PER_S2, ZERO_C_K, Floats, saturation_pressure_pa


def pressure_at_pa(pressure_pa: Floats, climb_m: Floats, mean_c: Floats) -> Floats:
    """Pressure after a climb through air of a mean temperature. [Pa]

    Hypsometric equation, p2 = p1 exp(-g z / (R T)); a descent is a negative climb.
    """
    pressure: Floats = pressure_pa * np.exp(
        -GRAVITY_M_PER_S2 * climb_m / (GAS_CONSTANT_J_PER_KGK * (mean_c + ZERO_C_K))
    )
    return pressure


def moved(frame: pd.DataFrame, climb_m: Floats, lapse_k_per_km: float) -> pd.DataFrame:
    """A weather record carried up (or down) by a climb, hour by hour.

    Parameters
    ----------
    frame : Hourly record with the columns of ``HourlyWeather``.
    climb_m : Altitude of the pitch above the station, one value or one an hour. [m]
    lapse_k_per_km : Cooling with altitude. [K/km]

    Returns
    -------
    A new record. The mixing ratio is kept until the colder air saturates, the sky's emissivity is kept, and
    irradiance and wind stay as they were (a choice: both change with the terrain more than with the altitude).
    """
    temp_c = frame["temp_air"].to_numpy(dtype=float)
    pressure_pa = frame["pressure"].to_numpy(dtype=float)
    new_c = temp_c - lapse_k_per_km * climb_m / 1000.0
    new_pressure_pa = pressure_at_pa(pressure_pa, climb_m, (temp_c + new_c) / 2.0)
    vapour_pa = frame["relative_humidity"].to_numpy(dtype=float) / 100.0 * saturation_pressure_pa(temp_c)
    new_humidity = 100.0 * vapour_pa * new_pressure_pa / pressure_pa / saturation_pressure_pa(new_c)
    return frame.assign(
        temp_air=new_c,
        pressure=new_pressure_pa,
        relative_humidity=np.clip(new_humidity, 0.0, 100.0),
        temp_sky=sky_moved_c(frame["temp_sky"].to_numpy(dtype=float), temp_c, new_c),
    )


def warmed(frame: pd.DataFrame, offset_k: float) -> pd.DataFrame:
    """A record with every temperature raised by an offset; relative humidity and the sky's emissivity are kept."""
    temp_c = frame["temp_air"].to_numpy(dtype=float)
    sky_c = frame["temp_sky"].to_numpy(dtype=float)
    return frame.assign(temp_air=temp_c + offset_k, temp_sky=sky_moved_c(sky_c, temp_c, temp_c + offset_k))


def sky_moved_c(sky_c: Floats, temp_c: Floats, new_c: Floats) -> Floats:
    """Sky temperature when the air changes and the sky's emissivity (T_sky / T_air)^4 does not. [°C]"""
    moved_c: Floats = (sky_c + ZERO_C_K) * (new_c + ZERO_C_K) / (temp_c + ZERO_C_K) - ZERO_C_K
    return moved_c
