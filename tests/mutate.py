"""Mutation testing with mutmut, in a copy of this checkout: ``python tests/mutate.py FOLDER physics [COUNT]``.

mutmut leaves decorated functions alone, and compiled code would not notice its switch between mutants. The copy
therefore has no compile decorators where it is mutated; physics and engine then run as plain Python (a hundred times
slower, so the tests named here are the small ones), while answers keep the compiled engine. psychrolib is told that
there is no numba, which it would compile itself with. With COUNT as many mutants are drawn from a fixed seed. FOLDER
keeps the results: ``mutmut results`` and ``mutmut show NAME`` work there; a second call goes on where the first
stopped.
"""

from __future__ import annotations

import json
import os
import random
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
SMALL = ["tests/claims/test_physics_*.py", "tests/published/test_physics_*.py"]
# By part: what is mutated, the tests that judge it, and whether physics and engine run as plain Python.
PARTS = {
    "physics": (["budget/physics/*"], SMALL, True),
    "engine": (
        # not thermal.py: the copies of its one long function, a thousand of them, are more than mutmut can write
        [f"budget/engine/{name}.py" for name in
         ("bottles", "current", "damp", "plumbing", "state", "stepping", "supply", "surroundings", "thermostat",
          "warm_air")],
        ["tests/claims/test_engine_small_day.py", "tests/published/test_network_closed_forms.py"],
        True,
    ),
    "answers": (
        ["budget/answers/*"],
        ["tests/claims/test_answers_*.py", "tests/claims/test_weigh_*.py", "tests/published/test_answers_*.py",
         "tests/published/test_sensitivity_*.py"],
        False,
    ),
}  # fmt: skip


def plain_copy(folder: Path, part: str) -> None:
    """A copy of the checkout without compile decorators where it is mutated."""
    shutil.copytree(ROOT, folder, ignore=LEFT_OUT)
    plain = PARTS[part][2]
    for path in (folder / "budget" if plain else folder / "budget" / part).rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        bare = re.sub(r"^@jit\n", "", text, flags=re.MULTILINE)
        if bare != text:
            path.write_text(bare, encoding="utf-8")
    if plain:
        conftest = folder / "tests" / "conftest.py"
        text = conftest.read_text(encoding="utf-8")
        first = "from __future__ import annotations\n"
        assert first in text
        conftest.write_text(text.replace(first, first + WITHOUT_NUMBA, 1), encoding="utf-8")


def settings(part: str) -> str:
    """mutmut's section of pyproject.toml."""
    mutated, judges, _ = PARTS[part]
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
        'process_isolation = "forkserver"\n'  # results that tests keep between them must not outlive a mutant
        'pytest_add_cli_args = ["-p", "no:cacheprovider", "--hypothesis-seed=0", "-k", "not two_kilowatts"]\n'
    )


def drawn(folder: Path, count: int) -> list[str]:
    """Names of mutants drawn from a fixed seed; mutmut writes them beside each mutated file."""
    names: list[str] = []
    for path in sorted((folder / "mutants").rglob("*.meta")):
        names += sorted(json.loads(path.read_text(encoding="utf-8"))["exit_code_by_key"])
    return sorted(random.Random(8).sample(names, min(count, len(names))))


def main(folder: Path, part: str, count: int | None = None) -> int:
    """Make the copy where there is none yet, and run mutmut in it, one process."""
    if not folder.exists():
        plain_copy(folder, part)
        with (folder / "pyproject.toml").open("a", encoding="utf-8") as file:
            file.write(settings(part))
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    if PARTS[part][2]:
        environment["NUMBA_DISABLE_JIT"] = "1"
    run = [sys.executable, "-m", "mutmut", "run", "--max-children", "1"]
    if count is not None:
        if not any((folder / "mutants").rglob("*.meta")):
            subprocess.call([*run, "none of them"], cwd=folder, env=environment)  # makes the mutants, judges none
        run += drawn(folder, count)
    return subprocess.call(run, cwd=folder, env=environment)


if __name__ == "__main__":
    if len(sys.argv) not in (3, 4) or sys.argv[2] not in PARTS:
        sys.exit(f"usage: python tests/mutate.py FOLDER {'|'.join(PARTS)} [COUNT]")
    sys.exit(main(Path(sys.argv[1]).resolve(), sys.argv[2], int(sys.argv[3]) if len(sys.argv) == 4 else None))
