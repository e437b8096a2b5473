"""Odds, tonight and what matters most in figures: what is kept of a scenario, and what is made of what was kept."""

from __future__ import annotations

import datetime as dt
from concurrent.futures import BrokenExecutor
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace as Found
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from scipy import special
from small_tour import START, small, steady

from budget.answers import evening, odds, sensitivity, tonight, tonight_back
from budget.answers.detail import Detail
from budget.answers.ensemble import CHUNK, InTurn, Kept, _worst_night, ensemble
from budget.answers.fed import used_when_fed_kg
from budget.answers.indices import explained_share
from budget.answers.prepared import Prepared
from budget.answers.quantiles import Quantiles, chance_half_width
from budget.answers.unknowns import Unknowns, factor_of
from budget.engine import arrays as A
from budget.engine.batch import base_factors
from budget.errors import BudgetError, InputFault
from budget.moments import hours_between
from budget.tour.climate import WeatherChoice
from budget.van.charge import cut_out_at_share
from budget.van.ranges import Range

RIGA = ZoneInfo("Europe/Riga")
SPRING = dt.datetime(2027, 3, 27, 12)  # the clocks go from 03:00 to 04:00 in the night
ALIKE = 1e-9  # sums in another order


def with_battery(prepared: Prepared, ah: float) -> Prepared:
    kept = prepared.van.power.battery.model_copy(update={"capacity_ah": ah, "start_share": 1.0})
    power = prepared.van.power.model_copy(update={"battery": kept})
    return prepared.with_van(prepared.van.model_copy(update={"power": power}))


def with_one_bottle(prepared: Prepared, kg: float) -> Prepared:
    """The same tour with one bottle, so full, and nowhere to change it."""
    gas = prepared.van.gas
    bottle = gas.bottles[0].model_copy(update={"start_kg": kg})
    found = prepared.with_van(prepared.van.model_copy(update={"gas": gas.model_copy(update={"bottles": (bottle,)})}))
    hours = found.hours.copy()
    hours["exchange_open"] = 0
    return replace(found, hours=hours)


# What is kept of a scenario


@pytest.mark.parametrize("ah", [5000.0, 20.0])
def test_what_is_kept_of_a_scenario_is_read_from_its_run(ah: float) -> None:
    """Nothing uncertain, so that each scenario is the tour itself; once with a battery that is cut out. What is taken
    instead is one bottle with 3 kg."""
    prepared = with_battery(small(), ah)
    kept = ensemble(prepared, 2, 1, taken=with_one_bottle(prepared, 3.0), weather=False, parameters=False).run(InTurn())
    ready = prepared.with_gas_everywhere()
    run, fed = Detail.of(ready), Detail.of(prepared.fed())
    used = fed.flow("gas_out_kg") + fed.flow("gas_out_butane_kg")
    burned = run.flow("gas_out_kg") + run.flow("gas_out_butane_kg")
    charge = run.stock("charge_ah") / ah
    cut = run.flow("cut_out_s")
    stands = Detail.of(prepared)
    inside, pipes = stands.node_c("living_air"), stands.node_c("pipes")
    if ah == 5000.0:
        used = burned  # it ran short of nothing, so that it used what it needed
    assert (cut.sum() > 0.0) == (ah == 20.0)
    wanted = {
        "gas_kg": burned.sum(), "need_kg": used.sum(), "lowest_charge_share": charge.min(),
        "lowest_charge_h": charge.argmin(), "cut_out_h": cut.sum() / 3600.0,
        "cut_out_at_h": np.flatnonzero(cut)[0] if cut.any() else -1.0,
        "lowest_inside_c": inside[1:].min(), "lowest_pipes_c": pipes[1:].min(),
        "mean_outdoor_c": run.rows[:, A.TEMP_C].mean(), "mean_wind_m_per_s": run.rows[:, A.WIND_M_PER_S].mean(),
        "panel_wh": run.rows[:, A.PANEL_W].sum(),
    }  # fmt: skip
    nights = {start: used[start : start + 14].sum() for start in (6, 30, 54)}
    worst = max(nights, key=lambda start: nights[start])
    hours = slice(worst, worst + 14)
    day = [max(worst - back, 0) for back in range(1, 25)]
    wanted |= {
        "night_kg": nights[worst], "night_h": worst, "night_outdoor_c": run.rows[hours, A.TEMP_C].mean(),
        "night_wind_m_per_s": run.rows[hours, A.WIND_M_PER_S].mean(), "night_panel_wh": run.rows[day, A.PANEL_W].sum(),
        "night_charge_share": charge[worst + 1 : worst + 15].min(),
    }  # fmt: skip
    for name, value in wanted.items():
        assert getattr(kept, name) == pytest.approx(np.full(2, value), rel=1e-6, abs=1e-12), name
    cumulative = np.concatenate([[0.0], np.cumsum(burned)])[::6]
    for row in range(2):
        assert kept.used_band_kg[row] == pytest.approx(cumulative, rel=1e-6, abs=1e-6)
        assert kept.charge_band_share[row] == pytest.approx(charge[::6], rel=1e-6)
        left = np.sum([stands.with_power().left_kg(k) for k in range(stands.bottles)], axis=0)
        assert kept.left_band_kg[row] == pytest.approx(left[::6], rel=1e-6, abs=1e-6)
    assert (kept.lacked_h.tolist(), kept.held_up.tolist()) == ([-1.0, -1.0], [0.0, 0.0])
    gone = int((np.cumsum(used) > 3.0).argmax())
    assert kept.taken_h == pytest.approx(np.full(2, gone), abs=2.0)
    gone = int((np.cumsum(burned) > 3.0).argmax()) if burned.sum() > 3.5 else -1
    assert kept.taken_stands_h == pytest.approx(np.full(2, gone), abs=2.0 if gone > 0 else 0.0)
    assert kept.used_band_kg.dtype == kept.charge_band_share.dtype == kept.left_band_kg.dtype == np.float32


