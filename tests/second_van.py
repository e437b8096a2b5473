"""What the second model knows of a van and of the weather on it, written down again from the sources.

No code is shared with budget.engine, budget.physics or budget.weather.sun: numbers come from the description of the
van, the tour by the hour and the weather record; constants and laws are those of the standards named beside them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pvlib
from CoolProp.CoolProp import PropsSI
from fluids.friction import friction_factor
from scipy.optimize import brentq

CP_AIR, CP_WATER = 1006.0, 4186.0  # J/kgK, handbook values at 20 °C
SKY_FILM = 0.9 * 4.0 * 5.670374e-8 * 273.15**3  # ISO 6946 annex C, at 0 °C
RSI = {"roof": 0.10, "floor": 0.17}  # ISO 6946, table 7; walls 0.13
RSE = 0.04
VIEW = {"roof": 1.0, "floor": 0.0}  # of the sky, ISO 52016-1; walls 0.5
SUN_IN_LINING = 0.7
RIB_U, RIB_SHARE, CORNER_SHARE, CORNER_RSI = 4.0, 0.04, 0.15, 0.25  # as the user's page on damp says
HOSE_ROUGHNESS_M = {"smooth": 0.00015, "corrugated": 0.003, "compressed": 0.003}
HOSE_FACTOR = {"smooth": 1.0, "corrugated": 1.0, "compressed": 3.0}
BEND, OUTLET = 0.6, 2.0  # velocity heads
FAN_FIXED = 0.4
SUPPLY_KG_PER_M3, VISCOSITY = 1.09, 2.0e-5  # air at 50 and 60 °C
GRID_C = np.arange(-60.0, 61.0, 1.0)


def saturation_pa(temp_c: float) -> float:
    """Over water and ice (Magnus form, Alduchov and Eskridge 1996). [Pa]"""
    if temp_c >= 0.0:
        return 610.94 * math.exp(17.625 * temp_c / (243.04 + temp_c))
    return 611.21 * math.exp(22.587 * temp_c / (273.86 + temp_c))


def over_water_pa(temp_c: float) -> float:
    return 610.94 * math.exp(17.625 * temp_c / (243.04 + temp_c))


def ratio_of(vapour_pa: float, pressure_pa: float) -> float:
    return 0.62198 * vapour_pa / (pressure_pa - vapour_pa)


def film(wind: float) -> float:
    return 4.0 + 4.0 * wind + SKY_FILM


def u_at(u: float, wind: float) -> float:
    return 1.0 / (max(1.0 / u - RSE, 0.0) + 1.0 / film(wind))


class Fuel:
    """One gas of the bottle, from the reference equation of state."""

    def __init__(self, name: str, heating_j_per_kg: float, water_kg_per_kg: float, mol_kg: float) -> None:
        kelvin = GRID_C + 273.15
        self.log_pa = np.log(PropsSI("P", "T", kelvin, "Q", 0, name))
        vapour, liquid = (PropsSI("H", "T", kelvin, "Q", q, name) for q in (1, 0))
        self.latent = vapour - liquid
        self.heating_j_per_kg, self.water, self.mol_kg = heating_j_per_kg, water_kg_per_kg, mol_kg

    def pa(self, temp_c: float) -> float:
        return math.exp(float(np.interp(temp_c, GRID_C, self.log_pa)))

    def latent_j_per_kg(self, temp_c: float) -> float:
        return float(np.interp(temp_c, GRID_C, self.latent))


PROPANE = Fuel("Propane", 46.34e6, 1.634, 0.0440956)  # lower heating values: heats of formation; water: atoms
BUTANE = Fuel("n-Butane", 45.72e6, 1.550, 0.0581222)


def bubble_pa(temp_c: float, propane_kg: float, butane_kg: float) -> float:
    """Raoult's law. [Pa]"""
    a, b = propane_kg / PROPANE.mol_kg, butane_kg / BUTANE.mol_kg
    return (a * PROPANE.pa(temp_c) + b * BUTANE.pa(temp_c)) / max(a + b, 1e-12)


def coldest_c(need_pa: float, propane_kg: float, butane_kg: float) -> float:
    """Temperature at which a bottle's pressure is just what is needed. [°C]"""
    return float(brentq(lambda t: bubble_pa(t, propane_kg, butane_kg) - need_pa, -60.0, 60.0))


def opaque_u(part: Any) -> float:
    if part.u_w_per_m2k is not None:
        return float(part.u_w_per_m2k)
    layers = sum(layer.thickness_m / layer.conductivity_w_per_mk for layer in part.layers)
    return float(part.ribs_factor / (RSI.get(part.faces, 0.13) + RSE + layers))


def pane_u(pane: Any, screens: float) -> float:
    screened = pane.u_w_per_m2k if pane.u_screened_w_per_m2k is None else pane.u_screened_w_per_m2k
    return float(pane.u_w_per_m2k + screens * (screened - pane.u_w_per_m2k))


