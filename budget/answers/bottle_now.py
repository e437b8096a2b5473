"""One bottle at one hour: contents, temperatures, off-take, and whether it is empty or only cold."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from budget.answers.detail import Detail
from budget.answers.offtake import Offtake, full_fire_kg_per_h, offtake
from budget.answers.wrong_gas import PURE_SHARE
from budget.engine import arrays
from budget.moments import short
from budget.rounding import least, need

NEARLY_EMPTY_KG = 0.1  # what a luggage scale does not tell from empty
HOURS_BEFORE = 6


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
        verdict=verdict(
            left,
            bottle_c,
            before_kg,
            flow,
            gas.regulator_kg_per_h,
            empty_since(run, bottle, hour),
            propane=described.propane_share >= PURE_SHARE,
        ),
    )


def empty_since(run: Detail, bottle: int, hour: int) -> dt.datetime | None:
    """The hour in which a bottle that is empty at the start of another ran empty; None where it holds gas."""
    held = np.flatnonzero(run.left_kg(bottle)[: hour + 1] > NEARLY_EMPTY_KG)
    if held.size and held[-1] == hour:
        return None
    return run.time(int(held[-1]) if held.size else 0)


def verdict(
    left_kg: float,
    bottle_c: float,
    drawn_before_kg: float,
    flow: Offtake,
    through_kg_per_h: float = np.inf,
    since: dt.datetime | None = None,
    *,
    propane: bool = True,
) -> str:
    """ "Empty or only cold?" in one sentence, from contents, temperature, and what the hours before drew.

    A bottle that has been empty for longer is judged by that alone: ``since`` when. One that gives nothing and is not
    (nearly) all ``propane`` holds the wrong gas for this cold.
    """
    drawn = f"{drawn_before_kg:.2f} kg drawn in the {HOURS_BEFORE} h before"
    if left_kg <= NEARLY_EMPTY_KG:
        if drawn_before_kg <= 0.0 and since is not None:
            return f"empty since {short(since)}: nothing to judge, change it where you can."
        return f"empty ({drawn}): change it."
    if flow.limit_kg_per_h == through_kg_per_h < flow.full_fire_kg_per_h:
        return (
            f"neither empty nor cold: {least(left_kg, 1)} kg left at {bottle_c:.0f} °C, {drawn}; valve and regulator "
            f"let through {least(through_kg_per_h, 2)} kg/h where full fire asks {need(flow.full_fire_kg_per_h, 2)}."
        )
    if flow.limit_kg_per_h <= 0.0 and not propane:
        return (
            f"not empty but the wrong gas for this cold: {least(left_kg, 1)} kg left at {bottle_c:.0f} °C, {drawn}; it "
            "gives nothing. Use propane, and let this one warm by itself, never with flame or hot water."
        )
    if flow.limit_kg_per_h < 0.999 * flow.full_fire_kg_per_h:
        return (
            f"not empty but cold: {least(left_kg, 1)} kg left at {bottle_c:.0f} °C, {drawn}; it gives "
            f"{least(flow.limit_kg_per_h, 2)} kg/h where full fire asks {need(flow.full_fire_kg_per_h, 2)}: use "
            "another bottle where there is one, or two at once, and let this one warm by itself, never with flame or "
            "hot water."
        )
    left = f"{least(left_kg, 1)} kg left at {bottle_c:.0f} °C"
    if flow.full_fire_h is None:
        return f"serves: {left}, {drawn}; full fire without trouble for two days."
    why = "empty then" if flow.ends_empty else f"then too cold, with {need(flow.stays_behind_kg, 1)} kg left behind"
    return f"serves: {left}, {drawn}; full fire for {least(flow.full_fire_h, 1)} h, {why}."
