"""Air, water and fuel: constants and property fits that every other part of the physics shares.

Fits to reference equations of state were made by least squares against CoolProp 8.0 (propane: Lemmon, McLinden and
Wagner, J. Chem. Eng. Data 54, 2009; n-butane: Buecker and Wagner, J. Phys. Chem. Ref. Data 35, 2006) and, for water
vapour, against the equations of Hyland and Wexler (ASHRAE Fundamentals 2017, chapter 1, equations 5 and 6). The
deviations stated are the largest over the range stated.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from budget.compiled import jit

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

ZERO_C_K = 273.15  # definition
GRAVITY_M_PER_S2 = 9.80665  # ISO 2533:1975
STEFAN_BOLTZMANN_W_PER_M2K4 = 5.670374e-8  # CODATA 2018
STANDARD_PRESSURE_PA = 101_325.0  # ISO 2533:1975

AIR_GAS_CONSTANT_J_PER_KGK = 287.055  # dry air; 287.042 in ASHRAE 2017, 287.053 in ISO 2533
AIR_CP_J_PER_KG_K = 1006.0  # dry air, ASHRAE Fundamentals 2017, chapter 1, equation 30
WATER_TO_AIR_RATIO = 0.621945  # molar masses, ASHRAE Fundamentals 2017, chapter 1, equation 20

WATER_KG_PER_L = 1.0  # within 1.7 % from 0 to 60 °C
WATER_CP_J_PER_KG_K = 4186.0  # liquid, within 0.8 % from 0 to 80 °C
WATER_FUSION_J_PER_KG = 334e3  # at 0 °C; ASHRAE 333.4 to 334
VAPOUR_CP_J_PER_KG_K = 1860.0  # ASHRAE Fundamentals 2017, chapter 1, equation 30
VAPOUR_LATENT_J_PER_KG = 2.501e6  # at 0 °C, ASHRAE Fundamentals 2017, chapter 1, equation 30

PROPANE_KG_PER_MOL = 0.0440956  # IUPAC atomic masses
BUTANE_KG_PER_MOL = 0.0581222  # IUPAC atomic masses
WATER_KG_PER_MOL = 0.01801528  # IUPAC atomic masses
CO2_KG_PER_MOL = 0.0440095  # IUPAC atomic masses

PROPANE_LOWER_J_PER_KG = 46.34e6  # lower heating value at 25 °C, from the heats of formation
BUTANE_LOWER_J_PER_KG = 45.72e6  # n-butane, likewise
PROPANE_UPPER_J_PER_KG = 50.33e6  # upper heating value
BUTANE_UPPER_J_PER_KG = 49.50e6  # upper heating value
PROPANE_LOWER_KWH_PER_KG = PROPANE_LOWER_J_PER_KG / 3.6e6
BUTANE_LOWER_KWH_PER_KG = BUTANE_LOWER_J_PER_KG / 3.6e6

PROPANE_BURNED_WATER_SHARE = 4.0 * WATER_KG_PER_MOL / PROPANE_KG_PER_MOL  # C3H8 + 5 O2 -> 3 CO2 + 4 H2O
PROPANE_BURNED_CO2_SHARE = 3.0 * CO2_KG_PER_MOL / PROPANE_KG_PER_MOL
BUTANE_BURNED_WATER_SHARE = 5.0 * WATER_KG_PER_MOL / BUTANE_KG_PER_MOL  # C4H10 + 6.5 O2 -> 4 CO2 + 5 H2O
BUTANE_BURNED_CO2_SHARE = 4.0 * CO2_KG_PER_MOL / BUTANE_KG_PER_MOL

_TRIPLE_PA = 611.157  # both saturation fits meet here at 0 °C


@jit
def air_density_kg_per_m3(temp_c: float, pressure_pa: float) -> float:
    """Density of dry air, ideal gas; moist air at 20 °C and 50 % is 0.5 % lighter. [kg/m³]"""
    return pressure_pa / (AIR_GAS_CONSTANT_J_PER_KGK * (temp_c + ZERO_C_K))


@jit
def air_viscosity_kg_per_ms(temp_c: float) -> float:
    """Dynamic viscosity of dry air; fit within 0.04 % of CoolProp, -40 to 100 °C. [kg/(m·s)]"""
    return 1.72156777e-5 + temp_c * (5.01151439e-8 - 3.35816887e-11 * temp_c)


@jit
def pressure_at_altitude_pa(altitude_m: float) -> float:
    """Pressure of the standard atmosphere; ASHRAE Fundamentals 2017, chapter 1, equation 3; -500 to 11 000 m. [Pa]"""
    return float(STANDARD_PRESSURE_PA * (1.0 - 2.25577e-5 * altitude_m) ** 5.2559)


@jit
def density_ratio(altitude_m: float) -> float:
    """Air density against sea level at the same temperature; 0.83 at 1500 m. [–]"""
    return pressure_at_altitude_pa(altitude_m) / STANDARD_PRESSURE_PA


@jit
def _over_liquid_pa(temp_c: float) -> float:
    """Saturation over liquid water: fit within 0.01 % of Hyland and Wexler from 0 to 80 °C. [Pa]"""
    return _TRIPLE_PA * math.exp((18.51770214 - temp_c * (1.0 / 260.43961946)) * temp_c / (254.81483169 + temp_c))


@jit
def saturation_pressure_pa(temp_c: float) -> float:
    """Saturation pressure of water vapour, over ice below 0 °C and over liquid water above. [Pa]

    Fitted form ``a exp((b - t/c) t / (d + t))``, within 0.002 % of Hyland and Wexler from -60 to 0 °C and 0.01 %
    from 0 to 80 °C; without the enhancement factor of moist air (below 0.5 %). Continuous at 0 °C.
    """
    if temp_c < 0.0:
        return _TRIPLE_PA * math.exp((22.9492337 - temp_c * (1.0 / 409.60377665)) * temp_c / (278.68052866 + temp_c))
    return _over_liquid_pa(temp_c)


@jit
def supercooled_saturation_pa(temp_c: float) -> float:
    """Saturation pressure over liquid water at any temperature, as weather services' humidity means it. [Pa]

    Magnus form of WMO-No. 8, 2018, volume I, annex 4.B, below 0 °C (-45 to 0 °C); above as
    ``saturation_pressure_pa``.
    """
    if temp_c < 0.0:
        return _TRIPLE_PA * math.exp(17.62 * temp_c / (243.12 + temp_c))
    return _over_liquid_pa(temp_c)


@jit
def saturation_slope_pa_per_k(temp_c: float) -> float:
    """Derivative of ``saturation_pressure_pa`` by temperature; from above at 0 °C. [Pa/K]"""
    if temp_c < 0.0:
        b, c, d = 22.9492337, 409.60377665, 278.68052866
    else:
        b, c, d = 18.51770214, 260.43961946, 254.81483169
    logarithmic = (b * d - temp_c * (temp_c + 2.0 * d) / c) / ((d + temp_c) * (d + temp_c))
    return saturation_pressure_pa(temp_c) * logarithmic


@jit
def humidity_ratio(vapour_pa: float, pressure_pa: float) -> float:
    """Water vapour carried by a kilogram of dry air; ASHRAE Fundamentals 2017, chapter 1, equation 20. [kg/kg]"""
    return WATER_TO_AIR_RATIO * vapour_pa / (pressure_pa - vapour_pa)


@jit
def vapour_pressure_pa(ratio: float, pressure_pa: float) -> float:
    """Partial pressure of the vapour; the inverse of ``humidity_ratio``. [Pa]"""
    return ratio * pressure_pa / (WATER_TO_AIR_RATIO + ratio)


@jit
def saturation_ratio(temp_c: float, pressure_pa: float) -> float:
    """Humidity ratio of saturated air, over ice below 0 °C. [kg/kg]"""
    return humidity_ratio(saturation_pressure_pa(temp_c), pressure_pa)


@jit
def dew_point_c(vapour_pa: float) -> float:
    """Dew point, frost point below 0 °C: the exact inverse of ``saturation_pressure_pa``. [°C]

    The quadratic in t that the fitted form leaves; vapour below 0.01 Pa counts as 0.01 Pa (about -95 °C).
    """
    y = math.log(max(vapour_pa, 0.01) / _TRIPLE_PA)
    if y < 0.0:
        b, c, d = 22.9492337, 409.60377665, 278.68052866
    else:
        b, c, d = 18.51770214, 260.43961946, 254.81483169
    return 2.0 * y * d / ((b - y) + math.sqrt((b - y) * (b - y) - 4.0 * y * d / c))


@jit
def vapour_latent_j_per_kg(temp_c: float) -> float:
    """Heat of vaporisation of liquid water; within 0.5 % of steam tables from 0 to 60 °C. [J/kg]

    Difference of the vapour and liquid enthalpies of ASHRAE Fundamentals 2017, chapter 1, equation 30.
    """
    return VAPOUR_LATENT_J_PER_KG - (WATER_CP_J_PER_KG_K - VAPOUR_CP_J_PER_KG_K) * temp_c


@jit
def propane_saturation_pa(temp_c: float) -> float:
    """Saturation pressure of propane; extended Antoine fit within 0.09 % of CoolProp, -60 to 60 °C. [Pa]"""
    return math.exp(19.353584326 - 1448.20887865 / (temp_c + 230.462306081) + 0.003280524569 * temp_c)


@jit
def butane_saturation_pa(temp_c: float) -> float:
    """Saturation pressure of n-butane; extended Antoine fit within 0.09 % of CoolProp, -60 to 60 °C. [Pa]"""
    return math.exp(20.357117347 - 2090.78532827 / (temp_c + 237.247125371) + 0.000708198809 * temp_c)


@jit
def propane_saturation_slope_pa_per_k(temp_c: float) -> float:
    """Derivative of ``propane_saturation_pa``. [Pa/K]"""
    shifted = temp_c + 230.462306081
    return propane_saturation_pa(temp_c) * (1448.20887865 / (shifted * shifted) + 0.003280524569)


@jit
def butane_saturation_slope_pa_per_k(temp_c: float) -> float:
    """Derivative of ``butane_saturation_pa``. [Pa/K]"""
    shifted = temp_c + 237.247125371
    return butane_saturation_pa(temp_c) * (2090.78532827 / (shifted * shifted) + 0.000708198809)


@jit
def propane_density_kg_per_m3(temp_c: float) -> float:
    """Density of saturated liquid propane; fit within 0.2 % of CoolProp, -60 to 60 °C. [kg/m³]"""
    return 528.79016 + temp_c * (-1.34700997 + temp_c * (-3.80063251e-3 - 2.57825887e-5 * temp_c))


@jit
def butane_density_kg_per_m3(temp_c: float) -> float:
    """Density of saturated liquid n-butane; fit within 0.02 % of CoolProp, -60 to 60 °C. [kg/m³]"""
    return 600.762532 + temp_c * (-1.07527635 + temp_c * (-1.50080505e-3 - 7.40160208e-6 * temp_c))


@jit
def propane_latent_j_per_kg(temp_c: float) -> float:
    """Latent heat of propane; fit within 0.11 % of CoolProp, -60 to 60 °C. [J/kg]"""
    t = temp_c
    return 374848.862 + t * (-1392.49191 + t * (-5.64955982 + t * (-0.0390794456 - 2.33366702e-4 * t)))


@jit
def butane_latent_j_per_kg(temp_c: float) -> float:
    """Latent heat of n-butane; fit within 0.01 % of CoolProp, -60 to 60 °C. [J/kg]"""
    t = temp_c
    return 385271.324 + t * (-891.804416 + t * (-2.05835589 + t * (-0.0126405943 - 2.51879345e-5 * t)))


@jit
def propane_liquid_cp_j_per_kgk(temp_c: float) -> float:
    """Heat capacity of saturated liquid propane; fit within 1.3 % of CoolProp, -60 to 60 °C. [J/(kg·K)]"""
    return 2486.04346 + temp_c * (7.34424765 + temp_c * (0.0672740742 + 5.92739276e-4 * temp_c))


@jit
def butane_liquid_cp_j_per_kgk(temp_c: float) -> float:
    """Heat capacity of saturated liquid n-butane; fit within 0.3 % of CoolProp, -60 to 60 °C. [J/(kg·K)]"""
    return 2311.576 + temp_c * (4.75312336 + temp_c * 0.0194375550)
