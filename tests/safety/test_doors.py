"""What the page's server answers to whom, and what it takes in, without and with the page's leave."""

import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.safety.page_client import MEGABYTE, ROOT, Served, serve, upload, visit

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads a process's memory from /proc")

ROUTES = [
    "/",
    "/history",
    "/static/js/index.js",
    "/favicon.png",
    "/_stcore/health",
    "/_stcore/script-health-check",
    "/_stcore/metrics",
    "/_stcore/host-config",
    "/_stcore/allowed-message-origins",
    "/_stcore/bidi-components/any/thing.js",
    "/_stcore/stream",
    "/media/0000.mp4",
    "/component/any.thing/index.html",
    "/app/static/thing.png",
    "/oauth2callback",
    "/auth/login",
    "/auth/logout",
]


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with serve(tmp_path_factory.mktemp("home"), "--server.scriptHealthCheckEnabled=true") as served:
        yield served


@pytest.mark.parametrize("method", ["GET", "HEAD", "OPTIONS", "PUT", "DELETE", "POST"])
def test_no_route_answers_a_foreign_name(page: Served, method: str) -> None:
    """A page elsewhere whose own name is given this machine's address: DNS rebinding (CWE-350)."""
    for route in [*ROUTES, "/_stcore/upload_file/a/b"]:
        for name in (
            "evil.example",
            f"evil.example:{page.port}",
            "127.0.0.1.evil.example",
            "localhost@evil.example",
            "",
        ):
            answer = page.ask(route, method, Host=name)
            assert answer.status == 400, (route, name)
            assert "streamlit" not in answer.body.decode().lower()
            assert "set-cookie" not in answer.headers


def test_the_page_s_own_names_are_answered(page: Served) -> None:
    for name in ("127.0.0.1", f"127.0.0.1:{page.port}", "localhost", "LOCALHOST:1234"):
        assert page.ask("/", Host=name).status == 200
        assert page.ask("/_stcore/health", Host=name).status == 200
        assert page.ask("/_stcore/metrics", Host=name).status == 200
        assert page.ask("/_stcore/host-config", Host=name).status == 200


def test_a_websocket_of_a_foreign_name_is_refused(page: Served) -> None:
    from websockets.exceptions import InvalidStatus
    from websockets.sync.client import connect

    address = f"ws://127.0.0.1:{page.port}/_stcore/stream"
    with pytest.raises(InvalidStatus) as caught, connect(address, additional_headers={"Host": "evil.example"}):
        pass
    assert caught.value.response.status_code in (400, 403)


def test_other_names_are_answered_where_they_are_named(tmp_path: Path) -> None:
    names = [f"--server.allowedHosts={name}" for name in ("localhost", "127.0.0.1", "gym.example")]
    with serve(tmp_path, *names) as named:
        assert named.ask("/", Host="gym.example").status == 200
        assert named.ask("/", Host="evil.example").status == 400


def test_uploads_that_nobody_takes_do_not_fill_the_memory(page: Served) -> None:
    with visit(page) as session:
        upload(page, session, "first", MEGABYTE)
        before = page.memory_mb()
        for number in range(4):
            assert upload(page, session, f"large-{number}", 60 * MEGABYTE).status == 204
        # 240 MB came in; Streamlit by itself would hold all of it.
        assert page.memory_mb() - before < 60
        for number in range(60):
            assert upload(page, session, f"small-{number}", MEGABYTE // 2).status == 204
        assert page.memory_mb() - before < 60


def deleted_files(page: Served) -> int:
    """Files without a name that the server has open in its folder for uploads."""
    open_files = [path.readlink() for path in Path(f"/proc/{page.process.pid}/fd").iterdir() if path.is_symlink()]
    return sum("arriving" in str(path) for path in open_files)


def test_nothing_is_taken_from_whom_the_page_has_not_let_in(page: Served) -> None:
    for session in ("no-such-visitor", "../../x", "0" * 36):
        assert upload(page, session, "clip", 3 * MEGABYTE).status in (400, 403, 404)


def test_an_upload_without_the_page_s_own_token_is_refused(page: Served) -> None:
    """Cross-site request forgery: what Streamlit asks of an upload is still asked (CWE-352)."""
    with visit(page) as session:
        held = deleted_files(page)
        answer = page.ask(f"/_stcore/upload_file/{session}/clip", "PUT", Content_Length="0")
        assert answer.status == 403
        assert deleted_files(page) == held


def test_the_largest_is_refused_before_it_is_read(page: Served) -> None:
    with visit(page) as session:
        held = deleted_files(page)
        assert upload(page, session, "huge", MEGABYTE, told=1002 * MEGABYTE).status == 413
        assert deleted_files(page) == held


def test_uploads_go_with_their_visitor(page: Served) -> None:
    before = deleted_files(page)
    with visit(page) as session:
        assert upload(page, session, "clip", 2 * MEGABYTE).status == 204
        assert deleted_files(page) == before + 1
    for _ in range(240):
        if deleted_files(page) == 0:
            break
        time.sleep(0.5)
    assert deleted_files(page) == 0


@pytest.mark.parametrize(
    "options", [("--server.address=0.0.0.0",), ("--server.allowedHosts=gym.example", "--server.allowedHosts=127.0.0.1")]
)
def test_an_exposed_page_takes_nothing(tmp_path: Path, options: tuple[str, ...]) -> None:
    with serve(tmp_path, *options) as exposed, visit(exposed) as session:
        before = exposed.memory_mb()
        for _ in range(3):
            assert upload(exposed, session, "clip", 40 * MEGABYTE).status == 403
        assert exposed.memory_mb() - before < 40
        assert deleted_files(exposed) == 0


def test_with_log_in_nothing_is_taken_before_it(tmp_path: Path) -> None:
    secrets = tmp_path / "secrets.toml"
    secrets.write_text(
        '[auth]\nredirect_uri = "http://localhost:8501/oauth2callback"\ncookie_secret = "invented for this test"\n'
        'client_id = "invented"\nclient_secret = "invented"\nserver_metadata_url = "http://localhost:1/openid"\n'
    )
    with serve(tmp_path, f"--secrets.files={secrets}") as guarded, visit(guarded) as session:
        assert upload(guarded, session, "clip", 5 * MEGABYTE).status == 403
        assert deleted_files(guarded) == 0


def test_a_stored_password_is_told_at_the_start(tmp_path: Path) -> None:
    (tmp_path / "page-password").write_text("scrypt 16 8 1 00 00\n")
    with serve(tmp_path) as page, visit(page) as session:
        assert "page-password" in (tmp_path / "server.log").read_text()
        assert upload(page, session, "clip", MEGABYTE).status == 403


def test_the_checks_stand_before_the_page_however_it_is_started(root: Path) -> None:
    """Streamlit serves an app it finds in the script by its name, so the script must name one."""
    from streamlit.web.server.app_discovery import discover_asgi_app

    found = discover_asgi_app(ROOT / "app.py")
    assert found.is_asgi_app
    assert found.import_string == "app:app"
