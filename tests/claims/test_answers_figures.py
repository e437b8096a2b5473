"""The figures of an answer are those of the runs behind it, read from the engine's own columns one by one."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pandas as pd
import pytest
from small_tour import START, small

from budget.answers import best_schedule, compare, measures, night_cases, night_settings, side_by_side, what_if
from budget.answers.bedtime import bedtime_min
from budget.answers.detail import Detail
from budget.answers.fed import POWERED, dies, powered
from budget.answers.night import OFF, Setback, clock, hours_of, laid, minute_of_quarters
from budget.answers.prepared import Prepared, factor_rows, load_prepared
from budget.engine import arrays as A
from budget.engine.batch import base_factors
from budget.errors import InputFault
from budget.rounding import least
from budget.spans import Span

ALIKE = 1e-9  # sums in another order


@cache
def demo() -> Detail:
    return Detail.of(load_prepared(None))


def run_of(prepared: Prepared) -> Detail:
    return Detail.of(prepared.with_gas_everywhere())


def set_to(prepared: Prepared, set_c: float) -> Prepared:
    return replace(prepared, hours=prepared.with_setpoints(np.full(4 * prepared.hours_count, set_c)))


# Variants side by side


def test_a_variants_figures_are_those_of_its_run() -> None:
    """Against the columns of a run in detail, in the digits that are kept: grams, hundredths, tenths of a gram."""
    prepared = small()
    gas = prepared.van.gas
    mixed = tuple(bottle.model_copy(update={"propane_share": 0.6}) for bottle in gas.bottles)
    mixture = prepared.van.model_copy(update={"gas": gas.model_copy(update={"bottles": mixed})})
    variants = {"planned": prepared, "cold": set_to(prepared, 12.0), "mixture": prepared.with_van(mixture)}
    found = compare.answer(variants)
    assert not found.as_if_powered
    assert found.title == prepared.tour.title
    base = run_of(prepared)
    here = prepared.timeline.inside
    asleep = prepared.timeline.asleep / np.maximum(prepared.timeline.asleep + prepared.timeline.awake, 1e-9)
    for variant, (name, ready) in zip(found.variants, variants.items(), strict=True):
        run = run_of(ready)
        hourly = run.flow("gas_out_kg") + run.flow("gas_out_butane_kg")
        inside = run.node_c("living_air")
        assert variant.name == name
        assert variant.gas_kg == round(hourly.sum(), 3)
        assert variant.bottles == math.ceil(hourly.sum() / 11.0)
        assert variant.burner_hours_h == round(run.flow("flame_s").sum() / 3600.0, 2)
        assert variant.starts == run.flow("starts").sum() > 0
        assert variant.fan_ah == round(run.flow("load_ah", 0).sum(), 2)
        charge = run.stock("charge_ah") / run.van.power.battery.capacity_ah
        assert variant.lowest_charge_share == pytest.approx(charge.min(), abs=1e-4)
        assert variant.below_setpoint_kelvin_hours == round(run.flow("below_k_s").sum() / 3600.0, 2)
        assert variant.lowest_inside_c == round(inside[1:].min(), 2)
        assert variant.lowest_pipes_c == round(run.node_c("pipes")[1:].min(), 2)
        wet = sum(run.stock("condensed_kg", k) for k in range(run.built.size.surfaces))
        assert variant.wet_g == round(1000.0 * wet.max(), 1) > 0.0
        assert variant.peak_kg_per_h == round(hourly.max(), 4)
        ice_kg = run.stock("ice_kg", 2)[1:]
        assert (variant.pipes_ice_kg, variant.pipes_ice_h) == (round(ice_kg.max(), 3), np.count_nonzero(ice_kg > 0.0))
        assert variant.dumped_l == round(run.flow("dumped_l").sum(), 1)
        assert (variant.cut_out_h, variant.cut_out_from) == (0.0, None)
        assert variant.unserved_kg == round(run.flow("unserved_heating_kg").sum(), 3)
        saved = (base.flow("gas_out_kg") + base.flow("gas_out_butane_kg")).sum() - hourly.sum()
        assert variant.saved_kg == round(saved, 3)
        colder = compare.colder_k(base.node_c("living_air"), inside) * here
        assert variant.colder_asleep_kelvin_hours == round((colder * asleep).sum(), 2)
        assert variant.colder_awake_kelvin_hours == round((colder * (1.0 - asleep)).sum(), 2)
        mornings = compare.minutes_to_comfort(ready, inside)
        assert variant.minutes_to_comfort_min == (round(np.mean(mornings), 1) if mornings else None)
        assert variant.slowest_morning_min == (round(max(mornings), 1) if mornings else None)
        assert (variant.mornings, variant.mornings_never_warm) == (len(mornings), 0)
        warmer = compare.colder_k(inside, base.node_c("living_air")) * here
        assert variant.warmer_kelvin_hours == round(warmer.sum(), 2)
        assert variant.below_setpoint_h == round(run.flow("below_s").sum() / 3600.0, 2)
    assert found.variants[0].minutes_to_comfort_min is not None
    assert found.variants[1].minutes_to_comfort_min is None  # one setpoint all day has no step up
    assert found.variants[1].colder_awake_kelvin_hours > 0.0


def test_a_battery_that_dies_in_any_variant_powers_all_and_leaves_each_charge_as_it_stands() -> None:
    prepared = small()
    battery = prepared.van.power.battery.model_copy(update={"capacity_ah": 20.0, "start_share": 1.0})
    poor = prepared.with_van(
        prepared.van.model_copy(update={"power": prepared.van.power.model_copy(update={"battery": battery})})
    )
    assert (dies(prepared), dies(poor)) == (False, True)
    found = compare.answer({"good": prepared, "poor": poor})
    assert found.as_if_powered
    for variant, ready in zip(found.variants, (prepared, poor), strict=True):
        stands = Detail.of(ready.with_gas_everywhere())
        charge = stands.stock("charge_ah") / ready.van.power.battery.capacity_ah
        assert variant.lowest_charge_share == pytest.approx(charge.min(), abs=1e-4)
        cut_s = stands.flow("cut_out_s")
        assert variant.cut_out_h == pytest.approx(cut_s.sum() / 3600.0, abs=0.01)
        first = stands.time(int(np.argmax(cut_s > 0.0)))
        assert variant.cut_out_from == (first if cut_s.any() else None)
    assert [variant.cut_out_h > 0.0 for variant in found.variants] == [False, True]
    assert [
        told.startswith(f"'{name}' as it stands: ")
        for name, told in zip(("good", "poor"), found.sentences()[-2:], strict=True)
    ] == [True, True]
    run = Detail.of(powered(poor.with_gas_everywhere()))
    assert found.variants[1].gas_kg == round((run.flow("gas_out_kg") + run.flow("gas_out_butane_kg")).sum(), 3)
    assert found.variants[1].gas_kg == pytest.approx(found.variants[0].gas_kg, rel=0.005)


def test_variants_of_other_hours_are_refused_and_so_is_one_alone() -> None:
    with pytest.raises(InputFault, match=r"^'two' must cover the same hours as the first variant, 72, got 48; "):
        compare.answer({"three": small(3), "two": small(2)})


def test_the_usual_schedules_are_constant_as_planned_lower_off_and_lower_while_away() -> None:
    """20 °C is what the demo's field schedule asks of most waking quarters; by the quarter hour, from people."""
    prepared = small()
    line = prepared.timeline
    found = compare.usual(prepared)
    planned = np.asarray(line.setpoint_c)
    asleep, nobody = np.repeat(line.asleep > 0.0, 4), np.repeat((line.people_w <= 0.0) & (line.moving == 0), 4)
    day_c = float(np.median(planned[np.repeat(line.awake > 0.0, 4) & ~asleep & np.isfinite(planned)]))
    assert list(found) == [
        f"constant {day_c:g} °C", "as planned", f"{day_c - 4.0:g} °C at night", "off at night", "12 °C while away",
    ]  # fmt: skip
    assert found["as planned"] is prepared
    constant, _, lower, off, away = (np.asarray(one.hours["set_c"]).reshape(-1) for one in found.values())
    assert set(constant) == {day_c}
    assert np.array_equal(lower, np.where(asleep, day_c - 4.0, day_c))
    assert np.array_equal(off, np.where(asleep, np.nan, day_c), equal_nan=True)
    assert np.array_equal(away, np.where(nobody, 12.0, day_c))
    empty = replace(line, awake=np.zeros_like(line.awake))
    assert next(iter(compare.usual(replace(prepared, timeline=empty)))) == "constant 19 °C"


