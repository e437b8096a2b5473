"""The timeline lays a tour on real hours: clock changes, spans past midnight, legs, draws and schedules."""

from __future__ import annotations

import datetime as dt
import time
from typing import Any

import numpy as np
import pytest

from budget.errors import InputFault
from budget.tour.meals import HOB_ELECTRIC_KWH_PER_KG
from budget.tour.model import Tour
from budget.tour.timeline import Timeline
from budget.van.power import Load

EXACT = 1e-12  # sums of shares of whole minutes; only rounding of doubles remains


def stop(**values: Any) -> dict[str, Any]:
    return {"place": "Riga", "latitude_deg": 57.0, "longitude_deg": 24.0, "altitude_m": 5.0, **values}


def tour(**values: Any) -> Tour:
    start = values.pop("start", dt.datetime(2027, 1, 9, 12))
    whole = {
        "timezone": "Europe/Riga",
        "start": start,
        "end": start + dt.timedelta(hours=48),
        "stops": [stop(arrive=start)],
        "schedules": {"plain": {"steps": [{"at": "07:00", "air_c": 19.0}, {"at": "22:00", "air_c": 14.0}]}},
        "schedule": "plain",
    }
    return Tour.model_validate({**whole, **values})


def local_hours(timeline: Timeline) -> list[int]:
    return list(timeline.index.hour)


def test_a_day_in_spring_has_23_hours_and_skips_the_one_that_the_clocks_skip() -> None:
    """Riga goes from 03:00 to 04:00 on 28 March 2027: midnight to midnight are 23 real hours."""
    day = tour(start=dt.datetime(2027, 3, 28), end=dt.datetime(2027, 3, 29))
    timeline = Timeline.of(day)
    assert len(timeline.index) == 23
    assert local_hours(timeline) == [0, 1, 2, *range(4, 24)]
    assert len(timeline.edges) == 24 and timeline.edges[-1].hour == 0


def test_a_day_in_autumn_has_25_hours_and_keeps_each_habit_once() -> None:
    """The hour from 03:00 comes twice on 31 October 2027; a shower at 03:30 is still one shower."""
    day = tour(start=dt.datetime(2027, 10, 31), end=dt.datetime(2027, 11, 1), draws=[{"at": "03:30"}])
    timeline = Timeline.of(day)
    assert local_hours(timeline) == [0, 1, 2, 3, 3, *range(4, 24)]
    assert timeline.draw_s.tolist() == [3.5 * 3600.0]


def test_a_schedule_follows_the_local_clock_across_a_change_of_clocks() -> None:
    """From 22:00 until 07:00 the setpoint is 14 °C; over the spring night that is 8 real hours, 32 quarters."""
    start = dt.datetime(2027, 3, 27, 12)
    timeline = Timeline.of(tour(start=start, end=start + dt.timedelta(hours=23)))
    assert np.count_nonzero(timeline.setpoint_c == 14.0) == 32


def test_a_time_with_an_offset_means_the_same_instant_as_the_local_time() -> None:
    utc = dt.datetime(2027, 1, 9, 10, tzinfo=dt.UTC)
    assert Timeline.of(tour(start=utc, end=dt.datetime(2027, 1, 11, 12))).index[0].hour == 12


def test_nights_are_midnights_by_the_tours_own_clock() -> None:
    """From 22:00 UTC, midnight in Riga, one night to 12:00 UTC of the day after the next UTC day."""
    assert Timeline.of(tour()).nights == 2
    start, end = dt.datetime(2027, 1, 9, 22, tzinfo=dt.UTC), dt.datetime(2027, 1, 11, 12, tzinfo=dt.UTC)
    assert Timeline.of(tour(start=start, end=end)).nights == 1
    assert Timeline.of(tour(start=dt.datetime(2027, 3, 27, 23), end=dt.datetime(2027, 3, 28, 1))).nights == 1


