"""Bottles whose gas does not flow in this cold though they hold some: not too few of them, but the wrong gas."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from budget.answers.detail import Detail
from budget.answers.last_chance import unserved
from budget.answers.swaps_made import not_had_kg
from budget.engine import arrays
from budget.physics.bottle import mixture_pressure_pa
from budget.results.need import Need
from budget.wording import celsius, kilograms_left

HELD_KG = 1.0  # a bottle with less is nearly empty rather than cold
LEAST_H = 3
PURE_SHARE = 0.9  # of propane, from which no other gas would flow better


@dataclass(frozen=True, kw_only=True)
class WrongGas:
    """A bottle that stood at ``bottle_c`` with ``left_kg`` in it and gave nothing, while a flame was asked for."""

    name: str
    bottle_c: float
    left_kg: float


def wrong_gas(run: Detail, need: Need) -> tuple[WrongGas, ...]:
    """Each kind of bottle with butane in it whose pressure fell below what the regulator needs in hours of want.

    Judged by temperature and mixture alone, as they stood in the run: so neither a bottle that is nearly empty nor one
    that is merely drawn too fast is called so; nor is any where the tour gets what it needs.
    """
    if not_had_kg(run, need) <= 0.0:
        return ()
    hours = np.flatnonzero(unserved(run))
    need_pa = 1e5 * run.van.gas.regulator_need_bar
    found: dict[str, WrongGas] = {}
    for k, bottle in enumerate(run.van.gas.bottles):
        if bottle.propane_share >= PURE_SHARE or bottle.name in found:
            continue
        stood_c, left_kg = run.node_c(f"bottle_{k + 1}")[1:], run.left_kg(k)[1:]
        propane, butane = run.stock("propane_kg", k)[1:], run.stock("butane_kg", k)[1:]
        still = [
            h
            for h in hours.tolist()
            if left_kg[h] > HELD_KG
            and mixture_pressure_pa(float(stood_c[h]), float(propane[h]), float(butane[h]))
            < float(run.rows[h, arrays.PRESSURE_PA]) + need_pa
        ]
        if len(still) >= LEAST_H:
            warmest = max(still, key=lambda h: float(stood_c[h]))
            found[bottle.name] = WrongGas(
                name=bottle.name, bottle_c=float(stood_c[warmest]), left_kg=float(left_kg[still[-1]])
            )
    return tuple(found.values())


def words(found: WrongGas) -> str:
    """A clause: which bottle holds what it does not give."""
    return (
        f'the gas of "{found.name}" is the wrong one for this cold: none flows at {celsius(found.bottle_c)} with '
        f"{kilograms_left(found.left_kg)} left"
    )
