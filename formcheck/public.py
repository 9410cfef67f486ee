"""The interface for Python programs: what ``import formcheck`` offers, handed on by `formcheck.__getattr__`.

Everything takes plain values and gives frozen ones; nothing is printed, and nothing is stored unless a file or folder
is named.
Every error meant for the user is a `FormcheckError`, whose text is one sentence and whose `path` and `key` name the
file and the place in it where there is one. The examples run from the project's own folder.
"""

import tempfile
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from os import PathLike
from pathlib import Path

from formcheck.analysis import analyse as _analyse
from formcheck.core import atomic_write
from formcheck.core.errors import ClipError as ClipError
from formcheck.core.errors import ExerciseError as ExerciseError
from formcheck.core.errors import FormcheckError as FormcheckError
from formcheck.core.errors import OutputError as OutputError
from formcheck.core.errors import PairingError as PairingError
from formcheck.core.errors import PoseModelError as PoseModelError
from formcheck.core.errors import RecordingError as RecordingError
from formcheck.core.errors import ReviewFormatError as ReviewFormatError
from formcheck.core.errors import UnclearPairError as UnclearPairError
from formcheck.core.errors import UsageError as UsageError
from formcheck.core.model import Analysis as Analysis
from formcheck.core.model import CameraView as CameraView
from formcheck.core.model import ClipDamage as ClipDamage
from formcheck.core.model import ClipInfo as ClipInfo
from formcheck.core.model import ClipPart as ClipPart
from formcheck.core.model import ExerciseRef as ExerciseRef
from formcheck.core.model import Finding as Finding
from formcheck.core.model import LandmarkRecording as LandmarkRecording
from formcheck.core.model import Measure as Measure
from formcheck.core.model import Message as Message
from formcheck.core.model import Point as Point
from formcheck.core.model import PoseModelInfo as PoseModelInfo
from formcheck.core.model import Quality as Quality
from formcheck.core.model import QualityProblem as QualityProblem
from formcheck.core.model import ReferenceComparison as ReferenceComparison
from formcheck.core.model import ReferenceDifference as ReferenceDifference
from formcheck.core.model import Rep as Rep
from formcheck.core.model import Review as Review
from formcheck.core.model import Scene as Scene
from formcheck.core.model import SecondCamera as SecondCamera
from formcheck.core.model import SetInfo as SetInfo
from formcheck.core.model import Settings as Settings
from formcheck.core.model import Signals as Signals
from formcheck.core.model import Tempo as Tempo
from formcheck.core.model import ViewHint as ViewHint
from formcheck.exercises.registry import get_exercise, list_exercises_with, load_own_exercise, load_shipped_exercises
from formcheck.exercises.schema import Exercise as Exercise
from formcheck.formats import decode, encode
from formcheck.pairing.pair_review import review_pair
from formcheck.recognition.suggest import Suggestion as Suggestion
from formcheck.recognition.suggest import suggest
from formcheck.services import pipeline
from formcheck.services.other_exercise import name_other_exercise

File = str | PathLike[str]
Progress = Callable[[float, float | None], None]
"""Called with the seconds of the clip done and the clip's length (None while unknown)."""


def list_exercises() -> tuple[str, ...]:
    """Ids of all shipped exercises; raises nothing.

    >>> import formcheck
    >>> "lateral-raise" in formcheck.list_exercises()
    True
    """
    return tuple(load_shipped_exercises())


def load_exercise(exercise: str | PathLike[str]) -> Exercise:
    """A shipped exercise by its id, or your own from a file.

    A text that ends in ``.toml``, and whatever is no text, such as a `pathlib.Path`, is a file; any other text is an
    id: ``lateral-raise``, or ``lateral-raise/seated`` for a variation.

    Raises UsageError for an id there is not, ExerciseError for a file that breaks the format
    or has the id of a shipped exercise.

    >>> import formcheck
    >>> formcheck.load_exercise("lateral-raise").name
    'Lateral raise to shoulder height'
    >>> formcheck.load_exercise("lateral-raise/seated").position
    'seated'
    >>> try:
    ...     formcheck.load_exercise("formcheck/exercises/references.toml")
    ... except formcheck.ExerciseError as error:
    ...     error.path.name, error.key
    ('references.toml', 'id')
    """
    if isinstance(exercise, str) and not exercise.endswith(".toml"):
        return get_exercise(exercise)
    return load_own_exercise(Path(exercise))


