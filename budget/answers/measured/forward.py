"""What a log would have read for a van with other factors: the engine itself, fed with the log's hours."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from budget.answers.measured.logged_night import METERED, WEIGHED, Night, Stretch
from budget.answers.prepared import FACTOR_OF
from budget.answers.unknowns import P90_Z, factor_of
from budget.engine import arrays as A
from budget.engine.batch import base_factors, run_many
from budget.engine.van_arrays import FRIDGE, BuiltVan, build_van
from budget.physics.properties import WATER_TO_AIR_RATIO
from budget.results.need import with_power
from budget.van.model import Van
from budget.van.ranges import Range
from budget.weather.air import Floats, saturation_pressure_pa

LEARNED = ("loss_factor", "glazing_factor", "leakage_factor", "capacity_factor")
WITH_GAS = (*LEARNED, "efficiency_factor")
SETTLE_H = 4  # hours before the log that bring lining and neighbouring zones near their balance
FABRIC_START_K = 4.0  # how far lining and zones may have been from the air then, standard deviation; a choice
BIAS_K = 0.4  # two cheap loggers against each other, standard deviation; common practice, no source
SENSOR_K = 0.2  # of a single reading, standard deviation; common practice, no source
MISFIT_K = 0.1  # of the model itself at an hour edge; a second model differs by 0.07 K
SCALE_KG = 0.04  # of a difference of two weighings on a luggage scale; common practice, no source
GAS_MISFIT_SHARE = 0.03  # starts and cycling, which the log's ideal thermostat has not; a choice
# Standard deviations of what is not learned but may differ from what is supposed; choices.
COUPLING_LOG = 0.26  # logarithm of the exchange between air and lining
WIND_LOG = 0.35  # logarithm of the wind at the van over the log's remark
SKY_K = 3.0  # the sky's coldness
COUPLING_STEP = 1.5  # the exchange is marched at 0 and at this many standard deviations, and interpolated
QUARTERS_H = np.array([0.125, 0.375, 0.625, 0.875])
BAND_K = 0.1
PLENTY_KG = 90.0

STEADY_H, STEADY_W = 96, 1500.0  # long enough to settle, and about what a van takes at 20 K; a choice


@dataclass(frozen=True, eq=False)
class Forward:
    """From standard normal scores to predicted readings.

    Scores: one for each of ``names`` (a factor of ``limits``), two for each stretch (fabric's start, first edge), one
    for the exchange between air and lining, then each stretch's wind, each one's sky, and last the bias between the
    sensors: the van and the two loggers are the same in all nights, wind and sky are not. ``drift_k_per_h``: what the
    inside and the outside sensor are taken to read too much, growing from the start of each stretch.
    """

    built: BuiltVan
    night: Night
    names: tuple[str, ...]
    limits: dict[str, Range]
    drift_k_per_h: tuple[float, float] = (0.0, 0.0)

    @classmethod
    def of(cls, van: Van, night: Night, limits: dict[str, Range]) -> Forward:
        """For a van and its logged nights."""
        gas = any(stretch.weighings for stretch in night.stretches)
        return cls(_ideal(build_van(van, 0)), night, WITH_GAS if gas else LEARNED, limits)

    @property
    def count(self) -> int:
        """Number of scores."""
        return len(self.names) + 4 * len(self.night.stretches) + 2

    @property
    def wind_m_per_s(self) -> float:
        """Of the nights, as their remarks have it, on average."""
        return self._mean("wind_m_per_s")

    @property
    def sky_delta_k(self) -> float:
        """The same of how much colder than the air the sky was."""
        return self._mean("sky_delta_k")

    def _mean(self, remark: str) -> float:
        return float(np.mean([getattr(stretch, remark) for stretch in self.night.stretches]))

    def _shared(self) -> tuple[int, int]:
        """Places of the scores of the exchange between air and lining, and of the first stretch's wind."""
        at = len(self.names) + 2 * len(self.night.stretches)
        return at, at + 1

    def own(self, k: int) -> np.ndarray:
        """Places of the scores of a stretch: fabric's start, first edge, wind, sky."""
        stretches, wind = len(self.night.stretches), self._shared()[1]
        start = len(self.names) + 2 * k
        return np.array([start, start + 1, wind + k, wind + stretches + k])

    @property
    def blocks(self) -> tuple[tuple[slice, np.ndarray], ...]:
        """For each stretch its readings, and the places of the scores on which they depend."""
        found, at = [], 0
        for k, stretch in enumerate(self.night.stretches):
            readings = int(np.count_nonzero(self.seen(stretch))) + len(stretch.weighings)
            scores = [*range(len(self.names)), self._shared()[0], self.count - 1, *self.own(k)]
            found.append((slice(at, at + readings), np.sort(np.array(scores))))
            at += readings
        return tuple(found)

    def factors(self, scores: Floats) -> dict[str, Floats]:
        """The factors of each row of scores."""
        return {name: factor_of(self.limits[name], scores[:, k]) for k, name in enumerate(self.names)}

    def smooth(self, scores: Floats) -> Floats:
        """Scores with each factor's replaced by its logarithm over that of P90, in which the engine has no kink."""
        found = scores.copy()
        for k, (name, values) in enumerate(self.factors(scores).items()):
            found[:, k] = (
                P90_Z
                * np.log(values / self.limits[name].base)
                / np.log(self.limits[name].high / self.limits[name].base)
            )
        return found

    @staticmethod
    def held(stretch: Stretch) -> np.ndarray:
        """Edges at the end of an hour whose thermostat follows the log, so that they tell nothing."""
        return np.concatenate([[False], stretch.mode == WEIGHED])

    def seen(self, stretch: Stretch) -> np.ndarray:
        """Edges whose inside temperature tells something."""
        found: np.ndarray = ~np.isnan(stretch.inside_c) & ~self.held(stretch)
        found[0] = False  # where the march starts from
        return found

    def observed(self) -> tuple[Floats, Floats]:
        """All readings in one row, and the covariance of their errors."""
        values, spread = [], []
        for stretch in self.night.stretches:
            seen = self.seen(stretch)
            values += stretch.inside_c[seen].tolist()
            spread += np.hypot(SENSOR_K * np.sqrt(stretch.inside_error[seen]), MISFIT_K).tolist()
            for *_, kg in stretch.weighings:
                values.append(kg)
                spread.append(float(np.hypot(SCALE_KG, GAS_MISFIT_SHARE * kg)))
        return np.array(values), np.diag(np.array(spread) ** 2)

    def predicted(self, scores: Floats) -> Floats:
        """Readings that each row of scores would give, (rows, readings)."""
        at = COUPLING_STEP
        less, same, more = (
            replace(self, built=_coupled(self.built, np.exp(shift * COUPLING_LOG)))._as_coupled(scores)
            for shift in (-at, 0.0, at)
        )
        z = scores[:, self._shared()[0], np.newaxis] / at
        found: Floats = same + 0.5 * z * (more - less) + 0.5 * z**2 * (more + less - 2.0 * same)
        return found

    def _as_coupled(self, scores: Floats) -> Floats:
        parts = [self._stretch(stretch, scores, self.own(k)) for k, stretch in enumerate(self.night.stretches)]
        return np.concatenate(parts, axis=1)

    def loss_w_per_k(self, scores: Floats) -> Floats:
        """Heat that holds the living area at 20 °C with 0 °C outdoors, per kelvin, at the logs' wind and screens."""
        hours = self._hours(np.zeros(48), 20.0, np.full((48, 4), 20.0), self._mean("screens_share"))
        rows = _rows(np.zeros(48), self.wind_m_per_s, self.sky_delta_k)
        many = run_many(self.built, hours, rows[np.newaxis], _no_draws(), factors=self._factor_rows(scores))
        half = run_many(self.built, hours[:24], rows[np.newaxis, :24], _no_draws(), factors=self._factor_rows(scores))
        flows = self.built.flows
        steady = many.totals - half.totals
        fan_j = steady[:, flows.fan_heat_j : flows.fan_heat_j + self.built.size.nodes].sum(axis=1)
        watts: Floats = (steady[:, flows.gas_heat_air_j] + fan_j) / (24.0 * 3600.0)
        return watts / 20.0

    @property
    def metered(self) -> bool:
        """Whether some hour's heat was metered, which is taken to come into the living area alone."""
        return any(bool((stretch.mode == METERED).any()) for stretch in self.night.stretches)

    def living_loss_w_per_k(self, scores: Floats) -> Floats:
        """The same with the heat let into the living area alone, as a metered heater does; no warm air elsewhere."""
        heat_w = np.full(STEADY_H, STEADY_W)
        hours = self._hours(heat_w, 20.0, np.full((STEADY_H, 4), np.nan), self._mean("screens_share"))
        rows = _rows(np.zeros(STEADY_H), self.wind_m_per_s, self.sky_delta_k)
        many = run_many(self.built, hours, rows[np.newaxis], _no_draws(), factors=self._factor_rows(scores))
        loss: Floats = STEADY_W / many.trace[:, -1, 2]
        return loss

    def capacity_j_per_k(self, scores: Floats) -> Floats:
        """Heat capacity of air, light contents, lining and furniture of all zones."""
        zones = self.built.van.cabin.zones
        air = sum(zone.air_capacity_j_per_k for zone in zones)
        fabric = sum(zone.fabric_capacity_j_per_k for zone in zones)
        found: Floats = air + fabric * self.factors(scores)["capacity_factor"]
        return found

    def _factor_rows(self, scores: Floats) -> Floats:
        rows = base_factors(len(scores))
        for name, values in self.factors(scores).items():
            rows[:, FACTOR_OF[name]] = values
        return rows

    def _hours(self, heat_w: Floats, start_c: float, set_c: Floats, screens_share: float) -> Any:
        """Hour records of an empty, closed van with this heat in its living area and this thermostat, NaN for off."""
        hours = np.zeros(len(heat_w), dtype=A.HOUR).view(np.recarray)
        hours["set_c"] = set_c
        hours["water_set_c"] = np.nan
        hours["heater_allowed"] = 1
        hours["people_zone"] = np.where(heat_w > 0.0, self.built.living, -1)
        hours["people_w"] = heat_w
        hours["screens"] = screens_share
        hours["closed"] = 1.0
        hours["gas_open"] = 1
        hours["start_c"] = start_c
        return hours

    def _stretch(self, stretch: Stretch, scores: Floats, own: np.ndarray) -> Floats:
        lining, first, wind, sky = scores[:, own].T
        bias = BIAS_K * scores[:, -1]
        inside_k_per_h, outside_k_per_h = self.drift_k_per_h
        edges = np.arange(stretch.hours + 1)
        quarter_c = stretch.quarter_c - inside_k_per_h * (edges[:-1, np.newaxis] + QUARTERS_H)
        first_c = float(stretch.inside_c[0])
        heat = np.concatenate([np.zeros(SETTLE_H), np.where(stretch.mode == METERED, stretch.heat_w, 0.0)])
        running = (stretch.mode == WEIGHED)[:, np.newaxis]
        set_c = np.concatenate([np.full((SETTLE_H, 4), first_c), np.where(running, quarter_c, np.nan)])
        one = self._hours(heat, first_c, set_c, stretch.screens_share)
        hours = np.repeat(one[np.newaxis], len(scores), axis=0)
        hours["start_c"] = (first_c + FABRIC_START_K * lining - bias)[:, np.newaxis]
        hours["set_c"][:, :SETTLE_H] += (SENSOR_K * first - bias)[:, np.newaxis, np.newaxis]
        hours["set_c"][:, SETTLE_H:] -= bias[:, np.newaxis, np.newaxis]
        outside_c = stretch.outside_c - outside_k_per_h * (edges[:-1] + 0.5)
        outside_c = np.concatenate([np.full(SETTLE_H, outside_c[0]), outside_c])
        one_row = _rows(outside_c, stretch.wind_m_per_s, stretch.sky_delta_k)
        rows = np.repeat(one_row[np.newaxis], len(scores), axis=0)
        rows[:, :, A.WIND_M_PER_S] *= np.exp(WIND_LOG * wind)[:, np.newaxis]
        rows[:, :, A.SKY_DELTA_K] += (SKY_K * sky)[:, np.newaxis]
        each_row = np.arange(len(scores))
        many = run_many(
            self.built, hours, rows, _no_draws(), factors=self._factor_rows(scores), weather_of=each_row,
            schedule_of=each_row,
        )  # fmt: skip
        inside = many.trace[:, SETTLE_H:, 2] + bias[:, np.newaxis] + inside_k_per_h * edges
        found = [inside[:, self.seen(stretch)]]
        used = many.trace[:, SETTLE_H, 0][:, np.newaxis] - many.trace[:, SETTLE_H:, 0]
        for from_h, to_h, _ in stretch.weighings:
            each = [[np.interp(to_h, edges, row) - np.interp(from_h, edges, row)] for row in used]
            found.append(np.array(each))
        return np.concatenate(found, axis=1)


def _rows(outside_c: Floats, wind_m_per_s: float, sky_delta_k: float) -> Floats:
    rows = np.zeros((len(outside_c), A.WEATHER_COLUMNS))
    rows[:, A.TEMP_C] = outside_c
    rows[:, A.WIND_M_PER_S] = wind_m_per_s
    rows[:, A.PRESSURE_PA] = 101325.0
    vapour_pa = 0.8 * saturation_pressure_pa(outside_c)
    rows[:, A.HUMIDITY_RATIO] = WATER_TO_AIR_RATIO * vapour_pa / (101325.0 - vapour_pa)
    rows[:, A.SKY_DELTA_K] = sky_delta_k
    return rows


def _no_draws() -> Any:
    return np.zeros(0, dtype=A.DRAW).view(np.recarray)


def _ideal(built: BuiltVan) -> BuiltVan:
    """The van with a thermostat that follows a set temperature without cycling, gas and charge that do not end.

    Heat and efficiency by output stay the heater's own; below its least output it is taken to burn in short starts. A
    fridge burns none of the gas that is weighed.
    """
    built = with_power(built)
    burner, arrays = built.burner.copy(), built.arrays.copy()
    points = int(burner["points"][0])
    tables = "outputs_w efficiency fan_w fan_fixed_w fan_air_w heat_share flow_w_per_k sea_flow_w_per_k total_w_per_k"
    for name in tables.split():
        table = burner[name][0]
        table[1 : points + 1] = table[:points].copy()
    burner["outputs_w"][0][0] = 0.0
    burner["points"] = points + 1
    burner["modulating"] = 1
    burner["band_k"] = BAND_K
    burner["start_loss_j"] = 0.0
    for name in ("min_on_s", "min_off_s", "run_on_s"):
        burner[name] = 0.0
    bottles = built.size.bottles
    for name in ("bottle_net_kg", "bottle_start_kg"):
        arrays[name][0][:bottles] = PLENTY_KG
    arrays["bottle_propane_share"][0][:bottles] = 1.0
    arrays["regulator_need_pa"] = 0.0
    arrays["regulator_kg_per_h"] = PLENTY_KG
    arrays["fridge_use"] = FRIDGE["off"]
    return replace(built, burner=burner, arrays=arrays)


def _coupled(built: BuiltVan, factor: float) -> BuiltVan:
    """The van with the exchange between air and lining of every zone changed."""
    arrays = built.arrays.copy()
    for k, edge in enumerate(built.edges):
        if edge.b is not None and edge.b.endswith("_fabric"):
            arrays["edge_w_per_k"][0][k] *= factor
    return replace(built, arrays=arrays)
