"""The leisure battery: nights without sun until cut-out, hours to drive today to reach tomorrow, amp-hours by load."""

from __future__ import annotations

import datetime as dt
import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from budget.answers.battery_words import EVENING_H, MOST_DRIVE_H, drawn_below, sentences
from budget.answers.detail import Detail, first_hour
from budget.engine import arrays
from budget.engine.layout import FIXED_LOADS
from budget.engine.stepping import Floats
from budget.stem import apart
from budget.tour.timeline import on_a_charger
from budget.van.charge import cut_out_at_share, reconnects_at_share, usable_ah

if TYPE_CHECKING:
    from budget.answers.prepared import Prepared
    from budget.results.result import Result

STEP_H = 0.25
AHEAD_H = 24


@dataclass(frozen=True, kw_only=True)
class Day:
    """Amp-hours of one local day: the heater's fan picked out, everything used, and what each source brought."""

    day: str
    fan_ah: float
    used_ah: float
    used_by_load_ah: dict[str, float]
    solar_ah: float
    alternator_ah: float
    mains_charger_ah: float
    lowest_charge_share: float


@dataclass(frozen=True, kw_only=True)
class Stand:
    """One evening off the grid, and how long the charge lasts from then with no sun, drive or hook-up.

    ``lasts_h`` None: to the tour's end; ``nights`` is the same in days of 24 h. ``drive_h`` is the least drive from
    then on that keeps the loads on for the next 24 h, 0 when none is needed, None when not even ten hours do.
    ``no_charge_h`` are those of the next 24 h in which lithium cells are too cold to be charged. ``why_not`` says what
    a drive of ten hours lacks where that does not do. ``cut_out``: the loads are cut out already and come back on a
    charger, or at ``reconnects_at_share`` of the rated charge; they are cut at ``cut_out_at_share``, both as cold as
    the battery is then.
    """

    at: dt.datetime
    place: str
    charge_share: float
    lasts_h: int | None
    nights: float | None
    drive_h: float | None
    no_charge_h: int
    cut_out: bool
    cut_out_at_share: float
    reconnects_at_share: float
    why_not: str | None = None


@dataclass(frozen=True, kw_only=True)
class Battery:
    """The answer: every evening off the grid (or the one that was asked for), and the days.

    ``usable_ah`` is what a full battery gives before its cut-out at the coldest that it gets on the tour.
    """

    usable_ah: float
    stands: tuple[Stand, ...]
    days: tuple[Day, ...]
    sentences: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """JSON-ready; every name with its unit."""
        return asdict(self)


def answer(source: Result | Prepared | Detail, at: dt.datetime | str | None = None) -> Battery:
    """The battery of one run of the tour; ``at`` is the evening that is judged, none: each evening off the grid.

    InputFault where ``at`` is no time of the tour.
    """
    run = Detail.of(source)
    hours = evenings(run) if at is None else [run.hour_of(at)]
    with ThreadPoolExecutor() as threads:  # the march releases the interpreter lock
        stands = tuple(threads.map(lambda hour: stand(run, hour), hours))
    return Battery(
        usable_ah=usable_ah(run.van.power.battery, float(run.node_c("battery").min())),
        stands=stands,
        days=tuple(days(run)),
        sentences=(*sentences(run, stands), *drawn_below(run)),
    )


def evenings(run: Detail) -> list[int]:
    """Hours that start at 18:00 with the van parked off the grid, somebody on board for the night."""
    line = run.timeline
    off_grid = ~on_a_charger(line.hookup_w, run.van.power.mains_charger_a) & (line.moving == 0) & (line.away < 1.0)
    return np.flatnonzero((run.index.hour == EVENING_H) & off_grid).tolist()


def stand(run: Detail, hour: int) -> Stand:
    """One evening: the tour as it was until then, and no charge from then on but the drive that is tried."""
    still = _on_a_drive(run, hour, 0.0)
    cut, already = _cut_out_after(still, hour), cut_out_already(still, hour)
    until = None if cut is None else cut - hour
    nights = None if until is None else until / 24.0
    frozen = run.node_c("battery")[hour : hour + AHEAD_H] <= 0.0
    drive_h = 0.0 if until is None or until >= AHEAD_H else drive_to_reach_h(run, hour, already)
    battery, battery_c = run.van.power.battery, float(run.node_c("battery")[hour])
    return Stand(
        at=run.time(hour),
        place=run.place(hour),
        charge_share=float(run.stock("charge_ah")[hour]) / battery.capacity_ah,
        lasts_h=until,
        nights=nights,
        drive_h=drive_h,
        no_charge_h=int(np.count_nonzero(frozen)) if battery.chemistry == "lifepo4" else 0,
        cut_out=already,
        cut_out_at_share=cut_out_at_share(battery, battery_c),
        reconnects_at_share=reconnects_at_share(battery, battery_c),
        why_not=why_not(run, hour) if drive_h is None else None,
    )