def test_a_tour_that_holds_no_night_has_no_worst_one() -> None:
    """Six hours from noon hold no evening; in nineteen the evening's night does not end. Twenty hold one."""
    for hours in (6, 19):
        index = small().timeline.index[:hours]
        prepared: Any = Found(timeline=Found(index=index))
        found = _worst_night(
            prepared, np.ones((2, hours)), np.zeros((2, hours, A.WEATHER_COLUMNS)), np.ones((2, hours + 1))
        )
        assert found.pop("night_h").tolist() == [-1.0, -1.0]
        assert len(found) == 5 and all(np.isnan(values).all() and len(values) == 2 for values in found.values())
    index = small().timeline.index[:20]
    used = np.concatenate([np.zeros(6), np.ones(14)])[np.newaxis]
    found = _worst_night(
        Found(timeline=Found(index=index)), used, np.zeros((1, 20, A.WEATHER_COLUMNS)), np.ones((1, 21))
    )  # type: ignore[arg-type]
    assert (found["night_kg"][0], found["night_h"][0]) == (14.0, 6.0)


def test_scenarios_that_ran_short_are_run_again_fed_and_no_others() -> None:
    """Of three vans on a battery of 300 Ah two use so little that they are not cut out."""
    prepared = with_battery(small(), 300.0).with_gas_everywhere()
    factors = base_factors(3)
    factors[:, A.LOADS] = [0.2, 9.0, 0.5]
    many = prepared.run_many(factors, executor=InTurn())
    short = many.trace[:, -1, 5] > 0.0
    assert short.tolist() == [False, True, False]
    used = used_when_fed_kg(prepared, many, factors, executor=InTurn())
    assert np.array_equal(used[~short], many.trace[~short, :, 4])
    fed = prepared.fed().run_many(factors[1:2], executor=InTurn())
    assert np.array_equal(used[1], fed.trace[0, :, 4])
    assert used[1, -1] > many.trace[1, -1, 4]


class Shelf:
    """A shelf that holds one block and notes what it is asked."""

    def __init__(self, **held: Any) -> None:
        self.held, self.kept = {int(name[1:]): block for name, block in held.items()}, []  # type: ignore[var-annotated]

    def read(self, first: int) -> Kept | None:
        return self.held.get(first)

    def keep(self, first: int, block: Kept) -> None:
        self.kept.append((first, len(block.gas_kg)))


def test_blocks_that_are_kept_are_taken_and_the_others_kept_as_they_come() -> None:
    prepared = small(1)
    job = ensemble(prepared, 2 * CHUNK + 3, 3, weather=False)
    whole = job.run(InTurn())
    marked = job.chunk(CHUNK)
    marked = replace(marked, gas_kg=np.full(CHUNK, -1.0))
    shelf, done = Shelf(b50=marked), []  # type: ignore[var-annotated]
    again = job.run(InTurn(), done.append, shelf)
    assert shelf.kept == [(0, CHUNK), (2 * CHUNK, 3)]
    assert done == [CHUNK, CHUNK, 3]
    assert (again.gas_kg[CHUNK : 2 * CHUNK] == -1.0).all()
    others = np.delete(np.arange(2 * CHUNK + 3), np.arange(CHUNK, 2 * CHUNK))
    assert np.array_equal(again.gas_kg[others], whole.gas_kg[others])
    assert np.array_equal(again.need_kg, whole.need_kg)


def test_an_executor_that_lost_a_worker_is_told_in_a_sentence() -> None:
    class Broken(InTurn):
        def map(self, fn: Any, *iterables: Any, **_: Any) -> Any:
            def fails() -> Any:
                raise BrokenExecutor
                yield

            return fails()

    job = ensemble(small(1), 2, 1, weather=False)
    with pytest.raises(BudgetError, match=r"^a worker of the batch was ended from outside; run it again$"):
        job.run(Broken())


def test_scenarios_are_within_their_limits_to_the_last_one() -> None:
    made = ensemble(small(1), 200_000, 0, weather=False, parameters=False)
    assert (made.count, made.seed, made.winters, made.samples) == (200_000, 0, None, {})
    with pytest.raises(InputFault, match=r"^--scenarios must be from 1 to 200,000, got 200,001\.$"):
        ensemble(small(1), 200_001, 0)


def test_odds_keep_their_blocks_in_a_folder_where_one_is_given(tmp_path: Path) -> None:
    one = odds.answer(small(1), scenarios=3, weather=False, executor=InTurn(), keep=tmp_path)
    (folder,) = tmp_path.iterdir()
    assert [path.name for path in folder.iterdir()] == ["000000.npz"]
    again = odds.answer(small(1), scenarios=3, weather=False, executor=InTurn(), keep=tmp_path)
    assert np.array_equal(one.kept.gas_kg, again.kept.gas_kg)
    assert one.notices == small(1).weather.notices
    assert (one.seed, one.scenarios) == (1, 3)
    done: list[object] = []
    odds.answer(small(1), scenarios=3, weather=False, executor=InTurn(), done=done.append)
    assert done == [3]


# What is made of what was kept


def kept(count: int, **given: Any) -> Kept:
    plain = {name: np.ones(count) for name in Kept.__dataclass_fields__}
    plain |= {"lacked_h": np.full(count, -1.0), "cut_out_at_h": np.full(count, -1.0), "held_up": np.zeros(count)}
    plain |= {name: np.zeros((count, 13)) for name in ("used_band_kg", "charge_band_share", "left_band_kg")}
    return Kept(**(plain | {name: np.asarray(value, dtype=float) for name, value in given.items()}))


