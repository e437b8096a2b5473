"""State, one step of the network, and the thermal core: against dense algebra and rooms of endless capacity.

In a room whose temperature cannot move every power is constant, so that heat, fuel, fan and times are products.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from engine_bench import Bench
from sample_vans import sample_vans

from budget.engine import arrays as A
from budget.engine import thermostat as T
from budget.engine.block import invert, invert_four
from budget.engine.crossing import crossing_share, end_slope, meet_edges
from budget.engine.march import account_heater, follow
from budget.engine.network import in_order
from budget.engine.state import (
    ACTIVE,
    CUT_OUT,
    LIQUID_GAS_J_PER_KG_K,
    bottle_capacity_j_per_k,
    draw_heat,
    ice_on,
    set_capacities,
    set_out,
    write_stocks,
)
from budget.engine.stepping import (
    A21,
    B1,
    B2,
    GAMMA,
    clear,
    connect,
    end_c,
    hold_followers,
    lay_law,
    lay_steady,
    mean_c,
    move_followers,
    prepare,
    stage_increments,
    try_step,
)
from budget.engine.thermal import advance
from budget.physics.bottle import bottle_end_c
from budget.physics.properties import (
    STANDARD_PRESSURE_PA,
    WATER_CP_J_PER_KG_K,
    WATER_FUSION_J_PER_KG,
    humidity_ratio,
    saturation_pressure_pa,
)

DEMO = sample_vans()["demo"]
QUARTER_S = 900.0

# State


def stocked() -> Bench:
    laid = Bench(DEMO)
    state = laid.state
    state.water_l[:], state.ice_kg[:] = (50.0, 20.0, 12.0), (1.0, 2.0, 3.0, 4.0)
    state.propane_kg[:2], state.butane_kg[:2] = (5.0, 1.0), (2.0, 0.5)
    laid.van.pipes_l, laid.factors[A.CAPACITY] = 4.0, 0.8
    return laid


def test_every_node_holds_its_own_capacity_and_that_of_what_is_in_it() -> None:
    laid = stocked()
    van = laid.van
    set_capacities(van, laid.factors, laid.state, laid.scratch.capacity)
    expected = van.capacity_j_per_k.copy()
    expected[van.fabric_node[:4]] *= 0.8
    for node, litres in (
        (van.fresh_node, 50.0),
        (van.waste_node, 20.0),
        (van.boiler_node, 12.0),
        (van.pipes_node, 4.0),
    ):
        expected[node] += WATER_CP_J_PER_KG_K * litres
    expected[van.bottle_node[:2]] += LIQUID_GAS_J_PER_KG_K * np.array([7.0, 1.5])
    assert laid.scratch.capacity == pytest.approx(expected, rel=1e-12)
    assert bottle_capacity_j_per_k(van, laid.state, 1) == pytest.approx(expected[van.bottle_node[1]], rel=1e-12)


def test_ice_stands_on_the_four_water_nodes() -> None:
    laid = stocked()
    told = [ice_on(laid.van, laid.state, i) for i in range(laid.van.nodes)]
    expected = np.zeros(laid.van.nodes)
    for name, kg in (("fresh", 1.0), ("waste", 2.0), ("pipes", 3.0), ("boiler", 4.0)):
        expected[laid.node(name)] = kg
    assert told == expected.tolist()


def test_stocks_are_read_from_the_state() -> None:
    laid = stocked()
    state, van, at = laid.state, laid.van, laid.built.stocks
    state.temp_c[: van.nodes] = np.arange(van.nodes) + 1.0
    state.ratio[:4], state.kit_kg[:4] = (0.001, 0.002, 0.003, 0.004), (0.1, 0.2, 0.3, 0.4)
    state.condensed_kg[: van.surfaces] = np.arange(van.surfaces) + 0.5
    state.charge_ah[0] = 77.0
    laid.stock[:] = 1e9
    write_stocks(van, laid.factors, state, laid.stock, laid.stocks_at)
    set_capacities(van, laid.factors, state, laid.scratch.capacity)
    ice = np.array([ice_on(van, state, i) for i in range(van.nodes)])
    n = int(van.nodes)
    expected = {
        "node_c": state.temp_c[:n], "node_heat_j": laid.scratch.capacity[:n] * state.temp_c[:n]
        - ice * WATER_FUSION_J_PER_KG, "ice_kg": [1.0, 2.0, 3.0, 4.0], "propane_kg": [5.0, 1.0],
        "butane_kg": [2.0, 0.5], "fresh_l": [50.0], "waste_l": [20.0], "boiler_l": [12.0], "charge_ah": [77.0],
        "vapour_kg": van.air_kg[:4] * state.ratio[:4], "condensed_kg": state.condensed_kg[: van.surfaces],
        "kit_kg": [0.1, 0.2, 0.3, 0.4],
    }  # fmt: skip
    starts = sorted((first, name) for name, first in at._asdict().items())
    for (first, name), (last, _) in pairwise(starts):
        assert laid.stock[first:last].tolist() == pytest.approx(list(expected[name]), rel=1e-12), name


@pytest.mark.parametrize(
    ("inside_c", "outdoor_c", "refill_c", "told"),
    [(20.0, -5.0, 6.0, {"fresh": 10.0, "waste": 1.0, "boiler": 20.0, "pipes": 20.0}),
     (3.0, 8.0, 6.0, {"fresh": 3.0, "waste": 8.0, "boiler": 5.0, "pipes": 3.0}),
     (-10.0, -12.0, 6.0, {"fresh": 2.0, "waste": 1.0, "boiler": 5.0, "pipes": 2.0})],
)  # fmt: skip
def test_a_tour_sets_out_with_water_that_is_not_frozen(
    inside_c: float, outdoor_c: float, refill_c: float, told: dict[str, float]
) -> None:
    """Fresh water as it came, 4 K above its source and never above the room; the rest as cold as its place, not under
    the frost it was kept from."""
    laid = Bench(DEMO, outdoor_c, inside_c)
    laid.hour.refill_c, laid.hour.start_c = refill_c, inside_c
    set_out(laid.van, laid.hour, laid.outside, laid.factors, laid.state, laid.scratch)
    for name in laid.built.node_names:
        expected = told.get(name, inside_c)
        if name.startswith("bottle"):
            expected = outdoor_c + laid.van.locker_share * (inside_c - outdoor_c)
        assert laid.state.temp_c[laid.node(name)] == pytest.approx(expected, rel=1e-12), name


def test_a_tour_sets_out_from_a_clean_sheet_whatever_went_before() -> None:
    """Gas and charge by their factors, the bottle never overfull, the battery never over its capacity."""
    laid = Bench(DEMO, 0.0, 20.0)
    van, state, scratch = laid.van, laid.state, laid.scratch
    for records in (state, scratch):
        for name in records.dtype.names:
            if np.ndim(records[name]):
                records[name][:] = 5
    van.bottle_start_kg[:2], van.bottle_propane_share[:2], van.bottle_net_kg[:2] = (6.0, 10.0), 0.75, 11.0
    van.capacity_ah, van.start_share = 100.0, 0.8
    laid.factors[A.START_GAS], laid.factors[A.BATTERY], laid.factors[A.START_CHARGE] = 1.2, 0.9, 0.5
    laid.outside[A.HUMIDITY_RATIO] = 0.002
    set_out(van, laid.hour, laid.outside, laid.factors, state, scratch)
    assert state.propane_kg[:2].tolist() == pytest.approx([7.2 * 0.75, 11.0 * 0.75], rel=1e-12)
    assert state.butane_kg[:2].tolist() == pytest.approx([7.2 * 0.25, 11.0 * 0.25], rel=1e-12)
    assert state.charge_ah.tolist() == pytest.approx([36.0, 90.0], rel=1e-12)
    assert state.water_l.tolist() == [van.fresh_start_l, van.waste_start_l, van.boiler_l]
    assert state.ratio[:4].tolist() == [0.002] * 4
    for name in ("ice_kg", "condensed_kg", "kit_kg", "kit_m2", "marks", "integers"):
        assert not state[name].any(), name
    assert state.floats.tolist() == [1.0e9, 0.0, T.FIRST_STEP_S]
    for name in ("doorway_before", "blown_flow", "surface_dry", "zone_full", "latent_w", "cooking_w", "pumped_l",
                 "shower_vapour_kg"):  # fmt: skip
        assert not scratch[name].any(), name
    laid.factors[A.START_CHARGE], laid.outside[A.HUMIDITY_RATIO] = 2.0, 0.5
    set_out(van, laid.hour, laid.outside, laid.factors, state, scratch)
    assert state.charge_ah[0] == 90.0
    damp = 0.9 * humidity_ratio(saturation_pressure_pa(20.0), STANDARD_PRESSURE_PA)
    assert state.ratio[:4].tolist() == pytest.approx([damp] * 4, rel=1e-12)
    assert (state.marks[ACTIVE], state.marks[CUT_OUT]) == (0, 0)


@pytest.mark.parametrize("zoned", [True, False])
def test_a_bottle_that_chills_all_through_a_quarter_takes_in_the_heat_of_its_closed_form(zoned: bool) -> None:
    """The network ends it at 4 °C without the taking; 300 W taken all the time end it where ``bottle_end_c`` says, and
    what it took in the meantime comes from its zone by the locker's share."""
    laid = Bench(DEMO)
    van, state, scratch = laid.van, laid.state, laid.scratch
    node, zone = van.bottle_node[0], van.edge_to[van.bottle_zone_edge[0]]
    if not zoned:
        van.bottle_zone_edge[0] = -1
    held, coupling = bottle_capacity_j_per_k(van, state, 0), 2.5
    scratch.bottle_coupling[0], scratch.capacity[:], scratch.integral[:] = coupling, 50_000.0, 0.0
    van.locker_share = 0.6
    begin_c = 9.0 + (4.0 - 9.0) * math.exp(coupling * QUARTER_S / held)  # at the start of the quarter
    chill_k = 300.0 * QUARTER_S / held
    state.temp_c[node], state.temp_c[zone] = 4.0 - chill_k, 15.0
    draw_heat(van, 0, chill_k, state, scratch)
    end_c = bottle_end_c(QUARTER_S, begin_c, held, coupling, 9.0, 300.0)
    assert state.temp_c[node] == pytest.approx(end_c, abs=1e-9)
    taken_in_j = held * (end_c - 4.0 + chill_k)
    assert scratch.integral[node] == pytest.approx(-taken_in_j / coupling, rel=1e-9)
    assert state.temp_c[zone] == pytest.approx(15.0 - (0.6 * taken_in_j / 50_000.0 if zoned else 0.0), rel=1e-12)
    scratch.bottle_coupling[0] = 0.0
    before = state.temp_c.copy()
    draw_heat(van, 0, chill_k, state, scratch)
    assert np.array_equal(state.temp_c, before)


