"""The books close: every sample van through every sample weather, every part, every hour.

An account is a list of engine columns with factors (budget/results/balance.py). Each flow is computed by the engine
from its own law and each stock is read from its state, so a wrong flow leaves a residual.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from corrupt import least, of_hour, residual_of_wrong_flow
from hypothesis import given, settings
from hypothesis import strategies as st
from sample_tours import WEATHERS, short_tour
from sample_vans import sample_vans

from budget.engine.layout import Flows, Stocks
from budget.results.balance import TOLERANCE, Account, accounts_of, balance_of
from budget.results.ledger import Column, columns
from budget.results.result import Result
from budget.simulation import simulate
from budget.van.heater import Duct

SAMPLES = Path(__file__).parents[2] / "weather_samples"
VANS = sample_vans()
VANS["underfloor"] = VANS["demo"].model_copy(
    update={
        "ducts": (
            Duct(name="cab under the floor", zone="cab", length_m=3.0, runs_through="outdoors"),
            Duct(name="living", zone="living", length_m=1.5),
        ),
        "heater": VANS["demo"].heater.model_copy(update={"return_cm2": 40.0, "supply_limit_c": 50.0}),
        "power": VANS["demo"].power.model_copy(
            update={"battery": VANS["demo"].power.battery.model_copy(update={"zone": "outdoors", "pad_w": 60.0})}
        ),
    }
)
_butane = VANS["butane"]
VANS["nearly_empty"] = _butane.model_copy(
    update={
        "gas": _butane.gas.model_copy(
            update={"bottles": tuple(b.model_copy(update={"start_kg": 0.2 * b.net_kg}) for b in _butane.gas.bottles)}
        ),
        "water": _butane.water.model_copy(
            update={"waste": _butane.water.waste.model_copy(update={"capacity_l": 12.0, "start_l": 11.0})}
        ),
    }
)


@cache
def run(van: str, weather: str = "cold_snap") -> Result:
    return simulate(VANS[van], short_tour(VANS[van], weather), folder=SAMPLES)


@cache
def accounts(van: str) -> tuple[Account, ...]:
    result = run(van)
    return tuple(accounts_of(result.built, result.hours, result.weather_rows))


def families(kind: str) -> list[str]:
    return sorted(
        {column.family for column in columns(run("demo").built) if column.kind == kind and not column.derived}
    )


@pytest.mark.parametrize("weather", WEATHERS)
@pytest.mark.parametrize("van", VANS)
def test_every_book_closes_in_every_hour(van: str, weather: str) -> None:
    """Opening + in - out = closing for every zone, node, bottle, tank and surface.

    Tolerance: 1e-9 of the hour's gross flow, the review's figure; rounding alone leaves about 1e-11.
    """
    balance = run(van, weather).balance
    assert set(balance.by_book) == {"heat", "gas", "charge", "water", "vapour"}
    assert all(fraction <= 1e-9 for fraction in balance.by_book.values()), balance


@pytest.mark.parametrize("family", families("flow"))
def test_corrupting_any_one_flow_by_one_percent_breaks_a_book(family: str) -> None:
    """No flow is a remainder: every column of the family that flows in a sample run, made 1 % larger in its greatest
    hour, leaves a residual over the tolerance. A family that never flows would prove nothing, and fails."""
    flowed = 0
    for van in VANS:
        result = run(van)
        rows, stocks = result.many.flows, result.many.stocks
        assert rows is not None and stocks is not None
        for column in _of(result, family):
            if np.abs(rows[:, column]).max() < least(family):
                continue
            largest = residual_of_wrong_flow(accounts(van), stocks, rows, column)
            assert largest > TOLERANCE, f"{family} column {column} of {van} is in no account that notices it"
            flowed += 1
    assert flowed, f"{family} never flows in the sample runs; enlarge them"


@pytest.mark.parametrize("family", sorted(set(families("stock")) - {"node_c", "ice_kg"}))
def test_corrupting_any_one_stock_by_one_percent_breaks_a_book(family: str) -> None:
    """Temperature and ice stand in the heat stock of their node; every other stock has an account of its own."""
    seen = 0
    for van in VANS:
        result = run(van)
        rows, stocks = result.many.flows, result.many.stocks
        assert rows is not None and stocks is not None
        for column in [c.index[0] for c in result.ledger if c.family == family and c.kind == "stock"]:
            hour = int(np.argmax(np.abs(stocks[1:, column])))
            if abs(stocks[hour + 1, column]) < 1e3 * least(family):
                continue
            corrupted = stocks[hour : hour + 2].copy()
            corrupted[1, column] *= 1.01
            largest = max(
                float(of_hour(account, hour).residual_fraction(corrupted, rows[hour : hour + 1])[0])
                for account in accounts(van)
                if column in {index for index, _ in account.stocks}
            )
            assert largest > TOLERANCE
            seen += 1
    assert seen


def _of(result: Result, family: str) -> list[int]:
    return [column.index[0] for column in result.ledger if column.family == family and not column.derived]


@pytest.mark.parametrize("van", VANS)
def test_ledger_covers_every_engine_column_exactly_once(van: str) -> None:
    """The engine's rows are declared column by column: none forgotten, none twice."""
    built = run(van).built
    own = [column for column in columns(built) if not column.derived]
    for stock, width, offsets in ((True, built.stocks.width, built.stocks), (False, built.flows.width, built.flows)):
        index = [column.index[0] for column in own if (column.kind == "stock") == stock]
        assert sorted(index) == list(range(width))
        starts = {getattr(offsets, name): name for name in type(offsets)._fields if name != "count"}
        for column in own:
            if (column.kind == "stock") == stock and column.index[0] in starts:
                assert column.family == starts[column.index[0]] or _empty(offsets, column)
    names = [column.name for column in columns(built)]
    assert len(set(names)) == len(names)


