"""What the other answers add to the report of a run."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from budget.cli.report_learned import learned_parts
from budget.moments import later, part_of_day
from budget.report.section import Extras, Section
from budget.results.need import AS_IT_STANDS, WITH_POWER
from budget.wording import kilograms, kilowatt_hours, whole_percent

if TYPE_CHECKING:
    from budget.answers.battery import Battery
    from budget.answers.odds import Odds
    from budget.answers.outage import Outage
    from budget.answers.sensitivity import Bar, Sensitivity
    from budget.answers.tonight import Tonight
    from budget.answers.what_if import WhatIf
    from budget.cli.further import Further
    from budget.results.result import Result
    from budget.van.model import Van

SHOWN_H = 36
SHOWN_PARTS = {"pipes": "water pipes", "fresh": "fresh tank", "waste": "waste tank"}  # a valve empties the boiler
LEAST_SHARE = 0.01  # of the spread of gas; what explains less alone is drowned by chance
MOST_ASSUMPTIONS = 3
LATE = dt.timedelta(hours=5)  # from the hour that tonight begins to the night that it is of


def parts(further: Further) -> tuple[Extras, list[Section]]:
    """Everything that a run adds to its report; what needs odds only where they were drawn."""
    result, odds, matters = further.result, further.odds, further.matters
    sections = [_outage(further.outage), _screens(result.van), _charge(result, further.battery), _cost(result)]
    if further.nights:
        from budget.report.figures.schedule_panels import schedule_panels

        sections.append(schedule_panels(further.nights))
    if further.what_if is not None:
        sections.append(_sliders(further.what_if))
    if odds is not None:
        sections += _odds(result, odds)
    if odds is not None and matters is not None:
        sections.append(_matters(matters, float(odds.kept.need_kg.mean())))
    return _extras(further), [*sections, *learned_parts(further.loaded, further.prepared)]


def _extras(further: Further) -> Extras:
    from budget.answers.outage_words import at_hand
    from budget.report.headline_odds import with_odds

    odds, matters, tonight = further.odds, further.matters, further.tonight
    stops = at_hand(further.outage)
    if odds is None:
        return Extras(heater_stops=stops)
    power = f" {WITH_POWER}" if odds.cut_out_share > 0.0 else ""
    supplies = tuple(further.hookup.sentences[: len(further.hookup.supplies)])
    return Extras(
        headline=with_odds(further.result, odds),
        uncertainty=(
            f"One in ten tours like this would use more than {kilograms(odds.gas.p90)}{power}, one in ten less than "
            f"{kilograms(odds.gas.p10)} ({odds.scenarios:,} winters and vans, seed {odds.seed})."
        ),
        tonight=() if tonight is None else _tonight(tonight),
        heater_stops=stops,
        on_hookup=supplies,
        assumptions=()
        if matters is None
        else tuple(_assumed(bar) for bar in matters.gas[:MOST_ASSUMPTIONS] if not bar.by_chance),
        measurement=None if matters is None else _measurement(matters),
    )


def _outage(found: Outage) -> Section:
    """The cooling curve from the coldest evening on."""
    from budget.answers.outage_words import after, milestones
    from budget.report.figures.outage import outage
    from budget.report.words import named
    from budget.wording import listed

    night = found.nights[0]
    hours = [hour for hour in night.parts[0].after_h if hour <= SHOWN_H]
    names = {night.parts[0].name: night.parts[0].name.removesuffix("_air")} | SHOWN_PARTS
    shown = {names[part.name]: part.temp_c[: len(hours)] for part in night.parts if part.name in names}
    zone = names[night.parts[0].name]
    until = {part.name: part.hours_until["0_c"] for part in night.parts}
    frost = [f"the {names[name]} {after(until[name])}" for name in night.drain_order
             if name in names and until[name] is not None]  # fmt: skip
    told = f"the {named(zone)} {milestones(night.parts[0])}"
    if frost:
        told += f"; 0 °C come to {listed(frost)}"
    return outage(hours, shown, night.outdoor_c, told)


def _screens(van: Van) -> Section:
    """Loss of windows and of the rest of each zone, with screens down and up."""
    from budget.report.figures.screens import screens
    from budget.van.elements import glazing_w_per_k, opaque_w_per_k

    bars = []
    for zone in van.cabin.zones:
        label = zone.name.replace("_", " ")
        opaque = sum(opaque_w_per_k(part) for part in zone.opaque)
        if opaque > 0.0:
            bars.append((f"{label}: walls, roof, floor", opaque, opaque))
        if zone.glazing:
            down, up = (sum(glazing_w_per_k(pane, share) for pane in zone.glazing) for share in (0.0, 1.0))
            bars.append((f"{label}: glass", down, up))
    return screens(bars)


def _cost(result: Result) -> Section:
    """What was bought, by fuel and week; a price that is not given is not assumed."""
    from budget.answers import money
    from budget.report.section import Table

    found = money.answer(result)
    rows = tuple(
        (f"{week.start.day} {week.start:%b}", *(f"{value:.1f}" for value in (week.gas_used_kg, week.gas_bought_kg)),
         _paid(week.gas_cost, week.unpriced_gas_kg), f"{week.mains_kwh:.1f}",
         _paid(week.mains_cost, week.unpriced_mains_kwh))
        for week in found.weeks
    )  # fmt: skip
    columns = ("week from", "gas burned [kg]", "gas bought [kg]", "gas cost", "hook-up [kWh]", "hook-up cost")
    table = Table(columns, rows, "By week, in the money of the prices given.")
    return Section("What does it cost?", found.sentences[0], table=table, text=found.sentences[1:])


def _paid(cost: float, unpriced: float) -> str:
    """What was paid; a dash where something was bought and nothing of it has a price."""
    return "–" if cost == 0.0 and unpriced > 0.0 else f"{cost:.2f}"


def _charge(result: Result, found: Battery) -> Section:
    """Evenings off the grid: how long the charge lasts with no sun, and the drive that reaches tomorrow."""
    from budget.report.figures.charge_lasts import charge_lasts
    from budget.report.scene import Scene

    return charge_lasts(Scene.of(result.timeline), found.stands)


def _sliders(found: WhatIf) -> Section:
    """Setpoint by night and insulation, with what they lead to."""
    import numpy as np

    from budget.report.figures.slider_grid import slider_grid

    usual_c = found.night_c[found.shift_k.index(0.0)]
    nights = [
        f"as planned, {night:g}\u00a0°C" if shift == 0.0 else f"{abs(shift):g} K {'lower' if shift < 0.0 else 'higher'}"
        for shift, night in zip(found.shift_k, found.night_c, strict=True)
    ]
    walls = [
        "as described"
        if factor == 1.0
        else f"{whole_percent(abs(factor - 1.0))} {'less' if factor < 1.0 else 'more'} loss"
        for factor in found.loss_factor
    ]
    middle = found.shift_k.index(0.0), found.loss_factor.index(1.0)
    cut_out = bool((found.cut_out_h > 0.0).any())
    power, stands = (f" {WITH_POWER}", f", {AS_IT_STANDS}") if cut_out else ("", "")
    lower, leaky = (0, middle[1]), (middle[0], len(found.loss_factor) - 1)
    burns = bool((found.gas_kg > 0.0).any()) or not found.mains_kwh.any()

    def used(at: tuple[int, int]) -> str:
        return kilograms(found.gas_kg[at]) if burns else f"{kilowatt_hours(found.mains_kwh[at])} of the mains"

    return slider_grid(
        (
            ("setpoint while you sleep", "°C", tuple(usual_c + shift for shift in found.shift_k)),
            ("walls, roof and floor", "of the loss described", found.loss_factor),
        ),
        {
            **({f"gas for the tour{power}, bottles always at hand": ("kg", 1, found.gas_kg)} if burns else {}),
            **({f"from the mains{stands}": ("kWh", 0, found.mains_kwh)} if found.mains_kwh.any() else {}),
            f"coldest hour inside{stands}": ("°C", 0, np.floor(found.lowest_inside_c + 1e-6)),
            f"coldest at the pipes{stands}": ("°C", 0, np.floor(found.lowest_pipes_c + 1e-6)),
            f"lowest charge{stands}, rounded down": ("%", 0, np.floor(100.0 * found.lowest_charge_share + 1e-6)),
        },
        middle,
        {"setpoint while you sleep": nights, "walls, roof and floor": walls},
        f"{-found.shift_k[0]:g} K lower while you sleep: {used(lower)} instead of {used(middle)}"
        f"{power if burns else stands}; the leakiest shell: {used(leaky)}.",
        _assumed_supplies(found),
    )


def _assumed_supplies(found: WhatIf) -> list[str]:
    """What the sliders take for granted of shell, gas and charge."""
    said = [
        "The leakiest shell is the end of its range that loses most.",
        "Reckoned as if gas never ended: every bottle is changed as soon as it is nearly empty, wherever that is; "
        "whether your bottles and swaps are enough is said above.",
    ]
    if (found.cut_out_h > 0.0).any():
        said.append(
            "The charge is your own: where the battery is cut out, temperatures and charge are as it stands, without "
            "heat from then on; the gas is what it takes with power, that is with a battery that lasts."
        )
    return said


def _odds(result: Result, odds: Odds) -> list[Section]:
    """Bottles against confidence, and the gas left as bands that widen."""
    import pandas as pd

    from budget.answers.what_to_take import planned_swaps
    from budget.report.figures.confidence import confidence
    from budget.report.figures.gas_bands import gas_bands
    from budget.report.scene import Scene

    power = f" {WITH_POWER}" if odds.cut_out_share > 0.0 else ""
    low, middle, high = odds.band_left_kg
    swaps = [(pd.Timestamp(swap.time), swap.place) for swap in planned_swaps(result)]
    return [
        confidence(odds.kept.need_kg.tolist(), odds.bottle_kg, power=power),
        gas_bands(
            Scene.of(result.timeline),
            pd.DatetimeIndex(odds.band_times),
            low,
            middle,
            high,
            swaps,
            out_from=odds.run_out_one_in_ten,
            power=power,
        ),
    ]


def _matters(matters: Sensitivity, mean_kg: float) -> Section:
    from budget.report.figures.sensitivity import sensitivity

    telling = [bar for bar in matters.gas if bar.share >= LEAST_SHARE and not bar.by_chance] or matters.gas[:1]
    effects = [(bar.words, bar.ends[0], bar.at_low, bar.ends[1], bar.at_high) for bar in telling]
    return sensitivity(effects, mean_kg, "gas", "kg", _measurement(matters))


def _assumed(bar: Bar) -> str:
    low, high = bar.ends
    said = f"{bar.words[0].upper()}{bar.words[1:]}"
    return f"{said}: {kilograms(bar.at_low)} where {low}, {kilograms(bar.at_high)} where {high}."


def _measurement(matters: Sensitivity) -> str | None:
    """What would narrow the band most, None where nothing does by a twentieth."""
    best = matters.worth[0] if matters.worth else None
    if best is None or best.narrower_share < 0.05:
        return None
    return f"{best.what} narrows the band of gas from {kilograms(best.band_now)} to {kilograms(best.band_then)}."


def _tonight(found: Tonight) -> tuple[str, ...]:
    from budget.answers.tonight_words import in_short

    where = f"Reckoned for the coldest night off the grid: {part_of_day(later(found.start, LATE))}, {found.place}."
    return (where, *in_short(found))
