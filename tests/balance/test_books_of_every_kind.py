"""The books close whatever is put together: every sample van, weather and schedule, on tours drawn at random.

The whole product is long; a share of it, drawn from a seed, and no flow that may be 1 % wrong, in the ordinary line.
"""

from __future__ import annotations

from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from corrupt import least, residual_of_wrong_flow
from random_vans import random_tour
from sample_tours import WEATHERS
from sample_vans import sample_vans

from budget.results.balance import TOLERANCE, accounts_of
from budget.results.result import Result
from budget.simulation import simulate

SAMPLES = Path(__file__).parents[2] / "weather_samples"
VANS = sample_vans()
SCHEDULES: dict[str, list[dict[str, Any]]] = {
    "day and night": [{"at": "06:30", "air_c": 20.0, "water_c": 60.0}, {"at": "22:00", "air_c": 14.0}],
    "steady": [{"at": "00:00", "air_c": 19.0, "water_c": 50.0}],
    "off by night": [{"at": "07:00", "air_c": 21.0, "water_c": 60.0}, {"at": "23:00", "air_c": "off"}],
    "frost only": [{"at": "00:00", "air_c": 5.0, "water_c": "off"}],
    "water alone": [{"at": "00:00", "air_c": "off", "water_c": 60.0}],
    "off": [{"at": "00:00", "air_c": "off", "water_c": "off"}],
    "hot and hourly": [{"at": f"{h:02d}:00", "air_c": 30.0 - (h % 2) * 15.0, "water_c": 80.0} for h in range(24)],
}
TOURS = 3
WHOLE = list(product(sorted(VANS), sorted(WEATHERS), SCHEDULES, range(TOURS)))
_draw = np.random.default_rng(20270109)
SHARE = [WHOLE[k] for k in sorted(_draw.choice(len(WHOLE), 30, replace=False))]


def run(van: str, weather: str, schedule: str, seed: int) -> Result:
    tour = random_tour(VANS[van], seed, weather, SCHEDULES[schedule])
    return simulate(VANS[van], tour, folder=SAMPLES)


def closes(result: Result) -> bool:
    """All five books to 1e-9 of the hour's gross flow, the review's figure; rounding alone leaves about 1e-11."""
    books = result.balance.by_book
    return set(books) == {"heat", "gas", "charge", "water", "vapour"} and max(books.values()) <= 1e-9


@pytest.mark.parametrize(("van", "weather", "schedule", "seed"), SHARE)
def test_books_close_and_notice_one_percent_in_a_share_of_the_whole(
    van: str, weather: str, schedule: str, seed: int
) -> None:
    """Five flows of the run, drawn at random and made 1 % larger in their greatest hour, each break a book."""
    result = run(van, weather, schedule, seed)
    assert closes(result), result.balance
    rows, stocks = result.many.flows, result.many.stocks
    assert rows is not None and stocks is not None
    accounts = accounts_of(result.built, result.hours, result.weather_rows)
    greatest = np.abs(rows).max(axis=0)
    flowing = [
        c for c in result.ledger if c.kind == "flow" and not c.derived and greatest[c.index[0]] > least(c.family)
    ]
    for column in np.random.default_rng(seed).choice(np.array(flowing, dtype=object), 5, replace=False):
        assert residual_of_wrong_flow(accounts, stocks, rows, column.index[0]) > TOLERANCE, column.name


@pytest.mark.long
@pytest.mark.parametrize("van", sorted(VANS))
def test_books_close_over_the_whole_product(van: str) -> None:
    for _, weather, schedule, seed in [case for case in WHOLE if case[0] == van]:
        result = run(van, weather, schedule, seed)
        assert closes(result), (weather, schedule, seed, result.balance)
