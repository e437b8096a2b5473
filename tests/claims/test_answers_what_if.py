"""Nights set otherwise: the grid behind the report's sliders, and the schedules of one night side by side."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from small_tour import small, steady

from budget.answers import side_by_side, what_if
from budget.cli.report_parts import _sliders
from budget.engine import arrays as A
from budget.engine.batch import base_factors
from budget.wording import least_percent


def test_colder_nights_and_thicker_walls_take_less_gas_and_the_middle_is_the_plan() -> None:
    """Rows rise with the setpoint by night, columns with the shell's loss; the middle cell is the tour as planned."""
    prepared = steady(-8.0)
    found = what_if.answer(prepared)
    assert found is not None
    assert (np.diff(found.gas_kg, axis=0) > 0.0).all()
    assert (np.diff(found.gas_kg, axis=1) > 0.0).all()
    ready = prepared.with_gas_everywhere()
    middle = found.shift_k.index(0.0), found.loss_factor.index(1.0)
    assert found.gas_kg[middle] == ready.gas_kg(ready.run())[0]
    assert np.diff(found.night_c).tolist() == [2.0] * 4


def test_a_cell_of_the_grid_is_the_run_with_that_loss() -> None:
    prepared = small()
    found = what_if.answer(prepared)
    assert found is not None
    factors = base_factors()
    factors[:, A.LOSS] = found.loss_factor[2]
    ready = prepared.with_gas_everywhere()
    assert found.gas_kg[found.shift_k.index(0.0), 2] == ready.gas_kg(ready.run(factors))[0]


def test_the_sliders_gas_is_what_it_takes_with_power_and_their_page_says_what_they_take_for_granted() -> None:
    """The same grid with a battery that dies and one that lasts; half a per cent for bottles changed otherwise."""
    prepared = small()

    def grid(battery_ah: float) -> what_if.WhatIf:
        battery = prepared.van.power.battery.model_copy(update={"capacity_ah": battery_ah, "start_share": 1.0})
        power = prepared.van.power.model_copy(update={"battery": battery})
        found = what_if.answer(prepared.with_van(prepared.van.model_copy(update={"power": power})))
        assert found is not None
        return found

    dies, lasts = grid(20.0), grid(5000.0)
    assert (dies.cut_out_h > 0.0).all()
    assert (lasts.cut_out_h == 0.0).all()
    np.testing.assert_allclose(dies.gas_kg, lasts.gas_kg, rtol=0.005)
    said = {name: " ".join(_sliders(found).behind) for name, found in (("dies", dies), ("lasts", lasts))}
    assert all("Reckoned as if gas never ended" in words for words in said.values())
    assert "where the battery is cut out" in said["dies"]
    assert "where the battery is cut out" not in said["lasts"]
    kinds = {name: [title for title, *_ in _sliders(found).sliders.answers] for name, found in  # type: ignore[union-attr]
             (("dies", dies), ("lasts", lasts))}  # fmt: skip
    assert [("with power" in title, "as it stands" in title) for title in kinds["dies"]] == [
        (True, False), (False, True), (False, True), (False, True),
    ]  # fmt: skip
    assert not any("power" in title or "stands" in title for title in kinds["lasts"])


def test_the_lowest_charge_beside_the_sliders_is_rounded_down() -> None:
    found = what_if.answer(small())
    assert found is not None
    nearly = dataclasses.replace(found, lowest_charge_share=np.full_like(found.lowest_charge_share, 0.2499))
    sliders = _sliders(nearly).sliders
    assert sliders is not None
    shown = {name: values for name, _, _, values in sliders.answers}
    assert set(shown["lowest charge, rounded down"]) == {24.0}
    assert least_percent(0.2499) == "24 %"


def test_a_tour_on_which_nobody_sleeps_in_a_heated_van_has_no_grid_and_no_night() -> None:
    prepared = small()
    off = np.full(4 * prepared.hours_count, np.nan)
    cold = dataclasses.replace(prepared, timeline=dataclasses.replace(prepared.timeline, setpoint_c=off))
    assert what_if.answer(cold) is None
    assert side_by_side.answer(cold, prepared.timeline.index[10]) == ()


def test_the_night_of_each_schedule_runs_from_18_to_10_and_the_planned_one_is_the_tours_own() -> None:
    prepared = small()
    nights = side_by_side.answer(prepared, prepared.timeline.index[10])  # ten in the evening of the first day
    assert [night.clock[0] for night in nights] == ["19:00"] * 4
    assert [night.clock[-1] for night in nights] == ["10:00"] * 4
    many = prepared.with_gas_everywhere().run()
    assert nights[0].name == "as planned"
    assert nights[0].air_c == tuple(many.trace[0, 7:23, 2].tolist())  # noon + 6 h is 18:00: edges 7 to 22
    assert nights[0].gas_kg == pytest.approx(many.trace[0, 22, 4] - many.trace[0, 6, 4])
    off = next(night for night in nights if night.name == "off at night")
    assert off.gas_kg < min(night.gas_kg for night in nights if night is not off)
    assert min(off.air_c) < min(nights[0].air_c)


def test_schedules_beside_each_other_are_reckoned_with_power_where_the_battery_dies() -> None:
    """Else every schedule would burn the same nothing; half a per cent as above."""
    prepared = small()

    def nights(battery_ah: float) -> tuple[side_by_side.NightOf, ...]:
        battery = prepared.van.power.battery.model_copy(update={"capacity_ah": battery_ah, "start_share": 1.0})
        power = prepared.van.power.model_copy(update={"battery": battery})
        ready = prepared.with_van(prepared.van.model_copy(update={"power": power}))
        return side_by_side.answer(ready, ready.timeline.index[58])  # ten in the evening of the third day

    dies, lasts = nights(20.0), nights(5000.0)
    assert [night.as_if_fed for night in (*dies, *lasts)] == [True] * 4 + [False] * 4
    assert [night.gas_kg for night in dies] == pytest.approx([night.gas_kg for night in lasts], rel=0.005)