# One step


class Rig:
    """Seven nodes at odd places: two tanks that follow, two linings, three rooms; laid in the engine's order."""

    def __init__(self, capacity: tuple[float, ...], edges: list[tuple[int, int, float]], rooms: list[int],
                 followers: list[int]) -> None:  # fmt: skip
        order, pattern = in_order(len(capacity), [(a, b) for a, b, _ in edges], rooms, followers)
        self.place = {node: k for k, node in enumerate(order)}
        self.pattern, self.work = pattern[0], A.record(A.WORK)[0]
        self.capacity = np.array([capacity[node] for node in order])
        n = len(capacity)
        self.matrix = np.zeros((n, n))
        clear(self.pattern, self.work)
        for a, b, g in edges:
            i, j = self.place[a], self.place[b] if b >= 0 else -1
            connect(i, j, g, self.pattern.leaves, self.work, self.work.steady)
            self.matrix[i, i] += g
            if j >= 0:
                self.matrix[j, j] += g
                self.matrix[i, j] -= g
                self.matrix[j, i] -= g
        lay_steady(self.pattern, self.work)
        self.burner = A.record(A.BURNER)[0]
        self.n = n


EDGES = [(0, 3, 12.0), (3, 1, 40.0), (6, 3, 90.0), (6, 5, 70.0), (3, 5, 25.0), (2, 6, 8.0), (5, -1, 30.0),
         (6, -1, 15.0), (4, 5, 9.0), (0, -1, 2.0), (1, -1, 3.0), (3, -1, 11.0)]  # fmt: skip
CAPACITY = (90e3, 400e3, 60e3, 50e3, 300e3, 80e3, 20e3)


def rig(followers: tuple[int, ...] = (), rooms: tuple[int, ...] = (3, 5, 6)) -> Rig:
    return Rig(CAPACITY, EDGES, list(rooms), list(followers))


# Four rooms (0, 3, 5, 7) with a lining each, and, if asked for, a boiler (8) on room 3.
PAIRED_EDGES = [(1, 0, 40.0), (3, 2, 90.0), (4, 5, 70.0), (7, 6, 55.0), (0, 3, 25.0), (3, 5, 18.0), (7, 3, 12.0),
                (1, -1, 9.0), (6, -1, 4.0), (0, -1, 30.0), (3, -1, 15.0), (5, -1, 9.0), (7, -1, 6.0)]  # fmt: skip
PAIRED_CAPACITY = (50e3, 400e3, 300e3, 80e3, 250e3, 20e3, 150e3, 35e3)


def paired_rig(boiler: bool) -> Rig:
    if boiler:
        return Rig((*PAIRED_CAPACITY, 60e3), [*PAIRED_EDGES, (8, 3, 2.5), (8, -1, 0.5)], [0, 3, 5, 7], [])
    return Rig(PAIRED_CAPACITY, PAIRED_EDGES, [0, 3, 5, 7], [])


def dense_step(matrix: np.ndarray, capacity: np.ndarray, heat: np.ndarray, start: np.ndarray, h: float) -> list[Any]:
    """Alexander's method with a dense solver: increments k from (C + gamma h K) k = h (q - K base)."""
    left = np.diag(capacity) + GAMMA * h * matrix
    k1 = np.linalg.solve(left, h * (heat - matrix @ start))
    k2 = np.linalg.solve(left, h * (heat - matrix @ (start + A21 * k1)))
    k3 = np.linalg.solve(left, h * (heat - matrix @ (start + B1 * k1 + B2 * k2)))
    return [k1, k2, k3, start + B1 * k1 + B2 * k2 + GAMMA * k3]


@pytest.mark.parametrize(
    ("h", "rooms"),
    [(h, rooms) for rooms in ((3, 5, 6), (2, 3, 5, 6)) for h in (3.0, 60.0, 900.0)] + [(60.0, (1, 2, 3, 5, 6))],
)
@pytest.mark.parametrize(("flows_on", "slope"), [(False, 0.0), (True, 0.0), (False, 600.0), (True, 600.0)])
def test_a_step_with_folded_leaves_is_that_of_the_dense_network(
    h: float, rooms: tuple[int, ...], flows_on: bool, slope: float
) -> None:
    """Two one-way duct flows, one of them from outdoors, and a thermostat's slope at room 5 shared among the rooms."""
    laid = rig(rooms=rooms)
    assert laid.pattern.paired == 0
    assert_a_step_is_dense(laid, h, 3, 5, 6, flows_on, slope)


@pytest.mark.parametrize("boiler", [True, False])
@pytest.mark.parametrize("h", [3.0, 60.0, 900.0])
@pytest.mark.parametrize(("flows_on", "slope"), [(False, 0.0), (True, 0.0), (False, 600.0), (True, 600.0)])
def test_a_step_in_fours_is_that_of_the_dense_network(h: float, boiler: bool, flows_on: bool, slope: float) -> None:
    """The same where four rooms have a lining each, with and without a boiler on one of them, which is put first."""
    laid = paired_rig(boiler)
    assert laid.pattern.paired == 1
    if boiler:
        assert (laid.place[8], laid.place[3]) == (0, laid.pattern.leaves)
    assert_a_step_is_dense(laid, h, 3, 5, 7, flows_on, slope)


