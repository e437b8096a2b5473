"""How far a van's uncertain numbers may lie from what the description turned into: factors on the base."""

from __future__ import annotations

from collections.abc import Iterable
from math import exp, log, sqrt
from typing import NamedTuple

from budget.van import presets
from budget.van.description import VanDescription
from budget.van.heater import Heater
from budget.van.learned import LearnedSection
from budget.van.model import Van
from budget.van.power import Battery, Load
from budget.van.water import Boiler


class Range(NamedTuple):
    """Factors on the base value, about P10, most likely and P90, what they act on and where they are from."""

    low: float
    base: float
    high: float
    meaning: str
    source: str = presets.SOURCE


Limits = tuple[float, float]

# A number read from a plate or a tape measure, or reckoned by somebody who knows: what is still open about it.
MEASURED: dict[str, Limits] = {
    "loss_factor": (0.93, 1.08),
    "glazing_factor": (0.94, 1.07),
    "leakage_factor": (0.80, 1.25),
    "capacity_factor": (0.87, 1.15),
    "efficiency_factor": (0.98, 1.02),
    "vapour_factor": (0.56, 1.33),
    "hot_water_factor": (0.85, 1.2),
    "battery_capacity_factor": (0.96, 1.01),
    "solar_factor": (0.85, 1.1),
    "loads_factor": (0.8, 1.25),
}
MEANINGS = {
    "loss_factor": "U-values of walls, roof, floor and doors, ribs and area in them",
    "glazing_factor": "U-values of windows and screens",
    "leakage_factor": "leakage area of cracks and seals",
    "capacity_factor": "heat capacity of lining, furniture and stores",
    "efficiency_factor": "heater's efficiency on the lower heating value",
    "vapour_factor": "heat and vapour of the people, their number of hours inside",
    "hot_water_factor": "warm water drawn, and the boiler's standing loss",
    "battery_capacity_factor": "what the leisure battery still holds of its rated Ah",
    "solar_factor": "share of the clear solar potential that is kept",
    "loads_factor": "12 V use of all loads but the heater's fan",
}
# Shell area from the length alone: the range of the packaged sizes.
_AREA: Limits = (0.9, 1.1)
# Nothing said about the ribs: how they and the workmanship change the U-value of the insulation's preset.
_RIBS_UNKNOWN: Limits = (0.78, 1.3)


def ranges(van: VanDescription | Van, learned: LearnedSection | None = None) -> dict[str, Range]:
    """The named uncertain inputs of a van: factors on its base values, narrower the more the user told.

    What a log said takes the place of a preset's range, about its own P50, which the van has in it by then.

    Independent parts of one factor are joined as the root of the sum of squares of their logarithms. A van given in
    full, number by number, has the narrowest ranges; a preset's word has the range of its preset.
    """
    limits = dict(MEASURED)
    if isinstance(van, VanDescription):
        limits |= {name: joined([MEASURED[name], *extra]) for name, extra in _of_answers(van).items()}
    found = {name: Range(low, 1.0, high, MEANINGS[name]) for name, (low, high) in limits.items()}
    if learned is not None:
        for name, (low, usual, high) in learned.factors.given.items():
            found[name] = Range(low / usual, 1.0, high / usual, MEANINGS[name], learned.source)
    return found


def joined(parts: Iterable[Limits]) -> Limits:
    """Limits of a product of independent factors, each with its limits about 1."""
    listed = list(parts)
    low = sqrt(sum(log(part[0]) ** 2 for part in listed))
    high = sqrt(sum(log(part[1]) ** 2 for part in listed))
    return exp(-low), exp(high)


def _about(kind: str, word: str, number: str) -> Limits:
    """Limits of a preset's number about its usual value."""
    low, usual, high = presets.get(kind, word).spread(number)
    return low / usual, high / usual


def _of_answers(van: VanDescription) -> dict[str, list[Limits]]:
    """What stays open beyond measured numbers, for each factor by the answers given."""
    told = van.model_fields_set
    return {
        "loss_factor": [] if van.cabin else _loss(van),
        "glazing_factor": [] if van.cabin else _glazing(van, told),
        "leakage_factor": [] if van.cabin or van.leakage_cm2 is not None else _leakage(van, told),
        "capacity_factor": _capacity(van, told),
        "efficiency_factor": _efficiency(van),
        "hot_water_factor": _hot_water(van, told),
        "battery_capacity_factor": _battery(van, told),
        "solar_factor": [] if van.power or van.solar else [_about("solar", "flat on the roof", "kept_share")],
        "loads_factor": _loads(van, told),
    }


def _loss(van: VanDescription) -> list[Limits]:
    if van.wall_u_w_per_m2k is not None:
        return [_AREA]
    if van.wall_layers:
        ribs = _RIBS_UNKNOWN if van.ribs is None else _about("ribs", van.ribs, "clear_u_factor")
        return [_AREA, ribs]
    word = van.insulation or "none"
    if van.ribs is None or "clear_u_w_per_m2k" not in presets.get("insulation", word).values:
        return [_AREA, _about("insulation", word, "u_w_per_m2k"), _RIBS_UNKNOWN]
    ribs = _about("ribs", van.ribs, "clear_u_factor")
    return [_AREA, _about("insulation", word, "clear_u_w_per_m2k"), ribs]


def _glazing(van: VanDescription, told: set[str]) -> list[Limits]:
    if isinstance(van.windows, str):
        parts = [_about("window", van.windows, "u_screened_w_per_m2k")]
        parts.append((0.85, 1.2) if "windows" in told else (0.7, 1.4))
    else:
        unknown = [window.kind for window in van.windows if window.u_w_per_m2k is None]
        parts = [_about("window", kind, "u_screened_w_per_m2k") for kind in unknown[:1]]
    if van.cab_glass_u_w_per_m2k is None:
        parts.append(_about("cab_screens", van.cab_screens, "u_screened_w_per_m2k"))
        if "cab_screens" not in told:
            parts.append((0.8, 1.5))
    return parts


def _leakage(van: VanDescription, told: set[str]) -> list[Limits]:
    parts = [_about("draughts", van.draughts, "leakage_cm2")]
    return parts if "draughts" in told else [*parts, (0.5, 1.9)]


def _capacity(van: VanDescription, told: set[str]) -> list[Limits]:
    if van.cabin or van.fabric_capacity_j_per_k is not None:
        return []
    parts = [_about("furniture", van.furniture, "fabric_capacity_j_per_k")]
    return parts if "furniture" in told else [*parts, (0.65, 1.5)]


def _efficiency(van: VanDescription) -> list[Limits]:
    if isinstance(van.heater, Heater) or van.efficiency_share is not None:
        return []
    low, usual, high = presets.get("heater", van.heater).tables("stages")[-1]["efficiency_share"]
    return [(low / usual, high / usual)]


def _battery(van: VanDescription, told: set[str]) -> list[Limits]:
    if van.power or isinstance(van.battery, Battery):
        return []
    parts = [_about("battery", van.battery, "capacity_factor")]
    return parts if "battery_ah" in told else [*parts, (0.75, 2.0)]


def _hot_water(van: VanDescription, told: set[str]) -> list[Limits]:
    if van.water or isinstance(van.boiler, Boiler) or van.boiler_l is not None:
        return []
    return [(0.9, 1.12)] if "boiler" in told else [(0.75, 1.4)]


def _loads(van: VanDescription, told: set[str]) -> list[Limits]:
    if van.power or ("loads" in told and all(isinstance(load, Load) for load in van.loads)):
        return []
    return [(0.85, 1.2)] if "loads" in told else [(0.6, 1.7)]
