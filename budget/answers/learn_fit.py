"""Bayes on a log: the likeliest scores by Gauss-Newton, then importance sampling around them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import special
from scipy.stats import qmc

from budget.weather.air import Floats

STEP = 0.1  # of a finite difference, in standard deviations of the prior
MOST_ROUNDS = 8
DRAWS = 256
WIDER = 1.2  # the proposal's spread against the Gaussian's, so that its tails cover the posterior's
OUTLIER_FACTOR = 2.0  # of the residuals' mean square over the stated one, from which the log is trusted less


@dataclass(frozen=True, eq=False)
class Fit:
    """The posterior as weighted draws of scores.

    ``effective`` is the effective sample size 1 / sum(w²); ``misfit`` the root mean square of residual over standard
    deviation at the likeliest scores: about 1 or less where the model explains the log.
    """

    best: Floats
    scores: Floats
    weights: Floats
    effective: float
    residual: Floats
    misfit: float
    trust: float


def fit(
    predict: Callable[[Floats], Floats],
    observed: Floats,
    spread: Floats,
    count: int,
    *,
    draws: int = DRAWS,
    seed: int = 1,
) -> Fit:
    """Posterior of standard normal scores given readings with independent normal errors.

    Gauss-Newton on the sum of squares of scores and scaled residuals; the importance draws correct what its Gaussian
    neglects. When the residuals are larger than stated, their standard deviation is widened to match, so that a log
    which the model cannot explain narrows less.
    """
    best, cover, residual = _likeliest(predict, observed, spread, count)
    misfit = float(np.sqrt(np.mean((residual / spread) ** 2)))
    trust = max(1.0, misfit / np.sqrt(OUTLIER_FACTOR)) if misfit**2 > OUTLIER_FACTOR else 1.0
    if trust > 1.0:
        best, cover, residual = _likeliest(predict, observed, spread * trust, count)
    sobol = qmc.Sobol(d=count, scramble=True, rng=np.random.default_rng(seed)).random(draws)
    standard = special.ndtri(np.clip(sobol, 1e-6, 1.0 - 1e-6)) * WIDER
    scores = best + standard @ np.linalg.cholesky(cover).T
    scaled = (observed - predict(scores)) / (spread * trust)
    log_weight = -0.5 * (scaled**2).sum(axis=1) - 0.5 * (scores**2).sum(axis=1)
    log_weight += 0.5 * ((standard / WIDER) ** 2).sum(axis=1)
    weights = np.exp(log_weight - log_weight.max())
    weights /= weights.sum()
    return Fit(best, scores, weights, float(1.0 / (weights**2).sum()), residual, misfit, trust)


def jacobian(predict: Callable[[Floats], Floats], at: Floats) -> tuple[Floats, Floats]:
    """Prediction at a point and its derivatives (readings, scores), by central differences in one batch."""
    count = len(at)
    around = np.concatenate([at[np.newaxis], at + STEP * np.eye(count), at - STEP * np.eye(count)])
    found = predict(around)
    slope = (found[1 : count + 1] - found[count + 1 :]).T / (2.0 * STEP)
    return found[0], slope


def covariance(slope: Floats, spread: Floats) -> Floats:
    """Gaussian posterior covariance of scores with a standard normal prior."""
    scaled = slope / spread[:, np.newaxis]
    found: Floats = np.linalg.inv(scaled.T @ scaled + np.eye(slope.shape[1]))
    return found


def _likeliest(
    predict: Callable[[Floats], Floats], observed: Floats, spread: Floats, count: int
) -> tuple[Floats, Floats, Floats]:
    at = np.zeros(count)
    cover, residual = np.eye(count), np.zeros(len(observed))
    for _ in range(MOST_ROUNDS):
        found, slope = jacobian(predict, at)
        residual = observed - found
        cover = covariance(slope, spread)
        step = cover @ (slope.T @ (residual / spread**2) - at)
        step *= min(1.0, 1.5 / max(np.abs(step).max(), 1e-12))
        at = at + step
        if np.abs(step).max() < 0.02:
            break
    found, slope = jacobian(predict, at)
    return at, covariance(slope, spread), observed - found


def quantile(values: Floats, weights: Floats, level: float) -> float:
    """Quantile of a weighted sample: linear between the middles of the weights' steps."""
    order = np.argsort(values)
    sorted_weights = weights[order] / weights.sum()
    return float(np.interp(level, np.cumsum(sorted_weights) - 0.5 * sorted_weights, values[order]))