def find_landmarks(
    clip: File, *, keep_in: File | None = None, on_progress: Progress | None = None
) -> LandmarkRecording:
    """Track a clip: the lifter's 33 body points (landmarks) in every picture.

    This is the slow part, a second or two for each second of film. With `keep_in`, a folder, the landmarks are stored
    there, and a second call for the same clip takes none.

    Raises ClipError for what cannot be read as a clip, PoseModelError when the packaged pose model is damaged.
    """
    # Reading video and the pose model take most of a second to import.
    from formcheck.pose.estimator import MediaPipeEstimator
    from formcheck.storage.recording_cache import cached_recording

    with _open_folder(keep_in) as folder, _name_file(clip, ClipError):
        return cached_recording(Path(clip), MediaPipeEstimator, folder, on_progress=on_progress)


def read_landmarks(path: File) -> LandmarkRecording:
    """Landmarks from a file (``.npz``) that `write_landmarks` or an earlier `find_landmarks` wrote.

    Raises RecordingError when it is missing, damaged or of another version.

    >>> import formcheck
    >>> seen = formcheck.read_landmarks("tools/benchmarks/recordings/shipped/lateral_raise_front_clean.npz")
    >>> seen.pixels.shape[1:]  # pictures × body points × (x, y)
    (33, 2)
    """
    from formcheck.pose.recording import load_recording

    with _name_file(path, RecordingError):
        return load_recording(Path(path))


def write_landmarks(landmarks: LandmarkRecording, path: File) -> None:
    """Write landmarks to a file (``.npz``); raises RecordingError when that cannot be done."""
    from formcheck.pose.recording import save_recording

    with _name_file(path, RecordingError):
        save_recording(landmarks, Path(path))


def suggest_exercise(landmarks: LandmarkRecording, exercises: Iterable[Exercise] | None = None) -> Suggestion:
    """Which exercise a recording probably shows, out of those given, or of all shipped ones.

    `Suggestion.ranked` holds ids with a confidence from 0 to 1; `Suggestion.exercise_id` is the first where it is sure
    enough to be used without asking, else None. What cannot be told stands in `Suggestion.problems`; raises nothing.

    >>> import formcheck
    >>> seen = formcheck.read_landmarks("tools/benchmarks/recordings/shipped/lateral_raise_front_clean.npz")
    >>> formcheck.suggest_exercise(seen).exercise_id
    'lateral-raise'
    """
    return suggest(landmarks, load_shipped_exercises().values() if exercises is None else exercises)


def analyse(
    landmarks: LandmarkRecording,
    exercise: str | Exercise,
    *,
    view: ViewHint = "auto",
    set_info: SetInfo | None = None,
    settings: Settings | None = None,
    second: LandmarkRecording | None = None,
    second_view: ViewHint = "auto",
    same_set: bool = False,
) -> Analysis:
    """Review a set from its landmarks: takes milliseconds, and always gives the same for the same.

    `Analysis.review` holds reps, measures and findings, `Analysis.signals` the curves they were read from (degrees
    over seconds), `Analysis.driver` the curve that makes the reps. With `second`, the landmarks of another clip of the
    same set, each number comes from the camera that sees it best; every time is in seconds of the first clip.

    Raises what `load_exercise` raises, PairingError when the two recordings do not show the same set, and its kind
    UnclearPairError when that is not clear: `same_set` says that they do. A recording that cannot be reviewed raises
    nothing: `Review.quality` holds its problems.

    >>> import formcheck
    >>> seen = formcheck.read_landmarks("tools/benchmarks/recordings/shipped/lateral_raise_front_clean.npz")
    >>> review = formcheck.analyse(seen, "lateral-raise").review
    >>> [rep.number for rep in review.reps if rep.complete]
    [1, 2, 3, 4, 5, 6]
    >>> top = review.measure("arm_elevation_peak", rep=1, side="left")
    >>> top.unit, top.margin > 0
    ('deg', True)
    """
    exercise = load_exercise(exercise) if isinstance(exercise, str) else exercise
    if second is None:
        analysis = _analyse(landmarks, exercise, settings=settings, view=view, set_info=set_info)
    else:
        views = (view, second_view)
        analysis = review_pair(
            landmarks, second, exercise, settings=settings, views=views, set_info=set_info, same_set=same_set
        )
    return name_other_exercise(analysis, landmarks, list_exercises_with(exercise), settings=settings)


