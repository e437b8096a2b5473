"""The thermal core: the network advanced under a thermostat with located switching instants.

The thermostat states the interval of sensor temperature in which its present law holds; a step that leaves the
interval is cut at the crossing, so that bursts of a few minutes are counted right whatever the step. The crossing is
found on the step's own cubic, then by Newton on repeated steps. Steps grow and shrink with the difference between
the method and its embedded second-order twin; what is left of a span is halved, so that one matrix serves twice.
"""

from __future__ import annotations

from math import copysign

import numpy as np

from budget.compiled import jit
from budget.engine.arrays import NODES
from budget.engine.crossing import LEAN, meet_edges
from budget.engine.stepping import end_c, lay_law, mean_c, prepare, try_step
from budget.engine.thermostat import (
    AIR_CAP_W,
    BURNING,
    DUCT_LOSS_J,
    EFFICIENCY_FACTOR,
    ELECTRIC_AIR_J,
    ELECTRIC_W,
    ELECTRIC_WATER_J,
    FAN_J,
    FAN_S,
    FAR,
    FLAME,
    FLAME_S,
    FLUE_J,
    FUEL_J,
    FULL_LOAD_J,
    GAS_AIR_J,
    GAS_CAP_W,
    GAS_WATER_J,
    OUTCOMES,
    RUN_ON_S,
    SET_C,
    SINCE_S,
    START_LOSS_J,
    STARTS,
    STEP_COUNT,
    STEP_ERROR_K,
    TRY_S,
    WATER_CALL,
    WATER_FUEL_J,
    WATER_SET_C,
    crossing_tolerance_k,
    electric_law,
    gas_edges,
    gas_law,
    on_table,
    place_on_table,
    switch,
)

MAX_STEP_S = 900.0
LEAST_STEP_S = 0.5
BEND_SHARE = 0.04  # of the proportional band: how near its edges must be met, where the output only bends
LEAST_FIRED_J = 1.0e-6  # less is rounding at the edge of the proportional band, no flame
REPLACE_SHARE = 0.02  # of rated output: fan and duct flows follow the output in steps no coarser than this


