"""Which runs out first: gas, battery, fresh water or room for waste, and when."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from budget.answers.detail import Detail, first_hour
from budget.answers.last_chance import LAST_OF_A_BOTTLE_KG, out_of_gas, unserved
from budget.answers.what_to_take import with_charge
from budget.engine.stepping import Floats
from budget.moments import hour_of_edge, short
from budget.results.supplies import EMPTY, WHY, cut_out_shares, lacked_by_cause
from budget.rounding import least, need
from budget.tour.week import Mask

if TYPE_CHECKING:
    from budget.answers.prepared import Prepared
    from budget.results.result import Result

WHAT = {"gas": "the gas", "battery": "the battery", "fresh": "the fresh water", "waste": "room in the waste tank"}
SMALL_L = 1e-6
SHUT, NO_HAND, CHANGED, REGULATOR, COLD = "shut", "no_hand", "changed", "regulator", "cold"
CAUSE_WORDS = {
    SHUT: "the bottles were shut",
    NO_HAND: "nobody was awake to change over",
    CHANGED: "one ran empty and the next took over",
    REGULATOR: "valve and regulator let through no more",
    COLD: "it was too cold to boil off fast enough",
    **WHY,
}


@dataclass(frozen=True, kw_only=True)
class Supply:
    """One supply: share left at the hour edges, its lowest, and when it first fell short (None: never).

    Gas falls short when a flame that was asked for had to do with less while every bottle was empty, the battery when
    its cut-out opened, fresh water when a tap stayed dry for want of water, waste when its tank ran over. ``short_h``
    counts the hours of the tour in which it was short for any time; for the battery it is the time cut out, rounded up.
    ``held_up_h`` counts the hours in which it was short although some was left, ``held_up_by_h`` the same by its cause
    (``CAUSE_WORDS``): a bottle too cold or shut, nobody awake to change over; a pump without 12 V, ice.
    """

    name: str
    left_share: tuple[float, ...]
    lowest_share: float
    lowest_at: dt.datetime
    out_at: dt.datetime | None
    out_place: str | None
    short_h: int
    held_up_h: int = 0
    held_up_by_h: dict[str, int] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class RunsOut:
    """The answer; ``first`` is the supply that falls short first, None when none does, ``tightest`` the lowest one."""

    supplies: tuple[Supply, ...]
    first: str | None
    tightest: str
    sentences: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """JSON-ready, without the strips' values."""
        told = asdict(self)
        for supply in told["supplies"]:
            del supply["left_share"]
        return told


def answer(source: Result | Prepared | Detail) -> RunsOut:
    """Judge all four supplies over one run of the tour; gas with power, as its plan is, where the battery cuts out."""
    run = Detail.of(source)
    powered = with_charge(run)
    shares, lacked = left_shares(run) | {"gas": left_shares(powered)["gas"]}, lacked_by_cause(run)
    nowhere = np.zeros(run.count)
    short = {
        "gas": out_of_gas(powered),
        "battery": run.flow("cut_out_s") > 0.0,
        "fresh": lacked.get(EMPTY, nowhere) > SMALL_L,
        "waste": run.flow("waste_spilled_l") > SMALL_L,
    }
    held_up_h = {"gas": held_up_by_h(powered), "fresh": _dry_by_h(lacked)}
    supplies = tuple(_supply(run, name, shares[name], short[name], held_up_h.get(name, {})) for name in WHAT)
    fallen = [supply for supply in supplies if supply.out_at is not None]
    first = min(fallen, key=lambda supply: supply.out_at or supply.lowest_at) if fallen else None
    tightest = min(supplies, key=lambda supply: supply.lowest_share)
    return RunsOut(
        supplies=supplies,
        first=None if first is None else first.name,
        tightest=tightest.name,
        sentences=tuple(_sentences(supplies, first, tightest)),
    )


def left_shares(run: Detail) -> dict[str, Floats]:
    """What is left of each supply, over what it holds when full; of waste the room that is left. Hour edges. [0–1]"""
    van = run.van
    net_kg = sum(bottle.net_kg for bottle in van.gas.bottles)
    gas_kg = np.sum([run.left_kg(k) for k in range(run.bottles)], axis=0)
    charge, cut_out = run.stock("charge_ah") / van.power.battery.capacity_ah, cut_out_shares(run)
    return {
        "gas": np.asarray(gas_kg / net_kg),
        "battery": np.clip((charge - cut_out) / (1.0 - cut_out), 0.0, 1.0),
        "fresh": run.stock("fresh_l") / van.water.fresh.capacity_l,
        "waste": 1.0 - run.stock("waste_l") / van.water.waste.capacity_l,
    }


