"""What one worker does with one clip: everything but the store. Sent to other processes and other machines."""

import tempfile
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from pathlib import Path

from formcheck.batch.remote_files import fetch_clip, open_recordings, pack_recordings
from formcheck.core.errors import NOT_ENOUGH_MEMORY, FormcheckError, is_memory_shortage
from formcheck.core.model import SetInfo, ViewHint
from formcheck.exercises.schema import Exercise
from formcheck.formats import encode
from formcheck.report.problem_text import describe_problem
from formcheck.services.pipeline import EstimatorFactory, review_clip, suggest_exercise


@dataclass(frozen=True, slots=True)
class Task:
    """One clip to look at: reviewed as an exercise, or only asked for the exercise it shows."""

    clip: str
    """Path or URL."""
    exercise: Exercise | None
    """With the limits that hold; None: only say which it probably is."""
    recordings: str | None
    """Where landmarks are kept, a folder or a URL; None: here there is no such place, they are part of the answer."""
    view: ViewHint = "auto"
    set_info: SetInfo = field(default_factory=SetInfo)
    pose_model: str | None = None
    estimator_factory: EstimatorFactory | None = None
    """Takes the place of `pose_model`."""
    own_exercises: tuple[Exercise, ...] = ()
    """The user's own, which a worker elsewhere has no files of."""
    landmarks: tuple[tuple[str, bytes], ...] = ()
    """Recordings of an earlier look, by the names of their files, where `recordings` is None."""


@dataclass(frozen=True, slots=True)
class TaskResult:
    """What came of a task; one of review, exercise and problem is given."""

    review: str | None = None
    """The review as the published format has it."""
    exercise_id: str | None = None
    problem: str | None = None
    """Why there is neither, in one sentence."""
    landmarks: tuple[tuple[str, bytes], ...] = ()


def do_task(task: Task) -> TaskResult:
    """Do a task; whatever goes wrong with the clip is part of the answer."""
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
        if task.recordings is None:
            folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="formcheck-")))
            for name, data in task.landmarks:
                (folder / Path(name).name).write_bytes(data)
        else:
            folder = stack.enter_context(open_recordings(task.recordings, clip))
        answer = _looked_at(task, clip, folder)
        return replace(answer, landmarks=pack_recordings(folder)) if task.recordings is None else answer


def _looked_at(task: Task, clip: Path, folder: Path) -> TaskResult:
    pose_model = None if task.pose_model is None else Path(task.pose_model)
    if task.exercise is None:
        found = suggest_exercise(
            clip,
            pose_model=pose_model,
            estimator_factory=task.estimator_factory,
            cache_dir=folder,
            processes=1,
            own_exercises=task.own_exercises,
        )
        if found.exercise_id is not None:
            return TaskResult(exercise_id=found.exercise_id)
        if not found.usable:
            return TaskResult(problem=describe_problem(found.problems[-1]))
        names = " or ".join(found.alike[:3])
        looks = f"it may be {names}" if names else "it looks like none that formcheck knows"
        return TaskResult(problem=f"It is not clear which exercise this clip shows ({looks}); name it in the list.")
    analysis, _ = review_clip(
        clip,
        task.exercise,
        view=task.view,
        set_info=task.set_info,
        pose_model=pose_model,
        estimator_factory=task.estimator_factory,
        cache_dir=folder,
        processes=1,
        own_exercises=task.own_exercises,
    )
    return TaskResult(review=encode(analysis.review))
