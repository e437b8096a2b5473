"""What no van can be is refused in one whole sentence, naming the field, the limits with unit and what arrived."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from pydantic import BaseModel, ValidationError
from sample_vans import SIX_ANSWERS, one_room, sample_vans

from budget.errors import InputFault
from budget.tour.reader import load
from budget.tour.sentences import faults_of
from budget.tour.starter import starter
from budget.van.description import VanDescription
from budget.van.model import Van

VAN_CASES: list[tuple[str, Any, str]] = [
    (
        "cabin.zones.0.opaque.0.area_m2",
        -31.0,
        "cabin.zones[0].opaque[0].area_m2 must be from 0.001 to 200 m², got -31; correct it (meant is: area).",
    ),
    (
        "cabin.zones.0.opaque.0.area_m2",
        0.0,
        "cabin.zones[0].opaque[0].area_m2 must be from 0.001 to 200 m², got 0; correct it (meant is: area).",
    ),
    (
        "cabin.zones.0.opaque.0.u_w_per_m2k",
        50.0,
        "cabin.zones[0].opaque[0].u_w_per_m2k must be from 0.05 to 10 W/m²K, got 50; correct it (meant is: "
        "U-value, inside air to outside air).",
    ),
    (
        "cabin.zones.0.opaque.0.u_w_per_m2k",
        0.0,
        "cabin.zones[0].opaque[0].u_w_per_m2k must be from 0.05 to 10 W/m²K, got 0; correct it (meant is: "
        "U-value, inside air to outside air).",
    ),
    (
        "cabin.zones.0.opaque.0.faces",
        "up",
        "cabin.zones[0].opaque[0].faces must be one of roof, floor, front, rear, left, right, sides, got "
        '"up"; choose one.',
    ),
    (
        "cabin.zones.0.opaque.0.ribs_factor",
        1.35,
        "cabin.zones[0].opaque[0] must not give ribs_factor beside u_w_per_m2k, which has the ribs in it, got "
        "1.35; leave it out, or give the clear panel's layers.",
    ),
    (
        "cabin.zones.0.opaque.0.layers",
        [{"thickness_m": 0.03, "conductivity_w_per_mk": 0.035}],
        "cabin.zones[0].opaque[0] must give either u_w_per_m2k or layers, got both; leave one of them out.",
    ),
    (
        "cabin.zones.0.opaque.0.u_w_per_m2k",
        None,
        "cabin.zones[0].opaque[0] must give either u_w_per_m2k or layers, got neither; add one of them.",
    ),
    (
        "cabin.zones.0.opaque.0.solar_absorptance_share",
        30.0,
        "cabin.zones[0].opaque[0].solar_absorptance_share must be from 0 to 1 (a share), got 30; write 0.3 for 30 %.",
    ),
    (
        "cabin.zones.0.opaque.0",
        {
            "name": "x",
            "area_m2": 1.0,
            "faces": "roof",
            "layers": [{"thickness_m": 30.0, "conductivity_w_per_mk": 0.035}],
        },
        "cabin.zones[0].opaque[0].layers[0].thickness_m must be from 0.0002 to 0.5 m, got 30; if that is mm, "
        "write 0.03; if that is cm, write 0.3.",
    ),
    (
        "cabin.zones.0.air_capacity_j_per_k",
        0.0,
        "cabin.zones[0].air_capacity_j_per_k must be from 500 to 5000000 J/K, got 0; correct it (meant is: "
        "heat capacity of the air and light contents).",
    ),
    (
        "cabin.zones.0.fabric_capacity_j_per_k",
        -900000.0,
        "cabin.zones[0].fabric_capacity_j_per_k must be from 500 to 100000000 J/K, got -900000; correct it "
        "(meant is: heat capacity of lining, furniture and stores).",
    ),
    (
        "cabin.zones.0.fabric_coupling_w_per_k",
        0.0,
        "cabin.zones[0].fabric_coupling_w_per_k must be from 0.1 to 20000 W/K, got 0; correct it (meant is: "
        "heat exchange between air and fabric).",
    ),
    (
        "cabin.zones.0.air_m3",
        12000.0,
        "cabin.zones[0].air_m3 must be from 0.05 to 200 m³, got 12000; correct it (meant is: air volume).",
    ),
    (
        "cabin.zones.0.leakage_cm2",
        -1.0,
        "cabin.zones[0].leakage_cm2 must be from 0 to 5000 cm², got -1; correct it (meant is: effective "
        "leakage area of cracks and seals at 4 Pa).",
    ),
    (
        "cabin.zones.0.name",
        "outdoors",
        'cabin must not have a zone named "outdoors", which stands for the outdoor air; rename it.',
    ),
    (
        "cabin.zones.0.glazing",
        [{"name": "w", "area_m2": 0.5, "faces": "left", "u_w_per_m2k": 2.0, "u_screened_w_per_m2k": 3.0}],
        "cabin.zones[0].glazing[0] must not lose more with screens up: u_screened_w_per_m2k at most "
        "u_w_per_m2k (2 W/m²K), got 3 W/m²K; swap or correct them.",
    ),
    (
        "cabin.zones.0.glazing",
        [{"name": "w", "area_m2": 0.5, "faces": "left", "u_w_per_m2k": 3.0, "g_share": 0.1, "g_screened_share": 0.4}],
        "cabin.zones[0].glazing[0] must not let more sun in with screens up: g_screened_share at most g_share "
        "(0.1), got 0.4; swap or correct them.",
    ),
    (
        "cabin.openings",
        [{"name": "door", "between": ["living", "loft"], "closed_w_per_k": 5.0}],
        'cabin must join zones that exist (living): the opening "door" got "loft"; correct it.',
    ),
    (
        "cabin.openings",
        [{"name": "door", "between": ["living", "living"], "closed_w_per_k": 5.0}],
        'cabin must join two different zones: the opening "door" got "living" twice; correct it.',
    ),
    (
        "cabin.openings",
        [{"name": "door", "between": ["living"], "closed_w_per_k": 5.0}],
        "cabin.openings[0].between[1] is required; add it (meant is: the two zone names).",
    ),
    (
        "heater.stages.0.output_w",
        4.0,
        "heater.stages[0].output_w must be from 50 to 50000 W, got 4; correct it (meant is: heat to air and "
        "water together at sea level).",
    ),
    (
        "heater.stages.0.efficiency_share",
        88.0,
        "heater.stages[0].efficiency_share must be from 0.3 to 1 (a share), got 88; write 0.88 for 88 %.",
    ),
    (
        "heater.stages.0.air_m3_per_h",
        0.0,
        "heater.stages[0].air_m3_per_h must be from 1 to 2000 m³/h, got 0; correct it (meant is: circulated "
        "air with the ducts described as fitted).",
    ),
    (
        "heater.stages.0.fan_free_m3_per_h",
        150.0,
        "heater.stages[0] must move more air without ducts than with them: fan_free_m3_per_h over "
        "air_m3_per_h (200 m³/h), got 150 m³/h; correct one of them or leave fan_free_m3_per_h out.",
    ),
    (
        "heater.control",
        "on and off",
        'heater.control must be one of modulating, staged, got "on and off"; choose one.',
    ),
    (
        "heater.electric_w",
        [2000.0, 1000.0],
        "heater must have rising electric_w, got 2000, 1000 W; put them in order and each once.",
    ),
    (
        "heater.electric_w",
        [1.0, 2.0],
        "heater must have electric_w from 50 to 10000 W, got 1 W; give watts, not kilowatts.",
    ),
    (
        "heater.sensor_zone",
        "outdoors",
        "heater.sensor_zone must be one of living, got 'outdoors'; correct it.",
    ),
    (
        "ducts",
        [{"name": "a", "zone": "living", "length_m": 1.0, "open_share": 0.0}],
        "must have an open warm-air outlet, got every duct with open_share 0; open one.",
    ),
    (
        "ducts",
        [{"name": "a", "zone": "loft", "length_m": 1.0}],
        "ducts 'a' zone must be one of living, got 'loft'; correct it.",
    ),
    (
        "ducts",
        [{"name": "a", "zone": "living", "length_m": 1.0}, {"name": "a", "zone": "living", "length_m": 1.0}],
        'must have ducts of different names, got "a" twice; rename one.',
    ),
    (
        "water.fresh.capacity_l",
        0.0,
        "water.fresh.capacity_l must be from 1 to 1000 L, got 0; correct it (meant is: capacity).",
    ),
    (
        "water.fresh.start_l",
        120.0,
        "water.fresh must hold at most its capacity: start_l up to capacity_l (100 L), got 120 L; correct one of them.",
    ),
    (
        "water.drain_valve",
        {"opens_c": 9.0},
        "water.drain_valve must close warmer than it opens: closes_c over opens_c (9 °C), got 8 °C; correct "
        "one of them.",
    ),
    (
        "water.boiler",
        {"water_l": 12.0, "zone": "attic"},
        "water.boiler.zone must be one of living, got 'attic'; correct it.",
    ),
    (
        "gas.bottles",
        [],
        "gas.bottles must have at least 1 entry, got 0; add what is missing.",
    ),
    (
        "gas.bottles.0.net_kg",
        0.0,
        "gas.bottles[0].net_kg must be from 0.2 to 100 kg, got 0; correct it (meant is: full contents).",
    ),
    (
        "gas.bottles.0.start_kg",
        12.0,
        "gas.bottles[0] must hold at most its full contents, start_kg up to net_kg (11 kg), got 12 kg; weigh "
        "it and take off the tare.",
    ),
    (
        "gas.bottles.0.propane_share",
        60.0,
        "gas.bottles[0].propane_share must be from 0 to 1 (a share), got 60; write 0.6 for 60 %.",
    ),
    (
        "power",
        {"battery": {"chemistry": "lithium"}},
        'power.battery.chemistry must be one of lifepo4, agm, gel, wet, got "lithium"; choose one.',
    ),
    (
        "power",
        {"battery": {"capacity_ah": 0.0}},
        "power.battery.capacity_ah must be from 1 to 5000 Ah, got 0; correct it (meant is: rated capacity at "
        "25 °C and 20 h).",
    ),
    (
        "power",
        {"battery": {"cut_out_share": 0.5}},
        "power.battery must reconnect above its cut-out: reconnect_share over cut_out_share (0.5), got 0.2; "
        "raise the one or lower the other.",
    ),
    (
        "power",
        {"battery": {"pad_w": 40.0, "pad_on_c": 10.0}},
        "power.battery must stop its heating pad above where it starts: pad_off_c over pad_on_c (10 °C), got 9 °C; "
        "raise the one or lower the other.",
    ),
    (
        "power",
        {"loads": [{"name": "light", "power_w": 5.0}, {"name": "light", "power_w": 6.0}]},
        'power must have loads of different names, got "light" twice; rename one.',
    ),
    (
        "power",
        {"loads": [{"name": "light", "power_w": 5.0, "on": "evening"}]},
        'power.loads[0].on must read "HH:MM-HH:MM", with days before it if wanted, got "evening"; correct it.',
    ),
    (
        "power",
        {"solar": {"kept_share": 75.0}},
        "power.solar.kept_share must be from 0 to 1 (a share), got 75; write 0.75 for 75 %.",
    ),
    (
        "pipes_frost_c",
        41.0,
        "pipes_frost_c must be from 0 to 15 °C, got 41; if that is °F, write 5.",
    ),
    (
        "colour",
        "green",
        "colour is not a known name here; known here are title, cabin, heater, ducts, water, gas, power, "
        "fridge, pipes_frost_c.",
    ),
]

DESCRIPTION_CASES: list[tuple[str, Any, str]] = [
    (
        "length_m",
        600.0,
        "length_m must be from 4.5 to 8 m, got 600; if that is cm, write 6.",
    ),
    (
        "length_m",
        "6 m",
        'length_m must be a number in m, got "6 m"; correct it (meant is: length of the van).',
    ),
    (
        "insulation",
        "sheep's wool",
        'insulation must be one of "none", "foam 10-19 mm", "foam 25-32 mm", "foam 40-50 mm", "60 mm and '
        'more", got "sheep\'s wool"; write one of them.',
    ),
    (
        "insulation",
        "foam 25-32",
        'insulation must be one of "none", "foam 10-19 mm", "foam 25-32 mm", "foam 40-50 mm", "60 mm and '
        'more", got "foam 25-32"; the nearest is "foam 25-32 mm".',
    ),
    (
        "insulation",
        1.5,
        "insulation must be text in double quotes, got 1.5; correct it (meant is: insulation of walls, roof "
        "and doors).",
    ),
    (
        "insulation",
        None,
        'must say how it is insulated, got nothing; add insulation, one of "none", "foam 10-19 mm", "foam '
        '25-32 mm", "foam 40-50 mm", "60 mm and more".',
    ),
    (
        "wall_u_w_per_m2k",
        1.5,
        "must be told either insulation or wall_u_w_per_m2k, got both; leave one of them out.",
    ),
    (
        "heater",
        {"stages": []},
        "heater.stages must have at least 1 entry, got 0; add what is missing.",
    ),
    (
        "heater",
        {"stages": [{"output_w": 2.0, "air_m3_per_h": 90.0, "fan_w": 8.0}]},
        "heater.stages[0].output_w must be from 50 to 50000 W, got 2; correct it (meant is: heat to air and "
        "water together at sea level).",
    ),
    (
        "bottles",
        [],
        'must carry gas bottles, got none; add such as bottles = ["11 kg exchange"], or ["5 kg exchange"] where '
        "nothing on board burns gas: none of it is used then.",
    ),
    (
        "bottles",
        ["11 kg exchange", {"net_kg": -1.0}],
        "bottles[1].net_kg must be from 0.2 to 100 kg, got -1; correct it (meant is: full contents).",
    ),
    (
        "boiler",
        {"water_l": 0.0},
        "boiler.water_l must be from 0.5 to 100 L, got 0; correct it (meant is: content).",
    ),
    (
        "windows",
        [{"faces": "front", "width_m": 1.0, "height_m": 0.5}],
        'windows[0].faces must be one of left, right, rear, roof, got "front"; choose one.',
    ),
    (
        "windows",
        [{"faces": "left", "width_m": 900.0, "height_m": 0.5}],
        "windows[0].width_m must be from 0.05 to 5 m, got 900; if that is mm, write 0.9.",
    ),
    (
        "draughts",
        "windy",
        'draughts must be one of "tight", "normal", "leaky", got "windy"; write one of them.',
    ),
    (
        "fridge",
        "ice box",
        'fridge must be one of "compressor", "absorption", "absorption on gas", "none", got "ice box"; write '
        "one of them.",
    ),
    (
        "loads",
        ["lights", "sauna"],
        'loads[1] must be one of "lights", "phones", "laptop", "television", "router", "standby", "desk", got '
        '"sauna"; write one of them.',
    ),
    (
        "ribs",
        True,
        "ribs must be text in double quotes, got true; correct it (meant is: metal ribs: covered, partly "
        "covered or bare).",
    ),
    (
        "battery_ah",
        -100.0,
        "battery_ah must be from 1 to 5000 Ah, got -100; correct it (meant is: rated capacity of the leisure battery).",
    ),
]


def changed(answers: dict[str, Any], path: str, value: Any) -> dict[str, Any]:
    """A copy with one value changed at its dotted path; None leaves it out."""
    data: dict[str, Any] = json.loads(json.dumps(answers))
    *parents, last = path.split(".")
    here: Any = data
    for part in parents:
        here = here[int(part)] if isinstance(here, list) else here.setdefault(part, {})
    if isinstance(here, list):
        here[int(last)] = value
    elif value is None:
        del here[last]
    else:
        here[last] = value
    return data


def refusal(model: type[BaseModel], path: str, value: Any) -> str:
    """The one sentence about a changed van or description, read as a file would be."""
    good = one_room().model_dump(mode="json", exclude_unset=True) if model is Van else SIX_ANSWERS
    model.model_validate_json(json.dumps(good), strict=True)
    data = changed(good, path, value)
    with pytest.raises(ValidationError) as error:
        model.model_validate_json(json.dumps(data), strict=True)
    return "\n".join(fault.sentence() for fault in faults_of(error.value, model, data))


@pytest.mark.parametrize(("path", "value", "sentence"), VAN_CASES, ids=[f"{p}={v}"[:60] for p, v, _ in VAN_CASES])
def test_a_van_that_cannot_be_is_refused_in_one_sentence(path: str, value: Any, sentence: str) -> None:
    assert refusal(Van, path, value) == sentence


@pytest.mark.parametrize(
    ("path", "value", "sentence"), DESCRIPTION_CASES, ids=[f"{p}={v}"[:60] for p, v, _ in DESCRIPTION_CASES]
)
def test_an_answer_that_cannot_be_is_refused_in_one_sentence(path: str, value: Any, sentence: str) -> None:
    assert refusal(VanDescription, path, value) == sentence


@pytest.mark.parametrize(
    ("answers", "sentence"),
    [
        ({"ribs": "bare", "insulation": None, "wall_u_w_per_m2k": 1.5}, ("ribs", "wall_u_w_per_m2k")),
        ({"draughts": "tight", "leakage_cm2": 30.0}, ("draughts", "leakage_cm2")),
        ({"furniture": "light", "fabric_capacity_j_per_k": 5e5}, ("furniture", "fabric_capacity_j_per_k")),
        ({"boiler": "12 L", "boiler_l": 14.0}, ("boiler", "boiler_l")),
        ({"solar_w": 100.0, "solar": {"peak_w": 100.0}}, ("solar_w", "solar")),
        ({"solar_w": 100.0, "power": {}}, ("solar_w", "power")),
        ({"gas": {"bottles": [{}]}}, ("bottles", "gas")),
    ],
)
def test_one_thing_told_in_two_ways_is_refused(answers: dict[str, Any], sentence: tuple[str, str]) -> None:
    told = {name: value for name, value in (SIX_ANSWERS | answers).items() if value is not None}
    with pytest.raises(ValidationError) as error:
        VanDescription.model_validate(told)
    (fault,) = faults_of(error.value, VanDescription, told)
    assert fault.sentence() == f"must be told either {sentence[0]} or {sentence[1]}, got both; leave one of them out."


@pytest.mark.parametrize(
    ("answers", "sentence"),
    [
        (
            {"heater": {"stages": [{"output_w": 2e3, "air_m3_per_h": 150.0, "fan_w": 20.0}]}, "efficiency_share": 0.9},
            "must not have efficiency_share beside a heater given as a table; write it in that table.",
        ),
        (
            {"battery": {}, "battery_ah": 90.0},
            "must not have battery_ah beside a battery given as a table; write it in that table.",
        ),
        (
            {"power": {}, "fridge": "compressor"},
            "must not have a compressor fridge beside power in full; write it as one of power.loads.",
        ),
    ],
)
def test_an_answer_that_a_full_table_would_swallow_is_refused(answers: dict[str, Any], sentence: str) -> None:
    told = SIX_ANSWERS | answers
    with pytest.raises(ValidationError) as error:
        VanDescription.model_validate(told)
    (fault,) = faults_of(error.value, VanDescription, told)
    assert fault.sentence() == sentence


def test_zones_that_parts_stand_in_must_be_zones_of_the_van() -> None:
    """Every part with a zone, one after the other, moved to a zone that the van has not."""
    good = sample_vans()["demo"].model_dump(mode="json")
    places = {
        "heater.sensor_zone": False,
        "ducts.0.zone": False,
        "ducts.0.runs_through": True,
        "water.boiler.zone": False,
        "water.fresh.zone": True,
        "water.waste.zone": True,
        "water.pipes.zone": False,
        "water.drain_valve.zone": False,
        "gas.locker_zone": True,
        "power.battery.zone": True,
        "power.loads.0.zone": True,
    }
    for path, may_be_outdoors in places.items():
        with pytest.raises(ValidationError, match="must be one of living, cab, wet_room, garage"):
            Van.model_validate(changed(good, path, "loft"))
        outdoors = changed(good, path, "outdoors")
        if may_be_outdoors:
            Van.model_validate(outdoors)
        else:
            with pytest.raises(ValidationError, match="got 'outdoors'"):
                Van.model_validate(outdoors)


@pytest.mark.parametrize(
    ("assignment", "said"),
    [
        ("van.battery_ahh=120", "van.battery_ahh is not a known name here; did you mean battery_ah?"),
        ("van.pipes_frst_c=3", "van.pipes_frst_c is not a known name here; did you mean pipes_frost_c?"),
        ("van.power.battery.capcity_ah=3",
         "van.power.battery.capcity_ah is not a known name here; did you mean capacity_ah?"),
        ("van.xyz=3", "van.xyz is not a known name here; known here are title, length_m, roof, insulation, heater, "
                      "bottles, changeover, "),
    ],
)  # fmt: skip
def test_a_described_vans_own_names_are_offered_for_one_that_is_not_known(
    assignment: str, said: str, tmp_path: Path
) -> None:
    tour = tmp_path / "tour.toml"
    tour.write_text(starter("quick"), "utf-8")
    with pytest.raises(InputFault) as fault:
        load(tour, [assignment])
    (told,) = fault.value.faults
    assert told.startswith(f"--set {assignment}: {said}")
