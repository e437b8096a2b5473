"""The tour's time as every figure shares it: hours, places, hook-up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from budget.report import theme
from budget.report.words import bubble, times

if TYPE_CHECKING:
    from budget.tour.timeline import Timeline

MOVING = ("", "driving to ", "on the ferry to ")


@dataclass(frozen=True, eq=False)
class Scene:
    """The n hours of a tour and their n + 1 edges, where the van is and whether it is hooked up."""

    edges: pd.DatetimeIndex
    places: tuple[str, ...]
    hooked: tuple[bool, ...]

    @staticmethod
    def of(timeline: Timeline) -> Scene:
        """The scene of a tour."""
        stops = timeline.tour.stops
        places = tuple(
            MOVING[int(m)] + stops[int(s)].place for s, m in zip(timeline.stop, timeline.moving, strict=True)
        )
        return Scene(timeline.edges, places, tuple(bool(w > 0.0) for w in timeline.hookup_w))

    @property
    def hours(self) -> pd.DatetimeIndex:
        """Start of each hour."""
        return self.edges[:-1]

    def axis(self, **more: Any) -> dict[str, Any]:
        """The shared horizontal axis, from the start to the end of the tour."""
        ends = times(self.edges[[0, -1]])
        return theme.time_axis(range=ends, autorange=False, **more)

    def shading(self) -> list[dict[str, Any]]:
        """Stays on hook-up, shaded."""
        hooked = np.concatenate([[0], np.array(self.hooked, dtype=int), [0]])
        turns = np.diff(hooked)
        spans = zip(np.flatnonzero(turns == 1), np.flatnonzero(turns == -1), strict=True)
        return [
            {
                "type": "rect", "xref": "x", "yref": "paper", "x0": x0, "x1": x1, "y0": 0, "y1": 1,
                "fillcolor": theme.colour("shade"), "line": {"width": 0}, "layer": "below",
            }
            for x0, x1 in (times(self.edges[[start, end]]) for start, end in spans)
        ]  # fmt: skip

    def shading_key(self) -> list[dict[str, Any]]:
        """The legend's word for the shading, where there is any."""
        if not any(self.hooked):
            return []
        mark = {"symbol": "square", "size": 12, "color": theme.colour("shade")}
        mark["line"] = {"color": theme.colour("muted"), "width": 1}
        key = {"type": "scatter", "mode": "markers", "x": [None], "y": [None], "name": "shaded: on hook-up"}
        return [{**key, "marker": mark, "hoverinfo": "skip"}]

    @cached_property
    def stamps(self) -> list[str]:
        """Time and place of every hour edge; the last edge stands in the last hour's place."""
        days, of_day = by_day(self.edges)
        dates = [f"{day:%a} {day.day} {day:%b}" for day in days]
        clock = [time[-len("hh:mm") :] for time in times(self.edges)]
        places = [*self.places, self.places[-1]]
        return [
            f"{dates[day]} {time}, {place}" for day, time, place in zip(of_day.tolist(), clock, places, strict=True)
        ]

    def told(self, sentences: list[str], y: list[float | None], at: pd.DatetimeIndex | None = None) -> dict[str, Any]:
        """The trace that is not seen but read: one sentence for each hour, or for each edge in ``at``, after its time
        and place."""
        when = self.hours if at is None else at
        places = self.edges.get_indexer(when)
        text = [bubble(f"{self.stamps[k]}: {sentence}") for k, sentence in zip(places, sentences, strict=True)]
        return {
            "type": "scatter", "mode": "lines", "x": times(when), "y": y, "text": text, "opacity": 0,
            "hovertemplate": "%{text}<extra></extra>", "showlegend": False, "name": "",
        }  # fmt: skip


def line(x: Sequence[object], y: list[float | None], name: str, style: int, **more: Any) -> dict[str, Any]:
    """A line told apart by colour and dash; its words come from the trace that is read."""
    hue, dash, _ = theme.STYLES[style % len(theme.STYLES)]
    return {
        "type": "scatter", "mode": "lines", "x": list(x), "y": y, "name": theme.written(name), "hoverinfo": "skip",
        "line": {"color": theme.colour(hue), "dash": dash, "width": 2}, **more,
    }  # fmt: skip


def by_day(index: pd.DatetimeIndex) -> tuple[list[pd.Timestamp], np.ndarray[Any, np.dtype[np.int64]]]:
    """The local days of an index, and for each entry the position of its day; clocks may skip a midnight."""
    days = index.tz_localize(None).normalize()
    unique = list(days.unique())
    return unique, days.unique().get_indexer(days)
