"""The proxy's configuration as docs/safety.md gives it, run by a real nginx before a real page.

Taken out of the document; only ports, places of files and the user are put in.
"""

import base64
import http.client
import os
import re
import shutil
import socket
import ssl
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest

from tests.safety.page_client import MEGABYTE, Answer, Served, free_port, serve

NGINX = shutil.which("nginx", path=os.environ.get("PATH", "") + os.pathsep + "/usr/sbin")
NAME, PASSWORD = "gym.example", "an invented, long password"
pytestmark = pytest.mark.skipif(
    not sys.platform.startswith("linux") or (NGINX is None and not os.environ.get("CI")),
    reason="needs nginx; .ci/run installs it",
)


def basic(password: str) -> str:
    """RFC 7617."""
    return "Basic " + base64.b64encode(f"ada:{password}".encode()).decode()


@dataclass
class Proxy:
    """nginx on a port of this machine."""

    port: int
    cookie: str = field(default="")

    def ask(
        self,
        path: str = "/",
        *,
        password: str | None = None,
        source: str = "127.0.0.1",
        method: str = "GET",
        size: int = 0,
        **headers: str,
    ) -> Answer:
        named = {"Host": NAME, **{name.replace("_", "-"): value for name, value in headers.items()}}
        if password is not None:
            named["Authorization"] = basic(password)
        return ask_tls(self.port, path, method, named, source, size)


