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
from budget.van.charge import usable_ah
from budget.van.elements import glazing_w_per_k, opaque_w_per_k
from budget.weather.sun import planes

if TYPE_CHECKING:
    from budget.answers.enough import Plan
    from budget.van.model import Van

SKIN_W_PER_M2K = 15.0  # outer film in light wind, which lets more of the sun in than a strong one; a choice


@dataclass(frozen=True, kw_only=True, eq=False)
class Flows:
    """By the hour: what the heater's fan and everything else take, what sun and driving bring. [Ah]"""

    fan_ah: Floats
    rest_ah: Floats
    brought_ah: Floats


@dataclass(frozen=True, kw_only=True)
class Stay:
    """Hours off the grid on end, from the ``first`` to before the ``last``; ``empty`` the hour of the cut-out.

    ``full_ah`` is what the battery gives from its charge at the start until its cut-out, ``brought_ah`` what it and the
    loads took until then of what sun and driving offered.
    """

    first: int
    last: int
    empty: int | None
    full_ah: float
    brought_ah: float


def too_long(plan: Plan, set_c: Floats, *, heats: bool = True) -> Iterator[str]:
    """A sentence on the first stay in which the battery is surely cut out, with a count of the others.

    ``heats`` False: the gas does not feed the heater, whose fan may then stand still; the loads alone are counted.
    """
    flows = flows_of(plan, set_c)
    if not heats:
        flows = replace(flows, fan_ah=np.zeros_like(flows.fan_ah))
    failed = [stay for stay in stays(plan, set_c, flows) if stay.empty is not None]
    if not failed:
        return
    stay, line = failed[0], plan.timeline
    assert stay.empty is not None
    until = slice(stay.first, stay.empty + 1)
    fan_ah, rest_ah = float(flows.fan_ah[until].sum()), float(flows.rest_ah[until].sum())
    starts, ends = line.index[stay.first], line.index[stay.empty]
    place = line.tour.stops[int(line.stop[stay.empty])].place
    brought = f"at most {need(stay.brought_ah)} Ah" if stay.brought_ah > 0.0 else "nothing"
    others = len(failed) - 1
    more = f" So in {others} later stay{'' if others == 1 else 's'} off the grid." if others else ""
    yield (
        f"The battery does not carry the stay off the grid from {starts.day} {starts:%B} at {starts:%H:%M}: it comes "
        f"to its cut-out by {ends.day} {ends:%B} at {ends:%H:%M} at {place}. "
        f"Until then fan and loads take about {need(fan_ah + rest_ah)} Ah, the fan {fan_ah:.0f} of them; sun and "
        f"driving bring {brought}, and the battery gives {least(stay.full_ah)} Ah.{more}"
    )


def stays(plan: Plan, set_c: Floats, flows: Flows) -> list[Stay]:
    """Every stay off the grid, each begun with a full battery, the tour's first with what is described."""
    off_grid = np.concatenate([[False], plan.timeline.hookup_w <= 0.0, [False]])
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
        for hour in range(first, last):
            taken_ah += float(flows.fan_ah[hour] + flows.rest_ah[hour])
            accepted_ah = min(float(flows.brought_ah[hour]), taken_ah)
            taken_ah -= accepted_ah
            brought_ah += accepted_ah
            if taken_ah > full_ah:
                empty = hour
                break
        begun_ah = max(0.0, full_ah - missing_ah)
        found.append(Stay(first=first, last=last, empty=empty, full_ah=begun_ah, brought_ah=brought_ah))
    return found


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
    fan_w = np.zeros(len(set_c))
    for hour in np.flatnonzero(heated).tolist():
        described = plan.hour(hour, float(set_c[hour]))
        fan_w[hour] = fan_power_w(van, max(0.0, described.needed_w - float(free_w[hour])), described.available_w)
    sun_w = faces["panel_w"] * power.solar.kept_share * power.solar.charger_efficiency_share * line.solar_factor
    return Flows(
        fan_ah=fan_w / volts,
        rest_ah=(loads_w + van.heater.standby_w * line.heater_allowed) / volts,
        brought_ah=sun_w / volts + power.alternator_a * line.alternator,
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
