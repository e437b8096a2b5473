"""The answer in a sentence or two, the numbers under it, and the swap table; with odds see ``headline_odds``."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from budget.answers.trouble import Trouble
from budget.answers.trouble import answer as trouble_of
from budget.answers.what_to_take import planned_swaps, powered, to_take
from budget.moments import day, hour_of_edge, part_of_day, short
from budget.report import trouble_words as words
from budget.report.first_out import Supply, causes, nobody_changed_over
from budget.report.section import Table
from budget.report.words import named
from budget.results.need import AS_IT_STANDS, BATTERY, GAS, WITH_POWER, with_enough
from budget.results.notices import EMPTY_KG
from budget.rounding import need, rounded_up
from budget.wording import (
    amp_hours,
    count,
    hours,
    kilograms,
    kilograms_needed,
    kilowatt_hours,
    least_celsius,
    least_percent,
    listed,
    number,
)

if TYPE_CHECKING:
    from budget.answers.swaps_made import Swap
    from budget.results.result import Result

STANDING_STILL = (
    "Planned with power, that is with a battery that lasts: as it stands the heater stops with it, and less is burned."
)
NOT_NEEDED = "Not needed: without it and all later swaps the gas lasts, and the reserve stays in hand to the end."


def headline(result: Result, supplies: Sequence[Supply], trouble: Trouble | None = None) -> str:
    """What goes wrong, worst first, each with what to do; then how many bottles and what binds first.

    Where the battery fails before the gas, that comes first: a heater that stands still burns nothing, so bottles are
    counted on what the tour would burn with power. Then a heater that does not hold the room also when it is fed; then
    gas that does not flow; then water that freezes though the room is held.
    """
    found = trouble_of(result) if trouble is None else trouble
    return f"{words.questions(found)}{_told(result, supplies, found)}".rstrip()


def _told(result: Result, supplies: Sequence[Supply], found: Trouble) -> str:
    gas = result.summary["gas"]
    first = next((supply.when for supply in supplies if supply.name == "Battery"), None)
    unheated, later = f" {words.unheated(found)}", ""
    if first is not None and not found.gas_first:
        return f"{_without_charge(result, first, found)}{unheated}"
    if first is not None:
        lasts = "more charge as well" if found.charge_too else "with gas to the end it would not"
        later = f" The battery cuts out later, in the {part_of_day(first)}: {lasts}."
    out = [each.name for each in supplies if each.when is not None]
    gas_first = found.heater is None or found.not_had_kg > 0.5 * gas["needed_kg"]
    if found.not_had_kg > 0.0 and "Gas" not in out and gas_first:
        return f"{_not_flowing(result, supplies, found)}{_as_well(found)}{later}{unheated}"
    if found.heater is not None:
        wrong = f" {words.wrong(found)}" if found.wrong_gas else ""
        return f"{words.too_small(found)}{then_gas(result, found)}.{wrong}{later}{unheated}"
    cold, water, asleep = words.of_cold(found), words.of_water(found), _by_hand(result, supplies)
    if cold and asleep:
        return f"{asleep[0].upper()}{asleep[1:]}. {cold} {water}{take(result, found)}: {_burns(result, found)}.{later}"
    quiet = not out and (found.frozen or cold)
    binds = "" if quiet else f"; {_binding(supplies)}"
    return (
        f"{water}{take(result, found)}: {_burns(result, found)}{binds}{f', but {asleep}' if asleep else ''}."
        f"{f' {cold}' if cold else ''}{later}"
    )


def _not_flowing(result: Result, supplies: Sequence[Supply], found: Trouble) -> str:
    """Gas that a bottle holds and does not give: why, what is cold for it, and the wrong gas before all."""
    gas = result.summary["gas"]
    since = "" if found.not_had_from is None else f" from the {part_of_day(found.not_had_from)} on"
    wants = (
        f"{_span(result)} want {kilograms_needed(gas['needed_kg'])} of gas, and {kilograms_needed(found.not_had_kg)} "
        f"of it is not had{since}"
    )
    others = [supply for supply in supplies if supply.when is not None and supply.name != "Battery"]
    out = [_binding(others)] if others else []
    after = "; ".join([told for told in (words.chill(found), *out) if told])
    if found.wrong_gas:
        return f"{words.of_gas(found, gas['planned_kg'])} {wants}{f': {after}' if after else ''}."
    return f"{wants} though a bottle holds some: {causes(powered(result))}{f'; {after}' if after else ''}."


def _without_charge(result: Result, first: pd.Timestamp, found: Trouble) -> str:
    """A battery that cuts out, what then is cold and freezes, and what to have first."""
    cut_h = float(result.flows["cut_out_min"].sum()) / 60.0
    frozen = words.freezes(found, dated=False)
    cold = f", down to {least_celsius(found.lowest_c)} inside" if found.cold_h > 0.0 else ""
    cold += f", and {frozen}" if frozen else ""
    stops = (
        f"The battery cuts out in the {part_of_day(first)}, and the heater with it: {need(max(cut_h, 1.0))} h "
        f"without{cold}."
    )
    if found.heater is not None:
        return (
            f"{stops} The heater is too small as well, {words.gives(found.heater)}: more charge and "
            f"{words.larger(found.heater)} first, then at least {then_gas(result, found)}."
        )
    gas = result.summary["gas"]
    return (
        f"{stops} As it stands the tour burns {kilograms(gas['total_kg'])}, {with_enough(gas['short_of'])} "
        f"{kilograms_needed(gas['needed_kg'])}: more charge first, then {then_gas(result, found)}"
        f"{words.why_propane(found)}."
    )


def _as_well(found: Trouble) -> str:
    if found.heater is None:
        return ""
    return f" The heater is too small as well, {words.gives(found.heater)}."


def then_gas(result: Result, found: Trouble) -> str:
    """Gas to take after what must come first: 4 × 11 kg of gas, or so many and swaps on the way."""
    gas = result.summary["gas"]
    if found.wrong_gas:
        return f"{kilograms_needed(gas['planned_kg'])} of propane"
    swaps = f" and {count(found.swaps)} swap{'s' * (found.swaps > 1)} on the way" if found.swaps else ""
    told = f"{found.bottles} × {gas['bottles_needed_basis']['net_kg']:g} kg of gas{swaps}"
    return told if found.take_lasts else f"more than {told}, {kilograms_needed(gas['planned_kg'])} in all"


def _by_hand(result: Result, supplies: Sequence[Supply]) -> str:
    """The nights without gas for want of a hand, where nothing runs out and one might think that all is well."""
    if GAS not in result.summary["gas"]["short_of"] or any(supply.when is not None for supply in supplies):
        return ""
    return nobody_changed_over(result)


def take(result: Result, found: Trouble) -> str:
    """Take 3 × 11 kg, or so many on board and the rest swapped on the way, or more where that does not do."""
    if found.wrong_gas:
        return f"Take {then_gas(result, found)}{words.why_propane(found)}"
    swapped = f" and swap {found.swaps if found.swaps > 1 else 'one'} on the way" if found.swaps else ""
    more = "" if found.take_lasts else "more than "
    return f"Take {more}{found.bottles} × {result.summary['gas']['bottles_needed_basis']['net_kg']:g} kg{swapped}"


def _span(result: Result) -> str:
    nights = result.summary["tour"]["nights"]
    return f"{nights} nights" if nights != 1 else "one night"


def _burns(result: Result, found: Trouble) -> str:
    gas, nights, span = result.summary["gas"], result.summary["tour"]["nights"], _span(result)
    if found.not_had_kg > 0.0:
        wanted = kilograms_needed(gas["needed_kg"])
        when = " when it is wanted" if found.swaps else ""
        return f"{span} want {wanted} of gas, and {kilograms_needed(found.not_had_kg)} of it is not on board{when}"
    reserve = gas["bottles_needed_basis"]["reserve_nights"]
    kept = f", and {reserve:g} nights' reserve comes on top" if reserve > 0.0 else ""
    verb = "burn" if nights != 1 else "burns"
    return f"{span} {verb} {kilograms(gas['total_kg'])}{kept}"


def _binding(supplies: Sequence[Supply]) -> str:
    out = [supply for supply in supplies if supply.when is not None]
    if not out:
        return "nothing on board runs out"
    first = out[0]
    assert first.when is not None
    return f"{'the ' if first.name != 'Gas' else ''}{first.name.lower()} {first.verb} first, {part_of_day(first.when)}"


def sums(result: Result) -> list[tuple[str, str]]:
    """The numbers under the headline: value and what it is."""
    summary = result.summary
    gas, heater, power = summary["gas"], summary["heater"], summary["power"]
    tiles = [
        (kilograms(gas["total_kg"]), f"gas{_by_day(summary)}"),
        (hours(heater["burner_hours"]), f"burner hours, {count(heater['starts'])} starts"),
        (amp_hours(power["fan_ah"]), f"heater's fan, of {amp_hours(power['used_ah'])} used"),
        (
            least_percent(power["lowest_state_of_charge"]),
            f"lowest charge, rounded down, {day(pd.Timestamp(power['lowest_at']))}",
        ),
    ]
    zone = result.van.heater.sensor_zone
    coldest = summary["comfort"].get(zone, {})
    warm = coldest.get("lowest_while_occupied_c", coldest.get("lowest_c"))
    if warm is not None:
        tiles.append((least_celsius(warm), f"coldest in the {named(zone)} while you are in"))
    if heater["electric_kwh"] > 0.0:
        tiles.append((kilowatt_hours(heater["electric_kwh"]), "heat from hook-up"))
    if summary["water"].get("coldest_shower_c") is not None:
        tiles.append((least_celsius(summary["water"]["coldest_shower_c"]), "coldest shower"))
    return tiles


def _by_day(summary: dict[str, Any]) -> str:
    """Gas by the day; where something ran short the need in all, since a heater that stands still burns nothing."""
    gas = summary["gas"]
    if not gas["short_of"]:
        return f", {number(gas['kg_per_day'], 1)} kg a day"
    return f" {AS_IT_STANDS}; {with_enough(gas['short_of'])} {kilograms_needed(gas['needed_kg'])}"


def needed_a_day(summary: Mapping[str, Any]) -> str:
    """What the tour takes in a mean day when it is fed: 3.0 kg a day."""
    return f"{number(rounded_up(24.0 * summary['gas']['needed_kg'] / summary['tour']['hours'], 0.1), 1)} kg a day"


def swap_table(result: Result) -> Table | None:
    """When and where a bottle is exchanged or filled, with power; None when none is."""
    swaps = planned_swaps(result)
    if not swaps:
        return None
    together: dict[tuple[dt.datetime, str, str], list[Swap]] = {}
    for swap in swaps:
        together.setdefault((swap.time, swap.place, swap.name), []).append(swap)
    rows = []
    for (time, place, bottle), here in together.items():
        which = f"{bottle}, {listed([str(swap.bottle) for swap in here])}"
        brought = kilograms(sum(swap.added_kg for swap in here))
        if not here[0].needed:
            brought += ", not needed"
        rows.append((short(time), place, which, brought))
    note = "" if all(swap.needed for swap in swaps) else NOT_NEEDED
    note = f"{note} {other_swaps(result)}".strip()
    if BATTERY in result.summary["gas"]["short_of"]:
        note = f"{note} {STANDING_STILL}".strip()
    return Table(("when", "where", "bottle, position", "gas brought"), tuple(rows), note)


def other_swaps(result: Result) -> str:
    """A sentence on dates that change with the bottles to take, where those on board do not last."""
    take = to_take(result)
    if not take.beyond(len(result.van.gas.bottles)):
        return ""
    net_kg = result.summary["gas"]["bottles_needed_basis"]["net_kg"]
    return f"With what is on board, which does not last: {take.bottles} × {net_kg:g} kg are swapped on other dates."


def empties(result: Result) -> str:
    """A sentence on when bottles run empty, with power."""
    run, emptied = powered(result), []
    for k, bottle in enumerate(result.van.gas.bottles):
        empty = np.flatnonzero(run.left_kg(k) <= EMPTY_KG)
        if empty.size:
            emptied.append(f"bottle {k + 1} ({bottle.name}) on {day(run.time(hour_of_edge(int(empty[0]))))}")
    power = f" {WITH_POWER}" if BATTERY in result.summary["gas"]["short_of"] else ""
    return f"First empty{power}: {listed(emptied)}." if emptied else f"No bottle runs empty on the tour{power}."
