"""What the answers hand over as JSON, name by name, of stand-ins for what they found; rounded to the digits told."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from types import SimpleNamespace as Found
from typing import Any

import numpy as np

from budget.answers import best_schedule, compare, odds, runs_out, sensitivity, tonight
from budget.answers.measured import learn, record, shakedown, weigh
from budget.answers.measured.doubts import Band, Residual
from budget.answers.night_ready import Hand
from budget.answers.night_settings import Option
from budget.answers.quantiles import Quantiles

NIGHT = dt.datetime(2027, 1, 14, 22, 0)
WRITTEN = "2027-01-14T22:00:00"
THIRD = 1.0 / 3.0


def at(hours: int) -> dt.datetime:
    return NIGHT + dt.timedelta(hours=hours)


def levels(low: float) -> Quantiles:
    """P10, P50 and P90 a tenth of a third apart, half-widths of an eighth and one that is not known."""
    return Quantiles(low + THIRD, low + 2.0 * THIRD, low + 1.0 + THIRD, 0.125, 0.0625, float("nan"))


def listed(name: str, low: float, digits: int) -> dict[str, Any]:
    """As ``levels`` are to be told."""
    whole = {"p10": low + 0.333333, "p50": low + 0.666667, "p90": low + 1.333333}
    told: dict[str, Any] = {f"{level}_{name}": round(value, digits) for level, value in whole.items()}
    halves = {f"p10_half_width_{name}": round(0.125, digits), f"p50_half_width_{name}": round(0.0625, digits)}
    return told | halves | {f"p90_half_width_{name}": None}


def test_quantiles_are_told_with_their_unit_to_three_digits_unless_more_or_fewer_are_wanted() -> None:
    assert levels(1.0).as_dict("kg") == {
        "p10_kg": 1.333, "p50_kg": 1.667, "p90_kg": 2.333, "p10_half_width_kg": 0.125, "p50_half_width_kg": 0.062,
        "p90_half_width_kg": None,
    }  # fmt: skip
    assert levels(1.0).as_dict("ah", 1) == listed("ah", 1.0, 1)


# The best schedule


def tried(gas_kg: float, coldest_c: float, **short: float) -> best_schedule.Tried:
    return best_schedule.Tried(
        night_c=12.0, timer="06:00", lead_min=90.0, gas_kg=gas_kg, fan_ah=9.5, coldest_asleep_c=coldest_c,
        coldest_at_warm_time_c=18.75, lowest_pipes_c=6.25, lowest_charge_share=0.5, short=short,
    )  # fmt: skip


def test_a_schedule_is_handed_over_with_its_limits_and_the_trade_off() -> None:
    """The curve leaves out what misses another limit than warmth asleep (D), what is beaten in both (C), and of equal
    warmth what takes more gas (E): cheapest first, each next one warmer."""
    a, b, c = tried(3.0, 14.0), tried(2.0, 12.0, asleep_c=1.5), tried(3.5, 13.0, asleep_c=0.5)
    d, e, f = tried(1.0, 16.0, warm_c=0.5, asleep_c=0.1), tried(3.2, 14.0), tried(3.0, 13.5)
    limits = best_schedule.Limits(fan_ah=None)
    found = best_schedule.BestSchedule(limits, a, b, (a, b, c, d, e, f), 3.98765, as_if_powered=True)
    assert found.curve == (b, a)
    told = found.as_dict()
    assert told == {
        "limits": {"asleep_c": 14.0, "warm_c": 19.0, "warm_at": "07:30", "pipes_c": 5.0},
        "planned_kg": 3.988,
        "planned_mains_kwh": 0.0,
        "as_if_powered": True,
        "best": {
            "night_c": 12.0, "timer": "06:00", "lead_min": 90.0, "gas_kg": 3.0, "fan_ah": 9.5,
            "coldest_asleep_c": 14.0, "coldest_at_warm_time_c": 18.75, "lowest_pipes_c": 6.25,
            "lowest_charge_share": 0.5, "short": {}, "planned": False,
            "mains_kwh": 0.0,
        },
        "nearest": vars(b),
        "trade_off": [vars(b), vars(a)],
        "tried": 6,
    }  # fmt: skip
    none = best_schedule.BestSchedule(best_schedule.Limits(fan_ah=7.0), None, b, (b,), 4.0)
    assert (none.as_dict()["best"], none.as_dict()["limits"]["fan_ah"]) == (None, 7.0)
    assert none.as_dict()["as_if_powered"] is False


# Variants side by side

VARIANT: dict[str, Any] = {
    "name": "as planned", "gas_kg": 12.34, "bottles": 2, "burner_hours_h": 33.33, "starts": 45, "fan_ah": 61.5,
    "lowest_charge_share": 0.4567, "below_setpoint_kelvin_hours": 3.6, "lowest_inside_c": 9.87, "lowest_pipes_c": 7.65,
    "wet_g": 123.4, "minutes_to_comfort_min": 37.5, "slowest_morning_min": 60.0, "mornings": 5,
    "mornings_never_warm": 0, "warmer_kelvin_hours": 2.6, "below_setpoint_h": 3.2, "peak_kg_per_h": 0.3412,
    "saved_kg": 0.0, "colder_awake_kelvin_hours": 1.4, "colder_asleep_kelvin_hours": 22.4, "unserved_kg": 0.25,
    "pipes_ice_kg": 0.412, "pipes_ice_h": 14.0, "dumped_l": 12.0, "cut_out_h": 33.25,
    "cut_out_from": dt.datetime(2027, 1, 14, 7),
}  # fmt: skip
MAINS = {"mains_kwh": 0.0, "mains_saved_kwh": 0.0, "mains_cost": None}


def test_a_comparison_is_handed_over_with_every_figure_of_every_variant() -> None:
    one = compare.Variant(**VARIANT)
    other = compare.Variant(**(VARIANT | {"name": "cooler", "cut_out_from": None}))
    assert compare.Comparison("A tour", (one, other), as_if_powered=True).as_dict() == {
        "tour": "A tour",
        "against": "as planned",
        "as_if_powered": True,
        "variants": [VARIANT | MAINS, VARIANT | MAINS | {"name": "cooler", "cut_out_from": None}],
    }
    assert compare.Comparison("A tour", (one, other)).as_dict()["as_if_powered"] is False


def test_a_comparisons_table_has_the_digits_that_each_figure_carries() -> None:
    """Lows go down (9.87 is 9.8, 45.67 % is 45), needs up (0.3412 is 0.35); a share is in per cent, a
    figure that is not there a dash."""
    one = compare.Variant(**VARIANT)
    other = compare.Variant(**(VARIANT | {"cut_out_from": None, "minutes_to_comfort_min": None}))
    rows = compare.Comparison("A tour", (one, other)).rows()
    assert {row[0]: row[1] for row in rows} == {
        "gas [kg]": "12.3", "full bottles": "2", "saved against the first [kg]": "0.0",
        "colder while awake [K h]": "1", "colder while asleep [K h]": "22", "below setpoint, people in [K h]": "4",
        "below setpoint, people in [h]": "3", "warmer [K h]": "3", "mornings that never get there": "0",
        "to comfort in the morning [min]": "38", "slowest morning [min]": "60", "lowest inside [°C]": "9.8",
        "lowest at the pipes [°C]": "7.6", "most water on surfaces [g]": "123", "burner hours [h]": "33",
        "starts": "45", "heater's fan [Ah]": "62", "peak [kg/h]": "0.35", "most ice in the pipes [kg]": "0.4",
        "hours with ice in them [h]": "14", "let go by the frost drain valve [L]": "12",
        "as it stands, lowest charge [%]": "45", "as it stands, cut out [h]": "33",
        "as it stands, first cut out": "Thu 14 Jan 07:00",
    }  # fmt: skip
    wired = {"mains_kwh": 12.34, "mains_cost": 6.17}
    mains = [compare.Variant(**(VARIANT | wired)), compare.Variant(**(VARIANT | wired | {"mains_saved_kwh": 1.26}))]
    told = {name: cells for name, *cells in compare.Comparison("A tour", tuple(mains)).rows()}
    assert told["mains [kWh]"] == ["12.3", "12.3"]
    assert told["mains saved against the first [kWh]"] == ["0.0", "1.3"]
    assert told["mains, cost"] == ["6.17", "6.17"]
    free = compare.Comparison("A tour", (mains[0], compare.Variant(**(VARIANT | wired | {"mains_cost": None})))).rows()
    assert "mains, cost" not in {row[0] for row in free}, "told where each has it"
    missing = [row[0] for row in rows if row[2] == "–"]
    assert missing == ["to comfort in the morning [min]", "as it stands, first cut out"]
    assert all(row[1] == row[2] for row in rows if row[0] not in missing)


# The odds


def test_the_odds_are_handed_over_with_their_bands_and_times() -> None:
    band = np.array([[0.0, 1.2345], [0.0, 2.3456], [0.0, 3.4567]])
    found = odds.Odds(
        scenarios=200, seed=7, nights=3, gas=levels(4.0), bottle_kg=11.0,
        chance_by_bottles_share={1: 0.123456, 2: 0.95, 3: 1.0},
        chance_as_it_stands_share={1: 0.234567, 2: 1.0},
        take=odds.Take(bottles=2, swaps=1, lasts_share=0.9, lasts_as_it_stands_share=0.95), exchanges=True,
        carried_share=0.87654321,
        carried_half_width_share=0.01234567, run_out_one_in_ten=at(1), cut_out_share=0.22222222,
        cut_out_one_in_ten=None, cut_out_in_half=at(2), first_one_in_ten=at(0),
        binding_share={"gas": 0.1, "battery charge": 0.22222222},
        offtake_share=0.33333333, frozen_share=0.11111111,
        lowest_charge=levels(0.0), lowest_inside=levels(5.0), lowest_pipes=levels(6.0),
        worst_night={"p90_kg": 0.9}, band_times=(at(0), at(6)), band_used_kg=band, band_left_kg=band[:, ::-1],
        band_charge_share=band / 4.0, samples={}, kept=Found(), notices=("a word",),
    )  # type: ignore[arg-type] # fmt: skip
    assert found.as_dict() == {
        "scenarios": 200,
        "seed": 7,
        "nights": 3,
        "gas": listed("kg", 4.0, 3),
        "bottle_kg": 11.0,
        "chance_by_bottles_share": {"1": 0.1235, "2": 0.95, "3": 1.0},
        "chance_as_it_stands_share": {"1": 0.2346, "2": 1.0},
        "run_takes": {"bottles": 2, "swaps": 1, "lasts_share": 0.9, "lasts_as_it_stands_share": 0.95},
        "bottles_needed": {"reserve_kg": 0.0, "quantile_share": 0.9, "bottles": 2},
        "carried_lasts_share": 0.8765,
        "carried_lasts_half_width_share": 0.0123,
        "one_in_ten": {"gas_out": "2027-01-14T23:00:00", "battery_cut_out": None, "first": WRITTEN},
        "in_half": {"battery_cut_out": "2027-01-15T00:00:00"},
        "binding_share": {"gas": 0.1, "battery charge": 0.2222},
        "binds": "battery charge",
        "cut_out_share": 0.2222,
        "offtake_share": 0.3333,
        "pipes_freeze_share": 0.1111,
        "lowest_charge": listed("share", 0.0, 4),
        "lowest_inside": listed("c", 5.0, 2),
        "lowest_pipes": listed("c", 6.0, 2),
        "worst_night": {"p90_kg": 0.9},
        "bands": {
            "time": [WRITTEN, "2027-01-15T04:00:00"],
            "used_kg": {"p10": [0.0, 1.23], "p50": [0.0, 2.35], "p90": [0.0, 3.46]},
            "left_kg": {"p10": [1.23, 0.0], "p50": [2.35, 0.0], "p90": [3.46, 0.0]},
            "charge_share": {"p10": [0.0, 0.309], "p50": [0.0, 0.586], "p90": [0.0, 0.864]},
        },
        "notices": ["a word"],
    }
    assert (found.bottles_for(0.95), found.bottles_for(0.951), found.bottles_for(1.01)) == (2, 3, None)


# What matters most


def test_what_matters_most_is_handed_over_bar_by_bar() -> None:
    def told(unit: str) -> dict[str, Any]:
        return {
            "input": "leakage_factor", "share": 0.3333, f"at_low_{unit}": 18.3333, f"at_high_{unit}": 25.6667,
            f"at_low_half_width_{unit}": 0.1667, f"at_high_half_width_{unit}": 0.1111, f"moves_{unit}": 7.3333,
            f"moves_half_width_{unit}": 0.0833, "by_chance": False,
        }  # fmt: skip

    bar = sensitivity.Bar("leakage_factor", "draughts", THIRD, 18.0 + THIRD, 25.0 + 2.0 * THIRD, THIRD / 2.0,
                          THIRD / 3.0, THIRD / 4.0)  # fmt: skip
    worth = sensitivity.Worth("measuring draughts", 7.0 + THIRD, 5.0 + THIRD)
    assert sensitivity.Sensitivity(150, (bar,), (bar,), THIRD, THIRD / 2.0, (worth,)).as_dict() == {
        "scenarios": 150,
        "gas": [told("kg")],
        "gas_unexplained_share": 0.3333,
        "lowest_charge": [told("share")],
        "lowest_charge_unexplained_share": 0.1667,
        "worth": [
            {"what": "measuring draughts", "band_now_kg": 7.333, "band_then_kg": 5.333, "narrower_share": 0.2727}
        ],
    }
    assert sensitivity.Worth("nothing", 0.0, 0.0).narrower_share == 0.0


# Tonight


def test_a_night_is_handed_over_with_its_stop_and_without_what_no_option_has() -> None:
    options = (
        Option(
            words="16 °C",
            planned=True,
            fails_share=0.25,
            freezes_share=0.01,
            amiss_share=0.26,
            night_c=16.0,
            timer="05:45",
            lead_min=105.0,
            gas_kg=0.9,
            fan_ah=8.0,
            lowest_inside_c=15.5,
            at_warm_time_c=19.6,
            lowest_pipes_c=9.0,
            dumped_l=0.0,
        ),
        Option(
            words="off",
            planned=False,
            fails_share=0.5,
            freezes_share=0.4,
            amiss_share=0.6,
            night_c=None,
            timer=None,
            lead_min=None,
            gas_kg=0.6,
            fan_ah=5.0,
            lowest_inside_c=4.0,
            at_warm_time_c=15.0,
            lowest_pipes_c=2.0,
            dumped_l=12.0,
        ),
    )
    given: dict[str, Any] = {
        "place": "Cape",
        "start": at(0),
        "morning": at(10),
        "gas_left_kg": 2.5,
        "charge_share": 0.6,
        "scenarios": 200,
        "need": levels(0.0),
        "need_charge": levels(20.0),
        "sure_kg": 1.23456,
        "sure_ah": 45.678,
        "usable_ah": 12.345,
        "full_ah": 40.04,
        "has_boiler": True,
        "fails_share": 0.123456,
        "fails_half_width_share": 0.0123456,
        "failing_by_share": {"gas": 0.1, "battery charge": 0.023456},
        "cold_share": 0.0234567,
        "cold_lowest_inside_c": 9.87,
        "pipes_freeze_share": 0.0123456,
        "frozen_lowest_pipes_c": -0.123,
        "drained_share": 0.0345678,
        "amiss_share": 0.198765,
        "hand": Hand(in_use_kg=1.5, fullest_kg=11.0, fullest_first_share=0.012345, automatic_share=0.0),
        "more_nights_p90": 2.6789,
        "charge_in_the_morning": levels(0.2),
        "outdoor_low": levels(-9.0),
        "climate_low": levels(-8.0),
        "forecast_low_c": -9.0,
        "inside_c": 18.5,
        "asked": "as planned",
        "warm_c": 19.0,
        "warm_at": "07:30",
        "options": options,
        "notices": ("a word",),
    }
    stop = tonight.Stop(3.0, at(3), at(2), 7.654)
    told = tonight.Tonight(**given, stop=stop).as_dict()
    assert told == {
        "place": "Cape",
        "start": WRITTEN,
        "morning": "2027-01-15T08:00:00",
        "gas_left_kg": 2.5,
        "charge_share": 0.6,
        "scenarios": 200,
        "verdict": "probably",
        "can_stay": False,
        "amiss_share": 0.1988,
        "chance_of_running_out_share": 0.1235,
        "chance_half_width_share": 0.0123,
        "failing_by_share": {"gas": 0.1, "battery charge": 0.0235},
        "binds": "gas",
        "not_warm_enough_share": 0.0235,
        "not_warm_enough_lowest_inside_c": 9.9,
        "pipes_freeze_share": 0.0123,
        "pipes_freeze_lowest_c": -0.1,
        "boiler_drained_share": 0.0346,
        "changeover_by_hand": {
            "in_use_kg": 1.5,
            "fullest_kg": 11.0,
            "fullest_first_share": 0.0123,
            "automatic_share": 0.0,
        },
        "need": listed("kg", 0.0, 3),
        "need_charge": listed("ah", 20.0, 1),
        "sure_kg": 1.235,
        "sure_ah": 45.7,
        "usable_ah": 12.3,
        "full_ah": 40.0,
        "stops": {
            "half_at": "2027-01-15T01:00:00",
            "one_in_ten_at": "2027-01-15T00:00:00",
            "lowest_inside_c": 7.7,
        },
        "more_nights_p90": 2.7,
        "charge_in_the_morning": listed("share", 0.2, 4),
        "outdoor_low": listed("c", -9.0, 1),
        "climate_low": listed("c", -8.0, 1),
        "forecast_low_c": -9.0,
        "inside_c": 18.5,
        "warm": {"setpoint_c": 19.0, "at": "07:30"},
        "asked": "as planned",
        "options": [
            {
                "words": "16 °C",
                "night_c": 16.0,
                "timer": "05:45",
                "lead_min": 105.0,
                "gas_kg": 0.9,
                "fan_ah": 8.0,
                "lowest_inside_c": 15.5,
                "at_warm_time_c": 19.6,
                "lowest_pipes_c": 9.0,
                "dumped_l": 0.0,
                "planned": True,
                "fails_share": 0.25,
                "freezes_share": 0.01,
                "amiss_share": 0.26,
            },
            {
                "words": "off",
                "gas_kg": 0.6,
                "fan_ah": 5.0,
                "lowest_inside_c": 4.0,
                "at_warm_time_c": 15.0,
                "lowest_pipes_c": 2.0,
                "dumped_l": 12.0,
                "planned": False,
                "fails_share": 0.5,
                "freezes_share": 0.4,
                "amiss_share": 0.6,
            },
        ],
        "notices": ["a word"],
    }
    nothing: dict[str, Any] = {
        "amiss_share": 0.05, "failing_by_share": {"gas": 0.0}, "hand": None, "cold_lowest_inside_c": None,
        "frozen_lowest_pipes_c": None,
    }  # fmt: skip
    calm = tonight.Tonight(**(given | nothing), stop=None)
    assert (calm.verdict, calm.can_stay, calm.binds) == ("yes", True, None)
    names = ("stops", "changeover_by_hand", "not_warm_enough_lowest_inside_c", "pipes_freeze_lowest_c")
    assert [calm.as_dict()[name] for name in names] == [None] * 4
    assert tonight.Tonight(**(given | {"amiss_share": 0.21}), stop=None).as_dict()["verdict"] == "better not"
    late = tonight.Tonight(**given, stop=tonight.Stop(3.0, at(3), None, 7.0)).as_dict()
    assert late["stops"]["one_in_ten_at"] is None


# What runs out


def test_what_runs_out_is_handed_over_without_its_strips() -> None:
    supply = runs_out.Supply(name="gas", left_share=(1.0, 0.5), lowest_share=0.5, lowest_at=at(1), out_at=None,
                             out_place=None, short_h=0, held_up_h=2, held_up_by_h={"cold": 2})  # fmt: skip
    assert runs_out.RunsOut(supplies=(supply,), first=None, tightest="gas", sentences=("a word",)).as_dict() == {
        "supplies": (
            {"name": "gas", "lowest_share": 0.5, "lowest_at": at(1), "out_at": None, "out_place": None, "short_h": 0,
             "held_up_h": 2, "held_up_by_h": {"cold": 2}},
        ),
        "first": None, "tightest": "gas", "sentences": ("a word",),
    }  # fmt: skip


# A bottle on a scale, and after the tour

FORECAST: dict[str, Any] = {
    "reading": "5 kg: 9 kg", "was_p10_kg_per_day": 1.12346, "was_p50_kg_per_day": 1.23456, "was_p90_kg_per_day": 1.5,
    "p10_kg_per_day": 1.2, "p50_kg_per_day": 1.3, "p90_kg_per_day": 1.34567, "left_kg": 7.65432, "lasts_share": 0.98766,
    "effective": 234.56789,
}  # fmt: skip
ROUNDED = {
    "reading": "5 kg: 9 kg", "was_p10_kg_per_day": 1.1235, "was_p50_kg_per_day": 1.2346, "was_p90_kg_per_day": 1.5,
    "p10_kg_per_day": 1.2, "p50_kg_per_day": 1.3, "p90_kg_per_day": 1.3457, "left_kg": 7.6543, "lasts_share": 0.9877,
    "effective": 234.5679,
}  # fmt: skip
USED: dict[str, Any] = {
    "bottle": "5 kg", "since": at(0), "until": at(24), "predicted_p10_kg": 1.1, "predicted_p50_kg": 1.2,
    "predicted_p90_kg": 1.3, "weighed_kg": 1.25,
}  # fmt: skip


def test_a_weighing_is_handed_over_reading_by_reading() -> None:
    first, second = (
        weigh.Forecast(at=at(hour), run_out_early=early, run_out_middle=None, **FORECAST)
        for hour, early in ((0, at(48)), (24, None))
    )
    told = [
        ROUNDED | {"at": WRITTEN, "run_out_early": "2027-01-16T22:00:00", "run_out_middle": None},
        ROUNDED | {"at": "2027-01-15T22:00:00", "run_out_early": None, "run_out_middle": None},
    ]
    ones = np.ones(2)
    found = weigh.Weighed(
        steps=(first, second), used=(weigh.Used(**USED),), prior=ones, weights=ones, used_kg=ones, samples={},
        outdoor_c=ones, wind_m_per_s=ones, scenarios=300, seed=9, cautions=("a word",),
    )  # fmt: skip
    assert found.as_dict() == {
        "scenarios": 300, "seed": 9, "before": told[0], "after": told[1], "readings": [told[1]], "used": [USED],
        "cautions": ["a word"],
    }  # fmt: skip


def test_a_record_is_handed_over_with_its_causes() -> None:
    given: dict[str, Any] = {
        "van": "A van", "title": "A tour", "days_d": 2.0, "planned_kg": 4.56789, "by_use_kg": {"heating": 4.0},
        "predicted_mean_kg": 4.2, "predicted_p10_kg": 3.5, "predicted_p50_kg": 4.1, "predicted_p90_kg": 5.0,
        "weighed_kg": None, "weighed_predicted_kg": None, "likeliest_kg": 4.44444, "unexplained_kg": 0.1,
        "mean_outdoor_c": -3.33333, "mean_inside_c": 18.0, "used_ah_per_day": 30.0, "effective": 222.0,
    }  # fmt: skip
    found = record.Record(**given, used=(weigh.Used(**USED),), causes=(record.Cause("draughts", 0.2),), cautions=("w",))
    assert found.as_dict() == given | {
        "planned_kg": 4.568, "likeliest_kg": 4.444, "mean_outdoor_c": -3.333, "used": [USED],
        "causes": [{"cause": "draughts", "shift_kg": 0.2}], "cautions": ["w"],
    }  # fmt: skip


# What a log says


def test_what_a_log_says_is_handed_over_with_its_residuals() -> None:
    log = {"path": Path("logs/night.csv"), "sha256": "ab12", "place": "the yard", "start": at(0), "end": at(14),
           "hours": 14, "is_absolute": True}  # fmt: skip
    other = log | {"path": Path("other.csv"), "place": "the yard", "start": at(48), "end": at(60), "hours": 12}
    told = {"log": "night.csv", "sha256": "ab12", "place": "the yard", "start": WRITTEN, "end": "2027-01-15T12:00:00",
            "hours_h": 14, "is_absolute": True}  # fmt: skip
    assert learn.LogUsed(**log).as_dict() == told  # type: ignore[arg-type]
    living = Band("living_loss_w_per_k", 40.0, 50.0, 60.0, 44.0, 46.0, 48.0)
    loss = Band("loss_w_per_k", 50.0, 61.23456, 70.0, 55.0, 57.0, 59.0)
    ratio = Band("loss_per_capacity_per_h", 0.1, 0.2, 0.3, 0.15, 0.1666666, 0.2)
    factor = Band("leakage_factor", 0.6, 1.0, 1.7, 0.8, 1.1, 1.3)
    found = learn.Learned(
        logs=(learn.LogUsed(**log), learn.LogUsed(**other)),  # type: ignore[arg-type]
        is_absolute=True, wind_m_per_s=2.0, sky_delta_k=5.0, loss=loss, living_loss=living, per_capacity=ratio,
        factors=(factor,), log_cover=np.eye(1),
        residuals=(Residual(at(1), 18.23456, 18.34567, -0.11111),), residual_rms_k=0.12345, misfit=0.98765,
        effective=456.789, cautions=("a word",), last_heat_w=2000.0, last_lead_k=23.6,
    )  # fmt: skip

    def band(*values: float) -> dict[str, float]:
        names = ("preset_p10", "preset_p50", "preset_p90", "learned_p10", "learned_p50", "learned_p90")
        return dict(zip(names, values, strict=True))

    assert found.as_dict() == {
        "source": "night.csv and other.csv",
        "place": "the yard",
        "start": WRITTEN,
        "end": "2027-01-17T10:00:00",
        "hours_h": 26,
        "logs": [told, told | {"log": "other.csv", "start": "2027-01-16T22:00:00", "end": "2027-01-17T10:00:00",
                               "hours_h": 12}],
        "is_absolute": True,
        "wind_m_per_s": 2.0,
        "sky_delta_k": 5.0,
        "last_heat_w": 2000.0,
        "last_lead_k": 23.6,
        "loss_w_per_k": band(50.0, 61.23, 70.0, 55.0, 57.0, 59.0),
        "living_loss_w_per_k": band(40.0, 50.0, 60.0, 44.0, 46.0, 48.0),
        "loss_per_capacity_per_h": band(0.1, 0.2, 0.3, 0.15, 0.1667, 0.2),
        "factors": {"leakage_factor": band(0.6, 1.0, 1.7, 0.8, 1.1, 1.3)},
        "residual_rms_k": 0.123,
        "misfit_factor": 0.988,
        "effective_samples": 456.8,
        "residuals": [{"time": "2027-01-14T23:00:00", "read_c": 18.23, "fitted_c": 18.35}],
        "cautions": ["a word"],
    }  # fmt: skip


def test_what_was_metered_is_told_before_what_follows_for_the_vans_own_heater() -> None:
    loss = Band("loss_w_per_k", 50.0, 61.2, 70.0, 85.0, 92.4, 97.0)
    living = Band("living_loss_w_per_k", 40.0, 50.0, 60.0, 72.0, 75.3, 78.0)
    given: dict[str, Any] = {
        "logs": (Found(path=Path("night.csv"), hours=14),), "is_absolute": True, "wind_m_per_s": 2.0,
        "sky_delta_k": 5.0, "loss": loss, "factors": (), "log_cover": np.eye(1),
        "per_capacity": Band("loss_per_capacity_per_h", 0.1, 0.2, 0.3, 0.15, 0.17, 0.2), "residuals": (),
        "residual_rms_k": 0.1, "misfit": 1.0, "effective": 500.0, "cautions": (),
    }  # fmt: skip
    metered, weighed = (learn.Learned(living_loss=band, **given).sentences for band in (living, None))
    assert metered[0] == (
        "With heat into the living area alone, as it was metered, the van loses 75 W/K, 80 % between 72 and 78."
    )
    assert metered[1:] == weighed
    assert weighed[0].startswith("Held warm by its own heater, ")
    holds = (
        "This holds for 0 °C outdoors, a wind of 2 m/s at the van and a sky 5 K colder than the air, as the log's "
        "remarks have it or, without them, as supposed."
    )
    assert weighed[1] == holds
    read = learn.Learned(living_loss=living, last_heat_w=2000.0, last_lead_k=23.6, **given).sentences
    assert read[2] == (
        f"{holds} The last metered hour alone, 2000 W at 23.6 K, would say 85 W/K: in it are that night's own wind and "
        "sky, and heat that was still being stored."
    )
    ratio = learn.Learned(living_loss=None, **given | {"is_absolute": False}).sentences
    assert ratio[2] == holds


def test_what_to_measure_next_is_handed_over_with_its_protocol() -> None:
    found = shakedown.Shakedown((shakedown.Worth("a cool-down", 0.123, "two loggers"),)).as_dict()
    assert found["nights"] == [{"night": "a cool-down", "half_width_share": 0.123, "needs": "two loggers"}]
    assert set(found) == {"nights", "protocol"}
    assert [step[:2] for step in found["protocol"]] == ["1.", "2.", "3.", "4.", "5.", "6."]
