"""A result's tables as the figures take them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from budget.answers import trouble
from budget.answers.detail import Detail, first_hour
from budget.answers.last_chance import out_of_gas
from budget.engine.arrays import FLOOR, GLAZING, LINING, OPAQUE, ROOF, VENT
from budget.engine.layout import FIXED_LOADS
from budget.moments import moment
from budget.physics.bottle import mixture_pressure_pa
from budget.report.figures.battery import REST, battery
from budget.report.figures.bottle_pressure import bottle_pressure
from budget.report.figures.damp import damp
from budget.report.figures.frost import frost
from budget.report.figures.gas_left import gas_left
from budget.report.figures.heat_loss import Loss, heat_loss
from budget.report.figures.temperatures import temperatures
from budget.report.figures.water import SHORT_L, water
from budget.report.scene import Scene
from budget.report.section import Section
from budget.results.damp import condensed_by_night_g
from budget.results.drying import drying_of
from budget.results.frost import SOME_L, ice_words, valve_c
from budget.results.summary import swaps_of
from budget.results.supplies import EMPTY, WHY, cut_out_shares, lacked_by_cause, reconnect_shares
from budget.rounding import need
from budget.stem import apart, stem
from budget.wording import listed, number

if TYPE_CHECKING:
    from budget.engine.van_arrays import Edge
    from budget.results.result import Result

LOST = "charging loss"
LEAVES_ELSEWHERE = ("boiler", "fresh", "waste", "battery")
FROZEN_NAMES = {"pipes": "water pipes", "fresh": "fresh tank", "waste": "waste tank"}
GAINS = {
    "sun_j": "sun through glass",
    "people_j": "people",
    "appliances_j": "lights and appliances",
    "cooking_j": "hob",
    "drive_j": "engine's heat while driving",
    "fan_heat_j": "heater's fan",
}
CONDENSING = "vapour condensing"  # where over the tour more condensed than dried off
BOTH_WAYS = {
    "skin_j": ("sky, less sun on the skin", "the cold sky"),
    "latent_j": ("water drying off surfaces and kit", "drying"),
    "extract_j": ("extract fan", "air exchange"),
}


def figures_of(result: Result, scene: Scene) -> list[Section]:
    """The figures in the order of the reader's questions."""
    return [draw(result, scene) for draw in FIGURES.values()]


def unburned_kg(result: Result) -> float:
    """Gas that the tour would have burned more with gas and charge to its end. [kg]"""
    return max(0.0, result.need.kg - float(result.flows["gas_used_kg"].sum()))


def lacked_water(result: Result) -> tuple[np.ndarray, str]:
    """Water that an empty fresh tank did not give, by hour [L]; and words on what could not be had for other reasons.

    No words where that is under half a litre.
    """
    lacked = lacked_by_cause(result)
    dry = lacked.pop(EMPTY, np.zeros(len(result.flows)))
    litres = float(sum(each.sum() for each in lacked.values()))
    if litres <= SHORT_L:
        return dry, ""
    first = moment(result.timeline.edges[min(int(np.flatnonzero(each)[0]) for each in lacked.values())])
    why = listed([WHY[name] for name in lacked])
    return dry, f"{need(round(litres, 1))} L not had, first on {first}, since {why}"


def _gas(result: Result, scene: Scene) -> Section:
    bottles = [
        (bottle.name, bottle.net_kg, result.stocks[f"bottle_{k + 1}_kg"].to_numpy())
        for k, bottle in enumerate(result.van.gas.bottles)
    ]
    swaps = [(time, place, name) for time, place, name, *_ in swaps_of(result)]
    nights = max(float(result.summary["tour"]["nights"]), 1.0)
    need = result.need
    found, run = trouble.answer(result), Detail.of(result)
    out = run.hour_of(found.not_had_from) if found.gas_first and found.not_had_from else first_hour(out_of_gas(run))
    return gas_left(
        scene, bottles, swaps, need.reserve_kg, need.kg / nights, unburned_kg(result), need.short_of,
        None if out is None else scene.edges[out],
        sum(not swap["needed"] for swap in result.summary["gas"]["swaps"]),
    )  # fmt: skip


