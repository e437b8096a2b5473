"""The tour file says the same in every form: at the top or in [tour], in short or at length, in one file or two."""

from __future__ import annotations

import datetime as dt
import time
from pathlib import Path

import pytest

from budget.errors import InputFault
from budget.tour.files import DEMO_TOUR, SAMPLES_FOLDER, resolve_file
from budget.tour.itinerary import itinerary
from budget.tour.locator import key_lines
from budget.tour.model import Tour
from budget.tour.overrides import parse_override
from budget.tour.reader import Loaded, load
from budget.tour.shorthand import comfort_presets, spell_out

VAN = """
[van.cabin]
[[van.cabin.zones]]
name = "living"
air_m3 = 12.0
air_capacity_j_per_k = 120000.0
fabric_capacity_j_per_k = 900000.0
fabric_coupling_w_per_k = 100.0
[[van.heater.stages]]
output_w = 3000.0
air_m3_per_h = 120.0
fan_w = 20.0
[van.water.fresh]
capacity_l = 100.0
start_l = 100.0
[van.water.waste]
capacity_l = 90.0
start_l = 0.0
[van.gas]
locker_zone = "outdoors"
[[van.gas.bottles]]
net_kg = 11.0
"""

SHORT = """
title = "short"
timezone = "Europe/Riga"
start = 2027-01-09
people = 2
comfort = "moderate"
[[stops]]
place = "Ainaži"
latitude_deg = 57.86
longitude_deg = 24.36
altitude_m = 4
nights = 3
hookup = true
[[stops]]
place = "Kuressaare"
latitude_deg = 58.25
longitude_deg = 22.48
altitude_m = 4
nights = 2
"""

AT_LENGTH = """
title = "short"
timezone = "Europe/Riga"
start = 2027-01-09T12:00:00
end = 2027-01-14T12:00:00
schedule = "moderate"
[schedules.moderate]
steps = [{ at = "07:00", air_c = 19.0, water_c = 60.0 }, { at = "22:30", air_c = 14.0, water_c = "off" }]
[[people]]
[[people]]
[[stops]]
place = "Ainaži"
latitude_deg = 57.86
longitude_deg = 24.36
altitude_m = 4.0
arrive = 2027-01-09T12:00:00
hookup_a = 6.0
[[stops]]
place = "Kuressaare"
latitude_deg = 58.25
longitude_deg = 22.48
altitude_m = 4.0
arrive = 2027-01-12T15:00:00
"""


def loaded(text: str, folder: Path, *overrides: str) -> Loaded:
    file = folder / "tour.toml"
    file.write_text(text, encoding="utf-8")
    return load(file, overrides)


def test_a_tour_in_short_is_the_tour_at_length(tmp_path: Path) -> None:
    """Nights chain arrivals at 15:00, a date alone starts and ends at noon, hook-up is 6 A, comfort is a schedule."""
    assert loaded(SHORT + VAN, tmp_path).tour == loaded(AT_LENGTH + VAN, tmp_path).tour


def test_what_is_assumed_is_said_and_what_is_given_is_not(tmp_path: Path) -> None:
    assert loaded(SHORT + VAN, tmp_path).notices == (
        "2 people are taken with the usual heat, vapour and hours of an adult (common practice, no source).",
        "No meals are told, so no gas for cooking and none of its steam is reckoned; two people take 0.1 to 0.2 kg a "
        "day (common practice, no source): add [[cooking]].",
        "Comfort moderate: 19 °C from 07:00, 14 °C from 22:30 (common practice, no source).",
        "Hook-up at Ainaži is taken as 6 A (common practice, no source).",
    )
    assert loaded(AT_LENGTH + VAN, tmp_path).notices == ()


def test_a_tour_table_says_the_same_as_the_top_of_the_file(tmp_path: Path) -> None:
    tables = AT_LENGTH.replace("[schedules", "[tour.schedules").replace("[[", "[[tour.")
    assert loaded("[tour]" + tables + VAN, tmp_path).tour == loaded(AT_LENGTH + VAN, tmp_path).tour


