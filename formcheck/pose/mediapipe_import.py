"""Imports MediaPipe without the packages it only draws charts and records sound with.

They take four fifths of the time its import takes, in each process that tracks a clip, and a third of its memory.
"""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from types import ModuleType
from typing import Any

UNUSED = ("matplotlib", "matplotlib.pyplot", "sounddevice")
"""What MediaPipe imports at its top and uses in none of the functions called here."""


def load_mediapipe() -> tuple[Any, Any]:
    """The mediapipe package and its tasks; raises what the import raises."""
    with _without(UNUSED):
        import mediapipe
        from mediapipe.tasks import python

    return mediapipe, python


@contextmanager
def _without(names: tuple[str, ...]) -> Iterator[None]:
    """Empty modules in the place of these, where they are not loaded already; whoever imports them later gets them."""
    stands_in = {name: ModuleType(name) for name in names if name not in sys.modules}
    sys.modules.update(stands_in)
    try:
        yield
    finally:
        for name, module in stands_in.items():
            if sys.modules.get(name) is module:
                del sys.modules[name]
