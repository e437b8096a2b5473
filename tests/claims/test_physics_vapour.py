"""What must hold for every set of damp zones and surfaces."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from budget.physics import moisture as m
from budget.physics.properties import humidity_ratio, saturation_pressure_pa, saturation_ratio, vapour_pressure_pa

QUICK = settings(max_examples=300, deadline=None)  # the first call compiles
PRESSURE_PA = 101_325.0


@dataclass
class Damp:
    """A random van: every argument of one step, in order."""

    dt_s: float
    air_kg: np.ndarray
    ratio: np.ndarray
    flow_in: np.ndarray
    flow_out: np.ndarray
    outdoor_ratio: float
    exchange: np.ndarray
    source: np.ndarray
    zone: np.ndarray
    area: np.ndarray
    wet_ratio: np.ndarray
    water: np.ndarray
    beta: np.ndarray
    limit: np.ndarray

    @classmethod
    def drawn(cls, seed: int) -> Damp:
        rng = np.random.default_rng(seed)
        zones = int(rng.integers(1, 5))
        surfaces = int(rng.integers(zones, 13))
        air_c = rng.uniform(-15.0, 28.0, zones)
        limit = np.array([saturation_ratio(t, PRESSURE_PA) for t in air_c])
        zone = np.concatenate([np.arange(zones), rng.integers(0, zones, surfaces - zones)]).astype(np.int64)
        surface_c = air_c[zone] - rng.uniform(-3.0, 25.0, surfaces)
        exchange = rng.uniform(0.0, 0.2, (zones, zones)) * rng.integers(0, 2, (zones, zones))
        return cls(
            dt_s=float(10.0 ** rng.uniform(0.5, 4.0)),
            air_kg=rng.uniform(0.5, 30.0, zones),
            ratio=limit * rng.uniform(0.0, 1.2, zones),  # may start above saturation: the air has just cooled
            flow_in=rng.uniform(0.0, 0.02, zones),
            flow_out=rng.uniform(0.0, 0.02, zones),
            outdoor_ratio=float(rng.uniform(0.0, 0.006)),
            exchange=exchange,
            source=rng.uniform(0.0, 3e-4, zones) * rng.integers(0, 2, zones),
            zone=zone,
            area=rng.uniform(0.0, 5.0, surfaces),
            wet_ratio=np.array([saturation_ratio(t, PRESSURE_PA) for t in surface_c]),
            water=10.0 ** rng.uniform(-6.0, 0.0, surfaces) * rng.integers(0, 2, surfaces),
            beta=np.full(surfaces, 2.7e-3),
            limit=limit,
        )

    def step(
        self,
        function: Callable[..., int] = m.vapour_step,
        dry: np.ndarray | None = None,
        full: np.ndarray | None = None,
    ) -> tuple[np.ndarray, np.ndarray, int]:
        zones, surfaces = len(self.air_kg), len(self.zone)
        dry = np.zeros(surfaces, dtype=np.int64) if dry is None else dry
        full = np.zeros(zones, dtype=np.int64) if full is None else full
        gained, new = np.zeros(surfaces), np.zeros(zones)
        rounds = function(
            self.dt_s, self.air_kg, self.ratio, self.flow_in, self.flow_out, self.outdoor_ratio, self.exchange,
            self.source, self.zone, self.area, self.wet_ratio, self.water, self.beta, self.limit, gained, new,
            np.zeros((zones, zones)), dry, full,
        )  # fmt: skip
        return new, gained, rounds


seeds = st.integers(0, 2**32 - 1)


@QUICK
@given(seeds)
def test_vapour_is_conserved(seed: int) -> None:
    """Air's change + water's change = sources + in - out for every zone, to 1e-12 of the gross flow: rounding."""
    van = Damp.drawn(seed)
    new, gained, _ = van.step()
    for z in range(len(new)):
        others = np.arange(len(new)) != z
        came = van.dt_s * (van.source[z] + van.flow_in[z] * van.outdoor_ratio + van.exchange[others, z] @ new[others])
        went = van.dt_s * new[z] * (van.flow_out[z] + van.exchange[z, others].sum())
        stored = van.air_kg[z] * (new[z] - van.ratio[z])
        settled = gained[van.zone == z]
        gross = came + went + np.abs(settled).sum() + van.air_kg[z] * (new[z] + van.ratio[z])
        assert came - went - stored - settled.sum() == pytest.approx(0.0, abs=1e-12 * gross)


@QUICK
@given(seeds)
def test_nothing_is_negative_and_no_air_is_more_than_saturated(seed: int) -> None:
    """Vapour and lying water stay at or above nothing, humidity at or below 100 %; exactly."""
    van = Damp.drawn(seed)
    new, gained, _ = van.step()
    assert np.all(new >= 0.0)
    assert np.all(van.water + gained >= 0.0)
    assert np.all(new <= van.limit)


@QUICK
@given(seeds)
def test_each_surface_obeys_its_law(seed: int) -> None:
    """Condensed = dt beta A (w - w_surface), no more given than lies there, and a zone's first surface takes the
    excess over saturation, only where the air stands at saturation. 1e-11 of the zone's vapour is rounding.
    """
    van = Damp.drawn(seed)
    new, gained, rounds = van.step()
    lawful = np.maximum(-van.water, van.dt_s * van.beta * van.area * (new[van.zone] - van.wet_ratio))
    excess = gained - lawful
    scale = 1e-11 * (1.0 + van.water.sum() + van.dt_s * van.source.sum())
    for k, zone in enumerate(van.zone):
        first = k == int(np.argmax(van.zone == zone))
        assert excess[k] >= -scale
        if not first or new[zone] < van.limit[zone]:
            assert excess[k] <= scale
    assert rounds < len(new) + len(gained) + 4  # settled before the rounds ran out


def test_the_search_settles_in_few_rounds() -> None:
    """Howard's iteration: a handful of rounds even for four zones and twelve surfaces that change state."""
    assert max(Damp.drawn(seed).step()[2] for seed in range(2000)) <= 8


