"""What the program's text may not hold: ways to run what a file says, and paths made from names."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

UNSAFE_MODULES = {"pickle", "marshal", "shelve", "dill", "joblib", "yaml", "cloudpickle", "jsonpickle"}
UNSAFE_CALLS = {"eval", "exec", "compile", "__import__"}
# Orders from formcheck to its own child process; what the child answers is never unpickled (tests/sandbox).
OWN_REQUESTS = {"sandbox/worker.py", "sandbox/worker_pool.py", "sandbox/sandboxed_tracking.py"}


def modules(root: Path) -> Iterator[tuple[str, ast.Module]]:
    for path in sorted((root / "formcheck").rglob("*.py")):
        yield path.relative_to(root / "formcheck").as_posix(), ast.parse(path.read_text(encoding="utf-8"))
    yield "app.py", ast.parse((root / "app.py").read_text(encoding="utf-8"))


def faults(tree: ast.Module) -> Iterator[str]:
    """Ways in which a module could run what a file says."""
    for node in ast.walk(tree):
        if isinstance(node, (ast.Import, ast.ImportFrom)):
            names = [node.module or ""] if isinstance(node, ast.ImportFrom) else [alias.name for alias in node.names]
            yield from (name for name in names if name.partition(".")[0] in UNSAFE_MODULES)
        if not isinstance(node, ast.Call):
            continue
        called = node.func.id if isinstance(node.func, ast.Name) else ""
        method = node.func.attr if isinstance(node.func, ast.Attribute) else ""
        given = {word.arg: word.value for word in node.keywords}
        if called in UNSAFE_CALLS:
            yield called
        if isinstance(node.func, ast.Attribute) and ast.unparse(node.func) in ("np.load", "numpy.load"):
            refused = given.get("allow_pickle")
            if not (isinstance(refused, ast.Constant) and refused.value is False):
                yield "np.load without allow_pickle=False"
        if ast.unparse(node.func) in ("os.system", "os.popen", "subprocess.getoutput"):
            yield ast.unparse(node.func)
        shell = given.get("shell")
        if shell is not None and not (isinstance(shell, ast.Constant) and shell.value is False):
            yield f"{method or called} with a shell"
        if method in ("extractall", "unpack_archive"):
            yield method


def test_nothing_is_run_because_a_file_says_so(root: Path) -> None:
    found = [(name, fault) for name, tree in modules(root) for fault in faults(tree)]
    assert [item for item in found if not (item[0] in OWN_REQUESTS and item[1] == "pickle")] == []


@pytest.mark.parametrize(
    "text",
    ["import pickle", "from pickle import loads", "import yaml", "eval('1')", "np.load(path)", "os.system('ls')",
     "np.load(path, allow_pickle=True)", "subprocess.run('ls', shell=True)", "archive.extractall()"],
)  # fmt: skip
def test_the_scan_sees(text: str) -> None:
    assert list(faults(ast.parse(text)))


def test_templates_escape_what_they_are_given(root: Path) -> None:
    templates = sorted((root / "formcheck").rglob("*.j2"))
    assert len(templates) >= 3
    for path in templates:
        text = path.read_text(encoding="utf-8")
        assert not re.search(r"\|\s*safe\b|autoescape\s+false", text), path


def test_every_template_engine_escapes(root: Path) -> None:
    engines = 0
    for name, tree in modules(root):
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and ast.unparse(node.func).endswith("Environment"):
                engines += 1
                assert any(
                    word.arg == "autoescape" and isinstance(word.value, ast.Constant) and word.value.value is True
                    for word in node.keywords
                ), name
    assert engines
