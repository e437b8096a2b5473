"""The heater stops: how many hours until air, pipes and tanks are cold, and what to drain first."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from budget.answers.detail import Detail, first_hour
from budget.engine import arrays
from budget.engine.thermal import Floats
from budget.errors import InputFault
from budget.physics.properties import humidity_ratio, saturation_pressure_pa

if TYPE_CHECKING:
    from budget.answers.prepared import Prepared
    from budget.results.result import Result

THRESHOLDS_C = (12.0, 5.0, 0.0)
LONGEST_H = 72
COLD_NIGHT_C = -20.0
HUMIDITY_SHARE = 0.85
ALREADY_COLD_K = 3.0
WATER_PARTS = ("pipes", "boiler", "fresh", "waste")
DRAIN_WORDS = {
    "pipes": "the pipes and taps",
    "boiler": "the boiler",
    "fresh": "the fresh tank",
    "waste": "the waste tank",
}


@dataclass(frozen=True, kw_only=True)
class Part:
    """One part after the heater stopped.

    ``start_c`` is its temperature at that moment, ``edges_c`` those at each hour from then on. ``hours_until`` names
    each threshold with the hours until it, None when it is not passed in the time looked at.
    """

    name: str
    start_c: float
    lowest_c: float
    hours_until: dict[str, float | None]
    edges_c: tuple[float, ...]


@dataclass(frozen=True, kw_only=True)
class Night:
    """One weather after the stop. ``valve_opens_h`` is when the frost drain valve lets the boiler go, None: never."""

    name: str
    outdoor_c: float
    wind_m_per_s: float
    parts: tuple[Part, ...]
    valve_opens_h: float | None
    dumped_l: float
    drain_order: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Outage:
    """The answer: the night at hand, then a cold one."""

    at: dt.datetime
    place: str
    looked_at_h: int
    nights: tuple[Night, ...]
    sentences: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """JSON-ready; every name with its unit."""
        return asdict(self)


def answer(source: Result | Prepared | Detail, at: dt.datetime | str, *, cold_c: float = COLD_NIGHT_C) -> Outage:
    """Stop the heater, gas and electric, at the start of the hour that holds ``at`` and watch up to 72 h.

    The van stands still where it is from then on and people go on as the tour says. The night at hand has the tour's
    weather; the cold one has ``cold_c`` throughout with the wind of that hour, no sun and an overcast sky. InputFault
    where the time lies outside the tour, or ``cold_c`` outside -60 to 20 °C.
    """
    if not -60.0 <= cold_c <= 20.0:
        raise InputFault(f"the cold night must have -60 to 20 °C, got {cold_c:g} °C; correct it.")
    run = Detail.of(source)
    hour = run.hour_of(at)
    hours, rows, wishes = stopped(run, hour)
    at_hand = _night(run, run.again(hours=hours, rows=rows, wishes=wishes), hour, "the night at hand")
    cold = cold_rows(rows, hour, cold_c)
    cold_night = _night(run, run.again(hours=hours, rows=cold, wishes=wishes), hour, f"a night of {cold_c:g} °C")
    nights = (at_hand, cold_night)
    return Outage(
        at=run.time(hour),
        place=run.place(hour),
        looked_at_h=len(rows) - hour,
        nights=nights,
        sentences=tuple(_sentences(run, nights, hour)),
    )


def stopped(run: Detail, hour: int) -> tuple[Any, Floats, Any]:
    """Hours, weather and draws of the tour with the heater stopped from an hour on, and 72 h from there at most.

    Where the tour ends sooner its last day is repeated. Drives that follow do not take place.
    """
    last = min(run.count, hour + LONGEST_H)
    hours, rows = run.hours[:last].copy(), run.rows[:last].copy()
    missing = hour + LONGEST_H - last
    if missing > 0:
        day = np.arange(max(0, run.count - 24), run.count)
        more = np.resize(day, missing)
        hours = np.concatenate((hours, run.hours[more])).view(np.recarray)
        rows = np.concatenate((rows, run.rows[more]))
    after = slice(hour, None)
    hours["heater_allowed"][after] = 0
    hours["moving"][after] = 0
    hours["alternator"][after] = 0.0
    hours["refill"][after] = 0
    hours["empty_waste"][after] = 0
    for moving in (np.flatnonzero(run.timeline.moving[hour:last]) + hour).tolist():
        rows[moving, arrays.WIND_M_PER_S] = rows[moving - 1, arrays.WIND_M_PER_S] if moving > hour else 0.0
    wishes = run.wishes[run.wishes["quarter"] < 4 * len(rows)].copy()
    return hours, rows, wishes


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


def _night(run: Detail, after: Detail, hour: int, name: str) -> Night:
    outdoor = after.rows[hour:, arrays.TEMP_C]
    sensor = f"{run.van.heater.sensor_zone}_air"
    others = [f"{zone}_air" for zone in run.built.zone_names if f"{zone}_air" != sensor]
    parts = tuple(_part(after, hour, node, outdoor) for node in (sensor, "pipes", "boiler", "fresh", "waste", *others))
    dumped = after.flow("dumped_l")[hour:]
    opens = first_hour(dumped)
    return Night(
        name=name,
        outdoor_c=float(outdoor.mean()),
        wind_m_per_s=float(after.rows[hour:, arrays.WIND_M_PER_S].mean()),
        parts=parts,
        valve_opens_h=None if opens is None else float(opens + 1),
        dumped_l=float(dumped.sum()),
        drain_order=tuple(drain_order(parts)),
    )


def _part(after: Detail, hour: int, node: str, outdoor: Floats) -> Part:
    edges = after.node_c(node)[hour:]
    return Part(
        name=node,
        start_c=float(edges[0]),
        lowest_c=float(edges.min()),
        hours_until={f"{limit:g}_c": hours_until(edges, limit, outdoor) for limit in THRESHOLDS_C},
        edges_c=tuple(edges.tolist()),
    )


def hours_until(edges_c: Floats, limit_c: float, outdoor_c: Sequence[float] | Floats) -> float | None:
    """Hours until hourly temperatures first fall to a limit; None when they do not. [h]

    Within the hour of the crossing the fall is taken as exponential towards that hour's outdoor temperature.
    """
    low = np.flatnonzero(np.asarray(edges_c) <= limit_c)
    if not low.size:
        return None
    k = int(low[0])
    if k == 0:
        return 0.0
    before, now, around = float(edges_c[k - 1]), float(edges_c[k]), float(outdoor_c[k - 1])
    if now <= around or limit_c <= around:
        return k - 1 + (before - limit_c) / (before - now)
    return k - 1 + math.log((before - around) / (limit_c - around)) / math.log((before - around) / (now - around))


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


def _sentences(run: Detail, nights: tuple[Night, ...], hour: int) -> list[str]:
    told = []
    set_c = float(run.hours["set_c"][hour, 0])
    air_c = nights[0].parts[0].start_c
    if air_c < set_c - ALREADY_COLD_K:
        told.append(
            f"At {run.time(hour):%a %d %b %H:%M} the air stands at {air_c:.0f} °C, under its setpoint of "
            f"{set_c:.0f} °C: the heater has stopped or falls short already."
        )
    for night in nights:
        air = night.parts[0]
        by_limit = ", ".join(f"{limit:g} °C {_after(air.hours_until[f'{limit:g}_c'])}" for limit in THRESHOLDS_C)
        told.append(f"In {night.name} ({night.outdoor_c:.0f} °C outdoors on average) the air of "
                    f"{run.van.heater.sensor_zone}, now {air.start_c:.0f} °C, reaches {by_limit}.")  # fmt: skip
        by_name = {part.name: part for part in night.parts}
        frozen = [by_name[name] for name in night.drain_order if by_name[name].hours_until["0_c"] is not None]
        if frozen:
            order = ", then ".join(DRAIN_WORDS[part.name] for part in frozen)
            first = frozen[0].hours_until["0_c"]
            told.append(f"Drain in this order: {order}; {DRAIN_WORDS[frozen[0].name]} at 0 °C {_after(first)}.")
        elif night.drain_order:
            named = ", ".join(DRAIN_WORDS[name] for name in night.drain_order)
            told.append(f"Nothing freezes within {LONGEST_H} h; below 5 °C come {named}: heat or drain them.")
        else:
            told.append(f"No water falls to 5 °C within {LONGEST_H} h.")
        if night.valve_opens_h is not None:
            told.append(
                f"The frost drain valve opens within {night.valve_opens_h:.0f} h and lets {night.dumped_l:.0f} L go."
            )
    told.append("Children, pets and anyone ill are not left to it; no hob, oven or unflued flame replaces the heater.")
    return told


def _after(hours: float | None) -> str:
    if hours is None:
        return f"not within {LONGEST_H} h"
    return "at once" if hours < 0.05 else f"after {hours:.1f} h"
