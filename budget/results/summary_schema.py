"""The published JSON Schema of the machine-readable summary; a test holds it against what runs print."""

from __future__ import annotations

from typing import Any

Schema = dict[str, Any]


def _number(meaning: str, **more: Any) -> Schema:
    return {"type": "number", "description": meaning, **more}


def _amount(meaning: str) -> Schema:
    return _number(meaning, minimum=0)


def _share(meaning: str) -> Schema:
    return _number(f"{meaning} [0–1]")


def _count(meaning: str) -> Schema:
    return {"type": "integer", "minimum": 0, "description": meaning}


def _word(meaning: str) -> Schema:
    return {"type": "string", "description": meaning}


def _flag(meaning: str) -> Schema:
    return {"type": "boolean", "description": meaning}


def _moment(meaning: str) -> Schema:
    return {"type": "string", "format": "date-time", "description": f"{meaning}; ISO 8601 with the offset from UTC"}


def _or_null(schema: Schema, when: str) -> Schema:
    return {**schema, "type": [schema["type"], "null"], "description": f"{schema['description']}; null: {when}"}


def _object(meaning: str, always: dict[str, Schema], sometimes: dict[str, Schema] | None = None) -> Schema:
    return {
        "type": "object",
        "description": meaning,
        "properties": {**always, **(sometimes or {})},
        "required": list(always),
    }


def _each(meaning: str, names: str, value: Schema) -> Schema:
    """An object whose names are the van's or the tour's own."""
    return {"type": "object", "description": f"{meaning}, by {names}", "additionalProperties": value}


def _list(meaning: str, value: Schema) -> Schema:
    return {"type": "array", "description": meaning, "items": value}


_TOUR = _object(
    "The tour.",
    {
        "title": _word("as in the tour file"),
        "invented": _flag("true: the plan and its data are invented"),
        "nights": _count("midnights between start and end"),
        "hours": _count("hours simulated"),
        "start": _moment("start"),
        "end": _moment("end"),
    },
)

_SWAP = _object(
    "One exchange or filling.",
    {
        "time": _moment("hour in which it is done"),
        "place": _word("stop"),
        "bottle": _word("name of the bottle system"),
        "position": _count("bottle on board, 1 the first"),
        "brought_kg": _amount("gas brought"),
        "needed": _flag("false: without it and those after it the gas lasts with the reserve in hand"),
    },
)

_BOTTLE = _object(
    "One bottle on board.",
    {
        "position": _count("place in the order of use, 1 the first"),
        "bottle": _word("name of the bottle system"),
        "net_kg": _amount("gas in a full one"),
        "tare_kg": _amount("empty weight"),
        "start_kg": _amount("gas in it at the start"),
        "end_kg": _amount("gas in it at the end"),
        "drawn_kg": _amount("gas drawn over the tour, bottles swapped in its place counted"),
        "emptied_at": _or_null(_moment("first time it was empty"), "never"),
        "lowest_c": _number("coldest liquid"),
    },
)

_GAS = _object(
    "Gas; everything on the lower heating value.",
    {
        "total_kg": _amount("gas burned"),
        "kg_per_day": _amount("the same, mean of the tour [kg/day]"),
        "by_use_kg": _each("gas burned", "use (heating, hot_water, cooking, fridge)", _amount("gas burned")),
        "needed_kg": _amount(
            "gas that the tour takes with gas and charge to its end; total_kg where nothing ran short"
        ),
        "planned_kg": _amount("needed_kg and the reserve"),
        "short_of": _list("what ran short, so that less was burned than needed", _word("battery or gas")),
        "bottles_needed": _count("full bottles of the first kind that hold planned_kg"),
        "bottles_needed_basis": _object(
            "What bottles_needed counts on.",
            {
                "bottle": _word("name of the bottle system"),
                "net_kg": _amount("gas in a full one"),
                "reserve_nights": _amount("nights kept in reserve"),
                "reserve_kg_per_day": _amount("need of the hardest three days in a row [kg/day]"),
                "reserve_kg": _amount("gas for the nights in reserve at that rate"),
                "quantile": _word("which part of the range the number is"),
            },
        ),
        "bottles": _list("bottles in the order of use", _BOTTLE),
        "swaps": _list("exchanges and fillings in order of time", _SWAP),
        "unserved_kg": _amount(
            "gas asked for that no bottle could give, at the burner's full rate while it lasted; what the tour would "
            "have burned more is needed_kg less total_kg"
        ),
        "unserved_by_use_kg": _each("the same", "use", _amount("gas lacked")),
    },
)

