"""A stopped heater in plain words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from budget.moments import short
from budget.rounding import least, need
from budget.wording import whole_percent

if TYPE_CHECKING:
    from budget.answers.detail import Detail
    from budget.answers.outage import Night, Outage, Part, TimeConstants

THRESHOLDS_C = (12.0, 5.0, 0.0)
LONGEST_H = 72
ALREADY_COLD_K = 3.0
LEAST_LOSS_W_PER_K = 0.1  # less gives no time constant to check by hand
DRAIN_WORDS = {
    "pipes": "the pipes and taps",
    "boiler": "the boiler",
    "fresh": "the fresh tank",
    "waste": "the waste tank",
}


def outage_sentences(run: Detail, found: Outage, hour: int) -> list[str]:
    """What happens after the stop, what to drain first, and the first hours by hand."""
    told = []
    set_c = float(run.hours["set_c"][hour, 0])
    zone, air_c = run.van.heater.sensor_zone, found.nights[0].parts[0].start_c
    if found.coldest_evening:
        told.append(f"The heater stops on {short(found.at)} at {found.place}, before the coldest night.")
    if found.as_if_fed:
        told.append("Gas or charge has run out by then on this tour; reckoned as if they had lasted until the stop.")
    if air_c < set_c - ALREADY_COLD_K:
        told.append(
            f"At {short(run.time(hour))} the air is at {_whole(air_c)} °C, under its setpoint of "
            f"{set_c:.0f} °C: the heater has stopped or falls short already."
        )
    for night in found.nights:
        told.append(
            f"In {night.name} ({_whole(night.outdoor_c)} °C outdoors on average) the air of {zone}, now "
            f"{_whole(air_c)} °C, {milestones(night.parts[0])}."
        )
        told += _water_sentences(run, night)
    constants = found.time_constants
    if constants is not None and constants.loss_w_per_k >= LEAST_LOSS_W_PER_K:
        told.append(by_hand(constants, zone))
    told.append("Children, pets and anyone ill are not left to it; no hob, oven or unflued flame replaces the heater.")
    return told


def at_hand(found: Outage) -> tuple[str, ...]:
    """As much as a sheet of paper has room for: up to what to drain first in the night at hand."""
    first = next(k for k, told in enumerate(found.sentences) if told.startswith(f"In {found.nights[0].name} "))
    return found.sentences[: first + 2]


def by_hand(constants: TimeConstants, zone: str) -> str:
    """What is stored over what is lost, by the names of ``budget check``, and what that leaves out."""
    air, fabric = round(constants.air_j_per_k / 1e3), round(constants.fabric_j_per_k / 1e3)
    others = round((constants.lining_j_per_k - constants.fabric_j_per_k) / 1e3)
    loss = round(constants.loss_w_per_k, 1)
    beside = f", {others} of the other zones' {constants.other_zones_j_per_k / 1e3:.0f}, by how warm they are"
    whole = air + fabric + others
    return (
        f"Check by hand: air and light contents of {zone} {air} kJ/K, fabric {fabric} (both as in budget check)"
        f"{beside if constants.other_zones_j_per_k else ''}: {whole} kJ/K over {loss:.1f} W/K, the loss of {zone} "
        f"alone heated in this hour's wind, is a time constant of {whole / 3.6 / loss:.1f} h. That takes all for "
        f"equally warm; apart, the air falls by {whole_percent(constants.fast_share)} of its lead over outdoors with "
        f"{60.0 * constants.air_h:.0f} min towards the linings, and by the rest with {constants.lining_h:.1f} h, since "
        "these lose part of their heat only through the air. People, loads and tanks, left out here, slow it."
    )


def milestones(part: Part) -> str:
    """ "is at 12 °C after 0.3 h and at 5 °C after 4.4 h, and does not fall to 0 °C within 72 h"."""
    until = {limit: part.hours_until[f"{limit:g}_c"] for limit in THRESHOLDS_C}
    already = [f"{limit:g} °C" for limit, hours in until.items() if hours == 0.0]
    passed = [f"at {limit:g} °C {after(hours)}" for limit, hours in until.items() if hours]
    never = [f"{limit:g} °C" for limit, hours in until.items() if hours is None]
    said = [f"stands below {' and '.join(already)} already"] if already else []
    said += [f"is {', '.join(passed)}"] if passed else []
    said += [f"does not fall to {' or '.join(never)} within {LONGEST_H} h"] if never else []
    return " and ".join(said)


def _water_sentences(run: Detail, night: Night) -> list[str]:
    by_name = {part.name: part for part in night.parts}
    told = []
    frozen = [by_name[name] for name in night.drain_order if by_name[name].hours_until["0_c"] is not None]
    if frozen:
        hours = frozen[0].hours_until["0_c"]
        when = after(hours)
        first, *rest = (DRAIN_WORDS[part.name] for part in frozen)
        told.append(f"Drain {', then '.join((f'{first} (0 °C {when})', *rest))}.")
    elif night.drain_order:
        named = ", ".join(DRAIN_WORDS[name] for name in night.drain_order)
        told.append(f"Nothing freezes within {LONGEST_H} h; below 5 °C come {named}: heat or drain them.")
    else:
        told.append(f"No water falls to 5 °C within {LONGEST_H} h.")
    if night.valve_opens_h is not None:
        content_l, again = run.van.water.boiler.water_l, ""
        if night.dumped_l > 1.5 * content_l:
            again = f", and again after the pump has filled it: {night.dumped_l:.0f} L in all"
        told.append(
            f"The frost drain valve opens within {need(night.valve_opens_h)} h and empties the boiler of "
            f"{content_l:.0f} L{again}."
        )
    return told


def told_part(name: str, night: Night) -> str:
    """A part by name; a boiler that the frost drain valve has emptied is cold iron, and says from when."""
    if name != "boiler" or night.valve_opens_h is None:
        return name
    return f"boiler, emptied within {need(night.valve_opens_h)} h"


def after(hours: float | None) -> str:
    """ "already", "after 12 min" or "after 4.3 h": no later than it is."""
    assert hours is not None
    if hours == 0.0:
        return "already"
    return f"after {least(60.0 * hours)} min" if hours < 1.0 else f"after {least(hours, 1)} h"


def _whole(value: float) -> str:
    return f"{round(value) + 0:d}"
