"""What the figures say: each answer follows from the numbers it was given."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from sample_reports import demo

from budget import moments, wording
from budget.answers.battery import Stand
from budget.answers.side_by_side import NightOf
from budget.report import words
from budget.report.figures.battery import FAN, battery
from budget.report.figures.before_after import forecasts, learned_bands
from budget.report.figures.bottle_pressure import bottle_pressure
from budget.report.figures.charge_lasts import charge_lasts
from budget.report.figures.confidence import confidence
from budget.report.figures.damp import damp
from budget.report.figures.frost import frost
from budget.report.figures.gas_bands import gas_bands
from budget.report.figures.gas_left import gas_left
from budget.report.figures.heat_loss import heat_loss
from budget.report.figures.outage import outage
from budget.report.figures.schedule_panels import schedule_panels
from budget.report.figures.screens import screens
from budget.report.figures.sensitivity import sensitivity
from budget.report.figures.slider_grid import slider_grid
from budget.report.figures.temperatures import temperatures
from budget.report.figures.water import water
from budget.report.provenance import on_the_map
from budget.report.reading import CONDENSING, gains_kwh, losses_kwh
from budget.report.scene import Scene
from budget.report.section import Section, Sliders, Table
from budget.results.nights import noon_to_noon
from budget.results.supplies import cut_out_shares, reconnect_shares

EDGES = pd.date_range("2027-01-20 12:00", periods=49, freq="h", tz="Europe/Riga")  # two nights
SCENE = Scene(EDGES, ("at the cape",) * 48, (False,) * 24 + (True,) * 24)
FALLING = np.linspace(10.0, 2.0, 49)


def accepted(section: Section) -> str:
    """The answer of a section whose figure plotly accepts in both modes."""
    assert section.figure is not None
    assert section.figure.plotly("light").data and section.figure.plotly("dark").data
    return section.answer


def test_gas_that_falls_from_10_to_2_kg_lasts_with_2_kg_left() -> None:
    section = gas_left(SCENE, [("steel", 11.0, FALLING)])
    assert accepted(section) == "To the end of the tour without a swap; 2 kg left at the end."


def test_gas_that_falls_below_the_reserve_says_from_when() -> None:
    """10 − 8 k/48 < 4 first at k = 37, so within the hour before: 12 h after the second noon, 00:00 on the 22nd."""
    answer = accepted(gas_left(SCENE, [("steel", 11.0, FALLING)], reserve_kg=4.0))
    assert answer.endswith("though the reserve is touched from Fri 22 January 00:00.")


def test_the_reserve_is_rounded_up_in_the_legend_as_it_is_wherever_it_is_told() -> None:
    chart = gas_left(SCENE, [("steel", 11.0, FALLING)], reserve_kg=7.08).figure
    assert chart is not None
    assert [trace["name"] for trace in chart.traces if "reserve" in trace.get("name", "")] == ["reserve, 7.5 kg"]


def test_swaps_that_the_tour_could_do_without_are_told_apart() -> None:
    swaps = [(EDGES[k], "the cape", "steel") for k in (3, 5)]
    for count, needless, said in ((2, 1, "with 2 swaps, 1 of them needed;"), (1, 1, "with one swap, which is not"),
                                  (2, 0, "with 2 swaps;")):  # fmt: skip
        answer = accepted(gas_left(SCENE, [("steel", 11.0, FALLING)], swaps[:count], needless=needless))
        assert answer.startswith(f"To the end of the tour {said}")


def test_gas_that_is_left_when_the_battery_died_is_not_said_to_run_short() -> None:
    """Also where a bottle was not changed for some hours: what stopped the heater is the charge."""
    kept = [11.0 - 0.05 * hour for hour in range(len(FALLING))]
    for short_of in (("battery",), ("battery", "gas")):
        told = accepted(gas_left(SCENE, [("steel", 11.0, kept)], unburned_kg=2.2, short_of=short_of))
        assert told.startswith("The heater stands still for want of charge, so ")
        assert told.endswith("with power and gas to the end the tour would have used 2.5 kg more.")
    assert "the gas runs short" in accepted(
        gas_left(SCENE, [("steel", 11.0, kept)], unburned_kg=2.2, short_of=("gas",))
    )
    both = gas_left(SCENE, [("steel", 11.0, kept)], unburned_kg=2.2, short_of=("battery", "gas"), out_from=EDGES[9])
    assert accepted(both).startswith("Not to the end: in the tour's own weather, as it stands, the gas runs short from")


def test_bottles_of_one_size_have_their_number_on_a_second_axis_and_others_have_not() -> None:
    same = gas_left(SCENE, [("a", 11.0, FALLING), ("b", 11.0, FALLING)]).figure
    mixed = gas_left(SCENE, [("a", 11.0, FALLING), ("b", 5.0, FALLING / 3.0)]).figure
    assert same is not None and mixed is not None
    low, high = same.layout["yaxis"]["range"]
    assert same.layout["yaxis2"]["range"] == [low / 11.0, high / 11.0]
    assert "yaxis2" not in mixed.layout


def test_gas_left_also_reads_in_nights_and_on_a_phone_in_bottles_alone() -> None:
    """8 kg in two nights: 4 kg a night."""
    chart = gas_left(SCENE, [("a", 11.0, FALLING)], kg_per_night=4.0).figure
    assert chart is not None
    low, high = chart.layout["yaxis"]["range"]
    assert chart.layout["yaxis3"]["range"] == [low / 4.0, high / 4.0]
    assert chart.narrow["yaxis3"]["visible"] is False
    assert "yaxis3" not in gas_left(SCENE, [("a", 11.0, FALLING)]).figure.layout  # type: ignore[union-attr]


def test_every_hour_reads_as_a_sentence_with_its_time_and_place() -> None:
    chart = gas_left(SCENE, [("steel", 11.0, FALLING)]).figure
    assert chart is not None and chart.spoken is not None
    told = chart.traces[chart.spoken]["text"]
    assert len(told) == 48
    assert told[0].replace("<br>", " ") == "Wed 20 Jan 12:00, at the cape: 10.0 kg of gas left, 91 % of the bottle"


def test_the_coldest_hour_is_named_with_the_outdoors() -> None:
    living = np.full(49, 19.0)
    living[20] = 9.6
    section = temperatures(SCENE, {"living": living}, "living", [19.0] * 48, [-8.0] * 48, [900.0] * 48, [0.0] * 48, 0.0)
    assert accepted(section) == (
        "As warm as asked while you are in; coldest 9 °C in the living area, Thu 21 January 07:00, with −8 °C outdoors."
    )


def test_the_fans_share_of_all_use_is_stated_by_day() -> None:
    """1 Ah an hour of fan and 3 Ah of light: 24 Ah a day, a quarter."""
    loads = {FAN: [1.0] * 48, "light": [3.0] * 48}
    answer = accepted(battery(SCENE, np.linspace(1.0, 0.5, 49), 0.1, {"solar": [0.5] * 48}, loads))
    assert answer == "Yes: lowest 50 %, Fri 22 January 11:00; the fan takes 24 Ah a day, 25 % of all use."


def test_a_cut_out_is_answered_no() -> None:
    answer = accepted(battery(SCENE, np.linspace(0.5, 0.1, 49), 0.1, {}, {FAN: [1.0] * 48}, 3.0, EDGES[45]))
    assert answer.startswith("No: the battery cuts out for 3 h, first on Fri 22 January 09:00, and the heater stops;")


def test_the_elements_of_a_group_are_added_and_ranked() -> None:
    losses = [("living", "left", "walls", 30.0), ("cab", "left", "walls", 30.0), ("cab", "pane", "glass", 40.0)]
    answer = accepted(heat_loss(losses, [("heater, gas", 80.0), ("people", 20.0)]))
    assert answer == (
        "Out through walls (60 %) and glass (40 %), of 100 kWh in all; "
        "sun, people, cooking and appliances bring 20 % of what comes in."
    )


def test_heat_out_and_heat_in_are_two_blocks_of_few_bars_each_under_its_sum() -> None:
    """Seven groups of 7 to 1 kWh, two gains: four bars and the rest, 3 + 2 + 1 = 6 of 28 kWh, 21 %, in its zones."""
    losses = [("cab" if k < 3 else "living", f"part {k}", f"group {k}", float(k)) for k in range(7, 0, -1)]
    chart = heat_loss(losses, [("heater, gas", 30.0), ("people", 10.0)]).figure
    assert chart is not None
    assert chart.layout["yaxis"]["categoryarray"] == [
        "OUT", "group 7", "group 6", "group 5", "group 4", "the rest out", "IN", "heater, gas", "people",
    ]  # fmt: skip
    read = chart.traces[-1]
    assert read["text"] == [
        " 28 kWh in all",
        " 25 %",
        " 21 %",
        " 18 %",
        " 14 %",
        " 21 %",
        " 40 kWh in all",
        " 75 %",
        " 25 %",
    ]
    rest = {trace["name"]: trace["x"][4] for trace in chart.traces if trace.get("name") in ("living area", "cab")}
    assert rest == {"living area": 3.0, "cab": 3.0}
    many = [(f"source {k}", 10.0 - k) for k in range(6)]
    told = heat_loss(losses, many).figure
    assert told is not None
    assert told.traces[-1]["hovertext"][-1].replace("<br>", " ") == (
        "11 kWh came in otherwise, 24 % of all that came in: source 4 and source 5"
    )


def test_the_heat_bars_of_the_demo_hold_all_heat_that_came_in() -> None:
    """Heat in less heat out is what the van's mass, water and bottles keep: under 3 % of a tour of 24 nights."""
    gains, losses = sum(q for _, q in gains_kwh(demo())), sum(q for *_, q in losses_kwh(demo()))
    assert losses == pytest.approx(gains, rel=0.03)


