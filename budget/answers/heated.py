"""What a van loses a kelvin as its heater heats it: warm air to every outlet, openings open or closed, by hand."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from budget.answers.heater_size import DESIGN_C, DESIGN_WIND_M_PER_S
from budget.engine.stepping import OUTDOORS, Floats
from budget.engine.warm_air import warm_air
from budget.physics.burner import stage_value
from budget.van.derived import (
    LOSS_CASES,
    REFERENCE_INSIDE_C,
    REFERENCE_OUTSIDE_C,
    REFERENCE_WIND_M_PER_S,
    Row,
    conductances_w_per_k,
)

if TYPE_CHECKING:
    from budget.tour.timeline import Timeline
    from budget.van.model import Van
    from budget.weather.record import HourlyWeather

ROUNDS = 30  # of the doorways and vents, whose air follows the zones' temperatures; half a round's change is taken


def heated_w_per_k(
    van: Van,
    screens_share: float = 1.0,
    closed: float | Sequence[float] = 1.0,
    inside_c: float = REFERENCE_INSIDE_C,
    outside_c: float = REFERENCE_OUTSIDE_C,
    wind_m_per_s: float = REFERENCE_WIND_M_PER_S,
) -> float:
    """Heat that burner and fan give, over the sensor zone's lead on outdoors, with every outlet blowing. [W/K]

    The zones beside it take what their outlets bring. No sun, no people, no sky, no stratification, nothing stored; at
    sea level. Within 5 % of what the engine settles at (a claim of the tests).
    """
    sensor = van.cabin.zone_index(van.heater.sensor_zone)
    air, outputs = warm_air(van, sensor), np.array([stage.output_w for stage in van.heater.stages])

    def at(table: Floats, given_w: float) -> Floats:
        return np.array([stage_value(max(given_w, outputs[0]), outputs, column) for column in table.T.copy()])

    zone_c, loss = np.full(len(van.cabin.zones), inside_c), 0.0
    for _ in range(ROUNDS):
        given_w = loss * (inside_c - outside_c)
        matrix = conductances_w_per_k(van, screens_share, closed, zone_c.tolist(), outside_c, wind_m_per_s)
        on_share = min(1.0, given_w / outputs[0])
        for (one, other), blown in zip(air.edges, on_share * at(air.flow_w_per_k, given_w), strict=True):
            matrix[other, other] += blown
            if one != OUTDOORS:
                matrix[other, one] -= blown
        tied = np.diag(np.where(matrix.diagonal() > 0.0, 0.0, 1.0))  # a zone that nothing leaves stays as it is
        above = np.linalg.solve(matrix + tied, at(air.heat_share, given_w))
        loss = 1.0 / float(above[sensor])
        zone_c = 0.5 * (zone_c + outside_c + above * loss * (inside_c - outside_c))
    return loss


def loss_cases(van: Van, timeline: Timeline | None = None, weather: HourlyWeather | None = None) -> list[Row]:
    """W/K as heated: on the tour where it is given, at night and by day in the reference weather."""
    rows = [] if timeline is None or weather is None else _on_the_tour(van, timeline, weather)
    stated = f"{REFERENCE_INSIDE_C:g} °C in, {REFERENCE_OUTSIDE_C:g} °C out, wind {REFERENCE_WIND_M_PER_S:g} m/s"
    there = f"{DESIGN_C:g} °C out, {DESIGN_WIND_M_PER_S:g} m/s unless asked otherwise"
    cases = (
        (
            "screens up, openings closed",
            1.0,
            f"the case of budget heater-size ({there}) and of learn (0 °C, its log's wind and sky); here ",
        ),
        ("screens down, openings open", 0.0, ""),
    )
    for words, share, used in cases:
        note = f"warm air to every outlet, burner and fan together; {used}{stated}"
        rows.append(Row(f"as heated, {words}", heated_w_per_k(van, share, share), "W/K", note, LOSS_CASES))
    return rows


def _on_the_tour(van: Van, timeline: Timeline, weather: HourlyWeather) -> list[Row]:
    """The mean hour of those in which the parked van is heated."""
    quarters = timeline.setpoint_c.reshape(-1, 4)
    heated = np.isfinite(quarters).all(axis=1) & timeline.heater_allowed & (timeline.moving == 0)
    if not heated.any():
        return []
    inside_c = float(quarters[heated].mean())
    outside_c = float(weather.frame["temp_air"].to_numpy()[heated].mean())
    wind = float((weather.frame["wind_speed"].to_numpy() * timeline.wind_factor)[heated].mean())
    if inside_c - outside_c < 1.0:
        return []
    screens, closed = float(timeline.screens[heated].mean()), timeline.closed[heated].mean(axis=0)
    loss = heated_w_per_k(van, screens, closed.tolist(), inside_c, outside_c, wind)
    doors = [share for share, opening in zip(closed, van.cabin.openings, strict=True) if opening.width_m > 0.0]
    shut = f", openings closed {100.0 * np.mean(doors):.0f} %" if doors else ""
    note = (
        f"the mean of its heated hours: {inside_c:.0f} °C in, {outside_c:.0f} °C out, wind {wind:.0f} m/s, screens up "
        f"{100.0 * screens:.0f} %{shut} of the time"
    )
    return [Row("as heated on this tour", loss, "W/K", note, LOSS_CASES)]
