"""``budget check``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from budget.cli.common import Asked, about_a_tour

if TYPE_CHECKING:
    from budget.tour.reader import Loaded
    from budget.tour.timeline import Timeline
    from budget.van.derived import Row
    from budget.weather.record import HourlyWeather


@click.command("check", epilog="Example:  budget check my-tour.toml")
@about_a_tour
def command(asked: Asked) -> None:
    """Check the tour file TOUR (none: the demo tour) and show the numbers that the description turned into.

    The file, the dates and the weather are checked: what passes here can be run. Shown are the heat loss of every
    element and of the van as it is heated [W/K], heat capacities, air exchange, water, electricity, gas and load, and
    what was assumed. A warning says where heater or bottles are too small for the tour's hardest hour, the battery for
    a stay off the grid, or the gas for the tour.
    """
    loaded = asked.load()
    from budget.answers.heated import loss_cases
    from budget.van.derived import numbers

    timeline, weather = _on_the_way(asked, loaded)
    weather_notices, warnings = _weather(loaded, timeline, weather)
    rows = [*loss_cases(loaded.van, timeline, weather), *numbers(loaded.van)]
    data = as_data(loaded, rows, weather_notices, warnings)
    asked.show(data, lambda: _draw(loaded, rows, weather_notices, warnings, asked.verbose))


def _on_the_way(asked: Asked, loaded: Loaded) -> tuple[Timeline, HourlyWeather]:
    """The tour by the hour and its weather; InputFault where the weather does not cover the tour."""
    from budget.answers.prepared import timeline_of
    from budget.weather.tour_weather import for_tour

    timeline = timeline_of(loaded.van, loaded.tour)
    return timeline, for_tour(loaded.tour, timeline, folder=loaded.folder, file_for_all=asked.weather)


def _weather(loaded: Loaded, timeline: Timeline, weather: HourlyWeather) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Notices of way and weather, and what is too small for them."""
    from budget.answers.enough import warnings
    from budget.tour.distance import too_far

    return (*too_far(loaded.tour), *weather.notices), warnings(loaded.van, timeline, weather)


def as_data(
    loaded: Loaded, rows: list[Row], weather_notices: tuple[str, ...], warnings: tuple[str, ...] = ()
) -> dict[str, Any]:
    """The checked numbers as plain data."""
    tour = loaded.tour
    from budget.van.ranges import ranges

    return {
        "tour": {
            "title": tour.title,
            "start": tour.start.isoformat(),
            "end": tour.end.isoformat(),
            "nights": (tour.end.date() - tour.start.date()).days,
            "stops": [stop.place for stop in tour.stops],
        },
        "van": {"title": loaded.van.title, "zones": [zone.name for zone in loaded.van.cabin.zones]},
        "numbers": [{"name": row.name, "value": row.value, "unit": row.unit, "note": row.note} for row in rows],
        "ranges": {
            name: {"low": found.low, "base": found.base, "high": found.high, "meaning": found.meaning}
            for name, found in ranges(loaded.description or loaded.van, loaded.tour.learned).items()
        },
        "warnings": list(warnings),
        "notices": [*_assumed(loaded), *weather_notices],
    }


def _draw(
    loaded: Loaded, rows: list[Row], weather_notices: tuple[str, ...], warnings: tuple[str, ...], verbose: int
) -> None:
    from budget.cli import terminal

    tour, shown = loaded.tour, terminal.console()
    nights, stops = (tour.end.date() - tour.start.date()).days, len(tour.stops)
    lasts = f"{nights} night{'' if nights == 1 else 's'}, {stops} stop{'' if stops == 1 else 's'}"
    terminal.headline(shown, f"{tour.title}: {lasts}. It can be run.")
    terminal.notices(shown, warnings, "Too small")
    for group in dict.fromkeys(row.group for row in rows):
        terminal.table(
            shown,
            group,
            [
                (
                    row.name.replace("_", " "),
                    f"{row.value:.3g}" if abs(row.value) < 100 else f"{row.value:.0f}",
                    row.unit,
                    row.note,
                )
                for row in rows
                if row.group == group
            ],
            right=(1,),
        )
    if verbose:
        from budget.van.ranges import ranges

        found = ranges(loaded.description or loaded.van, loaded.tour.learned).values()
        terminal.table(
            shown,
            "How far the uncertain numbers may lie from these",
            [(entry.meaning, f"{entry.low:.2f}", f"{entry.high:.2f}") for entry in found],
            ("what", "P10 ×", "P90 ×"),
            right=(1, 2),
        )
    terminal.notices(shown, [*_assumed(loaded), *weather_notices])


def _assumed(loaded: Loaded) -> tuple[str, ...]:
    """What a log said, where it did, and what was assumed in reading the file."""
    learned = loaded.tour.learned
    return loaded.notices if learned is None else (learned.sentence, *loaded.notices)