_HEATER = _object(
    "The warm-air and water heater.",
    {
        "heat_to_air_kwh": _amount("heat to the air, from gas and mains"),
        "heat_to_water_kwh": _amount("heat to the boiler, from gas and mains"),
        "fuel_kwh": _amount("lower heating value of the gas burned"),
        "electric_kwh": _amount("heat of the electric elements"),
        "flue_loss_kwh": _amount("fuel lost to the flue by the burner's efficiency"),
        "start_loss_kwh": _amount("fuel lost to the flue at starts"),
        "duct_loss_outdoors_kwh": _amount("heat lost by runs outdoors"),
        "burner_hours": _amount("hours with any flame [h]"),
        "full_load_hours": _amount("hours at rated output that give the same heat [h]"),
        "starts": _count("burner starts"),
        "peak_kg_per_h": _amount("most gas in an hour"),
        "hours_below_setpoint": _amount("occupied and over 0.5 K below the setpoint, warm-up included [h]"),
        "kelvin_hours_below_setpoint": _amount("shortfall then, summed [K h]"),
        "hours_supply_limited": _amount("hours held back by the guard on the supply air's temperature [h]"),
    },
)

_POWER = _object(
    "12 V.",
    {
        "fan_ah": _amount("heater's fan"),
        "used_ah": _amount("all loads"),
        "used_by_load_ah": _each("charge used, greatest first", "load", _amount("charge used")),
        "solar_ah": _amount("charge from the sun that was used"),
        "solar_spilled_ah": _amount("charge from the sun that found no room"),
        "alternator_ah": _amount("charge from the alternator"),
        "mains_charger_ah": _amount("charge from the mains charger"),
        "charge_loss_ah": _amount("charge lost in the battery"),
        "start_state_of_charge": _share("charge at the start"),
        "end_state_of_charge": _share("charge at the end"),
        "lowest_state_of_charge": _share("lowest charge"),
        "lowest_at": _moment("when"),
        "hours_cut_out": _amount("hours with the battery cut out, the heater with it [h]"),
        "mains_kwh": _amount("all that the hook-up gave"),
    },
)

_REFILL = _object(
    "One filling of the fresh tank.",
    {"time": _moment("hour in which it is done"), "place": _word("stop"), "litres_l": _amount("water filled")},
)

_WATER = _object(
    "Water.",
    {
        "fresh_used_l": _amount("fresh water used"),
        "shower_l": _amount("shower water served at the tap"),
        "dishes_l": _amount("dish water served at the tap"),
        "cold_water_l": _amount("cold water used"),
        "unserved_l": _amount("water asked for and not had"),
        "waste_spilled_l": _amount("waste water that found the tank full"),
        "drained_by_frost_valve_l": _amount("boiler water let out by the frost drain valve"),
        "refills": _list("fillings in order of time", _REFILL),
        "to_waste_l": _amount("water sent to the waste tank"),
        "pump_ah": _amount("charge that the water pump took"),
        "emptied": _list(
            "emptyings of the waste tank in order of time",
            _object(
                "One emptying.",
                {"time": _moment("hour in which it is done"), "place": _word("stop"), "litres_l": _amount("emptied")},
            ),
        ),
    },
    {
        "coldest_shower_c": _or_null(_number("coldest end of a shower"), "none was served"),
        "longest_wait_min": _or_null(_amount("longest wait for warm water"), "no shower was served"),
    },
)

