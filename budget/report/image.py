"""Figures of the report on their own: for a notebook, and as PNG or SVG.

Images are drawn by kaleido with a Chromium on this machine; nothing is fetched.
"""

from __future__ import annotations

import asyncio
import textwrap
from collections.abc import Sequence
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any

from budget.errors import InputFault
from budget.report import theme

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from budget.report.section import Section
    from budget.results.result import Result

WIDTH_PX = 1100
TITLE_LETTERS = 130  # of a line of the answer at that width
TITLE_LINE_PX, TITLE_TOP_PX = 19, 14
LEGEND_PX = 74  # three lines of it
SCALE = {"png": 2.0, "svg": 1.0}
WITHOUT_KALEIDO = "PNG and SVG need the package kaleido, which is not installed; pip install kaleido."
WITHOUT_BROWSER = (
    "PNG and SVG need a Chromium to be drawn with, none was found; install one, or name its file in the environment "
    "as BROWSER_PATH."
)


def refuse_without_drawing() -> None:
    """InputFault where kaleido or the browser that it draws with is not on this machine."""
    if find_spec("kaleido") is None:
        raise InputFault(WITHOUT_KALEIDO)
    _drawer()


def images(wanted: Sequence[tuple[Section, str]]) -> list[bytes]:
    """Each section's figure as ``png`` or ``svg``, on white, under its question and answer. InputFault as above."""
    refuse_without_drawing()
    return asyncio.run(_drawn([(titled(section).to_plotly_json(), kind) for section, kind in wanted]))


def _drawer() -> Any:
    """kaleido with the plotly.js that is installed and no formula script, which it would fetch."""
    import kaleido
    from choreographer.errors import ChromeNotFoundError

    try:
        return kaleido.Kaleido(n=1, page_generator=kaleido.PageGenerator(mathjax=False))
    except ChromeNotFoundError:
        raise InputFault(WITHOUT_BROWSER) from None


async def _drawn(figures: list[tuple[dict[str, Any], str]]) -> list[bytes]:
    async with _drawer() as drawer:
        return [
            await drawer.calc_fig(
                figure,
                opts={
                    "format": kind,
                    "width": WIDTH_PX,
                    "height": figure["layout"]["height"],
                    "scale": SCALE[kind],
                },
            )
            for figure, kind in figures
        ]


def figures(result: Result) -> dict[str, go.Figure]:
    """The report's figures by name, each a plotly figure under its question and answer.

    Names: gas, warmth, battery, heat, frost, damp, water, pressure. Axes carry their units.
    """
    from budget.report.reading import FIGURES
    from budget.report.scene import Scene

    scene = Scene.of(result.timeline)
    return {name: titled(draw(result, scene)) for name, draw in FIGURES.items()}


def titled(section: Section) -> go.Figure:
    """A section's figure with its question and answer above it, and room for them; ValueError where it has none."""
    if section.figure is None:
        raise ValueError(f"{section.title} has no figure")
    figure = section.figure.plotly()
    answer = textwrap.wrap(section.answer, TITLE_LETTERS)
    room = TITLE_TOP_PX + TITLE_LINE_PX * (len(answer) + 1) + LEGEND_PX
    height = figure.layout.height + room
    figure.update_layout(
        height=height,
        margin={"t": room},
        title={
            "text": "<br>".join([f"<b>{theme.written(section.title)}</b>", *(theme.written(line) for line in answer)]),
            "font": {"size": 14}, "x": 0.01, "xanchor": "left", "y": 1.0 - TITLE_TOP_PX / height, "yanchor": "top",
        },
    )  # fmt: skip
    return figure
