"""How the page is started: what holds before its server runs."""

import subprocess
import sys
from pathlib import Path

import pytest
from streamlit import net_util
from streamlit.web.server import server_util

from formcheck.errors import UsageError
from formcheck.page import launcher


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


def test_what_all_pages_load_is_there_whoever_comes_first(root: Path) -> None:
    code = (
        "import sys, threading\n"
        "from formcheck.page import launcher\n"
        "found, together = [], threading.Barrier(8)\n"
        "def visit():\n"
        "    together.wait(); launcher.prepare()\n"
        "    found.append(hasattr(sys.modules['pandas'], 'DataFrame') and 'plotly.graph_objects' in sys.modules)\n"
        "threads = [threading.Thread(target=visit) for _ in range(8)]\n"
        "[thread.start() for thread in threads]; [thread.join() for thread in threads]\n"
        "print(found == [True] * 8)"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=False)
    assert done.stdout.split("\n")[0] == "True", done.stderr


def test_the_server_and_every_visitor_pass_it_first(root: Path) -> None:
    lines = [line.strip() for line in (root / "app.py").read_text(encoding="utf-8").splitlines() if line[:1] == " "]
    run = [line for line in lines if not line.startswith(("import ", "from ")) and line]
    assert run[0] == "launcher.prepare()"
    assert [line[:3] for line in run].index("app") == 1
    assert run.index("launcher.prepare()", 1) < run.index("set_modules_aside()")
