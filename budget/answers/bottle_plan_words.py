"""The gas plan in plain words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from budget.answers.wrong_gas import words as of_wrong_gas
from budget.moments import short
from budget.results.need import AS_IT_STANDS, WITH_POWER, with_enough
from budget.rounding import least, need

if TYPE_CHECKING:
    from budget.answers.bottle_plan import BottlePlan

WEEKDAYS = ("Mon ", "Tue ", "Wed ", "Thu ", "Fri ", "Sat ", "Sun ")


def plan_sentences(plan: BottlePlan, lowest_kg: float, hardest: str) -> list[str]:
    """What to do, what it takes, each swap, the bottles as they stand, reserve and payload."""
    to_do, rest = list(_to_do(plan)), [*_swaps(plan), *_stock(plan, lowest_kg)]
    payload = f"Full bottles and water weigh {need(plan.payload_kg)} kg of the payload."
    if not plan.as_if_powered:
        return [*to_do, *_totals(plan, hardest), *rest, payload]
    return [_as_if_powered(plan), *with_power_said(to_do), *_totals(plan, hardest), *with_power_said(rest), payload]


def _as_if_powered(plan: BottlePlan) -> str:
    return (
        f"The battery cuts out on this tour. {AS_IT_STANDS.capitalize()} the heater stops with it and burns "
        f"{plan.burned_kg:.1f} kg; all else is planned {WITH_POWER}, that is with a battery that lasts."
    )


def with_power_said(sentences: Sequence[str]) -> list[str]:
    """Each sentence with the case that it is of before it."""
    return [f"{WITH_POWER.capitalize()}: {_lowered(sentence)}" for sentence in sentences]


def _lowered(sentence: str) -> str:
    """A sentence after a colon; a weekday keeps its capital."""
    return sentence if sentence[:4] in WEEKDAYS else sentence[0].lower() + sentence[1:]


def _to_do(plan: BottlePlan) -> Iterator[str]:
    for chance in plan.chances:
        then = "it is not to be had again on this tour" if chance.next_open is None else (
            f"it is to be had again only from {short(chance.next_open)} at {chance.next_place}"
        )  # fmt: skip
        before = [swap.time for swap in plan.swaps if swap.time < chance.close]
        open_ = f"{chance.place} (open from {short(chance.open)})"
        if before and (plan.short_at is None or chance.short_at < plan.short_at):
            yield (
                f"This plan swaps in time, on {short(before[-1])}, before the last chance ends on "
                f"{short(chance.close)} at {open_}: without it gas is short from "
                f"{short(chance.short_at)}, and {then}."
            )
        else:
            yield (
                f"Change gas before {short(chance.close)} at {open_}: otherwise it is short from "
                f"{short(chance.short_at)}, and {then}."
            )
    if plan.short_at is not None:
        yield f"Gas is short from {short(plan.short_at)} whatever is changed{_instead(plan)}."
    if plan.not_had_kg > 0.0 and plan.held_up_by:
        yield (
            f"The gas does not carry the tour: of the {plan.needed_kg:.1f} kg that it takes "
            f"{plan.not_had_kg:.1f} kg are not had though a bottle holds some: {'; '.join(plan.held_up_by)}."
        )
    elif plan.short_at is None and not plan.chances:
        yield "The gas on board at departure lasts the tour without a change."
    for found in plan.wrong_gas:
        told = of_wrong_gas(found)
        yield f"{told[0].upper()}{told[1:]}. Take propane."


def _instead(plan: BottlePlan) -> str:
    """How many bottles would last; a gas that does not flow in this cold is not had by taking more of it."""
    if plan.wrong_gas:
        return ""
    take, on_board = plan.take, len(plan.end_kg)
    if take is None or (take.lasts and take.bottles <= on_board):
        return ": take more bottles or use less"
    if not take.lasts:
        return f": as many × {plan.bottle} as a van has room for do not last either; use less"
    swapped = f"{take.swaps} swap{'s' * (take.swaps > 1)} on other dates than these" if take.swaps else "no swap"
    return f": take {take.bottles} × {plan.bottle}, which with {swapped} last, or use less"


def _totals(plan: BottlePlan, hardest: str) -> Iterator[str]:
    burned, needed = "Burned", f"Needed: {plan.needed_kg:.1f} kg, the same, since nothing runs short"
    if plan.short_of:
        burned, needed = f"Burned {AS_IT_STANDS}", f"Needed {with_enough(plan.short_of)}: {plan.needed_kg:.1f} kg"
    yield (
        f"{burned}: {plan.burned_kg:.1f} kg. {needed}. Planned: {need(plan.planned_kg, 1)} kg, "
        f"with a reserve of {plan.reserve_nights:g} nights at {plan.reserve_kg_per_day:.1f} kg a day, {hardest}; that "
        f"is {_bottles(plan)}."
    )


def _bottles(plan: BottlePlan) -> str:
    """How many of the first kind; a gas that does not flow in this cold is not had by taking more of it."""
    if any(found.name == plan.bottle for found in plan.wrong_gas):
        return f"to be had as propane, not as {plan.bottle}"
    return f"{plan.bottles_needed} × {plan.bottle} without a swap"


def _swaps(plan: BottlePlan) -> Iterator[str]:
    for swap in plan.swaps:
        left = f"{swap.left_kg:.1f} kg handed back in it" if swap.exchanged else f"{swap.left_kg:.1f} kg still in it"
        needless = "" if swap.needed else "; not needed, what is on board lasts"
        yield (
            f"{short(swap.time)}, {swap.place}: bottle {swap.bottle} ({swap.name}), {left}, "
            f"{swap.added_kg:.1f} kg in{needless}."
        )
    if not all(swap.needed for swap in plan.swaps):
        yield (
            "A swap is not needed where, without it and all later ones, no flame lacks gas and the reserve of the "
            "hardest three days stays in hand to the end."
        )
    left = ", ".join(f"bottle {k} {least(kg, 1)} kg" for k, kg in enumerate(plan.end_kg, 1))
    yield f"Left at the end: {left}; handed back on the way: {plan.handed_back_kg:.1f} kg."


def _stock(plan: BottlePlan, lowest_kg: float) -> Iterator[str]:
    for each in plan.now:
        yield f"Bottle {each.bottle} ({each.name}) on {short(plan.at)}: {each.verdict}"
    kept = "is kept" if plan.reserve_kept else "is not kept"
    left = f"{least(lowest_kg, 1)} kg on board at the lowest"
    if plan.not_had_kg > 0.0 and lowest_kg >= plan.reserve_kg:
        left = f"the {left} only because {plan.not_had_kg:.1f} kg did not flow"
    yield f"The reserve of {need(plan.reserve_kg, 1)} kg {kept}: {left}."
