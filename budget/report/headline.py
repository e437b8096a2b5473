"""The answer in a sentence, the numbers under it, and the swap table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import pandas as pd

from budget.report.first_out import Supply
from budget.report.section import Table
from budget.report.words import celsius, day, kilograms, listed, named, night, number, percent

if TYPE_CHECKING:
    from budget.results.result import Result


def headline(result: Result, supplies: Sequence[Supply]) -> str:
    """How many bottles, what the tour burns, and what binds first."""
    return f"{take(result.summary['gas'], len(result.van.gas.bottles))}: {_burns(result)}; {_binding(supplies)}."


def take(gas: dict[str, Any], on_board: int) -> str:
    """Take 3 × 11 kg, or so many on board and the rest swapped on the way."""
    needed, net_kg = max(1, gas["bottles_needed"]), f"{gas['bottles_needed_basis']['net_kg']:g}"
    short = gas["unserved_kg"] > 0.05
    if needed > on_board and not short and needed <= on_board + len(gas["swaps"]):
        return f"Take {on_board} × {net_kg} kg and swap {needed - on_board} on the way"
    return f"Take {needed} × {net_kg} kg"


def _burns(result: Result) -> str:
    gas, nights = result.summary["gas"], result.summary["tour"]["nights"]
    span = f"{nights} nights" if nights != 1 else "one night"
    if gas["unserved_kg"] > 0.05:
        wanted = gas["total_kg"] + gas["unserved_kg"]
        return f"{span} want {kilograms(wanted)} of gas, and {kilograms(gas['unserved_kg'])} of it is not on board"
    reserve = gas["bottles_needed_basis"]["reserve_nights"]
    kept = f" and {reserve:g} nights' reserve are in that" if reserve > 0.0 else " are in that"
    return f"{kilograms(gas['total_kg'])} of gas for {span}{kept}"


def _binding(supplies: Sequence[Supply]) -> str:
    out = [supply for supply in supplies if supply.when is not None]
    if not out:
        return "nothing on board runs out"
    first = out[0]
    assert first.when is not None
    verb = "fills" if first.name == "Waste tank" else "cuts out" if first.name == "Battery" else "runs out"
    return f"{'the ' if first.name != 'Gas' else ''}{first.name.lower()} {verb} first, {night(first.when)}"


def sums(result: Result) -> list[tuple[str, str]]:
    """The numbers under the headline: value and what it is."""
    summary = result.summary
    gas, heater, power = summary["gas"], summary["heater"], summary["power"]
    tiles = [
        (kilograms(gas["total_kg"]), f"gas, {number(gas['kg_per_day'], 1)} kg a day"),
        (f"{number(heater['burner_hours'])} h", f"burner hours, {number(heater['starts'])} starts"),
        (f"{number(power['fan_ah'])} Ah", f"heater's fan, of {number(power['used_ah'])} Ah used"),
        (percent(power["lowest_state_of_charge"]), f"lowest charge, {day(pd.Timestamp(power['lowest_at']))}"),
    ]
    zone = result.van.heater.sensor_zone
    coldest = summary["comfort"].get(zone, {})
    warm = coldest.get("lowest_while_occupied_c", coldest.get("lowest_c"))
    if warm is not None:
        tiles.append((celsius(warm), f"coldest in the {named(zone)} while you are in"))
    if heater["electric_kwh"] > 0.0:
        tiles.append((f"{number(heater['electric_kwh'])} kWh", "heat from hook-up"))
    if "coldest_shower_c" in summary["water"]:
        tiles.append((celsius(summary["water"]["coldest_shower_c"]), "coldest shower"))
    return tiles


def swap_table(result: Result) -> Table | None:
    """When and where a bottle is exchanged or filled; None when none is."""
    swaps = result.summary["gas"]["swaps"]
    if not swaps:
        return None
    rows = []
    for swap in swaps:
        time = pd.Timestamp(swap["time"])
        bottle = f"{swap['bottle']}, position {swap['position']}" if "position" in swap else swap["bottle"]
        brought = kilograms(swap["brought_kg"]) if "brought_kg" in swap else ""
        rows.append((f"{day(time)}, {time:%H:%M}", swap["place"], bottle, brought))
    return Table(("when", "where", "bottle", "gas brought"), tuple(rows))


def empties(result: Result) -> str:
    """A sentence on when bottles run empty."""
    emptied = [bottle for bottle in result.summary["gas"]["bottles"] if bottle.get("emptied_at")]
    if not emptied:
        return "No bottle runs empty on the tour."
    told = [f"bottle {b['position']} ({b['bottle']}) on {day(pd.Timestamp(b['emptied_at']))}" for b in emptied]
    return f"First empty: {listed(told)}."