def test_odds_count_what_fails_first_and_when_a_tenth_has() -> None:
    """Twenty winters: gas is lacked in three (hours 30, 40 and 50), in the first and last with some in the bottle; the
    battery ends in four (10, 40, 45, 60); where both end in the same hour it is the gas."""
    gas_h, charge_h, held_up = np.full(20, -1.0), np.full(20, -1.0), np.zeros(20)
    gas_h[[0, 1, 2]] = 30.0, 40.0, 50.0
    charge_h[[1, 2, 3, 4]] = 40.0, 45.0, 60.0, 10.0
    held_up[[0, 2]] = 1.0
    need = np.arange(1.0, 21.0)
    used = np.tile(np.arange(20.0)[:, np.newaxis], (1, 13)) * np.linspace(0.0, 1.0, 13)
    night = np.arange(20.0) / 10.0
    found = odds.of_kept(
        small(),
        kept(20, lacked_h=gas_h, cut_out_at_h=charge_h, held_up=held_up, need_kg=need, gas_kg=need / 2.0,
             used_band_kg=used, left_band_kg=used[:, ::-1], charge_band_share=used / 20.0, night_kg=night,
             night_outdoor_c=-night, night_wind_m_per_s=3.0 * night, night_panel_wh=100.0 * night,
             night_charge_share=night / 2.0, lowest_charge_share=need / 20.0, lowest_inside_c=need - 5.0,
             lowest_pipes_c=need - 6.0),
        {"loss_factor": need}, 9, ("a word",),
    )  # fmt: skip
    edges = small().timeline.edges
    assert (found.scenarios, found.seed, found.nights, found.bottle_kg) == (20, 9, 3, 11.0)
    assert found.gas == Quantiles.of(need)
    assert found.chance_by_bottles_share == {1: 9.0 / 20.0, 2: 18.0 / 20.0}  # gas that does not flow counts for none
    assert found.chance_as_it_stands_share == {1: 18.0 / 20.0, 2: 18.0 / 20.0}
    assert found.kilograms_last_share(11.0) == 11.0 / 20.0
    assert found.frozen_share == 6.0 / 20.0
    assert found.carried_share == 17.0 / 20.0
    assert found.carried_half_width_share == chance_half_width(0.85, 20)
    assert found.cut_out_share == 4.0 / 20.0
    assert found.binding_share == {"gas": 0.05, "battery charge": 0.15, "off-take of cold bottles": 0.05}
    assert found.binds == "battery charge"
    assert found.offtake_share == 0.1
    assert found.run_out_one_in_ten == edges[40].to_pydatetime()
    assert found.cut_out_one_in_ten == edges[40].to_pydatetime()
    assert found.cut_out_in_half is None  # four of twenty
    assert found.first_one_in_ten == edges[30].to_pydatetime()
    for name in ("charge_share", "inside_c", "pipes_c"):
        told = getattr(found, f"lowest_{name.removesuffix('_share').removesuffix('_c')}")
        assert told == Quantiles.of(getattr(found.kept, f"lowest_{name}"))
    assert found.band_times == tuple(edges[hour].to_pydatetime() for hour in range(0, 73, 6))
    for band, whole in (
        (found.band_used_kg, used),
        (found.band_left_kg, used[:, ::-1]),
        (found.band_charge_share, used / 20.0),
    ):
        assert band == pytest.approx(np.quantile(whole, [0.1, 0.5, 0.9], axis=0))
    # A tenth lies at or above 1.71 kg, the 0.9 quantile of 0 to 1.9: the nights of 1.8 and 1.9 kg.
    assert found.worst_night == pytest.approx({
        "p50_kg": 0.95, "p90_kg": 1.71, "outdoor_c": -1.85, "wind_m_per_s": 5.55, "panel_wh": 185.0,
        "lowest_charge_share": 0.925,
    })  # fmt: skip
    assert (found.notices, list(found.samples)) == (("a word",), ["loss_factor"])


def test_odds_of_a_tour_without_a_night_have_no_hardest_one() -> None:
    found = odds.of_kept(small(), kept(4, night_h=[-1.0] * 4, night_kg=[np.nan] * 4), {}, 1)
    assert found.worst_night is found.as_dict()["worst_night"] is None


def test_odds_of_winters_in_which_nothing_fails_bind_nothing() -> None:
    found = odds.of_kept(small(), kept(15), {}, 1)
    assert (found.binds, found.carried_share, found.cut_out_share, found.notices) == (None, 1.0, 0.0, ())
    assert (found.run_out_one_in_ten, found.cut_out_one_in_ten, found.first_one_in_ten) == (None, None, None)
    assert found.chance_by_bottles_share == {1: 1.0}
    most = odds.of_kept(small(), kept(5, cut_out_at_h=[9.0, -1.0, 7.0, 3.0, -1.0]), {}, 1)
    assert most.cut_out_in_half == small().timeline.edges[9].to_pydatetime()  # three of five are a half
    one = kept(15, lacked_h=[5.0, *[-1.0] * 14])
    assert odds.of_kept(small(), one, {}, 1).run_out_one_in_ten is None  # two of fifteen are a tenth
    two = kept(15, lacked_h=[5.0, 9.0, *[-1.0] * 13])
    told = odds.of_kept(small(), two, {}, 1).run_out_one_in_ten
    assert told == small().timeline.edges[9].to_pydatetime()
    alone = odds.of_kept(small(), kept(1, lacked_h=[0.0]), {}, 1)
    assert alone.run_out_one_in_ten == small().timeline.edges[0].to_pydatetime()


def test_chances_end_at_twenty_bottles() -> None:
    found = odds._chances(np.array([1.0, 25.0]), 1.0)
    assert list(found) == list(range(1, 21))
    assert set(found.values()) == {0.5}
    assert odds._chances(np.array([5.0, 10.0]), 5.0) == {1: 0.5, 2: 1.0}  # just full is enough


# What is not known


def test_a_factor_at_its_scores_is_low_usual_and_high_and_kept_within_2_6() -> None:
    limits = Range(0.8, 1.0, 1.5, "x")
    p90 = special.ndtri(0.9)
    found = factor_of(limits, np.array([-p90, 0.0, p90, 2.0 * p90]))
    assert found == pytest.approx([0.8, 1.0, 1.5, 2.25])
    unknown = Unknowns({"b": limits, "a": Range(0.5, 1.0, 2.0, "x")})
    assert unknown.names == ("a", "b")
    far = unknown.factors(np.array([[9.0, -9.0]]))
    assert far["a"] == pytest.approx(2.0 ** (2.6 / p90))
    assert far["b"] == pytest.approx(0.8 ** (2.6 / p90))
    assert Unknowns({}).scores(5, 1).shape == (5, 0)
    scores = unknown.scores(100, 3)
    assert scores.shape == (100, 2)
    for column in scores.T:  # one in each hundredth of the distribution
        assert sorted(np.floor(100.0 * special.ndtr(column)).astype(int)) == list(range(100))


