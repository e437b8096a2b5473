"""Winters that might have been: hourly temperature, cloud, wind and humidity that persist and belong together.

Each quantity follows a standard normal process that is the sum of independent first-order autoregressions with fixed
forgetting times from hours to weeks. Its autocovariance is a sum of falling exponentials whose weights a record gives
by non-negative least squares, so that the spread of means over an hour, three days or a month follows in closed form.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy import optimize, signal, special, stats

from budget.weather.air import Floats
from budget.weather.sky import cloud_from_irradiance

SCALES_H = np.array([3.0, 12.0, 48.0, 144.0, 480.0])  # forgetting times (e-folding) of the five parts
LAGS_H = np.array([0, 1, 2, 3, 6, 9, 12, 18, 24, 36, 48, 72, 96, 120, 168, 240])
TEMPERATURE, CLOUD, WIND, HUMIDITY = range(4)
# Without a record. From memory of northern Europe's winters: daily means spread by 5 K, monthly means by 2.5 to 3 K.
USUAL_WEIGHTS = np.array(
    [
        [0.02, 0.08, 0.35, 0.35, 0.20],
        [0.20, 0.30, 0.35, 0.15, 0.00],
        [0.15, 0.35, 0.35, 0.15, 0.00],
        [0.15, 0.30, 0.35, 0.20, 0.00],
    ]
)
# Clear winter nights are cold, wind and cloud come with mild air, cloud with damp air (common practice, no source).
USUAL_TOGETHER = np.array(
    [[1.0, 0.45, 0.25, 0.10], [0.45, 1.0, 0.15, 0.40], [0.25, 0.15, 1.0, -0.15], [0.10, 0.40, -0.15, 1.0]]
)
USUAL_TEMP_SD_K = 5.2
USUAL_SKEW = -0.4  # cold spells lie further from the mean than mild ones
USUAL_WIND_SPREAD = 0.5  # of the logarithm of wind speed; a Rayleigh distribution has 0.64
USUAL_HUMIDITY_SD_PERCENT = 9.0
CLOUD_SHARPNESS = 1.2  # sum of the two exponents of cloud's beta distribution: below 2 clear and overcast prevail
SEASON_SD_K = 2.2  # of a winter's mean about all winters', 1.5 to 3 K in Europe, from memory; for records under 5 years
USUAL_DAYS = 90.0  # a record of so many days counts as much as the usual numbers (choice)
MOST_SKEW = 0.6  # keeps the skewed transform rising out to 5 standard deviations
TABLE = np.linspace(-4.5, 4.5, 181)


@dataclass(frozen=True, eq=False)
class Process:
    """How weather moves about its normal.

    ``weights`` (4, scales): share of variance by forgetting time of temperature, cloud, wind, humidity; ``together``
    (4, 4): correlation of their shocks. ``temp_sd_k`` and ``skew`` of the temperature, ``wind_spread`` of the logarithm
    of wind speed, ``humidity_sd_percent`` of the relative humidity; ``cloud_sharpness`` of cloud's beta distribution.
    """

    weights: Floats
    together: Floats
    temp_sd_k: float
    skew: float
    wind_spread: float
    humidity_sd_percent: float
    cloud_sharpness: float

    def draw(self, first: int, count: int, hours: int, seed: int) -> Floats:
        """Standard normal paths of scenarios first to first + count - 1, shape (count, 4, hours).

        Every scenario has its own counter-based stream, so it is the same whichever others are drawn with it.
        """
        shocks = np.stack([_stream(seed, first + s).standard_normal((len(SCALES_H), 4, hours)) for s in range(count)])
        mix = _root(self.together)
        paths = np.zeros((count, 4, hours))
        for k, scale_h in enumerate(SCALES_H):
            kept = float(np.exp(-1.0 / scale_h))
            for v in range(4):
                shock = np.zeros((count, hours))
                for u in range(v + 1):
                    shock += mix[v, u] * shocks[:, k, u]
                shock[:, 1:] *= np.sqrt(1.0 - kept**2)
                paths[:, v] += np.sqrt(self.weights[v, k]) * signal.lfilter([1.0], [1.0, -kept], shock, axis=-1)
        return paths

    def temperature_k(self, paths: Floats) -> Floats:
        """Departure from the normal temperature, skewed, zero mean. [K]"""
        z = paths[:, TEMPERATURE]
        skewed = z + self.skew / 6.0 * (z**2 - 1.0)
        departure: Floats = self.temp_sd_k * skewed / np.sqrt(1.0 + self.skew**2 / 18.0)
        return departure

    def wind_factor(self, paths: Floats) -> Floats:
        """Wind over its normal: lognormal, mean 1. [–]"""
        factor: Floats = np.exp(self.wind_spread * paths[:, WIND] - self.wind_spread**2 / 2.0)
        return factor

    def cloud(self, paths: Floats, mean: float) -> Floats:
        """Cloud amount with this mean. [0–1]"""
        share = min(max(mean, 0.05), 0.97)
        a, b = share * self.cloud_sharpness, (1.0 - share) * self.cloud_sharpness
        table = np.asarray(stats.beta.ppf(special.ndtr(TABLE), a, b), dtype=float)
        amount: Floats = np.interp(paths[:, CLOUD], TABLE, table)
        return amount

    def mean_sd_k(self, hours: float) -> float:
        """Spread of the mean temperature over so many hours about the normal. [K]

        Of one autoregression with forgetting time T over D: 2 T/D (1 - T/D (1 - exp(-D/T))).
        """
        ratio = SCALES_H / hours
        part = 2.0 * ratio * (1.0 - ratio * (1.0 - np.exp(-1.0 / ratio)))
        return float(self.temp_sd_k * np.sqrt((self.weights[TEMPERATURE] * part).sum()))


USUAL = Process(
    weights=USUAL_WEIGHTS,
    together=USUAL_TOGETHER,
    temp_sd_k=USUAL_TEMP_SD_K,
    skew=USUAL_SKEW,
    wind_spread=USUAL_WIND_SPREAD,
    humidity_sd_percent=USUAL_HUMIDITY_SD_PERCENT,
    cloud_sharpness=CLOUD_SHARPNESS,
)


@dataclass(frozen=True, eq=False)
class Normal:
    """A record's course without its weather, by day and hour of the day: level, daily wave, and the rest's means."""

    level_c: Floats
    wave_c: Floats
    humidity_percent: Floats
    wind_m_per_s: Floats


def normal_of(frame: pd.DataFrame, index: pd.DatetimeIndex) -> Normal:
    """The normal of a record on other hours: a parabola through its days (constant under 60 days), and daily waves.

    Days are counted from the middle of ``index`` in the same season whatever the year; ``frame`` holds that season.
    """
    hour = pd.DatetimeIndex(frame.index).tz_convert(index.tz).hour.to_numpy()
    target = index.hour.to_numpy()
    middle = index[len(index) // 2]
    day, days = _season_day(pd.DatetimeIndex(frame.index), middle), _season_day(index, middle)
    temp_c = frame["temp_air"].to_numpy(dtype=float)
    span = np.unique(np.floor(day)).size
    degree = 2 if span >= 60 else 0
    fit = np.polynomial.Polynomial.fit(day, temp_c, degree)
    level_c = np.asarray(fit(days), dtype=float)
    return Normal(
        level_c=level_c,
        wave_c=_by_hour(temp_c - np.asarray(fit(day)), hour)[target],
        humidity_percent=_by_hour(frame["relative_humidity"].to_numpy(dtype=float), hour)[target],
        wind_m_per_s=np.maximum(_by_hour(frame["wind_speed"].to_numpy(dtype=float), hour)[target], 0.3),
    )


def process_of(frame: pd.DataFrame, clear_ghi: Floats, *, season_sd_k: float, usual: Process | None = USUAL) -> Process:
    """The process that a season of records shows, leaning on the usual one the more the shorter the record is.

    Parameters
    ----------
    frame : One season's hours without gaps, columns of ``HourlyWeather``.
    clear_ghi : Clear-sky global irradiance of the same hours. [W/m²]
    season_sd_k : Spread of a winter's mean that the record cannot show because it holds one winter; 0 when it can. [K]
    usual : What is mixed in, by record days / (days + 90); None: the record alone.
    """
    index = pd.DatetimeIndex(frame.index)
    normal = normal_of(frame, index)
    temp = frame["temp_air"].to_numpy(dtype=float) - normal.level_c - normal.wave_c
    tells = clear_ghi > 50.0
    cloud = cloud_from_irradiance(frame["ghi"].to_numpy(dtype=float), clear_ghi, 0.7)
    wind = np.log(np.maximum(frame["wind_speed"].to_numpy(dtype=float), 0.3))
    humidity = frame["relative_humidity"].to_numpy(dtype=float) - normal.humidity_percent
    scores = np.stack([_standard(temp), _scores(cloud, tells), _standard(wind), _standard(humidity)])
    seen = [np.isfinite(score) for score in scores]
    weights = np.stack(
        [_weights(score, mask, other) for score, mask, other in zip(scores, seen, USUAL_WEIGHTS, strict=True)]
    )
    process = Process(
        weights=weights,
        together=_shocks_together(scores, weights),
        temp_sd_k=float(temp.std()),
        skew=_skew(temp),
        wind_spread=float(np.clip(wind.std(), 0.2, 0.9)),
        humidity_sd_percent=float(humidity.std()),
        cloud_sharpness=_sharpness(cloud[tells]) if tells.any() else CLOUD_SHARPNESS,
    )
    if usual is not None:
        days = len(index) / 24.0
        process = mixed(process, usual, days / (days + USUAL_DAYS))
    return with_season(process, season_sd_k)


def mixed(one: Process, other: Process, share: float) -> Process:
    """A process between two, ``share`` of the first; spreads are mixed as variances."""

    def between(a: float, b: float) -> float:
        return share * a + (1.0 - share) * b

    def spread(a: float, b: float) -> float:
        return float(np.sqrt(between(a**2, b**2)))

    return Process(
        weights=share * one.weights + (1.0 - share) * other.weights,
        together=share * one.together + (1.0 - share) * other.together,
        temp_sd_k=spread(one.temp_sd_k, other.temp_sd_k),
        skew=between(one.skew, other.skew),
        wind_spread=spread(one.wind_spread, other.wind_spread),
        humidity_sd_percent=spread(one.humidity_sd_percent, other.humidity_sd_percent),
        cloud_sharpness=between(one.cloud_sharpness, other.cloud_sharpness),
    )


def with_season(process: Process, season_sd_k: float) -> Process:
    """The process with at least this spread in the part that lasts for weeks. [K]"""
    variance = process.temp_sd_k**2 * process.weights[TEMPERATURE]
    variance[-1] = max(float(variance[-1]), season_sd_k**2)
    weights = process.weights.copy()
    weights[TEMPERATURE] = variance / variance.sum()
    return replace(process, weights=weights, temp_sd_k=float(np.sqrt(variance.sum())))


def _stream(seed: int, scenario: int) -> np.random.Generator:
    return np.random.Generator(np.random.Philox(np.random.SeedSequence(seed, spawn_key=(0, scenario))))


def _root(together: Floats) -> Floats:
    """Lower triangular root of a correlation matrix, taken to the nearest one that can exist."""
    values, vectors = np.linalg.eigh((together + together.T) / 2.0)
    possible = (vectors * np.maximum(values, 1e-6)) @ vectors.T
    scale = np.sqrt(np.diag(possible))
    root: Floats = np.linalg.cholesky(possible / np.outer(scale, scale))
    return root


def _standard(values: Floats) -> Floats:
    standard: Floats = (values - values.mean()) / max(float(values.std()), 1e-9)
    return standard


def _skew(departure_k: Floats) -> float:
    """Skew of the departures from the normal, none where a record's days are all alike."""
    return float(np.clip(stats.skew(departure_k), -MOST_SKEW, MOST_SKEW)) if departure_k.std() > 1e-9 else 0.0


