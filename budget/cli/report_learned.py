"""What a log and a logbook add to the report of a run: learned bands, and the forecast after each weighing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from budget.report.section import Section

if TYPE_CHECKING:
    from budget.answers.prepared import Prepared
    from budget.report.figures.before_after import Three
    from budget.tour.reader import Loaded

SCENARIOS = 200  # to begin with; more are drawn near the readings
WORDS = {
    "loss_factor": "loss through walls, roof, floor",
    "glazing_factor": "loss through windows and screens",
    "leakage_factor": "draughts",
    "capacity_factor": "heat capacity",
    "efficiency_factor": "heater's efficiency",
}


def learned_parts(loaded: Loaded, prepared: Prepared) -> list[Section]:
    """A section for what was learned, and one for the logbook beside the tour file, where there are such."""
    return [*_learned(loaded), *_weighed(loaded, prepared)]


def _learned(loaded: Loaded) -> list[Section]:
    from budget.report.figures.before_after import learned_bands
    from budget.van.ranges import ranges

    learned = loaded.tour.learned
    if learned is None:
        return []
    presets = ranges(loaded.description or loaded.as_described)
    rows: list[tuple[str, Three, Three]] = []
    if learned.preset_loss_w_per_k is not None:
        middle = learned.preset_loss_w_per_k[1]
        before, now = (_over(three, middle) for three in (learned.preset_loss_w_per_k, learned.loss_w_per_k))
        rows.append((f"heat loss (1 is {middle:.0f} W/K)", before, now))
    for name, three in learned.factors.given.items():
        known = presets[name]
        rows.append((WORDS[name], (known.low, known.base, known.high), three))
    return [learned_bands(rows, learned.sentence)]


def _over(three: Three, middle: float) -> Three:
    return three[0] / middle, three[1] / middle, three[2] / middle


def _weighed(loaded: Loaded, prepared: Prepared) -> list[Section]:
    import pandas as pd

    from budget.answers.measured.logbook import logbook_file, read_logbook

    entries = read_logbook(logbook_file(loaded.sources[0]), prepared.timeline)
    if not entries:
        return []
    from budget.answers.measured.weigh import answer
    from budget.report.figures.before_after import forecasts

    found = answer(prepared, entries, scenarios=SCENARIOS)
    rows = [
        (
            pd.Timestamp(step.at),
            step.reading,
            (step.was_p10_kg_per_day, step.was_p50_kg_per_day, step.was_p90_kg_per_day),
            (step.p10_kg_per_day, step.p50_kg_per_day, step.p90_kg_per_day),
            step.left_kg,
            step.effective,
        )
        for step in found.steps[1:]
    ]
    return [forecasts(rows)]
