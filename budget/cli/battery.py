"""``budget battery``."""

from __future__ import annotations

import click

from budget.cli.common import Asked, about_a_tour


@click.command("battery", epilog="Example:  budget battery --at 2027-01-14T18:00")
@click.option("--at", metavar="TIME", help="The evening to judge: local time.  [default: every one off the grid]")
@about_a_tour
def command(asked: Asked, at: str | None) -> None:
    """How long the charge lasts in TOUR without sun, how long to drive to reach tomorrow, amp-hours by day."""
    prepared = asked.prepared()
    from budget.answers.battery import answer
    from budget.answers.battery_words import MOST_DRIVE_H
    from budget.cli.records import show_answer

    found = answer(prepared, at)
    evenings = [
        {
            "at": stand.at,
            "place": stand.place,
            "charge_share": stand.charge_share,
            "cut out at_share": stand.cut_out_at_share,
            "back at_share": stand.reconnects_at_share,
            "lasts_h": "cut out" if stand.cut_out else stand.lasts_h,
            "nights it lasts": stand.nights,
            "drive needed from then on_h": f"over {MOST_DRIVE_H:g}" if stand.drive_h is None else stand.drive_h,
            "too cold to charge_h": stand.no_charge_h,
        }
        for stand in found.stands
    ]
    title = "Evenings off the grid: how long the charge lasts with no sun, drive or hook-up"
    show_answer(asked, found, {title: evenings, "Amp-hours by day": found.days})
