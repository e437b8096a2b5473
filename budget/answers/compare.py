"""Schedules, or any variants of a tour, side by side on the same weather: what each saves, and what that costs."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from budget.answers.compare_words import as_it_stands, saving
from budget.answers.fed import POWERED, powered
from budget.answers.mains import Mains
from budget.answers.prepared import Prepared
from budget.answers.warmth import COMFORT_BAND_K, Warmth, colder_k
from budget.engine.batch import Many
from budget.engine.state import ICE_PIPES
from budget.errors import InputFault
from budget.moments import short
from budget.results.need import BATTERY, short_of_what
from budget.rounding import rounded_as
from budget.weather.air import Floats

NIGHT_LOWER_K = 4.0
AWAY_C = 12.0
MORNING_H = (4, 11)


@dataclass(frozen=True)
class Variant:
    """What one variant came to over the tour; kelvin-hours colder and warmer are against the first, people inside.

    Minutes to comfort are of the ``mornings`` on which it is reached; on ``mornings_never_warm`` of them it is not.
    ``mains_kwh`` is what the hook-ups gave, ``mains_cost`` None where not all of it has a price.
    ``pipes_ice_kg`` is the most ice in the pipes, ``dumped_l`` what the frost drain valve let go. Lowest charge, hours
    cut out and the local time from which are the variant's as it stands.
    """

    name: str
    gas_kg: float
    bottles: int
    burner_hours_h: float
    starts: int
    fan_ah: float
    lowest_charge_share: float
    below_setpoint_h: float
    below_setpoint_kelvin_hours: float
    lowest_inside_c: float
    lowest_pipes_c: float
    wet_g: float
    minutes_to_comfort_min: float | None
    slowest_morning_min: float | None
    mornings: int
    mornings_never_warm: int
    peak_kg_per_h: float
    saved_kg: float
    colder_awake_kelvin_hours: float
    colder_asleep_kelvin_hours: float
    warmer_kelvin_hours: float
    unserved_kg: float
    pipes_ice_kg: float
    pipes_ice_h: float
    dumped_l: float
    cut_out_h: float
    cut_out_from: dt.datetime | None
    mains_kwh: float = 0.0
    mains_saved_kwh: float = 0.0
    mains_cost: float | None = None


@dataclass(frozen=True)
class Comparison:
    """Variants in the order given; savings are against the first.

    ``as_if_powered``: in some variant the battery is cut out, so every one is reckoned as if it lasted, but for lowest
    charge, hours cut out and since when.
    """

    title: str
    variants: tuple[Variant, ...]
    as_if_powered: bool = False

    def as_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {
            "tour": self.title,
            "against": self.variants[0].name,
            "as_if_powered": self.as_if_powered,
            "variants": [asdict(v) for v in self.variants],
        }

    def sentences(self) -> list[str]:
        """What each variant saves against the first, and what it costs, in plain words."""
        told = [POWERED] if self.as_if_powered else []
        stepped = [variant for variant in self.variants if variant.mornings]
        if stepped and all(variant.mornings_never_warm == variant.mornings for variant in stepped):
            told.append("The warmth asked for in the morning is reached on no morning of any variant.")
        told += [saving(variant, self.variants[0]) for variant in self.variants[1:]]
        return told + [as_it_stands(variant) for variant in self.variants if self.as_if_powered]

    def rows(self) -> list[tuple[str, ...]]:
        """A table: one row a figure, its name and one cell a variant."""
        shown: list[tuple[str, ...]] = []
        for field, words, digits in FIGURES:
            values = [getattr(variant, field) for variant in self.variants]
            if field.startswith("mains_") and (None in values or not any(each.mains_kwh for each in self.variants)):
                continue
            scale = 100.0 if field.endswith("_share") else 1.0
            cells = zip(self.variants, values, strict=True)
            told = (_none(v) if cell is None else _cell(field, scale * cell, digits) for v, cell in cells)
            shown.append((words, *told))
        since = (variant.cut_out_from for variant in self.variants)
        return [*shown, ("as it stands, first cut out", *("–" if at is None else short(at) for at in since))]


FIGURES = (
    ("gas_kg", "gas [kg]", 1),
    ("bottles", "full bottles", 0),
    ("saved_kg", "saved against the first [kg]", 1),
    ("mains_kwh", "mains [kWh]", 1),
    ("mains_saved_kwh", "mains saved against the first [kWh]", 1),
    ("mains_cost", "mains, cost", 2),
    ("colder_awake_kelvin_hours", "colder while awake [K h]", 0),
    ("colder_asleep_kelvin_hours", "colder while asleep [K h]", 0),
    ("warmer_kelvin_hours", "warmer [K h]", 0),
    ("below_setpoint_h", "below setpoint, people in [h]", 0),
    ("below_setpoint_kelvin_hours", "below setpoint, people in [K h]", 0),
    ("minutes_to_comfort_min", "to comfort in the morning [min]", 0),
    ("slowest_morning_min", "slowest morning [min]", 0),
    ("mornings_never_warm", "mornings that never get there", 0),
    ("lowest_inside_c", "lowest inside [°C]", 1),
    ("lowest_pipes_c", "lowest at the pipes [°C]", 1),
    ("pipes_ice_kg", "most ice in the pipes [kg]", 1),
    ("pipes_ice_h", "hours with ice in them [h]", 0),
    ("dumped_l", "let go by the frost drain valve [L]", 0),
    ("wet_g", "most water on surfaces [g]", 0),
    ("burner_hours_h", "burner hours [h]", 0),
    ("starts", "starts", 0),
    ("fan_ah", "heater's fan [Ah]", 0),
    ("peak_kg_per_h", "peak [kg/h]", 2),
    ("lowest_charge_share", "as it stands, lowest charge [%]", 0),
    ("cut_out_h", "as it stands, cut out [h]", 0),
)


def _none(variant: Variant) -> str:
    """A cell of minutes to comfort where there are none."""
    return "never" if variant.mornings_never_warm else "–"


def _cell(field: str, value: float, digits: int) -> str:
    return f"{rounded_as(field, value, 10.0**-digits):.{digits}f}"


def answer(variants: Mapping[str, Prepared]) -> Comparison:
    """Run named variants of one tour and set them side by side; the first is what savings are counted against.

    Bottles are changed at once where they run out, so that what is compared is the need. InputFault for fewer than two
    variants, or for variants that do not cover the same hours.
    """
    if len(variants) < 2:
        raise InputFault("a comparison needs at least two variants; name another schedule or another --with.")
    first = next(iter(variants.values()))
    for name, prepared in variants.items():
        if prepared.hours_count != first.hours_count:
            raise InputFault(
                f"'{name}' must cover the same hours as the first variant, {first.hours_count}, "
                f"got {prepared.hours_count}; leave the tour's dates as they are."
            )
    found: list[Variant] = []
    base_c = np.zeros(0)
    everywhere = {name: prepared.with_gas_everywhere() for name, prepared in variants.items()}
    stands = {name: ready.run() for name, ready in everywhere.items()}
    as_if_powered = any(BATTERY in short_of_what(ready.built, stands[name]) for name, ready in everywhere.items())
    for name, standing in everywhere.items():
        ready = powered(standing) if as_if_powered else standing
        many = ready.run() if as_if_powered else stands[name]
        inside_c = _inside_c(many)
        if not found:
            base_c = inside_c
        found.append(_variant(name, ready, many, stands[name], base_c, found[0] if found else None))
    return Comparison(first.tour.title, tuple(found), as_if_powered)


def of_schedules(prepared: Prepared, names: Sequence[str]) -> dict[str, Prepared]:
    """One variant for each named schedule of the tour, used at every stop."""
    found = {}
    for name in names:
        if name not in prepared.tour.schedules:
            known = ", ".join(prepared.tour.schedules)
            raise InputFault(f"--schedule must be one of {known}, got '{name}'; name a schedule of the tour file.")
        stops = tuple(stop.model_copy(update={"schedule": None}) for stop in prepared.tour.stops)
        found[name] = prepared.with_tour(prepared.tour.model_copy(update={"schedule": name, "stops": stops}))
    return found


def of_overrides(
    path: Path | str | None,
    named: Mapping[str, Sequence[str]],
    common: Sequence[str] = (),
    weather_file: Path | None = None,
) -> dict[str, Prepared]:
    """One variant for each named list of NAME=VALUE overrides of a tour file, on top of the common ones."""
    from budget.answers.prepared import load_prepared

    return {
        name: load_prepared(path, (*common, *overrides), weather_file=weather_file) for name, overrides in named.items()
    }


def usual(prepared: Prepared) -> dict[str, Prepared]:
    """Plain schedules at the tour's own daytime temperature, and the tour as planned.

    Constant; as planned; 4 K lower while somebody sleeps; off meanwhile; constant but 12 °C while nobody is in, where
    the tour has such hours.
    """
    timeline = prepared.timeline
    planned = np.asarray(timeline.setpoint_c, dtype=float)
    asleep = np.repeat(timeline.asleep > 0.0, 4)
    awake = np.repeat(timeline.awake > 0.0, 4) & ~asleep & np.isfinite(planned)
    day_c = float(np.median(planned[awake])) if awake.any() else 19.0
    nobody = np.repeat((timeline.people_w <= 0.0) & (timeline.moving == 0), 4)
    constant = np.full(len(planned), day_c)
    named = {
        f"{day_c - NIGHT_LOWER_K:g} °C at night": np.where(asleep, day_c - NIGHT_LOWER_K, constant),
        "off at night": np.where(asleep, np.nan, constant),
    }
    if nobody.any():
        named[f"{AWAY_C:g} °C while away"] = np.where(nobody, AWAY_C, constant)
    found = {
        f"constant {day_c:g} °C": replace(prepared, hours=prepared.with_setpoints(constant)),
        "as planned": prepared,
    }
    return found | {name: replace(prepared, hours=prepared.with_setpoints(set_c)) for name, set_c in named.items()}


def _inside_c(many: Many) -> Floats:
    """Temperature at the heater's sensor at hour edges. [°C]"""
    inside: Floats = many.trace[0, :, 2]
    return inside


