"""Does what is described do, by hand: heater and bottles in the hardest hour, battery on each stay, all the gas."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd

from budget.answers.enough_charge import flows_of, too_long
from budget.answers.enough_gas import too_little
from budget.answers.offtake import Offtake, kg_per_h_of, offtake
from budget.engine.stepping import Floats
from budget.physics.burner import output_at_density, stage_value
from budget.physics.properties import STANDARD_PRESSURE_PA
from budget.rounding import least, need, rounded_down, rounded_up
from budget.tour.timeline import FUELS, Timeline
from budget.van.derived import loss_w_per_k
from budget.van.model import Van
from budget.weather.record import HourlyWeather

LOOKED_AT = 60  # hours, those that are likely to ask most
WIND_COUNTS = 0.05  # of the difference for each m/s, to find them; a choice
HARD_H = 4.0  # hours on end that a bottle shall bear the hardest one; a choice
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
    hours = [plan.hour(int(k), float(set_c[k])) for k in likely if np.isfinite(set_c[k])]
    cold = tuple(_bottles(van, hours))
    flows = flows_of(plan, set_c)
    return (
        *_heater(van.heater.sensor_zone, hours),
        *too_little(plan, set_c, flows),
        *too_long(plan, set_c, flows, heats=not cold),
        *cold,
    )


def _heater(zone: str, hours: list[Hour]) -> Iterator[str]:
    worst = max(hours, key=lambda hour: hour.needed_w - hour.available_w)
    if worst.needed_w > worst.available_w:
        yield (
            f"The heater is too small: {_stands(worst)} holding {zone} alone takes about "
            f"{rounded_up(worst.needed_w, SURE_STEP_W):.0f} W, and the heater gives at most "
            f"{rounded_down(worst.available_w, SURE_STEP_W):.0f} W at {worst.altitude_m:.0f} m"
            f"{', on the hook-up alone' if worst.mains_only else ''}."
        )


def _stands(hour: Hour) -> str:
    return (
        f"at {hour.place} on {hour.at.day} {hour.at:%B} at {hour.at:%H:%M} ({least(hour.outdoor_c)} °C outdoors, "
        f"{hour.set_c:g} °C asked for, wind {hour.wind_m_per_s:.0f} m/s)"
    )


def _bottles(van: Van, hours: list[Hour]) -> Iterator[str]:
    """Full bottles in the hour that asks most gas; a locker beside a room stands beside a heated one."""
    gas = van.gas
    worst = max(hours, key=lambda hour: hour.gas_w)
    together = len(gas.bottles) if gas.changeover == "parallel" else 1
    warmer = 0.0 if gas.locker_zone == "outdoors" else gas.locker_warmer_share * (worst.set_c - worst.outdoor_c)
    for bottle in dict.fromkeys(gas.bottles):
        efficiency = stage_value(
            worst.gas_w,
            np.array([stage.output_w for stage in van.heater.stages]),
            np.array([stage.efficiency_share for stage in van.heater.stages]),
        )
        whole_kg_per_h = kg_per_h_of(worst.gas_w, float(efficiency), bottle.propane_share)
        found = offtake(
            bottle,
            propane_kg=bottle.net_kg * bottle.propane_share,
            butane_kg=bottle.net_kg * (1.0 - bottle.propane_share),
            bottle_c=worst.outdoor_c + warmer,
            locker_c=worst.outdoor_c + warmer,
            pressure_pa=worst.pressure_pa,
            need_bar=gas.regulator_need_bar,
            through_kg_per_h=gas.regulator_kg_per_h / together,
            demand_kg_per_h=whole_kg_per_h / together,
        )
        if found.full_fire_h is not None and found.full_fire_h < HARD_H and not found.ends_empty:
            yield _too_cold(bottle.name, worst, found, worst.outdoor_c + warmer, together)


def _too_cold(name: str, hour: Hour, found: Offtake, locker_c: float, together: int) -> str:
    which = f"A bottle ({name})" if together == 1 else f"{together} bottles at once ({name})"
    asks = need(found.full_fire_kg_per_h * together, 2)
    return (
        f"{which} cannot feed the heater: {_stands(hour)} it takes about {asks} kg/h, and full, in the locker at "
        f"{least(locker_c)} °C, that is given for {least(found.full_fire_h or 0.0, 1)} h, with "
        f"{found.stays_behind_kg:.1f} kg left behind."
    )