def _empty(offsets: Stocks | Flows, column: Column) -> bool:
    """Two families start at one place when the first has no columns (a van without ducts)."""
    return getattr(offsets, column.family) == column.index[0]


@pytest.mark.parametrize("van", VANS)
def test_idle_columns_are_zero(van: str) -> None:
    """What the hourly table leaves out is zero by construction."""
    result = run(van)
    idle = [column.name for column in result.ledger if column.idle]
    assert (result.flows[idle] == 0.0).all(axis=None)


def test_balance_names_the_worst_account_and_takes_nan_for_the_worst_residual() -> None:
    """A flow that is not a number must never pass for a closed book."""
    result = run("demo")
    rows, stocks = result.many.flows, result.many.stocks
    assert rows is not None and stocks is not None
    broken = rows.copy()
    broken[7, result.built.flows.refill_l] = np.nan
    balance = balance_of(list(accounts("demo")), stocks, broken)
    assert balance.worst == "water of fresh tank in hour 7"
    assert balance.by_book["water"] == np.inf


@settings(max_examples=12, deadline=None, derandomize=True)
@given(
    van=st.sampled_from(sorted(VANS)),
    weather=st.sampled_from(sorted(WEATHERS)),
    air_c=st.one_of(st.just("off"), st.floats(5.0, 30.0)),
    water_c=st.one_of(st.just("off"), st.floats(10.0, 80.0)),
    start_c=st.floats(-20.0, 30.0),
    hookup_a=st.floats(0.0, 16.0),
    litres_l=st.floats(0.5, 60.0),
    offset_k=st.floats(-15.0, 15.0),
)
def test_books_close_whatever_the_tour_asks(
    van: str,
    weather: str,
    air_c: float | str,
    water_c: float | str,
    start_c: float,
    hookup_a: float,
    litres_l: float,
    offset_k: float,
) -> None:
    """Drawn at random: schedules, a frozen or hot start, hook-ups, great and small showers, hard frost and thaw."""
    base = short_tour(VANS[van], weather).model_dump(mode="json", exclude_none=True)
    base["schedules"] = {"usual": {"steps": [{"at": "06:00", "air_c": air_c, "water_c": water_c}]}}
    base["start_inside_c"] = start_c
    base["weather"]["offset_k"] = offset_k
    base["stops"][1]["hookup_a"] = hookup_a
    base["draws"][0]["litres_l"] = litres_l
    tour = type(short_tour(VANS[van])).model_validate(base)
    balance = simulate(VANS[van], tour, folder=SAMPLES).balance
    assert balance.largest_residual_fraction <= 1e-9, balance
