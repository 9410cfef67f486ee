"""Ends any Python process that reaches for the network; put on PYTHONPATH, it holds for child processes too.

What is allowed: sockets of this machine alone. Everything else is written to the file ``FORMCHECK_NETWORK_LOG`` names,
and the process ends with code 86.

It is the third line, behind the kernel's filter and the trace of ``tests/safety/test_outside.py``: it hears of what
Python does, and cannot see native code. The pose library, the video library and a database driver written in C call the
system past Python's audit hooks; a pose library that posted its usage passed this guard unseen. What it is good for:
it says which line of Python reached out.
"""

import ipaddress
import os
import sys

_WATCHED = ("socket.connect", "socket.bind", "socket.sendto", "socket.sendmsg", "socket.getaddrinfo",
            "socket.gethostbyname", "socket.gethostbyaddr", "socket.getnameinfo")  # fmt: skip
_OWN_NAMES = (None, "", b"", "localhost", b"localhost")


def _stays_here(event: str, arguments: tuple[object, ...]) -> bool:
    if event in ("socket.connect", "socket.bind", "socket.sendto", "socket.sendmsg"):
        address = arguments[1] if len(arguments) > 1 else None
        if address is None or isinstance(address, (str, bytes)):  # connected already; a socket in the file system
            return True
        host = address[0] if isinstance(address, tuple) else address
    else:
        host = arguments[0][0] if isinstance(arguments[0], tuple) else arguments[0]
        if host in _OWN_NAMES:
            return True
    try:
        return ipaddress.ip_address(host.decode() if isinstance(host, bytes) else str(host)).is_loopback
    except ValueError:
        return host in _OWN_NAMES[3:]


def _hook(event: str, arguments: tuple[object, ...]) -> None:
    if event in _WATCHED and not _stays_here(event, arguments):
        with open(os.environ["FORMCHECK_NETWORK_LOG"], "a", encoding="utf-8") as log:  # noqa: PTH123
            log.write(f"{event} {arguments[1:] or arguments} in {sys.argv[:2]}\n")
        os._exit(86)


if "FORMCHECK_NETWORK_LOG" in os.environ:
    sys.addaudithook(_hook)
