"""What a few answers about a van turn into."""

from __future__ import annotations

import json
from typing import Any

import jsonschema
import pytest
from sample_vans import DESCRIPTIONS, NUMBERS, SIX_ANSWERS, TEN_MINUTES, sample_descriptions, sample_vans

from budget.errors import InputFault
from budget.van.cabin import Zone
from budget.van.description import VanDescription
from budget.van.elements import opaque_u_w_per_m2k, zone_w_per_k
from budget.van.model import Van


def described(**answers: Any) -> Van:
    """The van of the six answers with some changed, read as a file would be."""
    written = {name: value for name, value in (SIX_ANSWERS | answers).items() if value is not None}
    return VanDescription.model_validate_json(json.dumps(written), strict=True).to_van()


def zone_of(van: Van, name: str) -> Zone:
    return van.cabin.zones[van.cabin.zone_index(name)]


def area_m2(van: Van, zones: tuple[str, ...]) -> float:
    return sum(
        element.area_m2 for zone in van.cabin.zones if zone.name in zones for element in (*zone.opaque, *zone.glazing)
    )


HABITATION = ("living", "wet_room", "garage")


def test_four_answers_about_the_van_are_enough() -> None:
    """Length, insulation, heater and bottles; places and dates, the other two of six, belong to the tour."""
    van = described()
    assert [zone.name for zone in van.cabin.zones] == ["living", "cab", "wet_room", "garage"]
    assert [bottle.name for bottle in van.gas.bottles] == ["11 kg exchange", "11 kg exchange"]


@pytest.mark.parametrize("name", DESCRIPTIONS)
def test_a_described_van_survives_being_written_and_read_in_full(name: str) -> None:
    """What the words became is a van in numbers like any other."""
    van = sample_vans()[name]
    assert Van.model_validate_json(van.model_dump_json(), strict=True) == van


@pytest.mark.parametrize("length_m", [5.0, 5.4, 5.9, 6.0, 6.4, 7.0, 7.5])
def test_shell_and_air_follow_the_length_however_they_are_split_into_zones(length_m: float) -> None:
    """Shell 31 + 7.5 (L - 6) m², air 12 + 3 (L - 6) m³ behind the cab; splitting moves area and creates none.

    Tolerance: sums of a dozen floats.
    """
    for zones in ({}, {"wet_room": False}, {"garage": False}, {"wet_room": True, "garage": True}):
        van = described(length_m=length_m, **zones)
        assert area_m2(van, HABITATION) == pytest.approx(31.0 + 7.5 * (length_m - 6.0), rel=1e-12)
        air_m3 = sum(zone.air_m3 for zone in van.cabin.zones if zone.name in HABITATION)
        assert air_m3 == pytest.approx(12.0 + 3.0 * (length_m - 6.0), rel=1e-12)


def test_the_cab_has_9_to_10_square_metres_of_skin_and_glass() -> None:
    """Common practice, no source."""
    assert 9.0 <= area_m2(described(), ("cab",)) <= 10.0


def test_windows_take_the_place_of_wall_and_add_no_area() -> None:
    bare, glazed = described(windows=[]), described()
    assert sum(pane.area_m2 for pane in zone_of(glazed, "living").glazing) > 1.0
    assert area_m2(bare, HABITATION) == pytest.approx(area_m2(glazed, HABITATION), rel=1e-12)


def test_a_window_is_counted_by_its_tape_measure() -> None:
    """Two of 0.9 m × 0.5 m are 0.9 m²."""
    van = described(windows=[{"faces": "right", "width_m": 0.9, "height_m": 0.5, "count": 2, "kind": "single glass"}])
    (pane,) = zone_of(van, "living").glazing
    assert pane.area_m2 == pytest.approx(0.9)
    assert pane.u_w_per_m2k == 5.7


def test_a_window_of_the_wet_room_lies_in_the_wet_room() -> None:
    van = described(windows=[{"faces": "right", "width_m": 0.3, "height_m": 0.3, "zone": "wet_room"}])
    assert len(zone_of(van, "wet_room").glazing) == 1
    assert zone_of(van, "living").glazing == ()


@pytest.mark.parametrize(("screens", "u_w_per_m2k"), [("none", 5.7), ("inside", 3.0), ("outside", 2.3), ("both", 1.7)])
def test_the_cab_glass_takes_the_u_value_of_its_screens(screens: str, u_w_per_m2k: float) -> None:
    """Common practice, no source."""
    for pane in zone_of(described(cab_screens=screens), "cab").glazing:
        assert pane.u_w_per_m2k == 5.7
        assert pane.u_screened_w_per_m2k == u_w_per_m2k