@jit
def advance(duration_s, capacity, temp_c, heat_w, outdoor_c, burner, limits, integers, floats, pattern, work,
            integral, mean_flow, blown_flow, outcome):  # fmt: skip
    """Advance the network through a span of constant surroundings.

    temp_c [n] is moved on in place; integral [n] gains the time integral of each node [K s]; mean_flow
    [duct edge] gains the integral of (from - to) times the duct flow [J], blown_flow [duct edge] that of the flow
    alone [J/K]; outcome gains heat, fuel and times.
    """
    n = pattern.nodes
    leaves = pattern.leaves
    first = pattern.followers
    sensor = burner.sensor
    boiler = burner.boiler
    top = burner.points - 1
    t = 0.0
    guard = 0
    lean_k = 0.0
    near_k = crossing_tolerance_k(burner)
    bend_k = BEND_SHARE * burner.band_k
    law_before = -FAR
    slope_before = -FAR
    prepared_s = -1.0
    placed_w = -FAR
    k = 0
    between = 0.0
    whole = 0.0
    blowing = False
    fan_before_w = -FAR
    water_before_w = -FAR
    while duration_s - t > 1.0e-6:
        guard += 1
        boiler_c = temp_c[boiler] if boiler >= 0 else 0.0
        flame = integers[FLAME]
        switch(temp_c[sensor], boiler_c, limits, burner, integers, floats)
        if integers[FLAME] != flame:
            lean_k = 0.0
        flame = integers[FLAME]
        sensor_c = temp_c[sensor] + lean_k
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
        jump_lo_c = -FAR  # where the flame lights and where it dies; at other edges the output only bends
        jump_hi_c = FAR
        wait_s = 0.0  # until the flame may die or light, and the edges that count from then on
        wait_lo_c = -FAR
        wait_hi_c = FAR
        p_el = 0.0
        s_el = 0.0
        if calls_air:
            p_el, s_el, lo_el, hi_el = electric_law(sensor_c, set_c, gas_cap, electric_left, burner)
            lo = lo_el
            hi = hi_el
            if gas_cap > 0.0:
                gas_set, on_c, off_c = gas_edges(set_c, limits[ELECTRIC_W], burner)
                if flame > 0 and burner.water_first == 0 and water_gas > 0.0:
                    wanted, slope, _, _ = gas_law(
                        temp_c[sensor], flame, gas_set, on_c, off_c, burner.outputs_w[0], gas_cap, burner
                    )
                    water_gas = max(0.0, min(water_gas, gas_cap - (wanted - slope * temp_c[sensor])))
                high = min(gas_cap - water_gas, limits[AIR_CAP_W] - electric_left)
                p_gas, s_gas, lo_gas, hi_gas = gas_law(
                    sensor_c, flame, gas_set, on_c, off_c, burner.outputs_w[0], high, burner
                )
                timer_s = floats[SINCE_S]
                if flame == 0 and timer_s < burner.min_off_s:
                    wait_s = burner.min_off_s - timer_s
                    wait_lo_c = lo_gas
                    lo_gas = -FAR
                kept_on = flame == 1 and timer_s < burner.min_on_s and hi_gas >= off_c
                if kept_on and (burner.modulating == 0 or s_gas == 0.0):
                    wait_s = burner.min_on_s - timer_s
                    wait_hi_c = hi_gas
                    hi_gas = FAR
                lo = max(lo, lo_gas)
                hi = min(hi, hi_gas)
                if flame == 0 or burner.modulating == 0:
                    jump_lo_c = lo_gas
                if burner.modulating == 0 or hi_gas >= off_c:
                    jump_hi_c = hi_gas
        near_lo_k = near_k if lo == jump_lo_c else bend_k
        near_hi_k = near_k if hi == jump_hi_c else bend_k
        intercept = p_gas + p_el
        slope = s_gas + s_el

        same = intercept == law_before and slope == slope_before
        law_before = intercept
        slope_before = slope
        now_w = intercept - slope * temp_c[sensor]
        gas_now = p_gas - s_gas * temp_c[sensor] + water_gas
        fan_on = calls_air and (now_w > 0.0 or slope > 0.0)
        same = same and abs(now_w - placed_w) <= REPLACE_SHARE * burner.outputs_w[top]
        if not (same and fan_on):
            placed_w = now_w
            k, between = place_on_table(now_w, burner.outputs_w, burner.points)
        fan_w = 0.0  # less fan_slope times the sensor's temperature
        fan_slope = 0.0
        if fan_on:
            fan_w = on_table(k, between, burner.fan_w)
            if slope > 0.0 and 0.0 < between < 1.0:
                rise = (burner.fan_w[k + 1] - burner.fan_w[k]) / (burner.outputs_w[k + 1] - burner.outputs_w[k])
                fan_slope = rise * slope
                fan_w += rise * (now_w - placed_w) + fan_slope * temp_c[sensor]
        elif gas_now > 0.0:
            fan_w = 0.3 * burner.fan_w[0]
        elif floats[RUN_ON_S] > 0.0:
            fan_w = burner.fan_w[0]
        same = same and fan_on == blowing and fan_w == fan_before_w and water_gas + water_electric == water_before_w
        if not same:
            prepared_s = -1.0
            blowing = fan_on
            fan_before_w = fan_w
            water_before_w = water_gas + water_electric
            for i in range(first, n):
                work.heat_w[i] = heat_w[i]
            if fan_on:
                for e in range(burner.flows):
                    flow = burner.flow_w_per_k[k, e]
                    if between > 0.0:
                        flow += between * (burner.flow_w_per_k[k + 1, e] - flow)
                    work.flow[e] = flow
                    if burner.flow_from[e] < 0:
                        work.heat_w[burner.flow_to[e]] += flow * outdoor_c
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
            if boiler >= 0:
                work.heat_w[boiler] += water_before_w
            lay_law(burner, fan_on, slope + fan_slope, pattern, work)

        left_s = duration_s - t
        h = min(floats[TRY_S], MAX_STEP_S)
        if h >= left_s:
            h = left_s
        elif 2.0 * h > left_s:
            h = 0.5 * left_s
        if floats[RUN_ON_S] > 0.0 and not fan_on and gas_now <= 0.0:  # a flame for the water alone renews it
            h = min(h, floats[RUN_ON_S])
        h = max(h, 1.0e-6)

        error_k = 0.0
        for _ in range(20):
            if h != prepared_s:
                prepare(h, capacity, pattern, work)
                prepared_s = h
            error_k = try_step(h, capacity, temp_c, pattern, work)
            if error_k <= limits[STEP_ERROR_K] or h <= LEAST_STEP_S:
                if h <= wait_s or wait_s == 0.0:
                    break
                end_s = end_c(sensor, temp_c, work)
                if wait_lo_c - near_k <= end_s <= wait_hi_c + near_k:
                    break
                h = wait_s
                continue
            h *= max(0.15, min(0.7, 0.8 * np.cbrt(limits[STEP_ERROR_K] / error_k)))
            floats[TRY_S] = h
        h, aimed, aim_c, lean_next_k = meet_edges(
            h, lo, hi, boiler_lo, boiler_hi, near_lo_k, near_hi_k, lean_k == 0.0, capacity, temp_c, burner, pattern,
            work,
        )  # fmt: skip
        prepared_s = h

        if lean_next_k != 0.0:
            lean_k = lean_next_k
            continue
        lean_k = 0.0
        if aimed == sensor:  # the law beyond the edge holds next, unless the flame changes
            lean_k = copysign(LEAN * (near_hi_k if aim_c == hi else near_lo_k), aim_c - temp_c[sensor])
        integers[STEP_COUNT] += 1
        for i in range(first, n):
            mean = mean_c(i, temp_c, work)
            work.average[i] = mean
            integral[i] += h * mean
            temp_c[i] = end_c(i, temp_c, work)
        mean_s = work.average[sensor]
        gas_air = (p_gas - s_gas * mean_s) * h
        el_air = (p_el - s_el * mean_s) * h
        blown_j = (fan_w - fan_slope * mean_s) * h
        if fan_on:
            for i in range(n - leaves):
                outcome[OUTCOMES + i] += work.share[i] * (gas_air + el_air)
                outcome[OUTCOMES + NODES + i] += work.share[i] * blown_j
            outcome[DUCT_LOSS_J] += (1.0 - whole) * (gas_air + el_air + blown_j)
        else:
            outcome[OUTCOMES + NODES + burner.fan_node - leaves] += blown_j
        outcome[GAS_AIR_J] += gas_air
        outcome[ELECTRIC_AIR_J] += el_air
        outcome[GAS_WATER_J] += water_gas * h
        outcome[ELECTRIC_WATER_J] += water_electric * h
        outcome[FAN_J] += blown_j
        if fan_w > 0.0:
            outcome[FAN_S] += h
        if fan_on:
            for e in range(burner.flows):
                source = outdoor_c if burner.flow_from[e] < 0 else work.average[burner.flow_from[e]]
                mean_flow[e] += work.flow[e] * (source - work.average[burner.flow_to[e]]) * h
                blown_flow[e] += work.flow[e] * h
        fired = gas_air + water_gas * h
        if fired != 0.0:
            kk, bb = place_on_table(fired / h, burner.outputs_w, burner.points)
            burned = 1.0 / (on_table(kk, bb, burner.efficiency) * limits[EFFICIENCY_FACTOR])  # of each joule given
            outcome[FLUE_J] += fired * (burned - 1.0)
            outcome[FUEL_J] += fired * burned
            outcome[WATER_FUEL_J] += water_gas * h * burned
        if fired > LEAST_FIRED_J:
            if integers[BURNING] == 0:
                outcome[STARTS] += 1.0
                outcome[START_LOSS_J] += burner.start_loss_j
                outcome[FUEL_J] += burner.start_loss_j
                outcome[WATER_FUEL_J] += burner.start_loss_j * (water_gas * h) / fired
            outcome[FLAME_S] += h
            outcome[FULL_LOAD_J] += fired / max(burner.outputs_w[top], 1.0)
            integers[BURNING] = 1
            floats[RUN_ON_S] = burner.run_on_s
        else:
            integers[BURNING] = 0
            floats[RUN_ON_S] = max(0.0, floats[RUN_ON_S] - h)
        floats[SINCE_S] += h
        t += h
        wider = 1.25 * floats[TRY_S] / h
        if aimed < 0 and floats[TRY_S] < MAX_STEP_S and error_k * wider * wider * wider < limits[STEP_ERROR_K]:
            growth = min(8.0, 0.8 * np.cbrt(limits[STEP_ERROR_K] / max(error_k, 1.0e-9)))
            floats[TRY_S] = max(floats[TRY_S], growth * h)
        if guard > 20_000:
            return 1
    return 0