def test_a_part_at_minus_1_freezes_in_its_night_only() -> None:
    pipes = np.full(49, 12.0)
    pipes[30] = -1.2
    section = frost(SCENE, {"water pipes": pipes})
    assert accepted(section) == "Down to freezing: water pipes (1 of 2 days from noon, down to −2 °C)."


def test_on_a_phone_each_part_has_its_lowest_temperature_below_its_name() -> None:
    """Where the map's cells are too narrow for figures; a name is shown as it was typed."""
    pipes, tank = np.full(49, 12.0), np.full(49, 4.0)
    pipes[30] = -1.2
    chart = frost(SCENE, {"grey <tank>": tank, "water pipes": pipes}).figure
    assert chart is not None
    labels = chart.narrow["yaxis"]
    assert labels["ticktext"] == ["water pipes<br>lowest −2 °C", "grey &lt;tank&gt;<br>lowest 4 °C"]
    assert labels["tickvals"] == list(chart.traces[0]["y"])
    assert "ticktext" not in chart.layout["yaxis"]


def test_of_many_frozen_parts_the_coldest_two_are_told_at_length_and_every_one_by_name() -> None:
    parts = {f"tank {k}": np.full(49, -1.0 * k) for k in range(1, 5)}
    assert accepted(frost(SCENE, parts)) == (
        "Down to freezing: tank 4 (2 of 2 days from noon, down to −4 °C) and tank 3 (2 of 2 days from noon, down to "
        "−3 °C); tank 2 and tank 1 too."
    )