# What matters most


def synthetic(count: int = 400, edges: int = 13, **changes: Any) -> Any:
    """Need = 20 + 3 loss + 4 cold + 0.5 noise of standard normals; the first day's use follows need."""
    x = np.random.default_rng(5).standard_normal((count, 4))
    need = 20.0 + 3.0 * x[:, 0] + 4.0 * x[:, 1] + 0.5 * x[:, 2]
    used = np.zeros((count, edges))
    if edges > 4:
        used[:, 4] = need / 10.0
    given = {
        "scenarios": count, "seed": 2, "samples": {"loss_factor": np.exp(x[:, 0]), "still": np.ones(count)},
        "gas": Found(p10=10.0, p90=24.0),
        "kept": kept(count, need_kg=need, lowest_charge_share=0.5 + 0.1 * x[:, 3], used_band_kg=used,
                     mean_outdoor_c=x[:, 1], mean_wind_m_per_s=np.ones(count), panel_wh=np.ones(count)),
    }  # fmt: skip
    return Found(**(given | changes))


def test_what_matters_is_weather_then_walls_and_what_is_left_is_neither() -> None:
    """Shares by hand: 16, 9 and 0.25 of 25.25; a sample of 400 knows them to 0.04."""
    found = sensitivity.answer(synthetic())
    assert found.scenarios == 400
    assert [(bar.name, bar.words) for bar in found.gas] == [
        ("weather", "weather"), ("loss_factor", "loss through walls, roof and floor"),
    ]  # fmt: skip
    shares = [bar.share for bar in found.gas]
    assert shares == pytest.approx([16.0 / 25.25, 9.0 / 25.25], abs=0.08)
    assert found.gas_unexplained_share == max(0.0, 1.0 - sum(shares))
    assert not any(bar.by_chance for bar in found.gas)
    assert all(bar.by_chance for bar in found.charge)
    assert found.charge_unexplained_share == 1.0
    p90 = special.ndtri(0.9)
    loss = found.gas[1]
    assert (loss.at_low, loss.at_high) == pytest.approx((20.0 - 3.0 * p90, 20.0 + 3.0 * p90), abs=0.8)
    assert loss.moves == loss.at_high - loss.at_low == pytest.approx(6.0 * p90, abs=0.5)
    assert max(bar.share for bar in found.charge) < 0.05


def test_what_moves_less_than_its_half_width_or_than_matters_is_by_chance_and_comes_last() -> None:
    """Tightly known, but 60 g end to end; and a share that a spread of a few grams explains is no reason to measure."""
    made = synthetic()
    x = np.log(made.samples["loss_factor"])
    small_kept = Found(**{**vars(made.kept), "need_kg": 20.0 + 0.02 * x})
    found = sensitivity.answer(synthetic(kept=small_kept))
    loss = next(bar for bar in found.gas if bar.name == "loss_factor")
    assert loss.share > 0.9
    assert abs(loss.moves) > loss.moves_half_width
    assert loss.by_chance
    assert not any(worth.what.startswith("measuring") for worth in found.worth)
    assert found.gas_unexplained_share == 1.0
    noisy = sensitivity._bars(sensitivity._groups(made), made.kept.lowest_charge_share, 0.0)
    assert all(bar.by_chance == (abs(bar.moves) <= bar.moves_half_width) for bar in noisy)
    mixed = synthetic(samples=made.samples | {"zeal_factor": np.exp(np.random.default_rng(9).standard_normal(400))})
    last = sensitivity.answer(mixed).gas[-1]
    assert (last.name, last.by_chance) == ("zeal_factor", True)


def test_what_a_measurement_is_worth_follows_from_the_share_that_it_takes_away() -> None:
    """Measuring takes nine tenths of a range's variance: 14 kg times the root of 1 - 0.9 share; the weather cannot be
    measured. A weighed bottle tells need up to the weather's part; with the day's use at a tenth of the need and 50 g
    of scale: noise of 0.5 kg against 5 kg."""
    made = synthetic()
    found = sensitivity.answer(made)
    by_what = {worth.what: worth for worth in found.worth}
    assert set(by_what) == {
        "measuring loss through walls, roof and floor", "weighing the bottle after the first night",
    }  # fmt: skip
    assert {worth.band_now for worth in found.worth} == {14.0}
    share = next(bar.share for bar in found.gas if bar.name == "loss_factor")
    measured = by_what["measuring loss through walls, roof and floor"]
    assert measured.band_then == pytest.approx(14.0 * np.sqrt(1.0 - 0.9 * share), rel=ALIKE)
    groups = sensitivity._groups(made)
    weighed = sensitivity.weighing_share(made, groups)
    assert weighed is not None
    explained = 1.0 - 0.25 / 25.25  # the scale's error of 0.5 kg beside the whole spread, the weather's share apart
    assert weighed == pytest.approx(explained - 16.0 / 25.25, abs=0.08)
    then = by_what["weighing the bottle after the first night"].band_then
    assert then == pytest.approx(14.0 * np.sqrt(1.0 - weighed), rel=ALIKE)
    assert [worth.band_then for worth in found.worth] == sorted(worth.band_then for worth in found.worth)
    del groups["weather"]
    alone = sensitivity.weighing_share(made, groups)
    assert alone == pytest.approx(explained, abs=0.02)
    for edges, told in ((4, False), (5, True)):
        assert (sensitivity.weighing_share(synthetic(edges=edges), groups) is not None) == told
    assert sensitivity.weighing_share(made, groups) == alone  # the same seed, the same scale's errors


