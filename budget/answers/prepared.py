"""A tour made ready for the engine once, and the doors through which an answer runs variants of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from budget.answers.unknowns import Unknowns
from budget.engine import arrays as A
from budget.engine.batch import Many, base_factors, run_many, run_one
from budget.engine.hour_arrays import draw_records, hour_records, weather_array
from budget.engine.van_arrays import BuiltVan, build_van
from budget.errors import InputFault
from budget.results.need import fed, gas_everywhere
from budget.tour.timeline import Timeline
from budget.van.ranges import ranges
from budget.weather.air import Floats
from budget.weather.record import HourlyWeather
from budget.weather.sun import Sun, on_the_van, planes
from budget.weather.tour_weather import for_tour

if TYPE_CHECKING:
    from budget.engine.stepping import Ints
    from budget.results.result import Result
    from budget.tour.model import Tour
    from budget.tour.reader import Loaded
    from budget.van.description import VanDescription
    from budget.van.model import Van
    from budget.weather.winters import Winters

# The named ranges of a van (budget.van.ranges) and the scenario columns they move.
FACTOR_OF = {
    "loss_factor": A.LOSS,
    "glazing_factor": A.GLASS,
    "leakage_factor": A.LEAKAGE,
    "capacity_factor": A.CAPACITY,
    "efficiency_factor": A.EFFICIENCY,
    "vapour_factor": A.PEOPLE,
    "hot_water_factor": A.HOT_WATER,
    "battery_capacity_factor": A.BATTERY,
    "solar_factor": A.SOLAR,
    "loads_factor": A.LOADS,
}


@dataclass(frozen=True, kw_only=True, eq=False)
class Prepared:
    """A van, its tour and one weather as the arrays of the engine.

    ``hours`` and ``wishes`` are the engine's records, ``rows`` its weather (hours, columns). ``described`` is what the
    person told of the van, for the ranges; None when it was given in full.
    """

    van: Van
    tour: Tour
    timeline: Timeline
    weather: HourlyWeather
    built: BuiltVan
    hours: Any
    wishes: Any
    rows: Floats
    folder: Path = field(default_factory=Path)
    weather_file: Path | None = None
    described: VanDescription | None = None

    @classmethod
    def of(
        cls,
        van: Van,
        tour: Tour,
        weather: HourlyWeather | None = None,
        *,
        folder: Path | None = None,
        weather_file: Path | None = None,
        described: VanDescription | None = None,
    ) -> Prepared:
        """Make a tour ready; without ``weather`` it is made as the tour says, files relative to ``folder``."""
        where = Path() if folder is None else folder
        timeline = timeline_of(van, tour)
        if weather is None:
            weather = for_tour(tour, timeline, folder=where, file_for_all=weather_file)
        built = build_van(van, len(timeline.draw_s))
        return cls(
            van=van,
            tour=tour,
            timeline=timeline,
            weather=weather,
            built=built,
            hours=hour_records(built, timeline),
            wishes=draw_records(timeline),
            rows=weather_array(weather.values(), timeline, planes(weather, timeline, van)),
            folder=where,
            weather_file=weather_file,
            described=described,
        )

    @classmethod
    def from_loaded(cls, loaded: Loaded, *, weather_file: Path | None = None) -> Prepared:
        """Make a tour file that was read ready."""
        return cls.of(
            loaded.van, loaded.tour, folder=loaded.folder, weather_file=weather_file, described=loaded.description
        )

    @classmethod
    def of_result(cls, result: Result, loaded: Loaded, *, weather_file: Path | None = None) -> Prepared:
        """From a tour file that was read and its run: nothing is reckoned twice."""
        shared = {name: getattr(result, name) for name in ("van", "tour", "timeline", "weather", "built")}
        return cls(
            **shared,
            hours=result.hours,
            wishes=result.wishes,
            rows=result.weather_rows,
            folder=loaded.folder,
            weather_file=weather_file,
            described=loaded.description,
        )

    @property
    def hours_count(self) -> int:
        """Hours of the tour."""
        return len(self.rows)

    def run(self, factors: Floats | None = None) -> Many:
        """March the tour once, every column kept."""
        return run_one(self.built, self.hours, self.rows, self.wishes, factors=factors)

    def run_many(
        self,
        factors: Floats,
        *,
        rows: Floats | None = None,
        weather_of: Ints | None = None,
        hours: Any = None,
        schedule_of: Ints | None = None,
        executor: Executor | None = None,
        done: Callable[[int], object] | None = None,
    ) -> Many:
        """March many scenarios; what is left out is the tour's own."""
        return run_many(
            self.built,
            self.hours if hours is None else hours,
            self.rows[np.newaxis] if rows is None else rows,
            self.wishes,
            factors=factors,
            weather_of=weather_of,
            schedule_of=schedule_of,
            executor=executor,
            done=done,
        )

    def with_van(self, van: Van) -> Prepared:
        """The same tour and weather with another van; the weather's rows are reckoned anew for its panels."""
        return self._with(van, self.tour)

    def with_tour(self, tour: Tour) -> Prepared:
        """The same van and weather with another tour over the same hours and places."""
        return self._with(self.van, tour)

    def _with(self, van: Van, tour: Tour) -> Prepared:
        kept = {name: getattr(self, name) for name in ("folder", "weather_file", "described")}
        return Prepared.of(van, tour, self.weather, **kept)

    def with_setpoints(self, set_c: Floats) -> Any:
        """Hour records with other room setpoints by the quarter hour, NaN for off; the heater's bans are kept."""
        hours = self.hours.copy()
        off = ~np.asarray(self.timeline.heater_allowed, dtype=bool)
        chosen = np.asarray(set_c, dtype=float).reshape(len(hours), 4).copy()
        chosen[off] = np.nan
        hours["set_c"] = chosen
        return hours

    def with_gas_everywhere(self) -> Prepared:
        """The same tour where a bottle that is nearly empty is changed at once, so that gas never ends."""
        return replace(self, hours=gas_everywhere(self.built, self.hours))

    def fed(self) -> Prepared:
        """The same tour with gas and charge that do not end: what it uses is its need."""
        return replace(self.with_gas_everywhere(), built=fed(self.built))

    def between(self, first: int, last: int, *, start_c: float | None = None) -> Prepared:
        """Hours first to last - 1 alone, starting at ``start_c`` inside; ``timeline`` stays the whole tour's."""
        if not 0 <= first < last <= self.hours_count:
            raise InputFault(f"the hours must lie within the tour's {self.hours_count}, got {first} to {last}.")
        hours = self.hours[first:last].copy()
        if start_c is not None:
            hours["start_c"] = start_c
        quarter = self.wishes["quarter"]
        wishes = self.wishes[(quarter >= 4 * first) & (quarter < 4 * last)].copy()
        wishes["quarter"] -= 4 * first
        return replace(self, hours=hours, wishes=wishes, rows=self.rows[first:last])

    def unknowns(self) -> Unknowns:
        """What is not known of the van: the presets' ranges, or what a log said where it did."""
        learned = self.tour.learned
        named = ranges(self.described or self.van, learned)
        return Unknowns({name: limits for name, limits in named.items() if name in FACTOR_OF}, learned)

    def winters(self) -> Winters:
        """The winters that the tour may meet, drawn from its climate or its weather files."""
        from budget.weather.winters import Winters

        return Winters.of(self.tour, self.timeline, self.weather, folder=self.folder, file_for_all=self.weather_file)

    def flow(self, many: Many, family: str, width: int = 1) -> Floats:
        """Tour totals of a flow family of the engine, summed over its columns, one a scenario."""
        first = getattr(self.built.flows, family)
        totals: Floats = many.totals[:, first : first + width].sum(axis=1)
        return totals

    def gas_kg(self, many: Many) -> Floats:
        """Gas drawn from all bottles by each scenario. [kg]"""
        bottles = self.built.size.bottles
        return self.flow(many, "gas_out_kg", bottles) + self.flow(many, "gas_out_butane_kg", bottles)

    def net_kg(self) -> Floats:
        """What each bottle holds when full. [kg]"""
        return np.array([bottle.net_kg for bottle in self.van.gas.bottles], dtype=float)

    def start_kg(self) -> Floats:
        """What each bottle holds at the start. [kg]"""
        held = [b.net_kg if b.start_kg is None else min(b.start_kg, b.net_kg) for b in self.van.gas.bottles]
        return np.array(held, dtype=float)


