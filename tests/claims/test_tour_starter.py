"""Starter files run as they are and name everything; the schema knows what the reader knows."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from sample_vans import DESCRIPTIONS

from budget.arrived import plain
from budget.errors import InputFault
from budget.simulation import simulate
from budget.tour.climate import Climate, WeatherChoice
from budget.tour.files import DEMO_TOUR
from budget.tour.model import Away, Cooking, Draw, Drying, Exchange, Habits, Person, Step, Stop, Tour
from budget.tour.reader import load
from budget.tour.schema import json_schema
from budget.tour.starter import Tier, starter, write_starter
from budget.tour.timeline import Timeline
from budget.van.description import VanDescription

LEFT_OUT = re.compile(r"^# ([a-z_0-9]+) = ", re.MULTILINE)
# Lines that may not be set beside what the starter sets: each is refused and says so.
INSTEAD = {
    "file": "must say what kind of file", "wall_u_w_per_m2k": "got both", "learned": "file of what was learned",
}  # fmt: skip


def read(text: str, folder: Path) -> Any:
    file = folder / "starter.toml"
    file.write_text(text, encoding="utf-8")
    return load(file)


@pytest.mark.parametrize("tier", ["quick", "full"])
def test_a_starter_file_runs_as_it_is(tier: Tier, tmp_path: Path) -> None:
    write_starter(tmp_path / "tour.toml", tier)
    loaded = load(tmp_path / "tour.toml")
    openings = [opening.name for opening in loaded.van.cabin.openings]
    timeline = Timeline.of(loaded.tour, openings, [zone.name for zone in loaded.van.cabin.zones])
    assert len(timeline.index) == 6 * 24


def test_the_quick_starter_has_at_most_45_lines_and_says_what_its_numbers_are() -> None:
    lines = starter("quick").splitlines()
    assert len(lines) <= 45
    assert [line[2] for line in lines if re.match(r"# [1-6]  ", line)] == list("123456")


@pytest.mark.parametrize(
    "model", [Tour, VanDescription, WeatherChoice, Climate, Person, Step, Draw, Cooking, Drying, Away, Habits, Stop,
              Exchange],
)  # fmt: skip
def test_the_full_starter_names_every_field(model: Any) -> None:
    text = starter("full")
    missing = [name for name in model.model_fields if not re.search(rf"\b{name}\b", text)]
    assert missing == []


@pytest.mark.parametrize("name", sorted(set(LEFT_OUT.findall(starter("full")))))
def test_a_line_that_the_full_starter_leaves_out_can_be_put_in(name: str, tmp_path: Path) -> None:
    text = re.sub(rf"^# ({name} = )", r"\1", starter("full"), count=1, flags=re.MULTILINE)
    if name not in INSTEAD:
        read(text, tmp_path)
        return
    with pytest.raises(InputFault, match=INSTEAD[name]):
        read(text, tmp_path)


def test_a_starter_never_writes_over_a_file(tmp_path: Path) -> None:
    file = tmp_path / "tour.toml"
    file.write_text("mine")
    with pytest.raises(InputFault) as refusal:
        write_starter(file, "quick")
    assert str(refusal.value) == f"{file} must be a new file, one is there already; give another name."
    assert file.read_text() == "mine"


def test_a_starter_in_a_folder_that_does_not_exist_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "none" / "tour.toml"
    with pytest.raises(InputFault) as refusal:
        write_starter(file, "quick")
    assert str(refusal.value) == (
        f"{file} must be a file that can be written, got: no such file or directory; choose another folder."
    )


def errors_of(text: str) -> list[str]:
    validator = jsonschema.Draft202012Validator(json_schema())
    return [error.message for error in validator.iter_errors(plain(tomllib.loads(text)))]


def test_the_schema_is_one_of_draft_2020_12() -> None:
    schema = json_schema()
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    jsonschema.Draft202012Validator.check_schema(schema)


@pytest.mark.parametrize("text", [starter("quick"), starter("full"), DEMO_TOUR.read_text("utf-8")])
def test_the_schema_takes_what_the_reader_takes(text: str) -> None:
    assert errors_of(text) == []


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("people = 2", "people = 21"), ('comfort = "moderate"', 'comfort = "hot"'), ("nights = 2", "nights = 0"),
        ("hookup = true", "hookup_a = 75"), ("hookup = true", "hokup = true"), ("altitude_m = 4 ", "altitude_m = 'x' "),
        ("length_m = 6.0", "length_m = 40.0"), ('"foam 25-32 mm"', '"foam"'), ("[van]", "[vans]"),
    ],
)  # fmt: skip
def test_the_schema_refuses_what_the_reader_refuses(right: str, wrong: str, tmp_path: Path) -> None:
    text = starter("quick")
    assert right in text
    broken = text.replace(right, wrong)
    assert errors_of(broken) != []
    with pytest.raises(InputFault):
        read(broken, tmp_path)


def test_the_schema_gives_units_and_limits() -> None:
    hookup = json_schema()["$defs"]["Stop"]["properties"]["hookup_a"]
    assert (hookup["unit"], hookup["minimum"], hookup["maximum"]) == ("A", 0.0, 63.0)


def test_the_words_of_the_changeover_differ_as_they_should(tmp_path: Path) -> None:
    """The starter's tour with a first bottle that is empty in the first night, and charge enough to tell.

    By hand nobody changes it before somebody wakes: the heater lacks gas and the room is cold. By itself the second
    bottle feeds within the hour, and only once the first is empty. Both at once: the second is drawn on from the start,
    so the first lasts longer, and nothing lacks in that night either.
    """

    def first_night(word: str) -> tuple[float, float, float, float]:
        path = tmp_path / "tour.toml"
        path.unlink(missing_ok=True)
        write_starter(path, "quick")
        loaded = load(path, (f'van.changeover="{word}"', "van.gas.bottles[0].start_kg=1.5", "van.battery_ah=600"))
        result = simulate(loaded.van, loaded.tour, folder=loaded.folder)
        night = slice(0, 19)  # 12:00 to 07:00
        drawn = [result.flows[f"bottle_{k}_propane_drawn_kg"].iloc[night].sum() for k in (1, 2)]
        lacked_kg = float(result.flows["unserved_heating_kg"].iloc[night].sum())
        return lacked_kg, float(result.stocks["living_air_c"].iloc[19]), *drawn

    by_hand, by_itself, together = (first_night(word) for word in ("manual", "automatic", "both at once"))
    assert by_hand[0] > 0.2
    assert max(by_itself[0], together[0]) < 0.02  # a last breath of the first bottle at most
    assert by_hand[1] < by_itself[1] - 3.0
    assert by_itself[1] == pytest.approx(together[1], abs=0.5)  # the thermostat's own swing
    assert by_hand[3] == 0.0 < by_itself[3]
    assert by_itself[2] == pytest.approx(1.47, abs=0.05)  # empty but for what a bottle keeps
    assert together[2] < 1.3 and together[3] > 0.5


def test_a_changeover_word_is_not_told_beside_gas_in_full_and_is_one_of_three() -> None:
    described = DESCRIPTIONS["demo"] | {"changeover": "automatic"}
    assert VanDescription.model_validate(described).to_van().gas.changeover == "automatic"
    assert VanDescription.model_validate(DESCRIPTIONS["demo"]).to_van().gas.changeover == "manual"
    full = {"gas": {"bottles": [{"name": "a"}]}, "changeover": "manual"}
    with pytest.raises(ValueError, match="either changeover or gas, got both"):
        VanDescription.model_validate({name: v for name, v in described.items() if name != "bottles"} | full)
    with pytest.raises(ValueError, match="'manual', 'automatic' or 'both at once'"):
        VanDescription.model_validate(described | {"changeover": "auto"})
