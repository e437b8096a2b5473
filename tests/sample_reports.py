"""Pages for the report's tests: the demo tour written once, and one whose owner typed mischief."""

from __future__ import annotations

import dataclasses
import functools
from pathlib import Path

import numpy as np

from budget.cli.further import Further
from budget.cli.report_parts import parts
from budget.report.figures.slider_grid import slider_grid
from budget.report.page import page
from budget.report.section import Extras, Section
from budget.results.result import Result
from budget.simulation import simulate
from budget.tour.reader import load

MISCHIEF = (
    "</script><img src=x onerror=\"document.title='taken'\"><a href='https://example.org'>here</a> {{plotly}} & <b>"
)


@functools.cache
def demo() -> Result:
    """The demo tour, simulated."""
    loaded = load(None)
    return simulate(loaded.van, loaded.tour, folder=loaded.folder)


@functools.cache
def mischievous() -> Result:
    """The same with mischief for every name that a person types: title, places, bottles, loads, zones' owners."""
    result = demo()
    stops = tuple(stop.model_copy(update={"place": f"{stop.place} {MISCHIEF}"}) for stop in result.tour.stops)
    tour = result.tour.model_copy(update={"title": MISCHIEF, "stops": stops})
    gas = result.van.gas
    bottles = tuple(bottle.model_copy(update={"name": f"{bottle.name} {MISCHIEF}"}) for bottle in gas.bottles)
    van = result.van.model_copy(update={"title": MISCHIEF, "gas": gas.model_copy(update={"bottles": bottles})})
    timeline = dataclasses.replace(result.timeline, tour=tour)
    return dataclasses.replace(result, van=van, tour=tour, timeline=timeline)


def sliders(typed: str = "") -> Section:
    """Gas on a grid of two settings: 10 kg, then one more for each step of the first and 0.1 for each of the second."""
    grid = 10.0 + np.arange(3)[:, None] + 0.1 * np.arange(2)[None, :]
    return slider_grid(
        ((f"setpoint by night{typed}", "°C", (12.0, 14.0, 16.0)), ("insulation", "W/m²K", (1.3, 1.8))),
        {"gas for the tour": ("kg", 1, grid)},
        (0, 0),
    )


def written_by(result: Result, typed: str = "") -> str:
    """The page of a result, with sliders whose first name ends in what somebody typed."""
    return page(result, Extras(uncertainty="One in ten plans like this would use more than 66 kg."), [sliders(typed)])


@functools.cache
def whole_parts() -> tuple[Extras, list[Section]]:
    """What ``budget run --odds 100`` adds to the demo's report."""
    return parts(Further(load(None), demo(), None, 100, 1, lambda _: None))


@functools.cache
def whole() -> str:
    """The page of ``budget run --odds 100``, as it is: every figure and every card."""
    return page(demo(), *whole_parts())


def page_of(path: Path, scenarios: int) -> str:
    """The page that ``budget run PATH --odds SCENARIOS`` writes."""
    loaded = load(path)
    result = simulate(loaded.van, loaded.tour, folder=loaded.folder)
    return page(result, *parts(Further(loaded, result, None, scenarios, 1, lambda _: None)))
