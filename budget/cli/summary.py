"""The one-screen answer of ``budget run``: numbers in the steps in which they can be known."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from budget import moments
from budget.cli import terminal
from budget.results.supplies import EMPTY, WHY
from budget.rounding import need, rounded_down
from budget.stem import stem
from budget.wording import (
    amp_hours,
    celsius,
    count,
    hours,
    kilograms,
    kilograms_needed,
    kilowatt_hours,
    least_celsius,
    least_percent,
    number,
)

if TYPE_CHECKING:
    from budget.answers.odds import Odds
    from budget.results.result import Result

Summary = Mapping[str, Any]
Row = tuple[str, str]
GRAVEST = 4  # notices shown without being asked for
NEAR_K = 3.0
MOST_LOADS = 4  # consumers of the battery that are named
FAN = "heater_fan"
LOADS = {FAN: "fan", "heater_standby": "heater's controls"}
UNSERVED_KG = 0.005  # less is the last breath of a bottle, not a cold night


def draw(result: Result, odds: Odds | None = None, *, verbose: int = 0) -> None:
    """Print what came out of a simulated tour, under the same sentence as its report."""
    from budget.report.first_out import first_out
    from budget.report.headline import headline
    from budget.report.headline_odds import with_odds

    shown = terminal.console()
    summary = result.summary
    tour = summary["tour"]
    invented = "; invented" if tour.get("invented") else ""
    nights = "one night" if tour["nights"] == 1 else f"{tour['nights']} nights"
    shown.print(terminal.words(tour["title"], "bold"))
    shown.print(terminal.words(f"{nights}, {moment(tour['start'])} to {moment(tour['end'])}{invented}"))
    shown.print()
    supplies = first_out(result)
    terminal.headline(shown, headline(result, supplies) if odds is None else with_odds(result, odds))
    for title, rows in (
        ("Runs out", [(each.name.lower(), each.told) for each in supplies if each.when is not None or each.saved]),
        ("Gas", gas(result, odds)),
        ("Heater", heater(summary) + bought(result)),
        ("12 V", power(summary)),
        ("Water", water(summary) + drained(result)),
        ("Cold, damp, frost", zones(summary) + frost(summary)),
    ):
        terminal.table(shown, title, rows)
    notices = list(summary.get("notices", ()))
    terminal.notices(shown, notices if verbose else notices[:GRAVEST], "To know")
    shown.print(terminal.words(books(summary)))
    if len(notices) > GRAVEST and not verbose:
        shown.print(terminal.words(f"{len(notices) - GRAVEST} further notices: in the report, or with -v."))
    band = "Every number has a band: budget help answer." if odds else "How sure is it: add --odds 200."
    shown.print(terminal.words(f"A planning aid: budget help cautions. {band}"))


def gas(result: Result, odds: Odds | None = None) -> list[Row]:
    """Kilograms by use, how sure they are, and when bottles change."""
    from budget.answers import trouble
    from budget.answers.detail import Detail
    from budget.report.first_out import causes, nobody_changed_over
    from budget.report.headline import needed_a_day, other_swaps, swap_table
    from budget.results.need import AS_IT_STANDS, BATTERY, WITH_POWER, with_enough

    found = result.summary["gas"]
    if not found["total_kg"] and not found["needed_kg"]:
        return [("burned", "none, and none is needed")]
    uses = ", ".join(f"{name.replace('_', ' ')} {kilograms(kg)}" for name, kg in found["by_use_kg"].items() if kg > 0.0)
    by_day = f" {AS_IT_STANDS}" if found["short_of"] else f", {found['kg_per_day']:.2g} kg a day"
    rows = [
        ("burned", f"{kilograms(found['total_kg'])}{by_day}"),
        ("by use", uses or "none"),
    ]
    if found["short_of"]:
        needed = f"{kilograms_needed(found['needed_kg'])}, {needed_a_day(result.summary)}"
        rows.append(("needed", f"{needed}, {with_enough(found['short_of'])}"))
    if odds is not None:
        band = f"{kilograms(odds.gas.p10)} to {kilograms(odds.gas.p90)} in eight of ten"
        power = f" {WITH_POWER}" if odds.cut_out_share > 0.0 else ""
        rows.append(("odds", f"{band} of {odds.scenarios:,} winters and vans{power}"))
    basis = found.get("bottles_needed_basis")
    if basis is not None:
        nights, reserve = basis["reserve_nights"], kilograms_needed(basis["reserve_kg"])
        kept = f", {nights:g} nights' reserve of {reserve} counted in" if nights else ""
        count = f"{found['bottles_needed']} × {basis['bottle']} without a swap"
        if any(each.name == basis["bottle"] for each in trouble.answer(result).wrong_gas):
            count = f"as propane, since {basis['bottle']} does not flow in this cold"
        rows.append(("planned", f"{kilograms_needed(found['planned_kg'])}: {count}{kept}"))
    swaps = swap_table(result)
    if swaps is not None:
        if BATTERY in found["short_of"]:
            rows.append(("swaps", "as planned with power; as it stands the heater stops with the battery"))
        other = other_swaps(result)
        if other:
            rows.append(("swaps", f"{other[0].lower()}{other[1:]}".removesuffix(".")))
        rows += [("swap", f"{when}, {place}: {brought} ({which})") for when, place, which, brought in swaps.rows]
    lacking = [use.replace("_", " ") for use, kg in found["unserved_by_use_kg"].items() if kg > UNSERVED_KG]
    if lacking:
        rows.append(("short", f"{', '.join(lacking)}: {causes(Detail.of(result))}"))
    asleep = nobody_changed_over(result)
    if asleep:
        rows.append(("asleep", asleep))
    return rows


def heater(summary: Summary) -> list[Row]:
    """Heat, burner hours, starts, cold hours."""
    found = summary["heater"]
    heat = f"{kilowatt_hours(found['heat_to_air_kwh'])} to air, {kilowatt_hours(found['heat_to_water_kwh'])} to water"
    starts = f"{count(found['starts'])} start{'' if found['starts'] == 1 else 's'}"
    burner = f"{hours(found['burner_hours'])} with a flame, {starts}"
    if found.get("hours_guard_cycled", 0.0) > 0.0:
        burner += f", without those of {hours(found['hours_guard_cycled'])} in which the supply guard made it cycle"
    rows = [("heat", heat), ("burner", burner)]
    if found.get("electric_kwh", 0.0) > 0.0:
        rows.append(("electric", kilowatt_hours(found["electric_kwh"])))
    below = found["hours_below_setpoint"]
    return [*rows, ("too cold", f"{hours(below)} more than 0.5 K below the setpoint while somebody is in")]


def bought(result: Result) -> list[Row]:
    """Electricity of the hook-ups, and what it and the gas cost where the tour gives prices."""
    from budget.answers import money
    from budget.results.need import AS_IT_STANDS

    mains_kwh, found = result.summary["power"]["mains_kwh"], money.answer(result)
    stands = f" {AS_IT_STANDS}" if result.summary["gas"]["short_of"] else ""
    rows = (
        [("mains", f"{kilowatt_hours(mains_kwh)} of the hook-ups, all that they feed{stands}")]
        if mains_kwh > 0.0
        else []
    )
    if not found.purchases or found.total_cost is None:
        return rows
    parts = {"gas": found.gas_cost, "electricity": found.mains_cost}
    told = " and ".join(f"{name} {number(cost)}" for name, cost in parts.items() if cost)
    without = [f"{kilograms(found.unpriced_gas_kg)} of gas"] if found.unpriced_gas_kg > 0.0 else []
    without += [f"{kilowatt_hours(found.unpriced_mains_kwh)}"] if found.unpriced_mains_kwh > 0.0 else []
    less = f"; {' and '.join(without)} without a price not counted" if without else ""
    of_it = f": {told}, in the money of the prices given" if told else ""
    return [*rows, ("cost", f"{number(found.total_cost)}{stands}{of_it}{less}")]


def power(summary: Summary) -> list[Row]:
    """Amp-hours used and brought, lowest charge."""
    found = summary.get("power")
    if not found:
        return []
    used = found["used_ah"]
    sources = {"sun": "solar_ah", "alternator": "alternator_ah", "mains charger": "mains_charger_ah"}
    brought = ", ".join(f"{name} {amp_hours(found[key])}" for name, key in sources.items() if found.get(key, 0.0) > 0.0)
    lowest = f"{least_percent(found['lowest_state_of_charge'])}, rounded down, on {moment(found['lowest_at'])}"
    cut = found.get("hours_cut_out", 0.0)
    wanted = []
    if cut > 0.0:
        missing = found["wanted_ah"] - used
        wanted = [("wanted", f"{amp_hours(found['wanted_ah'])} with power to the end: {amp_hours(missing)} more")]
    return [
        ("used", f"{amp_hours(used)}: {by_load(found['used_by_load_ah'])}"),
        *wanted,
        ("brought", brought or "nothing"),
        ("lowest", lowest + (f"; cut out for {need(cut)} h, the heater with it" if cut > 0.0 else "")),
    ]


def by_load(used_ah: Mapping[str, float]) -> str:
    """Amp-hours of the heater's fan, of the greatest consumers beside it by name, and of the rest together."""
    drawn = sorted((name for name, ah in used_ah.items() if ah > 0.0), key=lambda name: -used_ah[name])
    drawn.sort(key=lambda name: name != FAN)
    named = drawn if len(drawn) <= MOST_LOADS + 1 else drawn[:MOST_LOADS]
    short = {name: word for name, word in LOADS.items() if stem(word) not in used_ah}  # unless it is a load's own name
    told = [f"{short.get(name, name.replace('_', ' '))} {amp_hours(used_ah[name])}" for name in named]
    rest_ah = sum(used_ah[name] for name in drawn[len(named) :])
    told += [f"the rest {amp_hours(rest_ah)}"] if rest_ah > 0.0 else []
    return ", ".join(told).replace(" Ah", "") or "nothing draws"


