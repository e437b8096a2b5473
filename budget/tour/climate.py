"""What a tour file may say about its weather; reading and making it is the work of budget.weather."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from budget.part import Part, quantity

Celsius = Annotated[float, Field(ge=-80.0, le=50.0)]
Kelvin = Annotated[float, Field(ge=0.0, le=40.0)]
Share = Annotated[float, Field(ge=0.0, le=1.0)]


class Climate(Part):
    """Monthly climate of a place, for the clear-sky source; what is left out is estimated and said to be."""

    mean_c: tuple[Celsius, ...] | None = Field(
        None, min_length=12, max_length=12, description="Monthly mean temperature, January first. [°C]"
    )
    daily_range_k: tuple[Kelvin, ...] | None = Field(
        None, min_length=12, max_length=12, description="Monthly mean daily range. [K]"
    )
    cloud_share: tuple[Share, ...] | None = Field(
        None, min_length=12, max_length=12, description="Monthly mean cloudiness. [0–1]"
    )
    wind_m_per_s: float | None = quantity(None, "Mean wind at 10 m in the open. [m/s]", low=0.0, high=30.0)
    humidity_percent: float | None = quantity(None, "Mean relative humidity. [%]", low=5.0, high=100.0)


class WeatherChoice(Part):
    """Where the weather comes from."""

    source: Literal["clear-sky", "typical-year", "csv"] = Field("clear-sky", description="Kind of source.")
    file: str | None = Field(None, description="File of a typical year or CSV, relative to the tour file.")
    climate: Climate = Field(default_factory=Climate, description="For the clear-sky source.")
    station_altitude_m: float | None = quantity(
        None,
        "Altitude of the file's station, instead of what the file says, or of the climate's means. [m]",
        low=-450.0,
        high=6000.0,
    )
    lapse_k_per_km: float = quantity(
        6.5, "Cooling with altitude between station and pitch. [K/km]", low=-15.0, high=12.0
    )
    offset_k: float = quantity(0.0, "Added to every temperature (a colder or milder winter). [K]", low=-20.0, high=20.0)

    @model_validator(mode="after")
    def _file_where_one_is_meant(self) -> WeatherChoice:
        if self.source != "clear-sky" and not self.file:
            raise ValueError(f'must name a file for the source "{self.source}"; add file = "..."')
        if self.source == "clear-sky" and self.file:
            raise ValueError(
                f'must say what kind of file "{self.file}" is; add source = "csv" or source = "typical-year"'
            )
        return self
