"""``budget odds``."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

import click

from budget.cli import options
from budget.cli.common import PATH, Asked, about_a_tour

if TYPE_CHECKING:
    from budget.answers.quantiles import Quantiles

LEAST_SHARE = 0.005  # bars below half a percent are left to the JSON


@click.command("odds", epilog="Example:  budget odds my-tour.toml --scenarios 200 --seed 7")
@options.draws(10, 1000)
@options.seed()
@click.option("--only", type=click.Choice(["weather", "van"]), help="Vary the weather alone, or the van alone.")
@click.option(
    "--keep", type=PATH, metavar="DIR", help="Keep finished winters here; an interrupted run goes on from them."
)
@about_a_tour
def command(asked: Asked, scenarios: int, seed: int, only: str | None, keep: Path | None) -> None:
    """The odds of TOUR over many winters and many vans like this one.

    P10, P50 and P90 of gas and lowest charge, the chance that 1, 2, 3 ... bottles last, and what fails first.
    """
    prepared = asked.prepared()
    from budget.answers.odds import answer
    from budget.answers.quantiles import chance_half_width
    from budget.cli.records import show_answer
    from budget.results.need import AS_IT_STANDS, WITH_POWER
    from budget.results.provenance import provenance_of

    with asked.progress("winters", scenarios) as done:
        found = answer(
            prepared,
            scenarios=scenarios,
            seed=seed,
            weather=only != "van",
            parameters=only != "weather",
            done=done,
            keep=keep,
        )
    origin = {"provenance": provenance_of(prepared.van, prepared.tour, prepared.rows)}
    cut_out = found.cut_out_share > 0.0
    power, stands = (f" {WITH_POWER}", f" {AS_IT_STANDS}") if cut_out else ("", "")
    quantiles = {
        f"gas needed{power}, kg": (found.gas, 1.0),
        f"lowest charge{stands}, %": (found.lowest_charge, 100.0),
        f"lowest inside{stands}, °C": (found.lowest_inside, 1.0),
        f"lowest pipes{stands}, °C": (found.lowest_pipes, 1.0),
    }
    tables: dict[str, list[dict[str, object]]] = {
        "Bands": [{"what": what, **with_half_widths(q, scale)} for what, (q, scale) in quantiles.items()],
        f"Full bottles of {found.bottle_kg:g} kg without a change on the way": [
            {
                "bottles": count,
                f"last{power}_share": share,
                "±_share": chance_half_width(share, found.scenarios),
                "last as it stands_share": found.chance_as_it_stands_share[count] if cut_out else None,
            }
            for count, share in found.chance_by_bottles_share.items()
        ],
        "What fails first, the gas counted with power" if cut_out else "What fails first": [
            {"what": what, "falls short in_share": share} for what, share in found.binding_share.items()
        ],
    }
    from budget.answers import sensitivity

    if scenarios < sensitivity.LEAST_SCENARIOS:
        show_answer(asked, found, tables, origin)
        return
    matters = sensitivity.answer(found)
    if asked.as_json:
        asked.show(found.as_dict() | origin | {"sensitivity": matters.as_dict()}, lambda: None)
        return
    for title, bars in (("gas", matters.gas), ("the lowest charge", matters.charge)):
        tables[f"What {title} depends on"] = [
            {"what": bar.words, "of its spread_share": bar.share}
            for bar in bars
            if bar.share >= LEAST_SHARE and not bar.by_chance
        ]
    tables["What a measurement is worth"] = [
        {"what": worth.what, "band of gas narrower by_share": worth.narrower_share}
        for worth in matters.worth
        if worth.narrower_share >= LEAST_SHARE
    ]
    show_answer(asked, found, tables)


def with_half_widths(quantiles: Quantiles, scale: float = 1.0) -> dict[str, float | None]:
    """P10, P50 and P90, each with the half-width of its 95 % interval, which shrinks as more winters are drawn."""
    told: dict[str, float | None] = {}
    for name in ("p10", "p50", "p90"):
        half = scale * getattr(quantiles, f"{name}_half_width")
        told[name.upper()] = scale * getattr(quantiles, name)
        told[f"{name.upper()} ±"] = None if math.isnan(half) else half
    return told
