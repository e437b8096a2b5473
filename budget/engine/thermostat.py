"""The thermostat: what the heater gives at a sensor temperature, and until which temperature that law holds."""

from __future__ import annotations

import numpy as np

from budget.compiled import jit

FIRST_STEP_S = 60.0
BOILER_TOLERANCE_K = 0.02
FAR = 1.0e9

# Places in the state vectors of the thermostat.
FLAME, WATER_CALL, BURNING, STEP_COUNT = 0, 1, 2, 3
SINCE_S, RUN_ON_S, TRY_S = 0, 1, 2

# Places in the vector of what the quarter may use.
SET_C, WATER_SET_C, GAS_CAP_W, ELECTRIC_W, EFFICIENCY_FACTOR, STEP_ERROR_K, AIR_CAP_W = range(7)
LIMITS = 7

# Places in the vector of what came of it.
(GAS_AIR_J, GAS_WATER_J, ELECTRIC_AIR_J, ELECTRIC_WATER_J, FUEL_J, FLAME_S, STARTS, FAN_J, FAN_S, FULL_LOAD_J,
 START_LOSS_J, WATER_FUEL_J, DUCT_LOSS_J, FLUE_J) = range(14)  # fmt: skip
OUTCOMES = 14


@jit
def place_on_table(output_w, outputs, points):
    """Lower index and share of the way to the next point of a rising table, clamped."""
    last = points - 1
    if last == 0 or output_w <= outputs[0]:
        return 0, 0.0
    if output_w >= outputs[last]:
        return last - 1, 1.0
    k = 0
    while output_w > outputs[k + 1]:
        k += 1
    return k, (output_w - outputs[k]) / (outputs[k + 1] - outputs[k])


@jit
def on_table(k, share, table):
    """Linear interpolation at a place found by place_on_table."""
    if share == 0.0:
        return table[k]
    return table[k] + share * (table[k + 1] - table[k])


@jit
def crossing_tolerance_k(burner):
    """How near a switching temperature must be met: narrow where the output jumps, so that bursts keep in step. [K]"""
    if burner.modulating == 1:
        return min(0.005, 0.01 * burner.band_k)
    return min(0.001, 0.002 * burner.differential_k)


@jit
def gas_edges(set_c, electric_w, burner):
    """Middle of the gas's proportional band, and where its first flame lights and dies. [°C]

    Beside an element gas comes second: the element's band begins at the setpoint (``electric_law``), below it the
    element gives all it can, and only there does gas give more than its least output. The flame dies where the least
    output has brought the element down to half: nearer to the setpoint it would die and light twice as often.
    """
    half = 0.5 * burner.band_k
    step = burner.differential_k
    if electric_w > 0.0:
        return set_c - (half if burner.modulating == 1 else 0.0), set_c - step, set_c + half
    return set_c, set_c - step, set_c + (max(step, half) if burner.modulating == 1 else step)


@jit
def gas_law(temp_c, flame, set_c, on_c, off_c, low_w, high_w, burner):
    """Gas heat to the air as intercept - slope * sensor, and the interval of sensor temperature where it holds.

    ``set_c``, ``on_c`` and ``off_c`` are those of ``gas_edges``.
    """
    continuous = burner.modulating == 1 and low_w <= 0.0
    if flame == 0 and not continuous:
        return 0.0, 0.0, on_c, FAR
    if burner.modulating == 1:
        half = 0.5 * burner.band_k
        if continuous:
            off_c = FAR
        if high_w <= low_w:
            return high_w, 0.0, -FAR, off_c
        if temp_c < set_c - half:
            return high_w, 0.0, -FAR, set_c - half
        if temp_c >= set_c + half:
            return low_w, 0.0, set_c + half, off_c
        slope = (high_w - low_w) / burner.band_k
        return low_w + slope * (set_c + half), slope, set_c - half, min(set_c + half, off_c)
    up_c = -FAR
    if flame < burner.points:
        up_c = on_c - burner.differential_k * flame
    down_c = off_c - burner.differential_k * (flame - 1)
    return min(burner.outputs_w[flame - 1], high_w), 0.0, up_c, down_c


@jit
def electric_law(temp_c, set_c, gas_w, high_w, burner):
    """Electric heat to the air, proportional in the band, and the interval where the law holds.

    The band lies about the setpoint, and on it where gas may burn too (``gas_edges``).
    """
    if high_w <= 0.0:
        return 0.0, 0.0, -FAR, FAR
    half = 0.5 * burner.band_k
    if gas_w > 0.0:
        set_c += half
    if temp_c < set_c - half:
        return high_w, 0.0, -FAR, set_c - half
    if temp_c >= set_c + half:
        return 0.0, 0.0, set_c + half, FAR
    slope = high_w / burner.band_k
    return slope * (set_c + half), slope, set_c - half, set_c + half


@jit
def switch(temp_c, boiler_c, limits, burner, integers, floats):
    """Let the thermostats change state at the present temperatures."""
    set_c = limits[SET_C]
    flame = integers[FLAME]
    since = floats[SINCE_S]
    top = burner.points
    allowed = limits[GAS_CAP_W] > 0.0 and not np.isnan(set_c)
    continuous = burner.modulating == 1 and burner.outputs_w[0] <= 0.0
    if not allowed:
        new = 0
    elif continuous:
        new = 1
    else:
        _, on_c, off_c = gas_edges(set_c, limits[ELECTRIC_W], burner)
        new = flame
        nudge = crossing_tolerance_k(burner)
        step_k = burner.differential_k
        if flame == 0:
            if temp_c <= on_c + nudge and since >= burner.min_off_s:
                new = 1
        elif burner.modulating == 1:
            if temp_c >= off_c - nudge and since >= burner.min_on_s:
                new = 0
        else:
            least = 0 if since >= burner.min_on_s else 1
            while new > least and temp_c >= off_c - step_k * (new - 1) - nudge:
                new -= 1
        if burner.modulating == 0 and new >= max(flame, 1):
            while new < top and temp_c <= on_c - step_k * new + nudge:
                new += 1
    if (new == 0) != (flame == 0):
        floats[SINCE_S] = 0.0
        floats[TRY_S] = FIRST_STEP_S
    elif new != flame:
        floats[TRY_S] = FIRST_STEP_S
    integers[FLAME] = new
    if burner.boiler >= 0:
        water_set = limits[WATER_SET_C]
        if np.isnan(water_set) or (limits[GAS_CAP_W] <= 0.0 and limits[ELECTRIC_W] <= 0.0):
            integers[WATER_CALL] = 0
        elif integers[WATER_CALL] == 1:
            if boiler_c >= water_set - BOILER_TOLERANCE_K:
                integers[WATER_CALL] = 0
                floats[TRY_S] = FIRST_STEP_S
        elif boiler_c <= water_set - burner.boiler_hysteresis_k + BOILER_TOLERANCE_K:
            integers[WATER_CALL] = 1
            floats[TRY_S] = FIRST_STEP_S
