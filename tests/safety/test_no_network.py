"""Nothing that Python code of formcheck does reaches beyond this machine: a review, its report, an export, the page.

The guard used here cannot see native code (`no_network/sitecustomize.py`); what the system itself saw is looked at in
`test_outside.py`."""

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from contextlib import suppress
from pathlib import Path

import pytest

GUARD = Path(__file__).parent / "no_network"
ENDED = 86

REVIEW = """
import sys
from pathlib import Path
from formcheck.cli import cli
clip, out = Path(sys.argv[1]), Path(sys.argv[2])
def run(*words):
    try:
        cli([str(word) for word in words], prog_name="formcheck")
    except SystemExit as end:
        assert not end.code, (words, end.code)
run("client", "add", "Ada")
run("review", clip, "--exercise", "lateral-raise", "--report", out / "r.html", "--json", out / "r.json",
    "--pdf", out / "r.pdf", "--overlay", out / "o.mp4", "--client", "Ada")
run("history", "1", "--csv", out / "r.csv")
run("client", "export", "Ada", out / "ada.zip")
run("backup", out / "backup.sqlite")
"""


def surroundings(log: Path) -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": str(GUARD), "FORMCHECK_NETWORK_LOG": str(log)}


def told(log: Path) -> str:
    return log.read_text() if log.exists() else ""


@pytest.mark.parametrize(
    "reaching",
    [
        "import socket; socket.create_connection(('192.0.2.1', 80), 1)",  # RFC 5737: an address nobody has
        "import socket; socket.getaddrinfo('formcheck.example', 443)",
        "import socket; s = socket.socket(socket.AF_INET, socket.SOCK_DGRAM); s.sendto(b'x', ('192.0.2.1', 53))",
        "import socket; s = socket.socket(); s.bind(('0.0.0.0', 0))",
        "import urllib.request; urllib.request.urlopen('http://192.0.2.1/', timeout=1)",
        "import subprocess, sys; sys.exit(subprocess.call([sys.executable, '-c', "
        "'import socket; socket.gethostbyname(\"formcheck.example\")']))",
    ],
)
def test_the_guard_notices(tmp_path: Path, reaching: str) -> None:
    log = tmp_path / "log"
    done = subprocess.run([sys.executable, "-c", reaching], env=surroundings(log), check=False, capture_output=True)
    assert done.returncode == ENDED
    assert told(log)


def test_the_guard_lets_this_machine_talk_to_itself(tmp_path: Path) -> None:
    code = (
        "import socket; s = socket.create_server(('127.0.0.1', 0)); c = socket.create_connection(s.getsockname());"
        "a, b = socket.socketpair(); a.send(b'x'); print(socket.getaddrinfo('localhost', 80)[0][4][0])"
    )
    done = subprocess.run([sys.executable, "-c", code], env=surroundings(tmp_path / "log"), check=False)
    assert done.returncode == 0
    assert not told(tmp_path / "log")


@pytest.mark.pose
def test_a_review_and_all_that_comes_of_it(tmp_path: Path, root: Path, short_clip: Path) -> None:
    log = tmp_path / "log"
    command = [sys.executable, "-c", REVIEW, str(short_clip), str(tmp_path)]
    done = subprocess.run(command, env=surroundings(log), cwd=root, capture_output=True, text=True, check=False)
    assert told(log) == ""
    assert done.returncode == 0, done.stdout + done.stderr
    made = {path.name for path in tmp_path.iterdir()}
    assert made >= {"r.html", "r.json", "r.csv", "o.mp4", "ada.zip", "backup.sqlite"}


@pytest.mark.pose
def test_a_review_where_there_is_no_network(tmp_path: Path, root: Path, short_clip: Path) -> None:
    """What the guard cannot see, such as native code, finds no network either; the review needs none."""
    unshare = shutil.which("unshare")
    if unshare is None or subprocess.run([unshare, "-rn", "true"], capture_output=True, check=False).returncode:
        pytest.skip("this system does not let us take the network away")
    review = ["-m", "formcheck", "review", str(short_clip), "--exercise", "lateral-raise", "--no-save"]
    command = [unshare, "-rn", sys.executable, *review, "--json", str(tmp_path / "r.json")]
    done = subprocess.run(command, cwd=root, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert (tmp_path / "r.json").is_file()


def test_the_page(tmp_path: Path, root: Path) -> None:
    log = tmp_path / "log"
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "formcheck.web.launcher", f"--server.port={port}"]
    with (tmp_path / "said").open("wb") as said:
        page = subprocess.Popen(command, env=surroundings(log), cwd=root, stdout=said, stderr=said)
    try:
        direct = urllib.request.build_opener(urllib.request.ProxyHandler({}))
        for _ in range(240):
            try:
                text = direct.open(f"http://127.0.0.1:{port}/", timeout=5).read().decode()
                break
            except OSError:
                assert page.poll() is None, told(log) or (tmp_path / "said").read_text()
                time.sleep(0.25)
        assert "<html" in text
        # Nothing the browser is told to load lies elsewhere.
        assert not [part for part in text.split('"') if part.startswith(("http://", "https://", "//"))]
        own = [line.split()[1] for line in listening(page.pid)]
        assert own or not Path("/proc/net/tcp").exists()
        assert all(place.startswith("0100007F:") for place in own), own
        assert page.poll() is None
    finally:
        page.kill()
        page.wait()
    assert told(log) == ""


def listening(pid: int) -> list[str]:
    """Lines of /proc/net/tcp for the sockets this process listens on; none where the system does not tell."""
    held = set()
    try:
        for item in Path(f"/proc/{pid}/fd").iterdir():
            with suppress(OSError):  # closed meanwhile, such as the connection of the answer
                held.add(str(item.readlink()))
        lines = [*Path("/proc/net/tcp").read_text().splitlines()[1:], *_tcp6()]
    except OSError:
        return []
    return [line for line in lines if line.split()[3] == "0A" and f"socket:[{line.split()[9]}]" in held]


def _tcp6() -> list[str]:
    table = Path("/proc/net/tcp6")
    return table.read_text().splitlines()[1:] if table.exists() else []
