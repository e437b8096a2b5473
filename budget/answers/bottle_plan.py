"""The dated gas plan: change before when and where, the scale's reading, off-take in the cold, reserve, payload."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from budget.answers.detail import Detail
from budget.answers.last_chance import Chance, last_chances
from budget.answers.money import Money
from budget.answers.money import answer as money_of
from budget.answers.offtake import Offtake, full_fire_kg_per_h, offtake
from budget.engine import arrays
from budget.engine.stepping import Floats

if TYPE_CHECKING:
    from budget.answers.prepared import Prepared
    from budget.results.result import Result

MORNING_H = 7
RECENT_H = 72
NEARLY_EMPTY_KG = 0.1  # what a luggage scale does not tell from empty
HOURS_BEFORE = 6


@dataclass(frozen=True, kw_only=True)
class Swap:
    """One exchange or filling that the tour makes; ``left_kg`` is what was in the bottle then, ``added_kg`` came in."""

    time: dt.datetime
    place: str
    bottle: int
    name: str
    left_kg: float
    added_kg: float


@dataclass(frozen=True, kw_only=True)
class Reading:
    """What a scale should show on one morning, tare and contents, bottle by bottle."""

    time: dt.datetime
    place: str
    scale_kg: tuple[float, ...]
    contents_kg: tuple[float, ...]


@dataclass(frozen=True, kw_only=True)
class Now:
    """One bottle at one hour: contents, temperatures, off-take, and whether it is empty or only cold."""

    bottle: int
    name: str
    contents_kg: float
    level_share: float
    bottle_c: float
    locker_c: float
    drawn_before_kg: float
    offtake: Offtake
    verdict: str


@dataclass(frozen=True, kw_only=True)
class BottlePlan:
    """The answer. ``short_at`` is when gas falls short with the plan followed, None: not on this tour."""

    at: dt.datetime
    place: str
    swaps: tuple[Swap, ...]
    chances: tuple[Chance, ...]
    short_at: dt.datetime | None
    readings: tuple[Reading, ...]
    now: tuple[Now, ...]
    recent_kg_per_day: float
    reserve_nights: float
    reserve_kg: float
    reserve_kept: bool
    payload_kg: float
    money: Money
    sentences: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """JSON-ready; every name with its unit."""
        return asdict(self)


def answer(source: Result | Prepared | Detail, at: dt.datetime | str | None = None) -> BottlePlan:
    """The plan of one run of the tour, and the bottles as they stand at ``at`` (none: at the tour's coldest hour)."""
    run = Detail.of(source)
    hour = int(np.argmin(run.rows[:, arrays.TEMP_C])) if at is None else run.hour_of(at)
    swaps = tuple(swaps_of(run))
    chances, short_hour = last_chances(run)
    recent = recent_kg_per_day(run, hour)
    nights = run.van.gas.reserve_nights
    reserve_kg = nights * recent
    lowest_kg = float(_all_kg(run).min())
    now = tuple(bottle_now(run, bottle, hour) for bottle in range(run.bottles))
    van = run.van
    payload = sum(b.tare_kg + b.net_kg for b in van.gas.bottles) + van.water.fresh.capacity_l + van.water.boiler.water_l
    short_at = None if short_hour is None else run.time(short_hour)
    money = money_of(run)
    return BottlePlan(
        at=run.time(hour),
        place=run.place(hour),
        swaps=swaps,
        chances=chances,
        short_at=short_at,
        readings=tuple(readings(run)),
        now=now,
        recent_kg_per_day=recent,
        reserve_nights=nights,
        reserve_kg=reserve_kg,
        reserve_kept=lowest_kg >= reserve_kg,
        payload_kg=payload,
        money=money,
        sentences=(
            *_sentences(run, swaps, chances, short_at, now, recent, reserve_kg, lowest_kg, payload),
            *money.sentences,
        ),
    )


def _all_kg(run: Detail) -> Floats:
    return np.asarray(np.sum([run.left_kg(k) for k in range(run.bottles)], axis=0))


def used_kg(run: Detail) -> Floats:
    """Gas drawn from all bottles in each hour. [kg]"""
    return run.flow("gas_out_kg") + run.flow("gas_out_butane_kg")


def recent_kg_per_day(run: Detail, hour: int) -> float:
    """Mean use of the three days before an hour, or of as much as there was, at least a day. [kg/day]"""
    last = max(hour, 24)
    first = max(0, last - RECENT_H)
    return float(used_kg(run)[first:last].mean()) * 24.0


def swaps_of(run: Detail) -> list[Swap]:
    """Every exchange or filling of the run, in order of time."""
    found = []
    for bottle in range(run.bottles):
        added = run.flow("swap_in_kg", bottle) + run.flow("swap_in_butane_kg", bottle)
        given = run.flow("swap_out_kg", bottle) + run.flow("swap_out_butane_kg", bottle)
        for hour in np.flatnonzero(run.flow("swaps", bottle) > 0.0).tolist():
            refillable = run.van.gas.bottles[bottle].refillable
            left = float(run.left_kg(bottle)[hour]) if refillable else float(given[hour])
            found.append(
                Swap(
                    time=run.time(hour),
                    place=run.place(hour),
                    bottle=bottle + 1,
                    name=run.van.gas.bottles[bottle].name,
                    left_kg=left,
                    added_kg=float(added[hour]),
                )
            )
    return sorted(found, key=lambda swap: (swap.time, swap.bottle))


def readings(run: Detail) -> list[Reading]:
    """What the scale should show at seven each morning."""
    contents = [run.left_kg(k) for k in range(run.bottles)]
    tares = [bottle.tare_kg for bottle in run.van.gas.bottles]
    found = []
    for hour, start in enumerate(run.index):
        if start.hour != MORNING_H:
            continue
        here = tuple(float(kg[hour]) for kg in contents)
        found.append(
            Reading(
                time=run.time(hour),
                place=run.place(hour),
                scale_kg=tuple(tare + kg for tare, kg in zip(tares, here, strict=True)),
                contents_kg=here,
            )
        )
    return found


def bottle_now(run: Detail, bottle: int, hour: int) -> Now:
    """One bottle at the start of an hour, with its off-take from there on in a locker as cold as it is now."""
    described, gas = run.van.gas.bottles[bottle], run.van.gas
    propane = float(run.stock("propane_kg", bottle)[hour])
    butane = float(run.stock("butane_kg", bottle)[hour])
    outdoor_c = float(run.rows[hour, arrays.TEMP_C])
    warmer = 0.0
    if gas.locker_zone != "outdoors":
        warmer = gas.locker_warmer_share * (float(run.node_c(f"{gas.locker_zone}_air")[hour]) - outdoor_c)
    drawn = run.flow("gas_out_kg", bottle) + run.flow("gas_out_butane_kg", bottle)
    before_kg = float(drawn[max(0, hour - HOURS_BEFORE) : hour].sum())
    bottle_c = float(run.node_c(f"bottle_{bottle + 1}")[hour])
    left = propane + butane
    flow = offtake(
        described,
        propane_kg=propane,
        butane_kg=butane,
        bottle_c=bottle_c,
        locker_c=outdoor_c + warmer,
        pressure_pa=float(run.rows[hour, arrays.PRESSURE_PA]),
        need_bar=gas.regulator_need_bar,
        through_kg_per_h=gas.regulator_kg_per_h,
        demand_kg_per_h=full_fire_kg_per_h(run.van, described.propane_share if left <= 0.0 else propane / left),
    )
    return Now(
        bottle=bottle + 1,
        name=described.name,
        contents_kg=left,
        level_share=left / described.net_kg,
        bottle_c=bottle_c,
        locker_c=outdoor_c + warmer,
        drawn_before_kg=before_kg,
        offtake=flow,
        verdict=verdict(left, bottle_c, before_kg, flow, gas.regulator_kg_per_h),
    )


def verdict(
    left_kg: float, bottle_c: float, drawn_before_kg: float, flow: Offtake, through_kg_per_h: float = np.inf
) -> str:
    """ "Empty or only cold?" in one sentence, from contents, temperature, and what the hours before drew."""
    drawn = f"{drawn_before_kg:.2f} kg drawn in the {HOURS_BEFORE} h before"
    if left_kg <= NEARLY_EMPTY_KG:
        return f"empty ({drawn}): change it."
    if flow.limit_kg_per_h == through_kg_per_h < flow.full_fire_kg_per_h:
        return (
            f"neither empty nor cold: {left_kg:.1f} kg left at {bottle_c:.0f} °C, {drawn}; valve and regulator let "
            f"through {through_kg_per_h:.2f} kg/h where full fire asks {flow.full_fire_kg_per_h:.2f}."
        )
    if flow.limit_kg_per_h < 0.999 * flow.full_fire_kg_per_h:
        return (
            f"not empty but cold: {left_kg:.1f} kg left at {bottle_c:.0f} °C, {drawn}; it gives "
            f"{flow.limit_kg_per_h:.2f} kg/h where full fire asks {flow.full_fire_kg_per_h:.2f}: use another bottle "
            "where there is one, or two at once, and let this one warm by itself, never with flame or hot water."
        )
    if flow.full_fire_h is None:
        return f"serves: {left_kg:.1f} kg left at {bottle_c:.0f} °C, {drawn}; full fire without trouble for two days."
    why = "empty then" if flow.ends_empty else f"then too cold, with {flow.stays_behind_kg:.1f} kg left behind"
    return (
        f"serves: {left_kg:.1f} kg left at {bottle_c:.0f} °C, {drawn}; full fire for {flow.full_fire_h:.1f} h, {why}."
    )


def _sentences(
    run: Detail,
    swaps: tuple[Swap, ...],
    chances: tuple[Chance, ...],
    short_at: dt.datetime | None,
    now: tuple[Now, ...],
    recent: float,
    reserve_kg: float,
    lowest_kg: float,
    payload_kg: float,
) -> list[str]:
    told = []
    for chance in chances:
        then = "not again on this tour" if chance.next_open is None else (
            f"not again until {chance.next_open:%a %d %b %H:%M} at {chance.next_place}"
        )  # fmt: skip
        told.append(
            f"Change gas before {chance.close:%a %d %b %H:%M} at {chance.place} (open from "
            f"{chance.open:%a %d %b %H:%M}): otherwise it is short from {chance.short_at:%a %d %b %H:%M}; "
            f"after that {then}."
        )
    if not chances and short_at is None:
        told.append("The gas on board at departure lasts the tour without a change.")
    if short_at is not None:
        told.append(f"Gas is short from {short_at:%a %d %b %H:%M} whatever is changed: take more bottles or use less.")
    told += [
        f"{swap.time:%a %d %b %H:%M}, {swap.place}: bottle {swap.bottle} ({swap.name}), {swap.left_kg:.1f} kg left in "
        f"it, {swap.added_kg:.1f} kg in."
        for swap in swaps
    ]
    told += [f"Bottle {each.bottle} ({each.name}): {each.verdict}" for each in now]
    kept = "is kept" if lowest_kg >= reserve_kg else f"is not kept: {lowest_kg:.1f} kg at the lowest"
    told.append(
        f"Reserve of {run.van.gas.reserve_nights:g} nights at {recent:.1f} kg a day, as in the three days before: "
        f"{reserve_kg:.1f} kg; it {kept}."
    )
    told.append(f"Full bottles and water weigh {payload_kg:.0f} kg of the payload.")
    return told
