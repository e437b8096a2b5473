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
ROUNDS = 6
ENOUGH_SHARE = 0.4  # effective share of the draws at which no further round is needed
OUTLIER_FACTOR = 2.0  # of the residuals' mean square over the stated one, from which the log is trusted less


Predict = Callable[[Floats], Floats]


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


def fit(predict: Predict, observed: Floats, cover: Floats, count: int, *, draws: int = DRAWS, seed: int = 1) -> Fit:
    """Posterior of standard normal scores given readings with normal errors of covariance ``cover``.

    Gauss-Newton on the sum of squares of scores and scaled residuals; the importance draws correct what its Gaussian
    neglects, in rounds that each draw around what the round before found. When the residuals are larger than stated,
    their standard deviation is widened to match, so that a log which the model cannot explain narrows less.
    """
    whiten = np.linalg.inv(np.linalg.cholesky(cover))

    def scaled(scores: Floats) -> Floats:
        found: Floats = (observed - predict(scores)) @ whiten.T
        return found

    best, spread = _likeliest(scaled, count)
    misfit = float(np.sqrt(np.mean(scaled(best[np.newaxis]) ** 2)))
    trust = misfit if misfit**2 > OUTLIER_FACTOR else 1.0
    if trust > 1.0:
        whiten = whiten / trust
        best, spread = _likeliest(scaled, count)
    middle = best
    for turn in range(ROUNDS):
        sobol = qmc.Sobol(d=count, scramble=True, rng=np.random.default_rng([seed, turn])).random(draws)
        standard = special.ndtri(np.clip(sobol, 1e-6, 1.0 - 1e-6)) * WIDER
        scores = middle + standard @ np.linalg.cholesky(spread).T
        log_weight = -0.5 * (scaled(scores) ** 2).sum(axis=1) - 0.5 * (scores**2).sum(axis=1)
        log_weight += 0.5 * ((standard / WIDER) ** 2).sum(axis=1)
        weights = np.exp(log_weight - log_weight.max())
        weights /= weights.sum()
        effective = float(1.0 / (weights**2).sum())
        if effective >= ENOUGH_SHARE * draws or turn == ROUNDS - 1:
            break
        softened = weights
        while 1.0 / (softened**2).sum() < 6.0 * count and softened.max() > 2.0 / draws:
            softened = np.sqrt(softened)
            softened /= softened.sum()
        middle = softened @ scores
        spread = (scores - middle).T * softened @ (scores - middle)
    return Fit(best, scores, weights, effective, observed - predict(best[np.newaxis])[0], misfit, trust)


def jacobian(predict: Predict, at: Floats) -> tuple[Floats, Floats]:
    """Prediction at a point and its derivatives (readings, scores), by central differences in one batch."""
    count = len(at)
    around = np.concatenate([at[np.newaxis], at + STEP * np.eye(count), at - STEP * np.eye(count)])
    found = predict(around)
    slope: Floats = (found[1 : count + 1] - found[count + 1 :]).T / (2.0 * STEP)
    return found[0], slope


def narrowed(slope: Floats) -> Floats:
    """Gaussian posterior covariance of scores with a standard normal prior; derivatives of scaled readings."""
    found: Floats = np.asarray(np.linalg.inv(slope.T @ slope + np.eye(slope.shape[1])), dtype=np.float64)
    return found


def _likeliest(scaled: Predict, count: int) -> tuple[Floats, Floats]:
    at: Floats = np.zeros(count)
    for _ in range(MOST_ROUNDS):
        residual, slope = jacobian(scaled, at)
        step: Floats = narrowed(slope) @ (-slope.T @ residual - at)
        step = step * min(1.0, 1.5 / max(np.abs(step).max(), 1e-12))
        at += step
        if np.abs(step).max() < 0.02:
            break
    return at, narrowed(jacobian(scaled, at)[1])


def quantile(values: Floats, weights: Floats, level: float) -> float:
    """Quantile of a weighted sample: linear between the middles of the weights' steps."""
    order = np.argsort(values)
    sorted_weights = weights[order] / weights.sum()
    return float(np.interp(level, np.cumsum(sorted_weights) - 0.5 * sorted_weights, values[order]))
