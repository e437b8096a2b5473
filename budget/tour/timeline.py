"""A tour by the hour: everything that people, places and habits decide, as plain arrays."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from budget.errors import InputFault
from budget.moments import hours_between
from budget.spans import Span
from budget.tour.events import Absences, Hung, events
from budget.tour.itinerary import Itinerary, itinerary
from budget.tour.meals import Draws, Meals, draws_of, meals_of
from budget.tour.model import Tour
from budget.tour.names import unknown_openings_and_zones
from budget.tour.presence import Presence, presence_of
from budget.tour.way import way_of
from budget.tour.week import DAY_MIN, WEEK_MIN, Floats, Ints, Mask, minutes_covered, share_of_hours, through_the_week
from budget.van.power import Load

FUELS = ("gas", "electric", "electric_first")


@dataclass(frozen=True, eq=False)
class Timeline:
    """A tour by the hour; n hours, 4 n quarter hours, shares and means over each hour unless said otherwise.

    ``index`` is the start of each hour in the tour's time zone, ``edges`` its n + 1 edges; both count real hours, so a
    day of clock change has 23 or 25. ``moving``: 0 parked, 1 driving, 2 ferry; ``at_stop``: parked at the stop itself
    and not at rest on the way. ``setpoint_c`` and ``water_set_c`` are per quarter hour, NaN for off; a step counts
    from the quarter hour nearest to it. ``fuel``: position in ``FUELS``.
    """

    tour: Tour
    index: pd.DatetimeIndex
    edges: pd.DatetimeIndex
    stop: Ints
    origin: Ints
    way_share: Floats
    moving: Ints
    at_stop: Mask
    latitude_deg: Floats
    longitude_deg: Floats
    altitude_m: Floats
    setpoint_c: Floats
    water_set_c: Floats
    heater_allowed: Mask
    awake: Floats
    asleep: Floats
    people_w: Floats
    people_vapour_g_per_h: Floats
    inside: Mask
    away: Floats
    screens: Floats
    closed: Floats
    hookup_w: Floats
    hookup_v: Floats
    fuel: Ints
    gas_open: Mask
    cooking_gas_kg: Floats
    cooking_vented_share: Floats
    cooking_steam_g: Floats
    cooking_electric_w: Floats
    cooking_electric_peak_w: Floats
    draw_s: Floats
    draw_l: Floats
    draw_tap_c: Floats
    draw_use: Ints
    draw_index: Ints
    cold_water_l: Floats
    cold_to_waste_l: Floats
    refill: Mask
    empty_waste: Mask
    wind_factor: Floats
    speed_m_per_s: Floats
    solar_factor: Floats
    alternator: Floats
    rooflight_cm2: Floats
    extract_m3_per_h: Floats
    extract_fan_w: Floats
    wipe: Mask
    door_air_changes: Floats
    drying: Hung
    drive_cab_c: float
    _minute_of_week: Ints = field(repr=False)
    _presence: Presence = field(repr=False)

    @classmethod
    def of(cls, tour: Tour, openings: Sequence[str] = (), zones: Sequence[str] = ()) -> Timeline:
        """Lay a tour on its hours; ``openings`` and ``zones`` are the van's names, in the van's order.

        InputFault, with every fault found, for dates that do not fit together and for names the van does not have.
        """
        plan, faults = itinerary(tour)
        if openings or zones:
            faults = faults + unknown_openings_and_zones(tour, openings, zones)
        if plan is None or faults:
            raise InputFault([fault.sentence() for fault in faults])
        absences, drying, faults = events(tour, plan)
        if faults:
            raise InputFault([fault.sentence() for fault in faults])
        return _lay(tour, plan, openings, absences, drying)

    @property
    def nights(self) -> int:
        """Midnights between start and end, by the tour's own clock."""
        first, last = self.edges[[0, -1]].tz_localize(None).normalize()
        return int((last - first).days)

    def hour_of(self, time: dt.datetime) -> int:
        """The hour that holds an instant, also before the start and after the end."""
        return math.floor(hours_between(self.edges[0], time))

    def exchange_open(self, names: Sequence[str]) -> Mask:
        """Which of these bottle systems can be had in each hour: parked at a stop that has it, open in that hour."""
        open_ = np.zeros((len(self.index), len(names)), dtype=bool)
        for number, stop in enumerate(self.tour.stops):
            here = self.at_stop & (self.stop == number)
            for exchange in stop.exchange:
                alike = [column for column, name in enumerate(names) if name == exchange.bottle]
                open_[:, alike] |= (here & (self._share(exchange.open) > 0.0))[:, np.newaxis]
        return open_

    def load_share(self, load: Load) -> Floats:
        """Share of each hour that a load is switched on; nothing is on during a ferry crossing. [0–1]"""
        covered = minutes_covered(load.on) if load.on else np.ones(WEEK_MIN, dtype=bool)
        if not load.only_when_inside:
            on: Floats = share_of_hours(covered, self._minute_of_week) * (self.moving != 2)
            return on
        at_home = share_of_hours(covered & self._presence.anybody, self._minute_of_week)
        on = at_home * (1.0 - self.away) * (self.moving == 0)
        return on

    def _share(self, spans: Sequence[Span]) -> Floats:
        return share_of_hours(minutes_covered(spans), self._minute_of_week)


