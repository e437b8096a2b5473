"""What is fitted in a described van: heater, ducts, water, gas, 12 V system and fridge."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from budget.van import presets
from budget.van.gas import Bottle, Gas
from budget.van.heater import Duct, Heater, Stage
from budget.van.model import Fridge
from budget.van.power import Battery, Load, Power, Solar
from budget.van.water import Boiler, DrainValve, Pipes, Tank, Water

if TYPE_CHECKING:
    from budget.van.description import VanDescription

Zones = tuple[str, ...]
CHANGEOVERS: dict[str, Literal["manual", "automatic", "parallel"]] = {
    "manual": "manual",
    "automatic": "automatic",
    "both at once": "parallel",
}


def _first(zones: Zones, *wanted: str) -> str:
    """The first wanted zone that the van has, or else its first zone."""
    return next((name for name in wanted if name in zones), zones[0])


def heater(answers: VanDescription, zones: Zones) -> Heater:
    """The heater as given, or of its preset."""
    if isinstance(answers.heater, Heater):
        return answers.heater
    preset = presets.get("heater", answers.heater)
    stages = tuple(
        Stage(
            output_w=stage["output_w"].usual,
            efficiency_share=answers.efficiency_share or stage["efficiency_share"].usual,
            air_m3_per_h=stage["air_m3_per_h"].usual,
            fan_w=stage["fan_w"].usual,
            fan_pressure_pa=stage["fan_pressure_pa"].usual,
        )
        for stage in preset.tables("stages")
    )
    return Heater(
        name=preset.word,
        control=preset.values["control"],
        stages=stages,
        sensor_zone=_first(zones, "living"),
        start_loss_kj=preset.usual("start_loss_kj"),
        standby_w=preset.usual("standby_w"),
        water_w=preset.usual("water_w"),
        altitude_compensated=bool(answers.altitude_compensated),
        electric_w=tuple(element["power_w"].usual for element in preset.tables("elements")),
    )


def ducts(answers: VanDescription, zones: Zones) -> tuple[Duct, ...]:
    """The warm-air runs as given, or the usual ones: two into the living area, one into each zone beside it."""
    if answers.ducts is not None:
        return answers.ducts
    if "living" not in zones:
        return ()
    runs = [
        Duct(name="living front", zone="living", length_m=1.5, bends=1),
        Duct(name="living rear", zone="living", length_m=2.5, bends=2),
    ]
    if "cab" in zones and answers.cab_curtain != "fixed bulkhead":
        runs.append(Duct(name="cab", zone="cab", length_m=3.0, bends=3, open_share=0.3))
    if "wet_room" in zones:
        runs.append(Duct(name="wet room", zone="wet_room", length_m=2.0, diameter_m=0.05, bends=2, open_share=0.3))
    if "garage" in zones:
        runs.append(Duct(name="garage", zone="garage", length_m=1.0, diameter_m=0.05, bends=1, open_share=0.3))
    return tuple(runs)


def water(answers: VanDescription, zones: Zones) -> Water:
    """Boiler, tanks, pipes and frost drain valve."""
    living = _first(zones, "living")
    boiler = _boiler(answers, living)
    return Water(
        boiler=boiler,
        fresh=_tank(answers.fresh_l, answers.fresh_l, answers.fresh_tank, living),
        waste=_tank(answers.waste_l, 0.0, answers.waste_tank, living),
        pipes=Pipes(zone=living),
        drain_valve=DrainValve(zone=living) if answers.frost_drain_valve and boiler.is_fitted else None,
    )


def _boiler(answers: VanDescription, living: str) -> Boiler:
    if isinstance(answers.boiler, Boiler):
        return answers.boiler
    word = answers.boiler
    if word is None:
        word = "12 L" if isinstance(answers.heater, Heater) else presets.get("heater", answers.heater).values["boiler"]
    preset = presets.get("boiler", word)
    content_l = answers.boiler_l or preset.usual("water_l")
    size = (content_l / preset.usual("water_l")) ** (2.0 / 3.0)
    return Boiler(water_l=content_l, standing_loss_w=preset.usual("standing_loss_w") * size, zone=living)


def _tank(capacity_l: float, start_l: float, place: str, living: str) -> Tank:
    preset = presets.get("tank_place", place)
    zone = living if place == "inside" else "outdoors"
    return Tank(capacity_l=capacity_l, start_l=start_l, zone=zone, coupling_w_per_k=preset.usual("coupling_w_per_k"))


def gas(answers: VanDescription, zones: Zones) -> Gas:
    """Bottles in the order of use, in a locker beside the garage or else the living area."""
    bottles = tuple(_bottle(bottle) if isinstance(bottle, str) else bottle for bottle in answers.bottles)
    changeover = CHANGEOVERS[answers.changeover]
    return Gas(bottles=bottles, changeover=changeover, locker_zone=_first(zones, "garage", "living"))


def _bottle(word: str) -> Bottle:
    preset = presets.get("bottle", word)
    return Bottle(
        name=preset.word,
        net_kg=preset.usual("net_kg"),
        tare_kg=preset.usual("tare_kg"),
        propane_share=preset.usual("propane_share"),
        diameter_m=preset.usual("diameter_m"),
        refillable=preset.values["refillable"],
    )


def power(answers: VanDescription, zones: Zones) -> Power:
    """Battery, solar, chargers and loads, a compressor fridge among them."""
    living = _first(zones, "living")
    loads = [_load(load, living) if isinstance(load, str) else load for load in answers.loads]
    if isinstance(answers.fridge, str):
        preset = presets.get("fridge", answers.fridge)
        if "power_w" in preset.values:
            loads.append(
                Load(
                    name="fridge",
                    power_w=preset.usual("power_w"),
                    duty_share=preset.usual("duty_share"),
                    duty_per_k=preset.usual("duty_per_k"),
                    zone=living,
                )
            )
    return Power(
        battery=_battery(answers, living),
        solar=answers.solar or _solar(answers),
        alternator_a=answers.alternator_a,
        mains_charger_a=answers.mains_charger_a,
        loads=tuple(loads),
    )


def _load(word: str, living: str) -> Load:
    preset = presets.get("load", word)
    return Load(
        name=preset.word,
        power_w=preset.usual("power_w"),
        on=preset.values["on"],
        duty_share=preset.usual("duty_share"),
        zone=living,
        only_when_inside=preset.values["only_when_inside"],
    )


def _battery(answers: VanDescription, living: str) -> Battery:
    if isinstance(answers.battery, Battery):
        return answers.battery
    preset = presets.get("battery", answers.battery)
    hundreds = answers.battery_ah / 100.0
    cut_out = round(1.0 - preset.usual("usable_share"), 3)
    return Battery(
        chemistry=preset.values["chemistry"],
        capacity_ah=answers.battery_ah,
        nominal_v=preset.usual("nominal_v"),
        cut_out_share=cut_out,
        reconnect_share=round(cut_out + 0.1, 3),
        charge_efficiency_share=preset.usual("charge_efficiency_share"),
        max_charge_a=min(1000.0, max(0.5, preset.usual("max_charge_a") * hundreds)),
        zone=living,
        coupling_w_per_k=2.0 * hundreds ** (2.0 / 3.0),
        heat_capacity_j_per_k=max(500.0, preset.usual("heat_capacity_j_per_k") * hundreds),
        peukert_factor=preset.usual("peukert_factor"),
        pad_w=min(1000.0, preset.usual("pad_w") * hundreds) if "pad_w" in preset.values else 0.0,
    )


def _solar(answers: VanDescription) -> Solar:
    preset = presets.get("solar", "flat on the roof")
    return Solar(
        peak_w=answers.solar_w,
        kept_share=preset.usual("kept_share"),
        charger_efficiency_share=preset.usual("charger_efficiency_share"),
        temp_coefficient_percent_per_k=preset.usual("temp_coefficient_percent_per_k"),
    )


def fridge(answers: VanDescription) -> Fridge | None:
    """The absorption fridge, or none."""
    if isinstance(answers.fridge, Fridge):
        return answers.fridge
    preset = presets.get("fridge", answers.fridge)
    if "gas_g_per_h" not in preset.values:
        return None
    return Fridge(
        gas_g_per_h=preset.usual("gas_g_per_h"), electric_w=preset.usual("electric_w"), use=preset.values["use"]
    )
