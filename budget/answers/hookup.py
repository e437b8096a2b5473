"""The hook-up: who gets the watts, the cold a supply holds, what it costs, and gas or electricity."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from budget.answers.conditions import LARGE_W, Conditions, hold, march, unlimited, with_output
from budget.answers.detail import Detail
from budget.answers.heater_size import COLDEST_C, lowest_held_c
from budget.answers.trips import BORNE_SHARE, Trip, trips, users_of
from budget.engine.van_arrays import build_van
from budget.errors import InputFault
from budget.moments import short
from budget.physics.properties import BUTANE_LOWER_KWH_PER_KG, PROPANE_LOWER_KWH_PER_KG
from budget.van.model import Van

if TYPE_CHECKING:
    from budget.answers.prepared import Prepared
    from budget.results.result import Result

AMPS = (3.0, 6.0, 10.0, 16.0)
HELD_AT_C = (20.0, 16.0, 12.0)
ELECTRIC_ONLY = 1
HARD_C = 35.0  # a setpoint out of reach, so that the element asks for all it may have


@dataclass(frozen=True, kw_only=True)
class Supply:
    """One supply, with the battery charging and the heater on electricity alone.

    ``element_w`` is the step of the heater's element that is left after fridge and charger. ``lowest_c`` gives for
    each room temperature the coldest outdoors that this step alone holds, None without a step; -38 °C is the coldest
    looked at. ``needed_w`` holds the room at the stated outdoor temperature; per day: ``heat_kwh`` of it that the
    element gives, ``cost`` where a price is given.
    """

    supply_a: float
    supply_v: float
    supply_w: float
    fridge_w: float
    charger_w: float
    element_w: float
    spare_w: float
    lowest_c: dict[str, float | None]
    needed_w: float
    heat_kwh: float
    holds: bool
    cost: float | None


@dataclass(frozen=True, kw_only=True)
class Stay:
    """What one stop's hook-up gave over the tour; ``over_h`` is how many hours would have tripped it: ``trips``."""

    place: str
    supply_a: float
    supply_w: float
    mains_kwh: float
    electric_heat_kwh: float
    gas_heat_kwh: float
    charged_ah: float
    price_per_kwh: float | None
    cost: float | None
    over_h: int
    trips: tuple[Trip, ...]


@dataclass(frozen=True, kw_only=True)
class Hookup:
    """The answer. ``heat_of_gas_kwh`` is heat to the room from one kilogram of gas, on the lower heating value.

    ``break_even_per_kwh``: electricity dearer than this loses against the gas price given; ``break_even_per_kg`` the
    reverse. None where no price is given.
    """

    outdoor_c: float
    inside_c: float
    supplies: tuple[Supply, ...]
    stays: tuple[Stay, ...]
    heat_of_gas_kwh: float
    gas_price_per_kg: float | None
    electricity_price_per_kwh: float | None
    break_even_per_kwh: float | None
    break_even_per_kg: float | None
    sentences: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """JSON-ready; every name with its unit."""
        return asdict(self)


def answer(
    source: Result | Prepared | Detail,
    *,
    amps: Sequence[float] = AMPS,
    volts: float = 230.0,
    outdoor_c: float = -5.0,
    inside_c: float = 20.0,
    gas_per_kg: float | None = None,
    electricity_per_kwh: float | None = None,
) -> Hookup:
    """Judge supplies of ``amps`` at ``volts``, and the tour's own hook-ups.

    Prices that are not given are the mean of those in the tour; where it has none, none is assumed. InputFault where
    amps or volts lie outside 0–63 A and 90–260 V.
    """
    if not amps or any(not 0.0 < a <= 63.0 for a in amps) or not 90.0 <= volts <= 260.0:
        raise InputFault(
            f"a hook-up must have amps over 0 up to 63 A at 90 to 260 V, got {', '.join(f'{a:g}' for a in amps)} A "
            f"at {volts:g} V; correct them."
        )
    run = Detail.of(source)
    van = run.van
    gas_price = _gas_price(run) if gas_per_kg is None else gas_per_kg
    power_price = (
        _mean([stop.hookup_per_kwh for stop in run.tour.stops]) if electricity_per_kwh is None else electricity_per_kwh
    )
    heat_kwh = heat_of_gas_kwh(van)
    supplies = tuple(supply(van, a, volts, outdoor_c, inside_c, power_price) for a in sorted(amps))
    stays = stays_of(run)
    return Hookup(
        outdoor_c=outdoor_c,
        inside_c=inside_c,
        supplies=supplies,
        stays=stays,
        heat_of_gas_kwh=heat_kwh,
        gas_price_per_kg=gas_price,
        electricity_price_per_kwh=power_price,
        break_even_per_kwh=None if gas_price is None else gas_price / heat_kwh,
        break_even_per_kg=None if power_price is None else power_price * heat_kwh,
        sentences=tuple(
            _sentences(
                bool(van.heater.electric_w), supplies, stays, heat_kwh, gas_price, power_price, outdoor_c, inside_c
            )
        ),
    )