def _variant(name: str, prepared: Prepared, many: Many, stands: Many, base_c: Floats, base: Variant | None) -> Variant:
    built, timeline, inside_c = prepared.built, prepared.timeline, _inside_c(many)
    if many.stocks is None or many.flows is None or stands.flows is None:
        raise AssertionError("a single run keeps every column")
    bottles = built.size.bottles
    at, stocks = built.flows, built.stocks
    hourly_kg = many.flows[:, at.gas_out_kg : at.gas_out_kg + bottles].sum(axis=1)
    hourly_kg = hourly_kg + many.flows[:, at.gas_out_butane_kg : at.gas_out_butane_kg + bottles].sum(axis=1)
    gas_kg = float(hourly_kg.sum())
    wet = many.stocks[:, stocks.condensed_kg : stocks.condensed_kg + built.size.surfaces].sum(axis=1)
    ice_kg = many.stocks[1:, stocks.ice_kg + ICE_PIPES]
    cut_s = stands.flows[:, at.cut_out_s]
    here = timeline.inside
    asleep = timeline.asleep / np.maximum(timeline.asleep + timeline.awake, 1e-9)
    colder = colder_k(base_c, inside_c) * here
    warmer = colder_k(inside_c, base_c) * here
    mornings = minutes_to_comfort(prepared, inside_c)
    warm_min = [minutes for minutes in mornings if math.isfinite(minutes)]
    warmth, mains = Warmth.of(prepared, many), Mains.of(prepared, many)
    return Variant(
        name=name,
        gas_kg=round(gas_kg, 3),
        bottles=math.ceil(gas_kg / float(prepared.net_kg()[0]) - 1e-9),
        burner_hours_h=round(float(prepared.flow(many, "flame_s")[0]) / 3600.0, 2),
        starts=round(float(prepared.flow(many, "starts")[0])),
        fan_ah=round(float(prepared.flow(many, "load_ah")[0]), 2),
        lowest_charge_share=round(float(stands.trace[0, :, 1].min()), 4),
        below_setpoint_h=warmth.below_setpoint_h,
        below_setpoint_kelvin_hours=warmth.below_setpoint_kelvin_hours,
        lowest_inside_c=warmth.lowest_inside_c,
        lowest_pipes_c=warmth.lowest_pipes_c,
        wet_g=round(1000.0 * float(wet.max()), 1),
        minutes_to_comfort_min=round(float(np.mean(warm_min)), 1) if warm_min else None,
        slowest_morning_min=round(float(np.max(warm_min)), 1) if warm_min else None,
        mornings=len(mornings),
        mornings_never_warm=len(mornings) - len(warm_min),
        peak_kg_per_h=round(float(hourly_kg.max()), 4),
        saved_kg=0.0 if base is None else round(base.gas_kg - gas_kg, 3),
        colder_awake_kelvin_hours=round(float((colder * (1.0 - asleep)).sum()), 2),
        colder_asleep_kelvin_hours=round(float((colder * asleep).sum()), 2),
        warmer_kelvin_hours=round(float(warmer.sum()), 2),
        unserved_kg=round(float(prepared.flow(many, "unserved_heating_kg")[0]), 3),
        pipes_ice_kg=round(float(ice_kg.max()), 3),
        pipes_ice_h=float(np.count_nonzero(ice_kg > 0.0)),
        dumped_l=round(float(prepared.flow(many, "dumped_l")[0]), 1),
        cut_out_h=round(float(cut_s.sum()) / 3600.0, 2),
        cut_out_from=timeline.index[int(np.argmax(cut_s > 0.0))].to_pydatetime() if cut_s.any() else None,
        mains_kwh=mains.kwh,
        mains_saved_kwh=0.0 if base is None else round(base.mains_kwh - mains.kwh, 3),
        mains_cost=mains.cost,
    )


