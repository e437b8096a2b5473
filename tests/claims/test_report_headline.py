"""The sentence on top: what to take, how sure it is, what fails first."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace
from typing import Any

import pandas as pd
import pytest

from budget.report.first_out import Supply
from budget.report.headline import headline
from budget.report.headline_odds import with_odds

NIGHT = dt.datetime(2027, 1, 21, 23, 0)


def result(*, bottles: int = 3, swaps: int = 0, cut_h: float = 0.0, needed_kg: float = 57.0) -> Any:
    """As much of a result as the headline reads: 11 kg bottles, 24 nights that burn 57 kg."""
    gas = {
        "total_kg": 57.0, "needed_kg": needed_kg, "short_of": ["battery"] if cut_h else [],
        "bottles_needed": 6, "swaps": [{"needed": True}] * swaps,
        "bottles_needed_basis": {"net_kg": 11.0, "reserve_nights": 1.5},
    }  # fmt: skip
    return SimpleNamespace(
        summary={"gas": gas, "tour": {"nights": 24}},
        van=SimpleNamespace(gas=SimpleNamespace(bottles=(None,) * bottles)),
        flows=pd.DataFrame({"cut_out_min": [60.0 * cut_h]}),
    )


def odds(**told: Any) -> Any:
    """Odds of which nine in ten take seven bottles."""
    chances = {5: 0.41, 6: 0.77, 7: 0.96, 8: 1.0}
    known = {
        "chance_by_bottles_share": chances, "bottle_kg": 11.0, "carried_share": 0.92, "cut_out_share": 0.02,
        "cut_out_one_in_ten": None, "cut_out_in_half": None, "binds": "gas",
        "first_one_in_ten": NIGHT, "run_out_one_in_ten": NIGHT,
        "bottles_for": lambda share: min((n for n, chance in chances.items() if chance >= share), default=None),
    }  # fmt: skip
    return SimpleNamespace(**known | told)


@pytest.mark.parametrize(
    ("what", "drawn", "said"),
    [
        (
            result(swaps=5), odds(),
            "Take 3 × 11 kg and swap 5 on the way: with power 92 in 100 such tours end with gas left; "
            "gas binds first, by the night of 21 January in one of ten.",
        ),
        (
            result(), odds(),
            "Take 7 × 11 kg: with power 96 in 100 such tours end with gas left; "
            "what is on board lasts until the night of 21 January in nine of ten.",
        ),
        (
            result(bottles=8), odds(binds=None, cut_out_share=0.0),
            "Take 7 × 11 kg: 96 in 100 such tours end with gas left; nothing binds.",
        ),
        (
            result(bottles=8), odds(first_one_in_ten=None, cut_out_share=0.0),
            "Take 7 × 11 kg: 96 in 100 such tours end with gas left; in nine of ten nothing binds, else mostly gas.",
        ),
        (
            result(), odds(cut_out_share=0.7, cut_out_in_half=NIGHT),
            "The battery cuts out in 70 in 100 such tours, in half of all by the night of 21 January, and the heater "
            "with it: more charge first, then 7 × 11 kg of gas, enough with power in 96 in 100.",
        ),
        (
            result(), odds(cut_out_share=1.0, cut_out_in_half=NIGHT, bottles_for=lambda share: None),
            "The battery cuts out in all such tours, in half of them by the night of 21 January, and the heater "
            "with it: more charge first, then 8 × 11 kg of gas, enough with power in all of them.",
        ),
    ],
    ids=["swaps on the way", "more than is carried", "nothing binds", "rarely binds", "no charge", "never any charge"],
)  # fmt: skip
def test_the_headline_says_what_lasts_in_how_many_tours_and_what_binds(what: Any, drawn: Any, said: str) -> None:
    assert with_odds(what, drawn) == said


def test_a_chance_near_one_is_not_called_certain_and_certainty_is_all() -> None:
    assert "99 in 100 such" in with_odds(result(swaps=5), odds(carried_share=0.999))
    assert ": with power all such tours" in with_odds(result(swaps=5), odds(carried_share=1.0))


def test_a_battery_that_cuts_out_is_said_before_the_gas_that_it_saves() -> None:
    cut = Supply("Battery", pd.Timestamp(NIGHT), 0.5, "cuts out")
    said = headline(result(cut_h=30.0, needed_kg=60.0), [cut])
    assert said == (
        "The battery cuts out in the night of 21 January, and the heater with it: 30 h without. "
        "As it stands the tour burns 57 kg, with power and gas to the end 60 kg: more charge first, then 6 × 11 kg of "
        "gas."
    )
    lasts = headline(result(swaps=5), [Supply("Gas", None, 1.0, "lasts")])
    assert lasts == (
        "Take 3 × 11 kg and swap 5 on the way: 24 nights burn 57 kg, and 1.5 nights' reserve comes on top; "
        "nothing on board runs out."
    )
