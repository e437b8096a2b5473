"""The thermal core: a general network of nodes, advanced under a thermostat with located switching instants.

Integrator: the three-stage, stiffly accurate, L-stable diagonally implicit Runge-Kutta method of order three
(R. Alexander, SIAM J. Numer. Anal. 14 (1977) 1006). All stages share one matrix, which is factorised along a
precomputed sparse pattern (leaves first, so that a star of tanks and linings costs next to nothing).

The thermostat states the interval of sensor temperature in which its present law holds; a step that leaves the
interval is cut at the crossing, so that bursts of a few minutes are counted right whatever the step.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from budget.compiled import jit

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

OUTDOORS = -1

GAMMA = 0.43586652150845967
A21 = (1.0 - GAMMA) / 2.0
B1 = -(6.0 * GAMMA * GAMMA - 16.0 * GAMMA + 1.0) / 4.0
B2 = (6.0 * GAMMA * GAMMA - 20.0 * GAMMA + 5.0) / 4.0

FIRST_STEP_S = 20.0
STEP_GROWTH = 2.5
CROSSING_TOLERANCE_K = 0.004
FAR = 1.0e9


# Places in the state vectors of the thermostat.
FLAME, WATER_CALL, BURNING, STEP_COUNT = 0, 1, 2, 3
SINCE_S, RUN_ON_S, TRY_S = 0, 1, 2

# Places in the vector of what the quarter may use.
SET_C, WATER_SET_C, GAS_CAP_W, ELECTRIC_W, GAS_SHARE, EFFICIENCY_FACTOR, MAX_STEP_S = 0, 1, 2, 3, 4, 5, 6

# Places in the vector of what came of it.
(GAS_AIR_J, GAS_WATER_J, ELECTRIC_AIR_J, ELECTRIC_WATER_J, FUEL_J, FLAME_S, STARTS, FAN_J, FAN_S, FULL_LOAD_J,
 START_LOSS_J, WATER_FUEL_J, DUCT_LOSS_J) = range(13)
OUTCOMES = 13


@jit
def factorise(matrix, pivots, pattern):
    """Factorise in place along the pattern; no pivoting (the matrix is diagonally dominant)."""
    n = pattern.nodes
    for k in range(n):
        inverse = 1.0 / matrix[k, k]
        pivots[k] = inverse
        c0 = pattern.column_start[k]
        c1 = pattern.column_start[k + 1]
        for a in range(pattern.row_start[k], pattern.row_start[k + 1]):
            i = pattern.rows[a]
            factor = matrix[i, k] * inverse
            matrix[i, k] = factor
            for b in range(c0, c1):
                j = pattern.columns[b]
                matrix[i, j] -= factor * matrix[k, j]


@jit
def substitute(matrix, pivots, pattern, x):
    """Solve with a factorised matrix; the right-hand side is replaced by the solution."""
    n = pattern.nodes
    for k in range(n):
        value = x[k]
        for a in range(pattern.row_start[k], pattern.row_start[k + 1]):
            i = pattern.rows[a]
            x[i] -= matrix[i, k] * value
    for k in range(n - 1, -1, -1):
        value = x[k]
        for b in range(pattern.column_start[k], pattern.column_start[k + 1]):
            j = pattern.columns[b]
            value -= matrix[k, j] * x[j]
        x[k] = value * pivots[k]


@jit
def try_step(h, capacity, start_c, pattern, work):
    """One step of h seconds from start_c with the factorised matrix: end in work.t3, time mean in work.mean."""
    n = pattern.nodes
    inverse = 1.0 / (GAMMA * h)
    t1 = work.t1
    t2 = work.t2
    t3 = work.t3
    for i in range(n):
        t1[i] = capacity[i] * inverse * start_c[i] + work.heat_w[i]
    substitute(work.matrix, work.pivots, pattern, t1)
    for i in range(n):
        work.d1[i] = t1[i] - start_c[i]
        base = start_c[i] + (A21 / GAMMA) * work.d1[i]
        work.mean[i] = base
        t2[i] = capacity[i] * inverse * base + work.heat_w[i]
    substitute(work.matrix, work.pivots, pattern, t2)
    for i in range(n):
        base = start_c[i] + (B1 / GAMMA) * work.d1[i] + (B2 / GAMMA) * (t2[i] - work.mean[i])
        t3[i] = capacity[i] * inverse * base + work.heat_w[i]
    substitute(work.matrix, work.pivots, pattern, t3)
    for i in range(n):
        work.mean[i] = B1 * t1[i] + B2 * t2[i] + GAMMA * t3[i]


@jit
def prepare(h, capacity, burner, stage_low, stage_share, flows, slope_w_per_k, sensor, pattern, work, network):
    """Build and factorise the matrix of a step: storage, network, duct flows and the thermostat's slope."""
    n = pattern.nodes
    inverse = 1.0 / (GAMMA * h)
    for i in range(n):
        for j in range(n):
            work.matrix[i, j] = network[i, j]
        work.matrix[i, i] += capacity[i] * inverse
    if flows > 0:
        for e in range(burner.flows):
            g = work.flow[e]
            to = burner.flow_to[e]
            source = burner.flow_from[e]
            work.matrix[to, to] += g
            if source >= 0:
                work.matrix[to, source] -= g
    if slope_w_per_k != 0.0:
        for i in range(n):
            if work.share[i] != 0.0:
                work.matrix[i, sensor] += work.share[i] * slope_w_per_k
    factorise(work.matrix, work.pivots, pattern)


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
def gas_law(temp_c, flame, set_c, low_w, high_w, burner):
    """Gas heat to the air as intercept - slope * sensor, and the interval of sensor temperature where it holds."""
    continuous = burner.modulating == 1 and low_w <= 0.0
    if flame == 0 and not continuous:
        return 0.0, 0.0, set_c - burner.differential_k, FAR
    if burner.modulating == 1:
        half = 0.5 * burner.band_k
        off_c = FAR if continuous else set_c + max(burner.differential_k, half)
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
        up_c = set_c - burner.differential_k * (1 + flame)
    down_c = set_c + burner.differential_k * (2 - flame)
    return min(burner.outputs_w[flame - 1], high_w), 0.0, up_c, down_c


