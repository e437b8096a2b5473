"""Generated winters against real hours: the typical years of Sand Point and Greensboro that pvlib carries.

Both are TMY3 files of the U.S. National Renewable Energy Laboratory (Wilcox and Marion, NREL/TP-581-43156, 2008),
packaged with pvlib as test data: 703165TY.csv (Sand Point, Alaska: a cold, windy coast) and 723170TYA.CSV (Greensboro,
North Carolina: inland, changeable).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
import pytest

from budget.weather.generator import CLOUD, SCALES_H, TEMPERATURE, WIND, normal_of, process_of
from budget.weather.sky import cloud_from_irradiance
from budget.weather.sun import Sun, clear_sky
from budget.weather.typical_year import TypicalYear

DATA = Path(pvlib.__file__).parent / "data"
FILES = {"Sand Point": "703165TY.csv", "Greensboro": "723170TYA.CSV"}
WINTER = pd.date_range("2026-11-16", "2027-03-15 23:00", freq="h", tz="UTC")
WINTERS = 200
THREE_DAYS_H = 72


class Station:
    """A station's winter, its departures from normal, and winters generated from it alone."""

    def __init__(self, name: str) -> None:
        record = TypicalYear.read(DATA / FILES[name]).on(WINTER)
        self.frame = record.frame
        sun = Sun.over(WINTER, record.latitude_deg, record.longitude_deg)
        self.clear = clear_sky(sun, record.altitude_m)[0]
        self.process = process_of(record.frame, self.clear, season_sd_k=0.0, usual=None)
        normal = normal_of(record.frame, WINTER)
        self.departure_k = record.frame["temp_air"].to_numpy(dtype=float) - normal.level_c - normal.wave_c
        self.paths = self.process.draw(0, WINTERS, len(WINTER), seed=5)
        self.generated_k = self.process.temperature_k(self.paths)


@pytest.fixture(scope="module", params=list(FILES))
def station(request: pytest.FixtureRequest) -> Station:
    return Station(request.param)


def three_day_means(hourly: np.ndarray) -> np.ndarray:
    sums = np.cumsum(np.pad(hourly, ((0, 0), (1, 0))), axis=1)
    return (sums[:, THREE_DAYS_H:] - sums[:, :-THREE_DAYS_H]) / THREE_DAYS_H


def test_three_day_means_spread_as_those_of_the_record(station: Station) -> None:
    """One winter of 120 days holds about 20 independent three-day means (they persist), whose own standard deviation
    is known to about 1 / sqrt(2 · 20) = 16 %."""
    recorded = three_day_means(station.departure_k[np.newaxis]).std()
    assert three_day_means(station.generated_k).std() == pytest.approx(recorded, rel=0.16)


def test_the_coldest_three_days_of_the_record_are_such_as_nine_in_ten_generated_winters_hold(station: Station) -> None:
    coldest = three_day_means(station.departure_k[np.newaxis]).min()
    low, high = np.quantile(three_day_means(station.generated_k).min(axis=1), (0.05, 0.95))
    assert low <= coldest <= high


def test_the_closed_form_of_the_three_day_spread_is_what_is_generated(station: Station) -> None:
    """2 % for 200 winters of some 20 independent spells each, 1 / sqrt(2 · 4000) = 1.1 %, and the skewed transform,
    whose square term forgets twice as fast as the process: at skew 0.6 it holds 2 % of the variance."""
    assert station.process.mean_sd_k(THREE_DAYS_H) == pytest.approx(
        three_day_means(station.generated_k).std(), rel=0.04
    )


def test_a_day_remembers_the_day_before_as_in_the_record(station: Station) -> None:
    """The correlation of 119 pairs of days is known to (1 - r²) / sqrt(119 (1 - r²) / (1 + r²)) or about 0.08 at 0.7;
    twice that is allowed."""

    def of_days(hourly: np.ndarray) -> float:
        daily = hourly.reshape(-1, len(WINTER) // 24, 24).mean(axis=2)
        return float(np.mean([np.corrcoef(d[1:], d[:-1])[0, 1] for d in daily]))

    assert of_days(station.generated_k) == pytest.approx(of_days(station.departure_k[np.newaxis]), abs=0.16)


def test_hours_spread_as_those_of_the_record(station: Station) -> None:
    """The spread is taken from the record; 200 winters hold it to 2 %."""
    assert station.generated_k.std() == pytest.approx(station.departure_k.std(), rel=0.02)


def test_cloud_has_the_mean_and_the_extremes_of_the_record(station: Station) -> None:
    """Cloud from irradiance, hours with a clear-sky 50 W/m² and more. The mean is given to the beta distribution; its
    spread is fitted. 0.05 stands for the uneven hours of a single winter and for 0.97, where the mean is capped."""
    tells = station.clear > 50.0
    recorded = cloud_from_irradiance(station.frame["ghi"].to_numpy(dtype=float), station.clear, 0.7)[tells]
    generated = station.process.cloud(station.paths, float(recorded.mean()))
    assert generated.mean() == pytest.approx(recorded.mean(), abs=0.02)
    assert generated.std() == pytest.approx(recorded.std(), abs=0.05)


@pytest.mark.parametrize(("one", "other"), [(TEMPERATURE, WIND), (TEMPERATURE, CLOUD)])
def test_what_belongs_together_in_the_record_belongs_together_in_the_winters(
    station: Station, one: int, other: int
) -> None:
    """Correlation of normal scores hour by hour; one winter knows it to about 0.15 (some 40 independent days), and
    shocks cannot carry more than 0.9 of what the forgetting times leave in common."""
    recorded = float(
        station.process.together[one, other]
        * np.sqrt(station.process.weights[one] * station.process.weights[other]).sum()
    )
    generated = float((station.paths[:, one] * station.paths[:, other]).mean())
    assert generated == pytest.approx(recorded, abs=0.03)


def test_the_forgetting_times_hold_all_of_the_variance(station: Station) -> None:
    assert station.process.weights.shape == (4, len(SCALES_H))
    np.testing.assert_allclose(station.process.weights.sum(axis=1), 1.0, rtol=1e-12)  # rounding
