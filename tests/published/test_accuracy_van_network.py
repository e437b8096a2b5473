"""A thermostatted van of five nodes over a week, against scipy's adaptive solver with located events.

The reference is written from the description of the control law alone: plain numpy, DOP853 to a relative
1e-8, restarted at every hour, switch and end of a minimum time. Tolerances are the project's own promise: 0.05 K at
every hour edge where heat is modulated or absent; on and off 0.1 K in hourly means, 0.5 % of a day's gas, 3 % of the
starts. The weather is a week of the Sand Point typical year that the pvlib wheel carries.
"""

import warnings
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import pvlib
import pytest
from scipy.integrate import solve_ivp

from budget.engine.network import Furnace, March, Network
from budget.engine.stepping import USUAL_ERROR_K

HOURS = 168
LIVING, LINING, CAB, CAB_LINING, TANK = range(5)
CAPACITY = np.array([100_000.0, 540_000.0, 25_000.0, 150_000.0, 250_000.0])
EDGES = [
    (LIVING, LINING, 110.0), (LIVING, -1, 42.0), (LINING, -1, 14.0), (LIVING, CAB, 20.0), (CAB, CAB_LINING, 45.0),
    (CAB, -1, 32.0), (CAB_LINING, -1, 9.0), (LIVING, TANK, 4.0), (TANK, -1, 1.0),
]  # fmt: skip
SHARE = np.array([0.85, 0.0, 0.15, 0.0, 0.0])
START_C = np.array([12.0, 11.0, 6.0, 5.0, 8.0])
START_LOSS_J = 60_000.0
EFFICIENCY = 0.9


def outdoor_c() -> np.ndarray:
    path = Path(pvlib.__file__).parent / "data" / "703165TY.csv"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of the reader, about dates
        frame, _ = pvlib.iotools.read_tmy3(path, coerce_year=1990, map_variables=True)
    return frame["temp_air"].to_numpy(dtype=float)[:HOURS] - 5.0


def setpoints_c() -> np.ndarray:
    """20 °C, 16 °C from 22 to 7 h, and off from 10 to 15 h on every third day."""
    clock, day = np.arange(HOURS) % 24, np.arange(HOURS) // 24
    night = (clock >= 22) | (clock < 7)
    out = (clock >= 10) & (clock < 15) & (day % 3 == 1)
    return np.where(out, np.nan, np.where(night, 16.0, 20.0))


def gains_w() -> np.ndarray:
    """Two people and a lamp in the evening, some sun on the lining at noon."""
    clock = np.arange(HOURS) % 24
    heat = np.zeros((HOURS, 5))
    heat[:, LIVING] = 60.0 + 140.0 * ((clock >= 17) & (clock < 23))
    heat[:, LINING] = np.maximum(0.0, 250.0 * np.sin(np.pi * (clock - 8.5) / 7.0)) * ((clock >= 9) & (clock < 15))
    return heat


def network() -> Network:
    a, b, g = zip(*EDGES, strict=True)
    return Network(capacity_j_per_k=CAPACITY, edge_from=np.array(a), edge_to=np.array(b), edge_w_per_k=np.array(g))


Inputs = dict[str, Any]


def inputs(furnace: Furnace | None) -> Inputs:
    return {
        "start_c": START_C, "outdoor_c": outdoor_c(), "heat_w": gains_w(), "furnace": furnace,
        "setpoint_c": None if furnace is None else setpoints_c(),
    }  # fmt: skip


def ours(furnace: Furnace | None, step_error_k: float = USUAL_ERROR_K) -> March:
    return network().march(**inputs(furnace), step_error_k=step_error_k)


