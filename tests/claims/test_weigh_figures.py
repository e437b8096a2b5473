"""Weighings in figures: what a reading says and how exactly, what it makes likely, and what is ahead, by hand."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace as Found
from typing import Any

import numpy as np
import pytest
from sample_tours import short_tour
from sample_vans import one_room
from scipy.stats import norm

from budget.answers.ensemble import InTurn
from budget.answers.measured import record, weigh
from budget.answers.measured.logbook import SCALE_KG, Entry
from budget.answers.measured.weigh import _odd, _said, _used, _View
from budget.answers.prepared import Prepared
from budget.answers.road import CHARGE_SHARE, USE_MISFIT_SHARE, Drawn, Road, _columns, draw
from budget.errors import InputFault
from budget.results.result import Result

BOTTLES = [
    {"name": "33 kg", "net_kg": 33.0, "tare_kg": 30.0, "start_kg": 20.0},
    {"name": "11 kg", "net_kg": 11.0, "tare_kg": 12.0},
]


@cache
def prepared(changeover: str = "automatic") -> Prepared:
    van = one_room(gas={"bottles": BOTTLES, "locker_zone": "outdoors", "changeover": changeover})
    return Prepared.of(van, short_tour(van))


def start() -> dt.datetime:
    at: dt.datetime = prepared().timeline.edges[0].to_pydatetime()
    return at


def weighed(hour: float, bottle: str, gross_kg: float, *, is_swapped: bool = False) -> Entry:
    return Entry(start() + dt.timedelta(hours=hour), bottle=bottle, gross_kg=gross_kg, is_swapped=is_swapped)


def charged(hour: float, percent: float) -> Entry:
    return Entry(start() + dt.timedelta(hours=hour), charge_percent=percent)


def road(*entries: Entry, count: int = 6, changeover: str = "automatic") -> Road:
    return Road.of(prepared(changeover), entries, count, 1, InTurn(), None)


# What the readings say


def test_readings_say_what_is_held_with_the_scales_error_and_that_of_the_use_before() -> None:
    """Full at the start: 20 and 11 kg. A weighing's variance is the scale's, and 5 % of what was given since the one
    before; what a weighing leaves open is corrected by it (Kalman). A charge is known to 5 %. A changed bottle says
    nothing of the use, and is known to the scale from then on."""
    entries = (
        weighed(12, "33 kg", 48.0),
        charged(12, 80.0),
        weighed(24, "33 kg", 46.0),
        weighed(30, "11 kg", 23.0),
        weighed(36, "33 kg", 60.0, is_swapped=True),
        weighed(48, "33 kg", 59.0),
        weighed(60, "11 kg", 11.5),
    )
    made = road(*entries)
    assert made.telling == tuple(entry for entry in entries if not entry.is_swapped)
    assert made.observed.tolist() == pytest.approx([18.0, 0.8, 16.0, 11.0, 29.0, 0.0])
    scale = SCALE_KG**2
    first = (USE_MISFIT_SHARE * 2.0) ** 2
    left = first * scale / (first + scale)
    second = left + (USE_MISFIT_SHARE * 2.0) ** 2
    after_swap = scale + (USE_MISFIT_SHARE * 1.0) ** 2
    small = 0.0
    last = small + (USE_MISFIT_SHARE * 11.0) ** 2
    spread = [scale + first, CHARGE_SHARE**2, scale + second, scale, scale + after_swap, scale + last]
    assert made.spread == pytest.approx(np.sqrt(spread))
    assert [(each.bottle, each.weighed_kg) for each in made.intervals] == [
        ("33 kg", pytest.approx(2.0)), ("33 kg", pytest.approx(2.0)), ("11 kg", pytest.approx(0.0)),
        ("33 kg", pytest.approx(1.0)), ("11 kg", pytest.approx(11.0)),
    ]  # fmt: skip
    assert [(each.since, each.until) for each in made.intervals] == [
        (start(), entries[0].at), (entries[0].at, entries[2].at), (start(), entries[3].at),
        (entries[4].at, entries[5].at), (entries[3].at, entries[6].at),
    ]  # fmt: skip
    assert (made.tare_kg("33 kg"), made.tare_kg("11 kg")) == (30.0, 12.0)
    assert made.hour(entries[0].at) == 12.0


def test_hours_of_readings_are_each_once_within_the_tour() -> None:
    made = road(charged(0.2, 90.0), charged(11.6, 80.0), weighed(12.4, "33 kg", 45.0), charged(72.0, 50.0))
    assert made._hours == [1, 12, 72]
    assert made.bands_h.tolist() == [float(hour) for hour in range(0, 73, 6)]


def test_a_tour_that_ends_between_two_bands_has_an_edge_at_its_end() -> None:
    tour = prepared().tour.model_copy(update={"end": prepared().tour.end - dt.timedelta(hours=2)})
    short = Prepared.of(prepared().van, tour)
    made = Road.of(short, (charged(24, 80.0),), 3, 1, InTurn(), None)
    assert made.bands_h.tolist() == [*[float(hour) for hour in range(0, 67, 6)], 70.0]
    scores = made.unknown.scores(3, 1)
    made.run(scores, 0)
    assert made.drawn.used_kg.shape == (3, 13)
    assert (np.diff(made.drawn.used_kg, axis=1) >= 0.0).all()


def test_features_are_the_mean_cold_between_readings_and_wind_and_sun_until_the_last() -> None:
    made = road(charged(10, 90.0), charged(30, 80.0))
    found = made.features(4, 3)
    assert made.job.winters is not None
    values = made.job.winters.values(4, 3, 1)
    wanted = [values["temp_air"][:, :10].mean(axis=1), values["temp_air"][:, 10:30].mean(axis=1),
              values["wind_speed"][:, :30].mean(axis=1), values["ghi"][:, :30].mean(axis=1)]  # fmt: skip
    assert found == pytest.approx(np.column_stack(wanted))
    assert made.features(4, 3) is found


# What they make likely


@pytest.mark.parametrize("changeover", ["automatic", "parallel"])
def test_a_drawn_world_is_judged_by_what_each_bottle_would_hold(changeover: str) -> None:
    """Two bottles and two weighings of the one in use, of a world of known use: the joint normal law; a charge with its
    5 % beside it, and a changed bottle with nothing."""
    entries = (
        weighed(12, "33 kg", 48.1),
        charged(18, 95.0),
        weighed(30, "33 kg", 45.3),
        weighed(36, "11 kg", 23.1, is_swapped=True),
        weighed(48, "11 kg", 22.9),
    )
    made = road(*entries, changeover=changeover)
    scores = made.unknown.scores(6, 1)
    predicted, likelihood = made.run(scores, 0)
    assert predicted.shape == likelihood.shape == (6, 4)
    drawn = made.drawn
    used = drawn.used_kg
    hours = np.arange(0, 73, 6.0)
    at = {hour: np.array([np.interp(hour, hours, row) for row in used]) for hour in (12, 18, 30, 36, 48)}
    share = 20.0 / 31.0 if changeover == "parallel" else 1.0
    job = made.job
    from dataclasses import replace

    kept = replace(job, samples=made.unknown.factors(scores)).run(InTurn())
    charge = np.array([np.interp(18.0, hours, row) for row in kept.charge_band_share])
    assert predicted[:, 0] == pytest.approx(20.0 - share * at[12])
    assert predicted[:, 1] == pytest.approx(charge)
    assert likelihood[:, 1] == pytest.approx(-0.5 * ((0.95 - charge) / 0.05) ** 2)
    given = share * at[12]
    known = (USE_MISFIT_SHARE * given) ** 2
    assert likelihood[:, 0] == pytest.approx(
        norm(20.0 - given, np.sqrt(known + SCALE_KG**2)).logpdf(18.1) + 0.5 * np.log(2 * np.pi)
    )
    corrected = (20.0 - given) + known / (known + SCALE_KG**2) * (18.1 - (20.0 - given))
    assert drawn.left_kg[0].tolist() == [[20.0, 11.0]] * 6
    assert drawn.left_kg[1][:, 0] == pytest.approx(corrected)
    assert drawn.left_kg[1][:, 1] == pytest.approx(11.0 if changeover == "automatic" else 11.0 - (1.0 - share) * at[12])
    assert len(drawn.left_kg) == 6
    # From the change on the bottle is known to the scale, and what it has given since to 5 %.
    since = drawn.given_kg[:, 2]
    last = norm(11.1 - since, np.sqrt((USE_MISFIT_SHARE * since) ** 2 + 2.0 * SCALE_KG**2)).logpdf(10.9)
    assert likelihood[:, 3] == pytest.approx(last + 0.5 * np.log(2.0 * np.pi))
    assert drawn.left_kg[4][:, 1] == pytest.approx(np.full(6, 11.1))
    if changeover == "automatic":
        assert drawn.given_kg == pytest.approx(np.column_stack([at[12], at[30] - at[12], np.zeros(6)]), abs=1e-9)
        assert drawn.left_kg[5][:, 1] == pytest.approx(np.full(6, 11.1) + 0.0 * at[48], abs=0.25)
    else:
        assert (drawn.given_kg[:, 2] > 0.0).all()
    winters = made.job.winters
    assert winters is not None
    values = winters.values(0, 6, 1)
    spans = [12, 6, 12, 6, 12]
    edges = np.cumsum([0, *spans])
    means = [values["temp_air"][:, a:b].mean(axis=1) for a, b in pairwise(edges)]
    assert drawn.outdoor_c == pytest.approx(np.sum([m * s for m, s in zip(means, spans, strict=True)], axis=0) / 48.0)
    assert drawn.wind_m_per_s == pytest.approx(values["wind_speed"][:, :48].mean(axis=1))


def test_a_need_is_drawn_from_one_bottle_after_the_other_or_from_all_by_what_they_hold() -> None:
    left = np.array([[2.0, 5.0], [1.0, 3.0]])
    need = np.array([3.0, 9.0])
    assert draw(left, need, is_parallel=False).tolist() == [[0.0, 4.0], [0.0, 0.0]]
    assert draw(left, need, is_parallel=True) == pytest.approx(np.array([[2.0 * 4 / 7, 5.0 * 4 / 7], [0.0, 0.0]]))
    assert left.tolist() == [[2.0, 5.0], [1.0, 3.0]]
    assert draw(np.zeros((1, 2)), np.array([1.0]), is_parallel=True).tolist() == [[0.0, 0.0]]
    assert _columns([], 4).shape == (4, 0)
    assert _columns([np.ones(2), np.zeros(2)], 2).tolist() == [[1.0, 0.0], [1.0, 0.0]]


def test_what_was_drawn_in_parts_is_joined_reading_by_reading() -> None:
    def part(value: float, rows: int) -> Drawn:
        ones = np.full((rows, 2), value)
        return Drawn(ones, (ones, 2.0 * ones), 3.0 * ones, 4.0 * ones[:, 0], 5.0 * ones[:, 0])

    found = Drawn.joined([part(1.0, 2), part(2.0, 1)])
    assert found.used_kg[:, 0].tolist() == [1.0, 1.0, 2.0]
    assert [step[:, 0].tolist() for step in found.left_kg] == [[1.0, 1.0, 2.0], [2.0, 2.0, 4.0]]
    assert found.given_kg[:, 0].tolist() == [3.0, 3.0, 6.0]
    assert (found.outdoor_c.tolist(), found.wind_m_per_s.tolist()) == ([4.0, 4.0, 8.0], [5.0, 5.0, 10.0])


# What is ahead


@pytest.mark.parametrize(
    ("effective", "sentence"),
    [
        (
            213.7,
            "Of the 1000 winters and vans tried, about 213 agree with what was read, enough to trust the spread told "
            "here.",
        ),
        (
            199.9,
            "Of the 1000 winters and vans tried, only about 199 agree with what was read, fewer than the 200 it takes "
            "to trust the spread told here.",
        ),
    ],
)
def test_how_many_scenarios_agree_is_said_with_what_it_means(effective: float, sentence: str) -> None:
    used = np.outer([1.0, 2.0], np.arange(0.0, 73.0, 6.0) / 24.0)
    view = _View(prepared(), np.arange(0.0, 73.0, 6.0), used)
    even = np.full(2, 0.5)
    step = view.forecast(start(), "a reading", 0.0, np.full((2, 1), 9.0), even, even)
    told = weigh.Weighed(
        steps=(replace(step, effective=effective),), used=(), prior=even, weights=even, used_kg=even, samples={},
        outdoor_c=even, wind_m_per_s=even, scenarios=1000, seed=1, cautions=("A caution.",),
    ).sentences  # fmt: skip
    assert told[-2:] == (sentence, "A caution.")


def test_a_forecast_is_of_the_days_ahead_by_weights_and_of_when_what_is_held_is_used_up() -> None:
    """Four winters that use 1, 2, 3 and 4 kg a day over three days; a day is over. Held are 3 kg, which last
    to the end in the first alone: in the others for 1.5, 1 and 0.75 days."""
    bands = np.arange(0.0, 73.0, 6.0)
    used = np.outer([1.0, 2.0, 3.0, 4.0], bands / 24.0)
    view = _View(prepared(), bands, used)
    assert view.used_until(24.0).tolist() == pytest.approx([1.0, 2.0, 3.0, 4.0])
    even, steep = np.full(4, 0.25), np.array([0.1, 0.1, 0.4, 0.4])
    left = np.tile([1.0, 2.0], (4, 1))
    found = view.forecast(start() + dt.timedelta(hours=24), "a reading", 24.0, left, even, steep)
    assert (found.at, found.reading) == (start() + dt.timedelta(hours=24), "a reading")
    assert found.left_kg == pytest.approx(3.0)
    was = (found.was_p10_kg_per_day, found.was_p50_kg_per_day, found.was_p90_kg_per_day)
    assert was == pytest.approx((1.0, 2.5, 4.0))  # middles of the steps at 1/8, 3/8, 5/8 and 7/8
    assert (found.p10_kg_per_day, found.p50_kg_per_day, found.p90_kg_per_day) == pytest.approx((1.5, 3.25, 4.0))
    assert found.effective == pytest.approx(1.0 / 0.34)
    assert found.lasts_share == pytest.approx(0.1)
    assert found.run_out_early == start() + dt.timedelta(hours=24 + 18)
    assert found.run_out_middle == start() + dt.timedelta(hours=24 + 24)
    before = view.forecast(start(), "before", 24.0, left, even, even)
    assert (before.lasts_share, before.effective) == (0.25, pytest.approx(4.0))
    assert before.run_out_early == start() + dt.timedelta(hours=24 + 18)
    assert before.run_out_middle == start() + dt.timedelta(hours=24 + 24)
    soon = view.forecast(start() + dt.timedelta(hours=24), "soon", 24.0, left * 0.34, even, steep)
    assert soon.run_out_early == start() + dt.timedelta(hours=24 + 6), "0.255 of a day: the start of its hour"
    late = view.forecast(start(), "late", 71.5, 0.0 * left + 9.0, even, even)
    assert (late.lasts_share, late.run_out_early, late.run_out_middle) == (1.0, None, None)
    assert late.p50_kg_per_day == pytest.approx(2.5 * 0.5 / 24.0 / (1.0 / 24.0))  # an hour at least


def test_readings_are_told_by_what_was_read() -> None:
    assert _said(charged(1, 62.5)) == "charge: 62.5 %"
    assert _said(weighed(1, "5 kg", 9.25)) == "5 kg: 9.25 kg"
    assert _said(weighed(1, "5 kg", 11.0, is_swapped=True)) == "5 kg: 11 kg, changed"


def odd(observed: float, *, bottle: str = "33 kg", low_kg: float = 10.0) -> list[str]:
    """One reading of 100 even worlds whose predictions have this mean and a spread of 3, read to 4: 5 in all."""
    entry = weighed(12, bottle, 30.0 + observed) if bottle else charged(12, 100.0 * observed)
    world = np.tile([-1.0, 1.0], 50)
    predicted, spread = (low_kg + 3.0 * world, 4.0) if bottle else (0.8 + 0.03 * world, 0.04)
    made: Any = Found(
        telling=(entry,), observed=np.array([observed]), spread=np.array([spread]), tare_kg=lambda name: 30.0
    )
    found: Any = Found(weights=lambda number: np.full(100, 0.01), predicted=predicted[:, np.newaxis])
    return list(_odd(made, found))


def test_a_reading_beyond_three_spreads_is_named_with_what_was_to_be_expected() -> None:
    """10 ± 5 kg: 24.9 is within 15, 25.1 is not. The 80 % are 10 ± 6.41, with the tare 33.6 to 46.4 kg."""
    assert odd(24.9) == odd(-4.9) == []
    assert odd(25.1) == [
        "Thu 21 January 00:00: 33 kg weighed 55.1 kg where 33.6 to 46.4 kg were to be expected after the readings "
        "before it: weigh again and correct the logbook, or add --swapped if it was changed; as it stands it moves "
        "the forecast far."
    ]
    assert "where 30.0 to 38.4 kg were" in odd(25.1, low_kg=2.0)[0]
    assert odd(0.66, bottle="") == []
    assert odd(0.64, bottle="") == [
        "Thu 21 January 00:00: the battery stood at 64 % where 74 to 86 % were to be expected: read it again, or look "
        "what has drawn on it."
    ]


def test_what_was_used_between_weighings_is_told_by_the_prior() -> None:
    since, until = start(), start() + dt.timedelta(hours=24)
    made: Any = Found(intervals=(Found(bottle="33 kg", since=since, until=until, weighed_kg=2.5),),
                      drawn=Found(given_kg=np.arange(1.0, 6.0)[:, np.newaxis]))  # fmt: skip
    (used,) = _used(made, np.array([0.1, 0.2, 0.4, 0.2, 0.1]))  # middles at 0.05, 0.2, 0.5, 0.8 and 0.95
    assert (used.bottle, used.since, used.until, used.weighed_kg) == ("33 kg", since, until, 2.5)
    assert (used.predicted_p10_kg, used.predicted_p50_kg, used.predicted_p90_kg) == pytest.approx(
        (4.0 / 3.0, 3.0, 14.0 / 3.0)
    )


def test_a_charge_alone_tells_little_and_is_counted_on_its_own(tmp_path: Path) -> None:
    """Every step after the first has the weights of the readings until then; a changed bottle moves none of them."""
    entries = (weighed(6, "11 kg", 23.0, is_swapped=True), charged(12, 97.0))
    found = weigh.answer(prepared(), entries, scenarios=40, seed=3, executor=InTurn())
    before, swapped, after = found.steps
    assert (before.reading, swapped.reading, after.reading) == ("before", "11 kg: 23 kg, changed", "charge: 97 %")
    assert (before.at, after.at) == (start(), entries[1].at)
    assert swapped.effective == before.effective == pytest.approx(40.0)
    assert after.effective > 40.0
    assert found.prior[:40].tolist() == [1.0 / 40.0] * 40 and not found.prior[40:].any()
    assert found.scenarios == len(found.used_kg) == len(found.outdoor_c) == len(found.weights) > 40
    assert found.weights.sum() == pytest.approx(1.0)
    assert found.used == () and found.seed == 3
    assert set(found.samples) == set(prepared().unknowns().names)
    assert all(len(values) == found.scenarios for values in found.samples.values())
    assert before.left_kg == pytest.approx(31.0)
    assert after.left_kg < swapped.left_kg < 31.0
    with pytest.raises(InputFault, match=r"^the logbook must hold a reading, got none; "):
        weigh.answer(prepared(), ())


# After the tour


def test_a_record_tells_the_plan_until_the_last_reading_and_its_means(monkeypatch: pytest.MonkeyPatch) -> None:
    entries, base = (weighed(24, "33 kg", 46.0),), prepared()
    posterior = weigh.answer(base, entries, scenarios=30, executor=InTurn())
    asked: list[Any] = []
    monkeypatch.setattr(record, "weigh", lambda *given, **more: asked.append((given, more)) or posterior)
    found = record.answer(base, entries, scenarios=30, seed=4)
    assert asked == [((base, entries), {"scenarios": 30, "seed": 4})]
    result = Result(
        base.van, base.tour, base.timeline, base.weather, base.built, base.hours, base.wishes, base.rows, base.run()
    )
    flows, stocks = result.flows.iloc[:24], result.stocks
    uses = {
        "heating": "gas_heating_kg",
        "hot_water": "gas_hot_water_kg",
        "cooking": "gas_cooking_kg",
        "fridge": "gas_fridge_kg",
    }
    by_use = {use: flows[name].sum() for use, name in uses.items() if name in flows}
    assert found.planned_kg == pytest.approx(sum(by_use.values()))
    assert found.by_use_kg == pytest.approx({use: kg for use, kg in by_use.items() if kg > 0.0}, abs=5.1e-4)
    assert (found.van, found.title, found.days_d) == (base.van.title, base.tour.title, 1.0)
    assert found.mean_outdoor_c == pytest.approx(base.weather.frame["temp_air"].iloc[:24].mean())
    assert found.mean_inside_c == pytest.approx(stocks["living_air_c"].iloc[:25].mean())
    ah = [name for name in flows if (name.startswith("load_") and name.endswith("_ah")) or name == "fan_ah"]
    assert found.used_ah_per_day == pytest.approx(flows[ah].to_numpy().sum())
    assert found.likeliest_kg == pytest.approx(posterior.weights @ posterior.used_kg)
    assert found.predicted_mean_kg == pytest.approx(posterior.used_kg[:30].mean())
    levels = np.quantile(posterior.used_kg[:30], (0.1, 0.5, 0.9))
    assert (found.predicted_p10_kg, found.predicted_p50_kg, found.predicted_p90_kg) == pytest.approx(tuple(levels))
    assert (found.weighed_kg, found.weighed_predicted_kg) == (pytest.approx(4.0), posterior.used[0].predicted_p50_kg)
    assert (found.effective, found.cautions, found.used) == (
        posterior.steps[-1].effective,
        posterior.cautions,
        posterior.used,
    )


def test_causes_are_slopes_times_moves_greatest_first_and_small_ones_left_out() -> None:
    """Use = 10 + 2 ln loss + cold + 0.01 ln leakage: moved by 0.3, -0.5 and 1 they are 0.6, -0.5 and 0.01 kg."""
    rng = np.random.default_rng(4)
    x = rng.standard_normal((400, 3))
    x[:200] -= x[:200].mean(axis=0)
    x[200:] += np.array([0.3, -0.5, 1.0]) - x[200:].mean(axis=0)
    prior, weights = np.repeat([1.0 / 200.0, 0.0], 200), np.repeat([0.0, 1.0 / 200.0], 200)
    made: Any = Found(
        samples={"loss_factor": np.exp(x[:, 0]), "leakage_factor": np.exp(x[:, 2])},
        outdoor_c=x[:, 1],
        wind_m_per_s=np.ones(400),
        prior=prior,
        weights=weights,
        used_kg=10.0 + 2.0 * x[:, 0] + x[:, 1] + 0.01 * x[:, 2],
    )
    causes, explained = record._causes(made)
    assert [(cause.cause, cause.shift_kg) for cause in causes] == [
        ("walls, roof and floor", 0.6),
        ("outdoor temperature", -0.5),
    ]
    assert explained == pytest.approx(0.6 - 0.5 + 0.01)
