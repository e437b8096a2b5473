"""Whether a sensor drifted in a logged night: the night fitted once more with a steady drift."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from budget.answers.learn_fit import OUTLIER_FACTOR, likeliest
from budget.answers.learn_forward import Forward
from budget.answers.logged_night import Night
from budget.weather.air import Floats

DRIFT_K_PER_H = 0.3  # how far a cheap logger may drift, standard deviation; a choice
MARCHED_K_PER_H = 0.5  # the drift is marched at 0 and at this much either way, and interpolated
RARE = 0.05  # chance of such a drift in a night without any, below which it is said
CLEARER = 4.0  # of the gain, from which one sensor is told from the other


@dataclass(frozen=True)
class Drift:
    """The drift of a sensor that fits a night best, with its standard error. [K/h]

    ``gain`` is what it takes off the sum of squares of readings and priors together.
    """

    k_per_h: float
    error_k_per_h: float
    gain: float

    @property
    def chance(self) -> float:
        """That a night without a drift gains as much: chi-squared of one degree of freedom (Wilks 1938). [0-1]"""
        return float(special.erfc(np.sqrt(max(self.gain, 0.0) / 2.0)))


def drift_sentences(forward: Forward) -> Iterator[str]:
    """A sentence for each night whose readings ask for a drift of a sensor, with its number.

    Each night is judged by itself, against the presets: what a better or worse van explains as well is no drift. So
    0.2 K an hour show in most metered nights of a van described in full, and in about half of those of a van known by
    wide presets only.
    """
    for stretch in forward.night.stretches:
        alone = replace(forward, night=Night((stretch,), ()))
        found = {"inside": drift(alone, is_inside=True), "outside": drift(alone, is_inside=False)}
        best = max(found.values(), key=lambda each: each.gain)
        if best.chance >= RARE:
            continue
        said = [
            f"the {place} sensor drifts by {each.k_per_h:+.2f} ± {each.error_k_per_h:.2f} K an hour"
            for place, each in found.items()
            if best.gain - each.gain < CLEARER
        ]
        chance = "less than 1" if best.chance < 0.01 else f"{100.0 * best.chance:.0f}"
        yield (
            f"{stretch.log.name}: the night of {stretch.start.day} {stretch.start:%B} fits better if "
            f"{', or '.join(said)}; without a drift it would look so in {chance} of 100 nights. Compare the sensors "
            "side by side, and recall whether wind or sky changed: the numbers take the readings as true."
        )


def drift(alone: Forward, *, is_inside: bool) -> Drift:
    """The likeliest steady drift of the inside or outside sensor in a single night."""
    observed, cover = alone.observed()
    whiten = np.linalg.inv(np.linalg.cholesky(cover))
    at, count = MARCHED_K_PER_H, alone.count
    less, same, more = (
        replace(alone, drift_k_per_h=(shift, 0.0) if is_inside else (0.0, shift)) for shift in (-at, 0.0, at)
    )

    def without(scores: Floats) -> Floats:
        found: Floats = (observed - same.predicted(scores)) @ whiten.T
        return found

    def drifting(scores: Floats) -> Floats:
        z = DRIFT_K_PER_H / at * scores[:, -1:]
        low, middle, high = (one.predicted(scores[:, :-1]) for one in (less, same, more))
        predicted = middle + 0.5 * z * (high - low) + 0.5 * z**2 * (high + low - 2.0 * middle)
        found: Floats = (observed - predicted) @ whiten.T
        return found

    still, _ = likeliest(without, count)
    best, spread = likeliest(drifting, count + 1)
    squares = float((drifting(best[np.newaxis]) ** 2).mean())
    trust = squares if squares > OUTLIER_FACTOR else 1.0
    return Drift(
        k_per_h=float(DRIFT_K_PER_H * best[-1]),
        error_k_per_h=float(DRIFT_K_PER_H * np.sqrt(trust * spread[-1, -1])),
        gain=(_squares(without, still) - _squares(drifting, best)) / trust,
    )


def _squares(scaled: Callable[[Floats], Floats], scores: Floats) -> float:
    return float((scaled(scores[np.newaxis]) ** 2).sum() + (scores**2).sum())
