"""Bayes on a log: a quadratic stand-in for the engine, walked by Markov chains, and corrected by the engine itself."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from budget.answers.measured.narrowing import effective, even_out
from budget.weather.air import Floats

STEP = 0.1  # of a finite difference, in standard deviations of the prior
MOST_ROUNDS = 8
DRAWS = 768  # a round
ROUNDS = 6
ENOUGH_EFFECTIVE = 400.0  # P10 and P90 of a normal posterior are then known to 0.09 of its standard deviation
WALKERS = 256
FIRST_STEPS, STEPS = 300, 900  # of the walkers: before and after the stand-in was fitted to draws of its own
APART = 200  # steps between the places of a walker that are kept
OUTLIER_FACTOR = 2.0  # of the residuals' mean square over the stated one, from which the log is trusted less


Predict = Callable[[Floats], Floats]
Blocks = Sequence[tuple[slice, np.ndarray]]


@dataclass(frozen=True, eq=False)
class Fit:
    """The posterior as draws of scores that count alike.

    They were picked from draws whose effective sample size 1 / sum(w²) is ``effective``. ``misfit`` is the root mean
    square of residual over standard deviation at the likeliest scores: about 1 or less where the model explains the
    log.
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
    smooth: Predict | None = None,
    blocks: Blocks | None = None,
    seed: int = 1,
) -> Fit:
    """Posterior of standard normal scores given readings with normal errors of covariance ``cover``.

    A log knows some sums and products of factors to a few hundredths and their parts hardly at all: the posterior is a
    thin, curved sheet, which draws about its middle miss while their weights look even. So the engine's readings are
    stood in for by a quadratic of ``smooth(scores)``, on which walkers explore the sheet at no cost; the engine's
    likelihood over the stand-in's then weighs their places, and the stand-in is fitted anew to them until ENOUGH are
    effective. Walkers move by the difference of two others (ter Braak, Stat. Comput. 16, 2006, 239-249). When the
    residuals are larger than stated, their standard deviation is widened to match, so that a log which the model
    cannot explain narrows less.

    ``blocks``: readings that depend on some of the scores only, as those of one night do. Each block has a quadratic of
    its own, so its errors must not be correlated with those of another.
    """
    whiten = np.linalg.inv(np.linalg.cholesky(cover))
    straight: Predict = smooth or (lambda scores: scores)

    def scaled(scores: Floats) -> Floats:
        found: Floats = (observed - predict(scores)) @ whiten.T
        return found

    best, spread = likeliest(scaled, np.zeros(count))
    misfit = float(np.sqrt(np.mean(scaled(best[np.newaxis]) ** 2)))
    trust = misfit if misfit**2 > OUTLIER_FACTOR else 1.0
    if trust > 1.0:
        whiten = whiten / trust
        best, spread = likeliest(scaled, np.zeros(count))
    rng = np.random.default_rng(seed)
    scores = best + rng.standard_normal((DRAWS, count)) @ np.linalg.cholesky(spread).T
    off = scaled(scores)
    weights = np.empty(0)
    for turn in range(ROUNDS):
        middle = straight(best[np.newaxis])
        at = straight(scores) - middle
        parts = [
            (of, np.asarray(np.linalg.lstsq(_quadratic(at[:, of]), off[:, rows], rcond=None)[0]))
            for rows, of in blocks or ((slice(None), np.arange(count)),)
        ]
        stand_in = partial(_by_stand_in, straight, middle, parts)
        scores = _walked(stand_in, scores, FIRST_STEPS if turn == 0 else STEPS, rng)
        off = scaled(scores)
        weights = even_out(-0.5 * (off**2).sum(axis=1) + 0.5 * (stand_in(scores) ** 2).sum(axis=1))
        if turn > 0 and effective(weights) >= ENOUGH_EFFECTIVE:
            break
    order = np.argsort(scores[:, 0])  # neighbours stand for each other
    kept = scores[order][_even(weights[order], DRAWS)]
    return Fit(best, kept, effective(weights), observed - predict(best[np.newaxis])[0], misfit, trust)


def _by_stand_in(straight: Predict, middle: Floats, parts: list[tuple[np.ndarray, Floats]], scores: Floats) -> Floats:
    at = straight(scores) - middle
    return np.concatenate([_quadratic(at[:, of]) @ coefficients for of, coefficients in parts], axis=1)


def _quadratic(x: Floats) -> Floats:
    """One, each variable, and every product of two, as columns."""
    first, second = np.triu_indices(x.shape[1])
    return np.concatenate([np.ones((len(x), 1)), x, x[:, first] * x[:, second]], axis=1)


def _walked(stand_in: Predict, start: Floats, steps: int, rng: np.random.Generator) -> Floats:
    """DRAWS places of walkers on the stand-in's posterior, from places ``start``."""

    def log_posterior(z: Floats) -> Floats:
        found: Floats = -0.5 * (stand_in(z) ** 2).sum(axis=1) - 0.5 * (z**2).sum(axis=1)
        return found

    count, half = start.shape[1], WALKERS // 2
    at = start[rng.permutation(len(start))[:WALKERS]].copy()
    level = log_posterior(at)
    usual = 2.38 / np.sqrt(2.0 * count)
    kept = []
    for step in range(steps):
        reach = 0.98 if step % 10 == 9 else usual  # now and then as far as another walker
        for mine, others in ((slice(0, half), slice(half, None)), (slice(half, None), slice(0, half))):
            pool = at[others]
            a, b = rng.integers(half, size=half), rng.integers(half - 1, size=half)
            b = b + (b >= a)
            tried = at[mine] + reach * (pool[a] - pool[b]) + 1e-3 * rng.standard_normal((half, count))
            reached = log_posterior(tried)
            taken = np.log(rng.random(half)) < reached - level[mine]
            at[mine] = np.where(taken[:, np.newaxis], tried, at[mine])
            level[mine] = np.where(taken, reached, level[mine])
        if (steps - 1 - step) % (APART if steps > FIRST_STEPS else FIRST_STEPS // 6) == 0:
            kept.append(at.copy())
    return np.concatenate(kept[-(DRAWS // WALKERS) :])


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


def likeliest(scaled: Predict, start: Floats) -> tuple[Floats, Floats]:
    """The likeliest scores by Gauss and Newton from ``start``, and their Gaussian covariance there."""
    at: Floats = start.copy()
    for _ in range(MOST_ROUNDS):
        residual, slope = jacobian(scaled, at)
        step: Floats = narrowed(slope) @ (-slope.T @ residual - at)
        step = step * min(1.0, 1.5 / max(np.abs(step).max(), 1e-12))
        at += step
        if np.abs(step).max() < 0.02:
            break
    return at, narrowed(jacobian(scaled, at)[1])