def test_a_fault_of_a_time_with_an_offset_is_told_by_the_tours_own_clock() -> None:
    utc = dt.datetime(2027, 1, 9, 22, tzinfo=dt.UTC)
    for values, sentence in (
        ({"end": utc}, "end must be after the start (2027-01-10 00:00), got 2027-01-10 00:00; correct one."),
        (
            {"timezone": "Asia/Kolkata", "end": utc + dt.timedelta(hours=9)},
            "start must be on the hour, got 03:30:00; round it to the hour.",
        ),
        (
            {"away": [{"start": utc - dt.timedelta(hours=9), "end": utc}]},
            "away[0].end must lie within the tour (2027-01-10 00:00 to 2027-01-12 00:00), got 2027-01-10 00:00; "
            "correct the date.",
        ),
    ):
        with pytest.raises(InputFault) as refusal:
            Timeline.of(tour(start=utc, **values))
        assert sentence in refusal.value.faults


def test_an_absence_reaches_into_the_tour_or_is_refused() -> None:
    """Eight hours before the start to two after it count as two; one that only touches an end shares no hour."""
    start, end = dt.datetime(2027, 1, 9, 12), dt.datetime(2027, 1, 11, 12)
    two = dt.timedelta(hours=2)
    away = Timeline.of(
        tour(away=[{"start": start - 4 * two, "end": start + two}, {"start": end - two, "end": end + two}])
    )
    assert np.flatnonzero(away.away).tolist() == [0, 1, 46, 47]
    year = dt.timedelta(days=365)
    for given, field, got in (
        ({"start": start - year, "end": start - year + two}, "end", "2026-01-09 14:00"),
        ({"start": start - two, "end": start}, "end", "2027-01-09 12:00"),
        ({"start": end, "end": end + two}, "start", "2027-01-11 12:00"),
        ({"start": start + year, "end": end + year}, "start", "2028-01-09 12:00"),
    ):
        with pytest.raises(InputFault) as refusal:
            Timeline.of(tour(away=[given]))
        assert str(refusal.value) == (
            f"away[0].{field} must lie within the tour (2027-01-09 12:00 to 2027-01-11 12:00), got {got}; correct the "
            "date."
        )


def test_days_of_snow_are_days_of_the_tour() -> None:
    """The tour ends at noon of 11 January; one that ends at midnight has no hour of the day that begins then."""
    days = [dt.date(2027, 1, 9), dt.date(2027, 1, 11)]
    assert np.count_nonzero(Timeline.of(tour(habits={"snow_days": days})).solar_factor == 0.0) == 12 + 12
    for day, end in ((dt.date(2026, 1, 10), 12), (dt.date(2027, 1, 12), 12), (dt.date(2027, 1, 11), 0)):
        with pytest.raises(InputFault) as refusal:
            Timeline.of(tour(end=dt.datetime(2027, 1, 11, end), habits={"snow_days": [dt.date(2027, 1, 9), day]}))
        assert str(refusal.value) == (
            f"habits.snow_days[1] must lie within the tour (2027-01-09 12:00 to 2027-01-11 {end:02d}:00), got {day}; "
            "correct the date."
        )


def test_a_tour_in_a_zone_half_an_hour_off_runs_on_its_own_whole_hours() -> None:
    timeline = Timeline.of(tour(timezone="Asia/Kolkata"))
    assert timeline.index[0].isoformat() == "2027-01-09T12:00:00+05:30"
    assert np.count_nonzero(timeline.setpoint_c == 14.0) == 2 * 9 * 4


