"""The numbers that a van's description turned into, for people to check."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from budget.physics import properties, ventilation
from budget.physics.properties import Floats
from budget.rounding import least
from budget.van.cabin import Zone
from budget.van.charge import drawable_share, usable_ah
from budget.van.elements import (
    glazing_u_w_per_m2k,
    glazing_w_per_k,
    opaque_u_w_per_m2k,
    opaque_w_per_k,
    shell_w_per_k,
    zone_w_per_k,
)
from budget.van.model import Van
from budget.van.power import Solar

LOSS_CASES = "Heat loss, case by case"
REFERENCE_INSIDE_C, REFERENCE_OUTSIDE_C, REFERENCE_WIND_M_PER_S = 20.0, 0.0, 4.0


@dataclass(frozen=True)
class Row:
    """One number to show: what it is, its value and unit, a word on where it is from, and the table it belongs to."""

    name: str
    value: float
    unit: str
    note: str = ""
    group: str = ""


def numbers(
    van: Van,
    inside_c: float = REFERENCE_INSIDE_C,
    outside_c: float = REFERENCE_OUTSIDE_C,
    wind_m_per_s: float = REFERENCE_WIND_M_PER_S,
) -> list[Row]:
    """Heat loss by element and zone, heat stores, air exchange, water, electricity, gas and load, in that order.

    Air exchange is stated for the inside and outside temperatures [°C] and the wind at the van [m/s].
    """
    stated = (van, inside_c, outside_c, wind_m_per_s)
    groups = {
        LOSS_CASES: _whole(*stated),
        "Heat loss, element by element": [row for zone in van.cabin.zones for row in _shell(zone)],
        "Heat stores": _stores(van),
        "Air exchange": _air(*stated),
        "Water, power, gas, load": _water(van) + _electricity(van, inside_c, outside_c) + _gas(van) + _load(van),
    }
    return [replace(row, group=group) for group, rows in groups.items() for row in rows]


def _label(zone: Zone, name: str) -> str:
    """The name of an element with its zone's, unless it begins with it."""
    return name if name.startswith(zone.name) else f"{zone.name}: {name}"


def _shell(zone: Zone) -> list[Row]:
    rows = [
        Row(
            _label(zone, element.name),
            opaque_w_per_k(element),
            "W/K",
            f"{element.area_m2:.1f} m² at {opaque_u_w_per_m2k(element):.2f} W/m²K",
        )
        for element in zone.opaque
    ]
    for pane in zone.glazing:
        rows.append(
            Row(
                f"{_label(zone, pane.name)}, screens down",
                glazing_w_per_k(pane),
                "W/K",
                f"{pane.area_m2:.2f} m² at {glazing_u_w_per_m2k(pane):.1f} W/m²K",
            )
        )
        rows.append(
            Row(
                f"{_label(zone, pane.name)}, screens up",
                glazing_w_per_k(pane, 1.0),
                "W/K",
                f"{pane.area_m2:.2f} m² at {glazing_u_w_per_m2k(pane, 1.0):.1f} W/m²K",
            )
        )
    rows.append(Row(f"{zone.name}: shell, screens down", zone_w_per_k(zone), "W/K"))
    rows.append(Row(f"{zone.name}: shell, screens up", zone_w_per_k(zone, 1.0), "W/K"))
    return rows


def loss_w_per_k(
    van: Van,
    screens_share: float = 1.0,
    inside_c: float = REFERENCE_INSIDE_C,
    outside_c: float = REFERENCE_OUTSIDE_C,
    wind_m_per_s: float = REFERENCE_WIND_M_PER_S,
) -> float:
    """Heat that holds the sensor's zone 1 K above outdoors, all openings closed, the other zones unheated. [W/K]

    The zones beside it take the temperature at which what reaches them through closed openings leaves them; no sun,
    no people, no sky, no stratification.
    """
    zones = van.cabin.zones
    matrix = conductances_w_per_k(van, screens_share, 1.0, [inside_c] * len(zones), outside_c, wind_m_per_s)
    sensor = van.cabin.zone_index(van.heater.sensor_zone)
    rest = [index for index in range(len(zones)) if index != sensor and matrix[index, index] > 0.0]
    floating = np.linalg.solve(matrix[np.ix_(rest, rest)], -matrix[rest, sensor])
    return float(matrix[sensor, sensor] + matrix[sensor, rest] @ floating)


