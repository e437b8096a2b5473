"""Is the heater large enough: loss at a design temperature, the cold it holds, and warm-up from cold-soaked."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from budget.answers.conditions import LARGE_W, Conditions, Settled, hold, march, unlimited, with_output
from budget.answers.offtake import Offtake, full_fire_kg_per_h, offtake
from budget.engine import arrays
from budget.engine.van_arrays import BuiltVan, Edge, build_van
from budget.errors import InputFault
from budget.physics.burner import output_at_density
from budget.physics.properties import STANDARD_PRESSURE_PA, pressure_at_altitude_pa
from budget.van.model import Van

HELD_AT_C = (20.0, 16.0, 12.0)
COLDEST_C = -38.0  # propane under no regulator stops boiling a little below; colder is not looked at
WARMEST_C = 30.0
STRETCH = 12  # the clock of the warm-up: one hour of the march stands for five minutes
WARM_UP_H = 24.0
FABRIC_SHORT_K = 5.0  # lining and furniture this near the setpoint no longer chill those inside; common practice
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
    """

    name: str
    altitude_m: float
    needed_w: float
    available_w: float
    left_w: float
    zone_c: dict[str, float]
    losses: tuple[Loss, ...]
    lowest_c: dict[str, float | None]
    warm_air_h: float | None
    warm_fabric_h: float | None


@dataclass(frozen=True, kw_only=True)
class HeaterSize:
    """The answer, case by case; the first is the van with screens up and openings closed.

    ``gas`` is the first bottle, full, in its locker at the design temperature: a heater that is large enough is of no
    use where its bottle is not.
    """

    design_c: float
    inside_c: float
    wind_m_per_s: float
    rated_w: float
    cases: tuple[Case, ...]
    standard_h: float | None
    gas: Offtake
    sentences: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """JSON-ready; every name with its unit."""
        return asdict(self)