def why_not(run: Detail, hour: int) -> str:
    """What keeps ten hours of driving from an hour on from reaching the next day."""
    tried, hours = _on_a_drive(run, hour, MOST_DRIVE_H), slice(hour, hour + round(MOST_DRIVE_H))
    brought = float(tried.flow("alternator_ah")[hours].sum())
    if float(tried.flow("cut_out_s")[hours].sum()) >= 3600.0 * MOST_DRIVE_H:
        return f"the battery is cut out already, and with the {brought:.0f} Ah that it brings stays so"
    cold = int(np.count_nonzero(tried.node_c("battery")[hours] <= 0.0))
    if run.van.power.battery.chemistry == "lifepo4" and cold:
        return (
            f"for {cold} h of the drive its cells stand at or below 0 °C and take no charge; it "
            f"only feeds the loads meanwhile, {brought:.0f} Ah: warm the battery first"
        )
    used = float(run.fed().flow("load_ah")[hour : hour + AHEAD_H].sum())
    return f"it brings {brought:.0f} Ah, and the day takes {used:.0f} Ah with power"


def cut_out_already(still: Detail, hour: int) -> bool:
    """Whether the loads are cut out as an hour begins: without charge they then are in each of its quarters."""
    return bool(still.flow("cut_out_s")[hour] >= 3600.0)


def drive_to_reach_h(run: Detail, hour: int, already: bool) -> float | None:
    """Least drive from an hour on, in quarter hours, without which something is cut out within a day of it. [h]

    The alternator charges as the battery takes it: a cold or nearly full one takes less. More never harms, so the
    steps are halved. None where ten hours do not do. Loads that are cut out ``already`` come back on the drive, so
    that they need only be on from its end.
    """

    def reaches(drive_h: float) -> bool:
        begins = hour + (math.ceil(drive_h) if already else 0)
        cut = _cut_out_after(_on_a_drive(run, hour, drive_h), begins)
        return cut is None or cut >= hour + AHEAD_H

    if not reaches(MOST_DRIVE_H):
        return None
    low, high = 0, round(MOST_DRIVE_H / STEP_H)
    while high - low > 1:
        middle = (low + high) // 2
        if reaches(middle * STEP_H):
            high = middle
        else:
            low = middle
    return high * STEP_H


def _cut_out_after(run: Detail, hour: int) -> int | None:
    """First hour of a run, from an hour on, in which the loads are cut out; None for none."""
    found = first_hour(run.flow("cut_out_s")[hour:])
    return None if found is None else hour + found


def _on_a_drive(run: Detail, hour: int, drive_h: float) -> Detail:
    """The run with no charge from an hour on but that of a drive that begins then."""
    hours, rows = run.hours.copy(), run.rows.copy()
    rows[hour:, arrays.PANEL_W] = 0.0
    hours["hookup_w"][hour:] = 0.0
    hours["fuel"][hour:] = 0
    hours["alternator"][hour:] = np.clip(drive_h - np.arange(len(rows) - hour), 0.0, 1.0)
    return run.again(hours=hours, rows=rows)


def days(run: Detail) -> list[Day]:
    """Amp-hours of each local day."""
    names = apart((*FIXED_LOADS, *(load.name for load in run.van.power.loads)), between=" ")
    date = run.index.strftime("%Y-%m-%d").to_numpy()
    by_load: dict[str, Floats] = {name: run.flow("load_ah", k) for k, name in enumerate(names)}
    share = run.stock("charge_ah")[1:] / run.van.power.battery.capacity_ah
    found = []
    for day in dict.fromkeys(date.tolist()):
        here = date == day
        used = {name: float(ah[here].sum()) for name, ah in by_load.items()}
        found.append(
            Day(
                day=day,
                fan_ah=used["heater_fan"],
                used_ah=sum(used.values()),
                used_by_load_ah={name: ah for name, ah in used.items() if ah > 0.0},
                solar_ah=float(run.flow("solar_ah")[here].sum()),
                alternator_ah=float(run.flow("alternator_ah")[here].sum()),
                mains_charger_ah=float(run.flow("mains_charger_ah")[here].sum()),
                lowest_charge_share=float(share[here].min()),
            )
        )
    return found
