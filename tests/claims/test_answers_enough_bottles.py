"""A mixture in the cold: what is left of its propane, how full it can still be, and what is warned of and then seen."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace as Found
from typing import Any

import numpy as np
import pytest
from small_tour import small, steady
from test_answers_enough import night, room

from budget.answers.enough import warnings
from budget.answers.enough_bottles import most_left_kg, propane_left_kg
from budget.van.gas import Bottle
from budget.van.model import Van


def mixed(propane_share: float, count: int = 1, **gas: Any) -> Van:
    bottle = {"name": "mix", "net_kg": 11.0, "tare_kg": 11.0, "propane_share": propane_share}
    return room(gas={"bottles": [bottle] * count, "locker_zone": "outdoors"} | gas)


def told(van: Van, outdoor_c: float) -> list[str]:
    return [one for one in warnings(van, night(), steady(outdoor_c).weather) if one.startswith("A bottle")]


def test_propane_boils_off_first_and_a_pure_gas_stays_as_it_is() -> None:
    """At 20 °C propane has 4.0 times the vapour pressure of butane: by Rayleigh's law, ln(p/p0) = 4.0 ln(b/b0) of the
    moles; of 30 % by mass, 36 % by moles, 4 to 5 % are left in a third."""
    mix = Bottle(name="mix", net_kg=11.0, tare_kg=11.0, propane_share=0.3)
    third = propane_left_kg(mix, 11.0 / 3.0)
    butane = 11.0 / 3.0 - third
    assert np.log(third / 3.3) / np.log(butane / 7.7) == pytest.approx(4.0, rel=0.03)
    assert propane_left_kg(mix, 11.0) == pytest.approx(3.3)
    assert propane_left_kg(mix.model_copy(update={"propane_share": 1.0}), 4.0) == pytest.approx(4.0)


def left(start_kg: tuple[float | None, ...], opens: list[list[int]], used: list[float]) -> list[list[float]]:
    bottles = tuple(Found(name=str(k), net_kg=10.0, start_kg=kg) for k, kg in enumerate(start_kg))
    plan: Any = Found(
        van=Found(gas=Found(bottles=bottles)),
        timeline=Found(exchange_open=lambda names: np.array(opens, dtype=bool).reshape(len(used), len(names))),
    )
    return np.round(most_left_kg(plan, np.array(used)), 6).T.tolist()  # type: ignore[no-any-return]


def test_a_bottle_is_as_full_as_it_can_be_all_others_used_first_and_each_chance_taken() -> None:
    """3 kg an hour: one bottle alone loses them all, of two the other gives its 4 and 10 kg first."""
    none = [[0, 0]] * 5
    assert left((None,), [[0]] * 5, [3.0] * 5) == [[10.0, 7.0, 4.0, 1.0, 0.0]]
    assert left((6.0,), [[0], [0], [1], [0], [0]], [3.0] * 5) == [[6.0, 3.0, 0.0, 10.0, 7.0]]
    assert left((None, 4.0), none, [3.0] * 5) == [[10.0, 10.0, 8.0, 5.0, 2.0], [4.0, 4.0, 4.0, 4.0, 2.0]]
    other = [[0, 0], [0, 1], [0, 0], [0, 0], [0, 0]]
    assert left((None, 4.0), other, [3.0] * 5)[0] == [10.0, 10.0, 10.0, 10.0, 10.0], "it may have brought all of it"


def test_a_mixture_that_feeds_the_heater_full_and_no_longer_by_the_last_hours_is_told_with_numbers() -> None:
    (said,) = told(mixed(0.4), -8.0)
    place = small().tour.stops[0].place
    assert said.startswith(
        f"A bottle (mix) does not feed the heater to its end, for propane boils off first: at {place} on "
    )
    assert " (-8 °C outdoors, 20 °C asked for, wind 2 m/s) it takes about 0.20 kg/h, and by then, at most " in said
    assert " % propane of 40 %, in the locker at -8 °C, that is given for " in said
    assert told(mixed(0.4), 8.0) == []
    assert told(mixed(1.0), -8.0) == []
    assert told(mixed(0.4, count=4), -8.0) == [], "the others may have been used"
    (full,) = told(mixed(0.1), -8.0)
    assert full.startswith("A bottle (mix) cannot feed the heater: "), "said once, of the full one"


@pytest.mark.parametrize("propane_share", [0.3, 0.5, 0.7])
def test_a_mixture_that_is_warned_of_lacks_gas_in_a_run(propane_share: float) -> None:
    """The mildest cold in which a bottle is still warned of, to half a kelvin: in a run the flame then lacks gas."""
    demo = small().van
    mix = demo.gas.bottles[0].model_copy(update={"name": "mix", "propane_share": propane_share})
    gas = demo.gas.model_copy(update={"bottles": (mix,), "locker_zone": "outdoors"})
    van = demo.model_copy(update={"gas": gas})
    assert told(van, -30.0) and not told(van, 15.0)
    cold_c, mild_c = -30.0, 15.0
    while mild_c - cold_c > 0.5:
        middle = 0.5 * (cold_c + mild_c)
        cold_c, mild_c = (middle, mild_c) if told(van, middle) else (cold_c, middle)
    prepared = steady(cold_c).with_van(van)
    ready = replace(prepared, hours=prepared.with_setpoints(night().setpoint_c.reshape(-1)))
    assert float(ready.flow(ready.run(), "unserved_heating_kg")[0]) > 0.05
