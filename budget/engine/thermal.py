"""The thermal core: a general network of nodes, advanced under a thermostat with located switching instants.

Integrator: the three-stage, stiffly accurate, L-stable diagonally implicit Runge-Kutta method of order three
(R. Alexander, SIAM J. Numer. Anal. 14 (1977) 1006). All stages share one matrix, which is factorised along a
leaves first (linings, tanks, bottles), so that they cost next to nothing.

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
CROSSING_TOLERANCE_K = 0.0005
FAR = 1.0e9


# Places in the state vectors of the thermostat.
FLAME, WATER_CALL, BURNING, STEP_COUNT = 0, 1, 2, 3
SINCE_S, RUN_ON_S, TRY_S = 0, 1, 2

# Places in the vector of what the quarter may use.
SET_C, WATER_SET_C, GAS_CAP_W, ELECTRIC_W, GAS_SHARE, EFFICIENCY_FACTOR, MAX_STEP_S = 0, 1, 2, 3, 4, 5, 6

# Places in the vector of what came of it.
(GAS_AIR_J, GAS_WATER_J, ELECTRIC_AIR_J, ELECTRIC_WATER_J, FUEL_J, FLAME_S, STARTS, FAN_J, FAN_S, FULL_LOAD_J,
 START_LOSS_J, WATER_FUEL_J, DUCT_LOSS_J, FLUE_J) = range(14)
OUTCOMES = 14


@jit
def clear(pattern, work):
    """Empty the network before its conductances are put in."""
    for i in range(pattern.nodes):
        work.leaf_sum[i] = 0.0
        work.leaf_g[i] = 0.0
    block = pattern.nodes - pattern.leaves
    for i in range(block):
        for j in range(block):
            work.base[i, j] = 0.0


@jit
def connect(a, b, g, pattern, work):
    """Put a conductance between node a and node b, or outdoors (b < 0). [W/K]"""
    leaves = pattern.leaves
    if a < leaves:
        work.leaf_sum[a] += g
        if b >= 0:
            work.leaf_g[a] += g
            work.base[b - leaves, b - leaves] += g
    elif b < 0:
        work.base[a - leaves, a - leaves] += g
    elif b < leaves:
        work.leaf_sum[b] += g
        work.leaf_g[b] += g
        work.base[a - leaves, a - leaves] += g
    else:
        work.base[a - leaves, a - leaves] += g
        work.base[b - leaves, b - leaves] += g
        work.base[a - leaves, b - leaves] -= g
        work.base[b - leaves, a - leaves] -= g


@jit
def prepare(h, capacity, burner, flows_on, slope_w_per_k, pattern, work):
    """Build and factorise the matrix of a step: storage, network, duct flows and the thermostat's slope.

    Leaves (nodes with one neighbour) are folded into their neighbour; the rest, a few air nodes, is a dense block.
    No pivoting: the matrix is diagonally dominant.
    """
    leaves = pattern.leaves
    block = pattern.nodes - leaves
    inverse = 1.0 / (GAMMA * h)
    matrix = work.matrix
    for i in range(block):
        for j in range(block):
            matrix[i, j] = work.base[i, j]
        matrix[i, i] += capacity[leaves + i] * inverse
    for i in range(leaves):
        own = 1.0 / (work.leaf_sum[i] + capacity[i] * inverse)
        work.leaf_inverse[i] = own
        work.leaf_pull[i] = work.leaf_g[i] * own
    for i in range(leaves):
        to = pattern.parent[i] - leaves
        matrix[to, to] -= work.leaf_g[i] * work.leaf_pull[i]
    if flows_on:
        for e in range(burner.flows):
            g = work.flow[e]
            to = burner.flow_to[e] - leaves
            source = burner.flow_from[e]
            matrix[to, to] += g
            if source >= 0:
                matrix[to, source - leaves] -= g
    if slope_w_per_k != 0.0:
        sensor = burner.sensor - leaves
        for i in range(block):
            matrix[i, sensor] += work.share[i] * slope_w_per_k
    for k in range(block):
        own = 1.0 / matrix[k, k]
        work.pivots[k] = own
        for i in range(k + 1, block):
            factor = matrix[i, k] * own
            matrix[i, k] = factor
            for j in range(k + 1, block):
                matrix[i, j] -= factor * matrix[k, j]


@jit
def solve_block(x, leaves, block, work):
    """Solve the prepared dense block for x[leaves:], in place."""
    matrix = work.matrix
    for k in range(block):
        value = x[leaves + k]
        for i in range(k + 1, block):
            x[leaves + i] -= matrix[i, k] * value
    for k in range(block - 1, -1, -1):
        value = x[leaves + k]
        for j in range(k + 1, block):
            value -= matrix[k, j] * x[leaves + j]
        x[leaves + k] = value * work.pivots[k]


@jit
def try_step(h, capacity, start_c, pattern, work):
    """One step of h seconds from start_c with the prepared matrix: stages in work.t1, t2, t3, the last the end.

    Each pass over the nodes finishes one stage of the leaves and opens the next.
    """
    n = pattern.nodes
    leaves = pattern.leaves
    block = n - leaves
    inverse = 1.0 / (GAMMA * h)
    ahead = A21 / GAMMA
    first = B1 / GAMMA
    second = B2 / GAMMA
    t1 = work.t1
    t2 = work.t2
    t3 = work.t3
    for i in range(leaves, n):
        work.storage[i] = capacity[i] * inverse
        t1[i] = work.storage[i] * start_c[i] + work.heat_w[i]
    for i in range(leaves):
        work.storage[i] = capacity[i] * inverse
        right = work.storage[i] * start_c[i] + work.heat_w[i]
        t1[i] = right * work.leaf_inverse[i]
        t1[pattern.parent[i]] += work.leaf_pull[i] * right
    solve_block(t1, leaves, block, work)
    for i in range(leaves, n):
        base = start_c[i] + ahead * (t1[i] - start_c[i])
        work.d2[i] = base
        t2[i] = work.storage[i] * base + work.heat_w[i]
    for i in range(leaves):
        value = t1[i] + work.leaf_pull[i] * t1[pattern.parent[i]]
        t1[i] = value
        base = start_c[i] + ahead * (value - start_c[i])
        work.d2[i] = base
        right = work.storage[i] * base + work.heat_w[i]
        t2[i] = right * work.leaf_inverse[i]
        t2[pattern.parent[i]] += work.leaf_pull[i] * right
    solve_block(t2, leaves, block, work)
    for i in range(leaves, n):
        base = start_c[i] + first * (t1[i] - start_c[i]) + second * (t2[i] - work.d2[i])
        t3[i] = work.storage[i] * base + work.heat_w[i]
    for i in range(leaves):
        value = t2[i] + work.leaf_pull[i] * t2[pattern.parent[i]]
        t2[i] = value
        base = start_c[i] + first * (t1[i] - start_c[i]) + second * (value - work.d2[i])
        right = work.storage[i] * base + work.heat_w[i]
        t3[i] = right * work.leaf_inverse[i]
        t3[pattern.parent[i]] += work.leaf_pull[i] * right
    solve_block(t3, leaves, block, work)
    for i in range(leaves):
        t3[i] += work.leaf_pull[i] * t3[pattern.parent[i]]


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
def advance(duration_s, capacity, temp_c, heat_w, outdoor_c, burner, limits, integers, floats,
            pattern, work, integral, mean_flow, outcome):
    """Advance the network through a span of constant surroundings.

    temp_c [n] is moved on in place; integral [n] gains the time integral of each node [K s]; mean_flow
    [stage edge] gains the integral of (from - to) times the duct flow [J]; outcome gains heat, fuel and times.
    """
    n = pattern.nodes
    leaves = pattern.leaves
    sensor = burner.sensor
    boiler = burner.boiler
    top = burner.points - 1
    t = 0.0
    guard = 0
    lean_k = 0.0
    law_before = -FAR
    slope_before = -FAR
    prepared_s = -1.0
    k = 0
    between = 0.0
    flows = 0
    blowing = False
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

        same = intercept == law_before and slope == slope_before
        law_before = intercept
        slope_before = slope
        now_w = intercept - slope * temp_c[sensor]
        gas_now = p_gas - s_gas * temp_c[sensor] + water_gas
        fan_on = calls_air and (now_w > 0.0)
        if not (same and fan_on):
            k, between = place_on_table(now_w, burner.outputs_w, burner.points)
        fan_w = 0.0
        if fan_on:
            fan_w = on_table(k, between, burner.fan_w)
        elif floats[RUN_ON_S] > 0.0:
            fan_w = burner.fan_w[0]
        elif gas_now > 0.0:
            fan_w = 0.3 * burner.fan_w[0]
        if not (same and fan_on == blowing):
            prepared_s = -1.0
            flows = 0
            if fan_on:
                flows = burner.flows
                for e in range(burner.flows):
                    work.flow[e] = burner.flow_w_per_k[k, e]
                    if between > 0.0:
                        work.flow[e] += between * (burner.flow_w_per_k[k + 1, e] - burner.flow_w_per_k[k, e])
        blowing = fan_on
        for i in range(n):
            work.heat_w[i] = heat_w[i]
        spread_w = intercept + (fan_w if fan_on else 0.0)
        whole = 0.0
        for i in range(n - leaves):
            share = burner.heat_share[k, leaves + i]
            if between > 0.0:
                share += between * (burner.heat_share[k + 1, leaves + i] - share)
            work.share[i] = share
            whole += share
            work.heat_w[leaves + i] += share * spread_w
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

        if h != prepared_s:
            prepare(h, capacity, burner, flows > 0, slope, pattern, work)
            prepared_s = h
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
            prepare(h, capacity, burner, flows > 0, slope, pattern, work)
            prepared_s = h
            try_step(h, capacity, temp_c, pattern, work)

        if lean_next_k != 0.0:
            lean_k = lean_next_k
            continue
        lean_k = 0.0
        integers[STEP_COUNT] += 1
        for i in range(n):
            mean = B1 * work.t1[i] + B2 * work.t2[i] + GAMMA * work.t3[i]
            work.mean[i] = mean
            integral[i] += h * mean
            temp_c[i] = work.t3[i]
        mean_s = work.mean[sensor]
        gas_air = (p_gas - s_gas * mean_s) * h
        el_air = (p_el - s_el * mean_s) * h
        blown = fan_w * h if fan_on else 0.0
        for i in range(n - leaves):
            outcome[OUTCOMES + leaves + i] += work.share[i] * (gas_air + el_air)
            outcome[OUTCOMES + n + leaves + i] += work.share[i] * blown
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
            outcome[FLUE_J] += fired * (1.0 - efficiency) / efficiency
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
