"""The packaged presets stay within what common practice reports. Common practice, no source, throughout."""

from __future__ import annotations

import importlib.resources
import math
from collections.abc import Iterator
from typing import Any

import pytest

from budget.units import unit_of
from budget.van import presets
from budget.van.cabin import Glazing, Opaque, Zone
from budget.van.gas import Bottle
from budget.van.heater import Heater, Stage
from budget.van.power import Battery, Load
from budget.van.water import Boiler

KINDS = presets.kinds()

# kind, word, number, and the range that the trade's common practice gives for it (no source).
COMMON = [
    ("insulation", "none", "u_w_per_m2k", 5.0, 6.0),
    ("insulation", "foam 10-19 mm", "u_w_per_m2k", 2.0, 2.8),
    ("insulation", "foam 25-32 mm", "u_w_per_m2k", 1.3, 1.8),
    ("insulation", "foam 40-50 mm", "u_w_per_m2k", 1.0, 1.3),
    ("insulation", "60 mm and more", "u_w_per_m2k", 0.8, 1.0),
    ("ribs", "covered", "clear_u_factor", 1.0, 1.15 * 1.15),
    ("ribs", "partly covered", "clear_u_factor", 1.35 * 0.85, 1.35 * 1.15),
    ("ribs", "bare", "clear_u_factor", 1.6 * 0.85, 1.6 * 1.15),
    ("window", "hinged double acrylic", "u_w_per_m2k", 2.8, 3.5),
    ("window", "rooflight", "u_w_per_m2k", 3.5, 4.5),
    ("boiler", "12 L", "standing_loss_w", 14.0, 36.0),
    ("fridge", "absorption", "gas_g_per_h", 10.0, 25.0),
    ("size", "high roof", "shell_at_6_m_m2", 0.9 * 31.0, 1.1 * 31.0),
    ("size", "high roof", "air_at_6_m_m3", 0.9 * 12.0, 1.1 * 12.0),
    ("solar", "flat on the roof", "kept_share", 0.6, 0.85),
]


def spreads(value: Any, path: str) -> Iterator[tuple[str, presets.Spread]]:
    """Every number of a preset with the path to it."""
    if isinstance(value, presets.Spread):
        yield path, value
    elif isinstance(value, presets.Preset):
        for name, inner in value.values.items():
            yield from spreads(inner, f"{path}/{name}")
    elif isinstance(value, tuple):
        for inner in value:
            if hasattr(inner, "items"):
                for name, number in inner.items():
                    yield from spreads(number, f"{path}/{name}")


ALL = [(f"{kind}/{word}", preset) for kind in KINDS for word, preset in presets.load(kind).items()]
NUMBERS = [found for path, preset in ALL for found in spreads(preset, path)]


def test_there_is_a_preset_for_every_answer_that_has_words() -> None:
    wanted = {
        "size", "insulation", "ribs", "window", "cab_screens", "cab_curtain", "draughts", "furniture", "heater",
        "boiler", "bottle", "battery", "solar", "load", "fridge",
    }  # fmt: skip
    assert wanted <= set(KINDS)
    assert len(NUMBERS) > 300


@pytest.mark.parametrize(("path", "spread"), NUMBERS, ids=[path for path, _ in NUMBERS])
def test_a_number_lies_within_its_range_and_its_name_ends_in_a_unit(path: str, spread: presets.Spread) -> None:
    assert spread.low <= spread.usual <= spread.high
    assert unit_of(path.rsplit("/", 1)[1])


@pytest.mark.parametrize(("path", "preset"), ALL, ids=[path for path, _ in ALL])
def test_a_preset_says_what_it_means_and_where_it_is_from(path: str, preset: presets.Preset) -> None:
    assert len(preset.meaning) > 5
    assert preset.source == "common practice, no source"
    folder = importlib.resources.files("budget.van.presets")
    head = (folder / f"{path.split('/', maxsplit=1)[0]}.toml").read_text("utf-8").split("[presets", 1)[0]
    assert "common practice, no source" in head


@pytest.mark.parametrize(("kind", "word", "number", "low", "high"), COMMON)
def test_a_preset_stays_within_common_practice(kind: str, word: str, number: str, low: float, high: float) -> None:
    """Tolerance: the products here are rounded to two decimals in the data."""
    spread = presets.get(kind, word).spread(number)
    assert low - 0.01 <= spread.low
    assert spread.high <= high + 0.01
    assert spread.low < spread.usual < spread.high


