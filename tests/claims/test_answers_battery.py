"""Nights without sun, the drive that reaches tomorrow, and amp-hours by day, against charge reckoned by hand."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from small_tour import small, steady

from budget.answers import battery
from budget.answers.detail import Detail
from budget.answers.prepared import Prepared, load_prepared
from budget.errors import InputFault
from budget.physics.battery import capacity_share
from budget.rounding import need
from budget.van.power import Battery, Load, Power

AT = "2027-01-12T18:00"
LOAD_A = 3.0
ALTERNATOR_A = 30.0


@cache
def steady_draw(start_share: float = 0.5, load_a: float = LOAD_A) -> Detail:
    """The demo van parked for five nights with one load that never rests, no fan, pump or sun to speak of."""
    made = small(5)
    power = Power(
        battery=Battery(capacity_ah=100.0, start_share=start_share),
        alternator_a=ALTERNATOR_A,
        loads=(Load(name="pump", power_w=load_a * 12.8),),
    )
    silent = tuple(stage.model_copy(update={"fan_w": 0.0}) for stage in made.van.heater.stages)
    heater = made.van.heater.model_copy(update={"stages": silent, "standby_w": 0.0})
    habits = made.tour.habits.model_copy(update={"extract_fan": (), "cold_water_l": 0.0})
    tour: Any = made.tour.model_copy(update={"draws": (), "habits": habits})
    van = made.van.model_copy(update={"power": power, "heater": heater})
    return Detail.of(Prepared.of(van, tour, folder=made.folder))


def floor_ah(run: Detail) -> float:
    """Charge at which the loads are cut: 10 % of what the cold leaves and what it locks in, as warm as that evening."""
    return 100.0 * (1.0 - capacity_share(0, float(run.node_c("battery")[run.hour_of(AT)])) * 0.9)


def test_the_charge_lasts_usable_amp_hours_over_amps() -> None:
    """At 3 A from 18:00; the battery's temperature swings by 5 K, 2 Ah, and cut-outs fall in whole hours."""
    run = steady_draw()
    found = battery.answer(run, AT).stands[0]
    charge = run.stock("charge_ah")[run.hour_of(AT)]
    assert found.charge_share == pytest.approx(charge / 100.0, rel=1e-12)
    assert found.lasts_h == pytest.approx((charge - floor_ah(run)) / LOAD_A, abs=1.2)  # counted in whole hours
    assert found.nights == pytest.approx(found.lasts_h / 24.0, rel=1e-12)


def test_the_drive_that_reaches_tomorrow_by_hand() -> None:
    """Charge C, floor F, loads of 3 A for 24 h, 30 A of alternator of which 27 A charge at 0.97 meanwhile:
    C + 0.97 × 27 k - 3 (24 - k) = F. A cold battery takes less for a while; stepped by a quarter of an hour."""
    run = steady_draw()
    found = battery.answer(run, AT).stands[0]
    charge = run.stock("charge_ah")[run.hour_of(AT)]
    by_hand_h = (floor_ah(run) - charge + 24.0 * LOAD_A) / (0.97 * (ALTERNATOR_A - LOAD_A) + LOAD_A)
    assert by_hand_h > 1.0
    assert found.drive_h is not None
    assert found.drive_h == pytest.approx(by_hand_h + 0.125, abs=0.3)
    assert found.drive_h % battery.STEP_H == 0.0


def test_a_fuller_battery_lasts_longer_and_needs_no_longer_a_drive() -> None:
    stands = [battery.answer(steady_draw(share), AT).stands[0] for share in (0.4, 0.6, 0.8, 1.0)]
    lasts = [each.lasts_h for each in stands]
    drives = [each.drive_h for each in stands]
    assert lasts == sorted(lasts) and drives == sorted(drives, reverse=True)
    assert lasts[0] < lasts[-1] and drives[0] > drives[-1]


def test_loads_beyond_the_alternator_cannot_be_reached_by_driving() -> None:
    found = battery.answer(steady_draw(1.0, 14.0), AT)
    assert found.stands[0].drive_h is None
    assert (
        "not even 10 h of driving from 18:00 on reach 18:00 of the next day without sun: it brings "
        in found.sentences[2]
    )


