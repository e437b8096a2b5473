"""What clouds do: to the sun's irradiance and to the temperature of the sky. Arrays of any shape, hours last."""

from __future__ import annotations

import numpy as np

from budget.weather.air import ZERO_C_K, Floats

STEFAN_BOLTZMANN_W_PER_M2K4 = 5.670374419e-8  # CODATA 2018, exact
OVERCAST_TRANSMITTANCE = 0.25  # Kasten & Czeplak 1980 at full cloud
BERLIAND = 0.38  # both coefficients, see mean_through_cloud
CLOUD_BASE_KM = 1.0  # choice: the low layer cloud of winter
CLOUD_SCALE_KM = 8.2  # Martin & Berdahl 1984


def through_cloud_w_per_m2(clear_ghi: Floats, cloud: Floats) -> Floats:
    """Global irradiance of an hour under a cloud amount 0 to 1. [W/m²]

    Kasten, F. and Czeplak, G., Solar Energy 24 (1980) 177-189: G = G0 (1 - 0.75 N^3.4), from ten years of hours at
    Hamburg. For a month's mean cloudiness use ``mean_through_cloud``: the mean of a curve is not the curve of the mean.
    """
    ghi: Floats = clear_ghi * (1.0 - (1.0 - OVERCAST_TRANSMITTANCE) * np.clip(cloud, 0.0, 1.0) ** 3.4)
    return ghi


def mean_through_cloud(
    clear_dni: Floats, clear_dhi: Floats, cos_zenith: Floats, cloud: Floats
) -> tuple[Floats, Floats, Floats]:
    """Mean global, beam normal and diffuse irradiance of hours whose cloudiness is a monthly mean, 0 to 1. [W/m²]

    Berliand, T. G., 1960, in Budyko, M. I., Climate and Life, 1974 (from memory): G = G0 (1 - 0.38 N - 0.38 N²), made
    for monthly means; his first coefficient lies between 0.35 and 0.41 up to 60° of latitude and falls beyond, over
    snow, so that the far north gets rather too little. The beam is the clear sky's for the share 1 - N of the time
    (Angstrom, Q. J. R. Meteorol. Soc. 50 (1924) 121-126); the rest is diffuse.
    """
    amount = np.clip(cloud, 0.0, 1.0)
    up = np.maximum(cos_zenith, 0.0)
    ghi = (clear_dni * up + clear_dhi) * (1.0 - BERLIAND * amount - BERLIAND * amount**2)
    dni = (1.0 - amount) * clear_dni
    return ghi, dni, ghi - dni * up


def cloud_from_irradiance(ghi: Floats, clear_ghi: Floats, otherwise: float) -> Floats:
    """Cloud amount 0 to 1 that ``through_cloud_w_per_m2`` would need; between days interpolated along the hours.

    Only hours with a clear-sky irradiance above 50 W/m² tell; a record without any gets ``otherwise``.
    """
    tells = clear_ghi > 50.0
    if not tells.any():
        return np.full(ghi.shape, otherwise)
    missing = np.clip(1.0 - ghi[tells] / clear_ghi[tells], 0.0, 1.0 - OVERCAST_TRANSMITTANCE)
    amount = (missing / (1.0 - OVERCAST_TRANSMITTANCE)) ** (1.0 / 3.4)
    cloud: Floats = np.interp(np.arange(ghi.size), np.flatnonzero(tells), amount)
    return cloud


def sky_temperature_c(temp_c: Floats, dew_c: Floats, pressure_pa: Floats, cloud: Floats, solar_h: Floats) -> Floats:
    """Temperature of the black sky dome that sends down the same long-wave radiation. [°C]

    Martin, M. and Berdahl, P., Solar Energy 33 (1984) 321-336: emissivity of the clear sky
    0.711 + 0.56 d + 0.73 d² with d the dew point / 100 °C (monthly means, dew point -20 to 30 °C), plus
    0.013 cos(2π t / 24) by solar hour and 0.00012 (p - 1000 hPa); one layer of cloud of emissivity 1 at 1 km closes
    the gap by exp(-1 / 8.2). Colder dew points are taken as -38 °C, the least of that parabola.
    """
    dew = np.clip(dew_c, -38.0, 40.0) / 100.0
    clear = 0.711 + 0.56 * dew + 0.73 * dew**2
    clear = clear + 0.013 * np.cos(2.0 * np.pi * solar_h / 24.0) + 0.00012 * (pressure_pa / 100.0 - 1000.0)
    closed = np.clip(cloud, 0.0, 1.0) * np.exp(-CLOUD_BASE_KM / CLOUD_SCALE_KM)
    emissivity = np.clip(clear + (1.0 - clear) * closed, 0.3, 1.0)
    sky: Floats = emissivity**0.25 * (temp_c + ZERO_C_K) - ZERO_C_K
    return sky


def sky_from_long_wave_c(long_wave_w_per_m2: Floats) -> Floats:
    """Black-body temperature of a measured downward long-wave irradiance. [°C]"""
    sky: Floats = (long_wave_w_per_m2 / STEFAN_BOLTZMANN_W_PER_M2K4) ** 0.25 - ZERO_C_K
    return sky
