"""Claims about where winters come from: the climate, a typical year, or the winters of a record of many years."""

from __future__ import annotations

import datetime as dt
from functools import lru_cache
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
import pytest
from small_tour import START, small

from budget.answers import odds
from budget.answers.ensemble import InTurn
from budget.answers.prepared import Prepared
from budget.tour.climate import WeatherChoice
from budget.tour.reader import load
from budget.tour.timeline import Timeline
from budget.weather.generator import SCALES_H, SEASON_SD_K, USUAL, Process, with_season
from budget.weather.winters import Winters, _in_year

SAND_POINT = Path(pvlib.__file__).parent / "data" / "703165TY.csv"
COLD = Path(__file__).parents[2] / "weather_samples" / "cold_snap.csv"
WINTERS = 400


def on(choice: WeatherChoice, folder: Path = Path(), nights: int = 3) -> tuple[Prepared, Winters]:
    base = small(nights)
    tour = base.tour.model_copy(update={"weather": choice})
    prepared = Prepared.of(base.van, tour, folder=folder)
    return prepared, Winters.of(tour, prepared.timeline, prepared.weather, folder=folder)


@lru_cache(maxsize=1)
def of_climate() -> tuple[Prepared, Winters]:
    return on(WeatherChoice())


def test_a_tour_with_dated_days_is_laid_on_other_years_too() -> None:
    """What is dated otherwise than by a stop, absences, wet kit and snow, stays in its own year."""
    tour = load(None).tour
    assert tour.drying and tour.habits.snow_days
    assert Timeline.of(_in_year(tour, -3)).index[0].year == 2024


def test_winters_about_a_climate_have_its_mean() -> None:
    """The mean of 400 winters is known to 4.5 K / sqrt(400), 0.23 K (three days of one winter hang together); three
    of those are allowed. The wave, whose clouds flatten it, has zero mean."""
    prepared, winters = of_climate()
    generated = winters.values(0, WINTERS, 1)["temp_air"].mean()
    assert generated == pytest.approx(prepared.weather.frame["temp_air"].mean(), abs=0.7)


def test_the_mean_of_a_tour_spreads_as_the_closed_form_says() -> None:
    """The standard deviation of 400 independent winters is known to 1 / sqrt(800) = 3.5 %; three of those."""
    _, winters = of_climate()
    means = winters.values(0, WINTERS, 1)["temp_air"].mean(axis=1)
    assert means.std() == pytest.approx(winters.process.mean_sd_k(winters.values(0, 1, 1)["temp_air"].size), rel=0.11)


def test_without_a_record_the_notice_says_that_the_spread_is_from_memory() -> None:
    assert "from memory" in of_climate()[1].notices[0]


def test_a_typical_year_lends_its_own_level_and_the_spread_between_winters_is_added() -> None:
    """A typical year holds one winter of every month, so that its own weeks cannot show how winters differ."""
    prepared, winters = on(WeatherChoice(source="typical-year", file=str(SAND_POINT)))
    slowest = winters.process.temp_sd_k * np.sqrt(winters.process.weights[0, -1])
    assert slowest >= SEASON_SD_K - 1e-9
    assert winters.level_c.mean() > prepared.weather.frame["temp_air"].min()
    assert "703165TY.csv" in winters.notices[0]


def record_of_years(folder: Path, first: int, last: int) -> Path:
    """Winters whose temperature is their year's last two digits, in °C below 30."""
    path = folder / "years.csv"
    index = pd.date_range(f"{first}-01-01", f"{last}-12-31 23:00", freq="h", tz="Europe/Riga")
    lines = ["# latitude_deg: 58", "# longitude_deg: 24", "# altitude_m: 4", "# timezone: Europe/Riga", "time,temp_air"]
    lines += [f"{stamp.isoformat()},{stamp.year - 2030}" for stamp in index]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_a_record_of_many_years_serves_its_own_winters_each_as_often_as_any_other(tmp_path: Path) -> None:
    path = record_of_years(tmp_path, START.year - 4, START.year)
    prepared, winters = on(WeatherChoice(source="csv", file=path.name), tmp_path)
    values = winters.values(0, 10, 1)["temp_air"]
    years = range(START.year - 4, START.year + 1)
    np.testing.assert_allclose(values[:5].mean(axis=1), [year - 2030 for year in years], atol=0.05)  # altitude: 0.03 K
    np.testing.assert_array_equal(values[:5], values[5:])
    assert prepared.weather.frame["temp_air"].mean() == pytest.approx(START.year - 2030, abs=0.05)
    assert odds.answer(prepared, scenarios=2, executor=InTurn()).notices == (
        "odds: the 5 winters of the weather record, each as often as any other.",
    )


