"""Odds instead of one number: many winters and many vans like this one."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import asdict, dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from budget.answers.blocks import Blocks
from budget.answers.detail import Detail
from budget.answers.ensemble import BAND_STEP_H, Kept, ensemble
from budget.answers.prepared import Prepared
from budget.answers.quantiles import Quantiles, chance_half_width
from budget.answers.swaps_made import swaps_of
from budget.answers.what_to_take import ToTake, carrying, taken_by, with_charge
from budget.weather.air import Floats

SCENARIOS = 1000
SEED = 1
ONE_IN_TEN = 0.1
MOST_BOTTLES = 20
FREEZES_C = 0.0
GAS, CHARGE, OFFTAKE = "gas", "battery charge", "off-take of cold bottles"


@dataclass(frozen=True, kw_only=True)
class Take:
    """What ``budget run`` says to take: bottles at departure and swaps on the way, and in how many cases that lasts.

    ``lasts_share`` is with power, ``lasts_as_it_stands_share`` where the heater stops with the battery. [0–1]
    """

    bottles: int
    swaps: int
    lasts_share: float
    lasts_as_it_stands_share: float


@dataclass(frozen=True, eq=False)
class Odds:
    """What many winters say. ``gas`` [kg], ``lowest_charge`` [0–1]; chances are shares of the scenarios.

    Gas is what the tour takes with gas and charge to its end, also where the battery is cut out and burns less.

    ``chance_by_bottles_share``: that 1, 2, 3 … full bottles last without a change on the way, with power;
    ``chance_as_it_stands_share``: the same where the heater stops with the battery. ``carried_share``: that what is
    carried lasts, with power, with the tour's exchange places, where it ``exchanges``. ``take``: what a run takes.
    ``offtake_share``: that gas is lacked while a bottle holds some; then no number of them counts as lasting.
    ``lowest_inside``, ``lowest_pipes`` and ``frozen_share`` are of the tours as they stand, with what is carried.
    ``worst_night``: None where the tour has no night from 18:00 to 08:00. ``band_*`` (3, edges): P10, P50, P90 at
    ``band_times``.
    """

    scenarios: int
    seed: int
    nights: int
    gas: Quantiles
    bottle_kg: float
    chance_by_bottles_share: dict[int, float]
    chance_as_it_stands_share: dict[int, float]
    take: Take
    exchanges: bool
    carried_share: float
    carried_half_width_share: float
    run_out_one_in_ten: dt.datetime | None
    cut_out_share: float
    cut_out_one_in_ten: dt.datetime | None
    cut_out_in_half: dt.datetime | None
    first_one_in_ten: dt.datetime | None
    binding_share: dict[str, float]
    offtake_share: float
    frozen_share: float
    lowest_charge: Quantiles
    lowest_inside: Quantiles
    lowest_pipes: Quantiles
    worst_night: dict[str, Any] | None
    band_times: tuple[dt.datetime, ...]
    band_used_kg: Floats
    band_left_kg: Floats
    band_charge_share: Floats
    samples: dict[str, Floats]
    kept: Kept
    notices: tuple[str, ...]

    @property
    def binds(self) -> str | None:
        """The resource that most often fails first, None when nothing ever does."""
        likeliest = max(self.binding_share, key=lambda name: self.binding_share[name])
        return likeliest if self.binding_share[likeliest] > 0.0 else None

    def kilograms_last_share(self, kg: float) -> float:
        """In how many tours so many kilograms are enough, if they flow. [0–1]"""
        return float((self.kept.need_kg <= kg).mean())

    def bottles_for(self, chance_share: float) -> int | None:
        """Fewest full bottles that last with at least this chance, without a change on the way."""
        enough = [k for k, share in self.chance_by_bottles_share.items() if share >= chance_share]
        return min(enough) if enough else None

    def as_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {
            "scenarios": self.scenarios,
            "seed": self.seed,
            "nights": self.nights,
            "gas": self.gas.as_dict("kg"),
            "bottle_kg": self.bottle_kg,
            "chance_by_bottles_share": {str(k): round(v, 4) for k, v in self.chance_by_bottles_share.items()},
            "chance_as_it_stands_share": {str(k): round(v, 4) for k, v in self.chance_as_it_stands_share.items()},
            "run_takes": asdict(self.take),
            "bottles_needed": {"reserve_kg": 0.0, "quantile_share": 0.9, "bottles": self.bottles_for(0.9)},
            "carried_lasts_share": round(self.carried_share, 4),
            "carried_lasts_half_width_share": round(self.carried_half_width_share, 4),
            "one_in_ten": {
                "gas_out": _written(self.run_out_one_in_ten),
                "battery_cut_out": _written(self.cut_out_one_in_ten),
                "first": _written(self.first_one_in_ten),
            },
            "in_half": {"battery_cut_out": _written(self.cut_out_in_half)},
            "binding_share": {name: round(share, 4) for name, share in self.binding_share.items()},
            "binds": self.binds,
            "cut_out_share": round(self.cut_out_share, 4),
            "offtake_share": round(self.offtake_share, 4),
            "pipes_freeze_share": round(self.frozen_share, 4),
            "lowest_charge": self.lowest_charge.as_dict("share", 4),
            "lowest_inside": self.lowest_inside.as_dict("c", 2),
            "lowest_pipes": self.lowest_pipes.as_dict("c", 2),
            "worst_night": self.worst_night,
            "bands": {
                "time": [time.isoformat() for time in self.band_times],
                "used_kg": {n: row.round(2).tolist() for n, row in zip(LEVELS, self.band_used_kg, strict=True)},
                "left_kg": {n: row.round(2).tolist() for n, row in zip(LEVELS, self.band_left_kg, strict=True)},
                "charge_share": {
                    n: row.round(3).tolist() for n, row in zip(LEVELS, self.band_charge_share, strict=True)
                },
            },
            "notices": list(self.notices),
        }

    def sentences(self) -> list[str]:
        """In plain words."""
        from budget.answers.odds_words import odds_sentences

        return odds_sentences(self)


LEVELS = ("p10", "p50", "p90")


def answer(
    prepared: Prepared,
    *,
    scenarios: int = SCENARIOS,
    seed: int = SEED,
    weather: bool = True,
    parameters: bool = True,
    executor: Executor | None = None,
    done: Callable[[int], object] | None = None,
    keep: Path | None = None,
) -> Odds:
    """The odds of a tour.

    Parameters
    ----------
    scenarios : Number of winters, each with a van of its own within the named ranges.
    seed : Same seed, same bits, whatever the number of workers.
    weather, parameters : False: the tour's own weather in every scenario; the van as described in every scenario.
    executor : Any ``concurrent.futures`` executor; None: one thread a core.
    done : Called with the number of scenarios finished, after each chunk.
    keep : Folder in which finished blocks are kept, and from which they are taken up again.
    """
    taken = _taken(prepared)
    job = ensemble(prepared, scenarios, seed, taken=taken, weather=weather, parameters=parameters)
    kept = job.run(executor, done, Blocks.of(job, keep) if keep is not None else None)
    notices = prepared.weather.notices if job.winters is None else job.winters.notices
    if job.winters is not None and job.winters.years is not None:
        years = len(job.winters.years["temp_air"])
        notices = (f"odds: the {years} winters of the weather record, each as often as any other.",)
    return of_kept(prepared, kept, job.samples, seed, notices)


def of_kept(
    prepared: Prepared, kept: Kept, samples: dict[str, Floats], seed: int, notices: tuple[str, ...] = ()
) -> Odds:
    """The odds from what was kept of the scenarios."""
    count = len(kept.gas_kg)
    bottle_kg = float(prepared.net_kg()[0])
    gas_h = np.where(kept.lacked_h < 0, np.inf, kept.lacked_h)
    charge_h = np.where(kept.cut_out_at_h < 0, np.inf, kept.cut_out_at_h)
    gas_first = np.isfinite(gas_h) & (gas_h <= charge_h)
    held_up = kept.held_up > 0.0
    bands = np.arange(0, prepared.hours_count + 1, BAND_STEP_H)
    levels = (0.1, 0.5, 0.9)
    edges = prepared.timeline.edges
    carried = float((kept.lacked_h < 0).mean())
    chances = _chances(np.where(held_up, np.inf, kept.need_kg), bottle_kg)
    return Odds(
        scenarios=count,
        seed=seed,
        nights=prepared.timeline.nights,
        gas=Quantiles.of(kept.need_kg),
        bottle_kg=bottle_kg,
        chance_by_bottles_share=chances,
        chance_as_it_stands_share={
            bottles: float((~held_up & (kept.gas_kg <= bottles * bottle_kg)).mean()) for bottles in chances
        },
        take=_take(prepared, kept, bottle_kg),
        exchanges=bool(np.asarray(prepared.hours["exchange_open"])[:, : len(prepared.van.gas.bottles)].any()),
        carried_share=carried,
        carried_half_width_share=chance_half_width(carried, count),
        run_out_one_in_ten=_failed_in(prepared, gas_h),
        cut_out_share=float(np.isfinite(charge_h).mean()),
        cut_out_one_in_ten=_failed_in(prepared, charge_h),
        cut_out_in_half=_failed_in(prepared, charge_h, 0.5),
        first_one_in_ten=_failed_in(prepared, np.minimum(gas_h, charge_h)),
        binding_share={
            GAS: float((gas_first & ~held_up).mean()),
            CHARGE: float((charge_h < gas_h).mean()),
            OFFTAKE: float((gas_first & held_up).mean()),
        },
        offtake_share=float(held_up.mean()),
        frozen_share=float((kept.lowest_pipes_c <= FREEZES_C).mean()),
        lowest_charge=Quantiles.of(kept.lowest_charge_share),
        lowest_inside=Quantiles.of(kept.lowest_inside_c),
        lowest_pipes=Quantiles.of(kept.lowest_pipes_c),
        worst_night=_worst_night(kept),
        band_times=tuple(edges[int(e)].to_pydatetime() for e in bands),
        band_used_kg=np.quantile(kept.used_band_kg, levels, axis=0),
        band_left_kg=np.quantile(kept.left_band_kg, levels, axis=0),
        band_charge_share=np.quantile(kept.charge_band_share, levels, axis=0),
        samples=samples,
        kept=kept,
        notices=notices,
    )


def _chances(gas_kg: Floats, bottle_kg: float) -> dict[int, float]:
    """Chance that 1, 2, 3 … bottles last, up to the number with which all lasted that may."""
    chances: dict[int, float] = {}
    for bottles in range(1, MOST_BOTTLES + 1):
        chances[bottles] = float((gas_kg <= bottles * bottle_kg).mean())
        if chances[bottles] >= np.isfinite(gas_kg).mean():
            break
    return chances


@lru_cache(maxsize=2)
def _to_take(prepared: Prepared) -> ToTake:
    """What one run of the tour takes."""
    stands = Detail.of(prepared)
    run = with_charge(stands)
    return taken_by(run, swaps_of(run), stands.need)


def _taken(prepared: Prepared) -> Prepared | None:
    """The tour with the bottles that a run takes beyond those on board, to be swapped on the way; None: these do."""
    take = _to_take(prepared)
    if not take.beyond(len(prepared.van.gas.bottles)):
        return None
    return prepared.with_van(carrying(prepared.van, take.bottles))


def _take(prepared: Prepared, kept: Kept, bottle_kg: float) -> Take:
    """What one run of the tour takes, and how often that lasts with the need of the scenarios."""
    take = _to_take(prepared)
    if take.swaps:
        lasts, unpowered = kept.taken_h < 0, kept.taken_stands_h < 0
    else:
        held_kg, flows = take.bottles * bottle_kg, kept.held_up == 0.0
        lasts, unpowered = flows & (kept.need_kg <= held_kg), flows & (kept.gas_kg <= held_kg)
    return Take(
        bottles=take.bottles,
        swaps=take.swaps,
        lasts_share=round(float(lasts.mean()), 4),
        lasts_as_it_stands_share=round(float(unpowered.mean()), 4),
    )


def _failed_in(prepared: Prepared, hours: Floats, share: float = ONE_IN_TEN) -> dt.datetime | None:
    """When that share of the scenarios has failed, None when fewer ever do."""
    ordered = np.sort(hours)
    at = ordered[max(math.ceil(share * len(ordered)) - 1, 0)]
    if not np.isfinite(at):
        return None
    time: dt.datetime = prepared.timeline.edges[int(at)].to_pydatetime()
    return time


def _worst_night(kept: Kept) -> dict[str, Any] | None:
    """The hardest nights of the worst tenth of the winters, and what came together in them; None without a night."""
    if (kept.night_h < 0.0).all():
        return None
    limit = float(np.quantile(kept.night_kg, 0.9))
    hard = kept.night_kg >= limit
    return {
        "p50_kg": round(float(np.median(kept.night_kg)), 3),
        "p90_kg": round(limit, 3),
        "outdoor_c": round(float(kept.night_outdoor_c[hard].mean()), 2),
        "wind_m_per_s": round(float(kept.night_wind_m_per_s[hard].mean()), 2),
        "panel_wh": round(float(kept.night_panel_wh[hard].mean()), 1),
        "lowest_charge_share": round(float(kept.night_charge_share[hard].mean()), 4),
    }


def _written(time: dt.datetime | None) -> str | None:
    return None if time is None else time.isoformat()