@QUICK
@given(seeds, seeds)
def test_the_first_guess_does_not_matter(seed: int, guess: int) -> None:
    """Any guess of dry surfaces and saturated zones leads to the one answer (1e-11 of it: rounding)."""
    van = Damp.drawn(seed)
    rng = np.random.default_rng(guess)
    from_zeros = van.step()
    guessed = van.step(dry=rng.integers(0, 2, len(van.zone)), full=rng.integers(0, 2, len(van.air_kg)))
    assert guessed[0] == pytest.approx(from_zeros[0], rel=1e-11)
    assert guessed[1] == pytest.approx(from_zeros[1], rel=1e-9, abs=1e-12 * (1.0 + van.water.sum()))


def test_compiled_and_plain_agree() -> None:
    """The same statements run by the interpreter (1e-13: fused multiply-adds)."""
    for seed in range(20):
        van = Damp.drawn(seed)
        for compiled, plain in zip(van.step(), van.step(getattr(m.vapour_step, "py_func", m.vapour_step)), strict=True):
            assert compiled == pytest.approx(plain, rel=1e-12, abs=1e-15)


def test_zones_that_exchange_much_air_share_one_humidity() -> None:
    """Two zones with 10 kg/s both ways, a source in one: the ratios differ by source/flow = 3e-5/10, to 1 %."""
    van = Damp.drawn(0)
    two, none = np.zeros(2), np.zeros(0)
    van.air_kg, van.ratio, van.limit = two + 10.0, two + 0.004, two + 1.0
    van.flow_in, van.flow_out, van.source = two.copy(), two.copy(), np.array([3e-5, 0.0])
    van.exchange = np.array([[0.0, 10.0], [10.0, 0.0]])
    van.zone = none.astype(np.int64)
    van.area = van.wet_ratio = van.water = van.beta = none
    van.dt_s = 300.0
    new, _, _ = van.step()
    assert new[0] - new[1] == pytest.approx(0.5 * 3e-5 / 10.0, rel=0.01)
    assert new.sum() * 10.0 == pytest.approx(0.08 + 300.0 * 3e-5, rel=1e-12)


def test_wet_kit_dries_faster_in_drier_and_in_warmer_air_and_stops_when_saturated() -> None:
    """Monotone in both; at 100 % there is no deficit (1e-12 kg/s is rounding)."""

    def rate(temp_c: float, humidity: float) -> float:
        air = humidity_ratio(humidity * saturation_pressure_pa(temp_c), PRESSURE_PA)
        return m.kit_drying_kg_per_s(2.0, 3e-3, temp_c, air, PRESSURE_PA)

    assert rate(20.0, 0.3) > rate(20.0, 0.6) > rate(12.0, 0.6) > 0.0
    assert rate(20.0, 1.0) == pytest.approx(0.0, abs=1e-12)
    assert m.kit_drying_kg_per_s(2.0, 3e-3, 5.0, 0.02, PRESSURE_PA) == 0.0


def test_cloth_dries_at_full_rate_until_a_third_of_its_water_is_left() -> None:
    """Constant-rate, then falling-rate period; nothing when dry."""
    shares = [m.wet_area_share(water, 2.0) for water in (2.0, 0.7, 0.3, 0.0)]
    assert shares == pytest.approx([1.0, 1.0, 0.5, 0.0])
    assert m.wet_area_share(1.0, 0.0) == 0.0


def test_condensation_by_hand() -> None:
    """2 m², beta 2.7e-3, 8 against 5 g/kg: 16.2 mg/s; the same back the other way."""
    assert m.condensation_kg_per_s(2.0, 2.7e-3, 0.008, 0.005) == pytest.approx(16.2e-6, rel=1e-12)
    assert m.condensation_kg_per_s(2.0, 2.7e-3, 0.005, 0.008) == pytest.approx(-16.2e-6, rel=1e-12)
    assert vapour_pressure_pa(0.0, PRESSURE_PA) == 0.0
