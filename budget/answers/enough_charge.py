"""Does the battery carry each stay off the grid: hour by hour from the described numbers, without a simulation."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from budget.engine.stepping import Floats
from budget.physics.burner import stage_value
from budget.physics.properties import PROPANE_LOWER_KWH_PER_KG
from budget.rounding import least, need
from budget.tour.timeline import on_a_charger
from budget.van.charge import usable_ah
from budget.van.elements import glazing_w_per_k, opaque_w_per_k
from budget.weather.sun import planes

if TYPE_CHECKING:
    from budget.answers.enough import Plan
    from budget.van.model import Van

SKIN_W_PER_M2K = 15.0  # outer film in light wind, which lets more of the sun in than a strong one; a choice


@dataclass(frozen=True, kw_only=True, eq=False)
class Flows:
    """By the hour: what the heater's fan and everything else take, what sun and driving bring [Ah]; and the heat that
    the sensor's zone loses at its setpoint, what the heater gives at most and what else warms it [W]."""

    fan_ah: Floats
    rest_ah: Floats
    brought_ah: Floats
    needed_w: Floats
    available_w: Floats
    free_w: Floats


@dataclass(frozen=True, kw_only=True)
class Stay:
    """Hours off the grid on end, from the ``first`` to before the ``last``; ``empty`` the hour of the cut-out.

    ``full_ah`` is what the battery gives from its charge at the start until its cut-out; ``brought_ah`` what a battery
    that lasts and the loads would take of what sun and driving offer until the hour ``deepest``, in which it would be
    lowest; ``lacked_ah`` what it then lacks, ``holds_ah`` what a full one gives, ``carries_ah`` the rated capacity that
    lacks nothing.
    """

    first: int
    last: int
    empty: int | None
    full_ah: float
    brought_ah: float
    deepest: int
    lacked_ah: float
    holds_ah: float
    carries_ah: float


def too_long(plan: Plan, set_c: Floats, flows: Flows, *, heats: bool = True) -> Iterator[str]:
    """A sentence on the first stay in which the battery is surely cut out, with a count of the others.

    ``heats`` False: the gas does not feed the heater, whose fan may then stand still; the loads alone are counted.
    """
    if not heats:
        flows = replace(flows, fan_ah=np.zeros_like(flows.fan_ah))
    failed = [stay for stay in stays(plan, set_c, flows) if stay.empty is not None]
    if not failed:
        return
    others = len(failed) - 1
    more = f" So in {others} later stay{'' if others == 1 else 's'} off the grid." if others else ""
    yield _told(plan, flows, failed[0]) + more


def _told(plan: Plan, flows: Flows, stay: Stay) -> str:
    """The hole of a whole stay, its latest cut-out, and what would carry it at least."""
    line, alternator_a = plan.timeline, plan.van.power.alternator_a
    assert stay.empty is not None
    until = slice(stay.first, stay.deepest + 1)
    fan_ah, rest_ah = float(flows.fan_ah[until].sum()), float(flows.rest_ah[until].sum())
    place = line.tour.stops[int(line.stop[stay.empty])].place
    hooked = bool((line.hookup_w[stay.first : stay.last] > 0.0).any())
    where = "without a charger for the hook-up" if hooked else "off the grid"
    brought = f"at most {need(stay.brought_ah)} Ah" if stay.brought_ah > 0.0 else "nothing"
    driving = f", or {need(stay.lacked_ah / alternator_a, 1)} h more of driving" if alternator_a > 0.0 else ""
    if driving and stay.lacked_ah > stay.holds_ah:
        driving += f" spread over the stay, since the battery holds {need(stay.holds_ah)} Ah above its cut-out"
    return (
        f"The battery does not carry the stay {where} from {_when(plan, stay.first)}: by "
        f"{_when(plan, stay.deepest + 1)} fan and loads take at least {least(fan_ah + rest_ah)} Ah, the fan "
        f"{least(fan_ah)} of them; sun and driving bring {brought} and the battery gives at most {need(stay.full_ah)} "
        f"Ah: at least {least(stay.lacked_ah)} Ah are missing. Every doubt given to it, and gas that feeds "
        f"the heater, it is cut out at the latest by {_when(plan, stay.empty + 1)} at {place}; budget run will "
        f"find it earlier. To carry it takes at least a battery of {need(stay.carries_ah)} Ah{driving}."
    )


def _when(plan: Plan, edge: int) -> str:
    at = plan.timeline.edges[edge]
    return f"{at.day} {at:%B} at {at:%H:%M}"


