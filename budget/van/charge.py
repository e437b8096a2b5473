"""Where the battery's cut-out stands: below 25 °C less than the rating can be drawn, so it opens at a higher charge."""

from __future__ import annotations

from budget.physics import battery as of_battery
from budget.van.power import Battery

CHEMISTRY = {
    "lifepo4": of_battery.LIFEPO4,
    "agm": of_battery.AGM,
    "gel": of_battery.GEL,
    "wet": of_battery.WET,
}


def drawable_share(battery: Battery, battery_c: float) -> float:
    """Charge that can be drawn from a full battery at a temperature, down to nothing, over the rated one. [0–1]"""
    return float(of_battery.capacity_share(CHEMISTRY[battery.chemistry], battery_c))


def usable_ah(battery: Battery, battery_c: float) -> float:
    """Charge that a full battery gives at a temperature before its cut-out opens. [Ah]"""
    cold_share = drawable_share(battery, battery_c)
    return float(of_battery.usable_ah(battery.capacity_ah, battery.capacity_ah, cold_share, battery.cut_out_share))


def cut_out_at_share(battery: Battery, battery_c: float) -> float:
    """State of charge, of the rated capacity, at which the cut-out opens at a battery's temperature. [0–1]"""
    return 1.0 - usable_ah(battery, battery_c) / battery.capacity_ah


def reconnects_at_share(battery: Battery, battery_c: float) -> float:
    """State of charge, of the rated capacity, at which a battery that is cut out feeds its loads again. [0–1]"""
    return 1.0 - drawable_share(battery, battery_c) * (1.0 - battery.reconnect_share)
