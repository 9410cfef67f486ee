"""Files that are still being copied into a folder: waited for, or named."""

import time
from collections.abc import Callable, Collection
from pathlib import Path

YOUNG_S = 10.0
"""A file written to within the last seconds may be written to again."""
QUIET_S = 1.5
"""A file that was not written to for so long is taken to be there in full."""
MOST_WAIT_S = 30.0
"""All files of a batch together are waited for so long at most."""
LOOK_EVERY_S = 0.25
STALLED_S = 300.0
"""A damaged file written to within these seconds may be one whose copying was held up."""

State = tuple[int, int]
"""Size in bytes, time of the last change in nanoseconds."""


def wait_for_growing_files(
    paths: Collection[Path],
    *,
    now: Callable[[], float] = time.time,
    sleep: Callable[[float], None] = time.sleep,
    most_s: float | None = None,
) -> set[Path]:
    """The files that are still written to after waiting for them; none where all were quiet from the beginning.

    Parameters
    ----------
    now : the time in seconds, as files' times of change are told.
    most_s : seconds to wait; None: `MOST_WAIT_S`.
    """
    begun = now()
    last: dict[Path, tuple[State, float]] = {}
    for path in paths:
        state = _state(path)
        if state is not None and begun - state[1] / 1e9 < YOUNG_S:
            last[path] = state, begun
    while last:
        if now() - begun >= (MOST_WAIT_S if most_s is None else most_s):
            return set(last)
        sleep(LOOK_EVERY_S)
        at = now()
        for path, (before, since) in list(last.items()):
            state = _state(path)
            if state is None or (state == before and at - since >= QUIET_S):
                del last[path]
            elif state != before:
                last[path] = state, at
    return set()


def was_written_lately(path: Path, now_s: float) -> bool:
    """Whether a file was written to so lately that a part of it may still be missing."""
    state = _state(path)
    return state is not None and abs(now_s - state[1] / 1e9) < STALLED_S


def _state(path: Path) -> State | None:
    """None for what is not there, which says so itself later on."""
    try:
        found = path.stat()
    except (OSError, ValueError):
        return None
    return found.st_size, found.st_mtime_ns