def water(summary: Summary) -> list[Row]:
    """Litres, showers, refills."""
    found = summary.get("water")
    if not found:
        return []
    rows = [("fresh", f"{count(found['fresh_used_l'])} L used, {refills(len(found.get('refills', ())))}")]
    causes = found.get("unserved_by_cause_l", {})  # an empty tank is told above, as what runs out
    lacked = {WHY[cause]: litres for cause, litres in causes.items() if litres > 0.0 and cause != EMPTY}
    if lacked:
        rows.append(("not had", ", ".join(f"{need(litres)} L since {why}" for why, litres in lacked.items())))
    coldest = found.get("coldest_shower_c")
    if coldest is not None:
        rows.append(("showers", f"{count(found['shower_l'])} L, the coldest {least_celsius(coldest)}"))
    return rows


def drained(result: Result) -> list[Row]:
    """What the frost drain valve let out of the boiler, and when it first opened."""
    let_out = result.flows["boiler_dumped_l"]
    if let_out.sum() <= 0.0 or not result.van.water.boiler.is_fitted:
        return []
    times, first = int((let_out > 0.0).sum()), moment(let_out.index[int((let_out > 0.0).to_numpy().argmax())])
    when = f"on {first}" if times == 1 else f"first on {first}, {times} times"
    return [("drained", f"{need(let_out.sum())} L of the boiler's water by the frost drain valve, {when}")]


