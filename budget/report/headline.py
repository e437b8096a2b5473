"""The answer in a sentence, the numbers under it, and the swap table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import pandas as pd

from budget.moments import day, part_of_day, short
from budget.report.first_out import Supply, causes, nobody_changed_over
from budget.report.section import Table
from budget.report.words import listed, named
from budget.results.need import AS_IT_STANDS, BATTERY, GAS, with_enough
from budget.results.swaps import MISSING_KG, taken
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
    number,
)

if TYPE_CHECKING:
    from budget.answers.odds import Odds
    from budget.results.result import Result

MOSTLY, SURE = 0.5, 0.9
STANDING_STILL = "As it stands, the heater stopping with the battery; with power more is burned and swapped."
NOT_NEEDED = "Not needed: without it and all later swaps the gas lasts, and the reserve stays in hand to the end."


def headline(result: Result, supplies: Sequence[Supply]) -> str:
    """How many bottles, what the tour burns, and what binds first.

    Where the battery fails, that comes first: a heater that stands still burns nothing, so bottles are counted on what
    the tour would burn with power.
    """
    cut_h = float(result.flows["cut_out_min"].sum()) / 60.0
    first = next((supply.when for supply in supplies if supply.name == "Battery"), None)
    if first is not None:
        gas = result.summary["gas"]
        net_kg = gas["bottles_needed_basis"]["net_kg"]
        return (
            f"The battery cuts out in the {part_of_day(first)}, and the heater with it: {need(max(cut_h, 1.0))} h "
            f"without. As it stands the tour burns {kilograms(gas['total_kg'])}, {with_enough(gas['short_of'])} "
            f"{kilograms_needed(gas['needed_kg'])}: more charge first, then {max(1, gas['bottles_needed'])} × "
            f"{net_kg:g} kg of gas."
        )
    gas = result.summary["gas"]
    missing, nights = gas["needed_kg"] - gas["total_kg"], _span(result)
    if missing > MISSING_KG and not any(supply.name == "Gas" and supply.when is not None for supply in supplies):
        return (
            f"{nights} want {kilograms_needed(gas['needed_kg'])} of gas, and {kilograms_needed(missing)} of it does "
            f"not flow though a bottle holds some: {causes(result)}; {_binding(supplies)}."
        )
    return (
        f"{take(gas, len(result.van.gas.bottles))}: {_burns(result)}; {_binding(supplies)}{_by_hand(result, supplies)}."
    )


def _by_hand(result: Result, supplies: Sequence[Supply]) -> str:
    """The nights without gas for want of a hand, where nothing runs out and one might think that all is well."""
    if GAS not in result.summary["gas"]["short_of"] or any(supply.when is not None for supply in supplies):
        return ""
    told = nobody_changed_over(result)
    return f", but {told}" if told else ""


def with_odds(result: Result, odds: Odds) -> str:
    """How many bottles, in how many such tours they last, and what binds first.

    Where the battery fails in most of them, that is said instead: a heater that stands still burns nothing.
    """
    if odds.cut_out_share > MOSTLY and odds.cut_out_in_half is not None:
        half = "half of them" if odds.cut_out_share >= 1.0 else "half of all"
        enough = odds.bottles_for(SURE)
        count = max(odds.chance_by_bottles_share) if enough is None else enough
        lasts = _in_a_hundred(odds.chance_by_bottles_share[count])
        return (
            f"The battery cuts out in {_in_a_hundred(odds.cut_out_share)} such tours, in {half} by the "
            f"{part_of_day(odds.cut_out_in_half)}, and the heater with it: more charge first, then "
            f"{count} × {odds.bottle_kg:g} kg of gas, enough with power in {lasts}{' of them' * (lasts == 'all')}."
        )
    on_board, swaps = len(result.van.gas.bottles), _needed_swaps(result.summary["gas"])
    enough, net_kg = odds.bottles_for(SURE), f"{odds.bottle_kg:g}"
    if swaps and (enough is None or enough > on_board):
        said, share = (
            f"Take {on_board} × {net_kg} kg and swap {swaps if swaps > 1 else 'one'} on the way",
            odds.carried_share,
        )
        binds = _binds(odds)
    else:
        count = max(odds.chance_by_bottles_share) if enough is None else enough
        said, share = f"Take {count} × {net_kg} kg", odds.chance_by_bottles_share[count]
        binds = _binds(odds) if count <= on_board else _on_board(odds)
    power = "with power " if odds.cut_out_share > 0.0 else ""
    return f"{said}: {power}{_in_a_hundred(share)} such tours end with gas left; {binds}."


def _on_board(odds: Odds) -> str:
    """How long what is carried lasts, where more must be taken."""
    if odds.run_out_one_in_ten is None:
        return "what is on board lasts in nine of ten"
    return f"what is on board lasts until the {part_of_day(odds.run_out_one_in_ten)} in nine of ten"


def _in_a_hundred(share: float) -> str:
    if share >= 1.0:
        return "all"
    return f"{number(min(max(100.0 * share, 0.0), 99.0))} in 100" if share > 0.0 else "none of 100"


def _binds(odds: Odds) -> str:
    what, when = odds.binds, odds.first_one_in_ten
    if what is None:
        return "nothing binds"
    if when is None:
        return f"in nine of ten nothing binds, else mostly {what}"
    return f"{what} binds first, by the {part_of_day(when)} in one of ten"


def take(gas: dict[str, Any], on_board: int) -> str:
    """Take 3 × 11 kg, or so many on board and the rest swapped on the way."""
    missing_kg = gas["needed_kg"] - gas["total_kg"]
    bottles, swaps = taken(gas["bottles_needed"], on_board, missing_kg, _needed_swaps(gas))
    swapped = f" and swap {swaps if swaps > 1 else 'one'} on the way" if swaps else ""
    return f"Take {bottles} × {gas['bottles_needed_basis']['net_kg']:g} kg{swapped}"


def _needed_swaps(gas: dict[str, Any]) -> int:
    return sum(swap["needed"] for swap in gas["swaps"])


def _span(result: Result) -> str:
    nights = result.summary["tour"]["nights"]
    return f"{nights} nights" if nights != 1 else "one night"


def _burns(result: Result) -> str:
    gas, nights, span = result.summary["gas"], result.summary["tour"]["nights"], _span(result)
    missing = gas["needed_kg"] - gas["total_kg"]
    if missing > MISSING_KG:
        wanted = kilograms_needed(gas["needed_kg"])
        return f"{span} want {wanted} of gas, and {kilograms_needed(missing)} of it is not on board"
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
    verb = "fills" if first.name == "Waste tank" else "runs out"
    return f"{'the ' if first.name != 'Gas' else ''}{first.name.lower()} {verb} first, {part_of_day(first.when)}"


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
    """Gas by the day: of the need where something ran short, since a heater that stands still burns nothing."""
    gas = summary["gas"]
    if not gas["short_of"]:
        return f", {number(gas['kg_per_day'], 1)} kg a day"
    return f" {AS_IT_STANDS}; {with_enough(gas['short_of'])} {needed_a_day(summary)}"


def needed_a_day(summary: Mapping[str, Any]) -> str:
    """What the tour takes in a mean day when it is fed: 3.0 kg a day."""
    return f"{number(rounded_up(24.0 * summary['gas']['needed_kg'] / summary['tour']['hours'], 0.1), 1)} kg a day"


def swap_table(result: Result) -> Table | None:
    """When and where a bottle is exchanged or filled; None when none is."""
    swaps = result.summary["gas"]["swaps"]
    if not swaps:
        return None
    together: dict[tuple[str, str, str], list[dict[str, Any]]] = {}
    for swap in swaps:
        together.setdefault((swap["time"], swap["place"], swap["bottle"]), []).append(swap)
    rows = []
    for (time, place, bottle), here in together.items():
        which = f"{bottle}, {listed([str(swap['position']) for swap in here])}"
        brought = kilograms(sum(swap["brought_kg"] for swap in here))
        if not here[0]["needed"]:
            brought += ", not needed"
        rows.append((short(pd.Timestamp(time)), place, which, brought))
    note = "" if all(swap["needed"] for swap in swaps) else NOT_NEEDED
    if BATTERY in result.summary["gas"]["short_of"]:
        note = f"{note} {STANDING_STILL}".lstrip()
    return Table(("when", "where", "bottle, position", "gas brought"), tuple(rows), note)


def empties(result: Result) -> str:
    """A sentence on when bottles run empty."""
    emptied = [bottle for bottle in result.summary["gas"]["bottles"] if bottle.get("emptied_at")]
    if not emptied:
        return "No bottle runs empty on the tour."
    told = [f"bottle {b['position']} ({b['bottle']}) on {day(pd.Timestamp(b['emptied_at']))}" for b in emptied]
    return f"First empty: {listed(told)}."