def warmer(zone: Any, faces: str) -> float:
    """Stratification: what the air at a face is, as a factor on the zone's difference to outdoors."""
    return {"roof": 1.0 + zone.roof_warmer_share, "floor": 1.0 - zone.floor_colder_share}.get(faces, 1.0)


def shell(zone: Any, sun: dict[str, float], screens: float, wind: float, sky_k: float) -> tuple[float, ...]:
    """W/K of air and of lining to outdoors, W into air and into lining by sun and sky."""
    whole = sum(p.area_m2 * opaque_u(p) * warmer(zone, p.faces) for p in zone.opaque)
    coupling = zone.fabric_coupling_w_per_k
    share = min(zone.fabric_loss_share, 0.6 * coupling / max(whole, 1e-9))
    through = share * whole
    lining_g = 1.0 / (1.0 / through - 1.0 / coupling) if through > 0.0 else 0.0
    air_g = air_w = lining_w = 0.0
    for part in zone.opaque:
        g = part.area_m2 * u_at(opaque_u(part), wind)
        air_g += g * (1.0 - share) * warmer(zone, part.faces)
        taken = part.solar_absorptance_share * sun[part.faces] - VIEW.get(part.faces, 0.5) * SKY_FILM * sky_k
        air_w += g * taken / film(wind)
    for pane in zone.glazing:
        g = pane.area_m2 * u_at(pane_u(pane, screens), wind)
        air_g += g * warmer(zone, pane.faces)
        air_w -= g * VIEW.get(pane.faces, 0.5) * SKY_FILM * sky_k / film(wind)
        through_w = pane.area_m2 * sun[pane.faces] * (pane.g_share + screens * (pane.g_screened_share - pane.g_share))
        lining_w += SUN_IN_LINING * through_w
        air_w += (1.0 - SUN_IN_LINING) * through_w
    return air_g, lining_g, air_w, lining_w


def cold_surfaces(zone: Any) -> list[tuple[float, float, float]]:
    """Area and temperature factor, bare and with screens, of panes, ribs and corners; the coldest first."""
    found = []
    kinds = sorted({(p.u_w_per_m2k, p.screens) for p in zone.glazing})
    for u, side in kinds:
        alike = [p for p in zone.glazing if (p.u_w_per_m2k, p.screens) == (u, side)]
        bare = 1.0 - 0.13 * u
        screened = 1.0 - 0.13 * pane_u(alike[0], 1.0) if side == "outside" else bare
        found.append((sum(p.area_m2 for p in alike), bare, screened))
    area = sum(p.area_m2 for p in zone.opaque if p.faces != "floor")
    if area > 0.0:
        mean = sum(p.area_m2 * opaque_u(p) for p in zone.opaque) / sum(p.area_m2 for p in zone.opaque)
        if mean > 1.0:
            rib = 1.0 - 0.13 * max(mean, min(RIB_U, 3.0 * mean))
            found.append((RIB_SHARE * area, rib, rib))
        corner = 1.0 - CORNER_RSI / (CORNER_RSI + 1.0 / mean - 0.13)
        found.append((CORNER_SHARE * area, corner, corner))
    return sorted(found, key=lambda item: item[1])


def run_pa(run: Any, m3_per_h: float, open_share: float) -> float:
    """Darcy and Weisbach with the library's Colebrook solution. [Pa]"""
    speed = m3_per_h / 3600.0 / (0.25 * math.pi * run.diameter_m**2)
    reynolds = SUPPLY_KG_PER_M3 * speed * run.diameter_m / VISCOSITY
    f = friction_factor(Re=max(reynolds, 1.0), eD=HOSE_ROUGHNESS_M[run.hose] / run.diameter_m)
    heads = f * HOSE_FACTOR[run.hose] * run.length_m / run.diameter_m + BEND * run.bends + OUTLET / open_share**2
    return float(heads * 0.5 * SUPPLY_KG_PER_M3 * speed**2)


def blown(stage: Any, runs: list[Any], opened: bool, speed: float, back: float) -> tuple[list[float], float, float]:
    """Flow of each run, pressure before them and of the fan at a speed over its curve's. [m³/h], [Pa], [Pa]

    The fan's parabola, by the fan laws, less ``back`` Pa per squared flow of the way back, meets the runs.
    """
    free = stage.fan_free_m3_per_h or 2.0 * stage.air_m3_per_h
    still = speed * speed * stage.fan_pressure_pa

    def flow(run: Any, pascals: float) -> float:
        share = 1.0 if opened else run.open_share
        if share < 0.001 or pascals <= 0.0:
            return 0.0
        return float(brentq(lambda q: run_pa(run, q, share) - pascals, 1e-6, 2000.0))

    def excess(pascals: float) -> float:
        fan = math.sqrt(max(0.0, still - pascals) / (stage.fan_pressure_pa / free**2 + back))
        return sum(flow(run, pascals) for run in runs) - fan

    pascals = float(brentq(excess, 1e-9, still))
    flows = [flow(run, pascals) for run in runs]
    return flows, pascals, pascals + back * sum(flows) ** 2