@pytest.mark.parametrize(
    ("more", "rooms"), [([(8, 3, 2.5), (9, 5, 2.5)], [0, 3, 5, 7]), ([(8, 9, 2.5), (9, 3, 9.0)], [0, 3, 5, 7, 9])]
)
def test_two_leaves_too_many_or_a_fifth_room_are_not_marched_in_fours(
    more: list[tuple[int, int, float]], rooms: list[int]
) -> None:
    laid = Rig((*PAIRED_CAPACITY, 60e3, 50e3), [*PAIRED_EDGES, *more], rooms, [])
    assert laid.pattern.paired == 0
    assert_a_step_is_dense(laid, 60.0, 3, 5, 7, True, 600.0)


def assert_a_step_is_dense(laid: Rig, h: float, left: int, entered: int, third: int, flows_on: bool,
                           slope: float) -> None:  # fmt: skip
    n, place, leaves = laid.n, laid.place, laid.pattern.leaves
    heat = 100.0 * np.arange(float(n))
    start = 3.0 * np.arange(float(n)) - 5.0
    laid.work.heat_w[:n] = heat
    burner = laid.burner
    burner.flows, burner.sensor = 2, place[entered]
    burner.flow_from[:2], burner.flow_to[:2] = (place[left], -1), (place[entered], place[third])
    laid.work.flow[:2], laid.work.share[:3] = (35.0, 20.0), (0.5, 0.3, 0.1)
    matrix = laid.matrix.copy()
    if flows_on:
        matrix[place[entered], place[entered]] += 35.0
        matrix[place[entered], place[left]] -= 35.0
        matrix[place[third], place[third]] += 20.0
    matrix[leaves : leaves + 3, place[entered]] += slope * np.array([0.5, 0.3, 0.1])
    lay_law(burner, flows_on, slope, laid.pattern, laid.work)
    prepare(h, laid.capacity, laid.pattern, laid.work)
    error_k = try_step(h, laid.capacity, start, laid.pattern, laid.work)
    k1, k2, k3, end = dense_step(matrix, laid.capacity, heat, start, h)
    twin = GAMMA * np.abs(k1 - 2.0 * k2 + k3)
    assert error_k == pytest.approx(twin[leaves:].max(), rel=1e-7)
    first, second = start + GAMMA * k1, start + A21 * k1 + GAMMA * k2
    mean = B1 * first + B2 * second + GAMMA * end  # stiffly accurate: the last stage is the end
    for node in range(n):
        assert end_c(node, start, laid.work) == pytest.approx(end[node], rel=1e-9, abs=1e-9)
        assert mean_c(node, start, laid.work) == pytest.approx(mean[node], rel=1e-9, abs=1e-9)
        alone = stage_increments(node, laid.work)
        for told, k in zip(alone, (k1, k2, k3), strict=True):
            assert told == pytest.approx(GAMMA * k[node], rel=1e-7, abs=1e-9)
        assert end_slope(node, h, laid.work) == pytest.approx(k3[node] / h, rel=1e-7, abs=1e-11)


@pytest.mark.parametrize("size", [1, 3, 4, 5, 9])
def test_the_block_is_inverted_whatever_its_size(size: int) -> None:
    values = np.random.default_rng(size).uniform(-1.0, 0.0, (size, size)) + np.diag(np.full(size, 2.0 * size))
    laid = A.record(A.WORK)[0]
    laid.inverse[:] = 3.3
    laid.inverse[:size, :size] = values
    invert(laid.inverse, size)
    assert laid.inverse[:size, :size] == pytest.approx(np.linalg.inv(values), rel=1e-12, abs=1e-15)


@pytest.mark.parametrize("widest", [1.0, 1e3, 1e6])
def test_a_block_of_four_is_inverted_by_one_division_as_well_as_by_four(widest: float) -> None:
    """Rows of an M-matrix whose sums are a thousandth of its widest entries keep twelve digits."""
    values = -(widest ** np.random.default_rng(4).uniform(0.0, 1.0, (4, 4)))
    np.fill_diagonal(values, 0.0)
    values -= np.diag(values.sum(axis=1) * 1.001)
    laid = A.record(A.WORK)[0]
    laid.inverse[:] = 3.3
    laid.inverse[:4, :4] = values
    invert_four(laid.inverse)
    assert laid.inverse[:4, :4] @ values == pytest.approx(np.eye(4), abs=1e-8)
    by_rows = A.record(A.WORK)[0]
    by_rows.inverse[:4, :4] = values
    invert(by_rows.inverse, 4)
    assert laid.inverse[:4, :4] == pytest.approx(by_rows.inverse[:4, :4], rel=1e-11)


def test_clearing_forgets_the_hour_before() -> None:
    laid = rig()
    clear(laid.pattern, laid.work)
    lay_steady(laid.pattern, laid.work)
    block = laid.pattern.nodes - laid.pattern.leaves
    assert not laid.work.network[:block, :block].any()
    assert not laid.work.leaf_sum[:7].any()
    assert not laid.work.leaf_g[:7].any()


def test_followers_stand_at_the_mean_of_their_decay_and_take_what_they_give() -> None:
    """Nodes 0 and 4 over a quarter: the mean of the exponential, of which the fraction 1/(1 + x/2 + x²/12) keeps six
    digits at x = 0.14; the joules that they send are those that the rooms receive."""
    laid = rig((0, 4))
    place, pattern, work = laid.place, laid.pattern, laid.work
    assert pattern.followers == 2
    start = np.array([20.0, 5.0, 12.0, 17.0, -3.0, 8.0, 16.0])
    temp_c = np.zeros(7)
    heat = np.zeros(7)
    for node, k in place.items():
        temp_c[k], heat[k] = start[node], 7.0 * node
    held_w, before = np.zeros(7), temp_c.copy()
    hold_followers(QUARTER_S, laid.capacity, temp_c, heat, pattern, work, held_w)
    sent = np.zeros(7)
    for node, parent, g, out in ((0, 3, 12.0, 2.0), (4, 5, 9.0, 0.0)):
        x = (g + out) * QUARTER_S / CAPACITY[node]
        rest = (7.0 * node + g * start[parent]) / (g + out)
        mean = rest + (start[node] - rest) * -math.expm1(-x) / x
        assert work.held_c[place[node]] == pytest.approx(mean, abs=2e-6 * abs(start[node] - rest))
        sent[place[parent]] += g * work.held_c[place[node]]
    assert held_w[2:] == pytest.approx((heat + sent)[2:], rel=1e-12)
    gained = np.arange(7.0) * 1000.0
    integral = np.ones(7)
    move_followers(QUARTER_S, laid.capacity, temp_c, heat, gained, pattern, work, integral)
    for node, parent, g, out in ((0, 3, 12.0, 2.0), (4, 5, 9.0, 0.0)):
        k = place[node]
        held = work.held_c[k] * QUARTER_S
        joules = 7.0 * node * QUARTER_S + g * gained[place[parent]] - (g + out) * held
        assert temp_c[k] == pytest.approx(before[k] + joules / CAPACITY[node], rel=1e-12)
        assert integral[k] == pytest.approx(1.0 + held, rel=1e-12)
    assert temp_c[2:].tolist() == before[2:].tolist()
    assert integral[2:].tolist() == [1.0] * 5


@pytest.mark.parametrize("target_share", [0.02, 0.3, 0.6, 0.97])
def test_a_crossing_is_found_on_the_steps_own_cubic(target_share: float) -> None:
    """One lump that decays by a tenth over the step: the exponential is there within what the stages' slopes, of
    first order, leave (0.3 % of the fall)."""
    laid = Rig((60e3,), [(0, -1, 100.0)], [0], [])
    lay_law(laid.burner, False, 0.0, laid.pattern, laid.work)
    prepare(60.0, laid.capacity, laid.pattern, laid.work)
    start = np.array([20.0])
    try_step(60.0, laid.capacity, start, laid.pattern, laid.work)
    fall = 20.0 - end_c(0, start, laid.work)
    target = 20.0 - target_share * fall
    share = crossing_share(0, target, start, laid.work)
    assert 20.0 * math.exp(-0.1 * share) == pytest.approx(target, abs=0.003 * fall)
    assert crossing_share(0, 20.0 - 0.999999 * fall, start, laid.work) == pytest.approx(1.0, abs=1e-5)
    assert crossing_share(0, 20.0 - 1e-6 * fall, start, laid.work) == pytest.approx(0.0, abs=1e-5)


