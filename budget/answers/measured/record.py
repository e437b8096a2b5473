"""After the tour: what was predicted, what the scale said, and the likeliest causes of the difference, on one page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from budget.answers.measured.logbook import Entry
from budget.answers.measured.weigh import Used, Weighed
from budget.answers.measured.weigh import answer as weigh
from budget.answers.prepared import Prepared
from budget.weather.air import Floats

LEAST_SHIFT_KG = 0.02
CAUSES = {
    "loss_factor": "walls, roof and floor",
    "glazing_factor": "windows and screens",
    "leakage_factor": "draughts",
    "capacity_factor": "heat held by furniture",
    "efficiency_factor": "heater's efficiency",
    "vapour_factor": "people on board",
    "hot_water_factor": "warm water",
    "battery_capacity_factor": "battery",
    "solar_factor": "sun on the panels",
    "loads_factor": "12 V use",
    "outdoor_c": "outdoor temperature",
    "wind_m_per_s": "wind",
}


@dataclass(frozen=True)
class Cause:
    """A part of the difference: the gas by which this cause moved the tour's use, as the likeliest explanation."""

    cause: str
    shift_kg: float


@dataclass(frozen=True, eq=False)
class Record:
    """Predicted, weighed and explained, up to the last reading, and the tour's plan in a few numbers.

    ``planned_kg``: the tour as planned, one simulation, of it ``by_use_kg``. ``predicted_*_kg``: the odds before any
    reading. ``used``: between weighings, predicted and by the scale; ``weighed_kg`` is the scale's sum over them, None
    when nothing was weighed twice. ``likeliest_kg``: all gas until then, by readings and prediction together;
    ``causes`` split ``likeliest_kg`` less the mean prediction.
    """

    van: str
    title: str
    days_d: float
    planned_kg: float
    by_use_kg: dict[str, float]
    predicted_mean_kg: float
    predicted_p10_kg: float
    predicted_p50_kg: float
    predicted_p90_kg: float
    used: tuple[Used, ...]
    weighed_kg: float | None
    weighed_predicted_kg: float | None
    likeliest_kg: float
    causes: tuple[Cause, ...]
    unexplained_kg: float
    mean_outdoor_c: float
    mean_inside_c: float
    used_ah_per_day: float
    effective: float
    cautions: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        plain = {name: round(value, 3) if isinstance(value, float) else value for name, value in vars(self).items()}
        return plain | {
            "causes": [vars(cause) for cause in self.causes],
            "used": [vars(used) for used in self.used],
            "cautions": list(self.cautions),
        }

    @property
    def sentences(self) -> tuple[str, ...]:
        """The page's lines."""
        day = self.days_d
        uses = ", ".join(f"{use.replace('_', ' ')} {kg:.2f} kg" for use, kg in self.by_use_kg.items())
        if self.weighed_kg is None or self.weighed_predicted_kg is None:
            weighed = "Weighed: nothing between two weighings of a bottle that was not changed."
        else:
            weighed = (
                f"Weighed: the scale says {self.weighed_kg:.2f} kg between the weighings listed; the middle prediction "
                f"for the same bottles and days was {self.weighed_predicted_kg:.2f} kg."
            )
        return (
            f"{self.title}, {self.van}: {day:.1f} days to the last reading, outdoors {self.mean_outdoor_c:.1f} °C and "
            f"inside {self.mean_inside_c:.1f} °C on the plan's average.",
            f"Planned: {self.planned_kg:.2f} kg ({self.planned_kg / day:.2f} kg a day): {uses}.",
            f"Predicted before any reading: {self.predicted_p50_kg:.2f} kg ({self.predicted_p50_kg / day:.2f} kg a "
            f"day), 80 % between {self.predicted_p10_kg:.2f} and {self.predicted_p90_kg:.2f} kg.",
            weighed,
            f"Likeliest for all bottles, readings and prediction together: {self.likeliest_kg:.2f} kg "
            f"({self.likeliest_kg / day:.2f} kg a day).",
            f"Power: planned {self.used_ah_per_day:.0f} Ah a day.",
            "The causes split the likeliest use less the mean prediction "
            f"({self.likeliest_kg - self.predicted_mean_kg:+.2f} kg); they are not measured one by one: a scale sees "
            "their sum.",
            *self.cautions,
        )