def test_a_number_is_used_as_it_is_given() -> None:
    """A wall of 1.5 W/m²K has ribs in it, so nothing is multiplied on."""
    van = described(insulation=None, wall_u_w_per_m2k=1.5, floor_u_w_per_m2k=0.9, cab_glass_u_w_per_m2k=1.9)
    assert {opaque_u_w_per_m2k(element) for element in zone_of(van, "living").opaque if element.faces != "floor"} == {
        1.5
    }
    assert {opaque_u_w_per_m2k(e) for e in zone_of(van, "garage").opaque if e.faces == "floor"} == {0.9}
    assert {pane.u_screened_w_per_m2k for pane in zone_of(van, "cab").glazing} == {1.9}


def test_ribs_multiply_the_clear_panel_and_never_the_u_with_ribs() -> None:
    """25 to 32 mm of foam: clear 1.1, with ribs 1.5; covered ribs 1.1 × 1.15 = 1.265 and not 1.5 × 1.15 = 1.725."""
    roof = zone_of(described(ribs="covered"), "living").opaque[0]
    assert opaque_u_w_per_m2k(roof) == pytest.approx(1.265)
    assert opaque_u_w_per_m2k(zone_of(described(), "living").opaque[0]) == 1.5


def test_ribs_change_nothing_where_nothing_insulates_the_panel_between_them() -> None:
    """Bare sheet beside a bare rib is bare sheet."""
    assert described(insulation="none", ribs="bare") == described(insulation="none")


def test_layers_are_reckoned_with_the_ribs_the_user_knows() -> None:
    """30 mm at 0.036 W/mK on the side: R = 0.13 + 0.8333 + 0.04 = 1.0033, U = 0.9967, bare ribs × 1.6 = 1.595."""
    van = described(insulation=None, wall_layers=[{"thickness_m": 0.03, "conductivity_w_per_mk": 0.036}], ribs="bare")
    left = next(e for e in zone_of(van, "living").opaque if e.faces == "left")
    assert opaque_u_w_per_m2k(left) == pytest.approx(1.6 / (0.17 + 0.03 / 0.036), rel=1e-12)


def test_better_insulation_tighter_seals_and_more_screens_never_lose_more() -> None:
    words = ("none", "foam 10-19 mm", "foam 25-32 mm", "foam 40-50 mm", "60 mm and more")
    losses = [sum(zone_w_per_k(z) for z in described(insulation=word).cabin.zones) for word in words]
    assert losses == sorted(losses, reverse=True)
    assert len(set(losses)) == len(words)
    leaks = [
        sum(zone.leakage_cm2 for zone in described(draughts=word).cabin.zones) for word in ("tight", "normal", "leaky")
    ]
    assert leaks == sorted(leaks)


@pytest.mark.parametrize("zones", [{}, {"wet_room": False}, {"garage": False}, {"wet_room": False, "garage": False}])
def test_leakage_and_capacity_of_the_van_do_not_depend_on_its_zones(zones: dict[str, bool]) -> None:
    """Draughts and furniture are told for the whole van; zones only share them out."""
    whole, split = described(), described(**zones)
    for name in ("leakage_cm2", "fabric_capacity_j_per_k", "air_capacity_j_per_k"):
        assert sum(getattr(z, name) for z in split.cabin.zones) == pytest.approx(
            sum(getattr(z, name) for z in whole.cabin.zones), rel=1e-12
        )


def test_fixed_vents_are_there_without_being_asked_for() -> None:
    """What may never be closed is an area; only a stated number changes it."""
    living = zone_of(described(), "living")
    assert living.vent_low_cm2 > 0.0
    assert living.vent_high_cm2 > 0.0
    assert zone_of(described(vent_low_cm2=10.0), "living").vent_low_cm2 == 10.0


def test_a_garage_and_a_wet_room_are_assumed_only_in_vans_long_enough() -> None:
    assert [z.name for z in described(length_m=5.0).cabin.zones] == ["living", "cab"]
    assert [z.name for z in described(length_m=5.5).cabin.zones] == ["living", "cab", "wet_room"]
    assert "garage" in [z.name for z in described(length_m=5.5, garage=True).cabin.zones]


def test_the_locker_stands_beside_a_zone_that_the_van_has() -> None:
    assert described().gas.locker_zone == "garage"
    assert described(garage=False).gas.locker_zone == "living"


