"""Is the heater large enough: loss at a design temperature, the cold it holds, and warm-up from cold-soaked."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

from budget.answers.conditions import (
    LARGE_W,
    Conditions,
    Guard,
    Settled,
    air_ratio,
    hold,
    unlimited,
    with_output,
)
from budget.answers.offtake import Offtake, full_fire_kg_per_h, offtake
from budget.answers.warm_up import FABRIC_SHORT_K, warm_up
from budget.engine import arrays
from budget.engine.van_arrays import BuiltVan, Edge, build_van
from budget.errors import InputFault
from budget.physics.burner import output_at_density
from budget.physics.properties import STANDARD_PRESSURE_PA
from budget.rounding import least, need
from budget.van.model import Van

HELD_AT_C = (20.0, 16.0, 12.0)
COLDEST_C = -38.0  # propane under no regulator stops boiling a little below; colder is not looked at
WARMEST_C = 30.0
WARM_UP_H = 24.0
PLATE_M = 1000.0  # from about here makers state the output anew; common practice, no source
DESIGN_C, DESIGN_WIND_M_PER_S = -15.0, 2.0
STANDARD = "EN 1646-1, motor caravans, heating test of the coldest grade (from memory)"
STANDARD_START_C, STANDARD_END_C, STANDARD_H = -15.0, 20.0, 4.0


@dataclass(frozen=True, kw_only=True)
class Loss:
    """Heat that leaves one zone by one way. [W]"""

    zone: str
    element: str
    loss_w: float


@dataclass(frozen=True, kw_only=True)
class Case:
    """One state of screens and openings at the design temperature.

    ``lowest_c`` gives for each room temperature the coldest outdoors at which the rated output still holds it, None
    where that is below -38 °C. Warm-up starts with everything as cold as outdoors; None: not within a day.
    ``needed_w`` is the burner's part; ``fan_w``, the fan's own heat, comes on top, and both together are the sum of
    ``losses`` and ``loss_w_per_k`` times the difference.
    ``available_w`` is what the burner gives in the air of that altitude, or less where the guard on the supply air
    holds it back at the temperature that comes back (``guarded``).
    """

    name: str
    altitude_m: float
    needed_w: float
    fan_w: float
    loss_w_per_k: float
    available_w: float
    guarded: bool
    left_w: float
    zone_c: dict[str, float]
    losses: tuple[Loss, ...]
    lowest_c: dict[str, float | None]
    warm_air_h: float | None
    warm_fabric_h: float | None


@dataclass(frozen=True, kw_only=True)
class HeaterSize:
    """The answer, case by case; the last, screens up and openings closed at the altitude, is the one that is told.

    ``gas`` is the first bottle, full, in its locker at the design temperature: a heater that is large enough is of no
    use where its bottle is not.
    """

    design_c: float
    inside_c: float
    wind_m_per_s: float
    rated_w: float
    cases: tuple[Case, ...]
    standard_h: float | None
    standard_at_altitude_h: float | None
    gas: Offtake
    sentences: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """JSON-ready; every name with its unit."""
        return asdict(self)


def answer(
    van: Van,
    *,
    design_c: float = DESIGN_C,
    inside_c: float = 20.0,
    wind_m_per_s: float = DESIGN_WIND_M_PER_S,
    altitude_m: float = 1500.0,
) -> HeaterSize:
    """Size the heater at a design temperature. InputFault where it is not colder outdoors than in.

    Wind is at the van. No sun, overcast, nobody inside, boiler off, gas and charge without end: a heat-load case,
    worse than a night with people. The van is given at sea level with screens and openings as ``cases`` name them,
    and at ``altitude_m``.
    """
    if not COLDEST_C <= design_c < inside_c <= WARMEST_C:
        raise InputFault(
            f"the design temperature must lie from {COLDEST_C:g} °C up to below the room's, at most {WARMEST_C:g} °C, "
            f"got {design_c:g} °C outdoors and {inside_c:g} °C inside; correct one."
        )
    calm = Conditions(outdoor_c=design_c, wind_m_per_s=wind_m_per_s)
    states = (
        ("screens up, openings closed", calm),
        ("screens down, openings closed", replace(calm, screens_share=0.0)),
        ("screens up, openings open", replace(calm, closed_share=0.0)),
        ("screens down, openings open", replace(calm, screens_share=0.0, closed_share=0.0)),
        (f"screens up, openings closed, {altitude_m:g} m", replace(calm, altitude_m=altitude_m)),
    )
    cases = tuple(_case(van, name, state, inside_c) for name, state in states)
    still = replace(calm, outdoor_c=STANDARD_START_C, wind_m_per_s=0.0)
    standard, high_up = (
        warm_up(van, replace(still, altitude_m=metres), STANDARD_END_C, WARM_UP_H)[0] for metres in (0.0, altitude_m)
    )
    gas = gas_at(van, design_c, cases[0].zone_c)
    return HeaterSize(
        design_c=design_c,
        inside_c=inside_c,
        wind_m_per_s=wind_m_per_s,
        rated_w=van.heater.rated_w,
        cases=cases,
        standard_h=standard,
        standard_at_altitude_h=high_up,
        gas=gas,
        sentences=(
            *_sentences(van, cases, design_c, inside_c, wind_m_per_s, (standard, high_up)),
            _gas_sentence(gas, design_c),
        ),
    )


def gas_at(van: Van, outdoor_c: float, zone_c: Mapping[str, float]) -> Offtake:
    """The first bottle, full and as cold as its locker, at full fire."""
    bottle, gas = van.gas.bottles[0], van.gas
    beside_c = zone_c.get(gas.locker_zone, outdoor_c)
    locker_c = outdoor_c + gas.locker_warmer_share * (beside_c - outdoor_c)
    return offtake(
        bottle,
        propane_kg=bottle.net_kg * bottle.propane_share,
        butane_kg=bottle.net_kg * (1.0 - bottle.propane_share),
        bottle_c=locker_c,
        locker_c=locker_c,
        pressure_pa=STANDARD_PRESSURE_PA,
        need_bar=gas.regulator_need_bar,
        through_kg_per_h=gas.regulator_kg_per_h,
        demand_kg_per_h=full_fire_kg_per_h(van, bottle.propane_share),
    )


def _gas_sentence(gas: Offtake, design_c: float) -> str:
    asked = f"Full fire asks {gas.full_fire_kg_per_h:.2f} kg/h; a full first bottle in its locker at {design_c:g} °C"
    if gas.full_fire_h is None:
        return f"{asked} gives it for two days and more."
    if gas.full_fire_h <= 0.0:
        return f"{asked} does not give it at all: the gas decides, not the heater."
    why = "empty then" if gas.ends_empty else f"then too cold, with {gas.stays_behind_kg:.1f} kg left behind"
    lasting = f"kept full it would give {gas.lasting_kg_per_h:.2f} kg/h for good"
    return f"{asked} gives it for {gas.full_fire_h:.0f} h, {why}; {lasting}."


def available_w(van: Van, altitude_m: float) -> float:
    """Greatest output in the air of an altitude. [W]"""
    return output_at_density(van.heater.rated_w, air_ratio(altitude_m), van.heater.altitude_compensated)


def _case(van: Van, name: str, state: Conditions, inside_c: float) -> Case:
    ratio = air_ratio(state.altitude_m)
    large = build_van(with_output(unlimited(van), LARGE_W), air_ratio=ratio)
    guard, rated = Guard(build_van(van), ratio), available_w(van, state.altitude_m)
    living = large.zone_names[large.living]

    def most_w(steady: Settled) -> float:
        return min(rated, guard.carried_w(steady.zone_c[living]))

    steady = hold(large, state, inside_c)
    available = most_w(steady)
    air_h, fabric_h = warm_up(van, state, inside_c, WARM_UP_H)
    return Case(
        name=name,
        altitude_m=state.altitude_m,
        needed_w=steady.heat_w,
        fan_w=steady.fan_w,
        loss_w_per_k=(steady.heat_w + steady.fan_w) / (inside_c - state.outdoor_c),
        available_w=available,
        guarded=available < rated,
        left_w=available - steady.heat_w,
        zone_c=dict(steady.zone_c),
        losses=tuple(losses(large, steady)),
        lowest_c={f"at_{warm:g}_c": lowest_held_c(large, state, warm, most_w) for warm in HELD_AT_C},
        warm_air_h=air_h,
        warm_fabric_h=fabric_h,
    )


def losses(built: BuiltVan, steady: Settled) -> list[Loss]:
    """Heat to outdoors by zone and element; what leaves through the lining is shared out to the opaque elements."""
    zones, found = built.van.cabin.zones, []
    pairs = list(zip(built.edges, steady.edge_w, strict=True))
    for z, zone in enumerate(zones):
        mine = [(edge, watts) for edge, watts in pairs if edge.zone == z]
        lining_w = sum(watts for edge, watts in mine if edge.kind == arrays.LINING)
        opaque = [(edge, watts) for edge, watts in mine if edge.kind == arrays.OPAQUE]
        whole = sum(edge.area_m2 * edge.u * edge.pull_share for edge, _ in opaque)
        found += [
            _loss(zone.name, edge, watts + lining_w * edge.area_m2 * edge.u * edge.pull_share / whole)
            for edge, watts in opaque
        ]
        found += [_loss(zone.name, edge, watts) for edge, watts in mine if edge.kind in (arrays.GLAZING, arrays.VENT)]
    found.append(Loss(zone="outdoors", element="tanks, pipes and battery", loss_w=steady.parts_w))
    found.append(Loss(zone="outdoors", element="warm-air runs", loss_w=steady.duct_loss_w))
    return found


def _loss(zone: str, edge: Edge, watts: float) -> Loss:
    return Loss(zone=zone, element=edge.name.removeprefix(f"{zone} "), loss_w=watts)


def lowest_held_c(
    large: BuiltVan, state: Conditions, inside_c: float, output_w: float | Callable[[Settled], float]
) -> float | None:
    """Coldest outdoors at which an output holds the sensor's zone; None when that is below -38 °C. [°C]

    Bisection on the heat that the engine says is needed, to 0.05 K. ``output_w`` may follow from the settled van.
    """

    def holds(outdoor_c: float) -> bool:
        steady = hold(large, replace(state, outdoor_c=outdoor_c), inside_c)
        return steady.heat_w <= (output_w(steady) if callable(output_w) else output_w)

    low, high = COLDEST_C, inside_c
    if holds(low):
        return None
    while high - low > 0.05:
        middle = 0.5 * (low + high)
        if holds(middle):
            high = middle
        else:
            low = middle
    return high


def _sentences(
    van: Van,
    cases: tuple[Case, ...],
    design_c: float,
    inside_c: float,
    wind_m_per_s: float,
    standard_h: tuple[float | None, float | None],
) -> list[str]:
    """What the van takes and the heater gives at the altitude, then at sea level; the standard's hours at both."""
    low, best = cases[0], cases[-1]
    told = [
        f"At {design_c:g} °C outdoors, {best.name}, {inside_c:g} °C inside takes {need(best.needed_w)} W beside the "
        f"{least(best.fan_w)} W of the fan, together {need(best.loss_w_per_k)} W/K; the "
        f"heater gives {least(best.available_w)} W at {best.altitude_m:g} m: {_left(best)}; at sea level it gives "
        f"{least(low.available_w)} W: {_left(low)}."
    ]
    if best.guarded:
        told.append(
            f"Of its {van.heater.rated_w:g} W the guard on the supply air lets {least(best.available_w)} W through: "
            f"more would heat that air over {van.heater.supply_limit_c:g} °C. Open outlets or the way back."
        )
    for case in (best, *cases[:-1]):
        lowest = case.lowest_c[f"at_{HELD_AT_C[0]:g}_c"]
        cold = f"below {COLDEST_C:g} °C" if lowest is None else f"{need(lowest)} °C"
        told.append(f"{case.name}: {HELD_AT_C[0]:g} °C is held down to {cold} outdoors.")
    air = reached("the air", "does", "reaches", inside_c, best.warm_air_h)
    fabric = reached("lining and furniture", "do", "reach", inside_c - FABRIC_SHORT_K, best.warm_fabric_h)
    windy = f"in a wind of {wind_m_per_s:g} m/s" if wind_m_per_s > 0.0 else "without wind"
    told.append(f"From cold-soaked at {design_c:g} °C at {best.altitude_m:g} m {windy} {air}, {fabric}.")
    at_sea, took = ("longer than a day" if hours is None else f"{need(hours, 1)} h" for hours in standard_h)
    told.append(
        f"{STANDARD} allows {STANDARD_H:g} h from {STANDARD_START_C:g} to {STANDARD_END_C:g} °C: this van takes {took} "
        f"at {best.altitude_m:g} m and {at_sea} at sea level, without wind by this reckoning, which is not the test."
    )
    if not best.guarded and not van.heater.altitude_compensated and best.altitude_m >= PLATE_M:
        told.append(f"Above about {PLATE_M:g} m see the heater's rating plate: thin air takes of its output.")
    return told


def _left(case: Case) -> str:
    """ "812 W left", or how much it falls short."""
    return f"{least(case.left_w)} W left" if case.left_w >= 0.0 else f"{need(-case.left_w)} W short"


def reached(what: str, helper: str, verb: str, warm_c: float, hours: float | None) -> str:
    """ "the air reaches 20 °C in 1.2 h", or that it does not within a day."""
    if hours is None:
        return f"{what} {helper} not reach {warm_c:g} °C within a day"
    return f"{what} {verb} {warm_c:g} °C in {need(hours, 1)} h"