def answer(prepared: Prepared, entries: tuple[Entry, ...], *, scenarios: int = 1000, seed: int = 1) -> Record:
    """The record of a tour from its logbook."""
    from budget.results.result import Result

    posterior = weigh(prepared, entries, scenarios=scenarios, seed=seed)
    result = Result(
        prepared.van, prepared.tour, prepared.timeline, prepared.weather, prepared.built, prepared.hours,
        prepared.wishes, prepared.rows, prepared.run(),
    )  # fmt: skip
    last = posterior.steps[-1].at
    hours = max(int((last - prepared.timeline.edges[0]).total_seconds() // 3600), 1)
    flows = result.flows.iloc[:hours]
    uses = {
        name.removeprefix("gas_").removesuffix("_kg"): float(flows[name].sum())
        for name in ("gas_heating_kg", "gas_hot_water_kg", "gas_cooking_kg", "gas_fridge_kg")
        if name in flows
    }
    likeliest = float(posterior.weights @ posterior.used_kg)
    mean = float(posterior.prior @ posterior.used_kg)
    causes, explained = _causes(posterior)
    before = posterior.used_kg[posterior.prior > 0.0]
    low, middle, high = (float(kg) for kg in np.quantile(before, (0.1, 0.5, 0.9)))
    loads = [column.name for column in result.columns("load_ah")]
    living_c = result.air_c(prepared.built.zone_names[prepared.built.living])
    return Record(
        van=prepared.van.title,
        title=prepared.tour.title,
        days_d=hours / 24.0,
        planned_kg=sum(uses.values()),
        by_use_kg={name: round(kg, 3) for name, kg in uses.items() if kg > 0.0},
        predicted_mean_kg=mean,
        predicted_p10_kg=low,
        predicted_p50_kg=middle,
        predicted_p90_kg=high,
        used=posterior.used,
        weighed_kg=sum(used.weighed_kg for used in posterior.used) if posterior.used else None,
        weighed_predicted_kg=sum(used.predicted_p50_kg for used in posterior.used) if posterior.used else None,
        likeliest_kg=likeliest,
        causes=causes,
        unexplained_kg=likeliest - mean - explained,
        mean_outdoor_c=float(prepared.weather.frame["temp_air"].iloc[:hours].mean()),
        mean_inside_c=float(living_c.iloc[: hours + 1].mean()),
        used_ah_per_day=float(flows[loads].to_numpy().sum()) / hours * 24.0,
        effective=posterior.steps[-1].effective,
        cautions=posterior.cautions,
    )


def _causes(posterior: Weighed) -> tuple[tuple[Cause, ...], float]:
    """How far each cause moved the use so far: its slope over the scenarios times its move by the readings."""
    columns: dict[str, Floats] = {name: np.log(values) for name, values in posterior.samples.items()}
    for name, values in (("outdoor_c", posterior.outdoor_c), ("wind_m_per_s", posterior.wind_m_per_s)):
        if values.std() > 1e-9:
            columns[name] = values
    design = np.column_stack(list(columns.values()))
    design = design - posterior.prior @ design
    off = posterior.used_kg - posterior.prior @ posterior.used_kg
    slope = np.linalg.lstsq(design, off, rcond=None)[0]
    moved = posterior.weights @ design
    shifts = slope * moved
    listed = [
        Cause(CAUSES.get(name, name), round(float(kg), 3))
        for name, kg in zip(columns, shifts, strict=True)
        if abs(kg) >= LEAST_SHIFT_KG
    ]
    return tuple(sorted(listed, key=lambda cause: -abs(cause.shift_kg))), float(shifts.sum())
