"""Claims about the odds: the same bits everywhere, quantiles that hold, bottles that empty when they must."""

from __future__ import annotations

from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context

import numpy as np
import pytest
from scipy import stats
from small_tour import small

from budget.answers import odds, sensitivity
from budget.answers.ensemble import CHUNK, Ensemble, InTurn, Kept, ensemble
from budget.answers.prepared import weather_rows
from budget.answers.quantiles import Quantiles, chance_half_width
from budget.answers.unknowns import Unknowns
from budget.errors import InputFault
from budget.van.ranges import Range
from budget.weather.sun import Sun
from budget.weather.winters import Winters

SCENARIOS = CHUNK + 10  # two chunks, the second not full


def same(one: Kept, other: Kept) -> bool:
    """Whether every figure of every scenario has the same bits."""
    names = Kept.__dataclass_fields__
    return all(getattr(one, name).tobytes() == getattr(other, name).tobytes() for name in names)


def job() -> Ensemble:
    prepared = small()
    return ensemble(prepared, SCENARIOS, 7)


def test_one_worker_and_three_give_the_same_bits() -> None:
    with ThreadPoolExecutor(1) as one, ThreadPoolExecutor(3) as three:
        alone = job().run(InTurn())
        assert same(alone, job().run(one))
        assert same(alone, job().run(three))


def test_another_seed_gives_other_winters() -> None:
    prepared = small()
    other = ensemble(prepared, SCENARIOS, 8).run(InTurn())
    assert not np.array_equal(other.gas_kg, job().run(InTurn()).gas_kg)


def test_processes_give_the_same_bits_as_threads() -> None:
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        assert same(job().run(InTurn()), job().run(pool))


