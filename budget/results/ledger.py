"""Every column declared once: its name, unit, stock or flow, sign and meaning, and where the engine wrote it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

from budget.engine.layout import FIXED_LOADS, Flows, Stocks, flow_width
from budget.engine.stepping import OUTDOORS
from budget.engine.van_arrays import BuiltVan
from budget.stem import apart, stem
from budget.units import unit_of

Kind = Literal["stock", "flow", "measure"]
WATERS = ("fresh", "waste", "pipes", "boiler")
J_TO_WH = 1.0 / 3600.0
S_TO_MIN = 1.0 / 60.0


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column of the hourly tables.

    ``kind``: a stock stands at hour edges, a flow is an amount over the hour that a book accounts for, a measure is
    anything else counted over the hour. ``index``: the engine's columns that are added up; ``scale``: from the
    engine's unit to ``unit``. ``derived`` columns repeat others and stand in no book. ``idle`` ones are zero by
    construction (burner heat into a tank) and are left out of the hourly table. ``part`` is the part it tells of, as it
    stands in keys too; no two of a family have one.
    """

    name: str
    family: str
    kind: Kind
    sign: str
    meaning: str
    index: tuple[int, ...]
    scale: float = 1.0
    derived: bool = False
    idle: bool = False
    part: str = ""

    @property
    def unit(self) -> str:
        """Unit, from the end of the name; a count has none."""
        return unit_of(self.name) or "count"


@dataclass(frozen=True)
class Family:
    """Columns of one kind, one for each part; ``{}`` in the pattern takes the part's name."""

    family: str
    pattern: str
    kind: Kind
    sign: str
    meaning: str
    scale: float = 1.0


