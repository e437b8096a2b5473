"""A second model of a van on its tour, plain and slow, for tests only: one set of ordinary differential equations.

scipy's adaptive Runge-Kutta method of order 5(4) solves air, lining, vapour, water, bottles, battery and what lies wet
together, without the engine's renewal of slow parts at fixed times; it stops where a thermostat switches (a root of
its dense output). Nothing is taken from budget.engine, budget.physics or budget.weather.sun (see second_van.py). What
people decide by rule (swap, changeover, drain valve, cut-out, which electric element) is decided at quarter hours, as
described to the user. Left out: the battery's heating pad.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

import numpy as np
from scipy.optimize import brentq
from second_van import (
    BUTANE,
    CP_AIR,
    CP_WATER,
    PROPANE,
    cold_surfaces,
    over_water_pa,
    ratio_of,
    saturation_pa,
    shell,
    sun_on,
    warm_air,
)

LATENT_J_PER_KG = 2.501e6  # of water at 0 °C
FUSION_J_PER_KG = 334.0e3
LEWIS = 0.865 ** (2.0 / 3.0)  # water vapour in air; ASHRAE Fundamentals, chapter 6
SHELL = {"boiler": 2000.0, "fresh": 4000.0, "waste": 4000.0, "pipes": 500.0}  # J/K
BOILER, FRESH, WASTE, PIPES = range(4)
MIST_S = 30.0  # what air cannot hold settles as fast; a choice
LIQUID_J_PER_KGK, STEEL_J_PER_KGK = 2450.0, 480.0


def line(x: float, xs: list[float], ys: list[float]) -> float:
    if x <= xs[0]:
        return ys[0]
    for k in range(1, len(xs)):
        if x < xs[k]:
            return ys[k - 1] + (x - xs[k - 1]) / (xs[k] - xs[k - 1]) * (ys[k] - ys[k - 1])
    return ys[-1]


@dataclass
class Told:
    """What the second model tells by the hour, the zones at the end, and the burner's starts."""

    air_c: np.ndarray
    fuel_kg: np.ndarray
    fan_ah: np.ndarray
    electric_kwh: np.ndarray
    charge_share: np.ndarray
    end_c: np.ndarray
    starts: float = 0.0


