"""The C library's heaps, so that a process which works for hours stays as small as one that has just begun.

The GNU C library gives each thread a heap of its own, up to eight a core, and hands little of what is freed back to
the system. Other C libraries have no such calls, and nothing is done there.
"""

import ctypes
import gc
from contextlib import suppress

FOR_CHILDREN = {"MALLOC_ARENA_MAX": "1"}
"""Surroundings of a process that makes pose models anew: with one heap it stays as it is after the first, at the same
speed; with one a thread it grows with every model."""
FOR_THE_PAGE = {"MALLOC_ARENA_MAX": "2"}
"""Surroundings of the page, whose every run is a thread of its own; read when a process begins, not later."""
_NONE = (OSError, AttributeError, TypeError)


def give_memory_back() -> None:
    """Free what only holds itself, as a pose model put away does, and hand the system what was freed."""
    gc.collect()
    with suppress(*_NONE):
        ctypes.CDLL(None).malloc_trim(0)
