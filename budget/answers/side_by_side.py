"""The usual schedules over one night of the tour, evening to morning, side by side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from budget.answers.compare import NIGHT_LOWER_K
from budget.answers.prepared import Prepared
from budget.engine.stepping import Floats
from budget.results.need import short_of_what

if TYPE_CHECKING:
    import pandas as pd

    from budget.engine.batch import Many

EVENING_H, LONG_H, LEAST_H = 18, 16, 6


@dataclass(frozen=True, eq=False)
class NightOf:
    """One schedule's night: clock times and, at each, air, setpoint [°C] and heat [kW]; totals of the night.

    ``clock``: words such as "18:00", the same for every schedule; ``wake_c``: air when people rise [°C]. ``as_if_fed``:
    on some schedule charge or gas is short on the tour, so every one is reckoned as if it were not.
    """

    name: str
    clock: Sequence[str]
    air_c: Sequence[float]
    setpoint_c: Sequence[float]
    heat_kw: Sequence[float]
    gas_kg: float
    fan_ah: float
    wake_c: float
    as_if_fed: bool = False
    mains_kwh: float = 0.0


def schedules(prepared: Prepared) -> dict[str, Prepared]:
    """As planned; at the evening's temperature all night; 4 K lower while somebody sleeps; off meanwhile."""
    timeline = prepared.timeline
    planned = np.asarray(timeline.setpoint_c, dtype=float)
    asleep = np.repeat(timeline.asleep > 0.0, 4)
    awake = np.repeat(timeline.awake > 0.0, 4) & ~asleep & np.isfinite(planned)
    if not (asleep & np.isfinite(planned)).any() or not awake.any():
        return {}
    day_c = float(np.median(planned[awake]))
    through = {
        f"{day_c:g} °C all night": np.full(len(planned), day_c),
        f"{day_c - NIGHT_LOWER_K:g} °C at night": np.where(asleep, day_c - NIGHT_LOWER_K, planned),
        "off at night": np.where(asleep, np.nan, planned),
    }
    return {"as planned": prepared} | {
        name: replace(prepared, hours=prepared.with_setpoints(set_c)) for name, set_c in through.items()
    }


def answer(prepared: Prepared, at: pd.Timestamp) -> tuple[NightOf, ...]:
    """The night to which a moment belongs, 18:00 to 10:00, under each schedule.

    Every schedule is kept through the whole tour, so that the night begins as it would, with gas everywhere, so that
    what is compared is the need. Empty where the tour has no such night, or where nobody sleeps in a heated van.
    """
    index = prepared.timeline.index
    evenings = np.flatnonzero((index.hour.to_numpy() == EVENING_H) & (index <= at))
    if not evenings.size:
        return ()
    hours = slice(int(evenings[-1]), min(int(evenings[-1]) + LONG_H, prepared.hours_count))
    if hours.stop - hours.start < LEAST_H:
        return ()
    ready = {name: one.with_gas_everywhere() for name, one in schedules(prepared).items()}
    runs = {name: one.run() for name, one in ready.items()}
    as_if_fed = any(short_of_what(prepared.built, many) for many in runs.values())
    if as_if_fed:
        ready = {name: one.fed() for name, one in ready.items()}
        runs = {name: one.run() for name, one in ready.items()}
    return tuple(_night(name, one, runs[name], hours, as_if_fed) for name, one in ready.items())


def _night(name: str, prepared: Prepared, many: Many, hours: slice, as_if_fed: bool) -> NightOf:
    assert many.flows is not None
    at, flows = prepared.built.flows, many.flows[hours]
    heat = (at.gas_heat_air_j, at.gas_heat_water_j, at.electric_air_j, at.electric_water_j)
    heat_j: Floats = flows[:, list(heat)].sum(axis=1)
    asked = np.asarray(prepared.hours["set_c"][hours], dtype=float)
    given = np.isfinite(asked)
    mean_c = np.where(given, asked, 0.0).sum(axis=1) / np.maximum(given.sum(axis=1), 1)
    edges = slice(hours.start + 1, hours.stop + 1)
    air_c = many.trace[0, edges, 2]
    slept = np.flatnonzero(prepared.timeline.asleep[hours] > 0.0)
    used = many.trace[0, :, 4]
    return NightOf(
        name=name,
        clock=tuple(f"{time:%H:%M}" for time in prepared.timeline.edges[edges]),
        air_c=tuple(air_c.tolist()),
        setpoint_c=tuple(np.where(given.any(axis=1), mean_c, np.nan).tolist()),
        heat_kw=tuple((heat_j / 3.6e6).tolist()),
        gas_kg=float(used[hours.stop] - used[hours.start]),
        fan_ah=float(flows[:, at.load_ah].sum()),
        wake_c=float(air_c[slept[-1]] if slept.size else air_c[-1]),
        as_if_fed=as_if_fed,
        mains_kwh=float(flows[:, at.mains_j].sum()) / 3.6e6,
    )
