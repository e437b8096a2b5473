"""Weather without a file: a place's monthly climate laid on hours by the sun of a clear sky."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from budget.tour.climate import Climate
from budget.weather.air import (
    Floats,
    dew_point_c,
    humidity_percent,
    saturation_pressure_pa,
    standard_pressure_pa,
)
from budget.weather.complete import humidity_from_lowest_percent
from budget.weather.estimate import (
    ISLANDS_K,
    LAPLAND_K,
    MEAN_BAND_K,
    RARE_SPELL_K,
    SPELL_K,
    WHERE,
    WIND_M_PER_S,
    estimate_holds,
    estimated_climate,
)
from budget.weather.months import through_the_year
from budget.weather.record import HourlyWeather
from budget.weather.sky import mean_through_cloud, sky_temperature_c
from budget.weather.sun import Sun, clear_sky

Ints = npt.NDArray[np.int64]

LAG_H = 4.0  # first-order lag of air behind sun; puts the peak two to three hours after noon
LEAD_H = 48  # hours before the first, so that the lag has forgotten its start
STRONG_WAVE_W_PER_M2 = 30.0  # daily spread of the lagged sun above which it alone shapes the day
PEAK_SOLAR_H = 14.0  # where the day's peak is put when there is no sun to tell
WIND_SWING_SHARE = 0.3  # wind rises and falls by half of this share of its mean with the day's warmth (choice)

MEANS_ESTIMATED = "monthly mean temperatures are estimated"


def clear_sky_weather(
    index: pd.DatetimeIndex,
    *,
    latitude_deg: float,
    longitude_deg: float,
    altitude_m: float,
    climate: Climate | None = None,
    place: str = "clear-sky weather",
) -> HourlyWeather:
    """Hourly weather of a place's mean year.

    Parameters
    ----------
    index : Start of each hour, time zone aware.
    latitude_deg, longitude_deg : Place. [°]
    altitude_m : Altitude, at which the climate's means hold. [m]
    climate : Monthly means; what is left out is estimated, with a notice that says where the estimate is no more than
        a guess.
    place : Name for notices.

    Returns
    -------
    A record in which every whole month's mean temperature is exactly the given one, and every day's range is the
    month's. The mean runs smoothly through the year; the daily wave is the clear-sky irradiance behind a lag of 4 h,
    and where the sun does not rise (or does not move) a cosine that peaks at 14 h solar time. There is no weather in
    it: no spell is colder or milder than the mean.
    """
    given = climate or Climate()
    estimate = estimated_climate(latitude_deg, altitude_m)
    means, ranges, clouds = (
        given.mean_c or estimate[0],
        given.daily_range_k or estimate[1],
        given.cloud_share or estimate[2],
    )
    notices = _notices(given, place, holds=estimate_holds(latitude_deg, longitude_deg))
    days = _whole_days(index)
    sun = Sun.over(days, latitude_deg, longitude_deg)
    clear_ghi, clear_dni, clear_dhi = clear_sky(sun, altitude_m)
    day_number = _day_number(days)
    wave = daily_wave(clear_ghi, sun.solar_h, day_number)
    range_k = _of_day(np.maximum(through_the_year(ranges, days), 0.0), day_number)
    temp_c = through_the_year(means, days) + range_k * wave
    cloud = np.clip(through_the_year(clouds, days), 0.0, 1.0)
    ghi, dni, dhi = mean_through_cloud(clear_dni, clear_dhi, sun.cos_zenith, cloud)
    wind = given.wind_m_per_s if given.wind_m_per_s is not None else WIND_M_PER_S
    pressure_pa = np.full(len(days), float(standard_pressure_pa(np.array(altitude_m))))
    humidity = _humidity_percent(temp_c, days, day_number, given.humidity_percent)
    dew_c = dew_point_c(humidity / 100.0 * saturation_pressure_pa(temp_c))
    frame = pd.DataFrame(
        {
            "temp_air": temp_c,
            "relative_humidity": humidity,
            "wind_speed": wind * (1.0 + WIND_SWING_SHARE * wave),
            "pressure": pressure_pa,
            "ghi": ghi,
            "dni": dni,
            "dhi": dhi,
            "temp_sky": sky_temperature_c(temp_c, dew_c, pressure_pa, cloud, sun.solar_h),
        },
        index=days,
    )
    return HourlyWeather(
        frame=frame.loc[index],
        notices=notices,
        source=place,
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        altitude_m=altitude_m,
    )


def daily_wave(clear_ghi: Floats, solar_h: Floats, day_number: Ints) -> Floats:
    """The day's wave: zero mean and a spread of 1 over every civil day, whatever its number of hours. [–]"""
    decay = np.exp(-np.arange(LEAD_H + 1) / LAG_H)
    lagged = np.convolve(clear_ghi, decay / decay.sum())[: len(clear_ghi)]
    spread = _spread_of_day(lagged, day_number)
    of_sun = np.divide(lagged - _of_day(lagged, day_number), spread, out=np.zeros_like(lagged), where=spread > 0.0)
    of_clock = np.cos(2.0 * np.pi * (solar_h - PEAK_SOLAR_H) / 24.0) / 2.0
    strength = np.clip(spread / STRONG_WAVE_W_PER_M2, 0.0, 1.0)
    mixed = strength * of_sun + (1.0 - strength) * of_clock
    mixed = mixed - _of_day(mixed, day_number)
    wave: Floats = mixed / np.maximum(_spread_of_day(mixed, day_number), 1e-9)
    return wave


