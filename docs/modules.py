#!/usr/bin/env python3
"""Prints every module of the project with its lines and what it is for: the first sentence of its docstring.

python docs/modules.py [FOLDER ...]
python docs/modules.py --code [REVISION]: lines of code by folder, without comments, docstrings and blank lines; beside
those of a revision, where one is given
"""

import ast
import io
import subprocess
import sys
import tarfile
import tokenize
from collections import Counter
from collections.abc import Iterator
from pathlib import Path, PurePosixPath

ROOT = Path(__file__).resolve().parent.parent
FOLDERS = ("app.py", "start.py", "formcheck", "tools", "docs", "examples")
NO_CODE = {tokenize.COMMENT, tokenize.NL, tokenize.NEWLINE, tokenize.INDENT, tokenize.DEDENT}
NO_CODE |= {tokenize.ENCODING, tokenize.ENDMARKER}


def list_modules(*wanted: str) -> list[tuple[str, int, str]]:
    """(path, lines, purpose) of every module of some folders, or of all; the purpose is its docstring's beginning."""
    rows = []
    for name in wanted or FOLDERS:
        folder = ROOT / name
        for path in sorted(folder.rglob("*.py")) if folder.is_dir() else [folder]:
            text = path.read_text(encoding="utf-8")
            purpose = (ast.get_docstring(ast.parse(text)) or "").split("\n\n")[0]
            rows.append((path.relative_to(ROOT).as_posix(), len(text.splitlines()), " ".join(purpose.split())))
    return rows


def count_code_lines(source: str) -> int:
    """Lines of a module that hold code, without comments, blank lines and docstrings (those behind names too)."""
    lines: set[int] = set()
    for token in tokenize.generate_tokens(io.StringIO(source).readline):
        if token.type not in NO_CODE:
            lines.update(range(token.start[0], token.end[0] + 1))
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str):
            lines.difference_update(range(node.lineno, (node.end_lineno or node.lineno) + 1))
    return len(lines)


def count_by_folder(sources: Iterator[tuple[str, str]]) -> Counter[str]:
    """Folder (of `formcheck`: each one in it) → lines of code, from paths and texts."""
    found: Counter[str] = Counter()
    for path, text in sources:
        parts = PurePosixPath(path).parts[:-1]
        found["/".join(parts[:2] if parts[:1] == ("formcheck",) else parts[:1]) or "."] += count_code_lines(text)
    return found


def read_sources() -> Iterator[tuple[str, str]]:
    """Path and text of every module git knows of, as it is in the working folder."""
    listed = subprocess.run(["git", "ls-files", "*.py"], cwd=ROOT, capture_output=True, text=True, check=True)
    for path in listed.stdout.splitlines():
        if (ROOT / path).is_file():
            yield path, (ROOT / path).read_text(encoding="utf-8")


def read_sources_at(revision: str) -> Iterator[tuple[str, str]]:
    """Path and text of every module of a revision."""
    packed = subprocess.run(["git", "archive", revision], cwd=ROOT, capture_output=True, check=True).stdout
    with tarfile.open(fileobj=io.BytesIO(packed)) as archive:
        for member in archive:
            file = archive.extractfile(member) if member.isfile() and member.name.endswith(".py") else None
            if file is not None:
                yield member.name, file.read().decode("utf-8")


def print_code(revision: str | None) -> None:
    """Print lines of code by folder, and those of a revision beside them."""
    now = count_by_folder(read_sources())
    before = count_by_folder(read_sources_at(revision)) if revision is not None else Counter()
    for counts in (now, before):
        counts["formcheck in all"] = sum(n for name, n in counts.items() if name.split("/")[0] == "formcheck")
    width = max(map(len, now | before))
    print(f"{'folder':{width}}  {'before  ' if revision else ''}   now")
    for name in sorted(now | before):
        print(f"{name:{width}}  {f'{before[name]:6}  ' if revision else ''}{now[name]:6}")
    if revision is not None and (total := before["formcheck in all"]):
        print(f"formcheck: {(now['formcheck in all'] - total) / total:+.1%} since {revision}")


def main() -> None:
    if sys.argv[1:2] == ["--code"]:
        print_code(sys.argv[2] if len(sys.argv) > 2 else None)
        return
    rows = list_modules(*sys.argv[1:])
    width = max(len(path) for path, _, _ in rows)
    print(f"{'module':{width}}  lines  what it is for")
    for path, lines, purpose in rows:
        print(f"{path:{width}}  {lines:5}  {purpose}")
    print(f"{len(rows)} modules, {sum(lines for _, lines, _ in rows)} lines")


if __name__ == "__main__":
    main()
