"""``budget heater-size``."""

from __future__ import annotations

import click

from budget.cli import options
from budget.cli.common import Asked, about_a_tour
from budget.rounding import rounded_up


@click.command("heater-size", epilog="Example:  budget heater-size my-tour.toml --design -20")
@click.option(
    "--design",
    "design_c",
    type=float,
    metavar="C",
    default=-15.0,
    show_default=True,
    help="Coldest temperature outdoors to be ready for [°C].",
)
@click.option(
    "--inside",
    "inside_c",
    type=float,
    metavar="C",
    default=20.0,
    show_default=True,
    help="Temperature wished for inside [°C].",
)
@options.number("--wind", "wind_m_per_s", (0.0, 75.0), 2.0, "M/S", "Wind at the van [m/s].")
@options.altitude(-450.0, 6000.0)
@about_a_tour
def command(asked: Asked, design_c: float, inside_c: float, wind_m_per_s: float, altitude_m: float | None) -> None:
    """Whether the heater of the van in TOUR is large enough at a design temperature.

    Loss by zone and element, output left, the cold that it still holds at 20, 16 and 12 °C, and how long warming up
    takes from cold-soaked: at the tour's highest stop and at sea level, there with screens and curtain up and down (up:
    hung before the glass). The output is that of the burner, of the electric element on a hook-up, or of both, as the
    tour heats; where it heats in several ways, that which leaves least decides and the others stand beside it. It is
    what the supply air can carry below its limit, where that is less than the rating plate's.
    """
    loaded = asked.load()
    asked.prepare_engine()
    from budget.answers.heat_source import sources_of
    from budget.answers.heater_size import Loss, answer
    from budget.answers.heater_size_words import COLDEST_C
    from budget.answers.prepared import timeline_of
    from budget.cli.records import show_answer
    from budget.engine.hour_arrays import hour_records
    from budget.engine.van_arrays import build_van

    high_m = options.highest_m(loaded.tour, altitude_m)
    line = timeline_of(loaded.van, loaded.tour)
    found = answer(
        loaded.van,
        design_c=design_c,
        inside_c=inside_c,
        wind_m_per_s=wind_m_per_s,
        altitude_m=high_m,
        sources=sources_of(loaded.van, line, hour_records(build_van(loaded.van), line)),
    )
    cases = (found.cases[-1], *found.cases[:-1])
    held: list[dict[str, object]] = [
        dict[str, object](case=case.name)
        | {
            f"{room.replace('_c', ' °C').replace('_', ' ')}\ndown to °C": (
                f"below {COLDEST_C:g}" if lowest is None else rounded_up(lowest)
            )
            for room, lowest in case.lowest_c.items()
        }
        for case in cases
    ]
    best = cases[0]
    heat = [
        *best.losses,
        Loss(zone="all", element="together", loss_w=sum(loss.loss_w for loss in best.losses)),
        Loss(zone="", element="of it from the fan", loss_w=best.fan_w),
        Loss(zone="", element="of it from burner or element, as above", loss_w=rounded_up(best.needed_w)),
    ]
    decides = "" if len(found.sources) == 1 and found.sources[0].name == "burner" else f", by {found.sources[0].name}"
    by_source = {f"By what the tour heats with: {best.name}": found.sources} if decides else {}
    tables = {
        **by_source,
        f"Cases{decides}": cases,
        "Coldest outdoors held": held,
        f"Where the heat goes: {best.name}": heat,
    }
    show_answer(asked, found, tables)