def test_a_schedule_by_name_is_kept_at_every_stop() -> None:
    prepared = small()
    tour = prepared.tour.model_copy(
        update={"stops": tuple(stop.model_copy(update={"schedule": "town"}) for stop in prepared.tour.stops)}
    )
    found = compare.of_schedules(prepared.with_tour(tour), ["field", "town"])
    assert list(found) == ["field", "town"]
    for name, one in found.items():
        assert (one.tour.schedule, [stop.schedule for stop in one.tour.stops]) == (name, [None])
    field, town = (np.asarray(one.hours["set_c"]) for one in found.values())
    assert not np.array_equal(field, town, equal_nan=True)
    again = prepared.with_tour(prepared.tour.model_copy(update={"schedule": "town"}))
    assert np.array_equal(town, np.asarray(again.hours["set_c"]), equal_nan=True)


def test_variants_by_overrides_take_the_common_ones_too() -> None:
    found = compare.of_overrides(None, {"mild": ["weather.offset_k=2"], "same": []}, ["weather.offset_k=-1"])
    mild, same = found.values()
    assert list(found) == ["mild", "same"]
    between = mild.weather.frame["temp_air"] - same.weather.frame["temp_air"]
    assert between.to_numpy() == pytest.approx(np.full(len(between), 3.0), abs=0.05)