class SecondModel:
    """State and laws; ``run`` goes through the first hours of a tour made ready."""

    def __init__(self, prepared: Any) -> None:
        van, self.line, self.frame = prepared.van, prepared.timeline, prepared.weather.frame
        self.van, self.zones = van, van.cabin.zones
        names = [z.name for z in self.zones]
        self.names = names
        self.n, self.bottles = len(names), van.gas.bottles
        self.sensor = names.index(van.heater.sensor_zone)
        self.living = names.index("living") if "living" in names else self.sensor
        self.wet = names.index("wet_room") if "wet_room" in names else self.living
        self.cab = names.index("cab") if "cab" in names else -1
        self.faces = sun_on(van, self.line, self.frame)
        self.surfaces = [(z, *s) for z, zone in enumerate(self.zones) for s in cold_surfaces(zone)]
        self.blower = warm_air(van)
        self.runs = [
            (names.index(r.zone), names.index(r.runs_through) if r.runs_through in names else -1, r.loss_w_per_k)
            for r in van.ducts
            if r.open_share > 0.0
        ]
        self.outputs = [s.output_w for s in van.heater.stages]
        self.efficiency = [s.efficiency_share for s in van.heater.stages]
        self.load_zone = [names.index(load.zone) if load.zone in names else -1 for load in van.power.loads]
        self.load_share = [self.line.load_share(load) for load in van.power.loads]
        self.doors = [tuple(names.index(x) for x in o.between) for o in van.cabin.openings]
        self.exchange = self.line.exchange_open([b.name for b in self.bottles])
        n, b = self.n, len(self.bottles)
        sizes = {"air": n, "lining": n, "ratio": n, "water": 4, "battery": 1, "cold": b, "propane": b, "butane": b,
                 "wet": len(self.surfaces), "kit": n, "charge": 1,
                 "fuel": 1, "fan": 1, "element": 1, "sum": n}  # fmt: skip
        self.at, start = {}, 0
        for name, size in sizes.items():
            self.at[name] = slice(start, start + size)
            start += size
        self.width = start
        fine = {"ratio": 1e-6, "wet": 1e-4, "kit": 1e-4, "propane": 1e-4, "butane": 1e-4, "charge": 1e-3,
                "fuel": 1e4, "fan": 1e2, "element": 1e4, "sum": 10.0}  # fmt: skip
        self.atol = np.full(self.width, 1e-4)
        for name, value in fine.items():
            self.atol[self.at[name]] = value

    # --- the hour's surroundings

    def surroundings(self, h: int) -> SimpleNamespace:
        row, line_, n = self.frame.iloc[h], self.line, self.n
        now = SimpleNamespace(h=h, out_c=float(row.temp_air), pressure=float(row.pressure))
        thin = now.pressure / 101_325.0  # a fan moves the same volume: mass and the air's part of its power go with it
        blower = self.blower
        self.fan_w = [fixed + thin * moved for fixed, moved in zip(blower.fixed_w, blower.air_w, strict=True)]
        self.run_w_per_k = [[thin * m for m in stage] for stage in blower.run_w_per_k]
        self.total_w_per_k = [thin * m for m in blower.total_w_per_k]
        now.rho = now.pressure / (287.05 * (now.out_c + 273.15))
        now.wind = max(float(row.wind_speed) * line_.wind_factor[h], line_.speed_m_per_s[h])
        damp = ratio_of(float(row.relative_humidity) / 100.0 * over_water_pa(now.out_c), now.pressure)
        now.w_out = min(damp, ratio_of(saturation_pa(now.out_c), now.pressure))
        now.screens = float(line_.screens[h])
        sun = {face: float(values[h]) for face, values in self.faces.items()}
        sky_k = max(0.0, now.out_c - float(row.temp_sky))
        parts = [shell(zone, sun, now.screens, now.wind, sky_k) for zone in self.zones]
        now.air_g, now.lining_g, now.gain, now.lining_w = ([p[k] for p in parts] for k in range(4))
        now.panel_w = sun["panel"] * self.van.power.solar.kept_share * self.van.power.solar.charger_efficiency_share
        now.panel_w *= line_.solar_factor[h]
        now.factor = [bare + now.screens * (screened - bare) for _, _, bare, screened in self.surfaces]
        now.source = [0.0] * n
        if line_.awake[h] + line_.asleep[h] > 0.0 or line_.people_w[h] > 0.0:
            z = self.cab if line_.moving[h] == 1 and self.cab >= 0 else self.living
            grams = float(line_.people_vapour_g_per_h[h])
            now.source[z] += grams / 3.6e6
            now.gain[z] += max(0.0, float(line_.people_w[h]) - 0.68 * grams)
        kept = 1.0 - float(line_.cooking_vented_share[h])
        now.kept = kept
        now.steam = float(line_.cooking_steam_g[h]) / 3.6e6 * kept
        now.cooking_w = min(float(line_.cooking_electric_w[h]), float(line_.hookup_w[h]))
        now.gain[self.living] += now.cooking_w * kept
        now.extract = float(line_.extract_m3_per_h[h]) * 1.25 / 3600.0
        now.drive_c = line_.drive_cab_c if line_.moving[h] == 1 and self.cab >= 0 else None
        now.door = float(line_.door_air_changes[h]) * self.zones[self.living].air_m3 if line_.moving[h] == 0 else 0.0
        now.roof_cm2 = float(line_.rooflight_cm2[h])
        now.closed = [float(line_.closed[h, d]) for d in range(len(self.doors))]
        return now

    # --- the differential equations

    def heater_w(self, sense: float) -> tuple[float, float, float, float]:
        """Gas and element into the air, gas and element into the boiler, at a sensor temperature. [W]"""
        heater, now = self.van.heater, self.now
        tank_el = min(heater.water_w, now.element) if self.call else 0.0
        tank_gas = min(heater.water_w, now.cap) if self.call and tank_el <= 0.0 else 0.0
        room_gas = room_el = 0.0
        if not math.isnan(now.set_c):
            # with gas beside it the element gives all it can up to the setpoint, and gas burns only below that
            full_c = now.set_c - (0.0 if now.cap > 0.0 else 0.5 * heater.band_k)
            room_el = (now.element - tank_el) * min(1.0, max(0.0, 1.0 - (sense - full_c) / heater.band_k))
            if self.flame > 0 and now.cap > 0.0:
                if heater.priority == "air":
                    tank_gas = max(0.0, min(tank_gas, now.cap - self.asked_w(sense, now.cap)))
                room_gas = self.asked_w(sense, min(now.cap - tank_gas, now.air_cap - (now.element - tank_el)))
        return room_gas, room_el, tank_gas, tank_el

    def asked_w(self, sense: float, high: float) -> float:
        if self.van.heater.control == "staged":
            return min(high, self.outputs[self.flame - 1])
        low = self.outputs[0]
        if high <= low:
            return high
        middle_c = self.now.set_c - (0.5 * self.van.heater.band_k if self.now.beside else 0.0)
        return min(high, max(low, low + (high - low) * ((middle_c - sense) / self.van.heater.band_k + 0.5)))

    def carried_w(self, back_c: float) -> float:
        """Greatest heat to the air that leaves no hotter than the guard allows; without end at full output. [W]"""
        above = self.van.heater.supply_limit_c - back_c

        def spare(watts: float) -> float:
            carried = line(watts, self.outputs, self.total_w_per_k) * above
            return carried - line(watts, self.outputs, self.fan_w) - watts

        if spare(self.outputs[-1]) >= 0.0:
            return math.inf
        if spare(self.outputs[0]) < 0.0:
            return max(0.0, self.total_w_per_k[0] * above - self.fan_w[0])
        return float(brentq(spare, self.outputs[0], self.outputs[-1]))

    def rates(self, _t: float, state: np.ndarray) -> list[float]:
        y, at, n, now, van, line_ = state.tolist(), self.at, self.n, self.now, self.van, self.line
        air = [min(120.0, max(-90.0, c)) for c in y[:n]]  # a trial step may leave the range of the laws
        lining, ratio = y[n : 2 * n], [min(0.5, max(0.0, w)) for w in y[2 * n : 3 * n]]
        pressure, out_c, w_out = now.pressure, now.out_c, now.w_out
        heat, vapour = list(now.gain), [a + b for a, b in zip(now.source, self.shower(), strict=True)]
        powered = not self.cut_out
        load_w = self.loads_w(air, heat)
        # hob
        hob = now.hob_kg_per_s
        vapour[self.living] += hob * now.kept * PROPANE.water + now.steam
        heat[self.living] += max(0.0, hob * now.kept * PROPANE.heating_j_per_kg - now.steam * LATENT_J_PER_KG)
        # heater, fan and ducts
        sense = air[self.sensor]
        room_gas, room_el, tank_gas, tank_el = self.heater_w(sense)
        room = room_gas + room_el
        if room > 0.0:
            fan_w = line(room, self.outputs, self.fan_w)
        elif tank_gas > 0.0:
            fan_w = 0.3 * self.fan_w[0]
        else:
            fan_w = self.fan_w[0] if self.run_on > 0.0 else 0.0
        fired = room_gas + tank_gas
        fuel_w = fired / line(fired, self.outputs, self.efficiency) if fired > 0.0 else 0.0
        if room > 0.0 and self.runs:
            back = air[self.living]
            m = [line(room, self.outputs, [s[r] for s in self.run_w_per_k]) for r in range(len(self.runs))]
            hot = back + (room + fan_w) / sum(m)
            for (z, past, loss), mcp in zip(self.runs, m, strict=True):
                around = air[past] if past >= 0 else out_c
                outlet = around + (hot - around) * math.exp(-loss / mcp)
                heat[z] += mcp * (outlet - air[z])
                heat[self.living] += mcp * (air[z] - back)
                if past >= 0:
                    heat[past] += mcp * (hot - outlet)
                vapour[z] += mcp / CP_AIR * (ratio[self.living] - ratio[z])
                vapour[self.living] += mcp / CP_AIR * (ratio[z] - ratio[self.living])
        elif room > 0.0:
            heat[self.sensor] += room + fan_w
        else:
            heat[self.living] += fan_w
        if now.drive_c is not None:
            heat[self.cab] += max(0.0, min(3000.0, 150.0 * (now.drive_c - air[self.cab])))
        # air from outdoors, between zones and through the extract
        wind2 = now.wind * now.wind
        for z, zone in enumerate(self.zones):
            dt, warm = abs(air[z] - out_c), air[z] + 273.15
            kg = zone.leakage_cm2 * math.sqrt(0.000145 * dt + 0.000319 * wind2) / 1000.0 * now.rho
            low, high = zone.vent_low_cm2 / 1e4, zone.vent_high_cm2 / 1e4
            if z == self.living:
                high += now.roof_cm2 / 1e4
                kg += now.door / 3600.0 * now.rho
            if low + high > 0.0:
                through = 0.6 * low * high / math.hypot(low, high)
                stack = 2.0 * 9.80665 * zone.vent_height_m * dt / warm
                still = 0.025 * (low + high)
                kg += math.sqrt(through**2 * (stack + 0.3 * wind2) + still**2 * wind2) * pressure / (287.05 * warm)
            heat[z] += (now.air_g[z] + kg * CP_AIR) * (out_c - air[z])
            vapour[z] += kg * (w_out - ratio[z])
        for (a, b), opening, closed in zip(self.doors, van.cabin.openings, now.closed, strict=True):
            kg = opening.closed_m3_per_h * now.rho / 3600.0
            if closed < 1.0 and opening.width_m > 0.0:
                dt = math.hypot(air[a] - air[b], 0.3)
                speed = math.sqrt(9.80665 * dt / (0.5 * (air[a] + air[b]) + 273.15))
                wide = (0.4 + 0.0045 * dt) / 3.0 * opening.width_m * speed * opening.height_m**1.5 * now.rho
                kg += (1.0 - closed) * wide
            watts = (opening.closed_w_per_k + kg * CP_AIR) * (air[b] - air[a])
            heat[a] += watts
            heat[b] -= watts
            vapour[a] += kg * (ratio[b] - ratio[a])
            vapour[b] += kg * (ratio[a] - ratio[b])
        if now.extract > 0.0 and powered:
            heat[self.living] += now.extract * CP_AIR * (out_c - air[self.living])
            vapour[self.living] += now.extract * (w_out - ratio[self.living])
            if self.wet != self.living:
                heat[self.wet] += now.extract * CP_AIR * (air[self.living] - air[self.wet])
                vapour[self.wet] += now.extract * (ratio[self.living] - ratio[self.wet])
        # surfaces and wet kit
        wet_rate = []
        seen = -1
        for k, (z, area, _, _) in enumerate(self.surfaces):
            pane = ratio_of(saturation_pa(out_c + now.factor[k] * (air[z] - out_c)), pressure)
            rate = 3.0 / (CP_AIR * LEWIS) * area * (ratio[z] - pane)
            if rate < 0.0:
                rate *= min(1.0, max(0.0, y[at["wet"].start + k]) / (1e-4 * area))
            if z != seen:
                over = ratio[z] - ratio_of(saturation_pa(air[z]), pressure)
                rate += max(0.0, over) * self.zones[z].air_m3 * 1.2 / MIST_S
                seen = z
            wet_rate.append(rate)
            vapour[z] -= rate
            heat[z] += rate * LATENT_J_PER_KG
        kit_rate = [0.0] * n
        for z in range(n):
            kg = y[at["kit"].start + z]
            if kg > 0.0:
                cloth = 4.0 / (CP_AIR * LEWIS) * self.kit_m2[z] * min(1.0, kg / (0.3 * self.kit0[z]))
                kit_rate[z] = -min(cloth * self.drying_drive(air[z], ratio[z]), kg / 1.0)
                vapour[z] -= kit_rate[z]
                heat[z] += kit_rate[z] * LATENT_J_PER_KG
        # water, battery
        c = [self.warmth(k, y[at["water"].start + k]) for k in range(4)]
        held = self.held()
        to = [0.0] * 4
        water = van.water
        for k, part, g in ((BOILER, water.boiler, water.boiler.standing_loss_w / 40.0),
                           (FRESH, water.fresh, water.fresh.coupling_w_per_k),
                           (WASTE, water.waste, water.waste.coupling_w_per_k)):  # fmt: skip
            to[k] += self.pass_to(part.zone, g, c[k], air, heat)
        colder = self.zones[self.names.index(water.pipes.zone)].floor_colder_share
        g = water.pipes.coupling_w_per_k
        to[PIPES] += self.pass_to(water.pipes.zone, g * (1.0 - colder), c[PIPES], air, heat)
        to[PIPES] += (g * colder + water.pipes.outdoor_w_per_k) * (out_c - c[PIPES])
        to[BOILER] += tank_gas + tank_el
        battery = van.power.battery
        battery_c = y[at["battery"].start]
        battery_rate = self.pass_to(battery.zone, battery.coupling_w_per_k, battery_c, air, heat)
        # gas
        bottle_rates = self.bottle_rates(y, fuel_w, hob + now.fridge_kg_per_s, air, heat)
        # charge
        volts = battery.nominal_v
        used_w = fan_w + load_w + (van.heater.standby_w if powered and line_.heater_allowed[now.h] else 0.0)
        used_w += line_.extract_fan_w[now.h] if powered else 0.0
        charge_rate = self.charge_rate(y[at["charge"].start], battery_c, used_w / volts)
        out = [
            (heat[z] - zone.fabric_coupling_w_per_k * (air[z] - lining[z])) / zone.air_capacity_j_per_k
            for z, zone in enumerate(self.zones)
        ]
        out += [
            (
                zone.fabric_coupling_w_per_k * (air[z] - lining[z])
                + now.lining_w[z]
                + now.lining_g[z] * (out_c - lining[z])
            )
            / zone.fabric_capacity_j_per_k
            for z, zone in enumerate(self.zones)
        ]
        out += [vapour[z] / (zone.air_m3 * 1.2) for z, zone in enumerate(self.zones)]
        out += [to[k] / held[k] for k in range(4)]
        out += [battery_rate / battery.heat_capacity_j_per_k, *bottle_rates, *wet_rate, *kit_rate, charge_rate]
        return [*out, fuel_w, fan_w, room_el + tank_el, *air]

    def loads_w(self, air: list[float], heat: list[float]) -> float:
        """What the 12 V loads draw now; their heat is added to their zones. [W]"""
        drawn = 0.0
        for k, load in enumerate(self.van.power.loads):
            z, duty = self.load_zone[k], load.duty_share
            if load.duty_per_k > 0.0:
                around = air[z] if z >= 0 else self.now.out_c
                duty = min(1.0, max(0.0, duty * (1.0 + load.duty_per_k * (around - 20.0))))
            watts = 0.0 if self.cut_out else load.power_w * duty * float(self.load_share[k][self.now.h])
            drawn += watts
            if z >= 0:
                heat[z] += watts
        return drawn

    def pass_to(self, name: str, g: float, node_c: float, air: list[float], heat: list[float]) -> float:
        """Heat that a node takes from its zone, or from outdoors. [W]"""
        if name not in self.names:
            return g * (self.now.out_c - node_c)
        z = self.names.index(name)
        heat[z] -= g * (air[z] - node_c)
        return g * (air[z] - node_c)

    def drying_drive(self, air_c: float, ratio: float) -> float:
        """Difference of humidity ratios between cloth at its wet bulb and the air, by Newton. [kg/kg]"""
        if ratio >= ratio_of(saturation_pa(air_c), self.now.pressure):
            return 0.0
        lift = LATENT_J_PER_KG / (CP_AIR * LEWIS)
        cloth = air_c
        for _ in range(4):
            here = ratio_of(saturation_pa(cloth), self.now.pressure)
            slope = (ratio_of(saturation_pa(cloth + 0.01), self.now.pressure) - here) / 0.01
            cloth = max(-90.0, cloth - (lift * (here - ratio) - (air_c - cloth)) / (1.0 + lift * slope))
        return (air_c - cloth) / lift

    def held(self) -> list[float]:
        """Heat capacity of each water node. [J/K]"""
        return [s + CP_WATER * kg for s, kg in zip(SHELL.values(), self.litres, strict=True)]

    def warmth(self, k: int, e_k: float) -> float:
        """Temperature of a water node from its enthalpy over its capacity: freezing takes its time at 0 °C. [°C]"""
        if e_k >= 0.0:
            return e_k
        return min(0.0, e_k + FUSION_J_PER_KG * self.litres[k] / self.held()[k])

    def shower(self) -> list[float]:
        rates = [0.0] * self.n
        for z, rate, _ in self.steaming:
            rates[z] += rate
        return rates

    # --- gas and charge

    def wall_g(self, k: int, kg: float) -> float:
        """Heat that reaches a bottle's liquid: bottom, wetted wall and 5 cm of dry wall. [W/K]"""
        if kg <= 0.0:
            return 0.0
        d = self.bottles[k].diameter_m
        bottom = 0.25 * math.pi * d * d
        return 8.0 * (bottom + math.pi * d * (kg / 510.0 / bottom + 0.05))

    def bottle_rates(
        self, y: list[float], fuel_w: float, open_kg_per_s: float, air: list[float], heat: list[float]
    ) -> list[float]:
        at, gas = self.at, self.van.gas
        colds, propanes, butanes = y[at["cold"]], y[at["propane"]], y[at["butane"]]
        rates: list[list[float]] = [[], [], []]
        shares = [0.0] * len(colds)
        for k, (c, a, b) in enumerate(zip(colds, propanes, butanes, strict=True)):
            if self.now.feeds[k] > 0.0 and a + b > 0.0:
                rich = 1.0
                if b > 1e-9:
                    rich = max(a, 0.0) * PROPANE.pa(c)
                    rich /= rich + b * BUTANE.pa(c)
                shares[k] = rich
        content = sum(
            f * (s * PROPANE.heating_j_per_kg + (1.0 - s) * BUTANE.heating_j_per_kg)
            for f, s in zip(self.now.feeds, shares, strict=True)
        )
        drawn = open_kg_per_s + (fuel_w / content if content > 0.0 else 0.0)
        for k, (c, a, b) in enumerate(zip(colds, propanes, butanes, strict=True)):
            g, warmer = self.wall_g(k, a + b), gas.locker_warmer_share if gas.locker_zone in self.names else 0.0
            watts = self.pass_to(gas.locker_zone, g * warmer, c, air, heat) if warmer > 0.0 else 0.0
            watts += g * (1.0 - warmer) * (self.now.out_c - c)
            out = drawn * self.now.feeds[k]
            latent = 0.0
            if out > 0.0:
                latent = shares[k] * PROPANE.latent_j_per_kg(c) + (1.0 - shares[k]) * BUTANE.latent_j_per_kg(c)
            capacity = self.bottles[k].tare_kg * STEEL_J_PER_KGK + LIQUID_J_PER_KGK * (a + b)
            rates[0].append((watts - out * latent) / capacity)
            rates[1].append(-out * shares[k])
            rates[2].append(-out * (1.0 - shares[k]))
        return rates[0] + rates[1] + rates[2]

    def acceptance_a(self, charge: float, battery_c: float) -> float:
        """Charge current that the battery takes. [A]"""
        battery = self.van.power.battery
        room = 1.0 - charge / battery.capacity_ah
        if battery.chemistry == "lifepo4":
            warm = 0.0 if battery_c <= 0.0 else 0.2 if battery_c < 5.0 else 1.0
            return battery.max_charge_a * warm * min(1.0, max(0.0, room / 0.05))
        warm = min(1.0, max(0.2, 0.5 + 0.025 * battery_c))
        return battery.max_charge_a * warm * min(1.0, max(0.0, room / 0.2))

    def charge_rate(self, charge: float, battery_c: float, used_a: float) -> float:
        """Change of charge by sun, alternator and mains; the loads come first. [Ah/s]"""
        battery, power, now = self.van.power.battery, self.van.power, self.now
        room_a = used_a + self.acceptance_a(charge, battery_c)
        offered = now.panel_w / battery.nominal_v + power.alternator_a * self.line.alternator[now.h]
        offered += min(power.mains_charger_a, now.charger_w * power.mains_charger_efficiency_share / battery.nominal_v)
        net = min(offered, room_a) - used_a
        if net >= 0.0:
            return net * battery.charge_efficiency_share / 3600.0
        relative = -net * 20.0 / battery.capacity_ah
        return net * (relative ** (battery.peukert_factor - 1.0) if relative > 1.0 else 1.0) / 3600.0

    def run(self, hours: int) -> Told:
        from second_control import march

        return march(self, hours)
