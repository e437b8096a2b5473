"""Vans and short tours drawn at random from a seed: valid, contrasting, all invented."""

from __future__ import annotations

from typing import Any

import numpy as np
from sample_tours import WEATHERS, short_tour

from budget.tour.model import Tour
from budget.van.description import VanDescription
from budget.van.model import Van

HEATERS = (
    "warm-air heater 1.5 kW",
    "warm-air heater 3 kW, staged",
    "warm-air and water heater 3 kW",
    "warm-air and water heater 4 kW",
    "warm-air and water heater 4 kW, 2 kW elements",
    "warm-air and water heater 5 kW",
    "warm-air and water heater 5 kW, staged",
    "warm-air and water heater 5 kW, staged, 2 kW elements",
)
INSULATION = ("none", "foam 10-19 mm", "foam 25-32 mm", "foam 40-50 mm", "60 mm and more")
BOTTLES = (
    ["11 kg exchange", "11 kg exchange"],
    ["5 kg exchange", "11 kg exchange"],
    ["11 kg refillable", "20 kg refillable"],
    ["33 kg exchange"],
    ["11 kg exchange, mixture", "11 kg exchange"],
)


def random_van(seed: int) -> Van:
    """Sizes, insulation, windows, draughts, heater, water, battery, sun and loads, each drawn by itself."""
    draw = np.random.default_rng([seed, 1])

    def one(*words: Any) -> Any:
        return words[int(draw.integers(len(words)))]

    answers: dict[str, Any] = {
        "title": f"van {seed}",
        "length_m": round(float(draw.uniform(5.0, 7.5)), 2),
        "roof": one("high roof", "low roof"),
        "insulation": one(*INSULATION),
        "heater": one(*HEATERS),
        "bottles": one(*BOTTLES),
        "windows": one("hinged double acrylic", "single glass", "double glass"),
        "cab_screens": one("none", "inside", "outside", "both"),
        "cab_curtain": one("none", "thin curtain", "insulated curtain", "fixed bulkhead"),
        "leakage_cm2": round(float(draw.uniform(10.0, 150.0)), 1),
        "furniture": one("light", "normal", "heavy"),
        "colour": one("white", "dark"),
        "wet_room": bool(draw.integers(2)),
        "garage": bool(draw.integers(2)),
        "fresh_l": round(float(draw.uniform(60.0, 160.0))),
        "waste_l": round(float(draw.uniform(50.0, 120.0))),
        "waste_tank": one("inside", "under floor, insulated"),
        "battery": one("LiFePO4", "AGM", "gel"),
        "battery_ah": round(float(draw.uniform(90.0, 400.0))),
        "solar_w": round(float(draw.uniform(0.0, 300.0))),
        "fridge": one("compressor", "absorption", "absorption on gas", "none"),
        "loads": one(["lights", "standby"], ["lights", "phones", "laptop", "standby"], ["lights", "television"]),
    }
    return VanDescription.model_validate(answers).to_van()


def random_tour(van: Van, seed: int, weather: str | None = None, steps: list[dict[str, Any]] | None = None) -> Tour:
    """The crowded short tour with its schedule, weather, places, hook-up and draws drawn anew.

    ``weather`` (a name of WEATHERS) and the schedule's ``steps`` are kept where they are given.
    """
    draw = np.random.default_rng([seed, 2])
    names = sorted(WEATHERS)
    night_c: float | str = round(float(draw.uniform(8.0, 18.0)), 1)
    if draw.integers(4) == 0:
        night_c = "off"
    drawn = names[int(draw.integers(len(names)))]
    base = short_tour(van, weather or drawn).model_dump(mode="json", exclude_none=True)
    water_c = round(float(draw.uniform(40.0, 65.0)))
    base["schedules"] = {
        "usual": {
            "steps": [
                {"at": f"{int(draw.integers(5, 9)):02d}:00", "air_c": round(float(draw.uniform(16.0, 22.0)), 1),
                 "water_c": water_c},
                {"at": "22:00", "air_c": night_c, "water_c": "off" if draw.integers(2) else water_c},
            ]
        }
    }  # fmt: skip
    if steps is not None:
        base["schedules"] = {"usual": {"steps": steps}}
    base["start_inside_c"] = round(float(draw.uniform(0.0, 20.0)), 1)
    base["weather"]["offset_k"] = round(float(draw.uniform(-8.0, 5.0)), 1)
    base["stops"][0]["altitude_m"] = round(float(draw.choice([5.0, 600.0, 1500.0])))
    base["stops"][0]["wind_shelter_share"] = round(float(draw.uniform(0.0, 0.8)), 2)
    base["stops"][1]["hookup_a"] = float(draw.choice([0.0, 6.0, 10.0, 16.0]))
    base["stops"][1]["heater_fuel"] = str(draw.choice(["gas", "electric", "electric_first"]))
    base["stops"][2]["heading_deg"] = round(float(draw.uniform(0.0, 359.0)))
    base["draws"][0]["litres_l"] = round(float(draw.uniform(2.0, 14.0)), 1)
    return Tour.model_validate(base)