@pytest.mark.parametrize(("month", "offsets"), [(4, ("+11:00", "+10:30")), (10, ("+10:30", "+11:00"))])
def test_where_clocks_move_by_half_an_hour_a_time_on_the_hour_is_the_whole_hour_before(
    month: int, offsets: tuple[str, str]
) -> None:
    """Lord Howe, on 4 April and 3 October 2027: two days are 48 and a half real hours, or 47 and a half."""
    start = dt.datetime(2027, month, 3 if month == 4 else 2, 12)
    end = start + dt.timedelta(days=2)
    second = stop(place="Rest", arrive=end.replace(hour=9), drive_h=1.0)
    timeline = Timeline.of(
        tour(timezone="Australia/Lord_Howe", start=start, end=end, stops=[stop(arrive=start), second])
    )
    assert timeline.edges[0].isoformat() == f"{start.isoformat()}{offsets[0]}"
    assert timeline.edges[-1].isoformat() == f"{end.replace(hour=11, minute=30).isoformat()}{offsets[1]}"
    there = timeline.index[np.flatnonzero(timeline.at_stop & (timeline.stop == 1))[0]]
    assert (there.hour, there.minute) == (8, 30)
    with pytest.raises(InputFault, match=r"arrive must be on the hour, got 08:30; round it to the hour"):
        odd = second | {"arrive": end.replace(hour=8, minute=30)}
        Timeline.of(tour(timezone="Australia/Lord_Howe", start=start, end=end, stops=[stop(arrive=start), odd]))


def test_a_setpoint_changes_at_the_quarter_hour_nearest_to_its_step() -> None:
    """07:07 lies nearer to 07:00 than to 07:15, 07:08 nearer to 07:15."""
    for at, quarter in (("07:00", 0), ("07:07", 0), ("07:08", 1), ("07:15", 1), ("07:40", 3)):
        steps = [{"at": at, "air_c": 20.0}, {"at": "22:00", "air_c": 10.0}]
        timeline = Timeline.of(tour(start=dt.datetime(2027, 1, 9), schedules={"plain": {"steps": steps}}))
        assert int(np.argmax(timeline.setpoint_c == 20.0)) == 7 * 4 + quarter, at


def test_off_is_a_setting_and_what_no_step_names_is_off() -> None:
    steps = [{"at": "07:00", "air_c": 19.0}, {"at": "12:00", "air_c": "off"}]
    timeline = Timeline.of(tour(start=dt.datetime(2027, 1, 9), schedules={"plain": {"steps": steps}}))
    day = timeline.setpoint_c[:96]
    assert np.isnan(day[: 7 * 4]).all() and (day[7 * 4 : 12 * 4] == 19.0).all() and np.isnan(day[12 * 4 :]).all()
    assert np.isnan(timeline.water_set_c).all()


def test_a_step_left_out_for_one_side_leaves_that_side_unchanged() -> None:
    steps = [{"at": "07:00", "air_c": 19.0, "water_c": 60.0}, {"at": "22:00", "air_c": 14.0}]
    timeline = Timeline.of(tour(schedules={"plain": {"steps": steps}}))
    assert (timeline.water_set_c == 60.0).all()


def test_two_weeks_of_a_weekday_schedule_repeat_themselves_and_weekends_differ() -> None:
    """Workdays step up at 06:00, weekends at 09:00; Friday night's setting holds through to Saturday's step."""
    steps = [
        {"at": "06:00", "days": "mon-fri", "air_c": 20.0},
        {"at": "09:00", "days": "sat,sun", "air_c": 21.0},
        {"at": "22:00", "air_c": 15.0},
    ]
    start = dt.datetime(2027, 1, 11)
    fortnight = tour(start=start, end=start + dt.timedelta(days=14), schedules={"plain": {"steps": steps}})
    setpoint = Timeline.of(fortnight).setpoint_c.reshape(14, 24, 4)[:, :, 0]
    assert (setpoint[:7] == setpoint[7:]).all()
    workday = np.array([15.0] * 6 + [20.0] * 16 + [15.0] * 2)
    weekend = np.array([15.0] * 9 + [21.0] * 13 + [15.0] * 2)
    assert (setpoint[:5] == workday).all() and (setpoint[5:7] == weekend).all()


def test_a_step_on_one_weekday_holds_through_the_whole_week() -> None:
    start = dt.datetime(2027, 1, 11)
    steps = [{"at": "12:00", "days": "wed", "air_c": 18.0}]
    timeline = Timeline.of(tour(start=start, schedules={"plain": {"steps": steps}}))
    assert (timeline.setpoint_c == 18.0).all()