def answer(
    van: Van, *, design_c: float = -15.0, inside_c: float = 20.0, wind_m_per_s: float = 2.0, altitude_m: float = 1500.0
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
    base = unlimited(van)
    large = build_van(with_output(base, LARGE_W))
    calm = Conditions(outdoor_c=design_c, wind_m_per_s=wind_m_per_s)
    states = (
        ("screens up, openings closed", calm),
        ("screens down, openings closed", replace(calm, screens_share=0.0)),
        ("screens up, openings open", replace(calm, closed_share=0.0)),
        ("screens down, openings open", replace(calm, screens_share=0.0, closed_share=0.0)),
        (f"screens up, openings closed, {altitude_m:g} m", replace(calm, altitude_m=altitude_m)),
    )
    cases = tuple(_case(van, large, name, state, inside_c) for name, state in states)
    standard = warm_up(van, replace(calm, outdoor_c=STANDARD_START_C, wind_m_per_s=0.0), STANDARD_END_C, WARM_UP_H)[0]
    gas = gas_at(van, design_c, cases[0].zone_c)
    return HeaterSize(
        design_c=design_c,
        inside_c=inside_c,
        wind_m_per_s=wind_m_per_s,
        rated_w=van.heater.rated_w,
        cases=cases,
        standard_h=standard,
        gas=gas,
        sentences=(*_sentences(van, cases, design_c, inside_c, standard), _gas_sentence(gas, design_c)),
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
    return f"{asked} gives it for {gas.full_fire_h:.0f} h, {why}; lasting off-take {gas.lasting_kg_per_h:.2f} kg/h."


def available_w(van: Van, altitude_m: float) -> float:
    """Greatest output in the air of an altitude. [W]"""
    ratio = pressure_at_altitude_pa(altitude_m) / STANDARD_PRESSURE_PA
    return output_at_density(van.heater.rated_w, ratio, van.heater.altitude_compensated)


def _case(van: Van, large: BuiltVan, name: str, state: Conditions, inside_c: float) -> Case:
    steady = hold(large, state, inside_c)
    available = available_w(van, state.altitude_m)
    air_h, fabric_h = warm_up(van, state, inside_c, WARM_UP_H)
    return Case(
        name=name,
        altitude_m=state.altitude_m,
        needed_w=steady.heat_w,
        available_w=available,
        left_w=available - steady.heat_w,
        zone_c=dict(steady.zone_c),
        losses=tuple(losses(large, steady)),
        lowest_c={f"at_{warm:g}_c": lowest_held_c(large, state, warm, available) for warm in HELD_AT_C},
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


def lowest_held_c(large: BuiltVan, state: Conditions, inside_c: float, output_w: float) -> float | None:
    """Coldest outdoors at which an output holds the sensor's zone; None when that is below -38 °C. [°C]

    Bisection on the heat that the engine says is needed, to 0.05 K.
    """

    def needed_w(outdoor_c: float) -> float:
        return hold(large, replace(state, outdoor_c=outdoor_c), inside_c).heat_w

    low, high = COLDEST_C, inside_c
    if needed_w(low) <= output_w:
        return None
    while high - low > 0.05:
        middle = 0.5 * (low + high)
        if needed_w(middle) > output_w:
            low = middle
        else:
            high = middle
    return high


def warm_up(van: Van, state: Conditions, inside_c: float, longest_h: float) -> tuple[float | None, float | None]:
    """Hours at full output until the sensor's air stands at ``inside_c``, and its fabric 5 K below. [h]

    Everything begins as cold as outdoors. The march keeps a record by the hour; here every heat capacity is
    ``STRETCH`` times as large, which slows the same network down exactly so many times.
    """
    slow = build_van(_slowed(with_output(unlimited(van), available_w(van, state.altitude_m))))
    hours = math.ceil(longest_h * STRETCH)
    many = march(slow, state, hours, set_c=inside_c, start_c=state.outdoor_c)
    assert many.stocks is not None
    zone = van.heater.sensor_zone
    names, first = slow.node_names, slow.stocks.node_c
    air = many.stocks[:, first + names.index(f"{zone}_air")]
    fabric = many.stocks[:, first + names.index(f"{zone}_fabric")]
    near = inside_c - 0.1  # the sensor comes up to its setpoint from below
    return _first_above(air, near), _first_above(fabric, inside_c - FABRIC_SHORT_K)


def _slowed(van: Van) -> Van:
    zones = tuple(
        zone.model_copy(
            update={
                "air_capacity_j_per_k": zone.air_capacity_j_per_k * STRETCH,
                "fabric_capacity_j_per_k": zone.fabric_capacity_j_per_k * STRETCH,
            }
        )
        for zone in van.cabin.zones
    )
    battery = van.power.battery
    slow = battery.model_copy(update={"heat_capacity_j_per_k": battery.heat_capacity_j_per_k * STRETCH})
    return van.model_copy(
        update={
            "cabin": van.cabin.model_copy(update={"zones": zones}),
            "power": van.power.model_copy(update={"battery": slow}),
        }
    )


def _first_above(values: np.ndarray, wanted: float) -> float | None:
    above = np.flatnonzero(values >= wanted)
    if not above.size:
        return None
    k = int(above[0])
    if k == 0:
        return 0.0
    share = (wanted - values[k - 1]) / (values[k] - values[k - 1])
    return float((k - 1 + share) / STRETCH)


def _sentences(
    van: Van, cases: tuple[Case, ...], design_c: float, inside_c: float, standard_h: float | None
) -> list[str]:
    best = cases[0]
    told = [
        f"At {design_c:g} °C outdoors, {best.name}, {inside_c:g} °C inside takes {best.needed_w:.0f} W; "
        f"the heater gives {best.available_w:.0f} W at sea level: "
        + (f"{best.left_w:.0f} W left." if best.left_w >= 0.0 else f"{-best.left_w:.0f} W short.")
    ]
    for case in cases:
        lowest = case.lowest_c[f"at_{HELD_AT_C[0]:g}_c"]
        cold = f"below {COLDEST_C:g} °C" if lowest is None else f"{lowest:.0f} °C"
        told.append(f"{case.name}: {HELD_AT_C[0]:g} °C is held down to {cold} outdoors.")
    air = reached("the air", "does", "reaches", inside_c, best.warm_air_h)
    fabric = reached("lining and furniture", "do", "reach", inside_c - FABRIC_SHORT_K, best.warm_fabric_h)
    told.append(f"From cold-soaked at {design_c:g} °C {air}, {fabric}.")
    took = "longer than a day" if standard_h is None else f"{standard_h:.1f} h"
    told.append(
        f"{STANDARD} allows {STANDARD_H:g} h from {STANDARD_START_C:g} to {STANDARD_END_C:g} °C: this van takes {took} "
        "by this reckoning, which is not the test."
    )
    if not van.heater.altitude_compensated:
        told.append(
            f"At {cases[-1].altitude_m:g} m thin air leaves {cases[-1].available_w:.0f} W; see the rating plate above "
            "about 1000 m."
        )
    return told


def reached(what: str, helper: str, verb: str, warm_c: float, hours: float | None) -> str:
    """ "the air reaches 20 °C in 1.2 h", or that it does not within a day."""
    if hours is None:
        return f"{what} {helper} not reach {warm_c:g} °C within a day"
    return f"{what} {verb} {warm_c:g} °C in {hours:.1f} h"
