"""What a run works out beyond its own hours, for its report and its JSON."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict, dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable

    import pandas as pd

    from budget.answers.battery import Battery
    from budget.answers.hookup import Hookup
    from budget.answers.odds import Odds
    from budget.answers.outage import Outage
    from budget.answers.prepared import Prepared
    from budget.answers.sensitivity import Sensitivity
    from budget.answers.side_by_side import NightOf
    from budget.answers.tonight import Tonight
    from budget.answers.what_if import WhatIf
    from budget.results.result import Result
    from budget.tour.reader import Loaded

BEFORE_H = 5
DOOR_A = (6.0, 10.0)
LEAST_SCENARIOS = 20


@dataclass(frozen=True, eq=False)
class Further:
    """Answers around one run, each worked out when first asked for; those with odds only where scenarios are drawn."""

    loaded: Loaded
    result: Result
    weather_file: Path | None
    scenarios: int
    seed: int
    done: Callable[[int], object]

    @cached_property
    def prepared(self) -> Prepared:
        """The same tour, ready for variants."""
        from budget.answers.prepared import Prepared

        return Prepared.of_result(self.result, self.loaded, weather_file=self.weather_file)

    @cached_property
    def outage(self) -> Outage:
        """If the heater stops in the evening of the coldest night."""
        from budget.answers import outage

        return outage.answer(self.result)

    @cached_property
    def _coldest_evening_off_grid(self) -> pd.Timestamp | None:
        from budget.answers.coldest import coldest_evening
        from budget.engine.arrays import TEMP_C

        return coldest_evening(self.result.timeline, self.result.weather_rows[:, TEMP_C], off_grid=True)

    @cached_property
    def nights(self) -> tuple[NightOf, ...]:
        """The coldest night off the grid under the usual schedules."""
        from budget.answers import side_by_side

        evening = self._coldest_evening_off_grid
        return () if evening is None else side_by_side.answer(self.prepared, evening)

    @cached_property
    def what_if(self) -> WhatIf | None:
        """Other setpoints by night, a better and a worse van."""
        from budget.answers import what_if

        return what_if.answer(self.prepared)

    @cached_property
    def battery(self) -> Battery:
        """Evenings off the grid without sun, and the drive that reaches the next."""
        from budget.answers import battery

        return battery.answer(self.result)

    @cached_property
    def hookup(self) -> Hookup:
        """What 6 and 10 A give."""
        from budget.answers import hookup

        return hookup.answer(self.result, amps=DOOR_A)

    @cached_property
    def odds(self) -> Odds | None:
        """Many winters and many vans like this one."""
        if not self.scenarios:
            return None
        from budget.answers import odds

        return odds.answer(self.prepared, scenarios=self.scenarios, seed=self.seed, done=self.done)

    @cached_property
    def matters(self) -> Sensitivity | None:
        """What matters most, from enough scenarios."""
        if self.odds is None:
            return None
        from budget.answers import sensitivity

        return sensitivity.answer(self.odds) if self.scenarios >= sensitivity.LEAST_SCENARIOS else None

    @cached_property
    def tonight(self) -> Tonight | None:
        """The coldest night off the grid with what the plan leaves by then."""
        evening = self._coldest_evening_off_grid
        if evening is None or self.scenarios < LEAST_SCENARIOS:
            return None
        from budget.answers import tonight

        stocks, index = self.result.stocks, self.result.timeline.index
        at = max(evening - dt.timedelta(hours=BEFORE_H), index[0])
        zone = self.result.van.heater.sensor_zone
        # A run may end below nothing or above full, and what is rounded may be more than the bottles hold.
        left_kg, held_kg = float(stocks["gas_left_kg"].loc[at]), sum(b.net_kg for b in self.result.van.gas.bottles)
        percent = 100.0 * float(stocks["charge_share"].loc[at])
        return tonight.answer(
            self.prepared,
            gas_left_kg=min(max(round(left_kg, 1), 0.0), held_kg),
            charge_percent=min(max(float(round(percent)), 0.0), 100.0),
            at=at.to_pydatetime(),
            inside_c=float(self.result.air_c(zone).loc[at]),
            scenarios=min(self.scenarios, tonight.SCENARIOS),
            seed=self.seed,
        )

    def as_dict(self) -> dict[str, Any]:
        """For the machine-readable summary: heater size, an outage, what runs out first, the bottles with their cost,
        what goes wrong, the battery's nights, what each hook-up gave, ducts where there are any; and with odds all that
        they say."""
        from budget.answers import bottle_plan, ducts, heater_size, hookup, runs_out, trouble
        from budget.answers.detail import Detail
        from budget.answers.heat_source import sources_of

        result = self.result
        sources = sources_of(result.van, result.timeline, result.hours)
        told: dict[str, Any] = {
            "heater_size": heater_size.answer(result.van, sources=sources).as_dict(),
            "outage": self.outage.as_dict(),
            "runs_out": runs_out.answer(result).as_dict(),
            "plan": bottle_plan.answer(result).as_dict(),
            "trouble": trouble.answer(result).as_dict(),
            "battery": self.battery.as_dict(),
            "hookup": {"stays": [asdict(stay) for stay in hookup.stays_of(Detail.of(result))]},
        }
        if result.van.ducts:
            told["ducts"] = ducts.answer(result.van).as_dict()
        for name in ("odds", "matters", "tonight"):
            found = getattr(self, name)
            if found is not None:
                told["sensitivity" if name == "matters" else name] = found.as_dict()
        return told