_COMFORT = _object(
    "Air of one zone, at hour edges.",
    {
        "lowest_c": _number("lowest"),
        "lowest_at": _moment("when"),
        "mean_c": _number("mean"),
        "highest_c": _number("highest"),
    },
    {"lowest_while_occupied_c": _number("lowest while somebody is on board")},
)

_DAMP = _object(
    "Damp of one zone.",
    {
        "mean_humidity_percent": _amount("mean relative humidity over liquid water"),
        "highest_humidity_percent": _amount("highest"),
    },
    {
        "wet_hours": _amount("hours with water on its wettest surface [h]"),
        "condensed_kg": _amount("vapour condensed on all its surfaces"),
        "most_lying_kg": _amount("most water lying on them at once"),
        "wet_hours_by_surface": _each("hours wet", "surface", _amount("hours wet [h]")),
        "by_surface": _each(
            "hours and water",
            "surface",
            _object(
                "One surface.",
                {
                    "wet_hours": _amount("hours wet [h]"),
                    "condensed_g": _amount("vapour condensed on it"),
                    "run_or_wiped_off_g": _amount("water that ran off it or was wiped off"),
                },
            ),
        ),
    },
)

_DAMP_NIGHT = _object(
    "One night, noon to noon.",
    {
        "night": _word("date of its evening"),
        "condensed_g": _amount("vapour condensed in the van"),
        "by_surface": _each(
            "the surfaces that took some",
            "surface",
            _object("One surface.", {"condensed_g": _amount("on it"), "wet_hours": _amount("hours wet [h]")}),
        ),
    },
)

_DRYING = _object(
    "Wet kit hung up.",
    {
        "zone": _word("where"),
        "hung_at": _moment("when"),
        "water_kg": _amount("water in it"),
        "hours_to_dry_h": _or_null(_count("until a twentieth of the water is left"), "not within the tour"),
        "extra_gas_kg": _amount("gas for the heat that drying takes"),
    },
)

_FROST = _object(
    "One part that frost may harm.",
    {
        "lowest_c": _number("lowest temperature"),
        "lowest_at": _moment("when"),
        "limit_c": _number("temperature that it shall keep"),
        "margin_k": _number("what is left above it; negative: below it"),
        "hours_below_limit": _count("hours below it [h]"),
    },
    {"most_ice_kg": _amount("most ice in it"), "hours_with_ice": _count("hours with ice [h]")},
)

_BALANCE = _object(
    "How well the books close: opening + in - out = closing.",
    {
        "largest_residual_fraction": _amount("largest gap as a fraction of the hour's gross flow"),
        "by_book": _each("largest gap", "book (heat, gas, charge, water, vapour)", _amount("fraction")),
    },
)

SECTIONS: dict[str, Schema] = {
    "tour": _TOUR,
    "gas": _GAS,
    "heater": _HEATER,
    "power": _POWER,
    "water": _WATER,
    "comfort": _each("Temperatures", "zone", _COMFORT),
    "damp": _each("Humidity and wet surfaces", "zone", _DAMP),
    "damp_nights": _list("water by night", _DAMP_NIGHT),
    "frost": _each("Margins above frost", "part", _FROST),
    "balance": _BALANCE,
    "notices": _list("what needs saying, one sentence each, the gravest first", _word("a sentence")),
}
_PROVENANCE = _object(
    "What the numbers came from.",
    {
        "input_hash": _word("hash of van, tour and weather"),
        "versions": _each("version", "package", _word("version")),
    },
)


def _any(meaning: str) -> Schema:
    return {"type": "object", "description": meaning}


SECTIONS["provenance"] = _PROVENANCE
OPTIONAL: dict[str, Schema] = {
    "odds": _any("with --odds: as `budget odds --json`"),
    "sensitivity": _any("with --odds 100 and more: as `budget matters --json`"),
    "tonight": _any("with --odds, where a night off the grid is left: as `budget tonight --json`"),
    "drying": _list("wet kit hung up; absent where there is none", _DRYING),
}
