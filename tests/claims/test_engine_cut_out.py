"""A battery emptied by a load: nothing is drawn that it does not hold, and no load warms the van for nothing."""

from __future__ import annotations

import pytest
from small_tour import small

from budget.answers.prepared import Prepared
from budget.engine.current import OTHER
from budget.physics.battery import AGM, capacity_share
from budget.van.power import Load


def emptied(capacity_ah: float, cut_out_share: float) -> Prepared:
    """Three nights off the grid with a kettle of 1500 W on lead, no other load, no sun."""
    prepared = small()
    power = prepared.van.power
    changes = {"chemistry": "agm", "capacity_ah": capacity_ah, "cut_out_share": cut_out_share, "peukert_factor": 1.15}
    battery = power.battery.model_copy(update=changes | {"reconnect_share": cut_out_share + 0.1})
    kettle = Load.model_validate({"name": "kettle", "power_w": 1500.0, "on": ["18:00-19:00"]})
    solar = power.solar.model_copy(update={"peak_w": 0.0})
    new = power.model_copy(update={"battery": battery, "loads": (kettle,), "solar": solar})
    return prepared.with_van(prepared.van.model_copy(update={"power": new}))


def test_a_load_that_empties_the_battery_stops_at_its_cut_out() -> None:
    """62.5 Ah are asked for in half an hour; of 80 Ah half may be drawn at 25 °C. Below the cut-out comes what the
    heater's fan takes to the end of its quarter, 3 A at most."""
    tour = emptied(80.0, 0.5)
    run, flows = tour.run(), tour.built.flows
    assert run.flows is not None
    floor_share = 1.0 - 0.5 * capacity_share(AGM, 25.0)
    assert run.trace[0, -1, 5] > 0.0
    assert floor_share - 0.75 / 80.0 < run.trace[0, :, 1].min()
    drawn_ah = run.flows[:, flows.load_ah + OTHER].sum()
    warmth_j = run.flows[:, flows.appliances_j : flows.appliances_j + tour.built.size.zones].sum()
    assert 10.0 < drawn_ah < 40.0
    assert warmth_j == pytest.approx(drawn_ah * 3600.0 * tour.van.power.battery.nominal_v, rel=1e-9)


@pytest.mark.parametrize("capacity_ah", [1.0, 5.0, 30.0])
def test_however_small_a_battery_is_it_is_never_emptier_than_empty(capacity_ah: float) -> None:
    charge = emptied(capacity_ah, 0.0).run().trace[0, :, 1]
    assert 0.0 <= charge.min() <= charge.max() <= 1.0