def held_up_by_h(run: Detail) -> dict[str, int]:
    """How many hours each cause of :func:`held_up` held gas up. [h]"""
    return {cause: int(np.count_nonzero(mask)) for cause, mask in held_up(run).items()}


def held_up(run: Detail) -> dict[str, Mask]:
    """Hours in which gas was short although a bottle held some, by what held it up; one cause an hour.

    Shut: the tour has the bottles shut. No hand: the bottle in use was empty and the others gave nothing, changeover
    is by hand and nobody was awake on board; not where the others would have given too little by themselves.
    Changed: a bottle ran empty in the hour and the next took over.
    Regulator: it let through its most. Else the cold: what bottles hold did not boil off fast enough.
    """
    rest = unserved(run) & ~out_of_gas(run)
    left = np.array([run.left_kg(k) for k in range(run.bottles)])
    empty = left <= LAST_OF_A_BOTTLE_KG
    ran_empty = (empty[:, 1:] & ~empty[:, :-1]).any(axis=0) & (run.bottles > 1)
    fed = ((left[:, 1:] < left[:, :-1]) & ~empty[:, 1:]).any(axis=0)
    waits = empty[:, 1:].any(axis=0) & (run.bottles > 1) & ~fed
    asleep = run.hours["awake_inside"] == 0
    by_hand = waits & asleep if run.van.gas.changeover == "manual" else np.zeros(run.count, dtype=bool)
    if (rest & by_hand).any():
        by_hand &= ~_held_up_all_the_same(run)
    full_flow = run.flow("offtake_limit_kg") >= 0.999 * run.van.gas.regulator_kg_per_h
    causes = (
        (SHUT, run.hours["gas_open"] == 0),
        (NO_HAND, by_hand),
        (CHANGED, ran_empty),
        (REGULATOR, full_flow),
        (COLD, np.ones(run.count, dtype=bool)),
    )
    found = {}
    for cause, holds in causes:
        if (rest & holds).any():
            found[cause] = rest & holds
        rest = rest & ~holds
    return found


def _held_up_all_the_same(run: Detail) -> Mask:
    """Hours in which gas is short with an automatic changeover too, though a bottle holds some."""
    changed = run.with_automatic_changeover()
    return unserved(changed) & ~out_of_gas(changed)


def spared_by_automatic(run: Detail) -> Mask:
    """Hours in which gas was short for want of a hand alone, and is not with an automatic changeover."""
    waited = held_up(run).get(NO_HAND)
    return np.zeros(run.count, dtype=bool) if waited is None else waited & ~unserved(run.with_automatic_changeover())


def _dry_by_h(lacked: dict[str, Floats]) -> dict[str, int]:
    """Hours in which a tap stayed dry although the tank held water, by cause."""
    hours = {cause: int(np.count_nonzero(litres > SMALL_L)) for cause, litres in lacked.items() if cause != EMPTY}
    return {cause: count for cause, count in hours.items() if count}


def _supply(run: Detail, name: str, left: Floats, short: Mask, held_up: dict[str, int]) -> Supply:
    lowest = int(np.argmin(left))
    out = first_hour(short)
    short_h = need(run.flow("cut_out_s").sum() / 3600.0) if name == "battery" else np.count_nonzero(short)
    return Supply(
        name=name,
        left_share=tuple(left.tolist()),
        lowest_share=float(left[lowest]),
        lowest_at=run.time(hour_of_edge(lowest)),
        out_at=None if out is None else run.time(out),
        out_place=None if out is None else run.place(out),
        short_h=int(short_h),
        held_up_h=sum(held_up.values()),
        held_up_by_h=held_up,
    )


def _sentences(supplies: tuple[Supply, ...], first: Supply | None, tightest: Supply) -> list[str]:
    held_up = [
        f"For {supply.held_up_h} h {WHAT[supply.name]} could not be had though some was left: "
        + ", ".join(f"{hours} h {CAUSE_WORDS[cause]}" for cause, hours in supply.held_up_by_h.items())
        + "."
        for supply in supplies
        if supply.held_up_h
    ]
    if first is None or first.out_at is None:
        return [
            f"Nothing runs out. The tightest is {WHAT[tightest.name]}: "
            f"{least(100.0 * tightest.lowest_share)} % left on {short(tightest.lowest_at)}.",
            *held_up,
        ]
    told = []
    for supply in sorted((s for s in supplies if s.out_at), key=lambda s: s.out_at or s.lowest_at):
        assert supply.out_at is not None
        how = "falls short first" if supply is first else "falls short too"
        told.append(
            f"{WHAT[supply.name][0].upper()}{WHAT[supply.name][1:]} {how}, on {short(supply.out_at)} "
            f"({supply.out_place}), for {supply.short_h} h of the tour."
        )
    return told + held_up
