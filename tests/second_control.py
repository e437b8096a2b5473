"""The second model's clock: what people, thermostats and rules do, and the solver between two such moments."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from scipy.integrate import RK45
from scipy.optimize import brentq
from second_van import BUTANE, CP_WATER, PROPANE, coldest_c, ratio_of, saturation_pa

BOILER, FRESH, WASTE, PIPES = range(4)
QUARTER_S = 900.0
REFILL_C = 6.0
SHOWER_KG_PER_L = 0.012
SHOWER_S = 900.0  # a shower's vapour comes while it runs and its walls drip; a choice
LATENT_J_PER_KG = 2.501e6
EMPTY_KG = 0.03
NUDGE_K = 1e-4


class Clock:
    """Marches a SecondModel; ``y`` is the state, the model holds what switches."""

    def __init__(self, model: Any) -> None:
        self.m, self.van, self.line = model, model.van, model.line
        m, at = model, model.at
        first = m.surroundings(0)
        inside = m.line.tour.start_inside_c
        m.now = first
        y = np.zeros(m.width)
        y[at["air"]] = y[at["lining"]] = y[at["battery"]] = inside
        y[at["ratio"]] = min(first.w_out, 0.9 * ratio_of(saturation_pa(inside), first.pressure))
        y[at["water"]] = [max(inside, 5.0), max(2.0, min(inside, REFILL_C + 4.0)), max(1.0, first.out_c),
                          max(inside, 2.0)]  # fmt: skip
        self.share = self.van.gas.locker_warmer_share if self.van.gas.locker_zone in m.names else 0.0
        y[at["cold"]] = first.out_c + self.share * (inside - first.out_c)
        for k, bottle in enumerate(m.bottles):
            kg = bottle.net_kg if bottle.start_kg is None else bottle.start_kg
            y[at["propane"].start + k] = kg * bottle.propane_share
            y[at["butane"].start + k] = kg * (1.0 - bottle.propane_share)
        battery, water = self.van.power.battery, self.van.water
        y[at["charge"]] = battery.capacity_ah * min(1.0, battery.start_share)
        self.y, self.t, self.step_s, self.draw = y, 0.0, 1.0, 0
        m.litres = [water.boiler.water_l, min(water.fresh.start_l, water.fresh.capacity_l),
                    min(water.waste.start_l, water.waste.capacity_l), water.pipes.content_l]  # fmt: skip
        m.flame, m.call, m.run_on, m.cut_out, m.steaming = 0, False, 0.0, False, []
        m.kit0, m.kit_m2 = [1.0] * m.n, [0.0] * m.n
        self.since, self.burning, self.feeding, self.valve_open, self.starts = 1e9, False, 0, False, 0
        self.pumped_l = 0.0
        self.hung: dict[int, list[tuple[int, float, float]]] = {}
        for hour, name, kg, m2 in self.line.drying:
            self.hung.setdefault(hour, []).append((m.names.index(name), kg, m2))

    def one(self, name: str, k: int = 0) -> int:
        return int(self.m.at[name].start + k)

    # --- what people do

    def begin_hour(self, h: int) -> None:
        m, y, line, water = self.m, self.y, self.line, self.van.water
        if line.refill[h]:
            self.pour(FRESH, water.fresh.capacity_l - m.litres[FRESH], REFILL_C)
        if line.empty_waste[h]:
            self.pour(WASTE, -max(0.0, m.litres[WASTE] - self.ice_kg(WASTE)), 0.0)
        taken = min(float(line.cold_water_l[h]), self.pumpable_l())
        if taken > 0.0:
            fresh_c = m.warmth(FRESH, y[self.one("water", FRESH)])
            self.pour(FRESH, -taken, 0.0)
            self.to_waste(taken * float(line.cold_to_waste_l[h] / line.cold_water_l[h]), max(2.0, fresh_c))
            self.pumped_l += taken
        for k, bottle in enumerate(m.bottles):
            left = y[self.one("propane", k)] + y[self.one("butane", k)]
            below = 0.75 if bottle.refillable else self.van.gas.swap_below_share
            if m.exchange[h, k] and left <= below * bottle.net_kg:
                self.swap(k, bottle, left)
        for z, kg, m2 in self.hung.get(h, []):
            left = y[self.one("kit", z)]
            wet = min(1.0, left / (0.3 * m.kit0[z]))  # of the cloth that hangs there, as the drying law has it
            y[self.one("kit", z)] = left + kg
            m.kit0[z], m.kit_m2[z] = wet * m.kit0[z] + kg, wet * m.kit_m2[z] + m2
        m.now = m.surroundings(h)
        if self.valve_open and line.awake[h] > 0.0 and line.inside[h]:
            missing = water.boiler.water_l - m.litres[BOILER]
            if self.floor_c() > water.drain_valve.closes_c and self.pumpable_l() >= missing:
                self.valve_open = False
                fresh_c = m.warmth(FRESH, y[self.one("water", FRESH)])
                self.pour(FRESH, -missing, 0.0)
                self.pour(BOILER, missing, fresh_c)
                self.pumped_l += missing

    def swap(self, k: int, bottle: Any, left: float) -> None:
        y, out_c = self.y, self.m.now.out_c
        steel, liquid = bottle.tare_kg * 480.0, 2450.0
        if bottle.refillable:
            added = bottle.net_kg - left
            heat = (steel + liquid * left) * y[self.one("cold", k)] + liquid * added * out_c
            y[self.one("cold", k)] = heat / (steel + liquid * bottle.net_kg)
            y[self.one("propane", k)] += added * bottle.propane_share
            y[self.one("butane", k)] += added * (1.0 - bottle.propane_share)
        else:
            y[self.one("cold", k)] = out_c
            y[self.one("propane", k)] = bottle.net_kg * bottle.propane_share
            y[self.one("butane", k)] = bottle.net_kg * (1.0 - bottle.propane_share)

    def floor_c(self) -> float:
        z = self.m.names.index(self.van.water.drain_valve.zone)
        air = self.y[self.one("air", z)]
        return float(air - self.m.zones[z].floor_colder_share * (air - self.m.now.out_c))

    def ice_kg(self, k: int) -> float:
        e = self.y[self.one("water", k)]
        return min(self.m.litres[k], max(0.0, -e * self.m.held()[k] / 334.0e3))

    def pumpable_l(self) -> float:
        return 0.0 if self.m.cut_out else max(0.0, self.m.litres[FRESH] - self.ice_kg(FRESH))

    def pour(self, k: int, litres: float, temp_c: float) -> None:
        """Into a water node, or (negative) out of it at its own temperature."""
        m, i = self.m, self.one("water", k)
        heat = m.held()[k] * self.y[i]
        heat += CP_WATER * litres * (temp_c if litres > 0.0 else m.warmth(k, self.y[i]))
        m.litres[k] += litres
        self.y[i] = heat / m.held()[k]

    def to_waste(self, litres: float, temp_c: float) -> None:
        kept = min(litres, self.van.water.waste.capacity_l - self.m.litres[WASTE])
        if kept > 0.0:
            self.pour(WASTE, kept, temp_c)

    def take_shower(self, k: int) -> None:
        """A draw of warm water in small parts, cold blended in while the boiler is warmer than the tap."""
        m, y, line = self.m, self.y, self.line
        wanted, tap, shower = float(line.draw_l[k]), float(line.draw_tap_c[k]), line.draw_use[k] == 0
        litres = min(wanted, self.pumpable_l())
        if self.valve_open or self.ice_kg(BOILER) > 0.0 or self.ice_kg(PIPES) > 0.3 * m.litres[PIPES]:
            litres = 0.0
        if litres <= 0.0:
            return
        i = self.one("water", BOILER)
        cold, heat, parts = max(0.0, m.warmth(FRESH, y[self.one("water", FRESH)])), 0.0, 400
        for _ in range(parts):
            lift = max(0.0, y[i] - cold)
            hot = litres / parts * (min(1.0, (tap - cold) / lift) if lift > 1e-9 and tap > cold else 0.0)
            y[i] -= CP_WATER * hot * lift / m.held()[BOILER]
            heat += CP_WATER * hot * lift
        self.pour(FRESH, -litres, 0.0)
        self.pumped_l += litres
        z = m.wet if shower else m.living
        vapour = SHOWER_KG_PER_L * litres * (1.0 if shower else 0.2)
        mean = cold + heat / (CP_WATER * litres)
        drain = 0.5 * (mean + y[self.one("air", z)])
        given = CP_WATER * (litres * mean - (litres - vapour) * drain) - vapour * LATENT_J_PER_KG
        y[self.one("lining", z)] += given / m.zones[z].fabric_capacity_j_per_k
        m.steaming.append((z, vapour / SHOWER_S, self.t + SHOWER_S))
        self.to_waste(litres - vapour, drain)

    # --- what rules allow in the quarter

    def allow(self, q: int) -> None:
        m, now, line, van, h = self.m, self.m.now, self.line, self.van, self.m.now.h
        heater, power, battery = van.heater, van.power, van.power.battery
        running = bool(line.heater_allowed[h]) and not m.cut_out
        now.set_c = float(line.setpoint_c[4 * h + q]) if running else math.nan
        now.water_c = float(line.water_set_c[4 * h + q]) if running and not self.valve_open else math.nan
        budget = float(line.hookup_w[h])
        hooked = budget > 0.0
        now.fridge_kg_per_s = fridge_w = 0.0
        if van.fridge is not None and van.fridge.use != "off":
            if van.fridge.use == "electric_first" and hooked:
                fridge_w = min(van.fridge.electric_w, budget - now.cooking_w)
            elif line.gas_open[h]:
                now.fridge_kg_per_s = van.fridge.gas_g_per_h / 3.6e6
        budget = max(0.0, budget - now.cooking_w - fridge_w)
        y = self.y
        air, charge, battery_c = y[m.at["air"]].tolist(), y[self.one("charge")], y[self.one("battery")]
        now.charger_w = 0.0
        if hooked:
            asked = m.loads_w(air, [0.0] * m.n) + heater.standby_w + m.fan_w[-1] + float(line.extract_fan_w[h])
            asked += m.acceptance_a(charge, battery_c) * battery.nominal_v
            most = min(asked, power.mains_charger_a * battery.nominal_v)
            now.charger_w = min(budget, most / power.mains_charger_efficiency_share)
        now.element, now.air_cap = 0.0, m.carried_w(air[m.living])
        if hooked and running and line.fuel[h] > 0:
            now.element = max(
                [w for w in heater.electric_w if w <= min(budget - now.charger_w, now.air_cap)], default=0.0
            )
        now.beside = now.element > 0.0
        self.open_gas(running and not (line.fuel[h] == 1 and hooked), air[m.sensor])

    def can_give_kg(self, k: int) -> float:
        """Most that a bottle gives in a quarter: its contents, and the steady rate that just chills it to its limit."""
        m, y = self.m, self.y
        c, a, b = (float(y[self.one(x, k)]) for x in ("cold", "propane", "butane"))
        if a + b <= EMPTY_KG:
            return 0.0
        limit = coldest_c(m.now.pressure + self.van.gas.regulator_need_bar * 1e5, a, b)
        around = m.now.out_c
        if self.share > 0.0:
            around += self.share * (y[self.one("air", m.names.index(self.van.gas.locker_zone))] - m.now.out_c)
        g = m.wall_g(k, a + b)
        turns = g * QUARTER_S / (m.bottles[k].tare_kg * 480.0 + 2450.0 * (a + b))
        above = around + (c - around) * math.exp(-turns) - limit
        rich = a * PROPANE.pa(c) / (a * PROPANE.pa(c) + b * BUTANE.pa(c))
        latent = rich * PROPANE.latent_j_per_kg(c) + (1.0 - rich) * BUTANE.latent_j_per_kg(c)
        return min(a + b - EMPTY_KG, max(0.0, g * QUARTER_S * above / (1.0 - math.exp(-turns)) / latent))

    def open_gas(self, heats: bool, sensor_c: float) -> None:
        m, now, heater, h = self.m, self.m.now, self.van.heater, self.m.now.h
        thin = 1.0 if heater.altitude_compensated else min(1.0, now.pressure / 101_325.0)
        rated, lowest = heater.stages[-1].output_w * thin, min(m.efficiency)
        hob = float(self.line.cooking_gas_kg[h]) / 4.0
        fridge = now.fridge_kg_per_s * QUARTER_S
        full = rated / lowest * QUARTER_S / PROPANE.heating_j_per_kg
        set_aside = 2.0 * heater.start_loss_kj * 1000.0 / BUTANE.heating_j_per_kg
        least = 0.6 * m.outputs[0] * QUARTER_S / lowest / 0.99 / BUTANE.heating_j_per_kg + set_aside
        half = 0.5 * (hob + fridge)
        enough = half
        if heats:
            enough = half = max(half + 0.25 * full, hob + fridge + 1.001 * least)
            if now.set_c - sensor_c > 1.0:
                enough = max(half, hob + fridge + full)
        can = [self.can_give_kg(k) for k in range(len(m.bottles))]
        if self.van.gas.changeover == "parallel":
            hand = sum(can)
            now.feeds = [c / hand if hand > 0.0 else 0.0 for c in can]
        else:
            awake = self.line.awake[h] > 0.0 and self.line.inside[h]
            automatic = self.van.gas.changeover == "automatic"
            left = self.y[self.one("propane", self.feeding)] + self.y[self.one("butane", self.feeding)]
            leave = half if can[self.feeding] >= left - EMPTY_KG else enough
            if can[self.feeding] < leave and (automatic or awake):
                others = [(self.feeding + step) % len(can) for step in range(1, len(can))]
                fit = [k for k in others if can[k] >= enough]
                most = max([self.feeding, *others], key=lambda k: can[k])
                if fit:
                    self.feeding = fit[0]
                elif automatic or can[most] > 2.0 * can[self.feeding]:
                    self.feeding = most
            hand = can[self.feeding]
            now.feeds = [1.0 if k == self.feeding else 0.0 for k in range(len(can))]
        hand = min(hand, self.van.gas.regulator_kg_per_h / 4.0)
        hob = min(hob, hand)
        fridge = min(fridge, hand - hob)
        now.hob_kg_per_s, now.fridge_kg_per_s = hob / QUARTER_S, fridge / QUARTER_S
        spare = hand - hob - fridge - set_aside
        now.cap = min(rated, 0.99 * spare * BUTANE.heating_j_per_kg * lowest / QUARTER_S) if heats else 0.0
        if now.cap < 0.6 * m.outputs[0]:
            now.cap = 0.0

    # --- thermostats

    def levels(self) -> tuple[list[tuple[float, int, int]], list[tuple[float, int]]]:
        """Where the flame changes: sensor level, direction, new flame; and the boiler's call: level, direction."""
        m, now, heater = self.m, self.m.now, self.van.heater
        air: list[tuple[float, int, int]] = []
        if now.cap > 0.0 and not math.isnan(now.set_c):
            d, modulates = heater.differential_k, heater.control == "modulating"
            light = now.set_c - d
            half = 0.5 * heater.band_k
            above = half if now.beside else (max(d, half) if modulates else d)
            out = now.set_c + above
            if m.flame == 0:
                if self.since >= heater.min_off_s - 1e-6:
                    air.append((light, -1, 1))
            elif modulates:
                if self.since >= heater.min_on_s - 1e-6:
                    air.append((out, 1, 0))
            else:
                if m.flame > 1 or self.since >= heater.min_on_s - 1e-6:
                    air.append((out - d * (m.flame - 1), 1, m.flame - 1))
                if m.flame < len(m.outputs):
                    air.append((light - d * m.flame, -1, m.flame + 1))
        boiler: list[tuple[float, int]] = []
        if not math.isnan(now.water_c) and (now.cap > 0.0 or now.element > 0.0):
            low = now.water_c - self.van.water.boiler.hysteresis_k
            boiler.append((now.water_c, 1) if m.call else (low, -1))
        return air, boiler

    def switch(self) -> None:
        m, now = self.m, self.m.now
        sense, boiler_c = self.y[self.one("air", m.sensor)], self.y[self.one("water", BOILER)]
        if not now.cap > 0.0 or math.isnan(now.set_c):
            if m.flame:
                self.since = 0.0
            m.flame = 0
        content = False
        while not content:
            content = True
            for level, direction, new in self.levels()[0]:
                if direction * (sense - level) >= -NUDGE_K:
                    if (new == 0) != (m.flame == 0):
                        self.since = 0.0
                    m.flame, content = new, False
                    break
        if math.isnan(now.water_c) or (now.cap <= 0.0 and now.element <= 0.0):
            m.call = False
        for level, direction in self.levels()[1]:
            if direction * (boiler_c - level) >= -NUDGE_K:
                m.call = not m.call
        room_gas, _, tank_gas, _ = m.heater_w(sense)
        if room_gas + tank_gas > 0.0:
            if not self.burning:
                self.starts += 1
                self.y[self.one("fuel")] += self.van.heater.start_loss_kj * 1000.0
                self.take_start_gas()
            self.burning, m.run_on = True, self.van.heater.run_on_s
        else:
            self.burning = False

    def take_start_gas(self) -> None:
        """The gas of purge and exchanger at a start, from the bottle that feeds."""
        kg = self.van.heater.start_loss_kj * 1000.0 / PROPANE.heating_j_per_kg
        for k, share in enumerate(self.m.now.feeds):
            i, j = self.one("propane", k), self.one("butane", k)
            whole = self.y[i] + self.y[j]
            if whole > kg * share:
                left = 1.0 - kg * share / whole
                self.y[i] *= left
                self.y[j] *= left

    # --- the solver between two moments

    def advance(self, end_s: float) -> None:
        m = self.m
        while self.t < end_s - 1e-6:
            m.steaming = [s for s in m.steaming if s[2] > self.t + 1e-6]
            self.switch()
            stop = min([end_s, *(s[2] for s in m.steaming)])
            heater = self.van.heater
            least = heater.min_on_s if m.flame else heater.min_off_s
            if self.since < least - 1e-6:
                stop = min(stop, self.t + least - self.since)
            if m.run_on > 0.0 and not self.burning:
                stop = min(stop, self.t + m.run_on)
            before = self.t
            self.solve(max(stop, self.t + 1e-3))
            self.since += self.t - before
            if not self.burning:
                m.run_on = max(0.0, m.run_on - (self.t - before))
                if m.run_on < 1e-6:
                    m.run_on = 0.0

    def locked_ah(self, share: float) -> float:
        """Charge at which a share of what the battery's temperature leaves is left."""
        battery, cold = self.van.power.battery, float(self.y[self.one("battery")])
        if battery.chemistry == "lifepo4":
            kept = max(0.5, float(np.interp(cold, [-40.0, 0.0, 25.0], [0.515, 0.885, 1.0])))
        else:
            kept = min(1.0, max(0.4, 1.0 - 0.01 * (25.0 - cold)))
        return battery.capacity_ah * (1.0 - kept * (1.0 - share))

    def solve(self, stop: float) -> None:
        m, battery = self.m, self.van.power.battery
        air, boiler = self.levels()
        watched = [(self.one("air", m.sensor), level, direction) for level, direction, _ in air]
        watched += [(self.one("water", BOILER), level, direction) for level, direction in boiler]
        locked = self.locked_ah(battery.cut_out_share)
        if not m.cut_out and self.y[self.one("charge")] > locked:
            watched.append((self.one("charge"), locked, -1))
        solver = RK45(
            m.rates, self.t, self.y, stop, max_step=120.0, rtol=1e-6, atol=m.atol,
            first_step=min(self.step_s, stop - self.t),
        )  # fmt: skip
        while solver.status == "running":
            solver.step()
            if solver.status == "failed":
                raise ArithmeticError("the second model's solver did not advance")
            crossed = [(i, v) for i, v, d in watched if d * (solver.y[i] - v) > 0.0]
            if crossed:
                dense, times = solver.dense_output(), []
                for i, v in crossed:
                    low = float(solver.t_old)
                    if (dense(low)[i] - v) * (solver.y[i] - v) >= 0.0:
                        times.append(low)
                        continue
                    times.append(float(brentq(_above, low, float(solver.t), args=(dense, i, v), xtol=1e-6)))
                self.t = max(min(times), self.t + 1e-3)
                self.y = np.array(dense(self.t))
                if crossed[times.index(min(times))][0] == self.one("charge"):
                    m.cut_out = True  # loads stop at once, the heater with the quarter
                return
            if solver.t < stop:
                self.step_s = max(1.0, float(solver.step_size))
        self.t, self.y = float(solver.t), np.array(solver.y)

    def end_quarter(self, fan_before_j: float, h: int) -> None:
        m, y, battery, power = self.m, self.y, self.van.power.battery, self.van.power
        volts = battery.nominal_v
        pump_ah = self.pumped_l / power.pump_l_per_min / 60.0 * power.pump_w / volts
        self.pumped_l = 0.0
        y[self.one("charge")] -= pump_ah
        used_ah = pump_ah + (y[self.one("fan")] - fan_before_j) / 3600.0 / volts
        if not m.cut_out:
            steady_w = m.loads_w(y[m.at["air"]].tolist(), [0.0] * m.n) + float(self.line.extract_fan_w[h])
            steady_w += self.van.heater.standby_w if self.line.heater_allowed[h] else 0.0
            used_ah += steady_w / volts / 4.0
        locked = self.locked_ah(battery.cut_out_share)
        back = self.locked_ah(max(battery.reconnect_share, battery.cut_out_share))
        offered = power.alternator_a * float(self.line.alternator[h])
        offered += min(power.mains_charger_a, self.line.hookup_w[h] * power.mains_charger_efficiency_share / volts)
        fed = offered >= 5.0 and used_ah <= offered / 4.0
        charge = float(y[self.one("charge")])
        if charge <= locked and not fed:
            m.cut_out = True
        elif fed or charge >= back:
            m.cut_out = False
        valve = self.van.water.drain_valve
        if valve is not None and not self.valve_open and self.floor_c() < valve.opens_c:
            self.valve_open = True
        if self.valve_open:
            self.pour(BOILER, -max(0.0, m.litres[BOILER] - self.ice_kg(BOILER)), 0.0)


