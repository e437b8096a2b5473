"""Names that a tour uses and a van must have."""

from __future__ import annotations

from collections.abc import Sequence

from budget.tour.faults import Fault, did_you_mean
from budget.tour.model import Tour


def unknown_openings_and_zones(tour: Tour, openings: Sequence[str], zones: Sequence[str]) -> list[Fault]:
    """Openings that habits close and zones that kit dries in, without such a part in the van."""
    faults = [
        Fault(("habits", "closed", name), f"must name an opening of the van; {_choose(name, openings)}")
        for name in tour.habits.closed
        if name not in openings
    ]
    for number, kit in enumerate(tour.drying):
        if kit.zone not in zones:
            text = f'must be a zone of the van, got "{kit.zone}"; {_choose(kit.zone, zones)}'
            faults.append(Fault(("drying", number, "zone"), text))
    return faults


def unknown_bottles(tour: Tour, bottles: Sequence[str]) -> list[Fault]:
    """Exchange places for bottle systems that the van does not carry."""
    return [
        Fault(
            ("stops", number, "exchange", entry, "bottle"),
            f'must be a bottle of the van, got "{exchange.bottle}"; {_choose(exchange.bottle, bottles)}',
        )
        for number, stop in enumerate(tour.stops)
        for entry, exchange in enumerate(stop.exchange)
        if exchange.bottle not in bottles
    ]


def _choose(wrong: str, known: Sequence[str]) -> str:
    return did_you_mean(wrong, dict.fromkeys(known))
