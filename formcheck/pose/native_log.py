"""Keeps the log lines of native code off the terminal.

The pose model's native part writes some fifty lines to file descriptor 2 whenever it starts, and no setting stops
it. While it runs, descriptor 2 leads elsewhere and Python's own standard error, progress bars included, goes on
writing to the terminal through a duplicate.
"""

import io
import os
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

_lock = threading.Lock()
_users = 0
_duplicate = -1


@contextmanager
def silence_native_log() -> Iterator[None]:
    """Drop what native code writes to standard error until the block ends; uses may be nested and parallel.

    Does nothing when the process has no standard error.
    """
    global _users
    with _lock:
        if _users == 0:
            _divert()
        _users += 1
    try:
        yield
    finally:
        with _lock:
            _users -= 1
            if _users == 0:
                _restore()


def _divert() -> None:
    global _duplicate
    try:
        duplicate = os.dup(2)
    except OSError:  # standard error is closed: nothing can reach the terminal
        return
    target = os.open(os.devnull, os.O_WRONLY)
    _duplicate = duplicate
    _move_python_streams(2, duplicate)
    os.dup2(target, 2)
    os.close(target)


def _restore() -> None:
    global _duplicate
    if _duplicate < 0:
        return
    duplicate, _duplicate = _duplicate, -1
    os.dup2(duplicate, 2)
    _move_python_streams(duplicate, 2)
    os.close(duplicate)


def _move_python_streams(source: int, target: int) -> None:
    """Let the objects behind sys.stderr write to another descriptor.

    The objects themselves stay, because progress bars and log handlers made earlier hold them. Re-initialising
    a FileIO is the one way to give it another descriptor; it does not close the old one, which it never owned.
    """
    seen: list[Any] = []
    for stream in (sys.stderr, sys.__stderr__):
        buffer = getattr(stream, "buffer", None)
        raw = getattr(buffer, "raw", buffer)  # an unbuffered stream has no layer between
        if not isinstance(raw, io.FileIO) or any(raw is other for other in seen):
            continue
        seen.append(raw)
        try:
            if raw.fileno() == source and not raw.closefd:
                stream.flush()  # type: ignore[union-attr]  # None has no buffer and never comes here
                raw.__init__(target, "wb", closefd=False)  # type: ignore[misc]  # see the docstring
        except (OSError, ValueError):  # a closed stream writes nothing anyway
            continue
