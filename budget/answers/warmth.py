"""The warmth that a run holds, and whether a change of van or schedule moves it: then it is told before the gas."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from budget.rounding import least, need
from budget.weather.air import Floats

if TYPE_CHECKING:
    from budget.answers.prepared import Prepared
    from budget.engine.batch import Many

COMFORT_BAND_K = 0.5  # below setpoint means more than this (as in the tour's summary)
LEADS_KH = 10.0  # kelvin-hours from which another warmth is what matters, not the gas; a choice


@dataclass(frozen=True)
class Warmth:
    """Coldest inside and at the pipes; hours and kelvin-hours below the setpoint with somebody in."""

    lowest_inside_c: float
    lowest_pipes_c: float
    below_setpoint_h: float
    below_setpoint_kelvin_hours: float

    @classmethod
    def of(cls, prepared: Prepared, many: Many) -> Warmth:
        """Of the first of the runs, from its hour edges and flows."""
        return cls(
            lowest_inside_c=round(float(many.trace[0, 1:, 2].min()), 2),
            lowest_pipes_c=round(float(many.trace[0, 1:, 3].min()), 2),
            below_setpoint_h=round(float(prepared.flow(many, "below_s")[0]) / 3600.0, 2),
            below_setpoint_kelvin_hours=round(float(prepared.flow(many, "below_k_s")[0]) / 3600.0, 2),
        )


def gained(now: Warmth, base: Warmth, warmer_kelvin_hours: float, colder_kelvin_hours: float) -> int:
    """1 where it is warmer since the setpoints are held better, -1 where it is colder since they are held worse.

    0 where the warmth is what was asked for: a schedule that asks for less is colder without falling short.
    """
    better = base.below_setpoint_kelvin_hours - now.below_setpoint_kelvin_hours
    if better > max(LEADS_KH, 0.5 * warmer_kelvin_hours) and warmer_kelvin_hours > colder_kelvin_hours:
        return 1
    if -better > max(LEADS_KH, 0.5 * colder_kelvin_hours) and colder_kelvin_hours > warmer_kelvin_hours:
        return -1
    return 0


def held(now: Warmth, base: Warmth) -> str:
    """ "lowest inside 11.2 instead of -1.0 °C, too cold with somebody in for 40 h by 2 K instead of 144 h by 19 K"."""
    return (
        f"lowest inside {least(now.lowest_inside_c, 1)} instead of {least(base.lowest_inside_c, 1)} °C, too cold with "
        f"somebody in for {_short(now)} instead of {_short(base)}"
    )


def _short(warmth: Warmth) -> str:
    """ "144 h by 19 K" on the mean."""
    if warmth.below_setpoint_h <= 0.0:
        return "0 h"
    return (
        f"{need(warmth.below_setpoint_h)} h by {need(warmth.below_setpoint_kelvin_hours / warmth.below_setpoint_h)} K"
    )


def colder_k(base_c: Floats, other_c: Floats) -> Floats:
    """By how much the second is colder in each hour, from hour edges; the thermostat's own swing is left out. [K]

    A difference counts where its mean over three hours exceeds 0.5 K.
    """
    difference = base_c - other_c
    hourly = np.pad((difference[:-1] + difference[1:]) / 2.0, 1, mode="edge")
    smooth = (hourly[:-2] + hourly[1:-1] + hourly[2:]) / 3.0
    colder: Floats = np.where(smooth > COMFORT_BAND_K, smooth, 0.0)
    return colder
