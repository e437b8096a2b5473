"""When people lie down for the night."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from budget.moments import NOON_H

if TYPE_CHECKING:
    from budget.answers.prepared import Prepared
    from budget.spans import Span

DAY_MIN, NOON_MIN = 24 * 60, NOON_H * 60
# After noon: who lies down from 18:00 to 03:00 does so for the night, a wish from 03:00 on is the morning's.
EVENING_MIN, SMALL_HOURS_MIN = 6 * 60, 15 * 60
USUAL_MIN = 22 * 60 + 30  # where nobody does: common practice, no source


def bedtime_min(prepared: Prepared) -> int:
    """When the last person lies down on most evenings of a week, minutes after midnight.

    A person lies down to the longest sleep that begins from 18:00 to 03:00; an evening on which nobody does counts for
    nothing, and 22:30 is taken where there is no other.
    """
    people = prepared.tour.people
    evenings = ([_lies_down(person.asleep, evening) for person in people] for evening in range(7))
    last = sorted(max(known) for lying in evenings if (known := [minute for minute in lying if minute is not None]))
    return (last[len(last) // 2] + NOON_MIN) % DAY_MIN if last else USUAL_MIN


def _lies_down(asleep: Sequence[Span], evening: int) -> int | None:
    """When a person lies down on one evening of the week, minutes after its noon; None: not that night."""
    found = []
    for span in asleep:
        after_noon = (span.start_min - NOON_MIN) % DAY_MIN
        day = evening if span.start_min >= NOON_MIN else (evening + 1) % 7
        if day in span.days and EVENING_MIN <= after_noon < SMALL_HOURS_MIN:
            found.append((-((span.end_min - span.start_min) % DAY_MIN), after_noon))
    return min(found)[1] if found else None