def colder_by(*steps: tuple[float, int]) -> float:
    other = np.concatenate([np.full(count, -k) for k, count in steps])
    return float(compare.colder_k(np.zeros(len(other)), other).sum())


def test_colder_counts_where_three_hours_are_on_average_half_a_kelvin_colder() -> None:
    """Hour edges, so that n + 1 of them are n hours: 0.5 K is not colder, 0.6 K is; 3 K at one edge are hours of 1.5
    and 1.5 K and three-hour means of 0.5, 1, 1 and 0.5, of which the middle ones count."""
    assert colder_by((0.5, 11)) == 0.0
    assert colder_by((0.6, 11)) == pytest.approx(6.0)
    assert colder_by((0.0, 5), (3.0, 1), (0.0, 5)) == pytest.approx(2.0)
    assert colder_by((-2.0, 11)) == 0.0


def morning(set_c: Any, inside_c: Any) -> list[float]:
    """Minutes to comfort on one day from midnight, setpoints by the quarter and inside by the hour edge."""
    index = pd.date_range("2027-01-12", periods=24, freq="h")
    prepared: Any = type("Found", (), {})()
    prepared.hours = {"set_c": np.asarray(set_c, dtype=float).reshape(24, 4)}
    prepared.timeline = type("Found", (), {"index": index})()
    return compare.minutes_to_comfort(prepared, np.asarray(inside_c, dtype=float))


def test_minutes_to_comfort_count_to_within_half_a_kelvin_or_to_the_next_setpoint() -> None:
    """Steps between four and eleven count: at 06:00 from 10 to 18, with 2 K an hour from 15 °C: 17.5 °C after 75 min.
    A step that is taken back before it is warm never is, nor one cold to the end of the day; one that is followed by a
    further step counts from there; one by a tenth, one at three and one at eleven not at all; from off it counts."""
    warm = 15.0 + 2.0 * np.clip(np.arange(25) - 6, 0, 20)
    quarters = np.full(96, 10.0)
    quarters[24:] = 18.0
    assert morning(quarters, warm) == [75.0]
    off = np.where(np.arange(96) < 24, np.nan, 18.0)
    assert morning(off, warm) == [75.0]
    back = quarters.copy()
    back[28:] = 10.0
    assert morning(back, np.full(25, 9.0)) == [np.inf]
    assert morning(quarters, np.full(25, 9.0)) == [np.inf]
    up = quarters.copy()
    up[24:26] = 17.0  # from 06:30 on 18 °C
    assert morning(up, warm) == [45.0]
    late = np.where(np.arange(96) < 40, 10.0, 17.0)
    late[44:] = 18.0  # its next step is no morning's
    assert morning(late, np.full(25, 9.0)) == [np.inf]
    assert morning(np.where(np.arange(96) < 24, 17.9, 18.0), np.full(25, 9.0)) == []
    for hour, counted in ((3, 0), (4, 1), (10, 1), (11, 0)):
        assert len(morning(np.where(np.arange(96) < 4 * hour, 10.0, 18.0), np.full(25, 9.0))) == counted, hour
    assert morning(quarters, np.where(np.arange(25) < 6, 9.0, 17.5)) == [0.0]


# One night with many settings