@jit
def electric_law(temp_c, set_c, high_w, burner):
    """Electric heat to the air, proportional in the band, and the interval where the law holds."""
    if high_w <= 0.0:
        return 0.0, 0.0, -FAR, FAR
    half = 0.5 * burner.band_k
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
        gas_set = set_c - (burner.band_k if limits[ELECTRIC_W] > 0.0 else 0.0)
        new = flame
        nudge = CROSSING_TOLERANCE_K
        if flame == 0:
            if temp_c <= gas_set - burner.differential_k + nudge and since >= burner.min_off_s:
                new = 1
        elif burner.modulating == 1:
            off_c = gas_set + max(burner.differential_k, 0.5 * burner.band_k)
            if temp_c >= off_c - nudge and since >= burner.min_on_s:
                new = 0
        elif temp_c >= gas_set + burner.differential_k * (2 - flame) - nudge:
            if flame > 1 or since >= burner.min_on_s:
                new = flame - 1
        elif flame < top and temp_c <= gas_set - burner.differential_k * (1 + flame) + nudge:
            new = flame + 1
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
            if boiler_c >= water_set - 0.02:
                integers[WATER_CALL] = 0
                floats[TRY_S] = FIRST_STEP_S
        elif boiler_c <= water_set - burner.boiler_hysteresis_k + 0.02:
            integers[WATER_CALL] = 1
            floats[TRY_S] = FIRST_STEP_S


