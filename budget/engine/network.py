"""General networks of nodes and conductances, and their march without a van.

The same arrays carry the demo van and a published test room: capacities, two-node edges, hourly surroundings and
heat inputs, one thermostatted heater.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from budget.compiled import jit
from budget.engine import arrays as A
from budget.engine import thermostat
from budget.engine.arrays import record
from budget.engine.rows import fill
from budget.engine.stepping import OUTDOORS, USUAL_ERROR_K, Floats, Ints, clear, connect, lay_steady
from budget.engine.thermal import advance
from budget.errors import BudgetError


def in_order(
    nodes: int, pairs: Sequence[tuple[int, int]], block: Sequence[int] = (), slow: Sequence[int] = ()
) -> tuple[list[int], Any]:
    """Order the nodes for the march, and say what each hangs on: (order, PATTERN record).

    A leaf has at most one neighbour, which is no leaf. The nodes of ``block`` (those that the heater, its ducts or its
    sensor touch) never count as leaves. Leaves of ``slow`` become followers. A block of four nodes with a leaf each,
    and at most one leaf more, is put in the order that ``four`` marches.
    """
    neighbours: list[set[int]] = [set() for _ in range(nodes)]
    for a, b in pairs:
        if a >= 0 and b >= 0 and a != b:
            neighbours[a].add(b)
            neighbours[b].add(a)
    kept = set(block)
    leaves: list[int] = []
    for node in range(nodes):
        if node not in kept and len(neighbours[node]) <= 1 and not neighbours[node] & set(leaves):
            leaves.append(node)
    rest = [node for node in range(nodes) if node not in leaves]
    if not rest:
        rest = [leaves.pop()]
    hung_on = {leaf: next(iter(neighbours[leaf]), rest[0]) for leaf in leaves}
    followers = [leaf for leaf in leaves if leaf in slow]
    folded = sorted((leaf for leaf in leaves if leaf not in slow), key=lambda leaf: rest.index(hung_on[leaf]))
    linings = {hung_on[leaf]: leaf for leaf in reversed(folded)}
    others = [leaf for leaf in folded if leaf not in linings.values()]
    paired = len(rest) == A.FOUR == len(linings) and len(others) <= 1
    if paired:
        first = {hung_on[leaf] for leaf in others}
        rest.sort(key=lambda node: node not in first)
        folded = others + [linings[node] for node in rest]
    order = followers + folded + rest
    count = len(leaves)
    parent = [count + rest.index(hung_on[leaf]) for leaf in followers + folded]
    pattern = record(A.PATTERN, nodes=nodes, followers=len(followers), leaves=count, parent=parent, paired=int(paired))
    return order, pattern


@dataclass(frozen=True, kw_only=True)
class Furnace:
    """A plain thermostatted heater for a general network.

    ``share`` [n] is where its heat goes; ``outputs_w`` and ``efficiency`` its operating points; a first output of 0
    makes it hold the setpoint without cycling.
    """

    sensor: int
    share: Floats
    outputs_w: Floats
    efficiency: Floats
    modulating: bool = True
    band_k: float = 0.02
    differential_k: float = 0.5
    min_on_s: float = 0.0
    min_off_s: float = 0.0
    start_loss_j: float = 0.0
    fan_w: Floats | None = None

    def burner(self, place: Ints) -> Any:
        """The arrays that the march reads."""
        points = len(self.outputs_w)
        share = np.zeros((points, len(place)))
        share[:, place] = self.share
        return record(
            A.BURNER,
            points=points,
            flows=0,
            modulating=int(self.modulating),
            outputs_w=np.asarray(self.outputs_w, dtype=float),
            efficiency=np.asarray(self.efficiency, dtype=float),
            fan_w=np.zeros(points) if self.fan_w is None else np.asarray(self.fan_w, dtype=float),
            heat_share=share,
            sensor=place[self.sensor],
            boiler=-1,
            differential_k=self.differential_k,
            band_k=self.band_k,
            min_on_s=self.min_on_s,
            min_off_s=self.min_off_s,
            start_loss_j=self.start_loss_j,
            run_on_s=0.0,
            water_w=0.0,
            boiler_hysteresis_k=1.0,
            water_first=1,
            fan_node=place[self.sensor],
        )


@dataclass(frozen=True, kw_only=True)
class March:
    """What came of a march: node temperatures at hour edges and hour means [°C], heat and fuel by hour [J]."""

    edge_c: Floats
    mean_c: Floats
    heat_j: Floats
    fuel_j: Floats
    fan_j: Floats
    starts: Floats
    steps: int


@dataclass(frozen=True, kw_only=True)
class Network:
    """Nodes with capacity [J/K], conductances [W/K] between them and to outdoors (node -1)."""

    capacity_j_per_k: Floats
    edge_from: Ints
    edge_to: Ints
    edge_w_per_k: Floats
    names: tuple[str, ...] = field(default=())

    def march(
        self,
        *,
        start_c: Floats,
        outdoor_c: Floats,
        heat_w: Floats,
        furnace: Furnace | None = None,
        setpoint_c: Floats | None = None,
        step_error_k: float = USUAL_ERROR_K,
        capacity_w: float = np.inf,
    ) -> March:
        """March through len(outdoor_c) hours.

        Parameters
        ----------
        start_c : Node temperatures at the start, shape (n,). [°C]
        outdoor_c : Outdoor temperature of each hour, shape (hours,). [°C]
        heat_w : Heat put into each node in each hour, shape (hours, n). [W]
        furnace, setpoint_c : Heater, and its setpoint in each hour (NaN off), shape (hours,). [°C]
        step_error_k : How far a step may stand from its embedded second-order twin. [K]
        """
        nodes, hours = len(self.capacity_j_per_k), len(outdoor_c)
        pairs = list(zip(self.edge_from.tolist(), self.edge_to.tolist(), strict=True))
        last = [0] if furnace is None else sorted({furnace.sensor, *np.flatnonzero(furnace.share).tolist()})
        listed, pattern = in_order(nodes, pairs, last)
        order = np.array(listed, dtype=np.int64)
        place = np.empty(nodes, dtype=np.int64)
        place[order] = np.arange(nodes)
        a, b = place[self.edge_from], np.where(self.edge_to < 0, OUTDOORS, place[np.maximum(self.edge_to, 0)])
        if furnace is None:
            furnace = Furnace(sensor=0, share=np.eye(nodes)[0], outputs_w=np.array([0.0, 1.0]), efficiency=np.ones(2))
            setpoint_c = np.full(hours, np.nan)
        burner = furnace.burner(place)
        assert setpoint_c is not None
        edge_c = np.empty((hours + 1, nodes))
        mean_c = np.empty((hours, nodes))
        result = np.zeros((hours, 4))
        steps = thermal_march(
            self.capacity_j_per_k[order], a, b, self.edge_w_per_k, start_c[order], outdoor_c,
            np.ascontiguousarray(heat_w[:, order]), burner, setpoint_c, min(capacity_w, float(furnace.outputs_w[-1])),
            step_error_k, pattern, record(A.WORK), edge_c, mean_c, result,
        )  # fmt: skip
        if steps < 0:
            raise BudgetError("the inner solver did not advance: a thermostat needs a node with capacity")
        return March(
            edge_c=edge_c[:, place], mean_c=mean_c[:, place], heat_j=result[:, 0], fuel_j=result[:, 1],
            fan_j=result[:, 2], starts=result[:, 3], steps=int(steps),
        )  # fmt: skip


@jit
def thermal_march(capacity, edge_from, edge_to, edge_w_per_k, start_c, outdoor_c, heat_w, burners, setpoint_c,
                  capacity_w, step_error_k, patterns, works, edge_c, mean_c, result):  # fmt: skip
    """March a plain network through its hours; fills edge_c, mean_c and result (heat, fuel, fan, starts)."""
    burner, pattern, work = burners[0], patterns[0], works[0]
    n = capacity.shape[0]
    hours = outdoor_c.shape[0]
    clear(pattern, work)
    for e in range(edge_from.shape[0]):
        connect(edge_from[e], edge_to[e], edge_w_per_k[e], pattern.leaves, work, work.steady)
    lay_steady(pattern, work)
    temp_c = start_c.copy()
    integers = np.zeros(4, dtype=np.int64)
    floats = np.zeros(3)
    floats[thermostat.SINCE_S] = 1.0e9
    limits = np.zeros(thermostat.LIMITS)
    limits[thermostat.GAS_CAP_W] = capacity_w
    limits[thermostat.EFFICIENCY_FACTOR] = 1.0
    limits[thermostat.STEP_ERROR_K] = step_error_k
    limits[thermostat.WATER_SET_C] = np.nan
    limits[thermostat.AIR_CAP_W] = thermostat.FAR
    integral = np.zeros(n)
    mean_flow = np.zeros(0)
    outcome = np.zeros(A.OUTCOME_ROOM)
    heat = np.zeros(n)
    edge_c[0] = temp_c
    for h in range(hours):
        for i in range(n):
            heat[i] = heat_w[h, i]
        for e in range(edge_from.shape[0]):
            if edge_to[e] < 0:
                heat[edge_from[e]] += edge_w_per_k[e] * outdoor_c[h]
        fill(integral, 0.0)
        fill(outcome, 0.0)
        limits[thermostat.SET_C] = setpoint_c[h]
        floats[thermostat.TRY_S] = thermostat.FIRST_STEP_S
        stuck = advance(3600.0, capacity, temp_c, heat, outdoor_c[h], burner, limits, integers, floats,
                        pattern, work, integral, mean_flow, mean_flow, outcome)  # fmt: skip
        if stuck != 0:
            return -1
        edge_c[h + 1] = temp_c
        for i in range(n):
            mean_c[h, i] = integral[i] / 3600.0
        result[h, 0] = outcome[thermostat.GAS_AIR_J]
        result[h, 1] = outcome[thermostat.FUEL_J]
        result[h, 2] = outcome[thermostat.FAN_J]
        result[h, 3] = outcome[thermostat.STARTS]
    return integers[thermostat.STEP_COUNT]