def _scores(values: Floats, tells: np.ndarray) -> Floats:
    """Normal scores of the hours that tell, NaN elsewhere."""
    scores = np.full(len(values), np.nan)
    if tells.any():
        ranks = stats.rankdata(values[tells]) / (tells.sum() + 1.0)
        scores[tells] = _standard(special.ndtri(ranks))
    return scores


def _weights(scores: Floats, seen: np.ndarray, usual: Floats) -> Floats:
    """Shares of variance by forgetting time that reproduce the autocorrelation; the usual ones where nothing moves."""
    values = np.where(seen, scores, 0.0)
    lags, found, trust = [], [], []
    for lag in LAGS_H:
        pairs = int((seen[: len(seen) - lag] & seen[lag:]).sum()) if lag < len(seen) else 0
        if pairs >= 48:
            lags.append(lag)
            found.append(float((values[: len(values) - lag] * values[lag:]).sum() / pairs))
            trust.append(10.0 if lag == 0 else 1.0)
    if len(lags) < len(SCALES_H):
        return usual
    system = np.exp(-np.array(lags)[:, np.newaxis] / SCALES_H)
    held = np.array(trust)
    shares = optimize.nnls(system * held[:, np.newaxis], np.array(found) * held)[0]
    weights: Floats = shares / shares.sum() if shares.sum() > 0.0 else usual
    return weights


