"""Settings for one night: what each takes with gas and charge to the morning, and how often those at hand end first."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from budget.answers.night import LEADS_MIN, OFF, WARM_BAND_K, Setback, at_time_c, clock, hours_of, run_setbacks
from budget.answers.night_wish import Wish
from budget.answers.odds import CHARGE, GAS, OFFTAKE
from budget.answers.prepared import Prepared
from budget.engine.batch import Many
from budget.weather.air import Floats

NIGHT_C = (OFF, 8.0, 10.0, 12.0, 14.0, 16.0, 18.0)
EMPTY_KG = 0.1  # below this the bottles count as empty
OFFTAKE_KG = 0.02  # heating that cold bottles could not feed, from which it counts


@dataclass(frozen=True)
class Option:
    """One setting for this night: its timer, its gas until the morning, and what it feels like.

    All of it with gas and charge to the morning, in the middle case. ``fails_share`` is in how many of all cases the
    heater goes short on it before the morning, with the gas and charge at hand. ``dumped_l`` is what the frost drain
    valve lets go. ``planned``: the night is the tour's own.
    """

    words: str
    night_c: float | None
    planned: bool
    timer: str | None
    lead_min: float | None
    gas_kg: float
    fan_ah: float
    lowest_inside_c: float
    at_warm_time_c: float
    lowest_pipes_c: float
    dumped_l: float
    fails_share: float

    @property
    def night_words(self) -> str:
        """ "at 12 °C" or "with the heater off"."""
        return "with the heater off" if self.night_c is None else f"at {self.night_c:g} °C"


@dataclass(frozen=True, eq=False)
class Cases:
    """The cases of one night with what is at hand: the van's factors and the weather of each."""

    here: Prepared
    factors: Floats
    rows: Floats

    def fail(self, setting: Setback, minute: np.ndarray) -> float:
        """In how many of them the heater goes short before the morning with a setting. [0–1]"""
        many = self.here.run_many(
            self.factors,
            rows=self.rows,
            weather_of=np.arange(len(self.rows)),
            hours=hours_of(self.here, [setting], minute),
            schedule_of=np.zeros(len(self.rows), dtype=np.int64),
        )
        return sum(failing(self.here, many).values())


def ends_h(many: Many) -> tuple[Floats, Floats]:
    """The hour after the start in which the bottles run empty, and in which the battery is cut out; inf: neither."""
    found = []
    for over in (many.trace[:, :, 0] <= EMPTY_KG, many.trace[:, :, 5] > 0.0):
        hour = np.maximum(over.argmax(axis=1) - 1, 0)
        found.append(np.where(over.any(axis=1), hour, np.inf))
    return found[0], found[1]


def failing(here: Prepared, many: Many) -> dict[str, float]:
    """Share of the cases in which each resource fails before the morning; the first that explains a case counts."""
    unserved = here.flow(many, "unserved_heating_kg") > OFFTAKE_KG
    gas_h, charge_h = ends_h(many)
    neither = np.isinf(gas_h) & np.isinf(charge_h)
    return {
        GAS: float((np.isfinite(gas_h) & (gas_h <= charge_h)).mean()),
        CHARGE: float((charge_h < gas_h).mean()),
        OFFTAKE: float((neither & unserved).mean()),
    }


def options(fed: Prepared, cases: Cases, minute: np.ndarray, wish: Wish) -> tuple[Option, ...]:
    """Every night setting, the tour's own among them, with the latest timer that is warm in time, warmest night first.

    ``fed`` is the night of the middle case with gas and charge to the morning.
    """
    nights = sorted({OFF if np.isnan(night) else night for night in NIGHT_C if not _same(night, wish.night_c)})
    nights = [wish.night_c, *nights]
    tried = [Setback(night, lead, wish.down_min, wish.warm_min, wish.warm_c) for night in nights for lead in LEADS_MIN]
    many = run_setbacks(fed, tried, minute)
    edge_minute = np.append(minute[::4], (minute[-4] + 60) % (24 * 60))
    warm = at_time_c(many.trace[:, :, 2], edge_minute, wish.warm_min)
    gas_kg, fan_ah, dumped_l = fed.gas_kg(many), fed.flow(many, "load_ah"), fed.flow(many, "dumped_l")
    told = []
    for n in range(len(nights)):
        first = n * len(LEADS_MIN)
        found = np.flatnonzero(warm[first : first + len(LEADS_MIN)].min(axis=1) >= wish.warm_c - WARM_BAND_K)
        k = first + (int(found[0]) if found.size else len(LEADS_MIN) - 1)
        setting = tried[k]
        told.append(
            Option(
                words=setting.words(),
                night_c=None if np.isnan(setting.night_c) else setting.night_c,
                planned=n == 0,
                timer=clock(setting.on_min) if found.size else None,
                lead_min=setting.lead_min if found.size else None,
                gas_kg=round(float(gas_kg[k]), 3),
                fan_ah=round(float(fan_ah[k]), 2),
                lowest_inside_c=round(float(many.trace[k, 1:, 2].min()), 1),
                at_warm_time_c=round(float(warm[k].min()), 1),
                lowest_pipes_c=round(float(many.trace[k, 1:, 3].min()), 1),
                dumped_l=round(float(dumped_l[k]), 1),
                fails_share=round(cases.fail(setting, minute), 4),
            )
        )
    return tuple(sorted(told, key=lambda option: -1.0 if option.night_c is None else option.night_c, reverse=True))


def _same(one_c: float, other_c: float) -> bool:
    return one_c == other_c or (np.isnan(one_c) and np.isnan(other_c))
