"""Drawn worlds narrowed by readings: Bayes by importance sampling whose proposal learns from what it has drawn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from scipy import special

from budget.weather.air import Floats

WIDER = 1.15  # the proposal's spread against that of the linear fit, so that its tails cover the posterior's
PRIOR_SHARE = 0.2  # of a proposal that is the prior itself, so that no weight is far above the others
EARLY_ROUNDS, LAST_ROUNDS = 2, 8  # for each reading that others follow, and for the last one
ROWS_A_COLUMN = 4.0  # effective rows for each column of the linear fit, below which its weights are softened


class World(Protocol):
    """What is drawn: scores that a proposal may choose, and surroundings (``features``) that chance alone chooses."""

    def features(self, first: int, count: int) -> Floats:
        """What can be known of the surroundings of draws first to first + count - 1 before they are run."""

    def run(self, scores: Floats, first: int) -> tuple[Floats, Floats]:
        """Each reading as these draws would have had it, and its log-likelihood: both (draws, readings)."""


@dataclass(frozen=True, eq=False)
class Narrowed:
    """All draws. ``log_prior``: logarithm of prior over the density that they were drawn from; ``predicted``: each
    reading as they would have had it.
    """

    scores: Floats
    features: Floats
    predicted: Floats
    log_prior: Floats
    log_likelihood: Floats

    def weights(self, readings: int) -> Floats:
        """After the first so many readings."""
        return even_out(self.log_prior + self.log_likelihood[:, :readings].sum(axis=1))


def even_out(log_weight: Floats) -> Floats:
    """Weights that sum to 1."""
    above = np.exp(log_weight - log_weight.max())
    found: Floats = above / above.sum()
    return found


def softened(log_weight: Floats, least: float) -> Floats:
    """Weights raised to a power up to 1 at which so many draws count (or half of them), to take a spread from."""
    power = 1.0
    while effective(even_out(power * log_weight)) < min(least, 0.5 * len(log_weight)) and power > 1e-9:
        power *= 0.7
    return even_out(power * log_weight)


def effective(weights: Floats) -> float:
    """Effective sample size 1 / sum(w²) of weights that sum to 1."""
    return float(1.0 / (weights**2).sum())


def narrow(
    world: World, first: Floats, observed: Floats, spread: Floats, *, least: float, more: int, seed: int
) -> Narrowed:
    """Draw until ``least`` draws are effective after each of the readings, or its rounds are used up.

    ``first`` are standard normal scores, (draws, scores); each round adds ``more``. It fits the readings up to one as a
    linear function of scores and features to the draws so far, and draws scores from the Gaussian posterior of that fit
    given each new draw's own surroundings, mixed with the prior. Every draw counts with its likelihood times the prior
    over the mixture of all proposals (adaptive multiple importance sampling, Cornuet, Marin, Mira and Robert, Scand. J.
    Statist. 39, 2012, 798-812), so that what the linear fit neglects costs effective draws, not truth.
    """
    scores, features = first, world.features(0, len(first))
    predicted, log_likelihood = world.run(first, 0)
    found = Narrowed(scores, features, predicted, np.zeros(len(scores)), log_likelihood)
    proposals: list[_Proposal] = []
    counts = [len(first)]
    for upto in range(1, len(observed) + 1):
        for turn in range(LAST_ROUNDS if upto == len(observed) else EARLY_ROUNDS):
            if effective(found.weights(upto)) >= least:
                break
            log_weight = found.log_prior + log_likelihood[:, :upto].sum(axis=1)
            near = softened(log_weight, ROWS_A_COLUMN * (1 + features.shape[1] + scores.shape[1]))
            proposal = _Proposal.fitted(scores, features, predicted[:, :upto], near, observed[:upto], spread[:upto])
            proposals.append(proposal)
            counts.append(more)
            fresh_features = world.features(len(scores), more)
            fresh = proposal.draw(fresh_features, np.random.default_rng([seed, upto, turn]))
            ran = world.run(fresh, len(scores))
            scores, features = np.concatenate([scores, fresh]), np.concatenate([features, fresh_features])
            predicted = np.concatenate([predicted, ran[0]])
            log_likelihood = np.concatenate([log_likelihood, ran[1]])
            prior = -0.5 * (scores**2).sum(axis=1)
            parts = [prior, *(earlier.log_density(scores, features) for earlier in proposals)]
            shares = np.log(np.array(counts) / len(scores))
            mixture = special.logsumexp(np.array(parts) + shares[:, np.newaxis], axis=0)
            found = Narrowed(scores, features, predicted, prior - mixture, log_likelihood)
    return found


@dataclass(frozen=True, eq=False)
class _Proposal:
    """Gaussian scores about ``middle + by_feature · features`` with Cholesky factor ``lower``, mixed with the prior."""

    middle: Floats
    by_feature: Floats
    lower: Floats

    @classmethod
    def fitted(
        cls, scores: Floats, features: Floats, predicted: Floats, near: Floats, observed: Floats, spread: Floats
    ) -> _Proposal:
        """The posterior of a linear fit to the draws so far, by weights that favour those ``near`` the readings."""
        count = scores.shape[1]
        design = np.column_stack([np.ones(len(scores)), features, scores])
        root = np.sqrt(near)[:, np.newaxis]
        slope = np.linalg.lstsq(design * root, predicted * root, rcond=None)[0]
        off = predicted - design @ slope
        noise = np.diag(spread**2) + (off.T * near) @ off
        of_scores, rest = slope[-count:].T, slope[:-count]
        gain = np.linalg.solve(noise, of_scores).T
        cover = np.linalg.inv(np.eye(count) + gain @ of_scores)
        answer = cover @ gain
        return cls(answer @ (observed - rest[0]), -answer @ rest[1:].T, WIDER * np.linalg.cholesky(cover))

    def draw(self, features: Floats, rng: np.random.Generator) -> Floats:
        """Scores for draws with these features."""
        standard = rng.standard_normal((len(features), len(self.middle)))
        chosen: Floats = self.middle + features @ self.by_feature.T + standard @ self.lower.T
        is_prior = rng.random(len(features)) < PRIOR_SHARE
        return np.where(is_prior[:, np.newaxis], standard, chosen)

    def log_density(self, scores: Floats, features: Floats) -> Floats:
        """Up to the constant that the standard normal prior shares."""
        white = np.linalg.solve(self.lower, (scores - self.middle - features @ self.by_feature.T).T)
        chosen = -0.5 * (white**2).sum(axis=0) - float(np.log(np.diag(self.lower)).sum())
        prior = -0.5 * (scores**2).sum(axis=1)
        found: Floats = np.logaddexp(chosen + np.log(1.0 - PRIOR_SHARE), prior + np.log(PRIOR_SHARE))
        return found
