"""From scores to readings and back: the march of a logged night, its Bayes, and its doubts, by hand."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace as Found
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from logged_nights import EFFICIENCY, PROPANE_J_PER_KG, Truth, plain_van
from sample_tours import short_tour
from sample_vans import one_room, sample_descriptions
from scipy import special
from scipy.stats import qmc

from budget.answers.measured import doubts as learn_doubts
from budget.answers.measured import drift as learn_drift
from budget.answers.measured import learn, narrowing, shakedown
from budget.answers.measured.doubts import Band, doubts, residuals_of
from budget.answers.measured.fit import Fit, _even, _quadratic, fit, jacobian, likeliest, narrowed
from budget.answers.measured.forward import LEARNED, WITH_GAS, Forward, _coupled, _ideal, _rows
from budget.answers.measured.log_file import LogFile
from budget.answers.measured.logged_night import METERED, OFF, WEIGHED, Night, Stretch
from budget.engine import arrays as A
from budget.engine.van_arrays import FRIDGE, build_van
from budget.van.model import Fridge
from budget.van.ranges import Range, ranges

P90 = 1.2815515655446004  # standard normal quantile
LIMITS = {
    "loss_factor": Range(0.7, 1.0, 1.4, ""), "glazing_factor": Range(0.75, 1.0, 1.3, ""),
    "leakage_factor": Range(0.6, 1.0, 1.7, ""), "capacity_factor": Range(0.7, 1.0, 1.45, ""),
    "efficiency_factor": Range(0.97, 1.0, 1.03, ""),
}  # fmt: skip


def stretch(
    hours: int = 8, mode: int = OFF, inside_c: float = 18.0, outside_c: float = -3.0, **changes: Any
) -> Stretch:
    given: dict[str, Any] = {
        "log": Path("n.csv"),
        "start": pd.Timestamp("2027-01-20 18:00", tz="Europe/Riga"),
        "inside_c": np.full(hours + 1, inside_c),
        "inside_error": np.ones(hours + 1),
        "quarter_c": np.full((hours, 4), inside_c),
        "outside_c": np.full(hours, outside_c),
        "mode": np.full(hours, mode),
        "heat_w": np.zeros(hours),
        "weighings": (),
        "wind_m_per_s": 2.0,
        "screens_share": 1.0,
        "sky_delta_k": 0.0,
    }
    return Stretch(**(given | changes))


def forward(*stretches: Stretch) -> Forward:
    return Forward.of(plain_van(), Night(stretches, ()), LIMITS)


# Scores


def test_scores_stand_in_the_order_factors_starts_exchange_winds_skies_bias() -> None:
    """Two nights, one weighed: five factors, two starts each, the exchange, two winds, two skies, the bias: 15."""
    first = stretch(5, inside_error=np.full(6, 0.25))
    weighed = stretch(6, WEIGHED, weighings=((0.0, 3.0, 0.5), (3.0, 6.0, 0.6)))
    two = forward(first, weighed)
    assert (two.names, two.count) == (WITH_GAS, 15)
    assert forward(first).names == LEARNED
    assert forward(first).count == 10
    assert two._shared() == (9, 10)
    assert [two.own(k).tolist() for k in range(2)] == [[5, 6, 10, 12], [7, 8, 11, 13]]
    (readings, scores), (later, others) = two.blocks
    assert (readings, later) == (slice(0, 5), slice(5, 7))
    assert scores.tolist() == [0, 1, 2, 3, 4, 5, 6, 9, 10, 12, 14]
    assert others.tolist() == [0, 1, 2, 3, 4, 7, 8, 9, 11, 13, 14]
    assert two.wind_m_per_s == 2.0
    assert replace(two, night=Night((first, replace(weighed, wind_m_per_s=5.0)), ())).wind_m_per_s == 3.5


def test_readings_tell_something_where_they_were_read_and_no_thermostat_followed_them() -> None:
    """The first edge starts the march, edge 3 was not read, edges 5 to 6 end hours of a weighed heater."""
    mode = np.array([OFF, OFF, METERED, METERED, WEIGHED, WEIGHED])
    inside = np.array([18.0, 17.0, 16.0, np.nan, 15.0, 14.0, 13.0])
    error = np.array([1.0, 0.25, 1.0, 1.0, 4.0, 1.0, 1.0])
    one = stretch(6, inside_c=0.0)
    one = replace(one, mode=mode, inside_c=inside, inside_error=error, weighings=((4.0, 6.0, 0.5),))
    made = forward(one)
    assert made.seen(one).tolist() == [False, True, True, False, True, False, False]
    assert made.held(one).tolist() == [False, False, False, False, False, True, True]
    values, cover = made.observed()
    assert values.tolist() == [17.0, 16.0, 15.0, 0.5]
    spread = [np.hypot(0.2 * 0.5, 0.1), np.hypot(0.2, 0.1), np.hypot(0.4, 0.1), np.hypot(0.04, 0.015)]
    assert np.diag(cover) == pytest.approx(np.array(spread) ** 2)
    assert np.count_nonzero(cover) == 4


def test_factors_are_low_usual_and_high_at_p10_p50_and_p90_and_smooth_in_their_logarithm() -> None:
    made = forward(stretch())
    scores = np.zeros((3, made.count))
    scores[:, 0] = -P90, 0.0, P90
    scores[:, 7] = 3.0
    assert made.factors(scores)["loss_factor"] == pytest.approx([0.7, 1.0, 1.4])
    assert made.factors(scores)["capacity_factor"] == pytest.approx([1.0] * 3)
    smooth = made.smooth(scores)
    low = P90 * np.log(0.7) / np.log(1.4)
    assert smooth[:, 0] == pytest.approx([low, 0.0, P90])
    assert np.array_equal(smooth[:, 1:], scores[:, 1:])
    assert scores[0, 0] == -P90


# The march


HELD_W = (Truth().shell_w_per_k() + Truth().air_w_per_k(18.0, -3.0)) * 21.0


def test_metered_heat_that_balances_the_loss_by_hand_holds_the_night_where_it_began() -> None:
    """21 K of shell, glass and leakage at 2 m/s: within 0.15 K over eight hours; a tenth more heat ends warmer by less
    than a tenth of 21 K, and by most of what eight hours of a constant of six allow."""
    for share, low, high in ((1.0, -0.15, 0.15), (1.1, 0.5, 2.1), (0.9, -2.1, -0.5)):
        made = forward(stretch(mode=METERED, heat_w=np.full(8, share * HELD_W)))
        (found,) = made.predicted(np.zeros((1, made.count)))
        assert found.shape == (8,)
        assert low < found[-1] - 18.0 < high, share
        assert abs(found[0] - 18.0) < 1.0  # 210 W over 120 W/K to the lining and 95 W/K outdoors


def test_a_weighed_bottle_gives_the_loss_over_efficiency_and_heating_value() -> None:
    """Held at 18 °C by its own heater: watts times hours over 0.9 and 46.35 MJ/kg, between any two times; 2 %. An
    efficiency a hundredth higher takes a hundredth less."""
    one = stretch(mode=WEIGHED, weighings=((0.5, 6.25, 0.4), (6.25, 8.0, 0.1)))
    made = forward(one)
    scores = np.zeros((2, made.count))
    scores[1, 4] = P90  # 3 % more efficient
    found = made.predicted(scores)
    assert found.shape == (2, 2)  # every edge follows the log and tells nothing
    by_hand = np.array([5.75, 1.75]) * 3600.0 * HELD_W / EFFICIENCY / PROPANE_J_PER_KG
    assert found[0] == pytest.approx(by_hand, rel=0.02)
    assert found[1] == pytest.approx(found[0] / 1.03, rel=1e-3)


def cooled(**scores: float) -> np.ndarray:
    """Readings of a cool-down with some scores set; places as above: one stretch, four factors."""
    places = {"loss": 0, "glazing": 1, "leakage": 2, "capacity": 3, "fabric": 4, "first": 5, "exchange": 6, "wind": 7,
              "sky": 8, "bias": 9}  # fmt: skip
    made = forward(stretch())
    row = np.zeros((1, made.count))
    for name, value in scores.items():
        row[0, places[name]] = value
    (found,) = made.predicted(row)
    return found


def test_each_score_moves_a_cool_down_as_it_should() -> None:
    """More loss, wind and a colder sky cool it; more capacity, a warmer fabric and a warmer first edge keep it warm; a
    sensor that reads 0.4 K too much has a van that is as much colder and cools less."""
    plain = cooled()
    assert (np.diff(plain) < 0.0).all()
    for name, sign in (("loss", -1), ("glazing", -1), ("leakage", -1), ("wind", -1), ("sky", -1), ("capacity", 1),
                       ("fabric", 1), ("bias", 1)):  # fmt: skip
        moved = sign * (cooled(**{name: 1.0}) - plain)
        assert (moved[2:] > 0.0).all(), name
    assert 0.0 < cooled(first=1.0)[0] - plain[0] < 0.2
    assert (cooled(bias=1.0) - plain).max() < 0.4
    # 900 kJ/K behind 120 W/K lose an e-th in 2.08 h: of four kelvins 0.58 are left after the four hours before.
    warmer = cooled(fabric=1.0) - plain
    assert 0.2 < warmer[1] < warmer[0] < 4.0 * np.exp(-4.0 / 2.08)
    assert abs(cooled(sky=1.0)[-1] - plain[-1]) < 1.0


def test_a_drift_grows_from_the_start_of_the_night() -> None:
    made = forward(stretch())
    still = np.zeros((1, made.count))
    plain = made.predicted(still)[0]
    inside = replace(made, drift_k_per_h=(0.5, 0.0)).predicted(still)[0]
    assert inside - plain == pytest.approx(0.5 * np.arange(1.0, 9.0), abs=1e-9)
    outside = replace(made, drift_k_per_h=(0.0, 0.5)).predicted(still)[0]
    assert (np.diff(outside - plain) < 0.0).all()
    # It was colder than read by 0.25 K in the first hour and by 3.75 K in the last.
    ramp = replace(stretch(), outside_c=-3.0 - 0.5 * (np.arange(8) + 0.5))
    by_hand = replace(made, night=Night((ramp,), ())).predicted(still)[0]
    assert outside[-1] == pytest.approx(by_hand[-1], abs=0.05)


def test_between_the_marched_exchanges_readings_are_a_parabola_and_at_them_exact() -> None:
    made = forward(stretch())
    row = np.zeros((1, made.count))
    ends = {}
    for z in (-1.5, 0.0, 1.5):
        row[0, 6] = z
        ends[z] = made.predicted(row)[0]
        marched = replace(made, built=_coupled(made.built, float(np.exp(z * 0.26))))._as_coupled(row)[0]
        assert ends[z] == pytest.approx(marched, abs=1e-9)
    row[0, 6] = 0.75
    half = 0.375 * ends[1.5] + 0.75 * ends[0.0] - 0.125 * ends[-1.5]  # Lagrange at a half
    assert made.predicted(row)[0] == pytest.approx(half, abs=1e-9)
    assert np.abs(ends[1.5] - ends[-1.5]).max() > 0.05


def test_the_exchange_is_changed_between_air_and_lining_alone() -> None:
    built = build_van(plain_van(), 0)
    changed = _coupled(built, 2.0)
    before, after = built.arrays["edge_w_per_k"][0], changed.arrays["edge_w_per_k"][0]
    lining = [k for k, edge in enumerate(built.edges) if edge.name.endswith(" lining") and edge.kind == A.FIXED]
    assert lining
    for k in range(len(built.edges)):
        assert after[k] == before[k] * (2.0 if k in lining else 1.0)


def test_an_ideal_heater_gives_what_is_asked_and_its_gas_does_not_end() -> None:
    built = build_van(plain_van(), 0)
    made = _ideal(built)
    plain, burner = built.burner, made.burner
    points = int(plain["points"][0])
    assert int(burner["points"][0]) == points + 1
    assert burner["outputs_w"][0][: points + 1].tolist() == [0.0, *plain["outputs_w"][0][:points]]
    for name in ("efficiency", "fan_w", "fan_fixed_w", "fan_air_w", "heat_share", "flow_w_per_k", "sea_flow_w_per_k",
                 "total_w_per_k"):  # fmt: skip
        assert np.array_equal(burner[name][0][1 : points + 1], plain[name][0][:points]), name
        assert np.array_equal(burner[name][0][0], plain[name][0][0]), name
    assert (burner["modulating"][0], burner["band_k"][0]) == (1, 0.1)
    for name in ("start_loss_j", "min_on_s", "min_off_s", "run_on_s"):
        assert burner[name][0] == 0.0, name
    for name in ("bottle_net_kg", "bottle_start_kg"):
        assert made.arrays[name][0][0] == 90.0
    assert made.arrays["bottle_propane_share"][0][0] == 1.0
    assert made.arrays["regulator_need_pa"][0] == 0.0
    assert made.arrays["regulator_kg_per_h"][0] == 90.0
    assert made.arrays["capacity_ah"][0] == 1000.0 * built.arrays["capacity_ah"][0]
    assert made.arrays["fridge_use"][0] == FRIDGE["off"]
    assert plain["modulating"][0] == built.burner["modulating"][0]
    assert built.arrays["bottle_net_kg"][0][0] == 11.0


def test_what_a_log_says_does_not_depend_on_the_12_v_system_or_a_fridge() -> None:
    """A battery of 1 Ah, begun empty, without a charger would stop the heater within the first hour."""
    plain = plain_van()
    battery = {"capacity_ah": 1.0, "start_share": 0.0, "chemistry": "agm", "cut_out_share": 0.5, "pad_w": 80.0}
    power = plain.power.model_copy(
        update={"battery": plain.power.battery.model_copy(update=battery), "mains_charger_a": 0.0, "alternator_a": 0.0}
    )
    weak = plain.model_copy(update={"power": power, "fridge": Fridge(gas_g_per_h=100.0, use="gas")})
    night = Night((stretch(6, WEIGHED, weighings=((0.0, 6.0, 0.8),)), stretch(5)), ())
    readings, losses, living = zip(
        *(
            (made.predicted(scores), made.loss_w_per_k(scores), made.living_loss_w_per_k(scores))
            for van in (plain, weak)
            for made in [Forward.of(van, night, LIMITS)]
            for scores in [np.eye(2, made.count)]
        ),
        strict=True,
    )
    assert readings[0].min() > 0.0 and losses[0].min() > 40.0
    for one, other in (readings, losses, living):
        assert np.array_equal(one, other)


def test_weather_of_a_night_is_dark_at_80_percent_and_sea_level() -> None:
    rows = _rows(np.array([0.0, -10.0]), 3.0, 7.0)
    assert rows[:, A.TEMP_C].tolist() == [0.0, -10.0]
    assert set(rows[:, A.WIND_M_PER_S]) == {3.0} and set(rows[:, A.SKY_DELTA_K]) == {7.0}
    assert set(rows[:, A.PRESSURE_PA]) == {101325.0}
    # 0.622 p / (101325 - p) with p = 0.8 × 611.2 Pa at 0 °C
    assert rows[0, A.HUMIDITY_RATIO] == pytest.approx(0.62198 * 488.9 / (101325.0 - 488.9), rel=2e-3)
    assert rows[1, A.HUMIDITY_RATIO] < 0.5 * rows[0, A.HUMIDITY_RATIO]
    for column in (A.ROOF, A.FRONT, A.REAR, A.LEFT, A.RIGHT, A.SIDES, A.PANEL_W):
        assert not rows[:, column].any()


def test_loss_and_capacity_of_the_plain_van_are_by_hand() -> None:
    """At 20 °C inside and 0 °C outdoors; with the loss factor at its P90 its shell's share grows by 1.4 (2 %)."""
    made = forward(stretch())
    scores = np.zeros((3, made.count))
    scores[1, 0], scores[2, 3] = P90, P90
    loss = made.loss_w_per_k(scores)
    assert loss == pytest.approx(
        [Truth().loss_w_per_k(), Truth(loss=1.4).loss_w_per_k(), Truth().loss_w_per_k()], rel=0.02
    )
    assert made.capacity_j_per_k(scores) == pytest.approx([990e3, 990e3, 90e3 + 1.45 * 900e3])
    windy = forward(stretch(wind_m_per_s=6.0)).loss_w_per_k(scores[:1])
    assert windy[0] > 1.05 * loss[0]


