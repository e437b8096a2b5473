"""A weighing moves the forecast the way Bayes says, and a reading that cannot be is refused with its reason."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from sample_tours import short_tour
from sample_vans import one_room
from scipy.stats import multivariate_normal

from budget.answers.ensemble import BAND_STEP_H, InTurn, ensemble
from budget.answers.measured.logbook import SCALE_KG, Entry, check, read_logbook, with_entry, written
from budget.answers.measured.record import answer as record
from budget.answers.measured.weigh import answer
from budget.answers.prepared import Prepared
from budget.answers.road import USE_MISFIT_SHARE, Road
from budget.errors import InputFault
from budget.moments import moment

RIGA = ZoneInfo("Europe/Riga")
MORNING = dt.datetime(2027, 1, 22, 12, 0, tzinfo=RIGA)  # 48 h into the tour, on a step of the bands
SCENARIOS = 100
NAME = "11 kg exchange"
TARE_KG, FULL_KG = 12.5, 33.0  # enough for a room that takes 5 kg a day


@pytest.fixture(scope="module")
def prepared() -> Prepared:
    van = one_room(gas={"bottles": [{"name": NAME, "net_kg": FULL_KG, "tare_kg": TARE_KG}], "locker_zone": "outdoors"})
    return Prepared.of(van, short_tour(van))


@pytest.fixture(scope="module")
def bands_kg(prepared: Prepared) -> np.ndarray:
    """What each scenario has used at every sixth hour."""
    kept = ensemble(prepared, SCENARIOS, 1).run_for_use(InTurn())
    return np.asarray(kept.used_band_kg, dtype=float)


@pytest.fixture(scope="module")
def used_kg(bands_kg: np.ndarray) -> np.ndarray:
    """What each scenario has used by the morning."""
    return bands_kg[:, 48 // BAND_STEP_H]


def test_a_weight_as_expected_narrows_the_forecast(prepared: Prepared, used_kg: np.ndarray) -> None:
    """The median use weighed: the band of kg a day narrows, fewer scenarios count, and its middle stays inside."""
    found = answer(
        prepared,
        (Entry(MORNING, bottle=NAME, gross_kg=TARE_KG + FULL_KG - float(np.median(used_kg))),),
        scenarios=SCENARIOS,
        executor=InTurn(),
    )
    before, after = found.steps
    assert before.effective == pytest.approx(SCENARIOS)
    assert after.effective >= 200.0
    assert found.scenarios > SCENARIOS  # more were drawn, near the reading
    mean = float(found.weights @ found.used_kg)
    assert np.sqrt(found.weights @ (found.used_kg - mean) ** 2) < 0.6 * used_kg.std()
    assert mean == pytest.approx(float(np.median(used_kg)), abs=0.5 * float(used_kg.std()))
    assert after.p90_kg_per_day - after.p10_kg_per_day < after.was_p90_kg_per_day - after.was_p10_kg_per_day


def test_a_reading_far_out_still_stands_on_200_effective_draws(prepared: Prepared, bands_kg: np.ndarray) -> None:
    """A state of charge, then a van that has used more than all but five of a hundred: plain draws from the prior would
    leave a handful. The same readings again give the same bits.
    """
    kg = float(np.sort(bands_kg[:, 48 // BAND_STEP_H])[-6])
    entries = (
        Entry(MORNING - dt.timedelta(hours=6), charge_percent=97.0),
        Entry(MORNING, bottle=NAME, gross_kg=TARE_KG + FULL_KG - kg),
    )
    first, again = (answer(prepared, entries, scenarios=SCENARIOS, executor=InTurn()) for _ in range(2))
    assert first.steps[-1].effective >= 200.0
    assert first.cautions == ()
    assert [step.as_dict() for step in first.steps] == [step.as_dict() for step in again.steps]
    assert [used.weighed_kg for used in first.used] == pytest.approx([kg])


def test_weights_from_fitted_proposals_agree_with_many_plain_draws(prepared: Prepared, used_kg: np.ndarray) -> None:
    """The same reading with all draws from the prior: middle and width of the use until then within 4 standard errors
    of 200 effective draws, 0.3 of a posterior spread.
    """
    kg = float(np.quantile(used_kg, 0.6))
    entry = Entry(MORNING, bottle=NAME, gross_kg=TARE_KG + FULL_KG - kg)
    few = answer(prepared, (entry,), scenarios=SCENARIOS, executor=InTurn())
    many = answer(prepared, (entry,), scenarios=1000, seed=4, executor=InTurn())
    spread = []
    for found in (few, many):
        mean = float(found.weights @ found.used_kg)
        spread.append((mean, float(np.sqrt(found.weights @ (found.used_kg - mean) ** 2))))
    assert many.scenarios == 1000  # no proposal was needed
    assert spread[0][0] == pytest.approx(spread[1][0], abs=0.3 * spread[1][1])
    assert spread[0][1] == pytest.approx(spread[1][1], rel=0.3)


def test_more_used_than_expected_raises_the_days_ahead(prepared: Prepared, used_kg: np.ndarray) -> None:
    """A van that has used the P90 so far is leakier or out in the cold: its days ahead take more than those of P10."""
    low, high = (
        answer(
            prepared,
            (Entry(MORNING, bottle=NAME, gross_kg=TARE_KG + FULL_KG - float(np.quantile(used_kg, level))),),
            scenarios=SCENARIOS,
            executor=InTurn(),
        ).steps[-1]
        for level in (0.1, 0.9)
    )
    assert high.p50_kg_per_day > low.p50_kg_per_day
    assert high.left_kg < low.left_kg


def weighed(hours_h: int, used_kg: float, **more: bool) -> Entry:
    """The bottle so long after the start, when it has given so much since it was full."""
    at = MORNING + dt.timedelta(hours=hours_h - 48)
    return Entry(at, bottle=NAME, gross_kg=round(TARE_KG + FULL_KG - used_kg, 3), **more)


def test_readings_that_agree_narrow_the_forecast_one_after_the_other(prepared: Prepared, bands_kg: np.ndarray) -> None:
    """Two drawn winters and vans as the truth, weighed every twelve hours on a scale of 50 g: the band of the same days
    ahead is narrower after each reading than before it, on average of the two, and none is called odd.
    """
    kept = []
    for truth in range(2):
        rng = np.random.default_rng([9, truth])
        entries = tuple(
            weighed(hour, float(bands_kg[truth, hour // BAND_STEP_H]) + rng.normal(0.0, SCALE_KG))
            for hour in (12, 24, 36, 48)
        )
        found = answer(prepared, entries, scenarios=SCENARIOS, executor=InTurn())
        assert not any("to be expected" in caution for caution in found.cautions)
        kept.append(
            [
                (step.p90_kg_per_day - step.p10_kg_per_day) / (step.was_p90_kg_per_day - step.was_p10_kg_per_day)
                for step in found.steps[1:]
            ]
        )
    assert (np.mean(kept, axis=0) < 0.97).all()


def test_weighings_in_a_row_are_as_likely_as_their_joint_normal_law(prepared: Prepared) -> None:
    """Each reading is what the bottle holds, with the scale's error; what it holds departs from the plan by a share of
    each interval's use. So covariance ij is the sum over intervals up to min(i, j) of (share times use) squared, plus
    the scale's variance where i = j. The likelihoods, taken one after the other, add up to that law's (1e-9).
    """
    entries = tuple(weighed(hour, used) for hour, used in ((12, 2.1), (18, 3.0), (24, 4.2), (48, 7.4)))
    road = Road.of(prepared, entries, 8, 1, InTurn(), None)
    _, log_likelihood = road.run(road.unknown.scores(8, 1), 0)
    by_hour = road.drawn.used_kg[:, [2, 3, 4, 8]]
    for used, found in zip(by_hour, log_likelihood.sum(axis=1), strict=True):
        share = np.cumsum((USE_MISFIT_SHARE * np.diff(used, prepend=0.0)) ** 2)
        cover = np.minimum.outer(share, share) + SCALE_KG**2 * np.eye(4)
        law = multivariate_normal(FULL_KG - used, cover)
        read = [entry.gross_kg - TARE_KG for entry in entries]
        assert found + 2.0 * np.log(1.0 / (2.0 * np.pi)) == pytest.approx(law.logpdf(read), rel=1e-9)


def test_a_reading_that_those_before_it_do_not_let_expect_is_named(prepared: Prepared, used_kg: np.ndarray) -> None:
    """The median use after two days, then two kilograms within six hours, twice what was used in each six until now and
    just what a burner of 4 kW can take: it could be, so it is used, and named with what was to be expected.
    """
    middle = float(np.median(used_kg))
    fits, odd = weighed(48, middle), weighed(54, middle + 2.0)
    found = answer(prepared, (fits, odd), scenarios=SCENARIOS, executor=InTurn())
    (sentence,) = [caution for caution in found.cautions if "to be expected" in caution]
    assert sentence.startswith(f"{moment(odd.at)}: {NAME} weighed {odd.gross_kg:g} kg where")
    assert "weigh again and correct the logbook" in sentence


def test_a_change_of_the_bottle_between_two_readings_takes_none_of_the_use(
    prepared: Prepared, bands_kg: np.ndarray
) -> None:
    """Weighed, changed for a full one six hours later, weighed again: two intervals, from the start to the first
    reading and from the change to the last; what is left is the last reading's, and none of the three is odd.
    """
    used = bands_kg[5]
    entries = (
        weighed(24, float(used[4])),
        weighed(30, 0.0, is_swapped=True),
        weighed(48, float(used[8] - used[5])),
    )
    found = answer(prepared, entries, scenarios=SCENARIOS, executor=InTurn())
    assert [part.weighed_kg for part in found.used] == pytest.approx([used[4], used[8] - used[5]], abs=1e-3)
    assert found.used[1].since == entries[1].at
    assert not any("to be expected" in caution for caution in found.cautions)
    assert found.steps[-1].left_kg == pytest.approx(FULL_KG - (used[8] - used[5]), abs=SCALE_KG)
    changed, last = found.steps[2], found.steps[3]
    assert changed.p50_kg_per_day == pytest.approx(changed.was_p50_kg_per_day)
    assert last.p90_kg_per_day - last.p10_kg_per_day < last.was_p90_kg_per_day - last.was_p10_kg_per_day


def test_a_changed_bottle_tells_what_is_left_and_nothing_of_the_use(prepared: Prepared) -> None:
    found = answer(
        prepared,
        (Entry(MORNING, bottle=NAME, gross_kg=TARE_KG + FULL_KG, is_swapped=True),),
        scenarios=SCENARIOS,
        executor=InTurn(),
    )
    assert found.steps[-1].effective == pytest.approx(SCENARIOS)
    assert found.steps[-1].left_kg == pytest.approx(FULL_KG)


def test_the_same_reading_twice_counts_once_and_the_logbook_reads_back(prepared: Prepared, tmp_path: Path) -> None:
    entry = Entry(MORNING, bottle=NAME, gross_kg=18.4)
    charge = Entry(MORNING, charge_percent=61.0)
    book = with_entry(with_entry(with_entry((), entry), charge), entry)
    assert len(book) == 2
    path = tmp_path / "my-tour.logbook.toml"
    path.write_text(written(book), encoding="utf-8")
    assert read_logbook(path, prepared.timeline) == book
    corrected = with_entry(book, Entry(MORNING, bottle=NAME, gross_kg=18.3))
    assert [e.gross_kg for e in corrected if e.bottle] == [18.3]


@pytest.mark.parametrize(
    ("kg", "earlier_kg", "sentence"),
    [
        (
            32.0,
            None,
            "2027-01-22 12:00: 11 kg exchange weighs at most 23.5 kg when full, got 32 kg; "
            "weigh it again, without hose and regulator.",
        ),
        (
            8.4,
            None,
            "2027-01-22 12:00: 11 kg exchange weighs at least its tare of 12.5 kg, got 8.4 kg; "
            "give the gross weight, bottle and gas.",
        ),
        (
            22.0,
            17.0,
            "2027-01-22 12:00: 11 kg exchange held 4.5 kg of gas before and cannot hold 9.5 kg without a change; "
            "weigh again, or add --swapped.",
        ),
    ],
)
def test_a_mistyped_weight_is_refused_with_the_reason(kg: float, earlier_kg: float | None, sentence: str) -> None:
    entries = [] if earlier_kg is None else [Entry(MORNING - dt.timedelta(days=1), bottle=NAME, gross_kg=earlier_kg)]
    with pytest.raises(InputFault) as fault:
        check((*entries, Entry(MORNING, bottle=NAME, gross_kg=kg)), one_room().gas.bottles)
    assert str(fault.value) == sentence


def test_the_record_keeps_apart_what_was_predicted_weighed_and_explained(
    prepared: Prepared, used_kg: np.ndarray
) -> None:
    """More weighed than expected: the scale's kilograms stand as they were read, beside what was predicted before; the
    causes and what they leave unexplained add up to the likeliest use less the mean prediction.
    """
    heavy = float(np.quantile(used_kg, 0.9))
    entries = (Entry(MORNING, bottle=NAME, gross_kg=TARE_KG + FULL_KG - heavy),)
    found = record(prepared, entries, scenarios=SCENARIOS)
    assert found.weighed_kg == pytest.approx(heavy)
    assert found.predicted_mean_kg == pytest.approx(float(used_kg.mean()), rel=1e-6)
    assert found.weighed_predicted_kg == pytest.approx(found.predicted_p50_kg, rel=0.01)
    assert found.predicted_p50_kg < found.likeliest_kg <= heavy + 0.1
    move = found.likeliest_kg - found.predicted_mean_kg
    assert move > 0.0
    listed = sum(cause.shift_kg for cause in found.causes)
    small = 0.02 * 12  # causes too small to list, and rounding
    assert listed + found.unexplained_kg == pytest.approx(move, abs=small)
    assert abs(found.unexplained_kg) < move
    assert found.days_d == 2.0
    assert any(line.startswith(f"Weighed: the scale says {heavy:.2f} kg") for line in found.sentences)


def test_a_changed_bottle_leaves_nothing_weighed(prepared: Prepared) -> None:
    entries = (Entry(MORNING, bottle=NAME, gross_kg=TARE_KG + FULL_KG, is_swapped=True),)
    found = record(prepared, entries, scenarios=SCENARIOS)
    assert found.weighed_kg is None
    assert found.likeliest_kg == pytest.approx(found.predicted_mean_kg)
    assert found.causes == ()
