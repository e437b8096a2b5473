"""Contrasting vans for tests to loop over; all invented."""

from __future__ import annotations

from typing import Any

from budget.van.description import VanDescription
from budget.van.model import Van

# The six answers, then two fuller descriptions of the same van: by preset words, and by numbers.
# Wind at which the outer film is 1 / 0.04 W/m²K, that of the quoted U-values: 4 + 4 v + 4.16 = 25.
STANDARD_WIND_M_PER_S = (25.0 - 4.0 - 4.16) / 4.0
SIX_ANSWERS: dict[str, Any] = {
    "length_m": 6.0,
    "insulation": "foam 25-32 mm",
    "heater": "warm-air and water heater 4 kW",
    "bottles": ["11 kg exchange", "11 kg exchange"],
}
TEN_MINUTES: dict[str, Any] = SIX_ANSWERS | {
    "ribs": "partly covered",
    "windows": "hinged double acrylic",
    "cab_screens": "both",
    "cab_curtain": "insulated curtain",
    "draughts": "normal",
    "furniture": "normal",
    "wet_room": True,
    "garage": True,
    "boiler": "12 L",
    "fresh_l": 100.0,
    "waste_l": 90.0,
    "battery": "LiFePO4",
    "battery_ah": 200.0,
    "solar_w": 200.0,
    "loads": ["lights", "phones", "laptop", "standby"],
    "fridge": "compressor",
}
NUMBERS: dict[str, Any] = {
    "length_m": 6.0,
    "wall_u_w_per_m2k": 1.5,
    "heater": "warm-air and water heater 4 kW",
    "efficiency_share": 0.88,
    "bottles": ["11 kg exchange", "11 kg exchange"],
    "windows": [
        {"faces": "left", "width_m": 0.9, "height_m": 0.5, "u_w_per_m2k": 3.1, "u_screened_w_per_m2k": 2.4},
        {"faces": "right", "width_m": 0.9, "height_m": 0.5, "u_w_per_m2k": 3.1, "u_screened_w_per_m2k": 2.4},
    ],
    "cab_glass_u_w_per_m2k": 1.7,
    "cab_curtain_w_per_k": 7.5,
    "leakage_cm2": 52.0,
    "fabric_capacity_j_per_k": 900_000.0,
    "boiler_l": 12.0,
    "battery": {"capacity_ah": 200.0},
    "solar": {"peak_w": 200.0},
    "loads": [{"name": "everything", "power_w": 20.0}],
}
DEMO = TEN_MINUTES

DESCRIPTIONS: dict[str, dict[str, Any]] = {
    "six_answers": SIX_ANSWERS,
    "demo": DEMO,
    "by_numbers": NUMBERS,
    "tiny_bare": {
        "title": "5 m, uninsulated, no boiler, lead battery",
        "length_m": 5.0,
        "roof": "low roof",
        "insulation": "none",
        "heater": "warm-air heater 1.5 kW",
        "bottles": ["5 kg exchange"],
        "cab_screens": "none",
        "cab_curtain": "none",
        "draughts": "leaky",
        "furniture": "light",
        "windows": "single glass",
        "fresh_l": 20.0,
        "waste_l": 20.0,
        "waste_tank": "inside",
        "battery": "AGM",
        "battery_ah": 90.0,
        "solar_w": 0.0,
        "fridge": "none",
        "loads": ["lights", "standby"],
        "frost_drain_valve": False,
    },
    "heavy": {
        "title": "7 m, thick insulation, heavy furniture, absorption fridge, tall bottles",
        "length_m": 7.0,
        "insulation": "60 mm and more",
        "ribs": "covered",
        "heater": "warm-air and water heater 5 kW",
        "altitude_compensated": True,
        "bottles": ["33 kg exchange", "11 kg exchange"],
        "cab_screens": "both",
        "cab_curtain": "fixed bulkhead",
        "draughts": "tight",
        "furniture": "heavy",
        "windows": "double glass",
        "boiler": "20 L",
        "fresh_l": 160.0,
        "waste_l": 120.0,
        "waste_tank": "under floor, insulated",
        "battery_ah": 400.0,
        "solar_w": 400.0,
        "colour": "dark",
        "fridge": "absorption on gas",
        "loads": ["lights", "phones", "desk", "television", "router", "standby"],
    },
    "staged": {
        "title": "6.4 m, heater of three stages, compressor fridge, gel battery",
        "length_m": 6.4,
        "insulation": "foam 40-50 mm",
        "ribs": "partly covered",
        "heater": "warm-air and water heater 5 kW, staged",
        "bottles": ["11 kg refillable", "11 kg refillable"],
        "battery": "gel",
        "battery_ah": 160.0,
        "cab_screens": "outside",
    },
    "electric_only": {
        "title": "6 m on hook-up with electric elements, its bottle empty",
        "length_m": 6.0,
        "insulation": "foam 25-32 mm",
        "heater": "warm-air and water heater 4 kW, 2 kW elements",
        "bottles": [{"name": "5 kg exchange", "net_kg": 5.0, "tare_kg": 6.0, "start_kg": 0.0, "diameter_m": 0.23}],
        "fridge": "absorption",
    },
    "butane": {
        "title": "5.4 m with bottles of a mixture and of butane",
        "length_m": 5.4,
        "insulation": "foam 10-19 mm",
        "heater": "warm-air and water heater 3 kW",
        "bottles": ["11 kg exchange, mixture", "13 kg exchange, butane"],
        "cab_curtain": "thin curtain",
        "garage": False,
    },
}