def test_a_nights_options_are_the_runs_with_their_timers() -> None:
    """Each option's timer is the latest quarter hour that is warm by half past seven; its figures are those of that
    very run with gas and charge, and it fails in the cases in which the run on what is left ends before the morning."""
    prepared = small()
    first, last = 5, 20  # 17:00 to 08:00
    from budget.answers.evening import with_gas_and_charge
    from budget.answers.night_wish import Wish

    van = with_gas_and_charge(prepared, 1.2, 100.0)
    fed, here = van.fed().between(first, last, start_c=19.0), van.between(first, last, start_c=19.0)
    minute = minute_of_quarters(prepared, first, last)
    wish = Wish(night_c=16.0, down_min=22 * 60, warm_c=20.0, warm_min=450, inside_c=19.0, told="")
    mild = here.rows.copy()
    mild[:, A.TEMP_C] += 12.0
    asleep = prepared.timeline.asleep[first:last] > 0.0
    cases = night_cases.Cases(here, fed, base_factors(2), np.stack([here.rows, mild]), asleep)
    tried = night_settings.options(cases, here.rows, minute, wish)
    found = [one.option for one in tried]
    assert [option.night_c for option in found] == [18.0, 16.0, 14.0, 12.0, 10.0, 8.0, None]
    assert [option.planned for option in found] == [False, True, False, False, False, False, False]

    def marched(base: Prepared, night_c: float, lead_min: float) -> Detail:
        hours = hours_of(base, [Setback(night_c, lead_min, 22 * 60, 450, 20.0)], minute)[0]
        return Detail.of(replace(base, hours=hours.view(np.recarray)))

    def warm_c(run: Detail) -> float:
        inside = run.node_c("living_air")  # edges at 07:00 and 08:00 are the last two
        return float(0.5 * (inside[-2] + inside[-1]))

    def ends(run: Detail) -> bool:
        left = sum(run.left_kg(k) for k in range(run.bottles))
        lacked = run.flow("unserved_heating_kg").sum() > night_cases.OFFTAKE_KG
        return bool(lacked or run.flow("cut_out_s").any() or (np.asarray(left) <= night_cases.EMPTY_KG).any())

    def burned_kg(run: Detail) -> float:
        return float((run.flow("gas_out_kg") + run.flow("gas_out_butane_kg")).sum())

    for option in found:
        night_c = OFF if option.night_c is None else option.night_c
        lead = 240.0 if option.lead_min is None else option.lead_min
        run = marched(fed, night_c, lead)
        when_fed = [marched(replace(fed, rows=rows), night_c, lead) for rows in (here.rows, mild)]
        assert option.gas_kg == round(float(np.mean([burned_kg(each) for each in when_fed])), 3), "median of two"
        assert option.fan_ah == round(run.flow("load_ah", 0).sum(), 2)
        assert option.lowest_inside_c == round(run.node_c("living_air")[1:].min(), 1)
        assert option.lowest_pipes_c == round(run.node_c("pipes")[1:].min(), 1)
        assert option.dumped_l == round(run.flow("dumped_l").sum(), 1)
        assert option.at_warm_time_c == round(warm_c(run), 1)
        if option.timer is not None:
            assert option.timer == clock(450 - int(lead))
            assert warm_c(run) >= 19.5
            assert lead == 0.0 or warm_c(marched(fed, night_c, lead - 15.0)) < 19.5
        both = [marched(replace(here, rows=rows), night_c, lead) for rows in (here.rows, mild)]
        assert option.fails_share == sum(map(ends, both)) / 2.0
        frozen = [each.node_c("pipes")[1:].min() <= 0.0 or each.flow("dumped_l").sum() > 0.5 for each in both]
        assert option.freezes_share == sum(frozen) / 2.0
        assert option.amiss_share >= max(option.fails_share, option.freezes_share)
    assert len({option.fails_share for option in found}) > 1
    assert found[0].words == f"18 °C from 22:00, 20 °C from {found[0].timer}"


def test_a_setting_is_told_by_its_clock_times() -> None:
    assert Setback(12.0, 60.0, 22 * 60, 450, 20.5).words() == "12 °C from 22:00, 20.5 °C from 06:30"
    assert Setback(OFF, 480.0, 1, 450, 20.0).words() == "off from 00:01, 20 °C from 23:30"
    assert (clock(0), clock(24 * 60 + 61), clock(599)) == ("00:00", "01:01", "09:59")