def ask_tls(port: int, path: str, method: str, headers: dict[str, str], source: str, size: int) -> Answer:
    context = ssl.create_default_context()
    context.check_hostname, context.verify_mode = False, ssl.CERT_NONE  # a certificate of the test's own
    with (
        socket.create_connection(("127.0.0.1", port), timeout=60, source_address=(source, 0)) as plain,
        context.wrap_socket(plain, server_hostname=NAME) as secured,
    ):
        connection = http.client.HTTPSConnection(NAME, port)
        connection.sock = secured
        connection.putrequest(method, path, skip_host=True)
        for name, value in (headers | ({"Content-Length": str(size)} if size else {})).items():
            connection.putheader(name, value)
        connection.endheaders()
        try:
            for _ in range(size // MEGABYTE):
                connection.send(b"x" * MEGABYTE)
        except OSError:
            pass  # refused before the end; the answer is there
        answer = connection.getresponse()
        return Answer(answer.status, dict(answer.getheaders()), answer.read())


def documented(root: Path) -> str:
    text = (root / "docs" / "safety.md").read_text(encoding="utf-8")
    found = re.search(r"<!-- nginx -->\n```nginx\n(.*?)```\n<!-- nginx end -->", text, re.DOTALL)
    assert found is not None
    return found[1]


def placed(configuration: str, folder: Path, port: int, plain_port: int, page_port: int) -> str:
    """The configuration with this test's ports and places; each must be there to be replaced."""
    changes = {
        "listen 443": f"listen 127.0.0.1:{port}",
        "listen 80": f"listen 127.0.0.1:{plain_port}",
        "127.0.0.1:8501": f"127.0.0.1:{page_port}",
        "/etc/ssl/formcheck/": f"{folder}/",
        "/etc/nginx/formcheck.htpasswd": f"{folder}/htpasswd",
    }
    for old, new in changes.items():
        assert old in configuration, old
        configuration = configuration.replace(old, new)
    return configuration


@contextmanager
def proxied(root: Path, folder: Path, page_port: int) -> Iterator[Proxy]:
    folder.mkdir()
    folder.chmod(0o755)
    key, certificate = folder / "key.pem", folder / "fullchain.pem"
    made = ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", f"/CN={NAME}"]
    subprocess.run([*made, "-keyout", key, "-out", certificate], check=True, capture_output=True)
    hashed = subprocess.run(["openssl", "passwd", "-6", PASSWORD], check=True, capture_output=True, text=True).stdout
    (folder / "htpasswd").write_text(f"ada:{hashed.strip()}\n")
    port, plain_port = free_port(), free_port()
    places = "\n".join(
        f"{name}_temp_path {folder}/{name};" for name in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    )
    user = "user root;" if os.geteuid() == 0 else ""
    main = f"{user}\nworker_processes 1;\npid {folder}/pid;\nerror_log {folder}/error.log;\ndaemon off;\n"
    inside = placed(documented(root), folder, port, plain_port, page_port)
    (folder / "nginx.conf").write_text(f"{main}events {{}}\nhttp {{\naccess_log off;\n{places}\n{inside}\n}}\n")
    assert NGINX is not None, "nginx is not installed, though .ci/run installs it"
    server = subprocess.Popen([NGINX, "-p", folder, "-e", folder / "error.log", "-c", folder / "nginx.conf"])
    try:
        for _ in range(200):
            assert server.poll() is None, (folder / "error.log").read_text()
            try:
                socket.create_connection(("127.0.0.1", port), timeout=2).close()
                break
            except OSError:
                time.sleep(0.1)
        yield Proxy(port)
    finally:
        server.terminate()
        server.wait(20)


class Page(BaseHTTPRequestHandler):
    """Stands for the page where only what reaches it is of interest."""

    seen: "list[tuple[str, dict[str, str]]]" = []  # noqa: RUF012  # emptied by each test's fixture

    def do_GET(self) -> None:
        type(self).seen.append((self.path, {name.lower(): value for name, value in self.headers.items()}))
        self.send_response(200)
        self.send_header("Content-Length", "4")
        self.end_headers()
        self.wfile.write(b"page")

    do_PUT = do_GET  # noqa: N815  # the name http.server looks for

    def log_message(self, *_arguments: object) -> None:
        pass


@pytest.fixture
def proxy(root: Path, tmp_path: Path) -> Iterator[Proxy]:
    """A new one for each test, since it counts."""
    Page.seen.clear()
    page = ThreadingHTTPServer(("127.0.0.1", 0), Page)
    threading.Thread(target=page.serve_forever, daemon=True).start()
    try:
        with proxied(root, tmp_path / "nginx", page.server_port) as running:
            yield running
    finally:
        page.shutdown()
        page.server_close()


def test_eight_wrong_passwords_are_slowed_whatever_sender_they_name(proxy: Proxy) -> None:
    """429 Too Many Requests: RFC 6585. The password is not looked at then: the right one gets the same answer."""
    answers = [
        proxy.ask(password=f"wrong {n}", X_Forwarded_For=f"198.51.100.{n}", X_Real_IP=f"198.51.100.{n}").status
        for n in range(8)
    ]
    assert answers[:2] == [401, 401]
    assert answers.count(429) >= 3
    assert answers[-1] == 429
    assert proxy.ask(password=PASSWORD, X_Forwarded_For="203.0.113.9").status == 429
    assert not Page.seen


def test_a_stranger_shuts_nobody_out(proxy: Proxy) -> None:
    known = proxy.ask(password=PASSWORD)
    assert known.status == 200
    token = known.headers["Set-Cookie"].partition(";")[0]
    for n in range(30):
        proxy.ask(password=f"wrong {n}")
    assert proxy.ask(password="wrong").status == 429
    # Somebody at another address, who names the stranger's as the one before the proxy.
    assert proxy.ask(password=PASSWORD, source="127.0.0.2", X_Forwarded_For="127.0.0.1").status == 200
    # Whoever was let in before, at the stranger's own address: a page is many requests.
    for _ in range(40):
        assert proxy.ask(password=PASSWORD, Cookie=token).status == 200


def test_the_token_opens_nothing(proxy: Proxy) -> None:
    token = proxy.ask(password=PASSWORD).headers["Set-Cookie"]
    assert {"Secure", "HttpOnly", "SameSite=Strict"} <= {part.strip() for part in token.split(";")}
    cookie = token.partition(";")[0]
    assert proxy.ask(Cookie=cookie).status == 401
    refused = proxy.ask(password="wrong", Cookie=cookie)
    assert refused.status == 401
    assert "Set-Cookie" not in refused.headers


def test_the_page_sees_the_sender_the_proxy_saw(proxy: Proxy) -> None:
    invented = dict.fromkeys(("X-Forwarded-For", "X-Real-IP", "X-Forwarded-Host", "Forwarded"), "203.0.113.9")
    answer = proxy.ask(password=PASSWORD, source="127.0.0.2", X_Forwarded_Proto="http", **invented)
    assert answer.status == 200
    ((_, headers),) = Page.seen
    assert headers["x-forwarded-for"] == "127.0.0.2"
    assert headers["x-forwarded-proto"] == "https"
    assert headers["host"] == NAME
    assert "203.0.113.9" not in " ".join(headers.values())
    assert "authorization" not in headers


@pytest.mark.parametrize(
    "path", ["/", "/history", "/_stcore/health", "/_stcore/metrics", "/_stcore/host-config", "/static/x", "/media/x"]
)
def test_nothing_is_answered_without_the_password(proxy: Proxy, path: str) -> None:
    assert proxy.ask(path).status == 401
    assert proxy.ask(path, method="PUT", size=2 * MEGABYTE).status == 401
    assert not Page.seen


def test_a_foreign_name_gets_no_answer(proxy: Proxy) -> None:
    with pytest.raises((http.client.RemoteDisconnected, ConnectionResetError)):
        proxy.ask(password=PASSWORD, Host="evil.example")
    assert not Page.seen


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    names = [f"--server.allowedHosts={name}" for name in ("127.0.0.1", "localhost", NAME)]
    with serve(tmp_path_factory.mktemp("home"), *names, FORMCHECK_BEHIND_PROXY="1") as served:
        yield served


def test_a_large_upload_without_the_password_leaves_the_page_as_it_is(root: Path, tmp_path: Path, page: Served) -> None:
    with proxied(root, tmp_path / "nginx", page.port) as proxy:
        before = page.memory_mb()
        for number in range(3):
            path = f"/_stcore/upload_file/any/{number}"
            assert proxy.ask(path, method="PUT", size=100 * MEGABYTE, source=f"127.0.0.{number + 2}").status == 401
        assert page.memory_mb() - before < 50
        known = proxy.ask(password=PASSWORD).headers["Set-Cookie"].partition(";")[0]
        too_large = {"Cookie": known, "Content-Length": str(1100 * MEGABYTE)}
        assert proxy.ask("/_stcore/upload_file/any/1", password=PASSWORD, method="PUT", **too_large).status == 413


def test_the_page_works_behind_it(root: Path, tmp_path: Path, page: Served) -> None:
    """Page, scripts and the WebSocket its content comes by."""
    from streamlit.proto.BackMsg_pb2 import BackMsg
    from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
    from websockets.exceptions import InvalidStatus
    from websockets.sync.client import connect

    with proxied(root, tmp_path / "nginx", page.port) as proxy:
        shell = proxy.ask(password=PASSWORD)
        assert shell.status == 200
        assert b"<script" in shell.body
        known = shell.headers["Set-Cookie"].partition(";")[0]
        scripts = re.findall(r'(?:src|href)="\./(static/[^"]+)"', shell.body.decode())
        assert len(scripts) >= 2
        for script in scripts:
            assert proxy.ask(f"/{script}", password=PASSWORD, Cookie=known).status == 200
        context = ssl.create_default_context()
        context.check_hostname, context.verify_mode = False, ssl.CERT_NONE
        address = f"wss://{NAME}/_stcore/stream"
        headers = {"Authorization": basic(PASSWORD), "Cookie": known, "Origin": f"https://{NAME}"}
        shown = b""

        def there() -> socket.socket:
            return socket.create_connection(("127.0.0.1", proxy.port), timeout=60)

        with connect(
            address,
            sock=there(),
            ssl=context,
            additional_headers=headers,
            subprotocols=["streamlit"],  # type: ignore[list-item]
            max_size=None,
        ) as opened:
            asking = BackMsg()
            asking.rerun_script.query_string = ""
            opened.send(asking.SerializeToString())
            while True:
                received = opened.recv(timeout=120)
                assert isinstance(received, bytes)
                shown += received
                told = ForwardMsg()
                told.ParseFromString(received)
                if told.WhichOneof("type") == "script_finished":
                    break
        assert b"docs/safety.md" not in shown
        assert b"Drop your clips here, one for each set" in shown
        with pytest.raises(InvalidStatus) as caught, connect(address, sock=there(), ssl=context):
            pass
        assert caught.value.response.status_code == 401