def test_what_never_varies_is_no_input_and_nothing_at_all_is_refused() -> None:
    made = synthetic()
    assert list(sensitivity._groups(made)) == ["loss_factor", "weather"]
    assert sensitivity._groups(made)["loss_factor"] == pytest.approx(np.log(made.samples["loss_factor"]))
    assert sensitivity._groups(made)["weather"].shape == (400, 3)
    still = synthetic(kept=kept(400))
    assert list(sensitivity._groups(still)) == ["loss_factor"]
    with pytest.raises(InputFault) as fault:
        sensitivity._groups(synthetic(kept=kept(400), samples={"still": np.ones(400)}))
    assert str(fault.value) == (
        "what matters most needs something that varies, got neither weather nor a van's ranges."
    )
    sensitivity.answer(synthetic(count=100))
    with pytest.raises(InputFault, match=r"^what matters most needs at least 100 scenarios, got 99; "):
        sensitivity.answer(synthetic(count=99))


# Tonight


def test_a_night_fails_by_what_ends_first_and_its_stop_is_that_of_the_middle_one() -> None:
    """Ten cases: five end after 2, 3, 3, 8 and 9 h, of gas or of charge; the middle of them after 3, a tenth of all
    after 2 (of ten the second). The coldest of each after the first edge: the median of the five."""
    gas_h = np.array([2.0, 3.0, np.inf, np.inf, 9.0, *[np.inf] * 5])
    charge_h = np.array([5.0, np.inf, 3.0, 8.0, np.inf, *[np.inf] * 5])
    inside = np.tile(np.linspace(18.0, 10.0, 15), (10, 1)) + np.arange(10.0)[:, np.newaxis]
    found = tonight._stop((gas_h, charge_h), inside, START)
    assert found is not None
    assert (found.half_after_h, found.half_at) == (3.0, START + dt.timedelta(hours=3))
    assert found.one_in_ten_at == START + dt.timedelta(hours=2)
    assert found.lowest_inside_c == 12.0
    few = np.where(np.arange(20) < 1, 4.0, np.inf)
    rare = tonight._stop((few, np.full(20, np.inf)), np.tile(inside, (2, 1)), START)
    assert rare is not None
    assert (rare.half_after_h, rare.one_in_ten_at, rare.lowest_inside_c) == (4.0, None, 10.0)
    assert tonight._stop((np.full(3, np.inf), np.full(3, np.inf)), inside[:3], START) is None


def test_a_stop_past_a_clock_change_is_told_by_the_clock_that_then_holds() -> None:
    """Eight real hours after 21:00 of 27 March it is 06:00 in Riga, where the clocks skip an hour; six after, 04:00."""
    start = dt.datetime(2027, 3, 27, 21, tzinfo=RIGA)
    ends = np.array([6.0, *[8.0] * 9])
    found = tonight._stop((ends, np.full(10, np.inf)), np.zeros((10, 15)), start)
    assert found is not None and found.one_in_ten_at is not None
    assert found.half_at.isoformat() == "2027-03-28T06:00:00+03:00"
    assert found.one_in_ten_at.isoformat() == "2027-03-28T04:00:00+03:00"
    autumn = tonight._stop((ends - 2.0, np.full(10, np.inf)), np.zeros((10, 15)), start.replace(month=10, day=30))
    assert autumn is not None and autumn.one_in_ten_at is not None
    assert (autumn.half_at.isoformat(), autumn.one_in_ten_at.isoformat()) == (
        "2027-10-31T03:00:00+03:00", "2027-10-31T01:00:00+03:00",
    )  # fmt: skip


def test_a_nights_figures_follow_from_what_is_on_board_and_from_its_hours() -> None:
    prepared = small()
    found = tonight.answer(prepared, gas_left_kg=6.0, charge_percent=70.0, scenarios=20, warm_c=18.0, warm_at="06:45")
    edges = prepared.timeline.edges
    assert (found.start, found.morning) == (edges[5].to_pydatetime(), edges[20].to_pydatetime())
    assert found.place == prepared.tour.stops[0].place
    assert (found.gas_left_kg, found.charge_share, found.scenarios) == (6.0, 0.7, 20)
    assert (found.warm_c, found.warm_at) == (18.0, "06:45")
    battery = prepared.van.power.battery
    usable = battery.capacity_ah * (0.7 - cut_out_at_share(battery, 19.0))
    assert found.usable_ah == pytest.approx(usable, rel=ALIKE)
    assert found.full_ah == pytest.approx(usable + 0.3 * battery.capacity_ah, rel=ALIKE)
    assert found.fails_share == sum(found.failing_by_share.values())
    assert found.fails_half_width_share == chance_half_width(found.fails_share, 20)
    assert found.more_nights_p90 == pytest.approx(6.0 / found.need.p90, rel=ALIKE)
    empty = tonight.answer(prepared, gas_left_kg=6.0, charge_percent=0.0, scenarios=20)
    assert empty.usable_ah == 0.0
    assert empty.charge_in_the_morning.p90 < 0.05
    assert found.options[0].words.startswith("18 °C from 22:00, 18 °C from ")
    later = tonight.answer(
        prepared, gas_left_kg=6.0, charge_percent=70.0, scenarios=20, at=START + dt.timedelta(hours=31)
    )
    assert later.start == edges[31].to_pydatetime()
    warm = tonight.answer(prepared, gas_left_kg=6.0, charge_percent=70.0, scenarios=20, inside_c=25.0)
    cold = tonight.answer(prepared, gas_left_kg=6.0, charge_percent=70.0, scenarios=20, inside_c=5.0)
    assert warm.need.p50 < cold.need.p50
    assert warm.options[-1].gas_kg < cold.options[-1].gas_kg


