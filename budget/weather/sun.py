"""The sun: where it stands at mid-hour, what a clear sky sends down, and what falls on the van's faces and panels."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import pvlib
from pvlib import spa

from budget.weather.air import Floats, standard_pressure_pa

if TYPE_CHECKING:
    from budget.tour.timeline import Timeline
    from budget.van.model import Van
    from budget.weather.record import HourlyWeather

ALBEDO = 0.2  # choice: wet grass, gravel and asphalt lie between 0.1 and 0.25
SNOW_ALBEDO = 0.6  # choice: snow that is not new; used while the air is below 0 °C
FAIMAN_U0_W_PER_M2K = 25.0  # Faiman, Progress in Photovoltaics 16 (2008) 307-315
FAIMAN_U1_W_PER_M3KS = 6.84  # the same
STANDARD_TEST_C = 25.0  # IEC 60904-3
LEAST_COS_ZENITH = 0.01745  # the sun at 1°: pvlib's guard in the Hay-Davies ratio
SIDES = {"front": 0.0, "right": 90.0, "rear": 180.0, "left": 270.0}


@dataclass(frozen=True, eq=False)
class Sun:
    """The sun at the middle of each hour, reckoned when first asked for."""

    index: pd.DatetimeIndex
    latitude_deg: Floats
    longitude_deg: Floats

    @classmethod
    def over(cls, index: pd.DatetimeIndex, latitude_deg: float | Floats, longitude_deg: float | Floats) -> Sun:
        """Sun for hours that start at ``index``, at one place or one place an hour."""
        lat, lon = (np.broadcast_to(np.asarray(v, dtype=float), len(index)) for v in (latitude_deg, longitude_deg))
        return cls(index, lat, lon)

    @cached_property
    def _position(self) -> tuple[Floats, Floats]:
        """Apparent zenith, with refraction at standard pressure, and azimuth. [°]

        The solar position algorithm of Reda and Andreas (NREL/TP-560-34302, 2008; years -2000 to 6000, ± 0.0003°)
        from pvlib.
        """
        utc = self.index.tz_convert("UTC").tz_localize(None).to_numpy()
        middle_s = utc.astype("datetime64[s]").astype(float) + 1800.0
        first = self.index[0]
        delta_s = spa.calculate_deltat(first.year, first.month)
        found = spa.solar_position_numpy(
            middle_s, self.latitude_deg, self.longitude_deg, 0.0, 1013.25, 12.0, delta_s, 0.5667, 1
        )
        return found[0], found[4]

    @property
    def zenith_deg(self) -> Floats:
        """Angle from overhead. [°]"""
        return self._position[0]

    @property
    def azimuth_deg(self) -> Floats:
        """Angle from north, clockwise. [°]"""
        return self._position[1]

    @cached_property
    def cos_zenith(self) -> Floats:
        """Cosine of the zenith, 0 below the horizon. [–]"""
        cosine: Floats = np.maximum(np.cos(np.radians(self.zenith_deg)), 0.0)
        return cosine

    @cached_property
    def dni_extra(self) -> Floats:
        """Beam at the top of the atmosphere. [W/m²]"""
        return np.asarray(pvlib.irradiance.get_extra_radiation(self.index.day_of_year.to_numpy()), dtype=float)

    @property
    def solar_h(self) -> Floats:
        """Mean solar time at mid-hour. [h]"""
        utc = self.index.tz_convert("UTC")
        hours: Floats = (utc.hour + utc.minute / 60.0 + 0.5 + self.longitude_deg / 15.0).to_numpy() % 24.0
        return hours


@lru_cache(maxsize=256)
def monthly_turbidity(latitude_deg: float, longitude_deg: float) -> tuple[float, ...]:
    """Linke turbidity of each month, January first, from the map that pvlib carries (5' grid). [–]"""
    months = pd.date_range("2001-01-15", periods=12, freq="30D", tz="UTC")
    values = pvlib.clearsky.lookup_linke_turbidity(months, latitude_deg, longitude_deg, interp_turbidity=False)
    return tuple(float(value) for value in values)


def clear_sky(sun: Sun, altitude_m: float) -> tuple[Floats, Floats, Floats]:
    """Global, beam normal and diffuse irradiance of a cloudless sky. [W/m²]

    Ineichen, P. and Perez, R., Solar Energy 73 (2002) 151-157, from pvlib, with the month's Linke turbidity at the
    first hour's place.
    """
    up = sun.cos_zenith > 0.0
    ghi, dni, dhi = (np.zeros(len(sun.index)) for _ in range(3))
    if not up.any():
        return ghi, dni, dhi
    turbidity = np.array(monthly_turbidity(float(sun.latitude_deg[0]), float(sun.longitude_deg[0])))
    airmass = pvlib.atmosphere.get_absolute_airmass(
        pvlib.atmosphere.get_relative_airmass(sun.zenith_deg[up]), standard_pressure_pa(np.array(altitude_m))
    )
    clear = pvlib.clearsky.ineichen(
        sun.zenith_deg[up],
        airmass,
        turbidity[sun.index.month.to_numpy()[up] - 1],
        altitude=altitude_m,
        dni_extra=sun.dni_extra[up],
    )
    ghi[up], dni[up], dhi[up] = clear["ghi"], clear["dni"], clear["dhi"]
    return ghi, dni, dhi


def split(sun: Sun, ghi: Floats) -> tuple[Floats, Floats]:
    """Beam normal and diffuse parts of a global irradiance. [W/m²]

    Erbs, Klein and Duffie, Solar Energy 28 (1982) 293-302, from pvlib: below 3° of sun all is diffuse. The beam never
    exceeds what arrives at the top of the atmosphere. Irradiances may carry leading scenario axes.
    """
    parts = pvlib.irradiance.erbs(ghi, sun.zenith_deg, sun.index.day_of_year.to_numpy())
    return closed(sun, ghi, np.minimum(np.asarray(parts["dni"], dtype=float), sun.dni_extra))


def closed(sun: Sun, ghi: Floats, dni: Floats) -> tuple[Floats, Floats]:
    """Beam and diffuse that add up to a global irradiance; a beam that would exceed it is cut back. [W/m²]"""
    up = sun.cos_zenith > LEAST_COS_ZENITH
    most = np.where(up, ghi / np.where(up, sun.cos_zenith, 1.0), 0.0)
    beam = np.clip(dni, 0.0, most)
    return beam, ghi - beam * sun.cos_zenith


def on_plane(
    sun: Sun,
    irradiance: tuple[Floats, Floats, Floats],
    *,
    tilt_deg: float,
    azimuth_deg: Floats | float,
    albedo: Floats | float,
) -> Floats:
    """Irradiance on a tilted plane: beam, sky diffuse by Hay and Davies (1980), ground. [W/m²]

    ``irradiance`` is global, beam normal and diffuse; each may carry leading scenario axes, the hours come last.
    """
    ghi, dni, dhi = irradiance
    total = pvlib.irradiance.get_total_irradiance(
        tilt_deg,
        azimuth_deg,
        sun.zenith_deg,
        sun.azimuth_deg,
        np.where(sun.cos_zenith > 0.0, dni, 0.0),
        ghi,
        dhi,
        dni_extra=sun.dni_extra,
        albedo=albedo,
        model="haydavies",
    )
    plane: Floats = np.maximum(np.asarray(total["poa_global"], dtype=float), 0.0)
    return plane


def on_any_wall(sun: Sun, irradiance: tuple[Floats, Floats, Floats], *, albedo: Floats | float) -> Floats:
    """Irradiance on a vertical wall averaged over every direction it might face. [W/m²]

    The mean of max(0, cos a) over all azimuths a is 1/π, so the beam gives dni sin z / π; the circumsolar part of the
    Hay-Davies sky follows the beam, the rest is half of what the horizontal sees.
    """
    ghi, dni, dhi = irradiance
    beam_ratio = np.where(sun.cos_zenith > 0.0, np.sin(np.radians(sun.zenith_deg)) / np.pi, 0.0)
    beam = np.where(sun.cos_zenith > 0.0, dni, 0.0)
    anisotropy = beam / sun.dni_extra
    circumsolar = anisotropy * beam_ratio / np.maximum(sun.cos_zenith, LEAST_COS_ZENITH)
    wall: Floats = beam * beam_ratio + dhi * ((1.0 - anisotropy) * 0.5 + circumsolar) + 0.5 * albedo * ghi
    return wall


def panel_w(
    irradiance: Floats, temp_c: Floats, wind_m_per_s: Floats, peak_w: float, coefficient_percent_per_k: float
) -> Floats:
    """Direct-current power of a panel before any loss but the cell's own temperature. [W]

    Cell temperature by Faiman (2008), T = T_air + G / (25 + 6.84 v), with v the record's wind; power linear in
    irradiance and in the cell's distance from 25 °C.
    """
    cell_c = temp_c + irradiance / (FAIMAN_U0_W_PER_M2K + FAIMAN_U1_W_PER_M3KS * wind_m_per_s)
    power: Floats = (
        peak_w * irradiance / 1000.0 * (1.0 + coefficient_percent_per_k / 100.0 * (cell_c - STANDARD_TEST_C))
    )
    return np.maximum(power, 0.0)


def planes(weather: HourlyWeather, timeline: Timeline, van: Van) -> dict[str, Floats]:
    """Irradiance on each face of the van, and the solar panels' power, hour by hour.

    Parameters
    ----------
    weather : Record aligned with the timeline, from ``for_tour``.
    timeline : The tour by the hour.
    van : The van with its panels.

    Returns
    -------
    ``roof``, ``floor`` (0), ``front``, ``right``, ``rear``, ``left`` and ``sides`` (mean of left and right) [W/m²],
    and ``panel_w``, before shade, snow, ``kept_share`` and charger [W]. At a stop without a heading, and while moving,
    walls take the mean over every direction. Tilted panels whose azimuth is not given face the equator. The ground
    reflects 0.2, or 0.6 below 0 °C of air (snow, a choice).
    """
    sun = Sun.over(timeline.index, timeline.latitude_deg, timeline.longitude_deg)
    ghi, dni, dhi, temp_c, wind = (
        weather.frame[name].to_numpy(dtype=float) for name in ("ghi", "dni", "dhi", "temp_air", "wind_speed")
    )
    return on_the_van(sun, (ghi, dni, dhi), temp_c, wind, timeline=timeline, van=van)


def on_the_van(
    sun: Sun, irradiance: tuple[Floats, Floats, Floats], temp_c: Floats, wind: Floats, *, timeline: Timeline, van: Van
) -> dict[str, Floats]:
    """What ``planes`` returns, from arrays that may carry leading scenario axes; the hours come last."""
    ghi = irradiance[0]
    albedo = np.where(temp_c < 0.0, SNOW_ALBEDO, ALBEDO)
    given = np.array([np.nan if stop.heading_deg is None else stop.heading_deg for stop in timeline.tour.stops])
    heading = np.where(timeline.at_stop, given[timeline.stop], np.nan)
    known = ~np.isnan(heading)
    mean_wall = on_any_wall(sun, irradiance, albedo=albedo)
    faces = {"roof": ghi, "floor": np.zeros_like(ghi)}
    for face, turn in SIDES.items():
        faces[face] = mean_wall
        if known.any():
            azimuth = (np.where(known, heading, 0.0) + turn) % 360.0
            faces[face] = np.where(
                known, on_plane(sun, irradiance, tilt_deg=90.0, azimuth_deg=azimuth, albedo=albedo), mean_wall
            )
    faces["sides"] = (faces["left"] + faces["right"]) / 2.0
    solar = van.power.solar
    faced = np.where(sun.latitude_deg < 0.0, 0.0, 180.0) if solar.azimuth_deg is None else solar.azimuth_deg
    plane = on_plane(sun, irradiance, tilt_deg=solar.tilt_deg, azimuth_deg=faced, albedo=albedo)
    faces["panel_w"] = panel_w(plane, temp_c, wind, solar.peak_w, solar.temp_coefficient_percent_per_k)
    return faces
