"""How far apart stops are, and the notice about a way that nobody drives in its time."""

from __future__ import annotations

import pytest

from budget.tour.distance import distance_km, too_far
from budget.tour.model import Stop, Tour
from budget.tour.reader import load


def stop(latitude_deg: float, longitude_deg: float, **more: float) -> Stop:
    return Stop(
        place=f"{latitude_deg:g} {longitude_deg:g}", latitude_deg=latitude_deg, longitude_deg=longitude_deg,
        altitude_m=0.0, arrive="2027-01-09T12:00:00", **more,
    )  # fmt: skip


def of(*stops: Stop) -> Tour:
    return load(None).tour.model_copy(update={"stops": stops})


def test_a_degree_of_a_great_circle_is_111_2_km() -> None:
    """2 pi 6371 / 360, along a meridian and along the equator; a quarter of the globe from pole to equator."""
    assert distance_km(stop(57.0, 24.0), stop(58.0, 24.0)) == pytest.approx(111.195, abs=0.001)
    assert distance_km(stop(0.0, 24.0), stop(0.0, 25.0)) == pytest.approx(111.195, abs=0.001)
    assert distance_km(stop(90.0, 0.0), stop(0.0, 123.0)) == pytest.approx(10_007.5, abs=0.1)


def test_a_way_across_the_date_line_is_short() -> None:
    assert distance_km(stop(0.0, 179.5), stop(0.0, -179.5)) == pytest.approx(111.195, abs=0.001)


def test_latitude_and_longitude_in_each_others_place_are_noticed() -> None:
    near, far = stop(58.25, 22.48, drive_h=2.0), stop(22.48, 58.25, drive_h=2.0)
    assert too_far(of(near, near)) == ()
    (said,) = too_far(of(near, far))
    assert said == (
        "From 58.25 22.48 to 22.48 58.25 it is 4890 km as the crow flies, and the way takes 2 h; check the "
        "coordinates, or give drive_h."
    )


def test_a_long_way_with_its_time_is_no_mistake() -> None:
    """300 km in 3 h is as fast as may be; a ferry's hours count."""
    assert too_far(of(stop(57.0, 24.0), stop(59.69, 24.0, drive_h=3.0))) == ()
    assert len(too_far(of(stop(57.0, 24.0), stop(59.71, 24.0, drive_h=3.0)))) == 1
    assert too_far(of(stop(57.0, 24.0), stop(59.71, 24.0, drive_h=1.0, ferry_h=2.5))) == ()


def test_nobody_is_told_so_on_the_demo_tour() -> None:
    assert too_far(load(None).tour) == ()
