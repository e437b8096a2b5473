"""The help topic of every formula, read from the sources of the physics, so that it cannot drift from them."""

from __future__ import annotations

import ast
import io
import tokenize
from collections.abc import Iterator
from pathlib import Path

_FOLDER = Path(__file__).resolve().parent.parent / "physics"
SHORT = 5  # statements; more is an algorithm, which its words describe
_HEAD = """# Equations

Every formula of the program with its source, range and unit, as the functions of `budget/physics/` state them. Units
end the names. "From memory" and "common practice, no source" mean what they say. How they work together:
`budget help model`.
"""


def equations() -> str:
    """Every part of the physics: what it rests on, its constants and its formulas."""
    return "\n".join([_HEAD, *(_part(path) for path in sources())])


def sources() -> list[Path]:
    """The files of the physics that hold formulas, by name."""
    return sorted(path for path in _FOLDER.glob("*.py") if path.stem != "__init__")


def public_functions(tree: ast.Module) -> list[ast.FunctionDef]:
    """The functions of a file that other files call."""
    return [node for node in tree.body if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")]


def _part(path: Path) -> str:
    text = path.read_text(encoding="utf-8")
    tree = ast.parse(text)
    title, _, rest = (ast.get_docstring(tree) or path.stem).partition("\n")
    lines = [f"## {path.stem}: {title}", ""]
    if rest.strip():
        lines += [rest.strip(), ""]
    constants = list(_constants(text))
    if constants:
        lines += [*constants, ""]
    for function in public_functions(tree):
        lines += [*_function(function), ""]
    return "\n".join(lines)


def _constants(text: str) -> Iterator[str]:
    """Each constant with the comment that says where it is from."""
    comments = {
        token.start[0]: token.string.lstrip("# ")
        for token in tokenize.generate_tokens(io.StringIO(text).readline)
        if token.type == tokenize.COMMENT
    }
    for node in ast.parse(text).body:
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            said = comments.get(node.lineno)
            yield f"- {node.targets[0].id} = {ast.unparse(node.value)}" + (f": {said}" if said else "")


def _function(function: ast.FunctionDef) -> list[str]:
    """Name and arguments, what it says of itself, and its formula where that is a few lines without a loop."""
    arguments = ", ".join(argument.arg for argument in function.args.args)
    body = function.body[1:]
    short = len(body) <= SHORT and not any(isinstance(node, (ast.For, ast.While)) for node in ast.walk(function))
    code = [f"    {line}" for node in body for line in ast.unparse(node).splitlines()] if short else []
    return [f"### {function.name}({arguments})", "", ast.get_docstring(function) or "", *([""] if code else []), *code]