def _mean(prices: Sequence[float | None]) -> float | None:
    given = [price for price in prices if price is not None]
    return sum(given) / len(given) if given else None


def _gas_price(run: Detail) -> float | None:
    names = {bottle.name for bottle in run.van.gas.bottles}
    return _mean([e.price_per_kg for stop in run.tour.stops for e in stop.exchange if e.bottle in names])


def heat_of_gas_kwh(van: Van) -> float:
    """Heat that a kilogram of the first bottle's gas gives, at the mean efficiency of the stages. [kWh]"""
    propane = van.gas.bottles[0].propane_share
    lower = propane * PROPANE_LOWER_KWH_PER_KG + (1.0 - propane) * BUTANE_LOWER_KWH_PER_KG
    return lower * float(np.mean([stage.efficiency_share for stage in van.heater.stages]))


def supply(
    van: Van, amps: float, volts: float, outdoor_c: float, inside_c: float, price_per_kwh: float | None
) -> Supply:
    """One supply, asked of the engine."""
    watts = amps * volts
    fridge_w, charger_w, element_w = shared_w(van, watts)
    lowest: dict[str, float | None] = dict.fromkeys((f"at_{warm:g}_c" for warm in HELD_AT_C), None)
    state = Conditions(outdoor_c=outdoor_c)
    large = build_van(with_output(unlimited(van), LARGE_W, at_w=max(element_w, 1.0)))
    needed_w = hold(large, state, inside_c).heat_w
    if element_w > 0.0:
        for warm in HELD_AT_C:
            held = lowest_held_c(large, state, warm, element_w)
            lowest[f"at_{warm:g}_c"] = COLDEST_C if held is None else held
    heat_kwh = 24.0 * min(needed_w, element_w) / 1000.0
    return Supply(
        supply_a=amps,
        supply_v=volts,
        supply_w=watts,
        fridge_w=fridge_w,
        charger_w=charger_w,
        element_w=element_w,
        spare_w=watts - fridge_w - charger_w - element_w,
        lowest_c=lowest,
        needed_w=needed_w,
        heat_kwh=heat_kwh,
        holds=element_w >= needed_w,
        cost=None if price_per_kwh is None else heat_kwh * price_per_kwh,
    )


def shared_w(van: Van, hookup_w: float) -> tuple[float, float, float]:
    """Mains power of fridge, charger and element when all ask for what they can get. [W]

    One hour of the engine with a half-empty battery in a warm van and the heater asked for more than it can.
    """
    battery = van.power.battery
    half = battery.model_copy(update={"start_share": 0.5 * (1.0 + battery.cut_out_share)})
    power = van.power.model_copy(update={"battery": half})
    built = build_van(van.model_copy(update={"power": power}))
    state = Conditions(outdoor_c=0.0)
    many = march(built, state, 1, set_c=HARD_C, start_c=20.0, hookup_w=hookup_w, fuel=ELECTRIC_ONLY)
    assert many.flows is not None
    at, flow = built.flows, many.flows[0]
    element_w = float(flow[at.electric_air_j] + flow[at.electric_water_j]) / 3600.0
    charger_w = float(flow[at.mains_charger_ah]) * battery.nominal_v / van.power.mains_charger_efficiency_share
    fridge_w = float(flow[at.mains_j]) / 3600.0 - charger_w - element_w
    return max(0.0, fridge_w), charger_w, element_w


