"""The one table of suffixes: the unit ends the name of every field and every column."""

from __future__ import annotations

# Longest suffix wins; a name that ends in none of these and is not a count, share or name is a fault (see the test).
SUFFIXES: dict[str, str] = {
    "_w_per_m2k": "W/m²K",
    "_w_per_mk": "W/mK",
    "_w_per_k": "W/K",
    "_w_per_m2": "W/m²",
    "_j_per_k": "J/K",
    "_kg_per_m3": "kg/m³",
    "_kg_per_h": "kg/h",
    "_kg_per_s": "kg/s",
    "_g_per_h": "g/h",
    "_kg_per_day": "kg/day",
    "_m3_per_h": "m³/h",
    "_m_per_s": "m/s",
    "_l_per_min": "L/min",
    "_k_per_km": "K/km",
    "_percent_per_k": "%/K",
    "_per_kwh": "money/kWh",
    "_per_kg": "money/kg",
    "_per_k": "1/K",
    "_per_h": "1/h",
    "_percent": "%",
    "_share": "0–1",
    "_factor": "–",
    "_deg": "°",
    "_cm2": "cm²",
    "_m2": "m²",
    "_m3": "m³",
    "_mm": "mm",
    "_m": "m",
    "_kwh": "kWh",
    "_wh": "Wh",
    "_ah": "Ah",
    "_kg": "kg",
    "_g": "g",
    "_kj": "kJ",
    "_j": "J",
    "_pa": "Pa",
    "_bar": "bar",
    "_c": "°C",
    "_k": "K",
    "_w": "W",
    "_l": "L",
    "_h": "h",
    "_min": "min",
    "_s": "s",
    "_a": "A",
    "_v": "V",
}


def unit_of(name: str) -> str | None:
    """The unit that a field or column name ends in, or None."""
    matches = [suffix for suffix in SUFFIXES if name.endswith(suffix)]
    return SUFFIXES[max(matches, key=len)] if matches else None
