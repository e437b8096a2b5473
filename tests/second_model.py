"""A second model of the demo van, plain and slow, for tests only: explicit steps of five seconds in bare Python.

It shares no code with budget.engine or budget.physics; constants and laws are written down again from their sources.
It takes what a person described (the van's numbers, the tour by the hour, the weather record and the irradiance on
each face) and the air flows of the duct runs, which have published checks of their own. Coupled here: air, lining and
vapour of every zone, doorways, cracks and vents, the extract fan, sun and sky, people, appliances, the hob, the duct
runs, the thermostat with its burner, elements and fan, boiler, tanks, pipes, showers, condensation and drying.
Left out: frost, the battery's charge with its cut-out, and what the bottles can give (the demo never meets them).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

STEP_S = 5.0
CP_AIR, CP_WATER = 1006.0, 4186.0  # J/kgK at 20 °C, handbook values
LATENT_J_PER_KG = 2.501e6  # of water at 0 °C
PROPANE_J_PER_KG = 46.34e6  # lower heating value (checks: chemicals)
PROPANE_LATENT_J_PER_KG = 375.0e3  # at 0 °C (CoolProp)
PROPANE_WATER_KG_PER_KG = 1.634  # atom balance
SKY_FILM = 0.9 * 4.0 * 5.670e-8 * 273.15**3  # ISO 6946 annex C
RSE = 0.04
LEWIS = 0.845 ** (2.0 / 3.0)  # Le of water vapour in air; ASHRAE Fundamentals chapter 6
WATER_ON_K, SHELL_BOILER, SHELL_TANK, SHELL_PIPES = 5.0, 2000.0, 4000.0, 500.0


def saturation_pa(temp_c: float) -> float:
    """Magnus form over water and ice (Alduchov and Eskridge 1996). [Pa]"""
    if temp_c >= 0.0:
        return 610.94 * math.exp(17.625 * temp_c / (243.04 + temp_c))
    return 611.21 * math.exp(22.587 * temp_c / (273.86 + temp_c))


def over_water_pa(temp_c: float) -> float:
    return 610.94 * math.exp(17.625 * temp_c / (243.04 + temp_c))


def ratio_of(vapour_pa: float, pressure_pa: float) -> float:
    return 0.622 * vapour_pa / (pressure_pa - vapour_pa)


def film(wind: float) -> float:
    return 4.0 + 4.0 * wind + SKY_FILM


def u_at(u: float, wind: float) -> float:
    return 1.0 / (max(1.0 / u - RSE, 0.0) + 1.0 / film(wind))


def line(x: float, xs: list[float], ys: list[float]) -> float:
    return float(np.interp(x, xs, ys))


@dataclass
class Told:
    """What the march of the second model tells."""

    air_c: np.ndarray
    fuel_kg: np.ndarray
    fan_ah: np.ndarray
    starts: float = 0.0
    electric_kwh: float = 0.0
    extra: dict[str, Any] = field(default_factory=dict)


class SecondModel:
    """State and laws; ``run`` goes through the first hours of a tour made ready."""

    def __init__(self, prepared: Any) -> None:
        self.van, self.line, self.built = prepared.van, prepared.timeline, prepared.built
        self.frame = prepared.weather.frame
        from budget.weather.sun import planes

        self.planes = planes(prepared.weather, self.line, self.van)
        self.zones = self.van.cabin.zones
        self.names = [z.name for z in self.zones]
        self.living = self.names.index("living")
        self.wet = self.names.index("wet_room") if "wet_room" in self.names else self.living
        self.cab = self.names.index("cab") if "cab" in self.names else -1
        self.pull = {"roof": [1.0 + z.roof_warmer_share for z in self.zones],
                     "floor": [1.0 - z.floor_colder_share for z in self.zones]}  # fmt: skip
        arrays = self.built.arrays[0]
        count = len(self.built.surface_names)
        self.surfaces = [
            (int(arrays.surface_zone[k]), float(arrays.surface_area_m2[k]), float(arrays.surface_factor[k]))
            for k in range(count)
        ]
        self.stages = [s.output_w for s in self.van.heater.stages]
        self.efficiency = [s.efficiency_share for s in self.van.heater.stages]

    def opaque_u(self, part: Any) -> float:
        if part.u_w_per_m2k is not None:
            return part.u_w_per_m2k
        inner = {"roof": 0.10, "floor": 0.17}.get(part.faces, 0.13)
        total = inner + RSE + sum(layer.thickness_m / layer.conductivity_w_per_mk for layer in part.layers)
        return part.ribs_factor / total

    def envelope(self, h: int, wind: float, sky_k: float) -> tuple[list[float], list[float], list[float], list[float]]:
        """By zone: W/K from air, W/K from lining, W into air, W into lining by sun and sky."""
        screens = self.line.screens[h]
        air_g, lining_g, air_w, lining_w = ([0.0] * len(self.zones) for _ in range(4))
        for z, zone in enumerate(self.zones):
            plain = [(p, self.opaque_u(p) * self.pull.get(p.faces, [1.0] * 9)[z]) for p in zone.opaque]
            whole = sum(p.area_m2 * u for p, u in plain)
            share = min(zone.fabric_loss_share, 0.6 * zone.fabric_coupling_w_per_k / max(whole, 1e-9))
            through = share * whole
            lining_g[z] = through * zone.fabric_coupling_w_per_k / max(zone.fabric_coupling_w_per_k - through, 1e-9)
            for part in zone.opaque:
                sun = 0.0 if part.faces == "floor" else float(self.planes[part.faces][h])
                view = {"roof": 1.0, "floor": 0.0}.get(part.faces, 0.5)
                g = part.area_m2 * u_at(self.opaque_u(part), wind)
                air_w[z] += g * (part.solar_absorptance_share * sun - view * SKY_FILM * sky_k) / film(wind)
                air_g[z] += g * (1.0 - share) * self.pull.get(part.faces, [1.0] * 9)[z]
            for pane in zone.glazing:
                screened_u = pane.u_w_per_m2k if pane.u_screened_w_per_m2k is None else pane.u_screened_w_per_m2k
                u = pane.u_w_per_m2k + screens * (screened_u - pane.u_w_per_m2k)
                g = pane.area_m2 * u_at(u, wind)
                view = {"roof": 1.0, "floor": 0.0}.get(pane.faces, 0.5)
                air_w[z] -= g * view * SKY_FILM * sky_k / film(wind)
                air_g[z] += g * self.pull.get(pane.faces, [1.0] * 9)[z]
                sun = pane.area_m2 * float(self.planes[pane.faces][h])
                sun *= pane.g_share + screens * (pane.g_screened_share - pane.g_share)
                lining_w[z] += 0.7 * sun
                air_w[z] += 0.3 * sun
        return air_g, lining_g, air_w, lining_w

    def outdoor_air(self, h: int, air: list[float], out_c: float, wind: float, rho: float) -> list[float]:
        """Outdoor air of each zone through cracks, vents and the door. [kg/s]"""
        fresh = []
        for z, zone in enumerate(self.zones):
            dt = abs(air[z] - out_c)
            crack = zone.leakage_cm2 * math.sqrt(0.000145 * dt + 0.000319 * wind * wind) / 1000.0
            low, high = zone.vent_low_cm2 / 1e4, zone.vent_high_cm2 / 1e4
            if z == self.living:
                high += self.line.rooflight_cm2[h] / 1e4
            vent = 0.0
            if low + high > 0.0:
                series = low * high / math.hypot(low, high)
                stack = 2.0 * 9.80665 * zone.vent_height_m * dt / (air[z] + 273.15)
                vent = math.sqrt((0.6 * series) ** 2 * (stack + 0.3 * wind**2) + (0.025 * (low + high) * wind) ** 2)
            door = 0.0
            if z == self.living and self.line.moving[h] == 0:
                door = self.line.door_air_changes[h] * zone.air_m3 / 3600.0
            fresh.append((crack + vent + door) * rho)
        return fresh

    def doorways(self, h: int, air: list[float], rho: float) -> list[tuple[int, int, float, float]]:
        found = []
        for d, opening in enumerate(self.van.cabin.openings):
            a, b = (self.names.index(n) for n in opening.between)
            kg = opening.closed_m3_per_h * rho / 3600.0
            g = opening.closed_w_per_k + kg * CP_AIR
            share = 1.0 - self.line.closed[h, d]
            if share > 0.0 and opening.width_m > 0.0:
                dt = math.hypot(air[a] - air[b], 0.3)
                mean = 0.5 * (air[a] + air[b]) + 273.15
                speed = math.sqrt(9.80665 * dt / mean)
                wide = (0.4 + 0.0045 * dt) / 3.0 * opening.width_m * speed * opening.height_m**1.5 * rho
                kg += share * wide
                g += share * wide * CP_AIR
            found.append((a, b, g, kg))
        return found

    def run(self, hours: int) -> Told:
        line_, van, heater, water = self.line, self.van, self.van.heater, self.van.water
        n = len(self.zones)
        temp = self.frame["temp_air"].to_numpy(dtype=float)
        start_c = line_.tour.start_inside_c
        air = [start_c] * n
        lining = [start_c] * n
        boiler_c, fresh_c, pipes_c = max(start_c, 5.0), max(2.0, min(start_c, 10.0)), max(start_c, 2.0)
        waste_c, battery_c = max(1.0, temp[0]), start_c
        fresh_l = min(water.fresh.start_l, water.fresh.capacity_l)
        waste_l = min(water.waste.start_l, water.waste.capacity_l)
        pressure0 = float(self.frame["pressure"].iloc[0])
        w_out0 = ratio_of(float(self.frame["relative_humidity"].iloc[0]) / 100 * over_water_pa(temp[0]), pressure0)
        ratio = [min(w_out0, 0.9 * ratio_of(saturation_pa(start_c), pressure0))] * n
        wet = [0.0] * len(self.surfaces)
        kit, kit0, kit_m2 = [0.0] * n, [1.0] * n, [0.0] * n
        flame, burning, since, call, run_on = 0, False, 1e9, False, 0.0
        bottles = [
            [
                b.net_kg if b.start_kg is None else b.start_kg,
                temp[0] + van.gas.locker_warmer_share * (start_c - temp[0]),
            ]
            for b in van.gas.bottles
        ]
        told = Told(np.zeros((hours, n)), np.zeros(hours), np.zeros(hours))
        runs = [(self.names.index(r.zone), r) for r in van.ducts]
        plate = self.built.warm_air
        draw = feeding = 0
        load_share = [line_.load_share(load) for load in van.power.loads]
        hung = {h: [] for h in range(hours)}
        for hour, name, kg, m2 in line_.drying:
            if hour < hours:
                hung[hour].append((self.names.index(name), kg, m2))
        for h in range(hours):
            row = self.frame.iloc[h]
            out_c, pressure = float(row.temp_air), float(row.pressure)
            rho = pressure / (287.05 * (out_c + 273.15))
            wind = max(float(row.wind_speed) * line_.wind_factor[h], line_.speed_m_per_s[h])
            w_out = ratio_of(float(row.relative_humidity) / 100.0 * over_water_pa(out_c), pressure)
            air_g, lining_g, air_w, lining_w = self.envelope(h, wind, max(0.0, out_c - float(row.temp_sky)))
            extract = line_.extract_m3_per_h[h] * 1.25 / 3600.0
            if line_.refill[h]:
                more = water.fresh.capacity_l - fresh_l
                fresh_c = ((SHELL_TANK + CP_WATER * fresh_l) * fresh_c + CP_WATER * more * 6.0) / (
                    SHELL_TANK + CP_WATER * (fresh_l + more)
                )
                fresh_l += more
            if line_.empty_waste[h]:
                waste_l = 0.0
            taken = min(line_.cold_water_l[h], fresh_l)
            fresh_l -= taken
            for z, kg, m2 in hung[h]:
                kit[z] += kg
                kit0[z], kit_m2[z] = kit[z], m2
            source = [0.0] * n
            gain = list(air_w)
            if line_.awake[h] + line_.asleep[h] > 0.0 or line_.people_w[h] > 0.0:
                z = self.cab if line_.moving[h] == 1 and self.cab >= 0 else self.living
                grams = line_.people_vapour_g_per_h[h]
                source[z] += grams / 3.6e6
                gain[z] += max(0.0, line_.people_w[h] - 0.6806 * grams)
            loads_w = 0.0
            for load, share in zip(van.power.loads, load_share, strict=True):
                z = self.names.index(load.zone) if load.zone in self.names else -1
                around = air[z] if z >= 0 else out_c
                duty = load.duty_share
                if load.duty_per_k > 0.0:
                    duty = min(1.0, max(0.0, duty * (1.0 + load.duty_per_k * (around - 20.0))))
                watts = load.power_w * duty * share[h]
                loads_w += watts
                if z >= 0:
                    gain[z] += watts
            vented = line_.cooking_vented_share[h]
            gain[self.living] += line_.cooking_electric_w[h] * (1.0 - vented)
            hob_kg = line_.cooking_gas_kg[h] / 3600.0 * (1.0 - vented)
            steam = line_.cooking_steam_g[h] / 3.6e6 * (1.0 - vented)
            source[self.living] += hob_kg * PROPANE_WATER_KG_PER_KG + steam
            gain[self.living] += max(0.0, hob_kg * PROPANE_J_PER_KG - steam * LATENT_J_PER_KG)
            budget = max(0.0, line_.hookup_w[h] - min(line_.cooking_electric_w[h], line_.hookup_w[h]))
            charger = min(budget, van.power.mains_charger_a * van.power.battery.nominal_v
                          / van.power.mains_charger_efficiency_share)  # fmt: skip
            hooked = line_.hookup_w[h] > 0.0
            rated = self.stages[-1] * min(1.0, pressure / 101_325.0)
            for q in range(4):
                allowed = bool(line_.heater_allowed[h])
                set_c = float(line_.setpoint_c[4 * h + q]) if allowed else math.nan
                water_set = float(line_.water_set_c[4 * h + q]) if allowed else math.nan
                element = 0.0
                if hooked and allowed and line_.fuel[h] > 0:
                    element = max([w for w in heater.electric_w if w <= budget - charger], default=0.0)
                gas = allowed and bool(line_.gas_open[h]) and not (line_.fuel[h] == 1 and hooked)
                cap = rated if gas else 0.0
                while draw < len(line_.draw_s) and line_.draw_s[draw] < h * 3600.0 + (q + 1) * 900.0:
                    litres, tap = min(float(line_.draw_l[draw]), fresh_l), float(line_.draw_tap_c[draw])
                    shower = line_.draw_use[draw] == 0
                    draw += 1
                    cold, heat, left = max(0.0, fresh_c), 0.0, litres
                    while left > 1e-9:
                        part = min(0.02, left)
                        hot = part * min(1.0, (tap - cold) / max(boiler_c - cold, 1e-9))
                        moved = hot * (boiler_c - cold)
                        boiler_c -= moved / (water.boiler.water_l + SHELL_BOILER / CP_WATER)
                        heat += CP_WATER * moved
                        left -= part
                    fresh_l -= litres
                    z = self.wet if shower else self.living
                    vapour = 0.012 * litres * (1.0 if shower else 0.2)
                    mean = cold + heat / (CP_WATER * litres)
                    drain = 0.5 * (mean + air[z])
                    given = CP_WATER * (litres * mean - (litres - vapour) * drain) - vapour * LATENT_J_PER_KG
                    lining[z] += given / self.zones[z].fabric_capacity_j_per_k
                    ratio[z] += vapour / (self.zones[z].air_m3 * 1.2)
                    kept = min(litres - vapour, water.waste.capacity_l - waste_l)
                    held = SHELL_TANK + CP_WATER * waste_l
                    waste_c = (held * waste_c + CP_WATER * kept * drain) / (held + CP_WATER * kept)
                    waste_l += kept
                for step in range(int(900.0 / STEP_S)):
                    if step % 6 == 0:
                        fresh = self.outdoor_air(h, air, out_c, wind, rho)
                        doors = self.doorways(h, air, rho)
                    # --- thermostat
                    sense = air[self.living]
                    gas_set = set_c - (heater.band_k if element > 0.0 else 0.0)
                    before = flame
                    if not (cap > 0.0) or math.isnan(set_c):
                        flame = 0
                    elif flame == 0 and sense <= gas_set - heater.differential_k and since >= heater.min_off_s:
                        flame = 1
                    elif (
                        flame == 1
                        and since >= heater.min_on_s
                        and sense >= gas_set + max(heater.differential_k, 0.5 * heater.band_k)
                    ):
                        flame = 0
                    if flame != before:
                        since = 0.0
                    since += STEP_S
                    unheated = math.isnan(water_set) or (cap <= 0.0 and element <= 0.0)
                    if unheated or (call and boiler_c >= water_set):
                        call = False
                    elif not call and boiler_c <= water_set - water.boiler.hysteresis_k:
                        call = True
                    tank_el = min(heater.water_w, element) if call else 0.0
                    tank_gas = min(heater.water_w, cap) if call and tank_el <= 0.0 else 0.0
                    room_el = room_gas = 0.0
                    if not math.isnan(set_c):
                        room_el = (element - tank_el) * min(1.0, max(0.0, (set_c - sense) / heater.band_k + 0.5))
                        if flame:
                            low, high = self.stages[0], cap - tank_gas
                            asked = low + (high - low) * ((gas_set - sense) / heater.band_k + 0.5)
                            room_gas = high if high <= low else min(high, max(low, asked))
                    room = room_el + room_gas
                    fan_w, blow = 0.0, room > 0.0
                    if blow:
                        fan_w = line(room, self.stages, [float(v) for v in plate.fan_w])
                    elif run_on > 0.0:
                        fan_w = float(plate.fan_w[0])
                    elif tank_gas > 0.0:
                        fan_w = 0.3 * float(plate.fan_w[0])
                    fired = room_gas + tank_gas
                    if fired > 0.0:
                        joules = fired / line(fired, self.stages, self.efficiency) * STEP_S
                        if not burning:
                            told.starts += 1.0
                            joules += heater.start_loss_kj * 1000.0
                        told.fuel_kg[h] += joules / PROPANE_J_PER_KG
                        burning, run_on = True, heater.run_on_s
                    else:
                        burning, run_on = False, max(0.0, run_on - STEP_S)
                    told.fan_ah[h] += fan_w * STEP_S / 3600.0 / van.power.battery.nominal_v
                    told.electric_kwh += (room_el + tank_el) * STEP_S / 3.6e6
                    # --- heat to each zone's air
                    flow_w = list(gain)
                    if line_.moving[h] == 1 and self.cab >= 0:
                        flow_w[self.cab] += max(0.0, min(3000.0, 150.0 * (line_.drive_cab_c - air[self.cab])))
                    if blow and runs:
                        at = min(max(room, self.stages[0]), self.stages[-1])
                        m = [
                            line(at, self.stages, [float(v) for v in plate.run_m3_per_h[:, r]]) * 1.2 / 3600.0 * CP_AIR
                            for r in range(len(runs))
                        ]
                        hot = sense + (room + fan_w) / sum(m)
                        for (z, run), mcp in zip(runs, m, strict=True):
                            past = self.names.index(run.runs_through) if run.runs_through in self.names else -1
                            around = air[past] if past >= 0 else out_c
                            outlet = around + (hot - around) * math.exp(-run.loss_w_per_k / mcp)
                            flow_w[z] += mcp * (outlet - air[z])
                            flow_w[self.living] += mcp * (air[z] - sense)
                            if past >= 0:
                                flow_w[past] += mcp * (hot - outlet)
                    else:
                        flow_w[self.living] += room + fan_w
                    vapour = list(source)
                    for z in range(n):
                        flow_w[z] += (air_g[z] + fresh[z] * CP_AIR) * (out_c - air[z])
                        vapour[z] += fresh[z] * (w_out - ratio[z])
                    for a, b, g, kg in doors:
                        flow_w[a] += g * (air[b] - air[a])
                        flow_w[b] += g * (air[a] - air[b])
                        vapour[a] += kg * (ratio[b] - ratio[a])
                        vapour[b] += kg * (ratio[a] - ratio[b])
                    if extract > 0.0:
                        flow_w[self.living] += extract * CP_AIR * (out_c - air[self.living])
                        vapour[self.living] += extract * (w_out - ratio[self.living])
                        if self.wet != self.living:
                            flow_w[self.wet] += extract * CP_AIR * (air[self.living] - air[self.wet])
                            vapour[self.wet] += extract * (ratio[self.living] - ratio[self.wet])
                    beta = 3.0 / (CP_AIR * LEWIS)
                    for k, (z, area, factor) in enumerate(self.surfaces):
                        pane_c = out_c + factor * (air[z] - out_c)
                        rate = beta * area * (ratio[z] - ratio_of(saturation_pa(pane_c), pressure))
                        rate = max(rate, -wet[k] / STEP_S)
                        wet[k] += rate * STEP_S
                        vapour[z] -= rate
                        flow_w[z] += rate * LATENT_J_PER_KG
                    for z in range(n):
                        if kit[z] > 0.0:
                            sat = ratio_of(saturation_pa(air[z]), pressure)
                            slope = (ratio_of(saturation_pa(air[z] + 0.5), pressure) - sat) / 0.5
                            cloth = 4.0 / (CP_AIR * LEWIS) * kit_m2[z] * min(1.0, kit[z] / (0.3 * kit0[z]))
                            rate = max(0.0, cloth * (sat - ratio[z]))
                            rate /= 1.0 + LATENT_J_PER_KG / CP_AIR / LEWIS * slope
                            rate = min(rate, kit[z] / STEP_S)
                            kit[z] -= rate * STEP_S
                            vapour[z] += rate
                            flow_w[z] -= rate * LATENT_J_PER_KG

                    # --- nodes that hang on a zone
                    def hang(
                        node_c: float,
                        capacity: float,
                        g: float,
                        zone: str,
                        flow_w: list[float] = flow_w,
                        out_c: float = out_c,
                    ) -> float:
                        z = self.names.index(zone) if zone in self.names else -1
                        watts = g * ((air[z] if z >= 0 else out_c) - node_c)
                        if z >= 0:
                            flow_w[z] -= watts
                        return node_c + watts * STEP_S / capacity

                    tank = water.boiler
                    boiler_c = hang(
                        boiler_c, SHELL_BOILER + CP_WATER * tank.water_l, tank.standing_loss_w / 40.0, tank.zone
                    )
                    boiler_c += (tank_gas + tank_el) * STEP_S / (SHELL_BOILER + CP_WATER * tank.water_l)
                    fresh_c = hang(
                        fresh_c, SHELL_TANK + CP_WATER * fresh_l, water.fresh.coupling_w_per_k, water.fresh.zone
                    )
                    waste_c = hang(
                        waste_c, SHELL_TANK + CP_WATER * waste_l, water.waste.coupling_w_per_k, water.waste.zone
                    )
                    pipes = water.pipes
                    colder = self.zones[self.names.index(pipes.zone)].floor_colder_share
                    held = SHELL_PIPES + CP_WATER * pipes.content_l
                    pipes_c = hang(pipes_c, held, pipes.coupling_w_per_k * (1.0 - colder), pipes.zone)
                    pipes_c = hang(pipes_c, held, pipes.coupling_w_per_k * colder + pipes.outdoor_w_per_k, "outdoors")
                    battery = van.power.battery
                    battery_c = hang(battery_c, battery.heat_capacity_j_per_k, battery.coupling_w_per_k, battery.zone)
                    drawn = (joules if fired > 0.0 else 0.0) / PROPANE_J_PER_KG
                    drawn += line_.cooking_gas_kg[h] * STEP_S / 3600.0
                    warmer = van.gas.locker_warmer_share
                    for k, (bottle, held_kg) in enumerate(zip(van.gas.bottles, bottles, strict=True)):
                        kg, cold_c = held_kg
                        d = bottle.diameter_m
                        bottom = 0.25 * math.pi * d * d
                        height = kg / 510.0 / bottom + 0.05
                        g = 8.0 * (bottom + math.pi * d * height) if kg > 0.0 else 0.0
                        capacity = bottle.tare_kg * 480.0 + 2450.0 * kg
                        cold_c = hang(cold_c, capacity, g * warmer, van.gas.locker_zone)
                        cold_c = hang(cold_c, capacity, g * (1.0 - warmer), "outdoors")
                        if k == feeding:
                            held_kg[0] = kg - drawn
                            cold_c -= drawn * PROPANE_LATENT_J_PER_KG / capacity
                        held_kg[1] = cold_c
                    if bottles[feeding][0] < 0.3 and feeding + 1 < len(bottles):
                        feeding += 1
                    # --- explicit step of air, lining and vapour
                    for z, zone in enumerate(self.zones):
                        told.air_c[h, z] += air[z] * STEP_S / 3600.0
                        to_lining = zone.fabric_coupling_w_per_k * (air[z] - lining[z])
                        lining_gain = to_lining + lining_w[z] + lining_g[z] * (out_c - lining[z])
                        air[z] += (flow_w[z] - to_lining) * STEP_S / zone.air_capacity_j_per_k
                        lining[z] += lining_gain * STEP_S / zone.fabric_capacity_j_per_k
                        ratio[z] += vapour[z] * STEP_S / (zone.air_m3 * 1.2)
        return told
