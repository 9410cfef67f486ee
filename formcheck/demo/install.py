"""Installing the demo: one process at a time puts it into the data folder, and reports how far it is.

`python3 start.py` opens the page at once and has the demo installed meanwhile, so the page has to know.
"""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path

from filelock import FileLock, Timeout

from formcheck.core.atomic_write import replace_file
from formcheck.storage.data_folder import DataFolder

_PATIENCE_S = 2.0
"""A page that asks whether the demo is being installed holds the lock for a moment."""


@dataclass(frozen=True, slots=True)
class InstallProgress:
    """How far the demo is."""

    done: int
    """Clips reviewed."""
    total: int
    """Clips in all."""


@contextmanager
def hold_install_lock(home: Path) -> Iterator[bool]:
    """Whether this process is the one that installs the demo; released when it ends, in whatever way."""
    lock = FileLock(DataFolder(home).demo_lock, timeout=_PATIENCE_S)
    try:
        lock.acquire()
    except Timeout:
        yield False
        return
    try:
        yield True
    finally:
        DataFolder(home).demo_progress.unlink(missing_ok=True)
        lock.release()


def write_progress(home: Path, done: int, total: int) -> None:
    """Store how far it is; only for the process that holds the lock."""
    replace_file(DataFolder(home).demo_progress, json.dumps(asdict(InstallProgress(done, total))))


def read_progress(home: Path) -> InstallProgress | None:
    """How far the demo is; None when it is not being installed."""
    data = DataFolder(home)
    try:
        found = InstallProgress(**json.loads(data.demo_progress.read_text(encoding="utf-8")))
        with FileLock(data.demo_lock, blocking=False):  # whoever wrote it was stopped
            return None
    except Timeout:
        return found
    except (OSError, ValueError, TypeError):
        return None
