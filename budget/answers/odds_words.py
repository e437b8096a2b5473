"""The odds in plain words: what is needed with power, what lasts, and what fails first."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from budget.moments import moment
from budget.results.need import AS_IT_STANDS, WITH_POWER
from budget.rounding import least, need
from budget.wording import least_percent, most_percent

if TYPE_CHECKING:
    from budget.answers.odds import Odds


def odds_sentences(found: Odds) -> list[str]:
    """Gas, bottles, what runs out, the cold, the lowest charge and the hardest night."""
    return [*_gas(found), *_bottles(found), *_fails(found), *_cold(found), *_hardest(found)]


def _power(found: Odds) -> str:
    """Said beside every number that counts on power, where some batteries do not last."""
    return f" {WITH_POWER}" if found.cut_out_share > 0.0 else ""


def _gas(found: Odds) -> Iterator[str]:
    gas, takes = found.gas, f"the {found.nights} nights take"
    if found.nights < 2:
        takes = "the night takes" if found.nights else "the tour takes"
    yield (
        f"In half of {found.scenarios:,} winters {takes} {gas.p50:.1f} kg of gas or less"
        f"{_power(found)}; in eight of ten between {gas.p10:.1f} and {gas.p90:.1f} kg"
        + (
            "."
            if math.isnan(gas.p90_half_width)
            else f" (the upper end, P90, ± {gas.p90_half_width:.1f} kg at 95 %, from the number of winters drawn)."
        )
    )
    if found.cut_out_share > 0.0:
        yield (
            f"In {most_percent(found.cut_out_share)} the battery is cut out on the way, and the heater with it. What "
            f"is said {WITH_POWER} is the gas that the tour takes with a battery that lasts; {AS_IT_STANDS} the heater "
            "stops with the battery and burns less."
        )


def _bottles(found: Odds) -> Iterator[str]:
    nine, take = found.bottles_for(0.9), found.take
    if nine is not None and (take.swaps or nine != take.bottles):
        yield (
            f"{nine} full bottle{'s' if nine > 1 else ''} of {found.bottle_kg:g} kg last{'' if nine > 1 else 's'} in "
            f"{least_percent(found.chance_by_bottles_share[nine])} of them{_power(found)} without a change on the way."
        )
    count = f"{take.bottles} bottle{'s' if take.bottles > 1 else ''} of {found.bottle_kg:g} kg"
    if take.swaps:
        count += f" and {take.swaps} swap{'s' if take.swaps > 1 else ''} on the way"
    lasts = f"{least(100.0 * take.lasts_share)} of 100 such tours have gas to the end"
    if found.cut_out_share > 0.0:
        lasts += f" {WITH_POWER}, {least(100.0 * take.lasts_as_it_stands_share)} of 100 {AS_IT_STANDS}"
    yield f"With {count}, which is what budget run takes, {lasts}."
    if found.carried_share != take.lasts_share:
        places = ", with the tour's exchange places," if found.exchanges else ""
        yield f"What is carried lasts{places} in {least_percent(found.carried_share)}{_power(found)}."


def _fails(found: Odds) -> Iterator[str]:
    if found.offtake_share > 0.0:
        yield (
            f"In {most_percent(found.offtake_share)} gas is lacked though a bottle holds some{_power(found)}: too cold "
            "for it to boil off as fast, or the wrong gas. More bottles of it are not counted as a help there; "
            "budget plan tells how long each feeds the full fire."
        )
    if found.run_out_one_in_ten is not None:
        gone = "lacks gas" if found.offtake_share > 0.0 else "has run out of gas"
        yield f"From {moment(found.run_out_one_in_ten)} on one in ten {gone}{_power(found)}."
    if found.cut_out_one_in_ten is not None:
        half = found.cut_out_in_half
        often = "" if half is None else f", from {moment(half)} on one in two"
        yield f"From {moment(found.cut_out_one_in_ten)} on one in ten has had the battery cut out{often}."
    if found.binds is not None:
        yield f"What fails first, where anything does, is mostly {found.binds}."


def _cold(found: Odds) -> Iterator[str]:
    """How cold the tours get as they stand, the heater stopping with gas or battery: said where pipes may freeze."""
    if found.frozen_share > 0.0:
        inside = found.lowest_inside
        low, lowest = least(inside.p50), least(inside.p10)
        yield (
            f"{AS_IT_STANDS.capitalize()} the pipes come to 0 °C in {most_percent(found.frozen_share)}; the room with "
            f"the sensor comes to {low} °C or lower in half of all, to {lowest} °C or lower in one of ten."
        )


def _hardest(found: Odds) -> Iterator[str]:
    low, night = found.lowest_charge, found.worst_night
    yield (
        f"The lowest charge is {least_percent(low.p50)} as the median, {least_percent(low.p10)} or less in one winter "
        "of ten."
    )
    if night is None:
        return
    yield (
        f"In one winter of ten the hardest night, 18:00 to 08:00, takes {need(night['p90_kg'], 2)} kg or more"
        f"{_power(found)}: on average at {night['outdoor_c']:.0f} °C with {night['wind_m_per_s']:.0f} m/s at the van, "
        f"{night['panel_wh']:.0f} Wh from the panels the day before, and charge down to "
        f"{least_percent(night['lowest_charge_share'])}."
    )
