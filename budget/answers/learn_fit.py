"""Bayes on a log: the likeliest scores by Gauss-Newton, then adaptive importance sampling around them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import special
from scipy.stats import qmc

from budget.weather.air import Floats

STEP = 0.1  # of a finite difference, in standard deviations of the prior
MOST_ROUNDS = 8
DRAWS = 256  # a round
ROUNDS = 48
ENOUGH_EFFECTIVE = 400.0  # P10 and P90 of a normal posterior are then known to 0.09 of its standard deviation
LEAST_ROUNDS = 2
TAILS = 6.0  # degrees of freedom of the proposal, so that its tails cover the posterior's
SOFTEST = 4.0  # effective draws for each score, below which the weights are softened before a spread is taken from them
KEPT = 512  # draws that the answer is taken from
OUTLIER_FACTOR = 2.0  # of the residuals' mean square over the stated one, from which the log is trusted less


Predict = Callable[[Floats], Floats]


@dataclass(frozen=True, eq=False)
class Fit:
    """The posterior as draws of scores that count alike.

    They were picked from all draws, whose effective sample size 1 / sum(w²) is ``effective``. ``misfit`` is the root
    mean square of residual over standard deviation at the likeliest scores: about 1 or less where the model explains
    the log.
    """

    best: Floats
    scores: Floats
    effective: float
    residual: Floats
    misfit: float
    trust: float


def fit(
    predict: Predict,
    observed: Floats,
    cover: Floats,
    count: int,
    *,
    draws: int = DRAWS,
    enough: float = ENOUGH_EFFECTIVE,
    seed: int = 1,
) -> Fit:
    """Posterior of standard normal scores given readings with normal errors of covariance ``cover``.

    Gauss-Newton on the sum of squares of scores and scaled residuals gives the first proposal, a multivariate t. Each
    round draws from a proposal fitted to all draws before it, and every draw is weighed against the mixture of all
    proposals so far (adaptive multiple importance sampling, Cornuet, Marin, Mira and Robert, Scand. J. Statist. 39,
    2012, 798-812), until ``enough`` draws are effective or the rounds are used up. When the residuals are larger than
    stated, their standard deviation is widened to match, so that a log which the model cannot explain narrows less.
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
    proposals = [_Proposal.of(best, spread)]
    scores, target = np.empty((0, count)), np.empty(0)
    weights, effective = np.empty(0), 0.0
    for turn in range(ROUNDS):
        fresh = proposals[-1].draw(draws, np.random.default_rng([seed, turn]))
        scores = np.concatenate([scores, fresh])
        target = np.append(target, -0.5 * (scaled(fresh) ** 2).sum(axis=1) - 0.5 * (fresh**2).sum(axis=1))
        mixture = special.logsumexp([proposal.log_density(scores) for proposal in proposals], axis=0)
        log_weight = target - mixture
        weights = np.exp(log_weight - log_weight.max())
        weights /= weights.sum()
        effective = float(1.0 / (weights**2).sum())
        if effective >= enough and turn + 1 >= LEAST_ROUNDS:
            break
        softened = _softened(weights, SOFTEST * count)
        middle = softened @ scores
        proposals.append(_Proposal.of(middle, (scores - middle).T * softened @ (scores - middle)))
    order = np.argsort(scores[:, 0])  # neighbours stand for each other
    kept = scores[order][_even(weights[order], KEPT)]
    return Fit(best, kept, effective, observed - predict(best[np.newaxis])[0], misfit, trust)


@dataclass(frozen=True, eq=False)
class _Proposal:
    """A multivariate t with this middle and this matrix as its normal core."""

    middle: Floats
    lower: Floats

    @classmethod
    def of(cls, middle: Floats, spread: Floats) -> _Proposal:
        """With the Cholesky factor of ``spread``, kept from collapsing."""
        count = len(middle)
        return cls(middle, np.linalg.cholesky(spread + 1e-6 * np.trace(spread) / count * np.eye(count)))

    def draw(self, count: int, rng: np.random.Generator) -> Floats:
        """Draws, evenly laid out in the normal core and in the tails' length."""
        cube = qmc.Sobol(d=len(self.middle) + 1, scramble=True, rng=rng).random(count).clip(1e-9, 1.0 - 1e-9)
        length = np.sqrt(TAILS / (2.0 * special.gammaincinv(TAILS / 2.0, cube[:, -1])))
        found: Floats = self.middle + length[:, np.newaxis] * special.ndtri(cube[:, :-1]) @ self.lower.T
        return found

    def log_density(self, scores: Floats) -> Floats:
        """Up to a constant that all proposals share."""
        white = np.linalg.solve(self.lower, (scores - self.middle).T)
        found: Floats = -0.5 * (TAILS + len(self.middle)) * np.log1p((white**2).sum(axis=0) / TAILS)
        return found - float(np.log(np.diag(self.lower)).sum())


def _softened(weights: Floats, least: float) -> Floats:
    """Weights raised to a power below 1 until so many draws count, so that a spread can be taken from them."""
    least = min(least, 0.5 * len(weights))
    while 1.0 / (weights**2).sum() < least:
        weights = weights**0.7
        weights /= weights.sum()
    return weights


def _even(weights: Floats, count: int) -> np.ndarray:
    """Which draws stand for the posterior with even weights: systematic resampling (Kitagawa 1996)."""
    at = (np.arange(count) + 0.5) / count
    picked: np.ndarray = np.searchsorted(np.cumsum(weights), at).clip(0, len(weights) - 1)
    return picked


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
