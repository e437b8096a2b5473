"""A week in the far north in a steady frost of -15 °C, a drive in its middle, and the same with other gas on board."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path

from budget.results.result import Result
from budget.simulation import simulate
from budget.tour.reader import Loaded, load

NORTH = """
title = "North"
timezone = "Europe/Oslo"
people = 2
comfort = "moderate"
start = 2027-01-04
[weather]
source = "clear-sky"
[weather.climate]
mean_c = [-15.0, -14.0, -10.0, -3.0, 3.0, 10.0, 14.0, 12.0, 6.0, 0.0, -8.0, -13.0]
cloud_share = [0.6, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6]
[van]
length_m = 6.4
insulation = "foam 40-50 mm"
heater = "warm-air and water heater 5 kW"
bottles = ["11 kg exchange", "11 kg exchange"]
changeover = "automatic"
battery_ah = 200
[[stops]]
place = "Fell"
latitude_deg = 69.3
longitude_deg = 25.3
altitude_m = 300
nights = 3
[[stops]]
place = "Lake"
latitude_deg = 69.0
longitude_deg = 23.0
altitude_m = 320
drive_h = 5
nights = 4
[[stops.exchange]]
bottle = "11 kg exchange"
open = ["mon-sun 09:00-16:00"]
"""
REFILLED = NORTH.replace("11 kg exchange", "11 kg refillable")  # 70 % of propane
MIXED = NORTH.replace('bottle = "11 kg exchange"', 'bottle = "small"').replace(
    'bottles = ["11 kg exchange", "11 kg exchange"]\nchangeover = "automatic"\nbattery_ah = 200\n',
    """changeover = "manual"
battery_ah = 200
[[van.bottles]]
name = "mix"
net_kg = 11.0
tare_kg = 11.5
propane_share = 0.3
diameter_m = 0.3
[[van.bottles]]
name = "small"
net_kg = 5.0
tare_kg = 6.0
propane_share = 1.0
diameter_m = 0.23
""",
)
NO_HEAT = """
[schedules.cold]
[[schedules.cold.steps]]
at = "00:00"
air_c = "off"
water_c = "off"
"""


@cache
def loaded_north(*changes: str, text: str = NORTH) -> Loaded:
    """Read from a file of its own, with ``--set`` changes."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "north.toml"
        path.write_text(text, encoding="utf-8")
        return load(path, changes)


@cache
def north(*changes: str, text: str = NORTH) -> Result:
    """The same, run."""
    loaded = loaded_north(*changes, text=text)
    return simulate(loaded.van, loaded.tour)
