"""A short, crowded tour for tests to loop over; all invented."""

from __future__ import annotations

from typing import Any

from budget.tour.model import Tour
from budget.van.model import Van

WEATHERS: dict[str, dict[str, Any]] = {
    "cold_snap": {"source": "csv", "file": "sample:cold_snap.csv"},
    "gulf_of_riga": {"source": "csv", "file": "sample:gulf_of_riga_january.csv"},
    "invented_station": {"source": "typical-year", "file": "invented_station.epw"},
    "clear_sky": {"source": "clear-sky"},
}


def short_tour(van: Van, weather: str = "cold_snap", **changes: Any) -> Tour:
    """Three nights with a drive, a ferry, hook-up, off-grid, exchange, refill, showers, meals and wet kit.

    ``changes`` replace whole parts of the tour; openings and zones are the van's own.
    """
    bottles = {bottle.name for bottle in van.gas.bottles}
    parts: dict[str, Any] = {
        "title": "short",
        "timezone": "Europe/Riga",
        "start": "2027-01-20T12:00:00",
        "end": "2027-01-23T12:00:00",
        "start_inside_c": 12.0,
        "weather": WEATHERS[weather],
        "schedule": "usual",
        "schedules": {
            "usual": {
                "steps": [
                    {"at": "06:00", "air_c": 20.0, "water_c": 60.0},
                    {"at": "22:00", "air_c": 14.0, "water_c": "off"},
                ]
            }
        },
        "draws": [
            {"use": "shower", "at": "07:10", "litres_l": 9.0},
            {"use": "dishes", "at": "20:05", "litres_l": 5.0, "tap_c": 42.0},
        ],
        "cooking": [
            {"at": "19:00", "minutes_min": 30.0, "electric_on_hookup": True},
            {"at": "07:30", "minutes_min": 15.0},
        ],
        "drying": [{"at": "2027-01-21T17:00:00", "water_kg": 1.5, "zone": van.cabin.zones[-1].name}],
        "habits": {
            "rooflight_open": ["19:00-20:00"],
            "extract_fan": ["07:00-08:00"],
            "closed": {opening.name: ["20:00-08:00"] for opening in van.cabin.openings},
        },
        "stops": [
            {
                "place": "first",
                "latitude_deg": 58.2,
                "longitude_deg": 22.5,
                "altitude_m": 5.0,
                "arrive": "2027-01-20T12:00:00",
            },
            {
                "place": "second",
                "latitude_deg": 58.5,
                "longitude_deg": 23.0,
                "altitude_m": 15.0,
                "arrive": "2027-01-21T15:00:00",
                "drive_h": 2.0,
                "ferry_h": 1.0,
                "hookup_a": 10.0,
                "exchange": [{"bottle": name, "open": ["00:00-24:00"]} for name in sorted(bottles)],
            },
            {
                "place": "third",
                "latitude_deg": 58.1,
                "longitude_deg": 24.5,
                "altitude_m": 4.0,
                "arrive": "2027-01-22T14:00:00",
                "drive_h": 1.5,
            },
        ],
    }
    return Tour.model_validate(parts | changes)