def test_a_part_below_what_it_must_keep_is_warned_of_before_it_freezes() -> None:
    answer = accepted(frost(SCENE, {"water pipes": np.full(49, 3.0), "battery": np.full(49, 9.0)}, 5.0))
    assert answer == "Nothing freezes, but below 5 °C fall water pipes: heat or drain."


def test_a_tank_that_is_drained_in_the_first_hour_cannot_freeze() -> None:
    """It held water at the start alone; found by fuzzing."""
    drained = np.full(49, np.nan)
    drained[0] = 4.0
    section = frost(SCENE, {"water pipes": np.full(49, 3.0), "waste tank": drained}, 5.0)
    assert section.table is not None
    assert [row[0] for row in section.table.rows] == ["water pipes"]


def test_nights_run_from_noon_to_noon() -> None:
    nights, of_hour = noon_to_noon(SCENE.hours)
    assert [f"{night:%d}" for night in nights] == ["20", "21"]
    assert np.bincount(of_hour).tolist() == [24, 24]


def test_a_surface_wet_for_three_hours_in_one_night_is_named_and_a_dry_one_is_not() -> None:
    wet = np.zeros(48)
    wet[10:13] = 1.0
    section = damp(SCENE, {"ribs": np.zeros(48), "glass": wet}, np.array([[0.0, 0.0], [200.0, 40.0]]))
    assert accepted(section) == "Glass (1 of 2 days from noon); 0.2 L condenses in all."
    assert section.figure is not None and section.figure.traces[0]["y"] == ["glass"]
    assert "200 g condensed" in section.figure.traces[0]["hovertext"][0][0]
    assert section.table is not None
    wet_row, gram_row = ("glass", "wet [h]", "3", "0", "3"), ("glass", "condensed [g]", "200", "40", "240")
    assert section.table.rows[:2] == (wet_row, gram_row)


