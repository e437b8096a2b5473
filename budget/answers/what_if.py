"""What if the nights were set otherwise, and the van were better or worse than thought: a small grid of runs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from budget.answers.fed import used_when_fed_kg
from budget.answers.prepared import FACTOR_OF, Prepared
from budget.engine.batch import base_factors
from budget.engine.stepping import Floats
from budget.van.ranges import ranges

SHIFTS_K = (-4.0, -2.0, 0.0, 2.0, 4.0)
COLDEST_SETPOINT_C = 5.0
INSULATION = "loss_factor"


@dataclass(frozen=True, eq=False)
class WhatIf:
    """Setpoint while somebody sleeps (rows) × heat loss of walls, roof and floor (columns).

    ``shift_k``: against the plan; ``night_c``: the plan's usual setpoint by night with it [°C]; ``loss_factor``: the
    shell's loss against the description, at the low end of its range, as described and at the high end. ``gas_kg`` is
    what it takes with gas and charge to the end; the rest is with gas that never ends and the tour's own charge,
    ``mains_kwh`` what the hook-ups give.
    """

    shift_k: tuple[float, ...]
    night_c: tuple[float, ...]
    loss_factor: tuple[float, ...]
    gas_kg: Floats
    mains_kwh: Floats
    lowest_inside_c: Floats
    lowest_pipes_c: Floats
    lowest_charge_share: Floats
    cut_out_h: Floats


def answer(prepared: Prepared) -> WhatIf | None:
    """Run the grid on the tour's own weather, with gas everywhere; None where nobody sleeps in a heated van."""
    planned = np.asarray(prepared.timeline.setpoint_c, dtype=float)
    asleep = np.repeat(prepared.timeline.asleep > 0.0, 4)
    if not (asleep & np.isfinite(planned)).any():
        return None
    limits = ranges(prepared.described or prepared.van)[INSULATION]
    losses = (limits.low, limits.base, limits.high)
    ready = prepared.with_gas_everywhere()
    lowered = [np.where(asleep, np.maximum(planned + shift, COLDEST_SETPOINT_C), planned) for shift in SHIFTS_K]
    schedules = [planned if shift == 0.0 else set_c for shift, set_c in zip(SHIFTS_K, lowered, strict=True)]
    hours = np.stack([ready.with_setpoints(set_c) for set_c in schedules]).view(np.recarray)
    factors = base_factors(len(schedules) * len(losses))
    factors[:, FACTOR_OF[INSULATION]] = np.tile(losses, len(schedules))
    schedule_of = np.repeat(np.arange(len(schedules)), len(losses))
    many = ready.run_many(factors, hours=hours, schedule_of=schedule_of)
    fed_kg = used_when_fed_kg(ready, many, factors, hours=hours, schedule_of=schedule_of)
    grid = (len(schedules), len(losses))
    return WhatIf(
        shift_k=SHIFTS_K,
        night_c=tuple(float(np.nanmedian(set_c[asleep])) for set_c in schedules),
        loss_factor=losses,
        gas_kg=fed_kg[:, -1].reshape(grid),
        mains_kwh=(ready.flow(many, "mains_j") / 3.6e6).reshape(grid),
        lowest_inside_c=many.trace[:, 1:, 2].min(axis=1).reshape(grid),
        lowest_pipes_c=many.trace[:, 1:, 3].min(axis=1).reshape(grid),
        lowest_charge_share=many.trace[:, :, 1].min(axis=1).reshape(grid),
        cut_out_h=(many.trace[:, -1, 5] / 3600.0).reshape(grid),
    )