def _lay(
    tour: Tour,
    plan: Itinerary,
    openings: Sequence[str],
    absences: Absences,
    drying: Hung,
) -> Timeline:
    n, habits = plan.hours, tour.habits
    edges = pd.date_range(plan.start, periods=n + 1, freq="h").tz_convert(plan.zone)
    index = edges[:-1]
    week_minute = _minutes_of_week(index)
    local_day = _days(index)
    way = way_of(tour, plan)
    parked, driving, ferry = way.moving == 0, way.moving == 1, way.moving == 2
    away = _hourly_away(absences, n) * parked

    def share(spans: Sequence[Span]) -> Floats:
        return share_of_hours(minutes_covered(spans), week_minute) if spans else np.zeros(n)

    def at_stops(values: Sequence[float]) -> Floats:
        return np.where(way.at_stop, np.array(values, dtype=float)[way.stop], 0.0)

    presence = presence_of(tour.people, week_minute, parked, driving, away)
    hookup_w = at_stops([stop.hookup_a * stop.hookup_v for stop in tour.stops])
    fuels = at_stops([FUELS.index(stop.heater_fuel) for stop in tour.stops])
    heater_allowed = parked | (driving & habits.heater_while_driving)
    setpoint_c, water_set_c = _setpoints(tour, plan, way.stop, absences, heater_allowed)
    meals: Meals = meals_of(tour, plan, parked & (presence.anybody_share > 0.0), hookup_w > 0.0)
    draws: Draws = draws_of(tour, plan, parked, absences)
    in_tour = 1.0 - away
    cold_l = _spread(habits.cold_water_l, presence.awake * parked, in_tour, local_day)
    doors = _spread(habits.door_openings, presence.awake_share * parked, in_tour, local_day)
    snow = np.isin(local_day, [day.toordinal() for day in habits.snow_days])
    closed = np.ones((n, len(openings)))
    for column, name in enumerate(openings):
        if name in habits.closed:
            closed[:, column] = share(habits.closed[name])
    extract = share(habits.extract_fan) * parked
    return Timeline(
        tour=tour,
        index=index,
        edges=edges,
        stop=way.stop,
        origin=way.origin,
        way_share=way.way_share,
        moving=way.moving,
        at_stop=way.at_stop,
        latitude_deg=way.latitude_deg,
        longitude_deg=way.longitude_deg,
        altitude_m=way.altitude_m,
        setpoint_c=setpoint_c,
        water_set_c=water_set_c,
        heater_allowed=heater_allowed,
        awake=presence.awake,
        asleep=presence.asleep,
        people_w=presence.heat_w,
        people_vapour_g_per_h=presence.vapour_g_per_h,
        inside=parked & (presence.anybody_share > 0.0),
        away=away,
        screens=share(habits.screens) * ~driving,
        closed=closed,
        hookup_w=hookup_w,
        hookup_v=at_stops([stop.hookup_v for stop in tour.stops]) * (hookup_w > 0.0),
        fuel=np.where(hookup_w > 0.0, fuels, 0.0).astype(np.int64),
        gas_open=heater_allowed.copy(),
        cooking_gas_kg=meals.gas_kg,
        cooking_vented_share=meals.vented_share,
        cooking_steam_g=meals.steam_g,
        cooking_electric_w=meals.electric_w,
        cooking_electric_peak_w=meals.electric_peak_w,
        draw_s=draws.second,
        draw_l=draws.litres_l,
        draw_tap_c=draws.tap_c,
        draw_use=draws.use,
        draw_index=draws.index,
        cold_water_l=cold_l,
        cold_to_waste_l=cold_l * (1.0 - habits.cold_water_kept_share),
        refill=way.arrived & (at_stops([stop.refill_water for stop in tour.stops]) > 0.0),
        empty_waste=way.arrived & (at_stops([stop.empty_waste for stop in tour.stops]) > 0.0),
        wind_factor=np.where(ferry, 0.0, 1.0 - at_stops([stop.wind_shelter_share for stop in tour.stops])),
        speed_m_per_s=driving * habits.drive_speed_m_per_s,
        solar_factor=(1.0 - at_stops([stop.solar_shade_share for stop in tour.stops])) * ~snow * ~ferry,
        alternator=way.alternator,
        rooflight_cm2=share(habits.rooflight_open) * parked * habits.rooflight_cm2,
        extract_m3_per_h=extract * habits.extract_m3_per_h,
        extract_fan_w=extract * habits.extract_fan_w,
        door_air_changes=doors * habits.door_air_share,
        wipe=(share(habits.wipe_glass) > 0.0) & parked & (presence.awake > 0.0),
        drying=drying,
        drive_cab_c=habits.drive_cab_c,
        _minute_of_week=week_minute,
        _presence=presence,
    )