def test_water_says_when_the_waste_tank_is_full() -> None:
    waste = np.linspace(0.0, 96.0, 49).clip(max=90.0)
    answer = accepted(water(SCENE, np.linspace(100.0, 4.0, 49), waste, 100.0, 90.0))
    assert answer == (
        "Yes: least 4 L of fresh water, Fri 22 January 11:00; the waste tank is full on Fri 22 January 08:00."
    )


def test_the_gauge_is_told_to_follow_the_cold() -> None:
    answer = accepted(bottle_pressure(SCENE, "steel", FALLING, np.linspace(3.0, 1.0, 49), np.linspace(0.0, -20.0, 49)))
    assert answer.startswith("While liquid is left the gauge of steel follows the cold, 1.0 to 3.0 bar between −20 °C")


def test_the_gauge_says_in_its_legend_which_bottle_it_is_of() -> None:
    chart = bottle_pressure(SCENE, "bottle 2, steel", FALLING, [1.0] * 49, [0.0] * 49).figure
    assert chart is not None
    assert [trace["name"] for trace in chart.traces[:2]] == ["gauge of bottle 2, steel", "its contents by weight"]


def test_nine_of_ten_tours_of_10_kg_need_one_bottle_of_11() -> None:
    section = confidence([10.0] * 9 + [30.0], 11.0)
    assert accepted(section).startswith(
        "1 × 11 kg cover 90 in 100 such tours without a swap; the middle one takes 10 kg"
    )
    assert section.table is not None
    assert section.table.rows == ((0, "0"), (1, "90"), (2, "90"), (3, "100"))


def test_a_band_that_reaches_nothing_says_when() -> None:
    """The hour is that of the odds, not of the band's next edge."""
    width, swaps = np.linspace(0.0, 9.0, 49), [(EDGES[5], "the cape")]
    bands = FALLING - width, FALLING, FALLING + width
    answer = accepted(gas_bands(SCENE, EDGES, *bands, swaps, out_from=EDGES[27], power=" with power"))
    assert answer.endswith("kg left with power; of all the winters and vans drawn one in ten is out of gas from "
                           "Thu 21 January 15:00 on with power.")  # fmt: skip
    assert accepted(gas_bands(SCENE, EDGES, *bands, swaps)).endswith("nine of ten never run out.")


def test_schedules_are_compared_by_gas_and_by_the_air_on_rising() -> None:
    clock = ["18:00", "02:00", "10:00"]
    nights = [
        NightOf("steady", clock, [19, 18, 19], [19, 18, 19], [1.0, 1.2, 1.0], 1.0, 20.0, 18.0),
        NightOf("set-back", clock, [19, 12, 19], [19, 12, 19], [1.0, 0.2, 2.0], 0.9, 18.0, 14.0),
    ]
    section = schedule_panels(nights)
    answer = accepted(section)
    assert section.figure is not None and isinstance(section.figure.spoken, tuple)
    read = [trace for k in section.figure.spoken for trace in section.figure.traces[k]["hovertext"]]
    assert read[4].replace("<br>", " ") == "set-back, 02:00: 12.0 °C with 12 °C asked for, heater at 0.2 kW"
    assert answer == (
        "“set-back” burns 0.90 kg, 10 % less than “steady”, is 12 °C at the coldest, and you rise at 14 °C instead of "
        "18 °C."
    )


def test_schedules_that_burn_no_gas_are_compared_by_the_mains() -> None:
    clock = ["18:00", "02:00", "10:00"]
    nights = [
        NightOf("steady", clock, [19, 18, 19], [19, 18, 19], [1.0, 1.2, 1.0], 0.0, 20.0, 18.0, mains_kwh=10.0),
        NightOf("off", clock, [19, 3, 19], [19, np.nan, 19], [1.0, 0.0, 2.0], 0.0, 18.0, 4.0, mains_kwh=6.0),
    ]
    section = schedule_panels(nights)
    assert accepted(section) == (
        "“off” takes 6.0 kWh of the mains, 40 % less than “steady”, is 3 °C at the coldest, and you rise at 4 °C "
        "instead of 18 °C."
    )
    assert section.table is not None
    assert section.table.columns[:3] == ("schedule", "gas [kg]", "mains [kWh]")
    assert [row[2] for row in section.table.rows] == ["10.0", "6.0"]
    assert accepted(schedule_panels([nights[0], nights[0]])) == "They take the same within 2 %: choose by comfort."


