"""Claims about where winters come from: the climate, a typical year, or the winters of a record of many years."""

from __future__ import annotations

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
