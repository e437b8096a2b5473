"""The books: opening + in - out = closing, for every part and every hour.

Each flow comes from its own law (an engine column), each stock from the state; no term is a remainder. An account is
a list of columns with factors, so that the books are data, and a test can corrupt any flow of any account.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from budget.engine import arrays
from budget.engine.layout import FIXED_LOADS
from budget.engine.stepping import Floats
from budget.engine.van_arrays import BuiltVan
from budget.errors import BooksDoNotClose
from budget.physics.properties import BUTANE_LOWER_J_PER_KG, PROPANE_LOWER_J_PER_KG, VAPOUR_LATENT_J_PER_KG

TOLERANCE = 1e-9
BOOKS = ("heat", "gas", "charge", "water", "vapour")
# Least gross flow of an hour that a residual is measured against: what rounding of the stocks themselves (a
# full tank of 5 MJ, 11 kg, 200 Ah, 100 L) leaves well below 1e-9 of it, and nobody could notice.
FLOOR = {"heat": 1000.0, "gas": 0.001, "charge": 0.1, "water": 0.1, "vapour": 0.001}
# A stock far larger than those (a lining of a hundred tonnes, 1e8 J/K) is itself rounded, to 1.1e-16 of it, some times
# at each of an hour's steps, of which there may be sixty: up to 5e-14 of it, 1e-9 of the share below. For a lining of
# 1 MJ/K at 20 °C the share is the floor of heat.
ROUNDED_SHARE = 5e-5
# Nor is a flow through a wide path (20 kW/K between air and lining) known better: it is its conductance times the
# difference of two integrals, each of the order of an hour at room temperature and rounded like such a stock.
ROOM_K_S = 20.0 * 3600.0
UNIT = {"heat": "J", "gas": "kg", "charge": "Ah", "water": "L", "vapour": "kg"}

Terms = tuple[tuple[int, float], ...]


@dataclass(frozen=True)
class Account:
    """One balance that must close each hour: the change of its stocks is the sum of its flows times their factors.

    ``known`` is a further inflow, from the drivers and not from the engine, one value an hour. ``path_w_per_k`` is what
    of its flows is conduction through fixed paths.
    """

    book: str
    name: str
    stocks: Terms
    flows: Terms
    known: Floats | None = None
    path_w_per_k: float = 0.0

    def residual_fraction(self, stocks: Floats, flows: Floats) -> Floats:
        """Residual of each hour over the greatest of in, out, stock change and floor; infinite for no number. [0–1]

        The floor is ``FLOOR``, or where that is more ``ROUNDED_SHARE`` of the stock or of what its paths' ends hold up.
        """
        change, held = np.zeros(len(flows)), np.zeros(len(flows))
        for index, factor in self.stocks:
            change += factor * np.diff(stocks[:, index])
            held += np.abs(factor * stocks[1:, index])
        gain, loss = np.zeros(len(flows)), np.zeros(len(flows))
        for index, factor in self.flows:
            amount = factor * flows[:, index]
            gain += np.maximum(amount, 0.0)
            loss += np.maximum(-amount, 0.0)
        if self.known is not None:
            gain = gain + self.known
        floor = np.maximum(FLOOR[self.book], ROUNDED_SHARE * np.maximum(held, self.path_w_per_k * ROOM_K_S))
        gross = np.maximum(np.maximum(gain, loss), np.maximum(np.abs(change), floor))
        fraction: Floats = np.abs(gain - loss - change) / gross
        fraction[np.isnan(fraction)] = np.inf
        return fraction


@dataclass(frozen=True)
class Balance:
    """How well the books close: the largest residual as a fraction of the hour's gross flow, by book and overall."""

    by_book: dict[str, float]
    worst: str

    @property
    def largest_residual_fraction(self) -> float:
        """Over every book, part and hour. [0–1]"""
        return max(self.by_book.values())

    def must_close(self) -> None:
        """BooksDoNotClose when a residual is over 1e-9 of the hour's gross flow."""
        if self.largest_residual_fraction > TOLERANCE:
            raise BooksDoNotClose(
                f"the books must close to {TOLERANCE:g} of an hour's gross flow, got "
                f"{self.largest_residual_fraction:.3g} in {self.worst}; this is an internal fault, no result is shown."
            )


def balance_of(accounts: list[Account], stocks: Floats, flows: Floats) -> Balance:
    """Close every account over every hour."""
    largest = dict.fromkeys(BOOKS, 0.0)
    worst, most = "", -1.0
    for account in accounts:
        fraction = account.residual_fraction(stocks, flows)
        hour = int(np.argmax(fraction))
        largest[account.book] = max(largest[account.book], float(fraction[hour]))
        if fraction[hour] > most:
            most, worst = float(fraction[hour]), f"{account.book} of {account.name} in hour {hour}"
    return Balance(by_book=largest, worst=worst)


