"""The warm-air ducts: what each outlet gets at each stage, and what closing or throttling one would do."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from budget.answers.conditions import LARGE_W, Conditions, Guard, air_ratio, hold, unlimited, with_output
from budget.answers.duct_flow import Outlet, StageFlow, stage_flow
from budget.engine.van_arrays import build_van
from budget.errors import InputFault
from budget.rounding import least
from budget.van.heater import Duct, Stage
from budget.van.model import Van

RETURN_AREAS_CM2 = (None, 400.0, 200.0, 100.0, 50.0, 0.0)  # None: no return path counted
STARVED_SHARE = 0.6  # of the mean of the other outlets that are fully open; common practice, no source
LOUD_M_PER_S = 8.0  # air is heard in a quiet van from about here; common practice, no source
THROTTLED_SHARE = 0.5


@dataclass(frozen=True, kw_only=True)
class Change:
    """What one change of an outlet or of the return path does at the greatest stage.

    ``flow_m3_per_h`` is counted at 20 °C. ``most_heat_w`` is what the burner may then give: its output in this air, or
    less where the guard holds it back.
    """

    what: str
    flow_m3_per_h: float
    supply_c: float | None
    fan_w: float
    heat_by_outlet_w: dict[str, float]
    within_limit: bool
    most_heat_w: float


@dataclass(frozen=True, kw_only=True)
class Ducts:
    """The answer."""

    outdoor_c: float
    altitude_m: float
    zone_c: dict[str, float]
    supply_limit_c: float
    stages: tuple[StageFlow, ...]
    balancing: tuple[Change, ...]
    return_path: tuple[Change, ...]
    warnings: tuple[str, ...]
    sentences: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """JSON-ready; every name with its unit."""
        return asdict(self)


def answer(
    van: Van,
    *,
    zone_c: Mapping[str, float] | None = None,
    outdoor_c: float = -5.0,
    inside_c: float = 20.0,
    return_cm2: float | None = None,
    altitude_m: float = 0.0,
) -> Ducts:
    """The ducts of a van with the zones at ``zone_c`` [°C]; none: as they settle at ``outdoor_c`` and ``inside_c``.

    ``return_cm2`` is the free area that leads air back to the heater; none: that of the description. InputFault where
    the van has no duct, or a zone is not named.
    """
    if not van.ducts:
        raise InputFault(
            "the van must have warm-air ducts for this question, got none: all warm air goes into "
            f"{van.heater.sensor_zone}; describe them in van.ducts."
        )
    names = [zone.name for zone in van.cabin.zones]
    return_cm2 = van.heater.return_cm2 if return_cm2 is None else return_cm2
    if zone_c is None:
        state = Conditions(outdoor_c=outdoor_c, altitude_m=altitude_m)
        large = build_van(with_output(unlimited(van), LARGE_W), air_ratio=air_ratio(altitude_m))
        zone_c = hold(large, state, inside_c).zone_c
    missing = [name for name in names if name not in zone_c]
    if missing:
        raise InputFault(f"the temperatures must name every zone, got none for {', '.join(missing)}; add them.")
    here = {**{name: float(zone_c[name]) for name in names}, "outdoors": outdoor_c}
    ratio = air_ratio(altitude_m)
    stages = tuple(stage_flow(van, stage, here, van.ducts, return_cm2, ratio) for stage in van.heater.stages)
    top = van.heater.stages[-1]
    balancing = tuple(
        _change(van, top, here, f"{run.name} {word}", _with_open(van.ducts, run.name, share), return_cm2, ratio)
        for run in van.ducts
        for word, share in (("closed", 0.0), ("half as open", THROTTLED_SHARE * run.open_share))
        if run.open_share > 0.0 and (share > 0.0 or sum(other.open_share > 0.0 for other in van.ducts) > 1)
    )
    path = tuple(_change(van, top, here, _return_words(area), van.ducts, area, ratio) for area in RETURN_AREAS_CM2)
    as_it_is = _change(van, top, here, "as described", van.ducts, return_cm2, ratio)
    warnings = tuple(_warnings(van, stages))
    return Ducts(
        outdoor_c=outdoor_c,
        altitude_m=altitude_m,
        zone_c={name: here[name] for name in names},
        supply_limit_c=van.heater.supply_limit_c,
        stages=stages,
        balancing=balancing,
        return_path=path,
        warnings=warnings,
        sentences=tuple(_sentences(van, stages, balancing, path, as_it_is.most_heat_w, altitude_m)),
    )


def _with_open(runs: tuple[Duct, ...], name: str, share: float) -> tuple[Duct, ...]:
    return tuple(run.model_copy(update={"open_share": share}) if run.name == name else run for run in runs)


def _change(
    van: Van,
    stage: Stage,
    here: Mapping[str, float],
    what: str,
    runs: tuple[Duct, ...],
    return_cm2: float | None,
    ratio: float,
) -> Change:
    flow = stage_flow(van, stage, here, runs, return_cm2, ratio)
    within = flow.supply_c is not None and flow.supply_c <= van.heater.supply_limit_c
    most_w = flow.output_w
    if not within:
        heater = van.heater.model_copy(update={"return_cm2": return_cm2})
        changed = van.model_copy(update={"ducts": runs, "heater": heater})
        guard_w = 0.0 if flow.supply_c is None else Guard(build_van(changed), ratio).carried_w(flow.return_c)
        most_w = min(most_w, guard_w)
    return Change(
        what=what,
        flow_m3_per_h=flow.flow_m3_per_h,
        supply_c=flow.supply_c,
        fan_w=flow.fan_w,
        heat_by_outlet_w={outlet.name: outlet.heat_w for outlet in flow.outlets},
        within_limit=within,
        most_heat_w=most_w,
    )


def _return_words(area_cm2: float | None) -> str:
    if area_cm2 is None:
        return "return path free"
    return "return path blocked" if area_cm2 <= 0.0 else f"return path of {area_cm2:g} cm²"


def _starved(van: Van, stage: StageFlow) -> list[Outlet]:
    """Outlets, fully open, that get much less air than the mean of the others that are."""
    full = {run.name for run in van.ducts if run.open_share >= 1.0}
    opened = [outlet for outlet in stage.outlets if outlet.name in full]
    total, others = sum(outlet.flow_m3_per_h for outlet in opened), len(opened) - 1
    return [
        outlet for outlet in opened if outlet.flow_m3_per_h * others < STARVED_SHARE * (total - outlet.flow_m3_per_h)
    ]


def _warnings(van: Van, stages: tuple[StageFlow, ...]) -> list[str]:
    told = []
    for outlet in _starved(van, stages[-1]):
        told.append(
            f"Outlet {outlet.name} starves: {outlet.flow_m3_per_h:.0f} m³/h of 20 °C at full output, under "
            f"{100.0 * STARVED_SHARE:.0f} % of the other open outlets; shorten its run or throttle others."
        )
    for stage in stages:
        if stage.supply_c is None:
            told.append(f"At {stage.output_w:.0f} W no air moves: the burner's guard stops it.")
        elif stage.supply_c > van.heater.supply_limit_c:
            told.append(
                f"At {stage.output_w:.0f} W the supply air is {stage.supply_c:.0f} °C, over the guard's "
                f"{van.heater.supply_limit_c:g} °C: the burner is throttled or stopped; open outlets or the return."
            )
    for outlet in stages[-1].outlets:
        if outlet.velocity_m_per_s > LOUD_M_PER_S:
            told.append(
                f"Outlet {outlet.name}: {outlet.velocity_m_per_s:.1f} m/s at full output will be heard "
                f"(over {LOUD_M_PER_S:g} m/s); a wider hose or a lower stage at night."
            )
    return told


def _sentences(
    van: Van,
    stages: tuple[StageFlow, ...],
    balancing: tuple[Change, ...],
    path: tuple[Change, ...],
    most_w: float,
    altitude_m: float,
) -> list[str]:
    top = stages[-1]
    shares = ", ".join(
        f"{zone.replace('_', ' ')} {100.0 * share:.0f} %" for zone, share in top.share_by_zone.items() if share > 0.005
    )
    told = [
        f"At {top.output_w:.0f} W, full output at {altitude_m:g} m, {top.flow_m3_per_h:.0f} m³/h of air at 20 °C go "
        f"through the heater and leave it at {_degrees(top.supply_c)}, as {top.warm_m3_per_h:.0f} m³/h; the heat goes "
        f"to {shares}."
    ]
    limit_c = van.heater.supply_limit_c
    within = top.supply_c is not None and top.supply_c <= limit_c
    over = [
        f"with {change.what} (the guard then leaves {least(change.most_heat_w)} W)"
        for change in balancing
        if not change.within_limit
    ]
    if not within:
        told.append(f"That is over the limit of {limit_c:g} °C: the guard on the supply air leaves {least(most_w)} W.")
    elif over:
        told.append(f"Full output would heat the supply air over its limit of {limit_c:g} °C {', or '.join(over)}.")
    closed = [change for change in balancing if change.what.endswith(" closed")]
    if closed:
        worst = max(closed, key=lambda change: -1.0 if change.supply_c is None else change.supply_c)
        told.append(
            f"Closing one outlet costs most with {worst.what}: {worst.flow_m3_per_h:.0f} m³/h of 20 °C left, supply "
            f"{_degrees(worst.supply_c)}."
        )
    hindered = next((change for change in path if not change.within_limit and change.flow_m3_per_h > 0.0), None)
    if within and hindered is not None:
        told.append(
            f"With a {hindered.what} the supply reaches {_degrees(hindered.supply_c)}, over the limit of {limit_c:g} "
            "°C; keep the way back to the heater clear."
        )
    told.append(
        "Fan curve and outlet losses are common practice; measure velocity at an outlet to correct them: the table's "
        "is that of the air as warm as it comes out."
    )
    return told


def _degrees(temp_c: float | None) -> str:
    return "no temperature, for no air moves" if temp_c is None else f"{temp_c:.0f} °C"