def sample_descriptions() -> dict[str, VanDescription]:
    """Every sample's description by name."""
    return {name: VanDescription.model_validate(answers) for name, answers in DESCRIPTIONS.items()}


def one_room(**changes: Any) -> Van:
    """A van of one zone whose numbers a test can reckon by hand; ``changes`` replace whole parts."""
    parts: dict[str, Any] = {
        "title": "one room",
        "cabin": {
            "zones": [
                {
                    "name": "living",
                    "air_m3": 12.0,
                    "air_capacity_j_per_k": 60_000.0,
                    "fabric_capacity_j_per_k": 540_000.0,
                    "fabric_coupling_w_per_k": 100.0,
                    "opaque": [{"name": "shell", "area_m2": 40.0, "faces": "sides", "u_w_per_m2k": 2.0}],
                }
            ]
        },
        "heater": {
            "control": "staged",
            "stages": [{"output_w": 4000.0, "efficiency_share": 0.9, "air_m3_per_h": 200.0, "fan_w": 30.0}],
        },
        "water": {
            "fresh": {"capacity_l": 100.0, "start_l": 100.0},
            "waste": {"capacity_l": 90.0, "start_l": 0.0},
        },
        "gas": {"bottles": [{"name": "11 kg exchange"}], "locker_zone": "outdoors"},
    }
    return Van.model_validate(parts | changes)


def sample_vans() -> dict[str, Van]:
    """Every sample van by name."""
    vans = {name: description.to_van() for name, description in sample_descriptions().items()}
    return vans | {"one_room": one_room()}


def bare_room(**changes: Any) -> Van:
    """The room of 80 W/K with hardly anything else in it: no tank, boiler, pipe or battery that takes part."""
    away = {"zone": "outdoors", "capacity_l": 1.0, "start_l": 0.0, "coupling_w_per_k": 0.05}
    pipes = {"coupling_w_per_k": 0.01, "outdoor_w_per_k": 0.0}
    parts: dict[str, Any] = {
        "water": {
            "boiler": {"standing_loss_w": 0.0}, "fresh": away, "waste": away, "pipes": pipes, "drain_valve": None,
        },
        "power": {"battery": {"zone": "outdoors", "capacity_ah": 5000.0}},
        "heater": {
            "control": "modulating", "band_k": 0.01, "min_on_s": 0.0, "start_loss_kj": 0.0,
            "stages": [{"output_w": w, "air_m3_per_h": 200.0, "fan_w": 30.0} for w in (50.0, 4000.0)],
        },
    }  # fmt: skip
    return one_room(**(parts | changes))
