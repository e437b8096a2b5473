"""Where a step crosses an edge of the thermostat's present law, and the shorter step that ends there."""

from __future__ import annotations

from math import copysign

from budget.compiled import jit
from budget.engine.stepping import GAMMA, end_c, prepare, stage_increments, try_step
from budget.engine.thermostat import BOILER_TOLERANCE_K

NEAR_SHARE = 1.0e-6  # of a step: a root of the cubic this near is found
LEAN = 3.0  # crossing tolerances beyond an edge at which the law beyond it is read


@jit
def meet_edges(h, lo, hi, boiler_lo, boiler_hi, near_lo_k, near_hi_k, may_lean, capacity, temp_c, burner, pattern,
               work):  # fmt: skip
    """Shorten the step just tried until sensor and boiler end within their intervals or at the first edge crossed.

    Returns the step [s], the node that met an edge (-1: none) and that edge [°C], and by how much the law should be
    read beyond an edge on which the sensor stood at the start [K] (0: the step stands).
    """
    sensor = burner.sensor
    boiler = burner.boiler
    start_s = temp_c[sensor]
    boiler_c = temp_c[boiler] if boiler >= 0 else 0.0
    low_h = 0.0
    high_h = h
    aimed = -1
    aim_c = 0.0
    tolerance_k = near_hi_k
    near_k = near_hi_k
    lean_next_k = 0.0
    for attempt in range(12):
        end_s = end_c(sensor, temp_c, work)
        target = 0.0
        begin = 0.0
        gap = 0.0
        node = -1
        if end_s > hi + near_hi_k:
            target = hi
            near_k = near_hi_k
            node = sensor
        elif end_s < lo - near_lo_k:
            target = lo
            near_k = near_lo_k
            node = sensor
        if node >= 0:
            gap = end_s - target
            begin = start_s - target
        if boiler >= 0:
            end_b = end_c(boiler, temp_c, work)
            beyond_k = 0.0
            if end_b > boiler_hi + BOILER_TOLERANCE_K:
                beyond_k = end_b - boiler_hi
            elif end_b < boiler_lo - BOILER_TOLERANCE_K:
                beyond_k = end_b - boiler_lo
            if beyond_k != 0.0:
                moved_k = end_b - boiler_c
                if node < 0 or abs(beyond_k * (gap - begin)) > abs(gap * moved_k):  # it crosses first
                    node = boiler
                    target = end_b - beyond_k
                    gap = beyond_k
                    begin = boiler_c - target
        if node < 0:
            if aimed < 0:
                break
            short = aim_c - end_c(aimed, temp_c, work)
            if abs(short) <= tolerance_k or high_h - h < 0.05 or attempt >= 11:
                break
            low_h = h
            guess = h + short / end_slope(aimed, h, work)
        else:
            if aimed < 0 and may_lean and node == sensor and abs(begin) <= 1.5 * near_k:
                lean_next_k = copysign(LEAN * near_k, gap)
                break
            if begin * gap > 0.0 or h <= 0.05:
                break
            high_h = h
            aimed = node
            aim_c = target
            tolerance_k = near_k if node == sensor else BOILER_TOLERANCE_K
            if attempt == 0:
                guess = h * crossing_share(node, target, temp_c, work)
            else:
                guess = h - gap / end_slope(node, h, work)
        if not (low_h < guess < high_h):
            guess = 0.5 * (low_h + high_h)
        h = guess
        prepare(h, capacity, pattern, work)
        try_step(h, capacity, temp_c, pattern, work)
    return h, aimed, aim_c, lean_next_k


@jit
def end_slope(node, h, work):
    """Slope of a node at the end of the step just tried. [K/s]"""
    _, _, last_k = stage_increments(node, work)
    return last_k / (GAMMA * h)


@jit
def crossing_share(node, target_c, start_c, work):
    """Share of the step just tried at which a node reaches a temperature: root of the method's own cubic. [0-1]

    The stage slopes at GAMMA, (1 + GAMMA)/2 and 1 define a quadratic whose integral is the method's result.
    """
    start = start_c[node]
    first, second, third = stage_increments(node, work)
    first /= GAMMA
    second /= GAMMA
    third /= GAMMA
    middle = 0.5 * (1.0 + GAMMA)
    apart = middle - GAMMA
    rise = (second - first) / apart
    bend = ((third - second) / apart - rise) / (1.0 - GAMMA)
    a0 = first - GAMMA * rise + GAMMA * middle * bend
    a1 = 0.5 * (rise - bend * (GAMMA + middle))
    a2 = bend / 3.0
    away = start - target_c
    end = end_c(node, start_c, work) - target_c
    low = 0.0
    high = 1.0
    share = away / (away - end)
    for _ in range(6):
        value = away + share * (a0 + share * (a1 + share * a2))
        if value * end > 0.0:
            high = share
        else:
            low = share
        slope = a0 + share * (2.0 * a1 + share * 3.0 * a2)
        step = value / slope
        share -= step
        if abs(step) < NEAR_SHARE:
            break
        if not (low < share < high):
            share = 0.5 * (low + high)
    return share