def review_clip(
    clip: File,
    exercise: str | Exercise,
    *,
    view: ViewHint = "auto",
    set_info: SetInfo | None = None,
    settings: Settings | None = None,
    keep_in: File | None = None,
    on_progress: Progress | None = None,
    second: File | None = None,
    second_view: ViewHint = "auto",
    same_set: bool = False,
) -> Analysis:
    """Track a clip and review it: `find_landmarks`, then `analyse`.

    `second` is another clip of the same set, filmed at once: the two are laid over one another by the movement, and
    by the sound where both have it.

    Raises what `find_landmarks` and `analyse` raise.
    """
    # A wrong id is said before the slow part.
    exercise = load_exercise(exercise) if isinstance(exercise, str) else exercise
    if second is None:
        seen = find_landmarks(clip, keep_in=keep_in, on_progress=on_progress)
        return analyse(seen, exercise, view=view, set_info=set_info, settings=settings)
    with _open_folder(keep_in) as folder:
        for each in (clip, second):
            find_landmarks(each, keep_in=folder, on_progress=on_progress)
        analysis, _ = pipeline.review_clip(
            Path(clip),
            exercise,
            view=view,
            second=Path(second),
            second_view=second_view,
            same_set=same_set,
            set_info=set_info,
            settings=settings,
            cache_dir=folder,
        )
    return analysis


def read_review(path: File) -> Review:
    """A review from a JSON file of the published format (docs/review-format.md).

    Raises ReviewFormatError when the file cannot be read or breaks the format; its `key` is the JSON path.
    """
    with _name_file(path, ReviewFormatError):
        try:
            return decode(Path(path).read_bytes())
        except OSError as error:
            raise ReviewFormatError(f"The file {str(path)!r} cannot be read: {error.strerror}.") from None


def write_review(review: Review, path: File) -> None:
    """Write a review as JSON of the published format.

    Raises OutputError when the file cannot be written, ReviewFormatError when the review holds what the format cannot
    express, such as NaN.

    >>> import formcheck, tempfile, pathlib
    >>> seen = formcheck.read_landmarks("tools/benchmarks/recordings/shipped/lateral_raise_front_clean.npz")
    >>> review = formcheck.analyse(seen, "lateral-raise").review
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = pathlib.Path(folder, "set.json")
    ...     formcheck.write_review(review, file)
    ...     len(formcheck.read_review(file).reps) == len(review.reps)
    True
    """
    with _name_file(path, OutputError), atomic_write.write_output(Path(path)) as part:
        part.write_text(encode(review, indent=2) + "\n", encoding="utf-8")


@contextmanager
def _open_folder(keep_in: File | None) -> Iterator[Path]:
    """The folder asked for, or one that is deleted afterwards."""
    if keep_in is not None:
        yield Path(keep_in)
        return
    with tempfile.TemporaryDirectory() as passing:
        yield Path(passing)


@contextmanager
def _name_file(path: File, kind: type[FormcheckError]) -> Iterator[None]:
    """Names the file in an error of this kind."""
    try:
        yield
    except kind as error:
        error.path = error.path or Path(path)
        raise
