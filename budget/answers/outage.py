"""The heater stops: how many hours until air, pipes and tanks are cold, and what to drain first."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from budget.answers.coldest import coldest_evening
from budget.answers.cooling import TwoNodes
from budget.answers.detail import Detail, first_hour
from budget.answers.outage_words import LONGEST_H, THRESHOLDS_C, outage_sentences
from budget.engine import arrays
from budget.engine.stepping import Floats
from budget.errors import InputFault
from budget.physics.properties import humidity_ratio, saturation_pressure_pa
from budget.results.need import LITTLE_KG, UNSERVED

if TYPE_CHECKING:
    from budget.answers.prepared import Prepared
    from budget.results.result import Result

QUARTERS = 4
COLD_NIGHT_C = -20.0
HUMIDITY_SHARE = 0.85
SOME_L = 0.5  # less than this let go by the valve is a boiler that was empty
WATER_PARTS = ("pipes", "boiler", "fresh", "waste")


@dataclass(frozen=True, kw_only=True)
class Part:
    """One part after the heater stopped.

    ``after_h`` are times after the stop, by the quarter in the first hour and then by the hour, ``temp_c`` the
    temperatures then. ``hours_until`` names each threshold with the hours until it, None when it is not passed in the
    time looked at.
    """

    name: str
    start_c: float
    lowest_c: float
    hours_until: dict[str, float | None]
    after_h: tuple[float, ...]
    temp_c: tuple[float, ...]


@dataclass(frozen=True, kw_only=True)
class Night:
    """One weather after the stop. ``valve_opens_h`` is when the frost drain valve lets the boiler go, None: never.

    ``drain_order`` leaves out a boiler that the valve empties by itself.
    """

    name: str
    outdoor_c: float
    wind_m_per_s: float
    parts: tuple[Part, ...]
    valve_opens_h: float | None
    dumped_l: float
    drain_order: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class TimeConstants:
    """The first hours by hand: a room of ``loss_w_per_k`` whose air falls by ``fast_share`` of its lead over outdoors
    with ``air_h`` towards the linings, and by the rest with ``lining_h``.

    ``lining_j_per_k``: the room's ``fabric_j_per_k`` and, by how warm they are, what ``other_zones_j_per_k`` hold.
    """

    loss_w_per_k: float
    air_j_per_k: float
    fabric_j_per_k: float
    other_zones_j_per_k: float
    lining_j_per_k: float
    fast_share: float
    air_h: float
    lining_h: float


@dataclass(frozen=True, kw_only=True)
class Outage:
    """The answer: the night at hand, then a cold one.

    ``coldest_evening``: the time was not given and is ten in the evening before the tour's coldest night.
    ``as_if_fed``: gas or charge had run out by then on this tour; reckoned as if they had lasted until the stop.
    ``time_constants``: None where it is hardly warmer inside than outdoors.
    """

    at: dt.datetime
    place: str
    coldest_evening: bool
    as_if_fed: bool
    looked_at_h: int
    time_constants: TimeConstants | None
    nights: tuple[Night, ...]
    sentences: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """JSON-ready; every name with its unit."""
        return asdict(self)


def answer(
    source: Result | Prepared | Detail, at: dt.datetime | str | None = None, *, cold_c: float = COLD_NIGHT_C
) -> Outage:
    """Stop the heater, gas and electric, at the start of the hour that holds ``at`` and watch up to 72 h.

    ``at`` None: ten in the evening before the coldest night, or the start of a tour without a night. Where gas or
    charge has run out by then the tour is run as if they had lasted.

    The van stands still where it is from then on and people go on as the tour says. The night at hand has the tour's
    weather; the cold one has ``cold_c`` throughout with the wind of that hour, no sun and an overcast sky. InputFault
    where the time lies outside the tour, or ``cold_c`` outside -60 to 20 °C.
    """
    if not -60.0 <= cold_c <= 20.0:
        raise InputFault(f"the cold night must have -60 to 20 °C, got {cold_c:g} °C; correct it.")
    run = Detail.of(source)
    evening = coldest_evening(run.timeline, run.rows[:, arrays.TEMP_C]) if at is None else None
    hour = run.hour_of(evening if evening is not None else run.time(0) if at is None else at)
    as_if_fed = _short_before(run, hour)
    if as_if_fed:
        run = run.fed()
    hours, rows, wishes = stopped(run, hour)
    at_hand = _night(run, _After.of(run, hours, rows, wishes, hour), "the night at hand")
    cold = _After.of(run, hours, cold_rows(rows, hour, cold_c), wishes, hour)
    cold_night = _night(run, cold, f"a night of {cold_c:g} °C")
    nights = (at_hand, cold_night)
    found = Outage(
        at=run.time(hour),
        place=run.place(hour),
        coldest_evening=evening is not None,
        as_if_fed=as_if_fed,
        looked_at_h=len(rows) - hour,
        time_constants=_constants(run, hour),
        nights=nights,
        sentences=(),
    )
    return replace(found, sentences=tuple(outage_sentences(run, found, hour)))


def _short_before(run: Detail, hour: int) -> bool:
    """Whether the battery had been cut out or flames had lacked gas before an hour."""
    lacked_kg = sum(float(run.flow(name)[:hour].sum()) for name in UNSERVED)
    lacked_kg += float(run.beside_element_kg[:hour].sum())
    return lacked_kg > LITTLE_KG or float(run.flow("cut_out_s")[:hour].sum()) > 0.0


def _constants(run: Detail, hour: int) -> TimeConstants | None:
    nodes = TwoNodes.at_stop(run, hour)
    if nodes is None:
        return None
    zones = run.van.cabin.zones
    room = zones[run.van.cabin.zone_index(run.van.heater.sensor_zone)]
    others = [zone.air_capacity_j_per_k + zone.fabric_capacity_j_per_k for zone in zones if zone is not room]
    return TimeConstants(
        loss_w_per_k=nodes.loss_w_per_k,
        air_j_per_k=nodes.air_j_per_k,
        fabric_j_per_k=room.fabric_capacity_j_per_k,
        other_zones_j_per_k=sum(others),
        lining_j_per_k=nodes.lining_j_per_k,
        fast_share=nodes.fast_share,
        air_h=nodes.air_h,
        lining_h=nodes.lining_h,
    )


def stopped(run: Detail, hour: int) -> tuple[Any, Floats, Any]:
    """Hours, weather and draws of the tour with the heater stopped from an hour on, and 72 h from there at most.

    Where the tour ends sooner its last day is repeated. Drives that follow do not take place: their hours have the
    wind of the last parked hour.
    """
    last = min(run.count, hour + LONGEST_H)
    more = np.resize(np.arange(max(0, run.count - 24), run.count), hour + LONGEST_H - last)
    order = np.concatenate((np.arange(last), more)).astype(np.int64)
    hours = run.hours[order].view(np.recarray)
    rows = np.concatenate((run.rows[:hour], parked_rows(run)[order[hour:]]))
    after = slice(hour, None)
    for name in ("heater_allowed", "moving", "refill", "empty_waste"):
        hours[name][after] = 0
    hours["alternator"][after] = 0.0
    wishes = run.wishes[run.wishes["quarter"] < 4 * len(rows)].copy()
    return hours, rows, wishes


def parked_rows(run: Detail) -> Floats:
    """Weather rows of the tour with the wind of the last parked hour (else the first) where the van drives."""
    rows = run.rows.copy()
    parked = np.flatnonzero(run.timeline.moving == 0)
    for moving in np.flatnonzero(run.timeline.moving).tolist() if parked.size else []:
        before = parked[parked < moving]
        rows[moving, arrays.WIND_M_PER_S] = rows[before[-1] if before.size else parked[0], arrays.WIND_M_PER_S]
    return rows


def cold_rows(rows: Floats, hour: int, cold_c: float) -> Floats:
    """Weather rows with a steady cold from an hour on: that hour's wind and pressure, overcast, no sun."""
    changed = rows.copy()
    after = changed[hour:]
    pressure = float(rows[hour, arrays.PRESSURE_PA])
    wind = float(rows[hour, arrays.WIND_M_PER_S])
    after[:] = 0.0
    after[:, arrays.TEMP_C] = cold_c
    after[:, arrays.WIND_M_PER_S] = wind
    after[:, arrays.PRESSURE_PA] = pressure
    after[:, arrays.HUMIDITY_RATIO] = humidity_ratio(HUMIDITY_SHARE * saturation_pressure_pa(cold_c), pressure)
    return changed


