"""One detailed run of a tour as the answers read it: rows of the engine by family, times and places."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from budget.answers.prepared import Prepared
from budget.engine.batch import Many, run_one
from budget.engine.layout import flow_width
from budget.engine.stepping import Floats
from budget.engine.van_arrays import BuiltVan
from budget.errors import InputFault
from budget.moments import instant
from budget.results.need import (
    Need,
    element_alone,
    fed,
    gas_everywhere,
    need_of,
    with_automatic_changeover,
    with_flow,
    with_power,
)
from budget.tour.model import Tour
from budget.tour.timeline import Timeline
from budget.van.model import Van

if TYPE_CHECKING:
    import pandas as pd

    from budget.results.result import Result


@dataclass(frozen=True, kw_only=True, eq=False)
class Detail:
    """A van, its tour and one run of it with every column; n hours, n + 1 edges."""

    van: Van
    tour: Tour
    timeline: Timeline
    built: BuiltVan
    hours: Any
    wishes: Any
    rows: Floats
    many: Many

    @classmethod
    def of(cls, source: Result | Prepared | Detail) -> Detail:
        """From a result, or from a tour made ready, which is run once; of a result always the same."""
        if isinstance(source, Detail):
            return source
        if isinstance(source, Prepared):
            return cls(**_shared(source), rows=source.rows, many=source.run())
        return _of_result(source)

    @property
    def count(self) -> int:
        """Hours of the tour."""
        return len(self.rows)

    @property
    def index(self) -> pd.DatetimeIndex:
        """Start of each hour."""
        return self.timeline.index

    @property
    def bottles(self) -> int:
        """Number of bottles on board."""
        return self.built.size.bottles

    def flow(self, family: str, part: int | None = None) -> Floats:
        """A family of flows by hour: one part of it, or all parts added up; engine's units, shape (n,)."""
        assert self.many.flows is not None
        first = int(getattr(self.built.flows, family))
        width = flow_width(self.built.size).get(family, 1)
        if part is not None:
            return self.many.flows[:, first + part]
        summed: Floats = self.many.flows[:, first : first + width].sum(axis=1)
        return summed

    def stock(self, family: str, part: int = 0) -> Floats:
        """One stock at the hour edges, engine's units, shape (n + 1,)."""
        assert self.many.stocks is not None
        return self.many.stocks[:, int(getattr(self.built.stocks, family)) + part]

    def node_c(self, name: str) -> Floats:
        """Temperature of a node at the hour edges. [°C]"""
        return self.stock("node_c", self.built.node_names.index(name))

    def left_kg(self, bottle: int) -> Floats:
        """Contents of a bottle at the hour edges. [kg]"""
        left: Floats = self.stock("propane_kg", bottle) + self.stock("butane_kg", bottle)
        return left

    @cached_property
    def need(self) -> Need:
        """What the tour would burn if it were fed."""
        return need_of(self.built, self.hours, self.rows, self.wishes, self.many)

    @cached_property
    def beside_element_kg(self) -> Floats:
        """Gas by the hour that a flame beside the electric element lacked. [kg]"""
        alone = element_alone(self.built, self.hours, self.many)
        return self.need.beside_element_kg if alone.any() else np.zeros(self.count)

    def with_power(self) -> Detail:
        """The same run with a battery that does not end."""
        return self._powered

    def with_automatic_changeover(self) -> Detail:
        """The same run with a changeover that needs no hand."""
        return self._changed_over

    @cached_property
    def _powered(self) -> Detail:
        return self._of(with_power(self.built))

    @cached_property
    def _changed_over(self) -> Detail:
        return self._of(with_automatic_changeover(self.built))

    def _of(self, built: BuiltVan) -> Detail:
        return replace(self, built=built, many=run_one(built, self.hours, self.rows, self.wishes))

    def fed(self) -> Detail:
        """The same run with gas and charge that do not end."""
        return self._with_gas(fed(self.built))

    def with_gas(self) -> Detail:
        """The same run with gas that does not end, and its own battery."""
        return self._with_gas(with_flow(self.built))

    def _with_gas(self, built: BuiltVan) -> Detail:
        hours = gas_everywhere(built, self.hours)
        return replace(self, built=built, hours=hours, many=run_one(built, hours, self.rows, self.wishes))

    def again(self, *, hours: Any = None, rows: Floats | None = None, wishes: Any = None) -> Detail:
        """The same van through other hours or weather."""
        hours = self.hours if hours is None else hours
        rows = self.rows if rows is None else rows
        wishes = self.wishes if wishes is None else wishes
        many = run_one(self.built, hours, rows, wishes)
        return Detail(
            van=self.van, tour=self.tour, timeline=self.timeline, built=self.built, hours=hours, wishes=wishes,
            rows=rows, many=many,
        )  # fmt: skip

    def place(self, hour: int) -> str:
        """Where the van is in an hour, or is going to."""
        stop = self.tour.stops[int(self.timeline.stop[hour])].place
        return f"on the way to {stop}" if self.timeline.moving[hour] else stop

    def time(self, hour: int) -> dt.datetime:
        """Start of an hour, or the end of the tour; local time with its offset."""
        edge: dt.datetime = self.timeline.edges[hour].to_pydatetime()
        return edge

    def hour_of(self, at: dt.datetime | str) -> int:
        """The hour that holds an instant; a time without offset is the tour's local time. InputFault outside it."""
        try:
            local = dt.datetime.fromisoformat(at) if isinstance(at, str) else at
        except ValueError:
            raise InputFault(f'the time must read "2027-01-20 22:00", got "{str(at)[:60]}"; correct it.') from None
        edges = self.timeline.edges
        time = instant(local, edges.tz)
        if time is None:
            raise InputFault(
                f"the time must exist, got {local:%Y-%m-%d %H:%M}, which the clocks skip there; choose another."
            )
        hour = self.timeline.hour_of(time)
        if not 0 <= hour < len(edges) - 1:
            raise InputFault(
                f"the time must lie within the tour ({edges[0]:%Y-%m-%d %H:%M} to {edges[-1]:%Y-%m-%d %H:%M}), "
                f"got {time:%Y-%m-%d %H:%M}; choose another."
            )
        return hour


def first_hour(flag: Floats | np.ndarray) -> int | None:
    """First hour that is more than nothing, or None."""
    found = np.flatnonzero(np.asarray(flag) > 0)
    return int(found[0]) if found.size else None


def _shared(source: Result | Prepared) -> dict[str, Any]:
    return {name: getattr(source, name) for name in ("van", "tour", "timeline", "built", "hours", "wishes")}


@lru_cache(maxsize=4)
def _of_result(result: Result) -> Detail:
    return Detail(**_shared(result), rows=result.weather_rows, many=result.many)
