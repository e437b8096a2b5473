"""Weather and logs with changed bytes, every kind that is read: a night whose books close, or a sentence."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pvlib
import pytest
from conftest import compile_engine
from mutations import bytes_mutated, documents, toml
from typical_years import MADE
from verdict import RAN, REFUSED, verdict

from budget.answers.measured.learn import answer as learn
from budget.answers.measured.log_file import LogFile
from budget.answers.measured.logged_night import lay_out
from budget.results.result import Result
from budget.simulation import simulate
from budget.tour.reader import Loaded, load

SAMPLES = Path(__file__).parents[2] / "weather_samples"
PVLIB_DATA = Path(pvlib.__file__).parent / "data"
PUBLISHED = ("703165TY.csv", "723170TYA.CSV", "12839.tm2")


@cache
def years() -> dict[str, bytes]:
    """A whole typical year of every kind."""
    made = {name: text.encode() for name, (text, _) in MADE.items()}
    found = {name: (PVLIB_DATA / name).read_bytes() for name in PUBLISHED}
    return made | found | {"invented_station.epw": (SAMPLES / "invented_station.epw").read_bytes()}


@cache
def records() -> dict[str, bytes]:
    """The sample CSVs, and one as a spreadsheet of another country would write it."""
    found = {path.name: path.read_bytes() for path in sorted(SAMPLES.glob("*.csv"))}
    snap = found["cold_snap.csv"].decode()
    return found | {"semicolons.csv": snap.replace(",", ";").replace(".", ",").encode("utf-8-sig")}


@cache
def log() -> bytes:
    """A night's cool-down, heated on a meter towards its end."""
    rows = ["# timezone: Europe/Riga", "# wind_m_per_s: 2", "time,inside_c,outside_c,heater_w,mains_kwh"]
    for quarter in range(60):
        day, hour = (9, 18 + quarter // 4) if quarter < 24 else (10, quarter // 4 - 6)
        watts = 500 if quarter > 40 else 0
        inside_c = -5.0 + 25.0 * 0.97**quarter
        kwh = 1.0 + 0.125 * max(0, quarter - 40)
        rows.append(f"2027-01-{day:02d} {hour:02d}:{15 * (quarter % 4):02d},{inside_c:.2f},-5.0,{watts},{kwh:.3f}")
    return ("\n".join(rows) + "\n").encode()


@pytest.fixture(scope="module", autouse=True)
def compiled() -> None:
    """Before the first case, whose time would else be that of the compilation."""
    compile_engine()


@pytest.fixture(scope="module")
def one_night(tmp_path_factory: pytest.TempPathFactory) -> Loaded:
    tour = tmp_path_factory.mktemp("fuzz") / "tour.toml"
    tour.write_text(toml(documents()[1]), "utf-8")
    return load(tour)


Act = Callable[[Path], Result | None]


def fuzzed(raws: dict[str, bytes], first: int, count: int, folder: Path, act: Act) -> Counter[str]:
    """Verdicts over files with changed bytes, each kind in turn, one seed and one file name a case."""
    told: Counter[str] = Counter()
    names = sorted(raws)
    for seed in range(first, first + count):
        path = folder / f"{seed}-{names[seed % len(names)]}"
        path.write_bytes(bytes_mutated(raws[names[seed % len(names)]], random.Random(seed)))
        try:
            told[verdict(lambda path=path: act(path))] += 1
        except BaseException as error:
            error.add_note(f"seed {seed}, {path.name}")
            raise
        path.unlink()
    return told


def in_weather(loaded: Loaded) -> Act:
    return lambda path: simulate(loaded.van, loaded.tour, weather_file=path)


def laid_out(path: Path) -> None:
    lay_out(LogFile.read(path, "Europe/Riga"), 57.9, 24.4)


def learned(loaded: Loaded) -> Act:
    def act(path: Path) -> None:
        learn(loaded.van, loaded.tour, [LogFile.read(path, "Europe/Riga")], described=loaded.description).as_dict()

    return act


def test_what_is_changed_is_good(one_night: Loaded, tmp_path: Path) -> None:
    """Each record carries a night and the log is read, before anything is changed; years are read elsewhere."""
    for name, raw in records().items():
        (tmp_path / name).write_bytes(raw)
        assert in_weather(one_night)(tmp_path / name).balance.largest_residual_fraction <= 1e-9
    (tmp_path / "log.csv").write_bytes(log())
    laid_out(tmp_path / "log.csv")


def test_a_weather_csv_with_changed_bytes(one_night: Loaded, tmp_path: Path) -> None:
    told = fuzzed(records(), 0, 40, tmp_path, in_weather(one_night))
    assert min(told[RAN], told[REFUSED]) >= 4


def test_a_typical_year_with_changed_bytes(one_night: Loaded, tmp_path: Path) -> None:
    """One of each kind."""
    told = fuzzed(years(), 0, len(years()), tmp_path, in_weather(one_night))
    assert min(told[RAN], told[REFUSED]) >= 2


def test_a_log_with_changed_bytes(tmp_path: Path) -> None:
    told = fuzzed({"log.csv": log()}, 0, 40, tmp_path, laid_out)
    assert min(told[RAN], told[REFUSED]) >= 4


@pytest.mark.long
def test_two_thousand_weather_csvs(one_night: Loaded, tmp_path: Path) -> None:
    told = fuzzed(records(), 1_000_000, 2000, tmp_path, in_weather(one_night))
    assert min(told[RAN], told[REFUSED]) >= 200


@pytest.mark.long
@pytest.mark.parametrize("name", [*MADE, *PUBLISHED, "invented_station.epw"])
def test_a_hundred_typical_years_of_each_kind(name: str, one_night: Loaded, tmp_path: Path) -> None:
    told = fuzzed({name: years()[name]}, 1_000_000, 100, tmp_path, in_weather(one_night))
    assert min(told[RAN], told[REFUSED]) >= 5


@pytest.mark.long
def test_two_thousand_logs(one_night: Loaded, tmp_path: Path) -> None:
    """All are laid out; of a hundred more the van is learned, seconds each."""
    told = fuzzed({"log.csv": log()}, 1_000_000, 2000, tmp_path, laid_out)
    assert min(told[RAN], told[REFUSED]) >= 200
    fuzzed({"log.csv": log()}, 2_000_000, 100, tmp_path, learned(one_night))
