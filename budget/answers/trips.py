"""Hours in which what is on at once asks more of a hook-up than its amps, if nobody held anything back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from budget.answers.detail import Detail
from budget.engine.stepping import Floats
from budget.physics.battery import charge_limit_share
from budget.van.charge import CHEMISTRY

BORNE_SHARE = 1.13  # of its amps that a breaker bears for an hour; IEC 60898-1, from memory


@dataclass(frozen=True, kw_only=True)
class Trip:
    """One hour that trips: what is on in it, each with the power it takes while on."""

    at: str
    asked_w: float
    meal_w: float
    fridge_w: float
    charger_w: float
    element_w: float


def asked_w(run: Detail) -> dict[str, Floats]:
    """Mains power that each user takes in each hour while it is on, by name. [W]

    The meal counts at its full power, the fridge as long as it runs on mains, the charger what loads and battery take
    beyond sun and alternator (a full or cold battery takes none), the element at its largest step in hours in which
    the heater gave heat or fell short while it may use electricity. The simulation holds charger and element back
    instead.
    """
    van, line = run.van, run.timeline
    battery, power = van.power.battery, van.power
    hooked = line.hookup_w > 0.0
    charge_share = run.stock("charge_ah") / battery.capacity_ah
    accepted_a = battery.max_charge_a * np.array(
        [
            charge_limit_share(CHEMISTRY[battery.chemistry], cold_c, min(1.0, share))
            for cold_c, share in zip(run.node_c("battery")[:-1], charge_share[:-1], strict=True)
        ]
    )
    wanted_a = run.flow("load_ah") + accepted_a - run.flow("solar_ah") - run.flow("alternator_ah")
    charger_a: Floats = np.clip(wanted_a, 0.0, power.mains_charger_a)
    heat_j = sum(run.flow(f) for f in ("electric_air_j", "electric_water_j", "gas_heat_air_j", "gas_heat_water_j"))
    heats = (line.fuel > 0) & ((heat_j > 0.0) | (run.flow("below_s") > 0.0))
    charger_w: Floats = charger_a * battery.nominal_v / power.mains_charger_efficiency_share
    on_mains = van.fridge is not None and van.fridge.use == "electric_first"
    fridge_w = np.full(run.count, van.fridge.electric_w if van.fridge is not None and on_mains else 0.0)
    element_w = np.where(heats, max(van.heater.electric_w, default=0.0), 0.0)
    users = {"meal": line.cooking_electric_peak_w, "fridge": fridge_w, "charger": charger_w, "element": element_w}
    return {name: np.where(hooked, watts, 0.0) for name, watts in users.items()}


def trips(run: Detail, stop: int) -> tuple[Trip, ...]:
    """The hours at a stop whose users together ask for more than the breaker of its hook-up bears."""
    parts = asked_w(run)
    whole: Floats = np.sum(list(parts.values()), axis=0)
    line = run.timeline
    over = np.flatnonzero((line.stop == stop) & (line.hookup_w > 0.0) & (whole > BORNE_SHARE * line.hookup_w))
    return tuple(
        Trip(
            at=run.time(int(h)).isoformat(),
            asked_w=float(whole[h]),
            meal_w=float(parts["meal"][h]),
            fridge_w=float(parts["fridge"][h]),
            charger_w=float(parts["charger"][h]),
            element_w=float(parts["element"][h]),
        )
        for h in over
    )


@dataclass(frozen=True, kw_only=True)
class Span:
    """Hours on end that trip with the same users on; ``asked_w`` is the most of them."""

    place: str
    start: dt.datetime
    hours: int
    asked_w: float
    users: str


def spans(place: str, listed: Sequence[Trip]) -> list[Span]:
    """The trips of one stop, hours on end put together where the same users are on."""
    found: list[Span] = []
    for trip in listed:
        start, users = dt.datetime.fromisoformat(trip.at), ", ".join(users_of(trip))
        last = found[-1] if found else None
        if last is not None and last.users == users and start - last.start == dt.timedelta(hours=last.hours):
            found[-1] = replace(last, hours=last.hours + 1, asked_w=max(last.asked_w, trip.asked_w))
        else:
            found.append(Span(place=place, start=start, hours=1, asked_w=trip.asked_w, users=users))
    return found


def users_of(trip: Trip) -> dict[str, float]:
    """What is on in an hour, by name. [W]"""
    users = {"meal": trip.meal_w, "fridge": trip.fridge_w, "charger": trip.charger_w, "element": trip.element_w}
    return {name: watts for name, watts in users.items() if watts > 0.0}
