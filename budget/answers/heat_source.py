"""What heats on a tour: the burner, an element on a hook-up, or both; and who gets the watts of a hook-up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from budget.answers.conditions import Conditions, march, with_output
from budget.engine.stepping import Floats
from budget.engine.van_arrays import build_van
from budget.results.need import AMPLE_FACTOR
from budget.tour.timeline import FUELS, Timeline
from budget.van.model import Van

GAS, ELECTRIC_ONLY = FUELS.index("gas"), FUELS.index("electric")
HARD_C = 35.0  # a setpoint out of reach, so that the element asks for all it may have


@dataclass(frozen=True, kw_only=True)
class Source:
    """What may heat at once: ``burner`` or not, and ``element_w``, the step of the element that a hook-up leaves."""

    burner: bool = True
    supply_a: float = 0.0
    supply_v: float = 230.0
    element_w: float = 0.0

    @property
    def name(self) -> str:
        """ "burner", "burner and 6 A (element 1000 W)", "6 A alone (element 1000 W)"."""
        if self.burner and self.element_w <= 0.0:
            return "burner"
        element = f"{self.supply_a:g} A{'' if self.burner else ' alone'} (element {self.element_w:.0f} W)"
        return f"burner and {element}" if self.burner else element

    def heated(self, van: Van, burner_w: float) -> Van:
        """The van with a heater that gives what this source does beside ``burner_w`` of the burner."""
        if self.burner and self.element_w <= 0.0:
            return van
        whole_w = max(1.0, self.element_w + (burner_w if self.burner else 0.0))
        return with_output(van, whole_w, at_w=self.blown_at_w(van))

    def blown_at_w(self, van: Van) -> float | None:
        """The output at which the heater's fan and air stand; None: of its greatest stage. [W]"""
        return None if self.burner else min(max(1.0, self.element_w), van.heater.rated_w)


BURNER = Source()


def sources_of(van: Van, timeline: Timeline, hours: Any) -> tuple[Source, ...]:
    """Every source that the parked van is heated by on a tour, in the order of its stops; the burner where none is.

    ``hours`` are the tour's hour records. The battery is taken as charged, the 12 V loads as long on as in the mean of
    the hours on a hook-up.
    """
    shares = load_shares(timeline, hours)
    heated = np.isfinite(timeline.setpoint_c.reshape(-1, 4)).any(axis=1) & timeline.heater_allowed
    found: dict[Source, None] = {}
    for number, stop in enumerate(timeline.tour.stops):
        here = (timeline.stop == number) & heated & (timeline.moving == 0)
        for watts, fuel in dict.fromkeys(zip(timeline.hookup_w[here], timeline.fuel[here], strict=True)):
            if watts <= 0.0 or fuel == GAS:
                found[BURNER] = None
                continue
            element_w = round(shared_w(van, float(watts), load_share=shares)[2], 1)
            burner = bool(fuel != ELECTRIC_ONLY)
            if burner and element_w <= 0.0:
                found[BURNER] = None
            else:
                volts = stop.hookup_v
                found[Source(burner=burner, supply_a=watts / volts, supply_v=volts, element_w=element_w)] = None
    return tuple(found) or (BURNER,)


def load_shares(timeline: Timeline, hours: Any) -> Floats:
    """How long each 12 V load is on, as a share: the mean of the hours on a hook-up, of all where there are none."""
    hooked = timeline.hookup_w > 0.0
    shares: Floats = hours["load_share"][hooked if hooked.any() else slice(None)].mean(axis=0)
    return shares


def shared_w(
    van: Van, hookup_w: float, *, load_share: Floats | float = 0.0, charging: bool = False
) -> tuple[float, float, float]:
    """Mains power of fridge, charger and element when all ask for what they can get. [W]

    One hour of the engine in a warm van with the heater asked for more than it can. The battery is full, so that the
    charger carries the 12 V loads alone, or half empty and ``charging``.
    """
    battery = van.power.battery
    held = 0.5 * (1.0 + battery.cut_out_share) if charging else 1.0
    lasting = {"start_share": held, "capacity_ah": AMPLE_FACTOR * battery.capacity_ah}  # and stays so for the hour
    power = van.power.model_copy(update={"battery": battery.model_copy(update=lasting)})
    built = build_van(van.model_copy(update={"power": power}))
    state = Conditions(outdoor_c=0.0)
    asked = {"set_c": HARD_C, "start_c": 20.0, "hookup_w": hookup_w, "fuel": ELECTRIC_ONLY, "load_share": load_share}
    many = march(built, state, 1, **asked)
    assert many.flows is not None
    at, flow = built.flows, many.flows[0]
    element_w = float(flow[at.electric_air_j] + flow[at.electric_water_j]) / 3600.0
    charger_w = float(flow[at.mains_charger_ah]) * battery.nominal_v / van.power.mains_charger_efficiency_share
    fridge_w = float(flow[at.mains_j]) / 3600.0 - charger_w - element_w
    return max(0.0, fridge_w), charger_w, element_w
