"""The 12 V system in the march: loads, sources, the battery and its cut-out."""

from __future__ import annotations

from budget.compiled import jit
from budget.engine import arrays as A
from budget.engine import thermostat as T
from budget.engine.clock import HALF_S
from budget.engine.state import CUT_OUT, PAD_ON
from budget.physics.battery import capacity_share, charge_limit_share, peukert_factor, usable_ah

QUARTER_H = 0.25
HALF_H = HALF_S / 3600.0
FEEDS_A = 5.0  # charger or alternator that keeps the 12 V system up past a cut-out battery; a choice
SLOW_FACTOR = (
    4.0  # Peukert's law, to 1.6, takes less than so much more of a draw that would need two hours to the cut-out
)
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
def sources_a(van, hour, outside, factors):
    """What the sun gives, and what alternator and mains charger may give. [A]"""
    sun_a = outside[A.PANEL_W] * van.solar_kept * factors[A.SOLAR] * hour.solar_factor / van.nominal_v
    plug_a = min(van.mains_charger_a, hour.hookup_w * van.mains_efficiency / van.nominal_v)
    return sun_a, van.alternator_a * hour.alternator + plug_a


@jit
def charge_at(van, state, share):
    """The charge at which a share of what can be drawn at the battery's temperature is left. [Ah]"""
    capacity_ah = state.charge_ah[1]
    cold_share = capacity_share(van.chemistry, state.temp_c[van.battery_node])
    return capacity_ah - usable_ah(capacity_ah, capacity_ah, cold_share, share)


@jit
def served_share(van, hour, outside, factors, state, loads_w):
    """Share of the half hour for which loads, extract fan and standby run until the battery cuts out; 1: throughout."""
    volts = van.nominal_v
    drawn_w = loads_w
    if van.wet >= 0:
        drawn_w += hour.extract_fan_w
    if hour.heater_allowed == 1:
        drawn_w += van.standby_w
    sun_a, fed_a = sources_a(van, hour, outside, factors)
    net_a = drawn_w / volts - sun_a - fed_a
    left_ah = state.charge_ah[0] - charge_at(van, state, van.cut_out_share)
    if net_a <= 0.0 or SLOW_FACTOR * HALF_H * net_a <= left_ah:
        return 1.0
    used_ah = HALF_H * net_a * peukert_factor(net_a, state.charge_ah[1], van.peukert)
    return 1.0 if used_ah <= left_ah else max(0.0, left_ah) / used_ah


@jit
def run_battery(van, hour, outside, factors, state, scratch, flow, at):
    """One quarter of the 12 V system; sources serve the loads first and charge with what is left.

    Loads and extract fan were set for the half hour and are charged for as they ran; where the battery cuts out
    meanwhile that is a part of it. The heater's fan and the pump have run: they take what is left below the cut-out.
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
        extract_ah = hour.extract_fan_w * scratch.served[0] / volts * QUARTER_H
    for i in range(van.loads):
        loads_ah += scratch.load_now_w[i] / volts * QUARTER_H
    scratch.pumped_l[0] = 0.0
    wanted_ah = fan_ah + standby_ah + pump_ah + extract_ah + loads_ah
    if off:
        flow[at.cut_out_s] += 900.0

    sun_a, offered_a = sources_a(van, hour, outside, factors)
    sun_ah = sun_a * QUARTER_H
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
    had = 1.0
    if net_ah >= 0.0:
        charge_ah += net_ah * van.charge_efficiency
        flow[at.charge_loss_ah] += net_ah * (1.0 - van.charge_efficiency)
    else:
        drawn_ah = -net_ah
        used = drawn_ah * peukert_factor(drawn_ah / QUARTER_H, capacity_ah, van.peukert)
        if used > charge_ah:
            drawn_ah *= charge_ah / used
            used = charge_ah
            had = (wanted_ah + net_ah + drawn_ah) / wanted_ah
        flow[at.charge_loss_ah] += used - drawn_ah
        charge_ah -= used
    flow[at.load_ah + FAN] += fan_ah * had
    flow[at.load_ah + STANDBY] += standby_ah * had
    flow[at.load_ah + PUMP] += pump_ah * had
    flow[at.load_ah + EXTRACT] += extract_ah * had
    for i in range(van.loads):
        flow[at.load_ah + OTHER + i] += scratch.load_now_w[i] / volts * QUARTER_H * had
    fed = offered_a >= FEEDS_A and wanted_ah <= offered_a * QUARTER_H
    if (charge_ah <= charge_at(van, state, van.cut_out_share) or scratch.served[0] < 1.0) and not fed:
        state.marks[CUT_OUT] = 1
    elif fed or charge_ah >= charge_at(van, state, van.reconnect_share):
        state.marks[CUT_OUT] = 0
    state.charge_ah[0] = charge_ah
