"""What scenarios would burn if they were fed."""

from __future__ import annotations

from concurrent.futures import Executor
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from budget.engine.batch import Many
from budget.results.need import BATTERY, LITTLE_KG, UNSERVED, gas_everywhere, short_of_what, with_power
from budget.weather.air import Floats

if TYPE_CHECKING:
    from budget.answers.prepared import Prepared
    from budget.engine.stepping import Ints

POWERED = (
    "The battery is cut out on this tour: reckoned as if it lasted, so that gas, warmth and Ah can be compared; how "
    "long the charge lasts is told by budget battery."
)


def dies(prepared: Prepared) -> bool:
    """Whether the battery is cut out on this tour, gas everywhere."""
    ready = prepared.with_gas_everywhere()
    return BATTERY in short_of_what(ready.built, ready.run())


def powered(prepared: Prepared) -> Prepared:
    """The same tour with a battery that does not end."""
    return replace(prepared, built=with_power(prepared.built))


def used_when_fed_kg(
    prepared: Prepared,
    many: Many,
    factors: Floats,
    *,
    rows: Floats | None = None,
    weather_of: Ints | None = None,
    hours: Any = None,
    schedule_of: Ints | None = None,
    executor: Executor | None = None,
) -> Floats:
    """Gas used up to each hour edge with gas and charge to the end, (scenarios, hours + 1). [kg]

    ``many`` came of the same arguments. Its scenarios that ran short of charge or gas are run again, fed; the
    others used what they needed.
    """
    used: Floats = many.trace[:, :, 4].copy()
    lacked_kg = np.sum([prepared.flow(many, name) for name in UNSERVED], axis=0)
    short = np.flatnonzero((many.trace[:, -1, 5] > 0.0) | (lacked_kg > LITTLE_KG))
    if short.size:
        again = prepared.fed()
        if hours is not None:
            hours = gas_everywhere(prepared.built, hours)
        fed_many = again.run_many(
            factors[short],
            rows=rows,
            hours=hours,
            weather_of=None if weather_of is None else weather_of[short],
            schedule_of=None if schedule_of is None else schedule_of[short],
            executor=executor,
        )
        used[short] = fed_many.trace[:, :, 4]
    return used
