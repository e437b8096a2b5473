"""The dated gas plan: change before when and where, the scale's reading, off-take in the cold, reserve, payload."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from budget.answers.bottle_now import NEARLY_EMPTY_KG, Now, bottle_now
from budget.answers.bottle_plan_words import plan_sentences, with_power_said
from budget.answers.detail import Detail
from budget.answers.last_chance import Chance, last_chances
from budget.answers.money import Money
from budget.answers.money import answer as money_of
from budget.answers.runs_out import CAUSE_WORDS, held_up
from budget.answers.swaps_made import Swap, not_had_kg, swaps_of, used_kg
from budget.answers.what_to_take import ToTake, taken_by, with_charge
from budget.answers.wrong_gas import WrongGas, wrong_gas
from budget.engine import arrays
from budget.engine.stepping import Floats
from budget.results.need import BATTERY
from budget.results.summary import bottles_needed

if TYPE_CHECKING:
    from budget.answers.prepared import Prepared
    from budget.results.result import Result

MORNING_H = 7
RECENT_H = 72


@dataclass(frozen=True, kw_only=True)
class Reading:
    """What a scale should show on one morning, tare and contents, bottle by bottle."""

    time: dt.datetime
    place: str
    scale_kg: tuple[float, ...]
    contents_kg: tuple[float, ...]


@dataclass(frozen=True, kw_only=True)
class BottlePlan:
    """The answer. ``short_at`` is when every bottle is empty with the plan followed, None: not on this tour.
    ``take`` is then what to take at departure and to swap for gas to last.

    ``not_had_kg`` is what the tour needs and did not get with the plan followed, ``held_up_by`` why where a bottle
    held some, and ``wrong_gas`` the bottles that hold what does not flow in this cold.

    ``burned_kg``: what the tour burns as it stands; ``needed_kg``: what it would burn with gas and charge to its end;
    ``planned_kg``: that and the reserve, ``bottles_needed`` full ones of the first kind. ``short_of`` says why burned
    is less than needed. Where that is the battery, everything but ``burned_kg`` is ``as_if_powered``: with a battery
    that lasts. ``reserve_kg`` is kept at ``reserve_kg_per_day``: the hardest three days of the tour, or those before
    ``at`` where it was given; not kept where gas did not flow. ``end_kg`` is left in each bottle at the end.
    """

    at: dt.datetime
    place: str
    burned_kg: float
    needed_kg: float
    planned_kg: float
    bottles_needed: int
    bottle: str
    short_of: tuple[str, ...]
    as_if_powered: bool
    swaps: tuple[Swap, ...]
    chances: tuple[Chance, ...]
    short_at: dt.datetime | None
    take: ToTake | None
    not_had_kg: float
    held_up_by: tuple[str, ...]
    wrong_gas: tuple[WrongGas, ...]
    readings: tuple[Reading, ...]
    now: tuple[Now, ...]
    reserve_kg_per_day: float
    reserve_nights: float
    reserve_kg: float
    reserve_kept: bool
    handed_back_kg: float
    end_kg: tuple[float, ...]
    payload_kg: float
    money: Money
    sentences: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """JSON-ready; every name with its unit."""
        return asdict(self)


def answer(source: Result | Prepared | Detail, at: dt.datetime | str | None = None) -> BottlePlan:
    """The plan of one run of the tour, and the bottles as they stand at ``at`` (none: as :func:`hour_to_judge`)."""
    as_it_is = Detail.of(source)
    need = as_it_is.need
    run = with_charge(as_it_is)
    hour = hour_to_judge(run) if at is None else run.hour_of(at)
    swaps = tuple(swaps_of(run))
    chances, short_hour = last_chances(run)
    rate = need.hardest_kg_per_day if at is None else recent_kg_per_day(need.used_kg, hour)
    reserve_kg = need.reserve_nights * rate
    lowest_kg = float(np.sum([run.left_kg(k) for k in range(run.bottles)], axis=0).min())
    van = run.van
    payload = sum(b.tare_kg + b.net_kg for b in van.gas.bottles) + van.water.fresh.capacity_l + van.water.boiler.water_l
    money = money_of(run)
    missing_kg = not_had_kg(run, need)
    plan = BottlePlan(
        at=run.time(hour),
        place=run.place(hour),
        burned_kg=float(used_kg(as_it_is).sum()),
        needed_kg=need.kg,
        planned_kg=need.kg + reserve_kg,
        bottles_needed=bottles_needed(need.kg + reserve_kg, van.gas.bottles[0].net_kg),
        bottle=van.gas.bottles[0].name,
        short_of=need.short_of,
        as_if_powered=BATTERY in need.short_of,
        swaps=swaps,
        chances=chances,
        short_at=None if short_hour is None else run.time(short_hour),
        take=None if short_hour is None else taken_by(run, swaps, need),
        not_had_kg=missing_kg,
        held_up_by=tuple(CAUSE_WORDS[cause] for cause in held_up(run)) if missing_kg else (),
        wrong_gas=wrong_gas(run, need),
        readings=tuple(readings(run)),
        now=tuple(bottle_now(run, bottle, hour) for bottle in range(run.bottles)),
        reserve_kg_per_day=rate,
        reserve_nights=need.reserve_nights,
        reserve_kg=reserve_kg,
        reserve_kept=not missing_kg and lowest_kg >= reserve_kg,
        handed_back_kg=sum(swap.left_kg for swap in swaps if swap.exchanged),
        end_kg=tuple(float(run.left_kg(k)[-1]) for k in range(run.bottles)),
        payload_kg=payload,
        money=money,
        sentences=(),
    )
    told = plan_sentences(plan, lowest_kg, "in the hardest three days" if at is None else "as in the three days before")
    bought = with_power_said(money.sentences) if plan.as_if_powered else money.sentences
    return replace(plan, sentences=(*told, *bought))


def hour_to_judge(run: Detail) -> int:
    """The tour's coldest hour; where every bottle is empty then, that of the last day on which they served."""
    coldest = int(np.argmin(run.rows[:, arrays.TEMP_C]))
    held = np.max([run.left_kg(k)[:-1] for k in range(run.bottles)], axis=0) > NEARLY_EMPTY_KG
    served = np.flatnonzero(held[: coldest + 1])
    if held[coldest] or not served.size:
        return coldest
    first, end = max(0, int(served[-1]) - 23), int(served[-1]) + 1
    return first + int(np.argmin(run.rows[first:end, arrays.TEMP_C]))


def recent_kg_per_day(used_kg: Floats, hour: int) -> float:
    """Mean use of the three days before an hour, or of as much as there was, at least a day. [kg/day]"""
    last = max(hour, 24)
    first = max(0, last - RECENT_H)
    return float(used_kg[first:last].mean()) * 24.0


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