def timeline_of(van: Van, tour: Tour) -> Timeline:
    """The tour by the hour for this van's openings and zones."""
    return Timeline.of(tour, [o.name for o in van.cabin.openings], [z.name for z in van.cabin.zones])


def weather_rows(values: Mapping[str, Floats], timeline: Timeline, van: Van, sun: Sun) -> Floats:
    """Weather columns, with any leading scenario axes, as the engine's rows (..., hours, columns).

    ``values`` has the columns of ``HourlyWeather``.
    """
    irradiance = (values["ghi"], values["dni"], values["dhi"])
    faces = on_the_van(sun, irradiance, values["temp_air"], values["wind_speed"], timeline=timeline, van=van)
    return weather_array(values, timeline, faces)


def factor_rows(samples: Mapping[str, Floats], count: int) -> Floats:
    """Scenario rows with each named factor of ``FACTOR_OF`` set, all others as described."""
    rows = base_factors(count)
    for name, values in samples.items():
        rows[:, FACTOR_OF[name]] = values
    return rows


def load_prepared(
    path: Path | str | None, overrides: Sequence[str] = (), *, weather_file: Path | None = None
) -> Prepared:
    """Read a tour file with NAME=VALUE overrides and make it ready."""
    from budget.tour.reader import load

    return Prepared.from_loaded(load(path, overrides), weather_file=weather_file)
