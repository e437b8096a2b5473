"""Evenings, drives and days of the leisure battery, of stand-ins for its runs: each figure by hand."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace as Found
from typing import Any

import numpy as np
import pandas as pd
import pytest
from small_tour import small
from test_answers_battery import AT, steady_draw

from budget.answers import battery, battery_words
from budget.answers.detail import Detail
from budget.engine import arrays as A
from budget.engine.layout import FIXED_LOADS
from budget.physics.battery import capacity_share
from budget.van.power import Battery

NOON = pd.Timestamp("2027-01-12 12:00")


def test_an_evening_counts_at_six_parked_off_the_grid_with_somebody_on_board() -> None:
    """Five days from noon: hooked up, on a ferry, away all hour, away for most of it, and at home."""
    index = pd.date_range(NOON, periods=120, freq="h")
    line = Found(hookup_w=np.zeros(120), moving=np.zeros(120, dtype=int), away=np.zeros(120))
    line.hookup_w[6], line.moving[30], line.away[54], line.away[78] = 1.0, 2, 1.0, 0.9
    van = Found(power=Found(mains_charger_a=20.0))
    assert battery.evenings(Found(van=van, timeline=line, index=index)) == [78, 102]  # type: ignore[arg-type]
    van.power.mains_charger_a = 0.0
    assert battery.evenings(Found(van=van, timeline=line, index=index)) == [6, 78, 102]  # type: ignore[arg-type]


def test_a_try_has_no_sun_no_hook_up_no_element_and_a_drive_from_its_hour_on() -> None:
    """2.25 hours of it; what was until then stays as it was."""
    run = Detail.of(small())
    rows, hours = run.rows.copy(), run.hours.copy()
    rows[:, A.PANEL_W] = 77.0
    hours["hookup_w"], hours["fuel"], hours["alternator"] = 900.0, 2, 0.125
    seen: dict[str, Any] = {}
    here: Any = Found(hours=hours, rows=rows, again=lambda **given: seen.update(given))
    battery._on_a_drive(here, 30, 2.25)
    assert (seen["rows"][:30, A.PANEL_W] == 77.0).all() and (seen["rows"][30:, A.PANEL_W] == 0.0).all()
    assert (rows[:, A.PANEL_W] == 77.0).all() and (hours["alternator"] == 0.125).all(), "the run itself stays"
    for name, before, after in (("hookup_w", 900.0, 0.0), ("fuel", 2, 0)):
        assert (seen["hours"][name][:30] == before).all() and (seen["hours"][name][30:] == after).all(), name
    driven = seen["hours"]["alternator"]
    assert driven[28:35].tolist() == [0.125, 0.125, 1.0, 1.0, 0.25, 0.0, 0.0]
    others = [column for column in range(rows.shape[1]) if column != A.PANEL_W]
    assert (seen["rows"][:, others] == rows[:, others]).all()


def test_what_is_drawn_below_the_cut_out_is_told_from_half_a_per_cent_on() -> None:
    """100 Ah of agm at 25 °C, cut out at half: 48.2 Ah at the end of the hour in which it is cut out first, 49.0 of a
    second time; hours that stay cut out count no further."""
    van = small().van
    held = van.power.battery.model_copy(update={"capacity_ah": 100.0, "chemistry": "agm", "cut_out_share": 0.5})
    power = van.power.model_copy(update={"battery": held})
    cut_s = np.array([0.0, 900.0, 3600.0, 0.0, 1800.0])

    def told(*charge_ah: float) -> list[str]:
        stocks = np.column_stack([np.array(charge_ah), np.full(6, 25.0)])
        run: Any = Found(
            van=van.model_copy(update={"power": power}), flow=lambda name: {"cut_out_s": cut_s}[name],
            stock=lambda name: {"charge_ah": stocks[:, 0]}[name], many=Found(stocks=stocks),
            built=Found(stocks=Found(node_c=1), node_names=["battery"]),
        )  # fmt: skip
        return battery_words.drawn_below(run)

    assert told(60.0, 52.0, 48.2, 40.0, 55.0, 49.0) == [
        "Where it is cut out the charge stands up to 2 % below the cut-out: a source that carries the loads carries "
        "them past it, and the heater's fan runs its quarter hour to the end."
    ]
    assert told(60.0, 52.0, 49.6, 40.0, 55.0, 49.7) == []
    cut_s[:] = 0.0
    assert told(60.0, 52.0, 48.2, 40.0, 55.0, 49.0) == []


def cut_from(first: int | None, hours: int = 72, until: int | None = None) -> Any:
    """A run whose loads are cut out from an hour on, for one or more."""
    cut_s = np.zeros(hours)
    if first is not None:
        cut_s[first:until] = 900.0
    return Found(flow=lambda name: {"cut_out_s": cut_s}[name])


@pytest.mark.parametrize(
    ("needs_h", "drive_h"),
    [(0.1, 0.25), (0.25, 0.25), (0.26, 0.5), (3.3, 3.5), (9.75, 9.75), (9.8, 10.0), (10.0, 10.0)],
)
def test_the_least_drive_is_found_to_the_quarter_hour(
    monkeypatch: pytest.MonkeyPatch, needs_h: float, drive_h: float
) -> None:
    """Hour 20 on; a drive that does is cut out a day later, one that does not an hour before that."""
    tried: list[float] = []

    def on_a_drive(run: Any, hour: int, drive_h: float) -> Any:
        assert (run, hour) == ("run", 20)
        tried.append(drive_h)
        return cut_from(44 if drive_h >= needs_h else 43)

    monkeypatch.setattr(battery, "_on_a_drive", on_a_drive)
    assert battery.drive_to_reach_h("run", 20, already=False) == drive_h  # type: ignore[arg-type]
    assert (tried[0], len(tried)) == (10.0, len(set(tried))) and len(tried) <= 7, "halved"


def test_where_ten_hours_do_not_do_there_is_no_drive(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(battery, "_on_a_drive", lambda run, hour, drive_h: cut_from(43))
    assert battery.drive_to_reach_h("run", 20, already=False) is None  # type: ignore[arg-type]
    monkeypatch.setattr(battery, "_on_a_drive", lambda run, hour, drive_h: cut_from(None))
    assert battery.drive_to_reach_h("run", 20, already=False) == 0.25  # type: ignore[arg-type]


def test_loads_that_are_cut_out_need_only_be_on_from_the_drives_end(monkeypatch: pytest.MonkeyPatch) -> None:
    """Cut out for the first three hours whatever is driven: 2.25 hours end within the third."""
    monkeypatch.setattr(battery, "_on_a_drive", lambda run, hour, drive_h: cut_from(20, until=23))
    assert battery.drive_to_reach_h("run", 20, already=True) == 2.25  # type: ignore[arg-type]
    assert battery.drive_to_reach_h("run", 20, already=False) is None  # type: ignore[arg-type]


def test_loads_are_cut_out_already_where_they_are_for_the_whole_hour() -> None:
    for seconds, already in ((3600.0, True), (3599.0, False)):
        still: Any = Found(flow=lambda name, s=seconds: {"cut_out_s": np.array([0.0, s, 0.0])}[name])
        assert battery.cut_out_already(still, 1) is already
        assert battery.cut_out_already(still, 2) is False


def evening(monkeypatch: pytest.MonkeyPatch, lasts_h: int | None, **cells: Any) -> tuple[battery.Stand, list[Any]]:
    """Hour 30 of a tour of 72, at -4 °C then, warmer than 0 °C for the last four of the next 24 hours and after."""
    asked: list[Any] = []
    temp_c, charge = np.full(73, 5.0), np.full(73, 200.0)
    temp_c[20:50], charge[30] = -4.0, 120.0
    temp_c[49] = 0.0
    run: Any = Found(
        node_c=lambda name: {"battery": temp_c}[name], stock=lambda name: {"charge_ah": charge}[name],
        van=Found(power=Found(battery=Battery(**({"capacity_ah": 160.0} | cells)))),
        time=lambda hour: NOON + dt.timedelta(hours=hour), place=lambda hour: f"place {hour}",
    )  # fmt: skip

    def drive(run: Any, hour: int, already: bool) -> float | None:
        asked.append((hour, already))
        return None

    monkeypatch.setattr(battery, "_on_a_drive", lambda *given: cut_from(None if lasts_h is None else 30 + lasts_h))
    monkeypatch.setattr(battery, "drive_to_reach_h", drive)
    monkeypatch.setattr(battery, "why_not", lambda run, hour: f"why not at {hour}")
    return battery.stand(run, 30), asked


def test_an_evening_is_told_with_its_charge_its_hours_and_its_cold_cells(monkeypatch: pytest.MonkeyPatch) -> None:
    """120 of 160 Ah at -4 °C, where lithium gives 0.885 - 0.185 × 4 / 20 = 0.848 of its rating."""
    found, asked = evening(monkeypatch, 18, cut_out_share=0.1, reconnect_share=0.2)
    assert (found.at, found.place, found.charge_share) == (NOON + dt.timedelta(hours=30), "place 30", 0.75)
    assert (found.lasts_h, found.nights, found.no_charge_h, found.cut_out) == (18, 0.75, 20, False)
    assert (found.drive_h, found.why_not, asked) == (None, "why not at 30", [(30, False)])
    assert found.cut_out_at_share == pytest.approx(1.0 - 0.848 * 0.9)
    assert found.reconnects_at_share == pytest.approx(1.0 - 0.848 * 0.8)


@pytest.mark.parametrize(
    ("lasts_h", "nights", "is_asked"), [(None, None, False), (24, 1.0, False), (23, 23 / 24, True), (36, 1.5, False)]
)
def test_a_drive_is_asked_for_where_the_charge_does_not_last_a_day(
    monkeypatch: pytest.MonkeyPatch, lasts_h: int | None, nights: float | None, is_asked: bool
) -> None:
    found, asked = evening(monkeypatch, lasts_h, chemistry="agm")
    assert (found.lasts_h, found.nights, bool(asked), found.no_charge_h) == (lasts_h, nights, is_asked, 0)
    assert (found.drive_h, found.why_not) == ((None, "why not at 30") if is_asked else (0.0, None))


def failing(cut_s: float, cold: int, chemistry: str = "lifepo4") -> str:
    """Why a drive from hour 30 on does not do that brings 3 Ah in each of ten hours of which so many are cold."""
    temp_c, brought, cut = np.full(73, 0.5), np.zeros(72), np.zeros(72)
    temp_c[:30], temp_c[30 : 30 + cold], brought[30:40], cut[30:40] = -9.0, 0.0, 3.0, cut_s
    temp_c[40:], cut[:30], brought[:30] = -9.0, 3600.0, 50.0
    tried = Found(
        flow=lambda name: {"alternator_ah": brought, "cut_out_s": cut}[name],
        node_c=lambda name: {"battery": temp_c}[name],
    )
    used = np.ones(72)
    used[30:54] = 4.0
    run: Any = Found(van=Found(power=Found(battery=Found(chemistry=chemistry))),
                     fed=lambda: Found(flow=lambda name: {"load_ah": used}[name]))  # fmt: skip
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(battery, "_on_a_drive", lambda given, hour, drive_h: {(30, 10.0): tried}[hour, drive_h])
        return battery.why_not(run, 30)


def test_why_ten_hours_do_not_do_is_a_cut_out_that_stays_cold_cells_or_a_need_that_is_larger() -> None:
    """30 Ah in ten hours, 96 Ah in a day; the hours before and after are not looked at."""
    stays = "the battery is cut out already, and with the 30 Ah that it brings stays so"
    needs = "it brings 30 Ah, and the day takes 96 Ah with power"
    cold = (
        "for 3 h of the drive its cells stand at or below 0 °C and take no charge; it only feeds the loads meanwhile, "
        "30 Ah: warm the battery first"
    )
    assert [failing(3600.0, 3), failing(3599.0, 3), failing(0.0, 0)] == [stays, cold, needs]
    assert failing(0.0, 3, "agm") == needs
    assert failing(0.0, 1).startswith("for 1 h of the drive its cells stand")


def test_a_day_is_its_amp_hours_by_load_what_came_in_and_its_lowest_charge() -> None:
    """Two days of 12 and 24 hours, charge falling by 1 of 200 Ah an hour; the first edge is nobody's."""
    names = (*FIXED_LOADS, "lamp", "never")
    hours = np.concatenate([np.full(12, 1.0), np.full(24, 0.5)])
    of = {name: k + 1.0 if name != "never" else 0.0 for k, name in enumerate(names)}
    brought = {"solar_ah": 3.0, "alternator_ah": 5.0, "mains_charger_ah": 7.0}

    def flow(name: str, part: int | None = None) -> Any:
        return hours * (of[names[part]] if name == "load_ah" and part is not None else brought[name])

    loads = [Found(name="lamp"), Found(name="never")]
    run: Any = Found(
        van=Found(power=Found(battery=Found(capacity_ah=200.0), loads=loads)),
        flow=flow,
        index=pd.date_range(NOON, periods=36, freq="h"),
        stock=lambda name: {"charge_ah": 200.0 - np.arange(37.0)}[name],
    )
    assert FIXED_LOADS[0] == "heater_fan"
    used = {name: 12.0 * ah for name, ah in of.items() if name != "never"}
    days = battery.days(run)
    assert [day.day for day in days] == ["2027-01-12", "2027-01-13"]
    for day in days:
        assert (day.fan_ah, day.used_by_load_ah, day.used_ah) == (12.0, used, sum(used.values()))
        assert (day.solar_ah, day.alternator_ah, day.mains_charger_ah) == (36.0, 60.0, 84.0)
    assert [day.lowest_charge_share for day in days] == pytest.approx([188.0 / 200.0, 164.0 / 200.0])


def test_what_a_full_battery_gives_is_told_at_the_coldest_it_gets() -> None:
    run = steady_draw()
    found = battery.answer(run, AT)
    coldest_c = float(run.node_c("battery").min())
    assert found.usable_ah == pytest.approx(100.0 * 0.9 * capacity_share(0, coldest_c))
    assert (len(found.stands), found.days) == (1, tuple(battery.days(run)))
    told = found.as_dict()
    assert set(told) == {"usable_ah", "stands", "days", "sentences"}
    assert told["stands"][0]["lasts_h"] == found.stands[0].lasts_h