@dataclass
class Blower:
    """By stage, at sea level: fan's fixed and air's part [W], heat capacity flow of each run and of all [W/K]."""

    fixed_w: list[float]
    air_w: list[float]
    run_w_per_k: list[list[float]]
    total_w_per_k: list[float]


def _short_of_plate(speed: float, stage: Any, runs: list[Any]) -> float:
    return float(sum(blown(stage, runs, True, speed, 0.0)[0]) - stage.air_m3_per_h)


def warm_air(van: Any) -> Blower:
    """The runs at every stage: the rating plate's flow with every outlet open and the way back free."""
    runs = [run for run in van.ducts if run.open_share > 0.0]
    found = Blower([], [], [], [])
    per_m3 = 1.2 / 3600.0 * CP_AIR
    back = 0.0
    if van.heater.return_cm2 is not None:
        back = 2.5 * 0.5 * 1.2 * (1.0 / 3600.0 / (van.heater.return_cm2 * 1e-4)) ** 2
    for stage in van.heater.stages:
        flows, air = [], 1.0
        if runs:
            every = list(van.ducts)
            speed = float(brentq(_short_of_plate, 0.1, 10.0, args=(stage, every)))
            fitted, _, fitted_pa = blown(stage, every, True, speed, 0.0)
            flows, _, now_pa = blown(stage, runs, False, speed, back)
            air = sum(flows) * now_pa / (sum(fitted) * fitted_pa)
        found.fixed_w.append(FAN_FIXED * stage.fan_w)
        found.air_w.append((1.0 - FAN_FIXED) * air * stage.fan_w)
        found.run_w_per_k.append([q * per_m3 for q in flows])
        found.total_w_per_k.append((sum(flows) if runs else stage.air_m3_per_h) * per_m3)
    return found


def sun_on(van: Any, line: Any, frame: Any) -> dict[str, np.ndarray]:
    """Irradiance on each face by pvlib alone, and the panels' power. A face of no known heading: the mean of 72."""
    middle = frame.index + np.timedelta64(30, "m")
    ghi, dni, dhi, temp, wind = (frame[k].to_numpy(float) for k in ("ghi", "dni", "dhi", "temp_air", "wind_speed"))
    zenith, azimuth = np.empty(len(frame)), np.empty(len(frame))
    for place in {*zip(line.latitude_deg, line.longitude_deg, strict=True)}:
        here = (line.latitude_deg == place[0]) & (line.longitude_deg == place[1])
        found = pvlib.solarposition.get_solarposition(middle[here], *place)
        zenith[here], azimuth[here] = found["apparent_zenith"], found["azimuth"]
    extra = pvlib.irradiance.get_extra_radiation(frame.index.day_of_year.to_numpy())
    ground = np.where(temp < 0.0, 0.6, 0.2)

    def plane(tilt: float, to: Any) -> np.ndarray:
        got = pvlib.irradiance.get_total_irradiance(
            tilt, to, zenith, azimuth, np.where(zenith < 90.0, dni, 0.0), ghi, dhi,
            dni_extra=extra, albedo=ground, model="haydavies",
        )  # fmt: skip
        return np.maximum(np.asarray(got["poa_global"], dtype=float), 0.0)

    anywhere = np.mean([plane(90.0, float(to)) for to in range(0, 360, 5)], axis=0)
    stops = [math.nan if s.heading_deg is None else s.heading_deg for s in line.tour.stops]
    heading = np.where(line.at_stop, np.array(stops)[line.stop], np.nan)
    faces = {"roof": ghi, "floor": np.zeros(len(frame))}
    for face, turn in (("front", 0.0), ("right", 90.0), ("rear", 180.0), ("left", 270.0)):
        towards = (np.where(np.isnan(heading), 0.0, heading) + turn) % 360.0
        faces[face] = np.where(np.isnan(heading), anywhere, plane(90.0, towards))
    faces["sides"] = 0.5 * (faces["left"] + faces["right"])
    solar = van.power.solar
    to_equator = np.where(np.asarray(line.latitude_deg) < 0.0, 0.0, 180.0)
    on = plane(solar.tilt_deg, to_equator if solar.azimuth_deg is None else solar.azimuth_deg)
    cell = pvlib.temperature.faiman(on, temp, wind)
    watts = pvlib.pvsystem.pvwatts_dc(on, cell, solar.peak_w, solar.temp_coefficient_percent_per_k / 100.0)
    faces["panel"] = np.maximum(watts, 0.0)
    return faces
