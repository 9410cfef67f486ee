"""Files that are still being copied into a folder: waited for, named, or taken once they are there in full."""

import os
import stat
import time
from collections.abc import Callable, Collection
from contextlib import suppress
from pathlib import Path

from formcheck.batch.listing import ENDINGS
from formcheck.core.errors import UsageError

YOUNG_S = 10.0
"""A file written to within the last seconds may be written to again."""
QUIET_S = 1.5
"""A file that was not written to for so long is taken to be there in full."""
MOST_WAIT_S = 30.0
"""All files of a batch together are waited for so long at most."""
CHECK_EVERY_S = 0.25
STALLED_S = 300.0
"""A damaged file written to within these seconds may be one whose copying was held up."""


def wait_for_growing_files(
    paths: Collection[Path],
    *,
    now: Callable[[], float] = time.time,
    sleep: Callable[[float], None] = time.sleep,
) -> set[Path]:
    """The files that are still written to after waiting for them; none where all were quiet from the beginning.

    Parameters
    ----------
    now : the time in seconds, on the clock of the files' times of change.
    """
    begun = now()
    states = {path: _read_state(path) for path in paths}
    last = {path: (state, begun) for path, state in states.items() if state and begun - state.st_mtime < YOUNG_S}
    while last:
        if now() - begun >= MOST_WAIT_S:
            return set(last)
        sleep(CHECK_EVERY_S)
        at = now()
        for path, (before, since) in list(last.items()):
            state = _read_state(path)
            same = state and (state.st_size, state.st_mtime_ns) == (before.st_size, before.st_mtime_ns)
            if state is None or (same and at - since >= QUIET_S):
                del last[path]
            elif not same:
                last[path] = state, at
    return set()


def was_written_lately(path: Path, now_s: float) -> bool:
    """Whether a file was written to so lately that a part of it may still be missing."""
    state = _read_state(path)
    return state is not None and abs(now_s - state.st_mtime) < STALLED_S


def _read_state(path: Path) -> os.stat_result | None:
    """None for a file that is not there; that becomes an error later on."""
    with suppress(OSError, ValueError):
        return path.stat()
    return None


_State = tuple[int, int, int]
"""File number, size in bytes and time of change in nanoseconds."""


class WatchedFolder:
    """The clips that arrive in a folder from now on; those that lie there already are left alone.

    Links are not followed, folders in it are not looked into, and names that begin with a dot are parts of others.
    """

    def __init__(self, folder: Path, *, now: Callable[[], float] = time.monotonic) -> None:
        """Raises UsageError when there is no such folder.

        Parameters
        ----------
        now : seconds on any clock.
        """
        if not folder.is_dir():
            raise UsageError(f"There is no folder {folder}.")
        self._folder, self._now = folder.resolve(), now
        self._handled = set(self._look())
        """Names of what lay there before, and of what was given."""
        self._growing: dict[str, tuple[_State, float]] = {}
        """Name → how the file was, and since when it has been like that."""

    def take_arrived(self) -> list[Path]:
        """The clips that have come and were not written to for `QUIET_S`, by name; each is given once."""
        at, seen = self._now(), self._look()
        self._handled &= seen.keys()  # what was taken away may come again under its name
        self._growing = {name: item for name, item in self._growing.items() if name in seen}
        for name, state in seen.items():
            if name not in self._handled and self._growing.get(name, (None,))[0] != state:
                self._growing[name] = state, at
        arrived = [name for name, (state, since) in self._growing.items() if at - since >= QUIET_S and state[1] > 0]
        for name in arrived:
            del self._growing[name]
        self._handled.update(arrived)
        return [self._folder / name for name in sorted(arrived)]

    def _look(self) -> dict[str, _State]:
        """The files of clips that lie there now; none where the folder is gone for a while."""
        found: dict[str, _State] = {}
        with suppress(OSError), os.scandir(self._folder) as entries:
            for entry in entries:
                if entry.name.startswith(".") or Path(entry.name).suffix.lower() not in ENDINGS:
                    continue
                with suppress(OSError):  # it went away meanwhile
                    about = entry.stat(follow_symlinks=False)
                    if stat.S_ISREG(about.st_mode):
                        found[entry.name] = about.st_ino, about.st_size, about.st_mtime_ns
        return found
