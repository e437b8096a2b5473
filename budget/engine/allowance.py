"""What the heater may ask for and use in a quarter: setpoints, the hook-up's watts, the gas at hand."""

from __future__ import annotations

import numpy as np

from budget.compiled import jit
from budget.engine import arrays as A
from budget.engine import thermostat as T
from budget.engine.bottles import FRIDGE, HEATER, HOB, gas_at_hand
from budget.engine.clock import QUARTER_S
from budget.engine.state import CUT_OUT, VALVE_OPEN
from budget.engine.supply import carried_w
from budget.physics.battery import charge_limit_share
from budget.physics.burner import output_at_density
from budget.physics.properties import BUTANE_LOWER_J_PER_KG, PROPANE_LOWER_J_PER_KG

BEHIND_K = 1.0  # below the setpoint, from which the burner is asked for all it has
CAP_SHARE = 0.99  # of the gas at hand that the heater may plan with
STARTS_SPARED = 2.0  # starts whose loss is set aside of it
LEAST_CAP_SHARE = 0.6  # of the least output: with less gas there is no flame


@jit
def gas_to_stay_kg(burner, limits, state, rated_w, lowest, open_kg):
    """Gas in the quarter below which a bottle in use is changed, and below which one is that the cold holds back. [kg]

    The first is half of what burns openly with half of the full fire, and no less than the least flame; the second
    is all that the burner can use where the room has fallen behind, else the same.
    """
    full_kg = rated_w / lowest * QUARTER_S / PROPANE_LOWER_J_PER_KG
    efficiency = CAP_SHARE * lowest * min(1.0, limits[T.EFFICIENCY_FACTOR])
    flame_j = LEAST_CAP_SHARE * burner.outputs_w[0] * QUARTER_S / efficiency + STARTS_SPARED * burner.start_loss_j
    least_kg = max(0.5 * (open_kg + 0.5 * full_kg), open_kg + 1.001 * flame_j / BUTANE_LOWER_J_PER_KG)
    if limits[T.SET_C] - state.temp_c[burner.sensor] > BEHIND_K:  # false where no warmth is asked for
        return least_kg, max(least_kg, open_kg + full_kg)
    return least_kg, least_kg


@jit
def allow_heater(van, hour, outside, q, factors, burner, state, scratch, flow, at):
    """Set what the thermostat may ask and use in the quarter: setpoints, gas by the bottle, watts by the hook-up."""
    limits = scratch.limits
    running = hour.heater_allowed == 1 and state.marks[CUT_OUT] == 0
    set_c = hour.set_c[q]
    limits[T.SET_C] = set_c + factors[A.SETPOINT_K] if running else np.nan
    water_c = hour.water_set_c[q]
    limits[T.WATER_SET_C] = water_c if running and state.marks[VALVE_OPEN] == 0 else np.nan
    limits[T.EFFICIENCY_FACTOR] = factors[A.EFFICIENCY]

    budget_w = hour.hookup_w * 1.0
    hooked = budget_w > 0.0
    fridge_gas = 0.0
    fridge_w = 0.0
    cooking_w = min(hour.cooking_electric_w, budget_w)
    if van.fridge_use == 1 and hooked:
        fridge_w = min(van.fridge_electric_w, budget_w - cooking_w)
    elif van.fridge_use <= 1:
        fridge_gas = van.fridge_gas_kg_per_h / 4.0 if hour.gas_open == 1 else 0.0
    budget_w = max(0.0, budget_w - fridge_w - cooking_w)
    charger_w = 0.0
    if hooked:
        share = charge_limit_share(
            van.chemistry, state.temp_c[van.battery_node], state.charge_ah[0] / state.charge_ah[1]
        )
        pad_w = van.pad_w if state.temp_c[van.battery_node] < van.pad_off_c else 0.0
        loads_w = pad_w + van.standby_w + burner.fan_w[burner.points - 1] + hour.extract_fan_w
        for i in range(van.loads):
            loads_w += scratch.load_now_w[i]
        asked_w = loads_w + van.max_charge_a * share * van.nominal_v
        charger_w = min(budget_w, min(asked_w, van.mains_charger_a * van.nominal_v) / van.mains_efficiency)
    scratch.power_w[0] = charger_w
    scratch.power_w[1] = fridge_w + cooking_w
    limits[T.AIR_CAP_W] = carried_w(burner, state.temp_c[van.air_node[van.living]])
    left_w = min(budget_w - charger_w, limits[T.AIR_CAP_W])
    element_w = 0.0
    if hooked and running and hour.fuel > 0:
        for k in range(van.electric_steps):
            if van.electric_w[k] <= left_w:
                element_w = van.electric_w[k]
    limits[T.ELECTRIC_W] = element_w

    hob_kg = hour.cooking_kg / 4.0
    top = burner.points - 1
    lowest = burner.efficiency[0]
    for k in range(top + 1):
        lowest = min(lowest, burner.efficiency[k])
    rated_w = output_at_density(van.rated_w, burner.air_ratio, van.altitude_compensated == 1)
    gas_heats = running and (hour.fuel != 1 or not hooked)
    least_kg = 0.5 * (hob_kg + fridge_gas)
    enough_kg = least_kg
    if gas_heats:
        least_kg, enough_kg = gas_to_stay_kg(burner, limits, state, rated_w, lowest, hob_kg + fridge_gas)
    hand_kg = gas_at_hand(van, hour, outside, state, scratch, least_kg, enough_kg)
    hand_kg = min(hand_kg, van.regulator_kg_per_h / 4.0)
    scratch.gas_kg[HOB] = min(hob_kg, hand_kg)
    scratch.gas_kg[FRIDGE] = min(fridge_gas, hand_kg - scratch.gas_kg[HOB])
    flow[at.unserved_cooking_kg] += hob_kg - scratch.gas_kg[HOB]
    flow[at.unserved_fridge_kg] += fridge_gas - scratch.gas_kg[FRIDGE]
    scratch.gas_kg[HEATER] = hand_kg - scratch.gas_kg[HOB] - scratch.gas_kg[FRIDGE]
    flow[at.offtake_limit_kg] += hand_kg
    cap_w = 0.0
    if gas_heats:
        spare = scratch.gas_kg[HEATER] - STARTS_SPARED * burner.start_loss_j / BUTANE_LOWER_J_PER_KG
        could_w = CAP_SHARE * spare * BUTANE_LOWER_J_PER_KG * lowest * min(1.0, factors[A.EFFICIENCY]) / QUARTER_S
        cap_w = min(rated_w, could_w)
        if cap_w < LEAST_CAP_SHARE * burner.outputs_w[0]:
            cap_w = 0.0
    limits[T.GAS_CAP_W] = cap_w
    if gas_heats and not np.isnan(limits[T.SET_C]) and cap_w < rated_w and element_w == 0.0:
        short_k = limits[T.SET_C] - state.temp_c[burner.sensor]
        missing_w = min(rated_w, max(0.0, short_k) * 60.0) - cap_w
        if missing_w > 0.0:
            flow[at.unserved_heating_kg] += missing_w / lowest * QUARTER_S / PROPANE_LOWER_J_PER_KG
