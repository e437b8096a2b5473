"""The published JSON Schema of the machine-readable summary; a test holds it against what runs print."""

from __future__ import annotations

from budget.results.schema_parts import (
    Schema,
    amount,
    count,
    each_named,
    flag,
    moment,
    number,
    or_null,
    parts,
    several,
    share,
    word,
)

_TOUR = parts(
    "The tour.",
    {
        "title": word("as in the tour file"),
        "invented": flag("true: the plan and its data are invented"),
        "nights": count("midnights between start and end"),
        "hours": count("hours simulated"),
        "start": moment("start"),
        "end": moment("end"),
    },
)

_SWAP = parts(
    "One exchange or filling.",
    {
        "time": moment("hour in which it is done"),
        "place": word("stop"),
        "bottle": word("name of the bottle system"),
        "position": count("bottle on board, 1 the first"),
        "brought_kg": amount("gas brought"),
        "needed": flag("false: without it and those after it the gas lasts with the reserve in hand"),
    },
)

_BOTTLE = parts(
    "One bottle on board.",
    {
        "position": count("place in the order of use, 1 the first"),
        "bottle": word("name of the bottle system"),
        "net_kg": amount("gas in a full one"),
        "tare_kg": amount("empty weight"),
        "start_kg": amount("gas in it at the start"),
        "end_kg": amount("gas in it at the end"),
        "drawn_kg": amount("gas drawn over the tour, bottles swapped in its place counted"),
        "emptied_at": or_null(moment("first hour in which it ran empty"), "never"),
        "lowest_c": number("coldest liquid"),
    },
)

_GAS = parts(
    "Gas; everything on the lower heating value.",
    {
        "total_kg": amount("gas burned"),
        "kg_per_day": amount("the same, mean of the tour [kg/day]"),
        "by_use_kg": each_named("gas burned", "use (heating, hot_water, cooking, fridge)", amount("gas burned")),
        "needed_kg": amount("gas that the tour takes with gas and charge to its end; total_kg where nothing ran short"),
        "planned_kg": amount("needed_kg and the reserve"),
        "short_of": several("what ran short, so that less was burned than needed", word("battery or gas")),
        "bottles_needed": count("full bottles of the first kind that hold planned_kg"),
        "bottles_needed_basis": parts(
            "What bottles_needed counts on.",
            {
                "bottle": word("name of the bottle system"),
                "net_kg": amount("gas in a full one"),
                "reserve_nights": amount("nights kept in reserve"),
                "reserve_kg_per_day": amount("need of the hardest three days in a row [kg/day]"),
                "reserve_kg": amount("gas for the nights in reserve at that rate"),
                "quantile": word("which part of the range the number is"),
            },
        ),
        "bottles": several("bottles in the order of use", _BOTTLE),
        "swaps": several("exchanges and fillings in order of time", _SWAP),
        "unserved_kg": amount(
            "gas asked for that no bottle could give, at the burner's full rate while it lasted; what the tour would "
            "have burned more is needed_kg less total_kg"
        ),
        "unserved_by_use_kg": each_named("the same", "use", amount("gas lacked")),
    },
)

_HEATER = parts(
    "The warm-air and water heater.",
    {
        "heat_to_air_kwh": amount("heat to the air, from gas and mains"),
        "heat_to_water_kwh": amount("heat to the boiler, from gas and mains"),
        "fuel_kwh": amount("lower heating value of the gas burned"),
        "electric_kwh": amount("heat of the electric elements"),
        "flue_loss_kwh": amount("fuel lost to the flue by the burner's efficiency"),
        "start_loss_kwh": amount("fuel lost to the flue at starts"),
        "duct_loss_outdoors_kwh": amount("heat lost by runs outdoors"),
        "burner_hours": amount("hours with any flame [h]"),
        "full_load_hours": amount("hours at rated output that give the same heat [h]"),
        "starts": count("burner starts, without those of hours_guard_cycled"),
        "peak_kg_per_h": amount("most gas in an hour"),
        "hours_below_setpoint": amount("occupied and over 0.5 K below the setpoint, warm-up included [h]"),
        "kelvin_hours_below_setpoint": amount("shortfall then, summed [K h]"),
        "hours_supply_limited": amount("hours held back by the guard on the supply air's temperature [h]"),
        "hours_guard_cycled": amount("of these: held below the least stage, whose starts are not counted [h]"),
    },
)

_POWER = parts(
    "12 V.",
    {
        "fan_ah": amount("heater's fan"),
        "used_ah": amount("all loads"),
        "wanted_ah": amount("what all loads would use with gas and charge to the end"),
        "used_by_load_ah": each_named("charge used, greatest first", "load", amount("charge used")),
        "solar_ah": amount("charge from the sun that was used"),
        "solar_spilled_ah": amount("charge from the sun that found no room"),
        "alternator_ah": amount("charge from the alternator"),
        "mains_charger_ah": amount("charge from the mains charger"),
        "charge_loss_ah": amount("charge lost in the battery"),
        "start_state_of_charge": share("charge at the start"),
        "end_state_of_charge": share("charge at the end"),
        "lowest_state_of_charge": share("lowest charge"),
        "lowest_at": moment("in which hour, its start"),
        "cut_out_state_of_charge": share("where the cut-out stood then; the colder, the higher"),
        "hours_cut_out": amount("hours with the battery cut out, the heater with it [h]"),
        "mains_kwh": amount("all that the hook-up gave"),
    },
)

