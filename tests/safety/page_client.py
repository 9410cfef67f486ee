"""A page served for a test, and a client that speaks to it as a browser, or as somebody who is none."""

import http.client
import os
import re
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
MEGABYTE = 1 << 20
_BOUNDARY = "formcheck-test"


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@dataclass
class Answer:
    status: int
    headers: Mapping[str, str]
    body: bytes


@dataclass
class Served:
    """A page on a port of this machine."""

    port: int
    process: "subprocess.Popen[bytes]"

    def ask(self, path: str, method: str = "GET", **headers: str) -> Answer:
        return ask(self.port, path, method, {name.replace("_", "-"): value for name, value in headers.items()})

    def memory_mb(self) -> float:
        """Resident memory of the server's process."""
        status = Path(f"/proc/{self.process.pid}/status").read_text()
        found = re.search(r"VmRSS:\s+(\d+) kB", status)
        assert found is not None
        return int(found[1]) / 1024


def ask(
    port: int, path: str, method: str = "GET", headers: Mapping[str, str] | None = None, source: str = "127.0.0.1"
) -> Answer:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60, source_address=(source, 0))
    try:
        connection.request(method, path, headers=dict(headers or {}))
        answer = connection.getresponse()
        return Answer(answer.status, dict(answer.getheaders()), answer.read())
    finally:
        connection.close()


@contextmanager
def serve(home: Path, *options: str, start: Sequence[str] = (), **surroundings: str) -> Iterator[Served]:
    """The page as `streamlit run app.py` starts it."""
    port = free_port()
    command = [*start, sys.executable, "-m", "streamlit", "run", "app.py", f"--server.port={port}", *options]
    own = {"FORMCHECK_HOME": str(home), "MALLOC_ARENA_MAX": "2", "MALLOC_MMAP_THRESHOLD_": "131072", **surroundings}
    log = home / "server.log"
    with log.open("wb") as out:
        process = subprocess.Popen(command, cwd=ROOT, env={**os.environ, **own}, stdout=out, stderr=out)
    served = Served(port, process)
    try:
        for _ in range(480):
            assert process.poll() is None, log.read_text()
            try:
                if served.ask("/_stcore/health").status == 200:
                    break
            except OSError:
                time.sleep(0.25)
        else:
            pytest.fail("the page did not come up")
        yield served
    finally:
        process.terminate()
        process.wait(30)


@contextmanager
def visit(served: Served, *, wait: bool = True, **headers: str) -> Iterator[str]:
    """The number of a visitor's session, whose page has been run once."""
    from streamlit.proto.BackMsg_pb2 import BackMsg
    from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
    from websockets.sync.client import connect

    address = f"ws://127.0.0.1:{served.port}/_stcore/stream"
    with connect(address, subprotocols=["streamlit"], max_size=None, additional_headers=headers) as socket_:  # type: ignore[list-item]
        asking = BackMsg()
        asking.rerun_script.query_string = ""
        socket_.send(asking.SerializeToString())
        session = ""
        while True:
            told = ForwardMsg()
            received = socket_.recv(timeout=120)
            assert isinstance(received, bytes)
            told.ParseFromString(received)
            if told.WhichOneof("type") == "new_session":
                session = told.new_session.initialize.session_id
            if told.WhichOneof("type") == "script_finished" and session:
                break
        yield session


def upload(
    served: Served, session: str, name: str, size: int, *, told: int | None = None, chunked: bool = False
) -> Answer:
    """Send a file of this many bytes as the page's own script would."""
    health = served.ask("/_stcore/health")
    cookie = health.headers["set-cookie"].partition(";")[0]
    lines = f'--{_BOUNDARY}\r\nContent-Disposition: form-data; name="file"; filename="{name}.mp4"\r\n'
    head = f"{lines}Content-Type: video/mp4\r\n\r\n".encode()
    tail = f"\r\n--{_BOUNDARY}--\r\n".encode()
    connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=120)
    connection.putrequest("PUT", f"/_stcore/upload_file/{session}/{name}")
    connection.putheader("Content-Type", f"multipart/form-data; boundary={_BOUNDARY}")
    connection.putheader("Cookie", cookie)
    connection.putheader("X-Xsrftoken", cookie.partition("=")[2])
    length = len(head) + size + len(tail) if told is None else told
    if chunked:
        connection.putheader("Transfer-Encoding", "chunked")
    else:
        connection.putheader("Content-Length", str(length))
    connection.endheaders()

    def send(data: bytes) -> None:
        connection.send(b"%x\r\n%s\r\n" % (len(data), data) if chunked else data)

    try:
        send(head)
        for start in range(0, size, MEGABYTE):
            send(b"x" * min(MEGABYTE, size - start))
        send(tail)
        if chunked:
            connection.send(b"0\r\n\r\n")
    except (BrokenPipeError, ConnectionResetError):
        pass  # refused before the end; the answer is there
    try:
        answer = connection.getresponse()
        return Answer(answer.status, dict(answer.getheaders()), answer.read())
    finally:
        connection.close()
