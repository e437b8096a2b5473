"""Mutation testing: ``python tests/mutate.py FOLDER PART [COUNT] [MODULE ...] [--seed N] [--workers N]``.

PART is one of ``PARTS``.

The mutants are those of mutmut's operators. mutmut itself writes a module with a copy of every function for each of
its mutants, which for the engine's long functions is more than memory holds, and leaves decorated functions alone.
Here one mutant at a time is compiled, put in the place of its function's code in a forked process, and judged there
by the tests that call that function, the quickest first, then by the others of their files where tests share what
they reckoned. Physics and engine run as plain Python (a hundred times slower than compiled, so the tests named here
are the small ones), arrays and answers over the compiled engine. A mutant is killed when a test fails or takes far
longer than it did.

With COUNT as many mutants are drawn from a seed, of the named modules where there are any. FOLDER keeps what
the tests call and what each worker found, ``results-*.json``; a second call goes on where the first stopped.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import difflib
import importlib
import json
import os
import random
import re
import signal
import sys
import time
import traceback
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import FunctionType
from typing import Any

import numpy as np
import pytest

ROOT = Path(__file__).resolve().parent.parent
# By part: what is mutated, the tests that judge it, and whether physics and engine run as plain Python.
PARTS: dict[str, tuple[list[str], list[str], bool]] = {
    "physics": (["budget/physics/*.py"], ["tests/claims/test_physics_*.py", "tests/published/test_physics_*.py"], True),
    "engine": (
        [f"budget/engine/{name}.py" for name in
         ("allowance", "block", "bottles", "crossing", "current", "damp", "march", "network", "plumbing", "rows",
          "state", "stepping", "supply", "surroundings", "thermal", "thermostat", "warm_air")],
        ["tests/claims/test_engine_parts_*.py", "tests/published/test_network_closed_forms.py",
         "tests/claims/test_engine_small_day.py"],
        True,
    ),
    "arrays": (  # what turns models into the march's arrays
        [f"budget/engine/{name}.py" for name in ("batch", "hour_arrays", "layout", "paths", "van_arrays")],
        ["tests/claims/test_engine_*.py", "tests/claims/test_van_*.py", "tests/claims/test_results_*.py",
         "tests/published/test_van_*.py", "tests/published/test_network_*.py", "tests/balance/test_books.py"],
        False,
    ),
    "answers": (
        ["budget/answers/**/*.py"],
        ["tests/claims/test_answers_*.py", "tests/claims/test_weigh_*.py", "tests/claims/test_learn*.py",
         "tests/published/test_answers_*.py", "tests/published/test_sensitivity_*.py",
         "tests/claims/test_van_numbers.py", "tests/refusals/test_learn_logs.py",
         "tests/surface/test_cli_answers.py", "tests/surface/test_cli_learn.py",
         "tests/surface/test_summary_schema.py"],
        False,
    ),
    "writing": (  # how numbers, moments and spans of time are read and written
        [f"budget/{name}.py" for name in ("arrived", "moments", "rounding", "spans", "wording")],
        ["tests/claims/test_moments.py", "tests/claims/test_rounding.py", "tests/claims/test_spans.py",
         "tests/claims/test_report_headline.py", "tests/claims/test_results_need.py", "tests/claims/test_tour_*.py",
         "tests/refusals/test_t*.py", "tests/refusals/test_van_refusals.py"],
        False,
    ),
}  # fmt: skip
PYTEST = ["-q", "-s", "-p", "no:cacheprovider", "--hypothesis-seed=0", "--tb=line", "--no-header",
          "-W", "ignore::pytest.PytestAssertRewriteWarning"]  # fmt: skip
MOST_S = 20.0  # of processor time for the tests of one mutant; what would fail later counts as a survivor
SPARE_S = 2.0  # of processor time for a test, beyond four times what it took without a mutant
SHARING = re.compile(r"@cache|@lru_cache|scope=\"module\"|import small_tour|from small_tour")


@dataclass(frozen=True)
class Mutant:
    """One change of one function."""

    name: str
    module: str
    function: str  # as in the module: ``name`` or ``Class.name``
    source: str
    change: str


def plain() -> bool:
    """Whether compiled functions run as plain Python."""
    return os.environ.get("NUMBA_DISABLE_JIT") == "1"


def module_of(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts)


def mutants_of(path: Path) -> Iterator[Any]:
    """Names of a file's mutants, each with what makes it: drawing comes before the slow making."""
    from mutmut.mutation.file_mutation import create_mutations

    text = path.read_text("utf-8")
    if plain():  # mutmut leaves decorated functions alone, and compile decorators do nothing then
        text = re.sub(r"^@jit\n", "", text, flags=re.MULTILINE)
    whole, mutations, *_ = create_mutations(str(path), text)
    places: dict[int, str] = {}
    for statement in whole.body:
        inner = getattr(getattr(statement, "body", None), "body", ())
        if type(statement).__name__ == "FunctionDef":
            places[id(statement)] = statement.name.value
        elif type(statement).__name__ == "ClassDef":
            for method in inner:
                if type(method).__name__ == "FunctionDef":
                    places[id(method)] = f"{statement.name.value}.{method.name.value}"
    module = module_of(path)
    counts: Counter[str] = Counter()
    for mutation in mutations:
        holder = mutation.contained_by_top_level_function
        if id(holder) in places:
            function = places[id(holder)]
            counts[function] += 1
            yield f"{module}.{function}#{counts[function]}", module, function, whole, mutation