def _whole_days(index: pd.DatetimeIndex) -> pd.DatetimeIndex:
    """The hours of ``index``, all other hours of its local days, and two whole days before them for the lag."""
    hours = pd.date_range(index[0] - pd.Timedelta(hours=LEAD_H + 26), index[-1] + pd.Timedelta(hours=25), freq="h")
    day = _day_number(hours)
    return hours[(day > day[0]) & (day < day[-1])]


def _day_number(hours: pd.DatetimeIndex) -> Ints:
    """Days since 1970 of each hour's local date."""
    number: Ints = hours.tz_localize(None).to_numpy().astype("datetime64[D]").astype(np.int64)
    return number


def _of_day(values: Floats, day_number: Ints) -> Floats:
    """Each hour's value replaced by the mean over its day."""
    position = np.unique(day_number, return_inverse=True)[1]
    means: Floats = (np.bincount(position, weights=values) / np.bincount(position))[position]
    return means


def _spread_of_day(values: Floats, day_number: Ints) -> Floats:
    starts = np.flatnonzero(np.diff(day_number, prepend=day_number[0] - 1))
    spread = np.maximum.reduceat(values, starts) - np.minimum.reduceat(values, starts)
    spreads: Floats = np.repeat(spread, np.diff(np.append(starts, len(values))))
    return spreads


def _humidity_percent(temp_c: Floats, days: pd.DatetimeIndex, day_number: Ints, mean_percent: float | None) -> Floats:
    """Humidity with one vapour pressure a day: for the given mean, or a dew point at the day's lowest temperature."""
    if mean_percent is None:
        return humidity_from_lowest_percent(temp_c, days)
    inverse = _of_day(1.0 / saturation_pressure_pa(temp_c), day_number)
    return humidity_percent(temp_c, mean_percent / 100.0 / inverse)


def _notices(given: Climate, place: str, *, holds: bool) -> tuple[str, ...]:
    notices = []
    if given.mean_c is None and not holds:
        notices.append(
            f"{place}: {MEANS_ESTIMATED} from latitude, altitude and season, which is sound only {WHERE}; here it is "
            "no more than a guess, and inland a January may be 15 to 30 K colder. A tour here needs "
            "weather.climate.mean_c or a weather file."
        )
    elif given.mean_c is None:
        notices.append(
            f"{place}: {MEANS_ESTIMATED} from latitude, altitude and season, "
            f"± {MEAN_BAND_K:g} K (in winter inland Lapland is up to {LAPLAND_K:g} K colder, an Atlantic island up to "
            f"{ISLANDS_K:g} K milder), and no cold spell is in them: the coldest "
            f"three days of a winter month are usually {SPELL_K:g} K colder, in one winter of ten {RARE_SPELL_K:g} K "
            f"(northern Europe, from memory). Try --set weather.offset_k=-{SPELL_K:g}, see the odds, and give "
            "weather.climate.mean_c to narrow the means."
        )
    rest = [
        words
        for value, words in (
            (given.daily_range_k, "daily range (± 3 K)"),
            (given.cloud_share, "cloudiness (± 0.2)"),
            (given.wind_m_per_s, f"wind ({WIND_M_PER_S:g} m/s, 2 to 7)"),
            (given.humidity_percent, "humidity (dew point at the day's lowest temperature)"),
        )
        if value is None
    ]
    if rest:
        notices.append(f"{place}: estimated, for want of figures: {', '.join(rest)}.")
    return tuple(notices)
