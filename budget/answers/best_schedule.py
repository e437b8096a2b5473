"""The least gas within stated limits: set-back temperature and timer found by search over the batch."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from budget.answers.bedtime import bedtime_min
from budget.answers.fed import dies, powered
from budget.answers.night import OFF, WARM_BAND_K, Setback, at_time_c, clock, minute_of_quarters, run_setbacks
from budget.answers.prepared import Prepared
from budget.engine.batch import Many
from budget.errors import InputFault
from budget.weather.air import Floats

NIGHT_C = (OFF, 6.0, 8.0, 10.0, 12.0, 14.0, 16.0, 18.0)
ABOVE_K = (0.0, 1.0, 2.0)  # above the warmth asked for asleep, since a thermostat swings about its setpoint
SHORT_K = 2.0  # a room this far below its setpoint is not held; a choice
LEADS_MIN = (0.0, 30.0, 60.0, 90.0, 120.0, 180.0)
FINE_K = (-1.5, -1.0, -0.5, 0.0, 0.5, 1.0, 1.5)
FINE_MIN = (-30.0, -15.0, 0.0, 15.0, 30.0)
CHUNK = 60  # settings whose hours are held at once


@dataclass(frozen=True, kw_only=True)
class Limits:
    """What a schedule must keep; ``fan_ah`` None: no limit."""

    asleep_c: float = 14.0
    warm_c: float = 19.0
    warm_at: str = "07:30"
    pipes_c: float = 5.0
    fan_ah: float | None = None

    def words(self) -> str:
        """What must be kept, in plain words."""
        fan = "" if self.fan_ah is None else f", at most {self.fan_ah:g} Ah of fan"
        return (
            f"at least {self.asleep_c:g} °C asleep and {self.warm_c:g} °C at {self.warm_at}, {WARM_BAND_K:g} K less "
            f"let pass; {self.pipes_c:g} °C at the pipes{fan}"
        )


@dataclass(frozen=True)
class Tried:
    """One setting and what it came to; ``short`` is how far it fails each limit, nothing when it keeps all.

    ``planned``: the tour's own settings, which have no one night's temperature and timer. A coldest is None where
    nobody sleeps on board, or is in at the warm time: there is nothing to keep, and no limit that counts.
    """

    night_c: float | None
    timer: str | None
    lead_min: float | None
    gas_kg: float
    fan_ah: float
    coldest_asleep_c: float | None
    coldest_at_warm_time_c: float | None
    lowest_pipes_c: float
    lowest_charge_share: float
    short: dict[str, float]
    planned: bool = False
    mains_kwh: float = 0.0

    @property
    def keeps(self) -> bool:
        """Every limit is kept."""
        return not self.short


@dataclass(frozen=True)
class BestSchedule:
    """The setting of least gas that keeps the limits, None when none does, and all that were tried.

    ``as_if_powered``: the battery is cut out on the tour, so every setting is reckoned as if it lasted, and its lowest
    charge is that of a battery without end. Of settings that burn alike, least of the mains is best.
    """

    limits: Limits
    best: Tried | None
    nearest: Tried
    tried: tuple[Tried, ...]
    planned_kg: float
    as_if_powered: bool = False
    planned_mains_kwh: float = 0.0

    @property
    def curve(self) -> tuple[Tried, ...]:
        """Trade-off of gas against warmth asleep among settings that keep the other limits: none is beaten in both."""
        other = [t for t in self.tried if not set(t.short) - {"asleep_c"}]

        def asleep_c(one: Tried) -> float:
            return -math.inf if one.coldest_asleep_c is None else one.coldest_asleep_c

        ordered = sorted(other, key=lambda t: (t.gas_kg, t.mains_kwh, -asleep_c(t)))
        front: list[Tried] = []
        for one in ordered:
            if not front or asleep_c(one) > asleep_c(front[-1]) + 1e-9:
                front.append(one)
        return tuple(front)

    @property
    def not_held(self) -> Tried | None:
        """The warmest night with the longest timer, where not even by morning the heater comes near it; else None."""
        heated = [one for one in self.tried if one.night_c is not None and one.lead_min is not None]
        if not heated:
            return None
        most = max(heated, key=lambda one: (one.night_c or 0.0, one.lead_min or 0.0))
        coldest_c = [c for c in (most.coldest_asleep_c, most.coldest_at_warm_time_c) if c is not None]
        falls = bool(coldest_c) and (most.night_c or 0.0) - max(coldest_c) > SHORT_K
        return most if falls and {"asleep_c", "warm_c"} & set(most.short) and self.best is None else None

    def as_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {
            "limits": {name: value for name, value in vars(self.limits).items() if value is not None},
            "planned_kg": round(self.planned_kg, 3),
            "planned_mains_kwh": round(self.planned_mains_kwh, 3),
            "as_if_powered": self.as_if_powered,
            "best": None if self.best is None else vars(self.best),
            "nearest": vars(self.nearest),
            "trade_off": [vars(one) for one in self.curve],
            "tried": len(self.tried),
        }

    def sentences(self) -> list[str]:
        """In plain words."""
        from budget.answers.best_schedule_words import sentences

        return sentences(self)


def answer(
    prepared: Prepared,
    limits: Limits | None = None,
    *,
    night_c: Sequence[float] | None = None,
    leads_min: Sequence[float] = LEADS_MIN,
    refine: bool = True,
) -> BestSchedule:
    """Search set-back and timer on the tour's own weather, a grid first and then finer round its best.

    The grid of nights goes up to the warmth asked for asleep and ``ABOVE_K`` beyond; the tour's own settings are tried
    too. By day the tour's schedule holds; at night from the time people lie down the set-back, from the timer on the
    wish, or the set-back where that is warmer. Limits count while the van is parked with people in it; "warm" means
    within 0.5 K, the thermostat's own swing. Bottles are changed at once where they run out, so that gas is the need.
    """
    from budget.spans import minute_of_day

    held = limits or Limits()
    try:
        warm_min = minute_of_day(held.warm_at)
    except ValueError as fault:
        raise InputFault(f"--warm-at {fault}; write it as 07:30.") from None
    as_if_powered = dies(prepared)
    ready = powered(prepared.with_gas_everywhere()) if as_if_powered else prepared.with_gas_everywhere()
    down_min = bedtime_min(prepared)
    tried: dict[tuple[float, float], Tried] = {}

    def look(pairs: list[tuple[float, float]]) -> None:
        new = [pair for pair in dict.fromkeys(pairs) if _key(pair) not in tried]
        for first in range(0, len(new), CHUNK):
            part = new[first : first + CHUNK]
            settings = [
                Setback(night, lead, down_min, warm_min, max(held.warm_c, 0.0 if math.isnan(night) else night))
                for night, lead in part
            ]
            many = run_setbacks(ready, settings, minute_of_quarters(ready))
            for pair, found in zip(part, _judge(ready, many, settings, warm_min, held), strict=True):
                tried[_key(pair)] = found

    above = (held.asleep_c + step for step in ABOVE_K)
    nights = [*NIGHT_C, *(night for night in above if night > NIGHT_C[-1])] if night_c is None else night_c
    look([(night, lead) for night in nights for lead in leads_min])
    if refine:
        centre = _best(list(tried.values()))
        warmest_c = max(held.warm_c, held.asleep_c + ABOVE_K[-1])
        if centre.night_c is not None:
            nights = [centre.night_c + step for step in FINE_K if 5.0 <= centre.night_c + step <= warmest_c]
        else:
            nights = [OFF, 5.0]
        leads = [lead for step in FINE_MIN if 0.0 <= (lead := (centre.lead_min or 0.0) + step) <= 300.0]
        look([(night, lead) for night in nights for lead in leads])
    own = ready.run()
    every = (*tried.values(), *_judge(ready, own, [None], warm_min, held))
    best = _best(list(every))
    planned_kg = float(ready.gas_kg(own)[0])
    planned_kwh = float(ready.flow(own, "mains_j")[0]) / 3.6e6
    return BestSchedule(held, best if best.keeps else None, best, every, planned_kg, as_if_powered, planned_kwh)


def _key(pair: tuple[float, float]) -> tuple[float, float]:
    return (-1.0 if math.isnan(pair[0]) else pair[0], pair[1])


def _best(tried: list[Tried]) -> Tried:
    """Least gas among those that keep the limits, else the least shortfall (1 K counts as 10 Ah), then least gas."""

    def rank(one: Tried) -> tuple[float, float, float]:
        shortfall = sum(short / (10.0 if name == "fan_ah" else 1.0) for name, short in one.short.items())
        return (shortfall, one.gas_kg, one.mains_kwh)

    return min(tried, key=rank)


def _judge(
    ready: Prepared, many: Many, settings: Sequence[Setback | None], warm_min: int, limits: Limits
) -> list[Tried]:
    """What each setting's run came to; None: the tour's own."""
    timeline = ready.timeline
    inside_c, pipes_c = many.trace[:, :, 2], many.trace[:, :, 3]
    edge_minute = (timeline.edges.hour * 60 + timeline.edges.minute).to_numpy()
    asleep = (timeline.asleep > 0.0) & timeline.inside
    warm = _mornings(ready, inside_c, edge_minute, warm_min)
    gas_kg, fan_ah = ready.gas_kg(many), ready.flow(many, "load_ah")
    mains_kwh = ready.flow(many, "mains_j") / 3.6e6
    found = []
    for k, setting in enumerate(settings):
        coldest = float(inside_c[k, 1:][asleep].min()) if asleep.any() else None
        morning = float(warm[k].min()) if warm.shape[1] else None
        pipes = float(pipes_c[k, 1:].min())
        over = -math.inf if limits.fan_ah is None else float(fan_ah[k]) - limits.fan_ah
        lacking = {
            "asleep_c": 0.0 if coldest is None else limits.asleep_c - WARM_BAND_K - coldest,
            "warm_c": 0.0 if morning is None else limits.warm_c - WARM_BAND_K - morning,
            "pipes_c": limits.pipes_c - pipes,
            "fan_ah": over,
        }
        found.append(
            Tried(
                night_c=None if setting is None or math.isnan(setting.night_c) else setting.night_c,
                timer=None if setting is None else clock(setting.on_min),
                lead_min=None if setting is None else setting.lead_min,
                planned=setting is None,
                gas_kg=round(float(gas_kg[k]), 3),
                mains_kwh=round(float(mains_kwh[k]), 3),
                fan_ah=round(float(fan_ah[k]), 2),
                coldest_asleep_c=None if coldest is None else round(coldest, 2),
                coldest_at_warm_time_c=None if morning is None else round(morning, 2),
                lowest_pipes_c=round(pipes, 2),
                lowest_charge_share=round(float(many.trace[k, :, 1].min()), 4),
                short={name: round(short, 3) for name, short in lacking.items() if short > 0.0},
            )
        )
    return found


def _mornings(ready: Prepared, inside_c: Floats, edge_minute: np.ndarray, warm_min: int) -> Floats:
    """Temperature at the warm time of every morning on which somebody is in, (settings, mornings). [°C]"""
    timeline = ready.timeline
    here = timeline.inside & timeline.heater_allowed
    into = (warm_min - edge_minute[:-1]) % (24 * 60)
    days = np.flatnonzero(into < 60)
    slept = np.array([bool(timeline.inside[max(0, d - 8) : d + 1].all()) for d in days], dtype=bool)
    values = at_time_c(inside_c, edge_minute, warm_min)
    kept: Floats = values[:, here[days] & slept]
    return kept
