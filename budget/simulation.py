"""The table of contents: van + tour + weather -> engine -> result."""

from __future__ import annotations

from pathlib import Path

from budget.engine.batch import run_one
from budget.engine.hour_arrays import draw_records, hour_records, weather_array
from budget.engine.van_arrays import build_van
from budget.errors import InputFault
from budget.results.result import Result
from budget.tour.model import Tour
from budget.tour.timeline import Timeline
from budget.van.model import Van
from budget.weather.record import HourlyWeather
from budget.weather.sun import planes
from budget.weather.tour_weather import for_tour


def simulate(
    van: Van,
    tour: Tour,
    weather: HourlyWeather | None = None,
    *,
    folder: Path = Path("."),
    weather_file: Path | None = None,
) -> Result:
    """Simulate a tour hour by hour.

    Parameters
    ----------
    van, tour : As read from a tour file by ``budget.load``, or built in Python.
    weather : One row for each hour of the tour; none: made from what the tour says.
    folder : Folder that weather file names are relative to.
    weather_file : A weather file that serves for every stop instead of what the tour says.

    Returns
    -------
    Result. InputFault when the parts do not fit together; BooksDoNotClose, an internal fault, when a balance is off
    by more than 1e-9 of an hour's gross flow.
    """
    timeline = Timeline.of(tour, [o.name for o in van.cabin.openings], [z.name for z in van.cabin.zones])
    if weather is None:
        weather = for_tour(tour, timeline, folder=folder, file_for_all=weather_file)
    elif len(weather.index) != len(timeline.index) or (weather.index != timeline.index).any():
        raise InputFault(
            f"weather: must have one row for each of the tour's {len(timeline.index)} hours from "
            f"{timeline.index[0].isoformat()}, got {len(weather.index)} from {weather.index[0].isoformat()}; "
            "make it with for_tour, or leave it out."
        )
    built = build_van(van, len(timeline.draw_s))
    hours, wishes = hour_records(built, timeline), draw_records(timeline)
    rows = weather_array(weather.values(), timeline, planes(weather, timeline, van))
    many = run_one(built, hours, rows, wishes)
    result = Result(van, tour, timeline, weather, built, hours, wishes, rows, many)
    result.balance.must_close()
    return result
