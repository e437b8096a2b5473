"""Claims about the tables of a result: columns declared once, two clocks, bytes that repeat."""

from __future__ import annotations

import csv
import io
import subprocess
import sys
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from sample_tours import short_tour
from sample_vans import sample_vans

import budget
from budget import version
from budget.errors import BooksDoNotClose, InputFault
from budget.results.result import Result, hourly_csv
from budget.simulation import simulate
from budget.units import SUFFIXES, unit_of
from budget.weather.record import HourlyWeather

SAMPLES = Path(__file__).parents[2] / "weather_samples"
VANS = sample_vans()
COUNTS = {"starts", "place", "moving", "fuel", "people_inside"} | {f"bottle_{k}_swaps" for k in range(1, 9)}


@cache
def run(van: str = "demo", weather: str = "cold_snap") -> Result:
    return simulate(VANS[van], short_tour(VANS[van], weather), folder=SAMPLES)


@pytest.mark.parametrize("van", VANS)
def test_every_column_has_its_unit_at_the_end_of_its_name_or_is_a_count(van: str) -> None:
    """One table of suffixes, budget/units.py, for every stock, flow and hourly column."""
    result = run(van)
    for column in result.ledger:
        assert column.unit in SUFFIXES.values() or column.name in COUNTS, column.name
        assert column.meaning and column.sign
    for name in result.hourly.columns:
        assert unit_of(str(name)) is not None or name in COUNTS, name


def test_stocks_stand_at_the_edges_and_flows_in_the_hours_between() -> None:
    """72 hours have 72 flows and 73 stocks; the hourly row shows the stock at the end of its hour."""
    result = run()
    assert len(result.flows) == len(result.hourly) == 72
    assert len(result.stocks) == 73
    assert result.hourly.index.equals(result.timeline.index)
    assert result.hourly["living_air_c"].to_numpy() == pytest.approx(result.stocks["living_air_c"].to_numpy()[1:])
    assert result.hourly.index.tz is not None


def test_a_scale_is_read_every_morning_also_where_hours_start_at_another_minute() -> None:
    """Three mornings; half an hour on in the clock, the same hours are read at 08:30."""
    result = run()
    line = result.timeline
    half = pd.Timedelta(minutes=30)
    shifted = replace(result, timeline=replace(line, index=line.index + half, edges=line.edges + half))
    assert [f"{time:%d %H:%M}" for time in result.scale.index] == ["21 08:00", "22 08:00", "23 08:00"]
    assert list(shifted.scale.index) == list(result.scale.index + half)
    assert shifted.scale.to_numpy() == pytest.approx(result.scale.to_numpy())


def test_a_stock_read_with_its_flow_gives_the_next_stock() -> None:
    """The columns that people see close too: charge and fresh water, to the rounding of their units' scale (1e-9)."""
    result = run()
    flows, stocks = result.flows, result.stocks
    loads = [column.name for column in result.ledger if column.family == "load_ah"]
    into = flows["solar_ah"] + flows["alternator_ah"] + flows["mains_charger_ah"]
    change = into - flows[loads].sum(axis=1) - flows["charge_loss_ah"]
    assert np.diff(stocks["charge_ah"]) == pytest.approx(change.to_numpy(), abs=1e-9)
    used = flows[["shower_l", "dishes_l", "cold_water_l", "boiler_filled_l"]].sum(axis=1)
    assert np.diff(stocks["fresh_l"]) == pytest.approx((flows["refill_l"] - used).to_numpy(), abs=1e-9)


def test_gas_left_is_the_sum_of_the_bottles_and_the_scale_adds_their_tare() -> None:
    """Weight is what tells contents: the scale reads tare plus propane and butane."""
    result = run("butane")
    stocks, bottles = result.stocks, result.van.gas.bottles
    whole = sum(stocks[f"bottle_{k}_{gas}_kg"] for k in (1, 2) for gas in ("propane", "butane"))
    assert stocks["gas_left_kg"].to_numpy() == pytest.approx(whole.to_numpy())
    assert list(result.scale.index.hour) == [8, 8, 8]
    eight = result.scale.index[0]
    assert result.scale["bottle_1_gross_kg"].iloc[0] == pytest.approx(
        stocks.loc[eight, "bottle_1_kg"] + bottles[0].tare_kg
    )


def test_draws_name_who_and_when_and_what_was_had() -> None:
    """Three mornings and three evenings in 72 hours from noon to noon: one draw each, unless nobody is parked."""
    draws = run().draws
    assert list(draws.columns) == ["time", "who", "use", "litres_l", "served_l", "coldest_c", "wait_min"]
    assert list(draws["use"]) == ["dishes", "shower"] * 3
    assert draws["time"].iloc[1] == pd.Timestamp("2027-01-21T07:10", tz="Europe/Riga")
    assert (draws["served_l"] <= draws["litres_l"]).all()