def test_the_nights_of_schedules_side_by_side_are_their_runs_from_18_to_10() -> None:
    """Kilowatts are the hour's heat to air and water over 3.6 MJ; the setpoint is the mean of the quarters asked."""
    prepared = small()
    nights = side_by_side.answer(prepared, prepared.timeline.index[10])
    ready = side_by_side.schedules(prepared)
    assert [night.name for night in nights] == list(ready)
    asleep = np.repeat(prepared.timeline.asleep > 0.0, 4)
    planned = np.asarray(prepared.timeline.setpoint_c)
    day_c = float(np.median(planned[np.repeat(prepared.timeline.awake > 0.0, 4) & ~asleep & np.isfinite(planned)]))
    wanted = {
        "as planned": planned,
        f"{day_c:g} °C all night": np.full(len(planned), day_c),
        f"{day_c - 4.0:g} °C at night": np.where(asleep, day_c - 4.0, planned),
        "off at night": np.where(asleep, np.nan, planned),
    }
    assert list(wanted) == list(ready)
    for night in nights:
        run = run_of(ready[night.name])
        heat = ("gas_heat_air_j", "gas_heat_water_j", "electric_air_j", "electric_water_j")
        kw = sum(run.flow(name) for name in heat)[6:22] / 3.6e6
        assert night.heat_kw == pytest.approx(kw, rel=ALIKE)
        assert max(night.heat_kw) > 1.0
        assert night.air_c == pytest.approx(run.node_c("living_air")[7:23], rel=ALIKE)
        assert night.fan_ah == pytest.approx(run.flow("load_ah", 0)[6:22].sum(), rel=ALIKE)
        assert night.clock == tuple(f"{hour % 24:02d}:00" for hour in range(19, 35))
        quarters = wanted[night.name].reshape(-1, 4)[6:22]
        mean = [float(np.nanmean(row)) if np.isfinite(row).any() else math.nan for row in quarters]
        assert night.setpoint_c == pytest.approx(mean, rel=ALIKE, nan_ok=True)
        last = max(hour for hour in range(6, 22) if prepared.timeline.asleep[hour] > 0.0)
        assert night.wake_c == pytest.approx(run.node_c("living_air")[last + 1], rel=ALIKE)
        assert not night.as_if_fed


def test_a_night_begins_at_the_last_18_oclock_and_is_six_hours_at_least() -> None:
    prepared = small()  # from noon to noon
    index = prepared.timeline.index
    first, second = index[6], index[30]
    for at, evening in ((first, first), (index[29], first), (second, second), (index[-1], index[54])):
        nights = side_by_side.answer(prepared, at)
        used = run_of(prepared).many.trace[0, :, 4]
        begin = index.get_loc(evening)
        assert nights[0].gas_kg == pytest.approx(used[begin + 16] - used[begin], rel=ALIKE)
    assert side_by_side.answer(prepared, index[5]) == ()
    for hours, there in ((5, False), (6, True)):
        tour = prepared.tour.model_copy(update={"end": START + dt.timedelta(hours=6 + hours)})
        short = Prepared.of(prepared.van, tour, folder=prepared.folder)
        assert bool(side_by_side.answer(short, short.timeline.index[-1])) == there, hours


# What if, measures, the best schedule


def test_the_grid_of_what_if_holds_the_runs_of_its_cells() -> None:
    """Rows shift the setpoint of sleeping quarters, never below 5 °C; columns are the low, usual and high loss."""
    prepared = small()
    found = what_if.answer(prepared)
    assert found is not None
    assert (found.shift_k, found.loss_factor[1]) == ((-4.0, -2.0, 0.0, 2.0, 4.0), 1.0)
    assert found.loss_factor[0] < 1.0 < found.loss_factor[2]
    planned, asleep = np.asarray(prepared.timeline.setpoint_c), np.repeat(prepared.timeline.asleep > 0.0, 4)
    for row, shift in enumerate(found.shift_k):
        set_c = np.where(asleep, np.maximum(planned + shift, 5.0), planned)
        hours = prepared.with_gas_everywhere().with_setpoints(set_c)
        assert found.night_c[row] == float(np.nanmedian(set_c[asleep]))
        for column, loss in enumerate(found.loss_factor):
            ready = replace(prepared, hours=hours)
            run = Detail.of(ready)
            run = replace(run, many=ready.run(factor_rows({"loss_factor": np.array([loss])}, 1)))
            burned = run.flow("gas_out_kg").sum() + run.flow("gas_out_butane_kg").sum()
            assert found.gas_kg[row, column] == pytest.approx(burned, rel=1e-6)
            assert found.lowest_inside_c[row, column] == pytest.approx(run.node_c("living_air")[1:].min(), rel=ALIKE)
            assert found.lowest_pipes_c[row, column] == pytest.approx(run.node_c("pipes")[1:].min(), rel=ALIKE)
            charge = run.stock("charge_ah").min() / prepared.van.power.battery.capacity_ah
            assert found.lowest_charge_share[row, column] == pytest.approx(charge, rel=1e-6)
            assert found.cut_out_h[row, column] == 0.0


