"""What a run hands over to its further answers."""

from __future__ import annotations

from types import SimpleNamespace as Found
from typing import Any

import pandas as pd
import pytest

from budget.answers import tonight
from budget.cli.further import Further


@pytest.mark.parametrize(
    ("charge_share", "percent", "gas_kg", "left_kg"),
    [(-0.02, 0.0, 2.75, 2.75), (1.0049, 100.0, 5.0, 2.75), (1.02, 100.0, -0.04, 0.0), (0.634, 63.0, 1.26, 1.3)],
)
def test_tonight_is_asked_with_what_it_takes_whatever_the_run_comes_to(
    monkeypatch: pytest.MonkeyPatch, charge_share: float, percent: float, gas_kg: float, left_kg: float
) -> None:
    """A charge under nothing or over full, and gas that rounding makes more than the bottle of 2.75 kg holds: nobody
    gave them, so that no option is refused for them."""
    index = pd.date_range("2027-01-12 12:00", periods=30, freq="h", tz="Europe/Riga")
    stocks = pd.DataFrame({"gas_left_kg": gas_kg, "charge_share": charge_share, "living_air_c": 18.0}, index=index)
    van = Found(heater=Found(sensor_zone="living"), gas=Found(bottles=(Found(net_kg=2.75),)))
    run = Found(stocks=stocks, timeline=Found(index=index), van=van, air_c=lambda zone: stocks[f"{zone}_air_c"])
    further: Any = Found(
        result=run, scenarios=20, seed=1, prepared=None,
        _coldest_evening_off_grid=index[10],
    )  # fmt: skip
    monkeypatch.setattr(tonight, "answer", lambda prepared, **asked: asked)
    asked = Further.tonight.func(further)
    assert (asked["charge_percent"], asked["gas_left_kg"]) == (percent, left_kg)
    assert asked["at"] == index[5].to_pydatetime()