def _shocks_together(scores: Floats, weights: Floats) -> Floats:
    """Correlation of shocks that gives the correlation seen: the latter over the overlap of the weights."""
    together = np.eye(4)
    for v in range(4):
        for u in range(v):
            both = np.isfinite(scores[v]) & np.isfinite(scores[u])
            if both.sum() < 48:
                together[v, u] = together[u, v] = USUAL_TOGETHER[v, u]
                continue
            seen = float((scores[v][both] * scores[u][both]).mean())
            overlap = float(np.sqrt(weights[v] * weights[u]).sum())
            together[v, u] = together[u, v] = np.clip(seen / max(overlap, 0.2), -0.9, 0.9)
    return together


def _sharpness(cloud: Floats) -> float:
    """Sum of the beta distribution's exponents from mean and variance."""
    mean, variance = float(cloud.mean()), float(cloud.var())
    return float(np.clip(mean * (1.0 - mean) / max(variance, 1e-6) - 1.0, 0.3, 8.0))


def _season_day(stamps: pd.DatetimeIndex, middle: pd.Timestamp) -> Floats:
    """Days from the middle of the season, the year left aside: -183 to 183."""
    local = stamps.tz_convert(middle.tz)
    day = local.day_of_year.to_numpy() + local.hour.to_numpy() / 24.0 - middle.day_of_year
    wrapped: Floats = (day + 182.625) % 365.25 - 182.625
    return wrapped


def _by_hour(values: Floats, hour: np.ndarray) -> Floats:
    """Mean of each hour of the day; an hour never seen has the mean of all."""
    seen = np.bincount(hour, minlength=24)
    means: Floats = np.where(
        seen > 0, np.bincount(hour, weights=values, minlength=24) / np.maximum(seen, 1), values.mean()
    )
    return means