def test_panels_leave_no_empty_strip_below_and_on_a_phone_room_between_their_rows() -> None:
    """Four of one night: in one row on a wide page, in two on a phone, where the upper row's clock needs no title."""
    night = NightOf("steady", ["18:00", "02:00", "10:00"], [19, 18, 19], [19, 18, 19], [1.0, 1.2, 1.0], 1.0, 20.0, 18.0)
    chart = schedule_panels([night] * 4).figure
    assert chart is not None
    upper, lower, wide = chart.narrow["yaxis5"], chart.narrow["yaxis7"], chart.layout["yaxis5"]
    assert wide["domain"][0] == lower["domain"][0] == 0.0
    assert upper["domain"][0] > chart.narrow["yaxis3"]["domain"][1] + 0.1
    assert {trace["name"]: trace.get("legendgroup") for trace in chart.traces} == {
        "air": "air", "setpoint": "setpoint", "heat": "heat", "": None,
    }  # fmt: skip
    titles = [chart.narrow[name]["title"]["text"] for name in ("xaxis", "xaxis2", "xaxis3", "xaxis4")]
    assert titles == ["", "", "local time", "local time"]


def test_long_names_beside_bars_take_two_lines_on_a_phone_and_the_words_at_bars_have_room() -> None:
    chart = heat_loss([("living", "roof", "roof", 9.0)], [("engine's heat while driving", 9.0)]).figure
    assert chart is not None
    assert chart.narrow["yaxis"]["tickvals"] == ["OUT", "roof", "IN", "engine's heat while driving"]
    assert chart.narrow["yaxis"]["ticktext"] == ["OUT", "roof", "IN", "engine's heat<br>while driving"]
    wet = heat_loss([("living", "roof", "roof", 9.0), ("wet_room", "vapour condensing", "damp", -9.0)], []).figure
    assert wet is not None
    assert wet.narrow["yaxis"]["ticktext"] == ["OUT", "roof", "IN", "vapour condensing,<br>wet room"]
    ranked = sensitivity([("foam", "60 mm", 25.0, "10 mm", 40.0)], 30.0, "gas", "kg").figure
    assert ranked is not None
    assert ranked.narrow["xaxis"]["range"] == pytest.approx([25.0 - 0.35 * 15.0, 40.0 + 0.35 * 15.0])


def test_the_widest_bar_comes_first_and_every_bar_tells_both_its_ends() -> None:
    effects = [("leaks", "few", 29.0, "many", 31.0), ("foam", "60 mm", 25.0, "10 mm", 40.0)]
    section = sensitivity(effects, 30.0, "gas", "kg", "weighing halves the band.")
    assert accepted(section) == (
        "Foam: 25 kg of gas where 60 mm, 40 kg where 10 mm, around 30 kg. Weighing halves the band."
    )
    assert section.figure is not None
    for trace in section.figure.traces:
        assert trace["hovertext"][1].replace("<br>", " ") == "leaks: gas 29.0 kg where few, 31.0 kg where many"


def test_of_two_ends_on_one_side_only_the_longer_bar_keeps_its_word() -> None:
    chart = sensitivity([("sun", "little", 31.0, "much", 30.5)], 30.0, "gas", "kg").figure
    assert chart is not None
    assert [trace["text"] for trace in chart.traces] == [["little"], [""]]


def test_an_outage_tells_when_each_limit_is_passed() -> None:
    hours = np.arange(25.0)
    answer = accepted(outage(hours, {"living": 20.0 - hours}, -10.0, "the living area is at 12 °C after 8.0 h"))
    assert answer == "With −10 °C outdoors: the living area is at 12 °C after 8.0 h."


def test_a_learned_band_is_shown_beside_the_presets_and_the_narrowest_is_named() -> None:
    """Walls 0.7 to 1.3 before, 1.0 to 1.1 after: a sixth of the width, 17 %."""
    rows = [("walls", (0.7, 1.0, 1.3), (1.0, 1.05, 1.1)), ("draughts", (0.5, 1.0, 2.0), (0.6, 1.0, 1.9))]
    section = learned_bands(rows, "The van is as logged.")
    assert accepted(section) == "The van is as logged. Known best now: walls, whose band keeps 17 % of its width."
    assert section.figure is not None
    before, after = section.figure.traces[:2]
    assert (before["base"], before["x"]) == ([0.7, 0.5], [0.6, 1.5])
    assert (after["base"], after["x"]) == ([1.0, 0.6], [0.1, 1.3])