def test_a_van_in_its_own_file_is_the_van_in_the_tour_file(tmp_path: Path) -> None:
    """Relative to the tour file, with or without [van] in it; both files are named as sources."""
    here = loaded(AT_LENGTH + VAN, tmp_path).van
    folder = tmp_path / "vans"
    folder.mkdir()
    for text in (VAN, VAN.replace("van.", "")):
        (folder / "ours.toml").write_text(text, encoding="utf-8")
        there = loaded('van = "vans/ours.toml"\n' + AT_LENGTH, tmp_path)
        assert there.van == here
        assert there.sources == (tmp_path / "tour.toml", tmp_path / "vans" / "ours.toml")
        assert there.folder == tmp_path


def test_a_model_written_as_json_reads_back_as_itself(tmp_path: Path) -> None:
    tour = loaded(AT_LENGTH + VAN, tmp_path).tour
    assert Tour.model_validate_json(tour.model_dump_json(), strict=True) == tour


def test_windows_line_ends_and_a_byte_order_mark_change_nothing(tmp_path: Path) -> None:
    plain = loaded(AT_LENGTH + VAN, tmp_path).tour
    (tmp_path / "tour.toml").write_bytes(b"\xef\xbb\xbf" + (AT_LENGTH + VAN).replace("\n", "\r\n").encode())
    assert load(tmp_path / "tour.toml").tour == plain


def test_a_clock_time_without_quotes_is_a_clock_time(tmp_path: Path) -> None:
    """TOML has local times of its own; 07:00:00 means "07:00"."""
    bare = AT_LENGTH.replace('"07:00"', "07:00:00")
    assert loaded(bare + VAN, tmp_path).tour.schedules["moderate"].steps[0].at == "07:00"


def test_a_schedule_may_be_named_after_a_preset_without_being_written_out(tmp_path: Path) -> None:
    tour = loaded(SHORT.replace("hookup = true", 'schedule = "steady"') + VAN, tmp_path).tour
    assert [step.air_c for step in tour.schedules["steady"].steps] == [20.0, 18.0]


def test_a_schedule_of_ones_own_keeps_its_name_though_a_preset_has_it(tmp_path: Path) -> None:
    own = SHORT.replace('comfort = "moderate"', 'schedules.moderate.steps = [{at = "00:00", air_c = 17}]') + VAN
    assert loaded(own, tmp_path).tour.schedules["moderate"].steps[0].air_c == 17.0


@pytest.mark.parametrize(("name", "day_c", "night_c"), [("cool", 17, 10), ("moderate", 19, 14), ("warm", 21, 18)])
def test_comfort_words_mean_the_pairs_of_common_practice(name: str, day_c: float, night_c: float) -> None:
    assert [step["air_c"] for step in comfort_presets()[name]["steps"]] == [day_c, night_c]


def test_nights_are_counted_from_the_day_by_the_tours_own_clock() -> None:
    """22:00 UTC on the 9th is midnight in Riga: two nights are those to the 12th, its noon and 15:00 being local."""
    start = dt.datetime(2027, 1, 9, 22, tzinfo=dt.UTC)
    stops = [{"place": "A", "nights": 2}, {"place": "B", "nights": 1}]
    spelled = spell_out({"timezone": "Europe/Riga", "comfort": "moderate", "start": start, "stops": stops})
    assert not spelled.faults
    assert [stop["arrive"] for stop in spelled.data["stops"]] == [start, dt.datetime(2027, 1, 12, 15)]
    assert spelled.data["end"] == dt.datetime(2027, 1, 13, 12)
    ends = {"end": dt.datetime(2027, 1, 12, 22, tzinfo=dt.UTC), "stops": stops}
    assert not spell_out({"timezone": "Europe/Riga", "comfort": "moderate", "start": start, **ends}).faults
    (fault,) = spell_out({"timezone": "UTC", "comfort": "moderate", "start": start, **ends, "stops": stops[:1]}).faults
    assert fault.text == "must lead to the tour's end on 2027-01-12, got 2 until 2027-01-11; correct one."


