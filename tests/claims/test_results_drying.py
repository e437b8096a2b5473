"""Wet kit: the summary says when it was dry and what that cost."""

from __future__ import annotations

import datetime as dt

import pytest
from sample_tours import short_tour
from sample_vans import sample_vans

from budget import simulate
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