def _minutes_of_week(index: pd.DatetimeIndex) -> Ints:
    local = index.tz_localize(None)
    minutes: Ints = local.to_numpy().astype("datetime64[m]").astype(np.int64)
    return (minutes + 3 * DAY_MIN) % WEEK_MIN  # 1970-01-01 was a Thursday


def _days(index: pd.DatetimeIndex) -> Ints:
    """Proleptic day number of each hour's local date, as date.toordinal gives it."""
    days: Ints = index.tz_localize(None).to_numpy().astype("datetime64[D]").astype(np.int64)
    return days + dt.date(1970, 1, 1).toordinal()


def _spread(daily: float, weight: Floats, present: Floats, day: Ints) -> Floats:
    """A daily amount laid on a day's hours by weight; a day that is partly outside the tour or away has its part."""
    position = day - day[0]
    weights = np.bincount(position, weights=weight)[position]
    part = np.minimum(np.bincount(position, weights=present) / 24.0, 1.0)[position]
    laid: Floats = daily * part * np.divide(weight, weights, out=np.zeros_like(weight), where=weights > 0.0)
    return laid


def _hourly_away(absences: Absences, hours: int) -> Floats:
    away, edge = np.zeros(hours), np.arange(hours)
    for start_h, end_h, _ in absences:
        away += np.clip(np.minimum(edge + 1, end_h) - np.maximum(edge, start_h), 0.0, 1.0)
    return np.minimum(away, 1.0)


def _setpoints(
    tour: Tour,
    plan: Itinerary,
    stop: Ints,
    absences: Absences,
    allowed: Mask,
) -> tuple[Floats, Floats]:
    """Room setpoint and boiler set temperature, each taken at the middle of its quarter hour. [°C]"""
    quarters = pd.date_range(plan.start + dt.timedelta(minutes=7), periods=4 * plan.hours, freq="15min")
    minute = _minutes_of_week(quarters.tz_convert(plan.zone))
    names = list(tour.schedules)
    chosen = np.array([names.index(place.schedule or tour.schedule) for place in tour.stops])[stop].repeat(4)
    middle_h = (np.arange(4 * plan.hours) + 0.5) / 4.0
    for start_h, end_h, name in absences:
        if name is not None:
            chosen[(middle_h >= start_h) & (middle_h < end_h)] = names.index(name)
    weeks = [through_the_week(schedule) for schedule in tour.schedules.values()]
    off = ~allowed.repeat(4)
    air, water = (np.stack([week[which] for week in weeks])[chosen, minute] for which in (0, 1))
    air[off], water[off] = np.nan, np.nan
    return air, water


def on_a_charger(hookup_w: Floats, charger_a: float) -> Mask:
    """Hours with a hook-up that charges the battery: without a charger it is none to it."""
    return np.asarray((hookup_w > 0.0) & (charger_a > 0.0))
