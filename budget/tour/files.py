"""File names in a tour: relative to the tour file, or "sample:NAME" for a packaged weather record."""

from __future__ import annotations

from pathlib import Path

from budget.errors import InputFault
from budget.tour.faults import did_you_mean

SAMPLE = "sample:"
_PACKAGE = Path(__file__).resolve().parent.parent
SAMPLES_FOLDER = _PACKAGE / "weather" / "data"
DEMO_TOUR = Path(__file__).resolve().parent / "data" / "demo-tour.toml"


def samples() -> list[str]:
    """Names of the packaged weather records."""
    return sorted(path.name for path in SAMPLES_FOLDER.glob("*.*") if not path.name.startswith(("_", ".")))


def locate(name: str, folder: Path) -> Path | str:
    """The path that a file name means, or what follows the field's name in the sentence about its fault."""
    if name.startswith(SAMPLE):
        wanted = name.removeprefix(SAMPLE)
        if wanted not in samples():
            return f'must name a packaged record, got "{name}"; {did_you_mean(wanted, samples())}'
        return SAMPLES_FOLDER / wanted
    try:
        path = folder / Path(name).expanduser()
        if path.is_dir():
            return f'must name a file, got the folder "{name}"; name the file in it.'
        if path.is_file():
            return path
    except (OSError, ValueError, RuntimeError):
        return f'must name a file that can be read, got "{name[:60]}"; check the name.'
    return f'must name a file that exists, got "{name}"; give it relative to the tour file.'


def resolve_file(name: str, folder: Path) -> Path:
    """The path that a file name in a tour means; ``folder`` is the tour file's. InputFault when no such file exists.

    >>> resolve_file("sample:gulf_of_riga_january.csv", Path(".")).name
    'gulf_of_riga_january.csv'
    """
    found = locate(name, folder)
    if isinstance(found, str):
        raise InputFault(f"weather.file {found}")
    return found