def test_sleep_past_midnight_belongs_to_the_night_it_begins_in() -> None:
    """One person asleep 22:30 to 07:00, on the nights that begin Monday to Friday, out 10:00 to 10:15."""
    person = {"asleep": ["mon-fri 22:30-07:00"], "out": ["10:00-10:15"], "awake_w": 100.0, "asleep_w": 60.0}
    start = dt.datetime(2027, 1, 15)  # a Friday
    timeline = Timeline.of(tour(start=start, people=[person], stops=[stop(arrive=start)]))
    assert timeline.asleep[:7].tolist() == [1.0] * 7, "Thursday's night runs into Friday morning"
    assert timeline.asleep[22] == pytest.approx(0.5, abs=EXACT)
    assert timeline.asleep[24:31].tolist() == [1.0] * 7, "Friday's night runs into Saturday morning"
    assert timeline.asleep[31:].sum() == 0.0, "Saturday's night is not named"
    assert timeline.awake[10] == pytest.approx(0.75, abs=EXACT)
    assert timeline.people_w[22] == pytest.approx(0.5 * 100.0 + 0.5 * 60.0, abs=1e-9)


def test_overlapping_spans_count_once() -> None:
    timeline = Timeline.of(tour(habits={"screens": ["17:00-09:00", "16:30-18:00"]}))
    assert timeline.screens[4] == pytest.approx(0.5, abs=EXACT)
    assert timeline.screens[5] == 1.0 and timeline.screens.max() == 1.0


def two_stops(**second: Any) -> Tour:
    start = dt.datetime(2027, 1, 9, 12)
    far = stop(place="Kuressaare", latitude_deg=58.0, longitude_deg=22.0, altitude_m=105.0, hookup_a=10.0)
    far |= {"arrive": start + dt.timedelta(hours=24), "drive_h": 4.0, **second}
    return tour(start=start, stops=[stop(arrive=start, hookup_a=6.0), far])


def test_stops_chain_with_the_drive_just_in_time_and_the_hookup_gone_meanwhile() -> None:
    timeline = Timeline.of(two_stops())
    assert np.flatnonzero(timeline.moving == 1).tolist() == [20, 21, 22, 23]
    assert timeline.stop[19] == 0 and (timeline.stop[20:] == 1).all()
    assert timeline.hookup_w[19] == 6.0 * 230.0 and timeline.hookup_w[20] == 0.0 and timeline.hookup_w[24] == 2300.0
    assert timeline.latitude_deg[20:24] == pytest.approx([57.125, 57.375, 57.625, 57.875], abs=1e-9)
    assert timeline.altitude_m[22] == pytest.approx(67.5, abs=1e-9)
    assert timeline.speed_m_per_s[20] == 20.0 and timeline.speed_m_per_s[24] == 0.0
    assert np.flatnonzero(timeline.refill).tolist() == [24], "the fresh tank is filled where the van arrives"


def test_a_short_crossing_takes_a_whole_hour_between_two_halves_of_the_drive() -> None:
    """27 minutes at sea and 4 h at the wheel: drive 2, sea 1, drive 2."""
    timeline = Timeline.of(two_stops(ferry_h=0.45))
    assert timeline.moving[18:25].tolist() == [0, 1, 1, 2, 1, 1, 0]
    assert not timeline.gas_open[21] and not timeline.heater_allowed[21]
    assert timeline.awake[21] == 0.0 and timeline.solar_factor[21] == 0.0
    assert np.isnan(timeline.setpoint_c[21 * 4 : 22 * 4]).all()
    assert timeline.load_share(Load(name="fridge", power_w=40.0))[20:23].tolist() == [1.0, 0.0, 1.0]


