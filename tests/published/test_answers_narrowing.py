"""Importance sampling over drawn worlds finds the conjugate normal posterior, whose closed form is published."""

from __future__ import annotations

import numpy as np
import pytest

from budget.answers.measured.narrowing import effective, narrow

SCORES, READINGS = 4, 3
RNG = np.random.default_rng(12)
OF_SCORES, OF_WEATHER = RNG.normal(size=(READINGS, SCORES)), 0.8 * RNG.normal(size=READINGS)
SPREAD = np.array([0.05, 0.1, 0.05])


class Linear:
    """Readings that are linear in standard normal scores and one standard normal weather."""

    def __init__(self, observed: np.ndarray, seed: int) -> None:
        self.observed, self.seed, self.runs = observed, seed, 0

    def features(self, first: int, count: int) -> np.ndarray:
        whole = np.random.default_rng([77, self.seed]).standard_normal((first + count, 1))
        return whole[first:]

    def run(self, scores: np.ndarray, first: int) -> tuple[np.ndarray, np.ndarray]:
        self.runs += len(scores)
        predicted = scores @ OF_SCORES.T + self.features(first, len(scores)) * OF_WEATHER
        return predicted, -0.5 * ((self.observed - predicted) / SPREAD) ** 2 - np.log(SPREAD)


def closed_form(observed: np.ndarray, readings: int) -> tuple[np.ndarray, np.ndarray]:
    """Mean and covariance of scores and weather: (I + AᵀR⁻¹A)⁻¹, times AᵀR⁻¹y (Bishop, Pattern Recognition and Machine
    Learning, 2006, equations 2.116 and 2.117, with a standard normal prior).
    """
    design = np.column_stack([OF_SCORES, OF_WEATHER])[:readings]
    precision = np.diag(1.0 / SPREAD[:readings] ** 2)
    cover = np.linalg.inv(np.eye(SCORES + 1) + design.T @ precision @ design)
    return cover @ design.T @ precision @ observed[:readings], cover


@pytest.mark.parametrize("far", [0.0, 1.0, 2.0])
@pytest.mark.parametrize("readings", [1, 3])
def test_a_linear_world_gives_the_closed_form(far: float, readings: int) -> None:
    """Readings up to 2 standard deviations off: mean within 4 standard errors of 200 effective draws, spreads within
    20 % (their own standard error is 5 %, and weights are uneven). Of plain draws from the prior hardly one in
    a thousand would fit three readings.
    """
    observed = far * np.sqrt((OF_SCORES**2).sum(axis=1) + OF_WEATHER**2) * np.array([1.0, -0.5, 0.7])
    world = Linear(observed, seed=3)
    first = np.random.default_rng(5).standard_normal((400, SCORES))
    found = narrow(world, first, observed[:readings], SPREAD[:readings], least=200.0, more=400, seed=9)
    weights = found.weights(readings)
    mean, cover = closed_form(observed, readings)
    both = np.column_stack([found.scores, found.features])
    spread = np.sqrt(np.diag(cover))
    counted = effective(weights)
    assert counted >= 200.0
    assert np.abs(weights @ both - mean).max() < 4.0 * spread.max() / np.sqrt(200.0)
    drawn = np.sqrt(weights @ (both - weights @ both) ** 2)
    assert drawn == pytest.approx(spread, rel=0.2)


def test_no_reading_leaves_the_prior_as_it_was_drawn() -> None:
    world = Linear(np.zeros(3), seed=1)
    first = np.random.default_rng(5).standard_normal((50, SCORES))
    found = narrow(world, first, np.zeros(0), np.zeros(0), least=200.0, more=50, seed=9)
    assert world.runs == 50
    assert effective(found.weights(0)) == pytest.approx(50.0)
