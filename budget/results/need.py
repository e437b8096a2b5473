"""What a tour would burn if it were fed: the need that bottles and reserve are counted on.

A heater that stands still for want of gas or charge burns nothing, so what a tour burned says little of what it
needs. Where something ran short the tour is run again with gas and charge that do not end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from budget.engine.batch import Many, run_one
from budget.engine.bottles import AUTOMATIC
from budget.engine.layout import FIXED_LOADS
from budget.engine.stepping import Floats
from budget.engine.van_arrays import BuiltVan
from budget.physics.properties import PROPANE_LOWER_J_PER_KG
from budget.tour.timeline import FUELS
from budget.tour.week import Mask

BATTERY, GAS = "battery", "gas"
AS_IT_STANDS = "as it stands"  # the heater stops with the battery
WITH_POWER = "with power"  # the battery replaced by one that lasts: what the tour takes when it is fed
UNSERVED = ("unserved_heating_kg", "unserved_cooking_kg", "unserved_fridge_kg")
LITTLE_KG = 0.05  # gas that was lacked below this is a bottle change, not a want
HARDEST_H = 72  # the reserve is kept at the use of the hardest three days
AMPLE_FACTOR = 1000.0
NO_PRESSURE_PA = -1.0e6
OPEN_KG_PER_H = 1000.0
ELECTRIC_FIRST = FUELS.index("electric_first")


@dataclass(frozen=True, eq=False)
class Need:
    """Gas by the hour that the tour takes when it is fed [kg], and what it ran short of when it was not.

    ``short_of`` is empty where nothing ran short: the need is then what was burned. ``wanted_ah`` is the charge that
    all loads take over the tour when it is fed. ``beside_element_kg``: see :func:`beside_element_kg`.
    """

    used_kg: Floats
    short_of: tuple[str, ...]
    reserve_nights: float
    wanted_ah: float
    beside_element_kg: Floats

    @property
    def kg(self) -> float:
        """Gas that the whole tour takes. [kg]"""
        return float(self.used_kg.sum())

    @property
    def hardest_kg_per_day(self) -> float:
        """Mean use of the three days in a row that take most, or of the whole tour where it is shorter. [kg/day]"""
        hours = min(HARDEST_H, len(self.used_kg))
        total = np.concatenate(([0.0], np.cumsum(self.used_kg)))
        return float((total[hours:] - total[:-hours]).max()) * 24.0 / hours

    @property
    def reserve_kg(self) -> float:
        """Gas kept in hand: the van's reserve nights at the use of the hardest three days. [kg]"""
        return self.reserve_nights * self.hardest_kg_per_day

    @property
    def planned_kg(self) -> float:
        """Need and reserve: what must be had on the way. [kg]"""
        return self.kg + self.reserve_kg


def with_enough(short_of: Sequence[str]) -> str:
    """What was fed where a tour ran short: with a battery that lasts the gas is taken not to end either."""
    return "with power and gas to the end" if BATTERY in short_of else "with gas to the end"


def need_of(built: BuiltVan, hours: Any, rows: Floats, wishes: Any, many: Many) -> Need:
    """The need of a tour that was run in detail; run once more where battery or gas ran short."""
    short_of = short_of_what(built, many)
    beside_kg = np.zeros(len(hours))
    if short_of or element_alone(built, hours, many).any():
        plenty = run_one(fed(built), gas_everywhere(built, hours), rows, wishes)
        lacked = beside_element_kg(built, hours, many, used_by_hour_kg(built, plenty))
        if lacked.sum() > LITTLE_KG:
            beside_kg = lacked
            short_of = (*(what for what in short_of if what != GAS), GAS)
        if short_of:
            many = plenty
    first = built.flows.load_ah
    wanted_ah = float(many.totals[0, first : first + len(FIXED_LOADS) + built.size.loads].sum())
    return Need(used_by_hour_kg(built, many), short_of, built.van.gas.reserve_nights, wanted_ah, beside_kg)