def test_an_early_departure_leaves_a_rest_on_the_way_without_hookup_or_exchange() -> None:
    shop = {"bottle": "11 kg", "open": ["00:00-24:00"]}
    second = {"arrive": dt.datetime(2027, 1, 10, 12), "place": "Kuressaare", "drive_h": 2.0, "hookup_a": 6.0}
    first = {"arrive": dt.datetime(2027, 1, 9, 12), "depart": dt.datetime(2027, 1, 10, 7), "exchange": [shop]}
    timeline = Timeline.of(tour(stops=[stop(**first), stop(**second)]))
    assert timeline.moving[18:25].tolist() == [0, 1, 0, 0, 0, 1, 0]
    assert timeline.at_stop[18:25].tolist() == [True] + [False] * 5 + [True]
    assert timeline.hookup_w[20] == 0.0 and timeline.hookup_w[24] > 0.0
    open_ = timeline.exchange_open(["11 kg", "other"])
    assert open_[:19, 0].all() and not open_[19:, 0].any() and not open_[:, 1].any()


def test_three_quarters_of_an_hour_at_the_wheel_charge_for_three_quarters_of_an_hour() -> None:
    """The leg takes a whole hour of the clock; the alternator's share keeps the ampere-hours right."""
    timeline = Timeline.of(two_stops(drive_h=0.75))
    assert timeline.alternator.sum() == pytest.approx(0.75, abs=EXACT)


def test_the_heater_is_off_on_a_drive_unless_the_tour_says_otherwise() -> None:
    on_drive = slice(20 * 4, 24 * 4)
    plain = two_stops()
    assert np.isnan(Timeline.of(plain).setpoint_c[on_drive]).all()
    warm = plain.model_copy(update={"habits": plain.habits.model_copy(update={"heater_while_driving": True})})
    assert (Timeline.of(warm).setpoint_c[on_drive] == 19.0).all() and Timeline.of(warm).gas_open[20]


def test_a_way_across_the_date_line_goes_the_short_way() -> None:
    start = dt.datetime(2027, 1, 9, 12)
    there = stop(longitude_deg=-179.0, arrive=start + dt.timedelta(hours=24), drive_h=2.0)
    timeline = Timeline.of(tour(stops=[stop(longitude_deg=179.0, arrive=start), there]))
    assert timeline.longitude_deg[22:24] == pytest.approx([179.5, -179.5], abs=1e-6)
    assert timeline.longitude_deg[24:] == pytest.approx(-179.0, abs=1e-6)


def test_nobody_draws_water_while_driving_or_away() -> None:
    """Showers at 11:00 and 19:00; the van drives at 11:00 next day, all are away 18:00 to 20:00 on day two."""
    plain = two_stops()
    away = {"start": dt.datetime(2027, 1, 10, 18), "end": dt.datetime(2027, 1, 10, 20)}
    data = plain.model_dump() | {"draws": [{"at": "11:00"}, {"at": "19:00", "use": "dishes"}], "away": [away]}
    timeline = Timeline.of(Tour.model_validate(data))
    assert (timeline.draw_s / 3600.0).tolist() == [7.0, 47.0]
    assert timeline.draw_use.tolist() == [1, 0] and timeline.draw_index.tolist() == [1, 0]
    assert not timeline.inside[30:32].any() and timeline.inside[32]


def test_an_absence_of_part_of_an_hour_takes_part_of_the_heat_away() -> None:
    away = {"start": dt.datetime(2027, 1, 9, 14, 15), "end": dt.datetime(2027, 1, 9, 15)}
    timeline = Timeline.of(tour(away=[away]))
    assert timeline.people_w[2] == pytest.approx(0.25 * 180.0, abs=1e-9)


def test_an_absence_may_bring_its_own_schedule() -> None:
    away = {"start": dt.datetime(2027, 1, 9, 14), "end": dt.datetime(2027, 1, 9, 16), "schedule": "low"}
    schedules = {
        "plain": {"steps": [{"at": "07:00", "air_c": 19.0}]},
        "low": {"steps": [{"at": "00:00", "air_c": 7.0}]},
    }
    setpoint = Timeline.of(tour(away=[away], schedules=schedules)).setpoint_c
    assert (setpoint[8:16] == 7.0).all() and setpoint[7] == 19.0 and setpoint[16] == 19.0