def met(
    room_w: float,
    boiler_w: float,
    h: float = 600.0,
    loss_w_per_k: float = 0.0,
    may_lean: bool = False,
    room_c: float = 15.0,
    boiler_c: float = 40.0,
    near_k: float = 0.005,
    **edges: float,
) -> tuple[float, str, float, float, float, float]:
    """A boiler and a room of 50 kJ/K each, tried for h: the step that stands, what it met and at which edge, how far
    to lean, and where room and boiler end."""
    laid = Rig((50e3, 50e3), [(0, 1, 0.0), (1, -1, loss_w_per_k), (0, -1, loss_w_per_k)], [1], [])
    boiler, room = laid.place[0], laid.place[1]
    laid.burner.sensor, laid.burner.boiler = room, boiler
    temp_c = np.zeros(2)
    temp_c[room], temp_c[boiler] = room_c, boiler_c
    laid.work.heat_w[room], laid.work.heat_w[boiler] = room_w, boiler_w
    lay_law(laid.burner, False, 0.0, laid.pattern, laid.work)
    prepare(h, laid.capacity, laid.pattern, laid.work)
    try_step(h, laid.capacity, temp_c, laid.pattern, laid.work)
    limits = {"lo": -T.FAR, "hi": T.FAR, "boiler_lo": -T.FAR, "boiler_hi": T.FAR} | edges
    step, aimed, aim_c, lean_k = meet_edges(
        h, limits["lo"], limits["hi"], limits["boiler_lo"], limits["boiler_hi"], near_k, near_k, may_lean,
        laid.capacity, temp_c, laid.burner, laid.pattern, laid.work,
    )  # fmt: skip
    name = {room: "room", boiler: "boiler", -1: ""}[aimed]
    ends = [float(end_c(node, temp_c, laid.work)) for node in (room, boiler)]
    return step, name, aim_c, lean_k, ends[0], ends[1]


@pytest.mark.parametrize(
    ("edges", "step_s", "what", "edge_c"),
    [
        ({}, 600.0, "", 0.0),
        ({"hi": 21.1, "boiler_hi": 52.1}, 600.0, "", 0.0),
        ({"hi": 20.996}, 600.0, "", 0.0),  # within 5 mK of the end
        ({"boiler_hi": 51.99}, 600.0, "", 0.0),  # within 20 mK
        ({"hi": 18.0}, 300.0, "room", 18.0),
        ({"boiler_hi": 50.0}, 500.0, "boiler", 50.0),
        ({"hi": 18.0, "boiler_hi": 50.0}, 300.0, "room", 18.0),
        ({"hi": 20.0, "boiler_hi": 44.0}, 200.0, "boiler", 44.0),
        ({"hi": 15.9, "boiler_hi": 51.0}, 90.0, "room", 15.9),
        ({"hi": 20.9, "boiler_hi": 40.5}, 25.0, "boiler", 40.5),
    ],
)
def test_a_step_ends_at_the_edge_that_comes_first(
    edges: dict[str, float], step_s: float, what: str, edge_c: float
) -> None:
    """500 W are a kelvin in 100 s for the room, 1 kW one in 50 s for the boiler; downwards it is the same."""
    step, name, aim_c, lean_k, *_ = met(500.0, 1000.0, **edges)
    assert (name, aim_c, lean_k) == (what, edge_c, 0.0)
    assert step == pytest.approx(step_s, abs=0.51 if what == "room" else 1.01 if what else 0.0)
    mirrored = {{"hi": "lo", "boiler_hi": "boiler_lo"}[side]: (30.0 if side == "hi" else 80.0) - value
                for side, value in edges.items()}  # fmt: skip
    step, name, aim_c, lean_k, *_ = met(-500.0, -1000.0, **mirrored)
    mirror_c = {"room": 30.0 - edge_c, "boiler": 80.0 - edge_c, "": 0.0}[what]
    assert (name, lean_k) == (what, 0.0)
    assert aim_c == pytest.approx(mirror_c, rel=1e-12)
    assert step == pytest.approx(step_s, abs=0.51 if what == "room" else 1.01 if what else 0.0)


@pytest.mark.parametrize("h", [30.0, 300.0, 900.0])
@pytest.mark.parametrize("share", [0.05, 0.5, 0.9])
def test_an_edge_on_a_curve_is_met_within_its_tolerance(h: float, share: float) -> None:
    """100 W/K on 50 kJ/K towards 0 °C, up to 1.8 time constants in the step: 5 mK in the room, 20 mK in the boiler."""
    first = met(0.0, 0.0, h, 100.0)
    edge_c, boiler_edge_c = 15.0 - share * (15.0 - first[4]), 40.0 - share * (40.0 - first[5])
    step, name, _, _, room_c, _ = met(0.0, 0.0, h, 100.0, lo=edge_c)
    assert name == "room"
    assert room_c == pytest.approx(edge_c, abs=0.005)
    assert 0.0 < step < h
    step, name, _, _, _, boiler_c = met(0.0, 0.0, h, 100.0, boiler_lo=boiler_edge_c)
    assert name == "boiler"
    assert boiler_c == pytest.approx(boiler_edge_c, abs=0.02)
    assert 0.0 < step < h


@pytest.mark.parametrize(("watts", "edge"), [(500.0, "hi"), (-500.0, "lo")])
def test_a_room_that_stands_on_an_edge_asks_for_the_law_beyond_it(watts: float, edge: str) -> None:
    """Within one and a half tolerances of it, and once: three tolerances further the way it goes."""
    for off_k, leans in ((0.0, True), (0.007, True), (0.009, False)):
        start_c = 18.0 - math.copysign(off_k, watts)
        step, name, _, lean_k, *_ = met(watts, 0.0, may_lean=True, room_c=start_c, **{edge: 18.0})
        assert lean_k == (pytest.approx(math.copysign(0.015, watts)) if leans else 0.0)
        assert (step == 600.0, name) == ((True, "") if leans else (False, "room"))
    step, name, _, lean_k, *_ = met(watts, 0.0, room_c=18.0 - math.copysign(0.004, watts), **{edge: 18.0})
    assert (name, lean_k) == ("room", 0.0)
    assert step < 2.0
    assert met(watts, 0.0, may_lean=True, room_c=18.0 + math.copysign(0.02, watts), **{edge: 18.0})[:2] == (600.0, "")


def test_the_boiler_never_leans_and_a_step_of_a_twentieth_second_stands() -> None:
    step, name, _, lean_k, *_ = met(0.0, 1000.0, may_lean=True, boiler_hi=40.005)
    assert (name, lean_k) == ("boiler", 0.0)
    assert step < 1.3
    assert met(5e6, 0.0, 0.05, hi=16.0)[:2] == (0.05, "")


# The thermal core


