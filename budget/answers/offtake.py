"""What one bottle gives in the cold, and for how long at full fire, from its contents, temperature and locker."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from budget.engine.state import BOTTLE_EMPTY_KG
from budget.physics import bottle as of_bottle
from budget.physics.properties import BUTANE_LOWER_KWH_PER_KG, PROPANE_LOWER_KWH_PER_KG
from budget.van.gas import Bottle
from budget.van.model import Van

STEP_S = 300.0
LONGEST_H = 48.0


@dataclass(frozen=True, kw_only=True)
class Offtake:
    """One bottle as it stands.

    ``limit_kg_per_h`` is the steady off-take of the coming quarter hour, ``lasting_kg_per_h`` what reaches it as heat
    once it is as cold as the regulator bears, ``full_fire_h`` how long the heater's full fire goes on (None: to the
    end of what is looked at, 48 h), ``stays_behind_kg`` what is left then.
    """

    limit_kg_per_h: float
    lasting_kg_per_h: float
    limit_c: float
    full_fire_kg_per_h: float
    full_fire_h: float | None
    stays_behind_kg: float
    ends_empty: bool


def full_fire_kg_per_h(van: Van, propane_share: float) -> float:
    """Gas that the greatest stage burns, on the lower heating value. [kg/h]"""
    top = van.heater.stages[-1]
    return kg_per_h_of(top.output_w, top.efficiency_share, propane_share)


def kg_per_h_of(output_w: float, efficiency_share: float, propane_share: float) -> float:
    """Gas that an output burns, on the lower heating value. [kg/h]"""
    lower = propane_share * PROPANE_LOWER_KWH_PER_KG + (1.0 - propane_share) * BUTANE_LOWER_KWH_PER_KG
    return output_w / 1000.0 / efficiency_share / lower


def offtake(
    bottle: Bottle,
    *,
    propane_kg: float,
    butane_kg: float,
    bottle_c: float,
    locker_c: float,
    pressure_pa: float,
    need_bar: float,
    demand_kg_per_h: float,
    through_kg_per_h: float = np.inf,
) -> Offtake:
    """March one bottle at a steady demand in a locker of steady temperature.

    ``pressure_pa`` is ambient; the bottle must keep ``need_bar`` above it for its regulator, which with the valve lets
    through ``through_kg_per_h`` and no more. Steps of five minutes in
    closed form, each no colder than that pressure allows.
    """
    need_pa = pressure_pa + need_bar * 1e5
    quarter_h = 0.25
    limit_kg, limit_c = _deliverable(bottle, propane_kg, butane_kg, bottle_c, locker_c, need_pa, quarter_h * 3600.0)
    lasting = _lasting_kg_per_h(bottle, propane_kg, butane_kg, locker_c, need_pa)
    hours, left_c, demand_kg = 0.0, bottle_c, demand_kg_per_h * STEP_S / 3600.0
    propane, butane = propane_kg, butane_kg
    short = False
    while hours < LONGEST_H - 1e-9:
        could, _ = _deliverable(bottle, propane, butane, left_c, locker_c, need_pa, STEP_S)
        if could < 0.999 * demand_kg or demand_kg_per_h > through_kg_per_h:
            short = True
            break
        latent = of_bottle.vapour_latent_heat_j_per_kg(left_c, propane, butane)
        left_c = of_bottle.bottle_end_c(
            STEP_S,
            left_c,
            of_bottle.bottle_capacity_j_per_k(bottle.tare_kg, propane, butane, left_c),
            _coupling_w_per_k(bottle, propane + butane),
            locker_c,
            demand_kg * latent / STEP_S,
        )
        propane, butane = of_bottle.withdraw(left_c, propane, butane, demand_kg)
        hours += STEP_S / 3600.0
    left_kg = propane + butane
    return Offtake(
        limit_kg_per_h=min(limit_kg / quarter_h, through_kg_per_h),
        lasting_kg_per_h=min(lasting, through_kg_per_h),
        limit_c=limit_c,
        full_fire_kg_per_h=demand_kg_per_h,
        full_fire_h=hours if short else None,
        stays_behind_kg=left_kg,
        ends_empty=left_kg <= BOTTLE_EMPTY_KG + demand_kg,
    )


def _coupling_w_per_k(bottle: Bottle, liquid_kg: float) -> float:
    level = min(1.0, liquid_kg / bottle.net_kg)
    return of_bottle.wetted_coupling_w_per_k(level, bottle.diameter_m, bottle.net_kg, of_bottle.WALL_FILM_W_PER_M2K)


def _deliverable(
    bottle: Bottle, propane: float, butane: float, bottle_c: float, locker_c: float, need_pa: float, span_s: float
) -> tuple[float, float]:
    """Gas that a span can give, and the coldest that the bottle may then be: (kg, °C)."""
    liquid = propane + butane
    if liquid <= BOTTLE_EMPTY_KG:
        return 0.0, locker_c
    limit_c = of_bottle.temperature_at_pressure_c(need_pa, propane, butane)
    kg = of_bottle.deliverable_kg(
        span_s,
        liquid - BOTTLE_EMPTY_KG,
        bottle_c,
        limit_c,
        of_bottle.bottle_capacity_j_per_k(bottle.tare_kg, propane, butane, bottle_c),
        _coupling_w_per_k(bottle, liquid),
        locker_c,
        of_bottle.vapour_latent_heat_j_per_kg(bottle_c, propane, butane),
    )
    return kg, limit_c


def _lasting_kg_per_h(bottle: Bottle, propane: float, butane: float, locker_c: float, need_pa: float) -> float:
    """Off-take that the heat through the wall alone boils off, the bottle at its coldest. [kg/h]"""
    if propane + butane <= BOTTLE_EMPTY_KG:
        return 0.0
    limit_c = of_bottle.temperature_at_pressure_c(need_pa, propane, butane)
    watts = _coupling_w_per_k(bottle, propane + butane) * max(0.0, locker_c - limit_c)
    return watts * 3600.0 / of_bottle.vapour_latent_heat_j_per_kg(limit_c, propane, butane)
