"""Which way printed numbers are rounded: what is left or lowest down, what is needed up, small counts not at all."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest

from budget import wording
from budget.answers.compare import FIGURES, Comparison, Variant
from budget.cli import summary
from budget.cli.records import cell
from budget.rounding import least, need, rounded_as, rounded_down, rounded_up

VALUES = (0.0, 0.04, 0.2499, 0.3, 0.999999999, 1.0, 2.5, 9.9, 23.9, -0.04, -0.3, -1.0, -4.6, -12.0)


@pytest.mark.parametrize("step", [0.01, 0.1, 0.5, 1.0])
@pytest.mark.parametrize("value", VALUES)
def test_down_is_never_above_up_never_below_and_both_are_multiples_within_a_step(value: float, step: float) -> None:
    """A millionth of a step is noise of binary fractions, and no more is given away."""
    down, up = rounded_down(value, step), rounded_up(value, step)
    assert down <= value + 1e-6 * step and value - down < step
    assert up >= value - 1e-6 * step and up - value < step
    for found in (down, up):
        assert found / step == pytest.approx(round(found / step), abs=1e-6)


def test_a_multiple_of_the_step_stays_itself_whatever_its_binary_fraction() -> None:
    for count in range(-30, 31):
        assert rounded_down(0.1 * count, 0.1) == rounded_up(0.1 * count, 0.1) == round(0.1 * count, 9)
    assert least(0.3, 1) == need(0.1 + 0.2, 1) == "0.3"


def test_nothing_is_minus_nought_and_what_is_no_number_passes() -> None:
    assert math.copysign(1.0, rounded_up(-0.3)) == 1.0
    assert (least(-0.3), need(-0.3), need(0.2)) == ("-1", "0", "1")
    assert math.isnan(rounded_down(math.nan)) and rounded_up(math.inf) == math.inf


@pytest.mark.parametrize(
    ("function", "given", "wanted"),
    [
        (wording.least_percent, (0.239,), "23 %"),
        (wording.least_percent, (0.1,), "10 %"),
        (wording.least_celsius, (9.6,), "9 °C"),
        (wording.least_celsius, (-4.2,), "−5 °C"),
        (wording.least_celsius, (-4.21, 1), "−4.3 °C"),
        (wording.kilograms_left, (2.9,), "2.5 kg"),
        (wording.kilograms_needed, (2.1,), "2.5 kg"),
        (wording.least_litres, (3.9,), "3 L"),
        (wording.kilograms_needed, (11.1,), "11.5 kg"),
        (wording.kilograms_needed, (0.2,), "under 0.5 kg"),
        (wording.kilograms_needed, (0.0,), "0 kg"),
        (wording.kilograms, (57.0,), "57 kg"),
        (wording.most_percent, (0.231,), "24 %"),
        (wording.most_percent, (0.7,), "70 %"),
        (wording.most_percent, (1.0,), "100 %"),
        (wording.least_percent, (1.0,), "100 %"),
        (wording.whole_percent, (1.0,), "100 %"),
        (wording.whole_percent, (0.236,), "24 %"),
        (wording.amp_hours, (1892.0,), "1\u202f890 Ah"),
        (wording.number, (1_234_567.84, 1), "1\u202f234\u202f567.8"),
        (wording.number, (-1234.6,), "−1\u202f235"),
        (wording.number, (-0.4,), "0"),
        (wording.number, (-0.004, 2), "0.00"),
        (wording.number, (-0.006, 2), "−0.01"),
        (wording.number, (math.nan,), "–"),
        (wording.number, (-math.inf, 1), "–"),
        (wording.plain, (0.0123456,), "0.0123"),
        (wording.plain, (-3.14159,), "−3.14"),
        (wording.plain, (2.50,), "2.5"),
        (wording.plain, (999.4,), "999"),
        (wording.plain, (999.5,), "1\u202f000"),
        (wording.plain, (-999.6,), "−1\u202f000"),
        (wording.plain, (-1234.4,), "−1\u202f234"),
        (wording.kilograms, (0.2,), "under 0.5 kg"),
        (wording.kilograms, (0.25,), "under 0.5 kg"),
        (wording.kilograms, (0.26,), "0.5 kg"),
        (wording.kilograms, (0.0,), "0 kg"),
        (wording.kilograms, (12.3,), "12.5 kg"),
        (wording.kilograms_left, (0.49,), "0 kg"),
        (wording.kilograms_needed, (0.5,), "0.5 kg"),
        (wording.percent, (0.0749,), "7 %"),
        (wording.percent, (0.076,), "10 %"),
        (wording.percent, (0.62,), "60 %"),
        (wording.percent, (0.924,), "90 %"),
        (wording.percent, (0.926,), "93 %"),
        (wording.celsius, (-0.4,), "0 °C"),
        (wording.celsius, (19.26, 1), "19.3 °C"),
        (wording.hours, (0.0,), "0 h"),
        (wording.hours, (0.25,), "under 1 h"),
        (wording.hours, (0.5,), "under 1 h"),
        (wording.hours, (0.75,), "1 h"),
        (wording.hours, (1234.0,), "1\u202f234 h"),
        (wording.amp_hours, (0.0,), "0 Ah"),
        (wording.amp_hours, (2.5,), "under 5 Ah"),
        (wording.amp_hours, (2.6,), "5 Ah"),
        (wording.kilowatt_hours, (99.4,), "99 kWh"),
        (wording.kilowatt_hours, (100.0,), "100 kWh"),
        (wording.kilowatt_hours, (102.6,), "105 kWh"),
        (cell, ("h until\n5 °C", 4.39, 1), "4.3"),
        (cell, ("lowest_charge_share", 0.239), "23"),
        (cell, ("charge_share", 0.239), "24"),
        (cell, ("left_w", 993.9, 0), "993"),
        (cell, ("needed_w", 2413.2, 0), "2414"),
        (cell, ("lowest_pipes_c", -1.21, 1), "-1.3"),
        (cell, ("mean_c", -1.21, 1), "-1.2"),
    ],
)
def test_terminal_report_and_tables_round_the_same_way(
    function: Callable[..., str], given: tuple[Any, ...], wanted: str
) -> None:
    assert function(*given) == wanted


def test_the_words_of_a_name_decide_and_parts_of_words_do_not() -> None:
    assert rounded_as("leftover_kg", 1.6) == 2.0
    assert rounded_as("left_kg", 1.6) == 1.0
    assert rounded_as("at 20 °C\nneeded W", 1.2) == 2.0


@pytest.mark.parametrize(("starts", "said"), [(0, "0"), (3, "3"), (9, "9"), (10, "10"), (34, "30"), (226, "230")])
def test_counts_below_ten_are_exact(starts: int, said: str) -> None:
    assert wording.count(starts) == said
    assert f", {said} start" in summary.heater({"heater": {
        "heat_to_air_kwh": 1.0, "heat_to_water_kwh": 0.0, "burner_hours": 1.0, "starts": starts,
        "hours_below_setpoint": 0.0}})[1][1]  # fmt: skip


def test_variants_side_by_side_show_percent_and_their_lows_rounded_down() -> None:
    """A variant whose every figure is 0.239, or -0.239 where it is a temperature."""
    figures = set(Variant.__dataclass_fields__) - {"name", "cut_out_from"}
    values = {name: -0.239 if name.endswith("_c") else 0.239 for name in figures}
    shown = {row[0]: row[1] for row in Comparison("t", (Variant(name="a", cut_out_from=None, **values),)).rows()}  # type: ignore[arg-type]
    assert len(shown) == len(FIGURES) + 1  # and since when a battery is cut out
    assert shown["as it stands, lowest charge [%]"] == "23"
    assert shown["lowest inside [°C]"] == shown["lowest at the pipes [°C]"] == "-0.3"
    assert shown["peak [kg/h]"] == "0.24"
    assert shown["gas [kg]"] == "0.2"
