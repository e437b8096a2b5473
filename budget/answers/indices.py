"""Variance-based sensitivity indices: of any model by designed samples, and of a sample that is at hand."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from scipy.stats import qmc

from budget.weather.air import Floats

CUBIC = (1, 2, 3)


def saltelli(model: Callable[[Floats], Floats], inputs: int, base: int, seed: int = 1) -> tuple[Floats, Floats]:
    """First-order and total indices of a model of independent inputs, uniform on 0 to 1.

    Parameters
    ----------
    model : From (rows, inputs) to (rows,).
    inputs : Number of inputs.
    base : Rows of each of the two base samples, a power of two; the model is run (inputs + 2) times as often.
    seed : Of the scrambled Sobol points.

    First order: Saltelli et al., Comput. Phys. Commun. 181 (2010) 259-270, equation (b) of table 2; total: Jansen
    (1999), equation (f) of the same table.
    """
    points = qmc.Sobol(2 * inputs, rng=np.random.default_rng(seed)).random(base)
    a, b = points[:, :inputs], points[:, inputs:]
    of_a, of_b = model(a), model(b)
    variance = float(np.concatenate([of_a, of_b]).var())
    first, total = np.zeros(inputs), np.zeros(inputs)
    for k in range(inputs):
        mixed = a.copy()
        mixed[:, k] = b[:, k]
        of_mixed = model(mixed)
        first[k] = float((of_b * (of_mixed - of_a)).mean()) / variance
        total[k] = float(((of_a - of_mixed) ** 2).mean()) / 2.0 / variance
    return first, total


def explained_share(groups: Mapping[str, Floats], outcome: Floats) -> dict[str, float]:
    """Share of an outcome's variance that each group of inputs explains on its own, from a sample at hand.

    ``groups`` maps a name to one input (rows,) or several that belong together (rows, inputs). The share is that of a
    cubic regression for one input and a quadratic one with products for several, adjusted for the number of terms; of
    independent inputs it is the first-order index wherever the response is that smooth. Never below 0.
    """
    return {name: adjusted_share(terms(values), outcome) for name, values in groups.items()}


def terms(values: Floats) -> Floats:
    """Regression terms: powers to 3 of a single input, powers to 2 and products of several; each input standardised."""
    columns = values[:, np.newaxis] if values.ndim == 1 else values
    spread = columns.std(axis=0)
    z = (columns - columns.mean(axis=0)) / np.where(spread > 0.0, spread, 1.0)
    if z.shape[1] == 1:
        return np.concatenate([z**power for power in CUBIC], axis=1)
    pairs = [z[:, i] * z[:, j] for i in range(z.shape[1]) for j in range(i, z.shape[1])]
    return np.concatenate([z, np.stack(pairs, axis=1)], axis=1)


def adjusted_share(regressors: Floats, outcome: Floats) -> float:
    """Share of variance that a linear regression explains, adjusted for its number of terms (Ezekiel 1930)."""
    count, width = regressors.shape
    variance = float(outcome.var())
    if variance <= 0.0 or count <= width + 2:
        return 0.0
    system = np.concatenate([np.ones((count, 1)), regressors], axis=1)
    fitted = system @ np.linalg.lstsq(system, outcome, rcond=None)[0]
    left = float(((outcome - fitted) ** 2).mean()) / variance
    return float(np.clip(1.0 - left * (count - 1) / (count - width - 1), 0.0, 1.0))