def test_a_weighing_tells_the_forecast_before_and_after_it() -> None:
    rows = [
        (EDGES[8], "steel: 20 kg", (1.0, 1.5, 2.0), (1.2, 1.4, 1.6), 8.2, 240.0),
        (EDGES[20], "steel: 18.9 kg", (1.2, 1.4, 1.6), (1.3, 1.35, 1.4), 7.1, 210.0),
    ]
    section = forecasts(rows)
    assert accepted(section) == (
        "After the last reading 1.4 kg a day are expected to the end, 1.3 to 1.4 in eight of ten (before it 1.2 to "
        "1.6); 7 kg are on board."
    )
    assert section.table is not None
    assert section.table.rows[0][0] == "Wed 20 January 20:00: steel: 20 kg"


def test_a_place_reads_as_on_a_map_on_every_side_of_the_equator() -> None:
    assert on_the_map(57.261, 24.406, 6.2) == "57.26° N, 24.41° E, 6 m"
    assert on_the_map(-53.16, -70.91, 4.0) == "53.16° S, 70.91° W, 4 m"


def test_screens_are_told_by_what_they_save() -> None:
    answer = accepted(screens([("windscreen", 20.0, 5.0), ("walls", 30.0, 30.0)]))
    assert answer == "Up, they take the shell from 50 to 35 W/K, 30 % less, most at windscreen."


def test_screens_show_what_they_change_the_greatest_saving_first_and_the_rest_as_one_bar() -> None:
    shown = screens([("walls", 30.0, 30.0), ("side", 6.0, 5.0), ("floor", 8.0, 8.0), ("windscreen", 20.0, 5.0)])
    assert shown.figure is not None
    assert shown.figure.traces[0]["y"] == ["windscreen", "side", "all else, no screens"]
    assert [trace["x"] for trace in shown.figure.traces] == [[20.0, 6.0, 38.0], [5.0, 5.0, 38.0]]


def test_a_grid_of_the_wrong_shape_is_refused() -> None:
    axes = (("a", "°C", (1.0, 2.0)), ("b", "h", (1.0,)))
    with pytest.raises(ValueError, match="gas must be given on the grid of 2 × 1"):
        slider_grid(axes, {"gas": ("kg", 1, np.zeros((1, 2)))}, (0, 0))
    with pytest.raises(ValueError, match="a position on each of 1 sliders"):
        Sliders((("a", "°C", (1.0, 2.0)),), (("gas", "kg", 1, (1.0, 2.0)),), (2,))


def test_a_table_whose_rows_do_not_fit_is_refused() -> None:
    with pytest.raises(ValueError, match="a row must have 2 cells"):
        Table(("a", "b"), (("only one",),))


@pytest.mark.parametrize(
    ("written", "wanted"),
    [
        (wording.kilograms(24.26), "24.5 kg"),
        (wording.kilograms(24.9), "25 kg"),
        (wording.percent(0.63), "65 %"),
        (wording.percent(0.03), "3 %"),
        (wording.number(-0.04, 1), "0.0"),
        (wording.number(-12.3), "−12"),
        (wording.number(-1234.56, 1), "−1\u202f234.6"),
        (wording.number(-0.96, 1), "−1.0"),
        (wording.number(12345.0), "12\u202f345"),
        (moments.part_of_day(pd.Timestamp("2027-01-22 03:00")), "night of 21 January"),
        (moments.part_of_day(pd.Timestamp("2027-01-22 10:00")), "morning of 22 January"),
        (moments.part_of_day(pd.Timestamp("2027-01-22 17:00")), "afternoon of 22 January"),
        (moments.part_of_day(pd.Timestamp("2027-01-22 18:00")), "night of 22 January"),
        (moments.part_of_day(pd.Timestamp("2027-02-01 07:00")), "night of 31 January"),
        (wording.listed(["gas", "water", "light"]), "gas, water and light"),
    ],
)
def test_numbers_are_written_with_no_more_digits_than_are_known(written: str, wanted: str) -> None:
    assert written == wanted