def test_a_night_takes_all_the_charge_of_all_its_loads() -> None:
    """Without weather or range every case is one run: its need and charge are those of the night's fed march."""
    prepared = replace(steady(-8.0), described=None)
    found = tonight.answer(prepared, gas_left_kg=6.0, charge_percent=70.0, scenarios=20, forecast_low_c=-8.0)
    van = evening.with_gas_and_charge(prepared, 6.0, 70.0)
    run = Detail.of(van.fed().between(5, 20, start_c=19.0))
    assert found.need_charge.p10 < run.flow("load_ah").sum() < found.need_charge.p90
    assert run.flow("load_ah").sum() > 1.3 * run.flow("load_ah", 0).sum()
    burned = (run.flow("gas_out_kg") + run.flow("gas_out_butane_kg")).sum()
    assert found.need.p10 < burned < found.need.p90
    assert found.outdoor_low.p50 == pytest.approx(-8.0, abs=1.5)
    assert found.notices == ("tonight: a low of -8 °C as forecast, ± 2 K (one standard deviation).",)


# The evening


def filled(gas_left_kg: float, *net_kg: float, fullest_first: bool = False) -> list[float]:
    prepared = small()
    bottles = tuple(
        prepared.van.gas.bottles[0].model_copy(update={"net_kg": kg, "name": f"{kg:g} kg"}) for kg in net_kg
    )
    van = prepared.van.model_copy(update={"gas": prepared.van.gas.model_copy(update={"bottles": bottles})})
    found = evening.with_gas_and_charge(prepared.with_van(van), gas_left_kg, 40.0, fullest_first=fullest_first)
    assert found.van.power.battery.start_share == 0.4
    assert sorted(bottle.net_kg for bottle in found.van.gas.bottles) == sorted(net_kg)
    assert all((bottle.start_kg or 0.0) <= bottle.net_kg for bottle in found.van.gas.bottles)
    return [bottle.start_kg or 0.0 for bottle in found.van.gas.bottles]


def test_what_is_left_is_in_full_bottles_and_the_one_in_use() -> None:
    assert filled(13.5, 11.0, 11.0, 11.0) == [2.5, 11.0, 0.0]
    assert filled(33.0, 11.0, 11.0, 11.0) == [11.0, 11.0, 11.0]
    assert filled(11.0, 11.0, 11.0) == [11.0, 0.0]
    assert filled(4.0, 11.0, 11.0) == [4.0, 0.0]
    assert filled(0.0, 11.0, 11.0) == [0.0, 0.0]
    assert filled(8.0, 5.0, 11.0) == [8.0, 0.0], "in the bottle that can hold it"
    assert filled(8.0, 11.0, 5.0) == [3.0, 5.0]
    assert filled(13.5, 11.0, 11.0, 11.0, fullest_first=True) == [11.0, 2.5, 0.0]
    for wrong in (
        {"gas_left_kg": -0.1, "charge_percent": 5.0},
        {"gas_left_kg": 33.1, "charge_percent": 5.0},
        {"gas_left_kg": 3.0, "charge_percent": -0.1},
        {"gas_left_kg": 3.0, "charge_percent": 100.1},
    ):
        with pytest.raises(InputFault):
            evening.with_gas_and_charge(small(), **wrong)
    evening.with_gas_and_charge(small(), 33.0, 100.0)
    evening.with_gas_and_charge(small(), 0.0, 0.0)


def line_of(hours: int = 72, hooked: tuple[int, ...] = (), moving: tuple[int, ...] = ()) -> Any:
    prepared = small()
    line = prepared.timeline
    hookup, drives = np.zeros(hours), np.zeros(hours, dtype=int)
    hookup[list(hooked)], drives[list(moving)] = 1380.0, 1
    cut = replace(line, index=line.index[:hours], edges=line.edges[: hours + 1], hookup_w=hookup, moving=drives)
    return Found(timeline=cut)


def test_the_evening_is_the_first_off_the_grid_at_17_and_ends_at_8() -> None:
    """From noon: 17:00 is hour 5, 29 and 53, 08:00 is edge 20, 44 and 68."""
    assert evening.window(line_of(), None) == (5, 20)
    assert evening.window(line_of(hooked=(5,)), None) == (29, 44)
    assert evening.window(line_of(hooked=(5,), moving=(29,)), None) == (53, 68)
    assert evening.window(line_of(hooked=(5, 29, 53)), None) == (5, 20)
    for hours_h, found in ((0, (0, 20)), (19.5, (19, 20)), (20, (20, 44)), (67, (67, 68))):
        at = START + dt.timedelta(hours=hours_h)
        assert evening.window(line_of(), at) == found, hours_h
        assert evening.window(line_of(), at.replace(tzinfo=ZoneInfo("Europe/Riga")).astimezone(dt.UTC)) == found, (
            hours_h
        )
    for hours_h, sentence in (
        (-0.1, r"^--at must lie within the tour, 2027-01-12 12:00 to 2027-01-15 12:00, got 2027-01-12 11:54\.$"),
        (72, r"^--at must lie within the tour, 2027-01-12 12:00 to 2027-01-15 12:00, got 2027-01-15 12:00\.$"),
        (68, r"^--at must leave a night before the tour's end; choose an earlier evening\.$"),
    ):
        with pytest.raises(InputFault, match=sentence):
            evening.window(line_of(), START + dt.timedelta(hours=hours_h))
    with pytest.raises(InputFault, match=r"^the tour must have an evening at 17:00, got none; give --at\.$"):
        evening.window(line_of(hours=5), None)


