"""The task of one clip, as a worker does it in another process or on another machine: everything but the store."""

import tempfile
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from formcheck.batch.remote_files import NamedFiles, fetch_clip, open_recordings, pack_recordings, save_recordings
from formcheck.core.errors import NOT_ENOUGH_MEMORY, FormcheckError, is_memory_shortage
from formcheck.core.model import SetInfo, ViewHint
from formcheck.exercises.schema import Exercise
from formcheck.formats import encode
from formcheck.report.problem_text import describe_problem
from formcheck.services.pipeline import EstimatorFactory, review_clip, suggest_exercise


@dataclass(frozen=True, slots=True)
class Task:
    """One clip to be reviewed as an exercise, or to be recognised only."""

    clip: str
    """Path or URL."""
    exercise: Exercise | None
    """With the limits that hold; None: only find out which it probably is."""
    recordings: str | None
    """Where landmarks are stored, a folder or a URL; None: the worker reaches neither, they are part of the result."""
    view: ViewHint = "auto"
    set_info: SetInfo = field(default_factory=SetInfo)
    pose_model: str | None = None
    estimator_factory: EstimatorFactory | None = None
    """Takes the place of `pose_model`."""
    every_picture: bool = False
    """Track all pictures of the clip."""
    own_exercises: tuple[Exercise, ...] = ()
    """The user's own, which a worker elsewhere has no files of."""
    landmarks: NamedFiles = ()
    """Recordings made earlier, where `recordings` is None."""


@dataclass(frozen=True, slots=True)
class TaskResult:
    """The result of a task; one of review, exercise and problem is given."""

    review: str | None = None
    """The review as the published format has it."""
    exercise_id: str | None = None
    problem: str | None = None
    """Why there is neither, in one sentence."""
    unclear: bool = False
    """The clip is sound, but does not clearly show one exercise."""
    landmarks: NamedFiles = ()


def do_task(task: Task) -> TaskResult:
    """Do a task; whatever goes wrong with the clip is part of the result."""
    try:
        return _do(task)
    except FormcheckError as error:
        return TaskResult(problem=str(error))
    except Exception as error:  # a worker goes on with the next clip whatever this one did
        if is_memory_shortage(error):
            return TaskResult(problem=NOT_ENOUGH_MEMORY)
        if isinstance(error, OSError):
            return TaskResult(problem=f"A file could not be read or written: {error.strerror or error}.")
        kind = f"{type(error).__name__}: {' '.join(str(error).split())[:300]}"
        return TaskResult(problem=f"This should not have happened ({kind}).")


def _do(task: Task) -> TaskResult:
    with ExitStack() as stack:
        clip = stack.enter_context(fetch_clip(task.clip))
        if task.recordings is not None:
            return _review_clip(task, clip, stack.enter_context(open_recordings(task.recordings, clip)))
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="formcheck-")))
        save_recordings(task.landmarks, folder)
        return replace(_review_clip(task, clip, folder), landmarks=pack_recordings(folder))


def _review_clip(task: Task, clip: Path, folder: Path) -> TaskResult:
    common: dict[str, Any] = {
        "pose_model": None if task.pose_model is None else Path(task.pose_model),
        "estimator_factory": task.estimator_factory,
        "every_picture": task.every_picture,
        "cache_dir": folder,
        "processes": 1,
        "own_exercises": task.own_exercises,
    }
    if task.exercise is not None:
        analysis, _ = review_clip(clip, task.exercise, view=task.view, set_info=task.set_info, **common)
        return TaskResult(review=encode(analysis.review))
    found = suggest_exercise(clip, **common)
    if found.exercise_id is not None:
        return TaskResult(exercise_id=found.exercise_id)
    if not found.usable:
        return TaskResult(problem=describe_problem(found.problems[-1]))
    names = " or ".join(found.alike[:3])
    looks = f"it may be {names}" if names else "it looks like none that formcheck knows"
    return TaskResult(
        problem=f"It is not clear which exercise this clip shows ({looks}); name it in the list.", unclear=True
    )
