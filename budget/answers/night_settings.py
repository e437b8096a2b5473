"""Settings for one night: what each takes with gas and charge to the morning, and when those at hand would end."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from budget.answers.night import (
    LEADS_MIN,
    OFF,
    WARM_BAND_K,
    Setback,
    at_time_c,
    clock,
    run_setbacks,
)
from budget.answers.odds import CHARGE, GAS
from budget.answers.prepared import Prepared
from budget.engine.batch import Many
from budget.weather.air import Floats

NIGHT_C = (OFF, 8.0, 10.0, 12.0, 14.0, 16.0, 18.0)
DOWN_MIN = 22 * 60
EMPTY_KG = 0.1  # below this the bottles count as empty


@dataclass(frozen=True)
class Option:
    """One setting for this night: its timer, its gas until the morning, and what it feels like.

    All of it with gas and charge to the morning. ``stops_after_h`` is when those at hand end on this setting, by the
    hour, ``stops_at`` the clock then and ``stops_for`` what ends; None: they last.
    """

    words: str
    night_c: float | None
    timer: str | None
    lead_min: float | None
    gas_kg: float
    fan_ah: float
    lowest_inside_c: float
    at_warm_time_c: float
    lowest_pipes_c: float
    stops_after_h: float | None = None
    stops_at: str | None = None
    stops_for: str | None = None

    @property
    def night_words(self) -> str:
        """ "at 12 °C" or "with the heater off"."""
        return "with the heater off" if self.night_c is None else f"at {self.night_c:g} °C"


def ends_h(many: Many) -> tuple[Floats, Floats]:
    """Hours after the start by which the bottles are empty, and by which the battery is cut out; inf: neither. [h]"""
    found = []
    for over in (many.trace[:, :, 0] <= EMPTY_KG, many.trace[:, :, 5] > 0.0):
        found.append(np.where(over.any(axis=1), over.argmax(axis=1), np.inf))
    return found[0], found[1]


def options(fed: Prepared, at_hand: Prepared, minute: np.ndarray, warm_c: float, warm_min: int) -> tuple[Option, ...]:
    """Every night setting with the latest timer that is warm in time, warmest night first.

    ``fed`` and ``at_hand`` are the same night on the same weather, with gas and charge to the morning and with what is
    left of them.
    """
    tried = [Setback(night, lead, DOWN_MIN, warm_min, warm_c) for night in NIGHT_C for lead in LEADS_MIN]
    many = run_setbacks(fed, tried, minute)
    edge_minute = np.append(minute[::4], (minute[-4] + 60) % (24 * 60))
    warm = at_time_c(many.trace[:, :, 2], edge_minute, warm_min)
    chosen, in_time = [], []
    for n in range(len(NIGHT_C)):
        rows = slice(n * len(LEADS_MIN), (n + 1) * len(LEADS_MIN))
        found = np.flatnonzero(warm[rows].min(axis=1) >= warm_c - WARM_BAND_K)
        in_time.append(bool(found.size))
        chosen.append(rows.start + (int(found[0]) if found.size else len(LEADS_MIN) - 1))
    gas_h, charge_h = ends_h(run_setbacks(at_hand, [tried[k] for k in chosen], minute))
    gas_kg, fan_ah = fed.gas_kg(many), fed.flow(many, "load_ah")
    told = []
    for n, k in enumerate(chosen):
        setting, end_h = tried[k], min(gas_h[n], charge_h[n])
        lasts = not np.isfinite(end_h)
        told.append(
            Option(
                words=setting.words(),
                night_c=None if np.isnan(setting.night_c) else setting.night_c,
                timer=clock(setting.on_min) if in_time[n] else None,
                lead_min=setting.lead_min if in_time[n] else None,
                gas_kg=round(float(gas_kg[k]), 3),
                fan_ah=round(float(fan_ah[k]), 2),
                lowest_inside_c=round(float(many.trace[k, 1:, 2].min()), 1),
                at_warm_time_c=round(float(warm[k].min()), 1),
                lowest_pipes_c=round(float(many.trace[k, 1:, 3].min()), 1),
                stops_after_h=None if lasts else float(end_h),
                stops_at=None if lasts else clock(int(edge_minute[int(end_h)])),
                stops_for=None if lasts else GAS if gas_h[n] <= charge_h[n] else CHARGE,
            )
        )
    return tuple(sorted(told, key=lambda option: -1.0 if option.night_c is None else option.night_c, reverse=True))