def element_alone(built: BuiltVan, hours: Any, many: Many) -> Mask:
    """Hours with the electric element first in which it heated and the bottles could not have fed a full fire too."""
    assert many.flows is not None
    at, top = built.flows, built.van.heater.stages[-1]
    element_j = many.flows[:, at.electric_air_j] + many.flows[:, at.electric_water_j]
    full_fire_kg = top.output_w * 3600.0 / top.efficiency_share / PROPANE_LOWER_J_PER_KG
    held = many.flows[:, at.offtake_limit_kg] < full_fire_kg
    return np.asarray((hours["fuel"] == ELECTRIC_FIRST) & (element_j > 0.0) & held)


def beside_element_kg(built: BuiltVan, hours: Any, many: Many, fed_kg: Floats) -> Floats:
    """Gas by the hour that a flame beside the electric element lacked in a run in detail. [kg]

    The engine books no want of gas while an element heats, since it cannot tell whether that is enough. Here what the
    tour burns in the hour when it is fed, ``fed_kg``, is held against what it burned, where its bottles could not have
    given that or not even the least flame; what hob and fridge lacked is booked by the engine.
    """
    assert many.flows is not None
    at = built.flows
    booked_kg = used_by_hour_kg(built, many) + many.flows[:, [at.unserved_cooking_kg, at.unserved_fridge_kg]].sum(
        axis=1
    )
    burner = built.burner[0]
    least_kg = 3600.0 * burner.outputs_w[0] / burner.efficiency[0] / PROPANE_LOWER_J_PER_KG
    held = element_alone(built, hours, many) & (many.flows[:, at.offtake_limit_kg] < np.maximum(fed_kg, least_kg))
    lacked: Floats = np.where(held, np.maximum(fed_kg - booked_kg, 0.0), 0.0)
    return lacked


def short_of_what(built: BuiltVan, many: Many) -> tuple[str, ...]:
    """What a run in detail was short of for some time: the battery cut out, or flames that lacked gas."""
    cut_out = float(many.totals[0, built.flows.cut_out_s]) > 0.0
    return (BATTERY,) * cut_out + (GAS,) * (lacked_kg(built, many) > LITTLE_KG)


def lacked_kg(built: BuiltVan, many: Many) -> float:
    """Gas that flames asked for and did not get in a single run. [kg]"""
    return sum(float(many.totals[0, getattr(built.flows, name)]) for name in UNSERVED)


def used_by_hour_kg(built: BuiltVan, many: Many) -> Floats:
    """Gas drawn from all bottles in each hour of a run in detail. [kg]"""
    assert many.flows is not None
    at, bottles = built.flows, built.size.bottles
    families = (at.gas_out_kg, at.gas_out_butane_kg)
    used: Floats = np.sum([many.flows[:, first : first + bottles].sum(axis=1) for first in families], axis=0)
    return used


def with_power(built: BuiltVan) -> BuiltVan:
    """The same van with a full battery a thousand times as large: never cut out, it takes next to no charge."""
    arrays = built.arrays.copy()
    arrays["capacity_ah"] *= AMPLE_FACTOR
    arrays["start_share"] = 1.0
    return replace(built, arrays=arrays)


def with_automatic_changeover(built: BuiltVan) -> BuiltVan:
    """The same van with a changeover that needs no hand."""
    arrays = built.arrays.copy()
    arrays["changeover"] = AUTOMATIC
    return replace(built, arrays=arrays)


def fed(built: BuiltVan) -> BuiltVan:
    """The same van with a battery that does not end, and bottles that give any flow however cold they are.

    The regulator needs no pressure and lets through what is asked; the gas still chills its bottle.
    """
    return with_flow(with_power(built))


def with_flow(built: BuiltVan) -> BuiltVan:
    """The same van with bottles that give any flow, and its own battery."""
    arrays = built.arrays.copy()
    arrays["regulator_need_pa"] = NO_PRESSURE_PA
    arrays["regulator_kg_per_h"] = OPEN_KG_PER_H
    return replace(built, arrays=arrays)


def gas_everywhere(built: BuiltVan, hours: Any) -> Any:
    """Hour records in which a bottle that is nearly empty is changed at once."""
    changed = hours.copy()
    changed["exchange_open"][..., : built.size.bottles] = 1
    return changed
