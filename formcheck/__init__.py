"""formcheck: measures a recorded strength-training set, rep by rep, and says what was met.

    >>> import formcheck
    >>> seen = formcheck.read_landmarks("tools/benchmarks/recordings/plain/lateral_raise_front_1_4.npz")
    >>> len(formcheck.analyse(seen, "lateral-raise").review.reps)
    5

What a program may rely on is in ``__all__`` and described in `formcheck.public`; other modules may change.
"""

from typing import TYPE_CHECKING

__version__ = "0.1.0"

if TYPE_CHECKING:
    from formcheck.public import Analysis as Analysis
    from formcheck.public import Exercise as Exercise
    from formcheck.public import Finding as Finding
    from formcheck.public import FormcheckError as FormcheckError
    from formcheck.public import LandmarkRecording as LandmarkRecording
    from formcheck.public import Measure as Measure
    from formcheck.public import Rep as Rep
    from formcheck.public import Review as Review
    from formcheck.public import SetInfo as SetInfo
    from formcheck.public import Settings as Settings
    from formcheck.public import analyse as analyse
    from formcheck.public import find_landmarks as find_landmarks
    from formcheck.public import list_exercises as list_exercises
    from formcheck.public import load_exercise as load_exercise
    from formcheck.public import read_landmarks as read_landmarks
    from formcheck.public import read_review as read_review
    from formcheck.public import review_clip as review_clip
    from formcheck.public import write_landmarks as write_landmarks
    from formcheck.public import write_review as write_review

__all__ = [
    "Analysis",
    "Exercise",
    "Finding",
    "FormcheckError",
    "LandmarkRecording",
    "Measure",
    "Rep",
    "Review",
    "SetInfo",
    "Settings",
    "__version__",
    "analyse",
    "find_landmarks",
    "list_exercises",
    "load_exercise",
    "read_landmarks",
    "read_review",
    "review_clip",
    "write_landmarks",
    "write_review",
]


def __getattr__(name: str) -> object:
    """Load the interface when it is first asked for: ``formcheck --help`` never waits for numpy."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    import importlib

    return getattr(importlib.import_module("formcheck.public"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
