"""The filter that takes sockets from a process, tried in processes of its own: it cannot be taken back."""

import mmap
import platform
import subprocess
import sys
from pathlib import Path

import pytest

from formcheck.capture import seccomp
from formcheck.capture.guarded import track_guarded
from formcheck.capture.recording import save_recording
from formcheck.capture.tracking import Method, track_in_chunks
from tests.capture import looks
from tests.capture.clips import write_clip

filtering = pytest.mark.skipif(
    not (sys.platform.startswith("linux") and platform.machine() in seccomp.ARCHITECTURES),
    reason="the filter is for Linux on x86-64 and aarch64",
)
EPERM = 1


def said(
    code: str, before: str = "from formcheck.capture.seccomp import deny_sockets; print(deny_sockets())"
) -> list[str]:
    """What a process prints that first denies itself sockets."""
    done = subprocess.run([sys.executable, "-c", f"{before}\n{code}"], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout.split("\n")[:-1]


def call(number: int, *given: int) -> str:
    """Code that prints what a system call answers: its result, or the error's number below zero."""
    return (
        "import ctypes; libc = ctypes.CDLL(None, use_errno=True)\n"
        f"print(libc.syscall({number}, *{given!r})); print(ctypes.get_errno())"
    )


@filtering
@pytest.mark.parametrize("family", ["AF_INET", "AF_INET6", "AF_UNIX", "AF_NETLINK"])
def test_no_socket_of_any_kind(family: str) -> None:
    code = (
        f"import socket\ntry: socket.socket(socket.{family}, socket.SOCK_DGRAM).close(); print('open')\n"
        "except PermissionError as error: print(error.errno)\n"
        "except OSError as error: print('other', error.errno)"
    )
    assert said(code) == ["True", str(EPERM)]
    assert said(code, "print(True)")[1] != str(EPERM)  # without the filter nothing of this system refuses it


@filtering
def test_no_ring_of_calls_and_no_x32() -> None:
    getpid, flag = (39, 0x40000000) if platform.machine() == "x86_64" else (172, 0)
    assert said(call(425, 1, 0)) == ["True", "-1", str(EPERM)]
    if flag:
        assert said(call(flag | getpid)) == ["True", "-1", str(EPERM)]
    assert int(said(call(getpid))[1]) > 0  # what is not named passes


@filtering
@pytest.mark.skipif(platform.machine() != "x86_64", reason="the machine code is of x86-64")
def test_no_32_bit_calls() -> None:
    # mov eax, 20 (getpid of i386, asm/unistd_32.h); int 0x80; cdqe; ret
    machine_code = bytes.fromhex("b814000000cd804898c3")
    code = (
        "import ctypes, mmap\n"
        f"page = mmap.mmap(-1, {mmap.PAGESIZE}, prot=7); page.write({machine_code!r})\n"
        "print(ctypes.CFUNCTYPE(ctypes.c_long)(ctypes.addressof(ctypes.c_char.from_buffer(page)))())"
    )
    try:
        answer = int(said(code, "print(True)")[1])
    except AssertionError:
        pytest.skip("this kernel knows no 32-bit calls")
    assert answer > 0
    assert said(code) == ["True", str(-EPERM)]


@filtering
def test_threads_begun_before_and_processes_begun_after() -> None:
    code = (
        "import subprocess, sys, threading\n"
        "from formcheck.capture.seccomp import deny_sockets, sockets_denied\n"
        "go, found = threading.Event(), []\n"
        "thread = threading.Thread(target=lambda: (go.wait(), found.append(sockets_denied())))\n"
        "thread.start(); print(deny_sockets()); go.set(); thread.join(); print(found)\n"
        "print(subprocess.call([sys.executable, '-c', 'import socket; socket.socket()'], stderr=subprocess.DEVNULL))"
    )
    assert said(code, "") == ["True", "[True]", "1"]


@filtering
def test_asking_twice_does_no_harm() -> None:
    assert said("print(deny_sockets()); print(open('/dev/null').read() == '')") == ["True", "True", "True"]


def test_where_it_cannot_be_had_it_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(seccomp.platform, "machine", lambda: "sparc64")
    assert not seccomp.deny_sockets()
    assert not seccomp.sockets_denied()


@filtering
def test_the_process_that_looks_at_a_clip_has_it(tmp_path: Path) -> None:
    clip = write_clip(tmp_path / "clip.mp4", [0, 0.1, 0.2])
    (here,) = looks.SocketModel.found(track_in_chunks(clip, Method(looks.SocketModel)))
    (there,) = looks.SocketModel.found(track_guarded(clip, Method(looks.SocketModel)))
    assert (here, there) == ("open", "refused")


@filtering
def test_landmarks_are_the_same_with_and_without(tmp_path: Path) -> None:
    clip = write_clip(tmp_path / "clip.mp4", [0.1 * step for step in range(20)])
    save_recording(track_guarded(clip, Method(looks.GreyModel)), tmp_path / "with.npz")
    save_recording(track_in_chunks(clip, Method(looks.GreyModel)), tmp_path / "without.npz")
    assert (tmp_path / "with.npz").read_bytes() == (tmp_path / "without.npz").read_bytes()
