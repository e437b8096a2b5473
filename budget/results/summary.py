"""The machine-readable summary: plain numbers with their units in the names, words and ISO times."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from budget.moments import hour_of_edge
from budget.results.damp import damp_nights, damp_of
from budget.results.drying import drying_of
from budget.results.frost import frost_of
from budget.results.ledger import slug
from budget.results.notices import EMPTY_KG, hours_guard_cycled
from budget.results.provenance import provenance_of
from budget.results.supplies import cut_out_shares, lacked_by_cause

if TYPE_CHECKING:
    from budget.results.result import Result

QUANTILE = "one run on this weather and these values, no quantile; the odds give P10, P50 and P90"


def summary_of(result: Result) -> dict[str, Any]:
    """Everything that came out of a run, as JSON-ready values; what is not modelled is absent, never zero."""
    return {
        "tour": _tour(result),
        "gas": _gas(result),
        "heater": _heater(result),
        "power": _power(result),
        "water": _water(result),
        "comfort": _comfort(result),
        "damp": damp_of(result),
        "damp_nights": damp_nights(result),
        **({"drying": drying} if (drying := drying_of(result)) else {}),
        "frost": frost_of(result),
        "balance": _balance(result),
        "notices": list(result.notices),
        "provenance": provenance_of(result.van, result.tour, result.weather_rows),
    }


def _balance(result: Result) -> dict[str, Any]:
    balance = result.balance
    return {
        "largest_residual_fraction": float(f"{balance.largest_residual_fraction:.3g}"),
        "by_book": {book: float(f"{fraction:.3g}") for book, fraction in balance.by_book.items()},
    }


def _tour(result: Result) -> dict[str, Any]:
    edges = result.timeline.edges
    return {
        "title": result.tour.title,
        "invented": result.tour.invented,
        "nights": nights_of(result),
        "hours": len(edges) - 1,
        "start": edges[0].isoformat(),
        "end": edges[-1].isoformat(),
    }


def nights_of(result: Result) -> int:
    """Midnights between start and end of the tour."""
    first, last = result.timeline.edges[[0, -1]].tz_localize(None).normalize()
    return int((last - first).days)


def _gas(result: Result) -> dict[str, Any]:
    flows, days = result.flows, len(result.flows) / 24.0
    total_kg = _sum(flows, "gas_used_kg")
    uses = {use: _sum(flows, f"gas_{use}_kg") for use in ("heating", "hot_water", "cooking", "fridge")}
    if result.van.fridge is None:
        del uses["fridge"]
    unserved = {use: _sum(flows, f"unserved_{use}_kg") for use in ("heating", "cooking", "fridge")}
    unserved["heating"] += float(result.need.beside_element_kg.sum())
    if result.van.fridge is None:
        del unserved["fridge"]
    first, need = result.van.gas.bottles[0], result.need
    return {
        "total_kg": _r(total_kg, 3),
        "kg_per_day": _r(total_kg / days, 3),
        "by_use_kg": {use: _r(kg, 3) for use, kg in uses.items()},
        "needed_kg": _r(need.kg, 3),
        "planned_kg": _r(need.planned_kg, 3),
        "short_of": list(need.short_of),
        "bottles_needed": bottles_needed(need.planned_kg, first.net_kg),
        "bottles_needed_basis": {
            "bottle": first.name,
            "net_kg": first.net_kg,
            "reserve_nights": need.reserve_nights,
            "reserve_kg_per_day": _r(need.hardest_kg_per_day, 3),
            "reserve_kg": _r(need.reserve_kg, 3),
            "quantile": QUANTILE,
        },
        "bottles": _bottles(result),
        "swaps": [
            {
                "time": time.isoformat(),
                "place": place,
                "bottle": name,
                "position": position,
                "brought_kg": _r(kg, 3),
                "needed": bool(time < result.timeline.edges[result.needless_from]),
            }
            for time, place, name, position, kg in swaps_of(result)
        ],
        "unserved_kg": _r(sum(unserved.values()), 3),
        "unserved_by_use_kg": {use: _r(kg, 3) for use, kg in unserved.items()},
    }


def bottles_needed(kg: float, net_kg: float) -> int:
    """Full bottles that hold an amount of gas; a thousandth of a bottle is not worth another."""
    return max(0, math.ceil(kg / net_kg - 0.001))


def _bottles(result: Result) -> list[dict[str, Any]]:
    found = []
    edges = result.timeline.edges
    for k, bottle in enumerate(result.van.gas.bottles):
        kg = result.stocks[f"bottle_{k + 1}_kg"].to_numpy()
        empty = np.flatnonzero(kg <= EMPTY_KG)
        drawn = _sum(result.flows, f"bottle_{k + 1}_propane_drawn_kg", f"bottle_{k + 1}_butane_drawn_kg")
        found.append(
            {
                "position": k + 1,
                "bottle": bottle.name,
                "net_kg": bottle.net_kg,
                "tare_kg": bottle.tare_kg,
                "start_kg": _r(float(kg[0]), 3),
                "end_kg": _r(float(kg[-1]), 3),
                "drawn_kg": _r(drawn, 3),
                "emptied_at": edges[hour_of_edge(empty[0])].isoformat() if len(empty) else None,
                "lowest_c": _r(float(result.stocks[f"bottle_{k + 1}_c"].min()), 2),
            }
        )
    return found


def swaps_of(result: Result) -> list[tuple[pd.Timestamp, str, str, int, float]]:
    """Exchanges and fillings in order: time, place, bottle, position and kilograms brought."""
    flows, timeline = result.flows, result.timeline
    found = []
    for k, bottle in enumerate(result.van.gas.bottles):
        brought = flows[f"bottle_{k + 1}_propane_brought_kg"] + flows[f"bottle_{k + 1}_butane_brought_kg"]
        for hour in np.flatnonzero(flows[f"bottle_{k + 1}_swaps"].to_numpy() > 0.0):
            place = result.tour.stops[timeline.stop[hour]].place
            found.append((timeline.index[hour], place, bottle.name, k + 1, float(brought.iloc[hour])))
    return sorted(found, key=lambda swap: (swap[0], swap[3]))


def _heater(result: Result) -> dict[str, Any]:
    flows = result.flows
    return {
        "heat_to_air_kwh": _r(_sum(flows, "heater_to_air_wh") / 1000.0, 3),
        "heat_to_water_kwh": _r(_sum(flows, "heater_to_water_wh") / 1000.0, 3),
        "fuel_kwh": _r(_sum(flows, "fuel_wh") / 1000.0, 3),
        "electric_kwh": _r(_sum(flows, "electric_to_air_wh", "electric_to_water_wh") / 1000.0, 3),
        "flue_loss_kwh": _r(_sum(flows, "flue_wh") / 1000.0, 3),
        "start_loss_kwh": _r(_sum(flows, "start_loss_wh") / 1000.0, 3),
        "duct_loss_outdoors_kwh": _r(_sum(flows, "duct_loss_wh") / 1000.0, 3),
        "burner_hours": _r(_sum(flows, "burner_min") / 60.0, 2),
        "full_load_hours": _r(_sum(flows, "full_load_min") / 60.0, 2),
        "starts": round(_sum(flows, "starts")),
        "peak_kg_per_h": _r(float((flows["gas_heating_kg"] + flows["gas_hot_water_kg"]).max()), 3),
        "hours_below_setpoint": _r(_sum(flows, "below_setpoint_min") / 60.0, 2),
        "hours_supply_limited": _r(_sum(flows, "supply_limited_min") / 60.0, 2),
        "hours_guard_cycled": _r(hours_guard_cycled(flows, result.van.heater.stages[0].output_w), 2),
        "kelvin_hours_below_setpoint": _r(_sum(flows, "below_setpoint_k"), 2),
    }


def _power(result: Result) -> dict[str, Any]:
    flows, share = result.flows, result.stocks["charge_share"]
    loads = [column.name for column in result.ledger if column.family == "load_ah"]
    used = {name.removeprefix("load_").removesuffix("_ah"): _sum(flows, name) for name in loads}
    used["heater_fan"] = used.pop("fan")
    if result.van.power.battery.pad_w <= 0.0:
        del used["battery_pad"]
    return {
        "fan_ah": _r(used["heater_fan"], 2),
        "used_ah": _r(sum(used.values()), 2),
        "wanted_ah": _r(result.need.wanted_ah, 2),
        "used_by_load_ah": {name: _r(ah, 2) for name, ah in sorted(used.items(), key=lambda item: -item[1])},
        "solar_ah": _r(_sum(flows, "solar_ah"), 2),
        "solar_spilled_ah": _r(_sum(flows, "solar_spilled_ah"), 2),
        "alternator_ah": _r(_sum(flows, "alternator_ah"), 2),
        "mains_charger_ah": _r(_sum(flows, "mains_charger_ah"), 2),
        "charge_loss_ah": _r(_sum(flows, "charge_loss_ah"), 2),
        "start_state_of_charge": _r(float(share.iloc[0]), 4),
        "end_state_of_charge": _r(float(share.iloc[-1]), 4),
        "lowest_state_of_charge": _r(float(share.min()), 4),
        "lowest_at": share.index[hour_of_edge(share.argmin())].isoformat(),
        "cut_out_state_of_charge": _r(float(cut_out_shares(result)[int(share.argmin())]), 4),
        "hours_cut_out": _r(_sum(flows, "cut_out_min") / 60.0, 2),
        "mains_kwh": _r(_sum(flows, "mains_wh") / 1000.0, 3),
    }


def _water(result: Result) -> dict[str, Any]:
    flows, draws = result.flows, result.draws
    water: dict[str, Any] = {
        "fresh_used_l": _r(_sum(flows, "shower_l", "dishes_l", "cold_water_l", "boiler_filled_l"), 1),
        "shower_l": _r(_sum(flows, "shower_l"), 1),
        "dishes_l": _r(_sum(flows, "dishes_l"), 1),
        "cold_water_l": _r(_sum(flows, "cold_water_l"), 1),
        "unserved_l": _r(_sum(flows, "unserved_water_l"), 1),
        "unserved_by_cause_l": {cause: _r(litres.sum(), 1) for cause, litres in lacked_by_cause(result).items()},
        "waste_spilled_l": _r(_sum(flows, "waste_spilled_l"), 1),
        "drained_by_frost_valve_l": _r(_sum(flows, "boiler_dumped_l"), 1),
        "refills": _stops_at_a_tap(result, "refill_l"),
        "to_waste_l": _r(_sum(flows, "to_waste_l"), 1),
        "emptied": _stops_at_a_tap(result, "waste_emptied_l"),
        "pump_ah": _r(_sum(flows, "load_water_pump_ah"), 2),
    }
    showers = draws[(draws["use"] == "shower") & (draws["served_l"] > 0.0)]
    if (draws["use"] == "shower").any():
        water["coldest_shower_c"] = _r(float(showers["coldest_c"].min()), 2) if len(showers) else None
        water["longest_wait_min"] = _r(float(showers["wait_min"].max()), 1) if len(showers) else None
    return water


def _stops_at_a_tap(result: Result, column: str) -> list[dict[str, Any]]:
    """When, where and how much a tank was filled or emptied."""
    timeline, litres = result.timeline, result.flows[column].to_numpy()
    return [
        {
            "time": timeline.index[hour].isoformat(),
            "place": result.tour.stops[timeline.stop[hour]].place,
            "litres_l": _r(float(litres[hour]), 1),
        }
        for hour in np.flatnonzero(litres > 0.0)
    ]


def _comfort(result: Result) -> dict[str, Any]:
    inside = result.timeline.inside
    found = {}
    for zone in result.built.zone_names:
        air = result.stocks[f"{slug(zone)}_air_c"]
        of_zone: dict[str, Any] = {
            "lowest_c": _r(float(air.min()), 2),
            "lowest_at": air.index[hour_of_edge(air.argmin())].isoformat(),
            "mean_c": _r(float(air.iloc[1:].mean()), 2),
            "highest_c": _r(float(air.max()), 2),
        }
        if inside.any():
            of_zone["lowest_while_occupied_c"] = _r(float(air.to_numpy()[1:][inside].min()), 2)
        found[zone] = of_zone
    return found


def _sum(flows: pd.DataFrame, *names: str) -> float:
    return float(sum(flows[name].sum() for name in names))


def _r(value: float, digits: int) -> float:
    return round(float(value), digits) + 0.0