def conductances_w_per_k(
    van: Van,
    screens_share: float,
    closed: float | Sequence[float],
    zone_c: Sequence[float],
    outside_c: float,
    wind_m_per_s: float,
) -> Floats:
    """Matrix of what leaves each zone for a kelvin above outdoors, its neighbours' part negative beside it. [W/K]

    Shell, air and openings at sea level, ``closed`` the share of one or each opening that is closed; ``zone_c`` are the
    temperatures for which air and doorways are taken.
    """
    cabin = van.cabin
    matrix = np.zeros((len(cabin.zones), len(cabin.zones)))
    for index, zone in enumerate(cabin.zones):
        air = air_w_per_k(zone, zone_c[index], outside_c, wind_m_per_s)
        matrix[index, index] = zone_w_per_k(zone, screens_share) + air
    for opening, share in zip(cabin.openings, np.broadcast_to(closed, len(cabin.openings)), strict=True):
        one, other = (cabin.zone_index(name) for name in opening.between)
        warm_c, cold_c = max(zone_c[one], zone_c[other]), min(zone_c[one], zone_c[other])
        conductance = opening.closed_w_per_k + _carried_w_per_k(opening.closed_m3_per_h, warm_c)
        if share < 1.0 and opening.width_m > 0.0:
            wide_m3_per_h = ventilation.doorway_m3_per_h(opening.width_m, opening.height_m, warm_c, cold_c)
            conductance += (1.0 - share) * _carried_w_per_k(wide_m3_per_h, warm_c)
        matrix[[one, other], [one, other]] += conductance
        matrix[[one, other], [other, one]] -= conductance
    return matrix


def leakage_m3_per_h(zone: Zone, inside_c: float, outside_c: float, wind_m_per_s: float) -> float:
    """Air that cracks and seals let into a zone, at outdoor temperature. [m³/h]"""
    return ventilation.leakage_m3_per_h(zone.leakage_cm2, inside_c - outside_c, wind_m_per_s)


def vents_m3_per_h(zone: Zone, inside_c: float, outside_c: float, wind_m_per_s: float) -> float:
    """Air that a zone's fixed vents let through, at inside temperature. [m³/h]"""
    delta_k = inside_c - outside_c
    return ventilation.vent_m3_per_h(
        zone.vent_low_cm2, zone.vent_high_cm2, zone.vent_height_m, delta_k, wind_m_per_s, inside_c
    )


def air_w_per_k(zone: Zone, inside_c: float, outside_c: float, wind_m_per_s: float) -> float:
    """Heat loss by leakage and fixed vents of a zone, at sea level. [W/K]"""
    leakage = _carried_w_per_k(leakage_m3_per_h(zone, inside_c, outside_c, wind_m_per_s), outside_c)
    return leakage + _carried_w_per_k(vents_m3_per_h(zone, inside_c, outside_c, wind_m_per_s), inside_c)


def _carried_w_per_k(flow_m3_per_h: float, temp_c: float) -> float:
    """Heat that a flow of air of this temperature carries for each kelvin, at sea level. [W/K]"""
    density = properties.air_density_kg_per_m3(temp_c, properties.STANDARD_PRESSURE_PA)
    return flow_m3_per_h / 3600.0 * density * properties.AIR_CP_J_PER_KG_K


def _whole(van: Van, inside_c: float, outside_c: float, wind_m_per_s: float) -> list[Row]:
    sensor = van.heater.sensor_zone
    stated = f"{inside_c:g} °C in, {outside_c:g} °C out, wind {wind_m_per_s:g} m/s"
    air = sum(air_w_per_k(zone, inside_c, outside_c, wind_m_per_s) for zone in van.cabin.zones)
    rows = []
    for share, screens in ((1.0, "up"), (0.0, "down")):
        loss = loss_w_per_k(van, share, inside_c, outside_c, wind_m_per_s)
        note = f"shell and air, openings closed, the other zones unheated, as in budget outage; {stated}"
        rows.append(Row(f"{sensor} alone heated, screens {screens}", loss, "W/K", note))
        whole = shell_w_per_k(van.cabin, share)
        rows.append(
            Row(f"every zone as warm as {sensor}, screens {screens}", whole + air, "W/K", f"shell and air; {stated}")
        )
        rows.append(Row(f"all shells, screens {screens}", whole, "W/K", "the same without air: the elements' sum"))
    return rows


def _stores(van: Van) -> list[Row]:
    rows = []
    for zone in van.cabin.zones:
        rows.append(Row(f"{zone.name}: air and light contents", zone.air_capacity_j_per_k / 1000.0, "kJ/K"))
        rows.append(Row(f"{zone.name}: fabric", zone.fabric_capacity_j_per_k / 1000.0, "kJ/K"))
        rows.append(Row(f"{zone.name}: air volume", zone.air_m3, "m³"))
    whole = sum(zone.air_capacity_j_per_k + zone.fabric_capacity_j_per_k for zone in van.cabin.zones)
    return [*rows, Row("heat capacity of the whole van", whole / 1e6, "MJ/K")]