# Bayes

SLOPE = np.array([[1.0, 0.5, 0.0], [0.2, -1.0, 0.3], [0.0, 0.4, 2.0], [1.5, 0.0, -0.7]])
COVER = np.diag([0.04, 0.09, 0.25, 0.01])


def straight(scores: np.ndarray) -> np.ndarray:
    return 5.0 + scores @ SLOPE.T


def closed_form(observed: np.ndarray, cover: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(I + AᵀR⁻¹A)⁻¹ and that times AᵀR⁻¹y (Bishop 2006, equations 2.116 and 2.117)."""
    precision = np.linalg.inv(cover)
    spread = np.linalg.inv(np.eye(3) + SLOPE.T @ precision @ SLOPE)
    return spread @ SLOPE.T @ precision @ (observed - 5.0), spread


def test_a_straight_model_has_the_closed_forms_posterior() -> None:
    """768 draws that count alike, of a normal posterior: means within 4 standard errors, spreads within 15 %."""
    truth = np.array([0.8, -1.0, 0.4])
    observed = straight(truth[np.newaxis])[0] + np.array([0.05, -0.1, 0.2, 0.02])
    mean, cover = closed_form(observed, COVER)
    found = fit(straight, observed, COVER, 3)
    assert found.best == pytest.approx(mean, abs=1e-6)
    assert (found.scores.shape, found.trust) == ((768, 3), 1.0)
    assert found.effective >= 400.0
    errors = np.sqrt(np.diag(cover))
    assert np.abs(found.scores.mean(axis=0) - mean).max() < 4.0 * errors.max() / np.sqrt(400.0)
    assert found.scores.std(axis=0) == pytest.approx(errors, rel=0.15)
    assert found.residual == pytest.approx(observed - straight(mean[np.newaxis])[0], abs=1e-6)
    scaled = found.residual / np.sqrt(np.diag(COVER))
    assert found.misfit == pytest.approx(np.sqrt(np.mean(scaled**2)), abs=1e-6)
    again, other = fit(straight, observed, COVER, 3), fit(straight, observed, COVER, 3, seed=2)
    assert np.array_equal(found.scores, again.scores) and not np.array_equal(found.scores, other.scores)


def test_readings_that_the_model_misses_far_widen_their_errors_to_match() -> None:
    """Residuals of several times the stated errors: trust is the misfit, and the posterior that of errors so wide."""
    observed = straight(np.zeros((1, 3)))[0] + np.array([1.0, 1.5, -3.0, 0.3])
    best, _ = closed_form(observed, COVER)
    off = (observed - straight(best[np.newaxis])[0]) / np.sqrt(np.diag(COVER))
    misfit = float(np.sqrt(np.mean(off**2)))
    assert misfit > 1.5
    found = fit(straight, observed, COVER, 3)
    assert found.misfit == pytest.approx(misfit, rel=1e-6)
    assert found.trust == found.misfit
    mean, cover = closed_form(observed, COVER * misfit**2)
    assert found.best == pytest.approx(mean, abs=1e-6)
    assert found.scores.std(axis=0) == pytest.approx(np.sqrt(np.diag(cover)), rel=0.15)
    assert found.scores.mean(axis=0) == pytest.approx(mean, abs=0.2 * float(np.sqrt(np.diag(cover)).max()))


def test_blocks_of_readings_on_some_scores_and_a_smooth_of_them_give_the_same_posterior() -> None:
    """Two blocks: readings 0 and 1 on scores 0 and 1, readings 2 and 3 on scores 1 and 2; sinh straightened."""
    slope = np.array([[1.0, 0.5, 0.0], [0.2, -1.0, 0.0], [0.0, 0.4, 2.0], [0.0, 1.0, -0.7]])

    def bent(scores: np.ndarray) -> np.ndarray:
        return np.sinh(scores) @ slope.T

    observed = bent(np.array([[0.3, -0.4, 0.2]]))[0]
    blocks = ((slice(0, 2), np.array([0, 1])), (slice(2, 4), np.array([1, 2])))
    plain = fit(bent, observed, COVER, 3)
    parted = fit(bent, observed, COVER, 3, smooth=np.sinh, blocks=blocks)
    assert parted.effective >= 400.0
    spread = plain.scores.std(axis=0)
    assert parted.scores.mean(axis=0) == pytest.approx(plain.scores.mean(axis=0), abs=0.25 * float(spread.max()))
    assert parted.scores.std(axis=0) == pytest.approx(spread, rel=0.2)


def test_terms_slopes_covariances_and_even_draws_are_by_hand() -> None:
    assert _quadratic(np.array([[2.0, 3.0]])).tolist() == [[1.0, 2.0, 3.0, 4.0, 6.0, 9.0]]
    assert _even(np.array([0.5, 0.25, 0.25]), 4).tolist() == [0, 0, 1, 2]
    assert _even(np.array([0.0, 1.0, 0.0]), 3).tolist() == [1, 1, 1]

    def curved(scores: np.ndarray) -> np.ndarray:
        return np.stack([scores[:, 0] ** 2 + scores[:, 1], 3.0 * scores[:, 1]], axis=1)

    value, slope = jacobian(curved, np.array([2.0, -1.0]))
    assert value.tolist() == [3.0, -3.0]
    assert slope == pytest.approx(np.array([[4.0, 1.0], [0.0, 3.0]]))  # exact for a parabola
    assert narrowed(np.array([[2.0, 0.0], [0.0, 0.0]])) == pytest.approx(np.diag([0.2, 1.0]))
    steep, cover = likeliest(lambda scores: (10.0 - 4.0 * scores[:, :1]) / 0.5, np.zeros(1))
    assert steep[0] == pytest.approx(64.0 * 2.5 / 65.0, abs=1e-6)  # 8 per score: 64 of 65 parts of 2.5
    assert cover[0, 0] == pytest.approx(1.0 / 65.0)
    far, _ = likeliest(lambda scores: 1e3 - 40.0 * scores[:, :1], np.zeros(1))
    assert 10.0 < far[0] <= 8 * 1.5 + 1e-9  # eight steps of one and a half at most


def test_weights_are_evened_softened_and_counted() -> None:
    weights = narrowing.even_out(np.array([1000.0, 1000.0 + np.log(3.0)]))
    assert weights == pytest.approx([0.25, 0.75])
    assert narrowing.effective(weights) == pytest.approx(1.0 / (0.0625 + 0.5625))
    steep = -(np.arange(100.0) ** 2)
    soft = narrowing.softened(steep, 20.0)
    assert 20.0 <= narrowing.effective(soft) < 30.0  # powers fall by 0.7: by the root of 1 / 0.7 at most past it
    assert narrowing.effective(narrowing.softened(steep, 80.0)) >= 50.0  # half of them are enough
    assert narrowing.softened(np.zeros(10), 5.0) == pytest.approx(np.full(10, 0.1))


def test_a_proposal_is_a_normal_about_what_features_say_mixed_with_the_prior() -> None:
    """log of 0.8 N(z; m + B f, LLᵀ) + 0.2 N(z; 0, I), up to the constant of the standard normal."""
    lower = np.array([[0.5, 0.0], [0.2, 0.4]])
    made = narrowing._Proposal(np.array([1.0, -1.0]), np.array([[0.5], [0.0]]), lower)
    scores, features = np.array([[1.0, 0.3], [-2.0, 0.0]]), np.array([[2.0], [0.0]])
    found = made.log_density(scores, features)
    inverse = np.linalg.inv(lower @ lower.T)
    for row in range(2):
        off = scores[row] - np.array([1.0 + 0.5 * features[row, 0], -1.0])
        chosen = np.exp(-0.5 * off @ inverse @ off) / np.sqrt(np.linalg.det(lower @ lower.T))
        assert np.exp(found[row]) == pytest.approx(0.8 * chosen + 0.2 * np.exp(-0.5 * scores[row] @ scores[row]))
    drawn = made.draw(np.tile([[2.0]], (20_000, 1)), np.random.default_rng(1))
    # Mean 0.8 (2, -1), of 20,000 draws known to 0.01; one of five is from the prior.
    assert drawn.mean(axis=0) == pytest.approx([1.6, -0.8], abs=0.04)
    within = (drawn[:, 0] > 3.0).mean()
    wanted = 0.8 * special.ndtr(-2.0) + 0.2 * special.ndtr(-3.0)
    assert within == pytest.approx(wanted, abs=0.006)


# What a log gives away


def test_residuals_are_readings_less_the_fitted_van_edge_by_edge() -> None:
    """Two nights; the weighing of the first stands between their temperatures and is no residual."""
    first = stretch(2, inside_c=18.0, weighings=((0.0, 2.0, 0.4),))
    other = replace(stretch(2, inside_c=10.0), start=first.start + pd.Timedelta(days=1))
    made = forward(first, other)
    found: Any = Found(residual=np.array([0.3, -0.1, 99.0, 0.2, 0.0]))
    listed, rms = residuals_of(made, found)
    assert [(r.time.day, r.time.hour, r.read_c) for r in listed] == [
        (20, 19, 18.0),
        (20, 20, 18.0),
        (21, 19, 10.0),
        (21, 20, 10.0),
    ]
    assert [r.residual_k for r in listed] == [0.3, -0.1, 0.2, 0.0]
    assert [r.fitted_c for r in listed] == pytest.approx([17.7, 18.1, 9.8, 10.0])
    assert rms == pytest.approx(np.sqrt(0.14 / 4.0))
    held = forward(stretch(2, WEIGHED, weighings=((0.0, 2.0, 0.4),)))
    assert residuals_of(held, Found(residual=np.array([0.1]))) == ((), 0.0)  # type: ignore[arg-type]


LOSS = Band("loss_w_per_k", 50.0, 60.0, 70.0, 57.0, 60.0, 63.0)


def doubted(
    offs: list[float], *, misfit: float = 1.0, effective: float = 500.0, loss: Band = LOSS, absolute: bool = False,
    mode: int = OFF, elements: tuple[float, ...] = (),
) -> list[str]:  # fmt: skip
    start = dt.datetime(2027, 1, 20, 19, 0)
    residuals: Any = tuple(Found(residual_k=off, time=start + dt.timedelta(hours=k)) for k, off in enumerate(offs))
    night = Found(absolute=absolute, stretches=(Found(mode=np.array([OFF, mode])),))
    made: Any = Found(night=night, built=Found(van=Found(heater=Found(electric_w=elements))))
    return doubts(made, Found(misfit=misfit, effective=effective), residuals, loss)  # type: ignore[arg-type]


def test_doubts_are_told_by_jumps_misfit_and_width(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(learn_doubts, "drift_sentences", lambda *of: ("a drift",))
    assert doubted([0.0, 0.5, -0.5, 0.5]) == ["a drift"]  # a jump of one kelvin is none
    assert doubted([]) == ["a drift"]
    (door,) = doubted([0.0, 0.2, -0.9, 0.05])
    assert "20 January 21:00 it cools 1.1 K more than fitted" in door
    (heat,) = doubted([0.0, -0.9, 0.3])
    assert "20 January 21:00 it is 1.2 K warmer than fitted" in heat
    assert len(doubted([0.0, 1.2, -0.3])) == 2
    assert doubted([0.0], misfit=2.0) == ["a drift"]
    assert doubted([0.0], misfit=2.16)[1] == (
        "The fitted van misses the readings 2.2 times as far as their stated error; the intervals are widened to "
        "match, but take this log with doubt."
    )
    assert doubted([0.0], effective=200.0) == ["a drift"]
    assert doubted([0.0], effective=199.4)[1] == "Only 199 effective samples carry the answer; its ranges are rough."


def test_doubts_about_watts_are_told_where_the_heat_was_known(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(learn_doubts, "drift_sentences", lambda *of: ())
    wide = replace(LOSS, learned_p10=52.9, learned_p90=67.0)
    off = replace(LOSS, learned_p50=70.1, learned_p10=69.0, learned_p90=71.0)
    assert doubted([0.0], loss=wide) == doubted([0.0], loss=off) == doubted([0.0], absolute=True) == []
    (little,) = doubted([0.0], absolute=True, loss=wide)
    assert little.startswith("The log narrows the range of W/K to no less than 70")
    assert doubted([0.0], absolute=True, loss=replace(wide, learned_p10=53.0)) == []
    told = [
        "The log says 70 W/K where the description allowed 50 to 70, which pulls the answer towards it: look at the "
        "description of the van."
    ]
    assert doubted([0.0], absolute=True, loss=off) == told
    assert doubted([0.0], absolute=True, loss=replace(off, learned_p50=70.0)) == []
    assert len(doubted([0.0], absolute=True, loss=replace(off, learned_p50=49.9))) == 1
    ducts = "Metered heat is taken to come from a heater that stands in the living area; if it came through the van's "
    assert doubted([0.0], absolute=True, mode=METERED, elements=(900.0,))[0].startswith(ducts)
    assert doubted([0.0], absolute=True, mode=METERED) == []
    assert doubted([0.0], absolute=True, mode=WEIGHED, elements=(900.0,)) == []


def test_the_width_that_is_kept_is_that_of_the_80_percent_interval() -> None:
    assert LOSS.kept_width_share == pytest.approx(6.0 / 20.0)
    assert replace(LOSS, preset_p10=60.0, preset_p90=60.0).kept_width_share == pytest.approx(6e12)


def drifts(monkeypatch: pytest.MonkeyPatch, inside: list[Any], outside: Any) -> tuple[str, ...]:
    """What is said of nights whose drifts are these."""
    monkeypatch.setattr(learn_drift, "drift", lambda forward, found, k, is_inside: inside[k] if is_inside else outside)
    nights = [stretch(log=Path(f"{k}.csv"), start=pd.Timestamp(f"2027-01-{20 + k} 18:00")) for k in range(len(inside))]
    return learn_drift.drift_sentences(Found(night=Found(stretches=nights)), Found())  # type: ignore[arg-type]


def test_of_several_nights_the_clearest_drift_is_named_with_its_chance(monkeypatch: pytest.MonkeyPatch) -> None:
    """A gain of 6 comes in 1.4 of 100 nights without a drift, one of 3.8 in 5.1: chi-squared of one degree."""
    small, clear = learn_drift.Drift(0.1, 0.05, 4.0), learn_drift.Drift(0.234, 0.056, 6.0)
    other = learn_drift.Drift(-0.345, 0.089, 3.0)
    assert clear.chance == pytest.approx(0.0143, abs=1e-4)
    assert learn_drift.Drift(0.1, 0.1, -1.0).chance == 1.0
    (told,) = drifts(monkeypatch, [small, clear], other)
    assert told.startswith(
        "1.csv: the night of 21 January fits better if the inside sensor drifts by +0.23 ± 0.06 K an hour, or the "
        "outside sensor drifts by -0.34 ± 0.09 K an hour; without a drift it would look so in 1 of 100 nights. "
    )
    (told,) = drifts(monkeypatch, [clear, small], replace(other, gain=2.0))
    assert told.startswith("0.csv: the night of 20 January") and "outside" not in told.split(";")[0]
    (told,) = drifts(monkeypatch, [clear], replace(other, gain=10.0))
    assert "inside" not in told.split(";")[0] and "in less than 1 of 100 nights" in told
    assert drifts(monkeypatch, [learn_drift.Drift(0.1, 0.05, 3.8)], replace(clear, gain=99.0)) == ()


# The answer


def test_an_answer_sums_up_its_draws_beside_the_presets(monkeypatch: pytest.MonkeyPatch) -> None:
    """Stand-in draws: P10, P50 and P90 of loss, loss over capacity and each factor, of the draws and of 512 of the
    prior; what the logs are is told log by log, the one given twice once."""
    description = sample_descriptions()["six_answers"]
    van = description.to_van()
    tour = short_tour(van)
    rng = np.random.default_rng(8)
    seen: dict[str, Any] = {}

    def quick(made: Forward, seed: int) -> Fit:
        seen.update(forward=made, seed=seed)
        scores = 0.5 * rng.standard_normal((40, made.count))
        values, _ = made.observed()
        return Fit(np.zeros(made.count), scores, 345.6, np.full(len(values), 0.01), 0.9, 1.0)

    monkeypatch.setattr(learn, "fitted", quick)

    def log(name: str, start: str, heated: bool) -> LogFile:
        seconds = np.arange(0.0, 5.0 * 3600.0 + 1.0, 600.0)
        heat = np.full(31, 800.0 if heated else np.nan)
        stamps = pd.DatetimeIndex(pd.Timestamp(start, tz="Europe/Riga") + pd.to_timedelta(seconds, unit="s"))
        nothing = np.full(31, np.nan)
        return LogFile(
            path=Path(name), sha256=name, stamps=stamps.tz_convert("UTC"), timezone="Europe/Riga",
            inside_c=-5.0 + 20.0 * np.exp(-seconds / 28_800.0), outside_c=-5.0 - seconds / 1e4, heater_w=heat,
            mains_kwh=nothing, gas_kg=nothing, energy=("heater_w",) if heated else (),
            remarks={"wind_m_per_s": 2.0, "screens_share": 1.0, "sky_delta_k": 5.0}, notices=(f"{name} noted",),
        )  # fmt: skip

    early, late = log("a.csv", "2027-01-20 19:00", heated=False), log("b.csv", "2027-01-22 19:00", heated=True)
    again = replace(early, path=Path("copy.csv"))
    found = learn.answer(van, tour, [late, early, again], described=description, seed=5)
    assert seen["seed"] == 5
    made: Forward = seen["forward"]
    assert made.limits == ranges(description) != ranges(van)
    rng = np.random.default_rng(8)
    after = 0.5 * rng.standard_normal((40, made.count))
    before = special.ndtri(
        qmc.Sobol(d=made.count, scramble=True, rng=np.random.default_rng(2)).random(512).clip(1e-9, 1.0 - 1e-9)
    )
    levels = (0.1, 0.5, 0.9)
    for band, values in (
        (found.loss, [made.loss_w_per_k(scores) for scores in (before, after)]),
        (found.per_capacity, [3600.0 * made.loss_w_per_k(s) / made.capacity_j_per_k(s) for s in (before, after)]),
    ):
        told = (band.preset_p10, band.preset_p50, band.preset_p90, band.learned_p10, band.learned_p50, band.learned_p90)
        assert told == pytest.approx([*np.quantile(values[0], levels), *np.quantile(values[1], levels)])
    for band in found.factors:
        limits, draws = made.limits[band.name], made.factors(after)[band.name]
        assert (band.preset_p10, band.preset_p50, band.preset_p90) == (limits.low, limits.base, limits.high)
        assert (band.learned_p10, band.learned_p50, band.learned_p90) == pytest.approx(
            tuple(np.quantile(draws, levels))
        )
    logs = np.log(np.array([made.factors(after)[name] for name in made.names]))
    assert found.log_cover == pytest.approx(np.cov(logs))
    assert [each.name for each in found.factors] == list(LEARNED)
    assert (found.misfit, found.effective, found.is_absolute, found.wind_m_per_s) == (0.9, 345.6, True, 2.0)
    assert (found.last_heat_w, found.sky_delta_k) == (800.0, 5.0)
    warmer = 20.0 * np.exp(-5.0 / 8.0) + 4.5 * 0.36  # at the end of the last hour, over the mean outdoors in it
    assert found.last_lead_k == pytest.approx(warmer, abs=0.05)
    assert found.residual_rms_k == pytest.approx(0.01)
    assert len(found.residuals) == 10
    assert [(one.path.name, one.place, one.hours, one.is_absolute, one.sha256) for one in found.logs] == [
        ("a.csv", "first", 5, False, "a.csv"), ("b.csv", "third", 5, True, "b.csv"),
    ]  # fmt: skip
    riga = dt.timezone(dt.timedelta(hours=2))
    assert [(one.start, one.end) for one in found.logs] == [
        (dt.datetime(2027, 1, day, 19, tzinfo=riga), dt.datetime(2027, 1, day + 1, 0, tzinfo=riga)) for day in (20, 22)
    ]
    assert found.cautions[:2] == ("a.csv noted", "b.csv noted")
    assert len(set(found.cautions)) == len(found.cautions)
    assert found.hours == 10


def test_a_log_was_taken_at_the_stop_of_its_first_reading_or_at_the_first() -> None:
    tour = short_tour(one_room())
    offsets = [
        stop.model_copy(update={"arrive": stop.arrive.replace(tzinfo=zoneinfo.ZoneInfo("Europe/Riga"))})
        for stop in tour.stops
    ]
    at_offset = tour.model_copy(update={"stops": tuple(offsets)})
    for stamp, place in (
        ("2027-01-20 12:00", "first"), ("2027-01-21 14:59", "first"), ("2027-01-21 15:00", "second"),
        ("2027-01-22 14:00", "third"), ("2027-02-22 14:00", "third"), ("2026-01-01 00:00", "first"),
    ):  # fmt: skip
        local = pd.Timestamp(stamp, tz="Europe/Riga").tz_convert("UTC")
        assert learn._stop_at(tour, local).place == place, stamp
        assert learn._stop_at(at_offset, local).place == place, stamp
        aware = tuple(
            stop.model_copy(update={"arrive": stop.arrive.replace(tzinfo=ZoneInfo("Europe/Riga")).astimezone(dt.UTC)})
            for stop in tour.stops
        )
        assert learn._stop_at(tour.model_copy(update={"stops": aware}), local).place == place, "arrivals with an offset"


def test_names_are_listed_once_with_an_and_before_the_last() -> None:
    assert learn._listed(["a"]) == "a"
    assert learn._listed(["a", "a"]) == "a"
    assert learn._listed(["a", "b", "a", "c"]) == "a, b and c"


# What to measure next


def test_nights_to_come_are_heated_eight_hours_and_cool_for_six() -> None:
    for kind, hours, heated in ((OFF, 14, 0), (METERED, 14, 8), (WEIGHED, 14, 8)):
        ((one,), cautions) = (shakedown._night(kind).stretches, shakedown._night(kind).cautions)
        assert (one.hours, cautions) == (hours, ())
        assert one.mode.tolist() == [kind] * heated + [OFF] * (hours - heated)
        assert one.heat_w.tolist() == [1500.0 * (kind == METERED)] * heated + [0.0] * (hours - heated)
        assert one.weighings == (((0.0, 8.0, 1.0),) if kind == WEIGHED else ())
        assert set(one.inside_c) == {18.0} and len(one.inside_c) == len(one.inside_error) == hours + 1
        assert set(one.inside_error) == {1.0} and set(one.outside_c) == {-3.0}
        assert one.quarter_c.shape == (hours, 4) and set(one.quarter_c.flat) == {18.0}
        assert (one.wind_m_per_s, one.screens_share, one.sky_delta_k) == (2.0, 1.0, 5.0)


def test_a_half_width_is_p90_standard_deviations_of_the_loss() -> None:
    slope, cover = np.array([[0.1, -0.2]]), np.array([[1.0, 0.5], [0.5, 2.0]])
    variance = 0.01 + 2.0 * 0.1 * -0.2 * 0.5 + 0.08
    assert shakedown._half_width(slope, cover) == round(P90 * np.sqrt(variance), 4)


def test_a_shakedown_is_worth_more_the_more_is_known_of_the_heat() -> None:
    found = shakedown.answer(plain_van())
    assert [night.night for night in found.nights] == [
        "the presets alone", "a cool-down", "a night on a metered hook-up, then a cool-down",
        "a night on a weighed bottle, then a cool-down",
    ]  # fmt: skip
    assert [night.needs for night in found.nights] == [
        "nothing", "two loggers", "two loggers and a meter", "two loggers and a scale",
    ]  # fmt: skip
    alone, cool, metered, weighed = (night.half_width_share for night in found.nights)
    assert alone > cool > metered > 0.0
    assert weighed < cool
    limits = ranges(plain_van())
    made = Forward.of(plain_van(), shakedown._night(OFF), limits)
    high, low = (
        made.loss_w_per_k(np.eye(1, made.count, k)[0][np.newaxis] * sign)[0] for k, sign in ((0, 0.1), (0, -0.1))
    )
    by_walls = P90 * abs(np.log(high / low)) / 0.2
    assert by_walls < alone < 2.0 * by_walls
