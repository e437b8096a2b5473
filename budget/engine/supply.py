"""The supply air in the march: thin air carries less heat, and the guard holds the burner to what the air carries."""

from __future__ import annotations

from typing import Any

import numpy as np

from budget.compiled import jit
from budget.engine import arrays as A
from budget.engine import thermostat as T
from budget.engine.clock import QUARTER_S
from budget.engine.stepping import Floats
from budget.physics.properties import STANDARD_PRESSURE_PA

HELD_SHARE = 0.999  # of what the guard allows: more is rounding


@jit
def thin_air(burner: Any, outside: Floats) -> None:
    """Set flow and fan power by stage to the hour's air pressure; ``burner`` is this march's own copy.

    A fan moves the same volume whatever the density, since its pressure and the resistances fall alike: the mass, and
    the air's part of the fan's power, go with the pressure. The runs' share of loss gains by it, under 1 % of an
    outlet's heat at 1,500 m: that is left out of tours, and counted where a van is built for one altitude.
    """
    ratio = outside[A.PRESSURE_PA] / STANDARD_PRESSURE_PA
    if ratio == burner.air_ratio:
        return
    burner.air_ratio = ratio
    for k in range(burner.points):
        burner.fan_w[k] = burner.fan_fixed_w[k] + ratio * burner.fan_air_w[k]
        for e in range(burner.flows):
            burner.flow_w_per_k[k, e] = ratio * burner.sea_flow_w_per_k[k, e]


@jit
def carried_w(burner: Any, return_c: float) -> Any:
    """Greatest heat to the air whose supply stays within the guard's limit with air coming back at return_c. [W]

    Heat + fan = flow's capacity rate times what limit and return differ by; all are linear between the stages. Below
    the least stage the guard makes the burner cycle, and its mean is what the flow carries. ``T.FAR`` where even the
    greatest stage stays within.
    """
    above_k = burner.supply_limit_c - return_c
    if above_k <= 0.0:
        return 0.0
    k = burner.points - 1
    rate = burner.air_ratio * above_k
    spare = rate * burner.total_w_per_k[k] - burner.fan_w[k] - burner.outputs_w[k]
    if spare >= 0.0:
        return T.FAR
    while k > 0:
        k -= 1
        below = rate * burner.total_w_per_k[k] - burner.fan_w[k] - burner.outputs_w[k]
        if below >= 0.0:
            step_w = burner.outputs_w[k + 1] - burner.outputs_w[k]
            return burner.outputs_w[k] + step_w * below / (below - spare)
        spare = below
    return max(0.0, rate * burner.total_w_per_k[0] - burner.fan_w[0])


@jit
def note_guard(scratch, flow, at):
    """Count the quarter as held back when the air got all that the guard let through."""
    given_j = scratch.outcome[T.GAS_AIR_J] + scratch.outcome[T.ELECTRIC_AIR_J]
    if not np.isnan(scratch.limits[T.SET_C]) and given_j >= HELD_SHARE * scratch.limits[T.AIR_CAP_W] * QUARTER_S:
        flow[at.supply_limited_s] += QUARTER_S