def test_the_same_run_gives_the_same_bytes() -> None:
    """hourly.csv is text of fixed decimals, so that a comparison of files is a comparison of runs."""
    again = simulate(VANS["demo"], short_tour(VANS["demo"]), folder=SAMPLES)
    text = hourly_csv(run())
    assert text == hourly_csv(again)
    assert "-0.000000," not in text
    back = pd.read_csv(io.StringIO(text))
    assert back["time"].iloc[0] == "2027-01-20T12:00:00+02:00"
    # Six decimals are written.
    assert back["living_air_c"].to_numpy() == pytest.approx(run().hourly["living_air_c"].to_numpy(), abs=6e-7)


@pytest.mark.parametrize("place", ["Sõrve, by the light", 'the "old" quay', "50 % of \u202fnowhere", "nan"])
def test_any_reader_of_csv_finds_the_place_as_it_was_typed(place: str) -> None:
    """Comma and quotes in a name move no column, and a place called nan is no missing number."""
    tour = run().tour
    named = tour.stops[0].model_copy(update={"place": place})
    result = replace(run(), tour=tour.model_copy(update={"stops": (named, *tour.stops[1:])}))
    rows = list(csv.reader(io.StringIO(hourly_csv(result))))
    assert {len(row) for row in rows} == {len(result.hourly.columns) + 1}
    assert rows[1][rows[0].index("place")] == place
    assert rows[1][rows[0].index("living_air_c")] == f"{result.hourly['living_air_c'].iloc[0]:.6f}"


def test_an_hour_without_a_setpoint_has_nothing_in_its_field() -> None:
    """Not a number is nothing to read: the field stays empty."""
    hourly = run().hourly.copy()
    hourly.loc[hourly.index[0], "setpoint_c"] = np.nan
    result = replace(run())
    result.__dict__["hourly"] = hourly
    rows = list(csv.DictReader(io.StringIO(hourly_csv(result))))
    assert (rows[0]["setpoint_c"], rows[0]["place"]) == ("", result.tour.stops[0].place)
    assert float(rows[1]["setpoint_c"]) == hourly["setpoint_c"].iloc[1]


def test_two_bottles_of_one_name_are_both_exchanged() -> None:
    """An exchange place has as many bottles as the van brings: both nearly empty ones are full an hour later."""
    van = VANS["demo"]
    empty = tuple(bottle.model_copy(update={"start_kg": 0.5}) for bottle in van.gas.bottles)
    van = van.model_copy(update={"gas": van.gas.model_copy(update={"bottles": empty})})
    swaps = simulate(van, short_tour(van), folder=SAMPLES).summary["gas"]["swaps"]
    assert [(swap["position"], swap["place"]) for swap in swaps] == [(1, "second"), (2, "second")]


def test_weather_that_does_not_lie_on_the_tours_hours_is_refused() -> None:
    """One sentence with what is required, what arrived and what to do."""
    result = run()
    frame = result.weather.frame.iloc[:-1]
    short = HourlyWeather(
        frame=frame, notices=(), source="short", latitude_deg=58.0, longitude_deg=22.0, altitude_m=4.0
    )
    with pytest.raises(InputFault) as caught:
        simulate(result.van, result.tour, short)
    assert str(caught.value) == (
        "weather: must have one row for each of the tour's 72 hours from 2027-01-20T12:00:00+02:00, got 71 from "
        "2027-01-20T12:00:00+02:00; make it with for_tour, or leave it out."
    )


def test_weather_that_was_made_before_gives_the_same_result() -> None:
    """The record in a result can be handed in again."""
    result = run()
    again = simulate(result.van, result.tour, result.weather)
    assert again.summary == result.summary


def test_books_that_do_not_close_are_an_internal_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    """A kilogram that nobody drew: simulate raises instead of returning, and names book, part and hour."""
    from budget import simulation

    true_run = simulation.run_one

    def careless(*args: object, **named: object) -> object:
        many = true_run(*args, **named)  # type: ignore[arg-type]
        assert many.flows is not None
        many.flows[5, result.built.flows.gas_out_kg] += 1.0
        return many

    result = run()
    monkeypatch.setattr(simulation, "run_one", careless)
    with pytest.raises(BooksDoNotClose, match=r"got .* in (gas of (propane of bottle 1|burned against drawn)|heat)"):
        simulation.simulate(result.van, result.tour, result.weather)
    assert BooksDoNotClose.exit_code == 3


def test_importing_the_package_is_quick_and_every_public_name_is_there() -> None:
    """``import budget`` must bring neither pandas nor numba, pvlib or plotly; __all__ is true, nothing else found."""
    slow = ["pandas", "numba", "pvlib", "plotly", "pydantic"]
    code = f"import budget, sys; print([name for name in {slow} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
    assert budget.__version__ == version.__version__
    for name in set(budget.__all__) - {"__version__"}:
        assert getattr(budget, name).__name__ == name
        assert name in dir(budget)
    with pytest.raises(AttributeError, match="module 'budget' has no attribute 'nothing'"):
        budget.nothing  # noqa: B018