class Room:
    """A boiler (leaf), a room with the sensor and a second room, all of endless capacity unless said."""

    def __init__(self, room_c: float = 15.0, boiler_c: float = 40.0, capacity: float = 1e15, **burner: Any) -> None:
        self.rig = Rig((capacity, capacity, capacity), [(0, 1, 0.0), (1, 2, 0.0), (1, -1, 0.0)], [1, 2], [])
        place = self.rig.place
        self.boiler, self.room, self.other = place[0], place[1], place[2]
        numbers: dict[str, Any] = {
            "points": 3, "modulating": 1, "sensor": self.room, "boiler": self.boiler, "differential_k": 0.7,
            "band_k": 0.5, "min_on_s": 180.0, "min_off_s": 60.0, "start_loss_j": 0.0, "run_on_s": 120.0,
            "water_w": 1700.0, "boiler_hysteresis_k": 5.0, "water_first": 1, "fan_node": self.room, "flows": 0,
        }  # fmt: skip
        self.burner = self.rig.burner
        self.burner.outputs_w[:3], self.burner.efficiency[:3] = (1000.0, 2000.0, 4000.0), (0.9, 0.8, 0.85)
        self.burner.fan_w[:3] = (10.0, 20.0, 60.0)
        block = self.room - self.rig.pattern.leaves
        self.burner.heat_share[:3, self.room], self.burner.heat_share[:3, self.other] = (0.9, 0.8, 0.5), (0.0, 0.1, 0.3)
        assert block >= 0
        for name, value in (numbers | burner).items():
            self.burner[name] = value
        self.limits = np.zeros(T.LIMITS)
        self.limits[[T.SET_C, T.WATER_SET_C, T.GAS_CAP_W, T.EFFICIENCY_FACTOR, T.STEP_ERROR_K, T.AIR_CAP_W]] = (
            20.0, np.nan, 4000.0, 1.0, 0.07, T.FAR,
        )  # fmt: skip
        self.temp_c = np.zeros(3)
        self.temp_c[[self.boiler, self.room, self.other]] = boiler_c, room_c, 5.0
        self.integers, self.floats = np.zeros(4, dtype=np.int64), np.array([1e9, 0.0, T.FIRST_STEP_S])
        self.mean_flow, self.blown = np.zeros(4), np.zeros(4)
        self.outcome, self.integral, self.heat_w = np.zeros(A.OUTCOME_ROOM), np.zeros(3), np.zeros(3)

    def run(self, span_s: float = QUARTER_S, outdoor_c: float = 0.0) -> dict[str, float]:
        """What came of a span, by name, where it is not nothing."""
        stuck = advance(
            span_s, self.rig.capacity, self.temp_c, self.heat_w, outdoor_c, self.burner, self.limits, self.integers,
            self.floats, self.rig.pattern, self.rig.work, self.integral, self.mean_flow, self.blown, self.outcome,
        )  # fmt: skip
        assert stuck == 0
        leaves, n = self.rig.pattern.leaves, 3 - self.rig.pattern.leaves
        told = {name: float(self.outcome[getattr(T, name)]) for name in NAMES}
        for at, family in ((T.OUTCOMES, "HEAT"), (T.OUTCOMES + A.NODES, "FAN_HEAT")):
            for k in range(n):
                node = {self.room: "room", self.other: "other"}[leaves + k]
                told[f"{family} {node}"] = float(self.outcome[at + k])
        return {name: value for name, value in told.items() if value != 0.0}


NAMES = ("GAS_AIR_J", "GAS_WATER_J", "ELECTRIC_AIR_J", "ELECTRIC_WATER_J", "FUEL_J", "FLAME_S", "STARTS", "FAN_J",
         "FAN_S", "FULL_LOAD_J", "START_LOSS_J", "WATER_FUEL_J", "DUCT_LOSS_J", "FLUE_J")  # fmt: skip


def same(told: dict[str, float], expected: dict[str, float]) -> bool:
    return told == pytest.approx({name: value for name, value in expected.items() if value != 0.0}, rel=1e-6)


def burned(heat_w: float, efficiency: float, span_s: float = QUARTER_S, top_w: float = 4000.0) -> dict[str, float]:
    joules = heat_w * span_s
    return {"FUEL_J": joules / efficiency, "FLUE_J": joules * (1.0 / efficiency - 1.0), "FLAME_S": span_s,
            "FULL_LOAD_J": joules / top_w}  # fmt: skip


def blown(heat_w: float, fan_w: float, room: float, other: float, span_s: float = QUARTER_S) -> dict[str, float]:
    """Heat and fan to the rooms by their shares; the rest is lost by the runs."""
    return {
        "FAN_J": fan_w * span_s, "FAN_S": span_s, "HEAT room": room * heat_w * span_s,
        "HEAT other": other * heat_w * span_s, "FAN_HEAT room": room * fan_w * span_s,
        "FAN_HEAT other": other * fan_w * span_s,
        "DUCT_LOSS_J": (1.0 - room - other) * (heat_w + fan_w) * span_s,
    }  # fmt: skip


def test_a_cold_room_gets_the_full_fire_and_its_books() -> None:
    room = Room(start_loss_j=60_000.0)
    told = room.run()
    expected = burned(4000.0, 0.85) | blown(4000.0, 60.0, 0.5, 0.3)
    expected["FUEL_J"] += 60_000.0
    assert same(told, expected | {"GAS_AIR_J": 3.6e6, "STARTS": 1.0, "START_LOSS_J": 60_000.0})
    again = room.run()  # it burns on: no further start
    assert (again["STARTS"], again["FLAME_S"], again["START_LOSS_J"]) == pytest.approx((1.0, 1800.0, 60_000.0))
    assert room.floats[T.SINCE_S] == pytest.approx(1800.0)
    assert room.floats[T.RUN_ON_S] == 120.0
    assert room.integral.tolist() == pytest.approx((room.temp_c * 1800.0).tolist(), rel=1e-9)


def test_every_start_costs_its_loss() -> None:
    room = Room(start_loss_j=60_000.0)
    for set_c in (20.0, np.nan, 20.0):
        room.limits[T.SET_C] = set_c
        told = room.run()
    assert (told["STARTS"], told["START_LOSS_J"]) == (2.0, 120_000.0)
    assert told["FLAME_S"] == pytest.approx(1800.0, rel=1e-9)
    assert told["FUEL_J"] == pytest.approx(7.2e6 / 0.85 + 120_000.0, rel=1e-9)


def test_the_quarters_heat_goes_into_the_row_of_its_hour() -> None:
    """Each outcome is a number of its own; the boiler's node gets what gas and elements gave it."""
    laid = Bench(DEMO)
    outcome, n = laid.scratch.outcome, int(laid.van.nodes - laid.pattern.leaves)
    outcome[: T.OUTCOMES] = np.arange(1.0, T.OUTCOMES + 1.0)
    outcome[T.OUTCOMES : T.OUTCOMES + n] = 100.0 + np.arange(n)
    outcome[T.OUTCOMES + A.NODES : T.OUTCOMES + A.NODES + n] = 200.0 + np.arange(n)
    names = {
        "gas_heat_air_j": "GAS_AIR_J", "gas_heat_water_j": "GAS_WATER_J", "electric_air_j": "ELECTRIC_AIR_J",
        "electric_water_j": "ELECTRIC_WATER_J", "fuel_j": "FUEL_J", "start_loss_j": "START_LOSS_J", "flue_j": "FLUE_J",
        "flame_s": "FLAME_S", "starts": "STARTS", "full_load_s": "FULL_LOAD_J", "duct_loss_j": "DUCT_LOSS_J",
        "fan_j": "FAN_J", "fan_s": "FAN_S",
    }  # fmt: skip
    expected = {name: float(outcome[getattr(T, place)]) for name, place in names.items()}
    for k in range(n):
        expected[f"heater_j+{laid.pattern.leaves + k}"] = 100.0 + k
        expected[f"fan_heat_j+{laid.pattern.leaves + k}"] = 200.0 + k
    expected[f"heater_j+{laid.van.boiler_node}"] = float(outcome[T.GAS_WATER_J] + outcome[T.ELECTRIC_WATER_J])
    for times in (1.0, 2.0):
        account_heater(laid.van, laid.pattern, laid.scratch, laid.flow, laid.at)
        assert laid.moved() == {name: times * value for name, value in expected.items()}