def test_efficiency_and_altitude_of_the_rating_plate_go_into_every_stage() -> None:
    """Both are printed on a plate; without them the preset's efficiency and a burner that fades with altitude."""
    heater = described(efficiency_share=0.91, altitude_compensated=True).heater
    assert {stage.efficiency_share for stage in heater.stages} == {0.91}
    assert heater.altitude_compensated
    assert not described().heater.altitude_compensated


def test_plywood_lies_on_the_floor_whether_u_or_layers_are_told() -> None:
    """12 mm at 0.13 W/mK (ISO 10456) add 0.0923 m²K/W: U 1.5 becomes 1 / (1/1.5 + 0.0923) = 1.3176.

    With layers the floor's film of 0.17 stands in for the wall's 0.13 too: 1 / (0.17 + 0.0923 + R + 0.04).
    """
    by_u = described(insulation=None, wall_u_w_per_m2k=1.5)
    assert [opaque_u_w_per_m2k(e) for e in zone_of(by_u, "garage").opaque if e.faces == "floor"] == [
        pytest.approx(1.3176, abs=5e-5)
    ]
    by_layers = described(insulation=None, wall_layers=[{"thickness_m": 0.03, "conductivity_w_per_mk": 0.036}])
    (floor_u_w_per_m2k,) = [opaque_u_w_per_m2k(e) for e in zone_of(by_layers, "garage").opaque if e.faces == "floor"]
    assert floor_u_w_per_m2k == pytest.approx(1.0 / (0.17 + 0.012 / 0.13 + 0.03 / 0.036 + 0.04), rel=1e-12)


def test_words_are_read_in_any_case_and_written_in_one() -> None:
    van = described(battery="lifepo4", heater="Warm-air and water heater 4 KW")
    assert van == described()


def test_what_is_usable_of_a_battery_is_above_its_cut_out() -> None:
    """LiFePO4 0.9, AGM 0.5 of the rated charge; common practice, no source."""
    assert described(battery="LiFePO4", battery_ah=200.0).power.battery.cut_out_share == pytest.approx(0.1)
    agm = described(battery="AGM", battery_ah=200.0).power.battery
    assert agm.cut_out_share == pytest.approx(0.5)
    assert agm.capacity_ah == 200.0


def test_a_battery_twice_as_large_takes_twice_the_current_and_twice_the_heat() -> None:
    """Cells side by side share current and mass in proportion; LiFePO4 accepts half its Ah in A."""
    one, two = (described(battery_ah=ah).power.battery for ah in (100.0, 200.0))
    assert one.max_charge_a == 50.0
    assert two.max_charge_a == 2.0 * one.max_charge_a
    assert two.heat_capacity_j_per_k == 2.0 * one.heat_capacity_j_per_k


def test_a_compressor_fridge_draws_amps_and_an_absorption_fridge_burns_gas() -> None:
    compressor, absorption = described(fridge="compressor"), described(fridge="absorption on gas")
    assert compressor.fridge is None
    assert "fridge" in [load.name for load in compressor.power.loads]
    assert absorption.fridge is not None
    assert absorption.fridge.use == "gas"
    assert "fridge" not in [load.name for load in absorption.power.loads]


def test_a_boiler_of_other_size_loses_by_its_surface() -> None:
    """28 W at 12 L; double the size has 2^(2/3) = 1.587 times the surface: 44.4 W."""
    boiler = described(boiler_l=24.0).water.boiler
    assert boiler.water_l == 24.0
    assert boiler.standing_loss_w == pytest.approx(28.0 * 2.0 ** (2.0 / 3.0))


def test_a_heater_without_a_water_side_passes_no_heat_to_a_boiler() -> None:
    van = described(heater="warm-air heater 1.5 kW")
    assert van.heater.water_w == 0.0
    assert van.water.boiler.standing_loss_w == 0.0
    assert van.water.drain_valve is None, "there is nothing to let go"
    assert described(heater="warm-air heater 1.5 kW", boiler_l=10.0).water.drain_valve is not None


def test_a_tank_under_the_floor_feels_the_outdoor_air() -> None:
    water = described(fresh_tank="under floor", waste_tank="inside").water
    assert (water.fresh.zone, water.waste.zone) == ("outdoors", "living")