def test_a_measures_figures_are_the_difference_of_two_runs() -> None:
    """Gas less gas; Ah of all loads less the sun's; per kilogram carried and per money what those give."""
    prepared = small()
    found = measures.answer(prepared, {"outside screens": 50.0, "100 W more solar": 0.0})
    base = prepared.with_gas_everywhere()
    before = Detail.of(base)

    def gas_kg(run: Detail) -> float:
        return float((run.flow("gas_out_kg") + run.flow("gas_out_butane_kg")).sum())

    def net_ah(run: Detail) -> float:
        return float(run.flow("load_ah").sum() - run.flow("solar_ah").sum())

    assert found.gas_kg == pytest.approx(gas_kg(before), rel=ALIKE)
    assert not found.as_if_powered
    assert [each.name for each in found.measures] != list(measures.MEASURES)
    for each in found.measures:
        made = measures.MEASURES[each.name](base)
        assert made is not None
        ready, factors, payload_kg = made
        after = replace(Detail.of(ready), many=ready.run(factors))
        saved = gas_kg(before) - gas_kg(after)
        assert each.saved_kg == round(saved, 3)
        assert each.saved_ah == round(net_ah(before) - net_ah(after), 2)
        assert each.payload_kg == round(payload_kg, 2)
        lower = compare.colder_k(before.node_c("living_air"), after.node_c("living_air"))
        assert each.colder_kelvin_hours == round(lower[prepared.timeline.inside].sum(), 1)
        higher = compare.colder_k(after.node_c("living_air"), before.node_c("living_air"))
        assert each.warmer_kelvin_hours == round(higher[prepared.timeline.inside].sum(), 1)
        assert each.brought_ah == round(after.flow("solar_ah").sum() - before.flow("solar_ah").sum(), 2)
        assert each.lowest_pipes_c == round(after.many.trace[0, 1:, 3].min(), 2)
        assert each.below_setpoint_h == round(after.flow("below_s").sum() / 3600.0, 2)
        assert each.saved_kg_per_payload_kg == (round(saved / payload_kg, 4) if payload_kg else None)
        assert each.cost == {"outside screens": 50.0, "100 W more solar": 0.0}.get(each.name)
        assert each.saved_kg_per_cost == (round(saved / 50.0, 5) if each.name == "outside screens" else None)


def test_measures_of_a_tour_whose_battery_dies_are_told_with_power_and_all_the_sun() -> None:
    prepared = small()
    battery = prepared.van.power.battery.model_copy(update={"capacity_ah": 20.0, "start_share": 1.0})
    power = prepared.van.power.model_copy(update={"battery": battery})
    poor = prepared.with_van(prepared.van.model_copy(update={"power": power}))
    found, good = measures.answer(poor), measures.answer(prepared)
    assert found.as_if_powered
    assert found.gas_kg == pytest.approx(good.gas_kg, rel=0.005)
    by_name = {each.name: each for each in found.measures}
    for each in good.measures:
        assert by_name[each.name].saved_kg == pytest.approx(each.saved_kg, abs=0.02), each.name
    base = poor.with_gas_everywhere()
    more, _, _ = measures.MEASURES["100 W more solar"](base)  # type: ignore[misc]
    ah = [
        run.flow("load_ah").sum() - run.flow("solar_ah").sum() - run.flow("solar_spilled_ah").sum()
        for run in (Detail.of(powered(ready)) for ready in (base, more))
    ]
    assert by_name["100 W more solar"].saved_ah == round(ah[0] - ah[1], 2)


def asleep_from(prepared: Prepared, *starts: str) -> Prepared:
    people = tuple(prepared.tour.people[0].model_copy(update={"asleep": (Span(f"{start}-07:00"),)}) for start in starts)
    return replace(prepared, tour=prepared.tour.model_copy(update={"people": people}))


def test_bedtime_is_when_the_last_one_lies_down_in_the_evening() -> None:
    """Half past ten where nobody does; after midnight is later than before, and who sleeps by day is left out."""
    prepared = small()
    for starts, minute in (
        (("21:30", "23:00"), 23 * 60),
        (("18:00",), 18 * 60),
        (("17:59",), 1350),
        (("00:30", "20:00"), 30),
        (("00:30",), 30),
        (("02:59",), 179),
        (("03:00",), 1350),
        ((), 1350),
    ):
        assert bedtime_min(asleep_from(prepared, *starts)) == minute, starts


