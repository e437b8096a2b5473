"""The leisure battery: what cold, current and fullness leave of it. Chemistry codes 0 LiFePO4, 1 AGM, 2 gel, 3 wet.

All curves are common practice of the trade, no source, unless a formula is named.
"""

from __future__ import annotations

from budget.compiled import jit

LIFEPO4 = 0
AGM = 1
GEL = 2
WET = 3

PEUKERT_REFERENCE_H = 20.0  # rated discharge time that the capacity is quoted for

_LITHIUM_AT_FREEZING = 0.885  # of rated capacity at 0 °C, middle of 0.85 to 0.92
_LITHIUM_AT_MINUS_20 = 0.70
_LITHIUM_SLOW = 0.2  # of the permitted current between 0 and 5 °C
_LITHIUM_TAPER_FROM = 0.95  # state of charge where the charge current begins to fall
_LEAD_TAPER_FROM = 0.80
_LEAD_SHARE_PER_K = 0.01  # capacity lost per kelvin below 25 °C
_RATED_C = 25.0


@jit
def capacity_share(chemistry: int, temp_c: float) -> float:
    """Capacity that can be drawn at this temperature over the rated one. [0–1]

    LiFePO4: 1 at 25 °C, 0.885 at 0 °C, 0.70 at -20 °C, straight between, not below 0.5. Lead: 1 % per kelvin lost
    below 25 °C, not below 0.4.
    """
    if temp_c >= _RATED_C:
        return 1.0
    if chemistry != LIFEPO4:
        return max(0.4, 1.0 - _LEAD_SHARE_PER_K * (_RATED_C - temp_c))
    if temp_c >= 0.0:
        return 1.0 - (1.0 - _LITHIUM_AT_FREEZING) * (_RATED_C - temp_c) / _RATED_C
    return max(0.5, _LITHIUM_AT_FREEZING + (_LITHIUM_AT_FREEZING - _LITHIUM_AT_MINUS_20) * temp_c / 20.0)


@jit
def charge_limit_share(chemistry: int, temp_c: float, state_share: float) -> float:
    """Charge current accepted over the greatest permitted. [0–1]

    LiFePO4: none at or below 0 °C, slow (0.2) up to 5 °C, tapering to nothing over the last 5 % of charge. Lead:
    falls from 1 at 20 °C to 0.5 at 0 °C and 0.2 at -12 °C, tapering to nothing over the last 20 % of charge.
    """
    room = 1.0 - state_share
    if room <= 0.0:
        return 0.0
    if chemistry == LIFEPO4:
        if temp_c <= 0.0:
            return 0.0
        warm = _LITHIUM_SLOW if temp_c < 5.0 else 1.0
        return warm * min(1.0, room / (1.0 - _LITHIUM_TAPER_FROM))
    warm = min(1.0, max(0.2, 0.5 + 0.025 * temp_c))
    return warm * min(1.0, room / (1.0 - _LEAD_TAPER_FROM))


@jit
def usable_share(chemistry: int) -> float:
    """Share of the rated capacity that daily use may draw: 0.9 for LiFePO4, 0.5 for lead. [0–1]"""
    return 0.9 if chemistry == LIFEPO4 else 0.5


@jit
def usable_ah(charge_ah: float, capacity_ah: float, cold_share: float, cut_out_share: float) -> float:
    """Charge that can be drawn now, above cut-out; what the cold locks in comes back on warming. [Ah]

    ``cold_share`` is ``capacity_share`` at the battery's temperature; cut-out comes at ``cut_out_share`` of what
    the cold leaves.
    """
    return max(0.0, charge_ah - capacity_ah * (1.0 - cold_share * (1.0 - cut_out_share)))


@jit
def peukert_factor(current_a: float, capacity_ah: float, exponent: float) -> float:
    """Charge that a current uses up over the charge it delivers. [–]

    Peukert's law, (I H / C)^(k - 1) with H = 20 h; 1 for currents below the 20 h rate (departure: the law would
    credit more than the rated capacity).
    """
    relative = current_a * PEUKERT_REFERENCE_H / capacity_ah
    if relative <= 1.0:
        return 1.0
    return float(relative ** (exponent - 1.0))


@jit
def runtime_h(current_a: float, capacity_ah: float, exponent: float) -> float:
    """Time from full to empty at a steady current, by Peukert's law. [h]"""
    return capacity_ah / (current_a * peukert_factor(current_a, capacity_ah, exponent))


@jit
def charge_step(charge_ah: float, capacity_ah: float, offered_ah: float, efficiency: float) -> tuple[float, float]:
    """Charge by what is offered as far as there is room: (charge [Ah], accepted [Ah]).

    ``efficiency`` is charge out per charge in; never above the capacity.
    """
    room_ah = max(0.0, capacity_ah - charge_ah)
    accepted_ah = min(max(offered_ah, 0.0), room_ah / efficiency)
    return min(charge_ah + accepted_ah * efficiency, max(capacity_ah, charge_ah)), accepted_ah


@jit
def discharge_step(charge_ah: float, usable_now_ah: float, wanted_ah: float, factor: float) -> tuple[float, float]:
    """Draw what is wanted as far as usable charge goes: (charge [Ah], delivered [Ah]).

    ``factor`` is ``peukert_factor``: charge used up per charge delivered.
    """
    delivered_ah = min(max(wanted_ah, 0.0), max(usable_now_ah, 0.0) / factor)
    return charge_ah - delivered_ah * factor, delivered_ah
