"""``budget weather``."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from budget.cli.common import PATH, print_json, say
from budget.errors import InputFault

if TYPE_CHECKING:
    from budget.weather.record import HourlyWeather

_NUMBER = r"\s*[+-]?\d+(?:\.\d+)?\s*"
_PLACE = re.compile(rf"^({_NUMBER}),({_NUMBER})(?:,({_NUMBER}))?$")


class _SouthToo(click.Command):
    """A command whose argument may begin with a minus: -33.9,18.4 is a place, not an option."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        return super().parse_args(ctx, [f" {word}" if _PLACE.match(word) else word for word in args])


@click.command("weather", cls=_SouthToo, epilog="Example:  budget weather 58.25,22.48 --csv saaremaa.csv")
@click.argument("what", metavar="FILE|LAT,LON[,ALT]")
@click.option("--csv", "csv_file", type=PATH, metavar="OUT", help="Write the record as CSV in the documented columns.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object and nothing else.")
@click.option(
    "--timezone", metavar="ZONE", help="IANA zone of a CSV's times without offset.  [default: the file's own, else UTC]"
)
@click.option(
    "--year",
    type=click.IntRange(1900, 2200),
    metavar="YEAR",
    default=2027,
    show_default=True,
    help="Year that a typical or clear-sky year is laid on.",
)
@click.option("--place", metavar="LAT,LON,ALT", help="Place, instead of the file's own [°, °, m].")
@click.option("-q", "--quiet", is_flag=True, help="No talk.")
def command(
    *, what: str, csv_file: Path | None, as_json: bool, timezone: str | None, year: int, place: str | None, quiet: bool
) -> None:
    """Show a weather record: a FILE of any known kind, or clear-sky weather at latitude, longitude [and altitude].

    Files are known by their content: EPW, TMY3, TMY2, PVGIS, NSRDB and SAM, or a CSV of your own (budget help
    weather). A packaged record is named sample:NAME. --csv converts any of them.
    """
    record = _record(what.strip(), timezone, year, place)
    if csv_file is not None:
        from budget.cli.output import write_file, write_text
        from budget.weather.read import to_csv

        text = to_csv(record)
        write_file(csv_file, lambda beside: write_text(beside, text))
        if not quiet:
            say(f"wrote {csv_file}, {len(record.index)} hours")
    from budget.weather.read import describe

    described = describe(record)
    if as_json:
        print_json(described)
    else:
        _draw(described)


def _record(what: str, timezone: str | None, year: int, place: str | None) -> HourlyWeather:
    zone = _zone(timezone)
    latitude: float | None = None
    longitude: float | None = None
    altitude: float | None = None
    if place is not None:
        latitude, longitude, altitude = _place(place, "--place")
    if _PLACE.match(what) and not Path(what).exists():
        from budget.weather.read import clear_sky_year

        latitude, longitude, altitude = _place(what, "LAT,LON")
        return clear_sky_year(latitude, longitude, altitude or 0.0, timezone=zone or "UTC", year=year)
    from budget.tour.files import resolve_file
    from budget.weather.read import read_any

    file = resolve_file(what, Path()) if what.startswith("sample:") else Path(what)
    return read_any(file, timezone=zone, year=year, latitude_deg=latitude, longitude_deg=longitude, altitude_m=altitude)


def _place(written: str, name: str) -> tuple[float, float, float | None]:
    found = _PLACE.match(written)
    if found is None:
        raise InputFault(f'{name} must be latitude, longitude and altitude such as 58.25,22.48,4, got "{written}".')
    place = tuple(float(number) for number in found.groups() if number)
    limits = (("latitude", 90.0, -90.0, "°"), ("longitude", 180.0, -180.0, "°"), ("altitude", 6000.0, -450.0, "m"))
    for number, (what, high, low, unit) in zip(place, limits, strict=False):
        if not low <= number <= high:
            raise InputFault(f"{name}: {what} must be from {low:g} to {high:g} {unit}, got {number:g}; correct it.")
    return place[0], place[1], place[2] if len(place) == 3 else None


def _zone(name: str | None) -> str | None:
    if name is None:
        return None
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

    try:
        return ZoneInfo(name).key
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise InputFault(
            f'--timezone must be an IANA time zone such as Europe/Riga, got "{name}"; correct it.'
        ) from None


def _draw(described: dict[str, Any]) -> None:
    from budget.cli import terminal

    shown = terminal.console()
    place = f"{described['latitude_deg']:g}°, {described['longitude_deg']:g}°, {described['altitude_m']:g} m"
    terminal.headline(shown, f"{described['source']} ({place})")
    shown.print(f"{described['start']} to {described['end']}, {described['hours']} hours\n")
    terminal.table(
        shown,
        "By month",
        [
            (
                month["month"],
                str(month["hours"]),
                *(f"{month['temp_air'][kind]:.1f}" for kind in ("min", "mean", "max")),
                f"{month['wind_speed_mean']:.1f}",
                f"{month['relative_humidity_mean']:.0f}",
                f"{month['ghi_kwh_per_m2_per_day']:.2f}",
            )
            for month in described["months"]
        ],
        ("month", "hours", "min °C", "mean °C", "max °C", "wind m/s", "RH %", "sun kWh/m² day"),
        right=(1, 2, 3, 4, 5, 6, 7),
    )
    terminal.notices(shown, described["notices"], "Estimated")
