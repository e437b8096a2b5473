"""The heater's size in words: what the van takes and each source gives, the cold that is held, and the gas for it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from budget.answers.heat_source import BURNER, Source
from budget.answers.offtake import Offtake
from budget.answers.warm_up import FABRIC_SHORT_K
from budget.rounding import least, need
from budget.van.model import Van

if TYPE_CHECKING:
    from budget.answers.heater_size import BySource, Case

HELD_AT_C = (20.0, 16.0, 12.0)
COLDEST_C = -38.0  # propane under no regulator stops boiling a little below; colder is not looked at
PLATE_M = 1000.0  # from about here makers state the output anew; common practice, no source
STANDARD = "EN 1646-1, motor caravans, heating test of the coldest grade (from memory)"
STANDARD_START_C, STANDARD_END_C, STANDARD_H = -15.0, 20.0, 4.0


def gas_sentence(gas: Offtake, design_c: float) -> str:
    asked = f"Full fire asks {gas.full_fire_kg_per_h:.2f} kg/h; a full first bottle in its locker at {design_c:g} °C"
    if gas.full_fire_h is None:
        return f"{asked} gives it for two days and more."
    if gas.full_fire_h <= 0.0:
        return f"{asked} does not give it at all: the gas decides, not the heater."
    why = "empty then" if gas.ends_empty else f"then too cold, with {gas.stays_behind_kg:.1f} kg left behind"
    lasting = f"kept full it would give {gas.lasting_kg_per_h:.2f} kg/h for good"
    return f"{asked} gives it for {gas.full_fire_h:.0f} h, {why}; {lasting}."


def sentences(
    van: Van,
    cases: tuple[Case, ...],
    design_c: float,
    inside_c: float,
    wind_m_per_s: float,
    standard_h: tuple[float | None, float | None],
    source: Source = BURNER,
    others: tuple[BySource, ...] = (),
) -> list[str]:
    """What the van takes and the heater gives at the altitude, then at sea level; the standard's hours at both."""
    low, best = cases[0], cases[-1]
    heater = "the heater" if source == BURNER else f"the heater, by {source.name},"
    told = [
        f"At {design_c:g} °C outdoors, {best.name}, {inside_c:g} °C inside takes {need(best.needed_w)} W beside the "
        f"{least(best.fan_w)} W of the fan, together {need(best.loss_w_per_k)} W/K; "
        f"{heater} gives {least(best.available_w)} W at {best.altitude_m:g} m: {_left(best.left_w)}; at sea level it "
        f"gives {least(low.available_w)} W: {_left(low.left_w)}."
    ]
    if not source.burner and best.left_w < 0.0:
        told.append("The hook-up alone is too little: let gas heat beside it (heater_fuel), or ask for more amps.")
    for other in others:
        told.append(
            f"By {other.name} it gives {least(other.available_w)} W there: {_left(other.left_w)}; "
            f"{HELD_AT_C[0]:g} °C is held down to {_cold(other.lowest_c)} outdoors."
        )
    if best.guarded:
        rated_w = source.element_w + (van.heater.rated_w if source.burner else 0.0)
        told.append(
            f"Of its {rated_w:g} W the guard on the supply air lets {least(best.available_w)} W through: more would "
            f"heat that air over {van.heater.supply_limit_c:g} °C. Open outlets or the way back."
        )
    for case in (best, *cases[:-1]):
        told.append(f"{case.name}: {HELD_AT_C[0]:g} °C is held down to {_cold(case.lowest_c)} outdoors.")
    air = reached("the air", "does", "reaches", inside_c, best.warm_air_h)
    fabric = reached("lining and furniture", "do", "reach", inside_c - FABRIC_SHORT_K, best.warm_fabric_h)
    windy = f"in a wind of {wind_m_per_s:g} m/s" if wind_m_per_s > 0.0 else "without wind"
    told.append(f"From cold-soaked at {design_c:g} °C at {best.altitude_m:g} m {windy} {air}, {fabric}.")
    at_sea, took = ("longer than a day" if hours is None else f"{need(hours, 1)} h" for hours in standard_h)
    told.append(
        f"{STANDARD} allows {STANDARD_H:g} h from {STANDARD_START_C:g} to {STANDARD_END_C:g} °C: this van takes {took} "
        f"at {best.altitude_m:g} m and {at_sea} at sea level, without wind by this reckoning, which is not the test."
    )
    if source.burner and not best.guarded and not van.heater.altitude_compensated and best.altitude_m >= PLATE_M:
        told.append(f"Above about {PLATE_M:g} m see the heater's rating plate: thin air takes of its output.")
    return told


def _left(left_w: float) -> str:
    """ "812 W left", or how much it falls short."""
    return f"{least(left_w)} W left" if left_w >= 0.0 else f"{need(-left_w)} W short"


def _cold(lowest_c: Mapping[str, float | None]) -> str:
    """How cold it may be for the first of the rooms."""
    lowest = lowest_c[f"at_{HELD_AT_C[0]:g}_c"]
    return f"below {COLDEST_C:g} °C" if lowest is None else f"{need(lowest)} °C"


def reached(what: str, helper: str, verb: str, warm_c: float, hours: float | None) -> str:
    """ "the air reaches 20 °C in 1.2 h", or that it does not within a day."""
    if hours is None:
        return f"{what} {helper} not reach {warm_c:g} °C within a day"
    return f"{what} {verb} {warm_c:g} °C in {need(hours, 1)} h"