def test_cold_water_and_door_openings_of_a_whole_day_add_up_to_the_days_habit() -> None:
    start = dt.datetime(2027, 1, 9)
    timeline = Timeline.of(tour(start=start))
    assert timeline.cold_water_l[:24].sum() == pytest.approx(6.0, abs=1e-9)
    assert timeline.door_air_changes[:24].sum() == pytest.approx(15.0 * 0.5, abs=1e-9)
    assert timeline.cold_water_l[timeline.awake == 0.0].sum() == 0.0
    assert timeline.cold_to_waste_l.sum() == pytest.approx(6.0, abs=1e-9), "half of two days' 6 L"


def test_a_meal_across_the_hour_is_split_by_its_minutes_and_moves_to_mains_on_hookup() -> None:
    """40 minutes from 18:40 at 0.3 kg/h: 20 min = 0.1 kg in each of two hours, steam 120 g likewise."""
    meal = {"at": "18:40", "minutes_min": 40.0, "gas_kg_per_h": 0.3, "steam_g": 120.0, "vented_share": 0.25}
    on_gas = Timeline.of(tour(cooking=[meal]))
    assert on_gas.cooking_gas_kg[5:9] == pytest.approx([0.0, 0.1, 0.1, 0.0], abs=EXACT)
    assert on_gas.cooking_steam_g[6:8] == pytest.approx([60.0, 60.0], abs=1e-9)
    assert on_gas.cooking_vented_share[6] == pytest.approx(0.25, abs=EXACT)
    start = dt.datetime(2027, 1, 9, 12)
    hooked = tour(cooking=[meal | {"electric_on_hookup": True}], stops=[stop(arrive=start, hookup_a=10.0)])
    on_mains = Timeline.of(hooked)
    assert on_mains.cooking_gas_kg.sum() == 0.0
    assert on_mains.cooking_electric_w[6] == pytest.approx(100.0 * HOB_ELECTRIC_KWH_PER_KG, rel=1e-12)


def test_nothing_is_cooked_while_everybody_is_out() -> None:
    people = [{"out": ["17:00-20:00"]}]
    assert Timeline.of(tour(people=people, cooking=[{"at": "18:00"}])).cooking_gas_kg.sum() == 0.0


def test_snow_takes_the_sun_off_the_panels_on_its_local_days() -> None:
    timeline = Timeline.of(tour(habits={"snow_days": [dt.date(2027, 1, 10)]}))
    assert (timeline.solar_factor[:12] == 1.0).all() and (timeline.solar_factor[12:36] == 0.0).all()
    assert (timeline.solar_factor[36:] == 1.0).all()


def test_a_load_for_people_inside_runs_only_while_somebody_is_inside_and_parked() -> None:
    people = [{"out": ["18:00-18:30"]}, {"out": ["18:00-19:00"]}]
    timeline = Timeline.of(tour(people=people))
    lights = Load(name="lights", power_w=10.0, on=["17:30-22:00"], only_when_inside=True)
    assert timeline.load_share(lights)[5:8] == pytest.approx([0.5, 0.5, 1.0], abs=EXACT)


def test_openings_that_no_habit_names_are_always_closed() -> None:
    timeline = Timeline.of(tour(habits={"closed": {"curtain": ["20:00-08:00"]}}), ["curtain", "door"], ["living"])
    assert timeline.closed[:, 1].min() == 1.0
    assert timeline.closed[0, 0] == 0.0 and timeline.closed[8, 0] == 1.0


def test_a_night_from_sunday_to_monday_runs_across_the_end_of_the_week() -> None:
    start = dt.datetime(2027, 1, 10, 12)  # a Sunday
    timeline = Timeline.of(tour(start=start, people=[{"asleep": ["sun 22:00-06:00"]}], stops=[stop(arrive=start)]))
    assert np.flatnonzero(timeline.asleep).tolist() == list(range(10, 18))


