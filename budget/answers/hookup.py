"""The hook-up: who gets the watts, the cold a supply holds, what it costs, and gas or electricity."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from functools import cache, partial
from typing import TYPE_CHECKING, Any

import numpy as np

from budget.answers.conditions import LARGE_W, Conditions, hold, unlimited, with_output
from budget.answers.detail import Detail
from budget.answers.heat_source import load_shares, shared_w
from budget.answers.heater_size import lowest_held_c
from budget.answers.heater_size_words import COLDEST_C
from budget.answers.hookup_words import HELD_AT_C, sentences
from budget.answers.trips import Trip, trips
from budget.engine.stepping import Floats
from budget.engine.van_arrays import build_van
from budget.errors import InputFault
from budget.physics.properties import BUTANE_LOWER_KWH_PER_KG, PROPANE_LOWER_KWH_PER_KG
from budget.van.model import Van

if TYPE_CHECKING:
    from budget.answers.prepared import Prepared
    from budget.results.result import Result

AMPS = (3.0, 6.0, 10.0, 16.0)


@dataclass(frozen=True, kw_only=True)
class Supply:
    """One supply with the heater on electricity alone, its battery charged, and while that charges (``charging``).

    ``charger_w`` is what the charger takes for the 12 V loads, ``element_w`` the step of the heater's element that is
    left after fridge and charger, ``spare_w`` what else fits beside the three. ``lowest_c`` gives for each room
    temperature the coldest outdoors that this step alone holds, None without a step; -38 °C is the coldest looked at;
    ``charging_lowest_c`` is that of the step left while the battery charges. ``needed_w`` holds the room at the stated
    outdoor temperature; per day: ``heat_kwh`` of it that the element gives, ``cost`` where a price is given.
    """

    supply_a: float
    supply_v: float
    supply_w: float
    fridge_w: float
    charger_w: float
    element_w: float
    spare_w: float
    charging_charger_w: float
    charging_element_w: float
    charging_spare_w: float
    lowest_c: dict[str, float | None]
    charging_lowest_c: dict[str, float | None]
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
    heat_w, shares, lowest = (
        needed_w(van, outdoor_c, inside_c),
        load_shares(run.timeline, run.hours),
        cache(partial(lowest_c, van)),
    )
    supplies = tuple(supply(van, a, volts, heat_w, power_price, shares, lowest) for a in sorted(amps))
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
            sentences(
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


def needed_w(van: Van, outdoor_c: float, inside_c: float) -> float:
    """Heat that holds the room, blown by the fan of the fitted heater at just that output. [W]"""
    fitted, state = unlimited(van), Conditions(outdoor_c=outdoor_c)
    about_w = hold(build_van(with_output(fitted, LARGE_W)), state, inside_c).heat_w
    return hold(build_van(with_output(fitted, LARGE_W, at_w=max(about_w, 1.0))), state, inside_c).heat_w


def lowest_c(van: Van, element_w: float) -> dict[str, float | None]:
    """The coldest outdoors that a step of the element holds, for each room temperature; None without a step. [°C]"""
    if element_w <= 0.0:
        return dict.fromkeys((f"at_{warm:g}_c" for warm in HELD_AT_C), None)
    large = build_van(with_output(unlimited(van), LARGE_W, at_w=element_w))
    found = {warm: lowest_held_c(large, Conditions(outdoor_c=0.0), warm, element_w) for warm in HELD_AT_C}
    return {f"at_{warm:g}_c": COLDEST_C if held is None else held for warm, held in found.items()}


def supply(
    van: Van,
    amps: float,
    volts: float,
    heat_w: float,
    price_per_kwh: float | None,
    load_share: Floats | float = 0.0,
    lowest: Callable[[float], dict[str, float | None]] | None = None,
) -> Supply:
    """One supply, asked of the engine, for a room that takes ``heat_w``; ``load_share`` is how long each load is on."""
    watts = amps * volts
    fridge_w, charger_w, element_w = shared_w(van, watts, load_share=load_share)
    _, charging_w, beside_w = shared_w(van, watts, load_share=load_share, charging=True)
    lowest = lowest or partial(lowest_c, van)
    heat_kwh = 24.0 * min(heat_w, element_w) / 1000.0
    return Supply(
        supply_a=amps,
        supply_v=volts,
        supply_w=watts,
        fridge_w=fridge_w,
        charger_w=charger_w,
        element_w=element_w,
        spare_w=watts - fridge_w - charger_w - element_w,
        charging_charger_w=charging_w,
        charging_element_w=beside_w,
        charging_spare_w=watts - fridge_w - charging_w - beside_w,
        lowest_c=lowest(element_w),
        charging_lowest_c=lowest(beside_w),
        needed_w=heat_w,
        heat_kwh=heat_kwh,
        holds=element_w >= heat_w,
        cost=None if price_per_kwh is None else heat_kwh * price_per_kwh,
    )


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