def accounts_of(built: BuiltVan, hours: Any, weather_rows: Floats) -> list[Account]:
    """Every account of a van on the hours and weather that drove it."""
    sun_ah = _sun_offered_ah(built, hours, weather_rows)
    return [
        *_heat(built),
        *_appliances(built, hours),
        *_heater(built),
        *_gas(built),
        *_charge(built, sun_ah),
        *_water(built),
        *_vapour(built),
    ]


def _heat(built: BuiltVan) -> Iterator[Account]:
    """One account a node: storage against conduction, circulated air, burner, fan, gains, water, gas."""
    van, at, size = built.arrays[0], built.flows, built.size
    to_fabric = float(van.solar_to_fabric_share)
    terms: list[list[tuple[int, float]]] = [[] for _ in range(size.nodes)]
    path_w_per_k = np.zeros(size.nodes)
    for e in range(size.edges):
        for node, sign in ((int(van.edge_from[e]), -1.0), (int(van.edge_to[e]), 1.0)):
            if node >= 0:
                terms[node].append((at.edge_j + e, sign))
                path_w_per_k[node] += van.edge_w_per_k[e]
    for e, (_, to) in enumerate(built.duct_edges):
        terms[to].append((at.duct_j + e, 1.0))
    for i in range(size.nodes):
        terms[i] += [(start + i, 1.0) for start in (at.heater_j, at.fan_heat_j, at.water_j)]
    by_air = (at.extract_j, at.skin_j, at.people_j, at.appliances_j, at.cooking_j, at.drive_j, at.latent_j)
    for z in range(size.zones):
        air, fabric = int(van.air_node[z]), int(van.fabric_node[z])
        terms[air] += [(start + z, 1.0) for start in by_air]
        terms[air].append((at.sun_j + z, 1.0 - to_fabric))
        terms[fabric] += [(at.sun_j + z, to_fabric), (at.shower_j + z, 1.0)]
    terms[int(van.battery_node)].append((at.pad_j, 1.0))
    for b in range(size.bottles):
        node = int(van.bottle_node[b])
        terms[node] += [(at.vaporise_j + b, -1.0), (at.swap_j + b, 1.0)]
    for i, name in enumerate(built.node_names):
        held = ((built.stocks.node_heat_j + i, 1.0),)
        yield Account("heat", name, held, tuple(terms[i]), path_w_per_k=float(path_w_per_k[i]))
    for z, zone in enumerate(built.zone_names):
        water = [
            (at.condensing_kg + k, -VAPOUR_LATENT_J_PER_KG) for k in range(size.surfaces) if van.surface_zone[k] == z
        ]
        flows = ((at.latent_j + z, 1.0), (at.drying_kg + z, VAPOUR_LATENT_J_PER_KG), *water)
        yield Account("heat", f"{zone} latent heat", (), flows)


def _appliances(built: BuiltVan, hours: Any) -> Iterator[Account]:
    """Heat of appliances in a zone = charge its loads used, and mains cooking as far as hook-up and venting let it."""
    van, at = built.arrays[0], built.flows
    joules_per_ah = 3600.0 * float(van.nominal_v)
    cooking_w = np.minimum(hours["cooking_electric_w"], hours["hookup_w"]) * (1.0 - hours["cooking_vented"])
    for z, zone in enumerate(built.zone_names):
        loads = [
            (at.load_ah + len(FIXED_LOADS) + k, joules_per_ah) for k in range(built.size.loads) if van.load_zone[k] == z
        ]
        known = np.asarray(3600.0 * cooking_w) if z == built.living else None
        yield Account("heat", f"{zone} appliances", (), ((at.appliances_j + z, -1.0), *loads), known)


def _heater(built: BuiltVan) -> Iterator[Account]:
    """Fuel = air + water + flue + start loss; heat given off = heat arriving + duct loss; fan heat = electricity.

    The flue loss is counted in the engine as heat times (1 - efficiency) / efficiency at the burner's place on its
    stages, step by step.
    """
    at, size, van = built.flows, built.size, built.arrays[0]
    joules_per_ah = 3600.0 * float(van.nominal_v)
    fuel = (at.gas_heat_air_j, at.gas_heat_water_j, at.flue_j, at.start_loss_j)
    yield Account("heat", "burner", (), ((at.fuel_j, 1.0), *((index, -1.0) for index in fuel)))
    boiler = int(van.boiler_node)
    to_nodes = [(at.heater_j + i, -1.0) for i in range(size.nodes) if i != boiler]
    blown = [(at.fan_heat_j + i, -1.0) for i in range(size.nodes)]
    given = [(index, 1.0) for index in (at.gas_heat_air_j, at.electric_air_j, at.fan_j)]
    yield Account("heat", "warm air", (), (*given, *to_nodes, *blown, (at.duct_loss_j, -1.0)))
    water = ((at.gas_heat_water_j, 1.0), (at.electric_water_j, 1.0), (at.heater_j + boiler, -1.0))
    yield Account("heat", "water side of the heater", (), water)
    yield Account("heat", "heater's fan", (), ((at.load_ah, joules_per_ah), (at.fan_j, -1.0)))
    pad = at.load_ah + FIXED_LOADS.index("battery_pad")
    yield Account("heat", "battery's pad", (), ((pad, joules_per_ah), (at.pad_j, -1.0)))


