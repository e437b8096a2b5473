"""What a van loses a kelvin as its heater heats it, by hand: two zones and the air that is blown between them."""

from __future__ import annotations

from types import SimpleNamespace as Found
from typing import Any

import numpy as np
import pandas as pd
import pytest
from sample_vans import one_room, sample_vans

from budget.answers import heated
from budget.answers.heated import heated_w_per_k, loss_cases
from budget.engine.stepping import OUTDOORS
from budget.van.derived import LOSS_CASES
from budget.van.model import Van


def two_zones(*outputs_w: float) -> Van:
    """Living 40 W/K and a wet room of 10 W/K, nothing between them; the sensor is in the living area."""
    room = {"air_m3": 5.0, "air_capacity_j_per_k": 1e5, "fabric_capacity_j_per_k": 1e5, "fabric_coupling_w_per_k": 50.0}
    zones = [
        room | {"name": name, "opaque": [{"name": "shell", "area_m2": area, "faces": "left", "u_w_per_m2k": 1.0}]}
        for name, area in (("living", 40.0), ("wet_room", 10.0))
    ]
    stages = [{"output_w": w, "efficiency_share": 0.9, "air_m3_per_h": 200.0, "fan_w": 30.0} for w in outputs_w]
    return one_room(cabin={"zones": zones}, heater={"stages": stages})


def blown(monkeypatch: pytest.MonkeyPatch, edges: dict[tuple[int, int], list[float]], *share: float) -> None:
    """Warm air of so many W/K by stage along one-way edges, and shares of the heat to the two zones."""
    count = len(next(iter(edges.values())))
    air = Found(
        edges=tuple(edges), flow_w_per_k=np.array(list(edges.values())).T, heat_share=np.tile(share, (count, 1))
    )
    monkeypatch.setattr(heated, "warm_air", lambda van, sensor: air)


BOTH_WAYS = {(0, 1): [20.0, 20.0], (1, 0): [20.0, 20.0]}