def _air(van: Van, inside_c: float, outside_c: float, wind_m_per_s: float) -> list[Row]:
    stated = (inside_c, outside_c, wind_m_per_s)
    note = f"{inside_c:g} °C in, {outside_c:g} °C out, wind {wind_m_per_s:g} m/s at the van"
    leaks = [leakage_m3_per_h(zone, *stated) for zone in van.cabin.zones]
    vents = [vents_m3_per_h(zone, *stated) for zone in van.cabin.zones]
    rows = [
        Row(f"{zone.name}: leakage", leak, "m³/h", f"{zone.leakage_cm2:.0f} cm²; {note}")
        for zone, leak in zip(van.cabin.zones, leaks, strict=True)
    ]
    rows += [
        Row(
            f"{zone.name}: fixed vents",
            vent,
            "m³/h",
            f"{zone.vent_low_cm2:.0f} cm² low, {zone.vent_high_cm2:.0f} cm² high, never closed; {note}",
        )
        for zone, vent in zip(van.cabin.zones, vents, strict=True)
        if zone.vent_low_cm2 + zone.vent_high_cm2 > 0.0
    ]
    return [*rows, Row("air exchange of the whole van", sum(leaks) + sum(vents), "m³/h", note)]


def _where(zone: str) -> str:
    return zone if zone == "outdoors" else f"in {zone}"


def _water(van: Van) -> list[Row]:
    water = van.water
    loss = f"standing loss {water.boiler.standing_loss_w:.0f} W at 60 °C"
    boiler = [Row("boiler", water.boiler.water_l, "L", loss)] if water.boiler.is_fitted else []
    return [
        *boiler,
        Row("fresh tank", water.fresh.capacity_l, "L", _where(water.fresh.zone)),
        Row("waste tank", water.waste.capacity_l, "L", _where(water.waste.zone)),
    ]


def _electricity(van: Van, inside_c: float, outside_c: float) -> list[Row]:
    battery = van.power.battery
    battery_c = outside_c if battery.zone == "outdoors" else inside_c
    drawn_ah = usable_ah(battery, battery_c)
    left_ah = battery.capacity_ah - drawn_ah
    note = (
        f"{battery.chemistry}, {battery.capacity_ah:g} Ah down to {left_ah:.0f} Ah "
        f"({100.0 * left_ah / battery.capacity_ah:.0f} %) with the battery at {battery_c:g} °C"
    )
    if left_ah > battery.capacity_ah * battery.cut_out_share + 0.5:
        note += (
            f"; the cut-out is set to {100.0 * battery.cut_out_share:.0f} % of what can be drawn, and at {battery_c:g} "
            f"°C that is {least(100.0 * drawable_share(battery, battery_c))} % of the rating"
        )
    day_wh = 24.0 * van.heater.standby_w
    fan_a = van.heater.stages[-1].fan_w / battery.nominal_v
    return [
        Row("usable charge", drawn_ah, "Ah", note),
        Row("usable energy", drawn_ah * battery.nominal_v, "Wh", f"at {battery.nominal_v:g} V"),
        Row("heater's controls at rest", day_wh / battery.nominal_v, "Ah/day"),
        Row("heater's fan at full output", fan_a, "A"),
        Row("solar panels", van.power.solar.peak_w, "W", _tilt(van.power.solar)),
    ]


def _tilt(solar: Solar) -> str:
    """Which way the panels are tilted; nothing of flat ones."""
    if solar.tilt_deg == 0.0:
        return ""
    if solar.azimuth_deg is None:
        return (
            f"tilted by {solar.tilt_deg:g}°, assumed to face the equator at every stop: south, or north in the "
            "southern hemisphere (azimuth_deg)"
        )
    return f"tilted by {solar.tilt_deg:g}°, facing {solar.azimuth_deg:g}° from north whichever way the van stands"


def _gas(van: Van) -> list[Row]:
    rows = []
    for bottle in van.gas.bottles:
        content_kg = bottle.net_kg if bottle.start_kg is None else bottle.start_kg
        lower_kwh_per_kg = (
            bottle.propane_share * properties.PROPANE_LOWER_KWH_PER_KG
            + (1.0 - bottle.propane_share) * properties.BUTANE_LOWER_KWH_PER_KG
        )
        note = f"{100.0 * bottle.propane_share:.0f} % propane by mass"
        rows.append(Row(f"{bottle.name}: contents", content_kg, "kg", note))
        rows.append(Row(f"{bottle.name}: energy", content_kg * lower_kwh_per_kg, "kWh", "lower heating value"))
    return rows


def _load(van: Van) -> list[Row]:
    bottles = sum(
        bottle.tare_kg + (bottle.net_kg if bottle.start_kg is None else bottle.start_kg) for bottle in van.gas.bottles
    )
    water = van.water.fresh.start_l + van.water.waste.start_l + van.water.boiler.water_l
    return [
        Row("gas bottles at departure", bottles, "kg", "counts towards the payload"),
        Row("water at departure", water, "kg", "counts towards the payload"),
    ]