def test_hours_are_shown_by_the_clock_on_the_wall_in_the_night_it_is_put_back() -> None:
    """On 31 October 2027 Riga has the hour from three twice; day and time are the clock's, the place is the hour's."""
    edges = pd.date_range("2027-10-31 02:00", periods=5, freq="h", tz="Europe/Riga")
    scene = Scene(edges, ("cape", "cape", "driving to quay", "quay"), (False,) * 4)
    assert words.times(edges) == [f"2027-10-31T0{hour}:00" for hour in (2, 3, 3, 4, 5)]
    assert scene.stamps == [
        "Sun 31 Oct 02:00, cape", "Sun 31 Oct 03:00, cape", "Sun 31 Oct 03:00, driving to quay",
        "Sun 31 Oct 04:00, quay", "Sun 31 Oct 05:00, quay",
    ]  # fmt: skip


def test_outdoors_covers_no_zone_that_freezes() -> None:
    """Its line is drawn first, so below the others, without a fill; its word still stands last in the legend."""
    zones = {"living": np.full(49, -6.0), "cab": np.full(49, -9.0)}
    chart = temperatures(SCENE, zones, "living", [19.0] * 48, [-20.0] * 48, [0.0] * 48, [0.0] * 48).figure
    assert chart is not None
    drawn = [trace for trace in chart.traces if trace["type"] == "scatter" and trace.get("yaxis", "y") == "y"]
    assert [trace["name"] for trace in drawn[:3]] == ["outdoors", "living area", "cab"]
    assert drawn[0]["legendrank"] > 1000
    assert not [trace["name"] for trace in drawn if trace.get("fill", "none") != "none"]


def test_a_battery_that_was_cut_out_shows_where_it_comes_on_again() -> None:
    """Charge above the cut-out with the heater off is explained; a battery that lasts has no such line."""
    charge, again = np.linspace(0.5, 0.1, 49), [0.21] * 49
    names = []
    for hours_cut_out in (3.0, 0.0):
        chart = battery(SCENE, charge, 0.1, {}, {FAN: [1.0] * 48}, hours_cut_out, None, again).figure
        assert chart is not None
        names.append([trace["name"] for trace in chart.traces if trace["name"].startswith("on again")])
    assert names == [["on again, 21 %"], []]


def test_reconnecting_stands_above_the_cut_out_and_moves_with_the_cold_as_it_does() -> None:
    cut, again = cut_out_shares(demo()), reconnect_shares(demo())
    pack = demo().van.power.battery
    assert (1.0 - again) / (1.0 - cut) == pytest.approx((1.0 - pack.reconnect_share) / (1.0 - pack.cut_out_share))


def test_vapour_that_condenses_gives_heat_under_its_own_name_and_what_dries_takes_it() -> None:
    """Nothing is hung up wet on such a tour: a gain called drying would name what did not happen."""
    latent = {zone: kwh for zone, part, _, kwh in losses_kwh(demo()) if part == CONDENSING}
    drying = {zone: kwh for zone, part, _, kwh in losses_kwh(demo()) if part == "water drying off surfaces and kit"}
    assert latent and all(kwh < 0.0 for kwh in latent.values())
    assert all(kwh >= 0.0 for kwh in drying.values())
    assert len(latent) + len(drying) == len(demo().van.cabin.zones)


def stand(evening: int, **more: object) -> Stand:
    """18:00 on the first or second day of the scene: a third of charge that lasts 30 h, unless told."""
    known = {
        "at": EDGES[6 + 24 * evening].to_pydatetime(), "place": "Cape", "charge_share": 0.339, "lasts_h": 30,
        "nights": 1.25, "drive_h": 0.0, "no_charge_h": 0, "cut_out": False, "cut_out_at_share": 0.1,
        "reconnects_at_share": 0.2,
    }  # fmt: skip
    return Stand(**{**known, **more})  # type: ignore[arg-type]


LASTS = {"lasts_h": 30, "nights": 1.25}
TO_THE_END = {"lasts_h": None, "nights": None}
SHORT = {"lasts_h": 7, "nights": 0.29, "drive_h": 2.25}
HOPELESS = {"lasts_h": 5, "nights": 0.2, "drive_h": None, "why_not": "it brings 3 Ah"}
DEAD = {"lasts_h": 0, "nights": 0.0, "drive_h": 3.0, "cut_out": True}


