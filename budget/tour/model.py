"""The tour: where, when, who, and the habits of the day."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, WithJsonSchema, model_validator

from budget.arrived import cut, listed, written
from budget.part import Part, quantity, text
from budget.spans import ClockTime, Days, Spans
from budget.tour.climate import WeatherChoice
from budget.van.learned import LearnedSection


def _setting(low: float, high: float) -> Any:
    """A temperature within limits, or the word off; refuses everything else in one sentence."""

    def check(value: Any) -> Any:
        if value is None or value == "off":
            return value
        is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
        if is_number and low <= value <= high:
            return float(value)
        advice = 'write a number or "off"'
        if is_number and low <= (value - 32.0) / 1.8 <= high:
            advice = f"if that is °F, write {(value - 32.0) / 1.8:.0f}"
        got = f"{value:g}" if is_number else written(value)
        raise ValueError(f'must be from {low:g} to {high:g} °C or "off", got {got}; {advice}')

    return BeforeValidator(check)


def _setting_schema(low: float, high: float) -> Any:
    return WithJsonSchema({"anyOf": [{"type": "number", "minimum": low, "maximum": high}, {"const": "off"}]})


def _within_calendars(value: dt.datetime) -> dt.datetime:
    if not 1900 <= value.year <= 2200:
        raise ValueError(f"must lie in the years 1900 to 2200, got {value.year}; correct the date")
    return value


LocalTime = Annotated[dt.datetime, AfterValidator(_within_calendars)]
AirSetting = Annotated[float | Literal["off"] | None, _setting(0.0, 35.0), _setting_schema(0.0, 35.0)]
WaterSetting = Annotated[float | Literal["off"] | None, _setting(0.0, 85.0), _setting_schema(0.0, 85.0)]


class Step(Part):
    """From this time on, the room and the boiler are asked for these temperatures."""

    at: ClockTime = text(..., 'Time of day, "HH:MM".')
    days: Days = text("daily", 'Days, "mon-fri", "sat,sun" or "daily".')
    air_c: AirSetting = Field(None, description='Room setpoint, or "off"; left out: unchanged. [°C]')
    water_c: WaterSetting = Field(None, description='Boiler set temperature, or "off"; left out: unchanged. [°C]')


class Schedule(Part):
    """A named thermostat schedule."""

    steps: tuple[Step, ...] = Field(..., min_length=1, max_length=700, description="Steps through the day and week.")


class Person(Part):
    """Somebody (or a dog) on board."""

    name: str = text("adult", "A name or a role.")
    awake_w: float = quantity(90.0, "Total heat given off awake. [W]", low=0.0, high=400.0)
    asleep_w: float = quantity(70.0, "Total heat given off asleep. [W]", low=0.0, high=300.0)
    vapour_g_per_h: float = quantity(45.0, "Water vapour given off. [g/h]", low=0.0, high=300.0, spread=(25.0, 60.0))
    asleep: Spans = Field(("22:30-07:00",), description="When asleep.")
    out: Spans = Field((), description="When out of the van while parked.")


class Draw(Part):
    """A shower or other use of warm water."""

    who: str = text("", "Who, for the tables.")
    use: Literal["shower", "dishes"] = Field("shower", description="What for.")
    at: ClockTime = text(..., 'Time of day, "HH:MM".')
    days: Days = text("daily", 'Days, "mon-fri", "mon,wed,sat" or "daily".')
    litres_l: float = quantity(8.0, "Warm water at the tap. [L]", low=0.1, high=200.0, spread=(4.0, 15.0))
    tap_c: float = quantity(38.0, "Temperature wanted at the tap. [°C]", low=15.0, high=60.0)


class Cooking(Part):
    """The hob."""

    at: ClockTime = text(..., 'Time of day, "HH:MM".')
    days: Days = text("daily", "Days.")
    minutes_min: float = quantity(30.0, "How long it is lit. [min]", low=1.0, high=600.0)
    gas_kg_per_h: float = quantity(0.2, "Gas use when lit. [kg/h]", low=0.01, high=1.0, spread=(0.10, 0.40))
    steam_g: float = quantity(150.0, "Water boiled off into the room. [g]", low=0.0, high=5000.0)
    vented_share: float = quantity(
        0.3, "Share of its heat and vapour that a rooflight or fan takes out. [0–1]", low=0.0, high=1.0
    )
    electric_on_hookup: bool = Field(False, description="True: cooked on mains while hooked up.")


class Drying(Part):
    """Wet kit hung up."""

    at: LocalTime = Field(..., description="When it is hung up (local time).")
    water_kg: float = quantity(..., "Water in it. [kg]", low=0.01, high=50.0)
    surface_m2: float = quantity(2.0, "Surface. [m²]", low=0.05, high=50.0)
    zone: str = text("wet_room", "Zone it hangs in.")


class Exchange(Part):
    """Gas to be had at a stop."""

    bottle: str = text(..., "Name of the bottle system, as in the van's gas.bottles.")
    open: Spans = Field(("mon-sat 08:00-18:00",), description="Opening hours.")
    price_per_kg: float | None = quantity(None, "Price. [money/kg]", low=0.0, high=1000.0)


class Stop(Part):
    """A place stayed at, and how it is reached."""

    place: str = text(..., "Name of the place.")
    latitude_deg: float = quantity(..., "Latitude, north positive. [°]", low=-90.0, high=90.0)
    longitude_deg: float = quantity(..., "Longitude, east positive. [°]", low=-180.0, high=180.0)
    altitude_m: float = quantity(..., "Altitude. [m]", low=-450.0, high=6000.0)
    arrive: LocalTime = Field(..., description="Arrival, local time on the hour.")
    depart: LocalTime | None = Field(
        None, description="Departure on the hour; none: just in time for the next arrival."
    )
    drive_h: float = quantity(2.0, "On the road before this arrival, ferry not counted. [h]", low=0.0, high=72.0)
    ferry_h: float = quantity(
        0.0,
        "On a ferry before this arrival, besides drive_h and midway through it: the way takes both together. [h]",
        low=0.0,
        high=72.0,
    )
    hookup_a: float = quantity(0.0, "Hook-up current; 0: off-grid. [A]", low=0.0, high=63.0)
    hookup_v: float = quantity(230.0, "Voltage at the pitch. [V]", low=90.0, high=260.0)
    hookup_per_kwh: float | None = quantity(None, "Price of electricity. [money/kWh]", low=0.0, high=100.0)
    schedule: str | None = Field(None, description="Thermostat schedule here; none: the tour's.")
    heater_fuel: Literal["gas", "electric", "electric_first"] = Field(
        "electric_first",
        description="Energy used while hooked up; electric_first: gas for what the element cannot give, where a burner "
        "once lit keeps its least output until the element is down to half.",
    )
    refill_water: bool = Field(True, description="Fresh tank filled on arrival.")
    empty_waste: bool = Field(True, description="Waste tank emptied on arrival.")
    exchange: tuple[Exchange, ...] = Field((), description="Bottle systems exchanged or filled here.")
    heading_deg: float | None = quantity(
        None, "Direction the van's nose points; none: unknown, averaged. [°]", low=0.0, high=360.0
    )
    wind_shelter_share: float = quantity(
        0.4, "Share of the open-field wind kept off by trees and buildings. [0–1]", low=0.0, high=1.0
    )
    solar_shade_share: float = quantity(0.0, "Extra shade on the panels here. [0–1]", low=0.0, high=1.0)
    weather: WeatherChoice | None = Field(None, description="Weather here; none: the tour's.")


class Away(Part):
    """A time when nobody is on board, within the tour or reaching into it."""

    start: LocalTime = Field(..., description="From (local).")
    end: LocalTime = Field(..., description="To (local).")
    schedule: str | None = Field(None, description="Thermostat schedule meanwhile; none: as otherwise.")


class Habits(Part):
    """What is done every day."""

    screens: Spans = Field(("17:00-09:00",), description="Window screens up.")
    closed: dict[str, Spans] = Field(
        default_factory=dict, description="Openings (by name) closed; unnamed ones: always."
    )
    rooflight_open: Spans = Field((), description="Rooflight ajar.")
    rooflight_cm2: float = quantity(60.0, "Free area of the rooflight ajar. [cm²]", low=0.0, high=5000.0)
    extract_fan: Spans = Field((), description="Wet-room extract fan on.")
    wipe_glass: Spans = Field(
        (), description="Water wiped off all glass, somebody awake inside; the cab's is wiped on every drive anyhow."
    )
    extract_m3_per_h: float = quantity(40.0, "Flow of the extract fan. [m³/h]", low=0.0, high=500.0)
    extract_fan_w: float = quantity(6.0, "Power of the extract fan. [W]", low=0.0, high=200.0)
    door_openings: float = quantity(15.0, "Door openings a day.", low=0.0, high=500.0, spread=(10.0, 20.0))
    door_air_share: float = quantity(
        0.5, "Living-area air changed at each opening. [0–1]", low=0.0, high=1.0, spread=(0.3, 0.8)
    )
    cold_water_l: float = quantity(6.0, "Cold water used each day (drinking, cooking, flush). [L]", low=0.0, high=500.0)
    cold_water_kept_share: float = quantity(
        0.5, "Share of it that does not reach the waste tank. [0–1]", low=0.0, high=1.0
    )
    heater_while_driving: bool = Field(False, description="True: heater and bottles stay on while driving.")
    drive_cab_c: float = quantity(20.0, "Cab temperature that the engine's heat keeps up. [°C]", low=0.0, high=30.0)
    drive_speed_m_per_s: float = quantity(20.0, "Mean road speed. [m/s]", low=1.0, high=40.0)
    snow_days: tuple[dt.date, ...] = Field((), description="Days of the tour on which snow covers the panels.")


class Tour(Part):
    """The whole tour."""

    title: str = text("tour", "A title.")
    invented: bool = Field(False, description="True: places are real but the plan and data are invented.")
    timezone: str = text(..., "IANA time zone of the local times, such as Europe/Riga.")
    start: LocalTime = Field(..., description="When the tour (and the simulation) starts, local time on the hour.")
    end: LocalTime = Field(..., description="When it ends, local time on the hour.")
    people: tuple[Person, ...] = Field((Person(), Person()), max_length=20, description="Who is on board.")
    stops: tuple[Stop, ...] = Field(..., min_length=1, max_length=400, description="Stops in order.")
    schedules: dict[str, Schedule] = Field(..., min_length=1, description="Named thermostat schedules.")
    schedule: str = text(..., "The schedule used unless a stop or an absence names another.")
    weather: WeatherChoice = Field(default_factory=WeatherChoice, description="Weather unless a stop gives its own.")
    draws: tuple[Draw, ...] = Field((), description="Showers and dishes.")
    cooking: tuple[Cooking, ...] = Field((), description="Meals.")
    drying: tuple[Drying, ...] = Field((), description="Wet kit.")
    away: tuple[Away, ...] = Field((), description="Absences.")
    habits: Habits = Field(default_factory=Habits, description="Daily habits.")
    learned: LearnedSection | None = Field(
        None, description="What a log said of the van, written by budget learn; a file name takes it from there."
    )
    start_inside_c: float = quantity(15.0, "Inside temperature at the start. [°C]", low=-40.0, high=40.0)

    @model_validator(mode="after")
    def _schedules_exist(self) -> Tour:
        named = [("schedule", self.schedule)]
        named += [(f"stop '{cut(s.place)}' schedule", s.schedule) for s in self.stops if s.schedule]
        named += [("away schedule", a.schedule) for a in self.away if a.schedule]
        for field, name in named:
            if name not in self.schedules:
                raise ValueError(f"{field} must be one of {listed(self.schedules)}, got '{cut(name)}'")
        return self