def test_a_record_of_few_years_is_no_ensemble(tmp_path: Path) -> None:
    path = record_of_years(tmp_path, START.year - 1, START.year)
    assert on(WeatherChoice(source="csv", file=path.name), tmp_path)[1].years is None


def two_stops(folder: Path, *own: WeatherChoice) -> tuple[Prepared, Winters]:
    """Two days at each of two places, the second reached in two hours."""
    base = small(4)
    first = base.tour.stops[0].model_copy(update={"weather": own[0]})
    second = first.model_copy(
        update={"place": "Cape", "arrive": START + dt.timedelta(days=2), "weather": own[1], "drive_h": 2.0}
    )
    tour = base.tour.model_copy(update={"stops": (first, second)})
    prepared = Prepared.of(base.van, tour, folder=folder)
    return prepared, Winters.of(tour, prepared.timeline, prepared.weather, folder=folder)


def record(folder: Path, name: str, from_h: int, to_h: int, mean_c: float, drift_k_per_h: float = 0.0) -> WeatherChoice:
    """A record of these hours of a tour alone: a mean, a daily wave of 3 K, and a drift about its middle."""
    times = pd.date_range(START, periods=to_h, freq="h", tz="Europe/Riga")[from_h:]
    ahead = np.arange(len(times)) - len(times) / 2.0
    temp_c = mean_c + 3.0 * np.cos((times.hour - 14) / 24.0 * 2.0 * np.pi) + drift_k_per_h * ahead
    rows = [f"{time.isoformat()},{value:.4f}" for time, value in zip(times, temp_c, strict=True)]
    (folder / name).write_text("\n".join(["time,temp_air", *rows]) + "\n", encoding="utf-8")
    return WeatherChoice(source="csv", file=name)


def test_stops_whose_records_hold_only_their_own_days_have_each_its_own_winters(tmp_path: Path) -> None:
    """The tour takes those records, so its odds do: each is asked for the hours of its stop and no others. Means of 400
    winters over a day are known to 0.3 K or better; 46 h of a wave that is no whole number of days move them by 0.2."""
    port, cape = record(tmp_path, "port.csv", 0, 48, -2.0, 0.05), record(tmp_path, "cape.csv", 46, 96, -14.0, 0.05)
    prepared, winters = two_stops(tmp_path, port, cape)
    temp_c = winters.values(0, WINTERS, 1)["temp_air"]
    assert temp_c[:, :46].mean() == pytest.approx(-2.0, abs=1.0)
    assert temp_c[:, 48:].mean() == pytest.approx(-14.0, abs=1.0)
    np.testing.assert_array_equal(winters.values(0, 3, 1)["temp_air"], temp_c[:3])
    np.testing.assert_array_equal(winters.values(2, 1, 1)["temp_air"][0], temp_c[2])
    assert np.isfinite(odds.answer(prepared, scenarios=2, executor=InTurn()).gas.p50)


def test_a_stop_with_a_record_beside_one_with_the_climate_has_odds_too(tmp_path: Path) -> None:
    prepared, winters = two_stops(tmp_path, WeatherChoice(), record(tmp_path, "cape.csv", 46, 96, -14.0, 0.05))
    climate = two_stops(tmp_path, WeatherChoice(), WeatherChoice())[1]
    np.testing.assert_array_equal(winters.level_c[:24], climate.level_c[:24])
    assert winters.values(0, WINTERS, 1)["temp_air"][:, 48:].mean() == pytest.approx(-14.0, abs=1.0)
    assert np.isfinite(odds.answer(prepared, scenarios=2, executor=InTurn()).gas.p50)