_LEFT = "never negative"
_STOCKS = (
    Family("node_c", "{}_c", "stock", "either", "temperature"),
    Family("node_heat_j", "{}_heat_wh", "stock", "either", "heat above liquid water or steel at 0 °C", J_TO_WH),
    Family("ice_kg", "{}_ice_kg", "stock", _LEFT, "ice in it"),
    Family("propane_kg", "{}_propane_kg", "stock", _LEFT, "propane left"),
    Family("butane_kg", "{}_butane_kg", "stock", _LEFT, "n-butane left"),
    Family("fresh_l", "fresh_l", "stock", _LEFT, "water in the fresh tank"),
    Family("waste_l", "waste_l", "stock", _LEFT, "water in the waste tank"),
    Family("boiler_l", "boiler_l", "stock", _LEFT, "water in the boiler"),
    Family("charge_ah", "charge_ah", "stock", "either", "charge of the leisure battery"),
    Family("vapour_kg", "{}_vapour_kg", "stock", _LEFT, "water vapour in the air"),
    Family("condensed_kg", "{}_condensed_kg", "stock", _LEFT, "water lying on the surface"),
    Family("kit_kg", "{}_kit_kg", "stock", _LEFT, "water in wet kit hung up"),
)
_FLOWS = (
    Family("edge_j", "loss_{}_wh", "flow", "out of the first place", "heat through it", J_TO_WH),
    Family("duct_loss_j", "duct_loss_wh", "flow", "out", "heater's heat lost by runs outdoors", J_TO_WH),
    Family("duct_j", "duct_{}_wh", "flow", "into the second place", "heat carried by circulated air", J_TO_WH),
    Family("extract_j", "{}_extract_wh", "flow", "in", "heat brought by air that the extract fan draws", J_TO_WH),
    Family("heater_j", "heater_to_{}_wh", "flow", "in", "heat from burner and electric element", J_TO_WH),
    Family("fan_heat_j", "fan_to_{}_wh", "flow", "in", "heat of the heater's fan", J_TO_WH),
    Family("sun_j", "{}_sun_wh", "flow", "in", "sun through glass", J_TO_WH),
    Family("skin_j", "{}_skin_wh", "flow", "in", "sun on the skin less loss to the sky", J_TO_WH),
    Family("people_j", "{}_people_wh", "flow", "in", "sensible heat of people", J_TO_WH),
    Family("appliances_j", "{}_appliances_wh", "flow", "in", "heat of electric appliances", J_TO_WH),
    Family("cooking_j", "{}_cooking_wh", "flow", "in", "sensible heat of the hob that stays inside", J_TO_WH),
    Family("drive_j", "{}_drive_wh", "flow", "in", "heat of the engine's heater while driving", J_TO_WH),
    Family("latent_j", "{}_latent_wh", "flow", "in", "heat set free by condensing less drying", J_TO_WH),
    Family("shower_j", "{}_shower_wh", "flow", "in", "heat that running warm water leaves", J_TO_WH),
    Family("water_j", "{}_water_wh", "flow", "in", "heat carried in by water less carried out", J_TO_WH),
    Family("pad_j", "battery_pad_wh", "flow", "in", "heat of the battery's heating pad", J_TO_WH),
    Family("vaporise_j", "{}_vaporise_wh", "flow", "out", "heat taken by gas that boils off and leaves", J_TO_WH),
    Family("swap_j", "{}_swap_wh", "flow", "in", "heat of the gas and steel brought less taken away", J_TO_WH),
    Family("fuel_j", "fuel_wh", "flow", "out", "lower heating value of the gas the heater burned", J_TO_WH),
    Family("start_loss_j", "start_loss_wh", "flow", "out", "fuel lost to the flue at starts", J_TO_WH),
    Family("flue_j", "flue_wh", "flow", "out", "fuel lost to the flue by the burner's efficiency", J_TO_WH),
    Family("gas_heat_air_j", "gas_to_air_wh", "flow", "in", "heat of the burner to the air", J_TO_WH),
    Family("gas_heat_water_j", "gas_to_water_wh", "flow", "in", "heat of the burner to the boiler", J_TO_WH),
    Family("electric_air_j", "electric_to_air_wh", "flow", "in", "heat of the electric element to the air", J_TO_WH),
    Family("electric_water_j", "electric_to_water_wh", "flow", "in", "heat of the element to the boiler", J_TO_WH),
    Family("flame_s", "burner_min", "measure", _LEFT, "time with a flame", S_TO_MIN),
    Family("starts", "starts", "measure", _LEFT, "burner starts"),
    Family("full_load_s", "full_load_min", "measure", _LEFT, "time at rated output that gives the same heat", S_TO_MIN),
    Family("fan_j", "fan_wh", "flow", "in", "electricity of the heater's fan", J_TO_WH),
    Family("fan_s", "fan_min", "measure", _LEFT, "time the heater's fan ran", S_TO_MIN),
    Family("below_s", "below_setpoint_min", "measure", _LEFT, "occupied and over 0.5 K below setpoint", S_TO_MIN),
    Family("below_k_s", "below_setpoint_k", "measure", _LEFT, "shortfall then, as mean of the hour", J_TO_WH),
    Family("supply_limited_s", "supply_limited_min", "measure", _LEFT, "time the guard held heat back", S_TO_MIN),
    Family("gas_out_kg", "{}_propane_drawn_kg", "flow", "out", "propane drawn"),
    Family("gas_out_butane_kg", "{}_butane_drawn_kg", "flow", "out", "n-butane drawn"),
    Family("swap_in_kg", "{}_propane_brought_kg", "flow", "in", "propane brought by exchange or filling"),
    Family("swap_in_butane_kg", "{}_butane_brought_kg", "flow", "in", "n-butane brought by exchange or filling"),
    Family("swap_out_kg", "{}_propane_given_up_kg", "flow", "out", "propane left in a bottle given back"),
    Family("swap_out_butane_kg", "{}_butane_given_up_kg", "flow", "out", "n-butane left in a bottle given back"),
    Family("swaps", "{}_swaps", "measure", _LEFT, "exchanges or fillings"),
    Family("heating_kg", "gas_heating_kg", "flow", "out", "gas burned for warm air"),
    Family("hot_water_kg", "gas_hot_water_kg", "flow", "out", "gas burned for hot water"),
    Family("cooking_kg", "gas_cooking_kg", "flow", "out", "gas burned at the hob"),
    Family("fridge_kg", "gas_fridge_kg", "flow", "out", "gas burned by the fridge"),
    Family("open_flame_j", "hob_and_fridge_gas_wh", "flow", "out", "lower heating value of their gas", J_TO_WH),
    Family("unserved_heating_kg", "unserved_heating_kg", "measure", _LEFT, "gas that heating lacked"),
    Family("unserved_cooking_kg", "unserved_cooking_kg", "measure", _LEFT, "gas that cooking lacked"),
    Family("unserved_fridge_kg", "unserved_fridge_kg", "measure", _LEFT, "gas that the fridge lacked"),
    Family("offtake_limit_kg", "offtake_limit_kg", "measure", _LEFT, "most gas the feeding bottle could give"),
    Family("load_ah", "{}_ah", "flow", "out", "charge it used"),
    Family("solar_ah", "solar_ah", "flow", "in", "charge from the sun that was used"),
    Family("solar_spilled_ah", "solar_spilled_ah", "flow", "out", "charge from the sun that found no room"),
    Family("alternator_ah", "alternator_ah", "flow", "in", "charge from the alternator"),
    Family("mains_charger_ah", "mains_charger_ah", "flow", "in", "charge from the mains charger"),
    Family("charge_loss_ah", "charge_loss_ah", "flow", "out", "charge lost in the battery"),
    Family("cut_out_s", "cut_out_min", "measure", _LEFT, "time the battery was cut out", S_TO_MIN),
    Family("mains_j", "mains_wh", "flow", "in", "all that the hook-up gave", J_TO_WH),
    Family("mains_appliances_j", "mains_appliances_wh", "flow", "out", "hook-up to fridge and cooking", J_TO_WH),
    Family("refill_l", "refill_l", "flow", "in", "fresh water filled"),
    Family("shower_l", "shower_l", "flow", "out", "shower water served"),
    Family("dishes_l", "dishes_l", "flow", "out", "dish water served"),
    Family("cold_water_l", "cold_water_l", "flow", "out", "cold water used"),
    Family("unserved_water_l", "unserved_water_l", "measure", _LEFT, "water asked for and not had"),
    Family("to_waste_l", "to_waste_l", "flow", "in", "water to the waste tank, spilled water counted"),
    Family("waste_emptied_l", "waste_emptied_l", "flow", "out", "waste water emptied"),
    Family("waste_spilled_l", "waste_spilled_l", "flow", "out", "waste water that found no room"),
    Family("dumped_l", "boiler_dumped_l", "flow", "out", "boiler water let out by the frost drain valve"),
    Family("boiler_filled_l", "boiler_filled_l", "flow", "in", "boiler filled again from the fresh tank"),
    Family("vapour_source_kg", "{}_vapour_given_off_kg", "flow", "in", "vapour of people, steam, showers and flames"),
    Family("vapour_out_kg", "{}_vapour_carried_out_kg", "flow", "out", "vapour to outdoors and other zones, net"),
    Family("condensing_kg", "{}_condensing_kg", "flow", "onto the surface", "vapour condensing less drying off"),
    Family("drying_kg", "{}_kit_drying_kg", "flow", "into the air", "water drying off wet kit"),
    Family("kit_hung_kg", "{}_kit_hung_kg", "flow", "in", "water in wet kit hung up"),
    Family("shed_kg", "{}_shed_kg", "flow", "off the surface", "water that ran off or was wiped off"),
    Family("wet_s", "{}_wet_min", "measure", _LEFT, "time the surface was wet", S_TO_MIN),
    Family("air_change_m3", "{}_air_change_m3", "measure", _LEFT, "outdoor air through leaks, vents and doors"),
)