def test_a_forecast_shifts_the_whole_night_to_its_low_and_scatters_low_and_wind() -> None:
    """Mean and spread of 400 lows: 2 K with a standard error of 0.1 and 0.07; of the logarithm of the wind 0.3 with
    0.015 and 0.011; four of each. Every hour is shifted alike, and the air holds no more than saturation."""
    prepared = small()
    rows, notices = evening.weather_of_night(prepared, 5, 20, -12.0, 400, 7)
    base = prepared.rows[5:20]
    assert rows.shape == (400, *base.shape)
    lows = rows[:, :, A.TEMP_C].min(axis=1)
    assert lows.mean() == pytest.approx(-12.0, abs=0.4)
    assert lows.std() == pytest.approx(2.0, abs=0.28)
    shift = rows[:, :, A.TEMP_C] - base[:, A.TEMP_C]
    assert shift == pytest.approx(np.repeat(shift[:, :1], 15, axis=1))
    wind = np.log(rows[:, :, A.WIND_M_PER_S] / base[:, A.WIND_M_PER_S])
    assert wind == pytest.approx(np.repeat(wind[:, :1], 15, axis=1))
    assert wind[:, 0].mean() == pytest.approx(0.0, abs=0.06)
    assert wind[:, 0].std() == pytest.approx(0.3, abs=0.044)
    rest = [column for column in range(A.WEATHER_COLUMNS) if column not in (A.TEMP_C, A.WIND_M_PER_S, A.HUMIDITY_RATIO)]
    assert np.array_equal(rows[:, :, rest], np.repeat(base[np.newaxis][:, :, rest], 400, axis=0))
    from budget.physics.properties import saturation_ratio

    for case in (0, 17):
        for hour in range(15):
            most = saturation_ratio(rows[case, hour, A.TEMP_C], rows[case, hour, A.PRESSURE_PA])
            assert rows[case, hour, A.HUMIDITY_RATIO] == pytest.approx(
                min(base[hour, A.HUMIDITY_RATIO], most), rel=ALIKE
            )
    assert len(notices) == 1
    again, _ = evening.weather_of_night(prepared, 5, 20, -12.0, 400, 7)
    other, _ = evening.weather_of_night(prepared, 5, 20, -12.0, 400, 8)
    assert np.array_equal(rows, again) and not np.array_equal(rows, other)


def test_without_a_forecast_a_night_has_any_winters_weather() -> None:
    """The same winters whatever the number asked for, past a whole chunk; only the night's hours of each."""
    prepared = small()
    many, notices = evening.weather_of_night(prepared, 5, 20, None, CHUNK + 2, 1)
    few, _ = evening.weather_of_night(prepared, 5, 20, None, 3, 1)
    assert many.shape == (CHUNK + 2, 15, A.WEATHER_COLUMNS)
    assert np.array_equal(many[:3], few)
    assert len(np.unique(many[:, :, A.TEMP_C].mean(axis=1))) == CHUNK + 2
    assert len(notices) == 1


def test_the_switch_on_before_coming_back_is_the_latest_that_is_warm_in_time() -> None:
    """By brute force over leads of a quarter of an hour: the fed van marched from the tour's start, its plan until it
    is left, off until the switch-on, then the wish; nothing varies but the forecast's spread."""
    prepared = steady(-5.0)
    leaving, back = START + dt.timedelta(hours=5, minutes=15), START + dt.timedelta(hours=10, minutes=30)
    asked: dict[str, Any] = {
        "gas_left_kg": 11.0, "charge_percent": 90.0, "start": leaving, "scenarios": 20, "inside_c": 19.0,
        "forecast_low_c": -5.0,
    }  # fmt: skip
    found = tonight_back.answer(prepared, back=back, warm_c=19.0, **asked)
    rows, _ = evening.weather_of_night(prepared, 5, 20, -5.0, 20, 1)
    van = evening.with_gas_and_charge(prepared, 11.0, 90.0).between(0, 20, start_c=19.0).fed()
    van = replace(van, rows=np.concatenate((prepared.rows[:5], np.median(rows, axis=0))))

    def marched(lead_min: float, away_c: float = np.nan) -> Detail:
        hours = van.hours.copy()
        set_c = np.asarray(hours["set_c"]).reshape(-1).copy()
        on = 42 - int(lead_min / 15.0)
        set_c[21:on], set_c[on:46] = away_c, 19.0
        hours["set_c"] = set_c.reshape(-1, 4)
        return Detail.of(replace(van, hours=hours.view(np.recarray)))

    def on_return_c(run: Detail) -> float:
        return float(run.node_c("living_air")[10:12].mean())

    assert found.switch_on is not None
    lead = 60.0 * hours_between(found.switch_on, found.back)
    run = marched(lead)
    assert on_return_c(run) >= 18.5 > on_return_c(marched(lead - 15.0))
    assert found.lowest_inside_c == pytest.approx(run.node_c("living_air")[6:12].min(), rel=ALIKE)
    given = tuple(time.replace(tzinfo=RIGA) for time in (leaving, back))
    assert (found.start, found.back, found.morning) == (*given, prepared.timeline.edges[20].to_pydatetime())
    assert found.as_dict()["back"] == "2027-01-12T22:30:00+02:00"
    outdoors_c = np.median(rows, axis=0)[:6, A.TEMP_C]
    assert (found.away_low_c, found.away_high_c) == pytest.approx((outdoors_c.min(), outdoors_c.max()))
    assert found.shift_k == pytest.approx(0.0, abs=1e-9)
    late = tonight_back.answer(prepared, back=back, warm_c=60.0, **asked)
    assert (late.switch_on, late.verdict) == (None, "better not")
    for wrong in (leaving, START + dt.timedelta(hours=72)):
        with pytest.raises(InputFault, match=r"^the return must lie after leaving and within the tour, got 2027-01-1"):
            tonight_back.answer(prepared, back=wrong, **asked)


