"""Water on surfaces: it runs off beyond what a surface holds, and glass is wiped on drives and when the tour says."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from sample_tours import short_tour
from sample_vans import sample_vans

from budget.answers.conditions import Conditions, march
from budget.engine.plumbing import RUN_OFF_KG_PER_M2
from budget.engine.van_arrays import build_van
from budget.tour.timeline import Timeline

DEMO = sample_vans()["demo"]
BUILT = build_van(DEMO)
AREA_M2 = BUILT.arrays["surface_area_m2"][0][: BUILT.size.surfaces]
GLASS = BUILT.arrays["surface_glass"][0][: BUILT.size.surfaces] == 1
OF_CAB = BUILT.arrays["surface_zone"][0][: BUILT.size.surfaces] == BUILT.cab


def soaked(hours: int = 24, **fields: Any) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """600 g/h of vapour in the living area at -10 °C outdoors: water lying on each surface at the hour edges [kg], and
    by hour what condensed there and what left it [kg]."""
    many = march(
        BUILT, Conditions(outdoor_c=-10.0), hours, set_c=20.0, start_c=20.0, people_zone=BUILT.living,
        people_latent_kg_per_s=0.6 / 3600.0, people_w=500.0, **fields,
    )  # fmt: skip
    assert many.stocks is not None and many.flows is not None
    at, stocks, n = BUILT.flows, BUILT.stocks, BUILT.size.surfaces
    lying = many.stocks[:, stocks.condensed_kg : stocks.condensed_kg + n]
    return lying, many.flows[:, at.condensing_kg : at.condensing_kg + n], many.flows[:, at.shed_kg : at.shed_kg + n]


def test_no_surface_holds_more_than_its_film_and_the_rest_runs_off() -> None:
    lying, condensing, shed = soaked()
    assert np.all(lying <= RUN_OFF_KG_PER_M2 * AREA_M2 + 1e-12)
    full = np.isclose(lying[-1], RUN_OFF_KG_PER_M2 * AREA_M2)
    assert full.any()
    assert (shed.sum(axis=0) > 0.0)[full].all() and shed[:, ~full].sum() == 0.0
    assert lying[-1] == pytest.approx((condensing - shed).sum(axis=0), abs=1e-12)


def test_a_drive_wipes_the_glass_of_the_cab_and_nothing_else() -> None:
    moving = np.zeros(24, dtype=np.int64)
    moving[20] = 1
    lying, _, shed = soaked(moving=moving)
    assert (lying[20][GLASS & OF_CAB] > 0.0).all()
    assert (lying[21][GLASS & OF_CAB] == 0.0).all() and (shed[20][GLASS & OF_CAB] > 0.0).all()
    assert (lying[21][~OF_CAB & GLASS] > 0.0).any()


def test_wiping_takes_the_water_off_all_glass_and_off_no_wall() -> None:
    wipe = np.zeros(24, dtype=np.int64)
    wipe[20] = 1
    lying, _, _ = soaked(wipe=wipe)
    assert (lying[20][GLASS] > 0.0).any() and (lying[21][GLASS] == 0.0).all()
    assert (lying[21][~GLASS] > 0.0).any()


def test_the_tours_hours_of_wiping_are_those_when_somebody_is_awake_inside() -> None:
    tour = short_tour(DEMO, habits={"wipe_glass": ["08:00-09:00"]})
    names = [opening.name for opening in DEMO.cabin.openings], [zone.name for zone in DEMO.cabin.zones]
    timeline = Timeline.of(tour, *names)
    hours = timeline.index[timeline.wipe]
    assert len(hours) == 3 and set(hours.hour) == {8}
    assert not Timeline.of(short_tour(DEMO), *names).wipe.any()
