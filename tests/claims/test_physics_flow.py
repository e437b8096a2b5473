"""What must hold for every duct network, vent, film and doorway."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from budget.physics import ducts as d
from budget.physics import envelope as e
from budget.physics import ventilation as v

QUICK = settings(max_examples=100, deadline=None)  # the first call compiles
run = st.tuples(
    st.floats(0.2, 15.0),
    st.floats(0.03, 0.12),
    st.integers(0, 8),
    st.sampled_from([0.00015, 0.003]),
    st.floats(0.0, 1.0),
)


def network(runs: list[tuple[float, float, int, float, float]], open_share: np.ndarray) -> tuple[float, np.ndarray]:
    columns = np.array(runs, dtype=float).T
    flows = np.zeros(len(runs))
    total, _ = d.solve_network(
        150.0, 240.0, 1e-4, columns[0].copy(), columns[1].copy(), columns[2].copy(), columns[3].copy(), open_share,
        np.ones(len(runs)), 1.1, flows,
    )  # fmt: skip
    return total, flows


@QUICK
@given(st.lists(run, min_size=1, max_size=5), st.integers(0, 4), st.floats(0.0, 1.0))
def test_closing_an_outlet_never_raises_the_total(
    runs: list[tuple[float, float, int, float, float]], which: int, kept: float
) -> None:
    """Less conductance behind a falling fan curve: total no greater, the other outlets no smaller.

    1e-8 of the flow is the solver's tolerance (1e-10) with room.
    """
    before = np.array([r[4] for r in runs])
    after = before.copy()
    after[which % len(runs)] *= kept
    total_before, flows_before = network(runs, before)
    total_after, flows_after = network(runs, after)
    assert total_after <= total_before * (1.0 + 1e-8) + 1e-9
    others = np.arange(len(runs)) != which % len(runs)
    assert np.all(flows_after[others] >= flows_before[others] * (1.0 - 1e-8) - 1e-9)


@QUICK
@given(run, st.floats(1e-3, 1000.0))
def test_flow_through_a_run_undoes_its_pressure(r: tuple[float, float, int, float, float], pressure_pa: float) -> None:
    """The solver's tolerance is 1e-11 of the pressure; laminar, transition and turbulent alike."""
    open_share = max(r[4], 0.01)
    flow = d.run_flow_m3_per_h(pressure_pa, r[0], r[1], float(r[2]), r[3], open_share, 1.1, 1.0)
    back = d.duct_pressure_pa(flow, r[0], r[1], float(r[2]), r[3], open_share, 1.1, 1.0)
    assert back == pytest.approx(pressure_pa, rel=1e-9)


def test_every_flow_of_a_network_takes_the_same_plenum_pressure() -> None:
    """Parallel runs: the definition. Tolerance that of the run solver."""
    runs = [(3.0, 0.065, 2, 0.003, 1.0), (6.0, 0.05, 4, 0.003, 0.5), (1.0, 0.08, 0, 0.00015, 0.0)]
    _, flows = network(runs, np.array([1.0, 0.5, 0.0]))
    pressures = [d.duct_pressure_pa(flows[i], *map(float, runs[i][:4]), runs[i][4], 1.1, 1.0) for i in (0, 1)]
    assert pressures[0] == pytest.approx(pressures[1], rel=1e-9)
    assert flows[2] == 0.0


def test_edges_of_the_duct() -> None:
    """Closed: infinite pressure, no flow; no fan: no flow; no air: nothing delivered; no loss: everything."""
    assert d.duct_pressure_pa(10.0, 1.0, 0.065, 0.0, 0.003, 0.0, 1.2, 1.0) == math.inf
    assert d.duct_pressure_pa(0.0, 1.0, 0.065, 0.0, 0.003, 0.0, 1.2, 1.0) == 0.0
    assert network([(1.0, 0.065, 0, 0.003, 0.0)], np.zeros(1))[0] == 0.0
    one = np.ones(1)
    flows = np.ones(1)
    assert d.solve_network(0.0, 240.0, 0.0, one, one, one, one, one, one, 1.2, flows) == (0.0, 0.0)
    assert flows[0] == 0.0
    assert d.run_delivery_share(1.0, 0.0) == 0.0
    assert d.run_delivery_share(0.0, 0.0) == 1.0


