"""The engine beside a second, independent model of the demo van (tests/second_model.py), all couplings but the named.

Promise: 1 % of the gas, 2 % of the heater fan's ampere-hours, 0.2 K in the mean temperature of each zone.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from second_model import SecondModel, Told

from budget.answers.prepared import Prepared
from budget.engine.batch import Many
from budget.tour.reader import load

PROPANE_J_PER_KG = 46.34e6
DAYS = 3


@cache
def demo() -> tuple[Prepared, Many]:
    prepared = Prepared.from_loaded(load(None))
    return prepared, prepared.run()


@cache
def second(hours: int) -> Told:
    return SecondModel(demo()[0]).run(hours)


def zone_means_c(hours: int) -> list[float]:
    """Mean air of each zone, from what its air gave to its lining and the lining's own slow course."""
    prepared, many = demo()
    built = prepared.built
    assert many.flows is not None
    assert many.stocks is not None
    names = list(built.node_names)
    means = []
    for zone in prepared.van.cabin.zones:
        edge = [e.name for e in built.edges].index(f"{zone.name} lining")
        given_w = many.flows[:hours, built.flows.edge_j + edge].mean() / 3600.0
        lining = many.stocks[: hours + 1, built.stocks.node_c + names.index(f"{zone.name}_fabric")]
        means.append(given_w / zone.fabric_coupling_w_per_k + float((0.5 * (lining[1:] + lining[:-1])).mean()))
    return means


def compare(hours: int) -> tuple[float, float, list[float]]:
    """Ours over theirs, less one: gas, fan; and by zone the difference of means. [K]"""
    prepared, many = demo()
    told = second(hours)
    assert many.flows is not None
    flows = prepared.built.flows
    gas = many.flows[:hours, flows.fuel_j].sum() / PROPANE_J_PER_KG / told.fuel_kg.sum() - 1.0
    fan = many.flows[:hours, flows.load_ah].sum() / told.fan_ah.sum() - 1.0
    zones = [ours - float(theirs) for ours, theirs in zip(zone_means_c(hours), told.air_c.mean(axis=0), strict=True)]
    return gas, fan, zones


def test_three_days_of_the_demo_take_the_gas_of_the_second_model() -> None:
    gas, _, _ = compare(24 * DAYS)
    assert abs(gas) <= 0.01


@pytest.mark.xfail(
    reason="thermal.advance keeps the fan's point at which the proportional band was entered: 5 to 8 % too much"
)
def test_three_days_of_the_demo_take_the_fan_current_of_the_second_model() -> None:
    _, fan, _ = compare(24 * DAYS)
    assert abs(fan) <= 0.02


def test_three_days_of_the_demo_have_the_zone_temperatures_of_the_second_model() -> None:
    _, _, zones = compare(24 * DAYS)
    assert np.max(np.abs(zones)) <= 0.2, zones


def test_the_second_model_would_notice_six_per_cent_more_loss() -> None:
    """The same comparison with losses 6 % larger in the engine alone leaves the promise for gas."""
    prepared, many = demo()
    from budget.engine.arrays import GLASS, LEAKAGE, LOSS
    from budget.engine.batch import base_factors

    factors = base_factors()
    factors[:, [LOSS, GLASS, LEAKAGE]] = 1.06
    worse = prepared.run(factors)
    fuel = prepared.built.flows.fuel_j
    assert worse.flows is not None
    assert many.flows is not None
    theirs = second(24 * DAYS).fuel_kg.sum()
    assert worse.flows[: 24 * DAYS, fuel].sum() / PROPANE_J_PER_KG / theirs > 1.01


@pytest.mark.long
@pytest.mark.xfail(reason="1.4 % of the gas so far: the second model's charger on hook-up is simpler; and the fan")
def test_the_whole_demo_tour_agrees_with_the_second_model() -> None:
    gas, fan, zones = compare(demo()[0].hours_count)
    assert abs(gas) <= 0.01
    assert abs(fan) <= 0.02
    assert np.max(np.abs(zones)) <= 0.2, zones
