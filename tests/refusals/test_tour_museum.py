"""A museum of bad tour and van files: one fault each, and the whole sentence that it must produce."""

from __future__ import annotations

import os
import tomllib
from pathlib import Path
from typing import Any

import pytest
from mutations import toml
from verdict import must_be_sentences

from budget.errors import InputFault
from budget.tour.reader import load

MUSEUM = Path(__file__).parent / "museum"
EXPECT = "# expect: "
EXHIBITS = sorted(path.name for path in MUSEUM.glob("*.toml") if path.read_text("utf-8").startswith(EXPECT))


def refusal_of(name: str) -> str:
    with pytest.raises(InputFault) as refusal:
        load(Path(name))
    return str(refusal.value)


def test_the_museum_has_at_least_120_exhibits() -> None:
    assert len(EXHIBITS) >= 120


def test_the_van_that_the_bad_tours_use_is_good() -> None:
    """Else every exhibit that names it would be refused for the wrong reason."""
    assert (MUSEUM / "a-good-tour.toml").is_file()
    assert load(MUSEUM / "a-good-tour.toml").van.title == "one room"


@pytest.mark.parametrize("exhibit", EXHIBITS)
def test_a_bad_file_is_refused_in_its_one_sentence(exhibit: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(MUSEUM)
    first_line = Path(exhibit).read_text("utf-8").split("\n", 1)[0]
    assert refusal_of(exhibit) == first_line.removeprefix(EXPECT)


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "bad.toml must describe a tour or a van, got an empty file; begin with a starter file."),
        (b" \n\n", "bad.toml must describe a tour or a van, got an empty file; begin with a starter file."),
        ("start = 1\n".encode("utf-16"), "bad.toml must be UTF-8 text, got UTF-16; save it as UTF-8."),
        (
            b'title = "a"\nplace = "K\xe4ina"\n',
            "bad.toml line 2 must be UTF-8 text, got another encoding; save it as UTF-8.",
        ),
        (b"\x7fELF\x02\x00\x00\x01", "bad.toml must be UTF-8 text, got binary data; name a tour file."),
        (
            b"# " + b"x" * 1_000_000,
            "bad.toml must be at most 1 MB of text, got more; a tour file needs a few kilobytes.",
        ),
    ],
    ids=["empty", "blank", "utf-16", "latin-1", "binary", "too large"],
)
def test_what_is_not_text_is_refused(
    content: bytes, sentence: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("bad.toml").write_bytes(content)
    assert refusal_of("bad.toml") == sentence


def test_a_file_of_1_mb_of_list_items_is_judged_within_seconds(tmp_path: Path) -> None:
    """A million bytes is the limit; what lies just below it must not hang (linear work takes about 2 s)."""
    file = tmp_path / "long.toml"
    file.write_text('title = "a"\nsnow = [' + "1," * 490_000 + "]\n")
    assert "snow is not a known name here" in refusal_of(str(file))


def test_a_number_of_5000_digits_is_told_from_deep_nesting(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Python reads whole numbers of at most 4300 digits, a limit of its own."""
    monkeypatch.chdir(tmp_path)
    Path("bad.toml").write_text('title = "a"\npeople = ' + "7" * 5000 + "\n")
    assert refusal_of("bad.toml") == (
        "bad.toml line 2 must hold numbers of at most 4300 digits, got one of 5000; correct it."
    )


def test_many_decimals_in_one_line_are_not_taken_for_nesting(tmp_path: Path) -> None:
    """A van in full, each table in one line, as another program would write it."""
    van = tomllib.loads((MUSEUM / "a-good-van.toml").read_text("utf-8"))
    van["power"] = {"loads": [{"name": f"load {k}", "power_w": 1.5, "duty_share": 0.5} for k in range(120)]}
    text = toml(tomllib.loads((MUSEUM / "a-good-tour.toml").read_text("utf-8")) | {"van": van})
    assert max(line.count(".") for line in text.split("\n")) > 200
    (tmp_path / "tour.toml").write_text(text, "utf-8")
    assert len(load(tmp_path / "tour.toml").van.power.loads) == 120


def test_a_missing_file_a_folder_and_a_pipe_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "folder").mkdir()
    os.mkfifo(tmp_path / "pipe")
    assert refusal_of("none.toml") == "none.toml must be a file that exists, none is there; check the name and folder."
    assert refusal_of("folder") == "folder must be a TOML file, got a folder; name the file in it."
    assert refusal_of("pipe") == "pipe must be an ordinary file, got a device or pipe; save it to a file first."
    assert refusal_of("\0") == "must be a file that exists, none is there; check the name and folder."


def test_all_faults_of_a_file_are_told_together_in_order_of_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    broken = (MUSEUM / "a-good-tour.toml").read_text("utf-8")
    for right, wrong in (("hookup_a = 6.0", "hookup_a = 75.0"), ("air_c = 19.0", "air_c = 68.0"), ("-van", "-cart")):
        assert right in broken
        broken = broken.replace(right, wrong)
    Path("bad.toml").write_text(broken)
    assert refusal_of("bad.toml").split("\n") == [
        "bad.toml line 7: van file a-good-cart.toml must be a file that exists, none is there; "
        "check the name and folder.",
        'bad.toml line 14: schedules.plain.steps[0].air_c must be from 0 to 35 °C or "off", got 68; '
        "if that is °F, write 20.",
        "bad.toml line 24: stops[0].hookup_a must be from 0 to 63 A, got 75; give the pitch's fuse current.",
    ]


def test_at_most_twenty_faults_are_told_and_the_rest_counted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    whole = (MUSEUM / "a-good-tour.toml").read_text("utf-8")
    Path("a-good-van.toml").write_text((MUSEUM / "a-good-van.toml").read_text("utf-8"))
    Path("bad.toml").write_text("".join(f"wrong_{number} = 1\n" for number in range(25)) + whole)
    sentences = refusal_of("bad.toml").split("\n")
    assert len(sentences) == 21
    assert sentences[0].startswith("bad.toml line 1: wrong_0 is not a known name here")
    assert sentences[20] == "bad.toml has 5 more faults; correct these first."


def test_a_file_name_of_5000_letters_is_shown_by_its_beginning(tmp_path: Path) -> None:
    whole = (MUSEUM / "a-good-tour.toml").read_text("utf-8")
    (tmp_path / "tour.toml").write_text(whole.replace("a-good-van.toml", "x" * 5000))
    told = refusal_of(str(tmp_path / "tour.toml"))
    assert told.startswith(f"{tmp_path / 'tour.toml'} line 7: van file {'x' * 60}... must be ")
    assert len(told) < 200 + len(str(tmp_path))


LONG, MANY = "few " * 500, [""] * 500
STEP = {"at": "00:00", "air_c": 18.0}
SHOWER = {"use": "shower", "at": "07:00"}
MANY_NAMES = {f"{k} {LONG[:190]}": {"steps": [STEP]} for k in range(30)}


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"draws": [SHOWER | {"at": MANY}]}, 'at must be a time of day in quotes, such as "07:00", got a list'),
        ({"draws": [SHOWER | {"at": LONG}]}, 'at must be a time of day from "00:00" to "23:59", got "few'),
        ({"draws": [SHOWER | {"days": MANY}]}, "draws[0].days must be days in quotes"),
        ({"draws": [SHOWER | {"days": LONG}]}, "draws[0].days must be days such as"),
        ({"people": [{"asleep": LONG}]}, 'people[0].asleep must read "HH:MM-HH:MM", with days'),
        ({"people": [{"asleep": [MANY]}]}, 'must read "HH:MM-HH:MM", with days before it if wanted, got a list;'),
        ({"people": [{"asleep": {"at": MANY}}]}, 'asleep must be spans of time such as "22:30-07:00", or a list'),
        ({"people": [{"asleep": "mon-" + "tue-" * 400 + " 09:00-10:00"}]}, "people[0].asleep must give days like"),
        ({"schedules": {"plain": {"steps": [STEP | {"air_c": MANY}]}}}, "schedules.plain.steps[0].air_c must be from"),
        ({"schedules": {"plain": {"steps": [STEP | {"air_c": LONG}]}}}, "schedules.plain.steps[0].air_c must be from"),
        ({"schedules": MANY_NAMES, "schedule": "z" * 190}, "schedule must be one of 0 few"),
    ],
)
def test_what_arrived_is_quoted_by_its_beginning(changed: dict[str, Any], sentence: str, tmp_path: Path) -> None:
    """Found by the fuzzing: a list of five hundred in the place of a time was quoted whole."""
    tour = tmp_path / "tour.toml"
    document = tomllib.loads((MUSEUM / "a-good-tour.toml").read_text("utf-8"))
    tour.write_text(toml(document | {"van": str(MUSEUM / "a-good-van.toml")} | changed), "utf-8")
    with pytest.raises(InputFault) as refusal:
        load(tour)
    must_be_sentences(refusal.value)
    assert sentence in str(refusal.value)
