"""The band shrinks from tier to tier."""

from __future__ import annotations

import itertools

import pytest
from sample_vans import SIX_ANSWERS, sample_descriptions, sample_vans

from budget.van.description import VanDescription
from budget.van.ranges import joined, ranges

NAMES = (
    "loss_factor", "glazing_factor", "leakage_factor", "capacity_factor", "efficiency_factor", "vapour_factor",
    "hot_water_factor", "battery_capacity_factor", "solar_factor", "loads_factor",
)  # fmt: skip
TIERS = ("six_answers", "demo", "by_numbers")


@pytest.mark.parametrize("name", NAMES)
def test_the_range_of_a_factor_never_widens_from_tier_to_tier(name: str) -> None:
    """Six answers, ten minutes, numbers, and the van in full: each lies within the one before it."""
    descriptions = sample_descriptions()
    tiers = [ranges(descriptions[tier])[name] for tier in TIERS] + [ranges(sample_vans()["demo"])[name]]
    for wider, narrower in itertools.pairwise(tiers):
        assert wider.low <= narrower.low + 1e-12
        assert narrower.high <= wider.high + 1e-12


@pytest.mark.parametrize("name", sorted(set(NAMES) - {"efficiency_factor", "vapour_factor", "solar_factor"}))
def test_ten_minutes_of_answers_narrow_what_they_tell(name: str) -> None:
    """Efficiency and solar yield are told by no preset word, vapour belongs to the people; every other factor is."""
    descriptions = sample_descriptions()
    six, ten = (ranges(descriptions[tier])[name] for tier in TIERS[:2])
    assert ten.high - ten.low < six.high - six.low


@pytest.mark.parametrize("sample", sample_vans())
def test_every_factor_is_one_at_its_base_and_says_what_it_acts_on(sample: str) -> None:
    """For the description and for the van in full."""
    vans = [sample_vans()[sample]]
    for van in [*vans, *(d for name, d in sample_descriptions().items() if name == sample)]:
        found = ranges(van)
        assert tuple(found) == NAMES
        for span in found.values():
            assert 0.2 < span.low < span.base == 1.0 < span.high < 3.0
            assert span.meaning
            assert span.source == "common practice, no source"


@pytest.mark.parametrize(
    ("answer", "factor"),
    [
        ({"ribs": "covered"}, "loss_factor"),
        ({"draughts": "tight"}, "leakage_factor"),
        ({"leakage_cm2": 40.0}, "leakage_factor"),
        ({"furniture": "heavy"}, "capacity_factor"),
        ({"fabric_capacity_j_per_k": 800_000.0}, "capacity_factor"),
        ({"efficiency_share": 0.9}, "efficiency_factor"),
        ({"boiler_l": 10.0}, "hot_water_factor"),
        ({"battery_ah": 150.0}, "battery_capacity_factor"),
        ({"solar": {"peak_w": 100.0}}, "solar_factor"),
        ({"loads": ["lights"]}, "loads_factor"),
        ({"windows": "single glass"}, "glazing_factor"),
        ({"cab_screens": "both"}, "glazing_factor"),
    ],
)
def test_one_more_answer_narrows_the_factor_that_it_tells_and_no_other(answer: dict[str, object], factor: str) -> None:
    before = ranges(VanDescription.model_validate(SIX_ANSWERS))
    after = ranges(VanDescription.model_validate(SIX_ANSWERS | answer))
    assert after[factor].high - after[factor].low < before[factor].high - before[factor].low
    assert {name: span for name, span in after.items() if name != factor} == {
        name: span for name, span in before.items() if name != factor
    }


def test_independent_parts_join_as_the_root_of_the_sum_of_squares() -> None:
    """ln 1.3 twice: exp(√2 × 0.26236) = 1.4492; one part alone stays as it is."""
    low, high = joined([(0.8, 1.3), (0.8, 1.3)])
    assert high == pytest.approx(1.4492, abs=5e-5)
    assert low == pytest.approx(0.7294, abs=5e-5)
    assert joined([(0.8, 1.3)]) == pytest.approx((0.8, 1.3))