def stays(plan: Plan, set_c: Floats, flows: Flows) -> list[Stay]:
    """Every stay off the grid, each begun with a full battery, the tour's first with what is described."""
    off_grid = np.concatenate([[False], ~on_a_charger(plan.timeline.hookup_w, plan.van.power.mains_charger_a), [False]])
    edges = np.flatnonzero(np.diff(off_grid.astype(int)))
    battery = plan.van.power.battery
    found = []
    for first, last in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        heated = set_c[first:last][np.isfinite(set_c[first:last])]
        inside = battery.zone != "outdoors" and heated.size
        battery_c = float(heated.mean() if inside else plan.column("temp_air")[first:last].mean())
        missing_ah = battery.capacity_ah * (1.0 - battery.start_share) if first == 0 else 0.0
        full_ah = usable_ah(battery, battery_c)
        taken_ah, brought_ah, empty = missing_ah, 0.0, None
        lowest_ah, deepest, brought_until_ah = missing_ah, first, 0.0
        for hour in range(first, last):
            taken_ah += float(flows.fan_ah[hour] + flows.rest_ah[hour])
            accepted_ah = min(float(flows.brought_ah[hour]), taken_ah)
            taken_ah -= accepted_ah
            brought_ah += accepted_ah
            if taken_ah > full_ah and empty is None:
                empty = hour
            if taken_ah > lowest_ah:
                lowest_ah, deepest, brought_until_ah = taken_ah, hour, brought_ah
        begun_ah = max(0.0, full_ah - missing_ah)
        found.append(
            Stay(
                first=first,
                last=last,
                empty=empty,
                full_ah=begun_ah,
                brought_ah=brought_until_ah,
                deepest=deepest,
                lacked_ah=max(0.0, lowest_ah - max(full_ah, missing_ah)),
                holds_ah=full_ah,
                carries_ah=_carries_ah(battery.capacity_ah, lowest_ah - missing_ah, begun_ah),
            )
        )
    return found


def _carries_ah(capacity_ah: float, taken_ah: float, begun_ah: float) -> float:
    """Rated capacity that gives so much where this one gives what it does, begun as full; infinite for none. [Ah]"""
    return capacity_ah * taken_ah / begun_ah if begun_ah > 0.0 else float("inf")


def flows_of(plan: Plan, set_c: Floats) -> Flows:
    """Least that fan and loads take, most that sun and driving bring; every doubt is given to the battery. [Ah]"""
    line, van = plan.timeline, plan.van
    volts, power = van.power.battery.nominal_v, van.power
    heated = np.isfinite(set_c)
    around_c = np.minimum(np.where(heated, set_c, plan.column("temp_air")), 20.0)
    loads_w = np.zeros(len(set_c))
    for each in power.loads:
        duty = np.clip(each.duty_share * (1.0 + each.duty_per_k * (around_c - 20.0)), 0.0, 1.0)
        loads_w += each.power_w * duty * line.load_share(each)
    faces = planes(plan.weather, line, van)
    free_w = gains_w(plan, faces) + loads_w
    fan_w, needed_w, available_w = (np.zeros(len(set_c)) for _ in range(3))
    for hour in np.flatnonzero(heated).tolist():
        described = plan.hour(hour, float(set_c[hour]))
        needed_w[hour], available_w[hour] = described.needed_w, described.available_w
        fan_w[hour] = fan_power_w(van, max(0.0, described.needed_w - float(free_w[hour])), described.available_w)
    sun_w = faces["panel_w"] * power.solar.kept_share * power.solar.charger_efficiency_share * line.solar_factor
    return Flows(
        fan_ah=fan_w / volts,
        rest_ah=(loads_w + van.heater.standby_w * line.heater_allowed) / volts,
        brought_ah=sun_w / volts + power.alternator_a * line.alternator,
        needed_w=needed_w,
        available_w=available_w,
        free_w=free_w + fan_w,
    )


def gains_w(plan: Plan, faces: dict[str, Floats]) -> Floats:
    """Most that people, cooking, hot water and sun give to all zones together. [W]"""
    line, van = plan.timeline, plan.van
    cooking_w = 1000.0 * PROPANE_LOWER_KWH_PER_KG * line.cooking_gas_kg * (1.0 - line.cooking_vented_share)
    boiler_w = van.water.boiler.standing_loss_w if van.water.boiler.is_fitted else 0.0
    gains: Floats = line.people_w + cooking_w + line.cooking_electric_w + boiler_w
    for zone in van.cabin.zones:
        for pane in zone.glazing:
            gains = gains + faces[pane.faces] * (
                pane.area_m2 * pane.g_share + 0.5 * glazing_w_per_k(pane) / SKIN_W_PER_M2K
            )
        for part in zone.opaque:
            gains = gains + faces[part.faces] * part.solar_absorptance_share * opaque_w_per_k(part) / SKIN_W_PER_M2K
    return gains


def fan_power_w(van: Van, needed_w: float, available_w: float) -> float:
    """Mean power of the heater's fan in an hour: on for part of it where less than the least stage is asked. [W]"""
    stages = van.heater.stages
    outputs, fans = np.array([s.output_w for s in stages]), np.array([s.fan_w for s in stages])
    given_w = min(needed_w, available_w)
    return float(min(1.0, given_w / outputs[0]) * stage_value(given_w, outputs, fans))
