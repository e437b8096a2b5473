"""What came out of one simulated tour: tables, summary, balance, notices."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd
from pandas.api.types import is_numeric_dtype

from budget.engine.batch import Many
from budget.engine.stepping import Floats
from budget.engine.van_arrays import BuiltVan
from budget.results.balance import Balance, accounts_of, balance_of
from budget.results.ledger import Column, columns
from budget.results.need import Need, need_of
from budget.results.notices import notices_of
from budget.results.summary import summary_of
from budget.results.swaps import needless_from
from budget.tour.model import Tour
from budget.tour.timeline import FUELS, Timeline
from budget.van.model import Van
from budget.weather.record import COLUMNS, UNITS, HourlyWeather

OUTDOOR_NAMES = {
    "temp_air": "outdoor_c",
    "relative_humidity": "outdoor_humidity_percent",
    "wind_speed": "wind_m_per_s",
    "pressure": "pressure_pa",
    "ghi": "ghi_w_per_m2",
    "dni": "dni_w_per_m2",
    "dhi": "dhi_w_per_m2",
    "temp_sky": "sky_c",
}
assert set(OUTDOOR_NAMES) == set(COLUMNS) <= set(UNITS)
MOVING = ("parked", "driving", "ferry")
USES = ("shower", "dishes")
DECIMALS = 6
_NEED_QUOTES = set(',"\r\n')


@dataclass(frozen=True, eq=False)
class Result:
    """One simulated tour.

    ``van``, ``tour``, ``timeline`` and ``weather`` are what went in; ``built``, ``hours``, ``wishes`` and
    ``weather_rows`` the same as arrays; ``many`` the engine's rows in its own units. Everything else is read from
    them when asked for: ``flows`` (n rows, by start of hour), ``stocks`` (n + 1 rows, by edge), ``hourly``,
    ``draws``, ``scale``, ``need``, ``summary``, ``balance``, ``notices``.
    """

    van: Van
    tour: Tour
    timeline: Timeline
    weather: HourlyWeather
    built: BuiltVan
    hours: Any
    wishes: Any
    weather_rows: Floats
    many: Many

    @cached_property
    def ledger(self) -> tuple[Column, ...]:
        """Every column with its unit, kind, sign and meaning."""
        return tuple(columns(self.built))

    def columns(self, family: str) -> tuple[Column, ...]:
        """The columns of a family in the order of its parts; none where the van has no such part."""
        return self._families.get(family, ())

    @cached_property
    def _families(self) -> dict[str, tuple[Column, ...]]:
        found: dict[str, list[Column]] = {}
        for column in self.ledger:
            found.setdefault(column.family, []).append(column)
        return {family: tuple(listed) for family, listed in found.items()}

    def column(self, family: str, part: int = 0) -> pd.Series[float]:
        """The column of one part of a family, by the part's place: names are people's, and none is sought by one."""
        found = self.columns(family)[part]
        table = self.stocks if found.kind == "stock" else self.flows
        return table[found.name]

    def air_c(self, zone: str) -> pd.Series[float]:
        """Air temperature of a zone at the hour edges. [°C]"""
        return self.column("node_c", self.built.node_names.index(f"{zone}_air"))

    @cached_property
    def flows(self) -> pd.DataFrame:
        """Flows and measures of each hour, indexed by the start of the hour."""
        rows = self.many.flows
        assert rows is not None
        return _table([c for c in self.ledger if c.kind != "stock"], rows, self.timeline.index)

    @cached_property
    def stocks(self) -> pd.DataFrame:
        """Stocks at each edge of the hours, n + 1 rows."""
        rows = self.many.stocks
        assert rows is not None
        return _table([c for c in self.ledger if c.kind == "stock"], rows, self.timeline.edges)

    @cached_property
    def hourly(self) -> pd.DataFrame:
        """Place, weather, setpoint, flows of the hour and stocks at its end; columns that are zero by construction
        left out."""
        idle = {column.name for column in self.ledger if column.idle}
        stocks = self.stocks.iloc[1:].set_axis(self.timeline.index)
        whole = pd.concat([self._outdoors(), self.flows, stocks], axis=1)
        return whole.drop(columns=[name for name in whole.columns if name in idle])

    def _outdoors(self) -> pd.DataFrame:
        timeline = self.timeline
        weather = self.weather.frame[list(COLUMNS)].rename(columns=OUTDOOR_NAMES)
        before = pd.DataFrame(
            {
                "place": [self.tour.stops[k].place for k in timeline.stop],
                "moving": [MOVING[k] for k in timeline.moving],
                "fuel": [FUELS[k] for k in timeline.fuel],
            },
            index=timeline.index,
        )
        quarters = timeline.setpoint_c.reshape(-1, 4), timeline.water_set_c.reshape(-1, 4)
        after = pd.DataFrame(
            {
                "setpoint_c": _mean_of_set(quarters[0]),
                "water_setpoint_c": _mean_of_set(quarters[1]),
                "people_inside": timeline.awake + timeline.asleep,
                "hookup_w": timeline.hookup_w,
            },
            index=timeline.index,
        )
        return pd.concat([before, weather.set_axis(timeline.index), after], axis=1)

    @cached_property
    def draws(self) -> pd.DataFrame:
        """Each shower and wash-up: time, who, use, litres_l wanted, served_l, coldest_c at the tap, wait_min."""
        timeline, drawn = self.timeline, self.many.drawn[0]
        start = timeline.edges[0]
        return pd.DataFrame(
            {
                "time": [start + pd.Timedelta(seconds=float(second)) for second in timeline.draw_s],
                "who": [self.tour.draws[k].who for k in timeline.draw_index],
                "use": [USES[k] for k in timeline.draw_use],
                "litres_l": timeline.draw_l,
                "served_l": np.asarray(drawn["served_l"]),
                "coldest_c": np.asarray(drawn["coldest_c"]),
                "wait_min": np.asarray(drawn["wait_s"]) / 60.0,
            }
        )

    @cached_property
    def scale(self) -> pd.DataFrame:
        """What a scale should read under each bottle every morning, at the first hour edge from eight on. [kg]

        Tare and contents. That edge is eight itself but for hours that start at another minute.
        """
        edges = self.timeline.edges
        morning = np.flatnonzero(edges.hour == 8)
        bottles = self.van.gas.bottles
        return pd.DataFrame(
            {
                f"bottle_{k + 1}_gross_kg": self.stocks[f"bottle_{k + 1}_kg"].to_numpy()[morning] + bottle.tare_kg
                for k, bottle in enumerate(bottles)
            },
            index=edges[morning],
        )

    @cached_property
    def balance(self) -> Balance:
        """How well the five books close."""
        stocks, flows = self.many.stocks, self.many.flows
        assert stocks is not None and flows is not None
        return balance_of(accounts_of(self.built, self.hours, self.weather_rows), stocks, flows)

    @cached_property
    def need(self) -> Need:
        """What the tour would burn if it were fed; run once more where battery or gas ran short."""
        return need_of(self.built, self.hours, self.weather_rows, self.wishes, self.many)

    @cached_property
    def needless_from(self) -> int:
        """First hour from which on no swap of bottles is needed; the number of hours where all are."""
        return needless_from(self.built, self.hours, self.weather_rows, self.wishes, self.many, self.need)

    @cached_property
    def summary(self) -> dict[str, Any]:
        """The machine-readable summary: plain numbers, words and ISO times."""
        return summary_of(self)

    @cached_property
    def notices(self) -> tuple[str, ...]:
        """What needs saying, the gravest first, one sentence each."""
        return notices_of(self)


def hourly_csv(result: Result) -> str:
    """The hourly table as CSV text, rounded to six decimals: the same run gives the same bytes everywhere."""
    table = result.hourly
    forms, columns = ["%s"], [[moment.isoformat() for moment in table.index]]
    for _, column in table.items():
        form, written = _written(column)
        forms.append(form)
        columns.append(written)
    line = ",".join(forms) + "\n"
    head = ",".join(["time", *map(_quoted, table.columns)]) + "\n"
    return head + "".join([line % row for row in zip(*columns, strict=True)])


def _written(column: pd.Series[Any]) -> tuple[str, list[Any]]:
    """A column's form in a line, and what takes it: nothing for what is no number, no minus before a zero."""
    if not is_numeric_dtype(column):
        return "%s", [_quoted(word) for word in column.astype(str)]
    rounded = np.round(column.to_numpy(dtype=float), DECIMALS) + 0.0
    form = f"%.{DECIMALS}f"
    if np.isnan(rounded).any():
        return "%s", ["" if math.isnan(number) else form % number for number in rounded.tolist()]
    return form, rounded.tolist()


def _quoted(word: str) -> str:
    """A word as one field of a line."""
    return f'"{word.replace(chr(34), 2 * chr(34))}"' if set(word) & _NEED_QUOTES else word


def _table(declared: list[Column], rows: Floats, index: pd.DatetimeIndex) -> pd.DataFrame:
    values = {column.name: rows[:, list(column.index)].sum(axis=1) * column.scale for column in declared}
    return pd.DataFrame(values, index=index)


def _mean_of_set(quarters: Floats) -> Floats:
    """Mean over the quarter hours that have a setting; NaN where none has."""
    held = ~np.isnan(quarters)
    count = held.sum(axis=1)
    mean: Floats = np.where(count > 0, np.where(held, quarters, 0.0).sum(axis=1) / np.maximum(count, 1), np.nan)
    return mean
