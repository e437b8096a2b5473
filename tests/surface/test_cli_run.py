"""``budget run``: the demo with no file, a user's own, what it writes and what it refuses to write."""

from __future__ import annotations

import contextlib
import csv
import json
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from conftest import Call

import budget.simulation
from budget.cli import summary
from budget.cli.summary import by_load
from budget.errors import BooksDoNotClose
from budget.report import markup
from budget.wording import kilograms

SECTIONS = {
    "tour": {"title", "nights", "hours", "start", "end"},
    "gas": {"total_kg", "kg_per_day", "by_use_kg", "bottles_needed", "bottles", "swaps", "unserved_kg"},
    "heater": {
        "heat_to_air_kwh", "heat_to_water_kwh", "fuel_kwh", "electric_kwh", "burner_hours", "starts",
        "hours_below_setpoint", "kelvin_hours_below_setpoint", "full_load_hours", "peak_kg_per_h",
    },
    "power": {
        "fan_ah", "used_ah", "used_by_load_ah", "solar_ah", "alternator_ah", "mains_charger_ah",
        "lowest_state_of_charge", "lowest_at", "hours_cut_out",
    },
    "water": {"fresh_used_l", "shower_l", "coldest_shower_c", "refills"},
    "comfort": {"living", "cab"},
    "damp": {"living", "cab"},
    "frost": {"pipes"},
    "balance": {"largest_residual_fraction", "by_book"},
}  # fmt: skip


@pytest.fixture(autouse=True)
def in_an_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def my_tour(call: Call) -> str:
    assert call("new", "my-tour.toml", "-q").code == 0
    return "my-tour.toml"


def files() -> set[str]:
    return {str(path) for path in Path().rglob("*")}


def test_with_no_file_the_demo_runs_and_is_written_to_budget_out(call: Call) -> None:
    ended = call("run")
    assert ended.code == 0
    assert files() == {"budget-out", "budget-out/report.html", "budget-out/hourly.csv"}
    assert "Saaremaa" in ended.out
    assert "invented" in ended.out
    assert ended.err.endswith("budget: wrote budget-out/report.html and budget-out/hourly.csv\n")


@pytest.mark.parametrize(
    ("zone", "start", "hours"), [("Atlantic/Azores", "2027-03-27", 47), ("Australia/Lord_Howe", "2027-04-03", 48)]
)
def test_a_tour_over_a_midnight_that_the_clocks_skip_or_a_change_of_half_an_hour_runs(
    zone: str, start: str, hours: int, call: Call
) -> None:
    Path("tour.toml").write_text(
        f'title = "t"\ntimezone = "{zone}"\npeople = 2\ncomfort = "moderate"\nstart = {start}\n'
        '[[stops]]\nplace = "A"\nlatitude_deg = 37.7\nlongitude_deg = -25.6\naltitude_m = 4\nnights = 2\n'
        '[van]\nlength_m = 6.0\ninsulation = "foam 25-32 mm"\nheater = "warm-air and water heater 4 kW"\n'
        'bottles = ["11 kg exchange"]\n'
        f"[weather.climate]\nmean_c = {[14.0] * 12}\n",
        "utf-8",
    )
    assert call("check", "tour.toml", "-q").code == 0
    ended = call("run", "tour.toml", "--json", "-q")
    assert (ended.code, ended.err) == (0, "")
    told = json.loads(ended.out)["tour"]
    assert (told["nights"], told["hours"]) == (2, hours)


