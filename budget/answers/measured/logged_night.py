"""A log laid on hours from its first reading: dark stretches of known heat, and what the log cannot tell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd

from budget.answers.measured.log_file import LogFile
from budget.errors import InputFault
from budget.weather.air import Floats
from budget.weather.sun import Sun

EDGE_WINDOW_S = 600.0  # readings this near an hour edge are fitted by a line
LONGEST_INSIDE_GAP_S = 3600.0
LONGEST_OUTSIDE_GAP_S = 3.0 * 3600.0
LEAST_HOURS = 4
MOST_STRETCHES = 6  # fitted together: each takes about 5 s, and the sixth narrows little that five left open
SUN_DOWN_ZENITH_DEG = 91.0  # of mid-hour: the sun's disc is down, what is left of daylight is below 20 W/m²
GAS_STEP_KG = 0.06  # a scale that reads to 50 g shows no less
RISE_K = 1.0  # in an hour without heat, from which something must have heated
COLDER_K = 3.0
SMALL_CHANGE_W = 50.0  # between two hours, below which the air has no corner
SLOWEST_H = 100.0  # no van keeps its warmth for so long; common practice, no source
OFF, METERED, WEIGHED = 0, 1, 2


@dataclass(frozen=True, eq=False)
class Stretch:
    """Hours on end. ``inside_c`` (hours + 1) at the edges, NaN where not read; ``quarter_c`` (hours, 4) between them.

    ``inside_error`` (hours + 1): variance of an edge's temperature as a multiple of a single reading's, less than 1
    where several readings were joined.

    ``mode`` says how the heat of each hour is known, ``heat_w`` how much where metered. ``weighings`` are pairs of
    hours since the start with the gas that the bottle lost between them [kg]. Wind, screens and sky are the log's
    remarks.
    """

    log: Path
    start: pd.Timestamp
    inside_c: Floats
    inside_error: Floats
    quarter_c: Floats
    outside_c: Floats
    mode: np.ndarray
    heat_w: Floats
    weighings: tuple[tuple[float, float, float], ...]
    wind_m_per_s: float
    screens_share: float
    sky_delta_k: float

    @property
    def hours(self) -> int:
        """Number of hours."""
        return len(self.outside_c)

    @property
    def end(self) -> pd.Timestamp:
        """The last hour edge."""
        return self.start + pd.Timedelta(hours=self.hours)

    @property
    def is_absolute(self) -> bool:
        """Whether any of its heat is known in watts."""
        return bool((self.heat_w > 0.0).any() or self.weighings)


@dataclass(frozen=True, eq=False)
class Night:
    """The stretches of logs that can be compared, with what had to be left out and what looks doubtful."""

    stretches: tuple[Stretch, ...]
    cautions: tuple[str, ...]

    @property
    def hours(self) -> int:
        """Hours in all stretches."""
        return sum(stretch.hours for stretch in self.stretches)

    @property
    def absolute(self) -> bool:
        """Whether any of the heat is known in watts."""
        return any(stretch.is_absolute for stretch in self.stretches)


def together(nights: Sequence[Night]) -> Night:
    """The stretches of several logs in order of time, the longest ones where there are too many, metered ones first.

    InputFault where two logs cover the same hours: a night counts once.
    """
    found = sorted((stretch for night in nights for stretch in night.stretches), key=lambda stretch: stretch.start)
    cautions = [caution for night in nights for caution in night.cautions]
    for one, other in pairwise(found):
        if other.start < one.end:
            raise InputFault(
                f"a night must be given once, got {one.log} and {other.log} for {other.start:%d %B %Y %H:%M}; "
                "leave one of them out, or join them in one file."
            )
    best = sorted(found, key=lambda stretch: (-stretch.is_absolute, -stretch.hours, stretch.start))[:MOST_STRETCHES]
    if len(found) > MOST_STRETCHES:
        cautions.append(
            f"Of {len(found)} stretches the {MOST_STRETCHES} that tell most are used: metered or weighed ones, then "
            "the longest."
        )
    return Night(tuple(sorted(best, key=lambda stretch: stretch.start)), tuple(cautions))


def lay_out(log: LogFile, latitude_deg: float, longitude_deg: float) -> Night:
    """The usable stretches of a log. InputFault when there is none, or when something heated that is not logged."""
    seconds = ((log.stamps - log.stamps[0]) / pd.Timedelta(seconds=1)).to_numpy(dtype=float)
    hours = int((seconds[-1] + 60.0) // 3600.0)
    name = log.path.name
    if hours < LEAST_HOURS:
        raise InputFault(
            f"{log.path}: a log must cover at least {LEAST_HOURS} h, got {seconds[-1] / 3600.0:.1f} h; log a night."
        )
    fine = np.arange(0.0, 3600.0 * hours, 300.0) + 150.0
    outside_fine = _between(seconds, log.outside_c, fine, LONGEST_OUTSIDE_GAP_S)
    outside = outside_fine.reshape(hours, 12).mean(axis=1)
    inside_fine = _between(seconds, log.inside_c, fine, np.inf)
    quarter = inside_fine.reshape(hours, 4, 3).mean(axis=2)
    mode, heat_w, weighings = _energy(log, seconds, fine, hours)
    steady = np.concatenate([[False], np.abs(np.diff(np.nan_to_num(heat_w))) < SMALL_CHANGE_W, [False]])
    edges = [_at_edge(seconds, log.inside_c, 3600.0 * h, bool(steady[h])) for h in range(hours + 1)]
    inside, inside_error = (np.array(values) for values in zip(*edges, strict=True))
    index = pd.date_range(log.stamps[0], periods=hours, freq="h")
    sun_up = Sun.over(index, latitude_deg, longitude_deg).zenith_deg < SUN_DOWN_ZENITH_DEG
    cautions = []
    if sun_up.any():
        cautions.append(f"{name}: {int(sun_up.sum())} h with the sun up are left out; sun is heat that is not logged.")
    unknown = np.isnan(outside) | np.isnan(heat_w)
    if unknown.any():
        cautions.append(
            f"{name}: {int(unknown.sum())} h are left out, for want of the outside temperature or the heat."
        )
    usable = ~sun_up & ~unknown
    stretches = []
    for begin, last in _runs(usable):
        read = np.flatnonzero(~np.isnan(inside[begin:last]))
        first = begin + int(read[0]) if read.size else last
        if last - first < LEAST_HOURS or np.count_nonzero(~np.isnan(inside[first : last + 1])) < LEAST_HOURS:
            continue
        within = tuple((a - first, b - first, kg) for a, b, kg in weighings if a >= first - 1e-6 and b <= last + 1e-6)
        stretches.append(
            Stretch(
                log=log.path,
                start=index[first].tz_convert(log.timezone),
                inside_c=inside[first : last + 1],
                inside_error=inside_error[first : last + 1],
                quarter_c=quarter[first:last],
                outside_c=outside[first:last],
                mode=mode[first:last],
                heat_w=heat_w[first:last],
                weighings=within,
                **log.remarks,
            )
        )
    if not stretches:
        raise InputFault(
            f"{log.path}: a log must hold {LEAST_HOURS} h on end with the sun down, both temperatures and known heat, "
            f"got none in its {hours} h; log from dusk to dawn."
        )
    for stretch in stretches:
        cautions += _doubts(stretch, name)
    return Night(tuple(stretches), tuple(cautions))


def _at_edge(seconds: Floats, values: Floats, at_s: float, is_steady: bool) -> tuple[float, float]:
    """A temperature at an instant, and its variance as a multiple of a reading's.

    A line through the readings near it, or between the two that enclose it. Where the heat changes, or the log begins,
    the air's temperature has a corner that a line would cut.
    """
    near = (np.abs(seconds - at_s) <= EDGE_WINDOW_S) & ~np.isnan(values)
    count = np.count_nonzero(near)
    if is_steady and count >= 3:
        off = seconds[near] - at_s
        middle = off.mean()
        error = 1.0 / count + middle**2 / ((off - middle) ** 2).sum()
        return float(np.polynomial.polynomial.polyfit(off, values[near], 1)[0]), float(error)
    return float(_between(seconds, values, np.array([at_s]), LONGEST_INSIDE_GAP_S)[0]), 1.0


def _between(seconds: Floats, values: Floats, at_s: Floats, longest_gap_s: float) -> Floats:
    """Linear between readings, NaN inside longer gaps and beyond the ends."""
    read = ~np.isnan(values)
    if np.count_nonzero(read) < 2:
        return np.full(len(at_s), np.nan)
    x, y = seconds[read], values[read]
    after = np.clip(np.searchsorted(x, at_s, side="left"), 1, len(x) - 1)
    gap = np.where(x[after] == at_s, 0.0, x[after] - x[after - 1])
    outside = np.maximum(x[0] - at_s, at_s - x[-1]) > EDGE_WINDOW_S
    found: Floats = np.interp(at_s, x, y)
    found[(gap > longest_gap_s) | outside] = np.nan
    return found


def _energy(
    log: LogFile, seconds: Floats, fine: Floats, hours: int
) -> tuple[np.ndarray, Floats, list[tuple[float, float, float]]]:
    """How the heat of each hour is known, how much it is where metered [W], and the weighings."""
    heat = np.zeros(hours)
    mode = np.full(hours, OFF)
    if "heater_w" in log.energy:
        row = np.clip(np.searchsorted(seconds, fine, side="right") - 1, 0, len(seconds) - 1)
        heat = heat + log.heater_w[row].reshape(hours, 12).mean(axis=1)
    if "mains_kwh" in log.energy:
        edges: Floats = 3600.0 * np.arange(hours + 1, dtype=np.float64)
        heat = heat + np.diff(_between(seconds, log.mains_kwh, edges, np.inf)) * 1000.0
    mode[heat > 0.0] = METERED
    weighings = []
    read = np.flatnonzero(~np.isnan(log.gas_kg))
    if "gas_kg" in log.energy and len(read) < 2:
        raise InputFault(
            f"{log.path}: gas_kg must stand at two readings or more, got {len(read)}; weigh before and after."
        )
    for a, b in pairwise(read):
        lost = float(log.gas_kg[a] - log.gas_kg[b])
        if lost < -GAS_STEP_KG:
            raise InputFault(
                f"{log.path}: gas_kg must not rise, got {log.gas_kg[b]:g} after {log.gas_kg[a]:g} kg; "
                "log one bottle, without a change."
            )
        if lost >= GAS_STEP_KG:
            from_h, to_h = seconds[a] / 3600.0, seconds[b] / 3600.0
            weighings.append((from_h, to_h, lost))
            mode[int(np.floor(from_h + 1e-6)) : int(np.ceil(to_h - 1e-6))] = WEIGHED
    return mode, heat, weighings


def _runs(usable: np.ndarray) -> list[tuple[int, int]]:
    padded = np.concatenate([[False], usable, [False]]).astype(int)
    change = np.diff(padded)
    return list(zip(np.flatnonzero(change == 1).tolist(), np.flatnonzero(change == -1).tolist(), strict=True))


def _doubts(stretch: Stretch, name: str) -> list[str]:
    """What the readings alone give away: unlogged heat (refused), a stuck sensor, too little difference."""
    said = []
    rise = np.diff(stretch.inside_c)
    warmer = stretch.inside_c[:-1] - stretch.outside_c
    heated = (stretch.mode == OFF) & (rise > RISE_K) & (warmer > COLDER_K)
    if heated.any():
        h = int(np.flatnonzero(heated)[0])
        raise InputFault(
            f"{name}: without heat the inside cannot warm up, got {rise[h]:+.1f} K in the hour from "
            f"{stretch.start + pd.Timedelta(hours=h):%d %B %H:%M} with no heat logged; log the heater or leave it off."
        )
    held = (stretch.mode[1:] == OFF) & (stretch.mode[:-1] == OFF)
    cooled = stretch.inside_c[:-2] - stretch.inside_c[2:]
    held &= (cooled < 2.0 * warmer[1:] / SLOWEST_H) & (warmer[1:] > 2.0 * COLDER_K)
    if held.any():
        h = int(np.flatnonzero(held)[0])
        raise InputFault(
            f"{name}: without heat the inside must cool, got {-cooled[h]:+.1f} K in the two hours from "
            f"{stretch.start + pd.Timedelta(hours=h):%d %B %H:%M} with outdoors {warmer[h]:.0f} K colder and no heat "
            "logged; log the heater, cut the log to where it is off, or look whether a sensor drifts."
        )
    for place, values in (("inside", stretch.inside_c), ("outside", stretch.outside_c)):
        if np.nanmax(values) - np.nanmin(values) < 0.02 and stretch.hours >= 6:
            said.append(f"{name}: the {place} sensor did not move at all in {stretch.hours} h; is it stuck?")
    if np.nanmax(np.abs(stretch.inside_c[1:] - stretch.outside_c)) < COLDER_K:
        said.append(f"{name}: inside and outside differ by less than {COLDER_K:g} K; such a log says almost nothing.")
    return said