def test_the_few_figures_of_a_scenario_are_read_by_the_hour() -> None:
    """Gas left 3.5 + 1.5 kg, charge 30 of 120 Ah, the sensor's and the pipes' temperatures, 0.7 kg used, 900 s off."""
    laid = Bench(DEMO)
    at, state = laid.built.flows, laid.state
    state.propane_kg[:2], state.butane_kg[:2], state.charge_ah[:] = (3.0, 1.5), (0.5, 0.0), (30.0, 120.0)
    state.temp_c[laid.burner.sensor], state.temp_c[laid.van.pipes_node] = 18.5, 7.5
    totals, trace = np.zeros(at.width), np.full((3, 6), -1.0)
    totals[at.gas_out_kg : at.gas_out_kg + 2], totals[at.gas_out_butane_kg + 1] = (0.2, 0.4), 0.1
    totals[at.cut_out_s] = 900.0
    follow(laid.van, laid.burner, state, totals, laid.at, trace, 1)
    assert trace[1].tolist() == pytest.approx([5.0, 0.25, 18.5, 7.5, 0.7, 900.0], rel=1e-12)
    assert (trace[[0, 2]] == -1.0).all()


def test_only_a_node_with_one_neighbour_that_is_no_leaf_is_folded() -> None:
    """A chain 0 - 1 - 2 - 3 of which 3 is a room: 0 hangs on 1, which has two neighbours and belongs to the block."""
    order, pattern = in_order(4, [(0, 1), (1, 2), (2, 3), (3, -1)], [3])
    assert (int(pattern[0].leaves), order[0], sorted(order[1:])) == (1, 0, [1, 2, 3])
    assert order[pattern[0].parent[0]] == 1
    alone, lone = in_order(2, [(0, 1), (1, -1)])
    assert (int(lone[0].leaves), alone) == (1, [0, 1])


def test_in_the_band_output_efficiency_fan_and_shares_lie_between_the_stages() -> None:
    """At 20 °C half of 1 to 4 kW, 2.5 kW: a quarter of the way from the second stage to the third."""
    room = Room(20.0)
    room.integers[T.FLAME] = 1
    told = room.run()
    expected = burned(2500.0, 0.8125) | blown(2500.0, 30.0, 0.725, 0.15)
    assert same(told, expected | {"GAS_AIR_J": 2500.0 * QUARTER_S, "STARTS": 1.0})


def test_an_efficiency_factor_raises_fuel_and_flue() -> None:
    room = Room()
    room.limits[T.EFFICIENCY_FACTOR] = 0.9
    told = room.run()
    assert told["FUEL_J"] == pytest.approx(3.6e6 / 0.765, rel=1e-9)
    assert told["FLUE_J"] == pytest.approx(3.6e6 * (1.0 / 0.765 - 1.0), rel=1e-9)


def test_a_warm_room_gets_nothing() -> None:
    assert Room(25.0).run() == {}


def test_the_fan_runs_on_after_the_flame_at_its_least_speed_and_in_its_own_room() -> None:
    room = Room(25.0)
    room.floats[T.RUN_ON_S] = 100.0
    assert same(room.run(), {"FAN_J": 1000.0, "FAN_S": 100.0, "FAN_HEAT room": 1000.0})
    assert room.floats[T.RUN_ON_S] == 0.0


def test_a_flame_stays_for_its_least_run_at_its_least_output_and_the_fan_runs_on() -> None:
    """Lit 100 s ago in a room that is too warm: 80 s more of 1 kW, then 120 s of fan."""
    room = Room(25.0)
    room.integers[T.FLAME], room.integers[T.BURNING], room.floats[T.SINCE_S] = 1, 1, 100.0
    told = room.run()
    expected = burned(1000.0, 0.9, 80.0) | blown(1000.0, 10.0, 0.9, 0.0, 80.0) | {"GAS_AIR_J": 80_000.0}
    expected["FAN_J"] += 1200.0
    expected["FAN_S"] += 120.0
    expected["FAN_HEAT room"] += 1200.0
    assert same(told, expected)
    assert room.integers[T.FLAME] == 0


def test_a_pause_is_waited_out_before_the_next_start() -> None:
    room = Room()
    room.floats[T.SINCE_S] = 20.0
    told = room.run()
    assert told["FLAME_S"] == pytest.approx(860.0, rel=1e-9)
    assert told["GAS_AIR_J"] == pytest.approx(4000.0 * 860.0, rel=1e-9)
    assert told["FAN_S"] == pytest.approx(860.0, rel=1e-9)


@pytest.mark.parametrize(("room_c", "watts", "efficiency", "fan_w", "shares"),
                         [(18.5, 1000.0, 0.9, 10.0, (0.9, 0.0)), (17.5, 2000.0, 0.8, 20.0, (0.8, 0.1)),
                          (16.5, 3500.0, 0.8375, 50.0, (0.575, 0.25))])  # fmt: skip
def test_stages_burn_at_their_own_output_and_no_more_than_the_gas_allows(
    room_c: float, watts: float, efficiency: float, fan_w: float, shares: tuple[float, float]
) -> None:
    """A kelvin a stage; gas for 3.5 kW, which is three quarters of the way to the third stage."""
    room = Room(room_c, modulating=0, differential_k=1.0)
    room.limits[T.GAS_CAP_W] = 3500.0
    told = room.run()
    assert same(told, burned(watts, efficiency) | blown(watts, fan_w, *shares)
                | {"GAS_AIR_J": watts * QUARTER_S, "STARTS": 1.0})  # fmt: skip


def test_the_boiler_alone_burns_its_own_watts_with_a_third_of_the_least_fan() -> None:
    """1.7 kW is seven tenths of the way from the first to the second stage: 0.83. Three tenths of 10 W, whatever the
    run-on, which comes after the flame. While the flame burns, no step is as short as the run-on."""
    fan_j = 3.0 * QUARTER_S
    for run_on_s in (0.0, 120.0, 0.0018):
        room = Room(run_on_s=run_on_s)
        room.limits[T.SET_C], room.limits[T.WATER_SET_C] = np.nan, 60.0
        told = room.run()
        joules = 1700.0 * QUARTER_S
        assert same(told, burned(1700.0, 0.83) | {
            "GAS_WATER_J": joules, "WATER_FUEL_J": joules / 0.83, "STARTS": 1.0, "FAN_J": fan_j, "FAN_S": QUARTER_S,
            "FAN_HEAT room": fan_j,
        })  # fmt: skip
        assert room.integers[T.STEP_COUNT] < 20


def test_water_comes_first_or_last_as_the_heater_says() -> None:
    """4 kW of gas: water's 1.7 kW leave 2.3 kW for the air; or the air's 4 kW leave nothing for the water."""
    water_first, air_first = Room(), Room(water_first=0)
    for room in (water_first, air_first):
        room.limits[T.WATER_SET_C] = 60.0
        room.integers[T.FLAME] = 1
        room.run()
    told = water_first.outcome
    assert told[T.GAS_WATER_J] == pytest.approx(1700.0 * QUARTER_S, rel=1e-9)
    assert told[T.GAS_AIR_J] == pytest.approx(2300.0 * QUARTER_S, rel=1e-9)
    assert told[T.FUEL_J] == pytest.approx(4000.0 * QUARTER_S / 0.85, rel=1e-9)
    assert told[T.WATER_FUEL_J] == pytest.approx(1700.0 * QUARTER_S / 0.85, rel=1e-9)
    assert air_first.outcome[T.GAS_WATER_J] == 0.0
    assert air_first.outcome[T.GAS_AIR_J] == pytest.approx(4000.0 * QUARTER_S, rel=1e-9)


def test_a_modulating_air_leaves_the_rest_to_the_water() -> None:
    """At 20.05 °C the air asks for 2.2 kW of 4 (6 kW/K from 20.25 °C down to 1 kW): 1.8 kW would be left for 1.7."""
    for room_c, water_w in ((20.05, 1700.0), (19.95, 1200.0)):
        room = Room(room_c, water_first=0)
        room.limits[T.WATER_SET_C], room.integers[T.FLAME] = 60.0, 1
        told = room.run()
        assert told["GAS_WATER_J"] == pytest.approx(water_w * QUARTER_S, rel=1e-6)


