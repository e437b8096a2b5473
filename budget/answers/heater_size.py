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
from budget.answers.heat_source import BURNER, Source
from budget.answers.heater_size_words import (
    COLDEST_C,
    HELD_AT_C,
    STANDARD_END_C,
    STANDARD_START_C,
    gas_sentence,
    sentences,
)
from budget.answers.offtake import Offtake, full_fire_kg_per_h, offtake
from budget.answers.warm_up import warm_up
from budget.engine import arrays
from budget.engine.van_arrays import BuiltVan, Edge, build_van
from budget.errors import InputFault
from budget.physics.burner import output_at_density
from budget.physics.properties import STANDARD_PRESSURE_PA
from budget.van.model import Van

WARMEST_C = 30.0
WARM_UP_H = 24.0
DESIGN_C, DESIGN_WIND_M_PER_S = -15.0, 2.0


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
    ``needed_w`` is the part of burner or element; ``fan_w``, the fan's own heat, comes on top, and both together are
    the sum of ``losses`` and ``loss_w_per_k`` times the difference.
    ``available_w`` is what the source gives in the air of that altitude, or less where the guard on the supply air
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
class BySource:
    """What one source of heat comes to at the altitude, screens up and openings closed; fields as in ``Case``.

    ``burner``: it burns; ``element_w`` is the step of the element that a hook-up of ``supply_a`` leaves, its battery
    charged; 0 without one.
    """

    name: str
    burner: bool
    supply_a: float
    element_w: float
    needed_w: float
    available_w: float
    left_w: float
    lowest_c: dict[str, float | None]
    warm_air_h: float | None


@dataclass(frozen=True, kw_only=True)
class HeaterSize:
    """The answer, case by case; the last, screens up and openings closed at the altitude, is the one that is told.

    ``sources`` are what the tour heats by, hardest first; cases and warm-ups are of that first one.

    ``gas`` is the first bottle, full, in its locker at the design temperature: a heater that is large enough is of no
    use where its bottle is not.
    """

    design_c: float
    inside_c: float
    wind_m_per_s: float
    rated_w: float
    sources: tuple[BySource, ...]
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
    sources: tuple[Source, ...] = (BURNER,),
) -> HeaterSize:
    """Size the heater at a design temperature. InputFault where it is not colder outdoors than in.

    Wind is at the van. No sun, overcast, nobody inside, boiler off, gas and charge without end: a heat-load case,
    worse than a night with people. The van is given at sea level with screens and openings as ``cases`` name them,
    and at ``altitude_m``. Of ``sources``, at least one, that which leaves least there decides.
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
    at_altitude = {source: _case(van, *states[-1], inside_c, source) for source in sources}
    hardest, *others = sorted(sources, key=lambda source: at_altitude[source].left_w)
    cases = (*(_case(van, name, state, inside_c, hardest) for name, state in states[:-1]), at_altitude[hardest])
    by_source = tuple(_by_source(source, at_altitude[source]) for source in (hardest, *others))
    still = replace(calm, outdoor_c=STANDARD_START_C, wind_m_per_s=0.0)
    standard, high_up = (
        warm_up(_heated(van, hardest, metres), replace(still, altitude_m=metres), STANDARD_END_C, WARM_UP_H)[0]
        for metres in (0.0, altitude_m)
    )
    gas = gas_at(van, design_c, cases[0].zone_c)
    return HeaterSize(
        design_c=design_c,
        inside_c=inside_c,
        wind_m_per_s=wind_m_per_s,
        rated_w=van.heater.rated_w,
        sources=by_source,
        cases=cases,
        standard_h=standard,
        standard_at_altitude_h=high_up,
        gas=gas,
        sentences=(
            *sentences(van, cases, design_c, inside_c, wind_m_per_s, (standard, high_up), hardest, by_source[1:]),
            *([gas_sentence(gas, design_c)] if any(source.burner for source in sources) else []),
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


def available_w(van: Van, altitude_m: float) -> float:
    """Greatest output in the air of an altitude. [W]"""
    return output_at_density(van.heater.rated_w, air_ratio(altitude_m), van.heater.altitude_compensated)


def _heated(van: Van, source: Source, altitude_m: float) -> Van:
    return source.heated(van, available_w(van, altitude_m))


def _by_source(source: Source, case: Case) -> BySource:
    return BySource(
        name=source.name,
        burner=source.burner,
        supply_a=source.supply_a,
        element_w=source.element_w,
        needed_w=case.needed_w,
        available_w=case.available_w,
        left_w=case.left_w,
        lowest_c=case.lowest_c,
        warm_air_h=case.warm_air_h,
    )


def _case(van: Van, name: str, state: Conditions, inside_c: float, source: Source) -> Case:
    ratio = air_ratio(state.altitude_m)
    large = build_van(with_output(unlimited(van), LARGE_W, at_w=source.blown_at_w(van)), air_ratio=ratio)
    guard = Guard(build_van(van), ratio)
    rated = source.element_w + (available_w(van, state.altitude_m) if source.burner else 0.0)
    living = large.zone_names[large.living]

    def most_w(steady: Settled) -> float:
        return min(rated, guard.carried_w(steady.zone_c[living]))

    steady = hold(large, state, inside_c)
    available = most_w(steady)
    air_h, fabric_h = warm_up(_heated(van, source, state.altitude_m), state, inside_c, WARM_UP_H)
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