@pytest.mark.parametrize(
    ("people", "minute"),
    [
        ((("sun-fri 21:00-06:00", "sat 23:30-08:00"),), 21 * 60),
        ((("sun-tue 23:00-07:00", "wed-sat 01:00-08:00"),), 60),
        ((("sun-wed 23:00-07:00", "thu-sat 01:00-08:00"),), 23 * 60),
        ((("23:00-03:00", "05:00-07:00"),), 23 * 60),
        ((("18:30-19:15", "22:00-07:00"),), 22 * 60),
        ((("08:00-15:00",), ("21:45-06:00",)), 21 * 60 + 45),
        ((("08:00-15:00",),), 1350),
        ((("mon-fri 08:00-15:00", "sat,sun 23:45-08:00"), ("mon-fri 22:00-06:00",)), 22 * 60),
    ],
)
def test_bedtime_is_that_of_most_evenings_of_a_week(people: tuple[tuple[str, ...], ...], minute: int) -> None:
    """A sleep past midnight is its evening's: Thursday's 01:00 is that of Wednesday evening. A nap, and lying down
    again after a watch, are no bedtime; a shift worker's evenings are those of free days, others' are their own."""
    prepared = small()
    sleepers = tuple(
        prepared.tour.people[0].model_copy(update={"asleep": tuple(Span(span) for span in spans)}) for spans in people
    )
    tour = prepared.tour.model_copy(update={"people": sleepers})
    assert bedtime_min(replace(prepared, tour=tour)) == minute


def test_who_lies_down_after_the_timer_has_started_has_no_setback() -> None:
    """At 03:00, for warmth at 07:30 with a timer of 5 h: 02:30, and nothing is lowered the day before."""
    minute = np.arange(0, 24 * 60, 15)
    planned = np.full(len(minute), 20.0)
    late = laid(planned, minute, Setback(12.0, 300.0, 180, 450, 19.0))
    assert set(late) == {19.0, 20.0}
    usual = laid(planned, minute, Setback(12.0, 60.0, 180, 450, 19.0))
    assert minute[usual == 12.0].tolist() == list(range(180, 390, 15))


def test_where_nobody_is_there_a_limit_of_warmth_does_not_apply() -> None:
    """Nobody on board: no figure, no shortfall, and a sentence for each; pipes and fan count as ever."""
    prepared = small()
    alone = Prepared.of(
        prepared.van, prepared.tour.model_copy(update={"people": ()}), folder=prepared.folder,
        described=prepared.described,
    )  # fmt: skip
    found = best_schedule.answer(
        alone, best_schedule.Limits(pipes_c=-50.0), night_c=(OFF, 10.0), leads_min=(0.0,), refine=False
    )
    assert all(one.coldest_asleep_c is one.coldest_at_warm_time_c is None and one.keeps for one in found.tried)
    assert found.best is not None and found.best.gas_kg == min(one.gas_kg for one in found.tried)
    assert found.curve == (found.best,)
    assert found.not_held is None
    told = [sentence for sentence in found.sentences() if sentence != POWERED]
    assert told[:2] == [
        "Nobody sleeps on board on this tour: 14 °C asleep is no limit here.",
        "Nobody is in through the night until 07:30: 19 °C then is no limit here.",
    ]
    assert told[3].startswith(f"It keeps {least(found.best.lowest_pipes_c, 1)} °C at the pipes, and uses ")
    assert found.as_dict()["best"]["coldest_asleep_c"] is None
    cold = best_schedule.answer(
        alone, best_schedule.Limits(pipes_c=15.0), night_c=(OFF, 10.0), leads_min=(0.0,), refine=False
    )
    assert cold.not_held is None and set(cold.nearest.short) == {"pipes_c"}