def test_a_heated_zone_beside_the_sensors_takes_its_share_of_the_heat_and_of_the_air(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """60 a - 20 b = 0.7 and -20 a + 30 b = 0.3 for a watt: a = (0.7 × 30 + 0.3 × 20) / 1400, so 1400 / 27 W/K."""
    van = two_zones(1000.0, 4000.0)
    blown(monkeypatch, BOTH_WAYS, 0.7, 0.3)
    assert heated_w_per_k(van, inside_c=20.0, outside_c=-20.0) == pytest.approx(1400.0 / 27.0, rel=1e-9)
    blown(monkeypatch, BOTH_WAYS, 1.0, 0.0)
    assert heated_w_per_k(van, inside_c=20.0, outside_c=-20.0) == pytest.approx(1400.0 / 30.0, rel=1e-9)


def test_air_that_is_taken_from_outdoors_is_warmed_and_has_no_zone_to_come_from(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """40 + 20 W/K of the living area alone."""
    blown(monkeypatch, {(OUTDOORS, 0): [20.0, 20.0]}, 1.0, 0.0)
    van = two_zones(1000.0, 4000.0)
    assert heated_w_per_k(van, inside_c=20.0, outside_c=-20.0) == pytest.approx(60.0, rel=1e-9)


def test_under_the_least_stage_the_fan_blows_for_part_of_the_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """From outdoors, 40 W/K and 20 more while it is on: (40 + 20 s) × 20 K = 4000 s W, so s = 800 / 3600."""
    blown(monkeypatch, {(OUTDOORS, 0): [20.0]}, 1.0, 0.0)
    share = 800.0 / 3600.0
    van = two_zones(4000.0)
    assert heated_w_per_k(van, inside_c=20.0, outside_c=0.0) == pytest.approx(40.0 + 20.0 * share, rel=1e-7)


def test_between_stages_flow_and_shares_are_those_between(monkeypatch: pytest.MonkeyPatch) -> None:
    """20 W/K at 1 kW and 50 at 4 kW: (40 + 20 + 30 (w - 1000) / 3000) × 40 K = w, so w = 2000 / 0.6 W."""
    blown(monkeypatch, {(OUTDOORS, 0): [20.0, 50.0]}, 1.0, 0.0)
    watts = 2000.0 / 0.6
    found = heated_w_per_k(two_zones(1000.0, 4000.0), inside_c=20.0, outside_c=-20.0)
    assert found == pytest.approx(watts / 40.0, rel=1e-6)
    assert heated_w_per_k(two_zones(500.0, 1000.0), inside_c=20.0, outside_c=-20.0) == pytest.approx(90.0, rel=1e-9)


def test_without_being_asked_it_is_20_degrees_in_0_out_in_4_m_per_s_with_screens_up_and_openings_closed() -> None:
    for van in (sample_vans()["demo"], sample_vans()["tiny_bare"]):
        assert heated_w_per_k(van) == heated_w_per_k(van, 1.0, 1.0, 20.0, 0.0, 4.0)
        assert heated_w_per_k(van) < heated_w_per_k(van, 0.0, 1.0), "screens"
        assert heated_w_per_k(van) < heated_w_per_k(van, 1.0, 1.0, 20.0, 0.0, 8.0), "wind"


def test_the_reference_cases_say_what_they_are() -> None:
    night, day = loss_cases(sample_vans()["demo"])
    stated = "20 °C in, 0 °C out, wind 4 m/s"
    together = "warm air to every outlet, burner and fan together; "
    assert (night.name, day.name) == (
        "as heated, screens up, openings closed", "as heated, screens down, openings open"
    )  # fmt: skip
    assert (night.note, day.note) == (
        f"{together}the case of budget heater-size (-15 °C out, 2 m/s unless asked otherwise) and of learn (0 °C, its "
        f"log's wind and sky); here {stated}", f"{together}{stated}"
    )  # fmt: skip
    assert {row.unit for row in (night, day)} == {"W/K"} and {row.group for row in (night, day)} == {LOSS_CASES}
    van = sample_vans()["demo"]
    assert (night.value, day.value) == (heated_w_per_k(van, 1.0, 1.0), heated_w_per_k(van, 0.0, 0.0))


def on_the_tour(monkeypatch: pytest.MonkeyPatch, widths: tuple[float, ...], **changes: Any) -> tuple[Any, list[Any]]:
    """The first row of the cases, or what there is instead of it, and what the loss was asked for."""
    asked: list[Any] = []

    def told(van: Any, *given: Any) -> float:
        asked.append(given)
        return 64.0

    monkeypatch.setattr(heated, "heated_w_per_k", told)
    line: dict[str, Any] = {
        "setpoint_c": np.array([[20.0] * 4, [18.0, 18.0, 16.0, 16.0], [18.0] * 3 + [np.nan], [12.0] * 4, [10.0] * 4]),
        "heater_allowed": np.array([True, True, True, False, True]), "moving": np.array([0, 0, 0, 0, 1]),
        "screens": np.array([1.0, 0.2, 9.0, 9.0, 9.0]), "wind_factor": np.array([0.5, 1.0, 9.0, 9.0, 9.0]),
        "closed": np.array([[1.0, 0.0, 0.4], [0.5, 0.0, 0.2], [9.0] * 3, [9.0] * 3, [9.0] * 3]),
    }  # fmt: skip
    weather = {"temp_air": [-5.0, -7.0, 9.0, 9.0, 9.0], "wind_speed": [4.0, 6.0, 9.0, 9.0, 9.0]}
    line |= {name: value for name, value in changes.items() if name in line}
    weather |= {name: value for name, value in changes.items() if name in weather}
    line["setpoint_c"] = line["setpoint_c"].reshape(-1)
    van: Any = Found(cabin=Found(openings=[Found(width_m=width) for width in widths]))
    rows = loss_cases(van, Found(**line), Found(frame=pd.DataFrame(weather)))  # type: ignore[arg-type]
    return rows[: len(rows) - 2], asked


def test_the_tours_own_case_is_the_mean_of_the_hours_in_which_the_parked_van_is_heated_throughout(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """20 and 17 °C, -5 and -7, 2 and 6 m/s at the van, screens 1 and 0.2; doors 0.75 and 0.3, a hatch is no door."""
    (row,), asked = on_the_tour(monkeypatch, (0.6, 0.0, 0.02))
    screens, closed, *rest = asked[0]
    assert (screens, closed) == (0.6, pytest.approx([0.75, 0.0, 0.3]))
    assert rest == [18.5, -6.0, 4.0]
    assert (row.name, row.value, row.unit, row.group) == ("as heated on this tour", 64.0, "W/K", LOSS_CASES)
    assert row.note == (
        "the mean of its heated hours: 18 °C in, -6 °C out, wind 4 m/s, screens up 60 %, openings closed 52 % of the "
        "time"
    )
    (without,), _ = on_the_tour(monkeypatch, (0.0, 0.0, 0.0))
    assert without.note.endswith("screens up 60 % of the time")


def test_hours_without_weather_and_weather_without_hours_have_no_case_of_the_tours_own() -> None:
    van = one_room()
    frame: Any = Found(frame=pd.DataFrame({"temp_air": [0.0], "wind_speed": [0.0]}))
    line: Any = Found(setpoint_c=np.full(4, 20.0))
    assert [len(loss_cases(van, *given)) for given in ((line, None), (None, frame), (None, None))] == [2, 2, 2]


def test_a_tour_that_heats_nothing_or_hardly_over_outdoors_has_no_case_of_its_own(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert on_the_tour(monkeypatch, (0.6,) * 3, moving=np.ones(5, dtype=int))[0] == []
    assert on_the_tour(monkeypatch, (0.6,) * 3, heater_allowed=np.zeros(5, dtype=bool))[0] == []
    for outdoor_c, cases in ((17.6, 0), (17.5, 1)):
        assert len(on_the_tour(monkeypatch, (0.6,) * 3, temp_air=[outdoor_c] * 5)[0]) == cases, outdoor_c