@dataclass
class Law:
    """A thermostat with a burner: how much heat it gives now, and what makes it change its mind."""

    outputs_w: tuple[float, ...]
    modulating: bool
    band_k: float = 1.0
    differential_k: float = 0.5
    min_on_s: float = 0.0
    min_off_s: float = 0.0
    stage: int = 0
    since_s: float = 1e9

    @property
    def always_on(self) -> bool:
        return self.modulating and self.outputs_w[0] <= 0.0

    def heat_w(self, set_c: float, air_c: float) -> float:
        if np.isnan(set_c) or (self.stage == 0 and not self.always_on):
            return 0.0
        if not self.modulating:
            return self.outputs_w[self.stage - 1]
        low, high = self.outputs_w[0], self.outputs_w[-1]
        return min(high, max(low, low + (high - low) * (set_c + self.band_k / 2 - air_c) / self.band_k))

    def thresholds(self, set_c: float) -> list[tuple[float, int, int]]:
        """Sensor temperature, direction (+1 rising) and stage that is taken there, timers allowing."""
        if np.isnan(set_c) or self.always_on:
            return []
        d = self.differential_k
        if self.stage == 0:
            return [(set_c - d, -1, 1)] if self.since_s >= self.min_off_s - 1e-6 else []
        if self.modulating:
            off = (set_c + max(d, self.band_k / 2), 1, 0)
            return [off] if self.since_s >= self.min_on_s - 1e-6 else []
        found = []
        if self.stage > 1 or self.since_s >= self.min_on_s - 1e-6:
            found.append((set_c + d * (2 - self.stage), 1, self.stage - 1))
        if self.stage < len(self.outputs_w):
            found.append((set_c - d * (1 + self.stage), -1, self.stage + 1))
        return found

    def time_to_timer_s(self) -> float:
        limit = self.min_on_s if self.stage else self.min_off_s
        return limit - self.since_s if self.since_s < limit - 1e-6 else np.inf

    def take(self, stage: int) -> bool:
        """Change stage; true when that was a start."""
        start = self.stage == 0 and stage > 0
        if (self.stage == 0) != (stage == 0):
            self.since_s = 0.0
        self.stage = stage
        return start

    def settle(self, set_c: float, air_c: float) -> int:
        """Change stage until the law is content at this temperature; returns the starts."""
        starts, content = 0, False
        while not content:
            content = True
            for limit_c, direction, stage in self.thresholds(set_c):
                if direction * (air_c - limit_c) >= -1e-6:
                    starts += self.take(stage)
                    content = False
                    break
        return starts


@dataclass
class Reference:
    edge_c: np.ndarray = field(default_factory=lambda: np.empty((HOURS + 1, 5)))
    mean_c: np.ndarray = field(default_factory=lambda: np.empty((HOURS, 5)))
    fuel_j: np.ndarray = field(default_factory=lambda: np.zeros(HOURS))
    starts: np.ndarray = field(default_factory=lambda: np.zeros(HOURS))


def matrix() -> tuple[np.ndarray, np.ndarray]:
    k, out = np.zeros((5, 5)), np.zeros(5)
    for a, b, g in EDGES:
        k[a, a] -= g
        if b < 0:
            out[a] += g
        else:
            k[b, b] -= g
            k[a, b] += g
            k[b, a] += g
    return k, out


def crossing(limit_c: float, direction: int) -> Callable[[float, np.ndarray], float]:
    def event(_t: float, y: np.ndarray) -> float:
        return float(y[LIVING] - limit_c)

    event.terminal = True  # type: ignore[attr-defined]
    event.direction = direction  # type: ignore[attr-defined]
    return event


def reference(law: Law | None, method: str = "DOP853", rtol: float = 1e-8) -> Reference:
    """March hour by hour with located switches. The last six states integrate the temperatures and the heat."""
    k, to_out = matrix()
    outside, wished, given = outdoor_c(), setpoints_c(), gains_w()
    result = Reference()
    temp_c = START_C.copy()
    result.edge_c[0] = temp_c
    for hour in range(HOURS):
        set_c = wished[hour] if law is not None else np.nan
        if law is not None and np.isnan(set_c):
            law.take(0)
        y = np.concatenate([temp_c, np.zeros(6)])
        t = 0.0
        while t < 3600.0 - 1e-6:
            if law is not None:
                result.starts[hour] += law.settle(set_c, y[LIVING])

            def slope(_t: float, state: np.ndarray, set_c: float = set_c, hour: int = hour) -> np.ndarray:
                heat = law.heat_w(set_c, state[LIVING]) if law is not None else 0.0
                change = (k @ state[:5] + to_out * outside[hour] + given[hour] + SHARE * heat) / CAPACITY
                return np.concatenate([change, state[:5], [heat]])

            end = 3600.0 if law is None else min(3600.0, t + law.time_to_timer_s())
            events = [] if law is None else [crossing(c, d) for c, d, _ in law.thresholds(set_c)]
            part = solve_ivp(
                slope, (t, end), y, method=method, rtol=rtol, atol=10.0 * rtol, max_step=600.0, events=events or None
            )
            if law is not None:
                law.since_s += part.t[-1] - t
            t, y = float(part.t[-1]), part.y[:, -1]
        temp_c = y[:5]
        result.edge_c[hour + 1] = temp_c
        result.mean_c[hour] = y[5:10] / 3600.0
        result.fuel_j[hour] = y[10] / EFFICIENCY + result.starts[hour] * START_LOSS_J
    return result


