"""What a page is made of: sections, each a question with its answer, a figure and the table behind it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from budget.report import theme

if TYPE_CHECKING:
    import plotly.graph_objects as go


@dataclass(frozen=True)
class Table:
    """A table as people read it; cells are text or numbers, escaped when shown."""

    columns: tuple[str, ...]
    rows: tuple[tuple[object, ...], ...]
    caption: str = ""

    def __post_init__(self) -> None:
        wrong = next((row for row in self.rows if len(row) != len(self.columns)), None)
        if wrong is not None:
            raise ValueError(f"a row must have {len(self.columns)} cells as the table has columns, got {wrong!r}")


@dataclass(frozen=True, eq=False)
class Chart:
    """A figure as plotly.js reads it, with colours by name, in light and dark.

    ``alternative`` says in a sentence or two what the picture shows. ``spoken`` is the number of the trace whose texts
    read as sentences, one for each point, or the numbers of several such traces in turn; ``on_tour_time`` joins its
    horizontal axis to those of the other figures. ``lines`` of text stand one above the other beside its rows, and
    stay legible on paper, where tall figures are drawn lower. ``narrow`` changes the layout, and ``narrow_px`` the
    height, where the page is as narrow as a phone; there a trace whose ``meta`` is "aside" waits until its word in the
    legend is tapped or its button pressed. Traces of one ``legendgroup`` are switched together.
    """

    traces: tuple[Mapping[str, Any], ...]
    layout: Mapping[str, Any]
    alternative: str
    height_px: int = 380
    on_tour_time: bool = False
    spoken: int | tuple[int, ...] | None = None
    narrow: Mapping[str, Any] = field(default_factory=dict)
    narrow_px: int | None = None
    lines: int = 0

    def spec(self) -> dict[str, Any]:
        """The figure for the page's script, JSON-ready."""
        return {
            "data": [dict(trace) for trace in self.traces],
            "layout": dict(self.layout),
            "time": self.on_tour_time,
            "spoken": self.spoken,
            "narrow": dict(self.narrow),
        }

    def plotly(self, mode: str = "light") -> go.Figure:
        """The figure for a notebook or an image, in ``light`` or ``dark``."""
        import plotly.graph_objects as go

        look = {"height": self.height_px, "paper_bgcolor": "token:paper", "plot_bgcolor": "token:paper"}
        figure = {"data": list(self.traces), "layout": {**self.layout, **look}}
        return go.Figure(theme.coloured(figure, mode))


@dataclass(frozen=True, eq=False)
class Sliders:
    """Answers worked out beforehand on a grid, for the reader to move through.

    ``axes``: for each slider its name, unit and rising values; ``answers``: for each answer its name, unit, decimals
    and the values on the grid, the last axis running fastest (C order, flat). ``start``: position of each slider.
    """

    axes: tuple[tuple[str, str, tuple[float, ...]], ...]
    answers: tuple[tuple[str, str, int, tuple[float, ...]], ...]
    start: tuple[int, ...]
    label: Mapping[str, Sequence[str]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        size = 1
        for _, _, values in self.axes:
            size *= len(values)
        for name, _, _, values in self.answers:
            if len(values) != size:
                raise ValueError(f"{name} must have {size} values, one for each position of the sliders")
        inside = len(self.start) == len(self.axes) and all(
            0 <= at < len(axis[2]) for at, axis in zip(self.start, self.axes, strict=True)
        )
        if not inside:
            raise ValueError(f"start must give a position on each of {len(self.axes)} sliders, got {self.start}")


@dataclass(frozen=True, eq=False)
class Section:
    """A question, its answer in a sentence, a figure, the table behind it, and paragraphs; ``behind``: such as are
    shown when asked for."""

    title: str
    answer: str
    figure: Chart | None = None
    table: Table | None = None
    text: tuple[str, ...] = ()
    sliders: Sliders | None = None
    behind: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Extras:
    """What other answers add to the page, each left out while empty.

    ``headline`` replaces the sentence on top; the rest are sentences for the fridge-door page.
    """

    headline: str | None = None
    uncertainty: str | None = None
    tonight: tuple[str, ...] = ()
    heater_stops: tuple[str, ...] = ()
    on_hookup: tuple[str, ...] = ()
    assumptions: tuple[str, ...] = ()
    measurement: str | None = None
