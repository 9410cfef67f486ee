"""Runs a program, with all its processes, where the system itself tells what it tried to reach beyond this machine.

With ``strace`` every connection, message, and open door is read off the system calls, native code's included; look-ups
are those to port 53 or to a look-up service's socket, wherever it is. Where there is no tracer but a network namespace,
the program runs in one that has nothing but its loopback, and the kernel's own counters tell how often it tried to send
or connect somewhere else.
"""

import ipaddress
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from pathlib import Path

import pytest

IN_NAMESPACE = Path(__file__).with_name("in_namespace.py")
CALLS = ("connect", "sendto", "sendmsg", "sendmmsg", "bind")
_INET = re.compile(r"sa_family=AF_INET6?, sin6?_port=htons\((\d+)\).*?\"([0-9a-fA-F.:]+)\"")
_UNIX = re.compile(r'sa_family=AF_UNIX, sun_path=@?"([^"]*)"')
_LOOK_UP_SERVICES = ("nscd", "resolve", "avahi", "lookup")


def traced() -> bool:
    """Whether this system lets us read system calls."""
    return _works(("strace", "-f", "-e", "trace=network", "-o", os.devnull, "true"))


def _only_these_calls_stop() -> tuple[str, ...]:
    """The option that lets all other calls run at full speed, where this strace has it."""
    return ("--seccomp-bpf",) if _works(("strace", "-f", "--seccomp-bpf", "-o", os.devnull, "true")) else ()


def set_apart() -> tuple[str, ...]:
    """The command that takes the network away from what follows; empty where there is none."""
    ways = (("unshare", "--net"), ("unshare", "--map-root-user", "--net"))
    return next((way for way in ways if _works((*way, "true"))), ())


@cache
def _works(command: tuple[str, ...]) -> bool:
    found = shutil.which(command[0])
    return found is not None and subprocess.run(command, capture_output=True, check=False).returncode == 0


def needs_a_witness() -> None:
    """Skip where the system tells nothing; fail where a change is checked, so that it is never passed unseen."""
    if not traced() and not set_apart():
        message = "neither strace nor a network namespace can be had here (Debian package: strace)"
        if os.environ.get("CI"):
            pytest.fail(message)
        pytest.skip(message)


def reached(
    command: Sequence[str], folder: Path, *, env: Mapping[str, str], cwd: Path, code: int | None = 0
) -> list[str]:
    """What the program tried to reach beyond this machine; it must end with `code`, unless that is None."""
    log = folder / "watched"
    log.unlink(missing_ok=True)
    if traced():
        options = ("-qq", "-s", "256", "-e", f"trace={','.join(CALLS)}", "-o", str(log))
        wrapped = ["strace", "-f", *_only_these_calls_stop(), *options, *command]
    else:
        wrapped = [*set_apart(), sys.executable, str(IN_NAMESPACE), str(log), *command]
    done = subprocess.run(wrapped, env=dict(env), cwd=cwd, capture_output=True, text=True, check=False)
    assert code is None or done.returncode == code, (done.returncode, done.stdout[-3000:], done.stderr[-3000:])
    text = log.read_text(encoding="utf-8", errors="replace")
    return list(outside(text.splitlines())) if traced() else text.splitlines()


def outside(lines: Sequence[str]) -> Iterator[str]:
    """Of a trace the look-ups, and what goes, or listens, beyond this machine."""
    for line in lines:
        call = line.partition("(")[0].split()[-1:]
        if call and call[0] in CALLS:
            for port, address in _INET.findall(line):
                if port == "53" or not ipaddress.ip_address(address).is_loopback:
                    yield f"{call[0]} {address} port {port}"
            for path in _UNIX.findall(line):
                if any(name in path for name in _LOOK_UP_SERVICES):
                    yield f"{call[0]} {path}"
