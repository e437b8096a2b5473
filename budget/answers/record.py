"""After the tour: what was predicted against what was weighed, by cause, on one page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from budget.answers.logbook import Entry
from budget.answers.prepared import Prepared
from budget.answers.weigh import Weighed
from budget.answers.weigh import answer as weigh
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
    """Predicted against weighed up to the last reading, and the tour's plan in a few numbers."""

    van: str
    title: str
    days_d: float
    predicted_kg: float
    weighed_kg: float
    by_use_kg: dict[str, float]
    causes: tuple[Cause, ...]
    unexplained_kg: float
    mean_outdoor_c: float
    mean_inside_c: float
    used_ah_per_day: float
    effective: float

    def as_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        plain = {name: round(value, 3) if isinstance(value, float) else value for name, value in vars(self).items()}
        return plain | {"causes": [vars(cause) for cause in self.causes]}

    @property
    def sentences(self) -> tuple[str, ...]:
        """The page's lines."""
        day = self.days_d
        return (
            f"{self.title}, {self.van}: {day:.1f} days to the last reading, outdoors {self.mean_outdoor_c:.1f} °C and "
            f"inside {self.mean_inside_c:.1f} °C on the plan's average.",
            f"Gas: predicted {self.predicted_kg:.2f} kg ({self.predicted_kg / day:.2f} kg a day), likeliest by the "
            f"weighings {self.weighed_kg:.2f} kg ({self.weighed_kg / day:.2f} kg a day).",
            "Predicted by use: "
            + ", ".join(f"{use.replace('_', ' ')} {kg:.2f} kg" for use, kg in self.by_use_kg.items())
            + ".",
            f"Power: predicted {self.used_ah_per_day:.0f} Ah a day.",
            "The causes are the likeliest shares of the difference, not measured one by one: a scale sees their sum.",
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
    predicted = sum(uses.values())
    found = float(posterior.weights @ posterior.used_kg)
    causes, explained = _causes(posterior)
    prior = float(posterior.used_kg.mean())
    loads = [name for name in flows if str(name).startswith("load_") and str(name).endswith("_ah")]
    living = f"{prepared.built.zone_names[prepared.built.living]}_air_c"
    return Record(
        van=prepared.van.title,
        title=prepared.tour.title,
        days_d=hours / 24.0,
        predicted_kg=predicted,
        weighed_kg=found,
        by_use_kg={name: round(kg, 3) for name, kg in uses.items() if kg > 0.0},
        causes=causes,
        unexplained_kg=found - prior - explained,
        mean_outdoor_c=float(prepared.weather.frame["temp_air"].iloc[:hours].mean()),
        mean_inside_c=float(result.stocks[living].iloc[: hours + 1].mean()),
        used_ah_per_day=float(flows[[*loads, "fan_ah"] if "fan_ah" in flows else loads].to_numpy().sum())
        / hours
        * 24.0,
        effective=posterior.steps[-1].effective,
    )


def _causes(posterior: Weighed) -> tuple[tuple[Cause, ...], float]:
    """How far each cause moved the use so far: its slope over the scenarios times its move by the weighings."""
    columns: dict[str, Floats] = {name: np.log(values) for name, values in posterior.samples.items()}
    for name, values in (("outdoor_c", posterior.outdoor_c), ("wind_m_per_s", posterior.wind_m_per_s)):
        if values.std() > 1e-9:
            columns[name] = values
    design = np.column_stack([values - values.mean() for values in columns.values()])
    slope = np.linalg.lstsq(design, posterior.used_kg - posterior.used_kg.mean(), rcond=None)[0]
    moved = posterior.weights @ design
    shifts = slope * moved
    listed = [
        Cause(CAUSES.get(name, name), round(float(kg), 3))
        for name, kg in zip(columns, shifts, strict=True)
        if abs(kg) >= LEAST_SHIFT_KG
    ]
    return tuple(sorted(listed, key=lambda cause: -abs(cause.shift_kg))), float(shifts.sum())
