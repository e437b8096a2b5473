"""The columns of the hourly table, each with unit, kind, sign and meaning: what stands before the ledger's own."""

from __future__ import annotations

from typing import TYPE_CHECKING

from budget.results.ledger import Column

if TYPE_CHECKING:
    from budget.results.result import Result


def _column(name: str, meaning: str, sign: str = "never negative") -> Column:
    return Column(name=name, family="surroundings", kind="measure", sign=sign, meaning=meaning, index=())


class Word(Column):
    """A column of words, which have no unit."""

    @property
    def unit(self) -> str:
        """That it is a word."""
        return "word"


def _word(name: str, meaning: str) -> Word:
    return Word(name=name, family="surroundings", kind="measure", sign="none", meaning=meaning, index=())


SURROUNDINGS = (
    _word("place", "stop, or the stop that is driven to"),
    _word("moving", "parked, driving or ferry"),
    _word("fuel", "what the heater uses"),
    _column("outdoor_c", "air outdoors, mean of the hour", "either"),
    _column("outdoor_humidity_percent", "relative humidity outdoors over liquid water"),
    _column("wind_m_per_s", "wind 10 m above open ground"),
    _column("pressure_pa", "air pressure at the van"),
    _column("ghi_w_per_m2", "global irradiance on the level"),
    _column("dni_w_per_m2", "direct irradiance towards the sun"),
    _column("dhi_w_per_m2", "diffuse irradiance on the level"),
    _column("sky_c", "radiant temperature of the sky", "either"),
    _column("setpoint_c", "room setpoint, mean of the quarters that have one; none: off", "either"),
    _column("water_setpoint_c", "boiler set temperature, likewise", "either"),
    _column("people_inside", "people on board, mean of the hour"),
    _column("hookup_w", "power that the hook-up can give"),
)


def hourly_columns(result: Result) -> tuple[Column, ...]:
    """What each column of ``result.hourly`` is, in its order; a stock stands at the end of the hour."""
    declared = {column.name: column for column in (*SURROUNDINGS, *result.ledger)}
    return tuple(declared[name] for name in result.hourly.columns)
