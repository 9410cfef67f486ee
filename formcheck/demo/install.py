"""The demo on its way into the data folder: put in by one process at a time, which says how far it is.

`python3 start.py` opens the page at once and has the demo put in beside it, so the page has to know.
"""

import json
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import IO

from formcheck.core.atomic_write import replace_file
from formcheck.storage.data_folder import DataFolder

_TRIES, _TRY_AGAIN_S = 20, 0.1
"""A page that looks whether someone is at it holds the lock for a moment."""


@dataclass(frozen=True, slots=True)
class InstallProgress:
    """How far the demo is."""

    done: int
    """Clips reviewed."""
    total: int
    """Clips in all."""


@contextmanager
def hold_install_lock(home: Path) -> Iterator[bool]:
    """Whether this process is the one that puts the demo in; given up when it ends, in whatever way."""
    with (DataFolder(home).demo_lock).open("a") as file:
        for again in range(_TRIES):
            if again:
                time.sleep(_TRY_AGAIN_S)
            if ours := _locked(file):
                break
        try:
            yield ours
        finally:
            if ours:
                (DataFolder(home).demo_progress).unlink(missing_ok=True)


def write_progress(home: Path, done: int, total: int) -> None:
    """Say how far it is; only for the process that is `alone`."""
    replace_file(DataFolder(home).demo_progress, json.dumps(asdict(InstallProgress(done, total))))


def read_progress(home: Path) -> InstallProgress | None:
    """How far the demo is; None when nobody puts it in."""
    try:
        told = InstallProgress(**json.loads((DataFolder(home).demo_progress).read_text(encoding="utf-8")))
        with (DataFolder(home).demo_lock).open("a") as file:
            if _locked(file):  # whoever wrote it was stopped
                return None
    except (OSError, ValueError, TypeError):
        return None
    return told


def _locked(file: IO[str]) -> bool:
    """Whether the file is locked by this process now; the lock goes when the file is closed."""
    with suppress(OSError):
        if sys.platform == "win32":
            import msvcrt

            file.seek(0)
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        return True
    return False