@jit
def advance(duration_s, capacity, temp_c, heat_w, outdoor_c, network, burner, limits, integers, floats,
            pattern, work, integral, mean_flow, outcome):
    """Advance the network through a span of constant surroundings.

    temp_c [n] is moved on in place; integral [n] gains the time integral of each node [K s]; mean_flow
    [stage edge] gains the integral of (from - to) times the duct flow [J]; outcome gains heat, fuel and times.
    """
    n = pattern.nodes
    sensor = burner.sensor
    boiler = burner.boiler
    top = burner.points - 1
    t = 0.0
    guard = 0
    lean_k = 0.0
    while duration_s - t > 1.0e-6:
        guard += 1
        sensor_c = temp_c[sensor] + lean_k
        boiler_c = temp_c[boiler] if boiler >= 0 else 0.0
        switch(temp_c[sensor], boiler_c, limits, burner, integers, floats)
        flame = integers[FLAME]
        set_c = limits[SET_C]
        calls_air = not np.isnan(set_c)
        gas_cap = limits[GAS_CAP_W]
        electric_left = limits[ELECTRIC_W]

        water_gas = 0.0
        water_electric = 0.0
        boiler_hi = FAR
        boiler_lo = -FAR
        if boiler >= 0:
            if integers[WATER_CALL] == 1:
                water_electric = min(burner.water_w, electric_left)
                if water_electric <= 0.0:
                    water_gas = min(burner.water_w, gas_cap)
                boiler_hi = limits[WATER_SET_C]
            elif not np.isnan(limits[WATER_SET_C]) and (gas_cap > 0.0 or electric_left > 0.0):
                boiler_lo = limits[WATER_SET_C] - burner.boiler_hysteresis_k
        electric_left -= water_electric

        p_gas = 0.0
        s_gas = 0.0
        lo = -FAR
        hi = FAR
        p_el = 0.0
        s_el = 0.0
        if calls_air:
            p_el, s_el, lo_el, hi_el = electric_law(sensor_c, set_c, electric_left, burner)
            lo = lo_el
            hi = hi_el
            if gas_cap > 0.0:
                gas_set = set_c - (burner.band_k if limits[ELECTRIC_W] > 0.0 else 0.0)
                if flame > 0 and burner.water_first == 0 and water_gas > 0.0:
                    wanted, slope, a, b = gas_law(temp_c[sensor], flame, gas_set, burner.outputs_w[0], gas_cap, burner)
                    water_gas = max(0.0, min(water_gas, gas_cap - (wanted - slope * temp_c[sensor])))
                high = gas_cap - water_gas
                p_gas, s_gas, lo_gas, hi_gas = gas_law(sensor_c, flame, gas_set, burner.outputs_w[0], high, burner)
                timer_s = floats[SINCE_S]
                if flame == 0 and timer_s < burner.min_off_s:
                    lo_gas = -FAR
                if flame > 0 and timer_s < burner.min_on_s and hi_gas > set_c:
                    if burner.modulating == 0 or s_gas == 0.0:
                        hi_gas = FAR if flame == 1 else hi_gas
                lo = max(lo, lo_gas)
                hi = min(hi, hi_gas)
        intercept = p_gas + p_el
        slope = s_gas + s_el

        now_w = intercept - slope * temp_c[sensor]
        gas_now = p_gas - s_gas * temp_c[sensor] + water_gas
        fan_on = calls_air and (now_w > 0.0)
        k, between = place_on_table(now_w, burner.outputs_w, burner.points)
        fan_w = 0.0
        if fan_on:
            fan_w = on_table(k, between, burner.fan_w)
        elif floats[RUN_ON_S] > 0.0:
            fan_w = burner.fan_w[0]
        elif gas_now > 0.0:
            fan_w = 0.3 * burner.fan_w[0]
        flows = 0
        if fan_on:
            for e in range(burner.flows):
                work.flow[e] = burner.flow_w_per_k[k, e]
                if between > 0.0:
                    work.flow[e] += between * (burner.flow_w_per_k[k + 1, e] - burner.flow_w_per_k[k, e])
                flows += 1
        for i in range(n):
            share = burner.heat_share[k, i]
            if between > 0.0:
                share += between * (burner.heat_share[k + 1, i] - burner.heat_share[k, i])
            work.share[i] = share
            work.heat_w[i] = heat_w[i] + share * (intercept + (fan_w if fan_on else 0.0))
        if not fan_on:
            work.heat_w[burner.fan_node] += fan_w
        if flows > 0:
            for e in range(burner.flows):
                if burner.flow_from[e] < 0:
                    work.heat_w[burner.flow_to[e]] += work.flow[e] * outdoor_c
        if boiler >= 0:
            work.heat_w[boiler] += water_gas + water_electric

        burning = gas_now > 1.0e-9
        h = min(floats[TRY_S], limits[MAX_STEP_S], duration_s - t)
        if flame > 0 and floats[SINCE_S] < burner.min_on_s:
            h = min(h, burner.min_on_s - floats[SINCE_S])
        if flame == 0 and floats[SINCE_S] < burner.min_off_s:
            h = min(h, burner.min_off_s - floats[SINCE_S])
        if floats[RUN_ON_S] > 0.0 and not fan_on:
            h = min(h, floats[RUN_ON_S])
        h = max(h, 1.0e-6)

        prepare(h, capacity, burner, k, between, flows, slope, sensor, pattern, work, network)
        try_step(h, capacity, temp_c, pattern, work)
        low_h = 0.0
        high_h = h
        start_s = temp_c[sensor]
        crossed = 0
        lean_next_k = 0.0
        for attempt in range(12):
            end_s = work.t3[sensor]
            gap = 0.0
            begin = 0.0
            if end_s > hi + CROSSING_TOLERANCE_K:
                gap = end_s - hi
                begin = start_s - hi
            elif end_s < lo - CROSSING_TOLERANCE_K:
                gap = end_s - lo
                begin = start_s - lo
            if boiler >= 0:
                end_b = work.t3[boiler]
                if end_b > boiler_hi + 0.02:
                    other = (end_b - boiler_hi) / max(1.0e-12, end_b - boiler_c)
                    if gap == 0.0 or other > gap / (gap - begin):
                        gap = end_b - boiler_hi
                        begin = boiler_c - boiler_hi
                elif end_b < boiler_lo - 0.02:
                    other = (end_b - boiler_lo) / min(-1.0e-12, end_b - boiler_c)
                    if gap == 0.0 or other > gap / (gap - begin):
                        gap = end_b - boiler_lo
                        begin = boiler_c - boiler_lo
            if gap == 0.0:
                if crossed == 0 or attempt >= 11:
                    break
                near = (
                    abs(end_s - hi) <= CROSSING_TOLERANCE_K
                    or abs(end_s - lo) <= CROSSING_TOLERANCE_K
                    or (boiler >= 0 and (abs(work.t3[boiler] - boiler_hi) <= 0.02
                                         or abs(work.t3[boiler] - boiler_lo) <= 0.02))
                )
                if near or high_h - h < 0.05:
                    break
                low_h = h
                h = 0.5 * (low_h + high_h)
            else:
                if crossed == 0 and lean_k == 0.0 and abs(begin) <= 1.5 * CROSSING_TOLERANCE_K and end_s != start_s:
                    lean_next_k = 3.0 * CROSSING_TOLERANCE_K if gap > 0.0 else -3.0 * CROSSING_TOLERANCE_K
                    break
                crossed = 1
                if begin * gap > 0.0 or h <= 0.05:
                    break
                high_h = h
                guess = h * begin / (begin - gap) if low_h == 0.0 else 0.5 * (low_h + high_h)
                h = min(max(guess, low_h + 0.02 * (high_h - low_h)), high_h - 0.001 * (high_h - low_h))
            prepare(h, capacity, burner, k, between, flows, slope, sensor, pattern, work, network)
            try_step(h, capacity, temp_c, pattern, work)

        if lean_next_k != 0.0:
            lean_k = lean_next_k
            continue
        lean_k = 0.0
        integers[STEP_COUNT] += 1
        mean_s = work.mean[sensor]
        for i in range(n):
            integral[i] += h * work.mean[i]
            temp_c[i] = work.t3[i]
        gas_air = (p_gas - s_gas * mean_s) * h
        el_air = (p_el - s_el * mean_s) * h
        blown = fan_w * h if fan_on else 0.0
        whole = 0.0
        for i in range(n):
            outcome[OUTCOMES + i] += work.share[i] * (gas_air + el_air)
            outcome[OUTCOMES + n + i] += work.share[i] * blown
            whole += work.share[i]
        outcome[DUCT_LOSS_J] += (1.0 - whole) * (gas_air + el_air + blown)
        if not fan_on:
            outcome[OUTCOMES + n + burner.fan_node] += fan_w * h
        outcome[GAS_AIR_J] += gas_air
        outcome[ELECTRIC_AIR_J] += el_air
        outcome[GAS_WATER_J] += water_gas * h
        outcome[ELECTRIC_WATER_J] += water_electric * h
        outcome[FAN_J] += fan_w * h
        if fan_w > 0.0:
            outcome[FAN_S] += h
        if flows > 0:
            for e in range(burner.flows):
                source = outdoor_c if burner.flow_from[e] < 0 else work.mean[burner.flow_from[e]]
                mean_flow[e] += work.flow[e] * (source - work.mean[burner.flow_to[e]]) * h
        if burning:
            fired = gas_air + water_gas * h
            kk, bb = place_on_table(fired / h, burner.outputs_w, burner.points)
            efficiency = on_table(kk, bb, burner.efficiency) * limits[EFFICIENCY_FACTOR]
            fuel = fired / efficiency
            if integers[BURNING] == 0:
                outcome[STARTS] += 1.0
                outcome[START_LOSS_J] += burner.start_loss_j
                fuel += burner.start_loss_j
            outcome[FUEL_J] += fuel
            outcome[WATER_FUEL_J] += fuel * (water_gas * h) / max(fired, 1.0e-12)
            outcome[FLAME_S] += h
            outcome[FULL_LOAD_J] += fired / max(burner.outputs_w[top], 1.0)
            integers[BURNING] = 1
            floats[RUN_ON_S] = burner.run_on_s
        else:
            integers[BURNING] = 0
            floats[RUN_ON_S] = max(0.0, floats[RUN_ON_S] - h)
        floats[SINCE_S] += h
        t += h
        floats[TRY_S] = min(STEP_GROWTH * max(h, FIRST_STEP_S * 0.5), limits[MAX_STEP_S])
        if guard > 20_000:
            return 1
    return 0
