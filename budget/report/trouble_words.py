"""What goes wrong on a tour, in clauses for the headline: worst first, each with what to do."""

from __future__ import annotations

from collections.abc import Sequence

from budget.answers.frozen import AWAY, DRIVE, FERRY, OFF, Frozen
from budget.answers.trouble import TooSmall, Trouble
from budget.answers.wrong_gas import words as of_wrong_gas
from budget.rounding import rounded_down, rounded_up
from budget.wording import hours, kilograms_needed, least_celsius, listed, number

PARTS = {"pipes": "the pipes", "boiler": "the boiler", "fresh": "the fresh tank"}
UNHEATED = {  # causes that are no want of gas, charge or heat: when, and what spares it
    DRIVE: (
        "On a drive with the heater off",
        "drain first, or heat on the way (heater_while_driving) where the installation is made for it and local rules "
        "allow it; else the bottles stay shut",
    ),
    FERRY: ("On a ferry, with the heater off,", "drain first"),
    AWAY: ("While you are away with the heater off", "drain first, or let the schedule keep the van above frost"),
    OFF: ("While the schedule has the heater off", "drain first, or let the schedule keep the van above frost"),
}


def questions(found: Trouble) -> str:
    """What is asked before all else, with a space after it; nothing where nothing is."""
    return "".join(f"{doubt} " for doubt in found.doubts)


def cold(found: Trouble) -> str:
    """How long it is too cold for those in the van, and how cold; nothing where warmth is held."""
    if found.cold_h <= 0.0:
        return ""
    return f"too cold for {hours(found.cold_h)} while you are in, down to {least_celsius(found.lowest_c)}"


def chill(found: Trouble) -> str:
    """The same, and what freezes."""
    return ", and ".join(told for told in (cold(found), freezes(found)) if told)


def freezes(found: Trouble, *, dated: bool = True) -> str:
    """ "the pipes and the boiler freeze from 10 January", "the pipes part freeze"; nothing where nothing does.

    Not what froze with the heater off: see :func:`unheated`.
    """
    return _freeze([part for part in found.frozen if part.cause not in UNHEATED], dated=dated)


def unheated(found: Trouble) -> str:
    """A sentence, with a space after it, for each time that the heater was off and water froze for it."""
    told = []
    for cause, (when, spares) in UNHEATED.items():
        parts = [part for part in found.frozen if part.cause == cause]
        if parts:
            told.append(f"{when} {_freeze(parts)}: {spares}. ")
    return "".join(told)


def _freeze(frozen: Sequence[Frozen], *, dated: bool = True) -> str:
    if not frozen:
        return ""
    names = list(dict.fromkeys(part.part for part in frozen))
    verb = "freezes" if names in (["boiler"], ["fresh"]) else "freeze"
    part = "" if any(part.whole for part in frozen) else "part "
    since = min(part.since for part in frozen)
    when = f" from {since.day} {since:%B}" if dated else ""
    return f"{listed([PARTS[name] for name in names])} {part}{verb}{when}"


def gives(heater: TooSmall) -> str:
    """ "1.3 kW where 4.2 kW are needed at −16 °C outdoors", and by what alone."""
    alone = " on the hook-up alone" if heater.mains_only else " through its supply air" if heater.guarded else ""
    most = number(rounded_down(heater.gives_w / 1000.0, 0.1), 1)
    wanted = number(rounded_up(heater.needs_w / 1000.0, 0.1), 1)
    return f"{most} kW{alone} where {wanted} kW are needed at {least_celsius(heater.outdoor_c)} outdoors"


def larger(heater: TooSmall) -> str:
    """What to have first: a larger heater, gas beside the hook-up, or a way for the air."""
    if heater.mains_only:
        return "gas beside the hook-up"
    return "open outlets and a free way back" if heater.guarded else "a larger heater"


def too_small(found: Trouble) -> str:
    """A sentence and the beginning of another: the heater, what it leaves cold, what it needs; nothing where it does.

    The words that follow say what gas to take then.
    """
    if found.heater is None:
        return ""
    told = chill(found)
    return (
        f"The heater is too small{f': {told}' if told else ''}. It gives {gives(found.heater)}: {larger(found.heater)} "
        "first, then at least "
    )


def of_water(found: Trouble) -> str:
    """Sentences on water that freezes with the heater off, or though warmth is held, with what spares it; or nothing.

    A space stands after each.
    """
    told = "" if found.cold_h > 0.0 else freezes(found)
    return unheated(found) + (f"{told[0].upper()}{told[1:]}: keep them warmer or drain them. " if told else "")


def of_cold(found: Trouble) -> str:
    """A sentence on what is too cold, with what freezes where :func:`of_water` does not tell it; or nothing."""
    if found.cold_h <= 0.0:
        return ""
    return f"It is {chill(found)}."


def wrong(found: Trouble) -> str:
    """A sentence for each bottle that holds the wrong gas."""
    return " ".join(f"{told[0].upper()}{told[1:]}." for told in map(of_wrong_gas, found.wrong_gas))


def why_propane(found: Trouble) -> str:
    """A clause with a comma before it: whose gas does not flow; nothing where every bottle's does."""
    if not found.wrong_gas:
        return ""
    return f", since the gas of {listed([each.name for each in found.wrong_gas])} does not flow in this cold"


def of_gas(found: Trouble, planned_kg: float) -> str:
    """Sentences on bottles that hold the wrong gas, and how much propane to take instead."""
    return f"{wrong(found)} Take propane, {kilograms_needed(planned_kg)} with the reserve."
