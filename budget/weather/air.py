"""Outdoor air: saturation, dew point, humidity and pressure, on arrays of any shape.

Relative humidity is over liquid water at every temperature, as weather services report it (WMO-No. 8, Guide to
Instruments and Methods of Observation, Volume I, 2018, chapter 4): at -20 °C air saturated over ice reads 82 %.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

ZERO_C_K = 273.15  # definition
STANDARD_PRESSURE_PA = 101_325.0  # ISO 2533:1975
STANDARD_TEMPERATURE_K = 288.15  # ISO 2533:1975
STANDARD_LAPSE_K_PER_M = 0.0065  # ISO 2533:1975
GRAVITY_M_PER_S2 = 9.80665  # ISO 2533:1975
GAS_CONSTANT_J_PER_KGK = 287.05287  # dry air, ISO 2533:1975
WATER_TO_AIR_RATIO = 0.62198  # molar mass of water over that of dry air


def saturation_pressure_pa(temp_c: Floats) -> Floats:
    """Saturation vapour pressure over liquid water. [Pa]

    WMO-No. 8, 2018, Volume I, annex 4.B, without the enhancement factor; -45 to 60 °C.
    """
    saturation: Floats = 611.2 * np.exp(17.62 * temp_c / (243.12 + temp_c))
    return saturation


def dew_point_c(vapour_pressure_pa: Floats) -> Floats:
    """Temperature at which this vapour pressure saturates; the inverse of ``saturation_pressure_pa``. [°C]"""
    logarithm = np.log(np.maximum(vapour_pressure_pa, 0.01) / 611.2)
    dew_point: Floats = 243.12 * logarithm / (17.62 - logarithm)
    return dew_point


def humidity_percent(temp_c: Floats, vapour_pressure_pa: Floats) -> Floats:
    """Relative humidity over liquid water, never above 100. [%]"""
    humidity: Floats = np.clip(100.0 * vapour_pressure_pa / saturation_pressure_pa(temp_c), 0.0, 100.0)
    return humidity


def standard_pressure_pa(altitude_m: Floats) -> Floats:
    """Pressure of the standard atmosphere. [Pa]

    ISO 2533:1975, troposphere: -2000 to 11 000 m. Real pressure stays within about 5 % of it.
    """
    exponent = GRAVITY_M_PER_S2 / (GAS_CONSTANT_J_PER_KGK * STANDARD_LAPSE_K_PER_M)
    cooled = 1.0 - STANDARD_LAPSE_K_PER_M * np.asarray(altitude_m, dtype=float) / STANDARD_TEMPERATURE_K
    pressure: Floats = STANDARD_PRESSURE_PA * cooled**exponent
    return pressure
