"""The answer in a sentence or two where many winters were drawn."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from budget.answers.trouble import Trouble
from budget.answers.trouble import answer as trouble_of
from budget.moments import part_of_day
from budget.report import trouble_words as words
from budget.report.headline import then_gas
from budget.wording import number

if TYPE_CHECKING:
    from budget.answers.odds import Odds
    from budget.results.result import Result

MOSTLY, SURE, ONE_IN_TEN = 0.5, 0.9, 0.1
NOTHING = "nothing binds"


def with_odds(result: Result, odds: Odds, trouble: Trouble | None = None) -> str:
    """What goes wrong, how many bottles, in how many such tours they last, and what binds first.

    Where the battery fails in most of them, and no want of gas before it, that is said instead: a heater that stands
    still burns nothing. What goes wrong is that of the tour's own run.
    """
    found = trouble_of(result) if trouble is None else trouble
    return f"{words.questions(found)}{_odds_told(result, odds, found)}".rstrip()


def _odds_told(result: Result, odds: Odds, found: Trouble) -> str:
    from budget.answers.odds import CHARGE

    unheated, later = f" {words.unheated(found)}", ""
    if found.gas_first and odds.cut_out_share > MOSTLY:
        later = f" The battery cuts out in {_in_a_hundred(odds.cut_out_share)} such tours, later than the gas."
    elif odds.cut_out_share > MOSTLY and odds.cut_out_in_half is not None:
        half = "half of them" if odds.cut_out_share >= 1.0 else "half of all"
        gas, share = _enough(result, odds, found)
        lasts = _in_a_hundred(share)
        heater, first = "", "more charge first, then"
        if found.heater is not None:
            heater = f"; it is too small as well, {words.gives(found.heater)}"
            first = f"more charge and {words.larger(found.heater)} first, then at least"
        frozen = f", and {told}" if (told := words.freezes(found, dated=False)) else ""
        return (
            f"The battery cuts out in {_in_a_hundred(odds.cut_out_share)} such tours, in {half} by the "
            f"{part_of_day(odds.cut_out_in_half)}, and the heater with it{frozen}{heater}: {first} {gas}, enough with "
            f"power in {lasts}{' of them' * (lasts == 'all')}{words.why_propane(found)}.{unheated}"
        )
    often = ""
    if not later and odds.cut_out_share > ONE_IN_TEN:
        often = f" The battery cuts out in {_in_a_hundred(odds.cut_out_share)}, and the heater with it."
    gas, share = _enough(result, odds, found)
    if found.heater is not None:
        lasts = _in_a_hundred(share)
        lasts += " such tours" * (lasts == "all")
        return f"{words.too_small(found)}{gas}, enough for the small one in {lasts}.{later}{unheated}".rstrip() + often
    cold = f" {words.of_cold(found)}".rstrip()
    if found.wrong_gas:
        wrong = words.of_gas(found, result.summary["gas"]["planned_kg"])
        cold = f" It is {words.chill(found)}." if found.cold_h > 0.0 else ""
        share = odds.kilograms_last_share(result.summary["gas"]["planned_kg"])
        lasts = f"With as many kilograms of it {_in_a_hundred(share)} such tours have gas to the end."
        return f"{wrong} {lasts}{cold}{later}{unheated}".rstrip() + often
    if found.swaps:
        bottles = found.bottles
        said = f"Take {bottles} × {odds.bottle_kg:g} kg and swap {found.swaps if found.swaps > 1 else 'one'} on the way"
    else:
        bottles = _bottles_in_nine(odds)
        said = f"Take {bottles} × {odds.bottle_kg:g} kg"
    on_board = bottles <= len(result.van.gas.bottles)
    binds = _binds(odds) if on_board else _on_board(odds)
    if on_board and odds.binds == CHARGE:
        often = ""
    surer = _surer(odds) if found.swaps else ""
    quiet = binds == NOTHING and (found.frozen or found.cold_h > 0.0)
    power = "with power " if odds.cut_out_share > 0.0 else ""
    return (
        f"{words.of_water(found)}{said}: {power}{_in_a_hundred(share)} such tours have gas to the end{surer}"
        f"{'' if quiet else f'; {binds}'}.{cold}{later}{often}"
    )


def _surer(odds: Odds) -> str:
    """Bottles at departure that last in nine of ten, where those to take and the swaps do not."""
    bottles = odds.bottles_for(SURE)
    if odds.take.lasts_share >= SURE or bottles is None:
        return ""
    share = _in_a_hundred(odds.chance_by_bottles_share[bottles])
    return f", with {bottles} × {odds.bottle_kg:g} kg from the start {share}"


def _bottles_in_nine(odds: Odds) -> int:
    """Full bottles that last in nine of ten without a swap, or the most that were looked at."""
    enough = odds.bottles_for(SURE)
    return max(odds.chance_by_bottles_share) if enough is None else enough


def _enough(result: Result, odds: Odds, found: Trouble) -> tuple[str, float]:
    """What to take and the share of the tours in which it lasts: what a run takes, where the tour has swaps."""
    if found.swaps:
        return then_gas(result, found), odds.take.lasts_share
    bottles = _bottles_in_nine(odds)
    return then_gas(result, replace(found, bottles=bottles)), odds.chance_by_bottles_share[bottles]


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
        cold = odds.lowest_pipes.p10 <= 0.0
        return "in one of ten the pipes come to 0 °C" if cold else NOTHING
    if when is None:
        return f"in nine of ten nothing binds, else mostly {what}"
    return f"{what} binds first, by the {part_of_day(when)} in one of ten"
