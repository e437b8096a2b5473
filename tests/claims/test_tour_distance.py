"""How far apart stops are, and the notice about a way that nobody drives in its time."""

from __future__ import annotations

import pytest

from budget.tour.distance import distance_km, doubts, too_far
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


def named(zone: str, *stops: Stop) -> Tour:
    return of(*stops).model_copy(update={"timezone": zone})


@pytest.mark.parametrize(
    ("zone", "stops", "asked"),
    [
        # By its noon: 61.5° E is 31.5° east of two hours, whether the other stop is near or not.
        (
            "Europe/Helsinki", (stop(25.0, 61.5), stop(61.9, 26.1, drive_h=2.0)),
            "Is 25 61.5 (25.0° N, 61.5° E) right for Europe/Helsinki? "
            "Check that latitude and longitude are not swapped, and that the timezone is the place's.",
        ),
        (
            "Europe/Oslo", (stop(25.3, 69.3),),
            "Is 25.3 69.3 (25.3° N, 69.3° E) right for Europe/Oslo? "
            "Check that latitude and longitude are not swapped, and that the timezone is the place's.",
        ),
        # By the way alone: both lie within the zone.
        (
            "Europe/Helsinki", (stop(61.5, 25.0), stop(-33.0, 24.0, drive_h=2.0)),
            "Is -33 24 (33.0° S, 24.0° E) right, 10508 km from 61.5 25? "
            "Check that latitude and longitude are not swapped and that no minus sign is missing.",
        ),
        (
            "Europe/Paris", (stop(48.0, -8.0, drive_h=1.0), stop(28.0, 10.0, drive_h=2.0)),
            "Is 48 -8 (48.0° N, 8.0° W) right, 2712 km from 28 10? "
            "Check that latitude and longitude are not swapped and that no minus sign is missing.",
        ),
    ],
    ids=["swapped beside a right one", "swapped alone", "another continent", "west"],
)  # fmt: skip
def test_a_place_far_from_its_zone_or_from_the_others_is_asked_about(
    zone: str, stops: tuple[Stop, ...], asked: str
) -> None:
    assert doubts(named(zone, *stops)) == (asked,)


def test_no_place_is_asked_about_where_zones_are_wide_ways_are_driven_or_the_zone_is_no_countrys() -> None:
    """Galicia lies 24° from the noon of its zone; a ferry's days carry far; UTC is of no country."""
    assert doubts(named("Europe/Madrid", stop(43.0, -9.0), stop(42.0, -8.5, drive_h=2.0))) == ()
    assert doubts(named("Europe/Paris", stop(48.0, 0.0), stop(60.0, 25.0, drive_h=12.0, ferry_h=30.0))) == ()
    assert doubts(named("Europe/Paris", stop(48.0, 0.0), stop(56.0, 5.0, drive_h=1.0))) == (), "950 km: told below it"
    assert doubts(named("UTC", stop(40.0, -105.0))) == ()
    assert doubts(named("Pacific/Auckland", stop(-44.0, 170.0))) == (), "summer time there in January"
    assert doubts(named("Pacific/Kiritimati", stop(2.0, -157.0))) == (), "fourteen hours ahead, beyond the date line"
    assert doubts(load(None).tour) == ()


def test_a_station_far_from_the_tour_is_asked_about_where_the_places_are_right() -> None:
    tour = named("Europe/Riga", stop(57.0, 24.0))
    assert doubts(tour, 999.0) == ()
    assert doubts(tour, 2500.4) == ("Is the weather the right one? Its station lies 2500 km from the tour.",)
