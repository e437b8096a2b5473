"""The engine beside a second, independent model of whole vans (tests/second_model.py), all couplings.

Promise, the project's own: 1 % of the gas, 2 % of the heater fan's ampere-hours, 0.2 K in the mean temperature of
each zone. A short tour of little gas or current is allowed a burst of the burner: 10 g, and what the fan takes in it.
Whether a battery cuts out is decided at quarter hours, and a hair's breadth of charge moves it by one: each time it
does, a quarter of an hour at rated output is allowed, and what that moves a zone's mean.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from random_vans import random_tour, random_van
from second_model import SecondModel, Told
from second_van import opaque_u, pane_u, u_at, warmer

from budget.answers.prepared import Prepared
from budget.engine.arrays import GLASS, LEAKAGE, LOSS
from budget.engine.batch import Many, base_factors
from budget.tour.reader import load

SAMPLES = Path(__file__).parents[2] / "weather_samples"
PROPANE_J_PER_KG = 46.34e6
GAS, FAN, ZONE_K = 0.01, 0.02, 0.2
BURST_KG, BURST_AH = 0.010, 0.05
CUT_OUT_K = 0.05  # a quarter at 4 kW in 3 days is the mean of 14 W, into 100 W/K and some for the time it lasts
DAYS = 3


@dataclass(frozen=True)
class Beside:
    """Ours and theirs: gas [kg], fan [Ah], mean of each zone [°C]; and what cut-outs allow: gas [kg], fan [Ah], [K]."""

    gas_kg: tuple[float, float]
    fan_ah: tuple[float, float]
    zone_c: tuple[np.ndarray, np.ndarray]
    cut_out: tuple[float, float, float]

    @property
    def gas_off(self) -> float:
        return self.gas_kg[0] - self.gas_kg[1]

    @property
    def fan_off(self) -> float:
        return self.fan_ah[0] - self.fan_ah[1]

    @property
    def zone_off(self) -> float:
        return float(np.abs(self.zone_c[0] - self.zone_c[1]).max())

    @property
    def agrees(self) -> bool:
        return (
            abs(self.gas_off) <= GAS * self.gas_kg[1] + BURST_KG + self.cut_out[0]
            and abs(self.fan_off) <= FAN * self.fan_ah[1] + BURST_AH + self.cut_out[1]
            and self.zone_off <= ZONE_K + self.cut_out[2]
        )


def zone_means_c(prepared: Prepared, many: Many, hours: int) -> np.ndarray:
    """Mean air of each zone, from what one of its elements lost through a conductance that is known by the hour."""
    built, rows, line = prepared.built, prepared.rows[:hours], prepared.timeline
    names = [edge.name for edge in built.edges]
    assert many.flows is not None
    means = []
    for zone in prepared.van.cabin.zones:
        part = (*zone.opaque, *zone.glazing)[0]
        number = names.index(f"{zone.name} {part.name}")
        share = float(built.arrays[0].edge_air_share[number]) * warmer(zone, part.faces) * part.area_m2
        u = [opaque_u(part) if zone.opaque else pane_u(part, s) for s in line.screens[:hours]]
        g = np.array([share * u_at(value, wind) for value, wind in zip(u, rows[:, 1], strict=True)])
        lost_w = many.flows[:hours, built.flows.edge_j + number] / 3600.0
        means.append(float((rows[:, 0] + lost_w / g).mean()))
    return np.array(means)


def beside(prepared: Prepared, many: Many, told: Told, hours: int) -> Beside:
    flows = prepared.built.flows
    assert many.flows is not None
    top, off_s = prepared.van.heater.stages[-1], many.flows[:hours, flows.cut_out_s]
    times = int(np.count_nonzero((off_s[1:] > 0.0) & (off_s[:-1] == 0.0)))
    quarter_kg = top.output_w / top.efficiency_share * 900.0 / PROPANE_J_PER_KG
    quarter_ah = 0.25 * top.fan_w / prepared.van.power.battery.nominal_v
    return Beside(
        (float(many.flows[:hours, flows.fuel_j].sum()) / PROPANE_J_PER_KG, float(told.fuel_kg.sum())),
        (float(many.flows[:hours, flows.load_ah].sum()), float(told.fan_ah.sum())),
        (zone_means_c(prepared, many, hours), told.air_c.mean(axis=0)),
        (times * quarter_kg, times * quarter_ah, times * CUT_OUT_K),
    )


@cache
def demo() -> Prepared:
    return Prepared.from_loaded(load(None))


@cache
def second(hours: int) -> Told:
    return SecondModel(demo()).run(hours)


@cache
def of_random(seed: int, hours: int | None = None) -> Beside:
    van = random_van(seed)
    prepared = Prepared.of(van, random_tour(van, seed), folder=SAMPLES)
    hours = prepared.hours_count if hours is None else hours
    return beside(prepared, prepared.run(), SecondModel(prepared).run(hours), hours)


def test_three_days_of_the_demo_agree_with_the_second_model() -> None:
    assert (found := beside(demo(), demo().run(), second(24 * DAYS), 24 * DAYS)).agrees, found


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_two_days_of_random_vans_agree_with_the_second_model(seed: int) -> None:
    assert (found := of_random(seed, 48)).agrees, found


def test_the_second_model_would_notice_six_per_cent_more_loss() -> None:
    """The same comparison with losses 6 % larger in the engine alone leaves the promise for gas."""
    factors = base_factors()
    factors[:, [LOSS, GLASS, LEAKAGE]] = 1.06
    found = beside(demo(), demo().run(factors), second(24 * DAYS), 24 * DAYS)
    assert found.gas_off > GAS * found.gas_kg[1] + BURST_KG


@pytest.mark.long
def test_the_whole_demo_tour_agrees_with_the_second_model() -> None:
    hours = demo().hours_count
    assert (found := beside(demo(), demo().run(), second(hours), hours)).agrees, found


@pytest.mark.long
@pytest.mark.parametrize("seed", range(50))
def test_fifty_random_vans_on_their_tours_agree_with_the_second_model(seed: int) -> None:
    assert (found := of_random(seed)).agrees, found