def made(name: str, module: str, function: str, whole: Any, mutation: Any) -> Mutant:
    holder = mutation.contained_by_top_level_function
    before = whole.code_for_node(holder)
    after = whole.code_for_node(holder.deep_replace(mutation.original_node, mutation.mutated_node))
    lines = difflib.unified_diff(before.splitlines(), after.splitlines(), lineterm="", n=0)
    change = "\n".join(line for line in lines if line[:1] in "-+" and line[:3] not in ("---", "+++"))
    return Mutant(name=name, module=module, function=function, source=after, change=change)


def put_in_place(mutant: Mutant) -> None:
    """Give the function, wherever it is referred to, the mutant's code."""
    module = importlib.import_module(mutant.module)
    target: Any = module
    for part in mutant.function.split("."):
        target = vars(target)[part]
    target = getattr(target, "__func__", target)
    names: dict[str, Any] = {}
    source = "from __future__ import annotations\n" + re.sub(r"\A\s*\n", "", mutant.source)
    exec(compile(source, f"<{mutant.name}>", "exec"), vars(module).copy(), names)
    new = names[mutant.function.rpartition(".")[2]]
    new = getattr(new, "__func__", new)
    assert isinstance(target, FunctionType), mutant.name
    target.__code__ = new.__code__
    target.__defaults__, target.__kwdefaults__ = new.__defaults__, new.__kwdefaults__


def forked(act: Any, silent: bool) -> int:
    """Exit code of a process that does this."""
    child = os.fork()
    if child == 0:
        code = 99
        try:
            if silent:
                nothing = os.open(os.devnull, os.O_WRONLY)
                os.dup2(nothing, 1)
                os.dup2(nothing, 2)
            code = act()
        except BaseException:
            traceback.print_exc()
        finally:
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(code)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status)