def test_a_start_for_water_and_air_is_shared_by_their_heat() -> None:
    room = Room(start_loss_j=40_000.0)
    room.limits[T.WATER_SET_C] = 60.0
    told = room.run()
    assert told["START_LOSS_J"] == 40_000.0
    assert told["FUEL_J"] == pytest.approx(3.6e6 / 0.85 + 40_000.0, rel=1e-9)
    assert told["WATER_FUEL_J"] == pytest.approx(1.53e6 / 0.85 + 40_000.0 * 1.7 / 4.0, rel=1e-9)


@pytest.mark.parametrize(
    ("water_c", "gas_w", "air_w", "gas_air_w", "electric_water_w"),
    [(np.nan, 0.0, 1800.0, 0.0, 0.0), (60.0, 0.0, 100.0, 0.0, 1700.0), (np.nan, 4000.0, 1800.0, 4000.0, 0.0),
     (60.0, 4000.0, 100.0, 4000.0, 1700.0)],
)  # fmt: skip
def test_elements_heat_water_then_air_and_gas_adds_its_own(
    water_c: float, gas_w: float, air_w: float, gas_air_w: float, electric_water_w: float
) -> None:
    """1.8 kW of elements in a cold room."""
    room = Room()
    room.limits[[T.WATER_SET_C, T.GAS_CAP_W, T.ELECTRIC_W]] = water_c, gas_w, 1800.0
    told = room.run()
    assert told.get("ELECTRIC_AIR_J", 0.0) == pytest.approx(air_w * QUARTER_S, rel=1e-6)
    assert told.get("ELECTRIC_WATER_J", 0.0) == pytest.approx(electric_water_w * QUARTER_S, rel=1e-6)
    assert told.get("GAS_AIR_J", 0.0) == pytest.approx(gas_air_w * QUARTER_S, rel=1e-6)
    assert "GAS_WATER_J" not in told


def test_the_guard_leaves_gas_what_the_elements_do_not_give() -> None:
    room = Room()
    room.limits[T.ELECTRIC_W], room.limits[T.AIR_CAP_W] = 1800.0, 3000.0
    told = room.run()
    assert told["ELECTRIC_AIR_J"] + told["GAS_AIR_J"] == pytest.approx(3000.0 * QUARTER_S, rel=1e-6)
    assert told["ELECTRIC_AIR_J"] == pytest.approx(1800.0 * QUARTER_S, rel=1e-6)


def test_gas_beside_elements_holds_half_a_band_lower() -> None:
    """At 19.75 °C the elements give all of their 1.8 kW and gas stands in the middle of its band, which ends at 20."""
    room = Room(19.75)
    room.limits[T.ELECTRIC_W], room.integers[T.FLAME] = 1800.0, 1
    told = room.run()
    assert told["ELECTRIC_AIR_J"] == pytest.approx(1800.0 * QUARTER_S, rel=1e-6)
    assert told["GAS_AIR_J"] == pytest.approx(2500.0 * QUARTER_S, rel=1e-6)


@pytest.mark.parametrize("modulating", [0, 1])
@pytest.mark.parametrize(
    ("loss_w", "least_w", "most_w"), [(800, 800, 800), (1400, 750, 1000), (1900, 890, 1000), (3000, 990, 1000)]
)
def test_gas_leaves_the_element_what_it_can_give(modulating: int, loss_w: int, least_w: int, most_w: int) -> None:
    """An element of 1 kW and a burner of 1 kW at least, in a room of 1 MJ/K that loses so much, over two days: alone
    where the element is enough, in full where the burner can give the rest, and most of it where what is left is less
    than the least stage.
    """
    room = Room(20.0, capacity=1e6, modulating=modulating)
    room.burner.heat_share[:3, room.room], room.burner.heat_share[:3, room.other] = 1.0, 0.0
    room.burner.fan_w[:3] = 0.0
    room.limits[T.ELECTRIC_W] = 1000.0
    room.heat_w[room.room] = -loss_w
    span_s = 192.0 * QUARTER_S
    for _ in range(192):
        told = room.run()
    assert least_w <= told["ELECTRIC_AIR_J"] / span_s * 1.01 <= 1.02 * most_w
    given_j = told["ELECTRIC_AIR_J"] + told.get("GAS_AIR_J", 0.0)
    assert given_j == pytest.approx(loss_w * span_s, abs=2e6)


def test_ducts_carry_what_their_flow_and_the_difference_say() -> None:
    """One run from the room (15 °C) to the other (5 °C), one from outdoors (-3 °C) to the room; between the stages in
    proportion. 3 kW is halfway from the second to the third."""
    room = Room(flows=2)
    room.burner.flow_from[:2], room.burner.flow_to[:2] = (room.room, -1), (room.other, room.room)
    room.burner.flow_w_per_k[:3, :2] = ((10.0, 4.0), (20.0, 6.0), (40.0, 10.0))
    room.limits[T.GAS_CAP_W] = 3000.0
    room.run(outdoor_c=-3.0)
    assert room.mean_flow[:2].tolist() == pytest.approx([30.0 * 10.0 * QUARTER_S, 8.0 * -18.0 * QUARTER_S], rel=1e-6)
    assert room.blown[:2].tolist() == pytest.approx([30.0 * QUARTER_S, 8.0 * QUARTER_S], rel=1e-9)
    one = Room(flows=1)
    one.burner.flow_from[0], one.burner.flow_to[0], one.burner.flow_w_per_k[:3, 0] = one.room, one.other, 40.0
    one.rig.capacity[:] = 1e6
    told = one.run()
    arrived = told["HEAT other"] + told["FAN_HEAT other"] + one.mean_flow[0]
    assert 1e6 * (one.temp_c[one.other] - 5.0) == pytest.approx(arrived, rel=1e-9)
    still = Room(25.0, flows=2)
    still.burner.flow_w_per_k[:3, :2] = 10.0
    still.burner.flow_to[:2] = still.room
    still.run()
    assert not still.blown.any()


def test_heat_of_fire_fan_and_ducts_arrives_in_the_rooms() -> None:
    """100 kJ/K a room: what they gain is heat and fan by their shares, the duct's carry and the other inputs."""
    room = Room(10.0, capacity=1e6, flows=2)
    room.burner.flow_from[:2], room.burner.flow_to[:2] = (room.room, -1), (room.other, room.room)
    room.burner.flow_w_per_k[:3, :2] = ((10.0, 4.0), (20.0, 6.0), (40.0, 10.0))
    room.heat_w[room.other], room.limits[T.WATER_SET_C] = 50.0, 60.0
    before = room.temp_c.copy()
    told = room.run(outdoor_c=-3.0)
    gained = 1e6 * (room.temp_c - before)
    carried, outdoor = room.mean_flow[:2]
    assert told["HEAT room"] + told["FAN_HEAT room"] + outdoor == pytest.approx(gained[room.room], rel=1e-9)
    arrived = told["HEAT other"] + told["FAN_HEAT other"] + carried + 50.0 * QUARTER_S
    assert arrived == pytest.approx(gained[room.other], rel=1e-9)
    assert told["GAS_WATER_J"] == pytest.approx(gained[room.boiler], rel=1e-9)


def test_a_boiler_is_heated_to_its_setpoint_and_no_further() -> None:
    """50 kJ/K from 40 to 60 °C are 1 MJ, 588 s of 1.7 kW; met within its 20 mK."""
    room = Room(25.0, capacity=50_000.0)
    room.limits[T.WATER_SET_C] = 60.0
    room.burner.fan_w[:3] = 0.0
    told = room.run()
    assert told["GAS_WATER_J"] == pytest.approx(1e6, abs=50_000.0 * 0.021)
    assert told["FLAME_S"] == pytest.approx(1e6 / 1700.0, abs=0.62)
    assert room.integers[T.WATER_CALL] == 0
    assert room.temp_c[room.boiler] == pytest.approx(60.0, abs=0.021)