@dataclass(frozen=True, kw_only=True, eq=False)
class _After:
    """What follows the stop at the start of ``hour``: the run, and the quarters of its first hour."""

    run: Detail
    hour: int
    quarters: tuple[Detail, ...]

    @classmethod
    def of(cls, run: Detail, hours: Any, rows: Floats, wishes: Any, hour: int) -> _After:
        """March on; the quarters are read from runs that heat one to three quarters of that hour more."""
        quarters = []
        for heated in range(QUARTERS - 1, 0, -1):
            longer = hours[: hour + 1].copy()
            longer["heater_allowed"][hour] = run.hours["heater_allowed"][hour]
            for name in ("set_c", "water_set_c"):
                longer[name][hour] = run.hours[name][hour]
                longer[name][hour, heated:] = np.nan
            drawn = wishes[wishes["quarter"] < QUARTERS * hour].copy()
            quarters.append(run.again(hours=longer, rows=rows[: hour + 1], wishes=drawn))
        return cls(run=run.again(hours=hours, rows=rows, wishes=wishes), hour=hour, quarters=tuple(quarters))

    @property
    def outdoor_c(self) -> Floats:
        """Outdoor temperature of each hour after the stop. [°C]"""
        return self.run.rows[self.hour :, arrays.TEMP_C]

    def node_c(self, node: str) -> Floats:
        """Temperature of a node at the stop, after each quarter of the first hour, and each hour. [°C]"""
        edges = self.run.node_c(node)[self.hour :]
        within = [quarter.node_c(node)[-1] for quarter in self.quarters]
        return np.concatenate((edges[:1], within, edges[1:]))

    def times_h(self) -> Floats:
        """The times of ``node_c`` after the stop. [h]"""
        return np.concatenate((np.arange(QUARTERS) / QUARTERS, np.arange(1.0, len(self.outdoor_c) + 1.0)))