def refills(times: int) -> str:
    """ "no refill", "1 refill", "7 refills"."""
    return f"{times or 'no'} refill{'s' if times > 1 else ''}"


def zones(summary: Summary) -> list[Row]:
    """Coldest hour and wet hours of each zone."""
    rows = []
    for name, comfort in summary.get("comfort", {}).items():
        said = f"lowest {least_celsius(comfort['lowest_c'])}, mean {celsius(comfort['mean_c'])}"
        damp = summary.get("damp", {}).get(name, {})
        if "wet_hours" in damp:  # a zone may have no surface
            said += f"; wet surfaces {hours(damp['wet_hours'])}"
        rows.append((name.replace("_", " "), said))
    return rows


def frost(summary: Summary) -> list[Row]:
    """What went below the temperature that it shall keep, or came near it."""
    near = [
        f"{part.replace('_', ' ')} {_stands(found)}"
        for part, found in summary.get("frost", {}).items()
        if found.get("margin_k") is not None and found["margin_k"] < NEAR_K
    ]
    return [("near frost", ", ".join(near))] if near else []


def _stands(entry: Mapping[str, Any]) -> str:
    """How cold a part was and what was left above its limit; where its water froze, since when."""
    from budget.results.frost import ice_words

    told = ice_words(dict(entry), moments.short_day)
    if told is not None:
        colder = f", down to {least_celsius(entry['lowest_c'])}" if entry["lowest_c"] < 0.0 else ""
        return f"{'with ' * told.startswith('ice')}{told}{colder}"
    return f"{least_celsius(entry['lowest_c'])} ({margin_words(entry['margin_k'])})"


def margin_words(margin_k: float) -> str:
    """ "2 K left", "under 1 K left" or "4 K below its limit"; what is left is rounded down."""
    side = "left" if margin_k >= 0.0 else "below its limit"
    if abs(margin_k) < 1.0:
        return f"under 1 K {side}"
    return f"{number(abs(rounded_down(margin_k)))} K {side}"


def books(summary: Summary) -> str:
    """How well the books close."""
    found = summary.get("balance", {})
    names = ", ".join(found.get("by_book", {}))
    return f"The books close ({names}): largest gap {found.get('largest_residual_fraction', math.nan):.0e} of the flow."


def moment(written: Any) -> str:
    """A time of the summary, as every answer says it."""
    return moments.moment(written if isinstance(written, dt.datetime) else dt.datetime.fromisoformat(str(written)))