def test_a_drive_brings_back_loads_that_are_cut_out_and_is_counted_from_its_end() -> None:
    """At 10 % of charge the cut-out is open: it closes on the alternator, and the same balance holds from then on."""
    run = steady_draw(0.1)
    found = battery.answer(run, AT)
    (stand,) = found.stands
    assert stand.cut_out and stand.lasts_h == 0
    charge = run.stock("charge_ah")[run.hour_of(AT)]
    assert charge == pytest.approx(10.0, abs=1.0)  # of 100 Ah: but for the heater's first quarter nothing was drawn
    by_hand_h = (floor_ah(run) - charge + 24.0 * LOAD_A) / (0.97 * (ALTERNATOR_A - LOAD_A) + LOAD_A)
    assert stand.drive_h == pytest.approx(by_hand_h + 0.125, abs=0.3)
    assert stand.cut_out_at_share == pytest.approx(floor_ah(run) / 100.0, rel=1e-9)
    cold_share = capacity_share(0, float(run.node_c("battery")[run.hour_of(AT)]))
    assert stand.reconnects_at_share == pytest.approx(1.0 - 0.8 * cold_share, rel=1e-9)
    cut, back = round(100.0 * stand.cut_out_at_share), 100.0 * stand.reconnects_at_share
    place = stand.place
    assert found.sentences[:2] == (
        f"As cold as the battery is on these evenings, its loads are cut out at {cut} % of the rated charge and come "
        f"back at {back:.0f} %.",
        f"Tue 12 Jan 18:00 at {place} ({charge:.0f} % of charge): the loads are cut out already, and stay so until it "
        f"is charged to {need(back)} % or a charger feeds them.",
    )


def test_a_battery_that_is_cut_out_needs_no_less_of_a_drive_than_one_just_above() -> None:
    """Between charges on both sides of the cut-out the drive grows as they fall, without a leap."""
    drives = [battery.answer(steady_draw(share), AT).stands[0].drive_h for share in (0.30, 0.24, 0.20, 0.16, 0.10)]
    assert None not in drives
    assert drives == sorted(drives)  # type: ignore[type-var]


def test_an_alternator_too_weak_to_bring_the_loads_back_is_why() -> None:
    run = steady_draw(0.1)
    power = run.van.power.model_copy(update={"alternator_a": 0.2})
    weak = Detail.of(Prepared.of(run.van.model_copy(update={"power": power}), run.tour, folder=small().folder))
    (stand,) = battery.answer(weak, AT).stands
    assert (stand.drive_h, stand.lasts_h) == (None, 0)
    assert stand.why_not == "the battery is cut out already, and with the 1 Ah that it brings stays so"


def test_cells_at_freezing_are_why_a_drive_does_not_help() -> None:
    """A battery that stands outdoors in the cold takes nothing of ten hours of alternator; 3 A of loads are
    30 Ah."""
    run = steady_draw(0.8)
    power = run.van.power.model_copy(
        update={"battery": run.van.power.battery.model_copy(update={"zone": "outdoors", "pad_w": 0.0})}
    )
    cold = Detail.of(Prepared.of(run.van.model_copy(update={"power": power}), run.tour, steady(-20.0, 5).weather))
    (stand,) = battery.answer(cold, AT).stands
    assert (stand.drive_h, stand.no_charge_h) == (None, 24)
    assert stand.why_not == (
        "for 10 h of the drive its cells stand at or below 0 °C and take no charge; it only feeds the loads "
        "meanwhile, 30 Ah: warm the battery first"
    )


def test_the_evenings_of_the_demo_are_those_off_the_grid_and_its_days_add_up() -> None:
    prepared = load_prepared(None)
    run = Detail.of(prepared)
    found = battery.answer(run)
    line = run.timeline
    assert all(line.hookup_w[run.hour_of(each.at)] == 0.0 and each.at.hour == 18 for each in found.stands)
    assert len(found.stands) > 5
    assert sum(day.used_ah for day in found.days) == pytest.approx(run.flow("load_ah").sum(), rel=1e-9)
    assert sum(day.fan_ah for day in found.days) == pytest.approx(run.flow("load_ah", 0).sum(), rel=1e-9)
    assert sum(day.solar_ah for day in found.days) == pytest.approx(run.flow("solar_ah").sum(), rel=1e-9)
    for day in found.days:
        assert sum(day.used_by_load_ah.values()) == pytest.approx(day.used_ah, rel=1e-9)
    # Less charge on the same evening never lasts longer.
    poorer = replace(prepared, hours=prepared.hours.copy())
    poorer.hours["alternator"] = 0.0
    for there, here in zip(battery.answer(poorer).stands[:3], found.stands[:3], strict=True):
        assert there.lasts_h is not None and (here.lasts_h is None or there.lasts_h <= here.lasts_h)


def test_an_evening_outside_the_tour_is_refused() -> None:
    with pytest.raises(InputFault, match="the time must lie within the tour"):
        battery.answer(steady_draw(), "2027-03-01T18:00")