class Calls:
    """Which functions that may be mutated each test calls, and how long it takes. [s]"""

    def __init__(self) -> None:
        self.by_test: dict[str, set[str]] = {}
        self.seconds: dict[str, float] = {}
        self.called: set[str] = set()

    def listen(self, path: Path) -> None:
        """Let each function of a file say that it is called."""
        module = module_of(path)
        vars(importlib.import_module(module))["called"] = self.called.add
        for statement in ast.parse(path.read_text("utf-8")).body:
            if isinstance(statement, ast.FunctionDef):
                self.tell(module, "", statement)
            elif isinstance(statement, ast.ClassDef):
                for method in statement.body:
                    if isinstance(method, ast.FunctionDef):
                        self.tell(module, f"{statement.name}.", method)

    def tell(self, module: str, owner: str, function: ast.FunctionDef) -> None:
        name = f"{module}.{owner}{function.name}"
        decorators = [ast.unparse(decorator) for decorator in function.decorator_list]
        if decorators and not (plain() and decorators == ["jit"]):
            return
        function.decorator_list = []
        function.body.insert(0, ast.parse(f"called({name!r})").body[0])
        with contextlib.suppress(ValueError):  # a method that names its own class
            put_in_place(Mutant(name, module, owner + function.name, ast.unparse(function), ""))

    @pytest.hookimpl(hookwrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        self.called.clear()
        begun = time.process_time()
        yield
        self.seconds[item.nodeid] = time.process_time() - begun
        self.by_test[item.nodeid] = set(self.called)

    def write(self, path: Path, told: dict[str, Any]) -> None:
        called = {test: sorted(self.by_test[test]) for test in self.seconds}
        merged = {"seconds": told["seconds"] | self.seconds, "called": told["called"] | called}
        path.write_text(json.dumps(merged, indent=1), "utf-8")


def judges_of(mutant: Mutant, told: dict[str, Any]) -> list[str]:
    """The tests that call the function, then others that share results, each the quickest first."""
    name, seconds = f"{mutant.module}.{mutant.function}", told["seconds"]
    direct = [test for test, called in told["called"].items() if name in called]
    if not direct:  # a class method, which is not told: those that call anything of its module
        owner = f"{mutant.module}."
        direct = [test for test, called in told["called"].items() if any(each.startswith(owner) for each in called)]
    files = {test.split("::")[0] for test in direct}
    files = {file for file in files if SHARING.search((ROOT / file).read_text("utf-8"))}
    rest = [test for test in seconds if test.split("::")[0] in files and test not in set(direct)]
    chosen = sorted(direct, key=seconds.__getitem__) + sorted(rest, key=seconds.__getitem__)
    spent = np.cumsum([seconds[test] for test in chosen])
    return [test for test, so_far in zip(chosen, spent, strict=True) if so_far <= MOST_S or test == chosen[0]]


def went(session: pytest.Session, items: list[pytest.Item], usual_s: dict[str, float] | None = None) -> int:
    """Run tests that are collected, until one fails: 1; else 0. One that takes far longer than usual ends it all."""
    for item, following in zip(items, [*items[1:], None], strict=True):
        if usual_s is not None:
            signal.setitimer(signal.ITIMER_PROF, 4.0 * usual_s[item.nodeid] + SPARE_S)
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
        if session.testsfailed:
            return 1
    return 0


def judge(mutant: Mutant, told: dict[str, Any], session: pytest.Session) -> str:
    tests = judges_of(mutant, told)
    if not tests:
        return "no test"
    by_name = {item.nodeid: item for item in session.items}

    def act() -> int:
        try:
            put_in_place(mutant)
        except (SyntaxError, ValueError):
            return 98
        return went(session, [by_name[test] for test in tests], told["seconds"])

    code = forked(act, silent=True)
    return {0: "survived", 1: "killed", 98: "not made"}.get(code, "killed" if code < 0 else f"exit {code}")


def make_ready() -> None:
    """Import what tests import, once for all mutants; compiled code is loaded, psychrolib kept from compiling."""
    os.chdir(ROOT)
    sys.path[:0] = [str(ROOT), str(ROOT / "tests")]
    if plain():
        numba = sys.modules.pop("numba", None)
        sys.modules["numba"] = None  # type: ignore[assignment]
        import psychrolib  # noqa: F401

        del sys.modules["numba"]
        if numba is not None:
            sys.modules["numba"] = numba
    for name in ("hypothesis", "pandas", "pvlib", "scipy.stats", "scipy.integrate", "scipy.optimize", "CoolProp",
                 "budget.simulation", "budget.tour.reader", "budget.answers.prepared"):  # fmt: skip
        importlib.import_module(name)
    if not plain():
        from conftest import compile_engine

        compile_engine()


def report(results: dict[str, dict[str, str]]) -> None:
    table: dict[str, Counter[str]] = defaultdict(Counter)
    for found in results.values():
        table[found["module"]][found["verdict"]] += 1
    table["all"] = sum(table.values(), Counter())
    for module, counts in sorted(table.items()):
        judged = sum(counts.values()) - counts["not made"]
        print(f"{module:32} {judged:5} judged {counts['killed']:5} killed "
              f"{counts['killed'] / max(judged, 1):6.1%}  {dict(counts)}")  # fmt: skip


class Judging:
    """A session of pytest that collects the tests once, and runs them in forked processes, a mutant each."""

    def __init__(
        self, folder: Path, files: list[Path], count: int | None, modules: list[str], seed: int, workers: int
    ) -> None:
        self.folder, self.files, self.count, self.modules, self.seed = folder, files, count, modules, seed
        self.workers = workers

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        if session.testsfailed:
            sys.exit("the tests cannot be collected")
        calls = self.folder / "calls.json"
        told = json.loads(calls.read_text("utf-8")) if calls.exists() else {"seconds": {}, "called": {}}
        new = [item for item in session.items if item.nodeid not in told["seconds"]]
        if new:
            if forked(lambda: self.look(session, new, calls, told), silent=False) != 0:
                sys.exit("the tests cannot be run")
            told = json.loads(calls.read_text("utf-8"))
        here = {item.nodeid for item in session.items}
        self.judge_all(
            session, {part: {test: told[part][test] for test in told[part] if test in here} for part in told}
        )
        return True

    def look(self, session: pytest.Session, items: list[pytest.Item], calls: Path, told: dict[str, Any]) -> int:
        noted = Calls()
        for path in self.files:
            noted.listen(path)
        session.config.pluginmanager.register(noted)
        for item in items:
            if went(session, [item]) != 0:
                print(f"fails without any mutant, judges none: {item.nodeid}", flush=True)
                noted.seconds.pop(item.nodeid)
                session.testsfailed = 0
        noted.write(calls, told)
        return 0

    def drawn(self) -> list[Mutant]:
        """The mutants to be judged, made once for each wish: making them takes a minute for a whole part."""
        wish = "-".join(["drawn", str(self.count or "all"), str(self.seed), *self.modules])
        kept = self.folder / f"{wish}.json"
        if not kept.exists():
            chosen = [path for path in self.files if not self.modules or path.stem in self.modules]
            every = [parts for path in chosen for parts in mutants_of(path)]
            print(f"{len(every)} mutants", flush=True)
            if self.count is not None:
                every = random.Random(self.seed).sample(every, min(self.count, len(every)))
            kept.write_text(json.dumps([vars(made(*parts)) for parts in every], indent=1), "utf-8")
        return [Mutant(**values) for values in json.loads(kept.read_text("utf-8"))]

    def judge_all(self, session: pytest.Session, told: dict[str, Any]) -> None:
        every = self.drawn()
        children = []
        for worker in range(self.workers):
            child = os.fork()
            if child == 0:
                self.judge_some(session, told, every[worker :: self.workers], worker)
                os._exit(0)
            children.append(child)
        for child in children:
            os.waitpid(child, 0)
        results = self.found()
        report({mutant.name: results[mutant.name] for mutant in every if mutant.name in results})

    def found(self) -> dict[str, dict[str, str]]:
        """What was found so far by all workers of this folder."""
        found: dict[str, dict[str, str]] = {}
        for path in sorted(self.folder.glob("results-*.json")):
            found |= json.loads(path.read_text("utf-8"))
        return found

    def judge_some(self, session: pytest.Session, told: dict[str, Any], some: list[Mutant], worker: int) -> None:
        kept = self.folder / f"results-{worker}.json"
        known, results = self.found(), json.loads(kept.read_text("utf-8")) if kept.exists() else {}
        for mutant in some:
            if mutant.name in known:
                continue
            verdict = judge(mutant, told, session)
            results[mutant.name] = {"module": mutant.module, "verdict": verdict, "change": mutant.change}
            kept.write_text(json.dumps(results, indent=1), "utf-8")
            if verdict != "killed":
                print(f"{verdict}: {mutant.name}\n{mutant.change}", flush=True)


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("folder", type=Path)
    words.add_argument("part", choices=PARTS)
    words.add_argument("count", type=int, nargs="?")
    words.add_argument("modules", nargs="*")
    words.add_argument(
        "--seed", type=int, default=8, help="of the draw; another one shows what no claim was written for"
    )
    words.add_argument("--workers", type=int, default=1, help="processes that judge at once")
    given = words.parse_args()
    patterns, judges, as_python = PARTS[given.part]
    if as_python and not plain():
        os.execve(sys.executable, [sys.executable, *sys.argv], {**os.environ, "NUMBA_DISABLE_JIT": "1"})
    folder = given.folder.resolve()
    folder.mkdir(parents=True, exist_ok=True)
    make_ready()
    files = [path for pattern in patterns for path in sorted(ROOT.glob(pattern)) if path.stem != "__init__"]
    tests = [str(path.relative_to(ROOT)) for judge in judges for path in sorted(ROOT.glob(judge))]
    pytest.main(
        [*PYTEST, *tests], plugins=[Judging(folder, files, given.count, given.modules, given.seed, given.workers)]
    )


if __name__ == "__main__":
    main()
