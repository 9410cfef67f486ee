"""No comment of the code stands on a page: Streamlit prints a page file's bare expressions unless it is told not to."""

import ast
import re
import tomllib
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

ROOT = Path(__file__).resolve().parents[2]
MAP = (ROOT / "formcheck" / "web" / "page_map.py").read_text(encoding="utf-8")
SCRIPTS = ["app.py", *(f"formcheck/web/pages/{name}" for name in re.findall(r'st\.Page\(PAGES / "(.+?)"', MAP))]
"""What Streamlit runs as scripts; what these import is Python as everywhere."""


def bare(source: str) -> list[str]:
    """Expressions that stand for themselves and call nothing, but for docstrings."""
    tree = ast.parse(source)
    docs = {
        id(node.body[0])
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef)
        and ast.get_docstring(node) is not None
    }
    calls = (ast.Call, ast.Await, ast.Yield, ast.YieldFrom)
    return [
        ast.unparse(node)
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr) and id(node) not in docs and not isinstance(node.value, calls)
    ]


def test_the_walk_finds_what_would_be_printed() -> None:
    source = '"""Doc."""\nA = 1\n"""Of A."""\ndef f():\n    """Doc."""\n    if A:\n        A\nf()\n'
    assert bare(source) == ["'Of A.'", "A"]


@pytest.mark.parametrize("script", SCRIPTS)
def test_no_page_file_holds_one(script: str) -> None:
    assert bare((ROOT / script).read_text(encoding="utf-8")) == []


def test_streamlit_is_told_not_to_print_them(tmp_path: Path) -> None:
    told = tomllib.loads((ROOT / ".streamlit" / "config.toml").read_text(encoding="utf-8"))
    assert told["runner"]["magicEnabled"] is False
    # That the setting has this effect in the Streamlit at hand, and that without it the comment would be printed.
    script = tmp_path / "page.py"
    script.write_text('import streamlit as st\nA = 1\n"""Of A."""\nst.text("shown")\n')
    from streamlit import config

    before = config.get_option("runner.magicEnabled")
    printed = {}
    try:
        for magic in (True, False):
            config.set_option("runner.magicEnabled", magic)
            page = AppTest.from_file(str(script), default_timeout=60).run()
            printed[magic] = [item.value for item in page.markdown]
    finally:
        config.set_option("runner.magicEnabled", before)
    assert printed == {True: ["Of A."], False: []}
