"""Wet kit: the summary says when it was dry and what that cost."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from sample_tours import short_tour
from sample_vans import sample_vans

from budget import simulate
from budget.results.drying import shared_kg
from budget.tour.model import Drying


def test_wet_kit_costs_the_latent_heat_of_its_water_in_gas() -> None:
    """A kilogram of water takes 2.501 MJ to evaporate (steam tables); at the burner's best efficiency and 46.34 MJ/kg
    that is 0.061 kg of propane at 0.88. It hangs with the surface stated and dries within days in a heated van."""
    van = sample_vans()["demo"]
    tour = short_tour(van)
    hung = Drying(at=tour.start + dt.timedelta(hours=3), water_kg=0.5, surface_m2=3.0, zone="living")
    result = simulate(van, tour.model_copy(update={"drying": (hung,)}))
    (told,) = result.summary["drying"]
    best = max(stage.efficiency_share for stage in van.heater.stages)
    gone_kg = 0.5 - float(result.stocks["living_kit_kg"].iloc[-1])
    if told["hours_to_dry_h"] is not None:
        edge = 3 + 1 + told["hours_to_dry_h"] - 1
        gone_kg = 0.5 - float(result.stocks["living_kit_kg"].iloc[edge])
        assert gone_kg >= 0.95 * 0.5
        assert float(result.stocks["living_kit_kg"].iloc[edge - 1]) > 0.05 * 0.5
    # half the last printed digit
    assert told["extra_gas_kg"] == pytest.approx(gone_kg * 2.501 / best / 46.34, abs=0.0006)


def test_a_tour_without_wet_kit_says_nothing_of_drying() -> None:
    """What is not there is absent, never zero."""
    van = sample_vans()["demo"]
    tour = short_tour(van)
    assert "drying" not in simulate(van, tour.model_copy(update={"drying": ()})).summary


def test_a_sock_hung_up_later_does_not_keep_the_suit_wet() -> None:
    """The cloth of both dries: within a hundredth of its water the suit is where it would be alone."""
    van = sample_vans()["demo"]
    tour = short_tour(van)
    suit = Drying(at=tour.start + dt.timedelta(hours=3), water_kg=2.0, surface_m2=3.0, zone="living")
    sock = Drying(at=tour.start + dt.timedelta(hours=4), water_kg=0.02, surface_m2=0.05, zone="living")
    alone, both = (simulate(van, tour.model_copy(update={"drying": kit})) for kit in ((suit,), (suit, sock)))
    (suit_alone,), (suit_told, sock_told) = alone.summary["drying"], both.summary["drying"]
    assert suit_alone["hours_to_dry_h"] is not None
    assert suit_told["hours_to_dry_h"] == pytest.approx(suit_alone["hours_to_dry_h"], abs=1)
    assert suit_told["extra_gas_kg"] == pytest.approx(suit_alone["extra_gas_kg"], abs=0.002)
    assert 0 < sock_told["hours_to_dry_h"] <= suit_told["hours_to_dry_h"]
    assert 0.0 <= sock_told["extra_gas_kg"] <= 0.002
    kept = [np.asarray(each.stocks["living_kit_kg"]) for each in (alone, both)]
    assert np.abs(kept[1] - kept[0]).max() <= 0.02 + 0.02


def test_what_dries_in_an_hour_comes_from_each_by_its_area_and_never_more_than_is_in_it() -> None:
    """1 kg on 1 m² and, from the second hour on, 1 kg on 3 m²; 0.3 kg an hour for five hours. Below 0.3 kg a part of
    the area dries: a third of 3 m² at 0.1 kg, as much as of the other, of 0.1 kg half each."""
    dried = np.array([0.3] * 5 + [0.1, 2.0])
    left = shared_kg(np.array([0, 1]), np.array([1.0, 1.0]), np.array([1.0, 3.0]), dried)
    np.testing.assert_allclose(
        left,
        [[0.0, 0.7, 0.625, 0.55, 0.475, 0.4, 0.35, 0.0], [0.0, 0.0, 0.775, 0.55, 0.325, 0.1, 0.05, 0.0]],
        atol=1e-12,
    )


def test_what_one_hanging_has_not_left_comes_from_the_other() -> None:
    """0.1 kg on 8 m² beside 1 kg on 1 m²: of 0.5 kg eight parts in nine would be 0.44 kg of the first."""
    left = shared_kg(np.array([0, 0]), np.array([0.1, 1.0]), np.array([8.0, 1.0]), np.array([0.5]))
    np.testing.assert_allclose(left[:, 1], [0.0, 0.6], atol=1e-12)