def test_spelling_out_leaves_the_data_that_it_was_given_alone() -> None:
    data = {"people": 2, "start": dt.date(2027, 1, 9), "stops": [{"nights": 2}]}
    before = repr(data)
    spell_out(data)
    assert repr(data) == before


def test_keys_are_found_on_the_lines_they_stand_on() -> None:
    """Tables, lists of tables, dotted keys, inline tables, lists over several lines and text that looks like keys."""
    text = "\n".join(
        [
            'title = "a # b"',
            "habits.cold_water_l = 5",
            'note = """',
            "start = 1",
            '"""',
            "[[stops]]",
            'place = "x"',
            "[[stops]]",
            'place = "y [z]"',
            "[[stops.exchange]]",
            "bottle = 'a'",
            '[schedules."my own"]',
            "steps = [",
            '  { at = "07:00", air_c = 19 },',
            '  { at = "22:00", air_c = 14 }, # night',
            "]",
        ]
    )
    lines = key_lines(text)
    assert lines["title",] == 1 and lines["habits", "cold_water_l"] == 2 and ("start",) not in lines
    assert lines["stops", 0, "place"] == 7 and lines["stops", 1, "place"] == 9
    assert lines["stops", 1, "exchange", 0, "bottle"] == 11
    assert lines["schedules", "my own", "steps", 1, "air_c"] == 15


def test_values_set_from_outside_replace_those_of_the_file(tmp_path: Path) -> None:
    read = loaded(
        SHORT + VAN, tmp_path, 'habits.screens="18:00-08:00"', "schedules.moderate.steps[0].air_c=12",
        "van.heater.differential_k=1", "people[1].awake_w=80", "stops[0].nights=4", "stops[1].nights=1",
        "weather.offset_k=-5", "title=ours",
    )  # fmt: skip
    tour = read.tour
    assert [span.written for span in tour.habits.screens] == ["18:00-08:00"]
    assert tour.schedules["moderate"].steps[0].air_c == 12.0
    assert read.van.heater.differential_k == 1.0
    assert [person.awake_w for person in tour.people] == [90.0, 80.0]
    assert tour.stops[1].arrive == dt.datetime(2027, 1, 13, 15) and tour.end == dt.datetime(2027, 1, 14, 12)
    assert tour.weather.offset_k == -5.0 and tour.title == "ours"


@pytest.mark.parametrize("assignment", ["van.gas.changeover=automatic", "van.gas.bottles[0].net_kg=10"])
def test_a_value_inside_what_the_words_made_can_be_set(assignment: str, tmp_path: Path) -> None:
    """``bottles`` are words there and ``gas`` is what they become, with values left open (``start_kg``: full)."""
    plain, changed = (loaded(SHORT + VAN, tmp_path, *of).van for of in ((), (assignment,)))
    assert (changed.gas.changeover, changed.gas.bottles[0].net_kg) in {("automatic", 11.0), ("manual", 10.0)}
    assert (plain.gas.changeover, plain.gas.bottles[0].net_kg) == ("manual", 11.0)
    assert changed.power == plain.power


def test_people_and_comfort_set_from_outside_are_spelled_out_too(tmp_path: Path) -> None:
    read = loaded(SHORT + VAN, tmp_path, "people=3", "comfort=cool")
    assert len(read.tour.people) == 3 and read.tour.schedule == "cool"


