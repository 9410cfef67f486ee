"""Takes from a process, for good, the means to open a network connection: a seccomp filter, on Linux alone.

The pose model and the video library are native code that no guard in Python sees. With this filter the kernel itself
refuses every ``socket`` call, the creation of an io_uring (which opens sockets without that call), and every call made
by another architecture's numbers (32-bit code on x86-64, and x32), under which the same calls have other numbers. It
holds for all threads and for every process started later, cannot be taken back, and needs no rights.

What is open already stays usable, so it belongs at the start of a process that inherits no socket. It bounds the
network alone: files and other processes of the same user are not its matter.

The constants stand in the kernel's headers ``linux/seccomp.h``, ``linux/filter.h``, ``linux/audit.h`` and
``linux/prctl.h``, the numbers of calls in ``asm/unistd_64.h`` (x86-64) and ``asm-generic/unistd.h`` (aarch64).
"""

import ctypes
import errno
import platform
import socket
import struct
import sys
from dataclasses import dataclass

PR_SET_NO_NEW_PRIVS = 38
SECCOMP_SET_MODE_FILTER = 1
SECCOMP_FILTER_FLAG_TSYNC = 1
"""All threads of the process at once, not only the one that asks."""
SECCOMP_RET_ALLOW = 0x7FFF0000
SECCOMP_RET_ERRNO = 0x00050000
IO_URING_SETUP = 425
"""The same number on every architecture."""
X32_CALLS = 0x40000000
"""From here on the numbers of x86-64 are those of x32."""

LOAD_WORD, JUMP_IF_EQUAL, JUMP_IF_AT_LEAST, RETURN = 0x20, 0x15, 0x35, 0x06
"""Instructions of the classic Berkeley packet filter: an absolute word, two jumps on a constant, the end."""
CALL_NUMBER_AT, ARCHITECTURE_AT = 0, 4
"""Bytes into ``struct seccomp_data``."""


@dataclass(frozen=True, slots=True)
class _Architecture:
    audit: int
    """Its AUDIT_ARCH_ constant."""
    seccomp: int
    """Number of the call ``seccomp``."""
    socket: int
    """Number of the call ``socket``."""


ARCHITECTURES = {
    "x86_64": _Architecture(audit=0xC000003E, seccomp=317, socket=41),
    "aarch64": _Architecture(audit=0xC00000B7, seccomp=277, socket=198),
}


def deny_sockets() -> bool:
    """From now on no thread of this process, and no process it starts, can open a socket; False where it cannot be had.

    It can be had on Linux from 3.17 on, on x86-64 and aarch64, in a 64-bit Python. An attempt then raises
    PermissionError.
    """
    architecture = ARCHITECTURES.get(platform.machine())
    if not sys.platform.startswith("linux") or architecture is None or struct.calcsize("P") != 8:
        return False
    libc = ctypes.CDLL(None, use_errno=True)
    if libc.prctl(PR_SET_NO_NEW_PRIVS, *map(ctypes.c_ulong, (1, 0, 0, 0))) != 0:
        return False
    code = make_filter(architecture)
    instructions = ctypes.create_string_buffer(code, len(code))
    program = _Program(len(code) // 8, ctypes.addressof(instructions))
    given = (architecture.seccomp, SECCOMP_SET_MODE_FILTER, SECCOMP_FILTER_FLAG_TSYNC)
    libc.syscall.restype = ctypes.c_long
    return bool(libc.syscall(*map(ctypes.c_long, given), ctypes.byref(program)) == 0) and are_sockets_denied()


def are_sockets_denied() -> bool:
    """Whether this thread cannot open a socket, whatever forbids it."""
    try:
        socket.socket().close()
    except PermissionError:
        return True
    except OSError:
        return False
    return False


def make_filter(architecture: _Architecture) -> bytes:
    """The filter's instructions as the kernel reads them: each a code, two jumps (how many to skip), a constant."""
    refuse = SECCOMP_RET_ERRNO | errno.EPERM
    steps = [
        (LOAD_WORD, 0, 0, ARCHITECTURE_AT),
        (JUMP_IF_EQUAL, 0, 4, architecture.audit),
        (LOAD_WORD, 0, 0, CALL_NUMBER_AT),
        (JUMP_IF_AT_LEAST, 2, 0, X32_CALLS),
        (JUMP_IF_EQUAL, 1, 0, architecture.socket),
        (JUMP_IF_EQUAL, 0, 1, IO_URING_SETUP),
        (RETURN, 0, 0, refuse),
        (RETURN, 0, 0, SECCOMP_RET_ALLOW),
    ]
    return b"".join(struct.pack("=HBBI", *step) for step in steps)


class _Program(ctypes.Structure):
    """``struct sock_fprog``."""

    _fields_ = (("length", ctypes.c_ushort), ("filter", ctypes.c_void_p))
