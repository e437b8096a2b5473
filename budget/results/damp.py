"""Damp by zone, surface and night: hours wet, what condensed, what ran or was wiped off."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from budget.engine import arrays
from budget.engine.stepping import Floats
from budget.physics.properties import WATER_TO_AIR_RATIO, supercooled_saturation_pa
from budget.results.nights import noon_to_noon

if TYPE_CHECKING:
    from budget.results.result import Result

TRACE_G = 0.5  # less than this condensed in a night is left out of the nights' list


def damp_of(result: Result) -> dict[str, Any]:
    """By zone: humidity, hours with any surface wet, water condensed; the same by surface.

    Condensed is what came onto a surface in hours that left it with more, drying not taken off.
    """
    van = result.built.arrays[0]
    surfaces = result.columns("wet_s")
    found = {}
    for z, zone in enumerate(result.built.zone_names):
        here = [k for k in range(result.built.size.surfaces) if van.surface_zone[k] == z]
        humidity = humidity_percent(result, z)
        of_zone: dict[str, Any] = {
            "mean_humidity_percent": _r(float(humidity.mean()), 1),
            "highest_humidity_percent": _r(float(humidity.max()), 1),
        }
        if here:
            wet, onto, shed, lying = (
                np.array([result.column(family, k) for k in here])
                for family in ("wet_s", "condensing_kg", "shed_kg", "condensed_kg")
            )
            onto = np.maximum(onto, 0.0)
            of_zone["wet_hours"] = _r(float(wet.max(axis=0).sum()) / 60.0, 2)
            of_zone["condensed_kg"] = _r(float(onto.sum()), 3)
            of_zone["most_lying_kg"] = _r(float(lying.sum(axis=0).max()), 3)
            by_surface = {
                surfaces[k].part: {
                    "wet_hours": _r(float(wet[row].sum()) / 60.0, 2),
                    "condensed_g": _r(1000.0 * float(onto[row].sum()), 1),
                    "run_or_wiped_off_g": _r(1000.0 * float(shed[row].sum()), 1),
                }
                for row, k in enumerate(here)
            }
            of_zone["wet_hours_by_surface"] = {part: told["wet_hours"] for part, told in by_surface.items()}
            of_zone["by_surface"] = by_surface
        found[zone] = of_zone
    return found


def damp_nights(result: Result) -> list[dict[str, Any]]:
    """By night, noon to noon: grams condensed and hours wet of each surface that took half a gram or was wet."""
    nights, of_hour = noon_to_noon(result.timeline.index)
    names = [column.part for column in result.columns("wet_s")]
    grams, wet_h = condensed_by_night_g(result), np.zeros((len(names), len(nights)))
    for k in range(len(names)):
        wet_h[k] = np.bincount(of_hour, weights=result.column("wet_s", k).to_numpy() / 60.0, minlength=len(nights))
    return [
        {
            "night": f"{when:%Y-%m-%d}",
            "condensed_g": _r(float(grams[:, n].sum()), 1),
            "by_surface": {
                name: {"condensed_g": _r(float(grams[k, n]), 1), "wet_hours": _r(float(wet_h[k, n]), 2)}
                for k, name in enumerate(names)
                if grams[k, n] >= TRACE_G or wet_h[k, n] > 0.0
            },
        }
        for n, when in enumerate(nights)
    ]


def condensed_by_night_g(result: Result) -> Floats:
    """Water that came onto each surface by night, shape (surfaces, nights). [g]"""
    nights, of_hour = noon_to_noon(result.timeline.index)
    found = [
        np.bincount(
            of_hour,
            weights=1000.0 * np.maximum(result.column("condensing_kg", k).to_numpy(), 0.0),
            minlength=len(nights),
        )
        for k in range(result.built.size.surfaces)
    ]
    grams: Floats = np.array(found, dtype=float).reshape(len(found), len(nights))
    return grams


def humidity_percent(result: Result, zone: int) -> Floats:
    """Relative humidity of a zone's air at the end of each hour, over liquid water; never above 100. [%]"""
    ratio = result.column("vapour_kg", zone).to_numpy()[1:] / float(result.built.arrays[0].air_kg[zone])
    pressure = result.weather_rows[:, arrays.PRESSURE_PA]
    air_c = result.air_c(result.built.zone_names[zone]).to_numpy()[1:]
    saturated = np.array([supercooled_saturation_pa(float(each)) for each in air_c])
    percent: Floats = 100.0 * pressure * ratio / (WATER_TO_AIR_RATIO + ratio) / saturated
    return percent


def _r(value: float, digits: int) -> float:
    return round(float(value), digits) + 0.0