@pytest.mark.parametrize(
    ("kind", "word", "number", "usual"),
    [
        ("cab_screens", "none", "u_screened_w_per_m2k", 5.7),
        ("cab_screens", "inside", "u_screened_w_per_m2k", 3.0),
        ("cab_screens", "outside", "u_screened_w_per_m2k", 2.3),
        ("cab_screens", "both", "u_screened_w_per_m2k", 1.7),
        ("window", "single glass", "u_w_per_m2k", 5.7),
        ("window", "double glass", "u_w_per_m2k", 3.0),
        ("ribs", "covered", "clear_u_factor", 1.15),
        ("ribs", "partly covered", "clear_u_factor", 1.35),
        ("ribs", "bare", "clear_u_factor", 1.6),
        ("furniture", "light", "fabric_capacity_j_per_k", 0.5e6),
        ("furniture", "normal", "fabric_capacity_j_per_k", 0.9e6),
        ("furniture", "heavy", "fabric_capacity_j_per_k", 1.5e6),
        ("boiler", "12 L", "standing_loss_w", 28.0),
        ("battery", "LiFePO4", "usable_share", 0.9),
        ("battery", "AGM", "usable_share", 0.5),
        ("solar", "flat on the roof", "kept_share", 0.75),
        ("size", "high roof", "shell_at_6_m_m2", 31.0),
        ("size", "high roof", "shell_each_m_m2", 7.5),
        ("size", "high roof", "air_at_6_m_m3", 12.0),
        ("size", "high roof", "air_each_m_m3", 3.0),
    ],
)
def test_a_usual_value_is_the_usual_value(kind: str, word: str, number: str, usual: float) -> None:
    assert presets.get(kind, word).usual(number) == usual


@pytest.mark.parametrize("word", presets.load("heater"))
def test_a_heater_has_a_common_efficiency_and_a_common_fan(word: str) -> None:
    """Efficiency 0.88 (0.82-0.93) on the lower value; fan 0.3 to 1.5 A mean, 4 to 6 A at the full air of 4 or 5 kW.

    The least stage may draw less than the mean's 1.5 A at 12.8 V = 19 W, so it is judged by that limit; stages of 1.5
    and 3 kW move less air and are judged by the upper limit alone.
    """
    heater = presets.get("heater", word)
    stages = heater.tables("stages")
    for stage in stages:
        assert stage["efficiency_share"].low >= 0.80
        assert stage["efficiency_share"].high <= 0.95
        assert abs(stage["efficiency_share"].usual - 0.88) <= 0.011
    assert stages[0]["fan_w"].usual <= 1.5 * 12.8
    full_a = stages[-1]["fan_w"].usual / 12.8
    assert full_a <= 6.0
    if stages[-1]["output_w"].usual >= 4000.0:
        assert full_a >= 4.0


@pytest.mark.parametrize("word", presets.load("heater"))
def test_the_warm_air_of_a_heater_is_warm_and_not_hot(word: str) -> None:
    """Rise over the heater P / (0.335 Wh/m³K × air): 25 to 55 K at each stage with all heat to the air."""
    for stage in presets.get("heater", word).tables("stages"):
        rise_k = stage["output_w"].usual / (0.335 * stage["air_m3_per_h"].usual)
        assert 20.0 <= rise_k <= 55.0


def test_an_11_kg_steel_bottle_grosses_22_to_25_kg() -> None:
    bottle = presets.get("bottle", "11 kg exchange")
    assert 22.0 <= bottle.usual("net_kg") + bottle.usual("tare_kg") <= 25.0


def test_bottles_of_5_6_11_13_and_33_kg_are_known() -> None:
    assert {5.0, 6.0, 11.0, 13.0, 33.0} <= {preset.usual("net_kg") for preset in presets.load("bottle").values()}


@pytest.mark.parametrize("word", presets.load("bottle"))
def test_the_liquid_of_a_full_bottle_fits_a_shell_of_its_diameter(word: str) -> None:
    """At 0.51 to 0.58 kg/L and 85 % full the shell holds 5 to 80 L; of its diameter it is 0.2 to 1.3 m tall."""
    bottle = presets.get("bottle", word)
    volume_m3 = bottle.usual("net_kg") / 510.0 / 0.85
    height_m = volume_m3 / (math.pi / 4.0 * bottle.usual("diameter_m") ** 2)
    assert 0.2 <= height_m <= 1.3


def test_no_curtain_exchanges_80_to_160_watts_per_kelvin_and_an_insulated_one_8_to_10() -> None:
    """Buoyant exchange through the open cab; air counted at 0.34 Wh/m³K."""
    for word, low, high in (("none", 80.0, 160.0), ("insulated curtain", 8.0, 10.0)):
        curtain = presets.get("cab_curtain", word)
        total = curtain.usual("closed_w_per_k") + 0.34 * curtain.usual("closed_m3_per_h")
        assert low <= total <= high


@pytest.mark.parametrize(
    ("kind", "model", "skipped"),
    [
        ("window", Glazing, ()),
        ("cab_screens", Glazing, ()),
        ("insulation", Opaque, ("clear_u_w_per_m2k",)),
        ("furniture", Zone, ()),
        ("draughts", Zone, ()),
        ("vents", Zone, ()),
        ("boiler", Boiler, ()),
        ("bottle", Bottle, ()),
        ("battery", Battery, ("usable_share", "capacity_factor")),
        ("load", Load, ()),
        ("heater", Heater, ("boiler", "elements")),
    ],
)
def test_a_preset_names_fields_of_the_part_that_it_fills(kind: str, model: Any, skipped: tuple[str, ...]) -> None:
    for preset in presets.load(kind).values():
        assert set(preset.values) - set(skipped) <= set(model.model_fields)
        for stage in preset.tables("stages"):
            assert set(stage) <= set(Stage.model_fields)


def test_presets_are_read_once() -> None:
    assert presets.load("heater") is presets.load("heater")


def test_an_unknown_kind_or_word_is_a_key_error() -> None:
    with pytest.raises(KeyError):
        presets.load("sails")
    with pytest.raises(KeyError):
        presets.get("heater", "stove")
