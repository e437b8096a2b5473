"""A weighing moves the forecast the way Bayes says, and a reading that cannot be is refused with its reason."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from sample_tours import short_tour
from sample_vans import one_room

from budget.answers.ensemble import BAND_STEP_H, InTurn, ensemble
from budget.answers.logbook import Entry, check, read_logbook, with_entry, written
from budget.answers.odds import Supply
from budget.answers.prepared import Prepared
from budget.answers.record import answer as record
from budget.answers.weigh import answer
from budget.errors import InputFault

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
def used_kg(prepared: Prepared) -> np.ndarray:
    """What each scenario has used by the morning."""
    kept = ensemble(prepared, SCENARIOS, 1, replay=Supply.of(prepared)).run(InTurn())
    return np.asarray(kept.used_band_kg[:, 48 // BAND_STEP_H], dtype=float)


def test_a_weight_as_expected_narrows_the_forecast(prepared: Prepared, used_kg: np.ndarray) -> None:
    """The median use weighed: the band of kg a day narrows, fewer scenarios count, and its middle stays inside."""
    found = answer(
        prepared,
        (Entry(MORNING, bottle=NAME, gross_kg=TARE_KG + FULL_KG - float(np.median(used_kg))),),
        scenarios=SCENARIOS,
        executor=InTurn(),
    )
    before, after = found.steps
    assert after.effective < before.effective == pytest.approx(SCENARIOS)
    mean = float(found.weights @ used_kg)
    assert np.sqrt(found.weights @ (used_kg - mean) ** 2) < 0.6 * used_kg.std()
    assert mean == pytest.approx(float(np.median(used_kg)), abs=0.5 * float(used_kg.std()))


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


def test_a_changed_bottle_tells_what_is_left_and_nothing_of_the_use(prepared: Prepared) -> None:
    found = answer(
        prepared,
        (Entry(MORNING, bottle=NAME, gross_kg=TARE_KG + FULL_KG, is_swapped=True),),
        scenarios=SCENARIOS,
        executor=InTurn(),
    )
    assert found.steps[-1].effective == pytest.approx(SCENARIOS)
    assert found.steps[-1].left_kg == pytest.approx(FULL_KG)


def test_the_same_reading_twice_counts_once_and_the_logbook_reads_back(tmp_path: Path) -> None:
    entry = Entry(MORNING, bottle=NAME, gross_kg=18.4)
    charge = Entry(MORNING, charge_percent=61.0)
    book = with_entry(with_entry(with_entry((), entry), charge), entry)
    assert len(book) == 2
    path = tmp_path / "my-tour.logbook.toml"
    path.write_text(written(book), encoding="utf-8")
    assert read_logbook(path) == book
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


def test_the_record_splits_the_difference_into_causes(prepared: Prepared, used_kg: np.ndarray) -> None:
    """More weighed than expected: causes and what they leave unexplained add up to the posterior's move exactly."""
    heavy = float(np.quantile(used_kg, 0.9))
    entries = (Entry(MORNING, bottle=NAME, gross_kg=TARE_KG + FULL_KG - heavy),)
    found = record(prepared, entries, scenarios=SCENARIOS)
    move = found.weighed_kg - float(used_kg.mean())
    assert move > 0.0
    listed = sum(cause.shift_kg for cause in found.causes)
    small = 0.02 * 12  # causes too small to list, and rounding
    assert listed + found.unexplained_kg == pytest.approx(move, abs=small)
    assert abs(found.unexplained_kg) < move
    assert found.days_d == 2.0
