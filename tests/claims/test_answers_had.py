"""What scenarios had of the gas that they needed: told apart by what the bottles held when it was lacked."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace as Found
from typing import Any

import numpy as np
import pytest
from small_tour import small, steady

from budget.answers.had import had, marched_with_power
from budget.answers.prepared import Prepared
from budget.engine.batch import base_factors


def run(used_kg: list[list[float]], left_kg: list[list[float]]) -> Any:
    """A batch of which gas left and used are known at the hour edges."""
    trace = np.zeros((len(used_kg), len(used_kg[0]), 6))
    trace[:, :, 0], trace[:, :, 4] = left_kg, used_kg
    return Found(trace=trace)


def test_gas_that_ended_is_told_from_gas_that_did_not_flow() -> None:
    """A kilogram an hour is needed. One has it; one is empty in the third hour; one holds 5 kg that stand still from
    the second on; one is empty in the third hour, is given a new bottle and stays behind; one lags by half a kilogram
    and no more."""
    need = np.tile(np.arange(6.0), (5, 1))
    used = [[0, 1, 2, 3, 4, 5], [0, 1, 2, 2.1, 2.1, 2.1], [0, 1, 1, 1, 1, 1], [0, 1, 2, 2.1, 3.1, 4.1],
            [0, 0.5, 1.5, 2.5, 3.5, 4.5]]  # fmt: skip
    left = [[9, 8, 7, 6, 5, 4], [2.1, 1.1, 0.1, 0, 0, 0], [6, 5, 5, 5, 5, 5], [2.1, 1.1, 0.1, 5, 4, 3],
            [9, 8, 7, 6, 5, 4]]  # fmt: skip
    found = had(need, run(used, left))  # type: ignore[arg-type]
    assert found.lacked_h.tolist() == [-1.0, 1.0, 1.0, 1.0, -1.0]
    assert found.held_up.tolist() == [False, False, True, False, False]
    assert np.array_equal(found.left_kg, np.array(left, dtype=float))


def test_gas_that_is_never_had_is_lacked_from_the_start() -> None:
    found = had(np.array([[0.0, 1.0, 2.0]]), run([[0, 0, 0]], [[5, 5, 5]]))  # type: ignore[arg-type]
    assert (found.lacked_h.tolist(), found.held_up.tolist()) == ([0.0], [True])


def with_bottles(prepared: Prepared, changeover: str, *kilograms: float) -> Prepared:
    gas = prepared.van.gas
    bottles = tuple(gas.bottles[0].model_copy(update={"start_kg": kg}) for kg in kilograms)
    gas = gas.model_copy(update={"bottles": bottles, "changeover": changeover})
    found = prepared.with_van(prepared.van.model_copy(update={"gas": gas}))
    hours = found.hours.copy()
    hours["exchange_open"] = 0
    return replace(found, hours=hours)


def how(prepared: Prepared, count: int) -> dict[str, Any]:
    return {"rows": prepared.rows[np.newaxis], "weather_of": np.zeros(count, dtype=np.int64)}


def test_a_night_that_nobody_changes_over_in_is_no_gas_that_does_not_flow() -> None:
    """Bottles changed over by hand: reckoned as if it were done at once; a changeover of its own is left as it was."""
    for changeover, again in (("manual", True), ("automatic", False)):
        prepared = with_bottles(steady(-10.0, 2), changeover, 1.5, 11.0)
        stands = prepared.run_many(base_factors(2), **how(prepared, 2))
        powered = marched_with_power(prepared, stands, base_factors(2), **how(prepared, 2))
        assert (powered is stands) is not again
        quick = with_bottles(steady(-10.0, 2), "automatic", 1.5, 11.0).run()
        assert powered.trace[1, -1, 4] == pytest.approx(quick.trace[0, -1, 4], rel=1e-6)


def test_only_what_was_cut_out_is_run_again_with_power() -> None:
    prepared = with_bottles(small(2), "automatic", 11.0)
    battery = prepared.van.power.battery.model_copy(update={"capacity_ah": 300.0})
    van = prepared.van.model_copy(update={"power": prepared.van.power.model_copy(update={"battery": battery})})
    prepared = replace(prepared.with_van(van), hours=prepared.hours)
    from budget.engine import arrays as A

    factors = base_factors(3)
    factors[:, A.LOADS] = [0.2, 20.0, 0.5]
    stands = prepared.run_many(factors, **how(prepared, 3))
    assert (stands.trace[:, -1, 5] > 0.0).tolist() == [False, True, False]
    powered = marched_with_power(prepared, stands, factors, **how(prepared, 3))
    assert np.array_equal(powered.trace[[0, 2]], stands.trace[[0, 2]])
    assert powered.trace[1, -1, 5] == 0.0
    assert powered.trace[1, -1, 4] > stands.trace[1, -1, 4]
