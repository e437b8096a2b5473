"""Mutation testing with mutmut, in a copy of this checkout: ``python tests/mutate.py FOLDER physics``.

mutmut leaves decorated functions alone, and compiled code would not notice its switch between mutants. The copy
therefore has no compile decorators, and its functions run as plain Python (a hundred times slower, so the tests named
here are the small ones). psychrolib is told that there is no numba, which it would compile itself with. FOLDER keeps
the results: ``mutmut results`` and ``mutmut show NAME`` work there; a second call goes on where the first stopped.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from fnmatch import fnmatch
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
LEFT_OUT = shutil.ignore_patterns("__pycache__", ".git", ".venv", "mutants", ".*_cache", ".hypothesis", "budget-out")
WITHOUT_NUMBA = """import sys

_numba = sys.modules.pop("numba", None)
sys.modules["numba"] = None
import psychrolib  # noqa: E402, F401

del sys.modules["numba"]
if _numba is not None:
    sys.modules["numba"] = _numba
"""
# By part: what is mutated, and the tests that judge it.
PARTS = {
    "physics": (["budget/physics/*"], ["tests/claims/test_physics_*.py", "tests/published/test_physics_*.py"]),
}


def plain_copy(folder: Path) -> None:
    """A copy of the checkout without compile decorators."""
    shutil.copytree(ROOT, folder, ignore=LEFT_OUT)
    for path in (folder / "budget").rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        plain = re.sub(r"^@jit\n", "", text, flags=re.MULTILINE)
        if plain != text:
            path.write_text(plain, encoding="utf-8")
    conftest = folder / "tests" / "conftest.py"
    text = conftest.read_text(encoding="utf-8")
    first = "from __future__ import annotations\n"
    assert first in text
    conftest.write_text(text.replace(first, first + WITHOUT_NUMBA, 1), encoding="utf-8")


def settings(part: str) -> str:
    """mutmut's section of pyproject.toml."""
    mutated, judges = PARTS[part]
    tests = sorted(
        str(path.relative_to(ROOT))
        for path in (ROOT / "tests").rglob("test_*.py")
        if any(fnmatch(str(path.relative_to(ROOT)), judge) for judge in judges)
    )
    return (
        "\n[tool.mutmut]\n"
        'source_paths = ["budget"]\n'
        f"only_mutate = {mutated}\n"
        'also_copy = ["weather_samples", "notebooks", "README.md"]\n'
        f"pytest_add_cli_args_test_selection = {tests}\n"
        'pytest_add_cli_args = ["-p", "no:cacheprovider", "--hypothesis-seed=0"]\n'
    )


def main(folder: Path, part: str) -> int:
    """Make the copy where there is none yet, and run mutmut in it, one process."""
    if not folder.exists():
        plain_copy(folder)
        with (folder / "pyproject.toml").open("a", encoding="utf-8") as file:
            file.write(settings(part))
    environment = os.environ | {"NUMBA_DISABLE_JIT": "1"}
    environment.pop("PYTHONPATH", None)
    return subprocess.call([sys.executable, "-m", "mutmut", "run", "--max-children", "1"], cwd=folder, env=environment)


if __name__ == "__main__":
    if len(sys.argv) != 3 or sys.argv[2] not in PARTS:
        sys.exit(f"usage: python tests/mutate.py FOLDER {'|'.join(PARTS)}")
    sys.exit(main(Path(sys.argv[1]).resolve(), sys.argv[2]))
