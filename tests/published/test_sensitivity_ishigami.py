"""Sensitivity indices against the Ishigami function.

f = sin x1 + a sin² x2 + b x3⁴ sin x1 with x uniform on -π to π, a = 7, b = 0.1 (Ishigami and Homma 1990). Its
indices in closed form (Saltelli et al., Sensitivity Analysis, Wiley 2000): V = a²/8 + b π⁴/5 + b² π⁸/18 + 1/2;
V1 = (1 + b π⁴/5)² / 2; V2 = a²/8; V3 = 0; V13 = 8 b² π⁸ / 225.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import special

from budget.answers.indices import adjusted_share, ends, explained_share, saltelli, terms

A, B = 7.0, 0.1
VARIANCE = A**2 / 8.0 + B * np.pi**4 / 5.0 + B**2 * np.pi**8 / 18.0 + 0.5
FIRST = np.array([(1.0 + B * np.pi**4 / 5.0) ** 2 / 2.0, A**2 / 8.0, 0.0]) / VARIANCE
TOTAL = FIRST + np.array([1.0, 0.0, 1.0]) * 8.0 * B**2 * np.pi**8 / 225.0 / VARIANCE


def ishigami(share: np.ndarray) -> np.ndarray:
    x = np.pi * (2.0 * share - 1.0)
    return np.sin(x[:, 0]) + A * np.sin(x[:, 1]) ** 2 + B * x[:, 2] ** 4 * np.sin(x[:, 0])


def test_the_closed_form_is_the_one_in_print() -> None:
    """0.3139, 0.4424, 0 and 0.5576, 0.4424, 0.2437: the digits printed in the literature."""
    np.testing.assert_allclose(FIRST, [0.3139, 0.4424, 0.0], atol=5e-5)
    np.testing.assert_allclose(TOTAL, [0.5576, 0.4424, 0.2437], atol=5e-5)


def test_saltelli_indices_are_those_of_the_ishigami_function() -> None:
    """4096 scrambled Sobol points: the estimators' error falls about as 1 / N there; 0.01 leaves room for the seed."""
    first, total = saltelli(ishigami, inputs=3, base=4096, seed=3)
    np.testing.assert_allclose(first, FIRST, atol=0.01)
    np.testing.assert_allclose(total, TOTAL, atol=0.01)


def test_a_sample_at_hand_gives_the_shares_of_a_smooth_model() -> None:
    """y = 2 x1 + x2 - 0 x3 of independent standard normals: shares 0.8, 0.2, 0. With 2000 rows an estimated share has a
    standard error of about 2 sqrt(S (1 - S)² / n) < 0.02; three of them are allowed."""
    rng = np.random.default_rng(1)
    x = rng.standard_normal((2000, 3))
    shares = explained_share({str(k): x[:, k] for k in range(3)}, 2.0 * x[:, 0] + x[:, 1])
    assert [shares["0"], shares["1"], shares["2"]] == pytest.approx([0.8, 0.2, 0.0], abs=0.05)


def test_inputs_that_say_nothing_have_no_share_however_few_the_rows() -> None:
    """Unadjusted, 9 quadratic terms of pure noise in 60 rows would explain 9 / 59 = 15 %; adjusted, the mean over
    many draws is about 0 (0.03 with the floor at 0, which lifts it)."""
    rng = np.random.default_rng(2)
    shares = [adjusted_share(terms(rng.standard_normal((60, 3))), rng.standard_normal(60)) for _ in range(200)]
    assert np.mean(shares) < 0.06


def test_inputs_that_belong_together_are_judged_together() -> None:
    """y = x1 x2: neither explains anything alone, both together everything."""
    rng = np.random.default_rng(3)
    x = rng.standard_normal((1000, 2))
    shares = explained_share({"one": x[:, 0], "both": x}, x[:, 0] * x[:, 1])
    assert shares["one"] < 0.03  # adjusted share of three useless terms in 1000 rows
    assert shares["both"] == pytest.approx(1.0, abs=1e-9)  # rounding


def drawn(seed: int, rows: int = 100) -> tuple[dict[str, np.ndarray], np.ndarray]:
    """y = 10 + 2 a + a² - b + c1 + 0.5 c2 + noise; c2 goes with c1 by 0.6; all standard normals."""
    x = np.random.default_rng(seed).standard_normal((rows, 5))
    a, b, c1, other, noise = x.T
    c2 = 0.6 * c1 + 0.8 * other
    return {"a": a, "b": b, "c": np.stack([c1, c2], axis=1)}, 10.0 + 2.0 * a + a**2 - b + c1 + 0.5 * c2 + 0.3 * noise


P90 = 1.2815515655446004
BY_HAND = {
    "a": (10.0 - 2.0 * P90 + P90**2, 10.0 + 2.0 * P90 + P90**2),
    "b": (11.0 + P90, 11.0 - P90),
    "c": (11.0 - 1.3 * P90, 11.0 + 1.3 * P90),  # c1 alone is moved and takes 0.6 c2 with it
}


def test_ends_are_where_the_model_says_and_their_stated_intervals_hold_them() -> None:
    """300 samples of 100 rows: a 95 % interval holds the truth in 95 % ± 2.5 (two standard errors of 300 draws); 3 more
    are allowed, for the terms of the regression are many for 100 rows."""
    held: dict[str, list[bool]] = {name: [] for name in (*BY_HAND, *(f"{name} moves" for name in BY_HAND))}
    for seed in range(300):
        found = ends(*drawn(seed), drawn=("a", "b", "c"))
        for name, (low, high) in BY_HAND.items():
            one = found[name]
            held[name] += [abs(one.at_low - low) <= one.low_half_width, abs(one.at_high - high) <= one.high_half_width]
            held[f"{name} moves"].append(abs(one.at_high - one.at_low - (high - low)) <= one.moves_half_width)
    for name, each in held.items():
        assert 0.895 < np.mean(each) < 0.995, name


def test_both_ends_are_told_on_the_same_rows_so_that_their_difference_scatters_little() -> None:
    """b moves it by -2 P90 = -2.56. The means of the outer fifths of 100 rows scatter by 2.8 (a, c and chance) over
    the root of 20, for two ends 0.9; what a, c and chance did is taken out of every row here, so a third of it is much.
    """
    regressed, fifths = [], []
    for seed in range(200):
        groups, y = drawn(seed)
        place = np.random.default_rng(seed + 1000).permutation(100)
        b = special.ndtri((place + 0.5) / 100.0)  # spread evenly, as a Latin hypercube does
        y, groups = y + groups["b"] - b, groups | {"b": b}
        one = ends(groups, y)["b"]
        regressed.append(one.at_high - one.at_low)
        low, high = np.quantile(b, (0.2, 0.8))
        fifths.append(y[b >= high].mean() - y[b <= low].mean())
    assert np.mean(regressed) == pytest.approx(-2.0 * P90, rel=0.02)
    assert np.std(regressed) < 0.33 * np.std(fifths)


def test_an_input_that_never_varies_or_an_outcome_that_never_does_is_no_fault() -> None:
    rows = np.random.default_rng(0).standard_normal(120)
    one = ends({"still": np.zeros(120), "a": rows}, 3.0 * rows)["still"]
    assert one.at_low == one.at_high == pytest.approx(3.0 * rows.mean())
    none = ends({"a": rows}, np.full(120, 7.0))["a"]
    assert (none.at_low, none.at_high, none.low_half_width) == pytest.approx((7.0, 7.0, 0.0))
