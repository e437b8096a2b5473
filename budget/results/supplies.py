"""What a run says about its supplies beyond how much is left: why a tap stayed dry, where the cut-out stood."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

import numpy as np

from budget.engine.state import ICE_BOILER, ICE_FRESH, ICE_PIPES
from budget.engine.stepping import Floats
from budget.van.charge import cut_out_at_share

if TYPE_CHECKING:
    from budget.engine.batch import Many
    from budget.engine.van_arrays import BuiltVan
    from budget.van.model import Van
    from budget.van.power import Battery

DRY_L = 0.5  # less liquid than this in the fresh tank and it is called empty
LACKED_L = 1e-6
ICED_SHARE = 0.3  # of the pipes' water: with more ice no warm water comes, as in the engine
EMPTY, NO_POWER, ICE, DRAINED = "empty", "no_power", "ice", "drained"
WHY = {
    EMPTY: "the fresh tank was empty",
    NO_POWER: "the pump had no 12 V",
    ICE: "the water stood frozen",
    DRAINED: "the frost drain valve had emptied the boiler",
}


class Run(Protocol):
    """One run with every row of the engine."""

    @property
    def van(self) -> Van: ...
    @property
    def built(self) -> BuiltVan: ...
    @property
    def many(self) -> Many: ...


def lacked_by_cause(run: Run) -> dict[str, Floats]:
    """Water asked for and not had in each hour, by cause; causes that never came are left out. [L]"""
    flows, stocks, at = run.many.flows, run.many.stocks, run.built.stocks
    assert flows is not None and stocks is not None
    ice = {name: stocks[:, at.ice_kg + place] for name, place in
           (("fresh", ICE_FRESH), ("pipes", ICE_PIPES), ("boiler", ICE_BOILER))}  # fmt: skip
    return by_cause(
        flows[:, run.built.flows.unserved_water_l], stocks[:, at.fresh_l], flows[:, run.built.flows.cut_out_s], ice,
        run.van.water.pipes.content_l,
    )  # fmt: skip


def by_cause(
    unserved_l: Floats, fresh_l: Floats, cut_out_s: Floats, ice_kg: dict[str, Floats], pipes_l: float
) -> dict[str, Floats]:
    """``unserved_l`` and ``cut_out_s`` of n hours; ``fresh_l`` and the ice of fresh, pipes and boiler at n + 1 edges.

    An hour has one cause, judged by the fresh tank at its end: nothing fills it within the hour, and a tap that stays
    dry though liquid is left has another reason.
    """
    liquid = fresh_l[1:] - ice_kg["fresh"][1:]
    iced = (ice_kg["fresh"][1:] > DRY_L) & (liquid <= DRY_L)
    way = np.maximum(ice_kg["pipes"][1:], ice_kg["pipes"][:-1]) > ICED_SHARE * pipes_l
    way |= np.maximum(ice_kg["boiler"][1:], ice_kg["boiler"][:-1]) > 0.0
    reasons = ((iced, ICE), (liquid <= DRY_L, EMPTY), (cut_out_s > 0.0, NO_POWER), (way, ICE))
    cause = np.select([is_so for is_so, _ in reasons], [name for _, name in reasons], default=DRAINED)
    lacked = unserved_l > LACKED_L
    found = {name: np.where(lacked & (cause == name), unserved_l, 0.0) for name in WHY}
    return {name: litres for name, litres in found.items() if litres.any()}


def cut_out_shares(run: Run) -> Floats:
    """State of charge, of the rated capacity, at which the cut-out stood at each hour edge. [0–1]"""
    return _at_edges(run, run.van.power.battery)


def reconnect_shares(run: Run) -> Floats:
    """State of charge, of the rated capacity, from which what was cut out comes on again, at each hour edge. [0–1]"""
    battery = run.van.power.battery
    return _at_edges(run, battery.model_copy(update={"cut_out_share": battery.reconnect_share}))


def _at_edges(run: Run, battery: Battery) -> Floats:
    stocks = run.many.stocks
    assert stocks is not None
    battery_c = stocks[:, run.built.stocks.node_c + run.built.node_names.index("battery")]
    shares: Floats = np.array([cut_out_at_share(battery, float(c)) for c in battery_c])
    return shares
