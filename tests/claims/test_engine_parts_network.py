"""The general network and its edges by hand: order, furnace, march, and where a step crosses an edge."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from budget.engine import arrays as A
from budget.engine.crossing import crossing_share, meet_edges
from budget.engine.network import Furnace, Network, in_order
from budget.engine.stepping import (
    GAMMA,
    LAST_1,
    LAST_2,
    LAST_3,
    MIDDLE_1,
    MIDDLE_2,
    clear,
    connect,
    end_c,
    lay_law,
    lay_steady,
    prepare,
    stage_increments,
    try_step,
)

PAIRS = [(0, 3), (3, 1), (6, 3), (6, 5), (3, 5), (2, 6), (5, -1), (4, 5), (5, 5)]


def ordered(nodes: int, pairs: list[tuple[int, int]], *more: Any) -> tuple[list[int], int, int, list[int]]:
    order, pattern = in_order(nodes, pairs, *more)
    assert int(pattern[0].nodes) == nodes
    leaves = int(pattern[0].leaves)
    return order, int(pattern[0].followers), leaves, pattern[0].parent[:leaves].tolist()


def test_nodes_are_ordered_followers_leaves_by_what_they_hang_on_and_the_rest() -> None:
    """3, 5 and 6 are rooms; 0 and 1 hang on 3, 4 on 5, 2 on 6. Slow ones come first, as they are."""
    assert ordered(7, PAIRS, [3, 5, 6]) == ([0, 1, 4, 2, 3, 5, 6], 0, 4, [4, 4, 5, 6])
    assert ordered(7, PAIRS, [3, 5, 6], [4, 0]) == ([0, 4, 1, 2, 3, 5, 6], 2, 4, [4, 5, 4, 6])
    assert ordered(7, PAIRS, [1, 3, 5, 6], [0, 1]) == ([0, 4, 2, 1, 3, 5, 6], 1, 3, [4, 5, 6])


def test_of_two_that_hang_on_each_other_one_is_a_leaf_and_what_hangs_on_nothing_hangs_on_the_first() -> None:
    assert ordered(2, [(0, 1)]) == ([0, 1], 0, 1, [1])
    assert ordered(2, [(0, -1), (-1, 1)]) == ([0, 1], 0, 1, [1])  # both alone: one is kept
    assert ordered(3, [(0, 1)], [1]) == ([0, 2, 1], 0, 2, [2, 2])
    assert ordered(1, []) == ([0], 0, 0, [])


def test_a_furnace_is_laid_at_its_nodes_places() -> None:
    furnace = Furnace(
        sensor=0,
        share=np.array([0.7, 0.3, 0.0]),
        outputs_w=np.array([1000.0, 3000.0]),
        efficiency=np.array([0.8, 0.9]),
        modulating=False,
        band_k=0.3,
        differential_k=0.7,
        min_on_s=60.0,
        min_off_s=30.0,
        start_loss_j=500.0,
        fan_w=np.array([5.0, 20.0]),
    )
    burner = furnace.burner(np.array([2, 0, 1]))[0]
    assert (int(burner.points), int(burner.flows), int(burner.modulating)) == (2, 0, 0)
    assert (int(burner.sensor), int(burner.fan_node), int(burner.boiler)) == (2, 2, -1)
    assert burner.outputs_w[:2].tolist() == [1000.0, 3000.0]
    assert burner.efficiency[:2].tolist() == [0.8, 0.9]
    assert burner.fan_w[:2].tolist() == [5.0, 20.0]
    assert burner.heat_share[:2, :3].tolist() == [[0.3, 0.0, 0.7]] * 2
    for name, value in (("band_k", 0.3), ("differential_k", 0.7), ("min_on_s", 60.0), ("min_off_s", 30.0),
                        ("start_loss_j", 500.0), ("run_on_s", 0.0), ("water_w", 0.0)):  # fmt: skip
        assert burner[name] == value, name
    plain = Furnace(sensor=0, share=np.ones(1), outputs_w=np.array([0.0, 1.0]), efficiency=np.ones(2))
    made = plain.burner(np.array([0]))[0]
    assert (int(made.modulating), made.band_k, made.differential_k) == (1, 0.02, 0.5)
    assert (made.min_on_s, made.min_off_s, made.start_loss_j) == (0.0, 0.0, 0.0)
    assert made.fan_w[:2].tolist() == [0.0, 0.0]


def test_heat_goes_to_its_own_node_hour_by_hour() -> None:
    """Three nodes without a conductance but to outdoors of nothing: a kelvin for each C joules, the mean between."""
    capacity = np.array([50e3, 20e3, 90e3])
    network = Network(
        capacity_j_per_k=capacity,
        edge_from=np.array([0, 1, 2]),
        edge_to=np.array([1, 2, -1]),
        edge_w_per_k=np.array([0.0, 0.0, 0.0]),
    )
    heat = np.array([[10.0, -20.0, 30.0], [0.0, 40.0, -90.0]])
    start = np.array([5.0, 15.0, 25.0])
    found = network.march(start_c=start, outdoor_c=np.array([0.0, -9.0]), heat_w=heat)
    first = start + 3600.0 * heat[0] / capacity
    second = first + 3600.0 * heat[1] / capacity
    assert found.edge_c == pytest.approx(np.array([start, first, second]), rel=1e-9)
    assert found.mean_c == pytest.approx(np.array([0.5 * (start + first), 0.5 * (first + second)]), rel=1e-9)
    for flow in (found.heat_j, found.fuel_j, found.fan_j, found.starts):
        assert flow.tolist() == [0.0, 0.0]
    assert found.steps > 1


def test_conductances_lead_to_their_nodes_and_to_the_outdoors_of_each_hour() -> None:
    """Node 0 and 2 of small capacity settle between a node that cannot move, at 20 °C, and outdoors: by the share of
    their conductances, 30 of 40 and 10 of 50 W/K, hour by hour."""
    network = Network(
        capacity_j_per_k=np.array([500.0, 1e15, 500.0]),
        edge_from=np.array([0, 0, 2, 2]),
        edge_to=np.array([1, -1, -1, 1]),
        edge_w_per_k=np.array([30.0, 10.0, 40.0, 10.0]),
    )
    found = network.march(
        start_c=np.array([20.0, 20.0, 20.0]), outdoor_c=np.array([0.0, -10.0]), heat_w=np.zeros((2, 3))
    )
    for hour, outdoor_c in ((1, 0.0), (2, -10.0)):
        assert found.edge_c[hour] == pytest.approx(
            [20.0 * 0.75 + outdoor_c * 0.25, 20.0, 20.0 * 0.2 + outdoor_c * 0.8], abs=1e-3
        )


def held(setpoint_c: float, **more: Any) -> Any:
    """A room that cannot move at 15 °C and a tank beside it; four kilowatts of which a quarter goes to the tank."""
    network = Network(
        capacity_j_per_k=np.array([1e6, 1e15]), edge_from=np.array([1, 0]), edge_to=np.array([-1, -1]),
        edge_w_per_k=np.array([0.0, 0.0]),
    )  # fmt: skip
    given: dict[str, Any] = {
        "sensor": 1, "share": np.array([0.25, 0.75]), "outputs_w": np.array([1000.0, 4000.0]),
        "efficiency": np.array([0.9, 0.8]), "fan_w": np.array([8.0, 40.0]), "band_k": 1.0,
    }  # fmt: skip
    march = {name: more.pop(name) for name in ("capacity_w", "step_error_k") if name in more}
    return network.march(
        start_c=np.array([10.0, 15.0]),
        outdoor_c=np.array([0.0]),
        heat_w=np.zeros((1, 2)),
        furnace=Furnace(**(given | more)),
        setpoint_c=np.array([setpoint_c]),
        **march,
    )


def test_a_furnace_gives_its_output_where_its_share_says_with_its_fuel_and_fan() -> None:
    """Far below the setpoint the greatest output for an hour: 14.4 MJ of 18 MJ of fuel, 144 kJ of fan; a quarter of
    both warms the tank. Off, nothing."""
    found = held(20.0)
    assert found.heat_j[0] == pytest.approx(4000.0 * 3600.0)
    assert found.fuel_j[0] == pytest.approx(4000.0 * 3600.0 / 0.8)
    assert found.fan_j[0] == pytest.approx(40.0 * 3600.0)
    assert found.starts[0] == 1.0
    assert found.edge_c[1] == pytest.approx([10.0 + 0.25 * 14.544, 15.0])
    assert found.mean_c[0] == pytest.approx([10.0 + 0.125 * 14.544, 15.0])
    off = held(np.nan)
    assert (off.heat_j[0], off.fuel_j[0], off.fan_j[0], off.starts[0]) == (0.0, 0.0, 0.0, 0.0)
    assert held(10.0).heat_j[0] == 0.0


def test_a_cap_a_start_and_the_band_take_their_part() -> None:
    """Capped at 2.5 kW, half way between the stages: 0.85 and 24 W. A start costs its loss in fuel. It starts
    at the lower end of its band, half a kelvin below the setpoint."""
    capped = held(20.0, capacity_w=2500.0)
    assert capped.heat_j[0] == pytest.approx(2500.0 * 3600.0)
    assert capped.fuel_j[0] == pytest.approx(2500.0 * 3600.0 / 0.85)
    assert capped.fan_j[0] == pytest.approx(24.0 * 3600.0)
    assert held(20.0, capacity_w=9000.0).heat_j[0] == pytest.approx(4000.0 * 3600.0)
    lossy = held(20.0, start_loss_j=50_000.0)
    assert lossy.fuel_j[0] - held(20.0).fuel_j[0] == pytest.approx(50_000.0)
    assert [held(set_c).heat_j[0] for set_c in (15.4, 15.6)] == pytest.approx([0.0, 4000.0 * 3600.0])
    staged = held(
        16.0, modulating=False, outputs_w=np.array([4000.0]), efficiency=np.array([0.8]), fan_w=np.array([40.0])
    )
    assert staged.heat_j[0] == pytest.approx(4000.0 * 3600.0)


def test_a_finer_step_takes_more_of_them() -> None:
    network = Network(
        capacity_j_per_k=np.array([50e3, 400e3]), edge_from=np.array([0, 0]), edge_to=np.array([1, -1]),
        edge_w_per_k=np.array([100.0, 60.0]),
    )  # fmt: skip
    given: dict[str, Any] = {"start_c": np.full(2, 20.0), "outdoor_c": np.zeros(2), "heat_w": np.zeros((2, 2))}
    coarse, usual, fine = (network.march(**given, step_error_k=error).steps for error in (0.5, 0.02, 1e-4))
    assert coarse <= usual < fine


# Where a step crosses an edge


class Pair:
    """A boiler and a room of 50 and 80 kJ/K, 40 W/K between them, tried for a step."""

    def __init__(
        self, h: float, room_w: float, boiler_w: float, loss_w_per_k: float, room_c: float, boiler_c: float,
        room_first: bool = False,
    ) -> None:  # fmt: skip
        order, pattern = in_order(2, [(0, 1), (1, -1), (0, -1)], [0, 1] if room_first else [1])
        self.boiler, self.room = order.index(int(room_first)), order.index(int(not room_first))
        self.pattern, self.work, self.burner = pattern[0], A.record(A.WORK)[0], A.record(A.BURNER)[0]
        self.capacity = np.zeros(2)
        self.capacity[self.boiler], self.capacity[self.room] = 50e3, 80e3
        clear(self.pattern, self.work)
        for a, b, g in ((self.boiler, self.room, 40.0), (self.room, -1, loss_w_per_k), (self.boiler, -1, 2.0)):
            connect(a, b, g, self.pattern.leaves, self.work, self.work.steady)
        lay_steady(self.pattern, self.work)
        self.burner.sensor, self.burner.boiler = self.room, self.boiler
        self.temp_c = np.zeros(2)
        self.temp_c[self.room], self.temp_c[self.boiler] = room_c, boiler_c
        self.work.heat_w[self.room], self.work.heat_w[self.boiler] = room_w, boiler_w
        lay_law(self.burner, False, 0.0, self.pattern, self.work)
        self.try_for(h)

    def try_for(self, h: float) -> None:
        prepare(h, self.capacity, self.pattern, self.work)
        try_step(h, self.capacity, self.temp_c, self.pattern, self.work)

    def ends(self) -> tuple[float, float]:
        return tuple(float(end_c(node, self.temp_c, self.work)) for node in (self.room, self.boiler))  # type: ignore[return-value]


@pytest.mark.parametrize("h", [60.0, 900.0, 3600.0])
@pytest.mark.parametrize("share", [0.001, 0.1, 0.35, 0.5, 0.8, 0.999])
def test_a_crossing_is_a_root_of_the_cubic_through_the_stages_slopes(h: float, share: float) -> None:
    """Slopes at gamma, (1 + gamma) / 2 and 1 are a parabola; its integral, by numpy, is the target at the share found,
    where it falls all the way."""
    for room_w, loss in ((0.0, 100.0), (3000.0, 30.0)):
        pair = Pair(h, room_w, 0.0, loss, 15.0, 40.0)
        slopes = np.array(stage_increments(pair.room, pair.work)) / GAMMA
        parabola = np.polyfit([GAMMA, 0.5 * (1.0 + GAMMA), 1.0], slopes, 2)
        cubic = np.polyint(parabola, k=15.0)
        assert np.polyval(cubic, 1.0) == pytest.approx(pair.ends()[0], rel=1e-9)
        along = np.polyval(cubic, np.linspace(0.0, 1.0, 101))
        if not (np.diff(along) > 0.0).all() and not (np.diff(along) < 0.0).all():
            continue
        target = float(np.polyval(cubic, share))
        found = crossing_share(pair.room, target, pair.temp_c, pair.work)
        assert found == pytest.approx(share, abs=2e-5)


def test_whatever_is_crossed_a_step_ends_within_its_edges_or_on_the_one_it_met() -> None:
    """Three hundred random rooms and boilers: every node ends within its interval, to its tolerance; the one that is
    named stands on its edge; and the longest such step is taken: 5 % and a twentieth of a second more is too long."""
    rng = np.random.default_rng(11)
    near, met_what = 0.005, {"": 0, "room": 0, "boiler": 0}
    for k in range(300):
        h = float(10.0 ** rng.uniform(0.5, 3.3))
        room_w, boiler_w = rng.uniform(-4000.0, 4000.0), rng.uniform(-2000.0, 2000.0)
        loss, room_c, boiler_c = rng.uniform(0.0, 120.0), rng.uniform(5.0, 25.0), rng.uniform(10.0, 70.0)
        pair = Pair(h, room_w, boiler_w, loss, room_c, boiler_c, room_first=k % 2 == 0)
        assert pair.room == k % 2
        edges = {
            "lo": room_c - rng.uniform(0.02, 3.0), "hi": room_c + rng.uniform(0.02, 3.0),
            "boiler_lo": boiler_c - rng.uniform(0.1, 8.0), "boiler_hi": boiler_c + rng.uniform(0.1, 8.0),
        }  # fmt: skip

        def within(room_end: float, boiler_end: float, edges: dict[str, float] = edges) -> bool:
            return (edges["lo"] - near <= room_end <= edges["hi"] + near
                    and edges["boiler_lo"] - 0.02 <= boiler_end <= edges["boiler_hi"] + 0.02)  # fmt: skip

        before = pair.ends()
        step, aimed, aim_c, lean_k = meet_edges(
            h, edges["lo"], edges["hi"], edges["boiler_lo"], edges["boiler_hi"], near, near, True, pair.capacity,
            pair.temp_c, pair.burner, pair.pattern, pair.work,
        )  # fmt: skip
        assert lean_k == 0.0
        ends = pair.ends()
        name = {pair.room: "room", pair.boiler: "boiler", -1: ""}[aimed]
        met_what[name] += 1
        if not name:
            assert step == h and ends == before
            assert within(*ends)
            continue
        assert 0.0 < step < h
        end, tolerance = (ends[0], near) if name == "room" else (ends[1], 0.02)
        assert min(abs(aim_c - edge) for edge in edges.values()) < 1e-9
        if step > 0.2:
            assert within(*ends)
            assert abs(end - aim_c) <= tolerance + 1e-12
            begin = room_c if name == "room" else boiler_c
            pair.try_for(step + 0.05 + 0.05 * step)
            longer = pair.ends()
            if (end - begin) * (longer[0 if name == "room" else 1] - end) > 0.0 and abs(end - begin) > 0.5:
                assert not within(*longer)
    assert min(met_what.values()) > 20


@pytest.mark.parametrize("room_first", [False, True])
def test_of_two_that_cross_the_first_is_met_and_a_second_is_time_enough(room_first: bool) -> None:
    """80 kW in the room are a kelvin a second, 100 kW in the boiler two: half a kelvin is met after half a second and
    a quarter of one, whichever stands first in the order, in a step of 0.8 s too."""
    for h in (0.8, 4.0):
        for hi, boiler_hi, aimed_room, edge_c, step_s in (
            (20.5, 41.5, True, 20.5, 0.5), (20.5, 40.5, False, 40.5, 0.25), (20.5, 99.0, True, 20.5, 0.5),
            (99.0, 40.5, False, 40.5, 0.25),
        ):  # fmt: skip
            pair = Pair(h, 80_000.0, 100_000.0, 0.0, 20.0, 40.0, room_first)
            step, aimed, aim_c, _ = meet_edges(
                h, -99.0, hi, -99.0, boiler_hi, 0.005, 0.005, False, pair.capacity, pair.temp_c, pair.burner,
                pair.pattern, pair.work,
            )  # fmt: skip
            assert (aimed, aim_c) == (pair.room if aimed_room else pair.boiler, edge_c)
            assert step == pytest.approx(step_s, abs=0.03)


def test_a_conductance_may_lead_to_the_first_node() -> None:
    """Node 1, small, on node 0 that cannot move: at 20 °C after an hour, whatever the weather."""
    network = Network(
        capacity_j_per_k=np.array([1e15, 500.0]), edge_from=np.array([1]), edge_to=np.array([0]),
        edge_w_per_k=np.array([30.0]),
    )  # fmt: skip
    found = network.march(start_c=np.array([20.0, 0.0]), outdoor_c=np.array([-30.0]), heat_w=np.zeros((1, 2)))
    assert found.edge_c[1] == pytest.approx([20.0, 20.0], abs=1e-3)


def test_a_crossing_where_newtons_rule_leaves_the_step_is_halved_in_and_met() -> None:
    """Rising cubics of random slopes at the three stages: where the rule from the chord would run out of the step,
    it is brought back and meets the target to a hundred-thousandth in nineteen of twenty; of all, one in a hundred is
    so flat that six rounds leave a hundredth."""
    rng = np.random.default_rng(0)
    places = [GAMMA, 0.5 * (1.0 + GAMMA), 1.0]
    work, start = A.record(A.WORK)[0], np.array([20.0])
    left, errors = [], []
    for _ in range(1500):
        slopes, share = rng.uniform(0.02, 3.0, 3), rng.uniform(0.001, 0.999)
        parabola = np.polyfit(places, slopes, 2)
        if np.polyval(parabola, np.linspace(0.0, 1.0, 50)).min() <= 0.01:
            continue
        first, second, third = slopes * GAMMA
        work.e1[0] = first
        work.e2[0] = (second - MIDDLE_1 * first) / MIDDLE_2
        work.e3[0] = (third - LAST_1 * first - LAST_2 * work.e2[0]) / LAST_3
        cubic = np.polyint(parabola, k=20.0)
        target = float(np.polyval(cubic, share))
        found = crossing_share(0, target, start, work)
        away, end = 20.0 - target, float(np.polyval(cubic, 1.0)) - target
        at, leaves = away / (away - end), False
        for _ in range(6):
            at -= (np.polyval(cubic, at) - target) / np.polyval(parabola, at)
            leaves = leaves or not 0.0 < at < 1.0
        errors.append(abs(found - share))
        if leaves:
            left.append(errors[-1])
    assert len(left) > 50
    assert np.quantile(left, 0.95) < 1e-5
    assert max(left) < 0.02
    assert np.quantile(errors, 0.99) < 0.01
