"""A battery's heating pad, and what valve and regulator let through, in the engine."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from sample_vans import one_room, sample_vans

from budget.answers.conditions import Conditions, march, unlimited
from budget.engine.batch import Many
from budget.engine.layout import FIXED_LOADS
from budget.engine.van_arrays import BuiltVan, build_van
from budget.physics.properties import PROPANE_LOWER_J_PER_KG
from budget.van import presets
from budget.van.description import VanDescription
from budget.van.model import Van

PAD_W = 50.0
CAPACITY_J_PER_K = 12_000.0
COUPLING_W_PER_K = 2.0


def with_pad(pad_w: float = PAD_W, **changes: Any) -> Van:
    battery = {
        "zone": "outdoors", "start_share": 0.5, "pad_w": pad_w, "heat_capacity_j_per_k": CAPACITY_J_PER_K,
        "coupling_w_per_k": COUPLING_W_PER_K,
    }  # fmt: skip
    return one_room(power={"battery": battery | changes})


def run(van: Van, hours: int = 8, **fields: Any) -> tuple[BuiltVan, Many]:
    """Hours at -10 °C with the heater off."""
    built = build_van(van)
    state = Conditions(outdoor_c=-10.0)
    return built, march(built, state, hours, set_c=np.nan, start_c=-10.0, heater_allowed=0, **fields)


def battery_c(built: BuiltVan, many: Many) -> np.ndarray:
    assert many.stocks is not None
    return many.stocks[:, built.stocks.node_c + built.node_names.index("battery")]


def pad_ah(built: BuiltVan, many: Many) -> np.ndarray:
    assert many.flows is not None
    return many.flows[:, built.flows.load_ah + FIXED_LOADS.index("battery_pad")]


def test_a_cold_lithium_battery_takes_charge_only_once_its_pad_has_warmed_it() -> None:
    """30 A of alternator at -10 °C. Without pad the cold-charge block holds for the whole drive. With 50 W against
    2 W/K the battery would rest at +15 °C, and its warming is an exponential of 100 minutes. The pad's heat of a
    quarter arrives at the quarter's end: at an edge it is ahead by half of 3.75 K at the most."""
    bare, padded = run(with_pad(0.0), alternator=1.0), run(with_pad(), alternator=1.0)
    for (built, many), gained in ((bare, False), (padded, True)):
        assert many.stocks is not None
        charge = many.stocks[:, built.stocks.charge_ah]
        assert (charge[-1] > charge[0] + 20.0) == gained
        assert not gained or charge[1] == charge[0]  # the first hour goes into warmth
    warm = battery_c(*padded)
    exact_c = 15.0 - 25.0 * np.exp(-3600.0 * COUPLING_W_PER_K / CAPACITY_J_PER_K)
    assert exact_c < warm[1] < exact_c + 0.5 * PAD_W * 900.0 / CAPACITY_J_PER_K
    assert warm.max() <= 9.0 + 1e-9
    assert warm[3:].min() > 0.0


def test_the_pad_draws_its_watts_and_they_are_heat_in_the_battery() -> None:
    """In the first hour it never stops: 50 W over 12.8 V is 3.91 Ah, 180 kJ."""
    built, many = run(with_pad(), 1, alternator=1.0)
    assert many.flows is not None
    assert pad_ah(built, many)[0] == pytest.approx(PAD_W / 12.8, rel=1e-12)
    assert many.flows[0, built.flows.pad_j] == pytest.approx(PAD_W * 3600.0, rel=1e-12)


@pytest.mark.parametrize("source", [{}, {"hookup_w": 300.0}])
def test_the_pad_takes_surplus_only_and_never_from_the_battery(source: dict[str, float]) -> None:
    built, many = run(with_pad(), **source)
    assert many.stocks is not None
    charge = many.stocks[:, built.stocks.charge_ah]
    assert (pad_ah(built, many).sum() > 0.0) == bool(source)
    assert np.all(np.diff(charge) >= (0.0 if source else -np.inf))
    if not source:
        assert np.all(battery_c(built, many) <= -9.9)


def test_a_warm_battery_leaves_its_pad_off() -> None:
    van = one_room(power={"battery": {"start_share": 0.5, "pad_w": PAD_W}})
    built = build_van(van)
    many = march(built, Conditions(outdoor_c=5.0), 24, set_c=20.0, start_c=20.0, alternator=1.0)
    assert pad_ah(built, many).max() == 0.0


def test_the_self_heating_preset_brings_a_pad_that_grows_with_the_battery() -> None:
    answers = {
        "length_m": 6.0, "insulation": "foam 25-32 mm", "heater": "warm-air and water heater 4 kW",
        "bottles": ["11 kg exchange"], "battery": "LiFePO4, self-heating", "battery_ah": 200.0,
    }  # fmt: skip
    van = VanDescription.model_validate(answers).to_van()
    assert van.power.battery.pad_w == 2.0 * presets.get("battery", "LiFePO4, self-heating").usual("pad_w")
    assert VanDescription.model_validate(answers | {"battery": "LiFePO4"}).to_van().power.battery.pad_w == 0.0


@pytest.mark.parametrize("limit_kg_per_h", [0.1, 0.2, 1.5])
def test_valve_and_regulator_hold_the_heater_to_their_kilograms_an_hour(limit_kg_per_h: float) -> None:
    """Eight wide bottles feed together, so that no bottle limits; 4 kW at 0.87 take 0.36 kg/h of propane.

    Each quarter the fuel of two starts (2.6 g) is kept back, and what is left is turned into heat at the stages' least
    efficiency, 0.87 where 0.89 may be burned.
    """
    van = unlimited(sample_vans()["demo"])
    van = van.model_copy(update={"gas": van.gas.model_copy(update={"regulator_kg_per_h": limit_kg_per_h})})
    built = build_van(van)
    many = march(built, Conditions(outdoor_c=-20.0), 24, set_c=40.0, start_c=-20.0)
    assert many.flows is not None
    kg = many.flows[:, built.flows.heating_kg]
    rated_kg = 4000.0 / 0.87 * 3600.0 / PROPANE_LOWER_J_PER_KG
    assert kg.max() <= min(limit_kg_per_h, 1.01 * rated_kg)
    assert kg.max() >= 0.96 * min(limit_kg_per_h - 4.0 * 0.0026, rated_kg)
    assert (many.flows[:, built.flows.unserved_heating_kg].sum() > 0.0) == (limit_kg_per_h < rated_kg)
