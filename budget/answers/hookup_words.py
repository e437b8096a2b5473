"""A hook-up in words: the heat of each supply, what else fits, what trips, and which heat is cheaper."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING

from budget.answers.heater_size_words import COLDEST_C
from budget.answers.trips import BORNE_SHARE, Trip, users_of
from budget.moments import short
from budget.rounding import least, need
from budget.wording import listed

if TYPE_CHECKING:
    from budget.answers.hookup import Stay, Supply

HELD_AT_C = (20.0, 16.0, 12.0)
KETTLES = (
    "A travel kettle takes about 1000 W and one of a household about 2000 W: what takes more than fits trips the "
    "hook-up."
)  # common practice


def sentences(
    has_element: bool,
    supplies: tuple[Supply, ...],
    stays: tuple[Stay, ...],
    heat_kwh: float,
    gas_price: float | None,
    power_price: float | None,
    outdoor_c: float,
    inside_c: float,
) -> list[str]:
    told = [_heat(each) for each in supplies] if has_element else [_no_element(supplies)]
    told.append(KETTLES)
    told.append(f"At {outdoor_c:g} °C outdoors {inside_c:g} °C inside takes about {need(supplies[0].needed_w)} W.")
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
                f"first {short(dt.datetime.fromisoformat(first.at))} with {on_at_once(first)}."
            )
    return told


def _heat(each: Supply) -> str:
    """The heat of one supply and the cold it holds, what is held back while the battery charges, what else fits."""
    gets = f"{each.supply_a:g} A at {each.supply_v:g} V ({each.supply_w:.0f} W)"
    at, charging_w = f"at_{HELD_AT_C[0]:g}_c", each.charging_element_w
    fits = f"{least(each.spare_w)} W fit, {least(each.charging_spare_w)} W while it charges"
    if each.element_w <= 0.0:
        return f"{gets}: nothing left for the heater's element. Once the battery is charged {fits}."
    held = f"{each.element_w:.0f} W of heat hold {HELD_AT_C[0]:g} °C down to {_cold(each.lowest_c[at])} outdoors"
    charging = f"while the battery charges ({each.charging_charger_w:.0f} W)"
    if charging_w >= each.element_w:
        held += ", while the battery charges too"
    elif charging_w > 0.0:
        held += f"; {charging} only {charging_w:.0f} W, down to {_cold(each.charging_lowest_c[at])}"
    else:
        held += f"; {charging} no heat"
    return f"{gets}: {held}. Beside that {fits}."


def _cold(lowest_c: float | None) -> str:
    return f"{need(COLDEST_C if lowest_c is None else lowest_c)} °C"


def _no_element(supplies: Sequence[Supply]) -> str:
    """What fits beside fridge and charger, supply by supply, where the heater has no element."""

    amps = listed([f"{each.supply_a:g}" for each in supplies], "or")
    charged = listed([least(each.spare_w) for each in supplies])
    charging = listed([least(each.charging_spare_w) for each in supplies])
    return (
        f"{amps} A at {supplies[0].supply_v:g} V: no heat, since this heater has no electric element. Once the battery "
        f"is charged {charged} W fit, {charging} W while it charges."
    )


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


def on_at_once(trip: Trip) -> str:
    """What is on in an hour, with its watts."""
    return ", ".join(f"{name} {watts:.0f} W" for name, watts in users_of(trip).items())
