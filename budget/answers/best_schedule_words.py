"""The best schedule in words: what it takes and keeps, or what the nearest misses."""

from __future__ import annotations

from typing import TYPE_CHECKING

from budget.answers.fed import POWERED
from budget.rounding import least, need

if TYPE_CHECKING:
    from budget.answers.best_schedule import BestSchedule, Limits, Tried


def sentences(found: BestSchedule) -> list[str]:
    """In plain words."""
    told = [*([POWERED] if found.as_if_powered else []), *_idle(found.nearest, found.limits)]
    if found.best is None:
        near = found.nearest
        missed = ", ".join(f"{WORDS[name]} by {need(short, 1)} {UNIT[name]}" for name, short in near.short.items())
        none = f"None of {len(found.tried)} settings keeps every limit: {found.limits.words()}."
        if (most := found.not_held) is not None:
            return [
                *told,
                none,
                f"The heater cannot hold any of them: even {_words(most)}, the coldest is "
                f"{' and '.join(_coldest(most, found.limits))}.",
            ]
        takes = f"{near.mains_kwh:.0f} kWh of the mains" if _all_electric(found, near) else f"{near.gas_kg:.1f} kg"
        return [*told, none, f"The nearest, {_words(near)}, takes {takes} and misses {missed}."]
    pipes = f"{least(found.best.lowest_pipes_c, 1)} °C at the pipes"
    best, difference = found.best, found.planned_kg - found.best.gas_kg
    against = f"{abs(difference):.1f} kg {'less' if difference >= 0.0 else 'more'} than the tour as planned"
    takes = f"It takes {best.gas_kg:.1f} kg, {against}"
    what, saved_kwh = "gas", found.planned_mains_kwh - best.mains_kwh
    if _all_electric(found, best):
        what, more = "electricity", "less" if saved_kwh >= 0.0 else "more"
        takes = f"It takes {best.mains_kwh:.0f} kWh of the mains, {abs(saved_kwh):.0f} kWh {more} than planned"
    elif best.mains_kwh > 0.0 or found.planned_mains_kwh > 0.0:
        takes += f", and {best.mains_kwh:.0f} instead of {found.planned_mains_kwh:.0f} kWh of the mains"
    return [
        *told,
        f"Least {what} within the limits ({found.limits.words()}): {_words(best)}. {takes}.",
        f"It keeps {', '.join(_coldest(best, found.limits, pipes))}, and uses {best.fan_ah:.0f} Ah of fan.",
    ]


def _all_electric(found: BestSchedule, one: Tried) -> bool:
    """No gas burns, neither as planned nor so: the mains are told instead."""
    return found.planned_mains_kwh > 0.0 and not found.planned_kg and not one.gas_kg


def _idle(one: Tried, limits: Limits) -> list[str]:
    """Which limits do not apply, since nobody is there."""
    told = []
    if one.coldest_asleep_c is None:
        told.append(f"Nobody sleeps on board on this tour: {limits.asleep_c:g} °C asleep is no limit here.")
    if one.coldest_at_warm_time_c is None:
        told.append(
            f"Nobody is in through the night until {limits.warm_at}: {limits.warm_c:g} °C then is no limit here."
        )
    return told


WORDS = {
    "asleep_c": "the warmth asleep",
    "warm_c": "the warmth in the morning",
    "pipes_c": "the pipes' limit",
    "fan_ah": "the fan's limit",
}
UNIT = {"asleep_c": "K", "warm_c": "K", "pipes_c": "K", "fan_ah": "Ah"}


def _words(one: Tried) -> str:
    if one.planned:
        return "the tour's own settings"
    night = "off at night" if one.night_c is None else f"{one.night_c:g} °C at night"
    return f"{night}, timer at {one.timer}"


def _coldest(one: Tried, limits: Limits, *more: str) -> list[str]:
    """How cold it gets asleep and at the warm time, each where somebody is there to feel it, and what else is kept."""
    kept = ((one.coldest_asleep_c, "asleep"), (one.coldest_at_warm_time_c, f"at {limits.warm_at}"))
    return [*(f"{least(coldest_c, 1)} °C {when}" for coldest_c, when in kept if coldest_c is not None), *more]