def test_a_record_that_says_no_place_of_its_own_is_read_at_the_stop(tmp_path: Path) -> None:
    """Its cloud is told from a sun over the pitch, two degrees away from the record's own place: 0.79 for 0.74. At the
    equator it would be 1."""
    sample = Path(__file__).parents[2] / "weather_samples" / "gulf_of_riga_january.csv"
    lines = sample.read_text("utf-8").splitlines(keepends=True)
    nowhere = tmp_path / "nowhere.csv"
    nowhere.write_text("".join(line for line in lines if "tude_" not in line), "utf-8")
    prepared = small()
    found = [
        Winters.of(prepared.tour, prepared.timeline, prepared.weather, folder=tmp_path, file_for_all=path).mean_cloud
        for path in (sample, nowhere)
    ]
    assert found[1] == pytest.approx(found[0], abs=0.06)


def test_hours_of_waiting_for_the_ferry_have_the_weather_of_the_place_behind(tmp_path: Path) -> None:
    """Six hours from leaving, five of them at the quay: the record of the place ahead is asked from the ferry on."""
    port, cape = record(tmp_path, "port.csv", 0, 48, -2.0), record(tmp_path, "cape.csv", 47, 96, -14.0)
    base, leaves = small(4), START + dt.timedelta(hours=42)
    first = base.tour.stops[0].model_copy(update={"weather": port, "depart": leaves})
    at = START + dt.timedelta(days=2)
    second = first.model_copy(
        update={"place": "Cape", "arrive": at, "depart": None, "weather": cape, "drive_h": 0.0, "ferry_h": 1.0}
    )
    tour = base.tour.model_copy(update={"stops": (first, second)})
    prepared = Prepared.of(base.van, tour, folder=tmp_path)
    winters = Winters.of(tour, prepared.timeline, prepared.weather, folder=tmp_path)
    assert winters.values(0, WINTERS, 1)["temp_air"][:, 42:47].mean() == pytest.approx(-2.0, abs=2.0)


def test_a_record_whose_days_are_all_alike_still_has_the_usual_spread(tmp_path: Path) -> None:
    """Its departures from its own normal are nothing, of which there is no skew."""
    _, winters = two_stops(tmp_path, *(record(tmp_path, "whole.csv", 0, 96, -5.0),) * 2)
    assert winters.values(0, WINTERS, 1)["temp_air"].std() > 3.0


def test_the_same_winter_goes_from_stop_to_stop() -> None:
    """One path for the whole tour: an hour's departure hangs together with that an hour before (the shortest part
    forgets in 3 h, and holds a fiftieth of the variance), across every change of stop."""
    prepared = small()
    winters = Winters.of(prepared.tour, prepared.timeline, prepared.weather, folder=prepared.folder)
    departures = winters.values(0, WINTERS, 1)["temp_air"] - winters.level_c
    for hour in range(1, departures.shape[1], 7):
        assert np.corrcoef(departures[:, hour - 1], departures[:, hour])[0, 1] > 0.95


def test_a_season_that_is_there_already_is_not_added_twice() -> None:
    wide = with_season(USUAL, 0.1)
    assert wide.temp_sd_k == pytest.approx(USUAL.temp_sd_k, rel=1e-12)  # rounding


def test_paths_are_standard_normal_and_remember_as_their_weights_say() -> None:
    """Of one part that forgets in 48 h: autocorrelation exp(-24 / 48) after a day. 400 paths of 480 h are some 4000
    independent values: 0.016 for a correlation, 0.011 for a spread; three of each."""
    weights = np.tile([0.0, 0.0, 1.0, 0.0, 0.0], (4, 1))
    process = Process(weights, np.eye(4), 1.0, 0.0, 0.5, 9.0, 1.2)
    paths = process.draw(0, WINTERS, 480, 1)[:, 0]
    assert paths.std() == pytest.approx(1.0, abs=0.035)
    lagged = float((paths[:, 24:] * paths[:, :-24]).mean())
    assert lagged == pytest.approx(np.exp(-24.0 / SCALES_H[2]), abs=0.05)


def test_another_van_or_tour_meets_the_winters_of_the_file_that_serves_for_all() -> None:
    """Not those of the tour's own file, of which the notice names as many days."""
    base = small(1)
    prepared = Prepared.of(base.van, base.tour, folder=base.folder, weather_file=COLD)
    own = prepared.winters()
    assert own.notices != base.winters().notices
    for other in (prepared.with_van(base.van), prepared.with_tour(base.tour)):
        assert other.winters().notices == own.notices
        assert (other.winters().level_c == own.level_c).all()
