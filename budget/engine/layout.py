"""Where each column stands in the rows that the march writes: stocks at hour edges, flows over hours."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from budget.engine.arrays import COUNT


class Size(NamedTuple):
    """How many of each."""

    nodes: int
    zones: int
    edges: int
    ducts: int  # one-way duct edges
    bottles: int
    loads: int
    surfaces: int
    draws: int


class Stocks(NamedTuple):
    """First column of each family of stocks."""

    node_c: int  # nodes
    node_heat_j: int  # nodes
    ice_kg: int  # fresh, waste, pipes, boiler
    propane_kg: int  # bottles
    butane_kg: int  # bottles
    fresh_l: int
    waste_l: int
    boiler_l: int
    charge_ah: int
    vapour_kg: int  # zones
    condensed_kg: int  # surfaces
    kit_kg: int  # zones
    width: int  # of a row


class Flows(NamedTuple):
    """First column of each family of flows."""

    edge_j: int  # edges, from their first node to their second
    duct_loss_j: int  # heater's heat lost by runs outdoors
    duct_j: int  # one-way duct edges, gain of the receiving node
    extract_j: int  # zones, gain by air drawn through by the extract fan
    heater_j: int  # nodes, burner and element heat
    fan_heat_j: int  # nodes
    sun_j: int  # zones
    skin_j: int  # zones, sun on the skin less sky loss
    people_j: int  # zones
    appliances_j: int  # zones
    cooking_j: int  # zones
    drive_j: int  # zones
    latent_j: int  # zones, condensing less evaporating
    shower_j: int  # zones, warm water's heat to the room
    water_j: int  # nodes, enthalpy carried in by water less carried out
    pad_j: int  # heat of the battery's pad
    vaporise_j: int  # bottles, taken by evaporating gas with the enthalpy it leaves with
    swap_j: int  # bottles, enthalpy brought by swaps
    fuel_j: int
    start_loss_j: int
    flue_j: int  # by the efficiency of the stage
    gas_heat_air_j: int
    gas_heat_water_j: int
    electric_air_j: int
    electric_water_j: int
    flame_s: int
    starts: int
    full_load_s: int
    fan_j: int
    fan_s: int
    below_s: int
    below_k_s: int
    supply_limited_s: int
    gas_out_kg: int  # bottles, propane
    gas_out_butane_kg: int  # bottles
    swap_in_kg: int  # bottles, propane
    swap_in_butane_kg: int  # bottles
    swap_out_kg: int  # bottles, propane
    swap_out_butane_kg: int  # bottles
    swaps: int  # bottles
    heating_kg: int  # by the fuel's heat and the gas's heating value
    hot_water_kg: int
    cooking_kg: int
    fridge_kg: int
    open_flame_j: int  # heat of the gas of hob and fridge
    unserved_heating_kg: int
    unserved_cooking_kg: int
    unserved_fridge_kg: int
    offtake_limit_kg: int
    load_ah: int  # heater fan, heater standby, water pump, extract fan, battery's pad, then the van's loads
    solar_ah: int
    solar_spilled_ah: int
    alternator_ah: int
    mains_charger_ah: int
    charge_loss_ah: int
    cut_out_s: int
    mains_j: int  # all that the hook-up gives
    mains_appliances_j: int  # fridge and cooking on it
    refill_l: int
    shower_l: int
    dishes_l: int
    cold_water_l: int
    unserved_water_l: int
    to_waste_l: int
    waste_emptied_l: int
    waste_spilled_l: int
    dumped_l: int
    boiler_filled_l: int
    vapour_source_kg: int  # zones: people, steam, showers, flames
    vapour_out_kg: int  # zones, net to outdoors and other zones
    condensing_kg: int  # surfaces, less evaporating
    drying_kg: int  # zones, from wet kit
    kit_hung_kg: int  # zones
    shed_kg: int  # surfaces, water that ran off or was wiped off
    wet_s: int  # surfaces
    air_change_m3: int  # zones
    width: int  # of a row


def stocks_of(size: Size) -> Stocks:
    """Offsets of the stock families."""
    one = {"fresh_l", "waste_l", "boiler_l", "charge_ah"}
    width = {
        "node_c": size.nodes,
        "node_heat_j": size.nodes,
        "ice_kg": 4,
        "propane_kg": size.bottles,
        "butane_kg": size.bottles,
        "vapour_kg": size.zones,
        "condensed_kg": size.surfaces,
        "kit_kg": size.zones,
    }
    return Stocks(**_offsets(Stocks._fields, width, one))


FIXED_LOADS = ("heater_fan", "heater_standby", "water_pump", "extract_fan", "battery_pad")


def flow_width(size: Size) -> dict[str, int]:
    """Number of columns in each flow family that has not just one."""
    by_zone = (
        "extract_j sun_j skin_j people_j appliances_j cooking_j drive_j latent_j shower_j "
        "vapour_source_kg vapour_out_kg drying_kg kit_hung_kg air_change_m3"
    )
    by_bottle = (
        "vaporise_j swap_j gas_out_kg gas_out_butane_kg swap_in_kg swap_in_butane_kg swap_out_kg "
        "swap_out_butane_kg swaps"
    )
    width = {name: size.zones for name in by_zone.split()}
    width |= {name: size.bottles for name in by_bottle.split()}
    width |= {name: size.nodes for name in ("heater_j", "fan_heat_j", "water_j")}
    width |= {name: size.surfaces for name in ("condensing_kg", "shed_kg", "wet_s")}
    width |= {"edge_j": size.edges, "duct_j": size.ducts, "load_ah": len(FIXED_LOADS) + size.loads}
    return width


def flows_of(size: Size) -> Flows:
    """Offsets of the flow families."""
    width = flow_width(size)
    return Flows(**_offsets(Flows._fields, width, set(Flows._fields) - set(width) - {"width"}))


def _offsets(fields: tuple[str, ...], width: dict[str, int], one: set[str]) -> dict[str, int]:
    place, offsets = 0, {}
    for field in fields:
        offsets[field] = place
        if field != "width":
            place += 1 if field in one else width[field]
    return offsets


STOCKS = np.dtype([(name, COUNT) for name in Stocks._fields])
FLOWS = np.dtype([(name, COUNT) for name in Flows._fields])


def as_record(offsets: Stocks | Flows) -> Any:
    """The offsets as the march reads them."""
    filled = np.zeros(1, dtype=STOCKS if isinstance(offsets, Stocks) else FLOWS).view(np.recarray)
    for name, value in offsets._asdict().items():
        filled[name][0] = value
    return filled
