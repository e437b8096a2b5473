"""Three nights of the demo tour at its first stop off the grid, quick enough to be run many times."""

from __future__ import annotations

import datetime as dt
from functools import lru_cache

import numpy as np
import pandas as pd

from budget.answers.prepared import Prepared
from budget.tour.model import Tour
from budget.tour.reader import load
from budget.weather.record import COLUMNS, HourlyWeather

START = dt.datetime(2027, 1, 12, 12, 0)


@lru_cache(maxsize=4)
def small(nights: int = 3) -> Prepared:
    """The demo van parked for some nights without hook-up, no drives, on the demo's weather."""
    loaded = load(None)
    stop = loaded.tour.stops[1].model_copy(update={"arrive": START, "depart": None, "drive_h": 0.0, "hookup_a": 0.0})
    no_snow = loaded.tour.habits.model_copy(update={"snow_days": ()})
    dates = {"start": START, "end": START + dt.timedelta(days=nights), "drying": (), "away": ()}
    tour: Tour = loaded.tour.model_copy(update={**dates, "stops": (stop,), "habits": no_snow})
    return Prepared.of(loaded.van, tour, folder=loaded.folder, described=loaded.description)


def steady(outdoor_c: float, nights: int = 3) -> Prepared:
    """The same in weather that never changes: 85 % of humidity, 3 m/s, no sun, an overcast sky."""
    prepared = small(nights)
    values = (outdoor_c, 85.0, 3.0, 101_325.0, 0.0, 0.0, 0.0, outdoor_c - 2.0)
    index = prepared.timeline.index
    frame = pd.DataFrame(np.tile(values, (len(index), 1)), columns=list(COLUMNS), index=index)
    weather = HourlyWeather(
        frame=frame, notices=(), source="steady", latitude_deg=57.9, longitude_deg=24.4, altitude_m=4.0
    )
    return Prepared.of(prepared.van, prepared.tour, weather, folder=prepared.folder, described=prepared.described)
