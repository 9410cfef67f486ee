"""Finds what in the code came from outside: constants, functions and modules whose words beside them name a source."""

import ast
import importlib
import io
import re
import tokenize
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

PACKAGE = Path(__file__).resolve().parent.parent / "formcheck"
NOT_OF_THE_METHOD = ("formats", "web", "jobs", "services", "cli", "storage", "exercises")
"""Folders that keep or show numbers and make none; the sources of exercises are data, listed apart."""
MARK = re.compile(
    r"[Ff]rom memory|(?<!`)[Cc]ommon practice|closed form|\bSources?: |\bet al\b|\b[A-Z][a-z]+ (?:18|19|20)\d\d\b"
)
"""How the code says that something came from outside: in the docstring of a function or constant, or in a comment."""
TAGS = ("from memory", "common practice", "closed form")


def marked() -> dict[str, str]:
    """Dotted name within formcheck → the words beside it, of everything that names a source."""
    found: dict[str, str] = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        parts = path.relative_to(PACKAGE).with_suffix("").parts
        if parts[0] in NOT_OF_THE_METHOD:
            continue
        module = ".".join(part for part in parts if part != "__init__")
        for name, text in told(path.read_text(encoding="utf-8")):
            if MARK.search(" ".join(text.split())):
                whole = f"{module}.{name}" if name else module
                found[whole] = f"{found.get(whole, '')} {text}".strip()
    return found


def told(source: str) -> Iterator[tuple[str, str]]:
    """(name, words) of every docstring and comment; the name is empty for the module's own."""
    tree = ast.parse(source)
    yield from _docstrings(tree, "")
    for number, text in _comments(source):
        yield _owner(tree, number), text


def _docstrings(node: ast.Module | ast.ClassDef | ast.FunctionDef, name: str) -> Iterator[tuple[str, str]]:
    own = ast.get_docstring(node)
    if own:
        yield name, own
    last: str | None = None
    for child in node.body:
        if isinstance(child, ast.ClassDef | ast.FunctionDef):
            yield from _docstrings(child, f"{name}.{child.name}".lstrip("."))
        if last and isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant):
            yield f"{name}.{last}".lstrip("."), str(child.value.value)
        last = _target(child)


def _target(node: ast.stmt) -> str | None:
    target = (
        node.targets[0] if isinstance(node, ast.Assign) else node.target if isinstance(node, ast.AnnAssign) else None
    )
    if isinstance(target, ast.Tuple):
        target = target.elts[0]
    return target.id if isinstance(target, ast.Name) else None


def _comments(source: str) -> Iterator[tuple[int, str]]:
    for token in tokenize.generate_tokens(io.StringIO(source).readline):
        if token.type == tokenize.COMMENT:
            yield token.start[0], token.string


def _owner(tree: ast.Module, line: int) -> str:
    """The function or class a comment stands in, else the constant it stands beside or above."""
    for node in tree.body:
        if isinstance(node, ast.ClassDef | ast.FunctionDef) and node.lineno <= line <= (node.end_lineno or 0):
            return node.name
    after = (node for node in tree.body if (node.end_lineno or 0) >= line)
    return next((name for node in after if (name := _target(node))), "")


def value_of(name: str) -> Any:
    """What a dotted name within formcheck stands for; LookupError where there is no such thing."""
    parts = name.split(".")
    for cut in range(len(parts), 0, -1):
        try:
            found: Any = importlib.import_module(".".join(("formcheck", *parts[:cut])))
        except ModuleNotFoundError:
            continue
        for part in parts[cut:]:
            fields = getattr(found, "__dataclass_fields__", {})
            if part in fields and isinstance(found, type):
                found = fields[part].default
            elif hasattr(found, part):
                found = getattr(found, part)
            else:
                raise LookupError(name)
        return found
    raise LookupError(name)


def numbers_in(value: Any) -> list[float]:
    """All numbers of a constant, in its own order."""
    if isinstance(value, bool) or value is None or isinstance(value, str):
        return []
    if isinstance(value, int | float):
        return [float(value)]
    if isinstance(value, Mapping):
        return [number for each in value.values() for number in numbers_in(each)]
    if isinstance(value, tuple | list):
        return [number for each in value for number in numbers_in(each)]
    return []
