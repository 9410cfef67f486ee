"""Keeps the memory of a long-running process small: settings of the C library's heaps, and returning what was freed.

The GNU C library gives each thread a heap of its own, up to eight a core, and hands little of what is freed back to
the system. Other C libraries have no such calls, and nothing is done there.
"""

import ctypes
import gc
import os
import sys
import time
from collections.abc import Mapping
from contextlib import suppress

WORKER_ENVIRONMENT = {"MALLOC_ARENA_MAX": "1", "OPENBLAS_NUM_THREADS": "1"}
"""Environment of a process that makes pose models anew: with one heap it stays as it is after the first, at the same
speed; with one a thread it grows with every model. OpenBLAS, which it does not use, starts a thread a core when it is
loaded, and where memory is too short for one it sends its process an interrupt."""
PAGE_ENVIRONMENT = {"MALLOC_ARENA_MAX": "2", "MALLOC_MMAP_THRESHOLD_": "131072"}
"""Environment of the page, whose every run is a thread of its own; read when a process begins, not later.

Blocks of 128 KiB or more, such as films, charts and reviews on their way, each get a place of their own that goes back
to the system with them. Else the library raises that size to the largest block ever freed, and they end up between what
stays."""
_LARGE = "MALLOC_MMAP_THRESHOLD_"
_NONE = (OSError, AttributeError, TypeError)
_MANY = 100
"""So many modules loaded anew are worth it. Such moments are few: little that has to go can stay with them."""
_frozen_count = 0
_EVERY_S = 60.0
_next_s = 0.0


def make_worker_environment(own: Mapping[str, str] | None = None) -> dict[str, str]:
    """The environment of this process, for one that goes through a clip.

    What keeps the page small would cost it time: each picture would get a new place, which is cleared first.
    """
    return {name: value for name, value in os.environ.items() if name != _LARGE} | dict(own or {})


def release_memory() -> None:
    """Free what only holds itself, as a pose model put away does, and hand the system what was freed."""
    gc.collect()
    _trim()


def release_memory_periodically() -> bool:
    """Hand the system what was freed, once a minute at most; call it as often as you like. Says whether it was done.

    What one visitor's pages took and left stands in pieces between what stays; without this the C library keeps it.
    """
    global _next_s
    now = time.monotonic()
    if now < _next_s:
        return False
    _next_s = now + _EVERY_S
    _trim()
    return True


def _trim() -> None:
    with suppress(*_NONE):
        ctypes.CDLL(None).malloc_trim(0)


def freeze_modules() -> None:
    """Keep what loaded modules hold out of later garbage collections; call it as often as you like.

    The page's server collects after every click. Looking through everything its libraries hold, which stays as long as
    the process, would take most of the time of a short run.
    """
    global _frozen_count
    loaded = len(sys.modules)
    if loaded < _frozen_count + _MANY:
        return
    _frozen_count = loaded
    gc.collect()
    gc.freeze()
