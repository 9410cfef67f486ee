"""Whether the file of a store is still the one that was opened.

A file that is deleted while it is open goes on for whoever has it open, and one made anew under its name looks like an
empty store: without this, reviews would be written where nobody finds them again. A file is known by its device and
number. A process that works for hours keeps what it knows open, so that the number is not given to another file.
"""

import os
import re
from pathlib import Path

from formcheck.core.errors import StoreError

EXPECTED = "FORMCHECK_EXPECTED_STORE"
"""For a process that works for another one: ``device:number:path`` of the store that one has open."""
FileIdentity = tuple[int, int]
"""Device and number: what tells one file from another of the same name."""

_to_watch: set[str] = set()
_watched: dict[str, tuple[FileIdentity, int]] = {}
"""Path → identity and open handle of the store that was opened there."""


def identity_of(path: str | Path) -> FileIdentity | None:
    """A file's identity; None where there is no such file."""
    try:
        found = os.stat(path)  # noqa: PTH116
    except OSError:
        return None
    return found.st_dev, found.st_ino


def check_same(path: str | Path, known: FileIdentity | None) -> None:
    """Raise StoreError when the file is gone or another one than the known; None: nothing is known of it."""
    if known is not None and (sentence := _describe_change(path, known)) is not None:
        raise StoreError(sentence)


def _describe_change(path: str | Path, known: FileIdentity) -> str | None:
    """The sentence that says what became of the store; None while it is the same."""
    now = identity_of(path)
    if now == known:
        return None
    what = "deleted or moved away" if now is None else "replaced by another file"
    return f"The store {path} was {what} while formcheck was using it: nothing is read from it or written to it."


def watch_store(path: str | Path) -> None:
    """From now on, in this process, the store at a path must stay the same file once it was opened."""
    _to_watch.add(str(path))


def check_expected(path: str | Path) -> None:
    """Before a store is opened: raise StoreError when this process, or the one it works for, knows another file."""
    check_same(path, _expected(str(path)))


def note_opened(path: str | Path) -> None:
    """After a store was opened: know it from now on, where it is to be watched."""
    key = str(path)
    if key in _to_watch and key not in _watched and (identity := identity_of(path)) is not None:
        handle = os.open(path, os.O_RDONLY)
        found = os.fstat(handle)
        _watched[key] = (found.st_dev, found.st_ino), handle
        check_same(path, identity)


def missing_store() -> tuple[str, str] | None:
    """Path of, and sentence about, a watched store that is no longer the same file; None while all are."""
    changes = ((path, _describe_change(path, identity)) for path, (identity, _) in _watched.items())
    return next(((path, sentence) for path, sentence in changes if sentence is not None), None)


def accept_store(path: str | Path) -> None:
    """Take whatever lies at the path now, or is made there next, for the store."""
    if (known := _watched.pop(str(path), None)) is not None:
        os.close(known[1])


def expected_store(path: str | Path | None) -> dict[str, str]:
    """Environment for a process that is to work on the store this one has open; empty where none is watched."""
    known = None if path is None else _expected(str(path))
    return {} if known is None else {EXPECTED: f"{known[0]}:{known[1]}:{path}"}


def _expected(path: str) -> FileIdentity | None:
    if path in _watched:
        return _watched[path][0]
    given = re.fullmatch(r"(\d+):(\d+):(.*)", os.environ.get(EXPECTED, ""), re.DOTALL)
    return (int(given[1]), int(given[2])) if given is not None and given[3] == path else None
