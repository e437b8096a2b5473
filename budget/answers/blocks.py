"""Finished blocks of the odds kept on disk, so that an interrupted run is taken up where it was left.

A block is a few kilobytes: the figures of fifty scenarios. It is kept under a hash of all that it depends on, so that
another tour, seed, number of scenarios or version finds nothing and starts anew. A block taken up has the same bits as
one reckoned again, since each scenario draws from its own stream.
"""

from __future__ import annotations

import contextlib
import hashlib
import zipfile
from dataclasses import dataclass, fields, is_dataclass
from pathlib import Path
from typing import Any

import numpy as np
from pydantic import BaseModel

from budget.answers.ensemble import Ensemble, Kept
from budget.compiled import source_hash
from budget.errors import InputFault
from budget.version import __version__
from budget.whole_file import write_whole


@dataclass(frozen=True)
class Blocks:
    """The kept blocks of one ensemble, in a folder of its own within ``folder``."""

    folder: Path

    @classmethod
    def of(cls, ensemble: Ensemble, folder: Path) -> Blocks:
        """Where the blocks of this ensemble are kept; InputFault when the folder cannot be had."""
        prepared, winters = ensemble.prepared, ensemble.winters
        digest = hashlib.sha256(f"{__version__} {source_hash()} {ensemble.count} {ensemble.seed}".encode())
        taken = None if ensemble.taken is None else ensemble.taken.van
        _fold(digest, [prepared.van, prepared.tour, prepared.rows, ensemble.samples, taken])
        if winters is not None:  # its timeline and sun follow from the tour
            _fold(digest, {f.name: getattr(winters, f.name) for f in fields(winters) if f.name not in DERIVED})
        own = folder / digest.hexdigest()[:16]
        with _system_faults(folder):
            own.mkdir(parents=True, exist_ok=True)
        return cls(own)

    def read(self, first: int) -> Kept | None:
        """The block that begins with this scenario, None where there is none or it cannot be read."""
        try:
            with open(self._path(first), "rb") as file, np.load(file, allow_pickle=False) as found:
                return Kept(**{name: found[name] for name in Kept.__dataclass_fields__})
        except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
            return None

    def keep(self, first: int, block: Kept) -> None:
        """Write a block, whole or not at all."""
        with _system_faults(self.folder):
            parts = {part: getattr(block, part) for part in Kept.__dataclass_fields__}
            write_whole(self._path(first), lambda beside: np.savez(beside, **parts))

    def _path(self, first: int) -> Path:
        return self.folder / f"{first:06d}.npz"


DERIVED = ("timeline", "sun", "notices")


def _fold(digest: Any, value: Any) -> None:
    """Add a value to a digest, the same on every run: what sets and memory addresses would change is not looked at."""
    if isinstance(value, np.ndarray):
        digest.update(f"{value.dtype}{value.shape}".encode())
        digest.update(np.ascontiguousarray(value).tobytes())
    elif isinstance(value, BaseModel):
        digest.update(value.model_dump_json().encode())
    elif is_dataclass(value):
        _fold(digest, {part.name: getattr(value, part.name) for part in fields(value)})
    elif isinstance(value, dict):
        for name in sorted(value):
            digest.update(name.encode())
            _fold(digest, value[name])
    elif isinstance(value, (list, tuple)):
        for each in value:
            _fold(digest, each)
    else:
        digest.update(repr(value).encode())


@contextlib.contextmanager
def _system_faults(folder: Path) -> Any:
    try:
        yield
    except OSError as error:
        reason = (error.strerror or "an unknown fault").lower()
        raise InputFault(
            f"{folder} must be a folder that blocks can be kept in, the system reports: {reason}; choose another."
        ) from None