@pytest.mark.parametrize(
    ("assignment", "sentence"),
    [
        ("habits.door_openngs=3", "habits.door_openngs is not a known name here; did you mean door_openings?"),
        ("stops[7].hookup_a=6", "stops has the numbers 0 to 1, got 7; choose one of them."),
        ("stops[0].hookup_a=75", "stops[0].hookup_a must be from 0 to 63 A, got 75; give the pitch's fuse current."),
        ("stops.hookup_a=6", "stops is a list; write stops[0].hookup_a, counted from 0."),
        ("stops.1.hookup_a=6", "stops is a list; write stops[1]."),
        ("hookup_a=6", "hookup_a is not a known name here; did you mean stops[0].hookup_a?"),
        ("length_m=7", "length_m is not a known name here; did you mean van.length_m?"),
        ("timezone.zone=x", "timezone holds no further names; set it as a whole."),
        ("title[0]=6", "title is not a list; leave out the number in brackets."),
        ("schedules.warm.steps[0].air_c=12", "schedules.warm does not exist; known here are moderate."),
        ("van.heater.differental_k=1", "van.heater.differental_k is not a known name here; "
         "did you mean differential_k?"),
        ("van.heater.differential_k=9", "van.heater.differential_k must be from 0.05 to 5 K, got 9; correct it "
         "(meant is: burner stops this far above and starts this far below the setpoint)."),
        ("draws[0].litres_l=5", "draws is empty."),
    ],
)  # fmt: skip
def test_a_value_set_from_outside_is_refused_by_its_own_name(assignment: str, sentence: str, tmp_path: Path) -> None:
    with pytest.raises(InputFault) as refusal:
        loaded(SHORT + VAN, tmp_path, assignment)
    assert str(refusal.value) == f"--set {assignment}: {sentence}"


def test_a_time_on_the_command_line_needs_no_seconds() -> None:
    """As --at takes it; a date alone and a time with seconds are TOML's own."""
    assert parse_override("end=2027-01-12T16:00").value == dt.datetime(2027, 1, 12, 16)
    assert parse_override("end=2027-01-12 16:00").value == parse_override("end=2027-01-12T16:00:00").value
    assert parse_override("end=2027-01-12").value == dt.date(2027, 1, 12)


@pytest.mark.parametrize(
    ("assignment", "sentence"),
    [
        ("people", '--set must read NAME=VALUE, got "people"; write such as stops[2].hookup_a=6.'),
        ("people=[", "--set people=[: the value must be a TOML value such as 6, true, \"17:00-09:00\" or a word, "
         'got "["; put text in double quotes.'),
        ("a b=1", "--set a b=1: the name must be words joined by points, such as stops[2].hookup_a, got \"a b\"; "
         "correct it."),
    ],
)  # fmt: skip
def test_an_assignment_that_is_none_is_refused(assignment: str, sentence: str, tmp_path: Path) -> None:
    with pytest.raises(InputFault) as refusal:
        loaded(SHORT + VAN, tmp_path, assignment)
    assert str(refusal.value) == sentence


def test_the_demo_tour_is_24_nights_from_a_saturday_with_half_of_them_on_hookup() -> None:
    read = load(None)
    tour = read.tour
    assert tour.start == dt.datetime(2027, 1, 9, 12) and tour.start.weekday() == 5
    assert (tour.end - tour.start) == dt.timedelta(days=24)
    plan, faults = itinerary(tour)
    assert plan is not None and not faults
    nights = [
        (plan.start + dt.timedelta(hours=depart)).date() - (plan.start + dt.timedelta(hours=arrive)).date()
        for arrive, depart in zip(plan.arrive, plan.depart, strict=True)
    ]
    on_hookup = [night.days for night, stop in zip(nights, tour.stops, strict=True) if stop.hookup_a > 0.0]
    assert sum(night.days for night in nights) == 24 and sum(on_hookup) == 12
    assert tour.invented and read.folder == DEMO_TOUR.parent


def test_a_packaged_record_is_found_by_name_from_every_folder(tmp_path: Path) -> None:
    name = "gulf_of_riga_january.csv"
    assert resolve_file(f"sample:{name}", tmp_path) == SAMPLES_FOLDER / name
    with pytest.raises(InputFault, match="must name a packaged record"):
        resolve_file("sample:../../tour/model.py", tmp_path)


def test_a_tour_of_400_stops_is_read_within_two_seconds(tmp_path: Path) -> None:
    """The most that is allowed; ordinary is about 0.3 s, the limit leaves room for a busy machine."""
    stop = SHORT[SHORT.rindex("[[stops]]") :].replace("nights = 2", "nights = 1")
    begun = time.perf_counter()
    loaded(SHORT[: SHORT.index("[[stops]]")] + stop * 400 + VAN, tmp_path, "people=1")
    assert time.perf_counter() - begun < 2.0
