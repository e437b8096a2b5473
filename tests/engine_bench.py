"""The records of one march laid open, so that a claim can call one of its functions and read what it did."""

from __future__ import annotations

from functools import cache

import numpy as np
from still_hours import still_hours, still_weather

from budget.engine import arrays as A
from budget.engine.batch import base_factors
from budget.engine.layout import as_record
from budget.engine.state import SCRATCH, STATE, set_out
from budget.engine.van_arrays import BuiltVan, build_van
from budget.van.model import Van


@cache
def built(van: str) -> BuiltVan:
    """A van's arrays, of which every bench takes a copy."""
    return build_van(Van.model_validate_json(van))


class Bench:
    """A van at the start of a still hour: everything that the march's functions take, each of it free to be set."""

    def __init__(self, van: Van, outdoor_c: float = 0.0, inside_c: float = 20.0) -> None:
        self.built = built(van.model_dump_json())
        self.van = self.built.arrays.copy()[0]
        self.burner = self.built.burner.copy()[0]
        self.pattern = self.built.pattern[0]
        self.hours = still_hours(1, start_c=inside_c)
        self.hour = self.hours[0]
        self.outside = still_weather(1, outdoor_c)[0]
        self.factors = base_factors()[0]
        self.state = A.record(STATE)[0]
        self.scratch = A.record(SCRATCH)[0]
        self.work = A.record(A.WORK)[0]
        self.flow = np.zeros(self.built.flows.width)
        self.stock = np.zeros(self.built.stocks.width)
        self.at = as_record(self.built.flows)[0]
        self.stocks_at = as_record(self.built.stocks)[0]
        self.drawn = np.zeros(1, dtype=A.DRAWN).view(np.recarray)[0]
        set_out(self.van, self.hour, self.outside, self.factors, self.state, self.scratch)

    def flowed(self, name: str, place: int = 0) -> float:
        """What the row of flows holds under a name, at a place in its family."""
        return float(self.flow[getattr(self.built.flows, name) + place])

    def node(self, name: str) -> int:
        return self.built.node_names.index(name)

    def moved(self) -> dict[str, float]:
        """Every flow that is not nothing, as ``name`` or ``name+place``."""
        fields = self.built.flows._asdict()
        fields.pop("width")
        starts = sorted((first, name) for name, first in fields.items())
        found: dict[str, float] = {}
        for k, (first, name) in enumerate(starts):
            last = starts[k + 1][0] if k + 1 < len(starts) else len(self.flow)
            for place, value in enumerate(self.flow[first:last].tolist()):
                if value != 0.0:
                    found[f"{name}+{place}" if last - first > 1 else name] = value
        return found
