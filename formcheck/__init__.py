"""formcheck: measures a recorded strength-training set, rep by rep, and says what was met.

    >>> import formcheck
    >>> seen = formcheck.read_landmarks("tools/benchmarks/recordings/shipped/lateral_raise_front_clean.npz")
    >>> len(formcheck.analyse(seen, "lateral-raise").review.reps)
    6

What a program may rely on is in ``__all__`` and described in `formcheck.public`; other modules may change.
"""

# ruff: noqa: F405  # the star below is for type checkers; a test holds that every name is there

from typing import TYPE_CHECKING

__version__ = "0.2.0"

if TYPE_CHECKING:
    from formcheck.public import *  # noqa: F403  # the names are those of __all__

__all__ = [
    "Analysis",
    "CameraView",
    "ClipDamage",
    "ClipError",
    "ClipInfo",
    "ClipPart",
    "Exercise",
    "ExerciseError",
    "ExerciseRef",
    "Finding",
    "FormcheckError",
    "LandmarkRecording",
    "Measure",
    "Message",
    "OutputError",
    "PairingError",
    "Point",
    "PoseModelError",
    "PoseModelInfo",
    "Progress",
    "Quality",
    "QualityProblem",
    "RecordingError",
    "ReferenceComparison",
    "ReferenceDifference",
    "Rep",
    "Review",
    "ReviewFormatError",
    "Scene",
    "SecondCamera",
    "SetInfo",
    "Settings",
    "Signals",
    "Suggestion",
    "Tempo",
    "UnclearPairError",
    "UsageError",
    "ViewHint",
    "__version__",
    "analyse",
    "find_landmarks",
    "list_exercises",
    "load_exercise",
    "read_landmarks",
    "read_review",
    "review_clip",
    "suggest_exercise",
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
