"""What the other answers add to the report of a run."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from budget.cli.report_learned import learned_parts
from budget.report.section import Extras, Section

if TYPE_CHECKING:
    import pandas as pd

    from budget.results.result import Result
    from budget.tour.reader import Loaded
    from budget.van.model import Van

EVENING_H = 22
SHOWN_H = 36
WATER_PARTS = ("pipes", "fresh", "waste")  # the boiler is emptied by its valve


def coldest_evening(result: Result) -> pd.Timestamp:
    """Ten in the evening before the coldest night that people spend on board."""
    hourly = result.hourly
    nights = hourly.index[(hourly.index.hour == EVENING_H) & (hourly.index <= hourly.index[-1] - _hours(10))]
    if not len(nights):
        return hourly.index[0]
    outdoor = hourly["temp_air"] if "temp_air" in hourly else hourly["outdoor_c"]
    return min(nights, key=lambda when: float(outdoor.loc[when : when + _hours(10)].mean()))


def _hours(count: int) -> pd.Timedelta:
    import pandas as pd

    return pd.Timedelta(hours=count)


def outage_part(result: Result) -> tuple[Section, tuple[str, ...]]:
    """The cooling curve from the coldest evening on, and its sentences for the fridge door."""
    from budget.answers import outage
    from budget.report.figures.outage import outage as figure

    found = outage.answer(result, coldest_evening(result))
    night = found.nights[0]
    hours = [hour for hour in night.parts[0].after_h if hour <= SHOWN_H]
    parts = night.parts[:1] + tuple(part for part in night.parts[1:] if part.name in WATER_PARTS)
    shown = {part.name: part.temp_c[: len(hours)] for part in parts}
    return figure(hours, shown, night.outdoor_c), found.sentences[:3]


def screens_part(van: Van) -> Section:
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


def answers_of(result: Result) -> dict[str, Any]:
    """The answers about ducts, heater size and an outage on the coldest evening, for the machine-readable summary."""
    from budget.answers import ducts, heater_size, outage

    return {
        "ducts": ducts.answer(result.van).as_dict(),
        "heater_size": heater_size.answer(result.van).as_dict(),
        "outage": outage.answer(result, coldest_evening(result)).as_dict(),
    }


def odds_parts(loaded: Loaded, result: Result, scenarios: int, seed: int) -> tuple[list[Section], str]:
    """Bottles against confidence and what matters most, with the sentence that says how sure the number is."""
    from budget.answers import odds, sensitivity
    from budget.answers.prepared import Prepared
    from budget.report.figures.confidence import confidence
    from budget.report.figures.sensitivity import sensitivity as bars

    found = odds.answer(Prepared.from_loaded(loaded), scenarios=scenarios, seed=seed)
    sections = [confidence(found.kept.gas_kg.tolist(), found.bottle_kg)]
    if scenarios >= sensitivity.LEAST_SCENARIOS:
        matters = sensitivity.answer(found)
        effects = [(bar.words, "low", bar.at_low, "high", bar.at_high) for bar in matters.gas]
        sections.append(bars(effects, found.gas.p50, "gas", "kg"))
    sentence = (
        f"One in ten tours like this would use more than {found.gas.p90:.0f} kg, one in ten less than "
        f"{found.gas.p10:.0f} kg ({scenarios} winters and vans, seed {seed})."
    )
    return sections, sentence


def parts(loaded: Loaded, result: Result, odds_scenarios: int, seed: int) -> tuple[Extras, list[Section]]:
    """Everything that a run adds to its report."""
    curve, stops = outage_part(result)
    sections = [curve, screens_part(result.van)]
    uncertainty = None
    if odds_scenarios:
        more, uncertainty = odds_parts(loaded, result, odds_scenarios, seed)
        sections = more + sections
    return Extras(uncertainty=uncertainty, heater_stops=stops), [*sections, *learned_parts(loaded)]