_REFILL = parts(
    "One filling of the fresh tank.",
    {"time": moment("hour in which it is done"), "place": word("stop"), "litres_l": amount("water filled")},
)

_WATER = parts(
    "Water.",
    {
        "fresh_used_l": amount("fresh water used"),
        "shower_l": amount("shower water served at the tap"),
        "dishes_l": amount("dish water served at the tap"),
        "cold_water_l": amount("cold water used"),
        "unserved_l": amount("water asked for and not had"),
        "unserved_by_cause_l": each_named(
            "the same", "cause (empty tank, no_power, ice, drained boiler)", amount("lacked")
        ),
        "waste_spilled_l": amount("waste water that found the tank full"),
        "drained_by_frost_valve_l": amount("boiler water let out by the frost drain valve"),
        "refills": several("fillings in order of time", _REFILL),
        "to_waste_l": amount("water sent to the waste tank"),
        "pump_ah": amount("charge that the water pump took"),
        "emptied": several(
            "emptyings of the waste tank in order of time",
            parts(
                "One emptying.",
                {"time": moment("hour in which it is done"), "place": word("stop"), "litres_l": amount("emptied")},
            ),
        ),
    },
    {
        "coldest_shower_c": or_null(number("coldest end of a shower"), "none was served"),
        "longest_wait_min": or_null(amount("longest wait for warm water"), "no shower was served"),
    },
)

_COMFORT = parts(
    "Air of one zone, at hour edges.",
    {
        "lowest_c": number("lowest"),
        "lowest_at": moment("in which hour, its start"),
        "mean_c": number("mean"),
        "highest_c": number("highest"),
    },
    {"lowest_while_occupied_c": number("lowest while somebody is on board")},
)

_DAMP = parts(
    "Damp of one zone.",
    {
        "mean_humidity_percent": amount("mean relative humidity over liquid water"),
        "highest_humidity_percent": amount("highest"),
    },
    {
        "wet_hours": amount("hours with water on its wettest surface [h]"),
        "condensed_kg": amount("vapour condensed on all its surfaces"),
        "most_lying_kg": amount("most water lying on them at once"),
        "wet_hours_by_surface": each_named("hours wet", "surface", amount("hours wet [h]")),
        "by_surface": each_named(
            "hours and water",
            "surface",
            parts(
                "One surface.",
                {
                    "wet_hours": amount("hours wet [h]"),
                    "condensed_g": amount("vapour condensed on it"),
                    "run_or_wiped_off_g": amount("water that ran off it or was wiped off"),
                },
            ),
        ),
    },
)

_DAMP_NIGHT = parts(
    "One night, noon to noon.",
    {
        "night": word("date of its evening"),
        "condensed_g": amount("vapour condensed in the van"),
        "by_surface": each_named(
            "the surfaces that took some",
            "surface",
            parts("One surface.", {"condensed_g": amount("on it"), "wet_hours": amount("hours wet [h]")}),
        ),
    },
)

_DRYING = parts(
    "Wet kit hung up.",
    {
        "zone": word("where"),
        "hung_at": moment("when"),
        "water_kg": amount("water in it"),
        "hours_to_dry_h": or_null(count("until a twentieth of the water is left"), "not within the tour"),
        "extra_gas_kg": amount("gas for the heat that drying takes"),
    },
)

_FROST = parts(
    "One part that frost may harm.",
    {
        "lowest_c": number("lowest temperature"),
        "lowest_at": moment("in which hour, its start"),
        "limit_c": number("temperature that it shall keep"),
        "margin_k": number("what is left above it; negative: below it"),
        "hours_below_limit": count("hours below it [h]"),
    },
    {
        "most_ice_kg": amount("most ice in it"),
        "hours_with_ice": count("hours with ice [h]"),
        "ice_from": moment("first ice"),
        "frozen_from": moment("first time that all its water was ice; absent: never"),
    },
)

_BALANCE = parts(
    "How well the books close: opening + in - out = closing.",
    {
        "largest_residual_fraction": amount("largest gap as a fraction of the hour's gross flow"),
        "by_book": each_named("largest gap", "book (heat, gas, charge, water, vapour)", amount("fraction")),
    },
)

SECTIONS: dict[str, Schema] = {
    "tour": _TOUR,
    "gas": _GAS,
    "heater": _HEATER,
    "power": _POWER,
    "water": _WATER,
    "comfort": each_named("Temperatures", "zone", _COMFORT),
    "damp": each_named("Humidity and wet surfaces", "zone", _DAMP),
    "damp_nights": several("water by night", _DAMP_NIGHT),
    "frost": each_named("Margins above frost", "part", _FROST),
    "balance": _BALANCE,
    "notices": several("what needs saying, one sentence each, the gravest first", word("a sentence")),
}
_PROVENANCE = parts(
    "What the numbers came from.",
    {
        "input_hash": word("hash of van, tour and weather"),
        "versions": each_named("version", "package", word("version")),
    },
)


def _any(meaning: str) -> Schema:
    return {"type": "object", "description": meaning}


SECTIONS["provenance"] = _PROVENANCE
OPTIONAL: dict[str, Schema] = {
    "odds": _any("with --odds: as `budget odds --json`"),
    "sensitivity": _any("with --odds 100 and more: as `budget matters --json`"),
    "tonight": _any("with --odds, where a night off the grid is left: as `budget tonight --json`"),
    "drying": several("wet kit hung up; absent where there is none", _DRYING),
}