def test_full_tables_take_the_place_of_words() -> None:
    stage = {"output_w": 2500.0, "air_m3_per_h": 160.0, "fan_w": 22.0}
    van = described(
        heater={"name": "from the plate", "stages": [stage]},
        battery={"capacity_ah": 77.0},
        solar={"peak_w": 333.0},
        loads=[{"name": "pump for the dinghy", "power_w": 80.0, "on": ["10:00-10:30"]}],
        fridge={"gas_g_per_h": 11.0},
        boiler={"water_l": 9.0},
        ducts=[{"name": "only", "zone": "living", "length_m": 1.0}],
        bottles=["5 kg exchange", {"name": "old one", "net_kg": 8.0, "start_kg": 3.0}],
    )
    assert van.heater.rated_w == 2500.0
    assert van.power.battery.capacity_ah == 77.0
    assert van.power.solar.peak_w == 333.0
    assert van.power.loads[0].name == "pump for the dinghy"
    assert van.fridge is not None
    assert van.fridge.gas_g_per_h == 11.0
    assert van.water.boiler.water_l == 9.0
    assert [duct.name for duct in van.ducts] == ["only"]
    assert [bottle.name for bottle in van.gas.bottles] == ["5 kg exchange", "old one"]


def test_whole_tables_of_water_gas_and_power_stand_as_they_are() -> None:
    demo = sample_vans()["demo"]
    plain = {name: getattr(demo, name).model_dump(mode="json") for name in ("water", "gas", "power")}
    van = described(bottles=None, **plain)
    assert (van.water, van.gas, van.power) == (demo.water, demo.gas, demo.power)


def test_a_cabin_in_full_takes_the_place_of_every_answer_about_the_shell() -> None:
    room = sample_vans()["one_room"].cabin
    van = described(insulation=None, cabin=room.model_dump(mode="json"))
    assert van.cabin == room
    assert van.gas.locker_zone == "living"


def test_a_window_larger_than_its_wall_is_refused() -> None:
    with pytest.raises(InputFault) as refusal:
        described(windows=[{"faces": "rear", "width_m": 3.0, "height_m": 1.5}])
    assert str(refusal.value) == (
        "windows facing rear in the zone living must be smaller than the 2.05 m² there, got 4.50 m²; "
        "correct their sizes, or their faces or zone."
    )


def test_a_window_in_a_zone_that_the_van_has_not_is_refused() -> None:
    with pytest.raises(InputFault) as refusal:
        described(wet_room=False, windows=[{"faces": "left", "width_m": 0.3, "height_m": 0.3, "zone": "wet_room"}])
    assert str(refusal.value) == ("a window's zone must be one that the van has, got wet_room; set wet_room = true.")


def limits_of(name: str) -> list[float]:
    metadata = VanDescription.model_fields[name].metadata
    return [getattr(item, end) for item in metadata for end in ("ge", "le") if hasattr(item, end)]


ENDS = [(name, end) for name in VanDescription.model_fields for end in limits_of(name)]
BESIDE: dict[str, dict[str, Any]] = {"wall_u_w_per_m2k": {"insulation": None}}


@pytest.mark.parametrize(("name", "end"), ENDS, ids=[f"{name}={end}" for name, end in ENDS])
def test_an_answer_at_either_end_of_its_limits_is_a_van(name: str, end: float) -> None:
    """What is accepted as an answer is accepted by the part that it fills."""
    assert described(**BESIDE.get(name, {}), **{name: end})


@pytest.mark.parametrize("length_m", [4.5, 5.0, 6.0, 7.0, 8.0])
@pytest.mark.parametrize("roof", ["high roof", "low roof"])
def test_the_usual_windows_and_zones_fit_every_van(length_m: float, roof: str) -> None:
    """In a van too short for a window beside its wet room the window is left out, not refused."""
    van = described(length_m=length_m, roof=roof, wet_room=True, garage=True)
    for zone in van.cabin.zones:
        assert all(element.area_m2 > 0.0 for element in zone.opaque)


def test_the_schema_offers_the_words_and_accepts_what_the_model_accepts() -> None:
    """Editors complete from the JSON Schema; a wrong word is underlined there, a right file is not."""
    schema = VanDescription.model_json_schema()
    validator = jsonschema.Draft202012Validator(schema)
    for answers in DESCRIPTIONS.values():
        assert list(validator.iter_errors(answers)) == []
    assert list(validator.iter_errors(SIX_ANSWERS | {"insulation": "straw"}))
    assert list(validator.iter_errors(SIX_ANSWERS | {"heater": "stove"}))
    assert list(validator.iter_errors(SIX_ANSWERS | {"heater": {"stages": 3}}))


def test_each_tier_answers_all_that_the_tier_before_it_answers() -> None:
    assert set(SIX_ANSWERS) < set(TEN_MINUTES)
    assert set(SIX_ANSWERS) - set(NUMBERS) == {"insulation"}
    assert all(description.to_van() for description in sample_descriptions().values())
