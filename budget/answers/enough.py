"""Does what is described do, by hand: heater and bottles in the hardest hour, battery on each stay, all the gas."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd

from budget.answers.enough_bottles import boiled_off, too_cold
from budget.answers.enough_charge import flows_of, too_long
from budget.answers.enough_gas import too_little, uses_of
from budget.engine.stepping import Floats
from budget.physics.burner import output_at_density
from budget.physics.properties import STANDARD_PRESSURE_PA
from budget.rounding import least, rounded_down, rounded_up
from budget.tour.timeline import FUELS, Timeline
from budget.van.derived import loss_w_per_k
from budget.van.model import Van
from budget.weather.record import HourlyWeather

LOOKED_AT = 60  # hours, those that are likely to ask most
WIND_COUNTS = 0.05  # of the difference for each m/s, to find them; a choice
KEPT_W = 200.0  # of a hook-up for charger and fridge, as in a run
SURE_STEP_W = 10.0


@dataclass(frozen=True, kw_only=True)
class Hour:
    """One hour as the description tells it: what the sensor's zone loses and what the heater gives at most. [W]"""

    at: pd.Timestamp
    place: str
    altitude_m: float
    outdoor_c: float
    wind_m_per_s: float
    pressure_pa: float
    set_c: float
    needed_w: float
    available_w: float
    gas_w: float
    mains_only: bool

    def stands(self) -> str:
        """Where and when it is, and what it is like."""
        return (
            f"at {self.place} on {self.at.day} {self.at:%B} at {self.at:%H:%M} ({least(self.outdoor_c)} °C outdoors, "
            f"{self.set_c:g} °C asked for, wind {self.wind_m_per_s:.0f} m/s)"
        )


@dataclass(frozen=True, eq=False)
class Plan:
    """A van, its tour by the hour and the weather on it."""

    van: Van
    timeline: Timeline
    weather: HourlyWeather

    def set_c(self) -> Floats:
        """Warmest setpoint of each hour in which the parked van is heated, NaN else. [°C]"""
        line = self.timeline
        quarters = line.setpoint_c.reshape(-1, 4)
        given = np.where(np.isnan(quarters), -np.inf, quarters).max(axis=1)
        heated = np.isfinite(given) & line.heater_allowed & (line.moving == 0)
        asked: Floats = np.where(heated, given, np.nan)
        return asked

    def column(self, name: str) -> Floats:
        """One column of the weather."""
        values: Floats = self.weather.frame[name].to_numpy(dtype=float)
        return values

    def hour(self, hour: int, set_c: float) -> Hour:
        """An hour at a setpoint: zones beside the sensor's unheated, openings closed, no sun, nobody inside."""
        line, van = self.timeline, self.van
        outdoor_c = float(self.column("temp_air")[hour])
        wind = float(self.column("wind_speed")[hour] * line.wind_factor[hour])
        pressure = float(self.column("pressure")[hour])
        loss = loss_w_per_k(van, float(line.screens[hour]), set_c, outdoor_c, wind)
        fuel, hookup_w = FUELS[line.fuel[hour]], float(line.hookup_w[hour])
        steps = [step for step in van.heater.electric_w if step <= hookup_w - KEPT_W] if fuel != "gas" else []
        gas_w = output_at_density(van.heater.rated_w, pressure / STANDARD_PRESSURE_PA, van.heater.altitude_compensated)
        mains_only = fuel == "electric" and hookup_w > 0.0
        gas_w = 0.0 if mains_only else float(gas_w)
        needed_w = max(0.0, loss * (set_c - outdoor_c))
        return Hour(
            at=line.index[hour],
            place=line.tour.stops[int(line.stop[hour])].place,
            altitude_m=float(line.altitude_m[hour]),
            outdoor_c=outdoor_c,
            wind_m_per_s=wind,
            pressure_pa=pressure,
            set_c=set_c,
            needed_w=needed_w,
            available_w=gas_w + max(steps, default=0.0),
            gas_w=min(gas_w, needed_w),
            mains_only=mains_only,
        )


def warnings(van: Van, timeline: Timeline, weather: HourlyWeather) -> tuple[str, ...]:
    """A sentence for each part that the described numbers already show to be too small; none where they do not.

    Every doubt is given to the part: only the sensor's zone is heated, bottles are full and the locker stands beside
    a heated room, the battery is full after each hook-up and takes all that sun and driving offer. What passes here
    may still fall short in a run.
    """
    plan = Plan(van, timeline, weather)
    set_c = plan.set_c()
    if np.isnan(set_c).all():
        return ()
    asks = (set_c - plan.column("temp_air")) * (1.0 + WIND_COUNTS * plan.column("wind_speed") * timeline.wind_factor)
    likely = np.argsort(np.where(np.isnan(asks), np.inf, -asks), kind="stable")[:LOOKED_AT]
    hours = {int(k): plan.hour(int(k), float(set_c[k])) for k in likely if np.isfinite(set_c[k])}
    cold = tuple(too_cold(van, list(hours.values())))
    flows = flows_of(plan, set_c)
    uses = uses_of(plan, set_c, flows)
    return (
        *_heater(van.heater.sensor_zone, list(hours.values())),
        *too_little(plan, uses),
        *too_long(plan, set_c, flows, heats=not cold),
        *cold,
        *boiled_off(plan, hours, uses.heater_kg + uses.open_kg),
    )


def _heater(zone: str, hours: list[Hour]) -> Iterator[str]:
    worst = max(hours, key=lambda hour: hour.needed_w - hour.available_w)
    if worst.needed_w > worst.available_w:
        yield (
            f"The heater is too small: {worst.stands()} holding {zone} alone takes about "
            f"{rounded_up(worst.needed_w, SURE_STEP_W):.0f} W, and the heater gives at most "
            f"{rounded_down(worst.available_w, SURE_STEP_W):.0f} W at {worst.altitude_m:.0f} m"
            f"{', on the hook-up alone' if worst.mains_only else ''}."
        )
