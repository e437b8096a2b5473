"""Where the numbers are from: assumptions, data, versions, and the hash of the input."""

from __future__ import annotations

from typing import TYPE_CHECKING

from budget.answers.heated import loss_cases
from budget.report.section import Section, Table
from budget.report.words import named
from budget.results.provenance import input_hash, versions
from budget.van.derived import numbers
from budget.wording import plain

if TYPE_CHECKING:
    from budget.results.result import Result


def assumptions(result: Result) -> Section:
    """The numbers that the description turned into."""
    shown = [*loss_cases(result.van, result.timeline, result.weather), *numbers(result.van)]
    rows = tuple((named(row.name), plain(row.value), row.unit, row.note) for row in shown)
    learned = () if result.tour.learned is None else (result.tour.learned.sentence,)
    return Section(
        "What was assumed?",
        "The numbers that your description turned into; each can be overwritten in the tour file.",
        None,
        Table(("quantity", "value", "unit", "how"), rows),
        ("What you did not give is common practice of the trade or rough measurement, without a source.", *learned),
    )


def on_the_map(latitude_deg: float, longitude_deg: float, altitude_m: float) -> str:
    """A place as maps have it: 53.16° S, 70.91° W, 4 m."""
    north, east = "S" if latitude_deg < 0.0 else "N", "W" if longitude_deg < 0.0 else "E"
    return f"{abs(latitude_deg):.2f}° {north}, {abs(longitude_deg):.2f}° {east}, {altitude_m:.0f} m"


def sources(result: Result) -> tuple[str, ...]:
    """Sentences on the data and on what produced the page."""
    weather = result.weather
    place = on_the_map(weather.latitude_deg, weather.longitude_deg, weather.altitude_m)
    balance = result.balance.largest_residual_fraction
    made_with = ", ".join(f"{name} {number}" for name, number in versions().items())
    told = [
        f"Weather: {weather.source} ({place}).",
        f"The books of heat, gas, charge, water and vapour close to {balance:.0e} of the hour's flows.",
        f"Input {input_hash(result.van, result.tour, result.weather_rows)}. {made_with}.",
    ]
    return (*(["Invented: the plan and the data of this tour are made up."] if result.tour.invented else []), *told)
