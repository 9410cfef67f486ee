"""The interface for Python programs: what ``import formcheck`` offers, handed on by `formcheck.__getattr__`.

Everything takes plain values and gives frozen ones; nothing is printed, and nothing is kept unless a place is named.
The examples run from the project's own folder.
"""

import tempfile
from collections.abc import Callable
from os import PathLike
from pathlib import Path

from formcheck.analysis import analyse as _analyse
from formcheck.core.errors import FormcheckError as FormcheckError
from formcheck.core.errors import ReviewFormatError
from formcheck.core.model import Analysis as Analysis
from formcheck.core.model import Finding as Finding
from formcheck.core.model import LandmarkRecording as LandmarkRecording
from formcheck.core.model import Measure as Measure
from formcheck.core.model import Rep as Rep
from formcheck.core.model import Review as Review
from formcheck.core.model import SetInfo as SetInfo
from formcheck.core.model import Settings as Settings
from formcheck.core.model import ViewHint
from formcheck.exercises.registry import get_exercise, load_exercise_file, load_exercises
from formcheck.exercises.schema import Exercise as Exercise
from formcheck.formats import decode, encode
from formcheck.services.other_exercise import name_other_exercise
from formcheck.services.pipeline import replacing

File = str | PathLike[str]
Progress = Callable[[float, float | None], None]
"""Told the seconds of the clip done and the clip's length (None while unknown)."""


def list_exercises() -> tuple[str, ...]:
    """Ids of all shipped exercises.

    >>> import formcheck
    >>> "lateral-raise" in formcheck.list_exercises()
    True
    """
    return tuple(load_exercises())


def load_exercise(exercise: File) -> Exercise:
    """A shipped exercise by its id (``id/variation`` for a variation), or your own from a ``.toml`` file.

    Raises UsageError for an id there is not, ExerciseError for a file that breaks the format; it names the key.

    >>> import formcheck
    >>> formcheck.load_exercise("lateral-raise").name
    'Lateral raise to shoulder height'
    >>> formcheck.load_exercise("lateral-raise/seated").position
    'seated'
    """
    if isinstance(exercise, str) and not exercise.endswith(".toml"):
        return get_exercise(exercise)
    return load_exercise_file(Path(exercise))


def find_landmarks(
    clip: File, *, keep_in: File | None = None, on_progress: Progress | None = None
) -> LandmarkRecording:
    """Look at a clip: the lifter's 33 body points (landmarks) in every picture.

    This is the slow part, a second or two for each second of film. With `keep_in`, a folder, the landmarks are kept
    there and a second look at the same clip takes none.

    Raises ClipError for what cannot be read as a clip.
    """
    # Reading video and the pose model take most of a second to import.
    from formcheck.pose.estimator import MediaPipeEstimator
    from formcheck.storage.recording_cache import cached_recording

    if keep_in is not None:
        return cached_recording(Path(clip), MediaPipeEstimator, Path(keep_in), on_progress=on_progress)
    with tempfile.TemporaryDirectory() as passing:
        return cached_recording(Path(clip), MediaPipeEstimator, passing, on_progress=on_progress)


def read_landmarks(path: File) -> LandmarkRecording:
    """Landmarks from a file (``.npz``) that `write_landmarks` or an earlier look wrote.

    Raises RecordingError when it is missing, damaged or of another version.

    >>> import formcheck
    >>> seen = formcheck.read_landmarks("tools/benchmarks/recordings/plain/lateral_raise_front_1_4.npz")
    >>> seen.pixels.shape[1:]  # pictures × body points × (x, y)
    (33, 2)
    """
    from formcheck.pose.recording import load_recording

    return load_recording(Path(path))


def write_landmarks(landmarks: LandmarkRecording, path: File) -> None:
    """Write landmarks to a file (``.npz``); RecordingError when that cannot be done."""
    from formcheck.pose.recording import save_recording

    save_recording(landmarks, Path(path))


def analyse(
    landmarks: LandmarkRecording,
    exercise: str | Exercise,
    *,
    view: ViewHint = "auto",
    set_info: SetInfo | None = None,
    settings: Settings | None = None,
) -> Analysis:
    """Review a set from its landmarks: takes milliseconds, and always gives the same for the same.

    `Analysis.review` holds reps, measures and findings, `Analysis.signals` the curves they were read from (degrees
    over seconds), `Analysis.driver` the curve that makes the reps.

    >>> import formcheck
    >>> seen = formcheck.read_landmarks("tools/benchmarks/recordings/plain/lateral_raise_front_1_4.npz")
    >>> review = formcheck.analyse(seen, "lateral-raise").review
    >>> [rep.number for rep in review.reps if rep.complete]
    [1, 2, 3, 4, 5]
    >>> top = review.measure("arm_elevation_peak", rep=1, side="left")
    >>> top.unit, top.margin > 0
    ('deg', True)
    """
    exercise = load_exercise(exercise) if isinstance(exercise, str) else exercise
    analysis = _analyse(landmarks, exercise, settings=settings, view=view, set_info=set_info)
    return name_other_exercise(analysis, landmarks, load_exercises().values(), settings=settings)


def review_clip(
    clip: File,
    exercise: str | Exercise,
    *,
    view: ViewHint = "auto",
    set_info: SetInfo | None = None,
    settings: Settings | None = None,
    keep_in: File | None = None,
    on_progress: Progress | None = None,
) -> Analysis:
    """Look at a clip and review it: `find_landmarks`, then `analyse`."""
    # A wrong id is said before the long look.
    exercise = load_exercise(exercise) if isinstance(exercise, str) else exercise
    seen = find_landmarks(clip, keep_in=keep_in, on_progress=on_progress)
    return analyse(seen, exercise, view=view, set_info=set_info, settings=settings)


def read_review(path: File) -> Review:
    """A review from a JSON file of the published format (docs/review-format.md).

    Raises ReviewFormatError when the file cannot be read or breaks the format; it names the place.
    """
    try:
        return decode(Path(path).read_bytes())
    except OSError as error:
        raise ReviewFormatError(f"The file {str(path)!r} cannot be read: {error.strerror}.") from None


def write_review(review: Review, path: File) -> None:
    """Write a review as JSON of the published format; OutputError when that cannot be done.

    >>> import formcheck, tempfile, pathlib
    >>> seen = formcheck.read_landmarks("tools/benchmarks/recordings/plain/lateral_raise_front_1_4.npz")
    >>> review = formcheck.analyse(seen, "lateral-raise").review
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = pathlib.Path(folder, "set.json")
    ...     formcheck.write_review(review, file)
    ...     len(formcheck.read_review(file).reps) == len(review.reps)
    True
    """
    with replacing(Path(path)) as part:
        part.write_text(encode(review, indent=2) + "\n", encoding="utf-8")
