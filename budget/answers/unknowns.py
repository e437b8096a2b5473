"""What is not known of a van, as standard normal scores and as the factors that they stand for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from budget.van.learned import LearnedSection
from budget.van.ranges import Range
from budget.weather.air import Floats

P90_Z = 1.2815515655446004  # standard normal quantile of 0.9
FAR_Z = 2.6  # a factor is kept within this many standard deviations


def factor_of(limits: Range, scores: Floats) -> Floats:
    """The factor at standard normal scores.

    A range states about P10, the usual value and P90 of a factor. Its logarithm is taken as normal on each side of
    the usual value, with the spread of that side, so that P10, P50 and P90 are the stated ones.
    """
    spread = np.where(scores < 0.0, np.log(limits.base / limits.low), np.log(limits.high / limits.base))
    found: Floats = limits.base * np.exp(scores / P90_Z * spread)
    return found


@dataclass(frozen=True, eq=False)
class Unknowns:
    """Named ranges, by name; those that were learned together from a log are correlated as it said."""

    limits: Mapping[str, Range]
    learned: LearnedSection | None = None

    @property
    def names(self) -> tuple[str, ...]:
        """In the order of the scores."""
        return tuple(sorted(self.limits))

    def scores(self, count: int, seed: int) -> Floats:
        """A Latin hypercube of independent standard normal scores: one row a scenario, one column a name."""
        from scipy import special
        from scipy.stats import qmc

        rng = np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(1,)))
        if not self.limits:
            return np.empty((count, 0))
        cube = qmc.LatinHypercube(d=len(self.limits), rng=rng).random(count)
        found: Floats = special.ndtri(np.clip(cube, 1e-9, 1.0 - 1e-9))
        return found

    def factors(self, scores: Floats) -> dict[str, Floats]:
        """The factors that independent scores stand for."""
        names, scores = self.names, scores.copy()
        if self.learned is not None:
            together = [names.index(name) for name in self.learned.factors.given if name in names]
            if len(together) == len(self.learned.factors.given):
                scores[:, together] = scores[:, together] @ self.learned.lower().T
        kept = np.clip(scores, -FAR_Z, FAR_Z)
        return {name: factor_of(self.limits[name], kept[:, k]) for k, name in enumerate(names)}
