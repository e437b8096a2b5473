"""Yes, probably or better not: in how many cases may something go amiss, and what is then said of it."""

from __future__ import annotations

from typing import Literal

YES_SHARE = 0.05  # up to so many cases in which something goes amiss the answer is yes
PROBABLY_SHARE = 0.2  # up to so many probably, beyond better not
LEAST_KG = 0.005  # a night that takes less gas takes none
Verdict = Literal["yes", "probably", "better not"]


def verdict_of(amiss_share: float) -> Verdict:
    """The word for a share of cases in which something goes amiss."""
    if amiss_share <= YES_SHARE:
        return "yes"
    return "probably" if amiss_share <= PROBABLY_SHARE else "better not"
