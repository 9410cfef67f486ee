"""A folder in which clips arrive: which of them are new, and there in full."""

import os
import stat
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from formcheck.batch.growing_files import QUIET_S
from formcheck.batch.listing import ENDINGS
from formcheck.core.errors import UsageError

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
