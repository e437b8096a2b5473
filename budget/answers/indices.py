"""Variance-based sensitivity indices: of any model by designed samples, and of a sample that is at hand."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass

import numpy as np
from scipy.stats import qmc

from budget.weather.air import Floats

CUBIC = (1, 2, 3)
END_LEVELS = (0.1, 0.9)
Z95 = 1.96
NORMAL_AT_P90 = 0.17549833  # density of the standard normal there


@dataclass(frozen=True)
class Ends:
    """An outcome where an input stands at its P10 and at its P90, and the half-widths of the 95 % intervals.

    ``moves_half_width`` is that of ``at_high`` less ``at_low``: what the winters have in common at both ends falls out.
    """

    at_low: float
    at_high: float
    low_half_width: float
    high_half_width: float
    moves_half_width: float


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
    z = _standardised(values, values)
    return np.concatenate([z**power for power in CUBIC], axis=1) if z.shape[1] == 1 else _quadratic(z)


def _standardised(values: Floats, sample: Floats) -> Floats:
    """Values over the spread of a sample, from its mean; one column an input."""
    sample, values = (each[:, np.newaxis] if each.ndim == 1 else each for each in (sample, values))
    spread = sample.std(axis=0)
    z: Floats = (values - sample.mean(axis=0)) / np.where(spread > 0.0, spread, 1.0)
    return z


def _quadratic(z: Floats) -> Floats:
    """Powers to 2 and products."""
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


def ends(groups: Mapping[str, Floats], outcome: Floats, drawn: Collection[str] = ()) -> dict[str, Ends]:
    """The mean outcome with each group's first input at its P10 and at its P90, all else as it comes.

    A regression on all groups at once (terms to the second power) takes what the others did out of every scenario, so
    that the two ends differ by this input alone and not by the winters that happened to fall to either. The half-widths
    count the error of that regression and the scatter of the sample's mean; for the groups ``drawn`` at random, which
    no Latin hypercube spreads evenly, also that of the sample's P10 and P90. Of a group of several inputs the first is
    moved and the others follow as they do in the sample, such as wind and sun with cold.
    """
    parts = {name: _centred(values) for name, values in groups.items()}
    count, mean = len(outcome), float(outcome.mean())
    found = {}
    whole = np.concatenate(list(parts.values()), axis=1)
    slopes = np.linalg.lstsq(whole, outcome - mean, rcond=None)[0]
    place = 0
    for name, part in parts.items():
        span = slice(place, place + part.shape[1])
        place = span.stop
        left = outcome - mean - whole @ slopes + part @ slopes[span]  # what the others did is out of it
        values = groups[name]
        along = values if values.ndim == 1 else values[:, 0]
        alone = _centred(along)
        curve = np.linalg.lstsq(alone, left, rcond=None)[0]
        rest = left - alone @ curve
        width = whole.shape[1] - part.shape[1] + alone.shape[1] + 1
        spread = float(rest @ rest) / max(count - width, 1)
        inverse: Floats = np.linalg.pinv(alone.T @ alone).astype(float)
        scatter = float(np.sqrt(np.var(outcome - alone @ curve) / count))
        steps = _centred(along, np.quantile(along, END_LEVELS))
        places = [_place_error(along, level) @ curve if name in drawn else 0.0 for level in END_LEVELS]
        low, high = (mean + steps @ curve).tolist()
        found[name] = Ends(
            at_low=low,
            at_high=high,
            low_half_width=_half_width(spread, inverse, steps[0], scatter, places[0]),
            high_half_width=_half_width(spread, inverse, steps[1], scatter, places[1]),
            moves_half_width=_half_width(spread, inverse, steps[1] - steps[0], *places),
        )
    return found


def _place_error(sample: Floats, level: float) -> Floats:
    """The standard error of a sample's P10 or P90, in quadratic terms; the sample taken as normal, as winters are."""
    error = float(sample.std()) * np.sqrt(level * (1.0 - level) / len(sample)) / NORMAL_AT_P90
    near = np.quantile(sample, level) + np.array([-error, error])
    moved: Floats = np.diff(_centred(sample, near), axis=0)[0] / 2.0
    return moved


def _half_width(spread: float, inverse: Floats, step: Floats, *others: float) -> float:
    """Of the 95 % interval of a regression's step, with errors of other kinds beside it."""
    return Z95 * float(np.sqrt(spread * float(step @ inverse @ step) + sum(other * other for other in others)))


def _centred(sample: Floats, values: Floats | None = None) -> Floats:
    """Quadratic terms of a sample, or of values in its place, each with its mean over the sample taken off."""
    whole = _quadratic(_standardised(sample, sample))
    shown = whole if values is None else _quadratic(_standardised(values, sample))
    centred: Floats = shown - whole.mean(axis=0)
    return centred
