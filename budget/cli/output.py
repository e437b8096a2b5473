"""Files that are whole or not there: written beside, moved into place together."""

from __future__ import annotations

import contextlib
import os
import signal
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from types import TracebackType

from budget.cli.faults import reason
from budget.errors import InputFault
from budget.whole_file import left_beside, made_beside, write_whole

try:
    import fcntl
except ImportError:  # not on every system; there, two runs at once are not noticed
    fcntl = None  # type: ignore[assignment]


class OutputFolder:
    """A folder that a run fills: made, locked against another run, and left as it was when anything goes wrong.

    Use it as a context manager around the work, so that a folder which cannot be used is refused before the work.
    ``write`` puts a file beside its place; all files move into place when the block ends without a fault.
    """

    def __init__(self, folder: Path, names: tuple[str, ...]) -> None:
        self.folder, self.names = folder, names
        self._made: list[Path] = []
        self._waiting: dict[Path, Path] = {}
        self._lock: int | None = None

    def __enter__(self) -> OutputFolder:
        try:
            self._make()
            self._claim()
            self._sweep()
            for name in self.names:
                refuse_folder(self.folder / name)
        except BaseException:
            self._leave_as_it_was()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        try:
            if kind is None:
                with undisturbed():
                    for place, beside in self._waiting.items():
                        with system_faults(place):
                            os.replace(beside, place)
                    self._waiting.clear()
                    self._made.clear()
        finally:
            self._leave_as_it_was()

    def write(self, name: str, writer: Callable[[Path], object]) -> None:
        """Let ``writer`` write the file of that name, beside its place for now."""
        place = self.folder / name
        with system_faults(place):
            beside = made_beside(place)
            self._waiting[place] = beside
            writer(beside)

    def _make(self) -> None:
        folder = self.folder
        missing = [path for path in (folder, *folder.parents) if not os.path.lexists(path)]
        for path in reversed(missing):
            with system_faults(folder, folder=True):
                path.mkdir()
                self._made.append(path)
        if not folder.is_dir():
            raise InputFault(f"{folder} must be a folder, a file is there; choose another with -o.")
        if not os.access(folder, os.W_OK | os.X_OK):
            raise InputFault(f"{folder} must be a folder that can be written to, got a read-only one; choose another.")

    def _claim(self) -> None:
        if fcntl is None:
            return
        with contextlib.suppress(OSError):
            self._lock = os.open(self.folder, os.O_RDONLY)
        if self._lock is None:
            return
        try:
            fcntl.flock(self._lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise InputFault(
                f"{self.folder} must be free, another run is writing to it; wait for that or choose another with -o."
            ) from None
        except OSError:
            pass  # a file system without locks

    def _sweep(self) -> None:
        """Take away what runs that were ended from outside left beside the places of their files."""
        if self._lock is None:
            return  # another run may be writing them just now
        for name in self.names:
            for stale in left_beside(self.folder / name):
                with contextlib.suppress(OSError):
                    stale.unlink()

    def _leave_as_it_was(self) -> None:
        for beside in self._waiting.values():
            beside.unlink(missing_ok=True)
        if self._lock is not None:
            os.close(self._lock)
            self._lock = None
        for path in reversed(self._made):
            with contextlib.suppress(OSError):
                path.rmdir()


@contextlib.contextmanager
def undisturbed() -> Iterator[None]:
    """Let Ctrl-C wait for the few moves of files in the block; then the run is done, and there is nothing to stop."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def write_text(place: Path, text: str) -> None:
    """UTF-8 with plain line ends, the same bytes on every system."""
    place.write_text(text, encoding="utf-8", newline="\n")


def write_file(place: Path, writer: Callable[[Path], object]) -> None:
    """One file, whole or not there."""
    refuse_folder(place)
    with system_faults(place):
        write_whole(place, writer)


def refuse_folder(place: Path) -> None:
    """InputFault when a folder lies where a file is meant."""
    if place.is_dir():
        raise InputFault(f"{place} must be a file, a folder is there; remove it or write elsewhere.")


@contextlib.contextmanager
def system_faults(place: Path, *, folder: bool = False) -> Iterator[None]:
    """Turn what the system refuses into one sentence about the file or folder meant."""
    kind = "folder" if folder else "file"
    try:
        yield
    except (NotADirectoryError, FileExistsError):
        raise InputFault(f"{place} must be a {kind} in a folder, a file is in its way; write elsewhere.") from None
    except FileNotFoundError:
        raise InputFault(f"{place} must be in a folder that exists, none is there; make it first.") from None
    except OSError as error:
        raise InputFault(
            f"{place} must be a {kind} that can be written, the system reports: {reason(error)}; write elsewhere."
        ) from None
