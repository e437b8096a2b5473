"""Measures ranked: what each saves over the tour in gas and amp-hours, per kilogram carried and per money spent."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, fields, replace
from typing import Any

import numpy as np

from budget.answers.fed import POWERED, dies, powered
from budget.answers.mains import LITTLE_KWH, Mains
from budget.answers.prepared import Prepared
from budget.answers.warmth import Warmth, colder_k, gained, held
from budget.engine import arrays as A
from budget.engine.batch import base_factors
from budget.rounding import least
from budget.van.elements import opaque_u_w_per_m2k
from budget.van.model import Van
from budget.wording import listed

SCREEN_R_M2K_PER_W = 0.6  # quilted outside screen with its air gap, common practice 0.4 to 0.9, no source
SCREEN_KG_PER_M2 = 1.2
CURTAIN_R_M2K_PER_W = 0.5  # lined curtain, well closed, common practice 0.2 to 0.6, no source
CURTAIN_KG_PER_M2 = 1.5
FOAM_M = 0.02
FOAM_W_PER_MK = 0.037  # closed-cell foam, EN ISO 10456 gives 0.030 to 0.050
FOAM_KG_PER_M2 = 0.7
SETBACK_K = 2.0
SHOWER_SHARE = 0.6
SOLAR_W = 100.0
SOLAR_KG = 4.0  # flexible to framed 100 W, common practice 2 to 8 kg, no source


@dataclass(frozen=True)
class Measure:
    """One measure: what it saves over the tour, what it weighs and the warmth that is held with it.

    ``saved_ah`` counts use less charging gained; ``brought_ah`` is the charging. ``mains_saved_kwh`` is of all
    hook-ups.
    """

    name: str
    saved_kg: float
    saved_ah: float
    brought_ah: float
    payload_kg: float
    colder_kelvin_hours: float
    warmer_kelvin_hours: float
    lowest_inside_c: float
    lowest_pipes_c: float
    below_setpoint_h: float
    below_setpoint_kelvin_hours: float
    cost: float | None
    saved_kg_per_payload_kg: float | None
    saved_kg_per_cost: float | None
    mains_saved_kwh: float = 0.0


@dataclass(frozen=True)
class Measures:
    """Measures by the warmth they add where the heater falls short, then by gas and mains that they save, most first.

    ``before``: the warmth that is held without any of them.
    ``as_if_powered``: the battery is cut out on the tour, so gas, warmth and Ah are reckoned as if it lasted.
    """

    gas_kg: float
    measures: tuple[Measure, ...]
    before: Warmth
    as_if_powered: bool = False

    def as_dict(self) -> dict[str, Any]:
        """JSON-ready; what was not given a price has none."""
        return {
            "gas_kg": round(self.gas_kg, 3),
            "as_if_powered": self.as_if_powered,
            "before": asdict(self.before),
            "measures": [{k: v for k, v in vars(m).items() if v is not None} for m in self.measures],
        }

    def sentences(self) -> list[str]:
        """In plain words; what is colder for its saving says so."""
        said = [POWERED] if self.as_if_powered else []
        return said + [self._said(measure) for measure in self.measures]

    def _said(self, measure: Measure) -> str:
        """Gas and Ah of one measure; first the warmth, where it holds another."""
        weight = f" for {measure.payload_kg:.1f} kg carried" if measure.payload_kg > 0.0 else ""
        now, told = warmth_of(measure), _energy(measure, burns=self.gas_kg > 0.0)
        if other := gained(now, self.before, measure.warmer_kelvin_hours, measure.colder_kelvin_hours):
            pipes = f"lowest at the pipes {least(now.lowest_pipes_c, 1)} instead of "
            pipes += f"{least(self.before.lowest_pipes_c, 1)} °C"
            warmth = f"{'more' if other > 0 else 'less'} warmth is held, {held(now, self.before)}, {pipes}"
            told = told.replace("saves no gas, takes", "takes as much gas and")
            told = told.replace("saves no gas and", "takes as much gas and saves")
            told = told.replace("saves nothing", "takes as much").replace("saves no", "takes as much")
            return f"{measure.name}: {warmth}; this {told}{weight}."
        colder = (
            f", and is colder for it by {measure.colder_kelvin_hours:.0f} K h while somebody is in"
            if measure.colder_kelvin_hours - measure.warmer_kelvin_hours > 2.0
            else ""
        )
        return f"{measure.name}: {told}{weight}{colder}."


def warmth_of(measure: Measure) -> Warmth:
    """The warmth that is held with a measure."""
    return Warmth(**{field.name: getattr(measure, field.name) for field in fields(Warmth)})


def _energy(measure: Measure, *, burns: bool) -> str:
    """ "saves 1.3 kg of gas and 4 Ah", "saves no gas, takes 19 Ah more", "saves 12 kWh of the mains": none burns."""
    ah = round(measure.saved_ah)
    brings = ah > 0 and measure.brought_ah > 0.5 * measure.saved_ah
    saved: list[str] = []
    taken: list[str] = []
    if abs(measure.saved_kg) >= 0.05:
        (saved if measure.saved_kg > 0.0 else taken).append(f"{abs(measure.saved_kg):.1f} kg of gas")
    elif burns:
        saved.append("no gas")
    if abs(measure.mains_saved_kwh) >= LITTLE_KWH:
        kwh = f"{abs(measure.mains_saved_kwh):.0f} kWh of the mains"
        (saved if measure.mains_saved_kwh > 0.0 else taken).append(kwh)
    if ah and not brings:
        (saved if ah > 0 else taken).append(f"{abs(ah)} Ah")
    told = [f"saves {listed(saved)}"] if saved else []
    told += [f"takes {listed(taken)} more"] if taken else []
    return ", ".join(told + [f"brings {ah} Ah"] * brings) or "saves nothing"


def answer(prepared: Prepared, costs: Mapping[str, float] | None = None) -> Measures:
    """Run each measure alone on the tour's own weather; ``costs`` by the name of a measure, where money matters.

    Bottles are changed at once where they run out, so that what is compared is the need.
    """
    base = prepared.with_gas_everywhere()
    as_if_powered = dies(prepared)
    before = powered(base).run() if as_if_powered else base.run()
    gas_kg, before_ah = float(base.gas_kg(before)[0]), _ah(base, before, as_if_powered)
    held_before, mains_kwh, found = Warmth.of(base, before), Mains.of(base, before).kwh, []
    for name, make in MEASURES.items():
        made = make(base)
        if made is None:
            continue
        ready, factors, payload_kg = made
        after = powered(ready).run(factors) if as_if_powered else ready.run(factors)
        saved_kg = gas_kg - float(ready.gas_kg(after)[0])
        inside, was_c, now_c = base.timeline.inside, before.trace[0, :, 2], after.trace[0, :, 2]
        (used_ah, brought_ah), warmth = _ah(ready, after, as_if_powered), Warmth.of(ready, after)
        cost = (costs or {}).get(name)
        found.append(
            Measure(
                name=name,
                saved_kg=round(saved_kg, 3),
                saved_ah=round(before_ah[0] - used_ah + brought_ah - before_ah[1], 2),
                brought_ah=round(brought_ah - before_ah[1], 2),
                payload_kg=round(payload_kg, 2),
                colder_kelvin_hours=round(float(colder_k(was_c, now_c)[inside].sum()), 1),
                warmer_kelvin_hours=round(float(colder_k(now_c, was_c)[inside].sum()), 1),
                **asdict(warmth),
                cost=cost,
                saved_kg_per_payload_kg=round(saved_kg / payload_kg, 4) if payload_kg > 0.0 else None,
                saved_kg_per_cost=round(saved_kg / cost, 5) if cost else None,
                mains_saved_kwh=round(mains_kwh - Mains.of(ready, after).kwh, 3),
            )
        )

    def rank(measure: Measure) -> tuple[float, float, float]:
        other = gained(warmth_of(measure), held_before, measure.warmer_kelvin_hours, measure.colder_kelvin_hours)
        better = held_before.below_setpoint_kelvin_hours - measure.below_setpoint_kelvin_hours
        return (better if other else 0.0, measure.saved_kg, measure.mains_saved_kwh)

    return Measures(gas_kg, tuple(sorted(found, key=rank, reverse=True)), held_before, as_if_powered)


Made = tuple[Prepared, np.ndarray, float] | None


def _ah(prepared: Prepared, many: Any, as_if_powered: bool) -> tuple[float, float]:
    """Ah used by all loads, and what the sun gave; all it offered where the battery, which dies, could take it."""
    loads = prepared.built.flows.solar_ah - prepared.built.flows.load_ah
    solar = prepared.flow(many, "solar_ah")[0]
    if as_if_powered:
        solar += prepared.flow(many, "solar_spilled_ah")[0]
    return float(prepared.flow(many, "load_ah", loads)[0]), float(solar)


def _with(base: Prepared, van: Van) -> Prepared:
    return base.with_van(van).with_gas_everywhere()


def _screens(base: Prepared) -> Made:
    """Outside screens on every window that has poorer ones or none."""
    area_m2, zones = 0.0, []
    for zone in base.van.cabin.zones:
        panes = []
        for pane in zone.glazing:
            screened = 1.0 / (1.0 / pane.u_w_per_m2k + SCREEN_R_M2K_PER_W)
            now = pane.u_screened_w_per_m2k or pane.u_w_per_m2k
            if screened < now - 0.02:
                area_m2 += pane.area_m2
                panes.append(pane.model_copy(update={"u_screened_w_per_m2k": screened}))
            else:
                panes.append(pane)
        zones.append(zone.model_copy(update={"glazing": tuple(panes)}))
    if area_m2 <= 0.0:
        return None
    van = base.van.model_copy(update={"cabin": base.van.cabin.model_copy(update={"zones": tuple(zones)})})
    return _with(base, van), base_factors(), area_m2 * SCREEN_KG_PER_M2


def _curtain(base: Prepared) -> Made:
    """A thicker curtain before the cab, closed when the tour closes it."""
    area_m2, openings = 0.0, []
    for opening in base.van.cabin.openings:
        area = opening.width_m * opening.height_m
        if "cab" in opening.between and area > 0.0 and opening.closed_w_per_k > 0.0:
            area_m2 += area
            better = 1.0 / (1.0 / opening.closed_w_per_k + CURTAIN_R_M2K_PER_W / area)
            changed = {"closed_w_per_k": better, "closed_m3_per_h": 0.5 * opening.closed_m3_per_h}
            openings.append(opening.model_copy(update=changed))
        else:
            openings.append(opening)
    if area_m2 <= 0.0:
        return None
    van = base.van.model_copy(update={"cabin": base.van.cabin.model_copy(update={"openings": tuple(openings)})})
    return _with(base, van), base_factors(), area_m2 * CURTAIN_KG_PER_M2


def _walls(base: Prepared) -> Made:
    """20 mm more foam on walls and roof of the living area."""
    area_m2, zones = 0.0, []
    for z, zone in enumerate(base.van.cabin.zones):
        parts = []
        for part in zone.opaque:
            if z == base.built.living and part.faces != "floor":
                area_m2 += part.area_m2
                u = 1.0 / (1.0 / opaque_u_w_per_m2k(part) + FOAM_M / FOAM_W_PER_MK)
                parts.append(part.model_copy(update={"u_w_per_m2k": u, "layers": (), "ribs_factor": 1.0}))
            else:
                parts.append(part)
        zones.append(zone.model_copy(update={"opaque": tuple(parts)}))
    if area_m2 <= 0.0:
        return None
    van = base.van.model_copy(update={"cabin": base.van.cabin.model_copy(update={"zones": tuple(zones)})})
    return _with(base, van), base_factors(), area_m2 * FOAM_KG_PER_M2


def _setback(base: Prepared) -> Made:
    """2 K lower whenever somebody sleeps."""
    asleep = np.repeat(base.timeline.asleep > 0.0, 4)
    set_c = np.asarray(base.hours["set_c"], dtype=float).reshape(-1)
    return replace(base, hours=base.with_setpoints(np.where(asleep, set_c - SETBACK_K, set_c))), base_factors(), 0.0


def _showers(base: Prepared) -> Made:
    """Showers and dishes with two fifths less water."""
    if not len(base.wishes):
        return None
    factors = base_factors()
    factors[:, A.HOT_WATER] = SHOWER_SHARE
    return base, factors, 0.0


def _solar(base: Prepared) -> Made:
    """100 W more solar."""
    solar = base.van.power.solar
    more = solar.model_copy(update={"peak_w": solar.peak_w + SOLAR_W})
    power = base.van.power.model_copy(update={"solar": more})
    return _with(base, base.van.model_copy(update={"power": power})), base_factors(), SOLAR_KG


MEASURES: dict[str, Callable[[Prepared], Made]] = {
    "outside screens": _screens,
    "thicker cab curtain": _curtain,
    "20 mm more foam": _walls,
    "2 K lower at night": _setback,
    "shorter showers": _showers,
    "100 W more solar": _solar,
}