def stays_of(run: Detail) -> tuple[Stay, ...]:
    """What each stop's hook-up gave, in the order of the stops."""
    mains = run.flow("mains_j") / 3.6e6
    electric = (run.flow("electric_air_j") + run.flow("electric_water_j")) / 3.6e6
    gas = (run.flow("gas_heat_air_j") + run.flow("gas_heat_water_j")) / 3.6e6
    found = []
    for number, stop in enumerate(run.tour.stops):
        here = (run.timeline.stop == number) & (run.timeline.hookup_w > 0.0)
        if not here.any():
            continue
        over = trips(run, number)
        kwh = float(mains[here].sum())
        found.append(
            Stay(
                place=stop.place,
                supply_a=stop.hookup_a,
                supply_w=stop.hookup_a * stop.hookup_v,
                mains_kwh=kwh,
                electric_heat_kwh=float(electric[here].sum()),
                gas_heat_kwh=float(gas[here].sum()),
                charged_ah=float(run.flow("mains_charger_ah")[here].sum()),
                price_per_kwh=stop.hookup_per_kwh,
                cost=None if stop.hookup_per_kwh is None else kwh * stop.hookup_per_kwh,
                over_h=len(over),
                trips=over,
            )
        )
    return tuple(found)


_NO_ELEMENT = "charger, fridge and kettle only, since this heater has no electric element"


def _sentences(
    has_element: bool,
    supplies: tuple[Supply, ...],
    stays: tuple[Stay, ...],
    heat_kwh: float,
    gas_price: float | None,
    power_price: float | None,
    outdoor_c: float,
    inside_c: float,
) -> list[str]:
    told = []
    if not has_element and len(supplies) > 1:
        several = ", ".join(f"{each.supply_a:g}" for each in supplies[:-1])
        told.append(f"{several} or {supplies[-1].supply_a:g} A at {supplies[-1].supply_v:g} V: {_NO_ELEMENT}.")
        supplies_told: tuple[Supply, ...] = ()
    else:
        supplies_told = supplies
    for each in supplies_told:
        gets = f"{each.supply_a:g} A at {each.supply_v:g} V ({each.supply_w:.0f} W)"
        if each.element_w <= 0.0:
            why = "nothing left for the heater's element after charger and fridge" if has_element else _NO_ELEMENT
            told.append(f"{gets}: {why}.")
            continue
        held = each.lowest_c[f"at_{HELD_AT_C[0]:g}_c"]
        told.append(f"{gets}: {each.element_w:.0f} W of heat hold {HELD_AT_C[0]:g} °C down to {held:.0f} °C outdoors.")
    needed = supplies[-1].needed_w
    told.append(f"At {outdoor_c:g} °C outdoors {inside_c:g} °C inside takes about {needed:.0f} W.")
    told.append(cheaper(heat_kwh, gas_price, power_price))
    for stay in stays:
        if stay.over_h:
            first = stay.trips[0]
            alone = sum(trip.meal_w + trip.fridge_w > BORNE_SHARE * stay.supply_w for trip in stay.trips)
            here = (
                f"is tripped in {alone} h by meal and fridge alone, though charger and element are held back here"
                if alone
                else "is not tripped here, since charger and element are held back to what it bears"
            )
            told.append(
                f"{stay.place}: {stay.supply_a:g} A {here}; with nothing held back it would trip in {stay.over_h} h, "
                f"first {short(dt.datetime.fromisoformat(first.at))} with {_on(first)}."
            )
    return told


def cheaper(heat_kwh: float, gas_price: float | None, power_price: float | None) -> str:
    """Which heat is cheaper here, and from what price on the other is, in one sentence."""
    content = f"{heat_kwh:.1f} kWh of heat a kg on the lower heating value"
    if gas_price is None and power_price is None:
        return f"Gas gives {content} in this heater; the tour gives no price, so none is compared."
    gas_level = None if gas_price is None else gas_price / heat_kwh
    from_gas = f"{gas_level:.2f} a kWh of heat ({gas_price:.2f} a kg at {content})" if gas_level is not None else ""
    from_power = f"{power_price:.2f} a kWh" if power_price is not None else ""
    if power_price is None:
        return (
            f"Gas costs {from_gas}: electricity is cheaper below {gas_level:.2f} a kWh, a price the tour does not give."
        )
    gas_below = f"{power_price * heat_kwh:.2f} a kg"
    if gas_level is None:
        return (
            f"Electricity costs {from_power}, and gas gives {content}: gas is cheaper below {gas_below}, a price the "
            "tour does not give."
        )
    if gas_level <= power_price:
        return (
            f"Heat is cheaper from gas here: {from_gas} against {from_power} of electricity, which is cheaper below "
            f"{gas_level:.2f} a kWh."
        )
    return (
        f"Heat is cheaper from electricity here: {from_power} against {from_gas} from gas, which is cheaper below "
        f"{gas_below}."
    )


def _on(trip: Trip) -> str:
    """What is on in an hour, with its watts."""
    return ", ".join(f"{name} {watts:.0f} W" for name, watts in users_of(trip).items())