@pytest.mark.parametrize(
    ("stands", "wanted"),
    [
        ((), "No evening of this tour is off the grid, where the battery would have to last by itself."),
        ((TO_THE_END,), "To the tour's end, from the one evening off the grid."),
        ((LASTS, TO_THE_END), "To the next evening, from each of the 2 evenings off the grid: 30 h at the least, from "
                              "Wed 20 Jan 18:00 at Cape with 33 % of charge."),
        ((LASTS, SHORT), "From 1 of 2 evenings off the grid not to the next one: 7 h at the least, from Thu 21 Jan "
                         "18:00 at Cape; a drive of 2.25 h from 18:00 on reaches it."),
        ((SHORT, DEAD), "From 2 of 2 evenings off the grid not to the next one: on 1 the loads are cut out already, "
                        "first on Thu 21 Jan at Cape; else 7 h at the least, from Wed 20 Jan 18:00 at Cape; "
                        "a drive of 2.25 to 3 h from 18:00 on reaches it."),
        ((HOPELESS, SHORT), "From 2 of 2 evenings off the grid not to the next one: 5 h at the least, from Wed 20 Jan "
                            "18:00 at Cape; a drive of 2.25 h from 18:00 on reaches it; on 1 not even 10 h of "
                            "driving do."),
        ((HOPELESS,), "From 1 of 1 evenings off the grid not to the next one: 5 h at the least, from Wed 20 Jan 18:00 "
                      "at Cape; not even 10 h of driving reach it."),
    ],
)  # fmt: skip
def test_the_charge_without_sun_is_told_by_its_shortest_evening_and_the_drive(
    stands: tuple[dict[str, object], ...], wanted: str
) -> None:
    scene = SCENE if stands else replace(SCENE, hooked=(True,) * 48)
    told = charge_lasts(scene, [stand(k, **more) for k, more in enumerate(stands)])
    assert (accepted(told) if stands else told.answer) == wanted
    assert (told.figure is None) == (not stands)


def test_evenings_that_fall_short_have_their_own_shape_and_their_drive_below() -> None:
    """Bars by hatching, a dead battery by a cross; 24 h are to be reached, on the last day what is left of the tour."""
    chart = charge_lasts(SCENE, [stand(0, **SHORT), stand(1, **TO_THE_END)]).figure
    assert chart is not None
    drawn = {trace["name"]: trace for trace in chart.traces}
    short, to_end = drawn["falls short"], drawn["to the tour's end"]
    assert (short["x"], short["y"], to_end["y"]) == (["2027-01-20T18:00"], [7], [18])
    assert short["marker"]["pattern"]["shape"] != to_end["marker"]["pattern"]["shape"]
    assert drawn["24 h, or the end"]["y"] == [24.0, 24.0, 0.0]
    assert (drawn["drive needed"]["y"], drawn["drive needed"]["yaxis"]) == ([2.25], "y2")
    lasting = charge_lasts(SCENE, [stand(0)]).figure
    assert lasting is not None
    assert "yaxis2" not in lasting.layout
    dead = charge_lasts(SCENE, [stand(0, **DEAD), stand(1, **HOPELESS)]).figure
    assert dead is not None
    crosses = {trace["name"]: trace for trace in dead.traces}
    assert crosses["cut out already"]["marker"]["symbol"] == "x"
    assert crosses["over 10 h of drive"]["y"] == [10.0]


def test_each_evening_without_sun_is_a_sentence_and_a_row() -> None:
    stands = [stand(0, **HOPELESS), stand(1, **DEAD)]
    told = charge_lasts(SCENE, stands)
    assert told.figure is not None and isinstance(told.figure.spoken, int) and told.table is not None
    said = [text.replace("<br>", " ") for text in told.figure.traces[told.figure.spoken]["text"]]
    assert said == [
        "Wed 20 Jan 18:00, at the cape: 33 % of charge lasts 5 h, 0.2 nights, with no sun, drive or hook-up; not even "
        "10 h of driving reach the next evening: it brings 3 Ah",
        "Thu 21 Jan 18:00, at the cape: 33 % of charge, the loads are cut out already; a drive of 3 h reaches the next "
        "evening",
    ]
    assert told.table.rows == (
        ("Wed 20 Jan", "Cape", "33", "5", "0.2", "over 10"),
        ("Thu 21 Jan", "Cape", "33", "cut out", "0.0", "3"),
    )


def test_a_charge_of_weeks_leaves_the_line_of_a_day_in_sight() -> None:
    chart = charge_lasts(SCENE, [stand(0, lasts_h=700, nights=29.1)]).figure
    assert chart is not None
    assert chart.layout["yaxis"]["range"] == [0, 168]
    assert "cut at 168" in chart.layout["yaxis"]["title"]["text"]