FAMILIES = (*_STOCKS, *_FLOWS)


def columns(built: BuiltVan) -> list[Column]:
    """Every column of a van's results: first the engine's own, each once, then those derived from them.

    Readers find a part's column by family and place of the part (``Result.column``), never by the part's name.
    """
    derived = list(_derived(built))
    taken = {family.pattern for family in FAMILIES} | {column.name for column in derived}
    return [*_primary(built, taken), *derived]


def _primary(built: BuiltVan, taken: set[str]) -> Iterator[Column]:
    size, parts = built.size, _parts(built)
    width = flow_width(size)
    for families, offsets in ((_STOCKS, built.stocks), (_FLOWS, built.flows)):
        for family in families:
            start = getattr(offsets, family.family)
            stems = parts.get(family.family)
            if stems is None:
                yield replace(_column(family, family.pattern, start), idle=_is_idle(built, family.family, 0))
                continue
            if family.kind != "stock" and width[family.family] != len(stems):
                raise AssertionError(f"{family.family} has {width[family.family]} columns, {len(stems)} names")
            for k, part in enumerate(apart(stems, free=partial(_is_free, taken, family))):
                column = _column(family, _named(family, part), start + k)
                taken.add(column.name)
                yield replace(column, part=part, idle=_is_idle(built, family.family, k))


def _column(family: Family, name: str, index: int) -> Column:
    return Column(
        name=name, family=family.family, kind=family.kind, sign=family.sign, meaning=family.meaning, index=(index,),
        scale=family.scale,
    )  # fmt: skip


def _named(family: Family, part: str) -> str:
    """A column's name; of the loads the heater's fan has the short one."""
    if family.family == "load_ah":
        part = "fan" if part == FIXED_LOADS[0] else f"load_{part}"
    return family.pattern.format(part)


def _is_free(taken: set[str], family: Family, part: str) -> bool:
    return _named(family, part) not in taken


