"""The logbook: what is written is read back, and a reading that cannot be is refused in one sentence."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from small_tour import parked, small

from budget.answers.measured.logbook import (
    Entry,
    bottle_names,
    check,
    logbook_file,
    read_logbook,
    read_time,
    with_entry,
    written,
)
from budget.errors import InputFault
from budget.tour.timeline import Timeline
from budget.van.gas import Bottle

RIGA = ZoneInfo("Europe/Riga")
AT = dt.datetime(2027, 1, 14, 8, 0, tzinfo=RIGA)
BOTTLES = (
    Bottle(name="11 kg", net_kg=11.0, tare_kg=12.0, diameter_m=0.3),
    Bottle(name="11 kg", net_kg=11.0, tare_kg=12.0, diameter_m=0.3, start_kg=4.0),
    Bottle(name="5 kg", net_kg=5.0, tare_kg=6.0, diameter_m=0.23),
)


def weighed(bottle: str, gross_kg: float, hours: int = 0, is_swapped: bool = False) -> Entry:
    return Entry(AT + dt.timedelta(hours=hours), bottle=bottle, gross_kg=gross_kg, is_swapped=is_swapped)


def charged(percent: float, hours: int = 0) -> Entry:
    return Entry(AT + dt.timedelta(hours=hours), charge_percent=percent)


def test_a_logbook_lies_beside_its_tour_and_is_written_for_a_person() -> None:
    assert logbook_file(Path("a/my-tour.toml")) == Path("a/my-tour.logbook.toml")
    assert written((weighed('a "wide" \\ bottle', 17.25), weighed("5 kg", 11.0, 1, True), charged(62.5, 2))) == (
        "# Readings on the way, written by `budget weigh`. Correct a number here, or take a reading out.\n"
        "\n"
        "[[reading]]\n"
        "at = 2027-01-14T08:00:00+02:00\n"
        'bottle = "a \\"wide\\" \\\\ bottle"\n'
        "gross_kg = 17.25\n"
        "\n"
        "[[reading]]\n"
        "at = 2027-01-14T09:00:00+02:00\n"
        'bottle = "5 kg"\n'
        "gross_kg = 11\n"
        "is_swapped = true\n"
        "\n"
        "[[reading]]\n"
        "at = 2027-01-14T10:00:00+02:00\n"
        "charge_percent = 62.5\n"
    )


def test_what_is_written_is_read_back_in_order_of_time(tmp_path: Path) -> None:
    path = tmp_path / "tour.logbook.toml"
    assert read_logbook(path, small(5).timeline) == ()
    entries = (charged(62.5, 2), weighed('a "wide" \\ bottle', 17.25), weighed("5 kg", 11.0, 1, True))
    path.write_text(written(entries), encoding="utf-8")
    read = read_logbook(path, small(5).timeline)
    assert [replace(entry, at=entry.at.astimezone(RIGA)) for entry in read] == [entries[1], entries[2], entries[0]]


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("reading = 3\n", "{path}: the logbook must hold tables [[reading]], got something else; move it away."),
        ("reading = [3]\n", "{path}: the logbook must hold tables [[reading]], got something else; move it away."),
        (
            "[[reading]]\nat = 2027-01-14T08:00:00\ncharge_percent = 50\n",
            "{path}, reading 1: at must be as `budget weigh` writes it (at with a UTC offset, bottle, gross_kg, "
            "charge_percent, is_swapped), got 2027-01-14T08:00:00; correct it or take the reading out.",
        ),
        (
            "[[reading]]\nat = 2027-01-14T08:00:00Z\ncharge_percent = 50\n"
            "[[reading]]\nat = 2027-01-14T09:00:00Z\ngross_kg = 'x'\n",
            "{path}, reading 2: gross_kg must be as `budget weigh` writes it (at with a UTC offset, bottle, gross_kg, "
            "charge_percent, is_swapped), got \"x\"; correct it or take the reading out.",
        ),
        (
            "[[reading]]\nat = 2027-01-14T08:00:00Z\nweight = 5\n",
            "{path}, reading 1: weight must be as `budget weigh` writes it (at with a UTC offset, bottle, gross_kg, "
            "charge_percent, is_swapped), got 5; correct it or take the reading out.",
        ),
        (
            "[[readings]]\nat = 2027-01-14T08:00:00Z\ncharge_percent = 50\n",
            "{path}: the logbook must hold tables [[reading]], got something else; move it away.",
        ),
        *(
            (
                f"[[reading]]\nat = 2027-01-14T08:00:00Z\n{line}\n",
                f"{{path}}, reading 1: {name} must be as `budget weigh` writes it (at with a UTC offset, bottle, "
                f"gross_kg, charge_percent, is_swapped), got {got}; correct it or take the reading out.",
            )
            for line, name, got in (
                ("bottle = '5 kg'\ngross_kg = nan", "gross_kg", "nan"),
                ("bottle = '5 kg'\ngross_kg = inf", "gross_kg", "inf"),
                ("bottle = '5 kg'\ngross_kg = true", "gross_kg", "true"),
                (f"bottle = '5 kg'\ngross_kg = 1{400 * '0'}", "gross_kg", "a huge number"),
                ("bottle = '5 kg'\ngross_kg = 8\nis_swapped = 1", "is_swapped", "1"),
                ("charge_percent = nan", "charge_percent", "nan"),
                ("charge_percent = false", "charge_percent", "false"),
                ("bottle = 5\ngross_kg = 8", "bottle", "5"),
            )
        ),
        *(
            (
                f"[[reading]]\nat = 2027-01-14T08:00:00Z\n{lines}\n",
                "{path}, reading 1: must have either bottle and gross_kg or charge_percent beside at, got "
                f"at{names}; complete it or take the reading out.",
            )
            for lines, names in (
                ("", ""),
                ("gross_kg = 8", ", gross_kg"),
                ("bottle = '5 kg'", ", bottle"),
                ("bottle = '5 kg'\ngross_kg = 8\ncharge_percent = 5", ", bottle, gross_kg, charge_percent"),
                ("charge_percent = 5\nis_swapped = true", ", charge_percent, is_swapped"),
            )
        ),
        *(
            (
                f"[[reading]]\nat = 2027-01-14T08:00:00Z\ncharge_percent = 50\n"
                f"[[reading]]\nat = {at}\ncharge_percent = 50\n",
                "{path}, reading 2: at must lie within the tour, 2027-01-12 12:00 to 2027-01-17 12:00, "
                f"got {got}; correct the date, take the reading out, or move the logbook of another tour away.",
            )
            for at, got in (
                ("2027-03-10T08:00:00+02:00", "2027-03-10 08:00"),
                ("2026-01-14T08:00:00+02:00", "2026-01-14 08:00"),
                ("2027-01-12T11:59:00+02:00", "2027-01-12 11:59"),
                ("2027-01-17T10:01:00Z", "2027-01-17 10:01"),
                ("0001-01-01T00:00:00+14:00", "1-01-01 00:00"),
            )
        ),
    ],
)  # fmt: skip
def test_a_logbook_that_somebody_spoiled_is_refused(text: str, sentence: str, tmp_path: Path) -> None:
    path = tmp_path / "tour.logbook.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputFault) as fault:
        read_logbook(path, small(5).timeline)
    assert str(fault.value) == sentence.format(path=path)


@pytest.mark.parametrize(
    "name", ["my\nbottle", "a\ttab\r\x00\x7f\x85\u2028", 'a "wide" \\ bottle', "fläschchen 氣", "\\"]
)
def test_a_bottle_of_any_name_is_written_so_that_it_is_read_back(name: str, tmp_path: Path) -> None:
    path = tmp_path / "tour.logbook.toml"
    path.write_text(written((weighed(name, 17.25),)), encoding="utf-8")
    (read,) = read_logbook(path, small(5).timeline)
    assert (read.bottle, read.gross_kg, read.at) == (name, 17.25, AT)


def test_readings_in_the_hour_that_comes_twice_keep_their_order(tmp_path: Path) -> None:
    """On 31 October 2027 03:30 is 00:30 UTC and, after the clocks went back, 01:30 UTC."""
    tour = small(3).tour
    moved = tour.model_copy(
        update={
            "start": dt.datetime(2027, 10, 30, 12),
            "end": dt.datetime(2027, 11, 1, 12),
            "stops": (tour.stops[0].model_copy(update={"arrive": dt.datetime(2027, 10, 30, 12)}),),
        }
    )
    line = Timeline.of(moved)
    times = [read_time(text, line) for text in ("2027-10-31T03:30+02:00", "2027-10-31T03:30", "2027-10-31T03:30+03:00")]
    assert [f"{at:%H:%M%z}" for at in times] == ["03:30+0200", "03:30+0300", "03:30+0300"]
    book: tuple[Entry, ...] = ()
    for at, percent in zip(times, (60.0, 70.0, 80.0), strict=True):
        book = with_entry(book, Entry(at, charge_percent=percent))
    assert [entry.charge_percent for entry in book] == [80.0, 60.0]
    path = tmp_path / "tour.logbook.toml"
    path.write_text(written(book), encoding="utf-8")
    assert read_logbook(path, line) == book


def test_a_time_that_the_clocks_skip_is_no_time_of_the_tour() -> None:
    tour = small(3).tour
    moved = tour.model_copy(
        update={
            "start": dt.datetime(2027, 3, 27, 12),
            "end": dt.datetime(2027, 3, 29, 12),
            "stops": (tour.stops[0].model_copy(update={"arrive": dt.datetime(2027, 3, 27, 12)}),),
        }
    )
    with pytest.raises(InputFault) as fault:
        read_time("2027-03-28T03:30", Timeline.of(moved))
    assert str(fault.value) == "--at must be a time that exists, got 2027-03-28 03:30, which the clocks skip there."


def test_a_tour_that_starts_at_an_offset_is_weighed_by_its_own_clock() -> None:
    """From 9 January 22:00 UTC, which is midnight in Riga, to 11 January 14:00 there."""
    tour = small(3).tour
    start, end = dt.datetime(2027, 1, 9, 22, tzinfo=dt.UTC), dt.datetime(2027, 1, 11, 12, tzinfo=dt.UTC)
    stop = tour.stops[0].model_copy(update={"arrive": start})
    line = Timeline.of(tour.model_copy(update={"start": start, "end": end, "stops": (stop,)}))
    assert read_time("2027-01-11T13:30", line) == dt.datetime(2027, 1, 11, 11, 30, tzinfo=dt.UTC)
    with pytest.raises(InputFault) as fault:
        read_time("2027-01-09T23:00", line)
    assert str(fault.value) == (
        "--at must lie within the tour, 2027-01-10 00:00 to 2027-01-11 14:00, got 2027-01-09 23:00."
    )


def test_a_reading_of_the_same_time_and_bottle_takes_the_place_of_the_other() -> None:
    book = with_entry((weighed("5 kg", 10.0, 1), charged(50.0)), charged(60.0, 1))
    assert book == (charged(50.0), charged(60.0, 1), weighed("5 kg", 10.0, 1))
    assert with_entry(book, weighed("5 kg", 9.0, 1)) == (charged(50.0), charged(60.0, 1), weighed("5 kg", 9.0, 1))
    assert len(with_entry(book, weighed("11 kg 1", 9.0, 1))) == 4


def test_bottles_of_one_name_are_numbered() -> None:
    assert bottle_names(BOTTLES) == ("11 kg 1", "11 kg 2", "5 kg")
    assert bottle_names(BOTTLES[2:]) == ("5 kg",)
    last = BOTTLES[2].model_copy(update={"name": "11 kg 1"})  # its own name is no other bottle's number
    assert bottle_names((*BOTTLES[:2], last)) == ("11 kg 2", "11 kg 3", "11 kg 1")


def parked_from(start: dt.datetime) -> Timeline:
    tour = parked(2, dt.datetime(2027, 1, 12, 12))[1]
    stop = tour.stops[0].model_copy(update={"arrive": start})
    end = start + dt.timedelta(days=2)
    return Timeline.of(tour.model_copy(update={"start": start, "end": end, "stops": (stop,)}))


def test_times_are_local_or_carry_an_offset_and_lie_within_the_tour() -> None:
    """12 to 15 January, from noon to noon."""
    tour = small(3).timeline
    assert read_time("2027-01-13T08:00", tour) == dt.datetime(2027, 1, 13, 8, 0, tzinfo=RIGA)
    assert read_time("2027-01-13T08:00+00:00", tour) == dt.datetime(2027, 1, 13, 10, 0, tzinfo=RIGA)
    assert read_time("2027-01-12T12:00", tour) < read_time("2027-01-15T12:00", tour)
    over = parked_from(dt.datetime(2027, 10, 30, 9, tzinfo=dt.UTC))
    first, second = (read_time(f"2027-10-31T{told}", over) for told in ("03:45", "03:30+02:00"))
    assert first < second, "the hour that comes twice: the first is meant, and readings are in order of real time"
    assert read_time("2027-10-30T12:00", over) < first, "a start with an offset is 12:00 in Riga"
    with pytest.raises(InputFault, match=r"^--at must be a time that exists, got 2027-03-28 03:30, which the clocks "):
        read_time("2027-03-28T03:30", parked_from(dt.datetime(2027, 3, 27, 12)))
    for text, sentence in (
        ("yesterday", "--at must be a time such as 2027-01-20T08:00, got 'yesterday'; write date and time."),
        (
            "2027-01-12T11:59",
            "--at must lie within the tour, 2027-01-12 12:00 to 2027-01-15 12:00, got 2027-01-12 11:59.",
        ),
        (
            "0001-01-01T00:00",
            "--at must lie within the tour, 2027-01-12 12:00 to 2027-01-15 12:00, got 1-01-01 00:00.",
        ),
        (
            "2027-01-15T10:01+00:00",
            "--at must lie within the tour, 2027-01-12 12:00 to 2027-01-15 12:00, got 2027-01-15 12:01.",
        ),
    ):
        with pytest.raises(InputFault) as fault:
            read_time(text, tour)
        assert str(fault.value) == sentence


GOOD = [
    (charged(0.0), charged(100.0, 1)),
    (weighed("11 kg 1", 23.5), weighed("11 kg 1", 20.0, 1), weighed("11 kg 1", 20.5, 2), weighed("11 kg 1", 11.5, 3)),
    (weighed("11 kg 2", 16.5), weighed("11 kg 2", 23.0, 1, True), weighed("11 kg 1", 23.0, 1)),
]


@pytest.mark.parametrize("entries", GOOD)
def test_readings_that_can_be_are_taken(entries: tuple[Entry, ...]) -> None:
    """Half a kilogram over or under is the scale's and the stamp's."""
    check(entries, BOTTLES)


@pytest.mark.parametrize(
    ("entries", "sentence"),
    [
        (
            (charged(50.0), charged(100.5, 1)),
            "2027-01-14 09:00: --charge must be from 0 to 100 %, got 100.5; read it again.",
        ),
        ((charged(-1.0),), "2027-01-14 08:00: --charge must be from 0 to 100 %, got -1; read it again."),
        (
            (charged(50.0), weighed("6 kg", 9.0)),
            "2027-01-14 08:00: --bottle must be one of 11 kg 1, 11 kg 2, 5 kg, got '6 kg'; write it as the van does.",
        ),
        (
            (weighed("5 kg", 11.51),),
            "2027-01-14 08:00: 5 kg weighs at most 11 kg when full, got 11.51 kg; weigh it again, without hose and "
            "regulator.",
        ),
        (
            (weighed("5 kg", 5.49),),
            "2027-01-14 08:00: 5 kg weighs at least its tare of 6 kg, got 5.49 kg; give the gross weight, bottle and "
            "gas.",
        ),
        (
            (weighed("11 kg 2", 16.6),),
            "2027-01-14 08:00: 11 kg 2 held 4.0 kg of gas before and cannot hold 4.6 kg without a change; weigh again, "
            "or add --swapped.",
        ),
        (
            (weighed("5 kg", 8.0), weighed("11 kg 1", 20.0, 1), weighed("5 kg", 8.6, 2)),
            "2027-01-14 10:00: 5 kg held 2.0 kg of gas before and cannot hold 2.6 kg without a change; weigh again, "
            "or add --swapped.",
        ),
    ],
)  # fmt: skip
def test_a_reading_that_cannot_be_is_refused_in_one_sentence(entries: tuple[Entry, ...], sentence: str) -> None:
    with pytest.raises(InputFault) as fault:
        check(entries, BOTTLES)
    assert str(fault.value) == sentence
