"""Tonight in plain words: the verdict with what goes amiss, what the night takes, and its settings."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from budget.answers.night import LEADS_MIN
from budget.answers.night_cases import COLD_K, COLD_SHARE, HAND
from budget.answers.odds import CHARGE, GAS, OFFTAKE
from budget.answers.quantiles import chance_half_width
from budget.answers.tonight_verdict import LEAST_KG, PROBABLY_SHARE, YES_SHARE
from budget.moments import clock, hours_between, short
from budget.rounding import least, need
from budget.wording import least_percent, most_percent, whole_percent

if TYPE_CHECKING:
    from budget.answers.night_settings import Option
    from budget.answers.quantiles import Quantiles
    from budget.answers.tonight import Tonight

HEAT_OR_DRAIN_C = 5.0  # at the water pipes, as the cautions say; common practice, no source
DOUBTED_K = 10.0  # a forecast so far from the climate's middle, and outside its eight cases of ten, is questioned
FIRST = {
    GAS: "get gas first",
    CHARGE: "charge the battery first, by a drive or a hook-up",
    OFFTAKE: "hang a fuller bottle or warm the locker first",
    HAND: "hang the fullest bottle first",
}
BEYOND = "find a hook-up for the night, switch loads off or fit a larger battery"  # charge that no charging brings


def tonight_sentences(found: Tonight) -> list[str]:
    """What goes amiss first, what the night takes, and what to set."""
    return [*_verdict(found), *_by_hand(found), *_what_to_do(found), *_needs(found), found.asked, *_settings(found)]


def in_short(found: Tonight) -> list[str]:
    """What a sheet of paper holds: the verdict, what the night takes, and the timer; where none helps that alone."""
    takes = () if _nothing_lasts(found) else _needs(found)
    return [*_verdict(found), *_by_hand(found), *takes, next(_settings(found))]


def outdoors(low: Quantiles, forecast_low_c: float | None) -> str:
    """ "at a forecast low of -20 °C outdoors", or the lows that the climate has."""
    if forecast_low_c is not None:
        return f"at a forecast low of {forecast_low_c:g} °C outdoors"
    return f"at lows of {round(low.p10) + 0:d} to {round(low.p90) + 0:d} °C outdoors as this climate has them"


def doubt(climate: Quantiles, forecast_low_c: float | None) -> Iterator[str]:
    """A question where a forecast is far from what the climate has; None: there is no forecast."""
    if forecast_low_c is None or climate.p10 <= forecast_low_c <= climate.p90:
        return
    apart_k = forecast_low_c - climate.p50
    if abs(apart_k) <= DOUBTED_K:
        return
    slip = ", is a minus sign missing" if forecast_low_c > 0.0 > climate.p50 else ""
    yield (
        f"Is the low of {forecast_low_c:g} °C right{slip}? It is {abs(apart_k):.0f} K "
        f"{'above' if apart_k > 0.0 else 'below'} the {round(climate.p50) + 0:d} °C that this climate has for that "
        f"time in the middle case ({round(climate.p10) + 0:d} to {round(climate.p90) + 0:d} °C in eight of ten); all "
        "that follows is reckoned with it."
    )


def _verdict(found: Tonight) -> Iterator[str]:
    yes, morning = found.verdict.capitalize(), clock(found.morning)
    had = (
        f"from {short(found.start)} with {found.gas_left_kg:g} kg of gas, {whole_percent(found.charge_share)} of "
        f"charge and {round(found.inside_c, 1):g} °C inside, {outdoors(found.outdoor_low, found.forecast_low_c)},"
    )
    until = f"before {morning} on {_schedule(found)}"
    reasons = _reasons(found)
    if not reasons:
        yield (
            f"{yes}: {had} nothing runs out, stays too cold or freezes {until} in any of {found.scenarios} cases "
            f"{_sure(found, 0.0)}."
        )
    for n, (told, share, what, also) in enumerate(reasons):
        if n == 0:
            cases = f"{most_percent(share)} of {found.scenarios} cases {_sure(found, share)}"
            few = ", with few exceptions" if found.can_stay and not told.startswith("What binds") else ""
            yield f"{yes}{few}. {told}: {had} {what} {until} in {cases}{also}."
        else:
            yield f"{told}: {what} in {most_percent(share)} of the cases{also}."
    if reasons and most_percent(found.amiss_share) != most_percent(reasons[0][1]):
        yield f"Any of this happens in {most_percent(found.amiss_share)} of the cases."
    yield from doubt(found.climate_low, found.forecast_low_c)
    yield from _stops(found)


def _schedule(found: Tonight) -> str:
    planned = found.planned
    if planned.timer is None:
        return f"the tour's schedule with the timer {LEADS_MIN[-1] / 60:.0f} h ahead"
    return "the tour's schedule" + ("" if planned.timer == found.warm_at else f" with the timer at {planned.timer}")


def _sure(found: Tonight, share: float) -> str:
    return f"(± {whole_percent(chance_half_width(share, found.scenarios))})"


def _reasons(found: Tonight) -> list[tuple[str, float, str, str]]:
    """What goes amiss, most often first: its name, in what share of the cases, what happens, and what else of it.

    Frost leads only where it comes although nothing runs short and it stays warm enough; else it is what follows.
    """
    told, follows = [], []
    if found.binds is not None:
        failing = sorted(found.failing_by_share.items(), key=lambda item: -item[1])
        also = "".join(f", {name} in {most_percent(share)}" for name, share in failing[1:] if share > 0.0)
        told.append((f"What binds is {found.binds}", found.fails_share, "the heater goes short", also))
    if found.cold_lowest_inside_c is not None:
        what = (
            f"it stays more than {COLD_K:g} K below the night's {found.planned.night_c or 0.0:g} °C for over "
            f"{whole_percent(COLD_SHARE)} of it though nothing runs short"
        )
        also = f"; in half of those it gets as cold as {least(found.cold_lowest_inside_c)} °C inside or colder"
        told.append(("Not warm enough", found.cold_share, what, also))
    if found.frozen_lowest_pipes_c is not None:
        if found.frozen_lowest_pipes_c < 0.0:
            also = f"; in half of those they come down to {least(found.frozen_lowest_pipes_c)} °C or lower"
        else:  # at 0 °C until the last of the water is ice
            also = "; in at least half of those part of their water does not turn to ice"
        follows.append(("Pipes freeze", found.pipes_freeze_share, "the water pipes come to 0 °C", also))
    if found.drained_share > 0.0:
        follows.append(("The boiler is lost", found.drained_share, "the frost drain valve empties it", ""))
    told.sort(key=lambda reason: -reason[1])
    follows.sort(key=lambda reason: -reason[1])
    leads = found.amiss_share - found.fails_share - found.cold_share > max(found.fails_share, found.cold_share)
    return [*follows, *told] if leads else [*told, *follows]


def _stops(found: Tonight) -> Iterator[str]:
    stop = found.stop
    if stop is None:
        return
    if stop.half_after_h == 0.0:
        when = "within the first hour in most of those"
    else:
        when = f"in the hour from {clock(stop.half_at)} or sooner in half of those"
        if stop.one_in_ten_at is not None and hours_between(stop.one_in_ten_at, stop.half_at) > 0.0:
            when += f", and in the hour from {clock(stop.one_in_ten_at)} or sooner in one case of ten"
    yield (
        f"Where gas or charge ends, the heater stops {when}; until {clock(found.morning)} it then gets as cold as "
        f"about {least(stop.lowest_inside_c)} °C inside."
    )


def _by_hand(found: Tonight) -> Iterator[str]:
    """Which bottle is taken to be in use, and what another way of changing over would do, where it is no yes."""
    hand = found.hand
    if hand is not None and not found.can_stay:
        yield (
            f"The bottle in use, taken to be the part-used one with {hand.in_use_kg:g} kg, gives out while nobody is "
            f"awake to change over, and another holds {hand.fullest_kg:g} kg: hang the fullest bottle before bed, "
            f"which goes short in {most_percent(hand.fullest_first_share)} of the cases, or fit an automatic "
            f"changeover, {most_percent(hand.automatic_share)}."
        )


def _what_to_do(found: Tonight) -> Iterator[str]:
    """What would make it sure, by what goes amiss in more cases than a yes allows together."""
    if found.can_stay:
        return
    if found.cold_share > YES_SHARE:
        yield (
            "The heater gives all it can at that cold: another source of heat, a hook-up, screens and curtains, or a "
            "milder place make it warmer, no setting does; budget heater-size tells what it lacks."
        )
    if max(found.pipes_freeze_share, found.drained_share) > YES_SHARE:
        parts = "pipes, taps and boiler" if found.has_boiler else "pipes and taps"
        yield f"Drain {parts} before bed where they cannot be kept warm."
    if found.binds == GAS and found.sure_kg > found.gas_left_kg:
        yield (
            f"With about {need(found.sure_kg - found.gas_left_kg, 1)} kg more the gas would be enough in 19 cases of "
            "20."
        )
    elif found.binds == CHARGE and found.sure_ah > found.full_ah:
        yield (
            f"No charging helps enough: in one case of 20 the night takes {need(found.sure_ah)} Ah or more, and the "
            f"battery, full, holds {least(found.full_ah)} Ah above its cut-out; {BEYOND}."
        )
    elif found.binds == CHARGE and found.sure_ah > found.usable_ah:
        yield (
            f"With about {need(found.sure_ah - found.usable_ah)} Ah more, by a drive, a hook-up or loads switched off, "
            "the charge would be enough in 19 cases of 20."
        )
    surer = [option for option in found.options if option.amiss_share <= YES_SHARE and not option.planned]
    if surer:
        best = max(surer, key=lambda option: -100.0 if option.night_c is None else option.night_c)
        timer = "" if best.timer is None else f" and the timer at {best.timer}"
        yield (
            f"A night {best.night_words}{timer} would be a yes: something goes amiss in "
            f"{most_percent(best.amiss_share)} of the cases."
        )


def _needs(found: Tonight) -> Iterator[str]:
    kg = found.need
    if kg.p90 < LEAST_KG:
        yield f"With charge to {clock(found.morning)} the night takes no gas."
    else:
        lasts = ""
        if found.more_nights_p90 is not None:
            nights = least(found.more_nights_p90, 1)
            lasts = f"; {found.gas_left_kg:g} kg of gas are enough for {nights} nights of {need(kg.p90, 2)} kg"
        yield (
            f"With gas and charge to {clock(found.morning)} the night takes {kg.p50:.2f} kg of gas, {need(kg.p90, 2)} "
            f"kg or more in one case of ten{lasts}."
        )
    if found.binds == CHARGE:
        yield (
            f"It takes {found.need_charge.p50:.0f} Ah of charge, {need(found.need_charge.p90)} Ah or more in one case "
            f"of ten; the battery now holds {least(found.usable_ah)} Ah above its cut-out, less when cold."
        )


def _settings(found: Tonight) -> Iterator[str]:
    planned = found.planned
    wish, cases = f"{found.warm_c:g} °C at {found.warm_at}", f"of the {found.scenarios} cases"
    best = min(found.options, key=lambda option: option.fails_share)
    if _nothing_lasts(found):
        beyond = found.binds == CHARGE and found.sure_ah > found.full_ah
        first = BEYOND if beyond else FIRST[found.binds or GAS]
        yield (
            f"No timer helps: every setting goes short before {clock(found.morning)}, {_least_often(found, best)} in "
            f"{least_percent(best.fails_share)} {cases}; {first}."
        )
        return
    if planned.timer is None:
        yield f"No timer of up to {LEADS_MIN[-1] / 60:.0f} h makes it {wish} after a night {planned.night_words}."
    else:
        yield (
            f"For {wish} after a night {planned.night_words}, start the timer at {planned.timer}: with gas and charge "
            f"at hand that goes short in {most_percent(planned.fails_share)} {cases}."
        )
    lasting = [option for option in found.options if option.fails_share <= YES_SHARE]
    if not lasting:
        yield (
            f"No setting lasts to {clock(found.morning)} in 19 cases of 20 on what is at hand; "
            f"{_least_often(found, best)} does so in {most_percent(best.fails_share)}."
        )
        return
    warm = [option for option in lasting if option.timer is not None]
    keeping = [option for option in warm if option.lowest_pipes_c >= HEAT_OR_DRAIN_C and option.dumped_l <= 0.0]
    if warm and not keeping:
        best = max(warm, key=lambda option: option.lowest_pipes_c)
        drained = f", the boiler let go by the frost drain valve ({best.dumped_l:.0f} L)" if best.dumped_l > 0.0 else ""
        boiler = " and the boiler's water in" if found.has_boiler else ""
        yield (
            f"None of those that last in 19 cases of 20 keeps the pipes at {HEAT_OR_DRAIN_C:g} °C{boiler}: warmest are "
            f"they at {least(best.lowest_pipes_c)} °C on a night {best.night_words}{drained}. Heat or drain."
        )
        return
    thrifty = min(keeping, key=lambda option: option.gas_kg, default=None)
    if thrifty is None or thrifty is planned:
        return
    yield (
        f"The least gas of those that last in 19 cases of 20 and keep the pipes at {HEAT_OR_DRAIN_C:g} °C is a "
        f"night {thrifty.night_words}: {thrifty.gas_kg:.2f} kg, timer at {thrifty.timer}, down to "
        f"{least(thrifty.lowest_inside_c)} °C inside."
    )


def _nothing_lasts(found: Tonight) -> bool:
    """Whether every setting goes short more often than probably carries."""
    return all(option.fails_share > PROBABLY_SHARE for option in found.options)


def _least_often(found: Tonight, best: Option) -> str:
    """The setting that goes short least often, where they differ."""
    if len({option.fails_share for option in found.options}) == 1:
        return "each"
    return f"the one that goes short least often, a night {best.night_words},"