@pytest.mark.parametrize(
    ("workers", "processes"), [(2, False), pytest.param(2, True, marks=pytest.mark.long)], ids=["threads", "processes"]
)
def test_a_local_cluster_gives_the_same_bits(workers: int, processes: bool) -> None:
    """Through the same door as any executor; the cluster is dask's, the extra `cluster`."""
    import distributed

    with (
        distributed.LocalCluster(
            n_workers=workers, threads_per_worker=1, processes=processes, dashboard_address=None
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        executor: Executor = client.get_executor()
        assert same(job().run(InTurn()), job().run(executor))


def test_without_anything_uncertain_every_scenario_is_the_tour_itself() -> None:
    prepared = small()
    found = odds.answer(prepared, scenarios=3, weather=False, parameters=False, executor=InTurn())
    ready = prepared.with_gas_everywhere()
    expected = ready.gas_kg(ready.run())[0]
    np.testing.assert_allclose(found.kept.gas_kg, expected, rtol=1e-12)  # one march, summed in the same order


def test_progress_counts_every_scenario_once() -> None:
    counted: list[int] = []
    job().run(InTurn(), counted.append)
    assert sum(counted) == SCENARIOS


def test_a_scenario_does_not_depend_on_how_many_are_drawn() -> None:
    prepared = small()
    winters = Winters.of(prepared.tour, prepared.timeline, prepared.weather, folder=prepared.folder)
    many, few = winters.values(0, 5, 3), winters.values(3, 1, 3)
    for name in many:
        assert many[name][3].tobytes() == few[name][0].tobytes(), name


def test_generated_weather_is_weather() -> None:
    """Humidity 15 to 100 %, irradiance that closes (ghi = dni cos z + dhi), a sky never warmer than the air."""
    prepared = small()
    winters = Winters.of(prepared.tour, prepared.timeline, prepared.weather, folder=prepared.folder)
    values = winters.values(0, 20, 1)
    assert values["relative_humidity"].min() >= 15.0
    assert values["relative_humidity"].max() <= 100.0
    closed = values["dni"] * winters.sun.cos_zenith + values["dhi"]
    np.testing.assert_allclose(values["ghi"], closed, atol=1e-9)  # rounding
    assert (values["temp_sky"] <= values["temp_air"] + 1e-9).all()


def test_rows_made_in_bulk_are_those_of_each_winter_alone() -> None:
    prepared = small()
    line, van = prepared.timeline, prepared.van
    sun = Sun.over(line.index, line.latitude_deg, line.longitude_deg)
    own = prepared.weather.values()
    colder = own | {"temp_air": own["temp_air"] - 7.0, "ghi": 0.5 * own["ghi"]}
    both = weather_rows({name: np.stack([own[name], colder[name]]) for name in own}, line, van, sun)
    assert (both[0] == prepared.rows).all()
    assert (both[1] == weather_rows(colder, line, van, sun)).all()
    assert not (both[1] == both[0]).all()


def test_a_sampled_range_has_the_quantiles_that_it_states() -> None:
    """In a Latin hypercube of 1000 each hundredth of the distribution holds ten values, so that a quantile is exact to
    one of a thousand ranks: within 1 % of the factor's spread, here 0.01."""
    unknown = Unknowns({"loss_factor": Range(0.8, 1.0, 1.4, "x")})
    found = unknown.factors(unknown.scores(1000, 1))["loss_factor"]
    assert np.quantile(found, [0.1, 0.5, 0.9]) == pytest.approx([0.8, 1.0, 1.4], abs=0.01)


def test_sampled_factors_are_independent_of_each_other() -> None:
    """The correlation of 1000 independent pairs has a standard error of 0.03; four of them are allowed."""
    named = {name: Range(0.8, 1.0, 1.25, "x") for name in ("loss_factor", "leakage_factor")}
    unknown = Unknowns(named)
    found = unknown.factors(unknown.scores(1000, 1))
    assert abs(np.corrcoef(found["loss_factor"], found["leakage_factor"])[0, 1]) < 0.12


def test_quantiles_of_a_linear_model_are_within_their_half_width_of_the_exact_ones_nineteen_times_in_twenty() -> None:
    """y = 30 + 3 x1 + 4 x2 of standard normals is normal with mean 30 and spread 5. Of 3 · 300 intervals of 95 % at
    least 92 % hold the exact value (855 expected; independent trials would spread by 0.7 %, and the intervals' two
    sides need not be alike)."""
    rng = np.random.default_rng(4)
    exact = stats.norm(30.0, 5.0).ppf([0.1, 0.5, 0.9])
    held = []
    for _ in range(300):
        x = rng.standard_normal((500, 2))
        found = Quantiles.of(30.0 + 3.0 * x[:, 0] + 4.0 * x[:, 1])
        held += [abs(value - truth) <= half for value, truth, half in zip(found[:3], exact, found[3:], strict=True)]
    assert np.mean(held) > 0.92


def test_a_sample_too_small_to_tell_has_no_half_width() -> None:
    found = Quantiles.of(np.arange(20.0))
    assert np.isnan(found.p10_half_width)
    assert found.as_dict("kg")["p10_half_width_kg"] is None


def test_a_chance_of_nothing_seen_is_still_uncertain() -> None:
    """None of 100: Wilson's interval reaches 3.7 % (1.96² / (100 + 1.96²)), of which half is its half-width."""
    assert chance_half_width(0.0, 100) == pytest.approx(0.0185, abs=0.0002)  # digits derived above


def test_more_bottles_never_last_less_often_and_the_chances_end_in_certainty() -> None:
    found = odds.answer(small(), scenarios=60, seed=2, executor=InTurn())
    chances = list(found.chance_by_bottles_share.values())
    assert chances == sorted(chances)
    assert chances[-1] == 1.0
    assert found.gas.p10 < found.gas.p50 < found.gas.p90
    assert len(found.band_times) == found.band_used_kg.shape[1]


def test_what_matters_most_wants_a_hundred_scenarios() -> None:
    found = odds.answer(small(), scenarios=60, executor=InTurn())
    with pytest.raises(
        InputFault, match=r"^what matters most needs at least 100 scenarios, got 60; raise --scenarios\.$"
    ):
        sensitivity.answer(found)


def test_what_an_input_moves_agrees_with_other_winters_within_the_stated_half_widths() -> None:
    """Ends of 100 winters against those of 600 others, each with its 95 % half-width: of 33 of each of five seeds
    nine in ten agree at least (they share their winters, so that a seed stands or falls as a whole). The same seed
    gives the same bits."""

    def gas(count: int, seed: int) -> dict[str, sensitivity.Bar]:
        return {bar.name: bar for bar in sensitivity.answer(odds.answer(small(), scenarios=count, seed=seed)).gas}

    many, agree = gas(600, 77), []
    for seed in range(1, 6):
        for name, bar in gas(100, seed).items():
            low = np.hypot(bar.low_half_width, many[name].low_half_width)
            high = np.hypot(bar.high_half_width, many[name].high_half_width)
            moves = np.hypot(bar.moves_half_width, many[name].moves_half_width)
            agree += [abs(bar.at_low - many[name].at_low) <= low, abs(bar.at_high - many[name].at_high) <= high]
            agree += [abs(bar.moves - many[name].moves) <= moves]
    assert np.mean(agree) >= 0.9
    assert gas(100, 5) == gas(100, 5)
    few = gas(100, 5)["loss_factor"]
    assert few.moves > 5.0 * few.moves_half_width
    assert few.moves_half_width < 0.6 * few.low_half_width  # the winters are the same at both ends
    assert many["loss_factor"].low_half_width < 0.6 * few.low_half_width  # 0.41 by the root of the sample


def test_shares_of_the_spread_are_shares_and_a_measurement_never_widens_the_band() -> None:
    found = sensitivity.answer(odds.answer(small(), scenarios=150, executor=InTurn()))
    assert all(0.0 <= bar.share <= 1.0 for bar in (*found.gas, *found.charge))
    assert all(worth.band_then <= worth.band_now for worth in found.worth)
    assert any(worth.what.startswith("weighing") for worth in found.worth)


@pytest.mark.parametrize(
    ("scenarios", "seed", "sentence"),
    [
        (0, 1, r"^--scenarios must be from 1 to 200,000, got 0\.$"),
        (10, -1, r"^--seed must be a whole number from 0, got -1\.$"),
    ],
)
def test_odds_refuse_what_cannot_be_drawn(scenarios: int, seed: int, sentence: str) -> None:
    with pytest.raises(InputFault, match=sentence):
        odds.answer(small(), scenarios=scenarios, seed=seed)


def test_four_times_the_winters_halve_the_half_width() -> None:
    """The interval of a quantile shrinks with the root of the sample; by 1.5 to 2.7 with so few, against chance."""
    few, many = (odds.answer(small(), scenarios=count, seed=2, executor=InTurn()).gas for count in (100, 400))
    assert 1.5 < few.p50_half_width / many.p50_half_width < 2.7
