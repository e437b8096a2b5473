"""The battery's answer in words: since when it is dead, how long it lasts, where it is cut out, and what to drive."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from budget.answers.detail import Detail, first_hour
from budget.moments import clock, short, short_day
from budget.results.supplies import cut_out_shares
from budget.rounding import least, need
from budget.tour.week import Mask

if TYPE_CHECKING:
    import pandas as pd

    from budget.answers.battery import Stand

EVENING_H = 18
MOST_DRIVE_H = 10.0
TOLD_BELOW_SHARE = 0.005  # of the rated charge; less is not seen in a whole per cent


def _thresholds(stands: list[Stand]) -> str:
    """Where the loads are cut and come back, as cold as the battery is on the evenings told of."""

    def span(shares: list[float]) -> str:
        low, high = (f"{100.0 * share:.0f}" for share in (min(shares), max(shares)))
        return f"{low} %" if low == high else f"{low} to {high} %"

    return (
        f"As cold as the battery is on these evenings, its loads are cut out at "
        f"{span([each.cut_out_at_share for each in stands])} of the rated charge and come back at "
        f"{span([each.reconnects_at_share for each in stands])}."
    )


def drawn_below(run: Detail) -> list[str]:
    """By how much the charge stands below the cut-out when it comes, and why that may be; or nothing."""
    cut = run.flow("cut_out_s") > 0.0
    begins = np.flatnonzero(cut & ~np.concatenate([[False], cut[:-1]]))
    share = run.stock("charge_ah") / run.van.power.battery.capacity_ah
    below = cut_out_shares(run)[begins + 1] - share[begins + 1]
    if not begins.size or below.max() < TOLD_BELOW_SHARE:
        return []
    return [
        f"Where it is cut out the charge stands up to {need(100.0 * float(below.max()))} % below the cut-out: a source "
        "that carries the loads carries them past it, and the heater's fan runs its quarter hour to the end."
    ]


def _runs_of_evenings(stands: Sequence[Stand]) -> list[list[Stand]]:
    """Evenings whose loads are cut out already, those on end at one place together."""
    groups: list[list[Stand]] = []
    before: Stand | None = None
    for each in stands:
        if each.cut_out:
            if before is not None and before.cut_out and before.place == each.place:
                groups[-1].append(each)
            else:
                groups.append([each])
        before = each
    return groups


def _over(group: list[Stand]) -> str:
    """Evenings on end whose loads are cut out already: what charge they have, and at what charge the loads are back."""
    first, last = group[0], group[-1]
    when = short(first.at) if first is last else f"{short_day(first.at)} to {short(last.at)}"
    charge, back = (
        low if low == high else f"{low} to {high}"
        for low, high in (
            (f"{100.0 * min(one.charge_share for one in group):.0f}",
             f"{100.0 * max(one.charge_share for one in group):.0f}"),
            (need(100.0 * min(one.reconnects_at_share for one in group)),
             need(100.0 * max(one.reconnects_at_share for one in group))),
        )
    )  # fmt: skip
    return (
        f"{when} at {first.place} ({charge} % of charge): the loads are cut out already, and stay so until it is "
        f"charged to {back} % or a charger feeds them."
    )


def no_stand(hours: pd.DatetimeIndex, hooked: Mask) -> str:
    """Why there is no evening to judge the battery by: which hours of a tour are on a hook-up."""
    evenings = hooked[hours.hour.to_numpy() == EVENING_H]
    if not evenings.size:
        return f"This tour has no evening: none of its hours begins at {EVENING_H}:00."
    if evenings.all():
        return "No evening of this tour is off the grid, where the battery would have to last by itself."
    return "On no evening of this tour does the van stand off the grid with somebody on board."


def sentences(run: Detail, stands: tuple[Stand, ...]) -> list[str]:
    told = []
    if not stands:
        told.append(no_stand(run.index, run.timeline.hookup_w > 0.0))
    known = [each for each in stands if each.lasts_h is not None]
    if stands and not known:
        told.append("From no evening off the grid does the charge end before the tour, with no sun, drive or hook-up.")
    begun, over = [each for each in known if not each.cut_out], [each for each in stands if each.cut_out]
    if over and len(stands) > 1:
        first = first_hour(run.flow("cut_out_s")) or 0
        told.append(
            f"Dead from {short(run.time(first))} ({run.place(first)}): on {len(over)} of {len(stands)} evenings off "
            "the grid the loads are cut out already."
        )
    if begun:
        worst = min(begun, key=lambda each: each.lasts_h or 0)
        least_from = "Of the others the charge lasts least" if over else "Least"
        told.append(
            f"{least_from} from {short(worst.at)} at {worst.place} ({100.0 * worst.charge_share:.0f} % of charge): "
            f"{worst.lasts_h} h, {least(worst.nights or 0.0, 1)} nights, until cut-out with no sun, drive or hook-up."
        )
    if known:
        told.append(_thresholds(known))
    told.extend(_over(group) for group in _runs_of_evenings(stands))
    needing = [each for each in stands if each.drive_h != 0.0]
    for each in needing:
        drive = f"drive {each.drive_h:g} h" if each.drive_h is not None else f"not even {MOST_DRIVE_H:g} h of driving"
        begins, verb = clock(each.at), "to reach" if each.drive_h is not None else "reach"
        why = f": {each.why_not}" if each.why_not else ""
        if each.drive_h is not None and each.no_charge_h:
            why = f"; in {each.no_charge_h} h until then its cells stand at or below 0 °C and take no charge: "
            why += "warm the van"
        told.append(
            f"{short_day(each.at)}, {each.place}: {drive} from {begins} on {verb} {begins} of the next day without "
            f"sun{why}."
        )
    if any(each.drive_h for each in needing):
        told.append("The drive is judged from that hour on; a later one serves only while the charge lasts.")
    if stands and not needing:
        told.append("On no such evening is a drive needed to reach the next one.")
    used, fan = float(run.flow("load_ah").sum()), float(run.flow("load_ah", 0).sum())
    told.append(f"The heater's fan takes {fan:.0f} of {used:.0f} Ah over the tour.")
    return told