def test_on_a_drive_all_are_awake_in_the_cab_whatever_their_habits_say() -> None:
    """The drive of 08:00 to 12:00 falls into the time that one is usually out and the other asleep."""
    people = [{"out": ["08:00-12:00"]}, {"asleep": ["06:00-12:00"]}]
    data = two_stops().model_dump() | {"people": people}
    timeline = Timeline.of(Tour.model_validate(data))
    assert timeline.awake[20:24].tolist() == [2.0] * 4 and timeline.asleep[20:24].sum() == 0.0
    assert timeline.people_w[21] == 180.0 and timeline.people_vapour_g_per_h[21] == 90.0
    assert not timeline.inside[20:24].any(), "inside means at home: parked"


@pytest.mark.parametrize(("duration_h", "hours"), [(0.0, 0), (0.2, 1), (1.4, 1), (1.5, 2), (2.0, 2)])
def test_a_drive_takes_the_nearest_whole_hours_and_never_none(duration_h: float, hours: int) -> None:
    timeline = Timeline.of(two_stops(drive_h=duration_h))
    assert np.count_nonzero(timeline.moving == 1) == hours


def test_the_habits_of_a_parked_van_rest_on_the_way() -> None:
    """All day long screens, rooflight and fan; on the road (20 to 23 h) none of them, nor water, nor the door."""
    all_day = ["00:00-24:00"]
    habits = {"screens": all_day, "rooflight_open": all_day, "extract_fan": all_day, "cold_water_kept_share": 0.3}
    timeline = Timeline.of(Tour.model_validate(two_stops().model_dump() | {"habits": habits}))
    road, home = slice(20, 24), slice(24, 28)
    assert timeline.screens[road].sum() == 0.0 and (timeline.screens[home] == 1.0).all()
    assert timeline.rooflight_cm2[road].sum() == 0.0 and (timeline.rooflight_cm2[home] == 60.0).all()
    assert timeline.extract_m3_per_h[road].sum() == 0.0 and (timeline.extract_m3_per_h[home] == 40.0).all()
    assert timeline.extract_fan_w[road].sum() == 0.0 and (timeline.extract_fan_w[home] == 6.0).all()
    assert timeline.cold_water_l[road].sum() == 0.0 and timeline.door_air_changes[road].sum() == 0.0
    assert timeline.cold_to_waste_l.sum() == pytest.approx(0.7 * timeline.cold_water_l.sum(), rel=1e-12)


def test_wind_is_the_open_fields_on_the_road_less_its_shelter_at_a_stop_and_none_on_a_car_deck() -> None:
    timeline = Timeline.of(two_stops(ferry_h=1.0, wind_shelter_share=0.25))
    assert timeline.wind_factor[[18, 19, 20, 21, 24]] == pytest.approx([0.6, 1.0, 1.0, 0.0, 0.75], abs=EXACT)


def test_bottles_are_to_be_had_only_in_opening_hours_and_loads_for_people_rest_while_they_are_away() -> None:
    first = dt.datetime(2027, 1, 9, 12)  # a Saturday
    shop = {"bottle": "11 kg", "open": ["mon-sat 09:00-14:30"]}
    away = {"start": dt.datetime(2027, 1, 9, 15), "end": dt.datetime(2027, 1, 9, 16)}
    timeline = Timeline.of(tour(stops=[stop(arrive=first, exchange=[shop])], away=[away]))
    assert np.flatnonzero(timeline.exchange_open(["11 kg"])[:, 0]).tolist() == [0, 1, 2, 45, 46, 47]
    desk = Load(name="desk", power_w=60.0, only_when_inside=True)
    assert timeline.load_share(desk)[2:5].tolist() == [1.0, 0.0, 1.0]


