"""An absence in plain words: when to switch on, whether gas and charge carry it, and what freezes meanwhile."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from budget.answers.odds import CHARGE
from budget.answers.outage_words import DRAIN_WORDS, after
from budget.answers.tonight_away import ahead
from budget.answers.tonight_verdict import PROBABLY_SHARE, Verdict, verdict_of
from budget.answers.tonight_words import BEYOND, FIRST, doubt
from budget.moments import clock, hours_between, short
from budget.rounding import least, need
from budget.wording import most_percent, whole_percent

if TYPE_CHECKING:
    from budget.answers.tonight_away import LeftOn
    from budget.answers.tonight_back import Back

FULL_SHARE = 0.995  # charge from which no drive brings more
LASTS: dict[Verdict, str] = {
    "yes": "Gas and charge are enough",
    "probably": "Gas and charge are probably enough",
    "better not": "Better not count on gas and charge",
}


def back_sentences(found: Back) -> list[str]:
    """When to switch on, what is reckoned with, gas and charge, frost, and leaving the heater on instead."""
    open_with = [_switch_on(found, "For"), _short(found)]
    if found.fails_before_share > PROBABLY_SHARE:
        open_with = [_short(found), _switch_on(found, "With gas and charge enough it would be, for")]
    return [*open_with, _outdoors(found), *doubt(found.climate_low, found.forecast_low_c), *_frost(found)]


def _switch_on(found: Back, opening: str) -> str:
    whose = ", as the tour's schedule has it then" if found.is_scheduled else ""
    wish = f"{opening} {found.warm_c:g} °C at {clock(found.back)}{whose}"
    if found.switch_on is not None and hours_between(found.start, found.switch_on) <= 0.0:
        return f"{wish}: leave the heater on, no later switch-on is warm in time to the quarter hour."
    when = "no lead of up to 4 h is enough" if found.switch_on is None else f"switch on at {clock(found.switch_on)}"
    return (
        f"{wish}: {when}; with the heater off from "
        f"{short(found.start)} it falls to {least(found.lowest_inside_c)} °C inside."
    )


def _outdoors(found: Back) -> str:
    low, high = least(found.away_low_c), f"{round(found.away_high_c) + 0:d}"
    said = f"Outdoors it is reckoned with {low} to {high} °C while away: "
    if found.shift_k is None:
        return f"{said}the middle of this climate's winters at that time."
    return (
        f"{said}the tour's own course, {abs(found.shift_k):.0f} K {'colder' if found.shift_k < 0.0 else 'warmer'} "
        f"throughout, so that its lowest hour until {short(found.morning)} is the {found.forecast_low_c:g} °C forecast."
    )


def _short(found: Back) -> str:
    had = f"with {found.gas_left_kg:g} kg of gas and {whole_percent(found.charge_share)} of charge"
    sure = f"of {found.scenarios} cases (± {whole_percent(found.fails_half_width_share)})"
    if found.binds is None:
        return f"Gas and charge are enough: {had} the heater goes short before {short(found.morning)} in none {sure}."
    lasts = verdict_of(found.fails_share)
    first = BEYOND if found.binds == CHARGE and found.charge_share >= FULL_SHARE else FIRST[found.binds]
    return (
        f"{LASTS[lasts]}: {had} the heater goes short before the return in {most_percent(found.fails_before_share)} "
        f"and before {short(found.morning)} in {most_percent(found.fails_share)} {sure}. What binds is "
        f"{found.binds}{'' if lasts == 'yes' else f'; {first}'}."
    )


def _frost(found: Back) -> Iterator[str]:
    if not found.frozen and found.valve_h is None:
        yield "No water comes to 0 °C while away."
        return
    already = [DRAIN_WORDS[part.name] for part in found.frozen if part.after_h == 0.0]
    coming = [part for part in found.frozen if part.after_h > 0.0]
    if already:
        yield f"At 0 °C already on leaving: {' and '.join(already)}."
    if coming:
        names = ", then ".join(f"{DRAIN_WORDS[part.name]} ({after(part.after_h)})" for part in coming)
        yield f"While the heater is off, 0 °C come to {names}: drain them before leaving."
    if found.valve_h is not None:
        emptied = f"empties the boiler of {found.boiler_l:.0f} L"
        yield f"The frost drain valve opens within {need(found.valve_h)} h and {emptied}."
    on, watered = found.left_on, "pipes and boiler" if found.boiler_l > 0.0 else "the pipes"
    if not found.is_lost:
        return
    if on is None:
        yield f"No setting up to 18 °C keeps {watered} above frost meanwhile."
        return
    tanks = ""
    if on.freezing:
        tanks = f"; {' and '.join(DRAIN_WORDS[name] for name in on.freezing)} cannot be kept so"
    yield (
        f"Or leave the heater on at {on.setpoint_c:g} °C{_set_up(found, on)}, which keeps {watered} above "
        f"frost: {need(on.gas_kg, 2)} kg of gas until the return instead of {need(on.off_kg, 2)} kg, and it goes short "
        f"before it in {most_percent(on.fails_share)} of the cases{tanks}."
    )


def _set_up(found: Back, on: LeftOn) -> str:
    """When a setting that is left on is set up for the return."""
    if on.lead_min is None:
        return ""
    return f" and set it up at {clock(ahead(found.start, found.back, on.lead_min))}"
