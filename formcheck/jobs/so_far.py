"""What a job that tracks a clip has seen so far, for whoever waits: a small picture and the reps found.

It lies in the job's folder, is drawn by a thread of its own, and nothing of it goes into a result: what goes wrong with
it is left out.
"""

import json
import threading
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np

from formcheck.core.atomic_write import replace_file
from formcheck.core.errors import FormcheckError
from formcheck.core.model import LandmarkRecording, PoseModelInfo
from formcheck.exercises.schema import Exercise
from formcheck.pose.tracking import Track
from formcheck.sandbox.sandboxed_tracking import PartlyTracked
from formcheck.storage.data_folder import DataFolder, data_home
from formcheck.video.reader import ClipHead

_NAME = "so-far.json"
_FEWEST_PICTURES = 15
"""A second of film: of less nothing is told."""
_NOBODY = PoseModelInfo("not finished", "0" * 64)


@dataclass(frozen=True, slots=True)
class SoFar:
    """What is shown of work under way."""

    picture: str
    """A small picture as a data address, the skeleton drawn and every face covered."""
    at_s: float
    """When it is shown in the clip."""
    exercise: str | None
    """What the movement seems to be, or is reviewed as; None while that is not sure."""
    reps: int
    """Reps of it found so far."""


class SoFarWriter:
    """Writes what a job has seen, the newest only: while one is drawn, others are passed over.

    exercise : what the clip is reviewed as; None: what it seems to show.
    """

    def __init__(self, job: str, exercise: Exercise | None = None) -> None:
        self._path, self._exercise = DataFolder(data_home()).job(job) / _NAME, exercise
        self._thread: threading.Thread | None = None

    def write(self, seen: PartlyTracked) -> None:
        """Write this, unless the one before is still being drawn."""
        if self._thread is None or not self._thread.is_alive():
            self._thread = threading.Thread(target=self._write, args=(seen,), daemon=True)
            self._thread.start()

    def close(self) -> None:
        """Wait until nothing is written any more, and take it away."""
        if self._thread is not None:
            self._thread.join()
        self._path.unlink(missing_ok=True)

    def _write(self, seen: PartlyTracked) -> None:
        with suppress(FormcheckError, OSError, ValueError):
            replace_file(self._path, json.dumps(asdict(describe_so_far(seen, self._exercise))))


def read_so_far(job: str) -> SoFar | None:
    """What a job has seen so far; None where there is nothing."""
    try:
        return SoFar(**json.loads((DataFolder(data_home()).job(job) / _NAME).read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError):
        return None


def describe_so_far(seen: PartlyTracked, exercise: Exercise | None) -> SoFar:
    """The picture and the reps of a clip that is tracked in part (ClipError)."""
    from formcheck.analysis import analyse
    from formcheck.exercises.registry import load_exercises
    from formcheck.recognition.suggest import suggest

    parts = [_make_part(seen.head, track) for track in seen.tracks if len(track.t) >= _FEWEST_PICTURES]
    if exercise is None and parts:
        longest = max(parts, key=lambda part: len(part.t))
        found = suggest(longest, list(load_exercises().values())).exercise_id
        exercise = None if found is None else load_exercises()[found]
    reps = 0 if exercise is None else sum(len(analyse(part, exercise).review.reps) for part in parts)
    return SoFar(_draw_picture(seen), seen.at_s, None if exercise is None else exercise.id, reps)


def _make_part(head: ClipHead, track: Track) -> LandmarkRecording:
    """A chunk as a clip of its own."""
    from formcheck.pose.tracking import make_recording

    t = track.t - track.t[0]
    return make_recording(Path("clip"), head, _NOBODY, [replace(track, times=t, t=t)], sha256="0" * 64)


def _draw_picture(seen: PartlyTracked) -> str:
    """The small picture with the skeleton, sharp only along the lifter's body: no face in it is to be known."""
    from formcheck.privacy.head_cover import HeadCover, find_heads, hide_all_but_body
    from formcheck.report.figures import encode_jpeg
    from formcheck.video.drawing import draw_skeleton

    scale = max(seen.picture.shape[:2]) / max(seen.head.width, seen.head.height)
    pixels, visibility = seen.landmarks[:, :2], seen.landmarks[:, 5]
    found, centre, radius = find_heads(pixels[None], seen.head.width, seen.head.height)
    cover = HeadCover(np.array([seen.at_s])[found], centre, radius)
    picture = cover.hide(seen.picture.copy(), seen.at_s, scale=scale)
    hide_all_but_body(picture, pixels * scale)
    if np.isfinite(pixels).all():
        draw_skeleton(picture, pixels * scale, visibility)
    return encode_jpeg(picture, picture.shape[0])
