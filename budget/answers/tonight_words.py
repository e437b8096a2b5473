"""Tonight in plain words: the verdict with what binds, what the night takes, and its settings."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from budget.answers.night import LEADS_MIN
from budget.answers.odds import CHARGE
from budget.moments import clock, short
from budget.rounding import least, need
from budget.wording import most_percent, whole_percent

if TYPE_CHECKING:
    from budget.answers.tonight import Tonight

HEAT_OR_DRAIN_C = 5.0  # at the water pipes, as the cautions say; common practice, no source
LASTS_SHARE = 0.1  # a setting is offered when it goes short in at most one case of ten, as staying is advised


def tonight_sentences(found: Tonight) -> list[str]:
    """The resource that binds first, what the night takes, and what to set."""
    return [*_verdict(found), *_needs(found), found.asked, *_settings(found)]


def in_short(found: Tonight) -> list[str]:
    """What a sheet of paper holds: the verdict, what the night takes, and the timer."""
    return [*_verdict(found), *_needs(found), next(_settings(found))]


def _verdict(found: Tonight) -> Iterator[str]:
    yes, morning = "Yes" if found.can_stay else "Better not", clock(found.morning)
    had = (
        f"from {short(found.start)} with {found.gas_left_kg:g} kg of gas, {whole_percent(found.charge_share)} of "
        f"charge and {round(found.inside_c, 1):g} °C inside"
    )
    sure = f"(± {whole_percent(found.fails_half_width_share)})"
    if found.binds is None:
        yield (
            f"{yes}: {had} nothing runs out before {morning} on the tour's schedule in any of {found.scenarios} cases "
            f"{sure}."
        )
        return
    failing = sorted(found.failing_by_share.items(), key=lambda item: -item[1])
    also = "".join(f", {name} in {most_percent(share)}" for name, share in failing[1:] if share > 0.0)
    yield (
        f"{yes}. What binds is {found.binds}: {had} the heater goes short before {morning} on the tour's schedule in "
        f"{most_percent(found.fails_share)} of {found.scenarios} cases {sure}{also}."
    )
    stop = found.stop
    if stop is None:
        return
    if stop.half_after_h == 0.0:
        when = "within the first hour in most of those"
    else:
        when = f"in the hour from {clock(stop.half_at)} or sooner in half of those"
        if stop.one_in_ten_at is not None and stop.one_in_ten_at < stop.half_at:
            when += f", and in the hour from {clock(stop.one_in_ten_at)} or sooner in one case of ten"
    yield (
        f"The heater stops {when}; until {morning} it then gets as cold as about {least(stop.lowest_inside_c)} °C "
        "inside."
    )


def _needs(found: Tonight) -> Iterator[str]:
    kg = found.need
    yield (
        f"With gas and charge to {clock(found.morning)} the night takes {kg.p50:.2f} kg of gas, {need(kg.p90, 2)} kg "
        f"or more in one case of ten; {found.gas_left_kg:g} kg of gas are enough for "
        f"{least(found.more_nights_p90, 1)} nights of {need(kg.p90, 2)} kg."
    )
    if found.binds == CHARGE:
        yield (
            f"It takes {found.need_charge.p50:.0f} Ah of charge, {need(found.need_charge.p90)} Ah or more in one case "
            f"of ten; the battery now holds {least(found.usable_ah)} Ah above its cut-out, less when cold."
        )


def _settings(found: Tonight) -> Iterator[str]:
    planned = next(option for option in found.options if option.planned)
    wish, cases = f"{found.warm_c:g} °C at {found.warm_at}", f"of the {found.scenarios} cases"
    if planned.timer is None:
        yield f"No timer of up to {LEADS_MIN[-1] / 60:.0f} h makes it {wish} after a night {planned.night_words}."
    else:
        yield (
            f"For {wish} after a night {planned.night_words}, start the timer at {planned.timer}: with gas and charge "
            f"at hand that goes short in {most_percent(planned.fails_share)} {cases}."
        )
    lasting = [option for option in found.options if option.fails_share <= LASTS_SHARE]
    if not lasting:
        best = min(found.options, key=lambda option: option.fails_share)
        least_often = f"the one that goes short least often, a night {best.night_words}, does so"
        if len({option.fails_share for option in found.options}) == 1:
            least_often = "each goes short"
        yield (
            f"No setting lasts to {clock(found.morning)} in nine cases of ten on what is at hand; {least_often} in "
            f"{most_percent(best.fails_share)}."
        )
        return
    warm = [option for option in lasting if option.timer is not None]
    keeping = [option for option in warm if option.lowest_pipes_c >= HEAT_OR_DRAIN_C and option.dumped_l <= 0.0]
    if warm and not keeping:
        best = max(warm, key=lambda option: option.lowest_pipes_c)
        drained = f", the boiler let go by the frost drain valve ({best.dumped_l:.0f} L)" if best.dumped_l > 0.0 else ""
        yield (
            f"None of those that last in nine cases of ten keeps the pipes at {HEAT_OR_DRAIN_C:g} °C and the boiler's "
            f"water in: warmest are they at {least(best.lowest_pipes_c)} °C on a night {best.night_words}{drained}. "
            "Heat or drain."
        )
        return
    thrifty = min(keeping, key=lambda option: option.gas_kg, default=None)
    if thrifty is None or thrifty is planned:
        return
    yield (
        f"The least gas of those that last in nine cases of ten and keep the pipes at {HEAT_OR_DRAIN_C:g} °C is a "
        f"night {thrifty.night_words}: {thrifty.gas_kg:.2f} kg, timer at {thrifty.timer}, down to "
        f"{least(thrifty.lowest_inside_c)} °C inside."
    )