def _warmth(result: Result, scene: Scene) -> Section:
    hourly, flows = result.hourly, result.flows
    zones = {zone: result.air_c(zone).to_numpy() for zone in result.built.zone_names}
    gas = flows["gas_to_air_wh"] + flows["gas_to_water_wh"]
    electric = flows["electric_to_air_wh"] + flows["electric_to_water_wh"]
    below_h = float(flows["below_setpoint_min"].sum()) / 60.0
    return temperatures(
        scene, zones, result.van.heater.sensor_zone, hourly["setpoint_c"].to_numpy(), hourly["outdoor_c"].to_numpy(),
        gas.to_numpy(), electric.to_numpy(), below_h,
    )  # fmt: skip


def _battery(result: Result, scene: Scene) -> Section:
    flows = result.flows
    sources = {
        "solar": flows["solar_ah"].to_numpy(),
        "alternator": flows["alternator_ah"].to_numpy(),
        "mains charger": flows["mains_charger_ah"].to_numpy(),
    }
    fixed = [name.replace("_", " ") for name in FIXED_LOADS]
    lost, *names = apart([LOST, *fixed, *(load.name for load in result.van.power.loads)], between=" ", free=_is_no_rest)
    loads = {name: result.column("load_ah", k).to_numpy() for k, name in enumerate(names)}
    loads[lost] = flows["charge_loss_ah"].to_numpy()
    cut_out_h = float(flows["cut_out_min"].sum()) / 60.0
    cut = first_hour(flows["cut_out_min"].to_numpy())
    cut_out_from = None if cut is None else scene.edges[cut]
    charge_share = result.stocks["charge_share"].to_numpy()
    stands, again = cut_out_shares(result).tolist(), reconnect_shares(result).tolist()
    return battery(scene, charge_share, stands, sources, loads, cut_out_h, cut_out_from, again)


def _is_no_rest(name: str) -> bool:
    return stem(name) != stem(REST)


def _kwh(result: Result, family: str) -> list[float]:
    """Heat over the tour of each part of a family. [kWh]"""
    return [float(result.flows[column.name].sum()) / 1000.0 for column in result.columns(family)]


def losses_kwh(result: Result) -> list[Loss]:
    """Zone, element, group and heat out over the tour; what leaves through lining is given to its elements. [kWh]"""
    built = result.built
    heat = list(zip(built.edges, _kwh(result, "edge_j"), strict=True))
    losses: list[Loss] = []
    for z, zone in enumerate(built.zone_names):
        own = [(e, q) for e, q in heat if e.zone == z and e.b is None and e.a in (f"{zone}_air", f"{zone}_fabric")]
        lining = sum(q for e, q in own if e.kind == LINING)
        lined = sum(e.area_m2 * e.u * e.pull_share for e, _ in own if e.kind == OPAQUE)
        for edge, q in own:
            if edge.kind != LINING:
                share = edge.area_m2 * edge.u * edge.pull_share / lined if edge.kind == OPAQUE else 0.0
                element = edge.name.removeprefix(f"{zone} ").removeprefix(f"{zone} ")
                losses.append((zone, element, _group(edge), q + lining * share))
    for edge, q in heat:
        if edge.b is None and edge.a in ("pipes", *LEAVES_ELSEWHERE):
            losses.append(("outside", edge.name, "pipes and tanks", q))
    for family, (part, group) in BOTH_WAYS.items():
        for zone, q in zip(built.zone_names, _kwh(result, family), strict=True):
            losses.append((zone, CONDENSING if family == "latent_j" and q > 0.0 else part, group, -q))
    losses.append(("outside", "warm-air runs", "warm-air runs", sum(_kwh(result, "duct_loss_j"))))
    drained = -sum(_kwh(result, "water_j")) - sum(_kwh(result, "shower_j"))
    losses.append(("water", "warm water", "warm water drained", drained))
    return losses


def _group(edge: Edge) -> str:
    if edge.kind == GLAZING:
        return "glass"
    if edge.kind == VENT:
        return "air exchange"
    return {ROOF: "roof", FLOOR: "floor"}.get(edge.face, "walls and doors")


