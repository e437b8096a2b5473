"""The command line: a thin twin of the library. This module knows every command's name and imports none of them."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from importlib import import_module
from typing import Any, NamedTuple

import click

from budget import __version__
from budget.cli.faults import ReaderGoneError, as_exit_code
from budget.cli.lasting import search_seldom


class Entry(NamedTuple):
    """One command as ``budget --help`` shows it: its file in this folder, its heading, what it does."""

    module: str
    heading: str
    short: str


TOUR, ANSWERS, FILES = "A tour", "Questions", "Files and help"

COMMANDS: dict[str, Entry] = {
    "run": Entry("run", TOUR, "Simulate a tour: bottles, burner hours, amp-hours, cold and damp."),
    "new": Entry("new", TOUR, "Write a starter tour file, every line explained."),
    "check": Entry("check", TOUR, "Check a tour file and show the numbers it turned into."),
    "plan": Entry("plan", ANSWERS, "The bottles day by day: swaps, last chances, what the scale should read."),
    "compare": Entry("compare", ANSWERS, "Schedules or changes side by side: what each saves and costs."),
    "best-schedule": Entry("best_schedule", ANSWERS, "The least gas within limits that you state."),
    "tonight": Entry("tonight", ANSWERS, "Can we stay another night, and when should the timer start?"),
    "odds": Entry("odds", ANSWERS, "Many winters instead of one: bottles, gas and charge with their odds."),
    "matters": Entry("matters", ANSWERS, "Which uncertain inputs matter most, and what to measure."),
    "measures": Entry("measures", ANSWERS, "Screens, curtain, foam, set-back, showers, solar: what each saves."),
    "learn": Entry("learn", ANSWERS, "What a logged night tells about the van: W/K, and how sure."),
    "weigh": Entry("weigh", ANSWERS, "A bottle weighed on the way: kg a day and run-out from now on."),
    "record": Entry("record", ANSWERS, "After the tour: predicted against weighed, by cause."),
    "battery": Entry("battery", ANSWERS, "Nights without sun until cut-out, hours to drive, amp-hours by day."),
    "hookup": Entry("hookup", ANSWERS, "What 3, 6, 10 or 16 A give: heat, cold held, trips, cost."),
    "heater-size": Entry("heater_size", ANSWERS, "Is the heater large enough, and how long does warming up take?"),
    "ducts": Entry("ducts", ANSWERS, "What each warm-air outlet gets, and what balancing would do."),
    "outage": Entry("outage", ANSWERS, "If the heater stops: hours until it is cold, what to drain first."),
    "schema": Entry("schema", FILES, "Print the JSON Schema of the tour file or of the summary."),
    "weather": Entry("weather", FILES, "Show or convert a weather record."),
    "help": Entry("help", FILES, "Explain a topic: the tour file, the answer, files, the model."),
    "version": Entry("version", FILES, "Print the version."),
}


class Commands(click.Group):
    """A group whose commands are imported when they are called, and whose faults end in a sentence and a code."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Every command, in the order of the table."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of that name, imported now."""
        entry = COMMANDS.get(cmd_name)
        if entry is None:
            return None
        command: click.Command = import_module(f"budget.cli.{entry.module}").command
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command that is asked for; wrong usage, with the nearest one, where there is none of that name."""
        name = args[0] if args else ""
        if name and name not in COMMANDS and not name.startswith("-"):
            from budget.tour.faults import did_you_mean

            near = f"did you mean budget run {name}?" if name.endswith(".toml") else did_you_mean(name, COMMANDS)
            advice = f" ({near})" if near.startswith("did") else ""
            raise click.UsageError(f"no such command '{name}'{advice}", ctx)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The commands under their headings, from the table alone."""
        for heading in dict.fromkeys(entry.heading for entry in COMMANDS.values()):
            with formatter.section(heading):
                formatter.write_dl(
                    [(name, entry.short) for name, entry in COMMANDS.items() if entry.heading == heading]
                )

    def invoke(self, ctx: click.Context) -> Any:
        """Call the command; a reader that went away is told from click's own way of ending then."""
        try:
            return super().invoke(ctx)
        except BrokenPipeError:
            raise ReaderGoneError from None

    def main(  # type: ignore[override]
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        standalone_mode: bool = True,
        **extra: Any,
    ) -> Any:
        """Run the command line; ends the process with one of the documented exit codes."""

        def run() -> Any:
            return super(Commands, self).main(args, prog_name, standalone_mode=False, **extra)

        if not standalone_mode:
            return run()
        sys.exit(as_exit_code(run))

    def __call__(self, *args: Any, **kwargs: Any) -> Any:
        """As the process's one command, which is how the installed script and ``python -m budget`` call it."""
        search_seldom()
        return super().__call__(*args, **kwargs)


def _version(context: click.Context, _: click.Parameter, asked: bool) -> None:
    if asked:
        click.echo(f"budget {__version__}")
        context.exit()


@click.command(
    cls=Commands,
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog="Begin with:  budget run",
)
@click.option(
    "--version", is_flag=True, is_eager=True, expose_value=False, callback=_version, help="Print the version."
)
def main() -> None:
    """Gas, power and warmth for a winter tour in a camper van.

    Takes a tour file (van, tour and weather) and reckons hour by hour how many gas bottles it needs, whether the
    battery carries the heater's fan and everything else, and where it will be cold, damp or frozen. With no file,
    `budget run` shows a built-in demo tour.
    """
