"""The compile decorators, and a cache that notices every edit.

numba's own cache looks only at the file of the function it holds, so an edit in a called module would go
unnoticed. The cache folder is therefore named after a hash of every source file that is compiled; it lies beside
the package, or in the user's cache folder where the installation is read-only.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, TypeVar, cast

F = TypeVar("F", bound=Callable[..., Any])

_PACKAGE = Path(__file__).resolve().parent
_COMPILED_FOLDERS = ("physics", "engine")


def source_hash(package: Path = _PACKAGE) -> str:
    """Hash of every Python source file that holds compiled code, and of how it is compiled (this file)."""
    digest = hashlib.sha256((package / "compiled.py").read_bytes())
    for folder in _COMPILED_FOLDERS:
        for path in sorted((package / folder).glob("*.py")):
            digest.update(path.name.encode())
            digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


def _user_cache() -> Path:
    base = os.environ.get("XDG_CACHE_HOME") or os.path.join(os.path.expanduser("~"), ".cache")
    return Path(base) / "budget"


@cache
def cache_folder() -> Path | None:
    """Folder of compiled code for exactly these sources; None where none can be written."""
    name = f"compiled-{source_hash()}"
    for base in (_PACKAGE / "__pycache__", _user_cache()):
        folder = base / name
        try:
            folder.mkdir(parents=True, exist_ok=True)
            if os.access(folder, os.W_OK):
                return folder
        except OSError:
            continue
    return None


def is_compiled() -> bool:
    """True when code for these sources has been compiled before (a first run takes some seconds)."""
    folder = cache_folder()
    return folder is not None and any(folder.rglob("*march_some*.nbi"))


def jit(function: F) -> F:
    """Compile with numba, merged into whatever calls it; the interpreter lock is released, the code cached.

    Records travel as dozens of pointers: a call costs as much as many a formula. What is large and called from
    several places is a function of its own: ``jit_apart``.
    """
    return _compile(function, forceinline=True)


def jit_within(function: F) -> F:
    """Write the function into its one caller before anything is compiled, so that it is compiled once."""
    return _compile(function, inline="always")


def jit_apart(function: F) -> F:
    """As ``jit``, but compiled as a function of its own."""
    return _compile(function)


def _compile(function: F, **options: Any) -> F:
    import numba

    folder = cache_folder()
    njit: Any = numba.njit
    config: Any = numba.config
    before = config.CACHE_DIR
    if folder is not None:
        config.CACHE_DIR = str(folder)
    try:
        cached = folder is not None
        compiled = njit(cache=cached, nogil=True, error_model="numpy", no_cfunc_wrapper=True, **options)(function)
        return cast(F, compiled)
    finally:
        config.CACHE_DIR = before