def _gas(built: BuiltVan) -> Iterator[Account]:
    at, stocks, bottles = built.flows, built.stocks, range(built.size.bottles)
    components = (
        ("propane", stocks.propane_kg, at.gas_out_kg, at.swap_in_kg, at.swap_out_kg),
        ("butane", stocks.butane_kg, at.gas_out_butane_kg, at.swap_in_butane_kg, at.swap_out_butane_kg),
    )
    for b in bottles:
        for name, stock, drawn, brought, given_up in components:
            flows = ((drawn + b, -1.0), (brought + b, 1.0), (given_up + b, -1.0))
            yield Account("gas", f"{name} of bottle {b + 1}", ((stock + b, 1.0),), flows)
    drawn_kg = [(start + b, 1.0) for start in (at.gas_out_kg, at.gas_out_butane_kg) for b in bottles]
    burned = [(index, -1.0) for index in (at.heating_kg, at.hot_water_kg, at.cooking_kg, at.fridge_kg)]
    yield Account("gas", "burned against drawn", (), (*drawn_kg, *burned))
    drawn_j = [(at.gas_out_kg + b, PROPANE_LOWER_J_PER_KG) for b in bottles]
    drawn_j += [(at.gas_out_butane_kg + b, BUTANE_LOWER_J_PER_KG) for b in bottles]
    yield Account("heat", "gas burned", (), (*drawn_j, (at.fuel_j, -1.0), (at.open_flame_j, -1.0)))


def _charge(built: BuiltVan, sun_ah: Floats) -> Iterator[Account]:
    at, van = built.flows, built.arrays[0]
    loads = [(at.load_ah + k, -1.0) for k in range(len(FIXED_LOADS) + built.size.loads)]
    sources = [(index, 1.0) for index in (at.solar_ah, at.alternator_ah, at.mains_charger_ah)]
    flows = (*sources, *loads, (at.charge_loss_ah, -1.0))
    yield Account("charge", "battery", ((built.stocks.charge_ah, 1.0),), flows)
    ah_per_joule = 1.0 / (3600.0 * float(van.nominal_v))
    elements = (at.electric_air_j, at.electric_water_j, at.mains_appliances_j)
    mains = ((at.mains_j, ah_per_joule), (at.mains_charger_ah, -1.0 / float(van.mains_efficiency)))
    yield Account("charge", "hook-up", (), (*mains, *((index, -ah_per_joule) for index in elements)))
    yield Account("charge", "solar controller", (), ((at.solar_ah, -1.0), (at.solar_spilled_ah, -1.0)), sun_ah)


def _sun_offered_ah(built: BuiltVan, hours: Any, weather_rows: Floats) -> Floats:
    """Charge that the panels offer each hour after shade, snow and controller, from the drivers alone. [Ah]"""
    van = built.arrays[0]
    offered: Floats = weather_rows[:, arrays.PANEL_W] * float(van.solar_kept) / float(van.nominal_v)
    offered *= np.asarray(hours["solar_factor"])
    return offered


def _water(built: BuiltVan) -> Iterator[Account]:
    at, stocks = built.flows, built.stocks
    used = (at.shower_l, at.dishes_l, at.cold_water_l, at.boiler_filled_l)
    fresh = ((at.refill_l, 1.0), *((index, -1.0) for index in used))
    yield Account("water", "fresh tank", ((stocks.fresh_l, 1.0),), fresh)
    waste = ((at.to_waste_l, 1.0), (at.waste_spilled_l, -1.0), (at.waste_emptied_l, -1.0))
    yield Account("water", "waste tank", ((stocks.waste_l, 1.0),), waste)
    yield Account("water", "boiler", ((stocks.boiler_l, 1.0),), ((at.boiler_filled_l, 1.0), (at.dumped_l, -1.0)))


def _vapour(built: BuiltVan) -> Iterator[Account]:
    at, stocks, van = built.flows, built.stocks, built.arrays[0]
    for z, zone in enumerate(built.zone_names):
        onto = [(at.condensing_kg + k, -1.0) for k in range(built.size.surfaces) if van.surface_zone[k] == z]
        flows = ((at.vapour_source_kg + z, 1.0), (at.drying_kg + z, 1.0), (at.vapour_out_kg + z, -1.0), *onto)
        yield Account("vapour", f"{zone} air", ((stocks.vapour_kg + z, 1.0),), flows)
        kit = ((at.kit_hung_kg + z, 1.0), (at.drying_kg + z, -1.0))
        yield Account("vapour", f"kit in {zone}", ((stocks.kit_kg + z, 1.0),), kit)
    for k, surface in enumerate(built.surface_names):
        wet = (stocks.condensed_kg + k, 1.0)
        yield Account("vapour", surface, (wet,), ((at.condensing_kg + k, 1.0), (at.shed_kg + k, -1.0)))