def _above(t: float, dense: Any, i: int, level: float) -> float:
    return float(dense(t)[i] - level)


def march(model: Any, hours: int) -> Any:
    """Go through the first hours of the tour."""
    from second_model import Told

    clock, at = Clock(model), model.at
    told = Told(np.zeros((hours, model.n)), *(np.zeros(hours) for _ in range(4)), np.zeros(model.n))
    for h in range(hours):
        clock.begin_hour(h)
        before = clock.y.copy()
        for q in range(4):
            end_s = h * 3600.0 + (q + 1) * QUARTER_S
            fan_j = float(clock.y[at["fan"].start])
            clock.allow(q)
            while clock.draw < len(clock.line.draw_s) and clock.line.draw_s[clock.draw] < end_s:
                clock.advance(float(clock.line.draw_s[clock.draw]))
                clock.take_shower(clock.draw)
                clock.draw += 1
            clock.advance(end_s)
            clock.end_quarter(fan_j, h)
        gone = clock.y - before
        told.air_c[h] = gone[at["sum"]] / 3600.0
        told.fuel_kg[h] = gone[at["fuel"].start] / PROPANE.heating_j_per_kg
        told.fan_ah[h] = gone[at["fan"].start] / 3600.0 / model.van.power.battery.nominal_v
        told.electric_kwh[h] = gone[at["element"].start] / 3.6e6
        told.charge_share[h] = clock.y[at["charge"].start] / model.van.power.battery.capacity_ah
    told.end_c = clock.y[at["air"]].copy()
    told.starts = float(clock.starts)
    return told