def minutes_to_comfort(prepared: Prepared, inside_c: Floats) -> list[float]:
    """From each morning's step up of the setpoint until the room is within 0.5 K of it. [min]

    Endless where it never is. Between hour edges the temperature is taken as a straight line; a warm-up is steeper at
    first, so that the minutes are rather too many than too few. A morning that asks for still more before it is warm
    is counted from its next step; one that asks for less by then was never warm.
    """
    set_c = np.nan_to_num(np.asarray(prepared.hours["set_c"], dtype=float).reshape(-1), nan=-99.0)
    hour = prepared.timeline.index.hour.to_numpy().repeat(4)
    quarter_c = np.interp(np.arange(len(set_c) + 1) / 4.0, np.arange(len(inside_c)), inside_c)
    before = np.concatenate([set_c[:1], set_c[:-1]])
    steps = np.flatnonzero((set_c > before + 0.1) & (hour >= MORNING_H[0]))
    found = []
    for step in steps[hour[steps] < MORNING_H[1]]:
        following = np.flatnonzero(set_c[step:] != set_c[step])
        last = step + int(following[0]) if following.size else len(set_c)
        warm = np.flatnonzero(quarter_c[step : last + 1] >= set_c[step] - COMFORT_BAND_K)
        if warm.size:
            found.append(15.0 * float(warm[0]))
        elif last == len(set_c) or set_c[last] < set_c[step] or hour[last] >= MORNING_H[1]:
            found.append(math.inf)
    return found