def test_stops_must_not_overlap_and_absences_must_last() -> None:
    late = {"arrive": dt.datetime(2027, 1, 9, 12), "depart": dt.datetime(2027, 1, 10, 13)}
    with pytest.raises(InputFault) as refusal:
        Timeline.of(tour(stops=[stop(**late), stop(place="Mazirbe", arrive=dt.datetime(2027, 1, 10, 12), drive_h=0.0)]))
    assert str(refusal.value) == (
        "stops[0].depart must be before the arrival at Mazirbe (2027-01-10 12:00), got 2027-01-10 13:00; "
        "stops must not overlap."
    )
    moment = dt.datetime(2027, 1, 10, 12)
    with pytest.raises(InputFault) as refusal:
        Timeline.of(tour(away=[{"start": moment, "end": moment}]))
    assert str(refusal.value) == (
        "away[0].end must be after its start (2027-01-10 12:00), got 2027-01-10 12:00; correct one."
    )


def test_wet_kit_hangs_from_the_hour_in_which_it_is_hung_up() -> None:
    kit = {"at": dt.datetime(2027, 1, 9, 16, 40), "water_kg": 1.5, "zone": "living"}
    assert Timeline.of(tour(drying=[kit]), (), ["living"]).drying == ((4, "living", 1.5, 2.0),)


def test_a_tour_of_24_days_is_laid_out_within_60_milliseconds() -> None:
    """The fastest of three, so that a busy machine does not decide; ordinary is about 4 ms."""
    start = dt.datetime(2027, 1, 9, 12)
    stops = [stop(arrive=start + dt.timedelta(days=3 * number)) for number in range(8)]
    long = tour(start=start, end=start + dt.timedelta(days=24), stops=stops, draws=[{"at": "19:00"}] * 4)
    times = []
    for _ in range(3):
        begun = time.perf_counter()
        Timeline.of(long)
        times.append(time.perf_counter() - begun)
    assert min(times) < 0.060


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        (
            {"start": dt.datetime(2027, 1, 9, 12, 30), "end": dt.datetime(2027, 1, 11, 12)},
            "start must be on the hour, got 12:30:00; round it to the hour.",
        ),
        (
            {"start": dt.datetime(2027, 3, 28, 3), "end": dt.datetime(2027, 3, 29)},
            "start must be a time that exists, got 2027-03-28 03:00, which the clocks skip there.",
        ),
        (
            {"timezone": "Europe/Rigga"},
            'timezone must be an IANA time zone such as Europe/Riga, got "Europe/Rigga"; did you mean Europe/Riga?',
        ),
        (
            {"end": dt.datetime(2027, 1, 8)},
            "end must be after the start (2027-01-09 12:00), got 2027-01-08 00:00; correct one.",
        ),
        (
            {"end": dt.datetime(2029, 1, 9, 12)},
            "end must be within 400 days of the start, got 731 days; split the tour.",
        ),
        (
            {"stops": [stop(arrive=dt.datetime(2027, 1, 9, 12), depart=dt.datetime(2027, 1, 10, 12))]},
            "stops[0].depart must be the tour's end (2027-01-11 12:00) at the last stop, got 2027-01-10 12:00; "
            "leave it out.",
        ),
    ],
)
def test_dates_that_do_not_fit_are_refused_in_one_sentence(values: dict[str, Any], sentence: str) -> None:
    with pytest.raises(InputFault) as refusal:
        Timeline.of(tour(**values))
    assert str(refusal.value) == sentence


def test_a_leg_longer_than_its_gap_is_refused() -> None:
    with pytest.raises(InputFault) as refusal:
        Timeline.of(two_stops(drive_h=30.0))
    assert str(refusal.value) == (
        "stops[1].drive_h and ferry_h must fit into the 23 h between Riga and Kuressaare, got 30 h and 0 h, "
        "30 h in whole hours; arrive later."
    )


def test_names_that_the_van_lacks_are_refused_together() -> None:
    wrong = tour(
        habits={"closed": {"curtin": ["20:00-08:00"]}}, drying=[{"at": dt.datetime(2027, 1, 9, 16), "water_kg": 1.0}]
    )
    with pytest.raises(InputFault) as refusal:
        Timeline.of(wrong, ["curtain"], ["living"])
    assert refusal.value.faults == (
        "habits.closed.curtin must name an opening of the van; did you mean curtain?",
        'drying[0].zone must be a zone of the van, got "wet_room"; known here are living.',
    )
