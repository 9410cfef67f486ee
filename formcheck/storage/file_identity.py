"""Whether the file of a store is still the one that was opened.

A file that is deleted while it is open goes on for whoever has it open, and one made anew under its name looks like an
empty store: without this, reviews would be written where nobody finds them again. A file is known by its device and
number. A process that works for hours keeps what it knows open, so that the number is not given to another file.
"""

import os
from dataclasses import dataclass
from pathlib import Path

from formcheck.core.errors import StoreError

EXPECTED = "FORMCHECK_EXPECTED_STORE"
"""For a process that works for another one: ``device:number:path`` of the store that one has open."""


@dataclass(frozen=True, slots=True)
class FileIdentity:
    """What tells one file from another of the same name."""

    device: int
    number: int


@dataclass(frozen=True, slots=True)
class _Watched:
    identity: FileIdentity
    handle: int


_to_watch: set[str] = set()
_watched: dict[str, _Watched] = {}


def identity_of(path: str | Path) -> FileIdentity | None:
    """A file's identity; None where there is no such file."""
    try:
        found = Path(path).stat()
    except OSError:
        return None
    return FileIdentity(found.st_dev, found.st_ino)


def check_same(path: str | Path, known: FileIdentity | None) -> None:
    """Raise StoreError when the file is gone or another one than the known; None: nothing is known of it."""
    if known is not None and (sentence := what_changed(path, known)) is not None:
        raise StoreError(sentence)


def what_changed(path: str | Path, known: FileIdentity) -> str | None:
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


def remember(path: str | Path) -> None:
    """After a store was opened: know it from now on, where it is to be watched."""
    key = str(path)
    if key not in _to_watch or key in _watched or (identity := identity_of(path)) is None:
        return
    handle = os.open(path, os.O_RDONLY)
    found = os.fstat(handle)
    _watched[key] = _Watched(FileIdentity(found.st_dev, found.st_ino), handle)
    check_same(path, identity)


def missing_store() -> tuple[str, str] | None:
    """Path of, and sentence about, a watched store that is no longer the same file; None while all are."""
    for path, known in _watched.items():
        if (sentence := what_changed(path, known.identity)) is not None:
            return path, sentence
    return None


def accept_store(path: str | Path) -> None:
    """Take whatever lies at the path now, or is made there next, for the store."""
    if (known := _watched.pop(str(path), None)) is not None:
        os.close(known.handle)


def expectation(path: str | Path) -> dict[str, str]:
    """Surroundings for a process that is to work on the store this one has open; empty where none is watched."""
    known = _expected(str(path))
    return {} if known is None else {EXPECTED: f"{known.device}:{known.number}:{path}"}


def _expected(path: str) -> FileIdentity | None:
    if (known := _watched.get(path)) is not None:
        return known.identity
    device, _, rest = os.environ.get(EXPECTED, "").partition(":")
    number, _, named = rest.partition(":")
    if named == path and device.isdigit() and number.isdigit():
        return FileIdentity(int(device), int(number))
    return None