def test_a_boiler_that_cools_calls_when_its_hysteresis_is_through() -> None:
    """100 W out of 50 kJ/K from 56 °C: 500 s to 55 °C, 1.6 kW net for 156.25 s to 60 °C, 0.49 K down again."""
    room = Room(25.0, 56.0, capacity=50_000.0)
    room.limits[T.WATER_SET_C], room.heat_w[room.boiler] = 60.0, -100.0
    room.burner.fan_w[:3] = 0.0
    told = room.run()
    assert told["FLAME_S"] == pytest.approx(156.25, abs=1.3)  # 20 mK at either end
    assert room.temp_c[room.boiler] == pytest.approx(60.0 - 0.002 * 243.75, abs=0.042)


def test_a_flames_bursts_and_pauses_last_as_algebra_says() -> None:
    """4 kW, 80 W/K, 600 kJ/K, outdoors -5 °C, lit at 19 and out at 21 °C: both 7500 ln(26 / 24) = 600.3 s, from 19 °C
    on. In ten quarters seven and a half bursts and pauses; each edge is met within 1 mK, 0.3 s."""
    laid = Rig((600e3,), [(0, -1, 80.0)], [0], [])
    room = Room(modulating=0, differential_k=1.0, min_on_s=0.0, min_off_s=0.0, points=1, boiler=-1)
    room.rig, room.burner.sensor, room.burner.fan_node = laid, 0, 0
    room.burner.outputs_w[0], room.burner.heat_share[0, 0], room.burner.fan_w[0] = 4000.0, 1.0, 0.0
    room.temp_c, room.integral, room.heat_w = np.array([19.0]), np.zeros(1), np.array([80.0 * -5.0])
    lit = 0.0
    for _ in range(10):
        room.outcome[:] = 0.0
        stuck = advance(
            QUARTER_S, laid.capacity, room.temp_c, room.heat_w, -5.0, room.burner, room.limits, room.integers,
            room.floats, laid.pattern, laid.work, room.integral, room.mean_flow, room.blown, room.outcome,
        )  # fmt: skip
        assert stuck == 0
        lit += float(room.outcome[T.FLAME_S])
    burst = 7500.0 * math.log(26.0 / 24.0)
    assert lit == pytest.approx(7.0 * burst + 0.0 + (9000.0 - 14.0 * burst), abs=5.0)
    since_lit = 9000.0 - 14.0 * burst
    assert room.temp_c[0] == pytest.approx(45.0 - 26.0 * math.exp(-since_lit / 7500.0), abs=0.02)


def test_a_proportional_room_settles_where_heat_and_loss_meet() -> None:
    """6 kW/K from 20.25 °C down to 1 kW against 80 W/K to -5 °C: 1 kW + 6 kW/K (20.25 - T) = 80 (T + 5)."""
    laid = Rig((60e3,), [(0, -1, 80.0)], [0], [])
    room = Room(boiler=-1)
    room.rig, room.burner.sensor, room.burner.fan_node = laid, 0, 0
    room.burner.heat_share[:3, 0], room.burner.fan_w[:3] = 1.0, 0.0
    room.temp_c, room.integral, room.heat_w = np.array([19.0]), np.zeros(1), np.array([-400.0])
    for _ in range(4):
        advance(
            QUARTER_S, laid.capacity, room.temp_c, room.heat_w, -5.0, room.burner, room.limits, room.integers,
            room.floats, laid.pattern, laid.work, room.integral, room.mean_flow, room.blown, room.outcome,
        )  # fmt: skip
    assert room.temp_c[0] == pytest.approx((1000.0 + 6000.0 * 20.25 - 400.0) / 6080.0, abs=1e-6)
    assert room.outcome[T.STARTS] == 1.0


def lump(tolerance_k: float, try_s: float = 60.0) -> Room:
    """60 kJ/K and 100 W/K from 20 °C in the frost of 0 °C, the heater off: ten minutes of time constant."""
    room = Room(boiler=-1)
    room.rig = Rig((60e3,), [(0, -1, 100.0)], [0], [])
    room.burner.sensor = room.burner.fan_node = 0
    room.temp_c, room.integral, room.heat_w = np.array([20.0]), np.zeros(1), np.zeros(1)
    room.limits[T.SET_C], room.limits[T.STEP_ERROR_K], room.floats[T.TRY_S] = np.nan, tolerance_k, try_s
    return room


def span(room: Room, span_s: float) -> None:
    stuck = advance(
        span_s, room.rig.capacity, room.temp_c, room.heat_w, 0.0, room.burner, room.limits, room.integers, room.floats,
        room.rig.pattern, room.rig.work, room.integral, room.mean_flow, room.blown, room.outcome,
    )  # fmt: skip
    assert stuck == 0


def twin_error_k(h: float) -> float:
    k1, k2, k3, _ = dense_step(np.array([[100.0]]), np.array([60e3]), np.zeros(1), np.array([20.0]), h)
    return float(GAMMA * abs(k1 - 2.0 * k2 + k3)[0])


@pytest.mark.parametrize("share", [0.3, 0.7, 40.0])
def test_the_next_step_is_four_fifths_of_what_the_error_allows_and_never_shorter(share: float) -> None:
    """An error of order three: (allowed / found) to the third root, fourfold at most."""
    error_k = twin_error_k(60.0)
    room = lump(error_k / share)
    if share > 1.0:
        room.limits[T.STEP_ERROR_K] = error_k / share * 41.0  # just within
        share = 40.0 / 41.0
    span(room, 60.0)
    assert room.integers[T.STEP_COUNT] == 1
    grown = min(8.0, 0.8 * (1.0 / share) ** (1.0 / 3.0))
    assert room.floats[T.TRY_S] == pytest.approx(max(60.0, 60.0 * grown), rel=1e-6)


@pytest.mark.parametrize(("factor", "steps"), [(1.001, 1), (0.6, 2)])
def test_a_step_that_strays_is_shortened_by_the_third_root_of_its_error(factor: float, steps: int) -> None:
    """Tried at 200 s with a tolerance of just the error, and of six tenths of it: once 200 s, or 0.8 times the third
    root of 0.6 of them, 135 s, and the rest."""
    room = lump(factor * twin_error_k(200.0), 200.0)
    span(room, 200.0)
    end = np.array([20.0])
    first_s = 200.0 if steps == 1 else 200.0 * 0.8 * 0.6 ** (1.0 / 3.0)
    for step_s in (first_s, 200.0 - first_s)[:steps]:
        end = dense_step(np.array([[100.0]]), np.array([60e3]), np.zeros(1), end, step_s)[3]
    assert room.integers[T.STEP_COUNT] == steps
    assert room.temp_c[0] == pytest.approx(end[0], rel=1e-9)


def test_a_step_far_off_is_cut_until_it_is_near() -> None:
    """From 800 s, more than the time constant, with 1 mK allowed: the exponential within a few of these."""
    room = lump(1e-3, 800.0)
    span(room, 800.0)
    assert room.temp_c[0] == pytest.approx(20.0 * math.exp(-800.0 / 600.0), abs=5e-3)
    assert 8 <= room.integers[T.STEP_COUNT] <= 20


def test_steps_grow_eightfold_while_nothing_happens() -> None:
    """A quarter where nothing moves is 60 s and, with 480 s to be tried, twice half of the rest; the next is one."""
    room = Room(25.0)
    room.run()
    assert room.integers[T.STEP_COUNT] == 3
    room.run()
    assert room.integers[T.STEP_COUNT] == 4


def test_what_is_left_of_a_span_is_halved_so_that_one_matrix_serves_twice() -> None:
    """700 s with 400 s to be tried: twice 350 s."""
    room = Room(25.0)
    room.floats[T.TRY_S] = 400.0
    room.run(700.0)
    assert room.integers[T.STEP_COUNT] == 2
    assert room.integral.tolist() == pytest.approx((700.0 * room.temp_c).tolist(), rel=1e-9)


def test_no_step_is_longer_than_a_quarter() -> None:
    room = Room(25.0)
    room.floats[T.TRY_S] = 5000.0
    room.run(2700.0)
    assert room.integers[T.STEP_COUNT] == 3