def test_a_schedules_figures_and_shortfalls_are_those_of_its_run() -> None:
    """Each limit less what the run comes to, where that is short; half a kelvin is the thermostat's own."""
    prepared = small()
    limits = best_schedule.Limits(asleep_c=15.0, warm_c=20.0, warm_at="07:15", pipes_c=12.0, fan_ah=10.0)
    found = best_schedule.answer(prepared, limits, night_c=(OFF, 14.0), leads_min=(0.0, 45.0), refine=False)
    ready = prepared.with_gas_everywhere()
    assert (len(found.tried), found.limits, found.as_if_powered) == (5, limits, False)
    own = found.tried[-1]
    assert (own.planned, own.night_c, own.timer, own.lead_min) == (True, None, None, None)
    assert own.gas_kg == round(found.planned_kg, 3)
    planned = Detail.of(ready)
    burned = (planned.flow("gas_out_kg") + planned.flow("gas_out_butane_kg")).sum()
    assert found.planned_kg == pytest.approx(burned, rel=ALIKE)
    minute, down = minute_of_quarters(ready), bedtime_min(prepared)
    asleep = (prepared.timeline.asleep > 0.0) & prepared.timeline.inside
    edge_hour = prepared.timeline.edges.hour.to_numpy()
    short_of: set[str] = set()
    for one, (night_c, lead) in zip(found.tried[:-1], [(n, m) for n in (OFF, 14.0) for m in (0.0, 45.0)], strict=True):
        hours = hours_of(ready, [Setback(night_c, lead, down, 435, 20.0)], minute)[0].view(np.recarray)
        run = Detail.of(replace(ready, hours=hours))
        inside = run.node_c("living_air")
        sevens = np.flatnonzero(edge_hour[:-1] == 7)
        morning = (0.75 * inside[sevens] + 0.25 * inside[sevens + 1]).min()
        fan = run.flow("load_ah", 0).sum()
        assert (one.night_c, one.lead_min) == (None if math.isnan(night_c) else night_c, lead)
        assert one.timer == ("07:15" if lead == 0.0 else "06:30")
        assert one.gas_kg == round((run.flow("gas_out_kg") + run.flow("gas_out_butane_kg")).sum(), 3)
        assert one.fan_ah == round(fan, 2)
        assert one.coldest_asleep_c == round(inside[1:][asleep].min(), 2)
        assert one.coldest_at_warm_time_c == pytest.approx(morning, abs=0.006)
        assert one.lowest_pipes_c == round(run.node_c("pipes")[1:].min(), 2)
        charge = run.stock("charge_ah").min() / prepared.van.power.battery.capacity_ah
        assert one.lowest_charge_share == pytest.approx(charge, abs=6e-5)
        lacking = {"asleep_c": 14.5 - inside[1:][asleep].min(), "warm_c": 19.5 - morning,
                   "pipes_c": 12.0 - run.node_c("pipes")[1:].min(), "fan_ah": fan - 10.0}  # fmt: skip
        assert one.short == pytest.approx({name: by for name, by in lacking.items() if by > 0.0}, abs=6e-4)
        assert one.keeps == (not one.short)
        short_of |= set(one.short)
    assert short_of == set(lacking)
    assert found.best is None
    by_shortfall = min(
        found.tried, key=lambda one: sum(by / (10.0 if n == "fan_ah" else 1.0) for n, by in one.short.items())
    )
    assert found.nearest == by_shortfall


def test_the_finer_search_steps_half_kelvins_and_quarter_hours_about_the_best_of_the_grid() -> None:
    """From 5 °C to the wish, from no lead to five hours; about a night with the heater off 5 °C is tried too."""
    prepared = small()
    easy = best_schedule.Limits(asleep_c=-50.0, warm_c=17.0, pipes_c=-50.0)
    off = best_schedule.answer(prepared, easy, night_c=(OFF, 16.0), leads_min=(60.0, 120.0))
    assert off.best is not None and off.best.night_c is None
    grid = [(None, 60.0), (None, 120.0), (16.0, 60.0), (16.0, 120.0)]
    centre = min((one for one in off.tried[:4] if one.keeps), key=lambda one: one.gas_kg)
    leads = [centre.lead_min + step for step in (-30.0, -15.0, 0.0, 15.0, 30.0)]
    fine = [(night, lead) for night in (None, 5.0) for lead in leads]
    wanted = [*grid, *(pair for pair in fine if pair not in grid)]
    assert [(one.night_c, one.lead_min) for one in off.tried[:-1]] == wanted
    warm = best_schedule.Limits(asleep_c=16.5, warm_c=17.0, pipes_c=-50.0)
    near = best_schedule.answer(prepared, warm, night_c=(16.0,), leads_min=(15.0,))
    nights = {one.night_c for one in near.tried[:-1]}
    assert nights == {14.5, 15.0, 15.5, 16.0, 16.5, 17.0, 17.5}
    assert {one.lead_min for one in near.tried[:-1]} == {0.0, 15.0, 30.0, 45.0}
    assert len(near.tried) == 28 + 1  # and the tour's own settings
    plain = best_schedule.answer(prepared)
    assert {one.night_c for one in plain.tried} >= {None, 6.0, 8.0, 10.0, 12.0, 14.0, 16.0, 18.0}
    assert (plain.limits, plain.limits.warm_at) == (best_schedule.Limits(), "07:30")


def test_a_warm_time_that_is_none_is_refused() -> None:
    with pytest.raises(InputFault, match=r"^--warm-at .*; write it as 07:30\.$"):
        best_schedule.answer(small(), best_schedule.Limits(warm_at="7 o'clock"))
