"""What the commands share: their options, reading the tour, JSON on standard output, talk on standard error."""

from __future__ import annotations

import contextlib
import json
import math
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from budget.answers.prepared import Prepared
    from budget.results.result import Result
    from budget.tour.reader import Loaded

PATH = click.Path(path_type=Path)


class Percent(click.types.FloatParamType):
    """A number in percent; what looks like a share of one is refused, since 0.7 % is never meant."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The number as it is, in percent."""
        percent = float(super().convert(value, param, ctx))
        if 0.0 < percent < 1.0:
            self.fail(
                f"it is in percent, got {percent:g}; write {100.0 * percent:g} for {percent:g} of full", param, ctx
            )
        return percent


PERCENT = Percent()


@dataclass(frozen=True)
class Asked:
    """What a command about a tour was asked for, whatever else its own options say."""

    tour: Path | None
    settings: tuple[str, ...]
    weather: Path | None
    as_json: bool
    quiet: bool
    verbose: int

    def load(self) -> Loaded:
        """The tour file read, or the built-in demo tour."""
        from budget.tour.reader import load

        if self.tour is None and not self.quiet:
            say("no tour file named: this is the built-in demo tour, invented")
        loaded = load(self.tour, self.settings)
        if self.verbose:
            for source in loaded.sources:
                say(f"read {source}")
        return loaded

    def simulate(self, loaded: Loaded | None = None) -> Result:
        """The tour simulated hour by hour, with a word where that takes long."""
        loaded = loaded or self.load()
        self.prepare_engine()
        from budget.simulation import simulate

        return simulate(loaded.van, loaded.tour, folder=loaded.folder, weather_file=self.weather)

    def prepared(self) -> Prepared:
        """The tour ready for variants of it, with a word where that takes long."""
        loaded = self.load()
        self.prepare_engine()
        from budget.answers.prepared import Prepared

        return Prepared.from_loaded(loaded, weather_file=self.weather)

    @contextlib.contextmanager
    def progress(self, what: str, total: int) -> Iterator[Callable[[int], object]]:
        """A bar on standard error for work over a second, where somebody is looking."""
        if self.quiet or not sys.stderr.isatty():
            yield lambda _: None
            return
        from rich.console import Console
        from rich.progress import Progress

        with Progress(console=Console(file=sys.stderr), transient=True) as bar:
            task = bar.add_task(what, total=total)
            yield lambda count: bar.advance(task, count)

    def prepare_engine(self) -> None:
        """A word to the user before a first compilation."""
        from budget.compiled import is_compiled

        if not is_compiled() and not self.quiet:
            say("compiling the engine once, which takes about half a minute ...")

    def show(self, data: Any, draw: Callable[[], None]) -> None:
        """Data as JSON when asked for, else whatever ``draw`` draws."""
        if self.as_json:
            print_json(data)
        else:
            draw()


def about_a_tour(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the TOUR argument and the options that every such command has; it is called with ``Asked``."""

    @click.argument("tour", type=PATH, required=False)
    @click.option(
        "--set",
        "settings",
        metavar="NAME=VALUE",
        multiple=True,
        help="Set one value of the tour file, such as stops[0].hookup_a=6 (lists count from 0); may be repeated.",
    )
    @click.option("--weather", type=PATH, metavar="FILE", help="A weather file that serves for every stop.")
    @click.option("--json", "as_json", is_flag=True, help="Print one JSON object and nothing else.")
    @click.option("-q", "--quiet", is_flag=True, help="No talk, only the answer.")
    @click.option("-v", "--verbose", count=True, help="More detail.")
    @wraps(command)
    def asked(
        *,
        tour: Path | None,
        settings: tuple[str, ...],
        weather: Path | None,
        as_json: bool,
        quiet: bool,
        verbose: int,
        **own: Any,
    ) -> None:
        _must_be_finite(own)
        command(Asked(tour, settings, weather, as_json, quiet, verbose), **own)

    return asked


def _must_be_finite(options: dict[str, Any]) -> None:
    """Wrong usage for an option that is no number or without end, which click's ranges let through."""
    named = {parameter.name: parameter for parameter in click.get_current_context().command.params}
    for name, value in options.items():
        for each in value if isinstance(value, tuple) else (value,):
            if isinstance(each, float) and not math.isfinite(each):
                raise click.BadParameter(f"{each} is not a finite number.", param=named[name])


def say(sentence: str) -> None:
    """One line of talk, on standard error."""
    print(f"budget: {sentence}", file=sys.stderr, flush=True)


def print_json(data: Any) -> None:
    """One JSON object on standard output; what is not a finite number is null."""
    print(as_json(data))


def as_json(data: Any) -> str:
    """JSON text of plain data, numpy numbers and times included."""
    ascii_only = (sys.stdout.encoding or "ascii").lower().replace("-", "") != "utf8"
    return json.dumps(plain(data), ensure_ascii=ascii_only, indent=2, allow_nan=False)


def plain(data: Any) -> Any:
    """Data in JSON's own kinds."""
    if isinstance(data, dict):
        return {str(name): plain(value) for name, value in data.items()}
    if isinstance(data, (list, tuple)):
        return [plain(value) for value in data]
    if isinstance(data, bool) or data is None or isinstance(data, (int, str)):
        return data
    if hasattr(data, "isoformat"):
        return data.isoformat()
    if hasattr(data, "tolist"):
        return plain(data.tolist())
    if isinstance(data, float):
        return data if math.isfinite(data) else None
    return str(data)
