"""A rough climate from latitude, altitude and season, for places whose monthly means nobody has looked up."""

from __future__ import annotations

import numpy as np

MEAN_BAND_K = 6.0  # stated half-width of a monthly mean where the estimate holds; the tests show how it fares
LAPLAND_K = 8.0  # so much too warm it is inland in northernmost Lapland,
ISLANDS_K = 10.0  # and so much too cold on Atlantic islands, in winter
# Where it holds: south to north, west to east [°]. East of 40° E, in North America and in Asia the sea is too far.
REGIONS = ((27.0, 67.0, -25.0, 0.0), (27.0, 72.0, 0.0, 40.0), (-56.0, -33.0, -180.0, 180.0))
WHERE = "in Europe and round the Mediterranean (27 to 72° N, 25° W to 40° E) and from 33 to 56° S"
SPELL_K = 6.0  # the coldest three days of a month below its mean, middle and one in ten of the odds' usual winters
RARE_SPELL_K = 12.0
WIND_M_PER_S = 4.0  # common practice: open country away from exposed coasts, 2 to 7
LAPSE_K_PER_KM = 6.0  # between the winter valleys' 4.5 and the free air's 6.5

Months = tuple[float, ...]


def estimated_climate(latitude_deg: float, altitude_m: float) -> tuple[Months, Months, Months]:
    """Monthly mean temperature, mean daily range and mean cloudiness of an unknown place, January first.

    Parameters
    ----------
    latitude_deg : Latitude, north positive. [°]
    altitude_m : Altitude. [m]

    Returns
    -------
    Means [°C], daily ranges [K], cloudiness [0-1].

    Our own fit by eye to temperate Europe in the north and to Patagonia and the Cape in the south; no source. Stated
    band of a mean: ± 6 K where ``estimate_holds``. It knows nothing of sea, wind or forest: within that region winters
    inland in northernmost Lapland are up to 8 K colder and those of Atlantic islands up to 10 K milder, and summers of
    the Sahara and of upper Mesopotamia up to 11 K hotter. Outside it inland winters are 15 to 30 K colder than this.

        mean  = 28 - a sin²φ - 0.006 z,  a = 29 (north), 32 (south)
        swing = 1 + b sin(1.5 |φ|),        b = 9.5 (north), 4.5 (south); coldest on 20 January or 20 July
        range = 4 + 7 sin(noon sun of mid-month)
        cloud = 0.35 + 0.40 sin²φ + 0.12 cos(season), 1 on the coldest day
    """
    north = latitude_deg >= 0.0
    phi = np.radians(abs(latitude_deg))
    day = np.array([15, 46, 74, 105, 135, 166, 196, 227, 258, 288, 319, 349], dtype=float)
    season = np.cos(2.0 * np.pi * (day - 20.0) / 365.0) * (1.0 if north else -1.0)
    declination = np.radians(-23.44) * np.cos(2.0 * np.pi * (day + 10.0) / 365.0) * (1.0 if north else -1.0)
    mean = 28.0 - (29.0 if north else 32.0) * np.sin(phi) ** 2 - LAPSE_K_PER_KM * altitude_m / 1000.0
    swing = 1.0 + (9.5 if north else 4.5) * np.sin(1.5 * phi)
    noon = np.maximum(np.cos(phi - declination), 0.0)
    cloud = np.clip(0.35 + 0.40 * np.sin(phi) ** 2 + 0.12 * season, 0.0, 1.0)
    return _months(mean - swing * season), _months(4.0 + 7.0 * noon), _months(cloud)


def estimate_holds(latitude_deg: float, longitude_deg: float) -> bool:
    """Whether a place [°] lies where the estimate was made for, and its stated band was checked."""
    return any(south <= latitude_deg <= north and west <= longitude_deg <= east for south, north, west, east in REGIONS)


def _months(values: np.ndarray) -> Months:
    return tuple(round(float(value), 3) for value in values)