def test_gas_charge_and_forecast_count_for_the_hours_away() -> None:
    """Colder: sooner on, more often short. Nothing on board: always short. What freezes is that of the fed run."""
    asked: dict[str, Any] = {
        "start": START + dt.timedelta(hours=5), "back": START + dt.timedelta(hours=11), "scenarios": 20, "warm_c": 19.0,
    }  # fmt: skip

    def away(low_c: float, gas_kg: float = 11.0, charge: float = 100.0) -> tonight_back.Back:
        prepared = steady(-5.0)
        return tonight_back.answer(prepared, gas_left_kg=gas_kg, charge_percent=charge, forecast_low_c=low_c, **asked)

    mild, cold = away(5.0), away(-25.0)
    assert mild.switch_on is not None
    assert cold.switch_on is None or cold.switch_on < mild.switch_on
    assert cold.lowest_inside_c < mild.lowest_inside_c - 10.0
    assert (mild.is_lost, mild.valve_h, mild.left_on) == (False, None, None)
    assert [(part.name, part.after_h) for part in mild.frozen] == [("waste", 0.0)], "at -5 °C until it is left"
    assert cold.is_lost
    assert cold.left_on is not None
    assert cold.left_on.gas_kg > cold.left_on.off_kg
    assert not {"pipes", "boiler"} & set(cold.left_on.freezing)
    assert cold.shift_k == pytest.approx(-20.0)
    for empty, binds in ((away(5.0, gas_kg=0.0), "gas"), (away(5.0, charge=0.0), "battery charge")):
        assert (empty.fails_before_share, empty.fails_share, empty.binds) == (1.0, 1.0, binds)
    assert mild.fails_before_share <= mild.fails_share < 1.0


def test_a_switch_on_before_a_clock_change_is_as_far_ahead_as_on_any_other_night() -> None:
    """Seven and a half real hours away in weather that never changes: one lead, though the clock shows an hour more."""
    asked: dict[str, Any] = {
        "gas_left_kg": 20.0, "charge_percent": 100.0, "warm_c": 21.0, "scenarios": 20, "inside_c": 19.0,
        "forecast_low_c": -5.0,
    }  # fmt: skip

    def of_climate(start: dt.datetime) -> Prepared:
        prepared = steady(-5.0, 2, start)
        return replace(prepared, tour=prepared.tour.model_copy(update={"weather": WeatherChoice()}))

    usual, spring = (
        tonight_back.answer(of_climate(noon), start=noon.replace(hour=20), back=noon + ahead, **asked)
        for noon, ahead in ((START, dt.timedelta(hours=15.5)), (SPRING, dt.timedelta(hours=16.5)))
    )
    assert usual.switch_on is not None and spring.switch_on is not None
    lead_h = hours_between(usual.switch_on, usual.back)
    assert hours_between(spring.switch_on, spring.back) == lead_h > 0.5
    assert (spring.back.isoformat(), spring.start.utcoffset()) == ("2027-03-28T04:30:00+03:00", dt.timedelta(hours=2))
    assert spring.switch_on.utcoffset() == dt.timedelta(hours=2)
    assert spring.lowest_inside_c == pytest.approx(usual.lowest_inside_c, abs=0.2), "as long away"


def test_a_time_that_the_clocks_skip_is_refused_and_of_one_that_comes_twice_the_first_counts() -> None:
    skipped, noon = dt.datetime(2027, 3, 28, 3, 30), steady(-5.0, 2, SPRING)
    asked: dict[str, Any] = {"gas_left_kg": 20.0, "charge_percent": 100.0, "scenarios": 20, "forecast_low_c": -5.0}
    told = "must be a time that exists, got 2027-03-28 03:30, which the clocks skip there; choose another.$"
    with pytest.raises(InputFault, match=f"^--back {told}"):
        tonight_back.answer(noon, start=SPRING, back=skipped, **asked)
    with pytest.raises(InputFault, match=f"^--at {told}"):
        tonight_back.answer(noon, start=skipped, back=dt.datetime(2027, 3, 28, 6), **asked)
    with pytest.raises(InputFault, match=f"^--at {told}"):
        tonight.answer(noon, at=skipped, **asked)
    autumn = steady(-5.0, 2, dt.datetime(2027, 10, 30, 12))
    assert evening.window(autumn, dt.datetime(2027, 10, 31, 3, 30)) == (15, 21)
    assert evening.window(autumn, dt.datetime(2027, 10, 31, 4, 30)) == (17, 21)


def test_a_switch_on_is_on_the_quarter_hour_that_is_marched_and_never_before_leaving() -> None:
    """Away from 17:45 to 18:00, and one time of switching on for a return at 22:29 as at 22:15."""
    asked: dict[str, Any] = {
        "gas_left_kg": 20.0, "charge_percent": 100.0, "warm_c": 19.0, "scenarios": 20, "inside_c": 19.0,
        "forecast_low_c": -5.0,
    }  # fmt: skip
    leaving = START.replace(hour=17, minute=59)
    brief = tonight_back.answer(steady(-5.0), start=leaving, back=START.replace(hour=18, minute=1), **asked)
    assert brief.switch_on == brief.start
    assert brief.sentences()[0] == (
        "For 19 °C at 18:01: leave the heater on, no later switch-on is warm in time to the quarter hour."
    )
    at_last, at_first = (
        tonight_back.answer(steady(-5.0), start=leaving, back=START.replace(hour=22, minute=minute), **asked).switch_on
        for minute in (29, 15)
    )
    assert at_last == at_first is not None


def test_an_absence_of_more_than_a_day_has_no_heat_in_between() -> None:
    """Away from 17:00 for 28 h: the plan's warm morning is not heated, and the night counts to the lowest inside."""
    day = tonight_back.answer(
        steady(-5.0), gas_left_kg=20.0, charge_percent=100.0, start=START + dt.timedelta(hours=5),
        back=START + dt.timedelta(hours=33), warm_c=19.0, scenarios=20, forecast_low_c=-5.0,
    )  # fmt: skip
    assert day.lowest_inside_c < 0.0
    assert day.morning == steady(-5.0).timeline.edges[44].to_pydatetime()


def test_one_input_is_judged_by_a_cubic_and_several_by_their_squares_and_products() -> None:
    """x³ of one input is explained to the last digit; of two inputs their product is, a cube of one is not."""
    x = np.random.default_rng(1).uniform(-1.0, 1.0, (300, 2))
    assert explained_share({"one": x[:, 0]}, x[:, 0] ** 3)["one"] == pytest.approx(1.0, abs=1e-9)
    both = explained_share({"both": x}, x[:, 0] * x[:, 1] - x[:, 1] ** 2)["both"]
    assert both == pytest.approx(1.0, abs=1e-9)
    assert explained_share({"both": x}, x[:, 0] ** 3)["both"] < 0.95
