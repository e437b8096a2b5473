"""Whether a sensor drifted in a logged night: the logs fitted once more with a steady drift in it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from budget.answers.measured.fit import Fit, likeliest
from budget.answers.measured.forward import Forward
from budget.answers.measured.logged_night import Night
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


def drift_sentences(forward: Forward, found: Fit) -> tuple[str, ...]:
    """What to say of a drift that a night's readings ask for, with its number; of several nights the clearest one.

    What a better or worse van explains as well is no drift. So 0.2 K an hour show in most metered nights of a van
    described in full, in about half of those of a van known by wide presets only, and clearly beside another night.
    That other one would fit better with the contrary drift, which is why one alone is named.
    """
    stretches = forward.night.stretches
    each = [drift(forward, found, k, is_inside=True) for k in range(len(stretches))]
    clearest = max(range(len(stretches)), key=lambda k: each[k].gain)
    inside, stretch = each[clearest], stretches[clearest]
    if inside.chance >= RARE:
        return ()
    outside = drift(forward, found, clearest, is_inside=False)
    best = max(inside, outside, key=lambda one: one.gain)
    said = [
        f"the {place} sensor drifts by {one.k_per_h:+.2f} ± {one.error_k_per_h:.2f} K an hour"
        for place, one in (("inside", inside), ("outside", outside))
        if best.gain - one.gain < CLEARER
    ]
    chance = "less than 1" if best.chance < 0.01 else f"{100.0 * best.chance:.0f}"
    return (
        f"{stretch.log.name}: the night of {stretch.start.day} {stretch.start:%B} fits better if {', or '.join(said)}; "
        f"without a drift it would look so in {chance} of 100 nights. Compare the sensors side by side, and recall "
        "whether wind or sky changed: the numbers take the readings as true.",
    )


def drift(forward: Forward, found: Fit, k: int, *, is_inside: bool) -> Drift:
    """The likeliest steady drift of the inside or outside sensor in a stretch, beside all that the fit leaves open."""
    observed, cover = forward.observed()
    whiten = np.linalg.inv(np.linalg.cholesky(cover)) / found.trust
    readings, of = forward.blocks[k]
    alone = replace(forward, night=Night((forward.night.stretches[k],), ()))
    less, more = (
        replace(alone, drift_k_per_h=(shift, 0.0) if is_inside else (0.0, shift))
        for shift in (-MARCHED_K_PER_H, MARCHED_K_PER_H)
    )

    def scaled(scores: Floats) -> Floats:
        z = DRIFT_K_PER_H / MARCHED_K_PER_H * scores[:, -1:]
        predicted = forward.predicted(scores[:, :-1])
        low, middle, high = less.predicted(scores[:, of]), predicted[:, readings], more.predicted(scores[:, of])
        predicted[:, readings] = middle + 0.5 * z * (high - low) + 0.5 * z**2 * (high + low - 2.0 * middle)
        off: Floats = (observed - predicted) @ whiten.T
        return off

    still = np.append(found.best, 0.0)
    best, spread = likeliest(scaled, still)
    without, with_drift = (float((scaled(at[np.newaxis]) ** 2).sum() + (at**2).sum()) for at in (still, best))
    return Drift(
        k_per_h=float(DRIFT_K_PER_H * best[-1]),
        error_k_per_h=float(DRIFT_K_PER_H * np.sqrt(spread[-1, -1])),
        gain=without - with_drift,
    )
