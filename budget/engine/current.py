"""The 12 V system in the march: loads, sources, the battery and its cut-out."""

from __future__ import annotations

from budget.compiled import jit
from budget.engine import arrays as A
from budget.engine import thermostat as T
from budget.engine.state import CUT_OUT, PAD_ON
from budget.physics.battery import capacity_share, charge_limit_share, peukert_factor, usable_ah

QUARTER_H = 0.25
FEEDS_A = 5.0  # charger or alternator that keeps the 12 V system up past a cut-out battery; a choice
FAN, STANDBY, PUMP, EXTRACT, PAD, OTHER = 0, 1, 2, 3, 4, 5


@jit
def warm_battery(van, state, surplus_ah):
    """Charge that the battery's heating pad takes in the quarter, its heat put into the battery. [Ah]

    On from below pad_on_c until pad_off_c, and only while sources give more than the loads draw: it never discharges
    the battery, and takes what is left where that is less than its own draw.
    """
    if van.pad_w <= 0.0:
        return 0.0
    node = van.battery_node
    if state.temp_c[node] < van.pad_on_c:
        state.marks[PAD_ON] = 1
    elif state.temp_c[node] >= van.pad_off_c:
        state.marks[PAD_ON] = 0
    if state.marks[PAD_ON] == 0 or surplus_ah <= 0.0:
        return 0.0
    held = van.capacity_j_per_k[node]
    most_j = held * (van.pad_off_c - state.temp_c[node])
    pad_ah = min(van.pad_w / van.nominal_v * QUARTER_H, surplus_ah, most_j / 3600.0 / van.nominal_v)
    state.temp_c[node] += pad_ah * 3600.0 * van.nominal_v / held
    return pad_ah


@jit
def run_battery(van, hour, outside, factors, state, scratch, flow, at):
    """One quarter of the 12 V system; sources serve the loads first and charge with what is left.

    Loads and extract fan were set for the half hour and are charged for as they ran, past a cut-out within it.
    """
    volts = van.nominal_v
    capacity_ah = state.charge_ah[1]
    charge_ah = state.charge_ah[0]
    battery_c = state.temp_c[van.battery_node]
    off = state.marks[CUT_OUT] == 1

    fan_ah = scratch.outcome[T.FAN_J] / 3600.0 / volts
    standby_ah = 0.0
    extract_ah = 0.0
    pump_ah = 0.0
    loads_ah = 0.0
    if not off:
        if hour.heater_allowed == 1:
            standby_ah = van.standby_w / volts * QUARTER_H
        pump_ah = scratch.pumped_l[0] / van.pump_l_per_min / 60.0 * van.pump_w / volts
    if scratch.extract_kg_s[0] > 0.0:
        extract_ah = hour.extract_fan_w / volts * QUARTER_H
    for i in range(van.loads):
        ah = scratch.load_now_w[i] / volts * QUARTER_H
        flow[at.load_ah + OTHER + i] += ah
        loads_ah += ah
    scratch.pumped_l[0] = 0.0
    flow[at.load_ah + FAN] += fan_ah
    flow[at.load_ah + STANDBY] += standby_ah
    flow[at.load_ah + PUMP] += pump_ah
    flow[at.load_ah + EXTRACT] += extract_ah
    wanted_ah = fan_ah + standby_ah + pump_ah + extract_ah + loads_ah
    if off:
        flow[at.cut_out_s] += 900.0

    sun_ah = outside[A.PANEL_W] * van.solar_kept * factors[A.SOLAR] * hour.solar_factor / volts * QUARTER_H
    drive_ah = van.alternator_a * hour.alternator * QUARTER_H
    plug_ah = min(van.mains_charger_a, scratch.power_w[0] * van.mains_efficiency / volts) * QUARTER_H
    pad_ah = warm_battery(van, state, sun_ah + drive_ah + plug_ah - wanted_ah)
    flow[at.load_ah + PAD] += pad_ah
    flow[at.pad_j] += pad_ah * 3600.0 * volts
    wanted_ah += pad_ah

    soc = charge_ah / capacity_ah
    accept_a = van.max_charge_a * charge_limit_share(van.chemistry, battery_c, soc)
    accept_ah = min(accept_a * QUARTER_H, max(0.0, capacity_ah - charge_ah) / van.charge_efficiency)
    room_ah = wanted_ah + accept_ah
    solar_ah = min(sun_ah, room_ah)
    flow[at.solar_ah] += solar_ah
    flow[at.solar_spilled_ah] += sun_ah - solar_ah
    room_ah -= solar_ah
    alternator_ah = min(drive_ah, room_ah)
    flow[at.alternator_ah] += alternator_ah
    room_ah -= alternator_ah
    mains_ah = min(plug_ah, room_ah)
    flow[at.mains_charger_ah] += mains_ah
    element_j = scratch.outcome[T.ELECTRIC_AIR_J] + scratch.outcome[T.ELECTRIC_WATER_J]
    mains_w = mains_ah / QUARTER_H * volts / van.mains_efficiency + scratch.power_w[1]
    flow[at.mains_j] += mains_w * 900.0 + element_j
    flow[at.mains_appliances_j] += scratch.power_w[1] * 900.0

    net_ah = solar_ah + alternator_ah + mains_ah - wanted_ah
    if net_ah >= 0.0:
        charge_ah += net_ah * van.charge_efficiency
        flow[at.charge_loss_ah] += net_ah * (1.0 - van.charge_efficiency)
    else:
        drawn_ah = -net_ah
        used = drawn_ah * peukert_factor(drawn_ah / QUARTER_H, capacity_ah, van.peukert)
        flow[at.charge_loss_ah] += used - drawn_ah
        charge_ah -= used
    cold_share = capacity_share(van.chemistry, battery_c)
    floor_ah = capacity_ah - usable_ah(capacity_ah, capacity_ah, cold_share, van.cut_out_share)
    reconnect_ah = capacity_ah - usable_ah(capacity_ah, capacity_ah, cold_share, van.reconnect_share)
    offered_a = van.alternator_a * hour.alternator
    offered_a += min(van.mains_charger_a, hour.hookup_w * van.mains_efficiency / volts)
    fed = offered_a >= FEEDS_A and wanted_ah <= offered_a * QUARTER_H
    if charge_ah <= floor_ah and not fed:
        state.marks[CUT_OUT] = 1
    elif fed or charge_ah >= reconnect_ah:
        state.marks[CUT_OUT] = 0
    state.charge_ah[0] = charge_ah