def _is_idle(built: BuiltVan, family: str, part: int) -> bool:
    """Burner and fan heat go to air nodes (and the boiler); only water nodes take in water."""
    van = built.arrays[0]
    airs = {int(node) for node in van.air_node[: built.size.zones]}
    if family == "heater_j":
        return part not in airs | {int(van.boiler_node)}
    if family == "fan_heat_j":
        return part not in airs
    if family == "water_j":
        return part not in {int(van.boiler_node), int(van.fresh_node), int(van.waste_node)}
    if family in {"extract_j", "shower_j"}:
        return part not in {int(van.wet), built.living}
    if family == "cooking_j":
        return part != built.living
    if family == "pad_j" or (family == "load_ah" and part == FIXED_LOADS.index("battery_pad")):
        return built.van.power.battery.pad_w <= 0.0
    if family == "drive_j":
        return part != built.cab
    return False


def _parts(built: BuiltVan) -> dict[str, list[str]]:
    """Stems of the parts that each family of several columns runs over; parts of one name are not told apart yet."""
    zones = [stem(zone) for zone in built.zone_names]
    of_zone = {f"{zone}_{end}": f"{stem(zone)}_{end}" for zone in built.zone_names for end in ("air", "fabric")}
    nodes = [of_zone.get(node, node) for node in built.node_names]
    bottles = [f"bottle_{k + 1}" for k in range(built.size.bottles)]
    surfaces = [stem(surface) for surface in built.surface_names]
    parts = {
        "edge_j": [_edge(edge.name) for edge in built.edges],
        "duct_j": [f"{_node(nodes, a)}_to_{_node(nodes, b)}" for a, b in built.duct_edges],
        "load_ah": [*FIXED_LOADS, *(stem(load.name) for load in built.van.power.loads)],
        "ice_kg": list(WATERS),
    }

    def over(names: list[str], families: str) -> None:
        parts.update({family: names for family in families.split()})

    over(nodes, "node_c node_heat_j heater_j fan_heat_j water_j")
    over(zones, "extract_j sun_j skin_j people_j appliances_j cooking_j drive_j latent_j shower_j vapour_kg kit_kg")
    over(zones, "vapour_source_kg vapour_out_kg drying_kg kit_hung_kg air_change_m3")
    over(bottles, "propane_kg butane_kg vaporise_j swap_j gas_out_kg gas_out_butane_kg swap_in_kg swap_in_butane_kg")
    over(bottles, "swap_out_kg swap_out_butane_kg swaps")
    over(surfaces, "condensed_kg condensing_kg shed_kg wet_s")
    return parts


def _edge(name: str) -> str:
    """Part of the column name of an edge, its zone said once ('living living roof' is living_roof)."""
    words = name.split(" ")
    return stem(" ".join(words[1:] if len(words) > 2 and words[0] == words[1] else words))


def _node(nodes: list[str], node: int) -> str:
    return "outdoors" if node == OUTDOORS else nodes[node]


def _derived(built: BuiltVan) -> Iterator[Column]:
    """Columns that repeat others: sums over components and bottles, and the state of charge."""
    stocks: Stocks = built.stocks
    flows: Flows = built.flows
    bottles = range(built.size.bottles)

    def stock(name: str, index: Iterable[int], meaning: str, scale: float = 1.0) -> Column:
        return Column(
            name=name, family="derived", kind="stock", sign=_LEFT, meaning=meaning, index=tuple(index), scale=scale,
            derived=True,
        )  # fmt: skip

    def flow(name: str, index: Iterable[int], meaning: str, scale: float = 1.0) -> Column:
        return replace(stock(name, index, meaning, scale), kind="flow")

    for b in bottles:
        yield stock(f"bottle_{b + 1}_kg", (stocks.propane_kg + b, stocks.butane_kg + b), "gas left in it")
    whole = [start + b for start in (stocks.propane_kg, stocks.butane_kg) for b in bottles]
    yield stock("gas_left_kg", whole, "gas left in all bottles")
    capacity_ah = float(built.arrays.capacity_ah[0])
    yield stock("charge_share", (stocks.charge_ah,), "state of charge", 1.0 / capacity_ah)
    air = (flows.gas_heat_air_j, flows.electric_air_j)
    yield flow("heater_to_air_wh", air, "heat of burner and element to the air", J_TO_WH)
    water = (flows.gas_heat_water_j, flows.electric_water_j)
    yield flow("heater_to_water_wh", water, "heat of burner and element to the boiler", J_TO_WH)
    uses = (flows.heating_kg, flows.hot_water_kg, flows.cooking_kg, flows.fridge_kg)
    yield flow("gas_used_kg", uses, "gas burned for everything")
