"""What a mutated input may end in: a result whose books close, or one clear sentence for each fault."""

from __future__ import annotations

import csv
import faulthandler
import io
import time
from collections.abc import Callable

from budget.cli.common import as_json
from budget.errors import InputFault
from budget.results.result import Result, hourly_csv

REFUSED, RAN = "refused", "ran"
# A tour of 400 days, the longest allowed, takes about 4 s of processor time; anything near this limit is a hang.
LIMIT_S = 30.0
HANG_S = 300.0  # wall time after which the process is ended with its stack shown: compiled code hears no other signal
LONGEST_SENTENCE = 700  # the longest lists the heaters that a van may have


def verdict(act: Callable[[], Result | None]) -> str:
    """Run a case; any exception but a refusal passes through, and fails the test."""
    begun = time.process_time()
    faulthandler.dump_traceback_later(HANG_S, exit=True)
    try:
        result = act()
    except InputFault as fault:
        must_be_sentences(fault)
        return REFUSED
    finally:
        faulthandler.cancel_dump_traceback_later()
        assert time.process_time() - begun < LIMIT_S
    if result is not None:
        assert result.balance.largest_residual_fraction <= 1e-9
        as_json(result.summary)
        rows = list(csv.reader(io.StringIO(hourly_csv(result))))
        assert len(rows) == len(result.flows) + 1
        assert len(set(map(len, rows))) == 1
    return RAN


def must_be_sentences(fault: InputFault) -> None:
    """One line for each fault, not too long to read, at most twenty and a count of the rest."""
    assert 1 <= len(fault.faults) <= 21
    for sentence in fault.faults:
        assert sentence.isprintable()
        assert sentence.endswith((".", "?")), sentence
        assert len(sentence) <= LONGEST_SENTENCE, sentence
