"""Three nights of the demo tour at its first stop off the grid, quick enough to be run many times."""

from __future__ import annotations

import datetime as dt
from functools import lru_cache

import numpy as np
import pandas as pd

from budget.answers.prepared import Prepared
from budget.tour.model import Tour
from budget.tour.reader import Loaded, load
from budget.tour.timeline import Timeline
from budget.weather.record import COLUMNS, HourlyWeather

START = dt.datetime(2027, 1, 12, 12, 0)


def parked(nights: int, start: dt.datetime) -> tuple[Loaded, Tour]:
    """The demo, and its van parked for some nights without hook-up, no drives."""
    loaded = load(None)
    stop = loaded.tour.stops[1].model_copy(update={"arrive": start, "depart": None, "drive_h": 0.0, "hookup_a": 0.0})
    no_snow = loaded.tour.habits.model_copy(update={"snow_days": ()})
    dates = {"start": start, "end": start + dt.timedelta(days=nights), "drying": (), "away": ()}
    tour: Tour = loaded.tour.model_copy(update={**dates, "stops": (stop,), "habits": no_snow})
    return loaded, tour


@lru_cache(maxsize=4)
def small(nights: int = 3) -> Prepared:
    """The demo van parked for some nights without hook-up, no drives, on the demo's weather."""
    loaded, tour = parked(nights, START)
    return Prepared.of(loaded.van, tour, folder=loaded.folder, described=loaded.description)


def steady(outdoor_c: float, nights: int = 3, start: dt.datetime = START) -> Prepared:
    """The same in weather that never changes: 85 % of humidity, 3 m/s, no sun, an overcast sky."""
    loaded, tour = parked(nights, start)
    values = (outdoor_c, 85.0, 3.0, 101_325.0, 0.0, 0.0, 0.0, outdoor_c - 2.0)
    index = Timeline.of(tour).index
    frame = pd.DataFrame(np.tile(values, (len(index), 1)), columns=list(COLUMNS), index=index)
    weather = HourlyWeather(
        frame=frame, notices=(), source="steady", latitude_deg=57.9, longitude_deg=24.4, altitude_m=4.0
    )
    return Prepared.of(loaded.van, tour, weather, folder=loaded.folder, described=loaded.description)