def test_friction_has_no_jump_between_laminar_and_turbulent() -> None:
    """Continuous at 2000 and 4000, so that the solver meets no gap (1e-6 over a step of 1e-6)."""
    for reynolds in (2000.0, 4000.0):
        below, above = d.friction_factor(reynolds - 1e-3, 0.046), d.friction_factor(reynolds + 1e-3, 0.046)
        assert above == pytest.approx(below, abs=1e-6)


@QUICK
@given(st.floats(0.1, 6.5), st.floats(0.0, 30.0), st.floats(0.0, 30.0))
def test_more_wind_never_lowers_a_loss(u_w_per_m2k: float, wind: float, other: float) -> None:
    """The film grows with wind, and no wind beats the outer film taken away altogether."""
    calm, windy = sorted((wind, other))
    low, high = (e.conductance_w_per_k(1.0, u_w_per_m2k, w) for w in (calm, windy))
    assert low <= high <= 1.0 / (1.0 / u_w_per_m2k - 0.04)


def test_a_u_value_above_the_film_is_the_film_alone() -> None:
    """U 30 leaves no inner resistance: 1/U < 0.04."""
    assert e.wind_u_w_per_m2k(30.0, 3.0) == pytest.approx(e.external_film_w_per_m2k(3.0), rel=1e-12)


@QUICK
@given(st.floats(0.0, 300.0), st.floats(0.0, 300.0), st.floats(-40.0, 40.0), st.floats(0.0, 25.0))
def test_vents_pass_more_with_wind_and_the_same_either_way_up(
    low_cm2: float, high_cm2: float, delta_k: float, wind: float
) -> None:
    """Swapping levels or the sign of the temperature difference changes nothing; wind only adds."""
    flow = v.vent_m3_per_h(low_cm2, high_cm2, 1.8, delta_k, wind, 20.0)
    assert flow == pytest.approx(v.vent_m3_per_h(high_cm2, low_cm2, 1.8, -delta_k, wind, 20.0), rel=1e-12)
    assert 0.0 <= flow <= v.vent_m3_per_h(low_cm2, high_cm2, 1.8, delta_k, wind + 1.0, 20.0)


def test_one_vent_alone_breathes_only_with_the_wind() -> None:
    """Single-sided: 0.025 A v. 100 cm² at 4 m/s: 0.001 m³/s = 3.6 m³/h (BS 5925); nothing in calm."""
    assert v.vent_m3_per_h(100.0, 0.0, 1.8, 25.0, 4.0, 20.0) == pytest.approx(3.6, rel=1e-12)
    assert v.vent_m3_per_h(100.0, 0.0, 1.8, 25.0, 0.0, 20.0) == 0.0
    assert v.vent_m3_per_h(0.0, 0.0, 1.8, 25.0, 4.0, 20.0) == 0.0


@QUICK
@given(st.floats(-20.0, 30.0), st.floats(-20.0, 30.0))
def test_a_doorway_is_smooth_symmetric_and_never_quite_still(warm_c: float, cold_c: float) -> None:
    """Even in the difference; never below the flow at the floor of 0.3 K; heat grows with the difference.

    The floor's own value moves by half a percent per 3 K of mean temperature, hence the 10 %.
    """
    here = v.doorway_w_per_k(0.9, 1.5, warm_c, cold_c, 1.2)
    assert here == v.doorway_w_per_k(0.9, 1.5, cold_c, warm_c, 1.2)
    assert here >= 0.9 * v.doorway_w_per_k(0.9, 1.5, 15.0, 15.0, 1.2)
    wider = v.doorway_w_per_k(0.9, 1.5, max(warm_c, cold_c) + 0.5, min(warm_c, cold_c) - 0.5, 1.2)
    assert wider > here
