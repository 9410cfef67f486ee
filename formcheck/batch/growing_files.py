"""Files that are still being copied into a folder: waited for, or named."""

import os
import time
from collections.abc import Callable, Collection
from contextlib import suppress
from pathlib import Path

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
