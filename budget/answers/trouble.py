"""What goes wrong whatever is left on board: warmth not held, water frozen, the wrong gas, a doubtful place."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict, dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from budget.answers.conditions import LARGE_W, Conditions, Guard, hold, unlimited, with_output
from budget.answers.detail import Detail, first_hour
from budget.answers.enough import Plan
from budget.answers.frozen import Frozen, frozen_of
from budget.answers.last_chance import lacked_kg, unserved
from budget.answers.swaps_made import not_had_kg
from budget.answers.what_to_take import powered, to_take
from budget.answers.wrong_gas import WrongGas, wrong_gas
from budget.engine import arrays
from budget.engine.stepping import Floats
from budget.engine.van_arrays import build_van
from budget.physics.properties import STANDARD_PRESSURE_PA
from budget.results.need import BATTERY
from budget.results.swaps import MISSING_KG
from budget.tour.distance import doubts
from budget.tour.week import Mask

if TYPE_CHECKING:
    from budget.results.result import Result

WARM_UP_H = 4  # EN 1646-1 allows a heater so long from cold-soaked (from memory): meanwhile nothing is held
COLD_K = 2.0  # below what was asked, from which a room is called too cold, as in tonight; a choice
LEAST_H = 3  # of such hours on a tour, from which they are told; a choice


@dataclass(frozen=True, kw_only=True)
class TooSmall:
    """A heater that gives ``gives_w`` at most where ``needs_w`` hold the room in the hour that asks most. [W]

    ``mains_only``: there the hook-up alone heats; ``guarded``: the guard on the supply air lets no more through.
    """

    gives_w: float
    needs_w: float
    outdoor_c: float
    mains_only: bool
    guarded: bool


@dataclass(frozen=True, kw_only=True)
class Trouble:
    """The answer. ``cold_h``: time below the setpoint while somebody is in, 0 where warmth is held, and ``lowest_c``.

    ``heater``: too small for that, also with gas and charge to the end; None: large enough. ``frozen``: see
    ``frozen_of``.

    Gas is judged with power, as the plan is: ``not_had_kg`` is what the tour needs and does not get with its swaps
    (0: no more than a changeover), from ``not_had_from`` on, and ``wrong_gas`` the bottles that hold what does not flow
    in this cold. ``gas_first``: it was lacked before the battery cut out; ``charge_too``: the battery cuts out with gas
    to the end as well. ``bottles`` and ``swaps`` are what to take and to swap on the
    way, with power; not ``take_lasts``: even with them all bottles are empty before the next chance, and the van has no
    room for more. ``doubts`` are questions about places.
    """

    cold_h: float = 0.0
    lowest_c: float = np.nan
    heater: TooSmall | None = None
    frozen: tuple[Frozen, ...] = ()
    not_had_kg: float = 0.0
    not_had_from: dt.datetime | None = None
    wrong_gas: tuple[WrongGas, ...] = ()
    gas_first: bool = False
    charge_too: bool = False
    bottles: int = 1
    swaps: int = 0
    take_lasts: bool = True
    doubts: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """JSON-ready; every name with its unit."""
        return asdict(self)


@lru_cache(maxsize=4)
def answer(result: Result) -> Trouble:
    """What goes wrong on a simulated tour."""
    run = Detail.of(result)
    fed = run.fed() if run.need.short_of else run
    cold = np.count_nonzero(too_cold(run)) >= LEAST_H
    take = to_take(result)
    lasting, need = powered(result), result.need
    missing_kg = not_had_kg(lasting, need)
    lacks = first_hour(unserved(lasting)) if missing_kg else None
    gas_first = lacks is not None and BATTERY in need.short_of and _lacked_before_cut_out(run, lasting)
    comfort = result.summary["comfort"][result.van.heater.sensor_zone]
    return Trouble(
        cold_h=float(result.flows["below_setpoint_min"].sum()) / 60.0 if cold else 0.0,
        lowest_c=comfort.get("lowest_while_occupied_c", comfort["lowest_c"]),
        heater=_heater(result, too_cold(fed)),
        frozen=frozen_of(run),
        not_had_kg=missing_kg,
        not_had_from=None if lacks is None else run.time(lacks),
        wrong_gas=wrong_gas(lasting, need),
        gas_first=gas_first,
        charge_too=gas_first and bool((run.with_gas().flow("cut_out_s") > 0.0).any()),
        bottles=take.bottles,
        swaps=take.swaps,
        take_lasts=take.lasts,
        doubts=doubts(result.tour, result.weather.apart_km),
    )


def _lacked_before_cut_out(run: Detail, lasting: Detail) -> bool:
    """Whether flames lacked gas, by more than a changeover, before the battery of the run as it stands cut out."""
    cut_out = first_hour(run.flow("cut_out_s"))
    return float(lacked_kg(lasting)[:cut_out].sum()) > MISSING_KG


def too_cold(run: Detail) -> Mask:
    """Hours with somebody in whose air is colder by ``COLD_K`` than anything that was asked for ``WARM_UP_H`` hours.

    So neither a warm-up on arrival or in the morning counts, nor an hour with the heater off.
    """
    edges_c = run.node_c(f"{run.van.heater.sensor_zone}_air")
    asked_c = held_c(np.asarray(run.hours["set_c"]))
    mask: Mask = np.asarray(run.timeline.inside) & (0.5 * (edges_c[1:] + edges_c[:-1]) < asked_c - COLD_K)
    return mask


def held_c(set_c: Floats) -> Floats:
    """Least setpoint of each hour and those before it in which a room warms up; nothing where it was off. [°C]"""
    asked = np.where(np.isnan(set_c), -np.inf, set_c).min(axis=1)
    before = np.concatenate((np.full(WARM_UP_H - 1, -np.inf), asked))
    least: Floats = np.lib.stride_tricks.sliding_window_view(before, WARM_UP_H).min(axis=1)
    return least


def _heater(result: Result, cold: Mask) -> TooSmall | None:
    """The heater in the hour, of those in which it does not hold the room though it is fed, that asks most.

    None where it would hold the room even then: what is cold is a long warm-up.
    """
    hours = np.flatnonzero(cold)
    if hours.size < LEAST_H:
        return None
    rows, van, line = result.weather_rows, result.van, result.timeline
    asked = np.asarray(result.hours["set_c"]).max(axis=1)
    worst = int(hours[np.argmax((asked - rows[:, arrays.TEMP_C])[hours])])
    set_c = float(asked[worst])
    ratio = float(rows[worst, arrays.PRESSURE_PA]) / STANDARD_PRESSURE_PA
    state = Conditions(
        outdoor_c=float(rows[worst, arrays.TEMP_C]), wind_m_per_s=float(rows[worst, arrays.WIND_M_PER_S]),
        altitude_m=float(line.altitude_m[worst]), screens_share=float(line.screens[worst]),
    )  # fmt: skip
    needs_w = hold(build_van(with_output(unlimited(van), LARGE_W), air_ratio=ratio), state, set_c).heat_w
    hour = Plan(van, line, result.weather).hour(worst, set_c)
    carried_w = Guard(build_van(van), ratio).carried_w(set_c)
    gives_w = min(hour.available_w, carried_w)
    if needs_w <= gives_w:
        return None
    return TooSmall(
        gives_w=gives_w, needs_w=needs_w, outdoor_c=state.outdoor_c, mains_only=hour.mains_only,
        guarded=carried_w < hour.available_w,
    )  # fmt: skip
