"""The one hourly weather record, and what it must satisfy to exist."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from budget.errors import InputFault
from budget.weather.air import Floats
from budget.weather.estimate import estimated_climate

COLUMNS = ("temp_air", "relative_humidity", "wind_speed", "pressure", "ghi", "dni", "dhi", "temp_sky")
UNITS = {
    "temp_air": "°C",
    "relative_humidity": "%",
    "wind_speed": "m/s",
    "pressure": "Pa",
    "ghi": "W/m²",
    "dni": "W/m²",
    "dhi": "W/m²",
    "temp_sky": "°C",
    "cloud": "(0 clear, 1 overcast)",
}
# Outside these an hour's mean has never been observed at a road (records, from memory: -89 to 57 °C, 470 to 1085 hPa).
LIMITS = {
    "temp_air": (-90.0, 60.0),
    "relative_humidity": (0.0, 105.0),
    "wind_speed": (0.0, 75.0),
    "pressure": (45_000.0, 110_000.0),
    "ghi": (-50.0, 1500.0),
    "dni": (-50.0, 1500.0),
    "dhi": (-50.0, 1200.0),
    "temp_sky": (-150.0, 60.0),
    "cloud": (0.0, 1.0),
}
IRRADIANCE = ("ghi", "dni", "dhi")
TOO_WARM_K = 25.0  # four times the stated band of the estimated climate: no place's mean is that far above it
MOST_SHARE = 1.5  # no record of humidity stays under 1.5 %: one that does is a share of 0 to 1
HURRICANE_M_PER_S = 32.7  # Beaufort 12, whose hourly mean inland is rare enough to ask for the unit
ADVICE = {
    "temp_air": "if it is in °F, convert it with (F - 32) / 1.8 (a CSV may name the column temp_air_f), if in K, "
    "subtract 273.15",
    "relative_humidity": "check the column; a share from 0 to 1 needs multiplying by 100",
    "wind_speed": "if it is in km/h, divide by 3.6, in knots by 1.944",
    "pressure": "if it is in hPa or mbar, multiply by 100, in kPa by 1000, in mmHg by 133.3",
    "ghi": "if it is in kJ/m² an hour, divide by 3.6, in J/m² by 3600",
    "cloud": "divide percent by 100, tenths by 10, eighths by 8",
}


@dataclass(frozen=True, eq=False)
class HourlyWeather:
    """Weather by the hour at one place, or along a tour.

    ``frame`` is indexed by the start of each hour (time zone aware, no gaps) with the columns of ``COLUMNS``: temp_air
    [°C], relative_humidity [%] over liquid water, wind_speed at 10 m in the open [m/s], pressure [Pa], ghi, dni, dhi as
    means of the hour [W/m²], temp_sky [°C]. ``notices`` say what was estimated. The place is where the record stands:
    a station, a stop, or the first stop of a tour; ``apart_km`` how far a station lies at most from a stop it serves.
    """

    frame: pd.DataFrame
    notices: tuple[str, ...]
    source: str
    latitude_deg: float
    longitude_deg: float
    altitude_m: float
    apart_km: float = 0.0

    def __post_init__(self) -> None:
        index = self.frame.index
        if not isinstance(index, pd.DatetimeIndex) or index.tz is None or len(index) == 0:
            raise InputFault(f"{self.source}: a weather record must hold at least one hour with a time zone, got none.")
        steps = np.diff(index.tz_convert("UTC").tz_localize(None).to_numpy().astype("datetime64[s]"))
        if (steps != np.timedelta64(3600, "s")).any():
            raise InputFault(
                f"{self.source}: a weather record must have one row for each hour, in order, without gaps."
            )
        for name in COLUMNS:
            check_range(self.frame[name].to_numpy(dtype=float), name, self.source)

    @property
    def index(self) -> pd.DatetimeIndex:
        """Start of each hour."""
        return pd.DatetimeIndex(self.frame.index)

    def values(self) -> dict[str, Floats]:
        """The columns as plain arrays, by name."""
        return {name: self.frame[name].to_numpy(dtype=float) for name in COLUMNS}


def check_range(values: Floats, name: str, source: str) -> None:
    """InputFault unless every value lies within what the weather can do."""
    low, high = LIMITS[name]
    unit = UNITS[name]
    holes = int(np.count_nonzero(np.isnan(values)))
    if holes:
        raise InputFault(
            f"{source}: {name} must have a value for every hour, got {holes} without; fill or remove them."
        )
    if name == "temp_air" and values.size and values.min() > 45.0:
        raise InputFault(
            f"{source}: temp_air must be in {unit}, got nothing below {values.min():.1f}; {ADVICE['temp_air']}."
        )
    if name == "relative_humidity" and values.size and values.min() >= 0.0 and values.max() <= MOST_SHARE:
        raise InputFault(
            f"{source}: relative_humidity must be in {unit}, got nothing above {values.max():g}; {ADVICE[name]}."
        )
    if values.size and (values.min() < low or values.max() > high):
        advice = ADVICE.get(name, "correct or remove the wrong values")
        raise InputFault(
            f"{source}: {name} must lie between {low:g} and {high:g} {unit}, "
            f"got {values.min():g} to {values.max():g}; {advice}."
        )


def as_asked(
    source: str, own: dict[str, float], asked: dict[str, float | None]
) -> tuple[dict[str, float], tuple[str, ...]]:
    """A file's own place with what was asked for in its stead, and a notice where the two differ."""
    place = own | {name: value for name, value in asked.items() if value is not None}
    differing = [
        f"{name} {place[name]:g}, the file itself says {own[name]:g}" for name in own if place[name] != own[name]
    ]
    return place, tuple(f"{source}: taken as asked: {words}." for words in differing)


def check_season(values: Floats, index: pd.DatetimeIndex, latitude_deg: float, altitude_m: float, source: str) -> None:
    """InputFault when a record is so warm for its place and season that its degrees must be Fahrenheit.

    Compares the mean of two days or more with the estimated climate; a record in °F reads 15 to 65 too high.
    """
    if values.size < 48:
        return
    usual_c = float(np.mean(np.array(estimated_climate(latitude_deg, altitude_m)[0])[index.month.to_numpy() - 1]))
    mean_c = float(values.mean())
    if mean_c - usual_c > TOO_WARM_K:
        raise InputFault(
            f"{source}: temp_air must be in °C, got a mean of {mean_c:.1f} where about {usual_c:.0f} °C is usual "
            f"for the place and season; {ADVICE['temp_air']}."
        )


def tidied(frame: pd.DataFrame, source: str) -> tuple[pd.DataFrame, list[str]]:
    """A frame whose small excesses are taken back to their limits, and a notice for each; ranges are checked first."""
    notices: list[str] = []
    changed: dict[str, Floats] = {}
    for name in frame.columns:
        values = frame[name].to_numpy(dtype=float)
        check_range(values, name, source)
        if name == "wind_speed" and values.max() > HURRICANE_M_PER_S:
            notices.append(f"{source}: wind_speed reaches {values.max():.0f} m/s, a hurricane's; {ADVICE[name]}.")
        if name in IRRADIANCE and (values < 0.0).any():
            notices.append(f"{source}: {int((values < 0.0).sum())} negative values of {name} are taken as 0.")
            changed[name] = np.maximum(values, 0.0)
        if name == "relative_humidity" and (values > 100.0).any():
            notices.append(
                f"{source}: {int((values > 100.0).sum())} values of relative_humidity above 100 % count as 100."
            )
            changed[name] = np.minimum(values, 100.0)
    return frame.assign(**changed), notices
