"""Does a bottle feed the heater in the tour's hardest hours: full, and a mixture as its propane has boiled off."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

import numpy as np

from budget.answers.offtake import Offtake, kg_per_h_of, offtake
from budget.engine.stepping import Floats
from budget.physics.bottle import withdraw
from budget.physics.burner import stage_value
from budget.rounding import least, need
from budget.van.gas import Bottle
from budget.van.model import Van

if TYPE_CHECKING:
    from budget.answers.enough import Hour, Plan

HARD_H = 4.0  # hours on end that a bottle shall bear the hardest one; a choice
JUDGED_SHARE = 1.0 / 3.0  # of a mixture's contents, down to which it shall do so; a choice
BOILED_OFF_C = 20.0  # the warmer, the less the propane goes first: the doubt is given to the bottle
DRAWN_KG = 0.05  # of a step in which it boils off


def too_cold(van: Van, hours: list[Hour]) -> Iterator[str]:
    """Full bottles in the hour that asks most gas; a locker beside a room stands beside a heated one."""
    worst = max(hours, key=lambda hour: hour.gas_w)
    for bottle in dict.fromkeys(van.gas.bottles):
        found, locker_c = _judged(van, bottle, worst, bottle.net_kg * bottle.propane_share, bottle.net_kg)
        if _fails(found):
            told = f"{_told(van, worst, found)}, and full, {_given(found, locker_c)}"
            yield f"{_which(van, bottle)} cannot feed the heater: {told}."


def boiled_off(plan: Plan, hours: Mapping[int, Hour], used_kg: Floats) -> Iterator[str]:
    """Mixtures that feed the heater full and no longer in an hour by which propane has surely boiled off.

    ``used_kg`` is the least gas that the tour takes by the hour. A bottle is judged by the most that can be in it then,
    and not below a third of its contents.
    """
    van = plan.van
    left = most_left_kg(plan, used_kg)
    worst = max(hours.values(), key=lambda hour: hour.gas_w)
    for k, bottle in enumerate(van.gas.bottles):
        full = _judged(van, bottle, worst, bottle.net_kg * bottle.propane_share, bottle.net_kg)[0]
        if not 0.0 < bottle.propane_share < 1.0 or bottle in van.gas.bottles[:k] or _fails(full):
            continue
        for number, hour in sorted(hours.items(), key=lambda item: -item[1].gas_w):
            kg = max(float(left[number, k]), JUDGED_SHARE * bottle.net_kg)
            propane_kg = propane_left_kg(bottle, kg)
            found, locker_c = _judged(van, bottle, hour, propane_kg, kg)
            if _fails(found):
                yield (
                    f"{_which(van, bottle)} does not feed the heater to its end, for propane boils off first: "
                    f"{_told(van, hour, found)}, and by then, at most {kg:.1f} kg left with "
                    f"{100.0 * propane_kg / kg:.0f} % propane of {100.0 * bottle.propane_share:.0f} %, "
                    f"{_given(found, locker_c)}."
                )
                break


def most_left_kg(plan: Plan, used_kg: Floats) -> Floats:
    """Most that each bottle can hold before each hour, all others used first: (hours, bottles). [kg]

    It is full after its own chance, and another's chance since then may have brought all that was used.
    """
    bottles = plan.van.gas.bottles
    opens = plan.timeline.exchange_open([bottle.name for bottle in bottles])
    full = np.array([bottle.net_kg for bottle in bottles])
    start = np.array([bottle.net_kg if bottle.start_kg is None else bottle.start_kg for bottle in bottles])
    before = np.concatenate([[0.0], np.cumsum(used_kg)])
    left = np.zeros((len(used_kg), len(bottles)))
    for k in range(len(bottles)):
        others = [j for j in range(len(bottles)) if j != k]
        held, since, could = float(start[k]), 0, float(start[others].sum())
        for hour in range(len(used_kg)):
            left[hour, k] = held - max(0.0, float(before[hour] - before[since]) - could)
            if opens[hour, k]:
                held, since, could = float(full[k]), hour + 1, float(full[others].sum())
            elif opens[hour, others].any():
                could = np.inf
    return np.maximum(left, 0.0)


def propane_left_kg(bottle: Bottle, left_kg: float) -> float:
    """Propane in a mixture that was full and of which so much is left. [kg]"""
    propane, butane = bottle.net_kg * bottle.propane_share, bottle.net_kg * (1.0 - bottle.propane_share)
    while (over_kg := propane + butane - left_kg) > 1e-9:
        propane, butane = withdraw(BOILED_OFF_C, propane, butane, min(DRAWN_KG, over_kg))
    return float(propane)


def _judged(van: Van, bottle: Bottle, hour: Hour, propane_kg: float, held_kg: float) -> tuple[Offtake, float]:
    """The hour's gas asked of a bottle with such contents, and how cold its locker is. [°C]"""
    gas = van.gas
    together = _together(van)
    warmer = 0.0 if gas.locker_zone == "outdoors" else gas.locker_warmer_share * (hour.set_c - hour.outdoor_c)
    locker_c = hour.outdoor_c + warmer
    efficiency = stage_value(
        hour.gas_w,
        np.array([stage.output_w for stage in van.heater.stages]),
        np.array([stage.efficiency_share for stage in van.heater.stages]),
    )
    found = offtake(
        bottle,
        propane_kg=propane_kg,
        butane_kg=held_kg - propane_kg,
        bottle_c=locker_c,
        locker_c=locker_c,
        pressure_pa=hour.pressure_pa,
        need_bar=gas.regulator_need_bar,
        through_kg_per_h=gas.regulator_kg_per_h / together,
        demand_kg_per_h=kg_per_h_of(hour.gas_w, float(efficiency), propane_kg / held_kg) / together,
    )
    return found, locker_c


def _fails(found: Offtake) -> bool:
    return found.full_fire_h is not None and found.full_fire_h < HARD_H and not found.ends_empty


def _together(van: Van) -> int:
    return len(van.gas.bottles) if van.gas.changeover == "parallel" else 1


def _which(van: Van, bottle: Bottle) -> str:
    together = _together(van)
    return f"A bottle ({bottle.name})" if together == 1 else f"{together} bottles at once ({bottle.name})"


def _told(van: Van, hour: Hour, found: Offtake) -> str:
    return f"{hour.stands()} it takes about {need(found.full_fire_kg_per_h * _together(van), 2)} kg/h"


def _given(found: Offtake, locker_c: float) -> str:
    return (
        f"in the locker at {least(locker_c)} °C, that is given for {least(found.full_fire_h or 0.0, 1)} h, with "
        f"{found.stays_behind_kg:.1f} kg left behind"
    )
