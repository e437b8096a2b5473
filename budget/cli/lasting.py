"""Python's search for rings of forgotten objects, put off: what a command makes lives almost all to its end."""

from __future__ import annotations

import atexit
import gc

# A run makes 400,000 objects, most of them by its imports, and forgets 2,000 in rings; with 1,000 winters no more.
OBJECTS_BETWEEN_SEARCHES = 1_000_000


def search_seldom() -> None:
    """For a process that is one command: search once in a million new objects, and not again on the way out.

    Searches after each 700 new objects, Python's own choice, and two at its end took a quarter of a run.
    """
    gc.set_threshold(OBJECTS_BETWEEN_SEARCHES, *gc.get_threshold()[1:])
    atexit.register(gc.freeze)