def furnace(law: Law) -> Furnace:
    return Furnace(
        sensor=LIVING, share=SHARE, outputs_w=np.array(law.outputs_w),
        efficiency=np.full(len(law.outputs_w), EFFICIENCY), modulating=law.modulating, band_k=law.band_k,
        differential_k=law.differential_k, min_on_s=law.min_on_s, min_off_s=law.min_off_s,
        start_loss_j=START_LOSS_J if not law.always_on else 0.0,
    )  # fmt: skip


def by_day(values: np.ndarray) -> np.ndarray:
    return values.reshape(7, 24).sum(axis=1)


def test_a_free_running_van_is_within_a_twentieth_of_a_kelvin_at_every_hour_edge() -> None:
    assert np.max(np.abs(ours(None).edge_c - reference(None).edge_c)) <= 0.05


def test_a_modulating_heater_is_within_a_twentieth_of_a_kelvin_at_every_hour_edge() -> None:
    law = Law(outputs_w=(0.0, 4000.0), modulating=True)
    march, exact = ours(furnace(law)), reference(law)
    assert np.max(np.abs(march.edge_c - exact.edge_c)) <= 0.05
    assert by_day(march.fuel_j) == pytest.approx(by_day(exact.fuel_j), rel=0.005)


CYCLING = {
    "one stage": Law(outputs_w=(4000.0,), modulating=False),
    "one stage with minimum times": Law(outputs_w=(4000.0,), modulating=False, min_on_s=240.0, min_off_s=300.0),
    "two stages": Law(outputs_w=(1500.0, 4000.0), modulating=False, differential_k=0.4, min_on_s=60.0, min_off_s=60.0),
    "modulating above a least output": Law(
        outputs_w=(2400.0, 5000.0), modulating=True, differential_k=0.8, min_on_s=120.0, min_off_s=240.0
    ),
}


# Where bursts keep step with the reference every hour holds; where two laws of a burst meet (a second stage, a
# modulated burst) the phase of the bursts drifts by a few tenths of a per cent, and an hour that begins with another
# setpoint starts from wherever in its hysteresis the room happens to be: there one hour in twelve may miss.
HOURS_THAT_MAY_MISS = {name: 0 if name.startswith("one stage") else HOURS // 12 for name in CYCLING}


@pytest.mark.parametrize("name", CYCLING)
def test_a_cycling_heater_keeps_hourly_means_daily_gas_and_starts(name: str) -> None:
    law = replace(CYCLING[name])
    march, exact = ours(furnace(law)), reference(law)
    assert exact.starts.sum() >= 50  # it does cycle
    error_k = np.max(np.abs(march.mean_c - exact.mean_c), axis=1)
    assert np.sum(error_k > 0.1) <= HOURS_THAT_MAY_MISS[name]
    assert error_k.max() <= law.differential_k
    assert by_day(march.fuel_j) == pytest.approx(by_day(exact.fuel_j), rel=0.005)
    assert march.starts.sum() == pytest.approx(exact.starts.sum(), rel=0.03)


HEATERS = {"none": None, "modulating": furnace(Law(outputs_w=(0.0, 4000.0), modulating=True))} | {
    name: furnace(law) for name, law in CYCLING.items()
}


@pytest.mark.parametrize("name", HEATERS)
def test_halving_the_inner_step_changes_nothing_that_can_be_seen(name: str) -> None:
    """An eighth of the error, half the step: well inside the promise, so that the step is not what limits it."""
    whole, half = ours(HEATERS[name]), ours(HEATERS[name], step_error_k=USUAL_ERROR_K / 8.0)
    assert half.steps > whole.steps
    # a fifth of the promise where nothing cycles; the same allowance for drifting bursts as above
    change_k = np.max(np.abs(whole.mean_c - half.mean_c), axis=1)
    assert np.sum(change_k > (0.1 if name in CYCLING else 0.01)) <= HOURS_THAT_MAY_MISS.get(name, 0)
    # a burst that drifts over midnight is counted on the other day: the promise by day, less than half of it by week
    assert by_day(whole.fuel_j) == pytest.approx(by_day(half.fuel_j), rel=0.005 if name in CYCLING else 0.002)
    assert whole.fuel_j.sum() == pytest.approx(half.fuel_j.sum(), rel=0.002)
    assert whole.starts.sum() == pytest.approx(half.starts.sum(), rel=0.01)


def test_the_work_of_a_week_stays_bounded() -> None:
    """Counts inner steps, not seconds: steps of at most 900 s, few more where all is smooth, two for every switch."""
    free, modulating, cycling = (ours(HEATERS[name]) for name in ("none", "modulating", "one stage"))
    for smooth in (free, modulating):
        assert 4 * HOURS <= smooth.steps <= 8 * HOURS
    assert cycling.steps <= 8 * HOURS + 2 * 2 * cycling.starts.sum()