def _night(run: Detail, after: _After, name: str) -> Night:
    sensor = f"{run.van.heater.sensor_zone}_air"
    others = [f"{zone}_air" for zone in run.built.zone_names if f"{zone}_air" != sensor]
    fitted = run.van.water.boiler.is_fitted
    watered = [name for name in WATER_PARTS if fitted or name != "boiler"]
    parts = tuple(_part(after, node) for node in (sensor, *watered, *others))
    dumped = after.run.flow("dumped_l")[after.hour :] * fitted
    opens = first_hour(dumped > SOME_L)
    emptied = ("boiler",) if opens is not None else ()
    return Night(
        name=name,
        outdoor_c=float(after.outdoor_c.mean()),
        wind_m_per_s=float(after.run.rows[after.hour :, arrays.WIND_M_PER_S].mean()),
        parts=parts,
        valve_opens_h=None if opens is None else float(opens + 1),
        dumped_l=float(dumped.sum()),
        drain_order=tuple(name for name in drain_order(parts) if name not in emptied),
    )


def _part(after: _After, node: str) -> Part:
    temp_c, times_h = after.node_c(node), after.times_h()
    around_c = np.concatenate((np.full(QUARTERS - 1, after.outdoor_c[0]), after.outdoor_c))
    return Part(
        name=node,
        start_c=float(temp_c[0]),
        lowest_c=float(temp_c.min()),
        hours_until={f"{limit:g}_c": hours_until(times_h, temp_c, limit, around_c) for limit in THRESHOLDS_C},
        after_h=tuple(times_h.tolist()),
        temp_c=tuple(temp_c.tolist()),
    )


def hours_until(times_h: Floats, temp_c: Floats, limit_c: float, around_c: Floats) -> float | None:
    """Time at which temperatures first fall to a limit; None when they do not. [h]

    Between two times the fall is taken as exponential towards the outdoor temperature of that span.
    """
    low = np.flatnonzero(temp_c <= limit_c)
    if not low.size:
        return None
    k = int(low[0])
    if k == 0:
        return float(times_h[0])
    before, now, around = float(temp_c[k - 1]), float(temp_c[k]), float(around_c[k - 1])
    span_h = float(times_h[k] - times_h[k - 1])
    if now <= around or limit_c <= around:
        share = (before - limit_c) / (before - now)
    else:
        share = math.log((before - around) / (limit_c - around)) / math.log((before - around) / (now - around))
    return float(times_h[k - 1]) + share * span_h


def drain_order(parts: Sequence[Part]) -> list[str]:
    """Water parts that reach 0 °C, soonest first, then those that reach 5 °C."""
    found: list[tuple[float, float, str]] = []
    for part in parts:
        if part.name not in WATER_PARTS:
            continue
        freezing, near = part.hours_until["0_c"], part.hours_until["5_c"]
        if freezing is not None or near is not None:
            found.append((math.inf if freezing is None else freezing, math.inf if near is None else near, part.name))
    return [name for _, _, name in sorted(found)]
