#!/usr/bin/env python3
"""Prints every module of the project with its lines and what it is for: the first sentence of its docstring.

python docs/modules.py [FOLDER ...]
"""

import ast
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FOLDERS = ("app.py", "start.py", "formcheck", "tools", "docs", "examples")


def modules(*wanted: str) -> list[tuple[str, int, str]]:
    """(path, lines, purpose) of every module of some folders, or of all."""
    rows = []
    for name in wanted or FOLDERS:
        place = ROOT / name
        for path in sorted(place.rglob("*.py")) if place.is_dir() else [place]:
            text = path.read_text(encoding="utf-8")
            rows.append((path.relative_to(ROOT).as_posix(), len(text.splitlines()), purpose(text)))
    return rows


def purpose(source: str) -> str:
    """First paragraph of a module's docstring on one line; empty when it has none."""
    return " ".join((ast.get_docstring(ast.parse(source)) or "").split("\n\n")[0].split())


def main() -> None:
    rows = modules(*sys.argv[1:])
    width = max(len(path) for path, _, _ in rows)
    print(f"{'module':{width}}  lines  what it is for")
    for path, lines, what in rows:
        print(f"{path:{width}}  {lines:5}  {what}")
    print(f"{len(rows)} modules, {sum(lines for _, lines, _ in rows)} lines")


if __name__ == "__main__":
    main()
