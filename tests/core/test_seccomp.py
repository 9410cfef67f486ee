"""The filter that takes sockets from a process, tried in processes of its own: it cannot be taken back."""

import mmap
import platform
import struct
import subprocess
import sys
from pathlib import Path

import pytest

from formcheck.core import seccomp
from formcheck.pose.recording import save_recording
from formcheck.sandbox.sandboxed_tracking import call_in_sandbox, track_clip
from tests.in_process import track_here
from tests.pose import stand_in_models
from tests.video.clips import write_clip

filtering = pytest.mark.skipif(
    not (sys.platform.startswith("linux") and platform.machine() in seccomp.ARCHITECTURES),
    reason="the filter is for Linux on x86-64 and aarch64",
)
EPERM = 1


def said(
    code: str, before: str = "from formcheck.core.seccomp import deny_sockets; print(deny_sockets())"
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


ALLOW, REFUSE = 0x7FFF0000, 0x00050000 | EPERM  # SECCOMP_RET_ALLOW; SECCOMP_RET_ERRNO with EPERM (linux/seccomp.h)
X86_64, I386, AARCH64, ARM = 0xC000003E, 0x40000003, 0xC00000B7, 0x40000028  # AUDIT_ARCH_ of linux/audit.h


def verdict(code: bytes, architecture: int, number: int) -> int:
    """What a kernel makes of the filter: the machine of McCanne and Jacobson 1993, as far as it is used here."""
    steps, at, held = list(struct.iter_unpack("=HBBI", code)), 0, 0
    while True:
        operation, if_so, if_not, constant = steps[at]
        if operation == 0x06:
            return int(constant)
        if operation == 0x20:
            held, at = {0: number, 4: architecture}[constant], at + 1
        else:
            so = held == constant if operation == 0x15 else held >= constant
            at += 1 + (if_so if so else if_not)


@pytest.mark.parametrize(
    ("machine", "architecture", "number", "answer"),
    [
        # asm/unistd_64.h: read 0, socket 41, connect 42, socketpair 53, io_uring_setup 425
        ("x86_64", X86_64, 41, REFUSE),
        ("x86_64", X86_64, 425, REFUSE),
        *(("x86_64", X86_64, number, ALLOW) for number in (0, 40, 42, 53, 198, 424, 426)),
        ("x86_64", X86_64, 0x40000000 | 41, REFUSE),
        ("x86_64", X86_64, 0x40000000, REFUSE),
        *(("x86_64", I386, number, REFUSE) for number in (0, 3, 20, 102, 359)),
        ("x86_64", AARCH64, 0, REFUSE),
        # asm-generic/unistd.h: read 63, socket 198, socketpair 199, connect 203
        ("aarch64", AARCH64, 198, REFUSE),
        ("aarch64", AARCH64, 425, REFUSE),
        *(("aarch64", AARCH64, number, ALLOW) for number in (41, 63, 197, 199, 203)),
        *(("aarch64", ARM, number, REFUSE) for number in (3, 281)),
        ("aarch64", X86_64, 0, REFUSE),
    ],
)
def test_what_the_filter_says_to_each_call(machine: str, architecture: int, number: int, answer: int) -> None:
    assert verdict(seccomp.make_filter(seccomp.ARCHITECTURES[machine]), architecture, number) == answer


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
        "from formcheck.core.seccomp import deny_sockets, are_sockets_denied\n"
        "go, found = threading.Event(), []\n"
        "thread = threading.Thread(target=lambda: (go.wait(), found.append(are_sockets_denied())))\n"
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
    assert not seccomp.are_sockets_denied()


@filtering
def test_the_process_that_looks_at_a_clip_has_it(tmp_path: Path) -> None:
    clip = write_clip(tmp_path / "clip.mp4", [0, 0.1, 0.2])
    (here,) = stand_in_models.SocketModel.found(track_here(clip, stand_in_models.SocketModel))
    (there,) = stand_in_models.SocketModel.found(track_clip(clip, stand_in_models.SocketModel))
    assert (here, there) == ("open", "refused")


@filtering
def test_landmarks_are_the_same_with_and_without(tmp_path: Path) -> None:
    clip = write_clip(tmp_path / "clip.mp4", [0.1 * step for step in range(20)])
    save_recording(track_clip(clip, stand_in_models.GreyModel), tmp_path / "with.npz")
    save_recording(track_here(clip, stand_in_models.GreyModel), tmp_path / "without.npz")
    assert (tmp_path / "with.npz").read_bytes() == (tmp_path / "without.npz").read_bytes()


@filtering
@pytest.mark.parametrize(("store", "denied"), [("", "True"), ("postgresql://nobody@192.0.2.1/none", "False")])
def test_the_worker_of_the_page_has_it_unless_its_store_is_a_server(
    store: str, denied: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FORMCHECK_STORE", store)
    code = (
        "import runpy, sys; sys.argv = ['worker']; from formcheck.core.seccomp import are_sockets_denied\n"
        "try: runpy.run_module('formcheck.jobs.worker', run_name='__main__')\n"
        "except SystemExit: print(are_sockets_denied())"
    )
    assert said(code, "") == [denied]


@filtering
def test_what_a_child_calls_runs_behind_it(tmp_path: Path) -> None:
    clip = write_clip(tmp_path / "clip.mp4", [0, 0.1, 0.2])
    assert call_in_sandbox(clip, stand_in_models.socket_here)["denied"] == [1.0]
    assert stand_in_models.socket_here(lambda: None)["denied"] == [0.0]