def test_the_screen_is_one_screen(call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    """Fifty lines of a hundred letters: a laptop's terminal."""
    monkeypatch.setenv("COLUMNS", "100")
    lines = call("run", "-q").out.splitlines()
    assert len(lines) <= 50
    assert max(len(line) for line in lines) <= 100


def test_numbers_on_the_screen_are_not_ragged(call: Call) -> None:
    """Kilograms in halves, hours whole, percent in fives: what can be known. Notices and the books' gap keep theirs.

    The lowest charge is a limit and stands to one per cent, rounded down and said to be.
    """
    out = call("run", "-q").out.split("To know")[0]
    kilograms = re.findall(r"([\d.]+) kg(?! a day)(?! exchange)", out)
    assert kilograms
    assert all(float(number) % 0.5 == 0.0 for number in kilograms)
    assert all("." not in number for number in re.findall(r"([\d.]+) h\b", out))
    percents = re.findall(r"([\d.]+) %(?!, rounded down)", out)
    assert re.search(r"lowest +\d+ %, rounded down, on ", out)
    assert all(float(number) % 5.0 == 0.0 for number in percents)


def test_what_the_battery_feeds_is_named_on_the_screen(call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ten consumers of the demo: the fan, the three greatest beside it, the others together: all that was used."""
    monkeypatch.setenv("COLUMNS", "200")
    (used, told) = re.findall(r"^used +([\d\s]+) Ah: (.*?) *$", call("run", "-q").out, re.M)[0]
    said = re.findall(r"([a-z' ]+?) (\d+)(?:, |$)", told)
    assert [name for name, _ in said] == ["fan", "fridge", "laptops editing", "recorders charging", "the rest"]
    assert sum(int(ah) for _, ah in said) == pytest.approx(int("".join(used.split())), abs=15)


def test_what_is_bought_stands_on_the_screen_where_prices_are_given(call: Call) -> None:
    """The demo gives every price; without one the kilowatt-hours stand alone, and off the grid nothing does."""
    told = json.loads(call("plan", "--json", "-q").out)["money"]
    out = call("run", "-q").out
    (cost, gas, electricity) = re.findall(r"^cost +(\d+): gas (\d+) and electricity (\d+), in the money", out, re.M)[0]
    assert [int(cost), int(gas), int(electricity)] == [
        round(told[name]) for name in ("total_cost", "gas_cost", "mains_cost")
    ]
    assert re.search(r"^mains +3\d\d kWh of the hook-ups", out, re.M)


def test_what_has_no_price_is_told_without_a_cost(call: Call, my_tour: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "200")
    on_mains = call("run", my_tour, "-q", "--set", "stops[1].hookup_a=10").out
    assert re.search(r"^mains +\d+ kWh of the hook-ups", on_mains, re.M)
    assert not re.search(r"^cost ", on_mains, re.M)
    part = call("run", my_tour, "-q", "--set", "stops[0].hookup_a=10", "--set", "stops[0].hookup_per_kwh=0.5",
                "--set", "stops[1].hookup_a=10").out  # fmt: skip
    assert re.search(r"^cost +\d+: electricity \d+, in the money.*; \d+ kWh without a price not counted", part, re.M)
    assert not re.search(r"^(mains|cost) ", call("run", my_tour, "-q", "--set", "stops[1].hookup_a=0").out, re.M)


def test_few_consumers_are_all_named_the_fan_first_and_none_says_so() -> None:
    loads = {"fridge": 20.0, "heater_fan": 12.0, "lights": 9.0, "pump": 7.0, "heater_standby": 1.0, "off": 0.0}
    assert by_load(loads) == "fan 10, fridge 20, lights 10, pump 5, heater's controls under 5"
    assert by_load({"heater_fan": 0.0}) == "nothing draws"
    assert by_load(loads | {"phones": 5.0}) == "fan 10, fridge 20, lights 10, pump 5, the rest 5"


def test_json_is_the_object_alone_and_no_file_is_written(call: Call) -> None:
    ended = call("run", "--json", "-q")
    assert (ended.code, ended.err) == (0, "")
    assert files() == set()
    told = json.loads(ended.out)
    for section, names in SECTIONS.items():
        assert names <= set(told[section]), section
    assert told["balance"]["largest_residual_fraction"] <= 1e-9
    assert isinstance(told["notices"], list)


def test_json_with_a_folder_writes_it_too(call: Call) -> None:
    ended = call("run", "--json", "-q", "-o", "out")
    assert files() == {"out", "out/report.html", "out/hourly.csv", "out/summary.json"}
    assert json.loads(Path("out/summary.json").read_text("utf-8")) == json.loads(ended.out)


def test_with_odds_the_json_carries_them_and_the_screen_opens_with_them(call: Call, my_tour: str) -> None:
    """Enough winters for the odds and the night, too few for what matters most, which takes a hundred."""
    told = json.loads(call("run", my_tour, "--json", "-q", "--odds", "20").out)
    assert {"p10_kg", "p50_kg", "p90_kg"} <= set(told["odds"]["gas"])
    assert told["odds"]["scenarios"] == told["tonight"]["scenarios"] == 20
    assert "sensitivity" not in told
    low, middle, high = (told["odds"]["bands"]["left_kg"][name] for name in ("p10", "p50", "p90"))
    assert all(a <= b <= c for a, b, c in zip(low, middle, high, strict=True))
    said = " ".join(call("run", my_tour, "-q", "--odds", "20").out.split())
    assert re.search(r"such tours have gas to the end; |The battery cuts out in ", said)
    assert "of 20 winters and vans" in said


def test_odds_that_take_long_show_a_bar_where_somebody_looks(
    call: Call, my_tour: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown: list[tuple[str, int]] = []

    @contextlib.contextmanager
    def watched(_: object, what: str, total: int) -> Iterator[Callable[[int], object]]:
        counted: list[int] = []
        yield counted.append
        shown.append((what, sum(counted)))

    monkeypatch.setattr("budget.cli.common.Asked.progress", watched)
    assert call("run", my_tour, "-q", "--odds", "20").code == 0
    assert shown == [("winters", 20)]


def test_the_same_tour_gives_the_same_bytes(call: Call) -> None:
    one, two = call("run", "--json", "-q", "-o", "one"), call("run", "--json", "-q", "-o", "two")
    assert one.out == two.out
    assert Path("one/hourly.csv").read_bytes() == Path("two/hourly.csv").read_bytes()


def test_hourly_csv_has_a_row_an_hour_with_its_time_zone(call: Call, my_tour: str) -> None:
    assert call("run", my_tour, "-q").code == 0
    with open("budget-out/hourly.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 6 * 24
    assert rows[0]["time"] == "2027-01-09T12:00:00+02:00"


def test_a_value_set_from_outside_counts(call: Call, my_tour: str) -> None:
    """A colder winter burns more."""

    def total_kg(*words: str) -> float:
        return float(json.loads(call("run", my_tour, "--json", "-q", *words).out)["gas"]["total_kg"])

    assert total_kg("--set", "weather.offset_k=-3") > total_kg() > 0.0


def test_one_weather_file_may_serve_for_every_stop(call: Call, my_tour: str) -> None:
    assert call("weather", "sample:cold_snap.csv", "--csv", "cold.csv", "-q").code == 0
    ended = call("run", my_tour, "--weather", "cold.csv", "--json", "-q")
    assert ended.code == 0
    assert any("cold snap" in notice for notice in json.loads(ended.out)["notices"])


def test_the_odds_of_a_report_are_in_the_weather_of_its_run(call: Call, my_tour: str) -> None:
    """The report tells the odds of the file that serves for every stop, to the half kilogram that it prints."""
    assert call("weather", "sample:cold_snap.csv", "--csv", "cold.csv", "-q").code == 0
    asked = ("--weather", "cold.csv", "--seed", "3", "-q")
    assert call("run", my_tour, "-o", "out", "--odds", "60", *asked).code == 0
    odds = json.loads(call("odds", my_tour, "--scenarios", "60", "--json", *asked).out)
    in_cold = odds["gas"]
    as_planned = json.loads(call("odds", my_tour, "--scenarios", "60", "--json", *asked[2:]).out)["gas"]
    low, high = kilograms(in_cold["p10_kg"]), kilograms(in_cold["p90_kg"])
    assert high != kilograms(as_planned["p90_kg"])  # else the report could not tell them apart
    power = " with power" if odds["cut_out_share"] > 0.0 else ""
    sentence = markup.shown(f"would use more than {high}{power}, one in ten less than {low}")
    assert sentence in Path("out/report.html").read_text("utf-8")


def test_check_and_run_count_the_nights_of_a_tour_that_starts_at_an_offset_alike(call: Call, my_tour: str) -> None:
    """Midnight in Riga of 10 January to noon of the 12th: two nights, where the days in UTC would make three."""
    written = Path(my_tour).read_text("utf-8").replace("start = 2027-01-09 ", "start = 2027-01-09T22:00:00Z")
    Path(my_tour).write_text("\n[[stops]]".join(written.split("\n[[stops]]")[:2]), "utf-8")
    checked, ran = (json.loads(call(name, my_tour, "--json").out)["tour"] for name in ("check", "run"))
    assert checked["nights"] == ran["nights"] == 2
    assert (checked["start"], checked["end"]) == (ran["start"], ran["end"])
    assert ran["start"] == "2027-01-10T00:00:00+02:00"
    assert call("check", my_tour).out.splitlines()[0].endswith(": 2 nights, 1 stop. It can be run.")


def test_a_folder_that_cannot_be_used_is_refused_before_the_work(
    call: Call, my_tour: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def not_reached(*_: object, **__: object) -> None:
        raise AssertionError("simulated before the folder was looked at")

    monkeypatch.setattr(budget.simulation, "simulate", not_reached)
    sentence = f"budget: {my_tour} must be a folder, a file is there; choose another with -o.\n"
    assert call("run", my_tour, "-o", my_tour) == (1, "", sentence)


def test_a_folder_where_the_report_is_meant_is_refused(call: Call, my_tour: str) -> None:
    Path("out/report.html").mkdir(parents=True)
    sentence = "budget: out/report.html must be a file, a folder is there; remove it or write elsewhere.\n"
    assert call("run", my_tour, "-o", "out") == (1, "", sentence)


@pytest.mark.parametrize(
    ("error", "code"), [(BooksDoNotClose("heat."), 3), (KeyboardInterrupt(), 130), (ZeroDivisionError(), 3)]
)
def test_what_fails_leaves_nothing_behind(
    error: BaseException, code: int, call: Call, my_tour: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise error

    monkeypatch.setattr("budget.report.page.page", fail)
    ended = call("run", my_tour)
    assert (ended.code, ended.out, files()) == (code, "", {my_tour})


def test_a_first_compilation_is_announced(call: Call, my_tour: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("budget.compiled.is_compiled", lambda: False)
    assert "compiling the engine once, which takes about half a minute" in call("run", my_tour, "--json").err
    assert call("run", my_tour, "--json", "-q").err == ""


def test_colour_is_left_out_where_it_is_not_wanted() -> None:
    """On a terminal that has colour, NO_COLOR keeps bold but no colour; into a file nothing at all."""
    done = subprocess.run([sys.executable, "-m", "budget", "check", "-q"], capture_output=True, text=True, check=True)
    assert "\x1b" not in done.stdout


@pytest.mark.parametrize(
    ("value", "said"), [(0.0, "0 kg"), (0.1, "under 0.5 kg"), (0.26, "0.5 kg"), (11.2, "11 kg"), (11.3, "11.5 kg")]
)
def test_kilograms_are_said_in_halves(value: float, said: str) -> None:
    assert kilograms(value) == said


@pytest.mark.parametrize(
    ("margin_k", "said"),
    [
        (2.9, "2 K left"),
        (0.9, "under 1 K left"),
        (-0.3, "under 1 K below its limit"),
        (-3.2, "4 K below its limit"),
    ],
)
def test_a_margin_is_said_as_what_is_left_and_rounded_down(margin_k: float, said: str) -> None:
    assert summary.margin_words(margin_k) == said
