"""How the page is started: what holds before its server runs."""

import ast
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from streamlit import net_util
from streamlit.web.server import server_util

from formcheck.core.errors import UsageError
from formcheck.web import launcher


@pytest.fixture
def looked_up(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Which of Streamlit's look-ups were asked; nothing goes out."""
    asked: list[str] = []

    def ask(name: str) -> None:
        asked.append(name)

    monkeypatch.setattr(net_util, "get_internal_ip", lambda: ask("internal"))
    monkeypatch.setattr(net_util, "get_external_ip", lambda: ask("external"))
    return asked


def test_a_foreign_origin_makes_nothing_look_up_an_address(looked_up: list[str]) -> None:
    assert not server_util.is_url_from_allowed_origins("http://elsewhere.example")
    assert looked_up == ["internal", "external"]  # this is what Streamlit does by itself
    looked_up.clear()
    launcher.stop_address_lookups()
    assert not server_util.is_url_from_allowed_origins("http://elsewhere.example")
    assert server_util.is_url_from_allowed_origins("http://localhost:8501")
    assert looked_up == []


def test_an_unknown_streamlit_is_refused_in_a_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delattr(net_util, "get_external_ip")
    with pytest.raises(UsageError, match="Streamlit"):
        launcher.stop_address_lookups()


VISIT = """
import sys
from formcheck.web import launcher
launcher.prepare()
before = set(sys.modules)
from streamlit.testing.v1 import AppTest
page = AppTest.from_file(sys.argv[1], default_timeout=120)
page.query_params["review"] = "1"
assert not page.run().exception
for name in ("reviewed_sets", "clients", "compare", "own_limits", "how_to_film"):
    assert not page.switch_page(f"formcheck/web/pages/{name}.py").run().exception
print(*(name for name in sys.modules if name not in before and name.partition(".")[0] in HEAVY))
"""
HEAVY = {"pandas", "scipy", "numpy", "sqlalchemy", "alembic", "mako", "jinja2", "pydantic", "PIL", "cv2", "altair",
         "pyarrow", "av", "mediapipe"}  # fmt: skip
"""Packages whose modules import each other."""


def test_no_visitor_is_the_first_to_load_what_imports_itself_in_a_circle(
    root: Path, store_review: Callable[..., int]
) -> None:
    assert store_review() == 1
    command = [sys.executable, "-c", VISIT.replace("HEAVY", repr(HEAVY)), str(root / "app.py")]
    done = subprocess.run(command, cwd=root, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.split() == []


def test_it_warns_of_nothing_that_is_so_on_purpose(root: Path) -> None:
    code = "from formcheck.web import launcher; launcher.prepare(); launcher.prepare()"
    done = subprocess.run([sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")


def test_the_server_and_every_visitor_pass_it_first(root: Path) -> None:
    lines = [line.strip() for line in (root / "app.py").read_text(encoding="utf-8").splitlines() if line[:1] == " "]
    run = [line for line in lines if not line.startswith(("import ", "from ")) and line]
    assert run[0] == "launcher.prepare()"
    assert [line[:3] for line in run].index("app") == 1
    assert run[-1] == "show()"
    shown = ast.parse((root / "formcheck" / "web" / "page_map.py").read_text(encoding="utf-8")).body[-1]
    assert isinstance(shown, ast.FunctionDef)
    assert shown.name == "show"
    calls = [ast.unparse(node) for node in shown.body[1:] if isinstance(node, ast.Expr)]
    assert calls[:2] == ["launcher.prepare()", "freeze_modules()"]