def gains_kwh(result: Result) -> list[tuple[str, float]]:
    """Heat that came in over the tour by source. [kWh]"""
    flows = result.flows
    gas = float((flows["gas_to_air_wh"] + flows["gas_to_water_wh"]).sum()) / 1000.0
    mains = float((flows["electric_to_air_wh"] + flows["electric_to_water_wh"]).sum()) / 1000.0
    return [
        ("heater, gas", gas),
        ("heater, mains", mains),
        *((name, sum(_kwh(result, f))) for f, name in GAINS.items()),
    ]


def _heat(result: Result, _: Scene) -> Section:
    return heat_loss(losses_kwh(result), gains_kwh(result))


def _frost(result: Result, scene: Scene) -> Section:
    stocks = result.stocks
    parts: dict[str, Any] = {"water pipes": stocks["pipes_c"].to_numpy()}
    tanks, fitted = [("fresh", "fresh tank"), ("waste", "waste tank")], result.van.water.boiler.is_fitted
    for tank, label in [*tanks, ("boiler", "boiler")] if fitted else tanks:
        watched = stocks[f"{tank}_l"].to_numpy() >= SOME_L
        parts[label] = np.where(watched, stocks[f"{tank}_c"].to_numpy(), np.nan)
    if result.van.water.drain_valve is not None and fitted:
        parts["frost drain valve"] = valve_c(result)
    parts["battery"] = stocks["battery_c"].to_numpy()
    if "garage" in result.built.zone_names:
        parts["garage"] = result.air_c("garage").to_numpy()
    return frost(scene, parts, result.van.pipes_frost_c, _frozen(result))


def _frozen(result: Result) -> dict[str, str]:
    """Since when each tank and the pipes are frozen, in words."""
    told = {FROZEN_NAMES.get(part, part): ice_words(entry, moment) for part, entry in result.summary["frost"].items()}
    return {name: how for name, how in told.items() if how is not None}


def _damp(result: Result, scene: Scene) -> Section:
    names = apart(result.built.surface_names, between=" ")
    hours = {name: result.column("wet_s", k).to_numpy() / 60.0 for k, name in enumerate(names)}
    return replace(damp(scene, hours, condensed_by_night_g(result)), text=tuple(_dried(result)))


def _dried(result: Result) -> Iterator[str]:
    """When wet kit was dry again, and its gas."""
    for kit in drying_of(result):
        hung = moment(pd.Timestamp(kit["hung_at"]))
        dry = "is not dry by the end" if kit["hours_to_dry_h"] is None else f"is dry in {kit['hours_to_dry_h']} h"
        gas_g = number(1000.0 * kit["extra_gas_kg"])
        yield f"{number(kit['water_kg'], 1)} L of wet kit hung up on {hung} {dry} and takes {gas_g} g of gas."


def _water(result: Result, scene: Scene) -> Section:
    tanks = result.van.water
    dry, barred = lacked_water(result)
    return water(
        scene, result.stocks["fresh_l"].to_numpy(), result.stocks["waste_l"].to_numpy(), tanks.fresh.capacity_l,
        tanks.waste.capacity_l, dry.tolist(), barred,
    )  # fmt: skip


def _pressure(result: Result, scene: Scene) -> Section:
    drawn = [float(result.flows[f"bottle_{k + 1}_propane_drawn_kg"].sum()) for k in range(len(result.van.gas.bottles))]
    k = int(np.argmax(drawn)) + 1
    stocks = result.stocks
    ambient_pa = result.weather.frame["pressure"].to_numpy(dtype=float)
    at_edge_pa = np.append(ambient_pa, ambient_pa[-1])
    rows = zip(stocks[f"bottle_{k}_c"], stocks[f"bottle_{k}_propane_kg"], stocks[f"bottle_{k}_butane_kg"], strict=True)
    inside_pa = np.array([mixture_pressure_pa(float(c), float(propane), float(butane)) for c, propane, butane in rows])
    gauge_bar = np.maximum(inside_pa - at_edge_pa, 0.0) / 1e5
    name = f"bottle {k}, {result.van.gas.bottles[k - 1].name}"
    return bottle_pressure(
        scene, name, stocks[f"bottle_{k}_kg"].to_numpy(), gauge_bar, stocks[f"bottle_{k}_c"].to_numpy()
    )


FIGURES = {
    "gas": _gas,
    "warmth": _warmth,
    "battery": _battery,
    "heat": _heat,
    "frost": _frost,
    "damp": _damp,
    "water": _water,
    "pressure": _pressure,
}
